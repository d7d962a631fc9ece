//! Where a piece may lie: exact regions of shifts, computed once and shared.
//!
//! In comes the question; out come, for a class of like pieces at a turn, the region of shifts on a slab at which
//! everything that never moves is respected, and the region of relative shifts at which two bodies are too close.
//! All values are pure functions of their keys, so the caches cannot change an answer.

use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

use super::cache::{Cache, Weigh};
use super::past::Past;
use super::separate::Free;
use super::shapes::Pair;
use super::state::Spot;
use crate::geom::pose::{angle_off, cos_sin};
use crate::geom::{BBox, Point, Pose, Region, boolean, distance, pt, simplify, sum, tol};
use crate::model::{Goal, Job, Limits, Piece, PieceId, Question, Slab, Zones};
use crate::rules::{Against, Body, Layer, Turns, claimed, claimed_at_least, clearance, turns};

/// By how much grown bodies and flaws may reach too far at round corners, mm. Smaller: more vertices.
const EXCESS: f64 = 0.02;

/// Bytes that the free regions, and the places and tables made from regions, may take each.
const CACHE: usize = 32 << 20;

/// The same for a question with flaws kept farther away, which lives beside the plain one.
const CACHE_WIDER: usize = 16 << 20;

/// The same for turned bodies: slabs whose sides differ a little ask for many turns.
const CACHE_BODIES: usize = 64 << 20;

/// The same for the regions of relative shifts, which are needed only to make tables and to construct.
const CACHE_APART: usize = 24 << 20;

/// Like pieces: any of them can take the place of another.
#[derive(Debug)]
pub struct Class {
    /// Who belongs to it, in job order.
    pub members: Vec<PieceId>,
    /// Area of the outline with openings filled (or without them, where drops may be used), mm².
    pub area: f64,
    /// Longer side of the bounding box, mm.
    pub length: f64,
    /// Distance of the farthest two points, mm.
    pub diameter: f64,
    body: Body,
}

/// A slab as the search sees it.
#[derive(Debug)]
pub struct SlabSpace {
    /// Where stone may be: the outline less the trim.
    pub room: Region,
    /// Its area, mm².
    pub area: f64,
    /// Distance of its farthest two points, mm.
    pub diameter: f64,
    /// Directions of the outline's long sides, degrees in `[0, 90)`, longest first.
    directions: Vec<f64>,
    /// By flaw: what lies within the flaw gap of it (less the slack), as convex parts.
    flaws: Vec<Vec<sum::Convex>>,
}

impl Weigh for Region {
    fn bytes(&self) -> usize {
        self.polygons.len() * std::mem::size_of::<crate::geom::Polygon>()
            + self.rings().map(|r| std::mem::size_of_val(r.points())).sum::<usize>()
    }
}

impl Weigh for Body {
    fn bytes(&self) -> usize {
        let parts = |l: &crate::rules::LayerShape| {
            let points = l.parts.iter().map(|p| std::mem::size_of_val(p.as_slice())).sum::<usize>();
            points + l.parts.len() * std::mem::size_of::<sum::Convex>()
        };
        let own = std::mem::size_of::<crate::rules::LayerShape>();
        self.layers.iter().map(|l| own + l.region.bytes() + parts(l)).sum()
    }
}

type Key = (usize, u64, usize, u64);

/// Ranges of turns are not halved further below this half width, degrees.
const NARROW: f64 = 0.02;

/// Turns that are looked at for one class on one slab, at most: something round may be too large at any.
const LOOKS: u32 = 400;

/// A turn that was looked for, if it was found.
#[derive(Debug)]
struct Found(Option<f64>);

impl Weigh for Found {
    fn bytes(&self) -> usize {
        std::mem::size_of::<Self>()
    }
}

