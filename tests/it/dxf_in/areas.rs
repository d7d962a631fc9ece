//! Every kind of entity, its area known by a closed formula or by a plain second way.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};

use proptest::prelude::*;
use scantling::cad::outlines::Outline;
use scantling::cad::shape::Drawn;
use scantling::geom::curve::{Side, check_roundings};
use scantling::geom::{Point, pt};
use scantling::io::drawn::Request;
use scantling::model::Shape;

use super::{Draft, close, corner, exact_area, off, one, polygon, request, ring, said, see, see_with};

fn shape_of(draft: &Draft) -> Shape {
    one(&see(draft)).made.shape.clone()
}

/// The bulge of a quarter turn.
fn quarter() -> f64 {
    (FRAC_PI_2 / 4.0).tan()
}

#[test]
fn a_rectangle_is_the_rectangle_of_a_job() {
    let shape = shape_of(&Draft::mm().rectangle("0", [100.0, 50.0], [600.0, 400.0]));
    assert_eq!(shape.moved(pt(-100.0, -50.0)), Shape::rectangle(600.0, 400.0, 0.0));
    // Drawn the other way round and from another corner it is the same.
    let back = [[700.0, 450.0, 0.0], [700.0, 50.0, 0.0], [100.0, 50.0, 0.0], [100.0, 450.0, 0.0]];
    assert_eq!(shape_of(&Draft::mm().polyline("0", true, &back)), shape);
}

#[test]
fn rounded_corners_are_rounded_corners() {
    let q = quarter();
    let draft = Draft::mm().polyline(
        "0",
        true,
        &[
            [20.0, 0.0, 0.0],
            [680.0, 0.0, q],
            [700.0, 20.0, 0.0],
            [700.0, 380.0, q],
            [680.0, 400.0, 0.0],
            [20.0, 400.0, q],
            [0.0, 380.0, 0.0],
            [0.0, 20.0, q],
        ],
    );
    assert_eq!(shape_of(&draft), Shape::rectangle(700.0, 400.0, 20.0));
    // An inside corner of an L, by loose lines and an arc.
    let draft = Draft::mm()
        .line("0", [0.0, 0.0], [2000.0, 0.0])
        .line("0", [2000.0, 620.0], [2000.0, 0.0])
        .line("0", [2000.0, 620.0], [630.0, 620.0])
        .arc("0", [630.0, 650.0], 30.0, 180.0, 270.0)
        .line("0", [600.0, 650.0], [600.0, 1500.0])
        .line("0", [0.0, 1500.0], [600.0, 1500.0])
        .line("0", [0.0, 1500.0], [0.0, 0.0]);
    let wanted = [
        corner(0.0, 0.0, 0.0),
        corner(2000.0, 0.0, 0.0),
        corner(2000.0, 620.0, 0.0),
        corner(600.0, 620.0, 30.0),
        corner(600.0, 1500.0, 0.0),
        corner(0.0, 1500.0, 0.0),
    ];
    assert_eq!(shape_of(&draft), Shape::Polygon(wanted.to_vec()));
}

#[test]
fn a_sharp_corner_keeps_its_rounding() {
    // A triangle with a corner of 60 degrees at the right, rounded by 50: the arc turns by 120 degrees.
    let (r, top) = (50.0, 500.0 * 3f64.sqrt());
    let t = r * 60f64.to_radians().tan();
    let start = [1000.0 - t, 0.0];
    let end = [1000.0 - t / 2.0, t * 3f64.sqrt() / 2.0];
    let bulge = (120f64.to_radians() / 4.0).tan();
    let corners = [[0.0, 0.0, 0.0], [start[0], start[1], bulge], [end[0], end[1], 0.0], [500.0, top, 0.0]];
    let shape = shape_of(&Draft::mm().polyline("0", true, &corners));
    let found = polygon(&shape);
    assert_eq!(found.len(), 3, "{found:?}");
    assert!(found[1].at.distance(pt(1000.0, 0.0)) < 1e-5 && (found[1].radius - r).abs() < 1e-5, "{found:?}");
}

