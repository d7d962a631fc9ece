//! Whether rectangles can lie side by side at all: a search over who is left of or below whom, that only ever says "no" by proof.
//!
//! Each body is a few rectangles that move as one, its middle in a convex set of places. Two rectangles that do not overlap are
//! parted along one of the axes, so one of four bars holds: `to >= from + least`. At a slant they may be nearer than the gap
//! along both axes, but not nearer than a part of it along each; the whole gap counts where they face one another. Bars narrow the ranges of the middles;
//! an empty range refutes a node. This is the interval consistency of Clautiaux, Jouglet, Carlier and Moukrim, Computers &
//! Operations Research 35 (2008) 944-959, with pairs chosen by the fewest bars left.

use std::sync::Arc;

use super::boxes::Seat;
use crate::geom::{BBox, Point, pt, sum};

/// Ranges that are empty by less than this are not, mm.
const HAIR: f64 = 1e-6;

/// What a search came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Proven.
    Impossible,
    /// Ranges remain with every pair parted: nothing is proven, and more work proves nothing.
    Possible,
    /// The work is spent: nothing is proven.
    Spent,
}

/// Ranges of a middle: x from, x to, y from, y to.
type Range = [f64; 4];

/// `to >= from + least`, on an axis (0: x, 1: y).
#[derive(Clone, Copy, Debug)]
struct Bar {
    from: usize,
    to: usize,
    axis: usize,
    least: f64,
    /// How much more it is where the two face one another.
    facing: f64,
    /// They do not overlap along the other axis where `to - from` is outside this range.
    across: [f64; 2],
}

impl Bar {
    /// A bar of fixed length.
    const fn plain(from: usize, to: usize, axis: usize, least: f64) -> Self {
        Self { from, to, axis, least, facing: 0.0, across: [0.0, 0.0] }
    }

    /// Its length, given the ranges.
    fn length(&self, at: &[Range]) -> f64 {
        if self.facing == 0.0 {
            return self.least;
        }
        let low = 2 * (1 - self.axis);
        let (from, to) = (at[self.from], at[self.to]);
        // For certain they overlap: at no place in the ranges does the difference leave the range.
        let faces = to[low + 1] - from[low] < self.across[1] && to[low] - from[low + 1] > self.across[0];
        if faces { self.least + self.facing } else { self.least }
    }
}

/// Two rectangles of two bodies that must be parted.
#[derive(Clone, Copy, Debug)]
struct Pair {
    bars: [Bar; 4],
}

/// A body: its ways round (one must do), and what it is a copy of.
#[derive(Clone, Debug)]
pub struct Item {
    /// Ways round, or ranges of turns.
    pub seats: Vec<Arc<Seat>>,
    /// Equal numbers are equal bodies.
    pub kind: usize,
}

/// Work for the first look at some of the bodies, before the others take their seats.
const GLANCE: u64 = 60;

/// Gives a seat within a range of turns.
pub type Within<'q> = dyn FnMut(usize, (f64, f64), &mut u64) -> Option<Arc<Seat>> + 'q;

/// What a question is about, and where its work comes from.
pub struct Question<'q> {
    /// The bodies, largest first.
    pub items: &'q [Item],
    /// Least distance, mm.
    pub gap: f64,
    /// True if ranges of turns may be divided; else a question that would ask for it is left as if the work were spent.
    pub divide: bool,
    /// Work left.
    pub work: &'q mut u64,
    /// The seats of a body within a range of turns (its number among the items, and the range); takes its work itself.
    pub within: &'q mut Within<'q>,
}

