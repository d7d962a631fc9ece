//! The judge is tested by sabotage: good plans are broken in every way that a rule covers, and the rule must be named.
//!
//! [`survives_sabotage`] takes any good plan, so plans of the search can be put through it too.

use std::collections::BTreeSet;

use scantling::check::judge;
use scantling::geom::Pose;
use scantling::model::*;

use super::judge::{
    JOB, Random, broken, circle, finished, flaw, piece, plan, polygon, question, shaped, sink, spot, tap,
};

/// One way to break a plan: which rule must notice, how bad it is, and what to do. `false`: not possible on this plan.
pub struct Mutation {
    pub name: &'static str,
    pub rule: Rule,
    pub grade: Grade,
    pub apply: fn(&mut Question, &mut Plan) -> bool,
}

/// Rules that no mutation covers, each with its reason.
pub const NOT_COVERED: [(Rule, &str); 0] = [];

/// The first placement with its layout's number, and where its piece is in the question.
fn first(q: &Question, p: &Plan) -> Option<(usize, usize, PieceId)> {
    p.layouts.iter().enumerate().find_map(|(l, layout)| {
        layout.placed.iter().enumerate().find_map(|(k, placed)| {
            q.pieces()
                .find(|(_, job, piece)| job.name == placed.job && piece.name == placed.piece)
                .map(|(id, _, _)| (l, k, id))
        })
    })
}

/// The first placement whose piece `wants`.
fn first_where(q: &Question, p: &Plan, wants: impl Fn(&Piece) -> bool) -> Option<(usize, usize, PieceId)> {
    p.layouts.iter().enumerate().find_map(|(l, layout)| {
        layout.placed.iter().enumerate().find_map(|(k, placed)| {
            q.pieces()
                .find(|(_, job, piece)| job.name == placed.job && piece.name == placed.piece && wants(piece))
                .map(|(id, _, _)| (l, k, id))
        })
    })
}

fn slab_of<'a>(q: &'a mut Question, p: &Plan, layout: usize) -> &'a mut Slab {
    let name = &p.layouts[layout].slab;
    q.rack.iter_mut().find(|s| s.name == *name).unwrap()
}

/// Moves a placement with its outlines, as a careful editor would: only the place is wrong.
fn put(q: &Question, p: &mut Plan, (l, k, id): (usize, usize, PieceId), turn: f64, shift: [f64; 2]) {
    let pose = Pose::new(turn, shift.into());
    let piece = q.piece(id);
    let placed = &mut p.layouts[l].placed[k];
    (placed.turn, placed.shift) = (turn, shift);
    placed.outline = pose.ring(&piece.outline.ring).points().iter().map(|&v| v.into()).collect();
    placed.openings = piece
        .openings
        .iter()
        .map(|o| OpeningOutline {
            opening: o.name.clone(),
            outline: pose.ring(&o.ring).points().iter().map(|&v| v.into()).collect(),
        })
        .collect();
}

/// A flaw of that kind at a point of the first placement's piece.
fn flaw_at(q: &mut Question, p: &Plan, at: (usize, usize, PieceId), point: scantling::geom::Point, kind: FlawKind) {
    let on_slab = p.layouts[at.0].placed[at.1].pose().apply(point);
    slab_of(q, p, at.0).flaws.push(spot(kind, on_slab.x, on_slab.y, 3.0));
}

/// A new opening in the first piece, and in its outlines in the plan.
fn add_opening(q: &mut Question, p: &mut Plan, at: (usize, usize, PieceId), opening: Opening) {
    q.jobs[at.2.job].pieces[at.2.piece].openings.push(opening);
    let placed = &p.layouts[at.0].placed[at.1];
    let (turn, shift) = (placed.turn, placed.shift);
    put(q, p, at, turn, shift);
}

