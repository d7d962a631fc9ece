//! Outlines at a distance from another one, with corners that a core bit can make.
//!
//! In: the shape of a body (or a rim), the distance, the bits. Out: the hole, and what was done about its corners.
//! A corner of the hole that bulges into the stone needs a bit; one that points into the hole is cut from outside and needs none.

use super::offset::{self, Trouble};
use super::{ellipse, kept, measured};
use crate::craft::line;
use crate::geom::curve::Corner;
use crate::geom::distance::Nearest;
use crate::geom::{Ring, tol};
use crate::model::Shape;

/// An ellipse stands in for the line at a distance from an ellipse if it is nowhere off it by more (mm): a sixth of the
/// default accuracy.
pub(super) const ELLIPSE_WITHIN: f64 = 0.25;

/// A chain of arcs that stands in for an ellipse is nowhere farther outside it (mm).
pub(super) const CHAIN_WITHIN: f64 = 0.05;

/// What is measured on fine lines is true to twice [`line::FINE`]; a clearance that falls short by this is an exact fit.
pub(super) const EXACT: f64 = 2.0 * line::FINE + tol::CLEARANCE;

/// The core bits of the shop, by radius, ascending.
pub(super) struct Bits(Vec<f64>);

impl Bits {
    pub(super) fn of(diameters: &[f64]) -> Self {
        let mut radii: Vec<f64> = diameters.iter().filter(|d| d.is_finite() && **d > 0.0).map(|d| d / 2.0).collect();
        radii.sort_by(f64::total_cmp);
        Self(radii)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The least radius that can be cored; 0 without bits.
    pub(super) fn least(&self) -> f64 {
        self.0.first().copied().unwrap_or(0.0)
    }

    fn most(&self) -> f64 {
        self.0.last().copied().unwrap_or(0.0)
    }

    /// The largest bit whose radius is at most `radius`.
    fn below(&self, radius: f64) -> Option<f64> {
        self.0.iter().copied().rfind(|&r| r <= radius + 1e-9)
    }

    /// The smallest one whose radius is larger.
    fn above(&self, radius: f64) -> Option<f64> {
        self.0.iter().copied().find(|&r| r > radius + 1e-9)
    }

    /// True if a corner of this radius is one for a bit. A rounding of more than twice the largest bit is a curve that no
    /// core makes; so is any if there are no bits.
    fn is_core(&self, radius: f64) -> bool {
        radius <= 2.0 * self.most()
    }

    /// Radii for a bulging corner that asks for `radius`, the best first: the largest bit that is no larger; the smallest that
    /// is larger, for which the sides must give way; the radius itself, along which the line is cut without a core.
    pub(super) fn choices(&self, radius: f64, is_curve: bool) -> Vec<f64> {
        if self.is_empty() {
            return vec![radius];
        }
        if radius < self.least() - 1e-9 {
            return vec![self.least()];
        }
        if is_curve || !self.is_core(radius) {
            return vec![radius];
        }
        let mut choices: Vec<f64> = self.below(radius).into_iter().chain(self.above(radius)).collect();
        choices.push(radius);
        choices
    }

    /// True if one of the bits has this radius.
    pub(super) fn has(&self, radius: f64) -> bool {
        self.0.iter().any(|r| (r - radius).abs() < 1e-6)
    }
}

/// True if the arc of a corner runs into that of a neighbour, with less than a quarter of its length straight between them: it is
/// part of a curve, such as an oval, and no corner between two sides.
pub(super) fn is_curve(corners: &[Corner], i: usize) -> bool {
    let n = corners.len();
    let arc = corners[i].radius * offset::turn(corners, i).abs();
    [((i + n - 1) % n, (i + n - 1) % n), (i, (i + 1) % n)].into_iter().any(|(side, other)| {
        let same_way = offset::turn(corners, i) * offset::turn(corners, other) > 0.0;
        let of_other = corners[other].radius * offset::turn(corners, other).abs();
        arc > 0.0 && of_other > 0.0 && same_way && offset::straight(corners, side) < 0.25 * arc.min(of_other)
    })
}

/// What became of one corner of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Made {
    /// The radius that the body asks for.
    pub(super) asked: f64,
    /// The radius that it got.
    pub(super) radius: f64,
    /// True if it is part of a curve.
    pub(super) is_curve: bool,
}

/// A hole and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Hole {
    pub(super) shape: Shape,
    /// Its bulging corners.
    pub(super) corners: Vec<Made>,
    /// The most that a side went out beyond the distance that was asked for.
    pub(super) pushed: f64,
}

/// Why there is no hole.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum NoHole {
    /// The outline cannot be followed here.
    Unfollowed,
    /// The rim comes too near: the best that was found falls short there.
    Rim(Nearest),
}

/// A rim, and how far the hole must stay inside it.
#[derive(Clone, Copy)]
pub(super) struct Rim<'a> {
    pub(super) shape: &'a Shape,
    /// Its fine line, from inside.
    pub(super) ring: &'a Ring,
    pub(super) least: f64,
}

