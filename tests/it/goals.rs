//! Goals that conflict, plans beside the best, and going on from an earlier plan.

use scantling::check;
use scantling::model::{Finding, FlawKind, Goal, Grade, GrainWish, Piece, Placed, Plan, Question, Slab};
use scantling::search::{Answer, Settings, Unwatched, solve};

use crate::make;

fn broken(q: &Question, plan: &Plan) -> Vec<Finding> {
    check::judge(q, plan).into_iter().filter(|f| f.grade == Grade::Broken).collect()
}

/// Solves, and lets the judge look at everything that comes back.
#[track_caller]
fn answer(q: &Question, settings: &Settings) -> Answer {
    let answer = solve(q, settings, &Unwatched);
    for plan in std::iter::once(&answer.plan).chain(&answer.alternatives) {
        assert_eq!(broken(q, plan), [], "{plan:?}");
        assert_eq!(plan.goal, settings.goal);
    }
    answer
}

fn with_goal(goal: Goal, rounds: u64) -> Settings {
    Settings { seed: 1, rounds: Some(rounds), goal, ..Settings::default() }
}

fn slabs(plan: &Plan) -> Vec<&str> {
    plan.layouts.iter().map(|l| l.slab.as_str()).collect()
}

/// A piece whose grain runs along it: on a slab with grain it may only be turned end for end.
fn grained(name: &str, length: f64, depth: f64) -> Piece {
    Piece { grain: GrainWish::Towards(0.0), ..make::piece(name, length, depth) }
}

fn grained_slab(name: &str, length: f64, depth: f64, price: f64) -> Slab {
    Slab { grain: Some(0.0), ..make::slab(name, length, depth, price) }
}

fn pit(slab: &mut Slab, x: f64, y: f64) {
    slab.flaws.push(make::line_flaw(FlawKind::Pit, [x, y], [x + 1.0, y], 8.0));
}

/// One top. The cheapest slab leaves nothing worth keeping and has a pit; a larger one leaves more than it costs more; a third
/// has no flaw. All have a grain, along which the top lies.
fn three_ways() -> Question {
    let mut cheap = make::slab("cheap", 2000.0, 1000.0, 300.0);
    pit(&mut cheap, 1000.0, 740.0);
    let mut large = make::slab("large", 3000.0, 1500.0, 340.0);
    pit(&mut large, 1600.0, 750.0);
    let sound = make::slab("sound", 2000.0, 1000.0, 400.0);
    let top = Piece { grain: GrainWish::Towards(0.0), ..make::piece("top", 1500.0, 600.0) };
    let rack = [cheap, large, sound].map(|s| Slab { grain: Some(0.0), ..s });
    make::question(vec![top], rack.to_vec())
}

#[test]
fn each_goal_takes_another_slab() {
    let q = three_ways();
    let plan = answer(&q, &with_goal(Goal::Cost, 4)).plan;
    assert_eq!((slabs(&plan), plan.cost, plan.proven), (vec!["cheap"], 300.0, true));
    // The pit is 740 - 4 above the rim's 20 + 600 at best, less the gap of 10.
    assert!((plan.flaw_margin.unwrap() - 106.0).abs() < 1.0, "{:?}", plan.flaw_margin);

    let plan = answer(&q, &with_goal(Goal::Offcut, 6)).plan;
    assert_eq!((slabs(&plan), plan.cost), (vec!["large"], 340.0));
    // At least the strip over the pit: 2960 by 1480 - 764.
    let least = 2960.0 * 716.0 * 340.0 / 4.5e6 * 0.5;
    assert!(plan.offcut_worth.unwrap() > least - 1.0, "{:?}, {least}", plan.offcut_worth);
    assert!(!plan.proven && plan.cost_bound == 300.0);

    let plan = answer(&q, &with_goal(Goal::Margin, 8)).plan;
    assert_eq!((slabs(&plan), plan.cost, plan.flaw_margin), (vec!["sound"], 400.0, None));
}

/// Both tops on the slab with the pit leave it 6 mm; one of them elsewhere leaves it 126 mm and costs 100 more.
#[test]
fn the_margin_may_cost_a_slab() {
    let mut flawed = make::slab("flawed", 2000.0, 1000.0, 300.0);
    pit(&mut flawed, 1000.0, 560.0);
    let small = make::slab("small", 2000.0, 440.0, 100.0);
    let tops = vec![make::piece("a", 1900.0, 400.0), make::piece("b", 1900.0, 400.0)];
    let q = make::question(tops, vec![flawed, small]);
    let plan = answer(&q, &with_goal(Goal::Cost, 6)).plan;
    assert_eq!(plan.cost, 300.0);
    assert!((plan.flaw_margin.unwrap() - 6.0).abs() < 0.1, "{:?}", plan.flaw_margin);
    let plan = answer(&q, &with_goal(Goal::Margin, 12)).plan;
    assert_eq!(plan.cost, 400.0);
    assert!((plan.flaw_margin.unwrap() - 126.0).abs() < 0.5, "{:?}", plan.flaw_margin);
}

