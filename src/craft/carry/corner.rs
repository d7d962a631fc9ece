//! The stress at the corners of an opening by elastic theory, and the push on its narrowest rail.
//!
//! In: an opening, the beam of its piece. Out: figures to rank layouts with. Must not know: verdicts.

use super::beam::Beam;
use super::formula::{self, CornerFormula};
use super::on_edge::{OnEdge, SHORT};
use super::sections::Strip;
use super::view::View;
use crate::geom::{Point, tol};
use crate::model::openings::{CornerStress, RailPush};
use crate::model::{Opening, Shape};

/// Poisson's ratio of stone: 0.15 to 0.35 (from memory of rock-mechanics handbooks).
pub const POISSON: f64 = 0.25;

/// Stone narrower than this beside an opening is none, mm.
const NO_RAIL: f64 = 0.001;

/// A corner that could be the worst.
struct Candidate {
    at: Point,
    radius: f64,
    /// Factors flat and on edge with their formula; `None` for a sharp corner.
    factors: Option<([f64; 2], String)>,
}

/// The worst corner of an opening by its stress flat; by the least radius where there is a sharp one.
///
/// `cut` is the piece with its openings out, which has the loads; `whole` the same with none, which has the sections: the factors
/// are meant for the stress far from the hole.
pub(super) fn worst(view: &View, opening: &Opening, cut: &Beam<'_>, whole: &Beam<'_>) -> Option<CornerStress> {
    let edge = OnEdge::new(whole, true);
    let candidates = candidates(view, opening, cut.thickness);
    let mut best: Option<CornerStress> = None;
    for c in candidates {
        let seen = view.seen(c.at);
        let (mut flat_far, mut edge_far) = (0.0_f64, 0.0_f64);
        for k in whole.sections.at(seen.x) {
            let moment = cut.moment(k, seen.x, cut.ends).abs();
            flat_far = flat_far.max(moment * whole.flat_inverse(k, seen.x).unwrap_or(0.0));
            let strips = 0..whole.sections.panels[k].strips.len();
            if let Some(all) = edge.member(k, seen.x, strips) {
                edge_far = edge_far.max(moment * (seen.y - all.middle).abs() / all.inertia);
            }
        }
        let formula = c.factors.as_ref().map_or_else(
            || "a sharp corner: elastic theory knows no limit; it starts a crack".to_owned(),
            |f| f.1.clone(),
        );
        let factors = c.factors.map(|f| f.0);
        let stress = CornerStress {
            at: c.at.into(),
            radius: c.radius,
            flat_factor: factors.map(|f| f[0]),
            edge_factor: factors.map(|f| f[1]),
            flat_far_mpa: flat_far,
            edge_far_mpa: edge_far,
            flat_mpa: factors.map(|f| f[0] * flat_far),
            edge_mpa: factors.map(|f| f[1] * edge_far),
            formula,
        };
        let rank = |s: &CornerStress| s.flat_mpa.unwrap_or(f64::INFINITY);
        if best.as_ref().is_none_or(|b| rank(&stress) > rank(b)) {
            best = Some(stress);
        }
    }
    best
}

fn candidates(view: &View, opening: &Opening, thickness: f64) -> Vec<Candidate> {
    let size = opening.shape.extent();
    let (a, b) = (view.seen(size.min), view.seen(size.max));
    // Half the sizes across the stress, which runs along the piece, and along it.
    let (across, along) = ((b.y - a.y).abs() / 2.0, (b.x - a.x).abs() / 2.0);
    match &opening.shape {
        Shape::Ellipse { centre, half_x, half_y } => {
            let tension = formula::ellipse_in_tension(across, along);
            let bending = formula::ellipse_in_bending(across, along, POISSON);
            let least = half_x.min(*half_y).powi(2) / half_x.max(*half_y);
            // The stress is largest where the border runs along the piece.
            [size.min, size.max]
                .map(|end| {
                    let end = view.seen(end);
                    let middle = view.seen(*centre);
                    let at = Point { x: middle.x, y: end.y };
                    Candidate {
                        at: view.unseen(at),
                        radius: least,
                        factors: Some((
                            [bending, tension],
                            "ellipse in a wide plate: tension published, bending from memory of Peterson's tables"
                                .to_owned(),
                        )),
                    }
                })
                .into()
        }
        Shape::Polygon(_) => opening
            .inside_corners()
            .into_iter()
            .map(|c| Candidate { at: c.at, radius: c.radius, factors: factors(across, along, c.radius, thickness) })
            .collect(),
    }
}

