//! Where in a text a thing stands, and the desk on which remarks about that text are collected.
//!
//! In: a text and byte offsets. Out: lines, columns, excerpts, remarks. Must not know: what the text means.

use std::cell::{Cell, RefCell};

use super::drawn::Folder;
use crate::diag::{Kind, Remark, Severity};

/// A text with its name and its lines.
pub(super) struct Source<'a> {
    pub(super) name: &'a str,
    pub(super) text: &'a str,
    starts: Vec<usize>,
}

/// A place in a text.
pub(super) struct Place {
    /// From 1.
    pub(super) line: usize,
    /// In characters, from 1.
    pub(super) column: usize,
    /// The line, or the part of it round the place.
    pub(super) excerpt: String,
}

impl<'a> Source<'a> {
    pub(super) fn new(name: &'a str, text: &'a str) -> Self {
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
        Self { name, text, starts }
    }

    /// The nearest character boundary at or before a byte offset.
    fn floor(&self, offset: usize) -> usize {
        let mut at = offset.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    /// The place of a byte offset; past the end counts as the end.
    pub(super) fn place(&self, offset: usize) -> Place {
        let at = self.floor(offset);
        let line = self.starts.partition_point(|&s| s <= at);
        let start = self.starts[line - 1];
        let end = self.starts.get(line).map_or(self.text.len(), |&next| next - 1);
        let column = self.text[start..at].chars().count() + 1;
        // Round the place: what fits a terminal line.
        let from = self.floor(at.saturating_sub(60)).max(start);
        let to = self.floor(at.saturating_add(60)).min(end).max(from);
        let shown = one_line(self.text[from..to].trim());
        let (head, tail) = (if from > start { "..." } else { "" }, if to < end { "..." } else { "" });
        Place { line, column, excerpt: if shown.is_empty() { shown } else { format!("{head}{shown}{tail}") } }
    }

    /// The byte offset of a line (from 1) and a column in bytes (from 1).
    pub(super) fn offset(&self, line: usize, column: usize) -> usize {
        let start = self.starts.get(line.saturating_sub(1)).copied().unwrap_or(self.text.len());
        (start + column.saturating_sub(1)).min(self.text.len())
    }
}

/// The text with control characters made visible as spaces.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A text as it may stand in a message: on one line, and cut where it is long.
pub(super) fn shortened(text: &str) -> String {
    clipped(text, 60)
}

/// A text on one line, of at most so many letters.
pub(super) fn clipped(text: &str, most: usize) -> String {
    let mut short = one_line(&text.chars().take(most).collect::<String>());
    if text.chars().nth(most).is_some() {
        short.push_str("...");
    }
    short
}

/// Collects the remarks about one source.
pub(super) struct Desk<'a> {
    pub(super) source: &'a Source<'a>,
    /// Where drawings that the source names are found; `None`: nowhere.
    pub(super) folder: Option<&'a Folder>,
    remarks: RefCell<Vec<Remark>>,
    errors: Cell<usize>,
    others: Cell<usize>,
}

impl<'a> Desk<'a> {
    /// Nobody reads more, and a hostile file must not make us write for ever.
    const MOST: usize = 200;

    pub(super) fn new(source: &'a Source<'a>) -> Self {
        Self { source, folder: None, remarks: RefCell::new(Vec::new()), errors: Cell::new(0), others: Cell::new(0) }
    }

    /// A desk for a source that may name drawings.
    pub(super) fn beside(source: &'a Source<'a>, folder: &'a Folder) -> Self {
        Self { folder: Some(folder), ..Self::new(source) }
    }

    /// Puts down a remark about the place at a byte offset.
    #[expect(
        clippy::too_many_arguments,
        reason = "the parts of a remark, each named at the call by its order in print"
    )]
    pub(super) fn put(
        &self,
        severity: Severity,
        what: Kind,
        offset: usize,
        key: &str,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        // Places take time in long lines, and nobody sees those of remarks that are not listed.
        let count = if severity == Severity::Error { &self.errors } else { &self.others };
        if count.get() > Self::MOST {
            count.set(count.get() + 1);
            return;
        }
        let Place { line, column, excerpt } = self.source.place(offset);
        self.add(Remark {
            severity,
            file: self.source.name.to_owned(),
            line,
            column,
            key: key.to_owned(),
            what,
            given: given.into(),
            expected: expected.into(),
            fix: fix.into(),
            text: excerpt,
        });
    }

    /// Puts down a remark, also about another file that the source names.
    pub(super) fn add(&self, remark: Remark) {
        // Errors and the rest are counted apart: many notes must neither hide an error nor count as one.
        let is_error = remark.severity == Severity::Error;
        let count = if is_error { &self.errors } else { &self.others };
        count.set(count.get() + 1);
        let mut remarks = self.remarks.borrow_mut();
        if count.get() > Self::MOST {
            if count.get() == Self::MOST + 1 {
                let what = if is_error { "errors" } else { "warnings and notes" };
                remarks.push(Remark::about_file(
                    if is_error { Severity::Error } else { Severity::Note },
                    Kind::AndMore,
                    self.source.name,
                    format!("more than {} {what}", Self::MOST),
                    "fewer, so that all can be listed",
                    "mend those listed, then run it again",
                ));
            }
            return;
        }
        remarks.push(remark);
    }

    /// True if no more errors are listed, so that further reading says nothing new.
    pub(super) fn is_full(&self) -> bool {
        self.errors.get() > Self::MOST
    }

    /// How many errors were put down, listed or not.
    pub(super) fn errors(&self) -> usize {
        self.errors.get()
    }

    pub(super) fn into_remarks(self) -> Vec<Remark> {
        self.remarks.into_inner()
    }
}

#[cfg(test)]
mod tests {
    use super::Source;

    #[test]
    fn places_count_characters_and_survive_any_offset() {
        let source = Source::new("x", "aé\nßb = 1\n");
        let at = |o: usize| (source.place(o).line, source.place(o).column);
        assert_eq!(at(0), (1, 1));
        assert_eq!(at(2), (1, 2)); // inside the two bytes of é
        assert_eq!(at(4), (2, 1));
        assert_eq!(at(6), (2, 2));
        assert_eq!(at(999), (3, 1));
        assert_eq!(source.place(6).excerpt, "ßb = 1");
    }
}
