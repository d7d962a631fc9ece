//! Rings, polygons with holes, regions; area, centroid, containment.

use super::point::{BBox, Point, orient, pt};
use super::tol;

/// A closed simple polygon line, counter-clockwise, the first point not repeated, at least three points.
///
/// [`Ring::tidy`] proves this for points from outside. Motions keep it; whoever makes a ring otherwise ([`Ring::rectangle`],
/// [`Ring::vouched_outline`], the kernel itself) vouches for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring(Vec<Point>);

/// What [`Ring::tidy`] mended without asking.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tidied {
    /// The points ran clockwise.
    pub reversed: bool,
    /// Repeated points taken out.
    pub repeated: usize,
    /// Points on the straight line between their neighbours taken out.
    pub collinear: usize,
}

/// Why points do not make a ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RingFault {
    /// Point `index` is not finite or is farther than [`tol::MAX_COORD`] from the origin.
    OutOfRange {
        /// Index of the point as given.
        index: usize,
    },
    /// Fewer than three distinct points, not on one line.
    TooFew {
        /// How many remain after tidying.
        distinct: usize,
    },
    /// Two sides cross or touch at `at`; `sides` are indices of their first points, as given.
    Crossing {
        /// Where, mm.
        at: Point,
        /// The sides, by the index of the point where each starts.
        sides: (usize, usize),
    },
}

impl Ring {
    /// A ring from points that are known to be one: the caller vouches for the invariant (results of the kernel only).
    pub(in crate::geom) fn vouched(points: Vec<Point>) -> Self {
        Self(points)
    }

    /// A ring from the points of a flattened outline that [`Ring::tidy`] has accepted before (an outline keeps collinear
    /// points where two finishes meet).
    #[must_use]
    pub fn vouched_outline(points: Vec<Point>) -> Self {
        debug_assert!(points.len() >= 3 && signed_area(points.iter().copied()) > 0.0, "outlines are tidied first");
        Self(points)
    }

    /// An axis-parallel rectangle.
    ///
    /// # Panics
    /// Never; sizes that are not positive give a degenerate ring, so callers check sizes first.
    #[must_use]
    pub fn rectangle(b: BBox) -> Self {
        Self(b.corners().to_vec())
    }

    /// Takes out repeated and collinear points, orients counter-clockwise, and proves that the ring is simple.
    ///
    /// # Errors
    /// [`RingFault`] for the first thing that cannot be mended.
    pub fn tidy(points: &[Point]) -> Result<(Self, Tidied), RingFault> {
        for (index, p) in points.iter().enumerate() {
            if !p.is_finite() || p.x.abs() > tol::MAX_COORD || p.y.abs() > tol::MAX_COORD {
                return Err(RingFault::OutOfRange { index });
            }
        }
        let mut tidied = Tidied::default();
        let mut kept: Vec<(usize, Point)> = Vec::with_capacity(points.len());
        for (i, &p) in points.iter().enumerate() {
            if kept.last().is_some_and(|&(_, q)| q.distance(p) < tol::SAME_POINT) {
                tidied.repeated += 1;
            } else {
                kept.push((i, p));
            }
        }
        while kept.len() > 1 && kept[0].1.distance(kept[kept.len() - 1].1) < tol::SAME_POINT {
            kept.pop();
            tidied.repeated += 1;
        }
        // A spike (there and back on one line) is a fault, not a collinear point: only points between their
        // neighbours go. One pass over a stack, then the wrap-around.
        let between = |a: Point, b: Point, c: Point| {
            let len = a.distance(c);
            len > 0.0 && orient(a, c, b).abs() <= tol::COLLINEAR * len && (b - a).dot(c - b) > 0.0
        };
        let mut stack: Vec<(usize, Point)> = Vec::with_capacity(kept.len());
        for &v in &kept {
            while stack.len() >= 2 && between(stack[stack.len() - 2].1, stack[stack.len() - 1].1, v.1) {
                stack.pop();
                tidied.collinear += 1;
            }
            stack.push(v);
        }
        while stack.len() > 3 && between(stack[stack.len() - 2].1, stack[stack.len() - 1].1, stack[0].1) {
            stack.pop();
            tidied.collinear += 1;
        }
        while stack.len() > 3 && between(stack[stack.len() - 1].1, stack[0].1, stack[1].1) {
            stack.remove(0);
            tidied.collinear += 1;
        }
        let area = signed_area(stack.iter().map(|v| v.1));
        let size = BBox::of(stack.iter().map(|v| &v.1));
        // The wings of a bow-tie may cancel: only points that all lie on one line are too few for want of area.
        if stack.len() < 3 || on_one_line(&stack) {
            return Err(RingFault::TooFew { distinct: stack.len().min(2) });
        }
        if let Some((at, i, j)) = self_contact(&stack) {
            return Err(RingFault::Crossing { at, sides: (i, j) });
        }
        if area.abs() <= tol::COLLINEAR * (size.width() + size.height()) {
            return Err(RingFault::TooFew { distinct: 2 });
        }
        let mut ring: Vec<Point> = stack.into_iter().map(|v| v.1).collect();
        if area < 0.0 {
            ring.reverse();
            tidied.reversed = true;
        }
        Ok((Self(ring), tidied))
    }

