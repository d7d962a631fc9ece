//! The stone left round an opening: how wide its rails and webs are along their length, and whether that is enough.
//!
//! In: a piece, one of its openings, the slab, the limits. Out: [`Rail`]s. Must not know: where the piece lies on the slab.
//!
//! The plane round an opening is divided by the four lines of its bounding box. What lies straight in front of it bounds the
//! front rail, and so on. Beyond a corner there is a rail only where the stone has a neck: where the outline comes nearer than
//! it does before and after. It belongs to the side that the way across the neck runs in most. So the narrowest of the four rails
//! is the distance from the opening to the outline.

use crate::geom::distance::{self, Nearest, segment_contact};
use crate::geom::{BBox, Point, Ring, pt, tol};
use crate::model::openings::{Rail, RailVerdict};
use crate::model::{Limits, Opening, Piece, Slab};

use super::line;

/// Places at which a profile is measured, besides the narrowest.
const PLACES: usize = 25;

/// Where every rail of a stone wants rods, stone wider than this many rail zones is field and no rail (ours).
const FIELD: f64 = 3.0;

/// Distances within this are the same, mm.
const SAME: f64 = 1e-9;

/// The sides of an opening, in the order in which rails are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Facing {
    Front,
    Right,
    Back,
    Left,
}

impl Facing {
    pub(super) const ALL: [Self; 4] = [Self::Front, Self::Right, Self::Back, Self::Left];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Right => "right",
            Self::Back => "back",
            Self::Left => "left",
        }
    }

    pub(super) const fn outwards(self) -> Point {
        match self {
            Self::Front => pt(0.0, -1.0),
            Self::Right => pt(1.0, 0.0),
            Self::Back => pt(0.0, 1.0),
            Self::Left => pt(-1.0, 0.0),
        }
    }

    /// True if its rail runs along x.
    pub(super) const fn runs_along_x(self) -> bool {
        matches!(self, Self::Front | Self::Back)
    }

    /// The side that a way across the stone leaves by.
    pub(super) fn of(way: Point) -> Self {
        match (way.y.abs() >= way.x.abs(), way.y < 0.0, way.x < 0.0) {
            (true, true, _) => Self::Front,
            (true, false, _) => Self::Back,
            (false, _, true) => Self::Left,
            (false, _, false) => Self::Right,
        }
    }
}

/// The rails of an opening: front, right, back, left, then webs in the order of the other openings. A rail or web that another
/// large opening lies across is left out: the webs to that one stand for it. Empty if the piece has no opening of that number.
///
/// Widths are those of the true shapes, mm. An opening that sticks out of its piece has rails of that negative width.
#[must_use]
pub fn rails(piece: &Piece, opening: usize, slab: &Slab, limits: &Limits) -> Vec<Rail> {
    let Some(own) = piece.openings.get(opening) else { return Vec::new() };
    let ring = line::outer(&own.shape);
    let outline = line::outer(&piece.outline.shape);
    let others: Vec<(&Opening, Ring)> = piece
        .openings
        .iter()
        .enumerate()
        .filter(|&(i, _)| i != opening)
        .map(|(_, o)| (o, line::outer(&o.shape)))
        .collect();
    let across: Vec<&Ring> = others.iter().filter(|(o, _)| !o.kind.is_small()).map(|(_, r)| r).collect();
    let inside = distance::inside_ring(&ring.to_region(), &outline).distance;
    let by_slab = limits.rails(slab);
    let (stop, rod) = if own.kind.is_small() { (limits.tap_rail, 0.0) } else { (by_slab.stop, by_slab.rod) };
    let field = FIELD * limits.rail_zone;
    let rail = |side: String, measured: Measured, (stop, rod): (f64, f64), span: f64| {
        let Measured { profile, least, at } = measured;
        let verdict = if falls_short(least, stop) {
            RailVerdict::Stop
        } else if falls_short(least, rod) && (rod.is_finite() || least < field) {
            RailVerdict::Rod
        } else {
            RailVerdict::Fine
        };
        let rod = rod.is_finite().then_some(rod);
        Rail { side, least, at: at.map(Into::into), stop, rod, verdict, profile, span }
    };
    let mut found = Vec::new();
    for (facing, near) in Facing::ALL.into_iter().zip(nearest_by_facing(&ring, &outline, &across, field)) {
        let Some(near) = near else { continue };
        let scene = Scene { ring: &ring, beyond: &outline, across: &across };
        let mut measured = scene.profile(facing, near, None);
        if inside < -tol::CLEARANCE {
            measured.least = inside;
        }
        found.push(rail(facing.name().to_owned(), measured, (stop, rod), span(&ring.bbox(), facing)));
    }
    for (i, (other, to)) in others.iter().enumerate() {
        let near = distance::regions(&ring.to_region(), &to.to_region());
        let between: Vec<&Ring> = others
            .iter()
            .enumerate()
            .filter(|&(k, (o, _))| k != i && !o.kind.is_small())
            .map(|(_, (_, r))| r)
            .collect();
        if crosses(near.from, near.to, &between) {
            continue;
        }
        let facing = Facing::of(near.to - near.from);
        let overlap = overlap(&ring.bbox(), &to.bbox(), facing);
        let scene = Scene { ring: &ring, beyond: to, across: &between };
        let measured = scene.profile(facing, near, Some(overlap));
        let small = own.kind.is_small() || other.kind.is_small();
        let needed = (limits.web(own.kind, other.kind), if small { 0.0 } else { by_slab.rod });
        found.push(rail(format!("to {}", other.name), measured, needed, (overlap[1] - overlap[0]).max(0.0)));
    }
    found
}

