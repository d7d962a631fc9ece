//! The papers of a plan: what is printed is as large as it says, every figure is the model's, everything can be read, and
//! nothing that must not be cut looks as if it could.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use scantling::craft::{self, carry};
use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Point, Ring, pt};
use scantling::io;
use scantling::model::openings::Openings;
use scantling::model::{
    Finish, Grade, GrainWish, Offcut, OpeningKind, Outline, Piece, Placed, Plan, PlanNumber, Question, Rectangle, Rule,
    Shape, Slab,
};
use scantling::report::papers::{self, Burden, Work, spread};
use scantling::report::scene::{Anchor, Layer, Scene, Shape as Drawn, Text};
use scantling::report::template::CHECK;
use scantling::report::{self, Paper, Settings, pdf, sheet};
use scantling::search;
use scantling::units::{MM_PER_INCH, Shown, parse_length};
use serde_json::{Value, json};

use super::cli::run;
use super::drawing::faults;
use super::openings::{Page, bytes_of, demo_job, read};
use super::properties::{any_question, cases};
use super::{judge, make};

// ---------------------------------------------------------------------------------------------------------- questions

static NO_PICTURES: scantling::report::Backdrops = scantling::report::Backdrops(Vec::new());

/// A question with its plan and all that the papers are made from.
pub(super) struct Case {
    pub(super) question: Question,
    pub(super) plan: Plan,
    pub(super) openings: Openings,
    burdens: Vec<Vec<Option<Burden>>>,
}

fn piece_of<'q>(question: &'q Question, placed: &Placed) -> &'q Piece {
    let job = question.jobs.iter().find(|j| j.name == placed.job).unwrap();
    job.pieces.iter().find(|p| p.name == placed.piece).unwrap()
}

impl Case {
    pub(super) fn new(question: Question, mut plan: Plan) -> Self {
        plan.findings = scantling::check::judge(&question, &plan);
        let openings = craft::sheets(&question, Some(&plan));
        plan.held = openings.held();
        let burdens = plan
            .layouts
            .iter()
            .map(|l| {
                let slab = question.rack.iter().find(|s| s.name == l.slab).unwrap();
                let burden = |p: &Placed| {
                    let carried = carry::carry(piece_of(&question, p), slab, &question.shop.handling, &[], Shown::Mm);
                    Some(Burden { load: carried.load, cautions: carried.cautions })
                };
                l.placed.iter().map(burden).collect()
            })
            .collect();
        Self { question, plan, openings, burdens }
    }

    fn solved(question: Question) -> Self {
        let settings = search::Settings { rounds: Some(1), ..search::Settings::default() };
        let plan = search::solve(&question, &settings, &search::Unwatched).plan;
        Self::new(question, plan)
    }

    pub(super) fn work(&self, paper: Paper, shown: Shown) -> Work<'_> {
        Work {
            question: &self.question,
            plan: &self.plan,
            openings: &self.openings,
            burdens: &self.burdens,
            backdrops: &NO_PICTURES,
            settings: Settings { shown, paper },
        }
    }

    /// The kept offcuts, with the slab of each, its number in the plan and theirs on it.
    fn offcuts(&self) -> Vec<(&Slab, &Offcut, usize, usize)> {
        let mut out = Vec::new();
        for (i, layout) in self.plan.layouts.iter().enumerate() {
            let slab = self.question.rack.iter().find(|s| s.name == layout.slab).unwrap();
            out.extend(layout.offcuts.iter().enumerate().map(|(k, o)| (slab, o, i + 1, k + 1)));
        }
        out
    }

    fn placed(&self) -> Vec<(&str, &Placed, &Piece)> {
        let layouts = self.plan.layouts.iter();
        layouts.flat_map(|l| l.placed.iter().map(|p| (l.slab.as_str(), p, piece_of(&self.question, p)))).collect()
    }
}

fn demo(name: &str) -> Case {
    let paths = io::Paths { jobs: vec![demo_job(name)], ..io::Paths::default() };
    Case::solved(io::load(&paths).expect("the demo is sound").question)
}

static DEMOS: LazyLock<Vec<(&'static str, Case)>> =
    LazyLock::new(|| ["weir-mill", "gannet-inn", "kiln-lane-cafe"].map(|name| (name, demo(name))).into());

/// A slab with its lower left corner at the origin, on which distances from the measuring lines are coordinates; a piece of every
/// shape on it, turned by quarters.
fn bench() -> Case {
    let mut ell = make::polygon(
        "ell",
        &[pt(0.0, 0.0), pt(900.0, 0.0), pt(900.0, 400.0), pt(450.0, 400.0), pt(450.0, 800.0), pt(0.0, 800.0)],
    );
    if let Shape::Polygon(mut corners) = ell.outline.shape.clone() {
        corners[3].radius = 30.0;
        corners[1].radius = 12.5;
        let finishes = ["eased", "raw", "polished", "polished", "raw", "raw"];
        let finish = |n: &&str| if *n == "raw" { Finish::Raw } else { Finish::Finished((*n).to_owned()) };
        ell.outline = Outline::new(Shape::Polygon(corners), finishes.iter().map(finish).collect());
    }
    ell.hidden.left = 25.0;
    ell.grain = GrainWish::Any;
    let mut run = make::piece("run", 1800.0, 600.0);
    run.openings = vec![
        make::opening("sink", OpeningKind::UndermountSink, [700.0, 310.0], 500.0, 380.0, 20.0),
        make::opening("hob", OpeningKind::Cooktop, [1350.5, 285.0], 380.0, 400.0, 12.0),
    ];
    let shape = Shape::Ellipse { centre: pt(300.0, 300.0), half_x: 300.0, half_y: 300.0 };
    let table = Piece {
        outline: Outline::new(shape, vec![Finish::Finished("bullnose".to_owned())]),
        ..make::piece("table", 600.0, 600.0)
    };
    let slab = judge::slab("S", 3000.0, 2000.0);
    let question = judge::question(vec![slab], vec![ell, run, table]);
    let lies = [
        ("S", "ell", 90.0, [900.0, 50.0]),
        ("S", "run", 180.0, [2900.0, 700.0]),
        ("S", "table", 0.0, [1200.0, 1000.0]),
    ];
    let plan = judge::plan(&question, &lies);
    let case = Case::new(question, plan);
    assert_eq!(judge::broken(&case.plan.findings), Vec::new(), "{:#?}", case.plan.findings);
    case
}

// ------------------------------------------------------------------------------------------------------------- helpers

pub(super) fn all_pages(work: &Work<'_>) -> Vec<(&'static str, Vec<Scene>)> {
    vec![("slabs", papers::slabs(work)), ("pieces", papers::pieces(work)), ("labels", papers::labels(work))]
}

/// The texts of a scene with their layers.
pub(super) fn texts(scene: &Scene) -> Vec<(Layer, &Text)> {
    let text = |i: &'_ scantling::report::scene::Item| matches!(i.shape, Drawn::Text(_));
    scene
        .items
        .iter()
        .filter(|i| text(i))
        .filter_map(|i| if let Drawn::Text(t) = &i.shape { Some((i.layer, t)) } else { None })
        .collect()
}

/// The rows of a scene's tables: texts of the margin on one line, from left to right, starting with each that is at `x` of a column.
pub(super) fn row_of<'s>(scene: &'s Scene, first: &Text) -> Vec<&'s str> {
    let mut row: Vec<&Text> = texts(scene)
        .into_iter()
        .filter(|(layer, t)| *layer == Layer::Margin && (t.at.y - first.at.y).abs() < 0.01)
        .map(|(_, t)| t)
        .filter(|t| t.bbox().min.x > first.bbox().min.x - 0.01 && t.bbox().min.x < first.at.x + 60.0)
        .collect();
    row.sort_by(|a, b| a.bbox().min.x.total_cmp(&b.bbox().min.x));
    row.into_iter().map(|t| t.content.as_str()).collect()
}

/// A length as it stands on a sheet, mm.
fn length(words: &str, shown: Shown) -> Option<f64> {
    let unit = if shown == Shown::Mm { "mm" } else { "in" };
    parse_length(&format!("{words} {unit}")).ok()
}

/// By how much a written length may be off: half of its last digit.
fn rounding(shown: Shown) -> f64 {
    1e-6 + if shown == Shown::Mm { 0.05 } else { MM_PER_INCH / 32.0 }
}

