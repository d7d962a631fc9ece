//! Pieces in the drops of others: what the tools take out of a drop, held against the search, the judge and the sheets; figures that
//! count no stone twice; what the person who cuts is told.

use std::cell::Cell;
use std::fs;
use std::path::Path;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use scantling::check::judge;
use scantling::craft::{self, cutting};
use scantling::geom::curve::Corner;
use scantling::geom::{Point, Pose, Region, Ring, boolean, distance, pt};
use scantling::model::openings::{Cutting, Verdict};
use scantling::model::{
    Blade, Finding, Grade, Opening, OpeningKind, Piece, Plan, Question, Rule, Shape, Shop, Tools, Yield, drops,
};
use scantling::quote::{Wish, quote};
use scantling::rules::claimed;
use scantling::search::{Settings, Unwatched, solve};
use serde_json::Value;

use crate::judge::{plan, question, shaped, slab};
use crate::properties::cases;
use crate::{cli, make};

// ---- what the tools take, by the sheets themselves ----

/// Points of what cores, saw passes and rows of small cuts take, piece frame: none farther than some millimetres from the next.
fn tool_points(cutting: &Cutting) -> Vec<Point> {
    let mut out = Vec::new();
    let strip = |from: Point, to: Point, sides: [f64; 2], out: &mut Vec<Point>| {
        let long = from.distance(to);
        let along = (to - from) * (1.0 / long.max(1e-9));
        let steps = (long / 8.0).ceil().max(1.0) as usize;
        for k in 0..=steps {
            out.extend(sides.map(|s| from + along * (long * k as f64 / steps as f64) + along.left() * s));
        }
    };
    for core in &cutting.cores {
        let (centre, r) = (Point::from(core.centre), core.diameter / 2.0 - 1e-6);
        out.push(centre);
        out.extend((0..48).map(|k| {
            let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 48.0).sin_cos();
            centre + pt(cos, sin) * r
        }));
    }
    for pass in cutting.passes.iter().filter(|p| p.blade.is_some()) {
        strip(pass.from.into(), pass.to.into(), [0.0, pass.kerf.unwrap()], &mut out);
    }
    for row in &cutting.rows {
        let kerf = row.blade.map_or(0.0, |_| 2.0);
        for &[from, to] in &row.cuts {
            strip(from.into(), to.into(), [-kerf / 2.0, kerf / 2.0], &mut out);
        }
    }
    out
}

prop_compose! {
    fn any_hole()(
        kind in 0..6u8, w in 120.0..900.0f64, d in 100.0..500.0f64, r in prop_oneof![Just(0.0), 5.0..40.0f64, 40.0..120.0f64],
        bend in 0.1..0.45f64, pull in -0.25..0.25f64,
    ) -> Shape {
        let at = |x: f64, y: f64, radius: f64| Corner { at: pt(x, y), radius };
        let r = r.min(d * 0.22);
        match kind {
            0 | 1 => Shape::rectangle(w, d, r),
            2 => Shape::Ellipse { centre: pt(w / 2.0, w / 2.0), half_x: w / 2.0, half_y: if bend < 0.3 { w / 2.0 } else { d / 2.0 } },
            3 => Shape::Polygon(vec![at(w * 0.25, 0.0, r), at(w * 1.25, 0.0, r), at(w * (1.25 - pull.abs()), d, r), at(w * (0.25 + pull), d, r)]),
            // An L, and one whose arms meet at a slant.
            4 => {
                let (x, y) = (w * bend + 60.0, d * bend + 40.0);
                let r = r.min(20.0);
                Shape::Polygon(vec![at(0.0, 0.0, r), at(w + 120.0, 0.0, r), at(w + 120.0, y, r), at(x, y, r.min(8.0)), at(x, d + 120.0, r), at(0.0, d + 120.0, r)])
            }
            _ => {
                let tip = pt(w * (0.5 + pull), d * bend);
                Shape::Polygon(vec![at(0.0, 0.0, 0.0), at(w, 0.0, 0.0), at(w, d, r.min(15.0)), Corner { at: pt(tip.x, d - tip.y * 0.8), radius: 0.0 }, at(0.0, d, r.min(15.0))])
            }
        }
    }
}

