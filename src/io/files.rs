//! The forms of the input files as types, from which the JSON Schemas are made. The readers do not use them, for they
//! tell mistakes better by hand; a test holds the two to the same keys.
//!
//! In: nothing. Out: schemas. Must not know: how files are read.

use std::borrow::Cow;

use schemars::{JsonSchema, SchemaGenerator, json_schema, schema_for};
use serde_json::Value;

use super::rates_file::RatesEntry;
use crate::model::openings::Openings;
use crate::model::quote::Quote;
use crate::model::{FlawKind, OpeningKind, Plan, StoneClass, Zone};

/// A file of which there is a schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Schema {
    /// `job.toml`.
    Job,
    /// `rack.toml`.
    Rack,
    /// `shop.toml`.
    Shop,
    /// `plan.json`.
    Plan,
    /// `openings.json`.
    Openings,
    /// `quote.json`.
    Quote,
}

/// The JSON Schema of a file.
#[must_use]
pub fn schema(which: Schema) -> Value {
    match which {
        Schema::Job => schema_for!(JobFile),
        Schema::Rack => schema_for!(RackFile),
        Schema::Shop => schema_for!(ShopFile),
        Schema::Plan => schema_for!(Plan),
        Schema::Openings => schema_for!(Openings),
        Schema::Quote => schema_for!(Quote),
    }
    .to_value()
}

/// A length: a bare number in the file's `units`, or a text with its unit: "648 mm", "64.8 cm", "25 1/2 in", "2 ft 1 1/2 in".
pub struct Length;

impl JsonSchema for Length {
    fn schema_name() -> Cow<'static, str> {
        "Length".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> schemars::Schema {
        json_schema!({
            "description": "A length: a bare number in the file's `units`, or a text with its unit: \"648 mm\", \"64.8 cm\", \"25 1/2 in\", \"2 ft 1 1/2 in\".",
            "type": ["number", "string"]
        })
    }
}

/// A corner of a polygon: `[x, y]`, or `[x, y, r]` to round it by radius r.
pub struct CornerEntry;

impl JsonSchema for CornerEntry {
    fn schema_name() -> Cow<'static, str> {
        "Corner".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> schemars::Schema {
        let length = generator.subschema_for::<Length>();
        json_schema!({
            "description": "A corner: [x, y], or [x, y, r] to round it by radius r.",
            "type": "array", "items": length, "minItems": 2, "maxItems": 3
        })
    }
}

/// Degrees counter-clockwise, or a word.
pub struct PieceGrain;

impl JsonSchema for PieceGrain {
    fn schema_name() -> Cow<'static, str> {
        "PieceGrain".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> schemars::Schema {
        json_schema!({
            "description": "How the slab's grain runs: along the piece's x, across it, any way, or in degrees from the piece's x. Default: \"along\".",
            "anyOf": [{"enum": ["along", "across", "any"]}, {"type": "number", "minimum": -360, "maximum": 360}]
        })
    }
}

/// Degrees from the slab's x, or "none".
pub struct SlabGrain;

impl JsonSchema for SlabGrain {
    fn schema_name() -> Cow<'static, str> {
        "SlabGrain".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> schemars::Schema {
        json_schema!({
            "description": "Degrees from the slab's x, or \"none\" for a stone without direction. Default: \"none\", with a note.",
            "anyOf": [{"const": "none"}, {"type": "number", "minimum": -360, "maximum": 360}]
        })
    }
}

/// Unit of a file's bare numbers.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches.
    In,
}

/// What one customer gets.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobFile {
    /// The job's name; jobs that are planned together have different ones.
    pub name: String,
    /// Unit of bare numbers. Default: mm.
    pub units: Option<Units>,
    /// The rack file, beside this file. Needed unless the command names one.
    pub rack: Option<String>,
    /// The shop file, beside this file. Default: the built-in limits.
    pub shop: Option<String>,
    /// A slab qualifies if its material is the same text and its thickness the same within 0.5 mm.
    pub material: String,
    /// Thickness of the slabs.
    pub thickness: Length,
    /// The pieces; at most 1000, copies counted.
    pub piece: Vec<PieceEntry>,
}

