//! What a taking makes of a plan: areas, frames, flaws, names, prices.

use proptest::prelude::*;
use scantling::check;
use scantling::geom::{BBox, Point, Region, Ring, boolean, clip, distance, pt};
use scantling::model::{
    CameFrom, Flaw, FlawBody, FlawKind, Grade, GrainWish, Layout, Limits, Offcut, Photo, Piece, Placed, Plan,
    PlanLimits, Question, Rectangle, Slab, Yield, Zones,
};
use scantling::search::{Settings, Unwatched, solve};
use scantling::stock::{self, Print, Taking};

use super::super::make;

fn solved(q: &Question) -> Plan {
    solve(q, &Settings { seed: 1, rounds: Some(1), ..Settings::default() }, &Unwatched).plan
}

fn broken(q: &Question, plan: &Plan) -> Vec<String> {
    check::judge(q, plan).into_iter().filter(|f| f.grade == Grade::Broken).map(|f| f.message).collect()
}

/// A plan by hand: pieces at given corners, offcuts with given outlines and rectangles (corner, size).
fn plan(q: &Question, slab: &str, placed: &[(&str, [f64; 2])], offcuts: &[(&[[f64; 2]], [f64; 4])]) -> Plan {
    let placed = placed
        .iter()
        .map(|&(piece, shift)| Placed {
            job: q.jobs[0].name.clone(),
            piece: piece.to_owned(),
            turn: 0.0,
            shift,
            pinned: false,
            outline: Vec::new(),
            openings: Vec::new(),
        })
        .collect();
    let offcuts = offcuts
        .iter()
        .map(|&(outline, [x, y, w, h])| Offcut {
            outline: outline.to_vec(),
            rectangle: Rectangle { corner: [x, y], size: [w, h], turn: 0.0 },
        })
        .collect();
    let layout = Layout { slab: slab.to_owned(), slab_print: None, placed, yields: Yield::default(), offcuts };
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: vec![q.jobs[0].name.clone()],
        seed: 0,
        goal: Default::default(),
        effort: None,
        limits: PlanLimits::of(&q.shop.limits, 50.0, 100.0),
        layouts: vec![layout],
        unplaced: Vec::new(),
        cost: 0.0,
        cost_bound: 0.0,
        bound_rule: None,
        proven: false,
        offcut_worth: None,
        flaw_margin: None,
        findings: Vec::new(),
        held: Vec::new(),
    }
}

fn ring(points: &[[f64; 2]]) -> Ring {
    Ring::tidy(&points.iter().map(|&p| p.into()).collect::<Vec<Point>>()).unwrap().0
}

/// Slab = pieces + offcuts + waste, and the waste is what the plan leaves over.
#[track_caller]
fn areas_add_up(q: &Question, plan: &Plan, taking: &Taking) {
    for (cut, layout) in taking.cut.iter().zip(&plan.layouts) {
        let slab = q.rack[cut.slab].outline.area();
        let offcuts: f64 = cut.offcuts.iter().map(|o| o.outline.area()).sum();
        let sum = layout.yields.pieces_mm2 + offcuts + cut.waste;
        assert!((slab - sum).abs() < 5.0, "{slab} {sum}");
        assert!((layout.yields.slab_mm2 - slab).abs() < 1e-3 && cut.waste >= 0.0);
    }
}

/// An offcut in the frame of the slab that it came from.
fn back(offcut: &Slab) -> Region {
    let at = offcut.from.as_ref().unwrap().at;
    offcut.outline.map(|p| p + at).to_region()
}