/// The question, prepared.
#[derive(Debug)]
pub struct Space<'a> {
    /// What is asked.
    pub question: &'a Question,
    /// Classes of like pieces, in order of their first member.
    pub classes: Arc<Vec<Class>>,
    /// What counts first.
    pub goal: Goal,
    /// The earlier plan. What is pinned in it counts as one more thing that never moves.
    pub past: Arc<Past>,
    limits: Limits,
    /// By how much flaws are kept farther away than the shop asks for, mm.
    wider: f64,
    /// Clearances are built smaller by this, mm.
    slack: f64,
    slabs: Vec<OnceLock<SlabSpace>>,
    bodies: Arc<Cache<(usize, u64), Body>>,
    free: Cache<Key, Region>,
    apart: Arc<Cache<Key, Region>>,
    places: Cache<Key, Free>,
    pairs: Arc<Cache<Key, Pair>>,
    turns_found: Cache<(usize, usize), Found>,
}

impl<'a> Space<'a> {
    /// Prepares a question for the search itself. `slack` (mm) makes all clearances smaller: [`tol::LENIENCE`].
    #[must_use]
    pub fn new(question: &'a Question, slack: f64) -> Self {
        let shop = &question.shop;
        Self::of(question, slack, |job, piece| claimed(piece, job.thickness, shop))
    }

    /// Prepares a question for proofs, which must err towards "possible": all clearances are smaller by `slack` (mm), and of a drop
    /// all is free.
    #[must_use]
    pub fn for_proofs(question: &'a Question, slack: f64) -> Self {
        Self::of(question, slack, |_, piece| claimed_at_least(piece, &question.shop.limits))
    }

    fn of(question: &'a Question, slack: f64, claims: impl Fn(&Job, &Piece) -> Region) -> Self {
        let limits = question.shop.limits.clone();
        let mut sorts: Vec<Zones> = Vec::new();
        for flaw in question.rack.iter().flat_map(|s| &s.flaws) {
            let zones = Limits::forbidden(flaw.allow);
            if !zones.is_empty() && !sorts.contains(&zones) {
                sorts.push(zones);
            }
        }
        sorts.sort();
        let mut classes: Vec<Class> = Vec::new();
        for (id, job, piece) in question.pieces() {
            if let Some(class) = classes.iter_mut().find(|c| alike(question, c.members[0], id)) {
                class.members.push(id);
                continue;
            }
            let body = Body::new(piece, &claims(job, piece), &limits, &sorts);
            let area = body.stone().region.area();
            let length = body.bbox.width().max(body.bbox.height());
            let diameter = sum::diameter(&body.stone().region);
            classes.push(Class { members: vec![id], area, length, diameter, body });
        }
        let slabs = question.rack.iter().map(|_| OnceLock::new()).collect();
        Self {
            question,
            classes: Arc::new(classes),
            goal: Goal::default(),
            past: Arc::default(),
            limits,
            wider: 0.0,
            slack,
            slabs,
            free: Cache::new(CACHE),
            apart: Arc::new(Cache::new(CACHE_APART)),
            places: Cache::new(CACHE),
            pairs: Arc::new(Cache::new(CACHE)),
            bodies: Arc::new(Cache::new(CACHE_BODIES)),
            turns_found: Cache::new(1 << 20),
        }
    }

    /// The same question with flaws kept farther away by `wider` (mm), and another goal. Shares what does not depend on flaws.
    #[must_use]
    pub fn with_margin(&self, wider: f64, goal: Goal) -> Self {
        let mut limits = self.limits.clone();
        limits.flaw_gap += wider - self.wider;
        Self {
            question: self.question,
            classes: Arc::clone(&self.classes),
            goal,
            past: Arc::clone(&self.past),
            limits,
            wider,
            slack: self.slack,
            slabs: self.question.rack.iter().map(|_| OnceLock::new()).collect(),
            free: Cache::new(CACHE_WIDER),
            apart: Arc::clone(&self.apart),
            places: Cache::new(CACHE_WIDER),
            pairs: Arc::clone(&self.pairs),
            bodies: Arc::clone(&self.bodies),
            turns_found: Cache::new(1 << 20),
        }
    }

    /// What the shop asks for between a flaw and a zone that may not touch it, mm.
    #[must_use]
    pub fn flaw_gap(&self) -> f64 {
        self.limits.flaw_gap - self.wider
    }

