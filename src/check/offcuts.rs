//! Offcuts that the plan promises are really there, and free.

use super::falls_short;
use super::finding::{Draft, lengths, place};
use super::reading::{Reading, Sheet};
use crate::geom::rectangle::Turned;
use crate::geom::{Point, Region, Ring, distance};
use crate::model::{Finding, Limits, Rectangle, Rule, Shown};

/// Every rectangle lies inside the slab by the trim and in its own outline, and keeps the gap from pieces, the flaw gap
/// from flaws that the field may not hold, and off the other rectangles. Every outline lies in the slab, off the pieces.
///
/// An outline that is not given is not judged; the rectangle is what is kept.
pub(super) fn are_free(sheet: &Sheet, reading: &Reading, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    let slab = sheet.slab;
    let mut earlier: Vec<Region> = Vec::new();
    for (i, offcut) in sheet.offcuts.iter().enumerate() {
        let name = format!("offcut {}", i + 1);
        let mut say = |at: Point, found: f64, needed: f64, from: &str| {
            let (f, n) = lengths(shown, found.abs(), needed);
            let message = if found < 0.0 {
                format!("{name} of {} crosses {from} by {f}; {n} between them is needed", slab.name)
            } else {
                format!("{name} of {} lies {f} from {from}; {n} is needed", slab.name)
            };
            let draft = Draft::broken(Rule::OffcutNotFree, message).slab(slab);
            findings.push(draft.at(at).measured(found, needed).into());
        };
        let mut demand = |near: distance::Nearest, needed: f64, from: &str| {
            if falls_short(near.distance, needed) {
                say(near.from, near.distance, needed, from);
            }
        };

        let rectangle = ring_of(&offcut.rectangle).to_region();
        demand(distance::inside_ring(&rectangle, &slab.outline), limits.trim, "the slab's outline");
        for standing in reading.standing_on(&slab.name) {
            let near = distance::regions(&rectangle, &standing.stone(limits.use_drops));
            demand(near, limits.gap, &format!("\"{}\"", standing.piece.name));
        }
        for flaw in slab.flaws.iter().filter(|flaw| Limits::offcut_zones().iter().any(|zone| !flaw.allow.has(zone))) {
            let near = flaw.distance_to(&rectangle);
            demand(near, limits.flaw_gap, &format!("the {} at {}", flaw.kind.name(), place(shown, near.from)));
        }
        for (k, other) in earlier.iter().enumerate() {
            demand(distance::regions(&rectangle, other), 0.0, &format!("offcut {}", k + 1));
        }

        if !offcut.outline.is_empty() {
            let points: Vec<Point> = offcut.outline.iter().map(|&p| p.into()).collect();
            if let Ok((ring, _)) = Ring::tidy(&points) {
                let region = ring.to_region();
                demand(distance::inside_ring(&rectangle, &ring), 0.0, "its own outline");
                demand(distance::inside_ring(&region, &slab.outline), 0.0, "the slab's outline");
                for standing in reading.standing_on(&slab.name) {
                    let near = distance::regions(&region, &standing.stone(limits.use_drops));
                    demand(near, 0.0, &format!("\"{}\"", standing.piece.name));
                }
            } else {
                let message = format!("the outline of {name} of {} crosses itself or has no area", slab.name);
                findings.push(Draft::broken(Rule::NumberNonsense, message).slab(slab).into());
            }
        }
        earlier.push(rectangle);
    }
}

fn ring_of(r: &Rectangle) -> Ring {
    let turned = Turned { corner: r.corner.into(), size: r.size, turn: r.turn };
    Ring::vouched_outline(turned.corners().to_vec())
}
