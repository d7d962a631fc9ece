//! What is proven about the cost, and who works on it between the rounds.

use super::bound::{self, Bound, Certificate, Prover};
use super::space::Space;

/// The bound on the cost, and the proof behind it.
#[derive(Debug)]
pub struct Proof<'g, 'q> {
    /// The question, with slabs that are paid for in any case at no price.
    ground: &'g Space<'q>,
    /// Price of the slabs that are paid for in any case.
    paid: f64,
    /// The bound on the cost of everything, as of the last [`Proof::settle`].
    pub bound: Bound,
    prover: Option<Prover<'q>>,
    begun: bool,
}

impl<'g, 'q> Proof<'g, 'q> {
    /// Before anything is proven: only what is paid in any case counts. `ground` is the question with the slabs of pinned pieces
    /// at no price, `paid` is their price: a plan that keeps what is pinned is also a plan for the question without pins.
    #[must_use]
    pub fn new(ground: &'g Space<'q>, paid: f64) -> Self {
        Self { ground, paid, bound: Bound::none(ground, paid), prover: None, begun: false }
    }

    /// Works out the first bound, unless that has been done. A first plan does not wait for it.
    pub fn begin(&mut self) {
        if std::mem::replace(&mut self.begun, true) {
            return;
        }
        let mut bound = bound::bound(self.ground, self.ground.question);
        if self.paid > 0.0 && bound.cost == 0.0 {
            bound.rule = "slabs with pinned pieces";
        }
        bound.cost += self.paid;
        self.bound = bound;
    }

    /// Hands the prover out for a round of work, made if there is none yet; the cost of plans for it is without what is paid.
    pub fn lend(&mut self) -> Prover<'q> {
        self.prover.take().unwrap_or_else(|| {
            let raw = Bound { cost: self.bound.cost - self.paid, ..self.bound.clone() };
            Prover::new(self.ground, &raw)
        })
    }

    /// Takes the prover back; what it found counts from [`Proof::settle`] on.
    pub fn take_back(&mut self, prover: Prover<'q>) {
        self.prover = Some(prover);
    }

    /// Makes what was found count.
    pub fn settle(&mut self) {
        if let Some(prover) = &mut self.prover {
            let (cost, rule) = prover.settle();
            self.bound.cost = cost + self.paid;
            self.bound.rule = rule;
        }
    }

    /// Price of the slabs that are paid for in any case.
    #[must_use]
    pub const fn paid(&self) -> f64 {
        self.paid
    }

    /// True if the set of slabs (ascending) cannot hold everything, by proof, or an equal set is listed already.
    #[must_use]
    pub fn rules_out(&self, slabs: &[usize]) -> bool {
        !self.bound.takes_first(slabs) || self.prover.as_ref().is_some_and(|p| p.refutes(slabs))
    }

    /// The log.
    #[must_use]
    pub fn certificate(&self) -> Certificate {
        let raw = Bound { cost: self.bound.cost - self.paid, ..self.bound.clone() };
        let log = match &self.prover {
            Some(prover) => prover.certificate(self.ground, &raw),
            None => raw.certificate(self.ground),
        };
        Certificate { paid: self.paid, ..log }
    }
}
