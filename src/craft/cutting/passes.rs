//! Saw passes along the straight sides of an opening.
//!
//! In: corners with what is made of them, blades. Out: passes and notes. Must not know: cores.

use super::corners::{Made, Turn, made_ring};
use super::strip::Line;
use super::{Making, note};
use crate::geom::{Point, Ring};
use crate::model::openings::{Cutting, Pass};
use crate::model::{Blade, Shown};

/// By how much two cuts from both faces pass one another, mm: neither is exactly as deep as it should be (common practice:
/// 1 to 3 mm, as for cuts into the table).
const MEET: f64 = 2.0;

/// A side shorter than this needs no saw: its cores meet, mm.
const NO_SIDE: f64 = 0.5;

/// Directions of sides this near to an axis have its name (sine of 1 degree).
const UPRIGHT: f64 = 0.0175;

/// A straight side of an opening, the hole to its left.
pub(super) struct Side {
    /// front, right, back, left, or "side N".
    pub(super) name: String,
    /// From its corner on.
    line: Line,
    /// From corner to corner, mm.
    length: f64,
    /// How its start and its end are bounded.
    ends: [Turn; 2],
}

/// The sides of an opening, with their names.
pub(super) fn sides(turns: &[Turn]) -> Vec<Side> {
    let n = turns.len();
    let facing = |d: Point| {
        // The hole is to the left, so the side that runs to the right is the front.
        if d.y.abs() < UPRIGHT {
            Some(if d.x > 0.0 { "front" } else { "back" })
        } else if d.x.abs() < UPRIGHT {
            Some(if d.y > 0.0 { "right" } else { "left" })
        } else {
            None
        }
    };
    let names: Vec<Option<&str>> = turns.iter().map(|t| facing(t.sides[1])).collect();
    (0..n)
        .map(|i| {
            let name = match names[i] {
                Some(name) if names.iter().filter(|&&other| other == Some(name)).count() == 1 => name.to_owned(),
                _ => format!("side {}", i + 1),
            };
            Side {
                name,
                line: Line { start: turns[i].at, along: turns[i].sides[1] },
                length: turns[i].lengths[1],
                ends: [turns[i], turns[(i + 1) % n]],
            }
        })
        .collect()
}

/// A cut to be tried along a side.
#[derive(Clone, Copy)]
pub(super) struct Cut {
    /// With which blade.
    pub(super) blade: Blade,
    /// How deep, mm.
    pub(super) depth: f64,
    /// At what depth the length is counted that is left uncut, mm.
    pub(super) goal: f64,
    /// Whether from the back.
    pub(super) from_back: bool,
}

impl Side {
    /// What the corner at an end takes from the straight side for a cut of this kerf, mm.
    fn taken(&self, end: usize, kerf: f64) -> f64 {
        let turn = &self.ends[end];
        let bare = std::f64::consts::PI - turn.angle;
        // In a sharp corner of less than a right angle the kerf meets the other side before its edge does.
        let wedge =
            if bare < std::f64::consts::FRAC_PI_2 && kerf > 2.0 * turn.made_radius() { kerf / bare.tan() } else { 0.0 };
        turn.taken().max(wedge)
    }

    fn is_open(&self, end: usize) -> bool {
        self.ends[end].angle < 0.0
    }

    /// From and to which place along the side stone is to be sawn by a blade of this kerf.
    fn stretch(&self, kerf: f64) -> [f64; 2] {
        let lost = |end: usize| if self.is_open(end) { 0.0 } else { self.taken(end, kerf) };
        [lost(0), self.length - lost(1)]
    }

    /// How far the strip of the kerf is free past the end of the side, at most `most`, mm.
    fn room(&self, end: usize, ring: &Ring, kerf: f64, most: f64) -> f64 {
        // Seen from the start the line runs backwards, and the strip lies to its right.
        if end == 1 {
            self.line.first_hit(ring, kerf, self.length, self.length + most).map_or(most, |s| s - self.length)
        } else {
            let start = self.line.at(0.0, kerf);
            let back = Line { start, along: -self.line.along };
            back.first_hit(ring, kerf, 0.0, most).unwrap_or(most)
        }
    }

