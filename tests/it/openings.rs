//! Sheets and templates of openings: what is printed is as large as it says, and says all that it must.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use lopdf::{Document, Object, content::Content};
use scantling::craft;
use scantling::geom::{BBox, Point, distance, pt};
use scantling::io;
use scantling::model::openings::{Openings, RailVerdict, Spare, Verdict};
use scantling::model::{Drawn, Fixture, FlawKind, Opening, OpeningKind, Origin, Piece, Plan, Question, Shape};
use scantling::report::template::{CHECK, OVERLAP, Template};
use scantling::report::{Paper, Settings, opening, pdf, scene::Scene, svg};
use scantling::search;
use scantling::units::{MM_PER_INCH, Shown};
use serde_json::Value;

use super::cli::{fault, run};
use super::make;

/// A line as the PDF has it, millimetres from the lower left corner of the page.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) layer: String,
    pub(super) points: Vec<Point>,
}

/// A page as the PDF has it.
#[derive(Debug)]
pub(super) struct Page {
    /// Width and height, mm.
    pub(super) size: Point,
    pub(super) lines: Vec<Line>,
    pub(super) texts: Vec<String>,
}

impl Page {
    pub(super) fn of_layer(&self, layer: &str) -> impl Iterator<Item = &Line> {
        self.lines.iter().filter(move |l| l.layer == layer)
    }
}

fn real(o: &Object) -> f64 {
    match o {
        Object::Integer(i) => *i as f64,
        Object::Real(r) => f64::from(*r),
        other => panic!("a number was expected: {other:?}"),
    }
}

/// Reads a PDF with a library that has nothing to do with the one that wrote it.
pub(super) fn read(bytes: &[u8]) -> Vec<Page> {
    let document = Document::load_mem(bytes).expect("a PDF");
    let mut out = Vec::new();
    for (_, id) in document.get_pages() {
        let dictionary = document.get_dictionary(id).unwrap();
        let b: Vec<f64> = dictionary.get(b"MediaBox").unwrap().as_array().unwrap().iter().map(real).collect();
        let user = dictionary.get(b"UserUnit").map_or(1.0, real);
        let mm = MM_PER_INCH / 72.0 * user;
        assert_eq!((b[0], b[1]), (0.0, 0.0));
        let mut page = Page { size: pt(b[2], b[3]) * mm, lines: Vec::new(), texts: Vec::new() };
        let content = Content::decode(&document.get_page_content(id)).unwrap();
        let (mut scale, mut layer, mut path) = (1.0, String::new(), Vec::<Vec<Point>>::new());
        for operation in content.operations {
            let n: Vec<&Object> = operation.operands.iter().collect();
            let at = |i: usize| pt(real(n[i]), real(n[i + 1])) * (scale * mm);
            match operation.operator.as_str() {
                "cm" => {
                    let m: Vec<f64> = n.iter().map(|o| real(o)).collect();
                    assert_eq!((m[0], m[1], m[2], m[4], m[5]), (m[3], 0.0, 0.0, 0.0, 0.0), "only a scale");
                    scale *= m[0];
                }
                "BMC" => layer = String::from_utf8(n[0].as_name().unwrap().to_vec()).unwrap(),
                "EMC" => layer.clear(),
                "m" => path.push(vec![at(0)]),
                "l" => path.last_mut().unwrap().push(at(0)),
                "c" => path.last_mut().unwrap().push(at(4)),
                "h" => {
                    let first = path.last().unwrap()[0];
                    path.last_mut().unwrap().push(first);
                }
                "S" | "B*" | "f*" | "n" => {
                    page.lines.extend(path.drain(..).map(|points| Line { layer: layer.clone(), points }));
                }
                "Tj" => {
                    let bytes = n[0].as_str().unwrap();
                    page.texts.push(bytes.iter().map(|&b| char::from(b)).collect());
                }
                _ => {}
            }
        }
        out.push(page);
    }
    out
}

fn drawn(shape: Shape) -> Drawn {
    Drawn { shape, fit: None }
}