#[test]
fn stadium_by_polyline_and_by_old_polyline() {
    let (l, r) = (1200.0, 150.0);
    let corners = [[0.0, 0.0, 0.0], [l, 0.0, 1.0], [l, 2.0 * r, 0.0], [0.0, 2.0 * r, 1.0]];
    let wanted = l * 2.0 * r + PI * r * r;
    let new = see(&Draft::mm().polyline("0", true, &corners));
    let outline = one(&new);
    close(exact_area(&outline.made.shape), wanted, 1e-3);
    assert_eq!(outline.made.sides.len(), 4, "two straight sides and two round ends");
    assert!(matches!(outline.made.sides[1].drawn, Drawn::Arc { radius, sweep }
        if (radius - r).abs() < 1e-6 && (sweep - 180.0).abs() < 1e-9));
    // The same with a vertex entity each.
    let mut draft = Draft::mm().add("POLYLINE", "0", "66\n1\n70\n1\n");
    for [x, y, b] in corners {
        draft = draft.add("VERTEX", "0", &format!("10\n{x}\n20\n{y}\n30\n0\n42\n{b}\n70\n0\n"));
    }
    let old = see(&draft.add("SEQEND", "0", ""));
    assert_eq!(one(&old).made.shape, outline.made.shape);
}

#[test]
fn circle_segments_small_and_large() {
    let (r, chord_half) = (500.0, 300.0);
    for large in [false, true] {
        let small_turn = 2.0 * f64::asin(chord_half / r);
        let turn = if large { TAU - small_turn } else { small_turn };
        let wanted = r * r / 2.0 * (turn - turn.sin());
        let bulge = (turn / 4.0).tan();
        let corners = [[-chord_half, 0.0, bulge], [chord_half, 0.0, 0.0]];
        let shape = shape_of(&Draft::mm().polyline("0", true, &corners));
        close(exact_area(&shape), wanted, 0.02);
        assert_eq!(check_roundings(polygon(&shape)), Ok(()));
        // The same by a line and an arc.
        let middle = r * (turn / 2.0).cos();
        let (from, to) = (270.0 - turn.to_degrees() / 2.0, 270.0 + turn.to_degrees() / 2.0);
        let draft = Draft::mm().line("0", [chord_half, 0.0], [-chord_half, 0.0]).arc("0", [0.0, middle], r, from, to);
        close(exact_area(&shape_of(&draft)), wanted, 0.02);
        // Taken inwards it is the half plane's other part: an arc that bulges into the outline.
        if !large {
            let into = [
                [-600.0, -700.0, 0.0],
                [600.0, -700.0, 0.0],
                [600.0, 0.0, 0.0],
                [300.0, 0.0, -bulge],
                [-300.0, 0.0, 0.0],
                [-600.0, 0.0, 0.0],
            ];
            let shape = shape_of(&Draft::mm().polyline("0", true, &into));
            close(exact_area(&shape), 1200.0 * 700.0 - wanted, 0.02);
        }
    }
}

#[test]
fn circles_stay_circles_however_they_are_drawn() {
    let wanted = Shape::Ellipse { centre: pt(300.0, 200.0), half_x: 120.0, half_y: 120.0 };
    assert_eq!(shape_of(&Draft::mm().circle("0", [300.0, 200.0], 120.0)), wanted);
    let halves = [[180.0, 200.0, 1.0], [420.0, 200.0, 1.0]];
    assert_eq!(shape_of(&Draft::mm().polyline("0", true, &halves)), wanted);
    assert_eq!(shape_of(&Draft::mm().arc("0", [300.0, 200.0], 120.0, 30.0, 390.0)), wanted);
    let two = Draft::mm().arc("0", [300.0, 200.0], 120.0, 10.0, 200.0).arc("0", [300.0, 200.0], 120.0, 200.0, 10.0);
    assert_eq!(shape_of(&two), wanted);
}

