//! How a template is divided over pages, and the marks by which the pages are laid on one another.

use super::{MARGIN, OVERLAP, THIN};
use crate::geom::{BBox, Point, pt};
use crate::model::letters;
use crate::report::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use crate::report::text::LEAST_SIZE;

const LAP: Stroke = Stroke::dashed(Colour::GREY, 0.2, &[5.0, 2.0]);

/// Which part of a tiled template a page is.
#[derive(Clone, Copy)]
pub(super) struct Tile {
    pub(super) column: usize,
    pub(super) row: usize,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Tile {
    pub(super) fn name(column: usize, row: usize) -> String {
        format!("{}{}", letters(row).to_uppercase(), column + 1)
    }
}

/// How the world is divided into tiles.
pub(super) struct Grid {
    pub(super) paper: (f64, f64),
    /// Lower left corner of the tile in the lowest row and first column, world.
    pub(super) corner: Point,
    /// What one tile shows, mm.
    pub(super) window: (f64, f64),
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Grid {
    /// The part of the world that a tile shows. Row 0 is the highest.
    pub(super) fn window(&self, column: usize, row: usize) -> BBox {
        let (w, h) = self.window;
        let up = self.rows - 1 - row;
        let min = self.corner + pt(column as f64 * (w - OVERLAP), up as f64 * (h - OVERLAP));
        BBox { min, max: min + pt(w, h) }
    }
}

/// Height of the bottom strip of a grid's pages, mm.
pub(super) fn grid_bottom(grid: &Grid) -> f64 {
    grid.paper.1 - 2.0 * MARGIN - grid.window.1
}

/// Middles of the crosses in the overlaps of a tile, where its neighbours have theirs, world.
pub(super) fn cross_places(window: &BBox, tile: &Tile) -> Vec<Point> {
    let half = OVERLAP / 2.0;
    // A quarter of a window from its ends, the overlap left out: the same places seen from either tile.
    let along = |min: f64, max: f64| {
        let (a, b) = (min + OVERLAP, max - OVERLAP);
        [a + (b - a) * 0.25, a + (b - a) * 0.75]
    };
    let mut out = Vec::new();
    let columns = [(tile.column > 0, window.min.x + half), (tile.column + 1 < tile.columns, window.max.x - half)];
    for (_, x) in columns.into_iter().filter(|c| c.0) {
        out.extend(along(window.min.y, window.max.y).map(|y| pt(x, y)));
    }
    let rows = [(tile.row > 0, window.max.y - half), (tile.row + 1 < tile.rows, window.min.y + half)];
    for (_, y) in rows.into_iter().filter(|r| r.0) {
        out.extend(along(window.min.x, window.max.x).map(|x| pt(x, y)));
    }
    out
}

/// Where the neighbours of a tile begin, and crosses to lay on one another, world.
pub(super) fn laps(grid: &Grid, tile: &Tile) -> Vec<Item> {
    let w = grid.window(tile.column, tile.row);
    let mut out = Vec::new();
    for p in cross_places(&w, tile) {
        let (x, y) = (pt(2.5, 0.0), pt(0.0, 2.5));
        out.push(Item::lines(Layer::Mark, vec![vec![p - x, p + x], vec![p - y, p + y]], THIN));
        out.push(Item::disc(Layer::Mark, p, 1.5, Some(THIN), None));
    }
    let mut lines = Vec::new();
    if tile.column > 0 {
        lines.push(vec![pt(w.min.x + OVERLAP, w.min.y), pt(w.min.x + OVERLAP, w.max.y)]);
    }
    if tile.column + 1 < tile.columns {
        lines.push(vec![pt(w.max.x - OVERLAP, w.min.y), pt(w.max.x - OVERLAP, w.max.y)]);
    }
    if tile.row > 0 {
        lines.push(vec![pt(w.min.x, w.max.y - OVERLAP), pt(w.max.x, w.max.y - OVERLAP)]);
    }
    if tile.row + 1 < tile.rows {
        lines.push(vec![pt(w.min.x, w.min.y + OVERLAP), pt(w.max.x, w.min.y + OVERLAP)]);
    }
    if !lines.is_empty() {
        out.push(Item::lines(Layer::Trim, lines, LAP));
    }
    out
}

/// The names of the neighbours in the overlaps, at the middle of each side; `min` is the window's corner on the paper.
pub(super) fn lap_words(tile: &Tile, min: Point, (w, h): (f64, f64)) -> Vec<Item> {
    let mut out = Vec::new();
    let mut add = |at: Point, column: usize, row: usize, upright: bool| {
        let mut t = Text::new(&format!("overlaps {}", Tile::name(column, row)), at, Anchor::Middle, LEAST_SIZE);
        (t.backed, t.upright, t.colour) = (true, upright, Colour::GREY);
        out.push(Item::text(Layer::Mark, t));
    };
    let (half, base) = (OVERLAP / 2.0, LEAST_SIZE * 0.35);
    if tile.column > 0 {
        add(min + pt(half + base, h * 0.42), tile.column - 1, tile.row, true);
    }
    if tile.column + 1 < tile.columns {
        add(min + pt(w - half + base, h * 0.42), tile.column + 1, tile.row, true);
    }
    if tile.row > 0 {
        add(min + pt(w * 0.42, h - half - base), tile.column, tile.row - 1, false);
    }
    if tile.row + 1 < tile.rows {
        add(min + pt(w * 0.42, half - base), tile.column, tile.row + 1, false);
    }
    out
}
