//! Reads `plan.json`.
//!
//! In: a text. Out: a [`Plan`] as written, or the first mistake with its line, column and key.
//! Must not know: whether the plan is any good; that is for the judge.

use super::reader::nearest;
use super::source::{Desk, Source, shortened};
use crate::diag::{Kind, Remarks, Severity};
use crate::model::Plan;

/// The plan that a text holds. A mark of byte order at its head is passed over.
///
/// # Errors
/// The first mistake in the writing, with its place.
pub fn parse_plan(name: &str, text: &str) -> Result<Plan, Remarks> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    serde_json::from_str(text).map_err(|error| Remarks::sorted(told(name, text, &error)))
}

fn told(name: &str, text: &str, error: &serde_json::Error) -> Vec<crate::diag::Remark> {
    let source = Source::new(name, text);
    let desk = Desk::new(&source);
    let offset = source.offset(error.line(), error.column());
    let message = error.to_string();
    let message = message.rsplit_once(" at line ").map_or(message.as_str(), |(m, _)| m);
    let (given, expected) = message.split_once(", expected ").unwrap_or((message, "a plan as the schema has it"));
    let (what, fix) = kind_and_fix(message, expected);
    let mut key = key_at(text, offset);
    if what == Kind::WrongCount {
        // Told at the closing bracket: it is the list that is wrong, not its last entry.
        key.truncate(key.rfind('[').unwrap_or(key.len()));
    }
    if what == Kind::MissingKey {
        // Told at the closing brace: it is the table that lacks a key, not its last value.
        key.truncate(key.rfind('.').unwrap_or(0));
    }
    desk.put(Severity::Error, what, token_start(text, offset), &key, cut(given), cut(expected), fix);
    desk.into_remarks()
}

/// The words, cut where they are long beyond any of ours.
fn cut(words: &str) -> String {
    words.chars().take(400).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// What a message of the JSON reader is about, and how to mend it.
fn kind_and_fix(message: &str, expected: &str) -> (Kind, String) {
    // Names stand in backticks: first the offender, then those known.
    let offender = message.split('`').nth(1).unwrap_or("");
    let known: Vec<&str> = expected.split('`').skip(1).step_by(2).collect();
    let near = || format!("the nearest known one is \"{}\"", nearest(&shortened(offender), &known));
    if message.starts_with("unknown field") {
        (Kind::UnknownKey, near())
    } else if message.starts_with("unknown variant") {
        (Kind::UnknownWord, near())
    } else if message.starts_with("missing field") {
        (Kind::MissingKey, format!("add \"{}\"", shortened(offender)))
    } else if message.starts_with("duplicate field") {
        (Kind::Conflict, "give each key once".to_owned())
    } else if message.starts_with("invalid type") {
        (Kind::WrongType, "write what is expected".to_owned())
    } else if message.starts_with("invalid length") {
        (Kind::WrongCount, "write what is expected".to_owned())
    } else if message.starts_with("invalid value") || message.starts_with("number out of range") {
        (Kind::BadNumber, "write a plain number within the range".to_owned())
    } else if message.starts_with("recursion limit") {
        (Kind::TooDeep, "take out the needless brackets".to_owned())
    } else {
        (Kind::Syntax, "mend the writing at this place".to_owned())
    }
}

/// Where the text, number or word starts that ends at a byte offset: the JSON reader tells mistakes at the end.
fn token_start(text: &str, offset: usize) -> usize {
    let bytes = text.as_bytes();
    let is_word = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'+' | b'-');
    match bytes.get(offset) {
        Some(b'"') => bytes[..offset]
            .iter()
            .rposition(|&b| b == b'"' || b == b'\n')
            .map_or(offset, |i| if bytes[i] == b'"' { i } else { offset }),
        Some(&b) if is_word(b) => bytes[..offset].iter().rposition(|&b| !is_word(b)).map_or(0, |i| i + 1),
        _ => offset,
    }
}

/// The key of the value at a byte offset of a JSON text (which is not looked at itself), such as `layouts[0].placed[1].turn`; as far as the text can be
/// followed.
fn key_at(text: &str, offset: usize) -> String {
    /// A list with the index of its current entry, or an object with its current key.
    enum Level {
        List(usize),
        Object(Option<String>),
    }
    /// Nobody reads a longer key, and a hostile file must not make us keep one.
    const DEEPEST: usize = 32;
    let end = offset.min(text.len());
    let bytes = text.as_bytes();
    let mut levels: Vec<Level> = Vec::new();
    let mut i = 0;
    while i < end {
        match bytes[i] {
            b'{' => levels.push(Level::Object(None)),
            b'[' => levels.push(Level::List(0)),
            b'}' | b']' => {
                levels.pop();
            }
            b',' => match levels.last_mut() {
                Some(Level::List(n)) => *n += 1,
                Some(Level::Object(key)) => *key = None,
                None => {}
            },
            b'"' => {
                let start = i + 1;
                i += 1;
                while i < bytes.len() && bytes[i] != b'"' {
                    i += if bytes[i] == b'\\' { 2 } else { 1 };
                }
                if let Some(Level::Object(key @ None)) = levels.last_mut() {
                    *key = Some(shortened(text.get(start..i.min(text.len())).unwrap_or("")));
                }
            }
            _ => {}
        }
        if levels.len() > DEEPEST {
            break;
        }
        i += 1;
    }
    let mut path = String::new();
    for level in levels {
        match level {
            Level::List(n) => path.push_str(&format!("[{n}]")),
            Level::Object(Some(key)) => {
                if !path.is_empty() {
                    path.push('.');
                }
                path.push_str(&key);
            }
            Level::Object(None) => {}
        }
    }
    path
}
