//! A lower bound on the cost of any plan that places everything, by arguments that err towards "possible".
//!
//! Arguments: a slab on which no piece of a group can lie does not help the group; the pieces of a group need their area, each
//! with half the gap round it (their grown shapes do not overlap, and lie within the slab's room grown by half the gap);
//! pieces that exclude one another on every slab need a slab each. The cheapest set of slabs that satisfies all of
//! these is found by best-first branch and bound; if its node limit is reached, the least open value is still a bound.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::space::Space;
use crate::geom::{Region, boolean, pt, sum};
use crate::model::Question;
use crate::rules::Turns;
use rayon::prelude::*;

/// Clearances are smaller by this in proofs, mm: more than two bodies have grown by simplification, and all rounding of
/// borders, together.
const PROOF_SLACK: f64 = 2.0 * crate::rules::SIMPLER + 0.3;

/// Nodes of the branch and bound.
const NODES: usize = 60_000;

/// Above this many (class, slab) pairs only boxes and areas are compared.
const EXACT_PAIRS: usize = 1500;

/// What is known before any search.
#[derive(Clone, Debug)]
pub struct Bound {
    /// No plan that places everything can cost less.
    pub cost: f64,
    /// By what argument.
    pub rule: &'static str,
    /// `may[class][slab]`: false only where it is proven that the class cannot lie on the slab.
    pub may: Vec<Vec<bool>>,
    /// Constraints that any set of slabs must satisfy.
    pub demands: Vec<Demand>,
}

/// The slabs of a plan must together supply at least `least` units, slab `s` supplying `supply[s]`.
#[derive(Clone, Debug)]
pub struct Demand {
    /// What a slab supplies, by slab; 0 where it does not help.
    pub supply: Vec<f64>,
    /// How much is needed.
    pub least: f64,
    /// What kind of argument it is.
    pub rule: &'static str,
}

impl Demand {
    /// True if the set of slabs satisfies it.
    #[must_use]
    pub fn met_by(&self, slabs: &[usize]) -> bool {
        slabs.iter().map(|&s| self.supply[s]).sum::<f64>() >= self.least * (1.0 - 1e-9)
    }
}

/// Bounds a question. Classes that may lie nowhere are left out of account; the caller reports them.
#[must_use]
pub fn bound(space: &Space<'_>, question: &Question) -> Bound {
    let proof = Space::new(question, PROOF_SLACK);
    let (n, m) = (space.classes.len(), question.rack.len());
    let exact = n * m <= EXACT_PAIRS;
    let may: Vec<Vec<bool>> = (0..n)
        .into_par_iter()
        .map(|c| (0..m).map(|s| space.accepts(c, s) && may_lie(&proof, c, s, exact)).collect())
        .collect();
    let limits = space.limits();
    let capacity: Vec<f64> = (0..m)
        .map(|s| {
            let room = &proof.slab(s).room; // a little less trim: holds the true room
            sum::grown(room, limits.gap / 2.0, 0.05).area()
        })
        .collect();
    let need: Vec<f64> = (0..n)
        .map(|c| {
            let piece = space.piece_of(c);
            let ring = &piece.outline.ring;
            let holes: f64 = if limits.use_drops { piece.openings.iter().map(|o| o.ring.area()).sum() } else { 0.0 };
            let by = limits.gap / 2.0 - 0.05;
            let grown = if by > 0.0 { sum::grown(&ring.to_region(), by, 0.04).area() } else { ring.area() };
            grown - holes
        })
        .collect();
    let mut demands = area_demands(space, &may, &capacity, &need);
    demands.extend(clique_demand(&proof, &may, &need, exact));
    let prices: Vec<f64> = question.rack.iter().map(|s| s.price).collect();
    let (cost, rule) = cheapest(&prices, &demands);
    Bound { cost, rule, may, demands }
}

