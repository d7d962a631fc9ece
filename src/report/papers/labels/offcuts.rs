//! The label of an offcut that is kept: what it is, until the rack gives it a name.

use super::super::Work;
use super::{PAD, fitting};
use crate::geom::{BBox, Point, Pose, Ring, pt};
use crate::model::{Offcut, Slab};
use crate::report::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use crate::report::sheet::{rectangle_corners, short_name};
use crate::report::text::{self, LEAST_SIZE};

/// An offcut with the slab that it is left of.
pub(super) struct Kept<'a> {
    slab: &'a Slab,
    offcut: &'a Offcut,
    /// Of its slab in the plan, and its own on that slab, from 1.
    number: (usize, usize),
}

/// The offcuts of the plan whose slabs are on the rack, in its order.
pub(super) fn kept<'a>(work: &Work<'a>) -> Vec<Kept<'a>> {
    let mut out = Vec::new();
    for (i, layout) in work.plan.layouts.iter().enumerate() {
        let Some(slab) = work.question.rack.iter().find(|s| s.name == layout.slab) else { continue };
        let of = |(k, offcut)| Kept { slab, offcut, number: (i + 1, k + 1) };
        out.extend(layout.offcuts.iter().enumerate().map(of));
    }
    out
}

/// The label in a box.
pub(super) fn label(work: &Work<'_>, kept: &Kept<'_>, b: &BBox, (number, of): (usize, usize)) -> Vec<Item> {
    let shown = work.settings.shown;
    let slab = kept.slab;
    let inner = BBox { min: b.min + pt(PAD, PAD), max: b.max - pt(PAD, PAD) };
    let mut out = Vec::new();
    let mut y = inner.max.y;
    let mut put = |s: &str, size: f64, bold: bool, room: f64, y: &mut f64| {
        let mut t = Text::new(s, pt(inner.min.x, *y - text::ASCENT * size), Anchor::Start, size);
        t.bold = bold;
        t.content = short_name(&t.content, size, bold, room);
        *y -= size * text::PITCH;
        out.push(Item::text(Layer::Label, t));
    };
    let whole = inner.width();
    put(&format!("{}-R{} offcut, keep", kept.number.0, kept.number.1), 5.5, true, whole, &mut y);
    let from = format!("of slab {}", slab.name);
    put(&from, fitting(&from, 3.4, whole), true, whole, &mut y);
    y -= 1.0;
    let thumb_width = (whole * 0.42).min(40.0);
    let room = whole - thumb_width - 2.0;
    let top = y;
    let [w, h] = kept.offcut.rectangle.size.map(|v| shown.bare_length(v));
    let size = format!("{w} × {h}, {} thick", shown.length(slab.thickness));
    let lot = match (&slab.lot, slab.number) {
        (Some(lot), Some(n)) => format!("lot {lot}, number {n}"),
        (Some(lot), None) => format!("lot {lot}"),
        (None, Some(n)) => format!("number {n}"),
        (None, None) => "lot not given".to_owned(),
    };
    let class = if slab.stone_given { "" } else { " (assumed)" };
    let grain = if slab.grain.is_some_and(f64::is_finite) { "grain as the arrow" } else { "no grain" };
    let lines = [
        (size, true),
        ("largest rectangle".to_owned(), false),
        (format!("{}, {}{class}", slab.material, slab.stone.name()), false),
        (lot, false),
        (grain.to_owned(), false),
    ];
    // The line for the name, and the foot.
    let foot_top = inner.min.y + LEAST_SIZE * text::PITCH;
    let last = foot_top + 7.0;
    for (words, bold) in lines {
        for line in text::wrap(&words, 3.0, bold, room) {
            if y - 3.0 * text::PITCH < last {
                break;
            }
            put(&line, 3.0, bold, room, &mut y);
        }
    }
    let words = "Name on the rack:";
    let mut base = foot_top + 1.8 + text::ASCENT * 3.0;
    put(words, 3.0, false, whole, &mut base);
    let long = text::width(words, 3.0, false) + 1.5;
    let rule = [pt(inner.min.x + long, foot_top + 1.4), pt(inner.max.x, foot_top + 1.4)];
    let mut foot = foot_top;
    let stop = if work.breaks_rules() { "DO NOT CUT" } else { "" };
    let stamp = format!("{}; label {number} of {of}", work.stamp());
    put(&stamp, LEAST_SIZE, false, whole - text::width(stop, 3.4, true) - 1.0, &mut foot);
    out.push(Item::line(Layer::Label, rule.to_vec(), Stroke::solid(Colour::BLACK, 0.2)));
    if !stop.is_empty() {
        let t = Text::new(stop, pt(inner.max.x, inner.min.y + text::DESCENT * 3.4), Anchor::End, 3.4).bold();
        out.push(Item::text(Layer::Finding, t));
    }
    let corner = pt(inner.max.x - thumb_width, last + 0.4);
    out.extend(thumb(kept, &BBox { min: corner, max: pt(inner.max.x, top - 0.4) }));
    out
}

/// The offcut in small as it lay on its slab, face up, with its largest rectangle and the grain.
fn thumb(kept: &Kept<'_>, b: &BBox) -> Vec<Item> {
    let mut out = Vec::new();
    let points: Vec<Point> = kept.offcut.outline.iter().map(|&p| p.into()).collect();
    let Ok((ring, _)) = Ring::tidy(&points) else { return out };
    let head = 3.0 * text::PITCH + 0.8;
    let room = BBox { min: b.min + pt(1.0, 0.5), max: b.max - pt(1.0, head) };
    let extent = ring.bbox();
    let k = (room.width() / extent.width()).min(room.height() / extent.height());
    if !(k.is_finite() && k > 0.0) {
        return out;
    }
    let low = room.centre() - pt(extent.width(), extent.height()) * (k / 2.0);
    let place = |p: Point| low + (p - extent.min) * k;
    let at = pt(b.centre().x, low.y + extent.height() * k + 0.8 + text::DESCENT * 3.0);
    out.push(Item::text(Layer::Label, Text::new("FACE UP", at, Anchor::Middle, 3.0).bold()));
    let outline = ring.points().iter().map(|&p| place(p)).collect();
    out.push(Item::area(Layer::Offcut, outline, Some(Stroke::solid(Colour::BLACK, 0.3)), None));
    if let Some(corners) = rectangle_corners(&kept.offcut.rectangle) {
        let corners = corners.map(place);
        let dashes = Stroke::dashed(Colour::BLACK, 0.2, &[1.2, 0.8]);
        out.push(Item::area(Layer::Offcut, corners.to_vec(), Some(dashes), None));
        if let Some(angle) = kept.slab.grain.filter(|g| g.is_finite()) {
            let along = Pose::new(angle, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
            let middle = corners[0].lerp(corners[2], 0.5);
            let reach = 0.35 * corners[0].distance(corners[1]).min(corners[1].distance(corners[2]));
            let (tip, tail) = (middle + along * reach, middle - along * reach);
            let head = |at: Point, back: Point| {
                vec![at + back * 1.8 + along.left() * 0.8, at, at + back * 1.8 - along.left() * 0.8]
            };
            let paths = vec![vec![tail, tip], head(tip, along * -1.0)];
            out.push(Item::lines(Layer::Grain, paths, Stroke::solid(Colour::BLACK, 0.3)));
        }
    }
    out
}
