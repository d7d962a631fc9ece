//! The sheet of a piece: size, edges, openings, where it lies, grain, mass.

use super::markup::Html;
use super::slabs::mass;
use super::{Page, fact, piece_id};
use crate::model::letters;
use crate::model::{GrainWish, Opening, Piece};
use crate::report::edges::{self, edges};
use crate::report::measure::{self, Part};
use crate::report::opening::verdict;
use crate::report::sheet::screen::Drawing;
use crate::units::{Decimal, Shown};

impl Page<'_> {
    pub(super) fn piece_sheet(
        &self,
        h: &mut Html,
        index: usize,
        drawing: &Drawing<'_>,
        part: &Part<'_>,
        chalk: &[String; 5],
    ) {
        let shown = self.shown();
        let piece = part.piece;
        let (id, number) = (piece_id(index, part.number), part.number.to_string());
        let title = format!("{id}-name");
        let attributes = [
            ("id", id.as_str()),
            ("class", "sheet"),
            ("tabindex", "-1"),
            ("aria-labelledby", &title),
            ("data-piece", &number),
        ];
        h.within("article", &attributes, |h| {
            h.within("h4", &[("id", &title)], |h| {
                h.leaf("span", &[("class", "badge")], &number);
                h.text(" ");
                h.name(&piece.name);
            });
            h.within("dl", &[], |h| {
                fact(h, "Job", |h| h.name(&part.placed.job));
                let (w, d) = piece.size();
                let thick = shown.length(drawing.slab.thickness);
                fact(h, "Length × depth", |h| h.text(&format!("{}, {thick} thick", self.sizes(w, d))));
                fact(h, "Mass", |h| h.text(&mass(drawing, part, shown)));
                fact(h, "Edges", |h| {
                    h.within("ul", &[], |h| {
                        let all = edges(piece);
                        for edge in &all {
                            let length = shown.length(edge.side.length);
                            let along = if edge.side.curve.is_some() { " along it" } else { "" };
                            let course =
                                edge.course(|v| shown.length(v)).map_or_else(String::new, |words| format!(", {words}"));
                            h.within("li", &[], |h| {
                                h.text(&format!("{}, {length}{along}{course}: ", edge.name(&all)));
                                h.name(edge.side.finish.name());
                            });
                        }
                    });
                });
                fact(h, "Openings", |h| self.openings_of(h, part));
                let [px, py, qx, qy, turn] = chalk;
                fact(h, "Place", |h| {
                    h.text(&format!("P {px} from B, {py} from A; Q {qx} from B, {qy} from A; turned by {turn}"));
                });
                fact(h, "Grain", |h| h.text(&grain(piece, drawing, part.pose.turn)));
                let hidden = hidden(piece, shown);
                if !hidden.is_empty() {
                    fact(h, "Hidden strips", |h| h.text(&hidden));
                }
                if part.placed.pinned {
                    fact(h, "Pinned", |h| h.text("its place is kept when the plan is made anew"));
                }
            });
            let here = |f: &&crate::model::Finding| {
                f.piece.as_ref() == Some(&part.placed.piece) && f.job.as_ref().is_none_or(|j| *j == part.placed.job)
            };
            let findings: Vec<_> = self.plan.findings.iter().filter(here).collect();
            if !findings.is_empty() {
                h.leaf("h5", &[], "Findings");
                h.within("ul", &[], |h| {
                    for f in findings {
                        h.leaf("li", &[], &f.message);
                    }
                });
            }
        });
    }

    fn openings_of(&self, h: &mut Html, part: &Part<'_>) {
        if part.piece.openings.is_empty() {
            h.text("none");
            return;
        }
        let shown = self.shown();
        h.within("ul", &[], |h| {
            for (j, opening) in part.piece.openings.iter().enumerate() {
                h.within("li", &[], |h| {
                    h.text(&format!("{}{} ", part.number, letters(j)));
                    h.name(&opening.name);
                    h.text(&format!(", {}", self.opening_words(part.piece, opening)));
                    let sheet = self.sheet_of(&part.placed.job, &part.placed.piece, &opening.name);
                    if let Some((id, came_to)) = sheet {
                        h.text(": ");
                        let (word, meaning) = verdict(came_to);
                        h.leaf("a", &[("href", &format!("#{id}"))], &format!("{word}, {meaning}"));
                    }
                });
            }
            if let Some(web) = measure::narrowest_web(part.piece) {
                let [a, b] = web.between.map(letters);
                h.leaf("li", &[], &format!("narrowest web, {a} to {b}: {}", shown.length(web.near.distance)));
            }
        });
    }

    /// Kind, size, place and narrowest rail of an opening.
    fn opening_words(&self, piece: &Piece, opening: &Opening) -> String {
        let shown = self.shown();
        let extent = opening.shape.extent();
        let c = opening.centre();
        let rail = measure::narrowest_rail(piece, opening).distance;
        let rail = if rail.is_finite() { format!(", narrowest rail {}", shown.length(rail)) } else { String::new() };
        format!(
            "{}, {}, centre {} from the left end and {} from the front{rail}",
            opening.kind.name(),
            self.sizes(extent.width(), extent.height()),
            shown.length(c.x),
            shown.length(c.y)
        )
    }
}

/// The finished sides in a few words.
pub(super) fn finished(piece: &Piece) -> String {
    edges::told(piece).unwrap_or_else(|| "none".to_owned())
}

/// What grain a piece wishes, in a few words.
pub(super) fn grain_wish(piece: &Piece) -> String {
    let GrainWish::Towards(angle) = piece.grain else { return "any way".to_owned() };
    let mut words = if angle == 0.0 {
        "along its length".to_owned()
    } else if angle == 90.0 {
        "across its length".to_owned()
    } else {
        format!("{}° from its length", Decimal(angle, 1))
    };
    if piece.grain_tolerance > 0.0 {
        words += &format!(", {}° either way", Decimal(piece.grain_tolerance, 1));
    }
    if piece.one_way {
        words += ", not end for end";
    }
    words
}

/// The wish, and how the slab's grain lies on the piece.
fn grain(piece: &Piece, drawing: &Drawing<'_>, turn: f64) -> String {
    let wish = grain_wish(piece);
    match drawing.slab.grain {
        None => format!("{wish}; the slab has none"),
        Some(slab) => {
            let on_piece = (slab - turn).rem_euclid(180.0);
            let on_piece = if on_piece >= 179.95 { 0.0 } else { on_piece };
            format!("{wish}; lies at {}° to its length", Decimal(on_piece, 1))
        }
    }
}

fn hidden(piece: &Piece, shown: Shown) -> String {
    let hidden = &piece.hidden;
    let all = [("front", hidden.front), ("right", hidden.right), ("back", hidden.back), ("left", hidden.left)];
    let told: Vec<String> =
        all.iter().filter(|s| s.1 > 0.0).map(|(side, width)| format!("{side} {}", shown.length(*width))).collect();
    told.join(", ")
}
