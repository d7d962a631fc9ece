//! The sides of a piece in words: which way they face, how long they are, how they are finished.

use super::measure;
use crate::geom::{Point, distance, pt};
use crate::model::{Finish, Outline, Piece, Shape};

/// Sides whose outward normal is within this many degrees of an axis bear its name.
const LEVEL: f64 = 10.0;

/// A side of an outline.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Edge {
    /// "front", "right", "back", "left", "slanted"; "all round" for a round piece.
    pub(super) faces: &'static str,
    /// The numbers of the corners between which it runs; none for a round piece.
    pub(super) between: Option<[usize; 2]>,
    /// Its ends where the sides would meet, piece frame.
    pub(super) ends: [Point; 2],
    /// From corner to corner, or all round, mm.
    pub(super) length: f64,
    pub(super) finish: Finish,
}

/// The sides of a piece in the order of its outline.
pub(super) fn edges(piece: &Piece) -> Vec<Edge> {
    let Outline { shape, finishes, .. } = &piece.outline;
    match shape {
        Shape::Polygon(corners) => {
            let n = corners.len();
            (0..n)
                .map(|i| {
                    let (a, b) = (corners[i].at, corners[(i + 1) % n].at);
                    let finish = finishes.get(i).cloned().unwrap_or_default();
                    let between = Some([i + 1, (i + 1) % n + 1]);
                    Edge { faces: faces(b - a), between, ends: [a, b], length: a.distance(b), finish }
                })
                .collect()
        }
        Shape::Ellipse { centre, half_y, .. } => {
            let low = *centre - pt(0.0, *half_y);
            let length = piece.outline.ring.perimeter();
            let finish = finishes.first().cloned().unwrap_or_default();
            vec![Edge { faces: "all round", between: None, ends: [low, low], length, finish }]
        }
    }
}

/// Where a side faces whose stone lies on its left.
fn faces(along: Point) -> &'static str {
    let turn = along.y.atan2(along.x).to_degrees();
    for (name, at) in [("front", 0.0), ("right", 90.0), ("back", 180.0), ("left", -90.0)] {
        let off: f64 = (turn - at + 180.0_f64).rem_euclid(360.0) - 180.0;
        if off.abs() <= LEVEL {
            return name;
        }
    }
    "slanted"
}

/// The finished edges of a piece in one line: "polished: front, left".
pub(super) fn told(piece: &Piece) -> String {
    let mut by_finish: Vec<(String, Vec<String>)> = Vec::new();
    let all = edges(piece);
    for e in &all {
        let Finish::Finished(name) = &e.finish else { continue };
        // More than one side may face the same way: then their corners tell them apart.
        let alone = all.iter().filter(|o| o.faces == e.faces).count() == 1;
        let words = match e.between {
            Some([a, b]) if !alone => format!("{} {a}-{b}", e.faces),
            _ => e.faces.to_owned(),
        };
        match by_finish.iter_mut().find(|f| f.0 == *name) {
            Some(f) => f.1.push(words),
            None => by_finish.push((name.clone(), vec![words])),
        }
    }
    if by_finish.is_empty() {
        return "no finished edge".to_owned();
    }
    let parts: Vec<String> = by_finish.iter().map(|(name, sides)| format!("{name}: {}", sides.join(", "))).collect();
    parts.join("; ")
}

/// The narrowest stone between an opening and its piece's outline, mm.
pub(super) fn rail(piece: &Piece, index: usize) -> Option<distance::Nearest> {
    let near = measure::narrowest_rail(piece, piece.openings.get(index)?);
    near.distance.is_finite().then_some(near)
}
