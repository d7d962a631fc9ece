//! The sheet of a piece: all its dimensions from its front edge and its left end, edges, openings, rods, how it is carried, and
//! where it lies on its slab. The first page has the drawing; others follow where the tables need more room.

mod drawing;
mod tables;

use super::dims::{Mark, Row};
use super::{Cut, Draft, Work, scales};
use crate::geom::{BBox, Point, Ring, pt};
use crate::model::Shape;
use crate::model::openings::OpeningSheet;
use crate::report::flow::{self, Flowed};
use crate::report::measure;
use crate::report::placer::Placer;
use crate::report::scene::{Item, Scene};
use crate::units::Shown;

/// Width of the tables, mm, and the distance between them.
const COLUMN: f64 = 68.0;
const GUTTER: f64 = 2.5;
/// Room right of the piece and above it for words, mm.
const PAD: f64 = 7.0;
/// More pages than this hold any sheet; they bound the work.
const MOST_PAGES: usize = 20;
/// The drawing may be this much smaller than it could be if then all is on one page.
const SMALLER: f64 = 1.7;

/// The sheets of all placed pieces, in the order of the plan.
#[must_use]
pub fn pieces(work: &Work<'_>) -> Vec<Scene> {
    let drafts = work.cuts().iter().flat_map(|cut| Builder::new(work, cut).build()).collect();
    work.dress(work.settings.paper.size(), drafts)
}

struct Builder<'a> {
    work: &'a Work<'a>,
    cut: &'a Cut<'a>,
    shown: Shown,
    sheets: Vec<Option<&'a OpeningSheet>>,
    items: Vec<Item>,
    placer: Placer,
    scale: f64,
    origin: Point,
    left_out: usize,
}

/// How a page is divided: scale, where the piece's origin lies, room for the drawing, columns for the tables.
struct Division {
    scale: f64,
    origin: Point,
    drawing: BBox,
    /// The columns of every page.
    columns: Vec<Vec<BBox>>,
}

impl<'a> Builder<'a> {
    fn new(work: &'a Work<'a>, cut: &'a Cut<'a>) -> Self {
        Self {
            work,
            cut,
            shown: work.settings.shown,
            sheets: work.sheets(cut),
            items: Vec::new(),
            placer: Placer::new(BBox::EMPTY),
            scale: 1.0,
            origin: pt(0.0, 0.0),
            left_out: 0,
        }
    }

    fn build(mut self) -> Vec<Draft> {
        let width = self.work.settings.paper.size().0;
        let marks = self.marks();
        let rows = [Row::new(false, &marks), Row::new(true, &marks)];
        let (division, flowed) = self.divide(&rows);
        (self.scale, self.origin) = (division.scale, division.origin);
        self.placer = Placer::new(division.drawing);
        self.draw(rows, &division.drawing);
        let mut pages: Vec<Vec<Item>> = vec![std::mem::take(&mut self.items)];
        for item in flowed.items {
            let page = (item.bbox().min.x / width).floor().max(0.0) as usize;
            while pages.len() <= page {
                pages.push(Vec::new());
            }
            pages[page].push(item.moved(pt(-(page as f64) * width, 0.0)));
        }
        let count = pages.len();
        let title = format!("{}: slab {}, no. {}", self.cut.piece.name, self.cut.slab.name, self.cut.number);
        pages
            .into_iter()
            .enumerate()
            .map(|(i, items)| Draft {
                title: if count > 1 { format!("{title}; sheet {} of {count}", i + 1) } else { title.clone() },
                scale: (i == 0).then_some(self.scale),
                origin: self.origin,
                items,
                left_out: if i == 0 { self.left_out } else { 0 },
                rows_left_out: if i == 0 { flowed.left_out } else { 0 },
            })
            .collect()
    }

    /// The largest drawing, or one not much smaller if then the tables fit on the same page.
    fn divide(&self, rows: &[Row; 2]) -> (Division, Flowed) {
        let blocks = self.blocks();
        let mut best: Option<(Division, Flowed)> = None;
        for scale in scales(self.shown) {
            if best.as_ref().is_some_and(|b| scale > b.0.scale * SMALLER) {
                break;
            }
            for right in 0..=2 {
                let Some(division) = self.division(rows, scale, right) else { continue };
                let flowed = flow::paged(&blocks, &division.columns);
                let width = self.work.settings.paper.size().0;
                let single = flowed.left_out == 0 && flowed.items.iter().all(|i| i.bbox().min.x < width);
                if single {
                    return (division, flowed);
                }
                if best.is_none() {
                    best = Some((division, flowed));
                }
            }
        }
        best.unwrap_or_else(|| {
            // No scale fits: there is no such paper, but the tables tell all.
            let room = self.work.room(self.work.settings.paper.size());
            let division = Division { scale: 1e6, origin: room.min, drawing: room, columns: Vec::new() };
            (division, Flowed::default())
        })
    }

