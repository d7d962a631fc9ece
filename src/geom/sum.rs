//! Minkowski sums, offsets, and the regions of shifts that follow from them.
//!
//! `A + K` for convex `K` is `(A + k) ∪ (∂A + K)` for any `k` in `K`; a second operand that is not convex is split into
//! convex parts first (de Berg et al., Computational Geometry, 3rd ed., ch. 13: the sum distributes over union).

use geo::{Coord, LineString, TriangulateEarcut};

use super::boolean;
use super::curve;
use super::point::{Point, orient, pt};
use super::region::{Polygon, Region, Ring};

/// A convex loop, counter-clockwise; one or two points are allowed (a point, a segment).
pub type Convex = Vec<Point>;

/// Convex hull, counter-clockwise, without collinear points (Andrew's monotone chain).
#[must_use]
pub fn hull(points: &[Point]) -> Convex {
    let mut p = points.to_vec();
    p.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    p.dedup();
    if p.len() < 3 {
        return p;
    }
    let half = |it: &mut dyn Iterator<Item = Point>| {
        let mut h: Vec<Point> = Vec::new();
        for q in it {
            while h.len() >= 2 && orient(h[h.len() - 2], h[h.len() - 1], q) <= 0.0 {
                h.pop();
            }
            h.push(q);
        }
        h.pop();
        h
    };
    let mut lower = half(&mut p.iter().copied());
    let upper = half(&mut p.iter().rev().copied());
    lower.extend(upper);
    lower
}

/// Splits a region into convex loops that cover it exactly (their sides may be shared).
///
/// Ears are cut by `geo`'s triangulation, then triangles are joined greedily while the union stays convex
/// (Hertel and Mehlhorn, 1983: at most four times the least number).
#[must_use]
pub fn convex_parts(region: &Region) -> Vec<Convex> {
    region.polygons.iter().flat_map(polygon_parts).collect()
}

fn polygon_parts(polygon: &Polygon) -> Vec<Convex> {
    if polygon.holes.is_empty() && polygon.outer.is_convex() {
        return vec![polygon.outer.points().to_vec()];
    }
    let line = |r: &Ring| {
        LineString::new(r.points().iter().chain(r.points().first()).map(|p| Coord { x: p.x, y: p.y }).collect())
    };
    let as_geo = geo::Polygon::new(line(&polygon.outer), polygon.holes.iter().map(line).collect());
    let raw = as_geo.earcut_triangles_raw();
    let at = |i: usize| Point::from(raw.vertices[i]);
    // Vertices that coincide (bridges to holes) must count as one, or joints would be missed.
    let mut ids: Vec<usize> = (0..raw.vertices.len()).collect();
    let mut order = ids.clone();
    order.sort_by(|&i, &j| at(i).x.total_cmp(&at(j).x).then(at(i).y.total_cmp(&at(j).y)).then(i.cmp(&j)));
    for w in order.windows(2) {
        if at(w[0]) == at(w[1]) {
            ids[w[1]] = ids[w[0]];
        }
    }
    let mut parts: Vec<Option<Vec<usize>>> = raw
        .triangle_indices
        .chunks_exact(3)
        .filter_map(|t| {
            let t: Vec<usize> = t.iter().map(|&i| ids[i]).collect();
            let o = orient(at(t[0]), at(t[1]), at(t[2]));
            if o > 0.0 {
                Some(Some(t))
            } else if o < 0.0 {
                Some(Some(vec![t[0], t[2], t[1]]))
            } else {
                None
            }
        })
        .collect();
    // Greedy joining over shared edges; part counts are small (tens), so plain loops do.
    let mut changed = true;
    while changed {
        changed = false;
        for i in 0..parts.len() {
            for j in i + 1..parts.len() {
                let (Some(a), Some(b)) = (&parts[i], &parts[j]) else { continue };
                if let Some(joined) = join(a, b, &at) {
                    parts[i] = Some(joined);
                    parts[j] = None;
                    changed = true;
                }
            }
        }
    }
    parts.into_iter().flatten().map(|p| p.into_iter().map(at).collect()).collect()
}

