//! Homographies: a published worked example, a general-purpose library, marks that say too little.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use rand::{RngExt as _, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scantling::geom::{BBox, Point, Ring, pt};
use scantling::model::Photo;
use scantling::photo::{Fault, Fit, Homography, play, thickness};

use super::{camera, corners, slab};

/// Points and the matrix that the library gives for them.
#[derive(serde::Serialize, serde::Deserialize)]
struct Case {
    from: Vec<[f64; 2]>,
    to: Vec<[f64; 2]>,
    #[serde(default)]
    matrix: [[f64; 3]; 3],
}

fn points(list: &[[f64; 2]]) -> Vec<Point> {
    list.iter().map(|&p| p.into()).collect()
}

/// The matrix scaled so that its last entry is 1.
fn scaled(rows: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    rows.map(|row| row.map(|v| v / rows[2][2]))
}

/// The tutorials of scikit-image (scikit-image/skimage-tutorials, lectures/solutions/tile_rectify.py) straighten a tile by
/// four points, and print the matrix in a comment, with nine digits.
#[test]
fn a_published_worked_example() {
    let from = [[129.0, 72.0], [302.0, 76.0], [90.0, 185.0], [326.0, 193.0]];
    let to = [[0.0, 0.0], [400.0, 0.0], [0.0, 400.0], [400.0, 400.0]];
    let published = [
        [3.040_268_72, 1.049_296_28, -467.743_998],
        [-0.144_134_582, 6.233_820_67, -430.241_727],
        [2.636_206_73e-5, 4.176_945_27e-3, 1.0],
    ];
    let found = scaled(Homography::fit(&points(&from), &points(&to)).unwrap().rows());
    for (a, b) in found.iter().flatten().zip(published.iter().flatten()) {
        // Half of the ninth digit, and as much for rounding.
        assert!((a - b).abs() <= 1e-8 * b.abs(), "{a} for {b}");
    }
}

/// Cameras of many kinds, with marks off by up to 3 pixels: from slab millimetres to pixels.
fn cases() -> Vec<Case> {
    let mut dice = ChaCha8Rng::seed_from_u64(11);
    let mut out = Vec::new();
    for n in [4, 4, 5, 6, 6, 8, 9, 12, 20, 40] {
        for noise in [0.0, 0.4, 3.0] {
            let [w, h] = [dice.random_range(1200.0..3300.0), dice.random_range(700.0..1900.0)];
            let mut jitter =
                |x: f64, y: f64| pt(x + dice.random_range(-350.0..350.0), y + dice.random_range(-350.0..350.0));
            let seen = [jitter(500.0, 2500.0), jitter(3500.0, 2500.0), jitter(3500.0, 500.0), jitter(500.0, 500.0)];
            let camera = Homography::fit(&corners([w, h]), &seen).unwrap();
            let mut at: Vec<Point> =
                [[0.05, 0.06], [0.95, 0.04], [0.93, 0.96], [0.07, 0.92]].map(|[x, y]| pt(x * w, y * h)).to_vec();
            at.extend((4..n).map(|_| pt(dice.random_range(0.0..w), dice.random_range(0.0..h))));
            let mut off = || if noise > 0.0 { dice.random_range(-noise..noise) } else { 0.0 };
            let to = at.iter().map(|&p| (camera.apply(p).unwrap() + pt(off(), off())).into()).collect();
            out.push(Case { from: at.into_iter().map(Into::into).collect(), to, matrix: [[0.0; 3]; 3] });
        }
    }
    out
}

fn fixture() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/photo/homographies.json")
}