#[test]
fn areas_add_up_and_offcuts_lie_where_they_lay() {
    let mut slab = make::slab("MG 1", 3000.0, 1500.0, 900.0);
    slab.grain = Some(30.0);
    let pieces = vec![make::piece("a", 1400.0, 600.0), make::piece("b", 900.0, 500.0)];
    for tight in [false, true] {
        let pieces = pieces.clone();
        let q =
            if tight { make::tight(pieces, vec![slab.clone()]) } else { make::question(pieces, vec![slab.clone()]) };
        let plan = solved(&q);
        assert_eq!(broken(&q, &plan), [""; 0]);
        let taking = stock::taking(&q, &plan, Some("2026-11-26"));
        areas_add_up(&q, &plan, &taking);
        let cut = &taking.cut[0];
        assert_eq!((taking.cut.len(), cut.slab, cut.offcuts.len()), (1, 0, plan.layouts[0].offcuts.len()));
        assert!(!cut.offcuts.is_empty());
        for (offcut, planned) in cut.offcuts.iter().zip(&plan.layouts[0].offcuts) {
            assert_eq!(offcut.outline.bbox().min, pt(0.0, 0.0));
            let region = back(offcut);
            // It holds the rectangle that the plan promises, and stays a kerf off the pieces.
            let [w, h] = planned.rectangle.size;
            let corner: Point = planned.rectangle.corner.into();
            let r = Ring::rectangle(BBox { min: corner, max: corner + pt(w, h) }).to_region();
            assert!(boolean::difference(&r, &region).area() < 1.0);
            for placed in &plan.layouts[0].placed {
                let stone = ring(&placed.outline).to_region();
                assert!(distance::regions(&region, &stone).distance >= q.shop.limits.kerf - 1e-3);
            }
            // The rule of the price, the grain as it ran, and all that is the same stone.
            let worth = w * h * 900.0 / 4.5e6 * q.shop.limits.keep_share;
            assert!((offcut.price - worth).abs() <= 0.005 + 1e-9, "{} {worth}", offcut.price);
            assert_eq!(offcut.grain, Some(30.0));
            assert_eq!(
                (&offcut.material, offcut.stone, offcut.thickness),
                (&slab.material, slab.stone, slab.thickness)
            );
            let from = CameFrom {
                slab: "MG 1".to_owned(),
                jobs: vec!["boathouse".to_owned()],
                at: offcut.from.as_ref().unwrap().at,
                date: Some("2026-11-26".to_owned()),
            };
            assert_eq!(offcut.from.as_deref(), Some(&from));
        }
    }
}

/// Strips as wide as the trim run round every piece. They are no part of an offcut, and all else is, out to the slab's own edges: a
/// straight-edge must lie against the stone as it lies against the outline on the rack.
#[test]
fn an_offcut_has_the_edges_of_its_slab() {
    // Depth of the piece; corners of what is left right of it and, if that is broad, above it (the kerf rounds the corner within, by four
    // more); its depth above.
    for (depth, corners, above) in [(1440.0, 4, 0.0), (1200.0, 10, 1500.0 - 20.0 - 1200.0 - 4.0)] {
        let mut slab = make::slab("MG 1", 3000.0, 1500.0, 900.0);
        let photo = Photo { file: "x.jpg".to_owned(), marks: Vec::new(), at: vec![pt(5.0, 7.0), pt(2900.0, 1400.0)] };
        slab.photo = Some(Box::new(photo.clone()));
        let q = make::question(vec![make::piece("a", 1900.0, depth)], vec![slab]);
        let mut plan = solved(&q);
        // Wherever the search has put it, a corner of the slab is as good as another: the lower left one, for the figures below.
        assert_eq!(plan.layouts[0].placed.len(), 1);
        let kept = settled(&q, &mut plan, [20.0, 20.0]);
        assert_eq!(broken(&q, &plan), [""; 0]);
        assert_eq!(kept.len(), 1);
        let outline = ring(&kept[0].outline);
        let right = 20.0 + 1900.0 + 4.0;
        assert_eq!(outline.points().len(), corners, "{outline:?}");
        assert!((outline.area() - ((3000.0 - right) * 1500.0 + right * above)).abs() < 100.0, "{}", outline.area());
        let b = outline.bbox();
        assert!(b.max.distance(pt(3000.0, 1500.0)) < 0.02 && b.min.y.abs() < 0.02, "{b:?}");
        let offcut = &stock::taking(&q, &plan, None).cut[0].offcuts[0];
        let at = offcut.from.as_ref().unwrap().at;
        assert!(at.distance(b.min) < 0.02, "{at:?}");
        // The photograph is the same; its marks keep their places on the stone.
        let places = &offcut.photo.as_ref().unwrap().at;
        assert!(places.iter().zip(&photo.at).all(|(p, q)| (*p + at).distance(*q) < 1e-9));
    }
}

