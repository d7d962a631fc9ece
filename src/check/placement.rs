//! The rules for a piece where it stands: stone, outline, slab, neighbours, grain.

use super::drops;
use super::falls_short;
use super::finding::{Draft, length, lengths, pair};
use super::line;
use super::reading::{Reading, Sheet, Standing};
use crate::geom::pose::angle_off;
use crate::geom::{Point, Region, distance, tol};
use crate::model::{Finding, GrainWish, Limits, Rule, Shape, Shop, Shown};

/// A class that was assumed is worth knowing, because rails and strength follow from it.
pub(super) fn class_was_given(sheet: &Sheet, findings: &mut Vec<Finding>) {
    let slab = sheet.slab;
    if !slab.stone_given {
        let message = format!("the class of stone of {} is not given; {} is assumed", slab.name, slab.stone.name());
        findings.push(Draft::note(Rule::StoneAssumed, message).slab(slab).into());
    }
}

/// The slab is of the job's material and thickness.
pub(super) fn stone_qualifies(s: &Standing, shown: Shown, findings: &mut Vec<Finding>) {
    let (name, slab) = (&s.piece.name, &s.slab.name);
    if !s.job.material_matches(s.slab) {
        let message = format!("\"{name}\" is to be cut from {}; {slab} is {}", s.job.material, s.slab.material);
        findings.push(Draft::broken(Rule::WrongMaterial, message).piece(s.job, s.piece).slab(s.slab).into());
    }
    if !s.job.thickness_matches(s.slab) {
        let (found, needed) = lengths(shown, s.slab.thickness, s.job.thickness);
        let message = format!("\"{name}\" is to be {needed} thick; {slab} is {found} thick");
        let draft = Draft::broken(Rule::WrongThickness, message).piece(s.job, s.piece).slab(s.slab);
        findings.push(draft.measured(s.slab.thickness, s.job.thickness).into());
    }
}

/// How finely the true line is drawn for comparing outlines, mm.
const FINE: f64 = tol::FLATTEN / 10.0;

/// The outlines in the plan are those of the piece and its openings where the plan puts it, arcs flattened to within
/// [`tol::FLATTEN`] of the true line on either side.
///
/// An outline that is not given (a plan written by hand) is a note: the placement alone rules.
pub(super) fn outline_is_the_piece(s: &Standing, shown: Shown, findings: &mut Vec<Finding>) {
    let (name, slab) = (&s.piece.name, &s.slab.name);
    let draft = |message: String| Draft::broken(Rule::OutlineDiffers, message).piece(s.job, s.piece).slab(s.slab);
    let mut missing = s.placed.outline.is_empty() || (s.placed.openings.is_empty() && !s.piece.openings.is_empty());

    if let Some((at, off)) = strays(s, &s.piece.outline.shape, &s.placed.outline) {
        let message = format!(
            "the outline of \"{name}\" on {slab} is {} off the piece where the plan puts it; {} is allowed",
            length(shown, off, 2),
            length(shown, tol::FLATTEN, 2)
        );
        findings.push(draft(message).at(at).measured(off, tol::FLATTEN).into());
    }
    for (i, given) in s.placed.openings.iter().enumerate() {
        let Some(opening) = s.piece.openings.iter().find(|o| o.name == given.opening) else {
            let message = format!("the plan draws an opening \"{}\", which \"{name}\" does not have", given.opening);
            findings.push(draft(message).opening(&given.opening).into());
            continue;
        };
        if s.placed.openings[..i].iter().any(|g| g.opening == given.opening) {
            let message = format!("the plan draws opening \"{}\" of \"{name}\" twice", given.opening);
            findings.push(draft(message).opening(&given.opening).into());
        }
        missing |= given.outline.is_empty();
        if let Some((at, off)) = strays(s, &opening.shape, &given.outline) {
            let message = format!(
                "the outline of opening \"{}\" of \"{name}\" on {slab} is {} off where it belongs; {} is allowed",
                opening.name,
                length(shown, off, 2),
                length(shown, tol::FLATTEN, 2)
            );
            findings.push(draft(message).opening(&opening.name).at(at).measured(off, tol::FLATTEN).into());
        }
    }
    if !s.placed.openings.is_empty() {
        for opening in &s.piece.openings {
            if !s.placed.openings.iter().any(|given| given.opening == opening.name) {
                let message = format!("the plan does not draw opening \"{}\" of \"{name}\" on {slab}", opening.name);
                findings.push(draft(message).opening(&opening.name).into());
            }
        }
    }
    if missing {
        let message =
            format!("outlines of \"{name}\" on {slab} are not in the plan; they follow from its turn and shift");
        findings.push(Draft::note(Rule::OutlineDiffers, message).piece(s.job, s.piece).slab(s.slab).into());
    }
}

