//! Quick answers about a region of shifts: is a point in it, and how deep.
//!
//! A region (mm) is covered by a grid of cells. Cells that no border comes near are answered from a table; in the others
//! the borders themselves decide. So "in it or not" is as exact as the region, and the depth is exact near the border
//! and interpolated farther in.

use super::cache::Weigh;
use crate::geom::{BBox, Point, Region, pt};

/// About as many cells has a grid. More: slower to make, less of it in the processor's cache.
const CELLS: f64 = 1200.0;

/// Cells on a side, at most.
const SIDE: f64 = 96.0;

/// Borders that bear on a cell, as a range in [`Field::near`]; `OUT` and `IN` stand for cells without borders.
const OUT: u32 = u32::MAX;
const IN: u32 = u32::MAX - 1;

/// One border side, prepared for distances.
#[derive(Clone, Copy, Debug)]
struct Side {
    a: Point,
    d: Point,
    inverse: f64,
}

impl Side {
    fn new(a: Point, b: Point) -> Self {
        let d = b - a;
        let n = d.dot(d);
        Self { a, d, inverse: if n > 0.0 { 1.0 / n } else { 0.0 } }
    }

    /// Square of the distance to a point.
    fn squared(&self, p: Point) -> f64 {
        let v = p - self.a;
        let t = (v.dot(self.d) * self.inverse).clamp(0.0, 1.0);
        let e = v - self.d * t;
        e.dot(e)
    }
}

/// All sides, narrow and column by column, so that several are measured at a time: for depths far from any border, which are
/// interpolated anyway.
struct Rough {
    ax: Vec<f32>,
    ay: Vec<f32>,
    dx: Vec<f32>,
    dy: Vec<f32>,
    inverse: Vec<f32>,
}

impl Rough {
    fn new(sides: &[Side], origin: Point) -> Self {
        let all = |f: &dyn Fn(&Side) -> f64| sides.iter().map(|s| f(s) as f32).collect::<Vec<f32>>();
        Self {
            ax: all(&|s| s.a.x - origin.x),
            ay: all(&|s| s.a.y - origin.y),
            dx: all(&|s| s.d.x),
            dy: all(&|s| s.d.y),
            inverse: all(&|s| s.inverse),
        }
    }

    /// Distance from a point (mm, from the origin) to the nearest side.
    fn distance(&self, x: f32, y: f32) -> f32 {
        const LANES: usize = 8;
        let n = self.ax.len();
        let (ax, ay, dx) = (&self.ax[..n], &self.ay[..n], &self.dx[..n]);
        let (dy, inverse) = (&self.dy[..n], &self.inverse[..n]);
        let squared = |k: usize| {
            let (vx, vy) = (x - ax[k], y - ay[k]);
            let t = (vx * dx[k] + vy * dy[k]) * inverse[k];
            let t = if t < 0.0 { 0.0 } else { t };
            let t = if t > 1.0 { 1.0 } else { t };
            let (ex, ey) = (vx - dx[k] * t, vy - dy[k] * t);
            ex * ex + ey * ey
        };
        let mut least = [f32::INFINITY; LANES];
        let whole = n - n % LANES;
        for from in (0..whole).step_by(LANES) {
            for (lane, least) in least.iter_mut().enumerate() {
                let d = squared(from + lane);
                *least = if d < *least { d } else { *least };
            }
        }
        for k in whole..n {
            let d = squared(k);
            least[0] = if d < least[0] { d } else { least[0] };
        }
        least.into_iter().fold(f32::INFINITY, f32::min).sqrt()
    }
}

/// A border side as a row of cells sees it: half open in y.
#[derive(Clone, Copy, Debug)]
struct Crossing {
    low: f64,
    high: f64,
    x: f64,
    slope: f64,
}

impl Weigh for Field {
    fn bytes(&self) -> usize {
        std::mem::size_of_val(self.cells.as_slice())
            + std::mem::size_of_val(self.nodes.as_slice())
            + std::mem::size_of_val(self.near.as_slice())
            + std::mem::size_of_val(self.near_ends.as_slice())
            + std::mem::size_of_val(self.rows.as_slice())
            + std::mem::size_of_val(self.crossings.as_slice())
    }
}

/// The table of one region.
#[derive(Clone, Debug)]
pub struct Field {
    bbox: BBox,
    per_cell: Point,
    nx: usize,
    ny: usize,
    /// By cell: `OUT`, `IN`, or where its borders begin in `near`.
    cells: Vec<u32>,
    /// Depth at the cells' corners; negative outside.
    nodes: Vec<f32>,
    near: Vec<Side>,
    near_ends: Vec<u32>,
    rows: Vec<u32>,
    crossings: Vec<Crossing>,
}

