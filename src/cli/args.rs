//! Arguments that commands share, and those of `plan`, `check`, `openings` and `schema`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::quote::Day;
use crate::units::Shown;

/// Files that have a schema.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum SchemaFile {
    /// job.toml
    Job,
    /// rack.toml
    Rack,
    /// shop.toml
    Shop,
    /// plan.json
    Plan,
    /// openings.json
    Openings,
    /// quote.json
    Quote,
}

/// Which files to read.
#[derive(Debug, Args)]
pub struct Inputs {
    /// Job files; several are planned together on one rack
    #[arg(value_name = "JOB", required = true)]
    pub jobs: Vec<PathBuf>,
    /// The rack, in place of the one that the job names
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// The shop, in place of the one that the job names
    #[arg(long, value_name = "FILE")]
    pub shop: Option<PathBuf>,
}

/// How to show results.
#[derive(Debug, Args)]
pub struct Showing {
    /// Results on standard output as text or JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// No progress and no notes on standard error
    #[arg(long)]
    pub quiet: bool,
    /// Units for people; by default those of the first job
    #[arg(long, value_enum)]
    pub units: Option<Units>,
}

/// Form of the results.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// For programs
    Json,
}

/// Units for people.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Units {
    /// Millimetres, square metres
    Mm,
    /// Inches, square feet: to the nearest 1/16, in sentences decimal
    In,
}

impl From<Units> for Shown {
    fn from(units: Units) -> Self {
        match units {
            Units::Mm => Self::Mm,
            Units::In => Self::In,
        }
    }
}

/// What counts first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FirstGoal {
    /// The least price of the slabs that are cut
    Cost,
    /// The least price of the slabs that are cut, less the worth of their offcuts
    Offcut,
    /// The widest margin between flaws and zones that may not touch them
    Margin,
}

/// Paper for drawings, landscape.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum PaperSize {
    /// 297 × 210 mm
    A4,
    /// 420 × 297 mm
    A3,
    /// 11 × 8.5 in
    Letter,
    /// 17 × 11 in
    Tabloid,
}

/// `scantling plan`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// Folder for the results [default: plan-NAME beside the first job]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// The day of the quote, from which it is valid
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::quote::day)]
    pub date: Option<Day>,
    /// Seed of the search
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Threads [default: one a core]; they change the speed, never the plan
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=1024))]
    pub threads: Option<u64>,
    /// Search for this long at most; the best plan so far is kept
    #[arg(long, value_name = "S", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// Rounds of search at most: the same seed and effort give the same bytes [default: 8, or no limit with --seconds]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub effort: Option<u64>,
    /// What counts first once every piece has a place
    #[arg(long, value_enum, default_value_t = FirstGoal::Cost)]
    pub goal: FirstGoal,
    /// Other plans to show beside the best, at most: on other slabs, or with a better offcut or a wider margin
    #[arg(long, value_name = "K", default_value_t = 0, value_parser = clap::value_parser!(u8).range(0..=9))]
    pub alternatives: u8,
    /// Go on from an earlier plan; its placements with "pinned": true stay where they are
    #[arg(long, value_name = "PLAN")]
    pub from: Option<PathBuf>,
    /// Write certificate.txt too: which sets of slabs were refuted, and by what
    #[arg(long)]
    pub explain: bool,
    /// Paper for the drawings [default: a4, or letter with inches]
    #[arg(long, value_enum)]
    pub paper: Option<PaperSize>,
    /// Leave the photographs of slabs out of drawings, and write no pictures of pieces
    #[arg(long)]
    pub plain: bool,
    /// Write the papers of the plan too: sheets, labels, templates
    #[arg(long)]
    pub papers: bool,
    /// Write the full-size templates also over pages of this paper, to be glued together
    #[arg(long, value_enum, requires = "papers")]
    pub tiles: Option<TilePaper>,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// `scantling check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// The plan to judge
    #[arg(long, value_name = "PLAN")]
    pub plan: PathBuf,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// Paper over which a full-size template is tiled.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum TilePaper {
    /// 297 × 210 mm
    A4,
    /// 11 × 8.5 in
    Letter,
}

impl TilePaper {
    /// The paper, and its name in file names.
    #[must_use]
    pub const fn paper(self) -> (crate::report::Paper, &'static str) {
        match self {
            Self::A4 => (crate::report::Paper::A4, "a4"),
            Self::Letter => (crate::report::Paper::Letter, "letter"),
        }
    }
}

/// `scantling openings`.
#[derive(Debug, Args)]
pub struct OpeningsArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// A plan: each opening is shown as it lies on its slab, with the flaws round it
    #[arg(long, value_name = "PLAN")]
    pub plan: Option<PathBuf>,
    /// Folder for the results [default: openings-NAME beside the first job]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Paper for the sheets [default: a4, or letter with inches]
    #[arg(long, value_enum)]
    pub paper: Option<PaperSize>,
    /// Write each template also as a PDF over pages of this paper, to be glued together
    #[arg(long, value_enum)]
    pub tiles: Option<TilePaper>,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// A number of seconds from 0 to a year.
pub(super) fn seconds_from_zero(text: &str) -> Result<f64, String> {
    if text.parse() == Ok(0.0) { Ok(0.0) } else { seconds(text) }
}

/// A positive finite number of seconds, at most a year.
fn seconds(text: &str) -> Result<f64, String> {
    let s: f64 = text.parse().map_err(|_| format!("\"{text}\" is not a number of seconds"))?;
    if s > 0.0 && s <= 31_536_000.0 {
        Ok(s)
    } else {
        Err("expected more than 0 and at most 31536000 seconds".to_owned())
    }
}
