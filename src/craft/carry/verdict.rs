//! From figures to words: cut, score or stop, and why.
//!
//! In: the figures of a piece. Out: a verdict for each opening. Must not know: how a stress is worked out.

use super::beam::Beam;
use super::on_edge::SHORT;
use super::sections::Gone;
use super::{Carried, Case, Figures, formula, row};
use crate::model::openings::{CarryVerdict, Carrying, Handling, Load, State};
use crate::model::{OpeningKind, Shown, StoneClass};

/// Stone thinner or thicker than this is no worktop that the figures were made for, mm.
const THICKNESSES: [f64; 2] = [10.0, 60.0];

/// Why the trade does not finish an opening on site; `None` if it may be scored. Common practice.
#[must_use]
pub const fn not_scored(kind: OpeningKind, class: StoneClass) -> Option<&'static str> {
    match (kind, class) {
        (OpeningKind::UndermountSink, _) => {
            Some("the edge of an undermount sink is polished, and that is done in the shop")
        }
        (OpeningKind::TapHole | OpeningKind::Outlet, _) => Some("a hole this small is cored in the shop"),
        (_, StoneClass::Porcelain) => Some("porcelain is not finished from a score: the cut runs"),
        (_, StoneClass::EngineeredQuartz) => {
            Some("engineered quartz is not finished from a score: it is brittle, and its dust is the worst of all")
        }
        _ => None,
    }
}

const SCREENING: &str = "These figures are for screening and are no engineering: beam theory, the piece's own weight, factors for knocks. A \
    person who knows this stone decides.";
/// Cautions for an opening that is finished on site.
pub(in crate::craft) const SCORED: [&str; 3] = [
    "Finishing a score on site makes silica dust in a home: cut wet or with extraction on the tool (class M), wear a mask with a \
     protection factor of 20 or more, clean wet. Advice for installers (published, HSE) is to leave no cutting for the site.",
    "Wet cutting needs water on site: protect floor and cabinets, and run tools on a residual-current device.",
    "The edge stays as sawn: only for an opening whose rim hides it. It can't be polished on site as in the shop.",
];
const MENDS: &str = "Make the rails wider or the opening shorter, divide the piece by a seam, take thicker or stronger stone, or give the \
    slab's own tests. A bar clamped along the rail helps; this program does not count it.";

/// The stress of a row in words.
fn told(row: &Handling, start: &str, shown: Shown) -> String {
    let state = match row.state {
        State::Whole => "whole",
        State::Cut => "cut",
        State::Scored => "scored",
    };
    format!(
        "{}, {state}: {:.2} MPa at {} from the {start}, times {} for knocks and {} for safety, is {:.2} of the {:.2} MPa that the \
         stone has.",
        capital(&row.case),
        row.stress_mpa,
        shown.said(row.at),
        plain(row.knocks),
        plain(row.safety),
        row.r#use,
        row.strength_mpa,
    )
}

