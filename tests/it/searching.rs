//! The search against packings with a known optimum.

use scantling::check::judge;
use scantling::geom::{Point, pt};
use scantling::model::{FlawKind, Grade, OpeningKind, Plan, Question, Rule};
use scantling::search::{Settings, Unwatched, solve};

use crate::make;

fn settings(rounds: u64) -> Settings {
    Settings { seed: 1, rounds: Some(rounds), ..Settings::default() }
}

/// A sheet filled exactly by rectangles, scaled so that a unit is `unit` mm.
fn perfect(sheet: (f64, f64), parts: &[(f64, f64)], unit: f64, rounds: u64) {
    let area: f64 = parts.iter().map(|p| p.0 * p.1).sum();
    assert_eq!(area, sheet.0 * sheet.1, "the packing is perfect");
    let pieces = parts
        .iter()
        .enumerate()
        .map(|(i, p)| make::piece(&format!("part {}", i + 1), p.0 * unit, p.1 * unit))
        .collect();
    let q = make::tight(pieces, vec![make::slab("sheet", sheet.0 * unit, sheet.1 * unit, 100.0)]);
    let plan = solve(&q, &settings(rounds), &Unwatched).plan;
    assert_eq!(plan.unplaced.len(), 0, "{:?}", plan.unplaced.iter().map(|u| &u.piece).collect::<Vec<_>>());
    assert!((plan.layouts[0].yields.gross - 1.0).abs() < 1e-9);
    assert!(plan.proven);
}

/// Nine squares fill a rectangle of 33 × 32 without gaps.
/// Moroń, Z. (1925), O rozkładach prostokątów na kwadraty, Przegląd Matematyczno-Fizyczny 3, 152–153.
/// Sides from memory; that they fill the area is checked.
#[test]
fn morons_nine_squares() {
    let sides = [18.0, 15.0, 14.0, 10.0, 9.0, 8.0, 7.0, 4.0, 1.0];
    perfect((33.0, 32.0), &sides.map(|s| (s, s)), 40.0, 60);
}

/// Problem 1 of category 1: 16 rectangles fill a sheet of 20 × 20, a quarter turn allowed.
/// Hopper, E., Turton, B. C. H. (2001), An empirical investigation of meta-heuristic and heuristic algorithms for a 2D packing
/// problem, European Journal of Operational Research 128, 34–57. Sizes from memory; that they fill the area is checked.
#[test]
fn hopper_and_turton_c1_p1() {
    let parts = [
        (2.0, 12.0),
        (7.0, 12.0),
        (8.0, 6.0),
        (3.0, 6.0),
        (3.0, 5.0),
        (5.0, 5.0),
        (3.0, 12.0),
        (3.0, 7.0),
        (5.0, 7.0),
        (2.0, 6.0),
        (3.0, 2.0),
        (4.0, 2.0),
        (3.0, 4.0),
        (4.0, 4.0),
        (9.0, 2.0),
        (11.0, 2.0),
    ];
    perfect((20.0, 20.0), &parts, 100.0, 200);
}

/// Depths and gap add up exactly to the usable depth.
#[test]
fn two_strips_that_fit_exactly() {
    let pieces = vec![make::piece("a", 2000.0, 650.0), make::piece("b", 2000.0, 650.0)];
    let q = make::question(pieces, vec![make::slab("s", 2040.0, 650.0 + 6.0 + 650.0 + 40.0, 500.0)]);
    let plan = solve(&q, &settings(3), &Unwatched).plan;
    assert!(plan.unplaced.is_empty());
    assert!(plan.proven);
}

/// A crack across the only slab may lie in the drop of the sink, and nowhere else.
#[test]
fn a_crack_goes_into_the_drop() {
    let mut run = make::piece("run", 2900.0, 620.0);
    run.openings.push(make::opening("sink", OpeningKind::UndermountSink, [1450.0, 300.0], 700.0, 400.0, 20.0));
    let mut s = make::slab("s", 3050.0, 700.0, 500.0);
    s.flaws.push(make::line_flaw(FlawKind::Crack, [1400.0, 330.0], [1500.0, 360.0], 2.0));
    let q = make::question(vec![run.clone()], vec![s.clone()]);
    let plan = solve(&q, &settings(3), &Unwatched).plan;
    assert!(plan.unplaced.is_empty(), "{:?}", plan.unplaced);
    assert!(plan.flaw_margin.unwrap() > 0.0);
    run.openings.clear();
    let plan = solve(&make::question(vec![run], vec![s]), &settings(3), &Unwatched).plan;
    assert_eq!(plan.unplaced.len(), 1);
    assert!(plan.unplaced[0].reason.contains("crack"), "{}", plan.unplaced[0].reason);
}

