//! The sheets and the summary: what must be on them, where it must lie, and that a person can read it.

use std::collections::BTreeSet;
use std::io::Write as _;

use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Pose, Ring, distance, pt};
use scantling::model::{
    Finding, Finish, Flaw, FlawBody, FlawKind, Goal, Grade, GrainWish, Hidden, Job, Layout, Offcut, Opening,
    OpeningKind, Outline, Piece, Placed, Plan, PlanLimits, Question, Rectangle, Rule, Shape, Shop, Slab, StoneClass,
    Unplaced, Yield,
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
        tests: None,
        photo: None,
        from: None,
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

/// A piece by name, its turn and its shift.
type Put<'a> = (&'a str, f64, [f64; 2]);

/// A plan by hand: for every slab where its pieces lie.
fn plan(q: &Question, layouts: Vec<(&str, Vec<Put<'_>>)>) -> Plan {
    let owner = |piece: &str| {
        q.jobs.iter().find(|j| j.pieces.iter().any(|p| p.name == piece)).map_or("?", |j| &j.name).to_owned()
    };
    let layouts: Vec<Layout> = layouts
        .into_iter()
        .map(|(slab, placed)| Layout {
            slab: slab.to_owned(),
            slab_print: None,
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
        goal: Goal::Cost,
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
        held: Vec::new(),
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
            let mut shelf = run(&format!("washroom shelf #{i}"), 610.0, 380.0, vec![basin, tap([550.0, 320.0])]);
            shelf.kind = 3;
            shelf
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

/// Thirty-four pieces on one slab: strips of 60 to 150 mm, upright ones too, names longer than the strips, taps beside a
/// basin whose drop has a crack, an offcut that stands upright.
fn crowd() -> (Question, Plan) {
    let stone = slab(
        "CR-1",
        &[[0.0, 0.0], [3240.0, 0.0], [3240.0, 1640.0], [0.0, 1640.0]],
        vec![
            flaw(FlawKind::Crack, line(&[[330.0, 1250.0], [500.0, 1330.0]]), 2.0),
            flaw(FlawKind::Pit, FlawBody::Spot(pt(560.0, 1300.0)), 8.0),
        ],
    );
    let mut pieces = Vec::new();
    let mut poses = Vec::new();
    let mut y = 25.0;
    for (row, depth) in [60.0, 80.0, 100.0, 120.0, 150.0, 90.0, 70.0, 60.0].into_iter().enumerate() {
        for column in 0..3 {
            pieces.push(run(&format!("upstand behind the long bench {row}{column}"), 780.0, depth, vec![]));
            poses.push((0.0, [25.0 + f64::from(column) * 790.0, y]));
        }
        y += depth + 8.0;
    }
    let mut x = 2460.0;
    for i in 0..9 {
        let (w, d) = (620.0, 60.0 + 4.0 * f64::from(i));
        pieces.push(run(&format!("door sill of changing room #{}", i + 1), w, d, vec![]));
        poses.push((90.0, [x + d, 25.0]));
        x += d + 6.0;
    }
    let holes = vec![
        hole("hand basin", OpeningKind::UndermountSink, [420.0, 300.0], 30.0, [200.0, 120.0]),
        tap([410.0, 480.0]),
        tap([310.0, 480.0]),
        tap([510.0, 480.0]),
    ];
    pieces.push(run("nursery bench", 1500.0, 560.0, holes));
    poses.push((0.0, [30.0, 1050.0]));
    let names: Vec<String> = pieces.iter().map(|p| p.name.clone()).collect();
    let q = question(vec![stone], vec![("Lido, changing rooms and nursery", pieces)]);
    let placed = names.iter().zip(&poses).map(|(n, &(t, s))| (n.as_str(), t, s)).collect();
    let mut p = plan(&q, vec![("CR-1", placed)]);
    p.layouts[0].offcuts.push(offcut([2500.0, 700.0], [480.0, 900.0]));
    (q, p)
}

fn scenarios() -> Vec<(&'static str, Question, Plan)> {
    let (a, b, c, d) = (galley(), washrooms(), mixed(), crowd());
    vec![("galley", a.0, a.1), ("washrooms", b.0, b.1), ("mixed", c.0, c.1), ("crowd", d.0, d.1)]
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

// ------------------------------------------------------------------------------------------------------------ the sheet

/// Every sheet is written here, so that a person can look at it after a test run.
fn keep(label: &str, svg: &str) {
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{}.svg", label.replace(' ', "-")));
    std::fs::File::create(path).unwrap().write_all(svg.as_bytes()).unwrap();
}

fn overlap(a: &BBox, b: &BBox) -> bool {
    a.min.x < b.max.x && b.min.x < a.max.x && a.min.y < b.max.y && b.min.y < a.max.y
}

/// What is wrong with how a sheet can be read: texts over texts, off the paper, too small, under leaders.
pub(super) fn faults(scene: &Scene) -> Vec<String> {
    let mut out = Vec::new();
    let texts: Vec<_> = scene.texts().map(|t| (t, t.bbox())).collect();
    for (i, (t, b)) in texts.iter().enumerate() {
        let (w, h) = scene.paper;
        if b.min.x < 5.0 || b.min.y < 5.0 || b.max.x > w - 5.0 || b.max.y > h - 5.0 {
            out.push(format!("\"{}\" runs off the paper", t.content));
        }
        if t.size < text::LEAST_SIZE {
            out.push(format!("\"{}\" is too small", t.content));
        }
        for (u, c) in &texts[i + 1..] {
            if overlap(b, c) {
                out.push(format!("\"{}\" lies over \"{}\"", t.content, u.content));
            }
        }
    }
    for item in &scene.items {
        let b = item.bbox();
        let (w, h) = scene.paper;
        let numbers = [b.min.x, b.min.y, b.max.x, b.max.y].iter().all(|v| v.is_finite());
        if !numbers || b.min.x < 0.0 || b.min.y < 0.0 || b.max.x > w || b.max.y > h {
            out.push(format!("an item of {} runs off the paper", item.layer.name()));
        }
    }
    out
}

#[test]
fn a_sheet_can_be_read() {
    for (label, q, p, settings) in sheets() {
        let scene = sheet::scene(&q, &p, 0, &settings);
        assert_eq!(faults(&scene), Vec::<String>::new(), "{label}");
        assert_eq!(scene.rows_left_out, 0, "{label}");
    }
}

/// Numbers that touch are read as one number.
#[test]
fn cells_of_a_table_keep_apart() {
    for (label, q, p, settings) in sheets() {
        let scene = sheet::scene(&q, &p, 0, &settings);
        let cells: Vec<_> = scene
            .items
            .iter()
            .filter(|i| i.layer == scene::Layer::Margin)
            .filter_map(|i| match &i.shape {
                scene::Shape::Text(t) => Some((t, t.bbox())),
                _ => None,
            })
            .collect();
        for (i, (t, b)) in cells.iter().enumerate() {
            for (u, c) in &cells[i + 1..] {
                let apart = b.gap(c);
                let beside = (t.at.y - u.at.y).abs() < 0.1;
                assert!(!beside || apart >= 0.7, "{label}: \"{}\" and \"{}\" {apart:.2} mm", t.content, u.content);
            }
        }
    }
}

#[test]
fn the_drawing_is_as_large_as_the_paper_lets_it_be() {
    let (q, p) = galley();
    for (paper, shown, coarsest) in [
        (Paper::A4, Shown::Mm, 15.0),
        (Paper::A4, Shown::In, 16.0),
        (Paper::Letter, Shown::In, 18.0),
        (Paper::Tabloid, Shown::In, 10.0),
    ] {
        let scene = sheet::scene(&q, &p, 0, &Settings { shown, paper });
        assert!(scene.scale <= coarsest, "1:{} on {} {shown:?}", scene.scale, paper.name());
    }
}

/// Plans that nobody would cut: pieces of any size at any turn, over one another. The sheet must still be readable.
#[test]
fn a_sheet_of_pieces_thrown_at_random_can_be_read() {
    let mut state = 7_u64;
    let mut random = |low: f64, high: f64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((state >> 33) as f64 / f64::from(1_u32 << 31))
    };
    for round in 0..12 {
        let mut pieces = Vec::new();
        let mut poses = Vec::new();
        for i in 0..=round {
            let (w, d) = (random(80.0, 1800.0), random(50.0, 700.0));
            let mut openings = Vec::new();
            if w > 400.0 && d > 300.0 {
                let size = [w * random(0.1, 0.6), d * random(0.1, 0.6)];
                openings.push(hole("pit", OpeningKind::Other, size, 5.0, [w * 0.2, d * 0.2]));
            }
            pieces.push(run(&format!("shard {i}"), w, d, openings));
            poses.push((random(-400.0, 400.0), [random(700.0, 2300.0), random(600.0, 1200.0)]));
        }
        let names: Vec<String> = pieces.iter().map(|p| p.name.clone()).collect();
        let outline = [[0.0, 0.0], [3000.0, random(-80.0, 80.0)], [2950.0, 1900.0], [random(-60.0, 60.0), 1850.0]];
        let mut stone = slab("S", &outline, vec![]);
        stone.grain = Some(random(0.0, 360.0));
        let q = question(vec![stone], vec![("Scrap yard", pieces)]);
        let p = plan(&q, vec![("S", names.iter().zip(&poses).map(|(n, &(t, s))| (n.as_str(), t, s)).collect())]);
        for (_, paper) in Paper::NAMES {
            let scene = sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper });
            assert_eq!(faults(&scene), Vec::<String>::new(), "round {round} on {}", paper.name());
        }
    }
}

#[test]
fn the_reading_test_finds_faults() {
    let (q, p) = galley();
    let mut scene = sheet::scene(&q, &p, 0, &Settings::default());
    let copy = scene.items.iter().find(|i| matches!(i.shape, scene::Shape::Text(_))).unwrap().clone();
    scene.items.push(copy.clone());
    scene.items.push(copy.moved(pt(-400.0, 0.0)));
    let faults = faults(&scene);
    assert!(faults.iter().any(|f| f.contains("lies over")), "{faults:?}");
    assert!(faults.iter().any(|f| f.contains("runs off")), "{faults:?}");
}

#[test]
fn the_document_parses_and_has_the_size_of_the_paper() {
    for (label, q, p, settings) in sheets() {
        let svg = report::layout_svg(&q, &p, 0, &settings);
        keep(&label, &svg);
        let doc = roxmltree::Document::parse(&svg).unwrap();
        let root = doc.root_element();
        let (w, h) = settings.paper.size();
        let sides: Vec<f64> = root.attribute("viewBox").unwrap().split(' ').map(|v| v.parse().unwrap()).collect();
        assert_eq!(sides.len(), 4, "{label}");
        for (side, want) in sides.iter().zip([0.0, 0.0, w, h]) {
            assert!((side - want).abs() < 1e-9, "{label}: {sides:?}");
        }
        for (name, side) in [("width", w), ("height", h)] {
            let value = root.attribute(name).unwrap().strip_suffix("mm").unwrap();
            assert!((value.parse::<f64>().unwrap() - side).abs() < 1e-9, "{label} {name}");
        }
        // Fixed decimals: no number has more than three.
        for node in doc.descendants() {
            for value in ["d", "x", "y", "r", "cx", "cy"].iter().filter_map(|a| node.attribute(*a)) {
                for number in value.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')) {
                    let decimals = number.split_once('.').map_or(0, |(_, d)| d.len());
                    assert!(decimals <= 3, "{label}: {number}");
                }
            }
        }
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let (q, p) = mixed();
    let settings = Settings::default();
    assert_eq!(report::layout_svg(&q, &p, 0, &settings), report::layout_svg(&q, &p, 0, &settings));
    assert_eq!(report::summary(&q, &p, Shown::Mm), report::summary(&q, &p, Shown::Mm));
}

/// Points of the path that draws a piece's outline.
fn drawn(doc: &roxmltree::Document<'_>, number: usize) -> Vec<[f64; 2]> {
    let group = doc.descendants().find(|n| n.attribute("class") == Some("piece")).unwrap();
    let number = number.to_string();
    let path = group.children().find(|n| n.attribute("data-piece") == Some(number.as_str())).unwrap();
    let numbers: Vec<f64> = path
        .attribute("d")
        .unwrap()
        .split(|c: char| "MLZ ".contains(c))
        .filter(|s| !s.is_empty())
        .map(|s| s.parse().unwrap())
        .collect();
    numbers.chunks_exact(2).map(|c| [c[0], c[1]]).collect()
}

#[test]
fn a_piece_measures_right_on_the_paper() {
    let (q, p) = galley();
    for (paper, scale) in [(Paper::A4, 15.0), (Paper::A3, 10.0)] {
        let svg = report::layout_svg(&q, &p, 0, &Settings { shown: Shown::Mm, paper });
        let doc = roxmltree::Document::parse(&svg).unwrap();
        let stated: f64 = doc.root_element().attribute("data-scale").unwrap().parse().unwrap();
        assert_eq!(stated, scale);
        let words = format!("Scale 1:{scale} on {}", paper.name());
        assert!(doc.descendants().any(|n| n.text() == Some(words.as_str())), "{words}");
        // The window run is turned by 180 degrees: its first corner is the upper right one, and y runs down on paper.
        let c = drawn(&doc, 1);
        assert_eq!(c.len(), 4);
        let near = |a: f64, b: f64| (a - b).abs() < 0.0011;
        assert!(near(c[0][0] - c[1][0], 2650.0 / scale), "{c:?}");
        assert!(near(c[2][1] - c[0][1], 620.0 / scale), "{c:?}");
        // Between two pieces the drawing is to scale too: from the window run's left end to the sill's.
        let sill = drawn(&doc, 4);
        assert!(near(sill[0][0] - c[1][0], (1330.0 - 50.0) / scale), "{sill:?}");
    }
}

#[test]
fn a_piece_turned_by_a_tolerance_is_drawn_turned() {
    let (q, p) = mixed();
    let scene = sheet::scene(&q, &p, 0, &Settings::default());
    let pose = Pose::new(2.5, pt(60.0, 60.0));
    let item = scene.items.iter().find(|i| i.layer == scene::Layer::Piece && i.piece == Some(1)).unwrap();
    let scene::Shape::Lines { paths, .. } = &item.shape else { panic!("a piece is a line") };
    for (drawn, corner) in paths[0].iter().zip([pt(0.0, 0.0), pt(1500.0, 0.0), pt(1500.0, 560.0), pt(0.0, 560.0)]) {
        let want = scene.origin + pose.apply(corner) * (1.0 / scene.scale);
        assert!(drawn.distance(want) < 1e-9);
    }
}

fn contents(scene: &Scene) -> BTreeSet<String> {
    scene.texts().map(|t| t.content.clone()).collect()
}

#[test]
fn every_piece_and_opening_is_named() {
    for (label, q, p, settings) in sheets() {
        let scene = sheet::scene(&q, &p, 0, &settings);
        let all = contents(&scene);
        let mut without = 0;
        for (i, placed) in p.layouts[0].placed.iter().enumerate() {
            let number = (i + 1).to_string();
            // Once on the drawing, once in the table, and a 1 in the key. On the crowded sheet, strips that are narrower on
            // the paper than a digit is high may go without if the sheet says so.
            let times = scene.texts().filter(|t| t.content == number && t.bold).count();
            let wanted = if number == "1" { 3 } else { 2 };
            let piece = q.jobs.iter().flat_map(|j| &j.pieces).find(|c| c.name == placed.piece).unwrap();
            if label.starts_with("crowd") && times + 1 == wanted && piece.size().1 / scene.scale < 2.3 {
                without += 1;
            } else {
                assert!(times >= wanted, "{label}: {number} stands there {times} times");
            }
            for j in 0..piece.openings.len() {
                let letter = char::from(b'a' + j as u8);
                let alone = all.contains(&format!("{number}{letter}"));
                let together = all.iter().any(|t| t.starts_with(&format!("{letter} of 1 to ")));
                assert!(alone || together, "{label}: {number}{letter}");
            }
        }
        assert!(without <= scene.left_out, "{label}: {without} numbers are missing, {} told", scene.left_out);
    }
}

#[test]
fn corners_are_measured_from_the_two_lines() {
    // A rectangle has its lower and its left side as measuring lines, so the numbers are plain.
    let q = question(
        vec![slab("S", &[[100.0, 50.0], [2100.0, 50.0], [2100.0, 1250.0], [100.0, 1250.0]], vec![])],
        vec![("Pump house", vec![run("bench", 1000.0, 600.0, vec![])])],
    );
    let p = plan(&q, vec![("S", vec![("bench", 180.0, [1131.5, 690.0])])]);
    let all = contents(&sheet::scene(&q, &p, 0, &Settings::default()));
    // P is the lower left corner (131.5, 90), Q the upper right one (1131.5, 690), less the slab's corner (100, 50).
    for number in ["31.5", "40", "1031.5", "640", "180°", "1000 × 600"] {
        assert!(all.contains(number), "{number} in {all:?}");
    }
}

#[test]
fn a_slanted_slab_is_measured_from_a_straight_edge_against_it() {
    // The whole scene turned by 5 degrees: the slab's lower side turns with it, so nothing changes in the table.
    let q = |turn: f64| {
        let pose = Pose::new(turn, pt(300.0, -120.0));
        let points = [pt(0.0, 0.0), pt(2400.0, 0.0), pt(2400.0, 1400.0), pt(0.0, 1400.0)].map(|c| pose.apply(c).into());
        let q =
            question(vec![slab("S", &points, vec![])], vec![("Pump house", vec![run("bench", 1000.0, 600.0, vec![])])]);
        let p = plan(&q, vec![("S", vec![("bench", turn, pose.apply(pt(210.0, 330.0)).into())])]);
        contents(&sheet::scene(&q, &p, 0, &Settings::default()))
    };
    for number in ["210", "330", "1210", "930"] {
        assert!(q(5.0).contains(number), "{number} in {:?}", q(5.0));
    }
}

#[test]
fn the_narrowest_rail_is_dimensioned_where_it_is() {
    let (q, p) = galley();
    let scene = sheet::scene(&q, &p, 0, &Settings::default());
    let piece = &q.jobs[0].pieces[0];
    let near = distance::ring_lines(&piece.outline.ring, &piece.openings[0].ring);
    assert!((near.distance - 90.0).abs() < 1e-9);
    let pose = p.layouts[0].placed[0].pose();
    let ends = [near.from, near.to].map(|c| scene.origin + pose.apply(c) * (1.0 / scene.scale));
    let found = scene.items.iter().any(|i| match &i.shape {
        scene::Shape::Lines { paths, .. } => {
            i.layer == scene::Layer::Dimension
                && paths[0].len() == 2
                && paths[0][0].distance(ends[0]) < 1e-9
                && paths[0][1].distance(ends[1]) < 1e-9
        }
        _ => false,
    });
    assert!(found);
    assert!(scene.texts().any(|t| t.content == "90"));
}

#[test]
fn the_narrowest_web_is_dimensioned_where_it_is() {
    let (q, p) = crowd();
    let piece = q.jobs[0].pieces.last().unwrap();
    let scene = sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper: Paper::A3 });
    // From the basin's back (120 + 300) to the tap in its middle (480 - 17.5).
    let near = distance::ring_lines(&piece.openings[0].ring, &piece.openings[1].ring);
    assert!((near.distance - 42.5).abs() < 0.1, "{}", near.distance);
    let pose = p.layouts[0].placed[33].pose();
    let ends = [near.from, near.to].map(|c| scene.origin + pose.apply(c) * (1.0 / scene.scale));
    let drawn = scene.items.iter().any(|i| match &i.shape {
        scene::Shape::Lines { paths, .. } => {
            let ends_here = |a: usize, b: usize| {
                paths[0].len() == 2 && paths[0][0].distance(ends[a]) < 1e-9 && paths[0][1].distance(ends[b]) < 1e-9
            };
            i.layer == scene::Layer::Dimension && (ends_here(0, 1) || ends_here(1, 0))
        }
        _ => false,
    });
    assert!(drawn);
    let all = contents(&scene);
    assert!(all.iter().any(|t| t.starts_with("narrowest web, a to b: 42.")), "{all:?}");
}