/// A piece with broad stone all round leaves no ring: it is cut through beside the largest rectangle, and what then is left is looked at too.
#[test]
fn stone_round_a_piece_becomes_offcuts_with_through_cuts() {
    let mut slab = make::slab("MG 1", 3000.0, 1800.0, 900.0);
    slab.grain = None;
    let q = make::question(vec![make::piece("a", 400.0, 400.0)], vec![slab]);
    let mut plan = solved(&q);
    let kept = settled(&q, &mut plan, [1300.0, 700.0]);
    assert_eq!(broken(&q, &plan), [""; 0]);
    assert!(kept.len() >= 2, "{kept:?}");
    let stone = ring(&plan.layouts[0].placed[0].outline).to_region();
    let regions: Vec<Region> = kept.iter().map(|o| ring(&o.outline).to_region()).collect();
    for (i, region) in regions.iter().enumerate() {
        assert!(distance::regions(region, &stone).distance >= 4.0 - 1e-3);
        // Each has an edge of the slab.
        let b = region.bbox();
        assert!(b.min.x.min(b.min.y) < 0.02 || b.max.x > 2999.98 || b.max.y > 1799.98, "{b:?}");
        for other in &regions[..i] {
            assert!(distance::regions(region, other).distance >= 4.0 - 1e-3);
        }
    }
    let all: f64 = regions.iter().map(Region::area).sum();
    assert!(all > 0.9 * (3000.0 * 1800.0 - 400.0 * 400.0), "{all}");
}

/// Pins the only piece of a plan at a place, plans anew, and gives the offcuts.
fn settled(q: &Question, plan: &mut Plan, shift: [f64; 2]) -> Vec<Offcut> {
    let placed = &mut plan.layouts[0].placed[0];
    (placed.turn, placed.shift, placed.pinned) = (0.0, shift, true);
    let settings = Settings { seed: 1, rounds: Some(1), from: Some(plan.clone()), ..Settings::default() };
    *plan = solve(q, &settings, &Unwatched).plan;
    assert_eq!(plan.layouts[0].placed[0].shift, shift);
    plan.layouts[0].offcuts.clone()
}

/// With no trim a piece in a corner leaves an L, not just its largest rectangle.
#[test]
fn an_offcut_with_a_corner_keeps_it() {
    let q = make::tight(vec![make::piece("a", 1000.0, 600.0)], vec![make::slab("MG 1", 2000.0, 1000.0, 100.0)]);
    let outline = [[1000.0, 0.0], [2000.0, 0.0], [2000.0, 1000.0], [0.0, 1000.0], [0.0, 600.0], [1000.0, 600.0]];
    let p = plan(&q, "MG 1", &[("a", [0.0, 0.0])], &[(&outline, [1000.0, 0.0, 1000.0, 1000.0])]);
    let taking = stock::taking(&q, &p, None);
    let offcut = &taking.cut[0].offcuts[0];
    assert!((offcut.outline.area() - 1.4e6).abs() < 1.0 && taking.cut[0].waste < 1.0);
    assert_eq!(offcut.from.as_ref().unwrap().at, pt(0.0, 0.0));
    assert_eq!(offcut.price, 25.0);

    // The same from another program, which forgot the kerf: it is taken off.
    let mut q = q;
    q.shop.limits.kerf = 4.0;
    let cut = &stock::taking(&q, &p, None).cut[0];
    let stone = ring(&[[0.0, 0.0], [1000.0, 0.0], [1000.0, 600.0], [0.0, 600.0]]).to_region();
    assert!(distance::regions(&back(&cut.offcuts[0]), &stone).distance >= 4.0 - 1e-3);
    let kerf = 4.0 * 1600.0;
    assert!(
        (cut.offcuts[0].outline.area() - (1.4e6 - kerf)).abs() < 30.0 && (cut.waste - kerf).abs() < 30.0,
        "{}",
        cut.waste
    );
}

