//! The flaws near an opening once its piece has a place on a slab.
//!
//! In: a piece, its slab and where it lies, the shop's limits. Out: rows of [`crate::model::openings::NearFlaw`], piece frame.
//! Zones are worked out here by the letter of the contract: rail, else edge, else hidden, else field; the drop is no stone. Must not
//! know: how plans are made or judged.

use crate::geom::{BBox, Pose, Region, Ring, boolean, distance, pt, sum};
use crate::model::openings::NearFlaw;
use crate::model::{Flaw, FlawBody, Limits, Opening, Piece, Shown, Slab, Zone, Zones};

/// Flaws farther than this from the line of an opening are not told, mm, but for the nearest one.
const REACH: f64 = 250.0;

/// By how much round borders of zones may lie too far out, mm; so much may a spare distance be too small.
const EXCESS: f64 = 0.005;

/// Touching borders are on the same line within this, mm.
const TOUCH: f64 = 0.01;

/// The zones of a piece, each as a region of the piece frame; they overlap nowhere.
struct Map(Vec<(Zone, Region)>);

impl Map {
    fn of(piece: &Piece, limits: &Limits) -> Self {
        let drop = boolean::union_all(&piece.openings.iter().map(|o| o.ring.to_region()).collect::<Vec<_>>());
        let mut rest = boolean::difference(&piece.outline.ring.to_region(), &drop);
        let near = |o: &Opening| sum::grown(&o.ring.to_region(), limits.rail_reach(o.kind), EXCESS);
        let reaches = [
            (Zone::Rail, boolean::union_all(&piece.openings.iter().map(near).collect::<Vec<_>>())),
            (Zone::Edge, edges(piece, limits.edge_zone)),
            (Zone::Hidden, hidden(piece)),
        ];
        let mut zones = Vec::with_capacity(5);
        for (zone, reach) in reaches {
            zones.push((zone, boolean::intersection(&rest, &reach)));
            rest = boolean::difference(&rest, &reach);
        }
        zones.push((Zone::Field, rest));
        zones.push((Zone::Drop, drop));
        zones.retain(|(_, r)| !r.is_empty());
        Self(zones)
    }

    /// The nearest of some zones and its distance; in order of precedence on a tie. `None` if the piece has none of them.
    fn nearest(&self, flaw: &Flaw, among: Zones) -> Option<(Zone, f64)> {
        let mut best: Option<(Zone, f64)> = None;
        for (zone, region) in self.0.iter().filter(|(z, _)| among.has(*z)) {
            let d = flaw.distance_to(region).distance;
            if d.is_finite() && best.is_none_or(|(_, least)| d < least - TOUCH / 10.0) {
                best = Some((*zone, d));
            }
        }
        best
    }
}

/// Everything within reach of a finished edge.
fn edges(piece: &Piece, reach: f64) -> Region {
    if reach <= 0.0 {
        return Region::empty();
    }
    let strips: Vec<Region> =
        piece.outline.finished_edges().map(|(a, b)| sum::grown_line(&[a, b], reach, EXCESS)).collect();
    boolean::union_all(&strips)
}

fn hidden(piece: &Piece) -> Region {
    let (b, h) = (piece.outline.ring.bbox(), piece.hidden);
    let strips = [
        (h.front, BBox { min: b.min, max: pt(b.max.x, b.min.y + h.front) }),
        (h.back, BBox { min: pt(b.min.x, b.max.y - h.back), max: b.max }),
        (h.left, BBox { min: b.min, max: pt(b.min.x + h.left, b.max.y) }),
        (h.right, BBox { min: pt(b.max.x - h.right, b.min.y), max: b.max }),
    ];
    let wide = strips.into_iter().filter(|(width, _)| *width > 0.0);
    boolean::union_all(&wide.map(|(_, b)| Ring::rectangle(b).to_region()).collect::<Vec<_>>())
}

/// A flaw of the slab as it lies in the piece frame.
#[must_use]
pub fn brought(flaw: &Flaw, pose: &Pose) -> Flaw {
    let body = match &flaw.body {
        FlawBody::Line(line) => FlawBody::Line(line.iter().map(|&p| pose.undo(p)).collect()),
        FlawBody::Area(ring) => FlawBody::Area(ring.map(|p| pose.undo(p))),
        FlawBody::Spot(p) => FlawBody::Spot(pose.undo(*p)),
    };
    Flaw { body, ..flaw.clone() }
}

/// Distance from a flaw to the line of an opening: negative where any of it is inside.
fn from_line(flaw: &Flaw, ring: &Ring) -> f64 {
    let region = ring.to_region();
    let near = flaw.distance_to(&region).distance;
    if near > 0.0 {
        return near;
    }
    // How deep it reaches: the farthest of its points from the line, and by its width.
    let off = |p| -> f64 { distance::lines(std::iter::once((p, p)), ring.edges().collect::<Vec<_>>()).distance };
    let points: &[_] = match &flaw.body {
        FlawBody::Line(line) => line,
        FlawBody::Area(area) => area.points(),
        FlawBody::Spot(p) => std::slice::from_ref(p),
    };
    let deepest = points.iter().filter(|p| ring.contains(**p)).map(|&p| off(p)).fold(0.0, f64::max);
    -(deepest + flaw.radius)
}

