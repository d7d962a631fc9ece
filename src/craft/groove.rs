//! Grooves for rods: what they keep clear of, the resin in them, the order of work.
//!
//! In: lines in the piece frame, the shop's rods. Out: whether and how far a groove is free; masses; words. Must not know: which
//! rail wants a rod.

use super::rods::{FROM_EDGE, FROM_HOLE, Setting};
use crate::geom::distance::segments;
use crate::geom::{Point, Ring, tol};
use crate::model::openings::Rod;
use crate::model::{Rods, Shown, show_mm};

/// Mass of resin for a groove with a rod of a length (mm) in it, g: the groove with its ramps, less the rod, and the waste.
///
/// Seen from the side the two ramps together are the segment of the blade's circle that is as high as the groove is deep:
/// `R² acos((R - h) / R) - (R - h) sqrt(2 R h - h²)`.
pub(super) fn resin(shop: &Rods, diameter: f64, width: f64, depth: f64, length: f64) -> f64 {
    let radius = shop.blade.diameter / 2.0;
    let chord = shop.blade.overrun(depth).unwrap_or(0.0);
    let ramps = radius * radius * ((radius - depth) / radius).clamp(-1.0, 1.0).acos() - (radius - depth) * chord;
    let groove = width * (depth * length + ramps);
    let rod = std::f64::consts::PI / 4.0 * diameter * diameter * length;
    (groove - rod).max(0.0) / 1000.0 * shop.resin_density * (1.0 + shop.waste)
}

/// What a groove must keep clear of.
pub(super) struct Clear<'a> {
    pub(super) setting: &'a Setting<'a>,
    pub(super) opening: usize,
    pub(super) from_edge: f64,
    pub(super) width: f64,
    pub(super) laid: &'a [&'a Rod],
}

impl Clear<'_> {
    /// True if the groove from `a` to `b` keeps its distance from edges, openings and other grooves.
    pub(super) fn of(&self, a: Point, b: Point) -> bool {
        let piece = self.setting.piece;
        let half = self.width / 2.0;
        // Polylines may be off by as much.
        let off = |ring: &Ring| {
            let near = ring.edges().map(|(c, d)| segments(a, b, c, d).distance).fold(f64::INFINITY, f64::min);
            near - tol::FLATTEN
        };
        piece.outline.ring.contains(a)
            && off(&piece.outline.ring) >= self.from_edge.max(half)
            && piece.openings.iter().enumerate().all(|(i, o)| {
                let needed = if i == self.opening { half } else { half + FROM_HOLE };
                !o.ring.contains(a) && off(&o.ring) >= needed
            })
            && self.laid.iter().all(|rod| {
                let (c, d) = (Point::from(rod.groove_from), Point::from(rod.groove_to));
                segments(a, b, c, d).distance >= half + rod.groove_width / 2.0 + FROM_HOLE
            })
    }

    /// How far past `near` a groove from `centre` may run in a direction and end [`FROM_EDGE`] short of the edge, at most `most`.
    pub(super) fn length(&self, centre: Point, near: Point, along: Point, most: f64) -> f64 {
        let edge = self.setting.piece.outline.ring.edges().filter_map(|(a, b)| {
            // Where the line ahead leaves the piece.
            let (s, t) = (along.cross(a - near), along.cross(b - near));
            if (s > 0.0) == (t > 0.0) {
                return None;
            }
            let ahead = (a.lerp(b, s / (s - t)) - near).dot(along);
            (ahead > 0.0).then_some(ahead)
        });
        let most = edge.map(|ahead| ahead - FROM_EDGE).fold(most, f64::min);
        if most <= 0.0 || self.of(centre, near + along * most) {
            return most;
        }
        // Longer is never clearer: halve the doubt.
        let (mut free, mut hit) = (0.0, most);
        while hit - free > 0.05 {
            let middle = (free + hit) / 2.0;
            if self.of(centre, near + along * middle) {
                free = middle;
            } else {
                hit = middle;
            }
        }
        free
    }
}

/// The order of work with its cautions, lengths in the units `shown`. From trade-association tests, suppliers' pages and common practice.
pub(super) fn steps(shop: &Rods, rods: &[Rod], shown: Shown) -> Vec<String> {
    let resin: f64 = rods.iter().map(|r| r.resin_g).sum();
    let hardener: f64 = rods.iter().map(|r| r.hardener_g).sum();
    let most = rods.iter().map(|r| r.groove_width).fold(0.0, f64::max);
    let passes = (most / shop.blade.kerf).ceil();
    let mut steps = vec![
        "before the opening is cut, lay the piece face down, flat and supported over its whole area".to_owned(),
        format!(
            "cut the grooves into the back with the blade of {}{}, wet, with a mask and hearing and eye protection: measure the \
             depth first, for what is cut too deep cannot be mended",
            shown.said(shop.blade.diameter),
            if passes > 1.0 {
                format!(" ({} wide: {passes:.0} passes side by side)", shown.said(shop.blade.kerf))
            } else {
                String::new()
            }
        ),
        "let the stone dry through: resin does not hold on wet stone. Blow the grooves out".to_owned(),
        "wipe rod and groove free of dust and oil with a solvent (acetone), no wax and no water; roughen a smooth rod. Open the doors, \
         keep sparks and flames away, wear nitrile gloves and goggles"
            .to_owned(),
        format!(
            "mix {resin:.0} g{} of resin with {hardener:.1} g{} of hardener in all ({} % by mass; read the tin, which rules; less in heat, more \
             in cold). Waste of {} % is in it. Mix what you can place before it sets: polyester stays workable for 3 to 8 minutes at \
             20 °C, epoxy for 5 to 60, and half as long for each 10 °C more",
            shown.ounces(resin),
            shown.ounces(hardener),
            show_mm(shop.hardener * 100.0),
            show_mm(shop.waste * 100.0)
        ),
        "never mix in a foam cup, which the resin dissolves; large mixes overheat; hardener never with accelerator: together they can \
         explode"
            .to_owned(),
        format!(
            "fill the groove by half, press the rod in so that resin wells up all round it, fill up. The rod lies wholly below the surface, \
             under {} of resin",
            shown.said(shop.cover)
        ),
        "let it cure before the piece is moved or the opening is cut: polyester 20 to 30 minutes, epoxy 4 to 24 hours (at 20 °C; the tin \
         rules). Then grind the back flush"
            .to_owned(),
    ];
    steps.push(
        "glass mesh in resin over the back of the rails holds more than rods alone (a trade association's tests of 2000, published by \
         a supplier)"
            .to_owned(),
    );
    if rods.iter().any(|r| r.stone_above < 15.0) {
        steps.push("the stone above the grooves is thin: do not clamp or lift there".to_owned());
    }
    steps
}
