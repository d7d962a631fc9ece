//! What is to be done about every opening, as it stands in `openings.json`. Piece frame, lengths mm, masses g or kg, stresses MPa;
//! sentences have their lengths and masses in the units that people work in.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use super::held::Held;
use super::job::OpeningKind;
use super::strength::Standing;

/// Sheets for all openings of the jobs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Openings {
    /// `scantling-openings/1`.
    pub format: String,
    /// One for every opening, in the order of jobs, pieces and openings.
    pub openings: Vec<OpeningSheet>,
}

impl Openings {
    /// The format that this program writes.
    pub const FORMAT: &'static str = "scantling-openings/1";

    /// The openings that are not simply cut through in the shop as they are drawn, in their order.
    #[must_use]
    pub fn held(&self) -> Vec<Held> {
        self.openings.iter().filter_map(Held::of).collect()
    }
}

/// What the sheet comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Cut it in the shop.
    Fine,
    /// Cut it in the shop, with rods glued in first.
    Rods,
    /// Score it in the shop, finish it on site.
    Score,
    /// Do not cut it as drawn.
    Stop,
}

/// One opening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OpeningSheet {
    /// Name of the job.
    pub job: String,
    /// Name of the piece.
    pub piece: String,
    /// Name of the opening.
    pub opening: String,
    /// What it is for.
    pub kind: OpeningKind,
    /// What the sheet comes to.
    pub verdict: Verdict,
    /// Why: the sentences that led to the verdict.
    pub because: Vec<String>,
    /// Those of the reasons that made the verdict *score* or *stop*.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub decided_by: Vec<String>,
    /// What to do about that.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub to_do: Vec<String>,
    /// Name of the slab whose stone the sheet is worked out for; absent if no slab of the rack qualifies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slab: Option<String>,
    /// The hole.
    pub cut_out: CutOutSheet,
    /// How it is cut.
    #[serde(flatten)]
    pub cutting: Cutting,
    /// The stone that is left round it.
    pub rails: Vec<Rail>,
    /// What is glued in.
    pub rods: Vec<Rod>,
    /// Whether the piece survives being carried.
    pub handling: Vec<Handling>,
    /// What the figures of carrying come to, and what they rest on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carrying: Option<Carrying>,
    /// Names of the pieces that the plan lays in the drop.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pieces_in_drop: Vec<String>,
    /// Where flaws of the slab lie, with a plan.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flaws: Vec<NearFlaw>,
    /// What to do, one after the other.
    pub order: Vec<String>,
    /// Cautions for the person who does it.
    pub cautions: Vec<String>,
}

/// The hole itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutOutSheet {
    /// The line to cut, as its arcs were flattened: nowhere inside the true shape.
    pub outline: Vec<[f64; 2]>,
    /// Width and depth of the true shape.
    pub size: [f64; 2],
    /// Where its centre lines cross.
    pub centre: [f64; 2],
    /// Its area, mm², of the true shape.
    pub area_mm2: f64,
    /// What there is to spare, for an opening that is given by its fixture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spare: Option<Spare>,
    /// What was done to get from the fixture to the hole.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
}

/// What there is to spare between a fixture and its hole, at the accuracy of template and cut; mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spare {
    /// Least rim on stone, all round; absent if nothing rests on the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_bearing: Option<f64>,
    /// Least gap between the body and the stone; absent for a bowl below the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_clearance: Option<f64>,
    /// How much may still be cut away, all round.
    pub may_still_cut: f64,
}

/// How an opening is cut.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cutting {
    /// Cores to drill first.
    pub cores: Vec<Core>,
    /// Rows of small cuts at corners that no core suits.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<CutRow>,
    /// Saw passes between them.
    pub passes: Vec<Pass>,
    /// Curves that no core makes and no saw can follow, as their arcs were flattened: cut by water or router, or by a row of
    /// small cuts and grinding. One that runs all round ends where it begins.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curves: Vec<Vec<[f64; 2]>>,
    /// What is to be said about it: no cores and why, rows of small cuts, from which face.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cutting_notes: Vec<String>,
    /// How it is only scored, where the trade allows that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub score: Option<Score>,
}

/// A core.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Core {
    /// Its middle.
    pub centre: [f64; 2],
    /// Diameter of the bit.
    pub diameter: f64,
    /// From the opening's centre line, to the right positive.
    pub from_centre_line: f64,
    /// From the piece's front edge.
    pub from_front: f64,
    /// Where the two sides that it rounds touch it. Both are the middle of the corner's arc where the core touches only that.
    pub tangents: [[f64; 2]; 2],
    /// How far it takes stone beyond the line as drawn: the bit is smaller than the corner's radius asks for.
    #[serde(default)]
    pub past_line: f64,
}

