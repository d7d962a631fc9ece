//! The fabricator's limits and tools, with the reason and the source of every default.

use super::flaw::{Zone, Zones};
use super::handling::Handling;
use super::job::OpeningKind;
use super::rates::Rates;
use super::rods::Rods;
use super::slab::Slab;
use super::stone::RailDefaults;
use crate::units::Shown;

/// The fabricator.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shop {
    /// Distances and thresholds.
    pub limits: Limits,
    /// Tools at hand.
    pub tools: Tools,
    /// Rods and what holds them.
    pub rods: Rods,
    /// How pieces are carried.
    pub handling: Handling,
    /// What it charges.
    pub rates: Rates,
    /// The units in which sentences give lengths and masses: remarks of the judge, reasons, what is said of openings, the
    /// words of a quote. Numbers do not depend on it. Reading a job sets it, see [`crate::io::load`].
    pub shown: Shown,
}

/// Distances (mm) and thresholds. The field docs give reason and source of each default.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Width of stone that the blade removes. 4: a bridge saw blade of 350 to 450 mm cuts 3.0 to 4.0 mm (common practice).
    pub kerf: f64,
    /// Least distance between the stone of two pieces, at least the kerf. 6: the kerf and some stone for finishing the
    /// edges (common practice: kerf + 3 to 10 mm for polished neighbours, the kerf alone for raw ones).
    pub gap: f64,
    /// Least distance between a piece and the slab's outline. 20: saws start beside the rough rim (common practice: 25 to
    /// 75 mm on natural stone as delivered, 10 to 20 mm on made slabs; outlines on the rack are drawn round sound stone).
    pub trim: f64,
    /// Least distance between a flaw and a zone that may not touch it. 10: flaws are marked by hand and run on a little
    /// under the surface (common practice).
    pub flaw_gap: f64,
    /// Least rail, in place of the default by class of stone and thickness ([`super::StoneClass::rails`]).
    pub min_rail: Option<f64>,
    /// A rail narrower than this wants rods, in place of the default by class and thickness.
    pub rod_rail: Option<f64>,
    /// Least rail between a tap hole or an outlet and the edge of the piece. 25 (common practice: 25 mm or one hole
    /// diameter clear).
    pub tap_rail: f64,
    /// Least web between two openings. 100 (common practice; 70 with rod and support is published by one fabricator).
    pub min_web: f64,
    /// Least web where one of the two is a tap hole or an outlet. 25 (common practice).
    pub tap_web: f64,
    /// Stone within this distance of an opening is rail. 100 (common practice).
    pub rail_zone: f64,
    /// Stone within this distance of a tap hole or an outlet is rail. 25 (common practice).
    pub tap_zone: f64,
    /// Stone within this distance of a finished edge is edge. 25: what grinding and polishing can open (common practice).
    pub edge_zone: f64,
    /// True if small pieces may be laid into the drops of openings. Off: drops break when they come out (common practice).
    pub use_drops: bool,
    /// An offcut is kept if its largest rectangle has this area, mm². 0.5 m² (common practice).
    pub keep_area: f64,
    /// ... and this short side, mm. 400 (common practice).
    pub keep_side: f64,
    /// A kept offcut is worth its rectangle's area times the slab's price per area times this. 0.5 (common practice: 0.3
    /// to 0.7).
    pub keep_share: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            kerf: 4.0,
            gap: 6.0,
            trim: 20.0,
            flaw_gap: 10.0,
            min_rail: None,
            rod_rail: None,
            tap_rail: 25.0,
            min_web: 100.0,
            tap_web: 25.0,
            rail_zone: 100.0,
            tap_zone: 25.0,
            edge_zone: 25.0,
            use_drops: false,
            keep_area: 0.5e6,
            keep_side: 400.0,
            keep_share: 0.5,
        }
    }
}

impl Limits {
    /// Least rail and rod threshold on a slab, mm.
    #[must_use]
    pub fn rails(&self, slab: &Slab) -> RailDefaults {
        let by_class = slab.stone.rails(slab.thickness);
        RailDefaults {
            stop: self.min_rail.unwrap_or(by_class.stop),
            rod: self.rod_rail.unwrap_or(by_class.rod),
            advised_against: by_class.advised_against,
        }
    }

    /// How far the rail zone reaches from an opening, mm.
    #[must_use]
    pub const fn rail_reach(&self, kind: OpeningKind) -> f64 {
        if kind.is_small() { self.tap_zone } else { self.rail_zone }
    }

