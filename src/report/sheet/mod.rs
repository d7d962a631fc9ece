//! Builds the sheet of one slab. In: question, plan, which layout, settings. Out: a [`Scene`]. Takes every decision of the
//! drawing: scale, what is marked where, what goes into the margin. Knows no file format.
//!
//! The sheet is made so that a sawyer can chalk the pieces onto the stone with tape and square: positions are measured
//! from two lines (see the `datum` module) to two marked corners of every piece.

mod chalk;
mod drawing;
mod flaws;
mod held;
mod margin;
mod marks;
mod offcuts;
pub(super) mod screen;

pub(super) use chalk::{Chalk, Desk, chalk};
pub(super) use drawing::{front_bar, inset_runs, rectangle_corners};
pub(super) use flaws::{flaw_area, flaw_line, flaw_spot};
pub(super) use margin::{end, start};
pub(super) use marks::ticked;

use super::datum::Datum;
use super::flow::Block;
use super::measure::{InDrop, Part};
use super::placer::{Placer, Words};
use super::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use super::told::{Told, together};
use super::{Backdrop, Paper, Settings};
use super::{flow, measure, text};
use crate::geom::{BBox, Point, Region, Ring, pt};
use crate::model::{Finding, Grade, Layout, Plan, PlanNumber, Question, Slab};

/// Scales that a sheet may have; coarser ones follow by doubling the last, for slabs that no paper holds at 1:50.
const SCALES: [f64; 17] =
    [5.0, 6.0, 7.5, 8.0, 10.0, 12.0, 12.5, 15.0, 16.0, 18.0, 20.0, 22.5, 25.0, 30.0, 35.0, 40.0, 50.0];
/// Distance of everything from the paper's edge, mm: printers leave 5 mm or a little more blank.
const MARGIN: f64 = 7.0;
/// Height of the title block, mm.
const TITLE: f64 = 26.0;
/// Room for the ends of the measuring lines to the left of the slab and below it, mm.
const PAD: f64 = 5.0;
/// Room for their other ends, which bear their letters, mm.
const PAD_LETTER: f64 = 8.0;
/// Distance between columns, mm.
const GUTTER: f64 = 2.0;

const CAUTION: &str = "Silica dust: cut wet, wear respiratory protection. Check all measurements before cutting. \
                       This is a planning aid: follow local codes.";

const OUTLINE: Stroke = Stroke::solid(Colour::BLACK, 0.7);
const PIECE: Stroke = Stroke::solid(Colour::BLACK, 0.4);
const OPENING: Stroke = Stroke::solid(Colour::BLACK, 0.3);
const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);
/// What strikes out an opening that must not be cut as drawn.
const STRUCK: Stroke = Stroke::solid(Colour::VERMILLION, 0.6);
const TRIM: Stroke = Stroke::dashed(Colour::GREY, 0.2, &[2.0, 1.2]);
const CENTRE: Stroke = Stroke::dashed(Colour::BLACK, 0.15, &[3.0, 0.7, 0.6, 0.7]);
const DATUM: Stroke = Stroke::dashed(Colour::BLACK, 0.2, &[5.0, 0.8, 0.8, 0.8]);
const FINISHED: Stroke = Stroke::dashed(Colour::BLACK, 0.55, &[0.0, 1.3]);
const GRAIN: Stroke = Stroke::solid(Colour::LIGHT, 0.13);
const OFFCUT: Stroke = Stroke::solid(Colour::LIGHT, 0.13);
const RECTANGLE: Stroke = Stroke::dashed(Colour::BLACK, 0.25, &[1.2, 0.8]);

/// The sheet of layout `index` (from 0) of the plan.
#[must_use]
pub fn scene(question: &Question, plan: &Plan, index: usize, settings: &Settings) -> Scene {
    scene_on(question, plan, index, settings, None)
}