#[test]
fn a_crack_in_a_drop_is_told_where_nobody_can_miss_it() {
    let (q, p) = crowd();
    for (_, paper) in Paper::NAMES {
        let all = contents(&sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper }));
        let warned = all.iter().any(|t| t.contains("CRACK IN"));
        assert!(warned && all.contains("Flaws in drops"), "{} {all:?}", paper.name());
    }
    let words = report::summary(&q, &p, Shown::Mm);
    assert!(words.contains("Flaws in drops: 2"), "{words}");
    assert!(words.contains("hand basin of nursery bench on CR-1: crack in the drop; take the drop out"), "{words}");
    // A crack that leaves the drop is told too, and as such; one beside it is not.
    let moved = |by: f64| {
        let mut q = q.clone();
        q.rack[0].flaws = vec![flaw(FlawKind::Crack, line(&[[330.0 + by, 1250.0], [500.0 + by, 1330.0]]), 2.0)];
        report::summary(&q, &p, Shown::Mm)
    };
    assert!(moved(-200.0).contains("crack partly in the drop"), "{}", moved(-200.0));
    assert!(!moved(600.0).contains("Flaws in drops"), "{}", moved(600.0));
}

#[test]
fn an_offcut_is_named_and_measured() {
    let (q, p) = crowd();
    for (_, paper) in Paper::NAMES {
        let all = contents(&sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper }));
        assert!(all.contains("keep: offcut R1") && all.contains("480 × 900"), "{} {all:?}", paper.name());
    }
}

