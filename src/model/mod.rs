//! The nouns: jobs, pieces, openings, slabs, flaws, shop, plan. Plain values; no file, clock or screen.

pub mod drops;
mod fixture;
mod flaw;
mod handling;
mod hash;
mod held;
mod job;
mod money;
mod number;
pub mod openings;
mod outline;
mod photo;
mod plan;
pub mod quote;
mod rates;
mod rods;
mod shop;
pub mod side;
mod slab;
mod stone;
mod strength;

/// The units of a shop's sentences.
pub use crate::units::Shown;
pub use fixture::{Drawn, Fit, Fixture, Origin};
pub use flaw::{Flaw, FlawBody, FlawKind, Zone, Zones};
pub use handling::Handling;
pub use hash::fnv1a;
pub use job::{GrainWish, Hidden, InsideCorner, Job, Opening, OpeningKind, Piece, PieceId, Question};
pub use money::{Exact, Money};
pub use number::PlanNumber;
pub use openings::Spare;
pub use outline::{Finish, Outline, OutlineFault, Shape};
pub use photo::Photo;
pub use plan::{
    Finding, Goal, Grade, Layout, Offcut, OpeningOutline, Placed, Plan, PlanLimits, Rectangle, Rule, Unplaced, Yield,
};
pub use rates::{AreaRule, Extra, Per, RateUnit, Rates, RoundedBy, Service, SlabCharge};
pub use rods::Rods;
pub use shop::{Blade, Limits, Shop, Tools};
pub use side::{Bulge, Curve, OutlineSide};
pub use slab::{CameFrom, Slab};
pub use stone::{RailDefaults, StoneClass};
pub use strength::{Known, Standing, StoneTests, Strength, TestedStrength};

/// Millimetres (or degrees) as they stand in messages: at most one decimal.
#[must_use]
pub fn show_mm(v: f64) -> String {
    crate::units::Decimal(v, 1).to_string()
}

/// The n-th of a, b, ... z, aa, ab, ..., from 0.
#[must_use]
pub fn letters(mut n: usize) -> String {
    let mut out = Vec::new();
    loop {
        out.push(b'a' + (n % 26) as u8);
        if n < 26 {
            break;
        }
        n = n / 26 - 1;
    }
    out.iter().rev().map(|&b| char::from(b)).collect()
}