/// Asks the library of computer vision; `None` where it is not there.
fn asked(cases: &[Case]) -> Option<Vec<Case>> {
    let python = std::env::var("SCANTLING_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = fixture().with_extension("py");
    let mut child = Command::new(&python)
        .arg(&script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let question = serde_json::to_vec(cases).unwrap();
    // A script that ends at once, for want of the library, may have closed its end.
    let _ = child.stdin.take().unwrap().write_all(&question);
    let output = child.wait_with_output().unwrap();
    match output.status.code() {
        Some(0) => Some(serde_json::from_slice(&output.stdout).unwrap()),
        Some(3) => None,
        _ => panic!("{} failed: {}", script.display(), String::from_utf8_lossy(&output.stdout)),
    }
}

fn agree(cases: &[Case]) {
    assert_eq!(cases.len(), 30);
    for (i, case) in cases.iter().enumerate() {
        let (from, to) = (points(&case.from), points(&case.to));
        let ours = Homography::fit(&from, &to).unwrap();
        let theirs = Homography::of_rows(case.matrix).unwrap();
        let squares = |h: &Homography| -> f64 {
            from.iter().zip(&to).map(|(&p, &q)| h.apply(p).unwrap().distance(q).powi(2)).sum()
        };
        let (a, b) = (squares(&ours), squares(&theirs));
        // Both minimise this sum. Theirs stops after ten steps.
        assert!(a <= b * (1.0 + 1e-9) + 1e-12, "case {i}: {a} for {b}");
        for &p in &from {
            let apart = ours.apply(p).unwrap().distance(theirs.apply(p).unwrap());
            assert!(apart < 0.01, "case {i}: {apart} pixels at {p:?}");
        }
    }
}

/// What OpenCV 5.0.0 found for the same cases (`findHomography` with all points), kept so that the test always runs.
#[test]
fn homographies_agree_with_what_a_library_of_computer_vision_found() {
    let kept: Vec<Case> = serde_json::from_str(&std::fs::read_to_string(fixture()).unwrap()).unwrap();
    for (kept, made) in kept.iter().zip(cases()) {
        assert_eq!(kept.from.len(), made.from.len());
    }
    agree(&kept);
}

#[test]
fn homographies_agree_with_a_library_of_computer_vision() {
    match asked(&cases()) {
        Some(found) => agree(&found),
        None if std::env::var_os("SCANTLING_MUST").is_some() => {
            panic!("no Python with opencv-python-headless; name it with SCANTLING_PYTHON")
        }
        None => println!("skipped: no Python with opencv-python-headless; name it with SCANTLING_PYTHON"),
    }
}

/// Writes what the library finds into the fixture.
#[test]
#[ignore = "rewrites a file of the tests; needs a Python with opencv-python-headless in SCANTLING_PYTHON"]
fn keep_what_the_library_finds() {
    let found = asked(&cases()).expect("the library");
    let lines: Vec<String> = found.iter().map(|c| serde_json::to_string(c).unwrap()).collect();
    scantling::io::write_atomically(&fixture(), format!("[\n{}\n]\n", lines.join(",\n")).as_bytes()).unwrap();
}

#[test]
fn exact_marks_give_the_camera_back() {
    let slab = slab("x.jpg");
    let fit = Fit::of(slab.photo.as_ref().unwrap()).unwrap();
    for x in 0..=20 {
        for y in 0..=12 {
            let p = pt(100.0 * f64::from(x), 100.0 * f64::from(y));
            let q = camera().apply(p).unwrap();
            assert!(fit.to_picture.apply(p).unwrap().distance(q) < 1e-6);
            assert!(fit.to_slab.apply(q).unwrap().distance(p) < 1e-6);
        }
    }
    assert!(fit.rms() < 1e-6 && fit.worst().1 < 1e-6);
    assert!(fit.to_picture.mirrors(), "y runs up on the slab and down in the picture");
}

#[test]
fn a_mark_that_is_wrong_stands_out() {
    let mut photo = *slab("x.jpg").photo.unwrap();
    // Three more good marks, so that the wrong one is outvoted.
    for p in [pt(500.0, 300.0), pt(1500.0, 300.0), pt(700.0, 1000.0)] {
        photo.at.push(p);
        photo.marks.push(camera().apply(p).unwrap());
    }
    photo.at[2] = photo.at[2] + pt(0.0, 60.0);
    let fit = Fit::of(&photo).unwrap();
    let (worst, off) = fit.worst();
    assert_eq!(worst, 2);
    assert!(off > 10.0 && off < 60.0 && fit.rms() > 3.0 && fit.rms() < off, "{off} {}", fit.rms());
}

fn fault(marks: &[[f64; 2]], at: &[[f64; 2]]) -> Fault {
    Fit::of(&Photo { file: String::new(), marks: points(marks), at: points(at) }).unwrap_err()
}

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [1000.0, 0.0], [1000.0, 1000.0], [0.0, 1000.0]];
const SEEN: [[f64; 2]; 4] = [[100.0, 500.0], [520.0, 480.0], [500.0, 120.0], [130.0, 90.0]];

#[test]
fn marks_that_say_too_little_are_refused() {
    assert!(Fit::of(&Photo { file: String::new(), marks: points(&SEEN), at: points(&SQUARE) }).is_ok());
    assert_eq!(fault(&SEEN[..3], &SQUARE[..3]), Fault::TooFew);
    assert_eq!(fault(&[], &[]), Fault::TooFew);
    assert_eq!(fault(&SEEN, &SQUARE[..3]), Fault::Unequal);
    // Three of four in a line, in either frame; nearly so; all in one place.
    let three = [[0.0, 0.0], [500.0, 0.0], [1000.0, 0.0], [300.0, 800.0]];
    assert!(matches!(fault(&SEEN, &three), Fault::PlacesInLine(t) if t < 1e-6));
    assert!(matches!(fault(&three, &SQUARE), Fault::MarksInLine(t) if t < 1e-6));
    let nearly = [[0.0, 0.0], [500.0, 40.0], [1000.0, 0.0], [300.0, 800.0]];
    assert!(matches!(fault(&SEEN, &nearly), Fault::PlacesInLine(t) if t > 0.02));
    assert!(matches!(fault(&[[7.0, 7.0]; 4], &SQUARE), Fault::MarksInLine(t) if t == 0.0));
    // Many marks on one line and one beside it.
    let row: Vec<[f64; 2]> = (0..9).map(|i| [100.0 * f64::from(i), 50.0]).chain([[400.0, 700.0]]).collect();
    assert!(matches!(fault(&row, &row), Fault::MarksInLine(t) if t < 1e-6));
    // Two places are the same.
    let twice = [SQUARE[0], SQUARE[0], SQUARE[2], SQUARE[3]];
    assert!(matches!(fault(&SEEN, &twice), Fault::PlacesInLine(t) if t < 1e-6));
    // Numbers without sense.
    let odd = [[f64::NAN, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    assert!(Fit::of(&Photo { file: String::new(), marks: points(&odd), at: points(&SQUARE) }).is_err());
}

#[test]
fn marks_in_another_order_are_refused() {
    let [a, b, c, d] = SEEN;
    assert_eq!(fault(&[d, c, b, a], &SQUARE), Fault::Mirrored);
    assert!(matches!(fault(&[b, a, c, d], &SQUARE), Fault::Disordered(_)));
    assert!(matches!(fault(&[a, c, b, d], &SQUARE), Fault::Disordered(_)));
    // Begun at another mark, it is a picture that was turned, which nobody can tell from a good one.
    assert!(Fit::of(&Photo { file: String::new(), marks: points(&[b, c, d, a]), at: points(&SQUARE) }).is_ok());
}

#[test]
fn thickness_is_what_it_says() {
    assert!((thickness(&points(&SQUARE)) - 2.0 / 3.0).abs() < 1e-9);
    assert!((thickness(&corners([3000.0, 1800.0])) - 0.463).abs() < 0.001);
    assert_eq!(thickness(&[]), 0.0);
    assert_eq!(thickness(&[pt(1.0, 2.0)]), 0.0);
}

#[test]
fn a_camera_that_cannot_see_all_of_the_slab_is_noticed() {
    // Marks close together at one end, seen under a steep angle: the far end lies behind the horizon.
    let at = [[0.0, 0.0], [300.0, 0.0], [300.0, 300.0], [0.0, 300.0]];
    let marks = [[0.0, 1000.0], [600.0, 700.0], [600.0, 500.0], [0.0, 200.0]];
    let fit = Fit::of(&Photo { file: String::new(), marks: points(&marks), at: points(&at) }).unwrap();
    let outline = |w| Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(w, 300.0) });
    assert!(fit.sees(&outline(300.0)) && fit.sees(&outline(3000.0)));
    let behind = Ring::rectangle(BBox { min: pt(-400.0, 0.0), max: pt(300.0, 300.0) });
    assert!(!fit.sees(&behind));
}

#[test]
fn the_play_of_marks_is_that_of_the_scale_where_they_surround_the_slab() {
    // A picture of one pixel a millimetre, marks in the corners: a corner moves with its own mark, by a pixel each way.
    let at = corners([1000.0, 600.0]).to_vec();
    let marks = at.iter().map(|p| pt(p.x + 50.0, 700.0 - p.y)).collect();
    let outline = Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(1000.0, 600.0) });
    let found = play(&Photo { file: String::new(), marks, at }, &outline).unwrap();
    assert!((found - std::f64::consts::SQRT_2).abs() < 0.01, "{found}");
    // Marks in the middle say less of the corners.
    let at: Vec<Point> = [[400.0, 240.0], [600.0, 240.0], [600.0, 360.0], [400.0, 360.0]].map(Point::from).to_vec();
    let marks = at.iter().map(|p| pt(p.x + 50.0, 700.0 - p.y)).collect();
    let found = play(&Photo { file: String::new(), marks, at }, &outline).unwrap();
    assert!(found > 10.0, "{found}");
}
