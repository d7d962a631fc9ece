//! Damaged drawings of all sorts: never a panic, never a long wait, always a drawing or a reason.

use std::time::{Duration, Instant};

use proptest::prelude::*;
use scantling::cad::{Body, Drawing};
use scantling::diag::Severity;
use scantling::geom::Ring;
use scantling::geom::curve::{Side, check_roundings};
use scantling::io::drawn::{self, Seen};
use scantling::io::dxf;
use scantling::model::Shape;

use super::{Draft, request};

/// A file with every kind of entity that is read.
fn whole() -> Draft {
    let within = Draft::new().circle("0", [0.0, 0.0], 20.0).text("0", [0.0, 0.0], 5.0, "tap hole");
    let knots = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
    let spline = [[0.0, 2000.0], [300.0, 1850.0], [700.0, 2200.0], [1000.0, 2000.0]];
    Draft::mm()
        .layer("top", 0, 7)
        .layer("off", 0, -7)
        .block("HOLE", [0.0, 0.0], &within)
        .polyline("top", true, &[[0.0, 0.0, 0.1], [1500.0, 0.0, 0.0], [1500.0, 600.0, 0.0], [0.0, 600.0, 0.0]])
        .add("INSERT", "top", "2\nHOLE\n10\n300\n20\n300\n30\n0\n41\n-2\n42\n2\n50\n15\n70\n2\n44\n400\n71\n1\n45\n0\n")
        .spline("top", 3, &knots, &spline, &[1.0, 0.8, 1.2, 1.0])
        .line("top", [1000.0, 2000.0], [1000.0, 2500.0])
        .line("top", [1000.0, 2500.0], [0.0, 2500.0])
        .line("top", [0.0, 2500.0], [0.0, 2000.0])
        .arc("top", [3000.0, 300.0], 200.0, 0.0, 180.0)
        .line("top", [2800.0, 300.0], [3200.0, 300.0])
        .add("ELLIPSE", "top", "10\n3000\n20\n1500\n11\n300\n21\n100\n31\n0\n40\n0.5\n41\n0\n42\n6.283185307179586\n")
        .add("POLYLINE", "top", "66\n1\n70\n1\n")
        .add("VERTEX", "top", "10\n4000\n20\n0\n30\n0\n42\n1\n")
        .add("VERTEX", "top", "10\n4500\n20\n0\n30\n0\n")
        .add("VERTEX", "top", "10\n4500\n20\n600\n30\n0\n")
        .add("SEQEND", "top", "")
        .add("MTEXT", "top", "10\n50\n20\n500\n30\n0\n40\n30\n71\n1\n1\n{\\fSans;long} run\n")
        .add("DIMENSION", "top", "10\n0\n20\n0\n102\n{X\n330\n1F\n102\n}\n1001\nOTHER\n1040\n5\n")
        .circle("off", [0.0, 0.0], 5000.0)
}

/// The same file in binary, with codes of one byte or of two.
fn binary(text: &str, wide: bool) -> Vec<u8> {
    let mut out = b"AutoCAD Binary DXF\r\n\x1a\0".to_vec();
    let mut lines = text.lines();
    while let (Some(code), Some(value)) = (lines.next(), lines.next()) {
        let code: i16 = code.trim().parse().unwrap();
        match (wide, u8::try_from(code)) {
            (false, Ok(small)) if small < 255 => out.push(small),
            (false, _) => {
                out.push(255);
                out.extend(code.to_le_bytes());
            }
            (true, _) => out.extend(code.to_le_bytes()),
        }
        match code {
            10..=59 | 210..=239 | 1010..=1059 => out.extend(value.trim().parse::<f64>().unwrap().to_le_bytes()),
            60..=79 => out.extend(value.trim().parse::<i16>().unwrap().to_le_bytes()),
            90..=99 => out.extend(value.trim().parse::<i32>().unwrap().to_le_bytes()),
            _ => {
                out.extend(value.as_bytes());
                out.push(0);
            }
        }
    }
    out
}

