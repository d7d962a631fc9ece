//! (module: input)