/// A new piece of 1 mm round a point of a piece in the plan, in a shop that uses drops.
fn lay_chip(q: &mut Question, p: &mut Plan, at: (usize, usize, PieceId), point: scantling::geom::Point) {
    q.shop.limits.use_drops = true;
    let on_slab = p.layouts[at.0].placed[at.1].pose().apply(point);
    let job = &mut q.jobs[at.2.job];
    job.pieces.push(Piece { kind: 9999, ..piece("chip", 1.0, 1.0) });
    let id = PieceId { job: at.2.job, piece: job.pieces.len() - 1 };
    let name = job.name.clone();
    let placed = &mut p.layouts[at.0].placed;
    let template = placed[at.1].clone();
    placed.push(Placed { job: name, piece: "chip".to_owned(), pinned: false, ..template });
    let k = placed.len() - 1;
    put(q, p, (at.0, k, id), 0.0, [on_slab.x - 0.5, on_slab.y - 0.5]);
}

/// Every way to break a plan, by rule.
pub fn mutations() -> Vec<Mutation> {
    use Grade::{Broken, Note, Warning};
    let m = |rule, grade, name, apply| Mutation { name, rule, grade, apply };
    vec![
        m(Rule::OutsideSlab, Broken, "push a piece out of the slab", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let b = slab_of(q, p, at.0).outline.bbox();
            let turn = p.layouts[at.0].placed[at.1].turn;
            put(q, p, at, turn, [b.max.x, b.max.y]);
            true
        }),
        m(Rule::OutsideSlab, Broken, "ask for more trim than there is", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let b = slab_of(q, p, at.0).outline.bbox();
            q.shop.limits.trim = b.width().min(b.height()) / 2.0;
            true
        }),
        m(Rule::PiecesTooClose, Broken, "lay one piece on another", |q, p| {
            let Some(l) = p.layouts.iter().position(|l| l.placed.len() > 1) else { return false };
            let two: Vec<PieceId> = (0..2)
                .filter_map(|k| {
                    let placed = &p.layouts[l].placed[k];
                    q.pieces().find(|(_, j, x)| j.name == placed.job && x.name == placed.piece).map(|t| t.0)
                })
                .collect();
            let [a, b] = two[..] else { return false };
            let (pose_a, turn) = (p.layouts[l].placed[0].pose(), p.layouts[l].placed[1].turn);
            let corner_a = pose_a.apply(q.piece(a).outline.ring.points()[0]);
            let corner_b = Pose::new(turn, scantling::geom::pt(0.0, 0.0)).apply(q.piece(b).outline.ring.points()[0]);
            put(q, p, (l, 1, b), turn, (corner_a - corner_b).into());
            true
        }),
        m(Rule::PiecesTooClose, Broken, "ask for a wider gap than there is", |q, p| {
            q.shop.limits.gap = 3000.0;
            p.layouts.iter().any(|l| l.placed.len() > 1)
        }),
        m(Rule::FlawInZone, Broken, "crack a rail", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let opening = &q.piece(at.2).openings[0];
            let b = opening.ring.bbox();
            let beside = scantling::geom::pt(b.max.x + 5.0, b.centre().y);
            flaw_at(q, p, at, beside, FlawKind::Crack);
            true
        }),
        m(Rule::FlawInZone, Broken, "stain the field", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let corner = q.piece(at.2).outline.ring.points()[0];
            flaw_at(q, p, at, corner, FlawKind::Stain);
            true
        }),
        m(Rule::FlawInZone, Broken, "lay a fissure that lies in a drop under the list without drop", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let middle = q.piece(at.2).openings[0].centre();
            flaw_at(q, p, at, middle, FlawKind::Fissure);
            let slab = slab_of(q, p, at.0);
            slab.flaws.last_mut().unwrap().allow = Zones::of(&[Zone::Drop]).others();
            true
        }),
        m(Rule::GrainOff, Broken, "turn the slab's grain", |q, p| {
            let Some(at) = first_where(q, p, |x| x.grain != GrainWish::Any && x.grain_tolerance < 40.0) else {
                return false;
            };
            let slab = slab_of(q, p, at.0);
            slab.grain = slab.grain.map(|g| g + 45.0);
            slab.grain.is_some()
        }),
        m(Rule::GrainOff, Broken, "turn the grain of a one-way piece end for end", |q, p| {
            let Some(at) = first_where(q, p, |x| x.one_way && x.grain != GrainWish::Any) else { return false };
            let slab = slab_of(q, p, at.0);
            slab.grain = slab.grain.map(|g| g + 180.0);
            slab.grain.is_some()
        }),
        m(Rule::RailTooNarrow, Broken, "ask for a rail wider than any", |q, p| {
            q.shop.limits.min_rail = Some(5000.0);
            first_where(q, p, |x| x.openings.iter().any(|o| !o.kind.is_small())).is_some()
        }),
        m(Rule::RailTooNarrow, Broken, "bore a tap hole at the edge", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let (a, b) = q.piece(at.2).outline.ring.edges().next().unwrap();
            let inward = (b - a).left() * (1.0 / (b - a).norm());
            let c = a.lerp(b, 0.5) + inward * 16.0;
            add_opening(q, p, at, tap("edge hole", c.x, c.y, 12.0));
            true
        }),
        m(Rule::WebTooNarrow, Broken, "cut an opening across another", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let c = q.piece(at.2).openings[0].ring.points()[0];
            add_opening(q, p, at, tap("second hole", c.x, c.y, 15.0));
            true
        }),
        m(Rule::WebTooNarrow, Broken, "ask for a web wider than any", |q, p| {
            (q.shop.limits.min_web, q.shop.limits.tap_web) = (5000.0, 5000.0);
            first_where(q, p, |x| x.openings.len() > 1).is_some()
        }),
        m(Rule::OpeningOutsidePiece, Broken, "cut an opening across the edge", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let (a, b) = q.piece(at.2).outline.ring.edges().next().unwrap();
            let c = a.lerp(b, 0.5);
            add_opening(q, p, at, tap("edge hole", c.x, c.y, 12.0));
            true
        }),
        m(Rule::DropCutInto, Broken, "lay a chip of stone into the kerf of an opening", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let (a, b) = q.piece(at.2).openings[0].ring.edges().next().unwrap();
            let inward = (b - a).left() * (1.0 / (b - a).norm());
            lay_chip(q, p, at, a.lerp(b, 0.5) + inward * 1.5);
            true
        }),
        m(Rule::DropStays, Broken, "lay a chip of stone into a drop that stays in", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let middle = q.piece(at.2).openings[0].centre();
            lay_chip(q, p, at, middle);
            let slab = p.layouts[at.0].slab.clone();
            q.jobs[at.2.job].pieces[at.2.piece].openings[0].drop_stays.push(slab);
            true
        }),
        m(Rule::WrongMaterial, Broken, "deliver another stone", |q, p| {
            let Some(at) = first(q, p) else { return false };
            slab_of(q, p, at.0).material += " (other)";
            true
        }),
        m(Rule::WrongThickness, Broken, "deliver a thicker stone", |q, p| {
            let Some(at) = first(q, p) else { return false };
            slab_of(q, p, at.0).thickness += 0.6 + Job::SAME_THICKNESS;
            true
        }),
        m(Rule::Unplaced, Broken, "take a piece out and keep quiet", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed.remove(at.1);
            true
        }),
        m(Rule::Unplaced, Broken, "take a piece out and say so", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let gone = p.layouts[at.0].placed.remove(at.1);
            let reason = "it was not to be".to_owned();
            p.unplaced.push(Unplaced { job: gone.job, piece: gone.piece, reason, needed: 0.0, found: 0.0 });
            true
        }),
        m(Rule::Unplaced, Broken, "list a piece that has a place", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let (job, piece) = (q.jobs[at.2.job].name.clone(), q.piece(at.2).name.clone());
            p.unplaced.push(Unplaced { job, piece, reason: String::new(), needed: 0.0, found: 0.0 });
            true
        }),
        m(Rule::InsideCornerTooTight, Broken, "throw the small core bits away", |q, p| {
            q.shop.tools.core_bits = vec![900.0];
            first_where(q, p, |x| x.openings.iter().any(|o| !o.inside_corners().is_empty())).is_some()
        }),
        m(Rule::InsideCornerTooTight, Warning, "throw the small core bits away before an inside corner", |q, p| {
            q.shop.tools.core_bits = vec![900.0];
            first_where(q, p, |x| x.outline.shape.turns().iter().any(|t| !t.2)).is_some()
        }),
        m(Rule::RailWantsRods, Note, "rod every rail", |q, p| {
            q.shop.limits.rod_rail = Some(5000.0);
            first_where(q, p, |x| x.openings.iter().any(|o| !o.kind.is_small())).is_some()
        }),
        m(Rule::ThinForOpenings, Warning, "deliver and ask for 12 mm", |q, p| {
            for job in &mut q.jobs {
                job.thickness = 12.0;
            }
            for slab in &mut q.rack {
                (slab.thickness, slab.stone) = (12.0, StoneClass::Marble);
            }
            first_where(q, p, |x| x.openings.iter().any(|o| !o.kind.is_small())).is_some()
        }),
        m(Rule::StoneAssumed, Note, "forget the class of stone", |q, p| {
            let Some(at) = first(q, p) else { return false };
            slab_of(q, p, at.0).stone_given = false;
            true
        }),
        m(Rule::UnknownSlab, Broken, "cut a slab that is not there", |_, p| {
            let Some(layout) = p.layouts.first_mut() else { return false };
            layout.slab += " (gone)";
            true
        }),
        m(Rule::SlabUsedTwice, Broken, "lay out a slab twice", |_, p| {
            let Some(layout) = p.layouts.first() else { return false };
            let empty = Layout { placed: Vec::new(), offcuts: Vec::new(), ..layout.clone() };
            p.layouts.push(empty);
            true
        }),
        m(Rule::UnknownPiece, Broken, "place a piece that nobody ordered", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].piece += " (extra)";
            true
        }),
        m(Rule::UnknownPiece, Broken, "place a piece of another job", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].job += " (other)";
            true
        }),
        m(Rule::UnknownPiece, Broken, "list a piece that nobody ordered", |_, p| {
            let (job, piece) = (JOB.to_owned(), "nothing of the kind".to_owned());
            p.unplaced.push(Unplaced { job, piece, reason: String::new(), needed: 0.0, found: 0.0 });
            true
        }),
        m(Rule::PlacedTwice, Broken, "place a piece twice", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let again = p.layouts[at.0].placed[at.1].clone();
            p.layouts[at.0].placed.push(again);
            true
        }),
        m(Rule::OtherJobs, Broken, "name another job", |_, p| {
            p.jobs.push("Quay 9".into());
            true
        }),
        m(Rule::OtherJobs, Broken, "name no job", |_, p| {
            p.jobs.clear();
            true
        }),
        m(Rule::OutlineDiffers, Broken, "draw the outline 1 mm off", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let outline = &mut p.layouts[at.0].placed[at.1].outline;
            outline.iter_mut().for_each(|v| v[0] += 1.0);
            !outline.is_empty()
        }),
        m(Rule::OutlineDiffers, Broken, "shift a piece without its outline", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].shift[1] += 0.2;
            !p.layouts[at.0].placed[at.1].outline.is_empty()
        }),
        m(Rule::OutlineDiffers, Broken, "draw an opening 1 mm off", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let Some(opening) = p.layouts[at.0].placed[at.1].openings.first_mut() else { return false };
            opening.outline.iter_mut().for_each(|v| v[1] -= 1.0);
            true
        }),
        m(Rule::OutlineDiffers, Broken, "draw an opening under another name", |q, p| {
            let Some(at) = first_where(q, p, |x| !x.openings.is_empty()) else { return false };
            let Some(opening) = p.layouts[at.0].placed[at.1].openings.first_mut() else { return false };
            opening.opening += " (other)";
            true
        }),
        m(Rule::OutlineDiffers, Note, "leave the outlines out", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].outline.clear();
            p.layouts[at.0].placed[at.1].openings.clear();
            true
        }),
        m(Rule::NumberNonsense, Broken, "turn by no number", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].turn = f64::NAN;
            true
        }),
        m(Rule::NumberNonsense, Broken, "shift to the moon", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].shift = [4e11, 0.0];
            true
        }),
        m(Rule::NumberNonsense, Broken, "draw an outline of one point", |q, p| {
            let Some(at) = first(q, p) else { return false };
            p.layouts[at.0].placed[at.1].outline = vec![[1.0, 1.0]];
            true
        }),
        m(Rule::NumberNonsense, Broken, "cost nothing sensible", |_, p| {
            p.cost = f64::INFINITY;
            true
        }),
        m(Rule::FigureWrong, Broken, "cost less than the slabs", |_, p| {
            p.cost -= 1.0;
            p.cost >= 0.0
        }),
        m(Rule::FigureWrong, Broken, "bound the cost from above", |_, p| {
            p.cost_bound = p.cost + 1.0;
            true
        }),
        m(Rule::FigureWrong, Broken, "claim a proof without one", |_, p| {
            (p.cost_bound, p.proven) = (p.cost / 2.0, true);
            p.cost > 1.0
        }),
        m(Rule::FigureWrong, Broken, "praise the yield", |_, p| {
            let Some(layout) = p.layouts.first_mut() else { return false };
            layout.yields.net += 0.01;
            true
        }),
        m(Rule::FigureWrong, Broken, "praise the offcuts", |_, p| {
            p.offcut_worth = Some(p.offcut_worth.unwrap_or(0.0) + 10.0);
            true
        }),
        m(Rule::FigureWrong, Broken, "praise the flaw margin", |_, p| {
            p.flaw_margin = Some(1e6);
            true
        }),
        m(Rule::LimitsDiffer, Warning, "plan with a thinner blade", |_, p| {
            p.limits.kerf -= 1.0;
            true
        }),
        m(Rule::LimitsDiffer, Warning, "plan with another least rail", |_, p| {
            p.limits.min_rail -= 5.0;
            !p.layouts.is_empty()
        }),
        m(Rule::OffcutNotFree, Broken, "promise the whole slab as an offcut", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let b = slab_of(q, p, at.0).outline.bbox();
            let rectangle = Rectangle { corner: b.min.into(), size: [b.width(), b.height()], turn: 0.0 };
            p.layouts[at.0].offcuts.push(Offcut { outline: Vec::new(), rectangle });
            true
        }),
        m(Rule::OffcutNotFree, Broken, "promise an offcut out of a piece", |q, p| {
            let Some(at) = first(q, p) else { return false };
            let corner = p.layouts[at.0].placed[at.1].pose().apply(q.piece(at.2).outline.ring.points()[0]);
            let rectangle = Rectangle { corner: corner.into(), size: [5.0, 5.0], turn: 10.0 };
            p.layouts[at.0].offcuts.push(Offcut { outline: Vec::new(), rectangle });
            true
        }),
        m(Rule::UnknownFormat, Broken, "name another format", |_, p| {
            p.format = "scantling-plan/2".into();
            true
        }),
    ]
}

