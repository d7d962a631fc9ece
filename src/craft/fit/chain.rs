//! A closed chain of straight sides whose corners are sharp or rounded, as least squares see it.
//!
//! Every side is a directed line, every corner between two of them has a radius. Arcs are tangent to both sides whatever
//! the numbers, so the line never has a kink that is not a sharp corner. Arcs that follow one another are corners with a
//! side of no length between them. In: points. Out: the chain that fits them best, from a start.

use std::f64::consts::{PI, TAU};

use crate::craft::solve;
use crate::geom::curve::Corner;
use crate::geom::{Point, pt};

/// Sides that turn by less (radians) against the one before meet too far off to be two sides.
const LEAST_TURN: f64 = 0.03;

/// Corners of basins turn by more than this (radians), 40 degrees, or are parts of a curve.
const LEAST_CORNER: f64 = 0.7;

/// A side: all points `p` with `n · p = offset`, n being the outward normal of the direction of travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Side {
    /// Direction of travel, radians.
    pub(super) angle: f64,
    /// Distance of the line from the origin along its outward normal, mm.
    pub(super) offset: f64,
    /// Radius of the corner where the side begins, mm.
    pub(super) radius: f64,
    /// True if that corner is sharp and stays so.
    pub(super) sharp: bool,
}

impl Side {
    fn normal(&self) -> Point {
        normal(self.angle)
    }

    fn along(&self) -> Point {
        pt(self.angle.cos(), self.angle.sin())
    }
}

/// The outward normal of a direction of travel: to its right, for outlines run counter-clockwise.
pub(super) fn normal(angle: f64) -> Point {
    pt(angle.sin(), -angle.cos())
}

/// An angle brought into (-π, π].
pub(super) fn wrapped(angle: f64) -> f64 {
    let a = angle.rem_euclid(TAU);
    if a > PI { a - TAU } else { a }
}

/// A closed chain.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chain {
    pub(super) sides: Vec<Side>,
}

/// A corner worked out: the arc, and the straight part that follows it.
struct Link {
    corner: Point,
    turn: f64,
    radius: f64,
    centre: Point,
    before: Point,
    after: Point,
    /// Where the straight part starts, its direction, and its length; negative where the arcs overlap.
    start: Point,
    along: Point,
    length: f64,
}

/// How far a point is off the chain, outwards positive, and the corner that it is nearest to by arc or following side.
struct Off {
    distance: f64,
    link: usize,
    on_arc: bool,
}

impl Chain {
    /// The corners; `None` if two sides that follow one another do not meet.
    pub(super) fn corners(&self) -> Option<Vec<Corner>> {
        let n = self.sides.len();
        (n >= 2).then_some(())?;
        (0..n)
            .map(|k| {
                let (a, b) = (self.sides[(k + n - 1) % n], self.sides[k]);
                let (u, v) = (a.normal(), b.normal());
                let det = u.cross(v);
                let turn = wrapped(b.angle - a.angle).abs();
                if !(LEAST_TURN..=PI - LEAST_TURN).contains(&turn) {
                    return None;
                }
                let at = pt(a.offset * v.y - b.offset * u.y, b.offset * u.x - a.offset * v.x) * (1.0 / det);
                at.is_finite().then_some(Corner { at, radius: b.radius.max(0.0) })
            })
            .collect()
    }

    fn links(&self) -> Option<Vec<Link>> {
        let corners = self.corners()?;
        let n = corners.len();
        let mut links: Vec<Link> = (0..n)
            .map(|k| {
                let (a, b) = (self.sides[(k + n - 1) % n], self.sides[k]);
                let turn = wrapped(b.angle - a.angle);
                let Corner { at, radius } = corners[k];
                let tangent = radius * (turn.abs() / 2.0).tan();
                let (u, v) = (a.along(), b.along());
                let centre = at - u * tangent + u.left() * (turn.signum() * radius);
                let sign = turn.signum();
                Link {
                    corner: at,
                    turn,
                    radius,
                    centre,
                    before: a.normal() * sign,
                    after: b.normal() * sign,
                    start: at + v * tangent,
                    along: v,
                    length: 0.0,
                }
            })
            .collect();
        for k in 0..n {
            let next = &links[(k + 1) % n];
            let tangent = next.radius * (next.turn.abs() / 2.0).tan();
            let end = next.corner - links[k].along * tangent;
            links[k].length = (end - links[k].start).dot(links[k].along);
        }
        Some(links)
    }

    fn off(&self, links: &[Link], p: Point) -> Off {
        let mut best = Off { distance: f64::INFINITY, link: 0, on_arc: false };
        for (k, link) in links.iter().enumerate() {
            let w = p - link.centre;
            let within = if link.turn > 0.0 {
                link.before.cross(w) >= 0.0 && w.cross(link.after) >= 0.0
            } else {
                link.before.cross(w) <= 0.0 && w.cross(link.after) <= 0.0
            };
            if link.radius > 0.0 && within {
                let d = (w.norm() - link.radius) * link.turn.signum();
                if d.abs() < best.distance.abs() {
                    best = Off { distance: d, link: k, on_arc: true };
                }
            }
            let side = &self.sides[k];
            let height = side.normal().dot(p) - side.offset;
            let t = (p - link.start).dot(link.along);
            let beyond = if t < 0.0 { -t } else { (t - link.length.max(0.0)).max(0.0) };
            let d = height.hypot(beyond);
            if d < best.distance.abs() {
                best = Off { distance: if height < 0.0 { -d } else { d }, link: k, on_arc: false };
            }
        }
        best
    }

