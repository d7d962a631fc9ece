//! Broken inputs of all sorts: never a panic, never a long wait, and what is accepted is sound.
//!
//! `SCANTLING_CASES` sets the number of cases of each of the two kinds (default 2000). Cases follow from their number
//! alone, so a failure names what to run again.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::LazyLock;
use std::time::{Duration, SystemTime};

use proptest::prelude::{ProptestConfig, prop};
use proptest::strategy::Strategy;
use proptest::test_runner::{RngAlgorithm, TestCaseError, TestError, TestRng, TestRunner};
use scantling::geom::Ring;
use scantling::model::{Grade, Plan, Question};
use scantling::units::Shown;
use scantling::{check, io, report};

/// No case may take longer: a hundred times what the largest honest file takes.
const LONGEST: Duration = Duration::from_secs(10);

const JOB: &str = r#"name = "Mill, first floor"
units = "mm"
rack = "rack.toml"
material = "blue slate"
thickness = 20

[[piece]]
name = "long run"
count = 2
outline.rectangle = [2650, 620]
grain = "along"
grain_tolerance = 1.5
one_way = false
edges = ["polished", "raw", "raw", "eased"]
hidden.back = 20

[[piece.opening]]
name = "basin"
kind = "undermount sink"
shape.rectangle = [700, 400]
corner_radius = 20
centre_line = 1325
setback = 90

[[piece.opening]]
name = "tap"
kind = "tap hole"
shape.circle = "1 3/8 in"
centre = [1325, 560]

[[piece.opening]]
name = "hot plate"
kind = "cooktop"
fixture.body.rectangle = [560, 430]
fixture.body.corner_radius = 12
fixture.rim.rectangle = [600, 470]
fixture.bearing = 9
fixture.clearance = "1/8 in"
fixture.accuracy = 1.5
centre_line = 450
setback = 90

[[piece]]
name = "corner"
outline.polygon = [[0,0],[2400,0],[2400,620],[620,620,30],[620,1900],[0,1900,40]]
grain = 45

[[piece]]
name = "table"
outline.ellipse = [1200, 800]
grain = "any"
"#;

const RACK: &str = r#"units = "cm"

[[slab]]
name = "BS-4/1"
material = "blue slate"
stone = "slate"
thickness = 2
lot = "BS-4"
number = 1
price = 410.5
outline.polygon = [[0,0],[305,4],[302,188,3],[3,190]]
grain = 0
from = { slab = "BS-4/0", jobs = ["Mill", "Weir"], at = [12.5, 0], date = "2026-11-26" }

[[slab.flaw]]
kind = "fissure"
line = [[40,30],[90,52]]
width = 0.2
allow = ["field", "drop"]

[slab.tests]
density = 2790
strength = [61, 58, 64.5, 60, 59]
source = "report 7"

[slab.photo]
file = "bs-4.jpg"
marks = [[110, 900], [1330, 905], [1290, 130], [160, 120], [711, 511]]
at = [[5, 6], [300, 8], ["2980 mm", 180], [8, 182], [151, 92]]

[[slab.flaw]]
kind = "pit"
spot = [100, 20]
diameter = "3 mm"

[[slab.flaw]]
kind = "stain"
area = [[50,100],[60,100],[55,110]]

[[slab]]
name = "BS-4/2"
material = "blue slate"
thickness = "20 mm"
price_per_m2 = 90
outline.circle = 180
grain = "none"
"#;

const SHOP: &str = r#"units = "mm"
[limits]
kerf = 4
gap = 6
trim = 20
flaw_gap = 10
min_rail = 50
rod_rail = 100
use_drops = false
keep_area = 0.5
keep_share = 0.5
[tools]
core_bits = [20, 25, "1 1/4 in"]
blades = [{ diameter = 350, kerf = 3.2 }, { diameter = "5 in", kerf = 2.4 }]
table_cut = 2
[rods]
diameters = [6, 5]
material = "stainless"
blade.diameter = 100
blade.kerf = 6
cover = 2
hardener = 0.02
[handling]
knocks_by_hand = 1.5
share = 23
reach = "16 in"
safety.slate = 7
[rates]
currency = "EUR"
slabs = "area"
area_step = 0.05
length_step = "1/4 in"
edges.polished = 38.5
openings."tap hole" = 22
without = ["delivery"]
tax_percent = 8.875
extra = [{ name = "stairs", rate = -12.5, per = "piece" }]
"#;

