//! Several slabs: how often the known least cost is found, and how far kitchens are from their bound.
//!
//! `cargo bench --bench slabs -- [--seconds S] [--seed N] [--threads T] [--cases N] [--of cut|kitchens|both] [--json]`
//!
//! `cut`: slabs cut into pieces, so that the least cost is known for certain (`common/cut.rs`); a run ends as soon as it is
//! reached. `kitchens`: by rule (`common/kitchens.rs`); a run ends with the time, or when the search itself ends it.
//! Every plan is judged. A broken rule, a plan cheaper than the known least cost, or a bound above it ends the bench with 1.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr, reason = "a bench")]

mod common;

use std::process::ExitCode;

use clap::{Parser, ValueEnum};
use common::make::Dice;
use common::run::{CENT, Run, cell, gap, mean, run};
use common::{cut, kitchens};
use scantling::search::Settings;
use serde::Serialize;

/// Plans jobs of several slabs and compares the cost with what is known of the least.
#[derive(Debug, Parser)]
struct Args {
    /// Seconds for each case.
    #[arg(long, default_value_t = 20.0)]
    seconds: f64,
    /// Seed of the cases and of the search.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads; 0: all cores.
    #[arg(long, default_value_t = 0)]
    threads: usize,
    /// Cases of each generator.
    #[arg(long, default_value_t = 100)]
    cases: usize,
    /// Only this case of the series.
    #[arg(long)]
    only: Option<usize>,
    /// Which cases.
    #[arg(long, value_enum, default_value_t = Of::Both)]
    of: Of,
    /// A JSON line for every case and every row, in place of the tables.
    #[arg(long)]
    json: bool,
    /// A line on standard error for every case.
    #[arg(long)]
    verbose: bool,
    /// Given by `cargo bench`.
    #[arg(long, hide = true)]
    bench: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Of {
    Cut,
    Kitchens,
    Both,
}

/// What came of one case.
#[derive(Debug, Serialize)]
struct Line {
    of: &'static str,
    case: usize,
    class: &'static str,
    pieces: usize,
    rack: usize,
    /// Slabs that were cut into pieces.
    #[serde(skip_serializing_if = "Option::is_none")]
    cut: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    waste: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    thrown_away: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    known_cost: Option<f64>,
    cost: f64,
    bound: f64,
    missing: usize,
    proven: bool,
    rounds: u64,
    seconds: f64,
    first_complete: Option<f64>,
    reached_known: Option<f64>,
    last_cheaper: Option<f64>,
    last_better: Option<f64>,
    broken: usize,
}

impl Line {
    fn new(of: &'static str, class: &'static str, case: usize, size: (usize, usize), run: &Run) -> Self {
        Self {
            of,
            case,
            class,
            pieces: size.0,
            rack: size.1,
            cut: None,
            waste: None,
            thrown_away: None,
            known_cost: None,
            cost: run.plan.cost,
            bound: run.plan.cost_bound,
            missing: run.plan.unplaced.len(),
            proven: run.plan.proven,
            rounds: run.told.last().map_or(0, |t| t.round),
            seconds: run.seconds,
            first_complete: run.first_complete(),
            reached_known: None,
            last_cheaper: run.last_cheaper(),
            last_better: run.last_better(),
            broken: run.broken.len(),
        }
    }

    fn gap(&self) -> Option<f64> {
        (self.missing == 0).then(|| gap(self.cost, self.bound))
    }
}

/// A row of a table.
#[derive(Debug, Serialize)]
struct Row {
    of: &'static str,
    row: &'static str,
    cases: usize,
    complete: f64,
    /// Share of the cases in which the known least cost was reached.
    #[serde(skip_serializing_if = "Option::is_none")]
    solved: Option<f64>,
    /// Mean time of those, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    seconds_to_known: Option<f64>,
    proven: f64,
    mean_gap: Option<f64>,
    max_gap: Option<f64>,
    first_complete: Option<f64>,
    slowest_first_complete: Option<f64>,
    last_cheaper: Option<f64>,
    last_better: Option<f64>,
}

impl Row {
    fn of(of: &'static str, row: &'static str, lines: &[&Line]) -> Self {
        let share = |n: usize| n as f64 / lines.len().max(1) as f64;
        let all = |f: fn(&Line) -> Option<f64>| lines.iter().filter_map(move |&l| f(l));
        let most = |f| all(f).reduce(f64::max);
        let known = lines.iter().any(|l| l.known_cost.is_some());
        Self {
            of,
            row,
            cases: lines.len(),
            complete: share(lines.iter().filter(|l| l.missing == 0).count()),
            solved: known.then(|| share(all(|l| l.reached_known).count())),
            seconds_to_known: mean(all(|l| l.reached_known)),
            proven: share(lines.iter().filter(|l| l.proven).count()),
            mean_gap: mean(all(Line::gap)),
            max_gap: most(Line::gap),
            first_complete: mean(all(|l| l.first_complete)),
            slowest_first_complete: most(|l| l.first_complete),
            last_cheaper: mean(all(|l| l.last_cheaper)),
            last_better: mean(all(|l| l.last_better)),
        }
    }

