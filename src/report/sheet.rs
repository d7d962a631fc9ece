//! Builds the sheet of one slab. In: question, plan, which layout, settings. Out: a [`Scene`]. Takes every decision of the
//! drawing: scale, what is marked where, what goes into the margin. Knows no file format.
//!
//! The sheet is made so that a sawyer can chalk the pieces onto the stone with tape and square: positions are measured
//! from two lines (see the `datum` module) to two marked corners of every piece.

use super::datum::Datum;
use super::flow::{self, Block, Cell, Row};
use super::hatch;
use super::measure::{self, Part};
use super::placer::{self, Placer, Words};
use super::scene::{Anchor, Colour, Item, Layer, Scene, Shape, Stroke, Text};
use super::text::{self, LEAST_SIZE};
use super::{Paper, Settings};
use crate::geom::{BBox, Point, Pose, Region, Ring, distance, pt};
use crate::model::{Finding, Flaw, FlawBody, FlawKind, Grade, Layout, Plan, Question, Rectangle, Slab};
use crate::units::{Decimal, MM_PER_INCH, Shown};

/// Scales that a sheet may have; coarser ones follow by doubling the last, for slabs that no paper holds at 1:50.
const SCALES: [f64; 10] = [5.0, 7.5, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0];
/// Distance of everything from the paper's edge, mm: printers leave 5 mm or a little more blank.
const MARGIN: f64 = 7.0;
/// Height of the title block, mm.
const TITLE: f64 = 26.0;
/// Room for the measuring lines and their letters round the slab, mm.
const PAD: f64 = 8.0;
/// Distance between columns, mm.
const GUTTER: f64 = 2.0;

const CAUTION: &str = "Silica dust: cut wet, wear respiratory protection. Check all measurements before cutting. \
                       This is a planning aid: follow local codes.";

const OUTLINE: Stroke = Stroke::solid(Colour::BLACK, 0.7);
const PIECE: Stroke = Stroke::solid(Colour::BLACK, 0.4);
const OPENING: Stroke = Stroke::solid(Colour::BLACK, 0.3);
const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);
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
    let Some(layout) = plan.layouts.get(index) else {
        return notice(
            settings.paper,
            &format!("The plan has {} layouts; there is no layout {}.", plan.layouts.len(), index + 1),
        );
    };
    let Some(slab) = measure::slab(question, layout) else {
        return notice(settings.paper, &format!("The rack has no slab \"{}\".", layout.slab));
    };
    Sheet::new(question, plan, index, layout, slab, settings).build()
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

/// A finding that belongs onto this sheet, with its place if it has one (slab frame).
struct Remark<'a> {
    finding: &'a Finding,
    at: Option<Point>,
}

struct Sheet<'a> {
    question: &'a Question,
    plan: &'a Plan,
    index: usize,
    slab: &'a Slab,
    layout: &'a Layout,
    settings: &'a Settings,
    parts: Vec<Part<'a>>,
    missing: Vec<String>,
    remarks: Vec<Remark<'a>>,
    datum: Datum,
    /// What the drawing shows of the slab frame.
    extent: BBox,
    scale: f64,
    origin: Point,
    items: Vec<Item>,
    placer: Placer,
    left_out: usize,
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
        let extent = parts.iter().fold(stone, |b, p| b.join(p.outline.bbox()));
        let remarks = remarks(plan, layout, &parts, &extent);
        Self {
            question,
            plan,
            index,
            slab,
            layout,
            settings,
            parts,
            missing,
            remarks,
            datum: Datum::of(&slab.outline),
            extent,
            scale: 1.0,
            origin: pt(0.0, 0.0),
            items: Vec::new(),
            placer: Placer::new(BBox::EMPTY),
            left_out: 0,
            rails: Vec::new(),
        }
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
        let column = self.column();
        let mut best: Option<(Fitted, flow::Flowed)> = None;
        let mut coarser = SCALES[SCALES.len() - 1];
        let mut scales = SCALES.to_vec();
        // The kernel's coordinates end at 1 km, so a dozen doublings suffice.
        for _ in 0..16 {
            coarser *= 2.0;
            scales.push(coarser);
        }
        for &scale in &scales {
            let (w, h) = (self.extent.width() / scale + 2.0 * PAD, self.extent.height() / scale + 2.0 * PAD);
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

    fn column(&self) -> f64 {
        match self.settings.shown {
            Shown::Mm => 61.5,
            Shown::In => 78.0,
        }
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
    let mut out: Vec<Remark<'a>> = Vec::new();
    for finding in plan.findings.iter().filter(|f| f.grade != Grade::Note) {
        let part = finding.piece.as_ref().and_then(|name| {
            let job = finding.job.as_ref();
            parts.iter().find(|p| p.placed.piece == *name && job.is_none_or(|j| *j == p.placed.job))
        });
        let here = match &finding.slab {
            Some(slab) => *slab == layout.slab,
            None => part.is_some(),
        };
        if !here {
            continue;
        }
        let at = finding.at.map(Point::from).filter(|p| p.is_finite());
        let at = match (&finding.slab, part) {
            (Some(_), _) => at,
            (None, Some(part)) => at.map(|p| part.pose.apply(p)),
            (None, None) => None,
        };
        out.push(Remark { finding, at: at.filter(|p| BBox::EMPTY.with(*p).near(extent, 0.0)) });
    }
    out.sort_by_key(|r| r.finding.grade);
    out
}

/// a, b, ... z, aa, ab, ...
fn letters(mut n: usize) -> String {
    let mut out = Vec::new();
    loop {
        out.push(b'a' + (n % 26) as u8);
        if n < 26 {
            break;
        }
        n = n / 26 - 1;
    }
    out.iter().rev().map(|&b| char::from(b)).collect()
}

/// 1 to 5, 8
fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let words = |&(a, b): &(usize, usize)| match b - a {
        0 => a.to_string(),
        1 => format!("{a}, {b}"),
        _ => format!("{a} to {b}"),
    };
    runs.iter().map(words).collect::<Vec<_>>().join(", ")
}

/// A name that keeps the number of its copy when it is shortened.
fn short_name(name: &str, size: f64, bold: bool, room: f64) -> String {
    let name = text::clean(name);
    if text::width(&name, size, bold) <= room {
        return name;
    }
    if let Some((head, copy)) = name.rsplit_once(" #")
        && copy.len() <= 4
    {
        let tail = format!(" #{copy}");
        let left = room - text::width(&tail, size, bold);
        if left > 4.0 * size {
            return text::shorten(head, size, bold, left) + &tail;
        }
    }
    text::shorten(&name, size, bold, room)
}

// ---------------------------------------------------------------------------------------------------------- the drawing

