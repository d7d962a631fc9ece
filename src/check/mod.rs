//! The judge: is this plan right?
//!
//! Comes in: the question (jobs, rack, shop) and any plan, also one edited by hand or written by another program.
//! Goes out: everything that is wrong with it or worth a look, worst first, then in plan order.
//!
//! The judge believes nothing that the plan says but the placements: outlines, zones, distances and figures are derived
//! again from the question. It looks at the original outlines, all pairs, all flaws, with no index, no cached box and no
//! simplified outline. It must not know how plans are searched for: it shares nothing with `rules` and `search`.

mod drops;
mod figures;
mod finding;
mod flaws;
mod line;
mod offcuts;
mod piece;
mod placement;
mod reading;
mod zones;

use crate::geom::tol;
use crate::model::{Finding, Plan, Question};

/// Judges a plan from the question alone. An empty answer: nothing is wrong and nothing needs a look.
///
/// Clearances may fall short by [`tol::CLEARANCE`]. [`Finding::at`] is in the slab frame if a slab is named, else in the
/// piece frame. Messages give lengths in the units of [`crate::model::Shop::shown`]; numbers of the plan that make no sense are
/// told as they stand there, in mm. A plan with more than [`MOST_POINTS`] points and entries is not judged further.
#[must_use]
pub fn judge(question: &Question, plan: &Plan) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(finding) = reading::too_large(plan) {
        return vec![finding];
    }
    let (limits, shown) = (&question.shop.limits, question.shop.shown);
    let reading = reading::read(question, plan, &mut findings);

    for (k, sheet) in reading.sheets.iter().enumerate() {
        placement::class_was_given(sheet, &mut findings);
        for standing in &sheet.standing {
            placement::stone_qualifies(standing, shown, &mut findings);
            placement::outline_is_the_piece(standing, shown, &mut findings);
            placement::inside_slab(standing, limits, shown, &mut findings);
            placement::grain_runs_as_wished(standing, &mut findings);
            flaws::keep_away(standing, limits, shown, &mut findings);
        }
        placement::pieces_keep_apart(k, &reading, &question.shop, &mut findings);
        offcuts::are_free(sheet, &reading, limits, shown, &mut findings);
    }

    for (id, job, piece) in question.pieces() {
        if let Some(slab) = reading.slab_to_judge_by(question, id, job) {
            piece::stone_suits_openings(job, piece, slab, shown, &mut findings);
            piece::rails_hold(job, piece, slab, &question.shop, &mut findings);
        }
        piece::webs_hold(job, piece, limits, shown, &mut findings);
        piece::tools_reach_corners(job, piece, &question.shop.tools, shown, &mut findings);
    }

    figures::are_right(question, plan, &reading, &mut findings);
    findings.sort_by_key(|f| f.grade);
    findings
}

/// The smallest distance (mm) of a flaw from a zone that it may not touch, beyond the flaw gap, over all pieces that the
/// plan places; negative where a flaw is too near. `None` if no flaw bears on any piece, or the plan is too large.
#[must_use]
pub fn least_flaw_margin(question: &Question, plan: &Plan) -> Option<f64> {
    if reading::too_large(plan).is_some() {
        return None;
    }
    let reading = reading::read(question, plan, &mut Vec::new());
    flaws::least_margin(&reading, &question.shop.limits)
}

/// Most points and entries of a plan that the judge looks at. A large plan of a shop has some thousands; a file beyond
/// this is no plan, and comparing all its points would take minutes.
pub const MOST_POINTS: usize = 200_000;

/// The one comparison of a clearance with its limit, mm. What is no number falls short.
fn falls_short(found: f64, needed: f64) -> bool {
    let holds = found >= needed - tol::CLEARANCE;
    !holds
}

/// True if two figures differ by no more than `allowed`. What is no number equals nothing.
fn same(a: f64, b: f64, allowed: f64) -> bool {
    (a - b).abs() <= allowed
}
