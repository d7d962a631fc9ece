//! The course of the search: which tasks a round has, and what becomes of their results.

use rayon::prelude::*;

use super::archive::{self, Archive};
use super::bound;
use super::ladder::Ladder;
use super::pool::Pool;
use super::proof::Proof;
use super::settle::{self, ENOUGH};
use super::space::Space;
use super::state::{Score, State};
use super::tasks::{Attempt, Ground, ORDERS, Opening, Task, run};
use super::{Answer, Progress, Settings, TASKS, Watch, answer, hopeless, stream};
use crate::model::{Goal, Plan};

/// Tasks in the first round.
const FIRST: usize = 2;

/// Steps of putting known layouts together, a round.
const COVER_STEPS: u32 = 20_000;

/// Sets of slabs that are in play at a time.
const SETS: usize = 300;

/// Where fewer are left, because others were refuted, they are listed anew.
const FEW: usize = 40;

/// Work on the bound in a round, beside its tasks, in units of about 10 µs.
const PROOF: u64 = 20_000;

/// Steps of the enumeration of sets.
const SET_STEPS: usize = 40_000;

/// Once the cost is proven, the search ends after this many rounds that bring nothing.
const PATIENCE: u64 = 6;

/// A plan counts as having a margin if it has all but this of it, mm: less than what [`Score::beats`] tells apart.
const MARGIN_GIVE: f64 = 0.04;

/// What is needed for plans beside the best.
#[derive(Debug)]
struct Beside {
    archive: Archive,
    /// Sets of slabs that were not met yet.
    sets: Vec<Attempt>,
    /// Margin of the best plan once it is settled, mm.
    margin: f64,
    /// Tells for which plan that was measured.
    measured: u64,
}

/// A search in progress.
#[derive(Debug)]
pub struct Rounds<'s, 'q, W> {
    space: &'s Space<'q>,
    proof: Proof<'s, 'q>,
    settings: &'s Settings,
    watch: &'s W,
    /// Slabs on which some piece may lie.
    slabs: Vec<usize>,
    /// Nothing placed but what is pinned.
    bare: State,
    /// The earlier plan as far as it holds.
    start: State,
    /// Classes of the bodies that have no place on any slab, one entry a body.
    lost: Vec<usize>,
    /// True if there is an earlier plan to start from.
    has_past: bool,
    /// Layouts found so far.
    pool: Pool,
    /// How many of each class must have a place, but for what is pinned.
    need: Vec<u32>,
    best: Option<(State, Score)>,
    attempts: Vec<Attempt>,
    /// What the best had when the sets of slabs were listed.
    listed_below: f64,
    /// Sets refuted since they were listed.
    ruled_out: usize,
    ladder: Option<Ladder>,
    /// Where the margin counts first: the question with the margin that was reached, where the cost counts first.
    wide: Option<(f64, Space<'q>)>,
    beside: Option<Beside>,
    since_better: u64,
    round: u64,
    cut_short: bool,
}

impl<'s, 'q, W: Watch> Rounds<'s, 'q, W> {
    /// Before the first round.
    #[must_use]
    pub fn new(space: &'s Space<'q>, proof: Proof<'s, 'q>, settings: &'s Settings, watch: &'s W) -> Self {
        let rack = &space.question.rack;
        let mut bare = State::empty(space, &[]);
        let mut start = space.past.start(space);
        let hopeless = hopeless(space, watch);
        let lost: Vec<usize> = bare.missing.iter().copied().filter(|&c| hopeless[c]).collect();
        bare.missing.retain(|&c| !hopeless[c]);
        start.missing.retain(|&c| !hopeless[c]);
        let slabs = (0..rack.len()).filter(|&s| (0..space.classes.len()).any(|c| proof.bound.may[c][s])).collect();
        let pinned = || space.past.open_slabs().flat_map(|s| space.past.pins(s).map(move |r| (s, r)));
        let fixed = pinned().map(|(s, r)| settle::spot_margin(space, s, &r.spot)).fold(f64::INFINITY, f64::min);
        let beside = (settings.alternatives > 0 && lost.is_empty()).then(|| Beside {
            archive: Archive::new(space.question),
            sets: Vec::new(),
            margin: ENOUGH,
            measured: 0,
        });
        let mut need = vec![0; space.classes.len()];
        bare.missing.iter().for_each(|&c| need[c] += 1);
        let mut out = Self {
            space,
            proof,
            settings,
            watch,
            slabs,
            bare,
            start,
            lost,
            has_past: false,
            pool: Pool::new(space),
            need,
            best: None,
            attempts: Vec::new(),
            listed_below: f64::NAN,
            ruled_out: 0,
            ladder: (first_goal(space) == Goal::Margin).then(|| Ladder::new(fixed)),
            wide: None,
            beside,
            since_better: 0,
            round: 0,
            cut_short: false,
        };
        if out.start.cuts.iter().any(|c| !c.spots.is_empty()) {
            out.has_past = true;
            out.take_in(out.start.clone());
        }
        out
    }

