//! Bodies that have no place yet onto slabs that hold others already: everything there is moved at once.
//!
//! The slabs lie side by side on one long table, the missing bodies are thrown onto them, and the separation
//! ([`super::separate`]) moves whatever overlaps, from slab to slab too, until nothing does.

use std::sync::Arc;

use rand::{Rng, RngExt};

use super::exact;
use super::rebuild::Stop;
use super::separate::{Arena, Free, Outcome, Patience, Place, Separator, SideBySide, Table};
use super::shapes::{Shape, Shapes};
use super::space::{Space, published};
use super::state::{Cut, Spot, State};
use super::swing;
use crate::geom::{BBox, Point, Region, boolean, pt, sum, tol};

/// A part of a slab that must stay free: by slab (index on the rack), the region, slab frame.
pub type Keep<'k> = Option<(usize, &'k Region)>;

/// The slabs side by side, so far apart that bodies on neighbouring ones never come near one another, and where a body begins
/// says which slab it is on.
fn table(space: &Space<'_>, slabs: &[usize]) -> Table {
    let boxes: Vec<BBox> = slabs.iter().map(|&s| space.question.rack[s].outline.bbox()).collect();
    let widest = boxes.iter().map(BBox::width).fold(0.0, f64::max);
    let longest = space.classes.iter().map(|c| c.length).fold(0.0, f64::max);
    let apart = (2.0 * longest + space.limits().gap + 100.0).ceil();
    let pitch = widest.ceil() + 2.0 * apart;
    // Whole millimetres, so that shifts keep their last digit.
    let offsets =
        boxes.iter().enumerate().map(|(k, b)| pt(k as f64 * pitch - b.min.x.floor(), -b.min.y.floor())).collect();
    Table { pitch, before: apart, offsets }
}

/// The shapes of all bodies on these slabs, which of them each class may take, and where each may lie.
struct Setting<'a> {
    shapes: Shapes<'a>,
    by_class: Vec<Vec<usize>>,
    free: Vec<Free>,
}

impl Setting<'_> {
    /// A random place for a body of a class.
    fn anywhere(&self, class: usize, rng: &mut impl Rng) -> Option<Place> {
        let shapes = &self.by_class[class];
        let shape = shapes[rng.random_range(0..shapes.len())];
        Some(Place { shape, shift: self.free[shape].draw(rng)? })
    }
}

fn setting<'a>(
    space: &'a Space<'_>,
    table: &Arc<Table>,
    slabs: &[usize],
    classes: &[usize],
    keep: Keep<'_>,
) -> Setting<'a> {
    let mut list: Vec<Shape> = Vec::new();
    let mut by_class: Vec<Vec<usize>> = vec![Vec::new(); space.classes.len()];
    let mut free: Vec<Free> = Vec::new();
    for &class in classes {
        if !by_class[class].is_empty() {
            continue;
        }
        let on: Vec<Vec<f64>> =
            slabs.iter().map(|&s| if space.accepts(class, s) { space.turns(class, s) } else { Vec::new() }).collect();
        let mut turns: Vec<f64> = on.concat();
        turns.sort_by(f64::total_cmp);
        turns.dedup();
        for turn in turns {
            let places: Vec<Arc<Free>> = slabs
                .iter()
                .enumerate()
                .map(|(k, &slab)| {
                    if on[k].contains(&turn) {
                        on_slab(space, class, turn, slab, keep)
                    } else {
                        Arc::new(Free::Nowhere)
                    }
                })
                .collect();
            if places.iter().all(|p| p.is_nowhere()) {
                continue;
            }
            let body = space.body(class, turn);
            let points: Vec<Point> = body.stone().region.rings().flat_map(|r| r.points().to_vec()).collect();
            by_class[class].push(list.len());
            list.push(Shape { class, turn, reach: body.bbox, hull: sum::hull_area(&points) });
            free.push(Free::Several(SideBySide { table: Arc::clone(table), slabs: places }));
        }
    }
    let shapes = Shapes::new(list, space.limits().gap, Box::new(|a, ta, b, tb| space.pair(a, ta, b, tb)));
    Setting { shapes, by_class, free }
}