prop_compose! {
    fn any_tools()(
        bits in prop::collection::vec(8.0..110.0f64, 0..7), all_bits in any::<bool>(),
        blades in prop::collection::vec((60.0..450.0f64, 1.5..5.0f64), 0..4), own_blades in any::<bool>(), table_cut in 0.0..4.0f64,
    ) -> Tools {
        let mut tools = Tools { table_cut, ..Tools::default() };
        if !all_bits {
            tools.core_bits = bits.iter().map(|b| b.round()).collect();
            tools.core_bits.sort_by(f64::total_cmp);
        }
        if own_blades {
            tools.blades = blades.iter().map(|&(diameter, kerf)| Blade { diameter, kerf }).collect();
        }
        tools
    }
}

/// A top with this hole, its lowest left point 300 mm from the top's.
fn top(shape: &Shape) -> Piece {
    let low = shape.extent().min;
    let mut top = make::piece("top", 2600.0, 1300.0);
    top.openings.push(Opening::new("hole".into(), OpeningKind::Other, shape.moved(pt(300.0, 300.0) - low)));
    top
}

/// Whatever hole, bits, blades and thickness: all that the sheet has drilled and cut lies in what the search keeps free; and a probe laid
/// there is what the judge faults.
#[test]
fn what_the_tools_take_is_claimed_in_the_search_and_faulted_by_the_judge() {
    let config = Config { cases: cases(150), failure_persistence: None, max_shrink_iters: 100, ..Config::default() };
    let (points_seen, probes_seen, rows, free) = (Cell::new(0), Cell::new(0), Cell::new(0), Cell::new(0));
    TestRunner::new(config)
        .run(&(any_hole(), any_tools(), 12.0..50.0f64, -0.5..0.5f64), |(shape, tools, thickness, off)| {
            let piece = top(&shape);
            prop_assume!(Ring::tidy(piece.openings[0].ring.points()).is_ok());
            let mut q = question(vec![slab("BG-1", 2800.0, 1500.0)], vec![piece]);
            q.shop.limits.use_drops = true;
            q.shop.tools = tools;
            // The slab's stone is a little thicker or thinner than the job says.
            q.jobs[0].thickness = thickness;
            q.rack[0].thickness = thickness + off;
            let piece = &q.jobs[0].pieces[0];
            let cut =
                cutting::cut(piece, &piece.openings[0], thickness + off, &q.shop.tools, scantling::model::Shown::Mm);
            let claim = claimed(piece, thickness, &q.shop);
            let points = tool_points(&cut);
            for &p in &points {
                let near = distance::point_to_region(p, &claim).distance;
                prop_assert!(near <= 1e-3, "{p:?} is {near} mm off what is claimed: {cut:#?}");
            }
            points_seen.set(points_seen.get() + points.len());
            rows.set(rows.get() + cut.rows.len());
            free.set(free.get() + usize::from(claim.area() < piece.outline.ring.area() - 100.0));

            // Every so many of them as a probe of 1 mm.
            let inside: Vec<Point> = points
                .iter()
                .copied()
                .filter(|&p| {
                    let ring = &piece.openings[0].ring;
                    [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
                        .iter()
                        .all(|&(x, y)| ring.contains(p + pt(x, y)))
                })
                .collect();
            let probes: Vec<Point> = inside.iter().copied().step_by(inside.len() / 12 + 1).collect();
            let names: Vec<String> = (0..probes.len()).map(|k| format!("probe {k}")).collect();
            q.jobs[0].pieces.extend(names.iter().map(|n| make::piece(n, 1.0, 1.0)));
            let mut lies = vec![("BG-1", "top", 0.0, [100.0, 100.0])];
            lies.extend(probes.iter().zip(&names).map(|(p, n)| ("BG-1", n.as_str(), 0.0, [p.x + 99.5, p.y + 99.5])));
            let findings = judge(&q, &plan(&q, &lies));
            for name in &names {
                let faulted = findings.iter().any(|f| f.rule == Rule::DropCutInto && f.piece.as_ref() == Some(name));
                prop_assert!(faulted, "{name} of {probes:?}: {cut:#?}");
            }
            probes_seen.set(probes_seen.get() + probes.len());
            Ok(())
        })
        .unwrap();
    let each = cases(150) as usize;
    let enough = points_seen.get() > 100 * each && probes_seen.get() > 5 * each && rows.get() > each;
    assert!(enough, "{points_seen:?} {probes_seen:?} {rows:?}");
    // It would prove nothing if every drop were claimed whole.
    assert!(free.get() > each / 5, "{free:?}");
}

// ---- the judge at its limits ----

/// A desk of 2000 x 700 at (100, 100) with a hole whose box begins at its (600, 150); a piece in the drop, its shift by the hole's corner.
fn in_drop(hole: &Shape, inner: Shape, at: [f64; 2]) -> (Question, Plan) {
    let mut desk = make::piece("desk", 2000.0, 700.0);
    desk.openings.push(Opening::new("hole".into(), OpeningKind::Other, hole.moved(pt(600.0, 150.0))));
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![desk, shaped("board", inner)]);
    q.shop.limits.use_drops = true;
    let mut p =
        plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0]), ("BG-1", "board", 0.0, [700.0 + at[0], 250.0 + at[1]])]);
    let own = &mut p.layouts[0].yields;
    let twice = q.jobs[0].pieces[1].outline.ring.area();
    *own = Yield::of(own.slab_mm2, own.usable_mm2, own.pieces_mm2 - twice, own.openings_mm2 - twice);
    (q, p)
}

