//! Labels, one for every placed piece, in the order in which they are cut, then one for every offcut that is kept; several to a page,
//! with lines to cut along.

mod offcuts;

use super::{Cut, Draft, MARGIN, THIN, Work};
use crate::geom::{BBox, Point, pt};
use crate::model::openings::Held;
use crate::report::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use crate::report::sheet::{front_bar, short_name};
use crate::report::text::{self, LEAST_SIZE};
use crate::report::{edges, measure};

/// Least width and height of a label, mm: as many as fit. Smaller ones could not be read from where the saw stands.
const LEAST: (f64, f64) = (90.0, 52.0);
/// Room between the cut line and what stands on a label, mm.
const PAD: f64 = 3.0;
const FRONT: &str = "front edge";
const CUT_LINE: Stroke = Stroke::dashed(Colour::GREY, 0.2, &[3.0, 1.5]);

/// The pages of labels.
#[must_use]
pub fn labels(work: &Work<'_>) -> Vec<Scene> {
    let (long, short) = work.settings.paper.size();
    let paper = (short, long);
    let room = work.room(paper);
    let columns = (room.width() / LEAST.0).floor().max(1.0);
    let rows = (room.height() / LEAST.1).floor().max(1.0);
    let (w, h) = (room.width() / columns, room.height() / rows);
    let of_pieces = work.cuts();
    let offcuts = offcuts::kept(work);
    let all: Vec<Label<'_>> = of_pieces.iter().map(Label::Piece).chain(offcuts.iter().map(Label::Offcut)).collect();
    let each = (columns * rows) as usize;
    let mut drafts = Vec::new();
    for (k, page) in all.chunks(each).enumerate() {
        let mut items = Vec::new();
        for (i, of) in page.iter().enumerate() {
            let (column, row) = ((i % columns as usize) as f64, (i / columns as usize) as f64);
            let min = pt(room.min.x + column * w, room.max.y - (row + 1.0) * h);
            let b = BBox { min, max: min + pt(w, h) };
            let number = (k * each + i + 1, all.len());
            items.extend(match of {
                Label::Piece(cut) => label(work, cut, &b, number),
                Label::Offcut(kept) => offcuts::label(work, kept, &b, number),
            });
        }
        // No lines round labels that are not there.
        let used = (page.len().div_ceil(columns as usize), page.len().min(columns as usize));
        let printed = BBox {
            min: pt(room.min.x, room.max.y - used.0 as f64 * h),
            max: pt(room.min.x + used.1 as f64 * w, room.max.y),
        };
        items.push(Item::lines(Layer::Slab, cut_lines(&printed, used.1, used.0), CUT_LINE));
        let (first, last) = (k * each + 1, k * each + page.len());
        let then = if offcuts.is_empty() { "" } else { ", then offcuts" };
        let title = format!("Labels {first} to {last} of {}, in the order of cutting{then}", all.len());
        drafts.push(Draft { title, scale: None, origin: pt(0.0, 0.0), items, left_out: 0, rows_left_out: 0 });
    }
    work.dress(paper, drafts)
}

/// What a label is for.
enum Label<'a> {
    Piece(&'a Cut<'a>),
    Offcut(&'a offcuts::Kept<'a>),
}

/// The lines of the grid, each once; they run a little past it, for the knife.
fn cut_lines(room: &BBox, columns: usize, rows: usize) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    let past = (MARGIN - 5.5).max(0.0);
    for i in 0..=columns {
        let x = room.min.x + room.width() * i as f64 / columns as f64;
        out.push(vec![pt(x, room.min.y), pt(x, room.max.y)]);
    }
    for i in 0..=rows {
        let y = room.min.y + room.height() * i as f64 / rows as f64;
        out.push(vec![pt(room.min.x - past, y), pt(room.max.x + past, y)]);
    }
    out
}