/// False only if the class provably cannot lie on the slab.
fn may_lie(proof: &Space<'_>, class: usize, slab: usize, exact: bool) -> bool {
    let body = proof.body(class, 0.0);
    let room = &proof.slab(slab).room;
    if stone_area(proof, class) > room.area() {
        return false;
    }
    match crate::rules::turns(proof.piece_of(class), &proof.question.rack[slab]) {
        // At any turn: the farthest two points of the body must find room within the farthest two of the slab.
        Turns::Free => diameter(&body.stone().region) <= diameter(room) + 1e-6,
        Turns::Near { centres, tolerance: 0.0 } => centres.iter().any(|&t| {
            let b = proof.body(class, t).bbox;
            let r = room.bbox();
            b.width() <= r.width() + 1e-6
                && b.height() <= r.height() + 1e-6
                && (!exact || !proof.free(class, t, slab).is_empty())
        }),
        Turns::Near { centres, tolerance } => {
            centres.iter().any(|&t| may_lie_near(proof, class, slab, t - tolerance, t + tolerance, 0, exact))
        }
    }
}

/// As [`may_lie`] for a range of turns, which is halved until each half is refuted or too narrow to go on.
///
/// At the middle of the range no point of the body is farther than `2 R sin(a / 2)` from where it would be at any turn of
/// the range (half width `a`, `R` the largest distance from the middle of the body): a body that fits at such a turn
/// fits at the middle one with clearances smaller by that.
fn may_lie_near(proof: &Space<'_>, class: usize, slab: usize, from: f64, to: f64, depth: u32, exact: bool) -> bool {
    if !exact {
        return true;
    }
    let mid = (from + to) / 2.0;
    let base = proof.body(class, 0.0);
    let centre = base.bbox.centre();
    let radius = base.stone().region.rings().flat_map(|r| r.points()).map(|p| p.distance(centre)).fold(0.0, f64::max);
    let moved = 2.0 * radius * ((to - from).to_radians() / 4.0).sin();
    let body = base.turned(mid);
    if proof.free_with(&body, slab, PROOF_SLACK + moved, None).is_empty() {
        return false;
    }
    if depth >= 5 {
        return true;
    }
    may_lie_near(proof, class, slab, from, mid, depth + 1, exact)
        || may_lie_near(proof, class, slab, mid, to, depth + 1, exact)
}

/// Area that a body takes from others, mm²: of its own outline, not of the simpler one that the search uses.
fn stone_area(space: &Space<'_>, class: usize) -> f64 {
    let piece = space.piece_of(class);
    if space.limits().use_drops { piece.stone().area() } else { piece.outline.ring.area() }
}

fn diameter(region: &Region) -> f64 {
    let points: Vec<_> = region.rings().flat_map(|r| r.points().to_vec()).collect();
    let hull = sum::hull(&points);
    let mut best = 0.0f64;
    for (i, a) in hull.iter().enumerate() {
        for b in &hull[i + 1..] {
            best = best.max(a.distance(*b));
        }
    }
    best
}

/// One demand per distinct set of slabs that some class is confined to: all classes within it need their area there.
fn area_demands(space: &Space<'_>, may: &[Vec<bool>], capacity: &[f64], need: &[f64]) -> Vec<Demand> {
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
            Demand { supply, least, rule: "area" }
        })
        .collect()
}

