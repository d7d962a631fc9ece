//! Jobs and racks that name drawings.

use std::fs;
use std::path::Path;

use scantling::diag::{Kind, Remarks};
use scantling::geom::pt;
use scantling::io::{self, Input, Paths};
use scantling::model::{Finish, Fixture, OpeningKind, Piece, Shape};
use tempfile::TempDir;

use super::{Draft, close};

const HEAD: &str = "name = \"Mill\"\nmaterial = \"slate\"\nthickness = 20\n";
const RACK: &str =
    "[[slab]]\nname = \"S\"\nmaterial = \"slate\"\nstone = \"slate\"\nthickness = 20\nprice = 1\ngrain = 0\n";

/// A folder with a drawing and what is read of a job and a rack that name it.
struct Case {
    dir: TempDir,
}

impl Case {
    fn new(drawing: &Draft) -> Self {
        let dir = TempDir::new().unwrap();
        drawing.save(dir.path(), "a.dxf");
        Self { dir }
    }

    fn load(&self, pieces: &str, slab: &str) -> Result<Input, Remarks> {
        fs::write(self.dir.path().join("job.toml"), format!("{HEAD}{pieces}")).unwrap();
        fs::write(self.dir.path().join("rack.toml"), format!("{RACK}{slab}")).unwrap();
        let at = |name: &str| self.dir.path().join(name);
        io::load(&Paths { jobs: vec![at("job.toml")], rack: Some(at("rack.toml")), shop: None })
    }

    #[track_caller]
    fn pieces(&self, pieces: &str) -> Vec<Piece> {
        match self.load(pieces, "outline.rectangle = [3000, 1600]\n") {
            Ok(input) => input.question.jobs[0].pieces.clone(),
            Err(remarks) => panic!("{remarks}"),
        }
    }

    /// The remarks about a job that is refused.
    #[track_caller]
    fn refused(&self, pieces: &str) -> Remarks {
        self.load(pieces, "outline.rectangle = [3000, 1600]\n").expect_err("an error")
    }

    #[track_caller]
    fn expect(&self, pieces: &str, what: Kind, parts: &[&str]) {
        let remarks = self.refused(pieces);
        let found: Vec<_> = remarks.iter().filter(|r| r.what == what).collect();
        assert_eq!(found.len(), 1, "{what:?} once in\n{remarks}");
        for part in parts {
            assert!(found[0].to_string().contains(part), "{part} in\n{remarks}");
        }
    }
}

/// An L with a rounded inner corner, a sink and a tap hole, at an odd place of the drawing.
fn kitchen() -> Draft {
    let q = (std::f64::consts::FRAC_PI_8).tan();
    let [x, y] = [1000.0, 500.0];
    Draft::mm()
        .polyline(
            "top",
            true,
            &[
                [x, y, 0.0],
                [x + 2400.0, y, 0.0],
                [x + 2400.0, y + 620.0, 0.0],
                [x + 650.0, y + 620.0, -q],
                [x + 620.0, y + 650.0, 0.0],
                [x + 620.0, y + 1900.0, 0.0],
                [x, y + 1900.0, 0.0],
            ],
        )
        .polyline(
            "top",
            true,
            &[
                [x + 1020.0, y + 90.0, 0.0],
                [x + 1680.0, y + 90.0, q],
                [x + 1700.0, y + 110.0, 0.0],
                [x + 1700.0, y + 470.0, q],
                [x + 1680.0, y + 490.0, 0.0],
                [x + 1020.0, y + 490.0, q],
                [x + 1000.0, y + 470.0, 0.0],
                [x + 1000.0, y + 110.0, q],
            ],
        )
        .circle("top", [x + 1350.0, y + 555.0], 17.5)
        .text("names", [x + 100.0, y + 100.0], 60.0, "kitchen")
        .text("names", [x + 1100.0, y + 200.0], 40.0, "undermount sink")
        .text("names", [x + 1345.0, y + 550.0], 8.0, "Tap hole")
}

