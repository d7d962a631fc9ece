//! Prints scenes as a PDF file, one page each, in exact millimetres. Decides nothing; the only file that knows the format
//! and its library.
//!
//! A page is as large as the paper of its scene, and its content is written in millimetres under one transformation to
//! points. Things of one layer stand between marks with the layer's name. The texts are set in the standard faces
//! Helvetica and Helvetica Bold, which every reader has. The bytes follow from the scenes alone: no date, no random id.

use std::sync::Arc;

use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::scene::{Anchor, Colour, Image, Item, Layer, Scene, Shape, Stroke, Text};
use crate::geom::{BBox, Point, pt};
use crate::units::MM_PER_INCH;

/// Points in a millimetre: a point is 1/72 in (ISO 32000-1, 8.3.2.3).
const POINTS: f64 = 72.0 / MM_PER_INCH;
/// Readers need not take pages larger than this, points (ISO 32000-1, annex C); larger pages state a larger unit.
const LARGEST: f64 = 14_400.0;
/// Distance of the handles of a quarter circle drawn as a cubic, in radii; the curve is off by 0.03 % of the radius.
const HANDLE: f64 = 0.552_284_75;

/// The scenes as a PDF file, in order.
#[must_use]
pub fn print(scenes: &[Scene]) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let (catalog, tree, info) = (Ref::new(1), Ref::new(2), Ref::new(3));
    let faces = [Ref::new(4), Ref::new(5)];
    let ids: Vec<(Ref, Ref)> = (3..).map(|i: i32| (Ref::new(2 * i), Ref::new(2 * i + 1))).take(scenes.len()).collect();
    // A picture that stands on several pages is in the file once.
    let images = Images::of(scenes, 2 * (3 + i32::try_from(scenes.len()).unwrap_or(i32::MAX / 4)));
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    // Readers shall not fit the page to the paper: the drawing is to be printed in its size.
    root.viewer_preferences().pair(Name(b"PrintScaling"), Name(b"None"));
    root.finish();
    let mut pages = pdf.pages(tree);
    pages.kids(ids.iter().map(|i| i.0)).count(i32::try_from(scenes.len()).unwrap_or(i32::MAX));
    pages.finish();
    if let Some(scene) = scenes.first() {
        pdf.document_info(info).title(TextStr(&scene.title));
    }
    for (face, name) in faces.iter().zip([b"Helvetica".as_slice(), b"Helvetica-Bold"]) {
        pdf.type1_font(*face).base_font(Name(name)).encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    for (scene, &(page_id, content_id)) in scenes.iter().zip(&ids) {
        let (w, h) = scene.paper;
        let unit = (w.max(h) * POINTS / LARGEST).ceil().max(1.0);
        let scale = POINTS / unit;
        let mut page = pdf.page(page_id);
        page.media_box(Rect::new(0.0, 0.0, (w * scale) as f32, (h * scale) as f32));
        page.parent(tree).contents(content_id);
        if unit > 1.0 {
            page.user_unit(unit as f32);
        }
        let mut resources = page.resources();
        resources.fonts().pair(Name(b"R"), faces[0]).pair(Name(b"B"), faces[1]);
        let shown = images.of_scene(scene);
        if !shown.is_empty() {
            let mut objects = resources.x_objects();
            for i in shown {
                objects.pair(Name(image_name(i).as_bytes()), images.id(i));
            }
        }
        resources.finish();
        page.finish();
        let mut content = Content::new();
        content.transform([scale as f32, 0.0, 0.0, scale as f32, 0.0, 0.0]);
        content.set_line_join(LineJoinStyle::RoundJoin);
        draw(&mut content, scene, &images);
        pdf.stream(content_id, &content.finish());
    }
    for (i, image) in images.all.iter().enumerate() {
        let mut object = pdf.image_xobject(images.id(i), &image.jpeg);
        object.filter(Filter::DctDecode);
        object.width(i32::try_from(image.width).unwrap_or(i32::MAX));
        object.height(i32::try_from(image.height).unwrap_or(i32::MAX));
        object.color_space().device_rgb();
        object.bits_per_component(8);
    }
    pdf.finish()
}

