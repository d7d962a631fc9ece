//! The whole way, from outside: a drawing and a rack become everything that a shop needs, in one command.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::cli::run;
use super::openings::bytes_of;

fn json(path: &Path) -> Value {
    serde_json::from_slice(&fs::read(path).unwrap()).unwrap()
}

#[test]
fn a_drawing_and_a_rack_become_everything_in_one_command() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/curlew-house");
    for file in ["job.toml", "rack.toml", "shop.toml", "pieces.dxf", "cg-7.dxf"] {
        fs::copy(demo.join(file), d.join(file)).unwrap();
    }
    let planned = run(d, &["plan", "job.toml", "--effort", "1", "--out", "o", "--papers"]).ends_with(0);
    let files = bytes_of(&d.join("o"));
    let plan = json(&d.join("o/plan.json"));
    let layouts = plan["layouts"].as_array().unwrap();
    let placed = |layout: &Value| layout["placed"].as_array().unwrap().len();
    assert_eq!(layouts.iter().map(placed).sum::<usize>(), 4, "four pieces in the drawing");
    for name in ["plan.json", "report.html", "report.txt", "sheets-slabs.pdf", "sheets-pieces.pdf", "labels.pdf"] {
        assert!(files.contains_key(name), "{name}");
    }
    for name in ["templates.pdf", "quote.txt", "quote.json", "quote.csv"] {
        assert!(files.contains_key(name) && planned.out.contains(name), "{name}");
    }
    // The page tells the price of the quote.
    let quote = json(&d.join("o/quote.json"));
    let total = quote["jobs"][0]["total"]["amount"].as_f64().unwrap();
    let page = String::from_utf8(files["report.html"].clone()).unwrap();
    assert!(total > 450.0 && page.contains(&format!("{total:.2}")) && page.contains("#price"), "{total}");
    // What the saw gets is what the plan says, read by our own reader: as many pieces, of the same areas.
    for (i, layout) in layouts.iter().enumerate() {
        let start = format!("slab-{:02}-", i + 1);
        let name = files.keys().find(|n| n.starts_with(&start) && n.ends_with(".dxf")).expect("a cutting drawing");
        let read = run(&d.join("o"), &["read", name, "--layer", "piece", "--format", "json"]).ends_with(0);
        let read: Value = serde_json::from_str(&read.out).unwrap();
        let mut found: Vec<f64> =
            read["outlines"].as_array().unwrap().iter().map(|o| o["area_mm2"].as_f64().unwrap()).collect();
        let mut wanted: Vec<f64> = layout["placed"].as_array().unwrap().iter().map(|p| area(&p["outline"])).collect();
        found.sort_by(f64::total_cmp);
        wanted.sort_by(f64::total_cmp);
        assert_eq!(found.len(), wanted.len());
        for (f, w) in found.iter().zip(&wanted) {
            // The plan has polylines, which are larger by 0.05 mm along arcs at most.
            assert!((f - w).abs() < 0.05 * 8000.0, "{found:?} {wanted:?}");
        }
    }
    // The same papers from the plan alone, byte by byte; and a plan without papers leaves none of them.
    run(d, &["papers", "job.toml", "--plan", "o/plan.json", "--out", "again", "--quiet"]).ends_with(0);
    let again = bytes_of(&d.join("again"));
    assert!(again.len() > 8 && again.iter().all(|(name, bytes)| name == "report.html" || files[name] == *bytes));
    run(d, &["plan", "job.toml", "--effort", "1", "--out", "o", "--quiet"]).ends_with(0);
    let left: Vec<String> = bytes_of(&d.join("o")).into_keys().collect();
    let kept = |n: &String| n.ends_with(".svg") || ["plan.json", "report.html", "report.txt"].contains(&n.as_str());
    assert!(left.iter().all(kept), "{left:?}");
    // The stone is taken off the rack, and put back.
    let before = fs::read(d.join("rack.toml")).unwrap();
    run(d, &["take", "job.toml", "--plan", "o/plan.json"]).ends_with(0);
    assert_ne!(fs::read(d.join("rack.toml")).unwrap(), before);
    run(d, &["undo", "job.toml"]).ends_with(0);
    assert_eq!(fs::read(d.join("rack.toml")).unwrap(), before);
}

/// Area of an outline, mm², by the formula of trapezoids.
fn area(outline: &Value) -> f64 {
    let points: Vec<[f64; 2]> = serde_json::from_value(outline.clone()).unwrap();
    let n = points.len();
    (0..n)
        .map(|i| (points[i], points[(i + 1) % n]))
        .map(|(a, b)| (a[0] - b[0]) * (a[1] + b[1]) / 2.0)
        .sum::<f64>()
        .abs()
}
