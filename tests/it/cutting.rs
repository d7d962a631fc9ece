//! Cores, saw passes and scores. "Derived" stands beside what follows from geometry alone, "common practice" beside habits of
//! the trade without a source.

use proptest::prelude::*;
use scantling::craft::cutting::{cut, score, score_depth};
use scantling::geom::curve::{Corner, Side};
use scantling::geom::{Point, distance, pt};
use scantling::model::openings::{Cutting, Pass};
use scantling::model::{Blade, Opening, OpeningKind, Piece, Rods, Shape, StoneClass, Tools};
use scantling::units::Shown;

use crate::make;

fn blade(diameter: f64) -> Blade {
    Blade { diameter, kerf: 3.0 }
}

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
}

fn near_point(a: [f64; 2], b: [f64; 2]) {
    assert!(Point::from(a).distance(b.into()) < 1e-3, "{a:?} is not {b:?}");
}

/// A piece of 3000 by 1000 with one opening.
fn with(kind: OpeningKind, shape: Shape) -> (Piece, Opening) {
    let opening = Opening::new("hole".to_owned(), kind, shape);
    let mut piece = make::piece("counter", 3000.0, 1000.0);
    piece.openings.push(opening.clone());
    (piece, opening)
}

fn rectangle(width: f64, depth: f64, radius: f64) -> (Piece, Opening) {
    let low = pt(1325.0 - width / 2.0, 290.0 - depth / 2.0);
    with(OpeningKind::DropInSink, Shape::rectangle(width, depth, radius).moved(low))
}

fn cut_of((piece, opening): &(Piece, Opening), thickness: f64, tools: &Tools) -> Cutting {
    cut(piece, opening, thickness, tools, Shown::Mm)
}

/// The table of overruns, as it is handed down to one decimal. Derived: `sqrt(2 R h - h²)`.
#[test]
fn the_table_of_overruns() {
    const DEPTHS: [f64; 6] = [10.0, 15.0, 20.0, 22.0, 30.0, 32.0];
    const TABLE: [(f64, [f64; 6]); 10] = [
        (100.0, [30.0, 35.7, 40.0, 41.4, 45.8, 46.6]),
        (115.0, [32.4, 38.7, 43.6, 45.2, 50.5, 51.5]),
        (125.0, [33.9, 40.6, 45.8, 47.6, 53.4, 54.6]),
        (180.0, [41.2, 49.7, 56.6, 59.0, 67.1, 68.8]),
        (300.0, [53.9, 65.4, 74.8, 78.2, 90.0, 92.6]),
        (350.0, [58.3, 70.9, 81.2, 84.9, 98.0, 100.9]),
        (400.0, [62.4, 76.0, 87.2, 91.2, 105.4, 108.5]),
        (450.0, [66.3, 80.8, 92.7, 97.0, 112.2, 115.7]),
        (500.0, [70.0, 85.3, 98.0, 102.5, 118.7, 122.4]),
        (625.0, [78.4, 95.7, 110.0, 115.2, 133.6, 137.8]),
    ];
    for (diameter, row) in TABLE {
        for (depth, wanted) in DEPTHS.into_iter().zip(row) {
            near(blade(diameter).overrun(depth).unwrap(), wanted, 0.0501);
        }
    }
    assert_eq!(blade(60.0).overrun(32.0), None, "a blade of 60 mm reaches 30 mm deep");
    assert_eq!(blade(60.0).overrun(30.0), Some(30.0));
}

/// Derived; the blade and the depth are a tool supplier's (100 mm) and common practice (10 mm).
#[test]
fn the_run_out_of_the_groove() {
    near(Rods::default().blade.overrun(10.0).unwrap(), 30.0, 1e-12);
}

