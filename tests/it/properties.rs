//! Random jobs on random racks: the judge faults no plan that the search returns.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use scantling::geom::curve::Corner;
use scantling::geom::{Point, Ring, pt};
use scantling::model::{
    Finish, Flaw, FlawBody, FlawKind, Goal, Grade, GrainWish, Hidden, OpeningKind, Outline, Piece, Plan, Question,
    Rule, Shape, Slab, Zone, Zones,
};
use scantling::search::{Settings, Unwatched, solve};

use crate::make;

/// How many cases to run; the environment may ask for more.
pub fn cases(default: u32) -> u32 {
    std::env::var("SCANTLING_CASES").ok().and_then(|s| s.parse().ok()).unwrap_or(default)
}

prop_compose! {
    fn any_shape()(
        kind in 0..5u8, length in 250.0..2600.0f64, depth in 120.0..900.0f64, r in prop_oneof![Just(0.0), 10.0..60.0f64],
        bite in (0.3..0.7f64, 0.3..0.7f64),
    ) -> Shape {
        match kind {
            0 | 1 => Shape::rectangle(length, depth, r.min(depth / 2.5)),
            2 => Shape::Ellipse { centre: pt(depth / 2.0, depth / 2.0), half_x: depth / 2.0, half_y: depth / 2.0 },
            _ => {
                // An L whose arms are at least 250 mm wide, the inside corner rounded.
                let (w, h) = (length.max(900.0), depth.max(700.0) * 1.8);
                let (x, y) = ((w * bite.0).max(300.0), (h * bite.1).max(300.0));
                let at = |x: f64, y: f64, radius: f64| Corner { at: pt(x, y), radius };
                Shape::Polygon(vec![at(0.0, 0.0, 0.0), at(w, 0.0, r), at(w, y, 0.0), at(x, y, r.max(10.0)), at(x, h, 0.0), at(0.0, h, 0.0)])
            }
        }
    }
}

prop_compose! {
    fn any_piece()(
        shape in any_shape(),
        finished in prop::collection::vec(any::<bool>(), 6),
        hole in prop::option::of((0.2..0.8f64, prop_oneof![Just(OpeningKind::UndermountSink), Just(OpeningKind::Cooktop), Just(OpeningKind::TapHole)])),
        grain in prop_oneof![Just(GrainWish::Any), Just(GrainWish::Towards(0.0)), Just(GrainWish::Towards(90.0)), (0.0..180.0f64).prop_map(GrainWish::Towards)],
        tolerance in prop_oneof![Just(0.0), 0.5..6.0f64],
        one_way in any::<bool>(),
        back in prop_oneof![Just(0.0), Just(20.0), Just(60.0)],
        count in 1..3usize,
    ) -> (Piece, usize) {
        let sides = match &shape { Shape::Polygon(c) => c.len(), Shape::Ellipse { .. } => 1 };
        let finishes = (0..sides).map(|i| if finished[i] { Finish::Finished("polished".to_owned()) } else { Finish::Raw }).collect();
        let rectangle = sides == 4;
        let outline = Outline::new(shape, finishes);
        let size = outline.shape.extent();
        let mut piece = Piece {
            outline, grain, grain_tolerance: tolerance, one_way,
            hidden: Hidden { back, ..Hidden::default() },
            ..make::piece("piece", 100.0, 100.0)
        };
        if let (true, Some((x, kind))) = (rectangle, hole) {
            // Rails of at least 75 mm, so that the piece by itself breaks no rule.
            let (w, d, r): (f64, f64, f64) = if kind == OpeningKind::TapHole { (35.0, 35.0, 17.5) } else { (500.0, size.height() - 160.0, 20.0) };
            let room = size.width() - 2.0 * 75.0 - w;
            if room > 0.0 && d >= 35.0 && size.height() > d + 150.0 {
                let centre = [75.0 + w / 2.0 + room * x, size.height() / 2.0];
                let r = if d < 45.0 { r.min(17.5) } else { r };
                piece.openings.push(make::opening("hole", kind, centre, w, d, r));
            }
        }
        (piece, count)
    }
}

prop_compose! {
    fn any_flaw()(
        kind in 0..5usize, at in (0.0..3000.0f64, 0.0..1800.0f64), to in (-400.0..400.0f64, -400.0..400.0f64),
        body in 0..3u8, width in prop_oneof![Just(0.0), 1.0..8.0f64],
        allow in prop::option::weighted(0.2, prop::collection::vec(0..5usize, 0..4)),
    ) -> Flaw {
        let kind = FlawKind::NAMES[kind].1;
        let p = pt(at.0, at.1);
        let body = match body {
            0 => FlawBody::Line(vec![p, p + pt(to.0, to.1), p + pt(to.0 * 1.3, to.1 * 2.0)]),
            1 => FlawBody::Spot(p),
            _ => {
                let s = 20.0 + to.0.abs() / 4.0;
                FlawBody::Area(Ring::tidy(&[p, p + pt(s, s / 3.0), p + pt(s / 2.0, s)]).unwrap().0)
            }
        };
        let radius = if matches!(body, FlawBody::Area(_)) { 0.0 } else { width / 2.0 };
        let allow = allow.map_or(kind.default_zones(), |z| Zones::of(&z.iter().map(|&i| Zone::ALL[i]).collect::<Vec<_>>()));
        Flaw { kind, body, radius, allow }
    }
}

