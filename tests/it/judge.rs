//! The judge, rule by rule: at the limit, just inside it, just past it; against `geo` where a second opinion helps.

use geo::{Area, Distance, Euclidean};
use scantling::check::{judge, least_flaw_margin};
use scantling::geom::curve::{Corner, Side};
use scantling::geom::pose::cos_sin;
use scantling::geom::{BBox, Point, Pose, Ring, pt, sum};
use scantling::model::*;

// ---- questions and plans in code; `mutation` uses them too ----

pub const JOB: &str = "Mill Lane 4";

/// A granite slab of 30 mm, grain along x, price 500.
pub fn slab(name: &str, width: f64, height: f64) -> Slab {
    Slab {
        name: name.into(),
        material: "blue granite".into(),
        stone: StoneClass::Granite,
        stone_given: true,
        thickness: 30.0,
        lot: None,
        number: None,
        price: 500.0,
        outline: Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(width, height) }),
        grain: Some(0.0),
        flaws: Vec::new(),
        tests: None,
        photo: None,
        from: None,
    }
}

pub fn flaw(kind: FlawKind, body: FlawBody, radius: f64) -> Flaw {
    Flaw { kind, body, radius, allow: kind.default_zones() }
}

pub fn spot(kind: FlawKind, x: f64, y: f64, radius: f64) -> Flaw {
    flaw(kind, FlawBody::Spot(pt(x, y)), radius)
}

/// A piece of any shape, all edges raw, grain along.
pub fn shaped(name: &str, shape: Shape) -> Piece {
    let sides = match &shape {
        Shape::Polygon(corners) => corners.len(),
        Shape::Ellipse { .. } => 1,
    };
    Piece {
        name: name.into(),
        kind: 0,
        outline: Outline::new(shape, vec![Finish::Raw; sides]),
        openings: Vec::new(),
        grain: GrainWish::Towards(0.0),
        grain_tolerance: 0.0,
        one_way: false,
        hidden: Hidden::default(),
    }
}

pub fn piece(name: &str, width: f64, depth: f64) -> Piece {
    shaped(name, Shape::rectangle(width, depth, 0.0))
}

pub fn polygon(points: &[[f64; 2]]) -> Shape {
    Shape::Polygon(points.iter().map(|&p| Corner { at: p.into(), radius: 0.0 }).collect())
}

pub fn circle(x: f64, y: f64, radius: f64) -> Shape {
    Shape::Ellipse { centre: pt(x, y), half_x: radius, half_y: radius }
}

/// A rectangular opening with corners of 20 mm.
pub fn sink(name: &str, x: f64, y: f64, width: f64, depth: f64) -> Opening {
    let shape = Shape::rectangle(width, depth, 20.0).moved(pt(x, y));
    Opening::new(name.into(), OpeningKind::UndermountSink, shape)
}

pub fn tap(name: &str, x: f64, y: f64, radius: f64) -> Opening {
    Opening::new(name.into(), OpeningKind::TapHole, circle(x, y, radius))
}

pub fn finished(mut piece: Piece, sides: &[usize]) -> Piece {
    for &side in sides {
        piece.outline.finishes[side] = Finish::Finished("polished".into());
    }
    piece
}

pub fn question(rack: Vec<Slab>, pieces: Vec<Piece>) -> Question {
    let job = Job { name: JOB.into(), material: "blue granite".into(), thickness: 30.0, pieces };
    Question { jobs: vec![job], rack, shop: Shop::default() }
}

/// A complete plan of the first job: `lies` says slab, piece, turn and shift. Areas come from `geo`.
pub fn plan(q: &Question, lies: &[(&str, &str, f64, [f64; 2])]) -> Plan {
    let piece_of = |name: &str| q.jobs[0].pieces.iter().find(|p| p.name == name).unwrap();
    let layouts: Vec<Layout> = q
        .rack
        .iter()
        .filter(|s| lies.iter().any(|l| l.0 == s.name))
        .map(|s| {
            let here: Vec<_> = lies.iter().filter(|l| l.0 == s.name).collect();
            let placed = here.iter().map(|&&(_, name, turn, shift)| placed(q, piece_of(name), turn, shift)).collect();
            let pieces = here.iter().map(|l| area(&piece_of(l.1).outline.ring)).sum();
            let openings = here.iter().flat_map(|l| &piece_of(l.1).openings).map(|o| area(&o.ring)).sum();
            let usable = sum::shrunk(&s.outline.to_region(), q.shop.limits.trim, 0.01).area();
            let yields = Yield::of(area(&s.outline), usable, pieces, openings);
            Layout { slab: s.name.clone(), slab_print: None, placed, yields, offcuts: Vec::new() }
        })
        .collect();
    let used: Vec<&Slab> = q.rack.iter().filter(|s| layouts.iter().any(|l| l.slab == s.name)).collect();
    let cost = used.iter().map(|s| s.price).sum();
    let limits = &q.shop.limits;
    let rails: Vec<RailDefaults> = used.iter().map(|s| limits.rails(s)).collect();
    let rod = rails.iter().map(|r| r.rod).fold(0.0, f64::max);
    Plan {
        format: Plan::FORMAT.into(),
        jobs: q.jobs.iter().map(|j| j.name.clone()).collect(),
        seed: 1,
        goal: Goal::Cost,
        effort: None,
        limits: PlanLimits::of(limits, rails.iter().map(|r| r.stop).fold(0.0, f64::max), rod),
        layouts,
        unplaced: Vec::new(),
        cost,
        cost_bound: cost,
        bound_rule: None,
        proven: true,
        offcut_worth: None,
        flaw_margin: None,
        findings: Vec::new(),
        held: Vec::new(),
    }
}

pub fn placed(q: &Question, piece: &Piece, turn: f64, shift: [f64; 2]) -> Placed {
    let pose = Pose::new(turn, shift.into());
    let line = |ring: &Ring| pose.ring(ring).points().iter().map(|&p| p.into()).collect();
    let openings =
        piece.openings.iter().map(|o| OpeningOutline { opening: o.name.clone(), outline: line(&o.ring) }).collect();
    Placed {
        job: q.jobs[0].name.clone(),
        piece: piece.name.clone(),
        turn,
        shift,
        pinned: false,
        outline: line(&piece.outline.ring),
        openings,
    }
}

fn as_geo(points: &[Point]) -> geo::Polygon {
    geo::Polygon::new(geo::LineString::from_iter(points.iter().map(|p| (p.x, p.y))), Vec::new())
}

fn area(ring: &Ring) -> f64 {
    as_geo(ring.points()).unsigned_area()
}

pub fn broken(findings: &[Finding]) -> Vec<Rule> {
    findings.iter().filter(|f| f.grade == Grade::Broken).map(|f| f.rule).collect()
}

fn only(findings: &[Finding], rule: Rule) -> &Finding {
    let of_rule: Vec<_> = findings.iter().filter(|f| f.rule == rule).collect();
    assert_eq!(of_rule.len(), 1, "one {rule:?} in {findings:#?}");
    of_rule[0]
}

