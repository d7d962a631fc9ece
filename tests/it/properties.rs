//! (module: properties)
