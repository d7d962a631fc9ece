//! Puts the parts together: for every opening of the jobs the hole, the cuts, the rails, the rods, the way it is carried, and a
//! verdict with its reasons.
//!
//! In: a question, and a plan if there is one. Out: [`Openings`]. Works nothing out that the other modules of `craft` do.

use super::carry::{self, Carried, Case};
use super::cutting;
use super::near;
use super::order;
use super::rails;
use super::rods::{self, Rodding, Setting};
use super::ruling::{Ruling, Settled};
use crate::geom::Pose;
use crate::model::openings::{
    CarryVerdict, CutOutSheet, NearFlaw, OpeningSheet, Openings, Rail, RailVerdict, Score, State, Verdict, rail_words,
};
use crate::model::{Job, Layout, Opening, Piece, Plan, Question, Shown, Slab, drops};

/// The sheets of all openings, in the order of jobs, pieces and openings.
///
/// With a plan each piece is worked out for the slab on which it lies, and the flaws round its openings are told. A piece
/// without a place, and every piece without a plan, is worked out for the first slab of the rack that has its material and
/// thickness, and the sheet says so. Sentences give lengths and masses in the units of [`crate::model::Shop::shown`].
#[must_use]
pub fn sheets(question: &Question, plan: Option<&Plan>) -> Openings {
    let mut openings = Vec::new();
    for job in &question.jobs {
        for piece in job.pieces.iter().filter(|p| !p.openings.is_empty()) {
            openings.extend(of_piece(question, plan, job, piece));
        }
    }
    Openings { format: Openings::FORMAT.to_owned(), openings }
}

/// The slab that a piece is worked out for.
struct Stone<'a> {
    slab: &'a Slab,
    /// Where the piece lies on it, if the plan says so.
    pose: Option<Pose>,
    /// What is to be said about the choice.
    note: Option<String>,
    /// For each opening, what lies in its drop.
    in_drops: Vec<Vec<String>>,
}

fn stone<'a>(question: &'a Question, plan: Option<&Plan>, job: &Job, piece: &Piece) -> Option<Stone<'a>> {
    if let Some(plan) = plan {
        for layout in &plan.layouts {
            let placed = layout.placed.iter().find(|p| p.job == job.name && p.piece == piece.name);
            let slab = question.rack.iter().find(|s| s.name == layout.slab);
            if let (Some(placed), Some(slab)) = (placed, slab) {
                let in_drops = in_drops(question, layout, job, piece);
                return Some(Stone { slab, pose: Some(placed.pose()), note: None, in_drops });
            }
        }
    }
    let slab = question.rack.iter().find(|s| job.accepts(s))?;
    let why = if plan.is_some() { "the plan has no place for this piece" } else { "there is no plan yet" };
    let note = format!(
        "{why}: worked out for \"{}\", the first slab of the rack that has the material and the thickness",
        slab.name
    );
    Some(Stone { slab, pose: None, note: Some(note), in_drops: Vec::new() })
}

/// For each opening of a piece that a layout lays, what lies in its drop: names of pieces, with their job if that is another.
fn in_drops(question: &Question, layout: &Layout, job: &Job, piece: &Piece) -> Vec<Vec<String>> {
    let mut laid: Vec<(&Job, &Piece)> = Vec::new();
    let mut poses: Vec<(&Piece, Pose)> = Vec::new();
    for placed in &layout.placed {
        let of = question.jobs.iter().find(|j| j.name == placed.job);
        if let Some((of, found)) = of.and_then(|j| Some((j, j.pieces.iter().find(|p| p.name == placed.piece)?))) {
            laid.push((of, found));
            poses.push((found, placed.pose()));
        }
    }
    let mut out = vec![Vec::new(); piece.openings.len()];
    for ((of, inner), holder) in laid.iter().zip(drops::holders(&poses)) {
        let Some(holder) = holder else { continue };
        let (outer_of, outer) = laid[holder.piece];
        if outer_of.name == job.name && outer.name == piece.name {
            let other = if of.name == job.name { String::new() } else { format!(" (of {})", of.name) };
            out[holder.opening].push(format!("{}{other}", inner.name));
        }
    }
    out
}

