//! Fixtures in job files, and plans that are made from them.

use std::fs;
use std::process::Command;

use scantling::diag::{Kind, Remarks, Severity};
use scantling::io::{self, Input, read_question_from_texts};
use scantling::model::Fixture;

use super::{EXACT, inside, polygon};

const RACK: &str = "[[slab]]\nname = \"SL-3\"\nmaterial = \"green slate\"\nstone = \"slate\"\nthickness = 30\nprice = 500\n\
    outline.rectangle = [2800, 1500]\ngrain = \"none\"\n";

const BASIN: &str = "name = \"hand basin\"\nkind = \"drop-in sink\"\nfixture.rim.rectangle = [432, 356]\n\
    fixture.rim.corner_radius = 38\nfixture.body.rectangle = [396, 320]\nfixture.body.corner_radius = 25\n\
    fixture.bearing = 10\nfixture.clearance = 3\nfixture.accuracy = 1.5\ncentre_line = 900\nsetback = 110\n";

/// A job of one piece of 1800 by 620 mm; each text holds the lines of an opening. The first of them starts on line 9.
fn job(openings: &[&str]) -> String {
    let head = "name = \"School kitchen\"\nrack = \"rack.toml\"\nmaterial = \"green slate\"\nthickness = 30\n\
        [[piece]]\nname = \"wash bench\"\noutline.rectangle = [1800, 620]\n";
    openings.iter().fold(head.to_owned(), |text, o| format!("{text}[[piece.opening]]\n{o}"))
}

fn read(openings: &[&str], shop: Option<&str>) -> Result<Input, Remarks> {
    let text = |name: &str, body: &str| (name.to_owned(), body.to_owned());
    let shop = shop.map(|s| text("shop.toml", s));
    read_question_from_texts(&[text("job.toml", &job(openings))], text("rack.toml", RACK), shop)
}

#[track_caller]
fn good(openings: &[&str]) -> Input {
    read(openings, None).unwrap_or_else(|e| panic!("{e}"))
}

/// Asserts that there is exactly one remark, of that kind and severity, about that key, whose words hold all of these.
#[track_caller]
fn one(openings: &[&str], shop: Option<&str>, severity: Severity, kind: Kind, key: &str, words: &[&str]) {
    let remarks = match read(openings, shop) {
        Ok(input) => input.remarks,
        Err(remarks) => remarks,
    };
    let [r] = &remarks.0[..] else { panic!("one remark\n{remarks}") };
    assert_eq!((r.severity, r.what, r.key.as_str()), (severity, kind, key), "\n{r}");
    let said = r.to_string();
    words.iter().for_each(|w| assert!(said.contains(w), "{w:?} is not said:\n{said}"));
}

#[track_caller]
fn refused(opening: &str, kind: Kind, key: &str, words: &[&str]) {
    one(&[opening], None, Severity::Error, kind, &format!("piece[0].opening[0].{key}"), words);
}

#[test]
fn the_hole_stands_where_the_file_says_and_the_fixture_round_it() {
    let input = good(&[BASIN]);
    assert!(input.remarks.is_empty(), "{}", input.remarks);
    let opening = &input.question.jobs[0].pieces[0].openings[0];
    let b = opening.shape.extent();
    assert!((b.centre().x - 900.0).abs() < 1e-9 && (b.min.y - 110.0).abs() < 1e-9, "{b:?}");
    assert!((b.width() - 405.0).abs() < EXACT && (b.height() - 329.0).abs() < EXACT, "{b:?}");
    let origin = opening.origin.as_ref().expect("an origin");
    let Fixture::DropIn { rim, body, bearing, clearance, accuracy } = &origin.fixture else { panic!("{origin:?}") };
    assert_eq!((*bearing, *clearance, *accuracy), (10.0, 3.0, 1.5));
    // In the piece frame, the hole lies between body and rim.
    let hole = polygon(&opening.shape);
    assert!((inside(&polygon(&body.shape), &hole).expect("clear") - 4.5).abs() < EXACT);
    assert!((inside(&hole, &polygon(&rim.shape)).expect("borne") - 13.5).abs() < EXACT);
    assert!((origin.spare.least_bearing.expect("a rim") - 12.0).abs() < EXACT, "{origin:?}");
    assert!(origin.notes.len() >= 3, "{origin:?}");
}

