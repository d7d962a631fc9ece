//! Closed lines compared as lines: two programs may flatten one arc at different points.
//!
//! Comes in: shapes and points. Goes out: fine polylines, and where one line strays from another.

use crate::geom::curve::{Corner, Side};
use crate::geom::{Point, distance, tol};
use crate::model::Shape;

/// The true line of a shape as points: never inside it, and farther outside than `within` (mm) nowhere.
///
/// The kernel flattens to [`tol::FLATTEN`]; so the shape is flattened at a larger scale, and brought back.
pub(super) fn true_line(shape: &Shape, within: f64) -> Vec<Point> {
    let scale = (tol::FLATTEN / within).max(1.0);
    let large = match shape {
        Shape::Polygon(corners) => {
            Shape::Polygon(corners.iter().map(|c| Corner { at: c.at * scale, radius: c.radius * scale }).collect())
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            Shape::Ellipse { centre: *centre * scale, half_x: half_x * scale, half_y: half_y * scale }
        }
    };
    large.flatten(Side::Outer).points.into_iter().map(|p| p * (1.0 / scale)).collect()
}

/// The sides of a closed line.
pub(super) fn sides(line: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    (0..line.len()).map(|i| (line[i], line[(i + 1) % line.len()]))
}

/// Where two closed lines differ by more than `allowed` (mm), and by how much: looked for from both, over every stretch
/// of every side, not only at the corners (a line that visits the right corners in the wrong order strays in between).
pub(super) fn difference(a: &[Point], b: &[Point], allowed: f64) -> Option<(Point, f64)> {
    let strays = sides(a).filter_map(|s| strays(s, b, allowed)).chain(sides(b).filter_map(|s| strays(s, a, allowed)));
    strays.reduce(|worst, next| if next.1 > worst.1 { next } else { worst })
}

/// A point of the stretch from `p` to `q` that is farther than `allowed` from the line, and its distance.
///
/// If both ends are near one and the same side, so is all between them; else the halves are looked at.
fn strays((p, q): (Point, Point), line: &[Point], allowed: f64) -> Option<(Point, f64)> {
    let off = |from: Point, (c, d): (Point, Point)| from.distance(distance::nearest_on_segment(from, c, d));
    let is_near = |from: Point, (c, d): (Point, Point)| {
        // Most sides are far away, which their boxes tell without a root.
        let in_box = from.x >= c.x.min(d.x) - allowed
            && from.x <= c.x.max(d.x) + allowed
            && from.y >= c.y.min(d.y) - allowed
            && from.y <= c.y.max(d.y) + allowed;
        in_box && off(from, (c, d)) <= allowed
    };
    let (mut near_p, mut near_q, mut near_both) = (false, false, false);
    for side in sides(line) {
        let (to_p, to_q) = (is_near(p, side), is_near(q, side));
        near_p |= to_p;
        near_q |= to_q;
        near_both |= to_p && to_q;
    }
    if !near_p || !near_q {
        let end = if near_p { q } else { p };
        return Some((end, sides(line).map(|side| off(end, side)).fold(f64::INFINITY, f64::min)));
    }
    if near_both || p.distance(q) <= allowed {
        return None;
    }
    let middle = p.lerp(q, 0.5);
    strays((p, middle), line, allowed).or_else(|| strays((middle, q), line, allowed))
}
