//! `scantling read`: what it shows, and that its text gives what the drawing shows.

use std::path::Path;

use scantling::geom::curve::Side;
use scantling::io::drawn::{Request, name_of};
use scantling::io::paste::{self, PasteAs};
use scantling::io::read_question_from_texts;
use scantling::units::Unit;
use serde_json::Value;
use tempfile::TempDir;

use super::{Draft, close, one, request, said, see, see_with};
use crate::cli::run;

const HEAD: &str = "name = \"Mill\"\nmaterial = \"slate\"\nthickness = \"20 mm\"\n";
const RACK: &str = "[[slab]]\nname = \"S\"\nmaterial = \"slate\"\nstone = \"slate\"\nthickness = 20\nprice = 1\ngrain = 0\noutline.rectangle = [3000, 1600]\n";

/// Pieces of every sort, at odd coordinates, scaled by `k`.
fn everything(draft: Draft, k: f64) -> Draft {
    let q = (std::f64::consts::FRAC_PI_8).tan();
    let s = |x: f64, y: f64, b: f64| [(x + 1.0 / 3.0) * k, (y + 2.0 / 7.0) * k, b];
    let bow = [s(0.0, 0.0, 0.123), s(1800.0, 0.0, 0.0), s(1800.0, 600.0, 0.2), s(0.0, 600.0, -0.05)];
    let sink = [
        s(410.0, 100.0, 0.0),
        s(890.0, 100.0, q),
        s(900.0, 110.0, 0.0),
        s(900.0, 490.0, 1.0),
        s(400.0, 490.0, 0.0),
        s(400.0, 110.0, q),
    ];
    let knots = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
    let p = |x: f64, y: f64| [s(x, y, 0.0)[0], s(x, y, 0.0)[1]];
    let swing = [p(0.0, 2000.0), p(300.0, 1850.0), p(700.0, 2200.0), p(1000.0, 2000.0)];
    let centre = p(2600.0, 300.0);
    let major = [350.0 * k * 0.8, 350.0 * k * 0.6];
    let ellipse = format!(
        "10\n{}\n20\n{}\n11\n{}\n21\n{}\n31\n0\n40\n0.6\n41\n0\n42\n{}\n",
        centre[0],
        centre[1],
        major[0],
        major[1],
        std::f64::consts::TAU
    );
    draft
        .polyline("0", true, &bow)
        .polyline("0", true, &sink)
        .circle("0", p(1300.0, 300.0), 17.5 * k)
        .add("ELLIPSE", "0", &ellipse)
        .spline("0", 3, &knots, &swing, &[])
        .line("0", p(1000.0, 2000.0), p(1000.0, 2500.0))
        .line("0", p(1000.0, 2500.0), p(0.0, 2500.0))
        .line("0", p(0.0, 2500.0), p(0.0, 2000.0))
        .rectangle("0", p(2000.0, 1200.0), [250.0 * k, 125.0 * k])
        .text("0", p(50.0, 300.0), 50.0 * k, "bow \"front\"")
        .text("0", p(450.0, 300.0), 30.0 * k, "drop-in sink")
}

#[test]
fn the_text_gives_the_same_areas() {
    for (draft, k, unit) in [(Draft::mm(), 1.0, Unit::Mm), (Draft::new().unit(1), 1.0 / 25.4, Unit::In)] {
        let draft = everything(draft, k);
        let seen = see_with(&draft, &request());
        assert!(!super::said(&seen).contains("error"), "{}", super::said(&seen));
        let text = paste::text(&seen, PasteAs::Pieces, unit);
        let job = format!("units = \"{}\"\n{HEAD}{text}", unit.name());
        let input = read_question_from_texts(
            &[("job.toml".to_owned(), job.clone())],
            ("rack.toml".to_owned(), RACK.to_owned()),
            None,
        )
        .unwrap_or_else(|e| panic!("{e}\n{job}"));
        let pieces = &input.question.jobs[0].pieces;
        let outer: Vec<_> = seen.outlines.outer().collect();
        assert_eq!((pieces.len(), outer.len()), (4, 4), "{job}");
        for (piece, outline) in pieces.iter().zip(outer) {
            close(piece.outline.ring.area(), outline.area, 0.5);
            let holes: Vec<_> = seen.outlines.inner(outline).collect();
            assert_eq!(piece.openings.len(), holes.len());
            for (opening, hole) in piece.openings.iter().zip(holes) {
                close(opening.ring.area(), hole.area, 0.5);
                let place = hole.made.shape.extent().centre() - outline.made.shape.extent().min;
                assert!(opening.centre().distance(place) < 1e-4, "{opening:?}");
            }
        }
        assert!(job.contains("name = \"bow \\\"front\\\"\"") && job.contains("kind = \"drop-in sink\""), "{job}");
    }
}

#[test]
fn the_text_of_a_slab_is_a_slab() {
    let draft = Draft::mm().polyline(
        "0",
        true,
        &[[100.0, 50.0, 0.1], [3000.0, 50.0, 0.0], [3000.0, 1500.0, 0.0], [100.0, 1500.0, 0.0]],
    );
    let seen = see_with(&draft.text("0", [200.0, 200.0], 50.0, "GG-3"), &Request { err: Side::Inner, ..request() });
    let text = paste::text(&seen, PasteAs::Slabs, Unit::Mm).replace("# material = \"...\"", "material = \"slate\"");
    let rack = text.replace("# thickness = ...", "thickness = 20").replace("# price = ...", "price = 3");
    let job = format!("{HEAD}[[piece]]\nname = \"p\"\noutline.circle = 90\n");
    let input = read_question_from_texts(&[("job.toml".to_owned(), job)], ("rack.toml".to_owned(), rack.clone()), None)
        .unwrap_or_else(|e| panic!("{e}\n{rack}"));
    let slab = &input.question.rack[0];
    assert_eq!(slab.name, "GG-3");
    close(slab.outline.bbox().max.x, 3000.0, 1e-5);
    close(slab.outline.area(), seen.outlines.all[0].area, 300.0);
}