fn stated_scale(page: &[String]) -> Option<f64> {
    let words = page.iter().find_map(|t| t.split("scale 1:").nth(1))?;
    words.split(' ').next()?.parse().ok()
}

fn printed(scenes: &[Scene]) -> Vec<Page> {
    let bytes = pdf::print(scenes);
    assert_eq!(bytes, pdf::print(scenes), "the same bytes twice");
    let pages = read(&bytes);
    assert_eq!(pages.len(), scenes.len());
    pages
}

pub(super) fn keep(name: &str, scenes: &[Scene]) {
    let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join("papers");
    fs::create_dir_all(&dir).unwrap();
    fs::write(dir.join(format!("{name}.pdf")), pdf::print(scenes)).unwrap();
}

// -------------------------------------------------------------------------------------------------------------- to scale

#[test]
fn slabs_and_pieces_are_as_large_as_their_sheets_say() {
    let bench = ("bench", bench());
    for (name, case) in DEMOS.iter().chain(std::iter::once(&bench)) {
        for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Tabloid, Shown::In)] {
            let scenes = papers::slabs(&case.work(paper, shown));
            let pages = printed(&scenes);
            let mut drawings = pages.iter().zip(&scenes).filter(|(p, _)| stated_scale(&p.texts).is_some());
            for layout in &case.plan.layouts {
                let (page, scene) = drawings.next().expect("a drawing a slab");
                let scale = stated_scale(&page.texts).unwrap();
                assert_eq!(scale, scene.scale);
                let round: &[f64] = if shown == Shown::Mm {
                    &[5.0, 10.0, 15.0, 20.0, 25.0, 30.0]
                } else {
                    &[6.0, 8.0, 12.0, 16.0, 24.0]
                };
                assert!(round.contains(&scale), "{name}: 1:{scale} is no scale of a rule");
                let slab = case.question.rack.iter().find(|s| s.name == layout.slab).unwrap();
                let drawn = |layer: &str, ring: &[Point]| {
                    page.of_layer(layer).any(|l| {
                        l.points.len() == ring.len() + 1
                            && l.points
                                .iter()
                                .zip(ring)
                                .all(|(p, r)| (*p - scene.origin - *r * (1.0 / scale)).norm() < 0.01)
                    })
                };
                assert!(drawn("slab", slab.outline.points()), "{name}: the outline of {}", slab.name);
                for placed in &layout.placed {
                    let piece = piece_of(&case.question, placed);
                    let pose = placed.pose();
                    assert!(drawn("piece", pose.ring(&piece.outline.ring).points()), "{name}: {}", piece.name);
                    for o in &piece.openings {
                        assert!(drawn("opening", pose.ring(&o.ring).points()), "{name}: {}", o.name);
                    }
                }
            }
            assert!(drawings.next().is_none());
            if paper == Paper::A4 {
                keep(&format!("{name}-slabs"), &scenes);
            }
        }
    }
}

#[test]
fn a_piece_is_as_large_as_its_sheet_says() {
    for (name, case) in DEMOS.iter() {
        let scenes = papers::pieces(&case.work(Paper::A4, Shown::Mm));
        keep(&format!("{name}-pieces"), &scenes);
        let pages = printed(&scenes);
        let mut drawings = pages.iter().zip(&scenes).filter(|(p, _)| stated_scale(&p.texts).is_some());
        for (_, placed, piece) in case.placed() {
            let (page, scene) = drawings.next().expect("a drawing a piece");
            let scale = stated_scale(&page.texts).unwrap();
            let drawn = |layer: &str, ring: &[Point]| {
                page.of_layer(layer).any(|l| {
                    l.points.len() == ring.len() + 1
                        && l.points
                            .iter()
                            .zip(ring)
                            .all(|(p, r)| (*p - scene.origin - *r * (1.0 / scale)).norm() < 0.01)
                })
            };
            assert!(drawn("piece", piece.outline.ring.points()), "{name}: {}", placed.piece);
            for o in &piece.openings {
                assert!(drawn("opening", o.ring.points()), "{name}: {}", o.name);
            }
            assert!(page.texts.iter().any(|t| t.starts_with(&piece.name)), "{:?}", page.texts);
        }
        assert!(drawings.next().is_none());
    }
}

#[test]
fn the_grid_stands_where_its_figures_say() {
    let case = bench();
    let mut seen = 0;
    for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::A3, Shown::Mm), (Paper::Letter, Shown::In)] {
        let scenes = papers::slabs(&case.work(paper, shown));
        let scene = &scenes[0];
        for (layer, t) in texts(scene) {
            // Figures of the grid stand left of the slab or below it.
            let (left, below) = (t.at.x < scene.origin.x, t.at.y < scene.origin.y);
            if layer != Layer::Label || left == below {
                continue;
            }
            let Some(v) = length(&t.content, shown) else { continue };
            let at = if below { scene.origin.x + v / scene.scale } else { scene.origin.y + v / scene.scale };
            let place = if below { t.at.x } else { t.at.y + 2.6 * 0.36 };
            assert!((place - at).abs() < 1e-6, "{} is at {place}, not {at}", t.content);
            // A line of the grid runs there, over the whole slab.
            let line = scene.items.iter().filter(|i| i.layer == Layer::Datum).any(|i| match &i.shape {
                Drawn::Lines { paths, closed: false } => paths.iter().any(|p| {
                    let (a, b) = (p[0], p[1]);
                    let (same, long) =
                        if below { ((a.x - at, b.x - at), b.y - a.y) } else { ((a.y - at, b.y - at), b.x - a.x) };
                    let whole = if below { 2000.0 } else { 3000.0 } / scene.scale;
                    same.0.abs() < 1e-6 && same.1.abs() < 1e-6 && (long - whole).abs() < 1e-6
                }),
                _ => false,
            });
            assert!(line, "no line at {}", t.content);
            seen += 1;
        }
    }
    assert!(seen > 20, "{seen} figures");
}

// --------------------------------------------------------------------------------------------------- figures are the model's

/// Corners by which a piece is measured, made here anew: those of the outline, or middle and ends of the half axes.
fn corners(piece: &Piece) -> Vec<(String, Point, f64)> {
    match &piece.outline.shape {
        Shape::Polygon(c) => {
            c.iter().enumerate().map(|(i, c): (usize, &Corner)| ((i + 1).to_string(), c.at, c.radius)).collect()
        }
        Shape::Ellipse { centre: m, half_x: a, half_y: b } => vec![
            ("M".to_owned(), *m, 0.0),
            ("1".to_owned(), *m - pt(0.0, *b), 0.0),
            ("2".to_owned(), *m + pt(*a, 0.0), 0.0),
            ("3".to_owned(), *m + pt(0.0, *b), 0.0),
            ("4".to_owned(), *m - pt(*a, 0.0), 0.0),
        ],
    }
}

/// The table of corners: name, and both distances as written.
pub(super) fn chalked(scenes: &[Scene], shown: Shown) -> BTreeMap<String, [f64; 2]> {
    let mut out = BTreeMap::new();
    for scene in scenes {
        for (layer, t) in texts(scene) {
            if layer != Layer::Margin || t.bold || t.content.starts_with("check") {
                continue;
            }
            let row = row_of(scene, t);
            if let [name, x, y, ..] = row.as_slice()
                && let (Some(x), Some(y)) = (length(x, shown), length(y, shown))
                && name.starts_with(|c: char| c.is_ascii_digit())
                && length(name, shown).is_none()
            {
                out.insert((*name).to_owned(), [x, y]);
            }
        }
    }
    out
}

#[test]
fn every_corner_stands_in_the_table_where_it_is_on_the_slab() {
    let case = bench();
    for shown in [Shown::Mm, Shown::In] {
        let scenes = papers::slabs(&case.work(Paper::A4, shown));
        let table = chalked(&scenes, shown);
        let mut count = 0;
        for (i, (_, placed, piece)) in case.placed().into_iter().enumerate() {
            let pose = placed.pose();
            let openings = piece.openings.iter().zip(["a", "b"]).map(|(o, id)| (format!("{}{id}", i + 1), o.centre()));
            let named = corners(piece).into_iter().map(|(name, at, _)| (format!("{}-{name}", i + 1), at));
            for (name, at) in named.chain(openings) {
                let written = table.get(&name).unwrap_or_else(|| panic!("{name} in {table:?}"));
                // The slab's lower left corner is the origin: its sides are the measuring lines.
                let at = pose.apply(at);
                assert!((written[0] - at.x).abs() <= rounding(shown), "{name}: {written:?} {at:?}");
                assert!((written[1] - at.y).abs() <= rounding(shown), "{name}: {written:?} {at:?}");
                count += 1;
            }
        }
        assert_eq!((count, table.len()), (6 + 4 + 2 + 5, count), "{table:?}");
        // Every corner has its number on the drawing.
        for name in table.keys().filter(|n| n.contains('-')) {
            assert!(texts(&scenes[0]).iter().any(|(l, t)| *l == Layer::Label && t.content == *name), "{name}");
        }
    }
}