/// The union of two convex index loops over a shared edge, if it is convex.
fn join(a: &[usize], b: &[usize], at: &impl Fn(usize) -> Point) -> Option<Vec<usize>> {
    let (n, m) = (a.len(), b.len());
    for i in 0..n {
        let (p, q) = (a[i], a[(i + 1) % n]);
        for j in 0..m {
            if b[j] == q && b[(j + 1) % m] == p {
                let mut loop_ = Vec::with_capacity(n + m - 2);
                loop_.extend((0..n).map(|k| a[(i + 1 + k) % n])); // q … p
                loop_.extend((0..m - 2).map(|k| b[(j + 2 + k) % m])); // between p and q
                let len = loop_.len();
                let convex =
                    (0..len).all(|k| orient(at(loop_[k]), at(loop_[(k + 1) % len]), at(loop_[(k + 2) % len])) >= 0.0);
                return convex.then_some(loop_);
            }
        }
    }
    None
}

/// Sum of two convex loops (edge merge by angle); degenerate loops (points, segments) are allowed.
#[must_use]
pub fn convex_sum(a: &[Point], b: &[Point]) -> Convex {
    if a.len() < 3 || b.len() < 3 {
        let all: Vec<Point> = a.iter().flat_map(|&p| b.iter().map(move |&q| p + q)).collect();
        return hull(&all);
    }
    let start = |l: &[Point]| {
        (0..l.len()).min_by(|&i, &j| l[i].y.total_cmp(&l[j].y).then(l[i].x.total_cmp(&l[j].x))).unwrap_or(0)
    };
    let (i0, j0) = (start(a), start(b));
    let (mut i, mut j) = (0, 0);
    let mut out = Vec::with_capacity(a.len() + b.len());
    while i < a.len() || j < b.len() {
        let p = a[(i0 + i) % a.len()];
        let q = b[(j0 + j) % b.len()];
        out.push(p + q);
        let u = a[(i0 + i + 1) % a.len()] - p;
        let v = b[(j0 + j + 1) % b.len()] - q;
        let c = if i == a.len() {
            -1.0
        } else if j == b.len() {
            1.0
        } else {
            u.cross(v)
        };
        if c >= 0.0 {
            i += 1;
        }
        if c <= 0.0 {
            j += 1;
        }
    }
    out
}

/// The loop turned by half a turn about the origin: `-K`.
#[must_use]
pub fn mirrored(loop_: &[Point]) -> Convex {
    loop_.iter().map(|&p| -p).collect()
}

/// `region + ∪ parts`: all sums of a point of the region and a point of a part. Exact up to the grid.
#[must_use]
pub fn sum(region: &Region, parts: &[Convex]) -> Region {
    let mut loops: Vec<Convex> = Vec::new();
    for part in parts {
        for polygon in &region.polygons {
            if polygon.holes.is_empty() && polygon.outer.is_convex() {
                loops.push(convex_sum(polygon.outer.points(), part));
                continue;
            }
            for (a, b) in polygon.rings().flat_map(Ring::edges) {
                loops.push(convex_sum(&[a, b], part));
            }
        }
    }
    let swept = boolean::union_loops(loops.iter().map(Vec::as_slice));
    let mut bodies = Vec::new();
    for part in parts {
        if part.is_empty() {
            continue;
        }
        // The middle of the part, so that the border of the body lies well inside what is swept. With a corner of the
        // part both borders would coincide, and rounding would leave slits between them.
        let k = part.iter().fold(pt(0.0, 0.0), |s, &p| s + p) * (1.0 / part.len() as f64);
        for polygon in &region.polygons {
            if !(polygon.holes.is_empty() && polygon.outer.is_convex()) {
                bodies.push(Region { polygons: vec![shifted(polygon, k)] });
            }
        }
    }
    if bodies.is_empty() {
        swept
    } else {
        boolean::union_all(bodies.iter().chain(std::iter::once(&swept)).collect::<Vec<_>>())
    }
}

