//! What an earlier plan means to this search: what must stay, what should, and which names lie where.
//!
//! In comes a plan, made by this program, edited by hand, or from elsewhere. Names that the question does not have are
//! passed over here; whoever reads the plan from a file tells them. Only the placements count: outlines and figures of
//! the plan are not believed, but an outline that is not the piece's any more tells that something was changed.

use std::collections::{BTreeMap, BTreeSet};

use super::settle;
use super::space::Space;
use super::state::{Cut, Spot, State};
use crate::geom::pose::angle_off;
use crate::geom::{Point, Pose, Region, Ring, distance, tol};
use crate::model::{Piece, PieceId, Placed, Plan, Question};
use crate::rules::{Turns, claimed, turns};

/// A body that lies within this (mm) of where it lay has not moved.
const SAME_PLACE: f64 = 0.05;

/// An outline in a plan that is off by more than this (mm) is not that of the piece where the plan puts it: both may have been
/// flattened by [`tol::FLATTEN`] to either side.
const SAME_OUTLINE: f64 = 2.0 * tol::FLATTEN + 0.01;

/// How firmly a placement of the earlier plan holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// It must stay where it is; never part of a [`State`].
    Pinned,
    /// It should stay: leaving it counts against a plan. The question has changed since.
    Wished,
    /// It is a start like any other, and gives the piece its name.
    Start,
}

/// One placement of the earlier plan that obeys the rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Remembered {
    /// Which piece.
    pub id: PieceId,
    /// Where.
    pub spot: Spot,
    /// How firmly.
    pub hold: Hold,
}

/// The earlier plan, by slab. Empty if there is none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Past {
    slabs: BTreeMap<usize, Vec<Remembered>>,
}

impl Past {
    /// Everything remembered of a slab, in the order of the plan.
    fn on(&self, slab: usize) -> &[Remembered] {
        self.slabs.get(&slab).map_or(&[], Vec::as_slice)
    }

    /// What is pinned on a slab.
    pub fn pins(&self, slab: usize) -> impl Iterator<Item = &Remembered> {
        self.on(slab).iter().filter(|r| r.hold == Hold::Pinned)
    }

    /// What is pinned anywhere.
    pub fn all_pins(&self) -> impl Iterator<Item = &Remembered> {
        self.slabs.values().flatten().filter(|r| r.hold == Hold::Pinned)
    }

    /// True if something is pinned on the slab: it is cut in any case.
    #[must_use]
    pub fn is_open(&self, slab: usize) -> bool {
        self.pins(slab).next().is_some()
    }

    /// Slabs on which something is pinned, ascending.
    pub fn open_slabs(&self) -> impl Iterator<Item = usize> {
        self.slabs.keys().copied().filter(|&s| self.is_open(s))
    }

    /// True if a body of the class lies somewhere in the earlier plan and may move.
    #[must_use]
    pub fn has_place_for(&self, class: usize) -> bool {
        self.slabs.values().flatten().any(|r| r.spot.class == class && r.hold != Hold::Pinned)
    }

    /// True if this spot should stay where it is.
    #[must_use]
    pub fn wishes(&self, slab: usize, spot: &Spot) -> bool {
        self.on(slab).iter().any(|r| r.hold == Hold::Wished && same_place(&r.spot, spot))
    }

    /// True if bodies that are moved count.
    #[must_use]
    pub fn counts_moves(&self) -> bool {
        self.slabs.values().flatten().any(|r| r.hold == Hold::Wished)
    }

    /// What should stay and does not lie where it should, by slab.
    pub fn moved<'a>(&'a self, state: &'a State) -> impl Iterator<Item = (usize, Spot)> + 'a {
        self.slabs.iter().flat_map(move |(&slab, all)| {
            let cut = state.cuts.iter().find(|c| c.slab == slab);
            all.iter()
                .filter(move |r| {
                    let there = cut.is_some_and(|c| c.spots.iter().any(|s| same_place(&r.spot, s)));
                    r.hold == Hold::Wished && !there
                })
                .map(move |r| (slab, r.spot))
        })
    }

