//! The full-size template of an opening, to be printed, cut out and laid on the stone. In: a piece and one of its openings.
//! Out: scenes at 1:1, one large sheet or tiles over common paper. Every decision is taken here; printers only print.
//!
//! World frame: that of the piece, mm. A scene's `origin` says where the piece's origin lies on the paper.

mod clip;
mod tiles;

use super::Settings;
use super::placer::{self, Placer, Words};
use super::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use super::text::{self, LEAST_SIZE};
use crate::geom::clip::line_within;
use crate::geom::curve::Side;
use crate::geom::{BBox, Point, Ring, pt};
use crate::model::openings::Held;
use crate::model::{Drawn, Fixture, Opening, Piece};
use crate::units::{MM_PER_INCH, Shown};
pub(super) use clip::clipped;
use tiles::{Grid, Tile, cross_places, grid_bottom, lap_words, laps};

/// Length of the bars by which a print is measured, mm; on a sheet in inches they are 4 in long.
pub const CHECK: f64 = 100.0;
/// By how much neighbouring tiles overlap, mm.
pub const OVERLAP: f64 = 10.0;
/// Distance of everything from the paper's edge, mm: printers leave 5 mm or a little more blank.
const MARGIN: f64 = 8.0;
/// Width of the strip on the left that holds the upright check bar, mm.
const STRIP: f64 = 8.0;
/// Height of the part of the bottom strip that holds the level check bar, mm.
const BAR: f64 = 11.0;
/// Stone shown round the cut line and the fixture, mm.
const AROUND: f64 = 15.0;
/// The front edge is on the sheet if it is this near to the drawing, mm: a template is laid against it. Farther off it would
/// cost more paper than it is worth.
const NEAR_FRONT: f64 = 150.0;
/// Room for the words in the strip of a sheet that holds a small hole, mm.
const LEAST_WIDTH: f64 = 190.0;
/// Width of the map of the tiles with its name, mm, and the part of it that the map itself may take.
const MAP: (f64, f64) = (52.0, 34.0);
/// Font size on the drawing, mm.
const LABEL: f64 = 3.5;
/// Tiles more than this are refused: nobody glues them.
const MOST_TILES: usize = 400;

/// A bar by which a print is measured, with a rule of the units that are shown.
pub(super) struct CheckBar {
    /// Its length, mm.
    pub(super) long: f64,
    /// Into how many equal parts ticks divide it.
    parts: u32,
    /// Every so many parts a tick is longer.
    whole: u32,
    shown: Shown,
}

impl CheckBar {
    /// 100 mm with a tick every 10 mm, or 4 in with a tick every 1/2 in.
    pub(super) const fn of(shown: Shown) -> Self {
        match shown {
            Shown::Mm => Self { long: CHECK, parts: 10, whole: 5, shown },
            Shown::In => Self { long: 4.0 * MM_PER_INCH, parts: 8, whole: 2, shown },
        }
    }

    /// What it must measure.
    pub(super) fn words(&self) -> String {
        self.shown.said(self.long)
    }

    /// Where its ticks are along it, mm, and whether each is a longer one.
    pub(super) fn ticks(&self) -> impl Iterator<Item = (f64, bool)> {
        let part = self.long / f64::from(self.parts);
        (0..=self.parts).map(move |i| (part * f64::from(i), i % self.whole == 0))
    }
}

const CUT: Stroke = Stroke::solid(Colour::BLACK, 0.35);
const EDGE: Stroke = Stroke::solid(Colour::BLACK, 0.7);
const CROSS: Stroke = Stroke::solid(Colour::VERMILLION, 1.2);
const FIXTURE: Stroke = Stroke::dashed(Colour::BLACK, 0.25, &[4.0, 1.5]);
const INNER: Stroke = Stroke::dashed(Colour::BLACK, 0.25, &[1.2, 1.2]);
const OTHER: Stroke = Stroke::dashed(Colour::GREY, 0.2, &[2.5, 1.2]);
const CENTRE: Stroke = Stroke::dashed(Colour::BLACK, 0.15, &[8.0, 1.2, 1.2, 1.2]);
const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);
const FRAME: Stroke = Stroke::solid(Colour::GREY, 0.15);

