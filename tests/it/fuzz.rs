//! (module: fuzz)