/// What a file is read as must hold what everything after relies on.
fn sound(seen: &Seen) {
    for e in &seen.dxf.drawing.entities {
        if let Body::Path { vertices, .. } = &e.body {
            assert!(vertices.iter().all(|v| v.at.is_finite() && v.bulge.is_finite()));
        }
    }
    assert_eq!(seen.dxf.places.len(), seen.dxf.drawing.entities.len());
    for o in &seen.outlines.all {
        assert!(o.area > 0.0 && o.made.side_of.iter().all(|&s| s < o.made.sides.len()));
        if let Shape::Polygon(corners) = &o.made.shape {
            assert_eq!(check_roundings(corners), Ok(()));
        }
        assert!(Ring::tidy(&o.made.shape.flatten(Side::Outer).points).is_ok());
    }
}

fn read(bytes: &[u8]) -> Option<Seen> {
    let start = Instant::now();
    let result = drawn::see("a.dxf", bytes, &request());
    assert!(start.elapsed() < Duration::from_secs(20), "too slow: {:?}", start.elapsed());
    match result {
        Ok(seen) => {
            sound(&seen);
            Some(seen)
        }
        Err(remarks) => {
            let [remark] = remarks.0.as_slice() else { panic!("{remarks}") };
            assert!(remark.severity == Severity::Error && !remark.given.is_empty() && !remark.fix.is_empty());
            None
        }
    }
}

#[test]
fn the_file_is_good_before_it_is_damaged() {
    let seen = read(whole().file().as_bytes()).unwrap();
    assert!(!super::said(&seen).contains("error"), "{}", super::said(&seen));
    assert_eq!(seen.outlines.outer().count(), 5, "{}", super::said(&seen));
    assert_eq!((seen.outlines.all.len(), seen.dxf.hidden), (7, 1));
}

#[test]
fn binary_files_say_the_same_as_text() {
    let text = whole().file();
    let plain: Drawing = read(text.as_bytes()).unwrap().dxf.drawing;
    for wide in [false, true] {
        let seen = read(&binary(&text, wide)).unwrap();
        assert!(seen.dxf.binary);
        assert_eq!(seen.dxf.drawing, plain);
    }
    // The other line end, a mark of UTF-8 at the start, comments and empty lines at the end change nothing.
    let windows = format!("\u{feff}999\r\nmade by hand\r\n{}\r\n\r\n", text.replace('\n', "\r\n"));
    assert_eq!(read(windows.as_bytes()).unwrap().dxf.drawing, plain);
}

#[test]
fn letters_of_old_files_are_read() {
    let file = Draft::mm().rectangle("0", [0.0, 0.0], [100.0, 50.0]).text("0", [5.0, 5.0], 5.0, "caf#").file();
    let old: Vec<u8> = file.bytes().map(|b| if b == b'#' { 0xe9 } else { b }).collect();
    for bytes in [old, file.replace('#', "é").into_bytes(), file.replace('#', "\\U+00E9").into_bytes()] {
        let seen = read(&bytes).unwrap();
        let outline = seen.outlines.outer().next().unwrap();
        assert_eq!(drawn::name_of(&seen, outline), Ok(Some("café".to_owned())));
    }
}

#[test]
fn every_cut_is_noticed() {
    let text = whole().file();
    for bytes in [text.clone().into_bytes(), binary(&text, true), binary(&text, false)] {
        // The last line end, or what ends the last text, may be missing from a text only.
        for n in (0..bytes.len() - 4).step_by(3) {
            assert!(read(&bytes[..n]).is_none(), "cut at {n} of {}", bytes.len());
        }
    }
}

#[test]
fn what_breaks_readers_elsewhere_is_harmless() {
    let square = Draft::mm().rectangle("0", [0.0, 0.0], [100.0, 50.0]).file();
    // A date beyond all calendars; groups in groups; a dictionary of nonsense: none of it is looked at.
    let date = square.replacen("0\nENDSEC", "9\n$TDCREATE\n40\n1e300\n9\n$HANDSEED\n5\nFFFFFFFFFFFFFFFF\n0\nENDSEC", 1);
    assert!(read(date.as_bytes()).is_some());
    let nested = square.replacen("8\n0\n90", &format!("{}8\n0\n90", "102\n{A\n".repeat(200_000)), 1);
    let _ = read(nested.as_bytes());
    let closed =
        square.replacen("8\n0\n90", &format!("{}{}8\n0\n90", "102\n{A\n".repeat(50_000), "102\n}\n".repeat(50_000)), 1);
    assert_eq!(read(closed.as_bytes()).unwrap().outlines.all.len(), 1);
    // An empty line within the file does not end it.
    let gap = square.replacen("0\nENDSEC\n0\nEOF", "\n0\nENDSEC\n0\nEOF", 1);
    assert!(read(gap.as_bytes()).is_none());
    // A number that is none is an error with its line, not the end of the drawing.
    let odd = square.replacen("\n100\n", "\n1O0\n", 1);
    let error = drawn::see("a.dxf", odd.as_bytes(), &request()).unwrap_err().0.remove(0);
    assert!(error.line > 0 && error.given.contains("1O0"), "{error}");
    // Numbers at the ends of what a float can hold.
    for big in ["1e308", "-1e308", "1e-320", "1e15", "99999999999"] {
        let _ = read(square.replace("\n100\n", &format!("\n{big}\n")).as_bytes());
    }
}

