//! (module: kernel)
