//! Minkowski sums, offsets, and the regions of shifts that follow from them.
//!
//! Sums are built from convex parts of both operands (de Berg et al., Computational Geometry, 3rd ed., ch. 13: the sum
//! distributes over union). The points `p` at which `p - K` lies inside `A`, for a connected `K`, are `A + k` less `∂A + K`, for
//! any `k` in `K`.

use std::collections::BTreeMap;

use geo::{Coord, LineString, TriangulateEarcut};

use super::boolean::{self, Lines};
use super::convolution::{self, Outline};
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

/// Area of the convex hull, mm².
#[must_use]
pub fn hull_area(points: &[Point]) -> f64 {
    let h = hull(points);
    (1..h.len().saturating_sub(1)).map(|k| 0.5 * (h[k] - h[0]).cross(h[k + 1] - h[0])).sum()
}

/// Distance of the farthest two points of a region, mm; 0 if it is empty.
#[must_use]
pub fn diameter(region: &Region) -> f64 {
    let points: Vec<Point> = region.polygons.iter().flat_map(|p| p.outer.points()).copied().collect();
    let hull = hull(&points);
    let pairs = hull.iter().enumerate().flat_map(|(i, a)| hull[i + 1..].iter().map(move |b| a.distance(*b)));
    pairs.fold(0.0, f64::max)
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
    // Joining over shared edges, longest first: each edge is looked at once (Hertel and Mehlhorn's criterion). `owner` finds
    // the part on the left of a directed edge; parts that were joined into another point on to it.
    let mut owner: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (k, part) in parts.iter().enumerate() {
        for (p, q) in directed(part.as_deref().unwrap_or_default()) {
            owner.insert((p, q), k);
        }
    }
    let mut shared: Vec<(usize, usize)> =
        owner.keys().copied().filter(|&(p, q)| p < q && owner.contains_key(&(q, p))).collect();
    shared.sort_by(|a, b| at(b.0).distance(at(b.1)).total_cmp(&at(a.0).distance(at(a.1))).then(a.cmp(b)));
    let mut into: Vec<usize> = (0..parts.len()).collect();
    let root = |into: &[usize], mut k: usize| {
        while into[k] != k {
            k = into[k];
        }
        k
    };
    for (p, q) in shared {
        let (a, b) = (root(&into, owner[&(p, q)]), root(&into, owner[&(q, p)]));
        if a == b {
            continue;
        }
        let (Some(left), Some(right)) = (&parts[a], &parts[b]) else { continue };
        if let Some(joined) = join(left, right, (p, q), &at) {
            parts[a] = Some(joined);
            parts[b] = None;
            into[b] = a;
        }
    }
    parts.into_iter().flatten().map(|p| p.into_iter().map(at).collect()).collect()
}

/// The directed edges of an index loop.
fn directed(part: &[usize]) -> impl Iterator<Item = (usize, usize)> + '_ {
    let n = part.len();
    (0..n).map(move |i| (part[i], part[(i + 1) % n]))
}

