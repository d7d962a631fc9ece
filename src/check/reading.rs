//! What the plan says, held against what was asked: names resolved, numbers looked over.
//!
//! Comes in: question and plan. Goes out: the placements that can be judged, and findings about all else. No geometry.

use std::collections::{BTreeMap, BTreeSet};

use super::MOST_POINTS;
use super::finding::Draft;
use crate::geom::{Point, Pose, Region, tol};
use crate::model::{Finding, Job, Layout, Offcut, Piece, PieceId, Placed, Plan, Question, Rule, Slab};

/// A piece that stands on a slab.
pub(super) struct Standing<'a> {
    pub(super) job: &'a Job,
    pub(super) piece: &'a Piece,
    pub(super) slab: &'a Slab,
    pub(super) pose: Pose,
    pub(super) placed: &'a Placed,
}

impl Standing<'_> {
    /// The outline with its openings filled, slab frame.
    pub(super) fn filled(&self) -> Region {
        self.pose.ring(&self.piece.outline.ring).to_region()
    }

    /// What no other piece may come near: without the openings only if pieces may be laid into drops.
    pub(super) fn stone(&self, use_drops: bool) -> Region {
        if use_drops { self.pose.region(&self.piece.stone()) } else { self.filled() }
    }
}

/// A layout on a slab that exists.
pub(super) struct Sheet<'a> {
    pub(super) slab: &'a Slab,
    pub(super) layout: &'a Layout,
    pub(super) standing: Vec<Standing<'a>>,
    /// The offcuts whose numbers make sense.
    pub(super) offcuts: Vec<&'a Offcut>,
    /// True if every placement of the layout stands.
    pub(super) whole: bool,
}

/// The plan as far as it can be read.
pub(super) struct Reading<'a> {
    pub(super) sheets: Vec<Sheet<'a>>,
    /// True if every layout is on a slab that exists.
    pub(super) slabs_known: bool,
    /// True if every piece has a place and none is listed as without.
    pub(super) all_placed: bool,
    /// The slab of every piece that stands on one.
    slab_of: BTreeMap<PieceId, &'a Slab>,
}

impl<'a> Reading<'a> {
    /// Everything that stands on a slab, whichever layout says so.
    pub(super) fn standing_on(&self, slab: &str) -> impl Iterator<Item = &Standing<'a>> {
        self.sheets.iter().filter(move |s| s.slab.name == slab).flat_map(|s| &s.standing)
    }

    /// The slab whose class and thickness limit a piece: its own, or for a piece without a place the first that qualifies.
    pub(super) fn slab_to_judge_by(&self, question: &'a Question, id: PieceId, job: &Job) -> Option<&'a Slab> {
        self.slab_of.get(&id).copied().or_else(|| question.rack.iter().find(|slab| job.accepts(slab)))
    }
}

/// A finding if the plan has more points and entries than the judge looks at.
pub(super) fn too_large(plan: &Plan) -> Option<Finding> {
    let of_placed = |p: &Placed| 1 + p.outline.len() + p.openings.iter().map(|o| 1 + o.outline.len()).sum::<usize>();
    let of_layout = |l: &Layout| {
        1 + l.placed.iter().map(of_placed).sum::<usize>() + l.offcuts.iter().map(|o| 1 + o.outline.len()).sum::<usize>()
    };
    let size = plan.layouts.iter().map(of_layout).sum::<usize>() + plan.unplaced.len() + plan.jobs.len();
    (size > MOST_POINTS).then(|| {
        let message = format!("the plan has {size} points and entries; more than {MOST_POINTS} are not judged");
        Draft::broken(Rule::NumberNonsense, message).into()
    })
}