/// A rectangle of 700 by 400 with corners that a bit of 38 mm makes exactly, worked by hand.
#[test]
fn a_rectangle_by_hand() {
    let c = cut_of(&rectangle(700.0, 400.0, 19.0), 30.0, &Tools::default());
    assert_eq!((c.cores.len(), c.passes.len(), c.rows.len()), (4, 4, 0));
    let first = &c.cores[0];
    // The corner is at (975, 90): inset by half the diameter from both sides.
    near_point(first.centre, [994.0, 109.0]);
    assert_eq!((first.diameter, first.past_line), (38.0, 0.0));
    near(first.from_centre_line, -331.0, 1e-9);
    near(first.from_front, 109.0, 1e-9);
    near_point(first.tangents[0], [975.0, 109.0]);
    near_point(first.tangents[1], [994.0, 90.0]);
    let sides: Vec<&str> = c.passes.iter().map(|p| p.side.as_str()).collect();
    assert_eq!(sides, ["front", "right", "back", "left"]);
    let front = &c.passes[0];
    near_point(front.from, [994.0, 90.0]);
    near_point(front.to, [1656.0, 90.0]);
    assert_eq!((front.blade, front.kerf, front.depth, front.from_back), (Some(400.0), Some(3.6), 32.0, false));
    // sqrt(400 * 32 - 32²) = 108.517; half the kerf towards the drop.
    near_point(front.full_depth_from.unwrap(), [994.0 + 108.5173, 91.8]);
    near_point(front.full_depth_to.unwrap(), [1656.0 - 108.5173, 91.8]);
    // Less the chord at the underside, 2 mm above the deepest point: sqrt(400 * 2 - 4) = 28.213.
    near(front.left_under[0], 80.304, 1e-3);
    // The right side runs up, its kerf lies to the left of it.
    near(c.passes[1].full_depth_from.unwrap()[0], 1675.0 - 1.8, 1e-9);
    let text = c.cutting_notes.join("\n");
    assert!(text.contains("80.3 mm near each corner are left uncut underneath"), "{text}");
    // sqrt(125 * 32 - 32²) - sqrt(125 * 2 - 4) = 54.553 - 15.684.
    assert!(text.contains("125 mm in the same line brings it down to 38.9 mm"), "{text}");
}

/// The rule of the trade: the largest bit not larger than the corner; a smaller one makes the hole larger there.
#[test]
fn the_bit_is_never_too_large() {
    let c = cut_of(&rectangle(700.0, 400.0, 20.0), 30.0, &Tools::default());
    assert!(c.cores.iter().all(|core| core.diameter == 38.0));
    // (20 - 19) * (sqrt 2 - 1).
    near(c.cores[0].past_line, 0.414_21, 1e-5);
    near_point(c.cores[0].centre, [994.0, 109.0]);
    assert!(c.cutting_notes.iter().any(|n| n.contains("0.4 mm larger there than drawn")), "{:?}", c.cutting_notes);
    // A radius far above the largest bit: the core touches the arc from inside, and the saw stops where the arc begins.
    let c = cut_of(&rectangle(700.0, 400.0, 80.0), 30.0, &Tools::default());
    let core = &c.cores[0];
    assert_eq!((core.diameter, core.past_line), (75.0, 0.0));
    let middle = pt(975.0 + 80.0, 90.0 + 80.0);
    near(Point::from(core.centre).distance(middle), 80.0 - 37.5, 1e-9);
    near(Point::from(core.tangents[0]).distance(middle), 80.0, 1e-9);
    near_point(c.passes[0].from, [1055.0, 90.0]);
    assert_eq!(c.rows.len(), 4);
}

/// 112 mm between cores: only the hand blade is short enough (2 e = 109.1); 92 mm: half from each face (2 e = 83.5 at 16 mm);
/// 82 mm: no blade at all. Derived.
#[test]
fn short_sides_get_smaller_blades() {
    let tools = Tools::default();
    let front = |width: f64| {
        let c = cut_of(&rectangle(width, 400.0, 19.0), 30.0, &tools);
        let passes: Vec<Pass> = c.passes.iter().filter(|p| p.side == "front").cloned().collect();
        (passes, c.cutting_notes.join("\n"))
    };
    let (p, notes) = front(150.0);
    assert_eq!((p.len(), p[0].blade), (1, Some(125.0)));
    // 2 * 108.517.
    assert!(
        notes.contains(
            "no room for the blade of 400 mm, which needs more than 217 mm clear of other stone: take the one of 125 mm"
        ),
        "{notes}"
    );
    near(p[0].left_under[1], 38.869, 1e-3);
    let (p, notes) = front(130.0);
    assert_eq!(
        p.iter().map(|p| (p.blade, p.depth, p.from_back)).collect::<Vec<_>>(),
        [(Some(125.0), 16.0, false), (Some(125.0), 16.0, true)]
    );
    // sqrt(125 * 16 - 256) - sqrt(125 - 1).
    near(p[0].left_under[0], 41.761 - 11.136, 2e-3);
    assert!(notes.contains("16 mm deep from the back") && notes.contains("92 mm straight"), "{notes}");
    let (p, notes) = front(120.0);
    assert_eq!((p.len(), p[0].blade, p[0].full_depth_from), (1, None, None));
    assert!(
        notes.contains("no blade can saw the front side (82 mm straight)") && notes.contains("109.1 mm"),
        "{notes}"
    );
    // Two cores that meet leave nothing to saw.
    let (p, _) = front(38.0);
    assert!(p.is_empty());
}

