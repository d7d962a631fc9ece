//! The drawing of a slab without its sheet, for a page that has its own tables: only what is drawn, in layers that can be
//! switched off without leaving words behind, with the zones of the pieces and what tools do to their openings.

use super::super::hatch;
use super::super::measure::{self, InDrop, Part};
use super::super::placer::Placer;
use super::super::scene::{Colour, Item, Layer, Scene, Stroke};
use super::super::told::Told;
use super::super::{Settings, text};
use super::{PAD, PAD_LETTER, Sheet};
use crate::geom::{BBox, Point, Pose, Region, Ring, boolean, pt, sum};
use crate::model::openings::{OpeningSheet, Openings, Verdict};
use crate::model::{Limits, Piece, Plan, Question, Slab, Zone};

/// Largest width and height of a drawing, mm. The type keeps its size, so that larger means smaller type on a screen, and
/// less words that fit when smaller.
const ROOM: (f64, f64) = (200.0, 130.0);
/// How far a rounded border of a zone may lie from the true one, mm of stone: half a tenth of a millimetre on the drawing.
const EXCESS: f64 = 0.5;

const RAIL: Stroke = Stroke::solid(Colour::VERMILLION, 0.16);
const EDGE: Stroke = Stroke::dashed(Colour::BLUE, 0.4, &[0.0, 1.1]);
const HIDDEN: Stroke = Stroke::solid(Colour::GREY, 0.16);
const BORDER: Stroke = Stroke::solid(Colour::GREY, 0.12);
const CORE: Stroke = Stroke::solid(Colour::BLUE, 0.25);
const FACE: Stroke = Stroke::solid(Colour::BLUE, 0.15);
const FULL: Stroke = Stroke::solid(Colour::BLUE, 0.5);
const ROD: Stroke = Stroke::dashed(Colour::VERMILLION, 0.6, &[2.2, 0.7]);

/// A slab as it is drawn on a page.
pub(in crate::report) struct Drawing<'a> {
    /// What is drawn; its paper is as large as it needs.
    pub(in crate::report) scene: Scene,
    /// What its marks mean: icon (12 mm wide, from y = 0 down to -3.3) and words.
    pub(in crate::report) key: Vec<(Vec<Item>, String)>,
    /// The slab.
    pub(in crate::report) slab: &'a Slab,
    /// The pieces that are drawn.
    pub(in crate::report) parts: Vec<Part<'a>>,
    /// For each of them where to chalk it: P from B and A, Q from B and A, turn.
    pub(in crate::report) chalk: Vec<[String; 5]>,
    /// In words, what could not be drawn.
    pub(in crate::report) missing: Vec<String>,
    /// Broken rules and warnings that are marked on it as !1, !2, ...
    pub(in crate::report) remarks: Vec<Told<'a>>,
    /// Flaws that fall out with openings.
    pub(in crate::report) in_drops: Vec<InDrop>,
    /// Offcuts: size of their rectangle and the ends of its lower side from B and A, mm.
    pub(in crate::report) offcuts: Vec<([f64; 2], [[f64; 2]; 2])>,
}

/// The drawing of layout `index` (from 0); `None` if there is no such layout, or the rack has not its slab.
pub(in crate::report) fn drawing<'a>(
    question: &'a Question,
    plan: &'a Plan,
    index: usize,
    openings: &Openings,
    settings: &'a Settings,
    backdrop: Option<&'a crate::report::Backdrop>,
) -> Option<Drawing<'a>> {
    let layout = plan.layouts.get(index)?;
    let slab = measure::slab(question, layout)?;
    let mut sheet = Sheet::new(question, plan, index, layout, slab, settings);
    sheet.backdrop = backdrop;
    let pads = PAD + PAD_LETTER;
    let extent = sheet.extent;
    sheet.scale = (extent.width() / (ROOM.0 - pads)).max(extent.height() / (ROOM.1 - pads)).max(1.0);
    sheet.origin = pt(PAD, PAD) - extent.min * (1.0 / sheet.scale);
    let paper = (extent.width() / sheet.scale + pads, extent.height() / sheet.scale + pads);
    sheet.placer = Placer::new(BBox { min: pt(0.0, 0.0), max: pt(paper.0, paper.1) });
    sheet.draw_in_layers();
    sheet.draw_zones();
    sheet.draw_tools(openings);
    sheet.items.sort_by_key(|i| i.layer);
    let chalk = sheet.parts.iter().map(|p| sheet.chalk_numbers(p)).collect();
    let mut key = sheet.key(false);
    key.extend(sheet.more_key());
    let offcuts = layout
        .offcuts
        .iter()
        .filter_map(|o| {
            let corners = super::drawing::rectangle_corners(&o.rectangle)?;
            Some((o.rectangle.size, [corners[0], corners[1]].map(|p| sheet.datum.measure(p))))
        })
        .collect();
    let scene = Scene {
        title: text::clean(&slab.name),
        paper,
        scale: sheet.scale,
        origin: sheet.origin,
        items: sheet.items,
        left_out: sheet.left_out,
        rows_left_out: 0,
    };
    let remarks = sheet.remarks.into_iter().map(|r| r.told).collect();
    Some(Drawing {
        scene,
        key,
        slab,
        parts: sheet.parts,
        chalk,
        missing: sheet.missing,
        remarks,
        in_drops: sheet.in_drops,
        offcuts,
    })
}

