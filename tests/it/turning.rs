//! Turns between those that are listed: jobs that need one, with answers known by reasoning.

use scantling::check::judge;
use scantling::geom::{Point, pt};
use scantling::model::{FlawKind, Goal, GrainWish, Plan, Question, Slab};
use scantling::search::{Settings, Unwatched, solve};

use crate::make;

fn solved(q: &Question, rounds: u64) -> Plan {
    let plan = solve(q, &Settings { seed: 1, rounds: Some(rounds), ..Settings::default() }, &Unwatched).plan;
    let found: Vec<String> =
        judge(q, &plan).into_iter().filter(|f| f.rule.name() != "unplaced").map(|f| f.message).collect();
    assert_eq!(found, Vec::<String>::new());
    plan
}

/// The turn of the placement, degrees from -90 to 90.
fn turn(plan: &Plan, layout: usize, placed: usize) -> f64 {
    (plan.layouts[layout].placed[placed].turn + 90.0).rem_euclid(180.0) - 90.0
}

/// A slab with two cracks that run at `degrees` to its grain, `apart` mm between them.
fn corridor(degrees: f64, apart: f64) -> Slab {
    let mut slab = make::slab("crossed", 3000.0, 1800.0, 700.0);
    slab.grain = Some(0.0);
    let along = pt(degrees.to_radians().cos(), degrees.to_radians().sin());
    let middle = pt(1500.0, 900.0);
    for side in [-0.5, 0.5] {
        let through = middle + along.left() * (side * apart);
        let ends: [Point; 2] = [through - along * 1490.0, through + along * 1490.0];
        let [a, b] = ends.map(|p| [p.x, p.y]);
        slab.flaws.push(make::line_flaw(FlawKind::Crack, a, b, 0.0));
    }
    slab
}

/// A run along the grain, give or take some degrees.
fn run(name: &str, length: f64, depth: f64, tolerance: f64) -> scantling::model::Piece {
    let piece = make::piece(name, length, depth);
    scantling::model::Piece { grain: GrainWish::Towards(0.0), grain_tolerance: tolerance, ..piece }
}

/// A strip of 1240 by 80 has room in 1010 by 860 only from corner to corner: 1240 cos t + 80 sin t is at most 1010 from 39.3
/// degrees on, 1240 sin t + 80 cos t at most 860 up to 40.2 degrees.
#[test]
fn a_long_strip_lies_from_corner_to_corner() {
    let q = make::question(vec![make::piece("strip", 1240.0, 80.0)], vec![make::slab("s", 1050.0, 900.0, 90.0)]);
    let plan = solved(&q, 2);
    assert!(plan.unplaced.is_empty(), "{:?}", plan.unplaced);
    let t = turn(&plan, 0, 0).abs();
    assert!((39.2..40.3).contains(&t), "{t}");
    // A little longer, and no turn is left.
    let q = make::question(vec![make::piece("strip", 1262.0, 80.0)], vec![make::slab("s", 1050.0, 900.0, 90.0)]);
    assert_eq!(solved(&q, 2).unplaced.len(), 1);
}

/// Beside cracks that run askew the grain's tolerance is used as a range, not by its ends.
#[test]
fn a_tolerance_is_a_range() {
    // Flaw gaps of 10 on both sides leave 640 for 620.
    let within = solved(&make::question(vec![run("run", 2400.0, 620.0, 10.0)], vec![walled(4.3, 660.0)]), 2);
    assert!(within.unplaced.is_empty(), "{:?}", within.unplaced);
    let off = (turn(&within, 0, 0) - 4.3).abs();
    assert!(off.to_radians() * 2400.0 < 21.0, "{off}");
    let askew = make::question(vec![run("run", 2400.0, 620.0, 3.0)], vec![walled(4.3, 660.0)]);
    assert_eq!(solved(&askew, 2).unplaced.len(), 1, "3 degrees are too few");
}

