//! The figures of the plan: cost, bound, yields, margins, and the limits it was made under.

use super::drops;
use super::finding::{Draft, length, lengths, number, pair};
use super::flaws;
use super::reading::{Reading, Sheet};
use super::same;
use crate::geom::{sum, tol};
use crate::model::{Finding, Limits, Plan, Question, Rule, Shown, Slab, Yield};

/// All figures that the plan gives are what they must be.
pub(super) fn are_right(question: &Question, plan: &Plan, reading: &Reading, findings: &mut Vec<Finding>) {
    let (limits, shown) = (&question.shop.limits, question.shop.shown);
    for sheet in reading.sheets.iter().filter(|sheet| sheet.whole) {
        yields_are_right(sheet, limits, shown, findings);
    }
    money_is_right(plan, reading, findings);
    if let Some(worth) = plan.offcut_worth {
        offcut_worth_is_right(worth, reading, limits, findings);
    }
    if let Some(margin) = plan.flaw_margin {
        flaw_margin_is_right(margin, reading, limits, shown, findings);
    }
    limits_are_those_of_the_shop(plan, reading, limits, shown, findings);
}

/// Rounding of money: half a cent, and what summing many prices may lose.
fn same_money(a: f64, b: f64) -> bool {
    same(a, b, 0.005 + 1e-9 * a.abs().max(b.abs()))
}

fn wrong(what: &str, found: f64, needed: f64) -> Draft {
    wrong_in_words(what, (found, needed), pair(found, needed))
}

fn wrong_in_words(what: &str, (found, needed): (f64, f64), (f, n): (String, String)) -> Draft {
    let message = format!("{what} is given as {f}; it is {n}");
    Draft::broken(Rule::FigureWrong, message).measured(found, needed)
}

fn money_is_right(plan: &Plan, reading: &Reading, findings: &mut Vec<Finding>) {
    let (cost, bound) = (plan.cost, plan.cost_bound);
    let mut sensible = true;
    for (what, figure) in [("cost", cost), ("cost bound", bound)] {
        if !(figure.is_finite() && figure >= 0.0) {
            sensible = false;
            let message = format!("the {what} of the plan is {figure}; a sum of prices is needed");
            findings.push(Draft::broken(Rule::NumberNonsense, message).into());
        }
    }
    if !sensible {
        return;
    }
    if reading.slabs_known {
        let mut slabs: Vec<&Slab> = reading.sheets.iter().map(|sheet| sheet.slab).collect();
        slabs.sort_by(|a, b| a.name.cmp(&b.name));
        slabs.dedup_by(|a, b| a.name == b.name);
        let sum: f64 = slabs.iter().map(|slab| slab.price).sum();
        if !same_money(cost, sum) {
            findings.push(wrong("the cost of the slabs", cost, sum).into());
        }
    }
    // What places only some pieces may cost less than anything that places all.
    if reading.all_placed && bound > cost && !same_money(bound, cost) {
        let message =
            format!("the cost bound is given as {}; the plan itself costs {}", number(bound, 2), number(cost, 2));
        findings.push(Draft::broken(Rule::FigureWrong, message).measured(bound, cost).into());
    }
    if plan.proven && !reading.all_placed {
        let message = "the plan claims to be proven, and not every piece has its one place".to_owned();
        findings.push(Draft::broken(Rule::FigureWrong, message).into());
    } else if plan.proven && !same_money(cost, bound) {
        let (c, b) = (number(cost, 2), number(bound, 2));
        let message = format!("the plan claims to be proven, and its cost of {c} is not the bound of {b}");
        findings.push(Draft::broken(Rule::FigureWrong, message).measured(cost, bound).into());
    }
}

/// Two areas (mm²) with their unit.
fn areas(shown: Shown, found: f64, needed: f64) -> (String, String) {
    let squared = |mm2: f64| shown.of_mm(shown.of_mm(mm2));
    let (found, needed) = pair(squared(found), squared(needed));
    (format!("{found} {}²", shown.unit()), format!("{needed} {}²", shown.unit()))
}

