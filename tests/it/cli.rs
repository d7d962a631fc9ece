//! The real program, run as a user runs it: files in, files and exit codes out.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::{LazyLock, OnceLock};
use std::time::{Duration, SystemTime};

use scantling::geom::{Point, Ring};
use scantling::io;
use scantling::model::{FlawKind, Plan, Question};
use serde_json::Value;
use tempfile::TempDir;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// What a run left behind.
pub(super) struct Run {
    pub(super) code: i32,
    pub(super) out: String,
    pub(super) err: String,
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().expect("the program ended by itself"),
            out: String::from_utf8(output.stdout).expect("UTF-8"),
            err: String::from_utf8(output.stderr).expect("UTF-8"),
        }
    }
}

impl Run {
    /// Itself, after its exit code was compared; a failure shows what the program said.
    #[track_caller]
    pub(super) fn ends_with(self, code: i32) -> Self {
        assert_eq!(self.code, code, "\n-- out\n{}\n-- err\n{}", self.out, self.err);
        self
    }
}

fn command(dir: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_scantling"));
    command.current_dir(dir).args(args);
    command
}

/// Runs the program in a folder.
pub(super) fn run(dir: &Path, args: &[&str]) -> Run {
    command(dir, args).output().expect("the program starts").into()
}

/// Five benches of which two go on a slab: three slabs are needed. The plan is found and proven at once.
const SMOKEHOUSE: &str = r#"name = "Smokehouse"
rack = "rack.toml"
material = "Fell slate"
thickness = 30

[[piece]]
name = "bench"
count = 5
outline.rectangle = [900, 620]
edges = ["polished", "raw", "raw", "raw"]
"#;

/// Five round tables of which four go on a slab, and no argument about rectangles or areas says so: the search goes on until
/// it is told to stop.
const TAPROOM: &str = r#"name = "Taproom"
rack = "rack.toml"
material = "Fell slate"
thickness = 30

[[piece]]
name = "table"
count = 5
outline.circle = 560
"#;

/// A job in inches, for the same rack.
const FERRY: &str = r#"name = "Ferry office"
units = "in"
rack = "rack.toml"
material = "Fell slate"
thickness = "1 3/16 in"

[[piece]]
name = "ticket counter"
outline.rectangle = ["4 ft 2 1/2 in", 25.5]

[[piece.opening]]
name = "outlet"
kind = "outlet"
shape.circle = "3 1/8 in"
centre = ["10 1/4 in", 12]
"#;

fn slab(name: &str, price: u32) -> String {
    format!(
        "[[slab]]\nname = \"{name}\"\nmaterial = \"Fell slate\"\nstone = \"slate\"\nthickness = 30\nprice = {price}\n\
         outline.rectangle = [2000, 1000]\ngrain = 0\n\n"
    )
}

fn rack() -> String {
    [("FS 1", 101), ("FS 2", 102), ("FS 3", 103), ("FS 4", 104)].map(|(n, p)| slab(n, p)).concat()
}

/// A folder with the small jobs and their rack.
fn workplace() -> TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, text) in [("job.toml", SMOKEHOUSE), ("ferry.toml", FERRY), ("rack.toml", &rack())] {
        fs::write(dir.path().join(name), text).expect("written");
    }
    dir
}

fn write(dir: &Path, name: &str, text: &str) {
    fs::write(dir.join(name), text).expect("written");
}

/// All files of a folder, by name.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(dir).expect("a folder");
    entries
        .map(|e| e.expect("an entry").path())
        .map(|p| (p.file_name().expect("a name").to_string_lossy().into_owned(), fs::read(&p).expect("a file")))
        .collect()
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).expect("a file")).expect("JSON")
}

fn plan_of(path: &Path) -> Plan {
    io::read_plan(path).unwrap_or_else(|e| panic!("{e}"))
}

/// The names of all pieces of the plan that have a place, sorted.
fn placed(plan: &Plan) -> Vec<String> {
    let mut names: Vec<String> = plan.layouts.iter().flat_map(|l| &l.placed).map(|p| p.piece.clone()).collect();
    names.sort();
    names
}

/// Exactly the files of a plan, whole, and nothing else: no file that was written beside.
#[track_caller]
fn assert_results(out: &Path, plan: &Plan) {
    let (pictures, names): (Vec<String>, Vec<String>) = files(out).into_keys().partition(|n| n.starts_with("piece-"));
    assert_eq!(names.len(), 3 + plan.layouts.len(), "{names:?}");
    // The one slab of the demos that has a photograph.
    let seen: usize = plan.layouts.iter().filter(|l| l.slab == "HV-11/3").map(|l| l.placed.len()).sum();
    assert_eq!(pictures.len(), seen, "{pictures:?}");
    assert_eq!(names[..3], ["plan.json", "report.html", "report.txt"]);
    for (i, name) in names[3..].iter().enumerate() {
        assert!(name.starts_with(&format!("slab-{:02}-", i + 1)) && name.ends_with(".svg"), "{names:?}");
        let svg = fs::read_to_string(out.join(name)).expect("a drawing");
        let svg = roxmltree::Document::parse(&svg).expect("well-formed");
        assert!(svg.descendants().any(|n| n.text().is_some_and(|t| t.contains(&plan.layouts[i].slab))), "{name}");
    }
}

// The demos. They take some seconds each, so each is planned once.

const DEMOS: [&str; 3] = ["weir-mill", "gannet-inn", "saltpan-baths"];

fn demo_job(name: &str) -> PathBuf {
    Path::new(ROOT).join("demo-slabs").join(name).join("job.toml")
}

fn question(job: &Path) -> Question {
    let paths = io::Paths { jobs: vec![job.to_owned()], ..Default::default() };
    io::load(&paths).unwrap_or_else(|e| panic!("{e}")).question
}

/// The folder with the plan of a demo, and what its run said.
fn demo(which: usize) -> &'static (PathBuf, Run) {
    static PLANS: [OnceLock<(PathBuf, Run)>; 3] = [const { OnceLock::new() }; 3];
    PLANS[which].get_or_init(|| {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("plan-{}", DEMOS[which]));
        // What an earlier test run left here must not be taken for this one's.
        if out.exists() {
            fs::remove_dir_all(&out).expect("removed");
        }
        let job = demo_job(DEMOS[which]);
        let args = ["plan", &job.to_string_lossy(), "--effort", "2", "--threads", "2", "--out", &out.to_string_lossy()];
        let run = run(Path::new(ROOT), &args);
        (out, run)
    })
}

