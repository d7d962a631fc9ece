//! Closed forms of the strength of materials, as the handbooks have them: the plain cases, and the figures at holes and corners.
//!
//! In: numbers. Out: numbers. Lengths mm, forces N, moments N mm, stresses MPa, densities kg/m³, masses kg.
//! Must not know: pieces. The general sections ([`super::sections`], [`super::on_edge`]) are tested against these.

/// Standard gravity, m/s² (ISO 80000-3).
pub const GRAVITY: f64 = 9.80665;

/// Weight of stone, N/mm³, of a density in kg/m³.
#[must_use]
pub fn unit_weight(density: f64) -> f64 {
    density * GRAVITY * 1e-9
}

/// Section modulus of a rectangle bent about its width, mm³: `width thickness² / 6`.
#[must_use]
pub fn modulus(width: f64, thickness: f64) -> f64 {
    width * thickness * thickness / 6.0
}

/// Stress in an even strip carried flat by its ends: `3 density g span² / (4 thickness)`; the width cancels out.
#[must_use]
pub fn flat_by_ends(density: f64, span: f64, thickness: f64) -> f64 {
    0.75 * unit_weight(density) * span * span / thickness
}

/// Where two supports of an even beam lie best, as a share of its length from each end: (√2 - 1) / 2.
#[must_use]
pub fn best_overhang() -> f64 {
    (std::f64::consts::SQRT_2 - 1.0) / 2.0
}

/// Stress concentration at a round hole of diameter `share` (of the width) in a strip under tension, on the net section:
/// `2 + (1 - share)³` (Heywood; from memory of Peterson's tables). On the gross section it is this over `1 - share`.
#[must_use]
pub fn round_hole_in_strip(share: f64) -> f64 {
    2.0 + (1.0 - share).powi(3)
}

/// ... at a round hole in a wide thin plate in bending: `(5 + 3 ν) / (3 + ν)` (from memory of Peterson, Roark). For holes much
/// larger than the thickness.
#[must_use]
pub fn round_hole_in_bending(poisson: f64) -> f64 {
    (5.0 + 3.0 * poisson) / (3.0 + poisson)
}

/// ... at an ellipse in a wide plate under tension: `1 + 2 across/along`, half axes across and along the stress (published).
#[must_use]
pub fn ellipse_in_tension(across: f64, along: f64) -> f64 {
    1.0 + 2.0 * across / along
}

/// ... at an ellipse in bending: `1 + 2 (1 + ν) / (3 + ν) across/along` (from memory of Peterson).
#[must_use]
pub fn ellipse_in_bending(across: f64, along: f64, poisson: f64) -> f64 {
    1.0 + 2.0 * (1.0 + poisson) / (3.0 + poisson) * across / along
}

/// A stress concentration in tension as one in bending: `1 + (Kt - 1) (1 + ν) / (3 + ν)`; exact for ellipses, an estimate for
/// other holes (derived).
#[must_use]
pub fn in_bending(tension: f64, poisson: f64) -> f64 {
    1.0 + (tension - 1.0) * (1.0 + poisson) / (3.0 + poisson)
}

/// How a figure at a corner was come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CornerFormula {
    /// Polynomial for rectangles with round corners, textbook coefficients (published), within its range.
    Polynomial,
    /// Fit to finite elements for small radii, within its range (derived, about 5 %).
    SmallRadius,
    /// The same fit outside its range: a rough figure.
    Beyond,
}

/// Stress concentration in tension at the corner of a rectangular hole in a wide plate. `across` and `along` are half its sizes
/// across and along the stress. `None` for a sharp corner, where elastic theory knows no limit.
///
/// For `radius/along` of 0.2 to 1 and `along/across` of 0.3 to 1: the polynomial of the handbooks (published, Roark and Peterson
/// type). Else `2.15 (radius/across)^-0.33`, fitted to plane-stress finite elements (ν 0.25) for `along/across` of 1 to 2 and
/// `radius/across` of 0.025 to 0.2, within 5 %.
#[must_use]
pub fn rounded_corner(across: f64, along: f64, radius: f64) -> Option<(f64, CornerFormula)> {
    /// A drawing's rounding must not decide which side of a limit a value is on.
    const HAIR: f64 = 1e-9;
    if radius <= 0.0 || across <= 0.0 || along <= 0.0 {
        return None;
    }
    let within = |x: f64, low: f64, high: f64| x >= low - HAIR && x <= high + HAIR;
    let (r, slim) = (radius / along, along / across);
    if within(r, 0.2, 1.0) && within(slim, 0.3, 1.0) {
        let s = r.sqrt();
        let c1 = 14.815 - 15.774 * s + 8.149 * r;
        let c2 = -11.201 - 9.750 * s + 9.600 * r;
        let c3 = 0.202 + 38.662 * s - 27.374 * r;
        let c4 = 3.232 - 23.002 * s + 15.482 * r;
        return Some((c1 + slim * (c2 + slim * (c3 + slim * c4)), CornerFormula::Polynomial));
    }
    let share = radius / across;
    let known = within(slim, 1.0, 2.0) && within(share, 0.025, 0.2);
    // No hole concentrates less than a tall slim one: never below 1.
    let factor = (2.15 * share.powf(-0.33)).max(1.0);
    Some((factor, if known { CornerFormula::SmallRadius } else { CornerFormula::Beyond }))
}

