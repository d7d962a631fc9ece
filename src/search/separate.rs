//! Overlap minimisation: bodies may overlap, and are moved one by one to where they overlap least, until nothing does.
//!
//! Guided local search: every pair of bodies has a weight that grows while they overlap, so that no arrangement with an
//! overlap stays attractive (Umetani and Murakami 2022, arXiv:2104.04525; Gardeyn, Vanden Berghe and Wauters 2025,
//! arXiv:2509.13329, whose scheme of passes, weights and strikes this follows). The measure of an overlap is ours to a
//! degree: the depth of the relative shift in the forbidden region (the least move that parts the two, as in Imamichi,
//! Yagiura and Nagamochi 2009), read from tables. What never moves is no overlap here: a body only ever lies where the
//! slab's outline and flaws allow it.

use std::sync::Arc;

use rand::{Rng, RngExt};

use super::cache::Weigh;
use super::field::Field;
use super::shapes::{Shapes, turned_back};
use crate::geom::{BBox, Point, Region, pt, sum};

/// Where one shape may lie as far as things that never move are concerned.
#[derive(Clone, Debug)]
pub enum Free {
    /// Nowhere.
    Nowhere,
    /// All of a box of shifts.
    Box(BBox),
    /// A region of shifts.
    Region(Box<Sampled>),
    /// On any of several slabs that lie side by side.
    Several(SideBySide),
}

/// Slabs side by side along x: slab `k` begins at `k * pitch`.
#[derive(Clone, Debug)]
pub struct Table {
    /// Distance from one slab's begin to the next one's, mm.
    pub pitch: f64,
    /// What lies up to this (mm) before a slab's begin still belongs to it.
    pub before: f64,
    /// By slab: by how much it was moved.
    pub offsets: Vec<Point>,
}

impl Table {
    /// The slab that a shift belongs to.
    #[must_use]
    pub fn slab_of(&self, p: Point) -> usize {
        (((p.x + self.before) / self.pitch).floor().max(0.0) as usize).min(self.offsets.len().saturating_sub(1))
    }
}

/// Where a shape may lie on slabs that lie side by side.
#[derive(Clone, Debug)]
pub struct SideBySide {
    /// How they lie.
    pub table: Arc<Table>,
    /// By slab: the shifts allowed on it, slab frame.
    pub slabs: Vec<Arc<Free>>,
}

/// A region that random points can be drawn from.
#[derive(Clone, Debug)]
pub struct Sampled {
    field: Field,
    triangles: Vec<[Point; 3]>,
    /// Running sums of their areas.
    areas: Vec<f64>,
}

impl Weigh for Free {
    fn bytes(&self) -> usize {
        match self {
            Self::Nowhere | Self::Box(_) => 0,
            Self::Region(r) => {
                r.field.bytes()
                    + std::mem::size_of_val(r.triangles.as_slice())
                    + std::mem::size_of_val(r.areas.as_slice())
                    + std::mem::size_of::<Sampled>()
            }
            Self::Several(s) => std::mem::size_of_val(s.slabs.as_slice()),
        }
    }
}

impl Free {
    /// From the region of allowed shifts.
    #[must_use]
    pub fn new(region: &Region) -> Self {
        if region.is_empty() {
            return Self::Nowhere;
        }
        let bbox = region.bbox();
        if let [only] = region.polygons.as_slice()
            && only.holes.is_empty()
            && only.outer.points().len() == 4
            && (only.area() - bbox.width() * bbox.height()).abs() <= 1e-9 * only.area()
        {
            return Self::Box(bbox);
        }
        let mut triangles = Vec::new();
        let mut areas = Vec::new();
        let mut total = 0.0;
        for part in sum::convex_parts(region) {
            for k in 1..part.len().saturating_sub(1) {
                let t = [part[0], part[k], part[k + 1]];
                total += 0.5 * (t[1] - t[0]).cross(t[2] - t[0]).abs();
                triangles.push(t);
                areas.push(total);
            }
        }
        if triangles.is_empty() {
            return Self::Nowhere;
        }
        Self::Region(Box::new(Sampled { field: Field::new(region), triangles, areas }))
    }

    /// True if there is no place.
    #[must_use]
    pub fn is_nowhere(&self) -> bool {
        match self {
            Self::Nowhere => true,
            Self::Several(all) => all.slabs.iter().all(|s| s.is_nowhere()),
            _ => false,
        }
    }

