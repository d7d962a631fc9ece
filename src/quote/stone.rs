//! What the stone of each job costs: whole slabs, area, or an estimate; slabs that jobs share; offcuts given back.
//!
//! In: a question, maybe a plan. Out: lines for each job, and how much of the stone it uses. Must not know: edges, openings.

use super::measure;
use super::sheet::{Draft, Sheet, quantity, steps};
use super::{TooLarge, sheet};
use crate::geom::Pose;
use crate::model::drops::{self, Taken};
use crate::model::quote::{Item, JobYield, NotPriced, Used};
use crate::model::{Exact, Job, Layout, Piece, Placed, Plan, Question, Rates, RoundedBy, Slab, SlabCharge};

/// Decimals of lengths and areas on a quote.
pub(super) const DECIMALS: u32 = 3;

/// Decimals of shares of a slab.
const SHARES: u32 = 4;

/// The stone of one job.
pub(super) struct Stone {
    lines: Vec<Priced>,
    not_priced: Vec<NotPriced>,
    /// Names of the pieces that the plan has no place for.
    pub(super) unplaced: Vec<String>,
    pub(super) yields: JobYield,
}

/// A line with its rate. `part` is its amount in minor units where that is a part of a larger one.
struct Priced {
    item: Item,
    what: String,
    quantity: Exact,
    unit: &'static str,
    rate: Option<Exact>,
    part: Option<i128>,
    note: String,
}

impl Stone {
    /// Puts its lines down.
    pub(super) fn write(&self, sheet: &mut Sheet<'_>) -> Result<(), TooLarge> {
        for l in &self.lines {
            let (what, note) = (l.what.clone(), l.note.clone());
            let draft = Draft { item: l.item, what, quantity: l.quantity, unit: l.unit, key: "stone", note };
            match (l.part, l.rate) {
                (Some(minor), Some(rate)) => sheet.put_part(draft, rate, minor)?,
                (_, rate) => sheet.put(draft, rate)?,
            }
        }
        sheet.not_priced.extend(self.not_priced.iter().cloned());
        Ok(())
    }
}

/// The stone of all jobs.
pub(super) fn all(question: &Question, plan: Option<&Plan>) -> Result<Vec<Stone>, TooLarge> {
    let Some(plan) = plan else { return question.jobs.iter().map(|job| estimate(question, job)).collect() };
    let cuts: Vec<Cut<'_>> = plan.layouts.iter().filter_map(|l| Cut::new(question, l)).collect();
    let mut stones: Vec<Stone> = (0..question.jobs.len()).map(|j| used(question, j, &cuts)).collect();
    match question.shop.rates.slabs {
        SlabCharge::Whole => {
            for cut in &cuts {
                whole(question, cut, &mut stones)?;
            }
            for cut in &cuts {
                credits(question, cut, &mut stones)?;
            }
        }
        SlabCharge::Area => {
            for (j, stone) in stones.iter_mut().enumerate() {
                by_area(question, j, &cuts, stone)?;
            }
        }
    }
    Ok(stones)
}

/// A slab that is cut, with what each job has on it.
struct Cut<'a> {
    slab: &'a Slab,
    layout: &'a Layout,
    /// Pieces of each job of the question.
    pieces: Vec<Vec<&'a Piece>>,
    /// What each job takes, mm²: no stone of a drop that a piece lies in is counted twice.
    taken: Vec<Taken>,
    /// The outlines of it, mm².
    areas: Vec<f64>,
}

impl<'a> Cut<'a> {
    /// `None` if the rack has no such slab, or nothing of ours lies on it.
    fn new(question: &'a Question, layout: &'a Layout) -> Option<Self> {
        let slab = question.rack.iter().find(|s| s.name == layout.slab)?;
        let on = |job: &'a Job| -> Vec<&'a Piece> {
            let lies = |p: &&Piece| layout.placed.iter().any(|l| l.job == job.name && l.piece == p.name);
            job.pieces.iter().filter(lies).collect()
        };
        let pieces: Vec<Vec<&Piece>> = question.jobs.iter().map(on).collect();
        let lies = |job: usize, piece: &Piece| {
            let placed = |l: &&Placed| l.job == question.jobs[job].name && l.piece == piece.name;
            layout.placed.iter().find(placed).map_or_else(Pose::default, Placed::pose)
        };
        let laid: Vec<(usize, &Piece, Pose)> =
            pieces.iter().enumerate().flat_map(|(j, all)| all.iter().map(move |&p| (j, p, lies(j, p)))).collect();
        let own = drops::taken(&laid.iter().map(|&(_, piece, pose)| (piece, pose)).collect::<Vec<_>>());
        let mut taken = vec![Taken::default(); pieces.len()];
        for (&(job, ..), own) in laid.iter().zip(own) {
            taken[job].outline += own.outline;
            taken[job].openings += own.openings;
        }
        let areas: Vec<f64> = taken.iter().map(|t| t.outline).collect();
        (areas.iter().sum::<f64>() > 0.0).then_some(Self { slab, layout, pieces, taken, areas })
    }

