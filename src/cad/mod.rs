//! Drawings as CAD programs exchange them: paths of lines and arcs, circles, ellipses and texts on layers.
//!
//! In and out: a [`Drawing`] in millimetres. Must not know: the file format that it came from or goes to.

pub mod cutting;
pub mod layers;
pub mod shape;
mod words;

use crate::geom::Point;

/// A drawing, mm, y up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Its entities in the order of the file.
    pub entities: Vec<Entity>,
}

/// One thing on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Entity {
    /// The layer that it lies on.
    pub layer: String,
    /// Its handle in the file that it was read from, as written there; empty for what is made here.
    pub handle: String,
    /// What it is.
    pub body: Body,
}

/// What an entity is.
#[derive(Clone, Debug, PartialEq)]
pub enum Body {
    /// Lines and arcs, end to end.
    Path {
        /// Where each starts, and how it bends; the last one of an open path is only its end.
        vertices: Vec<Vertex>,
        /// True if the last vertex is joined with the first.
        closed: bool,
    },
    /// A full circle.
    Circle {
        /// Its middle, mm.
        centre: Point,
        /// Its radius, mm.
        radius: f64,
    },
    /// A full ellipse.
    Ellipse {
        /// Its middle, mm.
        centre: Point,
        /// Half its first axis, mm.
        half_x: f64,
        /// Half its second axis, mm.
        half_y: f64,
        /// Direction of the first axis, degrees.
        turn: f64,
    },
    /// One line of text.
    Text {
        /// Lower left end of its baseline, mm.
        at: Point,
        /// Height of its capitals, mm.
        height: f64,
        /// Direction of its baseline, degrees.
        turn: f64,
        /// What it says.
        content: String,
    },
}

/// A corner of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vertex {
    /// Where it is, mm.
    pub at: Point,
    /// How the way to the next vertex bends: the tangent of a quarter of the arc's angle, positive counter-clockwise; 0 for a
    /// straight line (as the group code 42 of a polyline in the DXF reference has it).
    pub bulge: f64,
}