fn faults(q: &Question, p: &Plan) -> Vec<Finding> {
    judge(q, p).into_iter().filter(|f| f.grade == Grade::Broken && f.rule != Rule::InsideCornerTooTight).collect()
}

/// The limit holds exactly and is broken when missed by two micrometres.
#[track_caller]
fn limit(words: &str, case: impl Fn(f64) -> (Question, Plan)) {
    for short in [-1.0, 0.0, 0.0005] {
        let (q, p) = case(short);
        assert_eq!(faults(&q, &p), [], "{short} mm short");
    }
    for short in [0.002, 1.0] {
        let (q, p) = case(short);
        let found = faults(&q, &p);
        assert!(found.len() == 1 && found[0].rule == Rule::DropCutInto, "{short} mm short: {found:#?}");
        let f = &found[0];
        assert!((f.needed.unwrap() - f.found.unwrap() - short).abs() < 5e-4, "{short} mm short: {f:?}");
        assert!(f.message.contains(words) && f.message.contains("\"hole\" of \"desk\""), "{}", f.message);
        assert_eq!(
            (f.piece.as_deref(), f.opening.as_deref(), f.slab.as_deref()),
            (Some("board"), Some("hole"), Some("BG-1"))
        );
    }
}

/// A kerf of 4 mm runs inside the line, and the gap is 6 mm.
#[test]
fn the_kerf_inside_the_line_counts() {
    let hole = Shape::rectangle(700.0, 400.0, 20.0);
    limit("the saw cut round it (4 mm)", |short| {
        in_drop(&hole, Shape::rectangle(300.0, 100.0, 0.0), [200.0, 10.0 - short])
    });
}

/// A corner of 19 mm is made by the core of 38 mm round (19, 19): a corner of a board on the diagonal keeps 19 + 6 mm from there.
#[test]
fn the_core_in_a_corner_counts() {
    let hole = Shape::rectangle(700.0, 400.0, 19.0);
    limit("the core of 38 mm", |short| {
        let off = 19.0 + (25.0 - short) / 2f64.sqrt();
        in_drop(&hole, Shape::rectangle(300.0, 100.0, 0.0), [off, off])
    });
}

