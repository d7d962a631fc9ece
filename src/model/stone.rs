//! Classes of stone and what follows from them.

use serde::{Deserialize, Serialize};

/// A class of stone, for default rails, strength and density.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StoneClass {
    /// Granite and what is sold as granite.
    #[default]
    Granite,
    /// Quartzite.
    Quartzite,
    /// Slate.
    Slate,
    /// Marble.
    Marble,
    /// Limestone.
    Limestone,
    /// Travertine.
    Travertine,
    /// Onyx.
    Onyx,
    /// Serpentine.
    Serpentine,
    /// Soapstone.
    Soapstone,
    /// Sandstone.
    Sandstone,
    /// Resin-bound quartz.
    #[serde(rename = "engineered quartz")]
    EngineeredQuartz,
    /// Porcelain and sintered slabs.
    Porcelain,
}

/// Default rails, mm, by class of stone and thickness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RailDefaults {
    /// A rail narrower than this must not be cut.
    pub stop: f64,
    /// A rail narrower than this wants rods; infinite where every rail does.
    pub rod: f64,
    /// True if the trade advises against openings in this stone at this thickness at all.
    pub advised_against: bool,
}

impl StoneClass {
    /// Names as written in files, in the order in which they are listed to people.
    pub const NAMES: [(&'static str, Self); 12] = [
        ("granite", Self::Granite),
        ("quartzite", Self::Quartzite),
        ("slate", Self::Slate),
        ("marble", Self::Marble),
        ("limestone", Self::Limestone),
        ("travertine", Self::Travertine),
        ("onyx", Self::Onyx),
        ("serpentine", Self::Serpentine),
        ("soapstone", Self::Soapstone),
        ("sandstone", Self::Sandstone),
        ("engineered quartz", Self::EngineeredQuartz),
        ("porcelain", Self::Porcelain),
    ];

    /// The class of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(n, _)| *n == name).map(|&(_, c)| c)
    }

    /// Its name as written in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, c)| *c == self).map_or("granite", |&(n, _)| n)
    }

    /// Default rails at a thickness (mm).
    ///
    /// All common practice, no published source; a published 90 mm at undermount sinks and 50 mm at cooktops bracket
    /// them. Thicknesses between the listed ones take the thinner row: 28 mm and more count as 30, 18 mm and more as 20,
    /// less as 12. Where the trade lists no value at 12 mm the strictest of the class's rows is taken and
    /// `advised_against` is set.
    #[must_use]
    pub fn rails(self, thickness: f64) -> RailDefaults {
        let row = if thickness >= 28.0 {
            0
        } else if thickness >= 18.0 {
            1
        } else {
            2
        };
        let always = f64::INFINITY;
        let (stop, rod, advised_against) = match (self, row) {
            (Self::Granite | Self::Quartzite | Self::EngineeredQuartz | Self::Slate, 0) => (50.0, 100.0, false),
            (Self::Granite | Self::Quartzite | Self::EngineeredQuartz | Self::Slate, 1) => (65.0, 115.0, false),
            (Self::EngineeredQuartz, _) => (75.0, always, false),
            (Self::Granite | Self::Quartzite | Self::Slate, _) => (75.0, always, true),
            (Self::Marble | Self::Limestone | Self::Serpentine | Self::Soapstone, 0) => (65.0, 125.0, false),
            (Self::Marble | Self::Limestone | Self::Serpentine | Self::Soapstone, 1) => (75.0, 150.0, false),
            (Self::Marble | Self::Limestone | Self::Serpentine | Self::Soapstone, _) => (100.0, always, true),
            (Self::Travertine | Self::Onyx | Self::Sandstone, 0) => (75.0, always, false),
            (Self::Travertine | Self::Onyx | Self::Sandstone, 1) => (100.0, always, false),
            (Self::Travertine | Self::Onyx | Self::Sandstone, _) => (100.0, always, true),
            // Porcelain gets no rods: it is supported over its whole area instead.
            (Self::Porcelain, 0 | 1) => (60.0, 0.0, false),
            (Self::Porcelain, _) => (80.0, 0.0, false),
        };
        RailDefaults { stop, rod, advised_against }
    }
}