/// The pictures of all scenes, each once, in order of appearance.
struct Images<'s> {
    all: Vec<&'s Arc<Image>>,
    first: i32,
}

impl<'s> Images<'s> {
    /// Their objects are numbered from `first`.
    fn of(scenes: &'s [Scene], first: i32) -> Self {
        let mut all: Vec<&Arc<Image>> = Vec::new();
        for image in scenes.iter().flat_map(pictures) {
            if !all.iter().any(|i| Arc::ptr_eq(i, image)) {
                all.push(image);
            }
        }
        Self { all, first }
    }

    fn number(&self, image: &Arc<Image>) -> Option<usize> {
        self.all.iter().position(|i| Arc::ptr_eq(i, image))
    }

    fn id(&self, number: usize) -> Ref {
        Ref::new(self.first.saturating_add(i32::try_from(number).unwrap_or(i32::MAX)))
    }

    /// The numbers of the pictures of a scene, each once.
    fn of_scene(&self, scene: &Scene) -> Vec<usize> {
        let mut out: Vec<usize> = pictures(scene).filter_map(|image| self.number(image)).collect();
        out.sort_unstable();
        out.dedup();
        out
    }
}

fn pictures(scene: &Scene) -> impl Iterator<Item = &Arc<Image>> {
    scene.items.iter().filter_map(|item| match &item.shape {
        Shape::Picture { image, .. } => Some(image),
        _ => None,
    })
}

/// What a page calls a picture.
fn image_name(number: usize) -> String {
    format!("I{number}")
}

/// The characters of the scenes that the standard faces lack and that are printed as `?`, each once, in their order.
#[must_use]
pub fn lacking(scenes: &[Scene]) -> Vec<char> {
    let mut out: Vec<char> =
        scenes.iter().flat_map(Scene::texts).flat_map(|t| t.content.chars()).filter(|&c| code(c).is_none()).collect();
    out.sort_unstable();
    out.dedup();
    out
}

fn draw(content: &mut Content, scene: &Scene, images: &Images<'_>) {
    let mut open: Option<Layer> = None;
    for item in &scene.items {
        if open != Some(item.layer) {
            if open.is_some() {
                content.end_marked_content();
            }
            content.begin_marked_content(Name(item.layer.name().as_bytes()));
            open = Some(item.layer);
        }
        add(content, item, images);
    }
    if open.is_some() {
        content.end_marked_content();
    }
}

fn add(content: &mut Content, item: &Item, images: &Images<'_>) {
    match &item.shape {
        Shape::Lines { paths, closed } => {
            for path in paths {
                for (i, p) in path.iter().enumerate() {
                    let (x, y) = (number(p.x), number(p.y));
                    if i == 0 {
                        content.move_to(x, y)
                    } else {
                        content.line_to(x, y)
                    };
                }
                if *closed {
                    content.close_path();
                }
            }
            look(content, item);
        }
        Shape::Disc { centre, radius } => {
            circle(content, *centre, *radius);
            look(content, item);
        }
        Shape::Text(text) => {
            if text.backed {
                backing(content, &text.bbox());
            }
            words(content, text);
        }
        Shape::Picture { image, area } => {
            if let Some(i) = images.number(image) {
                let (w, h) = (number(area.width()), number(area.height()));
                content.save_state();
                // A picture fills the unit square (ISO 32000-1, 8.9.5).
                content.transform([w, 0.0, 0.0, h, number(area.min.x), number(area.min.y)]);
                content.x_object(Name(image_name(i).as_bytes()));
                content.restore_state();
            }
        }
    }
}

fn circle(content: &mut Content, centre: Point, r: f64) {
    let k = r * HANDLE;
    let at = |x: f64, y: f64| (number(centre.x + x), number(centre.y + y));
    let (x, y) = at(r, 0.0);
    content.move_to(x, y);
    for (a, b, c) in [
        ((r, k), (k, r), (0.0, r)),
        ((-k, r), (-r, k), (-r, 0.0)),
        ((-r, -k), (-k, -r), (0.0, -r)),
        ((k, -r), (r, -k), (r, 0.0)),
    ] {
        let (a, b, c) = (at(a.0, a.1), at(b.0, b.1), at(c.0, c.1));
        content.cubic_to(a.0, a.1, b.0, b.1, c.0, c.1);
    }
    content.close_path();
}

