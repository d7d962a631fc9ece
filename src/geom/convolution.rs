//! Minkowski sums of closed lines by convolution.
//!
//! L. Guibas, L. Ramshaw, J. Stolfi, "A kinetic framework for computational geometry", FOCS 1983. Go round a line, and turn on the
//! spot at every corner. The convolution of two lines holds every side of either one at every corner of the other that turns past
//! the direction of the side: forwards where that corner turns left, backwards where it turns right. All this together makes closed
//! lines, and the winding number of these at `p` is
//!
//! * for two simple polygons `A` and `B`, both counter-clockwise: in how many pieces `A` and `p - B` overlap. So it is positive
//!   inside the sum and zero outside (the overlap of two polygons without holes has no holes, so its Euler characteristic, which is
//!   what the winding number is, counts its pieces);
//! * for `A` clockwise and `B` counter-clockwise: -1 where `p - B` lies inside `A`, more elsewhere, if `A` has the larger area.
//!   (It is the Euler characteristic of what `p - B` has outside `A`, less 1. That part has a hole only if `A` lies inside `p - B`.)
//!
//! Both need all sides, also the backward ones at reflex corners. What is often called the reduced convolution leaves these out and
//! has no winding numbers.
//!
//! Corners are brought to the grid first, then added: the sums are whole numbers, and the winding numbers are right for the lines
//! on the grid. Were the sums rounded instead, lines inside the sum that just cover each other would come apart and leave slits.

use std::cmp::Ordering;

use super::boolean::{Cell, Lines};
use super::point::Point;
use super::region::{Region, Ring};

/// A vector between grid points, in cells.
type Way = [i64; 2];

/// A closed line on the grid, with its sides and turns.
pub(super) struct Outline {
    corners: Vec<Cell>,
    /// Side `i` runs from corner `i` to the next one. A line of one corner has no sides.
    sides: Vec<Way>,
    /// Whether the line turns left (or not at all) at corner `i`, from side `i - 1` to side `i`. Turns are at most half a turn.
    left: Vec<bool>,
}

impl Outline {
    /// The line through `points`, a polygon of either sense of rotation, or a segment or a point.
    ///
    /// `None` if the line would turn otherwise on the grid than it does: sides shorter than a cell, or spikes and notches
    /// thinner than one.
    pub(super) fn of(points: &[Point]) -> Option<Self> {
        let n = points.len();
        let corners: Vec<Cell> = points.iter().map(|&p| Cell::of(p)).collect();
        if n < 2 {
            return (n == 1).then_some(Self { corners, sides: Vec::new(), left: vec![true] });
        }
        let sides: Vec<Way> = (0..n).map(|i| between(corners[i], corners[after(i, n)])).collect();
        if sides.contains(&[0, 0]) {
            return None;
        }
        if n == 2 {
            return Some(Self { corners, sides, left: vec![true, true] });
        }
        let left = (0..n)
            .map(|i| {
                let before = before(i, n);
                let (u, v) = (points[i] - points[before], points[after(i, n)] - points[i]);
                let (cross, dot) = (cross(sides[before], sides[i]), dot(sides[before], sides[i]));
                // A side keeps its quadrant on the grid, so that a turn changes by less than half a turn. Then it is known up
                // to whole turns, unless it was and is a sharp one and changed sides.
                let same = (u.cross(v) > 0.0 && cross > 0) || (u.cross(v) < 0.0 && cross < 0);
                (same || (u.dot(v) > 0.0 && dot > 0)).then_some(cross >= 0)
            })
            .collect::<Option<Vec<bool>>>()?;
        Some(Self { corners, sides, left })
    }

    fn is_convex(&self) -> bool {
        self.left.iter().all(|&l| l)
    }
}

