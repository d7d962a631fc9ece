//! Drawings to DXF files.
//!
//! In: a [`Drawing`] in mm, the looks of its layers, a unit. Out: bytes. Must not know: what is drawn.
//!
//! The file is a text in the version AC1015 (2000), the first with polylines whose arcs stay in one entity, which hardly any CAD
//! program or controller of a saw cannot read. The text is put together here by the DXF reference, group by group, with all
//! tables, blocks, owners and dictionaries that the version asks for: strict readers refuse files without them. There is no
//! date and no random identifier in it, and handles count up, so the same drawing gives the same bytes.

use std::fmt::{self, Write as _};

use super::structure as fixed;
use crate::cad::layers::{Line, Look};
use crate::cad::{Body, Drawing, Entity, Vertex, curve};
use crate::geom::{BBox, Point, Pose, pt};
use crate::units::{MM_PER_INCH, Shown};

/// Decimals of numbers: 1e-10 mm, or 2.5e-9 mm in a file in inches. A bulge that is off by that moves the middle of an arc over
/// 3 m by 0.15 nm.
const DECIMALS: usize = 10;

/// The drawing as a DXF file in millimetres or in inches. Layers are listed in the order of `looks`; a layer that is not among
/// them comes after them, in black and solid.
///
/// A path of two vertices without a bulge is a LINE, any other path an LWPOLYLINE. Entities without extent in the file format
/// (a path of less than two vertices, an empty text, a number that is not finite) are left out. Texts lose what cannot be
/// written in one line of the format: control characters are spaces, characters beyond the 65 536 that it can name are `?`,
/// and of two percent signs, with which the format begins a code, the second is put off by a space.
#[must_use]
pub fn write(drawing: &Drawing, looks: &[Look], shown: Shown) -> Vec<u8> {
    let per_unit = match shown {
        Shown::Mm => 1.0,
        Shown::In => MM_PER_INCH,
    };
    let scaled: Vec<Entity> = drawing.entities.iter().filter_map(|e| scaled(e, per_unit)).collect();
    let layers = layers(&scaled, looks);
    let extent = extent(&scaled);
    let mut handles = Handles(fixed::FREE);
    let mut body = Groups::default();
    fixed::tables(&mut body, &mut handles, &layers, extent, per_unit);
    fixed::blocks(&mut body);
    body.section("ENTITIES", |out| {
        for entity in &scaled {
            write_entity(out, handles.next(), entity);
        }
    });
    fixed::objects(&mut body);
    let mut file = Groups::default();
    fixed::header(&mut file, shown, extent, handles.next());
    fixed::classes(&mut file);
    file.0.push_str(&body.0);
    file.put(0, "EOF");
    // In the code page ANSI_1252, whose upper half is that of Unicode; texts have no character above it.
    file.0.chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect()
}

/// Handles that count up.
pub(super) struct Handles(u64);

impl Handles {
    pub(super) const fn next(&mut self) -> Handle {
        let next = Handle(self.0);
        self.0 += 1;
        next
    }
}

/// A handle: hexadecimal in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Handle(pub(super) u64);

impl fmt::Display for Handle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:X}", self.0)
    }
}

/// Groups: a code and a value, a line each.
#[derive(Default)]
pub(super) struct Groups(String);

impl Groups {
    pub(super) fn put(&mut self, code: u16, value: impl fmt::Display) {
        // Writing to a string does not fail.
        let _ = write!(self.0, "{code:>3}\r\n{value}\r\n");
    }

    pub(super) fn all(&mut self, groups: &[(u16, &str)]) {
        for &(code, value) in groups {
            self.put(code, value);
        }
    }

    /// A number with as many decimals as it needs, one at least, without an exponent and without minus zero.
    pub(super) fn real(&mut self, code: u16, value: f64) {
        let text = format!("{value:.DECIMALS$}");
        let text = text.trim_end_matches('0');
        let text = match text {
            "-0." => "0.0".to_owned(),
            _ if text.ends_with('.') => format!("{text}0"),
            _ => text.to_owned(),
        };
        self.put(code, text);
    }

    /// A point in the plane, its x under the code.
    pub(super) fn flat(&mut self, code: u16, p: Point) {
        self.real(code, p.x);
        self.real(code + 10, p.y);
    }

    /// A point in space at height 0.
    pub(super) fn point(&mut self, code: u16, p: Point) {
        self.flat(code, p);
        self.real(code + 20, 0.0);
    }

    pub(super) fn section(&mut self, name: &str, fill: impl FnOnce(&mut Self)) {
        self.all(&[(0, "SECTION"), (2, name)]);
        fill(self);
        self.put(0, "ENDSEC");
    }
}