fn shifted(polygon: &Polygon, by: Point) -> Polygon {
    let shift = |r: &Ring| r.map(|p| p + by);
    Polygon { outer: shift(&polygon.outer), holes: polygon.holes.iter().map(shift).collect() }
}

/// The region grown by `by` (mm): it holds every point within `by` of the region, and no point farther than
/// `by + excess`. `by` = 0 gives the region itself.
#[must_use]
pub fn grown(region: &Region, by: f64, excess: f64) -> Region {
    if by <= 0.0 {
        return region.clone();
    }
    let normals = normals(region.edges());
    sum(region, &[curve::disc_outside(by, excess, &normals)])
}

/// Normals, to both sides, of the longest edges: in these directions an offset is exact.
fn normals(edges: impl Iterator<Item = (Point, Point)>) -> Vec<Point> {
    // More would be curves drawn as polylines, whose many sides need no exact offset.
    const MOST: usize = 24;
    let mut all: Vec<Point> = edges.map(|(a, b)| (b - a).left()).filter(|d| d.norm() > 0.0).collect();
    all.sort_by(|a, b| b.norm().total_cmp(&a.norm()));
    all.truncate(MOST);
    let opposite: Vec<Point> = all.iter().map(|&d| -d).collect();
    all.extend(opposite);
    all
}

/// An open polyline (or a point) grown by `by` (mm), on the same terms as [`grown`].
///
/// With `by` = 0 the line has no area and the result is empty.
#[must_use]
pub fn grown_line(line: &[Point], by: f64, excess: f64) -> Region {
    if by <= 0.0 {
        return Region::empty();
    }
    let disc = curve::disc_outside(by, excess, &normals(super::distance::open_line(line)));
    let loops: Vec<Convex> = super::distance::open_line(line).map(|(a, b)| convex_sum(&[a, b], &disc)).collect();
    boolean::union_loops(loops.iter().map(Vec::as_slice))
}

/// The region shrunk by `by` (mm): it holds no point nearer than `by` to the outside, and every point farther inside
/// than `by + excess`.
#[must_use]
pub fn shrunk(region: &Region, by: f64, excess: f64) -> Region {
    if by <= 0.0 || region.is_empty() {
        return region.clone();
    }
    boolean::difference(region, &grown(&outside(region, 2.0 * by + 1.0), by, excess))
}

/// What surrounds a region: its complement within its bounding box grown by `margin` (mm).
#[must_use]
pub fn outside(region: &Region, margin: f64) -> Region {
    let b = region.bbox();
    let m = pt(margin, margin);
    let frame = Ring::rectangle(super::point::BBox { min: b.min - m, max: b.max + m }).to_region();
    boolean::difference(&frame, region)
}

/// The shifts at which a shape made of `parts` touches or overlaps `obstacle`: `obstacle + (-parts)`.
/// Shifts on its border only touch.
#[must_use]
pub fn hits(obstacle: &Region, parts: &[Convex]) -> Region {
    let mirrored: Vec<Convex> = parts.iter().map(|p| mirrored(p)).collect();
    sum(obstacle, &mirrored)
}

/// The shifts at which a shape made of `parts` lies inside `container`.
#[must_use]
pub fn fits(container: &Region, parts: &[Convex]) -> Region {
    if container.is_empty() {
        return Region::empty();
    }
    let shape = super::point::BBox::of(parts.iter().flatten());
    let room = container.bbox();
    let frame = super::point::BBox { min: room.min - shape.min, max: room.max - shape.max };
    // Nothing to find, unless the frame has an area; callers widen exact fits by `tol::LENIENCE` beforehand.
    if frame.width() <= 0.0 || frame.height() <= 0.0 {
        return Region::empty();
    }
    let all = Ring::rectangle(frame).to_region();
    boolean::difference(&all, &hits(&outside(container, 1.0), parts))
}