/// Puts a good plan through every mutation that is possible on it: the judge names the rule each time. Returns which
/// mutations were possible.
pub fn survives_sabotage(q: &Question, good: &Plan) -> BTreeSet<&'static str> {
    let before = judge(q, good);
    assert_eq!(broken(&before), [], "good before: {before:#?}");
    let mut possible = BTreeSet::new();
    for mutation in mutations() {
        let (mut q, mut p) = (q.clone(), good.clone());
        if !(mutation.apply)(&mut q, &mut p) {
            continue;
        }
        let after = judge(&q, &p);
        // What was known before (a note, say) does not count as noticed.
        let noticed = after.iter().any(|f| (f.rule, f.grade) == (mutation.rule, mutation.grade) && !before.contains(f));
        assert!(noticed, "\"{}\" went unnoticed: {after:#?}", mutation.name);
        assert!(after.iter().all(|f| !f.message.is_empty() && !f.message.contains("NaN mm")), "{after:#?}");
        possible.insert(mutation.name);
    }
    possible
}

/// Two straight pieces beside each other at exactly the gap.
fn neighbours() -> (Question, Plan) {
    let q = question(
        vec![super::judge::slab("BG-1", 3000.0, 1600.0)],
        vec![piece("desk", 1500.0, 600.0), piece("shelf", 1500.0, 500.0)],
    );
    let p = plan(&q, &[("BG-1", "desk", 0.0, [20.0, 20.0]), ("BG-1", "shelf", 180.0, [1520.0, 1126.0])]);
    (q, p)
}