/// The sheet of layout `index` (from 0) of the plan, on a photograph of its slab if there is one.
#[must_use]
pub fn scene_on(
    question: &Question,
    plan: &Plan,
    index: usize,
    settings: &Settings,
    backdrop: Option<&Backdrop>,
) -> Scene {
    numbered_scene(question, plan, index, settings, backdrop, None)
}

/// The same with the number of the plan in its title.
#[must_use]
pub fn numbered_scene(
    question: &Question,
    plan: &Plan,
    index: usize,
    settings: &Settings,
    backdrop: Option<&Backdrop>,
    number: Option<PlanNumber>,
) -> Scene {
    let Some(layout) = plan.layouts.get(index) else {
        return notice(
            settings.paper,
            &format!("The plan has {} layouts; there is no layout {}.", plan.layouts.len(), index + 1),
        );
    };
    let Some(slab) = measure::slab(question, layout) else {
        return notice(settings.paper, &format!("The rack has no slab \"{}\".", layout.slab));
    };
    let mut sheet = Sheet::new(question, plan, index, layout, slab, settings);
    sheet.backdrop = backdrop;
    sheet.number = number;
    sheet.build()
}

/// A sheet that says why there is no drawing.
fn notice(paper: Paper, message: &str) -> Scene {
    let (w, h) = paper.size();
    let items = text::wrap(message, 4.0, true, w - 4.0 * MARGIN)
        .iter()
        .enumerate()
        .map(|(i, line)| {
            let at = pt(2.0 * MARGIN, h - 3.0 * MARGIN - 5.0 * i as f64);
            Item::text(Layer::Margin, Text::new(line, at, Anchor::Start, 4.0).bold())
        })
        .filter(|i| i.bbox().min.y > MARGIN)
        .collect();
    Scene {
        title: text::clean(message),
        paper: (w, h),
        scale: 1.0,
        origin: pt(0.0, 0.0),
        items,
        left_out: 0,
        rows_left_out: 0,
    }
}

/// A finding that belongs onto this sheet, or several that differ only in the copy of a piece, with their places as far as
/// they have some (slab frame).
struct Remark<'a> {
    told: Told<'a>,
    at: Vec<Point>,
}

struct Sheet<'a> {
    question: &'a Question,
    plan: &'a Plan,
    index: usize,
    slab: &'a Slab,
    layout: &'a Layout,
    settings: &'a Settings,
    /// The photograph of the slab. Where there is one, nothing hides it: areas are drawn without filling.
    backdrop: Option<&'a Backdrop>,
    /// The number of the plan, for the title.
    number: Option<PlanNumber>,
    parts: Vec<Part<'a>>,
    missing: Vec<String>,
    remarks: Vec<Remark<'a>>,
    /// Flaws that fall out with openings of these parts.
    in_drops: Vec<InDrop>,
    /// Width of the tables, mm, and where the number cells of the chalk table end.
    column: f64,
    stops: [f64; 5],
    /// Where its second corner's letter stands.
    second: f64,
    datum: Datum,
    /// What the drawing shows of the slab frame.
    extent: BBox,
    scale: f64,
    origin: Point,
    items: Vec<Item>,
    placer: Placer,
    left_out: usize,
    /// Openings on the paper.
    holes: Vec<Ring>,
    /// Numbers of rails that have no room yet: of which piece, whether it is a copy, for which place, what.
    rails: Vec<(usize, bool, Point, Words)>,
}