/// A hole with a corner that points into it: five cores, and the saw runs on past that corner, so that nothing stays uncut there.
#[test]
fn corners_of_the_drop_need_no_core() {
    let at = [(500.0, 100.0), (1300.0, 100.0), (1300.0, 800.0), (900.0, 800.0), (900.0, 400.0), (500.0, 400.0)];
    let shape = Shape::Polygon(at.iter().map(|&(x, y)| Corner { at: pt(x, y), radius: 10.0 }).collect());
    let c = cut_of(&with(OpeningKind::Other, shape), 20.0, &Tools::default());
    assert_eq!(c.cores.len(), 5);
    assert!(c.cores.iter().all(|core| core.diameter == 20.0));
    let names: Vec<&str> = c.passes.iter().map(|p| p.side.as_str()).collect();
    assert_eq!(names, ["front", "right", "side 3", "side 4", "side 5", "side 6"]);
    // Side 4 runs down from (900, 800) to the corner at (900, 400); sqrt(400 * 22 - 22²) - 28.213 = 62.978 beyond it.
    let down = &c.passes[3];
    near_point(down.from, [900.0, 790.0]);
    near_point(down.to, [900.0, 400.0 - 62.978]);
    assert_eq!(down.left_under[1], 0.0);
    near(down.left_under[0], 62.978, 1e-3);
    assert!(c.cutting_notes.iter().any(|n| n.contains("point into the hole need no core")));
}

#[test]
fn rounds_and_ellipses_get_no_corner_cores() {
    let ellipse = |x: f64, y: f64| Shape::Ellipse { centre: pt(1500.0, 400.0), half_x: x, half_y: y };
    let of = |kind, shape, tools: &Tools| cut_of(&with(kind, shape), 30.0, tools);
    let c = of(OpeningKind::DropInSink, ellipse(250.0, 200.0), &Tools::default());
    assert!(c.cores.is_empty() && c.passes.is_empty() && c.cutting_notes[0].contains("no cores"));
    let c = of(OpeningKind::DropInSink, ellipse(200.0, 200.0), &Tools::default());
    assert!(c.cores.is_empty() && c.cutting_notes[0].contains("no corners: no cores"));
    // 35 mm and 1 3/8 in are one bit.
    for diameter in [35.0, 34.925] {
        let c = of(OpeningKind::TapHole, ellipse(diameter / 2.0, diameter / 2.0), &Tools::default());
        assert_eq!((c.cores.len(), c.cores[0].diameter, c.cores[0].from_front), (1, 35.0, 400.0));
    }
    // No bit of 40: the next smaller, to be ground out.
    let c = of(OpeningKind::TapHole, ellipse(20.0, 20.0), &Tools::default());
    assert_eq!(c.cores[0].diameter, 38.0);
    assert!(
        c.cutting_notes[0].contains("grind it out by 1 mm all round") && c.cutting_notes[0].contains("45 mm"),
        "{:?}",
        c.cutting_notes
    );
    let c = of(OpeningKind::TapHole, ellipse(7.0, 7.0), &Tools::default());
    assert!(c.cores.is_empty() && c.cutting_notes[0].contains("6 mm too wide"), "{:?}", c.cutting_notes);
}