fn on_slab(space: &Space<'_>, class: usize, turn: f64, slab: usize, keep: Keep<'_>) -> Arc<Free> {
    match keep {
        Some((kept, region)) if kept == slab => {
            let grown = sum::grown(region, space.limits().gap, 0.02);
            let taken = sum::hits(&grown, &space.body(class, turn).stone().parts);
            Arc::new(Free::new(&boolean::difference(&space.free(class, turn, slab), &taken)))
        }
        _ => space.places(class, turn, slab),
    }
}

/// Work for setting up a shape, and for two shapes, in evaluations; about as the times.
const SET_UP: u64 = 400;
const PER_PAIR: u64 = 40;

/// Work for looking at a body of a layout exactly, and moving it by a linear programme, in evaluations.
const PER_BODY: u64 = 200;

/// Lays what the cuts hold and the `missing` classes on the slabs of the cuts, moving what must be moved; `None` if that is
/// not found within the patience. What is found respects every clearance.
pub fn pack(
    space: &Space<'_>,
    cuts: &[Cut],
    missing: &[usize],
    keep: Keep<'_>,
    patience: &Patience,
    rng: &mut impl Rng,
    stop: &impl Stop,
) -> Option<Vec<Cut>> {
    let slabs: Vec<usize> = cuts.iter().map(|c| c.slab).collect();
    let table = Arc::new(table(space, &slabs));
    let classes: Vec<usize> =
        cuts.iter().flat_map(|c| c.spots.iter().map(|s| s.class)).chain(missing.iter().copied()).collect();
    let setting = setting(space, &table, &slabs, &classes, keep);
    if classes.iter().any(|&c| setting.by_class[c].is_empty()) {
        return None;
    }
    // Shapes and their tables, asked for or made: like a question for room each.
    let shapes = setting.shapes.list().len() as u64;
    stop.evaluated(SET_UP * shapes + PER_PAIR * shapes * shapes);
    let mut places: Vec<Place> = Vec::with_capacity(classes.len());
    let list = setting.shapes.list();
    for (k, cut) in cuts.iter().enumerate() {
        for spot in &cut.spots {
            let at = spot.shift + table.offsets[k];
            // Where it lies now, unless the kept part is in the way.
            let same = setting.by_class[spot.class].iter().copied().find(|&s| list[s].turn == spot.turn);
            let stay = same.and_then(|shape| Some(Place { shape, shift: setting.free[shape].nearest(at)? }));
            places.push(match stay {
                Some(place) => place,
                None => setting.anywhere(spot.class, rng)?,
            });
        }
    }
    for &class in missing {
        places.push(setting.anywhere(class, rng)?);
    }
    let bodies = classes.iter().map(|&c| setting.by_class[c].clone()).collect();
    let arena =
        Arena { shapes: &setting.shapes, bodies: Arc::new(bodies), free: Arc::new(setting.free.clone()), leave: LEAVE };
    let mut separator = Separator::new(arena, places);
    loop {
        let before = separator.evaluations;
        let outcome = separator.pass(patience, rng);
        stop.evaluated(separator.evaluations - before + 10);
        match outcome {
            Outcome::Clear => {
                let found = cuts_of(separator.places(), &setting, &table, &slabs);
                stop.evaluated(PER_BODY * classes.len() as u64);
                let exact = closed(space, found, keep);
                if exact.is_some() || separator.leave() < LEAVE {
                    return exact;
                }
                // What was left cannot be closed: on without leave.
                separator.set_leave(tol::LENIENCE);
            }
            Outcome::Stuck => {
                // What steps and the listed turns leave, turns between them may close.
                let found = cuts_of(separator.places(), &setting, &table, &slabs);
                return swung(space, found, keep, stop);
            }
            Outcome::Open if stop.stop() => return None,
            Outcome::Open => {}
        }
    }
}

/// Overlaps up to this (mm) are left to a linear programme, which finds the exact fits that steps of finite length miss. Larger:
/// more that cannot be closed.
const LEAVE: f64 = 0.25;

