//! The last touches: widen the margin to flaws by moving all bodies at once ([`super::exact`]), then bring positions to whole
//! millimetres where that costs no clearance and at most a millimetre of an offcut.

use std::sync::Arc;

use super::exact;
use super::space::{Space, published};
use super::state::{Cut, Spot};
use super::{straight, swing};
use crate::geom::{BBox, Point, Pose, Region, Ring, distance, pt};
use crate::model::{Goal, Limits, Zones};
use crate::rules::{Body, forbidden_region};

/// Margins beyond this (mm) are as good as any: no flaw marked by hand is off by so much.
pub const ENOUGH: f64 = 200.0;

/// What an offcut may lose to whole millimetres on each side, mm.
const GIVE: f64 = 1.0;

/// A body lies askew for a margin that is wider by this, mm; for less it stays in line.
const WORTH_A_TURN: f64 = 1.0;

/// Nor does it for a margin that is wider than this anyway, mm, unless the margin counts first: marks drawn by hand are hardly off
/// by as much (common practice).
const WIDE: f64 = 30.0;

/// What stands still while one body moves.
struct Scene<'s, 'q> {
    space: &'s Space<'q>,
    slab: usize,
    bodies: Vec<Arc<Body>>,
    shifts: Vec<Point>,
    /// The rectangle that must stay free, with the gap round it.
    keep: Option<Region>,
    /// By how much bodies may come nearer to it than the gap, mm.
    give: f64,
    /// By body: it should stay where it is.
    stays: Vec<bool>,
}

impl Scene<'_, '_> {
    /// Least (distance - needed) of body `i` at `shift` against all but flaws.
    fn spare(&self, i: usize, shift: Point) -> f64 {
        let mut spare = f64::INFINITY;
        for j in 0..self.bodies.len() {
            if j != i {
                spare = spare.min(self.space.pair_spare(&self.bodies[i], shift, &self.bodies[j], self.shifts[j]));
                if spare < -1e-3 {
                    return spare;
                }
            }
        }
        if let Some(keep) = &self.keep {
            let need = self.space.limits().gap - self.give;
            let b = self.bodies[i].bbox;
            let moved_box = BBox { min: b.min + shift, max: b.max + shift };
            // Only what comes near is measured.
            let gap = moved_box.gap(&keep.bbox());
            if gap <= 0.0 || gap < need {
                let moved = Pose::new(0.0, shift).region(&self.bodies[i].stone().region);
                spare = spare.min(distance::regions(&moved, keep).distance - need);
            }
        }
        spare.min(self.rim(i, shift)).min(self.space.pin_spare(&self.bodies[i], shift, self.slab))
    }

    fn rim(&self, i: usize, shift: Point) -> f64 {
        let moved = Pose::new(0.0, shift).region(&self.bodies[i].stone().region);
        distance::inside_ring(&moved, &self.space.question.rack[self.slab].outline).distance - self.space.limits().trim
    }

    fn margin(&self, i: usize, shift: Point) -> f64 {
        self.space.static_spare(&self.bodies[i], shift, self.slab, true)
    }
}

/// The rectangle that is left and counts, as a region.
fn kept(space: &Space<'_>, cut: &mut Cut) -> Option<Region> {
    cut.rest(space).map(|r| Ring::vouched_outline(r.corners().to_vec()).to_region())
}

/// Settles one slab; the kept rectangle stays free.
pub fn settle(space: &Space<'_>, cut: &mut Cut) {
    // Where the margin counts first, the offcut gives way to it.
    let keep = if space.goal == Goal::Margin { None } else { kept(space, cut) };
    let stays: Vec<bool> = cut.spots.iter().map(|s| space.past.wishes(cut.slab, s)).collect();
    if let Some(shifts) = exact::settled(space, cut, keep.as_ref(), &stays, ENOUGH) {
        cut.move_to(&shifts);
    }
    if swing::can_turn(space, cut) {
        turn(space, cut, &stays);
    }
    let mut scene = Scene {
        space,
        slab: cut.slab,
        bodies: cut.bodies(space),
        shifts: cut.spots.iter().map(|s| s.shift).collect(),
        keep: None,
        give: 0.0,
        stays,
    };
    scene.keep = kept(space, cut);
    let (exact, worth) = (scene.shifts.clone(), cut.worth(space));
    // Whole millimetres are worth more to the person with the chalk than the last millimetre of an offcut; not more than
    // the offcut itself, where it is only just large enough to be kept.
    scene.give = GIVE;
    round(&mut scene);
    cut.move_to(&scene.shifts);
    if cut.worth(space) < 0.99 * worth {
        cut.move_to(&exact);
        scene.shifts = exact;
        scene.give = 0.0;
        round(&mut scene);
        cut.move_to(&scene.shifts);
    }
}

