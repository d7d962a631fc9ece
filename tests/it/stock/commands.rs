//! `rack`, `new`, `completions` and `manual`.

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::super::cli::run;
use super::Yard;

#[test]
fn the_rack_is_listed_and_filtered() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let out = yard.run(&["rack", "job.toml", "--quiet"]).ends_with(0).out;
    let lines: Vec<&str> = out.lines().collect();
    assert!(lines[0].starts_with("3 slabs, "), "{out}");
    assert_eq!(
        lines[2],
        "name    material      thick            size      area  lot     price  stock                flaws"
    );
    assert_eq!(lines[3], "MG 7    Moss granite  30 mm   1800 × 900 mm  1.620 m²         243.00  whole");
    assert!(
        lines[5].starts_with("FS 1 a  Fell slate    30 mm  ") && lines[5].ends_with("of FS 1, 2026-11-26  1 fissure"),
        "{out}"
    );
    // The same from the file itself, in the units asked for.
    let inches = yard.run(&["rack", "--rack", "rack.toml", "--units", "in"]).ends_with(0).out;
    assert!(inches.contains("70 7/8 × 35 7/16 in"), "{inches}");

    let names = |more: &[&str]| -> Vec<String> {
        let args = [&["rack", "--rack", "rack.toml", "--format", "json"][..], more].concat();
        let list: Vec<Value> = serde_json::from_str(&yard.run(&args).ends_with(0).out).unwrap();
        list.iter().map(|s| s["name"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names(&[]), ["MG 7", "FS 2", "FS 1 a"]);
    assert_eq!(names(&["--material", "SLATE"]), ["FS 2", "FS 1 a"]);
    assert_eq!(names(&["--thickness", "3 cm"]), ["MG 7", "FS 2", "FS 1 a"]);
    assert_eq!(names(&["--thickness", "20"]), [""; 0]);
    assert_eq!(names(&["--offcuts"]), ["FS 1 a"]);
    assert_eq!(names(&["--least", "1900x950"]), ["FS 2"]);
    assert_eq!(names(&["--least", "950x1900"]), ["FS 2"]);
    assert_eq!(names(&["--least", "1800x900"]), ["MG 7", "FS 2"]);
    assert_eq!(names(&["--least", "70 x 35 in"]), ["MG 7", "FS 2"]);
    assert_eq!(names(&["--least", "2001x10"]), [""; 0]);
    for wrong in ["12", "0x5", "ax5", "1 in x 2 horses"] {
        yard.run(&["rack", "job.toml", "--least", wrong]).ends_with(2);
    }
    let data: Vec<Value> =
        serde_json::from_str(&yard.run(&["rack", "job.toml", "--format", "json"]).ends_with(0).out).unwrap();
    let offcut = &data[2];
    assert_eq!((&offcut["from"]["slab"], &offcut["from"]["jobs"][0]), (&"FS 1".into(), &"Lock keeper's house".into()));
    assert_eq!((&offcut["flaws"][0]["kind"], &offcut["flaws"][0]["count"]), (&"fissure".into(), &1.into()));
    assert!(data[0].get("from").is_none() && data[0]["area_mm2"] == 1.62e6, "{}", data[0]);
    // Neither a job nor a rack; a job that is not there.
    yard.run(&["rack"]).ends_with(2);
    yard.run(&["rack", "none.toml"]).ends_with(2);
}

#[test]
fn the_contact_sheet_shows_every_slab_and_old_pages_go() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let many: String = (0..10)
        .map(|k| {
            format!(
                "\n[[slab]]\nname = \"X {k}\"\nmaterial = \"Fell slate\"\nstone = \"slate\"\nthickness = 20\nprice = 1\n\
                 outline.rectangle = [{}, 600]\ngrain = {}\n",
                700 + 200 * k,
                15 * k
            )
        })
        .collect();
    yard.write("rack.toml", &(yard.rack() + &many));
    yard.run(&["rack", "job.toml", "--out", "sheet"]).ends_with(0);
    let names = || {
        let mut names: Vec<String> = fs::read_dir(yard.path().join("sheet"))
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names(), ["rack-01.svg", "rack-02.svg", "rack.pdf"]);
    let pages = yard.read("sheet/rack-01.svg") + &yard.read("sheet/rack-02.svg");
    for name in ["MG 7", "FS 2", "FS 1 a", "X 0", "X 9"] {
        assert!(pages.contains(&format!(">\n{name}\n<")) || pages.contains(&format!(">{name}<")), "{name}");
    }
    let pdf = lopdf::Document::load(yard.path().join("sheet/rack.pdf")).unwrap();
    assert_eq!(pdf.get_pages().len(), 2);
    // Nothing lies off the paper.
    for page in ["rack-01.svg", "rack-02.svg"] {
        let text = yard.read(&format!("sheet/{page}"));
        let svg = roxmltree::Document::parse(&text).unwrap();
        for node in svg.descendants().filter(|n| n.has_tag_name("path")) {
            for pair in node.attribute("d").unwrap().split(['M', 'L', 'Z']).filter(|p| !p.trim().is_empty()) {
                let xy: Vec<f64> =
                    pair.split([' ', ',']).filter(|t| !t.is_empty()).map(|t| t.parse().unwrap()).collect();
                assert!((0.0..=297.0).contains(&xy[0]) && (0.0..=210.0).contains(&xy[1]), "{page} {pair}");
            }
        }
    }
    yard.run(&["rack", "job.toml", "--offcuts", "--out", "sheet"]).ends_with(0);
    assert_eq!(names(), ["rack-01.svg", "rack.pdf"]);
}