    /// How much of it there is, mm².
    fn area(&self) -> f64 {
        match self {
            Self::Nowhere => 0.0,
            Self::Box(b) => b.width() * b.height(),
            Self::Region(r) => r.areas[r.areas.len() - 1],
            Self::Several(all) => all.slabs.iter().map(|s| s.area()).sum(),
        }
    }

    /// A random shift.
    pub fn draw(&self, rng: &mut impl Rng) -> Option<Point> {
        match self {
            Self::Nowhere => None,
            Self::Box(b) => Some(b.min + pt(rng.random::<f64>() * b.width(), rng.random::<f64>() * b.height())),
            Self::Region(r) => {
                let total = r.areas[r.areas.len() - 1];
                let at = rng.random::<f64>() * total;
                let k = r.areas.partition_point(|&a| a < at).min(r.triangles.len() - 1);
                let [a, b, c] = r.triangles[k];
                let (mut u, mut v) = (rng.random::<f64>(), rng.random::<f64>());
                if u + v > 1.0 {
                    (u, v) = (1.0 - u, 1.0 - v);
                }
                Some(a + (b - a) * u + (c - a) * v)
            }
            Self::Several(all) => {
                // By area, but a slab with little room is not forgotten.
                let weight = |f: &Free| if f.is_nowhere() { 0.0 } else { f.area() + 1e4 };
                let total: f64 = all.slabs.iter().map(|s| weight(s)).sum();
                let mut at = rng.random::<f64>() * total;
                for (free, offset) in all.slabs.iter().zip(&all.table.offsets) {
                    at -= weight(free);
                    if at < 0.0 {
                        return free.draw(rng).map(|p| p + *offset);
                    }
                }
                None
            }
        }
    }

    /// The shift itself, or in a box the nearest one that is allowed; `None` if it is not allowed.
    #[must_use]
    pub fn nearest(&self, p: Point) -> Option<Point> {
        match self {
            Self::Nowhere => None,
            Self::Box(b) => Some(pt(p.x.clamp(b.min.x, b.max.x), p.y.clamp(b.min.y, b.max.y))),
            Self::Region(r) => r.field.contains(p).then_some(p),
            Self::Several(all) => {
                let k = all.table.slab_of(p);
                let (free, offset) = (all.slabs.get(k)?, *all.table.offsets.get(k)?);
                free.nearest(p - offset).map(|q| q + offset)
            }
        }
    }
}

/// Where one body lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Its shape.
    pub shape: usize,
    /// mm.
    pub shift: Point,
}

/// What is to be separated.
#[derive(Clone, Debug)]
pub struct Arena<'s, 'a> {
    /// All shapes.
    pub shapes: &'s Shapes<'a>,
    /// By body: the shapes that it may take.
    pub bodies: Arc<Vec<Vec<usize>>>,
    /// By shape: where it may lie.
    pub free: Arc<Vec<Free>>,
    /// Overlaps up to this depth (mm) count as none: an exact method closes them afterwards.
    pub leave: f64,
}

/// How long to try.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// Passes without a better layout until a strike.
    pub passes: u32,
    /// Strikes until the end.
    pub strikes: u32,
}

/// What a pass came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing overlaps any more.
    Clear,
    /// Not yet.
    Open,
    /// Given up; the best layout so far is back in place.
    Stuck,
}

/// Jump of the measure at first contact, as a share of the larger body's size.
const FLOOR: f64 = 0.01;

/// A better layout counts as progress if it is better by this share.
const PROGRESS: f64 = 0.98;

/// One row of the table of neighbours: what the others mean for one body in one shape.
#[derive(Clone, Debug, Default)]
struct Row {
    cx: Vec<f32>,
    cy: Vec<f32>,
    hx: Vec<f32>,
    hy: Vec<f32>,
    /// Factor of the depth, and what is added to the depth first.
    factor: Vec<f32>,
    floor: Vec<f32>,
    shift: Vec<Point>,
    shape: Vec<u32>,
    who: Vec<u32>,
}

impl Row {
    fn clear(&mut self) {
        self.cx.clear();
        self.cy.clear();
        self.hx.clear();
        self.hy.clear();
        self.factor.clear();
        self.floor.clear();
        self.shift.clear();
        self.shape.clear();
        self.who.clear();
    }

    fn push_from(&mut self, other: &Self, k: usize) {
        self.cx.push(other.cx[k]);
        self.cy.push(other.cy[k]);
        self.hx.push(other.hx[k]);
        self.hy.push(other.hy[k]);
        self.factor.push(other.factor[k]);
        self.floor.push(other.floor[k]);
        self.shift.push(other.shift[k]);
        self.shape.push(other.shape[k]);
        self.who.push(other.who[k]);
    }
}

