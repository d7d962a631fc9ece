//! The sides of a piece as a fabricator sees them: a curve is one side however it was drawn or typed, with its true length, and all
//! that tells of sides says the same.

use std::f64::consts::PI;
use std::fs;

use proptest::prelude::*;
use scantling::geom::curve::{Corner, ellipse_length};
use scantling::geom::{Point, Pose, distance, pt};
use scantling::io::{self, Paths};
use scantling::model::{Bulge, Curve, Finish, Outline, OutlineSide, Piece, Shape};
use scantling::quote::{edges, rounded_corners};
use scantling::report::scene::{Layer, Scene};
use scantling::report::{Paper, Settings, papers};
use scantling::units::Shown;

use super::dxf_in::Draft;
use super::papers::{Case, all_pages, chalked, keep, row_of, texts};
use super::{drawing, judge, make, page};

fn named(name: &str) -> Finish {
    if name == "raw" { Finish::Raw } else { Finish::Finished(name.to_owned()) }
}

fn polygon(points: &[[f64; 3]], finishes: &[&str]) -> Outline {
    let shape = Shape::Polygon(points.iter().map(|&[x, y, radius]| Corner { at: pt(x, y), radius }).collect());
    Outline::new(shape, finishes.iter().map(|f| named(f)).collect())
}

#[track_caller]
fn close(found: f64, wanted: f64, most: f64) {
    assert!((found - wanted).abs() <= most, "{found} is not {wanted}");
}

#[track_caller]
fn curve(side: &OutlineSide) -> &Curve {
    side.curve.as_ref().unwrap_or_else(|| panic!("straight: {side:?}"))
}

/// The pieces of a job that may name the drawing `a.dxf`.
#[track_caller]
fn pieces(drawing: &Draft, text: &str) -> Vec<Piece> {
    let dir = tempfile::TempDir::new().unwrap();
    let at = |name: &str| dir.path().join(name);
    drawing.save(dir.path(), "a.dxf");
    fs::write(at("job.toml"), format!("name = \"Quay\"\nmaterial = \"slate\"\nthickness = 20\n{text}")).unwrap();
    let rack = "[[slab]]\nname = \"S\"\nmaterial = \"slate\"\nstone = \"slate\"\nthickness = 20\nprice = 1\ngrain = 0\n\
                outline.rectangle = [3000, 1600]\n";
    fs::write(at("rack.toml"), rack).unwrap();
    match io::load(&Paths { jobs: vec![at("job.toml")], rack: Some(at("rack.toml")), shop: None }) {
        Ok(input) => input.question.jobs[0].pieces.clone(),
        Err(remarks) => panic!("{remarks}"),
    }
}

/// The outline of the one piece of a drawing.
#[track_caller]
fn drawn(corners: &[[f64; 3]], edges: &str) -> Outline {
    let draft = Draft::mm().polyline("0", true, corners);
    let all = pieces(&draft, &format!("[[piece]]\nname = \"p\"\noutline.file = \"a.dxf\"\nedges = {edges}\n"));
    assert_eq!(all.len(), 1);
    all[0].outline.clone()
}

/// The outline of a piece that is typed.
#[track_caller]
fn typed(outline: &str, edges: &str) -> Outline {
    let all = pieces(&Draft::mm(), &format!("[[piece]]\nname = \"p\"\noutline.{outline}\nedges = {edges}\n"));
    all[0].outline.clone()
}

/// Bulge of an arc over a chord that rises so far.
fn bulge(chord: f64, rise: f64) -> f64 {
    2.0 * rise / chord
}

/// Radius and angle of an arc over a chord.
fn arc(chord: f64, rise: f64) -> (f64, f64) {
    let radius = (chord * chord / 4.0 + rise * rise) / (2.0 * rise);
    (radius, 2.0 * (chord / 2.0 / radius).asin())
}

const POLISHED_FRONT: &str = "[\"polished\", \"raw\", \"raw\", \"raw\"]";

/// Between which corners the sides run, from 0.
fn between(outline: &Outline) -> Vec<Option<[usize; 2]>> {
    outline.sides().iter().map(|s| s.corners).collect()
}