/// Turns what may be turned: in line with its grain and its neighbours, or, where that makes the margin clearly wider, by as much as
/// is best for it.
fn turn(space: &Space<'_>, cut: &mut Cut, stays: &[bool]) {
    straight::straighten(space, cut, stays);
    let margin = cut.margin(space);
    let (enough, keep) = match space.goal {
        Goal::Margin => (ENOUGH, None),
        _ => (WIDE, kept(space, cut)),
    };
    if margin >= enough {
        return;
    }
    let Some(mut wider) = swing::widened(space, cut, keep.as_ref(), stays, enough) else { return };
    straight::round_turns(space, &mut wider, stays);
    if wider.margin(space) >= margin + WORTH_A_TURN && wider.worth(space) >= 0.99 * cut.worth(space) {
        *cut = wider;
    }
}

/// Brings shifts to whole millimetres, or halves, tenths or hundredths, if all clearances then hold in full and no margin to a flaw
/// that is the least falls.
fn round(scene: &mut Scene<'_, '_>) {
    let n = scene.bodies.len();
    let least = (0..n).map(|i| scene.margin(i, scene.shifts[i])).fold(f64::INFINITY, f64::min);
    for i in (0..n).filter(|&i| !scene.stays[i]).collect::<Vec<_>>() {
        let at = scene.shifts[i];
        'steps: for step in [1.0, 0.5, 0.1, 0.01] {
            let near = pt((at.x / step).round() * step, (at.y / step).round() * step);
            let mut tries: Vec<Point> = [-1.0, 0.0, 1.0]
                .into_iter()
                .flat_map(|dx| [-1.0, 0.0, 1.0].into_iter().map(move |dy| near + pt(dx * step, dy * step)))
                .collect();
            tries.sort_by(|a, b| a.distance(at).total_cmp(&b.distance(at)));
            for to in tries.into_iter().take(6).map(published) {
                if scene.spare(i, to) >= -1e-9 && scene.margin(i, to) >= least.clamp(0.0, ENOUGH) - 1e-9 {
                    scene.shifts[i] = to;
                    break 'steps;
                }
            }
        }
    }
}

/// Least margin between a flaw and a zone that may not touch it on this slab, mm; infinite if none bears on it. Measured on the
/// zones themselves, not on the simpler ones of the bodies.
#[must_use]
pub fn margin(space: &Space<'_>, cut: &Cut) -> f64 {
    let pins = space.past.pins(cut.slab).map(|r| &r.spot);
    cut.spots.iter().chain(pins).map(|s| spot_margin(space, cut.slab, s)).fold(f64::INFINITY, f64::min)
}

/// The same for one body on a slab.
#[must_use]
pub fn spot_margin(space: &Space<'_>, slab: usize, spot: &Spot) -> f64 {
    let limits = space.limits();
    let mut least = f64::INFINITY;
    let piece = space.piece_of(spot.class);
    let pose = Pose::new(spot.turn, spot.shift);
    let mut zones: Vec<(Zones, Region)> = Vec::new();
    for flaw in &space.question.rack[slab].flaws {
        let forbidden = Limits::forbidden(flaw.allow);
        if !zones.iter().any(|z| z.0 == forbidden) {
            zones.push((forbidden, pose.region(&forbidden_region(piece, limits, forbidden))));
        }
        for zone in zones.iter().filter(|z| z.0 == forbidden && !z.1.is_empty()) {
            least = least.min(flaw.distance_to(&zone.1).distance - limits.flaw_gap);
        }
    }
    least
}
