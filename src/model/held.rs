//! Openings that are not simply cut through in the shop, as a plan keeps them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::openings::{OpeningSheet, Verdict};

/// An opening that is not simply cut through in the shop as it is drawn: its verdict is *score* or *stop*.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Held {
    /// Name of the job.
    pub job: String,
    /// Name of the piece.
    pub piece: String,
    /// Name of the opening.
    pub opening: String,
    /// `score` or `stop`.
    pub verdict: Verdict,
    /// Why.
    #[serde(default)]
    pub because: Vec<String>,
    /// What to do about it.
    #[serde(default)]
    pub to_do: Vec<String>,
}

impl Held {
    /// That of a sheet; `None` if its opening is cut through in the shop.
    #[must_use]
    pub fn of(sheet: &OpeningSheet) -> Option<Self> {
        matches!(sheet.verdict, Verdict::Score | Verdict::Stop).then(|| Self {
            job: sheet.job.clone(),
            piece: sheet.piece.clone(),
            opening: sheet.opening.clone(),
            verdict: sheet.verdict,
            because: sheet.decided_by.clone(),
            to_do: sheet.to_do.clone(),
        })
    }

    /// True if it must not be cut as drawn.
    #[must_use]
    pub const fn is_stopped(&self) -> bool {
        matches!(self.verdict, Verdict::Stop)
    }
}