fn yields_are_right(sheet: &Sheet, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    let slab = sheet.slab.outline.to_region();
    // A piece in a drop is not counted once more as part of the piece round it.
    let in_drops: f64 = std::iter::zip(&sheet.standing, drops::laid_in(sheet))
        .filter_map(|(s, within)| within.map(|_| s.piece.outline.ring.area()))
        .sum();
    let pieces = sheet.standing.iter().map(|s| s.piece.outline.ring.area()).sum::<f64>() - in_drops;
    let openings = sheet.standing.iter().flat_map(|s| &s.piece.openings).map(|o| o.ring.area()).sum::<f64>() - in_drops;
    let usable = sum::shrunk(&slab, limits.trim, 0.01).area();
    let right = Yield::of(slab.area(), usable, pieces, openings);
    let given = &sheet.layout.yields;

    // Areas within 0.1 % (usable: of the slab, because the trim's corners may be rounded otherwise), ratios within 0.001.
    let area = |a: f64| (0.001 * a).max(1.0);
    for (what, found, needed, allowed) in [
        ("the area of the slab", given.slab_mm2, right.slab_mm2, area(right.slab_mm2)),
        ("the area inside the trim", given.usable_mm2, right.usable_mm2, area(right.slab_mm2)),
        ("the area of the pieces", given.pieces_mm2, right.pieces_mm2, area(right.pieces_mm2)),
        ("the area of the openings", given.openings_mm2, right.openings_mm2, area(right.openings_mm2)),
        ("the net yield", given.net, right.net, 0.001),
        ("the gross yield", given.gross, right.gross, 0.001),
    ] {
        if !same(found, needed, allowed) {
            let words = if allowed == 0.001 { pair(found, needed) } else { areas(shown, found, needed) };
            let draft = wrong_in_words(&format!("{what} of {}", sheet.slab.name), (found, needed), words);
            findings.push(draft.slab(sheet.slab).into());
        }
    }
}

fn offcut_worth_is_right(given: f64, reading: &Reading, limits: &Limits, findings: &mut Vec<Finding>) {
    if !reading.slabs_known || reading.sheets.iter().any(|s| s.offcuts.len() != s.layout.offcuts.len()) {
        return;
    }
    let worth: f64 = reading
        .sheets
        .iter()
        .map(|sheet| {
            // The largest rectangle of each slab counts.
            let largest = sheet.offcuts.iter().map(|o| o.rectangle.size[0] * o.rectangle.size[1]).fold(0.0, f64::max);
            largest * sheet.slab.price_per_mm2() * limits.keep_share
        })
        .sum();
    if !same(given, worth, 0.01 + 0.001 * worth) {
        findings.push(wrong("the worth of the offcuts", given, worth).into());
    }
}

/// How far a flaw margin may be off, mm: zones of another program may flatten their round borders otherwise.
const MARGIN_OFF: f64 = 0.1;

fn flaw_margin_is_right(given: f64, reading: &Reading, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    match flaws::least_margin(reading, limits) {
        Some(margin) if !same(given, margin, MARGIN_OFF) => {
            findings.push(
                wrong_in_words("the least margin at a flaw", (given, margin), lengths(shown, given, margin)).into(),
            );
        }
        None => {
            let message =
                format!("the least margin at a flaw is given as {}; no flaw bears on a piece", length(shown, given, 1));
            findings.push(Draft::broken(Rule::FigureWrong, message).into());
        }
        Some(_) => {}
    }
}

/// The plan was made under the shop's limits; where those depend on the slab, under the strictest of the slabs used.
fn limits_are_those_of_the_shop(
    plan: &Plan,
    reading: &Reading,
    limits: &Limits,
    shown: Shown,
    findings: &mut Vec<Finding>,
) {
    let given = &plan.limits;
    let strictest = |of: fn(crate::model::RailDefaults) -> f64| {
        reading.sheets.iter().map(|sheet| of(limits.rails(sheet.slab))).reduce(f64::max)
    };
    let min_rail = strictest(|rails| rails.stop).unwrap_or(given.min_rail);
    // In the plan an absent threshold stands for an infinite one.
    let given_rod = given.rod_rail.unwrap_or(f64::INFINITY);
    let rod_rail = strictest(|rails| rails.rod).unwrap_or(given_rod);
    for (what, found, needed) in [
        ("kerf", given.kerf, limits.kerf),
        ("gap", given.gap, limits.gap),
        ("trim", given.trim, limits.trim),
        ("flaw gap", given.flaw_gap, limits.flaw_gap),
        ("least rail", given.min_rail, min_rail),
        ("rod threshold", given_rod, rod_rail),
        ("least web", given.min_web, limits.min_web),
        ("rail zone", given.rail_zone, limits.rail_zone),
        ("tap zone", given.tap_zone, limits.tap_zone),
        ("edge zone", given.edge_zone, limits.edge_zone),
    ] {
        if found != needed && !same(found, needed, tol::CLEARANCE) {
            let mm = |v: f64| if v.is_finite() { length(shown, v, 3) } else { "always".to_owned() };
            let message = format!("the plan was made with a {what} of {}; the shop has {}", mm(found), mm(needed));
            findings.push(Draft::warning(Rule::LimitsDiffer, message).measured(found, needed).into());
        }
    }
}
