//! Prints a scene as SVG. Decides nothing; the only file that knows the format and its library.
//!
//! Coordinates are paper millimetres with three decimals; y is turned over, because SVG's runs down. Attributes hold only
//! numbers and words of ours: names from files stand in text nodes, where the library escapes them.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use svg::Document;
use svg::node::element::{Circle, Element, Group, Image as Picture, Path, Rectangle, Title};

use super::scene::{Anchor, Colour, Image, Item, Layer, Scene, Shape, Text};
use crate::geom::{BBox, Point};

/// The scene as an SVG document.
#[must_use]
pub fn print(scene: &Scene) -> String {
    let (w, h) = scene.paper;
    let mut document = Document::new()
        .set("width", format!("{}mm", number(w)))
        .set("height", format!("{}mm", number(h)))
        .set("viewBox", format!("0 0 {} {}", number(w), number(h)))
        .set("font-family", "sans-serif")
        .set("data-scale", number(scene.scale))
        .add(Title::new(scene.title.as_str()))
        .add(Rectangle::new().set("width", number(w)).set("height", number(h)).set("fill", "#ffffff"));
    let mut group: Option<(Layer, Group)> = None;
    for item in &scene.items {
        if group.as_ref().is_none_or(|(layer, _)| *layer != item.layer) {
            if let Some((_, done)) = group.take() {
                document = document.add(done);
            }
            group = Some((item.layer, Group::new().set("class", item.layer.name())));
        }
        if let Some((layer, g)) = group.take() {
            group = Some((layer, add(g, item, h)));
        }
    }
    if let Some((_, done)) = group {
        document = document.add(done);
    }
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{document}\n")
}

fn add(group: Group, item: &Item, height: f64) -> Group {
    match &item.shape {
        Shape::Lines { paths, closed } => {
            let mut d = String::new();
            for path in paths {
                for (i, p) in path.iter().enumerate() {
                    let _ = write!(d, "{}{}", if i == 0 { "M" } else { "L" }, point(*p, height));
                }
                if *closed {
                    d.push('Z');
                }
            }
            let mut path: Element = Path::new().set("d", d).into();
            look(&mut path, item);
            group.add(path)
        }
        Shape::Disc { centre, radius } => {
            let mut circle: Element = Circle::new()
                .set("cx", number(centre.x))
                .set("cy", number(height - centre.y))
                .set("r", number(*radius))
                .into();
            look(&mut circle, item);
            group.add(circle)
        }
        Shape::Text(text) => {
            let group = if text.backed { group.add(backing(text, height)) } else { group };
            group.add(words(text, item, height))
        }
        Shape::Picture { image, area } => group.add(picture(image, area, height)),
    }
}

/// A picture as a link that holds its bytes.
pub(super) fn link(image: &Image) -> String {
    format!("data:image/jpeg;base64,{}", STANDARD.encode(&image.jpeg))
}

/// A picture with its bytes in the document. Such a link has no other namespace (SVG 2); it survives being put into a page.
fn picture(image: &Image, area: &BBox, height: f64) -> Picture {
    Picture::new()
        .set("x", number(area.min.x))
        .set("y", number(height - area.max.y))
        .set("width", number(area.width()))
        .set("height", number(area.height()))
        .set("preserveAspectRatio", "none")
        .set("href", link(image))
        .add(Title::new(image.title.as_str()))
}

fn backing(text: &Text, height: f64) -> Rectangle {
    let b = text.bbox();
    Rectangle::new()
        .set("x", number(b.min.x))
        .set("y", number(height - b.max.y))
        .set("width", number(b.width()))
        .set("height", number(b.height()))
        .set("fill", "#ffffff")
}

fn words(text: &Text, item: &Item, height: f64) -> Element {
    let mut e: Element = svg::node::element::Text::new(text.content.as_str())
        .set("x", number(text.at.x))
        .set("y", number(height - text.at.y))
        .set("font-size", number(text.size))
        .set("fill", colour(text.colour))
        .into();
    let set = |e: &mut Element, k: &str, v: String| {
        e.get_attributes_mut().insert(k.to_owned(), v.into());
    };
    match text.anchor {
        Anchor::Start => {}
        Anchor::Middle => set(&mut e, "text-anchor", "middle".to_owned()),
        Anchor::End => set(&mut e, "text-anchor", "end".to_owned()),
    }
    if text.bold {
        set(&mut e, "font-weight", "bold".to_owned());
    }
    if text.upright {
        let turn = format!("rotate(-90 {} {})", number(text.at.x), number(height - text.at.y));
        set(&mut e, "transform", turn);
    }
    if let Some(n) = item.piece {
        set(&mut e, "data-piece", n.to_string());
    }
    e
}

fn look(e: &mut Element, item: &Item) {
    let mut set = |k: &str, v: String| {
        e.get_attributes_mut().insert(k.to_owned(), v.into());
    };
    set("fill", item.fill.map_or_else(|| "none".to_owned(), colour));
    if item.fill.is_some() {
        set("fill-rule", "evenodd".to_owned());
    }
    if let Some(stroke) = item.stroke {
        set("stroke", colour(stroke.colour));
        set("stroke-width", number(stroke.width));
        set("stroke-linejoin", "round".to_owned());
        if !stroke.dash.is_empty() {
            let dash: Vec<String> = stroke.dash.iter().map(|&d| number(d)).collect();
            set("stroke-dasharray", dash.join(" "));
        }
        if stroke.is_dotted() {
            set("stroke-linecap", "round".to_owned());
        }
    }
    if let Some(n) = item.piece {
        set("data-piece", n.to_string());
    }
}

fn point(p: Point, height: f64) -> String {
    format!("{} {}", number(p.x), number(height - p.y))
}

/// Three decimals, trailing zeros dropped: 1 µm on paper.
fn number(v: f64) -> String {
    crate::units::Decimal(v, 3).to_string()
}

fn colour(c: Colour) -> String {
    format!("#{:02x}{:02x}{:02x}", c.0, c.1, c.2)
}
