//! The zones of a piece, built by the letter: a point of the stone is rail if it is within the rail reach of an opening,
//! else edge if within the edge zone of a finished edge, else hidden if within a hidden strip, else field. The drop is no
//! stone, but a flaw that is not allowed in it must stay away from it too.
//!
//! Comes in: a piece and the limits. Goes out: regions, piece frame. It must not know flaws or slabs.
//!
//! Round borders are polygons. A zone is never larger than the true zone, and falls short of it by no more than twice
//! [`EXCESS`]: the judge may overlook 4 µm, and never refuses what is right.

use crate::geom::{BBox, Region, Ring, boolean, pt, sum};
use crate::model::{Limits, Piece, Zone};

/// How far a rounded border may lie from the true one, mm. Smaller: more corners for nothing; the limits themselves are
/// judged to 0.001.
const EXCESS: f64 = 0.002;

/// The zones of one piece, piece frame.
pub(super) struct Zones {
    rail: Region,
    edge: Region,
    hidden: Region,
    field: Region,
    drop: Region,
}

impl Zones {
    /// Builds all zones of a piece.
    pub(super) fn of(piece: &Piece, limits: &Limits) -> Self {
        let outline = piece.outline.ring.to_region();
        let rings: Vec<Region> = piece.openings.iter().map(|o| o.ring.to_region()).collect();
        let drop = boolean::intersection(&outline, &boolean::union_all(&rings));
        let stone = boolean::difference(&outline, &boolean::union_all(&rings));

        // What a zone takes from later ones is its widest; what it is judged by is its narrowest.
        let near_openings = |by: fn(f64) -> f64| {
            let grown: Vec<Region> = piece
                .openings
                .iter()
                .zip(&rings)
                .map(|(o, ring)| sum::grown(ring, by(limits.rail_reach(o.kind)), EXCESS))
                .collect();
            boolean::union_all(&grown)
        };
        let near_edges = |by: f64| {
            let grown: Vec<Region> =
                piece.outline.finished_edges().map(|(a, b)| sum::grown_line(&[a, b], by, EXCESS)).collect();
            boolean::union_all(&grown)
        };
        let narrower = |by: f64| (by - EXCESS).max(0.0);

        let rail = boolean::intersection(&stone, &near_openings(narrower));
        let not_rail = boolean::difference(&stone, &near_openings(|by| by));
        let edge = boolean::intersection(&not_rail, &near_edges(narrower(limits.edge_zone)));
        let not_edge = boolean::difference(&not_rail, &near_edges(limits.edge_zone));
        let strips = hidden_strips(piece);
        let hidden = boolean::intersection(&not_edge, &strips);
        let field = boolean::difference(&not_edge, &strips);
        Self { rail, edge, hidden, field, drop }
    }

    /// The region of a zone.
    pub(super) fn region(&self, zone: Zone) -> &Region {
        match zone {
            Zone::Rail => &self.rail,
            Zone::Edge => &self.edge,
            Zone::Hidden => &self.hidden,
            Zone::Field => &self.field,
            Zone::Drop => &self.drop,
        }
    }
}

/// The strips along the sides of the outline's bounding box that nobody will see. They reach 1 mm beyond the box, so that
/// no sliver of field is left outside them.
fn hidden_strips(piece: &Piece) -> Region {
    let b = piece.outline.shape.extent();
    let (low, high) = (b.min - pt(1.0, 1.0), b.max + pt(1.0, 1.0));
    let h = &piece.hidden;
    let strips: Vec<Region> = [
        (h.front, BBox { min: low, max: pt(high.x, b.min.y + h.front) }),
        (h.right, BBox { min: pt(b.max.x - h.right, low.y), max: high }),
        (h.back, BBox { min: pt(low.x, b.max.y - h.back), max: high }),
        (h.left, BBox { min: low, max: pt(b.min.x + h.left, high.y) }),
    ]
    .into_iter()
    .filter(|(width, _)| *width > 0.0)
    .map(|(_, strip)| Ring::rectangle(strip).to_region())
    .collect();
    boolean::union_all(&strips)
}
