//! What one task of a round does: from nothing, from the best plan, or from an earlier one, within its budget.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::rebuild::{Policy, Stop, complete, improve, recreate};
use super::space::Space;
use super::state::{Cut, Spot, State};
use super::{Budget, Watch};
use crate::geom::tol;
use crate::model::Goal;

/// The order in which a first plan opens slabs.
#[derive(Clone, Copy, Debug)]
pub enum Opening {
    /// Cheapest stone first.
    PricePerArea,
    /// Cheapest slab first.
    Price,
    /// Largest slab first.
    Area,
    /// By chance.
    Random,
}

/// The orders, by number.
pub const ORDERS: [Opening; 4] = [Opening::PricePerArea, Opening::Price, Opening::Area, Opening::Random];

/// One task of a round.
#[derive(Clone, Debug)]
pub enum Task {
    /// A plan from nothing; if `long`, by a random policy and with work on what it left over.
    Build { order: Opening, way: usize, long: bool },
    /// What the earlier plan does not place goes where it finds room; nothing moves.
    Insert { order: Opening, way: usize },
    /// What the earlier plan does not place onto the slabs of the best plan; what is in the way moves.
    Repair,
    /// Bodies back to where the earlier plan has them.
    Restore,
    /// All pieces onto these slabs.
    Try { set: usize },
    /// All pieces onto these slabs, for a plan that is another and not better.
    Other { set: usize },
    /// A plan with flaws kept farther away by so much (mm), on any slabs.
    Climb { wider: f64 },
    /// The best plan with flaws kept farther away by so much (mm), on the same slabs.
    Aside { wider: f64 },
    /// What the best plan left over, with all slabs at hand.
    Finish,
    /// Slabs of the best plan against cheaper ones.
    Trade,
    /// The same slabs (or fewer), laid out better.
    Improve,
}

impl Task {
    /// True if it takes less time than most.
    #[must_use]
    pub const fn is_short(&self) -> bool {
        matches!(self, Self::Improve)
    }
}

/// A set of slabs in play.
#[derive(Clone, Debug)]
pub struct Attempt {
    /// The slabs.
    pub slabs: Vec<usize>,
    /// Their price.
    pub cost: f64,
    /// How often it was tried.
    pub tries: u32,
    /// Least share of the pieces' area that was left over.
    pub missing: f64,
}

impl Attempt {
    /// Notes one more try, and the share of the pieces' area that it left over.
    pub fn note(&mut self, missing: f64) {
        self.missing = if self.tries == 0 { missing } else { self.missing.min(missing) };
        self.tries += 1;
    }
}

/// All that a task may look at.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'t, 'q> {
    /// The question.
    pub space: &'t Space<'q>,
    /// Nothing placed but what is pinned.
    pub bare: &'t State,
    /// The earlier plan as far as it holds; the same as `bare` without one.
    pub start: &'t State,
    /// The best so far.
    pub best: Option<&'t State>,
    /// Sets of slabs that may be better than those of the best.
    pub attempts: &'t [Attempt],
    /// Sets of slabs for other plans.
    pub others: &'t [Attempt],
    /// Slabs on which some piece may lie.
    pub slabs: &'t [usize],
}

/// Does a task.
pub fn run<W: Watch>(ground: &Ground<'_, '_>, task: &Task, rng: &mut ChaCha8Rng, watch: &W) -> State {
    let Ground { space, bare, start, slabs, .. } = *ground;
    // Questions for room that an ordinary task may ask: enough to lay everything a few times over.
    let unit = 200 + 20 * bare.missing.len() as u64;
    let best = ground.best.unwrap_or(start);
    let budget = |units: u64| Budget::new(watch, units * unit);
    match task {
        Task::Build { order, way, long } => {
            let policy = if *long { Policy::draw(rng) } else { Policy::plain(*way) };
            // A first plan is wanted whatever it takes: only the watch may end it.
            let state = build(space, bare, *order, &policy, slabs, rng, &Budget::new(watch, u64::MAX));
            if *long { finish_incomplete(space, state, slabs, rng, &budget(4)) } else { state }
        }
        Task::Insert { order, way } => {
            build(space, start, *order, &Policy::plain(*way), slabs, rng, &Budget::new(watch, u64::MAX))
        }
        Task::Repair => {
            let open: Vec<usize> = best.cuts.iter().map(|c| c.slab).collect();
            complete(space, limited_to(space, start, &open), rng, &budget(2))
        }
        Task::Restore => restore(space, best, rng, &budget(2)),
        Task::Try { set } => attempt(ground, &ground.attempts[*set], rng, watch, unit),
        Task::Other { set } => attempt(ground, &ground.others[*set], rng, watch, unit),
        Task::Climb { wider } => {
            let space = space.with_margin(*wider, Goal::Cost);
            let state = complete(&space, loosened(&space, best, *wider), rng, &budget(2));
            finish_incomplete(&space, state, slabs, rng, &budget(2))
        }
        Task::Aside { wider } => {
            let space = space.with_margin(*wider, Goal::Cost);
            complete(&space, loosened(&space, best, *wider), rng, &budget(2))
        }
        Task::Finish => finish_incomplete(space, best.clone(), slabs, rng, &budget(4)),
        Task::Trade => trade(space, best, slabs, rng, &budget(2)),
        Task::Improve => improve(space, best, rng, &budget(1)),
    }
}

