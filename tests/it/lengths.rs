//! (module: lengths)