/// No bit suits: a row of small cuts at every corner, from the drop to just short of the line.
#[test]
fn tight_corners_get_rows_of_small_cuts() {
    let no_bits = Tools { core_bits: Vec::new(), ..Tools::default() };
    for (tools, radius) in [(&Tools::default(), 0.0), (&Tools::default(), 6.0), (&no_bits, 0.0), (&no_bits, 19.0)] {
        let made = rectangle(700.0, 400.0, radius);
        let c = cut_of(&made, 30.0, tools);
        assert_eq!((c.cores.len(), c.rows.len()), (0, 4));
        let ring = &made.1.ring;
        for row in &c.rows {
            assert_eq!((row.blade, row.radius), (Some(125.0), radius));
            assert!(row.cuts.len() >= 2);
            for &[from, to] in &row.cuts {
                let (from, to) = (Point::from(from), Point::from(to));
                assert!(ring.contains(from) && ring.contains(to));
                // The chord of the blade on the face, 2 * 54.553.
                near(from.distance(to), 109.106, 1e-3);
                // Neither end of the kerf of 2.4 mm touches the line.
                let side = (to - from).left() * (1.2 / from.distance(to));
                for edge in [side, -side] {
                    let line = [from + edge, to + edge];
                    let off = ring
                        .edges()
                        .map(|(a, b)| distance::segments(line[0], line[1], a, b).distance)
                        .fold(f64::INFINITY, f64::min);
                    assert!(off > 0.4, "{off}");
                }
            }
        }
        assert!(c.cutting_notes.iter().any(|n| n.contains("row of small cuts")));
        // The saw still stops where the corner begins.
        near_point(c.passes[0].from, [975.0 + radius, 90.0]);
    }
    // A drop too small for the blade says so.
    let c = cut_of(&rectangle(90.0, 90.0, 0.0), 30.0, &Tools::default());
    assert!(c.rows.iter().all(|r| r.blade.is_none()));
}

#[test]
fn a_curve_in_steps_gets_no_passes() {
    let shape = Shape::Polygon(
        (0..48)
            .map(|k| {
                let a = f64::from(k) * std::f64::consts::TAU / 48.0;
                Corner { at: pt(1500.0 + 250.0 * a.cos(), 500.0 + 250.0 * a.sin()), radius: 0.0 }
            })
            .collect(),
    );
    let c = cut_of(&with(OpeningKind::DropInSink, shape), 30.0, &Tools::default());
    assert!(c.cores.is_empty() && c.passes.is_empty());
    assert!(c.cutting_notes.iter().any(|n| n.starts_with("48 short sides are steps of a curve")));
}

/// Two thirds to three quarters deep with 6 to 10 mm left: common practice. The share of bending strength is derived:
/// ((t - h) / t)² = 0.11 for 20 of 30 mm.
#[test]
fn scores() {
    near(score_depth(30.0).unwrap(), 20.0, 1e-9);
    near(score_depth(20.0).unwrap(), 40.0 / 3.0, 1e-9);
    near(score_depth(40.0).unwrap(), 30.0, 1e-9);
    near(score_depth(60.0).unwrap(), 45.0, 1e-9);
    assert_eq!((score_depth(12.0), score_depth(5.0)), (None, None));
    let tools = Tools::default();
    let (_, hole) = rectangle(700.0, 400.0, 19.0);
    let s = score(&hole, StoneClass::Granite, 30.0, &tools, Shown::Mm).unwrap();
    assert!(s.notes[0].contains("11 %"), "{:?}", s.notes);
    assert!(s.passes.iter().all(|p| p.from_back && p.depth == s.depth));
    // (662 - 60) / 2 = 301 > 2 * sqrt(400 * 20 - 400) = 174.4: tabs front and back; (362 - 60) / 2 = 151: none at the ends.
    assert_eq!((s.passes.len(), s.tabs.len()), (6, 2));
    near_point(s.tabs[0], [1325.0, 90.0]);
    near_point(s.passes[0].to, [1295.0, 90.0]);
    near_point(s.passes[1].from, [1355.0, 90.0]);
    near(s.passes[0].left_under[0], 87.178, 1e-3);
    let refused = |kind: OpeningKind, stone, thickness| {
        let hole = Opening { kind, ..hole.clone() };
        score(&hole, stone, thickness, &tools, Shown::Mm).unwrap_err()
    };
    use OpeningKind::{Cooktop, UndermountSink};
    assert!(refused(UndermountSink, StoneClass::Granite, 30.0).contains("polished in the shop"));
    assert!(refused(Cooktop, StoneClass::Porcelain, 20.0).contains("porcelain"));
    assert!(refused(Cooktop, StoneClass::EngineeredQuartz, 30.0).contains("engineered quartz"));
    assert!(refused(Cooktop, StoneClass::Granite, 12.0).contains("too thin"));
    let round = Shape::Ellipse { centre: pt(1500.0, 400.0), half_x: 200.0, half_y: 200.0 };
    assert!(score(&with(OpeningKind::Cooktop, round).1, StoneClass::Granite, 30.0, &tools, Shown::Mm).is_err());
    assert!(score(&rectangle(700.0, 400.0, 0.0).1, StoneClass::Granite, 30.0, &tools, Shown::Mm).is_err());
}

