//! Why a piece has no place, in words that help, in the units of the shop's sentences.

use super::bound::Bound;
use super::space::Space;
use crate::geom::pose::angle_off;
use crate::geom::{Point, pt, sum};
use crate::model::{Limits, PieceId, Shown, Slab, Unplaced, show_mm};
use crate::rules::{Turns, turns};

/// The reason for one slab, worst first: how near the slab comes decides which one is told.
#[derive(Clone, Debug)]
struct Why {
    /// Rank of closeness: greater is nearer to a place.
    rank: u32,
    text: String,
    needed: f64,
    found: f64,
}

/// Explains why a piece was not placed; `cut_short` if the search was stopped before it had tried every piece.
#[must_use]
pub fn explain(space: &Space<'_>, bound: &Bound, id: PieceId, class: usize, cut_short: bool) -> Unplaced {
    let (job, shown) = (&space.question.jobs[id.job], space.question.shop.shown);
    let piece = space.question.piece(id);
    let answer = |reason: String, needed: f64, found: f64| Unplaced {
        job: job.name.clone(),
        piece: piece.name.clone(),
        reason,
        needed,
        found,
    };
    let slabs: Vec<usize> = (0..space.question.rack.len()).filter(|&s| space.accepts(class, s)).collect();
    if slabs.is_empty() {
        return answer(
            format!("no slab of {} {} thick is on the rack", job.material, shown.said(job.thickness)),
            job.thickness,
            0.0,
        );
    }
    // Whoever stops a search does not want to wait for what could have been worked out before.
    let untried: Vec<usize> = slabs.iter().copied().filter(|&s| cut_short && bound.may[class][s]).collect();
    if !untried.is_empty() {
        let names = list(&untried, space);
        let reason = format!("it may fit {names}; the search was stopped before it had tried");
        return answer(reason, 0.0, 0.0);
    }
    let open: Vec<usize> = slabs.iter().copied().filter(|&s| space.fits_alone(class, s)).collect();
    if !open.is_empty() {
        let names = list(&open, space);
        let room: f64 = slabs.iter().map(|&s| space.slab(s).room.area()).sum();
        let all: f64 = space
            .classes
            .iter()
            .enumerate()
            .filter(|(c, _)| space.job_of(*c).accepts(&space.question.rack[slabs[0]]))
            .map(|(_, c)| c.area * c.members.len() as f64)
            .sum();
        return answer(
            format!(
                "it would fit {names} alone, but no place is left beside the other pieces ({} of pieces, {} of stone \
                 within the trim)",
                shown.said_area(all),
                shown.said_area(room)
            ),
            0.0,
            0.0,
        );
    }
    let whys: Vec<(usize, Why)> = slabs.iter().map(|&s| (s, why(space, class, s))).collect();
    let proven = slabs.iter().all(|&s| !bound.may[class][s]);
    let best = whys.iter().max_by(|a, b| {
        a.1.rank.cmp(&b.1.rank).then((b.1.needed - b.1.found).total_cmp(&(a.1.needed - a.1.found))).then(b.0.cmp(&a.0))
    });
    let Some((slab, best)) = best else { return answer("no place found".to_owned(), 0.0, 0.0) };
    let same: Vec<usize> = whys.iter().filter(|w| w.1.rank == best.rank).map(|w| w.0).collect();
    let whole =
        if same.len() == slabs.len() && slabs.len() > 1 { "for every slab that qualifies; nearest is" } else { "on" };
    let doubt = if proven { "" } else { " (at the turns that were tried)" };
    answer(format!("{} {whole} {}{doubt}", best.text, space.question.rack[*slab].name), best.needed, best.found)
}

fn list(slabs: &[usize], space: &Space<'_>) -> String {
    let names: Vec<&str> = slabs.iter().take(4).map(|&s| space.question.rack[s].name.as_str()).collect();
    let more = if slabs.len() > 4 { format!(" and {} more", slabs.len() - 4) } else { String::new() };
    names.join(", ") + &more
}