/// A limit holds exactly, holds when missed by half a micrometre, and is broken when missed by two.
///
/// `case` makes question and plan with a clearance that misses its limit by the given millimetres.
#[track_caller]
fn limit(rule: Rule, case: impl Fn(f64) -> (Question, Plan)) {
    for short in [-1.0, 0.0, 0.0005] {
        let (q, p) = case(short);
        let findings = judge(&q, &p);
        assert!(broken(&findings).is_empty(), "{short} mm short: {findings:#?}");
    }
    for short in [0.002, 1.0] {
        let (q, p) = case(short);
        let findings = judge(&q, &p);
        assert_eq!(broken(&findings), [rule], "{short} mm short: {findings:#?}");
        let f = only(&findings, rule);
        let gap = f.needed.unwrap() - f.found.unwrap();
        assert!((gap - short).abs() < 5e-4, "{short} mm short, told {gap}: {}", f.message);
        assert!(f.message.contains("mm"), "{}", f.message);
    }
}

// ---- clearances ----

#[test]
fn a_good_plan_gives_no_finding_at_all() {
    let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    assert_eq!(judge(&q, &plan(&q, &[("BG-1", "desk", 180.0, [2100.0, 700.0])])), []);
}

#[test]
fn a_piece_keeps_the_trim() {
    limit(Rule::OutsideSlab, |short| {
        let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
        let p = plan(&q, &[("BG-1", "desk", 0.0, [20.0 - short, 300.0])]);
        (q, p)
    });
}

#[test]
fn a_trim_of_nothing_lets_a_piece_fit_exactly_however_it_is_turned() {
    for turn in [0.0, 17.3, 30.0, 90.0, 211.7] {
        let mut q = question(vec![slab("BG-1", 2000.0, 600.0)], vec![piece("desk", 2000.0, 600.0)]);
        q.shop.limits.trim = 0.0;
        q.jobs[0].pieces[0].grain = GrainWish::Any;
        let pose = Pose::new(turn, pt(800.0, -300.0));
        q.rack[0].outline = pose.ring(&q.rack[0].outline);
        let fits = plan(&q, &[("BG-1", "desk", turn, [800.0, -300.0])]);
        assert_eq!(judge(&q, &fits), [], "{turn}");
        let (c, s) = cos_sin(turn);
        let out = plan(&q, &[("BG-1", "desk", turn, [800.0 + 0.01 * c, -300.0 + 0.01 * s])]);
        assert_eq!(broken(&judge(&q, &out)), [Rule::OutsideSlab], "{turn}");
        // Outside, along the slanted outline.
        let beside = pose.apply(pt(0.0, 600.0));
        let beside = plan(&q, &[("BG-1", "desk", turn, beside.into())]);
        assert_eq!(broken(&judge(&q, &beside)), [Rule::OutsideSlab], "{turn}");
    }
}

#[test]
fn a_piece_that_spans_a_notch_of_the_slab_sticks_out() {
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    let notched =
        [[0.0, 0.0], [1000.0, 0.0], [1100.0, 300.0], [1200.0, 0.0], [3000.0, 0.0], [3000.0, 1600.0], [0.0, 1600.0]];
    q.rack[0].outline = Ring::tidy(&notched.map(Point::from)).unwrap().0;
    let p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), [Rule::OutsideSlab]);
    let f = only(&findings, Rule::OutsideSlab);
    assert!(f.found.unwrap() < -40.0, "{f:?}");
    assert!(f.message.starts_with("\"desk\" sticks out of BG-1 by "), "{}", f.message);
}

#[test]
fn two_pieces_keep_the_gap() {
    limit(Rule::PiecesTooClose, |short| {
        let q = question(
            vec![slab("BG-1", 3000.0, 1600.0)],
            vec![piece("desk", 1500.0, 600.0), piece("shelf", 900.0, 500.0)],
        );
        let p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0]), ("BG-1", "shelf", 0.0, [50.0, 656.0 - short])]);
        (q, p)
    });
}

#[test]
fn the_message_names_both_pieces_and_tells_found_from_needed() {
    let q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 1500.0, 600.0), piece("shelf", 900.0, 500.0)]);
    let near = |y: f64| {
        let p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0]), ("BG-1", "shelf", 0.0, [50.0, y])]);
        only(&judge(&q, &p), Rule::PiecesTooClose).message.clone()
    };
    assert_eq!(near(653.2), "\"shelf\" lies 3.2 mm from \"desk\" on BG-1; 6 mm is needed");
    assert_eq!(near(655.99), "\"shelf\" lies 5.99 mm from \"desk\" on BG-1; 6 mm is needed");
    assert_eq!(near(640.0), "\"shelf\" overlaps \"desk\" by 10 mm on BG-1; a gap of 6 mm is needed");
}

#[test]
fn distances_between_turned_pieces_are_those_of_geo() {
    let mut random = Random(7);
    let (mut apart, mut overlapping) = (0, 0);
    for _ in 0..200 {
        let mut ell = shaped(
            "ell",
            polygon(&[[0.0, 0.0], [900.0, 0.0], [900.0, 300.0], [350.0, 300.0], [350.0, 800.0], [0.0, 800.0]]),
        );
        let mut round = shaped("round", Shape::Ellipse { centre: pt(200.0, 120.0), half_x: 200.0, half_y: 120.0 });
        (ell.grain, round.grain) = (GrainWish::Any, GrainWish::Any);
        let mut q = question(vec![slab("BG-1", 4000.0, 4000.0)], vec![ell, round]);
        q.shop.limits.gap = 5000.0;
        let at = |r: &mut Random| [1500.0 + r.upto(1000.0), 1500.0 + r.upto(1000.0)];
        let (t0, s0) = (random.upto(360.0), at(&mut random));
        let (t1, s1) = (random.upto(360.0), at(&mut random));
        let p = plan(&q, &[("BG-1", "ell", t0, s0), ("BG-1", "round", t1, s1)]);
        let found = only(&judge(&q, &p), Rule::PiecesTooClose).found.unwrap();
        let lines: Vec<geo::Polygon> = p.layouts[0]
            .placed
            .iter()
            .map(|l| as_geo(&l.outline.iter().map(|&v| v.into()).collect::<Vec<Point>>()))
            .collect();
        let truth = Euclidean.distance(&lines[0], &lines[1]);
        if truth > 0.0 {
            apart += 1;
            assert!((found - truth).abs() < 1e-6, "{found} and {truth}");
        } else {
            overlapping += 1;
            assert!(found <= 0.0, "{found}");
        }
    }
    assert!(apart > 20 && overlapping > 20, "{apart} {overlapping}");
}

