//! Holes for fixtures, measured with the `geo` crate on lines of the tests' own drawing, not with our kernel.

mod files;
mod known;
mod random;

use std::f64::consts::PI;

use geo::{Contains, Distance, Euclidean, LineString, Polygon};
use scantling::geom::Point;
use scantling::geom::curve::Corner;
use scantling::model::{Drawn, Fixture, Shape};

/// The core bits of the built-in shop, mm.
pub const BITS: [f64; 9] = [20.0, 25.0, 32.0, 35.0, 38.0, 45.0, 51.0, 68.0, 75.0];

/// What the drawing of arcs may be off, twice, and rounding, mm.
pub const EXACT: f64 = 0.005;

pub fn drawn(shape: Shape) -> Drawn {
    Drawn { shape, fit: None }
}

pub fn drop_in(rim: Drawn, body: Drawn, bearing: f64, clearance: f64, accuracy: f64) -> Fixture {
    Fixture::DropIn { rim, body, bearing, clearance, accuracy }
}

/// Points on the true line, their chords off it by 0.001 mm at most.
pub fn points(shape: &Shape) -> Vec<(f64, f64)> {
    const OFF: f64 = 0.001;
    let steps = |r: f64, sweep: f64| (sweep / (2.0 * (1.0 - OFF / r.max(1.0)).acos())).ceil().max(2.0) as usize;
    match shape {
        Shape::Ellipse { centre, half_x, half_y } => {
            let n = steps(half_x.max(*half_y), 2.0 * PI);
            (0..n)
                .map(|k| 2.0 * PI * k as f64 / n as f64)
                .map(|a| (centre.x + half_x * a.cos(), centre.y + half_y * a.sin()))
                .collect()
        }
        Shape::Polygon(corners) => {
            let n = corners.len();
            let mut line = Vec::new();
            for i in 0..n {
                let Corner { at: b, radius: r } = corners[i];
                let (a, c) = (corners[(i + n - 1) % n].at, corners[(i + 1) % n].at);
                let unit = |p: Point, q: Point| {
                    let l = (q.x - p.x).hypot(q.y - p.y);
                    ((q.x - p.x) / l, (q.y - p.y) / l)
                };
                // Unit vectors from the corner back and on; the arc's middle lies on their bisector.
                let (u, v) = (unit(b, a), unit(b, c));
                let half = ((u.0 * v.0 + u.1 * v.1).clamp(-1.0, 1.0)).acos() / 2.0;
                if r == 0.0 || half > PI / 2.0 - 1e-9 {
                    line.push((b.x, b.y));
                    continue;
                }
                let m = (u.0 + v.0, u.1 + v.1);
                let ml = m.0.hypot(m.1);
                let far = r / half.sin();
                let centre = (b.x + m.0 / ml * far, b.y + m.1 / ml * far);
                let t = r / half.tan();
                let (p, q) = ((b.x + u.0 * t, b.y + u.1 * t), (b.x + v.0 * t, b.y + v.1 * t));
                let from = (p.1 - centre.1).atan2(p.0 - centre.0);
                let mut sweep = (q.1 - centre.1).atan2(q.0 - centre.0) - from;
                if sweep > PI {
                    sweep -= 2.0 * PI;
                } else if sweep < -PI {
                    sweep += 2.0 * PI;
                }
                let k = steps(r, sweep.abs());
                line.extend(
                    (0..=k)
                        .map(|j| from + sweep * j as f64 / k as f64)
                        .map(|a| (centre.0 + r * a.cos(), centre.1 + r * a.sin())),
                );
            }
            line
        }
    }
}

pub fn polygon(shape: &Shape) -> Polygon {
    Polygon::new(LineString::from(points(shape)), vec![])
}

/// The least distance from the inner line to the outer one; `None` if the inner shape is not inside the outer one.
pub fn inside(inner: &Polygon, outer: &Polygon) -> Option<f64> {
    let gap = Euclidean.distance(inner.exterior(), outer.exterior());
    let first = inner.exterior().points().next().unwrap();
    (gap > 0.0 && outer.contains(&first)).then_some(gap)
}

/// Corners that bulge into the stone and turn by more than 15 degrees, with their radius.
pub fn inside_corners(shape: &Shape) -> Vec<f64> {
    shape.turns().into_iter().filter(|t| t.2).map(|t| t.1).collect()
}
