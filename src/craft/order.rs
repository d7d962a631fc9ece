//! The order of work at an opening, and the cautions for those who do it.
//!
//! In: what was worked out. Out: sentences. Must not know: how it was worked out.

use crate::model::openings::{CarryVerdict, Carrying, Cutting, Verdict};
use crate::model::{Opening, OpeningKind, Shown, Slab, StoneClass};

/// What to do, one after the other. `rods` are the steps of gluing rods in, if there are any;
/// `drop_holds_flaw` says that a flaw lies in the drop which may not be in the stone; `in_drop` names the pieces that lie in it. Lengths
/// in the units `shown`.
pub(super) fn order(
    cutting: &Cutting,
    verdict: Verdict,
    rods: &[String],
    carrying: Option<&Carrying>,
    drop_holds_flaw: bool,
    in_drop: &[String],
    shown: Shown,
) -> Vec<String> {
    let mut out = Vec::new();
    let mut step = |words: String| out.push(words);
    if verdict == Verdict::Stop {
        step("Do not cut: first change what the verdict names, and work the opening out again.".to_owned());
    }
    step("Lay the template on the stone, face up, and the fixture in hand on it; measure its check bars and the distances from the centre line and the front edge.".to_owned());
    for words in rods {
        step(words.clone());
    }
    step(
        "Support piece and drop over their whole area, so that the drop can't fall or tear its last stone.".to_owned(),
    );
    let scored = verdict == Verdict::Score;
    if !in_drop.is_empty() && verdict >= Verdict::Score {
        step(format!(
            "The plan lays {} in this drop, which is not taken out in the shop: do not cut by this plan, plan again.",
            pieces(in_drop)
        ));
    } else if !in_drop.is_empty() {
        step(format!(
            "{} in this drop and {} cut out of it afterwards: make no cut into the drop but those on this sheet, and where the sheet \
             leaves a choice take water or router along the line, started in a core or in the waste between line and piece, and no small \
             cuts.",
            lies(in_drop),
            if in_drop.len() == 1 { "is" } else { "are" }
        ));
    }
    match cutting.cores.len() {
        0 => {}
        1 => step("Drill the core, wet, from the face.".to_owned()),
        n => step(format!("Drill the {n} cores, wet, from the face; no saw cut may run past one.")),
    }
    if !cutting.rows.is_empty() && !scored {
        step("Where no bit suits a corner, make the row of small cuts from the drop, break out the fingers and grind to the line.".to_owned());
    }
    if scored {
        if let Some(score) = &cutting.score {
            step(format!(
                "Score the sides from the back, {} deep, and leave {} of stone; do not take the drop out.",
                shown.said(score.depth),
                shown.said(score.left)
            ));
        }
    } else if cutting.passes.iter().any(|p| p.blade.is_some()) {
        let left = cutting.passes.iter().filter(|p| p.blade.is_some()).flat_map(|p| p.left_under).fold(0.0, f64::max);
        step("Saw the sides from core to core, wet; let the blade down and lift it where the sheet says.".to_owned());
        if left > 0.05 {
            step(format!(
                "Finish what the blade left near the corners (up to {}) with a small blade or by hand, never by an overcut.",
                shown.said(left)
            ));
        }
    }
    if !scored && let Some(words) = without_saw(cutting) {
        step(words);
    }
    if !scored {
        let with = "with two people or a vacuum cup; nobody's hand or foot is under it.";
        // What one core bit cuts is the core, which a hand takes.
        if cutting.cores.len() == 1 && cutting.passes.is_empty() && cutting.rows.is_empty() {
            step("Take the core out; if it stays in the bit, push it out with the drill unplugged.".to_owned());
        } else if in_drop.is_empty() {
            step(format!("Take the drop out {with}"));
        } else {
            step(format!(
                "{} in the drop: stone without support breaks. Hold it from below over its whole area until it lies on the bench, and \
                 lift it flat and with care, {with} If it breaks, the piece is lost: tell the office before another slab is cut.",
                lies(in_drop)
            ));
        }
        let by = shown.said_to(1.0, 0);
        step(format!("Break the sharp edges of the opening by {by} above and below: a nick there starts a crack."));
    }
    if drop_holds_flaw && !scored {
        step(
            "The drop holds a flaw, which is why the piece lies here: take the drop out before the piece is moved."
                .to_owned(),
        );
    }
    match carrying.map(|c| c.verdict) {
        Some(CarryVerdict::Cut) => step("Carry the piece on edge; flat only as the figures allow.".to_owned()),
        Some(CarryVerdict::OnEdge) => {
            step(
                "From here on carry the piece on edge only, its narrow rail up, a bar clamped along it; never flat."
                    .to_owned(),
            );
        }
        Some(CarryVerdict::Score | CarryVerdict::Stop) | None => {}
    }
    if scored {
        step("On site: support the piece and the drop on the cabinets, cut through the score, wet or with extraction on the tool, and take the drop out.".to_owned());
    }
    out
}

