//! Reads `shop.toml`.
//!
//! In: a parsed table. Out: a [`Shop`] with the defaults for all that is not given, and remarks.
//! Must not know: jobs, slabs.

use super::handling::{self, HANDLING, SAFETY};
use super::reader::{Keys, Table, Value};
use super::shape::Likely;
use crate::diag::Kind;
use crate::model::{Limits, Shop, Tools};
use crate::units::{Decimal, Unit};

const SHOP: &[&str] = &["units", "limits", "tools", "handling"];
const LIMITS: &[&str] = &[
    "kerf",
    "gap",
    "trim",
    "flaw_gap",
    "min_rail",
    "rod_rail",
    "tap_rail",
    "min_web",
    "tap_web",
    "rail_zone",
    "tap_zone",
    "edge_zone",
    "use_drops",
    "keep_area",
    "keep_side",
    "keep_share",
];
const TOOLS: &[&str] = &["core_bits"];

/// The keys of a shop file.
pub(super) const KEYS: &Keys =
    &[("", SHOP), ("limits", LIMITS), ("tools", TOOLS), ("handling", HANDLING), ("handling.safety", SAFETY)];

/// Reads a shop. `None` after an error.
pub(super) fn read(file: &Table<'_>) -> Option<Shop> {
    let before = file.desk.errors();
    let unit = file.units();
    let limits =
        file.get("limits").and_then(|v| v.table(LIMITS, KEYS)).map_or_else(Limits::default, |t| read_limits(&t, unit));
    let tools =
        file.get("tools").and_then(|v| v.table(TOOLS, KEYS)).map_or_else(Tools::default, |t| read_tools(&t, unit));
    let handling = handling::read(file, unit, KEYS);
    (file.desk.errors() == before).then_some(Shop { limits, tools, handling })
}

/// A distance of 0 or more; sizes beyond `most` (mm) are likely in a wrong unit.
fn distance(table: &Table<'_>, key: &'static str, unit: Unit, most: f64) -> Option<f64> {
    let value = table.get(key)?;
    let mm = value.length_from_zero(unit)?;
    Likely { what: "distance", least: 0.0, most }.check(&value, mm, unit);
    Some(mm)
}

fn read_limits(table: &Table<'_>, unit: Unit) -> Limits {
    let mut limits = Limits::default();
    let set = |key: &'static str, field: &mut f64, most: f64| {
        if let Some(mm) = distance(table, key, unit, most) {
            *field = mm;
        }
    };
    set("kerf", &mut limits.kerf, 20.0);
    set("gap", &mut limits.gap, 200.0);
    set("trim", &mut limits.trim, 300.0);
    set("flaw_gap", &mut limits.flaw_gap, 300.0);
    set("tap_rail", &mut limits.tap_rail, 500.0);
    set("min_web", &mut limits.min_web, 500.0);
    set("tap_web", &mut limits.tap_web, 500.0);
    set("rail_zone", &mut limits.rail_zone, 500.0);
    set("tap_zone", &mut limits.tap_zone, 500.0);
    set("edge_zone", &mut limits.edge_zone, 500.0);
    set("keep_side", &mut limits.keep_side, 5000.0);
    limits.min_rail = distance(table, "min_rail", unit, 500.0);
    limits.rod_rail = distance(table, "rod_rail", unit, 500.0);
    if let Some(drops) = table.get("use_drops").and_then(|v| v.boolean()) {
        limits.use_drops = drops;
    }
    if let Some(area) = table.get("keep_area").and_then(|v| read_area(&v)) {
        limits.keep_area = area;
    }
    if let Some(share) = table.get("keep_share").and_then(|v| v.number_within(0.0, 1.0)) {
        limits.keep_share = share;
    }
    check_gap(table, &limits);
    limits
}

/// An area that is written in m², in mm².
fn read_area(value: &Value<'_>) -> Option<f64> {
    /// No slab is as large (m²).
    const MOST: f64 = 1000.0;
    Some(value.number_within(0.0, MOST)? * 1e6)
}

/// The saw takes its kerf between two pieces, so the gap cannot be less.
fn check_gap(table: &Table<'_>, limits: &Limits) {
    if limits.gap >= limits.kerf {
        return;
    }
    let Some(value) = table.get("gap").or_else(|| table.get("kerf")) else { return };
    let is_default = if table.get("gap").is_none() { " (the default)" } else { "" };
    let given =
        format!("a gap of {} mm{is_default} and a kerf of {} mm", Decimal(limits.gap, 3), Decimal(limits.kerf, 3));
    let fix = format!("give a gap of {} mm or more", Decimal(limits.kerf, 3));
    value.error(Kind::GapBelowKerf, given, "a gap of at least the kerf, which the saw takes between two pieces", fix);
}

fn read_tools(table: &Table<'_>, unit: Unit) -> Tools {
    let Some(value) = table.get("core_bits") else { return Tools::default() };
    let entries = value.list("a list of diameters").unwrap_or_default();
    let mut core_bits: Vec<f64> = entries.iter().filter_map(|e| read_bit(e, unit)).collect();
    if entries.is_empty() && value.is_list() {
        value.note(
            Kind::Assumed,
            "no core bits",
            "the diameters at hand",
            "without any, no inside corner counts as too tight",
        );
    }
    core_bits.sort_by(f64::total_cmp);
    core_bits.dedup();
    Tools { core_bits }
}

fn read_bit(value: &Value<'_>, unit: Unit) -> Option<f64> {
    let mm = value.positive_length(unit)?;
    Likely { what: "core bit", least: 3.0, most: 300.0 }.check(value, mm, unit);
    Some(mm)
}
