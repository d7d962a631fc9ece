//! The tables of a piece's sheet: everything in figures and words, also what found no room on the drawing.

use super::{Builder, COLUMN};
use crate::geom::pt;
use crate::model::letters;
use crate::model::openings::{CarryVerdict, Held, Verdict, rail_words};
use crate::model::{GrainWish, Opening, Shape};
use crate::report::datum::Datum;
use crate::report::edges::edges;
use crate::report::flow::{Block, Row};
use crate::report::scene::{Anchor, Colour, Item, Layer, Stroke};
use crate::report::sheet::{end, start};
use crate::report::{flow, held, measure};
use crate::units::Decimal;

/// Stone wider than this is no rail, mm. Own choice, as on the sheet of the slab.
pub(super) const WIDE: f64 = 300.0;
/// Groups longer than this are parted: a group that no column holds would be lost.
const MOST_ROWS: usize = 14;

impl Builder<'_> {
    pub(super) fn blocks(&self) -> Vec<Block> {
        let mut out = vec![self.piece_block(), self.place_block(), self.corners_block(), self.edges_block()];
        out.extend(self.openings_block());
        out.extend(self.rods_block());
        out.extend(self.rest_block());
        out.extend(self.cautions_block());
        out
    }

    fn piece_block(&self) -> Block {
        let cut = self.cut;
        let mut lines = vec![(cut.size(self.shown), true)];
        lines.push((cut.mass(self.shown), true));
        let hand = cut.burden.and_then(|b| b.load.niosh_people);
        let hand = hand.map_or_else(String::new, |n| format!(" ({n} by the NIOSH lifting equation)"));
        lines.push((self.work.carried(cut, &hand, true), false));
        // Where an opening is held, how it would be carried with that opening cut says nothing.
        let orders = cut.orders(self.work.plan);
        if orders.is_empty() {
            let worst = self.sheets.iter().flatten().filter_map(|s| s.carrying.as_ref()).map(|c| c.verdict);
            let told = worst.map(carried).max_by_key(|c| c.0);
            lines.extend(told.map(|(rank, words)| (words.to_owned(), rank > 1)));
        }
        lines.extend(orders.into_iter().map(|words| (words, true)));
        self.block("Piece", lines)
    }

    fn place_block(&self) -> Block {
        let (cut, slab) = (self.cut, self.cut.slab);
        let lot = match (&slab.lot, slab.number) {
            (Some(lot), Some(n)) => format!(", lot {lot}, number {n}"),
            (Some(lot), None) => format!(", lot {lot}"),
            (None, Some(n)) => format!(", number {n}"),
            (None, None) => String::new(),
        };
        let assumed = if slab.stone_given { "" } else { " (assumed)" };
        let pose = cut.placed.pose();
        let datum = Datum::of(&slab.outline);
        let of = self.work.plan.layouts.len();
        let mut lines = vec![
            (format!("Slab {}, piece no. {}", slab.name, cut.number), true),
            (format!("slab {} of {of} of the plan", cut.layout + 1), false),
            (format!("{}: {}{assumed}{lot}", slab.material, slab.stone.name()), false),
            (measure::turn_words(pose.turn), false),
        ];
        let corners = measure::corners(cut.piece);
        for c in corners.iter().filter(|c| !c.in_air).take(2) {
            let [x, y] = datum.measure(pose.apply(c.at)).map(|v| self.bare(v));
            let what = if c.is_top { "top" } else { "corner" };
            lines.push((format!("{what} {}: {x} from B, {y} from A of the slab", c.name), false));
        }
        self.block("Place", lines)
    }

    fn corners_block(&self) -> Block {
        let stops = (26.0, 46.0);
        let mut heading = vec![heading("Corners")];
        heading.push(Row::cells(&[
            start("no.", 0.0, 8.0, false),
            end("from left end", stops.0, stops.0 - 7.0, false),
            end("from front", stops.1, stops.1 - stops.0 - 1.0, false),
            start("radius", stops.1 + 2.5, COLUMN - stops.1 - 2.5, false),
        ]));
        let corners = measure::corners(self.cut.piece);
        let mut groups: Vec<Vec<Row>> = corners
            .iter()
            .map(|c| {
                let last = c.words(|v| self.bare(v));
                vec![Row::cells(&[
                    start(&c.name, 0.0, 8.0, true),
                    end(&self.bare(c.at.x), stops.0, stops.0 - 8.0, false),
                    end(&self.bare(c.at.y), stops.1, stops.1 - stops.0 - 1.0, false),
                    start(&last, stops.1 + 2.5, COLUMN - stops.1 - 2.5, false),
                ])]
            })
            .collect();
        let mut notes = Vec::new();
        let note = if self.is_round() {
            let b = self.cut.piece.outline.shape.extent();
            if (b.width() - b.height()).abs() < 0.05 {
                format!("A circle of diameter {}; M is its middle.", self.bare(b.width()))
            } else {
                format!("An ellipse {} × {}; M is its middle.", self.bare(b.width()), self.bare(b.height()))
            }
        } else if corners.iter().any(|c| c.radius > 0.0 && !c.in_air && !c.is_top) {
            "Rounded corners are measured to where their sides would meet.".to_owned()
        } else {
            String::new()
        };
        notes.push(note);
        if corners.iter().any(|c| c.in_air) {
            notes.push(measure::IN_AIR.to_owned());
        }
        if let Some([(a, c, one), (b, d, two)]) = measure::diagonals(&corners) {
            notes.push(format!("check: {a} to {c} is {}, {b} to {d} is {}", self.bare(one), self.bare(two)));
        }
        groups.extend(notes.iter().map(|note| Row::paragraph(note, 0.0, COLUMN, false)));
        Block { heading, groups }
    }

    fn edges_block(&self) -> Block {
        let stops = (14.0, 44.0);
        let mut heading = vec![heading("Edges")];
        heading.push(Row::cells(&[
            start("between", 0.0, 14.0, false),
            start("faces", stops.0, 14.0, false),
            end("length", stops.1, 16.0, false),
            start("finish", stops.1 + 2.5, COLUMN - stops.1 - 2.5, false),
        ]));
        let all = edges(self.cut.piece);
        let mut groups: Vec<Vec<Row>> = all
            .iter()
            .map(|e| {
                let side = &e.side;
                let finished = side.finish.is_finished();
                let mut rows = Row::wrapped(&[
                    start(&e.between(), 0.0, 14.0, true),
                    start(e.faces, stops.0, stops.1 - stops.0 - 12.0, false),
                    end(&self.bare(side.length), stops.1, 12.0, false),
                    start(side.finish.name(), stops.1 + 2.5, COLUMN - stops.1 - 2.5, finished),
                ]);
                if let Some(course) = e.course(|v| self.bare(v)) {
                    rows.extend(Row::paragraph(&course, stops.0, COLUMN, false));
                }
                rows
            })
            .collect();
        if all.iter().any(|e| e.side.corners.is_some() && e.side.curve.is_some()) {
            groups.push(Row::paragraph("A curved side is measured along its curve.", 0.0, COLUMN, false));
        }
        Block { heading, groups }
    }

    fn openings_block(&self) -> Option<Block> {
        if self.cut.piece.openings.is_empty() {
            return None;
        }
        let groups = self
            .cut
            .piece
            .openings
            .iter()
            .zip(&self.sheets)
            .enumerate()
            .map(|(i, (o, sheet))| {
                let e = o.shape.extent();
                let mut lines = vec![(format!("{} {}: {}", letters(i), o.name, o.kind.name()), true)];
                lines.push((self.size_of(o), false));
                let [x, y] = <[f64; 2]>::from(e.centre()).map(|v| self.bare(v));
                lines.push((format!("centre {x} from the left end, {y} from the front"), false));
                if !super::is_circle(&o.shape) {
                    let [l, r, f, b] = [e.min.x, e.max.x, e.min.y, e.max.y].map(|v| self.bare(v));
                    lines.push((format!("from the left end {l} to {r}"), false));
                    lines.push((format!("from the front {f} to {b}"), false));
                }
                match sheet {
                    Some(s) => {
                        for rail in s.rails.iter().filter(|r| r.least <= WIDE) {
                            lines.push((format!("{} {}", rail_words(&rail.side), self.bare(rail.least)), false));
                        }
                        lines.push((verdict(s.verdict).to_owned(), s.verdict != Verdict::Fine));
                        lines.extend(Held::of(s).map(|h| (held::capital(&held::reasons(&h)), false)));
                        for flaw in s.flaws.iter().filter(|f| f.in_drop) {
                            let words =
                                format!("{} in the drop: take the drop out before the piece is moved", flaw.flaw);
                            lines.push((words, true));
                        }
                    }
                    None => lines.push(("no sheet of this opening: not worked out".to_owned(), true)),
                }
                let mut rows = paragraphs(&lines);
                if let Some(last) = rows.last_mut() {
                    last.height += 0.8;
                }
                rows
            })
            .collect();
        Some(Block { heading: vec![heading("Openings")], groups: parted(groups) })
    }

    /// Its size with the radii of its corners.
    fn size_of(&self, o: &Opening) -> String {
        let e = o.shape.extent();
        let (w, h) = (self.bare(e.width()), self.bare(e.height()));
        if matches!(o.shape, Shape::Ellipse { .. }) {
            let same = (e.width() - e.height()).abs() < 0.05;
            return if same { format!("diameter {w}") } else { format!("ellipse {w} × {h}") };
        }
        let mut radii: Vec<String> = Vec::new();
        for c in o.inside_corners() {
            let r = self.bare(c.radius);
            if !radii.contains(&r) {
                radii.push(r);
            }
        }
        match radii.len() {
            0 => format!("{w} × {h}"),
            1 => format!("{w} × {h}, corners R {}", radii[0]),
            n if n <= 4 => format!("{w} × {h}, corners R {}", radii.join(", ")),
            _ => format!("{w} × {h}, outline and corners: see the template"),
        }
    }

    fn rods_block(&self) -> Option<Block> {
        let rods: Vec<_> = self.sheets.iter().flatten().flat_map(|s| &s.rods).collect();
        if rods.is_empty() {
            return None;
        }
        let groups = rods
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let [x, y, u, v] = [r.from[0], r.from[1], r.to[0], r.to[1]].map(|n| self.bare(n));
                let ends = if y == v {
                    format!("from the left end {x} to {u}, {y} from the front")
                } else if x == u {
                    format!("from the front {y} to {v}, {x} from the left end")
                } else {
                    format!("from {x} | {y} to {u} | {v} (left end | front)")
                };
                let rod = self.shown.length(r.diameter);
                let [w, d] = [r.groove_width, r.groove_depth].map(|n| self.shown.length(n));
                let lines = [
                    (format!("R{} {}: rod {rod}", i + 1, rail_words(&r.side)), true),
                    (ends, false),
                    (format!("groove in the back {w} wide, {d} deep"), false),
                ];
                paragraphs(&lines)
            })
            .collect();
        Some(Block { heading: vec![heading("Rods")], groups })
    }

    /// Hidden strips and grain.
    fn rest_block(&self) -> Option<Block> {
        let (piece, h) = (self.cut.piece, &self.cut.piece.hidden);
        let mut lines = Vec::new();
        let strips = [("front", h.front), ("right", h.right), ("back", h.back), ("left", h.left)];
        let strips: Vec<String> =
            strips.iter().filter(|s| s.1 > 0.0).map(|(side, w)| format!("{side} {}", self.bare(*w))).collect();
        if !strips.is_empty() {
            lines.push((format!("hidden strips (hatched): {}", strips.join(", ")), false));
        }
        let tolerance = Decimal(piece.grain_tolerance, 1);
        match piece.grain {
            GrainWish::Any => lines.push(("grain: any way".to_owned(), false)),
            GrainWish::Towards(angle) => {
                let one_way = if piece.one_way { ", not to be turned end for end" } else { "" };
                let words =
                    format!("grain wished {}° from the front edge, within {tolerance}°{one_way}", Decimal(angle, 1));
                lines.push((words, false));
            }
        }
        match self.cut.slab.grain {
            Some(g) => {
                // Without a direction, half a turn is the same.
                let period = if piece.one_way { 360.0 } else { 180.0 };
                let own = (g - self.cut.placed.turn).rem_euclid(period);
                // To the nearer side, so that a little off reads as little.
                let own = Decimal(if own > period / 2.0 { own - period } else { own }, 1);
                lines.push((format!("grain of the slab on the piece: {own}° from the front edge (arrow)"), false));
            }
            None => lines.push(("the slab has no grain".to_owned(), false)),
        }
        lines.push(("dots: finished edge; heavy bar with ticks: front edge".to_owned(), false));
        Some(self.block("Grain and signs", lines))
    }

    fn cautions_block(&self) -> Option<Block> {
        let cautions = &self.cut.burden?.cautions;
        let lines: Vec<(String, bool)> = cautions.iter().map(|c| (c.clone(), false)).collect();
        (!lines.is_empty()).then(|| self.block("Carrying", lines))
    }

    /// A heading with lines under it, each bold or not.
    fn block(&self, words: &str, lines: Vec<(String, bool)>) -> Block {
        let groups = lines.iter().map(|l| paragraphs(std::slice::from_ref(l))).collect();
        Block { heading: vec![heading(words)], groups }
    }
}

