//! An opening that is only scored in the shop, to be finished on site.
//!
//! In: an opening, its cutting, the stone. Out: [`Score`], or why there is none. Must not know: whether it is needed.

use super::corners::{Made, corners, made_ring};
use super::passes::{Cut, sides};
use crate::model::openings::Score;
use crate::model::{Opening, OpeningKind, Shape, Shown, StoneClass, Tools};

/// Stone left under a score, mm: 6 to 10 (common practice).
const LEFT: [f64; 2] = [6.0, 10.0];

/// Depth of a score as a share of the thickness: two thirds to three quarters (common practice).
const SHARE: [f64; 2] = [2.0 / 3.0, 0.75];

/// Length of a tab, mm. 60 (common practice: 50 to 75).
const TAB: f64 = 60.0;

/// Depth of a score in stone of a thickness, mm: two thirds of it, with 6 to 10 mm left, but never more than three quarters.
/// `None` where both cannot be kept, in stone thinner than 18 mm.
#[must_use]
pub fn depth(thickness: f64) -> Option<f64> {
    let left = (thickness * (1.0 - SHARE[0])).clamp(LEFT[0], LEFT[1]).max(thickness * (1.0 - SHARE[1]));
    let depth = thickness - left;
    (depth >= SHARE[0] * thickness - 1e-9).then_some(depth)
}

/// How an opening is scored from the back in the shop, to be finished on site. All of it is common practice: cores through at
/// the corners, sides plunge-cut from the back to two thirds or three quarters of the thickness, 6 to 10 mm left or tabs of
/// 50 to 75 mm at mid-side. Here the stone is left all along, and tabs besides on sides that have the room.
///
/// Notes and reasons give lengths in the units `shown`.
///
/// # Errors
/// Why the trade or the shape does not allow it: for people.
pub fn score(
    opening: &Opening,
    stone: StoneClass,
    thickness: f64,
    tools: &Tools,
    shown: Shown,
) -> Result<Score, String> {
    let said = |mm: f64| shown.said(mm);
    if opening.kind == OpeningKind::UndermountSink {
        return Err(
            "an undermount opening is polished in the shop: it cannot be scored and finished on site".to_owned()
        );
    }
    if matches!(stone, StoneClass::Porcelain | StoneClass::EngineeredQuartz) {
        return Err(format!("{} is too brittle to be scored and finished on site", stone.name()));
    }
    let Shape::Polygon(drawn) = &opening.shape else {
        return Err("a round opening has no corners at which a score could end: it is cut in the shop".to_owned());
    };
    let Some(depth) = depth(thickness) else {
        return Err(format!(
            "{} of stone are too thin to be scored two thirds deep with {} left",
            said(thickness),
            said(LEFT[0])
        ));
    };
    let turns = corners(drawn, tools);
    if turns.iter().any(|t| matches!(t.made, Made::Row | Made::CoreInArc(_))) {
        return Err("some corners get no core that a score could end at".to_owned());
    }
    let ring = made_ring(&turns);
    let blades = tools.blades_by_size();
    let mut score =
        Score { depth, left: thickness - depth, tabs: Vec::new(), tab: TAB, passes: Vec::new(), notes: Vec::new() };
    for side in sides(&turns) {
        if side.is_gone() {
            continue;
        }
        let cut = |blade| Cut { blade, depth, goal: depth, from_back: true };
        let halves = blades.iter().find_map(|&b| {
            let (first, second, middle) = side.round_tab(b.kerf, TAB);
            Some((side.pass(cut(b), &ring, Some(first))?, side.pass(cut(b), &ring, Some(second))?, middle))
        });
        // The larger saw without a tab rather than the hand blade with one.
        let whole = blades.iter().find_map(|&b| side.pass(cut(b), &ring, None));
        match (halves, whole) {
            (Some((first, second, middle)), whole) if whole.as_ref().is_none_or(|w| w.blade == first.blade) => {
                score.tabs.push(middle.into());
                score.passes.extend([first, second]);
            }
            (_, Some(whole)) => score.passes.push(whole),
            _ => return Err(format!("no blade of the shop can score the {} of it {} deep", side.name, said(depth))),
        }
    }
    score.notes.push(format!(
        "drill the cores through, then score the sides from the back {} deep: {} are left, {} of the strength in bending",
        said(depth),
        said(score.left),
        percent((score.left / thickness).powi(2))
    ));
    if !score.tabs.is_empty() {
        score.notes.push(format!("leave tabs of {} whole in the middle of the long sides", said(TAB)));
    }
    score.notes.push(
        "on site: cut with water or extraction at the tool (M-class), with a mask, keep the water off cabinets and floor, and hold \
         the drop from below"
            .to_owned(),
    );
    Ok(score)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}
