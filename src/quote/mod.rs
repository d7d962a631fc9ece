//! What jobs cost: line items, tax, total.
//!
//! In: a question, maybe a plan, and the sheets of openings, for rods. Out: a [`Quote`]. Must not know: files, screens, how
//! plans and sheets are made. Nothing is priced at zero for lack of a rate: what has none is listed.
//!
//! Money is whole minor units. A quantity is first rounded to the decimals that are shown, then multiplied digit by digit
//! ([`crate::model::Exact`]) and rounded once, halves up. Sums are sums of whole numbers.

mod compare;
mod date;
mod measure;
mod sheet;
mod stone;
mod words;
mod work;

use crate::model::openings::{Openings, Verdict};
use crate::model::quote::{Basis, JobQuote, Quote, Tax};
use crate::model::{Exact, Job, Money, Plan, Question, Rates};

pub use date::Day;
pub use measure::{area, edges, ellipse_length, rectangles, rounded_corners};
use sheet::Sheet;

/// What is to be priced.
#[derive(Clone, Copy, Debug)]
pub struct Wish<'a> {
    /// Jobs, rack and rates.
    pub question: &'a Question,
    /// The plan that says which slabs are cut; without one the stone is estimated.
    pub plan: Option<&'a Plan>,
    /// The sheets of all openings, for rods and for what is finished on site.
    pub openings: &'a Openings,
    /// Number of seams of each job, in their order; jobs without an entry have none.
    pub seams: &'a [u32],
    /// True: show beside a plan what an estimate would have come to.
    pub compare: bool,
    /// The day of the quote.
    pub date: Option<Day>,
}

/// Why there is no quote.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{job}: {line}: {figures} is more than can be added up")]
pub struct TooLarge {
    /// Name of the job.
    pub job: String,
    /// The line, in words.
    pub line: String,
    /// What was to be reckoned.
    pub figures: String,
}

/// The quote for all jobs of a question.
///
/// # Errors
/// [`TooLarge`] names the line whose amount is beyond all range.
pub fn quote(wish: &Wish<'_>) -> Result<Quote, TooLarge> {
    let rates = &wish.question.shop.rates;
    let mut jobs = priced(wish, wish.plan)?;
    if wish.compare && wish.plan.is_some() {
        for (job, estimate) in jobs.iter_mut().zip(priced(wish, None)?) {
            job.estimate = Some(compare::beside(job, &estimate, rates.minor_digits));
        }
    }
    Ok(Quote {
        format: Quote::FORMAT.to_owned(),
        currency: rates.currency.clone(),
        minor_digits: rates.minor_digits,
        per: rates.per.length().to_owned(),
        basis: if wish.plan.is_some() { Basis::Plan } else { Basis::Estimate },
        date: wish.date.map(|d| d.to_string()),
        valid_days: rates.valid_days,
        valid_until: wish.date.and_then(|d| d.after(rates.valid_days)).map(|d| d.to_string()),
        measured: words::measured(rates, &jobs, wish.plan.is_some(), wish.question.shop.shown),
        not_included: words::not_included(rates),
        terms: rates.terms.clone(),
        jobs,
    })
}

/// All jobs, with the stone of a plan or estimated.
fn priced(wish: &Wish<'_>, plan: Option<&Plan>) -> Result<Vec<JobQuote>, TooLarge> {
    let rates = &wish.question.shop.rates;
    let stones = stone::all(wish.question, plan)?;
    let jobs = wish.question.jobs.iter().zip(stones).enumerate();
    jobs.map(|(j, (job, stone))| {
        let mut sheet = Sheet::new(&job.name, rates.minor_digits);
        stone.write(&mut sheet)?;
        let seams = wish.seams.get(j).copied().unwrap_or(0);
        work::write(&mut sheet, job, wish.openings, seams, rates)?;
        closed(sheet, job, stone, cautions(job, wish.openings, rates), rates)
    })
    .collect()
}

/// What the office should know before it sends the quote.
fn cautions(job: &Job, openings: &Openings, rates: &Rates) -> Vec<String> {
    let stopped = openings.openings.iter().filter(|o| o.job == job.name && o.verdict == Verdict::Stop);
    let stopped = stopped
        .map(|o| format!("{} of {} is not to be cut as drawn: `scantling openings` says why", o.opening, o.piece));
    let unnamed =
        rates.currency.is_none().then(|| "no currency is named: set rates.currency in the shop file".to_owned());
    stopped.chain(unnamed).collect()
}

/// The sums below the lines.
fn closed(
    sheet: Sheet<'_>,
    job: &Job,
    stone: stone::Stone,
    cautions: Vec<String>,
    rates: &Rates,
) -> Result<JobQuote, TooLarge> {
    let digits = rates.minor_digits;
    let too_large = |line: &str| sheet.too_large(line, "the sum");
    let money = |minor: i128, line: &str| Money::of(minor, digits).ok_or_else(|| too_large(line));
    let subtotal: i128 = sheet.lines.iter().filter_map(|l| l.amount).map(|m| i128::from(m.minor)).sum();
    let least = match rates.minimum {
        Some(least) => least.in_units(digits).ok_or_else(|| too_large("minimum charge"))?,
        None => i128::MIN,
    };
    let more = (subtotal < least).then(|| least - subtotal);
    let taxed = subtotal + more.unwrap_or(0);
    let mut not_priced = sheet.not_priced.clone();
    let mut total = taxed;
    let tax = match rates.tax_percent {
        Some(percent) => {
            let amount = Exact::new(taxed, digits + 2).times(percent).and_then(|t| t.in_units(digits));
            let amount = amount.ok_or_else(|| too_large(&rates.tax_name))?;
            total += amount;
            Some(Tax { name: rates.tax_name.clone(), percent, amount: money(amount, &rates.tax_name)? })
        }
        None => {
            not_priced.push(sheet::lacking(&rates.tax_name, "tax_percent", "; 0 where none is due"));
            None
        }
    };
    Ok(JobQuote {
        job: job.name.clone(),
        material: job.material.clone(),
        thickness: job.thickness,
        pieces: job.pieces.len(),
        unplaced: stone.unplaced,
        subtotal: money(subtotal, "subtotal")?,
        to_minimum: more.map(|m| money(m, "minimum charge")).transpose()?,
        tax,
        total: money(total, "total")?,
        not_priced,
        cautions,
        yields: stone.yields,
        estimate: None,
        lines: sheet.lines,
    })
}
