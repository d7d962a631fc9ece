//! All bodies moved at once, and exactly: the little overlaps that the separation leaves are closed, a strip is shortened, the
//! margin to flaws widened.
//!
//! Turns are fixed. For every two bodies that are near one another, free space round their relative shift is narrowed to a
//! convex cell ([`crate::geom::cell`]); then all is linear, and a linear programme finds the best shifts. At these, new cells
//! are chosen, and so on (compaction as by Z. Li and V. Milenkovic, "Compaction and separation algorithms for non-convex
//! polygons and their applications", European Journal of Operational Research 84, 1995).

use super::lp::{Outcome, Programme};
use super::shapes::turned_back;
use crate::geom::cell::Obstacle;
use crate::geom::{BBox, Point, pt};

/// Something that a body must keep out of: what a body that moves too forbids it, or what never moves.
#[derive(Clone, Copy, Debug)]
pub struct Bond<'p> {
    /// The other body; `None`: nothing that moves.
    pub from: Option<usize>,
    /// The body.
    pub body: usize,
    /// What its shift, less that of the other body, must keep out of.
    pub obstacle: &'p Obstacle,
    /// By how many quarters that difference is turned back first.
    pub quarters: u8,
    /// True if this only says how far a flaw is, which is to be as far as can be; whether that is far enough, another bond says.
    pub flaw: bool,
}

/// What to strive for.
#[derive(Clone, Debug, PartialEq)]
pub enum Goal {
    /// Moves as small as can be.
    Still,
    /// The least greatest x; by body: how far it reaches beyond its shift, mm.
    Shorten(Vec<f64>),
    /// The widest distance to flaws, up to so many mm.
    Widen(f64),
}

/// Bodies and all that keeps them apart.
#[derive(Clone, Debug)]
pub struct Scene<'p> {
    /// By body: where it lies.
    pub shifts: Vec<Point>,
    /// By body: a box that its shift must stay in.
    pub boxes: Vec<BBox>,
    /// Everything else that they must keep out of.
    pub bonds: Vec<Bond<'p>>,
    /// Steps of work so far, each about a multiplication.
    pub work: u64,
}

/// How far, and how exactly.
#[derive(Clone, Copy, Debug)]
pub struct Range {
    /// How far a body may move along each axis at a time, mm.
    pub reach: f64,
    /// How deep overlaps may be at the start, mm.
    pub deep: f64,
    /// By how much a body may stick into each wall round it, mm; less than 0: how far it is to keep off.
    pub give: f64,
    /// By how much it may stick into what it must keep out of at the end, mm. In a corner between two walls, that is more than
    /// into either wall.
    pub most: f64,
}

/// Exchanges of a linear programme, at most.
pub const STEPS: usize = 4000;

/// Cost of a move of a mm, where another goal counts 1 a mm: many small moves must not outweigh it.
pub const MOVE: f64 = 1e-4;

/// Cost of an overlap of a mm.
pub const OVERLAP: f64 = 100.0;

/// Rounding of a solution, mm.
const ROUNDING: f64 = 1e-6;

/// What a move by the four variables from `first` on (right, left, up, down) does along a direction.
pub fn moves(first: usize, along: Point) -> impl Iterator<Item = (usize, f64)> {
    [(first, along.x), (first + 1, -along.x), (first + 2, along.y), (first + 3, -along.y)].into_iter()
}