    /// How far each point is off, mm, outwards positive.
    pub(super) fn residuals(&self, points: &[Point]) -> Option<Vec<f64>> {
        let links = self.links()?;
        Some(points.iter().map(|&p| self.off(&links, p).distance).collect())
    }

    /// For each corner, how badly the points at its arc and at its two sides lie: the sum of their squares.
    pub(super) fn blame(&self, points: &[Point]) -> Option<Vec<f64>> {
        let links = self.links()?;
        let n = links.len();
        let mut blame = vec![0.0; n];
        for &p in points {
            let off = self.off(&links, p);
            let square = off.distance * off.distance;
            blame[off.link] += square;
            if !off.on_arc {
                blame[(off.link + 1) % n] += square;
            }
        }
        Some(blame)
    }

    /// Makes the squares of the distances of the points least. `reach` (mm), about the size of the outline, turns angles
    /// into lengths. At most so many steps, as long as one lowers the sum by more than the share `enough`.
    pub(super) fn refined(&self, points: &[Point], reach: f64, (steps, enough): (usize, f64)) -> Self {
        let mut start = Vec::with_capacity(3 * self.sides.len());
        for s in &self.sides {
            start.extend([s.angle * reach, s.offset]);
            if !s.sharp {
                start.push(s.radius);
            }
        }
        let x = solve::least_squares(start, steps, enough, |x| {
            let chain = self.with(x, reach);
            let links = chain.links()?;
            let mut all: Vec<f64> = points.iter().map(|&p| chain.off(&links, p).distance).collect();
            // Arcs that overlap, and radii below 0, are no outline: each costs as much as a point that is so far off, twice.
            all.extend(links.iter().map(|l| 2.0 * l.length.min(0.0)));
            all.extend(chain.sides.iter().map(|s| 2.0 * s.radius.min(0.0)));
            Some(all)
        });
        let mut chain = self.with(&x, reach);
        chain.sides.iter_mut().for_each(|s| s.radius = s.radius.max(0.0));
        chain
    }

    fn with(&self, x: &[f64], reach: f64) -> Self {
        let mut values = x.iter().copied();
        let mut next = || values.next().unwrap_or(0.0);
        let sides = self
            .sides
            .iter()
            .map(|s| {
                let (angle, offset) = (next() / reach, next());
                let radius = if s.sharp { 0.0 } else { next() };
                Side { angle, offset, radius, sharp: s.sharp }
            })
            .collect();
        Self { sides }
    }

    /// Number of unknowns that were fitted.
    pub(super) fn unknowns(&self) -> usize {
        self.sides.iter().map(|s| if s.sharp { 2 } else { 3 }).sum()
    }

    /// Corners that turn little, by arcs shorter than `arc` (mm): kinks, which lie between points more often than in a basin.
    pub(super) fn kinks(&self, arc: f64) -> usize {
        let n = self.sides.len();
        let turn = |k: usize| wrapped(self.sides[k].angle - self.sides[(k + n - 1) % n].angle).abs();
        (0..n).filter(|&k| turn(k) < LEAST_CORNER && self.sides[k].radius * turn(k) < arc).count()
    }

    /// The chain with the arc of a corner divided in its middle: the same line, one side more.
    pub(super) fn split(&self, corner: usize) -> Option<Self> {
        let links = self.links()?;
        let link = links.get(corner)?;
        if link.turn.abs() < 4.0 * LEAST_TURN {
            return None;
        }
        let n = self.sides.len();
        let angle = self.sides[(corner + n - 1) % n].angle + link.turn / 2.0;
        let out = normal(angle);
        // The tangent in the middle of the arc; at a sharp corner, the line through it.
        let offset = out.dot(link.centre) + link.radius * link.turn.signum();
        let mut sides = self.sides.clone();
        sides.insert(corner, Side { angle, offset, radius: link.radius, sharp: false });
        sides[corner + 1].sharp = false;
        Some(Self { sides })
    }

    /// The chain without a side: its neighbours meet in one corner.
    pub(super) fn without(&self, side: usize) -> Option<Self> {
        let n = self.sides.len();
        if n < 4 {
            return None;
        }
        let (before, after) = (self.sides[(side + n - 1) % n], self.sides[(side + 1) % n]);
        if wrapped(after.angle - before.angle).abs() > 2.4 {
            return None;
        }
        let mut sides = self.sides.clone();
        let next = (side + 1) % n;
        sides[next].radius = sides[next].radius.max(self.sides[side].radius);
        sides[next].sharp = false;
        sides.remove(side);
        Some(Self { sides })
    }

    /// The chain with a corner made sharp for good.
    pub(super) fn sharpened(&self, corner: usize) -> Self {
        let mut chain = self.clone();
        chain.sides[corner].sharp = true;
        chain.sides[corner].radius = 0.0;
        chain
    }
}
