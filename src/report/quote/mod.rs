//! A quote as plain strings ([`rows`]), as text ([`text`]), and as CSV ([`csv`]).
//!
//! In: a quote and the units for people. Out: strings. Reckons nothing: figures are those of the quote. Where people want
//! other units than the shop charges by, the other ones stand beside; amounts do not depend on them.

pub mod csv;
mod print;

pub use print::text;

use super::text::clean;
use crate::model::Money;
use crate::model::quote::{Basis, Compared, Item, JobQuote, Line, Quote, Used};
use crate::units::{Decimal, MM_PER_INCH, Shown};

/// The quote of one job, every cell a text. Pages and terminals print it and decide nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// "Quote" or "Estimate".
    pub title: &'static str,
    /// Name of the job.
    pub job: String,
    /// What stands above the lines: a label and its words.
    pub head: Vec<[String; 2]>,
    /// Headings of the columns: what, quantity, unit, rate, amount.
    pub columns: [&'static str; 5],
    /// The lines.
    pub rows: Vec<Row>,
    /// Subtotal, minimum, tax and total: a label and an amount.
    pub sums: Vec<[String; 2]>,
    /// What the total lacks; empty if nothing.
    pub lacking: Vec<String>,
    /// What the office should know before it sends the quote; empty if nothing.
    pub cautions: Vec<String>,
    /// The estimate beside the plan: what, estimate, plan, plan less estimate; the last row is the total.
    pub estimate: Vec<[String; 4]>,
    /// In a sentence, how far off the estimate was; empty without one.
    pub off: String,
    /// Further sections: a heading and its sentences.
    pub sections: Vec<(&'static str, Vec<String>)>,
}

/// A line of a quote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The heading that it stands under; equal ones follow one another.
    pub group: &'static str,
    /// What, quantity, unit, rate, amount.
    pub cells: [String; 5],
    /// How the quantity was found; may be empty.
    pub note: String,
}

/// What stands in place of a rate that the shop does not give.
const NO_RATE: &str = "no rate given";

/// The tables of a quote, one for each job.
#[must_use]
pub fn rows(quote: &Quote, shown: Shown) -> Vec<Table> {
    quote.jobs.iter().map(|job| table(quote, job, shown)).collect()
}

fn table(quote: &Quote, job: &JobQuote, shown: Shown) -> Table {
    let digits = quote.minor_digits;
    let compare = job.estimate.as_ref();
    Table {
        title: if quote.basis == Basis::Plan { "Quote" } else { "Estimate" },
        job: clean(&job.job),
        head: head(quote, job, shown),
        columns: ["", "quantity", "unit", "rate", "amount"],
        rows: job.lines.iter().map(|l| row(l, digits, shown)).collect(),
        sums: sums(quote, job),
        lacking: job.not_priced.iter().map(|n| clean(&format!("{}: {}", n.what, n.fix))).collect(),
        cautions: job.cautions.iter().map(|c| clean(c)).collect(),
        estimate: compare
            .map(|c| c.lines.iter().chain([&c.total]).map(|line| compared(line, digits)).collect())
            .unwrap_or_default(),
        off: compare.map(|c| off(&c.total, digits)).unwrap_or_default(),
        sections: sections(quote, job),
    }
}

fn head(quote: &Quote, job: &JobQuote, shown: Shown) -> Vec<[String; 2]> {
    let line = |label: &str, words: String| [label.to_owned(), words];
    let mut out = Vec::new();
    if let Some(date) = &quote.date {
        out.push(line("date", date.clone()));
    }
    let days = if quote.valid_days == 1 { "1 day".to_owned() } else { format!("{} days", quote.valid_days) };
    out.push(match &quote.valid_until {
        Some(day) => line("valid until", format!("{day} ({days})")),
        None => line("valid for", days),
    });
    let pieces = if job.pieces == 1 { "1 piece".to_owned() } else { format!("{} pieces", job.pieces) };
    out.push(line("stone", clean(&format!("{}, {}, {pieces}", job.material, shown.length(job.thickness)))));
    if let Some(currency) = &quote.currency {
        out.push(line("amounts", clean(currency)));
    }
    out
}

const fn group(item: Item) -> &'static str {
    match item {
        Item::Slab | Item::Stone | Item::Credit => "Stone",
        Item::Edge | Item::Corner => "Edges",
        Item::Opening | Item::SiteFinish | Item::Rod => "Openings",
        Item::Seam | Item::Mesh | Item::Sealing => "Further work",
        Item::Templating | Item::Delivery | Item::Installation => "Services",
        Item::Extra => "Other",
    }
}