/// A piece that somebody moved by hand: the judge's finding is on the sheet, at its place.
#[test]
fn a_piece_moved_by_hand_is_marked_where_it_is_wrong() {
    let (q, mut p) = crowd();
    p.layouts[0].placed[33].shift[0] -= 25.0;
    p.findings = scantling::check::judge(&q, &p);
    let bench = Some("nursery bench".to_owned());
    let outside: Vec<&Finding> =
        p.findings.iter().filter(|f| f.rule == Rule::OutsideSlab && f.piece == bench).collect();
    assert_eq!(outside.len(), 1, "{:?}", p.findings);
    let at = outside[0].at.unwrap();
    let scene = sheet::scene(&q, &p, 0, &Settings { shown: Shown::In, paper: Paper::A3 });
    assert_eq!(faults(&scene), Vec::<String>::new());
    let all = contents(&scene);
    assert!(all.contains("DO NOT CUT: rules are broken"), "{all:?}");
    let place = scene.origin + pt(at[0], at[1]) * (1.0 / scene.scale);
    let marked = scene.items.iter().any(|i| match i.shape {
        scene::Shape::Disc { centre, .. } => i.layer == scene::Layer::Finding && centre.distance(place) < 1e-9,
        _ => false,
    });
    assert!(marked, "{at:?}");
}

