//! Elliptic arcs and splines: their points and tangents, and polylines that stand in for them on a chosen side.
//!
//! In: a [`Curve`]. Out: points. Must not know: loops, layers, files.

use std::f64::consts::{FRAC_PI_3, PI, TAU};

use super::{Body, Curve, Spline};
use crate::geom::point::orient;
use crate::geom::{Point, pt, tol};

/// Largest distance (mm) between a curve and the polyline that stands in for it. Below [`tol::FLATTEN`], so that nothing that is built on
/// outlines sees a difference to an arc. Smaller: more corners.
pub const DEVIATION: f64 = 0.04;

/// Below this size (mm) a stretch that still bends both ways is drawn as its chord: it is then off by far less than any saw.
const SPECK: f64 = 1e-3;

/// Deepest halving: 2^18 parts of any curve.
const DEEPEST: usize = 18;

/// A rational Bézier part of a spline: x w, y w, w of each control point.
type Bezier = Vec<[f64; 3]>;

/// One smooth part of a curve, over 0..1.
enum Part<'a> {
    Elliptic { curve: &'a Curve },
    Bezier(Bezier),
}

impl Part<'_> {
    /// Point and derivative (not of unit length; may vanish).
    fn at(&self, t: f64) -> (Point, Point) {
        match self {
            Self::Elliptic { curve } => match curve {
                Curve::Elliptic { centre, first, second, from, sweep } => {
                    let (s, c) = (from + sweep * t).sin_cos();
                    (*centre + *first * c + *second * s, (*second * c - *first * s) * *sweep)
                }
                Curve::Spline(_) => (pt(0.0, 0.0), pt(0.0, 0.0)),
            },
            Self::Bezier(points) => casteljau(points, t),
        }
    }

    /// Direction at t: the derivative, or where it vanishes, the way to a point just inside.
    fn direction(&self, t: f64) -> Point {
        let (p, d) = self.at(t);
        if d.norm() > 1e-9 {
            return d;
        }
        let step = if t < 0.5 { 1e-3 } else { -1e-3 };
        let q = self.at(t + step).0;
        if step > 0.0 { q - p } else { p - q }
    }
}

/// De Casteljau's scheme in homogeneous coordinates; the derivative by the quotient rule.
fn casteljau(points: &[[f64; 3]], t: f64) -> (Point, Point) {
    let mut d: Vec<[f64; 3]> = points.to_vec();
    let n = d.len() - 1;
    let mut slope = [0.0; 3];
    for r in 1..=n {
        if r == n {
            slope = std::array::from_fn(|c| (d[1][c] - d[0][c]) * n as f64);
        }
        for j in 0..=n - r {
            d[j] = std::array::from_fn(|c| d[j][c] * (1.0 - t) + d[j + 1][c] * t);
        }
    }
    let w = d[0][2];
    let p = pt(d[0][0] / w, d[0][1] / w);
    (p, pt((slope[0] - slope[2] * p.x) / w, (slope[1] - slope[2] * p.y) / w))
}

/// The Bézier parts of a spline, one for each span of its knots that has a length.
///
/// Control point j of a span (u, v) is the blossom at u (degree - j times) and v (j times): Ramshaw, Computer Aided Geometric Design 6
/// (1989) 323-358.
fn beziers(spline: &Spline) -> Vec<Bezier> {
    let (p, u) = (spline.degree, &spline.knots);
    let all: Vec<[f64; 3]> = spline.points.iter().zip(&spline.weights).map(|(q, &w)| [q.x * w, q.y * w, w]).collect();
    (p..all.len())
        .filter(|&k| u[k] < u[k + 1])
        .map(|k| {
            (0..=p)
                .map(|j| {
                    let mut d: Vec<[f64; 3]> = all[k - p..=k].to_vec();
                    for r in 1..=p {
                        let x = if r <= p - j { u[k] } else { u[k + 1] };
                        for m in (r..=p).rev() {
                            let i = k - p + m;
                            let a = (x - u[i]) / (u[i + p - r + 1] - u[i]);
                            d[m] = std::array::from_fn(|c| d[m - 1][c] * (1.0 - a) + d[m][c] * a);
                        }
                    }
                    d[p]
                })
                .collect()
        })
        .collect()
}

fn parts(curve: &Curve) -> Vec<Part<'_>> {
    match curve {
        Curve::Elliptic { .. } => vec![Part::Elliptic { curve }],
        Curve::Spline(spline) => beziers(spline).into_iter().map(Part::Bezier).collect(),
    }
}

/// Where it starts and ends, mm.
#[must_use]
pub fn ends(curve: &Curve) -> (Point, Point) {
    let parts = parts(curve);
    let first = parts.first().map_or(pt(0.0, 0.0), |p| p.at(0.0).0);
    (first, parts.last().map_or(first, |p| p.at(1.0).0))
}

/// The curve run through backwards.
#[must_use]
pub fn reversed(curve: &Curve) -> Curve {
    match curve {
        Curve::Elliptic { centre, first, second, from, sweep } => {
            Curve::Elliptic { centre: *centre, first: *first, second: *second, from: from + sweep, sweep: -sweep }
        }
        Curve::Spline(s) => Curve::Spline(s.reversed()),
    }
}

/// The whole of a full ellipse as a curve; `None` for other bodies.
#[must_use]
pub fn of_ellipse(body: &Body) -> Option<Curve> {
    let Body::Ellipse { centre, half_x, half_y, turn } = body else { return None };
    let (s, c) = turn.to_radians().sin_cos();
    let axis = pt(c, s);
    Some(Curve::Elliptic {
        centre: *centre,
        first: axis * *half_x,
        second: axis.left() * *half_y,
        from: 0.0,
        sweep: TAU,
    })
}