/// The cascade for one slab: size, outline, flaws; and whether another turn would do.
fn why(space: &Space<'_>, class: usize, slab: usize) -> Why {
    let (rack, shown) = (&space.question.rack[slab], space.question.shop.shown);
    let piece = space.piece_of(class);
    let all_turns = space.turns(class, slab);
    let room = space.slab(slab).room.bbox();
    // Would it lie there if the grain did not matter?
    if !matches!(turns(piece, rack), Turns::Free) {
        let free: Vec<f64> = [0.0, 90.0, 180.0, 270.0].into_iter().filter(|t| !all_turns.contains(t)).collect();
        if let Some(t) = free.iter().find(|&&t| !space.free(class, t, slab).is_empty()) {
            return Why {
                rank: 3,
                text: format!(
                    "it fits only when turned against the grain (by {} degrees)",
                    show_mm(all_turns.iter().map(|a| angle_off(*t, *a, 360.0).abs()).fold(f64::INFINITY, f64::min))
                ),
                needed: 0.0,
                found: 0.0,
            };
        }
    }
    let mut best = Why { rank: 0, text: "no room".to_owned(), needed: 0.0, found: 0.0 };
    let mut offer = |w: Why| {
        if w.rank > best.rank || (w.rank == best.rank && w.needed - w.found < best.needed - best.found) {
            best = w;
        }
    };
    for &t in &all_turns {
        let body = space.body(class, t);
        let (w, h) = (body.bbox.width(), body.bbox.height());
        let (over_w, over_h) = (w - room.width(), h - room.height());
        if over_w > 1e-6 || over_h > 1e-6 {
            let (over, needed, found, word) = if over_w >= over_h {
                (over_w, w, room.width(), "along x")
            } else {
                (over_h, h, room.height(), "along y")
            };
            let what = if (over_w >= over_h) == (w >= h) { "long" } else { "deep" };
            offer(Why {
                rank: 1,
                text: format!(
                    "too {what} by {} ({} needed {word} of the slab, {} within the trim)",
                    shown.said(over),
                    shown.said(needed),
                    shown.said(found)
                ),
                needed,
                found,
            });
            continue;
        }
        let by_rim = sum::fits(&space.slab(slab).room, &body.stone().parts);
        if by_rim.is_empty() {
            offer(Why {
                rank: 2,
                text: "it fits the slab's length and depth, but the outline leaves no place of its shape".to_owned(),
                needed: 0.0,
                found: 0.0,
            });
            continue;
        }
        // Flaws: which of them, left out, would make room?
        let n = rack.flaws.len();
        let single = (0..n).find(|&i| !space.free_with(&body, slab, crate::geom::tol::LENIENCE, Some(&[i])).is_empty());
        let (zone, opening, nearest) = closest(space, class, t, slab, &by_rim);
        let names = match single {
            Some(i) => describe(rack, i, shown),
            None => format!("its {n} flaws"),
        };
        let at = opening.map_or_else(|| format!("the {zone} of the piece"), |o| format!("the {zone} of \"{o}\""));
        offer(Why {
            rank: 4,
            text: format!(
                "every position puts {names} into or too near to {at} (closest: {} of the {} needed)",
                shown.said(nearest.max(0.0)),
                shown.said_bare(space.limits().flaw_gap)
            ),
            needed: space.limits().flaw_gap,
            found: nearest.max(0.0),
        });
    }
    best
}

fn describe(slab: &Slab, flaw: usize, shown: Shown) -> String {
    let f = &slab.flaws[flaw];
    let c = f.bbox().centre();
    format!("the {} near {}", f.kind.name(), shown.said_place(c.x, c.y))
}

/// The best distance between flaws and forbidden zones over the corners of the region that the rim leaves, with the zone and
/// the opening that it is about.
fn closest(
    space: &Space<'_>,
    class: usize,
    turn: f64,
    slab: usize,
    by_rim: &crate::geom::Region,
) -> (&'static str, Option<String>, f64) {
    let body = space.body(class, turn);
    let rack = &space.question.rack[slab];
    let mut candidates: Vec<Point> = by_rim.rings().flat_map(|r| r.points().to_vec()).collect();
    if let Some(c) = by_rim.centroid() {
        candidates.push(c);
    }
    // A coarse grid over the region as well: the best place is seldom at its rim.
    let b = by_rim.bbox();
    for i in 0..=12 {
        for j in 0..=8 {
            let p = pt(b.min.x + b.width() * f64::from(i) / 12.0, b.min.y + b.height() * f64::from(j) / 8.0);
            if by_rim.contains(p) {
                candidates.push(p);
            }
        }
    }
    let mut best = f64::NEG_INFINITY;
    let mut at = Point::default();
    for p in candidates {
        let spare = space.static_spare(&body, p, slab, true);
        if spare > best {
            best = spare;
            at = p;
        }
    }
    // Who is hit there: the first flaw and zone that realise the least distance.
    let piece = space.piece_of(class);
    let pose = crate::geom::Pose::new(turn, at);
    let mut worst: (f64, &'static str, Option<String>) = (f64::INFINITY, "field", None);
    for flaw in &rack.flaws {
        for zone in Limits::forbidden(flaw.allow).iter() {
            let region = crate::rules::forbidden_region(piece, space.limits(), crate::model::Zones::of(&[zone]));
            if region.is_empty() {
                continue;
            }
            let d = flaw.distance_to(&pose.region(&region)).distance;
            if d < worst.0 {
                let opening = (zone == crate::model::Zone::Rail || zone == crate::model::Zone::Drop)
                    .then(|| {
                        piece
                            .openings
                            .iter()
                            .map(|o| (flaw.distance_to(&pose.region(&o.ring.to_region())).distance, o.name.clone()))
                            .min_by(|a, b| a.0.total_cmp(&b.0))
                            .map(|o| o.1)
                    })
                    .flatten();
                worst = (d, zone.name(), opening);
            }
        }
    }
    (worst.1, worst.2, best + space.limits().flaw_gap)
}
