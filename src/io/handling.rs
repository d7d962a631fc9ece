//! Reads `[handling]` of `shop.toml`.
//!
//! In: a parsed table. Out: a [`Handling`] with the defaults for all that is not given, and remarks.
//! Must not know: jobs, slabs, what is made of the factors.

use super::reader::{Keys, Table};
use super::shape::Likely;
use crate::model::{Handling, StoneClass};
use crate::units::Unit;

/// The keys of the table.
pub(super) const HANDLING: &[&str] = &[
    "knocks_by_hand",
    "knocks_by_crane",
    "knocks_on_frame",
    "knocks_flat_on_road",
    "frame_angle",
    "share",
    "reach",
    "grip_height",
    "lift",
    "twist",
    "frequency",
    "grip",
    "push",
    "rod_yield",
    "safety",
];

/// The keys of its table of factors of safety: the classes of stone.
pub(super) const SAFETY: &[&str] = &[
    "granite",
    "quartzite",
    "slate",
    "marble",
    "limestone",
    "travertine",
    "onyx",
    "serpentine",
    "soapstone",
    "sandstone",
    "engineered quartz",
    "porcelain",
];

/// Reads the table `handling` of a shop.
pub(super) fn read(shop: &Table<'_>, unit: Unit, all: &'static Keys) -> Handling {
    let mut handling = Handling::default();
    let Some(table) = shop.get("handling").and_then(|v| v.table(HANDLING, all)) else { return handling };
    let number = |key: &'static str, field: &mut f64, least: f64, most: f64| {
        if let Some(value) = table.get(key).and_then(|v| v.number_within(least, most)) {
            *field = value;
        }
    };
    number("knocks_by_hand", &mut handling.knocks_by_hand, 1.0, 10.0);
    number("knocks_by_crane", &mut handling.knocks_by_crane, 1.0, 10.0);
    number("knocks_on_frame", &mut handling.knocks_on_frame, 1.0, 10.0);
    number("knocks_flat_on_road", &mut handling.knocks_flat_on_road, 1.0, 10.0);
    number("frame_angle", &mut handling.frame_angle, 0.0, 45.0);
    number("share", &mut handling.share, 1.0, 100.0);
    number("twist", &mut handling.twist, 0.0, 135.0);
    number("frequency", &mut handling.frequency, 0.05, 1.0);
    number("grip", &mut handling.grip, 0.05, 1.0);
    number("push", &mut handling.push, 0.0, 10_000.0);
    number("rod_yield", &mut handling.rod_yield, 10.0, 2000.0);
    let length = |key: &'static str, field: &mut f64| {
        if let Some(value) = table.get(key)
            && let Some(mm) = value.length_from_zero(unit)
        {
            Likely { what: "distance", least: 0.0, most: 2000.0 }.check(&value, mm, unit);
            *field = mm;
        }
    };
    length("reach", &mut handling.reach);
    length("grip_height", &mut handling.grip_height);
    length("lift", &mut handling.lift);
    if let Some(safety) = table.get("safety").and_then(|v| v.table(SAFETY, all)) {
        for &key in SAFETY {
            let factor = safety.get(key).and_then(|v| v.number_within(1.0, 50.0));
            if let (Some(class), Some(factor)) = (StoneClass::from_name(key), factor) {
                handling.safety.insert(class, factor);
            }
        }
    }
    handling
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_class_of_stone_can_have_a_factor() {
        assert_eq!(SAFETY, StoneClass::NAMES.map(|n| n.0));
    }
}
