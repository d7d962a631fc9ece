//! The rack in words, as data and as a contact sheet. In: slabs. Out: text, plain values and scenes. Must not know: jobs, files.

mod sheet;

use serde::Serialize;

use crate::model::{FlawKind, Question, Slab};
use crate::stock::Taking;
use crate::units::{Decimal, Shown};

pub use sheet::contact_sheet;

/// A slab as it is listed; lengths mm, areas mm².
#[derive(Clone, Debug, Serialize)]
pub struct Entry<'s> {
    name: &'s str,
    material: &'s str,
    stone: &'static str,
    thickness: f64,
    /// Of the box round it, along its x and y.
    size: [f64; 2],
    area_mm2: f64,
    lot: Option<&'s str>,
    number: Option<i64>,
    price: f64,
    price_per_m2: f64,
    /// Degrees from the slab's x; none for a stone without direction.
    grain: Option<f64>,
    flaws: Vec<FlawCount>,
    /// Absent for a whole slab.
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<From<'s>>,
}

#[derive(Clone, Debug, Serialize)]
struct FlawCount {
    kind: FlawKind,
    count: usize,
}

#[derive(Clone, Debug, Serialize)]
struct From<'s> {
    slab: &'s str,
    jobs: &'s [String],
    at: [f64; 2],
    date: Option<&'s str>,
}

/// The slabs as data.
#[must_use]
pub fn entries<'s>(slabs: &[&'s Slab]) -> Vec<Entry<'s>> {
    slabs.iter().map(|s| entry(s)).collect()
}

fn entry(slab: &Slab) -> Entry<'_> {
    let size = slab.outline.bbox();
    Entry {
        name: &slab.name,
        material: &slab.material,
        stone: slab.stone.name(),
        thickness: slab.thickness,
        size: [size.width(), size.height()],
        area_mm2: slab.outline.area(),
        lot: slab.lot.as_deref(),
        number: slab.number,
        price: slab.price,
        price_per_m2: slab.price_per_mm2() * 1e6,
        grain: slab.grain,
        flaws: flaw_counts(slab),
        from: slab.from.as_deref().map(|f| From {
            slab: &f.slab,
            jobs: &f.jobs,
            at: f.at.into(),
            date: f.date.as_deref(),
        }),
    }
}

/// How many flaws of each kind, in the order of kinds.
fn flaw_counts(slab: &Slab) -> Vec<FlawCount> {
    let count = |kind| slab.flaws.iter().filter(|f| f.kind == kind).count();
    FlawKind::NAMES.iter().map(|&(_, kind)| FlawCount { kind, count: count(kind) }).filter(|c| c.count > 0).collect()
}

/// "2 fissures, 1 pit", or nothing.
fn flaws_of(slab: &Slab) -> String {
    let word = |c: &FlawCount| {
        let plural = match (c.kind, c.count) {
            (_, 1) => "",
            (FlawKind::Patch, _) => "es",
            _ => "s",
        };
        format!("{} {}{plural}", c.count, c.kind.name())
    };
    flaw_counts(slab).iter().map(word).collect::<Vec<_>>().join(", ")
}

fn size_of(slab: &Slab, shown: Shown) -> String {
    let size = slab.outline.bbox();
    format!("{} × {}", shown.bare_length(size.width()), shown.length(size.height()))
}

/// Money to the cent.
fn money(v: f64) -> String {
    format!("{v:.2}")
}

fn lot_of(slab: &Slab) -> String {
    match (&slab.lot, slab.number) {
        (Some(lot), Some(number)) => format!("{lot}, {number}"),
        (Some(lot), None) => lot.clone(),
        (None, Some(number)) => number.to_string(),
        (None, None) => String::new(),
    }
}

/// "whole", or whence and since when an offcut is here.
fn origin_of(slab: &Slab) -> String {
    slab.from.as_deref().map_or_else(
        || "whole".to_owned(),
        |f| {
            let date = f.date.as_ref().map_or_else(String::new, |d| format!(", {d}"));
            format!("of {}{date}", f.slab)
        },
    )
}

