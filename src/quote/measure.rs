//! What a piece measures for a quote: areas by rectangles, edges along the true line.
//!
//! In: shapes as drawn, mm. Out: mm and mm². Must not know: rates, money.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use crate::geom::curve::Corner;
pub use crate::geom::curve::ellipse_length;
use crate::geom::{BBox, Point, pt};
use crate::model::side::bends;
use crate::model::{AreaRule, Finish, Outline, Shape};

/// Corners turn by more than this, radians: 15 degrees, which tells them from steps of a curve that was drawn as a polyline
/// (common practice, as in [`Shape::turns`]).
const CORNER: f64 = PI / 12.0;

/// Sides off an axis by less than this (mm) lie along it.
const STRAIGHT: f64 = 1e-6;

/// The area of a piece by a rule, mm². Openings are not deducted (common practice: what falls out is cut and paid for).
#[must_use]
pub fn area(shape: &Shape, rule: AreaRule) -> f64 {
    match rule {
        AreaRule::Outline => shape.area(),
        AreaRule::Rectangles => rectangles(shape),
    }
}

/// The rectangle that bounds each run of a piece, mm² (common practice: a run is charged as its rectangle, an L as the sum of
/// its rectangles). Roundings count as corners.
///
/// An outline whose sides all lie along the axes is a sum of rectangles, and that is its area. Any other is cut into strips
/// at its inside corners, once along x and once along y; each strip counts as the rectangle that bounds it, and the least of
/// these sums and the rectangle that bounds the whole is taken.
#[must_use]
pub fn rectangles(shape: &Shape) -> f64 {
    let whole = shape.extent();
    let Shape::Polygon(corners) = shape else { return whole.width() * whole.height() };
    let points: Vec<Point> = corners.iter().map(|c| c.at).collect();
    let n = points.len();
    let along_axes = (0..n).all(|i| {
        let d = points[(i + 1) % n] - points[i];
        d.x.abs() < STRAIGHT || d.y.abs() < STRAIGHT
    });
    if along_axes {
        return sharp_area(corners);
    }
    let inside: Vec<Point> = bends(corners).iter().filter(|b| b.turn < -CORNER).map(|b| b.at).collect();
    let turned = |p: &Point| pt(p.y, p.x);
    let flipped: Vec<Point> = points.iter().map(turned).collect();
    let flipped_box = BBox { min: turned(&whole.min), max: turned(&whole.max) };
    let xs: Vec<f64> = inside.iter().map(|p| p.x).collect();
    let ys: Vec<f64> = inside.iter().map(|p| p.y).collect();
    (whole.width() * whole.height()).min(strips(&points, xs, &whole)).min(strips(&flipped, ys, &flipped_box))
}

/// The sum of the rectangles that bound the strips between some values of x.
fn strips(points: &[Point], mut cuts: Vec<f64>, whole: &BBox) -> f64 {
    cuts.extend([whole.min.x, whole.max.x]);
    cuts.sort_by(f64::total_cmp);
    cuts.dedup_by(|b, a| *b - *a < STRAIGHT);
    let n = points.len();
    let mut sum = 0.0;
    for pair in cuts.windows(2) {
        let [from, to] = pair else { continue };
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for i in 0..n {
            let (a, b) = (points[i], points[(i + 1) % n]);
            let (a, b) = if a.x <= b.x { (a, b) } else { (b, a) };
            let (left, right) = (a.x.max(*from), b.x.min(*to));
            // A side that only touches the strip bounds its neighbour.
            if right - left < STRAIGHT {
                continue;
            }
            for x in [left, right] {
                let y = (a.y + (b.y - a.y) * ((x - a.x) / (b.x - a.x))).clamp(whole.min.y, whole.max.y);
                (low, high) = (low.min(y), high.max(y));
            }
        }
        sum += (high - low).max(0.0) * (to - from);
    }
    sum
}

/// The area of a polygon without its roundings, mm²: half the sum of the cross products of its sides.
fn sharp_area(corners: &[Corner]) -> f64 {
    let n = corners.len();
    let origin = corners.first().map_or(pt(0.0, 0.0), |c| c.at);
    (0..n).map(|i| (corners[i].at - origin).cross(corners[(i + 1) % n].at - origin)).sum::<f64>() / 2.0
}

/// The length of every finish of an outline along the true line, mm.
///
/// A rounding between a raw and a finished side is finished, as it is for zones; between two finishes each has half of it.
#[must_use]
pub fn edges(outline: &Outline) -> BTreeMap<Finish, f64> {
    let mut lengths: BTreeMap<Finish, f64> = BTreeMap::new();
    let mut add = |finish: &Finish, mm: f64| *lengths.entry(finish.clone()).or_insert(0.0) += mm;
    match &outline.shape {
        Shape::Ellipse { half_x, half_y, .. } => {
            if let Some(finish) = outline.finishes.first() {
                add(finish, ellipse_length(*half_x, *half_y));
            }
        }
        Shape::Polygon(corners) => {
            let bends = bends(corners);
            let n = bends.len().min(outline.finishes.len());
            for i in 0..n {
                let (start, end) = (&bends[i], &bends[(i + 1) % n]);
                add(&outline.finishes[i], start.straight_to(end).max(0.0));
                let arc = start.arc();
                if arc > 0.0 {
                    let (before, after) = (&outline.finishes[(i + n - 1) % n], &outline.finishes[i]);
                    match (before.is_finished(), after.is_finished()) {
                        (true, false) => add(before, arc),
                        (false, true) => add(after, arc),
                        _ => [before, after].iter().for_each(|f| add(f, arc / 2.0)),
                    }
                }
            }
        }
    }
    lengths.retain(|_, mm| *mm > 0.0);
    lengths
}

/// How many corners of an outline are rounded and have a finished side. A curved side has none on its way (it is an edge, charged
/// by its length), and so has an ellipse.
#[must_use]
pub fn rounded_corners(outline: &Outline) -> usize {
    let Shape::Polygon(corners) = &outline.shape else { return 0 };
    let n = corners.len().min(outline.finishes.len());
    let finished = |i: usize| outline.finishes[i % n].is_finished();
    let corner = |i: &usize| corners[*i].radius > 0.0 && (finished(*i) || finished(*i + n - 1));
    (0..n).zip(outline.in_air()).filter(|(i, in_air)| corner(i) && !in_air).count()
}