/// A row of small cuts from the drop up to a corner, the fingers between them to be broken out and the rest ground.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutRow {
    /// Where the two sides of the corner would meet.
    pub corner: [f64; 2],
    /// The corner's radius.
    pub radius: f64,
    /// Diameter of the blade; absent if none of the shop has room in the drop: then grind, or cut by water or router.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blade: Option<f64>,
    /// The cuts as they show on the face: from the drop to just short of the line.
    pub cuts: Vec<[[f64; 2]; 2]>,
}

/// One pass of a saw along a straight side, the hole to the left of `from` to `to`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pass {
    /// Which side: front, right, back, left, or "side N".
    pub side: String,
    /// Where the cut may begin on the face: in the core at its start.
    pub from: [f64; 2],
    /// Where it must end.
    pub to: [f64; 2],
    /// Diameter of the blade; absent if no blade of the shop can make this pass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blade: Option<f64>,
    /// Where the middle of the blade is let down to full depth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub full_depth_from: Option<[f64; 2]>,
    /// Where it is lifted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub full_depth_to: Option<[f64; 2]>,
    /// Lengths left uncut near both ends: underneath, or half way through the stone for a side that is cut from both faces,
    /// or at the depth of a score.
    pub left_under: [f64; 2],
    /// True if it is cut from the back; places are still those of the piece seen from its face.
    pub from_back: bool,
    /// Depth of the cut, into the table included.
    #[serde(default)]
    pub depth: f64,
    /// Width of stone that the blade takes, on the drop's side of the line; absent without a blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kerf: Option<f64>,
    /// How far the cut reaches on the surface past the middle of the blade; absent without a blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overrun: Option<f64>,
}

/// How an opening is scored in the shop, to be finished on site.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Score {
    /// Depth of the cut, from the back.
    pub depth: f64,
    /// Stone left under it.
    pub left: f64,
    /// Middles of the tabs that are left whole.
    pub tabs: Vec<[f64; 2]>,
    /// Length of each tab.
    pub tab: f64,
    /// The cuts, all from the back.
    #[serde(default)]
    pub passes: Vec<Pass>,
    /// What is to be said about it.
    #[serde(default)]
    pub notes: Vec<String>,
}

/// What a rail comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum RailVerdict {
    /// Wide enough.
    Fine,
    /// Wants a rod.
    Rod,
    /// Too narrow.
    Stop,
}

/// The stone between an opening and an edge of the piece, or a web to another opening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rail {
    /// front, back, left, right, or "to NAME".
    pub side: String,
    /// Its least width.
    pub least: f64,
    /// Where: a point on the opening and the nearest one across the stone.
    pub at: [[f64; 2]; 2],
    /// Narrower than this must not be cut.
    pub stop: f64,
    /// Narrower than this wants a rod; absent where every rail does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rod: Option<f64>,
    /// What it comes to.
    pub verdict: RailVerdict,
    /// Widths along it: place along the rail (mm from its left or front end), width there.
    pub profile: Vec<[f64; 2]>,
    /// Its length: how far the opening reaches along it, or the stretch that two openings face one another.
    #[serde(default)]
    pub span: f64,
}

/// A rail by its side, in words: "front rail", "web to NAME".
#[must_use]
pub fn rail_words(side: &str) -> String {
    if side.starts_with("to ") { format!("web {side}") } else { format!("{side} rail") }
}

/// A rod glued into a groove in the back of a rail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rod {
    /// Its rail.
    pub side: String,
    /// One end of the rod.
    pub from: [f64; 2],
    /// The other end.
    pub to: [f64; 2],
    /// Its diameter.
    pub diameter: f64,
    /// Width of the groove.
    pub groove_width: f64,
    /// Depth of the groove.
    pub groove_depth: f64,
    /// Where the groove reaches the surface of the back, at both ends, by the run-out of its blade.
    pub groove_from: [f64; 2],
    /// The other end.
    pub groove_to: [f64; 2],
    /// Stone left above the groove.
    pub stone_above: f64,
    /// Resin to mix, g, waste included.
    pub resin_g: f64,
    /// Hardener for it, g.
    pub hardener_g: f64,
    /// Why this rail gets a rod.
    pub because: Vec<String>,
    /// How far it runs on past the opening at both ends.
    #[serde(default)]
    pub past: [f64; 2],
    /// What it is of.
    #[serde(default)]
    pub material: String,
}

/// In what state the piece is when it is carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Before any opening is cut.
    Whole,
    /// All openings cut.
    Cut,
    /// The openings scored only.
    Scored,
}

/// The stress in the weakest section of the piece, carried one way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Handling {
    /// How: "flat by its ends", "flat at two points", "on edge", "on a frame on the road".
    pub case: String,
    /// In what state.
    pub state: State,
    /// Stress by its own weight, MPa, without factors.
    pub stress_mpa: f64,
    /// Strength, MPa, before the factor of safety.
    pub strength_mpa: f64,
    /// Factor of safety asked for.
    pub safety: f64,
    /// Factor for knocks.
    pub knocks: f64,
    /// Stress times both factors over strength: 1 is the limit.
    pub r#use: f64,
    /// Where along the piece the weakest section lies, mm from its left end; from its front where it is carried along its
    /// depth.
    pub at: f64,
    /// Where it is held, mm from the same end; on a frame, where it leans.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_at: Option<[f64; 2]>,
}

