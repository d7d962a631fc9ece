//! One slab with an open end: bodies on a strip of fixed width and least length.
//!
//! The same machinery as for slabs, on the problem for which published instances and records exist.

use std::sync::Arc;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::legal::{Bond, Goal, Range, Scene};
use super::separate::{Arena, Free, Outcome, Patience, Place, Separator};
use super::shapes::{Pair, Shape, Shapes};
use crate::geom::{BBox, Point, Pose, Ring, pt, sum, tol};

/// One kind of item on the strip.
#[derive(Clone, Debug)]
pub struct Kind {
    /// Outline, mm, about its own origin.
    pub outline: Ring,
    /// Turns that are allowed, degrees.
    pub turns: Vec<f64>,
    /// How many.
    pub count: usize,
}

/// What is asked: `0 <= y <= width`, `x >= 0`, least greatest x.
#[derive(Clone, Debug)]
pub struct Strip {
    /// Width, mm.
    pub width: f64,
    /// What must lie on it.
    pub kinds: Vec<Kind>,
}

/// One item on the strip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Index of its kind.
    pub kind: usize,
    /// Degrees.
    pub turn: f64,
    /// mm.
    pub shift: Point,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Greatest x of any item, mm.
    pub length: f64,
    /// All items.
    pub laid: Vec<Laid>,
    /// Places that were evaluated.
    pub evaluations: u64,
}

/// Chains that work at the same time and tell one another of shorter layouts. Part of the question, not of the machine.
const CHAINS: usize = 2;

/// Evaluations of a chain in a round.
const ROUND: u64 = 200_000;

struct Chain<'s, 'a> {
    strip: &'s Strip,
    shapes: &'s Shapes<'a>,
    bodies: Arc<Vec<Vec<usize>>>,
    rng: ChaCha8Rng,
    /// Shortest layout without overlaps.
    best: Option<(f64, Vec<Place>)>,
    length: f64,
    shrink: f64,
    separator: Separator<'s, 'a>,
    passes: u32,
    evaluations: u64,
    /// Layouts at the present length that could not be separated, least loss first.
    pool: Vec<(f64, Vec<Place>)>,
    patience: Patience,
    exploring: bool,
    /// No layout is shorter: the area of the items asks for this length.
    floor: f64,
    /// Overlaps up to this (mm) are left to the linear programmes, once they are worth their time.
    leave: f64,
    /// Time of linear programmes so far, in evaluations.
    exact: u64,
}

/// A strip longer than the area of the items asks for by no more than this share is as short as can be.
const PERFECT: f64 = 1e-6;

/// Share of the smallest side of an item that overlaps may have to be left to the linear programmes.
const LEAVE: f64 = 1e-3;

/// Share of the time for linear programmes, about.
const EXACT: f64 = 0.08;

/// Linear programmes in a row, at most.
const ROUNDS: usize = 12;

/// Steps of a linear programme that take about as long as an evaluation.
const WORK: u64 = 400;

/// Largest and least share by which the strip is shortened at a time.
const SHRINK: (f64, f64) = (0.05, 0.001);

impl<'s, 'a> Chain<'s, 'a> {
    fn arena(
        strip: &Strip,
        shapes: &'s Shapes<'a>,
        bodies: &Arc<Vec<Vec<usize>>>,
        length: f64,
        leave: f64,
    ) -> Arena<'s, 'a> {
        let free = shapes
            .list()
            .iter()
            .map(|s| {
                let b = BBox { min: -s.reach.min, max: pt(length, strip.width) - s.reach.max };
                if b.max.x < b.min.x || b.max.y < b.min.y { Free::Nowhere } else { Free::Box(b) }
            })
            .collect();
        Arena { shapes, bodies: Arc::clone(bodies), free: Arc::new(free), leave }
    }

