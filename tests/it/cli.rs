//! (module: cli)