impl Sheet<'_> {
    /// Draws as for a sheet, but puts words and leaders on the layer of what they tell.
    fn draw_in_layers(&mut self) {
        self.draw_slab();
        self.draw_offcuts();
        self.draw_pieces();
        self.draw_grain();
        self.draw_flaws();
        self.on(Layer::Datum, Self::draw_datum);
        self.on(Layer::Finding, Self::mark_findings);
        self.on(Layer::Datum, Self::mark_corners);
        self.on(Layer::Dimension, Self::mark_rails);
        self.on(Layer::Mark, Self::mark_numbers);
        self.on(Layer::Label, Self::mark_openings);
        self.on(Layer::Dimension, Self::number_rails);
        self.on(Layer::Offcut, Self::name_offcuts);
        self.on(Layer::Label, Self::name_pieces);
        self.on(Layer::Dimension, Self::short_dimensions);
        self.on(Layer::Edge, Self::word_fronts);
        self.on(Layer::Datum, Self::letter_corners);
    }

    /// Does a step of the drawing, all of it on one layer.
    fn on(&mut self, layer: Layer, step: fn(&mut Self)) {
        let before = self.items.len();
        step(self);
        for item in self.items.iter_mut().skip(before) {
            item.layer = layer;
        }
    }

    fn draw_zones(&mut self) {
        let mut new = Vec::new();
        for part in &self.parts {
            for (zone, region) in zones(part.piece, &self.question.shop.limits) {
                let region = self.paper_region(&part.pose.region(&region));
                new.extend(zone_items(zone, &region).into_iter().map(|i| i.of_piece(part.number)));
            }
        }
        self.items.extend(new);
    }

    fn draw_tools(&mut self, openings: &Openings) {
        let mut new = Vec::new();
        for part in &self.parts {
            let of_part = openings.openings.iter().filter(|s| s.job == part.placed.job && s.piece == part.placed.piece);
            // What must not be cut as drawn has no cuts and no rods.
            for sheet in of_part.filter(|s| s.verdict != Verdict::Stop) {
                new.extend(self.tool_items(sheet, &part.pose).into_iter().map(|i| i.of_piece(part.number)));
            }
        }
        self.items.extend(new);
    }

    fn tool_items(&self, sheet: &OpeningSheet, pose: &Pose) -> Vec<Item> {
        let at = |p: [f64; 2]| self.paper(pose.apply(p.into()));
        let mut out = Vec::new();
        for core in &sheet.cutting.cores {
            let r = core.diameter / 2.0 / self.scale;
            out.push(Item::disc(Layer::Tool, at(core.centre), r, Some(CORE), None));
        }
        for row in &sheet.cutting.rows {
            let cuts: Vec<Vec<Point>> = row.cuts.iter().map(|c| c.iter().map(|&p| at(p)).collect()).collect();
            if !cuts.is_empty() {
                out.push(Item::lines(Layer::Tool, cuts, FACE));
            }
        }
        // An opening that is scored only is cut along other lines, from the back.
        let passes = match (&sheet.cutting.score, sheet.verdict) {
            (Some(score), Verdict::Score) if !score.passes.is_empty() => &score.passes,
            _ => &sheet.cutting.passes,
        };
        for pass in passes {
            out.push(Item::line(Layer::Tool, vec![at(pass.from), at(pass.to)], FACE));
            if let (Some(from), Some(to)) = (pass.full_depth_from, pass.full_depth_to) {
                out.push(Item::line(Layer::Tool, vec![at(from), at(to)], FULL));
            }
        }
        out.extend(sheet.rods.iter().map(|rod| Item::line(Layer::Rod, vec![at(rod.from), at(rod.to)], ROD)));
        out
    }

    /// What the layers mean that a sheet on paper does not have.
    fn more_key(&self) -> Vec<(Vec<Item>, String)> {
        let shown = self.settings.shown;
        let limits = &self.question.shop.limits;
        let b = Ring::rectangle(BBox { min: pt(0.5, -2.9), max: pt(10.0, -0.2) }).to_region();
        let y = -1.55;
        let line = |stroke: Stroke| Item::line(Layer::Margin, vec![pt(0.5, y), pt(10.0, y)], stroke);
        let has = |layer: Layer| self.items.iter().any(|i| i.layer == layer);
        let mut out = Vec::new();
        if has(Layer::Zone) {
            let words = [
                (Zone::Rail, format!("rail zone, {} round openings", shown.length(limits.rail_zone))),
                (Zone::Edge, format!("edge zone, {} along finished edges", shown.length(limits.edge_zone))),
                (Zone::Hidden, "hidden zone: nobody will see it".to_owned()),
            ];
            out.extend(words.map(|(zone, words)| (zone_items(zone, &b), words)));
        }
        if has(Layer::Tool) {
            out.push((vec![Item::disc(Layer::Tool, pt(5.0, y), 1.3, Some(CORE), None)], "core".to_owned()));
            let full = Item::line(Layer::Tool, vec![pt(2.5, y), pt(8.0, y)], FULL);
            out.push((vec![line(FACE), full], "saw pass, thick where it is at full depth".to_owned()));
        }
        if has(Layer::Rod) {
            out.push((vec![line(ROD)], "rod in the back".to_owned()));
        }
        out
    }
}