#[test]
fn the_key_lists_the_kinds_of_flaw_that_are_there() {
    let heads = |kind: FlawKind, all: &BTreeSet<String>| all.iter().any(|t| t.starts_with(kind.name()));
    let (q, p) = galley();
    let all = contents(&sheet::scene(&q, &p, 0, &Settings::default()));
    for (name, kind) in FlawKind::NAMES {
        assert!(heads(kind, &all), "{name}");
    }
    assert!(all.contains("crack, 3 mm wide"), "{all:?}");
    assert!(all.contains("patch, 5 mm wide, 60 mm across"), "{all:?}");
    let (q, p) = mixed();
    let all = contents(&sheet::scene(&q, &p, 0, &Settings::default()));
    for (name, kind) in FlawKind::NAMES {
        assert_eq!(heads(kind, &all), kind == FlawKind::Fissure, "{name}");
    }
}

#[test]
fn findings_of_this_slab_are_listed_and_marked() {
    let (q, p) = mixed();
    let scene = sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper: Paper::A3 });
    let all = contents(&scene);
    assert!(all.contains("DO NOT CUT: rules are broken"));
    // In the margin and at their places: the broken rule first, though the plan lists it second.
    for tag in ["!1", "!2"] {
        assert_eq!(scene.texts().filter(|t| t.content == tag).count(), 2, "{tag}");
    }
    assert!(all.iter().any(|t| t.starts_with("broken: rail of 48 mm")));
    assert!(!all.iter().any(|t| t.contains("granite was assumed")), "notes stay off the sheet");
    let pose = p.layouts[0].placed[0].pose();
    let places = [pose.apply(pt(1380.0, 525.0)), pt(470.0, 120.0)];
    let rings: Vec<_> = scene
        .items
        .iter()
        .filter(|i| i.layer == scene::Layer::Finding)
        .filter_map(|i| match i.shape {
            scene::Shape::Disc { centre, .. } => Some(centre),
            _ => None,
        })
        .collect();
    for place in places {
        let at = scene.origin + place * (1.0 / scene.scale);
        assert!(rings.iter().any(|r| r.distance(at) < 1e-9), "{place:?} in {rings:?}");
    }
}

