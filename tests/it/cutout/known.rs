//! Holes known by reasoning.

use scantling::craft::cutout::{Chosen, CutOutFault, choose};
use scantling::geom::curve::Corner;
use scantling::geom::{BBox, pt};
use scantling::model::{Fixture, Shape};
use scantling::units::Shown;

use super::{BITS, EXACT, drawn, drop_in, inside, inside_corners, polygon};

fn rectangle(width: f64, height: f64, radius: f64) -> Shape {
    Shape::rectangle(width, height, radius).moved(pt(-width / 2.0, -height / 2.0))
}

fn size(shape: &Shape) -> (f64, f64) {
    let b: BBox = shape.extent();
    (b.width(), b.height())
}

#[track_caller]
fn near(a: f64, b: f64) {
    assert!((a - b).abs() <= EXACT, "{a} is not {b}");
}

#[track_caller]
fn chosen(fixture: &Fixture, bits: &[f64]) -> Chosen {
    choose(fixture, bits, Shown::Mm).unwrap_or_else(|e| panic!("{e:?}"))
}

#[test]
fn a_basin_gets_the_line_of_its_body_and_the_next_smaller_bit() {
    let fixture = drop_in(drawn(rectangle(432.0, 356.0, 38.0)), drawn(rectangle(396.0, 320.0, 25.0)), 10.0, 3.0, 1.5);
    let got = chosen(&fixture, &BITS);
    let (w, h) = size(&got.shape);
    near(w, 405.0);
    near(h, 329.0);
    // The corners ask for 25 + 4.5 = 29.5 mm; the largest bit with a radius of at most that has 51 mm.
    assert_eq!(inside_corners(&got.shape), [25.5; 4]);
    near(got.spare.least_clearance.unwrap(), 3.0);
    // The rim reaches 18 mm beyond the body, 4.5 are taken: 13.5 bear, 12 at worst, 2 more than asked for.
    near(got.spare.least_bearing.unwrap(), 12.0);
    near(got.spare.may_still_cut, 2.0);
    assert!(got.notes.iter().any(|n| n.contains("by a core bit of 51 mm")), "{:?}", got.notes);
}

#[test]
fn the_core_is_the_largest_standard_one_that_the_corner_allows() {
    // Corner radii of the body and what the rule gives at 4.5 mm: largest D with D/2 <= r + 4.5.
    for (radius, bit) in [
        (5.5, 20.0),
        (7.9, 20.0),
        (8.0, 25.0),
        (13.0, 35.0),
        (14.4, 35.0),
        (14.5, 38.0),
        (29.4, 51.0),
        (29.5, 68.0),
        (40.0, 75.0),
    ] {
        let body = drawn(rectangle(500.0, 400.0, radius));
        let got = chosen(&Fixture::Cooktop { body, clearance: 3.0, accuracy: 1.5 }, &BITS);
        assert_eq!(inside_corners(&got.shape), [bit / 2.0; 4], "radius {radius}");
    }
}

#[test]
fn sharp_bodies_send_the_sides_out_as_far_as_the_bit_needs() {
    let body = drawn(rectangle(400.0, 300.0, 0.0));
    let got = chosen(&Fixture::Cooktop { body: body.clone(), clearance: 3.0, accuracy: 1.5 }, &BITS);
    // (R - q)(1 - cos 45°) with R = 10, q = 4.5.
    let push = 5.5 * (1.0 - 0.5f64.sqrt());
    let (w, h) = size(&got.shape);
    near(w, 400.0 + 9.0 + 2.0 * push);
    near(h, 300.0 + 9.0 + 2.0 * push);
    near(inside(&polygon(&body.shape), &polygon(&got.shape)).unwrap(), 4.5);
    assert_eq!(inside_corners(&got.shape), [10.0; 4]);
    // A rim that bears 10.5 mm at a line 4.5 mm from the body leaves no room for that: the smaller bit would do.
    let rim = drawn(rectangle(433.0, 333.0, 0.0));
    let tight = drop_in(rim, body, 10.0, 3.0, 1.5);
    let CutOutFault::NoBit { smallest, enough, found, needed, .. } = choose(&tight, &BITS, Shown::Mm).unwrap_err()
    else {
        panic!("a bit that is too large");
    };
    assert_eq!((smallest, enough, needed), (20.0, 9.0, 10.0));
    near(found, 16.5 - 4.5 - push - 1.5);
    let got = chosen(&tight, &[8.0, 20.0]);
    assert_eq!(inside_corners(&got.shape), [4.0; 4]);
    // Without bits the corners take what the body asks for.
    assert_eq!(inside_corners(&chosen(&tight, &[]).shape), [4.5; 4]);
}