#[test]
fn a_new_job_plans_and_nothing_is_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    for units in ["mm", "in"] {
        let folder = format!("new-{units}");
        let out = run(dir.path(), &["new", &folder, "--units", units]).ends_with(0).out;
        assert!(out.ends_with(&format!("Next: scantling plan {folder}/job.toml\n")), "{out}");
        let job = format!("{folder}/job.toml");
        let made = run(dir.path(), &["plan", &job, "--effort", "1", "--out", "plan", "--format", "json"]).ends_with(0);
        assert!(!made.err.contains("warning") && !made.err.contains("note"), "{}", made.err);
        let plan: Value = serde_json::from_str(&made.out).unwrap();
        assert_eq!(plan["unplaced"], serde_json::json!([]));
        run(dir.path(), &["take", &job, "--plan", "plan/plan.json"]).ends_with(0);
        run(dir.path(), &["undo", &job]).ends_with(0);
        // Every file speaks of its units, and has comments for whoever reads it first.
        for name in ["job", "rack", "shop"] {
            let text = fs::read_to_string(dir.path().join(format!("{folder}/{name}.toml"))).unwrap();
            assert!(text.starts_with("# ") && text.contains(&format!("units = \"{units}\"")), "{text}");
            assert!(text.lines().all(|l| l.chars().count() <= 120), "{text}");
        }
    }
    fs::create_dir(dir.path().join("used")).unwrap();
    fs::write(dir.path().join("used/shop.toml"), "[limits]\n").unwrap();
    let refused = run(dir.path(), &["new", "used"]).ends_with(2);
    assert_eq!(
        refused.err,
        "error: used/shop.toml\n  given     a file that is there already\n  expected  a folder without it; nothing was written\n  \
         fix       name another folder, or move the file away\n"
    );
    assert_eq!(fs::read_dir(dir.path().join("used")).unwrap().count(), 1);
    assert_eq!(fs::read_to_string(dir.path().join("used/shop.toml")).unwrap(), "[limits]\n");
}

/// The names of all commands, as the help lists them.
fn commands() -> Vec<String> {
    let help = run(std::path::Path::new("."), &["--help"]).ends_with(0).out;
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names: Vec<String> = list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .map(|l| l.split_whitespace().next().unwrap().to_owned())
        .collect();
    assert!(names.len() >= 14 && names.iter().any(|n| n == "undo"), "{names:?}");
    names
}

#[test]
fn completions_are_scripts_that_know_every_command() {
    let here = std::path::Path::new(".");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = run(here, &["completions", shell]).ends_with(0).out;
        for name in commands().iter().filter(|n| *n != "help") {
            assert!(script.contains(name.as_str()), "{shell}: {name}");
        }
        assert!(script.contains("--unmarked") || script.contains("unmarked"), "{shell}");
    }
    run(here, &["completions", "cowbell"]).ends_with(2);
    // bash itself accepts the script, and completes with it.
    let script = run(here, &["completions", "bash"]).ends_with(0).out;
    let ask =
        "\nCOMP_WORDS=(scantling un); COMP_CWORD=1; _scantling scantling un scantling; echo \"${COMPREPLY[@]}\"\n";
    for (args, text) in [(&["-n"][..], script.clone()), (&[], script + ask)] {
        let Ok(mut bash) =
            Command::new("bash").args(args).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()
        else {
            println!("skipped: no bash here");
            return;
        };
        bash.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
        let out = bash.wait_with_output().unwrap();
        assert!(out.status.success() && out.stderr.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
        if args.is_empty() {
            assert_eq!(String::from_utf8_lossy(&out.stdout).trim(), "undo");
        }
    }
}

#[test]
fn manual_pages_name_every_command_and_are_clean() {
    let dir = tempfile::tempdir().unwrap();
    let page = run(dir.path(), &["manual"]).ends_with(0).out;
    let names = commands();
    let names: Vec<&String> = names.iter().filter(|n| *n != "help").collect();
    for name in &names {
        // Hyphens are escaped in troff.
        assert!(page.contains(&format!("scantling\\-{name}(1)")), "{name}\n{page}");
        let own = run(dir.path(), &["manual", name]).ends_with(0).out;
        assert!(own.starts_with(".ie \\n(.g .ds Aq \\(aq\n") && own.contains(".SH OPTIONS"), "{name}\n{own}");
    }
    let take = run(dir.path(), &["manual", "take"]).ends_with(0).out;
    assert!(take.contains("\\fB\\-\\-unmarked\\fR"), "{take}");
    let wrong = run(dir.path(), &["manual", "gvie"]).ends_with(2);
    assert!(
        wrong.err.starts_with("error: COMMAND\n  given     \"gvie\"\n  expected  one of \"plan\", "),
        "{}",
        wrong.err
    );
    run(dir.path(), &["manual", "--out", "pages"]).ends_with(0);
    assert_eq!(fs::read_dir(dir.path().join("pages")).unwrap().count(), names.len() + 1);
    // Where man or mandoc is there, it has nothing to complain about.
    for name in fs::read_dir(dir.path().join("pages")).unwrap() {
        let path = name.unwrap().path();
        for (program, args) in [("mandoc", &["-Tlint", "-Wwarning"][..]), ("man", &["--warnings", "-l"])] {
            let Ok(out) =
                Command::new(program).args(args).arg(&path).env("MANPAGER", "cat").env("LC_ALL", "C.UTF-8").output()
            else {
                println!("skipped: no {program} here");
                continue;
            };
            let said = format!(
                "{}{}",
                if program == "mandoc" { String::from_utf8_lossy(&out.stdout) } else { "".into() },
                String::from_utf8_lossy(&out.stderr)
            );
            // That pages have no date is meant: the same build gives the same page.
            let said: Vec<&str> = said.lines().filter(|l| !l.contains("missing date")).collect();
            assert!(said.is_empty(), "{program} {}: {said:#?}", path.display());
        }
    }
}
