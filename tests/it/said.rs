//! The units of sentences: a job in inches is told in inches everywhere, and asking for other units changes no figure.

use std::fs;
use std::path::Path;

use scantling::check::judge;
use scantling::model::Shown;
use serde_json::Value;
use tempfile::TempDir;

use super::cli::run;
use super::judge::{piece, plan, question, slab};

/// Every "mm" of a text, with the words round it.
fn lengths_in_mm(text: &str) -> Vec<String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let is_unit = |w: &str| w.trim_matches(|c: char| !c.is_alphanumeric() && c != '/') == "mm";
    let found = (0..words.len()).filter(|&i| is_unit(words[i]));
    found.map(|i| words[i.saturating_sub(6)..words.len().min(i + 3)].join(" ")).collect()
}

/// A run with a narrow front rail, a sink in a fixture, a cooktop and a tap.
const JOB: &str = r#"name = "Harbour office"
units = "in"
rack = "rack.toml"
shop = "shop.toml"
material = "Grey granite"
thickness = "1 3/16 in"

[[piece]]
name = "run"
outline.rectangle = [98, 25]
edges = ["polished", "polished", "raw", "polished"]

[[piece.opening]]
name = "sink"
kind = "drop-in sink"
fixture.rim.rectangle = [24, 18]
fixture.rim.corner_radius = 2
fixture.body.rectangle = [22, 16]
fixture.body.corner_radius = "5/8 in"
fixture.bearing = "3/8 in"
centre_line = 24
setback = "3 1/4 in"

[[piece.opening]]
name = "hob"
kind = "cooktop"
shape.rectangle = [28, 19]
corner_radius = "1/8 in"
centre_line = 66
setback = 3

[[piece.opening]]
name = "tap"
kind = "tap hole"
shape.circle = "1 5/16 in"
centre = [43, 21]
"#;

const RACK: &str = r#"units = "in"

[[slab]]
name = "GG-1"
material = "Grey granite"
stone = "granite"
thickness = "1 3/16 in"
price = 900
outline.rectangle = [118, 64]
grain = 0

[[slab.flaw]]
kind = "crack"
line = [[30, 40], [34, 44]]
"#;

const SHOP: &str = r#"units = "in"

[limits]
trim = 1

[tools]
blades = [{ diameter = 14, kerf = "1/8 in" }, { diameter = 5, kerf = "3/32 in" }]

[rates]
per = "metre"
length_step = "1/2 in"
stone = 200
edges.polished = 40
"#;

fn workplace(job: &str) -> TempDir {
    let dir = TempDir::new().unwrap();
    for (name, text) in [("job.toml", job), ("rack.toml", RACK), ("shop.toml", SHOP)] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    dir
}

/// Everything that people read of a folder: text, the text nodes of SVG and HTML, the words of PDF.
fn readable(folder: &Path) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let bytes = fs::read(&path).unwrap();
        let text = match path.extension().and_then(|e| e.to_str()).unwrap_or_default() {
            "svg" | "html" => {
                let text = String::from_utf8(bytes).unwrap();
                let text = text.strip_prefix("<!DOCTYPE html>").unwrap_or(&text).to_owned();
                let document = roxmltree::Document::parse(&text).unwrap();
                let of_program = |n: &roxmltree::Node<'_, '_>| {
                    n.ancestors().any(|a| matches!(a.tag_name().name(), "style" | "script"))
                };
                let nodes = document.descendants().filter(|n| n.is_text() && !of_program(n));
                nodes.filter_map(|n| n.text()).collect::<Vec<_>>().join("\n")
            }
            "pdf" => super::openings::read(&bytes).into_iter().flat_map(|p| p.texts).collect::<Vec<_>>().join("\n"),
            _ => String::from_utf8(bytes).unwrap(),
        };
        out.push((name, text));
    }
    out.sort();
    out
}

#[track_caller]
fn in_inches(name: &str, text: &str) {
    assert_eq!(lengths_in_mm(text), Vec::<String>::new(), "{name}");
}