    fn start(
        strip: &'s Strip,
        shapes: &'s Shapes<'a>,
        bodies: &Arc<Vec<Vec<usize>>>,
        length: f64,
        floor: f64,
        mut rng: ChaCha8Rng,
    ) -> Self {
        let arena = Self::arena(strip, shapes, bodies, length, tol::LENIENCE);
        let places = scattered(&arena, &mut rng);
        let separator = Separator::new(arena, places);
        let least = shapes.list().iter().map(|s| s.reach.width().min(s.reach.height())).fold(f64::INFINITY, f64::min);
        Self {
            strip,
            shapes,
            bodies: Arc::clone(bodies),
            rng,
            best: None,
            length,
            shrink: SHRINK.0,
            separator,
            passes: 0,
            evaluations: 0,
            pool: Vec::new(),
            patience: Patience { passes: 200, strikes: 3 },
            exploring: false,
            floor,
            leave: (LEAVE * least).max(tol::LENIENCE),
            exact: 0,
        }
    }

    /// Works for a number of evaluations.
    fn work(&mut self, evaluations: u64) {
        let end = self.evaluations + evaluations;
        while self.evaluations < end {
            let before = self.separator.evaluations;
            let outcome = self.separator.pass(&self.patience, &mut self.rng);
            self.evaluations += self.separator.evaluations - before + 1;
            self.passes += 1;
            match outcome {
                Outcome::Open => {}
                Outcome::Clear => self.cleared(),
                Outcome::Stuck => self.failed(),
            }
        }
    }

    fn used(&self, places: &[Place]) -> f64 {
        places.iter().map(|p| p.shift.x + self.shapes.list()[p.shape].reach.max.x).fold(0.0, f64::max)
    }

    /// No overlaps but those that were left: closes them and pushes everything together.
    fn cleared(&mut self) {
        let places = self.separator.places().to_vec();
        let left = self.separator.leave() > tol::LENIENCE;
        let exact = if left || self.has_time() { self.exactly(&places) } else { None };
        match exact {
            Some(places) if !left || self.best.as_ref().is_none_or(|b| self.used(&places) < b.0) => {
                self.succeeded(places);
            }
            // What was left cannot be closed: on without leave.
            _ if left => self.separator.set_leave(tol::LENIENCE),
            _ => self.succeeded(places),
        }
    }

    /// True if linear programmes have not had their share of the time yet.
    fn has_time(&self) -> bool {
        (self.exact as f64) < EXACT * self.evaluations as f64
    }

    /// The layout without overlaps and pushed together, if that is found.
    fn exactly(&mut self, places: &[Place]) -> Option<Vec<Place>> {
        let list = self.shapes.list();
        let n = places.len();
        let mut bonds = Vec::with_capacity(n * n / 2);
        for j in 0..n {
            for i in 0..j {
                let (obstacle, quarters) = self.shapes.obstacle(places[i].shape, places[j].shape);
                bonds.push(Bond { from: Some(i), body: j, obstacle, quarters, flaw: false });
            }
        }
        let boxes = places
            .iter()
            .map(|p| {
                let b = list[p.shape].reach;
                BBox { min: -b.min, max: pt(f64::MAX, self.strip.width - b.max.y) }
            })
            .collect();
        let ends = places.iter().map(|p| list[p.shape].reach.max.x).collect();
        let mut scene = Scene { shifts: places.iter().map(|p| p.shift).collect(), boxes, bonds, work: 0 };
        let range =
            Range { reach: 40.0 * self.leave, deep: 2.0 * self.leave, give: 0.5 * tol::LENIENCE, most: tol::LENIENCE };
        let done = scene.strive(&Goal::Shorten(ends), &range, ROUNDS, self.length * 1e-5);
        let work = scene.work / WORK;
        self.exact += work;
        self.evaluations += work;
        let place = |(p, &shift): (&Place, &Point)| Place { shift, ..*p };
        done.then(|| places.iter().zip(&scene.shifts).map(place).collect())
    }

    fn succeeded(&mut self, places: Vec<Place>) {
        let used = self.used(&places);
        if self.best.as_ref().is_none_or(|b| used < b.0) {
            self.best = Some((used, places));
        }
        if self.passes > 40 {
            self.shrink = (self.shrink * 0.5).max(SHRINK.1);
        } else if self.passes < 8 {
            self.shrink = (self.shrink * 1.5).min(SHRINK.0);
        }
        self.pool.clear();
        self.exploring = false;
        self.squeeze();
    }

