//! The sides of an outline as a fabricator sees them: straight ones, and curved ones.
//!
//! In: an outline with its finishes, or corners alone. Out: sides with lengths, arcs and finish, mm, piece frame. Must not know: what
//! a side is called, what it costs, paper.
//!
//! A shape has no arcs of its own: an arc is corners whose roundings take the polygon's sides whole. So a bowed front is two or more
//! sides of the polygon, with corners between them that lie in the air, where tangents of the arc meet. Here these become one side.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::{Finish, Outline, Shape};
use crate::geom::curve::{Corner, ellipse_length};
use crate::geom::{Point, pt, tol};

/// A side of the polygon of which roundings leave no more than this (mm) straight is part of a curve: half a millimetre, for templates
/// are no better, and where a radius is typed in whole millimetres as much may be left. Larger: a straight part that can be seen would
/// be called curved.
const SPENT: f64 = 0.5;

/// Radii of one curve are one radius if they differ by less than this part of it.
const ONE_RADIUS: f64 = 1e-3;

fn is_one_radius(a: f64, b: f64) -> bool {
    (a - b).abs() <= ONE_RADIUS * a.max(b)
}

/// Ends nearer to one another than this (mm) are one point.
const ONE_POINT: f64 = 1e-3;

/// A corner of a polygon, with how its line turns there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Where its two sides would meet, mm.
    pub at: Point,
    /// Radius of its rounding, mm; 0: sharp.
    pub radius: f64,
    /// How the line turns there, radians, to the left positive.
    pub turn: f64,
}

impl Bend {
    /// How much its rounding takes from each of its two sides, mm.
    #[must_use]
    pub fn tangent(&self) -> f64 {
        if self.radius > 0.0 { self.radius * (self.turn.abs() / 2.0).tan() } else { 0.0 }
    }

    /// Length of its rounding, mm.
    #[must_use]
    pub fn arc(&self) -> f64 {
        self.radius * self.turn.abs()
    }

    /// How long the polygon's side to the next corner is between their roundings, mm. Less than 0 where these do not fit.
    #[must_use]
    pub fn straight_to(&self, next: &Self) -> f64 {
        self.at.distance(next.at) - self.tangent() - next.tangent()
    }
}

/// The corners of a polygon with their turns.
#[must_use]
pub fn bends(corners: &[Corner]) -> Vec<Bend> {
    let n = corners.len();
    (0..n)
        .map(|i| {
            let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
            let (u, v) = (b - a, c - b);
            Bend { at: b, radius: corners[i].radius, turn: u.cross(v).atan2(u.dot(v)) }
        })
        .collect()
}

/// A side of an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlineSide {
    /// Indices of the corners between which it runs; `None` for a curve all round. Both are one if it ends where it starts.
    pub corners: Option<[usize; 2]>,
    /// Its ends, mm: of a straight side where it would meet its neighbours, if these corners are rounded.
    pub ends: [Point; 2],
    /// Length, mm: of a straight side between its ends, of a curve along it.
    pub length: f64,
    /// How it is finished.
    pub finish: Finish,
    /// Its course, if it is not straight.
    pub curve: Option<Curve>,
}

/// The course of a curved side.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Its arcs in their order, each as far as it runs; none for an ellipse that is no circle.
    pub arcs: Vec<Arc>,
    /// Indices of the corners on its way, which lie in the air: there the tangents of its arcs meet.
    pub on_way: Vec<usize>,
    /// Its radius, mm, if it has one only.
    pub radius: Option<f64>,
    /// To which side of the stone it bulges.
    pub bulge: Bulge,
    /// Its point farthest from the line between its ends. If it ends where it starts, its points farthest to the front, the right,
    /// the back and the left. None of an ellipse.
    pub tops: Vec<Point>,
    /// How far the top is from the line between its ends, mm; 0 if it ends where it starts.
    pub rise: f64,
}

/// To which side of the stone a curve bulges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bulge {
    /// Out of the stone: a bow.
    Out,
    /// Into the stone: a hollow.
    In,
    /// Out on part of its way, in on another.
    Both,
}