/// Outlines that are none, or that overlap: the rectangles stand for them.
#[test]
fn a_rectangle_stands_for_an_outline_that_is_none() {
    let q = make::tight(vec![make::piece("a", 500.0, 500.0)], vec![make::slab("MG 1", 2000.0, 1000.0, 100.0)]);
    let bow: &[[f64; 2]] = &[[500.0, 0.0], [2000.0, 1000.0], [2000.0, 0.0], [500.0, 1000.0]];
    let right: &[[f64; 2]] = &[[500.0, 0.0], [2000.0, 0.0], [2000.0, 1000.0], [500.0, 1000.0]];
    let at = [("a", [0.0, 0.0])];
    for outline in [&[][..], bow, &[[f64::NAN, 0.0], [1.0, 0.0], [1.0, 1.0]]] {
        let taking = stock::taking(&q, &plan(&q, "MG 1", &at, &[(outline, [600.0, 100.0, 1200.0, 800.0])]), None);
        let offcut = &taking.cut[0].offcuts[0];
        assert_eq!(offcut.outline, ring(&[[0.0, 0.0], [1200.0, 0.0], [1200.0, 800.0], [0.0, 800.0]]));
        assert_eq!(offcut.from.as_ref().unwrap().at, pt(600.0, 100.0));
    }
    let twice = [(right, [500.0, 0.0, 700.0, 1000.0]), (right, [1200.0, 0.0, 800.0, 1000.0])];
    let cut = &stock::taking(&q, &plan(&q, "MG 1", &at, &twice), None).cut[0];
    assert_eq!(cut.offcuts.iter().map(|o| o.outline.area()).collect::<Vec<_>>(), [7e5, 8e5]);
    // A rectangle of no size is no offcut; a layout without pieces, or of no slab, is no cut.
    let none = plan(&q, "MG 1", &at, &[(&[], [500.0, 0.0, 0.0, 0.0])]);
    assert_eq!(stock::taking(&q, &none, None).cut[0].offcuts, []);
    assert_eq!(stock::taking(&q, &plan(&q, "MG 1", &[], &[]), None).cut, []);
    assert_eq!(stock::taking(&q, &plan(&q, "MG 2", &at, &[]), None).cut, []);
}

/// The offcut is the right half of the slab, from x = 1000.
fn right_half(flaws: Vec<Flaw>, limits: Limits) -> Slab {
    let slab = Slab { flaws, ..make::slab("MG 1", 2000.0, 1000.0, 100.0) };
    let mut q = make::question(vec![make::piece("a", 900.0, 900.0)], vec![slab]);
    q.shop.limits = limits;
    let outline: &[[f64; 2]] = &[[1000.0, 0.0], [2000.0, 0.0], [2000.0, 1000.0], [1000.0, 1000.0]];
    let p = plan(&q, "MG 1", &[("a", [20.0, 20.0])], &[(outline, [1020.0, 20.0, 960.0, 960.0])]);
    stock::taking(&q, &p, None).cut[0].offcuts[0].clone()
}

