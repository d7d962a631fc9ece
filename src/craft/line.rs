//! The true line of a shape, drawn so finely that what is measured on it can be cut by.

use crate::geom::curve::{Corner, Side};
use crate::geom::{Ring, tol};
use crate::model::Shape;

/// Largest distance (mm) between a true line and its fine drawing.
pub const FINE: f64 = 5e-4;

/// A fine polyline that encloses at least the shape, which must be tidy.
#[must_use]
pub fn outer(shape: &Shape) -> Ring {
    finely(shape, Side::Outer)
}

/// A fine polyline that encloses at most the shape, which must be tidy.
#[must_use]
pub fn inner(shape: &Shape) -> Ring {
    finely(shape, Side::Inner)
}

/// The kernel flattens to [`tol::FLATTEN`]; so the shape is flattened at a larger scale, and brought back.
fn finely(shape: &Shape, side: Side) -> Ring {
    const SCALE: f64 = tol::FLATTEN / FINE;
    let large = match shape {
        Shape::Polygon(corners) => {
            Shape::Polygon(corners.iter().map(|c| Corner { at: c.at * SCALE, radius: c.radius * SCALE }).collect())
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            Shape::Ellipse { centre: *centre * SCALE, half_x: half_x * SCALE, half_y: half_y * SCALE }
        }
    };
    Ring::vouched_outline(large.flatten(side).points.into_iter().map(|p| p * (1.0 / SCALE)).collect())
}