#[test]
fn the_command_shows_what_is_there() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/curlew-house");
    let text = run(&demo, &["read", "pieces.dxf", "--layer", "stone"]).ends_with(0);
    for part in [
        "# pieces.dxf, drawn in millimetres, as its header says",
        "ROOM                 2 lines or arcs   not asked for",
        "\"corner run\": 2000 mm by 1500 mm at [3000, 0]",
        "side 1: arc of radius 5102.5 mm bulging out",
        "within it \"tap hole\"",
        "1 gap closed, the widest 0.04 mm at [3600, 1500] mm",
        "outline.polygon = [[0, 0, 60], [1600, 0, 60], [1600, 380], [0, 380]]",
        "corner_radius = 20",
    ] {
        assert!(text.out.contains(part), "{part} in\n{}", text.out);
    }
    // All of it is TOML.
    let parsed: toml_edit::DocumentMut = text.out.parse().unwrap();
    assert_eq!(parsed["piece"].as_array_of_tables().unwrap().len(), 4);
    let json = run(&demo, &["read", "pieces.dxf", "--layer", "STONE", "--format", "json"]).ends_with(0);
    let json: Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(json["format"], "scantling-read/1");
    assert_eq!(json["outlines"][0]["inner"][1]["name"], "tap hole");
    assert_eq!(json["outlines"][1]["sides"][0]["drawn"], "arc");
    assert_eq!(json["text_units"], "mm");
    let inches = run(&demo, &["read", "cg-7.dxf", "--as", "slab", "--units", "in"]).ends_with(0);
    assert!(inches.out.contains("[[slab]]") && inches.out.contains("units = \"in\""), "{}", inches.out);
    // Without the layer the walls do not close: what is there is shown, and the exit code says that something is wrong.
    let walls = run(&demo, &["read", "pieces.dxf"]).ends_with(1);
    assert!(walls.err.contains("does not close") && walls.out.contains("open: "), "{}\n{}", walls.err, walls.out);
    run(&demo, &["read", "nothing.dxf"]).ends_with(2);
    run(&demo, &["read", "job.toml"]).ends_with(2);
    run(&demo, &["read", "pieces.dxf", "--tolerance", "11"]).ends_with(2);
}

#[test]
fn a_drawing_without_a_unit_asks_for_one() {
    let dir = TempDir::new().unwrap();
    Draft::new().rectangle("0", [0.0, 0.0], [48.0, 24.0]).save(dir.path(), "a.dxf");
    let none = run(dir.path(), &["read", "a.dxf"]).ends_with(2);
    assert!(none.err.contains("--drawn-in"), "{}", none.err);
    let inch = run(dir.path(), &["read", "a.dxf", "--drawn-in", "in", "--tolerance", "1/16 in"]).ends_with(0);
    assert!(inch.out.contains("outline.rectangle = [48, 24]"), "{}", inch.out);
    assert!(inch.out.contains("48 in by 24 in"), "{}", inch.out);
}

#[test]
fn the_demo_is_planned_from_its_drawing() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/curlew-house");
    let dir = TempDir::new().unwrap();
    let out = dir.path().join("plan");
    let out = out.to_str().unwrap();
    let plan = run(&demo, &["plan", "job.toml", "--effort", "1", "--quiet", "--out", out]).ends_with(0);
    assert!(plan.out.contains("pieces placed     4 of 4"), "{}", plan.out);
    run(&demo, &["check", "job.toml", "--plan", &format!("{out}/plan.json")]).ends_with(0);
}

#[test]
fn layers_are_known_by_their_whole_names_in_any_letters() {
    let long = format!("A-{}-HIDDEN", "very-".repeat(14));
    let draft = Draft::mm()
        .layer(&long, 0, -7)
        .layer("\\U+0141\\U+00f3d\\U+017a", 0, 7)
        .rectangle("\\U+0141\\U+00f3d\\U+017a", [0.0, 0.0], [300.0, 200.0])
        .rectangle(&long, [50.0, 50.0], [100.0, 100.0]);
    let seen = see(&draft);
    assert_eq!((seen.outlines.all.len(), seen.dxf.hidden), (1, 1), "{}", said(&seen));
    let seen = see_with(&draft, &Request { layer: Some("ŁÓDŹ".to_owned()), ..request() });
    assert_eq!(seen.outlines.all.len(), 1, "{}", said(&seen));
}

#[test]
fn texts_are_read_by_the_code_page_of_the_header() {
    let draft = Draft::mm().rectangle("0", [0.0, 0.0], [300.0, 200.0]).text("0", [20.0, 20.0], 20.0, "NAME");
    let file = draft.file().replacen("9\n$INSUNITS", "9\n$DWGCODEPAGE\n3\nANSI_1251\n9\n$INSUNITS", 1);
    // "Кухня" in Windows-1251 (table of the code page, from memory).
    let word = [0xCA, 0xF3, 0xF5, 0xED, 0xFF];
    let at = file.find("NAME").unwrap();
    let bytes = [&file.as_bytes()[..at], &word, &file.as_bytes()[at + 4..]].concat();
    let seen = scantling::io::drawn::see("drawing.dxf", &bytes, &request()).unwrap();
    assert_eq!(name_of(&seen, one(&seen)), Ok(Some("Кухня".to_owned())));
    assert!(said(&seen).contains("texts read as code page ANSI_1251"), "{}", said(&seen));
}
