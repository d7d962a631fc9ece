//! (module: mutation)
