//! Points and vectors of the plane, in millimetres.

use std::ops::{Add, Mul, Neg, Sub};

/// A point or a vector in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Point {
    /// Along the length.
    pub x: f64,
    /// Across it, upwards.
    pub y: f64,
}

/// Short for [`Point`] with the given coordinates in millimetres.
#[must_use]
pub const fn pt(x: f64, y: f64) -> Point {
    Point { x, y }
}

impl Point {
    /// The dot product, mm².
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// The z component of the cross product, mm²: positive if `other` lies counter-clockwise of `self`.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The length of the vector, mm.
    #[must_use]
    pub fn norm(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// The distance to `other`, mm.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self - other).norm()
    }

    /// True if both coordinates are finite numbers.
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }

    /// The point between `self` (`t` = 0) and `other` (`t` = 1).
    #[must_use]
    pub fn lerp(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// The vector turned a quarter counter-clockwise.
    #[must_use]
    pub fn left(self) -> Self {
        pt(-self.y, self.x)
    }
}

impl Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        pt(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        pt(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Point {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        pt(self.x * k, self.y * k)
    }
}

impl Neg for Point {
    type Output = Self;
    fn neg(self) -> Self {
        pt(-self.x, -self.y)
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        pt(x, y)
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}

/// Sign-carrying twice the area of the triangle `abc`, mm²: positive if it runs counter-clockwise.
#[must_use]
pub fn orient(a: Point, b: Point, c: Point) -> f64 {
    (b - a).cross(c - a)
}

/// An axis-parallel box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BBox {
    /// Lower left corner.
    pub min: Point,
    /// Upper right corner.
    pub max: Point,
}

impl BBox {
    /// A box that holds nothing; growing it by a point gives that point.
    pub const EMPTY: Self =
        Self { min: pt(f64::INFINITY, f64::INFINITY), max: pt(f64::NEG_INFINITY, f64::NEG_INFINITY) };

    /// The box of some points; [`BBox::EMPTY`] if there are none.
    pub fn of<'a>(points: impl IntoIterator<Item = &'a Point>) -> Self {
        points.into_iter().fold(Self::EMPTY, |b, &p| b.with(p))
    }

    /// The least box that holds this one and `p`.
    #[must_use]
    pub fn with(self, p: Point) -> Self {
        Self { min: pt(self.min.x.min(p.x), self.min.y.min(p.y)), max: pt(self.max.x.max(p.x), self.max.y.max(p.y)) }
    }

    /// The least box that holds both.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        self.with(other.min).with(other.max)
    }

    /// Width (x), mm.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.max.x - self.min.x
    }

    /// Height (y), mm.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.max.y - self.min.y
    }

    /// The middle.
    #[must_use]
    pub fn centre(&self) -> Point {
        self.min.lerp(self.max, 0.5)
    }

    /// True if the boxes grown by `by` (mm) on all sides share a point.
    #[must_use]
    pub fn near(&self, other: &Self, by: f64) -> bool {
        self.min.x <= other.max.x + by
            && other.min.x <= self.max.x + by
            && self.min.y <= other.max.y + by
            && other.min.y <= self.max.y + by
    }

    /// Distance between the boxes, mm; 0 if they overlap.
    #[must_use]
    pub fn gap(&self, other: &Self) -> f64 {
        let dx = (other.min.x - self.max.x).max(self.min.x - other.max.x).max(0.0);
        let dy = (other.min.y - self.max.y).max(self.min.y - other.max.y).max(0.0);
        dx.hypot(dy)
    }

    /// The four corners, counter-clockwise from the lower left.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        [self.min, pt(self.max.x, self.min.y), self.max, pt(self.min.x, self.max.y)]
    }
}