/// A sink run with a drop-in basin that has a rim, a large cooktop far from the front, and a tap hole.
fn sink_run() -> Piece {
    let mut piece = make::piece("sink run", 2400.0, 700.0);
    let mut basin = make::opening("basin", OpeningKind::DropInSink, [600.0, 300.0], 402.0, 326.0, 25.0);
    basin.origin = Some(Box::new(Origin {
        fixture: Fixture::DropIn {
            rim: drawn(Shape::rectangle(432.0, 356.0, 38.0).moved(pt(384.0, 122.0))),
            body: drawn(Shape::rectangle(396.0, 320.0, 25.0).moved(pt(402.0, 140.0))),
            bearing: 10.0,
            clearance: 3.0,
            accuracy: 1.5,
        },
        spare: Spare { least_bearing: Some(13.5), least_clearance: Some(1.5), may_still_cut: 3.5 },
        notes: vec!["the smallest cut-out that clears the body".to_owned()],
    }));
    let cooktop = make::opening("cooktop", OpeningKind::Cooktop, [1600.0, 420.0], 750.0, 380.0, 12.0);
    let shape = Shape::Ellipse { centre: pt(600.0, 560.0), half_x: 17.5, half_y: 17.5 };
    let tap = Opening::new("tap".to_owned(), OpeningKind::TapHole, shape);
    piece.openings = vec![basin, cooktop, tap];
    piece
}

fn template<'a>(piece: &'a Piece, opening: usize, paper: Paper) -> Template<'a> {
    let settings = Settings { shown: Shown::Mm, paper };
    Template { job: "boathouse", called: &piece.name, piece, opening: &piece.openings[opening], settings, held: None }
}

/// The folder where people look at what the tests draw.
fn looked_at() -> PathBuf {
    let dir = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("openings");
    fs::create_dir_all(&dir).unwrap();
    dir
}

fn write(name: &str, scenes: &[Scene]) -> Vec<Page> {
    let bytes = pdf::print(scenes);
    fs::write(looked_at().join(format!("{name}.pdf")), &bytes).unwrap();
    fs::write(looked_at().join(format!("{name}.svg")), svg::print(&scenes[0])).unwrap();
    assert_eq!(bytes, pdf::print(scenes), "the same bytes twice");
    let pages = read(&bytes);
    assert_eq!(pages.len(), scenes.len());
    for (page, scene) in pages.iter().zip(scenes) {
        assert!((page.size - pt(scene.paper.0, scene.paper.1)).norm() < 0.01, "{:?} {:?}", page.size, scene.paper);
    }
    pages
}

/// The bars: one level, one upright, each as long as it says.
fn assert_bars(page: &Page) {
    let long: Vec<&Line> = page.of_layer("check").filter(|l| l.points[0].distance(l.points[1]) > CHECK / 2.0).collect();
    assert_eq!(long.len(), 2);
    let bars = long.iter().map(|l| l.points[1] - l.points[0]);
    let (level, upright): (Vec<Point>, Vec<Point>) = bars.partition(|d| d.y.abs() < d.x.abs());
    assert!((level[0] - pt(CHECK, 0.0)).norm() < 0.01, "{level:?}");
    assert!((upright[0] - pt(0.0, CHECK)).norm() < 0.01, "{upright:?}");
    assert_eq!(page.texts.iter().filter(|t| *t == "100 mm").count(), 2);
    assert!(page.texts.iter().any(|t| t == "FACE UP"));
    for line in &page.lines {
        for p in &line.points {
            assert!(p.x > 5.0 && p.y > 5.0 && p.x < page.size.x - 5.0 && p.y < page.size.y - 5.0, "{line:?}");
        }
    }
}

