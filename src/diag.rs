//! What is wrong with an input, and where.