/// An arc of a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Middle of its circle, mm.
    pub centre: Point,
    /// Radius, mm.
    pub radius: f64,
    /// Direction from the middle to its start, radians.
    pub from: f64,
    /// How far it runs, radians; positive to the left, where the stone lies within the circle.
    pub sweep: f64,
}

impl Arc {
    /// The rounding of a corner that is reached along the unit vector `along`.
    fn of(bend: &Bend, along: Point) -> Self {
        let start = bend.at - along * bend.tangent();
        let out = along.left() * -bend.turn.signum();
        let centre = start - out * bend.radius;
        Self { centre, radius: bend.radius, from: out.y.atan2(out.x), sweep: bend.turn }
    }

    /// True if the next arc of a curve is of the same circle: arcs of a curve have one tangent where they meet.
    fn goes_on_in(&self, next: &Self) -> bool {
        is_one_radius(self.radius, next.radius) && self.sweep * next.sweep > 0.0
    }

    /// Its length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.radius * self.sweep.abs()
    }

    /// The point half way along it.
    #[must_use]
    pub fn middle(&self) -> Point {
        self.at(self.sweep / 2.0)
    }

    fn along(&self, angle: f64) -> Point {
        pt((self.from + angle).cos(), (self.from + angle).sin())
    }

    fn at(&self, angle: f64) -> Point {
        self.centre + self.along(angle) * self.radius
    }

    /// Its point farthest in a direction (a unit vector).
    fn farthest(&self, towards: Point) -> Point {
        let ends = [self.at(0.0), self.at(self.sweep)];
        let angle = (towards.y.atan2(towards.x) - self.from).rem_euclid(TAU);
        let within = if self.sweep >= 0.0 { angle <= self.sweep } else { angle - TAU >= self.sweep };
        let all = ends.into_iter().chain(within.then(|| self.at(angle)));
        all.max_by(|a, b| a.dot(towards).total_cmp(&b.dot(towards))).unwrap_or(self.centre)
    }
}

impl Curve {
    fn of(bends: &[Bend], on_way: Vec<usize>, ends: [Point; 2]) -> Self {
        let n = bends.len();
        let mut arcs: Vec<Arc> = Vec::with_capacity(on_way.len());
        for &i in &on_way {
            let d = bends[i].at - bends[(i + n - 1) % n].at;
            let arc = Arc::of(&bends[i], d * (1.0 / d.norm().max(tol::SAME_POINT)));
            match arcs.last_mut().filter(|last| last.goes_on_in(&arc)) {
                Some(last) => last.sweep += arc.sweep,
                None => arcs.push(arc),
            }
        }
        if n == on_way.len()
            && arcs.len() > 1
            && let Some(last) = arcs.last().copied().filter(|last| last.goes_on_in(&arcs[0]))
        {
            arcs[0] = Arc { sweep: last.sweep + arcs[0].sweep, ..last };
            arcs.pop();
        }
        let largest = arcs.iter().map(|a| a.radius).fold(0.0, f64::max);
        let bulge = match (arcs.iter().any(|a| a.sweep > 0.0), arcs.iter().any(|a| a.sweep < 0.0)) {
            (_, false) => Bulge::Out,
            (false, true) => Bulge::In,
            (true, true) => Bulge::Both,
        };
        let farthest = |towards: Point| {
            let points = arcs.iter().map(|a| a.farthest(towards));
            points.max_by(|a, b| a.dot(towards).total_cmp(&b.dot(towards)))
        };
        let [a, b] = ends;
        let chord = b - a;
        let (tops, rise) = if chord.norm() < ONE_POINT {
            let axes = [pt(0.0, -1.0), pt(1.0, 0.0), pt(0.0, 1.0), pt(-1.0, 0.0)];
            let tops =
                axes.iter().filter_map(|&d| farthest(d)).filter(|p| n == on_way.len() || p.distance(a) >= ONE_POINT);
            (tops.collect(), 0.0)
        } else {
            let out = chord.left() * (-1.0 / chord.norm());
            let off = |p: &Point| (*p - a).dot(out).abs();
            let top = [out, -out].into_iter().filter_map(farthest).max_by(|p, q| off(p).total_cmp(&off(q)));
            (top.into_iter().collect(), top.as_ref().map_or(0.0, off))
        };
        let radius = arcs.iter().all(|a| is_one_radius(a.radius, largest)).then_some(largest);
        Self { arcs, on_way, radius, bulge, tops, rise }
    }

