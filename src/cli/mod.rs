//! Arguments, settings, exit codes: reads, calls the library, prints.

mod args;
mod command;
mod cutting;
mod day;
mod earlier;
mod made;
mod manual;
mod new;
mod openings;
mod papers;
mod photos;
mod plan;
mod quote;
mod rack;
mod read;
mod take;
mod watch;

use std::io::{self as stdio, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{CommandFactory, Parser};

use crate::check;
use crate::craft;
use crate::diag::{Remark, Remarks, Severity};
use crate::io;
use crate::model::openings::Held;
use crate::model::{Finding, Grade, Layout, Plan, Question, Rule};
use crate::report::{self, Paper};
use crate::units::Shown;
use args::{CheckArgs, Format, Inputs, PaperSize, SchemaFile, Showing, seconds_from_zero};
use command::{Cli, Command};

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
        Command::Plan(args) => plan::run(&args),
        Command::Check(args) => judge(&args),
        Command::Openings(args) => openings::run(&args),
        Command::Quote(args) => quote::run(&args),
        Command::Papers(args) => papers::run(&args),
        Command::Rack(args) => rack::list(&args),
        Command::Take(args) => take::take(&args),
        Command::Undo(args) => take::undo(&args),
        Command::Read(args) => read::run(&args),
        Command::New(args) => new::run(&args),
        Command::Completions(args) => manual::completions(&args, Cli::command()),
        Command::Manual(args) => manual::run(&args, Cli::command()),
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
    load_with_folder(inputs, showing).map(|(question, shown, _)| (question, shown))
}

/// The same with the folder of the rack file, where photographs lie.
fn load_with_folder(inputs: &Inputs, showing: &Showing) -> Result<(Question, Shown, PathBuf), Remarks> {
    load_cut(inputs, showing, None)
}

/// The same for a plan in a file: slabs that it cuts and that were taken since are read as they were.
fn load_cut(inputs: &Inputs, showing: &Showing, plan: Option<&Path>) -> Result<(Question, Shown, PathBuf), Remarks> {
    let paths = io::Paths { jobs: inputs.jobs.clone(), rack: inputs.rack.clone(), shop: inputs.shop.clone() };
    let asked = showing.units.map(Shown::from);
    // What is wrong with the plan is told by those who read it.
    let plan = plan.and_then(|p| io::read_plan(p).ok());
    let cut: Vec<String> = plan.iter().flat_map(|p| &p.layouts).map(|l| l.slab.clone()).collect();
    let input = io::load_for(&paths, asked, &cut)?;
    tell(&input.remarks.0, showing.quiet);
    Ok((input.question, input.shown, input.rack_folder))
}

/// Prints remarks, without notes if it is to be quiet.
fn tell(remarks: &[Remark], quiet: bool) {
    let told: Vec<_> = remarks.iter().filter(|r| !quiet || r.severity != Severity::Note).cloned().collect();
    if !told.is_empty() {
        say(&Remarks(told).to_string());
    }
}

fn judge(args: &CheckArgs) -> Result<Exit, Remarks> {
    let (question, ..) = load_cut(&args.inputs, &args.showing, Some(&args.plan))?;
    let plan = io::read_plan(&args.plan)?;
    let findings = check::judge(&question, &plan);
    // Openings can be worked out only on a plan that can be read.
    let readable = !findings.iter().any(|f| earlier::is_unreadable(f.rule));
    let held = if readable { craft::sheets(&question, Some(&plan)).held() } else { Vec::new() };
    match args.showing.format {
        Format::Json => answer(&json(&findings)),
        Format::Text => answer(&format!("{}{}", report::held(&held), report::findings(&findings))),
    }
    tell_held(&held, args.showing.format);
    if findings.iter().any(|f| f.rule == Rule::OutlineDiffers && f.grade == Grade::Broken) {
        say(&format!("outline-differs: {}", earlier::ANEW));
    }
    Ok(if held.iter().any(Held::is_stopped) { Exit::Faulty } else { verdict(&findings) })
}

fn schema(file: SchemaFile) -> Result<Exit, Remarks> {
    let which = match file {
        SchemaFile::Job => io::Schema::Job,
        SchemaFile::Rack => io::Schema::Rack,
        SchemaFile::Shop => io::Schema::Shop,
        SchemaFile::Plan => io::Schema::Plan,
        SchemaFile::Openings => io::Schema::Openings,
        SchemaFile::Quote => io::Schema::Quote,
    };
    answer(&json(&io::schema(which)));
    Ok(Exit::Good)
}

/// Whether a plan that was judged and whose openings were worked out may be cut.
fn verdict_on(plan: &Plan) -> Exit {
    if plan.may_be_cut() { Exit::Good } else { Exit::Faulty }
}

/// Tells what stands in words on standard output where that is text; a program that reads JSON leaves it to the screen.
fn tell_held(held: &[Held], format: Format) {
    if format == Format::Json && !held.is_empty() {
        say(&format!("warning: {}", report::held(held)));
    }
}

/// Lines about what was done, without notes if it is to be quiet.
fn say_all(lines: &[String], quiet: bool) {
    lines.iter().filter(|l| !quiet || !l.starts_with("note")).for_each(|l| say(l));
}

/// Says which files of an earlier plan in the same folder are gone, so that nobody looks for them.
fn tell_removed(out: &Path, names: &[String], quiet: bool) {
    if !names.is_empty() && !quiet {
        say(&format!("note: removed from {}, as they are of an earlier plan: {}", out.display(), names.join(", ")));
    }
}

/// Whether the judge finds nothing broken. Unplaced pieces are findings too.
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

/// Name of a file about a layout (counted from 0): `slab-07-name` and an ending.
fn slab_file(layout: usize, on: &Layout, ending: &str) -> String {
    format!("slab-{:02}-{}{ending}", layout + 1, file_word(&on.slab))
}

/// True for the names that [`slab_file`] gives to files with that ending.
fn is_of_slab(name: &str, ending: &str) -> bool {
    let middle = name.strip_prefix("slab-").and_then(|rest| rest.strip_suffix(ending));
    middle.and_then(|m| m.split_once('-')).is_some_and(|(number, word)| {
        number.len() >= 2 && number.bytes().all(|b| b.is_ascii_digit()) && file_word(word) == word
    })
}
