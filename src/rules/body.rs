//! A piece as layers, and the matrix of what must keep its distance from what.

use super::zones::forbidden_region;
use crate::geom::{BBox, Polygon, Pose, Region, pt, simplify, sum};
use crate::model::{Limits, Piece, Zones};

/// A layer of a moving body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// The stone, and what the tools of its openings take out of the drops: see [`super::claimed`].
    Stone,
    /// The zones that flaws of one sort may not touch.
    Zone(Zones),
}

/// What a layer may run into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// The slab's outline, from inside.
    Rim,
    /// A flaw that may not touch these zones.
    Flaw(Zones),
    /// The stone of another body.
    Stone,
}

/// The matrix: the least distance (mm) that a layer must keep from a thing; `None` where the two don't bear on one another.
///
/// A new kind of layer (a saw pass, a support) is a new row here, a shape in [`Body::new`], and, if it may run into the stone
/// of other bodies, a look at the pairs in the search, where the second body counts by its stone alone.
#[must_use]
pub fn clearance(layer: Layer, against: Against, limits: &Limits) -> Option<f64> {
    match (layer, against) {
        (Layer::Stone, Against::Rim) => Some(limits.trim),
        (Layer::Stone, Against::Stone) => Some(limits.gap),
        (Layer::Zone(zones), Against::Flaw(forbidden)) if zones == forbidden => Some(limits.flaw_gap),
        _ => None,
    }
}

/// By how much curves may be simplified, mm: bodies only grow by it. Larger: room is lost beside curves. Smaller: a round top
/// has hundreds of sides, and every sum of two bodies has as many as both together.
pub const SIMPLER: f64 = 0.5;

/// The region with fewer corners on its curves, never smaller.
fn enclosing(region: &Region) -> Region {
    let polygons = region
        .polygons
        .iter()
        .map(|p| Polygon {
            outer: simplify::enclosing(&p.outer, SIMPLER),
            holes: p.holes.iter().map(|h| simplify::enclosed(h, SIMPLER)).collect(),
        })
        .collect();
    Region { polygons }
}

/// The shape of one layer.
#[derive(Clone, Debug)]
pub struct LayerShape {
    /// Which layer.
    pub layer: Layer,
    /// Its shape.
    pub region: Region,
    /// The same as convex parts.
    pub parts: Vec<sum::Convex>,
}

/// All layers of what moves as a whole, about one common origin. Never empty; the first layer is the stone.
#[derive(Clone, Debug)]
pub struct Body {
    /// The layers.
    pub layers: Vec<LayerShape>,
    /// Bounding box of the stone.
    pub bbox: BBox,
}

impl Body {
    /// The body of a piece that claims `stone`, piece frame, with a zone layer for each of the `sorts` of flaws (their forbidden
    /// zones).
    #[must_use]
    pub fn new(piece: &Piece, stone: &Region, limits: &Limits, sorts: &[Zones]) -> Self {
        let shape = |layer, region: Region| {
            let region = enclosing(&region);
            LayerShape { layer, parts: sum::convex_parts(&region), region }
        };
        let stone = enclosing(stone);
        let bbox = stone.bbox();
        let mut layers = vec![shape(Layer::Stone, stone)];
        for &zones in sorts {
            let region = forbidden_region(piece, limits, zones);
            if !region.is_empty() {
                layers.push(shape(Layer::Zone(zones), region));
            }
        }
        Self { layers, bbox }
    }

    /// The body turned about its origin.
    #[must_use]
    pub fn turned(&self, degrees: f64) -> Self {
        let pose = Pose::new(degrees, pt(0.0, 0.0));
        let layers: Vec<LayerShape> = self
            .layers
            .iter()
            .map(|l| LayerShape {
                layer: l.layer,
                region: pose.region(&l.region),
                parts: l.parts.iter().map(|p| p.iter().map(|&q| pose.apply(q)).collect()).collect(),
            })
            .collect();
        let bbox = layers[0].region.bbox();
        Self { layers, bbox }
    }

    /// The stone layer.
    #[must_use]
    pub fn stone(&self) -> &LayerShape {
        &self.layers[0]
    }
}
