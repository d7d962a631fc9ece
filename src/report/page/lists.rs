//! The cut list, and what stands on the labels.

use super::markup::Html;
use super::pieces::{finished, grain_wish};
use super::slabs::mass;
use super::{Head, Page, fact, piece_id, piece_number, table};
use crate::report::held;
use crate::report::measure::Part;
use crate::report::sheet::screen::Drawing;

impl Page<'_> {
    /// All pieces that are drawn, slab by slab.
    fn all(&self) -> impl Iterator<Item = (usize, &Drawing<'_>, &Part<'_>)> {
        let drawn = self.drawings.iter().enumerate().filter_map(|(i, d)| Some((i, d.as_ref()?)));
        drawn.flat_map(|(i, d)| d.parts.iter().map(move |p| (i, d, p)))
    }

    pub(super) fn cut_list(&self, h: &mut Html) {
        let shown = self.shown();
        h.within("section", &[("id", "cut-list"), ("aria-labelledby", "cut-list-title")], |h| {
            h.leaf("h2", &[("id", "cut-list-title")], "Cut list");
            use Head::{Number, Words};
            let heads = [
                Words("No."),
                Words("Piece"),
                Words("Job"),
                Words("Slab"),
                Number("Length × depth"),
                Number("Thick"),
                Number("Mass"),
                Words("Finished edges"),
                Words("Openings"),
                Words("Grain"),
            ];
            table(h, "All pieces, by slab and number on it", &heads, |h| {
                for (i, drawing, part) in self.all() {
                    let piece = part.piece;
                    h.within("tr", &[], |h| {
                        h.leaf("td", &[("class", "number")], &piece_number(i, part.number));
                        h.within("th", &[("scope", "row")], |h| {
                            let href = format!("#{}", piece_id(i, part.number));
                            h.within("a", &[("href", &href), ("class", "pick")], |h| h.name(&piece.name));
                        });
                        h.within("td", &[("class", "words")], |h| h.name(&part.placed.job));
                        h.within("td", &[("class", "words")], |h| h.name(&drawing.slab.name));
                        let (w, d) = piece.size();
                        h.leaf("td", &[], &self.sizes(w, d));
                        h.leaf("td", &[], &shown.length(drawing.slab.thickness));
                        h.leaf("td", &[], &mass(drawing, part, shown));
                        h.leaf("td", &[("class", "words")], &finished(piece));
                        let openings: Vec<&str> = piece.openings.iter().map(|o| o.name.as_str()).collect();
                        let openings = if openings.is_empty() { "none".to_owned() } else { openings.join(", ") };
                        h.leaf("td", &[("class", "words")], &openings);
                        h.leaf("td", &[("class", "words")], &grain_wish(piece));
                    });
                }
            });
            for u in &self.plan.unplaced {
                h.leaf("p", &[("class", "warning")], &format!("{} ({}) has no place.", u.piece, u.job));
            }
        });
    }

    pub(super) fn label_list(&self, h: &mut Html) {
        let shown = self.shown();
        h.within("section", &[("id", "labels"), ("aria-labelledby", "labels-title")], |h| {
            h.leaf("h2", &[("id", "labels-title")], "Labels");
            h.leaf(
                "p",
                &[("class", "note")],
                "One for each piece and each offcut that is kept. They go onto the polished face.",
            );
            h.within("ul", &[("class", "labels")], |h| {
                for (i, drawing, part) in self.all() {
                    h.within("li", &[("class", "label")], |h| {
                        h.within("p", &[("class", "label-name")], |h| {
                            h.leaf("span", &[("class", "badge")], &piece_number(i, part.number));
                            h.text(" ");
                            h.name(&part.piece.name);
                        });
                        let (w, d) = part.piece.size();
                        h.within("dl", &[], |h| {
                            fact(h, "Job", |h| h.name(&part.placed.job));
                            fact(h, "Slab", |h| h.name(&drawing.slab.name));
                            let thick = shown.length(drawing.slab.thickness);
                            fact(h, "Size", |h| h.text(&format!("{}, {thick} thick", self.sizes(w, d))));
                            fact(h, "Mass", |h| h.text(&mass(drawing, part, shown)));
                            fact(h, "Finished", |h| h.text(&finished(part.piece)));
                            fact(h, "Plan", |h| h.text(&self.number.to_string()));
                        });
                        for held in self.plan.held_of(&part.placed.job, &part.placed.piece) {
                            h.leaf("p", &[("class", "warning")], &held::order(held));
                        }
                        h.leaf("p", &[("class", "face")], "▲ back · this face up");
                    });
                }
                for (i, drawing) in self.drawings.iter().enumerate() {
                    let Some(drawing) = drawing else { continue };
                    for (k, ([w, d], _)) in drawing.offcuts.iter().enumerate() {
                        h.within("li", &[("class", "label")], |h| {
                            h.within("p", &[("class", "label-name")], |h| {
                                h.leaf("span", &[("class", "badge")], &format!("{}-R{}", i + 1, k + 1));
                                h.text(" offcut to keep");
                            });
                            h.within("dl", &[], |h| {
                                fact(h, "From slab", |h| h.name(&drawing.slab.name));
                                fact(h, "Material", |h| h.name(&drawing.slab.material));
                                fact(h, "Rectangle", |h| h.text(&self.sizes(*w, *d)));
                                fact(h, "Thick", |h| h.text(&shown.length(drawing.slab.thickness)));
                                fact(h, "Plan", |h| h.text(&self.number.to_string()));
                            });
                        });
                    }
                }
            });
        });
    }
}
