//! The map between two pictures of one plane, from marks: a homography.
//!
//! In: points and where they are in the other picture. Out: the map. Must not know: what the pictures show. The only file
//! that knows the library of matrices.

use nalgebra::{DMatrix, DVector, Matrix3, SVD, Vector3};

use crate::geom::{Point, pt};

/// The marks say nothing about the map if the singular value that should be the last but one is below this share of the
/// first. It guards the arithmetic; whether marks are good enough for people is judged by [`super::thickness`].
const LEAST_SHARE: f64 = 1e-9;

/// A map of the plane that keeps straight lines straight. Its sense is such that the points it was made from lie in front
/// of the horizon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography(Matrix3<f64>);

impl Homography {
    /// The map with this matrix (rows); `None` if it has no inverse. Points with a positive third coordinate are in front.
    #[must_use]
    pub fn of_rows(rows: [[f64; 3]; 3]) -> Option<Self> {
        let m = Matrix3::from_fn(|i, j| rows[i][j]);
        m.try_inverse().filter(|inverse| inverse.iter().all(|v| v.is_finite())).map(|_| Self(m))
    }

    /// Its matrix, rows.
    #[must_use]
    pub fn rows(&self) -> [[f64; 3]; 3] {
        std::array::from_fn(|i| std::array::from_fn(|j| self.0[(i, j)]))
    }

    /// The map that brings `from[i]` as near to `to[i]` as it can: the squares of the distances to `to` add up to least
    /// nearby. `None` for fewer than 4 points, lists of unequal length, and points that leave it open.
    ///
    /// The start is the direct linear transformation: the right singular vector of the least singular value of two equations
    /// a point (R. Hartley, A. Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., 2004, algorithm 4.2, from
    /// memory), with both sets of points moved and scaled first (R. Hartley, In defense of the eight-point algorithm, IEEE
    /// Trans. PAMI 19 (1997) 580-593). It is refined by Levenberg's and Marquardt's method.
    #[must_use]
    pub fn fit(from: &[Point], to: &[Point]) -> Option<Self> {
        if from.len() < 4 || from.len() != to.len() {
            return None;
        }
        let (before, after) = (normaliser(from)?, normaliser(to)?);
        let from_n: Vec<Point> = from.iter().map(|&p| flat(before * vector(p))).collect();
        let to_n: Vec<Point> = to.iter().map(|&p| flat(after * vector(p))).collect();
        let mut h = refined(linear(&from_n, &to_n)?, &from_n, &to_n);
        h = after.try_inverse()? * h * before;
        h /= h.norm();
        // In front of the horizon is where the middle of the points is.
        let middle = from.iter().fold(pt(0.0, 0.0), |sum, &p| sum + p) * (1.0 / from.len() as f64);
        if (h * vector(middle)).z < 0.0 {
            h = -h;
        }
        let map = Self(h);
        map.0.iter().all(|v| v.is_finite()).then_some(map)?;
        map.inverse().map(|_| map)
    }

    /// Where a point comes to lie; `None` for one on the horizon or behind it.
    #[must_use]
    pub fn apply(&self, p: Point) -> Option<Point> {
        let v = self.0 * vector(p);
        (v.z > 0.0).then(|| flat(v)).filter(|q| q.is_finite())
    }

    /// The map back.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        self.0.try_inverse().filter(|m| m.iter().all(|v| v.is_finite())).map(Self)
    }

    /// True if it turns pictures over, as seen in front of the horizon.
    #[must_use]
    pub fn mirrors(&self) -> bool {
        self.0.determinant() < 0.0
    }
}

fn vector(p: Point) -> Vector3<f64> {
    Vector3::new(p.x, p.y, 1.0)
}

fn flat(v: Vector3<f64>) -> Point {
    pt(v.x / v.z, v.y / v.z)
}

/// Moves the points so that their middle is the origin, and scales them so that their mean distance from it is the root of
/// 2 (Hartley 1997). `None` if they are all in one place.
fn normaliser(points: &[Point]) -> Option<Matrix3<f64>> {
    let n = points.len() as f64;
    let middle = points.iter().fold(pt(0.0, 0.0), |sum, &p| sum + p) * (1.0 / n);
    let mean = points.iter().map(|p| p.distance(middle)).sum::<f64>() / n;
    let s = std::f64::consts::SQRT_2 / mean;
    (s.is_finite() && s > 0.0).then(|| Matrix3::new(s, 0.0, -s * middle.x, 0.0, s, -s * middle.y, 0.0, 0.0, 1.0))
}