/// On slabs whose measuring lines lie askew: whatever they are, distances between corners are those of the piece.
#[test]
fn corners_chalked_from_the_table_give_the_piece() {
    for (name, case) in DEMOS.iter() {
        for shown in [Shown::Mm, Shown::In] {
            let scenes = papers::slabs(&case.work(Paper::A4, shown));
            let mut sheets: Vec<Vec<Scene>> = Vec::new();
            for scene in scenes {
                let slab = scene.title.split(" for chalking").next().unwrap().to_owned();
                match sheets.last_mut().filter(|s| s[0].title.starts_with(&format!("{slab} for"))) {
                    Some(s) => s.push(scene),
                    None => sheets.push(vec![scene]),
                }
            }
            assert_eq!(sheets.len(), case.plan.layouts.len());
            for (layout, sheet) in case.plan.layouts.iter().zip(&sheets) {
                let table = chalked(sheet, shown);
                for (i, placed) in layout.placed.iter().enumerate() {
                    let all = corners(piece_of(&case.question, placed));
                    for (a, at, _) in &all {
                        for (b, bt, _) in &all {
                            let of = |n: &str| Point::from(table[&format!("{}-{n}", i + 1)]);
                            let (found, true_one) = (of(a).distance(of(b)), at.distance(*bt));
                            let most = 2.0 * std::f64::consts::SQRT_2 * rounding(shown);
                            assert!(
                                (found - true_one).abs() <= most,
                                "{name} {}: {a} to {b} {found} {true_one}",
                                placed.piece
                            );
                        }
                    }
                }
            }
        }
    }
}

/// What may be written as a distance from an edge: of corners, openings, hidden strips.
fn distances(piece: &Piece) -> Vec<Point> {
    let e = piece.outline.shape.extent();
    let h = &piece.hidden;
    let mut out: Vec<Point> = corners(piece).into_iter().map(|c| c.1).collect();
    out.extend([e.min, e.max, pt(h.left, h.front), pt(e.max.x - h.right, e.max.y - h.back)]);
    for o in &piece.openings {
        let e = o.shape.extent();
        out.extend([e.min, e.max, o.centre()]);
    }
    out
}

#[test]
fn every_dimension_on_a_piece_is_the_models() {
    let bench = ("bench", bench());
    let mut seen = 0;
    for (name, case) in DEMOS.iter().chain(std::iter::once(&bench)) {
        for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In), (Paper::A3, Shown::Mm)] {
            let scenes = papers::pieces(&case.work(paper, shown));
            let drawings: Vec<&Scene> =
                scenes.iter().filter(|s| texts(s).iter().any(|t| t.1.content.contains("scale 1:"))).collect();
            let placed = case.placed();
            assert_eq!(drawings.len(), placed.len());
            for (scene, (_, _, piece)) in drawings.into_iter().zip(placed) {
                let wanted = distances(piece);
                let mut written = [Vec::new(), Vec::new()];
                for (_, t) in texts(scene).into_iter().filter(|t| t.0 == Layer::Dimension && t.1.anchor == Anchor::End)
                {
                    let v = length(&t.content, shown).unwrap_or_else(|| panic!("\"{}\" is no length", t.content));
                    // Upright figures below the piece are distances from its left end, level ones on the left those from its front.
                    let below = t.upright;
                    let axis = |p: &Point| if below { p.x } else { p.y };
                    let near = wanted.iter().map(axis).find(|w| (w - v).abs() <= rounding(shown));
                    let true_one =
                        near.unwrap_or_else(|| panic!("{name} {}: {} is nothing of the piece", piece.name, t.content));
                    // The line that leads to it begins at the true place.
                    let o = scene.origin;
                    let starts = scene.items.iter().filter(|i| i.layer == Layer::Dimension).any(|i| match &i.shape {
                        Drawn::Lines { paths, .. } => paths.iter().filter(|p| p.len() == 4).any(|p| {
                            let (at, tip) = if below { (p[0].x - o.x, p[3].x) } else { (p[0].y - o.y, p[3].y) };
                            let end = if below { t.bbox().centre().x } else { t.bbox().centre().y };
                            let near = wanted
                                .iter()
                                .map(axis)
                                .any(|w| (w / scene.scale - at).abs() < 1e-6 && (w - v).abs() <= rounding(shown));
                            near && (tip - end).abs() < 0.01
                        }),
                        _ => false,
                    });
                    assert!(starts, "{name} {}: no line leads to {}", piece.name, t.content);
                    written[usize::from(!below)].push(true_one);
                    seen += 1;
                }
                // Nothing of the outline and no centre is left out (there is room on all of these).
                let must = corners(piece).into_iter().map(|c| c.1).chain(piece.openings.iter().map(|o| o.centre()));
                for p in must {
                    for (values, v) in written.iter().zip([p.x, p.y]) {
                        assert!(values.iter().any(|w| (w - v).abs() < 0.1), "{name} {}: {v} is missing", piece.name);
                    }
                }
            }
        }
    }
    assert!(seen > 500, "{seen} dimensions");
}

#[test]
fn the_tables_of_a_piece_have_its_corners_edges_openings_and_rods() {
    let case = bench();
    let shown = Shown::Mm;
    let work = case.work(Paper::A4, shown);
    let scenes = papers::pieces(&work);
    for (_, _, piece) in case.placed() {
        let own: Vec<&Scene> = scenes.iter().filter(|s| s.title.starts_with(&format!("{}:", piece.name))).collect();
        let words: Vec<&str> = own.iter().flat_map(|s| texts(s)).map(|t| t.1.content.as_str()).collect();
        let all = words.join(" ");
        let rows: Vec<Vec<&str>> = own
            .iter()
            .flat_map(|s| {
                let first = texts(s).into_iter().filter(|(l, t)| *l == Layer::Margin && t.bold).map(|t| t.1);
                first.map(|t| row_of(s, t)).collect::<Vec<_>>()
            })
            .collect();
        for (name, at, radius) in corners(piece) {
            let mut row = vec![name.clone(), shown.bare_length(at.x), shown.bare_length(at.y)];
            row.extend((radius > 0.0).then(|| format!("R {}", shown.bare_length(radius))));
            assert!(rows.iter().any(|r| *r == row), "{}: {row:?} in {rows:?}", piece.name);
        }
        if let Shape::Polygon(c) = &piece.outline.shape {
            for (i, finish) in piece.outline.finishes.iter().enumerate() {
                let next = (i + 1) % c.len();
                let long = shown.bare_length(c[i].at.distance(c[next].at));
                let between = format!("{}-{}", i + 1, next + 1);
                let found =
                    rows.iter().any(|r| r[0] == between && r.contains(&long.as_str()) && r.contains(&finish.name()));
                assert!(found, "{}: {between} {long} {} in {rows:?}", piece.name, finish.name());
            }
        }
        for o in &piece.openings {
            let c = o.centre();
            let centre =
                format!("centre {} from the left end, {} from the", shown.bare_length(c.x), shown.bare_length(c.y));
            assert!(all.contains(&centre), "{centre}");
            let e = o.shape.extent();
            let from = format!("from the front {} to {}", shown.bare_length(e.min.y), shown.bare_length(e.max.y));
            assert!(all.contains(&from), "{from}");
        }
        for sheet in case.openings.openings.iter().filter(|s| s.piece == piece.name) {
            for rod in &sheet.rods {
                assert!(rod.from[1] == rod.to[1], "a rod of the front rail runs along it");
                let [x, u, y] = [rod.from[0], rod.to[0], rod.from[1]].map(|v| shown.bare_length(v));
                let words = format!("from the left end {x} to {u}, {y} from the front");
                assert!(all.contains(&words), "{words}");
            }
        }
        for must in ["FACE UP", "grain"] {
            assert!(all.contains(must) || must == "grain", "{must}");
        }
    }
    let rods: usize = case.openings.openings.iter().map(|s| s.rods.len()).sum();
    assert!(rods > 0, "a test without rods proves nothing of them");
    let ell = scenes.iter().find(|s| s.title.starts_with("ell")).unwrap();
    let words: Vec<&str> = ell.texts().map(|t| t.content.as_str()).collect();
    for must in ["R 12.5", "R 30", "eased", "polished", "hidden strips (hatched): left 25"] {
        assert!(words.iter().any(|w| w.contains(must)), "{must} in {words:?}");
    }
}

