//! What a sheet says of the offcuts that are kept: where their lines run, so that they can be chalked like pieces.

use super::super::flow::{Block, Row};
use super::super::measure;
use super::super::placer::Words;
use super::super::scene::{Colour, Item, Layer};
use super::super::text::LEAST_SIZE;
use super::Sheet;
use super::drawing::rectangle_corners;
use super::margin::{end, start};
use super::marks::{FAR, Home};
use crate::geom::Point;
use crate::model::Offcut;

/// Where the cells of a table of corners end, mm: number, from B, from A.
pub(super) const CORNERS: (f64, f64, f64) = (12.0, 28.0, 44.0);

/// Rows as groups: groups stay together, and one that no column holds would be lost, so long ones are parted.
pub(super) fn parted(mut rows: Vec<Row>) -> Vec<Vec<Row>> {
    const MOST: usize = 24;
    let mut out = Vec::new();
    while rows.len() > MOST {
        let rest = rows.split_off(MOST);
        out.push(std::mem::replace(&mut rows, rest));
    }
    out.push(rows);
    out
}

impl Sheet<'_> {
    /// Every offcut with both ends of its rectangle's lower side; on a sheet for chalking also the corners of its line.
    pub(super) fn offcuts_block(&self, chalk: bool) -> Option<Block> {
        let column = self.column;
        let mut groups = Vec::new();
        for (i, offcut) in self.layout.offcuts.iter().enumerate() {
            let Some(corners) = rectangle_corners(&offcut.rectangle) else { continue };
            let [w, h] = offcut.rectangle.size;
            let id = format!("R{}", i + 1);
            let size = self.sizes(w, h);
            let mut rows = vec![Row::cells(&[start(&id, 0.0, 6.0, true), start(&size, 6.0, column - 6.0, true)])];
            rows.extend([("from", corners[0]), ("to", corners[1])].map(|(tag, p)| self.place_row(tag, p)));
            if chalk {
                rows.extend(self.offcut_rows(i, offcut));
            }
            groups.extend(parted(rows));
        }
        if groups.is_empty() {
            return None;
        }
        let mut heading = vec![self.heading("Offcuts to keep")];
        let words = "largest rectangle, and from where to where its lower side runs: from B, from A";
        heading.extend(Row::paragraph(words, 0.0, column, false));
        let line = if chalk {
            "The line of an offcut runs over its numbered corners, and else along the slab's own edges. Strips beyond it are cut off."
        } else {
            "Strips beyond the line of an offcut are cut off."
        };
        groups.push(Row::paragraph(line, 0.0, column, false));
        Some(Block { heading, groups })
    }

    /// The corners of an offcut's line, like those of a piece.
    fn offcut_rows(&self, index: usize, offcut: &Offcut) -> Vec<Row> {
        let corners = measure::offcut_corners(offcut, self.slab).into_iter().enumerate();
        corners.map(|(k, p)| self.place_row(&format!("R{}-{}", index + 1, k + 1), p)).collect()
    }

    /// A point of the slab from B and from A.
    fn place_row(&self, name: &str, p: Point) -> Row {
        let (tag, from_b, from_a) = CORNERS;
        let [x, y] = self.datum.measure(p).map(|v| self.bare(v));
        Row::cells(&[
            start(name, 0.0, tag, false),
            end(&x, from_b, from_b - tag, false),
            end(&y, from_a, from_a - from_b - 1.0, false),
        ])
    }

    /// A dot and a number at every corner of every offcut's line.
    pub(super) fn number_offcuts(&mut self) {
        for (i, offcut) in self.layout.offcuts.iter().enumerate() {
            for (k, p) in measure::offcut_corners(offcut, self.slab).into_iter().enumerate() {
                let at = self.paper(p);
                self.items.push(Item::disc(Layer::Mark, at, 0.45, None, Some(Colour::GREY)));
                let name = format!("R{}-{}", i + 1, k + 1);
                let words = Words { lines: vec![(name, LEAST_SIZE, false)], upright: false };
                self.lead(&words, at, 0.5, Home::Anywhere, FAR);
            }
        }
    }
}