fn zone_items(zone: Zone, region: &Region) -> Vec<Item> {
    let (lines, stroke) = match zone {
        Zone::Rail => (hatch::lines(region, 45.0, 2.2), RAIL),
        Zone::Edge => (hatch::lines(region, 0.0, 1.1), EDGE),
        Zone::Hidden => (hatch::lines(region, 0.0, 0.7), HIDDEN),
        Zone::Field | Zone::Drop => return Vec::new(),
    };
    let mut out: Vec<Item> =
        region.rings().map(|r| Item::area(Layer::Zone, r.points().to_vec(), Some(BORDER), None)).collect();
    if !lines.is_empty() {
        out.push(Item::lines(Layer::Zone, lines, stroke));
    }
    out
}

/// The zones of a piece in which a flaw is judged more strictly than in the field, piece frame: a point of the stone is rail
/// if it is within the rail reach of an opening, else edge if within the edge zone of a finished edge, else hidden if within
/// a hidden strip. For drawings: rounded borders are [`EXCESS`] off at most. Those that are empty are left out.
pub(in crate::report) fn zones(piece: &Piece, limits: &Limits) -> Vec<(Zone, Region)> {
    let outline = piece.outline.ring.to_region();
    let holes: Vec<Region> = piece.openings.iter().map(|o| o.ring.to_region()).collect();
    let mut rest = boolean::difference(&outline, &boolean::union_all(&holes));
    let rail: Vec<Region> = piece
        .openings
        .iter()
        .zip(&holes)
        .map(|(o, hole)| sum::grown(hole, limits.rail_reach(o.kind), EXCESS))
        .collect();
    let edge: Vec<Region> =
        piece.outline.finished_edges().map(|(a, b)| sum::grown_line(&[a, b], limits.edge_zone, EXCESS)).collect();
    let all = [(Zone::Rail, rail), (Zone::Edge, edge), (Zone::Hidden, hidden_strips(piece))];
    let mut out = Vec::new();
    for (zone, within) in all {
        let within = boolean::union_all(&within);
        let region = boolean::intersection(&rest, &within);
        rest = boolean::difference(&rest, &within);
        if !region.is_empty() {
            out.push((zone, region));
        }
    }
    out
}

fn hidden_strips(piece: &Piece) -> Vec<Region> {
    let b = piece.outline.shape.extent();
    let h = &piece.hidden;
    [
        (h.front, BBox { min: b.min, max: pt(b.max.x, b.min.y + h.front) }),
        (h.right, BBox { min: pt(b.max.x - h.right, b.min.y), max: b.max }),
        (h.back, BBox { min: pt(b.min.x, b.max.y - h.back), max: b.max }),
        (h.left, BBox { min: b.min, max: pt(b.min.x + h.left, b.max.y) }),
    ]
    .into_iter()
    .filter(|(width, _)| *width > 0.0)
    .map(|(_, strip)| Ring::rectangle(strip).to_region())
    .collect()
}