/// A layout with overlaps, and the weights of its pairs.
#[derive(Debug)]
pub struct Separator<'s, 'a> {
    arena: Arena<'s, 'a>,
    places: Vec<Place>,
    weights: Vec<f32>,
    losses: Vec<f32>,
    /// Evaluations of a place so far.
    pub evaluations: u64,
    best: Vec<Place>,
    best_loss: f64,
    start_loss: f64,
    idle: u32,
    strikes: u32,
    rows: Vec<Row>,
    near: Row,
}

impl<'s, 'a> Separator<'s, 'a> {
    /// Starts from a layout, all weights 1. Every body must lie where its shape may.
    #[must_use]
    pub fn new(arena: Arena<'s, 'a>, places: Vec<Place>) -> Self {
        let n = places.len();
        let most = arena.bodies.iter().map(Vec::len).max().unwrap_or(0);
        let mut out = Self {
            arena,
            best: places.clone(),
            places,
            weights: vec![1.0; n * n],
            losses: vec![0.0; n * n],
            evaluations: 0,
            best_loss: f64::INFINITY,
            start_loss: f64::INFINITY,
            idle: 0,
            strikes: 0,
            rows: vec![Row::default(); most],
            near: Row::default(),
        };
        out.measure();
        out.best_loss = out.loss();
        out.start_loss = out.best_loss;
        out
    }

    /// Where the bodies lie.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// The best layout so far and its loss.
    #[must_use]
    pub fn best(&self) -> (&[Place], f64) {
        (&self.best, self.best_loss)
    }

    /// Overlaps up to this depth (mm) count as none.
    #[must_use]
    pub fn leave(&self) -> f64 {
        self.arena.leave
    }

    /// From now on, overlaps up to this depth (mm) count as none.
    pub fn set_leave(&mut self, leave: f64) {
        self.arena.leave = leave;
        self.measure();
        self.best.clone_from(&self.places);
        self.best_loss = self.loss();
        self.start_loss = self.best_loss;
        self.idle = 0;
    }

    /// Sum of all losses, without weights.
    #[must_use]
    pub fn loss(&self) -> f64 {
        let n = self.places.len();
        (0..n).map(|i| self.losses[i * n + i + 1..(i + 1) * n].iter().map(|&l| f64::from(l)).sum::<f64>()).sum()
    }

    fn scale(&self, a: usize, b: usize) -> (f64, f64) {
        let list = self.arena.shapes.list();
        let (a, b) = (&list[a], &list[b]);
        let size = |r: &BBox| r.width().hypot(r.height());
        ((a.hull * b.hull).sqrt().sqrt(), FLOOR * size(&a.reach).max(size(&b.reach)))
    }

    fn pair_loss(&self, i: usize, j: usize) -> f32 {
        let (a, b) = (self.places[i], self.places[j]);
        match self.arena.shapes.depth(a.shape, b.shape, b.shift - a.shift) {
            Some(depth) if depth > self.arena.leave => {
                let (factor, floor) = self.scale(a.shape, b.shape);
                ((depth + floor) * factor) as f32
            }
            _ => 0.0,
        }
    }

    fn measure(&mut self) {
        let n = self.places.len();
        for i in 0..n {
            for j in i + 1..n {
                let loss = self.pair_loss(i, j);
                self.losses[i * n + j] = loss;
                self.losses[j * n + i] = loss;
            }
        }
    }

    /// One pass over the bodies that overlap something, then new weights.
    pub fn pass(&mut self, patience: &Patience, rng: &mut impl Rng) -> Outcome {
        let n = self.places.len();
        let mut order: Vec<usize> = (0..n).filter(|&i| self.overlaps(i)).collect();
        for k in (1..order.len()).rev() {
            order.swap(k, rng.random_range(0..=k));
        }
        for i in order {
            if self.overlaps(i) {
                self.move_body(i, rng);
            }
        }
        self.reweigh();
        let loss = self.loss();
        if loss < self.best_loss {
            if loss < PROGRESS * self.best_loss {
                self.idle = 0;
            } else {
                self.idle += 1;
            }
            self.best_loss = loss;
            self.best.clone_from(&self.places);
        } else {
            self.idle += 1;
        }
        if loss == 0.0 {
            return Outcome::Clear;
        }
        if self.idle >= patience.passes {
            self.strikes = if self.best_loss < PROGRESS * self.start_loss { 0 } else { self.strikes + 1 };
            self.start_loss = self.best_loss;
            self.idle = 0;
            // Back to the best layout, with the weights as they are.
            self.places.clone_from(&self.best);
            self.measure();
            if self.strikes >= patience.strikes {
                return Outcome::Stuck;
            }
        }
        Outcome::Open
    }

