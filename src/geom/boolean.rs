//! Union, intersection and difference on one fixed integer grid. The only file that knows `i_overlay`.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::integer::OverlayInt;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver, Strategy};
use i_overlay::i_float::int::point::IntPoint;

use super::point::{Point, pt};
use super::region::{Polygon, Region, Ring};
use super::tol;

/// A point of the grid, in cells of 1 / [`tol::GRID_PER_MM`] mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::geom) struct Cell {
    pub x: i64,
    pub y: i64,
}

impl Cell {
    /// Nearest grid point. Coordinates are limited to four times [`tol::MAX_COORD`]: sums of two of them are far from
    /// the end of the integers.
    pub fn of(p: Point) -> Self {
        let limit = 4.0 * tol::MAX_COORD;
        let cell = |v: f64| (v.clamp(-limit, limit) * tol::GRID_PER_MM).round() as i64;
        Self { x: cell(p.x), y: cell(p.y) }
    }

    /// The grid point in millimetres.
    pub fn point(self) -> Point {
        pt(self.x as f64 / tol::GRID_PER_MM, self.y as f64 / tol::GRID_PER_MM)
    }
}

/// The point moved to its nearest grid point.
#[must_use]
pub fn snap(p: Point) -> Point {
    Cell::of(p).point()
}

/// Closed lines on the grid, one after the other. They may cross themselves and each other.
#[derive(Clone, Debug, Default)]
pub(in crate::geom) struct Lines {
    cells: Vec<Cell>,
    /// Where each line ends in `cells`.
    ends: Vec<usize>,
}

impl Lines {
    /// Adds the line through these points and back to the first.
    pub fn push(&mut self, line: impl IntoIterator<Item = Cell>) {
        self.cells.extend(line);
        self.ends.push(self.cells.len());
    }

    /// Adds the line through these points.
    pub fn push_points(&mut self, line: &[Point]) {
        self.push(line.iter().map(|&p| Cell::of(p)));
    }

    /// Adds the line through these points, the other way round.
    pub fn push_reversed(&mut self, line: &[Point]) {
        self.push(line.iter().rev().map(|&p| Cell::of(p)));
    }

    /// Counter-clockwise outside, clockwise holes, as the non-zero rule wants them.
    pub fn push_region(&mut self, region: &Region) {
        for polygon in &region.polygons {
            self.push_points(polygon.outer.points());
            for hole in &polygon.holes {
                self.push(hole.points().iter().rev().map(|&p| Cell::of(p)));
            }
        }
    }

    fn of(region: &Region) -> Self {
        let mut lines = Self::default();
        lines.push_region(region);
        lines
    }

    fn each(&self) -> impl Iterator<Item = &[Cell]> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(from, &to)| &self.cells[from..to])
    }

    /// What the lines wind round, in either sense.
    pub fn wound(&self) -> Region {
        run(self, &Self::default(), OverlayRule::Subject, FillRule::NonZero)
    }

    /// What the lines wind round clockwise.
    pub fn wound_clockwise(&self) -> Region {
        run(self, &Self::default(), OverlayRule::Subject, FillRule::Negative)
    }
}

/// Integers that the overlay computes with: the narrow ones are about twice as fast, and give the same.
trait Engine: OverlayInt {
    /// Coordinates below this bound cannot overflow (documentation of `i_overlay::core::integer`).
    const BOUND: i64;
    fn narrow(wide: i64) -> Self;
    fn widen(self) -> i64;
}

impl Engine for i32 {
    const BOUND: i64 = 1 << 30;
    fn narrow(wide: i64) -> Self {
        wide as Self
    }
    fn widen(self) -> i64 {
        i64::from(self)
    }
}

impl Engine for i64 {
    const BOUND: i64 = 1 << 62;
    fn narrow(wide: i64) -> Self {
        wide
    }
    fn widen(self) -> i64 {
        self
    }
}

