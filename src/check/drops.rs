//! A piece in the drop of another keeps the gap from all that is cut into that drop when the opening is made.
//!
//! Comes in: where pieces stand, the shop's tools. Goes out: findings. It must not know how an opening is cut: it holds every core
//! that could be chosen for a corner, every kerf and the longest cuts against the piece.

use super::falls_short;
use super::finding::{Draft, length, lengths, place};
use super::line::true_line;
use super::reading::{Sheet, Standing};
use crate::geom::curve::Corner;
use crate::geom::distance::{self, Nearest};
use crate::geom::{Point, Region, Ring, pt, sum, tol};
use crate::model::{Blade, Finding, Opening, Rule, Shape, Shop, Tools};

/// How finely lines are drawn, mm.
const FINE: f64 = tol::CLEARANCE / 2.0;

/// Indexes of the piece and of its opening in whose drop each piece of a sheet lies, the smallest such opening.
pub(super) fn laid_in(sheet: &Sheet) -> Vec<Option<(usize, usize)>> {
    let all = &sheet.standing;
    let lies_in = |inner: &Standing, outer: &Standing, opening: &Opening| {
        let points = inner.piece.outline.ring.points();
        points.iter().all(|&p| opening.ring.contains(outer.pose.undo(inner.pose.apply(p))))
    };
    (0..all.len())
        .map(|k| {
            let mut best: Option<(f64, (usize, usize))> = None;
            for (i, outer) in all.iter().enumerate().filter(|&(i, _)| i != k) {
                for (o, opening) in outer.piece.openings.iter().enumerate() {
                    let area = opening.ring.area();
                    if best.is_none_or(|b| area < b.0) && lies_in(&all[k], outer, opening) {
                        best = Some((area, (i, o)));
                    }
                }
            }
            best.map(|b| b.1)
        })
        .collect()
}

/// Every piece keeps the gap from what is cut into the drops of the others on its slab.
pub(super) fn are_kept_clear(on_slab: &[&Standing], first_here: usize, shop: &Shop, findings: &mut Vec<Finding>) {
    for (i, outer) in on_slab.iter().enumerate() {
        for opening in &outer.piece.openings {
            let mut cuts: Option<Vec<Cut>> = None;
            for (k, inner) in on_slab.iter().enumerate() {
                // Each pair once: with the sheet that the later of the two stands on.
                if k == i || k.max(i) < first_here {
                    continue;
                }
                // In the frame of the piece with the opening.
                let ring = inner.pose.ring(&inner.piece.outline.ring).map(|p| outer.pose.undo(p));
                if !ring.bbox().near(&opening.ring.bbox(), 0.0) {
                    continue;
                }
                // What lies in the drop by a part is too close to the stone round it.
                if !ring.points().iter().all(|&p| opening.ring.contains(p)) {
                    continue;
                }
                if opening.drop_stays.contains(&inner.slab.name) {
                    findings.push(stays(inner, outer, opening));
                    continue;
                }
                let cuts = cuts.get_or_insert_with(|| cuts_into(opening, outer.slab.thickness, shop));
                let body = ring.to_region();
                let nearest = cuts
                    .iter()
                    .map(|cut| (cut.distance_to(&body), cut))
                    .reduce(|best, next| if next.0.distance < best.0.distance { next } else { best });
                let Some((near, cut)) = nearest else { continue };
                if falls_short(near.distance, shop.limits.gap) {
                    findings.push(too_near((inner, outer, opening), cut, near, shop));
                }
            }
        }
    }
}

fn stays(inner: &Standing, outer: &Standing, opening: &Opening) -> Finding {
    let (one, other, hole, slab) = (&inner.piece.name, &outer.piece.name, &opening.name, &inner.slab.name);
    let message = format!(
        "\"{one}\" lies in the drop of \"{hole}\" of \"{other}\" on {slab}, and the drop stays in: the opening is only scored in the \
         shop, or must not be cut as drawn"
    );
    let draft = Draft::broken(Rule::DropStays, message).piece(inner.job, inner.piece).slab(inner.slab);
    let at = inner.pose.apply(inner.piece.outline.ring.bbox().centre());
    draft.opening(hole).at(at).into()
}