#[test]
fn flaws_are_clipped_to_the_offcut() {
    let odd = Zones::of(&[scantling::model::Zone::Rail]);
    let flaws = vec![
        // In and out and in again: two fissures. Its allowance is its own.
        Flaw {
            body: FlawBody::Line(
                [[800.0, 100.0], [1200.0, 100.0], [1200.0, 300.0], [900.0, 300.0], [900.0, 500.0], [1300.0, 500.0]]
                    .map(Point::from)
                    .to_vec(),
            ),
            allow: odd,
            ..make::line_flaw(FlawKind::Fissure, [0.0, 0.0], [1.0, 0.0], 3.0)
        },
        make::line_flaw(FlawKind::Crack, [100.0, 50.0], [700.0, 50.0], 2.0),
        Flaw {
            kind: FlawKind::Stain,
            body: FlawBody::Area(ring(&[[900.0, 600.0], [1100.0, 600.0], [1100.0, 800.0], [900.0, 800.0]])),
            radius: 0.0,
            allow: Zones::NONE,
        },
        Flaw { kind: FlawKind::Pit, body: FlawBody::Spot(pt(1500.0, 500.0)), radius: 4.0, allow: Zones::NONE },
        Flaw { kind: FlawKind::Pit, body: FlawBody::Spot(pt(995.0, 900.0)), radius: 4.0, allow: Zones::NONE },
    ];
    let offcut = right_half(flaws.clone(), Limits::default());
    let found: Vec<(FlawKind, FlawBody)> = offcut.flaws.iter().map(|f| (f.kind, f.body.clone())).collect();
    // The line's end is cut its own half width beyond the edge, at x = -1.5.
    let x = -1.5;
    let line = |points: &[[f64; 2]]| (FlawKind::Fissure, points.to_vec());
    let lines: Vec<(FlawKind, Vec<[f64; 2]>)> = offcut
        .flaws
        .iter()
        .filter_map(|f| match &f.body {
            FlawBody::Line(l) => Some((f.kind, l.iter().map(|&p| p.into()).collect())),
            _ => None,
        })
        .collect();
    let expected =
        [line(&[[x, 100.0], [200.0, 100.0], [200.0, 300.0], [x, 300.0]]), line(&[[x, 500.0], [300.0, 500.0]])];
    assert_eq!(lines.len(), 2, "{found:?}");
    for ((_, a), (_, b)) in lines.iter().zip(&expected) {
        assert_eq!(a.len(), b.len(), "{a:?}");
        assert!(a.iter().zip(b).all(|(p, q)| Point::from(*p).distance((*q).into()) < 0.06), "{a:?} {b:?}");
    }
    assert!(offcut.flaws[..2].iter().all(|f| f.allow == odd && f.radius == 1.5));
    let FlawBody::Area(area) = &found[2].1 else { panic!("{found:?}") };
    assert!((area.area() - 100.0 * 200.0).abs() < 1.0);
    // The pit inside moved with the frame; that 1 mm beyond the edge is gone, for the trim keeps pieces farther off.
    assert_eq!(found[3..], [(FlawKind::Pit, FlawBody::Spot(pt(500.0, 500.0)))]);
    // Where the trim is less than the flaw gap, what lies beyond the edge still bears on pieces, and stays.
    let near = right_half(flaws, Limits { trim: 2.0, ..Limits::default() });
    let pits: Vec<Point> =
        near.flaws.iter().filter_map(|f| if let FlawBody::Spot(p) = f.body { Some(p) } else { None }).collect();
    assert_eq!(pits, [pt(500.0, 500.0), pt(-5.0, 900.0)]);
}

/// What was legal on the slab is legal on the offcut and the other way round, as far as flaws go: they lie where they lay.
#[test]
fn an_offcut_can_be_planned_on_again() {
    let mut slab = make::slab("MG 1", 2000.0, 1000.0, 100.0);
    slab.grain = Some(0.0);
    slab.flaws = vec![make::line_flaw(FlawKind::Crack, [200.0, 700.0], [1900.0, 880.0], 2.0)];
    let long = Piece { grain: GrainWish::Towards(0.0), ..make::piece("long", 1900.0, 300.0) };
    let mut q = make::question(vec![long], vec![slab.clone()]);
    q.shop.limits.keep_area = 0.1;
    q.shop.limits.keep_side = 150.0;
    let first = solved(&q);
    assert_eq!(broken(&q, &first), [""; 0]);
    let taking = stock::taking(&q, &first, None);
    let offcuts: Vec<Slab> = taking.offcuts().cloned().collect();
    assert_eq!(offcuts[0].name, "MG 1 a");

    // A second job on the offcuts alone.
    let small = Piece { grain: GrainWish::Towards(0.0), ..make::piece("small", 500.0, 180.0) };
    let mut again = make::question(vec![small], offcuts.clone());
    again.shop = q.shop.clone();
    let second = solved(&again);
    assert_eq!(broken(&again, &second), [""; 0]);
    let spot = &second.layouts[0].placed[0];
    let offcut = offcuts.iter().find(|o| o.name == second.layouts[0].slab).unwrap();
    let at = offcut.from.as_ref().unwrap().at;
    let stone = ring(&spot.outline).map(|p| p + at).to_region();
    // In the frame of the slab the piece lies in the slab, off the first one, and off the crack.
    let taken = ring(&first.layouts[0].placed[0].outline).to_region();
    assert!(boolean::difference(&stone, &slab.outline.to_region()).area() < 1.0);
    assert!(distance::regions(&stone, &taken).distance >= q.shop.limits.gap - 1e-3);
    assert!(slab.flaws[0].distance_to(&stone).distance >= q.shop.limits.flaw_gap - 1e-3);
    // And its own offcuts are named after it.
    let third = stock::taking(&again, &second, None);
    assert!(
        third.offcuts().all(|o| o.name.starts_with(&offcut.name) && o.name.ends_with(|c: char| c.is_ascii_digit()))
    );
}