/// No bit is so small: the cuts come out of the drop, `1 mm + half a kerf` short of the line and two overruns of the smallest blade long.
#[test]
fn a_row_of_small_cuts_counts() {
    let hole = Shape::rectangle(700.0, 400.0, 0.0);
    let overrun = (32.0 * (125.0 - 32.0_f64)).sqrt();
    limit("the row of small cuts", |short| {
        let reach = 1.0 + 2.0 + 2.0 * overrun + 2.0;
        // On the diagonal the ends of the pocket, 10 mm from the corner along either side, are nearest: `(x - 10)² + x²`.
        let far = reach + 6.0 - short;
        let x = (20.0 + (400.0 - 8.0 * (100.0 - far * far)).sqrt()) / 4.0;
        in_drop(&hole, Shape::rectangle(100.0, 50.0, 0.0), [x, x])
    });
}

/// One core makes the hole whole, so that nothing is left of the drop.
#[test]
fn a_hole_made_by_one_core_holds_nothing() {
    let hole = Shape::Ellipse { centre: pt(37.5, 37.5), half_x: 37.5, half_y: 37.5 };
    let (q, p) = in_drop(&hole, Shape::rectangle(10.0, 10.0, 0.0), [32.5, 32.5]);
    let found = faults(&q, &p);
    assert!(found.len() == 1 && found[0].message.contains("the core of 75 mm"), "{found:#?}");
    // A larger one has no core.
    let hole = Shape::Ellipse { centre: pt(60.0, 60.0), half_x: 60.0, half_y: 60.0 };
    let (q, p) = in_drop(&hole, Shape::rectangle(10.0, 10.0, 0.0), [55.0, 55.0]);
    assert_eq!(faults(&q, &p), []);
}

// ---- the search ----

/// A top that leaves no other room on its slab, and boards that find theirs in its drop, if at all.
fn basin(board: [f64; 2], holes: [f64; 3]) -> Question {
    let mut top = make::piece("top", 1580.0, 660.0);
    let [w, d, r] = holes;
    top.openings.push(make::opening("basin", OpeningKind::DropInSink, [790.0, 330.0], w, d, r));
    let mut q = make::question(
        vec![top, make::piece("board", board[0], board[1])],
        vec![make::slab("s", 1640.0, 720.0, 300.0)],
    );
    q.shop.limits.use_drops = true;
    q
}

fn settings(rounds: u64) -> Settings {
    Settings { seed: 5, rounds: Some(rounds), ..Settings::default() }
}

/// The board fits into the hole with its gap, but the cores of 45 mm would drill its corners off. Smaller, it keeps clear of them.
#[test]
fn the_search_keeps_a_board_clear_of_the_cores() {
    let q = basin([690.0, 380.0], [720.0, 410.0, 22.5]);
    let found = solve(&q, &settings(3), &Unwatched).plan;
    assert_eq!(found.unplaced.len(), 1, "{:?}", found.layouts[0].placed);
    let q = basin([610.0, 380.0], [720.0, 410.0, 22.5]);
    let found = solve(&q, &settings(3), &Unwatched).plan;
    assert_eq!(found.unplaced, []);
    assert_eq!(faults(&q, &found), []);
}

/// What stays in until the piece is on site, or is not cut, holds nothing; the rest may.
#[test]
fn the_search_lays_nothing_into_a_drop_that_stays() {
    let mut q = basin([400.0, 200.0], [720.0, 410.0, 22.5]);
    assert!(solve(&q, &settings(2), &Unwatched).plan.unplaced.is_empty());
    craft::mark_drops_that_stay(&mut q);
    assert!(q.jobs[0].pieces[0].openings[0].drop_stays.is_empty());
    // The rail in front of the hole is 45 mm wide: less than what may be cut.
    let opening = make::opening("basin", OpeningKind::DropInSink, [790.0, 250.0], 720.0, 410.0, 22.5);
    q.jobs[0].pieces[0].openings[0] = opening;
    craft::mark_drops_that_stay(&mut q);
    assert_eq!(q.jobs[0].pieces[0].openings[0].drop_stays, ["s"]);
    assert_eq!(solve(&q, &settings(2), &Unwatched).plan.unplaced.len(), 1);
}