/// The slab has room for the run alone; a sill and two plinths find theirs in the drop of its cooktop, or nowhere. The bound must
/// allow for that.
#[test]
fn small_pieces_go_into_a_drop_where_the_shop_uses_drops() {
    let mut run = make::piece("run", 2000.0, 700.0);
    run.openings.push(make::opening("hob", OpeningKind::Cooktop, [1000.0, 350.0], 800.0, 450.0, 10.0));
    let small = [("sill", 740.0, 200.0), ("plinth", 360.0, 220.0), ("other plinth", 360.0, 210.0)];
    let mut pieces = vec![run];
    pieces.extend(small.map(|(name, length, depth)| make::piece(name, length, depth)));
    let mut q = make::question(pieces, vec![make::slab("s", 2060.0, 760.0, 500.0)]);
    let plan = solve(&q, &settings(3), &Unwatched).plan;
    assert_eq!(plan.unplaced.len(), 3);
    q.shop.limits.use_drops = true;
    let plan = solve(&q, &settings(8), &Unwatched).plan;
    assert_good(&q, &plan);
    assert!(plan.proven);
    let placed = |name: &str| plan.layouts[0].placed.iter().find(|p| p.piece == name).unwrap();
    let hob = &placed("run").openings[0].outline;
    let spread = |k: usize| {
        let all = hob.iter().map(|p| p[k]);
        (all.clone().fold(f64::INFINITY, f64::min), all.fold(f64::NEG_INFINITY, f64::max))
    };
    let ((x0, x1), (y0, y1)) = (spread(0), spread(1));
    for (name, ..) in small {
        // The kerf inside the line, and the gap.
        let inside = |p: &[f64; 2]| p[0] > x0 + 9.9 && p[0] < x1 - 9.9 && p[1] > y0 + 9.9 && p[1] < y1 - 9.9;
        assert!(placed(name).outline.iter().all(inside), "{name}");
    }
}

/// A demo job, as a first round of search lays it, put through every sabotage that is possible on them.
#[test]
fn sabotage_of_found_plans_is_noticed() {
    let job = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/weir-mill/job.toml");
    let paths = scantling::io::Paths { jobs: vec![job], rack: None, shop: None };
    let q = scantling::io::load(&paths).unwrap().question;
    let plan = solve(&q, &settings(1), &Unwatched).plan;
    assert!(plan.unplaced.is_empty(), "{:?}", plan.unplaced);
    let possible = crate::mutation::survives_sabotage(&q, &plan);
    assert!(possible.len() >= 25, "only {} kinds of sabotage were possible: {possible:?}", possible.len());
}

/// Complete, and nothing that the judge faults.
fn assert_good(q: &Question, plan: &Plan) {
    assert_eq!(plan.unplaced.len(), 0, "{:?}", plan.unplaced.iter().map(|u| &u.piece).collect::<Vec<_>>());
    let broken: Vec<_> = judge(q, plan).into_iter().filter(|f| f.grade == Grade::Broken).collect();
    assert!(broken.is_empty(), "{broken:?}");
}

#[test]
fn a_hundredth_less_than_an_exact_fit_is_none() {
    let pieces = vec![make::piece("a", 2000.0, 650.0), make::piece("b", 2000.0, 650.0)];
    let q = make::question(pieces, vec![make::slab("s", 2040.0, 650.0 + 6.0 + 650.0 + 40.0 - 0.01, 500.0)]);
    assert_eq!(solve(&q, &settings(3), &Unwatched).plan.unplaced.len(), 1);
}

/// What of a convex line lies left of the line through `a` and `b`, and `by` from it.
fn left_of(points: &[Point], a: Point, b: Point, by: f64) -> Vec<Point> {
    let normal = (b - a).left() * (1.0 / a.distance(b));
    let mut out = Vec::new();
    for (i, &p) in points.iter().enumerate() {
        let q = points[(i + 1) % points.len()];
        let (u, v) = (normal.dot(p - a) - by, normal.dot(q - a) - by);
        if u >= 0.0 {
            out.push(p);
        }
        if (u > 0.0 && v < 0.0) || (u < 0.0 && v > 0.0) {
            out.push(p.lerp(q, u / (u - v)));
        }
    }
    out
}

