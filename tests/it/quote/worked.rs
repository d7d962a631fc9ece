//! Jobs worked by hand: one in millimetres by area, one in inches by whole slabs; yields from the trade's own figures.
//!
//! The texts beside them (`tests/golden/quote-*.txt`) are compared letter by letter; `UPDATE_GOLDEN=1` rewrites them.

use std::f64::consts::PI;
use std::fs;
use std::path::Path;

use scantling::io;
use scantling::model::quote::{Basis, Quote, Used};
use scantling::report::quote::{rows, text};
use scantling::units::Shown;

use super::{RACK, adds_up, figures, line, plan, priced, question};

#[track_caller]
fn golden(name: &str, said: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        io::write_atomically(&path, said.as_bytes()).unwrap();
    }
    assert_eq!(said, fs::read_to_string(&path).unwrap_or_default(), "{name}");
    for line in said.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

/// A run with a sink and a tap, and an L whose inside corner is rounded by 40 mm between an eased and a polished side.
pub const PIECES: &str = r#"
[[piece]]
name = "run"
outline.rectangle = [2400, 620]
edges = ["polished", "raw", "raw", "polished"]

[[piece.opening]]
name = "sink"
kind = "undermount sink"
shape.rectangle = [500, 400]
corner_radius = 20
centre_line = 900
setback = 110

[[piece.opening]]
name = "tap"
kind = "tap hole"
shape.circle = 35
centre = [1300, 555]

[[piece]]
name = "corner top"
outline.polygon = [[0, 0], [600, 0], [600, 500, 40], [1500, 500], [1500, 1100], [0, 1100]]
edges = ["eased", "eased", "polished", "raw", "raw", "raw"]
"#;

pub const SHOP: &str = r#"
[rates]
currency = "EUR"
slabs = "area"
stone = 180
edges.polished = 38.50
edges.eased = 12.40
openings."undermount sink" = 145
openings."tap hole" = 22.5
rods = 44
corner = 9.95
seam = 45
templating = 90
delivery = 0
installation_by_area = 31.25
tax_percent = 20
tax_name = "VAT"
extra = [{ name = "trade discount", rate = -25 }]
"#;

fn metric() -> Quote {
    let q = question(PIECES, RACK, SHOP);
    let p = plan(&q, &[("FS-2", &[("Tide Hall", "run"), ("Tide Hall", "corner top")])]);
    let mut quote = priced(&q, Some(&p), &[2]).unwrap();
    quote.jobs[0].estimate = None;
    quote
}

#[test]
fn a_job_by_area_comes_to_what_the_hand_says() {
    let quote = metric();
    adds_up(&quote);
    let job = &quote.jobs[0];
    let is = |what: &str, wanted: [&str; 3]| assert_eq!(figures(line(job, what)), wanted, "{what}");
    // The run: 1.488 m², charged as 1.50. The L: 600 x 500 and 1500 x 600, 1.20 exactly. 2.70 / 0.70 = 3.857.
    is("Fell slate", ["3.857", "180", "694.26"]);
    // The L's inside corner: 40 mm off each side for an arc of 62.832, half of it each.
    // Eased: 600 + 460 + 31.416 = 1091.416, up to 1095. Polished: 860 + 31.416 = 891.416, up to 895; the run 2400 + 620.
    is("eased edge", ["1.095", "12.4", "13.58"]);
    is("polished edge", ["3.915", "38.5", "150.73"]);
    is("rounded corners", ["1", "9.95", "9.95"]);
    is("undermount sink, cut out, edge polished", ["1", "145", "145.00"]);
    is("tap hole, drilled", ["1", "22.5", "22.50"]);
    is("seams", ["2", "45", "90.00"]);
    is("templating", ["1", "90", "90.00"]);
    is("delivery", ["1", "0", "0.00"]);
    // 84.375: an exact half.
    is("installation by area", ["2.700", "31.25", "84.38"]);
    is("trade discount", ["1", "-25", "-25.00"]);
    assert_eq!(job.subtotal.minor, 127_540);
    assert_eq!(job.tax.as_ref().unwrap().amount.minor, 25_508);
    assert_eq!(job.total.minor, 153_048);
    assert!(quote.is_complete() && job.cautions.is_empty() && job.to_minimum.is_none(), "{job:#?}");
    golden("quote-mm.txt", &text(&quote, Shown::Mm));
}

const INCHES: &str = r#"
units = "in"
[rates]
currency = "$"
markup_percent = 25
edges.polished = 14.35
edges."half round" = 21
openings.cooktop = 130
rods = 12
sealing = 2.25
templating = 100
without = ["delivery", "installation"]
minimum = 1800
tax_percent = 8.875
tax_name = "sales tax"
valid_days = 14
"#;

