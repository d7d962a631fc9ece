//! The geometry kernel: it would still make sense in a program about leather or sheet steel.
//!
//! Predicates are evaluated on the original coordinates in `f64`; constructions (boolean operations, offsets, sums)
//! round to the grid of [`tol::GRID_PER_MM`] and say on which side they err.

pub mod boolean;
pub mod broad;
pub mod cell;
pub mod clip;
mod convolution;
pub mod curve;
pub mod distance;
pub mod parting;
pub mod point;
pub mod pose;
pub mod rectangle;
pub mod region;
pub mod simplify;
pub mod sum;
pub mod tol;

pub use point::{BBox, Point, pt};
pub use pose::Pose;
pub use region::{Polygon, Region, Ring, RingFault, Tidied};
