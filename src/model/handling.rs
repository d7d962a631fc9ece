//! How pieces are carried and lifted in the shop, with the reason and the source of every default.

use std::collections::BTreeMap;

use super::stone::StoneClass;

/// Factors for knocks, the people who lift, and factors of safety. The field docs give reason and source of each default.
#[derive(Clone, Debug, PartialEq)]
pub struct Handling {
    /// Factor for knocks on a piece carried by hand. 1.5: a step, a stumble, a set-down (common practice, modelled on the
    /// multipliers for precast concrete, which are from memory of the PCI handbook: 1.2 in the yard, 1.5 in travel).
    pub knocks_by_hand: f64,
    /// ... hung from a crane or a vacuum lifter. 1.2 (common practice; 1.2 times the weight is a check for precast members
    /// in PCI Journal, Winter 2010).
    pub knocks_by_crane: f64,
    /// ... standing on edge on a frame on the road. 1.5 (common practice).
    pub knocks_on_frame: f64,
    /// ... lying flat on the road. 2.0 (common practice).
    pub knocks_flat_on_road: f64,
    /// How far the frame leans from upright, degrees. 10 (published: articles on carrying granite tops).
    pub frame_angle: f64,
    /// What one person may lift, kg. 23: the most under the best conditions (published: NIOSH 94-110). The trade's habit of
    /// 25 to 35 kg is above it.
    pub share: f64,
    /// Distance of the hands from the ankles, mm, for the lifting equation. 400: a top held before the body (common practice).
    pub reach: f64,
    /// Height of the hands when the lift starts, mm. 750: knuckles (NIOSH 94-110, the best height).
    pub grip_height: f64,
    /// How far the hands travel upwards, mm. 250 or less counts as none (NIOSH 94-110).
    pub lift: f64,
    /// How far the body twists, degrees. 0.
    pub twist: f64,
    /// Factor for how often one lifts. 0.95 (NIOSH 94-110, from memory: one lift in one to five minutes for an hour).
    pub frequency: f64,
    /// Factor for the grip. 0.90: poor, a slab has no handles (NIOSH 94-110, from memory).
    pub grip: f64,
    /// A push on the narrowest rail that it should stand, N. 200: a person who leans on it with one hand (common practice).
    pub push: f64,
    /// Yield strength of the rods, MPa. 205: annealed stainless steel (from memory).
    pub rod_yield: f64,
    /// Factors of safety in place of those of [`StoneClass::strength`].
    pub safety: BTreeMap<StoneClass, f64>,
}

impl Default for Handling {
    fn default() -> Self {
        Self {
            knocks_by_hand: 1.5,
            knocks_by_crane: 1.2,
            knocks_on_frame: 1.5,
            knocks_flat_on_road: 2.0,
            frame_angle: 10.0,
            share: 23.0,
            reach: 400.0,
            grip_height: 750.0,
            lift: 250.0,
            twist: 0.0,
            frequency: 0.95,
            grip: 0.90,
            push: 200.0,
            rod_yield: 205.0,
            safety: BTreeMap::new(),
        }
    }
}