    /// Rounds until the effort is spent, the watch says so, or nothing is left to find.
    pub fn run(&mut self) {
        while self.settings.rounds.is_none_or(|r| self.round < r.max(1)) {
            if self.round > 0 || self.has_past {
                self.begin_proof();
            }
            self.drop_refuted();
            self.list_sets();
            self.widen_question();
            self.measure_margin();
            if self.is_done() {
                break;
            }
            let (tasks, extra) = (self.tasks(), self.extra_tasks());
            let mut prover = self.below().map(|below| (self.proof.lend(), below));
            let watch = self.watch;
            let prove = || {
                if let Some((prover, below)) = &mut prover {
                    prover.work(PROOF, *below, &|| watch.stop());
                }
            };
            let ((), results) = rayon::join(prove, || self.work(&tasks, &extra));
            if let Some((prover, _)) = prover {
                self.proof.take_back(prover);
            }
            let stopped = self.watch.stop();
            if stopped {
                // A round that was cut short would not repeat: it counts only if there is nothing else.
                self.cut_short = self.round == 0 && self.complete().is_none();
                if !self.cut_short {
                    break;
                }
            }
            self.proof.settle();
            let better = self.merge(tasks.iter().chain(&extra).zip(results));
            self.since_better = if better { 0 } else { self.since_better + 1 };
            self.round += 1;
            self.tell();
            if stopped || self.bare.missing.is_empty() {
                break;
            }
        }
    }

    /// The first bound, and the slabs that it leaves.
    fn begin_proof(&mut self) {
        self.proof.begin();
        let may = &self.proof.bound.may;
        self.slabs.retain(|&s| may.iter().any(|m| m[s]));
    }

    fn tell(&self) {
        if let Some((state, score)) = &self.best {
            let missing = state.missing.len() + self.lost.len();
            self.watch.tell(&Progress { round: self.round, best: *score, missing, bound: self.proof.bound.cost });
        }
    }

    /// The best plan, if it is complete.
    fn complete(&self) -> Option<&(State, Score)> {
        self.best.as_ref().filter(|b| b.0.missing.is_empty())
    }

    fn is_proven(&self) -> bool {
        self.complete().is_some_and(|b| b.1.cost <= self.proof.bound.cost + 0.005)
    }

    /// What sets of slabs must cost less than to be worth a proof, without what is paid in any case; `None` if there is no
    /// complete plan or nothing is left to prove.
    fn below(&self) -> Option<f64> {
        let (_, score) = self.complete().filter(|_| self.lost.is_empty() && !self.is_proven())?;
        Some(score.cost - self.proof.paid())
    }

    fn is_done(&self) -> bool {
        let tried = |sets: &[Attempt]| sets.iter().all(|a| a.tries > 0);
        let Some((_, score)) = self.complete() else { return false };
        self.is_proven()
            && self.since_better >= PATIENCE
            && (first_goal(self.space) != Goal::Offcut || tried(&self.attempts))
            && self.ladder.is_none_or(|l| l.is_done(score.margin))
            && self.beside.as_ref().is_none_or(|b| tried(&b.sets) || self.since_better >= 4 * PATIENCE)
    }