fn row(line: &Line, digits: u32, shown: Shown) -> Row {
    let rate = match line.rate {
        // Rates may be finer than the smallest coin.
        Some(rate) => rate.rounded(digits.max(rate.decimals())).unwrap_or(rate).to_string(),
        None => NO_RATE.to_owned(),
    };
    let amount = line.amount.map_or_else(|| "-".to_owned(), |m| m.shown(digits));
    let quantity = line.quantity.to_string();
    let what = format!("{}{}", line.what, beside(line, shown));
    Row {
        group: group(line.item),
        cells: [clean(&what), quantity, line.unit.clone(), rate, amount],
        note: clean(&line.note),
    }
}

/// The quantity in the units that people want, in brackets, where it is charged in others.
fn beside(line: &Line, shown: Shown) -> String {
    const METRES_IN_FOOT: f64 = 12.0 * MM_PER_INCH / 1000.0;
    let value = line.quantity.to_f64();
    let (other, unit) = match (shown, line.unit.as_str()) {
        (Shown::In, "m") => (value / METRES_IN_FOOT, "ft"),
        (Shown::In, "m²") => (value / (METRES_IN_FOOT * METRES_IN_FOOT), "ft²"),
        (Shown::Mm, "ft") => (value * METRES_IN_FOOT, "m"),
        (Shown::Mm, "ft²") => (value * METRES_IN_FOOT * METRES_IN_FOOT, "m²"),
        _ => return String::new(),
    };
    format!(" ({other:.2} {unit})")
}

fn sums(quote: &Quote, job: &JobQuote) -> Vec<[String; 2]> {
    let money = |m: Money| m.shown(quote.minor_digits);
    let mut out = Vec::new();
    if job.to_minimum.is_some() || job.tax.is_some() {
        out.push(["subtotal".to_owned(), money(job.subtotal)]);
    }
    if let Some(more) = job.to_minimum {
        out.push(["to the minimum charge".to_owned(), money(more)]);
    }
    if let Some(tax) = &job.tax {
        out.push([clean(&format!("{} {} %", tax.name, tax.percent)), money(tax.amount)]);
    }
    let total = if job.not_priced.is_empty() { "total" } else { "total of what is priced" };
    let total = match &quote.currency {
        Some(currency) => format!("{total}, {}", clean(currency)),
        None => total.to_owned(),
    };
    out.push([total, money(job.total)]);
    out
}

fn compared(line: &Compared, digits: u32) -> [String; 4] {
    let money = |m: Option<Money>| m.map_or_else(|| "-".to_owned(), |m| m.shown(digits));
    [clean(&line.what), money(line.estimate), money(line.plan), money(line.off)]
}

fn off(total: &Compared, digits: u32) -> String {
    let (Some(estimate), Some(off)) = (total.estimate, total.off) else { return String::new() };
    if off.minor == 0 {
        return "The estimate came to the same total.".to_owned();
    }
    let side = if off.minor > 0 { "low" } else { "high" };
    let by = Money { amount: off.amount.abs(), minor: off.minor.abs() }.shown(digits);
    if estimate.minor == 0 {
        return format!("The estimate was {by} too {side}.");
    }
    format!("The estimate was {by} too {side}, {:.1} % of the estimate.", (off.amount / estimate.amount * 100.0).abs())
}

fn sections(quote: &Quote, job: &JobQuote) -> Vec<(&'static str, Vec<String>)> {
    let mut out = vec![("Stone used", stone_used(quote, job)), ("How it is measured", quote.measured.clone())];
    if !quote.not_included.is_empty() {
        out.push(("Not included", quote.not_included.clone()));
    }
    if !quote.terms.is_empty() {
        out.push(("Terms", quote.terms.clone()));
    }
    for (_, sentences) in &mut out {
        sentences.iter_mut().for_each(|s| *s = clean(s));
    }
    out
}

/// The yields by name, with what is often confused with them.
fn stone_used(quote: &Quote, job: &JobQuote) -> Vec<String> {
    let percent = |share: f64| format!("{} %", Decimal(share * 100.0, 2));
    let figures = |used: &Used, name: &str, on: &str| {
        format!(
            "waste of slab {} (1-{name}), uplift on {on} {} (1/{name}-1)",
            percent(used.waste),
            percent(used.uplift)
        )
    };
    let y = &job.yields;
    if quote.basis == Basis::Plan && y.slabs_mm2.is_none_or(|a| a <= 0.0) {
        return vec!["No piece lies on a slab.".to_owned()];
    }
    let usual = if quote.basis == Basis::Plan { "" } else { " as the shop usually has it" };
    vec![
        format!(
            "Gross yield Y2{usual}: {}, pieces with their openings filled over the area of their slabs; {}.",
            percent(y.gross.share),
            figures(&y.gross, "Y2", "the area of the pieces")
        ),
        format!(
            "Net yield Y1: {}, pieces without their openings over the area of their slabs; {}.",
            percent(y.net.share),
            figures(&y.net, "Y1", "the net area")
        ),
        "Kept offcuts count as waste here. Elsewhere on this quote, waste is that of Y2.".to_owned(),
    ]
}