const COUNTER: &str = r#"
[[piece]]
name = "counter"
outline.rectangle = ["5 ft", "25 1/2 in"]
edges = ["polished", "polished", "raw", "raw"]

[[piece.opening]]
name = "hob"
kind = "cooktop"
shape.rectangle = ["20 in", "16 in"]
corner_radius = "1 in"
centre_line = "30 in"
setback = "4 1/4 in"

[[piece]]
name = "table"
outline.circle = "30 in"
edges = ["half round"]
"#;

#[test]
fn a_job_in_inches_by_whole_slabs_comes_to_what_the_hand_says() {
    // 100 x 60 in for 640.00.
    let rack = "units = \"in\"\n[[slab]]\nname = \"FS-9\"\nmaterial = \"Fell slate\"\nstone = \"granite\"\n\
        thickness = \"30 mm\"\nprice = 640\noutline.rectangle = [100, 60]\n";
    let q = question(COUNTER, rack, INCHES);
    let p = plan(&q, &[("FS-9", &[("Tide Hall", "counter"), ("Tide Hall", "table")])]);
    let mut quote = priced(&q, Some(&p), &[]).unwrap();
    adds_up(&quote);
    let job = &quote.jobs[0];
    let is = |what: &str, wanted: [&str; 3]| assert_eq!(figures(line(job, what)), wanted, "{what}");
    is("slab FS-9, 41.67 ft²", ["1", "800.00", "800.00"]);
    // 60 + 25.5 = 85.5 in = 7.125 ft; times 14.35 is 102.24375.
    is("polished edge", ["7.125", "14.35", "102.24"]);
    // 30 pi = 94.248 in, up to 94.25 in = 7.854 ft; times 21 is 164.934.
    is("half round edge", ["7.854", "21", "164.93"]);
    is("cooktop, cut out", ["1", "130", "130.00"]);
    // 10.625 ft² up to 11.0, and 6.25 up to 6.5.
    is("sealing", ["17.500", "2.25", "39.38"]);
    is("templating", ["1", "100", "100.00"]);
    assert_eq!(job.lines.len(), 6, "{:#?}", job.lines);
    // 800 + 102.24 + 164.93 + 130 + 39.38 + 100.
    assert_eq!(job.subtotal.minor, 133_655);
    assert_eq!(job.to_minimum.unwrap().minor, 180_000 - 133_655);
    // 8.875 % of 1800 is 159.75.
    assert_eq!(job.tax.as_ref().unwrap().amount.minor, 15_975);
    assert_eq!(job.total.minor, 195_975);
    let y = &job.yields;
    let inch2 = 25.4 * 25.4;
    assert!((y.slabs_mm2.unwrap() / inch2 - 6000.0).abs() < 1e-6);
    // The drawing of the round table is a little outside it.
    assert!((y.pieces_mm2 / inch2 - (1530.0 + PI * 225.0)).abs() < 0.3, "{y:?}");
    assert_eq!(quote.not_included[..2], ["delivery", "installation"]);
    quote.jobs[0].estimate = None;
    golden("quote-inches.txt", &text(&quote, Shown::In));
}

#[test]
fn yields_are_those_of_the_trade() {
    // Waste of slab is 1 - Y, uplift on the area used 1/Y - 1 (derived): 0.70 is 30 % and 42.86 %, 0.80 is 20 % and 25 %.
    for (y, waste, uplift) in [(0.70, 0.30, 0.4286), (0.80, 0.20, 0.25)] {
        let used = Used::of(y);
        assert!((used.waste - waste).abs() < 1e-12 && (used.uplift - uplift).abs() < 5e-5, "{used:?}");
    }
    let nothing = Used::on(0.0, 0.0);
    assert_eq!((nothing.share, nothing.waste, nothing.uplift), (0.0, 1.0, 0.0));
    // An island of 108 x 48 in, 36.00 ft², from a slab of 122 x 68 in, 57.61 ft²: Y2 0.62488, waste 37.5 %, uplift 60.0 %.
    // (Sizes published by a US fabricator in an essay on slab buying; yields derived.)
    let island = "[[piece]]\nname = \"island\"\noutline.rectangle = [\"108 in\", \"48 in\"]\n";
    let rack = "units = \"in\"\n[[slab]]\nname = \"FS-9\"\nmaterial = \"Fell slate\"\nthickness = \"30 mm\"\nprice = 640\n\
        outline.rectangle = [122, 68]\n";
    let q = question(island, rack, "units = \"in\"\n[rates]\nslabs = \"area\"\nstone = 1\nwaste_percent = 0\n");
    let quote = priced(&q, Some(&plan(&q, &[("FS-9", &[("Tide Hall", "island")])])), &[]).unwrap();
    let y = &quote.jobs[0].yields;
    assert!((y.gross.share - 0.62488).abs() < 5e-6, "{y:?}");
    assert!((y.gross.waste - 0.375).abs() < 5e-4 && (y.gross.uplift - 0.600).abs() < 5e-4, "{y:?}");
    assert_eq!(y.gross, y.net);
    let stone = line(&quote.jobs[0], "Fell slate");
    assert_eq!(figures(stone), ["36.000", "1", "36.00"]);
    let used = &rows(&quote, Shown::In)[0].sections[0].1;
    assert!(used[0].contains("Y2: 62.49 %") && used[0].contains("waste of slab 37.51 %"), "{used:?}");
    assert!(used[0].contains("60.03 %") && used[1].contains("Y1: 62.49 %"), "{used:?}");
}