/// Paints the path as the item looks.
fn look(content: &mut Content, item: &Item) {
    if let Some(fill) = item.fill {
        fill_colour(content, fill);
    }
    if let Some(stroke) = &item.stroke {
        pen(content, stroke);
    }
    match (item.fill.is_some(), item.stroke.is_some()) {
        (true, true) => content.fill_even_odd_and_stroke(),
        (true, false) => content.fill_even_odd(),
        (false, true) => content.stroke(),
        (false, false) => content.end_path(),
    };
}

fn pen(content: &mut Content, stroke: &Stroke) {
    let [r, g, b] = channels(stroke.colour);
    content.set_stroke_rgb(r, g, b);
    content.set_line_width(number(stroke.width));
    content.set_line_cap(if stroke.is_dotted() { LineCapStyle::RoundCap } else { LineCapStyle::ButtCap });
    content.set_dash_pattern(stroke.dash.iter().map(|&d| number(d)), 0.0);
}

fn backing(content: &mut Content, b: &BBox) {
    fill_colour(content, Colour::WHITE);
    content.rect(number(b.min.x), number(b.min.y), number(b.width()), number(b.height()));
    content.fill_even_odd();
}

fn words(content: &mut Content, text: &Text) {
    let bytes: Vec<u8> = text.content.chars().map(|c| code(c).unwrap_or(b'?')).collect();
    let long = width(&bytes, text.size, text.bold);
    let back = match text.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => long / 2.0,
        Anchor::End => long,
    };
    let at = text.at - if text.upright { pt(0.0, back) } else { pt(back, 0.0) };
    let (x, y) = (number(at.x), number(at.y));
    fill_colour(content, text.colour);
    content.begin_text();
    content.set_font(Name(if text.bold { b"B" } else { b"R" }), number(text.size));
    content.set_text_matrix(if text.upright { [0.0, 1.0, -1.0, 0.0, x, y] } else { [1.0, 0.0, 0.0, 1.0, x, y] });
    content.show(Str(&bytes));
    content.end_text();
}

fn fill_colour(content: &mut Content, colour: Colour) {
    let [r, g, b] = channels(colour);
    content.set_fill_rgb(r, g, b);
}

fn channels(colour: Colour) -> [f32; 3] {
    [colour.0, colour.1, colour.2].map(|c| (f64::from(c) / 255.0 * 1000.0).round() as f32 / 1000.0)
}

/// Four decimals: 0.1 µm on paper. Smaller numbers would be written with an exponent, which the format does not know.
fn number(v: f64) -> f32 {
    ((v * 1e4).round() / 1e4) as f32
}

/// The byte of a character in the encoding of Windows code page 1252; `None` if it has none.
fn code(c: char) -> Option<u8> {
    const HIGH: [(char, u8); 27] = [
        ('€', 0x80),
        ('‚', 0x82),
        ('ƒ', 0x83),
        ('„', 0x84),
        ('…', 0x85),
        ('†', 0x86),
        ('‡', 0x87),
        ('ˆ', 0x88),
        ('‰', 0x89),
        ('Š', 0x8A),
        ('‹', 0x8B),
        ('Œ', 0x8C),
        ('Ž', 0x8E),
        ('‘', 0x91),
        ('’', 0x92),
        ('“', 0x93),
        ('”', 0x94),
        ('•', 0x95),
        ('–', 0x96),
        ('—', 0x97),
        ('˜', 0x98),
        ('™', 0x99),
        ('š', 0x9A),
        ('›', 0x9B),
        ('œ', 0x9C),
        ('ž', 0x9E),
        ('Ÿ', 0x9F),
    ];
    match c as u32 {
        0x20..=0x7E | 0xA0..=0xFF => u8::try_from(c as u32).ok(),
        _ => HIGH.iter().find(|(h, _)| *h == c).map(|&(_, b)| b),
    }
}