/// What a template is made of.
#[derive(Clone, Copy, Debug)]
pub struct Template<'a> {
    /// Name of the job.
    pub job: &'a str,
    /// What the piece, or all its copies, are called.
    pub called: &'a str,
    /// The piece.
    pub piece: &'a Piece,
    /// The opening in it.
    pub opening: &'a Opening,
    /// Units of what is written on it; its size is the true one in any case. The paper is that of the tiles.
    pub settings: Settings,
    /// What is held against cutting it through, if anything is.
    pub held: Option<&'a Held>,
}

/// One line of the drawing, with what it is called on the paper.
struct Line {
    points: Vec<Point>,
    closed: bool,
    layer: Layer,
    stroke: Stroke,
    name: Option<String>,
}

impl Template<'_> {
    /// The template on one sheet, as large as it needs.
    #[must_use]
    pub fn sheet(&self) -> Scene {
        let world = self.world();
        let width = world.width().max(LEAST_WIDTH - 2.0 * MARGIN - STRIP);
        let lines = self.lines(width + STRIP, None);
        let bottom = strip_height(&lines);
        let height = world.height().max(self.bar().long + 6.0);
        let paper = (width + STRIP + 2.0 * MARGIN, height + bottom + 2.0 * MARGIN);
        let spare = pt(width - world.width(), height - world.height()) * 0.5;
        let window = BBox { min: world.min - spare, max: world.max + spare };
        self.page(paper, window, &lines, bottom, None)
    }

    /// The template on pages of the settings' paper, row by row from the back, each from left to right. `None` if it would
    /// take more pages than anybody glues together.
    #[must_use]
    pub fn tiles(&self) -> Option<Vec<Scene>> {
        let world = self.world();
        let (w, h) = self.settings.paper.size();
        let grid = [(w, h), (h, w)]
            .into_iter()
            .filter_map(|paper| self.grid(paper, &world))
            .min_by_key(|g| g.columns.saturating_mul(g.rows))?;
        let mut out = Vec::new();
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let tile = Tile { column, row, columns: grid.columns, rows: grid.rows };
                let lines = self.lines(grid.window.0 + STRIP - MAP.0, Some(&tile));
                let mut page = self.page(grid.paper, grid.window(column, row), &lines, grid_bottom(&grid), Some(&tile));
                let (min, window) = (grid.window(column, row).min, grid.window);
                page.items.extend(laps(&grid, &tile).into_iter().map(|i| i.moved(page.origin)));
                page.items.extend(lap_words(&tile, page.origin + min, window));
                page.items.extend(self.map(&grid, &tile, &world));
                page.items.sort_by_key(|i| i.layer);
                out.push(page);
            }
        }
        Some(out)
    }

    fn bar(&self) -> CheckBar {
        CheckBar::of(self.settings.shown)
    }

    fn grid(&self, paper: (f64, f64), world: &BBox) -> Option<Grid> {
        let width = paper.0 - 2.0 * MARGIN - STRIP;
        // The longest name that a tile can have stands for all.
        let tile = Tile { column: MOST_TILES, row: MOST_TILES, columns: MOST_TILES, rows: MOST_TILES };
        let bottom = strip_height(&self.lines(width + STRIP - MAP.0, Some(&tile)));
        let height = paper.1 - 2.0 * MARGIN - bottom;
        let count = |long: f64, window: f64| ((long - OVERLAP) / (window - OVERLAP)).ceil().max(1.0);
        let (columns, rows) = (count(world.width(), width), count(world.height(), height));
        if width < 2.0 * OVERLAP || height < self.bar().long || columns * rows > MOST_TILES as f64 {
            return None;
        }
        let whole = pt(columns * (width - OVERLAP) + OVERLAP, rows * (height - OVERLAP) + OVERLAP);
        Some(Grid {
            paper,
            corner: world.centre() - whole * 0.5,
            window: (width, height),
            columns: columns as usize,
            rows: rows as usize,
        })
    }

    /// What the template shows of the piece frame.
    #[must_use]
    pub fn world(&self) -> BBox {
        let mut b = self.opening.shape.extent().join(self.opening.ring.bbox());
        for (drawn, _, _) in self.fixture() {
            b = b.join(drawn.shape.extent());
        }
        let around = pt(AROUND, AROUND);
        let mut b = BBox { min: b.min - around, max: b.max + around };
        if b.min.y < NEAR_FRONT {
            b.min.y = b.min.y.min(-AROUND);
        }
        b
    }

    /// The outlines of the fixture, with their names and lines.
    fn fixture(&self) -> Vec<(&Drawn, &'static str, Stroke)> {
        match self.opening.origin.as_ref().map(|o| &o.fixture) {
            Some(Fixture::DropIn { rim, body, .. }) => {
                vec![(rim, "rim, rests on the stone", FIXTURE), (body, "body of the fixture", INNER)]
            }
            Some(Fixture::Undermount { bowl, .. }) => vec![(bowl, "bowl, below the stone", FIXTURE)],
            Some(Fixture::Cooktop { body, .. }) => vec![(body, "body of the cooktop", FIXTURE)],
            None => Vec::new(),
        }
    }

    fn drawing(&self) -> Vec<Line> {
        let ring = |r: &Ring, layer, stroke, name: Option<&str>| Line {
            points: r.points().to_vec(),
            closed: true,
            layer,
            stroke,
            name: name.map(str::to_owned),
        };
        let mut out = vec![ring(&self.piece.outline.ring, Layer::Piece, EDGE, None)];
        for other in self.piece.openings.iter().filter(|o| o.name != self.opening.name) {
            let name = format!("{}: has a template of its own", other.name);
            out.push(ring(&other.ring, Layer::Piece, OTHER, Some(&name)));
        }
        for (drawn, name, stroke) in self.fixture() {
            let points = drawn.shape.flatten(Side::Outer).points;
            out.push(Line { points, closed: true, layer: Layer::Edge, stroke, name: Some(name.to_owned()) });
        }
        let called = match self.held {
            None => "cut line",
            Some(h) if h.is_stopped() => "do not cut",
            Some(_) => "score line",
        };
        out.push(ring(&self.opening.ring, Layer::Opening, CUT, Some(called)));
        if self.held.is_some_and(Held::is_stopped) {
            out.extend(self.cross());
        }
        let (c, b) = (self.opening.centre(), self.world());
        let line =
            |from, to| Line { points: vec![from, to], closed: false, layer: Layer::Datum, stroke: CENTRE, name: None };
        let far = 10.0 * (b.width() + b.height());
        out.push(line(pt(c.x, c.y - far), pt(c.x, c.y + far)));
        out.push(line(pt(c.x - far, c.y), pt(c.x + far, c.y)));
        out
    }

    /// Two lines across the opening that strike it out.
    fn cross(&self) -> Vec<Line> {
        let region = self.opening.ring.to_region();
        let [a, b, c, d] = self.opening.ring.bbox().corners();
        let line = |points| Line { points, closed: false, layer: Layer::Finding, stroke: CROSS, name: None };
        [[a, c], [b, d]].iter().flat_map(|ends| line_within(ends, &region)).map(line).collect()
    }

    /// What is written under the drawing.
    fn lines(&self, room: f64, tile: Option<&Tile>) -> Vec<(String, bool)> {
        let shown = self.settings.shown;
        let (o, size) = (self.opening, self.opening.shape.extent());
        let c = o.centre();
        let of = tile.map_or_else(String::new, |t| {
            format!(
                ". Tile {} of {} to {}",
                Tile::name(t.column, t.row),
                Tile::name(0, 0),
                Tile::name(t.columns - 1, t.rows - 1)
            )
        });
        let title = format!("{}: {}, {} ({}){of}", self.called, o.name, o.kind.name(), self.job);
        let bars = match shown {
            Shown::Mm => format!("{} (3.937 in)", self.bar().words()),
            Shown::In => self.bar().words(),
        };
        let mut rest = vec![
            format!(
                "Print at 100 %, not fitted to the page. Both bars must measure {bars}, else do not use the print.",
            ),
            format!(
                "Cut-out {} × {}{}; centre line {} from the left end of the piece, {} from its front edge; front edge to cut-out {}.",
                shown.length(size.width()),
                shown.length(size.height()),
                self.radii(),
                shown.length(c.x),
                shown.length(c.y),
                shown.length(size.min.y),
            ),
        ];
        if let Some(origin) = &o.origin {
            let s = &origin.spare;
            let mut words = Vec::new();
            if let Some(v) = s.least_bearing {
                words.push(format!("least bearing of the rim {}", shown.length(v)));
            }
            if let Some(v) = s.least_clearance {
                words.push(format!("least gap to the body {}", shown.length(v)));
            }
            words.push(format!("may still be cut away all round: {}", shown.length(s.may_still_cut)));
            rest.push(format!("At the accuracy of template and cut: {}.", words.join("; ")));
        }
        let solid = match self.held {
            None => "Solid line: cut to it, the stone inside it goes.",
            Some(h) if h.is_stopped() => "Solid line, crossed out: where the opening would lie.",
            Some(_) => "Solid line: the score. The stone inside it stays until the piece lies on its cabinets.",
        };
        rest.push(format!(
            "{solid} Dash and dot: centre lines. Lay the fixture in hand on this sheet before you cut; its maker's template goes \
             before this one. Cut wet: silica dust."
        ));
        if let Some(t) = tile.filter(|t| t.columns * t.rows > 1) {
            rest.push(format!(
                "Tiles overlap by {}: trim {} along the grey frame, lay the crosses in circles on one another, and glue.",
                shown.said(OVERLAP),
                Tile::name(t.column, t.row),
            ));
        }
        let mut out: Vec<(String, bool)> = Vec::new();
        let first = std::iter::once(title).chain(self.held.map(held_words)).map(|w| (w, true));
        for (words, bold) in first.chain(rest.into_iter().map(|w| (w, false))) {
            out.extend(text::wrap(&words, LEAST_SIZE, bold, room).into_iter().map(|l| (l, bold)));
        }
        out
    }

    /// The radii of the corners in words, behind the size.
    fn radii(&self) -> String {
        if matches!(self.opening.shape, crate::model::Shape::Ellipse { .. }) {
            return String::new();
        }
        let mut radii: Vec<(f64, usize)> = Vec::new();
        for corner in self.opening.inside_corners() {
            match radii.iter_mut().find(|r| (r.0 - corner.radius).abs() < 0.05) {
                Some(r) => r.1 += 1,
                None => radii.push((corner.radius, 1)),
            }
        }
        let words: Vec<String> =
            radii.iter().take(4).map(|(r, n)| format!("{n} of radius {}", self.settings.shown.length(*r))).collect();
        match words.len() {
            0 => String::new(),
            _ if radii.len() > words.len() => ", corners as marked".to_owned(),
            _ => format!(", corners {}", words.join(", ")),
        }
    }

    /// A page that shows a window of the world.
    fn page(
        &self,
        paper: (f64, f64),
        window: BBox,
        lines: &[(String, bool)],
        bottom: f64,
        tile: Option<&Tile>,
    ) -> Scene {
        let origin = pt(MARGIN + STRIP, MARGIN + bottom) - window.min;
        let mut items: Vec<Item> = Vec::new();
        let mut placer = Placer::new(window);
        let lap = if tile.is_some() { OVERLAP } else { 0.0 };
        let mut named: Vec<(Point, String)> = Vec::new();
        for line in self.drawing() {
            let mut parts = clipped(&line.points, line.closed, &window);
            for part in &parts {
                for s in part.windows(2) {
                    placer.avoid(s[0], s[1], 8.0);
                }
            }
            if parts.is_empty() {
                continue;
            }
            if let Some(at) = middle_of_longest(&parts, &window, lap) {
                let edge = if at.y.abs() < 0.01 { "front edge of the piece" } else { "edge of the piece" };
                let name = line.name.or_else(|| (line.stroke == EDGE).then(|| edge.to_owned()));
                named.extend(name.map(|n| (at, n)));
            }
            let whole = line.closed && parts.len() == 1 && parts[0].len() > line.points.len();
            if whole {
                parts[0].pop();
                items.push(Item::area(line.layer, parts.swap_remove(0), Some(line.stroke), None));
            } else {
                items.push(Item::lines(line.layer, parts, line.stroke));
            }
        }
        if let Some(t) = tile {
            for mark in cross_places(&window, t) {
                placer.take(placer::around(mark, (6.0, 6.0)));
            }
            for name in lap_words(t, window.min, (window.width(), window.height())) {
                placer.take(name.bbox());
            }
        }
        items.extend(self.front_dimension(&window, &mut placer));
        items.extend(self.face_up(&window, &mut placer));
        for (at, name) in named {
            items.extend(label(&mut placer, &name, at));
        }
        items.extend(self.corner_labels(&window, &mut placer));
        items.extend(self.centre_labels(&window, &mut placer));
        let mut items: Vec<Item> = items.into_iter().map(|i| i.moved(origin)).collect();
        let frame = BBox { min: origin + window.min, max: origin + window.max };
        items.push(Item::area(Layer::Slab, frame.corners().to_vec(), Some(FRAME), None));
        items.extend(self.strip(lines, bottom));
        items.sort_by_key(|i| i.layer);
        let of = tile.map_or_else(String::new, |t| format!(", tile {}", Tile::name(t.column, t.row)));
        let title = format!("Template: {}, {}, {}{of}", self.job, self.called, self.opening.name);
        Scene { title: text::clean(&title), paper, scale: 1.0, origin, items, left_out: 0, rows_left_out: 0 }
    }

    /// The dimension from the cut-out to the front edge, if it runs through the window.
    fn front_dimension(&self, window: &BBox, placer: &mut Placer) -> Vec<Item> {
        let ring = self.opening.ring.points();
        let low = self.opening.ring.bbox().min.y;
        // The lowest side, or the lowest point of a round; a little off the middle, where the centre line is.
        let lowest: Vec<f64> = ring.iter().filter(|p| p.y < low + 0.01).map(|p| p.x).collect();
        let (a, b) = lowest.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &x| (a.min(x), b.max(x)));
        let foot_of = pt(a + (b - a) * 0.3, low);
        // Below a round it stands beside the centre line, or nobody could tell the two apart.
        let aside = (foot_of.x - self.opening.centre().x).abs() < 4.0;
        let x = if aside { foot_of.x - 12.0 } else { foot_of.x };
        let true_low = self.opening.shape.extent().min.y;
        if !(window.min.x..=window.max.x).contains(&x) || true_low <= 0.0 {
            return Vec::new();
        }
        let (from, to) = (true_low.min(window.max.y), 0.0_f64.max(window.min.y));
        if from - to < 2.0 {
            return Vec::new();
        }
        let (top, foot) = (pt(x, from), pt(x, to));
        let mut paths = vec![vec![top, foot]];
        let tick = pt(1.5, 1.5);
        if from == true_low && aside {
            paths.push(vec![pt(foot_of.x, top.y), top - pt(2.0, 0.0)]);
        }
        if from == true_low {
            paths.push(vec![top - tick, top + tick]);
        }
        if to == 0.0 {
            paths.push(vec![foot - tick, foot + tick]);
        }
        let whole = if to == 0.0 { "" } else { " (edge not on this sheet)" };
        let words = large(format!("{} to the front edge{whole}", self.settings.shown.length(true_low)));
        placer.avoid(top, foot, 8.0);
        let mut out = vec![Item::lines(Layer::Dimension, paths, THIN)];
        let (size, middle) = (words.size(), top.lerp(foot, 0.5));
        let beside = [1.0, -1.0].iter().flat_map(|&side| {
            [0.5, 0.35, 0.65, 0.2, 0.8].map(|t| {
                (top.lerp(foot, t) + pt(side * (size.0 / 2.0 + 1.5), 0.0), (t - 0.5_f64).abs() + f64::from(side < 0.0))
            })
        });
        match placer.best(size, beside, 6.0) {
            Some((m, _)) => out.extend(put(placer, &words, m)),
            None => out.extend(label(placer, &words.lines[0].0, middle)),
        }
        out
    }

    /// Large words and an arrow inside the hole.
    fn face_up(&self, window: &BBox, placer: &mut Placer) -> Vec<Item> {
        let hole = self.opening.ring.bbox();
        let room = BBox {
            min: pt(hole.min.x.max(window.min.x), hole.min.y.max(window.min.y)),
            max: pt(hole.max.x.min(window.max.x), hole.max.y.min(window.max.y)),
        };
        for large in [8.0, 5.0, 3.5] {
            let small = (large * 0.5_f64).max(LEAST_SIZE);
            let mut lines = vec![("FACE UP".to_owned(), large, true), ("front edge this way".to_owned(), small, false)];
            if let Some(held) = self.held {
                lines.insert(0, (short_order(held).to_owned(), large, true));
            }
            let words = Words { lines, upright: false };
            let (w, h) = words.size();
            let arrow = large * 2.0;
            let size = (w + 4.0, h + arrow + 4.0);
            let spots = placer::grid(&room, size, room.centre() + pt(0.0, room.height() / 6.0));
            let spots =
                spots.into_iter().filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &self.opening.ring));
            let Some((m, _)) = placer.best(size, spots.collect::<Vec<_>>(), 60.0) else { continue };
            placer.take(placer::around(m, size));
            let mut out: Vec<Item> =
                words.texts(m + pt(0.0, arrow / 2.0)).into_iter().map(|t| Item::text(Layer::Label, t)).collect();
            let tip = m - pt(0.0, size.1 / 2.0 - 1.0);
            out.extend(arrow_down(tip, arrow));
            return out;
        }
        Vec::new()
    }

    fn corner_labels(&self, window: &BBox, placer: &mut Placer) -> Vec<Item> {
        let crate::model::Shape::Polygon(corners) = &self.opening.shape else { return Vec::new() };
        let mut out = Vec::new();
        let sharp = self.opening.inside_corners();
        // An outline that was fitted to a trace has many gentle arcs: those too are of interest to who cuts it.
        for corner in corners.iter().filter(|c| c.radius > 0.0 || sharp.iter().any(|s| s.at == c.at)).take(64) {
            let middle = self
                .opening
                .ring
                .points()
                .iter()
                .copied()
                .min_by(|a, b| a.distance(corner.at).total_cmp(&b.distance(corner.at)));
            let Some(at) = middle.filter(|p| window.near(&BBox::EMPTY.with(*p), 0.0)) else { continue };
            out.extend(label(placer, &format!("R {}", self.settings.shown.length(corner.radius)), at));
        }
        out
    }

    fn centre_labels(&self, window: &BBox, placer: &mut Placer) -> Vec<Item> {
        let (c, shown) = (self.opening.centre(), self.settings.shown);
        let mut out = Vec::new();
        if window.min.x < c.x && c.x < window.max.x {
            let words = large(format!("centre line, {} from the left end", shown.length(c.x))).turned(true);
            let size = words.size();
            let spots = [0.8, 0.7, 0.6, 0.3, 0.2, 0.4].iter().flat_map(|&t| {
                [1.0, -1.0].map(|side| {
                    (pt(c.x + side * (size.0 / 2.0 + 1.0), window.min.y + window.height() * t), (0.8_f64 - t).abs())
                })
            });
            if let Some((m, _)) = placer.best(size, spots, 20.0) {
                out.extend(put(placer, &words, m));
            }
        }
        if window.min.y < c.y && c.y < window.max.y {
            let words = large(format!("centre line, {} from the front edge", shown.length(c.y)));
            let size = words.size();
            let spots = [0.8, 0.7, 0.6, 0.3, 0.2, 0.4].iter().flat_map(|&t| {
                [1.0, -1.0].map(|side| {
                    (pt(window.min.x + window.width() * t, c.y + side * (size.1 / 2.0 + 1.0)), (0.8_f64 - t).abs())
                })
            });
            if let Some((m, _)) = placer.best(size, spots, 20.0) {
                out.extend(put(placer, &words, m));
            }
        }
        out
    }

    /// The strips on the left and below: check bars and words.
    fn strip(&self, lines: &[(String, bool)], bottom: f64) -> Vec<Item> {
        let mut out = Vec::new();
        let start = pt(MARGIN + STRIP, MARGIN + bottom - 6.5);
        let check = self.bar();
        out.extend(bar(&check, start, false));
        out.extend(bar(&check, pt(MARGIN + 4.5, MARGIN + bottom + 1.0), true));
        let at = start + pt(check.long + 4.0, -1.0);
        out.push(Item::text(Layer::Margin, Text::new("FACE UP", at, Anchor::Start, 4.0).bold()));
        let arrow = at + pt(23.5, -1.5);
        out.extend(arrow_down(arrow, 6.0));
        out.push(Item::text(Layer::Margin, Text::new("front", arrow + pt(2.5, 1.5), Anchor::Start, 3.0)));
        let mut y = MARGIN + bottom - BAR - text::ASCENT * LEAST_SIZE;
        for (line, bold) in lines {
            let mut t = Text::new(line, pt(MARGIN, y), Anchor::Start, LEAST_SIZE);
            t.bold = *bold;
            out.push(Item::text(Layer::Margin, t));
            y -= LEAST_SIZE * text::PITCH;
        }
        out
    }

    /// A small map of the tiles, in the right end of the strip.
    fn map(&self, grid: &Grid, tile: &Tile, world: &BBox) -> Vec<Item> {
        let (columns, rows) = (grid.columns as f64, grid.rows as f64);
        let whole = pt(columns * (grid.window.0 - OVERLAP) + OVERLAP, rows * (grid.window.1 - OVERLAP) + OVERLAP);
        let high = grid_bottom(grid) - 3.0;
        let scale = (MAP.1 / whole.x).min(high / whole.y);
        let corner = pt(grid.paper.0 - MARGIN, MARGIN + high) - whole * scale;
        let place = |p: Point| corner + (p - grid.corner) * scale;
        let mut out = Vec::new();
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let w = grid.window(column, row);
                let b = BBox { min: place(w.min), max: place(w.max) };
                let here = column == tile.column && row == tile.row;
                let fill = here.then_some(Colour::LIGHT);
                out.push(Item::area(Layer::Margin, b.corners().to_vec(), Some(THIN), fill));
            }
        }
        let hole: Vec<Point> = self.opening.ring.points().iter().map(|&p| place(p)).collect();
        out.push(Item::area(Layer::Margin, hole, Some(Stroke::solid(Colour::BLACK, 0.3)), None));
        if world.min.y < 0.0 {
            let (a, b) = (place(pt(world.min.x, 0.0)), place(pt(world.max.x, 0.0)));
            out.push(Item::line(Layer::Margin, vec![a, b], Stroke::solid(Colour::BLACK, 0.5)));
        }
        let name = Tile::name(tile.column, tile.row);
        let at = pt(corner.x - 2.0, MARGIN + high - 6.0);
        out.push(Item::text(Layer::Margin, Text::new(&name, at, Anchor::End, 6.0).bold()));
        out
    }
}

