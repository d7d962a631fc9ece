//! What of a region is broad, and what only strips.

use super::point::pt;
use super::pose::Pose;
use super::region::Region;
use super::{boolean, sum};

/// The region without what is narrower than `width` (mm): all that a square of this side, turned by `turn` degrees, covers as it moves about
/// within.
///
/// This is the opening of mathematical morphology (G. Matheron, Random Sets and Integral Geometry, 1975; from memory). By a square, not by
/// a disc: it ends strips square to their length, as a saw does, and leaves corners that are square to it as they are. Straight borders
/// stay where they are, whichever way they run; corners that are sharper, or lie otherwise, lose their tips.
#[must_use]
pub fn broad(region: &Region, width: f64, turn: f64) -> Region {
    if width <= 0.0 {
        return region.clone();
    }
    // A hair less, so that what is just so wide stays.
    let side = width * (1.0 - 1e-3);
    let square = vec![pt(0.0, 0.0), pt(side, 0.0), pt(side, side), pt(0.0, side)];
    let level = Pose::new(-turn, pt(0.0, 0.0)).region(region);
    let parts = [square];
    let covered = sum::sum(&sum::fits(&level, &parts), &parts);
    boolean::intersection(&Pose::new(turn, pt(0.0, 0.0)).region(&covered), region)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{BBox, Ring};

    fn box_of(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Ring::rectangle(BBox { min: pt(x0, y0), max: pt(x1, y1) }).to_region()
    }

    #[test]
    fn strips_go_and_sides_stay_where_they_are() {
        // A slab with a piece near its lower left corner: strips round it, a block on the right, a strip of 60 above.
        let left = boolean::difference(&box_of(0.0, 0.0, 3000.0, 1500.0), &box_of(16.0, 16.0, 1900.0, 1440.0));
        for turn in [0.0, 90.0] {
            let broad = broad(&left, 100.0, turn);
            assert_eq!(broad.polygons.len(), 1);
            assert!(broad.polygons[0].holes.is_empty());
            let b = broad.bbox();
            assert!(b.min.distance(pt(1900.0, 0.0)) < 1e-3 && b.max.distance(pt(3000.0, 1500.0)) < 1e-3, "{b:?}");
            assert!((broad.area() - 1100.0 * 1500.0).abs() < 1.0, "{}", broad.area());
        }
    }

    #[test]
    fn an_arm_that_is_broad_stays_with_its_corners() {
        let left = boolean::difference(&box_of(0.0, 0.0, 3000.0, 1500.0), &box_of(16.0, 16.0, 1900.0, 1300.0));
        let broad = broad(&left, 100.0, 0.0);
        assert!((broad.area() - (1100.0 * 1500.0 + 1900.0 * 200.0)).abs() < 1.0, "{}", broad.area());
        assert_eq!(broad.polygons[0].outer.points().len(), 6, "{broad:?}");
    }

    #[test]
    fn what_runs_round_a_hole_stays_if_it_is_broad() {
        let left = boolean::difference(&box_of(0.0, 0.0, 3000.0, 1500.0), &box_of(400.0, 400.0, 2500.0, 1100.0));
        let all = broad(&left, 100.0, 0.0);
        assert!((all.area() - left.area()).abs() < 1.0 && all.polygons[0].holes.len() == 1, "{all:?}");
        // Below and above it are 400, left 400, right 500.
        let some = broad(&left, 450.0, 0.0);
        assert!((some.area() - 500.0 * 1500.0).abs() < 1.0, "{}", some.area());
        assert!(broad(&left, 600.0, 0.0).is_empty());
    }

    #[test]
    fn slanted_borders_stay_and_a_sharp_corner_loses_its_tip_only() {
        let ring = Ring::tidy(&[pt(0.0, 0.0), pt(2000.0, 0.0), pt(2000.0, 300.0)]).unwrap().0;
        let broad = broad(&ring.to_region(), 50.0, 0.0);
        // The square first fits where the triangle is 50 high, a third of a metre from the tip; at the other end of the slant its upper
        // side does not come quite up to the corner.
        let lost = 50.0 * (50.0 / 0.15) / 2.0 + 50.0 * (50.0 * 0.15) / 2.0;
        assert!((ring.area() - broad.area() - lost).abs() < 60.0, "{}", ring.area() - broad.area());
        assert!(boolean::difference(&broad, &ring.to_region()).area() < 1e-3);
    }
}
