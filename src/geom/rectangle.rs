//! The largest rectangle inside a region, sides parallel to the axes or to any of some given directions.

use super::boolean;
use super::point::{BBox, Point, pt};
use super::pose::Pose;
use super::region::Region;

/// A rectangle turned about its first corner: `corner`, then `size` along the turned axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// The corner from which the sizes run, mm.
    pub corner: Point,
    /// Sizes along the turned x and y, mm.
    pub size: [f64; 2],
    /// Degrees, counter-clockwise.
    pub turn: f64,
}

impl Turned {
    /// Area, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        self.size[0] * self.size[1]
    }

    /// The corners, counter-clockwise.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        let pose = Pose::new(self.turn, self.corner);
        let [w, h] = self.size;
        [pose.apply(pt(0.0, 0.0)), pose.apply(pt(w, 0.0)), pose.apply(pt(w, h)), pose.apply(pt(0.0, h))]
    }
}

/// What is asked of a rectangle.
#[derive(Clone, Copy, Debug)]
pub struct Want {
    /// Least length of the shorter side, mm.
    pub least_side: f64,
    /// Least area, mm².
    pub least_area: f64,
    /// Vertices nearer than this to one another (mm) are not tried separately. Larger: faster, a little smaller results.
    pub detail: f64,
}

/// How far a side of the result may stick out sideways, mm: one and a half grid cells. A straight wall that went over the
/// grid, or was turned, is straight only up to that; smaller, and a strip along such a wall would count as blocked.
const WALL: f64 = 1.5 / super::tol::GRID_PER_MM;

/// The width is divided at least this finely, so that shapes without parallel walls have strips to start from. Larger:
/// slower with its square; smaller: a slender start may be missed.
const DIVISIONS: f64 = 24.0;

/// The largest rectangle (by area) inside `region` whose sides are parallel to one of the `turns` (degrees).
///
/// For every pair of abscissas (vertices, and an even division) the tallest free strip between them is found exactly; the
/// best few are then grown by moving their sides, so that slanted borders are used too. Exact for borders parallel to the
/// turn; for slanted ones a local optimum near the best pair. `None` if nothing satisfies `want`. The sides stay inside
/// up to 0.15 µm.
#[must_use]
pub fn largest(region: &Region, turns: &[f64], want: &Want) -> Option<Turned> {
    let mut best: Option<Turned> = None;
    for &turn in turns {
        let back = Pose::new(-turn, pt(0.0, 0.0)).region(region);
        let floor = best.map_or(want.least_area, |b| b.area());
        for flipped in [false, true] {
            let r = if flipped { transposed(&back) } else { back.clone() };
            let floor = best.map_or(floor, |b| b.area());
            if let Some(b) = largest_upright(&r, want, floor) {
                let b = if flipped { BBox { min: pt(b.min.y, b.min.x), max: pt(b.max.y, b.max.x) } } else { b };
                let candidate =
                    Turned { corner: Pose::new(turn, pt(0.0, 0.0)).apply(b.min), size: [b.width(), b.height()], turn };
                if best.is_none_or(|old| candidate.area() > old.area() + 1e-6) {
                    best = Some(candidate);
                }
            }
        }
    }
    best
}

/// The region mirrored at the diagonal (x and y exchanged), rings kept counter-clockwise.
fn transposed(region: &Region) -> Region {
    let flip = |r: &super::Ring| {
        let mut p: Vec<Point> = r.points().iter().map(|p| pt(p.y, p.x)).collect();
        p.reverse();
        super::Ring::vouched(p)
    };
    Region {
        polygons: region
            .polygons
            .iter()
            .map(|p| super::Polygon { outer: flip(&p.outer), holes: p.holes.iter().map(flip).collect() })
            .collect(),
    }
}