/// One stone part.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceEntry {
    /// Its name; copies are called "name #1", "name #2", ... Without one, `outline.file` gives as many pieces as the drawing has
    /// outlines, each called as the text in it says.
    pub name: Option<String>,
    /// Number of copies. Default: 1.
    #[schemars(range(min = 1, max = 1000))]
    pub count: Option<u32>,
    /// Its outline. The lower left of the bounding box is the origin of the piece.
    pub outline: PieceOutline,
    /// The grain wish.
    pub grain: Option<PieceGrain>,
    /// Degrees by which the grain may be off, either way. Default: 0.
    #[schemars(range(min = 0, max = 180))]
    pub grain_tolerance: Option<f64>,
    /// True: the piece may not be turned end for end. Default: false.
    pub one_way: Option<bool>,
    /// One finish per side in outline order: "raw", or the name of a finish. A rectangle's sides are front, right, back,
    /// left; a circle has one; those of a drawing are as `scantling read` lists them, and one finish there stands for all. Default:
    /// all "raw".
    pub edges: Option<Vec<String>>,
    /// Strips along the sides of the bounding box that nobody will see. Default: none.
    pub hidden: Option<HiddenEntry>,
    /// Holes through the piece.
    pub opening: Option<Vec<OpeningEntry>>,
}

/// Unit of a drawing.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum DrawingUnits {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches.
    In,
    /// Feet.
    Ft,
}

/// What the outlines within a piece of a drawing are.
pub struct DrawnOpenings;

impl JsonSchema for DrawnOpenings {
    fn schema_name() -> Cow<'static, str> {
        "DrawnOpenings".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> schemars::Schema {
        let kind = generator.subschema_for::<OpeningKind>();
        json_schema!({
            "description": "A kind of opening, for all; or \"by text\": the text in each says its kind.",
            "anyOf": [kind, {"const": "by text"}]
        })
    }
}

/// A shape: exactly one of `rectangle`, `polygon`, `circle`, `ellipse` and `file`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutlineEntry {
    /// Length and depth.
    pub rectangle: Option<[Length; 2]>,
    /// Corners in order round the outline.
    pub polygon: Option<Vec<CornerEntry>>,
    /// Diameter.
    pub circle: Option<Length>,
    /// Width and depth.
    pub ellipse: Option<[Length; 2]>,
    /// A drawing (DXF) with one closed outline; its path from the folder of this file.
    pub file: Option<String>,
    /// Of a drawing: only lines on this layer. Default: all layers.
    pub layer: Option<String>,
    /// Of a drawing: its unit, in place of what its header says. Needed where the header names none.
    pub units: Option<DrawingUnits>,
    /// Of a drawing: ends of lines within this of one another count as one. Default: 0.1 mm.
    pub tolerance: Option<Length>,
}

/// The outline of a piece: exactly one of `rectangle`, `polygon`, `circle`, `ellipse` and `file`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceOutline {
    /// Length and depth.
    pub rectangle: Option<[Length; 2]>,
    /// Corners in order round the outline.
    pub polygon: Option<Vec<CornerEntry>>,
    /// Diameter.
    pub circle: Option<Length>,
    /// Width and depth.
    pub ellipse: Option<[Length; 2]>,
    /// A drawing (DXF); its path from the folder of this file.
    pub file: Option<String>,
    /// Of a drawing: only lines on this layer. Default: all layers.
    pub layer: Option<String>,
    /// Of a drawing: its unit, in place of what its header says. Needed where the header names none.
    pub units: Option<DrawingUnits>,
    /// Of a drawing: ends of lines within this of one another count as one. Default: 0.1 mm.
    pub tolerance: Option<Length>,
    /// Of a drawing: only texts on this layer name pieces and openings. Default: all layers.
    pub text_layer: Option<String>,
    /// Of a drawing: only the outline with this text in it.
    pub named: Option<String>,
    /// Of a drawing: what the closed outlines within the piece are. Needed where there are any.
    pub openings: Option<DrawnOpenings>,
}

