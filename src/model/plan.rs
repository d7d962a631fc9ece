//! The answer, as it stands in `plan.json`. Lengths mm, areas mm², slab frame, angles degrees.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::openings::Held;
use super::shop::Limits;
use crate::geom::Pose;

/// What counts first when plans are compared, once every piece has a place.
///
/// The others follow in the order cost, offcut, margin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Goal {
    /// The least price of the slabs that are cut.
    #[default]
    Cost,
    /// The least price of the stone that is used up: the price of the slabs that are cut, less the worth of their offcuts.
    Offcut,
    /// The widest margin between a flaw and a zone that may not touch it.
    Margin,
}

/// A whole plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// `scantling-plan/1`.
    pub format: String,
    /// Names of the jobs.
    pub jobs: Vec<String>,
    /// Seed of the search; any number for plans made otherwise.
    #[serde(default)]
    pub seed: u64,
    /// What counted first in the search.
    #[serde(default)]
    pub goal: Goal,
    /// How much work the search did, so that it can be repeated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effort: Option<u64>,
    /// The limits under which it was made.
    pub limits: PlanLimits,
    /// The slabs that are cut, in rack order.
    pub layouts: Vec<Layout>,
    /// Pieces without a place.
    #[serde(default)]
    pub unplaced: Vec<Unplaced>,
    /// Price of the slabs that are cut.
    pub cost: f64,
    /// No plan that places everything can cost less.
    pub cost_bound: f64,
    /// By what argument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bound_rule: Option<String>,
    /// True only where all is placed and `cost` equals `cost_bound`.
    pub proven: bool,
    /// Worth of the kept offcuts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offcut_worth: Option<f64>,
    /// Smallest distance between a flaw and a zone that may not touch it, beyond what is needed; absent if no flaw bears on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flaw_margin: Option<f64>,
    /// What the judge found.
    #[serde(default)]
    pub findings: Vec<Finding>,
    /// The openings whose sheets say *score* or *stop*, worked out for the slabs that their pieces lie on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub held: Vec<Held>,
}

impl Plan {
    /// The value of [`Plan::format`].
    pub const FORMAT: &'static str = "scantling-plan/1";

    /// True if all that was asked for may be cut as it is drawn: no rule is broken, every piece has a place (a piece without one
    /// is a finding too), and no opening is stopped. Only as good as [`Plan::findings`] and [`Plan::held`].
    #[must_use]
    pub fn may_be_cut(&self) -> bool {
        self.findings.iter().all(|f| f.grade != Grade::Broken) && !self.held.iter().any(Held::is_stopped)
    }

    /// What is held of the openings of a piece.
    pub fn held_of<'a>(&'a self, job: &str, piece: &str) -> impl Iterator<Item = &'a Held> {
        self.held.iter().filter(move |h| h.job == job && h.piece == piece)
    }
}

/// The limits that a plan was made under, mm. Where they differ between slabs, the strictest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[expect(missing_docs, reason = "the fields are those of Limits")]
pub struct PlanLimits {
    pub kerf: f64,
    pub gap: f64,
    pub trim: f64,
    pub flaw_gap: f64,
    pub min_rail: f64,
    /// `null` or absent where every rail wants rods.
    #[serde(default)]
    pub rod_rail: Option<f64>,
    pub min_web: f64,
    pub rail_zone: f64,
    pub tap_zone: f64,
    pub edge_zone: f64,
}

impl PlanLimits {
    /// The limits of a shop, with the least rail and the rail that wants rods (mm; infinite if every rail does) for the stone
    /// in use.
    #[must_use]
    pub fn of(limits: &Limits, min_rail: f64, rod_rail: f64) -> Self {
        Self {
            kerf: limits.kerf,
            gap: limits.gap,
            trim: limits.trim,
            flaw_gap: limits.flaw_gap,
            min_rail,
            rod_rail: rod_rail.is_finite().then_some(rod_rail),
            min_web: limits.min_web,
            rail_zone: limits.rail_zone,
            tap_zone: limits.tap_zone,
            edge_zone: limits.edge_zone,
        }
    }
}

/// One slab with its pieces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// Name of the slab.
    pub slab: String,
    /// The fingerprint of the slab when the plan was made; Absent in plans made otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slab_print: Option<String>,
    /// Its pieces.
    pub placed: Vec<Placed>,
    /// What is used and what is not.
    #[serde(rename = "yield")]
    pub yields: Yield,
    /// What is left and worth keeping, largest rectangle first.
    #[serde(default)]
    pub offcuts: Vec<Offcut>,
}

/// One piece on a slab: `p_slab = Rotate(turn) * p_piece + shift`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Placed {
    /// Name of its job.
    pub job: String,
    /// Its name.
    pub piece: String,
    /// Degrees, counter-clockwise.
    pub turn: f64,
    /// Millimetres.
    pub shift: [f64; 2],
    /// True if a re-planning must leave it where it is.
    #[serde(default)]
    pub pinned: bool,
    /// Its outline in the slab frame, arcs flattened.
    #[serde(default)]
    pub outline: Vec<[f64; 2]>,
    /// Its openings in the slab frame.
    #[serde(default)]
    pub openings: Vec<OpeningOutline>,
}

impl Placed {
    /// Where it lies.
    #[must_use]
    pub fn pose(&self) -> Pose {
        Pose::new(self.turn, self.shift.into())
    }
}

