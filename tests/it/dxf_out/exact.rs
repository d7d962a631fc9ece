//! Areas and lines of true shapes, by formulas of the tests' own.

use std::f64::consts::PI;

use scantling::cad::Vertex;
use scantling::geom::{Point, Pose, pt};
use scantling::model::Shape;

use super::SAME;

/// Area of a tidy shape, mm²: what a rounding of radius r takes from a corner of turn a is r² (tan(a/2) - a/2).
pub fn area_of(shape: &Shape) -> f64 {
    match shape {
        Shape::Ellipse { half_x, half_y, .. } => PI * half_x * half_y,
        Shape::Polygon(corners) => {
            let n = corners.len();
            (0..n)
                .map(|i| {
                    let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
                    let turn = (b - a).cross(c - b).atan2((b - a).dot(c - b));
                    b.cross(c) / 2.0 - corners[i].radius.powi(2) * ((turn / 2.0).tan() - turn / 2.0)
                })
                .sum()
        }
    }
}

/// Area of a closed path with bulges, mm²: that of its chords and of the circular segment on each,
/// c² / 8 (4t - sin 4t) / sin² 2t with t the arc tangent of the bulge (an arc of angle 4t over a chord c).
pub fn area_with_bulges(vertices: &[Vertex]) -> f64 {
    let n = vertices.len();
    (0..n)
        .map(|i| {
            let (a, b, t) = (vertices[i].at, vertices[(i + 1) % n].at, vertices[i].bulge.atan());
            let segment = if t == 0.0 {
                0.0
            } else {
                a.distance(b).powi(2) / 8.0 * (4.0 * t - (4.0 * t).sin()) / (2.0 * t).sin().powi(2)
            };
            a.cross(b) / 2.0 + segment
        })
        .sum()
}

/// Points on the way from a vertex to the next.
pub fn along(from: Vertex, to: Point) -> Vec<Point> {
    let chord = to - from.at;
    (0..=8)
        .map(|k| {
            let s = f64::from(k) / 8.0;
            if from.bulge == 0.0 {
                return from.at + chord * s;
            }
            // The chord sees the arc under an angle of 4 atan(bulge).
            let angle = 4.0 * from.bulge.atan();
            let radius = chord.norm() / (2.0 * (angle / 2.0).sin());
            let centre = from.at + chord * 0.5 + chord.left() * (radius * (angle / 2.0).cos() / chord.norm());
            centre + Pose::new((angle * s).to_degrees(), pt(0.0, 0.0)).apply(from.at - centre)
        })
        .collect()
}

/// Distance of a point from the true line of a shape, mm.
pub fn off(p: Point, shape: &Shape) -> f64 {
    match shape {
        Shape::Ellipse { centre, half_x, half_y } => {
            // By the implicit equation and its gradient: exact on the line, which is all that is asked.
            let d = p - *centre;
            let value = (d.x / half_x).powi(2) + (d.y / half_y).powi(2) - 1.0;
            value.abs() / (2.0 * (d.x / half_x.powi(2)).hypot(d.y / half_y.powi(2)))
        }
        Shape::Polygon(corners) => {
            let n = corners.len();
            let mut ends = Vec::with_capacity(n);
            let mut near = f64::INFINITY;
            for i in 0..n {
                let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
                let (u, v, r) = ((b - a) * (1.0 / a.distance(b)), (c - b) * (1.0 / b.distance(c)), corners[i].radius);
                let turn = u.cross(v).atan2(u.dot(v));
                let t = r * (turn.abs() / 2.0).tan();
                ends.push((b - u * t, b + v * t));
                let centre = b - u * t + u.left() * (turn.signum() * r);
                let d = p - centre;
                let (first, last) = (b - u * t - centre, b + v * t - centre);
                let inside = first.cross(d) * turn.signum() >= -SAME && d.cross(last) * turn.signum() >= -SAME;
                if r > 0.0 && inside {
                    near = near.min((d.norm() - r).abs());
                }
            }
            for i in 0..n {
                let (a, b) = (ends[i].1, ends[(i + 1) % n].0);
                near = near.min(scantling::geom::distance::nearest_on_segment(p, a, b).distance(p));
            }
            near
        }
    }
}