#[test]
fn net_yield_leaves_openings_out() {
    let quote = metric();
    let y = &quote.jobs[0].yields;
    // A sink with four corners of 20 mm, a hole of 35 mm, drawn a little outside.
    let openings = 200_000.0 - 400.0 * (4.0 - PI) + PI * 17.5 * 17.5;
    assert!((y.openings_mm2 - openings).abs() < 25.0, "{y:?}");
    let pieces = 2400.0 * 620.0 + 1.2e6 + 1600.0 * (1.0 - PI / 4.0);
    assert!((y.pieces_mm2 - pieces).abs() < 5.0, "{y:?}");
    assert!((y.gross.share - y.pieces_mm2 / 6e6).abs() < 1e-12);
    assert!((y.net.share - (y.pieces_mm2 - y.openings_mm2) / 6e6).abs() < 1e-12);
}

#[test]
fn an_estimate_stands_beside_the_plan_and_says_how_far_off_it_was() {
    let shop = SHOP.replace("slabs = \"area\"\nstone = 180\n", "slabs = \"whole\"\n");
    let q = question(PIECES, RACK, &shop);
    let alone = priced(&q, None, &[2]).unwrap();
    assert_eq!(alone.basis, Basis::Estimate);
    adds_up(&alone);
    // 3.857 m² at the mean price of the rack: 1240.50 for 10.5 m² is 118.14.
    assert_eq!(figures(line(&alone.jobs[0], "Fell slate")), ["3.857", "118.14", "455.67"]);
    assert!((alone.jobs[0].yields.gross.share - 0.7).abs() < 1e-12 && alone.jobs[0].yields.slabs_mm2.is_none());
    assert!(text(&alone, Shown::Mm).starts_with("Estimate for Tide Hall\n"));
    let p = plan(&q, &[("FS-2", &[("Tide Hall", "run"), ("Tide Hall", "corner top")])]);
    let quote = priced(&q, Some(&p), &[2]).unwrap();
    adds_up(&quote);
    let beside = quote.jobs[0].estimate.as_ref().unwrap();
    let stone = &beside.lines[0];
    assert_eq!(
        (stone.what.as_str(), stone.estimate.unwrap().minor, stone.plan.unwrap().minor),
        ("stone", 45_567, 74_050)
    );
    assert_eq!(stone.off.unwrap().minor, 74_050 - 45_567);
    assert_eq!(beside.total.estimate.unwrap(), alone.jobs[0].total);
    assert_eq!(beside.total.plan.unwrap(), quote.jobs[0].total);
    let sum: i64 = beside.lines.iter().map(|l| l.off.unwrap().minor).sum();
    assert_eq!(sum, beside.total.off.unwrap().minor);
    // 284.83 of stone and a fifth of it in tax, on an estimate of 1243.77.
    let said = text(&quote, Shown::Mm);
    assert!(said.contains("The estimate was 341.80 too low, 27.5 % of the estimate."), "{said}");
}

#[test]
fn other_units_stand_beside_and_change_no_amount() {
    let quote = metric();
    let (mm, inches) = (&rows(&quote, Shown::Mm)[0], &rows(&quote, Shown::In)[0]);
    assert_eq!(mm.sums, inches.sums);
    for (a, b) in mm.rows.iter().zip(&inches.rows) {
        assert_eq!(a.cells[1..], b.cells[1..]);
    }
    let what = |start: &str| inches.rows.iter().find(|r| r.cells[0].starts_with(start)).unwrap().cells[0].clone();
    // 3.915 m is 12.84 ft, 2.7 m² are 29.06 ft².
    assert_eq!(what("polished"), "polished edge (12.84 ft)");
    assert_eq!(what("installation"), "installation by area (29.06 ft²)");
    assert_eq!(what("seams"), "seams");
}
