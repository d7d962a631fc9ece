//! What a piece claims of its slab where pieces may lie in drops: its stone, and what the tools of its openings take out of
//! the drops.
//!
//! In: a piece, the thickness of its stone, the shop. Out: a region. Must not know: how an opening is cut in the end. It allows for
//! every core that may be drilled in a corner, and for the longest cuts.

use std::f64::consts::TAU;

use crate::geom::curve::{Corner, Side, disc_outside};
use crate::geom::sum::Convex;
use crate::geom::{Point, Polygon, Region, Ring, boolean, sum, tol};
use crate::model::{Job, Limits, Opening, Piece, Shape, Shop, Tools};

/// By how much round borders may lie too far out, mm.
const EXCESS: f64 = 0.02;

/// What no other piece may come near: the outline, less the parts of its drops that nothing is cut into. Without `use_drops` the
/// outline. `thickness`: of the job's stone, mm.
#[must_use]
pub fn claimed(piece: &Piece, thickness: f64, shop: &Shop) -> Region {
    let outline = piece.outline.ring.clone();
    if !shop.limits.use_drops {
        return outline.to_region();
    }
    let mut holes: Vec<Ring> = Vec::new();
    let mut islands: Vec<Polygon> = Vec::new();
    for opening in &piece.openings {
        for free in free_drop(opening, thickness, shop).polygons {
            holes.push(free.outer);
            islands.extend(free.holes.into_iter().map(|outer| Polygon { outer, holes: Vec::new() }));
        }
    }
    let mut polygons = vec![Polygon { outer: outline, holes }];
    polygons.extend(islands);
    Region { polygons }
}

/// What a piece claims whatever the tools and the slab: proofs that no plan can do better stand on it.
#[must_use]
pub fn claimed_at_least(piece: &Piece, limits: &Limits) -> Region {
    if limits.use_drops { piece.stone() } else { piece.outline.ring.to_region() }
}

/// The part of a drop that no tool cuts into.
fn free_drop(opening: &Opening, thickness: f64, shop: &Shop) -> Region {
    let (limits, tools) = (&shop.limits, &shop.tools);
    // A body knows no slab: what stays in one of them holds nothing in any.
    if !opening.drop_stays.is_empty() {
        return Region::empty();
    }
    let hole = Ring::vouched_outline(opening.shape.flatten(Side::Inner).points).to_region();
    let inner = sum::shrunk(&hole, kerf(limits, tools), EXCESS);
    match &opening.shape {
        Shape::Ellipse { half_x, half_y, .. } => {
            // One core may make it.
            let bit = tools.core_bits.iter().copied().fold(0.0, f64::max);
            if 2.0 * half_x.max(*half_y) <= bit + Tools::SAME_BIT { Region::empty() } else { inner }
        }
        Shape::Polygon(corners) => {
            let taken: Vec<Convex> = (0..corners.len()).flat_map(|i| at_corner(corners, i, thickness, shop)).collect();
            let reach = inner.bbox();
            let near = taken.iter().filter(|t| crate::geom::BBox::of(t.iter()).near(&reach, 0.0));
            boolean::difference(&inner, &boolean::union_loops(near.map(Vec::as_slice)))
        }
    }
}

/// The widest kerf that any saw of the shop cuts, mm.
fn kerf(limits: &Limits, tools: &Tools) -> f64 {
    tools.blades.iter().map(|b| b.kerf).fold(limits.kerf, f64::max)
}

