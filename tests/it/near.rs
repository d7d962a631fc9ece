//! Flaws near openings, with answers known by reasoning.

use proptest::prelude::*;
use scantling::check;
use scantling::craft::near;
use scantling::geom::{Pose, Ring, pt};
use scantling::model::openings::NearFlaw;
use scantling::model::{
    Finish, Flaw, FlawBody, FlawKind, Hidden, Limits, OpeningKind, Outline, Piece, Rule, Shape, Slab, Zone, Zones,
};
use scantling::units::Shown;

use crate::{judge, make};

/// A top of 2000 x 600 mm, its front polished, a strip of 50 mm hidden at the back, a sink of 500 x 300 mm in the middle.
fn top() -> Piece {
    let finishes = vec![Finish::Finished("polished".to_owned()), Finish::Raw, Finish::Raw, Finish::Raw];
    Piece {
        outline: Outline::new(Shape::rectangle(2000.0, 600.0, 0.0), finishes),
        openings: vec![make::opening("sink", OpeningKind::UndermountSink, [1000.0, 300.0], 500.0, 300.0, 0.0)],
        hidden: Hidden { back: 50.0, ..Hidden::default() },
        ..make::piece("top", 2000.0, 600.0)
    }
}

fn slab(flaws: Vec<Flaw>) -> Slab {
    Slab { flaws, ..make::slab("s", 3000.0, 1800.0, 1.0) }
}

fn spot(kind: FlawKind, at: [f64; 2], radius: f64) -> Flaw {
    Flaw { kind, body: FlawBody::Spot(at.into()), radius, allow: kind.default_zones() }
}

fn told(flaws: Vec<Flaw>) -> Vec<NearFlaw> {
    near::near(&top(), &slab(flaws), &Limits::default(), &Pose::default(), Shown::Mm).remove(0)
}

fn one(flaw: Flaw) -> NearFlaw {
    told(vec![flaw]).remove(0)
}

#[track_caller]
fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 0.02, "{a} is not {b}");
}

#[test]
fn a_crack_in_the_drop_is_the_reason_for_the_place() {
    // The nearest stone is the rail behind the sink, 30 mm from the crack.
    let crack = make::line_flaw(FlawKind::Crack, [900.0, 420.0], [1100.0, 400.0], 0.0);
    let f = one(crack.clone());
    assert!(f.in_drop && f.zone == "rail" && f.number == 1 && !f.closed);
    close(f.spare, 30.0 - 10.0);
    close(f.distance, -50.0);
    assert!(
        f.note.contains("this is why the piece lies here") && f.note.contains("before the piece is moved"),
        "{}",
        f.note
    );
    let all = slab(vec![crack]);
    assert!(near::drop_must_come_out(&[f], &all));
    // A flaw that may be anywhere needs no such note.
    let free =
        Flaw { allow: Zones::of(&Zone::ALL), ..make::line_flaw(FlawKind::Stain, [900.0, 300.0], [950.0, 300.0], 0.0) };
    let f = one(free.clone());
    assert!(f.in_drop && f.note.contains("falls out with the drop") && !f.note.contains("why"), "{}", f.note);
    assert!(!near::drop_must_come_out(&[f], &slab(vec![free])));
    // Half in, half out.
    let f = one(make::line_flaw(FlawKind::Crack, [1000.0, 300.0], [1000.0, 520.0], 2.0));
    assert!(f.in_drop && f.spare < -10.0 && f.note.contains("into the stone"), "{f:?}");
}