/// Notes for every opening in the stone of which slabs it is not cut out in the shop: a score leaves the drop in, and what must not be
/// cut as drawn is not cut. Where the piece lies makes no difference to that but for flaws too near, which the judge faults.
pub fn mark_drops_that_stay(question: &mut Question) {
    let mut stay: Vec<(usize, usize, usize, String)> = Vec::new();
    for (j, job) in question.jobs.iter().enumerate() {
        for (p, piece) in job.pieces.iter().enumerate().filter(|(_, piece)| !piece.openings.is_empty()) {
            // Slabs of one stone and thickness make the same sheets.
            let mut known: Vec<(&Slab, Vec<usize>)> = Vec::new();
            for slab in question.rack.iter().filter(|s| job.accepts(s)) {
                let same = |s: &Slab| s.stone == slab.stone && s.thickness == slab.thickness && s.tests == slab.tests;
                let found = known.iter().find(|(s, _)| same(s)).map(|(_, held)| held.clone());
                let held = found.unwrap_or_else(|| {
                    let stone = Stone { slab, pose: None, note: None, in_drops: Vec::new() };
                    let sheets = of_piece_in(question, job, piece, &stone);
                    let held = sheets.iter().enumerate().filter(|(_, s)| s.verdict >= Verdict::Score).map(|(o, _)| o);
                    let held: Vec<usize> = held.collect();
                    known.push((slab, held.clone()));
                    held
                });
                stay.extend(held.into_iter().map(|o| (j, p, o, slab.name.clone())));
            }
        }
    }
    for opening in question.jobs.iter_mut().flat_map(|j| &mut j.pieces).flat_map(|p| &mut p.openings) {
        opening.drop_stays.clear();
    }
    for (j, p, o, slab) in stay {
        question.jobs[j].pieces[p].openings[o].drop_stays.push(slab);
    }
}

fn of_piece(question: &Question, plan: Option<&Plan>, job: &Job, piece: &Piece) -> Vec<OpeningSheet> {
    let Some(stone) = stone(question, plan, job, piece) else {
        return piece.openings.iter().map(|o| without_stone(question, job, piece, o)).collect();
    };
    of_piece_in(question, job, piece, &stone)
}

fn of_piece_in(question: &Question, job: &Job, piece: &Piece, stone: &Stone<'_>) -> Vec<OpeningSheet> {
    let (shop, slab) = (&question.shop, stone.slab);
    let scores: Vec<Result<Score, String>> =
        piece.openings.iter().map(|o| cutting::score(o, slab.stone, slab.thickness, &shop.tools, shop.shown)).collect();
    let left: Vec<Option<f64>> = scores.iter().map(|s| s.as_ref().ok().map(|s| s.left)).collect();
    let carried = carry::carry(piece, slab, &shop.handling, &left, shop.shown);
    let rails: Vec<Vec<Rail>> = (0..piece.openings.len()).map(|i| rails::rails(piece, i, slab, &shop.limits)).collect();
    let (flaws, near) = match &stone.pose {
        Some(pose) => {
            let flaws = slab.flaws.iter().map(|f| near::brought(f, pose)).collect();
            (flaws, near::near(piece, slab, &shop.limits, pose, shop.shown))
        }
        None => (Vec::new(), Vec::new()),
    };
    let setting = Setting {
        piece,
        slab,
        limits: &shop.limits,
        shop: &shop.rods,
        flaws: &flaws,
        usage: usage(&carried),
        shown: shop.shown,
    };
    let rodding = rods::rods_of_piece(&setting, &rails);
    let mut near = near.into_iter();
    piece
        .openings
        .iter()
        .zip(rails)
        .zip(rodding)
        .zip(scores)
        .enumerate()
        .map(|(i, (((opening, rails), rodding), score))| {
            let part = Part { question, job, piece, stone, carried: &carried, index: i };
            part.sheet(opening, rails, rodding, score, near.next().unwrap_or_default())
        })
        .collect()
}