const PLAN: &str = r#"{ "format": "scantling-plan/1", "jobs": ["Mill, first floor"], "seed": 1,
  "limits": {"kerf": 4, "gap": 6, "trim": 20, "flaw_gap": 10, "min_rail": 50, "rod_rail": 100, "min_web": 100,
    "rail_zone": 100, "tap_zone": 25, "edge_zone": 25},
  "layouts": [
    { "slab": "BS-4/1",
      "placed": [ {"job": "Mill, first floor", "piece": "table", "turn": 180.0, "shift": [2710.0, 660.0],
          "outline": [[0,0],[1,0],[1,1]], "openings": [{"opening": "tap", "outline": [[0,0]]}]} ],
      "yield": {"slab_mm2": 0, "usable_mm2": 0, "pieces_mm2": 0, "openings_mm2": 0, "net": 0.0, "gross": 0.0},
      "offcuts": [ {"outline": [[0,0]], "rectangle": {"corner": [0,0], "size": [0,0], "turn": 0}} ] } ],
  "cost": 640.0, "cost_bound": 640.0, "proven": true, "findings": [] }
"#;

const TEXTS: [&str; 4] = [JOB, RACK, SHOP, PLAN];

/// What values are replaced by, and what is put between bytes.
const NONSENSE: [&str; 44] = [
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "-0.0",
    "1e-300",
    "1e300",
    "1e999",
    "1e6",
    "999999.9",
    "9223372036854775807",
    "99999999999999999999999",
    "0x7fffffffffffffff",
    "0.001",
    "\"\"",
    "\"x\"",
    "\"1/2 in\"",
    "\"-3 mm\"",
    "\"999999 m\"",
    "\"nan\"",
    "\"\\u0000\"",
    "'''a\nb'''",
    "[]",
    "[[]]",
    "[0, 0]",
    "[1e6, 1e6]",
    "[[0,0],[1,1],[0,1],[1,0]]",
    "[[0,0],[1e6,0],[0,1e6]]",
    "[[0,0],[1e-7,0],[0,1e-7]]",
    "[[0,0,1e6],[9,0,1e6],[9,9,1e6]]",
    "[[0,0],[1000,0,400],[1000,1000,400],[0,1000,400],[0,500],[0,250]]",
    "[[0,0],[1000,0],[1000,0.0000001],[1000,1000],[0,1000],[0,0]]",
    "[[0,0],[1000,0],[1000,1,0.5],[0,1]]",
    "{}",
    "{a = 1}",
    "true",
    "null",
    "2020-01-01",
    "[[[[[[[[[[",
    "#",
    "=",
    "\u{feff}",
    "\u{1F41A}",
];

/// One change of a text.
#[derive(Clone, Debug)]
enum Change {
    SetByte(usize, u8),
    Digit(usize, u8),
    Drop(usize, usize),
    Copy(usize, usize, usize),
    Insert(usize, usize),
    Value(usize, usize),
    DropLine(usize),
    DoubleLine(usize),
    SwapLines(usize, usize),
    SwapValues(usize, usize),
    Rename(usize, usize),
}

fn bytes() -> impl Strategy<Value = Change> {
    use proptest::prelude::*;
    let place = any::<u32>().prop_map(|n| n as usize);
    prop_oneof![
        1 => (place.clone(), any::<u8>()).prop_map(|(a, b)| Change::SetByte(a, b)),
        4 => (place.clone(), 0..13_u8).prop_map(|(a, b)| Change::Digit(a, b)),
        1 => (place.clone(), 1..40_usize).prop_map(|(a, n)| Change::Drop(a, n)),
        1 => (place.clone(), place.clone(), 1..60_usize).prop_map(|(a, b, n)| Change::Copy(a, b, n)),
        1 => (place, 0..NONSENSE.len()).prop_map(|(a, n)| Change::Insert(a, n)),
    ]
}

fn structure() -> impl Strategy<Value = Change> {
    use proptest::prelude::*;
    let place = any::<u32>().prop_map(|n| n as usize);
    prop_oneof![
        2 => (place.clone(), 0..13_u8).prop_map(|(a, b)| Change::Digit(a, b)),
        4 => (place.clone(), 0..NONSENSE.len()).prop_map(|(a, n)| Change::Value(a, n)),
        1 => place.clone().prop_map(Change::DropLine),
        1 => place.clone().prop_map(Change::DoubleLine),
        1 => (place.clone(), place.clone()).prop_map(|(a, b)| Change::SwapLines(a, b)),
        2 => (place.clone(), place.clone()).prop_map(|(a, b)| Change::SwapValues(a, b)),
        1 => (place.clone(), place).prop_map(|(a, b)| Change::Rename(a, b)),
    ]
}