prop_compose! {
    fn any_board()(kind in 0..4u8, l in 60.0..420.0f64, d in 40.0..300.0f64, r in 0.0..30.0f64) -> Shape {
        match kind {
            0 | 1 => Shape::rectangle(l, d, 0.0),
            2 => Shape::rectangle(l, d, r.min(d / 2.5).min(l / 2.5)),
            _ => Shape::Ellipse { centre: pt(d / 2.0, d / 2.0), half_x: d / 2.0, half_y: d / 2.0 },
        }
    }
}

/// Random boards into random drops: the judge faults no plan, no tool that the sheets name comes nearer than the gap to any board, no
/// stone is counted twice, and what the quote says of the stone agrees.
#[test]
fn search_judge_and_sheets_agree_about_drops() {
    let config = Config { cases: cases(24), failure_persistence: None, max_shrink_iters: 40, ..Config::default() };
    let held = Cell::new(0_u32);
    let boards = prop::collection::vec(any_board(), 1..5);
    let hole = (300.0..800.0f64, 200.0..460.0f64, prop_oneof![Just(10.0), Just(19.0), Just(22.5), 10.0..60.0f64]);
    TestRunner::new(config)
        .run(&(boards, hole, any::<u64>(), 2.0..12.0f64), |(boards, (w, d, r), seed, gap)| {
            let mut q = basin([100.0, 100.0], [w, d, r]);
            q.shop.limits.gap = gap.max(q.shop.limits.kerf);
            q.jobs[0].pieces.pop();
            let named = boards.into_iter().enumerate().map(|(k, b)| Piece {
                kind: k + 1,
                grain: make::piece("", 10.0, 10.0).grain,
                ..shaped(&format!("board {k}"), b)
            });
            q.jobs[0].pieces.extend(named);
            let gap = q.shop.limits.gap;
            let found = solve(&q, &Settings { seed, rounds: Some(1), ..Settings::default() }, &Unwatched).plan;
            let broken: Vec<Finding> = faults(&q, &found).into_iter().filter(|f| f.rule != Rule::Unplaced).collect();
            prop_assert!(broken.is_empty(), "{broken:#?}");
            let sheets = craft::sheets(&q, Some(&found));
            for layout in &found.layouts {
                let laid: Vec<(&Piece, Pose)> = layout
                    .placed
                    .iter()
                    .map(|l| (q.jobs[0].pieces.iter().find(|p| p.name == l.piece).unwrap(), l.pose()))
                    .collect();
                let Some(top) = laid.iter().position(|l| l.0.name == "top") else { continue };
                let sheet = &sheets.openings[0];
                let points: Vec<Point> =
                    tool_points(&sheet.cutting).into_iter().map(|p| laid[top].1.apply(p)).collect();
                let mut told = 0;
                for (holder, (piece, pose)) in drops::holders(&laid).iter().zip(&laid) {
                    let outline = pose.ring(&piece.outline.ring).to_region();
                    if piece.name != "top" {
                        for &p in &points {
                            let near = distance::point_to_region(p, &outline).distance;
                            prop_assert!(near >= gap - 0.002, "{} is {near} mm from a tool at {p:?}", piece.name);
                        }
                    }
                    if holder.is_some() {
                        held.set(held.get() + 1);
                        told += 1;
                        prop_assert!(sheet.pieces_in_drop.contains(&piece.name));
                        prop_assert!(
                            sheet.order.iter().filter(|s| s.contains(&piece.name)).count() == 2,
                            "{:?}",
                            sheet.order
                        );
                    }
                }
                prop_assert_eq!(sheet.pieces_in_drop.len(), told);
                // The area of the union, the slow way.
                let outlines: Vec<Region> = laid.iter().map(|(p, at)| at.ring(&p.outline.ring).to_region()).collect();
                let stones: f64 = laid.iter().map(|(p, _)| p.stone().area()).sum();
                let (union, y) = (boolean::union_all(&outlines).area(), &layout.yields);
                prop_assert!((y.pieces_mm2 - union).abs() < 1.0, "{} for {union}", y.pieces_mm2);
                prop_assert!(y.gross <= 1.0 && (y.net - stones / y.slab_mm2).abs() < 1e-6, "{y:?}");
                let priced = quote(&Wish {
                    question: &q,
                    plan: Some(&found),
                    openings: &sheets,
                    seams: &[],
                    compare: false,
                    date: None,
                })
                .unwrap();
                let own = &priced.jobs[0].yields;
                prop_assert!(
                    (own.gross.share - y.gross).abs() < 1e-9 && (own.net.share - y.net).abs() < 1e-9,
                    "{own:?}"
                );
            }
            Ok(())
        })
        .unwrap();
    assert!(held.get() > cases(24) / 3, "only {} boards lay in drops", held.get());
}