#[test]
fn kinds_have_their_own_outlines_and_defaults() {
    let sink = "name='s'\nkind='undermount sink'\nfixture.bowl.rectangle=[500,400]\nfixture.bowl.corner_radius=60\ncentre=[900,300]\n";
    let input = good(&[sink]);
    let [note] = &input.remarks.0[..] else { panic!("{}", input.remarks) };
    assert_eq!((note.severity, note.what), (Severity::Note, Kind::Assumed));
    assert!(note.fix.contains("accuracy 1.5 mm, overhang 3 mm"), "{note}");
    let size = input.question.jobs[0].pieces[0].openings[0].shape.extent();
    assert!((size.width() - 494.0).abs() < EXACT, "{size:?}");
    let top = "name='c'\nkind='cooktop'\nfixture.body.rectangle=[560,490]\nfixture.clearance='1/4 in'\nfixture.accuracy=1\ncentre=[900,300]\n";
    let size = good(&[top]).question.jobs[0].pieces[0].openings[0].shape.extent();
    // 6.35 + 1, and the sides go out for the smallest bit: (10 - 7.35)(1 - cos 45°).
    assert!((size.width() - (560.0 + 2.0 * (7.35 + 2.65 * (1.0 - 0.5f64.sqrt())))).abs() < EXACT, "{size:?}");
    let with_rim = format!("{top}fixture.rim.rectangle=[590,520]\nfixture.bearing=5\n");
    let warned = good(&[&with_rim]);
    let [r] = &warned.remarks.0[..] else { panic!("{}", warned.remarks) };
    assert_eq!((r.severity, r.what), (Severity::Warning, Kind::OutOfRange));
    assert!(matches!(
        warned.question.jobs[0].pieces[0].openings[0].origin.as_ref().map(|o| &o.fixture),
        Some(Fixture::DropIn { .. })
    ));
}

/// A rounded rectangle of 420 by 340 mm, radius 60, walked by hand: 40 points, each off by a few tenths of a millimetre.
fn trace(skip: usize, moved: Option<(usize, f64)>) -> String {
    let mut seed = 7u32;
    let mut noise = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(seed >> 16) / 65_536.0 - 0.5) * 0.9
    };
    let shape = scantling::model::Shape::rectangle(420.0, 340.0, 60.0);
    let line = super::points(&shape);
    let around: f64 = (0..line.len())
        .map(|k| (line[k].0 - line[(k + 1) % line.len()].0).hypot(line[k].1 - line[(k + 1) % line.len()].1))
        .sum();
    let mut points = Vec::new();
    let (mut walked, mut next) = (0.0, 0.0);
    for k in 0..line.len() {
        let (p, q) = (line[k], line[(k + 1) % line.len()]);
        let step = (q.0 - p.0).hypot(q.1 - p.1);
        while walked + step >= next && points.len() < 40 {
            let t = (next - walked) / step.max(1e-9);
            points.push((p.0 + (q.0 - p.0) * t + noise(), p.1 + (q.1 - p.1) * t + noise()));
            next += around / 40.0;
        }
        walked += step;
    }
    if let Some((i, by)) = moved {
        points[i].1 += by;
    }
    let list: Vec<String> = points.iter().take(40 - skip).map(|p| format!("[{:.1}, {:.1}]", p.0, p.1)).collect();
    format!("[{}]", list.join(", "))
}