/// Stress at the root of an overhang of even width by its own weight: `3 density g overhang² / thickness`.
#[must_use]
pub fn overhang_by_weight(density: f64, overhang: f64, thickness: f64) -> f64 {
    3.0 * unit_weight(density) * overhang * overhang / thickness
}

/// ... by a load at its tip, which spreads over a width of `2 overhang + 100` mm (common practice).
#[must_use]
pub fn overhang_by_load(load: f64, overhang: f64, thickness: f64) -> f64 {
    load * overhang / modulus(2.0 * overhang + 100.0, thickness)
}

/// Forces and stresses of the two rails beside an opening of a piece on edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rails {
    /// Shear in each rail, N.
    pub shear: [f64; 2],
    /// Bending stress at the ends of each rail, MPa.
    pub bending: [f64; 2],
    /// Distance between the middles of the rails, mm.
    pub apart: f64,
    /// Axial force in the rails, N: one is pulled, the other pressed.
    pub chord: f64,
    /// Axial stress in each rail, MPa.
    pub axial: [f64; 2],
}

/// The rails beside an opening as a frame with four fixed corners (Vierendeel): the shear in the middle of the opening is shared
/// by `width³`, each rail is bent by its share times half the opening's length, and the moment there pulls one rail and presses
/// the other. `rails` are the two widths, `depth` the piece's depth on edge, `length` the opening's. Beam theory (derived).
#[must_use]
pub fn rails_on_edge(shear: f64, moment: f64, length: f64, rails: [f64; 2], depth: f64, thickness: f64) -> Rails {
    let stiff = rails.map(|h| h.powi(3));
    let shares = stiff.map(|s| shear * s / (stiff[0] + stiff[1]));
    let apart = depth - rails[0] / 2.0 - rails[1] / 2.0;
    let chord = moment / apart;
    let bending = [0, 1].map(|i| shares[i] * length / 2.0 / modulus(thickness, rails[i]));
    Rails { shear: shares, bending, apart, chord, axial: rails.map(|h| chord / (h * thickness)) }
}

/// Stress in a rail that is pushed at its middle across the plane of the piece, its ends fixed: moment `push length / 8`.
#[must_use]
pub fn pushed_rail(push: f64, length: f64, width: f64, thickness: f64) -> f64 {
    push * length / 8.0 / modulus(width, thickness)
}

/// Moment that a rodded rail still carries once the stone has cracked (the rod on the pulled side), N m:
/// `area yield 0.9 deep`, `deep` being the distance from the pressed face to the rod's middle, mm.
#[must_use]
pub fn rod_after_crack(diameter: f64, yield_mpa: f64, deep: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter * yield_mpa * 0.9 * deep / 1000.0
}

/// Stress in a strip on two supports with a load in the middle, its own weight included.
#[must_use]
pub fn strip_with_load(density: f64, load: f64, span: f64, width: f64, thickness: f64) -> f64 {
    let weight = unit_weight(density) * width * thickness;
    (load * span / 4.0 + weight * span * span / 8.0) / modulus(width, thickness)
}

/// How a lift is made, for the NIOSH equation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lift {
    /// Distance of the hands from the ankles, mm.
    pub reach: f64,
    /// Height of the hands when the lift starts, mm.
    pub height: f64,
    /// How far the hands travel upwards, mm.
    pub travel: f64,
    /// How far the body twists, degrees.
    pub twist: f64,
    /// Factor for how often.
    pub frequency: f64,
    /// Factor for the grip.
    pub grip: f64,
}

/// What one person may lift, kg, by the revised NIOSH lifting equation (NIOSH publication 94-110, published; the factor of
/// twisting from memory): 23 kg times (25/H) (1 - 0.003 |V - 75|) (0.82 + 4.5/D) (1 - 0.0032 A) and the factors of frequency and
/// grip, in cm. H below 25 and D below 25 count as 25; above 63, 175 and 135 degrees nothing may be lifted.
#[must_use]
pub fn recommended_mass(lift: &Lift) -> f64 {
    let (h, v, d) = (lift.reach / 10.0, lift.height / 10.0, lift.travel / 10.0);
    if h > 63.0 || v > 175.0 || d > 175.0 || lift.twist > 135.0 {
        return 0.0;
    }
    let reach = 25.0 / h.max(25.0);
    let height = 1.0 - 0.003 * (v - 75.0).abs();
    let travel = (0.82 + 4.5 / d.max(25.0)).min(1.0);
    let twist = 1.0 - 0.0032 * lift.twist;
    23.0 * reach * height * travel * twist * lift.frequency * lift.grip
}

/// People for a mass, at a share of each: at least one. A millionth over a whole number is rounding.
#[must_use]
pub fn people(mass: f64, share: f64) -> Option<u32> {
    let count = (mass / share - 1e-6).ceil().max(1.0);
    (share > 0.0 && count <= f64::from(u32::MAX)).then_some(count as u32)
}
