//! The slab for chalking: as large as the paper allows at a round scale, under a grid, every corner of every piece numbered, with
//! a table of their distances from the two measuring lines. It shares shapes, marks and tables with the sheet of the slab.

use super::super::flow::{Block, Row};
use super::super::placer::{Placer, Words};
use super::super::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use super::super::text::LEAST_SIZE;
use super::super::{flow, measure, placer, text};
use super::margin::{end, start};
use super::marks::{FAR, Home};
use super::offcuts::{CORNERS, parted};
use super::{GUTTER, PAD_LETTER, Settings, Sheet, short_name};
use crate::geom::{BBox, Point, pt};
use crate::model::letters;
use crate::model::{Plan, Question};

/// Room left of the slab and below it for the figures of the grid, mm.
const PAD_LEFT: f64 = 13.0;
const PAD_BELOW: f64 = 8.0;
/// More pages than this hold any table that somebody reads.
const MOST_PAGES: usize = 60;

const FINE: Stroke = Stroke::solid(Colour::LIGHT, 0.07);
const COARSE: Stroke = Stroke::solid(Colour::GREY, 0.13);

/// The pages of a slab for chalking: the drawing with as much of the tables as there is room for, and the rest of them.
pub(in crate::report) struct Chalk {
    pub(in crate::report) scale: f64,
    pub(in crate::report) origin: Point,
    pub(in crate::report) pages: Vec<Vec<Item>>,
    /// How many marks found no room on the drawing.
    pub(in crate::report) left_out: usize,
    pub(in crate::report) rows_left_out: usize,
}

/// How the paper of a slab for chalking is divided.
pub(in crate::report) struct Desk {
    /// What of a page is free.
    pub(in crate::report) room: BBox,
    /// Width of the paper, mm.
    pub(in crate::report) width: f64,
    /// Scales in order, finest first.
    pub(in crate::report) scales: Vec<f64>,
    /// Steps of the grid for a scale, fine and coarse, mm of stone.
    pub(in crate::report) steps: fn(&Settings, f64) -> [f64; 2],
}

/// The pages of layout `index`.
///
/// # Errors
/// Why there is no drawing.
pub(in crate::report) fn chalk(
    question: &Question,
    plan: &Plan,
    index: usize,
    settings: &Settings,
    backdrop: Option<&crate::report::Backdrop>,
    desk: &Desk,
) -> Result<Chalk, String> {
    let layout = plan.layouts.get(index).ok_or_else(|| format!("The plan has no layout {}.", index + 1))?;
    let slab = measure::slab(question, layout).ok_or_else(|| format!("The rack has no slab \"{}\".", layout.slab))?;
    let mut sheet = Sheet::new(question, plan, index, layout, slab, settings);
    sheet.backdrop = backdrop;
    let room = &desk.room;
    let size = |scale: f64| {
        let e = &sheet.extent;
        (e.width() / scale + PAD_LEFT + PAD_LETTER, e.height() / scale + PAD_BELOW + PAD_LETTER)
    };
    let fits = |s: &f64| size(*s).0 <= room.width() && size(*s).1 <= room.height();
    let Some(scale) = desk.scales.iter().copied().find(fits) else {
        return Err("The slab is too large for any scale.".to_owned());
    };
    let (w, h) = size(scale);
    let corner = pt(room.min.x + PAD_LEFT, room.max.y - h + PAD_BELOW);
    sheet.scale = scale;
    sheet.origin = corner - sheet.extent.min * (1.0 / scale);
    let step = sheet.column + GUTTER;
    let right = ((room.width() - w) / step).floor().max(0.0);
    let left_width = room.width() - right * step;
    let drawing = BBox { min: pt(room.min.x, room.max.y - h), max: pt(room.min.x + left_width, room.max.y) };
    sheet.placer = Placer::new(drawing);
    sheet.draw_for_chalk(&(desk.steps)(settings, scale));

    let mut columns = Vec::new();
    for i in 0..right as usize {
        let x = room.min.x + left_width + GUTTER + i as f64 * step;
        columns.push(BBox { min: pt(x, room.min.y), max: pt(x + sheet.column, room.max.y) });
    }
    let below = ((left_width + GUTTER) / step).floor();
    for i in 0..below as usize {
        let x = room.min.x + i as f64 * step;
        columns.push(BBox { min: pt(x, room.min.y), max: pt(x + sheet.column, drawing.min.y - 1.0) });
    }
    // Further pages lie beside the first, each a paper's width farther on.
    let whole = ((room.width() + GUTTER) / step).floor().max(1.0);
    let mut sheets = vec![columns];
    for page in 1..MOST_PAGES {
        let column = |i: usize| {
            let x = page as f64 * desk.width + room.min.x + i as f64 * step;
            BBox { min: pt(x, room.min.y), max: pt(x + sheet.column, room.max.y) }
        };
        sheets.push((0..whole as usize).map(column).collect());
    }
    let flowed = flow::paged(&sheet.chalk_blocks(), &sheets);
    let mut pages = vec![std::mem::take(&mut sheet.items)];
    for item in flowed.items {
        let page = (item.bbox().min.x / desk.width).floor().max(0.0) as usize;
        while pages.len() <= page {
            pages.push(Vec::new());
        }
        pages[page].push(item.moved(pt(-(page as f64) * desk.width, 0.0)));
    }
    Ok(Chalk { scale, origin: sheet.origin, pages, left_out: sheet.left_out, rows_left_out: flowed.left_out })
}