    /// Least margin (mm, beyond what the shop asks for) of a body at a shift between flaws and its zones; infinite if none
    /// bears on it.
    #[must_use]
    pub fn margin(&self, body: &Body, shift: Point, slab: usize) -> f64 {
        if self.question.rack[slab].flaws.is_empty() {
            return f64::INFINITY;
        }
        self.static_spare(body, shift, slab, true) + self.wider
    }

    /// Spare distance (mm) of a body at a shift beside what is pinned on the slab.
    #[must_use]
    pub fn pin_spare(&self, body: &Body, shift: Point, slab: usize) -> f64 {
        let spare = |s: &Spot| self.pair_spare(body, shift, &self.body(s.class, s.turn), s.shift);
        self.past.pins(slab).map(|r| spare(&r.spot)).fold(f64::INFINITY, f64::min)
    }

    /// The region of shifts without those too close to what is pinned on the slab.
    fn beside_pins(&self, region: Region, class: usize, turn: f64, slab: usize) -> Region {
        if region.is_empty() || !self.past.is_open(slab) {
            return region;
        }
        let mut taken = Region::empty();
        for Spot { class: pinned, turn: at, shift } in self.past.pins(slab).map(|r| r.spot) {
            let apart = self.apart(pinned, at, class, turn);
            taken.polygons.extend(Pose::new(0.0, shift).region(&apart).polygons);
        }
        boolean::difference(&region, &taken)
    }

    /// True if the class has room on the slab when nothing else lies there, at a turn that is tried.
    #[must_use]
    pub fn fits_alone(&self, class: usize, slab: usize) -> bool {
        let fits = |t: f64| match self.past.is_open(slab) {
            true => !self.free_with(&self.body(class, t), slab, self.slack, None).is_empty(),
            false => !self.free(class, t, slab).is_empty(),
        };
        self.accepts(class, slab) && self.turns(class, slab).into_iter().any(fits)
    }

    /// The class that a piece belongs to.
    #[must_use]
    pub fn piece_of(&self, class: usize) -> &Piece {
        self.question.piece(self.classes[class].members[0])
    }

    /// The job that a class belongs to (the first member's; like pieces of several jobs want the same material).
    #[must_use]
    pub fn job_of(&self, class: usize) -> &Job {
        &self.question.jobs[self.classes[class].members[0].job]
    }

    /// True if the slab is of the material and thickness that the class wants.
    #[must_use]
    pub fn accepts(&self, class: usize, slab: usize) -> bool {
        self.job_of(class).accepts(&self.question.rack[slab])
    }

    /// The slab, prepared.
    pub fn slab(&self, slab: usize) -> &SlabSpace {
        self.slabs[slab].get_or_init(|| prepare(&self.question.rack[slab], &self.limits, self.slack))
    }

    /// The body of a class at a turn.
    pub fn body(&self, class: usize, turn: f64) -> Arc<Body> {
        self.bodies.get((class, turn.to_bits()), || self.classes[class].body.turned(turn))
    }

    /// A spot with its body turned to `turn` (degrees) about the middle of its box, which is then moved by `by` (mm).
    #[must_use]
    pub fn turned(&self, spot: &Spot, turn: f64, by: Point) -> Spot {
        let before = self.body(spot.class, spot.turn).bbox.centre();
        let (c, s) = cos_sin(angle_off(turn, spot.turn, 360.0));
        let after = pt(c * before.x - s * before.y, s * before.x + c * before.y);
        Spot { class: spot.class, turn, shift: published(spot.shift + before + by - after) }
    }

