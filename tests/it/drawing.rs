//! (module: drawing)
