//! The sheets and the summary: what must be on them, where it must lie, and that a person can read it.

use std::collections::BTreeSet;

use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Pose, Ring, distance, pt};
use scantling::model::{
    Finding, Finish, Flaw, FlawBody, FlawKind, Grade, GrainWish, Hidden, Job, Layout, Offcut, Opening, OpeningKind,
    Outline, Piece, Placed, Plan, PlanLimits, Question, Rectangle, Rule, Shape, Shop, Slab, StoneClass, Unplaced,
    Yield,
};
use scantling::report::scene::{self, Scene};
use scantling::report::{self, Paper, Settings, sheet, text};
use scantling::units::Shown;

// ------------------------------------------------------------------------------------------------------------ scenarios

fn ring(points: &[[f64; 2]]) -> Ring {
    let points: Vec<_> = points.iter().map(|&p| p.into()).collect();
    Ring::tidy(&points).unwrap().0
}

fn flaw(kind: FlawKind, body: FlawBody, size: f64) -> Flaw {
    Flaw { kind, body, radius: size / 2.0, allow: kind.default_zones() }
}

fn line(points: &[[f64; 2]]) -> FlawBody {
    FlawBody::Line(points.iter().map(|&p| p.into()).collect())
}

fn slab(name: &str, outline: &[[f64; 2]], flaws: Vec<Flaw>) -> Slab {
    Slab {
        name: name.to_owned(),
        material: "grey granite".to_owned(),
        stone: StoneClass::Granite,
        stone_given: true,
        thickness: 30.0,
        lot: Some("GG-17".to_owned()),
        number: Some(2),
        price: 640.0,
        outline: ring(outline),
        grain: Some(0.0),
        flaws,
    }
}

fn finish(names: &[&str]) -> Vec<Finish> {
    names.iter().map(|&n| if n == "raw" { Finish::Raw } else { Finish::Finished(n.to_owned()) }).collect()
}

fn piece_of(name: &str, shape: Shape, finishes: &[&str], openings: Vec<Opening>) -> Piece {
    Piece {
        name: name.to_owned(),
        kind: 0,
        outline: Outline::new(shape, finish(finishes)),
        openings,
        grain: GrainWish::Towards(0.0),
        grain_tolerance: 0.0,
        one_way: false,
        hidden: Hidden::default(),
    }
}

fn run(name: &str, length: f64, depth: f64, openings: Vec<Opening>) -> Piece {
    piece_of(name, Shape::rectangle(length, depth, 0.0), &["polished", "raw", "raw", "polished"], openings)
}

fn hole(name: &str, kind: OpeningKind, size: [f64; 2], radius: f64, corner: [f64; 2]) -> Opening {
    Opening::new(name.to_owned(), kind, Shape::rectangle(size[0], size[1], radius).moved(corner.into()))
}

fn tap(at: [f64; 2]) -> Opening {
    let shape = Shape::Ellipse { centre: at.into(), half_x: 17.5, half_y: 17.5 };
    Opening::new("tap".to_owned(), OpeningKind::TapHole, shape)
}

fn question(slabs: Vec<Slab>, jobs: Vec<(&str, Vec<Piece>)>) -> Question {
    let jobs = jobs
        .into_iter()
        .map(|(name, pieces)| Job {
            name: name.to_owned(),
            material: "grey granite".to_owned(),
            thickness: 30.0,
            pieces,
        })
        .collect();
    Question { jobs, rack: slabs, shop: Shop::default() }
}

/// A plan by hand: for every slab where its pieces lie.
fn plan(q: &Question, layouts: Vec<(&str, Vec<(&str, f64, [f64; 2])>)>) -> Plan {
    let owner = |piece: &str| {
        q.jobs.iter().find(|j| j.pieces.iter().any(|p| p.name == piece)).map_or("?", |j| &j.name).to_owned()
    };
    let layouts: Vec<Layout> = layouts
        .into_iter()
        .map(|(slab, placed)| Layout {
            slab: slab.to_owned(),
            placed: placed
                .into_iter()
                .map(|(piece, turn, shift)| Placed {
                    job: owner(piece),
                    piece: piece.to_owned(),
                    turn,
                    shift,
                    pinned: false,
                    outline: Vec::new(),
                    openings: Vec::new(),
                })
                .collect(),
            yields: Yield::default(),
            offcuts: Vec::new(),
        })
        .collect();
    let cost = layouts.iter().filter_map(|l| q.rack.iter().find(|s| s.name == l.slab)).map(|s| s.price).sum();
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: q.jobs.iter().map(|j| j.name.clone()).collect(),
        seed: 1,
        effort: None,
        limits: PlanLimits {
            kerf: 4.0,
            gap: 6.0,
            trim: 20.0,
            flaw_gap: 10.0,
            min_rail: 50.0,
            rod_rail: Some(100.0),
            min_web: 100.0,
            rail_zone: 100.0,
            tap_zone: 25.0,
            edge_zone: 25.0,
        },
        layouts,
        unplaced: Vec::new(),
        cost,
        cost_bound: cost,
        bound_rule: None,
        proven: true,
        offcut_worth: None,
        flaw_margin: None,
        findings: Vec::new(),
    }
}

