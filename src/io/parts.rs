//! The pieces of a drawing: which outlines they are, what they are called, and which outlines within them are openings.
//!
//! In: the table `outline` of a piece with `file`. Out: parts with names and holes, and remarks. Must not know: grain, finishes, stone.

use std::collections::BTreeSet;

use super::drawn::{self, Found, name_of, text_at};
use super::reader::{Table, Value, listed};
use super::shape::{FORMS, Raw, at};
use super::source::shortened;
use crate::cad::outlines::Outline;
use crate::diag::Kind;
use crate::geom::curve::Side;
use crate::model::OpeningKind;
use crate::units::Unit;

/// Says that the kind of each opening stands in the text within it.
pub const BY_TEXT: &str = "by text";

/// One piece of an entry.
pub(super) struct Part<'a> {
    /// What it is called, unless that went wrong.
    pub(super) name: Option<String>,
    pub(super) raw: Raw<'a>,
    pub(super) holes: Vec<Hole<'a>>,
}

/// An outline within a piece of a drawing.
pub(super) struct Hole<'a> {
    pub(super) name: String,
    pub(super) kind: OpeningKind,
    pub(super) raw: Raw<'a>,
}

impl<'a> Part<'a> {
    /// The one piece of an entry that draws it itself.
    pub(super) const fn whole(name: Option<String>, raw: Raw<'a>) -> Self {
        Self { name, raw, holes: Vec::new() }
    }
}

/// Reads the pieces of an entry: the one that is `named`, or all; a `name` given in the job is for one. `None` after an error.
pub(super) fn read<'a>(table: &Table<'a>, name: Option<&str>, unit: Unit) -> Option<Vec<Part<'a>>> {
    let (_, file) = table.one_of(&FORMS, "give one shape")?;
    let wish = match table.get("openings") {
        None => None,
        Some(v) => Some(kind_wish(&v)?),
    };
    let named = match table.get("named") {
        None => None,
        Some(v) => Some((v.name()?, v)),
    };
    let found = drawn::find(table, &file, unit, Side::Outer)?;
    let outer: Vec<&Outline> = found.seen.outlines.outer().collect();
    if let Some((wanted, value)) = named {
        let of_name: Vec<&Outline> = outer
            .iter()
            .copied()
            .filter(|o| name_of(&found.seen, o).ok().flatten().is_some_and(|n| n == wanted))
            .collect();
        if of_name.is_empty() {
            let mut there: Vec<String> =
                outer.iter().filter_map(|o| name_of(&found.seen, o).ok().flatten()).map(|n| shortened(&n)).collect();
            there.truncate(20);
            let there: Vec<&str> = there.iter().map(String::as_str).collect();
            let expected = if there.is_empty() {
                "a text in an outline of the drawing".to_owned()
            } else {
                format!("one of {}", listed(&there))
            };
            value.error(Kind::UnknownWord, value.as_written(), expected, "write it as it stands in the drawing");
            return None;
        }
        let one = found.one(&of_name, "one outline of that name", "change one of the texts")?;
        let name = name.map_or(wanted, ToOwned::to_owned);
        return part(&found, one, Some(name), wish).map(|p| vec![p]);
    }
    if let Some(name) = name {
        let fix =
            "take name out, and each becomes a piece called as the text in it says; or pick one with outline.named";
        let one = found.one(&outer, "one closed outline for a piece with a name", fix)?;
        return part(&found, one, Some(name.to_owned()), wish).map(|p| vec![p]);
    }
    if outer.is_empty() {
        found.one(&[], "a closed outline for every piece", "")?;
    }
    // All are looked at, so that everything wrong is told in one run.
    let parts: Vec<Option<Part<'a>>> = outer.iter().map(|o| part(&found, o, own_name(&found, o), wish)).collect();
    let parts: Option<Vec<Part<'a>>> = parts.into_iter().collect();
    parts.filter(|p| p.iter().all(|p| p.name.is_some()))
}

