//! Cutting drawings as DXF, read back by the crate `dxf`, which does not write them, and by a library of another language.

mod blades;
mod exact;
mod outside;

use std::f64::consts::{PI, TAU};
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use dxf::entities::EntityType;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use scantling::cad::{Body, Drawing, Entity, Vertex, cutting, layers};
use scantling::geom::curve::Corner;
use scantling::geom::{Point, Pose, pt};
use scantling::io::dxf::write::write;
use scantling::model::openings::{Openings, Verdict};
use scantling::model::{
    Finish, Flaw, FlawBody, FlawKind, Goal, Layout, OpeningKind, Outline, Piece, Placed, Plan, PlanLimits, Question,
    Shape, Yield,
};
use scantling::units::Shown;
use scantling::{craft, io, search};

use exact::{along, area_of, area_with_bulges, off};

use crate::make;
use crate::properties::cases;

/// What coordinates may lose on their way through a file, mm.
const SAME: f64 = 1e-6;

/// What the crate reads: layer and body of every entity, in the unit of the file.
fn read(bytes: &[u8]) -> (dxf::Drawing, Vec<Entity>) {
    let drawing = dxf::Drawing::load(&mut &bytes[..]).expect("a DXF file");
    let flat = |p: &dxf::Point| {
        assert_eq!(p.z, 0.0);
        pt(p.x, p.y)
    };
    let entities = drawing
        .entities()
        .map(|e| {
            let body = match &e.specific {
                EntityType::Line(l) => Body::Path {
                    vertices: [&l.p1, &l.p2].map(|p| Vertex { at: flat(p), bulge: 0.0 }).to_vec(),
                    closed: false,
                },
                EntityType::LwPolyline(l) => Body::Path {
                    vertices: l.vertices.iter().map(|v| Vertex { at: pt(v.x, v.y), bulge: v.bulge }).collect(),
                    closed: l.flags & 1 == 1,
                },
                EntityType::Circle(c) => Body::Circle { centre: flat(&c.center), radius: c.radius },
                EntityType::Ellipse(e) => {
                    assert!(e.start_parameter == 0.0 && (e.end_parameter - TAU).abs() < 1e-9, "a whole ellipse");
                    assert!(e.minor_axis_ratio <= 1.0);
                    let axis = e.major_axis.clone();
                    let long = axis.x.hypot(axis.y);
                    Body::Ellipse {
                        centre: flat(&e.center),
                        half_x: long,
                        half_y: long * e.minor_axis_ratio,
                        turn: axis.y.atan2(axis.x).to_degrees(),
                    }
                }
                EntityType::Text(t) => Body::Text {
                    at: flat(&t.location),
                    height: t.text_height,
                    turn: t.rotation,
                    content: t.value.clone(),
                },
                other => panic!("no such entity is written: {other:?}"),
            };
            Entity { layer: e.common.layer.clone(), handle: e.common.handle.as_string(), body }
        })
        .collect();
    (drawing, entities)
}

/// The bodies on a layer.
fn on<'e>(entities: &'e [Entity], layer: &str) -> Vec<&'e Body> {
    entities.iter().filter(|e| e.layer == layer).map(|e| &e.body).collect()
}

/// True if a body is the same but for rounding, its lengths times `scale`.
fn same(read: &Body, drawn: &Body, scale: f64) -> bool {
    let near = |a: f64, b: f64| (a * scale - b).abs() < SAME;
    let close = |a: Point, b: Point| near(a.x, b.x) && near(a.y, b.y);
    match (read, drawn) {
        (Body::Path { vertices: a, closed: c }, Body::Path { vertices: b, closed: d }) => {
            let same = |(v, w): (&Vertex, &Vertex)| close(v.at, w.at) && (v.bulge - w.bulge).abs() < 1e-9;
            c == d && a.len() == b.len() && a.iter().zip(b).all(same)
        }
        (Body::Circle { centre: a, radius: r }, Body::Circle { centre: b, radius: s }) => close(*a, *b) && near(*r, *s),
        (
            Body::Ellipse { centre: a, half_x, half_y, turn },
            Body::Ellipse { centre: b, half_x: x, half_y: y, turn: t },
        ) => {
            // The file begins with the longer axis.
            let (x, y, t) = if x >= y { (*x, *y, *t) } else { (*y, *x, t + 90.0) };
            let off = (turn - t).to_radians().sin().abs() * half_x * scale;
            close(*a, *b) && near(*half_x, x) && near(*half_y, y) && off < SAME
        }
        (
            Body::Text { at: a, height: h, turn: t, content: c },
            Body::Text { at: b, height: i, turn: u, content: d },
        ) => close(*a, *b) && near(*h, *i) && (t - u).abs() < 1e-9 && c == d,
        _ => false,
    }
}