#[test]
fn a_template_on_one_sheet_is_as_large_as_the_opening() {
    let piece = sink_run();
    for (i, opening) in piece.openings.iter().enumerate() {
        let scene = template(&piece, i, Paper::A4).sheet();
        let pages = write(&format!("sheet-{}", opening.name), std::slice::from_ref(&scene));
        assert_bars(&pages[0]);
        let cut: Vec<&Line> = pages[0].of_layer("opening").collect();
        assert_eq!(cut.len(), 1);
        // The cut line on the paper is that of the opening, corner by corner, and closed.
        let printed = &cut[0].points;
        let ring = opening.ring.points();
        assert_eq!(printed.len(), ring.len() + 1);
        assert_eq!(printed[0], printed[ring.len()]);
        for (p, r) in printed.iter().zip(ring) {
            assert!((*p - *r - scene.origin).norm() < 0.01, "{p:?} {r:?}");
        }
        // The centre lines cross in its middle.
        let centre = opening.centre() + scene.origin;
        let lines: Vec<&Line> = pages[0].of_layer("datum").collect();
        assert_eq!(lines.len(), 2);
        for line in lines {
            let near = distance::nearest_on_segment(centre, line.points[0], line.points[1]);
            assert!(near.distance(centre) < 0.01);
        }
        // The front edge, where it is near, lies where it must; else its distance is written.
        let front = scene.origin.y;
        let low = opening.shape.extent().min.y;
        let edge = pages[0].of_layer("piece").flat_map(|l| &l.points).any(|p| (p.y - front).abs() < 0.01);
        assert_eq!(edge, low - 30.0 < 150.0, "{}", opening.name);
        let words = format!("{} to the front edge", Shown::Mm.length(low));
        assert!(pages[0].texts.iter().any(|t| t.starts_with(&words)), "{:?}", pages[0].texts);
    }
}

#[test]
fn the_rim_and_the_body_stand_on_the_template_of_a_fixture() {
    let piece = sink_run();
    let scene = template(&piece, 0, Paper::A4).sheet();
    let pages = write("rim", std::slice::from_ref(&scene));
    let outlines: Vec<&Line> = pages[0].of_layer("edge").collect();
    assert_eq!(outlines.len(), 2);
    let width = |l: &Line| {
        let x = || l.points.iter().map(|p| p.x);
        x().fold(f64::MIN, f64::max) - x().fold(f64::MAX, f64::min)
    };
    assert!((width(outlines[0]) - 432.0).abs() < 0.01);
    assert!((width(outlines[1]) - 396.0).abs() < 0.01);
    for words in ["rim, rests on the stone", "body of the fixture"] {
        assert!(pages[0].texts.iter().any(|t| t == words), "{:?}", pages[0].texts);
    }
}

#[test]
fn tiles_cover_everything_and_overlap_by_what_they_say() {
    let piece = sink_run();
    for (i, paper) in [(0, Paper::A4), (1, Paper::A4), (0, Paper::Letter), (1, Paper::Letter), (2, Paper::A4)] {
        let t = template(&piece, i, paper);
        let scenes = t.tiles().unwrap();
        let pages = write(&format!("tiles-{}-{}", piece.openings[i].name, paper.name()), &scenes);
        let (w, h) = paper.size();
        let mut covered: Vec<(Point, Point)> = Vec::new();
        let mut cut = Vec::new();
        for (page, scene) in pages.iter().zip(&scenes) {
            assert!((page.size - pt(w, h)).norm() < 0.01 || (page.size - pt(h, w)).norm() < 0.01);
            assert_bars(page);
            // The frame of the page says what it shows.
            let frame = page.of_layer("slab").next().unwrap();
            let (min, max) = (frame.points[0] - scene.origin, frame.points[2] - scene.origin);
            covered.push((min, max));
            let parts: Vec<Vec<Point>> =
                page.of_layer("opening").map(|l| l.points.iter().map(|&p| p - scene.origin).collect()).collect();
            cut.push(parts);
        }
        let inside =
            |p: Point, (min, max): (Point, Point)| p.x >= min.x && p.y >= min.y && p.x <= max.x && p.y <= max.y;
        let world = t.world();
        // Every point of the drawing is on a page; the pages are shifted by their size less the overlap.
        for k in 0..=200 {
            for j in 0..=200 {
                let p = world.min + pt(world.width() * f64::from(k), world.height() * f64::from(j)) * (1.0 / 200.0);
                assert!(covered.iter().any(|&c| inside(p, c)), "{p:?} is on no page");
            }
        }
        for (a, b) in covered.iter().zip(&covered[1..]) {
            if (a.0.y - b.0.y).abs() < 0.01 {
                assert!((a.1.x - b.0.x - OVERLAP).abs() < 0.01, "{a:?} {b:?}");
            } else {
                assert!((b.1.y - a.0.y - OVERLAP).abs() < 0.01, "{a:?} {b:?}");
            }
        }
        // A point of the cut line lies at the same place on every page that shows it.
        let ring = &piece.openings[i].ring;
        let mut shared = 0;
        for (a, b) in ring.edges() {
            for s in 0..=100 {
                let p = a.lerp(b, f64::from(s) / 100.0);
                let mut on = 0;
                for (c, parts) in covered.iter().zip(&cut) {
                    let by = pt(0.01, 0.01);
                    if inside(p, (c.0 + by, c.1 - by)) {
                        let sides = parts.iter().flat_map(|l| l.windows(2));
                        let near = sides.map(|s| distance::nearest_on_segment(p, s[0], s[1]).distance(p));
                        assert!(near.fold(f64::INFINITY, f64::min) < 0.01, "{p:?} is missing on a page that shows it");
                        on += 1;
                    }
                }
                shared += usize::from(on > 1);
            }
        }
        assert!(shared > 0 || pages.len() == 1, "overlaps that no point of the cut line lies in prove nothing");
        // Every page has its own name, and those of its neighbours.
        let columns = covered.iter().filter(|c| (c.0.y - covered[0].0.y).abs() < 0.01).count();
        for (k, page) in pages.iter().enumerate() {
            let name = |k: usize| format!("{}{}", char::from(b'A' + (k / columns) as u8), k % columns + 1);
            assert!(page.texts.contains(&name(k)), "{} in {:?}", name(k), page.texts);
            if k % columns + 1 < columns {
                assert!(page.texts.contains(&format!("overlaps {}", name(k + 1))));
            }
        }
    }
}

