//! The rules for a piece by itself: openings, rails, webs, corners. Where it lies does not matter; the class and the
//! thickness of the stone do.

use super::falls_short;
use super::finding::{Draft, length, lengths};
use super::line::true_line;
use crate::geom::{Point, Region, Ring, distance, tol};
use crate::model::{Finding, Job, Limits, Opening, Piece, Rule, Shape, Shop, Shown, Slab, Tools};

/// How finely true lines are drawn for measuring rails and webs, mm: a drawing exactly at its limit must pass.
const FINE: f64 = tol::CLEARANCE / 2.0;

fn true_ring(shape: &Shape) -> Ring {
    Ring::vouched_outline(true_line(shape, FINE))
}

fn true_region(opening: &Opening) -> Region {
    true_ring(&opening.shape).to_region()
}

/// The trade advises against large openings in some stone at some thicknesses.
pub(super) fn stone_suits_openings(job: &Job, piece: &Piece, slab: &Slab, shown: Shown, findings: &mut Vec<Finding>) {
    let large = piece.openings.iter().find(|o| !o.kind.is_small());
    if let Some(opening) = large
        && slab.stone.rails(slab.thickness).advised_against
    {
        let message = format!(
            "\"{}\" has an opening \"{}\" in {} of {} ({}), and the trade advises against it",
            piece.name,
            opening.name,
            slab.stone.name(),
            length(shown, slab.thickness, 1),
            slab.name
        );
        let draft = Draft::warning(Rule::ThinForOpenings, message).piece(job, piece).slab(slab);
        findings.push(draft.opening(&opening.name).into());
    }
}

/// Every opening lies in its piece, with enough stone between it and the edge.
pub(super) fn rails_hold(job: &Job, piece: &Piece, slab: &Slab, shop: &Shop, findings: &mut Vec<Finding>) {
    let (limits, shown) = (&shop.limits, shop.shown);
    let outline = true_ring(&piece.outline.shape);
    for opening in &piece.openings {
        let near = distance::inside_ring(&true_region(opening), &outline);
        let (name, hole) = (&piece.name, &opening.name);
        if falls_short(near.distance, 0.0) {
            let found = lengths(shown, -near.distance, 0.0).0;
            let message = format!("opening \"{hole}\" sticks out of \"{name}\" by {found}");
            let draft = Draft::broken(Rule::OpeningOutsidePiece, message).piece(job, piece).opening(hole);
            findings.push(draft.at(near.from).measured(near.distance, 0.0).into());
            continue;
        }
        let rails = limits.rails(slab);
        let stop = if opening.kind.is_small() { limits.tap_rail } else { rails.stop };
        let stone = format!("{} of {}", slab.stone.name(), length(shown, slab.thickness, 1));
        if falls_short(near.distance, stop) {
            let (found, needed) = lengths(shown, near.distance, stop);
            let message = format!(
                "the rail between \"{hole}\" and the edge of \"{name}\" is {found} wide; {needed} is needed in {stone}"
            );
            let draft = Draft::broken(Rule::RailTooNarrow, message).piece(job, piece).opening(hole);
            findings.push(draft.at(near.to).measured(near.distance, stop).into());
        } else if !opening.kind.is_small() && falls_short(near.distance, rails.rod) {
            let (found, needed) = lengths(shown, near.distance, rails.rod);
            let when = if rails.rod.is_finite() { format!("below {needed}") } else { "always".to_owned() };
            let message = format!(
                "the rail between \"{hole}\" and the edge of \"{name}\" is {found} wide; {stone} wants rods {when}"
            );
            let draft = Draft::note(Rule::RailWantsRods, message).piece(job, piece).opening(hole);
            findings.push(draft.at(near.to).measured(near.distance, rails.rod).into());
        }
    }
}