    fn overlaps(&self, i: usize) -> bool {
        let n = self.places.len();
        self.losses[i * n..(i + 1) * n].iter().any(|&l| l > 0.0)
    }

    fn reweigh(&mut self) {
        let worst = self.losses.iter().fold(0.0f32, |a, &b| a.max(b));
        for (w, &l) in self.weights.iter_mut().zip(&self.losses) {
            let by = if l > 0.0 { 1.2 + 0.8 * l / worst } else { 0.95 };
            *w = (*w * by).max(1.0);
        }
    }

    /// What the others mean for body `i` in each of its shapes.
    fn fill_rows(&mut self, i: usize) {
        let n = self.places.len();
        let shapes = self.arena.shapes;
        let bodies = Arc::clone(&self.arena.bodies);
        for (k, &shape) in bodies[i].iter().enumerate() {
            let mut row = std::mem::take(&mut self.rows[k]);
            row.clear();
            for j in 0..n {
                if j == i {
                    continue;
                }
                let other = self.places[j];
                let reach = shapes.reach(other.shape, shape);
                let (factor, floor) = self.scale(other.shape, shape);
                let c = reach.centre() + other.shift;
                row.cx.push(c.x as f32);
                row.cy.push(c.y as f32);
                row.hx.push((reach.width() * 0.5) as f32 + 0.01);
                row.hy.push((reach.height() * 0.5) as f32 + 0.01);
                row.factor.push(factor as f32 * self.weights[i * n + j]);
                row.floor.push(floor as f32);
                row.shift.push(other.shift);
                row.shape.push(other.shape as u32);
                row.who.push(j as u32);
            }
            self.rows[k] = row;
        }
    }

    /// The weighted loss of a shape at a shift, or anything above `limit` once it is above.
    fn evaluate(&self, row: &Row, shape: usize, at: Point, limit: f32) -> f32 {
        let (x, y) = (at.x as f32, at.y as f32);
        let n = row.cx.len();
        let (cx, cy, hx, hy) = (&row.cx[..n], &row.cy[..n], &row.hx[..n], &row.hy[..n]);
        let mut total = 0.0f32;
        for k in 0..n {
            if ((x - cx[k]).abs() < hx[k]) & ((y - cy[k]).abs() < hy[k]) {
                let (field, quarters) = self.arena.shapes.field(row.shape[k] as usize, shape);
                if let Some(depth) = field.depth(turned_back(at - row.shift[k], quarters))
                    && depth > self.arena.leave
                {
                    total += (depth as f32 + row.floor[k]) * row.factor[k];
                    if total >= limit {
                        return total;
                    }
                }
            }
        }
        total
    }

    /// Moves a body to the best place that can be found, its own included.
    fn move_body(&mut self, i: usize, rng: &mut impl Rng) {
        const FOCUSED: usize = 25;
        const ANYWHERE: usize = 50;
        self.fill_rows(i);
        let own = self.places[i];
        let bodies = Arc::clone(&self.arena.bodies);
        let shapes = &bodies[i];
        let own_row = shapes.iter().position(|&s| s == own.shape).unwrap_or(0);
        let mut found: Vec<(f32, usize, Point)> = Vec::with_capacity(4);
        let size = {
            let r = self.arena.shapes.list()[own.shape].reach;
            r.width().min(r.height())
        };
        let loss = self.evaluate(&self.rows[own_row], own.shape, own.shift, f32::INFINITY);
        self.evaluations += 1;
        keep(&mut found, loss, own_row, own.shift, size);
        for k in 0..FOCUSED + ANYWHERE {
            let row = if shapes.len() > 1 { rng.random_range(0..shapes.len()) } else { 0 };
            let shape = shapes[row];
            let free = &self.arena.free[shape];
            let at = if k < FOCUSED {
                let (was, is) = (self.arena.shapes.list()[own.shape].reach, self.arena.shapes.list()[shape].reach);
                let middle = own.shift + was.centre() - is.centre();
                let (dx, dy) = (rng.random::<f64>() - 0.5, rng.random::<f64>() - 0.5);
                free.nearest(middle + pt(dx * was.width(), dy * was.height()))
            } else {
                free.draw(rng)
            };
            let Some(at) = at else { continue };
            let limit = if found.len() < 3 { f32::INFINITY } else { found[2].0 };
            let loss = self.evaluate(&self.rows[row], shape, at, limit);
            self.evaluations += 1;
            if loss < limit {
                keep(&mut found, loss, row, at, size);
                if loss == 0.0 {
                    break;
                }
            }
        }
        let mut best = found[0];
        for &(loss, row, at) in &found {
            let (loss, at) = self.descend(row, shapes[row], loss, at, size * 0.25, size * 0.02, rng);
            if loss < best.0 {
                best = (loss, row, at);
            }
        }
        let (loss, row, at) = best;
        let (_, at) = self.descend(row, shapes[row], loss, at, size * 0.01, size * 0.001, rng);
        self.places[i] = Place { shape: shapes[row], shift: at };
        let n = self.places.len();
        for j in 0..n {
            if j != i {
                let loss = self.pair_loss(i, j);
                self.losses[i * n + j] = loss;
                self.losses[j * n + i] = loss;
            }
        }
    }

