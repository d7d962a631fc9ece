//! What an opening is cut for, where there is no template.

use super::openings::Spare;
use super::outline::Shape;
use crate::geom::Point;

/// An outline as given or as fitted to a trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// Its true shape; arcs touch their neighbours.
    pub shape: Shape,
    /// How it was fitted, if it was traced.
    pub fit: Option<Fit>,
}

impl Drawn {
    /// The outline moved by a vector.
    #[must_use]
    pub fn moved(&self, by: Point) -> Self {
        Self { shape: self.shape.moved(by), fit: self.fit }
    }
}

/// How well lines and arcs follow a trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Points of the trace.
    pub points: usize,
    /// Largest distance of a point to the fitted outline, mm.
    pub deviation: f64,
}

/// What is put into an opening. Lengths mm; outlines in one frame of their own or, in an [`super::Opening`], in the piece frame.
#[derive(Clone, Debug, PartialEq)]
pub enum Fixture {
    /// A rim rests on the stone, a body passes through it.
    DropIn {
        /// What rests on the stone.
        rim: Drawn,
        /// What passes through it.
        body: Drawn,
        /// Least rim on stone, all round.
        bearing: f64,
        /// Least gap between body and stone.
        clearance: f64,
        /// How well template and cut follow the drawing.
        accuracy: f64,
    },
    /// A bowl fixed below the stone.
    Undermount {
        /// The inside of the bowl at its top.
        bowl: Drawn,
        /// Stone past the bowl; negative: the bowl's rim shows.
        overhang: f64,
        /// How well template and cut follow the drawing.
        accuracy: f64,
    },
    /// A body with a gap all round, without a rim that is known.
    Cooktop {
        /// What passes through the stone.
        body: Drawn,
        /// Least gap between body and stone.
        clearance: f64,
        /// How well template and cut follow the drawing.
        accuracy: f64,
    },
}

impl Fixture {
    /// The fixture with all its outlines moved by a vector.
    #[must_use]
    pub fn moved(&self, by: Point) -> Self {
        let mut moved = self.clone();
        match &mut moved {
            Self::DropIn { rim, body, .. } => (*rim, *body) = (rim.moved(by), body.moved(by)),
            Self::Undermount { bowl: drawn, .. } | Self::Cooktop { body: drawn, .. } => *drawn = drawn.moved(by),
        }
        moved
    }
}

/// Where the hole of an opening comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Origin {
    /// The fixture, in the piece frame.
    pub fixture: Fixture,
    /// What there is to spare.
    pub spare: Spare,
    /// What was done to get from the fixture to the hole, for people.
    pub notes: Vec<String>,
}