    /// Least web between two openings, mm.
    #[must_use]
    pub const fn web(&self, a: OpeningKind, b: OpeningKind) -> f64 {
        if a.is_small() || b.is_small() { self.tap_web } else { self.min_web }
    }

    /// Zones that must be free of a flaw which allows `allow`.
    #[must_use]
    pub const fn forbidden(allow: Zones) -> Zones {
        allow.others()
    }

    /// The zones of a plain raw-edged remnant: what an offcut must be free of is what the field may not touch.
    #[must_use]
    pub const fn offcut_zones() -> Zones {
        Zones::of(&[Zone::Field])
    }
}

/// A saw blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blade {
    /// Its diameter, mm.
    pub diameter: f64,
    /// Width of stone that it removes, mm.
    pub kerf: f64,
}

impl Blade {
    /// How far a disc let down to `depth` (mm) reaches on the surface past its middle, mm: `sqrt(2 R h - h²)` for blade
    /// radius R and depth h (half the chord of the circle at the surface). `None` if the blade cannot reach that depth.
    #[must_use]
    pub fn overrun(&self, depth: f64) -> Option<f64> {
        let radius = self.diameter / 2.0;
        (depth >= 0.0 && depth <= radius).then(|| (depth * (2.0 * radius - depth)).max(0.0).sqrt())
    }

    /// How much shorter than on the surface the cut is at its far side, at one end, mm, for stone of `thickness` cut to
    /// `depth` (mm), with `depth` at least `thickness`. `None` if the blade cannot reach that depth.
    #[must_use]
    pub fn left_under(&self, thickness: f64, depth: f64) -> Option<f64> {
        Some(self.overrun(depth)? - self.overrun((depth - thickness).max(0.0))?)
    }
}

/// Tools that limit what can be cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Tools {
    /// Diameters of the core bits, mm, ascending. The smallest one limits inside corners: its half, 10 mm, is also the least
    /// inside radius that fabricators publish (3/8 in). The set is common practice.
    pub core_bits: Vec<f64>,
    /// Saw blades, largest first. 400 and 350 mm with kerfs of 3.6 and 3.2 mm for the bridge saw, 125 mm with 2.4 mm for the
    /// hand: within what is common practice (350 to 450 mm: 3.0 to 4.0 mm; 100 to 125 mm: 2.0 to 2.5 mm).
    pub blades: Vec<Blade>,
    /// How deep a cut that goes through runs on into the table, mm. 2 (common practice: 1 to 3 mm).
    pub table_cut: f64,
}

impl Default for Tools {
    fn default() -> Self {
        let blade = |diameter, kerf| Blade { diameter, kerf };
        Self {
            core_bits: vec![20.0, 25.0, 32.0, 35.0, 38.0, 45.0, 51.0, 68.0, 75.0],
            blades: vec![blade(400.0, 3.6), blade(350.0, 3.2), blade(125.0, 2.4)],
            table_cut: 2.0,
        }
    }
}

impl Tools {
    /// A line that turns by less is a step of a curve and no corner, degrees. As in [`super::Shape::turns`].
    pub const CORNER: f64 = 15.0;

    /// How far a core may take stone beyond the line as drawn, mm. 1.5: the tolerance of openings that a fabricator publishes.
    pub const PAST_LINE: f64 = 1.5;

    /// How far short of the line the small cuts at a corner without a core end, mm, the rest to be ground. 1 (common practice).
    pub const ROW_SHORT: f64 = 1.0;

    /// Radius of the pocket that a row of small cuts opens where the shop has no core bit, mm. 10: the least inside radius that
    /// fabricators publish (3/8 in).
    pub const POCKET: f64 = 10.0;

    /// A bit within this of a hole's diameter is the very one (mm): 35 mm and 1 3/8 in are one bit.
    pub const SAME_BIT: f64 = 0.1;

    /// The blades, largest first.
    #[must_use]
    pub fn blades_by_size(&self) -> Vec<Blade> {
        let mut blades = self.blades.clone();
        blades.sort_by(|a, b| b.diameter.total_cmp(&a.diameter).then(a.kerf.total_cmp(&b.kerf)));
        blades
    }

    /// Least radius of an inside corner, mm; 0 if the list of bits is empty.
    #[must_use]
    pub fn least_radius(&self) -> f64 {
        self.core_bits.iter().copied().reduce(f64::min).map_or(0.0, |d| d / 2.0)
    }

    /// Depth of a cut that goes through stone of a thickness, mm.
    #[must_use]
    pub fn through(&self, thickness: f64) -> f64 {
        thickness + self.table_cut
    }
}