impl<'a> Sheet<'a> {
    fn new(
        question: &'a Question,
        plan: &'a Plan,
        index: usize,
        layout: &'a Layout,
        slab: &'a Slab,
        settings: &'a Settings,
    ) -> Self {
        let (mut parts, mut missing) = measure::parts(question, layout);
        let stone = slab.outline.bbox();
        // A piece that lies off the slab by more than a tenth of it would shrink the drawing to nothing.
        let slack = 0.1 * stone.width().max(stone.height());
        parts.retain(|part| {
            let b = part.outline.bbox();
            let near =
                stone.join(b).width() <= stone.width() + slack && stone.join(b).height() <= stone.height() + slack;
            if !near {
                missing.push(format!("{}: not drawn, it lies off the slab", part.placed.piece));
            }
            near
        });
        let datum = Datum::of(&slab.outline);
        // The measuring lines may run outside the slab's box.
        let [right, high] = datum.reach;
        let lines = [datum.origin, datum.point(right, 0.0), datum.point(0.0, high)];
        let extent = parts.iter().fold(stone.join(BBox::of(&lines)), |b, p| b.join(p.outline.bbox()));
        let remarks = remarks(plan, layout, &parts, &extent);
        let in_drops = measure::flaws_in_drops(slab, &parts);
        let mut sheet = Self {
            question,
            plan,
            index,
            slab,
            layout,
            settings,
            backdrop: None,
            number: None,
            parts,
            missing,
            remarks,
            in_drops,
            column: 0.0,
            stops: [0.0; 5],
            second: 0.0,
            datum,
            extent,
            scale: 1.0,
            origin: pt(0.0, 0.0),
            items: Vec::new(),
            placer: Placer::new(BBox::EMPTY),
            left_out: 0,
            holes: Vec::new(),
            rails: Vec::new(),
        };
        sheet.set_columns();
        sheet
    }

    fn build(mut self) -> Scene {
        let paper = self.settings.paper.size();
        let frame = BBox { min: pt(MARGIN, MARGIN), max: pt(paper.0 - MARGIN, paper.1 - MARGIN) };
        let blocks = self.blocks();
        let (plan, flowed) = self.fit(&frame, &blocks);
        self.scale = plan.scale;
        self.origin = plan.corner - self.extent.min * (1.0 / plan.scale);
        self.placer = Placer::new(plan.drawing);
        self.draw();
        let rows_left_out = flowed.left_out;
        self.items.extend(flowed.items);
        self.title_block(&frame, rows_left_out);
        self.items.sort_by_key(|i| i.layer);
        let title = format!("{}, slab {}", self.plan.jobs.join(", "), self.slab.name);
        Scene {
            title: text::clean(&title),
            paper,
            scale: self.scale,
            origin: self.origin,
            items: self.items,
            left_out: self.left_out,
            rows_left_out,
        }
    }

    /// The largest scale at which drawing and margin fit; if none holds the whole margin, the one that holds most of it.
    fn fit(&self, frame: &BBox, blocks: &[Block]) -> (Fitted, flow::Flowed) {
        let column = self.column;
        let mut best: Option<(Fitted, flow::Flowed)> = None;
        let mut coarser = SCALES[SCALES.len() - 1];
        let mut scales = SCALES.to_vec();
        // The kernel's coordinates end at 1 km, so a dozen doublings suffice.
        for _ in 0..16 {
            coarser *= 2.0;
            scales.push(coarser);
        }
        let pads = PAD + PAD_LETTER;
        for &scale in &scales {
            let (w, h) = (self.extent.width() / scale + pads, self.extent.height() / scale + pads);
            let room = frame.height() - TITLE - 2.0;
            if w > frame.width() || h > room {
                continue;
            }
            let right = ((frame.width() - w) / (column + GUTTER)).floor();
            let left_width = frame.width() - right * (column + GUTTER);
            let below = ((left_width + GUTTER) / (column + GUTTER)).floor();
            let floor = frame.min.y + TITLE + 2.0;
            let mut columns = Vec::new();
            for i in 0..right as usize {
                let x = frame.min.x + left_width + GUTTER + i as f64 * (column + GUTTER);
                columns.push(BBox { min: pt(x, floor), max: pt(x + column, frame.max.y) });
            }
            for i in 0..below as usize {
                let x = frame.min.x + i as f64 * (column + GUTTER);
                columns.push(BBox { min: pt(x, floor), max: pt(x + column, frame.max.y - h - 1.0) });
            }
            let drawing =
                BBox { min: pt(frame.min.x, frame.max.y - h), max: pt(frame.min.x + left_width, frame.max.y) };
            let spare = (left_width - w) / 2.0;
            let corner = pt(frame.min.x + spare + PAD, frame.max.y - h + PAD);
            let flowed = flow::flow(blocks, &columns);
            let all = flowed.left_out == 0;
            if best.as_ref().is_none_or(|b| flowed.left_out < b.1.left_out) {
                best = Some((Fitted { scale, corner, drawing }, flowed));
            }
            let last_chance = scale >= SCALES[SCALES.len() - 1];
            if all || last_chance {
                break;
            }
        }
        best.unwrap_or_else(|| {
            let drawing = BBox { min: frame.min + pt(0.0, TITLE + 2.0), max: frame.max };
            (Fitted { scale: coarser, corner: drawing.min, drawing }, flow::Flowed::default())
        })
    }