#[test]
fn figures_are_spread_in_order_at_their_pitch_as_near_as_can_be() {
    let config = Config { cases: cases(200), failure_persistence: None, ..Config::default() };
    let any = prop::collection::vec(0.0..100.0_f64, 1..12);
    TestRunner::new(config)
        .run(&any, |mut wanted| {
            wanted.sort_by(f64::total_cmp);
            let at = spread(&wanted, 3.0, 0.0, 100.0).unwrap();
            prop_assert!(at.iter().all(|v| (-1e-9..=100.0 + 1e-9).contains(v)));
            prop_assert!(at.windows(2).all(|w| w[1] - w[0] >= 3.0 - 1e-9));
            // No single figure can move towards its place without touching another: a least sum of squares has no way down.
            let sum = |at: &[f64]| at.iter().zip(&wanted).map(|(a, w)| (a - w) * (a - w)).sum::<f64>();
            for i in 0..at.len() {
                for j in i..at.len() {
                    for step in [0.01, -0.01] {
                        let moved: Vec<f64> = at
                            .iter()
                            .enumerate()
                            .map(|(k, v)| if (i..=j).contains(&k) { v + step } else { *v })
                            .collect();
                        let legal = moved.windows(2).all(|w| w[1] - w[0] >= 3.0 - 1e-12)
                            && moved.iter().all(|v| (0.0..=100.0).contains(v));
                        prop_assert!(!legal || sum(&moved) >= sum(&at) - 1e-9, "{wanted:?} {at:?} {i} {j} {step}");
                    }
                }
            }
            Ok(())
        })
        .unwrap();
}

// ------------------------------------------------------------------------------------------------------------ legible, complete

#[test]
fn nothing_overlaps_or_leaves_the_paper() {
    let bench = ("bench", bench());
    for (name, case) in DEMOS.iter().chain(std::iter::once(&bench)) {
        for (_, paper) in Paper::NAMES {
            for shown in [Shown::Mm, Shown::In] {
                for (what, scenes) in all_pages(&case.work(paper, shown)) {
                    for (i, scene) in scenes.iter().enumerate() {
                        assert_eq!(
                            faults(scene),
                            Vec::<String>::new(),
                            "{name}: page {} of {what}, {}",
                            i + 1,
                            paper.name()
                        );
                        assert_eq!(scene.rows_left_out, 0, "{name}: page {} of {what}, {}", i + 1, paper.name());
                    }
                }
            }
        }
    }
}

#[test]
fn papers_of_random_plans_can_be_read() {
    let config = Config { cases: cases(12), failure_persistence: None, max_shrink_iters: 20, ..Config::default() };
    TestRunner::new(config)
        .run(&(any_question(), 0..4_usize, any::<bool>()), |(mut q, paper, inches)| {
            // A flaw that is drawn off its slab is nothing that a drawing of the slab could show.
            for slab in &mut q.rack {
                let b = slab.outline.bbox();
                let inside = |p: Point| p.x > b.min.x && p.y > b.min.y && p.x < b.max.x && p.y < b.max.y;
                slab.flaws.retain(|f| inside(f.bbox().min) && inside(f.bbox().max));
            }
            let case = Case::solved(q);
            let shown = if inches { Shown::In } else { Shown::Mm };
            let work = case.work(Paper::NAMES[paper].1, shown);
            for (what, scenes) in all_pages(&work) {
                for scene in &scenes {
                    prop_assert_eq!(faults(scene), Vec::<String>::new(), "{}", what);
                    prop_assert_eq!(scene.rows_left_out, 0);
                }
            }
            let labels = papers::labels(&work);
            let up = labels.iter().flat_map(Scene::texts).filter(|t| t.content == "FACE UP").count();
            prop_assert_eq!(up, case.placed().len() + case.offcuts().len());
            Ok(())
        })
        .unwrap();
}

#[test]
fn every_page_says_what_it_is() {
    for (name, case) in DEMOS.iter() {
        let work = case.work(Paper::A4, Shown::Mm);
        let plan = PlanNumber::of(&case.question, &case.plan, &case.openings);
        for (what, scenes) in all_pages(&work) {
            for (i, page) in printed(&scenes).iter().enumerate() {
                let has = |words: &str| {
                    assert!(page.texts.iter().any(|t| t.contains(words)), "{name} {what}: {words} in {:?}", page.texts)
                };
                has(&case.plan.jobs.join(", "));
                has(&format!("Plan {plan}, seed {}", case.plan.seed));
                has(&format!("page {} of {}", i + 1, scenes.len()));
                has("scale");
                has("Silica dust");
                has("fall shadow");
                has("this bar must measure 100 mm");
                let bars: Vec<f64> =
                    page.of_layer("check").map(|l| l.points[0].distance(l.points[1])).filter(|l| *l > 50.0).collect();
                assert_eq!(bars.len(), 1);
                assert!((bars[0] - CHECK).abs() < 0.01 && (CHECK - 100.0).abs() < 1e-9, "{bars:?}");
            }
        }
        let (templates, refused) = papers::templates(&work, None);
        assert!(refused.is_empty());
        for (scenes, of) in [(&templates, templates.len()), (&papers::templates(&work, Some(Paper::A4)).0, 0)] {
            for (i, page) in printed(scenes).iter().enumerate() {
                let stamp =
                    format!("Plan {plan}, seed {}; scale 1:1; page {} of {}", case.plan.seed, i + 1, scenes.len());
                assert!(page.texts.contains(&stamp), "{stamp} in {:?}", page.texts);
                assert!(of == 0 || of == scenes.len());
                assert_eq!(faults(&scenes[i]), Vec::<String>::new(), "{name}: template {}", i + 1);
            }
        }
        // One for every opening, copies together.
        let kinds: std::collections::BTreeSet<(&str, usize, &str)> = case
            .placed()
            .iter()
            .flat_map(|(_, p, piece)| piece.openings.iter().map(|o| (p.job.as_str(), piece.kind, o.name.as_str())))
            .collect();
        assert_eq!(templates.len(), kinds.len());
    }
}

#[test]
fn every_placed_piece_has_its_label_in_the_order_of_cutting() {
    for (name, case) in DEMOS.iter() {
        for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In), (Paper::A3, Shown::Mm)] {
            let scenes = papers::labels(&case.work(paper, shown));
            keep(&format!("{name}-labels-{}", paper.name()), &scenes);
            let words: Vec<&str> = scenes.iter().flat_map(Scene::texts).map(|t| t.content.as_str()).collect();
            assert_eq!(words.iter().filter(|w| **w == "FACE UP").count(), case.placed().len() + case.offcuts().len());
            assert_eq!(words.iter().filter(|w| **w == "front edge").count(), case.placed().len());
            let mut next = 0;
            let mut find = |wanted: &str| {
                let at = words[next..].iter().position(|w| *w == wanted);
                next += at.unwrap_or_else(|| panic!("{name}: {wanted} after {:?}", &words[next..])) + 1;
            };
            for (slab, placed, piece) in case.placed() {
                find(&piece.name);
                find(&placed.job);
                let layout = case.plan.layouts.iter().find(|l| l.slab == slab).unwrap();
                let number = layout.placed.iter().position(|p| p == placed).unwrap() + 1;
                find(&format!("Slab {slab}, no. {number}"));
            }
            // Masses are those of the work on carrying.
            let all = words.join(" ");
            for burden in case.burdens.iter().flatten().flatten() {
                let mass = (burden.load.mass_kg * 10.0).round() / 10.0;
                assert!(all.contains(&format!("{mass} kg")), "{mass} kg");
                let cut = (burden.load.mass_cut_kg * 10.0).round() / 10.0;
                assert!(all.contains(&format!("{cut} kg")), "{cut} kg");
            }
            assert!(!all.contains('…'), "{name}: something is cut short: {all}");
        }
    }
}

// -------------------------------------------------------------------------------------------------------------- offcuts