fn offcut(corner: [f64; 2], size: [f64; 2]) -> Offcut {
    let [x, y] = corner;
    let [w, h] = size;
    Offcut {
        outline: vec![[x - 5.0, y - 5.0], [x + w + 5.0, y - 5.0], [x + w + 12.0, y + h + 8.0], [x - 5.0, y + h + 2.0]],
        rectangle: Rectangle { corner, size, turn: 0.0 },
    }
}

fn finding(rule: Rule, grade: Grade, message: &str) -> Finding {
    Finding {
        rule,
        grade,
        job: None,
        piece: None,
        opening: None,
        slab: None,
        at: None,
        found: None,
        needed: None,
        message: message.to_owned(),
    }
}

/// A boathouse galley: two runs with a sink and a cooktop, an L, a strip; one of everything that a slab may show.
fn galley() -> (Question, Plan) {
    let stone = slab(
        "GG-17/2",
        &[[0.0, 0.0], [3050.0, 40.0], [3020.0, 1880.0], [1500.0, 1905.0], [30.0, 1900.0]],
        vec![
            flaw(FlawKind::Fissure, line(&[[400.0, 700.0], [900.0, 820.0], [1300.0, 800.0]]), 2.0),
            flaw(FlawKind::Crack, line(&[[2830.0, 1000.0], [2990.0, 1330.0], [2960.0, 1500.0]]), 3.0),
            flaw(FlawKind::Pit, FlawBody::Spot(pt(2860.0, 500.0)), 12.0),
            flaw(FlawKind::Stain, FlawBody::Area(ring(&[[2800.0, 620.0], [2950.0, 640.0], [2900.0, 780.0]])), 0.0),
            flaw(FlawKind::Patch, FlawBody::Spot(pt(1100.0, 760.0)), 60.0),
            flaw(FlawKind::Patch, line(&[[2800.0, 1650.0], [2980.0, 1780.0]]), 5.0),
        ],
    );
    let sink = hole("main sink", OpeningKind::UndermountSink, [700.0, 400.0], 20.0, [500.0, 90.0]);
    let hob = hole("hob", OpeningKind::Cooktop, [560.0, 490.0], 10.0, [900.0, 55.0]);
    let corners = [[0.0, 0.0], [1250.0, 0.0], [1250.0, 600.0], [600.0, 600.0], [600.0, 1150.0], [0.0, 1150.0]];
    let corners = corners
        .iter()
        .enumerate()
        .map(|(i, &at)| Corner { at: at.into(), radius: if i == 3 { 30.0 } else { 0.0 } })
        .collect();
    let ell = piece_of(
        "corner by the window",
        Shape::Polygon(corners),
        &["polished", "polished", "raw", "polished", "raw", "raw"],
        vec![tap([300.0, 900.0])],
    );
    let q = question(
        vec![stone],
        vec![(
            "Boathouse galley",
            vec![
                run("window run", 2650.0, 620.0, vec![sink, tap([850.0, 550.0])]),
                run("stove run", 1480.0, 600.0, vec![hob]),
                ell,
                run("sill", 1200.0, 150.0, vec![]),
            ],
        )],
    );
    let mut p = plan(
        &q,
        vec![(
            "GG-17/2",
            vec![
                ("window run", 180.0, [2700.0, 660.0]),
                ("stove run", 0.0, [1330.0, 1265.0]),
                ("corner by the window", 0.0, [56.0, 690.0]),
                ("sill", 0.0, [1330.0, 690.0]),
            ],
        )],
    );
    p.layouts[0].offcuts.push(offcut([1340.0, 855.0], [1200.0, 390.0]));
    (q, p)
}

/// Twenty-five like pieces with a basin on one slab.
fn washrooms() -> (Question, Plan) {
    let stone = slab("W-3", &[[0.0, 0.0], [3200.0, 0.0], [3200.0, 2060.0], [0.0, 2060.0]], vec![]);
    let pieces = (1..=25)
        .map(|i| {
            let shape = Shape::Ellipse { centre: pt(300.0, 190.0), half_x: 190.0, half_y: 130.0 };
            let basin = Opening::new("basin".to_owned(), OpeningKind::UndermountSink, shape);
            run(&format!("washroom shelf #{i}"), 610.0, 380.0, vec![basin, tap([550.0, 320.0])])
        })
        .collect();
    let q = question(vec![stone], vec![("Ferry terminal washrooms", pieces)]);
    let names: Vec<String> = (1..=25).map(|i| format!("washroom shelf #{i}")).collect();
    let placed = names
        .iter()
        .enumerate()
        .map(|(i, name)| {
            let (col, row) = ((i % 5) as f64, (i / 5) as f64);
            let turned = i % 2 == 1;
            let corner = [30.0 + col * 626.0, 30.0 + row * 392.0];
            let shift = if turned { [corner[0] + 610.0, corner[1] + 380.0] } else { corner };
            (name.as_str(), if turned { 180.0 } else { 0.0 }, shift)
        })
        .collect();
    let p = plan(&q, vec![("W-3", placed)]);
    (q, p)
}

