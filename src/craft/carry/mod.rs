//! Whether a piece survives being carried: mass, hands, the stress in its weakest section, and what that means for its openings.
//!
//! In: a piece, the slab it is cut from, the shop's table of handling. Out: rows and verdicts of [`crate::model::openings`].
//! The piece is a beam along its longer side under its own weight: the section at every x is what the line x = const cuts out of
//! the stone, and its weight is the true one. This is screening, not engineering. Must not know: plans, drawings, files.

mod beam;
mod corner;
pub mod formula;
mod on_edge;
mod sections;
mod stone;
mod verdict;
mod view;

pub use corner::POISSON;
pub use stone::Stone;
pub(super) use verdict::SCORED;
pub use verdict::not_scored;

use self::beam::{Beam, Peak};
use self::on_edge::OnEdge;
use self::sections::{Gone, Sections};
use self::view::View;
use crate::geom::{Region, pt};
use crate::model::openings::{self, Carrying, CornerStress, Load, RailPush, Rod, State, Value};
use crate::model::{Handling, Piece, Shown, Slab, Standing};

/// A way of carrying.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Case {
    /// Flat, two people, each at an end.
    FlatByEnds,
    /// Flat, by a crane or a vacuum lifter that holds it at the best two points.
    FlatAtTwo,
    /// Plane upright, two people, each at an end.
    OnEdge,
    /// On edge on a frame: it stands at its ends, and leans against two uprights at the best two points.
    OnFrame,
    /// Flat on two bearers at the best two points.
    FlatOnRoad,
}

impl Case {
    /// All of them, in the order of a sheet.
    pub const ALL: [Self; 5] = [Self::FlatByEnds, Self::FlatAtTwo, Self::OnEdge, Self::OnFrame, Self::FlatOnRoad];

    /// Its name on a sheet.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FlatByEnds => "flat by its ends",
            Self::FlatAtTwo => "flat at two points",
            Self::OnEdge => "on edge",
            Self::OnFrame => "on a frame on the road",
            Self::FlatOnRoad => "flat on the road",
        }
    }

    /// The factor for knocks.
    #[must_use]
    pub const fn knocks(self, handling: &Handling) -> f64 {
        match self {
            Self::FlatByEnds | Self::OnEdge => handling.knocks_by_hand,
            Self::FlatAtTwo => handling.knocks_by_crane,
            Self::OnFrame => handling.knocks_on_frame,
            Self::FlatOnRoad => handling.knocks_flat_on_road,
        }
    }
}

/// What is to be said about a piece on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// The piece as a load.
    pub load: Load,
    /// Stress in the weakest section, by state and case. No rows of a state in which the piece is in two parts; none scored if
    /// no opening may be.
    pub handling: Vec<openings::Handling>,
    /// One for every opening of the piece, in its order.
    pub openings: Vec<Carrying>,
    /// Cautions about the piece, also where it has no opening.
    pub cautions: Vec<String>,
}

impl Carried {
    /// The row of a state and a case.
    #[must_use]
    pub fn row(&self, state: State, case: Case) -> Option<&openings::Handling> {
        self.handling.iter().find(|r| r.state == state && r.case == case.name())
    }
}

/// What is known before the verdict.
struct Figures<'a> {
    piece: &'a Piece,
    slab: &'a Slab,
    stone: &'a Stone,
    shop: &'a Handling,
    view: &'a View,
    sections: &'a Sections,
    /// True if the lower side of the view is to be up on edge.
    low_up: bool,
    rows: Vec<openings::Handling>,
    corners: Vec<Option<CornerStress>>,
    pushes: Vec<Option<RailPush>>,
    shown: Shown,
}