fn largest_upright(region: &Region, want: &Want, floor: f64) -> Option<BBox> {
    let mut best: Option<(f64, BBox)> = None;
    for polygon in &region.polygons {
        if polygon.area() < floor {
            continue;
        }
        let one = Region { polygons: vec![polygon.clone()] };
        let edges: Vec<(Point, Point)> = one.edges().collect();
        let mut xs: Vec<f64> = edges.iter().map(|e| e.0.x).collect();
        xs.sort_by(f64::total_cmp);
        let kept = abscissas(&xs, want.detail);
        let full_height = one.bbox().height();
        let mut candidates: Vec<(f64, BBox)> = Vec::new();
        for (bound, x0, x1) in strips(&edges, &kept, full_height, want.least_side) {
            let bar = best.map_or(floor, |b: (f64, BBox)| b.0.max(floor));
            // Sliding sides can still add to a candidate, so the bar is set a little lower.
            if bound < 0.9 * bar {
                break;
            }
            if let Some((y0, y1)) = tallest(&edges, x0, x1)
                && y1 - y0 >= want.least_side
            {
                let b = BBox { min: pt(x0, y0), max: pt(x1, y1) };
                let area = (x1 - x0) * (y1 - y0);
                if area >= 0.9 * bar {
                    candidates.push((area, b));
                }
                if area >= bar && best.is_none_or(|o| area > o.0) {
                    best = Some((area, b));
                }
            }
        }
        candidates.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.min.x.total_cmp(&b.1.min.x)));
        // Neighbours would slide to the same place.
        let apart = one.bbox().width() / DIVISIONS * 1.5;
        let mut starts: Vec<BBox> = Vec::new();
        for (_, b) in candidates {
            if starts.iter().all(|s| (s.min.x - b.min.x).abs().max((s.max.x - b.max.x).abs()) > apart) {
                starts.push(b);
                if starts.len() == 4 {
                    break;
                }
            }
        }
        for b in starts {
            let (area, b) = slide_all(&edges, b);
            if area >= floor && b.width().min(b.height()) >= want.least_side && best.is_none_or(|o| area > o.0) {
                best = Some((area, b));
            }
        }
    }
    best.map(|b| b.1)
}

/// The abscissas to try, from those of the vertices in rising order: the first and the last of every run no longer than
/// `detail` (a run may be a left wall or a right one), and points between that leave no wide gap.
fn abscissas(xs: &[f64], detail: f64) -> Vec<f64> {
    let mut vertices: Vec<f64> = Vec::new();
    let mut run = f64::NEG_INFINITY;
    for (i, &x) in xs.iter().enumerate() {
        let first = x - run > detail;
        if first {
            run = x;
        }
        let last = xs.get(i + 1).is_none_or(|&next| next - run > detail);
        if (first || last) && vertices.last() != Some(&x) {
            vertices.push(x);
        }
    }
    let (Some(&low), Some(&high)) = (vertices.first(), vertices.last()) else { return Vec::new() };
    let gap = (high - low) / DIVISIONS;
    let mut all = Vec::with_capacity(vertices.len() + DIVISIONS as usize);
    for w in vertices.windows(2) {
        let n = ((w[1] - w[0]) / gap).ceil().max(1.0);
        all.extend((0..n as usize).map(|k| w[0] + (w[1] - w[0]) * (k as f64 / n)));
    }
    all.push(high);
    all
}

/// All strips between two of the abscissas that are at least `least` wide, with an upper bound on the area of a rectangle
/// as wide as the strip; the greatest bound first, so that few strips need to be looked at closely.
///
/// A strip has no taller free interval than the narrowest strips of which it is made.
fn strips(edges: &[(Point, Point)], xs: &[f64], full_height: f64, least: f64) -> Vec<(f64, f64, f64)> {
    let heights: Vec<f64> = xs
        .windows(2)
        .map(|w| match tallest(edges, w[0], w[1]) {
            Some((lo, hi)) => hi - lo,
            // Too narrow to tell.
            None if w[1] - w[0] <= 4.0 * WALL => full_height,
            None => 0.0,
        })
        .collect();
    let mut all = Vec::new();
    for i in 0..xs.len() {
        let mut height = full_height;
        for j in i + 1..xs.len() {
            height = height.min(heights[j - 1]);
            let width = xs[j] - xs[i];
            if width >= least && height > 0.0 && height >= least {
                all.push((width * height, xs[i], xs[j]));
            }
        }
    }
    all.sort_by(|p, q| q.0.total_cmp(&p.0).then(p.1.total_cmp(&q.1)).then(p.2.total_cmp(&q.2)));
    all
}

