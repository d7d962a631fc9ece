//! The bodies of one slab moved at once by linear programmes ([`super::legal`]): overlaps closed, margins widened.

use std::sync::Arc;

use super::legal::{Bond, Goal, Range, Scene};
use super::shapes::Pair;
use super::space::{Space, published};
use super::state::Cut;
use crate::geom::cell::Obstacle;
use crate::geom::{BBox, Point, Region, boolean, pt, sum, tol};
use crate::model::Limits;
use crate::rules::{Against, clearance};

/// Round corners of what is forbidden as polygons: at most this much too large, mm.
const EXCESS: f64 = 0.02;

/// What one body must keep out of, but for the other bodies.
struct Fixed {
    body: usize,
    obstacle: Obstacle,
    flaw: bool,
}

/// All that bears on the bodies of a slab.
struct Parts {
    shifts: Vec<Point>,
    boxes: Vec<BBox>,
    fixed: Vec<Fixed>,
    pairs: Vec<(usize, usize, Arc<Pair>)>,
}

impl Parts {
    fn scene(&self) -> Scene<'_> {
        let fixed = self.fixed.iter().map(|f| Bond {
            from: None,
            body: f.body,
            obstacle: &f.obstacle,
            quarters: 0,
            flaw: f.flaw,
        });
        let pairs = self.pairs.iter().map(|(i, j, pair)| Bond {
            from: Some(*i),
            body: *j,
            obstacle: pair.obstacle(),
            quarters: 0,
            flaw: false,
        });
        Scene { shifts: self.shifts.clone(), boxes: self.boxes.clone(), bonds: fixed.chain(pairs).collect(), work: 0 }
    }
}

/// What every layout of these bodies must respect; `None` if a body has no place at all.
fn parts(space: &Space<'_>, cut: &Cut, keep: Option<&Region>) -> Option<Parts> {
    let grown = keep.map(|k| sum::grown(k, space.limits().gap, EXCESS));
    let mut out = Parts { shifts: Vec::new(), boxes: Vec::new(), fixed: Vec::new(), pairs: Vec::new() };
    for (body, spot) in cut.spots.iter().enumerate() {
        let mut region = space.free(spot.class, spot.turn, cut.slab);
        if let Some(grown) = &grown {
            let taken = sum::hits(grown, &space.body(spot.class, spot.turn).stone().parts);
            region = Arc::new(boolean::difference(&region, &taken));
        }
        if region.is_empty() {
            return None;
        }
        out.shifts.push(spot.shift);
        // Where it lies may be outside by a trifle.
        let (b, slack) = (region.bbox(), pt(1.0, 1.0));
        out.boxes.push(BBox { min: b.min - slack, max: b.max + slack });
        out.fixed.push(Fixed { body, obstacle: Obstacle::outside(&region), flaw: false });
        for (other, before) in cut.spots[..body].iter().enumerate() {
            out.pairs.push((other, body, space.pair(before.class, before.turn, spot.class, spot.turn)));
        }
    }
    Some(out)
}

/// The cut with overlaps (and overhangs) of up to `deep` (mm) closed by moves as small as can be; `None` if that is not found.
/// `keep` is stone to leave alone.
pub fn closed(space: &Space<'_>, cut: &Cut, keep: Option<&Region>, deep: f64) -> Option<Cut> {
    let parts = parts(space, cut, keep)?;
    let mut scene = parts.scene();
    let range = Range { reach: 10.0 * deep, deep, give: 0.0, most: 0.0 };
    if !scene.strive(&Goal::Still, &range, 6, 0.0) {
        return None;
    }
    let mut out = cut.clone();
    out.move_to(&scene.shifts.iter().map(|&s| published(s)).collect::<Vec<Point>>());
    Some(out)
}

/// Shifts at which the least margin to flaws is as wide as it gets by moves of all bodies at once, up to `enough` (mm), and every
/// clearance holds in full if that can be; `None` if none are found. `keep` is stone to leave alone; `stays` says of each body
/// whether it must stay where it is.
pub fn settled(space: &Space<'_>, cut: &Cut, keep: Option<&Region>, stays: &[bool], enough: f64) -> Option<Vec<Point>> {
    let rack = &space.question.rack[cut.slab];
    let mut parts = parts(space, cut, keep)?;
    for ((at, b), _) in parts.shifts.iter().zip(&mut parts.boxes).zip(stays).filter(|(_, s)| **s) {
        *b = BBox { min: *at, max: *at };
    }
    for (body, spot) in cut.spots.iter().enumerate() {
        let shape = space.body(spot.class, spot.turn);
        for flaw in &rack.flaws {
            let against = Against::Flaw(Limits::forbidden(flaw.allow));
            for layer in &shape.layers {
                if let Some(need) = clearance(layer.layer, against, space.limits()) {
                    let region = sum::hits_parts(&flaw.grown_parts(need, EXCESS), &layer.region);
                    parts.fixed.push(Fixed { body, obstacle: Obstacle::region(&region), flaw: true });
                }
            }
        }
    }
    let goal = if parts.fixed.iter().any(|f| f.flaw) { Goal::Widen(enough) } else { Goal::Still };
    let mut scene = parts.scene();
    // The regions are too small by the lenience; so this is as much more than what must be.
    let range = Range { reach: 60.0, deep: 0.1, give: -2.0 * tol::LENIENCE, most: 0.0 };
    scene.strive(&goal, &range, 30, 0.01).then(|| scene.shifts.iter().map(|&s| published(s)).collect())
}