#[test]
fn with_no_gap_pieces_may_touch_but_not_overlap() {
    for turn in [0.0, 33.0, 90.0, 180.0] {
        let mut q = question(
            vec![slab("BG-1", 6000.0, 6000.0)],
            vec![piece("desk", 1500.0, 600.0), piece("shelf", 1500.0, 500.0)],
        );
        (q.shop.limits.gap, q.shop.limits.kerf) = (0.0, 0.0);
        for p in &mut q.jobs[0].pieces {
            p.grain = GrainWish::Any;
        }
        let pose = Pose::new(turn, pt(3000.0, 3000.0));
        let lies = |x: f64, y: f64| {
            let shift = pose.apply(pt(x, y));
            plan(&q, &[("BG-1", "desk", turn, [3000.0, 3000.0]), ("BG-1", "shelf", turn, shift.into())])
        };
        assert_eq!(judge(&q, &lies(0.0, 600.0)), [], "{turn}");
        assert_eq!(broken(&judge(&q, &lies(0.0, 599.99))), [Rule::PiecesTooClose], "{turn}");
        // One on top of the other, wholly inside, and exactly the same place.
        assert_eq!(broken(&judge(&q, &lies(0.0, 50.0))), [Rule::PiecesTooClose], "{turn}");
        assert_eq!(broken(&judge(&q, &lies(0.0, 0.0))), [Rule::PiecesTooClose], "{turn}");
    }
}

/// An overlap of 1 mm at one end went unseen beside a long touch, because its depth was averaged over both.
#[test]
fn a_long_touch_does_not_hide_a_deep_corner() {
    let step = polygon(&[[0.0, 0.0], [2900.0, 0.0], [2900.0, 401.0], [2899.0, 401.0], [2899.0, 400.0], [0.0, 400.0]]);
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![shaped("step", step), piece("plank", 2900.0, 300.0)]);
    (q.shop.limits.gap, q.shop.limits.kerf) = (0.0, 0.0);
    let p = plan(&q, &[("BG-1", "step", 0.0, [30.0, 30.0]), ("BG-1", "plank", 0.0, [30.0, 429.9999])]);
    assert!(broken(&judge(&q, &p)).contains(&Rule::PiecesTooClose));
    // The same at the slab's outline.
    let mut q = question(vec![slab("BG-1", 3000.0, 400.0)], vec![q.jobs[0].pieces[0].clone()]);
    q.shop.limits.trim = 0.0;
    let p = plan(&q, &[("BG-1", "step", 0.0, [30.0, 0.0001])]);
    assert!(broken(&judge(&q, &p)).contains(&Rule::OutsideSlab));
}

#[test]
fn a_small_piece_lies_in_a_drop_only_if_the_shop_uses_drops() {
    let make = |use_drops: bool, short: f64| {
        let mut desk = piece("desk", 2000.0, 700.0);
        desk.openings.push(sink("basin", 600.0, 150.0, 700.0, 400.0));
        let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![desk, piece("sill", 400.0, 120.0)]);
        q.shop.limits.use_drops = use_drops;
        let mut p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0]), ("BG-1", "sill", 0.0, [800.0, 260.0 - short])]);
        // The sill is stone of the drop and counts once.
        let (y, sill) = (&mut p.layouts[0].yields, 400.0 * 120.0);
        *y = Yield::of(y.slab_mm2, y.usable_mm2, y.pieces_mm2 - sill, y.openings_mm2 - sill);
        (q, p)
    };
    let (q, p) = make(false, 0.0);
    assert_eq!(broken(&judge(&q, &p)), [Rule::PiecesTooClose]);
    limit(Rule::DropCutInto, |short| make(true, short));
    // Nearer than the gap to the stone itself.
    let (q, p) = make(true, 5.0);
    assert_eq!(broken(&judge(&q, &p)), [Rule::PiecesTooClose, Rule::DropCutInto]);
}

// ---- flaws and zones ----

/// A desk at (100, 100): front finished, back strip of 40 mm hidden, one sink; and one flaw.
fn with_flaw(flaw: Flaw) -> (Question, Plan) {
    let mut desk = finished(piece("desk", 2000.0, 700.0), &[0]);
    desk.hidden.back = 40.0;
    desk.openings.push(sink("basin", 1100.0, 150.0, 600.0, 400.0));
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![desk]);
    q.rack[0].flaws.push(flaw);
    let p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    (q, p)
}

/// As [`limit`], for zones: their round borders are within 4 µm, on the lenient side.
#[track_caller]
fn zone_limit(word: &str, case: impl Fn(f64) -> Flaw) {
    for short in [-1.0, -0.001, 0.0, 0.0005] {
        let (q, p) = with_flaw(case(short));
        assert_eq!(broken(&judge(&q, &p)), [], "{short} mm short");
        let margin = least_flaw_margin(&q, &p).unwrap();
        assert!((margin + short).abs() < 0.005, "{short} mm short: margin {margin}");
    }
    for short in [0.006, 1.0] {
        let (q, p) = with_flaw(case(short));
        let findings = judge(&q, &p);
        assert_eq!(broken(&findings), [Rule::FlawInZone], "{short} mm short");
        let f = only(&findings, Rule::FlawInZone);
        assert!(f.message.contains(word), "{}", f.message);
        assert!((10.0 - f.found.unwrap() - short).abs() < 0.005, "{short} mm short: {f:?}");
        let margin = least_flaw_margin(&q, &p).unwrap();
        assert!((margin + short).abs() < 0.005, "{short} mm short: margin {margin}");
    }
}

/// A fissure of 3 mm may lie in the field, 10 mm from the rail, which reaches 100 mm from the sink.
#[test]
fn a_fissure_keeps_away_from_the_rail() {
    zone_limit("the rail at \"basin\"", |short| {
        spot(FlawKind::Fissure, 1200.0 - 100.0 - 10.0 - 1.5 + short, 450.0, 1.5)
    });
    // Straight out of a rounded corner: its centre is at (1120, 170) in the piece.
    let diagonal = |short: f64| (20.0 + 100.0 + 10.0 + 1.5 - short) / 2f64.sqrt();
    zone_limit("the rail at \"basin\"", |short| {
        let d = diagonal(short);
        let mut f = spot(FlawKind::Fissure, 1220.0 - d, 650.0 - 20.0 + d, 1.5);
        // At the back corner the finished front is far; the hidden strip is allowed.
        f.allow = Zones::of(&[Zone::Field, Zone::Hidden, Zone::Drop, Zone::Edge]);
        f
    });
}

#[test]
fn a_fissure_keeps_away_from_the_finished_edge() {
    zone_limit("the finished edge", |short| spot(FlawKind::Fissure, 500.0, 100.0 + 25.0 + 10.0 + 2.0 - short, 2.0));
    // A line that ends short of it.
    zone_limit("the finished edge", |short| {
        let line = vec![pt(300.0, 600.0), pt(400.0, 400.0), pt(420.0, 136.0 - short)];
        flaw(FlawKind::Fissure, FlawBody::Line(line), 1.0)
    });
    // No rule keeps it from the raw left end.
    let (q, p) = with_flaw(spot(FlawKind::Fissure, 100.0, 400.0, 2.0));
    assert_eq!(broken(&judge(&q, &p)), []);
}

