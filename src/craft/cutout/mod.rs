//! The hole for a fixture that came without a template.
//!
//! In: rim, body or bowl, how much the rim must bear, the gap, the accuracy of template and cut, and the core bits of the shop.
//! Out: the smallest hole that works, what there is to spare, and what was done, in words; or why no hole works, with the place
//! and the figures. Must not know: where in the piece the hole lies, files.
//!
//! A hole works for a drop-in if it holds the body grown by clearance and accuracy, and lies in the rim shrunk by bearing and
//! accuracy. The accuracy counts on both sides: the line may be cut that much too far in or too far out. Of the holes that work
//! the smallest is chosen, because stone can be cut away later and never added.

mod corners;
mod ellipse;
mod offset;
mod under;
mod words;

use crate::geom::curve::Side;
use crate::geom::distance::{self, Nearest};
use crate::geom::{Point, Ring, tol};
use crate::model::{Drawn, Fixture, Shape, Shown, Spare};
use corners::{Bits, EXACT, NoHole, Rim};

use super::line;

/// The hole for a fixture, in the fixture's frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// The true shape.
    pub shape: Shape,
    /// What there is to spare, measured on the true lines (to 0.001 mm). Each figure is what is left at worst: a distance less the
    /// accuracy. `least_bearing` is the least distance between hole and rim less the accuracy, so it is at least the bearing that
    /// was asked for; `least_clearance` the same between body and hole; `may_still_cut` is the least bearing less the bearing that
    /// was asked for. For a bowl below the stone `may_still_cut` is what can be cut away until its rim shows, less the accuracy.
    /// For a cooktop whose rim is not known it is 0: nothing is known to be spare.
    pub spare: Spare,
    /// What was done, a sentence each.
    pub notes: Vec<String>,
}

/// Why no hole works. Points in the fixture's frame, lengths mm.
#[derive(Clone, Debug, PartialEq)]
pub enum CutOutFault {
    /// The rim reaches too little beyond the body.
    Narrow {
        /// On the body.
        at: Point,
        /// The nearest point of the rim.
        rim: Point,
        /// How far the rim reaches beyond the body there; negative where the body sticks out.
        found: f64,
        /// Bearing, clearance and twice the accuracy.
        needed: f64,
    },
    /// Body and rim leave room for a hole, but not for one whose corners the shop can core.
    NoBit {
        /// Where the hole comes too near to the rim.
        at: Point,
        /// Diameter of the smallest bit.
        smallest: f64,
        /// Diameter of the largest bit that certainly does.
        enough: f64,
        /// The bearing there with the smallest bit, at worst.
        found: f64,
        /// The bearing that was asked for.
        needed: f64,
    },
    /// The overhang leaves nothing of the bowl open.
    NoHole {
        /// The overhang.
        overhang: f64,
        /// Width of the bowl where it is narrowest from side to side of its box.
        width: f64,
    },
    /// The outline has notches or points too narrow for the program to follow at this distance.
    Unfollowed {
        /// The distance at which a line round the outline was to be drawn.
        distance: f64,
    },
    /// A size or a distance that no fixture has.
    TooLarge {
        /// What was given.
        figure: f64,
        /// The most that is taken.
        most: f64,
    },
    /// An outline of more arcs than can be measured.
    TooFine {
        /// Points of its fine drawing.
        points: usize,
        /// The most that are taken.
        most: usize,
    },
}

/// No bearing, clearance, accuracy or overhang is larger, mm.
pub const LARGEST: f64 = 200.0;

/// No fixture is larger, mm.
pub const MOST_SIZE: f64 = 10_000.0;

/// Corners of an outline: each may have to go before a line can follow the others.
const MOST_CORNERS: usize = 1000;

/// Points of the fine drawing of an outline: measuring takes their product in time.
const MOST_FINE: usize = 8000;

/// Chooses the hole. `core_bits` are diameters, mm; without any, every radius counts as one that can be cut. Notes give lengths in
/// the units `shown`.
///
/// # Errors
/// [`CutOutFault`].
pub fn choose(fixture: &Fixture, core_bits: &[f64], shown: Shown) -> Result<Chosen, CutOutFault> {
    let bits = Bits::of(core_bits);
    let too_large = match fixture {
        Fixture::DropIn { rim, body, bearing, clearance, accuracy } => {
            too_large(&[&rim.shape, &body.shape], &[*bearing, *clearance, *accuracy])
        }
        Fixture::Cooktop { body, clearance, accuracy } => too_large(&[&body.shape], &[*clearance, *accuracy]),
        Fixture::Undermount { bowl, overhang, accuracy } => too_large(&[&bowl.shape], &[*overhang, *accuracy]),
    };
    if let Some(fault) = too_large {
        return Err(fault);
    }
    match fixture {
        Fixture::DropIn { rim, body, bearing, clearance, accuracy } => {
            drop_in(rim, body, [*bearing, *clearance, *accuracy], &bits, shown)
        }
        Fixture::Cooktop { body, clearance, accuracy } => cooktop(body, *clearance, *accuracy, &bits, shown),
        Fixture::Undermount { bowl, overhang, accuracy } => under::choose(bowl, *overhang, *accuracy, &bits, shown),
    }
}

/// How far a fine line stays inside another, and where it is nearest; `None` where it sticks out or touches.
fn kept(inner: &Ring, outer: &Ring) -> Option<Nearest> {
    let near = distance::ring_lines(inner, outer);
    (near.distance > tol::SAME_POINT && outer.contains(inner.points()[0])).then_some(near)
}