#[test]
fn a_rim_that_is_tight_one_way_is_followed() {
    // 1 mm of play from left to right, 30 from front to back. The sides cannot go out by 1.61 mm at the ends, but the long sides
    // can go out more.
    let rim = drawn(rectangle(400.0 + 34.0, 300.0 + 92.0, 0.0));
    let fixture = drop_in(rim, drawn(rectangle(400.0, 300.0, 0.0)), 10.0, 3.0, 1.5);
    let got = chosen(&fixture, &BITS);
    assert!(
        got.spare.least_bearing.unwrap() >= 10.0 - EXACT && got.spare.least_clearance.unwrap() >= 3.0 - EXACT,
        "{got:?}"
    );
    assert_eq!(inside_corners(&got.shape), [10.0; 4]);
}

#[test]
fn a_body_larger_than_its_rim_says_where_and_by_how_much() {
    let fixture = drop_in(drawn(rectangle(432.0, 356.0, 38.0)), drawn(rectangle(396.0, 362.0, 25.0)), 10.0, 3.0, 1.5);
    let CutOutFault::Narrow { at, found, needed, .. } = choose(&fixture, &BITS, Shown::Mm).unwrap_err() else {
        panic!("too narrow")
    };
    near(found, -3.0);
    near(needed, 16.0);
    assert!(at.y.abs() > 170.0, "{at:?}");
    let narrow = drop_in(drawn(rectangle(432.0, 356.0, 38.0)), drawn(rectangle(410.0, 320.0, 25.0)), 10.0, 3.0, 1.5);
    let CutOutFault::Narrow { at, found, .. } = choose(&narrow, &BITS, Shown::Mm).unwrap_err() else {
        panic!("too narrow")
    };
    near(found, 11.0);
    assert!(at.x.abs() > 200.0, "{at:?}");
}

#[test]
fn the_sign_of_an_overhang_is_told_in_words() {
    let bowl = |overhang| Fixture::Undermount { bowl: drawn(rectangle(700.0, 400.0, 20.0)), overhang, accuracy: 1.5 };
    for (overhang, words, bit, may) in [
        // The corner asks for 17 mm and gets 16, so the stone covers 0.41 mm less there: 3 - 0.41 - 1.5.
        (3.0, "The stone covers the bowl's rim by 3 mm.", 32.0, 1.5 - (2f64.sqrt() - 1.0)),
        (-3.0, "The bowl's rim shows by 3 mm.", 45.0, 0.0),
        (0.0, "The stone ends flush with the bowl's rim.", 38.0, 0.0),
    ] {
        let got = chosen(&bowl(overhang), &BITS);
        let (w, h) = size(&got.shape);
        near(w, 700.0 - 2.0 * overhang);
        near(h, 400.0 - 2.0 * overhang);
        assert_eq!(inside_corners(&got.shape), [bit / 2.0; 4]);
        assert!(got.notes.iter().any(|n| n == words), "{:?}", got.notes);
        near(got.spare.may_still_cut, may);
        assert_eq!((got.spare.least_bearing, got.spare.least_clearance), (None, None));
    }
    // A bit with which the bowl's rim would show in the corner is not taken: with 20 and 51 only, 17 mm asked for and 1 mm of
    // overhang, 10 mm would lie 2.9 mm too far out; so it is 25.5 mm, and the stone covers more there.
    let fixture = Fixture::Undermount { bowl: drawn(rectangle(700.0, 400.0, 18.0)), overhang: 1.0, accuracy: 0.5 };
    assert_eq!(inside_corners(&chosen(&fixture, &[20.0, 51.0]).shape), [25.5; 4]);
    let fault = choose(&bowl(200.0), &BITS, Shown::Mm);
    assert!(matches!(fault, Err(CutOutFault::NoHole { width: 400.0, .. })), "{fault:?}");
}