#[test]
fn a_stain_keeps_away_from_the_field_but_may_lie_in_the_hidden_strip() {
    // The strip is the back 40 mm: y from 760 to 800 on the slab.
    zone_limit("the field", |short| spot(FlawKind::Stain, 400.0, 760.0 + 10.0 + 5.0 - short, 5.0));
    zone_limit("the field", |short| {
        let ring = Ring::rectangle(BBox { min: pt(300.0, 770.0 - short), max: pt(500.0, 790.0) });
        flaw(FlawKind::Stain, FlawBody::Area(ring), 0.0)
    });
    // Rail goes before hidden: the same place behind the sink is rail.
    let (q, p) = with_flaw(spot(FlawKind::Stain, 1500.0, 780.0, 5.0));
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), []);
    // ... where the strip is within 100 mm of the sink: the sink's back is at y = 650, the rail ends at 750.
    let (mut q, p) = with_flaw(spot(FlawKind::Stain, 1500.0, 780.0, 5.0));
    q.shop.limits.rail_zone = 150.0;
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), [Rule::FlawInZone]);
    assert!(only(&findings, Rule::FlawInZone).message.contains("the rail"), "{findings:?}");
}

#[test]
fn edge_goes_before_hidden() {
    let at_back = spot(FlawKind::Pit, 400.0, 785.0, 2.0);
    let (q, p) = with_flaw(at_back.clone());
    assert_eq!(broken(&judge(&q, &p)), []);
    let (mut q, p) = with_flaw(at_back);
    q.jobs[0].pieces[0].outline.finishes[2] = Finish::Finished("eased".into());
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), [Rule::FlawInZone]);
    assert!(only(&findings, Rule::FlawInZone).message.contains("the finished edge"), "{findings:?}");
}

#[test]
fn a_crack_may_lie_in_a_drop_and_outside_and_nowhere_else() {
    zone_limit("the rail at \"basin\"", |short| spot(FlawKind::Crack, 1200.0 + 10.0 + 1.0 - short, 450.0, 1.0));
    zone_limit("the field", |short| spot(FlawKind::Crack, 100.0 - 10.0 - 1.0 + short, 400.0, 1.0));
    let (q, p) = with_flaw(flaw(FlawKind::Crack, FlawBody::Line(vec![pt(50.0, 900.0), pt(1500.0, 450.0)]), 1.0));
    let f = judge(&q, &p);
    assert_eq!(broken(&f), [Rule::FlawInZone]);
    let message = &only(&f, Rule::FlawInZone).message;
    assert!(message.contains("the rail at \"basin\", the hidden strip and the field of \"desk\""), "{message}");
}

/// The drop is no stone, but it is a zone: a flaw whose list lacks it keeps away.
#[test]
fn a_flaw_that_may_not_lie_in_the_drop_keeps_away_from_it() {
    zone_limit("the drop", |short| {
        let mut f = spot(FlawKind::Fissure, 1200.0 - 10.0 - 1.0 + short, 450.0, 1.0);
        f.allow = Zones::of(&[Zone::Rail, Zone::Edge, Zone::Hidden, Zone::Field]);
        f
    });
}

#[test]
fn a_flaw_that_may_lie_anywhere_bears_on_nothing() {
    let mut f = spot(FlawKind::Crack, 600.0, 400.0, 30.0);
    f.allow = Zones::of(&Zone::ALL);
    let (q, p) = with_flaw(f);
    assert_eq!(judge(&q, &p), []);
    assert_eq!(least_flaw_margin(&q, &p), None);
}

/// Zones by the letter: every point of a strange piece, classified by distances from `geo`, against the judge.
#[test]
fn every_point_has_the_zone_that_the_letter_gives_it() {
    let shape = Shape::Polygon(
        [
            (0.0, 0.0, 0.0),
            (1500.0, 0.0, 60.0),
            (1500.0, 600.0, 0.0),
            (700.0, 650.0, 30.0),
            (650.0, 1200.0, 0.0),
            (0.0, 1200.0, 0.0),
        ]
        .map(|(x, y, radius)| Corner { at: pt(x, y), radius })
        .to_vec(),
    );
    let mut odd = finished(shaped("odd", shape), &[0, 3]);
    odd.hidden = Hidden { front: 0.0, right: 30.0, back: 80.0, left: 45.0 };
    odd.grain = GrainWish::Any;
    odd.openings.push(sink("basin", 500.0, 160.0, 500.0, 260.0));
    odd.openings.push(tap("tap", 250.0, 1100.0, 18.0));
    let mut q = question(vec![slab("BG-1", 3000.0, 3000.0)], vec![odd]);
    q.shop.limits.flaw_gap = 0.0;
    let pose = Pose::new(37.0, pt(1300.0, 400.0));

    let zone_at = |p: Point| -> Option<Zone> {
        let piece = &q.jobs[0].pieces[0];
        let at = geo::Point::new(p.x, p.y);
        let off = |ring: &Ring| Euclidean.distance(&at, &as_geo(ring.points()));
        if piece.openings.iter().any(|o| off(&o.ring) == 0.0) {
            return Some(Zone::Drop);
        }
        if off(&piece.outline.ring) > 0.0 {
            return None;
        }
        if off(&piece.openings[0].ring) <= 100.0 || off(&piece.openings[1].ring) <= 25.0 {
            return Some(Zone::Rail);
        }
        let edge_off = |(a, b): (Point, Point)| Euclidean.distance(&at, &geo::Line::new((a.x, a.y), (b.x, b.y)));
        if piece.outline.finished_edges().any(|e| edge_off(e) <= 25.0) {
            return Some(Zone::Edge);
        }
        if p.x <= 45.0 || p.x >= 1470.0 || p.y >= 1120.0 {
            return Some(Zone::Hidden);
        }
        Some(Zone::Field)
    };
    let mut random = Random(3);
    let mut points = Vec::new();
    while points.len() < 1200 {
        let p = pt(random.upto(1600.0) - 50.0, random.upto(1300.0) - 50.0);
        // Points within a hair of a border say nothing.
        let around = [pt(0.1, 0.0), pt(-0.1, 0.0), pt(0.0, 0.1), pt(0.0, -0.1)];
        let zone = zone_at(p);
        if around.iter().all(|&d| zone_at(p + d) == zone) {
            points.push((p, zone));
        }
    }
    for zone in Zone::ALL {
        let flaws = points.iter().map(|&(p, _)| {
            let mut f = spot(FlawKind::Stain, pose.apply(p).x, pose.apply(p).y, 0.02);
            f.allow = Zones::of(&[zone]).others();
            f
        });
        let mut q = q.clone();
        q.rack[0].flaws = flaws.collect();
        let p = plan(&q, &[("BG-1", "odd", 37.0, [1300.0, 400.0])]);
        let hit: Vec<[f64; 2]> =
            judge(&q, &p).iter().filter(|f| f.rule == Rule::FlawInZone).map(|f| f.at.unwrap()).collect();
        let should: Vec<[f64; 2]> =
            points.iter().filter(|(_, z)| *z == Some(zone)).map(|&(p, _)| pose.apply(p).into()).collect();
        assert!(!should.is_empty(), "{zone:?} has points");
        assert_eq!(hit, should, "{zone:?}");
    }
}