fn label(work: &Work<'_>, cut: &Cut<'_>, b: &BBox, (number, of): (usize, usize)) -> Vec<Item> {
    let shown = work.settings.shown;
    let inner = BBox { min: b.min + pt(PAD, PAD), max: b.max - pt(PAD, PAD) };
    let mut out = Vec::new();
    let mut y = inner.max.y;
    let room = inner.width();
    let mut put = |s: &str, size: f64, bold: bool, room: f64, y: &mut f64| {
        let mut t = Text::new(s, pt(inner.min.x, *y - text::ASCENT * size), Anchor::Start, size);
        t.bold = bold;
        t.content = short_name(&t.content, size, bold, room);
        *y -= size * text::PITCH;
        out.push(Item::text(Layer::Label, t));
    };
    // The name as large as it fits, in two lines if need be.
    let name = text::clean(&cut.piece.name);
    let large = [6.5, 5.5, 4.5].into_iter().find(|&s| text::width(&name, s, true) <= room);
    match large {
        Some(size) => put(&name, size, true, room, &mut y),
        None => {
            let mut lines = text::wrap(&name, 4.0, true, room);
            if lines.len() > 2 {
                lines = vec![lines[0].clone(), lines[1..].join(" ")];
            }
            for line in lines {
                put(&line, 4.0, true, room, &mut y);
            }
        }
    }
    put(&cut.job.name, 3.4, false, room, &mut y);
    y -= 1.0;
    let thumb_width = (room * 0.42).min(40.0);
    let room = room - thumb_width - 2.0;
    let top = y;
    let place = format!("Slab {}, no. {}", cut.slab.name, cut.number);
    put(&place, fitting(&place, 3.4, room), true, room, &mut y);
    put(&cut.slab.material, fitting(&cut.slab.material, 3.0, room), false, room, &mut y);
    y -= 1.0;
    // Half a size is worse than none: it gets a second line.
    let size = cut.size(shown);
    let large = fitting(&size, 3.4, room);
    for line in text::wrap(&size, large, true, room) {
        put(&line, large, true, room, &mut y);
    }
    let orders = cut.orders(work.plan);
    let is_stopped = work.breaks_rules() || work.plan.held_of(&cut.job.name, &cut.piece.name).any(Held::is_stopped);
    let finished = edges::told(cut.piece).unwrap_or_else(|| "no finished edge".to_owned());
    let rest = [cut.mass(shown), work.carried(cut, "", false), finished];
    let lines = orders.into_iter().map(|w| (w, true)).chain(rest.into_iter().map(|w| (w, false)));
    let last = inner.min.y + 3.4 * text::PITCH + 0.4;
    for (words, bold) in lines {
        for line in text::wrap(&words, 3.0, bold, room) {
            if y - 3.0 * text::PITCH < last {
                break;
            }
            put(&line, 3.0, bold, room, &mut y);
        }
    }
    let mut foot = inner.min.y + LEAST_SIZE * text::PITCH;
    let words = format!("{}; label {number} of {of}", work.stamp());
    let stop = if is_stopped { "DO NOT CUT" } else { "" };
    put(&words, LEAST_SIZE, false, inner.width() - text::width(stop, 3.4, true) - 1.0, &mut foot);
    if !stop.is_empty() {
        let t = Text::new(stop, pt(inner.max.x, inner.min.y + text::DESCENT * 3.4), Anchor::End, 3.4).bold();
        out.push(Item::text(Layer::Finding, t));
    }
    let corner = pt(inner.max.x - thumb_width, last + 0.4);
    out.extend(thumb(cut, &BBox { min: corner, max: pt(inner.max.x, top - 0.4) }));
    out
}

/// The largest font size up to `most` at which bold words fit the room, mm; the least one if none does.
fn fitting(words: &str, most: f64, room: f64) -> f64 {
    let sizes = [most, 3.0, 2.8].into_iter().filter(|&s| s <= most);
    sizes.into_iter().find(|&s| text::width(&text::clean(words), s, true) <= room).unwrap_or(LEAST_SIZE)
}

/// The piece in small, face up, with an arrow to its front edge.
fn thumb(cut: &Cut<'_>, b: &BBox) -> Vec<Item> {
    let mut out = Vec::new();
    let foot = 6.4;
    let head = 3.0 * text::PITCH + 0.8;
    let box_of = BBox { min: b.min + pt(1.0, foot), max: b.max - pt(1.0, head) };
    let extent = cut.piece.outline.ring.bbox();
    let k = (box_of.width() / extent.width()).min(box_of.height() / extent.height());
    if !(k.is_finite() && k > 0.0) {
        return out;
    }
    let low = pt(b.centre().x - extent.width() * k / 2.0, box_of.min.y);
    let top = low.y + extent.height() * k + 0.8 + text::DESCENT * 3.0;
    out.push(Item::text(Layer::Label, Text::new("FACE UP", pt(b.centre().x, top), Anchor::Middle, 3.0).bold()));
    let place = |p: Point| low + (p - extent.min) * k;
    let ring = |r: &crate::geom::Ring| r.points().iter().map(|&p| place(p)).collect::<Vec<Point>>();
    out.push(Item::area(Layer::Piece, ring(&cut.piece.outline.ring), Some(Stroke::solid(Colour::BLACK, 0.3)), None));
    for o in &cut.piece.openings {
        out.push(Item::area(Layer::Opening, ring(&o.ring), Some(THIN), Some(Colour::PALE)));
    }
    for (p, q) in measure::front(cut.piece) {
        let (bar, _) = front_bar(place(p), place(q), pt(1.0, 0.0));
        out.push(Item::line(Layer::Edge, bar, Stroke::solid(Colour::BLACK, 0.9)));
    }
    // The arrow stands below the front edge and points at it, the words beside it where there is room.
    let long = text::width(FRONT, LEAST_SIZE, false) + 2.2;
    let edges = measure::front(cut.piece);
    let edge = edges.iter().max_by(|a, b| a.0.distance(a.1).total_cmp(&b.0.distance(b.1)));
    let middle = edge.map_or(b.centre().x, |(p, q)| place(p.lerp(*q, 0.5)).x);
    let tip = pt(middle, box_of.min.y - 0.5);
    let (aside, anchor) = if middle + long <= b.max.x { (2.2, Anchor::Start) } else { (-2.2, Anchor::End) };
    out.push(Item::line(Layer::Mark, vec![tip, tip - pt(0.0, 5.0)], Stroke::solid(Colour::BLACK, 0.5)));
    out.push(Item::area(Layer::Mark, vec![tip, tip + pt(0.9, -2.2), tip + pt(-0.9, -2.2)], None, Some(Colour::BLACK)));
    let at = tip + pt(aside, -3.6);
    out.push(Item::text(Layer::Label, Text::new(FRONT, at, anchor, LEAST_SIZE)));
    out
}
