//! `scantling papers`, and the papers that `plan --papers` writes: what there is, how the files are called, what is said of them.

use std::path::{Path, PathBuf};

use clap::Args;

use super::args::{Format, Inputs, PaperSize, Showing, TilePaper};
use super::made::{Made, judged};
use super::{
    Exit, answer, cutting, earlier, json, load_cut, paper, quote, say_all, tell, tell_held, tell_removed, verdict_on,
};
use crate::craft::carry;
use crate::diag::Remarks;
use crate::io;
use crate::model::openings::Held;
use crate::model::{Grade, Layout, Question, Rule};
use crate::quote::Day;
use crate::report::papers::{self, Burden, Work};
use crate::report::scene::Scene;
use crate::report::{self, Paper as Sheet, pdf};
use crate::units::Shown;

/// `scantling papers`.
#[derive(Debug, Args)]
pub struct PapersArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// The plan
    #[arg(long, value_name = "PLAN")]
    pub plan: PathBuf,
    /// Folder for the papers [default: the folder of the plan]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// The day of the quote, from which it is valid
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = quote::day)]
    pub date: Option<Day>,
    /// Paper for sheets and labels [default: a4, or letter with inches]
    #[arg(long, value_enum)]
    pub paper: Option<PaperSize>,
    /// Write the full-size templates also over pages of this paper, to be glued together
    #[arg(long, value_enum)]
    pub tiles: Option<TilePaper>,
    /// Leave the photographs of slabs out of drawings
    #[arg(long)]
    pub plain: bool,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// The names of the files.
const SLABS: &str = "sheets-slabs.pdf";
const PIECES: &str = "sheets-pieces.pdf";
const LABELS: &str = "labels.pdf";
const TEMPLATES: &str = "templates.pdf";
/// The report as a page for a browser, which every plan has.
pub(super) const PAGE: &str = "report.html";

pub(super) fn run(args: &PapersArgs) -> Result<Exit, Remarks> {
    let (question, shown, folder) = load_cut(&args.inputs, &args.showing, Some(&args.plan))?;
    let mut plan = earlier::read_placed(&args.plan, &question)?;
    // What the plan says of itself may be old: the papers are for what the judge finds now.
    let openings = judged(&question, &mut plan);
    let beside = args.plan.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    let out = args.out.clone().unwrap_or_else(|| beside.to_path_buf());
    let how = How { shown, paper: paper(args.paper, shown), tiles: args.tiles };
    let folder = (!args.plain).then_some(folder.as_path());
    let made = Made::of(&question, &plan, &[], openings, folder, args.date)?;
    let seen = Remarks::sorted(made.seen.remarks.clone());
    // Nothing is written over papers that have the photograph.
    if seen.has_errors() {
        return Err(seen);
    }
    tell(&seen.0, args.showing.quiet);
    let written = write(&out, &made, &how)?;
    say_all(&written.remarks, args.showing.quiet);
    tell_removed(&out, &written.removed, args.showing.quiet);
    match args.showing.format {
        Format::Json => answer(&json(&written)),
        Format::Text => {
            let held = report::held(&plan.held);
            let findings = report::findings(&plan.findings);
            answer(&format!("{}{held}{findings}\nWritten to {}\n", written.text(), out.display()));
        }
    }
    tell_held(&plan.held, args.showing.format);
    Ok(verdict_on(&plan))
}

/// How papers are written.
#[derive(Clone, Copy)]
pub(super) struct How {
    pub(super) shown: Shown,
    pub(super) paper: Sheet,
    pub(super) tiles: Option<TilePaper>,
}

/// What was written, as it stands on standard output.
#[derive(serde::Serialize)]
pub(super) struct Written {
    format: &'static str,
    /// Which plan, as it stands on every page.
    plan: String,
    files: Vec<File>,
    /// True if everything may be cut as it is drawn.
    may_be_cut: bool,
    /// Openings to be scored only, or not to be cut as drawn.
    held: Vec<Held>,
    /// Papers that a plan usually has and this one does not, and why.
    not_written: Vec<String>,
    /// Papers of an earlier run that were removed.
    #[serde(skip)]
    pub(super) removed: Vec<String>,
    /// What could not be shown as it is.
    #[serde(skip)]
    pub(super) remarks: Vec<String>,
}

#[derive(serde::Serialize)]
struct File {
    name: String,
    /// What it is for.
    what: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pages: Option<usize>,
}

impl Written {
    /// The files, one a line.
    pub(super) fn text(&self) -> String {
        let wide = self.files.iter().map(|f| f.name.chars().count()).max().unwrap_or(0);
        let mut out = format!("Papers of plan {}\n", self.plan);
        for f in &self.files {
            let pages = match f.pages {
                None => String::new(),
                Some(1) => " (1 page)".to_owned(),
                Some(n) => format!(" ({n} pages)"),
            };
            out += &format!("  {:wide$}  {}{pages}\n", f.name, f.what);
        }
        for words in &self.not_written {
            out += &format!("  {words}\n");
        }
        out
    }
}

/// A file to be written.
struct Paper {
    name: String,
    what: &'static str,
    bytes: Vec<u8>,
    pages: Option<usize>,
}

impl Paper {
    /// Scenes as a PDF file; a file without pages is none.
    fn pdf(name: &str, what: &'static str, scenes: &[Scene]) -> Option<Self> {
        let pages = Some(scenes.len());
        (!scenes.is_empty()).then(|| Self { name: name.to_owned(), what, bytes: pdf::print(scenes), pages })
    }
}

