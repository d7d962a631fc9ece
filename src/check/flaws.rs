//! Flaws keep away from the zones that they may not touch.

use super::falls_short;
use super::finding::{Draft, lengths, listed, place};
use super::reading::{Reading, Standing};
use super::zones::Zones;
use crate::geom::distance::Nearest;
use crate::geom::{distance, tol};
use crate::model::{Finding, Flaw, FlawKind, Limits, Rule, Shown, Zone};

/// How near a flaw comes to each zone that it may not touch, in order of precedence.
fn distances<'a>(s: &'a Standing, limits: &Limits) -> Vec<(&'a Flaw, Vec<(Zone, Nearest)>)> {
    let choosy: Vec<&Flaw> = s.slab.flaws.iter().filter(|f| !Limits::forbidden(f.allow).is_empty()).collect();
    if choosy.is_empty() {
        return Vec::new();
    }
    let zones = Zones::of(s.piece, limits);
    let regions = Zone::ALL.map(|zone| (zone, s.pose.region(zones.region(zone))));
    choosy
        .into_iter()
        .map(|flaw| {
            let forbidden = regions.iter().filter(|(zone, _)| Limits::forbidden(flaw.allow).has(*zone));
            (flaw, forbidden.map(|(zone, region)| (*zone, flaw.distance_to(region))).collect())
        })
        .collect()
}

/// One finding for every flaw that comes too near to a piece: it names all zones concerned, and measures the nearest.
pub(super) fn keep_away(s: &Standing, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    for (flaw, distances) in distances(s, limits) {
        let too_near: Vec<(Zone, Nearest)> =
            distances.into_iter().filter(|(_, near)| falls_short(near.distance, limits.flaw_gap)).collect();
        let nearest = too_near.iter().fold(Nearest::NONE, |best, (_, near)| best.min(*near));
        if too_near.is_empty() {
            continue;
        }
        let opening = too_near.iter().find(|(zone, _)| *zone == Zone::Rail).and_then(|(_, near)| opening_near(s, near));
        let words: Vec<String> = too_near.iter().map(|(zone, _)| in_words(*zone, opening)).collect();
        let (kind, name, slab) = (named(flaw.kind), &s.piece.name, &s.slab.name);
        let (at, zones) = (place(shown, nearest.from), listed(&words));
        let message = if nearest.distance <= tol::CLEARANCE {
            let needed = lengths(shown, nearest.distance, limits.flaw_gap).1;
            format!("{kind} at {at} on {slab} touches {zones} of \"{name}\"; {needed} between them is needed")
        } else {
            let (found, needed) = lengths(shown, nearest.distance, limits.flaw_gap);
            format!("{kind} at {at} on {slab} lies {found} from {zones} of \"{name}\"; {needed} is needed")
        };
        let draft = Draft::broken(Rule::FlawInZone, message).piece(s.job, s.piece).slab(s.slab);
        let draft = match opening {
            Some(opening) => draft.opening(opening),
            None => draft,
        };
        findings.push(draft.at(nearest.from).measured(nearest.distance, limits.flaw_gap).into());
    }
}

/// The smallest distance beyond the flaw gap over everything that stands; `None` if no flaw bears on it.
pub(super) fn least_margin(reading: &Reading, limits: &Limits) -> Option<f64> {
    reading
        .sheets
        .iter()
        .flat_map(|sheet| &sheet.standing)
        .flat_map(|s| distances(s, limits))
        .flat_map(|(_, distances)| distances)
        .map(|(_, near)| near.distance - limits.flaw_gap)
        .filter(|margin| margin.is_finite())
        .reduce(f64::min)
}

/// The opening whose rail a flaw comes near.
fn opening_near<'a>(s: &'a Standing, near: &Nearest) -> Option<&'a str> {
    let p = s.pose.undo(near.to);
    let off = |ring: &crate::geom::Ring| distance::point_to_region(p, &ring.to_region()).distance;
    s.piece.openings.iter().min_by(|a, b| off(&a.ring).total_cmp(&off(&b.ring))).map(|o| o.name.as_str())
}

fn in_words(zone: Zone, opening: Option<&str>) -> String {
    match (zone, opening) {
        (Zone::Rail, Some(opening)) => format!("the rail at \"{opening}\""),
        (Zone::Rail, None) => "the rail".to_owned(),
        (Zone::Edge, _) => "the finished edge".to_owned(),
        (Zone::Hidden, _) => "the hidden strip".to_owned(),
        (Zone::Field, _) => "the field".to_owned(),
        (Zone::Drop, _) => "the drop".to_owned(),
    }
}

fn named(kind: FlawKind) -> String {
    format!("a {}", kind.name())
}