fn ellipse(draft: Draft, centre: [f64; 2], major: [f64; 2], ratio: f64, from: f64, to: f64) -> Draft {
    let [x, y] = centre;
    let [mx, my] = major;
    let pairs = format!("10\n{x}\n20\n{y}\n30\n0\n11\n{mx}\n21\n{my}\n31\n0\n40\n{ratio}\n41\n{from}\n42\n{to}\n");
    draft.add("ELLIPSE", "0", &pairs)
}

#[test]
fn upright_ellipses_stay_ellipses() {
    let along = shape_of(&ellipse(Draft::mm(), [10.0, 20.0], [500.0, 0.0], 0.5, 0.0, TAU));
    assert_eq!(along, Shape::Ellipse { centre: pt(10.0, 20.0), half_x: 500.0, half_y: 250.0 });
    let across = shape_of(&ellipse(Draft::mm(), [0.0, 0.0], [0.0, 500.0], 0.5, 0.0, TAU));
    let Shape::Ellipse { half_x, half_y, .. } = across else { panic!("{across:?}") };
    close(half_x, 250.0, 1e-9);
    close(half_y, 500.0, 1e-9);
}

/// Points of an ellipse, found here without the program.
fn on_ellipse(a: f64, b: f64, turn: f64, n: usize) -> Vec<Point> {
    (0..n)
        .map(|k| {
            let t = k as f64 / n as f64 * TAU;
            let (x, y) = (a * t.cos(), b * t.sin());
            pt(x * turn.cos() - y * turn.sin(), x * turn.sin() + y * turn.cos())
        })
        .collect()
}

#[test]
fn turned_ellipses_err_on_the_side_that_is_asked_for() {
    let (a, b, turn) = (450.0, 200.0, 30f64.to_radians());
    let draft = ellipse(Draft::mm(), [0.0, 0.0], [a * turn.cos(), a * turn.sin()], b / a, 0.0, TAU);
    let points = on_ellipse(a, b, turn, 5000);
    for err in [Side::Outer, Side::Inner] {
        let seen = see_with(&draft, &Request { err, ..request() });
        let outline = one(&seen);
        let area = exact_area(&outline.made.shape);
        let slack = 0.05 * TAU * a;
        let ring = ring(&outline.made.shape, err);
        match err {
            Side::Outer => assert!(area >= PI * a * b && area < PI * a * b + slack, "{area}"),
            Side::Inner => assert!(area <= PI * a * b && area > PI * a * b - slack, "{area}"),
        }
        let farthest = points.iter().map(|&p| off(&ring, p)).fold(0.0, f64::max);
        assert!(farthest <= 0.05 && outline.made.deviation <= 0.05, "{farthest}, {}", outline.made.deviation);
        for &p in &points {
            assert!(off(&ring, p) < 1e-4 || ring.contains(p) == (err == Side::Outer), "{err:?} {p:?}");
        }
    }
}

#[test]
fn part_of_an_ellipse_closed_by_a_line() {
    // Half of it: from one end of the long axis by way of the short one to the other end.
    let (a, b) = (600.0, 180.0);
    let draft = ellipse(Draft::mm(), [0.0, 0.0], [a, 0.0], b / a, 0.0, PI).line("0", [-a, 0.0], [a, 0.0]);
    let seen = see(&draft);
    let area = exact_area(&one(&seen).made.shape);
    assert!(area >= PI * a * b / 2.0 - 1e-3 && area < PI * a * b / 2.0 + 0.05 * 3.0 * a, "{area}");
}

/// De Boor's algorithm as the textbooks have it, with weights.
fn de_boor(degree: usize, knots: &[f64], points: &[[f64; 2]], weights: &[f64], t: f64) -> Point {
    let n = points.len();
    let span = (degree..n).rev().find(|&k| knots[k] <= t).unwrap_or(degree);
    let w = |i: usize| weights.get(i).copied().unwrap_or(1.0);
    let mut d: Vec<[f64; 3]> = (0..=degree)
        .map(|j| {
            let i = span - degree + j;
            [points[i][0] * w(i), points[i][1] * w(i), w(i)]
        })
        .collect();
    for r in 1..=degree {
        for j in (r..=degree).rev() {
            let i = span - degree + j;
            let a = (t - knots[i]) / (knots[i + degree + 1 - r] - knots[i]);
            d[j] = std::array::from_fn(|c| d[j - 1][c] * (1.0 - a) + d[j][c] * a);
        }
    }
    pt(d[degree][0] / d[degree][2], d[degree][1] / d[degree][2])
}