/// Widths of strips that nobody will see.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HiddenEntry {
    /// Along the front. Default: 0.
    pub front: Option<Length>,
    /// Along the right end. Default: 0.
    pub right: Option<Length>,
    /// Along the back. Default: 0.
    pub back: Option<Length>,
    /// Along the left end. Default: 0.
    pub left: Option<Length>,
}

/// A hole through a piece. Either `centre_line` and `setback`, or `centre`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningEntry {
    /// Its name, unique in the piece.
    pub name: String,
    /// What it is for.
    pub kind: OpeningKind,
    /// Its shape, in a frame of its own.
    pub shape: Option<OutlineEntry>,
    /// Rounds all corners that have no radius of their own. Default: 0.
    pub corner_radius: Option<Length>,
    /// From the piece's left end to the middle of the opening.
    pub centre_line: Option<Length>,
    /// From the piece's front edge to the opening's nearest point.
    pub setback: Option<Length>,
    /// The middle of the opening.
    pub centre: Option<[Length; 2]>,
    /// The sink or cooktop itself, in place of the shape: the hole is worked out from it.
    pub fixture: Option<FixtureEntry>,
}

/// What is put into an opening. A drop-in sink has `rim` and `body`; an undermount sink `bowl`; a cooktop `body`, and `rim` if it
/// is known.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FixtureEntry {
    /// What rests on the stone.
    pub rim: Option<FixtureOutline>,
    /// What passes through the stone. Polygons and traces of rim and body are in one frame; other shapes share their middle.
    pub body: Option<FixtureOutline>,
    /// The inside of a bowl at its top.
    pub bowl: Option<FixtureOutline>,
    /// Least rim on stone, all round. Default: 10 mm.
    pub bearing: Option<Length>,
    /// Least gap between body and stone. Default: 3 mm.
    pub clearance: Option<Length>,
    /// How well template and cut follow the drawing, either way. Default: 1.5 mm.
    pub accuracy: Option<Length>,
    /// Stone past the bowl; negative: the bowl's rim shows. Default: 3 mm.
    pub overhang: Option<Length>,
    /// How far a traced point may be off the line that follows the trace. Default: 1 mm.
    pub fit: Option<Length>,
}

/// The outline of a rim, a body or a bowl: exactly one of `rectangle`, `polygon`, `circle`, `ellipse`, `file` and `trace`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FixtureOutline {
    /// Width and depth.
    pub rectangle: Option<[Length; 2]>,
    /// Corners in order round the outline.
    pub polygon: Option<Vec<CornerEntry>>,
    /// Diameter.
    pub circle: Option<Length>,
    /// Width and depth.
    pub ellipse: Option<[Length; 2]>,
    /// A drawing (DXF) with one closed outline; its path from the folder of this file.
    pub file: Option<String>,
    /// Of a drawing: only lines on this layer. Default: all layers.
    pub layer: Option<String>,
    /// Of a drawing: its unit, in place of what its header says. Needed where the header names none.
    pub units: Option<DrawingUnits>,
    /// Of a drawing: ends of lines within this of one another count as one. Default: 0.1 mm.
    pub tolerance: Option<Length>,
    /// Points measured all round, 12 to 2000, in order; they may be unevenly spaced and noisy.
    pub trace: Option<Vec<[Length; 2]>>,
    /// Rounds all corners that have no radius of their own. Default: 0.
    pub corner_radius: Option<Length>,
}

/// The slabs in stock.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RackFile {
    /// Unit of bare numbers. Default: mm.
    pub units: Option<Units>,
    /// The slabs.
    pub slab: Vec<SlabEntry>,
}

