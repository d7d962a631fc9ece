//! The contact sheet: every slab small, all to one scale, so that they can be told apart and compared.

use super::super::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use super::super::sheet::{flaw_area, flaw_line, flaw_spot};
use super::super::{Settings, hatch, text};
use super::{flaws_of, lot_of, money, origin_of, size_of};
use crate::geom::{BBox, Point, Polygon, Pose, Region, Ring, pt};
use crate::model::{FlawBody, FlawKind, Slab};

/// From the paper's edge, mm.
const MARGIN: f64 = 10.0;
/// Between cells, mm.
const BETWEEN: f64 = 6.0;
/// Of the words under a drawing, mm.
const SIZE: f64 = 2.8;
/// Lines of words under a drawing.
const LINES: usize = 4;
/// Columns and rows on a page.
const GRID: (usize, usize) = (3, 3);

const OUTLINE: Stroke = Stroke::solid(Colour::BLACK, 0.35);
const OFFCUT: Stroke = Stroke::solid(Colour::GREY, 0.18);
const GRAIN: Stroke = Stroke::solid(Colour::LIGHT, 0.13);

/// Where things go on the paper, mm.
struct Plan {
    cell: (f64, f64),
    /// Height of the words under a drawing.
    words: f64,
    /// Slab millimetres per paper millimetre.
    scale: f64,
}

/// The slabs, nine a page, all drawn to one scale: the largest fills its place. An empty rack gives one page that says so.
#[must_use]
pub fn contact_sheet(slabs: &[&Slab], settings: &Settings) -> Vec<Scene> {
    let (width, height) = settings.paper.size();
    let (columns, rows) = GRID;
    let (top, bottom) = (MARGIN + 8.0, MARGIN + 7.0);
    let cell = (
        (width - 2.0 * MARGIN - BETWEEN * (columns - 1) as f64) / columns as f64,
        (height - top - bottom - BETWEEN * (rows - 1) as f64) / rows as f64,
    );
    let words = LINES as f64 * SIZE * text::PITCH + 1.5;
    let room = (cell.0 - 1.0, cell.1 - words - 1.0);
    let scale = slabs
        .iter()
        .map(|s| s.outline.bbox())
        .fold(1.0, |k: f64, b| k.max(b.width() / room.0).max(b.height() / room.1));
    let plan = Plan { cell, words, scale };
    let pages: Vec<&[&Slab]> = if slabs.is_empty() { vec![&[]] } else { slabs.chunks(columns * rows).collect() };
    let many = pages.len();
    pages
        .into_iter()
        .enumerate()
        .map(|(page, slabs)| {
            let mut items = Vec::new();
            for (i, slab) in slabs.iter().enumerate() {
                let (column, row) = (i % columns, i / columns);
                let corner = pt(
                    MARGIN + column as f64 * (cell.0 + BETWEEN),
                    height - top - (row + 1) as f64 * cell.1 - row as f64 * BETWEEN,
                );
                plan.draw(slab, corner, settings, &mut items);
            }
            let title = format!("Rack, page {} of {many}", page + 1);
            let head = pt(MARGIN, height - MARGIN - 3.5);
            items.push(Item::text(Layer::Margin, Text::new(&title, head, Anchor::Start, 4.2).bold()));
            let said = if slabs.is_empty() {
                "nothing to show".to_owned()
            } else {
                format!("about 1 : {:.0}, all slabs to one scale; an arrow shows the grain", plan.scale)
            };
            let right = pt(width - MARGIN, height - MARGIN - 3.5);
            items.push(Item::text(Layer::Margin, Text::new(&said, right, Anchor::End, SIZE)));
            key(pt(MARGIN, MARGIN), &mut items);
            // Layers lie over one another slab by slab; printers want them together.
            items.sort_by_key(|i| i.layer);
            let paper = (width, height);
            Scene { title, paper, scale, origin: pt(0.0, 0.0), items, left_out: 0, rows_left_out: 0 }
        })
        .collect()
}