fn sampled(degree: usize, knots: &[f64], points: &[[f64; 2]], weights: &[f64], n: usize) -> Vec<Point> {
    let (from, to) = (knots[degree], knots[points.len()]);
    (0..=n).map(|k| de_boor(degree, knots, points, weights, from + (to - from) * k as f64 / n as f64)).collect()
}

fn shoelace(points: &[Point]) -> f64 {
    (0..points.len()).map(|i| points[i].cross(points[(i + 1) % points.len()])).sum::<f64>() / 2.0
}

#[track_caller]
fn follows(outline: &Outline, curve: &[Point], err: Side) {
    let ring = ring(&outline.made.shape, err);
    for &p in curve {
        let d = off(&ring, p);
        assert!(d <= 0.05, "{p:?} is {d} off");
        assert!(d < 2e-3 || ring.contains(p) == (err == Side::Outer), "{p:?} lies on the wrong side by {d}");
    }
}

#[test]
fn splines_are_followed_on_the_safe_side() {
    // A front that swings out, in and out again, with straight sides; one with a doubled knot.
    let points =
        [[0.0, 0.0], [200.0, -150.0], [500.0, 180.0], [800.0, -260.0], [1100.0, 90.0], [1400.0, -60.0], [1500.0, 0.0]];
    let plain = [0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 4.0, 4.0];
    let doubled = [0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 2.0, 4.0, 4.0, 4.0, 4.0];
    for knots in [plain, doubled] {
        let draft = Draft::mm()
            .spline("0", 3, &knots, &points, &[])
            .line("0", [1500.0, 0.0], [1500.0, 600.0])
            .line("0", [1500.0, 600.0], [0.0, 600.0])
            .line("0", [0.0, 600.0], [0.0, 0.0]);
        let mut fine = sampled(3, &knots, &points, &[], 20_000);
        let curve = fine.clone();
        fine.extend([pt(1500.0, 600.0), pt(0.0, 600.0)]);
        let wanted = shoelace(&fine);
        for err in [Side::Outer, Side::Inner] {
            let seen = see_with(&draft, &Request { err, ..request() });
            let outline = one(&seen);
            close(exact_area(&outline.made.shape), wanted, 0.05 * 1700.0);
            follows(outline, &curve[1..curve.len() - 1], err);
            assert!(super::said(&seen).contains("1 curve drawn as lines"), "{}", super::said(&seen));
        }
    }
}

#[test]
fn a_rational_spline_draws_a_true_quarter_circle() {
    let r = 400.0;
    let points = [[r, 0.0], [r, r], [0.0, r]];
    let (knots, weights) = ([0.0, 0.0, 0.0, 1.0, 1.0, 1.0], [1.0, FRAC_PI_4.cos(), 1.0]);
    let draft = Draft::mm().spline("0", 2, &knots, &points, &weights).line("0", [0.0, r], [0.0, 0.0]).line(
        "0",
        [0.0, 0.0],
        [r, 0.0],
    );
    let seen = see(&draft);
    let area = exact_area(&one(&seen).made.shape);
    let wanted = PI * r * r / 4.0;
    assert!(area >= wanted - 1e-3 && area < wanted + 0.05 * 630.0, "{area} {wanted}");
    let curve: Vec<Point> =
        (1..500).map(|k| f64::from(k) / 500.0 * FRAC_PI_2).map(|t| pt(r * t.cos(), r * t.sin())).collect();
    follows(one(&seen), &curve, Side::Outer);
}

