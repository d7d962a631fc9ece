//! What a quote says beside its figures: how quantities are measured, what is not included. In: rates. Out: sentences.

use crate::model::quote::{Item, JobQuote};
use crate::model::{AreaRule, Exact, RateUnit, Rates, RoundedBy, SlabCharge};
use crate::units::Shown;

/// How quantities are measured and amounts rounded, as far as the lines of these jobs need it.
pub(super) fn measured(rates: &Rates, jobs: &[JobQuote], planned: bool, shown: Shown) -> Vec<String> {
    let has = |items: &[Item]| jobs.iter().flat_map(|j| &j.lines).any(|l| items.contains(&l.item));
    let mut out = Vec::new();
    if has(&[Item::Slab]) {
        out.push("Slabs are charged whole, as they are bought and cut for this job.".to_owned());
    }
    let by_area = [Item::Stone, Item::Mesh, Item::Sealing].as_slice();
    if has(by_area) || jobs.iter().flat_map(|j| &j.lines).any(|l| l.unit == rates.per.area()) {
        out.push(areas(rates));
    }
    if has(&[Item::Stone]) {
        let uplift = crate::model::quote::Used::of(1.0 - rates.waste_percent.to_f64() / 100.0).uplift * 100.0;
        let start = if planned && rates.slabs == SlabCharge::Area {
            "Stone is charged"
        } else {
            "Slabs are not chosen yet: stone is estimated"
        };
        out.push(format!(
            "{start} by the area of the pieces and {uplift:.2} % on top, because {} % of a slab is usually waste.",
            rates.waste_percent
        ));
    }
    if has(&[Item::Edge, Item::Rod]) {
        out.push(lengths(rates, shown));
    }
    if has(&[Item::Corner]) {
        out.push("Rounded corners are those of outlines that have a finished side, inside corners too.".to_owned());
    }
    let unit = Exact::new(1, rates.minor_digits);
    out.push(format!(
        "Every amount is quantity times rate, rounded to {unit} with halves up; tax is reckoned on the sum of the lines."
    ));
    out
}

fn areas(rates: &Rates) -> String {
    let rule = match rates.area_rule {
        AreaRule::Rectangles => {
            "the rectangle that bounds each run, the sum of rectangles for an L; openings are not deducted"
        }
        AreaRule::Outline => "the area inside the outline; openings are not deducted",
    };
    let step = rates.step_of_area();
    let whose = match rates.area_rounded_by {
        RoundedBy::Piece => "for each piece",
        RoundedBy::Job => "for the job",
    };
    let rounded =
        if step.is_zero() { String::new() } else { format!(", rounded up to {step} {} {whose}", rates.per.area()) };
    format!("Area of pieces: {rule}{rounded}.")
}

fn lengths(rates: &Rates, shown: Shown) -> String {
    let step = rates.step_of_length();
    // What is charged by the foot has a step in inches, whoever reads it.
    let shown = if rates.per == RateUnit::Foot { Shown::In } else { shown };
    let rounded = if step > 0.0 {
        format!(", rounded up to {} for each piece and finish and for each rod", shown.said_size(step))
    } else {
        String::new()
    };
    format!("Edges are measured along the true line, arcs included{rounded}.")
}

/// What no line is for. The shop's own list stands in place of ours.
pub(super) fn not_included(rates: &Rates) -> Vec<String> {
    let mut out: Vec<String> = rates.without.iter().map(|s| s.name().to_owned()).collect();
    if rates.sealing.is_none() {
        out.push("sealing".to_owned());
    }
    out.extend(rates.not_included.iter().cloned());
    out
}