impl Sheet<'_> {
    fn draw(&mut self) {
        self.draw_slab();
        self.draw_offcuts();
        self.draw_pieces();
        self.draw_grain();
        self.draw_flaws();
        self.draw_datum();
        // Marks that must be there come first, words that also stand in the margin last.
        self.mark_findings();
        self.mark_corners();
        self.mark_rails();
        self.mark_numbers();
        self.mark_openings();
        self.number_rails();
        self.name_offcuts();
        self.name_pieces();
        self.short_dimensions();
        self.word_fronts();
        self.letter_corners();
    }

    fn draw_slab(&mut self) {
        let ring = self.paper_ring(&self.slab.outline);
        self.placer.avoid_ring(&ring, 12.0);
        self.items.push(Item::area(Layer::Slab, ring.points().to_vec(), Some(OUTLINE), Some(Colour::PALE)));
        let usable = self.paper_region(&measure::usable(self.question, self.slab));
        for ring in usable.rings() {
            self.placer.avoid_ring(ring, 1.0);
            self.items.push(Item::area(Layer::Trim, ring.points().to_vec(), Some(TRIM), None));
        }
    }

    fn draw_grain(&mut self) {
        let Some(grain) = self.slab.grain.filter(|g| g.is_finite()) else { return };
        let ring = self.paper_ring(&self.slab.outline);
        let lines = hatch::lines(&ring.to_region(), grain, 9.0);
        let forward = Pose::new(grain, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
        let mut paths = Vec::new();
        for line in &lines {
            paths.push(line.clone());
            // An open head in the middle of every line says which way it runs.
            if line[0].distance(line[1]) > 20.0 {
                let tip = line[0].lerp(line[1], 0.5) + forward * 1.2;
                let back = tip - forward * 2.4;
                paths.push(vec![back + forward.left() * 0.9, tip, back - forward.left() * 0.9]);
            }
        }
        if !paths.is_empty() {
            self.items.push(Item::lines(Layer::Grain, paths, GRAIN));
        }
    }

    fn draw_flaws(&mut self) {
        for i in 0..self.slab.flaws.len() {
            let flaw = &self.slab.flaws[i];
            let items = self.flaw_items(flaw);
            for item in &items {
                if let Shape::Lines { paths, closed } = &item.shape {
                    for path in paths {
                        for (a, b) in distance::open_line(path) {
                            self.placer.avoid(a, b, 2.0);
                        }
                        if *closed && path.len() > 2 {
                            self.placer.avoid(path[path.len() - 1], path[0], 2.0);
                        }
                    }
                }
            }
            self.items.extend(items);
        }
    }

    fn flaw_items(&self, flaw: &Flaw) -> Vec<Item> {
        let k = self.scale;
        match &flaw.body {
            FlawBody::Line(line) => {
                let line: Vec<Point> = line.iter().map(|&p| self.paper(p)).collect();
                let mut out = flaw_line(flaw.kind, &line);
                if flaw.radius / k > 0.4 {
                    out.extend(flaw_area(flaw.kind, &self.paper_region(&flaw.grown(0.0, 0.5))));
                }
                out
            }
            FlawBody::Area(ring) => flaw_area(flaw.kind, &self.paper_ring(ring).to_region()),
            FlawBody::Spot(p) => flaw_spot(flaw.kind, self.paper(*p), flaw.radius / k),
        }
    }

    fn draw_offcuts(&mut self) {
        for offcut in &self.layout.offcuts {
            let points: Vec<Point> = offcut.outline.iter().map(|&p| Point::from(p)).collect();
            if let Ok((ring, _)) = Ring::tidy(&points) {
                let ring = self.paper_ring(&ring);
                let hatching = hatch::lines(&ring.to_region(), 135.0, 2.6);
                let edge = Stroke::solid(Colour::GREY, 0.2);
                self.items.push(Item::area(Layer::Offcut, ring.points().to_vec(), Some(edge), Some(Colour::WHITE)));
                if !hatching.is_empty() {
                    self.items.push(Item::lines(Layer::Offcut, hatching, OFFCUT));
                }
            }
            if let Some(corners) = rectangle_corners(&offcut.rectangle) {
                let corners = corners.map(|p| self.paper(p));
                for i in 0..4 {
                    self.placer.avoid(corners[i], corners[(i + 1) % 4], 3.0);
                }
                self.items.push(Item::area(Layer::Offcut, corners.to_vec(), Some(RECTANGLE), None));
            }
        }
    }

    fn draw_pieces(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let (number, pose) = (part.number, part.pose);
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let mut new = vec![
                Item::area(Layer::Piece, ring.points().to_vec(), Some(PIECE), Some(Colour::WHITE)).of_piece(number),
            ];
            for (j, opening) in openings.iter().enumerate() {
                let points = opening.points().to_vec();
                new.push(Item::area(Layer::Opening, points, Some(OPENING), Some(Colour::PALE)).of_piece(number));
                // Centre lines run 2 mm past the opening, along the piece's own axes.
                let extent = part.piece.openings[j].shape.extent();
                let c = extent.centre();
                let past = 2.0 * self.scale;
                let (hx, hy) = (pt(extent.width() / 2.0 + past, 0.0), pt(0.0, extent.height() / 2.0 + past));
                for (a, b) in [(c - hx, c + hx), (c - hy, c + hy)] {
                    let (a, b) = (self.paper(pose.apply(a)), self.paper(pose.apply(b)));
                    self.placer.avoid(a, b, 5.0);
                    new.push(Item::line(Layer::Dimension, vec![a, b], CENTRE).of_piece(number));
                }
            }
            // Finished edges: a row of dots 1.5 mm inside.
            let finished: Vec<bool> =
                (0..part.piece.outline.ring.points().len()).map(|e| part.piece.outline.is_finished(e)).collect();
            for path in inset_runs(&ring, &finished, 1.5) {
                for (a, b) in distance::open_line(&path) {
                    self.placer.avoid(a, b, 3.0);
                }
                new.push(Item::line(Layer::Edge, path, FINISHED).of_piece(number));
            }
            for (a, b) in measure::front(part.piece) {
                let (a, b) = (self.paper(pose.apply(a)), self.paper(pose.apply(b)));
                let along = Pose::new(pose.turn, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
                let (bar, ticks) = front_bar(a, b, along);
                self.placer.avoid(bar[0], bar[1], 8.0);
                new.push(Item::line(Layer::Edge, bar, Stroke::solid(Colour::BLACK, 1.0)).of_piece(number));
                new.push(Item::lines(Layer::Edge, ticks, Stroke::solid(Colour::BLACK, 0.35)).of_piece(number));
            }
            self.placer.avoid_ring(&ring, 30.0);
            for opening in &openings {
                self.placer.avoid_ring(opening, 14.0);
            }
            self.items.extend(new);
        }
    }

    fn draw_datum(&mut self) {
        let d = self.datum;
        let past = 4.0 * self.scale;
        let [right, high] = d.reach;
        let ends = [
            (d.point(-past, 0.0), d.point(right + past, 0.0), "A"),
            (d.point(0.0, -past), d.point(0.0, high + past), "B"),
        ];
        for (a, b, letter) in ends {
            let (a, b) = (self.paper(a), self.paper(b));
            self.items.push(Item::line(Layer::Datum, vec![a, b], DATUM));
            self.placer.take_line(a, b);
            let out = (b - a) * (1.0 / (b - a).norm());
            let middle = b + out * 2.0;
            self.flag(middle, letter);
        }
        let up = d.along.left();
        for (touch, inward) in [(d.touch_a[0], up), (d.touch_a[1], up), (d.touch_b, d.along)] {
            let tip = self.paper(touch);
            let (foot, side) = (tip - inward * 2.2, inward.left() * 1.1);
            self.items.push(Item::area(Layer::Datum, vec![tip, foot + side, foot - side], None, Some(Colour::BLACK)));
        }
    }

    /// A letter in a black box.
    fn flag(&mut self, middle: Point, letter: &str) {
        let b = placer::around(middle, (4.0, 4.0));
        self.items.push(Item::area(Layer::Datum, b.corners().to_vec(), None, Some(Colour::BLACK)));
        let mut t = Text::new(letter, middle - pt(0.0, 1.15), Anchor::Middle, 3.2).bold();
        t.colour = Colour::WHITE;
        self.items.push(Item::text(Layer::Label, t));
        self.placer.take(b);
    }

    fn mark_findings(&mut self) {
        for i in 0..self.remarks.len() {
            let Some(at) = self.remarks[i].at else { continue };
            let at = self.paper(at);
            let stroke = Stroke::solid(Colour::VERMILLION, 0.5);
            self.items.push(Item::disc(Layer::Finding, at, 1.6, Some(stroke), None));
            let words = Words { lines: vec![(format!("!{}", i + 1), 3.4, true)], upright: false };
            self.lead(&words, at, 1.8, Home::Anywhere, ACROSS);
        }
    }

    fn mark_corners(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let (number, pose) = (part.number, part.pose);
            let marks = measure::marks(part.piece, &pose, self.datum.along);
            let turn = Pose::new(pose.turn, pt(0.0, 0.0));
            let at = [marks.p, marks.q].map(|p| self.paper(pose.apply(p)));
            for (k, at) in at.into_iter().enumerate() {
                let fill = Some(if k == 0 { Colour::BLACK } else { Colour::WHITE });
                let line = Some(Stroke::solid(Colour::BLACK, 0.25));
                let item = match marks.sides {
                    Some(sides) => {
                        let [u, v] = sides[k].map(|s| turn.apply(s) * 1.9);
                        Item::area(Layer::Mark, vec![at, at + u, at + v], line, fill)
                    }
                    None => Item::disc(Layer::Mark, at, 0.8, line, fill),
                };
                self.placer.take(item.bbox());
                self.items.push(item.of_piece(number));
            }
        }
    }

    /// The number of every piece in a circle with a beak that points to the piece's back.
    fn mark_numbers(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let back = Pose::new(part.pose.turn, pt(0.0, 0.0)).apply(pt(0.0, 1.0));
            let home = part.piece.stone().centroid().map_or(ring.bbox().centre(), |c| self.paper(part.pose.apply(c)));
            let label = number.to_string();
            let mut done = false;
            for (size, beak) in [(3.4, true), (LEAST_SIZE, true), (LEAST_SIZE, false)] {
                let radius = (text::width(&label, size, true) / 2.0).hypot(size * 0.4) + 0.35;
                let badge = Badge { label: &label, size, radius, back, beak };
                let (wh, shift) = badge.room();
                let candidates: Vec<(Point, f64)> = placer::grid(&ring.bbox(), wh, home)
                    .into_iter()
                    .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, wh), &ring))
                    .map(|(m, c)| (m, c + if openings.iter().any(|o| o.contains(m)) { 25.0 } else { 0.0 }))
                    .collect();
                if let Some((m, _)) = self.placer.best(wh, candidates, 90.0) {
                    self.placer.take(placer::around(m, wh));
                    self.items.extend(badge.items(m - shift).into_iter().map(|i| i.of_piece(number)));
                    done = true;
                    break;
                }
            }
            if done {
                continue;
            }
            // No room in the piece: outside, with a leader.
            let radius = (text::width(&label, LEAST_SIZE, true) / 2.0).hypot(LEAST_SIZE * 0.4) + 0.35;
            let badge = Badge { label: &label, size: LEAST_SIZE, radius, back, beak: true };
            let (wh, shift) = badge.room();
            match self.spot(wh, home, Home::Piece(number), ACROSS) {
                Some(m) => {
                    let c = m - shift;
                    let end = c + (home - c) * (radius / home.distance(c).max(radius));
                    self.leader(end, home);
                    self.placer.take(placer::around(m, wh));
                    self.items.extend(badge.items(c).into_iter().map(|i| i.of_piece(number)));
                }
                None => self.left_out += 1,
            }
        }
    }

    fn mark_openings(&mut self) {
        for i in 0..self.parts.len() {
            for j in 0..self.parts[i].openings.len() {
                let part = &self.parts[i];
                let number = part.number;
                let opening = &part.piece.openings[j];
                let ring = self.paper_ring(&part.openings[j]);
                let id = format!("{number}{}", letters(j));
                let b = ring.bbox();
                let centre = b.centre();
                let narrow = b.width() < b.height();
                let mut tries = Vec::new();
                for upright in [narrow, !narrow] {
                    let long = if upright { b.height() } else { b.width() };
                    let name = short_name(&opening.name, LEAST_SIZE, false, long - 2.0);
                    if name == text::clean(&opening.name) {
                        tries.push(Words {
                            lines: vec![(id.clone(), LEAST_SIZE, true), (name, LEAST_SIZE, false)],
                            upright,
                        });
                    }
                }
                for upright in [false, true] {
                    tries.push(Words { lines: vec![(id.clone(), LEAST_SIZE, true)], upright });
                }
                let mut done = false;
                for words in &tries {
                    let size = words.size();
                    let spots: Vec<(Point, f64)> = placer::grid(&b, size, centre)
                        .into_iter()
                        .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                        .collect();
                    if let Some((m, _)) = self.placer.best(size, spots, 14.0) {
                        self.put(words, m, Some(number));
                        done = true;
                        break;
                    }
                }
                if !done {
                    let words = Words { lines: vec![(id, LEAST_SIZE, true)], upright: false };
                    let before = self.left_out;
                    if self.is_copy(number) {
                        self.lead(&words, centre, 0.6, Home::Piece(number), CLOSE);
                        self.left_out = before;
                    } else {
                        self.lead(&words, centre, 0.6, Home::Piece(number), FAR);
                    }
                }
            }
        }
    }

    /// Narrowest rails as dimension lines. Numbers that fit close by are put there at once, so that the numbers of the
    /// pieces keep off; of copies only on the first.
    fn mark_rails(&mut self) {
        for i in 0..self.parts.len() {
            for j in 0..self.parts[i].openings.len() {
                let part = &self.parts[i];
                let number = part.number;
                let rail = measure::narrowest_rail(part.piece, &part.piece.openings[j]);
                if !rail.distance.is_finite() {
                    continue;
                }
                let (a, b) = (self.paper(part.pose.apply(rail.from)), self.paper(part.pose.apply(rail.to)));
                let words = Words::plain(self.bare(rail.distance));
                let copy = self.is_copy(number);
                let item = Item::lines(Layer::Dimension, ticked(a, b), Stroke::solid(Colour::BLACK, 0.22));
                self.items.push(item.of_piece(number));
                self.placer.take_line(a, b);
                self.rails.push((number, copy, a.lerp(b, 0.5), words));
            }
        }
        self.put_rails(|copy| !copy, CLOSE);
    }

    /// Puts the numbers of rails that have none yet. What a copy has no room for stands on the first of its kind.
    fn number_rails(&mut self) {
        self.put_rails(|copy| !copy, FAR);
        self.put_rails(|copy| copy, CLOSE);
        self.left_out += self.rails.iter().filter(|r| !r.1).count();
    }

    fn put_rails(&mut self, wanted: impl Fn(bool) -> bool, reach: f64) {
        for (number, copy, at, words) in std::mem::take(&mut self.rails) {
            let home = Home::Piece(number);
            match self.spot(words.size(), at, home, reach).filter(|_| wanted(copy)) {
                Some(m) => self.place_led(&words, at, 0.0, m, home),
                None => self.rails.push((number, copy, at, words)),
            }
        }
    }

    /// True if a like piece with a lower number is on the sheet.
    fn is_copy(&self, number: usize) -> bool {
        !self.alike().iter().any(|(first, _)| first.number == number)
    }

    fn name_offcuts(&mut self) {
        for (i, offcut) in self.layout.offcuts.iter().enumerate() {
            let Some(corners) = rectangle_corners(&offcut.rectangle) else { continue };
            let corners = corners.map(|p| self.paper(p));
            let middle = corners[0].lerp(corners[2], 0.5);
            let b = BBox::of(&corners);
            let [w, h] = offcut.rectangle.size;
            let label = format!("R{}", i + 1);
            let long = Words {
                lines: vec![(format!("offcut {label}"), LEAST_SIZE, true), (self.sizes(w, h), LEAST_SIZE, false)],
                upright: b.width() < b.height(),
            };
            let size = long.size();
            if let Some((m, _)) = self.placer.best(size, placer::grid(&b, size, middle), 10.0) {
                self.put(&long, m, None);
            } else {
                let words = Words { lines: vec![(label, LEAST_SIZE, true)], upright: false };
                self.lead(&words, middle, 0.0, Home::Anywhere, ACROSS);
            }
        }
    }

    fn name_pieces(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let (w, h) = part.piece.size();
            let size_words = self.sizes(w, h);
            let b = ring.bbox();
            let home = part.piece.stone().centroid().map_or(b.centre(), |c| self.paper(part.pose.apply(c)));
            let narrow = b.width() < b.height();
            let name = part.piece.name.as_str();
            // Whole names first, in smaller type if need be; shortened ones only then.
            let (mut tries, mut shortened) = (Vec::new(), Vec::new());
            for (size, plain) in [(3.4, 2.9), (LEAST_SIZE, LEAST_SIZE)] {
                for upright in [narrow, !narrow] {
                    let long = if upright { b.height() } else { b.width() };
                    let short = short_name(name, size, true, (long - 3.0).clamp(12.0, 70.0));
                    let list = if short == text::clean(name) { &mut tries } else { &mut shortened };
                    let both = vec![(short, size, true), (size_words.clone(), plain, false)];
                    list.push(Words { lines: both, upright });
                    let one = format!("{}  {size_words}", short_name(name, plain, false, 60.0));
                    list.push(Words { lines: vec![(one, plain, false)], upright });
                }
            }
            tries.extend(shortened);
            for upright in [narrow, !narrow] {
                tries.push(Words { lines: vec![(size_words.clone(), LEAST_SIZE, false)], upright });
            }
            for words in &tries {
                let size = words.size();
                let spots: Vec<(Point, f64)> = placer::grid(&b, size, home)
                    .into_iter()
                    .filter(|(m, _)| {
                        let room = placer::around(*m, size);
                        placer::box_in_ring(&room, &ring) && !openings.iter().any(|o| o.bbox().near(&room, 0.0))
                    })
                    .collect();
                if let Some((m, _)) = self.placer.best(size, spots, 8.0) {
                    self.put(words, m, Some(number));
                    break;
                }
            }
        }
    }

    /// Distances of corner P from A and B as dimension lines, where they are short and cross no other piece.
    fn short_dimensions(&mut self) {
        let mut wanted = Vec::new();
        for part in &self.parts {
            let marks = measure::marks(part.piece, &part.pose, self.datum.along);
            let p = part.pose.apply(marks.p);
            let [x, y] = self.datum.measure(p);
            for (foot, length) in [(self.datum.point(0.0, y), x), (self.datum.point(x, 0.0), y)] {
                let on_paper = length / self.scale;
                let clear = self.parts.iter().all(|other| {
                    let own = other.number == part.number;
                    let end = if own { p.lerp(foot, 1e-6) } else { p };
                    other
                        .outline
                        .edges()
                        .all(|(a, b)| distance::segments(end, foot, a, b).distance > if own { 0.0 } else { 1.0 })
                });
                if (6.0..=30.0).contains(&on_paper) && clear {
                    wanted.push((foot, p, length, part.number));
                }
            }
        }
        for (foot, p, length, number) in wanted {
            let (a, b) = (self.paper(foot), self.paper(p));
            let words = Words::plain(self.bare(length)).turned((a.x - b.x).abs() < (a.y - b.y).abs());
            let size = words.size();
            let side = if words.upright { pt(-size.0 / 2.0 - 0.6, 0.0) } else { pt(0.0, size.1 / 2.0 + 0.6) };
            let spots = [0.5, 0.4, 0.6, 0.3, 0.7].map(|t| (a.lerp(b, t) + side, (t - 0.5_f64).abs()));
            if !self.placer.is_clear(a, b.lerp(a, 0.1)) {
                continue;
            }
            if let Some((m, _)) = self.placer.best(size, spots, 6.0) {
                self.put(&words, m, Some(number));
                self.items.push(Item::lines(Layer::Dimension, ticked(a, b), THIN).of_piece(number));
                self.placer.take_line(a, b);
            }
        }
    }

    fn word_fronts(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let back = Pose::new(part.pose.turn, pt(0.0, 0.0)).apply(pt(0.0, 1.0));
            let mut lines = measure::front(part.piece);
            lines.sort_by(|x, y| y.0.distance(y.1).total_cmp(&x.0.distance(x.1)));
            let Some(&(a, b)) = lines.first() else { continue };
            let (a, b) = (self.paper(part.pose.apply(a)), self.paper(part.pose.apply(b)));
            let words = Words::plain("front").turned(back.x.abs() > back.y.abs());
            let size = words.size();
            let half = (size.0 * back.x.abs() + size.1 * back.y.abs()) / 2.0;
            let spots: Vec<(Point, f64)> = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88]
                .iter()
                .flat_map(|&t: &f64| [(t, 2.1), (t, 3.0)])
                .map(|(t, off)| (a.lerp(b, t) + back * (off + half), (t - 0.5_f64).abs() + off * 0.1))
                .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                .collect();
            if let Some((m, _)) = self.placer.best(size, spots, 4.5) {
                self.put(&words, m, Some(number));
            }
        }
    }

    fn letter_corners(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let marks = measure::marks(part.piece, &part.pose, self.datum.along);
            let turn = Pose::new(part.pose.turn, pt(0.0, 0.0));
            let ends = [marks.p, marks.q].map(|p| self.paper(part.pose.apply(p)));
            for (k, (at, letter)) in ends.into_iter().zip(["P", "Q"]).enumerate() {
                let words = Words::plain(letter);
                let size = words.size();
                let inward = marks.sides.map_or(pt(0.7, 0.7), |s| turn.apply(s[k][0] + s[k][1]));
                let away = |along: f64, across: f64| at + pt(inward.x.signum() * along, inward.y.signum() * across);
                let spots = [(2.9, 2.9), (2.6, 3.4), (3.4, 2.6), (3.9, 1.9), (1.6, 4.2), (4.6, 2.4), (2.4, 4.6)]
                    .map(|(u, v)| (away(u, v), u + v))
                    .into_iter()
                    .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                    .collect::<Vec<_>>();
                if let Some((m, _)) = self.placer.best(size, spots, 11.0) {
                    self.put(&words, m, Some(number));
                }
            }
        }
    }

    /// Puts words about a middle and takes the room.
    fn put(&mut self, words: &Words, middle: Point, piece: Option<usize>) {
        self.placer.take(placer::around(middle, words.size()));
        for t in words.texts(middle) {
            let mut item = Item::text(Layer::Label, t);
            item.piece = piece;
            self.items.push(item);
        }
    }

    /// A free middle within `reach` mm of a target for a box of that size, from which a leader to the target crosses no
    /// text. What belongs to a piece stays in it or off all pieces: in another it would be taken for that one's.
    fn spot(&self, size: (f64, f64), target: Point, home: Home, reach: f64) -> Option<Point> {
        // Most labels find room close by, where only few things have to be looked at.
        for reach in [reach.min(20.0), reach] {
            let far = pt(reach + size.0, reach + size.1);
            let local = self.placer.within(&BBox { min: target - far, max: target + far });
            let mut best: Option<(Point, f64)> = None;
            for (m, own) in placer::round_about(target, size, reach) {
                if best.is_some_and(|b| own >= b.1) {
                    break;
                }
                let room = placer::around(m, size);
                if let Some(c) = local.cost(&room)
                    && best.is_none_or(|b| own + c < b.1)
                    && local.is_clear(nearest(&room, target), target)
                    && self.is_at_home(&room, home)
                {
                    best = Some((m, own + c));
                }
            }
            if let Some((m, cost)) = best
                && (cost < 12.0 || reach > 20.0)
            {
                return Some(m);
            }
        }
        None
    }

    /// True if a box on the paper lies inside its piece, or outside all pieces.
    fn is_at_home(&self, room: &BBox, home: Home) -> bool {
        let Home::Piece(number) = home else { return true };
        let corners = room.corners().map(|p| (p - self.origin) * self.scale);
        let b = BBox::of(&corners);
        self.parts.iter().all(|part| {
            let apart = !part.outline.bbox().near(&b, 0.0)
                || !(corners.iter().any(|&c| part.outline.contains(c))
                    || part.outline.edges().any(|(p, q)| placer::crosses(p, q, &b, 0.0)));
            apart || (part.number == number && placer::box_in_ring(&b, &part.outline))
        })
    }

    /// Puts words near a target, with a leader unless they touch it. `clear` is the radius of the mark at the target.
    fn lead(&mut self, words: &Words, target: Point, clear: f64, home: Home, reach: f64) {
        let size = words.size();
        match self.spot((size.0 + 2.0 * clear, size.1 + 2.0 * clear), target, home, reach) {
            Some(m) => self.place_led(words, target, clear, m, home),
            None => self.left_out += 1,
        }
    }

    fn place_led(&mut self, words: &Words, target: Point, clear: f64, middle: Point, home: Home) {
        let room = placer::around(middle, words.size());
        let near = nearest(&room, target);
        if near.distance(target) > 1.6 + clear {
            let start = target + (near - target) * (clear / near.distance(target));
            self.leader(near, start);
        }
        self.put(words, middle, if let Home::Piece(n) = home { Some(n) } else { None });
    }

    fn leader(&mut self, from: Point, to: Point) {
        self.items.push(Item::line(Layer::Dimension, vec![from, to], THIN));
        self.items.push(Item::disc(Layer::Dimension, to, 0.35, None, Some(Colour::BLACK)));
        self.placer.take_line(from, to);
    }
}