    /// The pass of a cut from `from` to `to` along the side, or all of the side. `None` if the blade does not reach the
    /// depth, the side is too short for it, or other stone is in the way.
    pub(super) fn pass(&self, cut: Cut, ring: &Ring, part: Option<[f64; 2]>) -> Option<Pass> {
        let Cut { blade, depth, goal, from_back } = cut;
        let overrun = blade.overrun(depth)?;
        let short = blade.left_under(goal, depth)?;
        let mut span = part.unwrap_or_else(|| self.stretch(blade.kerf));
        let mut left = [short; 2];
        for end in [0, 1] {
            if part.is_none() && self.is_open(end) {
                let room = self.room(end, ring, blade.kerf, short);
                span[end] += if end == 0 { -room } else { room };
                left[end] = short - room;
            }
        }
        let [from, to] = span;
        if to - from <= 2.0 * overrun || !self.line.is_free(ring, blade.kerf, from, to) {
            return None;
        }
        let middle = blade.kerf / 2.0;
        Some(Pass {
            side: self.name.clone(),
            from: self.line.at(from, 0.0).into(),
            to: self.line.at(to, 0.0).into(),
            blade: Some(blade.diameter),
            full_depth_from: Some(self.line.at(from + overrun, middle).into()),
            full_depth_to: Some(self.line.at(to - overrun, middle).into()),
            left_under: left,
            from_back,
            depth,
            kerf: Some(blade.kerf),
            overrun: Some(overrun),
        })
    }

    /// The two halves of the side round a tab of a length at its middle.
    pub(super) fn round_tab(&self, kerf: f64, tab: f64) -> ([f64; 2], [f64; 2], Point) {
        let [from, to] = self.stretch(kerf);
        let middle = (from + to) / 2.0;
        ([from, middle - tab / 2.0], [middle + tab / 2.0, to], self.line.at(middle, 0.0))
    }

    /// True if only cores are needed: they meet, and there is no straight stretch.
    pub(super) fn is_gone(&self) -> bool {
        let [from, to] = self.stretch(0.0);
        to - from < NO_SIDE
    }

    /// Both ends of its straight stretch.
    pub(super) fn straight(&self) -> [Point; 2] {
        self.stretch(0.0).map(|s| self.line.at(s, 0.0))
    }

    /// True for a step of a curve.
    pub(super) fn is_step(&self) -> bool {
        self.ends.iter().all(|t| t.made == Made::Step || t.made == Made::Open && t.angle.to_degrees() > -15.0)
    }
}

