//! What the work on a job costs: edges, openings, rods, services, extras.
//!
//! In: a job and the sheets of its openings. Out: lines. Must not know: slabs, prices of stone.

use std::collections::BTreeMap;

use super::TooLarge;
use super::measure;
use super::sheet::{Draft, Sheet, quantity, steps};
use super::stone::{DECIMALS, charged};
use crate::geom::Point;
use crate::model::openings::{OpeningSheet, Openings, Verdict};
use crate::model::quote::Item;
use crate::model::{Exact, Finish, Job, OpeningKind, Per, Rates, Service};

/// Puts down all lines but those for stone.
pub(super) fn write(
    sheet: &mut Sheet<'_>,
    job: &Job,
    openings: &Openings,
    seams: u32,
    rates: &Rates,
) -> Result<(), TooLarge> {
    let sheets: Vec<&OpeningSheet> = openings.openings.iter().filter(|o| o.job == job.name).collect();
    edges(sheet, job, rates)?;
    let rounded: usize = job.pieces.iter().map(|p| measure::rounded_corners(&p.outline)).sum();
    if rounded > 0 {
        count(sheet, Item::Corner, "rounded corners", rounded, "corner", rates.corner)?;
    }
    holes(sheet, job, &sheets, rates)?;
    rods(sheet, &sheets, rates)?;
    if seams > 0 {
        count(sheet, Item::Seam, "seams", seams as usize, "seam", rates.seam)?;
    }
    by_area(sheet, job, rates)?;
    services(sheet, job, rates)?;
    extras(sheet, job, rates)
}

/// A line that counts things.
fn count(
    sheet: &mut Sheet<'_>,
    item: Item,
    what: &str,
    n: usize,
    key: &str,
    rate: Option<Exact>,
) -> Result<(), TooLarge> {
    sheet.put(Draft { item, what: what.to_owned(), quantity: whole(n), unit: "each", key, note: String::new() }, rate)
}

fn whole(n: usize) -> Exact {
    Exact::new(i128::try_from(n).unwrap_or(i128::MAX), 0)
}

/// Lengths (mm) each rounded up to the shop's step, as one quantity in the unit of the rates.
fn length(lengths: impl Iterator<Item = f64>, rates: &Rates) -> Exact {
    let step = rates.step_of_length();
    let mm: f64 = if step > 0.0 { lengths.map(|l| steps(l, step)).sum::<f64>() * step } else { lengths.sum() };
    quantity(mm / rates.per.mm(), DECIMALS)
}

/// Edges by finish, in the order of their names. Raw edges are as the saw leaves them, and cost nothing unless the shop says
/// so.
fn edges(sheet: &mut Sheet<'_>, job: &Job, rates: &Rates) -> Result<(), TooLarge> {
    let mut by_finish: BTreeMap<Finish, Vec<f64>> = BTreeMap::new();
    for piece in &job.pieces {
        for (finish, mm) in measure::edges(&piece.outline) {
            by_finish.entry(finish).or_default().push(mm);
        }
    }
    for (finish, lengths) in by_finish {
        let name = finish.name();
        let rate = rates.edges.get(name).copied();
        if !finish.is_finished() && rate.is_none() {
            continue;
        }
        let bare = name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
        let key = if bare { format!("edges.{name}") } else { format!("edges.\"{name}\"") };
        let quantity = length(lengths.into_iter(), rates);
        let what = format!("{name} edge");
        let unit = rates.per.length();
        sheet.put(Draft { item: Item::Edge, what, quantity, unit, key: &key, note: String::new() }, rate)?;
    }
    Ok(())
}

/// Openings by kind, dearest first by the habit of the trade, and what is finished on site on top.
fn holes(sheet: &mut Sheet<'_>, job: &Job, sheets: &[&OpeningSheet], rates: &Rates) -> Result<(), TooLarge> {
    /// Undermount polished, then cooktop and drop-in, tap hole, outlet (common practice).
    const ORDER: [OpeningKind; 6] = [
        OpeningKind::UndermountSink,
        OpeningKind::Cooktop,
        OpeningKind::DropInSink,
        OpeningKind::TapHole,
        OpeningKind::Outlet,
        OpeningKind::Other,
    ];
    for kind in ORDER {
        let n = job.pieces.iter().flat_map(|p| &p.openings).filter(|o| o.kind == kind).count();
        if n == 0 {
            continue;
        }
        let slot = OpeningKind::NAMES.iter().position(|&(_, k)| k == kind);
        let rate = slot.and_then(|i| rates.openings.get(i).copied().flatten());
        let name = kind.name();
        let key = if name.contains([' ', '-']) { format!("openings.\"{name}\"") } else { format!("openings.{name}") };
        let what = match kind {
            OpeningKind::Other => "other opening, cut out".to_owned(),
            OpeningKind::TapHole => "tap hole, drilled".to_owned(),
            OpeningKind::UndermountSink => "undermount sink, cut out, edge polished".to_owned(),
            _ => format!("{name}, cut out"),
        };
        count(sheet, Item::Opening, &what, n, &key, rate)?;
    }
    let scored = sheets.iter().filter(|o| o.verdict == Verdict::Score).count();
    if scored > 0 {
        let what = "openings scored in the shop, finished on site: on top";
        count(sheet, Item::SiteFinish, what, scored, "site_finish", rates.site_finish)?;
    }
    Ok(())
}