/// Works out how a piece of the slab's stone fares on its way.
///
/// `scores`: for every opening the stone left under its score, mm; `None`, also by being missing, where the opening is not to be
/// scored. What the trade does not score ([`not_scored`]) is cut in any case. Sentences give lengths and masses in the units
/// `shown`.
#[must_use]
pub fn carry(piece: &Piece, slab: &Slab, handling: &Handling, scores: &[Option<f64>], shown: Shown) -> Carried {
    let stone = Stone::of(slab, handling);
    let view = View::of(piece);
    let sections = Sections::of(&view.outline, &view.openings);
    let weight = formula::unit_weight(stone.density);
    let n = piece.openings.len();
    let beam = |gone| Beam::new(&sections, gone, slab.thickness, weight);

    let (whole_gone, cut_gone) = (vec![Gone::Filled; n], vec![Gone::Cut; n]);
    let scored_gone = scored(piece, slab, scores);
    let (whole, cut) = (beam(&whole_gone), beam(&cut_gone));
    let push = |o: usize| corner::push(&view, o, cut.as_ref()?, handling.push, stone.strength, stone.safety);
    let pushes: Vec<Option<RailPush>> = (0..n).map(push).collect();
    let corners = piece.openings.iter().map(|o| corner::worst(&view, o, cut.as_ref()?, whole.as_ref()?)).collect();
    // The narrowest rail goes up: down there it would bear the piece and meet the ground.
    let large = piece.openings.iter().zip(&pushes).filter(|(o, _)| !o.kind.is_small());
    let narrowest = large.filter_map(|(_, p)| p.as_ref()).min_by(|a, b| a.width.total_cmp(&b.width));
    let low_up = narrowest.is_none_or(|p| p.side == view.side(true));

    let mut rows = Vec::new();
    for (state, gone) in
        [(State::Whole, Some(&whole_gone)), (State::Cut, Some(&cut_gone)), (State::Scored, scored_gone.as_ref())]
    {
        let Some(beam) = gone.filter(|_| state == State::Whole || n > 0).and_then(|g| beam(g)) else { continue };
        rows.extend(all_rows(&beam, low_up, &stone, handling, state));
    }
    let up = narrowest.map(|p| p.side.clone());
    let load = load(piece, slab, &stone, handling, &view, up);
    let figures = Figures {
        piece,
        slab,
        stone: &stone,
        shop: handling,
        view: &view,
        sections: &sections,
        low_up,
        rows,
        corners,
        pushes,
        shown,
    };
    verdict::settle(figures, load, scored_gone.as_deref())
}

/// The openings with those scored that may be; `None` if there is none.
fn scored(piece: &Piece, slab: &Slab, scores: &[Option<f64>]) -> Option<Vec<Gone>> {
    let gone = |(k, o): (usize, &crate::model::Opening)| {
        let left = scores.get(k).copied().flatten().filter(|l| *l > 0.0 && *l < slab.thickness);
        match left {
            Some(left) if not_scored(o.kind, slab.stone).is_none() => Gone::Scored(left),
            _ => Gone::Cut,
        }
    };
    let all: Vec<Gone> = piece.openings.iter().enumerate().map(gone).collect();
    all.iter().any(|g| matches!(g, Gone::Scored(_))).then_some(all)
}

/// The rows of one state, one a case.
fn all_rows(beam: &Beam<'_>, low_up: bool, stone: &Stone, shop: &Handling, state: State) -> Vec<openings::Handling> {
    let two = beam.best_two();
    Case::ALL.iter().map(|&case| row(beam, low_up, two, stone, shop, state, case)).collect()
}

fn row(
    beam: &Beam<'_>,
    low_up: bool,
    two: [f64; 2],
    stone: &Stone,
    shop: &Handling,
    state: State,
    case: Case,
) -> openings::Handling {
    let edge = OnEdge::new(beam, low_up);
    // Leaning by this angle, so much of the weight bends it flat, and so much on edge.
    let (sin, cos) = shop.frame_angle.to_radians().sin_cos();
    let flat = |held: [f64; 2]| move |k: usize, x: f64| beam.flat(k, x, held);
    let (held, peak): ([f64; 2], Peak) = match case {
        Case::FlatByEnds => (beam.ends, beam.peak(beam.ends, flat(beam.ends))),
        Case::FlatAtTwo | Case::FlatOnRoad => (two, beam.peak(two, flat(two))),
        Case::OnEdge => (beam.ends, beam.peak(beam.ends, |k, x| edge.pull(k, x))),
        Case::OnFrame => {
            let both = |k: usize, x: f64| Some(edge.pull(k, x)? * cos + beam.flat(k, x, two)? * sin);
            (two, beam.peak(two, both))
        }
    };
    let knocks = case.knocks(shop);
    openings::Handling {
        case: case.name().to_owned(),
        state,
        stress_mpa: peak.stress,
        strength_mpa: stone.strength,
        safety: stone.safety,
        knocks,
        r#use: peak.stress * knocks * stone.safety / stone.strength,
        at: peak.at,
        held_at: Some(held),
    }
}