/// A slab whose sides lie askew, with a piece in its lower right and an offcut whose line runs round the piece, through to the slab's
/// own edges: a corner of the piece is cut round by the kerf, in steps.
fn askew() -> (Case, Vec<Point>) {
    let corners = [pt(0.0, 60.0), pt(3000.0, 0.0), pt(3040.0, 1800.0), pt(30.0, 1850.0)];
    let slab = Slab { outline: Ring::tidy(&corners).unwrap().0, grain: Some(5.0), ..judge::slab("ask/1", 1.0, 1.0) };
    let question = judge::question(vec![slab], vec![make::piece("run", 1900.0, 600.0)]);
    let mut plan = judge::plan(&question, &[("ask/1", "run", 0.0, [1080.0, 60.0])]);
    let edge = |x: f64| 60.0 - 60.0 * x / 3000.0;
    let right = |y: f64| 3000.0 + 40.0 * y / 1800.0;
    // The line to be chalked, and what a plan has: with the rounding, and with the slab's own corners.
    let line = [pt(1076.0, edge(1076.0)), pt(1076.0, 664.0), pt(right(664.0), 664.0)];
    let outline =
        [corners[0], line[0], pt(1076.0, 660.0), pt(1077.2, 662.8), pt(1080.0, 664.0), line[2], corners[2], corners[3]];
    plan.layouts[0].offcuts.push(Offcut {
        outline: outline.map(Into::into).to_vec(),
        rectangle: Rectangle { corner: [50.0, 690.0], size: [2900.0, 1050.0], turn: 0.0 },
    });
    (Case::new(question, plan), line.to_vec())
}

/// Rows of the tables of offcuts: name, from B, from A.
fn offcut_rows(scenes: &[Scene], shown: Shown) -> Vec<(String, [f64; 2])> {
    let mut out = Vec::new();
    for scene in scenes {
        for (_, t) in texts(scene).into_iter().filter(|(l, t)| *l == Layer::Margin && !t.bold) {
            let named =
                ["from", "to"].contains(&t.content.as_str()) || t.content.starts_with('R') && t.content.contains('-');
            if let [name, x, y, ..] = row_of(scene, t).as_slice()
                && named
                && let (Some(x), Some(y)) = (length(x, shown), length(y, shown))
            {
                out.push(((*name).to_owned(), [x, y]));
            }
        }
    }
    out
}

#[test]
fn an_offcut_can_be_chalked_from_the_table() {
    let (case, line) = askew();
    for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In)] {
        let scenes = papers::slabs(&case.work(paper, shown));
        let rows = offcut_rows(&scenes, shown);
        let place = |name: &str| {
            let found: Vec<[f64; 2]> = rows.iter().filter(|r| r.0 == name).map(|r| r.1).collect();
            assert_eq!(found.len(), 1, "{name} in {rows:?}");
            Point::from(found[0])
        };
        // Three corners are to be chalked, and those of the slab are not: there it ends by itself.
        assert_eq!(rows.iter().filter(|r| r.0.starts_with("R1-")).count(), line.len(), "{rows:?}");
        // The measuring lines lie as the slab does, so distances and the sense of turns are what they are on the stone.
        let written: Vec<Point> = (1..=line.len()).map(|k| place(&format!("R1-{k}"))).collect();
        let most = 2.0 + 3.0 * rounding(shown);
        for i in 0..line.len() {
            for j in 0..i {
                let (found, wanted) = (written[i].distance(written[j]), line[i].distance(line[j]));
                assert!((found - wanted).abs() < most, "{i} {j}: {found} {wanted}");
            }
        }
        let turn = (written[1] - written[0]).cross(written[2] - written[1]);
        assert!(turn < 0.0, "{written:?}");
        // Both ends of the rectangle's lower side: as long as the rectangle, and as far off the line as it is.
        let (from, to) = (place("from"), place("to"));
        assert!((from.distance(to) - 2900.0).abs() < 3.0 * rounding(shown));
        let off = (written[2] - written[1]).cross(from - written[1]) / written[2].distance(written[1]);
        assert!((off - 26.0).abs() < most, "{off}");
        let all: Vec<&str> = scenes.iter().flat_map(Scene::texts).map(|t| t.content.as_str()).collect();
        assert!(all.join(" ").contains("Strips beyond it are cut off"));
        for k in 1..=line.len() {
            let name = format!("R1-{k}");
            assert!(texts(&scenes[0]).iter().any(|(l, t)| *l == Layer::Label && t.content == name), "{name}");
        }
        for scene in &scenes {
            assert_eq!(faults(scene), Vec::<String>::new());
        }
    }
    // The demos have offcuts, and every one has its table.
    for (name, case) in DEMOS.iter() {
        let rows = offcut_rows(&papers::slabs(&case.work(Paper::A4, Shown::Mm)), Shown::Mm);
        assert_eq!(rows.iter().filter(|r| r.0 == "from").count(), case.offcuts().len(), "{name}");
    }
}

#[test]
fn every_kept_offcut_has_its_label_after_those_of_the_pieces() {
    let demos: Vec<&Case> = DEMOS.iter().map(|d| &d.1).collect();
    let (own, _) = askew();
    let mut seen = 0;
    for case in demos.into_iter().chain([&own]) {
        for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In)] {
            let work = case.work(paper, shown);
            let scenes = papers::labels(&work);
            let all: Vec<&Text> = scenes.iter().flat_map(Scene::texts).collect();
            let first = all.iter().position(|t| t.content.contains("offcut, keep")).unwrap_or(all.len());
            for (_, placed, _) in case.placed() {
                let at = all.iter().position(|t| t.content == placed.piece).expect("the label of a piece");
                assert!(at < first, "{} stands behind offcuts", placed.piece);
            }
            for (slab, offcut, i, k) in case.offcuts() {
                let at = all.iter().position(|t| t.content == format!("{i}-R{k} offcut, keep")).expect("its label");
                let end = all[at + 1..].iter().position(|t| t.content.contains("offcut, keep"));
                let label = &all[at..end.map_or(all.len(), |e| at + 1 + e)];
                let words = label.iter().map(|t| t.content.as_str()).collect::<Vec<_>>().join(" ");
                let [w, h] = offcut.rectangle.size.map(|v| shown.bare_length(v));
                let thick = shown.length(slab.thickness);
                let lot = slab.lot.as_ref().map_or_else(|| "lot not given".to_owned(), |l| format!("lot {l}"));
                for must in [
                    format!("of slab {}", slab.name),
                    format!("{w} × {h}, {thick} thick"),
                    slab.material.clone(),
                    lot,
                    "Name on the rack:".to_owned(),
                    format!("Plan {}", work.number()),
                ] {
                    assert!(words.contains(&must), "{must} in {words}");
                }
                seen += 1;
            }
            let arrows = scenes.iter().flat_map(|s| &s.items).filter(|i| i.layer == Layer::Grain).count();
            let grained = case.offcuts().iter().filter(|o| o.0.grain.is_some()).count();
            assert_eq!(arrows, grained);
            for scene in &scenes {
                assert_eq!(faults(scene), Vec::<String>::new());
            }
        }
    }
    assert!(seen > 4, "{seen} labels of offcuts");
}

// ------------------------------------------------------------------------------------------------------------ legibility

#[test]
fn a_long_finish_stands_on_the_sheet_of_the_piece_whole() {
    let name = "bullnose, doubled below by a strip of 40 with a drip groove, honed";
    let mut run = make::piece("run", 2200.0, 600.0);
    run.outline = Outline::new(
        run.outline.shape.clone(),
        vec![Finish::Finished(name.to_owned()), Finish::Raw, Finish::Raw, Finish::Raw],
    );
    let question = judge::question(vec![judge::slab("S", 3000.0, 1400.0)], vec![run]);
    let plan = judge::plan(&question, &[("S", "run", 0.0, [100.0, 100.0])]);
    let case = Case::new(question, plan);
    let scenes = papers::pieces(&case.work(Paper::A4, Shown::Mm));
    // The words of the table, line below line in one column.
    let bold: Vec<&Text> =
        scenes.iter().flat_map(|s| texts(s)).filter(|(l, t)| *l == Layer::Margin && t.bold).map(|t| t.1).collect();
    let first = bold.iter().find(|t| t.content.starts_with("bullnose")).expect("the finish");
    let mut lines: Vec<&&Text> =
        bold.iter().filter(|t| (t.at.x - first.at.x).abs() < 0.01 && t.at.y <= first.at.y + 0.01).collect();
    lines.sort_by(|a, b| b.at.y.total_cmp(&a.at.y));
    let words = lines.iter().map(|t| t.content.as_str()).collect::<Vec<_>>().join(" ");
    assert!(words.starts_with(name), "{words}");
    for scene in &scenes {
        assert_eq!(faults(scene), Vec::<String>::new());
    }
}

