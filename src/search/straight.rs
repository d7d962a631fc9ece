//! Turns that a person can work with: a body that may be turned is brought in line with its grain, the offcut, or the bodies
//! beside it where that costs next to nothing, and else to a round number of degrees.

use super::exact;
use super::space::Space;
use super::space::published_turn;
use super::state::Cut;
use super::swing::range;
use crate::geom::pose::angle_off;
use crate::geom::{pt, tol};
use crate::model::Goal;

/// Turns that differ by more than this (degrees) are meant to differ.
const NEAR: f64 = 5.0;

/// Overlaps that a new turn makes are closed by moves if they are not deeper than this, mm.
const DEEP: f64 = 30.0;

/// Margins that differ by less are the same, mm.
const SAME_MARGIN: f64 = 0.05;

/// Share of the worth of an offcut that lying in line may cost, unless the offcut counts first: pieces that lie askew to one another
/// by a degree are harder to saw than the last millimetres are worth.
const GIVE: f64 = 0.01;

/// What a layout must not fall below.
struct Least {
    margin: f64,
    worth: f64,
}

impl Least {
    fn of(space: &Space<'_>, cut: &mut Cut) -> Self {
        let give = if space.goal == Goal::Offcut { 0.0 } else { GIVE };
        Self { margin: cut.margin(space) - SAME_MARGIN, worth: (1.0 - give) * cut.worth(space) - 0.005 }
    }
}

/// Brings the bodies of a cut in line where that keeps every clearance, the margin and nearly all of the worth of what is left.
/// `stays` says of each body whether it must stay as it is.
pub fn straighten(space: &Space<'_>, cut: &mut Cut, stays: &[bool]) {
    let least = Least::of(space, cut);
    let mut order: Vec<usize> = (0..cut.spots.len()).collect();
    let area = |i: &usize| space.classes[cut.spots[*i].class].area;
    order.sort_by(|a, b| area(b).total_cmp(&area(a)).then(a.cmp(b)));
    for (k, &i) in order.iter().enumerate() {
        let spot = cut.spots[i];
        let free = range(space, cut.slab, &spot);
        if stays[i] || free == (0.0, 0.0) {
            continue;
        }
        // The middle of its range, if it has one; then as the offcut lies and the larger bodies.
        let mut wanted = Vec::new();
        if free.1 - free.0 < 359.0 {
            wanted.push(spot.turn + 0.5 * (free.0 + free.1));
        }
        if let Some(rest) = cut.rest(space) {
            wanted.push(spot.turn + angle_off(rest.turn, spot.turn, 90.0));
        }
        for &j in &order[..k] {
            wanted.push(spot.turn + angle_off(cut.spots[j].turn, spot.turn, 90.0));
        }
        try_turns(space, cut, i, &wanted, &least, stays);
    }
}

/// Brings turns that are no round number of degrees to one nearby, under the same conditions.
pub fn round_turns(space: &Space<'_>, cut: &mut Cut, stays: &[bool]) {
    let least = Least::of(space, cut);
    for i in 0..cut.spots.len() {
        let turn = cut.spots[i].turn;
        if !stays[i] && range(space, cut.slab, &cut.spots[i]) != (0.0, 0.0) {
            let wanted: Vec<f64> = [1.0, 0.5, 0.1, 0.01].iter().map(|step| (turn / step).round() * step).collect();
            try_turns(space, cut, i, &wanted, &least, stays);
        }
    }
}

/// Gives body `i` the first of these turns (degrees) that keeps what it must.
fn try_turns(space: &Space<'_>, cut: &mut Cut, i: usize, wanted: &[f64], least: &Least, stays: &[bool]) {
    let spot = cut.spots[i];
    let free = range(space, cut.slab, &spot);
    for &turn in wanted {
        let off = angle_off(turn, spot.turn, 360.0);
        if off.abs() <= tol::ANGLE {
            return;
        }
        if off.abs() > NEAR || off < free.0 - tol::ANGLE || off > free.1 + tol::ANGLE {
            continue;
        }
        let mut next = turned(space, cut, i, published_turn(turn));
        if !next.holds(space) {
            match exact::closed(space, &next, None, DEEP) {
                Some(found) if stayed(cut, &found, stays) && found.holds(space) => next = found,
                _ => continue,
            }
        }
        if next.margin(space) >= least.margin && next.worth(space) >= least.worth {
            *cut = next;
            return;
        }
    }
}

/// The cut with body `i` turned about the middle of its box.
fn turned(space: &Space<'_>, cut: &Cut, i: usize, turn: f64) -> Cut {
    let mut out = Cut::empty(cut.slab);
    for (j, spot) in cut.spots.iter().enumerate() {
        let spot = if j == i { space.turned(spot, turn, pt(0.0, 0.0)) } else { *spot };
        out.place(spot);
    }
    out
}

/// True if what must stay lies where it lay.
fn stayed(before: &Cut, after: &Cut, stays: &[bool]) -> bool {
    before.spots.iter().zip(&after.spots).zip(stays).all(|((a, b), stays)| !stays || a == b)
}