// ---- figures ----

/// Two jobs share a slab, the one's board in the drop of the other's top: the parts come to the slab, and neither uses more than it has.
#[test]
fn jobs_that_share_a_drop_count_it_once() {
    let mut q = basin([400.0, 200.0], [720.0, 410.0, 22.5]);
    let board = q.jobs[0].pieces.pop().unwrap();
    let mut other = q.jobs[0].clone();
    (other.name, other.pieces) = ("chapel".into(), vec![board]);
    q.jobs.push(other);
    let found = solve(&q, &settings(2), &Unwatched).plan;
    assert_eq!(faults(&q, &found), []);
    let sheets = craft::sheets(&q, Some(&found));
    assert_eq!(sheets.openings[0].pieces_in_drop, ["board (of chapel)"]);
    let priced =
        quote(&Wish { question: &q, plan: Some(&found), openings: &sheets, seams: &[], compare: false, date: None })
            .unwrap();
    let yields: Vec<_> = priced.jobs.iter().map(|j| &j.yields).collect();
    let slab = 1640.0 * 720.0;
    let slabs: f64 = yields.iter().map(|y| y.slabs_mm2.unwrap()).sum();
    assert!((slabs - slab).abs() < 1.0, "{slabs}");
    let gross = 1580.0 * 660.0 / slab;
    for y in &yields {
        assert!((y.gross.share - gross).abs() < 1e-9 && y.gross.waste > 0.0, "{y:?}");
    }
    assert!((yields[1].pieces_mm2 - 400.0 * 200.0).abs() < 1e-6);
    assert!((found.layouts[0].yields.gross - gross).abs() < 1e-9);
}

/// A plan whose figures count a drop twice is faulted.
#[test]
fn the_judge_counts_a_drop_once() {
    let (q, mut p) =
        in_drop(&Shape::rectangle(700.0, 400.0, 20.0), Shape::rectangle(300.0, 200.0, 0.0), [200.0, 100.0]);
    assert_eq!(faults(&q, &p), []);
    let own = &mut p.layouts[0].yields;
    *own = Yield::of(own.slab_mm2, own.usable_mm2, own.pieces_mm2 + 60_000.0, own.openings_mm2 + 60_000.0);
    let found = faults(&q, &p);
    assert!(found.len() == 3 && found.iter().all(|f| f.rule == Rule::FigureWrong), "{found:#?}");
}

// ---- the program ----

const JOB: &str = r#"name = "Fulling mill"
rack = "rack.toml"
shop = "shop.toml"
material = "Otter green"
thickness = 30

[[piece]]
name = "wash top"
outline.rectangle = [1580, 660]

[[piece.opening]]
name = "trough"
kind = "drop-in sink"
shape.rectangle = [720, 410]
corner_radius = 22.5
centre = [790, 330]

[[piece]]
name = "ledge"
outline.rectangle = [600, 300]
edges = ["polished", "polished", "polished", "polished"]
"#;

const RACK: &str = "[[slab]]\nname = \"OG-3\"\nmaterial = \"Otter green\"\nstone = \"granite\"\nthickness = 30\nprice = 400\n\
    outline.rectangle = [1640, 720]\ngrain = \"none\"\n";

fn workplace(job: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let shop = "[limits]\nuse_drops = true\n";
    for (name, text) in [("job.toml", job), ("rack.toml", RACK), ("shop.toml", shop)] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    dir
}