/// A plan for one slab with pieces where the poses say.
fn plan_of(question: &Question, poses: &[Pose]) -> Plan {
    let job = &question.jobs[0];
    let placed = job
        .pieces
        .iter()
        .zip(poses)
        .map(|(piece, pose)| Placed {
            job: job.name.clone(),
            piece: piece.name.clone(),
            turn: pose.turn,
            shift: pose.shift.into(),
            pinned: false,
            outline: Vec::new(),
            openings: Vec::new(),
        })
        .collect();
    let slab = question.rack[0].name.clone();
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: vec![job.name.clone()],
        seed: 1,
        goal: Goal::Cost,
        effort: None,
        limits: PlanLimits::of(&question.shop.limits, 50.0, 70.0),
        layouts: vec![Layout { slab, slab_print: None, placed, yields: Yield::default(), offcuts: Vec::new() }],
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

fn piece_of(shape: Shape) -> Piece {
    let sides = match &shape {
        Shape::Polygon(corners) => corners.len(),
        Shape::Ellipse { .. } => 1,
    };
    Piece { outline: Outline::new(shape, vec![Finish::Raw; sides]), ..make::piece("piece", 100.0, 100.0) }
}

fn any_shape() -> impl Strategy<Value = Shape> {
    let ellipse = |x: f64, y: f64| Shape::Ellipse { centre: pt(x + 7.0, y + 3.0), half_x: x, half_y: y };
    prop_oneof![
        (300.0..2500.0f64, 200.0..900.0f64, 0.0..100.0f64).prop_map(|(w, h, r)| Shape::rectangle(w, h, r)),
        // Roundings that take all of two sides, or of four.
        (300.0..900.0f64, 200.0..300.0f64).prop_map(|(w, h)| Shape::rectangle(w, h, h / 2.0)),
        (100.0..900.0f64).prop_map(|w| Shape::rectangle(w, w, w / 2.0)),
        (100.0..900.0f64, 100.0..900.0f64).prop_map(move |(x, y)| ellipse(x, y)),
        (100.0..900.0f64).prop_map(move |r| ellipse(r, r)),
        // An L, corners askew, every corner with its own radius.
        prop::collection::vec(0.0..80.0f64, 12).prop_map(|r| {
            let corners = [(0.0, 0.0), (2000.0, 0.0), (2000.0, 600.0), (700.0, 600.0), (700.0, 1500.0), (0.0, 1500.0)];
            let at = |(i, &(x, y)): (usize, &(f64, f64))| Corner {
                at: pt(x + r[i], y + r[11 - i]),
                radius: r[(i + 3) % 12],
            };
            Shape::Polygon(corners.iter().enumerate().map(at).collect())
        }),
    ]
}

fn any_pose() -> impl Strategy<Value = Pose> {
    let turn = prop_oneof![Just(0.0), Just(90.0), Just(180.0), Just(270.0), -360.0..720.0f64];
    (turn, -4000.0..4000.0f64, -4000.0..4000.0f64).prop_map(|(turn, x, y)| Pose::new(turn, pt(x, y)))
}

/// Any shape of piece anywhere comes back from the file as it is in the model: every point on its true line, its area too.
#[test]
fn what_is_read_back_is_the_true_shape_where_it_lies() {
    let mut runner = TestRunner::new(Config { cases: cases(150), ..Config::default() });
    runner
        .run(&(any_shape(), any_pose(), any::<bool>()), |(shape, pose, inches)| {
            let piece = piece_of(shape.clone());
            let question = make::question(vec![piece], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
            let plan = plan_of(&question, &[pose]);
            let openings = craft::sheets(&question, Some(&plan));
            let (shown, scale) = if inches { (Shown::In, 25.4) } else { (Shown::Mm, 1.0) };
            let drawing = cutting::drawing(&question, &plan, 0, &openings, shown);
            let (_, entities) = read(&write(&drawing, &layers::ALL, shown));
            prop_assert_eq!(entities.len(), drawing.entities.len());
            for (read, drawn) in entities.iter().zip(&drawing.entities) {
                prop_assert_eq!(&read.layer, &drawn.layer);
                prop_assert!(same(&read.body, &drawn.body, scale), "{:?} for {:?}", read, drawn);
            }
            let pieces = on(&entities, "piece");
            prop_assert_eq!(pieces.len(), 1);
            let (points, area) = match pieces[0] {
                Body::Path { vertices, closed: true } => {
                    let vertices: Vec<Vertex> =
                        vertices.iter().map(|v| Vertex { at: v.at * scale, bulge: v.bulge }).collect();
                    let n = vertices.len();
                    let points = (0..n).flat_map(|i| along(vertices[i], vertices[(i + 1) % n].at)).collect();
                    (points, area_with_bulges(&vertices))
                }
                Body::Circle { centre, radius } => {
                    let points: Vec<Point> =
                        (0..24).map(|k| (*centre + pt(*radius, 0.0).turned(f64::from(k) * 15.0)) * scale).collect();
                    (points, PI * radius * radius * scale * scale)
                }
                Body::Ellipse { centre, half_x, half_y, turn } => {
                    let on_it = |a: f64| pt(half_x * a.cos(), half_y * a.sin()).turned(*turn);
                    let points: Vec<Point> =
                        (0..24).map(|k| (*centre + on_it(f64::from(k) / 24.0 * TAU)) * scale).collect();
                    (points, PI * half_x * half_y * scale * scale)
                }
                other => return Err(TestCaseError::fail(format!("{other:?}"))),
            };
            for p in points {
                let off = off(pose.undo(p), &shape);
                prop_assert!(off < 2.0 * SAME, "{:?} is {} mm off the line", p, off);
            }
            let expected = area_of(&shape);
            prop_assert!((area - expected).abs() < 0.01, "{} mm2, not {}", area, expected);
            // A shape is what it is: no arc became a polyline.
            if let Shape::Ellipse { half_x, half_y, .. } = &shape {
                prop_assert_eq!(matches!(pieces[0], Body::Circle { .. }), half_x == half_y);
            }
            Ok(())
        })
        .unwrap();
}

trait Turned {
    fn turned(self, degrees: f64) -> Point;
}

impl Turned for Point {
    fn turned(self, degrees: f64) -> Point {
        Pose::new(degrees, pt(0.0, 0.0)).apply(self)
    }
}

struct Demo {
    question: Question,
    plan: Plan,
    openings: Openings,
}

fn planned(name: &str) -> Demo {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs").join(name).join("job.toml");
    let question =
        io::load(&io::Paths { jobs: vec![job], ..io::Paths::default() }).expect("the demo is sound").question;
    let settings = search::Settings { rounds: Some(1), ..search::Settings::default() };
    let plan = search::solve(&question, &settings, &search::Unwatched).plan;
    assert!(plan.layouts.iter().map(|l| l.placed.len()).sum::<usize>() > 2, "a plan with pieces");
    let openings = craft::sheets(&question, Some(&plan));
    Demo { question, plan, openings }
}

static CAFE: LazyLock<Demo> = LazyLock::new(|| planned("kiln-lane-cafe"));
static INN: LazyLock<Demo> = LazyLock::new(|| planned("gannet-inn"));

impl Demo {
    fn drawing(&self, layout: usize, openings: &Openings, shown: Shown) -> Drawing {
        cutting::drawing(&self.question, &self.plan, layout, openings, shown)
    }

    fn files(&self, shown: Shown) -> Vec<Vec<u8>> {
        let file = |i| write(&self.drawing(i, &self.openings, shown), &layers::ALL, shown);
        (0..self.plan.layouts.len()).map(file).collect()
    }

    /// The pieces of a layout where they lie.
    fn placed(&self, layout: usize) -> Vec<(&Placed, &Piece)> {
        let find = |p: &Placed| {
            let job = self.question.jobs.iter().find(|j| j.name == p.job).unwrap();
            job.pieces.iter().find(|q| q.name == p.piece).unwrap()
        };
        self.plan.layouts[layout].placed.iter().map(|p| (p, find(p))).collect()
    }
}

#[test]
fn bytes_are_the_same_twice_and_tell_no_time() {
    let first = CAFE.files(Shown::Mm);
    std::thread::sleep(std::time::Duration::from_millis(1100));
    assert!(first == CAFE.files(Shown::Mm));
    for bytes in first {
        let text = String::from_utf8(bytes).expect("ASCII");
        assert!(text.is_ascii());
        for varying in ["$TDCREATE", "$TDUPDATE", "GUID"] {
            assert!(!text.contains(varying), "{varying}");
        }
        // The first handle that is not taken is above all that are.
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        let handles: Vec<u64> = lines
            .chunks(2)
            .filter(|g| g[0] == "5" || g[0] == "105")
            .map(|g| u64::from_str_radix(g[1], 16).unwrap())
            .collect();
        let seed = handles[0];
        let mut own = handles[1..].to_vec();
        own.sort_unstable();
        assert!(own.windows(2).all(|h| h[0] < h[1]), "handles differ");
        assert!(own.last().is_some_and(|&last| last < seed));
    }
}

#[test]
fn a_file_in_inches_has_the_same_lengths_in_inches() {
    for (mm, inch) in CAFE.files(Shown::Mm).iter().zip(&CAFE.files(Shown::In)) {
        let ((head, a), (other, b)) = (read(mm), read(inch));
        assert_eq!(head.header.default_drawing_units, dxf::enums::Units::Millimeters);
        assert_eq!(head.header.drawing_units, dxf::enums::DrawingUnits::Metric);
        assert_eq!(other.header.default_drawing_units, dxf::enums::Units::Inches);
        assert_eq!(other.header.drawing_units, dxf::enums::DrawingUnits::English);
        assert_eq!(a.iter().filter(|e| e.layer != "label").count(), b.iter().filter(|e| e.layer != "label").count());
        for (a, b) in a.iter().zip(&b).filter(|(a, _)| a.layer != "label") {
            assert!(same(&b.body, &a.body, 25.4), "{a:?} {b:?}");
        }
        let size = &head.header.maximum_drawing_extents;
        let inches = &other.header.maximum_drawing_extents;
        assert!((size.x - inches.x * 25.4).abs() < SAME && size.x > 1000.0);
        let says = |e: &[Entity], words: &str| {
            e.iter().any(|e| matches!(&e.body, Body::Text { content, .. } if content.contains(words)))
        };
        assert!(says(&a, "lengths in mm") && says(&b, "lengths in inches"));
    }
}

#[test]
fn the_saw_runs_in_the_drop_and_every_work_has_its_layer() {
    let (mut passes, mut rods) = (0, 0);
    for (i, bytes) in CAFE.files(Shown::Mm).iter().enumerate() {
        let (file, entities) = read(bytes);
        let listed: Vec<&str> = file.layers().map(|l| l.name.as_str()).filter(|n| *n != "0").collect();
        assert_eq!(listed, layers::ALL.map(|l| l.name));
        let line = |b: &Body| match b {
            Body::Path { vertices, closed: false } => (vertices[0].at, vertices[1].at),
            other => panic!("a line, not {other:?}"),
        };
        let whole: Vec<_> = on(&entities, "saw-pass").into_iter().map(line).collect();
        let full: Vec<_> = on(&entities, "saw-pass-full").into_iter().map(line).collect();
        let holes: Vec<_> = CAFE
            .placed(i)
            .iter()
            .flat_map(|(placed, piece)| piece.openings.iter().map(|o| (placed.pose(), o)))
            .collect();
        assert_eq!(whole.len(), full.len());
        for (&(a, b), &(c, d)) in whole.iter().zip(&full) {
            passes += 1;
            let (pose, hole) = holes.iter().find(|(p, o)| o.ring.contains(p.undo(a.lerp(b, 0.5)))).expect("in a drop");
            // The middle of a blade of some kerf of the shop is half a kerf off the line, all along.
            let kerfs: Vec<f64> = CAFE.question.shop.tools.blades.iter().map(|b| b.kerf / 2.0).collect();
            for p in [c, c.lerp(d, 0.5), d] {
                let off = off(pose.undo(p), &hole.shape);
                assert!(kerfs.iter().any(|k| (k - off).abs() < 1e-5), "{off} mm off the line");
            }
            // The stretch at full depth lies in the cut as it shows, in the same direction.
            let along = (b - a) * (1.0 / a.distance(b));
            let at = |p: Point| (p - a).dot(along);
            assert!(along.cross(c - a).abs() < 1e-5 && along.cross(d - a).abs() < 1e-5);
            assert!(0.0 < at(c) && at(c) < at(d) && at(d) < a.distance(b));
        }
        let sheets = |p: &Placed| {
            CAFE.openings.openings.iter().filter(|s| s.job == p.job && s.piece == p.piece).collect::<Vec<_>>()
        };
        let cores: usize = CAFE
            .placed(i)
            .iter()
            .flat_map(|(p, _)| sheets(p))
            .filter(|s| s.verdict != Verdict::Stop)
            .map(|s| s.cutting.cores.len())
            .sum();
        assert_eq!(on(&entities, "core").len(), cores);
        rods += on(&entities, "rod").len();
        assert_eq!(on(&entities, "rod").len(), on(&entities, "groove").len());
        assert_eq!(on(&entities, "slab").len(), 1);
        assert_eq!(on(&entities, "trim").len(), 1);
        assert_eq!(on(&entities, "offcut").len(), CAFE.plan.layouts[i].offcuts.len());
    }
    assert!(passes >= 8 && rods > 0, "{passes} passes and {rods} rods were looked at");
}

#[test]
fn openings_that_are_not_cut_lie_on_layers_of_their_own() {
    let cafe = &*CAFE;
    let with = |verdict: Verdict| {
        let mut openings = cafe.openings.clone();
        for sheet in &mut openings.openings {
            sheet.verdict = verdict;
        }
        (0..cafe.plan.layouts.len()).flat_map(|i| cafe.drawing(i, &openings, Shown::Mm).entities).collect::<Vec<_>>()
    };
    let count = |e: &[Entity], layer: &str| on(e, layer).len();
    let texts = |e: &[Entity], words: &str| {
        e.iter().filter(|e| matches!(&e.body, Body::Text { content, .. } if content == words)).count()
    };
    let sheets = &cafe.openings.openings;
    let works =
        ["core", "saw-pass", "saw-pass-full", "back-pass", "score-pass", "row-cut", "other-cut", "rod", "groove"];

    let stop = with(Verdict::Stop);
    assert_eq!(count(&stop, "opening-stop"), sheets.len());
    assert_eq!(texts(&stop, "DO NOT CUT"), sheets.len());
    for layer in works.iter().chain(&["opening", "opening-score"]) {
        assert_eq!(count(&stop, layer), 0, "{layer}");
    }

    let fine = with(Verdict::Fine);
    assert_eq!(count(&fine, "opening"), sheets.len());
    assert_eq!((count(&fine, "opening-score"), count(&fine, "opening-stop")), (0, 0));
}

#[test]
fn a_scored_opening_has_cores_and_scores_and_nothing_that_goes_through() {
    let mut top = make::piece("top", 2000.0, 700.0);
    top.openings.push(make::opening("hob", OpeningKind::Cooktop, [1000.0, 350.0], 560.0, 490.0, 20.0));
    let question = make::question(vec![top], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
    let plan = plan_of(&question, &[Pose::new(90.0, pt(900.0, 100.0))]);
    let mut openings = craft::sheets(&question, Some(&plan));
    openings.openings[0].verdict = Verdict::Score;
    let sheet = &openings.openings[0];
    let passes = sheet.cutting.score.as_ref().expect("granite can be scored").passes.len();
    let drawing = cutting::drawing(&question, &plan, 0, &openings, Shown::Mm).entities;
    let count = |layer: &str| on(&drawing, layer).len();
    assert!(passes >= 4);
    assert_eq!((count("score-pass"), count("score-pass-full")), (passes, passes));
    assert_eq!((count("core"), count("opening-score")), (4, 1));
    for layer in ["opening", "opening-stop", "saw-pass", "saw-pass-full", "back-pass", "row-cut", "other-cut"] {
        assert_eq!(count(layer), 0, "{layer}");
    }
    assert!(on(&drawing, "label").iter().any(|b| matches!(b, Body::Text { content, .. } if content == "SCORE ONLY")));
    // A score that the trade does not allow leaves no work at all.
    openings.openings[0].cutting.score = None;
    let drawing = cutting::drawing(&question, &plan, 0, &openings, Shown::Mm).entities;
    let left: Vec<&str> =
        drawing.iter().map(|e| e.layer.as_str()).filter(|l| *l != "label" && !l.starts_with("rod")).collect();
    assert_eq!(left, ["slab", "trim", "piece", "opening-score"]);
}

#[test]
fn flaws_are_drawn_by_their_bodies() {
    let spot = |radius| Flaw {
        kind: FlawKind::Pit,
        body: FlawBody::Spot(pt(500.0, 500.0)),
        radius,
        allow: FlawKind::Pit.default_zones(),
    };
    let mut slab = make::slab("plate", 3000.0, 1600.0, 900.0);
    let bent = Flaw {
        body: FlawBody::Line(vec![pt(1000.0, 200.0), pt(1400.0, 200.0), pt(1400.0, 700.0)]),
        ..make::line_flaw(FlawKind::Fissure, [0.0, 0.0], [1.0, 0.0], 6.0)
    };
    slab.flaws = vec![
        make::line_flaw(FlawKind::Crack, [100.0, 100.0], [400.0, 500.0], 4.0),
        make::line_flaw(FlawKind::Crack, [100.0, 900.0], [400.0, 900.0], 0.0),
        spot(12.0),
        bent.clone(),
    ];
    let question = make::question(vec![make::piece("shelf", 600.0, 300.0)], vec![slab]);
    let plan = plan_of(&question, &[Pose::new(0.0, pt(2000.0, 1000.0))]);
    let openings = craft::sheets(&question, Some(&plan));
    let (_, entities) =
        read(&write(&cutting::drawing(&question, &plan, 0, &openings, Shown::Mm), &layers::ALL, Shown::Mm));
    let flaws = on(&entities, "flaw");
    assert_eq!(flaws.len(), 4);
    // 500 mm long and 4 mm wide, with half a circle at both ends.
    let Body::Path { vertices, closed: true } = flaws[0] else { panic!("{:?}", flaws[0]) };
    assert!((area_with_bulges(vertices) - (500.0 * 4.0 + PI * 4.0)).abs() < 1e-3);
    assert!(matches!(flaws[1], Body::Path { closed: false, .. }));
    assert!(matches!(flaws[2], Body::Circle { radius, .. } if (radius - 12.0).abs() < SAME));
    // Two legs of 400 and 500 mm, less where they overlap, with the round ends and the round outside of the bend.
    let Body::Path { vertices, closed: true } = flaws[3] else { panic!("{:?}", flaws[3]) };
    let exact = 900.0 * 6.0 - 9.0 + PI * 9.0 * 1.25;
    let area = area_with_bulges(vertices);
    assert!(exact - 1e-3 <= area && area < exact + 0.05 * 2000.0, "{area} for {exact}");
    for (i, words) in ["F1 crack", "F2 crack", "F3 pit", "F4 fissure"].iter().enumerate() {
        assert!(
            on(&entities, "label").iter().any(|b| matches!(b, Body::Text { content, .. } if content == words)),
            "{i}"
        );
    }
}

/// A drawing with all that texts and names could do to a file.
fn odd_texts() -> (Drawing, Vec<&'static str>) {
    let pairs = [
        ("Küche 25 €", "Küche 25 €"),
        ("a\r\n  0\r\nEOF\r\nb", "a    0  EOF  b"),
        ("50%%d and 100%", "50% %d and 100%"),
        ("a^b\u{1}", "a^b "),
        (r"C:\U+0041\P", r"C:\U+0041\P"),
        ("棚 №7", "棚 №7"),
    ];
    let text = |(i, (given, _)): (usize, &(&str, &str))| Entity {
        layer: "label".to_owned(),
        handle: String::new(),
        body: Body::Text { at: pt(0.0, 50.0 * i as f64), height: 20.0, turn: 0.0, content: (*given).to_owned() },
    };
    let drawing = Drawing { entities: pairs.iter().enumerate().map(text).collect() };
    (drawing, pairs.iter().map(|p| p.1).collect())
}

#[test]
fn odd_texts_do_no_harm() {
    let (drawing, expected) = odd_texts();
    let (_, entities) = read(&write(&drawing, &layers::ALL, Shown::Mm));
    let texts: Vec<&str> = entities
        .iter()
        .map(|e| match &e.body {
            Body::Text { content, .. } => content.as_str(),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(texts, expected);
}

#[test]
fn what_has_no_extent_is_left_out_and_nothing_else() {
    let entity = |layer: &str, body: Body| Entity { layer: layer.to_owned(), handle: String::new(), body };
    let path = |points: &[Point], closed| Body::Path {
        vertices: points.iter().map(|&at| Vertex { at, bulge: 0.0 }).collect(),
        closed,
    };
    let text = |content: &str| Body::Text { at: pt(0.0, 0.0), height: 3.0, turn: 0.0, content: content.to_owned() };
    let drawing = Drawing {
        entities: vec![
            entity("piece", path(&[], true)),
            entity("piece", path(&[pt(1.0, 2.0)], true)),
            entity("piece", path(&[pt(1.0, f64::NAN), pt(2.0, 2.0)], false)),
            entity("piece", Body::Circle { centre: pt(0.0, 0.0), radius: f64::INFINITY }),
            entity("piece", Body::Ellipse { centre: pt(0.0, 0.0), half_x: 0.0, half_y: 1.0, turn: 0.0 }),
            entity("label", text(" \u{200b} ")),
            entity("my own/layer", path(&[pt(1.0, 2.0), pt(3.0, 2.0)], false)),
            entity("", path(&[pt(1.0, 2.0), pt(3.0, 2.0)], true)),
        ],
    };
    let (file, entities) = read(&write(&drawing, &layers::ALL, Shown::Mm));
    let on: Vec<&str> = entities.iter().map(|e| e.layer.as_str()).collect();
    assert_eq!(on, ["my own-layer", "0"]);
    assert!(file.layers().any(|l| l.name == "my own-layer"));
    assert!(read(&write(&Drawing::default(), &[], Shown::In)).1.is_empty());
}

#[test]
fn the_readme_has_every_layer_and_no_other() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let chapter = text.split("\n## ").find(|c| c.starts_with("Files for the saw\n")).expect("a chapter about them");
    let rows = chapter.lines().filter(|l| l.starts_with("| `")).map(|l| l.split('|').nth(1).unwrap());
    let named: Vec<&str> = rows.flat_map(|r| r.split('`').skip(1).step_by(2)).collect();
    assert_eq!(named, layers::ALL.map(|l| l.name));
}
