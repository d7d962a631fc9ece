//! Ruin and recreate: take some pieces off, lay them again at exact candidate positions.
//!
//! The scheme is that of Schrimpf et al., J. Comput. Phys. 159 (2000) 139–171, aimed at what is still missing. Candidates
//! are the corners of the region of shifts that all rules leave: a piece laid there touches what it may touch.

use std::sync::Arc;

use rand::{Rng, RngExt};

use super::oracle;
use super::separate::Patience;
use super::space::{Space, published};
use super::state::{Cut, Spot, State, middle};
use crate::geom::{BBox, Point, Region, Ring, pt};
use crate::rules::Body;

/// How pieces are chosen and laid in one run.
#[derive(Clone, Debug)]
pub struct Policy {
    /// The direction towards which pieces are pushed, on all slabs: an index into [`WAYS`].
    pub way: usize,
    /// Weight of edge contact against the push, 0 to 1.
    pub contact: f64,
    /// Chance to pass over a better candidate.
    pub blink: f64,
    /// Lay the missing piece that sits best next, instead of the largest.
    pub best_next: bool,
    /// Noise on the order by size, as a share of the size.
    pub shuffle: f64,
    /// Prefer the slab where the piece sits best over the first that has room.
    pub any_slab: bool,
}

/// Push directions: corner pairs as (main, second) unit vectors.
pub const WAYS: [(Point, Point); 8] = [
    (pt(-1.0, 0.0), pt(0.0, -1.0)),
    (pt(0.0, -1.0), pt(-1.0, 0.0)),
    (pt(-1.0, 0.0), pt(0.0, 1.0)),
    (pt(0.0, 1.0), pt(-1.0, 0.0)),
    (pt(1.0, 0.0), pt(0.0, -1.0)),
    (pt(0.0, -1.0), pt(1.0, 0.0)),
    (pt(1.0, 0.0), pt(0.0, 1.0)),
    (pt(0.0, 1.0), pt(1.0, 0.0)),
];

impl Policy {
    /// A policy drawn at random.
    pub fn draw(rng: &mut impl Rng) -> Self {
        Self {
            way: rng.random_range(0..WAYS.len()),
            contact: [0.0, 0.3, 0.7, 1.0][rng.random_range(0..4)],
            blink: if rng.random_range(0..4) == 0 { 0.1 } else { 0.02 },
            best_next: rng.random_range(0..3) == 0,
            shuffle: [0.0, 0.2, 0.6][rng.random_range(0..3)],
            any_slab: rng.random_range(0..3) == 0,
        }
    }

    /// The plain one: largest first, pushed one way (an index into [`WAYS`]), first slab that has room.
    #[must_use]
    pub const fn plain(way: usize) -> Self {
        Self { way, contact: 0.0, blink: 0.0, best_next: false, shuffle: 0.0, any_slab: false }
    }
}

/// A candidate with its mark; lower is better.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    cut: usize,
    spot: Spot,
    mark: f64,
}

/// Counts work, and tells when to stop.
pub trait Stop {
    /// True if the run should end now.
    fn stop(&self) -> bool;
    /// One step of work beside such questions was done: a layout was valued.
    fn step(&self);
    /// So many places were evaluated by the separation.
    fn evaluated(&self, places: u64);
    /// The answer to the question where a body has room, known from before or worked out now; counts as work.
    fn room(&self, key: RoomKey, work_out: impl FnOnce() -> Region) -> Arc<Region>;
}

/// What the room of a body depends on: slab, what lies there ([`Cut::signature`]), class, turn (bits).
pub type RoomKey = (usize, u64, usize, u64);

/// Lays as much of what is missing as finds a place.
pub fn recreate(
    space: &Space<'_>,
    state: &mut State,
    policy: &Policy,
    keep: Option<(usize, &Region)>,
    rng: &mut impl Rng,
    stop: &impl Stop,
) {
    if policy.best_next {
        recreate_best_next(space, state, policy, keep, rng, stop);
        return;
    }
    // Largest first, by area and length together, with noise.
    let mut order: Vec<(f64, usize)> = state
        .missing
        .iter()
        .map(|&c| {
            let class = &space.classes[c];
            let noise =
                if policy.shuffle > 0.0 { 1.0 + policy.shuffle * (rng.random::<f64>() - 0.5) * 2.0 } else { 1.0 };
            (class.area * class.length * noise, c)
        })
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    state.missing.clear();
    // A class that found no place finds none later in the same pass: places only get fewer.
    let mut hopeless: Vec<usize> = Vec::new();
    for (_, class) in order {
        let placed = !stop.stop() && !hopeless.contains(&class) && {
            let found = best_spot(space, state, class, policy, keep, rng, stop);
            if let Some(c) = found {
                state.cuts[c.cut].place(c.spot);
            }
            found.is_some()
        };
        if !placed {
            hopeless.push(class);
            state.miss(class);
        }
    }
}

