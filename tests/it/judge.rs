//! (module: judge)