/// Openings of all sorts: rectangles, L-shapes and stars, turned, with sharp and round corners.
fn any_shape() -> impl Strategy<Value = Shape> {
    let star = (3usize..9, proptest::collection::vec((60.0..400.0, 0.0..45.0), 9), 0.0..360.0).prop_map(
        |(n, points, turn): (usize, Vec<(f64, f64)>, f64)| {
            (0..n)
                .map(|k| {
                    let a = (turn + 360.0 * k as f64 / n as f64 + points[k].1 / n as f64).to_radians();
                    (pt(points[k].0 * a.cos(), points[k].0 * a.sin()), points[k].1)
                })
                .collect::<Vec<_>>()
        },
    );
    let ell = (150.0..700.0, 150.0..700.0, 0.2..0.8, 0.2..0.8, 0.0..45.0, 0.0..90.0).prop_map(
        |(w, h, p, q, r, turn): (f64, f64, f64, f64, f64, f64)| {
            let (sin, cos) = turn.to_radians().sin_cos();
            [(0.0, 0.0), (w, 0.0), (w, h), (w * p, h), (w * p, h * q), (0.0, h * q)]
                .map(|(x, y)| (pt(cos * x - sin * y, sin * x + cos * y), r))
                .to_vec()
        },
    );
    let box_ = (20.0..900.0, 20.0..900.0, 0.0..60.0, prop_oneof![Just(0.0), 0.0..90.0]).prop_map(
        |(w, h, r, turn): (f64, f64, f64, f64)| {
            let (sin, cos) = turn.to_radians().sin_cos();
            [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
                .map(|(x, y)| (pt(cos * x - sin * y, sin * x + cos * y), r))
                .to_vec()
        },
    );
    prop_oneof![star, ell, box_].prop_filter_map("the roundings fit", |corners| {
        let shape = Shape::Polygon(corners.into_iter().map(|(at, radius)| Corner { at, radius }).collect());
        Some(shape.tidy(|_| false).ok()?.0.moved(pt(1500.0, 500.0)))
    })
}

fn any_tools() -> impl Strategy<Value = Tools> {
    let bits = proptest::collection::vec(5.0..90.0_f64, 0..6);
    let blades = proptest::collection::vec((30.0..700.0_f64, 1.0..8.0_f64), 0..5);
    (bits, blades, 0.0..3.0).prop_map(|(mut core_bits, blades, table_cut)| {
        core_bits.sort_by(f64::total_cmp);
        let blades = blades.into_iter().map(|(diameter, kerf)| Blade { diameter, kerf }).collect();
        Tools { core_bits, blades, table_cut }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    /// Wherever the disc is at full depth, what it cuts on the surface lies in the hole or in a core; so no corner is cut past.
    #[test]
    fn the_disc_stays_inside(shape in any_shape(), tools in any_tools(), thickness in 8.0..40.0_f64) {
        let made = with(OpeningKind::Other, shape);
        let c = cut_of(&made, thickness, &tools);
        let ring = &made.1.ring;
        // Where a core takes more than is drawn, so may the saw beside it.
        let past = c.cores.iter().map(|core| core.past_line).fold(0.0, f64::max);
        let off = |p: Point| ring.edges().map(|(a, b)| p.distance(distance::nearest_on_segment(p, a, b))).fold(f64::INFINITY, f64::min);
        let scored = score(&made.1, StoneClass::Granite, thickness, &tools, Shown::Mm).map_or(Vec::new(), |s| s.passes);
        for pass in c.passes.iter().chain(&scored) {
            let (Some(d), Some(kerf)) = (pass.blade, pass.kerf) else { continue };
            let (from, to) = (Point::from(pass.full_depth_from.unwrap()), Point::from(pass.full_depth_to.unwrap()));
            prop_assert!(from.distance(to) > 0.0 && d / 2.0 >= pass.depth);
            let u = (to - from) * (1.0 / from.distance(to));
            let half = ((d / 2.0).powi(2) - (d / 2.0 - pass.depth).powi(2)).sqrt();
            for t in [0.0, 0.3, 1.0] {
                for along in (-20..=20).map(|k| half * f64::from(k) / 20.0) {
                    for across in [0.5, 0.0, -0.5] {
                        // Polylines may be off by 0.05 mm.
                        let p = from.lerp(to, t) + u * (along * (1.0 - 1e-9)) + u.left() * (across * (kerf - 0.16));
                        let in_core = c.cores.iter().any(|core| p.distance(core.centre.into()) <= core.diameter / 2.0 + 0.06);
                        prop_assert!(ring.contains(p) || in_core || off(p) <= past, "{p:?} of {pass:?}");
                    }
                }
            }
            // The kerf lies on the drop's side of the line: the blade's middle is half of it to the left of it.
            let off = u.cross(from - Point::from(pass.from));
            prop_assert!((off - kerf / 2.0).abs() < 1e-6);
            prop_assert!(pass.left_under.iter().all(|l| (-1e-9..=half + 1e-9).contains(l)));
        }
    }

    /// A core lies in the hole (or takes as much more as is told) and touches both sides, or the arc.
    #[test]
    fn cores_lie_in_the_hole_and_touch_it(shape in any_shape(), tools in any_tools()) {
        let made = with(OpeningKind::Other, shape);
        let c = cut_of(&made, 20.0, &tools);
        let inside = made.1.inside_corners();
        prop_assert!(c.cores.len() <= inside.len());
        for core in &c.cores {
            let (centre, radius) = (Point::from(core.centre), core.diameter / 2.0);
            prop_assert!(made.1.ring.contains(centre));
            for t in core.tangents {
                prop_assert!((centre.distance(t.into()) - radius).abs() < 1e-6);
            }
            prop_assert!(core.past_line <= 1.5);
            let gap = made.1.ring.edges().map(|(a, b)| centre.distance(distance::nearest_on_segment(centre, a, b))).fold(f64::INFINITY, f64::min);
            // Its corner is the one from which the tangents are seen so; the bit is not larger.
            let [t, u] = core.tangents.map(Point::from);
            let own = inside.iter().find(|c| {
                let (to_centre, to_t, to_u) = (c.at.distance(centre), c.at.distance(t), c.at.distance(u));
                let touches = if t == u { to_t + radius } else { to_t.hypot(radius) };
                (to_centre - touches).abs() < 1e-6 && (to_t - to_u).abs() < 1e-6
            });
            prop_assert!(own.is_some_and(|c| radius <= c.radius + 1e-3), "{core:?}");
            prop_assert!(gap <= radius + 0.06, "{gap} {radius}");
        }
    }

    /// The cuts of a row stay in the hole with all of their kerf, and end short of the line.
    #[test]
    fn rows_stay_in_the_hole(shape in any_shape(), tools in any_tools(), thickness in 8.0..40.0_f64) {
        let made = with(OpeningKind::Other, shape);
        let c = cut_of(&made, thickness, &tools);
        for row in c.rows.iter().filter(|r| r.blade.is_some()) {
            let blade = tools.blades.iter().find(|b| Some(b.diameter) == row.blade).unwrap();
            for &[from, to] in &row.cuts {
                let (from, to) = (Point::from(from), Point::from(to));
                let length = from.distance(to);
                prop_assert!((length - 2.0 * blade.overrun(thickness + tools.table_cut).unwrap()).abs() < 1e-6);
                let side = (to - from).left() * (blade.kerf / 2.0 / length);
                for k in 0..=40 {
                    let p = from.lerp(to, f64::from(k) / 40.0);
                    prop_assert!([p, p + side * 0.95, p - side * 0.95].iter().all(|q| made.1.ring.contains(*q)), "{row:?}");
                }
            }
        }
    }

    /// Any thickness and any tools will do.
    #[test]
    fn nothing_panics(shape in any_shape(), tools in any_tools(), thickness in prop_oneof![Just(5.0), Just(200.0), 0.0..500.0]) {
        let made = with(OpeningKind::Cooktop, shape.clone());
        let c = cut_of(&made, thickness, &tools);
        let _ = score(&made.1, StoneClass::Marble, thickness, &tools, Shown::Mm);
        let corners = made.1.inside_corners().len();
        // One of the two for every corner, both where a core only touches the arc.
        let both = c.cores.iter().filter(|k| k.tangents[0] == k.tangents[1]).count();
        prop_assert_eq!(c.cores.len() + c.rows.len(), corners + both);
        prop_assert!(c.cores.iter().all(|k| Point::from(k.centre).is_finite()));
        prop_assert!(shape.flatten(Side::Outer).points.len() >= 3);
    }
}