/// A crack that ends in a drop, and a fissure through the field.
fn flaw_in_drop() -> (Question, Plan) {
    let mut counter = finished(piece("counter", 2400.0, 700.0), &[0, 3]);
    counter.hidden.back = 30.0;
    counter.openings.push(sink("basin", 1400.0, 150.0, 600.0, 400.0));
    let mut q = question(vec![super::judge::slab("BG-1", 3000.0, 1600.0)], vec![counter]);
    let drop = vec![scantling::geom::pt(1560.0, 300.0), scantling::geom::pt(1900.0, 560.0)];
    q.rack[0].flaws.push(flaw(FlawKind::Crack, FlawBody::Line(drop), 1.0));
    let field = vec![scantling::geom::pt(400.0, 300.0), scantling::geom::pt(900.0, 520.0)];
    q.rack[0].flaws.push(flaw(FlawKind::Fissure, FlawBody::Line(field), 1.0));
    let p = plan(&q, &[("BG-1", "counter", 0.0, [100.0, 100.0])]);
    (q, p)
}

/// One-way grain across the slab, on two slabs of which one has grain along y, with an offcut.
fn one_way_grain() -> (Question, Plan) {
    let mut door = piece("door sill", 1200.0, 400.0);
    (door.one_way, door.grain) = (true, GrainWish::Towards(90.0));
    let mut plinth = shaped("plinth", circle(250.0, 250.0, 250.0));
    (plinth.grain_tolerance, plinth.grain) = (5.0, GrainWish::Towards(0.0));
    let mut q = question(
        vec![super::judge::slab("BG-1", 1800.0, 1500.0), super::judge::slab("BG-2", 1600.0, 900.0)],
        vec![door, plinth],
    );
    q.rack[1].grain = Some(90.0);
    q.rack[1].price = 310.5;
    let mut p = plan(&q, &[("BG-1", "door sill", -90.0, [100.0, 1400.0]), ("BG-2", "plinth", 93.0, [700.0, 100.0])]);
    let rectangle = Rectangle { corner: [1700.0, 100.0], size: [1300.0, 1000.0], turn: 90.0 };
    let outline = vec![[510.0, 30.0], [1770.0, 30.0], [1770.0, 1470.0], [510.0, 1470.0]];
    p.layouts[0].offcuts.push(Offcut { outline, rectangle });
    p.offcut_worth = Some(1.3e6 * 500.0 / (1800.0 * 1500.0) * 0.5);
    (q, p)
}

