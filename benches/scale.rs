//! How the search scales: 12 x 20, 40 x 60 and 200 x 500 pieces x slabs.
//!
//! `cargo bench --bench scale -- [--seconds S] [--seed N] [--threads T] [--sizes tea-house,12x20,...] [--json]`
//!
//! Time to the first complete plan, gap between cost and bound at 10 s and 60 s, peak memory, and the speed-up from one thread
//! to two at equal effort. Every measurement has a child process of its own, so that peaks of memory do not add up; one that
//! does not end in good time is ended, and says so. Every plan is judged; a broken rule, or plans that differ with the number
//! of threads, end the bench with 1.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::disallowed_methods,
    reason = "a bench"
)]

mod common;

use std::io::Read;
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use clap::{Parser, ValueEnum};
use common::kitchens::{kitchens, tea_house};
use common::make::Dice;
use common::run::{Told, cell, run};
use scantling::model::{Plan, Question};
use scantling::search::Settings;
use serde::{Deserialize, Serialize};

/// Measures the search on questions of growing size.
#[derive(Clone, Debug, Parser)]
struct Args {
    /// Seconds for the long run, at most; a quarter of it for each run that measures the speed-up.
    #[arg(long, default_value_t = 60.0)]
    seconds: f64,
    /// Seed of the questions and of the search.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads, but where the speed-up is measured; 0: all cores.
    #[arg(long, default_value_t = 0)]
    threads: usize,
    /// Pieces x slabs, or the tea house.
    #[arg(long, value_delimiter = ',', default_value = "tea-house,12x20,40x60,200x500")]
    sizes: Vec<String>,
    /// JSON lines in place of the table.
    #[arg(long)]
    json: bool,
    /// This process is a child that makes one measurement.
    #[arg(long, hide = true)]
    measure: Option<Measure>,
    /// Rounds of the run of two threads.
    #[arg(long, hide = true)]
    rounds: Option<u64>,
    /// Given by `cargo bench`.
    #[arg(long, hide = true)]
    bench: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Measure {
    /// Until the first complete plan.
    First,
    /// Until the seconds are over.
    Long,
    /// Rounds for a time, or as many rounds as are given.
    Rounds,
}

/// What a child says.
#[derive(Debug, Serialize, Deserialize)]
struct Answer {
    first_complete: Option<f64>,
    /// From the question to the plan.
    seconds: f64,
    gap_at_10: Option<f64>,
    gap_at_60: Option<f64>,
    cost: f64,
    bound: f64,
    missing: usize,
    rounds: u64,
    /// When the last round was told.
    last_told: Option<f64>,
    /// Fingerprint of the layouts.
    layouts: u64,
    peak_mib: Option<f64>,
    broken: usize,
}

/// A row of the table.
#[derive(Debug, Serialize)]
struct Row {
    size: String,
    /// When the first complete plan was told, s.
    first_complete: Option<f64>,
    /// The same with the plan written out, s.
    first_written: Option<f64>,
    gap_at_10: Option<f64>,
    gap_at_60: Option<f64>,
    cost: Option<f64>,
    bound: Option<f64>,
    missing: Option<usize>,
    /// Of the run to the first complete plan, and of the long one.
    first_peak_mib: Option<f64>,
    peak_mib: Option<f64>,
    /// Rounds by which the speed-up was measured; the times are those of one thread and of two.
    rounds: Option<u64>,
    seconds_1: Option<f64>,
    seconds_2: Option<f64>,
    speed_up: Option<f64>,
}

fn main() -> ExitCode {
    let args = Args::parse();
    if let Some(measure) = args.measure {
        println!("{}", serde_json::to_string(&measured(&args, measure)).unwrap());
        return ExitCode::SUCCESS;
    }
    if !args.json {
        println!(
            "{:<10} {:>8} {:>8} {:>9} {:>9} {:>7} {:>9} {:>9} {:>7} {:>8} {:>8} {:>8}",
            "size",
            "first",
            "written",
            "gap 10 s",
            "gap 60 s",
            "missing",
            "MiB first",
            "MiB long",
            "rounds",
            "1 thread",
            "2",
            "speed-up"
        );
    }
    let mut wrong = false;
    for size in &args.sizes {
        let row = row(&args, size, &mut wrong);
        if args.json {
            println!("{}", serde_json::to_string(&row).unwrap());
        } else {
            row.print();
        }
    }
    if wrong { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// The question of a size: `tea-house`, or pieces x slabs of kitchens by rule.
fn question(size: &str, seed: u64) -> Question {
    if size == "tea-house" {
        return tea_house();
    }
    let (pieces, slabs) = size.split_once('x').expect("a size is pieces x slabs, as in 12x20");
    let number = |text: &str| text.parse::<usize>().expect("a size is pieces x slabs, as in 12x20");
    let (pieces, slabs) = (number(pieces), number(slabs));
    kitchens(&mut Dice::new(seed, (pieces * 10_000 + slabs) as u64), pieces, slabs)
}

// ---- the child

fn measured(args: &Args, measure: Measure) -> Answer {
    rayon::ThreadPoolBuilder::new().num_threads(args.threads).build_global().unwrap();
    let question = question(&args.sizes[0], args.seed);
    let settings = Settings { seed: args.seed, rounds: args.rounds, ..Settings::default() };
    let run = match measure {
        // However long it takes: the parent ends what takes too long.
        Measure::First => run(&question, &settings, None, |t| t.missing == 0),
        Measure::Long => run(&question, &settings, Some(args.seconds), |_| false),
        Measure::Rounds if args.rounds.is_some() => run(&question, &settings, None, |_| false),
        Measure::Rounds => {
            // At least one round, whatever it takes, so that there is something to repeat.
            let enough = |t: &Told| t.seconds >= args.seconds;
            run(&question, &settings, None, enough)
        }
    };
    run.complain(&format!("{} {measure:?}", args.sizes[0]));
    for lost in run.plan.unplaced.iter().filter(|_| measure == Measure::Long) {
        eprintln!("{}: {} of {} has no place: {}", args.sizes[0], lost.piece, lost.job, lost.reason);
    }
    let last = run.told.last();
    let gap_by = |seconds: f64| run.by(seconds).and_then(Told::gap);
    Answer {
        first_complete: run.first_complete(),
        seconds: run.seconds,
        gap_at_10: gap_by(10.0),
        gap_at_60: gap_by(60.0),
        cost: run.plan.cost,
        bound: run.plan.cost_bound,
        missing: run.plan.unplaced.len(),
        rounds: last.map_or(0, |t| t.round),
        last_told: last.map(|t| t.seconds),
        layouts: fingerprint(&run.plan),
        peak_mib: peak_mib("self"),
        broken: run.broken.len(),
    }
}

/// FNV-1a of the layouts as they would be written.
fn fingerprint(plan: &Plan) -> u64 {
    let text = serde_json::to_string(&plan.layouts).unwrap();
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

/// Peak memory of a process by the kernel's book, where there is one.
fn peak_mib(process: &str) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kib| kib / 1024.0)
}

// ---- the parent

fn row(args: &Args, size: &str, wrong: &mut bool) -> Row {
    let first = child(args, size, Measure::First, args.threads, None, wrong);
    let long = child(args, size, Measure::Long, args.threads, None, wrong);
    let one = child(args, size, Measure::Rounds, 1, None, wrong);
    let two = one.as_ref().and_then(|a| child(args, size, Measure::Rounds, 2, Some(a.rounds), wrong));
    if let (Some(one), Some(two)) = (&one, &two)
        && (one.rounds, one.layouts) != (two.rounds, two.layouts)
    {
        eprintln!("{size}: {} rounds give another plan by two threads than by one", one.rounds);
        *wrong = true;
    }
    let told = |a: &Option<Answer>| a.as_ref().and_then(|a| a.last_told);
    let (seconds_1, seconds_2) = (told(&one), told(&two));
    Row {
        size: size.to_owned(),
        first_complete: first.as_ref().and_then(|a| a.first_complete),
        first_written: first.as_ref().filter(|a| a.missing == 0).map(|a| a.seconds),
        gap_at_10: long.as_ref().and_then(|a| a.gap_at_10),
        gap_at_60: long.as_ref().and_then(|a| a.gap_at_60),
        cost: long.as_ref().map(|a| a.cost),
        bound: long.as_ref().map(|a| a.bound),
        missing: long.as_ref().map(|a| a.missing),
        first_peak_mib: first.as_ref().and_then(|a| a.peak_mib),
        peak_mib: long.as_ref().and_then(|a| a.peak_mib),
        rounds: two.as_ref().map(|a| a.rounds),
        seconds_1,
        seconds_2,
        speed_up: seconds_1.zip(seconds_2).map(|(a, b)| a / b),
    }
}

/// Makes one measurement in a child; none if it does not end in good time.
fn child(
    args: &Args,
    size: &str,
    measure: Measure,
    threads: usize,
    rounds: Option<u64>,
    wrong: &mut bool,
) -> Option<Answer> {
    let name = measure.to_possible_value().unwrap();
    let seconds = if measure == Measure::Rounds { args.seconds / 4.0 } else { args.seconds };
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--measure", name.get_name(), "--sizes", size]).stdout(Stdio::piped());
    command.args(["--seconds", &seconds.to_string(), "--seed", &args.seed.to_string()]);
    command.args(["--threads", &threads.to_string()]);
    if let Some(rounds) = rounds {
        command.args(["--rounds", &rounds.to_string()]);
    }
    let mut child = command.spawn().unwrap();
    let peak = ended_by(&mut child, Duration::from_secs_f64(2.0 * args.seconds + 30.0));
    if let Err(peak) = peak {
        eprintln!(
            "{size} {}: ended after {:.0} s at {} MiB",
            name.get_name(),
            2.0 * args.seconds + 30.0,
            cell(peak, 0)
        );
        return None;
    }
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    let answer: Answer = serde_json::from_str(&text).expect("a child answers with one line");
    *wrong |= answer.broken > 0;
    Some(answer)
}

/// Waits for a child. If it has not ended in time it is ended, and its peak memory told.
fn ended_by(child: &mut Child, limit: Duration) -> Result<(), Option<f64>> {
    let start = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if start.elapsed() > limit {
            let peak = peak_mib(&child.id().to_string());
            child.kill().unwrap();
            child.wait().unwrap();
            return Err(peak);
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}

impl Row {
    fn print(&self) {
        let percent = |v: Option<f64>| v.map_or("-".to_owned(), |v| format!("{:.1} %", 100.0 * v));
        println!(
            "{:<10} {:>8} {:>8} {:>9} {:>9} {:>7} {:>9} {:>9} {:>7} {:>8} {:>8} {:>8}",
            self.size,
            cell(self.first_complete, 3),
            cell(self.first_written, 3),
            percent(self.gap_at_10),
            percent(self.gap_at_60),
            self.missing.map_or("-".to_owned(), |n| n.to_string()),
            cell(self.first_peak_mib, 0),
            cell(self.peak_mib, 0),
            self.rounds.map_or("-".to_owned(), |n| n.to_string()),
            cell(self.seconds_1, 2),
            cell(self.seconds_2, 2),
            cell(self.speed_up, 2),
        );
    }
}
