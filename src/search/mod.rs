//! Which slabs, and where each piece lies on each of them.
//!
//! In comes a [`Question`]; out comes a [`Plan`] without findings, for the judge to examine. The search knows nothing of
//! files, clocks or the number of threads: it works in rounds of a fixed number of tasks, each with a random stream of its
//! own, and merges their results in task order. So the same seed and number of rounds give the same plan for any number of
//! threads, and a stop only cuts the sequence of rounds short.

mod answer;
mod bound;
mod field;
mod oracle;
mod reasons;
mod rebuild;
mod separate;
mod settle;
mod shapes;
mod space;
mod state;
pub mod strip;

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::sync::Arc;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::geom::{Region, tol};
use crate::model::{Plan, Question};
use rebuild::{Policy, RoomKey, Stop, complete, improve, recreate};
use space::Space;
use state::{Cut, State};

pub use bound::{Certificate, Demand, Impossible, Refuted, Why};
pub use state::Score;

/// Tasks in a round. Part of the question, not of the machine: never the number of threads.
const TASKS: usize = 8;

/// Sets of slabs that are in play at a time.
const SETS: usize = 300;

/// Where fewer are left, because others were refuted, they are listed anew.
const FEW: usize = 40;

/// Steps of the enumeration of sets.
const SET_STEPS: usize = 40_000;

/// Work on the bound in a round, beside its tasks, in units of about 10 µs.
const PROOF: u64 = 20_000;

/// Once the cost is proven, the search ends after this many rounds without a better offcut.
const PATIENCE: u64 = 6;

/// What the search is to do. By default: seed 0, and no limit but the watch.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    /// Seed of all random streams.
    pub seed: u64,
    /// Rounds of work at most; `None`: until [`Watch::stop`] says so.
    pub rounds: Option<u64>,
}

/// What the search found.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The best plan, without findings.
    pub plan: Plan,
    /// Why no plan can cost less than its bound.
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

/// The order in which a first plan opens slabs.
#[derive(Clone, Copy, Debug)]
enum Opening {
    /// Cheapest stone first.
    PricePerArea,
    /// Cheapest slab first.
    Price,
    /// Largest slab first.
    Area,
    /// By chance.
    Random,
}

/// One task of a round.
#[derive(Clone, Debug)]
enum Task {
    /// A plan from nothing; if `long`, by a random policy and with work on what it left over.
    Build { order: Opening, way: usize, long: bool },
    /// All pieces onto these slabs.
    Try { set: usize },
    /// What the best plan left over, with all slabs at hand.
    Finish,
    /// Slabs of the best plan against cheaper ones.
    Trade,
    /// The same slabs (or fewer), laid out better.
    Improve,
}

/// A set of slabs in play.
#[derive(Clone, Debug)]
struct Attempt {
    slabs: Vec<usize>,
    cost: f64,
    tries: u32,
    /// Least share of the pieces' area that was left over.
    missing: f64,
}

