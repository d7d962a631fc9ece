//! What any set of slabs that holds everything must supply: area, one slab for each of some pieces, lengths side by side.

use super::boxes::{self, Form};
use super::fit::stone_area;
use crate::geom::{Pose, Region, boolean, pt, sum};
use crate::model::{Limits, Shown, Slab};
use crate::rules::Turns;
use crate::search::space::Space;

/// Two gaps count as this much less than they are, mm: more than what a judge lets pass.
const GAP_SLACK: f64 = 0.01;

/// Rows of lengths side by side that are kept, at most: those that ask for most. More rows: a slower branch and bound.
const LENGTH_ROWS: usize = 8;

/// Pieces less deep than this give no row of their own, mm.
const LEAST_DEPTH: f64 = 150.0;

/// The slabs of a plan must together supply at least `least` units, slab `s` supplying `supply[s]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Demand {
    /// What a slab supplies, by slab; 0 where it does not help.
    pub supply: Vec<f64>,
    /// How much is needed.
    pub least: f64,
    /// What kind of argument it is.
    pub rule: &'static str,
}

/// Arguments, as people read them.
const AREA: &str = "area";
const APART: &str = "pieces that exclude one another";
const LENGTHS: &str = "lengths side by side";

impl Demand {
    /// An amount of what is needed, with its unit.
    #[must_use]
    pub fn figure(&self, amount: f64, shown: Shown) -> String {
        match self.rule {
            AREA => shown.area(amount),
            LENGTHS => shown.said_to(amount, 0),
            _ => format!("{amount:.0} slabs"),
        }
    }

    /// True if the set of slabs satisfies it.
    #[must_use]
    pub fn met_by(&self, slabs: &[usize]) -> bool {
        slabs.iter().map(|&s| self.supply[s]).sum::<f64>() >= self.least * (1.0 - 1e-9)
    }
}

/// The gap between two pieces as proofs count it, mm.
pub fn proof_gap(limits: &Limits) -> f64 {
    (limits.gap - GAP_SLACK).max(0.0)
}

/// By how much the sides of rectangles (and of the slab that they lie on) may be made longer so that they still do not overlap.
///
/// Two rectangles at least `gap` apart may lie at a slant to one another, nearer than the gap along both axes. So each may
/// grow by `(a, b)` on every side only where `a² + b² <= (gap / 2)²`: by the whole gap along one axis, or by a part along both.
pub fn growths(gap: f64) -> [[f64; 2]; 3] {
    let part = gap * std::f64::consts::FRAC_1_SQRT_2;
    [[0.0, gap], [gap, 0.0], [part, part]]
}

/// Where stone may be on a slab, with clearances smaller by `slack`, in the frame of its grain.
pub fn room_in_line(slab: &Slab, limits: &Limits, slack: f64, grain: f64) -> Region {
    let outline = slab.outline.to_region();
    let trim = limits.trim - slack;
    let room = if trim < 0.0 { sum::grown(&outline, -trim, 0.02) } else { sum::shrunk(&outline, trim, 0.0) };
    Pose::new(-grain, pt(0.0, 0.0)).region(&room)
}

/// What a slab has for pieces: sizes of its room in the frame of its grain (none without a grain), and area of its room grown
/// by half the gap.
#[derive(Clone, Copy, Debug)]
pub struct Supply {
    /// Width along the grain and height across it, mm.
    pub size: Option<[f64; 2]>,
    /// mm².
    pub area: f64,
}

/// What a slab has.
pub fn supply(proof: &Space<'_>, slab: usize) -> Supply {
    let limits = proof.limits();
    let room = &proof.slab(slab).room; // a little less trim: holds the true room
    let area = sum::grown(room, limits.gap / 2.0, 0.05).area();
    let size = proof.question.rack[slab].grain.map(|grain| {
        let b = Pose::new(-grain, pt(0.0, 0.0)).region(room).bbox();
        [b.width() + 0.02, b.height() + 0.02]
    });
    Supply { size, area }
}

/// What a class needs of the area of a slab, mm².
pub fn need(space: &Space<'_>, class: usize) -> f64 {
    let limits = space.limits();
    let piece = space.piece_of(class);
    let ring = &piece.outline.ring;
    let holes: f64 = if limits.use_drops { piece.openings.iter().map(|o| o.ring.area()).sum() } else { 0.0 };
    let by = limits.gap / 2.0 - 0.05;
    let grown = if by > 0.0 { sum::grown(&ring.to_region(), by, 0.04).area() } else { ring.area() };
    grown - holes
}

