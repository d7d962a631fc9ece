//! Loose lines that are put end to end, and which outline lies in which.

use scantling::diag::{Kind, Severity};
use scantling::io::drawn::{Request, name_of};
use scantling::model::Shape;

use super::{Draft, exact_area, one, request, said, see, see_with};

/// The sides of a rectangle of 800 by 300 as loose lines, in an odd order and direction, with a gap at the upper left.
fn loose(gap: f64) -> Draft {
    Draft::mm()
        .line("0", [800.0, 300.0], [gap, 300.0])
        .line("0", [0.0, 0.0], [800.0, 0.0])
        .line("0", [0.0, 300.0], [0.0, 0.0])
        .line("0", [800.0, 0.0], [800.0, 300.0])
}

#[test]
fn loose_lines_close_in_any_order() {
    let seen = see(&loose(0.0));
    assert_eq!(one(&seen).made.shape, Shape::rectangle(800.0, 300.0, 0.0));
    assert_eq!(seen.outlines.gaps, 0);
    assert!(seen.remarks.is_empty(), "{}", said(&seen));
}

#[test]
fn gaps_are_closed_within_the_tolerance_and_told() {
    let seen = see(&loose(0.08));
    assert_eq!(seen.outlines.gaps, 1);
    assert!((seen.outlines.widest.unwrap().0 - 0.08).abs() < 1e-9);
    assert!(said(&seen).contains("1 gap closed, the widest 0.08 mm at [0, 300] mm"), "{}", said(&seen));
    assert!((exact_area(&one(&seen).made.shape) - 240_000.0).abs() < 30.0);
    // Wider than the tolerance: an error with the gap, both ends and their handles.
    let seen = see(&loose(0.3));
    let error = seen.remarks.iter().find(|r| r.what == Kind::OpenOutline).unwrap();
    assert!(error.severity == Severity::Error && error.line > 0);
    for part in ["handle 21", "handle 23", "layer \"0\"", "0.3 mm off"] {
        assert!(error.given.contains(part), "{part}: {error}");
    }
    assert!(error.fix.contains("tolerance above 0.3 mm"), "{error}");
    // With a tolerance that covers it all is well.
    let seen = see_with(&loose(0.3), &Request { tolerance: 0.5, ..request() });
    assert_eq!((seen.outlines.gaps, seen.outlines.all.len()), (1, 1));
    let exact = see_with(&loose(0.0), &Request { tolerance: 0.0, ..request() });
    assert_eq!(exact.outlines.all.len(), 1);
}

/// An arc exploded into lines that are shorter than the tolerance, from one direction (degrees) to another.
fn exploded(mut draft: Draft, centre: [f64; 2], radius: f64, [from, to]: [f64; 2], lines: usize) -> Draft {
    let at = |k: usize| {
        let angle = (from + (to - from) * k as f64 / lines as f64).to_radians();
        [centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin()]
    };
    for k in 0..lines {
        draft = draft.line("0", at(k), at(k + 1));
    }
    draft
}

#[test]
fn fine_lines_are_not_taken_for_gaps() {
    // A round hole of lines of 0.047 mm, and a corner of lines of 0.087; the tolerance is 0.1.
    let hole = exploded(loose(0.0), [200.0, 150.0], 30.0, [0.0, 360.0], 4000);
    let seen = see(&hole);
    assert!(!said(&seen).contains("error") && seen.outlines.specks == 0, "{}", said(&seen));
    let piece = seen.outlines.outer().next().unwrap();
    let round = seen.outlines.inner(piece).next().unwrap();
    assert!((round.area - std::f64::consts::PI * 900.0).abs() < 1.0, "{}", round.area);

    let corner = Draft::mm()
        .line("0", [0.0, 300.0], [0.0, 0.0])
        .line("0", [0.0, 0.0], [750.0, 0.0])
        .line("0", [800.0, 50.0], [800.0, 300.0])
        .line("0", [800.0, 300.0], [0.0, 300.0]);
    let corner = exploded(corner, [750.0, 50.0], 50.0, [-90.0, 0.0], 900);
    for tolerance in [0.0, 0.1, 1.0, 5.0] {
        let seen = see_with(&corner, &Request { tolerance, ..request() });
        let wanted = 240_000.0 - 2500.0 * (1.0 - std::f64::consts::PI / 4.0);
        assert!((one(&seen).area - wanted).abs() < 1.0, "{tolerance}: {} {}", one(&seen).area, said(&seen));
        assert_eq!((seen.outlines.gaps, seen.outlines.specks), (0, 0), "{tolerance}");
    }
}

#[test]
fn fine_lines_with_fine_gaps_close_too_and_no_gap_is_wider_than_the_tolerance() {
    // Every second line a little short, so that nothing meets exactly.
    let mut draft = Draft::mm();
    let at = |angle: f64| [100.0 * angle.cos(), 100.0 * angle.sin()];
    let step = std::f64::consts::TAU / 5000.0;
    for k in 0..5000 {
        draft = draft.line("0", at(f64::from(k) * step), at((f64::from(k) + 0.9) * step));
    }
    let seen = see(&draft);
    assert!((one(&seen).area - std::f64::consts::PI * 1e4).abs() < 3.0, "{}", said(&seen));
    let widest = seen.outlines.widest.unwrap().0;
    assert!(seen.outlines.gaps == 5000 && widest < 0.02, "{widest}");
}

