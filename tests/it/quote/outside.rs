//! `scantling quote` from outside: files in, files and exit codes out.

use std::fs;
use std::path::Path;

use scantling::model::quote::Quote;
use serde_json::Value;
use tempfile::TempDir;

use super::RACK;
use super::worked::{PIECES, SHOP};
use crate::cli::run;

fn workplace(shop: &str) -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let head = "rack = \"rack.toml\"\nshop = \"shop.toml\"\nmaterial = \"Fell slate\"\nthickness = 30\n";
    let put = |name: &str, body: &str| fs::write(dir.path().join(name), body).unwrap();
    put("job.toml", &format!("name = \"Tide Hall\"\n{head}{PIECES}"));
    put(
        "ferry.toml",
        &format!("name = \"Ferry steps\"\n{head}[[piece]]\nname = \"step\"\noutline.rectangle = [1200, 300]\n"),
    );
    put("long.toml", &format!("name = \"Long\"\n{head}[[piece]]\nname = \"plank\"\noutline.rectangle = [3400, 300]\n"));
    put("rack.toml", RACK);
    put("shop.toml", shop);
    dir
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn a_quote_with_and_without_a_plan() {
    let dir = workplace(SHOP);
    let d = dir.path();
    let estimate = run(d, &["quote", "job.toml"]).ends_with(0);
    assert!(estimate.out.starts_with("Estimate for Tide Hall\n") && estimate.err.is_empty(), "{}", estimate.err);
    assert!(estimate.out.contains("valid for     30 days"), "{}", estimate.out);
    run(d, &["plan", "job.toml", "--effort", "1", "--out", "o", "--quiet"]).ends_with(0);
    let args = ["quote", "job.toml", "--plan", "o/plan.json", "--seams", "2", "--date", "2026-11-26", "--out", "q"];
    let quote = run(d, &args).ends_with(0);
    assert!(quote.out.starts_with("Quote for Tide Hall\n"), "{}", quote.out);
    assert!(quote.out.contains("valid until   2026-12-26 (30 days)") && quote.out.ends_with("\nWritten to q\n"));
    // The same figures as worked by hand.
    assert!(quote.out.lines().any(|l| l.ends_with("1530.48") && l.contains("total, EUR")), "{}", quote.out);
    let mut names: Vec<String> =
        fs::read_dir(d.join("q")).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    assert_eq!(names, ["quote.csv", "quote.json", "quote.txt"]);
    assert_eq!(format!("{}\nWritten to q\n", fs::read_to_string(d.join("q/quote.txt")).unwrap()), quote.out);
    let told = json(&d.join("q/quote.json"));
    assert_eq!((told["format"].as_str(), told["basis"].as_str()), (Some(Quote::FORMAT), Some("plan")));
    assert_eq!(
        (&told["jobs"][0]["total"]["amount"], &told["jobs"][0]["total"]["minor"]),
        (&1530.48.into(), &153_048.into())
    );
    let csv = [&args[..8], &["--format", "csv"]].concat();
    assert_eq!(run(d, &csv).ends_with(0).out, fs::read_to_string(d.join("q/quote.csv")).unwrap());
    let printed = run(d, &[&args[..8], &["--format", "json", "--units", "in"]].concat()).ends_with(0).out;
    // Other units change the sentences and no figure.
    assert_eq!(printed.replace("0.197 in", "5 mm"), fs::read_to_string(d.join("q/quote.json")).unwrap());
    assert!(printed.contains("rounded up to 0.197 in for each piece"), "{printed}");
    let schema: Value = serde_json::from_str(&run(d, &["schema", "quote"]).ends_with(0).out).unwrap();
    assert_eq!(crate::cli::fault(&schema, &schema, &told, "quote"), None);
    let beside = run(d, &["quote", "job.toml", "--plan", "o/plan.json", "--estimate", "--quiet"]).ends_with(0);
    assert!(
        beside.out.contains("The estimate beside the plan")
            && beside.out.contains("The estimate came to the same total.")
    );
}

#[test]
fn what_is_not_priced_or_has_no_place_is_exit_code_1() {
    let dir = workplace("[rates]\n");
    let d = dir.path();
    assert!(run(d, &["quote", "job.toml"]).ends_with(1).out.contains("total of what is priced"));
    fs::write(d.join("shop.toml"), SHOP).unwrap();
    run(d, &["plan", "ferry.toml", "long.toml", "--effort", "1", "--out", "o", "--quiet"]).ends_with(1);
    let said = run(d, &["quote", "ferry.toml", "long.toml", "--plan", "o/plan.json"]).ends_with(1).out;
    assert!(said.contains("stone for plank: the plan has no place for it"), "{said}");
    // Both jobs, each with its own total.
    assert_eq!(said.matches("Quote for ").count(), 2);
    // A plan that breaks a rule.
    run(d, &["plan", "ferry.toml", "--effort", "1", "--out", "p", "--quiet"]).ends_with(0);
    let mut plan = json(&d.join("p/plan.json"));
    let placed = &mut plan["layouts"][0]["placed"][0];
    (placed["turn"], placed["shift"]) = (0.into(), vec![-50.0, -50.0].into());
    (placed["outline"], placed["openings"]) = (Vec::<Value>::new().into(), Vec::<Value>::new().into());
    fs::write(d.join("p/plan.json"), plan.to_string()).unwrap();
    let run = run(d, &["quote", "ferry.toml", "--plan", "p/plan.json"]).ends_with(1);
    assert!(run.err.contains("warning: this plan cannot be cut"), "{}", run.err);
}

#[test]
fn bad_input_is_exit_code_2_and_writes_nothing() {
    let dir = workplace(&SHOP.replace("38.50", "-38.50"));
    let d = dir.path();
    let refused = |args: &[&str], words: &str| {
        let run = run(d, args).ends_with(2);
        assert!(run.out.is_empty() && run.err.contains(words), "{words:?}\n{}", run.err);
    };
    refused(&["quote", "job.toml", "--out", "q"], "rates.edges.polished");
    fs::write(d.join("shop.toml"), SHOP).unwrap();
    refused(&["quote", "job.toml", "--out", "q", "--seams", "1,2"], "--seams");
    refused(&["quote", "job.toml", "--out", "q", "--seams", "two"], "--seams");
    refused(&["quote", "job.toml", "--out", "q", "--date", "2026-02-30"], "expected a day");
    refused(&["quote", "job.toml", "--out", "q", "--plan", "nowhere.json"], "nowhere.json");
    refused(&["quote", "job.toml", "--out", "q", "--format", "html"], "html");
    run(d, &["plan", "ferry.toml", "--effort", "1", "--out", "o", "--quiet"]).ends_with(0);
    refused(&["quote", "job.toml", "--out", "q", "--plan", "o/plan.json"], "a plan for these jobs");
    assert!(!d.join("q").exists());
}
