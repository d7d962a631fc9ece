//! Linear programmes of a few hundred variables, most of whose rows do not bind.
//!
//! The dual simplex method (C. E. Lemke, "The dual method of solving the linear programming problem", Naval Research Logistics
//! Quarterly 1, 1954) in the space of the variables: the solution is the point where as many constraints as there are variables
//! hold with equality. It starts where every variable is at the bound that is best for the goal, which costs nothing to find,
//! and takes in the row that is broken most, until none is. Rows that are never broken cost one look each round.

/// A row: the sum of factors times variables must be at least a number.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Variable and factor; a variable may come up once.
    pub terms: Vec<(usize, f64)>,
    /// What the sum must reach.
    pub least: f64,
}

/// Minimise `cost · x` where every row holds and every variable is within its bounds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Programme {
    /// By variable: cost of a unit, not negative. The search starts at lower bounds, where this is cheapest.
    pub cost: Vec<f64>,
    /// By variable: lower and upper bound, finite.
    pub bounds: Vec<(f64, f64)>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// How it ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The variables of a solution that no other one beats by more than rounding.
    Solved(Vec<f64>),
    /// No values satisfy all rows.
    Impossible,
    /// Too many steps, or numbers that are not numbers.
    GivenUp,
}

/// A row counts as broken if it falls short by more than this times the length of its factors.
const SHORT: f64 = 1e-9;

/// Factors below this, as a share of the largest in the row, are not divided by.
const PIVOT: f64 = 1e-7;

/// Constraints that may hold with equality.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Limit {
    Lower(usize),
    Upper(usize),
    Row(usize),
}

struct Solver<'p> {
    programme: &'p Programme,
    /// Lengths of the rows' factors.
    lengths: Vec<f64>,
    n: usize,
    x: Vec<f64>,
    /// Row `i`, column `k`: how variable `i` changes as constraint `k` of the corner gains room.
    change: Vec<f64>,
    /// The constraints that hold with equality at the corner.
    corner: Vec<Limit>,
    /// What the goal rises by as constraint `k` gains room; never negative.
    price: Vec<f64>,
    work: u64,
}

impl Programme {
    /// Adds a variable and gives its index.
    pub fn variable(&mut self, cost: f64, lower: f64, upper: f64) -> usize {
        self.cost.push(cost);
        self.bounds.push((lower, upper));
        self.cost.len() - 1
    }

    /// Adds a row.
    pub fn row(&mut self, terms: Vec<(usize, f64)>, least: f64) {
        self.rows.push(Row { terms, least });
    }

    /// Solves it in at most `steps` exchanges. Also says how much work that was, in multiplications or so.
    #[must_use]
    pub fn solve(&self, steps: usize) -> (Outcome, u64) {
        let n = self.cost.len();
        let finite = self.bounds.len() == n
            && self.cost.iter().all(|c| c.is_finite() && *c >= 0.0)
            && self.bounds.iter().all(|b| b.0.is_finite() && b.1.is_finite())
            && self.rows.iter().all(|r| r.least.is_finite() && r.terms.iter().all(|t| t.0 < n && t.1.is_finite()));
        if !finite {
            return (Outcome::GivenUp, 0);
        }
        if self.bounds.iter().any(|b| b.1 < b.0) {
            return (Outcome::Impossible, 0);
        }
        let mut solver = Solver::new(self);
        let outcome = solver.run(steps);
        (outcome, solver.work)
    }
}

impl<'p> Solver<'p> {
    fn new(programme: &'p Programme) -> Self {
        let n = programme.cost.len();
        let mut change = vec![0.0; n * n];
        for i in 0..n {
            change[i * n + i] = 1.0;
        }
        let largest = programme.cost.iter().fold(0.0f64, |a, &c| a.max(c)).max(1e-9);
        // A little more for every variable, and not the same, so that no two prices are equal and no exchange is in vain.
        let price = programme
            .cost
            .iter()
            .enumerate()
            .map(|(k, c)| c + largest * 1e-9 * (1.0 + (k as f64 * 0.618_033_988_75).fract()))
            .collect();
        Self {
            programme,
            lengths: programme.rows.iter().map(|r| r.terms.iter().map(|t| t.1 * t.1).sum::<f64>().sqrt()).collect(),
            n,
            x: programme.bounds.iter().map(|b| b.0).collect(),
            change,
            corner: (0..n).map(Limit::Lower).collect(),
            price,
            work: (n * n) as u64,
        }
    }