/// One stone plate. Either `price` or `price_per_m2`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlabEntry {
    /// Its name, unique on the rack.
    pub name: String,
    /// Its material, as jobs name it.
    pub material: String,
    /// Its class of stone. Default: granite, with a note.
    pub stone: Option<StoneClass>,
    /// Its thickness.
    pub thickness: Length,
    /// The lot (block) that it comes from.
    pub lot: Option<String>,
    /// Its position in the lot.
    pub number: Option<i64>,
    /// Price of the whole slab.
    #[schemars(range(min = 0))]
    pub price: Option<f64>,
    /// Price per m² of the outline.
    #[schemars(range(min = 0))]
    pub price_per_m2: Option<f64>,
    /// Its outline; the origin is wherever the outline says.
    pub outline: OutlineEntry,
    /// Direction of its grain.
    pub grain: Option<SlabGrain>,
    /// Its flaws.
    pub flaw: Option<Vec<FlawEntry>>,
    /// Test values of this slab or its lot, in place of those of its class.
    pub tests: Option<TestsEntry>,
    /// A photograph of it, with marks to straighten it by.
    pub photo: Option<PhotoEntry>,
    /// Where it comes from, if it is the offcut of another slab; `scantling take` writes it.
    pub from: Option<FromEntry>,
}

/// A photograph of a slab: a JPEG or PNG file and at least four marks. Pixels count from the upper left corner of the picture
/// as viewers show it (after the turn that its EXIF data ask for), x to the right, y down; the corner itself is [0, 0], the
/// middle of the first pixel [0.5, 0.5].
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoEntry {
    /// The picture; a relative path starts at the rack file's folder.
    pub file: String,
    /// Marks in the picture, pixels.
    #[schemars(length(min = 4, max = 500))]
    pub marks: Vec<[f64; 2]>,
    /// Where each mark is on the slab.
    #[schemars(length(min = 4, max = 500))]
    pub at: Vec<[Length; 2]>,
}

/// Which slab an offcut was part of.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FromEntry {
    /// The name of that slab.
    pub slab: String,
    /// The jobs that it was cut for. Default: none.
    pub jobs: Option<Vec<String>>,
    /// Where the offcut's origin lay in the frame of that slab. Default: [0, 0].
    pub at: Option<[Length; 2]>,
    /// The day on which the offcut was put on the rack: YYYY-MM-DD.
    pub date: Option<String>,
}

/// Test values of a stone. The strength is given by `strength`, or by `strength_mean`, `strength_deviation` and `specimens`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestsEntry {
    /// Density, kg/m³.
    #[schemars(range(min = 1000, max = 4000))]
    pub density: Option<f64>,
    /// Bending strength of every specimen, MPa; at least 5.
    pub strength: Option<Vec<f64>>,
    /// Mean bending strength, MPa.
    #[schemars(range(min = 0.1, max = 400))]
    pub strength_mean: Option<f64>,
    /// Standard deviation of the bending strength, MPa.
    #[schemars(range(min = 0, max = 400))]
    pub strength_deviation: Option<f64>,
    /// Number of specimens, at least 5.
    #[schemars(range(min = 5, max = 100_000))]
    pub specimens: Option<u32>,
    /// Which tests: laboratory, number, standard, wet or dry, along or across the rift.
    pub source: Option<String>,
}

/// A flaw. Exactly one of `line`, `area` and `spot`.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlawEntry {
    /// What it is.
    pub kind: FlawKind,
    /// Points along it.
    pub line: Option<Vec<[Length; 2]>>,
    /// Corners round it.
    pub area: Option<Vec<[Length; 2]>>,
    /// Its middle.
    pub spot: Option<[Length; 2]>,
    /// Of a spot.
    pub diameter: Option<Length>,
    /// Of a line. Default: 0.
    pub width: Option<Length>,
    /// Zones that it may touch, in place of the kind's default.
    pub allow: Option<Vec<Zone>>,
}

/// The fabricator's limits and tools. Every key has a default.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopFile {
    /// Unit of bare numbers. Default: mm.
    pub units: Option<Units>,
    /// Distances and thresholds.
    pub limits: Option<LimitsEntry>,
    /// Tools at hand.
    pub tools: Option<ToolsEntry>,
    /// Rods and what holds them.
    pub rods: Option<RodsEntry>,
    /// How pieces are carried and lifted.
    pub handling: Option<HandlingEntry>,
    /// What is charged.
    pub rates: Option<RatesEntry>,
}