#[test]
fn each_zone_is_met_where_it_lies() {
    // A fissure may be in the field. The sink's rail reaches 100 mm to the left of it, to x = 650.
    let f = one(make::line_flaw(FlawKind::Fissure, [400.0, 300.0], [600.0, 300.0], 0.0));
    assert_eq!((f.zone.as_str(), f.in_drop), ("rail", false));
    close(f.spare, 50.0 - 10.0);
    close(f.distance, 150.0);
    // Near the polished front it meets the edge zone of 25 mm first.
    let f = one(make::line_flaw(FlawKind::Fissure, [500.0, 45.0], [550.0, 45.0], 4.0));
    assert_eq!(f.zone, "edge");
    close(f.spare, 45.0 - 2.0 - 25.0 - 10.0);
    assert_eq!(f.width, 4.0);
    // A pit may be hidden only: in the strip at the back it meets the field below it.
    let f = one(spot(FlawKind::Pit, [600.0, 590.0], 4.0));
    assert_eq!((f.zone.as_str(), f.closed), ("field", true));
    close(f.spare, 590.0 - 4.0 - 550.0 - 10.0);
    // Off the piece it meets what is nearest.
    let f = one(spot(FlawKind::Pit, [1000.0, -30.0], 5.0));
    assert_eq!(f.zone, "edge");
    close(f.spare, 30.0 - 5.0 - 10.0);
    // A patch whose file forbids the hidden strip too.
    let patch = Flaw { allow: Zones::of(&[Zone::Field, Zone::Drop]), ..spot(FlawKind::Patch, [600.0, 500.0], 10.0) };
    let f = one(patch);
    assert_eq!(f.zone, "hidden");
    close(f.spare, 50.0 - 10.0 - 10.0);
    // Rail goes before edge: in front of the sink the edge zone is 50 mm from the rail's, within it.
    let f = one(make::line_flaw(FlawKind::Fissure, [1000.0, 60.0], [1010.0, 60.0], 0.0));
    assert_eq!(f.zone, "rail");
    close(f.spare, -10.0);
    assert!(f.note.contains("too near"), "{}", f.note);
    // It may lie anywhere: the plain distance to where it lies.
    let nowhere = Flaw { allow: Zones::of(&Zone::ALL), ..spot(FlawKind::Pit, [650.0, 300.0], 5.0) };
    let f = one(nowhere);
    close(f.spare, -5.0);
    assert!(f.note.contains("every zone"), "{}", f.note);
}

#[test]
fn the_nearest_comes_first_and_far_ones_are_left_out() {
    let flaws = vec![
        spot(FlawKind::Pit, [100.0, 100.0], 5.0),
        spot(FlawKind::Pit, [700.0, 300.0], 5.0),
        spot(FlawKind::Pit, [900.0, 300.0], 5.0),
    ];
    let numbers: Vec<usize> = told(flaws.clone()).iter().map(|f| f.number).collect();
    assert_eq!(numbers, [3, 2]);
    let far: Vec<usize> = told(flaws[..1].to_vec()).iter().map(|f| f.number).collect();
    assert_eq!(far, [1], "the nearest is told however far it is");
    assert!(told(Vec::new()).is_empty());
    let plain = Piece { openings: Vec::new(), ..top() };
    assert!(near::near(&plain, &slab(flaws), &Limits::default(), &Pose::default(), Shown::Mm).is_empty());
}

#[test]
fn the_place_on_the_slab_counts() {
    // The piece turned by a quarter: the sink's middle (1000, 300) comes to (-300, 1000) and is shifted by (900, 50).
    let pose = Pose::new(90.0, pt(900.0, 50.0));
    let at = pose.apply(pt(1000.0, 300.0));
    assert_eq!((at.x, at.y), (600.0, 1050.0));
    let area = Ring::tidy(&[pt(590.0, 1040.0), pt(610.0, 1040.0), pt(610.0, 1060.0), pt(590.0, 1060.0)]).unwrap().0;
    let stain =
        Flaw { kind: FlawKind::Stain, body: FlawBody::Area(area), radius: 0.0, allow: FlawKind::Stain.default_zones() };
    let f = near::near(&top(), &slab(vec![stain]), &Limits::default(), &pose, Shown::Mm).remove(0).remove(0);
    assert!(f.in_drop && f.closed && f.zone == "rail");
    close(f.spare, 140.0 - 10.0);
    let mut xs: Vec<f64> = f.line.iter().map(|p| p[0]).collect();
    xs.sort_by(f64::total_cmp);
    close(xs[0], 990.0);
    close(xs[3], 1010.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// The judge, which has zones of its own, finds a flaw in a zone exactly where the spare distance is below zero.
    #[test]
    fn the_judge_agrees(x in 350.0..1650.0f64, y in 0.0..600.0f64, dx in -60.0..60.0f64, dy in -60.0..60.0f64, width in 0.0..6.0f64, kind in 0..5usize) {
        let kind = FlawKind::NAMES[kind].1;
        let shift = pt(500.0, 600.0);
        let flaw = make::line_flaw(kind, [x + shift.x, y + shift.y], [x + dx + shift.x, y + dy + shift.y], width);
        prop_assume!(dx.abs() + dy.abs() > 1.0);
        let mut q = make::question(vec![top()], vec![slab(vec![flaw])]);
        q.shop.limits.flaw_gap = 10.0;
        let f = near::near(&q.jobs[0].pieces[0], &q.rack[0], &q.shop.limits, &Pose::new(0.0, shift), Shown::Mm).remove(0).remove(0);
        prop_assume!(f.spare.abs() > 0.02);
        let plan = judge::plan(&q, &[("s", "top", 0.0, shift.into())]);
        let broken = check::judge(&q, &plan).iter().any(|f| f.rule == Rule::FlawInZone);
        prop_assert_eq!(broken, f.spare < 0.0, "{:?}", f);
    }
}
