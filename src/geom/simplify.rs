//! Rings with fewer corners that err on a chosen side.

use super::distance::nearest_on_segment;
use super::point::{BBox, Point, orient};
use super::region::Ring;

/// A ring that encloses the given one, with sides of curves merged: no point of it is farther than `within` (mm) outside.
///
/// Where the line bends outwards a side is dropped and its neighbours are prolonged to meet; where it bends inwards a corner
/// is dropped. Sides that touch the bounding box stay, so that exact fits in the directions of the axes survive.
#[must_use]
pub fn enclosing(ring: &Ring, within: f64) -> Ring {
    let simple = merged(ring.points(), within, ring.bbox());
    // A simplified line that met itself would be no ring; then the original is the answer.
    match Ring::tidy(&simple) {
        Ok((r, t)) if !t.reversed => r,
        _ => ring.clone(),
    }
}

/// A ring that the given one encloses, on the same terms.
#[must_use]
pub fn enclosed(ring: &Ring, within: f64) -> Ring {
    let mut back: Vec<Point> = ring.points().to_vec();
    back.reverse();
    let mut simple = merged(&back, within, BBox::EMPTY);
    simple.reverse();
    match Ring::tidy(&simple) {
        Ok((r, t)) if !t.reversed => r,
        _ => ring.clone(),
    }
}

/// Moves the line to its right only, by at most `within`. Passes that try every second corner keep curves even.
fn merged(points: &[Point], within: f64, keep: BBox) -> Vec<Point> {
    let original: Vec<(Point, Point)> =
        (0..points.len()).map(|i| (points[i], points[(i + 1) % points.len()])).collect();
    let off =
        |p: Point| original.iter().map(|&(a, b)| nearest_on_segment(p, a, b).distance(p)).fold(f64::INFINITY, f64::min);
    let on_box = |a: Point, b: Point| {
        (a.x == b.x && (a.x == keep.min.x || a.x == keep.max.x))
            || (a.y == b.y && (a.y == keep.min.y || a.y == keep.max.y))
    };
    let mut p = points.to_vec();
    let mut changed = true;
    while changed {
        changed = false;
        let mut i = 0;
        while i < p.len() && p.len() > 4 {
            let n = p.len();
            let (a, b, c, d) = (p[(i + n - 1) % n], p[i], p[(i + 1) % n], p[(i + 2) % n]);
            if orient(a, b, c) < 0.0 {
                // The line bends inwards: drop the corner b, if the chord stays near.
                if orient(a, c, b) / a.distance(c) <= within
                    && [0.25, 0.5, 0.75].iter().all(|&t| off(a.lerp(c, t)) <= within)
                {
                    p.remove(i);
                    changed = true;
                }
            } else if orient(b, c, d) > 0.0 && !on_box(b, c) {
                // It bends outwards at b and at c: drop the side between and prolong its neighbours until they meet.
                let (u, v) = (b - a, c - d);
                let cross = u.cross(v);
                if cross.abs() > 1e-9 * u.norm() * v.norm() {
                    let s = (d - a).cross(v) / cross;
                    let m = a + u * s;
                    if s > 1.0 && m.distance(b) < 1e3 && off(m) <= within {
                        p[i] = m;
                        p.remove((i + 1) % n);
                        changed = true;
                    }
                }
            }
            i += 1;
        }
    }
    p
}