    /// Turns worth trying for a class on a slab, degrees in `[0, 360)`: those that the grain fixes, and, where it leaves a
    /// range, its middle, its ends, and the turns that bring a long side of the piece in line with one of the slab.
    #[must_use]
    pub fn turns(&self, class: usize, slab: usize) -> Vec<f64> {
        let piece = self.piece_of(class);
        let mut out: Vec<f64> = Vec::new();
        let mut add = |t: f64| {
            let t = published_turn(t);
            if !out.iter().any(|&o| (o - t).abs() < 1e-6) {
                out.push(t);
            }
        };
        // Turns that line up long sides, in [0, 90).
        let sides = directions(piece.outline.ring.edges());
        let rim = &self.slab(slab).directions;
        let aligned: Vec<f64> =
            rim.iter().take(4).flat_map(|r| sides.iter().take(2).map(move |s| (r - s).rem_euclid(90.0))).collect();
        match turns(piece, &self.question.rack[slab]) {
            Turns::Free if is_plain_disc(piece) => add(0.0),
            Turns::Free => {
                for quarter in [0.0, 90.0, 180.0, 270.0] {
                    add(quarter);
                }
                for a in aligned {
                    for quarter in [0.0, 90.0, 180.0, 270.0] {
                        add(a + quarter);
                    }
                }
            }
            Turns::Near { centres, tolerance } => {
                for &c in &centres {
                    add(c);
                }
                if tolerance > 0.0 {
                    for &c in &centres {
                        add(c - tolerance);
                        add(c + tolerance);
                        for &a in &aligned {
                            // The aligned turn nearest to the centre.
                            let off = (a - c + 45.0).rem_euclid(90.0) - 45.0;
                            if off.abs() <= tolerance {
                                add(c + off);
                            }
                        }
                    }
                }
            }
        }
        if is_point_symmetric(&self.classes[class].body) {
            // Half a turn changes nothing but the sense of the grain, which both turns satisfy.
            let all = out.clone();
            out.retain(|&t| t < 180.0 || !all.iter().any(|&o| (o - (t - 180.0)).abs() < 1e-6));
        }
        out.extend(self.between(class, slab, &out));
        out
    }

    /// A turn at which the class has room on the slab, where it may be turned and has none at the listed turns; none where there
    /// is none that differs from impossible ones by more than [`NARROW`].
    fn between(&self, class: usize, slab: usize, listed: &[f64]) -> Option<f64> {
        let ranges: Vec<(f64, f64)> = match turns(self.piece_of(class), &self.question.rack[slab]) {
            Turns::Near { tolerance: 0.0, .. } => return None,
            Turns::Near { centres, tolerance } => centres.iter().map(|&c| (c, tolerance)).collect(),
            Turns::Free => (0..12).map(|k| (15.0 + 30.0 * f64::from(k), 15.0)).collect(),
        };
        if !self.accepts(class, slab) || self.is_too_large(class, slab) {
            return None;
        }
        self.turns_found
            .get((class, slab), || {
                let has_room = |t: f64| !self.free(class, t, slab).is_empty();
                if listed.iter().any(|&t| has_room(t)) {
                    Found(None)
                } else {
                    Found(self.turn_with_room(class, slab, ranges))
                }
            })
            .0
    }

    /// True if the class has no room on the slab at any turn, by its area or its farthest two points.
    #[must_use]
    pub fn is_too_large(&self, class: usize, slab: usize) -> bool {
        let (class, slab) = (&self.classes[class], self.slab(slab));
        class.area > slab.area || class.diameter > slab.diameter + 1e-6
    }

    /// Ranges of turns (middle and half width, degrees) are halved, wide ones first, until the middle of one has room, or all are
    /// narrow, or ruled out: at the middle no point of the body is farther than `2 R sin(a / 2)` from where it is at any turn of
    /// the range, so the body has room there with clearances smaller by that if it has room at any.
    fn turn_with_room(&self, class: usize, slab: usize, mut ranges: Vec<(f64, f64)>) -> Option<f64> {
        let base = self.body(class, 0.0);
        let centre = base.bbox.centre();
        let points = base.stone().region.rings().flat_map(|r| r.points());
        let radius = points.map(|p| p.distance(centre)).fold(0.0, f64::max);
        let mut looks = 0;
        while !ranges.is_empty() {
            let mut halves = Vec::new();
            for (mid, half) in ranges {
                looks += 1;
                if looks > LOOKS {
                    return None;
                }
                let turn = published_turn(mid);
                let body = base.turned(turn);
                if !self.free_with(&body, slab, self.slack, None).is_empty() {
                    return Some(turn);
                }
                let moved = 2.0 * radius * (half.to_radians() / 2.0).sin();
                if half > NARROW && !self.free_with(&body, slab, self.slack + moved, None).is_empty() {
                    halves.extend([(mid - half / 2.0, half / 2.0), (mid + half / 2.0, half / 2.0)]);
                }
            }
            ranges = halves;
        }
        None
    }