    /// What part of it a job has: what its pieces take over what all pieces on the slab take.
    fn share(&self, job: usize) -> f64 {
        self.areas[job] / self.areas.iter().sum::<f64>()
    }

    /// The jobs that have something on it.
    fn jobs(&self) -> Vec<usize> {
        (0..self.areas.len()).filter(|&j| self.areas[j] > 0.0).collect()
    }
}

/// How much of its slabs a job uses, and which of its pieces have no place.
fn used(question: &Question, job: usize, cuts: &[Cut<'_>]) -> Stone {
    let slabs: f64 = cuts.iter().map(|c| c.slab.outline.area() * c.share(job)).sum();
    let placed: Vec<&Piece> = cuts.iter().flat_map(|c| c.pieces[job].iter().copied()).collect();
    let (pieces, openings) = cuts
        .iter()
        .map(|c| c.taken[job])
        .fold((0.0, 0.0), |(outlines, openings), t| (outlines + t.outline, openings + t.openings));
    let missing = |p: &&Piece| !placed.iter().any(|q| q.name == p.name);
    let unplaced: Vec<String> = question.jobs[job].pieces.iter().filter(missing).map(|p| p.name.clone()).collect();
    let not_priced = unplaced
        .iter()
        .map(|name| NotPriced {
            what: format!("stone for {name}"),
            fix: "the plan has no place for it: plan again with more slabs on the rack".to_owned(),
        })
        .collect();
    let yields = JobYield {
        slabs_mm2: Some(0.0 + slabs),
        pieces_mm2: pieces,
        openings_mm2: openings,
        net: Used::on(pieces - openings, slabs),
        gross: Used::on(pieces, slabs),
    };
    Stone { lines: Vec::new(), not_priced, unplaced, yields }
}

/// Areas of outlines and of openings, mm².
fn areas<'p>(pieces: impl Iterator<Item = &'p Piece> + Clone) -> (f64, f64) {
    let outlines = pieces.clone().map(|p| p.outline.ring.area()).sum::<f64>();
    let openings = pieces.flat_map(|p| &p.openings).map(|o| o.ring.area()).sum::<f64>();
    (0.0 + outlines, 0.0 + openings)
}

/// A slab is paid for whole. Jobs that share it have parts of its price by the area of their pieces; the largest has what
/// rounding leaves, so that the parts come to the price.
fn whole(question: &Question, cut: &Cut<'_>, stones: &mut [Stone]) -> Result<(), TooLarge> {
    let rates = &question.shop.rates;
    let size = area_text(cut.slab.outline.area(), rates);
    let jobs = cut.jobs();
    let rate = priced(cut.slab, rates).ok_or_else(|| too_large(question, &jobs, cut.slab))?;
    let weights: Vec<f64> = jobs.iter().map(|&j| cut.areas[j]).collect();
    let one = [Exact::new(1, 0)];
    let (parts, minors) = match jobs.len() {
        1 => (one.to_vec(), vec![None]),
        _ => {
            let total = rate.in_units(rates.minor_digits).ok_or_else(|| too_large(question, &jobs, cut.slab))?;
            let whole = Whole { quantity: Exact::new(1, 0), rate, digits: rates.minor_digits, minor: total };
            let (parts, minors) = divided(whole, SHARES, &weights);
            (parts, minors.into_iter().map(Some).collect())
        }
    };
    for ((&job, quantity), part) in jobs.iter().zip(parts).zip(minors) {
        let what = match part {
            None => format!("slab {}, {size}", cut.slab.name),
            Some(_) => format!("share of slab {}, {size}", cut.slab.name),
        };
        let note = match part {
            None => String::new(),
            Some(_) => "shared with other work, by area of pieces".to_owned(),
        };
        stones[job].lines.push(Priced { item: Item::Slab, what, quantity, unit: "slab", rate: Some(rate), part, note });
    }
    Ok(())
}

