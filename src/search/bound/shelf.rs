//! What can lie together on one slab: "no" only by proof, remembered, and reduced to as few pieces as the proof needs.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::boxes::{self, Form, Seat};
use super::certificate::{Impossible, Why};
use super::dual;
use super::order::{Item, Outcome, Question};
use super::rows::{self, Supply};
use crate::search::space::Space;

/// Bodies in one search over orders, at most: the largest. Fewer are a weaker argument, and a valid one.
const BODIES: usize = 9;

/// Work of a question that is answered from memory, and of one worked out, in units of about 10 µs.
const RECALLED: u64 = 1;
const WORKED_OUT: u64 = 12;

/// Ranges of turns are divided only where a question may take more work than this.
const DIVIDE: u64 = 1_000;

/// Classes (ascending, repeated for copies).
pub type Load = Vec<usize>;

/// What is known of a load on a slab.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Proven impossible.
    Impossible,
    /// No argument here can refute it.
    Open,
    /// Not refuted with this much work.
    Unknown,
}

/// The slabs, and what is known of loads on them.
#[derive(Debug)]
pub struct Shelf<'a> {
    proof: Space<'a>,
    may: Vec<Vec<bool>>,
    supplies: Vec<Supply>,
    need: Vec<f64>,
    forms: Vec<Option<Form>>,
    gap: f64,
    seats: BTreeMap<(usize, usize), Vec<Arc<Seat>>>,
    /// Seats within ranges of turns: class, slab, and the bits of the range.
    ranges: BTreeMap<(usize, usize, u64, u64), Option<Arc<Seat>>>,
    /// Loads proven impossible, in order of discovery; none holds another on the same slab when it is found.
    pub impossible: Vec<Impossible>,
    /// Their numbers, slab by slab.
    by_slab: Vec<Vec<usize>>,
    /// Loads that cannot be refuted, slab by slab.
    open: Vec<Vec<Load>>,
    /// Work spent in vain on a load.
    tried: BTreeMap<(usize, Load), u64>,
}

/// True if every member of `small` is in `large`, copies counted; both ascending.
pub fn within(small: &[usize], large: &[usize]) -> bool {
    let mut rest = large.iter();
    small.iter().all(|a| rest.by_ref().any(|b| a == b))
}

impl<'a> Shelf<'a> {
    /// `proof` has its clearances smaller by the slack of proofs.
    pub fn new(proof: Space<'a>, may: Vec<Vec<bool>>) -> Self {
        let (n, m) = (proof.classes.len(), proof.question.rack.len());
        let gap = rows::proof_gap(proof.limits());
        let supplies = (0..m).map(|s| rows::supply(&proof, s)).collect();
        let need = (0..n).map(|c| rows::need(&proof, c)).collect();
        let forms = (0..n).map(|c| boxes::form(&proof, c, gap)).collect();
        Self {
            proof,
            may,
            supplies,
            need,
            forms,
            gap,
            seats: BTreeMap::new(),
            ranges: BTreeMap::new(),
            impossible: Vec::new(),
            by_slab: vec![Vec::new(); m],
            open: vec![Vec::new(); m],
            tried: BTreeMap::new(),
        }
    }

    /// Area that a class needs, mm².
    pub fn need(&self, class: usize) -> f64 {
        self.need[class]
    }

    /// Area that a slab has, mm².
    pub fn area(&self, slab: usize) -> f64 {
        self.supplies[slab].area
    }

    /// True if the class may lie on the slab.
    pub fn may(&self, class: usize, slab: usize) -> bool {
        self.may[class][slab]
    }

    /// What is known, or can be found out with at most `limit` work, of a load on a slab.
    pub fn ask(&mut self, slab: usize, load: &[usize], limit: u64, work: &mut u64) -> Verdict {
        *work = work.saturating_sub(RECALLED);
        if self.by_slab[slab].iter().any(|&k| within(&self.impossible[k].load, load)) {
            return Verdict::Impossible;
        }
        if self.open[slab].iter().any(|o| within(load, o)) {
            return Verdict::Open;
        }
        let key = (slab, load.to_vec());
        if self.tried.get(&key).is_some_and(|&t| t >= limit) {
            return Verdict::Unknown;
        }
        match self.prove(slab, load, limit, work) {
            Ok(why) => {
                let (load, why) = self.reduced(slab, load, why, limit, work);
                self.by_slab[slab].push(self.impossible.len());
                self.impossible.push(Impossible { slab, load, why });
                Verdict::Impossible
            }
            Err(Outcome::Possible) => {
                self.open[slab].retain(|o| !within(o, load));
                self.open[slab].push(load.to_vec());
                Verdict::Open
            }
            Err(_) => {
                // Cut short by the caller's budget, it may be asked again.
                if *work > 0 {
                    self.tried.insert(key, limit);
                }
                Verdict::Unknown
            }
        }
    }