/// Width of a text in the encoding, mm, at a font size in mm.
fn width(bytes: &[u8], size: f64, bold: bool) -> f64 {
    bytes.iter().map(|&b| f64::from(advance(b, bold))).sum::<f64>() * size / 1000.0
}

/// Advances of the printable ASCII characters in thousandths of the font size, regular and bold, in order: the published
/// metrics of the standard faces (Core 14 AFM files), from memory.
#[rustfmt::skip]
const ADVANCES: [[u16; 95]; 2] = [
    [278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, // space to /
     556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, // 0 to ?
     1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, // @ to O
     667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, // P to _
     333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, // ` to o
     556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584], // p to ~
    [278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278,
     556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611,
     975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778,
     667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556,
     333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611,
     611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584],
];

/// Advance of a byte of the encoding in thousandths of the font size. Letters with marks are as wide as those without.
fn advance(byte: u8, bold: bool) -> u16 {
    let plain = match byte {
        0x20..=0x7E => byte,
        0xA0 => b' ',
        0xA1 => b'!',
        0xA2..=0xA5 | 0x80 | 0x83 => b'0',
        0xB1 | 0xAC | 0xD7 | 0xF7 => b'+',
        0xB2 | 0xB3 | 0xB9 | 0xB4 | 0xB8 | 0xA8 | 0xAF | 0x88 | 0x98 => b'`',
        0xC0..=0xC5 => b'A',
        0xC7 => b'C',
        0xC8..=0xCB => b'E',
        0xCC..=0xCF => b'I',
        0xD0 => b'D',
        0xD1 => b'N',
        0xD2..=0xD6 | 0xD8 => b'O',
        0xD9..=0xDC => b'U',
        0xDD | 0x9F => b'Y',
        0xDE => b'P',
        0xE0..=0xE5 => b'a',
        0xE7 => b'c',
        0xE8..=0xEB => b'e',
        0xEC..=0xEF => b'i',
        0xF1 => b'n',
        0xF0 | 0xF2..=0xF6 => b'o',
        0xF9..=0xFC => b'u',
        0xFD | 0xFF => b'y',
        0xFE => b'p',
        0x8A => b'S',
        0x9A => b's',
        0x8E => b'Z',
        0x9E => b'z',
        0x91 | 0x92 | 0x82 => b'.',
        _ => 0,
    };
    let wide = match byte {
        0xB0 => 400,
        0xBC..=0xBE => 834,
        0x85 | 0x97 | 0x89 | 0x99 | 0xC6 | 0x8C => 1000,
        0xE6 => 889,
        0x9C => 944,
        0xDF | 0xF8 | 0xB5 => 611,
        0xB7 => 278,
        0xA9 | 0xAE => 737,
        _ => 556,
    };
    let row = &ADVANCES[usize::from(bold)];
    plain.checked_sub(b' ').and_then(|i| row.get(usize::from(i))).copied().unwrap_or(wide)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::text;

    #[test]
    fn no_text_is_wider_than_the_estimate_that_it_was_placed_by() {
        for bold in [false, true] {
            for byte in 0x20..=0x7E_u8 {
                let estimate = text::width(&char::from(byte).to_string(), 1000.0, bold);
                assert!(f64::from(advance(byte, bold)) <= estimate, "{:?} bold {bold}", char::from(byte));
            }
        }
    }

    #[test]
    fn characters_outside_the_encoding_are_told() {
        let mut scene = Scene {
            title: String::new(),
            paper: (10.0, 10.0),
            scale: 1.0,
            origin: pt(0.0, 0.0),
            items: Vec::new(),
            left_out: 0,
            rows_left_out: 0,
        };
        scene.items.push(Item::text(Layer::Label, Text::new("Łódź € × ½ m²", pt(1.0, 1.0), Anchor::Start, 3.0)));
        assert_eq!(lacking(&[scene]), vec!['Ł', 'ź']);
    }
}