/// Whose a label is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Home {
    /// The piece of that number.
    Piece(usize),
    /// Nobody's: it may lie anywhere.
    Anywhere,
}

/// How far a label may lie from what it tells to be seen with it at a glance, mm.
const CLOSE: f64 = 5.0;
/// How far a label may lie from what it tells, mm: farther, nobody finds it.
const FAR: f64 = 25.0;
/// The same for what must be on the drawing: across the whole of it.
const ACROSS: f64 = 150.0;

/// A dimension line with slanted ticks at its ends.
fn ticked(a: Point, b: Point) -> Vec<Vec<Point>> {
    let length = a.distance(b);
    let along = if length > 1e-9 { (b - a) * (1.0 / length) } else { pt(1.0, 0.0) };
    let slant = (along + along.left()) * 0.55;
    vec![vec![a, b], vec![a - slant, a + slant], vec![b - slant, b + slant]]
}

/// The point of a box nearest to a target.
fn nearest(b: &BBox, target: Point) -> Point {
    pt(target.x.clamp(b.min.x, b.max.x), target.y.clamp(b.min.y, b.max.y))
}

/// A number in a circle, with a beak towards the piece's back.
struct Badge<'a> {
    label: &'a str,
    size: f64,
    radius: f64,
    back: Point,
    beak: bool,
}