/// What is left to do where no saw goes.
fn without_saw(cutting: &Cutting) -> Option<String> {
    let straight = cutting.passes.iter().any(|p| p.blade.is_none());
    let drilled = !cutting.cores.is_empty() && cutting.passes.is_empty() && cutting.rows.is_empty();
    let what = match (straight, cutting.curves.is_empty()) {
        (false, true) if cutting.cores.is_empty() && cutting.passes.is_empty() => {
            return Some(
                "The shop has no core bit so small as this hole: get one, and drill the hole with it, wet.".to_owned(),
            );
        }
        (false, true) => return None,
        (false, false) if drilled && cutting.curves.len() == 1 => {
            return Some("Grind the hole out from the core to its line, wet.".to_owned());
        }
        (true, true) => "the sides that no blade of the shop can cut",
        (false, false) => "the curved line",
        (true, false) => "the curved line, and the sides that no blade of the shop can cut,",
    };
    Some(format!(
        "Cut {what} by water or router, wet; or make a row of small cuts from the drop that end just short of the line, break out the \
         fingers and grind to the line."
    ))
}

/// Pieces by name: "a", "b" and "c".
fn pieces(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|n| format!("\"{n}\"")).collect();
    match quoted.as_slice() {
        [most @ .., last] if !most.is_empty() => format!("{} and {last}", most.join(", ")),
        all => all.join(""),
    }
}

fn lies(names: &[String]) -> String {
    let verb = if names.len() == 1 { "lies" } else { "lie" };
    format!("{} {verb}", pieces(names))
}

/// Cautions that hold for every opening.
pub(super) fn general() -> Vec<String> {
    [
        "Silica dust harms lungs for good: cut and grind wet or with extraction, clean wet, never sweep dry or blow, wear a \
         respirator (protection factor 20 or more). Limits are local; US: 0.05 mg/m³ over 8 h (29 CFR 1926.1153, 1910.1053).",
        "Breaking stone: keep feet and hands clear of the drop and of narrow rails; wear eye and hearing protection; no loose \
         gloves near a turning blade.",
        "Lifting: slabs and tops kill when they fall. Stand out of the fall shadow; use sound clamps, straps and frames.",
        "Water and electricity: run wet tools on a residual-current device (GFCI, RCD).",
        "Screening, not engineering. Local codes, licensed trades for gas, water and electricity, and the instructions of the \
         fixture go before this sheet.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// The cautions for an opening.
pub(super) fn cautions(opening: &Opening, slab: &Slab, rods: bool) -> Vec<String> {
    let mut out = general();
    if slab.stone == StoneClass::EngineeredQuartz {
        out.insert(
            1,
            "Engineered quartz can be more than 90 % silica: its dust is the worst of all, and some countries forbid the work (ask \
             your regulator)."
                .to_owned(),
        );
    }
    if rods {
        out.push(
            "Resin, hardener and solvent burn, and hurt skin, eyes and lungs: ventilate, no sparks, gloves and goggles, read the \
             safety sheet; never mix peroxide hardener with accelerator; large mixes overheat."
                .to_owned(),
        );
    }
    if opening.kind == OpeningKind::Cooktop {
        out.push(
            "Cooktop: the maker's sheet rules on gaps, heat shields and distances; the stone must not touch the hot body."
                .to_owned(),
        );
    }
    out
}
