//! The table `[rates]` of a shop as a type, from which its JSON Schema is made.
//!
//! In: nothing. Out: a schema. Must not know: how the table is read.

use std::collections::BTreeMap;

use schemars::JsonSchema;

use super::files::Length;

/// What is charged. Rates are money for one of their unit, at most 6 decimals. One that is not given and that a job needs is
/// told on the quote.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RatesEntry {
    /// Code or sign of the currency, at most 8 characters. Default: none, amounts stand without.
    pub currency: Option<String>,
    /// Digits of its minor unit. Default: 2.
    #[schemars(range(min = 0, max = 4))]
    pub minor_digits: Option<u32>,
    /// By what lengths and areas are charged. Default: the metre, or the foot where the file's `units` are inches.
    pub per: Option<PerLength>,
    /// How stone is charged once slabs are chosen. Default: whole.
    pub slabs: Option<Slabs>,
    /// For an area of stone. Default: the price of the slabs on the rack.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub stone: Option<f64>,
    /// Put on the prices of the rack, percent. Default: 0.
    #[schemars(range(min = 0, max = 1000))]
    pub markup_percent: Option<f64>,
    /// The part of a slab that usually goes to waste, percent. Default: 30.
    #[schemars(range(min = 0, max = 95))]
    pub waste_percent: Option<f64>,
    /// What a kept offcut gives back to a customer who pays for whole slabs, percent of what its area cost. Default: 0.
    #[schemars(range(min = 0, max = 100))]
    pub credit_percent: Option<f64>,
    /// What counts as the area of a piece. Default: rectangles.
    pub area_rule: Option<Areas>,
    /// Areas are rounded up to this, m² or ft²; 0: not at all. Default: 0.05 m² or 0.5 ft², rounded by the job twice as much.
    #[schemars(range(min = 0, max = 100))]
    pub area_step: Option<f64>,
    /// What areas are rounded up for. Default: piece.
    pub area_rounded_by: Option<AreasBy>,
    /// Lengths of edges and rods are rounded up to this; 0: not at all. Default: 5 mm or 1/8 in.
    pub length_step: Option<Length>,
    /// For a length of edge, by the name of its finish. Default: none; raw edges cost nothing.
    pub edges: Option<BTreeMap<String, f64>>,
    /// For an opening, by its kind.
    pub openings: Option<OpeningRates>,
    /// On top for an opening that is scored in the shop and finished on site.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub site_finish: Option<f64>,
    /// For a length of rod, glued in.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub rods: Option<f64>,
    /// For a seam.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub seam: Option<f64>,
    /// For a rounded corner of an outline that has a finished side. A curved side is an edge and has none.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub corner: Option<f64>,
    /// For an area of mesh on the back. Default: there is no mesh.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub mesh: Option<f64>,
    /// For an area of sealing. Default: it is not included.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub sealing: Option<f64>,
    /// For measuring on site, each job.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub templating: Option<f64>,
    /// For bringing the pieces, each job.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub delivery: Option<f64>,
    /// For setting the pieces, each job.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub installation: Option<f64>,
    /// For setting the pieces, by area.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub installation_by_area: Option<f64>,
    /// Services that the shop does not offer.
    pub without: Option<Vec<Services>>,
    /// The least that a job costs, before tax. Default: none.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub minimum: Option<f64>,
    /// Tax on the sum of the lines, percent.
    #[schemars(range(min = 0, max = 100))]
    pub tax_percent: Option<f64>,
    /// What the tax is called. Default: "tax".
    pub tax_name: Option<String>,
    /// Days for which a quote holds. Default: 30.
    #[schemars(range(min = 1, max = 3650))]
    pub valid_days: Option<u32>,
    /// Extras of the shop's own; at most 100.
    pub extra: Option<Vec<ExtraEntry>>,
    /// What a quote says that it does not include; at most 100. Default: fixtures; plumbing, gas and electrical work; cupboards
    /// and supports; taking out old tops; making good walls.
    pub not_included: Option<Vec<String>>,
    /// Sentences of the shop's own at the end of a quote; at most 100.
    pub terms: Option<Vec<String>>,
}

/// By what lengths and areas are charged.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum PerLength {
    /// The metre and the square metre.
    Metre,
    /// The foot and the square foot.
    Foot,
}

/// How stone is charged.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Slabs {
    /// Every slab that is cut, whole.
    Whole,
    /// The area of the pieces, with the usual waste on top.
    Area,
}

/// What counts as the area of a piece. Openings are not deducted.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Areas {
    /// The rectangle that bounds each run, the sum of rectangles for an L.
    Rectangles,
    /// The outline itself.
    Outline,
}

/// What areas are rounded up for.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum AreasBy {
    /// Every piece.
    Piece,
    /// The sum of a line.
    Job,
}

/// A service.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Services {
    /// Measuring on site.
    Templating,
    /// Bringing the pieces.
    Delivery,
    /// Setting them.
    Installation,
}

/// Rates for openings.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningRates {
    /// For a sink whose rim rests on the stone.
    #[serde(rename = "drop-in sink")]
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub drop_in_sink: Option<f64>,
    /// For a sink fixed below the stone, its edge polished.
    #[serde(rename = "undermount sink")]
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub undermount_sink: Option<f64>,
    /// For a cooktop.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub cooktop: Option<f64>,
    /// For a tap hole.
    #[serde(rename = "tap hole")]
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub tap_hole: Option<f64>,
    /// For an outlet.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub outlet: Option<f64>,
    /// For any other opening.
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub other: Option<f64>,
}

/// An extra of the shop's own.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExtraEntry {
    /// What it is called on the quote.
    pub name: String,
    /// Money for one; below zero it is taken off.
    #[schemars(range(min = -1_000_000_000, max = 1_000_000_000))]
    pub rate: f64,
    /// One what. Default: job.
    pub per: Option<ExtraPer>,
}

/// By what an extra is counted.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ExtraPer {
    /// Once a job.
    Job,
    /// Every piece.
    Piece,
    /// Every opening.
    Opening,
    /// By area of the pieces.
    Area,
}
