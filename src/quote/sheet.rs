//! The lines of a quote in the making. In: quantities and rates. Out: lines with amounts, and what has none.

use super::TooLarge;
use crate::model::quote::{Item, Line, NotPriced};
use crate::model::{Exact, Money};

/// What is charged so far.
pub(super) struct Sheet<'a> {
    job: &'a str,
    digits: u32,
    pub(super) lines: Vec<Line>,
    pub(super) not_priced: Vec<NotPriced>,
}

/// A line before it is priced.
pub(super) struct Draft<'d> {
    pub(super) item: Item,
    pub(super) what: String,
    pub(super) quantity: Exact,
    pub(super) unit: &'d str,
    /// The key of the shop file that holds the rate.
    pub(super) key: &'d str,
    pub(super) note: String,
}

/// Something that the total lacks because a key of `rates` is not given.
pub(super) fn lacking(what: &str, key: &str, more: &str) -> NotPriced {
    NotPriced { what: what.to_owned(), fix: format!("no rate given: set rates.{key} in the shop file{more}") }
}

impl<'a> Sheet<'a> {
    pub(super) const fn new(job: &'a str, digits: u32) -> Self {
        Self { job, digits, lines: Vec::new(), not_priced: Vec::new() }
    }

    pub(super) fn too_large(&self, line: &str, figures: &str) -> TooLarge {
        TooLarge { job: self.job.to_owned(), line: line.to_owned(), figures: figures.to_owned() }
    }

    /// Puts down a line at a rate; without one it is listed as not priced.
    pub(super) fn put(&mut self, draft: Draft<'_>, rate: Option<Exact>) -> Result<(), TooLarge> {
        let amount = match rate {
            Some(rate) => {
                let minor = draft.quantity.times(rate).and_then(|a| a.in_units(self.digits));
                let money = minor.and_then(|m| Money::of(m, self.digits));
                let figures = format!("{} {} at {rate}", draft.quantity, draft.unit);
                Some(money.ok_or_else(|| self.too_large(&draft.what, &figures))?)
            }
            None => {
                self.not_priced.push(lacking(&draft.what, draft.key, ""));
                None
            }
        };
        self.lines.push(line(draft, rate, amount));
        Ok(())
    }

    /// Puts down a line whose amount is a part of a larger one.
    pub(super) fn put_part(&mut self, draft: Draft<'_>, rate: Exact, minor: i128) -> Result<(), TooLarge> {
        let amount = Money::of(minor, self.digits)
            .ok_or_else(|| self.too_large(&draft.what, &format!("{} {} at {rate}", draft.quantity, draft.unit)))?;
        self.lines.push(line(draft, Some(rate), Some(amount)));
        Ok(())
    }
}

fn line(draft: Draft<'_>, rate: Option<Exact>, amount: Option<Money>) -> Line {
    let Draft { item, what, quantity, unit, note, .. } = draft;
    Line { item, what, quantity, unit: unit.to_owned(), rate, amount, note }
}

/// A float as a quantity with so many decimals, halves up. A millionth of the last decimal is given, so that a half that a
/// float cannot hold is still a half.
pub(super) fn quantity(value: f64, decimals: u32) -> Exact {
    let scaled = (value * 10_f64.powi(decimals.cast_signed()) + 0.5 + 1e-6).floor();
    Exact::new(if scaled.is_finite() { scaled as i128 } else { 0 }, decimals)
}

/// How often a step goes into a value, rounded up. A millionth of a step is forgiven, so that what measures a whole number of
/// steps is not charged for one more.
pub(super) fn steps(value: f64, step: f64) -> f64 {
    (value / step - 1e-6).ceil().max(0.0)
}
