//! What a job costs, as it stands in `quote.json`. Money in the shop's currency, lengths and areas in the units of its rates
//! unless the name of a field says otherwise.

use schemars::JsonSchema;
use serde::Serialize;

use super::money::{Exact, Money};

/// A quote for one or more jobs.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Quote {
    /// `scantling-quote/1`.
    pub format: String,
    /// Code or sign of the currency; absent if the shop gives none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// Digits of its minor unit.
    pub minor_digits: u32,
    /// What lengths are charged by: "m" or "ft". Areas are charged by its square.
    pub per: String,
    /// Whether stone is priced by a plan or estimated.
    pub basis: Basis,
    /// The day of the quote, `YYYY-MM-DD`; absent if it was not named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Days for which it holds.
    pub valid_days: u32,
    /// The last day on which it holds; absent without a date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valid_until: Option<String>,
    /// One for each job, in their order.
    pub jobs: Vec<JobQuote>,
    /// How quantities are measured and amounts rounded, in sentences.
    pub measured: Vec<String>,
    /// What no quote of this program includes, in words.
    pub not_included: Vec<String>,
    /// The shop's own sentences.
    pub terms: Vec<String>,
}

impl Quote {
    /// The format that this program writes.
    pub const FORMAT: &'static str = "scantling-quote/1";

    /// True if every line has its amount.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.jobs.iter().all(|j| j.not_priced.is_empty())
    }
}

/// What the price of the stone rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// The slabs of a plan.
    Plan,
    /// Areas and the shop's usual waste, before slabs are chosen.
    Estimate,
}

/// The quote for one job.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobQuote {
    /// Name of the job.
    pub job: String,
    /// Material of its slabs.
    pub material: String,
    /// Their thickness, mm.
    pub thickness: f64,
    /// Number of pieces.
    pub pieces: usize,
    /// Names of its pieces that the plan has no place for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unplaced: Vec<String>,
    /// What is charged.
    pub lines: Vec<Line>,
    /// Sum of the lines that have an amount.
    pub subtotal: Money,
    /// What is added to come to the shop's minimum charge; absent if nothing is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_minimum: Option<Money>,
    /// Tax; absent if the shop gives no rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax: Option<Tax>,
    /// Subtotal, minimum and tax together.
    pub total: Money,
    /// What the total lacks.
    pub not_priced: Vec<NotPriced>,
    /// What the office should know before it sends the quote.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// How much of the stone is used, and by which definition.
    pub yields: JobYield,
    /// Beside a plan, if it was asked for: what an estimate came to, line by line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimate: Option<Comparison>,
}

/// What a line is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Item {
    /// A slab, or a share of it.
    Slab,
    /// Stone by area.
    Stone,
    /// A kept offcut, taken off.
    Credit,
    /// Edges of one finish.
    Edge,
    /// Openings of one kind.
    Opening,
    /// Openings that are finished on site.
    SiteFinish,
    /// Rods.
    Rod,
    /// Seams.
    Seam,
    /// Rounded corners.
    Corner,
    /// Mesh on the back.
    Mesh,
    /// Sealing.
    Sealing,
    /// Measuring on site.
    Templating,
    /// Bringing the pieces.
    Delivery,
    /// Setting them.
    Installation,
    /// An extra of the shop's own.
    Extra,
}

impl Item {
    /// Its name as written in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Slab => "slab",
            Self::Stone => "stone",
            Self::Credit => "credit",
            Self::Edge => "edge",
            Self::Opening => "opening",
            Self::SiteFinish => "site-finish",
            Self::Rod => "rod",
            Self::Seam => "seam",
            Self::Corner => "corner",
            Self::Mesh => "mesh",
            Self::Sealing => "sealing",
            Self::Templating => "templating",
            Self::Delivery => "delivery",
            Self::Installation => "installation",
            Self::Extra => "extra",
        }
    }

    /// True for what is charged for stone.
    #[must_use]
    pub const fn is_stone(self) -> bool {
        matches!(self, Self::Slab | Self::Stone | Self::Credit)
    }
}

/// One thing that is charged: `amount` is `quantity` times `rate`, rounded to the minor unit with halves up.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// What it is about.
    pub item: Item,
    /// In words.
    pub what: String,
    /// How much, as shown and as multiplied.
    pub quantity: Exact,
    /// Of what: "m", "ft", "m²", "ft²", "each", "slab", "job".
    pub unit: String,
    /// Money for one; absent if the shop gives none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Exact>,
    /// What it comes to; absent without a rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Money>,
    /// How the quantity was found, or what is to be said about it; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Tax on the sum of the lines.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tax {
    /// What it is called.
    pub name: String,
    /// Its rate, percent.
    pub percent: Exact,
    /// What it comes to.
    pub amount: Money,
}

/// Something that the total lacks.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotPriced {
    /// What.
    pub what: String,
    /// Why, and how to mend it.
    pub fix: String,
}

/// How much of the stone is used. Y1 and Y2 are two definitions that are often confused, and so are waste and uplift.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobYield {
    /// Area of the job's slabs, or of its share of them, mm²; absent in an estimate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slabs_mm2: Option<f64>,
    /// The pieces with their openings filled, mm², a piece in the drop of another not counted again: those that have a place; all of
    /// them in an estimate.
    pub pieces_mm2: f64,
    /// The openings, mm², less the pieces in their drops.
    pub openings_mm2: f64,
    /// Y1: pieces without their openings, over the slabs.
    pub net: Used,
    /// Y2: pieces with their openings filled, over the slabs.
    pub gross: Used,
}

/// A yield Y with the two figures that are made from it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Used {
    /// Y itself: area used over area of slab.
    pub share: f64,
    /// Waste of slab: 1 - Y.
    pub waste: f64,
    /// Uplift on the area used: 1/Y - 1. 0 where nothing is used.
    pub uplift: f64,
}

impl Used {
    /// The figures of a yield (0 to 1). Waste counts from the slab, uplift from what is used: at a yield of 0.7 a waste of
    /// 30 % is an uplift of 42.86 %.
    #[must_use]
    pub fn of(share: f64) -> Self {
        let share = if share.is_finite() { share.max(0.0) } else { 0.0 };
        Self { share, waste: 1.0 - share, uplift: if share > 0.0 { 1.0 / share - 1.0 } else { 0.0 } }
    }

    /// The figures of an area used (mm²) on an area of slab (mm²).
    #[must_use]
    pub fn on(used: f64, slab: f64) -> Self {
        Self::of(if slab > 0.0 { used / slab } else { 0.0 })
    }
}

/// An estimate beside the quote of the plan.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Comparison {
    /// Line by line; all stone is one line.
    pub lines: Vec<Compared>,
    /// The whole, tax included.
    pub total: Compared,
}

/// A line of an estimate beside that of the plan.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Compared {
    /// In words.
    pub what: String,
    /// What the estimate came to; absent where it has no price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimate: Option<Money>,
    /// What the plan came to; absent where it has no price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<Money>,
    /// Plan less estimate; absent where one of them has no price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off: Option<Money>,
}
