//! Prints a scene as SVG inside the page. Decides nothing about the drawing but where it is cropped.
//!
//! Coordinates are paper millimetres with two decimals; y is turned over. Words come last, each on its layer, so that a layer
//! switched off takes its words with it and no line runs through those that stay.

use std::fmt::Write as _;

use super::super::scene::{Anchor, Colour, Item, Layer, Scene, Shape, Text};
use super::super::svg::link;
use super::markup::Html;
use crate::geom::{BBox, Point};
use crate::units::Decimal;

/// What is said of a drawing, and what of it can be picked.
pub struct View<'a> {
    /// Id of the element; those of title and description are made from it.
    pub id: &'a str,
    /// What it shows, in a few words.
    pub title: &'a str,
    /// What there is to see, for those who do not.
    pub description: &'a str,
    /// What is shown of the paper, mm, y up.
    pub window: BBox,
    /// What can be picked; none: the drawing is a picture.
    pub spots: Vec<Spot>,
}

/// A piece that can be picked.
pub struct Spot {
    /// Its number on the slab.
    pub number: usize,
    /// What it is called.
    pub name: String,
    /// Its outline on the paper.
    pub outline: Vec<Point>,
}

/// The room that the items of a scene take, without tables and title, a little more than their lines.
pub fn window(scene: &Scene) -> BBox {
    let drawn = scene.items.iter().filter(|i| i.layer != Layer::Margin);
    let b = drawn.fold(BBox::EMPTY, |b, i| b.join(i.bbox()));
    let by = crate::geom::pt(1.5, 1.5);
    if b.min.is_finite() && b.max.is_finite() { BBox { min: b.min - by, max: b.max + by } } else { BBox::EMPTY }
}

/// The scene as an element of the page.
pub fn print(h: &mut Html, scene: &Scene, view: &View<'_>) {
    let b = view.window;
    let high = scene.paper.1;
    let frame = format!("{} {} {} {}", number(b.min.x), number(high - b.max.y), number(b.width()), number(b.height()));
    let (title, desc) = (format!("{}-title", view.id), format!("{}-desc", view.id));
    let live = !view.spots.is_empty();
    let mut attributes = vec![
        ("xmlns", "http://www.w3.org/2000/svg"),
        ("id", view.id),
        ("class", if live { "drawing live" } else { "drawing" }),
        ("viewBox", frame.as_str()),
        ("role", if live { "group" } else { "img" }),
        ("aria-labelledby", title.as_str()),
        ("aria-describedby", desc.as_str()),
    ];
    if live {
        attributes.push(("tabindex", "0"));
    }
    h.within("svg", &attributes, |h| {
        h.leaf("title", &[("id", &title)], view.title);
        h.leaf("desc", &[("id", &desc)], view.description);
        h.within("g", &[("aria-hidden", "true")], |h| {
            let is_text = |i: &Item| matches!(i.shape, Shape::Text(_));
            let items = || scene.items.iter().filter(|i| i.layer != Layer::Margin);
            layers(h, items().filter(|i| !is_text(i)), high);
            layers(h, items().filter(|i| is_text(i)), high);
        });
        for spot in &view.spots {
            h.empty(
                "path",
                &[
                    ("class", "spot"),
                    ("d", &line(&spot.outline, true, high)),
                    ("role", "button"),
                    ("tabindex", "0"),
                    ("aria-pressed", "false"),
                    ("aria-label", &spot.name),
                    ("data-piece", &spot.number.to_string()),
                ],
            );
        }
        if live {
            h.within("g", &[("class", "beacon"), ("aria-hidden", "true")], |_| {});
        }
    });
}

/// A small picture of a few items, 12 mm wide, from y = 0 down to -3.3.
pub fn icon(h: &mut Html, items: &[Item]) {
    let attributes = [
        ("xmlns", "http://www.w3.org/2000/svg"),
        ("class", "icon"),
        ("viewBox", "-0.5 -0.2 12 3.6"),
        ("aria-hidden", "true"),
    ];
    h.within("svg", &attributes, |h| {
        h.within("g", &[("fill", "none")], |h| items.iter().for_each(|i| item(h, i, 0.0)));
    });
}

