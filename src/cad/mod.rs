//! Drawings as CAD programs exchange them: paths of lines and arcs, circles, ellipses and texts on layers.
//!
//! In and out: a [`Drawing`] in millimetres. Must not know: the file format that it came from or goes to.

pub mod affine;
pub mod body;
pub mod chain;
pub mod curve;
pub mod cutting;
pub mod layers;
pub mod nest;
pub mod outlines;
pub mod path;
pub mod shape;
mod words;

use crate::geom::Point;

/// A drawing, mm, y up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Its entities in the order of the file.
    pub entities: Vec<Entity>,
}

/// True if two names are of one layer: capitals and small letters are the same in names.
#[must_use]
pub fn is_same_layer(a: &str, b: &str) -> bool {
    a == b || a.to_lowercase() == b.to_lowercase()
}

/// One thing on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Entity {
    /// The layer that it lies on.
    pub layer: String,
    /// Its handle in the file that it was read from, as written there; empty for what is made here.
    pub handle: String,
    /// What it is.
    pub body: Body,
}

/// What an entity is.
#[derive(Clone, Debug, PartialEq)]
pub enum Body {
    /// Lines and arcs, end to end.
    Path {
        /// Where each starts, and how it bends; the last one of an open path is only its end.
        vertices: Vec<Vertex>,
        /// True if the last vertex is joined with the first.
        closed: bool,
    },
    /// A full circle.
    Circle {
        /// Its middle, mm.
        centre: Point,
        /// Its radius, mm.
        radius: f64,
    },
    /// A full ellipse.
    Ellipse {
        /// Its middle, mm.
        centre: Point,
        /// Half its first axis, mm.
        half_x: f64,
        /// Half its second axis, mm.
        half_y: f64,
        /// Direction of the first axis, degrees.
        turn: f64,
    },
    /// A curve that is neither line nor circle.
    Curve(Curve),
    /// One line of text.
    Text {
        /// Lower left end of its baseline, mm; of a text that is set about another point, that point.
        at: Point,
        /// Height of its capitals, mm.
        height: f64,
        /// Direction of its baseline, degrees.
        turn: f64,
        /// What it says.
        content: String,
    },
}

/// A corner of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vertex {
    /// Where it is, mm.
    pub at: Point,
    /// How the way to the next vertex bends: the tangent of a quarter of the arc's angle, positive counter-clockwise; 0 for a
    /// straight line (as the group code 42 of a polyline in the DXF reference has it).
    pub bulge: f64,
}

/// A curve that is neither line nor circle, from its start to its end.
#[derive(Clone, Debug, PartialEq)]
pub enum Curve {
    /// Part of an ellipse: `centre + first cos t + second sin t`.
    Elliptic {
        /// Its middle, mm.
        centre: Point,
        /// Where it is at t = 0, from the middle, mm.
        first: Point,
        /// Where it is a quarter on, from the middle, mm; any two conjugate half axes will do.
        second: Point,
        /// t at the start, radians.
        from: f64,
        /// How far t runs, radians; negative: backwards.
        sweep: f64,
    },
    /// A rational B-spline over the part of its knots that it is defined on.
    Spline(Spline),
}

/// A rational B-spline. [`Spline::new`] proves what its readers rely on.
#[derive(Clone, Debug, PartialEq)]
pub struct Spline {
    degree: usize,
    knots: Vec<f64>,
    points: Vec<Point>,
    weights: Vec<f64>,
}

/// Why numbers make no spline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SplineFault {
    /// Degree below 1 or above [`Spline::MOST_DEGREE`].
    Degree,
    /// Not more control points than the degree.
    TooFewPoints,
    /// Not as many knots as control points, degree and 1 together.
    KnotCount,
    /// Knots that fall, or that are all the same.
    KnotOrder,
    /// Not one weight per control point.
    WeightCount,
    /// A weight that is not positive, or too far from the others.
    Weight,
}

impl Spline {
    /// Splines of a higher degree are not drawn by hand; their knots lose too many digits.
    pub const MOST_DEGREE: usize = 10;

    /// The spline of a degree, knots, control points (mm) and weights (none: all 1).
    ///
    /// # Errors
    /// The first thing that is wrong with the numbers.
    pub fn new(degree: usize, knots: Vec<f64>, points: Vec<Point>, weights: Vec<f64>) -> Result<Self, SplineFault> {
        if degree == 0 || degree > Self::MOST_DEGREE {
            return Err(SplineFault::Degree);
        }
        if points.len() <= degree {
            return Err(SplineFault::TooFewPoints);
        }
        if knots.len() != points.len() + degree + 1 {
            return Err(SplineFault::KnotCount);
        }
        let rises = knots.windows(2).all(|w| w[0] <= w[1]) && knots.iter().all(|k| k.is_finite());
        if !rises || knots[degree] >= knots[points.len()] {
            return Err(SplineFault::KnotOrder);
        }
        if !weights.is_empty() && weights.len() != points.len() {
            return Err(SplineFault::WeightCount);
        }
        let most = weights.iter().copied().fold(0.0, f64::max);
        if weights.iter().any(|&w| !w.is_finite() || w <= 0.0 || w < most * 1e-6) {
            return Err(SplineFault::Weight);
        }
        let weights = if weights.is_empty() { vec![1.0; points.len()] } else { weights };
        Ok(Self { degree, knots, points, weights })
    }

    /// The control points, mm.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The spline with every control point mapped by an affine map.
    #[must_use]
    pub fn map(&self, f: impl Fn(Point) -> Point) -> Self {
        Self { points: self.points.iter().map(|&p| f(p)).collect(), ..self.clone() }
    }

    /// The spline run through from its end to its start.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let mut back = self.clone();
        back.points.reverse();
        back.weights.reverse();
        back.knots = self.knots.iter().rev().map(|k| -k).collect();
        back
    }
}