    /// The points, counter-clockwise.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.0
    }

    /// The sides as pairs of points.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.0.len();
        (0..n).map(move |i| (self.0[i], self.0[(i + 1) % n]))
    }

    /// Every point mapped. The map must be a rigid motion or a uniform positive scaling.
    #[must_use]
    pub fn map(&self, f: impl Fn(Point) -> Point) -> Self {
        Self(self.0.iter().map(|&p| f(p)).collect())
    }

    /// Enclosed area, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        signed_area(self.0.iter().copied())
    }

    /// Length of the line, mm.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        self.edges().map(|(a, b)| a.distance(b)).sum()
    }

    /// Bounding box.
    #[must_use]
    pub fn bbox(&self) -> BBox {
        BBox::of(&self.0)
    }

    /// True if `p` lies inside or (within rounding) on the line.
    #[must_use]
    pub fn contains(&self, p: Point) -> bool {
        winding(&self.0, p) != 0
    }

    /// True if no corner turns to the right.
    #[must_use]
    pub fn is_convex(&self) -> bool {
        let n = self.0.len();
        (0..n).all(|i| orient(self.0[i], self.0[(i + 1) % n], self.0[(i + 2) % n]) >= -1e-9)
    }

    /// The filled ring as a region.
    #[must_use]
    pub fn to_region(&self) -> Region {
        Region { polygons: vec![Polygon { outer: self.clone(), holes: Vec::new() }] }
    }
}

/// A ring with holes inside it; the holes are rings too (counter-clockwise), and do not overlap.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    /// The outer line.
    pub outer: Ring,
    /// What is not there.
    pub holes: Vec<Ring>,
}

impl Polygon {
    /// Area without the holes, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        self.outer.area() - self.holes.iter().map(Ring::area).sum::<f64>()
    }

    /// True if `p` is inside the outer line and in no hole.
    #[must_use]
    pub fn contains(&self, p: Point) -> bool {
        self.outer.contains(p) && !self.holes.iter().any(|h| h.contains(p))
    }

    /// All rings, the outer one first.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.outer).chain(&self.holes)
    }
}

/// Any number of polygons that do not overlap. May be empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Region {
    /// The parts.
    pub polygons: Vec<Polygon>,
}

impl Region {
    /// The region that holds nothing.
    #[must_use]
    pub fn empty() -> Self {
        Self::default()
    }

