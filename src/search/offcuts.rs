//! What is left of a slab and worth keeping, as the stone that it is.
//!
//! In: a slab with its pieces laid. Out: offcuts, the largest rectangle first. Must not know: the rack, how an offcut is drawn.
//!
//! Pieces keep the trim from the slab's outline and the kerf is less, so a strip of stone runs round all of them. Such strips are no part
//! of an offcut: they break off, or are cut off. What is broad is one, with the slab's own edges as they are, so that a straight-edge lies
//! against it as it lay against the slab.

use super::space::Space;
use super::state::Cut;
use crate::geom::broad::broad;
use crate::geom::rectangle::{Turned, Want, largest};
use crate::geom::{BBox, Point, Polygon, Pose, Region, Ring, boolean, pt, simplify, sum};
use crate::model::{Limits, Offcut, Rectangle};

/// Strips narrower than this (mm) are not part of an offcut (our choice: three thicknesses of the usual stone). Wider: outlines lose arms
/// that somebody could use. Narrower: arms that break off when the offcut is carried.
const STRIP: f64 = 100.0;

/// Outlines may be this much too small, mm, for fewer corners; and rounded borders so much too far from the pieces.
const DETAIL: f64 = 0.2;
const EXCESS: f64 = 0.05;

/// More are never kept of one slab; it bounds the work.
const MOST: usize = 20;

/// The offcuts of what is left once the kerf round every piece is gone: that of the largest free rectangle, and so on as long as one is
/// worth keeping.
pub(super) fn offcuts(space: &Space<'_>, cut: &Cut) -> Vec<Offcut> {
    let limits = space.limits();
    let slab = &space.question.rack[cut.slab];
    let gone: Vec<Region> = cut
        .all_spots(space)
        .map(|s| {
            let outline = Pose::new(s.turn, s.shift).ring(&space.piece_of(s.class).outline.ring);
            sum::grown(&outline.to_region(), limits.kerf, EXCESS)
        })
        .collect();
    let mut left = boolean::difference(&slab.outline.to_region(), &boolean::union_all(&gone));
    let mut free = cut.rest_region(space, EXCESS);
    let directions = cut.directions(space);
    let want = Want { least_side: limits.keep_side, least_area: limits.keep_area, detail: 1.0 };
    let mut out = Vec::new();
    while out.len() < MOST
        && let Some(r) = largest(&free, &directions, &want)
    {
        let outline = outline_of(&left, &r, strip(limits));
        let taken = sum::grown(&outline.to_region(), limits.kerf, EXCESS);
        (left, free) = (boolean::difference(&left, &taken), boolean::difference(&free, &taken));
        let outline = outline.points().iter().map(|&p| p.into()).collect();
        out.push(Offcut { outline, rectangle: written(&r) });
    }
    out
}

/// The width of strips that no offcut has: no more than what is kept at least.
fn strip(limits: &Limits) -> f64 {
    STRIP.max(2.0 * limits.trim).min(limits.keep_side)
}

/// The outline of the offcut that holds a rectangle, out of what is left.
///
/// Stone that runs right round a piece is cut along sides of the rectangle, through to the edge of the slab: along one if that is enough,
/// else along two or three, so that most is kept. If nothing helps, the rectangle is cut out.
fn outline_of(left: &Region, rectangle: &Turned, strip: f64) -> Ring {
    let corners = Ring::vouched_outline(rectangle.corners().to_vec());
    // The rectangle is part of it, also where borders were rounded.
    let whole = boolean::union(&broad(left, strip, rectangle.turn), &corners.to_region());
    let size = whole.bbox();
    let far = size.width().hypot(size.height()) + 1.0;
    let middle = rectangle.corners().iter().fold(Point::default(), |m, &p| m + p * 0.25);
    let along = |sides: u32| -> Option<(f64, Ring)> {
        let within = if sides == 0 {
            whole.clone()
        } else {
            boolean::intersection(&whole, &bounded(rectangle, sides, far).to_region())
        };
        let found: Option<Polygon> = within.polygons.into_iter().find(|p| p.contains(middle));
        let outer = found.filter(|p| p.holes.is_empty())?.outer;
        let outer = boolean::union(&simplify::enclosed(&outer, DETAIL).to_region(), &corners.to_region());
        let ring = Ring::tidy(outer.polygons.first()?.outer.points()).ok()?.0;
        Some((ring.area(), ring))
    };
    for count in 0..4_u32 {
        let sets = (0..15_u32).filter(|set| set.count_ones() == count);
        let best = sets.filter_map(along).fold(None, |best: Option<(f64, Ring)>, next| match best {
            Some(b) if b.0 >= next.0 => Some(b),
            _ => Some(next),
        });
        if let Some((_, ring)) = best {
            return ring;
        }
    }
    corners
}

/// The rectangle, moved out by `far` (mm) on the sides that are not in the set: 1 its left one, 2 the right, 4 the lower, 8 the upper.
fn bounded(rectangle: &Turned, sides: u32, far: f64) -> Ring {
    let out = |bit: u32| if sides & bit == 0 { far } else { 0.0 };
    let [w, h] = rectangle.size;
    let own = BBox { min: pt(-out(1), -out(4)), max: pt(w + out(2), h + out(8)) };
    let pose = Pose::new(rectangle.turn, rectangle.corner);
    Ring::vouched_outline(own.corners().iter().map(|&p| pose.apply(p)).collect())
}

/// The rectangle on a 0.1 mm grid, rounded inwards.
fn written(r: &Turned) -> Rectangle {
    let up = |v: f64| (v * 10.0 - 1e-6).ceil() / 10.0;
    let down = |v: f64| (v * 10.0 + 1e-6).floor() / 10.0;
    if r.turn == 0.0 {
        let (x0, y0) = (up(r.corner.x), up(r.corner.y));
        let (x1, y1) = (down(r.corner.x + r.size[0]), down(r.corner.y + r.size[1]));
        let tenth = |v: f64| (v * 10.0).round() / 10.0;
        Rectangle { corner: [x0, y0], size: [tenth(x1 - x0), tenth(y1 - y0)], turn: 0.0 }
    } else {
        Rectangle { corner: r.corner.into(), size: [down(r.size[0]), down(r.size[1])], turn: r.turn }
    }
}
