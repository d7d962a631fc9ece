//! Plans side by side. In: a question and its plans. Out: a table as text.

use super::measure;
use super::summary::{Lines, percent};
use crate::model::{Plan, Question};
use crate::units::Shown;

/// What the columns are called.
pub(super) const HEADS: [&str; 8] = ["plan", "slabs", "cost", "gross", "net", "offcuts", "worth", "margin"];

/// A table of plans, the first of which is the one that the report is about; empty if there is only that. The others are
/// called by the numbers that they are written under, from 2.
#[must_use]
pub fn comparison(question: &Question, plans: &[&Plan], shown: Shown) -> String {
    let mut out = Lines::default();
    if plans.len() < 2 {
        return String::new();
    }
    out.line("");
    out.line("Plans side by side");
    out.line(&row(HEADS.map(str::to_owned)));
    for (cells, slabs) in rows(question, plans, shown) {
        out.line(&row(cells));
        out.wrapped("    on ", &slabs);
    }
    out.0
}

/// For each plan its cells, as headed above, and the names of its slabs.
pub(super) fn rows(question: &Question, plans: &[&Plan], shown: Shown) -> Vec<([String; 8], String)> {
    let of = |(i, plan): (usize, &&Plan)| {
        let y = measure::total(question, plan);
        let kept: usize = plan.layouts.iter().map(|l| l.offcuts.len()).sum();
        let name = if i == 0 { "this plan".to_owned() } else { format!("alternative {}", i + 1) };
        let cells = [
            name,
            plan.layouts.len().to_string(),
            format!("{:.2}", plan.cost),
            percent(y.gross),
            percent(y.net),
            kept.to_string(),
            plan.offcut_worth.map_or_else(|| "-".to_owned(), |w| format!("{w:.2}")),
            plan.flaw_margin.map_or_else(|| "no flaw".to_owned(), |m| shown.length(m)),
        ];
        let slabs: Vec<&str> = plan.layouts.iter().map(|l| l.slab.as_str()).collect();
        (cells, slabs.join(", "))
    };
    plans.iter().enumerate().map(of).collect()
}

fn row([plan, slabs, cost, gross, net, offcuts, worth, margin]: [String; 8]) -> String {
    format!("{plan:<18}{slabs:>7}{cost:>12}{gross:>9}{net:>9}{offcuts:>9}{worth:>12}{margin:>14}")
}
