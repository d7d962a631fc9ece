//! Tables and lists in columns of the margin. Paper millimetres; rows are built about their own upper left corner.

use super::scene::{Anchor, Item, Layer, Text};
use super::text;
use crate::geom::{BBox, pt};

/// One row: its items have the row's upper left corner as origin, y up (so they lie below 0).
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// Height, mm.
    pub height: f64,
    /// What it shows.
    pub items: Vec<Item>,
}

/// A cell of a row.
#[derive(Clone, Copy, Debug)]
pub struct Cell<'a> {
    /// What it says.
    pub content: &'a str,
    /// Where its anchor lies from the row's left end, mm.
    pub x: f64,
    /// Which end `x` is.
    pub anchor: Anchor,
    /// Room, mm; longer text is shortened.
    pub room: f64,
    /// Bold or not.
    pub bold: bool,
}

impl Row {
    /// Height of a row of the least font size, mm.
    pub const PLAIN: f64 = text::LEAST_SIZE * text::PITCH;

    /// A row of cells of the least font size.
    #[must_use]
    pub fn cells(cells: &[Cell<'_>]) -> Self {
        Self::sized(cells, text::LEAST_SIZE, Self::PLAIN)
    }

    /// A row of cells.
    #[must_use]
    pub fn sized(cells: &[Cell<'_>], size: f64, height: f64) -> Self {
        let base = -(height - (text::ASCENT + text::DESCENT) * size) / 2.0 - text::ASCENT * size;
        let items = cells
            .iter()
            .filter(|c| !c.content.is_empty())
            .map(|c| {
                let s = text::shorten(c.content, size, c.bold, c.room);
                let mut t = Text::new(&s, pt(c.x, base), c.anchor, size);
                t.bold = c.bold;
                Item::text(Layer::Margin, t)
            })
            .collect();
        Self { height, items }
    }

    /// A row of cells, with further rows for those whose text is longer than their room; nothing is shortened.
    #[must_use]
    pub fn wrapped(cells: &[Cell<'_>]) -> Vec<Self> {
        let lines: Vec<Vec<String>> =
            cells.iter().map(|c| text::wrap(c.content, text::LEAST_SIZE, c.bold, c.room)).collect();
        let rows = lines.iter().map(Vec::len).max().unwrap_or(0).max(1);
        let cell = |k: usize| {
            let of = cells.iter().zip(&lines);
            of.map(|(c, l)| Cell { content: l.get(k).map_or("", String::as_str), ..*c }).collect::<Vec<_>>()
        };
        (0..rows).map(|k| Self::cells(&cell(k))).collect()
    }

    /// A paragraph as rows, each `indent` mm from the left.
    #[must_use]
    pub fn paragraph(content: &str, indent: f64, room: f64, bold: bool) -> Vec<Self> {
        text::wrap(content, text::LEAST_SIZE, bold, room - indent)
            .iter()
            .map(|line| {
                Self::cells(&[Cell { content: line, x: indent, anchor: Anchor::Start, room: room - indent, bold }])
            })
            .collect()
    }
}

/// A table or list: a heading, which is repeated where it goes on in another column, and groups of rows that stay
/// together.
#[derive(Clone, Debug)]
pub struct Block {
    /// Its heading.
    pub heading: Vec<Row>,
    /// Each group stays together.
    pub groups: Vec<Vec<Row>>,
}

fn height(rows: &[Row]) -> f64 {
    rows.iter().map(|r| r.height).sum()
}

/// Where blocks went.
#[derive(Clone, Debug, Default)]
pub struct Flowed {
    /// Everything, in place.
    pub items: Vec<Item>,
    /// Groups that found no room.
    pub left_out: usize,
}

/// Distance between blocks, mm.
const BETWEEN: f64 = 2.2;

/// Puts blocks into the columns of several pages, in order: a block goes onto the first page that holds it, whole in one column if
/// there is one, else split over several; one that no page holds is split over all of them.
#[must_use]
pub fn paged(blocks: &[Block], pages: &[Vec<BBox>]) -> Flowed {
    let mut out = Flowed::default();
    let mut left: Vec<Vec<BBox>> = pages.to_vec();
    for block in blocks {
        let one = std::slice::from_ref(block);
        let on_one = left.iter().position(|columns| holds(columns, block));
        let put = match on_one {
            Some(page) => flow_into(one, &mut left[page]),
            None => {
                let mut all: Vec<BBox> = left.concat();
                let put = flow_into(one, &mut all);
                let mut rest = all.into_iter();
                for page in &mut left {
                    page.iter_mut().for_each(|c| *c = rest.next().unwrap_or(*c));
                }
                put
            }
        };
        out.items.extend(put.items);
        out.left_out += put.left_out;
    }
    out
}

/// True if [`flow`] would leave nothing of the block out.
fn holds(columns: &[BBox], block: &Block) -> bool {
    let head = height(&block.heading);
    let groups: Vec<f64> = block.groups.iter().map(|g| height(g)).collect();
    let whole = head + groups.iter().sum::<f64>();
    if columns.iter().any(|c| c.max.y - whole >= c.min.y) {
        return true;
    }
    let mut columns = columns.iter();
    let mut room = f64::NEG_INFINITY;
    !groups.is_empty()
        && groups.iter().all(|group| {
            while room < *group {
                let Some(c) = columns.next() else { return false };
                room = c.max.y - c.min.y - head;
            }
            room -= group;
            true
        })
}

/// The same as [`flow`], and lowers the columns to what is left of them.
fn flow_into(blocks: &[Block], columns: &mut [BBox]) -> Flowed {
    let (out, tops) = flow_to(blocks, columns);
    for (c, top) in columns.iter_mut().zip(tops) {
        c.max.y = top;
    }
    out
}

/// Puts blocks into columns. A block goes whole into the first column that has room for it, else it is split over the
/// columns in order.
#[must_use]
pub fn flow(blocks: &[Block], columns: &[BBox]) -> Flowed {
    flow_to(blocks, columns).0
}

/// Where blocks went, and how high every column is free after that.
fn flow_to(blocks: &[Block], columns: &[BBox]) -> (Flowed, Vec<f64>) {
    let mut out = Flowed::default();
    let mut tops: Vec<f64> = columns.iter().map(|c| c.max.y).collect();
    let put = |rows: &[Row], x: f64, top: &mut f64, out: &mut Vec<Item>| {
        for row in rows {
            out.extend(row.items.iter().map(|i| i.clone().moved(pt(x, *top))));
            *top -= row.height;
        }
    };
    for block in blocks {
        let whole = height(&block.heading) + block.groups.iter().map(|g| height(g)).sum::<f64>();
        let fits = (0..columns.len()).find(|&i| tops[i] - whole >= columns[i].min.y);
        if let Some(i) = fits {
            put(&block.heading, columns[i].min.x, &mut tops[i], &mut out.items);
            for group in &block.groups {
                put(group, columns[i].min.x, &mut tops[i], &mut out.items);
            }
            tops[i] -= BETWEEN;
            continue;
        }
        out.left_out += usize::from(block.groups.is_empty());
        let mut column = 0;
        let mut begun = false;
        for group in &block.groups {
            loop {
                let Some(c) = columns.get(column) else {
                    out.left_out += 1;
                    break;
                };
                let need = height(group) + if begun { 0.0 } else { height(&block.heading) };
                if tops[column] - need >= c.min.y {
                    if !begun {
                        put(&block.heading, c.min.x, &mut tops[column], &mut out.items);
                        begun = true;
                    }
                    put(group, c.min.x, &mut tops[column], &mut out.items);
                    break;
                }
                if begun {
                    tops[column] -= BETWEEN;
                }
                column += 1;
                begun = false;
            }
        }
        if let Some(top) = tops.get_mut(column) {
            *top -= BETWEEN;
        }
    }
    (out, tops)
}