#[test]
fn a_closed_spline_is_an_outline_by_itself() {
    // Uniform knots, the first three points again at the end: closed and smooth, as programs write it.
    let ring = [[0.0, 0.0], [600.0, -100.0], [900.0, 300.0], [500.0, 500.0], [-100.0, 400.0]];
    let points: Vec<[f64; 2]> = ring.iter().chain(&ring[..3]).copied().collect();
    let knots: Vec<f64> = (0..12).map(f64::from).collect();
    let seen = see(&Draft::mm().spline("0", 3, &knots, &points, &[]));
    let fine = sampled(3, &knots, &points, &[], 20_000);
    close(exact_area(&one(&seen).made.shape), shoelace(&fine), 0.05 * 2500.0);
    follows(one(&seen), &fine, Side::Outer);
}

#[test]
fn what_is_drawn_from_behind_is_mirrored() {
    // Extrusion (0, 0, -1): x runs to the left. Lines and ellipses are given in the drawing's own frame.
    let behind = "210\n0\n220\n0\n230\n-1\n";
    let corners = "90\n3\n70\n1\n10\n100\n20\n0\n10\n400\n20\n0\n42\n0.4\n10\n400\n20\n300\n";
    let shape = shape_of(&Draft::mm().add("LWPOLYLINE", "0", &format!("{corners}{behind}")));
    let plain = shape_of(&Draft::mm().add("LWPOLYLINE", "0", corners));
    close(exact_area(&shape), exact_area(&plain), 1e-6);
    let (b, p) = (shape.extent(), plain.extent());
    close(b.min.x, -p.max.x, 1e-6);
    close(b.max.x, -p.min.x, 1e-6);
    let circle = shape_of(&Draft::mm().add("CIRCLE", "0", &format!("10\n50\n20\n10\n30\n0\n40\n30\n{behind}")));
    assert_eq!(circle, Shape::Ellipse { centre: pt(-50.0, 10.0), half_x: 30.0, half_y: 30.0 });
    let arc = Draft::mm()
        .add("ARC", "0", &format!("10\n0\n20\n0\n30\n0\n40\n100\n50\n0\n51\n90\n{behind}"))
        .line("0", [-100.0, 0.0], [0.0, 0.0])
        .line("0", [0.0, 0.0], [0.0, 100.0]);
    close(exact_area(&shape_of(&arc)), PI * 2500.0, 1e-3);
    // Half an ellipse, seen from behind: it runs clockwise, below the axis.
    let half = format!("10\n0\n20\n0\n30\n0\n11\n200\n21\n0\n31\n0\n40\n0.5\n41\n0\n42\n{PI}\n{behind}");
    let half = Draft::mm().add("ELLIPSE", "0", &half).line("0", [-200.0, 0.0], [200.0, 0.0]);
    let seen = see(&half);
    let b = one(&seen).made.shape.extent();
    close(b.min.y, -100.0, 0.05);
    close(b.max.y, 0.0, 1e-6);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any outline of lines and arcs: its area is that of its corners and the segments of its arcs, and nothing is lost.
    #[test]
    fn arcs_are_kept_exactly(
        radii in prop::collection::vec(200.0..900.0f64, 3..9),
        bulges in prop::collection::vec(prop_oneof![Just(0.0), -0.35..0.6f64], 9),
        turn in 0.0..TAU,
    ) {
        let n = radii.len();
        let at = |i: usize| {
            let a = turn + i as f64 / n as f64 * TAU;
            pt(radii[i % n] * a.cos(), radii[i % n] * a.sin())
        };
        let corners: Vec<[f64; 3]> = (0..n).map(|i| [at(i).x, at(i).y, bulges[i]]).collect();
        let segments: f64 = (0..n)
            .filter(|&i| bulges[i] != 0.0)
            .map(|i| {
                let turn = 4.0 * bulges[i].abs().atan();
                let r = at(i).distance(at(i + 1)) / 2.0 / (turn / 2.0).sin();
                bulges[i].signum() * r * r / 2.0 * (turn - turn.sin())
            })
            .sum();
        let wanted = (0..n).map(|i| at(i).cross(at(i + 1))).sum::<f64>() / 2.0 + segments;
        let seen = see(&Draft::mm().polyline("0", true, &corners));
        // Arcs may cross one another: then it is no outline, and said so.
        prop_assume!(seen.outlines.faults.is_empty());
        let outline = one(&seen);
        let shape = &outline.made.shape;
        prop_assert!(
            (exact_area(shape) - wanted).abs() < 0.02,
            "{} {wanted} {shape:?}", exact_area(shape)
        );
        prop_assert!(shape.tidy(|_| false).is_ok(), "{shape:?}");
        let (outer, inner) = (ring(shape, Side::Outer).area(), ring(shape, Side::Inner).area());
        prop_assert!(inner <= wanted + 0.02 && wanted - 0.02 <= outer, "{inner} {wanted} {outer}");
    }
}