    fn of_ellipse(centre: Point, half_x: f64, half_y: f64) -> Self {
        let radius = is_one_radius(half_x, half_y).then_some(half_x.max(half_y));
        let arcs = radius.map(|radius| Arc { centre, radius, from: -FRAC_PI_2, sweep: TAU });
        Self {
            arcs: arcs.into_iter().collect(),
            on_way: Vec::new(),
            radius,
            bulge: Bulge::Out,
            tops: Vec::new(),
            rise: 0.0,
        }
    }

    /// The radii of its arcs, mm, each once, in their order.
    #[must_use]
    pub fn radii(&self) -> Vec<f64> {
        let mut out: Vec<f64> = Vec::new();
        for arc in &self.arcs {
            if !out.iter().any(|&r| is_one_radius(r, arc.radius)) {
                out.push(arc.radius);
            }
        }
        out
    }

    /// The point at a share of its way, with the direction out of the stone (a unit vector); `None` without arcs.
    #[must_use]
    pub fn at(&self, share: f64) -> Option<(Point, Point)> {
        let mut left = self.arcs.iter().map(Arc::length).sum::<f64>() * share;
        let last = self.arcs.len().checked_sub(1)?;
        for (i, arc) in self.arcs.iter().enumerate() {
            let long = arc.length();
            if left <= long || i == last {
                let angle = arc.sweep * if long > 0.0 { (left / long).clamp(0.0, 1.0) } else { 0.0 };
                return Some((arc.at(angle), arc.along(angle) * arc.sweep.signum()));
            }
            left -= long;
        }
        None
    }
}

/// Where a polygon is parted into sides that are straight or curved as a whole: at its sharp corners.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    /// The corner where it starts.
    first: usize,
    /// How many sides of the polygon it has.
    count: usize,
    /// True if it runs all round and has no sharp corner.
    closed: bool,
}

impl Stretch {
    fn all(bends: &[Bend]) -> Vec<Self> {
        let n = bends.len();
        let sharp: Vec<usize> = (0..n).filter(|&i| bends[i].radius <= 0.0).collect();
        if sharp.is_empty() {
            return vec![Self { first: 0, count: n, closed: true }];
        }
        let next = |k: usize| if k + 1 < sharp.len() { sharp[k + 1] } else { sharp[0] + n };
        sharp.iter().enumerate().map(|(k, &first)| Self { first, count: next(k) - first, closed: false }).collect()
    }

    /// The sides of the polygon, by the corners where they start.
    fn sides(self, n: usize) -> impl Iterator<Item = usize> {
        (self.first..self.first + self.count).map(move |i| i % n)
    }

    /// The corners on its way, in order.
    fn on_way(self, n: usize) -> impl Iterator<Item = usize> {
        self.sides(n).skip(usize::from(!self.closed))
    }

    /// True if roundings take all of it, and `differ(i)` says of none of its inner corners that the finishes there differ.
    fn is_curve(self, bends: &[Bend], differ: impl Fn(usize) -> bool) -> bool {
        let n = bends.len();
        self.count >= 2
            && self.sides(n).all(|i| bends[i].straight_to(&bends[(i + 1) % n]).abs() <= SPENT)
            && self.on_way(n).all(|i| bends[i].turn != 0.0 && !differ(i))
    }
}