/// The slabs as a table, and their sums. `all` is the number on the rack before it was filtered.
#[must_use]
pub fn listing(slabs: &[&Slab], all: usize, shown: Shown) -> String {
    // The sum of nothing is minus zero, which nobody wants to read.
    let area: f64 = slabs.iter().map(|s| s.outline.area()).sum::<f64>().abs();
    let price: f64 = slabs.iter().map(|s| s.price).sum::<f64>().abs();
    let of_all = if slabs.len() == all { String::new() } else { format!(" of {all}") };
    let plural = if all == 1 { "" } else { "s" };
    let head = format!("{}{of_all} slab{plural}, {}, {}\n", slabs.len(), shown.area(area), money(price));
    if slabs.is_empty() {
        return head;
    }
    let mut rows: Vec<[String; 9]> =
        vec![["name", "material", "thick", "size", "area", "lot", "price", "stock", "flaws"].map(str::to_owned)];
    rows.extend(slabs.iter().map(|s| {
        [
            super::text::clean(&s.name),
            super::text::clean(&s.material),
            shown.length(s.thickness),
            size_of(s, shown),
            shown.area(s.outline.area()),
            super::text::clean(&lot_of(s)),
            money(s.price),
            super::text::clean(&origin_of(s)),
            flaws_of(s),
        ]
    }));
    format!("{head}\n{}", table(&rows))
}

/// Rows in columns two spaces apart; figures to the right.
fn table(rows: &[[String; 9]]) -> String {
    /// Columns with figures: thickness, size, area, price.
    const RIGHT: [usize; 4] = [2, 3, 4, 6];
    let widths: Vec<usize> = (0..9).map(|k| rows.iter().map(|r| r[k].chars().count()).max().unwrap_or(0)).collect();
    let mut out = String::new();
    for row in rows {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(k, (cell, &w))| if RIGHT.contains(&k) { format!("{cell:>w$}") } else { format!("{cell:<w$}") })
            .collect();
        out.push_str(cells.join("  ").trim_end());
        out.push('\n');
    }
    out
}

/// What a taking does, as data.
#[derive(Clone, Debug, Serialize)]
pub struct Taken<'s> {
    /// The slabs that left the rack.
    slabs: Vec<TakenSlab<'s>>,
}

#[derive(Clone, Debug, Serialize)]
struct TakenSlab<'s> {
    slab: Entry<'s>,
    offcuts: Vec<Entry<'s>>,
    waste_mm2: f64,
}

/// A taking as data.
#[must_use]
pub fn taken<'s>(question: &'s Question, taking: &'s Taking) -> Taken<'s> {
    let slab = |c: &'s crate::stock::Cut| {
        let slab = question.rack.get(c.slab)?;
        let offcuts = c.offcuts.iter().map(entry).collect();
        Some(TakenSlab { slab: entry(slab), offcuts, waste_mm2: c.waste })
    };
    Taken { slabs: taking.cut.iter().filter_map(slab).collect() }
}

/// A taking in words.
#[must_use]
pub fn taking(question: &Question, taking: &Taking, shown: Shown) -> String {
    let mut out = String::new();
    for cut in &taking.cut {
        let Some(slab) = question.rack.get(cut.slab) else { continue };
        let area = slab.outline.area();
        out.push_str(&format!(
            "Off the rack: {} ({}, {}, {})\n",
            slab.name,
            size_of(slab, shown),
            shown.area(area),
            money(slab.price)
        ));
        for offcut in &cut.offcuts {
            let flaws = flaws_of(offcut);
            let flaws = if flaws.is_empty() { flaws } else { format!(", {flaws}") };
            out.push_str(&format!(
                "  on it now: {} ({}, {}, {}{flaws})\n",
                offcut.name,
                size_of(offcut, shown),
                shown.area(offcut.outline.area()),
                money(offcut.price)
            ));
        }
        if cut.offcuts.is_empty() {
            out.push_str("  nothing of it is worth keeping\n");
        }
        let share = if area > 0.0 { 100.0 * cut.waste / area } else { 0.0 };
        out.push_str(&format!("  waste: {}, {} % of the slab\n", shown.area(cut.waste), Decimal(share, 1)));
    }
    out
}
