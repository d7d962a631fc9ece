//! Outlines of sides and tangent arcs moved along their normals: again sides and tangent arcs, exactly.
//!
//! In: corners with radii, how far each side moves, and the new radii. Out: the outline, or which part of it has no room.

use std::f64::consts::PI;

use crate::geom::curve::{self, Corner, Side};
use crate::geom::{Point, Ring, pt};
use crate::model::Shape;

/// What has no room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Trouble {
    /// The side that begins at this corner has no length left.
    Side(usize),
    /// The rounding of this corner is longer than its sides.
    Rounding(usize),
    /// The line crosses itself here.
    Crossing(Point),
    /// Nothing is left.
    Nothing,
}

/// By how much the line turns at a corner, radians; positive where the outline bulges.
pub(super) fn turn(corners: &[Corner], i: usize) -> f64 {
    let n = corners.len();
    let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
    let (u, v) = (b - a, c - b);
    u.cross(v).atan2(u.dot(v))
}

/// Length of the straight part of the side that begins at a corner.
pub(super) fn straight(corners: &[Corner], i: usize) -> f64 {
    let n = corners.len();
    let j = (i + 1) % n;
    let tangent = |k: usize| corners[k].radius * (turn(corners, k).abs() / 2.0).tan();
    corners[i].at.distance(corners[j].at) - tangent(i) - tangent(j)
}

/// The outline with side `i` moved outwards by `by[i]` and corner `i` rounded by `radii[i]`.
pub(super) fn moved(corners: &[Corner], by: &[f64], radii: &[f64]) -> Result<Shape, Trouble> {
    let n = corners.len();
    if n < 3 {
        return Err(Trouble::Nothing);
    }
    let along = |i: usize| {
        let d = corners[(i + 1) % n].at - corners[i % n].at;
        d * (1.0 / d.norm())
    };
    let out = |i: usize| -along(i).left();
    let at: Vec<Point> = (0..n)
        .map(|i| {
            let before = (i + n - 1) % n;
            let (u, v) = (out(before), out(i));
            let det = u.cross(v);
            if det.abs() < 1e-9 {
                return corners[i].at + v * by[before].max(by[i]);
            }
            let step = pt(by[before] * v.y - by[i] * u.y, by[i] * u.x - by[before] * v.x) * (1.0 / det);
            corners[i].at + step
        })
        .collect();
    if let Some(i) = (0..n).find(|&i| (at[(i + 1) % n] - at[i]).dot(along(i)) <= 1e-6) {
        return Err(Trouble::Side(i));
    }
    let rounded: Vec<Corner> = at.iter().zip(radii).map(|(&at, &radius)| Corner { at, radius }).collect();
    if let Err(misfit) = curve::check_roundings(&rounded) {
        return Err(Trouble::Rounding(misfit.corner));
    }
    match Ring::tidy(&curve::rounded(&rounded, Side::Inner).points) {
        Ok((_, tidied)) if !tidied.reversed => {}
        Err(crate::geom::RingFault::Crossing { at, .. }) => return Err(Trouble::Crossing(at)),
        _ => return Err(Trouble::Nothing),
    }
    Ok(Shape::Polygon(rounded))
}

/// The outline without what has no room. Growing (`outwards`), a notch is filled: it held no stone that could stay. Shrinking,
/// a point is cut off, or the sides beside a short one meet. `None` if nothing simple helps.
pub(super) fn simpler(corners: &[Corner], trouble: Trouble, outwards: bool) -> Option<Vec<Corner>> {
    let n = corners.len();
    if n <= 3 {
        return None;
    }
    let mut left = corners.to_vec();
    match trouble {
        Trouble::Side(k) => {
            let ends = [k, (k + 1) % n];
            let mut gone: Vec<usize> =
                ends.into_iter().filter(|&i| (turn(corners, i) < 0.0) == outwards && turn(corners, i) != 0.0).collect();
            if gone.len() == 2 && !outwards || gone.is_empty() {
                return without_side(corners, k);
            }
            gone.sort_unstable();
            gone.into_iter().rev().for_each(|i| {
                left.remove(i);
            });
            (left.len() >= 3).then_some(left)
        }
        Trouble::Rounding(k) => {
            // The shorter of the two sides goes, if both of its ends bulge.
            let before = (k + n - 1) % n;
            let length = |i: usize| corners[i].at.distance(corners[(i + 1) % n].at);
            let bulges = |i: usize| turn(corners, i) > 0.0 && turn(corners, (i + 1) % n) > 0.0;
            let mut sides = [before, k];
            if length(k) < length(before) {
                sides.reverse();
            }
            sides.into_iter().filter(|&i| bulges(i)).find_map(|i| without_side(corners, i))
        }
        Trouble::Crossing(_) | Trouble::Nothing => None,
    }
}