/// The same value without its sentences.
fn figures(value: &Value) -> Value {
    const SENTENCES: [&str; 10] =
        ["message", "reason", "because", "cautions", "order", "note", "notes", "cutting_notes", "steps", "measured"];
    match value {
        Value::Object(map) => map
            .iter()
            .filter(|(key, _)| !SENTENCES.contains(&key.as_str()))
            .map(|(key, v)| (key.clone(), figures(v)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
        Value::Array(all) => all.iter().map(figures).collect(),
        other => other.clone(),
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn a_job_in_inches_is_told_in_inches_and_other_units_change_no_figure() {
    let dir = workplace(JOB);
    let d = dir.path();
    let made = |more: &[&str]| {
        let plan = ["plan", "job.toml", "--effort", "1", "--papers", "--tiles", "letter", "--explain", "--out", "o"];
        let said = run(d, &[&plan, more].concat());
        assert!(said.code < 2, "{}", said.err);
        let openings = ["openings", "job.toml", "--plan", "o/plan.json", "--tiles", "letter", "--out", "o/op"];
        let sheets = run(d, &[&openings, more].concat());
        assert!(sheets.code < 2, "{}", sheets.err);
        let figures = ["o/plan.json", "o/op/openings.json", "o/quote.json"].map(|f| figures(&json(&d.join(f))));
        let mut all = readable(&d.join("o/op"));
        fs::remove_dir_all(d.join("o/op")).unwrap();
        all.extend(readable(&d.join("o")));
        all.push(("what plan says".to_owned(), said.out + &said.err));
        all.push(("what openings says".to_owned(), sheets.out + &sheets.err));
        fs::copy(d.join("o/plan.json"), d.join("plan.json")).unwrap();
        fs::remove_dir_all(d.join("o")).unwrap();
        (figures, all)
    };
    let (of_mm, told_in_mm) = made(&["--units", "mm"]);
    let (of_in, told) = made(&[]);
    assert_eq!(of_in, of_mm);
    assert!(told.len() > 20, "{}", told.len());
    for (name, text) in &told {
        in_inches(name, text);
    }
    let whole = |all: &[(String, String)]| all.iter().map(|t| t.1.as_str()).collect::<Vec<_>>().join("\n");
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (mm, inches) = (flat(&whole(&told_in_mm)), flat(&whole(&told)));
    for (words_mm, words_in) in [
        // The judge.
        ("is 76.2 mm wide; granite of 30.2 mm wants rods below", "is 3 in wide; granite of 1.188 in wants rods below"),
        // The hole of the fixture.
        ("mm clearance and 1.5 mm for the accuracy", "in clearance and 0.059 in for the accuracy"),
        // Cores, passes, rods, carrying.
        ("corners of radius 3.2 mm get no core", "corners of radius 0.125 in get no core"),
        ("the blade of 127 mm", "the blade of 5 in"),
        ("below 100 mm it wants a rod", "below 3.937 in it wants a rod"),
        ("under 2 mm of resin", "under 0.079 in of resin"),
        ("by 1 mm above and below", "by 0.04 in above and below"),
        // The quote, and the bars on paper.
        ("rounded up to 12.7 mm for each piece", "rounded up to 1/2 in for each piece"),
        ("this bar must measure 100 mm.", "this bar must measure 4 in."),
    ] {
        assert!(mm.contains(words_mm), "{words_mm}");
        assert!(inches.contains(words_in), "{words_in}");
    }
    assert!(inches.contains(" lb)") && !mm.contains(" lb)"));

    // A plan that breaks rules, and one that another job does not fit.
    let text = fs::read_to_string(d.join("plan.json")).unwrap();
    let mut broken: Value = serde_json::from_str(&text).unwrap();
    let shift = &mut broken["layouts"][0]["placed"][0]["shift"];
    (shift[0], shift[1]) = (10.0.into(), 600.0.into());
    fs::write(d.join("broken.json"), broken.to_string()).unwrap();
    let check = run(d, &["check", "job.toml", "--plan", "broken.json"]).ends_with(1);
    in_inches("check", &(check.out.clone() + &check.err));
    assert!(flat(&check.out).contains("lies 0.394 in from the outline of GG-1; 1 in is needed"), "{}", check.out);
    let check = run(d, &["check", "job.toml", "--plan", "broken.json", "--units", "mm"]).ends_with(1);
    assert!(flat(&check.out).contains("lies 10 mm from the outline of GG-1; 25.4 mm is needed"), "{}", check.out);
}

#[test]
fn a_piece_without_a_place_is_explained_in_inches() {
    let long = JOB.split("\n[[piece]]").next().unwrap().to_owned()
        + "\n[[piece]]\nname = \"plank\"\noutline.rectangle = [120, 12]\ngrain = \"along\"\n";
    let dir = workplace(&long);
    let d = dir.path();
    let args = ["plan", "job.toml", "--effort", "1", "--out", "o"];
    let said = run(d, &args).ends_with(1);
    in_inches("plan", &said.out);
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("too long by 4 in (120 in needed along x of the slab, 116 in within the trim)"), "{flat}");
    in_inches("report.html", &readable(&d.join("o")).into_iter().map(|t| t.1).collect::<Vec<_>>().join("\n"));
    let mm = run(d, &[&args[..], &["--units", "mm"]].concat()).ends_with(1).out;
    let flat = mm.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("too long by 101.6 mm (3048 mm needed along x"), "{flat}");
}

#[test]
fn the_judge_tells_found_from_needed_in_inches_too() {
    let mut q =
        question(vec![slab("BG-1", 3000.0, 1600.0)], vec![piece("desk", 1500.0, 600.0), piece("shelf", 900.0, 500.0)]);
    q.shop.shown = Shown::In;
    let near = |y: f64| {
        let p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0]), ("BG-1", "shelf", 0.0, [50.0, y])]);
        judge(&q, &p).iter().map(|f| f.message.clone()).find(|m| m.starts_with("\"shelf\"")).unwrap()
    };
    assert_eq!(near(653.2), "\"shelf\" lies 0.126 in from \"desk\" on BG-1; 0.236 in is needed");
    // One decimal more than 0.236 in both, and the numbers of the finding stay millimetres.
    assert_eq!(near(655.99), "\"shelf\" lies 0.2358 in from \"desk\" on BG-1; 0.2362 in is needed");
    assert_eq!(near(640.0), "\"shelf\" overlaps \"desk\" by 0.394 in on BG-1; a gap of 0.236 in is needed");
    let p = plan(&q, &[("BG-1", "desk", 0.0, [50.0, 50.0]), ("BG-1", "shelf", 0.0, [50.0, 653.2])]);
    let of_in = judge(&q, &p);
    q.shop.shown = Shown::Mm;
    let numbers =
        |all: &[scantling::model::Finding]| all.iter().map(|f| (f.rule, f.found, f.needed, f.at)).collect::<Vec<_>>();
    assert_eq!(numbers(&of_in), numbers(&judge(&q, &p)));
}