// Sheets.

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// A demo job with its plan and its openings.
struct Demo {
    question: Question,
    plan: Plan,
    openings: Openings,
}

pub(super) fn demo_job(name: &str) -> PathBuf {
    Path::new(ROOT).join("demo-slabs").join(name).join("job.toml")
}

static CAFE: LazyLock<Demo> = LazyLock::new(|| {
    let paths = io::Paths { jobs: vec![demo_job("kiln-lane-cafe")], ..io::Paths::default() };
    let question = io::load(&paths).expect("the demo is sound").question;
    let settings = search::Settings { rounds: Some(2), ..search::Settings::default() };
    let plan = search::solve(&question, &settings, &search::Unwatched).plan;
    let openings = craft::sheets(&question, Some(&plan));
    Demo { question, plan, openings }
});

fn scenes(demo: &Demo, paper: Paper, shown: Shown) -> Vec<(String, Vec<Scene>)> {
    let settings = Settings { shown, paper };
    opening::alike(&demo.question, &demo.openings)
        .iter()
        .map(|group| {
            let sheet = &demo.openings.openings[group.first];
            let name = group.name();
            let scenes = opening::scenes(&demo.question, Some(&demo.plan), sheet, &name, &settings);
            (format!("{} {}", name, sheet.opening), scenes)
        })
        .collect()
}

#[test]
fn nothing_on_a_sheet_overlaps_or_leaves_the_paper() {
    for (paper, shown) in [(Paper::A4, Shown::Mm), (Paper::Letter, Shown::In), (Paper::A3, Shown::Mm)] {
        for (name, scenes) in scenes(&CAFE, paper, shown) {
            assert!(!scenes.is_empty(), "{name}");
            for (k, scene) in scenes.iter().enumerate() {
                let file = format!("{}-{}-{k}.svg", name.replace(' ', "-"), paper.name());
                fs::write(looked_at().join(file), svg::print(scene)).unwrap();
                assert_eq!((scene.left_out, scene.rows_left_out), (0, 0), "{name} {}", paper.name());
                let (w, h) = scene.paper;
                let page = BBox { min: pt(5.0, 5.0), max: pt(w - 5.0, h - 5.0) };
                let boxes: Vec<(BBox, &str)> = scene.texts().map(|t| (t.bbox(), t.content.as_str())).collect();
                for (i, (a, words)) in boxes.iter().enumerate() {
                    assert!(a.min.x >= page.min.x && a.min.y >= page.min.y, "{name}: {words}");
                    assert!(a.max.x <= page.max.x && a.max.y <= page.max.y, "{name}: {words}");
                    for (b, others) in &boxes[i + 1..] {
                        assert!(!a.near(b, -0.35), "{name} page {k}: \"{words}\" lies on \"{others}\"");
                    }
                }
                for item in &scene.items {
                    let b = item.bbox();
                    let on = b.min.x >= 0.0 && b.min.y >= 0.0 && b.max.x <= w && b.max.y <= h;
                    assert!(on, "{name}: {item:?}");
                }
            }
        }
    }
}

