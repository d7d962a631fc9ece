//! `scantling read`: what a drawing holds, as text for a job.
//!
//! The text is TOML: what is only to be looked at stands in comments. So the whole of it can be pasted, or sent into a file.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::args::{Format, Showing, Units};
use super::{Exit, answer, json, say};
use crate::cad::outlines::{Fault, Outline};
use crate::cad::shape::Drawn;
use crate::cad::{Body, is_same_layer};
use crate::diag::{Kind, Remarks, Severity};
use crate::geom::Point;
use crate::geom::curve::Side;
use crate::io::drawn::{self, Request, Seen, name_of};
use crate::io::paste::{self, PasteAs};
use crate::model::Shape;
use crate::units::{Decimal, Shown, Unit, parse_length};

/// Unit of a drawing.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum DrawnIn {
    /// Millimetres
    Mm,
    /// Centimetres
    Cm,
    /// Metres
    M,
    /// Inches
    In,
    /// Feet
    Ft,
}

/// What the outlines are.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum As {
    /// Pieces with their openings, for a job
    Piece,
    /// Slabs, for a rack
    Slab,
}

/// `scantling read`.
#[derive(Debug, Args)]
pub struct ReadArgs {
    /// The drawing
    #[arg(value_name = "FILE.dxf")]
    file: PathBuf,
    /// Only lines on this layer
    #[arg(long, value_name = "NAME")]
    layer: Option<String>,
    /// Only texts on this layer
    #[arg(long, value_name = "NAME")]
    text_layer: Option<String>,
    /// Unit of the drawing, in place of what its header says
    #[arg(long, value_enum, value_name = "UNIT")]
    drawn_in: Option<DrawnIn>,
    /// Ends of lines within this of one another count as one: a number of mm, or a length with its unit [default: 0.1]
    #[arg(long, value_name = "LENGTH", value_parser = tolerance)]
    tolerance: Option<f64>,
    /// What the outlines are
    #[arg(long = "as", value_enum, default_value_t = As::Piece)]
    what: As,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// A length from 0 to the largest tolerance, mm.
fn tolerance(text: &str) -> Result<f64, String> {
    let mm = text.parse::<f64>().or_else(|_| parse_length(text).map_err(|e| e.to_string()))?;
    if (0.0..=drawn::MOST_TOLERANCE).contains(&mm) {
        Ok(mm)
    } else {
        Err(format!("expected 0 to {} mm", drawn::MOST_TOLERANCE))
    }
}

pub(super) fn run(args: &ReadArgs) -> Result<Exit, Remarks> {
    let unit = args.drawn_in.map(|u| match u {
        DrawnIn::Mm => Unit::Mm,
        DrawnIn::Cm => Unit::Cm,
        DrawnIn::M => Unit::M,
        DrawnIn::In => Unit::In,
        DrawnIn::Ft => Unit::Ft,
    });
    let what = match args.what {
        As::Piece => PasteAs::Pieces,
        As::Slab => PasteAs::Slabs,
    };
    let request = Request {
        unit,
        layer: args.layer.clone(),
        text_layer: args.text_layer.clone(),
        tolerance: args.tolerance.unwrap_or(drawn::TOLERANCE),
        // A piece may only be too large, a slab only too small.
        err: if what == PasteAs::Slabs { Side::Inner } else { Side::Outer },
    };
    let bytes = crate::io::read_bytes(&args.file)?;
    let name = args.file.display().to_string();
    let seen = drawn::see(&name, &bytes, &request).map_err(|mut remarks| {
        for remark in remarks.0.iter_mut().filter(|r| r.what == Kind::DrawingUnit) {
            "set the unit of the drawing, or give it with --drawn-in".clone_into(&mut remark.fix);
        }
        remarks
    })?;
    let told: Vec<_> = seen.remarks.iter().filter(|r| r.severity != Severity::Note).cloned().collect();
    if !told.is_empty() {
        say(&Remarks(told).to_string());
    }
    let shown = match (args.showing.units, seen.dxf.unit) {
        (Some(Units::In), _) | (None, Unit::In | Unit::Ft) => Shown::In,
        (Some(Units::Mm), _) | (None, _) => Shown::Mm,
    };
    let pasted_in = if shown == Shown::In { Unit::In } else { Unit::Mm };
    let pasted = paste::text(&seen, what, pasted_in);
    match args.showing.format {
        Format::Text => answer(&text(&seen, &request, what, shown, &pasted)),
        Format::Json => answer(&json(&Printed::of(&seen, &request, pasted_in, &pasted))),
    }
    let sound = !seen.remarks.iter().any(|r| r.severity == Severity::Error);
    Ok(if sound && seen.outlines.outer().next().is_some() { Exit::Good } else { Exit::Faulty })
}

/// How many of each sort a layer holds.
type Counts = BTreeMap<&'static str, usize>;

fn sort_of(body: &Body) -> &'static str {
    match body {
        Body::Path { vertices, .. } if vertices.len() == 2 => "lines or arcs",
        Body::Path { .. } => "polylines",
        Body::Circle { .. } => "circles",
        Body::Ellipse { .. } => "ellipses",
        Body::Curve(_) => "curves",
        Body::Text { .. } => "texts",
    }
}