/// With the margin first, the cost is still looked after: of two slabs without flaws the cheaper one.
#[test]
fn the_margin_costs_no_more_than_it_must() {
    let mut q = three_ways();
    let sound = |name, price| Slab { grain: Some(0.0), ..make::slab(name, 2000.0, 1000.0, price) };
    q.rack.push(sound("sound too", 390.0));
    q.rack.insert(0, sound("sound and dear", 500.0));
    let plan = answer(&q, &with_goal(Goal::Margin, 12)).plan;
    assert_eq!((slabs(&plan), plan.flaw_margin), (vec!["sound too"], None));
}

#[test]
fn alternatives_are_on_other_slabs_and_equal_slabs_count_once() {
    let sizes = [("a", 300.0), ("b", 320.0), ("b again", 320.0), ("c", 350.0), ("d", 360.0)];
    let rack = sizes.map(|(name, price)| make::slab(name, 2000.0, 1000.0, price)).to_vec();
    let q = make::question(vec![make::piece("top", 1500.0, 600.0)], rack);
    let settings = |alternatives| Settings { alternatives, ..with_goal(Goal::Cost, 12) };
    let all = answer(&q, &settings(9));
    assert_eq!(slabs(&all.plan), ["a"]);
    let costs: Vec<f64> = all.alternatives.iter().map(|p| p.cost).collect();
    assert_eq!(costs, [320.0, 350.0, 360.0]);
    let two = answer(&q, &settings(2));
    let costs: Vec<f64> = two.alternatives.iter().map(|p| p.cost).collect();
    assert_eq!(costs, [320.0, 350.0]);
    assert!(answer(&q, &settings(0)).alternatives.is_empty());
}

/// On one slab: the plan that leaves most keeps 6 mm from the pit, another leaves less and keeps far from it.
#[test]
fn an_alternative_may_be_a_wider_margin_on_the_same_slab() {
    let mut slab = make::slab("only", 3000.0, 1500.0, 340.0);
    pit(&mut slab, 1500.0, 640.0);
    let q = make::question(vec![make::piece("top", 1500.0, 600.0)], vec![slab]);
    let found = answer(&q, &Settings { alternatives: 3, ..with_goal(Goal::Cost, 10) });
    let (best, others) = (&found.plan, &found.alternatives);
    let best_margin = best.flaw_margin.unwrap();
    assert!(best_margin < 20.0, "{best_margin}");
    assert!(!others.is_empty());
    for (i, plan) in others.iter().enumerate() {
        assert_eq!(plan.cost, best.cost);
        let clearly = |a: &Plan, b: &Plan| {
            a.flaw_margin.unwrap_or(200.0).min(200.0) >= b.flaw_margin.unwrap_or(200.0).min(200.0) + 5.0
                || a.offcut_worth >= b.offcut_worth.map(|w| 1.05 * w)
                || a.layouts[0].offcuts.len() > b.layouts[0].offcuts.len()
        };
        assert!(clearly(plan, best));
        assert!(others[..i].iter().all(|earlier| clearly(plan, earlier)));
    }
    assert!(others.iter().any(|p| p.flaw_margin.unwrap() > best_margin + 100.0));
}

fn place<'p>(plan: &'p Plan, piece: &str) -> (&'p str, &'p Placed) {
    let all = plan.layouts.iter().flat_map(|l| l.placed.iter().map(move |p| (l.slab.as_str(), p)));
    all.into_iter().find(|(_, p)| p.piece == piece).unwrap_or_else(|| panic!("{piece} has a place"))
}

/// Slab, turn and shift of a piece, to the last digit.
fn pose(plan: &Plan, piece: &str) -> (String, u64, [u64; 2]) {
    let (slab, p) = place(plan, piece);
    (slab.to_owned(), p.turn.to_bits(), p.shift.map(f64::to_bits))
}

fn put(plan: &mut Plan, piece: &str, shift: [f64; 2], pinned: bool) {
    let placed = plan.layouts.iter_mut().flat_map(|l| &mut l.placed).find(|p| p.piece == piece).unwrap();
    (placed.turn, placed.shift, placed.pinned) = (0.0, shift, pinned);
    placed.outline.clear();
    placed.openings.clear();
}