/// For every opening of a piece, in its order, the flaws near it; the nearest first.
///
/// The zone is the nearest one that the flaw may not touch, and `spare` what is left of the distance to it beyond `flaw_gap`.
/// A flaw that may touch every zone of the piece has the zone where it lies or which is nearest, and the plain distance to it.
/// Notes give lengths in the units `shown`.
#[must_use]
pub fn near(piece: &Piece, slab: &Slab, limits: &Limits, pose: &Pose, shown: Shown) -> Vec<Vec<NearFlaw>> {
    if piece.openings.is_empty() {
        return Vec::new();
    }
    let map = Map::of(piece, limits);
    let stone = piece.stone();
    let flaws: Vec<Flaw> = slab.flaws.iter().map(|f| brought(f, pose)).collect();
    let row = |opening: &Opening| -> Vec<NearFlaw> {
        let mut off: Vec<(usize, f64)> = flaws
            .iter()
            .enumerate()
            .map(|(k, f)| (k, from_line(f, &opening.ring)))
            .filter(|(_, d)| d.is_finite())
            .collect();
        off.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        let tell = off.iter().enumerate().filter(|(i, (_, d))| *i == 0 || *d <= REACH);
        tell.map(|(_, &(k, d))| tell_flaw(&map, &stone, (limits, shown), opening, (k + 1, &flaws[k], d))).collect()
    };
    piece.openings.iter().map(row).collect()
}

fn tell_flaw(
    map: &Map,
    stone: &Region,
    (limits, shown): (&Limits, Shown),
    opening: &Opening,
    (number, flaw, off): (usize, &Flaw, f64),
) -> NearFlaw {
    let forbidden = map.nearest(flaw, Limits::forbidden(flaw.allow));
    let lies = map.nearest(flaw, Zones::of(&Zone::ALL));
    let in_drop = off <= 0.0;
    let all_in_drop = in_drop && flaw.distance_to(stone).distance > 0.0;
    let kind = flaw.kind.name();
    let (zone, spare) = match (forbidden, lies) {
        (Some((zone, d)), _) => (zone.name(), d - limits.flaw_gap),
        (None, Some((zone, d))) => (zone.name(), d),
        (None, None) => ("drop", off),
    };
    let note = if all_in_drop && forbidden.is_some() {
        format!(
            "The {kind} lies in the drop: this is why the piece lies here. Take the drop out before the piece is moved: \"{}\" can't be \
             scored only.",
            opening.name
        )
    } else if in_drop && !all_in_drop {
        format!(
            "The {kind} runs from the drop into the stone: look at it once the drop is out. A rod is no repair for it."
        )
    } else if all_in_drop {
        format!("The {kind} falls out with the drop.")
    } else if forbidden.is_none() {
        format!("The {kind} may lie in every zone of this piece; it is {} from the line to cut.", shown.said(off))
    } else if spare < -TOUCH {
        format!("The {kind} is {} too near to the {}.", shown.said(-spare), noun(zone))
    } else {
        format!(
            "The {kind} is {} from the line to cut; it could be {} nearer to the {}.",
            shown.said(off),
            shown.said(spare.max(0.0)),
            noun(zone)
        )
    };
    let (line, closed) = drawn(flaw);
    NearFlaw {
        flaw: kind.to_owned(),
        number,
        line,
        zone: zone.to_owned(),
        spare,
        in_drop,
        distance: off,
        width: if closed { 0.0 } else { 2.0 * flaw.radius },
        closed,
        note,
    }
}

/// A zone in words: "hidden" alone is no noun.
pub(super) fn noun(zone: &str) -> &str {
    if zone == "hidden" { "hidden strip" } else { zone }
}

/// A flaw as a line, or as the border of an area; and whether it is closed.
fn drawn(flaw: &Flaw) -> (Vec<[f64; 2]>, bool) {
    /// Enough for a round spot on paper.
    const SIDES: usize = 24;
    match &flaw.body {
        FlawBody::Line(line) => (line.iter().map(|&p| p.into()).collect(), false),
        FlawBody::Area(ring) => (ring.points().iter().map(|&p| p.into()).collect(), true),
        FlawBody::Spot(p) => {
            let corner = |k: usize| {
                let (s, c) = (std::f64::consts::TAU * k as f64 / SIDES as f64).sin_cos();
                [p.x + flaw.radius * c, p.y + flaw.radius * s]
            };
            ((0..SIDES).map(corner).collect(), true)
        }
    }
}

/// True if one of these flaws lies in the drop and may not be in the stone: the drop must come out before the piece is moved, so the
/// opening can't be scored only.
#[must_use]
pub fn drop_must_come_out(flaws: &[NearFlaw], slab: &Slab) -> bool {
    let stone = [Zone::Rail, Zone::Edge, Zone::Hidden, Zone::Field];
    flaws.iter().filter(|f| f.in_drop).any(|f| {
        let flaw = f.number.checked_sub(1).and_then(|k| slab.flaws.get(k));
        flaw.is_some_and(|flaw| !stone.iter().all(|&z| flaw.allow.has(z)))
    })
}