fn too_near(
    (inner, outer, opening): (&Standing, &Standing, &Opening),
    cut: &Cut,
    near: Nearest,
    shop: &Shop,
) -> Finding {
    let (gap, shown) = (shop.limits.gap, shop.shown);
    let at = outer.pose.apply(near.from);
    let (one, other, hole, slab) = (&inner.piece.name, &outer.piece.name, &opening.name, &inner.slab.name);
    let (found, needed) = lengths(shown, near.distance.abs(), gap);
    let (what, place) = (&cut.what, place(shown, at));
    let lies = if near.distance < -tol::CLEARANCE {
        format!("{what} cuts {found} into it at {place}")
    } else {
        format!("{what} comes within {found} of it at {place}")
    };
    let message = format!(
        "\"{one}\" lies in the drop of \"{hole}\" of \"{other}\" on {slab}, where {lies}; {needed} between them is needed"
    );
    let draft = Draft::broken(Rule::DropCutInto, message).piece(inner.job, inner.piece).slab(inner.slab);
    draft.opening(hole).at(at).measured(near.distance, gap).into()
}

/// Something that is cut into a drop: all within a distance of a body or of a line, piece frame.
struct Cut {
    what: String,
    body: Body,
    /// How far it reaches from there, mm.
    reach: f64,
}

enum Body {
    Area(Region),
    Line(Vec<Point>),
    /// The line round the opening.
    Border(Ring),
}

impl Cut {
    fn distance_to(&self, piece: &Region) -> Nearest {
        let near = match &self.body {
            Body::Area(area) => distance::regions(area, piece),
            Body::Line(line) => distance::line_to_region(line, piece),
            Body::Border(ring) => {
                piece.rings().map(|r| distance::ring_lines(r, ring)).fold(Nearest::NONE, Nearest::min)
            }
        };
        Nearest { distance: near.distance - self.reach, ..near }
    }
}

/// All that may be cut into the drop of an opening in stone of a thickness (mm).
fn cuts_into(opening: &Opening, thickness: f64, shop: &Shop) -> Vec<Cut> {
    let tools = &shop.tools;
    let kerf = tools.blades.iter().fold(shop.limits.kerf, |widest, b| widest.max(b.kerf));
    let border = Ring::vouched_outline(true_line(&opening.shape, FINE));
    let mut cuts = vec![Cut {
        what: format!("the saw cut round it ({})", length(shop.shown, kerf, 1)),
        body: Body::Border(border),
        reach: kerf,
    }];
    match &opening.shape {
        Shape::Ellipse { centre, half_x, half_y } => {
            let width = 2.0 * half_x.max(*half_y);
            if tools.core_bits.iter().any(|bit| bit + Tools::SAME_BIT >= width) {
                let body = Body::Line(vec![*centre]);
                cuts.push(Cut {
                    what: format!("the core of {}", length(shop.shown, width, 1)),
                    body,
                    reach: width / 2.0,
                });
            }
        }
        Shape::Polygon(corners) => {
            for i in 0..corners.len() {
                if let Some(elbow) = Elbow::of(corners, i) {
                    elbow.cuts(thickness, kerf, shop, &mut cuts);
                }
            }
        }
    }
    cuts
}

/// The convex hull of points; `None` if it has no area.
fn area(points: &[Point]) -> Option<Body> {
    Ring::tidy(&sum::hull(points)).ok().map(|(ring, _)| Body::Area(ring.to_region()))
}

/// A corner of an opening.
struct Elbow {
    at: Point,
    radius: f64,
    /// Directions of the side that comes and of the one that goes, degrees.
    comes: f64,
    goes: f64,
    /// By how much the line turns left, degrees.
    turn: f64,
}

/// The point at a distance in a direction (degrees).
fn towards(from: Point, degrees: f64, by: f64) -> Point {
    let (sin, cos) = degrees.to_radians().sin_cos();
    from + pt(cos, sin) * by
}

impl Elbow {
    fn of(corners: &[Corner], i: usize) -> Option<Self> {
        let n = corners.len();
        let Corner { at, radius } = corners[i];
        let (before, after) = (corners[(i + n - 1) % n].at, corners[(i + 1) % n].at);
        if before.distance(at) <= tol::SAME_POINT || after.distance(at) <= tol::SAME_POINT {
            return None;
        }
        let heading = |v: Point| v.y.atan2(v.x).to_degrees();
        let (comes, goes) = (heading(at - before), heading(after - at));
        let turn = (goes - comes + 180.0).rem_euclid(360.0) - 180.0;
        Some(Self { at, radius, comes, goes, turn })
    }

