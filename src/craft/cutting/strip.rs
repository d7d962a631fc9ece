//! The strip that a saw takes out of the face: whether it stays in the hole.
//!
//! In: a ring and a line. Out: how far along the line the strip to its left is free. Must not know: tools.

use crate::geom::{Point, Ring, tol};

/// A line in the plane: distances along it and to its left, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    /// Where it starts.
    pub(super) start: Point,
    /// Its direction, of length 1.
    pub(super) along: Point,
}

impl Line {
    /// The point at a distance along the line and to its left.
    pub(super) fn at(&self, along: f64, left: f64) -> Point {
        self.start + self.along * along + self.along.left() * left
    }

    fn places(&self, p: Point) -> (f64, f64) {
        let d = p - self.start;
        (d.dot(self.along), self.along.cross(d))
    }

    /// The first place from `from` to `to` along the line where the ring enters the strip of `width` to the line's left.
    ///
    /// What reaches into the strip by less than the kernel's arcs may be off ([`tol::FLATTEN`]) does not count.
    pub(super) fn first_hit(&self, ring: &Ring, width: f64, from: f64, to: f64) -> Option<f64> {
        let slack = (1.2 * tol::FLATTEN).min(width / 4.0);
        let (low, high) = (slack, width - slack);
        ring.edges()
            .filter_map(|(a, b)| {
                let ((s, y), (t, z)) = (self.places(a), self.places(b));
                // The part of the edge within the strip.
                let (mut first, mut last) = (0.0_f64, 1.0_f64);
                if y == z {
                    if y <= low || y >= high {
                        return None;
                    }
                } else {
                    let (p, q) = ((low - y) / (z - y), (high - y) / (z - y));
                    first = first.max(p.min(q));
                    last = last.min(p.max(q));
                    if first >= last {
                        return None;
                    }
                }
                let (one, other) = (s + (t - s) * first, s + (t - s) * last);
                let (near, far) = (one.min(other), one.max(other));
                (far > from + slack && near < to - slack).then_some(near.max(from))
            })
            .reduce(f64::min)
    }

    /// True if the strip of `width` to the line's left lies in the ring from `from` to `to`.
    pub(super) fn is_free(&self, ring: &Ring, width: f64, from: f64, to: f64) -> bool {
        ring.contains(self.at((from + to) / 2.0, width / 2.0)) && self.first_hit(ring, width, from, to).is_none()
    }
}
