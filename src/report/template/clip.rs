//! Lines clipped to a box.

use crate::geom::{BBox, Point};

/// The parts of a line inside a box, in order (Liang and Barsky's clipping, 1984). A closed line that lies wholly inside
/// comes as one part that ends where it began.
pub(in crate::report) fn clipped(points: &[Point], closed: bool, b: &BBox) -> Vec<Vec<Point>> {
    let n = points.len();
    let sides = if closed { n } else { n.saturating_sub(1) };
    let mut out: Vec<Vec<Point>> = Vec::new();
    let mut open = false;
    for i in 0..sides {
        let (p, q) = (points[i], points[(i + 1) % n]);
        let d = q - p;
        let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
        let mut outside = false;
        for (k, r) in [(-d.x, p.x - b.min.x), (d.x, b.max.x - p.x), (-d.y, p.y - b.min.y), (d.y, b.max.y - p.y)] {
            if k == 0.0 {
                outside |= r < 0.0;
            } else if k < 0.0 {
                t0 = t0.max(r / k);
            } else {
                t1 = t1.min(r / k);
            }
        }
        if outside || t0 > t1 {
            open = false;
            continue;
        }
        let (from, to) = (if t0 == 0.0 { p } else { p + d * t0 }, if t1 == 1.0 { q } else { p + d * t1 });
        match out.last_mut() {
            Some(last) if open && t0 == 0.0 => last.push(to),
            _ => out.push(vec![from, to]),
        }
        open = t1 == 1.0;
    }
    // A closed line that begins inside the box: its last part runs on into its first.
    if closed && open && out.len() > 1 && out.first().is_some_and(|f| f[0] == points[0]) {
        let first = out.remove(0);
        if let Some(last) = out.last_mut() {
            last.extend(first.into_iter().skip(1));
        }
    }
    out
}