#[test]
fn names_go_on_and_are_never_given_twice() {
    let q = |name: &str, from: bool, others: &[&str]| {
        let mut slab = make::slab(name, 2000.0, 1000.0, 100.0);
        slab.from =
            from.then(|| Box::new(CameFrom { slab: "x".to_owned(), jobs: Vec::new(), at: pt(0.0, 0.0), date: None }));
        let others = others.iter().map(|n| make::slab(n, 100.0, 100.0, 1.0));
        make::question(vec![make::piece("a", 500.0, 500.0)], std::iter::once(slab).chain(others).collect())
    };
    let two: [(&[[f64; 2]], [f64; 4]); 2] = [(&[], [600.0, 0.0, 600.0, 900.0]), (&[], [1300.0, 0.0, 600.0, 900.0])];
    let names = |q: &Question| -> Vec<String> {
        let p = plan(q, &q.rack[0].name, &[("a", [20.0, 20.0])], &two);
        stock::taking(q, &p, None).offcuts().map(|o| o.name.clone()).collect()
    };
    assert_eq!(names(&q("GG-17/2", false, &[])), ["GG-17/2 a", "GG-17/2 b"]);
    assert_eq!(names(&q("GG-17/2", false, &["GG-17/2 a"])), ["GG-17/2 b", "GG-17/2 c"]);
    assert_eq!(names(&q("GG-17/2 a", true, &[])), ["GG-17/2 a1", "GG-17/2 a2"]);
    assert_eq!(names(&q("GG-17/2 a1", true, &["GG-17/2 a1b"])), ["GG-17/2 a1a", "GG-17/2 a1c"]);
    // A name too long to be added to is shortened, and is still one of its own.
    let long = names(&q(&"ä".repeat(200), false, &[]));
    assert!(long[0] != long[1] && long.iter().all(|n| n.chars().count() <= 200));
}

#[test]
fn fingerprints_notice_what_a_plan_rests_on() {
    let mut slab = make::slab("MG 1", 2000.0, 1000.0, 100.0);
    slab.flaws = vec![make::line_flaw(FlawKind::Fissure, [0.0, 0.0], [100.0, 0.0], 1.0)];
    let same = stock::slab_print(&slab);
    // Plans on disk hold it, so it must never change. Worked out apart, from the content as it is described.
    assert_eq!(same, "p1-26cdfcb3e5d0880b");
    let changes: [fn(&mut Slab); 11] = [
        |s| s.name.push('x'),
        |s| s.material.push('x'),
        |s| s.stone = scantling::model::StoneClass::Marble,
        |s| s.thickness += 0.1,
        |s| s.price += 0.01,
        |s| s.outline = s.outline.map(|p| p * 1.000_01),
        |s| s.grain = Some(0.0),
        |s| s.flaws.clear(),
        |s| s.flaws[0].radius += 0.5,
        |s| s.flaws[0].kind = FlawKind::Crack,
        |s| s.flaws[0].allow = Zones::NONE,
    ];
    for (k, change) in changes.iter().enumerate() {
        let mut other = slab.clone();
        change(&mut other);
        assert_ne!(stock::slab_print(&other), same, "{k}");
    }
    let harmless: [fn(&mut Slab); 4] = [
        |s| s.lot = Some("L".to_owned()),
        |s| s.number = Some(3),
        |s| s.outline = s.outline.map(|p| p + pt(1e-9, -1e-9)),
        |s| s.from = Some(Box::new(CameFrom { slab: "x".to_owned(), jobs: Vec::new(), at: pt(0.0, 0.0), date: None })),
    ];
    for (k, change) in harmless.iter().enumerate() {
        let mut other = slab.clone();
        change(&mut other);
        assert_eq!(stock::slab_print(&other), same, "{k}");
    }
    let q = make::question(vec![make::piece("a", 500.0, 500.0)], vec![slab]);
    let mut p = plan(&q, "MG 1", &[("a", [20.0, 20.0])], &[]);
    assert_eq!(stock::prints(&q, &p), [Print::Missing]);
    stock::mark(&q, &mut p);
    assert_eq!(stock::prints(&q, &p), [Print::Same]);
    p.layouts[0].slab_print = Some("p1-0".to_owned());
    assert_eq!(stock::prints(&q, &p), [Print::Changed]);
    p.layouts[0].slab = "MG 9".to_owned();
    assert_eq!(stock::prints(&q, &p), [Print::Gone]);
}

