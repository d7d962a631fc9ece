//! The geometry kernel against the general-purpose `geo` crate and against slow plain twins.

use std::f64::consts::{PI, TAU};

use geo::{Area, BooleanOps, Centroid, Contains, Distance, Euclidean, Intersects, Validation};
use proptest::prelude::*;
use scantling::geom::curve::{self, Corner, Side, Source};
use scantling::geom::pose::cos_sin;
use scantling::geom::rectangle::{self, Want};
use scantling::geom::sum::{self, Convex};
use scantling::geom::{BBox, Point, Polygon, Pose, Region, Ring, RingFault, boolean, distance, pt, tol};

/// Two grid cells: what rounding to the grid may move a border by.
const GRID: f64 = 2e-4;

/// `n` cases, more where the environment asks for a factor.
fn cases(n: u32) -> ProptestConfig {
    let factor = std::env::var("SCANTLING_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(1u32);
    ProptestConfig { cases: n.saturating_mul(factor), max_shrink_iters: 2000, ..ProptestConfig::default() }
}

// ---------------------------------------------------------------------------------------------------------------------
// Shapes.

fn ring(points: &[[f64; 2]]) -> Ring {
    tidy(&points.iter().map(|&p| p.into()).collect::<Vec<Point>>())
}

fn tidy(points: &[Point]) -> Ring {
    match Ring::tidy(points) {
        Ok((ring, _)) => ring,
        Err(fault) => panic!("{fault:?} in {points:?}"),
    }
}

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Ring::rectangle(BBox { min: pt(x0, y0), max: pt(x1, y1) }).to_region()
}

/// A star-shaped polygon round `centre`: one vertex per sector, at a random angle in it and a random radius.
fn star(corners: std::ops::Range<usize>, radii: std::ops::Range<f64>) -> impl Strategy<Value = Vec<Point>> {
    prop::collection::vec((-0.4..0.4f64, radii), corners).prop_map(|v| {
        let n = v.len() as f64;
        v.iter()
            .enumerate()
            .map(|(k, &(jitter, r))| {
                let a = (k as f64 + jitter) / n * TAU;
                pt(r * a.cos(), r * a.sin())
            })
            .collect()
    })
}

/// A star of 6 to 15 corners with up to two holes.
fn holed() -> impl Strategy<Value = Region> {
    (star(6..15, 300.0..900.0), star(4..9, 15.0..60.0), star(4..9, 15.0..60.0), 0usize..3).prop_map(
        |(outer, left, right, holes)| {
            let at = |p: &[Point], x: f64| tidy(&p.iter().map(|&q| q + pt(x, 0.0)).collect::<Vec<_>>());
            let holes = [at(&left, -80.0), at(&right, 80.0)].into_iter().take(holes).collect();
            Region { polygons: vec![Polygon { outer: tidy(&outer), holes }] }
        },
    )
}

/// A comb on a 10 mm grid: many parallel sides, slots as wide as teeth of others.
fn comb() -> impl Strategy<Value = Region> {
    (1u32..4, prop::collection::vec((1u32..5, 1u32..5, 2u32..12), 1..6)).prop_map(|(back, teeth)| {
        let mut points = vec![pt(0.0, 0.0)];
        let mut x = 0.0;
        let mut top: Vec<Point> = Vec::new();
        let low = 10.0 * f64::from(back);
        for (k, &(slot, tooth, height)) in teeth.iter().enumerate() {
            if k > 0 {
                top.push(pt(x, low));
                x += 10.0 * f64::from(slot);
                top.push(pt(x, low));
            }
            let high = low + 10.0 * f64::from(height);
            top.push(pt(x, high));
            x += 10.0 * f64::from(tooth);
            top.push(pt(x, high));
        }
        points.push(pt(x, 0.0));
        points.extend(top.into_iter().rev());
        tidy(&points).to_region()
    })
}

fn vector(reach: f64) -> impl Strategy<Value = Point> {
    (-reach..reach, -reach..reach).prop_map(|(x, y)| pt(x, y))
}

/// Evenly spread points of a box, from a seed.
struct Darts(u64, BBox);

impl Iterator for Darts {
    type Item = Point;
    fn next(&mut self) -> Option<Point> {
        let mut unit = || {
            // SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        };
        let (u, v) = (unit(), unit());
        Some(pt(self.1.min.x + u * self.1.width(), self.1.min.y + v * self.1.height()))
    }
}

fn widened(b: BBox, by: f64) -> BBox {
    BBox { min: b.min - pt(by, by), max: b.max + pt(by, by) }
}

// ---------------------------------------------------------------------------------------------------------------------
// The same things in `geo`.

fn g_line(points: &[Point]) -> geo::LineString {
    geo::LineString::new(points.iter().chain(points.first()).map(|p| geo::Coord { x: p.x, y: p.y }).collect())
}

fn g_polygon(p: &Polygon) -> geo::Polygon {
    geo::Polygon::new(g_line(p.outer.points()), p.holes.iter().map(|h| g_line(h.points())).collect())
}

fn g(region: &Region) -> geo::MultiPolygon {
    geo::MultiPolygon::new(region.polygons.iter().map(g_polygon).collect())
}

fn g_point(p: Point) -> geo::Point {
    geo::Point::new(p.x, p.y)
}

/// Distance from `p` to the nearest border of `region`, by `geo`.
fn to_border(p: Point, region: &Region) -> f64 {
    region.rings().map(|r| Euclidean.distance(&g_point(p), &g_line(r.points()))).fold(f64::INFINITY, f64::min)
}

/// Everything that a result of a boolean operation promises.
fn assert_sound(region: &Region) {
    for polygon in &region.polygons {
        for r in polygon.rings() {
            assert!(r.points().len() >= 3, "{r:?}");
            assert!(r.area() > 0.0, "clockwise: {r:?}");
            for p in r.points() {
                assert_eq!(boolean::snap(*p), *p, "off the grid");
            }
        }
        assert!(polygon.area() > 0.0);
    }
    let errors = g(region).validation_errors();
    assert!(errors.is_empty(), "{errors:?} in {region:?}");
}

fn close(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within
}

// ---------------------------------------------------------------------------------------------------------------------
// 1. Tidying.

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn a_star_is_a_ring_however_it_is_written(points in star(4..20, 1.0..1000.0), clockwise: bool, first in 0usize..20,
                                              repeats in prop::collection::vec(0usize..20, 0..4),
                                              halves in prop::collection::vec(0usize..20, 0..4)) {
        let n = points.len();
        let plain = geo::Polygon::new(g_line(&points), vec![]);
        let mut written: Vec<Point> = Vec::new();
        for i in 0..n {
            let (p, q) = (points[(i + first) % n], points[(i + first + 1) % n]);
            written.push(p);
            if repeats.contains(&i) {
                written.push(p);
            }
            if halves.contains(&i) {
                written.push(p.lerp(q, 0.5));
                written.push(p.lerp(q, 0.75));
            }
        }
        if clockwise {
            written.reverse();
        }
        let (ring, tidied) = Ring::tidy(&written).unwrap();
        prop_assert!(close(ring.area(), plain.unsigned_area(), 1e-9 * ring.area() + 1e-5 * ring.perimeter()));
        prop_assert!(ring.area() > 0.0);
        prop_assert_eq!(tidied.reversed, clockwise);
        prop_assert_eq!(tidied.repeated, (0..n).filter(|i| repeats.contains(i)).count());
        prop_assert_eq!(ring.points().len() + tidied.collinear + tidied.repeated, written.len());
        prop_assert!(tidied.collinear >= 2 * (0..n).filter(|i| halves.contains(i)).count());
        prop_assert!(g(&ring.to_region()).is_valid());
        let (again, second) = Ring::tidy(ring.points()).unwrap();
        prop_assert_eq!(&again, &ring);
        prop_assert_eq!(second, scantling::geom::Tidied::default());
    }