fn strip_height(lines: &[(String, bool)]) -> f64 {
    BAR + lines.len() as f64 * LEAST_SIZE * text::PITCH + 1.0
}

/// The check bar from a point, level or upright.
fn bar(check: &CheckBar, from: Point, upright: bool) -> Vec<Item> {
    let at = |along: f64, across: f64| from + if upright { pt(across, along) } else { pt(along, across) };
    let stroke = Stroke::solid(Colour::BLACK, 0.25);
    let mut ticks = Vec::new();
    for (along, whole) in check.ticks() {
        let long = if whole { 1.8 } else { 1.0 };
        ticks.push(vec![at(along, -long), at(along, long)]);
    }
    let words = check.words();
    // Beside the middle, between two ticks.
    let along = 2.5 * check.long / f64::from(check.parts);
    let place = if upright { at(along, -2.2) } else { at(along, 2.4) };
    let mut label = Text::new(&words, place, Anchor::Middle, LEAST_SIZE);
    label.upright = upright;
    vec![
        Item::line(Layer::Check, vec![at(0.0, 0.0), at(check.long, 0.0)], stroke),
        Item::lines(Layer::Check, ticks, Stroke::solid(Colour::BLACK, 0.15)),
        Item::text(Layer::Check, label),
    ]
}

/// What is written into the opening and stands before the words below it.
const fn short_order(held: &Held) -> &'static str {
    if held.is_stopped() { "DO NOT CUT" } else { "SCORE ONLY, finish on site" }
}

