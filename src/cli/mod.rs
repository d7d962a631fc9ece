//! Arguments, settings, exit codes: reads, calls the library, prints.

mod args;
mod earlier;
mod new;
mod openings;
mod papers;
mod quote;
mod rack;
mod read;
mod watch;

use std::io::{self as stdio, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;
use rayon::prelude::*;

use crate::check;
use crate::craft;
use crate::diag::{Remarks, Severity};
use crate::io;
use crate::model::{Finding, Goal, Grade, Plan, Question};
use crate::report::{self, Paper};
use crate::search::{self, Watch as _};
use crate::units::Shown;
use args::{CheckArgs, Cli, Command, FirstGoal, Format, Inputs, PaperSize, PlanArgs, SchemaFile, Showing, Units};

/// Rounds of search when neither a time nor an effort is asked for.
const DEFAULT_ROUNDS: u64 = 8;

/// What the program ends with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Exit {
    /// All pieces placed and no rule broken.
    Good,
    /// The command ran, and something is unplaced or broken.
    Faulty,
    /// The input or the usage is wrong, or a file could not be read or written.
    Unusable,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Good => 0,
            Exit::Faulty => 1,
            Exit::Unusable => 2,
        })
    }
}

/// Runs the program with the arguments of the process.
#[must_use]
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(e) => {
            // Help and version are answers (0), everything else is wrong usage (2).
            let code = if e.use_stderr() { Exit::Unusable } else { Exit::Good };
            let _ = e.print();
            return code.into();
        }
    };
    let done = match cli.command {
        Command::Plan(args) => plan(&args),
        Command::Check(args) => judge(&args),
        Command::Openings(args) => openings::run(&args),
        Command::Quote(args) => quote::run(&args),
        Command::Papers(args) => papers::run(&args),
        Command::Rack(args) => rack::list(&args),
        Command::Take(args) => rack::take(&args),
        Command::Undo(args) => rack::undo(&args),
        Command::Read(args) => read::run(&args),
        Command::New(args) => new::run(&args),
        Command::Schema { file } => schema(file),
    };
    match done {
        Ok(exit) => exit.into(),
        Err(remarks) => {
            say(&remarks.to_string());
            Exit::Unusable.into()
        }
    }
}

/// The report as text, and as a page for a browser.
const TEXT_FILE: &str = "report.txt";
const PAGE_FILE: &str = "report.html";

/// Where `--explain` writes why no plan can cost less than its bound.
const PROOF_FILE: &str = "certificate.txt";

/// Prints the answer. A reader that has gone away wants no more: that is no error.
fn answer(text: &str) {
    let mut out = stdio::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

/// Prints something about the answer.
fn say(text: &str) {
    let mut err = stdio::stderr().lock();
    let _ = err.write_all(text.as_bytes());
    if !text.ends_with('\n') {
        let _ = err.write_all(b"\n");
    }
}

fn load(inputs: &Inputs, showing: &Showing) -> Result<(Question, Shown), Remarks> {
    let paths = io::Paths { jobs: inputs.jobs.clone(), rack: inputs.rack.clone(), shop: inputs.shop.clone() };
    let input = io::load(&paths)?;
    let told: Vec<_> =
        input.remarks.0.iter().filter(|r| !showing.quiet || r.severity != Severity::Note).cloned().collect();
    if !told.is_empty() {
        say(&Remarks(told).to_string());
    }
    let shown = match showing.units {
        Some(Units::Mm) => Shown::Mm,
        Some(Units::In) => Shown::In,
        None => input.shown,
    };
    Ok((input.question, shown))
}

fn plan(args: &PlanArgs) -> Result<Exit, Remarks> {
    let (question, shown) = load(&args.inputs, &args.showing)?;
    let rounds = args.effort.or_else(|| args.seconds.is_none().then_some(DEFAULT_ROUNDS));
    let console = watch::Console::new(args.seconds, rounds, args.showing.quiet);
    let settings = settings(args, rounds, &question)?;
    let solve = || search::solve(&question, &settings, &console);
    let threads = args.threads.and_then(|n| usize::try_from(n).ok()).unwrap_or(0);
    // Without a pool of our own (no threads to be had) the search runs on rayon's; the plan is the same.
    let mut found = match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(solve),
        Err(_) => solve(),
    };
    console.finish();
    judge_all(&question, &mut found);
    let search::Answer { plan, alternatives, certificate } = found;
    let out = args.out.clone().unwrap_or_else(|| default_folder("plan", &args.inputs.jobs, &plan.jobs));
    let proof = args.explain.then(|| certificate.text(&question));
    let texts = Texts { proof: proof.as_deref(), shown, paper: args.paper };
    let text = write_all(&out, &question, &plan, &alternatives, &texts)?;
    match args.showing.format {
        Format::Json if args.alternatives > 0 => answer(&json(&Printed { plan: &plan, alternatives: &alternatives })),
        Format::Json => answer(&json(&plan)),
        Format::Text => answer(&format!("{text}\nWritten to {}\n", out.display())),
    }
    if console.stop() && !args.showing.quiet {
        match plan.effort {
            Some(n) => {
                let rounds = if n == 1 { "round" } else { "rounds" };
                say(&format!("stopped after {n} {rounds}; --effort {n} --seed {} repeats this plan", plan.seed));
            }
            None => say("stopped within the first round; no --effort repeats this plan"),
        }
    }
    Ok(verdict(&plan.findings))
}