#[test]
fn least_sizes_are_held_by_outlines() {
    let holds = |points: &[[f64; 2]], l: f64, d: f64| {
        stock::holds_rectangle(&Slab { outline: ring(points), ..make::slab("s", 1.0, 1.0, 1.0) }, l, d)
    };
    let plain = [[0.0, 0.0], [900.0, 0.0], [900.0, 500.0], [0.0, 500.0]];
    assert!(holds(&plain, 900.0, 500.0) && holds(&plain, 500.0, 900.0));
    assert!(!holds(&plain, 900.1, 500.0) && !holds(&plain, 1000.0, 10.0));
    // An L has the box of a square, and no room for one.
    let l = [[0.0, 0.0], [900.0, 0.0], [900.0, 300.0], [300.0, 300.0], [300.0, 900.0], [0.0, 900.0]];
    assert!(holds(&l, 900.0, 300.0) && holds(&l, 300.0, 900.0) && !holds(&l, 400.0, 400.0));
    // Askew: by its own sides.
    let (c, s) = (30f64.to_radians().cos(), 30f64.to_radians().sin());
    let askew = plain.map(|[x, y]| [c * x - s * y, s * x + c * y]);
    assert!(holds(&askew, 899.99, 499.99) && !holds(&askew, 902.0, 500.0));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// Cut lines are the part of the line inside: by sampling, against a plain twin.
    #[test]
    fn lines_are_cut_where_the_region_ends(
        line in prop::collection::vec((-50f64..150.0, -50f64..150.0), 2..6),
        notch in 10f64..90.0,
    ) {
        let line: Vec<Point> = line.into_iter().map(|(x, y)| pt(x, y)).collect();
        let outline = ring(&[[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [notch, 100.0], [notch, 40.0], [notch - 8.0, 40.0], [notch - 8.0, 100.0], [0.0, 100.0]]);
        let region = outline.to_region();
        let parts = clip::line_within(&line, &region);
        let on_parts = |p: Point| parts.iter().any(|part| part.windows(2).any(|w| distance::nearest_on_segment(p, w[0], w[1]).distance(p) < 1e-6));
        for w in line.windows(2) {
            for k in 0..=200 {
                let p = w[0].lerp(w[1], f64::from(k) / 200.0);
                let edge = outline.edges().map(|(a, b)| distance::nearest_on_segment(p, a, b).distance(p)).fold(f64::INFINITY, f64::min);
                if edge > 1e-6 {
                    // A line that doubles back may pass where another part of it was cut; it is on the line all the same.
                    prop_assert_eq!(on_parts(p), region.contains(p), "{:?}", p);
                }
            }
        }
        for part in &parts {
            prop_assert!(part.len() >= 2);
            prop_assert!(part[1..part.len() - 1].iter().all(|p| line.contains(p)));
        }
    }
}