    /// Why the load cannot lie on the slab; or that this is not known, which is never a proof of the contrary.
    pub fn prove(&mut self, slab: usize, load: &[usize], limit: u64, work: &mut u64) -> Result<Why, Outcome> {
        *work = work.saturating_sub(WORKED_OUT);
        if let Some(&class) = load.iter().find(|&&c| !self.may[c][slab]) {
            return Ok(Why::Alone { class });
        }
        let needed: f64 = load.iter().map(|&c| self.need[c]).sum();
        let available = self.supplies[slab].area;
        if needed > available * (1.0 + 1e-9) {
            return Ok(Why::Area { needed, available });
        }
        if let Some(size) = self.supplies[slab].size {
            let sizes: Vec<&[Vec<[f64; 2]>]> = load
                .iter()
                .filter(|&&c| boxes::in_line(&self.proof, c, slab))
                .filter_map(|&c| self.forms[c].as_ref())
                .map(|f| f.sizes.as_slice())
                .collect();
            let sum = rows::growths(self.gap).iter().map(|&g| dual::largest_sum(&sizes, size, g)).fold(0.0, f64::max);
            if sum > 1.0 + 1e-9 {
                return Ok(Why::Lengths { needed: sum });
            }
        }
        let mut bodies: Load = load.iter().copied().filter(|&c| self.forms[c].is_some()).collect();
        bodies.sort_by(|&a, &b| self.need[b].total_cmp(&self.need[a]).then(a.cmp(&b)));
        bodies.truncate(BODIES);
        let mut items: Vec<Item> = Vec::with_capacity(bodies.len());
        for &class in &bodies {
            if !self.seats.contains_key(&(class, slab))
                && let Some(form) = &self.forms[class]
            {
                let seats = boxes::seats(&self.proof, form, class, slab);
                *work = work.saturating_sub(WORKED_OUT * (1 + seats.len() as u64 / 2));
                self.seats.insert((class, slab), seats.into_iter().map(Arc::new).collect());
            }
            let seats = self.seats.get(&(class, slab)).cloned().unwrap_or_default();
            items.push(Item { seats, kind: class });
        }
        let mut own = limit.min(*work);
        let given = own;
        let (proof, forms, ranges) = (&self.proof, &self.forms, &mut self.ranges);
        let mut within = |k: usize, range: (f64, f64), work: &mut u64| -> Option<Arc<Seat>> {
            let class = bodies[k];
            let key = (class, slab, range.0.to_bits(), range.1.to_bits());
            let seat = ranges.entry(key).or_insert_with(|| {
                *work = work.saturating_sub(WORKED_OUT / 2);
                let form = forms[class].as_ref();
                form.and_then(|f| boxes::seat_within(proof, f, class, slab, range)).map(Arc::new)
            });
            seat.clone()
        };
        let divide = limit > DIVIDE;
        let outcome = Question { items: &items, gap: self.gap, divide, work: &mut own, within: &mut within }.together();
        *work -= given - own;
        match outcome {
            Outcome::Impossible => Ok(Why::Order { bodies: bodies.len(), work: given - own }),
            // No argument here says more of it.
            Outcome::Possible | Outcome::Spent => Err(outcome),
        }
    }

    /// Leaves out pieces while the proof holds, smallest first.
    fn reduced(&mut self, slab: usize, load: &[usize], why: Why, limit: u64, work: &mut u64) -> (Load, Why) {
        let mut best = (load.to_vec(), why);
        let mut order: Vec<usize> = load.to_vec();
        order.dedup();
        order.sort_by(|&a, &b| self.need[a].total_cmp(&self.need[b]).then(a.cmp(&b)));
        for class in order {
            while let Some(at) = best.0.iter().position(|&c| c == class)
                && best.0.len() > 1
            {
                let mut fewer = best.0.clone();
                fewer.remove(at);
                if self.open[slab].iter().any(|o| within(&fewer, o)) {
                    break;
                }
                match self.prove(slab, &fewer, limit.min(3_000), work) {
                    Ok(why) => best = (fewer, why),
                    Err(_) => break,
                }
            }
        }
        best
    }
}
