//! Circles and axis-parallel ellipses through noisy points.

use crate::craft::solve;
use crate::geom::{BBox, Point, pt};

/// A circle, or an axis-parallel ellipse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Round {
    pub(super) centre: Point,
    pub(super) half_x: f64,
    pub(super) half_y: f64,
}

/// The circle through noisy points: a start by I. Kåsa's linear fit (IEEE Trans. Instrum. Meas. 25 (1976) 8-14, from
/// memory), which on points all round is hardly biased; then the squares of the true distances are made least, as
/// N. Chernov advises (Circular and Linear Regression, 2010, from memory). `None` if the points lie on a line.
#[must_use]
pub fn circle(points: &[Point]) -> Option<(Point, f64)> {
    let start = kasa(points)?;
    let x = solve::least_squares(vec![start.0.x, start.0.y, start.1], 30, 1e-9, |x| {
        Some(points.iter().map(|p| p.distance(pt(x[0], x[1])) - x[2]).collect())
    });
    (x[2] > 0.0).then_some((pt(x[0], x[1]), x[2]))
}

/// Least squares of x² + y² = 2 a x + 2 b y + c, about the middle of the points so that the numbers stay small.
fn kasa(points: &[Point]) -> Option<(Point, f64)> {
    let n = points.len() as f64;
    let middle = points.iter().fold(pt(0.0, 0.0), |s, &p| s + p) * (1.0 / n);
    let mut rows = vec![vec![0.0; 3]; 3];
    let mut right = vec![0.0; 3];
    for &p in points {
        let q = p - middle;
        let line = [2.0 * q.x, 2.0 * q.y, 1.0];
        let value = q.dot(q);
        for i in 0..3 {
            right[i] += line[i] * value;
            for j in 0..3 {
                rows[i][j] += line[i] * line[j];
            }
        }
    }
    let x = solve::linear(rows, right)?;
    let square = x[2] + x[0] * x[0] + x[1] * x[1];
    (square > 0.0).then(|| (middle + pt(x[0], x[1]), square.sqrt()))
}

/// The axis-parallel ellipse through noisy points, from their box. Distances are to first order, after P. D. Sampson
/// (Computer Graphics and Image Processing 18 (1982) 97-108, from memory): the value of the equation over its slope.
pub(super) fn ellipse(points: &[Point]) -> Option<Round> {
    let b = BBox::of(points);
    let start = vec![b.centre().x, b.centre().y, b.width() / 2.0, b.height() / 2.0];
    let x = solve::least_squares(start, 40, 1e-9, |x| {
        if x[2] < 1.0 || x[3] < 1.0 {
            return None;
        }
        Some(points.iter().map(|p| off_ellipse(*p - pt(x[0], x[1]), x[2], x[3])).collect())
    });
    (x[2] >= 1.0 && x[3] >= 1.0).then(|| Round { centre: pt(x[0], x[1]), half_x: x[2], half_y: x[3] })
}

/// Distance of a point to an ellipse about the origin, to first order; negative inside.
pub(super) fn off_ellipse(p: Point, a: f64, b: f64) -> f64 {
    let value = (p.x / a).powi(2) + (p.y / b).powi(2) - 1.0;
    let slope = 2.0 * (p.x / (a * a)).hypot(p.y / (b * b));
    // In the very middle there is no slope: as far in as it gets.
    if slope > 1e-9 { value / slope } else { -a.min(b) }
}
