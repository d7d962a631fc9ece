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

/// Nearest grid point. Coordinates are limited to twice [`tol::MAX_COORD`], so that sums still fit.
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
    let mut polygons = Vec::with_capacity(shapes.len());
    for shape in shapes {
        let mut rings =
            shape.into_iter().filter(|c| c.len() >= 3).map(|contour| contour.iter().map(from_grid).collect());
        let Some(outer) = rings.next() else { continue };
        let holes = rings
            .map(|mut h: Vec<Point>| {
                h.reverse();
                Ring::vouched(h)
            })
            .collect();
        polygons.push(Polygon { outer: Ring::vouched(outer), holes });
    }
    Region { polygons }
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