/// The sum of two convex outlines, which are counter-clockwise (or points or segments); `None` if one is not convex.
pub(super) fn convex_sum(a: &Outline, b: &Outline) -> Option<Region> {
    if !a.is_convex() || !b.is_convex() {
        return None;
    }
    // Nothing turns right, so this is a single line.
    let mut line: Vec<Cell> = Vec::new();
    Convolution::new(a, b).trace(|walk| line.extend_from_slice(walk));
    let n = line.len();
    let bends = |i: &usize| {
        let (before, at, after) = (line[before(*i, n)], line[*i], line[after(*i, n)]);
        cross(between(before, at), between(at, after)) != 0
    };
    let corners: Vec<Point> = (0..n).filter(bends).map(|i| line[i].point()).collect();
    Some(if corners.len() < 3 { Region::empty() } else { Ring::vouched(corners).to_region() })
}

/// Adds the convolution of both to `lines`.
pub(super) fn convolve(a: &Outline, b: &Outline, lines: &mut Lines) {
    Convolution::new(a, b).trace(|line| lines.push(line.iter().copied()));
}

fn between(from: Cell, to: Cell) -> Way {
    [to.x - from.x, to.y - from.y]
}

/// Exact: components stay below 2^38.
fn cross(u: Way, v: Way) -> i128 {
    i128::from(u[0]) * i128::from(v[1]) - i128::from(u[1]) * i128::from(v[0])
}

fn dot(u: Way, v: Way) -> i128 {
    i128::from(u[0]) * i128::from(v[0]) + i128::from(u[1]) * i128::from(v[1])
}

const fn after(i: usize, n: usize) -> usize {
    if i + 1 < n { i + 1 } else { 0 }
}

const fn before(i: usize, n: usize) -> usize {
    if i > 0 { i - 1 } else { n - 1 }
}

/// Which comes first, going counter-clockwise from east.
fn by_direction(u: Way, v: Way) -> Ordering {
    let lower = |w: Way| w[1] < 0 || (w[1] == 0 && w[0] < 0);
    lower(u).cmp(&lower(v)).then_with(|| 0.cmp(&cross(u, v)))
}

/// What a corner of one line adds of the other line.
#[derive(Clone, Copy)]
struct Turn {
    /// The first side, and how many there are, in the other line's order of directions.
    first: usize,
    count: usize,
    /// True if they run forwards.
    left: bool,
    /// Index of the first of them among all that the convolution holds.
    slot: usize,
}

/// One of the two lines, with what the other one must know of it.
struct Party<'a> {
    outline: &'a Outline,
    /// The sides, counter-clockwise by direction from east; and the place of each in that order.
    order: Vec<usize>,
    place: Vec<usize>,
    /// What each corner adds of the other line.
    turns: Vec<Turn>,
}

impl<'a> Party<'a> {
    /// `passed` says of every side how many sides of the other line come before it in the common order of directions; `others`
    /// is how many there are.
    fn new(outline: &'a Outline, order: Vec<usize>, passed: &[usize], others: usize, slots: &mut usize) -> Self {
        let n = outline.corners.len();
        let mut place = vec![0; order.len()];
        for (k, &side) in order.iter().enumerate() {
            place[side] = k;
        }
        let turns = (0..n)
            .map(|i| {
                let (first, count) = if outline.sides.is_empty() || others == 0 {
                    (0, others)
                } else {
                    let (into, out) = (passed[before(i, n)], passed[i]);
                    let (from, to) = if outline.left[i] { (into, out) } else { (out, into) };
                    (from % others, (to + others - from) % others)
                };
                let turn = Turn { first, count, left: outline.left[i], slot: *slots };
                *slots += count;
                turn
            })
            .collect();
        Self { outline, order, place, turns }
    }

    /// If `turn` (of the other line) holds this side, its slot.
    fn slot(&self, side: usize, turn: &Turn) -> Option<usize> {
        if turn.count == 0 {
            return None;
        }
        let place = self.place[side];
        let k = if place >= turn.first { place - turn.first } else { place + self.order.len() - turn.first };
        (k < turn.count).then_some(turn.slot + k)
    }