#[test]
fn forty_noisy_points_make_a_basin() {
    let basin = |trace: &str| {
        format!(
            "name='b'\nkind='drop-in sink'\nfixture.rim.rectangle=[460,380]\nfixture.rim.corner_radius=70\nfixture.body.trace={trace}\n\
             fixture.bearing=8\nfixture.clearance=3\nfixture.accuracy=1.5\ncentre=[900,300]\n"
        )
    };
    let input = good(&[&basin(&trace(0, None))]);
    let opening = &input.question.jobs[0].pieces[0].openings[0];
    let size = opening.shape.extent();
    assert!((size.width() - 429.0).abs() < 1.0 && (size.height() - 349.0).abs() < 1.0, "{size:?}");
    let notes = &opening.origin.as_ref().expect("an origin").notes;
    assert!(
        notes[0].starts_with("Body: 40 traced points, followed by 4 sides and 4 arcs; the worst of them is 0."),
        "{notes:?}"
    );
    let key = "fixture.body.trace";
    refused(&basin(&trace(8, None)), Kind::TraceOpen, key, &["mm from the last point", "widest spacing elsewhere"]);
    refused(&basin(&trace(32, None)), Kind::TooFewCorners, key, &["8 distinct points", "12 or more"]);
    refused(
        &basin(&trace(0, Some((4, 12.0)))),
        Kind::TraceScattered,
        "fixture.body.trace[4]",
        &["point 5 at", "3 mm at most"],
    );
    refused(
        &basin(&trace(0, Some((4, 400.0)))),
        Kind::SelfCrossing,
        "fixture.body.trace[29]",
        &["cross at", "put the points in order"],
    );
    let radius = format!("{}fixture.body.corner_radius=20\n", basin(&trace(0, None)));
    refused(&radius, Kind::Conflict, "fixture.body.corner_radius", &["found from the points"]);
    // Points that scatter more than they should are told, and used.
    one(
        &[&basin(&trace(0, Some((4, 2.4))))],
        None,
        Severity::Warning,
        Kind::TraceScattered,
        "piece[0].opening[0].fixture.body.trace",
        &["1 mm at most"],
    );
}

#[test]
fn fixtures_that_make_no_hole_say_where_and_what_is_needed() {
    let with = |from: &str, to: &str| BASIN.replace(from, to);
    refused(
        &with("body.rectangle = [396, 320]", "body.rectangle = [450, 320]"),
        Kind::NoCutOut,
        "fixture",
        &[
            "a body that sticks out of its rim by 9 mm on the ",
            "16 mm or more everywhere: 10 bearing, 3 clearance, and 1.5 accuracy",
        ],
    );
    refused(
        &with("body.rectangle = [396, 320]", "body.rectangle = [396, 330]"),
        Kind::NoCutOut,
        "fixture",
        &["a rim that reaches 13 mm beyond the body at the "],
    );
    refused(
        &with("body.corner_radius = 25", "body.corner_radius = 161"),
        Kind::RoundingMisfit,
        "fixture.body.corner_radius",
        &["rounded by 161 mm", "at most 160 mm"],
    );
    let sharp = with("body.corner_radius = 25", "body.corner_radius = 0")
        .replace("[432, 356]", "[429, 353]")
        .replace("rim.corner_radius = 38", "rim.corner_radius = 0");
    refused(
        &sharp,
        Kind::NoCutOut,
        "fixture",
        &["smallest core bit, 20 mm", "10 mm of bearing", "a core bit of 9 mm or less does"],
    );
    let bowl =
        "name='s'\nkind='undermount sink'\nfixture.bowl.rectangle=[500,400]\nfixture.accuracy=1\ncentre=[900,300]\n";
    let r = read(&[&format!("{bowl}fixture.overhang=200\n")], None).expect_err("no hole");
    assert!(
        r.iter().any(|r| r.what == Kind::NoCutOut && r.given.contains("200 mm into a bowl that is 400 mm wide")),
        "{r}"
    );
    one(
        &[&format!("{bowl}fixture.overhang=-12\n")],
        None,
        Severity::Warning,
        Kind::OutOfRange,
        "piece[0].opening[0].fixture.overhang",
        &["the bowl's rim shows by 12 mm"],
    );
    // A shop without bits is told twice: where they are listed, and where they are missed.
    let r = read(&[BASIN], Some("[tools]\ncore_bits = []\n")).expect("a hole").remarks;
    let found: Vec<_> = r.iter().map(|r| (r.severity, r.what, r.key.as_str())).collect();
    let fixture = (Severity::Warning, Kind::Assumed, "piece[0].opening[0].fixture");
    assert_eq!(found, [fixture, (Severity::Warning, Kind::Assumed, "tools.core_bits")], "{r}");
}

