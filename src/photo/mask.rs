//! How much of each pixel of a grid lies within rings.

use super::grid::Grid;
use crate::geom::{Point, Ring};

/// Lines on which a pixel is looked at, across its height.
const LINES: usize = 4;

/// Shares from 0 (outside) to 1 (inside), row by row from the top. A point is inside if an odd number of the rings hold it.
pub(super) fn cover(grid: &Grid, rings: &[&Ring]) -> Vec<f32> {
    let mut out = vec![0.0_f32; grid.width * grid.height];
    let edges: Vec<(Point, Point)> =
        rings.iter().flat_map(|r| r.edges()).map(|(a, b)| (grid.pixel(a), grid.pixel(b))).collect();
    let mut crossings: Vec<f64> = Vec::new();
    for (row, shares) in out.chunks_exact_mut(grid.width).enumerate() {
        for line in 0..LINES {
            let y = row as f64 + (line as f64 + 0.5) / LINES as f64;
            crossings.clear();
            crossings.extend(
                edges
                    .iter()
                    .filter(|(a, b)| (a.y <= y) != (b.y <= y))
                    .map(|(a, b)| a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x)),
            );
            crossings.sort_by(f64::total_cmp);
            for span in crossings.chunks_exact(2) {
                add(shares, span[0], span[1]);
            }
        }
    }
    out
}

/// Adds a line's share of every pixel that it covers from `a` to `b`.
fn add(shares: &mut [f32], a: f64, b: f64) {
    let (a, b) = (a.max(0.0), b.min(shares.len() as f64));
    if a >= b {
        return;
    }
    let first = a as usize;
    let end = (b.ceil() as usize).min(shares.len());
    for (i, share) in shares.iter_mut().enumerate().take(end).skip(first) {
        let (left, right) = (a.max(i as f64), b.min(i as f64 + 1.0));
        *share += ((right - left) / LINES as f64) as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::cover;
    use crate::geom::{BBox, Ring, pt};
    use crate::photo::Grid;

    #[test]
    fn shares_add_up_to_the_area_and_holes_count_nothing() {
        let ring = Ring::tidy(&[pt(3.0, 2.0), pt(41.0, 7.0), pt(30.0, 33.0), pt(8.0, 30.0)]).unwrap().0;
        let hole = Ring::rectangle(BBox { min: pt(15.0, 12.0), max: pt(25.0, 18.5) });
        let grid = Grid::over(&BBox { min: pt(0.0, 0.0), max: pt(45.0, 35.0) }, 0.5, 1000);
        let shares = cover(&grid, &[&ring, &hole]);
        let area: f64 = shares.iter().map(|&s| f64::from(s) * 0.25).sum();
        assert!((area - (ring.area() - hole.area())).abs() < 0.2, "{area}");
        let at = |x: f64, y: f64| {
            let p = grid.pixel(pt(x, y));
            shares[p.y as usize * grid.width + p.x as usize]
        };
        assert_eq!((at(20.2, 15.2), at(10.2, 20.2), at(1.0, 1.0)), (0.0, 1.0, 0.0));
    }
}
