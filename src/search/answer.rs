//! From a finished state to a plan: names and figures.

use super::bound::Bound;
use super::offcuts::offcuts;
use super::settle;
use super::space::Space;
use super::state::{Cut, Spot, State};
use crate::geom::{Pose, Ring, sum};
use crate::model::{
    Layout, OpeningOutline, Piece, PieceId, Placed, Plan, PlanLimits, Question, Unplaced, Yield, drops,
};

/// Writes the plan down.
#[must_use]
pub fn plan(space: &Space<'_>, bound: &Bound, mut state: State, seed: u64, effort: Option<u64>) -> Plan {
    let question = space.question;
    state.tidy(space);
    let laid: Vec<Vec<Laid>> = state.cuts.iter().map(|c| laid(space, c)).collect();
    let mut names = Names::new(space, laid.iter().flatten().filter_map(|l| l.id));
    let mut layouts = Vec::new();
    for (cut, laid) in state.cuts.iter().zip(laid) {
        let placed = laid
            .into_iter()
            .map(|l| {
                let id = l.id.unwrap_or_else(|| names.give(l.spot.class));
                placed(question, id, &l.spot, l.pinned)
            })
            .collect();
        let offcuts = offcuts(space, cut);
        layouts.push(Layout {
            slab: question.rack[cut.slab].name.clone(),
            slab_print: None,
            placed,
            yields: yields(space, cut),
            offcuts,
        });
    }
    let unplaced: Vec<Unplaced> = state
        .missing
        .iter()
        .map(|&c| super::reasons::explain(space, bound, names.give(c), c, effort.is_none()))
        .collect();
    let cost = state.cost(space);
    // Where nothing places everything, any number bounds the cost of doing so; a finite one can be written down.
    let cost_bound = if unplaced.is_empty() || !bound.cost.is_finite() { bound.cost.min(cost) } else { bound.cost };
    // Adding to 0 keeps the sum of nothing from being -0.
    let worth: f64 = 0.0
        + state
            .cuts
            .iter()
            .zip(&layouts)
            .map(|(c, l): (&Cut, &Layout)| {
                let largest = l.offcuts.first().map_or(0.0, |o| o.rectangle.size[0] * o.rectangle.size[1]);
                largest * question.rack[c.slab].price_per_mm2() * space.limits().keep_share
            })
            .sum::<f64>();
    let margin = state.cuts.iter().map(|c| settle::margin(space, c)).fold(f64::INFINITY, f64::min);
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: question.jobs.iter().map(|j| j.name.clone()).collect(),
        seed,
        goal: space.goal,
        effort,
        limits: limits(question, &state),
        layouts,
        proven: unplaced.is_empty() && (cost - cost_bound).abs() < 0.005,
        unplaced,
        cost,
        cost_bound: if (cost - cost_bound).abs() < 0.005 { cost } else { cost_bound },
        bound_rule: Some(bound.rule.to_owned()),
        offcut_worth: Some((worth * 100.0).round() / 100.0),
        flaw_margin: margin.is_finite().then(|| (margin * 1e4).round() / 1e4),
        findings: Vec::new(),
        held: Vec::new(),
    }
}

/// A body on a slab, and whose place it is, if it is that of a piece in the earlier plan.
struct Laid {
    spot: Spot,
    id: Option<PieceId>,
    pinned: bool,
}

/// What lies on a slab, from left to right, then from bottom to top: the order in which a person reads it.
fn laid(space: &Space<'_>, cut: &Cut) -> Vec<Laid> {
    let found = cut.spots.iter().map(|&spot| Laid { spot, id: space.past.owner(cut.slab, &spot), pinned: false });
    let pinned = space.past.pins(cut.slab).map(|r| Laid { spot: r.spot, id: Some(r.id), pinned: true });
    let mut all: Vec<(f64, f64, Laid)> = found
        .chain(pinned)
        .map(|l| {
            let b = space.body(l.spot.class, l.spot.turn).bbox;
            (b.min.x + l.spot.shift.x, b.min.y + l.spot.shift.y, l)
        })
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.spot.class.cmp(&b.2.spot.class)));
    all.into_iter().map(|l| l.2).collect()
}

/// Names for bodies: like pieces are handed out in job order, slab by slab, but for those that are taken.
struct Names<'s, 'q> {
    space: &'s Space<'q>,
    taken: Vec<PieceId>,
    next: Vec<usize>,
}

impl<'s, 'q> Names<'s, 'q> {
    fn new(space: &'s Space<'q>, taken: impl Iterator<Item = PieceId>) -> Self {
        let mut taken: Vec<PieceId> = taken.collect();
        taken.sort_unstable();
        Self { space, taken, next: vec![0; space.classes.len()] }
    }

    fn give(&mut self, class: usize) -> PieceId {
        let members = &self.space.classes[class].members;
        let next = &mut self.next[class];
        while self.taken.binary_search(&members[*next]).is_ok() {
            *next += 1;
        }
        *next += 1;
        members[*next - 1]
    }
}

fn placed(question: &Question, id: PieceId, spot: &Spot, pinned: bool) -> Placed {
    let piece = question.piece(id);
    let pose = Pose::new(spot.turn, spot.shift);
    let points = |r: &Ring| pose.ring(r).points().iter().map(|&p| p.into()).collect();
    Placed {
        job: question.jobs[id.job].name.clone(),
        piece: piece.name.clone(),
        turn: spot.turn,
        shift: spot.shift.into(),
        pinned,
        outline: points(&piece.outline.ring),
        openings: piece
            .openings
            .iter()
            .map(|o| OpeningOutline { opening: o.name.clone(), outline: points(&o.ring) })
            .collect(),
    }
}

fn yields(space: &Space<'_>, cut: &Cut) -> Yield {
    let slab = &space.question.rack[cut.slab];
    let usable = sum::shrunk(&slab.outline.to_region(), space.limits().trim, 0.01).area();
    let laid: Vec<(&Piece, Pose)> =
        cut.all_spots(space).map(|s| (space.piece_of(s.class), Pose::new(s.turn, s.shift))).collect();
    let (mut pieces, mut openings) = (0.0, 0.0);
    for own in drops::taken(&laid) {
        pieces += own.outline;
        openings += own.openings;
    }
    Yield::of(slab.outline.area(), usable, pieces, openings)
}

fn limits(question: &Question, state: &State) -> PlanLimits {
    let l = &question.shop.limits;
    let used: Vec<_> = state.cuts.iter().map(|c| &question.rack[c.slab]).collect();
    let qualifying: Vec<_> = question.rack.iter().filter(|s| question.jobs.iter().any(|j| j.accepts(s))).collect();
    let slabs = if used.is_empty() { qualifying } else { used };
    let min_rail = slabs.iter().map(|s| l.rails(s).stop).fold(0.0, f64::max);
    let rod_rail = slabs.iter().map(|s| l.rails(s).rod).fold(0.0, f64::max);
    PlanLimits::of(l, if slabs.is_empty() { l.min_rail.unwrap_or(0.0) } else { min_rail }, rod_rail)
}