/// What the search is to do.
fn settings(args: &PlanArgs, rounds: Option<u64>, question: &Question) -> Result<search::Settings, Remarks> {
    let goal = match args.goal {
        FirstGoal::Cost => Goal::Cost,
        FirstGoal::Offcut => Goal::Offcut,
        FirstGoal::Margin => Goal::Margin,
    };
    let from = args.from.as_deref().map(|path| earlier::read(path, question)).transpose()?;
    Ok(search::Settings { seed: args.seed, rounds, goal, alternatives: usize::from(args.alternatives), from })
}

/// Has all plans judged. An alternative that breaks a rule is none.
fn judge_all(question: &Question, found: &mut search::Answer) {
    let mut all = vec![&mut found.plan];
    all.extend(&mut found.alternatives);
    all.into_par_iter().for_each(|plan| plan.findings = check::judge(question, plan));
    found.alternatives.retain(|plan| verdict(&plan.findings) == Exit::Good);
}

/// The best plan with others beside it, as printed.
#[derive(serde::Serialize)]
struct Printed<'p> {
    #[serde(flatten)]
    plan: &'p Plan,
    alternatives: &'p [Plan],
}

fn judge(args: &CheckArgs) -> Result<Exit, Remarks> {
    let (question, shown) = load(&args.inputs, &args.showing)?;
    let plan = io::read_plan(&args.plan)?;
    let findings = check::judge(&question, &plan);
    match args.showing.format {
        Format::Json => answer(&json(&findings)),
        Format::Text => answer(&report::findings(&findings, shown)),
    }
    Ok(verdict(&findings))
}

fn schema(file: SchemaFile) -> Result<Exit, Remarks> {
    let which = match file {
        SchemaFile::Job => io::Schema::Job,
        SchemaFile::Rack => io::Schema::Rack,
        SchemaFile::Shop => io::Schema::Shop,
        SchemaFile::Plan => io::Schema::Plan,
        SchemaFile::Openings => io::Schema::Openings,
    };
    answer(&json(&io::schema(which)));
    Ok(Exit::Good)
}

/// Unplaced pieces are findings too, so the findings tell all.
fn verdict(findings: &[Finding]) -> Exit {
    if findings.iter().any(|f| f.grade == Grade::Broken) { Exit::Faulty } else { Exit::Good }
}

fn json<T: serde::Serialize>(value: &T) -> String {
    // Our own types serialise without fail: no maps with odd keys, no failing writers.
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}

/// `plan-NAME` or the like beside the first job.
fn default_folder(what: &str, jobs: &[PathBuf], names: &[String]) -> PathBuf {
    let name: Vec<String> = names.iter().take(3).map(|j| file_word(j)).collect();
    let more = if names.len() > 3 { format!("-and-{}-more", names.len() - 3) } else { String::new() };
    let beside = jobs.first().and_then(|j| j.parent()).unwrap_or_else(|| Path::new(""));
    beside.join(format!("{what}-{}{more}", name.join("-")))
}

/// The paper that is asked for, or the one that goes with the units.
const fn paper(asked: Option<PaperSize>, shown: Shown) -> Paper {
    match (asked, shown) {
        (Some(PaperSize::A4), _) | (None, Shown::Mm) => Paper::A4,
        (Some(PaperSize::A3), _) => Paper::A3,
        (Some(PaperSize::Letter), _) | (None, Shown::In) => Paper::Letter,
        (Some(PaperSize::Tabloid), _) => Paper::Tabloid,
    }
}