/// All pieces onto a set of slabs. Where an earlier plan is to be kept, what it has there is where it starts.
fn attempt<W: Watch>(ground: &Ground<'_, '_>, set: &Attempt, rng: &mut ChaCha8Rng, watch: &W, unit: u64) -> State {
    let space = ground.space;
    let mut state = if space.past.counts_moves() {
        limited_to(space, ground.start, &set.slabs)
    } else if let Some(best) = ground.best.filter(|_| set.tries % 2 == 1) {
        // Every other time from what of the best plan lies on these slabs.
        limited_to(space, best, &set.slabs)
    } else {
        let cuts = set.slabs.iter().map(|&s| Cut::empty(s)).collect();
        State { cuts, missing: ground.bare.missing.clone() }
    };
    if rng.random_range(0..2) == 0 {
        state.cuts.reverse();
    }
    let budget = Budget::new(watch, unit << set.tries.min(3));
    let state = complete(space, state, rng, &budget);
    // A set that costs more is better only by what it leaves.
    if space.goal == Goal::Offcut && state.missing.is_empty() {
        return improve(space, &state, rng, &Budget::new(watch, unit));
    }
    state
}

/// The part of a state that lies on these slabs, all of which are at hand; what lies elsewhere is missing.
fn limited_to(space: &Space<'_>, state: &State, slabs: &[usize]) -> State {
    let mut out = State { cuts: Vec::new(), missing: state.missing.clone() };
    for &slab in slabs {
        let known = state.cuts.iter().find(|c| c.slab == slab);
        out.cuts.push(known.cloned().unwrap_or_else(|| Cut::empty(slab)));
    }
    for spot in state.cuts.iter().filter(|c| !slabs.contains(&c.slab)).flat_map(|c| &c.spots) {
        out.miss(spot.class);
    }
    out.open_pinned(space);
    out
}

/// The state without the bodies that lie nearer to a flaw than that margin (mm) allows.
fn loosened(space: &Space<'_>, state: &State, margin: f64) -> State {
    let mut out = state.clone();
    let mut off = Vec::new();
    for cut in &mut out.cuts {
        for i in (0..cut.spots.len()).rev() {
            let spot = cut.spots[i];
            if space.margin(&space.body(spot.class, spot.turn), spot.shift, cut.slab) < margin - tol::LENIENCE {
                off.push(cut.take(i).class);
            }
        }
    }
    for class in off {
        out.miss(class);
    }
    out
}

/// Opens slabs one after the other until everything is laid; first what is cut already is filled.
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
    if !state.cuts.is_empty() {
        recreate(space, &mut state, policy, None, rng, stop);
    }
    for (_, slab) in order {
        if state.missing.is_empty() || stop.stop() {
            break;
        }
        if state.cuts.iter().any(|c| c.slab == slab) {
            continue;
        }
        let mut one = State { cuts: vec![Cut::empty(slab)], missing: std::mem::take(&mut state.missing) };
        recreate(space, &mut one, policy, None, rng, stop);
        state.missing = one.missing;
        state.cuts.extend(one.cuts.into_iter().filter(|c| c.is_cut(space)));
    }
    state
}

/// Works on a plan that left pieces over: all slabs at hand, ruin and recreate.
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
        for spot in &cut.spots {
            state.miss(spot.class);
        }
        if space.past.is_open(cut.slab) {
            // Paid for in any case: only its pieces go.
            state.cuts.push(Cut::empty(cut.slab));
        } else {
            budget += rack[cut.slab].price;
        }
    }
    let mut others: Vec<usize> = slabs.iter().copied().filter(|&s| !best.cuts.iter().any(|c| c.slab == s)).collect();
    // A dearer slab may leave more than it costs.
    let mut left = if space.goal == Goal::Offcut { 2.0 * budget } else { budget - 0.01 };
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

/// Puts bodies back to where the earlier plan has them, and lays what lay there elsewhere, as long as that is better.
fn restore(space: &Space<'_>, best: &State, rng: &mut ChaCha8Rng, stop: &impl Stop) -> State {
    let mut top = best.clone();
    let mut top_score = top.score(space);
    while !stop.stop() {
        stop.step();
        let mut moved: Vec<(usize, Spot)> = space.past.moved(&top).collect();
        if moved.is_empty() {
            break;
        }
        let mut next = top.clone();
        for _ in 0..rng.random_range(1..=moved.len().min(3)) {
            let (slab, spot) = moved.swap_remove(rng.random_range(0..moved.len()));
            put_back(space, &mut next, slab, spot);
        }
        recreate(space, &mut next, &Policy::draw(rng), None, rng, stop);
        let score = next.score(space);
        if score.beats(&top_score, space.goal) {
            (top, top_score) = (next, score);
        }
    }
    top
}

/// A body of that class back onto its spot; what is in the way becomes missing.
fn put_back(space: &Space<'_>, state: &mut State, slab: usize, spot: Spot) {
    if let Ok(at) = state.missing.binary_search(&spot.class) {
        state.missing.remove(at);
    } else {
        let strayed = state.cuts.iter().enumerate().find_map(|(k, cut)| {
            let at = cut.spots.iter().position(|s| s.class == spot.class && !space.past.wishes(cut.slab, s))?;
            Some((k, at))
        });
        let Some((k, at)) = strayed else { return };
        state.cuts[k].take(at);
    }
    if !state.cuts.iter().any(|c| c.slab == slab) {
        state.cuts.push(Cut::empty(slab));
    }
    let body = space.body(spot.class, spot.turn);
    let mut off = Vec::new();
    for cut in state.cuts.iter_mut().filter(|c| c.slab == slab) {
        for i in (0..cut.spots.len()).rev() {
            let other = cut.spots[i];
            let there = space.body(other.class, other.turn);
            let clash = space.pair_spare(&body, spot.shift, &there, other.shift) < -tol::CLEARANCE;
            if clash && !space.past.wishes(slab, &other) {
                off.push(cut.take(i).class);
            }
        }
        cut.place(spot);
    }
    for class in off {
        state.miss(class);
    }
}