fn order(dir: &Path) -> Vec<String> {
    let text = fs::read_to_string(dir.join("openings-job/openings.json")).unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    value["openings"][0]["order"].as_array().unwrap().iter().map(|s| s.as_str().unwrap().to_owned()).collect()
}

#[test]
fn the_program_tells_of_the_piece_in_the_drop() {
    let dir = workplace(JOB);
    let run = |args: &[&str], code: i32| cli::run(dir.path(), args).ends_with(code);
    let said = run(&["plan", "job.toml", "--effort", "2", "--out", "out"], 0).out;
    // 1580 x 660 of 1640 x 720.
    let told = |what: &str| {
        said.lines().find(|l| l.trim_start().starts_with(what)).unwrap_or_else(|| panic!("{what}: {said}")).to_owned()
    };
    assert!(told("gross yield").contains("88.3 %") && told("waste").contains(" 11.7 %"), "{said}");
    // The key measures to the hole, where the ledge has least room.
    let svg = fs::read_to_string(dir.path().join("out/slab-01-og-3.svg")).unwrap();
    let plan: Plan = serde_json::from_slice(&fs::read(dir.path().join("out/plan.json")).unwrap()).unwrap();
    let ring = |points: &[[f64; 2]]| Ring::vouched_outline(points.iter().map(|&p| p.into()).collect());
    let find = |name: &str| plan.layouts[0].placed.iter().find(|p| p.piece == name).unwrap();
    let hole = ring(&find("wash top").openings[0].outline);
    let gap = distance::ring_lines(&ring(&find("ledge").outline), &hole).distance;
    let words = format!("least gap {}", scantling::units::Decimal(gap, 1));
    assert!(gap < 60.0 && svg.contains(&words), "{words}");
    run(&["check", "job.toml", "--plan", "out/plan.json"], 0);
    run(&["openings", "job.toml", "--plan", "out/plan.json", "--out", "openings-job"], 0);
    let steps = order(dir.path());
    let told: Vec<&String> = steps.iter().filter(|s| s.contains("\"ledge\" lies in")).collect();
    assert_eq!(told.len(), 2, "{steps:#?}");
    assert!(
        told[1].contains("from below") && told[1].contains("with care") && told[1].contains("two people"),
        "{}",
        told[1]
    );
    // Without a plan nothing lies anywhere.
    run(&["openings", "job.toml", "--out", "openings-job"], 0);
    assert!(!order(dir.path()).concat().contains("ledge"));
}

/// A plan of another hand lays a piece into the drop of an opening that must not be cut, or that stays in until it is on site.
#[test]
fn the_program_faults_a_piece_in_a_drop_that_stays() {
    let dir = workplace(JOB);
    let run = |args: &[&str], code: i32| cli::run(dir.path(), args).ends_with(code);
    run(&["plan", "job.toml", "--effort", "2", "--out", "out"], 0);
    let narrow = JOB.replace("centre = [790, 330]", "centre = [790, 250]");
    fs::write(dir.path().join("job.toml"), &narrow).unwrap();
    let path = dir.path().join("out/plan.json");
    let mut plan: Plan = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    for placed in &mut plan.layouts[0].placed {
        (placed.outline, placed.openings) = (Vec::new(), Vec::new());
        if placed.piece == "wash top" {
            (placed.turn, placed.shift) = (0.0, [30.0, 30.0]);
        } else {
            (placed.turn, placed.shift) = (0.0, [520.0, 130.0]);
        }
    }
    fs::write(&path, serde_json::to_string(&plan).unwrap()).unwrap();
    let out = run(&["check", "job.toml", "--plan", "out/plan.json", "--format", "json"], 1).out;
    let found: Vec<Finding> = serde_json::from_str(&out).unwrap();
    let stays: Vec<&Finding> = found.iter().filter(|f| f.rule == Rule::DropStays).collect();
    assert_eq!(stays.len(), 1, "{found:#?}");
    assert!(
        stays[0]
            .message
            .contains("\"ledge\" lies in the drop of \"trough\" of \"wash top\" on OG-3, and the drop stays in"),
        "{}",
        stays[0].message
    );
    assert!(!found.iter().any(|f| f.rule == Rule::DropCutInto), "{found:#?}");
    // The search does not lay it there.
    let again = run(&["plan", "job.toml", "--effort", "1", "--out", "again", "--format", "json"], 1).out;
    let again: Plan = serde_json::from_str(&again).unwrap();
    assert_eq!(again.unplaced.len(), 1);
}