/// For every corner whether it is one end of a curve and on its other side something straight begins. Such a corner may lie on a
/// straight line and is one all the same: there the curve's tangent is that line. `differ(i)` says whether the finishes that meet at a
/// corner differ. Corners may run either way round. An end that the rounding beside it runs past, by however little, does not count.
#[must_use]
pub fn curve_ends(corners: &[Corner], differ: impl Fn(usize) -> bool) -> Vec<bool> {
    let bends = bends(corners);
    let n = bends.len();
    let mut ends = vec![0_u8; n];
    // As far as `check_roundings` lets a rounding run, if the corner stays.
    let fits = |a: usize, b: usize| bends[a].straight_to(&bends[b]) >= -1e-9 * bends[a].at.distance(bends[b].at);
    for s in Stretch::all(&bends).into_iter().filter(|s| !s.closed && s.is_curve(&bends, &differ)) {
        let last = (s.first + s.count) % n;
        if fits(s.first, (s.first + 1) % n) && fits((last + n - 1) % n, last) {
            ends[s.first] += 1;
            ends[last] += 1;
        }
    }
    ends.into_iter().map(|count| count == 1).collect()
}

impl Outline {
    /// Its sides in their order, as a fabricator sees them.
    ///
    /// A curve is two or more sides of the polygon in a row of one finish that roundings take whole, from one sharp corner to the next
    /// (or all round, if there is no sharp corner). All others are straight; rounded corners lie between them.
    #[must_use]
    pub fn sides(&self) -> Vec<OutlineSide> {
        let finish = |i: usize| self.finishes.get(i).cloned().unwrap_or_default();
        let corners = match &self.shape {
            Shape::Polygon(corners) => corners,
            Shape::Ellipse { centre, half_x, half_y } => {
                let low = *centre - pt(0.0, *half_y);
                return vec![OutlineSide {
                    corners: None,
                    ends: [low, low],
                    length: ellipse_length(*half_x, *half_y),
                    finish: finish(0),
                    curve: Some(Curve::of_ellipse(*centre, *half_x, *half_y)),
                }];
            }
        };
        let bends = bends(corners);
        let n = bends.len();
        let differ = |i: usize| self.finishes.get(i) != self.finishes.get((i + n - 1) % n);
        let mut out: Vec<(usize, OutlineSide)> = Vec::with_capacity(n);
        for s in Stretch::all(&bends) {
            if s.is_curve(&bends, differ) {
                let last = (s.first + s.count) % n;
                let on_way: Vec<usize> = s.on_way(n).collect();
                let straight = |i: usize| bends[i].straight_to(&bends[(i + 1) % n]).max(0.0);
                let length =
                    s.sides(n).map(straight).sum::<f64>() + on_way.iter().map(|&i| bends[i].arc()).sum::<f64>();
                let mut ends = [bends[s.first].at, bends[last].at];
                let curve = Curve::of(&bends, on_way, ends);
                if s.closed {
                    // It has no corner; the front is where one looks first.
                    ends = curve.tops.first().map_or(ends, |&p| [p, p]);
                }
                let corners = (!s.closed).then_some([s.first, last]);
                let side = OutlineSide { corners, ends, length, finish: finish(s.first), curve: Some(curve) };
                out.push((s.first, side));
            } else {
                out.extend(s.sides(n).map(|i| {
                    let next = (i + 1) % n;
                    let ends = [bends[i].at, bends[next].at];
                    let length = ends[0].distance(ends[1]);
                    (i, OutlineSide { corners: Some([i, next]), ends, length, finish: finish(i), curve: None })
                }));
            }
        }
        out.sort_by_key(|s| s.0);
        out.into_iter().map(|s| s.1).collect()
    }

    /// For every corner of its polygon whether it lies in the air, on the way of a curve. An ellipse has no corners.
    #[must_use]
    pub fn in_air(&self) -> Vec<bool> {
        let Shape::Polygon(corners) = &self.shape else { return Vec::new() };
        let mut air = vec![false; corners.len()];
        for i in self.sides().iter().filter_map(|s| s.curve.as_ref()).flat_map(|c| &c.on_way) {
            if let Some(a) = air.get_mut(*i) {
                *a = true;
            }
        }
        air
    }
}
