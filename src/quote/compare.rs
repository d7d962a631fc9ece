//! An estimate beside the quote of a plan, line by line. In: both quotes of one job. Out: what each came to and the
//! difference.

use crate::model::Money;
use crate::model::quote::{Compared, Comparison, JobQuote, Line};

/// The estimate beside the plan's quote.
pub(super) fn beside(plan: &JobQuote, estimate: &JobQuote, digits: u32) -> Comparison {
    let mut lines = vec![compared("stone", stone(estimate, digits), stone(plan, digits), digits)];
    let work = |l: &&Line| !l.item.is_stone();
    let same = |a: &Line, b: &Line| a.item == b.item && a.what == b.what;
    for line in plan.lines.iter().filter(work) {
        // A line that only one of them has came to nothing in the other.
        let other = estimate.lines.iter().find(|l| same(l, line));
        lines.push(compared(&line.what, other.map_or(NOTHING, |l| l.amount), line.amount, digits));
    }
    for line in estimate.lines.iter().filter(work).filter(|l| !plan.lines.iter().any(|p| same(p, l))) {
        lines.push(compared(&line.what, line.amount, NOTHING, digits));
    }
    if plan.to_minimum.is_some() || estimate.to_minimum.is_some() {
        let least = |q: &JobQuote| q.to_minimum.or(NOTHING);
        lines.push(compared("to the minimum charge", least(estimate), least(plan), digits));
    }
    if let (Some(a), Some(b)) = (&estimate.tax, &plan.tax) {
        lines.push(compared(&b.name, Some(a.amount), Some(b.amount), digits));
    }
    let total = compared("total", Some(estimate.total), Some(plan.total), digits);
    Comparison { lines, total }
}

/// What a line comes to that is not there.
const NOTHING: Option<Money> = Some(Money { amount: 0.0, minor: 0 });

/// All that is charged for stone; nothing if one of its lines has no price.
fn stone(quote: &JobQuote, digits: u32) -> Option<Money> {
    let lines = quote.lines.iter().filter(|l| l.item.is_stone());
    let minor = lines.map(|l| l.amount.map(|m| i128::from(m.minor))).sum::<Option<i128>>()?;
    Money::of(minor, digits)
}

fn compared(what: &str, estimate: Option<Money>, plan: Option<Money>, digits: u32) -> Compared {
    let off = match (estimate, plan) {
        (Some(e), Some(p)) => Money::of(i128::from(p.minor) - i128::from(e.minor), digits),
        _ => None,
    };
    Compared { what: what.to_owned(), estimate, plan, off }
}