impl Badge<'_> {
    /// Its room, and where the room's middle lies from the circle's.
    fn room(&self) -> ((f64, f64), Point) {
        let r = pt(self.radius, self.radius);
        let mut b = BBox { min: -r, max: r };
        if self.beak {
            b = b.with(self.back * (self.radius + 1.7));
        }
        ((b.width(), b.height()), b.centre())
    }

    fn items(&self, centre: Point) -> Vec<Item> {
        let mut out = Vec::new();
        if self.beak {
            let tip = centre + self.back * (self.radius + 1.7);
            let foot = centre + self.back * (self.radius * 0.8);
            let side = self.back.left() * 1.5;
            out.push(Item::area(Layer::Mark, vec![tip, foot + side, foot - side], None, Some(Colour::BLACK)));
        }
        let line = Some(Stroke::solid(Colour::BLACK, 0.3));
        out.push(Item::disc(Layer::Mark, centre, self.radius, line, Some(Colour::WHITE)));
        let base = centre - pt(0.0, self.size * 0.365);
        out.push(Item::text(Layer::Label, Text::new(self.label, base, Anchor::Middle, self.size).bold()));
        out
    }
}

/// The corners of a rectangle of the plan, slab frame; `None` if its numbers are no numbers.
fn rectangle_corners(r: &Rectangle) -> Option<[Point; 4]> {
    let pose = Pose::new(r.turn, r.corner.into());
    let [w, h] = r.size;
    let all = [r.turn, r.corner[0], r.corner[1], w, h];
    (all.iter().all(|v| v.is_finite() && v.abs() <= crate::geom::tol::MAX_COORD))
        .then(|| [pt(0.0, 0.0), pt(w, 0.0), pt(w, h), pt(0.0, h)].map(|p| pose.apply(p)))
}

