//! Walks parsed TOML and collects every mistake, never stopping at the first.
//!
//! In: tables and values with their byte spans. Out: plain Rust values, and remarks on the desk.
//! The only file that knows `toml`. Must not know: what the keys mean.

use std::ops::Range;

use toml::de::{DeInteger, DeTable, DeValue};

use super::source::{Desk, clipped, shortened};
use crate::diag::{Kind, Severity};
use crate::geom::tol::MAX_COORD;
use crate::model::Exact;
use crate::units::{self, Unit};

/// The keys of each table of a file; a table is named by its path without indexes.
pub type Keys = [(&'static str, &'static [&'static str])];

/// Parses a text; mistakes go to the desk. `None` if it is not TOML at all.
pub(super) fn parse<'a>(desk: &Desk<'a>) -> Option<DeTable<'a>> {
    /// Above this size (bytes) only the first mistake in the writing is listed: junk of that size can hold millions.
    const LIST_ALL: usize = 1_000_000;
    /// Mistakes in the writing breed others; a long list helps nobody.
    const MOST: usize = 20;
    let text = desk.source.text;
    let first = match DeTable::parse(text) {
        Ok(table) => return Some(table.into_inner()),
        Err(first) => first,
    };
    let all = if text.len() <= LIST_ALL { DeTable::parse_recoverable(text).1 } else { vec![first] };
    let mut last_line = 0;
    let mut listed = 0;
    for error in all {
        let offset = error.span().map_or(0, |s| s.start);
        let line = desk.source.place(offset).line;
        if line == last_line || listed == MOST {
            continue; // what follows on one line is an echo
        }
        (last_line, listed) = (line, listed + 1);
        let message = error.message();
        if message.contains("recurs") {
            let given = "tables, arrays or dotted keys within one another more than 80 deep";
            desk.put(
                Severity::Error,
                Kind::TooDeep,
                offset,
                "",
                given,
                "at most 4 deep",
                "take out the needless brackets",
            );
        } else {
            let (given, expected) = message.split_once(", expected ").unwrap_or((message, "TOML"));
            let fix = if message.contains("duplicate key") {
                "give each key once in a table; a further piece, opening, slab or flaw starts with its header in [[ ]]"
            } else {
                "mend the writing of this line; texts stand in quotes, a list in [ ], its entries parted by commas"
            };
            desk.put(Severity::Error, Kind::Syntax, offset, "", given, expected, fix);
        }
    }
    None
}

/// A value with its place and its key.
#[derive(Clone)]
pub(super) struct Value<'a> {
    pub(super) desk: &'a Desk<'a>,
    value: &'a DeValue<'a>,
    span: Range<usize>,
    pub(super) key: String,
}

impl<'a> Value<'a> {
    fn put(
        &self,
        severity: Severity,
        what: Kind,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.desk.put(severity, what, self.span.start, &self.key, given, expected, fix);
    }

    /// Puts down an error about this value.
    pub(super) fn error(
        &self,
        what: Kind,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.put(Severity::Error, what, given, expected, fix);
    }

    /// Puts down a warning about this value.
    pub(super) fn warning(
        &self,
        what: Kind,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.put(Severity::Warning, what, given, expected, fix);
    }

    /// Puts down a note about this value.
    pub(super) fn note(
        &self,
        what: Kind,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.put(Severity::Note, what, given, expected, fix);
    }

    /// The value as it stands in the file, cut where it is long.
    pub(super) fn as_written(&self) -> String {
        match self.value {
            DeValue::Table(_) => "a table".to_owned(),
            DeValue::Array(list) if list.iter().any(|v| matches!(v.as_ref(), DeValue::Table(_))) => {
                "a list of tables".to_owned()
            }
            _ => shortened(self.desk.source.text.get(self.span.clone()).unwrap_or("")),
        }
    }

    fn wrong_type(&self, expected: &str, fix: &str) {
        self.error(Kind::WrongType, self.as_written(), expected, fix);
    }

    /// Where it stands, in bytes.
    pub(super) const fn offset(&self) -> usize {
        self.span.start
    }

    /// True if it is a text.
    pub(super) fn is_text(&self) -> bool {
        matches!(self.value, DeValue::String(_))
    }

