//! Union, intersection and difference on one fixed integer grid. The only file that knows `i_overlay`.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{ContourDirection, IntOverlayOptions, Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver, Strategy};
use i_overlay::i_float::int::point::IntPoint;

use super::point::{Point, pt};
use super::region::{Polygon, Region, Ring};
use super::tol;

type P = IntPoint<i64>;

/// Nearest grid point. Coordinates are limited to four times [`tol::MAX_COORD`]: sums of two of them are far from
/// the end of the integers.
fn to_grid(p: Point) -> P {
    let limit = 4.0 * tol::MAX_COORD;
    let cell = |v: f64| (v.clamp(-limit, limit) * tol::GRID_PER_MM).round() as i64;
    P::new(cell(p.x), cell(p.y))
}

fn from_grid(p: &P) -> Point {
    pt(p.x as f64 / tol::GRID_PER_MM, p.y as f64 / tol::GRID_PER_MM)
}

/// The point moved to its nearest grid point.
#[must_use]
pub fn snap(p: Point) -> Point {
    from_grid(&to_grid(p))
}

fn overlay(capacity: usize) -> Overlay<i64> {
    let options = IntOverlayOptions {
        preserve_input_collinear: false,
        output_direction: ContourDirection::CounterClockwise,
        preserve_output_collinear: false,
        min_output_area: 0,
        // Where corners touch, rings are split there: a ring that meets itself would be none.
        ogc: true,
    };
    // HIGH starts with a snap radius of one grid cell and widens it by the root of 2 in every round of splitting. ABSOLUTE
    // would keep it at one cell, but where long borders all but coincide (exact fits) its rounds go on for seconds.
    let solver = Solver::with_strategy_and_precision(Strategy::Auto, Precision::HIGH);
    Overlay::new_custom(capacity, options, solver)
}

/// Counter-clockwise outside, clockwise holes, as the non-zero rule wants them.
fn add(to: &mut Overlay<i64>, region: &Region, kind: ShapeType) {
    for polygon in &region.polygons {
        to.add_path_iter(polygon.outer.points().iter().map(|&p| to_grid(p)), kind);
        for hole in &polygon.holes {
            to.add_path_iter(hole.points().iter().rev().map(|&p| to_grid(p)), kind);
        }
    }
}

fn vertices(region: &Region) -> usize {
    region.rings().map(|r| r.points().len()).sum()
}

fn collect(shapes: Vec<Vec<Vec<P>>>) -> Region {
    let mut outers: Vec<Vec<P>> = Vec::with_capacity(shapes.len());
    let mut holes: Vec<(usize, Vec<P>)> = Vec::new();
    for shape in shapes {
        let mut rings = shape.into_iter().filter(|c| c.len() >= 3);
        let Some(outer) = rings.next() else { continue };
        holes.extend(rings.map(|h| (outers.len(), h)));
        outers.push(outer);
    }
    let ring = |contour: Vec<P>| Ring::vouched(contour.iter().map(from_grid).collect());
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
fn home(hole: &[P], outers: &[Vec<P>]) -> Option<usize> {
    if outers.len() == 1 {
        return Some(0);
    }
    let spread = |ring: &[P]| {
        ring.iter().fold((i64::MAX, i64::MAX, i64::MIN, i64::MIN), |b, p| {
            (b.0.min(p.x), b.1.min(p.y), b.2.max(p.x), b.3.max(p.y))
        })
    };
    let inner = spread(hole);
    let twice_area = |ring: &[P]| -> i128 {
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
fn doubled(p: P) -> (i128, i128) {
    (2 * i128::from(p.x), 2 * i128::from(p.y))
}

/// Twice the area of the triangle, exact.
fn cross(a: (i128, i128), b: (i128, i128), c: (i128, i128)) -> i128 {
    (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
}

/// True if `inner`, which does not cross `outer`, lies inside it. Decided exactly, by the first corner or middle of a side
/// that is not on the outer line.
fn holds(outer: &[P], inner: &[P]) -> bool {
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
fn inside(ring: &[P], p: (i128, i128)) -> Option<bool> {
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

fn run(a: &Region, b: &Region, rule: OverlayRule) -> Region {
    let mut o = overlay(vertices(a) + vertices(b));
    add(&mut o, a, ShapeType::Subject);
    add(&mut o, b, ShapeType::Clip);
    collect(o.overlay(rule, FillRule::NonZero))
}

/// What lies in both.
#[must_use]
pub fn intersection(a: &Region, b: &Region) -> Region {
    if a.is_empty() || b.is_empty() || !a.bbox().near(&b.bbox(), 0.0) {
        return Region::empty();
    }
    run(a, b, OverlayRule::Intersect)
}

/// What lies in `a` and not in `b`.
#[must_use]
pub fn difference(a: &Region, b: &Region) -> Region {
    if a.is_empty() || b.is_empty() || !a.bbox().near(&b.bbox(), 0.0) {
        return a.clone();
    }
    run(a, b, OverlayRule::Difference)
}

/// What lies in either.
#[must_use]
pub fn union(a: &Region, b: &Region) -> Region {
    run(a, b, OverlayRule::Union)
}

/// The union of any number of convex (or at least counter-clockwise simple) point loops, by the non-zero rule.
#[must_use]
pub fn union_loops<'a>(loops: impl IntoIterator<Item = &'a [Point]> + Clone) -> Region {
    let mut o = overlay(loops.clone().into_iter().map(<[Point]>::len).sum());
    for l in loops {
        o.add_path_iter(l.iter().map(|&p| to_grid(p)), ShapeType::Subject);
    }
    collect(o.overlay(OverlayRule::Subject, FillRule::NonZero))
}

/// The union of regions.
#[must_use]
pub fn union_all<'a>(regions: impl IntoIterator<Item = &'a Region> + Clone) -> Region {
    let mut o = overlay(regions.clone().into_iter().map(vertices).sum());
    for r in regions {
        add(&mut o, r, ShapeType::Subject);
    }
    collect(o.overlay(OverlayRule::Subject, FillRule::NonZero))
}