impl Field {
    /// The table of a region. An empty region gives a field in which no point is.
    #[must_use]
    pub fn new(region: &Region) -> Self {
        let bbox = region.bbox();
        if region.is_empty() {
            let none = BBox { min: pt(0.0, 0.0), max: pt(0.0, 0.0) };
            return Self {
                bbox: none,
                per_cell: pt(1.0, 1.0),
                nx: 0,
                ny: 0,
                cells: Vec::new(),
                nodes: Vec::new(),
                near: Vec::new(),
                near_ends: vec![0],
                rows: vec![0],
                crossings: Vec::new(),
            };
        }
        let (w, h) = (bbox.width().max(1e-3), bbox.height().max(1e-3));
        let cell = (w * h / CELLS).sqrt();
        let count = |len: f64| (len / cell).ceil().clamp(1.0, SIDE);
        let (fx, fy) = (count(w), count(h));
        let (nx, ny) = (fx as usize, fy as usize);
        let size = pt(w / fx, h / fy);
        let sides: Vec<Side> = region.edges().map(|(a, b)| Side::new(a, b)).collect();
        let mut field = Self {
            bbox,
            per_cell: pt(1.0 / size.x, 1.0 / size.y),
            nx,
            ny,
            cells: vec![OUT; nx * ny],
            nodes: vec![0.0; (nx + 1) * (ny + 1)],
            near: Vec::new(),
            near_ends: Vec::new(),
            rows: Vec::with_capacity(ny + 1),
            crossings: Vec::new(),
        };
        field.fill_rows(region, size);
        field.fill_cells(&sides, size);
        field.fill_nodes(&sides, size);
        // Lists grow by doubling, and tables are kept by the thousand.
        field.near.shrink_to_fit();
        field.near_ends.shrink_to_fit();
        field.rows.shrink_to_fit();
        field.crossings.shrink_to_fit();
        field
    }

    fn fill_rows(&mut self, region: &Region, size: Point) {
        let mut by_row: Vec<Vec<Crossing>> = vec![Vec::new(); self.ny];
        for (a, b) in region.edges() {
            let (low, high) = if a.y < b.y { (a, b) } else { (b, a) };
            if low.y == high.y {
                continue;
            }
            let slope = (high.x - low.x) / (high.y - low.y);
            let crossing = Crossing { low: low.y, high: high.y, x: low.x, slope };
            for row in self.span(low.y - self.bbox.min.y, high.y - self.bbox.min.y, size.y, self.ny) {
                by_row[row].push(crossing);
            }
        }
        self.rows.push(0);
        for row in by_row {
            self.crossings.extend(row);
            self.rows.push(self.crossings.len() as u32);
        }
    }

    /// Cells of a row or column that an interval reaches, a little generously.
    fn span(&self, from: f64, to: f64, size: f64, n: usize) -> std::ops::Range<usize> {
        let at = |v: f64| (v / size).floor().clamp(0.0, n as f64 - 1.0) as usize;
        at(from - 1e-6)..at(to + 1e-6) + 1
    }

    fn fill_cells(&mut self, sides: &[Side], size: Point) {
        // A cell with a border in it has a border within its diagonal; so all borders that near are listed.
        let diagonal = size.norm();
        let mut crossed = vec![false; self.nx * self.ny];
        // Cells and sides that are near one another, side by side; then in order of the cells.
        let mut near: Vec<(u32, u32)> = Vec::new();
        for (k, s) in sides.iter().enumerate() {
            let (a, b) = (s.a, s.a + s.d);
            let (lo, hi) =
                (pt(a.x.min(b.x), a.y.min(b.y)) - self.bbox.min, pt(a.x.max(b.x), a.y.max(b.y)) - self.bbox.min);
            for row in self.span(lo.y - diagonal, hi.y + diagonal, size.y, self.ny) {
                for column in self.span(lo.x - diagonal, hi.x + diagonal, size.x, self.nx) {
                    let centre = self.bbox.min + pt((column as f64 + 0.5) * size.x, (row as f64 + 0.5) * size.y);
                    let d = s.squared(centre).sqrt();
                    let cell = row * self.nx + column;
                    // Half the diagonal from the centre to a corner.
                    if d <= 1.5 * diagonal + 1e-6 {
                        near.push((cell as u32, k as u32));
                    }
                    if d <= 0.5 * diagonal + 1e-6 {
                        crossed[cell] = true;
                    }
                }
            }
        }
        near.retain(|n| crossed[n.0 as usize]);
        near.sort_unstable();
        let mut at = 0;
        for (cell, crossed) in crossed.into_iter().enumerate() {
            if crossed {
                self.cells[cell] = self.near_ends.len() as u32;
                self.near_ends.push(at as u32);
                while at < near.len() && near[at].0 as usize == cell {
                    self.near.push(sides[near[at].1 as usize]);
                    at += 1;
                }
            } else {
                let (row, column) = (cell / self.nx, cell % self.nx);
                let centre = self.bbox.min + pt((column as f64 + 0.5) * size.x, (row as f64 + 0.5) * size.y);
                self.cells[cell] = if self.crossed_odd(row, centre) { IN } else { OUT };
            }
        }
        self.near_ends.push(self.near.len() as u32);
    }

