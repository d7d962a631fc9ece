//! Reads `shop.toml`.
//!
//! In: a parsed table. Out: a [`Shop`] with the defaults for all that is not given, and remarks.
//! Must not know: jobs, slabs.

use super::handling::{self, HANDLING, SAFETY};
use super::rates::{self, EXTRA, OPENINGS, RATES};
use super::reader::{Keys, Table, Value};
use super::shape::Likely;
use crate::diag::Kind;
use crate::model::{Blade, Limits, Rods, Shop, Tools};
use crate::units::{Decimal, Unit};

const SHOP: &[&str] = &["units", "limits", "tools", "rods", "handling", "rates"];
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
const TOOLS: &[&str] = &["core_bits", "blades", "table_cut"];
const BLADE: &[&str] = &["diameter", "kerf"];
const RODS: &[&str] =
    &["diameters", "material", "blade", "play", "cover", "past", "resin_density", "hardener", "waste"];

/// The keys of a shop file.
pub(super) const KEYS: &Keys = &[
    ("", SHOP),
    ("limits", LIMITS),
    ("tools", TOOLS),
    ("tools.blades", BLADE),
    ("rods", RODS),
    ("rods.blade", BLADE),
    ("handling", HANDLING),
    ("handling.safety", SAFETY),
    ("rates", RATES),
    ("rates.openings", OPENINGS),
    ("rates.extra", EXTRA),
];

/// Reads a shop for stone of some thicknesses (mm). `None` after an error.
pub(super) fn read(file: &Table<'_>, thicknesses: &[f64]) -> Option<Shop> {
    let before = file.desk.errors();
    let unit = file.units();
    let limited = file.get("limits").and_then(|v| v.table(LIMITS, KEYS));
    let limits = limited.as_ref().map_or_else(Limits::default, |t| read_limits(t, unit));
    let tools = file
        .get("tools")
        .and_then(|v| v.table(TOOLS, KEYS))
        .map_or_else(Tools::default, |t| read_tools(&t, unit, thicknesses));
    let kerf = limited.as_ref().and_then(|t| t.get("kerf"));
    check_kerfs(kerf, &limits, &tools, file.get("tools").is_none());
    let rods = file.get("rods").and_then(|v| v.table(RODS, KEYS)).map_or_else(Rods::default, |t| read_rods(&t, unit));
    let handling = handling::read(file, unit, KEYS);
    let rates = rates::read(file, unit, KEYS);
    (file.desk.errors() == before).then_some(Shop { limits, tools, rods, handling, rates, ..Shop::default() })
}