/// Items in groups of their layer.
fn layers<'i>(h: &mut Html, items: impl Iterator<Item = &'i Item>, high: f64) {
    let mut last: Option<Layer> = None;
    for i in items {
        if last != Some(i.layer) {
            if last.is_some() {
                h.close();
            }
            h.open("g", &[("class", &format!("layer-{}", i.layer.name())), ("fill", "none")]);
            last = Some(i.layer);
        }
        item(h, i, high);
    }
    if last.is_some() {
        h.close();
    }
}

fn item(h: &mut Html, item: &Item, high: f64) {
    let look = look(item);
    let mut attributes: Vec<(&str, &str)> = look.iter().map(|(k, v)| (*k, v.as_str())).collect();
    match &item.shape {
        Shape::Lines { paths, closed } => {
            let d: String = paths.iter().map(|p| line(p, *closed, high)).collect();
            attributes.insert(0, ("d", &d));
            h.empty("path", &attributes);
        }
        Shape::Disc { centre, radius } => {
            let (x, y, r) = (number(centre.x), number(high - centre.y), number(*radius));
            attributes.extend([("cx", x.as_str()), ("cy", y.as_str()), ("r", r.as_str())]);
            h.empty("circle", &attributes);
        }
        Shape::Text(t) => words(h, t, high),
        Shape::Picture { image, area } => {
            let link = link(image);
            let (x, y) = (number(area.min.x), number(high - area.max.y));
            let (wide, tall) = (number(area.width()), number(area.height()));
            attributes.extend([
                ("x", x.as_str()),
                ("y", y.as_str()),
                ("width", wide.as_str()),
                ("height", tall.as_str()),
            ]);
            attributes.extend([("preserveAspectRatio", "none"), ("href", link.as_str())]);
            h.empty("image", &attributes);
        }
    }
}

fn look(item: &Item) -> Vec<(&'static str, String)> {
    let mut out = Vec::new();
    if let Some(fill) = item.fill {
        out.push(("fill", colour(fill)));
        out.push(("fill-rule", "evenodd".to_owned()));
    }
    if let Some(stroke) = item.stroke {
        out.push(("stroke", colour(stroke.colour)));
        out.push(("stroke-width", number(stroke.width)));
        if !stroke.dash.is_empty() {
            let dash: Vec<String> = stroke.dash.iter().map(|&d| number(d)).collect();
            out.push(("stroke-dasharray", dash.join(" ")));
        }
        if stroke.is_dotted() {
            out.push(("stroke-linecap", "round".to_owned()));
        }
    }
    out
}

fn words(h: &mut Html, t: &Text, high: f64) {
    if t.backed {
        let b = t.bbox();
        let [x, y, w, v] = [b.min.x, high - b.max.y, b.width(), b.height()].map(number);
        h.empty("rect", &[("x", &x), ("y", &y), ("width", &w), ("height", &v), ("fill", "#ffffff")]);
    }
    let (x, y, size, fill) = (number(t.at.x), number(high - t.at.y), number(t.size), colour(t.colour));
    let turn = format!("rotate(-90 {x} {y})");
    let mut attributes: Vec<(&str, &str)> = vec![("x", &x), ("y", &y), ("font-size", &size), ("fill", &fill)];
    match t.anchor {
        Anchor::Start => {}
        Anchor::Middle => attributes.push(("text-anchor", "middle")),
        Anchor::End => attributes.push(("text-anchor", "end")),
    }
    if t.bold {
        attributes.push(("font-weight", "bold"));
    }
    if t.upright {
        attributes.push(("transform", &turn));
    }
    h.leaf("text", &attributes, &t.content);
}

/// A polyline as path data.
fn line(points: &[Point], closed: bool, high: f64) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { "M" } else { "L" }, number(p.x), number(high - p.y));
    }
    if closed {
        d.push('Z');
    }
    d
}

/// Two decimals, trailing zeros dropped: a tenth of a pixel where a slab is as wide as a screen.
fn number(v: f64) -> String {
    Decimal(v, 2).to_string()
}

fn colour(c: Colour) -> String {
    format!("#{:02x}{:02x}{:02x}", c.0, c.1, c.2)
}
