//! A plan in the making: which classes lie where, and which have no place yet.

use std::sync::Arc;

use super::settle::ENOUGH;
use super::space::Space;
use crate::geom::{BBox, Point, Pose, Region, boolean, pt, rectangle, sum, tol};
use crate::model::{Goal, Limits};
use crate::rules::Body;

/// One body on a slab.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Its class.
    pub class: usize,
    /// Degrees.
    pub turn: f64,
    /// Slab frame, mm.
    pub shift: Point,
}

/// One slab with what lies on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Index on the rack.
    pub slab: usize,
    /// What lies on it.
    pub spots: Vec<Spot>,
    /// The largest rectangle that is left, once asked for.
    rest: Option<Option<rectangle::Turned>>,
    /// The least margin to a flaw, once asked for.
    margin: Option<f64>,
    /// Tells apart what lies on it.
    signature: u64,
}

/// A plan in the making.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// The slabs at hand; those without spots are not cut.
    pub cuts: Vec<Cut>,
    /// Classes of the bodies without a place, one entry a body, ascending.
    pub missing: Vec<usize>,
}

/// Where signatures start (the offset basis of the FNV-1a hash).
const SIGNATURE_SEED: u64 = 0xcbf2_9ce4_8422_2325;

/// The signature with one more spot: FNV-1a over words, with a final shift to spread high bits.
fn signed(signature: u64, spot: &Spot) -> u64 {
    [spot.class as u64, spot.turn.to_bits(), spot.shift.x.to_bits(), spot.shift.y.to_bits()].iter().fold(
        signature,
        |h, &word| {
            let h = (h ^ word).wrapping_mul(0x0000_0100_0000_01b3);
            h ^ (h >> 29)
        },
    )
}

/// What a state is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Score {
    /// Area of what is missing, mm².
    pub missing: f64,
    /// Price of the slabs that are cut.
    pub cost: f64,
    /// Bodies that do not lie where the earlier plan has them; `None` where that does not matter.
    pub moved: Option<usize>,
    /// Worth of the largest rectangles of the slabs; 0 as long as something is missing.
    pub worth: f64,
    /// Least margin to a flaw, mm, at most [`ENOUGH`]; 0 as long as something is missing.
    pub margin: f64,
}

impl Score {
    /// True if `self` is better than `other` by more than rounding, one thing after the other:
    ///
    /// 1. less area is missing;
    /// 2. where moves count: the cost, then the number of bodies that were moved;
    /// 3. by the goal: cost, worth of offcuts, margin; or cost less worth, cost, margin; or margin, cost, worth.
    #[must_use]
    pub fn beats(&self, other: &Self, goal: Goal) -> bool {
        self.keys(goal)
            .iter()
            .zip(other.keys(goal))
            .find(|((a, within), (b, _))| (a - b).abs() > *within)
            .is_some_and(|((a, _), (b, _))| *a < b)
    }

    /// What is compared, less being better, and within what two values are the same.
    fn keys(&self, goal: Goal) -> [(f64, f64); 6] {
        const CENT: f64 = 0.005;
        let cost = (self.cost, CENT);
        let worth = (-self.worth, CENT);
        let margin = (-self.margin, 0.05);
        let [a, b, c] = match goal {
            Goal::Cost => [cost, worth, margin],
            Goal::Offcut => [(self.cost - self.worth, CENT), cost, margin],
            Goal::Margin => [margin, cost, worth],
        };
        let nothing = (0.0, CENT);
        let [first, moved] = self.moved.map_or([nothing; 2], |n| [cost, (n as f64, 0.5)]);
        [(self.missing, 1.0), first, moved, a, b, c]
    }
}

impl Cut {
    /// A slab with nothing on it yet.
    #[must_use]
    pub fn empty(slab: usize) -> Self {
        Self { slab, spots: Vec::new(), rest: None, margin: None, signature: SIGNATURE_SEED }
    }

    /// True if the slab is cut: something lies on it, or is pinned there.
    #[must_use]
    pub fn is_cut(&self, space: &Space<'_>) -> bool {
        !self.spots.is_empty() || space.past.is_open(self.slab)
    }