    #[test]
    fn random_points_make_a_valid_ring_or_a_fault(points in prop::collection::vec((-9i32..9, -9i32..9), 0..9),
                                                  scale in prop::sample::select(vec![1.0, 1e-3, 1e4, 0.1])) {
        let points: Vec<Point> = points.iter().map(|&(x, y)| pt(f64::from(x) * scale, f64::from(y) * scale)).collect();
        match Ring::tidy(&points) {
            Ok((ring, _)) => {
                prop_assert!(g(&ring.to_region()).is_valid(), "{:?}", ring);
                prop_assert!(ring.area() > 0.0);
            }
            Err(RingFault::OutOfRange { .. }) => prop_assert!(false, "all are in range"),
            Err(RingFault::TooFew { .. }) => {
                let flat = geo::ConvexHull::convex_hull(&geo::Polygon::new(g_line(&points), vec![])).unsigned_area();
                prop_assert!(flat <= 1e-5 * scale.max(1.0), "{:?}", points);
            }
            Err(RingFault::Crossing { at, sides: (i, j) }) => {
                // The place lies on both sides that are named.
                for k in [i, j] {
                    let from = points[k];
                    prop_assert!(
                        (1..points.len()).any(|d| distance::nearest_on_segment(at, from, points[(k + d) % points.len()]).distance(at) < 1e-6 * scale.max(1.0)),
                        "{:?} is not on side {} of {:?}", at, k, points
                    );
                }
                let bare = geo::Polygon::new(g_line(&points), vec![]);
                prop_assert!(!bare.is_valid(), "{:?} is valid", points);
            }
        }
    }

    #[test]
    fn numbers_that_are_none_are_named(points in star(4..9, 1.0..1000.0), at in 0usize..9,
                                       bad in prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.1e6, -2e9]), x: bool) {
        let mut points = points;
        let at = at % points.len();
        if x { points[at].x = bad } else { points[at].y = bad }
        prop_assert_eq!(Ring::tidy(&points), Err(RingFault::OutOfRange { index: at }));
    }
}