/// Ears: arcs of more than half a circle at corners, which a router leaves so that a square body fits. They have the ends and the radius of
/// a rounding, and take stone where a rounding leaves it.
#[test]
fn ears_at_corners_are_no_roundings() {
    let (w, d, r) = (400.0, 300.0, 10.0);
    // Clockwise by 270 degrees about each corner, seen along an outline that runs counter-clockwise: the ear bulges out of it.
    let ear = (270.0_f64 / 4.0).to_radians().tan();
    let corners = [
        [r, 0.0, 0.0],
        [w - r, 0.0, ear],
        [w, r, 0.0],
        [w, d - r, ear],
        [w - r, d, 0.0],
        [r, d, ear],
        [0.0, d - r, 0.0],
        [0.0, r, ear],
    ];
    let seen = see(&Draft::mm().polyline("0", true, &corners));
    let outline = one(&seen);
    // Three quarters of each circle lie outside of the rectangle, whose corners are the middles.
    let wanted = w * d + 4.0 * 0.75 * PI * r * r;
    close(exact_area(&outline.made.shape), wanted, 0.01);
    close(outline.made.shape.extent().width(), w + 2.0 * r, 1e-6);
    assert!(outline.area > wanted && outline.area < wanted + 30.0, "{} {wanted}", outline.area);
    // The same roundings the usual way round stay roundings.
    let quarter = (90.0_f64 / 4.0).to_radians().tan();
    let rounded = corners.map(|[x, y, b]| [x, y, if b == 0.0 { 0.0 } else { quarter }]);
    assert_eq!(one(&see(&Draft::mm().polyline("0", true, &rounded))).made.shape, Shape::rectangle(w, d, r));
    // Arcs of their own, as most programs explode them.
    let mut draft = Draft::mm();
    for (a, b) in [([r, 0.0], [w - r, 0.0]), ([w, r], [w, d - r]), ([w - r, d], [r, d]), ([0.0, d - r], [0.0, r])] {
        draft = draft.line("0", a, b);
    }
    for (at, from) in [([0.0, 0.0], 90.0), ([w, 0.0], 180.0), ([w, d], 270.0), ([0.0, d], 0.0)] {
        draft = draft.arc("0", at, r, from, from + 270.0);
    }
    close(exact_area(&one(&see(&draft)).made.shape), wanted, 0.01);
}

#[test]
fn a_line_without_length_is_a_speck() {
    let seen = see(&Draft::mm().rectangle("0", [0.0, 0.0], [300.0, 200.0]).line("0", [40.0, 40.0], [40.0, 40.0]));
    one(&seen);
    assert_eq!(seen.outlines.specks, 1);
}

#[test]
fn rings_in_one_another_take_no_time() {
    let mut draft = Draft::mm();
    for k in 1..=399 {
        draft = draft.circle("0", [0.0, 0.0], f64::from(k) * 5.0);
    }
    let seen = see(&draft);
    assert!(said(&seen).contains("an outline within an outline within an outline"), "{}", said(&seen));
    assert_eq!(seen.outlines.all.len(), 399);
}