impl Plan {
    /// Draws a slab into the cell whose lower left corner is given.
    fn draw(&self, slab: &Slab, corner: Point, settings: &Settings, items: &mut Vec<Item>) {
        let size = slab.outline.bbox();
        let h = size.height() / self.scale;
        let room = self.cell.1 - self.words;
        // Half-way up its place, so that rows of unlike slabs still look like rows.
        let origin = corner + pt(0.3, self.words + (room - h) / 2.0) - size.min * (1.0 / self.scale);
        let paper = |p: Point| origin + p * (1.0 / self.scale);
        let ring = slab.outline.map(paper);
        let fill = if slab.from.is_some() { Colour::WHITE } else { Colour::PALE };
        items.push(Item::area(Layer::Slab, ring.points().to_vec(), Some(OUTLINE), Some(fill)));
        if slab.from.is_some() {
            let hatching = hatch::lines(&band(&ring), 135.0, 1.8);
            if !hatching.is_empty() {
                items.push(Item::lines(Layer::Offcut, hatching, OFFCUT));
            }
        }
        if let Some(grain) = slab.grain.filter(|g| g.is_finite()) {
            items.extend(grain_lines(&ring, grain));
        }
        for flaw in &slab.flaws {
            let drawn = match &flaw.body {
                FlawBody::Line(line) => flaw_line(flaw.kind, &line.iter().map(|&p| paper(p)).collect::<Vec<Point>>()),
                FlawBody::Area(area) => flaw_area(flaw.kind, &area.map(paper).to_region()),
                FlawBody::Spot(p) => flaw_spot(flaw.kind, paper(*p), flaw.radius / self.scale),
            };
            items.extend(drawn);
        }
        let shown = settings.shown;
        let lot = lot_of(slab);
        let lot = if lot.is_empty() { String::new() } else { format!(", lot {lot}") };
        let flaws = flaws_of(slab);
        let lines = [
            slab.name.clone(),
            format!("{}, {}, {}", size_of(slab, shown), shown.area(slab.outline.area()), money(slab.price)),
            format!("{}, {}{lot}", slab.material, shown.length(slab.thickness)),
            if flaws.is_empty() { origin_of(slab) } else { format!("{}; {flaws}", origin_of(slab)) },
        ];
        for (k, line) in lines.iter().enumerate() {
            let bold = k == 0;
            let y = self.words - SIZE - k as f64 * SIZE * text::PITCH;
            let line = text::shorten(line, SIZE, bold, self.cell.0);
            let mut words = Text::new(&line, corner + pt(0.0, y), Anchor::Start, SIZE);
            words.bold = bold;
            items.push(Item::text(Layer::Label, words));
        }
    }
}

/// A strip along the inside of an outline, which tells an offcut from a whole slab without colour.
fn band(ring: &Ring) -> Region {
    let inner = crate::geom::sum::shrunk(&ring.to_region(), 1.3, 0.05);
    let holes: Vec<Ring> = inner.polygons.iter().map(|p| p.outer.clone()).collect();
    Region { polygons: vec![Polygon { outer: ring.clone(), holes }] }
}

/// Lines along the grain, and one arrow in the middle.
fn grain_lines(ring: &Ring, grain: f64) -> Vec<Item> {
    let lines = hatch::lines(&ring.to_region(), grain, 5.0);
    let forward = Pose::new(grain, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
    let ends: Vec<(Point, Point)> = lines.iter().filter_map(|l| Some((*l.first()?, *l.last()?))).collect();
    let longest = ends.iter().map(|(a, b)| a.distance(*b)).fold(0.0, f64::max);
    let middle = ring.bbox().centre();
    // On a long line near the middle, where the outline does not hide it.
    let best = ends
        .iter()
        .filter(|(a, b)| a.distance(*b) >= 0.6 * longest)
        .map(|(a, b)| a.lerp(*b, 0.5))
        .min_by(|a, b| a.distance(middle).total_cmp(&b.distance(middle)));
    let mut items = Vec::new();
    if let Some(at) = best {
        let tip = at + forward * 1.0;
        let back = tip - forward * 2.0;
        let head = vec![back + forward.left() * 0.9, tip, back - forward.left() * 0.9];
        items.push(Item::lines(Layer::Grain, vec![head], Stroke::solid(Colour::GREY, 0.3)));
    }
    if !lines.is_empty() {
        items.push(Item::lines(Layer::Grain, lines, GRAIN));
    }
    items
}

/// What the marks mean, on one line from the point given.
fn key(from: Point, items: &mut Vec<Item>) {
    let mut x = 0.0;
    for (name, kind) in FlawKind::NAMES {
        let y = SIZE * 0.35;
        let mut icon = flaw_line(kind, &[from + pt(x, y), from + pt(x + 9.0, y)]);
        icon.extend(flaw_spot(kind, from + pt(x + 12.0, y), 1.2));
        for item in &mut icon {
            item.layer = Layer::Margin;
        }
        items.extend(icon);
        items.push(Item::text(Layer::Margin, Text::new(name, from + pt(x + 14.5, 0.0), Anchor::Start, SIZE)));
        x += 14.5 + text::width(name, SIZE, false) + 6.0;
    }
    let b = BBox { min: from + pt(x, -0.6), max: from + pt(x + 9.0, 2.6) };
    let ring = Ring::rectangle(b);
    items.push(Item::lines(Layer::Margin, hatch::lines(&band(&ring), 135.0, 1.8), OFFCUT));
    items.push(Item::area(Layer::Margin, ring.points().to_vec(), Some(OUTLINE), None));
    items.push(Item::text(Layer::Margin, Text::new("offcut", from + pt(x + 11.0, 0.0), Anchor::Start, SIZE)));
}