/// A cornered piece with a sink and a tap hole, askew on a slab without grain.
fn two_openings() -> (Question, Plan) {
    let ell = [[0.0, 0.0], [1900.0, 0.0], [1900.0, 650.0], [650.0, 650.0], [650.0, 1500.0], [0.0, 1500.0]];
    let mut corner = finished(shaped("corner", polygon(&ell)), &[1, 2, 3]);
    corner.openings.push(sink("basin", 800.0, 130.0, 700.0, 380.0));
    corner.openings.push(tap("tap", 740.0, 580.0, 17.5));
    let mut q = question(vec![super::judge::slab("BG-1", 3200.0, 2400.0)], vec![corner, piece("strip", 900.0, 60.0)]);
    q.rack[0].grain = None;
    q.rack[0].flaws.push(spot(FlawKind::Pit, 3000.0, 2200.0, 4.0));
    let p = plan(&q, &[("BG-1", "corner", 12.0, [500.0, 100.0]), ("BG-1", "strip", 12.0, [1300.0, 1200.0])]);
    (q, p)
}

#[test]
fn every_sabotage_is_noticed_and_every_rule_has_one() {
    let mut possible = BTreeSet::new();
    for (name, (q, p)) in [
        ("neighbours", neighbours()),
        ("flaw in drop", flaw_in_drop()),
        ("one-way grain", one_way_grain()),
        ("two openings", two_openings()),
    ] {
        let here = survives_sabotage(&q, &p);
        assert!(here.len() > 25, "{name}: only {} mutations were possible", here.len());
        possible.extend(here);
    }
    for mutation in mutations() {
        assert!(possible.contains(mutation.name), "\"{}\" was possible on no scenario", mutation.name);
    }
    // Every rule that files can name, from the schema, so that a new one cannot be forgotten.
    let schema = serde_json::to_value(schemars::schema_for!(Rule)).unwrap();
    let mut names: Vec<String> = Vec::new();
    for variant in schema["oneOf"].as_array().unwrap() {
        if let Some(name) = variant["const"].as_str() {
            names.push(name.to_owned());
        }
        names.extend(variant["enum"].as_array().into_iter().flatten().filter_map(|v| v.as_str()).map(str::to_owned));
    }
    assert!(names.len() >= 25, "{names:?}");
    for name in names {
        let covered = mutations().iter().any(|m| m.rule.name() == name);
        let excused = NOT_COVERED.iter().any(|(rule, reason)| rule.name() == name && !reason.is_empty());
        assert!(covered != excused, "rule {name}: covered {covered}, excused {excused}");
    }
}