#[test]
fn a_bowed_front_is_one_side_however_it_comes() {
    let (chord, rise) = (2000.0, 90.0);
    let (radius, angle) = arc(chord, rise);
    let drawn = drawn(
        &[[0.0, 0.0, bulge(chord, rise)], [chord, 0.0, 0.0], [chord, 600.0, 0.0], [0.0, 600.0, 0.0]],
        POLISHED_FRONT,
    );
    // Typed: the tangents meet r tan(angle / 2) from both ends, at r / cos(angle / 2) from the middle.
    let air = radius / (angle / 2.0).cos() - radius + rise;
    // A radius in whole millimetres leaves a little of the tangents straight.
    for (r, off) in [(radius, 1e-6), (radius.floor(), 0.15)] {
        let text = format!(
            "polygon = [[0, {rise}], [{}, {}, {r}], [{chord}, {rise}], [{chord}, 690], [0, 690]]",
            chord / 2.0,
            rise - air
        );
        let five = "[\"polished\", \"polished\", \"raw\", \"raw\", \"raw\"]";
        for outline in [&drawn, &typed(&text, five)] {
            assert_eq!(between(outline), [Some([0, 2]), Some([2, 3]), Some([3, 4]), Some([4, 0])]);
            let sides = outline.sides();
            let front = &sides[0];
            close(front.length, radius * angle, off);
            assert_eq!(front.finish, named("polished"));
            assert!(front.ends[0].distance(pt(0.0, rise)) < off && front.ends[1].distance(pt(chord, rise)) < off);
            let bow = curve(front);
            assert_eq!((bow.bulge, bow.on_way.as_slice()), (Bulge::Out, &[1][..]));
            close(bow.radius.unwrap(), radius, 0.6);
            close(bow.rise, rise, off);
            assert!(bow.tops.len() == 1 && bow.tops[0].distance(pt(chord / 2.0, 0.0)) < 2.0 * off, "{:?}", bow.tops);
            assert!(sides[1..].iter().all(|s| s.curve.is_none()));
            assert_eq!(outline.in_air(), [false, true, false, false, false]);
            // The quote: an edge as long as the arc, and no corner.
            assert_eq!(rounded_corners(outline), 0);
            close(edges(outline)[&named("polished")], radius * angle, off);
        }
    }
    // With straight parts that can be seen it is two sides and a rounded corner.
    let loose = polygon(
        &[
            [0.0, rise, 0.0],
            [1000.0, rise - air, radius - 10.0],
            [chord, rise, 0.0],
            [chord, 690.0, 0.0],
            [0.0, 690.0, 0.0],
        ],
        &["polished"; 5],
    );
    assert_eq!((loose.sides().len(), rounded_corners(&loose)), (5, 1));
}

#[test]
fn an_arc_of_more_than_a_quarter_turn_is_one_side_too() {
    // Three quarters of a circle as the end of a bar, on a neck of 500 mm: three corners in the air.
    let r: f64 = 400.0;
    let half = r * (PI / 4.0).sin();
    let end = drawn(
        &[[0.0, 0.0, 0.0], [1000.0, 0.0, (3.0 * PI / 8.0).tan()], [1000.0, 2.0 * half, 0.0], [0.0, 2.0 * half, 0.0]],
        "[\"eased\"]",
    );
    let sides = end.sides();
    assert_eq!(sides.len(), 4);
    let round = sides.iter().find(|s| s.curve.is_some()).unwrap();
    close(round.length, r * 1.5 * PI, 1e-5);
    let bow = curve(round);
    assert_eq!((bow.on_way.len(), bow.arcs.len(), bow.bulge), (3, 1, Bulge::Out));
    close(bow.rise, r + r * (PI / 4.0).cos(), 1e-5);
    // The circle reaches past the ends of the straight sides, up and down.
    let top = bow.tops[0];
    close(top.x, 1000.0 + bow.rise, 1e-5);
    let (at, out) = bow.at(0.5).unwrap();
    assert!(at.distance(top) < 1e-5 && out.distance(pt(1.0, 0.0)) < 1e-9, "{at:?} {out:?}");
}