/// Number of cases of each kind: `SCANTLING_CASES`, or 600.
fn cases() -> u32 {
    std::env::var("SCANTLING_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(600)
}

/// One change to a text of pairs.
#[derive(Clone, Debug)]
enum Change {
    Byte(usize, u8),
    DropLine(usize),
    Swap(usize, usize),
    Repeat(usize, usize),
    Value(usize, &'static str),
}

fn changed(text: &str, changes: &[Change]) -> Vec<u8> {
    let mut lines: Vec<String> = text.lines().map(ToOwned::to_owned).collect();
    for change in changes {
        let n = lines.len().max(1);
        match *change {
            Change::DropLine(i) if !lines.is_empty() => drop(lines.remove(i % n)),
            Change::Swap(i, j) if !lines.is_empty() => lines.swap(i % n, j % n),
            Change::Repeat(i, k) if !lines.is_empty() => {
                let part = lines[i % n..(i % n + k).min(n)].to_vec();
                lines.splice(i % n..i % n, part);
            }
            Change::Value(i, v) if !lines.is_empty() => v.clone_into(&mut lines[i % n]),
            _ => {}
        }
    }
    let mut bytes = (lines.join("\n") + "\n").into_bytes();
    for change in changes {
        if let Change::Byte(i, b) = *change {
            let n = bytes.len();
            bytes[i % n] = b;
        }
    }
    bytes
}

fn change() -> impl Strategy<Value = Change> {
    let values = [
        "", "0", "-1", "1e308", "nan", "inf", "-0", "1e-300", "70000", "2.5", "LINE", "ENDSEC", "SPLINE", "INSERT",
        "\\U+D800", "%%", "é",
    ];
    prop_oneof![
        (any::<usize>(), any::<u8>()).prop_map(|(i, b)| Change::Byte(i, b)),
        any::<usize>().prop_map(Change::DropLine),
        (any::<usize>(), any::<usize>()).prop_map(|(i, j)| Change::Swap(i, j)),
        (any::<usize>(), 1..60usize).prop_map(|(i, k)| Change::Repeat(i, k)),
        (any::<usize>(), prop::sample::select(values.to_vec())).prop_map(|(i, v)| Change::Value(i, v)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(cases()))]

    #[test]
    fn changed_files_are_read_or_refused(changes in prop::collection::vec(change(), 1..6)) {
        let _ = read(&changed(&whole().file(), &changes));
    }

    #[test]
    fn changed_binary_files_are_read_or_refused(
        wide: bool,
        changes in prop::collection::vec((any::<usize>(), any::<u8>()), 1..6),
        cut in any::<usize>(),
    ) {
        let mut bytes = binary(&whole().file(), wide);
        let n = bytes.len();
        for (i, b) in changes {
            bytes[i % n] = b;
        }
        bytes.truncate(if cut % 3 == 0 { cut % n } else { n });
        let _ = read(&bytes);
    }

    #[test]
    fn random_bytes_are_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        prop_assert!(dxf::read(&bytes, None).is_err());
        let mut with_head = b"AutoCAD Binary DXF\r\n\x1a\0".to_vec();
        with_head.extend(&bytes);
        prop_assert!(dxf::read(&with_head, None).is_err());
        let _ = dxf::read(&[b"0\nSECTION\n2\nENTITIES\n", bytes.as_slice()].concat(), None);
    }
}