/// The largest use of the cut piece's strength in the ways in which it may be carried: flat only where that is allowed.
fn usage(carried: &Carried) -> Option<f64> {
    let flat = carried.openings.iter().all(|o| o.verdict == CarryVerdict::Cut);
    let mut cases = vec![Case::OnEdge, Case::OnFrame];
    if flat {
        cases.push(Case::FlatByEnds);
    }
    cases.into_iter().filter_map(|c| carried.row(State::Cut, c)).map(|r| r.r#use).reduce(f64::max)
}

/// What all sheets of a piece share.
struct Part<'a> {
    question: &'a Question,
    job: &'a Job,
    piece: &'a Piece,
    stone: &'a Stone<'a>,
    carried: &'a Carried,
    index: usize,
}

impl Part<'_> {
    /// Rails that are too narrow, and those that want a rod and can have none: without it a narrow rail breaks on the way, so the
    /// opening is finished on site, and where the trade does not do that it is not cut at all. `score` is how it is scored, or why
    /// it can't be.
    fn rule_on_rails(
        &self,
        ruling: &mut Ruling,
        rails: &[Rail],
        rodding: &Rodding,
        score: Result<&Score, &String>,
        must_out: bool,
    ) {
        let shown = self.question.shop.shown;
        let mut lacking = Vec::new();
        for rail in rails {
            let name = rail_words(&rail.side);
            let (least, stop) = (shown.said(rail.least), shown.said(rail.stop));
            let lacks = rodding.lacking.contains(&rail.side);
            match rail.verdict {
                RailVerdict::Stop => {
                    let why = format!("the {name} is {least} wide; less than {stop} must not be cut");
                    let to_do =
                        format!("Move the opening or make it smaller, until the {name} is {stop} wide or more.");
                    ruling.hold(Verdict::Stop, why, to_do);
                }
                RailVerdict::Rod => {
                    let limit = rail.rod.map_or_else(
                        || "every rail of this stone wants rods".to_owned(),
                        |r| format!("below {} it wants a rod", shown.said(r)),
                    );
                    ruling.say(format!("the {name} is {least} wide; {limit}"));
                    if lacks {
                        lacking.push(format!("the {name} ({least} wide)"));
                    }
                }
                RailVerdict::Fine if lacks => {
                    ruling.say(format!("the {name} is wide enough to be cut without a rod"));
                }
                RailVerdict::Fine => {}
            }
        }
        if lacking.is_empty() {
            return;
        }
        let want = if lacking.len() == 1 { "wants a rod" } else { "want rods" };
        let why = format!("{} {want}, and none fits", lacking.join(", "));
        match score {
            Ok(score) if !must_out => ruling.hold(Verdict::Score, why, how_scored(Some(score), shown)),
            Ok(_) => {
                ruling.hold(Verdict::Stop, why, NO_ROD);
                ruling.hold(Verdict::Stop, FLAW_IN_DROP.to_owned(), ELSEWHERE);
            }
            Err(unscored) => {
                ruling.hold(Verdict::Stop, why, NO_ROD);
                ruling.hold(Verdict::Stop, unscored.clone(), NO_ROD);
            }
        }
    }

    /// That the piece does not survive being carried with its openings cut, with the worst figure.
    fn not_carried(&self) -> String {
        let rows = [Case::OnEdge, Case::OnFrame].into_iter().filter_map(|c| self.carried.row(State::Cut, c));
        rows.max_by(|a, b| a.r#use.total_cmp(&b.r#use)).map_or_else(
            || "with its openings cut the piece is in two parts".to_owned(),
            |row| {
                format!(
                    "with its openings cut the piece does not survive being carried {}: {:.2} of its strength is used, and 1 is the \
                     limit",
                    row.case, row.r#use
                )
            },
        )
    }

    fn sheet(
        &self,
        opening: &Opening,
        rails: Vec<Rail>,
        rodding: Rodding,
        score: Result<Score, String>,
        flaws: Vec<NearFlaw>,
    ) -> OpeningSheet {
        let (slab, shown) = (self.stone.slab, self.question.shop.shown);
        let mut cutting = cutting::cut(self.piece, opening, slab.thickness, &self.question.shop.tools, shown);
        let carrying = self.carried.openings.get(self.index).cloned();
        let must_out = near::drop_must_come_out(&flaws, slab);
        let mut ruling = Ruling::new();
        self.rule_on_rails(&mut ruling, &rails, &rodding, score.as_ref(), must_out);
        if !opening.kind.is_small() && slab.stone.rails(slab.thickness).advised_against {
            ruling.say(format!(
                "the trade advises against openings in {} of {}",
                slab.stone.name(),
                shown.said(slab.thickness)
            ));
        }
        if !rodding.rods.is_empty() {
            let n = rodding.rods.len();
            let why =
                format!("{n} {} to be glued in before the opening is cut", if n == 1 { "rod is" } else { "rods are" });
            ruling.raise(Verdict::Rods, why);
        }
        rodding.notes.iter().for_each(|note| ruling.say(note.clone()));
        // One rail stands for all: the narrowest that has a rod.
        let rodded = |r: &&Rail| rodding.rods.iter().any(|rod| rod.side == r.side);
        let narrowest = rails.iter().filter(rodded).min_by(|a, b| a.least.total_cmp(&b.least));
        if let Some(rail) = narrowest
            && let Some(rod) = rodding.rods.iter().find(|rod| rod.side == rail.side)
        {
            let shop = &self.question.shop.handling;
            let stone = carry::Stone::of(slab, shop);
            let hold = carry::rod_hold(rod, rail.least, slab.thickness, &stone, shop);
            ruling.say(format!("{}, with its rod: {}", rail_words(&rail.side), hold.told()));
        }
        for flaw in flaws.iter().filter(|f| !f.in_drop && f.spare < 0.0) {
            let why = format!(
                "the {} (flaw {} of \"{}\") lies {} too near to the {}",
                flaw.flaw,
                flaw.number,
                slab.name,
                shown.said(-flaw.spare),
                near::noun(&flaw.zone)
            );
            ruling.hold(Verdict::Stop, why, "Lay the piece elsewhere: plan again, or take another slab.");
        }
        if let Some(carrying) = &carrying {
            match carrying.verdict {
                CarryVerdict::Cut | CarryVerdict::OnEdge => {}
                CarryVerdict::Score => {
                    ruling.decide(Verdict::Score, self.not_carried(), how_scored(score.as_ref().ok(), shown))
                }
                CarryVerdict::Stop => ruling.decide(Verdict::Stop, self.not_carried(), STRONGER),
            }
            carrying.because.iter().for_each(|why| ruling.say(why.clone()));
            if carrying.verdict == CarryVerdict::Score && must_out {
                ruling.hold(Verdict::Stop, FLAW_IN_DROP.to_owned(), ELSEWHERE);
            }
        }
        self.stone.note.iter().for_each(|note| ruling.say(note.clone()));
        if !slab.stone_given {
            ruling.say(format!("the class of stone of \"{}\" is not given: granite is assumed", slab.name));
        }
        match score {
            // A flaw in the drop must come out before the piece is moved, so there is nothing to score.
            Ok(_) if must_out => {}
            Ok(score) => cutting.score = Some(score),
            Err(why) if ruling.verdict() == Verdict::Score => ruling.say(why),
            Err(_) => {}
        }
        let Settled { verdict, because, decided_by, to_do } = ruling.settled();
        let in_drop = self.stone.in_drops.get(self.index).cloned().unwrap_or_default();
        let order = order::order(&cutting, verdict, &rodding.steps, carrying.as_ref(), must_out, &in_drop, shown);
        let mut cautions = order::cautions(opening, slab, !rodding.rods.is_empty());
        cautions.extend(carrying.iter().flat_map(|c| c.cautions.iter().cloned()));
        if verdict == Verdict::Score {
            cautions.extend(carry::SCORED.map(str::to_owned));
        }
        cautions.extend(self.carried.cautions.iter().cloned());
        dedup(&mut cautions);
        OpeningSheet {
            job: self.job.name.clone(),
            piece: self.piece.name.clone(),
            opening: opening.name.clone(),
            kind: opening.kind,
            verdict,
            because,
            decided_by,
            to_do,
            slab: Some(slab.name.clone()),
            cut_out: cut_out(opening),
            cutting,
            rails,
            rods: rodding.rods,
            handling: self.carried.handling.clone(),
            carrying,
            pieces_in_drop: in_drop,
            flaws,
            order,
            cautions,
        }
    }
}