// ---- grain and stone ----

#[test]
fn grain_is_judged_modulo_half_or_whole_turns() {
    let off = |wish: GrainWish, tolerance: f64, one_way: bool, turn: f64, grain: Option<f64>| {
        let mut q = question(vec![slab("BG-1", 3000.0, 3000.0)], vec![piece("desk", 600.0, 300.0)]);
        q.rack[0].grain = grain;
        let desk = &mut q.jobs[0].pieces[0];
        (desk.grain, desk.grain_tolerance, desk.one_way) = (wish, tolerance, one_way);
        let p = plan(&q, &[("BG-1", "desk", turn, [1500.0, 1500.0])]);
        let findings = judge(&q, &p);
        assert!(broken(&findings).iter().all(|r| *r == Rule::GrainOff), "{findings:?}");
        !findings.is_empty()
    };
    let along = GrainWish::Towards(0.0);
    assert!(!off(along, 0.0, false, 180.0, Some(0.0)));
    assert!(off(along, 0.0, true, 180.0, Some(0.0)));
    assert!(!off(along, 0.0, true, 360.0, Some(0.0)));
    assert!(!off(along, 0.0, true, -180.0, Some(180.0)));
    assert!(off(along, 0.0, false, 90.0, Some(0.0)));
    assert!(!off(GrainWish::Towards(90.0), 0.0, false, 90.0, Some(0.0)));
    assert!(!off(GrainWish::Towards(90.0), 0.0, true, 270.0, Some(0.0)));
    assert!(off(GrainWish::Towards(90.0), 0.0, true, 90.0, Some(0.0)));
    assert!(!off(GrainWish::Any, 0.0, true, 33.0, Some(0.0)));
    assert!(!off(along, 0.0, true, 33.0, None));
    for sign in [-1.0, 1.0] {
        assert!(!off(along, 5.0, false, sign * 5.0, Some(0.0)));
        assert!(!off(along, 5.0, false, sign * 5.000_000_5, Some(0.0)));
        assert!(off(along, 5.0, false, sign * 5.000_01, Some(0.0)));
        assert!(!off(along, 5.0, false, 180.0 + sign * 5.0, Some(0.0)));
        assert!(off(along, 5.0, true, 180.0 + sign * 5.0, Some(0.0)));
    }
}

#[test]
fn material_and_thickness_are_those_of_the_job() {
    let rules = |change: &dyn Fn(&mut Slab)| {
        let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
        change(&mut q.rack[0]);
        let p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
        broken(&judge(&q, &p))
    };
    assert_eq!(rules(&|s| s.material = "red granite".into()), [Rule::WrongMaterial]);
    assert_eq!(rules(&|s| s.thickness = 30.5), []);
    assert_eq!(rules(&|s| s.thickness = 30.6), [Rule::WrongThickness]);
    assert_eq!(rules(&|s| s.thickness = 29.4), [Rule::WrongThickness]);
}

#[test]
fn an_assumed_class_is_noted_once_a_slab() {
    let mut q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 1500.0, 600.0), piece("shelf", 900.0, 500.0)]);
    q.rack[0].stone_given = false;
    let p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0]), ("BG-1", "shelf", 0.0, [50.0, 700.0])]);
    let findings = judge(&q, &p);
    assert_eq!(only(&findings, Rule::StoneAssumed).grade, Grade::Note);
    assert_eq!(findings.len(), 1);
}

// ---- the piece by itself ----

/// A piece of 2000 x 700 with these openings, on a good plan.
fn with_openings(openings: Vec<Opening>, change: impl Fn(&mut Question)) -> (Question, Plan) {
    let mut desk = piece("desk", 2000.0, 700.0);
    desk.openings = openings;
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![desk]);
    change(&mut q);
    let p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    (q, p)
}

#[test]
fn a_rail_has_its_least_width() {
    let front = |width: f64| vec![sink("basin", 600.0, width, 500.0, 400.0)];
    limit(Rule::RailTooNarrow, |short| with_openings(front(50.0 - short), |_| {}));
    limit(Rule::RailTooNarrow, |short| with_openings(front(60.0 - short), |q| q.shop.limits.min_rail = Some(60.0)));
    limit(Rule::RailTooNarrow, |short| {
        with_openings(front(75.0 - short), |q| {
            q.rack[0].stone = StoneClass::Onyx;
        })
    });
    let least = |width: f64| vec![tap("tap", 600.0, width + 17.5, 17.5)];
    limit(Rule::RailTooNarrow, |short| with_openings(least(25.0 - short), |_| {}));
    let (q, p) = with_openings(front(48.0), |_| {});
    let findings = judge(&q, &p);
    assert_eq!(
        only(&findings, Rule::RailTooNarrow).message,
        "the rail between \"basin\" and the edge of \"desk\" is 48 mm wide; 50 mm is needed in granite of 30 mm"
    );
    let f = only(&findings, Rule::RailTooNarrow);
    assert_eq!((f.opening.as_deref(), f.slab.as_deref()), (Some("basin"), None));
    assert!(f.at.is_some_and(|at| at[1].abs() < 1e-6), "piece frame, at the edge: {f:?}");
}

/// A tap hole drawn exactly at its limit, off the axes, where a flattened circle would reach out by 0.05 mm.
#[test]
fn a_round_opening_is_measured_by_its_true_line() {
    limit(Rule::RailTooNarrow, |short| {
        let slope =
            shaped("slope", polygon(&[[0.0, 0.0], [1200.0, 0.0], [1200.0, 300.0], [300.0, 1200.0], [0.0, 1200.0]]));
        let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![slope]);
        // The slope is x + y = 1500.
        let off = (17.5 + 25.0 - short) / 2f64.sqrt();
        q.jobs[0].pieces[0].openings.push(tap("tap", 750.0 - off, 750.0 - off, 17.5));
        let p = plan(&q, &[("BG-1", "slope", 0.0, [100.0, 100.0])]);
        (q, p)
    });
}

#[test]
fn a_web_has_its_least_width() {
    let two = |a: Opening, b: Opening| with_openings(vec![a, b], |_| {});
    limit(Rule::WebTooNarrow, |short| {
        two(sink("left", 200.0, 120.0, 500.0, 400.0), sink("right", 800.0 - short, 120.0, 500.0, 400.0))
    });
    limit(Rule::WebTooNarrow, |short| {
        two(sink("left", 200.0, 120.0, 500.0, 400.0), tap("tap", 700.0 + 25.0 + 17.5 - short, 300.0, 17.5))
    });
    let (q, p) = two(sink("left", 200.0, 120.0, 500.0, 400.0), sink("right", 650.0, 120.0, 500.0, 400.0));
    let findings = judge(&q, &p);
    // The depth of a short strip is told a little low: twice its area over its perimeter.
    assert!(only(&findings, Rule::WebTooNarrow).message.contains("overlap by 45.4 mm"), "{findings:?}");
}

