//! How far two convex loops are apart, and along which direction.

use super::distance::segments;
use super::point::{Point, pt};

/// How two convex loops lie to one another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parting {
    /// Unit vector from the first to the second: across the line that parts them best.
    pub normal: Point,
    /// Distance, mm; where they overlap, less than 0: the least move along any direction that parts them.
    pub distance: f64,
}

/// How two convex loops (counter-clockwise, at least three points) lie to one another; exact but for rounding. Touching is a
/// distance of 0.
///
/// Where they overlap, the least move that parts two convex polygons is across a side of one of them (a side of their
/// Minkowski difference); where not, the nearest two points say it.
#[must_use]
pub fn parting(a: &[Point], b: &[Point]) -> Parting {
    let mut best = Parting { normal: pt(1.0, 0.0), distance: f64::NEG_INFINITY };
    for (first, second, sign) in [(a, b, 1.0), (b, a, -1.0)] {
        for (i, &p) in first.iter().enumerate() {
            let d = first[(i + 1) % first.len()] - p;
            let length = d.norm();
            if length <= 0.0 {
                continue;
            }
            // To the right of a counter-clockwise side is outside.
            let out = d.left() * (-1.0 / length);
            let distance = second.iter().map(|&q| out.dot(q - p)).fold(f64::INFINITY, f64::min);
            if distance > best.distance {
                best = Parting { normal: out * sign, distance };
            }
        }
    }
    if best.distance <= 0.0 {
        return best;
    }
    let sides = |l: &[Point]| -> Vec<(Point, Point)> { (0..l.len()).map(|i| (l[i], l[(i + 1) % l.len()])).collect() };
    let of_b = sides(b);
    let mut nearest: Option<(f64, Point)> = None;
    for (p, q) in sides(a) {
        for &(r, s) in &of_b {
            let found = segments(p, q, r, s);
            if nearest.is_none_or(|n| found.distance < n.0) {
                nearest = Some((found.distance, found.to - found.from));
            }
        }
    }
    match nearest {
        // Across a side, the direction is exact already.
        Some((distance, by)) if distance > best.distance + 1e-9 => Parting { normal: by * (1.0 / distance), distance },
        _ => best,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Pose, Region, distance, sum};
    use proptest::prelude::*;

    fn convex() -> impl Strategy<Value = Vec<Point>> {
        proptest::collection::vec((-100.0f64..100.0, -100.0f64..100.0), 3..12)
            .prop_map(|v| sum::hull(&v.into_iter().map(|(x, y)| pt(x, y)).collect::<Vec<Point>>()))
            .prop_filter("has area", |h| h.len() > 2 && sum::hull_area(h) > 10.0)
    }

    fn region(points: &[Point]) -> Region {
        crate::geom::Ring::vouched_outline(points.to_vec()).to_region()
    }

    proptest! {
        #[test]
        fn as_far_as_the_distance_says_and_parted_by_that_move(
            a in convex(),
            b in convex(),
            by in (-200.0f64..200.0, -200.0f64..200.0),
        ) {
            let b: Vec<Point> = b.iter().map(|&p| p + pt(by.0, by.1)).collect();
            let found = parting(&a, &b);
            prop_assert!((found.normal.norm() - 1.0).abs() < 1e-9);
            let apart = distance::regions(&region(&a), &region(&b)).distance;
            if found.distance > 0.0 {
                prop_assert!((found.distance - apart).abs() < 1e-6, "{} for {apart}", found.distance);
            } else {
                prop_assert!(apart <= 1e-6);
                // Moved by as much they touch, and by a little less in any direction they still overlap.
                let moved = |by: Point| region(&b.iter().map(|&p| p + by).collect::<Vec<Point>>());
                let after = distance::regions(&region(&a), &moved(found.normal * (-found.distance + 1e-3))).distance;
                prop_assert!(after > 0.0 && after < 2e-3, "{after}");
                for k in 0..24 {
                    let way = Pose::new(15.0 * f64::from(k), pt(0.0, 0.0)).apply(pt(1.0, 0.0));
                    let less = distance::regions(&region(&a), &moved(way * (-0.99 * found.distance))).distance;
                    prop_assert!(found.distance > -1e-3 || less <= 0.0, "{less}");
                }
            }
        }
    }
}