    /// The middle of the circle of a radius that touches both sides.
    fn middle(&self, radius: f64) -> Point {
        let along = radius * (self.turn / 2.0).to_radians().tan();
        towards(towards(self.at, self.comes, -along), self.comes + 90.0, radius)
    }

    fn cuts(&self, thickness: f64, kerf: f64, shop: &Shop, cuts: &mut Vec<Cut>) {
        let tools = &shop.tools;
        let depth = tools.through(thickness);
        let half_chord = |b: &Blade| b.overrun(depth).unwrap_or(0.0);
        if self.turn < 0.0 {
            let run = tools.blades.iter().map(half_chord).fold(0.0, f64::max);
            // A rounding begins before the corner.
            let round = self.radius * (self.turn / 2.0).to_radians().tan().abs();
            for (along, left) in [(self.comes, self.comes + 90.0), (self.goes + 180.0, self.goes + 90.0)] {
                let (start, end) = (towards(self.at, along, -round), towards(self.at, along, run));
                let quad = [start, end, towards(end, left, kerf), towards(start, left, kerf)];
                if let (true, Some(body)) = (run > 0.0, area(&quad)) {
                    cuts.push(Cut { what: "a saw cut that runs on past a corner".to_owned(), body, reach: 0.0 });
                }
            }
            return;
        }
        if self.turn <= Tools::CORNER {
            return;
        }
        // The largest core that the corner has room for, touching both sides or the arc; smaller ones lie nearer to the corner.
        let fitting = tools.core_bits.iter().copied().filter(|bit| *bit <= 2.0 * (self.radius + tol::CLEARANCE));
        let bit = fitting.fold(0.0, f64::max);
        let inwards = self.comes + self.turn / 2.0 + 90.0;
        let touching = self.middle(bit / 2.0);
        let deeper =
            self.at.distance(self.middle(self.radius)) - self.radius - (self.at.distance(touching) - bit / 2.0);
        let in_arc = towards(touching, inwards, deeper);
        if bit > 0.0 {
            // From the corner to both: what is nearer than the radius to the line between the middles, and the wedge to the corner.
            let what = format!("the core of {}", length(shop.shown, bit, 1));
            let line = Body::Line(vec![touching, in_arc]);
            cuts.push(Cut { what: what.clone(), body: line, reach: bit / 2.0 });
            let along = bit / 2.0 * (self.turn / 2.0).to_radians().tan();
            let wedge = [self.at, towards(self.at, self.goes, along), touching, towards(self.at, self.comes, -along)];
            cuts.extend(area(&wedge).map(|body| Cut { what, body, reach: 0.0 }));
        }
        // How far it takes stone beyond the line: the same as how far the one middle is from the other.
        if bit > 0.0 && deeper <= Tools::PAST_LINE {
            return;
        }
        let half = (self.turn / 2.0).to_radians();
        let smallest = tools.core_bits.iter().copied().reduce(f64::min).map_or(Tools::POCKET, |bit| bit / 2.0);
        let round = self.radius.max(smallest);
        let (along, arc_along) = (round * half.tan(), self.radius * half.tan());
        let centre = self.middle(self.radius);
        let steps = (self.turn / 0.5).ceil().max(1.0);
        let arc = (0..=steps as usize)
            .map(|k| towards(centre, self.comes - 90.0 + self.turn * k as f64 / steps, self.radius));
        let mut line = vec![towards(self.at, self.comes, -along)];
        if arc_along > 0.0 {
            line.extend(arc)
        } else {
            line.push(self.at)
        }
        line.push(towards(self.at, self.goes, along));
        let aim = self.middle(round);
        let to_aim = line.iter().map(|p| p.distance(aim)).fold(0.0, f64::max);
        let reaching = tools.blades.iter().filter(|b| b.overrun(depth).is_some());
        let blade = reaching.min_by(|a, b| a.diameter.total_cmp(&b.diameter));
        let long = Tools::ROW_SHORT + kerf / 2.0 * half.tan().max(1.0) + 2.0 * blade.map_or(0.0, half_chord);
        let what = "the row of small cuts at a corner".to_owned();
        cuts.push(Cut { what, body: Body::Line(line), reach: to_aim.max(long) + kerf / 2.0 });
    }
}