/// Slim long rails that hold only while the drop is in: the opening is scored, and its drop holds nothing, on granite. Thicker stone and
/// another class have verdicts of their own.
#[test]
fn a_scored_opening_keeps_its_drop() {
    let mut top = make::piece("bar", 3000.0, 635.0);
    top.openings.push(make::opening("hob", OpeningKind::Cooktop, [700.0, 317.5], 1100.0, 505.0, 20.0));
    let pieces = vec![top, make::piece("board", 300.0, 200.0)];
    let mut q = make::question(pieces, vec![make::slab("s", 3060.0, 700.0, 300.0)]);
    q.shop.limits.use_drops = true;
    let found = solve(&q, &settings(1), &Unwatched).plan;
    assert_eq!(found.unplaced, []);
    let sheet = &craft::sheets(&q, Some(&found)).openings[0];
    assert_eq!((sheet.verdict, sheet.pieces_in_drop.as_slice()), (Verdict::Score, ["board".to_owned()].as_slice()));
    let told = sheet.order.iter().any(|s| s.contains("lays \"board\" in this drop") && s.contains("plan again"));
    assert!(told, "{:?}", sheet.order);
    craft::mark_drops_that_stay(&mut q);
    let stays: Vec<Finding> = judge(&q, &found).into_iter().filter(|f| f.rule == Rule::DropStays).collect();
    assert!(
        stays.len() == 1 && stays[0].grade == Grade::Broken && stays[0].piece.as_deref() == Some("board"),
        "{stays:?}"
    );
    assert_eq!(solve(&q, &settings(1), &Unwatched).plan.unplaced.len(), 1);
}

/// With other tools the claim is another, and without the use of drops it is the outline.
#[test]
fn the_claim_follows_the_shop() {
    let piece = top(&Shape::rectangle(700.0, 400.0, 19.0));
    let mut shop = Shop::default();
    let outline = piece.outline.ring.area();
    assert_eq!(claimed(&piece, 30.0, &shop).area(), outline);
    shop.limits.use_drops = true;
    // The band of the kerf, and in each corner what the core of 38 mm takes within it, worked by hand: the square of 38 mm less its
    // corner beyond the arc, without the two bands of 4 mm that it shares with the kerf.
    let exact = outline - 692.0 * 392.0;
    let own = claimed(&piece, 30.0, &shop).area() - exact;
    let disc = core_within(19.0, 4.0);
    assert!((own - 4.0 * disc).abs() < 20.0, "{own} for {}", 4.0 * disc);
    shop.tools.core_bits = vec![20.0];
    assert!(claimed(&piece, 30.0, &shop).area() > exact + own + 1000.0, "a row of small cuts comes out of the drop");
    let mut stays = piece.clone();
    stays.openings[0].drop_stays.push("BG-1".into());
    assert_eq!(claimed(&stays, 30.0, &shop).area(), outline);
}

/// Area of the disc of radius r round (r, r), and of the square between it and the corner, that lies farther than `band` from both axes:
/// by summing squares of 0.05 mm.
fn core_within(r: f64, band: f64) -> f64 {
    const STEP: f64 = 0.05;
    let n = (2.0 * r / STEP) as usize;
    let mut count = 0.0;
    for i in 0..n {
        for j in 0..n {
            let (x, y) = ((i as f64 + 0.5) * STEP, (j as f64 + 0.5) * STEP);
            let near_corner = x < r && y < r;
            if x > band && y > band && (near_corner || (x - r).hypot(y - r) < r) {
                count += 1.0;
            }
        }
    }
    count * STEP * STEP
}