/// A number with at most two decimals.
fn plain(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

impl Figures<'_> {
    fn row(&self, state: State, case: Case) -> Option<&Handling> {
        self.rows.iter().find(|r| r.state == state && r.case == case.name())
    }

    fn holds(&self, state: State, case: Case) -> bool {
        self.row(state, case).is_some_and(|r| r.r#use <= 1.0)
    }

    fn survives(&self, state: State) -> bool {
        self.holds(state, Case::OnEdge) && self.holds(state, Case::OnFrame)
    }

    fn told(&self, state: State, cases: &[Case]) -> Vec<String> {
        let rows = cases.iter().filter_map(|&c| self.row(state, c));
        rows.map(|r| told(r, self.view.start(), self.shown)).collect()
    }

    /// True if the piece survives on edge and on the frame with its openings like this.
    fn survives_with(&self, gone: &[Gone]) -> bool {
        let weight = formula::unit_weight(self.stone.density);
        let Some(beam) = Beam::new(self.sections, gone, self.slab.thickness, weight) else { return false };
        let two = beam.best_two();
        [Case::OnEdge, Case::OnFrame]
            .iter()
            .all(|&case| row(&beam, self.low_up, two, self.stone, self.shop, State::Scored, case).r#use <= 1.0)
    }

    /// Which openings must be scored: as few as keep the piece sound. Those with the widest rails are cut first.
    fn to_score(&self, scored: &[Gone]) -> Vec<bool> {
        let mut gone = scored.to_vec();
        let width = |o: usize| self.pushes.get(o).and_then(Option::as_ref).map_or(f64::INFINITY, |p| p.width);
        let mut order: Vec<usize> = (0..gone.len()).filter(|&o| gone[o] != Gone::Cut).collect();
        order.sort_by(|&a, &b| width(b).total_cmp(&width(a)).then(a.cmp(&b)));
        for o in order {
            let mut less = gone.clone();
            less[o] = Gone::Cut;
            if self.survives_with(&less) {
                gone = less;
            }
        }
        gone.iter().map(|g| *g != Gone::Cut).collect()
    }
}

/// The verdicts.
pub(super) fn settle(figures: Figures<'_>, load: Load, scored: Option<&[Gone]>) -> Carried {
    let cautions = cautions(&figures, &load);
    let survives = figures.survives(State::Cut);
    let rescued = !survives && scored.is_some() && figures.survives(State::Scored);
    let to_score = scored.filter(|_| rescued).map(|s| figures.to_score(s)).unwrap_or_default();
    let decide = |o: usize| -> (CarryVerdict, Vec<String>) {
        let kind = figures.piece.openings[o].kind;
        if survives {
            return cut(&figures);
        }
        let mut because = figures.told(State::Cut, &[Case::OnEdge, Case::OnFrame]);
        if figures.row(State::Cut, Case::OnEdge).is_none() {
            because.push("With its openings cut the piece is in two parts.".to_owned());
        }
        if rescued {
            because.extend(figures.told(State::Scored, &[Case::OnEdge, Case::OnFrame]));
            if to_score.get(o) == Some(&true) {
                because.push("So it is scored in the shop and finished on site.".to_owned());
                return (CarryVerdict::Score, because);
            }
            let words = "It can be cut in the shop if the openings that weaken the piece are scored only.";
            because.push(words.to_owned());
            return (CarryVerdict::OnEdge, because);
        }
        because.extend(figures.told(State::Scored, &[Case::OnEdge, Case::OnFrame]));
        if !figures.survives(State::Whole) {
            because.extend(figures.told(State::Whole, &[Case::OnEdge, Case::OnFrame]));
            because.push("The piece does not even hold before an opening is cut: divide it by a seam.".to_owned());
        }
        let large_elsewhere = figures.piece.openings.iter().any(|p| !p.kind.is_small());
        if kind.is_small() && large_elsewhere && figures.survives(State::Whole) {
            because.push("Not this hole but a larger opening breaks the piece.".to_owned());
        }
        if let Some(why) = not_scored(kind, figures.slab.stone) {
            because.push(format!("It can't be scored and finished on site: {why}."));
        }
        because.push(MENDS.to_owned());
        (CarryVerdict::Stop, because)
    };
    let openings = (0..figures.piece.openings.len())
        .map(|o| {
            let (verdict, because) = decide(o);
            let mut cautions = cautions.clone();
            if verdict == CarryVerdict::Score {
                cautions.extend(SCORED.map(str::to_owned));
            }
            let span = figures.sections.spans[o];
            if figures.pushes[o].is_none() && span[1] - span[0] > SHORT {
                cautions.push(format!(
                    "There is no rail on one side of this opening ({} found, more than 0 needed): it is a notch, and the other side \
                     carries all.",
                    figures.shown.said(0.0)
                ));
            }
            if let Some(push) = figures.pushes[o].as_ref().filter(|p| p.r#use > 1.0) {
                cautions.push(format!(
                    "Nobody may lean on the {} rail: a push of {} N on its middle gives {:.2} MPa, times {} for safety {:.2} of the \
                     strength. Clamp a bar along it.",
                    push.side,
                    plain(push.push_n),
                    push.stress_mpa,
                    plain(figures.stone.safety),
                    push.r#use
                ));
            }
            Carrying {
                verdict,
                because,
                piece: load.clone(),
                corner: figures.corners[o].clone(),
                push: figures.pushes[o].clone(),
                cautions,
            }
        })
        .collect();
    Carried { load, handling: figures.rows, openings, cautions }
}

/// The verdict of a piece that survives with all openings cut.
fn cut(figures: &Figures<'_>) -> (CarryVerdict, Vec<String>) {
    let mut because = figures.told(State::Cut, &[Case::OnEdge, Case::OnFrame, Case::FlatByEnds]);
    if figures.holds(State::Cut, Case::FlatByEnds) {
        return (CarryVerdict::Cut, because);
    }
    because.push("So it is carried on edge and never flat by hand.".to_owned());
    let lifter = figures.row(State::Cut, Case::FlatAtTwo).filter(|r| r.r#use <= 1.0);
    if let Some((row, [a, b])) = lifter.and_then(|r| Some((r, r.held_at?))) {
        because.push(format!(
            "A lifter may hold it flat at {} and {} from the {}: {:.2} of the strength there.",
            figures.shown.said_bare(a),
            figures.shown.said(b),
            figures.view.start(),
            row.r#use
        ));
    }
    (CarryVerdict::OnEdge, because)
}

fn cautions(figures: &Figures<'_>, load: &Load) -> Vec<String> {
    let shown = figures.shown;
    let mut out = vec![SCREENING.to_owned()];
    out.extend(figures.stone.remarks.iter().cloned());
    let t = figures.slab.thickness;
    if !(THICKNESSES[0]..=THICKNESSES[1]).contains(&t) {
        out.push(format!(
            "The stone is {} thick; the figures were made for worktops of {} to {}.",
            shown.said(t),
            shown.said_bare(THICKNESSES[0]),
            shown.said(THICKNESSES[1])
        ));
    }
    if !figures.piece.outline.ring.is_convex() {
        let inside = figures.piece.outline.shape.turns().into_iter().filter(|(_, _, outward)| !outward);
        let is_sharp = inside.into_iter().any(|(_, radius, _)| radius <= 0.0);
        let radius = if is_sharp { ", and cut the inside corner with a radius" } else { "" };
        out.push(format!(
            "The outline has an inside corner: the figures take the piece as a beam along its longer side. Hold every leg{radius}."
        ));
    }
    let side = load.up.as_ref().map_or_else(String::new, |s| format!(" with the {s} edge up"));
    let flat = if figures.row(State::Whole, Case::FlatByEnds).is_some_and(|r| r.r#use > 1.0) {
        "; flat by its ends it does not even hold before an opening is cut"
    } else {
        ""
    };
    if figures.survives(State::Cut) || figures.piece.openings.is_empty() {
        out.push(format!("Carry it on edge{side}, held at its ends{flat}."));
    } else if figures.survives(State::Whole) {
        out.push(format!("Before its openings are cut through, carry it on edge{side}, held at its ends{flat}."));
    } else {
        out.push("It does not hold on edge either, not even before an opening is cut: do not carry it.".to_owned());
    }
    let people = if load.people == 1 { "1 person".to_owned() } else { format!("{} people", load.people) };
    let niosh = load.niosh_people.map_or_else(
        || "allows no lift made like this".to_owned(),
        |n| format!("allows {:.1} kg{} each, which wants {n}", load.niosh_kg, shown.pounds(load.niosh_kg)),
    );
    out.push(format!(
        "{:.0} kg{} whole, {:.0} kg{} cut: {people} at {} kg{} each. The NIOSH equation for a lift as the shop makes it {niosh}.",
        load.mass_kg,
        shown.pounds(load.mass_kg),
        load.mass_cut_kg,
        shown.pounds(load.mass_cut_kg),
        plain(figures.shop.share),
        shown.pounds(figures.shop.share),
    ));
    if load.niosh_index.is_none_or(|i| i > 1.0) {
        let index = load.niosh_index.map_or_else(String::new, |i| {
            format!(" The lifting index is {i:.1}; the aim is 1, above 3 the risk is high.")
        });
        out.push(format!("Use a trolley or a lifter, or more people.{index}"));
    }
    out
}