/// The layers to be listed: those that have a look, then those that are used besides.
fn layers(entities: &[Entity], looks: &[Look]) -> Vec<(String, Look)> {
    let plain = Look { name: "", colour: 7, line: Line::Solid, weight: 25 };
    let mut layers: Vec<(String, Look)> = looks.iter().map(|l| (name_text(l.name), *l)).collect();
    for entity in entities {
        // Names of layers are the same in capitals and small letters.
        if entity.layer != "0" && !layers.iter().any(|(name, _)| name.eq_ignore_ascii_case(&entity.layer)) {
            layers.push((entity.layer.clone(), plain));
        }
    }
    layers
}

/// The entity in the unit of the file; `None` if it has no extent or is no entity of the format.
fn scaled(entity: &Entity, per_unit: f64) -> Option<Entity> {
    let k = 1.0 / per_unit;
    let body = match &entity.body {
        // Other curves are written as polylines; the drawings that we make have none.
        Body::Curve(c) => {
            let points = curve::polyline(c, false).points;
            let fine = points.len() > 1 && points.iter().all(|p| p.is_finite());
            let vertices = points.into_iter().map(|p| Vertex { at: p * k, bulge: 0.0 }).collect();
            fine.then_some(Body::Path { vertices, closed: false })?
        }
        Body::Path { vertices, closed } => {
            let vertices: Vec<Vertex> = vertices.iter().map(|v| Vertex { at: v.at * k, bulge: v.bulge }).collect();
            let fine = vertices.len() > 1 && vertices.iter().all(|v| v.at.is_finite() && v.bulge.is_finite());
            fine.then_some(Body::Path { vertices, closed: *closed })?
        }
        Body::Circle { centre, radius } => {
            let fine = centre.is_finite() && radius.is_finite() && *radius > 0.0;
            fine.then_some(Body::Circle { centre: *centre * k, radius: radius * k })?
        }
        Body::Ellipse { centre, half_x, half_y, turn } => {
            let fine =
                centre.is_finite() && turn.is_finite() && [half_x, half_y].iter().all(|h| h.is_finite() && **h > 0.0);
            let body = Body::Ellipse { centre: *centre * k, half_x: half_x * k, half_y: half_y * k, turn: *turn };
            fine.then_some(body)?
        }
        Body::Text { at, height, turn, content } => {
            let content = line_text(content);
            let fine = at.is_finite() && turn.is_finite() && height.is_finite() && *height > 0.0 && !content.is_empty();
            fine.then_some(Body::Text { at: *at * k, height: height * k, turn: *turn, content })?
        }
    };
    let name = name_text(&entity.layer);
    Some(Entity { layer: if name.is_empty() { "0".to_owned() } else { name }, handle: String::new(), body })
}

/// The box of all that is drawn; texts count by where they begin.
fn extent(entities: &[Entity]) -> BBox {
    let mut b = BBox::EMPTY;
    for entity in entities {
        b = match &entity.body {
            Body::Path { vertices, closed } => {
                let n = vertices.len();
                let ways = if *closed { n } else { n - 1 };
                let mut b = vertices.iter().map(|v| v.at).fold(b, BBox::with);
                for i in 0..ways {
                    b = bend(vertices[i], vertices[(i + 1) % n].at).into_iter().fold(b, BBox::with);
                }
                b
            }
            Body::Circle { centre, radius } => {
                let r = pt(*radius, *radius);
                b.with(*centre - r).with(*centre + r)
            }
            Body::Ellipse { centre, half_x, half_y, turn } => {
                let axes = Pose::new(*turn, pt(0.0, 0.0));
                let (u, v) = (axes.apply(pt(*half_x, 0.0)), axes.apply(pt(0.0, *half_y)));
                let r = pt(u.x.hypot(v.x), u.y.hypot(v.y));
                b.with(*centre - r).with(*centre + r)
            }
            Body::Text { at, .. } => b.with(*at),
            // `scaled` has made paths of them.
            Body::Curve(c) => curve::sketch(c).into_iter().fold(b, BBox::with),
        };
    }
    if b.min.is_finite() && b.max.is_finite() { b } else { BBox { min: pt(0.0, 0.0), max: pt(1.0, 1.0) } }
}

/// Corners of a box round the arc from a vertex to the next: those of the chord shifted by the arc's height, as long as it is
/// at most half a circle; else those round the whole circle.
fn bend(from: Vertex, to: Point) -> Vec<Point> {
    let half = (to - from.at) * 0.5;
    let b = from.bulge;
    if b == 0.0 {
        return Vec::new();
    }
    // The height of an arc over its chord of length c is b c / 2; a positive bulge has the arc to the right of its chord.
    let high = -half.left() * b;
    if b.abs() <= 1.0 {
        return vec![from.at + high, to + high];
    }
    // Its radius is c (1 + b^2) / (4 |b|), and its middle lies that far from the top of the arc.
    let radius = half.norm() * (1.0 + b * b) / (2.0 * b.abs());
    let middle = from.at + half + high * (1.0 - radius / high.norm().max(f64::MIN_POSITIVE));
    vec![middle - pt(radius, radius), middle + pt(radius, radius)]
}

