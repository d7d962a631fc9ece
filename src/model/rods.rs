//! Rods that are glued into the back of rails, with the reason and the source of every default.

use super::shop::Blade;

/// What the shop glues into rails. The field docs give reason and source of each default.
#[derive(Clone, Debug, PartialEq)]
pub struct Rods {
    /// Diameters of the round rods at hand, mm, largest first. 8, 6 and 5 (common practice).
    pub diameters: Vec<f64>,
    /// What they are of. "threaded stainless steel": threaded round steel was best in a trade association's tests of 2000
    /// (published by a supplier); plain steel rusts, swells and splits the rail (published by a builders' magazine).
    pub material: String,
    /// The blade that cuts the groove. 100 mm, 6 mm wide (published by a tool supplier).
    pub blade: Blade,
    /// How much wider than the rod the groove is, mm. 2 (common practice: 1.5 to 2 mm).
    pub play: f64,
    /// Resin over the rod, mm: how deep the rod lies below the surface. 2 (common practice: 2 to 3 mm).
    pub cover: f64,
    /// How far the rod runs on past the opening at each end, mm. 150 (common practice: 100 to 150 mm, and more than 25
    /// diameters of the rod).
    pub past: f64,
    /// Density of the resin, g/cm³. 1.4: between 1.1 (clear) and 1.7 (filled paste), both from memory of product data.
    pub resin_density: f64,
    /// Mass of hardener for each mass of resin. 0.02 (common practice for polyester; 1 to 5 % was seen: the tin decides).
    pub hardener: f64,
    /// Resin mixed beyond what the groove holds, as a share of it. 0.15 (common practice).
    pub waste: f64,
}

impl Default for Rods {
    fn default() -> Self {
        Self {
            diameters: vec![8.0, 6.0, 5.0],
            material: "threaded stainless steel".to_owned(),
            blade: Blade { diameter: 100.0, kerf: 6.0 },
            play: 2.0,
            cover: 2.0,
            past: 150.0,
            resin_density: 1.4,
            hardener: 0.02,
            waste: 0.15,
        }
    }
}

impl Rods {
    /// Least stone above a groove, mm, by the thickness of the slab: 15 in 30 mm, 12 in 20 mm (common practice). Thicknesses
    /// between the listed ones take the thinner row, as for rails; below 18 mm the share of the 20 mm row is kept, 0.6 of
    /// the thickness.
    #[must_use]
    pub fn least_above(thickness: f64) -> f64 {
        if thickness >= 28.0 {
            15.0
        } else if thickness >= 18.0 {
            12.0
        } else {
            0.6 * thickness
        }
    }

    /// Deepest groove, mm: it leaves [`Rods::least_above`], and never goes deeper than half the thickness (common practice).
    #[must_use]
    pub fn deepest(thickness: f64) -> f64 {
        (thickness / 2.0).min(thickness - Self::least_above(thickness)).max(0.0)
    }

    /// How far a rod of a diameter runs past the opening, mm: [`Rods::past`], or the next ten millimetres beyond 25
    /// diameters where that is more.
    #[must_use]
    pub fn length_past(&self, diameter: f64) -> f64 {
        self.past.max(((25.0 * diameter / 10.0).floor() + 1.0) * 10.0)
    }

    /// Width of the groove for a rod, mm: the blade's kerf where the rod has its play in it, else as wide as rod and play
    /// are, in more than one pass.
    #[must_use]
    pub fn groove_width(&self, diameter: f64) -> f64 {
        self.blade.kerf.max(diameter + self.play)
    }
}
