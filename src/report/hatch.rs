//! Fillings as explicit lines and dots, so that every printer can draw them.

use crate::geom::{Point, Pose, Region, pt};

/// No filling has more lines or dots than this; a larger one is drawn coarser.
const MOST: f64 = 400.0;

/// Parallel lines at `turn` degrees, `spacing` mm apart, clipped to the region (even-odd).
///
/// The lines lie at whole multiples of the spacing from the origin, so neighbours continue one another.
#[must_use]
pub fn lines(region: &Region, turn: f64, spacing: f64) -> Vec<Vec<Point>> {
    let back = Pose::new(-turn, pt(0.0, 0.0));
    let forth = Pose::new(turn, pt(0.0, 0.0));
    let turned = back.region(region);
    let mut out = Vec::new();
    for (y, hits) in rows(&turned, spacing) {
        for pair in hits.chunks_exact(2) {
            if pair[1] - pair[0] > 0.05 {
                out.push(vec![forth.apply(pt(pair[0], y)), forth.apply(pt(pair[1], y))]);
            }
        }
    }
    out
}

/// Dots on a grid of `spacing` mm inside the region.
#[must_use]
pub fn dots(region: &Region, spacing: f64) -> Vec<Point> {
    let mut out = Vec::new();
    for (y, hits) in rows(region, spacing) {
        for pair in hits.chunks_exact(2) {
            let mut x = (pair[0] / spacing).ceil() * spacing;
            while x <= pair[1] && out.len() < 4000 {
                out.push(pt(x, y));
                x += spacing;
            }
        }
    }
    out
}

/// For every row the sorted abscissas where it crosses the region's edges.
fn rows(region: &Region, spacing: f64) -> Vec<(f64, Vec<f64>)> {
    let b = region.bbox();
    if region.is_empty() || !b.min.is_finite() || !b.max.is_finite() {
        return Vec::new();
    }
    let spacing = spacing.max(b.height() / MOST);
    let mut y = (b.min.y / spacing).ceil() * spacing;
    let mut out = Vec::new();
    while y < b.max.y {
        let mut hits: Vec<f64> = region
            .edges()
            .filter(|(a, b)| (a.y <= y) != (b.y <= y))
            .map(|(a, b)| a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y))
            .collect();
        hits.sort_by(f64::total_cmp);
        out.push((y, hits));
        y += spacing;
    }
    out
}
