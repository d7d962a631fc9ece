//! The sheets of the openings: the drawing, and the words that stand on the sheets of paper too.

use super::Page;
use super::drawing::{self, View};
use super::markup::Html;
use crate::model::openings::{OpeningSheet, Verdict};
use crate::report::opening::{self, Section, sections, verdict};
use crate::report::{Paper, Settings};

impl Page<'_> {
    /// The sheet of an opening: its id on the page, and what it comes to.
    pub(super) fn sheet_of(&self, job: &str, piece: &str, opening: &str) -> Option<(String, Verdict)> {
        self.groups.iter().enumerate().find_map(|(i, group)| {
            let sheet = self.openings.openings.get(group.first)?;
            let same = sheet.job == job && sheet.opening == opening && group.pieces.iter().any(|p| p == piece);
            same.then(|| (sheet_id(i), sheet.verdict))
        })
    }

    pub(super) fn opening_sheets(&self, h: &mut Html) {
        if self.openings.openings.is_empty() {
            return;
        }
        h.within("section", &[("id", "openings"), ("aria-labelledby", "openings-title")], |h| {
            h.leaf("h2", &[("id", "openings-title")], "Openings");
            h.leaf("p", &[("class", "note")], "A sheet that is open here is printed with the report.");
            h.within("p", &[("class", "scripted folding")], |h| {
                h.leaf("button", &[("type", "button"), ("data-fold", "open")], "Open all sheets");
                h.text(" ");
                h.leaf("button", &[("type", "button"), ("data-fold", "close")], "Close all sheets");
            });
            for (i, group) in self.groups.iter().enumerate() {
                if let Some(sheet) = self.openings.openings.get(group.first) {
                    self.opening_sheet(h, i, sheet, &group.name());
                }
            }
        });
    }

    fn opening_sheet(&self, h: &mut Html, index: usize, sheet: &OpeningSheet, called: &str) {
        let id = sheet_id(index);
        let (word, meaning) = verdict(sheet.verdict);
        h.within("details", &[("id", &id), ("class", "opening")], |h| {
            h.within("summary", &[], |h| {
                h.within("h3", &[], |h| {
                    h.name(called);
                    h.text(": ");
                    h.name(&sheet.opening);
                });
                let kind = sheet.kind.name();
                if kind != sheet.opening {
                    h.leaf("span", &[("class", "kind")], &format!("{kind} "));
                }
                let class = if sheet.verdict == Verdict::Stop { "grade broken" } else { "grade" };
                h.leaf("span", &[("class", class)], word);
                h.text(&format!(" {meaning}"));
            });
            self.opening_drawing(h, &id, sheet, called);
            h.within("div", &[("class", "sections")], |h| {
                for section in sections(sheet, self.shown()) {
                    words(h, &section);
                }
            });
        });
    }

    fn opening_drawing(&self, h: &mut Html, id: &str, sheet: &OpeningSheet, called: &str) {
        // The drawing alone is taken, so that the paper only sets how large it is beside its type.
        let settings = Settings { paper: Paper::A4, ..*self.settings };
        let scenes = opening::scenes(self.question, Some(self.plan), sheet, called, &settings);
        let Some(scene) = scenes.first() else { return };
        let window = drawing::window(scene);
        if !window.min.is_finite() {
            return;
        }
        let view = View {
            id: &format!("{id}-drawing"),
            title: &format!("{}: {}", called, sheet.opening),
            description: "The part of the piece round the opening, seen from above, front edge below, with cores (C), saw passes (S), \
                          rods (R), flaws (F) and rails. The text below says the same with all figures.",
            window,
            spots: Vec::new(),
        };
        h.within("figure", &[("class", "hole")], |h| drawing::print(h, scene, &view));
    }
}

fn sheet_id(index: usize) -> String {
    format!("opening-{}", index + 1)
}

fn words(h: &mut Html, section: &Section) {
    h.within("div", &[("class", "told")], |h| {
        h.leaf("h4", &[], &section.heading);
        h.within("ul", &[("class", "plain")], |h| {
            for entry in &section.entries {
                h.within("li", &[], |h| {
                    if !entry.tag.is_empty() {
                        h.leaf("b", &[], &entry.tag);
                        h.text(" ");
                    }
                    h.leaf(if entry.bold { "strong" } else { "span" }, &[], &entry.text);
                });
            }
        });
    });
}