#[test]
fn faults_are_found_where_they_are() {
    let fault = |points: &[[f64; 2]]| Ring::tidy(&points.iter().map(|&p| p.into()).collect::<Vec<_>>()).unwrap_err();
    // A bow-tie whose two wings cancel has no net area, and is a crossing none the less.
    assert_eq!(
        fault(&[[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]]),
        RingFault::Crossing { at: pt(5.0, 5.0), sides: (0, 2) }
    );
    let RingFault::Crossing { at, sides: (0, 2) } = fault(&[[0.0, 0.0], [100.0, 100.0], [100.0, 0.0], [0.0, 90.0]])
    else {
        panic!("bow-tie of uneven wings")
    };
    assert!(at.distance(pt(900.0 / 19.0, 900.0 / 19.0)) < 1e-9);
    // A spike on a side.
    let RingFault::Crossing { at, .. } =
        fault(&[[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [150.0, 50.0], [100.0, 50.0], [100.0, 100.0], [0.0, 100.0]])
    else {
        panic!("spike")
    };
    assert_eq!(at, pt(150.0, 50.0));
    // A vertex on a side, and two vertices in one place.
    assert_eq!(
        fault(&[[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [50.0, 0.0], [0.0, 100.0]]),
        RingFault::Crossing { at: pt(50.0, 0.0), sides: (0, 2) }
    );
    let RingFault::Crossing { at, .. } =
        fault(&[[0.0, 0.0], [50.0, 50.0], [100.0, 0.0], [100.0, 100.0], [50.0, 50.0], [0.0, 100.0]])
    else {
        panic!("two vertices in one place")
    };
    assert_eq!(at, pt(50.0, 50.0));
    // Nothing, a point, a line.
    for points in [
        &[][..],
        &[[1.0, 1.0]],
        &[[1.0, 1.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]],
        &[[0.0, 0.0], [5.0, 5.0]],
        &[[0.0, 0.0], [5.0, 5.0], [9.0, 9.0]],
        &[[0.0, 0.0], [9.0, 9.0], [5.0, 5.0], [7.0, 7.0]],
    ] {
        assert!(matches!(fault(points), RingFault::TooFew { .. }), "{points:?}: {:?}", fault(points));
    }
    // A sliver 1 µm wide is a ring, one 1 nm wide is none.
    assert!(close(ring(&[[0.0, 0.0], [3000.0, 0.0], [3000.0, 1e-3], [0.0, 1e-3]]).area(), 3.0, 1e-9));
    assert!(matches!(
        fault(&[[0.0, 0.0], [3000.0, 0.0], [3000.0, 1e-9], [0.0, 1e-9]]),
        RingFault::TooFew { .. } | RingFault::Crossing { .. }
    ));
}

#[test]
fn ten_thousand_points_are_tidied_in_reasonable_time() {
    let n = 10_000;
    let gear: Vec<Point> = (0..n)
        .map(|k| {
            let (a, r) = (f64::from(k) / f64::from(n) * TAU, if k % 2 == 0 { 1000.0 } else { 900.0 });
            pt(r * a.cos(), r * a.sin())
        })
        .collect();
    // A comb whose long teeth all overlap in x is the worst case of the sweep.
    let mut comb: Vec<Point> = (0..n - 2).map(|k| pt(if k % 2 == 0 { 0.0 } else { 500.0 }, f64::from(k))).collect();
    comb.extend([pt(600.0, f64::from(n)), pt(600.0, -1.0)]);
    for points in [gear, comb] {
        let start = std::time::SystemTime::now();
        assert_eq!(tidy(&points).points().len(), points.len());
        let took = start.elapsed().unwrap();
        assert!(took.as_secs_f64() < 5.0, "{took:?}");
    }
}

// ---------------------------------------------------------------------------------------------------------------------
// 2. Measures.

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn measures_agree_with_geo(region in holed(), far in vector(5000.0), seed: u64) {
        let region = Pose::new(0.0, far).region(&region);
        let twin = g(&region);
        prop_assert!(close(region.area(), twin.unsigned_area(), 1e-6 * region.area()));
        let c = twin.centroid().unwrap();
        prop_assert!(region.centroid().unwrap().distance(pt(c.x(), c.y())) < 1e-6);
        let b = geo::BoundingRect::bounding_rect(&twin).unwrap();
        prop_assert_eq!(region.bbox(), BBox { min: pt(b.min().x, b.min().y), max: pt(b.max().x, b.max().y) });
        let lengths: f64 = region.rings().map(|r| geo::Length::length(&Euclidean, &g_line(r.points()))).sum();
        prop_assert!(close(region.perimeter(), lengths, 1e-6));
        for p in Darts(seed, region.bbox()).take(50).filter(|&p| to_border(p, &region) > 1e-6) {
            prop_assert_eq!(region.contains(p), twin.contains(&g_point(p)));
        }
        for ring in region.rings() {
            let hull = geo::ConvexHull::convex_hull(&geo::Polygon::new(g_line(ring.points()), vec![]));
            let convex = close(hull.unsigned_area(), ring.area(), 1e-9 * ring.area());
            prop_assert_eq!(ring.is_convex(), convex);
            prop_assert_eq!(sum::hull(ring.points()).len(), hull.exterior().0.len() - 1);
        }
    }
}

// ---------------------------------------------------------------------------------------------------------------------
// 3. Distances.

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn distances_agree_with_geo(a in holed(), b in holed(), by in vector(3000.0), line in prop::collection::vec(vector(2500.0), 1..5)) {
        let b = Pose::new(0.0, by).region(&b);
        let (ga, gb) = (g_polygon(&a.polygons[0]), g_polygon(&b.polygons[0]));
        let oracle = Euclidean.distance(&ga, &gb);
        let near = distance::regions(&a, &b);
        if oracle > 0.0 {
            prop_assert!(close(near.distance, oracle, 1e-9), "{} {}", near.distance, oracle);
            prop_assert!(close(near.from.distance(near.to), oracle, 1e-9));
            prop_assert!(to_border(near.from, &a) < 1e-9 && to_border(near.to, &b) < 1e-9);
        } else {
            prop_assert!(near.distance < 0.0);
        }
        let lines = distance::ring_lines(&a.polygons[0].outer, &b.polygons[0].outer).distance;
        let oracle = Euclidean.distance(ga.exterior(), gb.exterior());
        prop_assert!(close(lines, oracle, 1e-9));
        prop_assert_eq!(distance::regions(&b, &a).distance.to_bits() == near.distance.to_bits(),
                        distance::regions(&b, &a).distance == near.distance);
        prop_assert!(close(distance::regions(&b, &a).distance, near.distance, 1e-9 + 1e-6 * near.distance.abs()));
        // Lines and points.
        let first = g_point(line[0]);
        prop_assert!(close(distance::point_to_region(line[0], &a).distance, Euclidean.distance(&first, &ga), 1e-9));
        let open = geo::LineString::new(line.iter().map(|p| geo::Coord { x: p.x, y: p.y }).collect());
        let oracle = if line.len() == 1 { Euclidean.distance(&first, &ga) } else { Euclidean.distance(&open, &ga) };
        prop_assert!(close(distance::line_to_region(&line, &a).distance, oracle, 1e-9));
    }

    #[test]
    fn a_guest_in_a_hole_is_outside_and_near_the_hole(host in star(6..15, 300.0..900.0), hole in star(8..15, 60.0..120.0),
                                                      guest in star(4..9, 5.0..20.0)) {
        let host = Region { polygons: vec![Polygon { outer: tidy(&host), holes: vec![tidy(&hole)] }] };
        let guest = tidy(&guest).to_region();
        let near = distance::regions(&host, &guest).distance;
        let oracle = Euclidean.distance(&g_polygon(&host.polygons[0]), &g_polygon(&guest.polygons[0]));
        prop_assert!(near > 0.0);
        prop_assert!(close(near, oracle, 1e-9));
        // The same guest is well inside the host without its hole.
        let filled = host.polygons[0].outer.clone();
        let inside = distance::inside_ring(&guest, &filled).distance;
        let oracle = Euclidean.distance(&g_line(filled.points()), &g_line(guest.polygons[0].outer.points()));
        prop_assert!(close(inside, oracle, 1e-9));
        prop_assert!(distance::regions(&filled.to_region(), &guest).distance < 0.0);
        prop_assert!(distance::inside_ring(&host, &guest.polygons[0].outer).distance < 0.0);
    }

    #[test]
    fn a_thin_overlap_is_as_deep_as_it_is(depth in 0.01..2.0f64, turn in 0.0..360.0f64, at in vector(2000.0)) {
        let pose = Pose::new(turn, at);
        let a = pose.region(&rect(0.0, 0.0, 600.0, 400.0));
        let b = pose.region(&rect(600.0 - depth, -50.0, 900.0, 500.0));
        let found = distance::regions(&a, &b).distance;
        prop_assert!(close(-found, depth, 0.1 * depth + GRID), "{} for {}", found, depth);
        let out = distance::inside_ring(&a, &pose.ring(&Ring::rectangle(BBox { min: pt(-50.0, -50.0), max: pt(600.0 - depth, 500.0) }))).distance;
        prop_assert!(close(-out, depth, 0.1 * depth + GRID), "{} for {}", out, depth);
    }

    #[test]
    fn a_touch_is_no_overlap(turn in 0.0..360.0f64, at in vector(2000.0), slide in -300.0..300.0f64, other in 0.0..300.0f64) {
        // Side by side, corner in a notch, and flush inside.
        let pose = Pose::new(turn, at);
        let a = pose.region(&rect(0.0, 0.0, 600.0, 400.0));
        let b = pose.region(&rect(600.0, slide, 900.0, slide + 500.0));
        prop_assert!(distance::regions(&a, &b).distance.abs() < 1e-3);
        let container = Ring::rectangle(BBox { min: pt(-other, 0.0), max: pt(600.0, 400.0) });
        prop_assert!(distance::inside_ring(&a, &pose.ring(&container)).distance.abs() < 1e-3);
        // The same outline on itself overlaps wholly, however it was turned.
        prop_assert!(distance::regions(&a, &a).distance < -100.0);
        let undone = Region { polygons: vec![Polygon { outer: a.polygons[0].outer.map(|p| pose.apply(pose.undo(p))), holes: vec![] }] };
        prop_assert!(distance::regions(&a, &undone).distance < -100.0);
        prop_assert!(distance::inside_ring(&a, &undone.polygons[0].outer).distance.abs() < 1e-3);
    }

    #[test]
    fn a_long_flush_side_does_not_hide_a_small_overlap(bump in 0.2..3.0f64, turn in 0.0..360.0f64, at in vector(2000.0), sliver in 0.0..5e-4f64) {
        // Two long sides overlap by less than the tolerance, and one of them has a bump that overlaps by far more.
        let pose = Pose::new(turn, at);
        let a = pose.region(&rect(0.0, 0.0, 3000.0, 600.0));
        let b = pose.region(&ring(&[[0.0, 600.0 - sliver], [1500.0, 600.0 - sliver], [1500.0, 600.0 - bump], [1500.0 + 2.0 * bump, 600.0 - bump],
                                    [1500.0 + 2.0 * bump, 600.0 - sliver], [3000.0, 600.0 - sliver], [3000.0, 1200.0], [0.0, 1200.0]]).to_region());
        let found = distance::regions(&a, &b).distance;
        prop_assert!(found < -0.25 * bump, "{} for a bump of {}", found, bump);
        let room = pose.ring(&ring(&[[0.0, 0.0], [1500.0, 0.0], [1500.0, bump], [1500.0 + 2.0 * bump, bump], [1500.0 + 2.0 * bump, 0.0], [3000.0, 0.0],
                                     [3000.0, 600.0], [0.0, 600.0]]));
        let found = distance::inside_ring(&a, &room).distance;
        prop_assert!(found < -0.25 * bump, "{} for a bump of {}", found, bump);
    }
}

#[test]
fn distance_to_nothing_is_infinite() {
    let a = rect(0.0, 0.0, 1.0, 1.0);
    assert_eq!(distance::regions(&a, &Region::empty()).distance, f64::INFINITY);
    assert_eq!(distance::regions(&Region::empty(), &a).distance, f64::INFINITY);
    assert_eq!(distance::point_to_region(pt(0.0, 0.0), &Region::empty()).distance, f64::INFINITY);
    assert_eq!(distance::line_to_region(&[], &a).distance, f64::INFINITY);
}