    fn run(&mut self, steps: usize) -> Outcome {
        for _ in 0..steps {
            let Some((limit, short)) = self.broken() else {
                for (x, b) in self.x.iter_mut().zip(&self.programme.bounds) {
                    *x = x.clamp(b.0, b.1);
                }
                return if self.x.iter().all(|x| x.is_finite()) {
                    Outcome::Solved(std::mem::take(&mut self.x))
                } else {
                    Outcome::GivenUp
                };
            };
            let gains = self.gains(limit);
            let Some(k) = self.leaving(&gains) else { return Outcome::Impossible };
            self.exchange(k, limit, short, &gains);
            self.work += (10 * self.programme.rows.len() + 12 * self.n) as u64;
        }
        Outcome::GivenUp
    }

    /// The constraint that is broken most, and by how much it falls short.
    fn broken(&self) -> Option<(Limit, f64)> {
        let mut worst = SHORT;
        let mut found = None;
        for (i, (&x, &(lower, upper))) in self.x.iter().zip(&self.programme.bounds).enumerate() {
            for (short, limit) in [(lower - x, Limit::Lower(i)), (x - upper, Limit::Upper(i))] {
                if short > worst {
                    worst = short;
                    found = Some((limit, short));
                }
            }
        }
        for (r, row) in self.programme.rows.iter().enumerate() {
            let sum: f64 = row.terms.iter().map(|&(i, f)| f * self.x[i]).sum();
            let short = row.least - sum;
            if short > worst * self.lengths[r] {
                if self.lengths[r] > 0.0 {
                    worst = short / self.lengths[r];
                } else if short <= SHORT {
                    continue;
                }
                found = Some((Limit::Row(r), short));
            }
        }
        found
    }

    /// How a constraint gains as each of the corner's constraints does.
    fn gains(&self, limit: Limit) -> Vec<f64> {
        let mut out = vec![0.0; self.n];
        let mut add = |i: usize, f: f64| {
            for (o, c) in out.iter_mut().zip(&self.change[i * self.n..(i + 1) * self.n]) {
                *o += f * c;
            }
        };
        match limit {
            Limit::Lower(i) => add(i, 1.0),
            Limit::Upper(i) => add(i, -1.0),
            Limit::Row(r) => self.programme.rows[r].terms.iter().for_each(|&(i, f)| add(i, f)),
        }
        out
    }

    /// Which constraint of the corner gives way: the one that costs least for what it gains; the larger gain on a near tie.
    fn leaving(&self, gains: &[f64]) -> Option<usize> {
        let largest = gains.iter().fold(0.0f64, |a, &g| a.max(g.abs()));
        let least = (largest * PIVOT).max(1e-11);
        let allowed = |k: &usize| gains[*k] > least;
        let ratio = (0..self.n).filter(allowed).map(|k| self.price[k] / gains[k]).fold(f64::INFINITY, f64::min);
        (0..self.n)
            .filter(allowed)
            .filter(|&k| self.price[k] / gains[k] <= ratio * (1.0 + 1e-12))
            .max_by(|&a, &b| gains[a].total_cmp(&gains[b]).then(b.cmp(&a)))
    }