    /// The shifts at which the class at that turn respects the slab's outline, its flaws and what is pinned on it.
    pub fn free(&self, class: usize, turn: f64, slab: usize) -> Arc<Region> {
        self.free.get((class, turn.to_bits(), slab, 0), || {
            let alone = self.free_with(&self.body(class, turn), slab, self.slack, None);
            self.beside_pins(alone, class, turn, slab)
        })
    }

    /// As [`Space::free`], for any body, with clearances smaller by `slack` (mm) against flaws; `without` is the index of a
    /// flaw to leave out of account.
    #[must_use]
    pub fn free_with(&self, body: &Body, slab: usize, slack: f64, without: Option<&[usize]>) -> Region {
        let space = self.slab(slab);
        let widened;
        let room = if slack == self.slack {
            &space.room
        } else {
            widened = room(&self.question.rack[slab], &self.limits, slack);
            &widened
        };
        let region = sum::fits(room, &body.stone().parts);
        let mut taken = sum::Taken::default();
        let rack = &self.question.rack[slab];
        for (i, flaw) in rack.flaws.iter().enumerate() {
            if region.is_empty() {
                break;
            }
            if without.is_some_and(|w| w.contains(&i)) {
                continue;
            }
            let against = Against::Flaw(Limits::forbidden(flaw.allow));
            for layer in &body.layers {
                let Some(need) = clearance(layer.layer, against, &self.limits) else { continue };
                let grown = if need == self.limits.flaw_gap && slack == self.slack {
                    Cow::Borrowed(&space.flaws[i])
                } else {
                    Cow::Owned(flaw.grown_parts(need - slack, EXCESS))
                };
                // A flaw whose reach misses every place that the layer can get to costs nothing.
                let reach = crate::geom::BBox::of(grown.iter().flatten());
                if !grown.is_empty() && reach.near(&sum_box(&region, layer), 0.0) {
                    taken.add(&grown, &layer.region);
                }
            }
        }
        taken.without(&region)
    }

    /// The shifts of body `b` relative to body `a` at which they are nearer than they may be.
    pub fn apart(&self, a: usize, turn_a: f64, b: usize, turn_b: f64) -> Arc<Region> {
        let key = (a, turn_a.to_bits(), b, turn_b.to_bits());
        self.apart.get(key, || self.apart_bodies(&self.body(a, turn_a), &self.body(b, turn_b)))
    }

    /// [`Space::free`], prepared for random points.
    pub fn places(&self, class: usize, turn: f64, slab: usize) -> Arc<Free> {
        self.places.get((class, turn.to_bits(), slab, 0), || Free::new(&self.free(class, turn, slab)))
    }

    /// [`Space::apart`], with its table.
    pub fn pair(&self, a: usize, turn_a: f64, b: usize, turn_b: f64) -> Arc<Pair> {
        let key = (a, turn_a.to_bits(), b, turn_b.to_bits());
        self.pairs.get(key, || Pair::new(&self.apart(a, turn_a, b, turn_b)))
    }

    fn apart_bodies(&self, a: &Body, b: &Body) -> Region {
        let mut all: Vec<Region> = Vec::new();
        for la in &a.layers {
            for lb in &b.layers {
                if lb.layer != Layer::Stone {
                    continue;
                }
                if let Some(need) = clearance(la.layer, Against::Stone, &self.limits) {
                    all.push(sum::hits_rings(&resized(&la.region, need - self.slack), &lb.region));
                }
            }
        }
        if all.len() == 1 { all.swap_remove(0) } else { boolean::union_all(&all) }
    }