#[test]
fn an_inside_bow_bulges_in() {
    let (chord, rise) = (800.0, 150.0);
    let (radius, angle) = arc(chord, rise);
    let desk = drawn(
        &[
            [0.0, 0.0, 0.0],
            [200.0, 0.0, -bulge(chord, rise)],
            [1000.0, 0.0, 0.0],
            [1300.0, 0.0, 0.0],
            [1300.0, 650.0, 0.0],
            [0.0, 650.0, 0.0],
        ],
        "[\"raw\", \"polished\", \"raw\", \"raw\", \"raw\", \"raw\"]",
    );
    assert_eq!(between(&desk).len(), 6);
    let hollow = &desk.sides()[1];
    close(hollow.length, radius * angle, 1e-5);
    let bow = curve(hollow);
    assert_eq!(bow.bulge, Bulge::In);
    assert!(bow.tops[0].distance(pt(600.0, rise)) < 1e-5, "{:?}", bow.tops);
    close(bow.radius.unwrap(), radius, 1e-5);
    // Out of the stone is down here.
    assert!(bow.at(0.5).unwrap().1.distance(pt(0.0, -1.0)) < 1e-9);
    assert_eq!(rounded_corners(&desk), 0);
    close(edges(&desk)[&named("polished")], radius * angle, 1e-5);
}

/// Where a half-round end goes over into the straight sides there is no bend, and still one side ends: whatever the finishes are.
#[test]
fn a_half_round_end_is_a_side_of_its_own() {
    let r = 350.0;
    let corners = [[0.0, 0.0, 0.0], [1400.0, 0.0, 1.0], [1400.0, 2.0 * r, 0.0], [0.0, 2.0 * r, 0.0]];
    let text = "polygon = [[0, 0], [1400, 0], [1750, 0, 350], [1750, 700, 350], [1400, 700], [0, 700]]";
    for (by_side, by_corner) in [
        ("[\"polished\"]", "[\"polished\", \"polished\", \"polished\", \"polished\", \"polished\", \"polished\"]"),
        (
            "[\"raw\", \"polished\", \"raw\", \"raw\"]",
            "[\"raw\", \"polished\", \"polished\", \"polished\", \"raw\", \"raw\"]",
        ),
    ] {
        for outline in [drawn(&corners, by_side), typed(text, by_corner)] {
            assert_eq!(between(&outline), [Some([0, 1]), Some([1, 4]), Some([4, 5]), Some([5, 0])]);
            let end = &outline.sides()[1];
            close(end.length, PI * r, 1e-5);
            let bow = curve(end);
            assert_eq!((bow.bulge, bow.arcs.len()), (Bulge::Out, 1));
            close(bow.rise, r, 1e-5);
            assert!(bow.tops[0].distance(pt(1750.0, 350.0)) < 1e-5);
            assert_eq!(rounded_corners(&outline), 0);
            let length = if by_side.contains("raw") { PI * r } else { PI * r + 2.0 * 1400.0 + 700.0 };
            close(edges(&outline)[&named("polished")], length, 1e-5);
        }
    }
    // Where the rounding runs past the corner on the straight line, if only by a hair, that corner goes, as it always did.
    let text = "polygon = [[0, 0], [1400.001, 0], [1750, 0, 350], [1750, 700, 350], [1400, 700], [0, 700]]";
    let outline = typed(text, "[\"raw\", \"raw\", \"raw\", \"raw\", \"raw\", \"raw\"]");
    assert!(matches!(&outline.shape, Shape::Polygon(c) if c.len() == 4), "{:?}", outline.shape);
    // And one that has a straight side before and behind it.
    let text = "polygon = [[0, 0], [900, 0], [1000, 0, 100], [1000, 600], [0, 600]]";
    let outline = typed(text, "[\"raw\", \"raw\", \"raw\", \"raw\", \"raw\"]");
    assert_eq!(outline.sides().len(), 4);
}

