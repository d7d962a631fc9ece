//! A lower bound on the cost of any plan that places everything, by arguments that err towards "possible".
//!
//! First, before any plan: a slab on which no piece of a group can lie does not help the group (`fit`); every set of slabs must
//! supply area, a slab for each of some pieces, and lengths side by side (`rows`); the cheapest set that does is found by
//! best-first branch and bound (`cover`). Then, beside the search: sets of slabs are refuted one by one in order of cost
//! (`prover`), by what cannot lie together on a slab (`shelf`, from `dual` and `order` on the rectangles of `boxes`). What was
//! proven stands in the log (`certificate`). Failure to find a proof is never taken for a proof of the contrary, nor failure to
//! find a plan for a proof.

mod boxes;
mod certificate;
mod cover;
mod dual;
mod fit;
mod order;
mod prover;
mod rows;
mod shelf;

use super::space::Space;
use crate::model::Question;
use rayon::prelude::*;

pub use certificate::{Certificate, Impossible, Refuted, Why};
pub use cover::cheap_sets;
pub use prover::Prover;
pub use rows::Demand;

/// Clearances are smaller by this in proofs, mm: more than two bodies have grown by simplification, and all rounding of
/// borders, together.
const PROOF_SLACK: f64 = 2.0 * crate::rules::SIMPLER + 0.3;

/// Work of the first branch and bound, in units of about 10 µs.
const WORK: u64 = 20_000;

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
    /// `twin[slab]`: the last slab before it that equals it.
    pub twin: Vec<Option<usize>>,
}

impl Bound {
    /// Before anything is proven: every class may lie on every slab of its stone, and a plan costs at least `cost`.
    #[must_use]
    pub fn none(space: &Space<'_>, cost: f64) -> Self {
        let (n, m) = (space.classes.len(), space.question.rack.len());
        let may = (0..n).map(|c| (0..m).map(|s| space.accepts(c, s)).collect()).collect();
        Self { cost, rule: "nothing is needed", may, demands: Vec::new(), twin: vec![None; m] }
    }

    /// False for a set of slabs (ascending) that takes one and leaves an equal one before it.
    #[must_use]
    pub fn takes_first(&self, slabs: &[usize]) -> bool {
        slabs.iter().all(|&s| self.twin[s].is_none_or(|t| slabs.contains(&t)))
    }

    /// The log as far as the first bound goes.
    #[must_use]
    pub fn certificate(&self, space: &Space<'_>) -> Certificate {
        let name = |c: usize| space.piece_of(c).name.clone();
        Certificate {
            paid: 0.0,
            cost: self.cost,
            rule: self.rule,
            classes: (0..space.classes.len()).map(|c| (name(c), space.classes[c].members.len())).collect(),
            may: self.may.clone(),
            twin: self.twin.clone(),
            demands: self.demands.clone(),
            impossible: Vec::new(),
            sets: Vec::new(),
        }
    }
}

/// Bounds a question. Classes that may lie nowhere are left out of account; the caller reports them.
#[must_use]
pub fn bound(space: &Space<'_>, question: &Question) -> Bound {
    let proof = Space::for_proofs(question, PROOF_SLACK);
    let (n, m) = (space.classes.len(), question.rack.len());
    let exact = n * m <= EXACT_PAIRS;
    let may: Vec<Vec<bool>> = (0..n)
        .into_par_iter()
        .map(|c| (0..m).map(|s| space.accepts(c, s) && fit::may_lie(&proof, c, s, exact)).collect())
        .collect();
    let supplies: Vec<rows::Supply> = (0..m).map(|s| rows::supply(&proof, s)).collect();
    let capacity: Vec<f64> = supplies.iter().map(|s| s.area).collect();
    let need: Vec<f64> = (0..n).map(|c| rows::need(space, c)).collect();
    let gap = rows::proof_gap(space.limits());
    let forms: Vec<Option<boxes::Form>> = (0..n).map(|c| boxes::form(space, c, gap)).collect();
    let mut demands = rows::area_demands(space, &may, &capacity, &need);
    demands.extend(rows::clique_demand(&proof, &may, &need, exact));
    let prices: Vec<f64> = question.rack.iter().map(|s| s.price).collect();
    demands.extend(rows::length_demands(space, &may, &supplies, &forms, &prices));
    let twin = twins(question);
    let (cost, rule) = cover::cheapest(&mut cover::Cover::new(&prices, &demands, &twin), WORK);
    Bound { cost, rule, may, demands, twin }
}

/// For each slab the last one before it that equals it in all that matters.
fn twins(question: &Question) -> Vec<Option<usize>> {
    let rack = &question.rack;
    (0..rack.len()).map(|s| (0..s).rev().find(|&t| rack[t].is_like(&rack[s]))).collect()
}