#[test]
fn no_words_lie_on_a_rod_and_no_leader_crosses_another_one() {
    let bench = bench();
    let (mut seen, mut led) = (0, 0);
    for case in DEMOS.iter().map(|d| &d.1).chain([&bench]) {
        for (paper, shown) in
            [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In), (Paper::Letter, Shown::Mm), (Paper::A3, Shown::Mm)]
        {
            for scene in papers::pieces(&case.work(paper, shown)) {
                let rods: Vec<[Point; 2]> = scene
                    .items
                    .iter()
                    .filter(|i| i.layer == Layer::Rod)
                    .filter_map(|i| match &i.shape {
                        Drawn::Lines { paths, .. } => Some([paths[0][0], paths[0][1]]),
                        _ => None,
                    })
                    .collect();
                for [a, b] in &rods {
                    for (layer, t) in texts(&scene) {
                        // Half of the rod's width is 0.35 mm.
                        let b = BBox {
                            min: pt(a.x.min(b.x) - 0.3, a.y.min(b.y) - 0.3),
                            max: pt(a.x.max(b.x) + 0.3, a.y.max(b.y) + 0.3),
                        };
                        assert!(
                            layer == Layer::Margin || !t.bbox().near(&b, 0.0),
                            "{}: {} lies on a rod",
                            scene.title,
                            t.content
                        );
                    }
                    seen += 1;
                }
                // The leader of a rod's name runs across no other rod.
                let all = texts(&scene);
                let names: Vec<BBox> = all
                    .iter()
                    .filter(|(l, t)| {
                        let name = t.content.strip_prefix('R').unwrap_or_default();
                        *l == Layer::Label && name.starts_with(|c: char| c.is_ascii_digit())
                    })
                    .map(|(_, t)| t.bbox())
                    .collect();
                assert_eq!(names.len() + scene.left_out.min(rods.len() - names.len()), rods.len(), "{}", scene.title);
                for item in scene.items.iter().filter(|i| i.layer == Layer::Dimension) {
                    let Drawn::Lines { paths, .. } = &item.shape else { continue };
                    let [path] = paths.as_slice() else { continue };
                    let [p, q] = path.as_slice() else { continue };
                    // Names of rods lead to these places; rails have their figures elsewhere.
                    let is_place =
                        |r: &[Point; 2]| [0.12, 0.3, 0.7, 0.88].iter().any(|&t| r[0].lerp(r[1], t).distance(*q) < 1e-6);
                    let leads = rods.iter().any(is_place);
                    // The end lies on its rod but for the last bit.
                    let (p, q) = (*p, *q + (*q - *p) * 1e-6);
                    if leads {
                        let on =
                            |r: &&[Point; 2]| scantling::geom::distance::segment_contact(p, q, r[0], r[1]).is_some();
                        assert_eq!(
                            rods.iter().filter(on).count(),
                            1,
                            "{}: a leader crosses rods: {p:?} {q:?} {rods:?} {names:?}",
                            scene.title
                        );
                        led += 1;
                    }
                }
            }
        }
    }
    assert!(seen > 20 && led > 10, "{seen} rods, {led} leaders");
}

/// A front that bulges out: as an arc, and as the polyline that stands for it.
#[test]
fn a_bowed_front_is_marked_along_its_bow() {
    let arc = [(0.0, 60.0, 0.0), (1200.0, -60.0, 9000.0), (2400.0, 60.0, 0.0), (2400.0, 700.0, 0.0), (0.0, 700.0, 0.0)];
    let arc: Vec<Corner> = arc.iter().map(|&(x, y, radius)| Corner { at: pt(x, y), radius }).collect();
    // Twenty-four chords of a parabola.
    let steps = (0..=24).map(|k| pt(100.0 * f64::from(k), 60.0 * (f64::from(k) / 12.0 - 1.0).powi(2)));
    let steps: Vec<Corner> =
        steps.chain([pt(2400.0, 700.0), pt(0.0, 700.0)]).map(|at| Corner { at, radius: 0.0 }).collect();
    for corners in [arc, steps] {
        let sides = corners.len();
        let low = scantling::geom::curve::extent(&corners).min;
        let shape = Shape::Polygon(corners).moved(-low);
        let bar = Piece { outline: Outline::new(shape, vec![Finish::Raw; sides]), ..make::piece("bar", 2400.0, 700.0) };
        let question = judge::question(vec![judge::slab("S", 3000.0, 1400.0)], vec![bar]);
        let plan = judge::plan(&question, &[("S", "bar", 0.0, [200.0, 200.0])]);
        let case = Case::new(question, plan);
        let scene = sheet::scene(&case.question, &case.plan, 0, &Settings::default());
        let long: f64 = scene
            .items
            .iter()
            .filter(|i| i.layer == Layer::Edge)
            .filter_map(|i| match &i.shape {
                Drawn::Lines { paths, .. } if i.stroke.is_some_and(|s| (s.width - 1.0).abs() < 1e-9) => {
                    Some(paths[0][0].distance(paths[0][1]))
                }
                _ => None,
            })
            .sum();
        assert!(long * scene.scale > 1400.0, "{} mm of 2400", long * scene.scale);
        let drawing = scantling::cad::cutting::drawing(&case.question, &case.plan, 0, &case.openings, Shown::Mm);
        let marks: Vec<Point> = drawing
            .entities
            .iter()
            .filter_map(|e| match &e.body {
                scantling::cad::Body::Text { at, content, .. } if content == "front" => Some(*at),
                _ => None,
            })
            .collect();
        assert_eq!(marks.len(), 1);
        assert!((marks[0].x - 1400.0).abs() < 400.0 && (marks[0].y - 200.0).abs() < 80.0, "{marks:?}");
    }
}

// ----------------------------------------------------------------------------------------------------- not to be cut

#[test]
fn a_plan_that_breaks_rules_says_so_on_every_page() {
    let mut case = bench();
    case.plan.layouts[0].placed[2].shift = [900.0, 500.0];
    let case = Case::new(case.question, case.plan);
    assert!(case.plan.findings.iter().any(|f| f.grade == Grade::Broken));
    let work = case.work(Paper::A4, Shown::Mm);
    let (templates, _) = papers::templates(&work, None);
    assert!(!templates.is_empty());
    for (what, scenes) in all_pages(&work).into_iter().chain([("templates", templates)]) {
        for scene in &scenes {
            assert!(scene.texts().any(|t| t.content.contains("DO NOT CUT")), "{what}");
            assert_eq!(faults(scene), Vec::<String>::new(), "{what}");
        }
    }
    // A piece without a place does not forbid to cut the others, but every page says that it is missing.
    let less = bench();
    let lies: Vec<(&str, &str, f64, [f64; 2])> =
        less.placed().iter().take(2).map(|(s, p, _)| (*s, p.piece.as_str(), p.turn, p.shift)).collect();
    let mut plan = judge::plan(&less.question, &lies);
    plan.proven = false;
    let less = Case::new(less.question.clone(), plan);
    assert_eq!(judge::broken(&less.plan.findings), [Rule::Unplaced], "{:#?}", less.plan.findings);
    for (_, scenes) in all_pages(&less.work(Paper::A4, Shown::Mm)) {
        for scene in &scenes {
            assert!(!scene.texts().any(|t| t.content.contains("DO NOT CUT")));
            assert!(scene.texts().any(|t| t.content == "NOT COMPLETE: 1 piece has no place in this plan"));
        }
    }
}