fn layers(seen: &Seen) -> BTreeMap<&str, Counts> {
    let mut all: BTreeMap<&str, Counts> = BTreeMap::new();
    for e in &seen.dxf.drawing.entities {
        *all.entry(&e.layer).or_default().entry(sort_of(&e.body)).or_default() += 1;
    }
    all
}

fn place(shown: Shown, p: Point) -> String {
    format!("[{}, {}]", shown.bare_length(p.x), shown.bare_length(p.y))
}

fn text(seen: &Seen, request: &Request, what: PasteAs, shown: Shown, pasted: &str) -> String {
    let mut out = String::new();
    let mut line = |text: String| {
        let _ = writeln!(out, "#{}{text}", if text.is_empty() { "" } else { " " });
    };
    let from = match (request.unit, seen.dxf.header_unit) {
        (Some(_), _) => "as asked for",
        (None, _) => "as its header says",
    };
    let unit = match seen.dxf.unit {
        Unit::Mm => "millimetres",
        Unit::Cm => "centimetres",
        Unit::M => "metres",
        Unit::In => "inches",
        Unit::Ft => "feet",
    };
    line(format!("{}, drawn in {unit}, {from}", seen.file));
    line(String::new());
    line("layers".to_owned());
    for (name, counts) in layers(seen) {
        let counts: Vec<String> = counts
            .iter()
            .map(|(sort, &n)| match (n, *sort) {
                (1, "lines or arcs") => "1 line or arc".to_owned(),
                (1, sort) => format!("1 {}", sort.trim_end_matches('s')),
                (n, sort) => format!("{n} {sort}"),
            })
            .collect();
        let wanted = request.layer.as_ref().is_none_or(|l| is_same_layer(l, name));
        line(format!("  {name:<20} {}{}", counts.join(", "), if wanted { "" } else { "   not asked for" }));
    }
    line(String::new());
    line(format!("closed outlines; ends within {} mm count as one", Decimal(request.tolerance, 3)));
    for (i, outline) in seen.outlines.outer().enumerate() {
        let name = called(seen, outline);
        line(format!("  {}  {name}: {}", i + 1, size(seen, outline, shown)));
        if what == PasteAs::Pieces {
            for (k, side) in outline.made.sides.iter().enumerate() {
                let drawn = match side.drawn {
                    Drawn::Line => "straight".to_owned(),
                    Drawn::Arc { radius, sweep } => {
                        let way = if sweep > 0.0 { "out" } else { "in" };
                        format!("arc of radius {} bulging {way}", shown.length(radius))
                    }
                    Drawn::Curve => "curve".to_owned(),
                    Drawn::Round => "round".to_owned(),
                };
                line(format!(
                    "       side {}: {drawn}, {} long, from {}",
                    k + 1,
                    shown.length(side.length),
                    place(shown, side.from)
                ));
            }
        }
        for hole in seen.outlines.inner(outline) {
            let name = called(seen, hole);
            line(format!("       within it {name}: {}", size(seen, hole, shown)));
        }
    }
    if seen.outlines.all.is_empty() {
        line("  none".to_owned());
    }
    for fault in &seen.outlines.faults {
        if let Fault::Open { run, .. } = fault {
            let (a, b) = run.ends;
            line(format!("  open: {} from {} to {}", shown.length(run.length), place(shown, a), place(shown, b)));
        }
    }
    for &t in &seen.outlines.stray_texts {
        if let Some(Body::Text { at, content, .. }) = seen.dxf.drawing.entities.get(t).map(|e| &e.body) {
            line(format!("  text in no outline: \"{content}\" at {}", place(shown, *at)));
        }
    }
    for note in seen.remarks.iter().filter(|r| r.severity == Severity::Note) {
        for part in note.given.split("; ") {
            line(format!("  {part}"));
        }
    }
    line(String::new());
    let errors = seen.remarks.iter().filter(|r| r.severity == Severity::Error).count();
    if errors > 0 {
        line("Not all of the drawing is understood: mend what was said, and read it again.".to_owned());
    }
    let (kind, file) = if what == PasteAs::Pieces { ("job", "piece") } else { ("rack", "slab") };
    line(format!(
        "To be pasted into a {kind} with units = \"{}\"; or name the drawing there:",
        if shown == Shown::In { "in" } else { "mm" }
    ));
    let inner = seen.outlines.outer().any(|o| !o.inner.is_empty());
    let holes = if inner && what == PasteAs::Pieces { ", outline.openings = \"other\" or \"by text\"" } else { "" };
    line(format!("[[{file}]] with outline.file = {}{holes}", paste::quoted(&seen.file)));
    out.push_str(pasted);
    out
}

