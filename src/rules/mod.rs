//! What makes a placement legal, answered fast, for the search.
//!
//! In come pieces, slabs and limits; out come bodies made of layers, and the matrix that says which layer must keep what
//! distance from what. It knows nothing of search or of plans.

mod body;
mod drops;
mod grain;
mod zones;

pub use body::{Against, Body, Layer, LayerShape, SIMPLER, clearance};
pub use drops::{claimed, claimed_at_least};
pub use grain::{Turns, turns};
pub use zones::forbidden_region;