/// The smallest hole that keeps `by` (0 or more) from a body, inside the rim.
pub(super) fn round(body: &Shape, by: f64, bits: &Bits, rim: Option<Rim<'_>>) -> Result<Hole, NoHole> {
    let fits = |shape: &Shape| match rim {
        None => Ok(()),
        Some(rim) => {
            let near = kept(&line::outer(shape), rim.ring).unwrap_or_else(|| measured(shape, rim.shape));
            if near.distance >= rim.least - EXACT { Ok(()) } else { Err(near) }
        }
    };
    match body {
        Shape::Ellipse { centre, half_x, half_y } => {
            let (a, b, more) = if half_x == half_y {
                let r = (half_x + by).max(bits.least());
                (r, r, 0.0)
            } else {
                ellipse::holding(*half_x, *half_y, by)
            };
            let whole = Shape::Ellipse { centre: *centre, half_x: a, half_y: b };
            if more <= ELLIPSE_WITHIN && ellipse::least_radius(a, b) >= bits.least() {
                match fits(&whole) {
                    Ok(()) => return Ok(Hole { shape: whole, corners: Vec::new(), pushed: 0.0 }),
                    Err(near) if half_x == half_y => return Err(NoHole::Rim(near)),
                    Err(_) => {}
                }
            }
            let chain = ellipse::chain(*centre, *half_x, *half_y, CHAIN_WITHIN);
            round_polygon(&chain, body, by, bits, &fits)
        }
        Shape::Polygon(corners) => round_polygon(corners, body, by, bits, &fits),
    }
}

fn round_polygon(
    corners: &[Corner],
    body: &Shape,
    by: f64,
    bits: &Bits,
    fits: &impl Fn(&Shape) -> Result<(), Nearest>,
) -> Result<Hole, NoHole> {
    let body_ring = line::outer(body);
    let clears = |shape: &Shape| kept(&body_ring, &line::inner(shape)).map_or(0.0, |n| n.distance);
    let mut base = corners.to_vec();
    let mut level = vec![0usize; base.len()];
    // Every turn takes a corner away or tries the next radius of one.
    let most_turns = 4 * base.len() + 8;
    for _ in 0..most_turns {
        let asked: Vec<f64> = (0..base.len()).map(|i| grown_radius(&base, i, by)).collect();
        let curve: Vec<bool> = (0..base.len()).map(|i| is_curve(&base, i)).collect();
        let bulges: Vec<bool> = (0..base.len()).map(|i| offset::turn(&base, i) > 0.0).collect();
        let choices: Vec<Vec<f64>> = (0..base.len())
            .map(|i| if bulges[i] { bits.choices(asked[i], curve[i]) } else { vec![asked[i]] })
            .collect();
        let radii: Vec<f64> = choices.iter().zip(&level).map(|(c, &l)| c[l.min(c.len() - 1)]).collect();
        let push = pushes(&base, &asked, &radii);
        let attempt = |share: f64| {
            let sides: Vec<f64> = push.iter().map(|p| by + p * share).collect();
            offset::moved(&base, &sides, &radii)
        };
        let next_level = |level: &mut Vec<usize>, i: usize| {
            let more = level[i] + 1 < choices[i].len();
            if more {
                level[i] += 1;
            }
            more
        };
        let shape = match attempt(1.0) {
            Ok(shape) => shape,
            Err(trouble) => {
                // A radius that has no room: first another radius, then fewer corners.
                if let Trouble::Rounding(i) = trouble
                    && choices[i].len() > 1
                    && radii[i] > asked[i]
                    && next_level(&mut level, i)
                {
                    continue;
                }
                base = offset::simpler(&base, trouble, true).ok_or(NoHole::Unfollowed)?;
                level = vec![0; base.len()];
                continue;
            }
        };
        if by > EXACT && clears(&shape) < by - EXACT {
            return Err(NoHole::Unfollowed);
        }
        match fits(&shape) {
            Ok(()) => {
                let pushed = push.iter().copied().fold(0.0, f64::max);
                let (shape, share) = tightened(shape, pushed, &attempt, |s| clears(s) >= by - line::FINE);
                let made = (0..base.len())
                    .filter(|&i| bulges[i])
                    .map(|i| Made { asked: asked[i], radius: radii[i], is_curve: curve[i] })
                    .collect();
                return Ok(Hole { shape, corners: made, pushed: pushed * share });
            }
            Err(near) => {
                // The nearest corner that has another radius to try takes it.
                let mut open: Vec<usize> = (0..base.len()).filter(|&i| level[i] + 1 < choices[i].len()).collect();
                open.sort_by(|&i, &j| {
                    base[i].at.distance(near.from).total_cmp(&base[j].at.distance(near.from)).then(i.cmp(&j))
                });
                match open.first() {
                    Some(&i) => level[i] += 1,
                    None => return Err(NoHole::Rim(near)),
                }
            }
        }
    }
    Err(NoHole::Unfollowed)
}