/// Lower-case letters and digits with single hyphens between; "x" if nothing is left.
fn file_word(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') && !out.is_empty() {
            out.push('-');
        }
    }
    let out: String = out.trim_end_matches('-').chars().take(60).collect();
    if out.is_empty() { "x".to_owned() } else { out }
}

/// What is written beside the plans, and how.
#[derive(Clone, Copy)]
struct Texts<'t> {
    /// Why no plan can cost less, if that is asked for.
    proof: Option<&'t str>,
    shown: Shown,
    paper: Option<PaperSize>,
}

/// Writes a plan and those beside it, each into a folder of its own; the answer is the report of the first.
fn write_all(
    out: &Path,
    question: &Question,
    plan: &Plan,
    alternatives: &[Plan],
    how: &Texts<'_>,
) -> Result<String, Remarks> {
    /// The last number that an alternative can have.
    const LAST: usize = 10;
    let mut all = vec![plan];
    all.extend(alternatives);
    let text = report::summary(question, plan, how.shown) + &report::comparison(question, &all, how.shown);
    write_results(out, question, plan, &text, how)?;
    write_page(out, question, plan, alternatives, how)?;
    let folder = |number: usize| out.join(format!("alternative-{number}"));
    for (i, other) in alternatives.iter().enumerate() {
        let text = report::summary(question, other, how.shown);
        // The proof is about all plans, and stands beside the best one.
        write_results(&folder(i + 2), question, other, &text, &Texts { proof: None, ..*how })?;
        write_page(&folder(i + 2), question, other, &[], how)?;
    }
    // Those of an earlier run in the same folder must not be taken for this one's.
    for number in alternatives.len() + 2..=LAST {
        let stale = folder(number);
        io::remove_files(&stale, |name| is_drawing(name) || [TEXT_FILE, PAGE_FILE, "plan.json"].contains(&name))?;
        io::remove_if_empty(&stale);
    }
    Ok(text)
}

fn write_results(out: &Path, question: &Question, plan: &Plan, text: &str, how: &Texts<'_>) -> Result<(), Remarks> {
    let Texts { proof, shown, paper: asked } = *how;
    let settings = report::Settings { shown, paper: paper(asked, shown) };
    let drawings: Vec<String> = plan
        .layouts
        .iter()
        .enumerate()
        .map(|(i, layout)| format!("slab-{:02}-{}.svg", i + 1, file_word(&layout.slab)))
        .collect();
    for (i, name) in drawings.iter().enumerate() {
        io::write_atomically(&out.join(name), report::layout_svg(question, plan, i, &settings).as_bytes())?;
    }
    io::write_atomically(&out.join(TEXT_FILE), text.as_bytes())?;
    io::write_atomically(&out.join("plan.json"), json(plan).as_bytes())?;
    if let Some(proof) = proof {
        io::write_atomically(&out.join(PROOF_FILE), proof.as_bytes())?;
    }
    // Drawings and proofs of an earlier plan in the same folder must not be taken for this one's. They go last, so that
    // nothing is lost where this plan cannot be written.
    let stale = |name: &str| is_drawing(name) && !drawings.iter().any(|d| d == name);
    io::remove_files(out, |name| stale(name) || (name == PROOF_FILE && proof.is_none()))
}

/// Writes the report as a page for a browser, with the sheets of the openings as they lie in this plan.
fn write_page(
    out: &Path,
    question: &Question,
    plan: &Plan,
    alternatives: &[Plan],
    how: &Texts<'_>,
) -> Result<(), Remarks> {
    let settings = report::Settings { shown: how.shown, paper: paper(how.paper, how.shown) };
    let openings = craft::sheets(question, Some(plan));
    let page = report::page::html(question, plan, alternatives, &openings, &settings);
    io::write_atomically(&out.join(PAGE_FILE), page.as_bytes())
}

/// True for the names that we give to drawings: `slab-07-name.svg`. Other files of the folder are the user's.
fn is_drawing(name: &str) -> bool {
    let middle = name.strip_prefix("slab-").and_then(|rest| rest.strip_suffix(".svg"));
    middle.and_then(|m| m.split_once('-')).is_some_and(|(number, word)| {
        number.len() >= 2 && number.bytes().all(|b| b.is_ascii_digit()) && file_word(word) == word
    })
}
