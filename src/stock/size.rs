//! Whether a slab is large enough for something.

use crate::geom::{BBox, Point, Pose, pt, sum};
use crate::model::Slab;

/// True if a rectangle (mm) lies within the slab's outline, along its x or y or along one of its straight sides. Flaws and
/// trim are not looked at.
#[must_use]
pub fn holds_rectangle(slab: &Slab, length: f64, depth: f64) -> bool {
    let size = slab.outline.bbox();
    let diagonal = size.width().hypot(size.height());
    if length.hypot(depth) > diagonal || length * depth > slab.outline.area() * (1.0 + 1e-9) {
        return false;
    }
    let region = slab.outline.to_region();
    let rectangle = BBox { min: pt(0.0, 0.0), max: pt(length, depth) }.corners();
    turns(slab).iter().any(|&turn| {
        let pose = Pose::new(turn, pt(0.0, 0.0));
        let corners: Vec<Point> = rectangle.iter().map(|&p| pose.apply(p)).collect();
        // An exact fit leaves no room to shift; a micrometre less does.
        let slack = sum::grown(&region, 1e-3, 1e-3);
        !sum::fits(&slack, &[corners]).is_empty()
    })
}

/// Directions to try, degrees in [0, 180): both axes, and the longest straight sides with what stands square on them.
fn turns(slab: &Slab) -> Vec<f64> {
    /// Sides beyond these are short, or steps of a curve.
    const MOST: usize = 8;
    let mut sides: Vec<(f64, f64)> =
        slab.outline.edges().map(|(a, b)| (a.distance(b), (b.y - a.y).atan2(b.x - a.x).to_degrees())).collect();
    sides.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
    let mut turns = vec![0.0, 90.0];
    for (_, direction) in sides.into_iter().take(MOST) {
        for turn in [direction.rem_euclid(180.0), (direction + 90.0).rem_euclid(180.0)] {
            if turns.iter().all(|t: &f64| (t - turn).abs() > 1e-6) {
                turns.push(turn);
            }
        }
    }
    turns
}