fn row() -> Question {
    let names = ["shelf #1", "shelf #2", "shelf #3", "desk"];
    let pieces = names.map(|n| grained(n, if n == "desk" { 1600.0 } else { 900.0 }, 600.0)).to_vec();
    let rack = vec![
        grained_slab("first", 3000.0, 1500.0, 400.0),
        grained_slab("second", 3000.0, 1500.0, 410.0),
        grained_slab("third", 2000.0, 900.0, 200.0),
    ];
    make::question(pieces, rack)
}

#[test]
fn what_is_pinned_stays_to_the_last_digit() {
    let q = row();
    let mut plan = answer(&q, &with_goal(Goal::Cost, 3)).plan;
    assert_eq!(slabs(&plan), ["first"]);
    let shift = [1_023.456_789_012_345_6, 417.333_333_333_333_3];
    put(&mut plan, "shelf #2", shift, true);
    for goal in [Goal::Cost, Goal::Offcut, Goal::Margin] {
        let settings = Settings { from: Some(plan.clone()), seed: 5, ..with_goal(goal, 6) };
        let next = answer(&q, &settings).plan;
        let (slab, placed) = place(&next, "shelf #2");
        assert_eq!((slab, placed.turn, placed.shift, placed.pinned), ("first", 0.0, shift, true));
        assert_eq!(next.layouts.iter().map(|l| l.placed.len()).sum::<usize>(), 4);
        assert!(next.layouts.iter().flat_map(|l| &l.placed).all(|p| p.pinned == (p.piece == "shelf #2")));
    }
}

/// Whoever pins a piece on a dear slab pays for it, and the bound knows it.
#[test]
fn the_slab_of_a_pinned_piece_is_paid_for() {
    let q = row();
    let mut plan = answer(&q, &with_goal(Goal::Cost, 3)).plan;
    let mut moved = plan.layouts[0].clone();
    moved.slab = "second".to_owned();
    moved.placed.retain(|p| p.piece == "shelf #3");
    plan.layouts[0].placed.retain(|p| p.piece != "shelf #3");
    plan.layouts.push(moved);
    put(&mut plan, "shelf #3", [700.0, 500.0], true);
    let settings = Settings { from: Some(plan), alternatives: 2, ..with_goal(Goal::Cost, 10) };
    let found = answer(&q, &settings);
    // The pinned piece in the middle leaves too little beside it for the desk and two shelves, unless one more slab is cut.
    assert!(found.plan.cost_bound >= 410.0, "{}", found.plan.cost_bound);
    for plan in std::iter::once(&found.plan).chain(&found.alternatives) {
        let (slab, placed) = place(plan, "shelf #3");
        assert_eq!((slab, placed.shift, placed.pinned), ("second", [700.0, 500.0], true));
        assert!(plan.cost >= plan.cost_bound - 0.005);
    }
}

#[test]
fn a_changed_piece_moves_nothing_else_where_there_is_room() {
    let mut q = row();
    let plan = answer(&q, &with_goal(Goal::Cost, 3)).plan;
    q.jobs[0].pieces[1] = grained("shelf #2", 910.0, 610.0);
    let next = answer(&q, &Settings { from: Some(plan.clone()), seed: 3, ..with_goal(Goal::Cost, 6) }).plan;
    assert_eq!(next.cost, plan.cost);
    for name in ["shelf #1", "shelf #3", "desk"] {
        assert_eq!(pose(&next, name), pose(&plan, name), "{name}");
    }
}

/// Rows of 490 on a slab of 1000 within the trim. The top row has a short piece in its middle, which must make room when
/// the long one grows; the bottom row need not know.
#[test]
fn a_changed_piece_moves_only_what_is_in_its_way() {
    let pieces = |long: f64| {
        let all = [("a", 1990.0), ("b", 1990.0), ("short", 900.0), ("long", long)];
        all.map(|(n, length)| grained(n, length, 490.0)).to_vec()
    };
    let rack = vec![grained_slab("s", 4040.0, 1040.0, 500.0), grained_slab("t", 4040.0, 1040.0, 500.0)];
    let mut q = make::question(pieces(1500.0), rack);
    let mut plan = answer(&q, &with_goal(Goal::Cost, 3)).plan;
    assert_eq!(plan.layouts.len(), 1);
    for (name, x, y) in [("a", 20.0, 20.0), ("b", 2020.0, 20.0), ("short", 1020.0, 526.0), ("long", 2020.0, 526.0)] {
        put(&mut plan, name, [x, y], false);
    }
    assert_eq!(broken(&q, &plan).iter().filter(|f| f.piece.is_some()).count(), 0);
    q.jobs[0].pieces = pieces(2990.0);
    let next = answer(&q, &Settings { from: Some(plan.clone()), seed: 2, ..with_goal(Goal::Cost, 8) }).plan;
    assert_eq!(next.cost, 500.0);
    assert_eq!(pose(&next, "a"), pose(&plan, "a"));
    assert_eq!(pose(&next, "b"), pose(&plan, "b"));
    assert_ne!(pose(&next, "short"), pose(&plan, "short"));
}