/// What an outline is called, or why it has no name.
fn called(seen: &Seen, outline: &Outline) -> String {
    let says = |e: usize| match seen.dxf.drawing.entities.get(e).map(|e| &e.body) {
        Some(Body::Text { content, .. }) => content.as_str(),
        _ => "",
    };
    match name_of(seen, outline) {
        Ok(Some(name)) => format!("\"{name}\""),
        Ok(None) => "without a text in it".to_owned(),
        Err((a, b)) => format!("with two texts of one size, \"{}\" and \"{}\"", says(a), says(b)),
    }
}

fn size(seen: &Seen, outline: &Outline, shown: Shown) -> String {
    let b = outline.made.shape.extent();
    let e = seen.dxf.drawing.entities.get(outline.entity);
    let (layer, handle) = e.map_or(("", ""), |e| (e.layer.as_str(), e.handle.as_str()));
    let handle = if handle.is_empty() { String::new() } else { format!(", handle {handle}") };
    format!(
        "{} by {} at {}, {}, layer \"{layer}\"{handle}",
        shown.length(b.width()),
        shown.length(b.height()),
        place(shown, b.min),
        shown.area(outline.made.shape.area())
    )
}

/// What `--format json` prints; lengths in mm, areas in mm².
#[derive(Serialize)]
struct Printed<'a> {
    format: &'static str,
    file: &'a str,
    drawn_in: &'static str,
    header_unit: Option<&'static str>,
    tolerance: f64,
    layers: BTreeMap<&'a str, Counts>,
    outlines: Vec<PrintedOutline>,
    gaps_closed: usize,
    widest_gap: Option<f64>,
    deviation: f64,
    left_out: &'a BTreeMap<String, usize>,
    hidden: usize,
    aside: usize,
    remarks: Vec<PrintedRemark<'a>>,
    text_units: &'static str,
    text: &'a str,
}