impl Sheet<'_> {
    fn draw_for_chalk(&mut self, steps: &[f64; 2]) {
        self.draw_slab();
        self.draw_offcuts();
        self.draw_pieces();
        self.draw_flaws();
        self.draw_grid(steps);
        self.draw_datum();
        self.mark_findings();
        self.dot_corners();
        self.mark_numbers();
        self.number_corners();
        self.mark_openings();
        self.name_offcuts();
        self.name_pieces();
        self.word_fronts();
        self.number_offcuts();
    }

    /// Lines in even steps from the two measuring lines, with figures at every coarse one.
    fn draw_grid(&mut self, &[fine, coarse]: &[f64; 2]) {
        let d = self.datum;
        let [right, high] = d.reach;
        let mut lines = [Vec::new(), Vec::new()];
        let mut figures = Vec::new();
        for (reach, level) in [(right, false), (high, true)] {
            let count = (reach / fine + 1e-9).floor() as usize;
            for k in 1..=count {
                let v = k as f64 * fine;
                let is_coarse = ((v / coarse).round() * coarse - v).abs() < 1e-6;
                let ends =
                    if level { [d.point(0.0, v), d.point(right, v)] } else { [d.point(v, 0.0), d.point(v, high)] };
                lines[usize::from(is_coarse)].push(ends.map(|p| self.paper(p)).to_vec());
                if is_coarse {
                    figures.push((v, level));
                }
            }
        }
        let [thin, thick] = lines;
        for (paths, stroke) in [(thin, FINE), (thick, COARSE)] {
            if !paths.is_empty() {
                self.items.push(Item::lines(Layer::Datum, paths, stroke));
            }
        }
        // Figures keep off the triangles where the lines touch the slab.
        for touch in [d.touch_a[0], d.touch_a[1], d.touch_b] {
            self.placer.take(placer::around(self.paper(touch), (2.4, 4.4)));
        }
        for (v, level) in figures {
            let words = self.bare(v);
            for off in [1.6, 3.0] {
                let (at, anchor) = if level {
                    (self.paper(d.point(0.0, v)) - pt(off, LEAST_SIZE * 0.36), Anchor::End)
                } else {
                    (self.paper(d.point(v, 0.0)) - pt(0.0, off + LEAST_SIZE * text::ASCENT), Anchor::Middle)
                };
                let t = Text::new(&words, at, anchor, LEAST_SIZE);
                if self.placer.cost(&t.bbox()).is_some() {
                    self.placer.take(t.bbox());
                    self.items.push(Item::text(Layer::Label, t));
                    break;
                }
            }
        }
    }

    /// Every corner of every piece on the paper: of which piece, its name, where.
    fn corners(&self) -> Vec<(usize, String, Point)> {
        let of = |part: &measure::Part<'_>| -> Vec<(usize, String, Point)> {
            let corners = measure::corners(part.piece).into_iter().filter(|c| !c.in_air);
            let place = |at| self.paper(part.pose.apply(at));
            corners.map(|c| (part.number, format!("{}-{}", part.number, c.name), place(c.at))).collect()
        };
        self.parts.iter().flat_map(of).collect()
    }

    /// A mark at every corner, which words keep off.
    fn dot_corners(&mut self) {
        for (number, _, at) in self.corners() {
            let disc = Item::disc(Layer::Mark, at, 0.45, None, Some(Colour::BLACK));
            self.items.push(disc.of_piece(number));
            self.placer.avoid(at, at, 60.0);
        }
    }

    fn number_corners(&mut self) {
        for (number, name, at) in self.corners() {
            let words = Words { lines: vec![(name, LEAST_SIZE, true)], upright: false };
            self.lead(&words, at, 0.5, Home::Piece(number), FAR);
        }
    }

    fn chalk_blocks(&self) -> Vec<Block> {
        let mut out = self.held_blocks();
        out.extend(self.findings_block());
        out.extend(self.missing_block());
        out.extend(self.drops_block());
        out.push(self.corners_block());
        out.extend(self.offcuts_block(true));
        out.push(self.key_block(true));
        out
    }

    /// Every corner of every piece, and the middle of every opening, from B and from A.
    fn corners_block(&self) -> Block {
        let column = self.column;
        let (tag, from_b, from_a) = CORNERS;
        let mut heading = vec![self.heading("Corners, to be chalked")];
        heading.push(Row::cells(&[
            start("corner", 0.0, 14.0, false),
            end("from B", from_b, 16.0, false),
            end("from A", from_a, 15.0, false),
            start("radius", from_a + 2.0, column - from_a - 2.0, false),
        ]));
        let several = self.plan.jobs.len() > 1;
        let mut groups = Vec::new();
        for part in &self.parts {
            let (w, h) = part.piece.size();
            let size = self.sizes(w, h);
            let room = column - 7.5 - text::width(&size, LEAST_SIZE, false);
            let name =
                if several { format!("{} ({})", part.piece.name, part.placed.job) } else { part.piece.name.clone() };
            let name = short_name(&name, LEAST_SIZE, true, room);
            let number = part.number.to_string();
            let mut rows = vec![Row::cells(&[
                start(&number, 0.0, 6.0, true),
                start(&name, 6.0, room, true),
                end(&size, column, 40.0, false),
            ])];
            rows.extend(Row::paragraph(&measure::turn_words(part.pose.turn), 6.0, column, false));
            let row = |tag_words: &str, at: Point, last: &str| {
                let [x, y] = self.datum.measure(part.pose.apply(at)).map(|v| self.bare(v));
                Row::cells(&[
                    start(tag_words, 0.0, tag, false),
                    end(&x, from_b, from_b - tag, false),
                    end(&y, from_a, from_a - from_b - 1.0, false),
                    start(last, from_a + 2.0, column - from_a - 2.0, false),
                ])
            };
            let corners = measure::corners(part.piece);
            // What lies in the air cannot be chalked; the top of the curve stands for it.
            for c in corners.iter().filter(|c| !c.in_air) {
                let last = if c.radius > 0.0 {
                    format!("R {}", self.bare(c.radius))
                } else {
                    (if c.is_top { "top" } else { "" }).to_owned()
                };
                rows.push(row(&format!("{}-{}", part.number, c.name), c.at, &last));
            }
            if let Some([(a, c, one), (b, d, two)]) = measure::diagonals(&corners) {
                let words = format!("check: {a} to {c} is {}, {b} to {d} is {}", self.bare(one), self.bare(two));
                rows.extend(Row::paragraph(&words, 0.0, column, false));
            }
            for (j, opening) in part.piece.openings.iter().enumerate() {
                let last = short_name(&opening.name, LEAST_SIZE, false, column - from_a - 2.0);
                rows.push(row(&format!("{}{}", part.number, letters(j)), opening.centre(), &last));
            }
            if let Some(last) = rows.last_mut() {
                last.height += 0.8;
            }
            groups.extend(parted(rows));
        }
        if self.parts.iter().any(|p| p.piece.outline.in_air().contains(&true)) {
            let words = "T: top of a curve, farthest from the line between its ends, with the radius of the curve. Corners in the \
                         air, where the tangents of a curve meet, are left out here; the sheet of the piece has them.";
            groups.push(Row::paragraph(words, 0.0, column, false));
        }
        groups.push(Row::paragraph(
            "A: straight-edge against the slab's lower side, touching it at two triangles. B: square to A, touching the slab at the \
             third. Hook one tape on B and one on A. Corners are numbered as on the sheet of the piece, counter-clockwise; a \
             rounded corner (R) is measured to where its sides would meet; a round piece has M in its middle. Letters: middles of \
             openings.",
            0.0,
            column,
            false,
        ));
        Block { heading, groups }
    }
}
