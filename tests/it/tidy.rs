//! (module: tidy)
