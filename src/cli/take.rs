//! `scantling take` and `undo`: a plan's slabs leave the rack, its offcuts come on it; and back.

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;

use super::args::{Format, Inputs, Showing};
use super::day::{day, today};
use super::rack::RackChoice;
use super::{Exit, answer, json, load, say, seconds_from_zero, verdict};
use crate::check;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::io::{self, Locked, Put, RackText, Record};
use crate::model::{Grade, Plan, Question, Slab};
use crate::report::{self, rack};
use crate::stock::{self, Print, Taking};

/// `scantling take`.
#[derive(Debug, Args)]
pub struct TakeArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// The plan that is cut
    #[arg(long, value_name = "PLAN")]
    pub plan: PathBuf,
    /// Accept a plan that does not say what its slabs were like, if the checker finds nothing broken and nothing to warn of
    #[arg(long)]
    pub unmarked: bool,
    /// The day that is written on the offcuts, YYYY-MM-DD [default: today]
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub date: Option<String>,
    /// Wait for this long at most while another run changes the rack
    #[arg(long, value_name = "S", default_value = "10", value_parser = seconds_from_zero)]
    pub wait: f64,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// `scantling undo`.
#[derive(Debug, Args)]
pub struct UndoArgs {
    /// Which rack
    #[command(flatten)]
    pub choice: RackChoice,
    /// Wait for this long at most while another run changes the rack
    #[arg(long, value_name = "S", default_value = "10", value_parser = seconds_from_zero)]
    pub wait: f64,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// Takes the slabs of a plan and racks its offcuts.
pub(super) fn take(args: &TakeArgs) -> Result<Exit, Remarks> {
    let inputs = &args.inputs;
    let paths = io::Paths { jobs: inputs.jobs.clone(), rack: inputs.rack.clone(), shop: inputs.shop.clone() };
    let path = io::rack_path(&paths)?;
    let file = path.display().to_string();
    let plan = io::read_plan(&args.plan)?;
    let locked = lock(&path, args.wait, &args.showing)?;
    let before = locked.text()?;
    // Slabs that are gone are told first: with them a job may lack all stone, which would hide why.
    if let Ok(text) = RackText::read(&file, &before) {
        let gone: Vec<Remark> = gone(&args.plan, &plan, &text, &locked);
        if !gone.is_empty() {
            return Err(Remarks(gone));
        }
    }
    let (question, shown) = load(inputs, &args.showing)?;
    let text = RackText::read(&file, &before)?;
    is_as_planned(args, &question, &plan)?;
    let findings = check::judge(&question, &plan);
    let warned = findings.iter().any(|f| f.grade == Grade::Warning);
    if verdict(&findings) != Exit::Good || (warned && is_unmarked(&question, &plan)) {
        match args.showing.format {
            Format::Json => answer(&json(&findings)),
            Format::Text => answer(&report::findings(&findings, shown)),
        }
        say("nothing was taken: the checker finds fault with the plan");
        return Ok(Exit::Faulty);
    }
    let date = args.date.clone().unwrap_or_else(today);
    let taking = stock::taking(&question, &plan, Some(&date));
    let slabs: Vec<String> =
        taking.cut.iter().filter_map(|c| question.rack.get(c.slab)).map(|s| s.name.clone()).collect();
    let offcuts: Vec<String> = taking.offcuts().map(|s| s.name.clone()).collect();
    let with: Vec<(Put, String)> = taking.offcuts().map(|s| (Put::Last, text.write(s))).collect();
    let after = text.edited(&slabs, &with);
    reads_back(&file, &question, &taking, &after)?;
    let format = Record::FORMAT.to_owned();
    let jobs = plan.jobs.clone();
    locked.take(Record { format, number: 0, date, jobs, slabs, offcuts, before, after })?;
    match args.showing.format {
        Format::Json => answer(&json(&rack::taken(&question, &taking))),
        Format::Text => answer(&rack::taking(&question, &taking, shown)),
    }
    Ok(Exit::Good)
}

/// Takes the last taking back.
pub(super) fn undo(args: &UndoArgs) -> Result<Exit, Remarks> {
    let path = args.choice.path()?;
    let file = path.display().to_string();
    let locked = lock(&path, args.wait, &args.showing)?;
    let Some(record) = locked.last()? else {
        let (given, expected) = ("no taking that is still in effect", "one to take back");
        let fix = format!("takings are kept beside the rack, the last {} of them", io::KEPT);
        return Err(Remark::about_file(Severity::Error, Kind::NothingTaken, file, given, expected, fix).into());
    };
    let now = locked.text()?;
    let text = io::taken_back(&file, &record, &now)?;
    locked.undo(&record, &now, &text)?;
    let exact = text == record.before;
    match args.showing.format {
        Format::Json => answer(&json(&Undone {
            date: &record.date,
            jobs: &record.jobs,
            slabs: &record.slabs,
            offcuts: &record.offcuts,
            exact,
        })),
        Format::Text => answer(&told(&record, exact)),
    }
    Ok(Exit::Good)
}

/// What was taken back.
#[derive(serde::Serialize)]
struct Undone<'r> {
    date: &'r str,
    jobs: &'r [String],
    slabs: &'r [String],
    offcuts: &'r [String],
    /// True if the rack file is what it was, byte for byte.
    exact: bool,
}