/// The tallest free interval of y between the verticals at `x0` < `x1`: free means no border passes through the open
/// strip there (up to [`WALL`]), and its middle is inside.
fn tallest(edges: &[(Point, Point)], x0: f64, x1: f64) -> Option<(f64, f64)> {
    let (x0, x1) = (x0 + WALL, x1 - WALL);
    if x0 >= x1 {
        return None;
    }
    // The y-range that each edge covers within the open strip, with the side of it on which the region lies.
    let mut spans: Vec<(f64, f64)> = Vec::with_capacity(edges.len());
    for &(a, b) in edges {
        let (l, r) = if a.x <= b.x { (a, b) } else { (b, a) };
        if r.x <= x0 || l.x >= x1 {
            continue;
        }
        let y_at = |x: f64| l.y + (r.y - l.y) * ((x - l.x) / (r.x - l.x)).clamp(0.0, 1.0);
        let (ya, yb) = if l.x == r.x { (l.y, r.y) } else { (y_at(x0.max(l.x)), y_at(x1.min(r.x))) };
        spans.push((ya.min(yb), ya.max(yb)));
    }
    spans.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1)));
    let mut best: Option<(f64, f64)> = None;
    let mut top = f64::NEG_INFINITY;
    let xm = (x0 + x1) / 2.0;
    for (lo, hi) in spans {
        if lo > top
            && top.is_finite()
            && best.is_none_or(|(a, b)| lo - top > b - a)
            && inside(edges, pt(xm, (lo + top) / 2.0))
        {
            best = Some((top, lo));
        }
        top = top.max(hi);
    }
    best
}

/// Even-odd test against all borders.
fn inside(edges: &[(Point, Point)], p: Point) -> bool {
    let mut odd = false;
    for &(a, b) in edges {
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * ((p.y - a.y) / (b.y - a.y)) {
            odd = !odd;
        }
    }
    odd
}

/// Slides the vertical and the horizontal sides in turn until neither helps. Where the height is held by borders on both
/// sides, the vertical sides can only move together, and moving a horizontal one does just that.
fn slide_all(edges: &[(Point, Point)], start: BBox) -> (f64, BBox) {
    let flip = |p: Point| pt(p.y, p.x);
    let flip_box = |b: BBox| BBox { min: flip(b.min), max: flip(b.max) };
    let flipped: Vec<(Point, Point)> = edges.iter().map(|&(a, b)| (flip(a), flip(b))).collect();
    let (mut area, mut best) = slide(edges, start);
    for round in 0..16 {
        let (a, b) = if round % 2 == 0 {
            let (a, b) = slide(&flipped, flip_box(best));
            (a, flip_box(b))
        } else {
            slide(edges, best)
        };
        let gain = a - area;
        if gain > 0.0 {
            (area, best) = (a, b);
        }
        if gain <= 1e-4 * area {
            break;
        }
    }
    (area, best)
}

/// Moves the two vertical sides of a free rectangle, in falling steps, as long as the area grows.
fn slide(edges: &[(Point, Point)], start: BBox) -> (f64, BBox) {
    let mut best = start;
    let mut area = start.width() * start.height();
    let mut step = start.width() / 4.0;
    while step > 0.05 {
        let mut grew = false;
        for (d0, d1) in [(-step, 0.0), (step, 0.0), (0.0, step), (0.0, -step), (step, step), (-step, -step)] {
            let (x0, x1) = (best.min.x + d0, best.max.x + d1);
            if x1 <= x0 {
                continue;
            }
            if let Some((y0, y1)) = tallest(edges, x0, x1) {
                let a = (x1 - x0) * (y1 - y0);
                if a > area + 1e-6 {
                    area = a;
                    best = BBox { min: pt(x0, y0), max: pt(x1, y1) };
                    grew = true;
                }
            }
        }
        if !grew {
            step /= 2.0;
        }
    }
    (area, best)
}

/// The part of `region` outside the rectangle.
#[must_use]
pub fn without(region: &Region, rectangle: &Turned) -> Region {
    let ring = super::Ring::vouched(rectangle.corners().to_vec());
    boolean::difference(region, &ring.to_region())
}