// ---------------------------------------------------------------------------------------------------------------------
// 4. Boolean operations.

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn boolean_operations_agree_with_geo(a in holed(), b in holed(), by in vector(1200.0), turn in 0.0..360.0f64, seed: u64) {
        let b = Pose::new(turn, by).region(&b);
        let (or, and, minus) = (boolean::union(&a, &b), boolean::intersection(&a, &b), boolean::difference(&a, &b));
        let slack = GRID * (a.perimeter() + b.perimeter());
        prop_assert!(close(or.area() + and.area(), a.area() + b.area(), slack));
        prop_assert!(close(minus.area() + and.area(), a.area(), slack));
        let (ga, gb) = (g(&a), g(&b));
        prop_assert!(close(or.area(), ga.union(&gb).unsigned_area(), slack));
        prop_assert!(close(and.area(), ga.intersection(&gb).unsigned_area(), slack));
        prop_assert!(close(minus.area(), ga.difference(&gb).unsigned_area(), slack));
        for r in [&or, &and] {
            assert_sound(r);
        }
        if !and.is_empty() {
            assert_sound(&minus);
        }
        prop_assert_eq!(&or, &boolean::union(&a, &b));
        prop_assert_eq!(&or, &boolean::union_all([&a, &b]));
        prop_assert_eq!(&and, &boolean::intersection(&a, &b));
        prop_assert_eq!(&minus, &boolean::difference(&a, &b));
        for p in Darts(seed, or.bbox()).take(40).filter(|&p| to_border(p, &a).min(to_border(p, &b)) > GRID) {
            let (x, y) = (a.contains(p), b.contains(p));
            prop_assert_eq!(or.contains(p), x || y);
            prop_assert_eq!(and.contains(p), x && y);
            prop_assert_eq!(minus.contains(p), x && !y);
        }
        // Every border point of a result lies on a border of the operands, up to the grid.
        for p in or.rings().chain(and.rings()).flat_map(|r| r.points()) {
            prop_assert!(to_border(*p, &a).min(to_border(*p, &b)) < GRID);
        }
    }

    #[test]
    fn cells_of_a_sheet_come_out_exactly(n in 2usize..14, share in 0.1..0.7f64, seed: u64) {
        // Many shared sides and corners that only touch: where boolean operations usually break.
        let bits: Vec<bool> = Darts(seed, BBox { min: pt(0.0, 0.0), max: pt(1.0, 1.0) }).take(n * n).map(|p| p.x < share).collect();
        let (sheet, cells) = punched(n, &bits);
        assert_sound(&sheet);
        for (i, &gone) in cells.iter().enumerate() {
            prop_assert_eq!(sheet.contains(pt(10.0 * (i % n) as f64 + 5.0, 10.0 * (i / n) as f64 + 5.0)), !gone);
        }
        let free = cells.iter().filter(|&&c| !c).count() as f64;
        prop_assert!(close(sheet.area(), free * 100.0, 1e-9));
        let full = rect(0.0, 0.0, n as f64 * 10.0, n as f64 * 10.0);
        let removed = boolean::difference(&full, &sheet);
        assert_sound(&removed);
        prop_assert!(boolean::intersection(&sheet, &removed).is_empty());
        prop_assert_eq!(boolean::union(&sheet, &removed).area(), full.area());
    }
}

/// A sheet of `n` by `n` cells of 10 mm with some taken out, and which.
fn punched(n: usize, bits: &[bool]) -> (Region, Vec<bool>) {
    let cells: Vec<bool> = (0..n * n).map(|i| bits[i]).collect();
    let at = |i: usize| (10.0 * (i % n) as f64, 10.0 * (i / n) as f64);
    let loops: Vec<Vec<Point>> = (0..n * n)
        .filter(|&i| cells[i])
        .map(|i| {
            let (x, y) = at(i);
            BBox { min: pt(x, y), max: pt(x + 10.0, y + 10.0) }.corners().to_vec()
        })
        .collect();
    let gone = boolean::union_loops(loops.iter().map(Vec::as_slice));
    let full = rect(0.0, 0.0, n as f64 * 10.0, n as f64 * 10.0);
    (boolean::difference(&full, &gone), cells)
}

#[test]
fn holes_stay_in_their_polygon() {
    // The hole in the second row once landed in the lone cell of the sixth, which lies inside another hole: corners touch.
    let rows = ["#.#...#.", ".#..#.##", "#.#....#", ".#...#..", "..###..#", "#..#.#.#", "##..#...", "......##"];
    let bits: Vec<bool> = rows.iter().rev().flat_map(|r| r.chars().map(|c| c == '#')).collect();
    let (sheet, _) = punched(8, &bits);
    assert_sound(&sheet);
    assert!(!sheet.contains(pt(45.0, 65.0)) && !sheet.contains(pt(35.0, 35.0)) && sheet.contains(pt(45.0, 25.0)));
}

// ---------------------------------------------------------------------------------------------------------------------
// 5. Curves.

/// The true line of a rounded polygon: sides, and arcs as (centre, radius, from, sweep).
struct True {
    sides: Vec<(Point, Point)>,
    arcs: Vec<(Point, f64, f64, f64)>,
}

impl True {
    /// From the bisector of every corner, unlike the kernel, which goes along the side.
    fn of(corners: &[Corner]) -> Self {
        let n = corners.len();
        let mut ends = Vec::new();
        let mut arcs = Vec::new();
        for i in 0..n {
            let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
            let r = corners[i].radius;
            let (u, v) = ((a - b) * (1.0 / (a - b).norm()), (c - b) * (1.0 / (c - b).norm()));
            let half = (u - v).norm().atan2((u + v).norm());
            if r == 0.0 || half > PI / 2.0 - 1e-9 {
                ends.push((b, b));
                continue;
            }
            let m = (u + v) * (1.0 / (u + v).norm());
            let centre = b + m * (r / half.sin());
            let along = r / half.tan();
            let (s, e) = (b + u * along, b + v * along);
            let (from, to) = ((s - centre).y.atan2((s - centre).x), (e - centre).y.atan2((e - centre).x));
            let sweep = (to - from + PI).rem_euclid(TAU) - PI;
            arcs.push((centre, r, from, sweep));
            ends.push((s, e));
        }
        Self { sides: (0..n).map(|i| (ends[i].1, ends[(i + 1) % n].0)).collect(), arcs }
    }

    fn distance(&self, p: Point) -> f64 {
        let side = self.sides.iter().map(|&(a, b)| distance::nearest_on_segment(p, a, b).distance(p));
        let arc = self.arcs.iter().map(|&(c, r, from, sweep)| {
            let d = p - c;
            let a = d.y.atan2(d.x);
            let off = if sweep >= 0.0 { (a - from).rem_euclid(TAU) } else { (from - a).rem_euclid(TAU) };
            if off <= sweep.abs() {
                (d.norm() - r).abs()
            } else {
                [from, from + sweep]
                    .map(|e| (c + pt(r * e.cos(), r * e.sin())).distance(p))
                    .into_iter()
                    .fold(f64::INFINITY, f64::min)
            }
        });
        side.chain(arc).fold(f64::INFINITY, f64::min)
    }

    fn samples(&self) -> Vec<Point> {
        let mut out: Vec<Point> =
            self.sides.iter().flat_map(|&(a, b)| (0..=4).map(move |k| a.lerp(b, f64::from(k) / 4.0))).collect();
        for &(c, r, from, sweep) in &self.arcs {
            out.extend(
                (0..=200).map(|k| from + sweep * f64::from(k) / 200.0).map(|a| c + pt(r * a.cos(), r * a.sin())),
            );
        }
        out
    }
}