fn load(piece: &Piece, slab: &Slab, stone: &Stone, shop: &Handling, view: &View, up: Option<String>) -> Load {
    let full = piece.outline.ring.to_region();
    let cut = piece.stone();
    let mass = |r: &Region| r.area().max(0.0) * slab.thickness * stone.density * 1e-9;
    let middle = |r: &Region| -> [f64; 2] { r.centroid().unwrap_or_else(|| pt(0.0, 0.0)).into() };
    let mass_kg = mass(&full);
    let people = formula::people(mass_kg, shop.share).unwrap_or(u32::MAX);
    let niosh_kg = formula::recommended_mass(&formula::Lift {
        reach: shop.reach,
        height: shop.grip_height,
        travel: shop.lift,
        twist: shop.twist,
        frequency: shop.frequency,
        grip: shop.grip,
    });
    let niosh_people = formula::people(mass_kg, niosh_kg);
    let index = mass_kg / (niosh_kg * f64::from(people));
    Load {
        mass_kg,
        mass_cut_kg: mass(&cut),
        centre: middle(&full),
        centre_cut: middle(&cut),
        along: view.along().to_owned(),
        up,
        people,
        niosh_kg,
        niosh_people,
        niosh_index: niosh_people.map(|_| index),
        values: stone.values.iter().cloned().chain(shop_values(shop)).collect(),
    }
}

/// The shop's factors, each with where it comes from.
fn shop_values(shop: &Handling) -> Vec<Value> {
    let default = Handling::default();
    let value = |what: &str, unit: &str, now: f64, was: f64, standing: Standing, source: &str| {
        let (standing, source) =
            if now == was { (standing, source) } else { (Standing::Shop, "[handling] of the shop file") };
        Value { what: what.to_owned(), value: now, unit: unit.to_owned(), source: source.to_owned(), standing }
    };
    let trade = "habit of the trade, modelled on the multipliers for precast concrete";
    let niosh = "NIOSH publication 94-110";
    let practice = Standing::Practice;
    vec![
        value("knocks by hand", "", shop.knocks_by_hand, default.knocks_by_hand, practice, trade),
        value("knocks by crane", "", shop.knocks_by_crane, default.knocks_by_crane, practice, trade),
        value("knocks on a frame on the road", "", shop.knocks_on_frame, default.knocks_on_frame, practice, trade),
        value("knocks flat on the road", "", shop.knocks_flat_on_road, default.knocks_flat_on_road, practice, trade),
        value(
            "lean of the frame",
            "degrees",
            shop.frame_angle,
            default.frame_angle,
            Standing::Published,
            "articles on carrying granite tops",
        ),
        value("share of each person", "kg", shop.share, default.share, Standing::Published, niosh),
        value(
            "yield strength of rods",
            "MPa",
            shop.rod_yield,
            default.rod_yield,
            Standing::Memory,
            "annealed stainless steel",
        ),
        value("push on a rail", "N", shop.push, default.push, practice, "a person who leans on it with one hand"),
    ]
}

/// What a rodded rail carries before and after it cracks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RodHold {
    /// The most that the plain stone of the rail carries, N m, by its strength and without any factor.
    pub stone_nm: f64,
    /// What the rod still carries once the stone has cracked, N m.
    pub rod_nm: f64,
}

impl RodHold {
    /// As a sentence for a sheet.
    #[must_use]
    pub fn told(&self) -> String {
        format!(
            "The {:.0} N m that the rail carries before it cracks come from the stone alone: a rod adds nothing to them. After a crack \
             the rod still holds {:.0} N m where the rail sags, and keeps the parts together; where it is bent upwards it does not help.",
            self.stone_nm, self.rod_nm
        )
    }
}

/// What a rail with a rod in its back carries, sagging; `width` and `thickness` of the rail in mm. The rod lies at the bottom of
/// its groove.
#[must_use]
pub fn rod_hold(rod: &Rod, width: f64, thickness: f64, stone: &Stone, handling: &Handling) -> RodHold {
    let deep = (thickness - rod.groove_depth + rod.diameter / 2.0).clamp(0.0, thickness);
    RodHold {
        stone_nm: stone.strength * formula::modulus(width, thickness) / 1000.0,
        rod_nm: formula::rod_after_crack(rod.diameter, handling.rod_yield, deep),
    }
}
