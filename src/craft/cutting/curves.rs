//! What of an opening's line no core makes and no saw can follow.
//!
//! In: an opening with its cores and passes, the core bits. Out: curves. Must not know: how they are cut in the end.

use super::corners::{Made, Turn, corners};
use super::note;
use super::passes::sides;
use crate::geom::{Point, tol};
use crate::model::openings::Cutting;
use crate::model::{Opening, Shape, Tools};

/// An arc shorter than this is broken like every sharp edge, mm.
const SHORTEST: f64 = 2.0;

/// Steps of an arc, degrees.
const STEP: f64 = 2.0;

/// Adds the curves of an opening whose cores, rows and passes are known. A hole that is smaller than every bit has none: it wants
/// its bit.
pub(super) fn curves(opening: &Opening, tools: &Tools, cutting: &mut Cutting) {
    match &opening.shape {
        Shape::Ellipse { half_x, half_y, .. } => {
            let diameter = 2.0 * half_x.min(*half_y);
            let round = (half_x - half_y).abs() <= Tools::SAME_BIT / 2.0;
            let made = cutting.cores.iter().any(|c| c.diameter >= diameter - Tools::SAME_BIT);
            let wants_bit = round && cutting.cores.is_empty() && tools.core_bits.iter().any(|&b| b > diameter);
            if !made && !wants_bit {
                let points = opening.ring.points();
                cutting.curves.push(points.iter().chain(points.first()).map(|&p| p.into()).collect());
            }
        }
        Shape::Polygon(drawn) => {
            let turns = corners(drawn, tools);
            let arcs: Vec<Vec<[f64; 2]>> = turns.iter().filter_map(arc).collect();
            if !arcs.is_empty() {
                let bends =
                    if arcs.len() == 1 { "1 bend gets".to_owned() } else { format!("{} bends get", arcs.len()) };
                let words = "no core, and no saw follows it: water or router, or a row of small cuts and grinding";
                note(cutting, format!("{bends} {words}"));
            }
            let steps = sides(&turns).into_iter().filter(|s| s.is_step() && !s.is_gone());
            let steps: Vec<Vec<[f64; 2]>> = steps
                .filter(|s| !cutting.passes.iter().any(|p| p.side == s.name))
                .map(|s| s.straight().map(Into::into).to_vec())
                .collect();
            cutting.curves.extend(arcs.into_iter().chain(steps));
        }
    }
}

/// The arc of a corner that gets no core and no row of small cuts: of a gentle bend, or of one that points into the hole.
fn arc(turn: &Turn) -> Option<Vec<[f64; 2]>> {
    let has_none = matches!(turn.made, Made::Step | Made::Open);
    if !has_none || turn.radius * turn.angle.abs() < SHORTEST {
        return None;
    }
    let [from, to] = turn.touches(turn.tangent(turn.radius));
    // Round the middle of the arc, which lies to the left where the line turns left.
    let middle = from + turn.sides[0].left() * (turn.radius * turn.angle.signum());
    let arm = from - middle;
    let n = (turn.angle.abs().to_degrees() / STEP).ceil().max(1.0);
    let at = |k: usize| {
        let (sin, cos) = (turn.angle * k as f64 / n).sin_cos();
        middle + Point { x: cos * arm.x - sin * arm.y, y: sin * arm.x + cos * arm.y }
    };
    let mut points: Vec<Point> = (0..n as usize).map(at).collect();
    points.push(to);
    points.dedup_by(|a, b| a.distance(*b) < tol::SAME_POINT);
    Some(points.into_iter().map(Into::into).collect())
}