/// Checks both flattenings of a rounded polygon against the true line.
fn check_flattening(corners: &[Corner]) {
    let truth = True::of(corners);
    let samples = truth.samples();
    let size = BBox::of(corners.iter().map(|c| &c.at));
    let eps = 2e-6
        + 1e-12 * (size.width() + size.height())
        + 4e-16 * corners.iter().map(|c| c.radius).fold(0.0, f64::max) * 10.0;
    let mut areas = [0.0; 2];
    for (side, area) in [Side::Inner, Side::Outer].into_iter().zip(&mut areas) {
        let flat = curve::rounded(corners, side);
        let n = flat.points.len();
        assert_eq!(flat.sources.len(), n);
        let edges: Vec<(Point, Point)> = (0..n).map(|i| (flat.points[i], flat.points[(i + 1) % n])).collect();
        for (&(a, b), source) in edges.iter().zip(&flat.sources) {
            for k in 0..=8 {
                let p = a.lerp(b, f64::from(k) / 8.0);
                assert!(truth.distance(p) <= tol::FLATTEN + eps, "{side:?}: {p:?} is {} off", truth.distance(p));
            }
            // The edge belongs to the source that it names.
            let mid = a.lerp(b, 0.5);
            let m = corners.len();
            match *source {
                Source::Side(s) => {
                    let (p, q) = (corners[s].at, corners[(s + 1) % m].at);
                    let off = distance::nearest_on_segment(mid, p, q).distance(mid);
                    assert!(off <= eps, "{side:?}: edge {a:?} {b:?} is not on side {s}: {off}");
                }
                Source::Rounding(c) => {
                    let alone = True::of(corners).arcs_of(corners, c);
                    assert!(alone.distance(mid) <= tol::FLATTEN + eps, "edge {a:?} {b:?} is not of corner {c}");
                }
            }
        }
        let Ok((outline, _)) = Ring::tidy(&flat.points) else { return }; // roundings that cross: refused elsewhere
        *area = outline.area();
        for p in &samples {
            let off = edges
                .iter()
                .map(|&(a, b)| distance::nearest_on_segment(*p, a, b).distance(*p))
                .fold(f64::INFINITY, f64::min);
            assert!(off <= tol::FLATTEN + eps, "{side:?}: {p:?} is {off} off");
            if off > eps {
                assert_eq!(outline.contains(*p), side == Side::Outer, "{side:?} at {p:?}, {off} off");
            }
        }
    }
    assert!(areas[0] <= areas[1] + 1e-9 * areas[1].abs());
    let mut exact = BBox::of(&samples);
    for &(c, r, from, sweep) in &truth.arcs {
        for quarter in -4..=4 {
            let a = f64::from(quarter) * PI / 2.0;
            let off = if sweep >= 0.0 { (a - from).rem_euclid(TAU) } else { (from - a).rem_euclid(TAU) };
            if off <= sweep.abs() {
                exact = exact.with(c + pt(r * a.cos(), r * a.sin()));
            }
        }
    }
    let found = curve::extent(corners);
    assert!(found.min.distance(exact.min) <= eps && found.max.distance(exact.max) <= eps, "{found:?} {exact:?}");
}

impl True {
    /// Only the arc of corner `c`.
    fn arcs_of(self, corners: &[Corner], c: usize) -> Self {
        let one: Vec<Corner> = corners
            .iter()
            .enumerate()
            .map(|(i, k)| Corner { at: k.at, radius: if i == c { k.radius } else { 0.0 } })
            .collect();
        Self { sides: Vec::new(), arcs: Self::of(&one).arcs }
    }
}

/// Cuts radii down to what the check says fits, until it is content.
fn made_to_fit(mut corners: Vec<Corner>) -> Vec<Corner> {
    for _ in 0..20 * corners.len() {
        let Err(misfit) = curve::check_roundings(&corners) else { return corners };
        assert_eq!(corners[misfit.corner].radius, misfit.radius);
        assert!(misfit.largest < misfit.radius, "what is said to fit does not: {misfit:?} of {corners:?}");
        corners[misfit.corner].radius = misfit.largest;
    }
    panic!("never fits: {corners:?}")
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn roundings_stay_within_the_promise(points in star(4..10, 100.0..1000.0),
                                         radii in prop::collection::vec(prop_oneof![Just(0.0), 1e-3..1.0f64, 1.0..100.0f64, 100.0..2000.0f64], 10)) {
        let corners: Vec<Corner> = tidy(&points).points().iter().zip(&radii).map(|(&at, &radius)| Corner { at, radius }).collect();
        check_flattening(&made_to_fit(corners));
    }

    #[test]
    fn the_largest_rounding_fits_and_no_larger(points in star(4..10, 100.0..1000.0), which in 0usize..10) {
        let ring = tidy(&points);
        let n = ring.points().len();
        let with = |radius: f64| -> Vec<Corner> {
            ring.points().iter().enumerate().map(|(i, &at)| Corner { at, radius: if i == which % n { radius } else { 0.0 } }).collect()
        };
        let misfit = curve::check_roundings(&with(1e9));
        prop_assume!(misfit.is_err()); // a corner that hardly turns takes any radius
        let misfit = misfit.unwrap_err();
        prop_assert_eq!(misfit.corner, which % n);
        prop_assert_eq!(curve::check_roundings(&with(misfit.largest)), Ok(()));
        prop_assert!(curve::check_roundings(&with(misfit.largest * 1.01)).is_err());
        check_flattening(&with(misfit.largest));
    }

    #[test]
    fn ellipses_stay_within_the_promise(a in prop_oneof![1e-3..1.0f64, 1.0..100.0f64, 100.0..5000.0f64], ratio in 0.05..1.0f64, flat: bool, c in vector(3000.0)) {
        let (hx, hy) = if flat { (a, a * ratio) } else { (a * ratio, a) };
        for side in [Side::Inner, Side::Outer] {
            let f = curve::ellipse(c, hx, hy, side);
            prop_assert_eq!(f.points.len(), f.sources.len());
            prop_assert!(f.sources.iter().all(|s| *s == Source::Side(0)));
            let ring = Ring::vouched_outline(f.points.clone());
            // Support of the ellipse: in direction (cos t, sin t), the tangent is at hypot(hx cos t, hy sin t).
            for (p, q) in ring.edges() {
                let d = q - p;
                let (nx, ny) = (d.y / d.norm(), -d.x / d.norm());
                let support = (hx * nx).hypot(hy * ny);
                let of_edge = (p - c).dot(pt(nx, ny));
                match side {
                    Side::Outer => prop_assert!(of_edge >= support - 1e-9, "an edge cuts the curve"),
                    Side::Inner => prop_assert!(support - of_edge <= tol::FLATTEN + 1e-9),
                }
            }
            for p in ring.points() {
                let d = *p - c;
                let level = (d.x / hx).hypot(d.y / hy);
                match side {
                    Side::Inner => prop_assert!(close(level, 1.0, 1e-7)),
                    // The radial overshoot bounds the distance from above.
                    Side::Outer => prop_assert!(level >= 1.0 && d.norm() * (1.0 - 1.0 / level) <= tol::FLATTEN + 1e-9),
                }
            }
        }
    }

    #[test]
    fn a_disc_outside_keeps_its_excess(radius in 0.01..2000.0f64, excess in prop::sample::select(vec![1e-3, 0.01, 0.05, 1.0])) {
        let disc = curve::disc_outside(radius, excess, &[]);
        let ring = Ring::vouched_outline(disc);
        prop_assert!(ring.points().iter().all(|p| p.norm() <= radius + excess + 1e-9));
        let apothem = ring.edges().map(|(a, b)| distance::nearest_on_segment(pt(0.0, 0.0), a, b).norm()).fold(f64::INFINITY, f64::min);
        prop_assert!(apothem >= radius - 1e-9);
    }
}

#[test]
fn a_stadium_and_a_capsule_of_no_straight_ends() {
    let stadium = |w: f64, h: f64, r: f64| -> Vec<Corner> {
        BBox { min: pt(0.0, 0.0), max: pt(w, h) }.corners().iter().map(|&at| Corner { at, radius: r }).collect()
    };
    for (w, h) in [(600.0f64, 100.0f64), (100.0, 600.0), (300.0, 300.0), (33.3, 1.0)] {
        let r = w.min(h) / 2.0;
        assert_eq!(curve::check_roundings(&stadium(w, h, r)), Ok(()));
        check_flattening(&stadium(w, h, r));
        let misfit = curve::check_roundings(&stadium(w, h, r * 1.01)).unwrap_err();
        assert!(close(misfit.largest, r, 1e-9), "{misfit:?}");
    }
    for (r, size) in [(1e-7, 10.0), (1e-4, 10.0), (0.04, 10.0), (4e5, 1e6)] {
        check_flattening(&stadium(size, size, r));
    }
}

