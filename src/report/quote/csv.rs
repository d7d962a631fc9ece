//! A quote as CSV (RFC 4180): one row a line, then the sums. In: a quote. Out: bytes in UTF-8.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-` or `@` for a formula. Such texts (names are the customer's) get
//! an apostrophe before them, which spreadsheets take as "this is text"; cells of numbers are numbers and stay as they are.

use csv::{Terminator, WriterBuilder};

use crate::model::Money;
use crate::model::quote::{JobQuote, Quote};
use crate::report::text::clean;

/// Headings of the columns.
pub const COLUMNS: [&str; 9] = ["job", "item", "what", "quantity", "unit", "rate", "amount", "currency", "note"];

/// The quote as CSV.
#[must_use]
pub fn print(quote: &Quote) -> Vec<u8> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    let mut rows: Vec<[String; 9]> = vec![COLUMNS.map(str::to_owned)];
    for job in &quote.jobs {
        rows.extend(lines(quote, job));
    }
    for row in rows {
        // Writing into memory cannot fail.
        let _ = writer.write_record(row);
    }
    writer.into_inner().unwrap_or_default()
}

fn lines(quote: &Quote, job: &JobQuote) -> Vec<[String; 9]> {
    let digits = quote.minor_digits;
    let currency = || as_text(quote.currency.as_deref().unwrap_or(""));
    let mut out: Vec<[String; 9]> = job
        .lines
        .iter()
        .map(|l| {
            [
                as_text(&job.job),
                l.item.name().to_owned(),
                as_text(&l.what),
                l.quantity.to_string(),
                plain(&l.unit),
                l.rate.map(|r| r.to_string()).unwrap_or_default(),
                l.amount.map(|m| m.shown(digits)).unwrap_or_default(),
                currency(),
                if l.rate.is_some() { as_text(&l.note) } else { "no rate given".to_owned() },
            ]
        })
        .collect();
    let mut sum = |item: &str, what: &str, rate: String, amount: Money, note: &str| {
        let (what, note) = (as_text(what), as_text(note));
        let (none, amount) = (String::new(), amount.shown(digits));
        out.push([as_text(&job.job), item.to_owned(), what, none.clone(), none, rate, amount, currency(), note]);
    };
    sum("subtotal", "subtotal", String::new(), job.subtotal, "");
    if let Some(more) = job.to_minimum {
        sum("minimum", "to the minimum charge", String::new(), more, "");
    }
    if let Some(tax) = &job.tax {
        sum("tax", &tax.name, format!("{} %", tax.percent), tax.amount, "");
    }
    let lacking = if job.not_priced.is_empty() { "" } else { "not everything is priced" };
    sum("total", "total", String::new(), job.total, lacking);
    out
}

/// A text that no spreadsheet takes for a formula, on one line.
fn as_text(text: &str) -> String {
    let text = clean(text);
    if text.trim_start().starts_with(['=', '+', '-', '@']) { format!("'{text}") } else { text }
}

/// Units in plain letters, for programs that read another character set.
fn plain(unit: &str) -> String {
    unit.replace('²', "2")
}