#[test]
fn rounded_rectangles_keep_their_four_sides() {
    for radius in [0.0, 20.0, 300.0] {
        let outline = Outline::new(
            Shape::rectangle(1000.0, 600.0, radius),
            ["polished", "raw", "raw", "eased"].map(named).to_vec(),
        );
        let sides = outline.sides();
        assert_eq!(between(&outline), [Some([0, 1]), Some([1, 2]), Some([2, 3]), Some([3, 0])], "{radius}");
        assert!(sides.iter().all(|s| s.curve.is_none()));
        assert_eq!(sides.iter().map(|s| s.length).collect::<Vec<_>>(), [1000.0, 600.0, 1000.0, 600.0]);
        assert_eq!(sides.iter().map(|s| s.finish.name()).collect::<Vec<_>>(), ["polished", "raw", "raw", "eased"]);
        assert!(outline.in_air().iter().all(|air| !air));
        assert_eq!(rounded_corners(&outline), if radius > 0.0 { 3 } else { 0 });
    }
    // A square of which nothing straight is left is a circle; with two finishes it has four sides again.
    let round = Outline::new(Shape::rectangle(600.0, 600.0, 300.0), vec![named("eased"); 4]);
    assert_eq!(between(&round), [None]);
    close(round.sides()[0].length, 600.0 * PI, 1e-9);
    assert_eq!(rounded_corners(&round), 0);
    let two =
        Outline::new(Shape::rectangle(600.0, 600.0, 300.0), ["eased", "raw", "eased", "eased"].map(named).to_vec());
    assert_eq!((two.sides().len(), rounded_corners(&two)), (4, 4));
}

#[test]
fn what_is_round_has_one_side() {
    let circle = typed("circle = 900", "[\"eased\"]");
    let ellipse = typed("ellipse = [1200, 800]", "[\"eased\"]");
    for (outline, length, radius) in
        [(&circle, 900.0 * PI, Some(450.0)), (&ellipse, ellipse_length(600.0, 400.0), None)]
    {
        let sides = outline.sides();
        assert_eq!((sides.len(), sides[0].corners), (1, None));
        close(sides[0].length, length, 1e-9);
        assert_eq!((curve(&sides[0]).radius, curve(&sides[0]).bulge), (radius, Bulge::Out));
        assert!(outline.in_air().is_empty());
    }
    // A circle drawn as two arcs, and an oval of four: end arcs of 220 mm, long arcs tangent to them.
    let two = drawn(&[[0.0, 0.0, 1.0], [900.0, 0.0, 1.0]], "[\"eased\"]");
    close(two.sides()[0].length, 900.0 * PI, 1e-5);
    let (a, b, r) = (600.0_f64, 350.0_f64, 220.0_f64);
    let large = ((a - r).powi(2) + b * b - r * r) / (2.0 * (b - r));
    let phi = ((large - b) / (large - r)).asin();
    let joint = pt((a - r) + r * phi.cos(), r * phi.sin());
    let (ends, long) = ((phi / 2.0).tan(), ((PI - 2.0 * phi) / 4.0).tan());
    let oval = drawn(
        &[[joint.x, -joint.y, ends], [joint.x, joint.y, long], [-joint.x, joint.y, ends], [-joint.x, -joint.y, long]],
        "[\"eased\"]",
    );
    let sides = oval.sides();
    assert_eq!((sides.len(), sides[0].corners), (1, None));
    close(sides[0].length, 2.0 * (2.0 * phi * r + (PI - 2.0 * phi) * large), 1e-4);
    let bow = curve(&sides[0]);
    assert_eq!((bow.radius, bow.arcs.len(), bow.rise), (None, 4, 0.0));
    let tops = [pt(a, 0.0), pt(2.0 * a, b), pt(a, 2.0 * b), pt(0.0, b)];
    assert!(bow.tops.iter().zip(tops).all(|(p, q)| p.distance(q) < 1e-4) && bow.tops.len() == 4, "{:?}", bow.tops);
    assert!(oval.in_air().iter().all(|&air| air));
    assert_eq!(rounded_corners(&oval), 0);
    close(edges(&oval)[&named("eased")], sides[0].length, 1e-9);
}

