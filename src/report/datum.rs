//! The two lines from which positions on a slab are measured with tape and square.
//!
//! Line A is a straight-edge laid against the slab's lower side: the longest side of the outline's convex hull that looks
//! down and is within 15 degrees of the drawing's x (else the one nearest to it). It touches the slab at two points, and
//! no stone lies below it. Line B is square to A and touches the slab's outermost left point. On a slab with a straight
//! lower side, A is that side; where the sides are parallel to the axes, A and B are the sides of the bounding box.

use crate::geom::{Point, Ring, pt, sum};

/// Sides within this many degrees of level count as the lower side. More: a short slanted end could win over it. Less:
/// a slab drawn a little askew would have none.
const LEVEL: f64 = 15.0;

/// The two lines, slab frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Datum {
    /// Where they cross.
    pub origin: Point,
    /// Unit vector along A.
    pub along: Point,
    /// Where A touches the slab.
    pub touch_a: [Point; 2],
    /// Where B touches the slab.
    pub touch_b: Point,
    /// How far the slab reaches along A and up B, mm.
    pub reach: [f64; 2],
}

impl Datum {
    /// The lines of an outline.
    #[must_use]
    pub fn of(outline: &Ring) -> Self {
        let hull = sum::hull(outline.points());
        let n = hull.len();
        let mut best: Option<(bool, f64, Point, Point)> = None;
        for i in 0..n {
            let (a, b) = (hull[i], hull[(i + 1) % n]);
            let d = b - a;
            if d.x <= 0.0 {
                continue;
            }
            let slant = d.y.atan2(d.x).to_degrees().abs();
            let level = slant <= LEVEL;
            let rank = if level { d.norm() } else { -slant };
            if best.is_none_or(|(l, r, ..)| (level, rank) > (l, r)) {
                best = Some((level, rank, a, b));
            }
        }
        let corner = outline.bbox().min;
        let (a, b) = best.map_or((corner, corner + pt(1.0, 0.0)), |(_, _, a, b)| (a, b));
        let along = (b - a) * (1.0 / (b - a).norm());
        let mut touch_b = a;
        let (mut far, mut high) = (f64::NEG_INFINITY, 0.0_f64);
        for &p in outline.points() {
            let (u, v) = ((p - a).dot(along), along.cross(p - a));
            if u < (touch_b - a).dot(along) {
                touch_b = p;
            }
            far = far.max(u);
            high = high.max(v);
        }
        let left = (touch_b - a).dot(along);
        Self { origin: a + along * left, along, touch_a: [a, b], touch_b, reach: [far - left, high] }
    }

    /// Distance of a point from B (along A) and from A (up B), mm.
    #[must_use]
    pub fn measure(&self, p: Point) -> [f64; 2] {
        [(p - self.origin).dot(self.along), self.along.cross(p - self.origin)]
    }

    /// The point at these distances from B and A.
    #[must_use]
    pub fn point(&self, from_b: f64, from_a: f64) -> Point {
        self.origin + self.along * from_b + self.along.left() * from_a
    }
}
