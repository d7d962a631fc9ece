//! Convex cells of free space: from a point, the half-planes in which it may move without coming into an obstacle.

use super::distance::nearest_on_segment;
use super::point::{BBox, Point, pt};
use super::region::Region;

/// All points `p` with `normal · p >= offset`; the normal has length 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Half {
    /// Points inwards.
    pub normal: Point,
    /// mm.
    pub offset: f64,
}

impl Half {
    /// How far inside a point lies, mm; negative outside.
    #[must_use]
    pub fn spare(&self, p: Point) -> f64 {
        self.normal.dot(p) - self.offset
    }
}

/// A convex part of free space.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// A point of it: the one that was asked about, or the nearest on the border if that one was not free.
    pub anchor: Point,
    /// Its half-planes.
    pub halves: Vec<Half>,
}

/// A border side; the obstacle lies to its left.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Side {
    a: Point,
    b: Point,
}

impl Side {
    /// The half-plane away from the obstacle, beyond the line of the side.
    fn half(&self) -> Option<Half> {
        let d = self.b - self.a;
        let length = d.norm();
        let normal = d.left() * (-1.0 / length);
        normal.is_finite().then(|| Half { normal, offset: normal.dot(self.a) })
    }
}

/// What a point must keep out of.
#[derive(Clone, Debug, PartialEq)]
pub struct Obstacle {
    sides: Vec<Side>,
    bbox: BBox,
    /// True if far away is free.
    bounded: bool,
}

/// What of a side sticks into a cell by less than this (mm) counts as outside.
const THIN: f64 = 1e-7;

/// A point nearer than this (mm) to a border lies on it.
const CONTACT: f64 = 1e-6;

/// Half-planes of a cell, at most; then a box closes it.
const HALVES: usize = 14;

impl Obstacle {
    /// The region itself.
    #[must_use]
    pub fn region(region: &Region) -> Self {
        let mut sides = Vec::new();
        for polygon in &region.polygons {
            sides.extend(polygon.outer.edges().map(|(a, b)| Side { a, b }));
            // Holes run counter-clockwise too.
            sides.extend(polygon.holes.iter().flat_map(|h| h.edges().map(|(a, b)| Side { a: b, b: a })));
        }
        Self { sides, bbox: region.bbox(), bounded: true }
    }

    /// All but the region.
    #[must_use]
    pub fn outside(region: &Region) -> Self {
        let sides = Self::region(region).sides.into_iter().map(|s| Side { a: s.b, b: s.a }).collect();
        Self { sides, bbox: region.bbox(), bounded: false }
    }

    /// True if nothing within `reach` (mm, along both axes) of a point can touch it.
    #[must_use]
    pub fn is_far(&self, p: Point, reach: f64) -> bool {
        if !self.bounded {
            return false;
        }
        let b = &self.bbox;
        !(p.x >= b.min.x - reach && p.x <= b.max.x + reach && p.y >= b.min.y - reach && p.y <= b.max.y + reach)
    }

    /// How many sides it has.
    #[must_use]
    pub fn sides(&self) -> usize {
        self.sides.len()
    }

    fn holds(&self, p: Point) -> bool {
        let mut odd = !self.bounded;
        for s in &self.sides {
            let (a, b) = (s.a, s.b);
            if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * ((p.y - a.y) / (b.y - a.y)) {
                odd = !odd;
            }
        }
        odd
    }

    /// How deep (mm) a point lies in it; 0 outside.
    #[must_use]
    pub fn depth(&self, p: Point) -> f64 {
        if self.is_far(p, 0.0) || !self.holds(p) {
            return 0.0;
        }
        self.sides.iter().map(|s| nearest_on_segment(p, s.a, s.b).distance(p)).fold(f64::INFINITY, f64::min)
    }

    /// The distance (mm) from a point outside to it, if that is at most `reach`; infinite if it is more, negative inside.
    #[must_use]
    pub fn distance(&self, p: Point, reach: f64) -> f64 {
        if self.is_far(p, reach) {
            return f64::INFINITY;
        }
        let d = self.sides.iter().map(|s| nearest_on_segment(p, s.a, s.b).distance(p)).fold(f64::INFINITY, f64::min);
        if self.holds(p) {
            -d
        } else if d <= reach {
            d
        } else {
            f64::INFINITY
        }
    }