/// Points along it, both ends included: enough to see where it runs, not to measure it.
#[must_use]
pub fn sketch(curve: &Curve) -> Vec<Point> {
    const FINE: usize = 64;
    let parts = parts(curve);
    let each = if matches!(curve, Curve::Elliptic { .. }) { FINE } else { (FINE / parts.len().max(1)).max(8) };
    let mut points: Vec<Point> =
        parts.iter().flat_map(|p| (0..each).map(move |k| p.at(k as f64 / each as f64).0)).collect();
    points.push(ends(curve).1);
    points
}

/// A polyline for a curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Polyline {
    /// Its points, both ends included.
    pub points: Vec<Point>,
    /// Largest distance to the curve, mm, measured at points of the curve.
    pub deviation: f64,
}

/// A polyline within [`DEVIATION`] of the curve that does not lie on its left where `right` is true, else not on its right.
///
/// Where the curve bends away from that side it is made of tangents, else of chords. A part that bends both ways is halved until it does
/// not, down to a thousandth of a millimetre.
#[must_use]
pub fn polyline(curve: &Curve, right: bool) -> Polyline {
    let mut line = Polyline { points: Vec::new(), deviation: 0.0 };
    let mut last_was_tangent;
    for part in parts(curve) {
        // An ellipse is halved where its tangents are known; a start with several parts keeps every turn below a half one.
        let n = if let Part::Elliptic { curve: Curve::Elliptic { sweep, .. } } = &part {
            (sweep.abs() / FRAC_PI_3).ceil().max(1.0) as usize
        } else {
            2
        };
        // Parts may meet in a kink.
        last_was_tangent = false;
        for k in 0..n {
            let (a, b) = (k as f64 / n as f64, (k + 1) as f64 / n as f64);
            halve(&part, (a, b), right, 0, &mut line, &mut last_was_tangent);
        }
    }
    line.points.push(ends(curve).1);
    line
}

/// Samples within a part that decide on its bend and its deviation.
const SAMPLES: usize = 12;

fn halve(
    part: &Part<'_>,
    (a, b): (f64, f64),
    right: bool,
    depth: usize,
    line: &mut Polyline,
    last_was_tangent: &mut bool,
) {
    let at = |k: usize| a + (b - a) * k as f64 / SAMPLES as f64;
    let samples: Vec<Point> = (0..=SAMPLES).map(|k| part.at(at(k)).0).collect();
    let (p, q) = (samples[0], samples[SAMPLES]);
    let (u, v) = (part.direction(a), part.direction(b));
    let bends: Vec<f64> = samples.windows(3).map(|w| orient(w[0], w[1], w[2])).collect();
    let size = samples.windows(2).map(|w| w[0].distance(w[1])).sum::<f64>();
    let flat = samples.iter().all(|&s| off_line(s, p, q) < SPECK / 10.0);
    let one_way = bends.iter().all(|&k| k >= 0.0) || bends.iter().all(|&k| k <= 0.0);
    let left_turn = bends.iter().sum::<f64>() > 0.0;
    let turn = u.cross(v).atan2(u.dot(v)).abs();
    let mut add = |points: &[Point], deviation: f64, tangent: bool| {
        // Between two tangents the point of the curve itself lies on the line that joins their meeting points.
        let skip = usize::from(tangent && *last_was_tangent);
        line.points.extend_from_slice(&points[skip..]);
        line.deviation = line.deviation.max(deviation);
        *last_was_tangent = tangent;
    };
    if flat || size < SPECK || depth == DEEPEST {
        add(&[p], samples.iter().map(|&s| off_line(s, p, q)).fold(0.0, f64::max), false);
        return;
    }
    if one_way && turn < PI / 3.0 {
        let tangent = left_turn == right;
        if tangent {
            let apex = meet(p, u, q, v);
            if let Some(m) = apex.filter(|&m| orient(p, q, m).abs() / p.distance(q) < 4.0 * DEVIATION) {
                let near = samples.windows(2).map(|w| off_stretch(m, w[0], w[1])).fold(f64::INFINITY, f64::min);
                if near <= DEVIATION {
                    add(&[p, m], near, true);
                    return;
                }
            }
        } else {
            let most = samples.iter().map(|&s| off_line(s, p, q)).fold(0.0, f64::max);
            if most <= DEVIATION {
                add(&[p], most, false);
                return;
            }
        }
    }
    let middle = f64::midpoint(a, b);
    halve(part, (a, middle), right, depth + 1, line, last_was_tangent);
    halve(part, (middle, b), right, depth + 1, line, last_was_tangent);
}

/// Where the lines from p along u and from q along v meet, if they do ahead of p and behind q.
fn meet(p: Point, u: Point, q: Point, v: Point) -> Option<Point> {
    let cross = u.cross(v);
    if cross.abs() <= 1e-12 * u.norm() * v.norm() {
        return None;
    }
    let (s, t) = ((q - p).cross(v) / cross, (q - p).cross(u) / cross);
    let m = p + u * s;
    (s >= 0.0 && t <= 0.0 && m.is_finite()).then_some(m)
}

/// Distance of a point to the line through two points (to the first if they are one).
fn off_line(s: Point, p: Point, q: Point) -> f64 {
    let d = q - p;
    if d.norm() < tol::SAME_POINT { s.distance(p) } else { (orient(p, q, s) / d.norm()).abs() }
}

/// Distance of a point to the straight stretch between two points.
fn off_stretch(s: Point, p: Point, q: Point) -> f64 {
    let d = q - p;
    let len = d.dot(d);
    let t = if len > 0.0 { ((s - p).dot(d) / len).clamp(0.0, 1.0) } else { 0.0 };
    s.distance(p.lerp(q, t))
}