/// Searches for a plan. The result is complete, or names what has no place and why.
pub fn solve<W: Watch>(question: &Question, settings: &Settings, watch: &W) -> Answer {
    let space = Space::new(question, tol::LENIENCE);
    let space = &space;
    let mut bound = bound::bound(space, question);
    let mut prover: Option<bound::Prover<'_>> = None;
    let slabs: Vec<usize> =
        (0..question.rack.len()).filter(|&s| (0..space.classes.len()).any(|c| bound.may[c][s])).collect();
    let mut start = State::empty(space, &[]);
    let hopeless = hopeless(space);
    let lost: Vec<usize> = start.missing.iter().copied().filter(|&c| hopeless[c]).collect();
    start.missing.retain(|&c| !hopeless[c]);
    let total: f64 = start.missing_area(space).max(1.0);
    let prices: Vec<f64> = question.rack.iter().map(|s| s.price).collect();

    let mut best: Option<(State, Score)> = None;
    let mut attempts: Vec<Attempt> = Vec::new();
    let mut attempts_below = f64::NAN;
    // Sets refuted since they were listed.
    let mut refuted = 0;
    let mut since_better = 0;
    let mut round = 0;
    let mut first_cut_short = false;
    while settings.rounds.is_none_or(|r| round < r.max(1)) {
        if let Some((state, score)) = &best
            && state.missing.is_empty()
            && (score.cost.to_bits() != attempts_below.to_bits() || (attempts.len() < FEW && refuted > 0))
        {
            // A cheaper plan: only sets cheaper still are of interest.
            attempts_below = score.cost;
            let known = std::mem::take(&mut attempts);
            refuted = 0;
            let wanted = |set: &[usize]| bound.takes_first(set) && !prover.as_ref().is_some_and(|p| p.refutes(set));
            let sets = bound::cheap_sets(&prices, &slabs, &bound.demands, score.cost, (SETS, SET_STEPS), wanted);
            attempts = sets
                .into_iter()
                .map(|slabs| {
                    let old = known.iter().find(|a| a.slabs == slabs);
                    let cost = slabs.iter().map(|&s| prices[s]).sum();
                    Attempt { cost, tries: old.map_or(0, |o| o.tries), missing: old.map_or(0.0, |o| o.missing), slabs }
                })
                .collect();
        }
        let proven = best.as_ref().is_some_and(|(s, score)| s.missing.is_empty() && score.cost <= bound.cost + 0.005);
        if proven && since_better >= PATIENCE {
            break;
        }
        if let Some(prover) = &prover {
            let before = attempts.len();
            attempts.retain(|a| !prover.refutes(&a.slabs));
            refuted += before - attempts.len();
        }
        let complete = best.as_ref().filter(|b| b.0.missing.is_empty() && lost.is_empty() && !proven);
        let below = complete.map(|b| b.1.cost);
        if below.is_some() && prover.is_none() {
            prover = Some(bound::Prover::new(space, &bound));
        }
        let tasks = tasks(best.as_ref().map(|b| &b.0), proven, &attempts);
        let lay = || -> Vec<State> {
            tasks
                .par_iter()
                .enumerate()
                .map(|(k, task)| {
                    let mut rng = stream(settings.seed, round, k);
                    run(space, task, &start, best.as_ref().map(|b| &b.0), &attempts, &slabs, &mut rng, watch)
                })
                .collect()
        };
        let prove = || {
            if let (Some(prover), Some(below)) = (&mut prover, below) {
                prover.work(PROOF, below, &|| watch.stop());
            }
        };
        let ((), results) = rayon::join(prove, lay);
        // A round that was cut short would not repeat: it counts only if there is nothing else.
        if watch.stop() {
            first_cut_short = best.is_none();
        }
        if watch.stop() && best.is_some() {
            break;
        }
        if let Some(prover) = &mut prover {
            (bound.cost, bound.rule) = prover.settle();
        }
        let mut better = false;
        for (task, mut state) in tasks.iter().zip(results) {
            if let Task::Try { set, .. } = task {
                let a = &mut attempts[*set];
                let missing = state.missing_area(space) / total;
                a.missing = if a.tries == 0 { missing } else { a.missing.min(missing) };
                a.tries += 1;
            }
            let score = state.score(space);
            if best.as_ref().is_none_or(|b| score.beats(&b.1)) {
                state.tidy();
                best = Some((state, score));
                better = true;
            }
        }
        since_better = if better { 0 } else { since_better + 1 };
        round += 1;
        if let Some((state, score)) = &best {
            let missing = state.missing.len() + lost.len();
            watch.tell(&Progress { round, best: *score, missing, bound: bound.cost });
        }
        if watch.stop() || start.missing.is_empty() {
            break;
        }
    }
    let mut state = best.map_or(start, |b| b.0);
    state.cuts.par_iter_mut().for_each(|cut| settle::settle(space, cut));
    for class in lost {
        state.miss(class);
    }
    // A first round that was cut short does not repeat.
    let effort = (!first_cut_short).then_some(round);
    let certificate = prover.map_or_else(|| bound.certificate(space), |p| p.certificate(space, &bound));
    Answer { plan: answer::plan(space, &bound, state, settings.seed, effort), certificate }
}

/// A random stream for one task. Named generator, so that its values never change with a library's default.
fn stream(seed: u64, round: u64, task: usize) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(round * TASKS as u64 + task as u64);
    rng
}

/// Classes that have no place on any slab at any turn tried.
fn hopeless(space: &Space<'_>) -> Vec<bool> {
    (0..space.classes.len())
        .into_par_iter()
        .map(|c| {
            !(0..space.question.rack.len())
                .any(|s| space.accepts(c, s) && space.turns(c, s).iter().any(|&t| !space.free(c, t, s).is_empty()))
        })
        .collect()
}

/// The tasks of a round.
fn tasks(best: Option<&State>, proven: bool, attempts: &[Attempt]) -> Vec<Task> {
    let orders = [Opening::PricePerArea, Opening::Price, Opening::Area, Opening::Random];
    let Some(best) = best else {
        return (0..TASKS).map(|k| Task::Build { order: orders[k % 4], way: k % 8, long: false }).collect();
    };
    if !best.missing.is_empty() {
        return (0..TASKS)
            .map(|way| if way < 4 { Task::Build { order: Opening::Random, way, long: true } } else { Task::Finish })
            .collect();
    }
    if proven {
        return vec![Task::Improve; TASKS];
    }
    // Sets that were tried least and came nearest go first; each further try works longer.
    let mut order: Vec<usize> = (0..attempts.len()).collect();
    let urge = |a: &Attempt| f64::from(a.tries) + 12.0 * a.missing;
    order.sort_by(|&a, &b| {
        urge(&attempts[a])
            .total_cmp(&urge(&attempts[b]))
            .then(attempts[a].cost.total_cmp(&attempts[b].cost))
            .then(a.cmp(&b))
    });
    let mut out: Vec<Task> = order.iter().take(TASKS - 3).map(|&set| Task::Try { set }).collect();
    out.push(Task::Trade);
    while out.len() < TASKS {
        out.push(if out.len() % 4 == 3 { Task::Trade } else { Task::Improve });
    }
    out
}