#[test]
fn the_title_block_says_what_must_be_said() {
    let (q, p) = galley();
    let all = contents(&sheet::scene(&q, &p, 0, &Settings::default()));
    for words in [
        "Boathouse galley",
        "Slab GG-17/2",
        "grey granite",
        "granite, 30 mm thick",
        "Lot GG-17, number 2",
        "All lengths in mm",
        "Polished face up. Never mirrored.",
    ] {
        assert!(all.contains(words), "{words} in {all:?}");
    }
    assert!(all.iter().any(|t| t.contains("Silica dust: cut wet, wear respiratory protection.")));
    assert!(all.iter().any(|t| t.contains("follow local codes")));
    let inch = contents(&sheet::scene(&q, &p, 0, &Settings { shown: Shown::In, paper: Paper::Tabloid }));
    assert!(inch.contains("All lengths in inches, to 1/16"));
    assert!(inch.contains("104 5/16 × 24 7/16"), "{inch:?}");
}

#[test]
fn names_are_escaped_cleaned_and_shortened() {
    let mut names = vec!["a<b&\"c'>]]>".to_owned(), "tab\there\u{0}\u{1b}[31m\u{202e}x\u{ffff}".to_owned()];
    names.push("ß漢字🙂é ".repeat(60));
    names.push(String::new());
    for name in names {
        let mut stone = slab("S", &[[0.0, 0.0], [2400.0, 0.0], [2400.0, 1400.0], [0.0, 1400.0]], vec![]);
        stone.name.clone_from(&name);
        stone.material.clone_from(&name);
        stone.lot = Some(name.clone());
        let sink = hole(&name, OpeningKind::UndermountSink, [500.0, 380.0], 20.0, [200.0, 100.0]);
        let mut q = question(vec![stone], vec![(name.as_str(), vec![run(&name, 1000.0, 600.0, vec![sink])])]);
        q.jobs[0].material.clone_from(&name);
        let mut p = plan(&q, vec![(name.as_str(), vec![(name.as_str(), 0.0, [50.0, 50.0])])]);
        let mut f = finding(Rule::RailTooNarrow, Grade::Broken, &name);
        f.slab = Some(name.clone());
        p.findings.push(f);
        p.unplaced.push(Unplaced {
            job: name.clone(),
            piece: name.clone(),
            reason: name.clone(),
            needed: 1.0,
            found: 0.0,
        });
        for shown in [Shown::Mm, Shown::In] {
            let settings = Settings { shown, paper: Paper::A4 };
            let svg = report::layout_svg(&q, &p, 0, &settings);
            let doc = roxmltree::Document::parse(&svg).unwrap();
            assert_eq!(faults(&sheet::scene(&q, &p, 0, &settings)), Vec::<String>::new());
            if name.starts_with("a<b") {
                assert!(doc.descendants().any(|n| n.text() == Some(name.as_str())), "{svg}");
                assert!(!svg.contains("a<b") && !svg.contains("]]>"));
            }
            let words = report::summary(&q, &p, shown);
            assert!(!words.contains('\u{1b}') && !words.contains('\u{202e}'));
            assert!(words.lines().all(|l| l.chars().count() <= 100), "{words}");
        }
    }
}

