//! An earlier plan to go on from: reads it, and says what of it cannot stand.

use std::path::Path;

use crate::check;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::io;
use crate::model::{Finding, Grade, Layout, Placed, Plan, Question, Rule, Unplaced};

/// Reads the plan at a path for going on from it.
///
/// # Errors
/// What is wrong with the file; names that the question does not have; placements that make no sense; and for each pinned
/// placement the rules that it breaks.
pub fn read(path: &Path, question: &Question) -> Result<Plan, Remarks> {
    let plan = io::read_plan(path)?;
    let file = path.display().to_string();
    let found = check::judge(question, &placements(&plan, |_| true));
    let unreadable: Vec<Remark> = found.iter().filter(|f| is_unreadable(f.rule)).map(|f| unusable(&file, f)).collect();
    if !unreadable.is_empty() {
        return Err(Remarks(unreadable));
    }
    let pins = placements(&plan, |p| p.pinned);
    let is_pinned = |f: &Finding| {
        let same = |p: &Placed| Some(&p.job) == f.job.as_ref() && Some(&p.piece) == f.piece.as_ref();
        pins.layouts.iter().flat_map(|l| &l.placed).any(same)
    };
    let broken: Vec<Remark> = check::judge(question, &pins)
        .iter()
        .filter(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced && is_pinned(f))
        .map(|f| does_not_hold(&file, f))
        .collect();
    if broken.is_empty() { Ok(plan) } else { Err(Remarks(broken)) }
}

/// Reads the plan at a path for showing how pieces lie in it.
///
/// # Errors
/// What is wrong with the file; names that the question does not have, placements that make no sense, pieces that are not
/// what they were when the plan was made.
pub fn read_placed(path: &Path, question: &Question) -> Result<Plan, Remarks> {
    let plan = io::read_plan(path)?;
    let file = path.display().to_string();
    let apart = |f: &&Finding| {
        f.grade == Grade::Broken && (is_unreadable(f.rule) || matches!(f.rule, Rule::OtherJobs | Rule::OutlineDiffers))
    };
    let found = check::judge(question, &plan);
    let remarks: Vec<Remark> = found.iter().filter(apart).map(|f| unusable(&file, f)).collect();
    if remarks.is_empty() { Ok(plan) } else { Err(Remarks(remarks)) }
}

/// True for findings that leave open what the plan means.
const fn is_unreadable(rule: Rule) -> bool {
    matches!(
        rule,
        Rule::UnknownFormat
            | Rule::UnknownSlab
            | Rule::UnknownPiece
            | Rule::SlabUsedTwice
            | Rule::PlacedTwice
            | Rule::NumberNonsense
    )
}

/// The plan with some of its placements and nothing else: outlines and figures were those of another time.
fn placements(plan: &Plan, wanted: impl Fn(&Placed) -> bool) -> Plan {
    let bare = |p: &Placed| Placed { outline: Vec::new(), openings: Vec::new(), ..p.clone() };
    let layouts: Vec<Layout> = plan
        .layouts
        .iter()
        .map(|l| Layout {
            slab: l.slab.clone(),
            placed: l.placed.iter().filter(|p| wanted(p)).map(bare).collect(),
            offcuts: Vec::new(),
            ..l.clone()
        })
        .filter(|l| !l.placed.is_empty())
        .collect();
    let named: Vec<Unplaced> = Vec::new();
    Plan { layouts, unplaced: named, cost: 0.0, cost_bound: 0.0, findings: Vec::new(), ..plan.clone() }
}

fn unusable(file: &str, finding: &Finding) -> Remark {
    let fix = "take it out of the plan, or name the jobs and the rack that the plan was made for";
    let expected = "a plan for these jobs and this rack";
    Remark::about_file(Severity::Error, Kind::OtherPlan, file, finding.message.as_str(), expected, fix)
}

fn does_not_hold(file: &str, finding: &Finding) -> Remark {
    let rule = finding.rule.name();
    let expected = match (finding.found, finding.needed) {
        (Some(found), Some(needed)) => {
            let number = |v: f64| crate::units::Decimal(v, 3).to_string();
            format!("what {rule} asks for: found {}, needed {}", number(found), number(needed))
        }
        _ => format!("what {rule} asks for"),
    };
    let given = format!("a pinned piece that breaks {rule}: {}", finding.message);
    let fix = "move it, or take out its \"pinned\": true";
    Remark::about_file(Severity::Error, Kind::PinBroken, file, given, expected, fix)
}