/// True if a width falls short of what is needed by more than [`tol::CLEARANCE`].
pub(super) fn falls_short(found: f64, needed: f64) -> bool {
    needed - found > tol::CLEARANCE
}

/// From where to where a box reaches along the rail on a side.
const fn reach(b: &BBox, facing: Facing) -> [f64; 2] {
    if facing.runs_along_x() { [b.min.x, b.max.x] } else { [b.min.y, b.max.y] }
}

fn span(b: &BBox, facing: Facing) -> f64 {
    let [from, to] = reach(b, facing);
    to - from
}

/// The stretch along which two boxes face one another; empty (the end before the start) if they do not.
fn overlap(a: &BBox, b: &BBox, facing: Facing) -> [f64; 2] {
    let ([a0, a1], [b0, b1]) = (reach(a, facing), reach(b, facing));
    [a0.max(b0), a1.min(b1)]
}

/// True if the way from `a` to `b` crosses one of the rings.
fn crosses(a: Point, b: Point, rings: &[&Ring]) -> bool {
    rings.iter().any(|r| r.edges().any(|(c, d)| segment_contact(a, b, c, d).is_some()))
}

/// The nearest places of the outline on each side, in the order of [`Facing::ALL`]; `None` where another opening lies across.
/// Stone wider than `field` is no rail.
fn nearest_by_facing(ring: &Ring, outline: &Ring, across: &[&Ring], field: f64) -> [Option<Nearest>; 4] {
    let b = ring.bbox();
    // What another opening may hide is looked at by itself.
    let mut lines: Vec<(bool, f64)> = vec![(true, b.min.x), (true, b.max.x), (false, b.min.y), (false, b.max.y)];
    for other in across {
        let o = other.bbox();
        lines.extend([(true, o.min.x), (true, o.max.x), (false, o.min.y), (false, o.max.y)]);
    }
    let mut parts: Vec<(Point, Point, Option<Facing>)> = Vec::new();
    for (p, q) in outline.edges() {
        let mut cuts = vec![0.0, 1.0];
        for &(is_x, value) in &lines {
            let (from, to) = if is_x { (p.x, q.x) } else { (p.y, q.y) };
            let t = (value - from) / (to - from);
            if t > 0.0 && t < 1.0 {
                cuts.push(t);
            }
        }
        cuts.sort_by(f64::total_cmp);
        parts.extend(cuts.windows(2).map(|pair| {
            let (from, to) = (p.lerp(q, pair[0]), p.lerp(q, pair[1]));
            let m = from.lerp(to, 0.5);
            let straight = match ((b.min.x..=b.max.x).contains(&m.x), (b.min.y..=b.max.y).contains(&m.y)) {
                (true, false) => Some(if m.y < b.min.y { Facing::Front } else { Facing::Back }),
                (false, true) => Some(if m.x < b.min.x { Facing::Left } else { Facing::Right }),
                _ => None,
            };
            (from, to, straight)
        }));
    }
    let nearest = |i: usize| distance::lines(edges(ring), [(parts[i].0, parts[i].1)]);
    let n = parts.len();
    let mut best: [Option<Nearest>; 4] = [None; 4];
    // What lies straight ahead first; what lies beyond a corner counts only beside that, or if it is near.
    for is_straight in [true, false] {
        let ahead = best.map(|b| b.is_some());
        for (i, &(from, to, straight)) in parts.iter().enumerate().filter(|(_, p)| p.2.is_some() == is_straight) {
            let gap = BBox::of(&[from, to]).gap(&b);
            let farther = |slot: &Option<Nearest>| slot.is_some_and(|s| s.distance <= gap);
            if straight.map_or_else(|| best.iter().all(farther), |facing| farther(&best[facing as usize])) {
                continue;
            }
            let near = nearest(i);
            let facing = straight.unwrap_or_else(|| Facing::of(near.to - near.from)) as usize;
            // Beyond a corner a side that only runs on from where it is nearer makes no rail of its own.
            let is_neck =
                || [(i + n - 1) % n, (i + 1) % n].iter().all(|&k| nearest(k).distance >= near.distance - SAME);
            if best[facing].is_none_or(|s| near.distance < s.distance)
                && (is_straight || ((ahead[facing] || near.distance < field) && is_neck()))
                && !crosses(near.from, near.to, across)
            {
                best[facing] = Some(near);
            }
        }
    }
    best
}

