//! Flaws on a slab, and the zones of a piece that may or may not touch them.

use serde::{Deserialize, Serialize};

use crate::geom::{BBox, Point, Region, Ring, boolean, distance, sum};

/// What kind of flaw it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum FlawKind {
    /// A separation by stress: nothing that stays may touch it.
    Crack,
    /// A natural tight separation, not by itself a defect.
    Fissure,
    /// A small hole in the surface.
    Pit,
    /// A mark in the colour.
    Stain,
    /// A place filled with resin.
    Patch,
}

impl FlawKind {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 5] = [
        ("crack", Self::Crack),
        ("fissure", Self::Fissure),
        ("pit", Self::Pit),
        ("stain", Self::Stain),
        ("patch", Self::Patch),
    ];

    /// The kind of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(n, _)| *n == name).map(|&(_, k)| k)
    }

    /// Its name as written in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, k)| *k == self).map_or("crack", |&(n, _)| n)
    }

    /// The zones that it may touch unless the slab file says otherwise. Common practice.
    #[must_use]
    pub const fn default_zones(self) -> Zones {
        match self {
            Self::Crack => Zones::of(&[Zone::Drop]),
            Self::Fissure | Self::Patch => Zones::of(&[Zone::Field, Zone::Hidden, Zone::Drop]),
            Self::Pit | Self::Stain => Zones::of(&[Zone::Hidden, Zone::Drop]),
        }
    }
}

/// A part of a piece that tolerates some flaws and not others. A point of the stone has exactly one:
/// rail if it is rail, else edge, else hidden, else field. The drop is no stone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Zone {
    /// Stone near an opening.
    Rail,
    /// Stone near a finished edge.
    Edge,
    /// Stone that nobody will see.
    Hidden,
    /// The rest of the stone.
    Field,
    /// What falls out of an opening.
    Drop,
}

impl Zone {
    /// All of them, in order of precedence, the drop last.
    pub const ALL: [Self; 5] = [Self::Rail, Self::Edge, Self::Hidden, Self::Field, Self::Drop];

    /// Its name as written in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rail => "rail",
            Self::Edge => "edge",
            Self::Hidden => "hidden",
            Self::Field => "field",
            Self::Drop => "drop",
        }
    }

    /// The zone of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|z| z.name() == name)
    }
}

/// A set of zones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Zones(u8);

impl Zones {
    /// No zone.
    pub const NONE: Self = Self(0);

    /// The set of these.
    #[must_use]
    pub const fn of(zones: &[Zone]) -> Self {
        let mut bits = 0;
        let mut i = 0;
        while i < zones.len() {
            bits |= 1 << zones[i] as u8;
            i += 1;
        }
        Self(bits)
    }

    /// True if `zone` is in it.
    #[must_use]
    pub const fn has(self, zone: Zone) -> bool {
        self.0 & (1 << zone as u8) != 0
    }

    /// All zones that are not in it.
    #[must_use]
    pub const fn others(self) -> Self {
        Self(!self.0 & 0b1_1111)
    }

    /// True if it has no zone.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Its zones in order of precedence.
    pub fn iter(self) -> impl Iterator<Item = Zone> {
        Zone::ALL.into_iter().filter(move |&z| self.has(z))
    }
}

/// Where a flaw lies, slab frame, mm. Its body is every point within [`Flaw::radius`] of this.
#[derive(Clone, Debug, PartialEq)]
pub enum FlawBody {
    /// An open line of at least two points.
    Line(Vec<Point>),
    /// A filled outline.
    Area(Ring),
    /// A point: the middle of a round spot.
    Spot(Point),
}

/// A flaw on a slab.
#[derive(Clone, Debug, PartialEq)]
pub struct Flaw {
    /// What it is.
    pub kind: FlawKind,
    /// Where it is.
    pub body: FlawBody,
    /// Half the width of a line, half the diameter of a spot, 0 for an area; mm.
    pub radius: f64,
    /// The zones that it may touch.
    pub allow: Zones,
}

impl Flaw {
    /// Distance from the flaw's body to a region, mm: 0 or less where they touch; exact, without flattened arcs.
    #[must_use]
    pub fn distance_to(&self, region: &Region) -> distance::Nearest {
        let mut near = match &self.body {
            FlawBody::Line(line) => distance::line_to_region(line, region),
            FlawBody::Spot(p) => distance::point_to_region(*p, region),
            FlawBody::Area(ring) => distance::regions(&ring.to_region(), region),
        };
        near.distance -= self.radius;
        near
    }

    /// Convex parts that together hold every point within `by` (mm) of the flaw, and none farther than `by + excess`. None
    /// for a line of no width with `by` = 0; `by` may be negative, down to nothing being left of lines and spots.
    #[must_use]
    pub fn grown_parts(&self, by: f64, excess: f64) -> Vec<sum::Convex> {
        let by = by + self.radius;
        match &self.body {
            FlawBody::Line(line) => sum::grown_line_parts(line, by, excess),
            FlawBody::Spot(p) => sum::grown_line_parts(&[*p], by, excess),
            FlawBody::Area(ring) if by > 0.0 => sum::convex_parts(&sum::grown(&ring.to_region(), by, excess)),
            FlawBody::Area(ring) => sum::convex_parts(&sum::shrunk(&ring.to_region(), -by, 0.0)),
        }
    }

    /// Every point within `by` (mm, at least 0) of the flaw, and none farther than `by + excess`. Empty for a line of no
    /// width with `by` = 0.
    #[must_use]
    pub fn grown(&self, by: f64, excess: f64) -> Region {
        let parts = self.grown_parts(by, excess);
        boolean::union_loops(parts.iter().map(Vec::as_slice))
    }

    /// Bounding box of its body.
    #[must_use]
    pub fn bbox(&self) -> BBox {
        let b = match &self.body {
            FlawBody::Line(line) => BBox::of(line),
            FlawBody::Spot(p) => BBox::EMPTY.with(*p),
            FlawBody::Area(ring) => ring.bbox(),
        };
        let r = crate::geom::pt(self.radius, self.radius);
        BBox { min: b.min - r, max: b.max + r }
    }
}