    /// Leaves out the sets of slabs that were refuted.
    fn drop_refuted(&mut self) {
        let before = self.attempts.len();
        let proof = &self.proof;
        self.attempts.retain(|a| !proof.rules_out(&a.slabs));
        self.ruled_out += before - self.attempts.len();
        if let Some(beside) = &mut self.beside {
            beside.sets.retain(|a| !proof.rules_out(&a.slabs));
        }
    }

    /// Lists the sets of slabs that are of interest, if the best plan is another one than when they were listed.
    fn list_sets(&mut self) {
        let Some((state, score)) = self.complete() else { return };
        let offcut = first_goal(self.space) == Goal::Offcut;
        let below = if offcut { score.cost - score.worth } else { score.cost };
        let few = self.attempts.len() < FEW && self.ruled_out > 0;
        if below.to_bits() == self.listed_below.to_bits() && !few {
            return;
        }
        let cost = score.cost;
        let sets = if offcut {
            // A dearer set may still leave more than it costs.
            let share = self.space.limits().keep_share;
            let dearest = if share < 1.0 { below / (1.0 - share) } else { f64::INFINITY };
            let mut sets = self.sets_below(dearest.max(cost), 4 * SETS);
            sets.retain(|s| self.least_used_up(s) < below - 0.005);
            sets.truncate(SETS);
            sets
        } else {
            self.sets_below(cost, SETS)
        };
        let others = self.beside.as_ref().map(|b| self.other_sets(&b.archive, state, cost));
        self.attempts = self.as_attempts(sets, &self.attempts);
        if let (Some(mut beside), Some(others)) = (self.beside.take(), others) {
            beside.sets = self.as_attempts(others, &beside.sets);
            self.beside = Some(beside);
        }
        self.listed_below = below;
        self.ruled_out = 0;
    }

    fn as_attempts(&self, sets: Vec<Vec<usize>>, known: &[Attempt]) -> Vec<Attempt> {
        sets.into_iter()
            .map(|slabs| {
                let old = known.iter().find(|a| a.slabs == slabs);
                let cost = slabs.iter().map(|&s| self.space.question.rack[s].price).sum();
                Attempt { cost, tries: old.map_or(0, |o| o.tries), missing: old.map_or(0.0, |o| o.missing), slabs }
            })
            .collect()
    }

    /// Sets of slabs that meet all demands and cost less than `below`, cheapest first. Slabs with pinned pieces are part of all.
    fn sets_below(&self, below: f64, most: usize) -> Vec<Vec<usize>> {
        let prices: Vec<f64> = self.space.question.rack.iter().map(|s| s.price).collect();
        let open: Vec<usize> = self.space.past.open_slabs().collect();
        if open.is_empty() {
            let wanted = |set: &[usize]| !self.proof.rules_out(set);
            let effort = (most, SET_STEPS);
            return bound::cheap_sets(&prices, &self.slabs, &self.proof.bound.demands, below, effort, wanted);
        }
        let paid: f64 = open.iter().map(|&s| prices[s]).sum();
        let mut demands = self.proof.bound.demands.clone();
        for demand in &mut demands {
            demand.least -= open.iter().map(|&s| demand.supply[s]).sum::<f64>();
        }
        let rest: Vec<usize> = self.slabs.iter().copied().filter(|s| !open.contains(s)).collect();
        let wanted = |set: &[usize]| {
            let mut all = [set, &open].concat();
            all.sort_unstable();
            !self.proof.rules_out(&all)
        };
        let mut sets = bound::cheap_sets(&prices, &rest, &demands, below - paid, (most, SET_STEPS), wanted);
        if paid < below - 0.005 && demands.iter().all(|d| d.met_by(&[])) {
            sets.insert(0, Vec::new());
        }
        for set in &mut sets {
            set.extend(&open);
            set.sort_unstable();
        }
        sets
    }

