//! Complete plans that were met on the way, and the choice of those that a person would want to see beside the best.

use super::settle::ENOUGH;
use super::space::Space;
use super::state::{Score, State};
use crate::model::{Goal, Plan, Question};

/// Sets of slabs that are remembered at most. More: nobody asks for so many alternatives.
const SETS: usize = 40;

/// An offcut is clearly better if it is worth this much more, as a share ...
const WORTH_MORE: f64 = 0.05;

/// ... and a margin to flaws is clearly wider by this, mm.
const WIDER: f64 = 5.0;

/// Slabs that can stand for one another: for each, the first on the rack that is like it in outline, price, flaws, stone and
/// grain.
#[must_use]
pub fn kinds(question: &Question) -> Vec<usize> {
    let rack = &question.rack;
    let mut out: Vec<usize> = Vec::with_capacity(rack.len());
    for s in 0..rack.len() {
        let first = (0..s).find(|&t| out[t] == t && rack[s].is_like(&rack[t]));
        out.push(first.unwrap_or(s));
    }
    out
}

/// The kinds of some slabs, ascending.
#[must_use]
pub fn kinds_of(kinds: &[usize], slabs: impl IntoIterator<Item = usize>) -> Vec<usize> {
    let mut out: Vec<usize> = slabs.into_iter().map(|s| kinds[s]).collect();
    out.sort_unstable();
    out
}

/// True if all of `part` is in `whole`, and more; both ascending.
#[must_use]
pub fn is_more_than(whole: &[usize], part: &[usize]) -> bool {
    let mut at = 0;
    for k in part {
        match whole[at..].iter().position(|w| w == k) {
            Some(step) => at += step + 1,
            None => return false,
        }
    }
    whole.len() > part.len()
}

/// The plans of one set of slabs: the best, the one that leaves most, the one with the widest margin.
#[derive(Clone, Debug)]
struct Entry {
    kinds: Vec<usize>,
    states: [(State, Score); 3],
}

/// What is remembered.
#[derive(Clone, Debug)]
pub struct Archive {
    kinds: Vec<usize>,
    entries: Vec<Entry>,
}

impl Archive {
    /// Nothing yet.
    #[must_use]
    pub fn new(question: &Question) -> Self {
        Self { kinds: kinds(question), entries: Vec::new() }
    }

    /// The kinds of the slabs that a state cuts.
    #[must_use]
    pub fn kinds_of(&self, space: &Space<'_>, state: &State) -> Vec<usize> {
        kinds_of(&self.kinds, state.cuts.iter().filter(|c| c.is_cut(space)).map(|c| c.slab))
    }

    /// True if a plan on slabs of these kinds is remembered.
    #[must_use]
    pub fn knows(&self, slabs: &[usize]) -> bool {
        let wanted = kinds_of(&self.kinds, slabs.iter().copied());
        self.entries.iter().any(|e| e.kinds == wanted)
    }

    /// The kinds of the slabs.
    #[must_use]
    pub fn kinds(&self) -> &[usize] {
        &self.kinds
    }

    /// Remembers a complete state if it is the first on its slabs or better than the others there in some way; true if
    /// it is the first.
    pub fn offer(&mut self, space: &Space<'_>, state: &State, score: Score) -> bool {
        let kinds = self.kinds_of(space, state);
        if let Some(entry) = self.entries.iter_mut().find(|e| e.kinds == kinds) {
            let better = [
                score.beats(&entry.states[0].1, space.goal),
                score.worth > entry.states[1].1.worth + 0.005,
                score.margin > entry.states[2].1.margin + 0.05,
            ];
            for (slot, _) in entry.states.iter_mut().zip(better).filter(|s| s.1) {
                *slot = (state.clone(), score);
            }
            return false;
        }
        let one = (state.clone(), score);
        self.entries.push(Entry { kinds, states: [one.clone(), one.clone(), one] });
        if self.entries.len() > SETS {
            // The dearest goes; of equal ones the latest.
            let mut worst = 0;
            for k in 1..self.entries.len() {
                if !self.entries[k].states[0].1.beats(&self.entries[worst].states[0].1, Goal::Cost) {
                    worst = k;
                }
            }
            self.entries.remove(worst);
        }
        true
    }