/// An opening in the slab frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningOutline {
    /// Its name.
    pub opening: String,
    /// Its outline, arcs flattened.
    pub outline: Vec<[f64; 2]>,
}

/// Areas of a layout, mm², and their ratios.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Yield {
    /// The slab's outline.
    pub slab_mm2: f64,
    /// The slab's outline less the trim all round.
    pub usable_mm2: f64,
    /// The pieces with their openings filled; a piece in the drop of another is not counted again.
    pub pieces_mm2: f64,
    /// The openings, less the pieces in their drops.
    pub openings_mm2: f64,
    /// (pieces - openings) / slab.
    pub net: f64,
    /// pieces / slab.
    pub gross: f64,
}

impl Yield {
    /// The yield of pieces on a slab, from areas in mm².
    #[must_use]
    pub fn of(slab: f64, usable: f64, pieces: f64, openings: f64) -> Self {
        let ratio = |a: f64| if slab > 0.0 { a / slab } else { 0.0 };
        Self {
            slab_mm2: slab,
            usable_mm2: usable,
            pieces_mm2: pieces,
            openings_mm2: openings,
            net: ratio(pieces - openings),
            gross: ratio(pieces),
        }
    }
}

/// What is left of a slab and worth keeping.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Offcut {
    /// Its outline.
    pub outline: Vec<[f64; 2]>,
    /// The largest rectangle in it that keeps trim, gap and flaws away.
    pub rectangle: Rectangle,
}

/// A rectangle: `size` along axes turned by `turn` about `corner`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rectangle {
    /// Millimetres.
    pub corner: [f64; 2],
    /// Millimetres.
    pub size: [f64; 2],
    /// Degrees, counter-clockwise.
    pub turn: f64,
}

/// A piece without a place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Unplaced {
    /// Name of its job.
    pub job: String,
    /// Its name.
    pub piece: String,
    /// Why, in words, with lengths in the units in which the plan was made.
    pub reason: String,
    /// What would be needed, mm; 0 where no one number tells.
    pub needed: f64,
    /// What was found, mm.
    pub found: f64,
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// A rule is broken: do not cut.
    Broken,
    /// Worth a look before cutting.
    Warning,
    /// For the record.
    Note,
}

/// The rules that findings name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// A piece is nearer to the slab's outline than the trim.
    OutsideSlab,
    /// Two pieces are nearer to one another than the gap.
    PiecesTooClose,
    /// A flaw is nearer than the flaw gap to a zone that may not touch it.
    FlawInZone,
    /// The grain runs another way than the piece wishes.
    GrainOff,
    /// A rail is narrower than the least rail.
    RailTooNarrow,
    /// A web between two openings is too narrow.
    WebTooNarrow,
    /// An opening leaves its piece.
    OpeningOutsidePiece,
    /// The slab is of another material than the job wants.
    WrongMaterial,
    /// The slab is of another thickness than the job wants.
    WrongThickness,
    /// A piece of the job has no place.
    Unplaced,
    /// An inside corner is tighter than the smallest core bit.
    InsideCornerTooTight,
    /// A rail is narrower than the rod threshold.
    RailWantsRods,
    /// The trade advises against openings in this stone at this thickness.
    ThinForOpenings,
    /// The slab's class of stone was not given.
    StoneAssumed,
    /// The plan names a slab that the rack does not have.
    UnknownSlab,
    /// The plan lays out a slab twice.
    SlabUsedTwice,
    /// The plan names a piece that the jobs do not have.
    UnknownPiece,
    /// The plan places a piece twice.
    PlacedTwice,
    /// The plan names other jobs than were given.
    OtherJobs,
    /// The outline in the plan is not that of the piece where the plan puts it.
    OutlineDiffers,
    /// A number that is no number, or out of all range.
    NumberNonsense,
    /// A figure in the plan (cost, bound, yield) is not what it must be.
    FigureWrong,
    /// The plan was made under other limits than the shop's.
    LimitsDiffer,
    /// A piece lies in a drop where the tools of the opening cut.
    DropCutInto,
    /// A piece lies in the drop of an opening that is not cut out in the shop.
    DropStays,
    /// An offcut in the plan overlaps a piece, a flaw or the trim.
    OffcutNotFree,
    /// The format of the plan is not known.
    UnknownFormat,
}

impl Rule {
    /// Its name as written in files.
    #[must_use]
    pub fn name(self) -> String {
        serde_json::to_value(self).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
    }
}

/// One thing that the judge found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// The rule.
    pub rule: Rule,
    /// How bad it is.
    pub grade: Grade,
    /// Name of the job, if it is about one.
    pub job: Option<String>,
    /// Name of the piece, if it is about one.
    pub piece: Option<String>,
    /// Name of the opening, if it is about one.
    pub opening: Option<String>,
    /// Name of the slab, if it is about one.
    pub slab: Option<String>,
    /// Where: slab frame if a slab is named, else piece frame; mm.
    pub at: Option<[f64; 2]>,
    /// What was found (mm, degrees or money, as the rule has it).
    pub found: Option<f64>,
    /// What is needed.
    pub needed: Option<f64>,
    /// In words, with lengths in the units that people work in; the numbers beside it are mm.
    pub message: String,
}