#[derive(Serialize)]
struct PrintedOutline {
    name: Option<String>,
    layer: String,
    handle: String,
    corner: [f64; 2],
    size: [f64; 2],
    area_mm2: f64,
    shape: PrintedShape,
    sides: Vec<PrintedSide>,
    inner: Vec<PrintedOutline>,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum PrintedShape {
    /// Corners; a third number is a radius.
    Polygon(Vec<Vec<f64>>),
    Ellipse {
        centre: [f64; 2],
        size: [f64; 2],
    },
}

#[derive(Serialize)]
struct PrintedSide {
    drawn: &'static str,
    from: [f64; 2],
    to: [f64; 2],
    length: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    radius: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sweep: Option<f64>,
}

#[derive(Serialize)]
struct PrintedRemark<'a> {
    severity: &'static str,
    line: usize,
    given: &'a str,
    expected: &'a str,
    fix: &'a str,
}

impl<'a> Printed<'a> {
    fn of(seen: &'a Seen, request: &Request, pasted_in: Unit, pasted: &'a str) -> Self {
        let remarks = seen.remarks.iter();
        Self {
            format: "scantling-read/1",
            file: &seen.file,
            drawn_in: seen.dxf.unit.name(),
            header_unit: seen.dxf.header_unit.map(Unit::name),
            tolerance: request.tolerance,
            layers: layers(seen),
            outlines: seen.outlines.outer().map(|o| printed(seen, o)).collect(),
            gaps_closed: seen.outlines.gaps,
            widest_gap: seen.outlines.widest.map(|w| w.0),
            deviation: seen.outlines.all.iter().map(|o| o.made.deviation).fold(0.0, f64::max),
            left_out: &seen.dxf.left_out,
            hidden: seen.dxf.hidden,
            aside: seen.dxf.aside,
            remarks: remarks
                .map(|r| PrintedRemark {
                    severity: r.severity.name(),
                    line: r.line,
                    given: &r.given,
                    expected: &r.expected,
                    fix: &r.fix,
                })
                .collect(),
            text_units: pasted_in.name(),
            text: pasted,
        }
    }
}

fn printed(seen: &Seen, outline: &Outline) -> PrintedOutline {
    let b = outline.made.shape.extent();
    let e = seen.dxf.drawing.entities.get(outline.entity);
    let corner = |at: Point, radius: f64| if radius > 0.0 { vec![at.x, at.y, radius] } else { vec![at.x, at.y] };
    PrintedOutline {
        name: name_of(seen, outline).ok().flatten(),
        layer: e.map_or_else(String::new, |e| e.layer.clone()),
        handle: e.map_or_else(String::new, |e| e.handle.clone()),
        corner: b.min.into(),
        size: [b.width(), b.height()],
        area_mm2: outline.made.shape.area(),
        shape: match &outline.made.shape {
            Shape::Polygon(corners) => PrintedShape::Polygon(corners.iter().map(|c| corner(c.at, c.radius)).collect()),
            Shape::Ellipse { centre, half_x, half_y } => {
                PrintedShape::Ellipse { centre: (*centre).into(), size: [2.0 * half_x, 2.0 * half_y] }
            }
        },
        sides: outline
            .made
            .sides
            .iter()
            .map(|s| {
                let (drawn, radius, sweep) = match s.drawn {
                    Drawn::Line => ("straight", None, None),
                    Drawn::Arc { radius, sweep } => ("arc", Some(radius), Some(sweep)),
                    Drawn::Curve => ("curve", None, None),
                    Drawn::Round => ("round", None, None),
                };
                PrintedSide { drawn, from: s.from.into(), to: s.to.into(), length: s.length, radius, sweep }
            })
            .collect(),
        inner: seen.outlines.inner(outline).map(|o| printed(seen, o)).collect(),
    }
}