fn heading(words: &str) -> Row {
    let cell = flow::Cell { content: words, x: 0.0, anchor: Anchor::Start, room: COLUMN, bold: true };
    let mut row = Row::sized(&[cell], 3.0, 4.4);
    let rule = vec![pt(0.0, -4.1), pt(COLUMN, -4.1)];
    row.items.push(Item::line(Layer::Margin, rule, Stroke::solid(Colour::BLACK, 0.25)));
    row
}

fn paragraphs(lines: &[(String, bool)]) -> Vec<Row> {
    lines.iter().flat_map(|(words, bold)| Row::paragraph(words, 0.0, COLUMN, *bold)).collect()
}

fn parted(groups: Vec<Vec<Row>>) -> Vec<Vec<Row>> {
    let mut out = Vec::new();
    for mut rows in groups {
        while rows.len() > MOST_ROWS {
            let rest = rows.split_off(MOST_ROWS);
            out.push(std::mem::replace(&mut rows, rest));
        }
        out.push(rows);
    }
    out
}

/// How a piece with openings is carried, worst last.
const fn carried(verdict: CarryVerdict) -> (u8, &'static str) {
    match verdict {
        CarryVerdict::Cut => (0, "its openings cut, it may be carried flat"),
        CarryVerdict::OnEdge => (1, "its openings cut, never carry it flat"),
        CarryVerdict::Score => (2, "SCORE in the shop, cut through on site"),
        CarryVerdict::Stop => (3, "STOP: it does not survive being carried with this opening"),
    }
}

const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fine => "cut it in the shop",
        Verdict::Rods => "RODS: glue rods in first, then cut it in the shop",
        Verdict::Score => "SCORE: score it in the shop, finish it on site",
        Verdict::Stop => "STOP: do not cut it as drawn",
    }
}