    /// The least that the price of the slabs less the worth of their offcuts can come to: all that the pieces leave, where it is
    /// dearest, in one rectangle a slab.
    fn least_used_up(&self, slabs: &[usize]) -> f64 {
        let rack = &self.space.question.rack;
        let pieces: f64 = self.space.classes.iter().map(|c| c.area * c.members.len() as f64).sum();
        let mut parts: Vec<(f64, f64)> =
            slabs.iter().map(|&s| (rack[s].price_per_mm2(), self.space.slab(s).area)).collect();
        parts.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)));
        let mut left = parts.iter().map(|p| p.1).sum::<f64>() - pieces;
        let mut worth = 0.0;
        for (price, area) in parts {
            let part = area.min(left.max(0.0));
            worth += part * price * self.space.limits().keep_share;
            left -= part;
        }
        slabs.iter().map(|&s| rack[s].price).sum::<f64>() - worth
    }

    /// Sets of slabs for plans beside the best: of other kinds than its own, not only more of them; one of each kind.
    fn other_sets(&self, archive: &Archive, best: &State, cost: f64) -> Vec<Vec<usize>> {
        let own = archive.kinds_of(self.space, best);
        let mut seen: Vec<Vec<usize>> = Vec::new();
        let mut sets = self.sets_below(f64::INFINITY, 2 * SETS);
        sets.retain(|set| {
            let price: f64 = set.iter().map(|&s| self.space.question.rack[s].price).sum();
            let kinds = archive::kinds_of(archive.kinds(), set.iter().copied());
            let other = price >= cost - 0.005
                && kinds != own
                && !archive::is_more_than(&kinds, &own)
                && !seen.iter().any(|s| *s == kinds || archive::is_more_than(&kinds, s));
            if other {
                seen.push(kinds);
            }
            other
        });
        sets.truncate(SETS);
        sets
    }

    /// Where the margin counts first: prepares the question with the margin that was reached.
    fn widen_question(&mut self) {
        let Some((_, score)) = self.complete() else { return };
        let margin = score.margin - MARGIN_GIVE;
        let known = self.wide.as_ref().map_or(0.0, |w| w.0);
        if self.ladder.is_some() && margin > known + 1e-6 {
            self.wide = Some((margin, self.space.with_margin(margin, Goal::Cost)));
        }
    }

    /// For plans beside the best: the margin that it has once it is settled, if it is another than when that was measured.
    fn measure_margin(&mut self) {
        let (Some(beside), Some((best, _))) = (&self.beside, self.complete()) else { return };
        let rack = &self.space.question.rack;
        let signature = best.cuts.iter().fold(1, |s: u64, c| s.rotate_left(7) ^ c.signature());
        if beside.measured == signature || best.cuts.iter().all(|c| rack[c.slab].flaws.is_empty()) {
            return;
        }
        let margin = margin(self.space, &self.settled(best.clone()));
        if let Some(beside) = &mut self.beside {
            (beside.margin, beside.measured) = (margin, signature);
        }
    }

    /// The tasks of a round.
    fn tasks(&self) -> Vec<Task> {
        // A first plan soon, from a few tasks; the other ways to build one in the round after.
        let builds = |from: usize, to: usize| -> Vec<Task> {
            (from..to).map(|k| Task::Build { order: ORDERS[k % 4], way: k % 8, long: false }).collect()
        };
        let Some((state, score)) = &self.best else { return builds(0, FIRST) };
        if self.round == 1 && !self.has_past {
            return builds(FIRST, TASKS);
        }
        if !state.missing.is_empty() {
            return self.tasks_incomplete();
        }
        if let Some(steps) = self.ladder.and_then(|l| l.steps(score.margin, self.round)) {
            return steps.into_iter().map(|wider| Task::Climb { wider }).collect();
        }
        let mut out = if self.is_proven() && (first_goal(self.space) != Goal::Offcut || self.attempts.is_empty()) {
            vec![Task::Improve; TASKS]
        } else {
            self.tasks_for_sets()
        };
        if score.moved.is_some_and(|m| m > 0) {
            // Half of the work goes into moving less.
            for (k, task) in out.iter_mut().enumerate().skip(TASKS / 2) {
                *task = if k % 2 == 0 { Task::Restore } else { Task::Repair };
            }
        }
        out
    }

    fn tasks_incomplete(&self) -> Vec<Task> {
        let build = |way| Task::Build { order: Opening::Random, way, long: true };
        let insert = |k: usize, order| Task::Insert { order, way: (k + self.round as usize) % 8 };
        (0..TASKS)
            .map(|k| match k {
                // The first thing to do with an earlier plan: add to it what it lacks.
                0..4 if self.round == 0 => insert(k, ORDERS[k]),
                0..2 if self.space.past.counts_moves() => insert(k, Opening::Random),
                6.. if self.round == 0 => build(k),
                0..4 => build(k),
                _ => Task::Finish,
            })
            .collect()
    }

    /// Cheaper sets first of all; what is left of the round goes to the best plan.
    fn tasks_for_sets(&self) -> Vec<Task> {
        let mut out: Vec<Task> =
            by_urge(&self.attempts).into_iter().take(TASKS - 3).map(|set| Task::Try { set }).collect();
        // Where sets are too many to be listed, or all are tried, exchanging slabs is what lowers the cost.
        out.push(Task::Trade);
        while out.len() < TASKS {
            out.push(if out.len() % 3 == 2 { Task::Improve } else { Task::Trade });
        }
        out
    }

    /// What is done besides for plans beside the best. The other tasks are the same without it.
    fn extra_tasks(&self) -> Vec<Task> {
        let (Some(beside), Some((best, _))) = (&self.beside, self.complete()) else { return Vec::new() };
        let unknown = by_urge(&beside.sets).into_iter().filter(|&k| !beside.archive.knows(&beside.sets[k].slabs));
        let mut out: Vec<Task> = unknown.take(2).map(|set| Task::Other { set }).collect();
        let wider = beside.margin + [5.5, 15.0, 40.0, 90.0][(self.round % 4) as usize];
        let flawed = best.cuts.iter().any(|c| !self.space.question.rack[c.slab].flaws.is_empty());
        if flawed && wider <= ENOUGH {
            out.push(Task::Aside { wider });
        }
        out
    }

    fn work(&self, tasks: &[Task], extra: &[Task]) -> Vec<State> {
        // Where the margin counts first, plans are sought that keep the margin that was reached.
        let climbing = tasks.iter().any(|t| matches!(t, Task::Climb { .. }));
        let space = match &self.wide {
            Some((_, wide)) if !climbing => wide,
            _ => self.space,
        };
        let ground = |space| Ground {
            space,
            bare: &self.bare,
            start: &self.start,
            best: self.best.as_ref().map(|b| &b.0),
            attempts: &self.attempts,
            others: self.beside.as_ref().map_or(&[], |b| b.sets.as_slice()),
            slabs: &self.slabs,
        };
        let (plain, beside) = (ground(space), ground(self.space));
        // Tasks that may take long begin first and are handed out one by one, so that no thread waits long at the end of a round.
        let mut order: Vec<usize> = (0..tasks.len() + extra.len()).collect();
        order.sort_by_key(|&k| (tasks.get(k).is_some_and(Task::is_short), k));
        let mut done: Vec<(usize, State)> = order
            .into_iter()
            .par_bridge()
            .map(|k| {
                let mut rng = stream(self.settings.seed, self.round, k);
                let mut state = match tasks.get(k) {
                    Some(task) => run(&plain, task, &mut rng, self.watch),
                    None => run(&beside, &extra[k - tasks.len()], &mut rng, self.watch),
                };
                // Here, and not when all results are taken in: what is left of a slab is worked out once, and that takes time.
                state.tidy(self.space);
                let _ = state.score(self.space);
                (k, state)
            })
            .collect();
        done.sort_by_key(|d| d.0);
        done.into_iter().map(|d| d.1).collect()
    }

    /// Takes the results in, in the order of the tasks; true if something was found.
    fn merge<'t>(&mut self, results: impl Iterator<Item = (&'t Task, State)>) -> bool {
        let total = self.bare.missing_area(self.space).max(1.0);
        let mut found = false;
        let mut failed: Option<Vec<f64>> = None;
        for (task, state) in results {
            let missing = state.missing_area(self.space) / total;
            match task {
                Task::Try { set } => self.attempts[*set].note(missing),
                Task::Other { set } => {
                    if let Some(beside) = &mut self.beside {
                        beside.sets[*set].note(missing);
                    }
                }
                Task::Climb { wider } => {
                    let failed = failed.get_or_insert_default();
                    if !state.missing.is_empty() {
                        failed.push(*wider);
                    }
                }
                _ => {}
            }
            self.pool.add(self.space, &state);
            found |= self.take_in(state);
        }
        // The layouts of this round and of earlier ones, put together anew.
        let below = self.complete().map_or(f64::INFINITY, |b| b.1.cost - self.proof.paid());
        if let Some(mut state) = self.pool.cover(self.space, &self.need, below, COVER_STEPS) {
            state.open_pinned(self.space);
            found |= self.take_in(state);
        }
        if let (Some(failed), Some(ladder)) = (failed, &mut self.ladder) {
            ladder.note(failed, self.best.as_ref().map_or(0.0, |b| b.1.margin));
        }
        found
    }

    /// Takes a state in: as the best, and as one to show beside it. True if it is either.
    fn take_in(&mut self, mut state: State) -> bool {
        state.tidy(self.space);
        let score = state.score(self.space);
        let mut found = false;
        if let Some(beside) = &mut self.beside
            && state.missing.is_empty()
        {
            found |= beside.archive.offer(self.space, &state, score);
        }
        if self.best.as_ref().is_none_or(|b| score.beats(&b.1, self.space.goal)) {
            self.best = Some((state, score));
            found = true;
        }
        found
    }

    /// The best plan and others beside it, settled and written down.
    #[must_use]
    pub fn answer(mut self) -> Answer {
        self.begin_proof();
        let best = self.best.take().map_or_else(|| self.bare.clone(), |b| b.0);
        let best = self.settled(best);
        let best = self.or_start(best);
        let plan = self.written(best.clone());
        let alternatives = match &self.beside {
            Some(beside) if self.settings.alternatives > 0 => {
                let most = self.settings.alternatives;
                let candidates: Vec<Plan> = beside
                    .archive
                    .ranked(self.space, &best, margin(self.space, &best), most + 2)
                    .into_par_iter()
                    .map(|state| self.written(self.settled(state)))
                    .collect();
                archive::choose(self.space.question, beside.archive.kinds(), &plan, candidates, most)
            }
            _ => Vec::new(),
        };
        Answer { plan, alternatives, certificate: self.proof.certificate() }
    }

    fn settled(&self, mut state: State) -> State {
        state.cuts.par_iter_mut().for_each(|cut| settle::settle(self.space, cut));
        state
    }

    /// The plan that the search started from, unless the found one is better once it is settled.
    fn or_start(&self, mut found: State) -> State {
        let mut start = self.start.clone();
        let better = found.score(self.space).beats(&start.score(self.space), self.space.goal);
        if better || !start.missing.is_empty() { found } else { start }
    }

    fn written(&self, mut state: State) -> Plan {
        for &class in &self.lost {
            state.miss(class);
        }
        // A first round that was cut short does not repeat; no round at all neither.
        let effort = (!self.cut_short && self.round > 0).then_some(self.round);
        answer::plan(self.space, &self.proof.bound, state, self.settings.seed, effort)
    }
}

/// What counts first: where moves count, the cost comes before any other goal (see [`Score::beats`]).
fn first_goal(space: &Space<'_>) -> Goal {
    if space.past.counts_moves() { Goal::Cost } else { space.goal }
}

fn margin(space: &Space<'_>, state: &State) -> f64 {
    state.cuts.iter().map(|c| settle::margin(space, c)).fold(ENOUGH, f64::min)
}

/// Sets that were tried least and came nearest go first; each further try works longer.
fn by_urge(attempts: &[Attempt]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..attempts.len()).collect();
    let urge = |a: &Attempt| f64::from(a.tries) + 12.0 * a.missing;
    order.sort_by(|&a, &b| {
        urge(&attempts[a])
            .total_cmp(&urge(&attempts[b]))
            .then(attempts[a].cost.total_cmp(&attempts[b].cost))
            .then(a.cmp(&b))
    });
    order
}