/// Gives kept offcuts back, as far as the shop does.
fn credits(question: &Question, cut: &Cut<'_>, stones: &mut [Stone]) -> Result<(), TooLarge> {
    let rates = &question.shop.rates;
    if rates.credit_percent.is_zero() {
        return Ok(());
    }
    let jobs = cut.jobs();
    let fail = || too_large(question, &jobs, cut.slab);
    let rate = per_area(cut.slab, rates)
        .and_then(|r| r.times(rates.credit_percent)?.over(Exact::new(-100, 0), rates.minor_digits))
        .ok_or_else(fail)?;
    let weights: Vec<f64> = jobs.iter().map(|&j| cut.areas[j]).collect();
    for offcut in &cut.layout.offcuts {
        let [w, h] = offcut.rectangle.size;
        let mm2 = w * h;
        // A plan from elsewhere may say anything here; an offcut is a part of its slab.
        if !(w > 0.0 && h > 0.0 && mm2 <= cut.slab.outline.area()) {
            continue;
        }
        let size = quantity(mm2 / rates.per.mm().powi(2), DECIMALS);
        let total = size.times(rate).and_then(|a| a.in_units(rates.minor_digits)).ok_or_else(fail)?;
        let whole = Whole { quantity: size, rate, digits: rates.minor_digits, minor: total };
        let (sizes, minors) = divided(whole, DECIMALS, &weights);
        for ((&job, quantity), minor) in jobs.iter().zip(sizes).zip(minors) {
            stones[job].lines.push(Priced {
                item: Item::Credit,
                what: format!("offcut of slab {}, kept by the shop", cut.slab.name),
                quantity,
                unit: rates.per.area(),
                rate: Some(rate),
                part: Some(minor),
                note: format!("{} % of what its area cost", rates.credit_percent),
            });
        }
    }
    Ok(())
}

/// Stone is paid for by the area of the pieces and the usual waste.
fn by_area(question: &Question, job: usize, cuts: &[Cut<'_>], stone: &mut Stone) -> Result<(), TooLarge> {
    let rates = &question.shop.rates;
    let name = &question.jobs[job].material;
    if rates.stone.is_some() {
        let placed: Vec<&Piece> = cuts.iter().flat_map(|c| c.pieces[job].iter().copied()).collect();
        if !placed.is_empty() {
            stone.lines.push(area_line(question, job, &placed, name.clone(), rates.stone, "")?);
        }
        return Ok(());
    }
    for cut in cuts.iter().filter(|c| !c.pieces[job].is_empty()) {
        let rate = per_area(cut.slab, rates).ok_or_else(|| too_large(question, &[job], cut.slab))?;
        let what = format!("{name} of slab {}", cut.slab.name);
        stone.lines.push(area_line(question, job, &cut.pieces[job], what, Some(rate), "")?);
    }
    Ok(())
}

/// Before slabs are chosen: all pieces of a job, at the rate of the shop or the mean price of what the rack has.
fn estimate(question: &Question, job: &Job) -> Result<Stone, TooLarge> {
    let rates = &question.shop.rates;
    let j = question.jobs.iter().position(|other| other.name == job.name).unwrap_or(0);
    let all: Vec<&Piece> = job.pieces.iter().collect();
    let (pieces, openings) = areas(all.iter().copied());
    let gross = 1.0 - rates.waste_percent.to_f64() / 100.0;
    let slabs: Vec<&Slab> = question.rack.iter().filter(|s| job.accepts(s)).collect();
    let (rate, note) = match rates.stone {
        Some(rate) => (Some(rate), String::new()),
        None if slabs.is_empty() => (None, String::new()),
        None => {
            let (price, area) = slabs.iter().fold((0.0, 0.0), |(p, a), s| (p + s.price, a + s.outline.area()));
            let rate = Exact::of(price).and_then(|p| area_rate(p, area, rates));
            let of = match slabs.len() {
                1 => "price of the one such slab on the rack".to_owned(),
                n => format!("mean price of the {n} such slabs on the rack"),
            };
            (Some(rate.ok_or_else(|| too_large(question, &[j], slabs[0]))?), of)
        }
    };
    let line = area_line(question, j, &all, job.material.clone(), rate, &note)?;
    let net = if pieces > 0.0 { gross * (1.0 - openings / pieces) } else { 0.0 };
    let yields = JobYield {
        slabs_mm2: None,
        pieces_mm2: pieces,
        openings_mm2: openings,
        net: Used::of(net),
        gross: Used::of(gross),
    };
    Ok(Stone { lines: vec![line], not_priced: Vec::new(), unplaced: Vec::new(), yields })
}

/// A line for the area of some pieces with the usual waste on top.
fn area_line(
    question: &Question,
    job: usize,
    pieces: &[&Piece],
    what: String,
    rate: Option<Exact>,
    more: &str,
) -> Result<Priced, TooLarge> {
    let rates = &question.shop.rates;
    let fail = || TooLarge { job: question.jobs[job].name.clone(), line: what.clone(), figures: "its area".to_owned() };
    let area = charged(pieces.iter().copied(), rates).ok_or_else(fail)?;
    let left = Exact::new(100, 0).plus(rates.waste_percent.negated()).ok_or_else(fail)?;
    let quantity = area.times(Exact::new(100, 0)).and_then(|a| a.over(left, DECIMALS)).ok_or_else(fail)?;
    let uplift = Used::of(left.to_f64() / 100.0).uplift * 100.0;
    let mut note = format!("pieces {area} {}, {uplift:.2} % on top for waste", rates.per.area());
    if !more.is_empty() {
        note = format!("{note}; {more}");
    }
    Ok(Priced { item: Item::Stone, what, quantity, unit: rates.per.area(), rate, part: None, note })
}

/// The area for which pieces are charged, in the unit of the rates; `None` beyond all range.
pub(super) fn charged<'p>(pieces: impl Iterator<Item = &'p Piece>, rates: &Rates) -> Option<Exact> {
    let unit = rates.per.mm().powi(2);
    let areas = pieces.map(|p| measure::area(&p.outline.shape, rates.area_rule) / unit);
    let step = rates.step_of_area();
    if step.is_zero() {
        return Some(quantity(areas.sum(), DECIMALS));
    }
    let width = step.to_f64();
    let n = match rates.area_rounded_by {
        RoundedBy::Piece => areas.map(|a| steps(a, width)).sum::<f64>(),
        RoundedBy::Job => steps(areas.sum(), width),
    };
    sheet::quantity(n, 0).times(step)?.rounded(DECIMALS)
}