#[test]
fn an_opening_stays_in_its_piece() {
    let (q, p) = with_openings(vec![sink("basin", 600.0, -5.0, 500.0, 400.0)], |_| {});
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), [Rule::OpeningOutsidePiece]);
    assert_eq!(only(&findings, Rule::OpeningOutsidePiece).message, "opening \"basin\" sticks out of \"desk\" by 5 mm");
    let (q, p) = with_openings(vec![sink("basin", 2600.0, 100.0, 300.0, 300.0)], |_| {});
    assert_eq!(broken(&judge(&q, &p)), [Rule::OpeningOutsidePiece]);
    let (q, p) = with_openings(vec![sink("basin", 600.0, 0.0, 500.0, 400.0)], |_| {});
    assert_eq!(broken(&judge(&q, &p)), [Rule::RailTooNarrow]);
}

#[test]
fn rods_are_a_note_and_small_openings_need_none() {
    let notes = |openings: Vec<Opening>, change: &dyn Fn(&mut Question)| {
        let (q, p) = with_openings(openings, change);
        let findings = judge(&q, &p);
        assert_eq!(broken(&findings), [], "{findings:?}");
        let rods: Vec<_> = findings.into_iter().filter(|f| f.rule == Rule::RailWantsRods).collect();
        assert!(rods.iter().all(|f| f.grade == Grade::Note));
        rods
    };
    let front = |width: f64| vec![sink("basin", 600.0, width, 500.0, 400.0)];
    assert_eq!(notes(front(99.9), &|_| {}).len(), 1);
    assert_eq!(notes(front(99.9995), &|_| {}).len(), 0);
    assert_eq!(notes(front(120.0), &|q| q.shop.limits.rod_rail = Some(130.0)).len(), 1);
    let always = notes(front(140.0), &|q| q.rack[0].stone = StoneClass::Travertine);
    assert_eq!(always.len(), 1);
    assert_eq!(always[0].needed, None);
    assert_eq!(notes(front(61.0), &|q| q.rack[0].stone = StoneClass::Porcelain).len(), 0);
    assert_eq!(notes(vec![tap("tap", 600.0, 60.0, 17.5)], &|q| q.rack[0].stone = StoneClass::Travertine).len(), 0);
}

#[test]
fn thin_stone_with_a_large_opening_is_a_warning() {
    let found = |openings: Vec<Opening>| {
        let (q, p) = with_openings(openings, |q| {
            q.jobs[0].thickness = 12.0;
            q.rack[0].thickness = 12.0;
        });
        judge(&q, &p).iter().filter(|f| f.rule == Rule::ThinForOpenings && f.grade == Grade::Warning).count()
    };
    assert_eq!(found(vec![sink("basin", 600.0, 120.0, 500.0, 400.0)]), 1);
    assert_eq!(found(vec![tap("tap", 600.0, 300.0, 17.5)]), 0);
}

#[test]
fn corners_fit_the_smallest_core_bit() {
    let hole = |radius: f64| {
        let shape = Shape::rectangle(500.0, 400.0, radius).moved(pt(600.0, 120.0));
        with_openings(vec![Opening::new("basin".into(), OpeningKind::Cooktop, shape)], |_| {})
    };
    let rules = |(q, p): (Question, Plan)| broken(&judge(&q, &p));
    assert_eq!(rules(hole(10.0)), []);
    assert_eq!(rules(hole(9.9995)), []);
    assert_eq!(rules(hole(9.99)), [Rule::InsideCornerTooTight]);
    assert_eq!(rules(hole(0.0)), [Rule::InsideCornerTooTight]);
    // The piece's own inside corner stays fuller than drawn: a warning.
    let ell = |radius: f64| {
        let mut shape =
            polygon(&[[0.0, 0.0], [1800.0, 0.0], [1800.0, 600.0], [600.0, 600.0], [600.0, 1400.0], [0.0, 1400.0]]);
        if let Shape::Polygon(corners) = &mut shape {
            corners[3].radius = radius;
        }
        let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![shaped("ell", shape)]);
        let p = plan(&q, &[("BG-1", "ell", 0.0, [100.0, 100.0])]);
        judge(&q, &p)
    };
    assert_eq!(only(&ell(0.0), Rule::InsideCornerTooTight).grade, Grade::Warning);
    assert_eq!(ell(10.0), []);
}

#[test]
fn a_piece_without_a_place_is_judged_by_the_first_slab_that_qualifies() {
    let mut desk = piece("desk", 2000.0, 700.0);
    desk.openings.push(sink("basin", 600.0, 60.0, 500.0, 400.0));
    let mut q = question(vec![slab("RG-1", 3000.0, 1600.0), slab("BG-1", 3000.0, 1600.0)], vec![desk]);
    q.rack[0].material = "red granite".into();
    q.rack[1].stone = StoneClass::Onyx;
    let mut p = plan(&q, &[]);
    p.unplaced.push(Unplaced {
        job: JOB.into(),
        piece: "desk".into(),
        reason: "no room".into(),
        needed: 0.0,
        found: 0.0,
    });
    (p.proven, p.cost_bound) = (false, 500.0);
    let findings = judge(&q, &p);
    assert_eq!(broken(&findings), [Rule::Unplaced, Rule::RailTooNarrow]);
    assert_eq!(only(&findings, Rule::Unplaced).message, "\"desk\" has no place: no room");
    q.rack.pop();
    assert_eq!(broken(&judge(&q, &p)), [Rule::Unplaced]);
}

// ---- the plan against the question ----