fn demo_is_planned_and_holds(which: usize) {
    let (out, run_of_plan) = demo(which);
    assert_eq!(run_of_plan.code, 0, "\n{}\n{}", run_of_plan.out, run_of_plan.err);
    let job = demo_job(DEMOS[which]);
    let plan = plan_of(&out.join("plan.json"));
    let mut wanted: Vec<String> = question(&job).pieces().map(|(_, _, p)| p.name.clone()).collect();
    wanted.sort();
    assert_eq!(placed(&plan), wanted);
    assert!(plan.unplaced.is_empty());
    assert_results(out, &plan);
    let text = fs::read_to_string(out.join("report.txt")).expect("a report");
    assert!(run_of_plan.out.starts_with(&text), "the summary on the screen is the report");
    let path = out.join("plan.json");
    run(Path::new(ROOT), &["check", &job.to_string_lossy(), "--plan", &path.to_string_lossy()]).ends_with(0);
}

#[test]
fn weir_mill_is_planned_and_holds() {
    demo_is_planned_and_holds(0);
}

#[test]
fn gannet_inn_is_planned_and_holds() {
    demo_is_planned_and_holds(1);
}

#[test]
fn saltpan_baths_is_planned_and_holds() {
    demo_is_planned_and_holds(2);
}

/// The plan of the shared run was made by two threads.
#[test]
fn a_demo_has_the_same_bytes_on_one_thread() {
    let (out, _) = demo(1);
    let dir = tempfile::tempdir().expect("a folder");
    let job = demo_job(DEMOS[1]);
    let args = ["plan", &job.to_string_lossy(), "--effort", "2", "--threads", "1", "--quiet", "--out", "o"];
    run(dir.path(), &args).ends_with(0);
    assert_eq!(files(&dir.path().join("o")), files(out));
}

#[test]
fn threads_change_no_byte_and_the_seed_is_written_down() {
    let dir = workplace();
    let plan = |threads: &str, seed: &str, out: &str| {
        let args = [
            "plan",
            "job.toml",
            "--effort",
            "3",
            "--threads",
            threads,
            "--seed",
            seed,
            "--out",
            out,
            "--format",
            "json",
        ];
        let run = run(dir.path(), &args).ends_with(0);
        (run.out, files(&dir.path().join(out)))
    };
    let one = plan("1", "7", "o1");
    assert_eq!(one, plan("2", "7", "o2"));
    assert_eq!(one, plan("3", "7", "o3"));
    let other = plan("2", "8", "o4");
    let read = |text: &str| serde_json::from_str::<Value>(text).expect("JSON");
    assert_eq!((&read(&one.0)["seed"], &read(&other.0)["seed"]), (&7.into(), &8.into()));
    assert_eq!(read(&one.0)["effort"], 3);
}

#[test]
fn json_on_standard_output_is_the_plan_as_written() {
    let dir = workplace();
    let run = run(dir.path(), &["plan", "job.toml", "--effort", "1", "--format", "json", "--out", "o"]).ends_with(0);
    assert_eq!(run.out.as_bytes(), files(&dir.path().join("o"))["plan.json"]);
    let plan = io::parse_plan("stdout", &run.out).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(placed(&plan), ["bench #1", "bench #2", "bench #3", "bench #4", "bench #5"]);
}

#[test]
fn quiet_says_nothing_on_standard_error() {
    let dir = workplace();
    // A note about the slab without a class is one of the things that must be left out.
    write(dir.path(), "rack.toml", &rack().replace("stone = \"slate\"\n", ""));
    let args = ["plan", "job.toml", "--effort", "1", "--out", "o"];
    assert!(!run(dir.path(), &args).ends_with(0).err.is_empty());
    let quiet = run(dir.path(), &[&args[..], &["--quiet"]].concat()).ends_with(0);
    assert_eq!(quiet.err, "");
    assert!(quiet.out.contains("5 of 5"), "{}", quiet.out);
    let check = run(dir.path(), &["check", "job.toml", "--plan", "o/plan.json", "--quiet"]).ends_with(0);
    assert_eq!(check.err, "");
}

#[test]
fn the_default_folder_stands_beside_the_job() {
    let dir = workplace();
    let above = dir.path().parent().expect("a folder above");
    run(above, &["plan", &dir.path().join("ferry.toml").to_string_lossy(), "--effort", "1"]).ends_with(0);
    let out = dir.path().join("plan-ferry-office");
    assert_results(&out, &plan_of(&out.join("plan.json")));
}

#[test]
fn drawings_of_an_earlier_plan_go_and_other_files_stay() {
    let dir = workplace();
    let out = dir.path().join("o");
    fs::create_dir(&out).expect("made");
    for name in ["slab-01-old-name.svg", "slab-09-gone.svg", "slab-photo.svg", "slab-09-gone.txt", "notes.svg"] {
        write(&out, name, "kept?");
    }
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "o"]).ends_with(0);
    let names: Vec<String> = files(&out).into_keys().collect();
    let expected = [
        "notes.svg",
        "plan.json",
        "report.html",
        "report.txt",
        "slab-01-fs-1.svg",
        "slab-02-fs-2.svg",
        "slab-03-fs-3.svg",
        "slab-09-gone.txt",
        "slab-photo.svg",
    ];
    assert_eq!(names, expected);
}

#[test]
fn explain_writes_why_no_plan_is_cheaper() {
    let dir = workplace();
    run(dir.path(), &["plan", "job.toml", "--effort", "2", "--out", "o", "--explain"]).ends_with(0);
    let plan = plan_of(&dir.path().join("o/plan.json"));
    let text = fs::read_to_string(dir.path().join("o/certificate.txt")).expect("a certificate");
    assert!(text.contains(&format!("costs less than {:.2}.", plan.cost_bound)), "{text}");
    assert!(text.contains(&plan.bound_rule.expect("a rule")), "{text}");
    // Without it, the proof of an earlier plan does not stay beside this one.
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "o"]).ends_with(0);
    assert!(!dir.path().join("o/certificate.txt").exists());
}