/// What is cut into the drop at a corner: its core, a row of small cuts, saw cuts that run on past it.
fn at_corner(corners: &[Corner], i: usize, thickness: f64, shop: &Shop) -> Vec<Convex> {
    let n = corners.len();
    let Corner { at, radius } = corners[i];
    let (u, v) = (at - corners[(i + n - 1) % n].at, corners[(i + 1) % n].at - at);
    if !(u.norm() > tol::SAME_POINT && v.norm() > tol::SAME_POINT) {
        return Vec::new();
    }
    let angle = u.cross(v).atan2(u.dot(v));
    let (u, v) = (u * (1.0 / u.norm()), v * (1.0 / v.norm()));
    let tools = &shop.tools;
    let kerf = kerf(&shop.limits, tools);
    // Stone of the slab may be a little thicker than the job says.
    let depth = [tools.through(thickness - Job::SAME_THICKNESS), tools.through(thickness + Job::SAME_THICKNESS)];
    if angle < 0.0 {
        // The saw runs on past the corner, along both sides, from where the rounding begins.
        let run = longest(tools, depth[1]);
        let round = radius * (angle / 2.0).tan().abs();
        let strip = |along: Point, left: Point| {
            let (from, to) = (at - along * round, at + along * run);
            sum::hull(&[from, to, to + left * kerf, from + left * kerf])
        };
        return if run > 0.0 && kerf > 0.0 { vec![strip(u, u.left()), strip(-v, v.left())] } else { Vec::new() };
    }
    if angle.to_degrees() <= Tools::CORNER {
        return Vec::new();
    }
    let inwards = (v - u) * (1.0 / (v - u).norm().max(f64::MIN_POSITIVE));
    let bits = tools.core_bits.iter().copied();
    let bit = bits.filter(|d| d / 2.0 <= radius + tol::CLEARANCE).reduce(f64::max);
    let off = |r: f64| r / (angle / 2.0).cos();
    let mut taken = Vec::new();
    let mut row = true;
    if let Some(bit) = bit {
        // The largest core touches both sides, or the arc from inside; a smaller one would lie between it and the corner.
        let touching = at + inwards * off(bit / 2.0);
        let in_arc = at + inwards * (off(radius) - radius + bit / 2.0);
        let disc = disc_outside(bit / 2.0, EXCESS, &[u.left(), v.left(), -u.left(), -v.left()]);
        let discs = [touching, in_arc].into_iter().flat_map(|c| disc.iter().map(move |&p| c + p));
        taken.push(sum::hull(&discs.chain([at]).collect::<Vec<_>>()));
        row = off(radius - bit / 2.0) - (radius - bit / 2.0) > Tools::PAST_LINE;
    }
    if row {
        let half = angle / 2.0;
        let pocket = tools.core_bits.iter().copied().reduce(f64::min).map_or(Tools::POCKET, |d| d / 2.0);
        let reach = radius.max(pocket) * half.tan();
        let line = line_of(at, radius, u, v, reach, angle);
        let middle = at + inwards * (reach / half.sin());
        let short = Tools::ROW_SHORT + kerf / 2.0 * half.tan().max(1.0);
        let to_middle = line.iter().map(|p| p.distance(middle)).fold(0.0, f64::max);
        let reach = to_middle.max(short + 2.0 * smallest_reaching(tools, depth)) + kerf / 2.0;
        taken.extend(sum::grown_line_parts(&line, reach + tol::FLATTEN, EXCESS));
    }
    taken
}

/// The line of a corner: along one side for `reach` (mm) to where its rounding begins, round, and along the other.
fn line_of(at: Point, radius: f64, u: Point, v: Point, reach: f64, angle: f64) -> Vec<Point> {
    /// Steps of the arc: a full circle of 300 mm would be off by 0.05 mm.
    const STEPS: f64 = 170.0;
    let tangent = radius * (angle / 2.0).tan();
    let mut line = vec![at - u * reach];
    let steps = (angle / TAU * STEPS).ceil().max(1.0) as usize;
    let middle = at - u * tangent + u.left() * radius;
    line.extend((0..=steps).map(|k| {
        let (sin, cos) = (angle * k as f64 / steps as f64).sin_cos();
        middle + u * (sin * radius) - u.left() * (cos * radius)
    }));
    line.push(at + v * reach);
    line.dedup_by(|a, b| a.distance(*b) < tol::SAME_POINT);
    line
}

/// Half the length that a blade cuts on the surface at most, let down that deep, mm.
fn longest(tools: &Tools, depth: f64) -> f64 {
    tools.blades.iter().map(|b| b.overrun(depth.min(b.diameter / 2.0)).unwrap_or(0.0)).fold(0.0, f64::max)
}

/// Half the length that the smallest blade which reaches a depth cuts on the surface, mm, for any depth from the first to the
/// second; 0 if none reaches.
fn smallest_reaching(tools: &Tools, [from, to]: [f64; 2]) -> f64 {
    let reaching = |depth: f64| tools.blades.iter().map(|b| b.diameter).filter(|d| d / 2.0 >= depth).reduce(f64::min);
    let (Some(least), most) = (reaching(from), reaching(to).unwrap_or(f64::INFINITY)) else { return 0.0 };
    let may = tools.blades.iter().filter(|b| b.diameter >= least && b.diameter <= most);
    may.map(|b| b.overrun(to.min(b.diameter / 2.0)).unwrap_or(0.0)).fold(0.0, f64::max)
}