#[test]
fn the_corner_that_asks_too_much_is_blamed() {
    let b = BBox { min: pt(0.0, 0.0), max: pt(1000.0, 100.0) }.corners();
    let with = |r: [f64; 4]| [0, 1, 2, 3].map(|i| Corner { at: b[i], radius: r[i] });
    // Corner 3 is greedy; corner 0, its modest neighbour, comes first in order and is not to blame.
    let misfit = curve::check_roundings(&with([10.0, 0.0, 0.0, 95.0])).unwrap_err();
    assert_eq!((misfit.corner, misfit.radius), (3, 95.0));
    assert!(close(misfit.largest, 90.0, 1e-9));
    // The shorter of the two sides decides.
    let misfit = curve::check_roundings(&with([0.0, 2000.0, 0.0, 0.0])).unwrap_err();
    assert!(close(misfit.largest, 100.0, 1e-9), "{misfit:?}");
    for bad in [f64::NAN, -5.0, f64::INFINITY] {
        assert_eq!(curve::check_roundings(&with([0.0, bad, 0.0, 0.0])).unwrap_err().corner, 1, "{bad}");
    }
}

// ---------------------------------------------------------------------------------------------------------------------
// 6. Sums.

fn is_convex_loop(l: &[Point]) -> bool {
    let n = l.len();
    let size = BBox::of(l);
    (0..n).all(|i| {
        let (a, b, c) = (l[i], l[(i + 1) % n], l[(i + 2) % n]);
        (b - a).cross(c - b) >= -1e-9 * (size.width() + size.height())
    })
}

proptest! {
    #![proptest_config(cases(100))]

    #[test]
    fn convex_parts_cover_exactly(region in holed(), turn in 0.0..360.0f64) {
        let region = Pose::new(turn, pt(0.0, 0.0)).region(&region);
        let parts = sum::convex_parts(&region);
        let areas: f64 = parts.iter().map(|p| Ring::vouched_outline(p.clone()).area()).sum();
        prop_assert!(close(areas, region.area(), 1e-6 * region.area()));
        prop_assert!(parts.iter().all(|p| is_convex_loop(p)));
        let joined = boolean::union_loops(parts.iter().map(Vec::as_slice));
        prop_assert!(close(joined.area(), region.area(), GRID * region.perimeter() * 3.0));
        prop_assert!(close(boolean::intersection(&joined, &region).area(), region.area(), GRID * region.perimeter() * 3.0));
    }

    #[test]
    fn a_convex_sum_is_the_hull_of_all_sums(a in star(4..12, 1.0..500.0), b in star(4..12, 1.0..500.0), thin in 0usize..3, turn in 0.0..360.0f64) {
        let mut a = sum::hull(&a);
        let b: Convex = sum::hull(&b.iter().map(|&p| Pose::new(turn, pt(3.0, 4.0)).apply(p)).collect::<Vec<_>>());
        if thin > 0 {
            a.truncate(thin);
        }
        let all: Vec<Point> = a.iter().flat_map(|&p| b.iter().map(move |&q| p + q)).collect();
        let (found, oracle) = (sum::convex_sum(&a, &b), sum::hull(&all));
        prop_assert!(is_convex_loop(&found));
        let area = |l: &[Point]| Ring::vouched_outline(l.to_vec()).area();
        prop_assert!(close(area(&found), area(&oracle), 1e-9 * area(&oracle)));
        for p in &oracle {
            prop_assert!(found.iter().any(|q| q.distance(*p) < 1e-9));
        }
    }

    #[test]
    fn a_sum_of_equal_rectangles_is_a_rectangle(w in 1.0..500.0f64, h in 1.0..500.0f64, turn in 0.0..360.0f64) {
        // All sides parallel, up to rounding.
        let turned = |w: f64, h: f64| Pose::new(turn, pt(0.0, 0.0)).ring(&Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(w, h) })).points().to_vec();
        let s = sum::convex_sum(&turned(w, h), &turned(h, w));
        prop_assert!(is_convex_loop(&s));
        prop_assert!(close(Ring::vouched_outline(s).area(), (w + h) * (w + h), 1e-6));
    }

    #[test]
    fn a_shift_hits_if_and_only_if_the_shapes_meet(obstacle in holed(), shape in star(4..12, 20.0..300.0), seed: u64) {
        let shape = tidy(&shape).to_region();
        let parts = sum::convex_parts(&shape);
        let hits = sum::hits(&obstacle, &parts);
        assert_sound(&hits);
        let twin = g(&obstacle);
        for p in Darts(seed, widened(hits.bbox(), 20.0)).take(40).filter(|&p| to_border(p, &hits) > 0.01) {
            let there = g(&Pose::new(0.0, p).region(&shape));
            prop_assert_eq!(hits.contains(p), twin.intersects(&there), "{:?}", p);
        }
    }

    #[test]
    fn a_sum_by_convolution_is_that_of_the_parts(
        a in prop_oneof![holed(), comb()],
        b in prop_oneof![star(3..14, 20.0..300.0).prop_map(|p| tidy(&p).to_region()), comb(), holed()],
        turn in prop::sample::select(vec![0.0, 90.0, 180.0, 31.7]),
        seed: u64,
    ) {
        let b = Pose::new(turn, pt(0.0, 0.0)).region(&b);
        let (fast, slow) = (sum::hits_rings(&a, &b), sum::hits(&a, &sum::convex_parts(&b)));
        assert_sound(&fast);
        let differing = boolean::difference(&fast, &slow).area() + boolean::difference(&slow, &fast).area();
        // A few cells of the grid along all borders.
        prop_assert!(differing <= 1e-3 * (fast.perimeter() + slow.perimeter()), "{} mm² differ", differing);
        let twin = g(&a);
        for p in Darts(seed, widened(slow.bbox(), 20.0)).take(20).filter(|&p| to_border(p, &slow) > 0.01) {
            prop_assert_eq!(fast.contains(p), twin.intersects(&g(&Pose::new(0.0, p).region(&b))), "{:?}", p);
        }
    }

    #[test]
    fn convolution_keeps_the_place_of_an_exact_fit(comb in comb(), turn in prop::sample::select(vec![0.0, 90.0, 180.0, 270.0])) {
        // What is left of the comb's box, with the comb shrunk by the lenience: the comb fits in at one shift, as nowhere else near.
        let comb = Pose::new(turn, pt(0.0, 0.0)).region(&comb);
        let frame = Ring::rectangle(widened(comb.bbox(), 300.0)).to_region();
        let mould = boolean::difference(&frame, &sum::grown(&comb, tol::LENIENCE, 1e-4));
        let hits = sum::hits_rings(&mould, &comb);
        prop_assert!(!hits.contains(pt(0.0, 0.0)));
        prop_assert!(hits.contains(pt(0.05, 0.0)) && hits.contains(pt(0.0, -0.05)));
    }

    #[test]
    fn a_shift_fits_if_and_only_if_the_shape_is_inside(container in holed(), shape in star(4..12, 10.0..150.0), seed: u64) {
        let shape = tidy(&shape).to_region();
        let parts = sum::convex_parts(&shape);
        let fits = sum::fits(&container, &parts);
        assert_sound(&fits);
        let twin = g(&container);
        let aim = if seed % 2 == 0 && !fits.is_empty() { fits.bbox() } else { container.bbox() };
        for p in Darts(seed, aim).take(30).filter(|&p| to_border(p, &fits) > 0.01) {
            let there = g(&Pose::new(0.0, p).region(&shape));
            prop_assert_eq!(fits.contains(p), twin.contains(&there), "{:?}", p);
        }
    }

    #[test]
    fn a_shape_with_a_hole_may_surround_an_obstacle(hole in star(8..12, 100.0..150.0), obstacle in star(5..9, 5.0..40.0), seed: u64) {
        let shape = Region { polygons: vec![Polygon { outer: Ring::rectangle(BBox { min: pt(-200.0, -200.0), max: pt(200.0, 200.0) }), holes: vec![tidy(&hole)] }] };
        let obstacle = tidy(&obstacle).to_region();
        let hits = sum::hits(&obstacle, &sum::convex_parts(&shape));
        prop_assert!(!hits.contains(pt(0.0, 0.0)));
        let twin = g(&obstacle);
        for p in Darts(seed, hits.bbox()).take(30).filter(|&p| to_border(p, &hits) > 0.01) {
            prop_assert_eq!(hits.contains(p), twin.intersects(&g(&Pose::new(0.0, p).region(&shape))));
        }
    }

    #[test]
    fn an_exact_fit_leaves_a_region(outline in star(5..10, 200.0..900.0), turn in 0.0..360.0f64) {
        let fitting = |ring: Ring| {
            let shape = ring.to_region();
            let room = sum::grown(&shape, tol::LENIENCE, 1e-4);
            sum::fits(&room, &sum::convex_parts(&shape))
        };
        let fits = fitting(tidy(&outline));
        prop_assert!(fits.contains(pt(0.0, 0.0)), "{:?}", fits);
        prop_assert!(fits.area() > 0.25 * tol::LENIENCE * tol::LENIENCE);
        let fits = fitting(Pose::new(turn, pt(0.0, 0.0)).ring(&Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(3000.0, 600.0) })));
        prop_assert!(fits.contains(pt(0.0, 0.0)), "{:?}", fits);
    }
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn grown_and_shrunk_keep_their_distance(region in holed(), by in 0.5..120.0f64, excess in prop::sample::select(vec![0.01, 0.05, 0.5, 5.0]), seed: u64) {
        let grown = sum::grown(&region, by, excess);
        assert_sound(&grown);
        let twin = g(&region);
        let far = |p: Point| Euclidean.distance(&g_point(p), &twin);
        for p in grown.rings().flat_map(|r| r.edges()).flat_map(|(a, b)| [a, a.lerp(b, 0.5), a.lerp(b, 0.1)]) {
            prop_assert!(far(p) >= by - GRID && far(p) <= by + excess + GRID, "{} of {} + {}", far(p), by, excess);
            prop_assert!(close(distance::point_to_region(p, &region).distance, far(p), 1e-9));
        }
        for p in Darts(seed, widened(grown.bbox(), 10.0)).take(30) {
            if far(p) < by - GRID { prop_assert!(grown.contains(p)); }
            if far(p) > by + excess + GRID { prop_assert!(!grown.contains(p)); }
        }
        let shrunk = sum::shrunk(&region, by, excess);
        assert_sound(&shrunk);
        for p in shrunk.rings().flat_map(|r| r.edges()).flat_map(|(a, b)| [a, a.lerp(b, 0.5), a.lerp(b, 0.1)]) {
            prop_assert!(twin.contains(&g_point(p)));
            let d = to_border(p, &region);
            prop_assert!(d >= by - GRID && d <= by + excess + GRID, "{} of {} + {}", d, by, excess);
        }
        for p in Darts(seed, region.bbox()).take(30) {
            let d = if region.contains(p) { to_border(p, &region) } else { 0.0 };
            if d < by - GRID { prop_assert!(!shrunk.contains(p)); }
            if d > by + excess + GRID { prop_assert!(shrunk.contains(p)); }
        }
    }

    #[test]
    fn a_grown_line_keeps_its_distance(line in prop::collection::vec(vector(800.0), 1..6), by in 0.5..120.0f64, seed: u64) {
        let excess = 0.05;
        let grown = sum::grown_line(&line, by, excess);
        assert_sound(&grown);
        let far = |p: Point| distance::lines([(p, p)], distance::open_line(&line)).distance;
        for p in grown.rings().flat_map(|r| r.edges()).flat_map(|(a, b)| [a, a.lerp(b, 0.5)]) {
            prop_assert!(far(p) >= by - GRID && far(p) <= by + excess + GRID);
        }
        for p in Darts(seed, widened(grown.bbox(), 10.0)).take(60) {
            if far(p) < by - GRID { prop_assert!(grown.contains(p)); }
            if far(p) > by + excess + GRID { prop_assert!(!grown.contains(p)); }
        }
        prop_assert!(line.iter().all(|&p| grown.contains(p)));
    }
}

