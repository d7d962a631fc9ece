//! Exact distances (in `f64`) between points, segments, rings and regions.
//!
//! These decide whether a clearance holds. No index and no shortcut but bounding boxes.

use super::boolean;
use super::point::{Point, orient, pt};
use super::region::{Region, Ring};
use super::tol;

/// Nearest point to `p` on the segment `ab`.
#[must_use]
pub fn nearest_on_segment(p: Point, a: Point, b: Point) -> Point {
    let d = b - a;
    let len2 = d.dot(d);
    if len2 == 0.0 {
        return a;
    }
    let t = ((p - a).dot(d) / len2).clamp(0.0, 1.0);
    a.lerp(b, t)
}

/// A point that both segments share, if they touch or cross.
#[must_use]
pub fn segment_contact(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    if a.x.max(b.x) < c.x.min(d.x)
        || c.x.max(d.x) < a.x.min(b.x)
        || a.y.max(b.y) < c.y.min(d.y)
        || c.y.max(d.y) < a.y.min(b.y)
    {
        return None;
    }
    let (o1, o2) = (orient(a, b, c), orient(a, b, d));
    let (o3, o4) = (orient(c, d, a), orient(c, d, b));
    if o1 * o2 < 0.0 && o3 * o4 < 0.0 {
        return Some(a.lerp(b, o3 / (o3 - o4)));
    }
    let on = |o: f64, p: Point, q: Point, r: Point| {
        o == 0.0 && p.x.min(q.x) <= r.x && r.x <= p.x.max(q.x) && p.y.min(q.y) <= r.y && r.y <= p.y.max(q.y)
    };
    if on(o1, a, b, c) {
        Some(c)
    } else if on(o2, a, b, d) {
        Some(d)
    } else if on(o3, c, d, a) {
        Some(a)
    } else if on(o4, c, d, b) {
        Some(b)
    } else {
        None
    }
}

/// A distance with the two points that realise it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Millimetres; negative where two regions overlap.
    pub distance: f64,
    /// On the first shape.
    pub from: Point,
    /// On the second shape.
    pub to: Point,
}

impl Nearest {
    /// Infinitely far: the distance to nothing.
    pub const NONE: Self = Self { distance: f64::INFINITY, from: pt(0.0, 0.0), to: pt(0.0, 0.0) };

    /// The nearer of the two; `self` on a tie.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        if other.distance < self.distance { other } else { self }
    }

    fn between(from: Point, to: Point) -> Self {
        Self { distance: from.distance(to), from, to }
    }
}

/// Distance between two segments; 0 if they touch or cross.
#[must_use]
pub fn segments(a: Point, b: Point, c: Point, d: Point) -> Nearest {
    if let Some(p) = segment_contact(a, b, c, d) {
        return Nearest { distance: 0.0, from: p, to: p };
    }
    Nearest::between(a, nearest_on_segment(a, c, d))
        .min(Nearest::between(b, nearest_on_segment(b, c, d)))
        .min(Nearest::between(nearest_on_segment(c, a, b), c))
        .min(Nearest::between(nearest_on_segment(d, a, b), d))
}

/// Lower bound of the distance between two segments by their boxes.
fn box_gap(a: Point, b: Point, c: Point, d: Point) -> f64 {
    let dx = (c.x.min(d.x) - a.x.max(b.x)).max(a.x.min(b.x) - c.x.max(d.x)).max(0.0);
    let dy = (c.y.min(d.y) - a.y.max(b.y)).max(a.y.min(b.y) - c.y.max(d.y)).max(0.0);
    dx.max(dy)
}

/// Distance between two sets of segments; [`Nearest::NONE`] if either is empty.
#[must_use]
pub fn lines(
    first: impl IntoIterator<Item = (Point, Point)>,
    second: impl IntoIterator<Item = (Point, Point)> + Clone,
) -> Nearest {
    let mut best = Nearest::NONE;
    let mut low = pt(f64::INFINITY, f64::INFINITY);
    let mut high = pt(f64::NEG_INFINITY, f64::NEG_INFINITY);
    for p in second.clone().into_iter().flat_map(|(c, d)| [c, d]) {
        low = pt(low.x.min(p.x), low.y.min(p.y));
        high = pt(high.x.max(p.x), high.y.max(p.y));
    }
    for (a, b) in first {
        // Too far from all of the second for a smaller distance.
        if box_gap(a, b, low, high) >= best.distance {
            continue;
        }
        for (c, d) in second.clone() {
            if box_gap(a, b, c, d) < best.distance {
                best = best.min(segments(a, b, c, d));
            }
        }
    }
    best
}