/// How an opening is to be made so that its piece survives being carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub enum CarryVerdict {
    /// Cut it in the shop; the piece may be carried flat.
    #[serde(rename = "cut in the shop")]
    Cut,
    /// Cut it in the shop, and do not carry the piece flat.
    #[serde(rename = "cut in the shop, do not carry flat")]
    OnEdge,
    /// Score it in the shop, finish it on site.
    #[serde(rename = "score in the shop, finish on site")]
    Score,
    /// Do not move a piece with this opening.
    #[serde(rename = "stop")]
    Stop,
}

/// Whether the piece survives being carried, for one of its openings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Carrying {
    /// What it comes to.
    pub verdict: CarryVerdict,
    /// The sentences that led to it, with their numbers.
    pub because: Vec<String>,
    /// The piece as a whole.
    pub piece: Load,
    /// The stress at the opening's worst corner; absent if it has no corner and no curve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corner: Option<CornerStress>,
    /// A push on its narrowest rail; absent if it has none along the piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub push: Option<RailPush>,
    /// Cautions for those who carry it.
    pub cautions: Vec<String>,
}

/// A piece as a load: mass, middle, hands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Load {
    /// Mass before any opening is cut, kg.
    pub mass_kg: f64,
    /// Mass with all openings cut, kg.
    pub mass_cut_kg: f64,
    /// Centre of gravity before any opening is cut.
    pub centre: [f64; 2],
    /// Centre of gravity with all openings cut.
    pub centre_cut: [f64; 2],
    /// The direction along which it is taken as a beam: "length" (x) or "depth" (y).
    pub along: String,
    /// The edge that is to be up when it is carried on edge: front, right, back, left; absent if it does not matter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up: Option<String>,
    /// People to carry it whole, by the shop's share of each.
    pub people: u32,
    /// What one person may lift by the NIOSH equation as the shop lifts, kg.
    pub niosh_kg: f64,
    /// People by that; absent where the equation allows no lift at all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub niosh_people: Option<u32>,
    /// Mass over what `people` may lift by the equation: 1 is the aim, above 3 the risk is high. Absent as above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub niosh_index: Option<f64>,
    /// The values that all this rests on.
    pub values: Vec<Value>,
}

/// A value with where it comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Value {
    /// What it is.
    pub what: String,
    /// The value.
    pub value: f64,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
    /// How well it is known.
    pub standing: Standing,
}

/// The stress at a corner of an opening, by elastic theory, with all openings cut and without factors: to rank layouts with, not
/// the load at which the stone fails.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerStress {
    /// The corner.
    pub at: [f64; 2],
    /// Its radius.
    pub radius: f64,
    /// How many times the stress far from it: in bending, carried flat by the ends. Absent at a sharp corner, where it has no
    /// limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flat_factor: Option<f64>,
    /// The same in tension, carried on edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_factor: Option<f64>,
    /// Stress carried flat by the ends as if there were no opening, at that place, MPa.
    pub flat_far_mpa: f64,
    /// The same on edge.
    pub edge_far_mpa: f64,
    /// Stress at the corner carried flat by the ends, MPa.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flat_mpa: Option<f64>,
    /// The same on edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_mpa: Option<f64>,
    /// Which formula, and whether the corner is within its range.
    pub formula: String,
}

/// A push across the plane of the piece on the middle of a rail whose ends hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RailPush {
    /// front, right, back or left.
    pub side: String,
    /// Least width of the rail.
    pub width: f64,
    /// Its length beside the opening.
    pub length: f64,
    /// The push, N.
    pub push_n: f64,
    /// Stress, MPa.
    pub stress_mpa: f64,
    /// Stress times the factor of safety over strength: 1 is the limit.
    pub r#use: f64,
}

/// How a flaw lies to an opening on its slab.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NearFlaw {
    /// What kind of flaw: "crack", "fissure", ...
    pub flaw: String,
    /// Number of the flaw on its slab, from 1.
    pub number: usize,
    /// The flaw in the piece frame: a line, or the border of an area.
    pub line: Vec<[f64; 2]>,
    /// The zone that it touches or would touch first: "rail", "edge", ...
    pub zone: String,
    /// Distance to that zone less what is needed; negative: too near.
    pub spare: f64,
    /// True if it lies in the drop.
    pub in_drop: bool,
    /// Distance from the flaw to the opening's line; negative where it reaches into the drop.
    pub distance: f64,
    /// Width of a line, 0 for a border.
    pub width: f64,
    /// True if `line` is a border that runs back to its first point.
    pub closed: bool,
    /// What is to be said about it.
    pub note: String,
}