#[test]
fn curves_end_where_finishes_change_and_may_bend_both_ways() {
    // The tangents of one arc, each with a finish of its own: two sides, and a rounded corner between them.
    let points =
        [[0.0, 0.0, 0.0], [500.0, -200.0, 1346.29], [1000.0, 0.0, 0.0], [1000.0, 600.0, 0.0], [0.0, 600.0, 0.0]];
    let one = polygon(&points, &["eased", "eased", "raw", "raw", "raw"]);
    assert_eq!((one.sides().len(), rounded_corners(&one)), (4, 0));
    let two = polygon(&points, &["eased", "raw", "raw", "raw", "raw"]);
    assert_eq!((two.sides().len(), rounded_corners(&two)), (5, 1));
    assert_eq!(two.in_air(), [false; 5]);
    // An S: out and in, with a straight joint that is no end.
    let (chord, rise) = (800.0, 60.0);
    let b = bulge(chord, rise);
    let wave = drawn(
        &[[0.0, 0.0, b], [chord, 0.0, -b], [2.0 * chord, 0.0, 0.0], [2.0 * chord, 700.0, 0.0], [0.0, 700.0, 0.0]],
        "[\"eased\", \"eased\", \"raw\", \"raw\", \"raw\"]",
    );
    let (radius, angle) = arc(chord, rise);
    let front = &wave.sides()[0];
    assert_eq!(wave.sides().len(), 4);
    close(front.length, 2.0 * radius * angle, 1e-5);
    assert_eq!((curve(front).bulge, curve(front).arcs.len()), (Bulge::Both, 2));
    close(curve(front).rise, rise, 1e-4);
    // With two finishes the joint is an end.
    let parted = drawn(
        &[[0.0, 0.0, b], [chord, 0.0, -b], [2.0 * chord, 0.0, 0.0], [2.0 * chord, 700.0, 0.0], [0.0, 700.0, 0.0]],
        "[\"eased\", \"polished\", \"raw\", \"raw\", \"raw\"]",
    );
    let ways: Vec<Bulge> = parted.sides().iter().filter_map(|s| s.curve.as_ref()).map(|c| c.bulge).collect();
    assert_eq!(ways, [Bulge::Out, Bulge::In]);
    // A drop: one sharp corner, and round from there to there. Tangents of 400 mm from it, and what is left of the sides between.
    let tip = 500.0_f64;
    let rest = pt(tip - 400.0, tip).norm() - 400.0;
    let turn = tip.atan2(tip - 400.0);
    let (first, second) = (400.0 / (turn / 2.0).tan(), rest / ((3.0 * PI / 2.0 - 2.0 * turn) / 2.0).tan());
    let drop = polygon(&[[0.0, 0.0, 0.0], [400.0, 0.0, first], [tip, tip, second], [0.0, 400.0, first]], &["eased"; 4]);
    let sides = drop.sides();
    assert_eq!((sides.len(), sides[0].corners), (1, Some([0, 0])), "{sides:?}");
    close(sides[0].length, 2.0 * first * turn + second * (3.0 * PI / 2.0 - 2.0 * turn), 1e-9);
    // Its points farthest to the front and to the left are the corner.
    assert_eq!((curve(&sides[0]).tops.len(), curve(&sides[0]).radius), (2, None));
}