fn write_entity(out: &mut Groups, handle: Handle, entity: &Entity) {
    let mut start = |kind: &str, class: &str| {
        out.put(0, kind);
        out.put(5, handle);
        out.put(330, fixed::MODEL);
        out.put(100, "AcDbEntity");
        out.put(8, &entity.layer);
        out.put(100, class);
    };
    match &entity.body {
        // `scaled` has made paths of them.
        Body::Curve(_) => {}
        Body::Path { vertices, closed: false } if is_line(vertices) => {
            start("LINE", "AcDbLine");
            out.point(10, vertices[0].at);
            out.point(11, vertices[1].at);
        }
        Body::Path { vertices, closed } => {
            start("LWPOLYLINE", "AcDbPolyline");
            out.put(90, vertices.len());
            out.put(70, u8::from(*closed));
            for v in vertices {
                out.flat(10, v.at);
                if v.bulge != 0.0 {
                    out.real(42, v.bulge);
                }
            }
        }
        Body::Circle { centre, radius } => {
            start("CIRCLE", "AcDbCircle");
            out.point(10, *centre);
            out.real(40, *radius);
        }
        Body::Ellipse { centre, half_x, half_y, turn } => {
            start("ELLIPSE", "AcDbEllipse");
            // The first axis of the format is the longer one.
            let (long, short, turn) =
                if half_x >= half_y { (half_x, half_y, *turn) } else { (half_y, half_x, turn + 90.0) };
            out.point(10, *centre);
            out.point(11, Pose::new(turn, pt(0.0, 0.0)).apply(pt(*long, 0.0)));
            for (code, p) in [(210, 0.0), (220, 0.0), (230, 1.0)] {
                out.real(code, p);
            }
            out.real(40, short / long);
            out.real(41, 0.0);
            out.put(42, std::f64::consts::TAU);
        }
        Body::Text { at, height, turn, content } => {
            start("TEXT", "AcDbText");
            out.point(10, *at);
            out.real(40, *height);
            out.put(1, content);
            out.real(50, turn.rem_euclid(360.0));
            out.put(7, fixed::STYLE_NAME);
            out.put(100, "AcDbText");
        }
    }
}

fn is_line(vertices: &[Vertex]) -> bool {
    matches!(vertices, [a, _] if a.bulge == 0.0)
}

/// A text as the value of a group: one line, with codes for what the code page of the file lacks.
fn line_text(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            c if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') => out.push(' '),
            // Marks that turn the reading direction, and other things without a look.
            '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}' => {}
            '%' if out.ends_with('%') => out.push_str(" %"),
            '^' => out.push_str("^ "),
            // A backslash may begin a code; so it is one itself.
            c if c != '\\' && (c.is_ascii() || ('\u{A0}'..='\u{FF}').contains(&c)) => out.push(c),
            c if u32::from(c) <= 0xFFFF => {
                let _ = write!(out, "\\U+{:04X}", u32::from(c));
            }
            _ => out.push('?'),
        }
    }
    out
}

/// The name of a layer: a text without the characters that the format forbids in names.
fn name_text(name: &str) -> String {
    let plain: String = name.chars().map(|c| if "<>/\\\":;?*|=`,^%".contains(c) { '-' } else { c }).collect();
    line_text(&plain).chars().take(255).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_plain() {
        for (value, text) in [
            (0.0, "0.0"),
            (-0.0, "0.0"),
            (-1e-13, "0.0"),
            (100.0, "100.0"),
            (0.1 + 0.2, "0.3"),
            (-1.234_567_891_234_56, "-1.2345678912"),
            (1e-7, "0.0000001"),
        ] {
            let mut out = Groups::default();
            out.real(40, value);
            assert_eq!(out.0, format!(" 40\r\n{text}\r\n"));
        }
    }

    #[test]
    fn texts_are_one_line_of_the_code_page() {
        for (given, written) in [
            ("  island\tleft\n", "island left"),
            ("K\u{fc}che \u{20ac}", "K\u{fc}che \\U+20AC"),
            ("50%%d", "50% %d"),
            ("%%%%", "% % % %"),
            ("a^b", "a^ b"),
            ("C:\\U+0041", "C:\\U+005CU+0041"),
            ("\u{202e}x\u{1F600}", "x?"),
        ] {
            assert_eq!(line_text(given), written);
        }
        assert_eq!(name_text("a/b*c"), "a-b-c");
    }
}
