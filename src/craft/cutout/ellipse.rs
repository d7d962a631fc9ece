//! Ellipses and their neighbours. The line at a distance from an ellipse is no ellipse; an ellipse that stands in for it is
//! larger or smaller by a hair, and for long thin ones a chain of arcs is better.
//!
//! All statements are about support functions: of an ellipse with half axes a and b, in the direction θ, √(a² cos²θ + b² sin²θ);
//! of a shape grown by a disc, larger by the disc's radius. A convex shape holds another one if its support is nowhere less.

use std::f64::consts::FRAC_PI_2;

use crate::geom::curve::Corner;
use crate::geom::{Point, pt};

fn support(a: f64, b: f64, angle: f64) -> f64 {
    (a * angle.cos()).hypot(b * angle.sin())
}

/// True if the ellipse with half axes `outer` holds that with half axes `inner` grown by `by`.
///
/// With w = cos²θ, the difference of the squared supports, `A'w + B'(1-w) - (√(Aw + B(1-w)) + by)²`, is convex in w, so its
/// least value is at an end or where its slope is 0.
fn holds(outer: (f64, f64), inner: (f64, f64), by: f64) -> bool {
    let (big_a, big_b) = (outer.0 * outer.0, outer.1 * outer.1);
    let (a, b) = (inner.0 * inner.0, inner.1 * inner.1);
    let value = |w: f64| big_a * w + big_b * (1.0 - w) - ((a * w + b * (1.0 - w)).sqrt() + by).powi(2);
    let slope = (big_a - big_b) - (a - b);
    let root = by * (a - b) / slope;
    let w = (root * root - b) / (a - b);
    let slack = -1e-9 * big_a.max(big_b);
    let inside = !(w.is_finite() && root > 0.0 && (0.0..=1.0).contains(&w)) || value(w) >= slack;
    value(0.0) >= slack && value(1.0) >= slack && inside
}

/// The least `e` of 0 to `most` for which `good` holds, by halving; `None` if it does not hold at `most`.
fn least(most: f64, good: impl Fn(f64) -> bool) -> Option<f64> {
    if good(0.0) {
        return Some(0.0);
    }
    good(most).then(|| {
        let (mut low, mut high) = (0.0, most);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if good(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    })
}

/// Half axes of an ellipse that holds the given one grown by `by`, each the same amount larger than `a + by`, `b + by`; and
/// that amount, which is also the most by which it is too large.
pub(super) fn holding(a: f64, b: f64, by: f64) -> (f64, f64, f64) {
    let grown = |e: f64| (a + by + e, b + by + e);
    // At e = a + b + by it is larger than a circle round all of it.
    let e = least(a + b + by, |e| holds(grown(e), (a, b), by)).unwrap_or(a + b + by);
    (grown(e).0, grown(e).1, e)
}

/// Half axes of an ellipse that, grown by `by`, lies in the given one; and by how much it is too small. `None` if there is none.
pub(super) fn held(a: f64, b: f64, by: f64) -> Option<(f64, f64, f64)> {
    let room = a.min(b) - by;
    if room <= 0.0 {
        return None;
    }
    let e = least(room * 0.999, |e| holds((a, b), (a - by - e, b - by - e), by))?;
    Some((a - by - e, b - by - e, e))
}

/// Least radius of curvature: b²/a at the ends of the long axis.
pub(super) fn least_radius(a: f64, b: f64) -> f64 {
    let (long, short) = (a.max(b), a.min(b));
    short * short / long
}

/// Corners, with radii, of a chain of arcs round an ellipse: it holds the ellipse, and no point of it is farther out than
/// `within` (mm), as far as 96 arcs can do.
///
/// Each corner lies between two tangents, rounded by the least radius of curvature between them. The ellipse between the
/// tangents is a union of discs of that radius (W. Blaschke's rolling theorem), so the rounding cuts nothing off.
pub(super) fn chain(centre: Point, a: f64, b: f64, within: f64) -> Vec<Corner> {
    let radius_at = |angle: f64| a * a * b * b / support(a, b, angle).powi(3);
    let mut corners = Vec::new();
    for quarter in 2..=24usize {
        let step = FRAC_PI_2 / quarter as f64;
        corners.clear();
        let mut worst = 0.0f64;
        for k in 0..4 * quarter {
            let (from, to) = (k as f64 * step, (k + 1) as f64 * step);
            let (u, v) = (pt(from.cos(), from.sin()), pt(to.cos(), to.sin()));
            let (h, g) = (support(a, b, from), support(a, b, to));
            let meet = |h: f64, g: f64| pt(h * v.y - g * u.y, g * u.x - h * v.x) * (1.0 / u.cross(v));
            let radius = radius_at(from).min(radius_at(to));
            let arc = meet(h - radius, g - radius);
            for j in 1..16 {
                let angle = from + step * f64::from(j) / 16.0;
                let far = arc.dot(pt(angle.cos(), angle.sin())) + radius - support(a, b, angle);
                worst = worst.max(far);
            }
            corners.push(Corner { at: centre + meet(h, g), radius: radius * (1.0 - 1e-9) });
        }
        if worst <= within {
            break;
        }
    }
    corners
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::{chain, held, holding, support};
    use crate::craft::line;
    use crate::geom::pt;
    use crate::model::Shape;

    #[test]
    fn ellipses_that_stand_in_err_on_the_right_side_by_little() {
        for (a, b, by) in [(225.0, 175.0, 4.5), (300.0, 100.0, 4.5), (100.0, 101.0, 12.0), (90.0, 260.0, 30.0)] {
            let (p, q, more) = holding(a, b, by);
            let (r, s, less) = held(a, b, by).unwrap_or_default();
            let (mut touches_out, mut touches_in) = (f64::MAX, f64::MAX);
            for k in 0..10_000 {
                let angle = TAU * f64::from(k) / 10_000.0;
                let over = support(p, q, angle) - support(a, b, angle) - by;
                assert!(over > -1e-6 && over <= more + 1e-6, "{a} {b} {by}: {over} {more}");
                touches_out = touches_out.min(over);
                let under = support(a, b, angle) - support(r, s, angle) - by;
                assert!(under > -1e-6 && under <= less + 1e-6, "{a} {b} {by}: {under} {less}");
                touches_in = touches_in.min(under);
            }
            // No hair more than needed.
            assert!(touches_out < 1e-3 && touches_in < 1e-3, "{touches_out} {touches_in}");
        }
        // A basin: what the ellipse gives away is far below what a saw can do.
        assert!(holding(225.0, 175.0, 4.5).2 < 0.05);
        assert!(held(20.0, 20.0, 25.0).is_none());
    }

    #[test]
    fn a_chain_of_arcs_holds_its_ellipse_closely() {
        for (a, b) in [(225.0, 175.0), (300.0, 100.0)] {
            let corners = chain(pt(10.0, 20.0), a, b, 0.05);
            let ring = line::inner(&Shape::Polygon(corners));
            for p in ring.points() {
                let d = *p - pt(10.0, 20.0);
                let value = (d.x / a).hypot(d.y / b);
                assert!(value > 1.0 - 1e-5 && value < 1.0 + 0.06 / a.min(b), "{value}");
            }
        }
    }
}