fn recreate_best_next(
    space: &Space<'_>,
    state: &mut State,
    policy: &Policy,
    keep: Option<(usize, &Region)>,
    rng: &mut impl Rng,
    stop: &impl Stop,
) {
    let mut hopeless: Vec<usize> = Vec::new();
    loop {
        let mut open = state.missing.clone();
        open.dedup();
        open.retain(|c| !hopeless.contains(c));
        let mut best: Option<Candidate> = None;
        for class in open {
            if stop.stop() {
                return;
            }
            match best_spot(space, state, class, policy, keep, rng, stop) {
                Some(mut c) => {
                    // Big ones first where they sit equally well.
                    c.mark -= 0.3 * space.classes[class].area.sqrt() / 1000.0;
                    if best.is_none_or(|b| c.mark < b.mark) {
                        best = Some(c);
                    }
                }
                None => hopeless.push(class),
            }
        }
        let Some(c) = best else { return };
        state.cuts[c.cut].place(c.spot);
        if let Ok(at) = state.missing.binary_search(&c.spot.class) {
            state.missing.remove(at);
        }
    }
}

/// The best place for one body of a class over the slabs at hand.
fn best_spot(
    space: &Space<'_>,
    state: &State,
    class: usize,
    policy: &Policy,
    keep: Option<(usize, &Region)>,
    rng: &mut impl Rng,
    stop: &impl Stop,
) -> Option<Candidate> {
    let mut best: Option<Candidate> = None;
    for (i, cut) in state.cuts.iter().enumerate() {
        // No room by area: no need to look.
        let left = space.slab(cut.slab).area - cut.used(space);
        if !space.accepts(class, cut.slab) || space.classes[class].area > left + 1.0 {
            continue;
        }
        let kept = keep.filter(|k| k.0 == cut.slab).map(|k| k.1);
        if let Some(c) = best_spot_on(space, cut, i, class, policy, kept, rng, stop)
            && best.is_none_or(|b| c.mark < b.mark)
        {
            best = Some(c);
            if !policy.any_slab {
                break;
            }
        }
    }
    best
}

#[expect(clippy::too_many_arguments, reason = "the place, the piece and the manner, spelled out")]
fn best_spot_on(
    space: &Space<'_>,
    cut: &Cut,
    index: usize,
    class: usize,
    policy: &Policy,
    keep: Option<&Region>,
    rng: &mut impl Rng,
    stop: &impl Stop,
) -> Option<Candidate> {
    let (main, second) = WAYS[policy.way];
    let size = space.slab(cut.slab).room.bbox();
    let scale = 1.0 / size.width().max(size.height()).max(1.0);
    let walls = if policy.contact > 0.0 { walls(space, cut) } else { Vec::new() };
    let mut best: Option<Candidate> = None;
    let turns = chosen_turns(space.turns(class, cut.slab), rng);
    for (k, turn) in turns.into_iter().enumerate() {
        // The turns beyond the first few are only for bodies that find no room otherwise.
        if k >= TURNS && best.is_some() {
            break;
        }
        let region = if keep.is_some() {
            // A kept rectangle is never the same twice: nothing to remember, but it costs as much. No signature is 0.
            stop.room((cut.slab, 0, class, turn.to_bits()), || cut.room_for(space, class, turn, keep))
        } else {
            let key = (cut.slab, cut.signature(), class, turn.to_bits());
            stop.room(key, || cut.room_for(space, class, turn, None))
        };
        if region.is_empty() {
            continue;
        }
        let body = space.body(class, turn);
        for ring in region.rings() {
            for &shift in ring.points() {
                let shift = published(shift);
                // How far the body's far side sticks out against the push, the second direction breaking ties.
                let c = body.bbox;
                let far = |d: Point| {
                    let x = if d.x > 0.0 {
                        -(c.min.x + shift.x)
                    } else if d.x < 0.0 {
                        c.max.x + shift.x
                    } else {
                        0.0
                    };
                    let y = if d.y > 0.0 {
                        -(c.min.y + shift.y)
                    } else if d.y < 0.0 {
                        c.max.y + shift.y
                    } else {
                        0.0
                    };
                    x + y
                };
                let push = (far(main) + 0.15 * far(second)) * scale;
                let mut mark = (1.0 - policy.contact) * push;
                if policy.contact > 0.0 {
                    mark -= policy.contact * contact(&body, shift, &walls);
                    mark += 1e-3 * push;
                }
                let spot = Spot { class, turn, shift };
                if best.is_none_or(|b| mark < b.mark)
                    && !(policy.blink > 0.0 && rng.random::<f64>() < policy.blink)
                    && cut.takes(space, &spot)
                {
                    best = Some(Candidate { cut: index, spot, mark });
                }
            }
        }
    }
    best
}