/// Where a given line strays from a shape of the piece, slab frame; `None` if it does not, or is not given.
fn strays(s: &Standing, shape: &Shape, given: &[[f64; 2]]) -> Option<(Point, f64)> {
    if given.is_empty() {
        return None;
    }
    let truth: Vec<Point> = line::true_line(shape, FINE).into_iter().map(|p| s.pose.apply(p)).collect();
    let given: Vec<Point> = given.iter().map(|&p| p.into()).collect();
    line::difference(&given, &truth, tol::FLATTEN + FINE)
}

/// The piece lies inside the slab's outline, by the trim.
pub(super) fn inside_slab(s: &Standing, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    let near = distance::inside_ring(&s.filled(), &s.slab.outline);
    if falls_short(near.distance, limits.trim) {
        let (name, slab) = (&s.piece.name, &s.slab.name);
        let message = if near.distance < -tol::CLEARANCE {
            let (found, needed) = lengths(shown, -near.distance, limits.trim);
            format!("\"{name}\" sticks out of {slab} by {found}; it must lie {needed} inside")
        } else {
            let (found, needed) = lengths(shown, near.distance, limits.trim);
            format!("\"{name}\" lies {found} from the outline of {slab}; {needed} is needed")
        };
        let draft = Draft::broken(Rule::OutsideSlab, message).piece(s.job, s.piece).slab(s.slab);
        findings.push(draft.at(near.from).measured(near.distance, limits.trim).into());
    }
}

/// Every piece of a sheet keeps the gap from the pieces before it on the same slab, whichever layout put them there, and from what is
/// cut into drops.
pub(super) fn pieces_keep_apart(sheet: usize, reading: &Reading, shop: &Shop, findings: &mut Vec<Finding>) {
    let (limits, shown) = (&shop.limits, shop.shown);
    let slab = &reading.sheets[sheet].slab.name;
    let on_slab: Vec<(&Standing, Region)> = reading.sheets[..=sheet]
        .iter()
        .filter(|earlier| earlier.slab.name == *slab)
        .flat_map(|earlier| &earlier.standing)
        .map(|standing| (standing, standing.stone(limits.use_drops)))
        .collect();
    let first_here = on_slab.len() - reading.sheets[sheet].standing.len();
    for (i, (b, stone_b)) in on_slab.iter().enumerate().skip(first_here) {
        for (a, stone_a) in &on_slab[..i] {
            let near = distance::regions(stone_a, stone_b);
            if falls_short(near.distance, limits.gap) {
                let (one, other) = (&b.piece.name, &a.piece.name);
                let message = if near.distance < -tol::CLEARANCE {
                    let (found, needed) = lengths(shown, -near.distance, limits.gap);
                    format!("\"{one}\" overlaps \"{other}\" by {found} on {slab}; a gap of {needed} is needed")
                } else {
                    let (found, needed) = lengths(shown, near.distance, limits.gap);
                    format!("\"{one}\" lies {found} from \"{other}\" on {slab}; {needed} is needed")
                };
                let draft = Draft::broken(Rule::PiecesTooClose, message).piece(b.job, b.piece).slab(b.slab);
                findings.push(draft.at(near.to).measured(near.distance, limits.gap).into());
            }
        }
    }
    // Without the use of drops whatever lies in one is too close already.
    if limits.use_drops {
        let standing: Vec<&Standing> = on_slab.iter().map(|(standing, _)| *standing).collect();
        drops::are_kept_clear(&standing, first_here, shop, findings);
    }
}

/// The slab's grain runs across the piece as the piece wishes.
pub(super) fn grain_runs_as_wished(s: &Standing, findings: &mut Vec<Finding>) {
    let (Some(grain), GrainWish::Towards(wish)) = (s.slab.grain, s.piece.grain) else { return };
    let period = if s.piece.one_way { 360.0 } else { 180.0 };
    let off = angle_off(wish + s.placed.turn, grain, period).abs();
    if off > s.piece.grain_tolerance + tol::ANGLE {
        let (found, allowed) = pair(off, s.piece.grain_tolerance);
        let message = format!(
            "the grain of \"{}\" is {found} degrees off that of {}; {allowed} degrees is allowed",
            s.piece.name, s.slab.name
        );
        let draft = Draft::broken(Rule::GrainOff, message).piece(s.job, s.piece).slab(s.slab);
        findings.push(draft.measured(off, s.piece.grain_tolerance).into());
    }
}