/// The radius of corner `i` on the line at a distance: larger where the outline bulges, smaller where it does not.
pub(super) fn grown_radius(corners: &[Corner], i: usize, by: f64) -> f64 {
    let sign = if offset::turn(corners, i) > 0.0 { 1.0 } else { -1.0 };
    (corners[i].radius + sign * by).max(0.0)
}

/// How far each side must go out beyond its distance so that corners with larger radii than they ask for still clear.
///
/// At a corner that turns by t, an arc of radius R between sides that both went out by s clears the arc of radius q inside it if
/// the middles, `(R - q - s) / cos(t/2)` apart, are no farther apart than R - q: `s = (R - q) (1 - cos(t/2))`.
fn pushes(corners: &[Corner], asked: &[f64], radii: &[f64]) -> Vec<f64> {
    let n = corners.len();
    let need = |i: usize| {
        let turn = offset::turn(corners, i);
        if turn > 0.0 { (radii[i] - asked[i]).max(0.0) * (1.0 - (turn / 2.0).cos()) } else { 0.0 }
    };
    (0..n).map(|i| need(i).max(need((i + 1) % n))).collect()
}

/// The shape with its sides no farther out than the body asks for; where corners were taken away, they may be too far. With the
/// share of the push that was kept.
fn tightened(
    shape: Shape,
    pushed: f64,
    attempt: &impl Fn(f64) -> Result<Shape, Trouble>,
    clears: impl Fn(&Shape) -> bool,
) -> (Shape, f64) {
    if pushed <= 0.0 {
        return (shape, 1.0);
    }
    let good = |share: f64| attempt(share).ok().filter(|s| clears(s));
    let (mut low, mut high, mut best) = (0.0, 1.0, shape);
    // Where the push is what the corner needs, a hair less fails, and the exact figure stays.
    match good(1.0 - 0.005 / pushed.max(0.01)) {
        None => return (best, 1.0),
        Some(s) => best = s,
    }
    for _ in 0..14 {
        let middle = 0.5 * (low + high);
        match good(middle) {
            Some(s) => (high, best) = (middle, s),
            None => low = middle,
        }
    }
    (best, high)
}

/// The largest hole inside a rim that still is as small as it can be: the rim shrunk by its least distance and by more, up to
/// `most`, as long as it keeps `by` from the body. Its corners have radii of bits if that leaves a hole at all. `None` if even the
/// largest hole does not clear the body.
pub(super) fn within(rim: Rim<'_>, body: &Shape, by: f64, most: f64, bits: &Bits) -> Option<Hole> {
    let body_ring = line::outer(body);
    let good = |hole: &Hole| {
        kept(&body_ring, &line::inner(&hole.shape)).is_some_and(|n| n.distance >= by - EXACT)
            && kept(&line::outer(&hole.shape), rim.ring).is_some_and(|n| n.distance >= rim.least - EXACT)
    };
    for by_bits in [true, false] {
        let at = |more: f64| shrunk(rim.shape, rim.least + more, bits, by_bits).filter(|h| good(h));
        let Some(mut best) = at(0.0) else { continue };
        let (mut low, mut high) = (0.0, most);
        for _ in 0..20 {
            let middle = 0.5 * (low + high);
            match at(middle) {
                Some(hole) => (low, best) = (middle, hole),
                None => high = middle,
            }
        }
        return Some(best);
    }
    None
}

/// A rim shrunk, its bulging corners no tighter than the smallest bit.
fn shrunk(rim: &Shape, by: f64, bits: &Bits, by_bits: bool) -> Option<Hole> {
    let corners = match rim {
        Shape::Ellipse { centre, half_x, half_y } => {
            let (a, b, _) =
                if half_x == half_y { (half_x - by, half_y - by, 0.0) } else { ellipse::held(*half_x, *half_y, by)? };
            (a > 0.0 && b > 0.0 && ellipse::least_radius(a, b) >= bits.least()).then_some(())?;
            let shape = Shape::Ellipse { centre: *centre, half_x: a, half_y: b };
            return Some(Hole { shape, corners: Vec::new(), pushed: 0.0 });
        }
        Shape::Polygon(corners) => corners,
    };
    let mut base = corners.clone();
    loop {
        let made: Vec<Made> = (0..base.len())
            .map(|i| {
                let asked = grown_radius(&base, i, -by);
                let curve = is_curve(&base, i);
                if offset::turn(&base, i) < 0.0 {
                    return Made { asked, radius: asked, is_curve: curve };
                }
                let core = by_bits && !curve && bits.is_core(asked) && !bits.has(asked);
                let radius = if core { bits.above(asked).unwrap_or(asked) } else { asked.max(bits.least()) };
                Made { asked, radius, is_curve: curve }
            })
            .collect();
        let radii: Vec<f64> = made.iter().map(|m| m.radius).collect();
        match offset::moved(&base, &vec![-by; base.len()], &radii) {
            Ok(shape) => {
                let made = (0..base.len()).filter(|&i| offset::turn(&base, i) > 0.0).map(|i| made[i]).collect();
                return Some(Hole { shape, corners: made, pushed: 0.0 });
            }
            Err(trouble) => base = offset::simpler(&base, trouble, false)?,
        }
    }
}
