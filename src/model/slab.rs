//! Slabs in stock.

use super::flaw::Flaw;
use super::photo::Photo;
use super::stone::StoneClass;
use super::strength::StoneTests;
use crate::geom::{Point, Ring};

/// One stone plate, slab frame: as drawn, polished face up.
#[derive(Clone, Debug, PartialEq)]
pub struct Slab {
    /// Its name, unique on the rack.
    pub name: String,
    /// Its material, as jobs name it.
    pub material: String,
    /// Its class of stone.
    pub stone: StoneClass,
    /// False if the class was not given and granite was assumed.
    pub stone_given: bool,
    /// Thickness, mm.
    pub thickness: f64,
    /// The lot (block) that it comes from.
    pub lot: Option<String>,
    /// Its position in the lot.
    pub number: Option<i64>,
    /// Price of the whole slab.
    pub price: f64,
    /// Its outline; arcs lie inside the true outline.
    pub outline: Ring,
    /// Direction of the grain, degrees from the slab's x; `None` for a stone without direction.
    pub grain: Option<f64>,
    /// Its flaws.
    pub flaws: Vec<Flaw>,
    /// Its own test values, or those of its lot.
    pub tests: Option<Box<StoneTests>>,
    /// A photograph of it.
    pub photo: Option<Box<Photo>>,
    /// Where it comes from, if it is the offcut of another slab.
    pub from: Option<Box<CameFrom>>,
}

/// Which slab an offcut was part of.
#[derive(Clone, Debug, PartialEq)]
pub struct CameFrom {
    /// The name of that slab.
    pub slab: String,
    /// The jobs that it was cut for.
    pub jobs: Vec<String>,
    /// Where the offcut's origin lay in the frame of that slab, mm: `p_slab = p_offcut + at`. It was not turned.
    pub at: Point,
    /// The day on which it was put on the rack, as written.
    pub date: Option<String>,
}

impl Slab {
    /// Price per mm² of the outline.
    #[must_use]
    pub fn price_per_mm2(&self) -> f64 {
        self.price / self.outline.area()
    }

    /// True if the other slab can stand for this one: only name, lot, number, photograph and where it comes from may differ.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        self.price == other.price
            && self.material == other.material
            && self.stone == other.stone
            && self.thickness == other.thickness
            && self.grain == other.grain
            && self.outline == other.outline
            && self.flaws == other.flaws
            && self.tests == other.tests
    }
}