/// Factors flat and on edge of a round corner.
fn factors(across: f64, along: f64, radius: f64, thickness: f64) -> Option<([f64; 2], String)> {
    let (tension, by) = formula::rounded_corner(across, along, radius)?;
    let how = match by {
        CornerFormula::Polynomial => "rectangle with round corners, textbook coefficients (published)",
        CornerFormula::SmallRadius => "2.15 (r/a)^-0.33, fitted to finite elements (derived, within 5 %)",
        CornerFormula::Beyond => "2.15 (r/a)^-0.33, outside the range of its fit: a rough figure (derived)",
    };
    // In bending a hole concentrates less, but only if its radius is large beside the thickness.
    let (bending, note) = if radius < thickness {
        (tension, "; radius below the thickness, so the factor of tension stands for bending too")
    } else {
        (formula::in_bending(tension, POISSON), "; in bending as for an ellipse (estimate)")
    };
    Some(([bending, tension], format!("{how}{note}")))
}

/// The push on the narrowest rail that runs along the piece; `None` if the opening has none, or is too short to have a rail.
///
/// The width of a rail is that of its stone: a hole for a tap in it does not count.
pub(super) fn push(
    view: &View,
    opening: usize,
    cut: &Beam<'_>,
    push: f64,
    strength: f64,
    safety: f64,
) -> Option<RailPush> {
    let (sections, span) = (cut.sections, *cut.sections.spans.get(opening)?);
    let length = span[1] - span[0];
    if length <= SHORT {
        return None;
    }
    let is_short = |o: usize| sections.spans.get(o).is_some_and(|s| s[1] - s[0] <= SHORT);
    let mut least: Option<(f64, bool)> = None;
    for p in &sections.panels {
        if p.from < span[0] - tol::SAME_POINT || p.to > span[1] + tol::SAME_POINT {
            continue;
        }
        let first = p.strips.iter().position(|s| s.owner == Some(opening));
        let last = p.strips.iter().rposition(|s| s.owner == Some(opening));
        let (Some(first), Some(last)) = (first, last) else { continue };
        for part in [0.0, 1.0] {
            let low = width(p.strips[..first].iter().rev(), p.strips[first].at(part)[0], part, is_short);
            let high = width(p.strips[last + 1..].iter(), p.strips[last].at(part)[1], part, is_short);
            for (width, is_low) in [(low, true), (high, false)] {
                if least.is_none_or(|(w, _)| width < w) {
                    least = Some((width, is_low));
                }
            }
        }
    }
    let (width, low) = least.filter(|(w, _)| *w > NO_RAIL)?;
    let stress_mpa = formula::pushed_rail(push, length, width, cut.thickness);
    let side = view.side(low).to_owned();
    Some(RailPush { side, width, length, push_n: push, stress_mpa, r#use: stress_mpa * safety / strength })
}

/// Width of the stone that follows on an opening's border, outwards: up to the outline or to the next opening that is no short hole.
fn width<'s>(strips: impl Iterator<Item = &'s Strip>, border: f64, part: f64, is_short: impl Fn(usize) -> bool) -> f64 {
    let (mut sum, mut at) = (0.0, border);
    for strip in strips {
        let [lo, hi] = strip.at(part);
        let [near, far] = if (lo - at).abs() <= (hi - at).abs() { [lo, hi] } else { [hi, lo] };
        if (near - at).abs() > tol::SAME_POINT || strip.owner.is_some_and(|o| !is_short(o)) {
            break;
        }
        if strip.owner.is_none() {
            sum += (hi - lo).max(0.0);
        }
        at = far;
    }
    sum
}
