//! The cutting drawing of a slab: what is cut where, true to shape, on a layer for each kind of work.
//!
//! In: a question, a plan, one of its layouts, the sheets of the openings. Out: a [`Drawing`] in the slab frame, mm. Decides
//! nothing that the plan and the sheets do not say. Must not know: file formats.

use super::body::{body, closed, open, slot};
use super::layers::{self, Look};
use super::words::{Near, Words};
use super::{Body, Drawing, Entity};
use crate::geom::{BBox, Point, Pose, pt, sum, tol};
use crate::model::openings::{OpeningSheet, Openings, Pass, Rod, Verdict};
use crate::model::{Flaw, FlawBody, Opening, Piece, Plan, PlanNumber, Question, Shape, Slab};
use crate::units::Shown;

/// How far outside the true body of a bent flaw its outline may lie, mm. As fine as all arcs that are flattened.
const EXCESS: f64 = tol::FLATTEN;

/// The cutting drawing of a layout (counted from 0) of a plan; labels give lengths as `shown`.
///
/// `openings` are the sheets for this very plan. An opening that must not be cut as drawn has a layer of its own, without
/// cores, passes and rods; one that is only scored has its cores and scores, and no passes. An opening without a sheet is
/// drawn as one that is cut, with nothing but its outline. Layouts, slabs and pieces that the plan and the question do not
/// have are left out: a layout that the plan does not have gives a drawing without anything.
#[must_use]
pub fn drawing(question: &Question, plan: &Plan, layout: usize, openings: &Openings, shown: Shown) -> Drawing {
    let mut b = Builder::default();
    let Some(on) = plan.layouts.get(layout) else { return b.into_drawing() };
    let mut words = Words::new(shown);
    if let Some(slab) = question.rack.iter().find(|s| s.name == on.slab) {
        b.slab(slab, question.shop.limits.trim);
        let number = PlanNumber::of(question, plan, openings);
        words.slab(slab, (layout + 1, plan.layouts.len()), &plan.jobs, number);
        for (i, flaw) in slab.flaws.iter().enumerate() {
            b.flaw(flaw);
            words.flaw(flaw, i + 1);
        }
    }
    for (i, offcut) in on.offcuts.iter().enumerate() {
        if offcut.outline.len() > 2 {
            b.put(&layers::OFFCUT, closed(offcut.outline.iter().map(|&p| p.into())));
            words.offcut(&offcut.rectangle, i + 1);
        }
    }
    for (i, placed) in on.placed.iter().enumerate() {
        let Some(job) = question.jobs.iter().find(|j| j.name == placed.job) else { continue };
        let Some(piece) = job.pieces.iter().find(|p| p.name == placed.piece) else { continue };
        let pose = placed.pose();
        b.put(&layers::PIECE, body(&piece.outline.shape, &pose));
        words.piece(piece, i + 1, (question.jobs.len() > 1).then_some(job.name.as_str()), &pose);
        let of_it = |opening: &Opening| {
            let own = |s: &&OpeningSheet| s.job == job.name && s.piece == piece.name && s.opening == opening.name;
            openings.openings.iter().find(own)
        };
        let near = near(piece, piece.openings.iter().filter_map(of_it));
        for opening in &piece.openings {
            let sheet = of_it(opening);
            b.opening(opening, sheet, &pose);
            words.opening(opening, sheet, &near, &pose);
        }
    }
    for (body, layer) in words.into_texts() {
        b.put(&layer, body);
    }
    b.into_drawing()
}

#[derive(Default)]
struct Builder {
    entities: Vec<Entity>,
}

impl Builder {
    fn put(&mut self, layer: &Look, body: Body) {
        self.entities.push(Entity { layer: layer.name.to_owned(), handle: String::new(), body });
    }

    fn into_drawing(self) -> Drawing {
        Drawing { entities: self.entities }
    }

    fn slab(&mut self, slab: &Slab, trim: f64) {
        self.put(&layers::SLAB, closed(slab.outline.points().iter().copied()));
        if trim > 0.0 {
            for ring in sum::shrunk(&slab.outline.to_region(), trim, EXCESS).rings() {
                self.put(&layers::TRIM, closed(ring.points().iter().copied()));
            }
        }
    }

    /// A flaw by the border of its body, exact but for bends of wide lines; a line without width as it is.
    fn flaw(&mut self, flaw: &Flaw) {
        let layer = &layers::FLAW;
        match &flaw.body {
            FlawBody::Area(ring) => self.put(layer, closed(ring.points().iter().copied())),
            FlawBody::Spot(at) => self.put(layer, Body::Circle { centre: *at, radius: flaw.radius }),
            FlawBody::Line(line) if flaw.radius <= 0.0 => self.put(layer, open(line.iter().copied())),
            FlawBody::Line(line) => match line.as_slice() {
                [a, b] => self.put(layer, slot(*a, *b, flaw.radius)),
                _ => {
                    for ring in flaw.grown(0.0, EXCESS).rings() {
                        self.put(layer, closed(ring.points().iter().copied()));
                    }
                }
            },
        }
    }

