//! Refutes sets of slabs in order of cost, a little at a time.
//!
//! Logic-based Benders decomposition (Hooker and Ottosson, Mathematical Programming 96 (2003) 33-60): a master lists sets of
//! slabs that meet all demands, cheapest first; for each, the pieces are dealt out to its slabs in all ways, and a way is cut
//! off where what lies on a slab is proven impossible. What is learned of loads on slabs serves all later sets. A set for which
//! no proof is found stays open: the cheapest open set is the bound.

use std::collections::BTreeMap;

use super::certificate::{Certificate, Refuted};
use super::cover::{Cover, Step};
use super::shelf::{Load, Shelf, Verdict};
use super::{Bound, PROOF_SLACK};
use crate::search::space::Space;

/// For each level of effort: work for one load, and ways of dealing out.
const LEVELS: [(u64, u64); 3] = [(400, 2_000), (4_000, 20_000), (40_000, 200_000)];

/// Sets listed at most; beyond them the bound stands.
const SETS: usize = 4_000;

/// A set that is not refuted.
#[derive(Debug)]
struct Open {
    slabs: Vec<usize>,
    cost: f64,
    /// The next level of effort; none left: it stays open.
    level: usize,
}

/// What dealing out came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Dealt {
    /// Every way is refuted.
    Refuted,
    /// A way is left of which nothing can be refuted by these arguments.
    Open,
    /// A way is left, or the work was spent.
    Unknown,
}

/// How much of the log counts.
#[derive(Clone, Copy, Debug, Default)]
struct Mark {
    cost: f64,
    impossible: usize,
    sets: usize,
    rule: Option<&'static str>,
}

/// The state of a proof.
#[derive(Debug)]
pub struct Prover<'a> {
    shelf: Shelf<'a>,
    cover: Cover,
    /// Classes of all pieces, largest first, copies together.
    pieces: Vec<usize>,
    twin: Vec<Option<usize>>,
    open: Vec<Open>,
    refuted: Vec<Refuted>,
    /// Their numbers, by slabs.
    known: BTreeMap<Vec<usize>, usize>,
    listed: usize,
    base: (f64, &'static str),
    mark: Mark,
}

impl<'a> Prover<'a> {
    /// Takes over from the first bound.
    pub fn new(space: &Space<'a>, bound: &Bound) -> Self {
        let question = space.question;
        let proof = Space::for_proofs(question, PROOF_SLACK);
        let prices: Vec<f64> = question.rack.iter().map(|s| s.price).collect();
        let shelf = Shelf::new(proof, bound.may.clone());
        let mut classes: Vec<usize> = (0..space.classes.len()).filter(|&c| bound.may[c].iter().any(|&b| b)).collect();
        classes.sort_by(|&a, &b| shelf.need(b).total_cmp(&shelf.need(a)).then(a.cmp(&b)));
        let pieces = classes.iter().flat_map(|&c| std::iter::repeat_n(c, space.classes[c].members.len())).collect();
        let cover = Cover::new(&prices, &bound.demands, &bound.twin);
        let mark = Mark { cost: bound.cost, ..Mark::default() };
        Self {
            shelf,
            cover,
            pieces,
            twin: bound.twin.clone(),
            open: Vec::new(),
            refuted: Vec::new(),
            known: BTreeMap::new(),
            listed: 0,
            base: (bound.cost, bound.rule),
            mark,
        }
    }

    /// Works on for about `work` units (of 10 µs); sets that cost `below` or more are of no interest. Stops early when `stop`
    /// says so; then what it did since the last [`Prover::settle`] should not be used.
    pub fn work(&mut self, mut work: u64, below: f64, stop: &dyn Fn() -> bool) {
        let below = below - 0.005;
        while work > 0 && !stop() {
            // The cheapest open set comes first, as far as more effort may help. Once the bound stands, the others get little.
            let stuck = self.open.iter().any(|o| o.cost < below && o.level >= LEVELS.len());
            let hardest = if stuck { 1 } else { LEVELS.len() };
            if let Some(k) = self.open.iter().position(|o| o.cost < below && o.level < hardest) {
                let (slabs, level) = (self.open[k].slabs.clone(), self.open[k].level);
                match self.deal(&slabs, level, &mut work, stop) {
                    Dealt::Refuted => {
                        let set = self.open.remove(k);
                        self.known.insert(set.slabs.clone(), self.refuted.len());
                        self.refuted.push(Refuted { slabs: set.slabs, cost: set.cost });
                    }
                    Dealt::Open => self.open[k].level = LEVELS.len(),
                    Dealt::Unknown if work == 0 => {}
                    Dealt::Unknown => self.open[k].level += 1,
                }
                continue;
            }
            if self.listed >= SETS {
                break;
            }
            match self.cover.next(below, &mut work) {
                Step::Set(cost, slabs, _) => {
                    self.listed += 1;
                    self.open.push(Open { slabs, cost, level: 0 });
                }
                Step::Done | Step::Spent => break,
            }
        }
    }