    /// The text.
    pub(super) fn text(&self) -> Option<&'a str> {
        match self.value {
            DeValue::String(text) => Some(text.as_ref()),
            _ => {
                self.wrong_type("a text in quotes", "put it in quotes");
                None
            }
        }
    }

    /// A text that can name a thing: something to see, no control characters, no more than 200 characters.
    pub(super) fn name(&self) -> Option<String> {
        const MOST: usize = 200;
        let text = self.text()?.trim();
        if text.is_empty() || text.chars().any(char::is_control) || text.chars().nth(MOST).is_some() {
            let expected = format!("a name of 1 to {MOST} characters on one line");
            self.error(Kind::BadName, self.as_written(), expected, "write a short name that tells it from the others");
            return None;
        }
        Some(text.to_owned())
    }

    /// One of some words.
    pub(super) fn word<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        let text = self.text()?;
        let found = words.iter().find(|(w, _)| *w == text).map(|&(_, t)| t);
        if found.is_none() {
            let names: Vec<&str> = words.iter().map(|&(w, _)| w).collect();
            // A word that shares little with all known ones is no slip of the pen: to name one would mislead.
            let near = nearest(text, &names);
            let fix = if strsim::normalized_damerau_levenshtein(&text.to_lowercase(), near) >= 0.5 {
                format!("did you mean \"{near}\"?")
            } else {
                "take one of these".to_owned()
            };
            self.error(Kind::UnknownWord, self.as_written(), listed(&names), fix);
        }
        found
    }

    fn raw_number(&self) -> Option<f64> {
        match self.value {
            DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse().ok(),
            DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix()).ok().map(|v| v as f64),
            DeValue::Float(x) => x.as_str().parse().ok(),
            _ => None,
        }
    }

    /// A finite number.
    pub(super) fn number(&self) -> Option<f64> {
        if !matches!(self.value, DeValue::Integer(_) | DeValue::Float(_)) {
            self.wrong_type("a number", "write a number, without quotes and unit");
            return None;
        }
        let number = self.raw_number().filter(|x| x.is_finite());
        if number.is_none() {
            self.error(Kind::BadNumber, self.as_written(), "a finite number", "write a plain number");
        }
        number
    }

    /// A finite number within bounds, both included.
    pub(super) fn number_within(&self, least: f64, most: f64) -> Option<f64> {
        let number = self.number()?;
        if number < least || number > most {
            let (kind, expected) = if number < 0.0 && least == 0.0 {
                (Kind::Negative, "0 or more".to_owned())
            } else {
                (Kind::OutOfRange, format!("a number from {least} to {most}"))
            };
            self.error(kind, self.as_written(), expected, "check the value");
            return None;
        }
        Some(number)
    }

    /// A decimal number within bounds, both included, kept digit by digit as it stands in the file.
    pub(super) fn decimal_within(&self, least: i64, most: i64) -> Option<Exact> {
        /// Finer rates than a millionth are a slip.
        const DECIMALS: u32 = 6;
        self.number_within(least as f64, most as f64)?;
        let exact = match self.value {
            DeValue::Integer(i) if i.radix() != 10 => {
                i128::from_str_radix(i.as_str(), i.radix()).ok().map(|v| Exact::new(v, 0))
            }
            DeValue::Integer(i) => Exact::parse(i.as_str()),
            DeValue::Float(x) => Exact::parse(x.as_str()),
            _ => None,
        };
        let exact = exact.filter(|x| x.decimals() <= DECIMALS);
        if exact.is_none() {
            let expected = format!("at most {DECIMALS} decimals");
            self.error(Kind::BadNumber, self.as_written(), expected, "write fewer decimals");
        }
        exact
    }

    /// The entries of a table whose keys are names of the user's own.
    pub(super) fn named_entries(&self, expected: &str, fix: &str) -> Option<Vec<(&'a str, Self)>> {
        let DeValue::Table(table) = self.value else {
            self.wrong_type(expected, fix);
            return None;
        };
        let entry = |(name, value): (&'a toml::Spanned<_>, &'a toml::Spanned<DeValue<'a>>)| {
            let name: &'a std::borrow::Cow<'a, str> = name.get_ref();
            let key = format!("{}.{}", self.key, shortened(name));
            (name.as_ref(), Self { desk: self.desk, value: value.as_ref(), span: value.span(), key })
        };
        Some(table.iter().map(entry).collect())
    }

    /// A whole number.
    pub(super) fn integer(&self) -> Option<i64> {
        let parse = |i: &DeInteger<'_>| i64::from_str_radix(i.as_str(), i.radix()).ok();
        match self.value {
            DeValue::Integer(i) => {
                let n = parse(i);
                if n.is_none() {
                    self.error(
                        Kind::BadNumber,
                        self.as_written(),
                        "a whole number of at most 18 digits",
                        "check the value",
                    );
                }
                n
            }
            DeValue::Float(_) => {
                self.error(Kind::BadNumber, self.as_written(), "a whole number", "write it without decimals");
                None
            }
            _ => {
                self.wrong_type("a whole number", "write a number, without quotes");
                None
            }
        }
    }

    /// `true` or `false`.
    pub(super) fn boolean(&self) -> Option<bool> {
        if let DeValue::Boolean(b) = self.value {
            return Some(*b);
        }
        self.wrong_type("true or false", "write true or false, without quotes");
        None
    }

    /// A length in mm: a bare number in `unit`, or a text with its unit.
    pub(super) fn length(&self, unit: Unit) -> Option<f64> {
        let mm = match self.value {
            DeValue::Integer(_) | DeValue::Float(_) => self.number()? * unit.mm(),
            DeValue::String(text) => match units::parse_length(text) {
                Ok(mm) => mm,
                Err(why) => {
                    let given = format!("{}: {}", self.as_written(), clipped(&why.to_string(), 160));
                    let fix =
                        format!("write a bare number in {}, or for example \"648 mm\" or \"25 1/2 in\"", spoken(unit));
                    self.error(Kind::BadLength, given, "a length", fix);
                    return None;
                }
            },
            _ => {
                self.wrong_type(
                    "a length",
                    "write a number, or a text with its unit such as \"648 mm\" or \"25 1/2 in\"",
                );
                return None;
            }
        };
        if !mm.is_finite() || mm.abs() > MAX_COORD {
            let fix = format!("check the value and the unit; a bare number is in {}", spoken(unit));
            self.error(Kind::OutOfRange, self.as_written(), "a length of at most 1 km", fix);
            return None;
        }
        Some(mm)
    }

    /// A length of more than 0, mm.
    pub(super) fn positive_length(&self, unit: Unit) -> Option<f64> {
        let mm = self.length(unit)?;
        if mm <= 0.0 {
            self.error(Kind::NotPositive, self.as_written(), "a length of more than 0", "check the value");
            return None;
        }
        Some(mm)
    }

    /// A length of 0 or more, mm.
    pub(super) fn length_from_zero(&self, unit: Unit) -> Option<f64> {
        let mm = self.length(unit)?;
        if mm < 0.0 {
            self.error(Kind::Negative, self.as_written(), "a length of 0 or more", "check the value");
            return None;
        }
        Some(mm)
    }

    /// The entries of a list.
    pub(super) fn list(&self, expected: &str) -> Option<Vec<Self>> {
        let DeValue::Array(list) = self.value else {
            self.wrong_type(expected, "write a list in [ ]");
            return None;
        };
        Some(
            list.iter()
                .enumerate()
                .map(|(i, v)| Self {
                    desk: self.desk,
                    value: v.as_ref(),
                    span: v.span(),
                    key: format!("{}[{i}]", self.key),
                })
                .collect(),
        )
    }

    /// True if it is a list.
    pub(super) fn is_list(&self) -> bool {
        matches!(self.value, DeValue::Array(_))
    }

    /// The table, its unknown keys told.
    pub(super) fn table(&self, keys: &'static [&'static str], all: &'static Keys) -> Option<Table<'a>> {
        let DeValue::Table(table) = self.value else {
            let example = format!("write for example {}.{} = ...", self.key, keys.first().unwrap_or(&"key"));
            self.wrong_type(&format!("a table with keys of {}", listed(keys)), &example);
            return None;
        };
        let table = Table { desk: self.desk, table, offset: self.span.start, key: self.key.clone(), keys, all };
        table.tell_unknown();
        Some(table)
    }
}