/// What lies where, slab by slab.
fn cuts_of(places: &[Place], setting: &Setting<'_>, table: &Table, slabs: &[usize]) -> Vec<Cut> {
    let mut out: Vec<Cut> = slabs.iter().map(|&s| Cut::empty(s)).collect();
    for place in places {
        let k = table.slab_of(place.shift);
        let shape = setting.shapes.list()[place.shape];
        out[k].place(Spot { class: shape.class, turn: shape.turn, shift: published(place.shift - table.offsets[k]) });
    }
    out
}

/// The cuts with every clearance kept, moved a little where need be; `None` if that is not found.
fn closed(space: &Space<'_>, cuts: Vec<Cut>, keep: Keep<'_>) -> Option<Vec<Cut>> {
    cuts.into_iter()
        .map(|cut| {
            if cut.holds(space) {
                return Some(cut);
            }
            let kept = keep.filter(|k| k.0 == cut.slab).map(|k| k.1);
            exact::closed(space, &cut, kept, 2.0 * LEAVE).filter(|c| c.holds(space))
        })
        .collect()
}

/// Overlaps up to this (mm) are tried to be closed by turns, where bodies may turn.
const SWING: f64 = 150.0;

/// Steps of the programmes of [`swing`] that take about as long as an evaluation.
const PER_EVALUATION: u64 = 200;

/// The cuts with every clearance kept, moved and turned a little where need be; `None` if that is not found.
fn swung(space: &Space<'_>, cuts: Vec<Cut>, keep: Keep<'_>, stop: &impl Stop) -> Option<Vec<Cut>> {
    cuts.into_iter()
        .map(|cut| {
            let kept = keep.filter(|k| k.0 == cut.slab).map(|k| k.1);
            if cut.holds(space) {
                return Some(cut);
            }
            if !swing::can_turn(space, &cut) {
                return None;
            }
            let (found, work) = swing::closed(space, &cut, kept, SWING);
            stop.evaluated(work / PER_EVALUATION);
            found
        })
        .collect()
}

/// Slabs on which everything is moved at once, at most.
const TOGETHER: usize = 4;

/// Tries to find room for what is missing on a few of the slabs at hand; true if more than before has a place now.
pub fn insert(space: &Space<'_>, state: &mut State, patience: &Patience, rng: &mut impl Rng, stop: &impl Stop) -> bool {
    if state.cuts.is_empty() || state.missing.is_empty() {
        return false;
    }
    // Slabs with much room left first, with some chance.
    let mut order: Vec<(f64, usize)> = state
        .cuts
        .iter()
        .enumerate()
        .map(|(k, c)| ((space.slab(c.slab).area - c.used(space)) * (0.5 + rng.random::<f64>()), k))
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let n = order.len().min(if rng.random_range(0..3) == 0 { TOGETHER } else { rng.random_range(1..=TOGETHER) });
    let mut chosen: Vec<usize> = order[..n].iter().map(|o| o.1).collect();
    chosen.sort_unstable();
    let cuts: Vec<Cut> = chosen.iter().map(|&k| state.cuts[k].clone()).collect();
    let mut room: f64 = cuts.iter().map(|c| space.slab(c.slab).area - c.used(space)).sum();
    // As many of the missing as there is area for, by chance.
    let mut wanted = state.missing.clone();
    for k in (1..wanted.len()).rev() {
        wanted.swap(k, rng.random_range(0..=k));
    }
    wanted.retain(|&c| {
        let fits = space.classes[c].area <= room && cuts.iter().any(|cut| space.accepts(c, cut.slab));
        if fits {
            room -= space.classes[c].area;
        }
        fits
    });
    if wanted.is_empty() {
        return false;
    }
    let Some(done) = pack(space, &cuts, &wanted, None, patience, rng, stop) else { return false };
    for (k, cut) in chosen.into_iter().zip(done) {
        state.cuts[k] = cut;
    }
    for class in wanted {
        if let Ok(at) = state.missing.binary_search(&class) {
            state.missing.remove(at);
        }
    }
    true
}