/// A corridor as before, and no room on either side of it. The cracks are short, so that none of them shows the direction.
fn walled(degrees: f64, apart: f64) -> Slab {
    let mut slab = corridor(degrees, apart);
    slab.flaws.clear();
    let along = pt(degrees.to_radians().cos(), degrees.to_radians().sin());
    let middle = pt(1500.0, 900.0);
    for side in [-1.0, 1.0] {
        for k in 0..4 {
            let through = middle + along.left() * (side * (0.5 * apart + 180.0 * f64::from(k)));
            for m in -5..6 {
                let from = through + along * (290.0 * f64::from(m) - 145.0);
                let [a, b] = [from, from + along * 290.0].map(|p| [p.x, p.y]);
                slab.flaws.push(make::line_flaw(FlawKind::Crack, a, b, 0.0));
            }
        }
    }
    slab
}

/// Each of two runs has room in the corridor at many turns, both together only along it: 300 + 6 + 300 in 612 between flaw
/// gaps leaves 6 mm over 1800, 0.19 degrees.
#[test]
fn two_runs_turn_together() {
    let pieces = vec![run("one", 1800.0, 300.0, 10.0), run("two", 1800.0, 300.0, 10.0)];
    let q = make::question(pieces, vec![walled(4.3, 632.0)]);
    let plan = solved(&q, 8);
    assert!(plan.unplaced.is_empty(), "{:?}", plan.unplaced);
    for k in 0..2 {
        let off = (turn(&plan, 0, k) - 4.3).abs();
        assert!(off < 0.25, "{off}");
    }
}

/// Between two cracks that run askew the margin is widest along them, in the middle.
#[test]
fn the_margin_is_widest_along_the_cracks() {
    let mut q = make::question(vec![run("run", 2000.0, 500.0, 8.0)], vec![walled(3.0, 600.0)]);
    // No offcut counts, which would go before the margin.
    q.shop.limits.keep_area = 9e6;
    // Lying in line leaves 0 at most; 30 are enough for being turned, unless the margin counts first.
    let margin = solved(&q, 2).flaw_margin.expect("flaws bear on it");
    assert!(margin >= 30.0, "{margin}");
    let settings = Settings { seed: 1, rounds: Some(2), goal: Goal::Margin, ..Settings::default() };
    let plan = solve(&q, &settings, &Unwatched).plan;
    // 600 less 500, half on either side, less the flaw gap.
    let margin = plan.flaw_margin.expect("flaws bear on it");
    assert!(margin > 39.0 && margin < 40.01, "{margin}");
    assert!((turn(&plan, 0, 0) - 3.0).abs() < 0.1, "{}", turn(&plan, 0, 0));
}

/// Long cracks in place of short ones.
#[test]
fn runs_lie_along_a_long_crack() {
    let q = make::question(vec![run("run", 2400.0, 620.0, 10.0)], vec![corridor(4.3, 660.0)]);
    assert!(solved(&q, 1).unplaced.is_empty());
}

/// On a slab whose sides are nearly, but not quite, at right angles, small pieces that may lie any way lie in line.
#[test]
fn pieces_lie_in_line_where_that_costs_nothing() {
    let mut slab = make::slab("s", 2800.0, 1600.0, 500.0);
    slab.outline = scantling::geom::Ring::tidy(&[pt(0.0, 0.0), pt(2800.0, 22.0), pt(2770.0, 1600.0), pt(14.0, 1570.0)])
        .expect("a ring")
        .0;
    let pieces = (0..5).map(|k| make::piece(&format!("shelf {k}"), 700.0 + 40.0 * f64::from(k), 260.0)).collect();
    let q = make::question(pieces, vec![slab]);
    let plan = solved(&q, 6);
    assert!(plan.unplaced.is_empty());
    let mut turns: Vec<f64> =
        plan.layouts[0].placed.iter().map(|p| (p.turn.rem_euclid(90.0) * 1e6).round() / 1e6).collect();
    turns.sort_by(f64::total_cmp);
    turns.dedup();
    assert_eq!(turns.len(), 1, "{turns:?}");
}