// Exit code 1: the answer is no.

#[test]
fn a_piece_that_is_too_long_is_named_with_what_is_missing() {
    let dir = workplace();
    // The slab is 2000 long, trimmed by 20 on either side.
    let long = "\n[[piece]]\nname = \"plank\"\noutline.rectangle = [2083, 300]\n";
    write(dir.path(), "job.toml", &format!("{SMOKEHOUSE}{long}"));
    let run_of_plan = run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "o"]).ends_with(1);
    let plan = plan_of(&dir.path().join("o/plan.json"));
    assert_eq!(placed(&plan).len(), 5, "all others have a place");
    assert_eq!(plan.unplaced.len(), 1);
    let u = &plan.unplaced[0];
    assert_eq!((u.job.as_str(), u.piece.as_str()), ("Smokehouse", "plank"));
    assert!(u.reason.contains("too long by 123 mm"), "{}", u.reason);
    assert!((u.needed - 2083.0).abs() < 0.01 && (u.found - 1960.0).abs() < 0.01, "{u:?}");
    assert!(run_of_plan.out.contains("too long by 123 mm"), "{}", run_of_plan.out);
    assert_results(&dir.path().join("o"), &plan);
    let check = run(dir.path(), &["check", "job.toml", "--plan", "o/plan.json"]).ends_with(1);
    assert!(check.out.contains("unplaced") && check.out.contains("plank"), "{}", check.out);
}

#[test]
fn a_plan_that_was_tampered_with_is_caught() {
    let dir = workplace();
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "o"]).ends_with(0);
    let good = json(&dir.path().join("o/plan.json"));
    let check = |change: &dyn Fn(&mut Value), rule: &str| {
        let mut plan = good.clone();
        change(&mut plan);
        assert_ne!(plan, good);
        write(dir.path(), "edited.json", &plan.to_string());
        let args = ["check", "job.toml", "--plan", "edited.json", "--format", "json"];
        let told = run(dir.path(), &args).ends_with(1).out;
        let findings: Vec<Value> = serde_json::from_str(&told).expect("a list");
        assert!(findings.iter().any(|f| f["rule"] == rule && f["grade"] == "broken"), "{rule} in {told}");
        let told = run(dir.path(), &args[..4]).ends_with(1).out;
        assert!(told.contains(rule), "{told}");
    };
    let shift = |plan: &mut Value, i: usize, x: f64| {
        let old = plan["layouts"][0]["placed"][i]["shift"][0].as_f64().expect("a number");
        plan["layouts"][0]["placed"][i]["shift"][0] = (old + x).into();
    };
    check(&|p| shift(p, 0, 5000.0), "outside-slab");
    check(&|p| shift(p, 0, 0.5), "outline-differs");
    check(
        &|p| {
            let first = p["layouts"][0]["placed"][0]["shift"].clone();
            p["layouts"][0]["placed"][1]["shift"] = first;
        },
        "pieces-too-close",
    );
    check(&|p| p["layouts"][0]["placed"][0]["turn"] = 90.0.into(), "grain-off");
    check(&|p| p["layouts"][0]["slab"] = "FS 77".into(), "unknown-slab");
    check(&|p| drop(p["layouts"].as_array_mut().expect("a list").pop()), "unplaced");
    // A plan for one job is none for another.
    run(dir.path(), &["check", "ferry.toml", "--plan", "o/plan.json"]).ends_with(1);
}

// Exit code 2: it could not run.

#[test]
fn wrong_usage_ends_with_2() {
    let dir = workplace();
    for (args, word) in [
        (&["plan"][..], "JOB"),
        (&[][..], "Usage"),
        (&["paln", "job.toml"], "plan"),
        (&["plan", "job.toml", "--efort", "1"], "--effort"),
        (&["plan", "job.toml", "--effort", "0"], "0"),
        (&["plan", "job.toml", "--threads", "0"], "0"),
        (&["plan", "job.toml", "--seconds", "-1"], "-1"),
        (&["plan", "job.toml", "--seconds", "soon"], "soon"),
        (&["plan", "job.toml", "--units", "furlong"], "furlong"),
        (&["check", "job.toml"], "--plan"),
        (&["schema", "quarry"], "quarry"),
    ] {
        let run = run(dir.path(), args).ends_with(2);
        assert!(run.err.contains(word), "{args:?}: {}", run.err);
        assert_eq!(run.out, "", "{args:?}");
    }
    assert!(run(dir.path(), &["--help"]).ends_with(0).out.contains("plan"));
    assert!(run(dir.path(), &["--version"]).ends_with(0).out.contains(env!("CARGO_PKG_VERSION")));
}

#[test]
fn wrong_input_ends_with_2_and_names_the_place() {
    let dir = workplace();
    let told = |job: &str, words: &[&str]| {
        write(dir.path(), "bad.toml", job);
        let run = run(dir.path(), &["plan", "bad.toml", "--effort", "1", "--out", "o"]).ends_with(2);
        for word in words {
            assert!(run.err.contains(word), "{word} in {}", run.err);
        }
        assert_eq!(run.out, "");
        assert!(!dir.path().join("o").exists(), "nothing is written");
    };
    told(&SMOKEHOUSE.replace("count = 5", "count = "), &["bad.toml:8:"]);
    told(&SMOKEHOUSE.replace("count", "cuont"), &["bad.toml:8:1", "\"cuont\"", "\"count\""]);
    told(
        &SMOKEHOUSE.replace("thickness = 30", "thickness = 20"),
        &["bad.toml:4:", "thickness", "\"Fell slate\" of 30 mm"],
    );
    told(&SMOKEHOUSE.replace("Fell slate", "Fel slate"), &["bad.toml:3:", "\"Fell slate\""]);
    told(&SMOKEHOUSE.replace("rack.toml", "no.toml"), &["no.toml", "no such file"]);
    // Two mistakes are told in one run.
    let two = SMOKEHOUSE.replace("count", "cuont").replace("[900, 620]", "[900, \"62 mn\"]");
    told(&two, &["bad.toml:8:", "bad.toml:9:", "\"mn\""]);
    let missing = run(dir.path(), &["plan", "nowhere.toml"]).ends_with(2);
    assert!(missing.err.contains("nowhere.toml") && missing.err.contains("no such file"), "{}", missing.err);
    let missing = run(dir.path(), &["check", "job.toml", "--plan", "nowhere.json"]).ends_with(2);
    assert!(missing.err.contains("nowhere.json"), "{}", missing.err);
    write(dir.path(), "bad.json", "{\n \"format\": 1\n}");
    let bad = run(dir.path(), &["check", "job.toml", "--plan", "bad.json"]).ends_with(2);
    assert!(bad.err.contains("bad.json:2:"), "{}", bad.err);
}