#[test]
fn nonsense_is_said_and_not_drawn() {
    let (q, mut p) = galley();
    p.layouts[0].placed[0].shift = [f64::NAN, 0.0];
    p.layouts[0].placed[1].turn = 1e300;
    p.layouts[0].placed[2].shift = [9e5, 0.0];
    p.layouts[0].placed[3].piece = "nobody's".to_owned();
    p.layouts[0].offcuts[0].rectangle.size = [f64::INFINITY, 1.0];
    p.layouts[0].offcuts[0].outline = vec![[f64::NAN, 0.0], [1.0, 1.0]];
    let mut f = finding(Rule::OutsideSlab, Grade::Broken, "off");
    f.slab = Some("GG-17/2".to_owned());
    f.at = Some([f64::NAN, 1.0]);
    p.findings.push(f);
    let scene = sheet::scene(&q, &p, 0, &Settings::default());
    assert_eq!(faults(&scene), Vec::<String>::new());
    let all = contents(&scene);
    assert!(all.contains("Not on the drawing"));
    for words in ["window run: not drawn", "stove run: not drawn", "corner by the window: not", "nobody's: not drawn"] {
        assert!(all.iter().any(|t| t.starts_with(words)), "{words} in {all:?}");
    }
    assert!(!report::layout_svg(&q, &p, 0, &Settings::default()).contains("NaN"));
    let _ = report::summary(&q, &p, Shown::Mm);
    // A layout or a slab that is not there.
    p.layouts[0].slab = "gone".to_owned();
    for (index, words) in [(0, "The rack has no slab"), (7, "there is no layout 8")] {
        let svg = report::layout_svg(&q, &p, index, &Settings::default());
        roxmltree::Document::parse(&svg).unwrap();
        assert!(svg.contains(words), "{svg}");
    }
    assert!(report::summary(&q, &p, Shown::Mm).contains("not on the rack"));
}

