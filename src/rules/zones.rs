//! The part of a piece that a flaw must stay away from, as one region per set of forbidden zones.

use crate::geom::{BBox, Region, Ring, boolean, pt, sum};
use crate::model::{Limits, Piece, Zone, Zones};

/// By how much rounded borders of zones may lie too far out, mm. Smaller: more vertices, slower sums.
const EXCESS: f64 = 0.05;

/// The union of the zones in `forbidden`, piece frame. Zones overlap nowhere: rail before edge before hidden before field;
/// the drop is the openings. Where a zone's border is round, rail and edge reach up to 0.05 mm farther than they must.
#[must_use]
pub fn forbidden_region(piece: &Piece, limits: &Limits, forbidden: Zones) -> Region {
    let openings = boolean::union_all(&piece.openings.iter().map(|o| o.ring.to_region()).collect::<Vec<_>>());
    let stone = boolean::difference(&piece.outline.ring.to_region(), &openings);
    let near_openings: Vec<Region> =
        piece.openings.iter().map(|o| sum::grown(&o.ring.to_region(), limits.rail_reach(o.kind), EXCESS)).collect();
    let rail = boolean::union_all(&near_openings);
    let near_edges: Vec<Region> =
        piece.outline.finished_edges().map(|(a, b)| sum::grown_line(&[a, b], limits.edge_zone, EXCESS)).collect();
    let edge = boolean::union_all(&near_edges);
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