#[test]
fn a_line_gives_way_to_an_arc() {
    // The arc's end is right, the line's is off by 0.05.
    let draft = Draft::mm().arc("0", [0.0, 0.0], 500.0, 0.0, 180.0).line("0", [-500.05, 0.0], [500.05, 0.0]);
    let seen = see(&draft);
    assert_eq!(seen.outlines.gaps, 2);
    let wanted = std::f64::consts::PI * 500.0 * 500.0 / 2.0;
    assert!((exact_area(&one(&seen).made.shape) - wanted).abs() < 0.05);
}

#[test]
fn ends_that_meet_in_threes_are_told() {
    let seen = see(&loose(0.0).line("0", [800.0, 300.0], [900.0, 400.0]));
    let error = seen.remarks.iter().find(|r| r.what == Kind::Tangled).unwrap();
    assert!(error.given.contains("3 ends that meet at [800, 300] mm"), "{error}");
    assert!(error.given.contains("handle 25"), "{error}");
    assert!(!seen.remarks.iter().any(|r| r.what == Kind::OpenOutline), "said once: {}", said(&seen));
}

#[test]
fn what_is_drawn_twice_counts_once() {
    let twice = loose(0.0).line("0", [800.0, 0.0], [0.0, 0.0]).rectangle("0", [2000.0, 0.0], [100.0, 100.0]);
    let twice = twice.rectangle("0", [2000.0, 0.0], [100.0, 100.0]).circle("0", [2050.0, 50.0], 20.0);
    let seen = see(&twice.line("0", [800.0, 300.0], [800.02, 300.02]));
    assert!(!said(&seen).contains("error"), "{}", said(&seen));
    assert_eq!(seen.outlines.outer().count(), 2);
    assert_eq!(seen.outlines.repeated.len(), 2);
    assert_eq!(seen.outlines.specks, 1);
    let square = seen.outlines.outer().last().unwrap();
    assert_eq!(seen.outlines.inner(square).count(), 1, "the circle lies in the square that stayed");
}

#[test]
fn outlines_nest_and_texts_belong_to_the_innermost() {
    let draft = Draft::mm()
        .rectangle("0", [0.0, 0.0], [2000.0, 600.0])
        .rectangle("0", [500.0, 100.0], [600.0, 400.0])
        .circle("0", [1500.0, 300.0], 17.5)
        // Beside it, sharing a border: no overlap.
        .rectangle("0", [2000.0, 0.0], [1000.0, 600.0])
        .text("0", [100.0, 50.0], 40.0, "long run")
        .text("0", [100.0, 500.0], 20.0, "granite")
        .text("0", [600.0, 300.0], 60.0, "sink")
        .text("0", [2100.0, 300.0], 40.0, "short run")
        .text("0", [100.0, 900.0], 40.0, "nowhere");
    let seen = see(&draft);
    assert!(seen.remarks.is_empty(), "{}", said(&seen));
    let names: Vec<_> = seen.outlines.outer().map(|o| name_of(&seen, o).unwrap().unwrap()).collect();
    assert_eq!(names, ["long run", "short run"], "the larger text names it");
    let first = seen.outlines.outer().next().unwrap();
    let inner: Vec<_> = seen.outlines.inner(first).map(|o| name_of(&seen, o).unwrap()).collect();
    assert_eq!(inner, [Some("sink".to_owned()), None]);
    assert_eq!(seen.outlines.stray_texts.len(), 1);
}

#[test]
fn overlaps_and_outlines_three_deep_are_told() {
    let over = Draft::mm().rectangle("0", [0.0, 0.0], [500.0, 500.0]).rectangle("0", [400.0, 400.0], [500.0, 500.0]);
    let seen = see(&over);
    let error = seen.remarks.iter().find(|r| r.what == Kind::Tangled).unwrap();
    assert!(error.given.contains("overlap near") && error.given.contains("handle 21"), "{error}");
    let deep = Draft::mm().rectangle("0", [0.0, 0.0], [500.0, 500.0]).circle("0", [250.0, 250.0], 100.0);
    let seen = see(&deep.circle("0", [250.0, 250.0], 50.0));
    assert!(said(&seen).contains("an outline within an outline within an outline"), "{}", said(&seen));
}

#[test]
fn only_the_layer_asked_for_is_read() {
    let draft = loose(0.0).line("walls", [-500.0, 0.0], [3000.0, 0.0]).add("REGION", "walls", "");
    assert!(said(&see(&draft)).contains("error"));
    let seen = see_with(&draft, &Request { layer: Some("0".to_owned()), ..request() });
    assert_eq!(one(&seen).made.shape, Shape::rectangle(800.0, 300.0, 0.0));
    // Off (negative colour) and frozen (flag 1) layers are not seen, and that is said.
    let draft = loose(0.0).layer("walls", 0, -7).layer("notes", 1, 7);
    let draft = draft.line("walls", [-500.0, 0.0], [3000.0, 0.0]).circle("notes", [0.0, 0.0], 900.0);
    let seen = see(&draft);
    assert_eq!((one(&seen).made.sides.len(), seen.dxf.hidden), (4, 2));
    assert!(said(&seen).contains("2 left out on layers that are off or frozen"), "{}", said(&seen));
    // So is what stands on a sheet of paper, and what draws no outline.
    let draft = loose(0.0).add("CIRCLE", "0", "67\n1\n10\n0\n20\n0\n40\n5\n").add("DIMENSION", "0", "10\n0\n20\n0\n");
    let seen = see(&draft.add("POINT", "0", "10\n0\n20\n0\n").add("POINT", "0", "10\n1\n20\n0\n"));
    assert!(said(&seen).contains("1 left out that are switched off or on a sheet"), "{}", said(&seen));
    assert!(said(&seen).contains("1 DIMENSION, 2 POINT"), "{}", said(&seen));
}
