//! Convex cells of free space, against what they must not touch.

use proptest::prelude::*;
use scantling::geom::cell::{Cell, Obstacle};
use scantling::geom::distance::nearest_on_segment;
use scantling::geom::{BBox, Point, Region, Ring, boolean, pt};

/// Slow twin of the depth: containment and sides of the region itself.
fn depth(region: &Region, outside: bool, p: Point) -> f64 {
    let d = region.edges().map(|(a, b)| nearest_on_segment(p, a, b).distance(p)).fold(f64::INFINITY, f64::min);
    if region.contains(p) == outside { 0.0 } else { d }
}

fn least_spare(cell: &Cell, p: Point) -> f64 {
    cell.halves.iter().map(|h| h.spare(p)).fold(f64::INFINITY, f64::min)
}

/// The point drawn towards the anchor until it lies in the cell.
fn into(cell: &Cell, p: Point) -> Point {
    let t = cell
        .halves
        .iter()
        .map(|h| {
            let (from, to) = (h.spare(cell.anchor).max(0.0), h.spare(p));
            if to >= 0.0 { 1.0 } else { from / (from - to) }
        })
        .fold(1.0, f64::min);
    cell.anchor.lerp(p, t)
}

fn star(corners: &[(f64, f64)]) -> Option<Region> {
    let n = corners.len() as f64;
    let points: Vec<Point> = corners
        .iter()
        .enumerate()
        .map(|(k, &(t, r))| {
            let a = (k as f64 + 0.8 * t) / n * std::f64::consts::TAU;
            pt(800.0 * r * a.cos(), 500.0 * r * a.sin())
        })
        .collect();
    Ring::tidy(&points).ok().map(|r| r.0.to_region())
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Ring::rectangle(BBox { min: pt(x0, y0), max: pt(x1, y1) }).to_region()
}

proptest! {
    #[test]
    fn a_cell_touches_nothing(
        corners in proptest::collection::vec((0.0f64..1.0, 0.2f64..1.0), 5..20),
        hole in proptest::bool::ANY,
        outside in proptest::bool::ANY,
        starts in proptest::collection::vec((-1.1f64..1.1, -1.1f64..1.1, proptest::bool::ANY), 12),
        points in proptest::collection::vec((-1.0f64..1.0, -1.0f64..1.0), 24),
    ) {
        let Some(mut region) = star(&corners) else { return Ok(()) };
        if hole {
            region = boolean::difference(&region, &rectangle(-90.0, -60.0, 80.0, 50.0));
        }
        let obstacle = if outside { Obstacle::outside(&region) } else { Obstacle::region(&region) };
        let edges: Vec<(Point, Point)> = region.edges().collect();
        for (k, (x, y, on_border)) in starts.into_iter().enumerate() {
            let mut p = pt(800.0 * x, 500.0 * y);
            if on_border {
                // On a side or at a corner, exactly.
                let (a, b) = edges[k % edges.len()];
                p = if k % 3 == 0 { a } else { a.lerp(b, x.abs() / 1.1) };
            }
            let deep = depth(&region, outside, p);
            prop_assert!((obstacle.depth(p) - deep).abs() < 1e-6);
            let reach = 150.0;
            let Some(cell) = obstacle.cell(p, 5.0, reach, pt(0.0, 0.0)) else {
                prop_assert!(deep > 5.0 - 1e-6, "no cell at {p:?}, {deep} deep");
                continue;
            };
            prop_assert!(deep <= 5.0 + 1e-6);
            prop_assert!((cell.anchor.distance(p) - deep).abs() < 1e-6);
            prop_assert!(least_spare(&cell, cell.anchor) >= -2e-6);
            for &(u, v) in &points {
                let q = into(&cell, cell.anchor + pt(u, v) * reach);
                let d = depth(&region, outside, q);
                prop_assert!(d < 4e-6, "{q:?} of the cell at {p:?} is {d} deep");
            }
        }
    }
}

#[test]
fn a_slit_without_width_is_a_cell_along_it() {
    let walls = Region {
        polygons: [rectangle(0.0, 0.0, 100.0, 50.0), rectangle(0.0, 50.0, 100.0, 90.0)]
            .into_iter()
            .flat_map(|r| r.polygons)
            .collect(),
    };
    let cell = Obstacle::region(&walls).cell(pt(40.0, 50.0), 0.5, 20.0, pt(0.0, 0.0)).unwrap();
    assert_eq!(cell.halves.len(), 2);
    assert!((cell.halves[0].normal + cell.halves[1].normal).norm() < 1e-12);
    for (x, y, free) in [(25.0, 50.0, true), (55.0, 50.0, true), (40.0, 50.1, false), (40.0, 49.9, false)] {
        assert_eq!(least_spare(&cell, pt(x, y)) >= -1e-9, free, "{x}, {y}");
    }
}

#[test]
fn a_corner_leaves_the_side_that_is_wanted() {
    let obstacle = Obstacle::region(&rectangle(0.0, 0.0, 100.0, 100.0));
    for (want, normal) in [(pt(0.0, 1.0), pt(0.0, 1.0)), (pt(1.0, 0.0), pt(1.0, 0.0))] {
        let cell = obstacle.cell(pt(100.0, 100.0), 0.5, 50.0, want).unwrap();
        assert_eq!(cell.halves.len(), 1);
        assert!((cell.halves[0].normal - normal).norm() < 1e-12);
    }
    // Beside a corner, the side line that leaves more room.
    let cell = obstacle.cell(pt(130.0, 110.0), 0.5, 50.0, pt(0.0, 0.0)).unwrap();
    assert!((cell.halves[0].normal - pt(1.0, 0.0)).norm() < 1e-12);
    assert!((cell.halves[0].spare(pt(130.0, 110.0)) - 30.0).abs() < 1e-9);
}

#[test]
fn a_notch_has_three_walls() {
    let notch = boolean::difference(&rectangle(0.0, 0.0, 100.0, 100.0), &rectangle(40.0, 50.0, 60.0, 101.0));
    let cell = Obstacle::region(&notch).cell(pt(50.0, 60.0), 0.5, 60.0, pt(0.0, 0.0)).unwrap();
    assert_eq!(cell.halves.len(), 3);
    assert!((least_spare(&cell, pt(50.0, 60.0)) - 10.0).abs() < 1e-9);
    // Deep in the stone there is none.
    assert!(Obstacle::region(&notch).cell(pt(20.0, 20.0), 0.5, 60.0, pt(0.0, 0.0)).is_none());
}
