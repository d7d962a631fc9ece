//! Which slabs, and where each piece lies on each of them.
