//! Open lines cut off at the border of a region.

use super::point::Point;
use super::region::Region;

/// The parts of an open polyline (mm) that lie in the region, in its order; a part on the border may count either way.
///
/// Every side is cut where it meets the border, and a stretch between two cuts counts if its middle lies inside. Corners that
/// stay are those of the line, to the last bit. No part has fewer than two points.
#[must_use]
pub fn line_within(line: &[Point], region: &Region) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut open: Vec<Point> = Vec::new();
    for side in line.windows(2) {
        let &[a, b] = side else { continue };
        let cuts = cuts(a, b, region);
        for stretch in cuts.windows(2) {
            let &[from, to] = stretch else { continue };
            if region.contains(a.lerp(b, (from + to) / 2.0)) {
                if open.is_empty() {
                    open.push(at(a, b, from));
                }
                open.push(at(a, b, to));
            } else if !open.is_empty() {
                parts.push(std::mem::take(&mut open));
            }
        }
    }
    if !open.is_empty() {
        parts.push(open);
    }
    // Cuts within an inside stretch leave points on its straight line, which say nothing.
    parts.iter().map(|part| without_needless(part, line)).collect()
}

/// Where the side from `a` to `b` may change sides, from 0 to 1, both included.
fn cuts(a: Point, b: Point, region: &Region) -> Vec<f64> {
    let along = b - a;
    let mut cuts = vec![0.0, 1.0];
    for (c, d) in region.edges() {
        let across = d - c;
        let denominator = along.cross(across);
        if denominator == 0.0 {
            // On one line, an edge's ends are where the side may change; else they do no harm.
            let length2 = along.dot(along);
            cuts.extend([c, d].map(|p| (p - a).dot(along) / length2));
            continue;
        }
        let u = (c - a).cross(along) / denominator;
        // A cut too many does no harm, because the middles decide.
        if (-1e-9..=1.0 + 1e-9).contains(&u) {
            cuts.push((c - a).cross(across) / denominator);
        }
    }
    cuts.retain(|t| (0.0..=1.0).contains(t));
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    cuts
}

fn at(a: Point, b: Point, t: f64) -> Point {
    if t <= 0.0 {
        a
    } else if t >= 1.0 {
        b
    } else {
        a.lerp(b, t)
    }
}

/// The part without inner points that are no corner of the line.
fn without_needless(part: &[Point], line: &[Point]) -> Vec<Point> {
    let last = part.len().saturating_sub(1);
    part.iter().enumerate().filter(|(i, p)| *i == 0 || *i == last || line.contains(p)).map(|(_, p)| *p).collect()
}