    /// A convex cell of free space round a point that is free or at most `deep` (mm) from it, as large as a greedy choice
    /// makes it within `reach` (mm, along both axes); beyond that it may hold anything. `None` if the point is deeper.
    ///
    /// The nearest border is cut off along its side where the point faces the side, and square to the way to it where it
    /// faces a corner; then the nearest of what is left. On a corner that sticks out, `want` says to where the point would go.
    #[must_use]
    pub fn cell(&self, p: Point, deep: f64, reach: f64, want: Point) -> Option<Cell> {
        if self.is_far(p, reach) {
            return Some(Cell { anchor: p, halves: Vec::new() });
        }
        let mut anchor = p;
        if self.holds(p) {
            let nearest = |s: &Side| nearest_on_segment(p, s.a, s.b);
            anchor = self
                .sides
                .iter()
                .map(nearest)
                .min_by(|a, b| a.distance(p).total_cmp(&b.distance(p)))
                .filter(|q| q.distance(p) <= deep)?;
        }
        let r = pt(reach, reach);
        let window = BBox { min: anchor - r, max: anchor + r };
        let mut parts: Vec<(Side, Half)> = Vec::new();
        for s in &self.sides {
            let half = s.half()?;
            if let Some(part) = in_window(*s, &window) {
                parts.push((part, half));
            }
        }
        let mut halves: Vec<Half> = Vec::new();
        while let Some(half) = next_half(&parts, anchor, want) {
            halves.push(half?);
            let half = halves[halves.len() - 1];
            parts = parts.into_iter().filter_map(|(s, h)| Some((left(s, h, half)?, h))).collect();
            if halves.len() == HALVES && !parts.is_empty() {
                // The rest is kept off by a box.
                let nearest = parts
                    .iter()
                    .map(|(s, _)| nearest_on_segment(anchor, s.a, s.b).distance(anchor))
                    .fold(f64::INFINITY, f64::min);
                let half_side = nearest * std::f64::consts::FRAC_1_SQRT_2;
                for normal in [pt(1.0, 0.0), pt(-1.0, 0.0), pt(0.0, 1.0), pt(0.0, -1.0)] {
                    halves.push(Half { normal, offset: normal.dot(anchor) - half_side });
                }
                break;
            }
        }
        Some(Cell { anchor, halves })
    }
}

/// What of a side lies in the window.
fn in_window(side: Side, window: &BBox) -> Option<Side> {
    let (lo, hi) = (BBox::of([&side.a, &side.b]), window);
    if !lo.near(hi, 0.0) {
        return None;
    }
    let walls = [
        Half { normal: pt(1.0, 0.0), offset: window.min.x },
        Half { normal: pt(-1.0, 0.0), offset: -window.max.x },
        Half { normal: pt(0.0, 1.0), offset: window.min.y },
        Half { normal: pt(0.0, -1.0), offset: -window.max.y },
    ];
    walls.into_iter().try_fold(side, within)
}

/// What is left of a side, with its own half-plane, after a cut.
fn left(side: Side, own: Half, cut: Half) -> Option<Side> {
    // A side along the cut, but with free space on the other side of it, is the other wall of a slit.
    let opposite = own.normal.dot(cut.normal) < -0.99;
    inside(side, cut, if opposite { -CONTACT } else { THIN })
}

/// What of a side lies more than a trifle inside the half-plane.
fn within(side: Side, half: Half) -> Option<Side> {
    inside(side, half, THIN)
}

/// What of a side lies more than `by` (mm) inside the half-plane.
fn inside(side: Side, half: Half, by: f64) -> Option<Side> {
    let (u, v) = (half.spare(side.a) - by, half.spare(side.b) - by);
    match (u > 0.0, v > 0.0) {
        (true, true) => Some(side),
        (false, false) => None,
        (true, false) => Some(Side { a: side.a, b: side.a.lerp(side.b, u / (u - v)) }),
        (false, true) => Some(Side { a: side.a.lerp(side.b, u / (u - v)), b: side.b }),
    }
}

/// The half-plane that cuts off the nearest part; `None` if nothing is left, `Some(None)` if no half-plane does it.
fn next_half(parts: &[(Side, Half)], anchor: Point, want: Point) -> Option<Option<Half>> {
    // A side line that comes nearer than this share of the way to the border gives too little room.
    const FLUSH: f64 = 0.5;
    let at = |s: &Side| nearest_on_segment(anchor, s.a, s.b);
    let way = parts.iter().map(|(s, _)| at(s).distance(anchor)).min_by(f64::total_cmp)?;
    let mut best: Option<(f64, f64, Half)> = None;
    let mut square = None;
    for (side, half) in parts {
        let z = at(side);
        if z.distance(anchor) > way + CONTACT {
            continue;
        }
        let spare = half.spare(anchor);
        if spare >= (FLUSH * way - CONTACT).max(-CONTACT) {
            // Room first, in steps far above rounding; then what is wanted; then the longer side.
            let score = ((spare / CONTACT * 0.1).round(), half.normal.dot(want) + 1e-6 * side.a.distance(side.b));
            if best.is_none_or(|b| (score.0, score.1) > (b.0, b.1)) {
                best = Some((score.0, score.1, *half));
            }
        }
        if square.is_none() && way > CONTACT {
            let normal = (anchor - z) * (1.0 / z.distance(anchor));
            square = Some(Half { normal, offset: normal.dot(z) });
        }
    }
    Some(best.map(|b| b.2).or(square))
}