/// The name that a text within an outline gives it. `None` after an error.
fn own_name(found: &Found<'_>, outline: &Outline) -> Option<String> {
    match name_of(&found.seen, outline) {
        Ok(Some(name)) => Some(name),
        Ok(None) => {
            let given = format!("an outline without a text in it: {}", found.told(outline));
            let fix = "write the piece's name into it; or give the entry a name, if it is the only outline";
            found.error(Kind::NoNameInside, Some(outline.entity), given, "a text that names each piece", fix);
            None
        }
        Err((a, b)) => {
            let text = |e: usize| {
                let p = text_at(&found.seen, e);
                format!("{} at {}", found.entity(e), at(p))
            };
            let given = format!("two texts of one size in {}: {} and {}", found.told(outline), text(a), text(b));
            let expected = "one text that is larger than the others, or the layer of the names";
            let fix = "make the name larger, or give outline.text_layer";
            found.error(Kind::NoNameInside, Some(b), given, expected, fix);
            None
        }
    }
}

/// What the openings are to be: a kind, or `None` if the text in each says.
#[expect(clippy::option_option, reason = "\"wrong\" and \"the text says\" are two things")]
fn kind_wish(value: &Value<'_>) -> Option<Option<OpeningKind>> {
    let mut words: Vec<(&str, Option<OpeningKind>)> = OpeningKind::NAMES.iter().map(|&(n, k)| (n, Some(k))).collect();
    words.push((BY_TEXT, None));
    value.word(&words)
}

/// One piece with its holes. `None` after an error.
fn part<'a>(
    found: &Found<'a>,
    outline: &Outline,
    name: Option<String>,
    wish: Option<Option<OpeningKind>>,
) -> Option<Part<'a>> {
    let inner: Vec<&Outline> = found.seen.outlines.inner(outline).collect();
    let Some(wish) = wish else {
        if let Some(&first) = inner.first() {
            let n = inner.len();
            let given = format!(
                "{n} outline{} within a piece: {}{}",
                if n == 1 { "" } else { "s" },
                found.told(first),
                if n == 1 { "" } else { ", and others" }
            );
            let expected = "what they are: openings, or nothing that belongs to the piece";
            let fix = "give outline.openings = \"other\" or another kind, or \"by text\" if a text in each says its kind; \
                       or name the layer of the outer lines";
            found.error(Kind::InnerOutlines, Some(first.entity), given, expected, fix);
            return None;
        }
        return Some(Part { name, raw: Raw::of_drawing(found, outline), holes: Vec::new() });
    };
    let holes: Vec<Option<Hole<'a>>> = inner.iter().enumerate().map(|(i, o)| hole(found, o, i, wish)).collect();
    let holes: Option<Vec<Hole<'a>>> = holes.into_iter().collect();
    let mut holes = holes?;
    number(&mut holes);
    Some(Part { name, raw: Raw::of_drawing(found, outline), holes })
}

/// Gives openings of one name numbers behind it, from the second on: "outlet", "outlet 2".
fn number(holes: &mut [Hole<'_>]) {
    let mut taken: BTreeSet<String> = holes.iter().map(|h| h.name.clone()).collect();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for hole in holes {
        if !seen.insert(hole.name.clone()) {
            let free = (2..).map(|n| format!("{} {n}", hole.name)).find(|name| !taken.contains(name));
            hole.name = free.unwrap_or_default();
            taken.insert(hole.name.clone());
            seen.insert(hole.name.clone());
        }
    }
}

fn hole<'a>(found: &Found<'a>, outline: &Outline, i: usize, wish: Option<OpeningKind>) -> Option<Hole<'a>> {
    let text = name_of(&found.seen, outline).ok().flatten();
    let kind = match wish {
        Some(kind) => kind,
        None => {
            let said = text.as_deref().and_then(kind_in);
            if said.is_none() {
                let given = format!("an opening whose text says no kind: {}", found.told(outline));
                let kinds = OpeningKind::NAMES.map(|n| n.0);
                let expected = format!("a text with one of {}", listed(&kinds));
                let fix = "write the kind into the opening, or give outline.openings one kind for all";
                found.error(Kind::NoNameInside, Some(outline.entity), given, &expected, fix);
            }
            said?
        }
    };
    let name = text.unwrap_or_else(|| format!("{} {}", kind.name(), i + 1));
    Some(Hole { name, kind, raw: Raw::of_drawing(found, outline) })
}

/// The kind that a text names: the longest of the names in it, capitals aside.
pub(super) fn kind_in(text: &str) -> Option<OpeningKind> {
    let text = text.to_lowercase();
    let there = OpeningKind::NAMES.iter().filter(|(n, _)| text.contains(n));
    there.max_by_key(|(n, _)| n.len()).map(|&(_, k)| k)
}