fn overlay<I: Engine>(capacity: usize) -> Overlay<I> {
    // Counter-clockwise outer lines without collinear points, however small. Where corners touch, rings are split there: a
    // ring that meets itself would be none.
    let options = IntOverlayOptions::ogc();
    // HIGH starts with a snap radius of one grid cell and widens it by the root of 2 in every round of splitting. ABSOLUTE
    // would keep it at one cell, but where long borders all but coincide (exact fits) its rounds go on for seconds.
    let solver = Solver::with_strategy_and_precision(Strategy::Auto, Precision::HIGH);
    Overlay::new_custom(capacity, options, solver)
}

fn collect(shapes: Vec<Vec<Vec<Cell>>>) -> Region {
    let mut outers: Vec<Vec<Cell>> = Vec::with_capacity(shapes.len());
    let mut holes: Vec<(usize, Vec<Cell>)> = Vec::new();
    for shape in shapes {
        let mut rings = shape.into_iter().filter(|c| c.len() >= 3);
        let Some(outer) = rings.next() else { continue };
        holes.extend(rings.map(|h| (outers.len(), h)));
        outers.push(outer);
    }
    let ring = |contour: Vec<Cell>| Ring::vouched(contour.into_iter().map(Cell::point).collect());
    let homes: Vec<usize> = holes.iter().map(|(said, hole)| home(hole, &outers).unwrap_or(*said)).collect();
    let mut polygons: Vec<Polygon> =
        outers.into_iter().map(|o| Polygon { outer: ring(o), holes: Vec::new() }).collect();
    for ((_, mut hole), home) in holes.into_iter().zip(homes) {
        hole.reverse();
        polygons[home].holes.push(ring(hole));
    }
    Region { polygons }
}

/// The outer line that a hole belongs to: the least of those that hold it. `None` if none does.
///
/// The overlay says so too, but wrongly where rings that touch one another at corners are nested: a hole then lands in a
/// polygon that lies elsewhere.
fn home(hole: &[Cell], outers: &[Vec<Cell>]) -> Option<usize> {
    if outers.len() == 1 {
        return Some(0);
    }
    let spread = |ring: &[Cell]| {
        ring.iter().fold((i64::MAX, i64::MAX, i64::MIN, i64::MIN), |b, p| {
            (b.0.min(p.x), b.1.min(p.y), b.2.max(p.x), b.3.max(p.y))
        })
    };
    let inner = spread(hole);
    let twice_area = |ring: &[Cell]| -> i128 {
        (0..ring.len())
            .map(|i| cross((0, 0), doubled(ring[i]), doubled(ring[(i + 1) % ring.len()])))
            .sum::<i128>()
            .abs()
    };
    (0..outers.len())
        .filter(|&k| {
            let outer = spread(&outers[k]);
            outer.0 <= inner.0
                && outer.1 <= inner.1
                && outer.2 >= inner.2
                && outer.3 >= inner.3
                && holds(&outers[k], hole)
        })
        .min_by_key(|&k| twice_area(&outers[k]))
}

/// Twice the coordinates, so that the middle of a side is a whole number too.
fn doubled(p: Cell) -> (i128, i128) {
    (2 * i128::from(p.x), 2 * i128::from(p.y))
}