#[test]
fn openings_of_one_name_get_numbers() {
    let dir = tempfile::tempdir().unwrap();
    let draft = Draft::mm()
        .rectangle("0", [0.0, 0.0], [2000.0, 600.0])
        .text("0", [20.0, 20.0], 20.0, "run")
        .rectangle("0", [300.0, 400.0], [140.0, 70.0])
        .text("0", [310.0, 410.0], 10.0, "outlet")
        .rectangle("0", [900.0, 400.0], [140.0, 70.0])
        .text("0", [910.0, 410.0], 10.0, "outlet")
        .rectangle("0", [1500.0, 400.0], [140.0, 70.0])
        .text("0", [1510.0, 410.0], 10.0, "right outlet");
    draft.save(dir.path(), "run.dxf");
    std::fs::write(dir.path().join("rack.toml"), "[[slab]]\nname = \"a\"\nmaterial = \"m\"\nstone = \"granite\"\nthickness = 30\nprice = 1\noutline.rectangle = [3000, 1500]\ngrain = 0\n").unwrap();
    std::fs::write(dir.path().join("job.toml"), "name = \"j\"\nrack = \"rack.toml\"\nmaterial = \"m\"\nthickness = 30\n[[piece]]\noutline.file = \"run.dxf\"\noutline.openings = \"by text\"\n").unwrap();
    let paths = scantling::io::Paths { jobs: vec![dir.path().join("job.toml")], rack: None, shop: None };
    let question = scantling::io::load(&paths).unwrap().question;
    let names: Vec<&str> = question.jobs[0].pieces[0].openings.iter().map(|o| o.name.as_str()).collect();
    assert_eq!(names, ["outlet", "outlet 2", "right outlet"]);
}

#[test]
fn a_piece_from_a_drawing_is_the_piece_of_a_job() {
    let drawn = r#"
[[piece]]
outline.file = "a.dxf"
outline.openings = "by text"
edges = ["polished", "polished", "raw", "raw", "raw", "eased"]
hidden.back = 20
"#;
    let written = r#"
[[piece]]
name = "kitchen"
outline.polygon = [[0,0],[2400,0],[2400,620],[620,620,30],[620,1900],[0,1900]]
edges = ["polished", "polished", "raw", "raw", "raw", "eased"]
hidden.back = 20

[[piece.opening]]
name = "undermount sink"
kind = "undermount sink"
shape.rectangle = [700, 400]
corner_radius = 20
centre_line = 1350
setback = 90

[[piece.opening]]
name = "Tap hole"
kind = "tap hole"
shape.circle = 35
centre = [1350, 555]
"#;
    let case = Case::new(&kitchen());
    let (a, b) = (case.pieces(drawn), case.pieces(written));
    assert_eq!(a[0].outline.finishes, b[0].outline.finishes);
    assert_eq!(a, b);
}

#[test]
fn one_finish_stands_for_all_sides_and_arcs_keep_theirs() {
    // A bowed front: its arc is one side as drawn, and two sides of the shape.
    let draft = Draft::mm()
        .polyline("0", true, &[[0.0, 0.0, 0.1], [1500.0, 0.0, 0.0], [1500.0, 600.0, 0.0], [0.0, 600.0, 0.0]])
        .text("0", [100.0, 100.0], 50.0, "bar");
    let case = Case::new(&draft);
    let one = case.pieces("[[piece]]\noutline.file = \"a.dxf\"\nedges = [\"eased\"]\n");
    assert!(one[0].outline.finishes.iter().all(Finish::is_finished));
    let front = case.pieces("[[piece]]\noutline.file = \"a.dxf\"\nedges = [\"eased\", \"raw\", \"raw\", \"raw\"]\n");
    let outline = &front[0].outline;
    let length: f64 = outline.finished_edges().map(|(a, b)| a.distance(b)).sum();
    let turn: f64 = 4.0 * 0.1f64.atan();
    close(length, 750.0 / (turn / 2.0).sin() * turn, 1.0);
    case.expect(
        "[[piece]]\noutline.file = \"a.dxf\"\nedges = [\"eased\", \"raw\", \"raw\"]\n",
        Kind::EdgeCount,
        &["4 finishes", "scantling read", "or one for all"],
    );
}