/// Pieces of which no two can share any slab need a slab each: a greedy clique, largest first.
fn clique_demand(proof: &Space<'_>, may: &[Vec<bool>], need: &[f64], exact: bool) -> Option<Demand> {
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
    Some(Demand { supply, least: count as f64, rule: "pieces that exclude one another" })
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

/// A node: slabs decided so far (in the order of `order`), and a bound.
#[derive(Debug)]
struct Node {
    value: f64,
    depth: usize,
    cost: f64,
    left: Vec<f64>,
    rule: &'static str,
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Node {}
impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Node {
    /// Cheapest first in a max-heap; deeper first on ties.
    fn cmp(&self, other: &Self) -> Ordering {
        other.value.total_cmp(&self.value).then(self.depth.cmp(&other.depth))
    }
}

/// Cost of the cheapest set of slabs that meets all demands (a lower bound of it if the node limit is reached), and the
/// argument that decides. Infinite if no set does.
fn cheapest(prices: &[f64], demands: &[Demand]) -> (f64, &'static str) {
    // Dear slabs first: deciding them moves the bound most.
    let mut order: Vec<usize> = (0..prices.len()).filter(|&s| demands.iter().any(|d| d.supply[s] > 0.0)).collect();
    order.sort_by(|&a, &b| prices[b].total_cmp(&prices[a]).then(a.cmp(&b)));
    // For each demand, slabs by price per unit supplied, cheapest first.
    let ranked: Vec<Vec<usize>> = demands
        .iter()
        .map(|d| {
            let mut by: Vec<usize> = (0..order.len()).filter(|&k| d.supply[order[k]] > 0.0).collect();
            let rate = |k: usize| prices[order[k]] / d.supply[order[k]];
            by.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
            by
        })
        .collect();
    // Fractional relaxation of each demand over the slabs not decided yet; the dearest of them binds.
    let relax = |depth: usize, left: &[f64]| -> (f64, &'static str) {
        let mut worst = (0.0, "nothing is needed");
        for (d, (demand, by)) in demands.iter().zip(&ranked).enumerate() {
            let mut open = left[d];
            let mut cost = 0.0;
            if open <= demand.least * 1e-9 {
                continue;
            }
            for &k in by.iter().filter(|&&k| k >= depth) {
                let s = order[k];
                let supply = demand.supply[s];
                let part = (open / supply).min(1.0);
                cost += prices[s] * part;
                open -= supply * part;
                if open <= demand.least * 1e-9 {
                    break;
                }
            }
            if open > demand.least * 1e-9 {
                return (f64::INFINITY, demand.rule);
            }
            if cost > worst.0 {
                worst = (cost, demand.rule);
            }
        }
        worst
    };
    let left: Vec<f64> = demands.iter().map(|d| d.least).collect();
    let (value, rule) = relax(0, &left);
    let mut heap = BinaryHeap::from([Node { value, depth: 0, cost: 0.0, left, rule }]);
    let mut nodes = 0;
    while let Some(node) = heap.pop() {
        let done = node.left.iter().zip(demands).all(|(l, d)| *l <= d.least * 1e-9);
        nodes += 1;
        if done || node.value.is_infinite() || node.depth == order.len() || nodes > NODES || heap.len() > 4 * NODES {
            return (node.value, if done && node.value == 0.0 { "nothing is needed" } else { node.rule });
        }
        let s = order[node.depth];
        let with: Vec<f64> = node.left.iter().zip(demands).map(|(l, d)| (l - d.supply[s]).max(0.0)).collect();
        for (cost, left) in [(node.cost + prices[s], with), (node.cost, node.left)] {
            let (rest, rule) = relax(node.depth + 1, &left);
            if rest.is_finite() {
                let value = cost + rest;
                let rule = if rest > 0.0 { rule } else { node.rule };
                heap.push(Node { value, depth: node.depth + 1, cost, left, rule });
            }
        }
    }
    (f64::INFINITY, "area")
}

/// Sets of slabs in order of cost that meet all demands and cost less than `below`, at most `most` of them, found within
/// `pops` steps.
#[must_use]
pub fn cheap_sets(
    prices: &[f64],
    slabs: &[usize],
    demands: &[Demand],
    below: f64,
    most: usize,
    pops: usize,
) -> Vec<Vec<usize>> {
    let mut order = slabs.to_vec();
    order.sort_by(|&a, &b| prices[a].total_cmp(&prices[b]).then(a.cmp(&b)));
    // The usual enumeration of subsets by sum: extend by the next slab, or exchange the last one for the next.
    let mut heap: BinaryHeap<Subset> = BinaryHeap::new();
    if let Some(&first) = order.first() {
        heap.push(Subset { cost: prices[first], members: vec![0] });
    }
    let mut out = Vec::new();
    let mut steps = 0;
    while let Some(Subset { cost, members }) = heap.pop() {
        steps += 1;
        if cost >= below - 0.005 || out.len() >= most || steps > pops {
            break;
        }
        let last = members[members.len() - 1];
        if last + 1 < order.len() {
            let mut more = members.clone();
            more.push(last + 1);
            heap.push(Subset { cost: cost + prices[order[last + 1]], members: more });
            let mut other = members.clone();
            let at = other.len() - 1;
            other[at] = last + 1;
            heap.push(Subset { cost: cost - prices[order[last]] + prices[order[last + 1]], members: other });
        }
        let set: Vec<usize> = members.iter().map(|&k| order[k]).collect();
        if demands.iter().all(|d| d.met_by(&set)) {
            out.push(set);
        }
    }
    out
}

#[derive(Debug)]
struct Subset {
    cost: f64,
    members: Vec<usize>,
}
impl PartialEq for Subset {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Subset {}
impl PartialOrd for Subset {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Subset {
    fn cmp(&self, other: &Self) -> Ordering {
        other.cost.total_cmp(&self.cost).then_with(|| other.members.cmp(&self.members))
    }
}