/// Factors for knocks, the people who lift, factors of safety.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HandlingEntry {
    /// Factor for knocks on a piece carried by hand. Default: 1.5.
    #[schemars(range(min = 1, max = 10))]
    pub knocks_by_hand: Option<f64>,
    /// ... hung from a crane or a vacuum lifter. Default: 1.2.
    #[schemars(range(min = 1, max = 10))]
    pub knocks_by_crane: Option<f64>,
    /// ... on edge on a frame on the road. Default: 1.5.
    #[schemars(range(min = 1, max = 10))]
    pub knocks_on_frame: Option<f64>,
    /// ... lying flat on the road. Default: 2.
    #[schemars(range(min = 1, max = 10))]
    pub knocks_flat_on_road: Option<f64>,
    /// How far the frame leans from upright, degrees. Default: 10.
    #[schemars(range(min = 0, max = 45))]
    pub frame_angle: Option<f64>,
    /// What one person may lift, kg. Default: 23.
    #[schemars(range(min = 1, max = 100))]
    pub share: Option<f64>,
    /// Distance of the hands from the ankles. Default: 400 mm.
    pub reach: Option<Length>,
    /// Height of the hands when the lift starts. Default: 750 mm.
    pub grip_height: Option<Length>,
    /// How far the hands travel upwards. Default: 250 mm.
    pub lift: Option<Length>,
    /// How far the body twists, degrees. Default: 0.
    #[schemars(range(min = 0, max = 135))]
    pub twist: Option<f64>,
    /// Factor for how often one lifts. Default: 0.95.
    #[schemars(range(min = 0.05, max = 1))]
    pub frequency: Option<f64>,
    /// Factor for the grip. Default: 0.9.
    #[schemars(range(min = 0.05, max = 1))]
    pub grip: Option<f64>,
    /// A push on the narrowest rail that it should stand, N. Default: 200.
    #[schemars(range(min = 0, max = 10_000))]
    pub push: Option<f64>,
    /// Yield strength of the rods, MPa. Default: 205.
    #[schemars(range(min = 10, max = 2000))]
    pub rod_yield: Option<f64>,
    /// Factors of safety by class of stone. Default: granite 3, marble 5, limestone 8, slate 7, quartzite and sandstone 6,
    /// travertine and onyx 8, serpentine and soapstone 5, engineered quartz and porcelain 4.
    pub safety: Option<SafetyEntry>,
}

/// Factors of safety by class of stone.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SafetyEntry {
    /// Granite.
    #[schemars(range(min = 1, max = 50))]
    pub granite: Option<f64>,
    /// Quartzite.
    #[schemars(range(min = 1, max = 50))]
    pub quartzite: Option<f64>,
    /// Slate.
    #[schemars(range(min = 1, max = 50))]
    pub slate: Option<f64>,
    /// Marble.
    #[schemars(range(min = 1, max = 50))]
    pub marble: Option<f64>,
    /// Limestone.
    #[schemars(range(min = 1, max = 50))]
    pub limestone: Option<f64>,
    /// Travertine.
    #[schemars(range(min = 1, max = 50))]
    pub travertine: Option<f64>,
    /// Onyx.
    #[schemars(range(min = 1, max = 50))]
    pub onyx: Option<f64>,
    /// Serpentine.
    #[schemars(range(min = 1, max = 50))]
    pub serpentine: Option<f64>,
    /// Soapstone.
    #[schemars(range(min = 1, max = 50))]
    pub soapstone: Option<f64>,
    /// Sandstone.
    #[schemars(range(min = 1, max = 50))]
    pub sandstone: Option<f64>,
    /// Engineered quartz.
    #[serde(rename = "engineered quartz")]
    #[schemars(range(min = 1, max = 50))]
    pub engineered_quartz: Option<f64>,
    /// Porcelain.
    #[schemars(range(min = 1, max = 50))]
    pub porcelain: Option<f64>,
}

