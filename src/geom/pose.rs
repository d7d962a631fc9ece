//! Where a thing lies: turned, then shifted. Never mirrored.

use super::point::{Point, pt};
use super::region::{Polygon, Region, Ring};

/// A rigid motion: `p_out = Rotate(turn) * p_in + shift`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// Degrees, counter-clockwise.
    pub turn: f64,
    /// Millimetres.
    pub shift: Point,
}

/// Cosine and sine of an angle in degrees; exact for multiples of a quarter turn.
#[must_use]
pub fn cos_sin(degrees: f64) -> (f64, f64) {
    let d = degrees.rem_euclid(360.0);
    if d == 0.0 || d == 360.0 {
        (1.0, 0.0)
    } else if d == 90.0 {
        (0.0, 1.0)
    } else if d == 180.0 {
        (-1.0, 0.0)
    } else if d == 270.0 {
        (0.0, -1.0)
    } else {
        let r = d.to_radians();
        (r.cos(), r.sin())
    }
}

/// Difference of two directions in degrees modulo `period`, in `[-period/2, period/2)`.
#[must_use]
pub fn angle_off(a: f64, b: f64, period: f64) -> f64 {
    (a - b + period / 2.0).rem_euclid(period) - period / 2.0
}

impl Pose {
    /// A pose with the given turn (degrees) and shift (mm).
    #[must_use]
    pub const fn new(turn: f64, shift: Point) -> Self {
        Self { turn, shift }
    }

    /// The turned and shifted point.
    #[must_use]
    pub fn apply(&self, p: Point) -> Point {
        let (c, s) = cos_sin(self.turn);
        pt(c * p.x - s * p.y, s * p.x + c * p.y) + self.shift
    }

    /// The point that [`Pose::apply`] would bring to `p`.
    #[must_use]
    pub fn undo(&self, p: Point) -> Point {
        let (c, s) = cos_sin(self.turn);
        let q = p - self.shift;
        pt(c * q.x + s * q.y, -s * q.x + c * q.y)
    }

    /// The ring, turned and shifted.
    #[must_use]
    pub fn ring(&self, ring: &Ring) -> Ring {
        let (c, s) = cos_sin(self.turn);
        ring.map(|p| pt(c * p.x - s * p.y, s * p.x + c * p.y) + self.shift)
    }

    /// The polygon, turned and shifted.
    #[must_use]
    pub fn polygon(&self, polygon: &Polygon) -> Polygon {
        Polygon { outer: self.ring(&polygon.outer), holes: polygon.holes.iter().map(|h| self.ring(h)).collect() }
    }

    /// The region, turned and shifted.
    #[must_use]
    pub fn region(&self, region: &Region) -> Region {
        Region { polygons: region.polygons.iter().map(|p| self.polygon(p)).collect() }
    }
}
