//! How an opening is cut: cores in its corners, saw passes along its straight sides, and what only scores it.
//!
//! In: an opening, the thickness, the tools. Out: [`Cutting`] and [`Score`]. Must not know: slabs, flaws, drawings.
//!
//! The disc is let down from the face. Its cut is then longest on the face and shortest underneath, so on the face it must
//! end where the core begins, and what is left near the corners lies underneath, where it can be finished. Let down from
//! the back it would leave uncut stone on the face. So from the back only that is cut which must be: the second half of a
//! side that is too short for one full cut, and scores.

mod corners;
mod curves;
mod passes;
mod score;
mod strip;

pub use score::{depth as score_depth, score};

use crate::geom::Point;
use crate::model::openings::{Core, Cutting};
use crate::model::{Opening, Piece, Shape, Shown, Tools};

/// How an opening is cut. The score stays out: whether the trade allows one depends on the stone, see [`score`].
///
/// `thickness` is that of the stone, mm. Places are in the piece frame. Notes give lengths in the units `shown`. Any shape and any
/// number of tools will do.
#[must_use]
pub fn cut(piece: &Piece, opening: &Opening, thickness: f64, tools: &Tools, shown: Shown) -> Cutting {
    let mut cutting = Cutting::default();
    let from = Datum { centre: opening.centre(), front: piece.outline.shape.extent().min.y };
    match &opening.shape {
        Shape::Polygon(drawn) => {
            let corners = corners::corners(drawn, tools);
            let making = Making { tools, thickness, shown };
            corners::cores(&corners, &from, making, &mut cutting);
            passes::passes(&corners, making, &mut cutting);
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            round(*centre, [*half_x, *half_y], &from, &tools.core_bits, shown, &mut cutting);
        }
    }
    curves::curves(opening, tools, &mut cutting);
    cutting
}

/// What an opening is cut with and in, and the units in which that is told.
#[derive(Clone, Copy)]
struct Making<'a> {
    tools: &'a Tools,
    /// Of the stone, mm.
    thickness: f64,
    shown: Shown,
}

/// What cores are measured from.
struct Datum {
    centre: Point,
    front: f64,
}

impl Datum {
    fn core(&self, centre: Point, diameter: f64, tangents: [Point; 2], past_line: f64) -> Core {
        Core {
            centre: centre.into(),
            diameter,
            from_centre_line: centre.x - self.centre.x,
            from_front: centre.y - self.front,
            tangents: tangents.map(Into::into),
            past_line,
        }
    }
}

/// A round hole or an ellipse: one core of its own size at most, no corners, no straight sides.
fn round(centre: Point, [half_x, half_y]: [f64; 2], from: &Datum, bits: &[f64], shown: Shown, cutting: &mut Cutting) {
    let note = |text: String, cutting: &mut Cutting| cutting.cutting_notes.push(text);
    if (half_x - half_y).abs() > Tools::SAME_BIT / 2.0 {
        note("an ellipse has no corners: no cores. It is cut along its line by water or router, or by a row of small cuts from the drop and grinding".to_owned(), cutting);
        return;
    }
    let diameter = 2.0 * half_x;
    let alone = |bit: f64| {
        let side = Point { x: bit / 2.0, y: 0.0 };
        from.core(centre, bit, [centre - side, centre + side], 0.0)
    };
    let smaller = bits.iter().copied().filter(|&b| b <= diameter + Tools::SAME_BIT).reduce(f64::max);
    let larger = bits.iter().copied().filter(|&b| b > diameter + Tools::SAME_BIT).reduce(f64::min);
    let (said, size) = (|mm: f64| shown.said(mm), shown.said(diameter));
    match (smaller, larger) {
        (Some(bit), _) if bit >= diameter - Tools::SAME_BIT => {
            note(format!("a round hole of {size}: no corner cores, one core of {} makes it", said(bit)), cutting);
            cutting.cores.push(alone(bit));
        }
        (Some(bit), Some(next)) => {
            note(
                format!(
                    "a round hole of {size}, and no bit of that size: a core of {}, then grind it out by {} all round. \
                     The next bit, {}, would make it {} too wide, and that cannot be mended",
                    said(bit),
                    said((diameter - bit) / 2.0),
                    said(next),
                    said(next - diameter)
                ),
                cutting,
            );
            cutting.cores.push(alone(bit));
        }
        (None, Some(next)) => note(
            format!(
                "a round hole of {size}, and no bit so small: the smallest, {}, would make it {} too wide. Get the bit",
                said(next),
                said(next - diameter)
            ),
            cutting,
        ),
        _ => note(
            format!(
                "a round opening of {size} has no corners: no cores. It is cut along its line by water or router, or by a row \
                 of small cuts from the drop and grinding"
            ),
            cutting,
        ),
    }
}

/// Adds a note that is not there yet.
fn note(cutting: &mut Cutting, text: String) {
    if !cutting.cutting_notes.contains(&text) {
        cutting.cutting_notes.push(text);
    }
}