/// Where values stand: what follows `=`, `:`, `[` or `,` up to the next mark of punctuation, or the whole rest of the line.
fn values(text: &str) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    for (i, _) in text.match_indices(['=', ':', '[', ',']) {
        let rest = &text[i + 1..];
        let line = rest.find('\n').unwrap_or(rest.len());
        let word = rest.find([',', ']', '}', '\n']).unwrap_or(rest.len());
        found.push(i + 1..i + 1 + line);
        found.push(i + 1..i + 1 + word);
    }
    found
}

fn change(text: &str, change: &Change) -> String {
    let mut bytes = text.as_bytes().to_vec();
    let lines = || text.split('\n').map(str::to_owned).collect::<Vec<_>>();
    let n = bytes.len().max(1);
    match *change {
        Change::SetByte(a, b) => {
            if let Some(byte) = bytes.get_mut(a % n) {
                *byte = b;
            }
        }
        Change::Digit(a, to) => {
            // A digit becomes another, a point, a minus or an e: most of these still parse, and reach the checks behind.
            let digits: Vec<usize> = (0..bytes.len()).filter(|&i| bytes[i].is_ascii_digit()).collect();
            if !digits.is_empty() {
                bytes[digits[a % digits.len()]] = b"0123456789.-e"[usize::from(to)];
            }
        }
        Change::Drop(a, len) => {
            let from = a % n;
            bytes.drain(from.min(bytes.len())..(from + len).min(bytes.len()));
        }
        Change::Copy(a, b, len) => {
            let from = (a % n).min(bytes.len());
            let part = bytes[from..(from + len).min(bytes.len())].to_vec();
            let at = (b % n).min(bytes.len());
            bytes.splice(at..at, part);
        }
        Change::Insert(a, what) => {
            let at = (a % n).min(bytes.len());
            bytes.splice(at..at, NONSENSE[what].bytes());
        }
        Change::Value(a, what) => {
            let all = values(text);
            if !all.is_empty() {
                return replaced(text, &[(all[a % all.len()].clone(), NONSENSE[what])]);
            }
        }
        Change::DropLine(a) => {
            let mut l = lines();
            let at = a % l.len();
            l.remove(at);
            return l.join("\n");
        }
        Change::DoubleLine(a) => {
            let mut l = lines();
            let at = a % l.len();
            l.insert(at, l[at].clone());
            return l.join("\n");
        }
        Change::SwapLines(a, b) => {
            let mut l = lines();
            let (a, b) = (a % l.len(), b % l.len());
            l.swap(a, b);
            return l.join("\n");
        }
        Change::SwapValues(a, b) => {
            let all = values(text);
            if !all.is_empty() {
                let (from, to) = (all[a % all.len()].clone(), all[b % all.len()].clone());
                let value = text[from].to_owned();
                return replaced(text, &[(to, &value)]);
            }
        }
        Change::Rename(a, b) => {
            let all: Vec<_> = text.match_indices(['=', ':']).map(|(i, _)| i).collect();
            if !all.is_empty() {
                let at = all[a % all.len()];
                let other = all[b % all.len()];
                let key = |i: usize| text[..i].rfind(['\n', ',', '{']).map_or(0, |k| k + 1)..i;
                let name = text[key(other)].to_owned();
                return replaced(text, &[(key(at), &name)]);
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn replaced(text: &str, parts: &[(std::ops::Range<usize>, &str)]) -> String {
    let mut out = text.to_owned();
    for (range, by) in parts {
        out.replace_range(range.clone(), by);
    }
    out
}

fn cases() -> u32 {
    std::env::var("SCANTLING_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(2000)
}

/// Every ring that was accepted is one, and every size is a number.
fn sound(input: &io::Input) {
    let is_ring = |r: &Ring| {
        let (tidy, mended) = Ring::tidy(r.points()).unwrap_or_else(|e| panic!("an accepted outline is no ring: {e:?}"));
        assert!(!mended.reversed && tidy.area() > 0.0);
    };
    for (_, job, piece) in input.question.pieces() {
        assert!(job.thickness > 0.0 && !job.name.is_empty() && !piece.name.is_empty());
        is_ring(&piece.outline.ring);
        assert_eq!(piece.outline.sources.len(), piece.outline.ring.points().len());
        for i in 0..piece.outline.ring.points().len() {
            let _ = piece.outline.is_finished(i);
        }
        let corner = piece.outline.shape.extent().min;
        assert!(corner.norm() < 1e-6, "the piece lies at the origin");
        for opening in &piece.openings {
            is_ring(&opening.ring);
            assert!(opening.ring.area() < piece.outline.ring.area());
        }
    }
    for slab in &input.question.rack {
        is_ring(&slab.outline);
        assert!(slab.price.is_finite() && slab.price >= 0.0 && slab.thickness > 0.0);
        assert!(slab.flaws.iter().all(|f| f.radius.is_finite() && f.radius >= 0.0));
    }
    let l = &input.question.shop.limits;
    assert!(l.gap >= l.kerf && l.kerf >= 0.0 && l.keep_share <= 1.0);
}

/// Reads a changed text in place of the one it came from.
/// Any plan that can be read can be judged, told and drawn, whatever stands in it; none of these plans is good, for they
/// place one piece of four.
fn judged_and_told(plan: &Plan) {
    static QUESTION: LazyLock<Question> = LazyLock::new(|| {
        let t = |i: usize, name: &str| (name.to_owned(), TEXTS[i].to_owned());
        let input = io::read_question_from_texts(&[t(0, "job.toml")], t(1, "rack.toml"), Some(t(2, "shop.toml")));
        input.expect("the texts are good").question
    });
    let findings = check::judge(&QUESTION, plan);
    assert!(findings.iter().any(|f| f.grade == Grade::Broken));
    assert!(!report::findings(&findings).is_empty());
    let plan = Plan { findings, ..plan.clone() };
    assert!(!report::summary(&QUESTION, &plan, Shown::Mm).is_empty());
    // One past the last is an input, too.
    for layout in 0..=plan.layouts.len() {
        let svg = report::layout_svg(&QUESTION, &plan, layout, &report::Settings::default());
        if let Err(e) = roxmltree::Document::parse(&svg) {
            panic!("{e} in {svg}");
        }
    }
}

fn read(which: usize, text: &str) -> bool {
    let t = |i: usize, name: &str| (name.to_owned(), if i == which { text.to_owned() } else { TEXTS[i].to_owned() });
    if which == 3 {
        return match io::parse_plan("plan.json", text) {
            Ok(plan) => {
                assert!(plan.layouts.iter().all(|l| l.placed.iter().all(|p| p.turn.is_finite())));
                judged_and_told(&plan);
                true
            }
            Err(remarks) => {
                assert!(remarks.has_errors() && !remarks.to_string().is_empty());
                false
            }
        };
    }
    match io::read_question_from_texts(&[t(0, "job.toml")], t(1, "rack.toml"), Some(t(2, "shop.toml"))) {
        Ok(input) => {
            assert!(!input.remarks.has_errors());
            sound(&input);
            true
        }
        Err(remarks) => {
            assert!(remarks.has_errors() && !remarks.to_string().is_empty());
            false
        }
    }
}

fn run(kind: &str, changes: impl Strategy<Value = Change>) {
    let config = ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(config, rng);
    let accepted = std::cell::Cell::new(0_u32);
    let slowest = std::cell::Cell::new(Duration::ZERO);
    let result = runner.run(&(0..TEXTS.len(), prop::collection::vec(changes, 1..5)), |(which, changes)| {
        let text = changes.iter().fold(TEXTS[which].to_owned(), |t, c| change(&t, c));
        let start = SystemTime::now();
        let outcome = catch_unwind(AssertUnwindSafe(|| read(which, &text)));
        let took = start.elapsed().unwrap_or_default();
        slowest.set(slowest.get().max(took));
        match outcome {
            Err(_) => Err(TestCaseError::fail(format!("a panic on:\n{text}"))),
            Ok(_) if took > LONGEST => Err(TestCaseError::fail(format!("{took:?} for:\n{text}"))),
            Ok(ok) => {
                accepted.set(accepted.get() + u32::from(ok));
                Ok(())
            }
        }
    });
    match result {
        Ok(()) => {}
        Err(TestError::Fail(why, (which, changes))) => panic!("{why}\nfrom text {which} by {changes:?}"),
        Err(TestError::Abort(why)) => panic!("{why}"),
    }
    println!("{kind}: {} cases, {} accepted, slowest {:?}", cases(), accepted.get(), slowest.get());
    // A mutation that always breaks the file, or never does, tests nothing.
    assert!(accepted.get() > cases() / 50 && accepted.get() < cases() / 10 * 9, "{} accepted", accepted.get());
}

#[test]
fn changed_bytes_never_break_the_readers() {
    run("bytes", bytes());
}

#[test]
fn changed_structure_never_breaks_the_readers() {
    run("structure", structure());
}

#[test]
fn the_texts_are_good_before_they_are_changed() {
    for (which, text) in TEXTS.iter().enumerate() {
        assert!(read(which, text), "text {which}");
    }
}

/// Texts that are large in one way each. The bound is on the sum of what reading them takes.
#[test]
fn large_texts_take_bounded_time() {
    let circle = |n: usize, r: f64| {
        let corner = |i: usize| {
            let a = i as f64 / n as f64 * std::f64::consts::TAU;
            format!("[{:.5},{:.5}]", r * a.cos(), r * a.sin())
        };
        format!("[{}]", (0..n).map(corner).collect::<Vec<_>>().join(","))
    };
    let comb = |n: usize| {
        // Long sides that overlap in x: the worst for a sweep along x.
        let tooth = |i: usize| format!("[{},{}]", if i % 4 < 2 { 0 } else { 5000 }, i / 2 * 4 + i % 2);
        format!("[[-50,0],{},[-50,{}]]", (0..n).map(tooth).collect::<Vec<_>>().join(","), 2 * n)
    };
    let head = "name='a'\nmaterial='blue slate'\nthickness=20\n";
    let piece = |polygon: &str| format!("[[piece]]\nname='p'\noutline.polygon={polygon}\n");
    let big = circle(9_900, 1400.0);
    let hole = circle(9_900, 1390.0);
    let opening = format!("[[piece.opening]]\nname='o'\nkind='other'\nshape.polygon={hole}\ncentre=[1400,1400]\n");
    let many: String = (0..200)
        .map(|i| format!("[[piece.opening]]\nname='o{i}'\nkind='other'\nshape.circle=2000\ncentre=[1400,1400]\n"))
        .collect();
    let slabs: String = (0..5000)
        .map(|i| {
            format!("[[slab]]\nname='{i}'\nmaterial='blue slate'\nthickness=20\nprice=1\noutline.rectangle=[900,900]\n")
        })
        .collect();
    let flaws: String = (0..300).map(|i| format!("[[slab.flaw]]\nkind='pit'\nspot=[{i},5]\ndiameter=2\n")).collect();
    let texts = [
        (0, format!("{head}{}{opening}", piece(&big))),
        (0, format!("{head}{}", piece(&comb(9_900)))),
        (0, format!("{head}{}{many}", piece(&big))),
        (0, format!("{head}{}count=1000\n", piece(&big))),
        (0, format!("{head}{}", "[[piece]]\nname='p'\noutline.rectangle=[900,200]\n".repeat(5000))),
        (1, slabs),
        (
            1,
            format!("[[slab]]\nname='s'\nmaterial='blue slate'\nthickness=20\nprice=1\noutline.polygon={big}\n{flaws}"),
        ),
        (1, "=".repeat(3_000_000)),
        (1, "\"\n".repeat(900_000)),
        (0, format!("a = {}", "[".repeat(3_000_000))),
        (0, "x=1 ".repeat(200_000)),
        (0, format!("name = \"{}\"\n{}", "é".repeat(2_000_000), "k='v'\n")),
        (2, format!("limits = {{{}}}", (0..50_000).map(|i| format!("k{i}=1")).collect::<Vec<_>>().join(","))),
        (3, "[".repeat(3_000_000)),
        (3, format!("{{\"jobs\": [{}]}}", "\"x\",".repeat(500_000))),
    ];
    for (i, (which, text)) in texts.iter().enumerate() {
        let start = SystemTime::now();
        let accepted = read(*which, text);
        let took = start.elapsed().unwrap_or_default();
        assert_eq!(accepted, [0, 1, 5, 6].contains(&i), "text {i}");
        println!("text {i} of {} bytes: {took:?}, {}", text.len(), if accepted { "accepted" } else { "refused" });
        assert!(took < LONGEST, "text {i}: {took:?}");
    }
}