/// One demand per distinct set of slabs that some class is confined to: all classes within it need their area there.
pub fn area_demands(space: &Space<'_>, may: &[Vec<bool>], capacity: &[f64], need: &[f64]) -> Vec<Demand> {
    let mut sets: Vec<Vec<bool>> = may.iter().filter(|m| m.iter().any(|&b| b)).cloned().collect();
    // Unions with the whole give the demand of everything together.
    if let Some(first) = sets.first().cloned() {
        let all = sets.iter().fold(first, |a, b| a.iter().zip(b).map(|(x, y)| *x || *y).collect());
        sets.push(all);
    }
    sets.sort();
    sets.dedup();
    sets.iter()
        .map(|set| {
            let least: f64 = (0..may.len())
                .filter(|&c| may[c].iter().any(|&b| b) && may[c].iter().zip(set).all(|(m, s)| !m || *s))
                .map(|c| need[c] * space.classes[c].members.len() as f64)
                .sum();
            let supply = capacity.iter().zip(set).map(|(&a, &s)| if s { a } else { 0.0 }).collect();
            Demand { supply, least, rule: AREA }
        })
        .collect()
}

/// Pieces of which no two can share any slab need a slab each: a greedy clique, largest first.
pub fn clique_demand(proof: &Space<'_>, may: &[Vec<bool>], need: &[f64], exact: bool) -> Option<Demand> {
    let m = proof.question.rack.len();
    let mut order: Vec<usize> = (0..need.len()).filter(|&c| may[c].iter().any(|&b| b)).collect();
    order.sort_by(|&a, &b| need[b].total_cmp(&need[a]).then(a.cmp(&b)));
    // Small pieces never exclude one another; testing them would only take time.
    let largest = *order.first()?;
    order.retain(|&c| need[c] > need[largest] * 0.25);
    order.truncate(24);
    let mut clique: Vec<(usize, usize)> = Vec::new();
    for &c in &order {
        let mut copies = proof.classes[c].members.len();
        if copies > 1 && (0..m).any(|s| may[c][s] && !exclude(proof, c, c, s, exact)) {
            copies = 1;
        }
        if clique.iter().all(|&(d, _)| (0..m).all(|s| !(may[c][s] && may[d][s]) || exclude(proof, c, d, s, exact))) {
            clique.push((c, copies));
        }
    }
    let count: usize = clique.iter().map(|c| c.1).sum();
    if count < 2 {
        return None;
    }
    let supply = (0..m).map(|s| if clique.iter().any(|&(c, _)| may[c][s]) { 1.0 } else { 0.0 }).collect();
    Some(Demand { supply, least: count as f64, rule: APART })
}

/// True only if two bodies provably cannot lie on the slab together.
fn exclude(proof: &Space<'_>, a: usize, b: usize, slab: usize, exact: bool) -> bool {
    let room = &proof.slab(slab).room;
    let area = |c: usize| stone_area(proof, c);
    if area(a) + area(b) > room.area() {
        return true;
    }
    // Two bodies that take little of the slab together find room beside one another.
    if !exact || area(a) + area(b) < 0.3 * room.area() {
        return false;
    }
    let fixed = |c: usize| match crate::rules::turns(proof.piece_of(c), &proof.question.rack[slab]) {
        Turns::Near { centres, tolerance: 0.0 } => Some(centres),
        _ => None,
    };
    let (Some(turns_a), Some(turns_b)) = (fixed(a), fixed(b)) else { return false };
    for &ta in &turns_a {
        let free_a = proof.free(a, ta, slab);
        for &tb in &turns_b {
            let free_b = proof.free(b, tb, slab);
            if free_a.is_empty() || free_b.is_empty() {
                continue;
            }
            let too_close = proof.apart(a, ta, b, tb);
            if !boolean::difference(&differences(&free_a, &free_b), &too_close).is_empty() {
                return false;
            }
        }
    }
    true
}

/// At least all differences (shift of b) - (shift of a) of shifts in the two regions: exact for convex parts, the hull for
/// others, and a hair more, so that the grid cannot fake a proof. If each of them is too close, the two exclude one another.
fn differences(free_a: &Region, free_b: &Region) -> Region {
    let hulls = |r: &Region| -> Vec<sum::Convex> { r.polygons.iter().map(|p| sum::hull(p.outer.points())).collect() };
    let hair = [pt(-0.01, -0.01), pt(0.01, -0.01), pt(0.01, 0.01), pt(-0.01, 0.01)];
    let from: Vec<sum::Convex> = hulls(free_a).iter().map(|h| sum::convex_sum(&sum::mirrored(h), &hair)).collect();
    let loops: Vec<sum::Convex> =
        hulls(free_b).iter().flat_map(|h| from.iter().map(|f| sum::convex_sum(f, h)).collect::<Vec<_>>()).collect();
    boolean::union_loops(loops.iter().map(Vec::as_slice))
}