    /// Everything on it, what is pinned last.
    pub fn all_spots<'a>(&'a self, space: &'a Space<'_>) -> impl Iterator<Item = &'a Spot> {
        self.spots.iter().chain(space.past.pins(self.slab).map(|r| &r.spot))
    }

    /// Puts a body on it.
    pub fn place(&mut self, spot: Spot) {
        self.signature = signed(self.signature, &spot);
        self.spots.push(spot);
        self.rest = None;
        self.margin = None;
    }

    /// Takes the body at that index off again.
    pub fn take(&mut self, index: usize) -> Spot {
        self.rest = None;
        self.margin = None;
        let spot = self.spots.remove(index);
        self.signature = self.spots.iter().fold(SIGNATURE_SEED, signed);
        spot
    }

    /// Gives every body its shift; as many as there are spots.
    pub fn move_to(&mut self, shifts: &[Point]) {
        for (spot, &shift) in self.spots.iter_mut().zip(shifts) {
            spot.shift = shift;
        }
        self.rest = None;
        self.margin = None;
        self.signature = self.spots.iter().fold(SIGNATURE_SEED, signed);
    }

    /// A number that differs (but for one chance in 2^64 or so) where what lies on the slab differs; never 0.
    #[must_use]
    pub const fn signature(&self) -> u64 {
        self.signature | 1
    }

    /// The shifts at which a further body of that class and turn may lie. `keep` is stone to leave alone (with the gap).
    #[must_use]
    pub fn room_for(&self, space: &Space<'_>, class: usize, turn: f64, keep: Option<&Region>) -> Region {
        let free = space.free(class, turn, self.slab);
        if free.is_empty() {
            return Region::empty();
        }
        let reach = free.bbox();
        let mut taken = Region::empty();
        for spot in &self.spots {
            let apart = space.apart(spot.class, spot.turn, class, turn);
            let b = apart.bbox();
            if (BBox { min: b.min + spot.shift, max: b.max + spot.shift }).near(&reach, 0.0) {
                taken.polygons.extend(Pose::new(0.0, spot.shift).region(&apart).polygons);
            }
        }
        if let Some(keep) = keep {
            let grown = sum::grown(keep, space.limits().gap, 0.02);
            taken.polygons.extend(sum::hits(&grown, &space.body(class, turn).stone().parts).polygons);
        }
        boolean::difference(&free, &taken)
    }

    /// True if a further body keeps every clearance, to less than the judge's tolerance, by exact distances.
    ///
    /// Regions may have slivers where borders all but coincide, so a place found on one is asked about again.
    #[must_use]
    pub fn takes(&self, space: &Space<'_>, spot: &Spot) -> bool {
        self.admits(space, spot, &self.spots)
    }

    /// True if every clearance on the slab holds, to less than the judge's tolerance.
    #[must_use]
    pub fn holds(&self, space: &Space<'_>) -> bool {
        (0..self.spots.len()).all(|i| self.admits(space, &self.spots[i], &self.spots[..i]))
    }

    fn admits(&self, space: &Space<'_>, spot: &Spot, others: &[Spot]) -> bool {
        const ENOUGH: f64 = -0.9 * tol::CLEARANCE;
        let body = space.body(spot.class, spot.turn);
        let apart = |o: &Spot| space.pair_spare(&body, spot.shift, &space.body(o.class, o.turn), o.shift) >= ENOUGH;
        let pins = space.past.pins(self.slab).map(|r| &r.spot);
        others.iter().chain(pins).all(apart) && space.static_spare(&body, spot.shift, self.slab, false) >= ENOUGH
    }

    /// What is left of the slab for a plain rectangle: trim and gaps kept, flaws that the field may not touch kept away.
    /// Round borders lie up to `excess` (mm) too far in.
    #[must_use]
    pub fn rest_region(&self, space: &Space<'_>, excess: f64) -> Region {
        let limits = space.limits();
        let slab = &space.question.rack[self.slab];
        let mut out = space.slab(self.slab).room.clone();
        let mut taken: Vec<Region> = Vec::new();
        for spot in self.all_spots(space) {
            let body = space.body(spot.class, spot.turn);
            let stone = Pose::new(0.0, spot.shift).region(&body.stone().region);
            taken.push(sum::grown(&filled(&stone), limits.gap, excess));
        }
        for flaw in &slab.flaws {
            if Limits::offcut_zones().iter().any(|z| !flaw.allow.has(z)) {
                taken.push(flaw.grown(space.flaw_gap(), excess));
            }
        }
        if !taken.is_empty() {
            out = boolean::difference(&out, &boolean::union_all(&taken));
        }
        out
    }

    /// The largest rectangle that is left and worth keeping, a little too small where borders are round.
    pub fn rest(&mut self, space: &Space<'_>) -> Option<rectangle::Turned> {
        if let Some(known) = self.rest {
            return known;
        }
        let limits = space.limits();
        let want = rectangle::Want { least_side: limits.keep_side, least_area: limits.keep_area, detail: 5.0 };
        let found = rectangle::largest(&self.rest_region(space, 1.0), &self.directions(space), &want);
        self.rest = Some(found);
        found
    }

    /// Directions in which a rectangle is looked for: the slab's own axes and the turns of its pieces, in `[0, 90)`.
    #[must_use]
    pub fn directions(&self, space: &Space<'_>) -> Vec<f64> {
        let mut out = vec![0.0];
        for spot in self.all_spots(space) {
            let t = spot.turn.rem_euclid(90.0);
            if !out.iter().any(|o: &f64| (o - t).abs() < 1e-6 || (90.0 - (o - t).abs()).abs() < 1e-6) && out.len() < 4 {
                out.push(t);
            }
        }
        out
    }

    /// Worth of the largest rectangle.
    pub fn worth(&mut self, space: &Space<'_>) -> f64 {
        let slab = &space.question.rack[self.slab];
        self.rest(space).map_or(0.0, |r| r.area() * slab.price_per_mm2() * space.limits().keep_share)
    }

    /// Least margin to a flaw over all bodies on it, mm beyond what the shop asks for; infinite if no flaw bears on any.
    pub fn margin(&mut self, space: &Space<'_>) -> f64 {
        if let Some(known) = self.margin {
            return known;
        }
        let of = |s: &Spot| space.margin(&space.body(s.class, s.turn), s.shift, self.slab);
        let found = self.all_spots(space).map(of).fold(f64::INFINITY, f64::min);
        self.margin = Some(found);
        found
    }

    /// Area of the bodies on it, mm².
    #[must_use]
    pub fn used(&self, space: &Space<'_>) -> f64 {
        self.all_spots(space).map(|s| space.classes[s.class].area).sum()
    }

    /// The bodies on it, turned.
    #[must_use]
    pub fn bodies(&self, space: &Space<'_>) -> Vec<Arc<Body>> {
        self.spots.iter().map(|s| space.body(s.class, s.turn)).collect()
    }
}

