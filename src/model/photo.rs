//! A photograph of a slab: which file, and where some marks in it are on the stone.

use crate::geom::Point;

/// A photograph with marks.
///
/// Picture frame: pixels, origin at the upper left corner of the picture as viewers show it (turned as the file asks for),
/// x to the right, y down. The corner itself is (0, 0), so the middle of the first pixel is (0.5, 0.5) and the lower right
/// corner is (width, height).
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// The file as the rack names it; a relative path starts at the rack file's folder.
    pub file: String,
    /// Marks in the picture, pixels; 4 or more.
    pub marks: Vec<Point>,
    /// Where each mark is on the slab, slab frame, mm; as many as there are marks.
    pub at: Vec<Point>,
}