#[test]
fn the_number_of_a_plan_changes_with_all_that_is_cut_or_worked_and_with_nothing_else() {
    let case = bench();
    let own = PlanNumber::of(&case.question, &case.plan, &case.openings);
    // Works out all anew, as the program does.
    let number =
        |question: &Question, plan: &Plan| PlanNumber::of(question, plan, &craft::sheets(question, Some(plan)));
    assert_eq!(number(&case.question, &case.plan), own);
    // What is only said.
    let mut plan = case.plan.clone();
    (plan.cost, plan.proven, plan.seed) = (1.0, false, 77);
    plan.findings.clear();
    plan.layouts[0].placed[0].outline.clear();
    let mut question = case.question.clone();
    question.shop.handling.lift += 10.0;
    question.rack[0].price += 1.0;
    question.rack[0].lot = Some("7".to_owned());
    question.shop.tools.core_bits.push(1000.0);
    for slab in &mut question.rack {
        for p in &mut slab.flaws {
            p.radius += 1e-12;
        }
    }
    assert_eq!(number(&question, &plan), own);

    let mut seen = vec![own];
    let mut differs = |what: &str, number: PlanNumber| {
        assert!(!seen.contains(&number), "{what}");
        seen.push(number);
    };
    let mut moved = |what: &str, change: fn(&mut Plan)| {
        let mut plan = case.plan.clone();
        change(&mut plan);
        differs(what, number(&case.question, &plan));
    };
    moved("a piece moved", |p| p.layouts[0].placed[1].shift[0] += 1e-5);
    moved("a piece turned", |p| p.layouts[0].placed[1].turn += 0.5);
    moved("a slab renamed", |p| p.layouts[0].slab.push('x'));
    moved("a job renamed", |p| p.jobs[0].push('x'));
    moved("an offcut less or more", |p| match p.layouts[0].offcuts.pop() {
        Some(_) => {}
        None => p.layouts[0].offcuts.push(Offcut {
            outline: vec![[0.0, 0.0], [900.0, 0.0], [900.0, 700.0]],
            rectangle: Rectangle { corner: [1.0, 1.0], size: [400.0, 300.0], turn: 0.0 },
        }),
    });
    let mut changed = |what: &str, change: fn(&mut Question)| {
        let mut question = case.question.clone();
        change(&mut question);
        assert_ne!(question, case.question, "{what}: nothing changed");
        differs(what, number(&question, &case.plan));
    };
    fn opening(q: &mut Question) -> &mut scantling::model::Opening {
        q.jobs[0].pieces.iter_mut().flat_map(|p| &mut p.openings).next().expect("an opening")
    }
    changed("a wider hole", |q| {
        let o = opening(q);
        if let Shape::Polygon(c) = &mut o.shape {
            c.iter_mut().filter(|c| c.at.x > 300.0).for_each(|c| c.at.x += 1.0);
        }
    });
    changed("a rounder hole", |q| {
        if let Shape::Polygon(c) = &mut opening(q).shape {
            c[0].radius += 1.0;
        }
    });
    changed("a hole elsewhere", |q| {
        let o = opening(q);
        o.shape = o.shape.moved(pt(0.0, 2.0));
    });
    changed("a hole for something else", |q| opening(q).kind = OpeningKind::Other);
    changed("another name of a hole", |q| opening(q).name.push('x'));
    changed("another outline", |q| {
        if let Shape::Polygon(c) = &mut q.jobs[0].pieces[0].outline.shape {
            c[1].radius += 1.0;
        }
    });
    changed("another finish", |q| q.jobs[0].pieces[0].outline.finishes[1] = Finish::Finished("honed".to_owned()));
    changed("a hidden strip", |q| q.jobs[0].pieces[0].hidden.back += 5.0);
    changed("a thicker slab", |q| q.rack[0].thickness += 0.3);
    changed("another outline of the slab", |q| {
        let b = q.rack[0].outline.bbox();
        q.rack[0].outline = Ring::rectangle(BBox { min: b.min, max: b.max + pt(3.0, 0.0) });
    });
    changed("other blades", |q| q.shop.tools.blades.iter_mut().for_each(|b| b.kerf += 0.2));
    changed("deeper into the table", |q| q.shop.tools.table_cut += 0.5);
    changed("other core bits", |q| q.shop.tools.core_bits = vec![8.0]);
    changed("other rods", |q| q.shop.rods.play += 0.5);
}

#[test]
fn all_papers_of_a_plan_bear_its_number() {
    let (_, case) = &DEMOS[0];
    let number = PlanNumber::of(&case.question, &case.plan, &case.openings);
    let words = format!("Plan {number}");
    let settings = Settings { shown: Shown::In, paper: Paper::Letter };
    let summary = report::numbered_summary(&case.question, &case.plan, number, settings.shown);
    assert!(summary.starts_with(&format!("{words} for ")), "{summary}");
    for i in 0..case.plan.layouts.len() {
        let svg = report::layout_svg_on(&case.question, &case.plan, i, &settings, None, Some(number));
        assert!(svg.contains(&format!(">{words}; print at 100 %")), "slab {i}");
        // It stands on the sheet without pushing anything off it.
        let scene = sheet::numbered_scene(&case.question, &case.plan, i, &settings, None, Some(number));
        assert!(scene.texts().any(|t| t.content.starts_with(&words)));
        assert_eq!(faults(&scene), Vec::<String>::new());
        let drawing = scantling::cad::cutting::drawing(&case.question, &case.plan, i, &case.openings, settings.shown);
        let titles = drawing.entities.iter().filter(
            |e| matches!(&e.body, scantling::cad::Body::Text { content, .. } if content.contains(&format!("plan {number}"))),
        );
        assert_eq!(titles.count(), 1);
    }
    let page = report::page::html(&report::page::Content {
        question: &case.question,
        plan: &case.plan,
        alternatives: &[],
        openings: &case.openings,
        backdrops: &NO_PICTURES,
        quote: None,
        settings: &settings,
    });
    assert!(page.contains(&format!("Plan <b>{number}</b>")));
}

// -------------------------------------------------------------------------------------------------------- the program

const RACK: &str = "[[slab]]\nname = \"S1\"\nmaterial = \"grit\"\nstone = \"granite\"\nthickness = 30\nprice = 1\n\
                    outline.rectangle = [2600, 1500]\ngrain = \"none\"\n";

fn job(length: u32) -> String {
    format!(
        "name = \"Toll house\"\nrack = \"rack.toml\"\nmaterial = \"grit\"\nthickness = 30\n[[piece]]\nname = \"counter\"\n\
         outline.rectangle = [{length}, 640]\n[[piece.opening]]\nname = \"hob\"\nkind = \"cooktop\"\n\
         shape.rectangle = [500, 400]\ncorner_radius = 12\ncentre_line = 900\nsetback = 120\n\
         [[piece]]\nname = \"shelf\"\ncount = 2\noutline.rectangle = [900, 300]\n"
    )
}

const FILES: [&str; 4] = ["labels.pdf", "sheets-pieces.pdf", "sheets-slabs.pdf", "templates.pdf"];

/// What else is written for a plan that may be cut; its shop has no rates for a quote.
const OTHERS: [&str; 2] = ["report.html", "slab-01-s1.dxf"];

fn folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("rack.toml"), RACK).unwrap();
    fs::write(dir.path().join("job.toml"), job(1800)).unwrap();
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "p", "--quiet"]).ends_with(0);
    dir
}

#[test]
fn the_command_writes_all_papers_and_the_plan_can_too() {
    let dir = folder();
    let d = dir.path();
    assert!(!FILES.iter().any(|f| d.join("p").join(f).exists()), "no papers unless they are asked for");
    let args = ["papers", "job.toml", "--plan", "p/plan.json", "--out", "o", "--quiet"];
    let first = run(d, &args).ends_with(0);
    let files = bytes_of(&d.join("o"));
    let mut all: Vec<&str> = FILES.into_iter().chain(OTHERS).collect();
    all.sort_unstable();
    assert_eq!(files.keys().map(String::as_str).collect::<Vec<_>>(), all);
    assert!(all.iter().all(|f| first.out.contains(f)) && first.out.contains("Written to o"), "{}", first.out);
    // The same bytes again, and the same from `plan`.
    run(d, &args).ends_with(0);
    assert_eq!(bytes_of(&d.join("o")), files);
    let planned = run(d, &["plan", "job.toml", "--effort", "1", "--out", "p", "--quiet", "--papers"]).ends_with(0);
    assert!(planned.out.contains("sheets-slabs.pdf"), "{}", planned.out);
    for f in all {
        assert_eq!(fs::read(d.join("p").join(f)).unwrap(), files[f], "{f}");
    }
    // As many labels as pieces, with the masses of the stone: 1800 x 640 x 30 mm of granite.
    let labels = read(&files["labels.pdf"]);
    let words: Vec<&str> = labels.iter().flat_map(|p| p.texts.iter().map(String::as_str)).collect();
    assert_eq!(words.iter().filter(|w| **w == "front edge").count(), 3);
    let input = io::load(&io::Paths { jobs: vec![d.join("job.toml")], ..io::Paths::default() }).unwrap();
    let load = carry::carry(
        &input.question.jobs[0].pieces[0],
        &input.question.rack[0],
        &input.question.shop.handling,
        &[],
        Shown::Mm,
    )
    .load;
    assert!(words.iter().any(|w| w.contains(&format!("{} kg", (load.mass_kg * 10.0).round() / 10.0))), "{words:?}");
    // JSON for programs.
    let json = run(d, &[&args[..], &["--format", "json"]].concat()).ends_with(0);
    let value: Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(value["format"], "scantling-papers/1");
    let named: Vec<&str> = value["files"].as_array().unwrap().iter().map(|f| f["name"].as_str().unwrap()).collect();
    assert_eq!(named.len(), 6);
    assert!(FILES.iter().chain(&OTHERS).all(|f| named.contains(f)));
    assert_eq!(value["files"][1]["pages"], read(&files["sheets-slabs.pdf"]).len());
    // Without --out they go beside the plan.
    fs::remove_file(d.join("p/labels.pdf")).unwrap();
    run(d, &["papers", "job.toml", "--plan", "p/plan.json"]).ends_with(0);
    assert!(d.join("p/labels.pdf").exists());
    fs::remove_file(d.join("p/labels.pdf")).unwrap();
    run(&d.join("p"), &["papers", "../job.toml", "--plan", "plan.json"]).ends_with(0);
    assert!(d.join("p/labels.pdf").exists());
}

