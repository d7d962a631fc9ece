//! Reads `[rates]` of `shop.toml`.
//!
//! In: a parsed table. Out: [`Rates`] with the defaults for all that is not given, and remarks. Numbers are kept digit by
//! digit. Must not know: jobs, slabs, what is priced.

use super::reader::{Keys, Table, Value};
use super::shape::Likely;
use crate::diag::Kind;
use crate::model::{AreaRule, Exact, Extra, Per, RateUnit, Rates, RoundedBy, Service, SlabCharge};
use crate::units::Unit;

/// The keys of the table.
pub(super) const RATES: &[&str] = &[
    "currency",
    "minor_digits",
    "per",
    "slabs",
    "stone",
    "markup_percent",
    "waste_percent",
    "credit_percent",
    "area_rule",
    "area_step",
    "area_rounded_by",
    "length_step",
    "edges",
    "openings",
    "site_finish",
    "rods",
    "seam",
    "corner",
    "mesh",
    "sealing",
    "templating",
    "delivery",
    "installation",
    "installation_by_area",
    "without",
    "minimum",
    "tax_percent",
    "tax_name",
    "valid_days",
    "extra",
    "not_included",
    "terms",
];

/// The keys of its table of openings: the kinds.
pub(super) const OPENINGS: &[&str] = &["drop-in sink", "undermount sink", "cooktop", "tap hole", "outlet", "other"];

/// The keys of an extra.
pub(super) const EXTRA: &[&str] = &["name", "rate", "per"];

/// No rate is larger: it bounds what a line can come to.
const MOST: i64 = 1_000_000_000;

/// Lists of the shop's own are no longer.
const LONGEST: usize = 100;

/// Reads the table `rates` of a shop.
pub(super) fn read(shop: &Table<'_>, unit: Unit, all: &'static Keys) -> Rates {
    let mut rates = Rates {
        per: if matches!(unit, Unit::In | Unit::Ft) { RateUnit::Foot } else { RateUnit::Metre },
        ..Rates::default()
    };
    let Some(table) = shop.get("rates").and_then(|v| v.table(RATES, all)) else { return rates };
    read_ways(&table, &mut rates);
    read_steps(&table, unit, &mut rates);
    let percent = |key: &'static str, most: i64| table.get(key).and_then(|v| v.decimal_within(0, most));
    if let Some(percent) = percent("markup_percent", 1000) {
        rates.markup_percent = percent;
    }
    // A slab of which more than 95 % goes to waste would be charged more than twenty times.
    if let Some(percent) = percent("waste_percent", 95) {
        rates.waste_percent = percent;
    }
    if let Some(percent) = percent("credit_percent", 100) {
        rates.credit_percent = percent;
    }
    rates.tax_percent = percent("tax_percent", 100);
    let rate = |key: &'static str| table.get(key).and_then(|v| v.decimal_within(0, MOST));
    rates.stone = rate("stone");
    rates.site_finish = rate("site_finish");
    rates.rods = rate("rods");
    rates.seam = rate("seam");
    rates.corner = rate("corner");
    rates.mesh = rate("mesh");
    rates.sealing = rate("sealing");
    rates.templating = rate("templating");
    rates.delivery = rate("delivery");
    rates.installation = rate("installation");
    rates.installation_by_area = rate("installation_by_area");
    rates.minimum = rate("minimum");
    read_edges(&table, &mut rates);
    if let Some(openings) = table.get("openings").and_then(|v| v.table(OPENINGS, all)) {
        for (slot, &key) in rates.openings.iter_mut().zip(OPENINGS) {
            *slot = openings.get(key).and_then(|v| v.decimal_within(0, MOST));
        }
    }
    read_without(&table, &mut rates);
    rates.extras = table.tables("extra", EXTRA).iter().take(LONGEST).filter_map(read_extra).collect();
    for (key, field) in [("not_included", &mut rates.not_included), ("terms", &mut rates.terms)] {
        if let Some(list) = table.get(key).and_then(|v| v.list("a list of texts")) {
            *field = list.iter().take(LONGEST).filter_map(Value::name).collect();
        }
    }
    for key in ["extra", "not_included", "terms"] {
        let count = entries(&table, key);
        if count > LONGEST {
            let given = format!("{count} entries");
            table.error(Kind::TooMany, key, given, format!("at most {LONGEST}"), "take some out");
        }
    }
    rates
}

/// How many entries the list of a key has; 0 if there is none.
fn entries(table: &Table<'_>, key: &'static str) -> usize {
    table.get(key).filter(Value::is_list).and_then(|v| v.list("a list")).map_or(0, |l| l.len())
}

