//! How heavy and how strong a stone is: by its class, or by a slab's own tests.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::stone::StoneClass;

/// How well a value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub enum Standing {
    /// A text that was read.
    #[serde(rename = "published")]
    Published,
    /// Habit of the trade, without a source that we could name.
    #[serde(rename = "common practice")]
    Practice,
    /// Recalled from a text that has not been looked up again.
    #[serde(rename = "from memory")]
    Memory,
    /// The shop's own file.
    #[serde(rename = "shop file")]
    Shop,
    /// Tests of this slab or its lot, from the rack file.
    #[serde(rename = "slab's tests")]
    Tests,
}

/// A value with where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// The value, in the unit of its field.
    pub value: f64,
    /// Where it comes from, for people.
    pub source: &'static str,
    /// How well it is known.
    pub standing: Standing,
}

const fn published(value: f64, source: &'static str) -> Known {
    Known { value, source, standing: Standing::Published }
}

const fn practice(value: f64, source: &'static str) -> Known {
    Known { value, source, standing: Standing::Practice }
}

const fn memory(value: f64, source: &'static str) -> Known {
    Known { value, source, standing: Standing::Memory }
}

/// What is known of a class of stone. Strengths are least values of a standard for sound specimens, not those of a slab.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// What a slab of it usually weighs, kg/m³: masses are worked out with this.
    pub density: Known,
    /// Least density that the standard asks for, kg/m³. Too light for a mass.
    pub least_density: Option<Known>,
    /// Least modulus of rupture, MPa (ASTM C99, for slate C120: one load in the middle of a thick prism).
    pub rupture: Option<Known>,
    /// Least bending strength at real thickness, MPa (ASTM C880, EN 14617-2, ISO 10545-4).
    pub flexural: Option<Known>,
    /// Factor of safety on the strength.
    pub safety: Known,
    /// Elastic modulus, GPa: least and largest.
    pub modulus: [Known; 2],
    /// What is to be said about this class; may be empty.
    pub remark: &'static str,
}

impl Strength {
    /// The lower of the two strengths, which the stresses are compared with.
    #[must_use]
    pub fn bending(&self) -> Known {
        match (self.rupture, self.flexural) {
            (Some(r), Some(f)) if r.value < f.value => r,
            (_, Some(f)) => f,
            (Some(r), None) => r,
            (None, None) => practice(2.41, "no value for this class: the weakest stone of the table"),
        }
    }
}

const C615: &str = "ASTM C615, least value (read in a supplier's copy of the table)";
const C503: &str = "ASTM C503 class I, least value (read in a supplier's copy of the table)";
const C568: &str = "ASTM C568 class III (high density), least value (read in a supplier's copy of the table)";
const C616_I: &str = "ASTM C616 class I (sandstone), least value (read in a supplier's copy of the table)";
const C616_III: &str = "ASTM C616 class III (quartzite), least value (read in a supplier's copy of the table)";
const C629: &str = "ASTM C629-99 table 1, interior slate, along the grain, least value";
const C1527: &str = "ASTM C1527 table 1, interior travertine, least value";
const C1526: &str = "ASTM C1526 table 1, least value";
const ASSOCIATIONS: &str = "factors of stone associations, for cladding (table in a masonry magazine)";
const MANUALS: &str = "design manuals for dimension stone, ASTM C1242";
const HANDBOOKS: &str = "handbooks of rock mechanics and producers' sheets";
const USUAL: &str = "usual weight in the trade";

const fn gpa(low: f64, high: f64) -> [Known; 2] {
    [memory(low, HANDBOOKS), memory(high, HANDBOOKS)]
}