/// A piece that was changed and is still fine where it was stays there, and so does everything else.
#[test]
fn a_changed_piece_that_still_fits_stays() {
    let mut q = row();
    let plan = answer(&q, &with_goal(Goal::Cost, 2)).plan;
    q.jobs[0].pieces[3] = grained("desk", 1590.0, 595.0);
    let next = answer(&q, &Settings { from: Some(plan.clone()), seed: 9, ..with_goal(Goal::Cost, 4) }).plan;
    for name in ["shelf #1", "shelf #2", "shelf #3", "desk"] {
        assert_eq!(pose(&next, name), pose(&plan, name), "{name}");
    }
}

fn flawed() -> Question {
    let mut q = row();
    pit(&mut q.rack[0], 1500.0, 700.0);
    pit(&mut q.rack[1], 300.0, 900.0);
    q.jobs[0].pieces.extend((0..3).map(|i| grained(&format!("sill {i}"), 700.0 + 130.0 * f64::from(i), 250.0)));
    q
}

#[test]
fn going_on_never_makes_a_plan_worse() {
    let q = flawed();
    for goal in [Goal::Cost, Goal::Offcut, Goal::Margin] {
        let mut plan = answer(&q, &with_goal(goal, 2)).plan;
        for seed in 0..4 {
            let settings = Settings { from: Some(plan.clone()), seed, ..with_goal(goal, 1) };
            let next = answer(&q, &settings).plan;
            let keys = |p: &Plan| {
                let (worth, margin) = (p.offcut_worth.unwrap(), p.flaw_margin.unwrap_or(200.0).min(200.0));
                match goal {
                    Goal::Cost => [p.cost, -worth, -margin],
                    Goal::Offcut => [p.cost - worth, p.cost, -margin],
                    Goal::Margin => [-margin, p.cost, -worth],
                }
            };
            // The first that differs by more than rounding decides: 0.1 mm of bodies and zones, 0.2 % of rectangles.
            let first = keys(&next).into_iter().zip(keys(&plan)).find(|(a, b)| (a - b).abs() > 0.1 + 0.002 * b.abs());
            assert!(first.is_none_or(|(a, b)| a < b), "{goal:?}, seed {seed}: {:?}, {:?}", keys(&next), keys(&plan));
            plan = next;
        }
    }
}

/// The start is complete, and the search is stopped before its first round: the plan comes back as it is.
#[test]
fn a_search_that_is_stopped_at_once_gives_the_start() {
    struct Stopped;
    impl scantling::search::Watch for Stopped {
        fn stop(&self) -> bool {
            true
        }
        fn tell(&self, _: &scantling::search::Progress) {}
    }
    let q = flawed();
    let plan = answer(&q, &with_goal(Goal::Cost, 2)).plan;
    let settings = Settings { from: Some(plan.clone()), seed: 4, ..with_goal(Goal::Cost, 5) };
    let same = solve(&q, &settings, &Stopped).plan;
    assert_eq!(same.layouts, plan.layouts);
    assert_eq!(same.effort, None);
}

#[test]
fn threads_change_nothing_with_any_of_the_options() {
    let mut q = flawed();
    let earlier = answer(&q, &with_goal(Goal::Cost, 1)).plan;
    let mut pinned = earlier.clone();
    pinned.layouts[0].placed[0].pinned = true;
    q.jobs[0].pieces[2] = grained("shelf #3", 930.0, 640.0);
    for (goal, from) in [(Goal::Offcut, None), (Goal::Margin, Some(earlier)), (Goal::Cost, Some(pinned))] {
        let settings = Settings { alternatives: 2, from, seed: 7, ..with_goal(goal, 3) };
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let answer = pool.install(|| solve(&q, &settings, &Unwatched));
            let text = |p: &Plan| serde_json::to_string(p).unwrap();
            (text(&answer.plan), answer.alternatives.iter().map(text).collect::<Vec<_>>())
        };
        let one = on(1);
        assert_eq!(one, on(2), "{goal:?}");
        assert_eq!(one, on(3), "{goal:?}");
    }
}