#[test]
fn outlines_are_compared_as_lines() {
    let mut round = shaped("round", circle(500.0, 500.0, 500.0));
    round.openings.push(sink("basin", 300.0, 350.0, 400.0, 300.0));
    round.grain = GrainWish::Any;
    let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![round]);
    let good = plan(&q, &[("BG-1", "round", 25.0, [900.0, 200.0])]);
    assert_eq!(broken(&judge(&q, &good)), []);
    let with = |change: &dyn Fn(&mut Placed)| {
        let mut p = good.clone();
        change(&mut p.layouts[0].placed[0]);
        judge(&q, &p).into_iter().filter(|f| f.rule == Rule::OutlineDiffers).collect::<Vec<_>>()
    };
    let pose = Pose::new(25.0, pt(900.0, 200.0));
    // Another program: chords inside the arc, at other points, from another start, clockwise.
    let chords: Vec<[f64; 2]> =
        circle(500.0, 500.0, 500.0).flatten(Side::Inner).points.iter().map(|&p| pose.apply(p).into()).collect();
    assert_eq!(with(&|l| l.outline = chords.clone()), []);
    assert_eq!(with(&|l| l.outline.rotate_left(17)), []);
    assert_eq!(with(&|l| l.outline.reverse()), []);
    // A side split in two.
    assert_eq!(
        with(&|l| {
            let [a, b] = [Point::from(l.openings[0].outline[0]), Point::from(l.openings[0].outline[1])];
            l.openings[0].outline.insert(1, a.lerp(b, 0.3).into());
        }),
        []
    );
    let moved = |line: &[[f64; 2]], by: f64| line.iter().map(|p| [p[0] + by, p[1]]).collect::<Vec<_>>();
    let found = with(&|l| l.outline = moved(&l.outline, 0.2));
    assert_eq!(found.len(), 1);
    assert!((found[0].found.unwrap() - 0.2).abs() < 0.06, "{found:?}");
    let found = with(&|l| l.openings[0].outline = moved(&l.openings[0].outline, 0.2));
    assert_eq!((found.len(), found[0].opening.as_deref(), found[0].grade), (1, Some("basin"), Grade::Broken));
    // The right corners in the wrong order.
    let crossed = with(&|l| {
        let n = l.openings[0].outline.len();
        l.openings[0].outline[..n / 2].reverse();
    });
    assert_eq!(crossed.len(), 1, "{crossed:?}");
    // Not drawn, unknown, twice.
    assert_eq!(with(&|l| l.openings[0].opening = "bowl".into()).len(), 2);
    assert_eq!(with(&|l| l.openings.push(l.openings[0].clone())).len(), 1);
    // Not given at all: a note.
    for grade in [
        with(&|l| l.outline.clear()),
        with(&|l| l.openings.clear()),
        with(&|l| l.openings[0].outline.clear()),
        with(&|l| {
            l.outline.clear();
            l.openings.clear();
        }),
    ] {
        assert_eq!(grade.iter().map(|f| f.grade).collect::<Vec<_>>(), [Grade::Note]);
    }
}

/// A rectangle whose corners are visited crosswise has all corners on the right line, and is wrong in between.
#[test]
fn a_bow_tie_is_no_rectangle() {
    let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    p.layouts[0].placed[0].outline.swap(1, 2);
    assert_eq!(broken(&judge(&q, &p)), [Rule::OutlineDiffers]);
}

#[test]
fn nonsense_is_named_and_does_no_harm() {
    let mut round = shaped("round", circle(500.0, 500.0, 500.0));
    round.openings.push(sink("basin", 300.0, 350.0, 400.0, 300.0));
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![round]);
    q.rack[0].flaws.push(spot(FlawKind::Crack, 2500.0, 300.0, 5.0));
    let good = plan(&q, &[("BG-1", "round", 0.0, [900.0, 200.0])]);
    assert_eq!(broken(&judge(&q, &good)), []);
    let first = |change: &dyn Fn(&mut Placed)| {
        let mut p = good.clone();
        change(&mut p.layouts[0].placed[0]);
        let _ = least_flaw_margin(&q, &p);
        broken(&judge(&q, &p))
    };
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, 1e7] {
        assert_eq!(first(&|l| l.turn = bad), [Rule::NumberNonsense], "{bad}");
        assert_eq!(first(&|l| l.shift[0] = bad), [Rule::NumberNonsense], "{bad}");
        assert_eq!(first(&|l| l.shift[1] = -bad), [Rule::NumberNonsense], "{bad}");
        assert_eq!(first(&|l| l.outline[3][1] = bad), [Rule::NumberNonsense], "{bad}");
        assert_eq!(first(&|l| l.openings[0].outline[3][0] = bad), [Rule::NumberNonsense], "{bad}");
        let mut p = good.clone();
        (p.cost, p.cost_bound) = (-bad, -bad);
        assert!(broken(&judge(&q, &p)).contains(&Rule::NumberNonsense), "{bad}");
        let mut p = good.clone();
        p.layouts[0].yields.net = bad;
        assert_eq!(broken(&judge(&q, &p)), [Rule::FigureWrong], "{bad}");
        let mut p = good.clone();
        let rectangle = Rectangle { corner: [2000.0, bad], size: [500.0, 500.0], turn: 0.0 };
        p.layouts[0].offcuts = vec![Offcut { outline: Vec::new(), rectangle }];
        assert_eq!(broken(&judge(&q, &p)), [Rule::NumberNonsense], "{bad}");
    }
    assert_eq!(first(&|l| l.outline.truncate(2)), [Rule::NumberNonsense]);
    assert_eq!(first(&|l| l.openings[0].outline.truncate(1)), [Rule::NumberNonsense]);
    assert_eq!(first(&|l| l.outline = vec![[0.0, 0.0]; 50_000]), [Rule::NumberNonsense]);
    assert_eq!(first(&|l| l.outline = vec![[0.0, 0.0]; 250_000]), [Rule::NumberNonsense]);
    // Just within all limits, and as nasty as can be.
    let zigzag: Vec<[f64; 2]> = (0..3999).map(|i| [f64::from(i), if i % 2 == 0 { 0.0 } else { 1500.0 }]).collect();
    assert_eq!(first(&|l| l.outline = zigzag.clone()), [Rule::OutlineDiffers]);
    let mut p = good.clone();
    let rectangle = Rectangle { corner: [2000.0, 200.0], size: [200.0, 200.0], turn: 0.0 };
    p.layouts[0].offcuts = vec![Offcut { outline: zigzag, rectangle }];
    assert!(!broken(&judge(&q, &p)).is_empty());
    p.layouts[0].offcuts = vec![Offcut { outline: Vec::new(), rectangle }; 10_000];
    assert_eq!(broken(&judge(&q, &p)), [Rule::NumberNonsense]);
    let mut p = good.clone();
    p.layouts[0].placed = vec![p.layouts[0].placed[0].clone(); 500];
    assert!(broken(&judge(&q, &p)).contains(&Rule::PlacedTwice));
}

#[test]
fn an_empty_plan_leaves_everything_without_a_place() {
    let q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0), piece("shelf", 10.0, 10.0)]);
    let mut p = plan(&q, &[]);
    p.proven = false;
    assert_eq!(broken(&judge(&q, &p)), [Rule::Unplaced, Rule::Unplaced]);
    assert_eq!(least_flaw_margin(&q, &p), None);
    let nothing = question(Vec::new(), Vec::new());
    assert_eq!(judge(&nothing, &plan(&nothing, &[])), []);
}

#[test]
fn a_slab_laid_out_twice_is_still_one_slab() {
    let q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 1500.0, 600.0), piece("shelf", 900.0, 500.0)]);
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0])]);
    let second = plan(&q, &[("BG-1", "shelf", 0.0, [50.0, 600.0])]);
    p.layouts.extend(second.layouts);
    assert_eq!(broken(&judge(&q, &p)), [Rule::SlabUsedTwice, Rule::PiecesTooClose]);
}

