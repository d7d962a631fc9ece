//! What a customer gets: pieces with openings.

use serde::{Deserialize, Serialize};

use super::fixture::Origin;
use super::outline::{Outline, Shape};
use super::shop::Shop;
use super::slab::Slab;
use crate::geom::{Point, Polygon, Region, Ring};

/// Everything that a plan is made from.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The jobs that are planned together; their names differ.
    pub jobs: Vec<Job>,
    /// The slabs in stock; their names differ.
    pub rack: Vec<Slab>,
    /// The fabricator's limits and tools.
    pub shop: Shop,
}

/// Which piece: by position in [`Question::jobs`] and [`Job::pieces`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PieceId {
    /// Index of the job.
    pub job: usize,
    /// Index of the piece in its job.
    pub piece: usize,
}

impl Question {
    /// All pieces of all jobs, in order.
    pub fn pieces(&self) -> impl Iterator<Item = (PieceId, &Job, &Piece)> {
        self.jobs.iter().enumerate().flat_map(|(j, job)| {
            job.pieces.iter().enumerate().map(move |(p, piece)| (PieceId { job: j, piece: p }, job, piece))
        })
    }

    /// The piece of that id.
    ///
    /// # Panics
    /// If the id is not of this question.
    #[must_use]
    pub fn piece(&self, id: PieceId) -> &Piece {
        &self.jobs[id.job].pieces[id.piece]
    }
}

/// A list of pieces and the material that they are to be cut from.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its name.
    pub name: String,
    /// A slab qualifies if its material is the same text ...
    pub material: String,
    /// ... and its thickness (mm) is the same within 0.5 mm.
    pub thickness: f64,
    /// All pieces, copies spelled out.
    pub pieces: Vec<Piece>,
}

impl Job {
    /// Thicknesses within this of one another (mm) are the same: 20 mm and 13/16 in (20.64) are not, 30 mm and
    /// 1 3/16 in (30.16) are. Rounding of inch sizes, not the stone's own tolerance.
    pub const SAME_THICKNESS: f64 = 0.5;

    /// True if the slab is of the job's material.
    #[must_use]
    pub fn material_matches(&self, slab: &Slab) -> bool {
        self.material == slab.material
    }

    /// True if the slab is of the job's thickness.
    #[must_use]
    pub fn thickness_matches(&self, slab: &Slab) -> bool {
        (self.thickness - slab.thickness).abs() <= Self::SAME_THICKNESS
    }

    /// True if the slab is of the job's material and thickness.
    #[must_use]
    pub fn accepts(&self, slab: &Slab) -> bool {
        self.material_matches(slab) && self.thickness_matches(slab)
    }
}

/// Which way the slab's grain is to run across a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GrainWish {
    /// Any way: the piece may be turned freely.
    Any,
    /// Along this direction, degrees from the piece's x ("along" is 0, "across" 90).
    Towards(f64),
}

/// Strips along the sides of the outline's bounding box that nobody will see; widths in mm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hidden {
    /// Along y = 0.
    pub front: f64,
    /// Along the greatest x.
    pub right: f64,
    /// Along the greatest y.
    pub back: f64,
    /// Along x = 0.
    pub left: f64,
}

impl Hidden {
    /// True if there is no strip.
    #[must_use]
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// One stone part, piece frame: polished face up, front edge on y = 0, lower left of the bounding box at the origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name, unique in the job; copies are called "name #1", "name #2", ...
    pub name: String,
    /// Copies of one entry of the job share this number, and are alike but for the name.
    pub kind: usize,
    /// Its outline.
    pub outline: Outline,
    /// Its openings, inside the outline, apart from one another.
    pub openings: Vec<Opening>,
    /// Its grain wish.
    pub grain: GrainWish,
    /// By how many degrees the grain may be off, either way.
    pub grain_tolerance: f64,
    /// True if it may not be turned end for end.
    pub one_way: bool,
    /// Strips that nobody will see.
    pub hidden: Hidden,
}

impl Piece {
    /// The stone: the outline without the openings.
    #[must_use]
    pub fn stone(&self) -> Region {
        let holes = self.openings.iter().map(|o| o.ring.clone()).collect();
        Region { polygons: vec![Polygon { outer: self.outline.ring.clone(), holes }] }
    }

    /// Length (x) and depth (y) of its bounding box, mm, of the true shape.
    #[must_use]
    pub fn size(&self) -> (f64, f64) {
        let b = self.outline.shape.extent();
        (b.width(), b.height())
    }
}

/// What an opening is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub enum OpeningKind {
    /// A sink whose rim rests on the stone.
    #[serde(rename = "drop-in sink")]
    DropInSink,
    /// A sink fixed below the stone.
    #[serde(rename = "undermount sink")]
    UndermountSink,
    /// A cooktop.
    #[serde(rename = "cooktop")]
    Cooktop,
    /// A hole for a tap.
    #[serde(rename = "tap hole")]
    TapHole,
    /// A hole for an outlet.
    #[serde(rename = "outlet")]
    Outlet,
    /// Anything else.
    #[serde(rename = "other")]
    Other,
}

impl OpeningKind {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 6] = [
        ("drop-in sink", Self::DropInSink),
        ("undermount sink", Self::UndermountSink),
        ("cooktop", Self::Cooktop),
        ("tap hole", Self::TapHole),
        ("outlet", Self::Outlet),
        ("other", Self::Other),
    ];

    /// The kind of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(n, _)| *n == name).map(|&(_, k)| k)
    }

    /// Its name as written in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, k)| *k == self).map_or("other", |&(n, _)| n)
    }

    /// True for tap holes and outlets, which have zones, rails and webs of their own.
    #[must_use]
    pub const fn is_small(self) -> bool {
        matches!(self, Self::TapHole | Self::Outlet)
    }
}

/// A corner of an opening, as the core bit sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InsideCorner {
    /// Piece frame, mm.
    pub at: Point,
    /// Its radius, mm.
    pub radius: f64,
}

/// A hole through a piece, piece frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Its name, unique in the piece.
    pub name: String,
    /// What it is for.
    pub kind: OpeningKind,
    /// The true shape.
    pub shape: Shape,
    /// The polyline: never inside the true shape.
    pub ring: Ring,
    /// What the hole was worked out from, if it is given by its fixture.
    pub origin: Option<Box<Origin>>,
    /// Names of the slabs in whose stone it is not cut out in the shop (scored only, or not cut as drawn): nothing may lie in its drop
    /// there. Empty as long as nobody has worked it out.
    pub drop_stays: Vec<String>,
}

impl Opening {
    /// The opening of a tidy shape.
    #[must_use]
    pub fn new(name: String, kind: OpeningKind, shape: Shape) -> Self {
        let ring = Ring::vouched_outline(shape.flatten(crate::geom::curve::Side::Outer).points);
        Self { name, kind, shape, ring, origin: None, drop_stays: Vec::new() }
    }

    /// The middle of the true shape's bounding box: where its centre lines cross.
    #[must_use]
    pub fn centre(&self) -> Point {
        self.shape.extent().centre()
    }

    /// The corners that a tool must get into: those that point out of the opening into the stone.
    #[must_use]
    pub fn inside_corners(&self) -> Vec<InsideCorner> {
        self.shape.turns().into_iter().filter(|t| t.2).map(|(at, radius, _)| InsideCorner { at, radius }).collect()
    }
}
