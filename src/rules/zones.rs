//! The part of a piece that a flaw must stay away from, as one region per set of forbidden zones.

use crate::geom::point::orient;
use crate::geom::{BBox, Point, Region, Ring, boolean, pt, sum};
use crate::model::{Limits, Opening, Piece, Zone, Zones};

/// By how much rounded borders of zones may lie too far out, mm. Smaller: more vertices, slower sums.
const EXCESS: f64 = 0.05;

/// By how much a zone is too narrow where it takes its part from the zones that come after it, mm.
const SHORT: f64 = 0.01;

/// What lies within a zone's reach: made so much less, and up to so much more than that, mm.
type Within<'w> = dyn Fn(f64, f64) -> Region + 'w;

/// At least the union of the zones in `forbidden`, piece frame. Zones overlap nowhere: rail before edge before hidden before field;
/// the drop is the openings. Round borders are up to 0.05 mm off, never so that the union is too small.
#[must_use]
pub fn forbidden_region(piece: &Piece, limits: &Limits, forbidden: Zones) -> Region {
    let openings = boolean::union_all(&piece.openings.iter().map(|o| o.ring.to_region()).collect::<Vec<_>>());
    let stone = boolean::difference(&piece.outline.ring.to_region(), &openings);
    let rail = |less: f64, excess: f64| {
        let near = |o: &Opening| sum::grown(&o.ring.to_region(), (limits.rail_reach(o.kind) - less).max(0.0), excess);
        boolean::union_all(&piece.openings.iter().map(near).collect::<Vec<_>>())
    };
    let edge = |less: f64, excess: f64| edge_strip(piece, limits.edge_zone - less, excess);
    let hidden = |_: f64, _: f64| hidden_strips(piece);

    // What is left after the zones that come first. A zone is wide where it is forbidden, and narrow where it takes its part
    // from those that come after it: either way the union is not too small.
    let mut rest = stone;
    let mut wanted: Vec<Region> = Vec::new();
    let zones: [(Zone, &Within<'_>); 3] = [(Zone::Rail, &rail), (Zone::Edge, &edge), (Zone::Hidden, &hidden)];
    for (zone, within) in zones {
        if forbidden.has(zone) {
            wanted.push(boolean::intersection(&rest, &within(0.0, EXCESS)));
        }
        rest = boolean::difference(&rest, &within(SHORT, SHORT));
    }
    if forbidden.has(Zone::Field) {
        wanted.push(rest);
    }
    if forbidden.has(Zone::Drop) {
        wanted.push(openings);
    }
    boolean::union_all(&wanted)
}

/// At least everything within `reach` (mm) of the finished edges on the stone's side of them, and nothing farther than
/// `reach + excess`; outside the stone it means nothing.
fn edge_strip(piece: &Piece, reach: f64, excess: f64) -> Region {
    let ring = &piece.outline.ring;
    let n = ring.points().len();
    if reach <= 0.0 || !(0..n).any(|i| piece.outline.is_finished(i)) {
        return Region::empty();
    }
    if ring.is_convex() && (0..n).all(|i| piece.outline.is_finished(i)) {
        let outer = ring.to_region();
        return boolean::difference(&outer, &sum::shrunk(&outer, reach, excess));
    }
    // One strip a side. Round its ends only where that adds something inside the stone: at the ends of a finished run, and
    // at corners that point into the stone. In a convex corner the strips of both sides overlap already.
    let edges: Vec<(Point, Point)> = ring.edges().collect();
    let mut loops: Vec<sum::Convex> = Vec::new();
    for (i, &(a, b)) in edges.iter().enumerate() {
        if !piece.outline.is_finished(i) {
            continue;
        }
        let inwards = (b - a).left() * (reach / a.distance(b));
        loops.push(vec![a, b, b + inwards, a + inwards]);
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        let turns_in = |p: Point, q: Point, r: Point| orient(p, q, r) < 0.0;
        if !piece.outline.is_finished(before) || turns_in(edges[before].0, a, b) {
            loops.extend(sum::grown_line_parts(&[a], reach, excess));
        }
        if !piece.outline.is_finished(after) || turns_in(a, b, edges[after].1) {
            loops.extend(sum::grown_line_parts(&[b], reach, excess));
        }
    }
    boolean::union_loops(loops.iter().map(Vec::as_slice))
}

fn hidden_strips(piece: &Piece) -> Region {
    let b = piece.outline.ring.bbox();
    let h = piece.hidden;
    let strips = [
        (h.front, BBox { min: b.min, max: pt(b.max.x, b.min.y + h.front) }),
        (h.back, BBox { min: pt(b.min.x, b.max.y - h.back), max: b.max }),
        (h.left, BBox { min: b.min, max: pt(b.min.x + h.left, b.max.y) }),
        (h.right, BBox { min: pt(b.max.x - h.right, b.min.y), max: b.max }),
    ];
    let regions: Vec<Region> =
        strips.iter().filter(|(width, _)| *width > 0.0).map(|&(_, b)| Ring::rectangle(b).to_region()).collect();
    boolean::union_all(&regions)
}