#[test]
fn a_result_that_cannot_be_written_ends_with_2_and_leaves_nothing_half_done() {
    let dir = workplace();
    write(dir.path(), "in-the-way", "a file");
    let run_in = |out: &str| run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", out]).ends_with(2);
    assert!(run_in("in-the-way").err.contains("in-the-way"));
    assert!(run_in("in-the-way/below").err.contains("in-the-way"));
    assert_eq!(fs::read_to_string(dir.path().join("in-the-way")).expect("still there"), "a file");
    // A folder where plan.json should go. The drawing of an earlier plan is still there.
    let out = dir.path().join("o");
    fs::create_dir_all(out.join("plan.json")).expect("made");
    write(&out, "slab-09-gone.svg", "earlier");
    let told = run_in("o");
    assert!(told.err.contains("plan.json") && told.err.contains("a directory"), "{}", told.err);
    let names: Vec<String> = fs::read_dir(&out)
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    assert!(names.iter().all(|n| !n.contains("tmp")), "{names:?}");
    assert!(names.iter().any(|n| n == "slab-09-gone.svg"), "{names:?}");
}

// Options.

#[test]
fn units_follow_the_job_unless_asked_for() {
    let dir = workplace();
    let report = |job: &str, more: &[&str]| {
        let args = [&["plan", job, "--effort", "1", "--out", "o"], more].concat();
        let text = run(dir.path(), &args).ends_with(0).out;
        let svg = files(&dir.path().join("o")).into_iter().find(|f| f.0.ends_with(".svg")).expect("a drawing");
        (
            text,
            String::from_utf8(svg.1).expect("UTF-8"),
            fs::read_to_string(dir.path().join("o/plan.json")).expect("read"),
        )
    };
    let mm = report("job.toml", &[]);
    assert!(mm.0.contains("m²") && !mm.0.contains("ft²"), "{}", mm.0);
    assert_eq!(mm, report("job.toml", &["--units", "mm"]));
    let inches = report("job.toml", &["--units", "in"]);
    assert!(inches.0.contains("ft²") && !inches.0.contains("m²"), "{}", inches.0);
    assert_eq!(inches.2, mm.2, "files for machines are in millimetres always");
    let ferry = report("ferry.toml", &[]);
    assert!(ferry.0.contains("ft²"), "{}", ferry.0);
    assert_eq!(ferry, report("ferry.toml", &["--units", "in"]));
    assert!(report("ferry.toml", &["--units", "mm"]).0.contains("m²"));
}

#[test]
fn drawings_have_the_size_of_the_paper() {
    let dir = workplace();
    for (paper, width, height) in [
        ("", 297.0, 210.0),
        ("a4", 297.0, 210.0),
        ("a3", 420.0, 297.0),
        ("letter", 279.4, 215.9),
        ("tabloid", 431.8, 279.4),
    ] {
        let more: &[&str] = if paper.is_empty() { &[] } else { &["--paper", paper] };
        let args = [&["plan", "job.toml", "--effort", "1", "--out", "o"], more].concat();
        run(dir.path(), &args).ends_with(0);
        let text = fs::read_to_string(dir.path().join("o/slab-01-fs-1.svg")).expect("a drawing");
        let svg = roxmltree::Document::parse(&text).expect("well-formed");
        let size = |name: &str| {
            let text = svg.root_element().attribute(name).expect("a size");
            text.strip_suffix("mm").expect("in mm").parse::<f64>().expect("a number")
        };
        assert_eq!((size("width"), size("height")), (width, height), "{paper}");
    }
}

#[test]
fn several_jobs_are_planned_together_on_one_rack() {
    let dir = workplace();
    let run_of_plan =
        run(dir.path(), &["plan", "job.toml", "ferry.toml", "--effort", "1", "--format", "json"]).ends_with(0);
    let out = dir.path().join("plan-smokehouse-ferry-office");
    let plan = plan_of(&out.join("plan.json"));
    assert_eq!(plan.jobs, ["Smokehouse", "Ferry office"]);
    assert_eq!(placed(&plan).len(), 6);
    assert!(run_of_plan.out.contains("ticket counter"));
    let path = out.join("plan.json");
    run(dir.path(), &["check", "job.toml", "ferry.toml", "--plan", &path.to_string_lossy()]).ends_with(0);
    // The same job twice: pieces could not be told apart.
    let twice = run(dir.path(), &["plan", "job.toml", "job.toml", "--effort", "1"]).ends_with(2);
    assert!(twice.err.contains("Smokehouse"), "{}", twice.err);
    // Jobs that name different racks want --rack.
    write(dir.path(), "other.toml", &slab("FS 9", 50));
    write(dir.path(), "ferry.toml", &FERRY.replace("rack.toml", "other.toml"));
    let differ = run(dir.path(), &["plan", "job.toml", "ferry.toml", "--effort", "1"]).ends_with(2);
    assert!(differ.err.contains("--rack"), "{}", differ.err);
    run(dir.path(), &["plan", "job.toml", "ferry.toml", "--rack", "rack.toml", "--effort", "1"]).ends_with(0);
}