/// Every two openings keep enough stone between them.
pub(super) fn webs_hold(job: &Job, piece: &Piece, limits: &Limits, shown: Shown, findings: &mut Vec<Finding>) {
    for (i, a) in piece.openings.iter().enumerate() {
        for b in &piece.openings[i + 1..] {
            let near = distance::regions(&true_region(a), &true_region(b));
            let needed = limits.web(a.kind, b.kind);
            if falls_short(near.distance, needed) {
                let (one, other, name) = (&a.name, &b.name, &piece.name);
                let message = if near.distance < -tol::CLEARANCE {
                    let (found, needed) = lengths(shown, -near.distance, needed);
                    format!(
                        "openings \"{one}\" and \"{other}\" of \"{name}\" overlap by {found}; a web of {needed} is needed"
                    )
                } else {
                    let (found, needed) = lengths(shown, near.distance, needed);
                    format!(
                        "the web between \"{one}\" and \"{other}\" of \"{name}\" is {found} wide; {needed} is needed"
                    )
                };
                let draft = Draft::broken(Rule::WebTooNarrow, message).piece(job, piece).opening(one);
                findings.push(draft.at(near.from).measured(near.distance, needed).into());
            }
        }
    }
}

/// The smallest core bit gets into every corner. In an opening a tighter corner cannot be cut; in the outline the bit
/// leaves stone in the corner, so the piece is only larger than drawn there. An opening, and an outline, is told once for all
/// its corners, at the tightest.
pub(super) fn tools_reach_corners(job: &Job, piece: &Piece, tools: &Tools, shown: Shown, findings: &mut Vec<Finding>) {
    let least = tools.least_radius();
    for opening in &piece.openings {
        let corners: Vec<(Point, f64)> = opening.inside_corners().iter().map(|c| (c.at, c.radius)).collect();
        if let Some(tight) = Tight::of(&corners, least) {
            let of = format!("of opening \"{}\" of \"{}\"", opening.name, piece.name);
            let (found, needed) = lengths(shown, tight.radius, least);
            let message = format!(
                "{} {found}; the smallest core bit makes {needed}: give the opening a corner_radius of {needed} or more",
                tight.words(&of, shown)
            );
            let draft = Draft::broken(Rule::InsideCornerTooTight, message).piece(job, piece);
            findings.push(draft.opening(&opening.name).at(tight.at).measured(tight.radius, least).into());
        }
    }
    let turns = piece.outline.shape.turns().into_iter().filter(|(_, _, outward)| !outward);
    let corners: Vec<(Point, f64)> = turns.map(|(at, radius, _)| (at, radius)).collect();
    if let Some(tight) = Tight::of(&corners, least) {
        let (found, needed) = lengths(shown, tight.radius, least);
        let message = format!(
            "{} {found}; the smallest core bit leaves {needed}",
            tight.words(&format!("of \"{}\"", piece.name), shown)
        );
        let draft = Draft::warning(Rule::InsideCornerTooTight, message).piece(job, piece);
        findings.push(draft.at(tight.at).measured(tight.radius, least).into());
    }
}

/// Inside corners that the smallest bit does not get into.
struct Tight {
    /// The tightest of them, and its radius.
    at: Point,
    radius: f64,
    /// Where they are, and how many inside corners there are in all.
    places: Vec<Point>,
    all: usize,
}

impl Tight {
    fn of(corners: &[(Point, f64)], least: f64) -> Option<Self> {
        let tight: Vec<(Point, f64)> = corners.iter().copied().filter(|c| falls_short(c.1, least)).collect();
        let &(at, radius) = tight.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Self { at, radius, places: tight.iter().map(|c| c.0).collect(), all: corners.len() })
    }

    /// How many and which, up to the radius of the tightest.
    fn words(&self, of: &str, shown: Shown) -> String {
        /// More places than these are not listed: the tightest is marked.
        const LISTED: usize = 4;
        let n = self.places.len();
        let which = match (n, self.all) {
            (1, 1) => return format!("the inside corner {of} has a radius of"),
            (n, all) if n == all => {
                return format!("all {n} inside corners {of} are too tight, the tightest has a radius of");
            }
            (1, all) => format!("1 of the {all} inside corners {of}"),
            (n, all) => format!("{n} of the {all} inside corners {of}"),
        };
        let listed: Vec<String> = self.places.iter().take(LISTED).map(|p| super::finding::place(shown, *p)).collect();
        let more = if n > LISTED { " and others" } else { "" };
        let at = format!("at {}{more} {} of the piece", listed.join(", "), shown.unit());
        if n == 1 {
            format!("{which}, {at}, has a radius of")
        } else {
            format!("{which}, {at}, are too tight, the tightest has a radius of")
        }
    }
}