#[test]
fn several_outlines_become_several_pieces() {
    let draft = Draft::mm()
        .rectangle("0", [0.0, 0.0], [900.0, 300.0])
        .rectangle("0", [1000.0, 0.0], [700.0, 250.0])
        .circle("0", [2200.0, 300.0], 250.0)
        .text("0", [10.0, 10.0], 20.0, "sill")
        .text("0", [1010.0, 10.0], 20.0, "shelf")
        .text("0", [2200.0, 300.0], 20.0, "table");
    let case = Case::new(&draft);
    let all = case.pieces("[[piece]]\noutline.file = \"a.dxf\"\ngrain = \"any\"\ncount = 2\n");
    let names: Vec<&str> = all.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["sill #1", "sill #2", "shelf #1", "shelf #2", "table #1", "table #2"]);
    let kinds: Vec<usize> = all.iter().map(|p| p.kind).collect();
    assert_eq!(kinds, [0, 0, 1, 1, 2, 2], "copies are alike, others are not");
    assert_eq!(all[4].outline.shape, Shape::Ellipse { centre: pt(250.0, 250.0), half_x: 250.0, half_y: 250.0 });
    // One of them, with a name of the job's own.
    let shelf = case.pieces("[[piece]]\nname = \"low shelf\"\noutline.file = \"a.dxf\"\noutline.named = \"shelf\"\n");
    assert_eq!((shelf.len(), shelf[0].name.as_str(), shelf[0].size()), (1, "low shelf", (700.0, 250.0)));
    case.expect("[[piece]]\noutline.file = \"a.dxf\"\noutline.named = \"self\"\n", Kind::UnknownWord, &["\"shelf\""]);
    case.expect(
        "[[piece]]\nname = \"x\"\noutline.file = \"a.dxf\"\n",
        Kind::OutlineCount,
        &["3 closed outlines", "\"sill\"", "take name out", "handle 22", "a.dxf:"],
    );
    let two = "[[piece]]\noutline.file = \"a.dxf\"\noutline.named = \"sill\"\n";
    case.expect(&format!("{two}{two}"), Kind::DuplicateName, &["\"sill\""]);
    let opening = "[[piece.opening]]\nname = \"o\"\nkind = \"outlet\"\nshape.circle = 50\ncentre = [200, 100]\n";
    case.expect(&format!("[[piece]]\noutline.file = \"a.dxf\"\n{opening}"), Kind::Conflict, &["several pieces"]);
    let one = case.pieces(&format!("{two}{opening}"));
    assert_eq!(one[0].openings.len(), 1);
}

#[test]
fn outlines_within_a_piece_need_a_word() {
    let case = Case::new(&kitchen());
    let piece = "[[piece]]\nname = \"k\"\noutline.file = \"a.dxf\"\n";
    case.expect(
        piece,
        Kind::InnerOutlines,
        &["2 outlines within a piece", "\"undermount sink\"", "outline.openings", "handle 22, layer \"top\""],
    );
    let all = case.pieces(&format!("{piece}outline.openings = \"other\"\n"));
    let kinds: Vec<_> = all[0].openings.iter().map(|o| (o.name.as_str(), o.kind)).collect();
    assert_eq!(kinds, [("undermount sink", OpeningKind::Other), ("Tap hole", OpeningKind::Other)]);
    case.expect(&format!("{piece}outline.openings = \"sinks\"\n"), Kind::UnknownWord, &["\"by text\""]);
    // Without texts there are no kinds.
    let bare = Draft::mm().rectangle("0", [0.0, 0.0], [900.0, 600.0]).circle("0", [450.0, 300.0], 100.0);
    let case = Case::new(&bare);
    case.expect(
        &format!("{piece}outline.openings = \"by text\"\n"),
        Kind::NoNameInside,
        &["says no kind", "\"cooktop\""],
    );
    let one = case.pieces(&format!("{piece}outline.openings = \"cooktop\"\n"));
    assert_eq!(one[0].openings[0].name, "cooktop 1");
    // What is drawn too near the edge is found as it is for a job's own openings.
    let edge = Draft::mm().rectangle("0", [0.0, 0.0], [900.0, 600.0]).circle("0", [100.0, 300.0], 100.0);
    Case::new(&edge).expect(&format!("{piece}outline.openings = \"other\"\n"), Kind::OpeningOutside, &["touches"]);
}

