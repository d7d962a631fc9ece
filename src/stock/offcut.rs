//! From an offcut of a plan to a slab: outline, flaws, price.

use crate::geom::rectangle::Turned;
use crate::geom::{Point, Region, Ring, boolean, clip, distance, sum, tol};
use crate::model::{CameFrom, Flaw, FlawBody, Layout, Limits, Offcut, Photo, Placed, Question, Slab};

/// By how much outlines and clips may be too generous at round corners, mm.
const EXCESS: f64 = 0.05;

/// An outline with its corners this near (mm) to those of the rectangle is the rectangle, which plans round to 0.1 mm inwards.
const STANDS_FOR: f64 = 0.3;

/// An offcut that is kept, slab frame.
pub(super) struct Kept {
    pub(super) outline: Ring,
    /// Area of its rectangle, mm²: what it is priced by.
    rectangle: f64,
}

/// A piece where it lies, its openings filled: what falls out of them is no offcut. `None` for a piece that no job has.
pub(super) fn stone(question: &Question, placed: &Placed) -> Option<Region> {
    let (_, _, piece) =
        question.pieces().find(|(_, job, piece)| job.name == placed.job && piece.name == placed.piece)?;
    Some(placed.pose().ring(&piece.outline.ring).to_region())
}

/// The offcuts of a layout that have an outline, in the order of the plan.
///
/// Where outlines overlap (a plan of another program may have them so), all of the slab's rectangles stand for them, which the
/// judge has found apart.
pub(super) fn kept(layout: &Layout, slab: &Slab, pieces: &[Region], kerf: f64) -> Vec<Kept> {
    let of = |outline: fn(&Offcut, &Slab, &[Region], f64) -> Option<Ring>| -> Vec<Kept> {
        let sized = |o: &Offcut| o.rectangle.size[0] * o.rectangle.size[1];
        let ring = |o: &Offcut| Some(Kept { outline: outline(o, slab, pieces, kerf)?, rectangle: sized(o) });
        layout.offcuts.iter().filter_map(ring).collect()
    };
    let kept = of(outline);
    let overlap = kept.iter().enumerate().any(|(i, a)| {
        kept[..i].iter().any(|b| {
            let shared = boolean::intersection(&a.outline.to_region(), &b.outline.to_region());
            shared.area() > tol::CLEARANCE * (a.outline.perimeter() + b.outline.perimeter())
        })
    });
    if overlap { of(|o, _, _, _| rectangle(o)) } else { kept }
}

/// What is left after the cut: the outline that the plan gives, less the kerf round the pieces if it is not off already. The
/// rectangle stands for an outline that is not simple, or that cannot hold the rectangle once the kerf is off.
fn outline(offcut: &Offcut, slab: &Slab, pieces: &[Region], kerf: f64) -> Option<Ring> {
    let rectangle = rectangle(offcut)?;
    let points: Vec<Point> = offcut.outline.iter().map(|&p| p.into()).collect();
    let Ok((drawn, _)) = Ring::tidy(&points) else { return Some(rectangle) };
    // Where a plan has let the rectangle stand for an outline, its rounded numbers are the better ones.
    let is_near = |p: &Point| rectangle.points().iter().any(|q| p.distance(*q) < STANDS_FOR);
    if drawn.points().len() == 4 && drawn.points().iter().all(is_near) {
        return Some(rectangle);
    }
    let region = drawn.to_region();
    let clear = pieces.iter().all(|p| distance::regions(&region, p).distance >= kerf - tol::CLEARANCE);
    let inside = distance::inside_ring(&region, &slab.outline).distance >= -tol::CLEARANCE;
    if clear && inside {
        return Some(drawn);
    }
    let gone: Vec<Region> = pieces.iter().map(|p| sum::grown(p, kerf, EXCESS)).collect();
    let left = boolean::difference(&region, &boolean::union_all(&gone));
    let left = boolean::intersection(&left, &slab.outline.to_region());
    let middle = rectangle.points().iter().fold(Point::default(), |m, &p| m + p * 0.25);
    let part = left.polygons.into_iter().find(|p| p.holes.is_empty() && p.contains(middle));
    part.and_then(|p| Ring::tidy(p.outer.points()).ok()).map_or(Some(rectangle), |(ring, _)| Some(ring))
}

fn rectangle(offcut: &Offcut) -> Option<Ring> {
    let r = &offcut.rectangle;
    let turned = Turned { corner: r.corner.into(), size: r.size, turn: r.turn };
    Ring::tidy(&turned.corners()).ok().map(|(ring, _)| ring)
}

impl Kept {
    /// The offcut as a slab of the rack, in its own frame.
    ///
    /// Its price is its worth in the plan: its rectangle's area times the slab's price per area times `keep_share`, to the
    /// cent. So what a plan says that it saves is what the rack then asks for the offcut.
    pub(super) fn as_slab(&self, slab: &Slab, name: String, from: CameFrom, limits: &Limits) -> Slab {
        let at = from.at;
        let region = self.outline.to_region();
        let beyond = (limits.flaw_gap - limits.trim).max(0.0);
        let worth = self.rectangle * slab.price_per_mm2() * limits.keep_share;
        Slab {
            name,
            price: (worth * 100.0).round() / 100.0,
            outline: self.outline.map(|p| p - at),
            flaws: slab.flaws.iter().flat_map(|f| inherited(f, &region, beyond, at)).collect(),
            // The picture is the same; its marks lie elsewhere in the offcut's own frame, some of them beyond it.
            photo: slab.photo.as_ref().map(|photo| {
                let places = photo.at.iter().map(|&p| p - at).collect();
                Box::new(Photo { at: places, ..(**photo).clone() })
            }),
            from: Some(Box::new(from)),
            ..slab.clone()
        }
    }
}

/// What of a flaw lies in the offcut or within `beyond` (mm) of it, moved into its frame.
///
/// A piece keeps the trim from the outline and the flaw gap from a flaw. So what lies beyond the outline can bear on a piece only
/// within the flaw gap less the trim: with usual limits, never.
fn inherited(flaw: &Flaw, region: &Region, beyond: f64, at: Point) -> Vec<Flaw> {
    /// Shorter lines (mm) and smaller areas (mm²) are what a clip leaves at a touch.
    const LEAST: f64 = 0.01;
    if flaw.distance_to(region).distance > beyond {
        return Vec::new();
    }
    let reach = sum::grown(region, beyond + flaw.radius, EXCESS);
    let length = |line: &[Point]| line.windows(2).map(|w| w[0].distance(w[1])).sum::<f64>();
    let moved = |line: &[Point]| -> Vec<Point> { line.iter().map(|&p| p - at).collect() };
    let bodies: Vec<FlawBody> = match &flaw.body {
        FlawBody::Spot(p) => vec![FlawBody::Spot(*p - at)],
        FlawBody::Line(line) => clip::line_within(line, &reach)
            .iter()
            .filter(|part| length(part) > LEAST)
            .map(|part| FlawBody::Line(moved(part)))
            .collect(),
        FlawBody::Area(ring) => boolean::intersection(&ring.to_region(), &reach)
            .polygons
            .iter()
            .filter(|part| part.area() > LEAST)
            // A hole would be stone that the flaw runs round; without it the flaw is only larger.
            .filter_map(|part| Ring::tidy(&moved(part.outer.points())).ok())
            .map(|(ring, _)| FlawBody::Area(ring))
            .collect(),
    };
    bodies.into_iter().map(|body| Flaw { body, ..flaw.clone() }).collect()
}