impl StoneClass {
    /// Density, strength and factor of safety of the class.
    ///
    /// Where a standard has several classes of one stone, the one that is sold for worktops is meant, and the weaker
    /// direction or use of it. Onyx has no standard of its own and takes what travertine has.
    #[must_use]
    pub const fn strength(self) -> Strength {
        let plain = Strength {
            density: practice(2700.0, USUAL),
            least_density: None,
            rupture: None,
            flexural: None,
            safety: memory(5.0, MANUALS),
            modulus: gpa(20.0, 60.0),
            remark: "",
        };
        match self {
            Self::Granite => Strength {
                least_density: Some(published(2560.0, C615)),
                rupture: Some(published(10.34, C615)),
                flexural: Some(published(8.27, C615)),
                safety: published(3.0, ASSOCIATIONS),
                modulus: [
                    published(30.0, "US National Research Council, Conservation of Historic Stone Buildings, 1982"),
                    published(60.0, "US National Research Council, Conservation of Historic Stone Buildings, 1982"),
                ],
                remark: "Dark gabbro and basalt that are sold as granite weigh about 3000 kg/m³: give the slab's density.",
                ..plain
            },
            Self::Quartzite => Strength {
                least_density: Some(published(2560.0, C616_III)),
                rupture: Some(published(13.79, C616_III)),
                safety: memory(6.0, MANUALS),
                modulus: gpa(50.0, 80.0),
                ..plain
            },
            Self::Slate => Strength {
                density: practice(2750.0, USUAL),
                rupture: Some(published(37.9, C629)),
                safety: memory(7.0, MANUALS),
                modulus: gpa(60.0, 100.0),
                remark: "The factor of safety of slate is given as 5 to 7; the stricter end is taken.",
                ..plain
            },
            Self::Marble => Strength {
                least_density: Some(published(2590.0, C503)),
                rupture: Some(published(6.89, C503)),
                flexural: Some(published(6.89, C503)),
                safety: published(5.0, ASSOCIATIONS),
                modulus: gpa(40.0, 70.0),
                remark: "Dolomite marble weighs 2800 kg/m³ and more: give the slab's density.",
                ..plain
            },
            Self::Limestone => Strength {
                density: practice(2600.0, USUAL),
                least_density: Some(published(2560.0, C568)),
                rupture: Some(published(6.89, C568)),
                safety: published(8.0, ASSOCIATIONS),
                remark: "Taken as high-density limestone; class II has 3.45 MPa and class I 2.76 MPa: give the slab's tests.",
                ..plain
            },
            Self::Travertine => Strength {
                density: practice(2500.0, USUAL),
                least_density: Some(published(
                    2300.0,
                    "ASTM C1527-23, least value (read in a summary of the standard)",
                )),
                rupture: Some(memory(4.8, C1527)),
                flexural: Some(memory(4.8, C1527)),
                safety: memory(8.0, MANUALS),
                modulus: gpa(20.0, 50.0),
                remark: "The factor of safety of travertine is given as 5 to 8; the stricter end is taken.",
            },
            Self::Onyx => Strength {
                rupture: Some(practice(4.8, "no standard of its own: taken as travertine, ASTM C1527 (from memory)")),
                safety: practice(8.0, "no factor of its own: taken as travertine"),
                modulus: gpa(20.0, 50.0),
                remark: "Onyx has no standard of its own and is taken as travertine: give the slab's tests.",
                ..plain
            },
            Self::Serpentine => Strength {
                least_density: Some(memory(2560.0, C1526)),
                rupture: Some(memory(6.9, C1526)),
                flexural: Some(memory(6.9, C1526)),
                modulus: gpa(30.0, 70.0),
                ..plain
            },
            Self::Soapstone => Strength {
                density: published(2980.0, "data page of one producer"),
                flexural: Some(published(15.7, "data page of one producer, its lower value; no requirement")),
                safety: practice(5.0, "no factor of its own: taken as serpentine"),
                remark: "Soapstone has no standard that we know: give the slab's tests.",
                ..plain
            },
            Self::Sandstone => Strength {
                density: practice(2400.0, USUAL),
                least_density: Some(published(2000.0, C616_I)),
                rupture: Some(published(2.41, C616_I)),
                safety: memory(6.0, MANUALS),
                modulus: gpa(5.0, 35.0),
                remark: "Quartzitic sandstone (ASTM C616 class II) has 6.89 MPa: give the slab's tests.",
                ..plain
            },
            Self::EngineeredQuartz => Strength {
                density: practice(2400.0, USUAL),
                least_density: Some(published(2200.0, "least of a producer's values by EN 14617-1")),
                flexural: Some(practice(
                    40.0,
                    "design mean; EN 14617-2 tests of one producer gave 31 to 97 MPa (published)",
                )),
                safety: practice(4.0, "on the mean"),
                modulus: gpa(30.0, 45.0),
                remark: "Coarse engineered quartz is the weakest: 31 to 54 MPa were achieved.",
                ..plain
            },
            Self::Porcelain => Strength {
                density: practice(2400.0, USUAL),
                least_density: Some(published(2000.0, "producers' sheets that quote ISO 13006 group BIa")),
                flexural: Some(published(35.0, "ISO 13006 group BIa, ISO 10545-4, least mean (producers' sheets)")),
                safety: practice(4.0, "on the mean"),
                modulus: gpa(60.0, 75.0),
                ..plain
            },
        }
    }
}

