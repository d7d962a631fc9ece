//! DXF, the drawing exchange format of CAD programs.

mod structure;
pub mod write;