/// Pieces with arcs on all four sides, some out and some in, turned anyhow: width, depth, bulges, turn. Hollows are shallow enough
/// that the tangents of opposite ones do not cross.
fn any_arcs() -> impl Strategy<Value = (f64, f64, [f64; 4], f64)> {
    (
        600.0..1200.0_f64,
        500.0..900.0_f64,
        prop::array::uniform4(prop::sample::select(vec![0.0, 0.05, 0.2, 0.4, -0.05, -0.15])),
        0.0..360.0_f64,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Four sides, each with its arc: as many sides as were drawn, whose lengths are r times angle, whose tops lie on the outline where
    /// the arc is highest, and whose sum is the length that is charged.
    #[test]
    fn every_arc_of_a_drawing_is_a_side((w, h, bulges, turn) in any_arcs()) {
        let pose = Pose::new(turn, pt(0.0, 0.0));
        let at = [pt(0.0, 0.0), pt(w, 0.0), pt(w, h), pt(0.0, h)].map(|p| pose.apply(p));
        let corners: Vec<[f64; 3]> = at.iter().zip(bulges).map(|(p, b)| [p.x, p.y, b]).collect();
        let outline = drawn(&corners, "[\"eased\"]");
        let sides = outline.sides();
        prop_assert_eq!(sides.len(), 4, "{:?}", sides);
        // The first side is the one that starts nearest to the lower left: match by lengths from there.
        let wanted: Vec<(f64, f64)> = (0..4).map(|i| {
            let (b, chord) = (bulges[i], at[i].distance(at[(i + 1) % 4]));
            let angle = 4.0 * f64::atan(b.abs());
            (if b == 0.0 { chord } else { chord / 2.0 / (angle / 2.0).sin() * angle }, b * chord / 2.0)
        }).collect();
        let shift = (0..4).find(|s| (0..4).all(|i| {
            let (long, rise) = wanted[(i + s) % 4];
            let found = sides[i].curve.as_ref().map_or(0.0, |c| if c.bulge == Bulge::In { -c.rise } else { c.rise });
            (sides[i].length - long).abs() < 1e-3 && (found - rise).abs() < 1e-3
        }));
        prop_assert!(shift.is_some(), "{:?} {:?}", wanted, sides);
        let rim: Vec<(Point, Point)> = outline.ring.edges().collect();
        for c in sides.iter().filter_map(|s| s.curve.as_ref()) {
            for &p in c.tops.iter().chain(&[0.0, 0.3, 1.0].map(|t| c.at(t).unwrap().0)) {
                let off = distance::lines([(p, p)], rim.iter().copied()).distance;
                prop_assert!(off <= 0.0501, "{} off the outline", off);
            }
        }
        let charged = edges(&outline)[&named("eased")];
        prop_assert!((sides.iter().map(|s| s.length).sum::<f64>() - charged).abs() < 1e-6);
        prop_assert_eq!(rounded_corners(&outline), 0);
    }
}

// ------------------------------------------------------------------------------------------------------------ papers, page

/// A slab with a bowed bar, a counter with a half-round end, a desk with a hollow, an oval and a plain shelf.
fn bench() -> Case {
    let (bow, hollow) = (bulge(1600.0, 60.0), bulge(500.0, 100.0));
    let (a, b, r) = (400.0_f64, 250.0_f64, 150.0_f64);
    let large = ((a - r).powi(2) + b * b - r * r) / (2.0 * (b - r));
    let phi = ((large - b) / (large - r)).asin();
    let j = pt((a - r) + r * phi.cos(), r * phi.sin());
    let (ends, long) = ((phi / 2.0).tan(), ((PI - 2.0 * phi) / 4.0).tan());
    let outlines: [(&str, Vec<[f64; 3]>, &str); 4] = [
        (
            "bar",
            vec![[0.0, 0.0, bow], [1600.0, 0.0, 0.0], [1600.0, 500.0, 0.0], [0.0, 500.0, 0.0]],
            "[\"polished\", \"raw\", \"raw\", \"polished\"]",
        ),
        (
            "counter",
            vec![[0.0, 0.0, 0.0], [1000.0, 0.0, 1.0], [1000.0, 500.0, 0.0], [0.0, 500.0, 0.0]],
            "[\"polished\", \"polished\", \"raw\", \"raw\"]",
        ),
        (
            "desk",
            vec![
                [0.0, 0.0, 0.0],
                [200.0, 0.0, -hollow],
                [700.0, 0.0, 0.0],
                [900.0, 0.0, 0.0],
                [900.0, 550.0, 0.0],
                [0.0, 550.0, 0.0],
            ],
            "[\"eased\", \"polished\", \"eased\", \"raw\", \"raw\", \"raw\"]",
        ),
        ("oval", vec![[j.x, -j.y, ends], [j.x, j.y, long], [-j.x, j.y, ends], [-j.x, -j.y, long]], "[\"eased\"]"),
    ];
    let mut all: Vec<Piece> = outlines
        .iter()
        .map(|(name, corners, edges)| Piece { outline: drawn(corners, edges), ..make::piece(name, 1.0, 1.0) })
        .collect();
    all.push(make::piece("shelf", 600.0, 300.0));
    let question = judge::question(vec![judge::slab("S", 3000.0, 2000.0)], all);
    let lies = [
        ("S", "bar", 0.0, [100.0, 100.0]),
        ("S", "counter", 180.0, [2900.0, 1900.0]),
        ("S", "desk", 90.0, [2500.0, 100.0]),
        ("S", "oval", 0.0, [100.0, 1400.0]),
        ("S", "shelf", 0.0, [100.0, 900.0]),
    ];
    let plan = judge::plan(&question, &lies);
    let case = Case::new(question, plan);
    assert_eq!(judge::broken(&case.plan.findings), Vec::new(), "{:#?}", case.plan.findings);
    case
}

/// The rows of a piece's tables that begin with bold words, and all its words.
fn sheet<'s>(scenes: &'s [Scene], piece: &str) -> (Vec<Vec<&'s str>>, String) {
    let own: Vec<&Scene> = scenes.iter().filter(|s| s.title.starts_with(&format!("{piece}:"))).collect();
    let bold = |s: &&'s Scene| {
        let first = texts(s).into_iter().filter(|(l, t)| *l == Layer::Margin && t.bold).map(|t| t.1);
        first.map(|t| row_of(s, t)).collect::<Vec<_>>()
    };
    let rows = own.iter().flat_map(bold).collect();
    let words: Vec<&str> = own.iter().flat_map(|s| texts(s)).map(|t| t.1.content.as_str()).collect();
    (rows, words.join(" "))
}

