//! Whether openings and the rims over them lie where there is stone.
//!
//! In: openings in the piece frame, the piece's outline. Out: remarks. Must not know: keys of files.

use super::fixture;
use super::reader::Value;
use super::shape::at;
use crate::diag::Kind;
use crate::geom::curve::Side;
use crate::geom::{BBox, Point, Ring, boolean, distance, tol};
use crate::model::{Opening, Outline};
use crate::units::Decimal;

/// Two lines nearer than this (mm) leave no stone between them.
const NO_STONE: f64 = 1e-6;

/// Says where an opening leaves its piece. True if it does not.
pub(super) fn check_inside(opening: &Opening, value: &Value<'_>, outline: &Outline) -> bool {
    // Only sides near the opening's box can touch it; without a touch, one point inside means all of it.
    let room = opening.ring.bbox();
    let sides: Vec<_> = outline.ring.edges().filter(|&(a, b)| BBox::of([&a, &b]).near(&room, 2.0 * NO_STONE)).collect();
    let near = distance::lines(opening.ring.edges(), sides.iter().copied());
    let first = opening.ring.points()[0];
    if near.distance > NO_STONE && outline.ring.contains(first) {
        return true;
    }
    let touch = if sides.is_empty() { first } else { near.to };
    let (by, place) = farthest_out(&opening.ring, &outline.ring).unwrap_or((0.0, touch));
    let given = if by > NO_STONE {
        format!("\"{}\" leaves the piece by {} mm at {}", opening.name, Decimal(by, 1), at(place))
    } else {
        format!("\"{}\" touches the piece's outline at {}", opening.name, at(place))
    };
    let expected = "an opening with stone all round";
    value.error(Kind::OpeningOutside, given, expected, "move it, or check its size and the piece's outline");
    false
}

/// The point of `ring` that is farthest outside `of`, and how far; `None` if all of it is inside.
fn farthest_out(ring: &Ring, of: &Ring) -> Option<(f64, Point)> {
    let out = boolean::difference(&ring.to_region(), &of.to_region());
    let points = out.rings().flat_map(Ring::points);
    points.map(|&p| (distance::lines(std::iter::once((p, p)), of.edges().collect::<Vec<_>>()).distance, p)).fold(
        None,
        |best: Option<(f64, Point)>, (d, p)| match best {
            Some((most, _)) if most >= d => best,
            _ => Some((d, p)),
        },
    )
}

/// By how much (mm) two outlines overlap, and where; `None` if there is stone between them.
pub(super) fn overlap(a: &Ring, b: &Ring) -> Option<(f64, Point)> {
    if !a.bbox().near(&b.bbox(), NO_STONE) {
        return None;
    }
    let near = distance::regions(&a.to_region(), &b.to_region());
    (near.distance <= NO_STONE).then(|| {
        let both = boolean::intersection(&a.to_region(), &b.to_region());
        let size = both.bbox();
        if both.is_empty() { (0.0, near.to) } else { (size.width().min(size.height()), size.centre()) }
    })
}

/// The rim that rests on the stone round an opening, where one is known.
fn rim(opening: &Opening) -> Option<Ring> {
    let rim = fixture::rim(&opening.origin.as_ref()?.fixture)?;
    Some(Ring::vouched_outline(rim.flatten(Side::Inner).points))
}

/// Says where a rim reaches beyond its piece.
pub(super) fn check_on_stone(opening: &Opening, value: &Value<'_>, outline: &Outline) {
    let Some(rim) = rim(opening) else { return };
    let Some((by, place)) = farthest_out(&rim, &outline.ring).filter(|(by, _)| *by > tol::CLEARANCE) else { return };
    let given = format!(
        "the rim of \"{}\" reaches {} mm beyond the piece's edge at {}",
        opening.name,
        Decimal(by, 1),
        at(place)
    );
    let expected = "a rim on the stone all round";
    value.error(Kind::RimOutside, given, expected, "move the opening, or check the rim and the piece's outline");
}

/// Says where the rim of an opening meets another rim, or covers another opening. True if there was something to say.
pub(super) fn check_apart(opening: &Opening, value: &Value<'_>, other: &Opening) -> bool {
    let (a, b) = (rim(opening), rim(other));
    if a.is_none() && b.is_none() {
        return false;
    }
    if let (Some(a), Some(b)) = (&a, &b) {
        if let Some((by, place)) = overlap(a, b).filter(|(by, _)| *by > tol::CLEARANCE) {
            let names = format!("\"{}\" and \"{}\"", opening.name, other.name);
            let given = format!("the rims of {names} overlap by {} mm near {}", Decimal(by, 1), at(place));
            value.error(Kind::RimsOverlap, given, "rims beside one another", "move one of the two openings");
            return true;
        }
        return false;
    }
    let over = |rim: Option<Ring>, own: &Opening, hole: &Opening| {
        let (by, place) = overlap(&rim?, &hole.ring).filter(|(by, _)| *by > tol::CLEARANCE)?;
        let given = format!(
            "the rim of \"{}\" reaches {} mm over \"{}\" near {}",
            own.name,
            Decimal(by, 1),
            hole.name,
            at(place)
        );
        let fix = "none if the one goes through the other's rim; else move one of them";
        value.warning(Kind::RimsOverlap, given, "a rim on stone", fix);
        Some(())
    };
    // Holes that overlap are an error of their own.
    overlap(&opening.ring, &other.ring).is_none()
        && over(a, opening, other).or_else(|| over(b, other, opening)).is_some()
}