/// The union of two convex index loops over the edge `(p, q)` of `a` (which is `(q, p)` of `b`), if it is convex.
fn join(a: &[usize], b: &[usize], (p, q): (usize, usize), at: &impl Fn(usize) -> Point) -> Option<Vec<usize>> {
    let (n, m) = (a.len(), b.len());
    let i = directed(a).position(|e| e == (p, q))?;
    let j = directed(b).position(|e| e == (q, p))?;
    let mut joined = Vec::with_capacity(n + m - 2);
    joined.extend((0..n).map(|k| a[(i + 1 + k) % n])); // q … p
    joined.extend((0..m - 2).map(|k| b[(j + 2 + k) % m])); // between p and q
    let len = joined.len();
    // Only the corners at p and q are new: q comes first, p is the n-th.
    let convex_at =
        |k: usize| orient(at(joined[(k + len - 1) % len]), at(joined[k % len]), at(joined[(k + 1) % len])) >= 0.0;
    (convex_at(0) && convex_at(n - 1)).then_some(joined)
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
///
/// A part is connected, so it can slip through no border: the sum of a polygon with holes is the sum of its filled outline
/// less what remains of each hole when the (mirrored) part must lie inside it.
#[must_use]
pub fn sum(region: &Region, parts: &[Convex]) -> Region {
    if let ([polygon], [part]) = (&region.polygons[..], parts)
        && polygon.holes.is_empty()
        && polygon.outer.is_convex()
    {
        return union_of(&[convex_sum(polygon.outer.points(), part)]);
    }
    let mut lines = Lines::default();
    pour_sum(region, parts, &mut lines);
    lines.wound()
}

/// Adds lines that wind round exactly the points of [`sum`], once or more often.
fn pour_sum(region: &Region, parts: &[Convex], lines: &mut Lines) {
    for polygon in &region.polygons {
        let outer = if polygon.outer.is_convex() {
            vec![polygon.outer.points().to_vec()]
        } else {
            convex_parts(&polygon.outer.to_region())
        };
        if polygon.holes.is_empty() {
            for part in parts {
                outer.iter().for_each(|o| lines.push_points(&convex_sum(o, part)));
            }
            continue;
        }
        for part in parts {
            let filled: Vec<Convex> = outer.iter().map(|o| convex_sum(o, part)).collect();
            lines.push_region(&union_of(&filled));
            // What is left of a hole lies inside the filled sum, which winds round it once: a turn the other way takes it out.
            for hole in &polygon.holes {
                for kept in eroded(hole, std::slice::from_ref(part)).polygons {
                    lines.push_reversed(kept.outer.points());
                    kept.holes.iter().for_each(|h| lines.push_points(h.points()));
                }
            }
        }
    }
}

/// Obstacles of all kinds as the shifts at which they are hit, to be taken out of a region at one go.
#[derive(Debug, Default)]
pub struct Taken {
    lines: Lines,
}

impl Taken {
    /// Adds the shifts of [`hits_parts`].
    pub fn add(&mut self, obstacle: &[Convex], shape: &Region) {
        pour_sum(&half_turned(shape), obstacle, &mut self.lines);
    }

    /// What of `region` none of the shifts is in.
    #[must_use]
    pub fn without(&self, region: &Region) -> Region {
        boolean::difference_lines(region, &self.lines)
    }
}

/// The union of convex loops; a single one needs no boolean operation.
fn union_of(loops: &[Convex]) -> Region {
    if let [one] = loops
        && one.len() >= 3
    {
        let points: Vec<Point> = one.iter().map(|&p| boolean::snap(p)).collect();
        if let Ok((ring, _)) = Ring::tidy(&points) {
            return ring.to_region();
        }
    }
    boolean::union_loops(loops.iter().map(Vec::as_slice))
}

/// The points `p` at which every `p - part` lies inside the ring. The parts together must be connected.
fn eroded(ring: &Ring, parts: &[Convex]) -> Region {
    if ring.is_convex() {
        // Inside every side, by the reach of the parts towards it.
        let reach = |normal: Point| parts.iter().flatten().map(|&k| -k.dot(normal)).fold(f64::NEG_INFINITY, f64::max);
        let mut left: Vec<Point> = Vec::new();
        for (first, (a, b)) in ring.edges().enumerate() {
            let normal = -(b - a).left() * (1.0 / a.distance(b)); // outwards
            let limit = normal.dot(a) - reach(normal);
            if first == 0 {
                let all = super::point::BBox::of(parts.iter().flatten());
                let (r, m) = (ring.bbox(), 1.0);
                let frame = super::point::BBox {
                    min: pt(r.min.x + all.min.x - m, r.min.y + all.min.y - m),
                    max: pt(r.max.x + all.max.x + m, r.max.y + all.max.y + m),
                };
                left = frame.corners().to_vec();
            }
            left = clipped(&left, normal, limit);
            if left.len() < 3 {
                return Region::empty();
            }
        }
        let points: Vec<Point> = left.into_iter().map(boolean::snap).collect();
        return Ring::tidy(&points).map_or_else(|_| Region::empty(), |(r, _)| r.to_region());
    }
    // Inside the hull, and off the pockets between the hull and the ring.
    let Ok((hull, _)) = Ring::tidy(&hull(ring.points())) else { return Region::empty() };
    let inside = eroded(&hull, parts);
    if inside.is_empty() {
        return inside;
    }
    let pockets = boolean::difference(&hull.to_region(), &ring.to_region());
    let mut taken = Lines::default();
    pour_sum(&pockets, parts, &mut taken);
    boolean::difference_lines(&inside, &taken)
}

/// What of a convex loop has `normal · p <= limit` (mm, if the normal is a unit vector); fewer than 3 points if nothing has an area
/// there.
#[must_use]
pub fn clipped(points: &[Point], normal: Point, limit: f64) -> Vec<Point> {
    let n = points.len();
    let mut out = Vec::with_capacity(n + 1);
    for i in 0..n {
        let (p, q) = (points[i], points[(i + 1) % n]);
        let (u, v) = (normal.dot(p) - limit, normal.dot(q) - limit);
        if u <= 0.0 {
            out.push(p);
        }
        if (u < 0.0 && v > 0.0) || (u > 0.0 && v < 0.0) {
            out.push(p.lerp(q, u / (u - v)));
        }
    }
    out
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

/// An open polyline (or a point) grown by `by` (mm), on the same terms as [`grown`], as convex parts: one a side.
///
/// With `by` = 0 the line has no area and there are no parts.
#[must_use]
pub fn grown_line_parts(line: &[Point], by: f64, excess: f64) -> Vec<Convex> {
    if by <= 0.0 {
        return Vec::new();
    }
    let disc = curve::disc_outside(by, excess, &normals(super::distance::open_line(line)));
    super::distance::open_line(line).map(|(a, b)| convex_sum(&[a, b], &disc)).collect()
}

/// The union of [`grown_line_parts`].
#[must_use]
pub fn grown_line(line: &[Point], by: f64, excess: f64) -> Region {
    union_of(&grown_line_parts(line, by, excess))
}

/// The region shrunk by `by` (mm): it holds no point nearer than `by` to the outside, and every point farther inside
/// than `by + excess`.
#[must_use]
pub fn shrunk(region: &Region, by: f64, excess: f64) -> Region {
    if by <= 0.0 || region.is_empty() {
        return region.clone();
    }
    let mut out = Region::empty();
    for polygon in &region.polygons {
        let disc = [curve::disc_outside(by, excess, &normals(polygon.rings().flat_map(Ring::edges)))];
        let mut left = eroded(&polygon.outer, &disc);
        if !polygon.holes.is_empty() {
            let holes = Region { polygons: polygon.holes.iter().flat_map(|h| h.to_region().polygons).collect() };
            left = boolean::difference(&left, &sum(&holes, &disc));
        }
        out.polygons.extend(left.polygons);
    }
    out
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

/// As [`hits`], for an obstacle given as convex parts and a shape given as a region: the same shifts, cheaper where the
/// shape has holes and the obstacle is plain.
#[must_use]
pub fn hits_parts(obstacle: &[Convex], shape: &Region) -> Region {
    sum(&half_turned(shape), obstacle)
}

/// As [`hits`], for a shape given as a region, and far faster for shapes of many corners that are not convex.
///
/// The shape may have holes, in which an obstacle has room.
#[must_use]
pub fn hits_rings(obstacle: &Region, shape: &Region) -> Region {
    sum_of_regions(obstacle, &half_turned(shape))
}

/// `-region`.
fn half_turned(region: &Region) -> Region {
    let turn = |r: &Ring| r.map(|p| -p); // half a turn keeps the sense of rotation
    let polygon = |p: &Polygon| Polygon { outer: turn(&p.outer), holes: p.holes.iter().map(turn).collect() };
    Region { polygons: region.polygons.iter().map(polygon).collect() }
}

/// All sums of a point of `a` and a point of `b`.
fn sum_of_regions(a: &Region, b: &Region) -> Region {
    let outlines =
        |r: &Region| -> Vec<Option<Outline>> { r.polygons.iter().map(|p| Outline::of(p.outer.points())).collect() };
    let (of_a, of_b) = (outlines(a), outlines(b));
    let mut lines = Lines::default();
    let mut rest: Vec<Region> = Vec::new();
    let pairs = a.polygons.len() * b.polygons.len();
    for (p, of_p) in a.polygons.iter().zip(&of_a) {
        for (q, of_q) in b.polygons.iter().zip(&of_b) {
            let (Some(of_p), Some(of_q)) = (of_p, of_q) else {
                rest.push(sum_by_parts(p, q));
                continue;
            };
            if !p.holes.is_empty() || !q.holes.is_empty() {
                rest.push(sum_with_holes((p, of_p), (q, of_q)));
                continue;
            }
            if pairs == 1
                && let Some(sum) = convolution::convex_sum(of_p, of_q)
            {
                return sum;
            }
            convolution::convolve(of_p, of_q, &mut lines);
        }
    }
    if rest.is_empty() {
        return lines.wound();
    }
    rest.push(lines.wound());
    if pairs == 1 { rest.swap_remove(0) } else { boolean::union_all(&rest) }
}

/// The sum of two polygons as the union of the sums of their convex parts.
fn sum_by_parts(p: &Polygon, q: &Polygon) -> Region {
    let (p, q) = (polygon_parts(p), polygon_parts(q));
    let loops: Vec<Convex> = p.iter().flat_map(|a| q.iter().map(move |b| convex_sum(a, b))).collect();
    union_of(&loops)
}

/// The sum of two polygons with holes: that of the filled ones, less the sums at which one of them floats in a hole of the other.
fn sum_with_holes((p, of_p): (&Polygon, &Outline), (q, of_q): (&Polygon, &Outline)) -> Region {
    let filled = convolution::convex_sum(of_p, of_q).unwrap_or_else(|| {
        let mut lines = Lines::default();
        convolution::convolve(of_p, of_q, &mut lines);
        lines.wound()
    });
    let floating = p.holes.iter().map(|h| eroded_by(h, &q.outer)).chain(q.holes.iter().map(|h| eroded_by(h, &p.outer)));
    let floating = Region { polygons: floating.flat_map(|r| r.polygons).collect() };
    boolean::difference(&filled, &floating)
}

/// The points `p` at which `p - shape` lies inside the ring.
fn eroded_by(ring: &Ring, shape: &Ring) -> Region {
    let (room, size) = (ring.bbox(), shape.bbox());
    if size.width() >= room.width() || size.height() >= room.height() || shape.area() >= ring.area() {
        return Region::empty();
    }
    let clockwise: Vec<Point> = ring.points().iter().rev().copied().collect();
    let (Some(around), Some(of_shape)) = (Outline::of(&clockwise), Outline::of(shape.points())) else {
        return eroded(ring, &convex_parts(&shape.to_region()));
    };
    let mut lines = Lines::default();
    convolution::convolve(&around, &of_shape, &mut lines);
    lines.wound_clockwise()
}

/// The shifts at which a connected shape made of `parts` lies inside `container`.
#[must_use]
pub fn fits(container: &Region, parts: &[Convex]) -> Region {
    let mirrored: Vec<Convex> = parts.iter().map(|p| mirrored(p)).collect();
    let mut out = Region::empty();
    for polygon in &container.polygons {
        let mut inside = eroded(&polygon.outer, &mirrored);
        if !polygon.holes.is_empty() && !inside.is_empty() {
            let holes = Region { polygons: polygon.holes.iter().flat_map(|h| h.to_region().polygons).collect() };
            inside = boolean::difference(&inside, &sum(&holes, &mirrored));
        }
        out.polygons.extend(inside.polygons);
    }
    out
}
