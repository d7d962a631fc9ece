//! Which class may lie on which slab: "no" only by proof.

use super::PROOF_SLACK;
use crate::rules::{Turns, claimed_at_least};
use crate::search::space::Space;

/// False only if the class provably cannot lie on the slab.
pub(super) fn may_lie(proof: &Space<'_>, class: usize, slab: usize, exact: bool) -> bool {
    let room = &proof.slab(slab).room;
    if stone_area(proof, class) > room.area() {
        return false;
    }
    match crate::rules::turns(proof.piece_of(class), &proof.question.rack[slab]) {
        // At any turn: the farthest two points of the body must find room within the farthest two of the slab.
        Turns::Free => proof.classes[class].diameter <= proof.slab(slab).diameter + 1e-6,
        Turns::Near { centres, tolerance: 0.0 } => centres.iter().any(|&t| {
            let b = proof.body(class, t).bbox;
            let r = room.bbox();
            b.width() <= r.width() + 1e-6
                && b.height() <= r.height() + 1e-6
                && (!exact || !proof.free(class, t, slab).is_empty())
        }),
        Turns::Near { centres, tolerance } => {
            centres.iter().any(|&t| may_lie_near(proof, class, slab, t - tolerance, t + tolerance, 0, exact))
        }
    }
}

/// As [`may_lie`] for a range of turns, which is halved until each half is refuted or too narrow to go on.
///
/// At the middle of the range no point of the body is farther than `2 R sin(a / 2)` from where it would be at any turn of
/// the range (half width `a`, `R` the largest distance from the middle of the body): a body that fits at such a turn
/// fits at the middle one with clearances smaller by that.
fn may_lie_near(proof: &Space<'_>, class: usize, slab: usize, from: f64, to: f64, depth: u32, exact: bool) -> bool {
    if !exact {
        return true;
    }
    let mid = (from + to) / 2.0;
    let base = proof.body(class, 0.0);
    let centre = base.bbox.centre();
    let radius = base.stone().region.rings().flat_map(|r| r.points()).map(|p| p.distance(centre)).fold(0.0, f64::max);
    let moved = 2.0 * radius * ((to - from).to_radians() / 4.0).sin();
    let body = base.turned(mid);
    if proof.free_with(&body, slab, PROOF_SLACK + moved, None).is_empty() {
        return false;
    }
    if depth >= 5 {
        return true;
    }
    may_lie_near(proof, class, slab, from, mid, depth + 1, exact)
        || may_lie_near(proof, class, slab, mid, to, depth + 1, exact)
}

/// Area that a body takes from others, mm²: of its own outline, not of the simpler one that the search uses.
pub(super) fn stone_area(space: &Space<'_>, class: usize) -> f64 {
    let piece = space.piece_of(class);
    claimed_at_least(piece, space.limits()).area()
}