/// Resolves the names of the plan and looks its numbers over.
pub(super) fn read<'a>(question: &'a Question, plan: &'a Plan, findings: &mut Vec<Finding>) -> Reading<'a> {
    if plan.format != Plan::FORMAT {
        let message = format!("the plan's format is \"{}\"; \"{}\" is expected", plan.format, Plan::FORMAT);
        findings.push(Draft::broken(Rule::UnknownFormat, message).into());
    }
    jobs_are_those_asked(question, plan, findings);

    let pieces: BTreeMap<(&str, &str), PieceId> =
        question.pieces().map(|(id, job, piece)| ((job.name.as_str(), piece.name.as_str()), id)).collect();
    let slabs: BTreeMap<&str, &Slab> = question.rack.iter().map(|s| (s.name.as_str(), s)).collect();

    let mut sheets = Vec::new();
    let mut slabs_known = true;
    let mut laid_out: BTreeSet<&str> = BTreeSet::new();
    let mut home: BTreeMap<PieceId, &str> = BTreeMap::new();
    let mut slab_of = BTreeMap::new();
    for layout in &plan.layouts {
        if !laid_out.insert(&layout.slab) {
            let message = format!("slab {} is laid out twice", layout.slab);
            findings.push(Draft::broken(Rule::SlabUsedTwice, message).slab_name(&layout.slab).into());
        }
        let slab = slabs.get(layout.slab.as_str()).copied();
        if slab.is_none() {
            slabs_known = false;
            let message = format!("the plan cuts slab {}, which is not on the rack", layout.slab);
            findings.push(Draft::broken(Rule::UnknownSlab, message).slab_name(&layout.slab).into());
        }
        let (mut standing, mut whole) = (Vec::new(), true);
        for placed in &layout.placed {
            let Some(&id) = pieces.get(&(placed.job.as_str(), placed.piece.as_str())) else {
                whole = false;
                findings.push(unknown_piece(question, &placed.job, &placed.piece));
                continue;
            };
            if let Some(first) = home.get(&id) {
                whole = false;
                let message = format!("\"{}\" is placed twice: on {first} and on {}", placed.piece, layout.slab);
                let draft = Draft::broken(Rule::PlacedTwice, message).names(&placed.job, &placed.piece);
                findings.push(draft.slab_name(&layout.slab).into());
                continue;
            }
            home.insert(id, &layout.slab);
            let (job, piece) = (&question.jobs[id.job], question.piece(id));
            if let Some(what) = nonsense(placed, piece) {
                whole = false;
                let message = format!("\"{}\" on {} has {what}", placed.piece, layout.slab);
                let draft = Draft::broken(Rule::NumberNonsense, message).piece(job, piece);
                findings.push(draft.slab_name(&layout.slab).into());
                continue;
            }
            if let Some(slab) = slab {
                slab_of.insert(id, slab);
                standing.push(Standing { job, piece, slab, pose: placed.pose(), placed });
            }
        }
        if let Some(slab) = slab {
            let offcuts = sensible_offcuts(slab, layout, findings);
            sheets.push(Sheet { slab, layout, standing, offcuts, whole });
        }
    }
    let all_placed = everything_has_a_place(question, plan, &pieces, &home, findings);
    Reading { sheets, slabs_known, all_placed, slab_of }
}

fn jobs_are_those_asked(question: &Question, plan: &Plan, findings: &mut Vec<Finding>) {
    let mut asked: Vec<&str> = question.jobs.iter().map(|j| j.name.as_str()).collect();
    let mut named: Vec<&str> = plan.jobs.iter().map(String::as_str).collect();
    asked.sort_unstable();
    named.sort_unstable();
    if asked != named {
        let quoted = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|n| format!("\"{n}\"")).collect();
            if names.is_empty() { "no job".to_owned() } else { super::finding::listed(&names) }
        };
        let message = format!("the plan is for {}; {} was asked for", quoted(&named), quoted(&asked));
        findings.push(Draft::broken(Rule::OtherJobs, message).into());
    }
}

fn unknown_piece(question: &Question, job: &str, piece: &str) -> Finding {
    let message = if question.jobs.iter().any(|j| j.name == job) {
        format!("job \"{job}\" has no piece \"{piece}\"")
    } else {
        format!("\"{piece}\" is said to be of job \"{job}\", which was not asked for")
    };
    Draft::broken(Rule::UnknownPiece, message).names(job, piece).into()
}

/// Every piece must have a place; one that has none is a finding, whether the plan admits it or not.
fn everything_has_a_place(
    question: &Question,
    plan: &Plan,
    pieces: &BTreeMap<(&str, &str), PieceId>,
    home: &BTreeMap<PieceId, &str>,
    findings: &mut Vec<Finding>,
) -> bool {
    let mut admitted = BTreeSet::new();
    for entry in &plan.unplaced {
        let Some(&id) = pieces.get(&(entry.job.as_str(), entry.piece.as_str())) else {
            findings.push(unknown_piece(question, &entry.job, &entry.piece));
            continue;
        };
        if !admitted.insert(id) {
            continue;
        }
        let message = match home.get(&id) {
            Some(slab) => format!("\"{}\" is listed as without a place, and lies on {slab}", entry.piece),
            None if entry.reason.is_empty() => format!("\"{}\" has no place", entry.piece),
            None => format!("\"{}\" has no place: {}", entry.piece, entry.reason),
        };
        let draft = Draft::broken(Rule::Unplaced, message).names(&entry.job, &entry.piece);
        let one_number_tells = entry.needed != 0.0 || entry.found != 0.0;
        let draft = if one_number_tells { draft.measured(entry.found, entry.needed) } else { draft };
        findings.push(draft.into());
    }
    let mut all_placed = admitted.is_empty();
    for (id, job, piece) in question.pieces() {
        if !home.contains_key(&id) && !admitted.contains(&id) {
            let message = format!("\"{}\" has no place, and the plan does not say so", piece.name);
            findings.push(Draft::broken(Rule::Unplaced, message).piece(job, piece).into());
        }
        all_placed &= home.contains_key(&id);
    }
    all_placed
}