    /// Where one gets from corner `i` along a side that `turn` (of the other line) holds: the slot of the side, and its other end.
    fn step(&self, i: usize, turn: &Turn) -> Option<(usize, usize)> {
        let n = self.outline.corners.len();
        if turn.left {
            self.slot(i, turn).map(|s| (s, after(i, n)))
        } else {
            self.slot(before(i, n), turn).map(|s| (s, before(i, n)))
        }
    }

    /// The corners at which the sides start that `turn` (of the other line) holds, with their slots.
    fn starts<'b>(&'b self, turn: &'b Turn) -> impl Iterator<Item = (usize, usize)> + 'b {
        let n = self.order.len();
        (0..turn.count).map(move |k| {
            let side = self.order[(turn.first + k) % n];
            (turn.slot + k, if turn.left { side } else { after(side, n) })
        })
    }
}

struct Convolution<'a> {
    a: Party<'a>,
    b: Party<'a>,
    /// How many sides it holds.
    slots: usize,
}

impl<'a> Convolution<'a> {
    fn new(a: &'a Outline, b: &'a Outline) -> Self {
        // Sides of both in one order. Of equal directions those of `b` come first, as if `a` were turned a trifle to the left:
        // then no direction is equal to another, and the convolution is closed whichever way it is turned back.
        let way = |&(of_a, i): &(bool, usize)| if of_a { a.sides[i] } else { b.sides[i] };
        let mut all: Vec<(bool, usize)> =
            (0..b.sides.len()).map(|i| (false, i)).chain((0..a.sides.len()).map(|i| (true, i))).collect();
        all.sort_by(|p, q| by_direction(way(p), way(q)));
        let (mut order_a, mut order_b) = (Vec::with_capacity(a.sides.len()), Vec::with_capacity(b.sides.len()));
        let (mut passed_a, mut passed_b) = (vec![0; a.sides.len()], vec![0; b.sides.len()]);
        for (of_a, i) in all {
            if of_a {
                passed_a[i] = order_b.len();
                order_a.push(i);
            } else {
                passed_b[i] = order_a.len();
                order_b.push(i);
            }
        }
        let mut slots = 0;
        let a = Party::new(a, order_a, &passed_a, b.sides.len(), &mut slots);
        let b = Party::new(b, order_b, &passed_b, a.outline.sides.len(), &mut slots);
        Self { a, b, slots }
    }

    /// Hands out closed lines that hold every side of the convolution once.
    ///
    /// At every sum of two corners as many sides start as end. So whoever walks on along sides not yet taken gets stuck at the
    /// start only.
    fn trace(&self, mut line: impl FnMut(&[Cell])) {
        let mut taken = vec![false; self.slots];
        let mut walk: Vec<Cell> = Vec::new();
        let of_a = self.b.turns.iter().enumerate().flat_map(|(k, t)| self.a.starts(t).map(move |(s, i)| (s, i, k)));
        let of_b = self.a.turns.iter().enumerate().flat_map(|(i, t)| self.b.starts(t).map(move |(s, k)| (s, i, k)));
        for (slot, i, k) in of_a.chain(of_b) {
            if taken[slot] {
                continue;
            }
            let (mut i, mut k) = (i, k);
            walk.clear();
            loop {
                let free = |step: &(usize, usize)| !taken[step.0];
                if let Some((slot, to)) = self.a.step(i, &self.b.turns[k]).filter(free) {
                    taken[slot] = true;
                    i = to;
                } else if let Some((slot, to)) = self.b.step(k, &self.a.turns[i]).filter(free) {
                    taken[slot] = true;
                    k = to;
                } else {
                    break;
                }
                let (p, q) = (self.a.outline.corners[i], self.b.outline.corners[k]);
                walk.push(Cell { x: p.x + q.x, y: p.y + q.y });
            }
            line(&walk);
        }
    }
}