#[test]
fn names_come_from_texts() {
    let draft = Draft::mm().rectangle("0", [0.0, 0.0], [900.0, 300.0]);
    let piece = "[[piece]]\noutline.file = \"a.dxf\"\n";
    Case::new(&draft).expect(piece, Kind::NoNameInside, &["without a text in it", "handle 21", "at [0, 0] mm"]);
    let draft = draft.text("notes", [10.0, 10.0], 20.0, "30 mm").text("names", [10.0, 50.0], 20.0, "sill");
    let case = Case::new(&draft);
    case.expect(piece, Kind::NoNameInside, &["two texts of one size", "handle 22", "handle 23", "text_layer"]);
    assert_eq!(case.pieces(&format!("{piece}outline.text_layer = \"names\"\n"))[0].name, "sill");
    let many = "10\n10\n20\n200\n30\n0\n40\n40\n71\n1\n3\n{\\fSans|b1;win\n1\ndow\\Psill}\n";
    let case = Case::new(&draft.add("MTEXT", "0", many));
    assert_eq!(case.pieces(piece)[0].name, "window sill");
}

#[test]
fn wishes_about_a_drawing_are_checked() {
    let case = Case::new(&Draft::new().rectangle("stone", [0.0, 0.0], [36.0, 12.0]));
    let piece = "[[piece]]\nname = \"p\"\noutline.file = \"a.dxf\"\n";
    case.expect(piece, Kind::DrawingUnit, &["names no unit", "piece[0].outline.file", "units = "]);
    assert_eq!(case.pieces(&format!("{piece}outline.units = \"in\"\n"))[0].size(), (36.0 * 25.4, 12.0 * 25.4));
    let inch = format!("{piece}outline.units = \"in\"\n");
    case.expect(&format!("{inch}outline.layer = \"ston\"\n"), Kind::OutlineCount, &["no closed outline"]);
    case.expect(&format!("{inch}outline.tolerance = 11\n"), Kind::OutOfRange, &["at most 10 mm"]);
    case.expect(&format!("{piece}outline.units = \"ell\"\n"), Kind::UnknownWord, &["\"ft\""]);
    case.expect("[[piece]]\nname = \"p\"\noutline.file = \"b.dxf\"\n", Kind::FileMissing, &["job.toml:6", "b.dxf"]);
    case.expect(
        "[[piece]]\nname = \"p\"\noutline.circle = 90\noutline.named = \"p\"\n",
        Kind::Conflict,
        &["with \"file\""],
    );
    case.expect(&format!("{inch}outline.circle = 90\n"), Kind::Conflict, &["only one of"]);
    // A file that is named twice is read once, and its mistakes are told once.
    fs::write(case.dir.path().join("a.dxf"), "0\nSECTION\n").unwrap();
    let remarks = case.refused(&format!("{piece}{}", piece.replace("\"p\"", "\"q\"")));
    assert_eq!(remarks.iter().filter(|r| r.file.ends_with("a.dxf")).count(), 1, "{remarks}");
}