#[test]
fn jigsaws_cut_without_waste_are_put_together() {
    // A slab of 2400 x 1300 within its trim, cut along two or three slanted lines, the gap between all parts.
    let lines = [
        [pt(0.0, 500.0), pt(2400.0, 710.0)],
        [pt(900.0, 0.0), pt(1240.0, 1300.0)],
        [pt(1700.0, 0.0), pt(1610.0, 1300.0)],
    ];
    for (seed, count) in [(1, 2), (2, 2), (3, 2), (1, 3), (2, 3)] {
        let mut parts: Vec<Vec<Point>> = vec![vec![pt(0.0, 0.0), pt(2400.0, 0.0), pt(2400.0, 1300.0), pt(0.0, 1300.0)]];
        for [a, b] in &lines[..count] {
            parts = parts.iter().flat_map(|p| [left_of(p, *a, *b, 3.0), left_of(p, *b, *a, 3.0)]).collect();
            parts.retain(|p| p.len() > 2);
        }
        assert_eq!(parts.len(), 2 * count);
        let pieces =
            parts.iter().enumerate().map(|(k, points)| make::polygon(&format!("part {}", k + 1), points)).collect();
        let mut q = make::question(pieces, vec![make::slab("sheet", 2440.0, 1340.0, 100.0)]);
        q.rack[0].grain = Some(0.0);
        let answer = solve(&q, &Settings { seed, ..settings(40) }, &Unwatched);
        assert_good(&q, &answer.plan);
    }
}

#[test]
fn the_margin_to_flaws_is_as_wide_as_moves_of_all_pieces_make_it() {
    // Two cracks 1200 apart; two pieces with 6 between them take 1126. Alone, neither could move without the other.
    let mut slab = make::slab("sheet", 2200.0, 680.0, 100.0);
    slab.flaws =
        [500.0, 1700.0].into_iter().map(|x| make::line_flaw(FlawKind::Crack, [x, 0.0], [x, 680.0], 0.0)).collect();
    let q = make::question(vec![make::piece("left", 560.0, 640.0), make::piece("right", 560.0, 640.0)], vec![slab]);
    let plan = solve(&q, &settings(3), &Unwatched).plan;
    assert_good(&q, &plan);
    let margin = plan.flaw_margin.unwrap();
    assert!((margin - 27.0).abs() < 0.1, "{margin}");
}

/// A piece that may turn freely beside a crack that its finished edge and its hidden strip must keep off: what the search takes
/// for the clearance in full, the judge does too.
#[test]
fn a_clearance_to_a_flaw_holds_by_the_judge_too() {
    use scantling::geom::Ring;
    use scantling::model::{Finish, Flaw, FlawBody, Zone, Zones};
    let (length, depth) = (1947.21357526196, 451.22097889977493);
    let piece = |name: &str| {
        let mut p = make::piece(name, length, depth);
        p.outline = scantling::model::Outline::new(
            p.outline.shape.clone(),
            vec![Finish::Finished("polished".to_owned()), Finish::Raw, Finish::Raw, Finish::Raw],
        );
        p.hidden.back = 20.0;
        let kind = OpeningKind::UndermountSink;
        p.openings.push(make::opening(
            "hole",
            kind,
            [1193.03852772732, 225.610489449887],
            500.0,
            291.22097889977493,
            20.0,
        ));
        p
    };
    let mut slab = make::slab("s", 3199.6532527829195, 927.1353585244733, 50.0);
    let crack = [
        pt(1577.0507954048876, 0.0),
        pt(1677.7328595558656, 33.560688050325986),
        pt(1627.3918274803766, 100.68206415097796),
    ];
    slab.flaws.push(Flaw {
        kind: FlawKind::Crack,
        body: FlawBody::Area(Ring::tidy(&crack).unwrap().0),
        radius: 0.0,
        allow: Zones::of(&[Zone::Rail, Zone::Field]),
    });
    let mut q = make::question(vec![piece("a"), piece("b")], vec![slab]);
    (q.shop.limits.trim, q.shop.limits.flaw_gap) = (0.0, 8.111196374558482);
    for seed in 0..4 {
        let plan = solve(&q, &Settings { seed, ..settings(3) }, &Unwatched).plan;
        let broken: Vec<_> = judge(&q, &plan).into_iter().filter(|f| f.rule == Rule::FlawInZone).collect();
        assert!(broken.is_empty(), "{broken:?}");
    }
}
