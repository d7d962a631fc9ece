//! The part of a piece that a flaw must stay away from, as one region per set of forbidden zones.

use crate::geom::point::orient;
use crate::geom::{BBox, Point, Region, Ring, boolean, pt, sum};
use crate::model::{Limits, Piece, Zone, Zones};

/// By how much rounded borders of zones may lie too far out, mm. Smaller: more vertices, slower sums.
const EXCESS: f64 = 0.05;

/// The union of the zones in `forbidden`, piece frame. Zones overlap nowhere: rail before edge before hidden before field;
/// the drop is the openings. Round borders are up to 0.05 mm off, always so that the union is not too small.
#[must_use]
pub fn forbidden_region(piece: &Piece, limits: &Limits, forbidden: Zones) -> Region {
    let openings = boolean::union_all(&piece.openings.iter().map(|o| o.ring.to_region()).collect::<Vec<_>>());
    let stone = boolean::difference(&piece.outline.ring.to_region(), &openings);
    let near_openings: Vec<Region> =
        piece.openings.iter().map(|o| sum::grown(&o.ring.to_region(), limits.rail_reach(o.kind), EXCESS)).collect();
    let rail = boolean::union_all(&near_openings);
    let edge = edge_strip(piece, limits.edge_zone);
    let hidden = hidden_strips(piece);

    // What is left after the zones that come first.
    let mut rest = stone;
    let mut wanted: Vec<Region> = Vec::new();
    for (zone, reach) in [(Zone::Rail, &rail), (Zone::Edge, &edge), (Zone::Hidden, &hidden)] {
        if forbidden.has(zone) {
            wanted.push(boolean::intersection(&rest, reach));
        }
        rest = boolean::difference(&rest, reach);
    }
    if forbidden.has(Zone::Field) {
        wanted.push(rest);
    }
    if forbidden.has(Zone::Drop) {
        wanted.push(openings);
    }
    boolean::union_all(&wanted)
}

/// At least everything within `reach` (mm) of the finished edges on the stone's side of them; outside the stone it means
/// nothing.
fn edge_strip(piece: &Piece, reach: f64) -> Region {
    let ring = &piece.outline.ring;
    let n = ring.points().len();
    if reach <= 0.0 || !(0..n).any(|i| piece.outline.is_finished(i)) {
        return Region::empty();
    }
    if ring.is_convex() && (0..n).all(|i| piece.outline.is_finished(i)) {
        let outer = ring.to_region();
        return boolean::difference(&outer, &sum::shrunk(&outer, reach, EXCESS));
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
            loops.extend(sum::grown_line_parts(&[a], reach, EXCESS));
        }
        if !piece.outline.is_finished(after) || turns_in(a, b, edges[after].1) {
            loops.extend(sum::grown_line_parts(&[b], reach, EXCESS));
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