/// Rods by length.
fn rods(sheet: &mut Sheet<'_>, sheets: &[&OpeningSheet], rates: &Rates) -> Result<(), TooLarge> {
    let rods: Vec<f64> =
        sheets.iter().flat_map(|o| &o.rods).map(|r| Point::from(r.from).distance(r.to.into())).collect();
    if rods.is_empty() {
        return Ok(());
    }
    let note = match rods.len() {
        1 => "1 rod".to_owned(),
        n => format!("{n} rods"),
    };
    let quantity = length(rods.into_iter(), rates);
    let what = "rods glued into rails".to_owned();
    sheet.put(Draft { item: Item::Rod, what, quantity, unit: rates.per.length(), key: "rods", note }, rates.rods)
}

/// The area of a job's pieces, without waste.
fn area(sheet: &Sheet<'_>, job: &Job, rates: &Rates) -> Result<Exact, TooLarge> {
    charged(job.pieces.iter(), rates).ok_or_else(|| sheet.too_large("area of the pieces", "the sum"))
}

/// Mesh and sealing, if the shop has a rate for them.
fn by_area(sheet: &mut Sheet<'_>, job: &Job, rates: &Rates) -> Result<(), TooLarge> {
    for (item, what, rate) in [(Item::Mesh, "mesh on the back", rates.mesh), (Item::Sealing, "sealing", rates.sealing)]
    {
        if rate.is_some() {
            let quantity = area(sheet, job, rates)?;
            let (what, note) = (what.to_owned(), String::new());
            sheet.put(Draft { item, what, quantity, unit: rates.per.area(), key: item.name(), note }, rate)?;
        }
    }
    Ok(())
}

/// Templating, delivery, installation.
fn services(sheet: &mut Sheet<'_>, job: &Job, rates: &Rates) -> Result<(), TooLarge> {
    for (_, service) in Service::NAMES {
        if rates.without.contains(&service) {
            continue;
        }
        let (item, rate) = match service {
            Service::Templating => (Item::Templating, rates.templating),
            Service::Delivery => (Item::Delivery, rates.delivery),
            Service::Installation => (Item::Installation, rates.installation),
        };
        let draft = |quantity: Exact, unit: &'static str| Draft {
            item,
            what: service.name().to_owned(),
            quantity,
            unit,
            key: service.name(),
            note: String::new(),
        };
        let by_area = rates.installation_by_area.filter(|_| service == Service::Installation);
        if rate.is_some() || by_area.is_none() {
            sheet.put(draft(whole(1), "job"), rate)?;
        }
        if by_area.is_some() {
            let quantity = area(sheet, job, rates)?;
            sheet
                .put(Draft { what: "installation by area".to_owned(), ..draft(quantity, rates.per.area()) }, by_area)?;
        }
    }
    Ok(())
}

/// Extras of the shop's own.
fn extras(sheet: &mut Sheet<'_>, job: &Job, rates: &Rates) -> Result<(), TooLarge> {
    for extra in &rates.extras {
        let (quantity, unit) = match extra.per {
            Per::Job => (whole(1), "job"),
            Per::Piece => (whole(job.pieces.len()), "each"),
            Per::Opening => (whole(job.pieces.iter().map(|p| p.openings.len()).sum()), "each"),
            Per::Area => (area(sheet, job, rates)?, rates.per.area()),
        };
        if quantity.is_zero() {
            continue;
        }
        let (what, note) = (extra.name.clone(), String::new());
        sheet.put(Draft { item: Item::Extra, what, quantity, unit, key: "extra", note }, Some(extra.rate))?;
    }
    Ok(())
}