impl Scene<'_> {
    fn between(&self, bond: &Bond<'_>, shifts: &[Point]) -> Point {
        let from = bond.from.map_or(pt(0.0, 0.0), |i| shifts[i]);
        turned_back(shifts[bond.body] - from, bond.quarters)
    }

    /// The deepest that anything sticks into what it must keep out of, mm.
    #[must_use]
    pub fn overlap(&self, shifts: &[Point]) -> f64 {
        let bonds = self.bonds.iter().filter(|b| !b.flaw);
        bonds.map(|b| b.obstacle.depth(self.between(b, shifts))).fold(0.0, f64::max)
    }

    /// The least distance of a body to what its flaws forbid it, mm; infinite if there is none within `reach`.
    #[must_use]
    pub fn margin(&self, shifts: &[Point], reach: f64) -> f64 {
        let flaws = self.bonds.iter().filter(|b| b.flaw);
        flaws.map(|b| b.obstacle.distance(self.between(b, shifts), reach)).fold(f64::INFINITY, f64::min)
    }

    /// One linear programme: the shifts that are best in the cells of free space round the present ones; `None` if an overlap is
    /// too deep to tell where it should go.
    fn step(&mut self, goal: &Goal, range: &Range, give: f64) -> Option<Vec<Point>> {
        let reach = range.reach;
        let mut lp = Programme::default();
        let move_cost = if *goal == Goal::Still { 1.0 } else { MOVE };
        // By body: right, left, up, down.
        for (s, b) in self.shifts.iter().zip(&self.boxes) {
            for room in [b.max.x - s.x, s.x - b.min.x, b.max.y - s.y, s.y - b.min.y] {
                lp.variable(move_cost, 0.0, room.clamp(0.0, reach));
            }
        }
        let overlap = lp.variable(OVERLAP, 0.0, 2.0 * range.deep + 1.0);
        let mut margin = None;
        let mut work = 3 * self.bonds.len() as u64;
        match goal {
            Goal::Still => {}
            Goal::Shorten(ends) => {
                let now = self.shifts.iter().zip(ends).map(|(s, e)| s.x + e).fold(f64::NEG_INFINITY, f64::max);
                let length = lp.variable(1.0, now - reach, now + reach);
                for (i, (s, e)) in self.shifts.iter().zip(ends).enumerate() {
                    if s.x + e > now - 2.0 * reach {
                        lp.row(vec![(length, 1.0), (4 * i, -1.0), (4 * i + 1, 1.0)], s.x + e);
                    }
                }
            }
            Goal::Widen(most) => {
                let now = self.margin(&self.shifts, most + reach).min(*most);
                let widest = (now + reach).min(*most);
                // What is missing from the widest.
                margin = Some((widest, lp.variable(1.0, 0.0, widest + range.deep)));
            }
        }
        for bond in &self.bonds {
            let at = self.between(bond, &self.shifts);
            let spread = if bond.flaw { margin } else { None };
            let ways = if bond.from.is_some() { 2.0 } else { 1.0 };
            let window = ways * reach + range.deep + spread.map_or(0.0, |m| m.0);
            if bond.obstacle.is_far(at, window) {
                continue;
            }
            let want = if bond.from.is_none() && matches!(goal, Goal::Shorten(_)) {
                turned_back(pt(-1.0, 0.0), bond.quarters)
            } else {
                pt(0.0, 0.0)
            };
            work += 20 * bond.obstacle.sides() as u64;
            let cell = bond.obstacle.cell(at, range.deep, window, want)?;
            for half in cell.halves {
                let short = -half.spare(at) - give + ROUNDING + spread.map_or(0.0, |m| m.0);
                // Too far off to matter.
                if short < -ways * reach * std::f64::consts::SQRT_2 {
                    continue;
                }
                let normal = turned_back(half.normal, (4 - bond.quarters) % 4);
                let mut terms: Vec<(usize, f64)> = moves(4 * bond.body, normal).collect();
                if let Some(from) = bond.from {
                    terms.extend(moves(4 * from, -normal));
                }
                terms.push((overlap, 1.0));
                if let Some((_, missing)) = spread {
                    terms.push((missing, 1.0));
                }
                lp.row(terms, short);
            }
        }
        let (outcome, spent) = lp.solve(STEPS);
        self.work += work + spent;
        let Outcome::Solved(x) = outcome else { return None };
        let to = self.shifts.iter().enumerate().map(|(i, s)| {
            let b = &self.boxes[i];
            let p = *s + pt(x[4 * i] - x[4 * i + 1], x[4 * i + 2] - x[4 * i + 3]);
            pt(p.x.max(b.min.x).min(b.max.x), p.y.max(b.min.y).min(b.max.y))
        });
        Some(to.collect())
    }

    /// What the goal is worth at these shifts; less is better.
    fn value(&self, goal: &Goal, shifts: &[Point], range: &Range) -> f64 {
        match goal {
            Goal::Still => 0.0,
            Goal::Shorten(ends) => shifts.iter().zip(ends).map(|(s, e)| s.x + e).fold(f64::NEG_INFINITY, f64::max),
            Goal::Widen(most) => -self.margin(shifts, most + range.reach).min(*most),
        }
    }

    /// Moves everything towards the goal, in at most so many rounds, as long as each gains at least `worth` (mm). True if
    /// nothing sticks into anything by more than `range.most` then; if not so, the shifts are as they were.
    pub fn strive(&mut self, goal: &Goal, range: &Range, rounds: usize, worth: f64) -> bool {
        let before = self.shifts.clone();
        let clean = |overlap: f64| overlap <= range.most + 2.0 * ROUNDING;
        let mut overlap = self.overlap(&self.shifts);
        let mut best: Option<(f64, Vec<Point>)> = (clean(overlap) && *goal != Goal::Still)
            .then(|| (self.value(goal, &self.shifts, range), self.shifts.clone()));
        let mut give = range.give;
        for _ in 0..rounds {
            let Some(to) = self.step(goal, range, give) else { break };
            let then = self.overlap(&to);
            let value = self.value(goal, &to, range);
            let gained = best.as_ref().is_none_or(|b| value < b.0 - worth);
            if clean(then) {
                if best.as_ref().is_none_or(|b| value < b.0) {
                    best = Some((value, to.clone()));
                }
                self.shifts = to;
                if !gained {
                    break;
                }
            } else if give > 0.01 * range.most && then < 10.0 * range.most && gained {
                // In a sharp corner: once more from here, with less.
                give *= 0.25;
            } else if best.is_none() && then < 0.9 * overlap {
                // Not there yet: on, as long as it gets less.
                overlap = then;
                self.shifts = to;
            } else {
                break;
            }
        }
        let done = best.is_some();
        self.shifts = best.map_or(before, |b| b.1);
        done
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Region, Ring, sum};
    use proptest::prelude::*;

    const RANGE: Range = Range { reach: 20.0, deep: 0.6, give: 0.0, most: 0.0 };
    const ANYWHERE: BBox = BBox { min: pt(-1e5, -1e5), max: pt(1e5, 1e5) };

    fn rectangle(w: f64, h: f64) -> Region {
        Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(w, h) }).to_region()
    }

    /// What rectangles of these sizes forbid one another, pair by pair.
    fn obstacles(sizes: &[(f64, f64)]) -> Vec<(usize, usize, Obstacle)> {
        let mut out = Vec::new();
        for (j, b) in sizes.iter().enumerate() {
            for (i, a) in sizes[..j].iter().enumerate() {
                let hits = sum::hits_rings(&rectangle(a.0, a.1), &rectangle(b.0, b.1));
                out.push((i, j, Obstacle::region(&hits)));
            }
        }
        out
    }

    fn bonds(obstacles: &[(usize, usize, Obstacle)]) -> Vec<Bond<'_>> {
        let bond = |(i, j, obstacle)| Bond { from: Some(i), body: j, obstacle, quarters: 0, flaw: false };
        obstacles.iter().map(|(i, j, o)| bond((*i, *j, o))).collect()
    }

    fn moved(from: &[Point], to: &[Point]) -> f64 {
        from.iter().zip(to).map(|(a, b)| (a.x - b.x).abs() + (a.y - b.y).abs()).sum()
    }

    /// The least sum of moves along one axis, where `after` says by how much one body must lie after another: every value that
    /// a body may have at an optimum, which is where it is or where another one is, plus or minus what lies between.
    fn axis(at: &[f64], sizes: &[f64], after: &[(usize, usize)]) -> f64 {
        let mut offsets = vec![0.0];
        for (k, &u) in sizes.iter().enumerate() {
            offsets.extend([u, -u]);
            offsets.extend(sizes[..k].iter().flat_map(|&v| [u + v, u - v, v - u, -u - v]));
        }
        let values: Vec<f64> = at.iter().flat_map(|a| offsets.iter().map(move |o| a + o)).collect();
        let near = |k: usize| values.iter().copied().filter(move |v| (v - at[k]).abs() < 3.0).collect::<Vec<f64>>();
        let mut best = f64::INFINITY;
        for &a in &near(0) {
            for &b in &near(1) {
                for &c in &near(2) {
                    let x = [a, b, c];
                    if after.iter().all(|&(i, j)| x[j] >= x[i] + sizes[i] - 1e-9) {
                        best = best.min((0..3).map(|k| (x[k] - at[k]).abs()).sum());
                    }
                }
            }
        }
        best
    }

    /// The least sum of moves that parts three rectangles: left of, right of, below or above, for every pair.
    fn plain(sizes: &[(f64, f64)], shifts: &[Point]) -> f64 {
        let pairs = [(0, 1), (0, 2), (1, 2)];
        let widths: Vec<f64> = sizes.iter().map(|s| s.0).collect();
        let heights: Vec<f64> = sizes.iter().map(|s| s.1).collect();
        let (xs, ys): (Vec<f64>, Vec<f64>) = shifts.iter().map(|s| (s.x, s.y)).unzip();
        let mut best = f64::INFINITY;
        for choice in 0..64usize {
            let (mut in_x, mut in_y) = (Vec::new(), Vec::new());
            for (k, &(i, j)) in pairs.iter().enumerate() {
                match choice >> (2 * k) & 3 {
                    0 => in_x.push((i, j)),
                    1 => in_x.push((j, i)),
                    2 => in_y.push((i, j)),
                    _ => in_y.push((j, i)),
                }
            }
            // Relations that are far from true cost far too much.
            let off = |l: &[(usize, usize)], at: &[f64], sizes: &[f64]| {
                l.iter().any(|&(i, j)| at[j] < at[i] + sizes[i] - 2.0)
            };
            if !off(&in_x, &xs, &widths) && !off(&in_y, &ys, &heights) {
                best = best.min(axis(&xs, &widths, &in_x) + axis(&ys, &heights, &in_y));
            }
        }
        best
    }

    proptest! {
        #[test]
        fn two_overlapping_rectangles_part_by_the_least_move(
            sizes in proptest::collection::vec((50.0f64..300.0, 50.0f64..300.0), 2),
            (u, v) in (0.0f64..1.0, 0.0f64..1.0),
            depth in 0.01f64..0.5,
            side in 0..4,
        ) {
            let (a, b) = (sizes[0], sizes[1]);
            let along = |from: f64, to: f64, t: f64| -to + depth + (from + to - 2.0 * depth) * t;
            let by = match side {
                0 => pt(a.0 - depth, along(a.1, b.1, v)),
                1 => pt(depth - b.0, along(a.1, b.1, v)),
                2 => pt(along(a.0, b.0, u), a.1 - depth),
                _ => pt(along(a.0, b.0, u), depth - b.1),
            };
            let all = obstacles(&sizes);
            let from = vec![pt(7.0, 3.0), pt(7.0, 3.0) + by];
            let mut scene = Scene { shifts: from.clone(), boxes: vec![ANYWHERE; 2], bonds: bonds(&all), work: 0 };
            prop_assert!(scene.strive(&Goal::Still, &RANGE, 4, 0.0));
            prop_assert!(scene.overlap(&scene.shifts) <= 1e-5);
            let moves = moved(&from, &scene.shifts);
            prop_assert!((moves - depth).abs() < 1e-3, "{moves} for {depth}");
        }

        #[test]
        fn three_rectangles_part_by_hardly_more_than_the_least_moves(
            sizes in proptest::collection::vec((50.0f64..300.0, 50.0f64..300.0), 3),
            (u, v) in (0.0f64..1.0, 0.0f64..1.0),
            (p, q) in (0.05f64..0.4, 0.05f64..0.4),
        ) {
            // The second to the right of the first, the third upon both, or beyond one of them.
            let (a, b, c) = (sizes[0], sizes[1], sizes[2]);
            let second = pt(a.0 - p, -b.1 + 1.0 + (a.1 + b.1 - 2.0) * u);
            let third = pt(-c.0 + 1.0 + (a.0 + b.0 + c.0 - 2.0) * v, a.1.max(second.y + b.1) - q);
            let from = vec![pt(0.0, 0.0), second, third];
            let all = obstacles(&sizes);
            let mut scene = Scene { shifts: from.clone(), boxes: vec![ANYWHERE; 3], bonds: bonds(&all), work: 0 };
            prop_assert!(scene.strive(&Goal::Still, &RANGE, 4, 0.0));
            prop_assert!(scene.overlap(&scene.shifts) <= 1e-5);
            let (moves, least) = (moved(&from, &scene.shifts), plain(&sizes, &from));
            prop_assert!(moves >= least - 1e-3, "{moves} is less than {least}");
            prop_assert!(moves <= 1.5 * least + 1e-3, "{moves}, but {least} would do");
        }
    }

    #[test]
    fn an_exact_fit_is_reached_and_no_less() {
        // Two of 650 with a gap of 6 in exactly 1306, started with overlaps.
        let forbidden = Obstacle::region(&sum::hits_rings(&rectangle(656.0, 300.0), &rectangle(656.0, 300.0)));
        for (room, fits) in [(1306.0, true), (1305.99, false)] {
            let inside = BBox { min: pt(0.0, 0.0), max: pt(room - 650.0, 10.0) };
            let bond = Bond { from: Some(0), body: 1, obstacle: &forbidden, quarters: 0, flaw: false };
            let mut scene = Scene {
                shifts: vec![pt(0.2, 1.0), pt(655.7, 4.0)],
                boxes: vec![inside; 2],
                bonds: vec![bond],
                work: 0,
            };
            assert_eq!(scene.strive(&Goal::Still, &Range { give: 5e-4, most: 5e-4, ..RANGE }, 4, 0.0), fits);
            if fits {
                assert!(scene.shifts[0].x < 1e-3 && scene.shifts[1].x > 656.0 - 1e-3, "{:?}", scene.shifts);
            } else {
                assert_eq!(scene.shifts, vec![pt(0.2, 1.0), pt(655.7, 4.0)]);
            }
        }
    }

    #[test]
    fn a_row_is_pushed_together() {
        let sizes = [(200.0, 100.0), (150.0, 80.0), (170.0, 90.0)];
        let all = obstacles(&sizes);
        let boxes: Vec<BBox> = sizes.iter().map(|s| BBox { min: pt(0.0, 0.0), max: pt(1e4, 110.0 - s.1) }).collect();
        let mut scene =
            Scene { shifts: vec![pt(10.0, 0.0), pt(260.0, 5.0), pt(470.0, 10.0)], boxes, bonds: bonds(&all), work: 0 };
        let ends = sizes.iter().map(|s| s.0).collect();
        assert!(scene.strive(&Goal::Shorten(ends), &RANGE, 20, 1e-6));
        assert!((scene.shifts[2].x + 170.0 - 520.0).abs() < 1e-4, "{:?}", scene.shifts);
    }

    #[test]
    fn between_two_flaws_the_middle_is_widest() {
        // A body 100 wide between flaws at x < 0 and x > 400: 150 on either side, whatever y.
        let flaws: Vec<Obstacle> = [(-500.0, 0.0), (400.0, 900.0)]
            .into_iter()
            .map(|(x0, x1)| {
                let flaw = Ring::rectangle(BBox { min: pt(x0, -1000.0), max: pt(x1, 1000.0) }).to_region();
                Obstacle::region(&sum::hits_rings(&flaw, &rectangle(100.0, 60.0)))
            })
            .collect();
        let bonds = flaws.iter().map(|o| Bond { from: None, body: 0, obstacle: o, quarters: 0, flaw: true }).collect();
        let mut scene = Scene { shifts: vec![pt(3.0, 5.0)], boxes: vec![ANYWHERE], bonds, work: 0 };
        assert!(scene.strive(&Goal::Widen(200.0), &Range { reach: 60.0, ..RANGE }, 20, 1e-4));
        assert!((scene.shifts[0].x - 150.0).abs() < 1e-3, "{:?}", scene.shifts);
        assert!((scene.margin(&scene.shifts, 300.0) - 150.0).abs() < 1e-3);
    }
}
