//! A run of the search under a clock, judged.
#![allow(clippy::disallowed_methods, reason = "benches look at the clock")]

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use scantling::check::judge;
use scantling::model::{Finding, Grade, Plan, Question};
use scantling::search::{Progress, Settings, Watch, solve};
use serde::{Deserialize, Serialize};

/// What the search told after a round.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct Told {
    /// Since the start.
    pub seconds: f64,
    /// Rounds done.
    pub round: u64,
    /// Pieces without a place.
    pub missing: usize,
    /// Price of the slabs cut.
    pub cost: f64,
    /// Worth of the offcuts.
    pub worth: f64,
    /// Lower bound on the cost.
    pub bound: f64,
}

impl Told {
    /// Share of the cost that is not proven necessary; nothing is said of plans with pieces missing.
    pub fn gap(&self) -> Option<f64> {
        (self.missing == 0).then(|| gap(self.cost, self.bound))
    }
}

/// Share of the cost that is not proven necessary.
pub fn gap(cost: f64, bound: f64) -> f64 {
    if cost > 0.0 { (cost - bound) / cost } else { 0.0 }
}

/// Stops after a time, or when what is told is enough.
struct Clock<F> {
    start: Instant,
    end: Option<Duration>,
    enough: F,
    reached: AtomicBool,
    told: Mutex<Vec<Told>>,
}

impl<F: Fn(&Told) -> bool + Sync> Watch for Clock<F> {
    fn stop(&self) -> bool {
        self.reached.load(Ordering::Relaxed) || self.end.is_some_and(|e| self.start.elapsed() >= e)
    }

    fn tell(&self, p: &Progress) {
        let told = Told {
            seconds: self.start.elapsed().as_secs_f64(),
            round: p.round,
            missing: p.missing,
            cost: p.best.cost,
            worth: p.best.worth,
            bound: p.bound,
        };
        if (self.enough)(&told) {
            self.reached.store(true, Ordering::Relaxed);
        }
        self.told.lock().unwrap().push(told);
    }
}

/// A search that has ended.
pub struct Run {
    /// Its plan.
    pub plan: Plan,
    /// What it told, round by round.
    pub told: Vec<Told>,
    /// From the question to the plan.
    pub seconds: f64,
    /// The rules that the plan breaks, by the judge.
    pub broken: Vec<Finding>,
}

/// Searches until `seconds` are over (if any), the rounds are done or `enough` says so, and has the plan judged.
pub fn run(
    question: &Question,
    settings: &Settings,
    seconds: Option<f64>,
    enough: impl Fn(&Told) -> bool + Sync,
) -> Run {
    let clock = Clock {
        start: Instant::now(),
        end: seconds.map(Duration::from_secs_f64),
        enough,
        reached: AtomicBool::new(false),
        told: Mutex::default(),
    };
    let plan = solve(question, settings, &clock).plan;
    let seconds = clock.start.elapsed().as_secs_f64();
    // A piece without a place is no wrong verdict: the benches count such plans by themselves.
    let broken = judge(question, &plan)
        .into_iter()
        .filter(|f| f.grade == Grade::Broken && f.rule != scantling::model::Rule::Unplaced)
        .collect();
    Run { plan, told: clock.told.into_inner().unwrap(), seconds, broken }
}

impl Run {
    /// Time to the first complete plan. A first round that was cut short is not told: then the end of the run counts.
    pub fn first_complete(&self) -> Option<f64> {
        let told = self.told.iter().find(|t| t.missing == 0).map(|t| t.seconds);
        told.or_else(|| self.plan.unplaced.is_empty().then_some(self.seconds))
    }

    /// Time to the first complete plan that costs no more than `cost`, by half a cent.
    pub fn reached(&self, cost: f64) -> Option<f64> {
        let told = self.told.iter().find(|t| t.missing == 0 && t.cost <= cost + CENT).map(|t| t.seconds);
        let last = self.plan.unplaced.is_empty() && self.plan.cost <= cost + CENT;
        told.or_else(|| last.then_some(self.seconds))
    }

    /// Time of the last round that made the plan cheaper or more complete.
    pub fn last_cheaper(&self) -> Option<f64> {
        self.last(|a, b| b.missing < a.missing || b.cost < a.cost - CENT)
    }

    /// Time of the last round that made the plan better in any way.
    pub fn last_better(&self) -> Option<f64> {
        self.last(|a, b| b.missing < a.missing || b.cost < a.cost - CENT || b.worth > a.worth + CENT)
    }

    fn last(&self, better: impl Fn(&Told, &Told) -> bool) -> Option<f64> {
        let later = self.told.windows(2).rev().find(|w| better(&w[0], &w[1])).map(|w| w[1].seconds);
        later.or_else(|| self.told.first().map(|t| t.seconds))
    }

    /// What had been told by then.
    pub fn by(&self, seconds: f64) -> Option<&Told> {
        self.told.iter().rev().find(|t| t.seconds <= seconds)
    }

    /// Complains on standard error of every broken rule; true if there is one.
    pub fn complain(&self, of: &str) -> bool {
        for finding in &self.broken {
            eprintln!("{of}: {}", finding.message);
        }
        !self.broken.is_empty()
    }
}

/// Money is compared to half a cent.
pub const CENT: f64 = 0.005;

/// Mean of what is there; `None` of nothing.
pub fn mean(of: impl IntoIterator<Item = f64>) -> Option<f64> {
    let (sum, n) = of.into_iter().fold((0.0, 0u32), |(s, n), v| (s + v, n + 1));
    (n > 0).then(|| sum / f64::from(n))
}

/// A figure for a table, or a dash.
pub fn cell(value: Option<f64>, digits: usize) -> String {
    value.map_or("-".to_owned(), |v| format!("{v:.digits$}"))
}
