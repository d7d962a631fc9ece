//! Drawings and text. Decides nothing.