/// A table with the keys that it may have.
pub(super) struct Table<'a> {
    pub(super) desk: &'a Desk<'a>,
    table: &'a DeTable<'a>,
    offset: usize,
    key: String,
    keys: &'static [&'static str],
    all: &'static Keys,
}

impl<'a> Table<'a> {
    /// The table of a whole file, its unknown keys told.
    pub(super) fn of_file(desk: &'a Desk<'a>, table: &'a DeTable<'a>, all: &'static Keys) -> Self {
        let keys = all.first().map_or(&[] as &[&str], |&(_, keys)| keys);
        let table = Self { desk, table, offset: 0, key: String::new(), keys, all };
        table.tell_unknown();
        table
    }

    fn path(&self, key: &str) -> String {
        if self.key.is_empty() { key.to_owned() } else { format!("{}.{key}", self.key) }
    }

    fn tell_unknown(&self) {
        for (key, _) in self.table {
            let name: &str = key.as_ref();
            if self.keys.contains(&name) {
                continue;
            }
            if self.desk.is_full() {
                return;
            }
            let short = shortened(name);
            let near = nearest(&short, self.keys);
            let elsewhere = self.all.iter().find(|(_, keys)| keys.contains(&name)).map(|&(table, _)| table);
            let fix = match elsewhere {
                // A key that another table has is misplaced rather than misspelt.
                Some("") => format!(
                    "\"{short}\" belongs to the file itself, above the first header; the nearest key here is \"{near}\""
                ),
                Some(table) => format!("\"{short}\" belongs into {table}; the nearest key here is \"{near}\""),
                None => format!("the nearest known key is \"{near}\""),
            };
            let given = format!("unknown key \"{short}\"");
            self.desk.put(
                Severity::Error,
                Kind::UnknownKey,
                key.span().start,
                &self.path(&short),
                given,
                listed(self.keys),
                fix,
            );
        }
    }

