//! Each slab: its drawing with what moves it, the sheets of its pieces, its tables and its key.

use super::drawing::{self, Spot, View};
use super::markup::Html;
use super::{Head, Page, counted, piece_id, slab_id, table};
use crate::geom::{BBox, pt};
use crate::model::letters;
use crate::model::{FlawKind, Layout};
use crate::report::measure::{self, Part};
use crate::report::scene::Layer;
use crate::report::sheet::screen::Drawing;
use crate::report::summary::percent;
use crate::report::text;
use crate::units::{Decimal, Shown};

/// What can be switched: what it is called, whether it shows at first, and the layers that go with it.
const SWITCHES: [(&str, &str, bool, &[&str]); 11] = [
    ("flaws", "Flaws", true, &["flaw"]),
    ("grain", "Grain", true, &["grain"]),
    ("zones", "Zones", false, &["zone"]),
    ("cuts", "Cuts and rods", true, &["tool", "rod"]),
    ("dimensions", "Dimensions", true, &["dimension", "datum"]),
    ("offcuts", "Offcuts", true, &["offcut"]),
    ("edges", "Edges", true, &["edge"]),
    ("trim", "Trim", true, &["trim"]),
    ("photograph", "Photograph", true, &["photo"]),
    ("names", "Names", true, &["label"]),
    ("marks", "Findings", true, &["finding"]),
];

/// The buttons of a drawing: what each does, its name, its sign.
const BUTTONS: [(&str, &str, &str); 7] = [
    ("in", "Enlarge", "+"),
    ("out", "Make smaller", "−"),
    ("whole", "Show the whole slab", "Whole"),
    ("left", "Move to the left", "←"),
    ("up", "Move up", "↑"),
    ("down", "Move down", "↓"),
    ("right", "Move to the right", "→"),
];

const HOW: &str = "Drag to move. Enlarge with two fingers, the buttons, or the wheel with Ctrl; with the keyboard: plus, minus, 0 \
                   and the arrows. Pick a piece by a click, or with Tab and Enter.";

/// Tables of more rows leave too little of a printed page to the drawing: it gets a page to itself.
const MOST_ROWS: usize = 12;