/// What a slab sells for, in whole minor units; `None` beyond all range.
fn priced(slab: &Slab, rates: &Rates) -> Option<Exact> {
    let factor = Exact::new(100, 0).plus(rates.markup_percent)?;
    Exact::of(slab.price)?.times(factor)?.over(Exact::new(100, 0), rates.minor_digits)
}

/// What an area of a slab sells for, in whole minor units.
fn per_area(slab: &Slab, rates: &Rates) -> Option<Exact> {
    area_rate(Exact::of(slab.price)?, slab.outline.area(), rates)
}

/// A price (before the markup) for an area of stone (mm²), for one square metre or foot.
fn area_rate(price: Exact, mm2: f64, rates: &Rates) -> Option<Exact> {
    let area = Exact::of(mm2 / rates.per.mm().powi(2)).filter(|a| !a.is_zero())?.rounded(9)?;
    let factor = Exact::new(100, 0).plus(rates.markup_percent)?;
    price.times(factor)?.over(area.times(Exact::new(100, 0))?, rates.minor_digits)
}

/// A quantity that is to be divided, and its amount.
#[derive(Clone, Copy)]
struct Whole {
    quantity: Exact,
    /// Money for one, in the currency.
    rate: Exact,
    /// Digits of the minor unit.
    digits: u32,
    /// What it comes to, minor units.
    minor: i128,
}

