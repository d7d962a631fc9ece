//! Openings that are not simply cut through in the shop as drawn, in words: the same on the screen, on the sheets of slabs and
//! on the page. In: what a plan holds of them. Out: entries, those of copies together; text.

use super::opening::Alike;
use super::summary::Lines;
use super::text;
use crate::model::openings::{Held, Verdict};

/// Openings that are held for the same reasons, but for the copy of the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Group<'a> {
    /// The first of them.
    pub held: &'a Held,
    /// The pieces that have it.
    pub pieces: Vec<String>,
}

/// Headings of the two kinds, worst first.
pub(super) const KINDS: [(Verdict, &str); 2] = [
    (Verdict::Stop, "Openings that must not be cut as drawn"),
    (Verdict::Score, "Openings to score only, and to finish on site"),
];

impl Group<'_> {
    /// What it is called: opening and pieces.
    #[must_use]
    pub fn name(&self) -> String {
        let alike = Alike { first: 0, pieces: self.pieces.clone() };
        format!("{} of {}", self.held.opening, alike.name())
    }

    /// The verdict in one word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        if self.held.is_stopped() { "STOP" } else { "SCORE" }
    }

    /// Why, and what to do.
    #[must_use]
    pub fn words(&self) -> String {
        reasons(self.held)
    }
}

/// Why an opening is held, and what to do.
pub(super) fn reasons(held: &Held) -> String {
    let mut out = held.because.join("; ");
    if !out.is_empty() {
        out += ". ";
    }
    out += &held.to_do.join(" ");
    out.trim().to_owned()
}

/// What a label says of it.
pub(super) fn order(held: &Held) -> String {
    if held.is_stopped() {
        format!("STOP: do not cut {} as drawn", held.opening)
    } else {
        format!("SCORE ONLY: {}; finish on site", held.opening)
    }
}

/// With a capital at its start.
pub(super) fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Entries in the order of their first openings, those that must not be cut first.
#[must_use]
pub fn groups<'a>(held: impl IntoIterator<Item = &'a Held>) -> Vec<Group<'a>> {
    let mut out: Vec<Group<'a>> = Vec::new();
    for one in held {
        let alike = |g: &&mut Group<'a>| *g.held == Held { piece: g.held.piece.clone(), ..one.clone() };
        match out.iter_mut().find(alike) {
            Some(group) => group.pieces.push(one.piece.clone()),
            None => out.push(Group { held: one, pieces: vec![one.piece.clone()] }),
        }
    }
    out.sort_by_key(|g| !g.held.is_stopped());
    out
}

/// The text about them for a screen; empty if there are none.
#[must_use]
pub fn held(held: &[Held]) -> String {
    let mut out = Lines(String::new());
    tell(&mut out, held);
    out.0
}

pub(super) fn tell(out: &mut Lines, held: &[Held]) {
    let groups = groups(held);
    for (verdict, heading) in KINDS {
        let count = held.iter().filter(|h| h.verdict == verdict).count();
        if count == 0 {
            continue;
        }
        out.line(&format!("{heading}: {count}"));
        for g in groups.iter().filter(|g| g.held.verdict == verdict) {
            let name = text::clean(&format!("{} ({})", g.name(), g.held.job));
            out.wrapped(&format!("  {:<5} ", g.word()), &format!("{name}: {}", g.words()));
        }
    }
}