#[test]
fn rack_and_shop_may_be_named_on_the_command_line() {
    let dir = workplace();
    write(dir.path(), "stock.toml", &["A", "B", "C"].map(|n| slab(&format!("other {n}"), 70)).concat());
    write(dir.path(), "jet.toml", "[limits]\nkerf = 1\ngap = 2\ntrim = 11\n");
    let args = ["plan", "job.toml", "--effort", "1", "--rack", "stock.toml", "--shop", "jet.toml", "--out", "o"];
    run(dir.path(), &args).ends_with(0);
    let plan = plan_of(&dir.path().join("o/plan.json"));
    assert!(plan.layouts.iter().all(|l| l.slab.starts_with("other")), "{:?}", plan.layouts);
    assert_eq!((plan.limits.kerf, plan.limits.gap, plan.limits.trim), (1.0, 2.0, 11.0));
    let check = ["check", "job.toml", "--rack", "stock.toml", "--shop", "jet.toml", "--plan", "o/plan.json"];
    run(dir.path(), &check).ends_with(0);
    // Under the built-in limits, on the job's own rack, this plan does not hold.
    run(dir.path(), &["check", "job.toml", "--plan", "o/plan.json"]).ends_with(1);
}

// Time.

/// The effort in "--effort N" of what the program said, and the seed likewise.
fn repeat_with(err: &str) -> (String, String) {
    let after = |flag: &str| {
        let rest = err.split_once(flag).unwrap_or_else(|| panic!("{flag} in {err}")).1.trim_start();
        rest.chars().take_while(char::is_ascii_digit).collect::<String>()
    };
    (after("--effort "), after("--seed "))
}

/// Plans again with the effort that the first run named, and compares all files.
fn assert_repeats(dir: &Path, err: &str) {
    let (effort, seed) = repeat_with(err);
    let args = ["plan", "job.toml", "--effort", &effort, "--seed", &seed, "--out", "again"];
    run(dir, &args).ends_with(0);
    let first = files(&dir.join("o"));
    assert_eq!(json(&dir.join("o/plan.json"))["effort"].to_string(), effort);
    assert_eq!(first, files(&dir.join("again")));
}