    fn paper(&self, p: Point) -> Point {
        self.origin + p * (1.0 / self.scale)
    }

    fn paper_ring(&self, ring: &Ring) -> Ring {
        let (o, k) = (self.origin, 1.0 / self.scale);
        ring.map(|p| o + p * k)
    }

    fn paper_region(&self, region: &Region) -> Region {
        let mut out = region.clone();
        for polygon in &mut out.polygons {
            polygon.outer = self.paper_ring(&polygon.outer);
            for hole in &mut polygon.holes {
                *hole = self.paper_ring(hole);
            }
        }
        out
    }

    /// The filling of an area, where it would not hide a photograph.
    fn filling(&self, colour: Colour) -> Option<Colour> {
        self.backdrop.is_none().then_some(colour)
    }

    fn bare(&self, mm: f64) -> String {
        self.settings.shown.bare_length(mm)
    }

    fn sizes(&self, w: f64, h: f64) -> String {
        format!("{} × {}", self.bare(w), self.bare(h))
    }
}

struct Fitted {
    scale: f64,
    /// Where the lower left corner of the extent goes.
    corner: Point,
    /// The room for the drawing.
    drawing: BBox,
}

/// Broken rules and warnings that bear on this slab or on a piece on it, worst first.
fn remarks<'a>(plan: &'a Plan, layout: &Layout, parts: &[Part<'_>], extent: &BBox) -> Vec<Remark<'a>> {
    let part_of = |finding: &Finding| {
        let (name, job) = (finding.piece.as_ref()?, finding.job.as_ref());
        parts.iter().find(|p| p.placed.piece == *name && job.is_none_or(|j| *j == p.placed.job))
    };
    let place = |finding: &Finding| {
        let at = Point::from(finding.at?);
        let at = match (&finding.slab, part_of(finding)) {
            (Some(_), _) => at,
            (None, Some(part)) => part.pose.apply(at),
            (None, None) => return None,
        };
        (at.is_finite() && BBox::EMPTY.with(at).near(extent, 0.0)).then_some(at)
    };
    let here = plan.findings.iter().filter(|f| {
        let here = f.slab.as_ref().map_or_else(|| part_of(f).is_some(), |slab| *slab == layout.slab);
        f.grade != Grade::Note && here
    });
    let mut out: Vec<Remark<'a>> = together(here)
        .into_iter()
        .map(|told| Remark { at: told.findings.iter().filter_map(|f| place(f)).collect(), told })
        .collect();
    out.sort_by_key(|r| r.told.grade());
    out
}

/// A name that keeps its end when it is shortened: copies and like pieces differ in a number there.
pub(super) fn short_name(name: &str, size: f64, bold: bool, room: f64) -> String {
    let name = text::clean(name);
    if text::width(&name, size, bold) <= room {
        return name;
    }
    if let Some((head, last)) = name.rsplit_once(' ')
        && last.chars().count() <= 6
    {
        let tail = format!(" {last}");
        let left = room - text::width(&tail, size, bold);
        if left > 4.0 * size {
            return text::shorten(head, size, bold, left) + &tail;
        }
    }
    text::shorten(&name, size, bold, room)
}