impl Question<'_> {
    /// Can these lie side by side?
    pub fn together(&mut self) -> Outcome {
        self.seated(&mut Vec::with_capacity(self.items.len()))
    }

    /// With some of them in their seats.
    fn seated(&mut self, chosen: &mut Vec<Arc<Seat>>) -> Outcome {
        let Some(item) = self.items.get(chosen.len()) else { return self.divided(chosen) };
        let choice = self.items.iter().any(|i| i.seats.len() > 1);
        let mut outcome = Outcome::Impossible;
        for seat in &item.seats {
            chosen.push(Arc::clone(seat));
            let mut glance = GLANCE.min(*self.work);
            let given = glance;
            let refuted = choice
                && chosen.len() > 1
                && chosen.len() < self.items.len()
                && search(chosen, self.items, self.gap, &mut glance) == Outcome::Impossible;
            *self.work -= given - glance;
            let found = if refuted { Outcome::Impossible } else { self.seated(chosen) };
            chosen.pop();
            match found {
                Outcome::Impossible => {}
                Outcome::Possible => return Outcome::Possible,
                Outcome::Spent => outcome = Outcome::Spent,
            }
            if *self.work == 0 || (outcome == Outcome::Spent && !self.divide) {
                return Outcome::Spent;
            }
        }
        outcome
    }

    /// With all in their seats: where they have room, the widest range of turns is halved.
    fn divided(&mut self, chosen: &mut Vec<Arc<Seat>>) -> Outcome {
        let found = search(chosen, self.items, self.gap, self.work);
        if found != Outcome::Possible {
            return found;
        }
        let wide = |k: &usize| chosen[*k].range.map_or(0.0, |r| r.1);
        let widest = (0..chosen.len())
            .filter(|&k| chosen[k].halves().is_some())
            .max_by(|a, b| wide(a).total_cmp(&wide(b)).then(b.cmp(a)));
        let Some(k) = widest else { return Outcome::Possible };
        if !self.divide {
            return Outcome::Spent;
        }
        let whole = Arc::clone(&chosen[k]);
        for range in whole.halves().into_iter().flatten() {
            let Some(seat) = (self.within)(k, range, self.work) else { continue };
            chosen[k] = seat;
            let found = self.divided(chosen);
            if found != Outcome::Impossible {
                chosen[k] = whole;
                return found;
            }
        }
        chosen[k] = whole;
        Outcome::Impossible
    }
}

/// The search over orders of bodies in their seats.
fn search(seats: &[Arc<Seat>], items: &[Item], gap: f64, work: &mut u64) -> Outcome {
    Search { seats, bars: Vec::new(), work }.run(items, gap)
}

struct Search<'w> {
    seats: &'w [Arc<Seat>],
    bars: Vec<Bar>,
    work: &'w mut u64,
}

