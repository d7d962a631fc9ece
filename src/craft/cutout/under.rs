//! The hole for a bowl that hangs below the stone.

use super::corners::{self, Bits, EXACT, Hole, Made};
use super::{Chosen, CutOutFault, ellipse, measured, offset, words};
use crate::geom::curve::Corner;
use crate::model::{Drawn, Shape, Shown, Spare};

/// The hole at the signed overhang inside the bowl's line. Corners get the largest bit that is no larger than they ask for, if the
/// bowl's rim does not show in the corner for it; else the next larger one, which covers more of the bowl there.
pub(super) fn choose(
    bowl: &Drawn,
    overhang: f64,
    accuracy: f64,
    bits: &Bits,
    shown: Shown,
) -> Result<Chosen, CutOutFault> {
    let extent = bowl.shape.extent();
    let width = extent.width().min(extent.height());
    let no_hole = CutOutFault::NoHole { overhang, width };
    if 2.0 * overhang >= width {
        return Err(no_hole);
    }
    let hole = match &bowl.shape {
        Shape::Ellipse { centre, half_x, half_y } if half_x == half_y => {
            let r = (half_x - overhang).max(bits.least());
            Some(whole(Shape::Ellipse { centre: *centre, half_x: r, half_y: r }))
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            // Of the two ellipses beside the true line that which leaves more stone.
            let half = if overhang > 0.0 {
                ellipse::held(*half_x, *half_y, overhang).ok_or_else(|| no_hole.clone())?
            } else {
                let (a, b, more) = ellipse::holding(*half_x, *half_y, -overhang);
                (a - more, b - more, more)
            };
            if half.2 <= corners::ELLIPSE_WITHIN && ellipse::least_radius(half.0, half.1) >= bits.least() {
                Some(whole(Shape::Ellipse { centre: *centre, half_x: half.0, half_y: half.1 }))
            } else {
                let chain = ellipse::chain(*centre, *half_x, *half_y, corners::CHAIN_WITHIN);
                polygon(&chain, overhang, accuracy, bits)
            }
        }
        Shape::Polygon(list) => polygon(list, overhang, accuracy, bits),
    };
    let hole = hole.ok_or(no_hole)?;
    // How far the stone reaches past the bowl where it reaches least.
    let covers = if overhang > 0.0 { measured(&hole.shape, &bowl.shape).distance } else { 0.0 };
    if covers < -EXACT {
        return Err(CutOutFault::Unfollowed { distance: overhang });
    }
    let mut notes: Vec<String> = words::traced("Bowl", bowl, shown).into_iter().collect();
    notes.push(words::overhang(overhang, shown));
    notes.extend(words::bowl_corners(&hole, bits, shown));
    let may_still_cut = if overhang > 0.0 { (covers - accuracy).max(0.0) } else { 0.0 };
    notes.push(words::until_it_shows(overhang, may_still_cut, shown));
    let spare = Spare { least_bearing: None, least_clearance: None, may_still_cut };
    Ok(Chosen { shape: hole.shape, spare, notes })
}

fn whole(shape: Shape) -> Hole {
    Hole { shape, corners: Vec::new(), pushed: 0.0 }
}

fn polygon(list: &[Corner], overhang: f64, accuracy: f64, bits: &Bits) -> Option<Hole> {
    // What a corner may lie farther out than the overhang says: as much as the stone covers, or, where the rim shows anyway, as
    // much as the cut may be off.
    let slack = if overhang > 0.0 { overhang } else { accuracy };
    let mut base = list.to_vec();
    loop {
        let made: Vec<Made> = (0..base.len())
            .map(|i| {
                let (asked, turn) = (corners::grown_radius(&base, i, -overhang), offset::turn(&base, i));
                let is_curve = corners::is_curve(&base, i);
                if turn < 0.0 {
                    return Made { asked, radius: asked, is_curve };
                }
                let farther = |r: f64| (asked - r) * (1.0 / (turn / 2.0).cos() - 1.0);
                let choices = bits.choices(asked, is_curve);
                let radius = choices.iter().copied().find(|&r| farther(r) <= slack + 1e-9).unwrap_or(asked);
                Made { asked, radius, is_curve }
            })
            .collect();
        let attempt = |made: &[Made]| {
            let radii: Vec<f64> = made.iter().map(|m| m.radius).collect();
            offset::moved(&base, &vec![-overhang; base.len()], &radii)
        };
        let bulging = |made: &[Made]| {
            (0..base.len()).filter(|&i| offset::turn(&base, i) > 0.0).map(|i| made[i]).collect::<Vec<_>>()
        };
        let trouble = match attempt(&made) {
            Ok(shape) => return Some(Hole { shape, corners: bulging(&made), pushed: 0.0 }),
            Err(trouble) => trouble,
        };
        // A larger bit may have no room where the radius itself has.
        let plain: Vec<Made> = made.iter().map(|m| Made { radius: m.asked.max(bits.least()), ..*m }).collect();
        if let Ok(shape) = attempt(&plain) {
            return Some(Hole { shape, corners: bulging(&plain), pushed: 0.0 });
        }
        base = offset::simpler(&base, trouble, overhang < 0.0)?;
    }
}