#[test]
fn a_time_limit_holds_and_its_plan_can_be_repeated() {
    let dir = workplace();
    write(dir.path(), "job.toml", TAPROOM);
    let start = SystemTime::now();
    let run = run(dir.path(), &["plan", "job.toml", "--seconds", "0.5", "--seed", "3", "--out", "o"]).ends_with(0);
    let took = start.elapsed().expect("a clock that goes on");
    assert!(took < Duration::from_secs(5), "{took:?}");
    assert_eq!(placed(&plan_of(&dir.path().join("o/plan.json"))).len(), 5);
    assert_repeats(dir.path(), &run.err);
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_search_and_keeps_the_plan() {
    let dir = workplace();
    write(dir.path(), "job.toml", TAPROOM);
    let child = command(dir.path(), &["plan", "job.toml", "--seconds", "60", "--out", "o"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    std::thread::sleep(Duration::from_millis(1500));
    let start = SystemTime::now();
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill runs");
    assert!(sent.success());
    let run = Run::from(child.wait_with_output().expect("it ends")).ends_with(0);
    assert!(start.elapsed().expect("a clock that goes on") < Duration::from_secs(10));
    assert_results(&dir.path().join("o"), &plan_of(&dir.path().join("o/plan.json")));
    assert_repeats(dir.path(), &run.err);
}

/// The report says which effort repeats a plan that a time limit ended.
#[test]
fn the_report_says_what_repeats_the_plan() {
    let dir = workplace();
    let args = ["plan", "job.toml", "--seconds", "0.5", "--seed", "3", "--goal", "offcut", "--out", "o"];
    run(dir.path(), &args).ends_with(0);
    let effort = json(&dir.path().join("o/plan.json"))["effort"].to_string();
    let report = fs::read_to_string(dir.path().join("o/report.txt")).expect("a report");
    assert!(report.contains(&format!("--seed 3 --effort {effort} --goal offcut")), "{report}");
    let args = ["plan", "job.toml", "--effort", &effort, "--seed", "3", "--goal", "offcut", "--out", "again"];
    run(dir.path(), &args).ends_with(0);
    assert_eq!(files(&dir.path().join("o")), files(&dir.path().join("again")));
}

/// At whatever moment Ctrl-C comes, the program ends soon, with a plan file that the judge can read.
#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_program_soon_at_any_moment() {
    let job = demo_job("weir-mill");
    for wait in [60, 300, 900] {
        let dir = tempfile::tempdir().expect("a folder");
        let args = ["plan", &job.to_string_lossy(), "--seconds", "60", "--alternatives", "2", "--out", "o"];
        let child =
            command(dir.path(), &args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("the program starts");
        std::thread::sleep(Duration::from_millis(wait));
        let start = SystemTime::now();
        let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill runs");
        assert!(sent.success());
        let ended = child.wait_with_output().expect("it ends").status.code();
        let took = start.elapsed().expect("a clock that goes on");
        assert!(took < Duration::from_secs(10), "{took:?} after {wait} ms");
        let plan = plan_of(&dir.path().join("o/plan.json"));
        // Complete, or it says what has no place yet.
        assert_eq!(ended, Some(i32::from(!plan.unplaced.is_empty())), "after {wait} ms");
        assert_eq!(placed(&plan).len() + plan.unplaced.len(), question(&job).pieces().count());
    }
}

// Goals, plans beside the best, earlier plans.

#[test]
fn alternatives_stand_in_folders_of_their_own_and_side_by_side() {
    let dir = workplace();
    let out = dir.path().join("o");
    let args = ["plan", "job.toml", "--effort", "6", "--out", "o"];
    let with = run(dir.path(), &[&args[..], &["--alternatives", "3"]].concat()).ends_with(0);
    assert!(with.out.contains("Plans side by side"), "{}", with.out);
    let report = fs::read_to_string(out.join("report.txt")).expect("a report");
    assert!(with.out.starts_with(&report));
    let mut costs = vec![plan_of(&out.join("plan.json")).cost];
    for number in 2..=4 {
        let folder = out.join(format!("alternative-{number}"));
        let path = folder.join("plan.json");
        let plan = plan_of(&path);
        assert_results(&folder, &plan);
        run(dir.path(), &["check", "job.toml", "--plan", &path.to_string_lossy()]).ends_with(0);
        assert!(report.contains(&format!("alternative {number}")) && report.contains(&format!("{:.2}", plan.cost)));
        costs.push(plan.cost);
    }
    assert_eq!(costs, [306.0, 307.0, 308.0, 309.0], "three of four slabs, cheapest first");

    // Fewer in the next run: what is left over goes, but not what is not ours.
    write(&out, "alternative-4/mine.txt", "mine");
    run(dir.path(), &[&args[..], &["--alternatives", "1"]].concat()).ends_with(0);
    assert!(out.join("alternative-2/plan.json").exists());
    assert!(!out.join("alternative-3").exists());
    assert_eq!(files(&out.join("alternative-4")).into_keys().collect::<Vec<_>>(), ["mine.txt"]);

    let plain: Value =
        serde_json::from_str(&run(dir.path(), &[&args[..], &["--format", "json"]].concat()).out).expect("JSON");
    assert!(plain.get("alternatives").is_none());
    assert!(!out.join("alternative-2").exists());
    let more = run(dir.path(), &[&args[..], &["--format", "json", "--alternatives", "2"]].concat());
    let more: Value = serde_json::from_str(&more.out).expect("JSON");
    let listed = more["alternatives"].as_array().expect("a list");
    assert_eq!(listed.len(), 2);
    assert_eq!(listed[0], json(&out.join("alternative-2/plan.json")));
}

/// A plan of the smokehouse job, as JSON that can be changed.
fn earlier_plan(dir: &Path) -> Value {
    run(dir, &["plan", "job.toml", "--effort", "2", "--out", "o"]).ends_with(0);
    json(&dir.join("o/plan.json"))
}

#[test]
fn a_pinned_piece_stays_through_the_program() {
    let dir = workplace();
    let mut plan = earlier_plan(dir.path());
    let placed = &mut plan["layouts"][0]["placed"][0];
    placed["pinned"] = true.into();
    let (piece, shift) = (placed["piece"].clone(), placed["shift"].clone());
    write(dir.path(), "earlier.json", &plan.to_string());
    let args = ["plan", "job.toml", "--effort", "2", "--seed", "8", "--from", "earlier.json", "--out", "next"];
    run(dir.path(), &args).ends_with(0);
    let next = json(&dir.path().join("next/plan.json"));
    let all = next["layouts"].as_array().expect("layouts").iter().flat_map(|l| l["placed"].as_array().expect("placed"));
    let pinned: Vec<&Value> = all.filter(|p| p["pinned"] == true).collect();
    assert_eq!(pinned.len(), 1);
    assert_eq!((&pinned[0]["piece"], &pinned[0]["shift"]), (&piece, &shift));
}

#[test]
fn a_pinned_piece_that_breaks_a_rule_is_an_error_that_names_it() {
    let dir = workplace();
    let good = earlier_plan(dir.path());
    write(
        dir.path(),
        "other.toml",
        &rack().replacen("Fell slate", "Fell basalt", 1).replacen(
            "grain = 0\n",
            "grain = 0\n\n[[slab.flaw]]\nkind = \"crack\"\nline = [[500, 300], [600, 330]]\nwidth = 2\n",
            2,
        ),
    );
    let layouts = good["layouts"].as_array().expect("layouts").len();
    let full = (0..layouts).find(|&k| good["layouts"][k]["placed"].as_array().expect("placed").len() > 1);
    let full = full.expect("two benches on one slab");
    let refused = |rack: &str, change: &dyn Fn(&mut Value), rule: &str, numbers: &[&str]| {
        let mut plan = good.clone();
        for layout in plan["layouts"].as_array_mut().expect("layouts") {
            for placed in layout["placed"].as_array_mut().expect("placed") {
                placed["pinned"] = false.into();
            }
        }
        change(&mut plan);
        write(dir.path(), "earlier.json", &plan.to_string());
        let run = run(dir.path(), &["plan", "job.toml", "--rack", rack, "--from", "earlier.json", "--out", "no"])
            .ends_with(2);
        assert!(run.err.contains("bench #") && run.err.contains(rule), "{rule}: {}", run.err);
        assert!(numbers.iter().all(|n| run.err.contains(n)), "{rule}: {}", run.err);
        assert!(!dir.path().join("no").exists());
    };
    let pin = |p: &mut Value, k: usize, x: f64, y: f64, turn: f64| {
        let placed = &mut p["layouts"][full]["placed"][k];
        placed["pinned"] = true.into();
        placed["turn"] = turn.into();
        placed["shift"] = serde_json::json!([x, y]);
    };
    refused("rack.toml", &|p| pin(p, 0, 17.0, 40.0, 0.0), "outside-slab", &["found 17, needed 20"]);
    refused("rack.toml", &|p| pin(p, 0, 900.0, 40.0, 90.0), "grain-off", &["found 90, needed 0"]);
    let both = |p: &mut Value| {
        pin(p, 0, 40.0, 40.0, 0.0);
        pin(p, 1, 943.0, 40.0, 0.0);
    };
    refused("rack.toml", &both, "pieces-too-close", &["found 3, needed 6"]);
    let on = |name: &'static str| {
        move |p: &mut Value| {
            pin(p, 0, 40.0, 40.0, 0.0);
            p["layouts"][full]["slab"] = name.into();
            for k in (0..layouts).rev().filter(|&k| k != full) {
                p["layouts"].as_array_mut().expect("layouts").remove(k);
            }
        }
    };
    refused("other.toml", &on("FS 1"), "wrong-material", &[]);
    refused("other.toml", &on("FS 2"), "flaw-in-zone", &["needed 10"]);
}

#[test]
fn an_earlier_plan_for_something_else_is_an_error() {
    let dir = workplace();
    let good = earlier_plan(dir.path());
    let refused = |change: &dyn Fn(&mut Value), words: &str| {
        let mut plan = good.clone();
        change(&mut plan);
        write(dir.path(), "earlier.json", &plan.to_string());
        let run = run(dir.path(), &["plan", "job.toml", "--from", "earlier.json", "--out", "no"]).ends_with(2);
        assert!(run.err.contains(words), "{words}: {}", run.err);
    };
    refused(&|p| p["layouts"][0]["slab"] = "FS 9".into(), "FS 9");
    refused(&|p| p["layouts"][0]["placed"][0]["piece"] = "stool".into(), "stool");
    refused(&|p| p["layouts"][0]["placed"][0]["shift"][0] = 1e30.into(), "shift");
    let run = run(dir.path(), &["plan", "job.toml", "--from", "nowhere.json"]).ends_with(2);
    assert!(run.err.contains("nowhere.json"), "{}", run.err);
}

// Schemas.

/// What of a JSON Schema our schema of the plan uses. A word that this does not know is a fault of the test.
pub(super) fn fault(schema: &Value, root: &Value, value: &Value, at: &str) -> Option<String> {
    let rules = schema.as_object().expect("a schema");
    for (word, rule) in rules {
        let found =
            match word.as_str() {
                "$ref" => {
                    let pointer = rule.as_str().and_then(|r| r.strip_prefix('#')).expect("a reference into the schema");
                    fault(root.pointer(pointer).expect("what it refers to"), root, value, at)
                }
                "type" => {
                    let names: Vec<&str> = match rule {
                        Value::Array(list) => list.iter().filter_map(Value::as_str).collect(),
                        one => vec![one.as_str().expect("a name")],
                    };
                    let is = |name: &&str| match *name {
                        "object" => value.is_object(),
                        "array" => value.is_array(),
                        "string" => value.is_string(),
                        "number" => value.is_number(),
                        "integer" => value.is_i64() || value.is_u64(),
                        "boolean" => value.is_boolean(),
                        "null" => value.is_null(),
                        other => panic!("type {other}"),
                    };
                    (!names.iter().any(is)).then(|| format!("{at}: {value} is not {names:?}"))
                }
                "required" => rule
                    .as_array()
                    .expect("a list")
                    .iter()
                    .filter_map(Value::as_str)
                    .find(|key| value.get(key).is_none())
                    .map(|key| format!("{at}: no {key}")),
                "properties" => rule.as_object().expect("a table").iter().find_map(|(key, inner)| {
                    value.get(key).and_then(|v| fault(inner, root, v, &format!("{at}.{key}")))
                }),
                "additionalProperties" => {
                    assert_eq!(*rule, false);
                    let known = rules["properties"].as_object().expect("a table");
                    value
                        .as_object()
                        .and_then(|v| v.keys().find(|k| !known.contains_key(*k)))
                        .map(|k| format!("{at}: {k}?"))
                }
                "items" => value.as_array().and_then(|list| {
                    list.iter().enumerate().find_map(|(i, v)| fault(rule, root, v, &format!("{at}[{i}]")))
                }),
                "enum" => {
                    (!rule.as_array().expect("a list").contains(value)).then(|| format!("{at}: {value} is no choice"))
                }
                "const" => (rule != value).then(|| format!("{at}: {value}")),
                "anyOf" | "oneOf" => rule
                    .as_array()
                    .expect("a list")
                    .iter()
                    .all(|s| fault(s, root, value, at).is_some())
                    .then(|| format!("{at}: {value} is none of the choices")),
                "minItems" | "maxItems" => value.as_array().and_then(|list| {
                    let n = rule.as_u64().expect("a number") as usize;
                    let wrong = if word == "minItems" { list.len() < n } else { list.len() > n };
                    wrong.then(|| format!("{at}: {} entries, {word} {n}", list.len()))
                }),
                "minimum" => value
                    .as_f64()
                    .filter(|v| *v < rule.as_f64().expect("a number"))
                    .map(|v| format!("{at}: {v} is less than {rule}")),
                "$schema" | "$defs" | "title" | "description" | "default" | "format" => None,
                other => panic!("the test does not know {other} of the schema"),
            };
        if found.is_some() {
            return found;
        }
    }
    None
}

#[test]
fn schemas_are_printed_and_the_plan_follows_its_own() {
    let dir = workplace();
    for (file, key) in [
        ("job", "piece"),
        ("rack", "slab"),
        ("shop", "limits"),
        ("plan", "layouts"),
        ("openings", "openings"),
        ("quote", "jobs"),
    ] {
        let text = run(dir.path(), &["schema", file]).ends_with(0).out;
        let schema: Value = serde_json::from_str(&text).expect("JSON");
        assert!(schema["properties"][key].is_object() && schema["$schema"].is_string(), "{file}");
    }
    let schema: Value = serde_json::from_str(&run(dir.path(), &["schema", "plan"]).out).expect("JSON");
    let long = "\n[[piece]]\nname = \"plank\"\noutline.rectangle = [2083, 300]\n";
    write(dir.path(), "job.toml", &format!("{SMOKEHOUSE}{long}"));
    run(dir.path(), &["plan", "job.toml", "ferry.toml", "--effort", "1", "--out", "o"]).ends_with(1);
    let plan = json(&dir.path().join("o/plan.json"));
    assert_eq!(fault(&schema, &schema, &plan, "plan"), None);
    assert!(!plan["unplaced"].as_array().expect("a list").is_empty());
    assert!(!plan["findings"].as_array().expect("a list").is_empty());
    // The examiner sees what it should.
    let broken = |change: &dyn Fn(&mut Value)| {
        let mut plan = plan.clone();
        change(&mut plan);
        fault(&schema, &schema, &plan, "plan").unwrap_or_else(|| panic!("nothing found in {plan}"))
    };
    broken(&|p| drop(p.as_object_mut().expect("a table").remove("cost")));
    broken(&|p| p["extra"] = 1.into());
    broken(&|p| p["layouts"][0]["placed"][0]["turn"] = "90".into());
    broken(&|p| p["layouts"][0]["placed"][0]["shift"] = vec![1.0].into());
    broken(&|p| p["layouts"][0]["yield"]["net"] = Value::Null);
    broken(&|p| p["findings"][0]["grade"] = "bad".into());
    broken(&|p| p["findings"][0]["rule"] = "no-such-rule".into());
}

// The README.

#[test]
fn the_examples_of_the_readme_can_be_planned() {
    let readme = fs::read_to_string(Path::new(ROOT).join("README.md")).expect("the README");
    let blocks = readme.split("```toml\n").skip(1).map(|b| b.split_once("```").expect("a closed block").0);
    // Single pieces and openings are no files.
    let blocks: Vec<&str> = blocks.filter(|b| !b.starts_with("[[piece")).collect();
    let [job, rack, shop] = blocks[..] else { panic!("{} examples", blocks.len()) };
    let dir = tempfile::tempdir().expect("a folder");
    for (name, text) in [("job.toml", job), ("rack.toml", rack), ("shop.toml", shop)] {
        write(dir.path(), name, text);
    }
    let args = ["plan", "job.toml", "--effort", "1", "--out", "o"];
    let plain = run(dir.path(), &args).ends_with(0);
    assert_eq!(plain.err.matches("warning").count(), 0, "{}", plain.err);
    let plain = files(&dir.path().join("o"));
    // The shop file of the README shows the defaults: naming it changes nothing.
    run(dir.path(), &[&args[..5], &["with-shop", "--shop", "shop.toml"]].concat()).ends_with(0);
    assert_eq!(plain, files(&dir.path().join("with-shop")));
    // The photograph stands in comments, for nobody has the picture. Its marks are good.
    let lines =
        rack.lines().map(|l| l.strip_prefix("# ").filter(|l| PHOTO.iter().any(|k| l.starts_with(k))).unwrap_or(l));
    write(dir.path(), "rack.toml", &lines.collect::<Vec<_>>().join("\n"));
    let missing = run(dir.path(), &args).ends_with(2);
    assert!(missing.err.contains("tg-21.jpg") && missing.err.contains("no such file"), "{}", missing.err);
    let without = run(dir.path(), &[&args[..5], &["without", "--plain"]].concat()).ends_with(0);
    assert_eq!(without.err.matches("warning").count(), 0, "{}", without.err);
    assert_eq!(plain, files(&dir.path().join("without")));
}

/// How the lines about a photograph begin.
const PHOTO: [&str; 4] = ["[slab.photo]", "file = ", "marks = ", "at = "];

// A crack in a drop.

/// Weir Mill with what its plan says of the sink run.
struct Crack {
    question: Question,
    /// Points along the crack, 2 mm apart at most, slab frame.
    points: Vec<Point>,
    /// Half the width of the crack, mm.
    radius: f64,
}

static CRACK: LazyLock<Crack> = LazyLock::new(|| {
    let question = question(&demo_job("weir-mill"));
    let slab = question.rack.iter().find(|s| s.name == "TG-9 long half").expect("the slab");
    let flaw = slab.flaws.iter().find(|f| f.kind == FlawKind::Crack).expect("a crack");
    let scantling::model::FlawBody::Line(line) = &flaw.body else { panic!("{flaw:?}") };
    let points = line
        .windows(2)
        .flat_map(|w| {
            let (a, b) = (w[0], w[1]);
            let steps = ((b - a).x.hypot((b - a).y) / 2.0).ceil() as usize;
            (0..=steps).map(move |i| a + (b - a) * (i as f64 / steps as f64))
        })
        .collect();
    Crack { points, radius: flaw.radius, question }
});

/// Even-odd rule, and the distance to the nearest side: written apart from the kernel.
fn inside_by(p: Point, ring: &Ring) -> f64 {
    let corners = ring.points();
    let (mut inside, mut nearest) = (false, f64::INFINITY);
    for (i, &a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % corners.len()];
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let t = (((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
        nearest = nearest.min((p.x - a.x - t * dx).hypot(p.y - a.y - t * dy));
    }
    if inside { nearest } else { -nearest }
}

#[test]
fn the_crack_falls_out_with_the_drop_of_the_main_sink() {
    let plan = plan_of(&demo(0).0.join("plan.json"));
    let layout = plan.layouts.iter().find(|l| l.slab == "TG-9 long half").expect("the slab is cut");
    let spot = layout.placed.iter().find(|p| p.piece == "sink run").expect("the sink run lies on it");
    let (_, _, piece) = CRACK.question.pieces().find(|(_, _, p)| p.name == "sink run").expect("the piece");
    let sink = piece.openings.iter().find(|o| o.name == "main sink").expect("the opening");
    let ring = spot.pose().ring(&sink.ring);
    let needed = CRACK.question.shop.limits.flaw_gap;
    assert!(CRACK.points.len() > 100);
    let least = CRACK.points.iter().map(|&p| inside_by(p, &ring)).fold(f64::INFINITY, f64::min) - CRACK.radius;
    // Arcs are flattened by at most 0.05 mm.
    assert!(least >= needed - 0.06, "the crack lies {least} mm inside the opening");
    // The measure itself: a crack that is moved lies outside.
    let moved = scantling::geom::pt(0.0, 400.0);
    assert!(CRACK.points.iter().any(|&p| inside_by(p + moved, &ring) < 0.0));
}

#[test]
fn without_its_sink_the_run_has_no_place_because_of_the_crack() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = fs::read_to_string(demo_job("weir-mill")).expect("the job");
    let rack = fs::read_to_string(demo_job("weir-mill").with_file_name("rack.toml")).expect("the rack");
    let start = job.find("[[piece.opening]]\nname = \"main sink\"").expect("the opening");
    let end = start + 1 + job[start + 1..].find("\n[[").expect("the next table") + 1;
    write(dir.path(), "job.toml", &format!("{}{}", &job[..start], &job[end..]));
    write(dir.path(), "rack.toml", &rack);
    let (_, _, piece) = CRACK.question.pieces().next().expect("a piece");
    let edited = question(&dir.path().join("job.toml"));
    assert_eq!((piece.openings.len(), edited.jobs[0].pieces[0].openings.len()), (2, 1));
    run(dir.path(), &["plan", "job.toml", "--effort", "1", "--out", "o"]).ends_with(1);
    let plan = plan_of(&dir.path().join("o/plan.json"));
    let names: Vec<&str> = plan.unplaced.iter().map(|u| u.piece.as_str()).collect();
    assert_eq!(names, ["sink run"]);
    assert!(plan.unplaced[0].reason.contains("crack"), "{}", plan.unplaced[0].reason);
    assert_eq!(placed(&plan).len(), edited.pieces().count() - 1);
}