/// Test values of a slab or its lot: they stand in place of those of its class.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StoneTests {
    /// Density, kg/m³.
    pub density: Option<f64>,
    /// Bending strength.
    pub strength: Option<TestedStrength>,
    /// Which tests: laboratory, number, standard, wet or dry, along or across the rift.
    pub source: Option<String>,
}

/// Bending strengths of specimens, MPa.
#[derive(Clone, Debug, PartialEq)]
pub enum TestedStrength {
    /// That of every specimen; at least [`TestedStrength::FEWEST`], all above 0.
    Values(Vec<f64>),
    /// What a report says of them all.
    Summary {
        /// Their mean.
        mean: f64,
        /// Their standard deviation.
        deviation: f64,
        /// How many there were, at least [`TestedStrength::FEWEST`].
        specimens: usize,
    },
}

impl TestedStrength {
    /// Fewer specimens say too little.
    pub const FEWEST: usize = 5;

    /// One-sided tolerance factors (95 % of stones, 75 % confidence) by number of specimens, as in EN 12372; from memory.
    const FACTORS: [(usize, f64); 6] = [(5, 2.46), (7, 2.25), (10, 2.10), (15, 1.99), (20, 1.93), (30, 1.87)];

    /// The tolerance factor of a number of specimens; that of the next smaller number in the table.
    #[must_use]
    pub fn factor(specimens: usize) -> f64 {
        let listed = Self::FACTORS.iter().rev().find(|(n, _)| *n <= specimens);
        listed.map_or(Self::FACTORS[0].1, |&(_, k)| k)
    }

    /// How many specimens.
    #[must_use]
    pub const fn specimens(&self) -> usize {
        match self {
            Self::Values(values) => values.len(),
            Self::Summary { specimens, .. } => *specimens,
        }
    }

    /// The mean, MPa.
    #[must_use]
    pub fn mean(&self) -> f64 {
        match self {
            Self::Values(values) => values.iter().sum::<f64>() / values.len().max(1) as f64,
            Self::Summary { mean, .. } => *mean,
        }
    }

    /// The lower expected value, MPa: exp(mean(ln x) - k sd(ln x)), EN 12372 (from memory).
    ///
    /// Of a mean and a standard deviation alone, those of the logarithms follow as for a log-normal spread:
    /// sd(ln x)² = ln(1 + (deviation/mean)²), mean(ln x) = ln(mean) - sd(ln x)²/2.
    #[must_use]
    pub fn lower_expected(&self) -> f64 {
        let (mean, spread) = match self {
            Self::Values(values) => {
                let n = values.len().max(1) as f64;
                let mean = values.iter().map(|x| x.ln()).sum::<f64>() / n;
                let squares = values.iter().map(|x| (x.ln() - mean).powi(2)).sum::<f64>();
                (mean, (squares / (n - 1.0).max(1.0)).sqrt())
            }
            Self::Summary { mean, deviation, .. } => {
                let variance = (1.0 + (deviation / mean).powi(2)).ln();
                (mean.ln() - variance / 2.0, variance.sqrt())
            }
        };
        (mean - Self::factor(self.specimens()) * spread).exp()
    }
}
