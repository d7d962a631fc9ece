//! Pieces on their way: the worked checks of the trade's sheet of facts, handbook beams, and properties.
//!
//! The worked checks T1 to T16 are numbered as there. "derived" means: follows from the formula beside it; where a source is named,
//! it is that of the formula.

use proptest::prelude::*;
use scantling::craft::carry::{self, Carried, Case, Stone, formula};
use scantling::geom::curve::Corner;
use scantling::geom::{Point, pt};
use scantling::model::openings::{CarryVerdict, Rod, State};
use scantling::model::{
    Finish, Handling, Opening, OpeningKind, Outline, Piece, Shape, Slab, Standing, StoneClass, StoneTests,
    TestedStrength,
};
use scantling::units::Shown;

use crate::make;

/// Granite of 2700 kg/m³, the density of the worked checks.
fn granite(thickness: f64) -> Slab {
    stone(StoneClass::Granite, thickness)
}

fn stone(class: StoneClass, thickness: f64) -> Slab {
    Slab { stone: class, thickness, ..make::slab("s", 3200.0, 1900.0, 1.0) }
}

/// The top of the worked checks: 2400 x 635 mm.
fn top() -> Piece {
    make::piece("top", 2400.0, 635.0)
}

/// ... with an opening of 750 x 430 mm, rails of 65 mm in front and 140 mm behind, its middle at `x`.
fn with_sink(x: f64) -> Piece {
    let sink = make::opening("sink", OpeningKind::DropInSink, [x, 280.0], 750.0, 430.0, 0.0);
    Piece { openings: vec![sink], ..top() }
}

fn carried(piece: &Piece, slab: &Slab) -> Carried {
    carry::carry(piece, slab, &Handling::default(), &[], Shown::Mm)
}

fn stress(c: &Carried, state: State, case: Case) -> f64 {
    c.row(state, case).unwrap_or_else(|| panic!("{state:?} {case:?}")).stress_mpa
}

/// Equal to so many decimals as a printed figure has.
#[track_caller]
fn printed(value: f64, figure: f64, decimals: i32) {
    let off = (value - figure).abs();
    assert!(off <= 0.5001 * 10f64.powi(-decimals), "{value} is not {figure}");
}

#[test]
fn t1_flat_by_its_ends() {
    // Derived: M = w L²/8 (handbooks), sigma = M/(b t²/6) = 3 rho g L²/(4 t).
    let c = carried(&top(), &granite(30.0));
    printed(c.load.mass_kg, 123.444, 3);
    let row = c.row(State::Whole, Case::FlatByEnds).unwrap();
    printed(row.stress_mpa, 3.8128, 4);
    printed(row.at, 1200.0, 2);
    printed(formula::flat_by_ends(2700.0, 2400.0, 30.0), 3.8128, 4);
    printed(formula::unit_weight(2700.0) * 635.0 * 30.0 * 1000.0, 504.405, 3); // N/m
    printed(formula::modulus(635.0, 30.0), 95_250.0, 0);
}

#[test]
fn t2_flat_at_the_best_two_points() {
    // 0.207 L is published (a solved exercise); the rest derived: |M| = 0.0214466 w L².
    let c = carried(&top(), &granite(30.0));
    let row = c.row(State::Whole, Case::FlatAtTwo).unwrap();
    printed(row.stress_mpa, 0.65418, 5);
    let [a, b] = row.held_at.unwrap();
    printed(a / 2400.0, 0.20711, 5);
    printed((2400.0 - b) / 2400.0, 0.20711, 5);
    printed(formula::best_overhang(), 0.20711, 5);
    printed(stress(&c, State::Whole, Case::FlatByEnds) / row.stress_mpa, 5.8284, 4);
    printed(row.stress_mpa * formula::modulus(635.0, 30.0) / 1000.0, 62.310, 3);
}