    fn head() {
        println!(
            "{:<9} {:<8} {:>5} {:>8} {:>7} {:>8} {:>7} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}",
            "of",
            "row",
            "cases",
            "complete",
            "solved",
            "to known",
            "proven",
            "mean gap",
            "max gap",
            "first",
            "slowest",
            "cheaper",
            "better"
        );
    }

    fn print(&self) {
        let percent = |v: Option<f64>| v.map_or("-".to_owned(), |v| format!("{:.1} %", 100.0 * v));
        println!(
            "{:<9} {:<8} {:>5} {:>8} {:>7} {:>8} {:>7} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}",
            self.of,
            self.row,
            self.cases,
            percent(Some(self.complete)),
            percent(self.solved),
            cell(self.seconds_to_known, 2),
            percent(Some(self.proven)),
            percent(self.mean_gap),
            percent(self.max_gap),
            cell(self.first_complete, 3),
            cell(self.slowest_first_complete, 3),
            cell(self.last_cheaper, 2),
            cell(self.last_better, 2),
        );
    }
}

/// Streams of random draws, so that the two generators do not share any.
const CUT: u64 = 0;
const KITCHENS: u64 = 1 << 32;

fn main() -> ExitCode {
    let args = Args::parse();
    rayon::ThreadPoolBuilder::new().num_threads(args.threads).build_global().unwrap();
    let mut wrong = false;
    let mut lines: Vec<Line> = Vec::new();
    let cases = || (0..args.cases).filter(|c| args.only.is_none_or(|o| o == *c));
    if args.of != Of::Kitchens {
        lines.extend(cases().map(|c| cut_case(&args, c, &mut wrong)));
    }
    if args.of != Of::Cut {
        lines.extend(cases().map(|c| kitchens_case(&args, c, &mut wrong)));
    }
    if !args.json {
        Row::head();
    }
    for of in ["cut", "kitchens"] {
        let own: Vec<&Line> = lines.iter().filter(|l| l.of == of).collect();
        let classes = cut::CLASSES.iter().map(|c| c.name).filter(|_| of == "cut");
        for class in classes.chain(["all"]) {
            let rows: Vec<&Line> = own.iter().copied().filter(|l| class == "all" || l.class == class).collect();
            if rows.is_empty() {
                continue;
            }
            let row = Row::of(of, class, &rows);
            if args.json {
                println!("{}", serde_json::to_string(&row).unwrap());
            } else {
                row.print();
            }
        }
    }
    if wrong { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

fn settings(args: &Args) -> Settings {
    Settings { seed: args.seed, ..Settings::default() }
}

/// Classes take turns, so that any number of cases has its share of each.
fn cut_case(args: &Args, case: usize, wrong: &mut bool) -> Line {
    let class = cut::CLASSES[case % cut::CLASSES.len()];
    let made = cut::case(&mut Dice::new(args.seed, CUT + case as u64), class);
    let question = &made.question;
    let run = run(question, &settings(args), Some(args.seconds), |t| t.missing == 0 && t.cost <= made.cost + CENT);
    let size = (question.pieces().count(), question.rack.len());
    let line = Line {
        cut: Some(made.slabs),
        waste: Some(made.waste),
        thrown_away: Some(made.thrown_away),
        known_cost: Some(made.cost),
        reached_known: run.reached(made.cost),
        ..Line::new("cut", class.name, case, size, &run)
    };
    let name = format!("cut case {case}");
    *wrong |= run.complain(&name);
    if line.missing == 0 && line.cost < made.cost - CENT {
        eprintln!("{name}: a plan costs {}, and none can cost less than {}", line.cost, made.cost);
        *wrong = true;
    }
    // The bound holds for plans that place everything; one with pieces missing may cost less.
    let bounds = run.told.iter().map(|t| t.bound).chain([line.bound]);
    if let Some(bound) = bounds.reduce(f64::max).filter(|&b| b > made.cost + CENT) {
        eprintln!("{name}: the bound is {bound}, and a plan of {} is known", made.cost);
        *wrong = true;
    }
    tell(args, &line);
    line
}

fn kitchens_case(args: &Args, case: usize, wrong: &mut bool) -> Line {
    let mut dice = Dice::new(args.seed, KITCHENS + case as u64);
    let (pieces, slabs) = (6 + dice.below(10), 8 + dice.below(9));
    let question = kitchens::kitchens(&mut dice, pieces, slabs);
    let run = run(&question, &settings(args), Some(args.seconds), |_| false);
    *wrong |= run.complain(&format!("kitchens case {case}"));
    for lost in &run.plan.unplaced {
        eprintln!("kitchens case {case}: {} of {} has no place: {}", lost.piece, lost.job, lost.reason);
    }
    let line = Line::new("kitchens", "all", case, (pieces, slabs), &run);
    tell(args, &line);
    line
}

fn tell(args: &Args, line: &Line) {
    if args.json {
        println!("{}", serde_json::to_string(line).unwrap());
    }
    if args.verbose {
        let known = line.known_cost.map_or(String::new(), |k| format!(", known {k:.0}"));
        eprintln!(
            "{} {}: {}, {} pieces x {} slabs, missing {}, cost {:.0}{known}, bound {:.0}, reached {} s of {:.1} s",
            line.of,
            line.case,
            line.class,
            line.pieces,
            line.rack,
            line.missing,
            line.cost,
            line.bound,
            cell(line.reached_known, 2),
            line.seconds
        );
    }
}