/// Distance between the lines of two rings, wherever they lie; 0 if they touch or cross.
#[must_use]
pub fn ring_lines(a: &Ring, b: &Ring) -> Nearest {
    let (pa, pb) = (a.points(), b.points());
    lines(closed(pa), closed(pb))
}

fn closed(points: &[Point]) -> impl Iterator<Item = (Point, Point)> + Clone + '_ {
    let n = points.len();
    (0..n).map(move |i| (points[i], points[(i + 1) % n]))
}

/// The sides of an open polyline; a single point gives one side of length 0.
pub fn open_line(points: &[Point]) -> impl Iterator<Item = (Point, Point)> + Clone + '_ {
    let n = points.len();
    (0..n.saturating_sub(1).max(usize::from(n == 1))).map(move |i| (points[i], points[(i + 1) % n]))
}

/// Distance from a point to a region; 0 inside it; [`Nearest::NONE`] to the empty region.
#[must_use]
pub fn point_to_region(p: Point, region: &Region) -> Nearest {
    if region.contains(p) {
        return Nearest { distance: 0.0, from: p, to: p };
    }
    lines(std::iter::once((p, p)), region_edges(region))
}

fn region_edges(region: &Region) -> impl Iterator<Item = (Point, Point)> + Clone + '_ {
    region
        .polygons
        .iter()
        .flat_map(|p| std::iter::once(p.outer.points()).chain(p.holes.iter().map(Ring::points)).flat_map(closed))
}

/// Distance from an open polyline (or a single point) to a region; 0 if any of it is inside.
#[must_use]
pub fn line_to_region(line: &[Point], region: &Region) -> Nearest {
    let mut best = Nearest::NONE;
    if let Some(&p) = line.iter().find(|p| region.contains(**p)) {
        best = Nearest { distance: 0.0, from: p, to: p };
    }
    if best.distance > 0.0 { best.min(lines(open_line(line), region_edges(region))) } else { best }
}

/// Depth of an overlap and where it is deepest; `None` for the empty overlap.
///
/// The larger of two measures. Of each part of the overlap, twice its area over its perimeter: the depth of a thin strip.
/// Of each corner of the overlap, which lies on the border of one shape, how far it is from the border of the other: that
/// finds a small bump on a long flush side, which the first measure would average away.
fn deepest(
    overlap: &Region,
    first: impl IntoIterator<Item = (Point, Point)> + Clone,
    second: impl IntoIterator<Item = (Point, Point)> + Clone,
) -> Option<Nearest> {
    let mut depth = 0.0;
    let mut at = None;
    for polygon in &overlap.polygons {
        let perimeter: f64 = polygon.rings().map(Ring::perimeter).sum();
        let strip = 2.0 * polygon.area() / perimeter;
        if at.is_none() || strip > depth {
            (depth, at) = (strip, Some(polygon.outer.bbox().centre()));
        }
        for &p in polygon.rings().flat_map(Ring::points) {
            let corner = off_line(p, first.clone()).max(off_line(p, second.clone()));
            if corner > depth {
                (depth, at) = (corner, Some(p));
            }
        }
    }
    at.map(|at| Nearest { distance: -depth, from: at, to: at })
}

/// Distance from a point to a set of segments.
fn off_line(p: Point, edges: impl IntoIterator<Item = (Point, Point)> + Clone) -> f64 {
    lines(std::iter::once((p, p)), edges).distance
}

/// Distance between two regions. Where they overlap it is minus the depth of the overlap: exact for a thin one, a fair
/// measure of a thick one.
///
/// A touch counts as 0.
#[must_use]
pub fn regions(a: &Region, b: &Region) -> Nearest {
    if a.is_empty() || b.is_empty() {
        return Nearest::NONE;
    }
    let near = lines(region_edges(a), region_edges(b));
    let inside = |r: &Region, s: &Region| r.polygons.iter().any(|p| s.contains(p.outer.points()[0]));
    // Borders that all but touch leave it to rounding on which side of them a corner is.
    if near.distance > tol::SAME_POINT && !inside(a, b) && !inside(b, a) {
        return near;
    }
    deepest(&boolean::intersection(a, b), region_edges(a), region_edges(b)).unwrap_or(near)
}

/// How far a region stays inside a ring: the distance from its line to the ring's, negative where it sticks out
/// (measured as in [`regions`]).
#[must_use]
pub fn inside_ring(region: &Region, ring: &Ring) -> Nearest {
    let near = lines(region_edges(region), closed(ring.points()));
    let all_in = region.polygons.iter().all(|p| ring.contains(p.outer.points()[0]));
    if near.distance > tol::SAME_POINT && all_in {
        return near;
    }
    let out = boolean::difference(region, &ring.to_region());
    deepest(&out, region_edges(region), closed(ring.points())).unwrap_or(near)
}