/// What a class counts in a row: for each rectangle, a function of its length times one of its depth.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Measure {
    /// The size itself.
    Plain,
    /// How often this size goes into it.
    Times(f64),
}

impl Measure {
    fn of(self, size: f64) -> f64 {
        match self {
            Self::Plain => size,
            Self::Times(unit) => (size / unit + 1e-9).floor(),
        }
    }
}

/// Lengths side by side: where pieces of at least some depth `d` lie, a line across the slab meets at most as many of them as
/// go into the slab's depth, so that their lengths add up to at most so many times the slab's length. A piece of depth `h`
/// counts `floor(h / d)` times, and the same may be done with the lengths.
///
/// Rounding down by a unit is a dual feasible function: Fekete and Schepers, Mathematical Methods of Operations Research 60
/// (2004) 311-329, who also show that the two sides may be measured by different ones.
pub fn length_demands(
    space: &Space<'_>,
    may: &[Vec<bool>],
    supplies: &[Supply],
    forms: &[Option<Form>],
    prices: &[f64],
) -> Vec<Demand> {
    let copies = |c: usize| space.classes[c].members.len() as f64;
    let placed: Vec<usize> = (0..may.len()).filter(|&c| may[c].iter().any(|&b| b)).collect();
    let units = |side: usize, growth: [f64; 2]| -> Vec<f64> {
        let mut all: Vec<f64> = placed
            .iter()
            .filter_map(|&c| forms[c].as_ref())
            .flat_map(|f| f.sizes.iter().flatten())
            .map(|s| s[side] + growth[side])
            .flat_map(|d| [d, d / 2.0, d / 3.0])
            .filter(|&d| d >= LEAST_DEPTH)
            .collect();
        all.sort_by(|a, b| b.total_cmp(a));
        all.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        all
    };
    let [tall, long, both] = growths(proof_gap(space.limits()));
    let mut measures: Vec<([f64; 2], [Measure; 2])> = Vec::new();
    measures.extend(units(1, tall).iter().take(40).map(|&d| (tall, [Measure::Plain, Measure::Times(d)])));
    measures.extend(units(0, long).iter().take(40).map(|&d| (long, [Measure::Times(d), Measure::Plain])));
    for &d in units(1, both).iter().take(8) {
        measures.extend(units(0, both).iter().take(8).map(|&e| (both, [Measure::Times(e), Measure::Times(d)])));
    }
    // What the row costs by itself, fraction by fraction.
    let price_of = |d: &Demand| -> f64 {
        let mut by: Vec<usize> = (0..prices.len()).filter(|&s| d.supply[s] > 0.0).collect();
        by.sort_by(|&a, &b| (prices[a] * d.supply[b]).total_cmp(&(prices[b] * d.supply[a])).then(a.cmp(&b)));
        let (mut left, mut cost) = (d.least, 0.0);
        for s in by {
            let part = (left / d.supply[s]).min(1.0);
            cost += prices[s] * part;
            left -= d.supply[s] * part;
            if left <= 0.0 {
                return cost;
            }
        }
        f64::INFINITY
    };
    let mut rows: Vec<(f64, Demand)> = measures
        .iter()
        .filter_map(|&(growth, [x, y])| {
            let count = |size: &[f64; 2]| x.of(size[0] + growth[0]) * y.of(size[1] + growth[1]);
            let weight = |c: usize| -> f64 {
                let value = |s: &Vec<[f64; 2]>| s.iter().map(count).sum::<f64>();
                forms[c].as_ref().map_or(0.0, |f| f.sizes.iter().map(value).fold(0.0, f64::max))
            };
            let weights: Vec<f64> = (0..may.len()).map(|c| weight(c) * copies(c)).collect();
            let least: f64 = placed.iter().map(|&c| weights[c]).sum();
            if least <= 0.0 {
                return None;
            }
            let supply: Vec<f64> = supplies
                .iter()
                .enumerate()
                .map(|(s, supply)| {
                    // No more than all that may lie there; a class out of line there counts nothing for certain.
                    let there = placed.iter().filter(|&&c| may[c][s]);
                    let most = there.clone().fold(0.0, |sum, &c| sum + weights[c]);
                    let loose = there.clone().any(|&c| weights[c] > 0.0 && !boxes::in_line(space, c, s));
                    match supply.size {
                        Some(size) if !loose => count(&size).min(most),
                        _ => most,
                    }
                })
                .collect();
            let row = Demand { supply, least, rule: LENGTHS };
            Some((price_of(&row), row))
        })
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    // Units that count the same ask the same.
    rows.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
    rows.truncate(LENGTH_ROWS);
    rows.into_iter().map(|r| r.1).collect()
}