/// Turns that are tried at once. More: slower questions. Fewer: places at odd turns are found later.
const TURNS: usize = 4;

/// The turns in the order in which they are tried: where there are many, the two that matter most, then the rest by chance.
fn chosen_turns(mut turns: Vec<f64>, rng: &mut impl Rng) -> Vec<f64> {
    if turns.len() > TURNS {
        for i in 2..turns.len() - 1 {
            let j = rng.random_range(i..turns.len());
            turns.swap(i, j);
        }
    }
    turns
}

/// Lines that a side of a body can lie against: the rim of the room, and the sides of bodies moved out by the gap.
fn walls(space: &Space<'_>, cut: &Cut) -> Vec<(Point, Point)> {
    // Shorter sides are parts of curves, where contact means nothing.
    const SHORTEST: f64 = 5.0;
    let mut out: Vec<(Point, Point)> =
        space.slab(cut.slab).room.edges().filter(|(a, b)| a.distance(*b) > SHORTEST).collect();
    let gap = space.limits().gap;
    for spot in cut.all_spots(space) {
        let body = space.body(spot.class, spot.turn);
        for (a, b) in body.stone().region.edges() {
            let d = b - a;
            let len = d.norm();
            if len > SHORTEST {
                // Outwards is to the right of a counter-clockwise side. Turned round, it is the side of a container.
                let out_by = d.left() * (-gap / len);
                out.push((b + out_by + spot.shift, a + out_by + spot.shift));
            }
        }
    }
    out
}

/// Share of a body's line that lies against a wall, 0 to 1.
fn contact(body: &Body, shift: Point, walls: &[(Point, Point)]) -> f64 {
    // Candidates are corners of regions on the grid, widened by the lenience: a little more than that.
    const TOUCH: f64 = 0.01;
    let mut total = 0.0;
    let mut touched = 0.0;
    for (a, b) in body.stone().region.edges() {
        let (a, b) = (a + shift, b + shift);
        let d = b - a;
        let len = d.norm();
        total += len;
        if len <= 5.0 {
            continue;
        }
        let u = d * (1.0 / len);
        for &(p, q) in walls {
            if u.cross(p - a).abs() < TOUCH && u.cross(q - a).abs() < TOUCH && u.dot(q - p) > 0.0 {
                let (lo, hi) = (u.dot(p - a).max(0.0), u.dot(q - a).min(len));
                touched += (hi - lo).max(0.0);
            }
        }
    }
    if total > 0.0 { (touched / total).min(1.0) } else { 0.0 }
}

/// Takes pieces off: a cluster round a random piece, or all of one slab.
pub fn ruin(space: &Space<'_>, state: &mut State, rng: &mut impl Rng, only: Option<usize>) {
    let filled: Vec<usize> = (0..state.cuts.len())
        .filter(|&i| !state.cuts[i].spots.is_empty() && only.is_none_or(|o| state.cuts[i].slab == o))
        .collect();
    if filled.is_empty() {
        return;
    }
    let i = filled[rng.random_range(0..filled.len())];
    let n = state.cuts[i].spots.len();
    let whole = rng.random_range(0..6) == 0;
    let k = if whole { n } else { rng.random_range(1..=n.min(5)) };
    let bodies = state.cuts[i].bodies(space);
    let centres: Vec<Point> = state.cuts[i].spots.iter().zip(&bodies).map(|(s, b)| middle(b, s.shift)).collect();
    let from = centres[rng.random_range(0..n)];
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| centres[a].distance(from).total_cmp(&centres[b].distance(from)).then(a.cmp(&b)));
    let mut gone = order[..k].to_vec();
    gone.sort_unstable();
    for &j in gone.iter().rev() {
        let spot = state.cuts[i].take(j);
        state.miss(spot.class);
    }
    // Now and then a piece of another slab goes too, so that pieces can change places.
    if filled.len() > 1 && rng.random_range(0..2) == 0 {
        let j = filled[rng.random_range(0..filled.len())];
        if j != i && !state.cuts[j].spots.is_empty() {
            let m = rng.random_range(0..state.cuts[j].spots.len());
            let spot = state.cuts[j].take(m);
            state.miss(spot.class);
        }
    }
}