/// Largest turn that is taken for one, degrees: ten full turns. Nobody means more; a number beyond it is a slip.
const MOST_TURN: f64 = 3600.0;

/// Most points of one outline: far more than any flattened outline has, few enough to compare all with all.
const MOST_OUTLINE: usize = 4000;

/// Most offcuts of one slab: few enough to compare all with all.
const MOST_OFFCUTS: usize = 200;

fn is_a_turn(degrees: f64) -> bool {
    degrees.abs() <= MOST_TURN
}

fn in_range(p: [f64; 2]) -> bool {
    let p = Point::from(p);
    p.is_finite() && p.x.abs() <= 2.0 * tol::MAX_COORD && p.y.abs() <= 2.0 * tol::MAX_COORD
}

/// What is wrong with the numbers of a placement.
fn nonsense(placed: &Placed, piece: &Piece) -> Option<String> {
    let [x, y] = placed.shift;
    if !is_a_turn(placed.turn) {
        return Some(format!("a turn of {} degrees; at most {MOST_TURN} either way make sense", placed.turn));
    }
    if !(x.abs() <= tol::MAX_COORD && y.abs() <= tol::MAX_COORD) {
        return Some(format!("a shift of ({x}, {y}) mm; at most {} mm either way make sense", tol::MAX_COORD));
    }
    let ring = piece.outline.ring.points().len();
    nonsense_line("an outline", &placed.outline, ring).or_else(|| {
        placed.openings.iter().find_map(|given| {
            let ring = piece.openings.iter().map(|o| o.ring.points().len()).max().unwrap_or(0);
            nonsense_line(&format!("an outline of opening \"{}\"", given.opening), &given.outline, ring)
        })
    })
}

/// What is wrong with an outline; none at all is not wrong, it is only not given.
fn nonsense_line(what: &str, line: &[[f64; 2]], own: usize) -> Option<String> {
    // A traced outline may have many points; another program may give it more, within reason.
    let most = MOST_OUTLINE.max(20 * own);
    match line.len() {
        0 => None,
        n @ 1..=2 => Some(format!("{what} of {n} points; 3 or more are needed")),
        n if n > most => Some(format!("{what} of {n} points; at most {most} make sense")),
        _ => line
            .iter()
            .find(|&&p| !in_range(p))
            .map(|[x, y]| format!("{what} with a point ({x}, {y}), which lies nowhere on a slab")),
    }
}

fn sensible_offcuts<'a>(slab: &Slab, layout: &'a Layout, findings: &mut Vec<Finding>) -> Vec<&'a Offcut> {
    let mut say = |what: String| {
        let message = format!("{} {what}", slab.name);
        findings.push(Draft::broken(Rule::NumberNonsense, message).slab(slab).into());
    };
    if layout.offcuts.len() > MOST_OFFCUTS {
        say(format!("has {} offcuts; at most {MOST_OFFCUTS} make sense", layout.offcuts.len()));
        return Vec::new();
    }
    let mut sensible = Vec::new();
    for (i, offcut) in layout.offcuts.iter().enumerate() {
        let r = &offcut.rectangle;
        let size_makes_sense = r.size.iter().all(|&s| s > 0.0 && s <= tol::MAX_COORD);
        if !in_range(r.corner) || !is_a_turn(r.turn) || !size_makes_sense {
            let ([x, y], [w, h]) = (r.corner, r.size);
            say(format!("has an offcut {} whose rectangle of {w} x {h} mm at ({x}, {y}) makes no sense", i + 1));
        } else if let Some(what) = nonsense_line("an outline", &offcut.outline, 0) {
            say(format!("has an offcut {} with {what}", i + 1));
        } else {
            sensible.push(offcut);
        }
    }
    sensible
}