prop_compose! {
    fn any_slab()(
        length in 900.0..3200.0f64, depth in 600.0..1900.0f64, price in 50.0..900.0f64,
        nudge in prop::collection::vec(-25.0..25.0f64, 8), rough in any::<bool>(),
        grain in prop_oneof![Just(None), Just(Some(0.0)), (-10.0..10.0f64).prop_map(Some), (0.0..360.0f64).prop_map(Some)],
        flaws in prop::collection::vec(any_flaw(), 0..4),
    ) -> Slab {
        let mut slab = make::slab("slab", length, depth, (price * 100.0).round() / 100.0);
        if rough {
            let p: Vec<Point> = slab.outline.points().iter().enumerate().map(|(i, &p)| p + pt(nudge[2 * i], nudge[2 * i + 1])).collect();
            slab.outline = Ring::tidy(&p).unwrap().0;
        }
        slab.grain = grain;
        slab.flaws = flaws;
        slab
    }
}

prop_compose! {
    /// A question of up to a dozen pieces on up to four slabs.
    pub fn any_question()(
        pieces in prop::collection::vec(any_piece(), 1..6), rack in prop::collection::vec(any_slab(), 1..4),
        gap in prop_oneof![Just(6.0), 4.0..12.0f64], trim in prop_oneof![Just(0.0), Just(20.0), 5.0..40.0f64], flaw_gap in 0.0..15.0f64,
        use_drops in prop::bool::weighted(0.2),
    ) -> Question {
        let mut all = Vec::new();
        for (kind, (piece, count)) in pieces.into_iter().enumerate() {
            for copy in 0..count {
                all.push(Piece { name: format!("piece {kind} #{copy}"), kind, ..piece.clone() });
            }
        }
        let rack = rack.into_iter().enumerate().map(|(i, s)| Slab { name: format!("slab {i}"), ..s }).collect();
        let mut q = make::question(all, rack);
        let limits = &mut q.shop.limits;
        (limits.gap, limits.trim, limits.flaw_gap, limits.use_drops) = (gap, trim, flaw_gap, use_drops);
        q
    }
}

#[test]
fn the_judge_faults_no_plan_of_the_search() {
    let config = Config { cases: cases(500), failure_persistence: None, max_shrink_iters: 200, ..Config::default() };
    let mut placed = 0;
    let mut missing = 0;
    let counts = std::cell::RefCell::new((&mut placed, &mut missing));
    TestRunner::new(config)
        .run(&(any_question(), any::<u64>()), |(q, seed)| {
            // One round lays everything; a second one, which improves, takes longer and need not be part of every case.
            let rounds = Some(if seed % 8 == 0 { 2 } else { 1 });
            let plan = solve(&q, &Settings { seed, rounds, ..Settings::default() }, &Unwatched).plan;
            let findings = scantling::check::judge(&q, &plan);
            let broken: Vec<_> =
                findings.iter().filter(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced).collect();
            prop_assert!(broken.is_empty(), "{broken:#?}");
            let mut c = counts.borrow_mut();
            *c.0 += plan.layouts.iter().map(|l| l.placed.len()).sum::<usize>();
            *c.1 += plan.unplaced.len();
            Ok(())
        })
        .unwrap();
    // The test would prove nothing if hardly anything were placed.
    assert!(placed > missing, "{placed} placed, {missing} without a place");
}

/// Whatever counts first, beside the best plan too, and going on from a plan of which some is pinned and a piece has changed.
#[test]
fn the_judge_faults_no_plan_that_goes_on_from_another() {
    let config = Config { cases: cases(60), failure_persistence: None, max_shrink_iters: 60, ..Config::default() };
    let pins = std::cell::Cell::new(0usize);
    TestRunner::new(config)
        .run(&(any_question(), any::<u64>()), |(mut q, seed)| {
            let goal = [Goal::Cost, Goal::Offcut, Goal::Margin][(seed % 3) as usize];
            let settings = |from| Settings { seed, rounds: Some(1), goal, alternatives: 2, from };
            let broken = |q: &Question, plan: &Plan| -> Vec<_> {
                let all = scantling::check::judge(q, plan);
                all.into_iter().filter(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced).collect()
            };
            let mut plan = solve(&q, &settings(None), &Unwatched).plan;
            prop_assert!(broken(&q, &plan).is_empty(), "{:#?}", broken(&q, &plan));
            let mut pinned: Vec<(String, f64, [f64; 2])> = Vec::new();
            for (k, p) in plan.layouts.iter_mut().flat_map(|l| &mut l.placed).enumerate() {
                p.pinned = (seed >> (8 + k % 50)) % 2 == 0;
                if p.pinned {
                    pinned.push((p.piece.clone(), p.turn, p.shift));
                }
            }
            pins.set(pins.get() + pinned.len());
            if let Some(p) = q.jobs[0].pieces.iter_mut().find(|p| !pinned.iter().any(|n| n.0 == p.name)) {
                let (w, d) = p.size();
                *p = make::piece(&p.name, w + 15.0, d + 3.0);
            }
            let answer = solve(&q, &settings(Some(plan)), &Unwatched);
            for plan in std::iter::once(&answer.plan).chain(&answer.alternatives) {
                prop_assert!(broken(&q, plan).is_empty(), "{:#?}", broken(&q, plan));
                let all: Vec<_> = plan.layouts.iter().flat_map(|l| &l.placed).filter(|p| p.pinned).collect();
                prop_assert_eq!(all.len(), pinned.len());
                for (name, turn, shift) in &pinned {
                    prop_assert!(
                        all.iter().any(|p| p.piece == *name && p.turn == *turn && p.shift == *shift),
                        "{name}"
                    );
                }
                prop_assert!(plan.cost >= plan.cost_bound - 0.005 || !plan.unplaced.is_empty());
            }
            Ok(())
        })
        .unwrap();
    assert!(pins.get() > 30, "{} pinned", pins.get());
}
