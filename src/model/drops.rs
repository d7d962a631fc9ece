//! Which pieces of a slab lie in the drops of others, and what each piece takes of the slab.

use super::job::Piece;
use crate::geom::{Pose, Ring};

/// In what a piece lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holder {
    /// Index of the piece whose opening it is.
    pub piece: usize,
    /// Index of the opening in that piece.
    pub opening: usize,
}

/// For each piece of a slab the drop in which it lies, the innermost one; all points of its outline are in it.
#[must_use]
pub fn holders(laid: &[(&Piece, Pose)]) -> Vec<Option<Holder>> {
    let outlines: Vec<Ring> = laid.iter().map(|(p, pose)| pose.ring(&p.outline.ring)).collect();
    let mut drops: Vec<(Holder, Ring)> = Vec::new();
    for (k, (piece, pose)) in laid.iter().enumerate() {
        let own = piece.openings.iter().enumerate();
        drops.extend(own.map(|(o, opening)| (Holder { piece: k, opening: o }, pose.ring(&opening.ring))));
    }
    let boxes: Vec<_> = drops.iter().map(|(_, ring)| (ring.bbox(), ring.area())).collect();
    outlines
        .iter()
        .enumerate()
        .map(|(k, outline)| {
            let b = outline.bbox();
            let holds = |i: &usize| {
                let (holder, ring) = &drops[*i];
                let room = boxes[*i].0;
                let in_box =
                    b.min.x >= room.min.x && b.min.y >= room.min.y && b.max.x <= room.max.x && b.max.y <= room.max.y;
                holder.piece != k && in_box && outline.points().iter().all(|&p| ring.contains(p))
            };
            let inner = (0..drops.len()).filter(holds).min_by(|&i, &j| boxes[i].1.total_cmp(&boxes[j].1));
            inner.map(|i| drops[i].0)
        })
        .collect()
}

/// What a piece takes of its slab, mm².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Taken {
    /// Its outline with its openings filled, less the outlines of the pieces in its drops: so no stone is counted twice.
    pub outline: f64,
    /// Its openings, less the outlines of the pieces in them.
    pub openings: f64,
}

/// What each piece of a slab takes. The sum of the outlines is the area of their union.
#[must_use]
pub fn taken(laid: &[(&Piece, Pose)]) -> Vec<Taken> {
    let mut out: Vec<Taken> = laid
        .iter()
        .map(|(p, _)| Taken {
            outline: p.outline.ring.area(),
            openings: p.openings.iter().map(|o| o.ring.area()).sum::<f64>() + 0.0,
        })
        .collect();
    for (k, holder) in holders(laid).into_iter().enumerate() {
        if let Some(by) = holder {
            let area = laid[k].0.outline.ring.area();
            out[by.piece].outline -= area;
            out[by.piece].openings -= area;
        }
    }
    out
}