    /// Spare distance (mm) of a body at a shift on a slab: the least of (distance - needed) over everything that never moves
    /// (`flaws_only`: over flaws alone). Exact, on the regions themselves.
    #[must_use]
    pub fn static_spare(&self, body: &Body, shift: Point, slab: usize, flaws_only: bool) -> f64 {
        let rack = &self.question.rack[slab];
        let moved = |r: &Region| crate::geom::Pose::new(0.0, shift).region(r);
        let mut spare = f64::INFINITY;
        for layer in &body.layers {
            if layer.layer == Layer::Stone {
                if flaws_only {
                    continue;
                }
                if let Some(need) = clearance(layer.layer, Against::Rim, &self.limits) {
                    spare = spare.min(distance::inside_ring(&moved(&layer.region), &rack.outline).distance - need);
                }
                continue;
            }
            let mut region: Option<Region> = None;
            for flaw in &rack.flaws {
                let against = Against::Flaw(Limits::forbidden(flaw.allow));
                if let Some(need) = clearance(layer.layer, against, &self.limits) {
                    let region = region.get_or_insert_with(|| moved(&layer.region));
                    spare = spare.min(flaw.distance_to(region).distance - need);
                }
            }
        }
        if flaws_only { spare } else { spare.min(self.pin_spare(body, shift, slab)) }
    }

    /// Spare distance (mm) between two bodies at their shifts; where there is some, it may be more than what is given.
    #[must_use]
    pub fn pair_spare(&self, a: &Body, shift_a: Point, b: &Body, shift_b: Point) -> f64 {
        let Some(need) = clearance(Layer::Stone, Against::Stone, &self.limits) else { return f64::INFINITY };
        let by = shift_b - shift_a;
        let box_b = crate::geom::BBox { min: b.bbox.min + by, max: b.bbox.max + by };
        let gap = a.bbox.gap(&box_b);
        if gap > 0.0 && gap >= need {
            return gap - need;
        }
        let moved = Pose::new(0.0, by).region(&b.stone().region);
        near_regions(&a.stone().region, &moved, need) - need
    }

    /// The shop's limits.
    #[must_use]
    pub fn limits(&self) -> &Limits {
        &self.limits
    }
}

/// The distance between two regions (negative where they overlap) if it is less than `reach` (mm); else `reach` or more.
/// Sides that are farther than that from the other region's box need no look.
fn near_regions(a: &Region, b: &Region, reach: f64) -> f64 {
    let near = |r: &Region, other: &Region| -> Vec<(Point, Point)> {
        let around = other.bbox();
        r.edges().filter(|(p, q)| BBox::of([p, q]).near(&around, reach)).collect()
    };
    let (near_a, near_b) = (near(a, b), near(b, a));
    let found = distance::lines(near_a, near_b.iter().copied()).distance;
    let inside = |r: &Region, s: &Region| r.polygons.iter().any(|p| s.contains(p.outer.points()[0]));
    if found <= tol::SAME_POINT || inside(a, b) || inside(b, a) {
        return distance::regions(a, b).distance;
    }
    found
}

/// Box of all places that a layer can reach with shifts in `region`.
fn sum_box(region: &Region, layer: &crate::rules::LayerShape) -> crate::geom::BBox {
    let (r, l) = (region.bbox(), layer.region.bbox());
    crate::geom::BBox { min: r.min + l.min, max: r.max + l.max }
}

/// Grown, or shrunk if `by` is negative.
fn resized(region: &Region, by: f64) -> Region {
    if by >= 0.0 { sum::grown(region, by, EXCESS) } else { sum::shrunk(region, -by, 0.0) }
}

fn room(slab: &Slab, limits: &Limits, slack: f64) -> Region {
    let outline = slab.outline.to_region();
    let trim = limits.trim - slack;
    if trim < 0.0 {
        return sum::grown(&outline, -trim, EXCESS);
    }
    // Round corners of the room are a few hundredths long on a slab with blunt corners: they only cost time.
    let mut room = sum::shrunk(&outline, trim, EXCESS);
    for polygon in &mut room.polygons {
        polygon.outer = simplify::enclosed(&polygon.outer, EXCESS);
    }
    room
}