    /// True if it holds nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.polygons.is_empty()
    }

    /// Area, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        self.polygons.iter().map(Polygon::area).sum()
    }

    /// Bounding box; [`BBox::EMPTY`] for the empty region.
    #[must_use]
    pub fn bbox(&self) -> BBox {
        self.polygons.iter().fold(BBox::EMPTY, |b, p| b.join(p.outer.bbox()))
    }

    /// True if some polygon holds `p`.
    #[must_use]
    pub fn contains(&self, p: Point) -> bool {
        self.polygons.iter().any(|q| q.contains(p))
    }

    /// All rings, outer ones and holes.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        self.polygons.iter().flat_map(Polygon::rings)
    }

    /// All edges of all rings.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.rings().flat_map(Ring::edges)
    }

    /// Total length of all rings, mm.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        self.rings().map(Ring::perimeter).sum()
    }

    /// Centre of mass; `None` for a region without area.
    #[must_use]
    pub fn centroid(&self) -> Option<Point> {
        let mut area = 0.0;
        let mut sum = pt(0.0, 0.0);
        for polygon in &self.polygons {
            for (k, ring) in polygon.rings().enumerate() {
                let sign = if k == 0 { 1.0 } else { -1.0 };
                let o = ring.points()[0];
                for (a, b) in ring.edges() {
                    let w = (a - o).cross(b - o) / 2.0 * sign;
                    area += w;
                    sum = sum + ((a - o) + (b - o)) * (w / 3.0) + o * w;
                }
            }
        }
        (area > 0.0).then(|| sum * (1.0 / area))
    }
}

/// Area by the shoelace formula, mm²; positive if counter-clockwise. Summed about the first point, to keep digits.
pub(in crate::geom) fn signed_area(points: impl IntoIterator<Item = Point>) -> f64 {
    let mut it = points.into_iter();
    let (Some(o), Some(mut last)) = (it.next(), it.next()) else { return 0.0 };
    let mut twice = 0.0;
    for p in it {
        twice += orient(o, last, p);
        last = p;
    }
    twice / 2.0
}

/// How often the closed line winds round `p` (Sunday's crossing test with orientation).
fn winding(points: &[Point], p: Point) -> i32 {
    let n = points.len();
    let mut w = 0;
    for i in 0..n {
        let (a, b) = (points[i], points[(i + 1) % n]);
        if a.y <= p.y {
            if b.y > p.y && orient(a, b, p) > 0.0 {
                w += 1;
            }
        } else if b.y <= p.y && orient(a, b, p) < 0.0 {
            w -= 1;
        }
    }
    w
}

/// True if no point is farther than [`tol::COLLINEAR`] from the line through the first one and the farthest from it.
fn on_one_line(points: &[(usize, Point)]) -> bool {
    let a = points[0].1;
    let far = points.iter().map(|v| v.1).max_by(|p, q| a.distance(*p).total_cmp(&a.distance(*q))).unwrap_or(a);
    let len = a.distance(far);
    points.iter().all(|v| orient(a, far, v.1).abs() <= tol::COLLINEAR * len)
}

/// First place where two sides that are no neighbours touch or cross, or two neighbours fold back on each other.
fn self_contact(ring: &[(usize, Point)]) -> Option<(Point, usize, usize)> {
    let n = ring.len();
    let edge = |i: usize| (ring[i].1, ring[(i + 1) % n].1);
    for i in 0..n {
        let (a, b) = edge(i);
        let (_, c) = edge((i + 1) % n);
        let (u, v) = (b - a, c - b);
        if u.cross(v).abs() <= 1e-9 * u.norm() * v.norm() && u.dot(v) < 0.0 {
            return Some((b, ring[i].0, ring[(i + 1) % n].0));
        }
    }
    // Sweep by least x, so that only sides with overlapping x ranges are compared.
    let mut order: Vec<usize> = (0..n).collect();
    let lo = |i: usize| edge(i).0.x.min(edge(i).1.x);
    let hi = |i: usize| edge(i).0.x.max(edge(i).1.x);
    order.sort_by(|&i, &j| lo(i).total_cmp(&lo(j)).then(i.cmp(&j)));
    let mut found: Option<(usize, usize, Point)> = None;
    for (k, &i) in order.iter().enumerate() {
        for &j in &order[k + 1..] {
            if lo(j) > hi(i) {
                break;
            }
            let (first, second) = (i.min(j), i.max(j));
            if second == first + 1 || (first == 0 && second == n - 1) {
                continue;
            }
            if found.is_some_and(|f| (f.0, f.1) <= (first, second)) {
                continue;
            }
            let ((a, b), (c, d)) = (edge(first), edge(second));
            if let Some(at) = super::distance::segment_contact(a, b, c, d) {
                found = Some((first, second, at));
            }
        }
    }
    found.map(|(i, j, at)| (at, ring[i].0, ring[j].0))
}