#[test]
fn sheets_tell_curves_as_they_are() {
    let case = bench();
    let work = case.work(Paper::A4, Shown::Mm);
    let scenes = papers::pieces(&work);
    let (radius, angle) = arc(1600.0, 60.0);
    let mm = |v: f64| Shown::Mm.bare_length(v);
    let (rows, words) = sheet(&scenes, "bar");
    let long = mm(radius * angle);
    let air = mm(radius / (angle / 2.0).cos() - radius);
    for must in [
        &["1-3", "curved front", &long, "polished"][..],
        &["3-4", "right", "500", "raw"],
        &["2", "800", &format!("-{air}"), &format!("R {} (air)", mm(radius))],
        &["T", "800", "0", "top of curve"],
    ] {
        assert!(rows.iter().any(|r| r == must), "{must:?} in {rows:?}");
    }
    let course = format!("R {}, bulging out by 60", mm(radius));
    for must in [&course, "(air): no point of the stone", "check: 1 to 4", ", 3 to 5", "measured along its curve"] {
        assert!(words.contains(must), "{must} in {words}");
    }
    // The numbers on the drawing are those of points of the stone.
    let first = scenes.iter().find(|s| s.title.starts_with("bar:")).unwrap();
    let mut numbers: Vec<&str> = texts(first)
        .iter()
        .filter(|(l, t)| *l == Layer::Label && t.bold && t.content.len() < 3)
        .map(|t| t.1.content.as_str())
        .collect();
    numbers.sort_unstable();
    assert_eq!(numbers, ["1", "3", "4", "5", "T"]);
    let (rows, words) = sheet(&scenes, "counter");
    assert!(rows.iter().any(|r| *r == ["2-5", "curved right", &mm(250.0 * PI), "polished"]), "{rows:?}");
    assert!(words.contains("R 250, bulging out by 250"), "{words}");
    assert!(sheet(&scenes, "desk").1.contains("bulging in by 100"));
    let (rows, words) = sheet(&scenes, "oval");
    assert!(rows.iter().any(|r| r.contains(&"T4")) && words.contains("all round"), "{words}");
    let (_, shelf) = sheet(&scenes, "shelf");
    assert!(!shelf.contains("curve") && !shelf.contains("(air)"));
    // Labels say the same names.
    let labels = papers::labels(&work);
    let words: Vec<&str> = labels[0].texts().map(|t| t.content.as_str()).collect();
    let words = words.join(" ");
    for must in ["polished: curved front, left", "polished: front, curved right", "polished: curved front"] {
        assert!(words.contains(must), "{must} in {words}");
    }
}