#[test]
fn borders_that_all_but_coincide_are_split_in_reasonable_time() {
    // A shape in a room 0.5 µm wider all round: with a snap radius that never grows, these took seconds each.
    for points in [
        ring(&[
            [535.1888015647326, -153.15423444095663],
            [225.6337028275751, 294.24432277174816],
            [111.72865587795282, 370.56321507862276],
            [-351.3941568246432, 351.232043113365],
            [-826.5918785276672, 6.034112876454583],
            [-234.6342635458518, -335.96538232468845],
            [91.67327626414631, -308.476334969351],
            [286.4259003380261, -221.46846737989222],
        ]),
        ring(&[
            [875.6948914268992, 158.70831886775372],
            [497.8339340095864, 443.6767702455662],
            [62.002059026223016, 461.05485423267095],
            [-581.2875244003733, 566.3717165488665],
            [-523.972218895355, 233.89505885688814],
            [-645.8279763410228, -321.3430863351516],
            [-279.88023777586955, -280.6150543195371],
            [71.64541373244042, -304.82409145716616],
            [568.4932101787573, -279.7911779557379],
        ]),
    ] {
        let shape = points.to_region();
        let room = sum::grown(&shape, tol::LENIENCE, 1e-4);
        let start = std::time::SystemTime::now();
        assert!(sum::fits(&room, &sum::convex_parts(&shape)).contains(pt(0.0, 0.0)));
        let took = start.elapsed().unwrap();
        assert!(took.as_secs_f64() < 0.5, "{took:?}");
    }
}

#[test]
fn sums_of_nothing_are_nothing() {
    let a = rect(0.0, 0.0, 10.0, 10.0);
    assert!(sum::sum(&Region::empty(), &[vec![pt(0.0, 0.0)]]).is_empty());
    assert!(sum::sum(&a, &[]).is_empty());
    assert!(sum::grown_line(&[], 5.0, 0.1).is_empty());
    assert!(sum::fits(&Region::empty(), &[a.polygons[0].outer.points().to_vec()]).is_empty());
    assert!(sum::convex_parts(&Region::empty()).is_empty());
    assert!(sum::shrunk(&a, 6.0, 0.01).is_empty());
    // A part of one point moves a region, also one with a hole.
    let frame = boolean::difference(&a, &rect(2.0, 2.0, 8.0, 8.0));
    let moved = sum::sum(&frame, &[vec![pt(100.0, 50.0)]]);
    assert_eq!(moved.area(), frame.area());
    assert_eq!(moved.bbox().min, pt(100.0, 50.0));
}

#[test]
fn many_cornered_shapes_are_split_in_reasonable_time() {
    let circle = curve::ellipse(pt(0.0, 0.0), 450.0, 450.0, Side::Outer).points;
    let hole = tidy(&curve::ellipse(pt(0.0, 0.0), 200.0, 150.0, Side::Outer).points);
    let ring = Region { polygons: vec![Polygon { outer: tidy(&circle), holes: vec![hole] }] };
    let gear: Vec<Point> = (0..600)
        .map(|k| {
            let (a, r) = (f64::from(k) / 600.0 * TAU, if k % 4 < 2 { 500.0 } else { 480.0 });
            pt(r * a.cos(), r * a.sin())
        })
        .collect();
    for region in [ring, tidy(&gear).to_region()] {
        let start = std::time::SystemTime::now();
        let parts = sum::convex_parts(&region);
        let took = start.elapsed().unwrap();
        let areas: f64 = parts.iter().map(|p| Ring::vouched_outline(p.clone()).area()).sum();
        assert!(close(areas, region.area(), 1e-6 * areas));
        assert!(took.as_secs_f64() < 2.0, "{took:?} for {} parts", parts.len());
    }
}

// ---------------------------------------------------------------------------------------------------------------------
// 7. Rectangles.

const ANY: Want = Want { least_side: 0.0, least_area: 0.0, detail: 1e-3 };