/// Why an opening that ought to be scored is not.
const FLAW_IN_DROP: &str =
    "the opening would have to be scored only, but a flaw in its drop must come out before the piece is moved";
const ELSEWHERE: &str = "Lay the piece elsewhere, so that no flaw lies in the drop, or take thicker or stronger stone.";
const NO_ROD: &str = "Make the rail wider, or take thicker stone, which has room for a rod. A shop that bonds such pieces onto a full \
                      sub-top says so with rod_rail = 0 in [limits] of the shop file for this job.";
const STRONGER: &str =
    "Make the rails wider or the opening shorter, divide the piece by a seam, or take thicker or stronger stone.";

/// How an opening is scored, in a sentence.
fn how_scored(score: Option<&Score>, shown: Shown) -> String {
    score.map_or_else(
        || "Score it in the shop, and cut it through on site.".to_owned(),
        |s| {
            format!(
                "Score it from the back in the shop, {} deep, so that {} of stone stay; leave the drop in, and cut it through \
                 once the piece lies on its cabinets.",
                shown.said(s.depth),
                shown.said(s.left)
            )
        },
    )
}

/// Keeps the first of each.
fn dedup(lines: &mut Vec<String>) {
    let mut seen: Vec<String> = Vec::with_capacity(lines.len());
    lines.retain(|l| {
        let new = !seen.contains(l);
        if new {
            seen.push(l.clone());
        }
        new
    });
}