/// Runs of wanted edges of a ring, moved inwards by `by` mm.
fn inset_runs(ring: &Ring, wanted: &[bool], by: f64) -> Vec<Vec<Point>> {
    let p = ring.points();
    let n = p.len();
    let normal = |i: usize| {
        let d = p[(i + 1) % n] - p[i];
        d.left() * (1.0 / d.norm().max(1e-12))
    };
    let shifted = |i: usize| (p[i] + normal(i) * by, p[(i + 1) % n] + normal(i) * by);
    // Where two wanted edges meet, their moved lines are joined on the bisector; sharp bends are cut off.
    let join = |i: usize, j: usize| {
        let m = normal(i) + normal(j);
        let k = m.dot(m) / 2.0;
        p[j] + m * (by / k.max(0.3))
    };
    let first = (0..n).find(|&i| wanted[i] && !wanted[(i + n - 1) % n]);
    let all = wanted.iter().all(|&w| w);
    let start = match (first, all) {
        (Some(i), _) => i,
        (None, true) => 0,
        (None, false) => return Vec::new(),
    };
    let mut out = Vec::new();
    let mut run: Vec<Point> = Vec::new();
    for step in 0..n {
        let i = (start + step) % n;
        if !wanted[i] {
            continue;
        }
        let before = (i + n - 1) % n;
        if run.is_empty() {
            run.push(if all { join(before, i) } else { shifted(i).0 });
        }
        let next = (i + 1) % n;
        if wanted[next] && (step + 1 < n || all) {
            run.push(join(i, next));
        } else {
            run.push(shifted(i).1);
        }
        if !wanted[next] || step + 1 == n {
            out.push(std::mem::take(&mut run));
        }
    }
    out
}

/// The heavy bar of a front edge, just inside it, and its ticks towards the back.
fn front_bar(a: Point, b: Point, along: Point) -> (Vec<Point>, Vec<Vec<Point>>) {
    let inward = along.left();
    // A round front gets a bar of its own about its lowest point.
    let (a, b) = if a.distance(b) < 3.0 { (a - along * 3.0, b + along * 3.0) } else { (a, b) };
    let length = a.distance(b);
    let end = if length > 12.0 { 2.6 } else { length * 0.2 };
    let dir = (b - a) * (1.0 / length);
    let lift = inward * 0.75;
    let (s, e) = (a + dir * end + lift, b - dir * end + lift);
    let count = ((length / 12.0).floor() as usize).clamp(1, 12);
    let ticks = (0..=count)
        .map(|i| {
            let at = s.lerp(e, i as f64 / count as f64);
            vec![at, at + inward * 1.3]
        })
        .collect();
    (vec![s, e], ticks)
}

// ------------------------------------------------------------------------------------------------------ looks of flaws

/// The kinds of flaw are told apart by line and filling; colour only helps.
fn flaw_colour(kind: FlawKind) -> Colour {
    match kind {
        FlawKind::Crack => Colour::VERMILLION,
        FlawKind::Fissure => Colour::BLUE,
        FlawKind::Pit => Colour::PURPLE,
        FlawKind::Stain => Colour::ORANGE,
        FlawKind::Patch => Colour::GREEN,
    }
}

fn flaw_stroke(kind: FlawKind) -> Stroke {
    let colour = flaw_colour(kind);
    match kind {
        FlawKind::Crack => Stroke::solid(colour, 0.6),
        FlawKind::Fissure => Stroke::dashed(colour, 0.4, &[3.5, 1.0, 0.7, 1.0, 0.7, 1.0]),
        FlawKind::Pit => Stroke::dashed(colour, 0.8, &[0.0, 1.5]),
        FlawKind::Stain => Stroke::dashed(colour, 0.6, &[1.6, 1.0]),
        FlawKind::Patch => Stroke::solid(colour, 0.3),
    }
}

fn flaw_line(kind: FlawKind, line: &[Point]) -> Vec<Item> {
    let mut out = Vec::new();
    if line.len() > 1 {
        out.push(Item::line(Layer::Flaw, line.to_vec(), flaw_stroke(kind)));
    }
    // A crack has ticks across it, a patch crosses on it.
    let every = match kind {
        FlawKind::Crack => 2.5,
        FlawKind::Patch => 3.5,
        FlawKind::Fissure | FlawKind::Pit | FlawKind::Stain => return out,
    };
    let mut marks = Vec::new();
    let mut left = every / 2.0;
    for (a, b) in distance::open_line(line) {
        let length = a.distance(b);
        let along = (b - a) * (1.0 / length.max(1e-12));
        while left < length {
            let at = a + along * left;
            if kind == FlawKind::Crack {
                marks.push(vec![at - along.left() * 0.9, at + along.left() * 0.9]);
            } else {
                let (u, v) = ((along + along.left()) * 0.6, (along - along.left()) * 0.6);
                marks.push(vec![at - u, at + u]);
                marks.push(vec![at - v, at + v]);
            }
            left += every;
        }
        left -= length;
    }
    if !marks.is_empty() {
        out.push(Item::lines(Layer::Flaw, marks, Stroke::solid(flaw_colour(kind), 0.3)));
    }
    out
}

