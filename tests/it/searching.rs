//! (module: searching)