#[test]
fn papers_of_an_earlier_run_are_removed_and_nothing_else() {
    let dir = folder();
    let d = dir.path();
    let args = ["papers", "job.toml", "--plan", "p/plan.json", "--out", "o", "--quiet"];
    run(d, &[&args[..], &["--tiles", "a4"]].concat()).ends_with(0);
    assert!(d.join("o/templates-a4.pdf").exists());
    fs::write(d.join("o/notes.pdf"), "mine").unwrap();
    run(d, &args).ends_with(0);
    assert!(
        !d.join("o/templates-a4.pdf").exists() && d.join("o/templates.pdf").exists() && d.join("o/notes.pdf").exists()
    );
    // A plan without papers leaves none of another plan in its folder.
    run(d, &["plan", "job.toml", "--effort", "1", "--out", "p", "--quiet", "--papers", "--tiles", "letter"])
        .ends_with(0);
    assert!(d.join("p/templates-letter.pdf").exists());
    fs::write(d.join("p/notes.pdf"), "mine").unwrap();
    run(d, &["plan", "job.toml", "--effort", "1", "--out", "p", "--quiet"]).ends_with(0);
    let gone = ["templates-letter.pdf", "slab-01-s1.dxf"];
    assert!(!FILES.iter().chain(&gone).any(|f| d.join("p").join(f).exists()));
    assert!(d.join("p/notes.pdf").exists() && d.join("p/plan.json").exists());
}

#[test]
fn a_plan_for_other_pieces_is_refused_and_a_broken_one_is_marked() {
    let dir = folder();
    let d = dir.path();
    let papers = |job: &str, plan: &str, out: &str| run(d, &["papers", job, "--plan", plan, "--out", out, "--quiet"]);
    // The counter has grown since the plan was made.
    fs::write(d.join("longer.toml"), job(1830)).unwrap();
    let other = papers("longer.toml", "p/plan.json", "x").ends_with(2);
    assert!(other.err.contains("counter") && !d.join("x").exists(), "{}", other.err);
    fs::write(d.join("third.toml"), job(1800).replace("Toll house", "Weigh house")).unwrap();
    papers("third.toml", "p/plan.json", "x").ends_with(2);
    papers("job.toml", "nowhere.json", "x").ends_with(2);
    fs::write(d.join("p/half.json"), &fs::read(d.join("p/plan.json")).unwrap()[..200]).unwrap();
    papers("job.toml", "p/half.json", "x").ends_with(2);
    run(d, &["papers", "job.toml"]).ends_with(2);
    run(d, &["plan", "job.toml", "--tiles", "a4"]).ends_with(2);
    assert!(!d.join("x").exists());
    // Moved by hand onto one another: the papers are made, and nobody can miss it.
    let mut plan: Value = serde_json::from_slice(&fs::read(d.join("p/plan.json")).unwrap()).unwrap();
    for placed in plan["layouts"][0]["placed"].as_array_mut().unwrap() {
        placed["turn"] = json!(0.0);
        placed["shift"] = json!([300.0, 300.0]);
        placed.as_object_mut().unwrap().remove("outline");
        placed.as_object_mut().unwrap().remove("openings");
    }
    // What it says of itself is not believed.
    plan["findings"] = json!([]);
    fs::write(d.join("p/moved.json"), plan.to_string()).unwrap();
    let moved = papers("job.toml", "p/moved.json", "m").ends_with(1);
    assert!(moved.out.contains("pieces-too-close"), "{}", moved.out);
    assert!(fs::read_to_string(d.join("m/report.html")).unwrap().contains("Do not cut"));
    assert!(!d.join("m/slab-01-s1.dxf").exists(), "nothing for the saw");
    for f in FILES {
        for page in read(&fs::read(d.join("m").join(f)).unwrap()) {
            assert!(page.texts.iter().any(|t| t.contains("DO NOT CUT")), "{f}: {:?}", page.texts);
        }
    }
    // A piece without a place: the others may be cut, and every page says that one is missing.
    let mut plan: Value = serde_json::from_slice(&fs::read(d.join("p/plan.json")).unwrap()).unwrap();
    plan["layouts"][0]["placed"].as_array_mut().unwrap().retain(|p| p["piece"] != "shelf #2");
    fs::write(d.join("p/less.json"), plan.to_string()).unwrap();
    papers("job.toml", "p/less.json", "l").ends_with(1);
    let pages = read(&fs::read(d.join("l/labels.pdf")).unwrap());
    let words: Vec<&String> = pages.iter().flat_map(|p| &p.texts).collect();
    assert_eq!(words.iter().filter(|w| **w == "front edge").count(), 2);
    assert!(words.iter().any(|w| w.contains("no place") || w.contains("DO NOT CUT")), "{words:?}");
}

/// Boxes of the figures on a busy piece: the rule by which the placer keeps words apart holds for them too.
#[test]
fn a_piece_with_many_openings_keeps_its_figures_apart() {
    let mut piece = make::piece("bar", 2600.0, 700.0);
    for i in 0..24 {
        let shape = Shape::Ellipse {
            centre: pt(90.0 + 47.0 * f64::from(i), 80.0 + 23.0 * f64::from(i)),
            half_x: 17.5,
            half_y: 15.0,
        };
        piece.openings.push(scantling::model::Opening::new(format!("tap {i}"), OpeningKind::TapHole, shape));
    }
    let question = judge::question(vec![judge::slab("S", 3000.0, 2000.0)], vec![piece]);
    let plan = judge::plan(&question, &[("S", "bar", 0.0, [100.0, 100.0])]);
    // Without the sheets of the openings and without loads: the papers say that nothing is known of them.
    let openings = Openings { format: Openings::FORMAT.to_owned(), openings: Vec::new() };
    let case = Case { question, plan, openings, burdens: Vec::new() };
    for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In)] {
        let scenes = papers::pieces(&case.work(paper, shown));
        keep(&format!("many-{}", paper.name()), &scenes);
        for scene in &scenes {
            assert_eq!(faults(scene), Vec::<String>::new());
            let b = BBox { min: pt(0.0, 0.0), max: pt(scene.paper.0, scene.paper.1) };
            assert!(scene.items.iter().all(|i| b.near(&i.bbox(), 0.0)));
        }
        assert!(scenes[0].left_out > 0, "a test in which all has room proves nothing");
        // What has no room in a row stands in the tables.
        let words: Vec<&str> = scenes.iter().flat_map(Scene::texts).map(|t| t.content.as_str()).collect();
        let all = words.join(" ");
        assert!(all.contains("mass not known") && all.contains("not worked out"), "{all}");
        assert!(all.contains("found no room: see the tables"), "{all}");
        for o in &case.question.jobs[0].pieces[0].openings {
            let x = shown.bare_length(o.centre().x);
            assert!(all.contains(&format!("centre {x} from the left end")), "{}: {x}", o.name);
        }
    }
}