fn flaw_area(kind: FlawKind, region: &Region) -> Vec<Item> {
    let thin = Stroke::solid(flaw_colour(kind), 0.2);
    let mut out: Vec<Item> = region
        .rings()
        .map(|r| Item::area(Layer::Flaw, r.points().to_vec(), Some(Stroke::solid(flaw_colour(kind), 0.35)), None))
        .collect();
    let lines = match kind {
        FlawKind::Crack => hatch::lines(region, 90.0, 0.9),
        FlawKind::Fissure => hatch::lines(region, 0.0, 1.5),
        FlawKind::Stain => hatch::lines(region, 45.0, 1.2),
        FlawKind::Patch => [hatch::lines(region, 45.0, 1.6), hatch::lines(region, 135.0, 1.6)].concat(),
        FlawKind::Pit => {
            let dots = hatch::dots(region, 1.1);
            out.extend(dots.into_iter().map(|p| Item::disc(Layer::Flaw, p, 0.25, None, Some(flaw_colour(kind)))));
            return out;
        }
    };
    if !lines.is_empty() {
        out.push(Item::lines(Layer::Flaw, lines, thin));
    }
    out
}

/// A round spot, drawn at least 0.8 mm in radius so that it is seen.
fn flaw_spot(kind: FlawKind, at: Point, radius: f64) -> Vec<Item> {
    let radius = radius.max(0.8);
    let circle: Vec<Point> = (0..32)
        .map(|i| {
            let (s, c) = (f64::from(i) * std::f64::consts::PI / 16.0).sin_cos();
            at + pt(c, s) * radius
        })
        .collect();
    Ring::tidy(&circle).map_or_else(|_| Vec::new(), |(ring, _)| flaw_area(kind, &ring.to_region()))
}

// ------------------------------------------------------------------------------------------------------------ the margin

/// A cell whose left end is at `x`.
const fn start(content: &str, x: f64, room: f64, bold: bool) -> Cell<'_> {
    Cell { content, x, anchor: Anchor::Start, room, bold }
}

/// A cell whose right end is at `x`.
const fn end(content: &str, x: f64, room: f64, bold: bool) -> Cell<'_> {
    Cell { content, x, anchor: Anchor::End, room, bold }
}