    fn opening(&mut self, opening: &Opening, sheet: Option<&OpeningSheet>, pose: &Pose) {
        let layer = match sheet.map(|s| s.verdict) {
            None | Some(Verdict::Fine | Verdict::Rods) => &layers::OPENING,
            Some(Verdict::Score) => &layers::OPENING_SCORE,
            Some(Verdict::Stop) => &layers::OPENING_STOP,
        };
        self.put(layer, body(&opening.shape, pose));
        let Some(sheet) = sheet.filter(|s| s.verdict != Verdict::Stop) else { return };
        let cutting = &sheet.cutting;
        let scored = sheet.verdict == Verdict::Score;
        if !scored || cutting.score.is_some() {
            for core in &cutting.cores {
                let circle = Body::Circle { centre: pose.apply(core.centre.into()), radius: core.diameter / 2.0 };
                self.put(&layers::CORE, circle);
            }
        }
        if scored {
            for pass in cutting.score.iter().flat_map(|s| &s.passes) {
                self.pass(pass, [&layers::SCORE, &layers::SCORE_FULL], pose);
            }
        } else {
            for pass in &cutting.passes {
                let on = if pass.from_back {
                    [&layers::BACK, &layers::BACK_FULL]
                } else {
                    [&layers::SAW, &layers::SAW_FULL]
                };
                self.pass(pass, on, pose);
            }
            if matches!(opening.shape, Shape::Ellipse { .. }) && !cutting.curves.is_empty() {
                self.put(&layers::OTHER, body(&opening.shape, pose));
            } else {
                for line in &cutting.curves {
                    self.put(&layers::OTHER, open(line.iter().map(|&p| pose.apply(p.into()))));
                }
            }
            for [p, q] in cutting.rows.iter().flat_map(|r| &r.cuts) {
                self.line(&layers::ROW, (*p).into(), (*q).into(), pose);
            }
        }
        for rod in &sheet.rods {
            self.rod(rod, pose);
        }
    }

    /// A pass as the way of the middle of its blade: all of the cut as it shows on the surface, and the stretch at full depth.
    /// A side that no blade can cut, as it is.
    fn pass(&mut self, pass: &Pass, [whole, full]: [&Look; 2], pose: &Pose) {
        let (from, to) = (Point::from(pass.from), Point::from(pass.to));
        let long = from.distance(to);
        if long < tol::SAME_POINT {
            return;
        }
        let Some(kerf) = pass.kerf else {
            self.line(&layers::OTHER, from, to, pose);
            return;
        };
        // The hole is to the left, and the blade is in it.
        let middle = (to - from).left() * (kerf / 2.0 / long);
        self.line(whole, from + middle, to + middle, pose);
        if let (Some(down), Some(up)) = (pass.full_depth_from, pass.full_depth_to) {
            self.line(full, down.into(), up.into(), pose);
        }
    }

    fn rod(&mut self, rod: &Rod, pose: &Pose) {
        let (from, to) = (Point::from(rod.groove_from), Point::from(rod.groove_to));
        let long = from.distance(to);
        if long < tol::SAME_POINT {
            return;
        }
        let side = (to - from).left() * (rod.groove_width / 2.0 / long);
        let corners = [from - side, to - side, to + side, from + side];
        self.put(&layers::GROOVE, closed(corners.map(|p| pose.apply(p))));
        self.line(&layers::ROD, rod.from.into(), rod.to.into(), pose);
    }

    fn line(&mut self, layer: &Look, from: Point, to: Point, pose: &Pose) {
        self.put(layer, open([pose.apply(from), pose.apply(to)]));
    }
}

/// What labels beside the openings of a piece keep off: its openings, the grooves of its rods.
fn near<'a>(piece: &'a Piece, sheets: impl Iterator<Item = &'a OpeningSheet>) -> Near<'a> {
    let grown = |b: BBox, by: f64| BBox { min: b.min - pt(by, by), max: b.max + pt(by, by) };
    let groove = |r: &Rod| grown(BBox::of([&r.groove_from.into(), &r.groove_to.into()]), r.groove_width);
    let grooves = sheets.filter(|s| s.verdict != Verdict::Stop).flat_map(|s| s.rods.iter().map(groove));
    let boxes = piece.openings.iter().map(|o| grown(o.ring.bbox(), 5.0)).chain(grooves).collect();
    Near { stone: &piece.outline.ring, boxes }
}

/// Length and depth of a piece or an opening, of the true shape, mm.
pub(super) fn size(shape: &Shape) -> [f64; 2] {
    let b = shape.extent();
    [b.width(), b.height()]
}

/// The stone of a piece with curves of at most as many corners as a label needs, a little smaller.
pub(super) fn rough_stone(piece: &Piece) -> crate::geom::Region {
    use crate::geom::{Polygon, Region, simplify};
    /// mm; a label keeps farther from every line anyway.
    const WITHIN: f64 = 2.0;
    let outer = simplify::enclosed(&piece.outline.ring, WITHIN);
    let holes = piece.openings.iter().map(|o| simplify::enclosing(&o.ring, WITHIN)).collect();
    Region { polygons: vec![Polygon { outer, holes }] }
}