    /// Takes `limit` into the corner for its constraint `k`.
    fn exchange(&mut self, k: usize, limit: Limit, short: f64, gains: &[f64]) {
        let n = self.n;
        let by = 1.0 / gains[k];
        let others: Vec<f64> = gains.iter().map(|g| g * by).collect();
        for i in 0..n {
            let row = &mut self.change[i * n..(i + 1) * n];
            let own = row[k];
            if own == 0.0 {
                continue;
            }
            self.x[i] += short * own * by;
            self.work += n as u64;
            for (c, o) in row.iter_mut().zip(&others) {
                *c -= own * o;
            }
            row[k] = own * by;
        }
        let own = self.price[k];
        for (p, o) in self.price.iter_mut().zip(&others) {
            *p = (*p - own * o).max(0.0);
        }
        self.price[k] = own * by;
        self.corner[k] = limit;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The best of all corners of a programme of two variables, by trying them all.
    fn plain(p: &Programme) -> Option<f64> {
        let mut lines: Vec<([f64; 2], f64)> = Vec::new();
        for (i, b) in p.bounds.iter().enumerate() {
            let mut a = [0.0; 2];
            a[i] = 1.0;
            lines.push((a, b.0));
            lines.push(([-a[0], -a[1]], -b.1));
        }
        for r in &p.rows {
            let mut a = [0.0; 2];
            r.terms.iter().for_each(|&(i, f)| a[i] += f);
            lines.push((a, r.least));
        }
        let mut best: Option<f64> = None;
        for (i, (a, u)) in lines.iter().enumerate() {
            for (b, v) in &lines[..i] {
                let det = a[0] * b[1] - a[1] * b[0];
                if det.abs() < 1e-9 {
                    continue;
                }
                let x = [(u * b[1] - v * a[1]) / det, (a[0] * v - b[0] * u) / det];
                if lines.iter().all(|(c, w)| c[0] * x[0] + c[1] * x[1] >= w - 1e-7) {
                    let value = p.cost[0] * x[0] + p.cost[1] * x[1];
                    best = Some(best.map_or(value, |b| b.min(value)));
                }
            }
        }
        best
    }

    fn value(p: &Programme, x: &[f64]) -> f64 {
        p.cost.iter().zip(x).map(|(c, x)| c * x).sum()
    }

    fn assert_holds(p: &Programme, x: &[f64]) {
        for (x, b) in x.iter().zip(&p.bounds) {
            assert!(b.0 <= *x && *x <= b.1);
        }
        for r in &p.rows {
            let sum: f64 = r.terms.iter().map(|&(i, f)| f * x[i]).sum();
            assert!(sum >= r.least - 1e-7, "{r:?} at {x:?}");
        }
    }

    proptest! {
        #[test]
        fn two_variables_as_by_trying_all_corners(
            cost in (0u8..4, 0u8..4),
            rows in proptest::collection::vec((-3i8..4, -3i8..4, -20i8..20), 0..9),
        ) {
            // Small whole numbers: parallel, repeated and degenerate rows are common.
            let mut p = Programme::default();
            p.variable(f64::from(cost.0), -10.0, 10.0);
            p.variable(f64::from(cost.1), -10.0, 12.0);
            for (a, b, least) in rows {
                p.row(vec![(0, f64::from(a)), (1, f64::from(b))], f64::from(least));
            }
            match (p.solve(200).0, plain(&p)) {
                (Outcome::Solved(x), Some(best)) => {
                    assert_holds(&p, &x);
                    prop_assert!((value(&p, &x) - best).abs() < 1e-5, "{} for {best}", value(&p, &x));
                }
                (Outcome::Impossible, None) => {}
                (got, best) => prop_assert!(false, "{got:?} for {best:?}"),
            }
        }

        /// Weak duality: a solution with multipliers of the same value proves itself; here by a feasible point made first.
        #[test]
        fn many_variables_are_never_worse_than_a_known_point(
            known in proptest::collection::vec(0.0f64..10.0, 12),
            cost in proptest::collection::vec(0.0f64..3.0, 12),
            rows in proptest::collection::vec((proptest::collection::vec(-2.0f64..2.0, 12), 0.0f64..3.0), 1..60),
        ) {
            let mut p = Programme::default();
            cost.iter().for_each(|&c| { p.variable(c, 0.0, 10.0); });
            for (factors, room) in rows {
                let at: f64 = factors.iter().zip(&known).map(|(f, k)| f * k).sum();
                p.row(factors.into_iter().enumerate().collect(), at - if room > 2.0 { 0.0 } else { room });
            }
            let Outcome::Solved(x) = p.solve(2000).0 else { return Err(TestCaseError::fail("not solved")) };
            assert_holds(&p, &x);
            prop_assert!(value(&p, &x) <= value(&p, &known) + 1e-6);
        }
    }

    #[test]
    fn nonsense_is_given_up_and_contradictions_are_impossible() {
        let mut p = Programme::default();
        p.variable(1.0, 0.0, 1.0);
        assert_eq!(p.solve(10).0, Outcome::Solved(vec![0.0]));
        p.row(vec![], 1.0);
        assert_eq!(p.solve(10).0, Outcome::Impossible);
        p.rows[0] = Row { terms: vec![(0, f64::NAN)], least: 0.0 };
        assert_eq!(p.solve(10).0, Outcome::GivenUp);
        p.rows[0] = Row { terms: vec![(3, 1.0)], least: 0.0 };
        assert_eq!(p.solve(10).0, Outcome::GivenUp);
        p.rows.clear();
        p.bounds[0] = (2.0, 1.0);
        assert_eq!(p.solve(10).0, Outcome::Impossible);
        assert_eq!(Programme::default().solve(1).0, Outcome::Solved(vec![]));
    }
}