/// The sheet of an opening for which the rack has no stone: how it is cut is known, whether it holds is not.
fn without_stone(question: &Question, job: &Job, piece: &Piece, opening: &Opening) -> OpeningSheet {
    let shown = question.shop.shown;
    let cutting = cutting::cut(piece, opening, job.thickness, &question.shop.tools, shown);
    let why = format!(
        "no slab of the rack is \"{}\" of {}: nothing is known of the stone",
        job.material,
        shown.said(job.thickness)
    );
    OpeningSheet {
        job: job.name.clone(),
        piece: piece.name.clone(),
        opening: opening.name.clone(),
        kind: opening.kind,
        verdict: Verdict::Stop,
        because: vec![why.clone()],
        decided_by: vec![why],
        to_do: vec!["Put a slab of that material and thickness on the rack.".to_owned()],
        slab: None,
        cut_out: cut_out(opening),
        order: order::order(&cutting, Verdict::Stop, &[], None, false, &[], shown),
        cutting,
        rails: Vec::new(),
        rods: Vec::new(),
        handling: Vec::new(),
        carrying: None,
        pieces_in_drop: Vec::new(),
        flaws: Vec::new(),
        cautions: order::general(),
    }
}

fn cut_out(opening: &Opening) -> CutOutSheet {
    let origin = opening.origin.as_deref();
    let extent = opening.shape.extent();
    CutOutSheet {
        size: [extent.width(), extent.height()],
        centre: extent.centre().into(),
        outline: opening.ring.points().iter().map(|&p| p.into()).collect(),
        area_mm2: opening.shape.area(),
        spare: origin.map(|o| o.spare),
        notes: origin.map_or_else(Vec::new, |o| o.notes.clone()),
    }
}