#[test]
fn what_is_drawn_is_where_it_is() {
    for (name, scenes) in scenes(&CAFE, Paper::A4, Shown::Mm) {
        let group = opening::alike(&CAFE.question, &CAFE.openings);
        let sheet =
            group.iter().map(|g| &CAFE.openings.openings[g.first]).find(|s| name.ends_with(&s.opening)).unwrap();
        let (_, hole) = opening::find(&CAFE.question, sheet).unwrap();
        let scene = &scenes[0];
        let lines: Vec<Line> = scene
            .items
            .iter()
            .filter(|i| i.layer == scantling::report::scene::Layer::Opening)
            .filter_map(|i| match &i.shape {
                scantling::report::scene::Shape::Lines { paths, .. } => {
                    Some(Line { layer: String::new(), points: paths[0].clone() })
                }
                _ => None,
            })
            .collect();
        let ring = hole.ring.points();
        let same = |l: &Line| {
            l.points.len() == ring.len()
                && l.points.iter().zip(ring).all(|(p, r)| (*p - scene.origin - *r * (1.0 / scene.scale)).norm() < 1e-6)
        };
        assert!(lines.iter().any(same), "{name}: the cut line is not drawn to scale");
        // Every core, pass, rail and rod has its label.
        let words: Vec<&str> = scene.texts().map(|t| t.content.as_str()).collect();
        let has = |start: String| assert!(words.iter().any(|w| w.starts_with(&start)), "{name}: {start} in {words:?}");
        for i in 1..=sheet.cutting.cores.len() {
            has(format!("C{i}: bit"));
        }
        for i in 1..=sheet.cutting.passes.len() {
            has(format!("S{i} "));
        }
        for i in 1..=sheet.rods.len() {
            has(format!("R{i}: rod"));
        }
        has("front edge".to_owned());
    }
}

/// The numbers of a text that no unit follows.
fn without_unit(text: &str) -> Vec<String> {
    const UNITS: [&str; 12] = ["mm", "mm,", "in", "m²", "cm²", "ft²", "g", "kg", "MPa", "%", "°", "N"];
    let words: Vec<&str> = text.split_whitespace().collect();
    let bare = |w: &str| w.trim_matches(|c: char| "();:,.|".contains(c)).to_owned();
    let mut out = Vec::new();
    for (i, word) in words.iter().enumerate() {
        let word = word.trim_start_matches('(');
        if !word.starts_with(|c: char| c.is_ascii_digit()) {
            continue;
        }
        let next = words.get(i + 1).map(|w| bare(w)).unwrap_or_default();
        let count = ["cuts", "tabs", "corner", "corners", "sides", "arcs", "traced", "passes", "x", "×"];
        if !UNITS.contains(&next.as_str()) && !count.contains(&next.as_str()) {
            out.push(format!("{word} {next}"));
        }
    }
    out
}

#[test]
fn every_number_of_the_cutting_has_its_unit() {
    assert_eq!(without_unit("12 mm, 3.5 kg (4 mm) and 8"), ["8 "]);
    let text = opening::text_of(&CAFE.question, &CAFE.openings, Shown::Mm);
    let mut seen = 0;
    let mut section = "";
    for line in text.lines() {
        if !line.starts_with(' ') {
            section = line;
        }
        seen += usize::from(line.contains(" mm"));
    }
    assert!(seen > 100 && !section.is_empty());
    for heading in ["Cut-out", "Cores to drill first", "Rails and webs", "Rods"] {
        let mut parts = 0;
        for part in text.split(&format!("\n{heading}\n")).skip(1) {
            let body: String = part.lines().take_while(|l| l.starts_with(' ')).collect::<Vec<_>>().join(" ");
            assert_eq!(without_unit(&body), Vec::<String>::new(), "{heading}: {body}");
            parts += 1;
        }
        assert!(parts > 0, "{heading}");
    }
}