/// Twice the area of the triangle, exact.
fn cross(a: (i128, i128), b: (i128, i128), c: (i128, i128)) -> i128 {
    (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
}

/// True if `inner`, which does not cross `outer`, lies inside it. Decided exactly, by the first corner or middle of a side
/// that is not on the outer line.
fn holds(outer: &[Cell], inner: &[Cell]) -> bool {
    let n = inner.len();
    (0..2 * n)
        .map(|k| {
            let (a, b) = (inner[k / 2], inner[(k / 2 + k % 2) % n]);
            (i128::from(a.x) + i128::from(b.x), i128::from(a.y) + i128::from(b.y))
        })
        .find_map(|p| inside(outer, p))
        .unwrap_or(false)
}

/// Whether `p` (doubled) is inside the line; `None` on it.
fn inside(ring: &[Cell], p: (i128, i128)) -> Option<bool> {
    let mut odd = false;
    for i in 0..ring.len() {
        let (a, b) = (doubled(ring[i]), doubled(ring[(i + 1) % ring.len()]));
        let side = cross(a, b, p);
        let between = |u: i128, v: i128, w: i128| u.min(v) <= w && w <= u.max(v);
        if side == 0 && between(a.0, b.0, p.0) && between(a.1, b.1, p.1) {
            return None;
        }
        if (a.1 > p.1) != (b.1 > p.1) && (side > 0) == (b.1 > a.1) {
            odd = !odd;
        }
    }
    Some(odd)
}

fn run(subject: &Lines, clip: &Lines, rule: OverlayRule, fill: FillRule) -> Region {
    let reach = subject.cells.iter().chain(&clip.cells).fold(0, |r: i64, c| r.max(c.x.abs()).max(c.y.abs()));
    collect(if reach < i32::BOUND {
        shapes::<i32>(subject, clip, rule, fill)
    } else {
        shapes::<i64>(subject, clip, rule, fill)
    })
}

/// The overlay itself. No coordinate may reach the bound of the engine.
fn shapes<I: Engine>(subject: &Lines, clip: &Lines, rule: OverlayRule, fill: FillRule) -> Vec<Vec<Vec<Cell>>> {
    let mut overlay = overlay::<I>(subject.cells.len() + clip.cells.len());
    for (lines, kind) in [(subject, ShapeType::Subject), (clip, ShapeType::Clip)] {
        for line in lines.each() {
            overlay.add_path_iter(line.iter().map(|c| IntPoint::new(I::narrow(c.x), I::narrow(c.y))), kind);
        }
    }
    let wide = |contour: Vec<IntPoint<I>>| contour.iter().map(|p| Cell { x: p.x.widen(), y: p.y.widen() }).collect();
    overlay.overlay(rule, fill).into_iter().map(|shape| shape.into_iter().map(wide).collect()).collect()
}

/// What lies in both.
#[must_use]
pub fn intersection(a: &Region, b: &Region) -> Region {
    if a.is_empty() || b.is_empty() || !a.bbox().near(&b.bbox(), 0.0) {
        return Region::empty();
    }
    run(&Lines::of(a), &Lines::of(b), OverlayRule::Intersect, FillRule::NonZero)
}

/// What lies in `a` and not in `b`.
#[must_use]
pub fn difference(a: &Region, b: &Region) -> Region {
    if a.is_empty() || b.is_empty() || !a.bbox().near(&b.bbox(), 0.0) {
        return a.clone();
    }
    run(&Lines::of(a), &Lines::of(b), OverlayRule::Difference, FillRule::NonZero)
}

/// What lies in `a` and is not wound round by the lines.
pub(in crate::geom) fn difference_lines(a: &Region, lines: &Lines) -> Region {
    if a.is_empty() || lines.ends.is_empty() {
        return a.clone();
    }
    run(&Lines::of(a), lines, OverlayRule::Difference, FillRule::NonZero)
}

/// What lies in either.
#[must_use]
pub fn union(a: &Region, b: &Region) -> Region {
    run(&Lines::of(a), &Lines::of(b), OverlayRule::Union, FillRule::NonZero)
}

/// The union of any number of convex (or at least counter-clockwise simple) point loops, by the non-zero rule.
#[must_use]
pub fn union_loops<'a>(loops: impl IntoIterator<Item = &'a [Point]>) -> Region {
    let mut lines = Lines::default();
    for l in loops {
        lines.push_points(l);
    }
    lines.wound()
}

/// The union of regions.
#[must_use]
pub fn union_all<'a>(regions: impl IntoIterator<Item = &'a Region>) -> Region {
    let mut lines = Lines::default();
    for r in regions {
        lines.push_region(r);
    }
    lines.wound()
}