/// Words, names and days.
fn read_ways(table: &Table<'_>, rates: &mut Rates) {
    /// Codes have three letters, signs one or a few.
    const LONGEST_CURRENCY: usize = 8;
    if let Some(value) = table.get("currency")
        && let Some(name) = value.name()
    {
        if name.chars().count() > LONGEST_CURRENCY {
            let expected = format!("a code or a sign of at most {LONGEST_CURRENCY} characters");
            value.error(Kind::BadName, value.as_written(), expected, "write for example \"EUR\" or \"$\"");
        }
        rates.currency = Some(name);
    }
    let whole = |key: &'static str, least: i64, most: i64| {
        let value = table.get(key)?;
        let n = value.integer()?;
        if n < least || n > most {
            let expected = format!("a whole number from {least} to {most}");
            value.error(Kind::OutOfRange, value.as_written(), expected, "check the value");
            return None;
        }
        u32::try_from(n).ok()
    };
    if let Some(digits) = whole("minor_digits", 0, 4) {
        rates.minor_digits = digits;
    }
    if let Some(days) = whole("valid_days", 1, 3650) {
        rates.valid_days = days;
    }
    if let Some(name) = table.get("tax_name").and_then(|v| v.name()) {
        rates.tax_name = name;
    }
    if let Some(per) = table.get("per").and_then(|v| v.word(&RateUnit::NAMES)) {
        rates.per = per;
    }
    if let Some(slabs) = table.get("slabs").and_then(|v| v.word(&SlabCharge::NAMES)) {
        rates.slabs = slabs;
    }
    if let Some(rule) = table.get("area_rule").and_then(|v| v.word(&AreaRule::NAMES)) {
        rates.area_rule = rule;
    }
    if let Some(by) = table.get("area_rounded_by").and_then(|v| v.word(&RoundedBy::NAMES)) {
        rates.area_rounded_by = by;
    }
}

/// What areas and lengths are rounded up to.
fn read_steps(table: &Table<'_>, unit: Unit, rates: &mut Rates) {
    rates.area_step = table.get("area_step").and_then(|v| v.decimal_within(0, 100));
    if let Some(value) = table.get("length_step")
        && let Some(mm) = value.length_from_zero(unit)
    {
        Likely { what: "step", least: 0.0, most: 500.0 }.check(&value, mm, unit);
        rates.length_step = Some(mm);
    }
}

/// Rates by the names of finishes.
fn read_edges(table: &Table<'_>, rates: &mut Rates) {
    let expected = "a table with a rate for each finish";
    let fix = "write for example edges.polished = 38";
    let Some(value) = table.get("edges") else { return };
    let entries = value.named_entries(expected, fix).unwrap_or_default();
    for (finish, value) in entries {
        if let Some(rate) = value.decimal_within(0, MOST) {
            rates.edges.insert(finish.trim().to_owned(), rate);
        }
    }
}

fn read_without(table: &Table<'_>, rates: &mut Rates) {
    let Some(list) = table.get("without").and_then(|v| v.list("a list of services")) else { return };
    rates.without = list.iter().take(LONGEST).filter_map(|v| v.word(&Service::NAMES)).collect();
    rates.without.sort_unstable();
    rates.without.dedup();
    for value in list {
        let Some(service) = value.text().and_then(|t| Service::NAMES.iter().find(|(n, _)| *n == t)).map(|&(_, s)| s)
        else {
            continue;
        };
        let priced = match service {
            Service::Templating => rates.templating.is_some(),
            Service::Delivery => rates.delivery.is_some(),
            Service::Installation => rates.installation.is_some() || rates.installation_by_area.is_some(),
        };
        if priced {
            let name = service.name();
            let expected = "a rate, or to do without it";
            let fix = format!("take \"{name}\" out of the list, or take out its rate");
            value.error(Kind::Conflict, format!("\"{name}\", which has a rate too"), expected, fix);
        }
    }
}

fn read_extra(table: &Table<'_>) -> Option<Extra> {
    let name =
        table.need("name", "what it is called on the quote", "add for example name = \"tear-out of the old top\"");
    let rate = table.need("rate", "money for one; below zero it is taken off", "add for example rate = 180");
    let per = table.get("per").map_or(Some(Per::Job), |v| v.word(&Per::NAMES));
    let name = name.and_then(|v| v.name());
    let rate: Option<Exact> = rate.and_then(|v| v.decimal_within(-MOST, MOST));
    Some(Extra { name: name?, rate: rate?, per: per? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::OpeningKind;

    #[test]
    fn every_kind_of_opening_can_have_a_rate() {
        assert_eq!(OPENINGS, OpeningKind::NAMES.map(|n| n.0));
    }
}