#[test]
fn the_demo_has_what_it_is_to_show() {
    let sheet = |name: &str| CAFE.openings.openings.iter().find(|o| o.opening == name).unwrap();
    let basin = sheet("hand basin");
    let spare = basin.cut_out.spare.expect("given by its fixture");
    assert!(spare.least_bearing.unwrap() >= 10.0 && spare.least_clearance.unwrap() >= 2.5 - 0.002, "{spare:?}");
    assert!(basin.cut_out.notes.iter().any(|n| n.contains("40 traced points")), "{:?}", basin.cut_out.notes);
    // The crack of SG-31 lies in the drop of the cooktop, and the sheet says what to do.
    let cooktop = sheet("cooktop");
    let crack = cooktop.flaws.iter().find(|f| f.flaw == FlawKind::Crack.name()).expect("the crack");
    assert!(crack.in_drop);
    assert!(cooktop.order.iter().any(|o| o.contains("take the drop out before the piece is moved")));
    assert_eq!(cooktop.verdict, Verdict::Rods);
    let front = cooktop.rails.iter().find(|r| r.side == "front").unwrap();
    assert_eq!(front.verdict, RailVerdict::Rod);
    assert!((front.least - 70.0).abs() < 0.01, "{front:?}");
    // The web between the bowls: their middles are 510 apart, each hole is 406 - 2 x 3 wide.
    let web = sheet("left bowl").rails.iter().find(|r| r.side == "to right bowl").unwrap();
    assert!((web.least - 110.0).abs() < 0.01, "{web:?}");
    for o in &CAFE.openings.openings {
        assert!(o.cautions.iter().any(|c| c.contains("Silica")) && o.order.len() > 3, "{}", o.opening);
        assert!(!o.handling.is_empty() && o.carrying.is_some() && o.slab.is_some());
    }
}

#[test]
fn a_narrow_rail_stops_the_sheet_and_a_piece_without_a_place_is_told() {
    let mut piece = make::piece("run", 2000.0, 620.0);
    piece.openings = vec![make::opening("sink", OpeningKind::DropInSink, [1000.0, 250.0], 500.0, 420.0, 25.0)];
    let question = make::question(vec![piece], vec![make::slab("S1", 2400.0, 1000.0, 1.0)]);
    let openings = craft::sheets(&question, None);
    let sheet = &openings.openings[0];
    assert_eq!(sheet.verdict, Verdict::Stop);
    assert!(sheet.because.iter().any(|b| b.contains("front rail is 40 mm")), "{:?}", sheet.because);
    assert!(sheet.because.iter().any(|b| b.contains("no plan yet")), "{:?}", sheet.because);
    // A rectangle with round corners, from any handbook.
    let area = 500.0 * 420.0 - (4.0 - std::f64::consts::PI) * 25.0 * 25.0;
    assert!((sheet.cut_out.area_mm2 - area).abs() < 1e-6);
    // No stone at all: the cuts are known, and nothing else.
    let mut bare = question.clone();
    bare.rack[0].thickness = 20.0;
    let openings = craft::sheets(&bare, None);
    assert_eq!((openings.openings[0].verdict, openings.openings[0].slab.as_ref()), (Verdict::Stop, None));
    assert_eq!(openings.openings[0].cutting.cores.len(), 4);
}

// The program.

pub(super) fn bytes_of(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let files = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path());
    files.map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&p).unwrap())).collect()
}

const RACK: &str = "[[slab]]\nname = \"S1\"\nmaterial = \"grit\"\nstone = \"granite\"\nthickness = 30\nprice = 1\n\
                    outline.rectangle = [2600, 1500]\ngrain = \"none\"\n";

fn job(front: u32, opening: &str) -> String {
    format!(
        "name = \"J\"\nrack = \"rack.toml\"\nmaterial = \"grit\"\nthickness = 30\n[[piece]]\nname = \"a/b\"\n\
         outline.rectangle = [1800, 640]\n[[piece.opening]]\nname = \"{opening}\"\nkind = \"cooktop\"\n\
         shape.rectangle = [500, 400]\ncorner_radius = 12\ncentre_line = 900\nsetback = {front}\n\
         [[piece]]\nname = \"a b\"\noutline.rectangle = [900, 500]\n[[piece.opening]]\nname = \"{opening}\"\n\
         kind = \"tap hole\"\nshape.circle = 35\ncentre = [300, 200]\n"
    )
}