/// The sides of a ring, to be walked more than once.
fn edges(ring: &Ring) -> impl Iterator<Item = (Point, Point)> + Clone + '_ {
    let points = ring.points();
    (0..points.len()).map(move |i| (points[i], points[(i + 1) % points.len()]))
}

/// A rail as measured, mm.
struct Measured {
    /// Places along it from its low end, and its width there.
    profile: Vec<[f64; 2]>,
    /// Its least width.
    least: f64,
    /// Between which points it is so wide.
    at: [Point; 2],
}

/// An opening and what lies across its rail.
struct Scene<'a> {
    ring: &'a Ring,
    beyond: &'a Ring,
    across: &'a [&'a Ring],
}

impl Scene<'_> {
    /// Widths along the rail on a side, from the low end of `stretch` (default: all of the opening) on, with the narrowest
    /// among them; the least width, and its two points, in the middle of the stretch where it is as narrow there.
    ///
    /// The width at a place is the distance from the opening's outermost point there to the line beyond, straight ahead or
    /// aslant, whichever is less. Aslant it may be a little less than the nearest place that was found for the side, where
    /// that stands for a stretch of line which is nearest to another side; then the less counts.
    fn profile(&self, facing: Facing, near: Nearest, stretch: Option<[f64; 2]>) -> Measured {
        let [from, to] = stretch.unwrap_or_else(|| reach(&self.ring.bbox(), facing));
        let place_of = |p: Point| if facing.runs_along_x() { p.x } else { p.y };
        let mut widths: Vec<(f64, Nearest)> = Vec::with_capacity(PLACES + 1);
        let mut middle = None;
        if to > from {
            for k in 0..PLACES {
                let place = from + (to - from) * k as f64 / (PLACES - 1) as f64;
                let width = self.width(facing, place);
                widths.extend(width.map(|w| (place, w)));
                if k == PLACES / 2 {
                    middle = width;
                }
            }
        }
        let least = widths.iter().fold(near, |n, w| n.min(w.1));
        let shown = middle.filter(|m| m.distance <= least.distance + tol::LENIENCE).unwrap_or(least);
        widths.push((place_of(least.from).clamp(from.min(to), to.max(from)), least));
        widths.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.distance.total_cmp(&b.1.distance)));
        widths.dedup_by(|later, kept| later.0 == kept.0);
        let profile = widths.into_iter().map(|(place, n)| [place - from, n.distance]).collect();
        Measured { profile, least: least.distance, at: [shown.from, shown.to] }
    }

    /// The width at a place along the rail; `None` where there is no stone, or another opening lies across.
    fn width(&self, facing: Facing, place: f64) -> Option<Nearest> {
        let out = facing.outwards();
        let p = crossings(self.ring, facing, place).reduce(|p, q| if q.dot(out) > p.dot(out) { q } else { p })?;
        let ahead = crossings(self.beyond, facing, place).filter(|q| (*q - p).dot(out) >= 0.0).map(|q| Nearest {
            distance: p.distance(q),
            from: p,
            to: q,
        });
        // Aslant only where the line comes nearer than before and after.
        let line = self.beyond.points();
        let n = line.len();
        let feet: Vec<Point> = (0..n).map(|i| distance::nearest_on_segment(p, line[i], line[(i + 1) % n])).collect();
        let aslant = (0..n).filter_map(|i| {
            let (q, corner) = (feet[i], line[(i + 1) % n]);
            // A corner counts with the side that ends there.
            let is_at = |q: Point, corner: Point| q.distance(corner) <= SAME;
            let is_neck = if is_at(q, corner) { is_at(feet[(i + 1) % n], corner) } else { !is_at(q, line[i]) };
            (is_neck && Facing::of(q - p) == facing).then(|| Nearest { distance: p.distance(q), from: p, to: q })
        });
        let near = ahead.chain(aslant).reduce(Nearest::min)?;
        (!crosses(near.from, near.to, self.across)).then_some(near)
    }
}

/// Where a ring crosses the line straight across a rail at a place.
fn crossings(ring: &Ring, facing: Facing, place: f64) -> impl Iterator<Item = Point> + '_ {
    ring.edges().flat_map(move |(a, b)| {
        let (s, t) = if facing.runs_along_x() { (a.x, b.x) } else { (a.y, b.y) };
        if s.min(t) > place || s.max(t) < place {
            [None, None]
        } else if s == t {
            [Some(a), Some(b)]
        } else {
            [Some(a.lerp(b, ((place - s) / (t - s)).clamp(0.0, 1.0))), None]
        }
        .into_iter()
        .flatten()
    })
}