    /// The page at a scale with so many columns on the right; `None` if the drawing does not fit.
    fn division(&self, rows: &[Row; 2], scale: f64, right: usize) -> Option<Division> {
        let paper = self.work.settings.paper.size();
        let room = self.work.room(paper);
        let step = COLUMN + GUTTER;
        let left_width = room.width() - right as f64 * step;
        let extent = self.cut.piece.outline.ring.bbox();
        let (below, left) = (rows[0].room(self.shown), rows[1].room(self.shown));
        let (w, h) = (extent.width() / scale + left + PAD, extent.height() / scale + below + PAD);
        // Without columns on the right the tables need what is below.
        let share = if right == 0 { 0.66 } else { 1.0 };
        if w > left_width || h > room.height() * share || left_width < step {
            return None;
        }
        let drawing = BBox { min: pt(room.min.x, room.max.y - h), max: pt(room.min.x + left_width, room.max.y) };
        let spare = (left_width - w) / 2.0;
        let corner = pt(room.min.x + spare + left, room.max.y - h + below);
        let mut columns = Vec::new();
        for i in 0..right {
            let x = room.min.x + left_width + GUTTER + i as f64 * step;
            columns.push(BBox { min: pt(x, room.min.y), max: pt(x + COLUMN, room.max.y) });
        }
        let below = ((left_width + GUTTER) / step).floor() as usize;
        for i in 0..below {
            let x = room.min.x + i as f64 * step;
            columns.push(BBox { min: pt(x, room.min.y), max: pt(x + COLUMN, drawing.min.y - 1.5) });
        }
        // Further pages lie beside the first, each a paper's width farther on.
        let whole = ((room.width() + GUTTER) / step).floor() as usize;
        let mut pages = vec![columns];
        for page in 1..MOST_PAGES {
            let column = |i: usize| {
                let x = page as f64 * paper.0 + room.min.x + i as f64 * step;
                BBox { min: pt(x, room.min.y), max: pt(x + COLUMN, room.max.y) }
            };
            pages.push((0..whole).map(column).collect());
        }
        Some(Division { scale, origin: corner - extent.min * (1.0 / scale), drawing, columns: pages })
    }

    /// Everything that is measured from the two datum edges.
    fn marks(&self) -> Vec<Mark> {
        let piece = self.cut.piece;
        let extent = piece.outline.shape.extent();
        let mut out = Vec::new();
        let mut add = |at: Point, rank: u8, centre: bool| out.push(Mark { at, rank, centre });
        add(pt(0.0, 0.0), 0, false);
        add(extent.min, 0, false);
        add(extent.max, 0, false);
        for c in measure::corners(piece).iter().filter(|c| !c.in_air) {
            add(c.at, 1, c.name == "M");
        }
        for o in &piece.openings {
            let e = o.shape.extent();
            add(o.centre(), 2, true);
            // A round hole is known by its middle and its diameter.
            if !is_circle(&o.shape) {
                add(e.min, 3, false);
                add(e.max, 3, false);
            }
        }
        let h = &piece.hidden;
        for (wide, at) in [
            (h.left, pt(h.left, 0.0)),
            (h.right, pt(extent.max.x - h.right, 0.0)),
            (h.front, pt(0.0, h.front)),
            (h.back, pt(0.0, extent.max.y - h.back)),
        ] {
            if wide > 0.0 {
                add(at, 3, false);
            }
        }
        out
    }

    fn paper(&self, p: Point) -> Point {
        self.origin + p * (1.0 / self.scale)
    }

    fn paper_ring(&self, ring: &Ring) -> Ring {
        ring.map(|p| self.paper(p))
    }

    fn bare(&self, mm: f64) -> String {
        self.shown.bare_length(mm)
    }

    fn is_round(&self) -> bool {
        matches!(self.cut.piece.outline.shape, Shape::Ellipse { .. })
    }
}

fn is_circle(shape: &Shape) -> bool {
    matches!(shape, Shape::Ellipse { half_x, half_y, .. } if (half_x - half_y).abs() < 0.025)
}
