//! The one place for tolerances. Every constant says what breaks if it grows or shrinks.
//!
//! All values are millimetres.

/// Cells per millimetre of the integer grid on which boolean operations run (0.1 µm).
///
/// One fixed scale for every call, so that one vertex always rounds to one grid point. Coarser: exact fits are lost.
/// Finer: nothing is gained, because clearances are judged to [`CLEARANCE`].
pub const GRID_PER_MM: f64 = 10_000.0;

/// How far a clearance may fall short of its limit before it counts as broken (1 µm).
///
/// Far below anything a saw can do, far above the rounding of coordinates. Smaller than a few grid cells: exact fits
/// would be refused because of rounding.
pub const CLEARANCE: f64 = 1e-3;

/// By how much the search builds its regions too leniently, so that exact fits keep a region of non-zero width.
/// Half of [`CLEARANCE`]: what it finds is then still within what the judge accepts.
pub const LENIENCE: f64 = 5e-4;

/// Largest distance between an arc and the polyline that stands in for it.
/// Smaller: more vertices and slower search. Larger: breaks the promise of the file formats (0.05 mm).
pub const FLATTEN: f64 = 0.05;

/// Two points closer than this are one point when an outline is tidied.
pub const SAME_POINT: f64 = 1e-6;

/// A vertex that lies closer than this to the line through its neighbours is tidied away.
pub const COLLINEAR: f64 = 1e-6;

/// Largest coordinate that the kernel accepts (1 km). Beyond it a number is a slip; boolean operations clamp at four times it.
pub const MAX_COORD: f64 = 1e6;

/// Angles (degrees) that differ by less are equal. A published turn has 1e-7 degrees; 4 m * 1e-7 degrees is 7 nm.
pub const ANGLE: f64 = 1e-6;