#[test]
fn round_bodies_get_round_holes() {
    let circle = |r: f64| drawn(Shape::Ellipse { centre: pt(0.0, 0.0), half_x: r, half_y: r });
    let got = chosen(&drop_in(circle(220.0), circle(200.0), 10.0, 3.0, 1.5), &BITS);
    assert_eq!(got.shape, Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 204.5, half_y: 204.5 });
    near(got.spare.least_bearing.unwrap(), 14.0);
    let oval = drawn(Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 225.0, half_y: 175.0 });
    let got = chosen(&Fixture::Cooktop { body: oval.clone(), clearance: 3.0, accuracy: 1.5 }, &BITS);
    assert!(matches!(got.shape, Shape::Ellipse { .. }), "{got:?}");
    let gap = inside(&polygon(&oval.shape), &polygon(&got.shape)).unwrap();
    assert!((4.5 - EXACT..4.55).contains(&gap), "{gap}");
    // A long thin one gets a chain of arcs in place of an ellipse that would be 0.5 mm too large.
    let thin = drawn(Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 300.0, half_y: 100.0 });
    let got = chosen(&Fixture::Cooktop { body: thin.clone(), clearance: 3.0, accuracy: 1.5 }, &BITS);
    assert!(matches!(got.shape, Shape::Polygon(_)), "{got:?}");
    let (inner, outer) = (polygon(&thin.shape), polygon(&got.shape));
    near(inside(&inner, &outer).unwrap(), 4.5);
    // Nowhere farther out than 0.05 mm beyond the line: 8 mm beyond the body at the most, where the arcs are measured.
    let (w, h) = size(&got.shape);
    assert!(w < 609.0 + 0.11 && h < 209.0 + 0.11, "{w} {h}");
}

#[test]
fn corners_of_the_stone_that_point_into_the_hole_need_no_bit() {
    let corner = |x: f64, y: f64, radius: f64| Corner { at: pt(x, y), radius };
    let l = Shape::Polygon(vec![
        corner(0.0, 0.0, 20.0),
        corner(500.0, 0.0, 20.0),
        corner(500.0, 250.0, 20.0),
        corner(300.0, 250.0, 6.0),
        corner(300.0, 450.0, 20.0),
        corner(0.0, 450.0, 20.0),
    ]);
    let got = chosen(&Fixture::Cooktop { body: drawn(l.clone()), clearance: 3.0, accuracy: 1.5 }, &BITS);
    let Shape::Polygon(corners) = &got.shape else { panic!("{got:?}") };
    near(corners[3].radius, 1.5);
    assert!(inside_corners(&got.shape).iter().all(|&r| r == 22.5), "{got:?}");
    near(inside(&polygon(&l), &polygon(&got.shape)).unwrap(), 4.5);
}

#[test]
fn degenerate_fixtures_are_errors_or_work_but_never_panic() {
    let shapes = [
        rectangle(1.0, 1.0, 0.0),
        rectangle(1.0, 1.0, 0.5),
        rectangle(2000.0, 1.0, 0.0),
        rectangle(300.0, 300.0, 150.0),
        Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 0.5, half_y: 900.0 },
        Shape::Ellipse { centre: pt(5e5, 5e5), half_x: 100.0, half_y: 90.0 },
    ];
    for rim in &shapes {
        for body in &shapes {
            for figures in [[0.0, 0.0, 0.0], [10.0, 3.0, 1.5], [1e5, 1e5, 1e5]] {
                let fixture = drop_in(drawn(rim.clone()), drawn(body.clone()), figures[0], figures[1], figures[2]);
                for bits in [&BITS[..], &[], &[1e5]] {
                    let _ = choose(&fixture, bits, Shown::Mm);
                }
            }
        }
        for overhang in [-1e5, -3.0, 0.0, 3.0, 1e5] {
            let bowl = drawn(rim.clone());
            let _ = choose(&Fixture::Undermount { bowl, overhang, accuracy: 1.5 }, &BITS, Shown::Mm);
        }
    }
}