/// Distances and thresholds.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitsEntry {
    /// Width of stone that the blade removes. Default: 4 mm.
    pub kerf: Option<Length>,
    /// Least distance between the stone of two pieces, at least the kerf. Default: 6 mm.
    pub gap: Option<Length>,
    /// Least distance between a piece and the slab's outline. Default: 20 mm.
    pub trim: Option<Length>,
    /// Least distance between a flaw and a zone that may not touch it. Default: 10 mm.
    pub flaw_gap: Option<Length>,
    /// Least rail. Default: by class of stone and thickness.
    pub min_rail: Option<Length>,
    /// A narrower rail wants rods. Default: by class of stone and thickness.
    pub rod_rail: Option<Length>,
    /// Least rail at a tap hole or an outlet. Default: 25 mm.
    pub tap_rail: Option<Length>,
    /// Least web between two openings. Default: 100 mm.
    pub min_web: Option<Length>,
    /// Least web at a tap hole or an outlet. Default: 25 mm.
    pub tap_web: Option<Length>,
    /// Stone within this distance of an opening is rail. Default: 100 mm.
    pub rail_zone: Option<Length>,
    /// Stone within this distance of a tap hole or an outlet is rail. Default: 25 mm.
    pub tap_zone: Option<Length>,
    /// Stone within this distance of a finished edge is edge. Default: 25 mm.
    pub edge_zone: Option<Length>,
    /// True: small pieces may be laid into the drops of openings. Default: false.
    pub use_drops: Option<bool>,
    /// An offcut is kept if its largest rectangle has this area, m². Default: 0.5.
    #[schemars(range(min = 0, max = 1000))]
    pub keep_area: Option<f64>,
    /// ... and this short side. Default: 400 mm.
    pub keep_side: Option<Length>,
    /// A kept offcut is worth its rectangle's area times the slab's price per area times this. Default: 0.5.
    #[schemars(range(min = 0, max = 1))]
    pub keep_share: Option<f64>,
}

/// Tools at hand.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolsEntry {
    /// Diameters of the core bits. Default: 20, 25, 32, 35, 38, 45, 51, 68 and 75 mm.
    pub core_bits: Option<Vec<Length>>,
    /// Saw blades. Default: 400 mm with a kerf of 3.6 mm, 350 with 3.2 and 125 with 2.4.
    pub blades: Option<Vec<BladeEntry>>,
    /// How deep a cut that goes through runs on into the table. Default: 2 mm.
    pub table_cut: Option<Length>,
}

/// A saw blade.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BladeEntry {
    /// Its diameter.
    pub diameter: Length,
    /// Width of stone that it removes.
    pub kerf: Length,
}

/// Rods and what holds them.
#[derive(JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RodsEntry {
    /// Diameters of the round rods at hand. Default: 8, 6 and 5 mm.
    pub diameters: Option<Vec<Length>>,
    /// What they are of. Default: "threaded stainless steel".
    pub material: Option<String>,
    /// The blade that cuts the groove. Default: 100 mm with a kerf of 6 mm.
    pub blade: Option<BladeEntry>,
    /// How much wider than the rod the groove is. Default: 2 mm.
    pub play: Option<Length>,
    /// How deep the rod lies below the surface. Default: 2 mm.
    pub cover: Option<Length>,
    /// How far the rod runs on past the opening at each end. Default: 150 mm.
    pub past: Option<Length>,
    /// Density of the resin, g/cm³. Default: 1.4.
    #[schemars(range(min = 0.5, max = 5))]
    pub resin_density: Option<f64>,
    /// Mass of hardener for each mass of resin. Default: 0.02; the tin decides.
    #[schemars(range(min = 0, max = 1))]
    pub hardener: Option<f64>,
    /// Resin mixed beyond what the groove holds, as a share of it. Default: 0.15.
    #[schemars(range(min = 0, max = 2))]
    pub waste: Option<f64>,
}
