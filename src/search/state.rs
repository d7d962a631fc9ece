//! A plan in the making: which classes lie where, and which have no place yet.

use std::sync::Arc;

use super::space::Space;
use crate::geom::{BBox, Point, Pose, Region, boolean, pt, rectangle, sum};
use crate::model::Limits;
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

/// What a state is worth, better first: less missing, cheaper, more offcut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Score {
    /// Area of what is missing, mm².
    pub missing: f64,
    /// Price of the slabs that are cut.
    pub cost: f64,
    /// Worth of their largest rectangles.
    pub worth: f64,
}

impl Score {
    /// True if `self` is better than `other` by more than rounding.
    #[must_use]
    pub fn beats(&self, other: &Self) -> bool {
        const CENT: f64 = 0.005;
        if (self.missing - other.missing).abs() > 1.0 {
            return self.missing < other.missing;
        }
        if (self.cost - other.cost).abs() > CENT {
            return self.cost < other.cost;
        }
        self.worth > other.worth + CENT
    }
}

impl Cut {
    /// A slab with nothing on it yet.
    #[must_use]
    pub fn empty(slab: usize) -> Self {
        Self { slab, spots: Vec::new(), rest: None, signature: SIGNATURE_SEED }
    }

    /// Puts a body on it.
    pub fn place(&mut self, spot: Spot) {
        self.signature = signed(self.signature, &spot);
        self.spots.push(spot);
        self.rest = None;
    }

    /// Takes the body at that index off again.
    pub fn take(&mut self, index: usize) -> Spot {
        self.rest = None;
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

    /// What is left of the slab for a plain rectangle: trim and gaps kept, flaws that the field may not touch kept away.
    /// Round borders lie up to `excess` (mm) too far in.
    #[must_use]
    pub fn rest_region(&self, space: &Space<'_>, excess: f64) -> Region {
        let limits = space.limits();
        let slab = &space.question.rack[self.slab];
        let mut out = space.slab(self.slab).room.clone();
        let mut taken: Vec<Region> = Vec::new();
        for spot in &self.spots {
            let body = space.body(spot.class, spot.turn);
            let stone = Pose::new(0.0, spot.shift).region(&body.stone().region);
            taken.push(sum::grown(&filled(&stone), limits.gap, excess));
        }
        for flaw in &slab.flaws {
            if Limits::offcut_zones().iter().any(|z| !flaw.allow.has(z)) {
                taken.push(flaw.grown(limits.flaw_gap, excess));
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
        let found = rectangle::largest(&self.rest_region(space, 1.0), &self.directions(), &want);
        self.rest = Some(found);
        found
    }

    /// Directions in which a rectangle is looked for: the slab's own axes and the turns of its pieces, in `[0, 90)`.
    #[must_use]
    pub fn directions(&self) -> Vec<f64> {
        let mut out = vec![0.0];
        for spot in &self.spots {
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

    /// Area of the bodies on it, mm².
    #[must_use]
    pub fn used(&self, space: &Space<'_>) -> f64 {
        self.spots.iter().map(|s| space.classes[s.class].area).sum()
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
    /// Everything missing, the given slabs at hand.
    #[must_use]
    pub fn empty(space: &Space<'_>, slabs: &[usize]) -> Self {
        let missing = space
            .classes
            .iter()
            .enumerate()
            .flat_map(|(c, class)| std::iter::repeat_n(c, class.members.len()))
            .collect();
        Self { cuts: slabs.iter().map(|&s| Cut::empty(s)).collect(), missing }
    }

    /// Area of what is missing, mm².
    #[must_use]
    pub fn missing_area(&self, space: &Space<'_>) -> f64 {
        self.missing.iter().map(|&c| space.classes[c].area).sum()
    }

    /// Price of the slabs that are cut.
    #[must_use]
    pub fn cost(&self, space: &Space<'_>) -> f64 {
        self.cuts.iter().filter(|c| !c.spots.is_empty()).map(|c| space.question.rack[c.slab].price).sum()
    }

    /// What it is worth.
    pub fn score(&mut self, space: &Space<'_>) -> Score {
        // What is left over counts only once everything has a place.
        let worth = if self.missing.is_empty() {
            self.cuts.iter_mut().filter(|c| !c.spots.is_empty()).map(|c| c.worth(space)).sum()
        } else {
            0.0
        };
        Score { missing: self.missing_area(space), cost: self.cost(space), worth }
    }

    /// Adds a class to what is missing.
    pub fn miss(&mut self, class: usize) {
        let at = self.missing.partition_point(|&c| c < class);
        self.missing.insert(at, class);
    }

    /// Drops slabs without pieces and puts the rest in rack order.
    pub fn tidy(&mut self) {
        self.cuts.retain(|c| !c.spots.is_empty());
        self.cuts.sort_by_key(|c| c.slab);
    }
}

/// Middle of a body's box at a shift.
#[must_use]
pub fn middle(body: &Body, shift: Point) -> Point {
    body.bbox.centre() + pt(shift.x, shift.y)
}