/// Divides a quantity (to so many decimals, or more) and its amount by weights, of which there is one or more. Amounts are rounded, halves
/// up; the largest has what is left, so that the parts come to the whole exactly. Quantities have as many decimals as it takes for each,
/// times the rate, to give its amount, and come to the whole too.
fn divided(whole: Whole, decimals: u32, weights: &[f64]) -> (Vec<Exact>, Vec<i128>) {
    /// Finer than any quantity that is shown.
    const FINEST: u32 = 12;
    let total: f64 = weights.iter().sum();
    let largest = (0..weights.len()).reduce(|a, b| if weights[b] > weights[a] { b } else { a }).unwrap_or(0);
    let split = |of: Exact, places: u32, share: &dyn Fn(usize) -> Exact| -> Vec<i128> {
        let part = |i: usize| of.times(share(i)).and_then(|p| p.in_units(places)).unwrap_or(0);
        let mut parts: Vec<i128> = (0..weights.len()).map(part).collect();
        let others: i128 = parts.iter().enumerate().filter(|&(i, _)| i != largest).map(|(_, p)| p).sum();
        if let Some(slot) = parts.get_mut(largest) {
            *slot = of.in_units(places).unwrap_or(0) - others;
        }
        parts
    };
    let by_weight = |i: usize| quantity(weights[i] / total, FINEST);
    let minors = split(Exact::new(whole.minor, 0), 0, &by_weight);
    let by_amount = |i: usize| Exact::new(minors[i], 0).over(Exact::new(whole.minor, 0), FINEST).unwrap_or(Exact::ZERO);
    let quantities = |places: u32, share: &dyn Fn(usize) -> Exact| -> Vec<Exact> {
        split(whole.quantity, places, share).into_iter().map(|d| Exact::new(d, places)).collect()
    };
    let gives = |q: &Exact, m: &i128| q.times(whole.rate).and_then(|a| a.in_units(whole.digits)) == Some(*m);
    let fair = |q: &Vec<Exact>| q.iter().zip(&minors).all(|(q, m)| gives(q, m));
    let shares: [&dyn Fn(usize) -> Exact; 2] = [&by_weight, &by_amount];
    let found = (decimals..=FINEST).find_map(|d| shares.iter().map(|s| quantities(d, *s)).find(fair));
    let found = found.unwrap_or_else(|| quantities(decimals, &by_weight));
    (found, minors)
}

/// An area in words, in the unit of the rates.
fn area_text(mm2: f64, rates: &Rates) -> String {
    format!("{} {}", quantity(mm2 / rates.per.mm().powi(2), 2), rates.per.area())
}

fn too_large(question: &Question, jobs: &[usize], slab: &Slab) -> TooLarge {
    let job = jobs.first().and_then(|&j| question.jobs.get(j)).map(|j| j.name.clone()).unwrap_or_default();
    TooLarge { job, line: format!("slab {}", slab.name), figures: format!("a price of {}", slab.price) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A slab of that price (minor units, two digits).
    fn slab(minor: i128) -> Whole {
        Whole { quantity: Exact::new(1, 0), rate: Exact::new(minor, 2), digits: 2, minor }
    }

    fn split(minor: i128, weights: &[f64]) -> (Vec<String>, Vec<i128>) {
        let (quantities, minors) = divided(slab(minor), SHARES, weights);
        (quantities.iter().map(Exact::to_string).collect(), minors)
    }

    #[test]
    fn parts_of_a_slab_come_to_its_price() {
        // A third each of 100.00: the first of equals has the odd cent.
        let (shares, minors) = split(10_000, &[1.0, 1.0, 1.0]);
        assert_eq!(shares, ["0.3334", "0.3333", "0.3333"]);
        assert_eq!(minors, [3334, 3333, 3333]);
        assert_eq!(split(1, &[1.0, 2.0]).1, [0, 1]);
        // As shown, a share times the price is the amount: 0.9074 of 1000.00 would be 907.40.
        let (shares, minors) = split(100_000, &[0.907_408, 0.092_592]);
        assert_eq!((shares, minors), (vec!["0.90741".to_owned(), "0.09259".to_owned()], vec![90_741, 9259]));
        assert_eq!(split(-5, &[1.0, 1.0]).1, [-2, -3]);
        assert_eq!(split(0, &[3.0, 2.0]).1, [0, 0]);
        let mut weight = 1.0_f64;
        for n in 1..40 {
            let weights: Vec<f64> = (0..n)
                .map(|k| {
                    weight = (weight * 7.31 + f64::from(k)) % 9.7;
                    weight + 0.01
                })
                .collect();
            let minor = i128::from(n) * 99_991;
            let (quantities, minors) = divided(slab(minor), SHARES, &weights);
            assert_eq!(minors.iter().sum::<i128>(), minor);
            let sum = quantities.iter().fold(Exact::ZERO, |s, q| s.plus(*q).unwrap());
            assert_eq!(sum, Exact::new(1, 0));
            for (w, m) in weights.iter().zip(&minors) {
                let fair = minor as f64 * w / weights.iter().sum::<f64>();
                assert!((*m as f64 - fair).abs() <= f64::from(n), "{fair} {m}");
            }
            for (q, m) in quantities.iter().zip(&minors) {
                assert_eq!(q.times(Exact::new(minor, 2)).and_then(|a| a.in_units(2)), Some(*m), "{q} of {minor}");
            }
        }
    }
}