impl Search<'_> {
    fn run(&mut self, items: &[Item], gap: f64) -> Outcome {
        let ranges: Vec<Range> =
            self.seats.iter().map(|s| [s.reach.min.x, s.reach.max.x, s.reach.min.y, s.reach.max.y]).collect();
        let mut pairs = Vec::new();
        for (j, b) in self.seats.iter().enumerate() {
            for (i, a) in self.seats[..j].iter().enumerate() {
                for ra in &a.cover {
                    for rb in &b.cover {
                        pairs.push(pair(i, ra, j, rb, gap));
                    }
                }
            }
        }
        // Equal bodies in order from left to right.
        for j in 1..self.seats.len() {
            if items[j].seats.len() == 1
                && self.seats[j].range.is_none()
                && let Some(i) = (0..j).rev().find(|&i| items[i].kind == items[j].kind)
            {
                self.bars.push(Bar::plain(i, j, 0, 0.0));
            }
        }
        self.dig(ranges, pairs)
    }

    fn dig(&mut self, mut at: Vec<Range>, mut pairs: Vec<Pair>) -> Outcome {
        let mark = self.bars.len();
        let outcome = self.dig_on(&mut at, &mut pairs);
        self.bars.truncate(mark);
        outcome
    }

    fn dig_on(&mut self, at: &mut [Range], pairs: &mut Vec<Pair>) -> Outcome {
        let next = loop {
            let cost = 1 + (self.bars.len() + pairs.len()) as u64 / 16;
            if *self.work < cost {
                *self.work = 0;
                return Outcome::Spent;
            }
            *self.work -= cost;
            if !self.narrow(at) {
                return Outcome::Impossible;
            }
            let mut forced = false;
            let mut next: Option<(usize, f64, usize)> = None;
            let mut k = 0;
            while k < pairs.len() {
                let mut open = 0;
                let mut last = 0;
                let mut play = 0.0;
                let mut parted = false;
                for (d, bar) in pairs[k].bars.iter().enumerate() {
                    let room = room(at, bar);
                    if room >= -HAIR {
                        open += 1;
                        last = d;
                        play += room;
                    }
                    let (from, to) = (at[bar.from], at[bar.to]);
                    parted |= from[2 * bar.axis + 1] + bar.length(at) <= to[2 * bar.axis];
                }
                match open {
                    _ if parted => {
                        pairs.swap_remove(k);
                    }
                    0 => return Outcome::Impossible,
                    1 => {
                        self.bars.push(pairs[k].bars[last]);
                        pairs.swap_remove(k);
                        forced = true;
                    }
                    _ => {
                        if next.is_none_or(|(o, p, _)| open < o || (open == o && play < p)) {
                            next = Some((open, play, k));
                        }
                        k += 1;
                    }
                }
            }
            if !forced {
                break next;
            }
        };
        let Some((_, _, k)) = next else { return Outcome::Possible };
        let pair = pairs.swap_remove(k);
        let mut bars: Vec<(f64, Bar)> = pair.bars.iter().map(|b| (room(at, b), *b)).filter(|b| b.0 >= -HAIR).collect();
        bars.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, bar) in bars {
            let mark = self.bars.len();
            self.bars.push(bar);
            let outcome = self.dig(at.to_vec(), pairs.clone());
            self.bars.truncate(mark);
            if outcome != Outcome::Impossible {
                return outcome;
            }
            // From here on this bar does not hold.
            self.bars.push(Bar::plain(bar.to, bar.from, bar.axis, -bar.least));
        }
        Outcome::Impossible
    }

    /// Narrows the ranges by bars and places until little changes; false if one is empty.
    fn narrow(&self, at: &mut [Range]) -> bool {
        for _ in 0..30 {
            let mut moved = 0.0f64;
            for bar in &self.bars {
                let (low, high) = (2 * bar.axis, 2 * bar.axis + 1);
                let length = bar.length(at);
                let least = at[bar.from][low] + length;
                if least > at[bar.to][low] {
                    moved = moved.max(least - at[bar.to][low]);
                    at[bar.to][low] = least;
                }
                let most = at[bar.to][high] - length;
                if most < at[bar.from][high] {
                    moved = moved.max(at[bar.from][high] - most);
                    at[bar.from][high] = most;
                }
            }
            for (range, seat) in at.iter_mut().zip(self.seats) {
                if range[0] > range[1] + HAIR || range[2] > range[3] + HAIR {
                    return false;
                }
                if !seat.boxed {
                    let Some(b) = box_within(&seat.places, range) else { return false };
                    let new = [
                        range[0].max(b.min.x - HAIR),
                        range[1].min(b.max.x + HAIR),
                        range[2].max(b.min.y - HAIR),
                        range[3].min(b.max.y + HAIR),
                    ];
                    for (old, new) in range.iter_mut().zip(new) {
                        moved = moved.max((*old - new).abs());
                        *old = new;
                    }
                }
            }
            if moved < 0.05 {
                break;
            }
        }
        true
    }
}

/// By how much the bar could be longer and still hold somewhere in the ranges.
fn room(at: &[Range], bar: &Bar) -> f64 {
    at[bar.to][2 * bar.axis + 1] - at[bar.from][2 * bar.axis] - bar.length(at)
}

/// The four ways to part rectangle `a` of body `i` from `b` of body `j`.
fn pair(i: usize, a: &BBox, j: usize, b: &BBox, gap: f64) -> Pair {
    let near = gap * std::f64::consts::FRAC_1_SQRT_2;
    let low = [[a.min.x, a.min.y], [b.min.x, b.min.y]];
    let high = [[a.max.x, a.max.y], [b.max.x, b.max.y]];
    let bar = |first: usize, axis: usize| {
        let (second, other) = (1 - first, 1 - axis);
        let ends = [i, j];
        Bar {
            from: ends[first],
            to: ends[second],
            axis,
            least: high[first][axis] - low[second][axis] + near,
            facing: gap - near,
            across: [low[first][other] - high[second][other], high[first][other] - low[second][other]],
        }
    };
    Pair { bars: [bar(0, 0), bar(1, 0), bar(0, 1), bar(1, 1)] }
}

/// Box of the part of the places that lies in the ranges, grown by a hair; `None` if there is none.
fn box_within(places: &[Point], range: &Range) -> Option<BBox> {
    let mut left = sum::clipped(places, pt(-1.0, 0.0), -(range[0] - HAIR));
    for (n, limit) in [(pt(1.0, 0.0), range[1]), (pt(0.0, -1.0), -range[2]), (pt(0.0, 1.0), range[3])] {
        left = sum::clipped(&left, n, limit + HAIR);
    }
    (!left.is_empty()).then(|| BBox::of(&left))
}