/// How far a shape stays inside another, and where it is nearest; negative where it sticks out, then to [`tol::FLATTEN`] only,
/// for the depth of an overlap takes far longer than a distance.
fn measured(inner: &Shape, outer: &Shape) -> Nearest {
    kept(&line::outer(inner), &line::inner(outer)).unwrap_or_else(|| {
        let ring = |shape: &Shape, side| Ring::vouched_outline(shape.flatten(side).points);
        distance::inside_ring(&ring(inner, Side::Outer).to_region(), &ring(outer, Side::Inner))
    })
}

/// Outlines that take too many points to be drawn finely, and distances beyond any fixture.
fn too_large(shapes: &[&Shape], figures: &[f64]) -> Option<CutOutFault> {
    if let Some(&figure) = figures.iter().find(|f| f.is_nan() || f.abs() > LARGEST) {
        return Some(CutOutFault::TooLarge { figure, most: LARGEST });
    }
    let size = |s: &Shape| s.extent().width().max(s.extent().height());
    if let Some(&large) = shapes.iter().find(|s| size(s) > MOST_SIZE) {
        return Some(CutOutFault::TooLarge { figure: size(large), most: MOST_SIZE });
    }
    let corners = |s: &Shape| if let Shape::Polygon(c) = s { c.len() } else { 1 };
    if let Some(&large) = shapes.iter().find(|s| corners(s) > MOST_CORNERS) {
        return Some(CutOutFault::TooFine { points: corners(large), most: MOST_CORNERS });
    }
    let points = |s: &Shape| line::outer(s).points().len();
    shapes.iter().find(|s| points(s) > MOST_FINE).map(|s| CutOutFault::TooFine { points: points(s), most: MOST_FINE })
}

fn drop_in(
    rim: &Drawn,
    body: &Drawn,
    [bearing, clearance, accuracy]: [f64; 3],
    bits: &Bits,
    shown: Shown,
) -> Result<Chosen, CutOutFault> {
    let band = measured(&body.shape, &rim.shape);
    let needed = bearing + clearance + 2.0 * accuracy;
    if band.distance < needed - EXACT {
        return Err(CutOutFault::Narrow { at: band.from, rim: band.to, found: band.distance, needed });
    }
    let (by, least) = (clearance + accuracy, bearing + accuracy);
    let rim_ring = line::inner(&rim.shape);
    let limit = Rim { shape: &rim.shape, ring: &rim_ring, least };
    let mut notes = Vec::new();
    notes.extend(words::traced("Rim", rim, shown));
    notes.extend(words::traced("Body", body, shown));
    notes.push(words::grown(clearance, accuracy, shown));
    let hole = match corners::round(&body.shape, by, bits, Some(limit)) {
        Ok(hole) => hole,
        Err(fault) => {
            let most = (band.distance - by - least).max(0.0);
            let Some(hole) = corners::within(limit, &body.shape, by, most, bits) else {
                return Err(match fault {
                    NoHole::Unfollowed => CutOutFault::Unfollowed { distance: by },
                    NoHole::Rim(near) => CutOutFault::NoBit {
                        at: near.from,
                        smallest: 2.0 * bits.least(),
                        enough: 2.0 * tightest(&body.shape, by),
                        found: near.distance - accuracy,
                        needed: bearing,
                    },
                });
            };
            notes.push(words::FROM_RIM.to_owned());
            hole
        }
    };
    notes.extend(words::corners(&hole, bits, shown));
    notes.extend(words::ellipse(&body.shape, &hole.shape, by, shown));
    let bears = measured(&hole.shape, &rim.shape).distance - accuracy;
    let clears = measured(&body.shape, &hole.shape).distance - accuracy;
    let may_still_cut = (bears - bearing).max(0.0);
    notes.push(words::still(may_still_cut, shown));
    let spare = Spare { least_bearing: Some(bears), least_clearance: Some(clears), may_still_cut };
    Ok(Chosen { shape: hole.shape, spare, notes })
}

fn cooktop(body: &Drawn, clearance: f64, accuracy: f64, bits: &Bits, shown: Shown) -> Result<Chosen, CutOutFault> {
    let by = clearance + accuracy;
    let hole = corners::round(&body.shape, by, bits, None).map_err(|_| CutOutFault::Unfollowed { distance: by })?;
    let mut notes: Vec<String> = words::traced("Body", body, shown).into_iter().collect();
    notes.push(words::grown(clearance, accuracy, shown));
    notes.extend(words::corners(&hole, bits, shown));
    notes.extend(words::ellipse(&body.shape, &hole.shape, by, shown));
    notes.push(words::NO_RIM.to_owned());
    let clears = measured(&body.shape, &hole.shape).distance - accuracy;
    let spare = Spare { least_bearing: None, least_clearance: Some(clears), may_still_cut: 0.0 };
    Ok(Chosen { shape: hole.shape, spare, notes })
}

/// The least radius of a bulging corner of the line at a distance from a body.
fn tightest(body: &Shape, by: f64) -> f64 {
    match body {
        Shape::Ellipse { half_x, half_y, .. } => ellipse::least_radius(*half_x, *half_y) + by,
        Shape::Polygon(list) => (0..list.len())
            .filter(|&i| offset::turn(list, i) > 0.0)
            .map(|i| corners::grown_radius(list, i, by))
            .fold(f64::INFINITY, f64::min),
    }
}