/// Random numbers everywhere: the judge neither panics nor hangs, and says something.
#[test]
fn random_damage_never_panics() {
    let mut random = Random(11);
    let (q, good) = two_openings();
    for _ in 0..60 {
        let mut p = good.clone();
        let wild = |r: &mut Random| match r.upto(8.0) as u32 {
            0 => f64::NAN,
            1 => f64::INFINITY,
            2 => -1e308,
            3 => 0.0,
            4 => 1e-300,
            _ => r.upto(4000.0) - 2000.0,
        };
        let layout = &mut p.layouts[0];
        let k = random.upto(2.0) as usize;
        match random.upto(6.0) as u32 {
            0 => layout.placed[k].turn = wild(&mut random),
            1 => layout.placed[k].shift = [wild(&mut random), wild(&mut random)],
            2 => layout.placed[k].outline = (0..5).map(|_| [wild(&mut random), wild(&mut random)]).collect(),
            3 => {
                let rectangle = Rectangle {
                    corner: [wild(&mut random), wild(&mut random)],
                    size: [wild(&mut random), wild(&mut random)],
                    turn: wild(&mut random),
                };
                let outline = (0..7).map(|_| [wild(&mut random), wild(&mut random)]).collect();
                layout.offcuts.push(Offcut { outline, rectangle });
            }
            4 => layout.yields.usable_mm2 = wild(&mut random),
            _ => (p.cost, p.cost_bound) = (wild(&mut random), wild(&mut random)),
        }
        let findings = judge(&q, &p);
        for f in &findings {
            assert!(f.found.is_none_or(f64::is_finite) && f.needed.is_none_or(f64::is_finite), "{f:?}");
            assert!(f.at.is_none_or(|at| at.iter().all(|v| v.is_finite())), "{f:?}");
        }
    }
}