#[test]
fn what_is_chalked_lies_on_the_stone() {
    let case = bench();
    for shown in [Shown::Mm, Shown::In] {
        let scenes = papers::slabs(&case.work(Paper::A4, shown));
        let table = chalked(&scenes, shown);
        let placed = &case.plan.layouts[0].placed;
        for (i, p) in placed.iter().enumerate() {
            let piece = case.question.jobs[0].pieces.iter().find(|q| q.name == p.piece).unwrap();
            let rim: Vec<(Point, Point)> = p.pose().ring(&piece.outline.ring).edges().collect();
            let own: Vec<_> = table.iter().filter(|(name, _)| name.starts_with(&format!("{}-", i + 1))).collect();
            let tops = own.iter().filter(|(name, _)| name.contains('T')).count();
            assert_eq!(tops, [1, 1, 1, 4, 0][i], "{own:?}");
            assert_eq!(own.len() - tops, [4, 4, 6, 0, 4][i], "{own:?}");
            for (name, &at) in own {
                let at = Point::from(at);
                let off = distance::lines([(at, at)], rim.iter().copied()).distance;
                assert!(off < 0.2 + if shown == Shown::In { 1.2 } else { 0.0 }, "{name} is {off} mm off its piece");
            }
        }
        let words: Vec<&str> = scenes.iter().flat_map(Scene::texts).map(|t| t.content.as_str()).collect();
        assert!(words.join(" ").contains("T: top of a curve"));
    }
}

#[test]
fn sheets_of_curves_can_be_read() {
    let case = bench();
    for (_, paper) in Paper::NAMES {
        for shown in [Shown::Mm, Shown::In] {
            for (what, scenes) in all_pages(&case.work(paper, shown)) {
                for (i, scene) in scenes.iter().enumerate() {
                    let faults = drawing::faults(scene);
                    assert_eq!(faults, Vec::<String>::new(), "page {} of {what}, {}", i + 1, paper.name());
                    assert_eq!(scene.rows_left_out, 0, "page {} of {what}, {}", i + 1, paper.name());
                }
            }
        }
    }
    let work = case.work(Paper::A4, Shown::Mm);
    keep("curves-pieces", &papers::pieces(&work));
    keep("curves-slabs", &papers::slabs(&work));
}

#[test]
fn the_page_calls_sides_what_the_sheets_call_them() {
    let case = bench();
    let settings = Settings { shown: Shown::Mm, paper: Paper::A4 };
    let text = page::html(&case.question, &case.plan, &[], &case.openings, &settings);
    let page = page::parsed(&text);
    let items: Vec<String> = page.descendants().filter(|n| n.has_tag_name("li")).map(page::words).collect();
    let (radius, angle) = arc(1600.0, 60.0);
    let mm = |v: f64| Shown::Mm.length(v);
    for must in [
        format!("curved front, {} along it, R {}, bulging out by 60 mm: polished", mm(radius * angle), mm(radius)),
        format!("curved right, {} along it, R 250 mm, bulging out by 250 mm: polished", mm(250.0 * PI)),
        "front 1-2, 200 mm: eased".to_owned(),
        "front 4-5, 200 mm: eased".to_owned(),
        "left, 500 mm: polished".to_owned(),
    ] {
        assert!(items.contains(&must), "{must} in {items:?}");
    }
    let all = page::words(page.root_element());
    for must in
        ["polished: curved front, left", "eased: front 1-2, front 4-5; polished: curved front", "eased: all round"]
    {
        assert!(all.contains(must), "{must}");
    }
}
