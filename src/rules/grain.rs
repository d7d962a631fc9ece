//! Which turns the grain allows.

use crate::model::{GrainWish, Piece, Slab};

/// The turns at which a piece may lie on a slab.
#[derive(Clone, Debug, PartialEq)]
pub enum Turns {
    /// Any turn.
    Free,
    /// Any turn within `tolerance` degrees of one of the centres (degrees in `[0, 360)`).
    Near {
        /// One, or two half a turn apart.
        centres: Vec<f64>,
        /// Degrees either way.
        tolerance: f64,
    },
}

/// The turns that bring the piece's grain wish in line with the slab's grain.
#[must_use]
pub fn turns(piece: &Piece, slab: &Slab) -> Turns {
    let (GrainWish::Towards(wish), Some(grain)) = (piece.grain, slab.grain) else { return Turns::Free };
    let first = (grain - wish).rem_euclid(360.0);
    let tolerance = piece.grain_tolerance;
    if tolerance >= 180.0 || (!piece.one_way && tolerance >= 90.0) {
        return Turns::Free;
    }
    let mut centres = vec![first];
    if !piece.one_way {
        centres.push((first + 180.0).rem_euclid(360.0));
    }
    Turns::Near { centres, tolerance }
}