    /// The value of a key, if it is there.
    pub(super) fn get(&self, key: &'static str) -> Option<Value<'a>> {
        debug_assert!(self.keys.contains(&key), "{key} is not in the list of keys of {}", self.key);
        let value = self.table.get(key)?;
        Some(Value { desk: self.desk, value: value.as_ref(), span: value.span(), key: self.path(key) })
    }

    /// The value of a key that only some tables of this form have, if it is there.
    pub(super) fn optional(&self, key: &'static str) -> Option<Value<'a>> {
        if self.keys.contains(&key) { self.get(key) } else { None }
    }

    /// The value of a key that must be there.
    pub(super) fn need(&self, key: &'static str, expected: &str, fix: &str) -> Option<Value<'a>> {
        let value = self.get(key);
        if value.is_none() {
            self.error(Kind::MissingKey, key, "nothing", expected, fix);
        }
        value
    }

    /// Puts down an error about a key at the head of the table.
    pub(super) fn error(
        &self,
        what: Kind,
        key: &str,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        let path = if key.is_empty() { self.key.clone() } else { self.path(key) };
        self.desk.put(Severity::Error, what, self.offset, &path, given, expected, fix);
    }

    /// Puts down a note about a key at the head of the table.
    pub(super) fn note(
        &self,
        what: Kind,
        key: &str,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.desk.put(Severity::Note, what, self.offset, &self.path(key), given, expected, fix);
    }

    /// The one of some keys that is there: an error if there is none, or more than one.
    pub(super) fn one_of(&self, keys: &[&'static str], fix: &str) -> Option<(&'static str, Value<'a>)> {
        let mut given = keys.iter().filter_map(|&k| self.get(k).map(|v| (k, v)));
        let Some(first) = given.next() else {
            self.error(Kind::MissingKey, "", "none of them", format!("one of {}", listed(keys)), fix);
            return None;
        };
        if let Some((second, value)) = given.next() {
            let words = format!("\"{}\" and \"{second}\"", first.0);
            value.error(Kind::Conflict, words, format!("only one of {}", listed(keys)), "take one of them out");
            return None;
        }
        Some(first)
    }

    /// The tables of a list of tables, `[[key]]`; none if the key is not there.
    pub(super) fn tables(&self, key: &'static str, keys: &'static [&'static str]) -> Vec<Self> {
        let Some(value) = self.get(key) else { return Vec::new() };
        if !value.is_list() {
            let header = without_indexes(&value.key);
            let fix = format!("write [[{header}]] before each of them, with two brackets");
            value.error(Kind::WrongType, value.as_written(), "a list of tables", fix);
            return Vec::new();
        }
        value.list("a list of tables").unwrap_or_default().iter().filter_map(|v| v.table(keys, self.all)).collect()
    }

    /// The unit of the file's bare numbers: its key `units`, or millimetres.
    pub(super) fn units(&self) -> Unit {
        const WORDS: [(&str, Unit); 4] = [("mm", Unit::Mm), ("cm", Unit::Cm), ("m", Unit::M), ("in", Unit::In)];
        self.get("units").and_then(|v| v.word(&WORDS)).unwrap_or(Unit::Mm)
    }

    /// The line where the table starts.
    pub(super) fn line(&self) -> usize {
        self.desk.source.place(self.offset).line
    }
}

/// The unit as a word.
const fn spoken(unit: Unit) -> &'static str {
    match unit {
        Unit::Mm => "millimetres",
        Unit::Cm => "centimetres",
        Unit::M => "metres",
        Unit::In => "inches",
        Unit::Ft => "feet",
    }
}

/// A path such as `piece[2].opening` as it stands in a header: `piece.opening`.
fn without_indexes(path: &str) -> String {
    path.split('.').map(|part| part.split('[').next().unwrap_or(part)).collect::<Vec<_>>().join(".")
}

/// The word of a list that is nearest to a text, capitals aside.
pub(super) fn nearest<'w>(text: &str, words: &[&'w str]) -> &'w str {
    let text: String = text.chars().take(64).collect::<String>().to_lowercase();
    words.iter().copied().min_by_key(|w| strsim::damerau_levenshtein(&text, &w.to_lowercase())).unwrap_or("")
}

/// Words as a list for people.
pub(super) fn listed(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
    quoted.join(", ")
}