    /// Whose place a spot is, if it is that of a piece of the earlier plan.
    #[must_use]
    pub fn owner(&self, slab: usize, spot: &Spot) -> Option<PieceId> {
        self.on(slab).iter().find(|r| r.hold != Hold::Pinned && same_place(&r.spot, spot)).map(|r| r.id)
    }

    /// The state of everything remembered that is not pinned, the rest missing.
    #[must_use]
    pub fn start(&self, space: &Space<'_>) -> State {
        let mut state = State::empty(space, &[]);
        for (&slab, all) in &self.slabs {
            let mut cut = Cut::empty(slab);
            for r in all.iter().filter(|r| r.hold != Hold::Pinned) {
                if let Ok(at) = state.missing.binary_search(&r.spot.class) {
                    state.missing.remove(at);
                    cut.place(r.spot);
                }
            }
            state.cuts.retain(|c| c.slab != slab);
            state.cuts.push(cut);
        }
        state.tidy(space);
        state
    }
}

fn same_place(a: &Spot, b: &Spot) -> bool {
    a.class == b.class
        && angle_off(a.turn, b.turn, 360.0).abs() <= 10.0 * tol::ANGLE
        && a.shift.distance(b.shift) <= SAME_PLACE
}

/// A placement of the plan that the question understands.
struct Candidate {
    slab: usize,
    remembered: Remembered,
    /// What the piece in place claims.
    stone: Region,
    /// The plan draws another outline than the piece has now.
    changed: bool,
}

/// Reads an earlier plan. What is pinned stays whatever it breaks: that was for others to judge. Of the rest, what breaks a
/// rule now is forgotten, changed pieces first where two are too close.
#[must_use]
pub fn read(space: &Space<'_>, plan: &Plan) -> Past {
    let all = candidates(space, plan);
    let known = all.len();
    let (pinned, open): (Vec<_>, Vec<_>) = all.into_iter().partition(|c| c.remembered.hold == Hold::Pinned);
    let open: Vec<Candidate> = open
        .into_iter()
        .filter(|c| stands(space, c) && pinned.iter().all(|p| p.slab != c.slab || !too_close(space, p, c)))
        .collect();
    let open = apart(space, open);
    let wanted = space.question.pieces().count();
    let changed = known < wanted
        || pinned.len() + open.len() < known
        || open.iter().any(|c| c.changed)
        || pinned.iter().any(|c| c.changed);
    let hold = if changed { Hold::Wished } else { Hold::Start };
    let mut past = Past::default();
    for mut c in pinned.into_iter().chain(open) {
        if c.remembered.hold != Hold::Pinned {
            c.remembered.hold = hold;
        }
        past.slabs.entry(c.slab).or_default().push(c.remembered);
    }
    past
}

fn candidates(space: &Space<'_>, plan: &Plan) -> Vec<Candidate> {
    let question = space.question;
    let pieces: BTreeMap<(&str, &str), PieceId> =
        question.pieces().map(|(id, job, piece)| ((job.name.as_str(), piece.name.as_str()), id)).collect();
    let slabs: BTreeMap<&str, usize> = question.rack.iter().enumerate().map(|(i, s)| (s.name.as_str(), i)).collect();
    let classes: BTreeMap<PieceId, usize> =
        space.classes.iter().enumerate().flat_map(|(c, class)| class.members.iter().map(move |&id| (id, c))).collect();
    let mut seen: BTreeSet<PieceId> = BTreeSet::new();
    let mut out = Vec::new();
    for layout in &plan.layouts {
        let Some(&slab) = slabs.get(layout.slab.as_str()) else { continue };
        for placed in &layout.placed {
            let Some(&id) = pieces.get(&(placed.job.as_str(), placed.piece.as_str())) else { continue };
            let Some(&class) = classes.get(&id) else { continue };
            let shift = Point::from(placed.shift);
            let sensible = placed.turn.is_finite()
                && shift.is_finite()
                && shift.x.abs() <= tol::MAX_COORD
                && shift.y.abs() <= tol::MAX_COORD;
            if !sensible || !seen.insert(id) {
                continue;
            }
            let spot = Spot { class, turn: placed.turn, shift };
            let hold = if placed.pinned { Hold::Pinned } else { Hold::Start };
            let stone = stone(question, space, id, &placed.pose());
            let changed = is_changed(question.piece(id), placed);
            out.push(Candidate { slab, remembered: Remembered { id, spot, hold }, stone, changed });
        }
    }
    out
}