#[expect(clippy::too_many_arguments, reason = "all that a task may look at, spelled out")]
fn run<W: Watch>(
    space: &Space<'_>,
    task: &Task,
    start: &State,
    best: Option<&State>,
    attempts: &[Attempt],
    slabs: &[usize],
    rng: &mut ChaCha8Rng,
    watch: &W,
) -> State {
    // Questions for room that an ordinary task may ask: enough to lay everything a few times over.
    let unit = 200 + 20 * start.missing.len() as u64;
    match (task, best) {
        (Task::Build { order, way, long }, _) => {
            let policy = if *long { Policy::draw(rng) } else { Policy::plain(*way) };
            // A first plan is wanted whatever it takes: only the watch may end it.
            let state = build(space, start, *order, &policy, slabs, rng, &Budget::new(watch, u64::MAX));
            if *long { finish_incomplete(space, state, slabs, rng, &Budget::new(watch, 4 * unit)) } else { state }
        }
        (Task::Try { set }, _) => {
            let mut state = start.clone();
            let mut order = attempts[*set].slabs.clone();
            if rng.random_range(0..2) == 0 {
                order.reverse();
            }
            state.cuts = order.into_iter().map(Cut::empty).collect();
            complete(space, state, rng, &Budget::new(watch, unit << attempts[*set].tries.min(3)))
        }
        (Task::Finish, Some(best)) => finish_incomplete(space, best.clone(), slabs, rng, &Budget::new(watch, 4 * unit)),
        (Task::Trade, Some(best)) => trade(space, best, slabs, rng, &Budget::new(watch, 2 * unit)),
        (_, Some(best)) => improve(space, best, rng, &Budget::new(watch, unit)),
        (_, None) => start.clone(),
    }
}

/// Opens slabs one after the other until everything is laid.
fn build(
    space: &Space<'_>,
    start: &State,
    order: Opening,
    policy: &Policy,
    slabs: &[usize],
    rng: &mut ChaCha8Rng,
    stop: &impl Stop,
) -> State {
    let rack = &space.question.rack;
    let area = |s: usize| rack[s].outline.area();
    let mut order: Vec<(f64, usize)> = slabs
        .iter()
        .map(|&s| {
            let key = match order {
                Opening::PricePerArea => rack[s].price_per_mm2(),
                Opening::Price => rack[s].price,
                Opening::Area => -area(s),
                Opening::Random => rng.random::<f64>(),
            };
            (key, s)
        })
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut state = start.clone();
    for (_, slab) in order {
        if state.missing.is_empty() || stop.stop() {
            break;
        }
        let mut one = State { cuts: vec![Cut::empty(slab)], missing: std::mem::take(&mut state.missing) };
        recreate(space, &mut one, policy, None, rng, stop);
        state.missing = one.missing;
        state.cuts.extend(one.cuts.into_iter().filter(|c| !c.spots.is_empty()));
    }
    state
}

/// Works on a plan from nothing that left pieces over: all slabs at hand, ruin and recreate.
fn finish_incomplete(
    space: &Space<'_>,
    mut state: State,
    slabs: &[usize],
    rng: &mut ChaCha8Rng,
    stop: &impl Stop,
) -> State {
    if state.missing.is_empty() {
        return state;
    }
    for &s in slabs {
        if !state.cuts.iter().any(|c| c.slab == s) {
            state.cuts.push(Cut::empty(s));
        }
    }
    complete(space, state, rng, stop)
}

/// Takes one or two slabs out of the best plan and lays their pieces on the others and on cheaper ones.
fn trade(space: &Space<'_>, best: &State, slabs: &[usize], rng: &mut ChaCha8Rng, stop: &impl Stop) -> State {
    let mut state = best.clone();
    let rack = &space.question.rack;
    let mut budget = 0.0;
    for _ in 0..rng.random_range(1..=2) {
        if state.cuts.is_empty() {
            break;
        }
        let i = rng.random_range(0..state.cuts.len());
        let cut = state.cuts.remove(i);
        budget += rack[cut.slab].price;
        for spot in &cut.spots {
            state.miss(spot.class);
        }
    }
    let mut others: Vec<usize> = slabs.iter().copied().filter(|&s| !best.cuts.iter().any(|c| c.slab == s)).collect();
    let mut left = budget - 0.01;
    let mut tries = rng.random_range(0..=3);
    while tries > 0 && !others.is_empty() {
        let s = others.swap_remove(rng.random_range(0..others.len()));
        if rack[s].price <= left {
            left -= rack[s].price;
            state.cuts.push(Cut::empty(s));
            tries -= 1;
        }
    }
    complete(space, state, rng, stop)
}