/// The region with its holes filled: an offcut is not cut from a drop.
fn filled(region: &Region) -> Region {
    let polygons =
        region.polygons.iter().map(|p| crate::geom::Polygon { outer: p.outer.clone(), holes: Vec::new() }).collect();
    Region { polygons }
}

impl State {
    /// Everything missing that is not pinned; the given slabs at hand, and those on which something is pinned.
    #[must_use]
    pub fn empty(space: &Space<'_>, slabs: &[usize]) -> Self {
        let pinned = |c: usize| space.past.all_pins().filter(|r| r.spot.class == c).count();
        let missing = space
            .classes
            .iter()
            .enumerate()
            .flat_map(|(c, class)| std::iter::repeat_n(c, class.members.len().saturating_sub(pinned(c))))
            .collect();
        let mut state = Self { cuts: slabs.iter().map(|&s| Cut::empty(s)).collect(), missing };
        state.open_pinned(space);
        state
    }

    /// Puts the slabs on which something is pinned among those at hand.
    pub fn open_pinned(&mut self, space: &Space<'_>) {
        for slab in space.past.open_slabs() {
            if !self.cuts.iter().any(|c| c.slab == slab) {
                self.cuts.push(Cut::empty(slab));
            }
        }
    }

    /// Area of what is missing, mm².
    #[must_use]
    pub fn missing_area(&self, space: &Space<'_>) -> f64 {
        self.missing.iter().map(|&c| space.classes[c].area).sum()
    }

