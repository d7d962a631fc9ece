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
use crate::geom::Pose;
use crate::model::openings::{
    CarryVerdict, CutOutSheet, NearFlaw, OpeningSheet, Openings, Rail, RailVerdict, Score, State, Verdict, rail_words,
};
use crate::model::{Job, Layout, Opening, Piece, Plan, Question, Slab, drops, show_mm};

/// The sheets of all openings, in the order of jobs, pieces and openings.
///
/// With a plan each piece is worked out for the slab on which it lies, and the flaws round its openings are told. A piece
/// without a place, and every piece without a plan, is worked out for the first slab of the rack that has its material and
/// thickness, and the sheet says so.
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
        piece.openings.iter().map(|o| cutting::score(o, slab.stone, slab.thickness, &shop.tools)).collect();
    let left: Vec<Option<f64>> = scores.iter().map(|s| s.as_ref().ok().map(|s| s.left)).collect();
    let carried = carry::carry(piece, slab, &shop.handling, &left);
    let rails: Vec<Vec<Rail>> = (0..piece.openings.len()).map(|i| rails::rails(piece, i, slab, &shop.limits)).collect();
    let (flaws, near) = match &stone.pose {
        Some(pose) => {
            let flaws = slab.flaws.iter().map(|f| near::brought(f, pose)).collect();
            (flaws, near::near(piece, slab, &shop.limits, pose))
        }
        None => (Vec::new(), Vec::new()),
    };
    let setting =
        Setting { piece, slab, limits: &shop.limits, shop: &shop.rods, flaws: &flaws, usage: usage(&carried) };
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
    fn sheet(
        &self,
        opening: &Opening,
        rails: Vec<Rail>,
        rodding: Rodding,
        score: Result<Score, String>,
        flaws: Vec<NearFlaw>,
    ) -> OpeningSheet {
        let slab = self.stone.slab;
        let mut cutting = cutting::cut(self.piece, opening, slab.thickness, &self.question.shop.tools);
        let carrying = self.carried.openings.get(self.index).cloned();
        let (mut verdict, mut because) = (Verdict::Fine, Vec::new());
        let mut raise = |to: Verdict, why: String, because: &mut Vec<String>| {
            verdict = verdict.max(to);
            if !because.contains(&why) {
                because.push(why);
            }
        };
        for rail in &rails {
            let name = rail_words(&rail.side);
            let least = show_mm(rail.least);
            match rail.verdict {
                RailVerdict::Stop => {
                    let why =
                        format!("the {name} is {least} mm wide; less than {} mm must not be cut", show_mm(rail.stop));
                    raise(Verdict::Stop, why, &mut because);
                }
                RailVerdict::Rod => {
                    let limit = rail.rod.map_or_else(
                        || "every rail of this stone wants rods".to_owned(),
                        |r| format!("below {} mm it wants a rod", show_mm(r)),
                    );
                    raise(Verdict::Fine, format!("the {name} is {least} mm wide; {limit}"), &mut because);
                }
                RailVerdict::Fine => {}
            }
        }
        if !rodding.rods.is_empty() {
            let n = rodding.rods.len();
            let why =
                format!("{n} {} to be glued in before the opening is cut", if n == 1 { "rod is" } else { "rods are" });
            raise(Verdict::Rods, why, &mut because);
        }
        because.extend(rodding.notes.iter().cloned());
        // One rail stands for all: the narrowest that has a rod.
        let rodded = |r: &&Rail| rodding.rods.iter().any(|rod| rod.side == r.side);
        let narrowest = rails.iter().filter(rodded).min_by(|a, b| a.least.total_cmp(&b.least));
        if let Some(rail) = narrowest
            && let Some(rod) = rodding.rods.iter().find(|rod| rod.side == rail.side)
        {
            let shop = &self.question.shop.handling;
            let stone = carry::Stone::of(slab, shop);
            let hold = carry::rod_hold(rod, rail.least, slab.thickness, &stone, shop);
            because.push(format!("{}, with its rod: {}", rail_words(&rail.side), hold.told()));
        }
        for flaw in flaws.iter().filter(|f| !f.in_drop && f.spare < 0.0) {
            let why = format!(
                "the {} (flaw {} of \"{}\") lies {} mm too near to the {}",
                flaw.flaw,
                flaw.number,
                slab.name,
                show_mm(-flaw.spare),
                flaw.zone
            );
            raise(Verdict::Stop, why, &mut because);
        }
        if let Some(carrying) = &carrying {
            let to = match carrying.verdict {
                CarryVerdict::Cut | CarryVerdict::OnEdge => Verdict::Fine,
                CarryVerdict::Score => Verdict::Score,
                CarryVerdict::Stop => Verdict::Stop,
            };
            verdict = verdict.max(to);
            because.extend(carrying.because.iter().cloned());
            if carrying.verdict == CarryVerdict::Score && near::drop_must_come_out(&flaws, slab) {
                verdict = Verdict::Stop;
                because.push(
                    "the opening would have to be scored only, but a flaw in its drop must come out before the piece is moved"
                        .to_owned(),
                );
            }
        }
        because.extend(self.stone.note.clone());
        if !slab.stone_given {
            because.push(format!("the class of stone of \"{}\" is not given: granite is assumed", slab.name));
        }
        match score {
            // A flaw in the drop must come out before the piece is moved, so there is nothing to score.
            Ok(_) if near::drop_must_come_out(&flaws, slab) => {}
            Ok(score) => cutting.score = Some(score),
            Err(why) if verdict == Verdict::Score => because.push(why),
            Err(_) => {}
        }
        let must_out = near::drop_must_come_out(&flaws, slab);
        let in_drop = self.stone.in_drops.get(self.index).cloned().unwrap_or_default();
        let order = order::order(&cutting, verdict, &rodding.steps, carrying.as_ref(), must_out, &in_drop);
        let mut cautions = order::cautions(opening, slab, !rodding.rods.is_empty());
        cautions.extend(carrying.iter().flat_map(|c| c.cautions.iter().cloned()));
        cautions.extend(self.carried.cautions.iter().cloned());
        dedup(&mut cautions);
        OpeningSheet {
            job: self.job.name.clone(),
            piece: self.piece.name.clone(),
            opening: opening.name.clone(),
            kind: opening.kind,
            verdict,
            because,
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
    let cutting = cutting::cut(piece, opening, job.thickness, &question.shop.tools);
    OpeningSheet {
        job: job.name.clone(),
        piece: piece.name.clone(),
        opening: opening.name.clone(),
        kind: opening.kind,
        verdict: Verdict::Stop,
        because: vec![format!(
            "no slab of the rack is \"{}\" of {} mm: nothing is known of the stone",
            job.material,
            show_mm(job.thickness)
        )],
        slab: None,
        cut_out: cut_out(opening),
        order: order::order(&cutting, Verdict::Stop, &[], None, false, &[]),
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