fn prepare(slab: &Slab, limits: &Limits, slack: f64) -> SlabSpace {
    let room = room(slab, limits, slack);
    let flaws = slab.flaws.iter().map(|f| f.grown_parts(limits.flaw_gap - slack, EXCESS)).collect();
    SlabSpace {
        area: room.area(),
        diameter: sum::diameter(&room),
        room,
        directions: directions(slab.outline.edges()),
        flaws,
    }
}

/// Directions of the sides that make up most of a line, degrees in `[0, 90)`, longest first.
fn directions(edges: impl Iterator<Item = (Point, Point)>) -> Vec<f64> {
    let mut sides: Vec<(f64, f64)> = Vec::new();
    let mut total = 0.0;
    for (a, b) in edges {
        let d = b - a;
        total += d.norm();
        let mut angle = d.y.atan2(d.x).to_degrees().rem_euclid(90.0);
        if 90.0 - angle < 1e-9 {
            angle = 0.0;
        }
        match sides.iter_mut().find(|s| (s.0 - angle).abs() < 1e-6) {
            Some(s) => s.1 += d.norm(),
            None => sides.push((angle, d.norm())),
        }
    }
    sides.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.total_cmp(&b.0)));
    sides.into_iter().filter(|s| s.1 > 0.1 * total).map(|s| s.0).collect()
}

/// True if turning the piece about its middle changes nothing.
fn is_plain_disc(piece: &Piece) -> bool {
    matches!(piece.outline.shape, crate::model::Shape::Ellipse { half_x, half_y, .. } if half_x == half_y)
        && piece.openings.is_empty()
        && piece.hidden.is_none()
}

/// True if all layers look the same after half a turn about the middle of the stone's box.
fn is_point_symmetric(body: &Body) -> bool {
    let c = body.bbox.centre();
    body.layers.iter().all(|l| {
        let mut ours: Vec<Point> = l.region.rings().flat_map(|r| r.points().to_vec()).collect();
        if ours.len() > 400 {
            return false;
        }
        let mut theirs: Vec<Point> = ours.iter().map(|&p| c + c - p).collect();
        let key = |p: &Point| ((p.x * 1e3).round() as i64, (p.y * 1e3).round() as i64);
        ours.sort_by_key(key);
        theirs.sort_by_key(key);
        ours.iter().zip(&theirs).all(|(a, b)| a.distance(*b) < 2e-3)
    })
}

/// True if two pieces can take one another's place: same job material, outline, openings, zones and grain.
fn alike(question: &Question, a: PieceId, b: PieceId) -> bool {
    let (ja, jb) = (&question.jobs[a.job], &question.jobs[b.job]);
    let (pa, pb) = (question.piece(a), question.piece(b));
    ja.material == jb.material
        && ja.thickness == jb.thickness
        && pa.outline == pb.outline
        && pa.grain == pb.grain
        && pa.grain_tolerance == pb.grain_tolerance
        && pa.one_way == pb.one_way
        && pa.hidden == pb.hidden
        && pa.openings.len() == pb.openings.len()
        && pa
            .openings
            .iter()
            .zip(&pb.openings)
            .all(|(x, y)| x.kind == y.kind && x.shape == y.shape && x.ring == y.ring && x.drop_stays == y.drop_stays)
}

/// A turn in `[0, 360)` with the digits in which turns are published.
#[must_use]
pub fn published_turn(degrees: f64) -> f64 {
    (degrees.rem_euclid(360.0) * 1e7).round() / 1e7 % 360.0
}

/// Rounded to the precision of published shifts (0.1 µm).
#[must_use]
pub fn published(p: Point) -> Point {
    let round = |v: f64| (v * tol::GRID_PER_MM).round() / tol::GRID_PER_MM;
    pt(round(p.x), round(p.y))
}