fn told(record: &Record, exact: bool) -> String {
    let list = |names: &[String]| if names.is_empty() { "none".to_owned() } else { quoted(names) };
    let end = if exact {
        "The rack file is what it was before, byte for byte."
    } else {
        "The rack file has been edited since; what was edited stays."
    };
    format!(
        "Taken back: the taking of {} for {}\nOn the rack again: {}\nOff the rack: {}\n{end}\n",
        record.date,
        list(&record.jobs),
        list(&record.slabs),
        list(&record.offcuts),
    )
}

fn quoted(names: &[String]) -> String {
    names.iter().map(|n| format!("\"{n}\"")).collect::<Vec<_>>().join(", ")
}

fn lock(path: &Path, wait: f64, showing: &Showing) -> Result<Locked, Remarks> {
    let file = path.display().to_string();
    let names = |text: &str| -> Option<Vec<String>> {
        Some(RackText::read(&file, text).ok()?.names().map(str::to_owned).collect())
    };
    let locked = Locked::wait(path, Duration::from_secs_f64(wait), names)?;
    if !showing.quiet {
        for note in &locked.mended {
            say(note);
        }
    }
    Ok(locked)
}

/// The slabs of the plan that the rack no longer has, and where they went.
fn gone(plan_file: &Path, plan: &Plan, text: &RackText, locked: &Locked) -> Vec<Remark> {
    let missing = plan.layouts.iter().filter(|l| !text.has(&l.slab));
    missing
        .map(|l| {
            // As the plan has it, which may be anything.
            let slab: String = report::text::clean(&l.slab).chars().take(80).collect();
            let given = match locked.taking_of(&l.slab) {
                Some(r) => format!("the slab \"{slab}\", which was taken on {} for {}", r.date, quoted(&r.jobs)),
                None => format!("the slab \"{slab}\", which is not on the rack"),
            };
            let fix = "plan again with what is on the rack, or take that taking back with scantling undo";
            let name = plan_file.display().to_string();
            Remark::about_file(Severity::Error, Kind::SlabGone, name, given, "slabs that are on the rack", fix)
        })
        .collect()
}

fn is_unmarked(question: &Question, plan: &Plan) -> bool {
    stock::prints(question, plan).contains(&Print::Missing)
}

/// An error if a slab of the plan has changed since, or if the plan cannot tell and nobody vouches for it.
fn is_as_planned(args: &TakeArgs, question: &Question, plan: &Plan) -> Result<(), Remarks> {
    let name = args.plan.display().to_string();
    let mut faults = Vec::new();
    for (layout, print) in plan.layouts.iter().zip(stock::prints(question, plan)) {
        let (what, given, fix) = match print {
            Print::Changed => (
                Kind::SlabChanged,
                format!("the slab \"{}\", which has been edited since the plan was made", layout.slab),
                "plan again, or go on from this plan with scantling plan --from",
            ),
            Print::Missing if !args.unmarked => (
                Kind::SlabUnmarked,
                format!("a plan without the fingerprint of \"{}\"", layout.slab),
                "look whether the slabs are still what they were, then add --unmarked; or plan again",
            ),
            _ => continue,
        };
        let expected = "slabs that are as they were when the plan was made";
        faults.push(Remark::about_file(Severity::Error, what, name.clone(), given, expected, fix));
    }
    if faults.is_empty() { Ok(()) } else { Err(Remarks(faults)) }
}

/// The text that is to be written is read as every rack is: it must hold what it should, and nothing else. This fails only by a
/// mistake of ours, and then nothing is written.
fn reads_back(file: &str, question: &Question, taking: &Taking, after: &str) -> Result<(), Remarks> {
    let (slabs, _) = io::read_rack_from_text(file, after)?;
    let left = |k: &usize| !taking.cut.iter().any(|c| c.slab == *k);
    let expected: Vec<&Slab> =
        (0..question.rack.len()).filter(left).filter_map(|k| question.rack.get(k)).chain(taking.offcuts()).collect();
    let wrong = if slabs.len() == expected.len() {
        slabs
            .iter()
            .zip(&expected)
            .find(|(found, wanted)| !stock::is_same_stone(found, wanted))
            .map(|(f, _)| f.name.clone())
    } else {
        Some("a slab".to_owned())
    };
    match wrong {
        None => Ok(()),
        Some(name) => {
            let given = format!("a rack on which {name} would not read as it was written");
            let fix = "nothing was written; please report this with the rack and the plan";
            let expected = "a rack that reads back";
            Err(Remark::about_file(Severity::Error, Kind::RackChanged, file, given, expected, fix).into())
        }
    }
}