/// The outline without a side: its neighbours run on until they meet in a sharp corner.
fn without_side(corners: &[Corner], k: usize) -> Option<Vec<Corner>> {
    let n = corners.len();
    if n <= 3 {
        return None;
    }
    let (i, j) = (k, (k + 1) % n);
    let both = turn(corners, i) + turn(corners, j);
    if !(0.01..PI - 0.1).contains(&both) {
        return None;
    }
    let (a, b) = (corners[(i + n - 1) % n].at, corners[i].at);
    let (c, d) = (corners[j].at, corners[(j + 1) % n].at);
    let (u, v) = (b - a, d - c);
    let t = (c - a).cross(v) / u.cross(v);
    let at = a + u * t;
    if !at.is_finite() {
        return None;
    }
    let mut left = corners.to_vec();
    left[i] = Corner { at, radius: 0.0 };
    left.remove(j);
    Some(left)
}

#[cfg(test)]
mod tests {
    use super::{Trouble, moved, simpler};
    use crate::geom::curve::Corner;
    use crate::geom::pt;
    use crate::model::Shape;

    fn corners(list: &[[f64; 3]]) -> Vec<Corner> {
        list.iter().map(|c| Corner { at: pt(c[0], c[1]), radius: c[2] }).collect()
    }

    #[test]
    fn an_l_grows_and_shrinks_at_both_kinds_of_corners() {
        let l = corners(&[[0., 0., 0.], [9., 0., 0.], [9., 4., 0.], [4., 4., 0.], [4., 9., 0.], [0., 9., 0.]]);
        let grown = moved(&l, &[1.0; 6], &[0.0; 6]);
        let wanted =
            corners(&[[-1., -1., 0.], [10., -1., 0.], [10., 5., 0.], [5., 5., 0.], [5., 10., 0.], [-1., 10., 0.]]);
        assert_eq!(grown, Ok(Shape::Polygon(wanted)));
        assert_eq!(moved(&l, &[-2.0; 6], &[0.0; 6]), Err(Trouble::Side(1)));
    }

    #[test]
    fn a_narrow_notch_is_filled_and_a_chamfer_that_shrinks_away_goes() {
        let notched = corners(&[
            [0., 0., 0.],
            [9., 0., 0.],
            [9., 9., 0.],
            [5., 9., 0.],
            [5., 4., 0.],
            [4., 4., 0.],
            [4., 9., 0.],
            [0., 9., 0.],
        ]);
        let trouble = moved(&notched, &[1.0; 8], &[0.0; 8]);
        assert_eq!(trouble, Err(Trouble::Side(4)));
        let filled = simpler(&notched, Trouble::Side(4), true).unwrap_or_default();
        assert_eq!(filled.len(), 6);
        assert!(moved(&filled, &[1.0; 6], &[0.0; 6]).is_ok());
        let chamfered = corners(&[[0., 0., 0.], [8., 0., 0.], [9., 1., 0.], [9., 9., 0.], [0., 9., 0.]]);
        let trouble = moved(&chamfered, &[-2.0; 5], &[0.0; 5]);
        assert_eq!(trouble, Err(Trouble::Side(1)));
        let square = simpler(&chamfered, Trouble::Side(1), false).unwrap_or_default();
        assert_eq!(square, corners(&[[0., 0., 0.], [9., 0., 0.], [9., 9., 0.], [0., 9., 0.]]));
    }
}
