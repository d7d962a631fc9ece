//! `scantling quote`: what jobs cost, as text, JSON or CSV.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::args::{Format, Inputs, Showing, Units};
use super::{Exit, answer, earlier, json, load_cut, say};
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::model::openings::Held;
use crate::model::quote::Quote;
use crate::model::{Grade, Plan, Question, Rule};
use crate::quote::{Day, Wish};
use crate::report::quote as report;
use crate::units::Shown;
use crate::{check, craft, io, quote};

/// `scantling quote`.
#[derive(Debug, Args)]
pub struct QuoteArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// The plan that says which slabs are cut; without one the stone is estimated
    #[arg(long, value_name = "PLAN")]
    pub plan: Option<PathBuf>,
    /// Estimate the stone from area and usual waste; beside a plan, show how far off that was
    #[arg(long)]
    pub estimate: bool,
    /// Number of seams, which job files do not say; for several jobs one number each, with commas
    #[arg(long, value_name = "N", value_delimiter = ',', value_parser = clap::value_parser!(u32).range(0..=1000))]
    pub seams: Vec<u32>,
    /// The day of the quote, from which it is valid
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub date: Option<Day>,
    /// Folder for quote.txt, quote.json and quote.csv; without it nothing is written
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Results on standard output as text, JSON or CSV
    #[arg(long, value_enum, default_value_t = QuoteFormat::Text)]
    pub format: QuoteFormat,
    /// No notes on standard error
    #[arg(long)]
    pub quiet: bool,
    /// Units for people; by default those of the first job. Amounts do not depend on them
    #[arg(long, value_enum)]
    pub units: Option<Units>,
}

/// Form of the quote.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum QuoteFormat {
    /// For people
    Text,
    /// For programs
    Json,
    /// For spreadsheets
    Csv,
}

pub(super) fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| "expected a day as YYYY-MM-DD, from 1900-01-01 on".to_owned())
}

pub(super) fn run(args: &QuoteArgs) -> Result<Exit, Remarks> {
    let showing = Showing { format: Format::Text, quiet: args.quiet, units: args.units };
    let (question, shown, _) = load_cut(&args.inputs, &showing, args.plan.as_deref())?;
    let jobs = question.jobs.len();
    if !args.seams.is_empty() && args.seams.len() != jobs {
        let given = format!("{} for {jobs} jobs", args.seams.len());
        let fix = "give one number for each job, in their order, parted by commas";
        let remark = Remark::about_file(Severity::Error, Kind::WrongCount, "--seams", given, "one number a job", fix);
        return Err(remark.into());
    }
    let plan = args.plan.as_deref().map(|path| earlier::read_placed(path, &question)).transpose()?;
    let openings = craft::sheets(&question, plan.as_ref());
    let wish = Wish {
        question: &question,
        plan: plan.as_ref(),
        openings: &openings,
        seams: &args.seams,
        compare: args.estimate,
        date: args.date,
    };
    let quote = make(&wish)?;
    if let Some(out) = &args.out {
        for (name, bytes) in files(&quote, shown) {
            io::write_atomically(&out.join(name), &bytes)?;
        }
    }
    match args.format {
        QuoteFormat::Text => {
            let written = args.out.as_ref().map(|out| format!("\nWritten to {}\n", out.display()));
            answer(&format!("{}{}", report::text(&quote, shown), written.unwrap_or_default()));
        }
        QuoteFormat::Json => answer(&json(&quote)),
        QuoteFormat::Csv => answer(&String::from_utf8_lossy(&report::csv::print(&quote))),
    }
    let broken = plan.as_ref().map_or(0, |p| broken(&question, p));
    if broken > 0 {
        let places = if broken == 1 { "one place".to_owned() } else { format!("{broken} places") };
        say(&format!("warning: this plan cannot be cut, it breaks rules in {places}; `scantling check` says where"));
    }
    let unplaced = quote.jobs.iter().any(|j| !j.unplaced.is_empty());
    let stopped = openings.held().iter().any(Held::is_stopped);
    Ok(if quote.is_complete() && !unplaced && broken == 0 && !stopped { Exit::Good } else { Exit::Faulty })
}

/// How many rules a plan breaks, pieces without a place aside.
fn broken(question: &Question, plan: &Plan) -> usize {
    let findings = check::judge(question, plan);
    findings.iter().filter(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced).count()
}

/// The quote of jobs.
///
/// # Errors
/// The line whose amount is beyond all range.
pub(super) fn make(wish: &Wish<'_>) -> Result<Quote, Remarks> {
    quote::quote(wish).map_err(|too_large| {
        let fix = "check the rates of the shop file and the prices of the rack";
        let expected = "amounts of at most sixteen digits";
        Remark::about_file(Severity::Error, Kind::OutOfRange, "quote", too_large.to_string(), expected, fix).into()
    })
}

/// The names of the files of a quote.
pub(super) const NAMES: [&str; 3] = ["quote.txt", "quote.json", "quote.csv"];

/// The files of a quote: their names and what is in them.
pub(super) fn files(quote: &Quote, shown: Shown) -> Vec<(String, Vec<u8>)> {
    let contents = [report::text(quote, shown).into_bytes(), json(quote).into_bytes(), report::csv::print(quote)];
    NAMES.iter().map(|n| (*n).to_owned()).zip(contents).collect()
}