/// Every so many steps of ruin and recreate, the separation is tried.
const SEPARATE: u32 = 6;

/// How long the separation is tried at a time.
const SHORT: Patience = Patience { passes: 40, strikes: 1 };

/// Works on a state with the slabs that it has until everything is laid or the budget is spent; the best is kept.
pub fn complete(space: &Space<'_>, start: State, rng: &mut impl Rng, stop: &impl Stop) -> State {
    let mut current = start;
    let policy = Policy::draw(rng);
    recreate(space, &mut current, &policy, None, rng, stop);
    let mut best = current.clone();
    let mut best_area = best.missing_area(space);
    let mut current_area = best_area;
    let mut step: u32 = 0;
    while !best.missing.is_empty() && !stop.stop() {
        step += 1;
        stop.step();
        if step.is_multiple_of(SEPARATE) {
            // Everything on a few slabs at once, from the best so far.
            let mut next = best.clone();
            if oracle::insert(space, &mut next, &SHORT, rng, stop) {
                best_area = next.missing_area(space);
                current_area = best_area;
                current = next.clone();
                best = next;
                continue;
            }
        }
        let mut next = current.clone();
        ruin(space, &mut next, rng, None);
        shuffle_cuts(&mut next, rng);
        let policy = Policy::draw(rng);
        recreate(space, &mut next, &policy, None, rng, stop);
        let area = next.missing_area(space);
        // Threshold acceptance: in every fifth step nothing worse is accepted, in the others a little.
        let threshold = best_area * 0.08 * f64::from(step % 5);
        if area <= current_area + threshold {
            current = next;
            current_area = area;
            if area < best_area {
                best = current.clone();
                best_area = area;
            }
        }
    }
    best
}

/// Puts the slabs in another order now and then: the first that has room is taken first.
fn shuffle_cuts(state: &mut State, rng: &mut impl Rng) {
    if state.cuts.len() > 1 && rng.random_range(0..2) == 0 {
        let (i, j) = (rng.random_range(0..state.cuts.len()), rng.random_range(0..state.cuts.len()));
        state.cuts.swap(i, j);
    }
}

/// Lays the pieces of a complete state otherwise, on the same slabs, for a better score (also a slab less).
pub fn improve(space: &Space<'_>, start: &State, rng: &mut impl Rng, stop: &impl Stop) -> State {
    let mut best = start.clone();
    let mut best_score = best.score(space);
    let mut current = best.clone();
    let mut current_score = best_score;
    while !stop.stop() && !start.cuts.is_empty() {
        stop.step();
        if rng.random_range(0..3) == 0
            && start.missing.is_empty()
            && let Some(mut next) = widened(space, &best, rng, stop)
        {
            let score = next.score(space);
            if score.beats(&best_score, space.goal) {
                best = next.clone();
                best_score = score;
                current = next;
                current_score = score;
            }
            continue;
        }
        let mut next = current.clone();
        let cuts: Vec<usize> = next.cuts.iter().map(|c| c.slab).collect();
        let only = (rng.random_range(0..3) > 0 && !cuts.is_empty()).then(|| cuts[rng.random_range(0..cuts.len())]);
        ruin(space, &mut next, rng, only);
        let policy = Policy::draw(rng);
        // Half of the time a part of the rectangle that the ruin left is kept free while the rest is laid again.
        let kept = (rng.random_range(0..2) == 0).then(|| phantom(space, &mut next, rng)).flatten();
        recreate(space, &mut next, &policy, kept.as_ref().map(|(s, r)| (*s, r)), rng, stop);
        if !next.missing.is_empty() && start.missing.is_empty() {
            continue;
        }
        let score = next.score(space);
        if !current_score.beats(&score, space.goal) {
            current = next;
            current_score = score;
            if score.beats(&best_score, space.goal) {
                best = current.clone();
                best_score = score;
            }
        }
    }
    best
}

