//! `scantling plan`: has a plan searched and judged, and writes everything about it.

use std::path::Path;

use rayon::prelude::*;

use super::args::{FirstGoal, Format, PaperSize, PlanArgs};
use super::made::{Made, judged};
use super::{
    Exit, answer, default_folder, earlier, is_of_slab, json, load_with_folder, paper, papers, photos, say, say_all,
    slab_file, tell, tell_held, tell_removed, verdict, verdict_on, watch,
};
use crate::diag::{Remark, Remarks};
use crate::io;
use crate::model::openings::Openings;
use crate::model::{Goal, Plan, Question};
use crate::quote::Day;
use crate::report;
use crate::search::{self, Watch as _};
use crate::stock;
use crate::units::Shown;

/// Rounds of search when neither a time nor an effort is asked for.
const DEFAULT_ROUNDS: u64 = 8;

/// The plan for programs, its report as text, and the report as a page for a browser.
const PLAN_FILE: &str = "plan.json";
const TEXT_FILE: &str = "report.txt";

/// Where `--explain` writes why no plan can cost less than its bound.
const PROOF_FILE: &str = "certificate.txt";

pub(super) fn run(args: &PlanArgs) -> Result<Exit, Remarks> {
    let (question, shown, folder) = load_with_folder(&args.inputs, &args.showing)?;
    let photos = (!args.plain).then_some(folder.as_path());
    if let Some(folder) = photos {
        photos::check(folder, &question)?;
    }
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
    let (openings, sheets) = judge_all(&question, &mut found);
    for plan in std::iter::once(&mut found.plan).chain(&mut found.alternatives) {
        stock::mark(&question, plan);
    }
    let search::Answer { plan, alternatives, certificate } = found;
    let out = args.out.clone().unwrap_or_else(|| default_folder("plan", &args.inputs.jobs, &plan.jobs));
    let proof = args.explain.then(|| certificate.text(&question));
    let how = How { proof: proof.as_deref(), shown, paper: args.paper, photos, date: args.date };
    let best = Made::of(&question, &plan, &alternatives, openings, photos, args.date)?;
    let mut text = best.summary(shown);
    text += &report::comparison(&question, &std::iter::once(&plan).chain(&alternatives).collect::<Vec<_>>(), shown);
    let mut removed = write(&out, &best, &text, &how)?;
    let mut remarks = best.seen.remarks.clone();
    remarks.extend(
        write_alternatives(&out, &question, &alternatives, sheets, &how)?
            .into_iter()
            .filter(|r| !best.seen.remarks.contains(r)),
    );
    let remarks = Remarks::sorted(remarks);
    tell(&remarks.0, args.showing.quiet);
    if args.papers {
        let how = papers::How { shown, paper: paper(args.paper, shown), tiles: args.tiles };
        let written = papers::write(&out, &best, &how)?;
        text += &format!("\n{}", written.text());
        say_all(&written.remarks, args.showing.quiet);
        removed.extend(written.removed);
    } else {
        removed.extend(papers::remove_stale(&out, &[])?);
        best.lacking().iter().for_each(|words| say(words));
    }
    tell_removed(&out, &removed, args.showing.quiet);
    match args.showing.format {
        Format::Json if args.alternatives > 0 => answer(&json(&Printed { plan: &plan, alternatives: &alternatives })),
        Format::Json => answer(&json(&plan)),
        Format::Text => answer(&format!("{text}\nWritten to {}\n", out.display())),
    }
    tell_held(&plan.held, args.showing.format);
    if console.stop() && !args.showing.quiet {
        match plan.effort {
            Some(n) => {
                let rounds = if n == 1 { "round" } else { "rounds" };
                say(&format!("stopped after {n} {rounds}; --effort {n} --seed {} repeats this plan", plan.seed));
            }
            None => say("stopped within the first round; no --effort repeats this plan"),
        }
    }
    // A photograph that could not be read is missing from what was written.
    Ok(if remarks.has_errors() { Exit::Unusable } else { verdict_on(&plan) })
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

/// Has all plans judged; the answer is the sheets of their openings. An alternative that breaks a rule is none.
fn judge_all(question: &Question, found: &mut search::Answer) -> (Openings, Vec<Openings>) {
    let others = std::mem::take(&mut found.alternatives);
    let judge_others = || -> Vec<(Plan, Openings)> {
        let each = others.into_par_iter().map(|mut plan| {
            let openings = judged(question, &mut plan);
            (plan, openings)
        });
        each.filter(|(plan, _)| verdict(&plan.findings) == Exit::Good).collect()
    };
    let (best, others) = rayon::join(|| judged(question, &mut found.plan), judge_others);
    let (plans, sheets) = others.into_iter().unzip();
    found.alternatives = plans;
    (best, sheets)
}

/// The best plan with others beside it, as printed.
#[derive(serde::Serialize)]
struct Printed<'p> {
    #[serde(flatten)]
    plan: &'p Plan,
    alternatives: &'p [Plan],
}

