//! What a sheet says of openings that must not be cut as drawn, or are only scored.

use super::super::flow::{Block, Row};
use super::super::held;
use super::Sheet;
use crate::units::Shown;

impl Sheet<'_> {
    /// The openings on this slab that must not be cut as drawn, and those that are only scored.
    pub(super) fn held_blocks(&self) -> Vec<Block> {
        let here = self
            .plan
            .held
            .iter()
            .filter(|h| self.parts.iter().any(|p| p.placed.job == h.job && p.placed.piece == h.piece));
        let groups = held::groups(here);
        let block = |stopped: bool| {
            let words = if stopped { "DO NOT CUT these as drawn" } else { "SCORE ONLY, finish on site" };
            let own: Vec<_> = groups.iter().filter(|g| g.held.is_stopped() == stopped).collect();
            let mut heading = vec![self.heading(words)];
            // The sentences are written before anyone knows in what units they will be shown.
            if self.settings.shown == Shown::In {
                heading.extend(Row::paragraph("(lengths in these lines in mm)", 0.0, self.column, false));
            }
            let rows = |g: &&held::Group<'_>| -> Vec<Vec<Row>> {
                let name = Row::paragraph(&format!("{}: {}", g.word(), g.name()), 0.0, self.column, true);
                vec![name, Row::paragraph(&held::capital(&g.words()), 0.0, self.column, false)]
            };
            (!own.is_empty()).then(|| Block { heading, groups: own.iter().flat_map(rows).collect() })
        };
        [true, false].into_iter().filter_map(block).collect()
    }
}