/// Why it is held and what to do, in one paragraph.
fn held_words(held: &Held) -> String {
    format!("{}: {}", short_order(held), super::held::reasons(held))
}

/// An arrow that points at the front.
fn arrow_down(tip: Point, long: f64) -> Vec<Item> {
    let head = long * 0.4;
    let wing = head * 0.35;
    vec![
        Item::line(Layer::Mark, vec![tip + pt(0.0, long), tip + pt(0.0, head)], Stroke::solid(Colour::BLACK, 0.6)),
        Item::area(Layer::Mark, vec![tip, tip + pt(wing, head), tip + pt(-wing, head)], None, Some(Colour::BLACK)),
    ]
}

/// Puts words about a middle and takes the room.
fn put(placer: &mut Placer, words: &Words, middle: Point) -> Vec<Item> {
    placer.take(placer::around(middle, words.size()));
    words.texts(middle).into_iter().map(|t| Item::text(Layer::Label, t)).collect()
}

/// One line of the size that can be read on a sheet that lies on the stone.
fn large(content: impl Into<String>) -> Words {
    Words { lines: vec![(text::clean(&content.into()), LABEL, false)], upright: false }
}

/// Words near a place, with a line to it; nothing if there is no room.
fn label(placer: &mut Placer, content: &str, at: Point) -> Vec<Item> {
    let words = large(content);
    let size = words.size();
    let spots = placer::round_about(at, (size.0 + 1.0, size.1 + 1.0), 40.0);
    let Some((m, _)) = placer.best((size.0 + 1.0, size.1 + 1.0), spots, 24.0) else { return Vec::new() };
    let b = placer::around(m, size);
    let near = pt(at.x.clamp(b.min.x, b.max.x), at.y.clamp(b.min.y, b.max.y));
    let mut out = Vec::new();
    if near.distance(at) > 1.0 {
        out.push(Item::line(Layer::Dimension, vec![near, at], THIN));
        out.push(Item::disc(Layer::Dimension, at, 0.45, None, Some(Colour::BLACK)));
        placer.take_line(near, at);
    }
    out.extend(put(placer, &words, m));
    out
}

/// The middle of the longest straight stretch of some lines inside a window less its overlap.
fn middle_of_longest(parts: &[Vec<Point>], window: &BBox, lap: f64) -> Option<Point> {
    let by = pt(lap, lap);
    let inner = BBox { min: window.min + by, max: window.max - by };
    let mut best: Option<(f64, Point)> = None;
    for part in parts {
        for s in clipped(part, false, &inner).iter().flat_map(|p| p.windows(2)) {
            let long = s[0].distance(s[1]);
            if best.is_none_or(|b| long > b.0 + 1e-9) {
                // Off the middle, where the centre lines run.
                best = Some((long, s[0].lerp(s[1], 0.62)));
            }
        }
    }
    best.map(|b| b.1)
}