/// The state with more left in one piece on one of its slabs: the rectangle that is left there, grown to one side or
/// another, is kept free while the separation moves what was in the way.
fn widened(space: &Space<'_>, state: &State, rng: &mut impl Rng, stop: &impl Stop) -> Option<State> {
    let mut state = state.clone();
    let k = rng.random_range(0..state.cuts.len());
    let slab = state.cuts[k].slab;
    let room = space.slab(slab).room.bbox();
    let limits = space.limits();
    let by = 0.15 * rng.random::<f64>().powi(3) + 0.002;
    let keep = match state.cuts[k].rest(space) {
        Some(rest) if rest.turn == 0.0 && rng.random_range(0..4) > 0 => {
            // One side moves out by a share of the slab, another may give way a little.
            let (w, h) = (room.width() * by, room.height() * by);
            let mut b = BBox { min: rest.corner, max: rest.corner + pt(rest.size[0], rest.size[1]) };
            let give = if rng.random_range(0..2) == 0 { 0.0 } else { 0.3 * rng.random::<f64>() };
            match rng.random_range(0..4) {
                0 => (b.min.x, b.max.y) = (b.min.x - w, b.max.y - give * h),
                1 => (b.max.x, b.min.y) = (b.max.x + w, b.min.y + give * h),
                2 => (b.min.y, b.max.x) = (b.min.y - h, b.max.x - give * w),
                _ => (b.max.y, b.min.x) = (b.max.y + h, b.min.x + give * w),
            }
            b
        }
        rest => {
            // A strip along a side that is worth more than what is left now.
            let least = rest.map_or(0.0, |r| r.area()).max(limits.keep_area) * (1.0 + by);
            let (w, h) = (least / room.height(), least / room.width());
            match rng.random_range(0..4) {
                0 => BBox { min: room.min, max: pt(room.min.x + w, room.max.y) },
                1 => BBox { min: pt(room.max.x - w, room.min.y), max: room.max },
                2 => BBox { min: room.min, max: pt(room.max.x, room.min.y + h) },
                _ => BBox { min: pt(room.min.x, room.max.y - h), max: room.max },
            }
        }
    };
    let keep = BBox {
        min: pt(keep.min.x.max(room.min.x), keep.min.y.max(room.min.y)),
        max: pt(keep.max.x.min(room.max.x), keep.max.y.min(room.max.y)),
    };
    let side = keep.width().min(keep.height());
    let used: f64 = state.cuts[k].used(space);
    if side < limits.keep_side || keep.width() * keep.height() + used > space.slab(slab).area {
        return None;
    }
    let region = Ring::rectangle(keep).to_region();
    let done = oracle::pack(space, &state.cuts[k..=k], &[], Some((slab, &region)), &SHORT, rng, stop)?;
    state.cuts.splice(k..=k, done);
    Some(state)
}

/// A random part of the rectangle that is now left on one of the slabs: 30 to 95 % of it, cut off at one side.
fn phantom(space: &Space<'_>, state: &mut State, rng: &mut impl Rng) -> Option<(usize, Region)> {
    if state.cuts.is_empty() {
        return None;
    }
    let i = rng.random_range(0..state.cuts.len());
    let slab = state.cuts[i].slab;
    let rest = state.cuts[i].rest(space)?;
    // With pieces off the slab, the rest is too large: give back a random part of it on one side.
    let share = 0.3 + 0.65 * rng.random::<f64>();
    let [w, h] = rest.size;
    let pose = crate::geom::Pose::new(rest.turn, rest.corner);
    let (x0, y0, w, h) = match rng.random_range(0..4) {
        0 => (0.0, 0.0, w * share, h),
        1 => (w * (1.0 - share), 0.0, w * share, h),
        2 => (0.0, 0.0, w, h * share),
        _ => (0.0, h * (1.0 - share), w, h * share),
    };
    let b = crate::geom::BBox { min: pt(x0, y0), max: pt(x0 + w, y0 + h) };
    Some((slab, pose.region(&crate::geom::Ring::rectangle(b).to_region())))
}
