//! Which slabs, and where each piece lies on each of them.
//!
//! In comes a [`Question`]; out comes a [`Plan`] without findings, for the judge to examine. The search knows nothing of
//! files, clocks or the number of threads: it works in rounds of a fixed number of tasks, each with a random stream of its
//! own, and merges their results in task order. So the same seed and number of rounds give the same plan for any number of
//! threads, and a stop only cuts the sequence of rounds short.

mod answer;
mod archive;
mod bound;
mod cache;
mod exact;
mod field;
mod ladder;
mod legal;
mod lp;
mod offcuts;
mod oracle;
mod past;
mod pool;
mod proof;
mod reasons;
mod rebuild;
mod rounds;
mod separate;
mod settle;
mod shapes;
mod space;
mod state;
mod straight;
pub mod strip;
mod swing;
mod tasks;

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::sync::Arc;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::geom::{Region, tol};
use crate::model::{Goal, Plan, Question};
use proof::Proof;
use rebuild::{RoomKey, Stop};
use rounds::Rounds;
use space::Space;

pub use bound::{Certificate, Demand, Impossible, Refuted, Why};
pub use state::Score;

/// Tasks in a round. Part of the question, not of the machine: never the number of threads.
const TASKS: usize = 8;

/// What the search is to do. By default: seed 0, no limit but the watch, the least cost first, no alternatives, no earlier plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// Seed of all random streams.
    pub seed: u64,
    /// Rounds of work at most; `None`: until [`Watch::stop`] says so.
    pub rounds: Option<u64>,
    /// What counts first once every piece has a place.
    pub goal: Goal,
    /// Other complete plans that are wanted beside the best, at most.
    pub alternatives: usize,
    /// An earlier plan to go on from. Placements that are pinned stay exactly where they are, whatever they break: let the
    /// judge look at them first. Names that the question does not have are passed over.
    pub from: Option<Plan>,
}

/// What the search found.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The best plan, without findings.
    pub plan: Plan,
    /// Other complete plans, cheapest first, each of which differs from the best and from those before it in a way that a person
    /// cares about: other slabs, a clearly better offcut, or a clearly wider margin.
    pub alternatives: Vec<Plan>,
    /// Why no plan can cost less than the bound.
    pub certificate: Certificate,
}

/// What the search tells while it runs.
#[derive(Clone, Copy, Debug)]
pub struct Progress {
    /// Rounds done.
    pub round: u64,
    /// The best so far.
    pub best: Score,
    /// Pieces without a place in it.
    pub missing: usize,
    /// Lower bound on the cost.
    pub bound: f64,
}

/// The world outside, as far as the search may know it.
pub trait Watch: Sync {
    /// True if the search should end now.
    fn stop(&self) -> bool;
    /// Called after every round; never read by the search.
    fn tell(&self, progress: &Progress);
}

/// Nobody watches and nothing stops.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn stop(&self) -> bool {
        false
    }
    fn tell(&self, _: &Progress) {}
}

/// Work for a question for room that is answered from memory, and for one that is worked out: about as the times.
const RECALLED: u64 = 1;
const WORKED_OUT: u64 = 8;

/// Work for valuing one layout.
const STEP: u64 = 60;

/// Places evaluated by the separation that take about as long as one unit of work.
const EVALUATIONS: u64 = 100;

/// Answers that a task remembers at most.
const REMEMBERED: usize = 4_000;

/// The budget of one task; the task ends when it is spent or the watch says so. Remembers answers on the way: after a step
/// that is taken back, most of the slabs are as they were.
struct Budget<'w, W: Watch> {
    watch: &'w W,
    left: Cell<u64>,
    rooms: RefCell<HashMap<RoomKey, Arc<Region>>>,
}

impl<'w, W: Watch> Budget<'w, W> {
    fn new(watch: &'w W, questions: u64) -> Self {
        Self { watch, left: Cell::new(questions.saturating_mul(WORKED_OUT)), rooms: RefCell::default() }
    }
}

impl<W: Watch> Stop for Budget<'_, W> {
    fn stop(&self) -> bool {
        self.left.get() == 0 || self.watch.stop()
    }

    fn step(&self) {
        self.left.set(self.left.get().saturating_sub(STEP));
    }

    fn evaluated(&self, places: u64) {
        self.left.set(self.left.get().saturating_sub(places / EVALUATIONS));
    }

    fn room(&self, key: RoomKey, work_out: impl FnOnce() -> Region) -> Arc<Region> {
        let lasting = key.1 != 0;
        let known = if lasting { self.rooms.borrow().get(&key).cloned() } else { None };
        let cost = if known.is_some() { RECALLED } else { WORKED_OUT };
        self.left.set(self.left.get().saturating_sub(cost));
        known.unwrap_or_else(|| {
            let room = Arc::new(work_out());
            if lasting {
                let mut rooms = self.rooms.borrow_mut();
                if rooms.len() >= REMEMBERED {
                    rooms.clear();
                }
                rooms.insert(key, Arc::clone(&room));
            }
            room
        })
    }
}

/// Searches for a plan. The result is complete, or names what has no place and why.
pub fn solve<W: Watch>(question: &Question, settings: &Settings, watch: &W) -> Answer {
    let mut space = Space::new(question, tol::LENIENCE);
    space.goal = settings.goal;
    if let Some(plan) = &settings.from {
        space.past = Arc::new(past::read(&space, plan));
    }
    let (rest, paid) = unpaid(&space);
    let ground = rest.as_ref().map(|question| Space::new(question, tol::LENIENCE));
    let proof = Proof::new(ground.as_ref().unwrap_or(&space), paid);
    let mut rounds = Rounds::new(&space, proof, settings, watch);
    rounds.run();
    rounds.answer()
}

/// The question with the slabs of pinned pieces at no price, and their price: they are paid for in any case. No question if there
/// are none.
fn unpaid(space: &Space<'_>) -> (Option<Question>, f64) {
    let mut paid = 0.0;
    let mut rest = None;
    for slab in space.past.open_slabs() {
        let question = rest.get_or_insert_with(|| space.question.clone());
        paid += std::mem::take(&mut question.rack[slab].price);
    }
    (rest, paid)
}

/// A random stream for one task. Named generator, so that its values never change with a library's default.
fn stream(seed: u64, round: u64, task: usize) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    // The tasks beside the usual ones have streams of their own, far from the others.
    let (lane, task) = if task < TASKS { (0, task) } else { (1 << 62, task - TASKS) };
    rng.set_stream(lane + round * TASKS as u64 + task as u64);
    rng
}

/// Classes that have no place on any slab at any turn tried, nor in the earlier plan (which may have been made at other
/// turns); none where the watch says to stop before that is known.
fn hopeless<W: Watch>(space: &Space<'_>, watch: &W) -> Vec<bool> {
    (0..space.classes.len())
        .into_par_iter()
        .map(|c| {
            !(0..space.question.rack.len()).any(|s| {
                watch.stop()
                    || space.past.has_place_for(c)
                    || space.accepts(c, s) && space.turns(c, s).iter().any(|&t| !space.free(c, t, s).is_empty())
            })
        })
        .collect()
}