fn stone(question: &Question, space: &Space<'_>, id: PieceId, pose: &Pose) -> Region {
    pose.region(&claimed(question.piece(id), question.jobs[id.job].thickness, &space.question.shop))
}

/// True if an outline that the plan gives is not that of the piece where the plan puts it.
fn is_changed(piece: &Piece, placed: &Placed) -> bool {
    let pose = placed.pose();
    if strays(&placed.outline, &pose.ring(&piece.outline.ring)) {
        return true;
    }
    placed.openings.iter().any(|given| {
        let own = piece.openings.iter().find(|o| o.name == given.opening);
        own.is_none_or(|o| strays(&given.outline, &pose.ring(&o.ring)))
    }) || (!placed.openings.is_empty() && placed.openings.len() != piece.openings.len())
}

/// True if a line that is given leaves the ring, or misses a part of it.
fn strays(given: &[[f64; 2]], ring: &Ring) -> bool {
    if given.is_empty() {
        return false;
    }
    let given: Vec<Point> = given.iter().map(|&p| p.into()).collect();
    let off = |p: Point, line: &[Point]| {
        let n = line.len();
        (0..n)
            .map(|i| distance::nearest_on_segment(p, line[i], line[(i + 1) % n]).distance(p))
            .fold(f64::INFINITY, f64::min)
    };
    // What is no number strays too.
    let near = |p: Point, line: &[Point]| off(p, line) <= SAME_OUTLINE;
    !given.iter().all(|&p| p.is_finite() && near(p, ring.points())) || !ring.points().iter().all(|&p| near(p, &given))
}

/// True if the slab, its flaws and its grain allow a placement, measured on the piece itself.
fn stands(space: &Space<'_>, c: &Candidate) -> bool {
    let spot = &c.remembered.spot;
    let slab = &space.question.rack[c.slab];
    if !space.accepts(spot.class, c.slab) || !turn_allowed(space, spot, c.slab) {
        return false;
    }
    let filled = Region {
        polygons: c.stone.polygons.iter().map(|p| p.outer.clone().to_region()).flat_map(|r| r.polygons).collect(),
    };
    let rim = distance::inside_ring(&filled, &slab.outline).distance;
    rim >= space.limits().trim - tol::CLEARANCE && settle::spot_margin(space, c.slab, spot) >= -tol::CLEARANCE
}

fn turn_allowed(space: &Space<'_>, spot: &Spot, slab: usize) -> bool {
    match turns(space.piece_of(spot.class), &space.question.rack[slab]) {
        Turns::Free => true,
        Turns::Near { centres, tolerance } => {
            centres.iter().any(|&c| angle_off(spot.turn, c, 360.0).abs() <= tolerance + tol::ANGLE)
        }
    }
}

fn too_close(space: &Space<'_>, a: &Candidate, b: &Candidate) -> bool {
    let holds = distance::regions(&a.stone, &b.stone).distance >= space.limits().gap - tol::CLEARANCE;
    !holds
}

/// Leaves out as few as it can, one by one, until all that is left keeps apart: first what has changed, then what is too
/// close to most others.
fn apart(space: &Space<'_>, mut open: Vec<Candidate>) -> Vec<Candidate> {
    let n = open.len();
    let mut close = vec![vec![false; n]; n];
    for i in 0..n {
        for j in 0..i {
            if open[i].slab == open[j].slab && too_close(space, &open[i], &open[j]) {
                close[i][j] = true;
                close[j][i] = true;
            }
        }
    }
    let mut left: Vec<usize> = (0..n).collect();
    loop {
        let clashes = |i: usize| left.iter().filter(|&&j| close[i][j]).count();
        let worst = left.iter().copied().filter(|&i| clashes(i) > 0).max_by_key(|&i| (open[i].changed, clashes(i), i));
        let Some(worst) = worst else { break };
        left.retain(|&i| i != worst);
    }
    let mut keep = vec![false; n];
    for i in left {
        keep[i] = true;
    }
    let mut at = 0;
    open.retain(|_| {
        at += 1;
        keep[at - 1]
    });
    open
}