/// Pieces turned by a quarter and by a tolerance, a round table, strips of 150 and 60 mm, broken rules, two jobs.
fn mixed() -> (Question, Plan) {
    let mut stone = slab(
        "BR-9/14",
        &[[12.0, 30.0], [900.0, 5.0], [3000.0, 60.0], [3040.0, 900.0], [2990.0, 1820.0], [60.0, 1870.0], [0.0, 900.0]],
        vec![flaw(FlawKind::Fissure, line(&[[100.0, 1500.0], [2900.0, 1250.0]]), 1.0)],
    );
    stone.grain = Some(87.5);
    let table = piece_of(
        "round table",
        Shape::Ellipse { centre: pt(400.0, 400.0), half_x: 400.0, half_y: 400.0 },
        &["bullnose"],
        vec![],
    );
    let bar = run(
        "bar top",
        1500.0,
        560.0,
        vec![
            hole("ice well", OpeningKind::DropInSink, [420.0, 360.0], 15.0, [200.0, 80.0]),
            hole("rinser", OpeningKind::UndermountSink, [240.0, 300.0], 40.0, [1000.0, 120.0]),
            hole("socket", OpeningKind::Outlet, [60.0, 60.0], 10.0, [1350.0, 430.0]),
        ],
    );
    let q = question(
        vec![stone],
        vec![
            ("Skittle alley <bar> & \"snug\"", vec![bar, run("back strip", 1500.0, 150.0, vec![]), table]),
            (
                "Öystra Łódź 客厅",
                vec![
                    run("slip", 700.0, 60.0, vec![]),
                    run(
                        "hearth with a very long name that nobody would ever want to read on a drawing",
                        900.0,
                        500.0,
                        vec![],
                    ),
                ],
            ),
        ],
    );
    let mut p = plan(
        &q,
        vec![(
            "BR-9/14",
            vec![
                ("bar top", 2.5, [60.0, 60.0]),
                ("back strip", 2.5, [40.0, 660.0]),
                ("round table", 180.0, [2500.0, 920.0]),
                ("slip", 90.0, [2640.0, 120.0]),
                (
                    "hearth with a very long name that nobody would ever want to read on a drawing",
                    270.0,
                    [600.0, 1800.0],
                ),
            ],
        )],
    );
    let mut broken = finding(Rule::RailTooNarrow, Grade::Broken, "rail of 48 mm behind the socket, 50 mm is the least");
    broken.piece = Some("bar top".to_owned());
    broken.job = Some(q.jobs[0].name.clone());
    broken.at = Some([1380.0, 525.0]);
    let mut warning = finding(Rule::RailWantsRods, Grade::Warning, "rail of 80 mm before the ice well wants rods");
    warning.slab = Some("BR-9/14".to_owned());
    warning.at = Some([470.0, 120.0]);
    p.findings = vec![warning, broken, finding(Rule::StoneAssumed, Grade::Note, "granite was assumed")];
    p.unplaced.push(Unplaced {
        job: q.jobs[1].name.clone(),
        piece: "mantel".to_owned(),
        reason: "longer than any slab".to_owned(),
        needed: 3400.0,
        found: 2988.0,
    });
    p.cost = 640.0;
    p.cost_bound = 540.0;
    p.proven = false;
    (q, p)
}

fn scenarios() -> Vec<(&'static str, Question, Plan)> {
    let (a, b, c) = (galley(), washrooms(), mixed());
    vec![("galley", a.0, a.1), ("washrooms", b.0, b.1), ("mixed", c.0, c.1)]
}

fn sheets() -> Vec<(String, Question, Plan, Settings)> {
    let mut out = Vec::new();
    for (name, q, p) in scenarios() {
        for (_, paper) in Paper::NAMES {
            for shown in [Shown::Mm, Shown::In] {
                let label = format!("{name} {} {shown:?}", paper.name());
                out.push((label, q.clone(), p.clone(), Settings { shown, paper }));
            }
        }
    }
    out
}

#[test]
fn look() {
    for (label, q, p, settings) in sheets() {
        let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{}.svg", label.replace(' ', "-")));
        let t = std::time::Instant::now();
        std::fs::write(path, report::layout_svg(&q, &p, 0, &settings)).unwrap();
        let s = sheet::scene(&q, &p, 0, &settings);
        println!("{label}: 1:{} left out {} rows {} {:?}", s.scale, s.left_out, s.rows_left_out, t.elapsed() / 2);
    }
}