/// That the rectangle lies inside, up to 0.01 mm.
fn assert_inside(r: &rectangle::Turned, region: &Region) {
    let c = r.corners();
    let m = c[0].lerp(c[2], 0.5);
    let k = (r.size[0].min(r.size[1]) / 2.0).clamp(1e-9, 0.01) / (r.size[0].min(r.size[1]) / 2.0);
    let smaller = Ring::vouched_outline(c.map(|p| p.lerp(m, k)).to_vec()).to_region();
    let out = boolean::difference(&smaller, region);
    assert!(out.area() <= GRID * smaller.perimeter() * 0.5, "{} of {r:?} is outside {region:?}", out.area());
}

/// The largest cell-aligned rectangle of free cells, by trying all.
fn brute(n: usize, gone: &[bool]) -> f64 {
    let mut best = 0;
    for x0 in 0..n {
        for y0 in 0..n {
            let mut right = n;
            for y in y0..n {
                let run = (x0..right).take_while(|&x| !gone[y * n + x]).count();
                right = x0 + run;
                best = best.max(run * (y + 1 - y0));
            }
        }
    }
    best as f64 * 100.0
}

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn the_largest_rectangle_of_cells_is_found(n in 2usize..9, share in 0.05..0.6f64, seed: u64, turn in prop::sample::select(vec![0.0, 90.0, 30.0, 17.3])) {
        let unit = BBox { min: pt(0.0, 0.0), max: pt(1.0, 1.0) };
        let bits: Vec<bool> = Darts(seed, unit).take(n * n).map(|p| p.x < share).collect();
        let (sheet, gone) = punched(n, &bits);
        let oracle = brute(n, &gone);
        let turned = Pose::new(turn, pt(0.0, 0.0)).region(&sheet);
        let found = rectangle::largest(&turned, &[turn], &ANY);
        prop_assert!(close(found.map_or(0.0, |r| r.area()), oracle, 1e-6), "{:?} instead of {}", found, oracle);
        if let Some(r) = found {
            assert_inside(&r, &turned);
            prop_assert!(close(boolean::difference(&turned, &rectangle::without(&turned, &r)).area(), r.area(), 0.1));
            // Wants are kept.
            let want = Want { least_side: 15.0, least_area: 400.0, detail: 1e-3 };
            if let Some(r) = rectangle::largest(&turned, &[turn], &want) {
                prop_assert!(r.size[0].min(r.size[1]) >= 15.0 && r.area() >= 400.0);
            }
            prop_assert_eq!(rectangle::largest(&turned, &[turn], &Want { least_area: oracle + 1.0, ..ANY }), None);
            let almost = Want { least_area: oracle - 1.0, ..ANY };
            prop_assert!(rectangle::largest(&turned, &[turn], &almost).is_some());
            let long = Want { least_side: 10.0 * n as f64 + 1.0, ..ANY };
            prop_assert!(rectangle::largest(&turned, &[turn], &long).is_none());
        }
    }

    #[test]
    fn the_largest_rectangle_of_a_triangle_is_half_of_it(at in vector(1000.0), base in 100.0..2000.0f64, height in 50.0..1500.0f64, apex in 0.0..1.0f64, turn in prop::sample::select(vec![0.0, 25.0, 90.0])) {
        // K. Radziszewski, "Sur un problème extrémal relatif aux figures inscrites et circonscrites aux figures
        // convexes", Ann. Univ. Mariae Curie-Skłodowska 6 (1952): half is always possible, and is best for a triangle
        // with a side along the base.
        let pose = Pose::new(turn, at);
        let t = pose.ring(&ring(&[[0.0, 0.0], [base, 0.0], [apex * base, height]])).to_region();
        let found = rectangle::largest(&t, &[turn], &ANY).unwrap();
        prop_assert!(found.area() >= 0.99 * t.area() / 2.0 && found.area() <= 1.0001 * t.area() / 2.0, "{} of {}", found.area(), t.area() / 2.0);
        assert_inside(&found, &t);
    }

    #[test]
    fn the_largest_rectangle_of_an_ellipse_is_known(a in 100.0..1000.0f64, b in 100.0..1000.0f64, c in vector(1000.0)) {
        // Area 2ab: from the Lagrange condition, textbook.
        let e = tidy(&curve::ellipse(c, a, b, Side::Inner).points).to_region();
        let found = rectangle::largest(&e, &[0.0], &Want { detail: 5.0, ..ANY }).unwrap();
        prop_assert!(found.area() >= 0.99 * 2.0 * a * b && found.area() <= 2.0 * a * b + 1.0, "{} of {}", found.area(), 2.0 * a * b);
        assert_inside(&found, &e);
    }

    #[test]
    fn the_largest_rectangle_of_a_slanted_shape_beats_a_grid_of_tries(region in holed(), turn in prop::sample::select(vec![0.0, 33.0])) {
        let found = rectangle::largest(&region, &[0.0, turn], &ANY);
        let Some(found) = found else { return Err(TestCaseError::fail("none found")) };
        assert_inside(&found, &region);
        // Twin: a coarse raster of the region; the largest all-inside block of cells is a lower bound.
        let b = region.bbox();
        let n = 40;
        let cell = pt(b.width() / n as f64, b.height() / n as f64);
        let edges: Vec<_> = region.edges().collect();
        let free: Vec<bool> = (0..n * n).map(|i| {
            let lo = b.min + pt((i % n) as f64 * cell.x, (i / n) as f64 * cell.y);
            let q = Ring::rectangle(BBox { min: lo, max: lo + cell });
            region.contains(q.bbox().centre()) && edges.iter().all(|&(a, b)| {
                !q.contains(a) && !q.contains(b) && !q.edges().any(|(c, d)| distance::segment_contact(a, b, c, d).is_some())
            })
        }).collect();
        let gone: Vec<bool> = free.iter().map(|f| !f).collect();
        let lower = brute(n, &gone) / 100.0 * cell.x * cell.y;
        prop_assert!(found.area() >= 0.99 * lower, "{} of at least {}", found.area(), lower);
    }
}

// ---------------------------------------------------------------------------------------------------------------------
// 8. Poses.

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn a_pose_can_be_undone_and_keeps_shapes(turn in -1000.0..1000.0f64, shift in vector(5000.0), p in vector(5000.0), region in holed()) {
        let pose = Pose::new(turn, shift);
        prop_assert!(pose.undo(pose.apply(p)).distance(p) < 1e-9);
        prop_assert!(pose.apply(pose.undo(p)).distance(p) < 1e-9);
        let there = pose.region(&region);
        prop_assert!(there.rings().all(|r| r.area() > 0.0));
        prop_assert!(close(there.area(), region.area(), 1e-6 * region.area()));
        prop_assert!(close(there.perimeter(), region.perimeter(), 1e-6));
        prop_assert!(there.centroid().unwrap().distance(pose.apply(region.centroid().unwrap())) < 1e-6);
    }

    #[test]
    fn quarter_turns_are_exact(quarters in -9i32..9, x in -5000i32..5000, y in -5000i32..5000) {
        let p = pt(f64::from(x), f64::from(y));
        let mut q = p;
        for _ in 0..quarters.rem_euclid(4) {
            q = q.left();
        }
        prop_assert_eq!(Pose::new(f64::from(quarters) * 90.0, pt(7.0, 9.0)).apply(p), q + pt(7.0, 9.0));
        let (c, s) = cos_sin(f64::from(quarters) * 90.0 - 1e-20);
        prop_assert_eq!(c.abs() + s.abs(), 1.0);
    }

    #[test]
    fn differences_of_direction_wrap(a in -720.0..720.0f64, b in -720.0..720.0f64, period in prop::sample::select(vec![180.0, 360.0])) {
        let d = scantling::geom::pose::angle_off(a, b, period);
        prop_assert!((-period / 2.0..=period / 2.0).contains(&d));
        let turns = (a - b - d) / period;
        prop_assert!(close(turns, turns.round(), 1e-9));
    }
}