impl Page<'_> {
    pub(super) fn slabs(&self, h: &mut Html) {
        // Layers that are off at first are so without a script too.
        let off: Vec<String> = SWITCHES.iter().filter(|s| !s.2).map(|s| format!("without-{}", s.0)).collect();
        let attributes = [("id", "slabs"), ("class", &off.join(" ")), ("aria-labelledby", "slabs-title")];
        h.within("section", &attributes, |h| {
            h.leaf("h2", &[("id", "slabs-title")], "Slabs");
            if self.plan.layouts.is_empty() {
                h.leaf("p", &[], "The plan cuts no slab.");
                return;
            }
            self.switches(h);
            for (i, layout) in self.plan.layouts.iter().enumerate() {
                self.slab(h, i, layout);
            }
        });
    }

    fn switches(&self, h: &mut Html) {
        h.within("details", &[("class", "layers scripted"), ("open", "open")], |h| {
            h.leaf("summary", &[], "Layers");
            h.within("fieldset", &[], |h| {
                h.leaf("legend", &[("class", "unseen")], "Layers of the drawings");
                // A switch for photographs where there is one.
                let drawn = self.drawings.iter().flatten().flat_map(|d| &d.scene.items);
                let seen = drawn.into_iter().any(|i| i.layer == Layer::Photo);
                for (name, words, on, _) in SWITCHES.iter().copied().filter(|s| seen || s.0 != "photograph") {
                    h.within("label", &[], |h| {
                        let mut attributes = vec![("type", "checkbox"), ("data-layer", name)];
                        if on {
                            attributes.push(("checked", "checked"));
                        }
                        h.empty("input", &attributes);
                        h.text(&format!(" {words}"));
                    });
                }
            });
        });
    }

    fn slab(&self, h: &mut Html, index: usize, layout: &Layout) {
        let id = slab_id(index);
        let title = format!("{id}-name");
        let long = layout.placed.len() + layout.offcuts.len() > MOST_ROWS;
        let attributes = [
            ("id", id.as_str()),
            ("class", if long { "slab long" } else { "slab" }),
            ("aria-labelledby", title.as_str()),
            ("data-slab", &(index + 1).to_string()),
        ];
        h.within("article", &attributes, |h| {
            h.within("h3", &[("id", &title), ("tabindex", "-1")], |h| {
                h.text(&format!("Slab {} of {}: ", index + 1, self.plan.layouts.len()));
                h.name(&layout.slab);
            });
            match self.drawings.get(index).and_then(Option::as_ref) {
                Some(drawing) => self.drawn(h, index, layout, drawing),
                None => h.leaf("p", &[], "The rack has no such slab: there is nothing to draw."),
            }
        });
    }

    fn drawn(&self, h: &mut Html, index: usize, layout: &Layout, drawing: &Drawing<'_>) {
        self.facts(h, layout, drawing);
        h.within("div", &[("class", "bench")], |h| {
            h.within("div", &[("class", "shown")], |h| {
                self.stage(h, index, drawing);
                if drawing.scene.left_out > 0 {
                    let marks = counted(drawing.scene.left_out, "mark finds", "marks find");
                    h.leaf("p", &[("class", "note")], &format!("{marks} no room on the drawing: see the tables."));
                }
                for words in &drawing.missing {
                    h.leaf("p", &[("class", "warning")], words);
                }
                self.chalk(h, index, drawing);
                self.offcuts(h, drawing);
                drops(h, drawing);
                key(h, drawing);
            });
            self.sheets(h, index, drawing);
        });
    }

    /// The drawing with what moves it.
    fn stage(&self, h: &mut Html, index: usize, drawing: &Drawing<'_>) {
        h.within("figure", &[("class", "stage")], |h| {
            let name = format!("Move and enlarge the drawing of slab {}", drawing.slab.name);
            h.within("div", &[("class", "tools scripted"), ("role", "group"), ("aria-label", &name)], |h| {
                for (does, name, sign) in BUTTONS {
                    let attributes = [("type", "button"), ("data-move", does), ("aria-label", name), ("title", name)];
                    h.leaf("button", &attributes, sign);
                }
            });
            self.picture(h, index, drawing);
            h.leaf("figcaption", &[("class", "scripted")], HOW);
        });
    }

    fn facts(&self, h: &mut Html, layout: &Layout, drawing: &Drawing<'_>) {
        let slab = drawing.slab;
        let shown = self.shown();
        let b = slab.outline.bbox();
        let y = measure::yields(self.question, layout, slab);
        let class = if slab.stone_given { "" } else { " (assumed)" };
        let mut words = vec![
            format!("{}, {}{class}", slab.material, slab.stone.name()),
            format!("{} thick", shown.length(slab.thickness)),
            self.sizes(b.width(), b.height()),
        ];
        words.extend(slab.lot.as_ref().map(|lot| format!("lot {lot}")));
        words.extend(slab.number.map(|n| format!("number {n}")));
        words.push(match slab.grain {
            Some(grain) => format!("grain at {}°", Decimal(grain, 1)),
            None => "no grain".to_owned(),
        });
        words.push(format!("price {:.2}", slab.price));
        words.push(format!("plan {}", self.number));
        words.push(format!("gross yield {}, net yield {}", percent(y.gross), percent(y.net)));
        h.leaf("p", &[("class", "facts")], &words.join("; "));
    }

    fn picture(&self, h: &mut Html, index: usize, drawing: &Drawing<'_>) {
        let scene = &drawing.scene;
        let spots = drawing
            .parts
            .iter()
            .map(|part| {
                let (w, d) = part.piece.size();
                Spot {
                    number: part.number,
                    name: format!("Piece {}: {}, {}", part.number, part.piece.name, self.sizes(w, d)),
                    outline: part.outline.points().iter().map(|&p| scene.origin + p * (1.0 / scene.scale)).collect(),
                }
            })
            .collect();
        let (w, d) = scene.paper;
        let mut words = counted(drawing.parts.len(), "piece", "pieces");
        let offcuts = drawing.offcuts.len();
        if offcuts > 0 {
            words += &format!(", {}", counted(offcuts, "offcut to keep", "offcuts to keep"));
        }
        for (name, kind) in FlawKind::NAMES {
            let n = drawing.slab.flaws.iter().filter(|f| f.kind == kind).count();
            if n > 0 {
                let more = if kind == FlawKind::Patch { "patches".to_owned() } else { format!("{name}s") };
                words += &format!(", {}", counted(n, name, &more));
            }
        }
        let description =
            format!("Seen from above, polished face up: {words}. The tables below hold all that is on the drawing.");
        let view = View {
            id: &format!("drawing-{}", index + 1),
            title: &format!("Drawing of slab {}", drawing.slab.name),
            description: &description,
            window: BBox { min: pt(0.0, 0.0), max: pt(w, d) },
            spots,
        };
        drawing::print(h, scene, &view);
    }

    fn sheets(&self, h: &mut Html, index: usize, drawing: &Drawing<'_>) {
        let name = format!("Sheets of the pieces on slab {}", drawing.slab.name);
        h.within("aside", &[("class", "sheets"), ("aria-label", &name)], |h| {
            h.leaf(
                "p",
                &[("class", "unpicked scripted")],
                "Pick a piece on the drawing or in the table to see its sheet. The sheet that is shown is printed with the report.",
            );
            for (part, chalk) in drawing.parts.iter().zip(&drawing.chalk) {
                self.piece_sheet(h, index, drawing, part, chalk);
            }
        });
    }

    fn chalk(&self, h: &mut Html, index: usize, drawing: &Drawing<'_>) {
        if drawing.parts.is_empty() {
            return;
        }
        let numbers = ["Length × depth", "P from B", "P from A", "Q from B", "Q from A", "Turn", "Mass"];
        let mut heads = vec![Head::Words("No."), Head::Words("Piece")];
        heads.extend(numbers.map(Head::Number));
        let caption = format!("Pieces on {}, and where to chalk them", text::clean(&drawing.slab.name));
        let several = self.plan.jobs.len() > 1;
        table(h, &caption, &heads, |h| {
            for (part, numbers) in drawing.parts.iter().zip(&drawing.chalk) {
                h.within("tr", &[], |h| {
                    h.leaf("td", &[("class", "number")], &part.number.to_string());
                    h.within("th", &[("scope", "row")], |h| {
                        let sheet = piece_id(index, part.number);
                        let attributes = [("href", &*format!("#{sheet}")), ("class", "pick")];
                        h.within("a", &attributes, |h| h.name(&part.piece.name));
                        if several {
                            h.text(" (");
                            h.name(&part.placed.job);
                            h.text(")");
                        }
                    });
                    let (w, d) = part.piece.size();
                    h.leaf("td", &[], &self.sizes(w, d));
                    for number in numbers {
                        h.leaf("td", &[], number);
                    }
                    h.leaf("td", &[], &mass(drawing, part, self.shown()));
                });
            }
        });
        h.leaf(
            "p",
            &[("class", "note")],
            "A: straight-edge against the slab's lower side, touching it at two triangles. B: square to A, touching the slab at \
             the third. Corners P and Q are marked on the drawing; a rounded corner is measured to where its sides would meet; \
             a round piece has P in its middle and Q on its rim.",
        );
    }

    fn offcuts(&self, h: &mut Html, drawing: &Drawing<'_>) {
        if drawing.offcuts.is_empty() {
            return;
        }
        let shown = self.shown();
        let caption = format!("Offcuts of {} to keep", text::clean(&drawing.slab.name));
        let numbers =
            ["Largest rectangle", "Area", "One end of its lower side from B", "From A", "Other end from B", "From A"];
        let mut heads = vec![Head::Words("No.")];
        heads.extend(numbers.map(Head::Number));
        table(h, &caption, &heads, |h| {
            for (i, ([w, d], [[x, y], [u, v]])) in drawing.offcuts.iter().enumerate() {
                h.within("tr", &[], |h| {
                    h.leaf("th", &[("scope", "row")], &format!("R{}", i + 1));
                    let places = [x, y, u, v].map(|v| shown.bare_length(*v));
                    for cell in [self.sizes(*w, *d), shown.area(w * d)].into_iter().chain(places) {
                        h.leaf("td", &[], &cell);
                    }
                });
            }
        });
        h.leaf("p", &[("class", "note")], "Strips beyond the line of an offcut are cut off.");
    }
}