#[test]
fn what_does_not_fit_is_counted_on_the_sheet() {
    // Three hundred tiles: no table of theirs fits on A4.
    let stone = slab("T", &[[0.0, 0.0], [3200.0, 0.0], [3200.0, 2060.0], [0.0, 2060.0]], vec![]);
    let names: Vec<String> = (1..=300).map(|i| format!("tile #{i}")).collect();
    let pieces = names.iter().map(|n| run(n, 140.0, 110.0, vec![])).collect();
    let q = question(vec![stone], vec![("Pump house floor", pieces)]);
    let placed = names
        .iter()
        .enumerate()
        .map(|(i, n)| (n.as_str(), 0.0, [30.0 + (i % 20) as f64 * 150.0, 30.0 + (i / 20) as f64 * 120.0]))
        .collect();
    let p = plan(&q, vec![("T", placed)]);
    let scene = sheet::scene(&q, &p, 0, &Settings::default());
    assert_eq!(faults(&scene), Vec::<String>::new());
    assert!(scene.rows_left_out > 0);
    let words = format!("{} table rows do not fit", scene.rows_left_out);
    assert!(scene.texts().any(|t| t.content.contains(&words)), "{words}");
}

#[test]
fn other_sizes_of_slab_fit_too() {
    for (w, h, paper) in [(300.0, 200.0, Paper::A4), (1900.0, 3300.0, Paper::A4), (90_000.0, 60_000.0, Paper::A3)] {
        let q = question(
            vec![slab("S", &[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], vec![])],
            vec![("Lock keeper", vec![run("step", 200.0, 120.0, vec![])])],
        );
        let p = plan(&q, vec![("S", vec![("step", 0.0, [30.0, 30.0])])]);
        let scene = sheet::scene(&q, &p, 0, &Settings { shown: Shown::Mm, paper });
        assert_eq!(faults(&scene), Vec::<String>::new(), "{w} x {h}");
        assert!(scene.scale >= 5.0);
    }
}

// ---------------------------------------------------------------------------------------------------------- the summary

