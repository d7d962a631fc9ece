//! A quote in text: aligned, at most 100 characters a line. In: tables. Out: a string. Knows no terminal.

use super::{Table, rows};
use crate::model::quote::Quote;
use crate::report::summary::{Lines, wrap};
use crate::units::Shown;

/// Characters for what a line is about, without its indent.
const WHAT: usize = 46;

/// The quote for people, job after job.
#[must_use]
pub fn text(quote: &Quote, shown: Shown) -> String {
    let tables = rows(quote, shown);
    let printed: Vec<String> = tables.iter().map(print).collect();
    printed.join(&format!("\n{}\n\n", "-".repeat(96)))
}

fn print(table: &Table) -> String {
    let mut out = Lines::default();
    out.wrapped(&format!("{} for ", table.title), &table.job);
    out.line("");
    for [label, words] in &table.head {
        out.wrapped(&format!("  {label:<14}"), words);
    }
    out.line("");
    let [what, quantity, unit, rate, amount] = table.columns;
    out.line(&format!("  {what:<WHAT$}{quantity:>11}  {unit:<5}{rate:>14}{amount:>16}"));
    let mut group = "";
    for row in &table.rows {
        if row.group != group {
            group = row.group;
            out.line(group);
        }
        let [what, quantity, unit, rate, amount] = &row.cells;
        let words = wrap(what, WHAT);
        let first = words.first().map_or("", String::as_str);
        out.line(&format!("  {first:<WHAT$}{quantity:>11}  {unit:<5}{rate:>14}{amount:>16}"));
        for more in words.iter().skip(1) {
            out.line(&format!("  {more}"));
        }
        for note in wrap(&row.note, WHAT - 2) {
            out.line(&format!("    {note}"));
        }
    }
    out.line(&format!("  {:>94}", "-".repeat(16)));
    for [label, amount] in &table.sums {
        out.line(&format!("  {label:>76}  {amount:>16}"));
    }
    for (heading, sentences) in [("Not in the total", &table.lacking), ("Before you send this", &table.cautions)] {
        if !sentences.is_empty() {
            out.line("");
            out.line(heading);
            sentences.iter().for_each(|words| out.wrapped("  - ", words));
        }
    }
    if !table.estimate.is_empty() {
        out.line("");
        let row = |out: &mut Lines, [what, estimate, plan, off]: [&str; 4]| {
            let words = wrap(what, WHAT);
            let first = words.first().map_or("", String::as_str);
            out.line(&format!("  {first:<WHAT$}{estimate:>16}{plan:>16}{off:>16}"));
            words.iter().skip(1).for_each(|more| out.line(&format!("  {more}")));
        };
        out.line("The estimate beside the plan");
        row(&mut out, ["", "estimate", "plan", "difference"]);
        for cells in &table.estimate {
            row(&mut out, cells.each_ref().map(String::as_str));
        }
        out.wrapped("  ", &table.off);
    }
    for (heading, sentences) in &table.sections {
        out.line("");
        out.line(heading);
        sentences.iter().for_each(|words| out.wrapped("  - ", words));
    }
    out.0
}