/// The mass of a piece as it comes off the saw, and with its openings cut if it has any.
pub(super) fn mass(drawing: &Drawing<'_>, part: &Part<'_>, shown: Shown) -> String {
    let whole = shown.mass(measure::whole_mass_kg(drawing.slab, part.piece));
    if part.piece.openings.is_empty() {
        return whole;
    }
    format!("{whole}; openings cut {}", shown.mass(measure::mass_kg(drawing.slab, part.piece)))
}

fn drops(h: &mut Html, drawing: &Drawing<'_>) {
    if drawing.in_drops.is_empty() {
        return;
    }
    h.leaf("h4", &[], "Flaws in drops");
    h.within("ul", &[], |h| {
        for d in &drawing.in_drops {
            let Some(part) = drawing.parts.get(d.part) else { continue };
            let opening = part.piece.openings.get(d.opening).map_or("", |o| o.name.as_str());
            let words = format!("{}{} {opening}: {}", part.number, letters(d.opening), d.words());
            let tag = if d.kind == FlawKind::Crack { "strong" } else { "span" };
            h.within("li", &[], |h| h.leaf(tag, &[], &words));
        }
    });
}

fn key(h: &mut Html, drawing: &Drawing<'_>) {
    h.leaf("h4", &[("class", "key-title")], "Key");
    h.within("ul", &[("class", "key")], |h| {
        for (icon, words) in &drawing.key {
            h.within("li", &[], |h| {
                drawing::icon(h, icon);
                h.leaf("span", &[], words);
            });
        }
    });
}

#[cfg(test)]
mod tests {
    use super::SWITCHES;

    /// The style switches layers by their names; a name that is not there would switch nothing.
    #[test]
    fn the_style_knows_every_switch_and_its_layers() {
        for (name, _, _, layers) in SWITCHES {
            for layer in layers {
                let rule = format!(".without-{name} .layer-{layer}");
                assert!(super::super::STYLE.contains(&rule), "{rule}");
            }
        }
    }
}