/// The row of the whole plan with that label.
fn row<'a>(summary: &'a str, label: &str) -> &'a str {
    summary.lines().find_map(|l| l.trim_start().strip_prefix(label)).unwrap().trim_start()
}

/// A piece of 108 x 48 in from a slab of 122 x 68 in: 36.00 ft² of 57.61 ft², so a gross yield of 0.62488. The sizes are
/// published in a United States fabricator's essay on buying slabs; the yield follows from them.
#[test]
fn the_summary_gives_the_yield_of_a_published_example() {
    const IN: f64 = 25.4;
    let (w, h) = (122.0 * IN, 68.0 * IN);
    let q = question(
        vec![slab("E-1", &[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], vec![])],
        vec![("Ferry cabin", vec![run("table", 108.0 * IN, 48.0 * IN, vec![])])],
    );
    let p = plan(&q, vec![("E-1", vec![("table", 0.0, [25.0, 25.0])])]);
    let outline = &q.jobs[0].pieces[0].outline.ring;
    let exact = Yield::of(q.rack[0].outline.area(), 0.0, outline.area(), 0.0).gross;
    assert!((exact - 0.62488).abs() < 5e-6, "{exact}");
    let words = report::summary(&q, &p, Shown::In);
    assert!(row(&words, "gross yield").starts_with("62.5 % "), "{words}");
    assert!(row(&words, "net yield").starts_with("62.5 % "), "{words}");
    assert!(row(&words, "waste").starts_with("37.5 % "), "{words}");
    assert!(row(&words, "slabs used").contains("57.61 ft²"), "{words}");
    assert_eq!(row(&words, "cost"), "640.00, no plan can cost less");
    let all = contents(&sheet::scene(&q, &p, 0, &Settings { shown: Shown::In, paper: Paper::Letter }));
    assert!(all.contains("Pieces 36.00 ft²") && all.contains("Slab area 57.61 ft²"), "{all:?}");
}

#[test]
fn findings_that_differ_in_the_copy_are_told_once() {
    let of = |name: &str, width: f64| {
        let message = format!("the rail between \"basin\" and the edge of \"{name}\" is {width} mm wide");
        let mut f = finding(Rule::RailWantsRods, Grade::Note, &message);
        (f.job, f.piece, f.opening) = (Some("Lido".to_owned()), Some(name.to_owned()), Some("basin".to_owned()));
        f
    };
    let mut all: Vec<Finding> = [1, 2, 3, 12].iter().map(|i| of(&format!("washstand #{i}"), 90.0)).collect();
    all.push(of("washstand #5", 80.0));
    all.push(of("bench", 90.0));
    let words = report::findings(&all);
    let flat = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.starts_with("Notes: 6 rail-wants-rods"), "{words}");
    assert_eq!(flat.matches("rail-wants-rods").count(), 3, "{words}");
    let joined =
        "edge of \"washstand #1 to #3, #12\" is 90 mm wide (4 findings) [Lido / washstand #1 to #3, #12 / basin]";
    assert!(flat.contains(joined), "{words}");
    assert!(flat.contains("\"washstand #5\" is 80 mm wide [Lido"), "{words}");
    assert!(flat.contains("\"bench\" is 90 mm wide [Lido"), "{words}");
}

#[test]
fn areas_of_nothing_have_no_sign() {
    let (q, mut p) = galley();
    p.layouts[0].placed.retain(|placed| placed.piece == "sill");
    for shown in [Shown::Mm, Shown::In] {
        let all = contents(&sheet::scene(&q, &p, 0, &Settings { shown, paper: Paper::A4 }));
        assert!(!all.iter().any(|t| t.contains("-0")), "{all:?}");
    }
}

#[test]
fn the_summary_keeps_to_its_width_and_says_what_is_wrong() {
    for (label, q, p) in scenarios() {
        for shown in [Shown::Mm, Shown::In] {
            let words = report::summary(&q, &p, shown);
            assert!(words.lines().all(|l| l.chars().count() <= 100), "{label}:\n{words}");
            println!("{words}");
        }
    }
    let (q, mut p) = mixed();
    let words = report::summary(&q, &p, Shown::Mm);
    assert!(words.contains("Without a place: 1"), "{words}");
    assert!(words.contains("longer than any slab (needed 3400 mm, found 2988 mm)"), "{words}");
    let at = |w: &str| words.find(w).unwrap();
    assert!(at("Rules broken, do not cut: 1") < at("Look before cutting: 1") && at("Look before") < at("Notes: 1"));
    assert!(row(&words, "cost").starts_with("640.00, bound 540.00 (a plan that places everything"), "{words}");
    p.unplaced.clear();
    assert_eq!(row(&report::summary(&q, &p, Shown::Mm), "cost"), "640.00, bound 540.00, gap 15.6 %");
}
