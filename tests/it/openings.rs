//! Sheets and templates of openings: what is printed is as large as it says, and says all that it must.

use std::fs;
use std::path::PathBuf;

use lopdf::{Document, Object, content::Content};
use scantling::geom::{Point, distance, pt};
use scantling::model::{Drawn, Fixture, Opening, OpeningKind, Origin, Piece, Shape, openings::Spare};
use scantling::report::template::{CHECK, OVERLAP, Template};
use scantling::report::{Paper, Settings, pdf, scene::Scene, svg};
use scantling::units::{MM_PER_INCH, Shown};

use super::make;

/// A line as the PDF has it, millimetres from the lower left corner of the page.
#[derive(Debug)]
struct Line {
    layer: String,
    points: Vec<Point>,
}

/// A page as the PDF has it.
#[derive(Debug)]
struct Page {
    /// Width and height, mm.
    size: Point,
    lines: Vec<Line>,
    texts: Vec<String>,
}

impl Page {
    fn of_layer(&self, layer: &str) -> impl Iterator<Item = &Line> {
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
fn read(bytes: &[u8]) -> Vec<Page> {
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
fn run() -> Piece {
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
    Template { job: "boathouse", called: &piece.name, piece, opening: &piece.openings[opening], settings }
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
    let piece = run();
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
    let piece = run();
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
    let piece = run();
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