/// Writes all papers of a judged plan. Nothing is written unless all could be made.
pub(super) fn write(out: &Path, made: &Made<'_>, how: &How) -> Result<Written, Remarks> {
    let settings = report::Settings { shown: how.shown, paper: how.paper };
    let (question, plan) = (made.question, made.plan);
    let burdens: Vec<Vec<Option<Burden>>> = plan.layouts.iter().map(|l| burdens(question, l)).collect();
    let backdrops = &made.seen.backdrops;
    let work = Work { question, plan, openings: &made.openings, burdens: &burdens, backdrops, settings };
    let mut remarks = Vec::new();
    let mut all: Vec<Paper> = Vec::new();
    let mut not_written: Vec<String> = Vec::new();

    // One step a kind of paper.
    let page = made.page(&settings).into_bytes();
    all.push(Paper { name: PAGE.to_owned(), what: "the report, for a browser", bytes: page, pages: None });
    all.extend(printed(SLABS, "slabs with grid and corners, for chalking", &papers::slabs(&work), &mut remarks));
    all.extend(printed(PIECES, "a sheet for every piece", &papers::pieces(&work), &mut remarks));
    all.extend(printed(
        LABELS,
        "a label for every piece, in the order of cutting",
        &papers::labels(&work),
        &mut remarks,
    ));
    all.extend(printed(TEMPLATES, "openings at full size", &papers::templates(&work, None).0, &mut remarks));
    if let Some(tiles) = how.tiles {
        all.extend(tiled(&work, tiles, &mut remarks));
    }
    // A drawing for the saw has no room for a warning that nobody can miss.
    if plan.findings.iter().any(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced) {
        let words = "no cutting drawings: this plan breaks rules and must not be cut";
        remarks.push(format!("warning: {words}"));
        not_written.push(words.to_owned());
    } else {
        let cuts = cutting::files(question, plan, &made.openings, how.shown);
        all.extend(cuts.into_iter().map(|(name, bytes)| Paper { name, what: "cutting drawing", bytes, pages: None }));
    }
    match &made.quote {
        Some(q) => {
            let files = quote::files(q, how.shown);
            all.extend(files.into_iter().map(|(name, bytes)| Paper { name, what: "quote", bytes, pages: None }));
        }
        None => {
            let words = "no quote: the shop file has no rates under [rates]";
            remarks.push(format!("note: {words}"));
            not_written.push(words.to_owned());
        }
    }
    remarks.extend(made.lacking());

    for paper in &all {
        io::write_atomically(&out.join(&paper.name), &paper.bytes)?;
    }
    let written: Vec<&str> = all.iter().map(|p| p.name.as_str()).collect();
    let removed = remove_stale(out, &written)?;
    let files = all.iter().map(|p| File { name: p.name.clone(), what: p.what, pages: p.pages }).collect();
    Ok(Written {
        format: "scantling-papers/1",
        plan: made.number().to_string(),
        files,
        may_be_cut: plan.may_be_cut(),
        held: plan.held.clone(),
        not_written,
        remarks,
        removed,
    })
}

/// A PDF file, with what its faces lack.
fn printed(name: &str, what: &'static str, scenes: &[Scene], remarks: &mut Vec<String>) -> Option<Paper> {
    let lacking: String = pdf::lacking(scenes).into_iter().collect();
    if !lacking.is_empty() {
        remarks.push(format!("note: {name}: the faces of PDF lack the characters {lacking}, which are printed as ?"));
    }
    let rows: usize = scenes.iter().map(|s| s.rows_left_out).sum();
    if rows > 0 {
        remarks.push(format!("warning: {name}: {rows} rows of tables found no room; take larger paper"));
    }
    Paper::pdf(name, what, scenes)
}

/// The templates over tiles.
fn tiled(work: &Work<'_>, tiles: TilePaper, remarks: &mut Vec<String>) -> Option<Paper> {
    let (sheet, word) = tiles.paper();
    let (scenes, refused) = papers::templates(work, Some(sheet));
    for name in refused {
        remarks.push(format!("warning: {name}: too large to be tiled over {}; see {TEMPLATES}", sheet.name()));
    }
    printed(&format!("templates-{word}.pdf"), "the same over pages to be glued together", &scenes, remarks)
}

/// The pieces of a layout as loads.
fn burdens(question: &Question, layout: &Layout) -> Vec<Option<Burden>> {
    let slab = question.rack.iter().find(|s| s.name == layout.slab);
    let of = |placed: &crate::model::Placed| {
        let job = question.jobs.iter().find(|j| j.name == placed.job)?;
        let piece = job.pieces.iter().find(|p| p.name == placed.piece)?;
        let carried = carry::carry(piece, slab?, &question.shop.handling, &[], question.shop.shown);
        Some(Burden { load: carried.load, cautions: carried.cautions })
    };
    layout.placed.iter().map(of).collect()
}

/// Removes the papers of an earlier run in the same folder, which must not be taken for this one's. Other files of the folder are
/// the user's.
pub(super) fn remove_stale(out: &Path, written: &[&str]) -> Result<Vec<String>, Remarks> {
    io::remove_files(out, |name| is_paper(name) && !written.contains(&name))
}

/// True for the names that we give to papers.
fn is_paper(name: &str) -> bool {
    matches!(name, SLABS | PIECES | LABELS | TEMPLATES | "templates-a4.pdf" | "templates-letter.pdf")
        || cutting::is_cutting(name)
        || quote::NAMES.contains(&name)
}