#[test]
fn t3_net_section_through_an_opening() {
    // Derived: true net weight, both rails side by side.
    let c = carried(&with_sink(1200.0), &granite(30.0));
    printed(c.load.mass_cut_kg, 97.3215, 4);
    let row = c.row(State::Cut, Case::FlatByEnds).unwrap();
    printed(row.stress_mpa, 7.5930, 4);
    printed(row.stress_mpa * formula::modulus(205.0, 30.0) / 1000.0, 233.483, 3);
    printed(row.stress_mpa * row.knocks, 11.389, 3);
    // Above the least modulus of rupture of granite, ASTM C615 (published): not to be carried flat.
    let class = StoneClass::Granite.strength();
    assert!(row.stress_mpa * row.knocks > class.rupture.unwrap().value);
    assert!(row.r#use > 1.0);
    assert_eq!(c.openings[0].verdict, CarryVerdict::OnEdge);
    // The short cut of gross weight: w L²/8 over the net section.
    printed(stress(&c, State::Whole, Case::FlatByEnds) * 635.0 / 205.0, 11.810, 3);
}

#[test]
fn t4_to_t6_round_holes_and_ellipses() {
    // T4: Heywood, from memory of Peterson's tables.
    printed(formula::round_hole_in_strip(0.3), 2.343, 3);
    printed(formula::round_hole_in_strip(0.3) / 0.7, 3.3471, 4);
    // A hole in a wide plate: 3 (published, textbooks).
    printed(formula::round_hole_in_strip(0.0), 3.0, 9);
    printed(formula::ellipse_in_tension(1.0, 1.0), 3.0, 9);
    // T5: from memory of Peterson and Roark.
    printed(formula::round_hole_in_bending(0.25), 1.769_23, 5);
    printed(formula::round_hole_in_bending(0.3), 1.787_88, 5);
    printed(formula::ellipse_in_bending(1.0, 1.0, 0.3), 1.787_88, 5);
    // T6: tension published (a benchmark), bending from memory of Peterson.
    printed(formula::ellipse_in_tension(2.0, 1.0), 5.0, 9);
    printed(formula::ellipse_in_bending(2.0, 1.0, 0.25), 2.538_46, 5);
    // In bending as for ellipses: exact for them.
    printed(formula::in_bending(5.0, 0.25), formula::ellipse_in_bending(2.0, 1.0, 0.25), 9);
}

#[test]
fn t7_to_t9_round_corners() {
    let corner = |across, along, radius| formula::rounded_corner(across, along, radius).unwrap().0;
    // T7: textbook coefficients (published, a reference page).
    printed(corner(100.0, 100.0, 20.0), 3.8081, 4);
    printed(corner(200.0, 100.0, 20.0), 5.0793, 4);
    printed(corner(100.0, 100.0, 100.0), 3.041, 3);
    // T8: the fit, derived.
    printed(corner(200.0, 200.0, 10.0), 5.778, 3);
    printed(corner(200.0, 200.0, 25.0), 4.270, 3);
    // T9: derived.
    printed(formula::in_bending(corner(200.0, 200.0, 10.0), 0.25), 2.8377, 4);
    assert!(formula::rounded_corner(200.0, 200.0, 0.0).is_none(), "elastic theory knows no limit there");
    // Plane-stress finite elements (derived): rows b/a, columns r/a of 0.2, 0.1, 0.05, 0.025.
    let table = [(1.0, [3.84, 4.72, 5.92, 7.58]), (1.5, [3.65, 4.51, 5.66, 7.25]), (2.0, [3.56, 4.39, 5.52, 7.07])];
    for (slim, row) in table {
        for (share, value) in [0.2, 0.1, 0.05, 0.025].into_iter().zip(row) {
            let kt = corner(100.0, 100.0 * slim, 100.0 * share);
            assert!((kt / value - 1.0).abs() < 0.05, "b/a {slim}, r/a {share}: {kt} for {value}");
        }
    }
}

#[test]
fn t8_and_t9_at_the_corner_of_a_real_piece() {
    // Half the opening across the stress is 200 mm, its radius 10 mm: T8's factor, and, below the thickness, for bending too.
    let sink = |radius| make::opening("sink", OpeningKind::Cooktop, [1200.0, 300.0], 500.0, 400.0, radius);
    let slab = granite(30.0);
    let c = carried(&Piece { openings: vec![sink(10.0)], ..top() }, &slab);
    let corner = c.openings[0].corner.as_ref().unwrap();
    printed(corner.edge_factor.unwrap(), 5.778, 3);
    printed(corner.flat_factor.unwrap(), 5.778, 3);
    // The far stress is that of the full width with the load of the cut piece, at the corner.
    let w = formula::unit_weight(2700.0) * 30.0;
    let area = 500.0 * 400.0 - (4.0 - std::f64::consts::PI) * 100.0;
    let reaction = w * (2400.0 * 635.0 - area) / 2.0;
    let x = 950.0;
    let moment = reaction * x - w * 635.0 * x * x / 2.0;
    printed(corner.flat_far_mpa, moment / formula::modulus(635.0, 30.0), 4);
    printed(corner.flat_mpa.unwrap(), 5.778 * corner.flat_far_mpa, 2);
    // Off the middle line of the piece on edge: M y / (t D³/12).
    let off = (635.0 / 2.0 - 100.0_f64).max(500.0 - 635.0 / 2.0);
    let far = moment * off / (30.0 * 635.0_f64.powi(3) / 12.0);
    assert!(corner.edge_far_mpa <= far + 1e-9);
    // In 8 mm stone the radius is above the thickness, and T9's estimate stands.
    let thin = carried(&Piece { openings: vec![sink(10.0)], ..top() }, &granite(8.0));
    printed(thin.openings[0].corner.as_ref().unwrap().flat_factor.unwrap(), 2.8377, 4);
    let sharp = carried(&Piece { openings: vec![sink(0.0)], ..top() }, &slab);
    let sharp = sharp.openings[0].corner.as_ref().unwrap();
    assert!(sharp.flat_mpa.is_none() && sharp.formula.contains("sharp"));
    // A round hole: 3 in tension, T5 in bending.
    let round = Opening::new(
        "bowl".to_owned(),
        OpeningKind::Cooktop,
        Shape::Ellipse { centre: pt(1200.0, 317.5), half_x: 200.0, half_y: 200.0 },
    );
    let c = carried(&Piece { openings: vec![round], ..top() }, &slab);
    let corner = c.openings[0].corner.as_ref().unwrap();
    printed(corner.edge_factor.unwrap(), 3.0, 9);
    printed(corner.flat_factor.unwrap(), 1.769_23, 5);
}

#[test]
fn t10_overhangs() {
    // Derived; the spread of a load is common practice.
    printed(formula::overhang_by_weight(2700.0, 254.0, 30.0), 0.17083, 5);
    printed(formula::overhang_by_load(1000.0, 254.0, 30.0), 2.7851, 4);
    printed(formula::overhang_by_load(1000.0, 152.4, 20.0), 5.6472, 4);
}

#[test]
fn t11_on_edge() {
    // Derived: M/(t D²/6).
    let c = carried(&top(), &granite(30.0));
    printed(stress(&c, State::Whole, Case::OnEdge), 0.18013, 5);
    let ratio = stress(&c, State::Whole, Case::FlatByEnds) / stress(&c, State::Whole, Case::OnEdge);
    printed(ratio, 21.0, 0);
}

#[test]
fn t12_rails_on_edge_as_a_frame() {
    // Derived, for the gross weight: shear and moment at 0.6 m from the middle.
    let w = 504.405e-3;
    let (shear, moment) = (w * 600.0, w * (2400.0_f64.powi(2) / 8.0 - 600.0_f64.powi(2) / 2.0));
    printed(shear, 302.643, 3);
    printed(moment / 1000.0, 272.379, 3);
    let rails = formula::rails_on_edge(shear, moment, 750.0, [65.0, 140.0], 635.0, 30.0);
    printed(rails.shear[0], 27.534, 3);
    printed(rails.shear[1], 275.110, 2);
    printed(rails.bending[0], 0.48876, 5);
    printed(rails.bending[1], 1.05271, 5);
    printed(rails.apart, 532.5, 9);
    printed(rails.chord, 511.51, 2);
    printed(rails.axial[0], 0.26231, 5);
}

#[test]
fn t12_on_a_real_piece() {
    // The same frame, with the weight that is left when the sink is out, and the rails' own weight: by hand.
    let c = carried(&with_sink(600.0), &granite(30.0));
    let w = formula::unit_weight(2700.0) * 30.0; // N/mm²
    let (gross, net) = (w * 635.0, w * 205.0);
    let weight = gross * 1650.0 + net * 750.0;
    let right = (gross * 225.0 * 112.5 + net * 750.0 * 600.0 + gross * 1425.0 * (975.0 + 712.5)) / 2400.0;
    let left = weight - right;
    let shear = left - gross * 225.0 - net * 375.0;
    let moment = left * 600.0 - gross * 225.0 * (600.0 - 112.5) - net * 375.0 * 187.5;
    // Fixed ends: each rail takes w c²/12 at its ends, and the pair of forces what is left of the mean.
    let own = net * 750.0 * 750.0 / 12.0;
    let pair = moment - own / 2.0;
    let rails = formula::rails_on_edge(shear, pair, 750.0, [65.0, 140.0], 635.0, 30.0);
    let share = 140.0_f64.powi(3) / (140.0_f64.powi(3) + 65.0_f64.powi(3));
    let back = rails.bending[1] + own * share / formula::modulus(30.0, 140.0) + rails.axial[1];
    let front = rails.bending[0] + own * (1.0 - share) / formula::modulus(30.0, 65.0) - rails.axial[0];
    let row = c.row(State::Cut, Case::OnEdge).unwrap();
    // The front rail is the narrower one and is up, so it is pressed and the back rail is pulled.
    assert_eq!(c.load.up.as_deref(), Some("front"));
    printed(row.stress_mpa, back.max(front), 6);
    printed(row.at, 225.0, 3);
}

#[test]
fn t13_a_push_on_a_rail() {
    // Derived: fixed ends, load in the middle, M = P c/8 (handbooks).
    for (rail, value, decimals) in [(50.0, 2.5, 4), (65.0, 1.923_08, 5), (90.0, 1.388_89, 5)] {
        let sink = make::opening("sink", OpeningKind::DropInSink, [1200.0, rail + 200.0], 750.0, 400.0, 0.0);
        let c = carried(&Piece { openings: vec![sink], ..top() }, &granite(30.0));
        let push = c.openings[0].push.as_ref().unwrap();
        assert_eq!((push.side.as_str(), push.push_n), ("front", 200.0));
        printed(push.width, rail, 9);
        printed(push.stress_mpa, value, decimals);
        printed(push.r#use, value * 3.0 / 8.27, 4);
    }
}

#[test]
fn a_tap_hole_in_a_rail_counts_by_its_width() {
    // Front rail 65; back rail 140 less a hole of 90: 50 of stone, and the narrower one.
    let with = |diameter: f64| {
        let mut piece = with_sink(1200.0);
        piece.openings.push(make::opening("tap", OpeningKind::TapHole, [1200.0, 560.0], diameter, diameter, 0.0));
        carried(&piece, &granite(30.0))
    };
    let push = |c: &Carried| c.openings[0].push.clone().unwrap();
    let (small, large) = (with(35.0), with(90.0));
    assert_eq!((push(&small).side.as_str(), push(&small).width), ("front", 65.0));
    assert_eq!(push(&large).side, "back");
    printed(push(&large).width, 50.0, 9);
    assert_eq!((small.load.up.as_deref(), large.load.up.as_deref()), (Some("front"), Some("back")));
    assert!(small.openings[1].push.is_none(), "a tap hole has no rail of its own");
}

#[test]
fn t14_a_rod_after_the_crack() {
    // Derived: M = A f_y 0.9 d; f_y of annealed stainless steel from memory.
    printed(formula::rod_after_crack(6.0, 205.0, 22.0), 114.77, 2);
    let rod = Rod {
        side: "front".to_owned(),
        from: [0.0, 0.0],
        to: [900.0, 0.0],
        diameter: 6.0,
        groove_width: 8.0,
        groove_depth: 11.0,
        groove_from: [0.0, 0.0],
        groove_to: [900.0, 0.0],
        stone_above: 19.0,
        resin_g: 0.0,
        hardener_g: 0.0,
        because: Vec::new(),
        past: [150.0, 150.0],
        material: String::new(),
    };
    let mut stone = Stone::of(&granite(30.0), &Handling::default());
    stone.strength = 10.34; // the modulus of rupture of ASTM C615 (published), as the worked check takes it
    let hold = carry::rod_hold(&rod, 60.0, 30.0, &stone, &Handling::default());
    printed(hold.rod_nm, 114.77, 2);
    printed(hold.stone_nm, 93.06, 2);
    assert!(hold.told().contains("93 N m") && hold.told().contains("115 N m") && hold.told().contains("adds nothing"));
}

#[test]
fn t15_a_test_of_the_trade() {
    // Published: a strip of 50.8 x 20 mm over about 1.27 m breaks at 20 to 30 lb in the middle; the stress is derived.
    let pound = 0.453_592_37 * formula::GRAVITY;
    let strip = |pounds: f64| formula::strip_with_load(2700.0, pounds * pound, 1270.0, 50.8, 20.0);
    printed(25.0 * pound, 111.206, 3);
    printed(strip(25.0), 12.027, 3);
    printed(strip(20.0), 9.94, 2);
    printed(strip(30.0), 14.11, 2);
    let least = StoneClass::Granite.strength().rupture.unwrap().value;
    assert!(strip(20.0) < least && least < strip(25.0), "the test of the trade agrees with ASTM C615");
}

#[test]
fn t16_people() {
    // Published: NIOSH 94-110; the factor of twisting from memory.
    let c = carried(&top(), &granite(30.0));
    printed(c.load.niosh_kg, 12.291, 3);
    assert_eq!((c.load.people, c.load.niosh_people), (6, Some(11)));
    let lift = |reach, height, twist| {
        formula::recommended_mass(&formula::Lift { reach, height, travel: 250.0, twist, frequency: 1.0, grip: 1.0 })
    };
    printed(lift(250.0, 750.0, 0.0), 23.0, 9);
    printed(lift(500.0, 750.0, 0.0), 11.5, 9);
    printed(lift(250.0, 1750.0, 0.0), 23.0 * 0.7, 9);
    printed(lift(250.0, 750.0, 90.0), 23.0 * 0.712, 9);
    assert_eq!(lift(640.0, 750.0, 0.0), 0.0);
    // A lift that the equation does not allow is told as such, and is no division by zero.
    let shop = Handling { reach: 700.0, ..Handling::default() };
    let c = carry::carry(&top(), &granite(30.0), &shop, &[], Shown::Mm);
    assert_eq!((c.load.niosh_people, c.load.niosh_index), (None, None));
    assert_eq!(formula::people(46.0, 23.0), Some(2));
    assert_eq!(formula::people(46.1, 23.0), Some(3));
    assert_eq!(formula::people(1.0, 23.0), Some(1));
}

#[test]
fn masses_of_a_square_metre() {
    // Derived: density times thickness (the sheet's table of densities).
    for (density, masses) in [
        (2400.0, [28.8, 48.0, 72.0]),
        (2600.0, [31.2, 52.0, 78.0]),
        (2700.0, [32.4, 54.0, 81.0]),
        (3000.0, [36.0, 60.0, 90.0]),
    ] {
        for (thickness, mass) in [12.0, 20.0, 30.0].into_iter().zip(masses) {
            let mut slab = granite(thickness);
            slab.tests = Some(Box::new(StoneTests { density: Some(density), ..StoneTests::default() }));
            printed(carried(&make::piece("tile", 1000.0, 1000.0), &slab).load.mass_kg, mass, 6);
        }
    }
}

#[test]
fn strengths_are_the_least_of_the_standards() {
    // MPa and psi: ASTM C615, C503, C568, C616, C629 (published), C1527, C1526 (from memory); ISO 13006 (published).
    use StoneClass as S;
    let psi = 6.894_757e-3;
    for (class, least, pounds, standing) in [
        (S::Granite, 8.27, 1200.0, Standing::Published),
        (S::Marble, 6.89, 1000.0, Standing::Published),
        (S::Limestone, 6.89, 1000.0, Standing::Published),
        (S::Sandstone, 2.41, 350.0, Standing::Published),
        (S::Quartzite, 13.79, 2000.0, Standing::Published),
        (S::Slate, 37.9, 5500.0, Standing::Published),
        (S::Travertine, 4.8, 700.0, Standing::Memory),
        (S::Serpentine, 6.9, 1000.0, Standing::Memory),
        (S::Porcelain, 35.0, 35.0 / psi, Standing::Published),
    ] {
        let known = class.strength().bending();
        assert_eq!((known.value, known.standing), (least, standing), "{class:?}");
        assert!((least / (pounds * psi) - 1.0).abs() < 0.006, "{class:?}: {least} MPa and {pounds} psi");
    }
    for (_, class) in S::NAMES {
        let s = class.strength();
        assert!(s.rupture.is_some() || s.flexural.is_some(), "{class:?}");
        assert!(s.least_density.is_none_or(|d| d.value <= s.density.value), "{class:?}: masses must not be too small");
        assert!(s.safety.value >= 3.0 && s.modulus[0].value < s.modulus[1].value, "{class:?}");
        for known in [s.density, s.bending(), s.safety, s.modulus[0]] {
            assert!(!known.source.is_empty() && known.value > 0.0, "{class:?}");
        }
    }
    // Factors of stone associations (published).
    assert_eq!([S::Granite, S::Marble, S::Limestone].map(|c| c.strength().safety.value), [3.0, 5.0, 8.0]);
}

#[test]
fn tests_of_a_slab_stand_in_place_of_its_class() {
    // EN 12372, from memory: exp(mean(ln x) - k sd(ln x)), k = 2.10 for ten specimens; the figure by hand.
    let values = vec![12.1, 13.4, 11.8, 12.9, 13.0, 12.2, 14.1, 11.5, 12.7, 13.3];
    let lower = TestedStrength::Values(values.clone());
    printed(lower.lower_expected(), 11.1023, 4);
    let even = TestedStrength::Values(vec![15.0; 5]);
    printed(even.lower_expected(), 15.0, 9);
    let summary = TestedStrength::Summary { mean: 14.0, deviation: 1.2, specimens: 10 };
    printed(summary.lower_expected(), 11.6549, 4);
    for (n, k) in [(5, 2.46), (6, 2.46), (7, 2.25), (12, 2.10), (15, 1.99), (29, 1.93), (30, 1.87), (500, 1.87)] {
        assert_eq!(TestedStrength::factor(n), k, "{n} specimens");
    }
    let mut slab = granite(30.0);
    slab.tests = Some(Box::new(StoneTests {
        density: Some(2950.0),
        strength: Some(lower),
        source: Some("laboratory report 88".to_owned()),
    }));
    let shop = Handling { safety: [(StoneClass::Granite, 4.0)].into(), knocks_by_hand: 1.7, ..Handling::default() };
    let c = carry::carry(&top(), &slab, &shop, &[], Shown::Mm);
    let row = c.row(State::Whole, Case::FlatByEnds).unwrap();
    printed(row.stress_mpa, 3.8128 * 2950.0 / 2700.0, 4);
    printed(row.strength_mpa, 11.1023, 4);
    assert_eq!((row.safety, row.knocks), (4.0, 1.7));
    printed(row.r#use, row.stress_mpa * 1.7 * 4.0 / row.strength_mpa, 9);
    let value = |what: &str| c.load.values.iter().find(|v| v.what == what).unwrap();
    assert_eq!(value("bending strength").standing, Standing::Tests);
    assert!(value("density").source.contains("laboratory report 88"));
    assert_eq!(value("factor of safety").standing, Standing::Shop);
    assert_eq!(value("knocks by hand").standing, Standing::Shop);
    assert_eq!(value("knocks by crane").standing, Standing::Practice);
}

#[test]
fn scored_it_weighs_all_and_bends_with_what_is_left() {
    let slab = granite(30.0);
    let c = carry::carry(&with_sink(1200.0), &slab, &Handling::default(), &[Some(10.0)], Shown::Mm);
    let moment = formula::unit_weight(2700.0) * 30.0 * 635.0 * 2400.0_f64.powi(2) / 8.0;
    // Flat: rails and floor of the score side by side, by stiffness.
    let stiff = 205.0 * 30.0_f64.powi(3) / 12.0 + 430.0 * 10.0_f64.powi(3) / 12.0;
    printed(stress(&c, State::Scored, Case::FlatByEnds), moment * 15.0 / stiff, 6);
    // On edge: one section, 30 mm thick in the rails and 10 mm between them; the back is down and pulled.
    let parts = [(65.0, 32.5, 30.0), (430.0, 280.0, 10.0), (140.0, 565.0, 30.0)];
    let area: f64 = parts.iter().map(|(h, _, t)| h * t).sum();
    let middle = parts.iter().map(|(h, y, t)| h * t * y).sum::<f64>() / area;
    let second: f64 = parts.iter().map(|(h, y, t)| t * h.powi(3) / 12.0 + h * t * (y - middle).powi(2)).sum();
    printed(stress(&c, State::Scored, Case::OnEdge), moment * (635.0 - middle) / second, 6);
    // Scored all across, the strip would be a third as thick: the ratio ((t-h)/t)² (derived).
    let across = make::opening("all", OpeningKind::Other, [1200.0, 317.5], 300.0, 635.0, 0.0);
    let c =
        carry::carry(&Piece { openings: vec![across], ..top() }, &slab, &Handling::default(), &[Some(10.0)], Shown::Mm);
    let ratio = stress(&c, State::Whole, Case::FlatByEnds) / stress(&c, State::Scored, Case::FlatByEnds);
    printed(ratio, 1.0 / 9.0, 9);
}

#[test]
fn on_the_frame_it_leans_and_stands() {
    let slab = granite(30.0);
    let shop = |angle| Handling { frame_angle: angle, ..Handling::default() };
    let at = |angle| {
        let c = carry::carry(&top(), &slab, &shop(angle), &[], Shown::Mm);
        c.row(State::Whole, Case::OnFrame).unwrap().stress_mpa
    };
    let c = carried(&top(), &slab);
    printed(at(0.0), stress(&c, State::Whole, Case::OnEdge), 9);
    // Both are largest in the middle.
    let (sin, cos) = 10.0_f64.to_radians().sin_cos();
    let both = stress(&c, State::Whole, Case::OnEdge) * cos + stress(&c, State::Whole, Case::FlatAtTwo) * sin;
    printed(stress(&c, State::Whole, Case::OnFrame), both, 6);
    assert!(at(20.0) > at(10.0));
    let road = c.row(State::Whole, Case::FlatOnRoad).unwrap();
    let crane = c.row(State::Whole, Case::FlatAtTwo).unwrap();
    printed(road.r#use / crane.r#use, 2.0 / 1.2, 9);
}

#[test]
fn a_tap_hole_weakens_its_section_and_makes_no_frame() {
    let tap = make::opening("tap", OpeningKind::TapHole, [1200.0, 580.0], 35.0, 35.0, 0.0);
    let c = carried(&Piece { openings: vec![tap], ..top() }, &granite(30.0));
    let w = formula::unit_weight(2700.0) * 30.0;
    let reaction = w * (635.0 * 2400.0 - 35.0 * 35.0) / 2.0;
    let moment = reaction * 1200.0 - w * 635.0 * 1200.0 * 600.0 + w * 35.0 * 17.5 * 8.75;
    printed(stress(&c, State::Cut, Case::FlatByEnds), moment / formula::modulus(600.0, 30.0), 6);
    let parts: [(f64, f64); 2] = [(562.5, 281.25), (37.5, 616.25)];
    let area: f64 = parts.iter().map(|(h, _)| h * 30.0).sum();
    let middle = parts.iter().map(|(h, y)| h * 30.0 * y).sum::<f64>() / area;
    let second: f64 = parts.iter().map(|(h, y)| 30.0 * (h.powi(3) / 12.0 + h * (y - middle).powi(2))).sum();
    assert_eq!(c.load.up, None, "no rail to be careful of");
    printed(stress(&c, State::Cut, Case::OnEdge), moment * (635.0 - middle) / second, 6);
    assert_eq!(c.openings[0].verdict, CarryVerdict::OnEdge);
}

#[test]
fn an_l_is_cut_through_both_legs() {
    // 2000 long with a leg 600 wide and 1500 deep at its left end; by slices of a millimetre.
    let l = [(0.0, 0.0), (2000.0, 0.0), (2000.0, 600.0), (600.0, 600.0), (600.0, 1500.0), (0.0, 1500.0)];
    let mut piece = make::polygon("corner", &l.map(|(x, y)| pt(x, y)));
    piece.openings.push(make::opening("sink", OpeningKind::Cooktop, [1300.0, 300.0], 600.0, 400.0, 0.0));
    let c = carried(&piece, &granite(20.0));
    let width = |x: f64| -> f64 {
        let depth = if x < 600.0 { 1500.0 } else { 600.0 };
        depth - if (1000.0..1600.0).contains(&x) { 400.0 } else { 0.0 }
    };
    let slices: Vec<(f64, f64)> = (0..2000).map(|i| (f64::from(i) + 0.5, width(f64::from(i) + 0.5))).collect();
    let w = formula::unit_weight(2700.0) * 20.0;
    let weight: f64 = slices.iter().map(|s| s.1 * w).sum();
    let right: f64 = slices.iter().map(|s| s.1 * w * s.0).sum::<f64>() / 2000.0;
    let worst = (0..=2000)
        .map(|i| {
            let x = f64::from(i);
            let before: f64 = slices.iter().filter(|s| s.0 < x).map(|s| s.1 * w * (x - s.0)).sum();
            let moment = (weight - right) * x - before;
            let narrow = width((x - 0.5).max(0.0)).min(width((x + 0.5).min(1999.5)));
            moment / formula::modulus(narrow, 20.0)
        })
        .fold(0.0, f64::max);
    let found = stress(&c, State::Cut, Case::FlatByEnds);
    assert!((found / worst - 1.0).abs() < 1e-4, "{found} for {worst}");
    printed(c.load.mass_cut_kg, weight / formula::GRAVITY, 6);
    assert!(c.cautions.iter().any(|t| t.contains("inside corner")));
}

#[test]
fn two_hands_at_the_best_points_are_no_worse_than_any_others() {
    // The net section of a cut piece wants them elsewhere than the even strip does: against a plain grid of hands.
    let piece = with_sink(800.0);
    let c = carried(&piece, &granite(30.0));
    let row = c.row(State::Cut, Case::FlatAtTwo).unwrap();
    let w = formula::unit_weight(2700.0) * 30.0;
    let width = |x: f64| if (425.0..1175.0).contains(&x) { 205.0 } else { 635.0 };
    let xs: Vec<f64> = (0..1200).map(|i| f64::from(i) * 2.0 + 1.0).collect();
    let loads: Vec<f64> = xs.iter().map(|&x| w * width(x) * 2.0).collect();
    let weight: f64 = loads.iter().sum();
    let middle = xs.iter().zip(&loads).map(|(x, l)| x * l).sum::<f64>() / weight;
    let worst = |a: f64, b: f64| {
        let at_b = weight * (middle - a) / (b - a);
        let (mut shear, mut moment, mut worst, mut last) = (0.0_f64, 0.0_f64, 0.0_f64, 0.0);
        for (&x, &load) in xs.iter().zip(&loads) {
            moment -= shear * (x - last);
            let hands = (weight - at_b) * (x - a).max(0.0) + at_b * (x - b).max(0.0);
            worst = worst.max((moment + hands).abs() / formula::modulus(width(x), 30.0));
            shear += load;
            last = x;
        }
        worst
    };
    let mut best = f64::INFINITY;
    for i in 0..60 {
        for j in 0..60 {
            best = best.min(worst(f64::from(i) * 20.0 + 1.0, 2399.0 - f64::from(j) * 20.0));
        }
    }
    assert!(row.stress_mpa <= best * 1.002, "{} at {:?}, but {best} by the grid", row.stress_mpa, row.held_at);
    let [a, b] = row.held_at.unwrap();
    assert!((worst(a, b) / row.stress_mpa - 1.0).abs() < 0.01);
}

#[test]
fn verdicts() {
    // A short piece with a small opening may even lie flat.
    let mut short = make::piece("sill", 700.0, 500.0);
    short.openings.push(make::opening("basin", OpeningKind::DropInSink, [350.0, 250.0], 200.0, 200.0, 20.0));
    let c = carried(&short, &granite(30.0));
    assert_eq!(c.openings[0].verdict, CarryVerdict::Cut);
    assert!(c.openings[0].because.iter().any(|t| t.contains("Flat by its ends, cut")));

    // Slim long rails near an end: they break on edge, and hold while the drop is in.
    let mut long = make::piece("bar", 3000.0, 635.0);
    long.openings.push(make::opening("hob", OpeningKind::Cooktop, [700.0, 317.5], 1100.0, 505.0, 20.0));
    long.openings.push(make::opening("tap", OpeningKind::TapHole, [2500.0, 560.0], 35.0, 35.0, 0.0));
    let shop = Handling::default();
    let scores = [Some(10.0), Some(10.0)];
    let c = carry::carry(&long, &granite(30.0), &shop, &scores, Shown::Mm);
    assert!(c.row(State::Cut, Case::OnEdge).unwrap().r#use > 1.0);
    assert!(c.row(State::Scored, Case::OnEdge).unwrap().r#use < 1.0);
    assert_eq!(c.openings[0].verdict, CarryVerdict::Score);
    assert_eq!(c.openings[1].verdict, CarryVerdict::OnEdge);
    let told = c.openings[0].cautions.join(" ");
    for word in ["silica", "water", "polished", "no engineering"] {
        assert!(told.contains(word), "{word}: {told}");
    }
    // Without a score, or where the trade knows none, it stops.
    assert_eq!(carried(&long, &granite(30.0)).openings[0].verdict, CarryVerdict::Stop);
    let mut undermount = long.clone();
    undermount.openings[0].kind = OpeningKind::UndermountSink;
    let c = carry::carry(&undermount, &granite(30.0), &shop, &scores, Shown::Mm);
    assert_eq!(c.openings[0].verdict, CarryVerdict::Stop);
    assert!(c.openings[0].because.iter().any(|t| t.contains("polished")));
    assert!(c.handling.iter().all(|r| r.state != State::Scored));
    for class in [StoneClass::Porcelain, StoneClass::EngineeredQuartz] {
        assert!(carry::not_scored(OpeningKind::Cooktop, class).is_some());
        let c = carry::carry(&long, &stone(class, 12.0), &shop, &scores, Shown::Mm);
        assert!(c.handling.iter().all(|r| r.state != State::Scored), "{class:?}");
    }

    // Of two openings only the one that must be scored is scored.
    let mut two = long.clone();
    two.openings[1] = make::opening("basin", OpeningKind::DropInSink, [2000.0, 317.5], 200.0, 200.0, 20.0);
    let c = carry::carry(&two, &granite(30.0), &shop, &scores, Shown::Mm);
    assert_eq!((c.openings[0].verdict, c.openings[1].verdict), (CarryVerdict::Score, CarryVerdict::OnEdge));

    // A stone too weak for its own length.
    let c = carried(&make::piece("plank", 3000.0, 60.0), &stone(StoneClass::Sandstone, 20.0));
    assert!(c.row(State::Whole, Case::OnEdge).unwrap().r#use > 1.0);
}

#[test]
fn odd_pieces_are_told_and_break_nothing() {
    for thickness in [5.0, 200.0] {
        let c = carried(&with_sink(1200.0), &granite(thickness));
        let told = c.openings[0].cautions.join(" ");
        assert!(told.contains(&format!("{thickness} mm thick")) && told.contains("10 to 60 mm"), "{told}");
        finite(&c);
    }
    // An opening that reaches both sides parts the piece; one that reaches one side leaves one rail.
    let across = make::opening("slot", OpeningKind::Other, [1200.0, 317.5], 300.0, 635.0, 0.0);
    let c = carried(&Piece { openings: vec![across], ..top() }, &granite(30.0));
    assert_eq!(c.openings[0].verdict, CarryVerdict::Stop);
    assert!(c.openings[0].because.iter().any(|t| t.contains("two parts")));
    finite(&c);
    let notch = make::opening("notch", OpeningKind::Other, [1200.0, 200.0], 300.0, 400.0, 0.0);
    let c = carried(&Piece { openings: vec![notch], ..top() }, &granite(30.0));
    assert!(c.row(State::Cut, Case::OnEdge).is_some());
    assert!(c.openings[0].push.is_none() && c.openings[0].cautions.iter().any(|t| t.contains("no rail on one side")));
    finite(&c);
    // A round top ends in points.
    let disc =
        Outline::new(Shape::Ellipse { centre: pt(450.0, 450.0), half_x: 450.0, half_y: 450.0 }, vec![Finish::Raw]);
    let c = carried(&Piece { outline: disc, ..top() }, &granite(20.0));
    finite(&c);
    assert!(stress(&c, State::Whole, Case::FlatByEnds) > 0.0);
    // A class that was not given.
    let c = carried(&top(), &Slab { stone_given: false, ..granite(30.0) });
    assert!(c.cautions.iter().any(|t| t.contains("not given")));
}

/// No number that JSON can't hold.
fn finite(c: &Carried) {
    fn walk(v: &serde_json::Value, at: &str) {
        match v {
            serde_json::Value::Null => panic!("no number at {at}"),
            serde_json::Value::Array(list) => list.iter().for_each(|v| walk(v, at)),
            serde_json::Value::Object(map) => map.iter().for_each(|(k, v)| walk(v, &format!("{at}.{k}"))),
            _ => {}
        }
    }
    // What is absent is left out, so a null is a number that is none.
    walk(&serde_json::to_value(&c.load).unwrap(), "load");
    walk(&serde_json::to_value(&c.handling).unwrap(), "handling");
    walk(&serde_json::to_value(&c.openings).unwrap(), "openings");
}

/// A piece with up to three openings, anywhere in it, also over one another.
fn any_piece() -> impl Strategy<Value = Piece> {
    let opening = (0.05..0.95, 0.05..0.95, 0.01..0.9, 0.01..0.9, 0.0..0.5, 0..4);
    let kinds = [OpeningKind::TapHole, OpeningKind::Cooktop, OpeningKind::UndermountSink, OpeningKind::DropInSink];
    (200.0..3200.0, 60.0..1800.0, prop::collection::vec(opening, 0..4), 0.0..0.9, 0..3).prop_map(
        move |(length, depth, openings, notch, form): (f64, f64, Vec<_>, f64, i32)| {
            let mut piece = match form {
                0 => make::piece("p", length, depth),
                1 => {
                    let (x, y) = (length * notch, depth * (1.0 - notch));
                    let l = [(0.0, 0.0), (length, 0.0), (length, y), (x, y), (x, depth), (0.0, depth)];
                    let l: Vec<Point> = l.iter().map(|&(x, y)| pt(x, y)).collect();
                    if notch > 0.01 { make::polygon("p", &l) } else { make::piece("p", length, depth) }
                }
                _ => {
                    let shape = Shape::Ellipse {
                        centre: pt(length / 2.0, depth / 2.0),
                        half_x: length / 2.0,
                        half_y: depth / 2.0,
                    };
                    Piece { outline: Outline::new(shape, vec![Finish::Raw]), ..make::piece("p", length, depth) }
                }
            };
            for (i, (x, y, w, h, r, kind)) in openings.into_iter().enumerate() {
                let [w, h]: [f64; 2] = [f64::max(length * w, 2.0), f64::max(depth * h, 2.0)];
                let r: f64 = r;
                let centre = [length * x, depth * y];
                let o = make::opening(&format!("o{i}"), kinds[kind as usize], centre, w, h, r * w.min(h) * 0.99);
                piece.openings.push(o);
            }
            piece
        },
    )
}

/// The piece turned end for end, or a quarter turn; by points, so that the shape stays what it is.
fn moved(piece: &Piece, f: impl Fn(Point) -> Point) -> Piece {
    let shape = |s: &Shape| -> Shape {
        let Shape::Polygon(corners) = s else { panic!("polygons only") };
        Shape::Polygon(corners.iter().map(|c| Corner { at: f(c.at), radius: c.radius }).collect())
    };
    let outline = shape(&piece.outline.shape);
    let openings = piece.openings.iter().map(|o| Opening::new(o.name.clone(), o.kind, shape(&o.shape))).collect();
    Piece { outline: Outline::new(outline, piece.outline.finishes.clone()), openings, ..piece.clone() }
}

/// How much stresses may differ: where hands are sought, as much as that search is off.
fn alike(case: &str) -> f64 {
    if case == Case::OnEdge.name() || case == Case::FlatByEnds.name() { 1e-6 } else { 1e-3 }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_piece_is_too_odd(piece in any_piece(), thickness in 3.0..250.0f64, class in 0..12usize, left in prop::option::of(1.0..20.0f64)) {
        let slab = stone(StoneClass::NAMES[class].1, thickness);
        let scores = vec![left; piece.openings.len()];
        let c = carry::carry(&piece, &slab, &Handling::default(), &scores, Shown::Mm);
        finite(&c);
        prop_assert_eq!(c.openings.len(), piece.openings.len());
        for row in &c.handling {
            prop_assert!(row.stress_mpa >= 0.0 && row.r#use >= row.stress_mpa / row.strength_mpa);
        }
    }

    #[test]
    fn turned_round_it_is_the_same(x in 400.0..2000.0f64, front in 30.0..200.0f64, back in 30.0..200.0f64, length in 150.0..700.0f64) {
        let depth = 635.0 - front - back;
        let sink = make::opening("sink", OpeningKind::Cooktop, [x, front + depth / 2.0], length, depth, 15.0);
        let piece = Piece { openings: vec![sink], ..top() };
        let slab = granite(30.0);
        let scores = [Some(10.0)];
        let shop = Handling::default();
        let plain = carry::carry(&piece, &slab, &shop, &scores, Shown::Mm);
        let half = carry::carry(&moved(&piece, |p| pt(2400.0 - p.x, 635.0 - p.y)), &slab, &shop, &scores, Shown::Mm);
        let quarter = carry::carry(&moved(&piece, |p| pt(635.0 - p.y, p.x)), &slab, &shop, &scores, Shown::Mm);
        prop_assert_eq!(&quarter.load.along, "depth");
        for ((a, b), q) in plain.handling.iter().zip(&half.handling).zip(&quarter.handling) {
            let near = alike(&a.case);
            prop_assert!((a.stress_mpa / b.stress_mpa - 1.0).abs() < near, "{a:?} {b:?}");
            prop_assert!((a.stress_mpa / q.stress_mpa - 1.0).abs() < near, "{a:?} {q:?}");
        }
        let side = |c: &Carried| c.load.up.clone().unwrap();
        let sides = (side(&plain), side(&half), side(&quarter));
        let wanted = if front < back { ("front", "back", "right") } else { ("back", "front", "left") };
        prop_assert_eq!((sides.0.as_str(), sides.1.as_str(), sides.2.as_str()), wanted);
        prop_assert_eq!(plain.openings[0].verdict, half.openings[0].verdict);
    }

    #[test]
    fn all_lengths_larger_by_a_factor_all_stresses_too(x in 500.0..1900.0f64, factor in 0.3..3.0f64) {
        let piece = with_sink(x);
        let large = moved(&piece, |p| p * factor);
        let (a, b) = (carried(&piece, &granite(30.0)), carried(&large, &granite(30.0 * factor)));
        prop_assert!((b.load.mass_kg / a.load.mass_kg / factor.powi(3) - 1.0).abs() < 1e-9);
        for (r, s) in a.handling.iter().zip(&b.handling) {
            prop_assert!((s.stress_mpa / r.stress_mpa / factor - 1.0).abs() < alike(&r.case), "{r:?} {s:?}");
        }
    }

    /// Deeper across the piece, an opening leaves less stone for nearly the same load. (Longer along it, the load falls faster than the
    /// section, so that the stress flat may fall.)
    #[test]
    fn stress_never_falls_when_rails_get_narrower(depth in 100.0..400.0f64, more in 1.0..150.0f64, length in 200.0..1200.0f64) {
        let with = |depth: f64| {
            let sink = make::opening("sink", OpeningKind::Cooktop, [1200.0, 317.5], length, depth, 0.0);
            carried(&Piece { openings: vec![sink], ..top() }, &granite(30.0))
        };
        let (a, b) = (with(depth), with(depth + more));
        let at = |c: &Carried| c.row(State::Cut, Case::FlatByEnds).unwrap().at;
        prop_assume!((at(&a) - 1200.0).abs() <= length / 2.0);
        let of = |c: &Carried, case| c.row(State::Cut, case).unwrap().stress_mpa;
        prop_assert!(of(&b, Case::FlatByEnds) > of(&a, Case::FlatByEnds));
        prop_assert!(b.openings[0].push.as_ref().unwrap().stress_mpa > a.openings[0].push.as_ref().unwrap().stress_mpa);
    }
}