#[test]
fn cost_and_bound_are_judged_to_half_a_cent() {
    let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    let rules = |cost: f64, bound: f64, proven: bool| {
        let mut p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
        (p.cost, p.cost_bound, p.proven) = (cost, bound, proven);
        broken(&judge(&q, &p))
    };
    assert_eq!(rules(500.0, 500.0, true), []);
    assert_eq!(rules(500.004, 500.0, true), []);
    assert_eq!(rules(500.0, 400.0, false), []);
    assert_eq!(rules(500.01, 500.0, false), [Rule::FigureWrong]);
    assert_eq!(rules(500.0, 400.0, true), [Rule::FigureWrong]);
    assert_eq!(rules(500.0, 501.0, false), [Rule::FigureWrong]);
    assert_eq!(rules(500.0, -1.0, false), [Rule::NumberNonsense]);
    // A plan that leaves something out may cost less than any that does not; it may not claim to be proven.
    let q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0), piece("bar", 2000.0, 900.0)]);
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    p.unplaced.push(Unplaced { job: JOB.into(), piece: "bar".into(), reason: String::new(), needed: 0.0, found: 0.0 });
    p.cost_bound = 1000.0;
    assert_eq!(broken(&judge(&q, &p)), [Rule::Unplaced, Rule::FigureWrong]);
    p.proven = false;
    assert_eq!(broken(&judge(&q, &p)), [Rule::Unplaced]);
}

#[test]
fn yields_and_margins_are_recomputed() {
    let (q, good) = with_flaw(spot(FlawKind::Crack, 2500.0, 400.0, 5.0));
    let margin = 2500.0 - 5.0 - 2100.0 - 10.0;
    assert!((least_flaw_margin(&q, &good).unwrap() - margin).abs() < 0.005);
    let rules = |change: &dyn Fn(&mut Plan)| {
        let mut p = good.clone();
        change(&mut p);
        broken(&judge(&q, &p))
    };
    assert_eq!(rules(&|p| p.layouts[0].yields.slab_mm2 *= 1.0009), []);
    assert_eq!(rules(&|p| p.layouts[0].yields.slab_mm2 *= 1.002), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.layouts[0].yields.usable_mm2 = 2960.0 * 1560.0), []);
    assert_eq!(rules(&|p| p.layouts[0].yields.usable_mm2 *= 0.99), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.layouts[0].yields.pieces_mm2 *= 0.99), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.layouts[0].yields.openings_mm2 = 0.0), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.layouts[0].yields.net += 0.002), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.layouts[0].yields.gross += 0.002), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.flaw_margin = Some(margin)), []);
    assert_eq!(rules(&|p| p.flaw_margin = Some(margin + 1.0)), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.flaw_margin = Some(f64::NAN)), [Rule::FigureWrong]);
    assert_eq!(rules(&|p| p.offcut_worth = Some(0.0)), []);
    assert_eq!(rules(&|p| p.offcut_worth = Some(5.0)), [Rule::FigureWrong]);
}

#[test]
fn other_limits_than_the_shops_are_a_warning_each() {
    let q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [100.0, 100.0])]);
    (p.limits.gap, p.limits.rod_rail) = (4.0, None);
    let findings = judge(&q, &p);
    assert!(findings.iter().all(|f| (f.rule, f.grade) == (Rule::LimitsDiffer, Grade::Warning)), "{findings:?}");
    assert_eq!(findings.len(), 2);
    assert_eq!(findings[0].message, "the plan was made with a gap of 4 mm; the shop has 6 mm");
}

// ---- offcuts ----

fn with_offcut(corner: [f64; 2], size: [f64; 2], turn: f64) -> (Question, Plan) {
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 2000.0, 600.0)]);
    q.rack[0].flaws.push(spot(FlawKind::Stain, 1500.0, 1400.0, 10.0));
    q.rack[0].flaws.push(spot(FlawKind::Fissure, 500.0, 1200.0, 5.0));
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [20.0, 20.0])]);
    p.layouts[0].offcuts.push(Offcut { outline: Vec::new(), rectangle: Rectangle { corner, size, turn } });
    (q, p)
}

#[test]
fn an_offcut_keeps_trim_gap_and_flaw_gap() {
    limit(Rule::OffcutNotFree, |short| with_offcut([20.0 - short, 700.0], [1000.0, 600.0], 0.0));
    limit(Rule::OffcutNotFree, |short| with_offcut([30.0, 626.0 - short], [1000.0, 600.0], 0.0));
    // The stain keeps the field away, the fissure does not.
    limit(Rule::OffcutNotFree, |short| with_offcut([480.0 + short, 700.0], [1000.0, 800.0], 0.0));
    // Turned about its corner.
    limit(Rule::OffcutNotFree, |short| with_offcut([1000.0, 626.0 - short], [700.0, 900.0], 90.0));
}

#[test]
fn offcuts_lie_in_their_outlines_and_off_one_another() {
    let (q, mut p) = with_offcut([30.0, 700.0], [1000.0, 600.0], 0.0);
    p.layouts[0].offcuts[0].outline = vec![[20.0, 650.0], [1400.0, 650.0], [1400.0, 1580.0], [20.0, 1580.0]];
    assert_eq!(broken(&judge(&q, &p)), []);
    let rules = |change: &dyn Fn(&mut Vec<Offcut>)| {
        let mut p = p.clone();
        change(&mut p.layouts[0].offcuts);
        broken(&judge(&q, &p))
    };
    assert_eq!(rules(&|o| o[0].outline[1][0] = 900.0), [Rule::OffcutNotFree]);
    assert_eq!(rules(&|o| o[0].outline[0][1] = 600.0), [Rule::OffcutNotFree]);
    assert_eq!(rules(&|o| o[0].outline[2][1] = 1601.0), [Rule::OffcutNotFree]);
    assert_eq!(rules(&|o| o[0].outline.swap(0, 1)), [Rule::NumberNonsense]);
    assert_eq!(rules(&|o| o.push(o[0].clone())), [Rule::OffcutNotFree]);
}

// ---- the list of findings ----

#[test]
fn findings_come_worst_first_then_in_plan_order_and_always_the_same() {
    let mut desk = piece("desk", 1500.0, 600.0);
    desk.openings.push(sink("basin", 400.0, 60.0, 500.0, 400.0));
    let mut q = question(vec![slab("BG-1", 3000.0, 1600.0)], vec![desk, piece("shelf", 900.0, 500.0)]);
    q.rack[0].stone_given = false;
    let mut p = plan(&q, &[("BG-1", "desk", 0.0, [5.0, 50.0]), ("BG-1", "shelf", 90.0, [600.0, 640.0])]);
    p.limits.kerf = 3.0;
    let findings = judge(&q, &p);
    let told: Vec<(Grade, Rule)> = findings.iter().map(|f| (f.grade, f.rule)).collect();
    assert_eq!(
        told,
        [
            (Grade::Broken, Rule::OutsideSlab),
            (Grade::Broken, Rule::GrainOff),
            (Grade::Broken, Rule::PiecesTooClose),
            (Grade::Warning, Rule::LimitsDiffer),
            (Grade::Note, Rule::StoneAssumed),
            (Grade::Note, Rule::RailWantsRods),
        ]
    );
    assert_eq!(judge(&q, &p), findings);
}

/// A small generator with a fixed seed (Marsaglia's xorshift), so that failures repeat.
pub struct Random(pub u64);

impl Random {
    pub fn upto(&mut self, most: f64) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64 * most
    }
}
