//! A piece turned so that it is carried along x, and what its sides are called then.
//!
//! In: a piece. Out: its rings, long side along x, lower left at the origin. Must not know: loads.

use crate::geom::{Point, Ring, pt};
use crate::model::Piece;

/// A piece as it is carried.
pub(super) struct View {
    pub(super) outline: Ring,
    pub(super) openings: Vec<Ring>,
    /// True if the piece is deeper than long and so is carried along its depth.
    turned: bool,
    /// The upper corner of its bounding box, piece frame.
    corner: Point,
    origin: Point,
}

impl View {
    pub(super) fn of(piece: &Piece) -> Self {
        let size = piece.outline.ring.bbox();
        let turned = size.height() > size.width();
        let mut view = Self {
            outline: piece.outline.ring.clone(),
            openings: Vec::new(),
            turned,
            corner: size.max,
            origin: size.min,
        };
        view.outline = piece.outline.ring.map(|p| view.seen(p));
        view.openings = piece.openings.iter().map(|o| o.ring.map(|p| view.seen(p))).collect();
        view
    }

    /// A point of the piece as it is seen: a quarter turn clockwise where the piece is deeper than long.
    pub(super) fn seen(&self, p: Point) -> Point {
        if self.turned { pt(p.y - self.origin.y, self.corner.x - p.x) } else { p - self.origin }
    }

    /// The point of the piece that is seen there.
    pub(super) fn unseen(&self, p: Point) -> Point {
        if self.turned { pt(self.corner.x - p.y, p.x + self.origin.y) } else { p + self.origin }
    }

    /// "length" or "depth".
    pub(super) const fn along(&self) -> &'static str {
        if self.turned { "depth" } else { "length" }
    }

    /// The end from which places are counted.
    pub(super) const fn start(&self) -> &'static str {
        if self.turned { "front" } else { "left end" }
    }

    /// The name of the lower or the upper long side.
    pub(super) const fn side(&self, low: bool) -> &'static str {
        match (self.turned, low) {
            (false, true) => "front",
            (false, false) => "back",
            (true, true) => "right",
            (true, false) => "left",
        }
    }
}