#[test]
fn the_command_writes_everything_and_says_how_it_ended() {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(dir.path().join(name), text).unwrap();
    write("rack.toml", RACK);
    write("job.toml", &job(120, "hob"));
    let args = ["openings", "job.toml", "--out", "o", "--tiles", "a4", "--quiet"];
    let first = run(dir.path(), &args).ends_with(0);
    let files = bytes_of(&dir.path().join("o"));
    // Two pieces whose names make the same word: no file is lost.
    for stem in ["opening-01-a-b-hob", "opening-02-a-b-hob"] {
        for end in [".svg", "-template.svg", "-template.pdf", "-template-a4.pdf"] {
            assert!(files.contains_key(&format!("{stem}{end}")), "{stem}{end} in {:?}", files.keys());
        }
    }
    let text = String::from_utf8(files["openings.txt"].clone()).unwrap();
    assert!(first.out.starts_with(&text) && first.out.contains("Written to o"), "{}", first.out);
    // The same bytes twice, and JSON on standard output is what is written.
    let json = run(dir.path(), &[&args[..], &["--format", "json"]].concat()).ends_with(0);
    assert_eq!(bytes_of(&dir.path().join("o")), files);
    assert_eq!(json.out.as_bytes(), files["openings.json"]);
    let value: Value = serde_json::from_str(&json.out).unwrap();
    let schema: Value = serde_json::from_str(&run(dir.path(), &["schema", "openings"]).ends_with(0).out).unwrap();
    assert_eq!(fault(&schema, &schema, &value, "openings"), None);
    assert_eq!(value["format"], "scantling-openings/1");
    for key in ["job", "piece", "opening", "verdict", "cut_out", "cores", "passes", "rails", "rods", "handling"] {
        assert!(!value["openings"][0][key].is_null(), "{key}");
    }
    // A file of somebody else stays, a sheet of another time goes.
    write("o/notes.svg", "mine");
    write("o/opening-09-old-hob-template.pdf", "old");
    run(dir.path(), &args[..4]).ends_with(0);
    let left = bytes_of(&dir.path().join("o"));
    assert!(left.contains_key("notes.svg") && !left.contains_key("opening-09-old-hob-template.pdf"));
    assert!(!left.contains_key("opening-01-a-b-hob-template-a4.pdf"), "tiles of another time go too");
    // A rail of 40 mm must not be cut.
    write("bad.toml", &job(40, "hob"));
    let bad = run(dir.path(), &["openings", "bad.toml", "--out", "b"]).ends_with(1);
    assert!(bad.out.contains("STOP"), "{}", bad.out);
    // Without openings there is nothing to do, and that is no error.
    let none = job(120, "hob").split("[[piece.opening]]").next().unwrap().to_owned();
    write("none.toml", &none);
    assert!(run(dir.path(), &["openings", "none.toml"]).ends_with(0).out.contains("No piece"));
    assert!(dir.path().join("openings-j/openings.json").exists(), "the folder beside the job");
    // A name in letters that the faces of PDF lack.
    write("far.toml", &job(120, "\u{6d41}\u{3057}"));
    let far = run(dir.path(), &["openings", "far.toml", "--out", "f"]).ends_with(0);
    assert!(far.err.contains("lack the characters"), "{}", far.err);
}

#[test]
fn a_plan_that_does_not_fit_the_job_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(dir.path().join(name), text).unwrap();
    write("rack.toml", RACK);
    write("job.toml", &job(120, "hob"));
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "p", "--quiet"]).ends_with(0);
    let with = run(dir.path(), &["openings", "job.toml", "--plan", "p/plan.json", "--out", "o"]).ends_with(0);
    assert!(!with.out.contains("no plan yet"), "{}", with.out);
    // The opening was moved since the plan was made.
    write("other.toml", &job(130, "hob"));
    let other = run(dir.path(), &["openings", "other.toml", "--plan", "p/plan.json", "--out", "x"]).ends_with(2);
    assert!(other.err.contains("hob") && !dir.path().join("x").exists(), "{}", other.err);
    // Another job altogether, and no plan at all.
    write("third.toml", &job(120, "hob").replace("name = \"J\"", "name = \"K\""));
    run(dir.path(), &["openings", "third.toml", "--plan", "p/plan.json", "--out", "x"]).ends_with(2);
    run(dir.path(), &["openings", "job.toml", "--plan", "nowhere.json"]).ends_with(2);
    run(dir.path(), &["openings", "job.toml", "--tiles", "a0"]).ends_with(2);
}