    /// Coordinate descent along random axes from a place, steps from `step` down to `least` (mm).
    #[expect(clippy::too_many_arguments, reason = "a place and how to search round it, spelled out")]
    fn descend(
        &mut self,
        row: usize,
        shape: usize,
        mut loss: f32,
        mut at: Point,
        step: f64,
        least: f64,
        rng: &mut impl Rng,
    ) -> (f32, Point) {
        let frees = Arc::clone(&self.arena.free);
        let free = &frees[shape];
        let (mut dx, mut dy) = (step, step);
        let mut near = std::mem::take(&mut self.near);
        let mut window = pt(f64::NAN, 0.0);
        let mut axis = rng.random_range(0..4);
        while loss > 0.0 && (dx >= least || dy >= least) {
            // Only those that bear on a window round the place are looked at.
            if !((at.x - window.x).abs() <= 2.0 * step && (at.y - window.y).abs() <= 2.0 * step) {
                window = at;
                let all = &self.rows[row];
                near.clear();
                let reach = 4.0 * step as f32;
                let (x, y) = (at.x as f32, at.y as f32);
                for k in 0..all.cx.len() {
                    if ((x - all.cx[k]).abs() < all.hx[k] + reach) & ((y - all.cy[k]).abs() < all.hy[k] + reach) {
                        near.push_from(all, k);
                    }
                }
            }
            let by = match axis {
                0 => pt(dx, 0.0),
                1 => pt(0.0, dy),
                2 => pt(dx, dy),
                _ => pt(dx, -dy),
            };
            let mut best: Option<(f32, Point)> = None;
            for to in [at + by, at - by] {
                let Some(to) = free.nearest(to).filter(|&to| to != at) else { continue };
                let limit = best.map_or(loss, |b| b.0);
                let value = self.evaluate(&near, shape, to, limit.next_up());
                self.evaluations += 1;
                if value <= limit {
                    best = Some((value, to));
                }
            }
            // An equal value is a step, but no reason to go on with steps as large.
            let better = best.is_some_and(|b| b.0 < loss);
            if let Some((value, to)) = best {
                loss = value;
                at = to;
            }
            let by = if better { 1.1 } else { 0.5 };
            match axis {
                0 => dx *= by,
                1 => dy *= by,
                _ => {
                    let root = f64::sqrt(by);
                    dx *= root;
                    dy *= root;
                }
            }
            dx = dx.min(2.0 * step);
            dy = dy.min(2.0 * step);
            if !better {
                axis = rng.random_range(0..4);
            }
        }
        self.near = near;
        (loss, at)
    }
}

/// Keeps the three best places that are not the same.
fn keep(found: &mut Vec<(f32, usize, Point)>, loss: f32, row: usize, at: Point, size: f64) {
    let same = |f: &(f32, usize, Point)| {
        f.1 == row && (f.2.x - at.x).abs() < 0.05 * size && (f.2.y - at.y).abs() < 0.05 * size
    };
    if let Some(k) = found.iter().position(same) {
        if loss >= found[k].0 {
            return;
        }
        found.remove(k);
    }
    let k = found.partition_point(|f| f.0 <= loss);
    found.insert(k, (loss, row, at));
    found.truncate(3);
}