    /// Makes what is known count, and gives the bound and its argument.
    pub fn settle(&mut self) -> (f64, &'static str) {
        let still = self.cover.least();
        let open = self.open.iter().map(|o| o.cost).fold(f64::INFINITY, f64::min);
        let cost = open.min(still.0).max(self.base.0);
        let rule = if self.refuted.iter().any(|r| r.cost < cost) && cost > self.base.0 + 0.005 {
            "cheaper sets of slabs refuted one by one"
        } else if cost > self.base.0 + 0.005 {
            still.1
        } else {
            self.base.1
        };
        self.mark = Mark { cost, impossible: self.shelf.impossible.len(), sets: self.refuted.len(), rule: Some(rule) };
        (cost, rule)
    }

    /// True if the set (ascending) is refuted; as of the last [`Prover::settle`].
    pub fn refutes(&self, slabs: &[usize]) -> bool {
        self.known.get(slabs).is_some_and(|&k| k < self.mark.sets)
    }

    /// The log as of the last [`Prover::settle`].
    pub fn certificate(&self, space: &Space<'_>, bound: &Bound) -> Certificate {
        Certificate {
            cost: self.mark.cost,
            rule: self.mark.rule.unwrap_or(bound.rule),
            impossible: self.shelf.impossible[..self.mark.impossible].to_vec(),
            sets: self.refuted[..self.mark.sets].to_vec(),
            ..bound.certificate(space)
        }
    }

    fn deal(&mut self, slabs: &[usize], level: usize, work: &mut u64, stop: &dyn Fn() -> bool) -> Dealt {
        let (limit, mut ways) = LEVELS[level];
        let mut loads: Vec<Load> = vec![Vec::new(); slabs.len()];
        let mut spare: Vec<f64> = slabs.iter().map(|&s| self.shelf.area(s)).collect();
        let rest: f64 = self.pieces.iter().map(|&c| self.shelf.need(c)).sum();
        let mut sure = true;
        let mut deal = Deal { slabs, limit, ways: &mut ways, work, stop };
        self.deal_from(0, rest, &mut loads, &mut spare, &mut sure, 0, &mut deal)
    }

    #[expect(clippy::too_many_arguments, reason = "the state of a backtracking search, spelled out")]
    fn deal_from(
        &mut self,
        k: usize,
        rest: f64,
        loads: &mut Vec<Load>,
        spare: &mut Vec<f64>,
        sure: &mut bool,
        last: usize,
        deal: &mut Deal<'_>,
    ) -> Dealt {
        let Some(&class) = self.pieces.get(k) else {
            return if *sure { Dealt::Open } else { Dealt::Unknown };
        };
        if *deal.ways == 0 || *deal.work == 0 || (deal.stop)() {
            return Dealt::Unknown;
        }
        *deal.ways -= 1;
        if rest > spare.iter().sum::<f64>() * (1.0 + 1e-9) {
            return Dealt::Refuted;
        }
        // Copies go to slabs in order.
        let copy = k > 0 && self.pieces[k - 1] == class;
        for i in if copy { last } else { 0 }..deal.slabs.len() {
            let slab = deal.slabs[i];
            if !self.shelf.may(class, slab) {
                continue;
            }
            // Of equal slabs without a load only the first.
            if loads[i].is_empty()
                && (0..i)
                    .any(|j| loads[j].is_empty() && first_of(&self.twin, deal.slabs[j]) == first_of(&self.twin, slab))
            {
                continue;
            }
            let at = loads[i].partition_point(|&c| c <= class);
            loads[i].insert(at, class);
            let need = self.shelf.need(class);
            let verdict = self.shelf.ask(slab, &loads[i], deal.limit, deal.work);
            let found = if verdict == Verdict::Impossible {
                Dealt::Refuted
            } else {
                let was = *sure;
                *sure &= verdict == Verdict::Open;
                spare[i] -= need;
                let found = self.deal_from(k + 1, rest - need, loads, spare, sure, i, deal);
                spare[i] += need;
                *sure = was;
                found
            };
            loads[i].remove(at);
            if found != Dealt::Refuted {
                return found;
            }
        }
        Dealt::Refuted
    }
}

/// Slabs, limits and work of one dealing out.
struct Deal<'d> {
    slabs: &'d [usize],
    limit: u64,
    ways: &'d mut u64,
    work: &'d mut u64,
    stop: &'d dyn Fn() -> bool,
}

/// The first slab that equals this one.
fn first_of(twin: &[Option<usize>], mut slab: usize) -> usize {
    while let Some(earlier) = twin[slab] {
        slab = earlier;
    }
    slab
}