/// How a plan is written.
#[derive(Clone, Copy)]
struct How<'t> {
    /// Why no plan can cost less, if that is asked for.
    proof: Option<&'t str>,
    shown: Shown,
    paper: Option<PaperSize>,
    /// The folder that photographs of slabs start from, if they are wanted.
    photos: Option<&'t Path>,
    /// The day of the quote.
    date: Option<Day>,
}

/// Writes the plans beside the best one, each into a folder of its own; the answer is what is to be said of their photographs.
fn write_alternatives(
    out: &Path,
    question: &Question,
    plans: &[Plan],
    sheets: Vec<Openings>,
    how: &How<'_>,
) -> Result<Vec<Remark>, Remarks> {
    /// The last number that an alternative can have.
    const LAST: usize = 10;
    let folder = |number: usize| out.join(format!("alternative-{number}"));
    let mut remarks: Vec<Remark> = Vec::new();
    for (i, (plan, openings)) in plans.iter().zip(sheets).enumerate() {
        let made = Made::of(question, plan, &[], openings, how.photos, how.date)?;
        // The proof is about all plans, and stands beside the best one.
        write(&folder(i + 2), &made, &made.summary(how.shown), &How { proof: None, ..*how })?;
        remarks.extend(made.seen.remarks);
    }
    // Those of an earlier run in the same folder must not be taken for this one's.
    for number in plans.len() + 2..=LAST {
        let stale = folder(number);
        let ours = |name: &str| {
            is_of_slab(name, SVG) || photos::is_piece_file(name) || [TEXT_FILE, papers::PAGE, PLAN_FILE].contains(&name)
        };
        io::remove_files(&stale, ours)?;
        io::remove_if_empty(&stale);
    }
    Ok(remarks)
}

/// The ending of drawings.
const SVG: &str = ".svg";

/// Writes a plan with its drawings and reports; the answer is the names of files of an earlier plan that were removed.
fn write(out: &Path, made: &Made<'_>, text: &str, how: &How<'_>) -> Result<Vec<String>, Remarks> {
    let (question, plan) = (made.question, made.plan);
    let settings = report::Settings { shown: how.shown, paper: paper(how.paper, how.shown) };
    let drawings: Vec<String> = plan.layouts.iter().enumerate().map(|(i, on)| slab_file(i, on, SVG)).collect();
    for (i, name) in drawings.iter().enumerate() {
        let svg = report::layout_svg_on(question, plan, i, &settings, made.seen.backdrops.of(i), Some(made.number()));
        io::write_atomically(&out.join(name), svg.as_bytes())?;
    }
    for (name, picture) in &made.seen.pieces {
        io::write_atomically(&out.join(name), picture)?;
    }
    io::write_atomically(&out.join(papers::PAGE), made.page(&settings).as_bytes())?;
    io::write_atomically(&out.join(TEXT_FILE), text.as_bytes())?;
    io::write_atomically(&out.join(PLAN_FILE), json(plan).as_bytes())?;
    if let Some(proof) = how.proof {
        io::write_atomically(&out.join(PROOF_FILE), proof.as_bytes())?;
    }
    // Drawings and proofs of an earlier plan in the same folder must not be taken for this one's. They go last, so that
    // nothing is lost where this plan cannot be written.
    let stale = |name: &str| {
        is_of_slab(name, SVG) && !drawings.iter().any(|d| d == name)
            || photos::is_piece_file(name) && !made.seen.pieces.iter().any(|(p, _)| p == name)
    };
    io::remove_files(out, |name| stale(name) || (name == PROOF_FILE && how.proof.is_none()))
}
