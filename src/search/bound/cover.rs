//! Sets of slabs that meet all demands, cheapest first.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::rows::Demand;

/// Nodes that wait at most.
const WAITING: usize = 120_000;

/// Slabs decided so far (in the order of `Cover::order`), and a bound.
#[derive(Debug)]
struct Node {
    value: f64,
    depth: usize,
    cost: f64,
    left: Vec<f64>,
    chosen: Vec<usize>,
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
        other
            .value
            .total_cmp(&self.value)
            .then(self.depth.cmp(&other.depth))
            .then_with(|| other.chosen.cmp(&self.chosen))
    }
}

/// What [`Cover::next`] came to.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// The next set in order of cost, its cost, and the argument that decided last.
    Set(f64, Vec<usize>, &'static str),
    /// No set costs less than what was asked.
    Done,
    /// The work is spent.
    Spent,
}

/// All sets of slabs that meet the demands, by best-first branch and bound, relaxed fraction by fraction. Of equal slabs the
/// earlier ones are taken first.
#[derive(Debug)]
pub struct Cover {
    prices: Vec<f64>,
    demands: Vec<Demand>,
    /// Dear slabs first: deciding them moves the bound most. Equal slabs stand beside one another.
    order: Vec<usize>,
    /// True if the slab at that place of the order equals the one before.
    again: Vec<bool>,
    /// For each demand, places of the order by price per unit supplied, cheapest first.
    ranked: Vec<Vec<usize>>,
    heap: BinaryHeap<Node>,
}

impl Cover {
    /// `twin[s]`: a slab before `s` that equals it.
    pub fn new(prices: &[f64], demands: &[Demand], twin: &[Option<usize>]) -> Self {
        // Equal slabs under their first.
        let first = |mut s: usize| {
            while let Some(t) = twin[s] {
                s = t;
            }
            s
        };
        let mut order: Vec<usize> = (0..prices.len()).filter(|&s| demands.iter().any(|d| d.supply[s] > 0.0)).collect();
        order.sort_by(|&a, &b| prices[b].total_cmp(&prices[a]).then(first(a).cmp(&first(b))).then(a.cmp(&b)));
        let again = (0..order.len())
            .map(|k| k > 0 && twin[order[k]].is_some() && first(order[k]) == first(order[k - 1]))
            .collect();
        let ranked: Vec<Vec<usize>> = demands
            .iter()
            .map(|d| {
                let mut by: Vec<usize> = (0..order.len()).filter(|&k| d.supply[order[k]] > 0.0).collect();
                let rate = |k: usize| prices[order[k]] / d.supply[order[k]];
                by.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
                by
            })
            .collect();
        let mut cover =
            Self { prices: prices.to_vec(), demands: demands.to_vec(), order, again, ranked, heap: BinaryHeap::new() };
        let left: Vec<f64> = demands.iter().map(|d| d.least).collect();
        let (value, rule) = cover.relaxed(0, &left);
        if value.is_finite() {
            cover.heap.push(Node { value, depth: 0, cost: 0.0, left, chosen: Vec::new(), rule });
        }
        cover
    }

    /// No set still to come costs less than this, and why; infinite if none is to come.
    pub fn least(&self) -> (f64, &'static str) {
        self.heap.peek().map_or((f64::INFINITY, "area"), |n| (n.value, n.rule))
    }

    /// Work of one node.
    pub fn price_of_node(&self) -> u64 {
        1 + (self.demands.len() * self.order.len()) as u64 / 100
    }

    /// The next set that costs less than `below`, in order of cost; takes what it uses from `work`.
    pub fn next(&mut self, below: f64, work: &mut u64) -> Step {
        let price = self.price_of_node();
        while let Some(top) = self.heap.peek() {
            if top.value >= below {
                return Step::Done;
            }
            if *work < price || self.heap.len() > WAITING {
                return Step::Spent;
            }
            *work -= price;
            let Some(mut node) = self.heap.pop() else { return Step::Done };
            if node.depth == self.order.len() {
                node.chosen.sort_unstable();
                return Step::Set(node.cost, node.chosen, node.rule);
            }
            let s = self.order[node.depth];
            // An equal slab that comes before is not in: then neither is this one.
            let barred = self.again[node.depth] && node.chosen.last() != Some(&self.order[node.depth - 1]);
            if !barred {
                let left = node.left.iter().zip(&self.demands).map(|(l, d)| (l - d.supply[s]).max(0.0)).collect();
                let mut chosen = node.chosen.clone();
                chosen.push(s);
                self.push(node.depth + 1, node.cost + self.prices[s], left, chosen, node.rule);
            }
            self.push(node.depth + 1, node.cost, node.left, node.chosen, node.rule);
        }
        Step::Done
    }

    fn push(&mut self, depth: usize, cost: f64, left: Vec<f64>, chosen: Vec<usize>, before: &'static str) {
        let (rest, rule) = self.relaxed(depth, &left);
        if rest.is_finite() {
            let rule = if rest > 0.0 { rule } else { before };
            self.heap.push(Node { value: cost + rest, depth, cost, left, chosen, rule });
        }
    }

    /// Fractional relaxation of each demand over the slabs not decided yet; the dearest of them binds.
    fn relaxed(&self, depth: usize, left: &[f64]) -> (f64, &'static str) {
        let mut worst = (0.0, "nothing is needed");
        for (d, (demand, by)) in self.demands.iter().zip(&self.ranked).enumerate() {
            let none = demand.least * 1e-9;
            let mut open = left[d];
            let mut cost = 0.0;
            if open <= none {
                continue;
            }
            for &k in by.iter().filter(|&&k| k >= depth) {
                let s = self.order[k];
                let supply = demand.supply[s];
                let part = (open / supply).min(1.0);
                cost += self.prices[s] * part;
                open -= supply * part;
                if open <= none {
                    break;
                }
            }
            if open > none {
                return (f64::INFINITY, demand.rule);
            }
            if cost > worst.0 {
                worst = (cost, demand.rule);
            }
        }
        worst
    }
}

/// Cost of the cheapest set of slabs that meets all demands (a lower bound of it if `work` is spent), and the argument that
/// decides. Infinite if no set does.
pub fn cheapest(cover: &mut Cover, mut work: u64) -> (f64, &'static str) {
    match cover.next(f64::INFINITY, &mut work) {
        Step::Set(cost, _, rule) => (cost, if cost > 0.0 { rule } else { "nothing is needed" }),
        Step::Done => (f64::INFINITY, "area"),
        Step::Spent => cover.least(),
    }
}

/// Sets of slabs (ascending) in order of cost that meet all demands, are `wanted` and cost less than `below`, at most `most` of
/// them, found within `pops` steps.
#[must_use]
pub fn cheap_sets(
    prices: &[f64],
    slabs: &[usize],
    demands: &[Demand],
    below: f64,
    (most, pops): (usize, usize),
    wanted: impl Fn(&[usize]) -> bool,
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
        let mut set: Vec<usize> = members.iter().map(|&k| order[k]).collect();
        set.sort_unstable();
        if demands.iter().all(|d| d.met_by(&set)) && wanted(&set) {
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