    /// Price of the slabs that are cut.
    #[must_use]
    pub fn cost(&self, space: &Space<'_>) -> f64 {
        // Adding to 0 keeps the sum of nothing from being -0.
        0.0 + self.cuts.iter().filter(|c| c.is_cut(space)).map(|c| space.question.rack[c.slab].price).sum::<f64>()
    }

    /// What it is worth.
    pub fn score(&mut self, space: &Space<'_>) -> Score {
        let moved = space.past.counts_moves().then(|| space.past.moved(self).count());
        // What is left over counts only once everything has a place.
        let (mut worth, mut margin) = (0.0, 0.0);
        if self.missing.is_empty() {
            margin = ENOUGH;
            for cut in self.cuts.iter_mut().filter(|c| c.is_cut(space)) {
                worth += cut.worth(space);
                margin = cut.margin(space).min(margin);
            }
        }
        Score { missing: self.missing_area(space), cost: self.cost(space), moved, worth, margin }
    }

    /// Adds a class to what is missing.
    pub fn miss(&mut self, class: usize) {
        let at = self.missing.partition_point(|&c| c < class);
        self.missing.insert(at, class);
    }

    /// Drops slabs without pieces and puts the rest in rack order.
    pub fn tidy(&mut self, space: &Space<'_>) {
        self.open_pinned(space);
        self.cuts.retain(|c| c.is_cut(space));
        self.cuts.sort_by_key(|c| c.slab);
    }
}

/// Middle of a body's box at a shift.
#[must_use]
pub fn middle(body: &Body, shift: Point) -> Point {
    body.bbox.centre() + pt(shift.x, shift.y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Ring;
    use crate::model::{Finish, GrainWish, Hidden, Job, Outline, Piece, Question, Shape, Shop, Slab, StoneClass};

    #[test]
    fn a_body_is_taken_at_its_clearances_and_not_nearer() {
        let piece = Piece {
            name: "sill".to_owned(),
            kind: 0,
            outline: Outline::new(Shape::rectangle(1000.0, 300.0, 0.0), vec![Finish::Raw; 4]),
            openings: Vec::new(),
            grain: GrainWish::Any,
            grain_tolerance: 0.0,
            one_way: false,
            hidden: Hidden::default(),
        };
        let slab = Slab {
            name: "one".to_owned(),
            material: "slate".to_owned(),
            stone: StoneClass::Slate,
            stone_given: true,
            thickness: 30.0,
            lot: None,
            number: None,
            price: 100.0,
            outline: Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(3000.0, 1000.0) }),
            grain: None,
            flaws: Vec::new(),
            tests: None,
            photo: None,
            from: None,
        };
        let job = Job { name: "job".to_owned(), material: "slate".to_owned(), thickness: 30.0, pieces: vec![piece] };
        let q = Question { jobs: vec![job], rack: vec![slab], shop: Shop::default() };
        let (gap, trim) = (q.shop.limits.gap, q.shop.limits.trim);
        let space = Space::new(&q, tol::LENIENCE);
        let spot = |x: f64, y: f64| Spot { class: 0, turn: 0.0, shift: pt(x, y) };
        let mut cut = Cut::empty(0);
        assert!(cut.takes(&space, &spot(trim, trim)));
        assert!(!cut.takes(&space, &spot(trim - 0.01, trim)));
        cut.place(spot(trim, trim));
        assert!(cut.takes(&space, &spot(trim, trim + 300.0 + gap)));
        assert!(!cut.takes(&space, &spot(trim, trim + 300.0 + gap - 0.01)));
        // One inside the other has no borders that cross.
        assert!(!cut.takes(&space, &spot(trim, trim)));
        assert!(cut.holds(&space));
        cut.place(spot(trim + 500.0, trim + 200.0));
        assert!(!cut.holds(&space));
    }
}
