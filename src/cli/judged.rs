//! What is wrong with a plan: what the judge finds, and pieces in drops that stay where they are.

use crate::check;
use crate::craft;
use crate::model::openings::{OpeningSheet, Verdict};
use crate::model::{Finding, Grade, Plan, Question, Rule};

/// Judges a plan. Whether an opening is cut out in the shop is worked out with its sheet, which the judge does not know: so pieces in
/// drops are looked at here once more.
pub(super) fn judge(question: &Question, plan: &Plan) -> Vec<Finding> {
    let mut findings = check::judge(question, plan);
    // Without the use of drops the judge faults whatever lies in one. What makes no sense, or is too large, has no sheets either.
    let nonsense = findings.iter().any(|f| f.rule == Rule::NumberNonsense);
    if question.shop.limits.use_drops && !nonsense {
        findings.extend(craft::sheets(question, Some(plan)).openings.iter().flat_map(drop_stays));
        findings.sort_by_key(|f| f.grade);
    }
    findings
}

/// A finding for every piece that lies in the drop of an opening which is scored only or not cut.
fn drop_stays(sheet: &OpeningSheet) -> Vec<Finding> {
    let why = match sheet.verdict {
        Verdict::Fine | Verdict::Rods => return Vec::new(),
        Verdict::Score => "is only scored in the shop, and its drop stays in until the piece is on site",
        Verdict::Stop => "must not be cut as drawn",
    };
    let finding = |name: &String| Finding {
        rule: Rule::DropStays,
        grade: Grade::Broken,
        job: Some(sheet.job.clone()),
        piece: Some(sheet.piece.clone()),
        opening: Some(sheet.opening.clone()),
        slab: sheet.slab.clone(),
        at: None,
        found: None,
        needed: None,
        message: format!(
            "\"{name}\" lies in the drop of \"{}\" of \"{}\", which {why}; nothing may lie in its drop",
            sheet.opening, sheet.piece
        ),
    };
    sheet.pieces_in_drop.iter().map(finding).collect()
}