    /// What is remembered that seems to differ from the best plan (which has that margin once it is settled, mm) and from what
    /// comes before it: cheapest first, at most so many. Settling may still change the figures.
    #[must_use]
    pub fn ranked(&self, space: &Space<'_>, best: &State, margin: f64, most: usize) -> Vec<State> {
        let mut all: Vec<&(State, Score)> = Vec::new();
        for one in self.entries.iter().flat_map(|e| &e.states) {
            if !all.iter().any(|a| a.0 == one.0) {
                all.push(one);
            }
        }
        // Comparing within tolerances is no order to sort by: the best of what is left is taken one by one.
        let figures = |state: &State, margin: f64| {
            let mut state = state.clone();
            Figures {
                kinds: self.kinds_of(space, &state),
                worth: state.cuts.iter_mut().map(|c| c.worth(space)).sum(),
                offcuts: state.cuts.iter_mut().filter_map(|c| c.rest(space)).count(),
                margin,
            }
        };
        let mut chosen = vec![figures(best, margin)];
        let mut out = Vec::new();
        while !all.is_empty() && out.len() < most {
            let mut best = 0;
            for k in 1..all.len() {
                if all[k].1.beats(&all[best].1, Goal::Cost) {
                    best = k;
                }
            }
            let (state, score) = all.remove(best);
            let figures = figures(state, score.margin);
            if chosen.iter().all(|c| figures.differs(c)) {
                chosen.push(figures);
                out.push(state.clone());
            }
        }
        out
    }
}

/// What a person compares plans by.
#[derive(Clone, Debug)]
struct Figures {
    kinds: Vec<usize>,
    worth: f64,
    offcuts: usize,
    margin: f64,
}

impl Figures {
    fn of(question: &Question, kinds: &[usize], plan: &Plan) -> Self {
        let slab = |name: &str| question.rack.iter().position(|s| s.name == name);
        let slabs = plan.layouts.iter().filter_map(|l| slab(&l.slab));
        Self {
            kinds: kinds_of(kinds, slabs),
            worth: plan.offcut_worth.unwrap_or(0.0),
            offcuts: plan.layouts.iter().map(|l| l.offcuts.len()).sum(),
            margin: plan.flaw_margin.unwrap_or(ENOUGH).min(ENOUGH),
        }
    }

    /// True if it leaves clearly more, or keeps clearly farther from flaws.
    fn is_clearly_better(&self, other: &Self) -> bool {
        (self.worth > 0.0 && self.worth >= other.worth * (1.0 + WORTH_MORE))
            || self.offcuts > other.offcuts
            || self.margin >= other.margin + WIDER
    }

    /// True if a person cares about the difference to `other`, which is chosen already.
    fn differs(&self, other: &Self) -> bool {
        let same_or_more = self.kinds == other.kinds || is_more_than(&self.kinds, &other.kinds);
        !same_or_more || self.is_clearly_better(other)
    }
}

/// Of the candidates (best first), up to `most` that differ from the best plan and from one another.
#[must_use]
pub fn choose(question: &Question, kinds: &[usize], best: &Plan, candidates: Vec<Plan>, most: usize) -> Vec<Plan> {
    let mut chosen = vec![Figures::of(question, kinds, best)];
    let mut out = Vec::new();
    for plan in candidates {
        if out.len() >= most {
            break;
        }
        let figures = Figures::of(question, kinds, &plan);
        if plan.unplaced.is_empty() && chosen.iter().all(|c| figures.differs(c)) {
            chosen.push(figures);
            out.push(plan);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_of_the_same_is_told_from_another() {
        assert!(is_more_than(&[0, 0, 2], &[0, 2]));
        assert!(is_more_than(&[0], &[]));
        assert!(!is_more_than(&[0, 2], &[0, 2]));
        assert!(!is_more_than(&[0, 2, 3], &[0, 0]));
        assert!(!is_more_than(&[0, 3], &[2]));
    }

    #[test]
    fn plans_on_the_same_slabs_differ_by_what_they_leave_and_by_margin() {
        let of = |kinds: &[usize], worth: f64, offcuts: usize, margin: f64| Figures {
            kinds: kinds.to_vec(),
            worth,
            offcuts,
            margin,
        };
        let best = of(&[0, 1], 100.0, 1, 10.0);
        assert!(!of(&[0, 1], 104.0, 1, 14.0).differs(&best));
        assert!(of(&[0, 1], 105.0, 1, 0.0).differs(&best));
        assert!(of(&[0, 1], 0.0, 2, 0.0).differs(&best));
        assert!(of(&[0, 1], 0.0, 0, 15.0).differs(&best));
        assert!(of(&[0, 2], 0.0, 0, 0.0).differs(&best));
        // One slab more and nothing better.
        assert!(!of(&[0, 1, 2], 90.0, 1, 0.0).differs(&best));
        assert!(of(&[0, 1, 2], 190.0, 1, 0.0).differs(&best));
    }
}