#[test]
fn openings_fixtures_and_slabs_are_drawn_too() {
    let q = (std::f64::consts::FRAC_PI_8).tan();
    let basin = Draft::mm().polyline(
        "body",
        true,
        &[
            [25.0, 0.0, 0.0],
            [371.0, 0.0, q],
            [396.0, 25.0, 0.0],
            [396.0, 295.0, q],
            [371.0, 320.0, 0.0],
            [25.0, 320.0, q],
            [0.0, 295.0, 0.0],
            [0.0, 25.0, q],
        ],
    );
    let basin = basin.rectangle("rim", [-18.0, -18.0], [432.0, 356.0]);
    let case = Case::new(&basin);
    let piece = "[[piece]]\nname = \"top\"\noutline.rectangle = [1500, 600]\n[[piece.opening]]\nname = \"b\"\nkind = \"drop-in sink\"\ncentre = [700, 300]\n";
    let drawn = case.pieces(&format!("{piece}shape.file = \"a.dxf\"\nshape.layer = \"body\"\n"));
    let written = case.pieces(&format!("{piece}shape.rectangle = [396, 320]\ncorner_radius = 25\n"));
    assert_eq!(drawn, written);
    case.expect(
        &format!("{piece}shape.file = \"a.dxf\"\nshape.layer = \"body\"\ncorner_radius = 25\n"),
        Kind::Conflict,
        &["corners of a drawing"],
    );
    case.expect(&format!("{piece}shape.file = \"a.dxf\"\n"), Kind::InnerOutlines, &["layer \"body\""]);
    let fixture = case.pieces(&format!(
        "{piece}fixture.body.file = \"a.dxf\"\nfixture.body.layer = \"body\"\nfixture.rim.file = \"a.dxf\"\nfixture.rim.layer = \"rim\"\n"
    ));
    let Fixture::DropIn { body, .. } = &fixture[0].openings[0].origin.as_ref().unwrap().fixture else { panic!() };
    assert_eq!(body.shape.extent().width(), 396.0);
    // A slab keeps its own frame, and is never larger than drawn.
    let slab = Draft::mm().polyline(
        "0",
        true,
        &[[100.0, 50.0, 0.1], [3000.0, 50.0, 0.0], [3000.0, 1500.0, 0.0], [100.0, 1500.0, 0.0]],
    );
    let case = Case::new(&slab);
    let input = case.load("[[piece]]\nname = \"p\"\noutline.circle = 90\n", "outline.file = \"a.dxf\"\n").unwrap();
    let ring = &input.question.rack[0].outline;
    let turn = 4.0 * 0.1f64.atan();
    let r = 1450.0 / (turn / 2.0).sin();
    let exact = 2900.0 * 1450.0 + r * r / 2.0 * (turn - turn.sin());
    assert!(ring.area() <= exact && ring.area() > exact - 0.05 * 3000.0, "{} {exact}", ring.area());
    assert!(ring.bbox().max.distance(pt(3000.0, 1500.0)) < 1e-5, "{:?}", ring.bbox());
    let hole = Case::new(&slab.circle("0", [1000.0, 700.0], 30.0));
    let remarks =
        hole.load("[[piece]]\nname = \"p\"\noutline.circle = 90\n", "outline.file = \"a.dxf\"\n").unwrap_err();
    assert!(remarks.iter().any(|r| r.what == Kind::InnerOutlines), "{remarks}");
}

#[test]
fn the_demo_reads_as_it_says() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/curlew-house");
    let input = io::load(&Paths { jobs: vec![demo.join("job.toml")], rack: None, shop: None }).unwrap();
    let pieces = &input.question.jobs[0].pieces;
    let names: Vec<_> = pieces.iter().map(|p| (p.name.as_str(), p.openings.len())).collect();
    assert_eq!(names, [("sink run", 2), ("tasting bar", 0), ("corner run", 0), ("window seat", 0)]);
    assert_eq!(input.question.rack.len(), 3);
    assert_eq!(input.remarks.0.len(), 1, "one gap was closed: {}", input.remarks);
}

#[test]
fn the_example_of_the_readme_is_read() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    let block = readme.split("```toml\n").find(|b| b.starts_with("[[piece]]")).unwrap();
    let case = Case::new(&Draft::mm());
    fs::copy(root.join("demo-slabs/curlew-house/pieces.dxf"), case.dir.path().join("pieces.dxf")).unwrap();
    let pieces = case.pieces(block.split_once("```").unwrap().0);
    let names: Vec<&str> = pieces.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["sink run", "tasting bar", "corner run", "window seat", "bar, oiled"]);
    let finished = |p: &Piece| p.outline.finishes.iter().filter(|f| f.is_finished()).count();
    assert_eq!((finished(&pieces[0]), pieces[0].openings.len()), (4, 2));
    // Of the bar only the bowed front, whose arc is two sides of the shape.
    assert_eq!((finished(&pieces[4]), pieces[4].outline.finishes.len()), (2, 5));
}