    fn fill_nodes(&mut self, sides: &[Side], size: Point) {
        let rough = Rough::new(sides, self.bbox.min);
        for j in 0..=self.ny {
            for i in 0..=self.nx {
                let around = [(0, 0), (1, 0), (0, 1), (1, 1)];
                let wanted = around.iter().any(|&(dx, dy)| {
                    i >= dx
                        && j >= dy
                        && i - dx < self.nx
                        && j - dy < self.ny
                        && self.cells[(j - dy) * self.nx + i - dx] == IN
                });
                if !wanted {
                    continue;
                }
                let p = pt(i as f64 * size.x, j as f64 * size.y);
                self.nodes[j * (self.nx + 1) + i] = rough.distance(p.x as f32, p.y as f32);
            }
        }
    }

    fn crossed_odd(&self, row: usize, p: Point) -> bool {
        let crossings = &self.crossings[self.rows[row] as usize..self.rows[row + 1] as usize];
        let mut odd = false;
        for c in crossings {
            odd ^= (c.low <= p.y) & (p.y < c.high) & (c.x + c.slope * (p.y - c.low) > p.x);
        }
        odd
    }

    /// The point in cells from the grid's lower left corner; `None` off the grid.
    fn in_cells(&self, p: Point) -> Option<(f64, f64)> {
        let u = (p.x - self.bbox.min.x) * self.per_cell.x;
        let v = (p.y - self.bbox.min.y) * self.per_cell.y;
        // What is not a number is off the grid.
        (u >= 0.0 && v >= 0.0 && u < self.nx as f64 && v < self.ny as f64).then_some((u, v))
    }

    /// How deep (mm) a point lies in the region, 0 or more; `None` outside.
    #[must_use]
    pub fn depth(&self, p: Point) -> Option<f64> {
        let (u, v) = self.in_cells(p)?;
        let (i, j) = (u as usize, v as usize);
        match self.cells[j * self.nx + i] {
            OUT => None,
            IN => {
                let (fx, fy) = (u - i as f64, v - j as f64);
                let n = &self.nodes[j * (self.nx + 1) + i..];
                let (a, b) = (f64::from(n[0]), f64::from(n[1]));
                let (c, d) = (f64::from(n[self.nx + 1]), f64::from(n[self.nx + 2]));
                let low = a + (b - a) * fx;
                let high = c + (d - c) * fx;
                Some(low + (high - low) * fy)
            }
            list => {
                if !self.crossed_odd(j, p) {
                    return None;
                }
                let list = list as usize;
                let near = &self.near[self.near_ends[list] as usize..self.near_ends[list + 1] as usize];
                Some(near.iter().map(|s| s.squared(p)).fold(f64::INFINITY, f64::min).sqrt())
            }
        }
    }

    /// True if the point is in the region (its border may count either way).
    #[must_use]
    pub fn contains(&self, p: Point) -> bool {
        let Some((u, v)) = self.in_cells(p) else { return false };
        let (i, j) = (u as usize, v as usize);
        match self.cells[j * self.nx + i] {
            OUT => false,
            IN => true,
            _ => self.crossed_odd(j, p),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Ring, boolean};
    use proptest::prelude::*;

    /// Slow twin: containment by the region itself, depth by all its sides.
    fn plain(region: &Region, p: Point) -> Option<f64> {
        let d = region.edges().map(|(a, b)| Side::new(a, b).squared(p)).fold(f64::INFINITY, f64::min).sqrt();
        region.contains(p).then_some(d)
    }

    proptest! {
        #[test]
        fn agrees_with_its_slow_twin(
            corners in proptest::collection::vec((0.0f64..1.0, 0.3f64..1.0), 5..24),
            hole in proptest::bool::ANY,
            points in proptest::collection::vec((-1.1f64..1.1, -1.1f64..1.1), 60),
        ) {
            let n = corners.len() as f64;
            let star: Vec<Point> = corners
                .iter()
                .enumerate()
                .map(|(k, &(t, r))| {
                    let a = (k as f64 + 0.8 * t) / n * std::f64::consts::TAU;
                    pt(800.0 * r * a.cos(), 500.0 * r * a.sin())
                })
                .collect();
            let Ok((ring, _)) = Ring::tidy(&star) else { return Ok(()) };
            let mut region = ring.to_region();
            if hole {
                let small = Ring::rectangle(BBox { min: pt(-40.0, -30.0), max: pt(50.0, 20.0) }).to_region();
                region = boolean::difference(&region, &small);
            }
            let field = Field::new(&region);
            for (x, y) in points {
                let p = pt(800.0 * x, 500.0 * y);
                match (plain(&region, p), field.depth(p)) {
                    // On the border either answer will do.
                    (Some(d), None) | (None, Some(d)) => prop_assert!(d < 1e-6, "{p:?}: {d}"),
                    (Some(a), Some(b)) => prop_assert!((a - b).abs() <= 0.5 * 60.0, "{p:?}: {a} and {b}"),
                    (None, None) => {}
                }
                prop_assert_eq!(field.contains(p), field.depth(p).is_some());
            }
        }
    }

    #[test]
    fn nothing_lies_in_an_empty_region() {
        let field = Field::new(&Region::empty());
        assert_eq!(field.depth(pt(0.0, 0.0)), None);
        assert_eq!(field.depth(pt(f64::NAN, 0.0)), None);
    }
}
