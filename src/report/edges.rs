//! The sides of a piece in words: which way they face, how long they are, how they are finished. All papers and the page name a side
//! by these words and no others.

use super::measure;
use crate::geom::{Point, distance};
use crate::model::{Bulge, Finish, Outline, OutlineSide, Piece};

/// Sides whose outward normal is within this many degrees of an axis bear its name.
const LEVEL: f64 = 10.0;

/// A side of a piece.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Edge {
    /// "front", "right", "back", "left", "slanted"; "curved front" and so on by the line between its ends; "all round".
    pub(super) faces: &'static str,
    pub(super) side: OutlineSide,
}

/// The sides of a piece in the order of its outline.
pub(super) fn edges(piece: &Piece) -> Vec<Edge> {
    sides(&piece.outline)
}

fn sides(outline: &Outline) -> Vec<Edge> {
    let faces = |s: &OutlineSide| {
        let along = s.ends[1] - s.ends[0];
        match (&s.curve, s.corners) {
            (None, _) => FACES[facing(along)],
            (Some(_), Some([a, b])) if a != b => CURVED[facing(along)],
            (Some(_), _) => "all round",
        }
    };
    outline.sides().into_iter().map(|side| Edge { faces: faces(&side), side }).collect()
}

impl Edge {
    /// The corners between which it runs, by their numbers; nothing if it runs all round.
    pub(super) fn between(&self) -> String {
        self.side.corners.map_or_else(String::new, |[a, b]| format!("{}-{}", a + 1, b + 1))
    }

    /// What it is called among all sides of its piece: where several face the same way, their corners tell them apart.
    pub(super) fn name(&self, all: &[Self]) -> String {
        let alone = all.iter().filter(|o| o.faces == self.faces).count() == 1;
        if alone || self.side.corners.is_none() {
            self.faces.to_owned()
        } else {
            format!("{} {}", self.faces, self.between())
        }
    }

    /// Radius and bulge of a curve, with lengths as `length` writes them; `None` of a straight side, and of an ellipse.
    pub(super) fn course(&self, length: impl Fn(f64) -> String) -> Option<String> {
        let curve = self.side.curve.as_ref()?;
        let mut words = Vec::new();
        let radii: Vec<String> =
            curve.radius.map_or_else(|| curve.radii(), |r| vec![r]).into_iter().map(&length).collect();
        match radii.len() {
            0 => {}
            1..=FEW => words.push(format!("R {}", radii.join(" and "))),
            n => words.push(format!("{n} radii")),
        }
        if curve.rise > 0.0 {
            let way = match curve.bulge {
                Bulge::Out => "bulging out",
                Bulge::In => "bulging in",
                Bulge::Both => "bulging both ways",
            };
            words.push(format!("{way} by {}", length(curve.rise)));
        }
        (!words.is_empty()).then(|| words.join(", "))
    }
}

/// More radii than this are counted, not listed.
const FEW: usize = 3;

const FACES: [&str; 5] = ["front", "right", "back", "left", "slanted"];
const CURVED: [&str; 5] = ["curved front", "curved right", "curved back", "curved left", "curved"];

/// Where a side faces whose stone lies on its left, as an index into the words.
fn facing(along: Point) -> usize {
    let turn = along.y.atan2(along.x).to_degrees();
    let level = |at: &f64| ((turn - at + 180.0_f64).rem_euclid(360.0) - 180.0).abs() <= LEVEL;
    [0.0, 90.0, 180.0, -90.0].iter().position(level).unwrap_or(4)
}

/// The finished sides of a piece in one line: "polished: front, left". `None` if there are none.
pub(super) fn told(piece: &Piece) -> Option<String> {
    let mut by_finish: Vec<(String, Vec<String>)> = Vec::new();
    let all = edges(piece);
    for e in &all {
        let Finish::Finished(name) = &e.side.finish else { continue };
        let words = e.name(&all);
        match by_finish.iter_mut().find(|f| f.0 == *name) {
            Some(f) => f.1.push(words),
            None => by_finish.push((name.clone(), vec![words])),
        }
    }
    let parts: Vec<String> = by_finish.iter().map(|(name, sides)| format!("{name}: {}", sides.join(", "))).collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// The narrowest stone between an opening and its piece's outline, mm.
pub(super) fn rail(piece: &Piece, index: usize) -> Option<distance::Nearest> {
    let near = measure::narrowest_rail(piece, piece.openings.get(index)?);
    near.distance.is_finite().then_some(near)
}