#[test]
fn keys_that_do_not_go_together_are_refused() {
    refused(&format!("{BASIN}shape.circle = 300\n"), Kind::Conflict, "fixture", &["\"shape\" and \"fixture\""]);
    refused("name='o'\nkind='cooktop'\ncentre=[500,300]\n", Kind::MissingKey, "shape", &["\"fixture\""]);
    refused(&format!("{BASIN}corner_radius = 20\n"), Kind::Conflict, "corner_radius", &["fixture.body.corner_radius"]);
    refused(
        &BASIN.replace("drop-in sink", "tap hole"),
        Kind::Conflict,
        "fixture",
        &["of kind \"tap hole\"", "\"cooktop\""],
    );
    refused(
        &format!("{BASIN}fixture.overhang = 3\n"),
        Kind::Conflict,
        "fixture.overhang",
        &["a \"drop-in sink\" does not have"],
    );
    let no_rim = BASIN.lines().filter(|l| !l.contains(".rim.")).collect::<Vec<_>>().join("\n");
    refused(&no_rim, Kind::MissingKey, "fixture.rim", &["what rests on the stone"]);
    let top = no_rim.replace("drop-in sink", "cooktop");
    refused(&top, Kind::Conflict, "fixture.bearing", &["a bearing without a rim"]);
    let both = format!("{BASIN}fixture.body.circle = 300\n");
    refused(&both, Kind::Conflict, "fixture.body.circle", &["\"rectangle\" and \"circle\""]);
    refused(&format!("{BASIN}fixture.bering = 3\n"), Kind::UnknownKey, "fixture.bering", &["\"bearing\""]);
    refused(&BASIN.replace("bearing = 10", "bearing = -1"), Kind::Negative, "fixture.bearing", &["0 or more"]);
}

#[test]
fn rims_lie_on_stone_and_beside_one_another() {
    // The hole starts 8 mm from the front edge, so the rim hangs over it by 5.5 mm.
    let over = BASIN.replace("setback = 110", "setback = 8");
    refused(&over, Kind::RimOutside, "centre_line", &["reaches 5.5 mm beyond the piece's edge"]);
    let second = BASIN.replace("hand basin", "second").replace("centre_line = 900", "centre_line = 1320");
    one(
        &[BASIN, &second],
        None,
        Severity::Error,
        Kind::RimsOverlap,
        "piece[0].opening[1].centre_line",
        &["\"second\" and \"hand basin\"", "overlap by 12 mm"],
    );
    let tap = "name='tap'\nkind='tap hole'\nshape.circle=35\ncentre=[900,465]\n";
    one(
        &[BASIN, tap],
        None,
        Severity::Warning,
        Kind::RimsOverlap,
        "piece[0].opening[1].centre",
        &["the rim of \"hand basin\" reaches 5 mm over \"tap\""],
    );
}

#[test]
fn a_plan_cuts_the_hole_that_was_worked_out() {
    let dir = tempfile::tempdir().expect("a folder");
    fs::write(dir.path().join("job.toml"), job(&[BASIN])).expect("written");
    fs::write(dir.path().join("rack.toml"), RACK).expect("written");
    let run = |args: &[&str]| {
        let output =
            Command::new(env!("CARGO_BIN_EXE_scantling")).current_dir(dir.path()).args(args).output().expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned() + &String::from_utf8_lossy(&output.stdout);
        assert!(output.status.success(), "{args:?}: {said}");
    };
    run(&["plan", "job.toml", "--out", "out", "--effort", "2", "--quiet"]);
    run(&["check", "job.toml", "--plan", "out/plan.json"]);
    let plan = io::read_plan(&dir.path().join("out/plan.json")).unwrap_or_else(|e| panic!("{e}"));
    let layout = &plan.layouts[0];
    let outline = &layout.placed[0].openings[0].outline;
    let hole = geo::Polygon::new(outline.iter().map(|p| (p[0], p[1])).collect(), vec![]);
    let area = geo::Area::unsigned_area(&hole);
    // 405 by 329 less four corners of 25.5 mm.
    let true_area = 405.0 * 329.0 - (4.0 - std::f64::consts::PI) * 25.5 * 25.5;
    assert!(area >= true_area - 0.1 && area <= true_area + 0.05 * 2.0 * (405.0 + 329.0), "{area} {true_area}");
    assert!((layout.yields.openings_mm2 - area).abs() < 1.0, "{} {area}", layout.yields.openings_mm2);
}
