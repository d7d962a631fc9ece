//! How wide a margin to flaws is asked for, step by step, where the margin counts first.

use super::TASKS;
use super::settle::ENOUGH;

/// Margins closer than this (mm) are not told apart by climbing.
const FINE: f64 = 0.2;

/// Climbs in a row at first; each narrows the range to an eighth or so.
const FIRST: u64 = 4;

/// After that one round in so many climbs, in case an earlier one failed by bad luck.
const EVERY: u64 = 4;

/// The range in which the widest margin lies.
#[derive(Clone, Copy, Debug)]
pub struct Ladder {
    /// No plan can have more, mm.
    most: f64,
    /// The least margin that was tried without success, mm.
    failed: Option<f64>,
    climbs: u64,
}

impl Ladder {
    /// Nothing is known yet but the margin (mm) of what cannot move.
    #[must_use]
    pub fn new(fixed: f64) -> Self {
        Self { most: fixed.min(ENOUGH), failed: None, climbs: 0 }
    }

    /// The margins to ask for in this round, from the margin that the best plan has (mm); `None` if the round is for other work.
    #[must_use]
    pub fn steps(&self, reached: f64, round: u64) -> Option<[f64; TASKS]> {
        let top = self.failed.unwrap_or(self.most);
        let mut steps = [0.0; TASKS];
        if self.climbs < FIRST && top - reached > FINE {
            // The upper end itself is worth a try as long as nothing has failed.
            let parts = if self.failed.is_some() { TASKS + 1 } else { TASKS };
            for (k, step) in steps.iter_mut().enumerate() {
                *step = reached + (top - reached) * (k + 1) as f64 / parts as f64;
            }
            return Some(steps);
        }
        if !round.is_multiple_of(EVERY) || self.most - reached <= FINE {
            return None;
        }
        for (k, step) in steps.iter_mut().enumerate() {
            *step = (reached + 0.25 * (1u32 << k) as f64).min(self.most);
        }
        Some(steps)
    }

    /// Notes that a round of climbing is over: the margins that failed, and the margin that the best plan has now.
    pub fn note(&mut self, failed: impl IntoIterator<Item = f64>, reached: f64) {
        self.climbs += 1;
        let above = failed.into_iter().chain(self.failed).filter(|&f| f > reached);
        self.failed = above.reduce(f64::min);
    }

    /// True if nothing wider is looked for.
    #[must_use]
    pub fn is_done(&self, reached: f64) -> bool {
        self.most - reached <= FINE || self.climbs >= FIRST + 2
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Climbs against a known widest margin.
    fn climbed(widest: f64) -> f64 {
        let mut ladder = Ladder::new(f64::INFINITY);
        let mut reached = 0.0f64;
        for round in 1..9 {
            let Some(steps) = ladder.steps(reached, round) else { continue };
            let best = steps.into_iter().filter(|&s| s <= widest).fold(reached, f64::max);
            ladder.note(steps.into_iter().filter(|&s| s > widest), best);
            reached = best;
        }
        reached
    }

    #[test]
    fn comes_near_any_margin() {
        for widest in [0.0, 0.3, 7.0, 63.2, 199.0, 200.0] {
            let reached = climbed(widest);
            assert!(reached <= widest && reached >= widest - 0.5, "{widest}: {reached}");
        }
        assert_eq!(climbed(500.0), ENOUGH);
    }

    #[test]
    fn asks_for_no_more_than_what_cannot_move_allows() {
        let ladder = Ladder::new(12.0);
        for round in 0..9 {
            assert!(ladder.steps(3.0, round).into_iter().flatten().all(|s| s <= 12.0));
        }
        assert_eq!(ladder.steps(12.0, 0), None);
        assert!(ladder.is_done(12.0));
    }
}