/// A pass for every straight side.
pub(super) fn passes(turns: &[Turn], making: Making<'_>, cutting: &mut Cutting) {
    let Making { tools, thickness, shown } = making;
    let said = |mm: f64| shown.said(mm);
    let ring = made_ring(turns);
    let blades = tools.blades_by_size();
    let through = tools.through(thickness);
    for blade in blades.iter().filter(|b| b.overrun(through).is_none()) {
        note(
            cutting,
            format!(
                "the blade of {} does not reach {} deep: it would need {} at least",
                said(blade.diameter),
                said(through),
                said(2.0 * through)
            ),
        );
    }
    let shortest = blades.iter().filter_map(|b| b.overrun(through)).reduce(f64::min).map(|e| 2.0 * e);
    let mut steps = 0;
    for side in sides(turns) {
        if side.is_gone() {
            continue;
        }
        let whole = |blade: Blade| Cut { blade, depth: through, goal: thickness, from_back: false };
        if let Some(pass) = blades.iter().find_map(|&b| side.pass(whole(b), &ring, None)) {
            let first = blades.iter().find_map(|b| Some((b.diameter, b.overrun(through)?)));
            if let (Some((largest, overrun)), Some(taken)) = (first, pass.blade)
                && taken < largest
            {
                let [from, to] = side.stretch(0.0);
                note(
                    cutting,
                    format!(
                        "{} ({} straight) has no room for the blade of {}, which needs more than {} clear of other stone: \
                         take the one of {}",
                        side_words(&side.name),
                        said(to - from),
                        said(largest),
                        said(2.0 * overrun),
                        said(taken)
                    ),
                );
            }
            cutting.passes.push(pass);
            continue;
        }
        if side.is_step() {
            steps += 1;
            continue;
        }
        let half = |blade: Blade, from_back: bool| Cut {
            blade,
            depth: (thickness + MEET) / 2.0,
            goal: thickness / 2.0,
            from_back,
        };
        let both = blades
            .iter()
            .find_map(|&b| Some([side.pass(half(b, false), &ring, None)?, side.pass(half(b, true), &ring, None)?]));
        let [from, to] = side.stretch(0.0);
        if let Some(both) = both {
            note(
                cutting,
                format!(
                    "{} ({} straight) is too short for a full cut from one face: cut it {} deep from the face, turn the \
                     piece over, find the line by the cores, and cut it {} deep from the back",
                    side_words(&side.name),
                    said(to - from),
                    said(both[0].depth),
                    said(both[1].depth)
                ),
            );
            cutting.passes.extend(both);
            continue;
        }
        let needed = shortest.map_or_else(
            || "no blade of the shop reaches through".to_owned(),
            |long| {
                format!("the smallest blade that reaches through needs more than {}, clear of other stone", said(long))
            },
        );
        note(
            cutting,
            format!(
                "no blade can saw {} ({} straight): {needed}. Cut it by water or router, or by a row of small cuts and grinding",
                side_words(&side.name),
                said(to - from)
            ),
        );
        cutting.passes.push(Pass {
            side: side.name.clone(),
            from: side.line.at(from, 0.0).into(),
            to: side.line.at(to, 0.0).into(),
            blade: None,
            full_depth_from: None,
            full_depth_to: None,
            left_under: [to - from, to - from],
            from_back: false,
            depth: through,
            kerf: None,
            overrun: None,
        });
    }
    if steps > 0 {
        note(
            cutting,
            format!(
                "{steps} short sides are steps of a curve: no saw passes. Cut them by water or router, or by a row of small cuts \
                 and grinding"
            ),
        );
    }
    how_to_finish(&blades, making, cutting);
}

fn side_words(name: &str) -> String {
    if name.starts_with("side ") { name.to_owned() } else { format!("the {name} side") }
}

/// Why from the face, what is left underneath, and with what it is finished.
fn how_to_finish(blades: &[Blade], making: Making<'_>, cutting: &mut Cutting) {
    let Making { tools, thickness, shown } = making;
    let said = |mm: f64| shown.said(mm);
    let through = tools.through(thickness);
    if !cutting.cores.is_empty() && cutting.passes.iter().any(|p| p.blade.is_some()) {
        cutting.cutting_notes.insert(0, "drill all cores first, then saw from core to core".to_owned());
    }
    let sawn = cutting.passes.iter().filter(|p| p.blade.is_some());
    let left = sawn.clone().flat_map(|p| p.left_under).fold(0.0, f64::max);
    if sawn.clone().any(|p| !p.from_back) {
        note(
            cutting,
            "saw from the face: there the cut is longest and must end where the core begins, and what is left uncut lies \
             underneath. From the back it would be the other way round, with uncut stone on the face"
                .to_owned(),
        );
    }
    if left <= 0.0 {
        return;
    }
    let largest = cutting.passes.iter().filter_map(|p| p.blade).fold(0.0, f64::max);
    let small = blades.iter().rev().find_map(|b| Some((b.diameter, b.left_under(thickness, through)?)));
    let finish = match small {
        Some((diameter, rest)) if diameter < largest => format!(
            "the blade of {}{} brings it down to {}; finish that by hand from the core",
            said(diameter),
            // Nobody should have to read "in in".
            if shown == Shown::In { ", in the same line," } else { " in the same line" },
            said(rest)
        ),
        _ => "finish it by hand from the core".to_owned(),
    };
    note(
        cutting,
        format!(
            "up to {} near each corner are left uncut underneath; do not saw past the core to shorten it, since a cut past a \
             corner starts a crack: {finish}. Hold the drop from below before its last stone is cut",
            said(left)
        ),
    );
}