    /// From the best layout to one on a shorter strip: what lies beyond a random line is pushed back.
    fn squeeze(&mut self) {
        let Some((used, places)) = self.best.clone() else { return };
        let length = (used * (1.0 - self.shrink)).max(self.floor);
        let cut = self.rng.random::<f64>() * used;
        let by = used - length;
        let list = self.shapes.list();
        let places = places
            .into_iter()
            .map(|p| {
                let centre = p.shift.x + list[p.shape].reach.centre().x;
                Place { shift: if centre > cut { p.shift - pt(by, 0.0) } else { p.shift }, ..p }
            })
            .collect();
        self.begin(length, places);
    }

    fn begin(&mut self, length: f64, mut places: Vec<Place>) {
        self.length = length;
        let leave = if self.best.is_some() && self.has_time() { self.leave } else { tol::LENIENCE };
        let arena = Self::arena(self.strip, self.shapes, &self.bodies, length, leave);
        for p in &mut places {
            if let Free::Box(b) = &arena.free[p.shape] {
                p.shift = pt(p.shift.x.clamp(b.min.x, b.max.x), p.shift.y.clamp(b.min.y, b.max.y));
            }
        }
        self.passes = 0;
        self.separator = Separator::new(arena, places);
    }

    fn failed(&mut self) {
        if self.best.is_none() {
            let arena = Self::arena(self.strip, self.shapes, &self.bodies, self.length * 1.2, tol::LENIENCE);
            let places = scattered(&arena, &mut self.rng);
            self.begin(self.length * 1.2, places);
            return;
        }
        if self.shrink > SHRINK.1 && !self.exploring {
            self.shrink = (self.shrink * 0.5).max(SHRINK.1);
            self.squeeze();
            return;
        }
        self.exploring = true;
        let (places, loss) = self.separator.best();
        let at = self.pool.partition_point(|p| p.0 <= loss);
        self.pool.insert(at, (loss, places.to_vec()));
        self.pool.truncate(20);
        // Mostly the best of the pool: half a normal deviate of width a quarter.
        let normal: f64 = (0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0;
        let k = ((normal * 0.25).abs() * self.pool.len() as f64) as usize;
        let mut places = self.pool[k.min(self.pool.len() - 1)].1.clone();
        self.disrupt(&mut places);
        self.begin(self.length, places);
    }

    /// Exchanges two large items.
    fn disrupt(&mut self, places: &mut [Place]) {
        let list = self.shapes.list();
        let mut large: Vec<usize> = (0..places.len()).collect();
        let hull = |i: usize| list[places[i].shape].hull;
        large.sort_by(|&a, &b| hull(b).total_cmp(&hull(a)).then(a.cmp(&b)));
        let total: f64 = large.iter().map(|&i| hull(i)).sum();
        let mut sum = 0.0;
        let n = large
            .iter()
            .take_while(|&&i| {
                let before = sum;
                sum += hull(i);
                before < 0.75 * total
            })
            .count();
        large.truncate(n.max(2));
        for _ in 0..50 {
            let a = large[self.rng.random_range(0..large.len())];
            let b = large[self.rng.random_range(0..large.len())];
            let (sa, sb) = (list[places[a].shape], list[places[b].shape]);
            if sa.class == sb.class {
                continue;
            }
            let (ca, cb) = (places[a].shift + sa.reach.centre(), places[b].shift + sb.reach.centre());
            places[a].shift = cb - sa.reach.centre();
            places[b].shift = ca - sb.reach.centre();
            return;
        }
        // All of one kind: move one elsewhere.
        let a = large[self.rng.random_range(0..large.len())];
        let b = large[self.rng.random_range(0..large.len())];
        places[a].shift = places[b].shift;
    }
}

/// Every body at a random place where it may lie.
fn scattered(arena: &Arena<'_, '_>, rng: &mut ChaCha8Rng) -> Vec<Place> {
    arena
        .bodies
        .iter()
        .map(|shapes| {
            let open: Vec<usize> = shapes.iter().copied().filter(|&s| !arena.free[s].is_nowhere()).collect();
            let shape = if open.is_empty() { shapes[0] } else { open[rng.random_range(0..open.len())] };
            Place { shape, shift: arena.free[shape].draw(rng).unwrap_or(pt(0.0, 0.0)) }
        })
        .collect()
}

/// Lays everything. `stop` is asked after every round and gets the best length so far.
pub fn pack(
    strip: &Strip,
    seed: u64,
    rounds: Option<u64>,
    stop: &(dyn Fn(Option<f64>, u64) -> bool + Sync),
) -> Option<Layout> {
    let mut list: Vec<Shape> = Vec::new();
    let mut of_kind: Vec<Vec<usize>> = Vec::new();
    for (class, kind) in strip.kinds.iter().enumerate() {
        let mut own = Vec::new();
        for &turn in &kind.turns {
            let turn = turn.rem_euclid(360.0);
            let ring = Pose::new(turn, pt(0.0, 0.0)).ring(&kind.outline);
            let reach = ring.bbox();
            if reach.height() > strip.width + 1e-6 {
                continue;
            }
            own.push(list.len());
            list.push(Shape { class, turn, reach, hull: sum::hull_area(ring.points()) });
        }
        if own.is_empty() {
            return None;
        }
        of_kind.push(own);
    }
    let bodies: Vec<Vec<usize>> =
        strip.kinds.iter().zip(&of_kind).flat_map(|(k, own)| std::iter::repeat_n(own.clone(), k.count)).collect();
    if bodies.is_empty() {
        return None;
    }
    let make = |a: usize, ta: f64, b: usize, tb: f64| {
        let turned = |c: usize, t: f64| Pose::new(t, pt(0.0, 0.0)).ring(&strip.kinds[c].outline).to_region();
        Arc::new(Pair::new(&sum::hits_rings(&turned(a, ta), &turned(b, tb))))
    };
    let shapes = Shapes::new(list, 0.0, Box::new(make));
    (0..shapes.tables()).into_par_iter().for_each(|k| shapes.prepare(k));
    let area: f64 = strip.kinds.iter().map(|k| k.outline.area() * k.count as f64).sum();
    let widest = shapes.list().iter().map(|s| s.reach.width()).fold(0.0, f64::max);
    let bodies = Arc::new(bodies);
    let length = (area / strip.width / 0.45).max(widest);
    let mut chains: Vec<Chain<'_, '_>> = (0..CHAINS)
        .map(|k| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(k as u64);
            Chain::start(strip, &shapes, &bodies, length, area / strip.width, rng)
        })
        .collect();
    let mut round = 0;
    loop {
        chains.par_iter_mut().for_each(|c| c.work(ROUND));
        round += 1;
        let best = (0..CHAINS)
            .filter_map(|k| chains[k].best.as_ref().map(|b| (b.0, k)))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        if let Some((length, k)) = best {
            let shared = chains[k].best.clone();
            let shrink = chains[k].shrink;
            for chain in &mut chains {
                if chain.length >= length * (1.0 - 1e-6) {
                    chain.best.clone_from(&shared);
                    chain.pool.clear();
                    chain.exploring = false;
                    chain.shrink = shrink;
                    chain.squeeze();
                } else if chain.best.as_ref().is_none_or(|b| b.0 > length) {
                    chain.best.clone_from(&shared);
                }
            }
        }
        let evaluations = chains.iter().map(|c| c.evaluations).sum();
        let perfect = best.is_some_and(|b| b.0 <= area / strip.width * (1.0 + PERFECT));
        if stop(best.map(|b| b.0), evaluations) || perfect || rounds.is_some_and(|r| round >= r) {
            let (length, k) = best?;
            let places = chains[k].best.as_ref()?.1.clone();
            let laid = places
                .iter()
                .map(|p| {
                    let s = shapes.list()[p.shape];
                    Laid { kind: s.class, turn: s.turn, shift: p.shift }
                })
                .collect();
            return Some(Layout { length, laid, evaluations });
        }
    }
}