/// Warns of a kerf that is much wider than that of any blade: passes inside openings are laid by the kerfs of the blades, so holes would
/// come out too large. (A narrower one is that of a water jet, which cuts the pieces.)
fn check_kerfs(given: Option<Value<'_>>, limits: &Limits, tools: &Tools, by_default: bool) {
    /// mm; a blade that runs out of true takes a little more than its width.
    const MORE: f64 = 1.5;
    let widest = tools.blades.iter().map(|b| b.kerf).fold(0.0, f64::max);
    if let Some(value) = given.filter(|_| widest > 0.0 && limits.kerf > widest + MORE && limits.kerf <= limits.gap) {
        let mm = |v: f64| Decimal(v, 2).to_string();
        let is_default = if by_default { " (by default)" } else { "" };
        let given = format!("a kerf of {} mm, and blades of {} mm{is_default} at most", mm(limits.kerf), mm(widest));
        let fix = "give tools.blades with the kerfs of your blades: the passes inside openings are laid by them";
        value.warning(Kind::Conflict, given, "the kerf of a blade of the shop", fix);
    }
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

fn read_tools(table: &Table<'_>, unit: Unit, thicknesses: &[f64]) -> Tools {
    let mut tools = Tools::default();
    if let Some(value) = table.get("core_bits") {
        tools.core_bits = read_bits(&value, unit);
    }
    if let Some(mm) = distance(table, "table_cut", unit, 10.0) {
        tools.table_cut = mm;
    }
    if let Some(value) = table.get("blades") {
        tools.blades = read_blades(table, &value, unit, tools.through(least(thicknesses)));
    }
    tools
}

/// The least of some thicknesses; 0 if there is none.
fn least(thicknesses: &[f64]) -> f64 {
    thicknesses.iter().copied().reduce(f64::min).unwrap_or(0.0)
}

fn read_bits(value: &Value<'_>, unit: Unit) -> Vec<f64> {
    let entries = value.list("a list of diameters").unwrap_or_default();
    if entries.is_empty() && value.is_list() {
        value.warning(
            Kind::Assumed,
            "no core bits",
            "the diameters at hand",
            "without any, no inside corner counts as too tight, and every corner is to be cut by a row of small cuts",
        );
    }
    let what = Likely { what: "core bit", least: 3.0, most: 300.0 };
    let mut bits: Vec<f64> = entries.iter().filter_map(|e| read_diameter(e, unit, &what)).collect();
    bits.sort_by(f64::total_cmp);
    bits.dedup();
    bits
}

fn read_diameter(value: &Value<'_>, unit: Unit, likely: &Likely) -> Option<f64> {
    let mm = value.positive_length(unit)?;
    likely.check(value, mm, unit);
    Some(mm)
}

/// The blades of a list of tables, largest first. Those that cannot cut `through` any stone of the jobs (mm) are told.
fn read_blades(table: &Table<'_>, value: &Value<'_>, unit: Unit, through: f64) -> Vec<Blade> {
    let entries = table.tables("blades", BLADE);
    if value.is_list() && value.list("a list of tables").is_some_and(|l| l.is_empty()) {
        let fix = "without any, no saw pass is worked out; write for example blades = [{ diameter = 400, kerf = 3.6 }]";
        value.warning(Kind::Assumed, "no blades", "the blades at hand", fix);
    }
    let mut blades: Vec<Blade> = Vec::new();
    for entry in &entries {
        let Some(blade) = read_blade(entry, unit) else { continue };
        if blade.diameter < 2.0 * through
            && let Some(value) = entry.get("diameter")
        {
            let mm = |v: f64| format!("{} mm", Decimal(v, 2));
            let given =
                format!("a blade of {}, which reaches {} deep at most", mm(blade.diameter), mm(blade.diameter / 2.0));
            let expected = format!("at least twice the cut through the stone: {}", mm(2.0 * through));
            value.warning(Kind::OutOfRange, given, expected, "it is used for cuts from both faces at most");
        }
        blades.push(blade);
    }
    blades.sort_by(|a, b| b.diameter.total_cmp(&a.diameter).then(a.kerf.total_cmp(&b.kerf)));
    blades.dedup();
    blades
}

fn read_blade(table: &Table<'_>, unit: Unit) -> Option<Blade> {
    let diameter = table.need("diameter", "the blade's diameter", "add for example diameter = 400");
    let kerf = table.need("kerf", "the width of stone that the blade removes", "add for example kerf = 3.6");
    let diameter = diameter.and_then(|v| read_diameter(&v, unit, &Likely { what: "blade", least: 40.0, most: 2000.0 }));
    let width = kerf.as_ref().and_then(|v| read_diameter(v, unit, &Likely { what: "kerf", least: 0.5, most: 25.0 }));
    let (diameter, width) = (diameter?, width?);
    if width >= diameter {
        let given = format!("a kerf of {} mm and a diameter of {} mm", Decimal(width, 3), Decimal(diameter, 3));
        kerf?.error(Kind::OutOfRange, given, "a kerf below the diameter", "check both values");
        return None;
    }
    Some(Blade { diameter, kerf: width })
}

fn read_rods(table: &Table<'_>, unit: Unit) -> Rods {
    let mut rods = Rods::default();
    if let Some(value) = table.get("diameters") {
        let entries = value.list("a list of diameters").unwrap_or_default();
        if entries.is_empty() && value.is_list() {
            value.warning(Kind::Assumed, "no rods", "the diameters at hand", "without any, no rail gets a rod");
        }
        let what = Likely { what: "rod", least: 2.0, most: 25.0 };
        rods.diameters = entries.iter().filter_map(|e| read_diameter(e, unit, &what)).collect();
        rods.diameters.sort_by(|a, b| b.total_cmp(a));
        rods.diameters.dedup();
    }
    if let Some(name) = table.get("material").and_then(|v| v.name()) {
        rods.material = name;
    }
    if let Some(blade) = table.get("blade").and_then(|v| v.table(BLADE, KEYS)).and_then(|t| read_blade(&t, unit)) {
        rods.blade = blade;
    }
    let set = |key: &'static str, field: &mut f64, most: f64| {
        if let Some(mm) = distance(table, key, unit, most) {
            *field = mm;
        }
    };
    set("play", &mut rods.play, 10.0);
    set("cover", &mut rods.cover, 10.0);
    set("past", &mut rods.past, 500.0);
    let share = |key: &'static str, field: &mut f64, least: f64, most: f64| {
        if let Some(number) = table.get(key).and_then(|v| v.number_within(least, most)) {
            *field = number;
        }
    };
    share("resin_density", &mut rods.resin_density, 0.5, 5.0);
    share("hardener", &mut rods.hardener, 0.0, 1.0);
    share("waste", &mut rods.waste, 0.0, 2.0);
    rods
}