/// The direct linear transformation.
fn linear(from: &[Point], to: &[Point]) -> Option<Matrix3<f64>> {
    // Rows of zeros make the matrix as high as it is wide, so that it has all nine right singular vectors.
    let mut a = DMatrix::<f64>::zeros((2 * from.len()).max(9), 9);
    for (i, (p, q)) in from.iter().zip(to).enumerate() {
        for (k, v) in [p.x, p.y, 1.0].into_iter().enumerate() {
            a[(2 * i, k)] = -v;
            a[(2 * i + 1, 3 + k)] = -v;
            a[(2 * i, 6 + k)] = q.x * v;
            a[(2 * i + 1, 6 + k)] = q.y * v;
        }
    }
    let svd = SVD::try_new(a, false, true, f64::EPSILON, 10_000)?;
    let values = &svd.singular_values;
    if values[7].is_nan() || values[7] <= LEAST_SHARE * values[0] {
        return None;
    }
    let last = svd.v_t?.row(8).into_owned();
    Some(Matrix3::from_fn(|i, j| last[3 * i + j]))
}

/// The matrix after steps that lower the sum of squared distances to `to`. With four points there is nothing to lower.
fn refined(start: Matrix3<f64>, from: &[Point], to: &[Point]) -> Matrix3<f64> {
    /// More steps than it ever takes; each needs microseconds.
    const STEPS: usize = 60;
    // The middle of the points is the origin here. It lies in front of the horizon, so this is not near zero for any map
    // that will be accepted.
    if from.len() == 4 || start.m33.abs() < 1e-6 * start.norm() {
        return start;
    }
    let mut h = start / start.m33;
    let Some(mut sum) = squares(&h, from, to) else { return start };
    let mut damping = 1e-4;
    for _ in 0..STEPS {
        let mut normal = DMatrix::<f64>::zeros(8, 8);
        let mut slope = DVector::<f64>::zeros(8);
        for (p, q) in from.iter().zip(to) {
            let v = h * vector(*p);
            let (r, k) = (flat(v), 1.0 / v.z);
            let (x, y) = (p.x * k, p.y * k);
            let rows = [
                ([x, y, k, 0.0, 0.0, 0.0, -r.x * x, -r.x * y], r.x - q.x),
                ([0.0, 0.0, 0.0, x, y, k, -r.y * x, -r.y * y], r.y - q.y),
            ];
            for (row, off) in rows {
                let row = DVector::from_row_slice(&row);
                slope -= &row * off;
                normal += &row * row.transpose();
            }
        }
        let mut gained = 0.0;
        for _ in 0..10 {
            let mut damped = normal.clone();
            for k in 0..8 {
                damped[(k, k)] += damping * normal[(k, k)].max(1e-12);
            }
            let better = damped.cholesky().and_then(|c| {
                let step = c.solve(&slope);
                let next = Matrix3::from_fn(|i, j| h[(i, j)] + if (i, j) == (2, 2) { 0.0 } else { step[3 * i + j] });
                squares(&next, from, to).filter(|s| *s < sum).map(|s| (next, s))
            });
            if let Some((next, then)) = better {
                gained = sum - then;
                (h, sum) = (next, then);
                damping = (damping * 0.1).max(1e-12);
                break;
            }
            damping *= 10.0;
        }
        if gained <= 1e-15 * sum {
            break;
        }
    }
    h
}

/// The sum of squared distances; `None` if a point is on the horizon or behind it.
fn squares(h: &Matrix3<f64>, from: &[Point], to: &[Point]) -> Option<f64> {
    let mut sum = 0.0;
    for (p, q) in from.iter().zip(to) {
        let v = h * vector(*p);
        if v.z.is_nan() || v.z <= 1e-9 {
            return None;
        }
        let d = flat(v) - *q;
        sum += d.dot(d);
    }
    Some(sum)
}