impl Sheet<'_> {
    fn blocks(&self) -> Vec<Block> {
        let mut out = Vec::new();
        out.extend(self.findings_block());
        out.extend(self.missing_block());
        out.extend(self.chalk_block());
        out.extend(self.openings_block());
        out.extend(self.offcuts_block());
        out.push(self.key_block());
        out
    }

    fn heading(&self, words: &str) -> Row {
        let column = self.column();
        let cell = Cell { content: words, x: 0.0, anchor: Anchor::Start, room: column, bold: true };
        let mut row = Row::sized(&[cell], 3.0, 4.4);
        let rule = vec![pt(0.0, -4.1), pt(column, -4.1)];
        row.items.push(Item::line(Layer::Margin, rule, Stroke::solid(Colour::BLACK, 0.25)));
        row
    }

    fn findings_block(&self) -> Option<Block> {
        if self.remarks.is_empty() {
            return None;
        }
        let broken = self.remarks.iter().any(|r| r.finding.grade == Grade::Broken);
        let heading = self.heading(if broken { "DO NOT CUT: rules are broken" } else { "Look before cutting" });
        let groups = self
            .remarks
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let grade = if r.finding.grade == Grade::Broken { "broken" } else { "warning" };
                let mut rows = Row::paragraph(&format!("{grade}: {}", r.finding.message), 6.0, self.column(), false);
                let tag = format!("!{}", i + 1);
                if let Some(first) = rows.first_mut() {
                    let cell = Cell { content: &tag, x: 0.0, anchor: Anchor::Start, room: 6.0, bold: true };
                    first.items.extend(Row::cells(&[cell]).items);
                }
                rows
            })
            .collect();
        Some(Block { heading: vec![heading], groups })
    }

    fn missing_block(&self) -> Option<Block> {
        if self.missing.is_empty() {
            return None;
        }
        let groups = self.missing.iter().map(|m| Row::paragraph(m, 0.0, self.column(), false)).collect();
        Some(Block { heading: vec![self.heading("Not on the drawing")], groups })
    }

    /// Where the number cells of the chalk table end: P from B, P from A, Q from B, Q from A, turn.
    fn stops(&self) -> [f64; 5] {
        match self.settings.shown {
            Shown::Mm => [17.2, 27.4, 41.6, 51.8, 61.5],
            Shown::In => [21.6, 36.2, 53.0, 67.4, 78.0],
        }
    }

    fn chalk_block(&self) -> Option<Block> {
        if self.parts.is_empty() {
            return None;
        }
        let column = self.column();
        let stops = self.stops();
        let mut heading = vec![self.heading("Pieces, and where to chalk them")];
        heading.push(Row::cells(&[
            start("no.", 0.0, 6.0, false),
            start("piece", 5.0, 20.0, false),
            end("length × depth", column, 30.0, false),
        ]));
        let names = ["from B", "from A", "from B", "from A", "turn"];
        let mut cells: Vec<Cell<'_>> = (0..5).map(|i| end(names[i], stops[i], 12.0, false)).collect();
        cells.push(start("P", 5.0, 3.0, true));
        cells.push(start("Q", stops[1] + 2.0, 3.0, true));
        heading.push(Row::cells(&cells));
        if let Some(rule) = heading.last_mut() {
            rule.height += 0.5;
            let y = -rule.height + 0.3;
            rule.items.push(Item::line(Layer::Margin, vec![pt(0.0, y), pt(column, y)], THIN));
        }
        let several = self.plan.jobs.len() > 1;
        let mut groups: Vec<Vec<Row>> = self
            .parts
            .iter()
            .map(|part| {
                let marks = measure::marks(part.piece, &part.pose, self.datum.along);
                let [p, q] = [marks.p, marks.q].map(|m| self.datum.measure(part.pose.apply(m)));
                let (w, h) = part.piece.size();
                let size = self.sizes(w, h);
                let room = column - 5.0 - 1.5 - text::width(&size, LEAST_SIZE, false);
                let name = if several {
                    format!("{} ({})", part.piece.name, part.placed.job)
                } else {
                    part.piece.name.clone()
                };
                let name = short_name(&name, LEAST_SIZE, true, room);
                let number = part.number.to_string();
                let first = Row::cells(&[
                    start(&number, 0.0, 6.0, true),
                    start(&name, 5.0, room, true),
                    end(&size, column, 40.0, false),
                ]);
                let turn = part.pose.turn.rem_euclid(360.0);
                let turn = format!("{}°", Decimal(if turn >= 359.95 { 0.0 } else { turn }, 1));
                let numbers = [p[0], p[1], q[0], q[1]].map(|v| self.bare(v));
                let mut cells: Vec<Cell<'_>> = numbers.iter().zip(stops).map(|(n, x)| end(n, x, 16.0, false)).collect();
                cells.push(end(&turn, stops[4], 11.0, false));
                cells.push(start("P", 5.0, 3.0, false));
                cells.push(start("Q", stops[1] + 2.0, 3.0, false));
                let mut second = Row::cells(&cells);
                second.height += 0.5;
                vec![first, second]
            })
            .collect();
        groups.push(Row::paragraph(
            "A: straight-edge against the slab's lower side, touching it at two triangles. B: square to A, touching the \
             slab at the third. Corners P and Q: marked on the drawing; a rounded corner is measured to where its sides \
             would meet; a round piece has P in its middle.",
            0.0,
            column,
            false,
        ));
        Some(Block { heading, groups })
    }

    /// The pieces that are drawn, copies together: the first of each kind with the numbers of all.
    fn alike(&self) -> Vec<(&Part<'_>, Vec<usize>)> {
        let mut out: Vec<(&Part<'_>, Vec<usize>)> = Vec::new();
        for part in &self.parts {
            let same = |other: &Part<'_>| {
                other.placed.job == part.placed.job
                    && other.piece.kind == part.piece.kind
                    && other.piece.outline == part.piece.outline
                    && other.piece.openings == part.piece.openings
            };
            match out.iter_mut().find(|(first, _)| same(first)) {
                Some((_, numbers)) => numbers.push(part.number),
                None => out.push((part, vec![part.number])),
            }
        }
        out
    }

    fn openings_block(&self) -> Option<Block> {
        let column = self.column();
        let mut groups = Vec::new();
        for (part, numbers) in self.alike() {
            for (j, opening) in part.piece.openings.iter().enumerate() {
                let id = if numbers.len() == 1 {
                    format!("{}{}", part.number, letters(j))
                } else {
                    format!("{} of {}", letters(j), ranges(&numbers))
                };
                let indent = if numbers.len() == 1 { 8.5 } else { 5.0 };
                let extent = opening.shape.extent();
                let size = self.sizes(extent.width(), extent.height());
                let room = column - indent - 1.5 - text::width(&size, LEAST_SIZE, false);
                let name = short_name(&format!("{}, {}", opening.name, opening.kind.name()), LEAST_SIZE, false, room);
                let c = opening.centre();
                let centre = format!("{} | {}", self.bare(c.x), self.bare(c.y));
                let rail = measure::narrowest_rail(part.piece, opening).distance;
                let rail = if rail.is_finite() { format!("rail {}", self.bare(rail)) } else { String::new() };
                // Copies share their rows, under a line of their numbers.
                let mut rows = Vec::new();
                let mut first = Row::cells(&[start(&name, indent, room, false), end(&size, column, 40.0, false)]);
                if numbers.len() == 1 {
                    first.items.extend(Row::cells(&[start(&id, 0.0, indent, true)]).items);
                } else {
                    rows.extend(Row::paragraph(&id, 0.0, column, true));
                }
                rows.push(first);
                let mut second = Row::cells(&[start(&centre, indent, 34.0, false), end(&rail, column, 26.0, false)]);
                second.height += 0.5;
                rows.push(second);
                groups.push(rows);
            }
        }
        if groups.is_empty() {
            return None;
        }
        let mut heading = vec![self.heading("Openings")];
        heading.extend(Row::paragraph(
            "size; centre from the piece's left end | from its front; narrowest rail",
            0.0,
            column,
            false,
        ));
        Some(Block { heading, groups })
    }

    fn offcuts_block(&self) -> Option<Block> {
        let column = self.column();
        let mut groups = Vec::new();
        for (i, offcut) in self.layout.offcuts.iter().enumerate() {
            let Some(corners) = rectangle_corners(&offcut.rectangle) else { continue };
            let [x, y] = self.datum.measure(corners[0]);
            let [w, h] = offcut.rectangle.size;
            let id = format!("R{}", i + 1);
            let size = self.sizes(w, h);
            let at = format!("at {} | {}", self.bare(x), self.bare(y));
            groups.push(vec![Row::cells(&[
                Cell { content: &id, x: 0.0, anchor: Anchor::Start, room: 6.0, bold: true },
                Cell { content: &size, x: 6.0, anchor: Anchor::Start, room: column / 2.0 - 6.0, bold: false },
                Cell { content: &at, x: column, anchor: Anchor::End, room: column / 2.0, bold: false },
            ])]);
        }
        if groups.is_empty() {
            return None;
        }
        let mut heading = vec![self.heading("Offcuts to keep")];
        heading.extend(Row::paragraph("largest rectangle; its corner from B | from A", 0.0, column, false));
        Some(Block { heading, groups })
    }

    fn key_block(&self) -> Block {
        let mut groups: Vec<Vec<Row>> = Vec::new();
        let mut add = |icon: Vec<Item>, words: &str| {
            let mut rows = Row::paragraph(words, 12.0, self.column(), false);
            if let Some(first) = rows.first_mut() {
                first.items.extend(icon);
            }
            if let Some(last) = rows.last_mut() {
                last.height += 0.7;
            }
            groups.push(rows);
        };
        let y = -1.55;
        let line = |stroke: Stroke| vec![Item::line(Layer::Margin, vec![pt(0.5, y), pt(10.0, y)], stroke)];
        let margin = |items: Vec<Item>| -> Vec<Item> {
            items
                .into_iter()
                .map(|mut i| {
                    i.layer = Layer::Margin;
                    i
                })
                .collect()
        };
        for (_, kind) in FlawKind::NAMES {
            let flaws: Vec<&Flaw> = self.slab.flaws.iter().filter(|f| f.kind == kind).collect();
            if flaws.is_empty() {
                continue;
            }
            let lines = flaws.iter().any(|f| matches!(f.body, FlawBody::Line(_)));
            let areas = flaws.iter().any(|f| !matches!(f.body, FlawBody::Line(_)));
            let (end, from) = if areas { (6.0, if lines { 7.0 } else { 3.0 }) } else { (10.5, 0.0) };
            let mut icon = if lines { flaw_line(kind, &[pt(0.0, y), pt(end, y)]) } else { Vec::new() };
            if areas {
                let b = BBox { min: pt(from, -2.9), max: pt(from + 4.0, -0.2) };
                icon.extend(flaw_area(kind, &Ring::rectangle(b).to_region()));
            }
            add(margin(icon), &self.flaw_words(kind, &flaws));
        }
        if let Some(grain) = self.slab.grain.filter(|g| g.is_finite()) {
            let along = Pose::new(grain, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
            let c = pt(5.0, y);
            let reach = 1.5 + 3.0 * along.x.abs();
            let tip = c + along * reach;
            let back = tip - along * 1.6;
            let paths =
                vec![vec![c - along * reach, tip], vec![back + along.left() * 0.7, tip, back - along.left() * 0.7]];
            let icon = vec![Item::lines(Layer::Margin, paths, Stroke::solid(Colour::GREY, 0.25))];
            add(icon, &format!("grain, {}° to the drawing's x", Decimal(grain, 1)));
        }
        if self.parts.is_empty() {
            add(line(TRIM), &format!("trim, {}", self.settings.shown.length(self.question.shop.limits.trim)));
            return Block { heading: vec![self.heading("Key")], groups };
        }
        let badge = Badge { label: "1", size: LEAST_SIZE, radius: 1.45, back: pt(1.0, 0.0), beak: true };
        add(margin(badge.items(pt(4.0, y))), "number of a piece; the beak points to its back");
        let (bar, ticks) = front_bar(pt(0.5, -2.6), pt(10.0, -2.6), pt(1.0, 0.0));
        let icon = vec![
            Item::line(Layer::Margin, bar, Stroke::solid(Colour::BLACK, 1.0)),
            Item::lines(Layer::Margin, ticks, Stroke::solid(Colour::BLACK, 0.35)),
        ];
        add(icon, "front edge");
        if self.parts.iter().any(|p| p.piece.outline.finishes.iter().any(crate::model::Finish::is_finished)) {
            add(line(FINISHED), "finished edge");
        }
        let corner = |x: f64, fill: Colour| {
            let points = vec![pt(x, -2.5), pt(x + 1.9, -2.5), pt(x, -0.6)];
            Item::area(Layer::Margin, points, Some(Stroke::solid(Colour::BLACK, 0.25)), Some(fill))
        };
        add(vec![corner(1.5, Colour::BLACK), corner(6.5, Colour::WHITE)], "corner P, corner Q");
        if self.parts.iter().any(|p| !p.openings.is_empty()) {
            add(line(CENTRE), "centre lines of an opening");
            let (a, b, s) = (pt(2.0, y), pt(8.0, y), pt(0.55, 0.55));
            let paths = vec![vec![a, b], vec![a - s, a + s], vec![b - s, b + s]];
            add(
                vec![Item::lines(Layer::Margin, paths, Stroke::solid(Colour::BLACK, 0.22))],
                "narrowest rail (of copies: on the first)",
            );
        }
        add(line(TRIM), &format!("trim, {}", self.settings.shown.length(self.question.shop.limits.trim)));
        if !self.layout.offcuts.is_empty() {
            let b = BBox { min: pt(0.5, -2.9), max: pt(10.0, -0.2) };
            let mut icon = vec![Item::area(Layer::Margin, b.corners().to_vec(), Some(RECTANGLE), None)];
            icon.push(Item::lines(Layer::Margin, hatch::lines(&Ring::rectangle(b).to_region(), 135.0, 1.6), OFFCUT));
            add(icon, "offcut to keep, largest rectangle");
        }
        if self.remarks.iter().any(|r| r.at.is_some()) {
            let ring = Some(Stroke::solid(Colour::VERMILLION, 0.5));
            add(vec![Item::disc(Layer::Margin, pt(5.0, y), 1.3, ring, None)], "place of a finding (!)");
        }
        Block { heading: vec![self.heading("Key")], groups }
    }

    /// The kind with the widths of its lines and the diameters of its spots.
    fn flaw_words(&self, kind: FlawKind, flaws: &[&Flaw]) -> String {
        let range = |sizes: Vec<f64>| -> Option<String> {
            let low = sizes.iter().copied().reduce(f64::min)?;
            let high = sizes.iter().copied().reduce(f64::max)?;
            let (a, b) = (self.bare(low), self.settings.shown.length(high));
            Some(if self.settings.shown.length(low) == b { b } else { format!("{a} to {b}") })
        };
        let of = |line: bool| -> Vec<f64> {
            flaws
                .iter()
                .filter(
                    |f| if line { matches!(f.body, FlawBody::Line(_)) } else { matches!(f.body, FlawBody::Spot(_)) },
                )
                .map(|f| 2.0 * f.radius)
                .collect()
        };
        let mut words = kind.name().to_owned();
        if let Some(r) = range(of(true)) {
            words += &format!(", {r} wide");
        }
        if let Some(r) = range(of(false)) {
            words += &format!(", {r} across");
        }
        words
    }

    fn title_block(&mut self, frame: &BBox, rows_left_out: usize) {
        let shown = self.settings.shown;
        let block = BBox { min: frame.min, max: pt(frame.max.x, frame.min.y + TITLE) };
        let caution = 4.6;
        let line = Stroke::solid(Colour::BLACK, 0.35);
        self.items.push(Item::area(Layer::Margin, block.corners().to_vec(), Some(line), None));
        let low = block.min.y + caution;
        self.items.push(Item::line(Layer::Margin, vec![pt(block.min.x, low), pt(block.max.x, low)], THIN));
        let shares = [0.29, 0.25, 0.22, 0.24];
        let y = measure::yields(self.question, self.layout, self.slab);
        let stone = self.slab.outline.bbox();
        let lot = match (&self.slab.lot, self.slab.number) {
            (Some(lot), Some(n)) => format!("Lot {lot}, number {n}"),
            (Some(lot), None) => format!("Lot {lot}"),
            (None, Some(n)) => format!("Number {n}"),
            (None, None) => "Lot not given".to_owned(),
        };
        let class = if self.slab.stone_given { "" } else { " (assumed)" };
        let units = match shown {
            Shown::Mm => "All lengths in mm",
            Shown::In => "All lengths in inches, to 1/16",
        };
        let sheet = format!("Sheet {} of {}", self.index + 1, self.plan.layouts.len());
        let mut notes = Vec::new();
        if !self.plan.unplaced.is_empty() {
            let n = self.plan.unplaced.len();
            notes.push(if n == 1 { "1 piece has no place".to_owned() } else { format!("{n} pieces have no place") });
        }
        if rows_left_out > 0 {
            notes.push(format!("{rows_left_out} table rows do not fit: take larger paper"));
        }
        if self.left_out > 0 {
            notes.push(format!("{} marks do not fit: see the tables", self.left_out));
        }
        let label = |words: &str, bold: bool, size: f64| (words.to_owned(), bold, size);
        let jobs = self.plan.jobs.join(", ");
        let room = shares[0] * block.width() - 3.0;
        let mut first = Vec::new();
        if text::width(&text::clean(&jobs), 3.8, true) <= room {
            first.push(label(&jobs, true, 3.8));
        } else {
            let mut lines = text::wrap(&jobs, LEAST_SIZE, true, room);
            if lines.len() > 2 {
                lines = vec![lines[0].clone(), text::shorten(&lines[1..].join(" "), LEAST_SIZE, true, room)];
            }
            first.extend(lines.iter().map(|l| label(l, true, LEAST_SIZE)));
        }
        let slab = format!("Slab {}", self.slab.name);
        let large = text::width(&text::clean(&slab), 3.8, true) <= room;
        first.push(label(&slab, true, if large { 3.8 } else { LEAST_SIZE }));
        notes.truncate(2);
        let line = if notes.len() > 1 { format!("{sheet}; {}", notes.remove(0)) } else { sheet };
        first.push(label(&line, notes.len() > 1, LEAST_SIZE));
        first.extend(notes.iter().map(|n| label(n, true, LEAST_SIZE)));
        let second = vec![
            label(&self.slab.material, true, 3.0),
            label(
                &format!("{}{class}, {} thick", self.slab.stone.name(), shown.length(self.slab.thickness)),
                false,
                LEAST_SIZE,
            ),
            label(&lot, false, LEAST_SIZE),
            label(&format!("Slab {} overall", self.sizes(stone.width(), stone.height())), false, LEAST_SIZE),
            label(&format!("Slab area {}", shown.area(y.slab_mm2)), false, LEAST_SIZE),
        ];
        let scale = format!("Scale 1:{} on {}", Decimal(self.scale, 1), self.settings.paper.name());
        let third = vec![
            label(&scale, true, 3.0),
            label("Print at 100 %, landscape", false, LEAST_SIZE),
            label(units, false, LEAST_SIZE),
        ];
        let fourth = vec![
            label("Polished face up. Never mirrored.", true, 3.0),
            label(&format!("Gross yield {:.1} % (openings filled)", y.gross * 100.0), false, LEAST_SIZE),
            label(&format!("Net yield {:.1} % (without openings)", y.net * 100.0), false, LEAST_SIZE),
            label(&format!("Pieces {}", shown.area(y.pieces_mm2)), false, LEAST_SIZE),
            label(&format!("Openings {}", shown.area(y.openings_mm2)), false, LEAST_SIZE),
        ];
        let mut x = block.min.x;
        for (i, (column, share)) in [first, second, third, fourth].into_iter().zip(shares).enumerate() {
            let width = share * block.width();
            if i > 0 {
                self.items.push(Item::line(Layer::Margin, vec![pt(x, low), pt(x, block.max.y)], THIN));
            }
            let mut top = block.max.y - 1.2;
            for (words, bold, size) in column {
                let words = text::shorten(&words, size, bold, width - 3.0);
                let mut t = Text::new(&words, pt(x + 1.5, top - text::ASCENT * size), Anchor::Start, size);
                t.bold = bold;
                if !words.is_empty() {
                    self.items.push(Item::text(Layer::Margin, t));
                }
                top -= size * text::PITCH + 0.7;
            }
            if i == 2 {
                self.scale_bar(pt(x + 3.0, low + 2.2), width - 10.0);
            }
            x += width;
        }
        let words = text::shorten(CAUTION, LEAST_SIZE, true, block.width() - 3.0);
        let at = pt(block.min.x + 1.5, block.min.y + 1.5);
        self.items.push(Item::text(Layer::Margin, Text::new(&words, at, Anchor::Start, LEAST_SIZE).bold()));
    }

    /// A bar of a round length with marks at its quarters.
    fn scale_bar(&mut self, at: Point, room: f64) {
        let lengths: &[f64] = match self.settings.shown {
            Shown::Mm => &[10_000.0, 5000.0, 2000.0, 1000.0, 500.0, 200.0, 100.0],
            Shown::In => &[360.0, 120.0, 60.0, 36.0, 24.0, 12.0, 6.0, 4.0],
        };
        let unit = if self.settings.shown == Shown::In { MM_PER_INCH } else { 1.0 };
        let Some(length) = lengths.iter().map(|l| l * unit).find(|l| l / self.scale <= room) else { return };
        let step = length / self.scale / 4.0;
        for i in 0..4 {
            let b = BBox { min: at + pt(f64::from(i) * step, 0.0), max: at + pt(f64::from(i + 1) * step, 1.4) };
            let fill = if i % 2 == 0 { Colour::BLACK } else { Colour::WHITE };
            let line = Some(Stroke::solid(Colour::BLACK, 0.2));
            self.items.push(Item::area(Layer::Margin, b.corners().to_vec(), line, Some(fill)));
        }
        let words = [(0.0, "0".to_owned()), (4.0 * step, self.bare(length))];
        for (x, w) in words {
            let t = Text::new(&w, at + pt(x, 2.2), Anchor::Middle, LEAST_SIZE);
            self.items.push(Item::text(Layer::Margin, t));
        }
    }
}
