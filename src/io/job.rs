//! Reads `job.toml`.
//!
//! In: a parsed table. Out: a [`Job`], where its rack and shop are said to be, and remarks.
//! Must not know: files and paths, slabs, whether any slab fits.

use std::collections::BTreeMap;

use super::fixture::{self, Making};
use super::parts::{self, Hole, Part};
use super::reader::{Keys, Table, Value, listed};
use super::rims;
use super::shape::{self, Likely, Raw, at, count};
use crate::diag::Kind;
use crate::geom::curve::Side;
use crate::geom::{BBox, Point, pt};
use crate::model::{Finish, GrainWish, Hidden, Job, Opening, OpeningKind, Origin, Outline, Piece};
use crate::units::{Decimal, Shown, Unit};

const JOB: &[&str] = &["name", "units", "rack", "shop", "material", "thickness", "piece"];
const PIECE: &[&str] =
    &["name", "count", "outline", "grain", "grain_tolerance", "one_way", "edges", "hidden", "opening"];
const HIDDEN: &[&str] = &["front", "right", "back", "left"];
const OPENING: &[&str] = &["name", "kind", "shape", "corner_radius", "centre_line", "setback", "centre", "fixture"];

/// The keys of a job file.
pub(super) const KEYS: &Keys = &[
    ("", JOB),
    ("piece", PIECE),
    ("piece.outline", shape::PIECE_KEYS),
    ("piece.hidden", HIDDEN),
    ("piece.opening", OPENING),
    ("piece.opening.shape", shape::KEYS),
    ("piece.opening.fixture", fixture::KEYS),
    ("piece.opening.fixture.rim", fixture::OUTLINE),
    ("piece.opening.fixture.body", fixture::OUTLINE),
    ("piece.opening.fixture.bowl", fixture::OUTLINE),
];

/// More pieces than a shop plans at once; the search takes time and memory for each.
const MOST_PIECES: usize = 1000;

/// More openings than a piece can hold; each is checked against each other.
const MOST_OPENINGS: usize = 200;

/// Points of all outlines and openings of a job, copies included: a bound on memory.
const MOST_POINTS: usize = 500_000;

/// Points of all openings of a piece: a bound on the time to check each against each other and the outline.
const MOST_OPENING_POINTS: usize = 40_000;

/// A job file as read.
pub(super) struct JobRead {
    /// The job, unless something was wrong with it.
    pub(super) job: Option<Job>,
    /// The job's name and where it stands (bytes), if it has one.
    pub(super) name: Option<(String, usize)>,
    /// Where the material stands (bytes).
    pub(super) material_at: usize,
    /// Where the thickness stands (bytes).
    pub(super) thickness_at: usize,
    /// The file's unit of length.
    pub(super) unit: Unit,
}

/// Reads a job. Holes for fixtures get corners that the core bits (diameters, mm) can make; they are told in the units `shown`, or
/// in those of the file.
pub(super) fn read(file: &Table<'_>, core_bits: &[f64], shown: Option<Shown>) -> JobRead {
    let before = file.desk.errors();
    let unit = file.units();
    let name_value = file.need("name", "the job's name", "add for example name = \"Ferry House\"");
    let name = name_value.as_ref().and_then(Value::name);
    for key in ["rack", "shop"] {
        let _ = file.get(key).and_then(|v| v.name());
    }
    let material_value =
        file.need("material", "what the slabs are to be of", "add material = \"...\", as the rack names it");
    let material = material_value.as_ref().and_then(Value::name);
    let thickness_value = file.need("thickness", "the thickness of the slabs", "add for example thickness = \"30 mm\"");
    let thickness = thickness_value.as_ref().and_then(|v| thickness(v, unit));
    let tables = file.tables("piece", PIECE);
    if tables.is_empty() && file.desk.errors() == before {
        let fix = "add [[piece]] with its name and outline";
        file.error(Kind::NoPieces, "piece", "none", "at least one piece", fix);
    }
    let making = Making { core_bits, shown: shown.unwrap_or(Shown::of(unit)) };
    let pieces = read_pieces(&tables, unit, making);
    let at = |v: &Option<Value<'_>>| v.as_ref().map_or(0, Value::offset);
    let (name_at, material_at, thickness_at) = (at(&name_value), at(&material_value), at(&thickness_value));
    let ok = file.desk.errors() == before;
    let job = match (&name, material, thickness) {
        (Some(name), Some(material), Some(thickness)) if ok => {
            Some(Job { name: name.clone(), material, thickness, pieces })
        }
        _ => None,
    };
    JobRead { job, name: name.map(|n| (n, name_at)), material_at, thickness_at, unit }
}

/// A thickness, mm.
pub(super) fn thickness(value: &Value<'_>, unit: Unit) -> Option<f64> {
    let mm = value.positive_length(unit)?;
    Likely::THICKNESS.check(value, mm, unit);
    Some(mm)
}

fn read_pieces(tables: &[Table<'_>], unit: Unit, making: Making<'_>) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut total = 0usize;
    let mut points = 0usize;
    let mut names: BTreeMap<String, usize> = BTreeMap::new();
    let mut kind = 0;
    for table in tables {
        if table.desk.is_full() {
            break;
        }
        let outline = table.need("outline", "the piece's outline", "add for example outline.rectangle = [2650, 620]");
        let outline = outline.and_then(|v| Some((v.table(shape::PIECE_KEYS, KEYS)?, v)));
        let is_drawn = outline.as_ref().is_some_and(|(t, _)| t.get("file").is_some());
        let name_value = if is_drawn {
            table.get("name")
        } else {
            table.need("name", "the piece's name", "add for example name = \"window run\"")
        };
        let name = name_value.as_ref().and_then(Value::name);
        let copies = read_count(table, &mut total);
        let mut read = Vec::new();
        let whole = match &outline {
            Some((outline, _)) if is_drawn => parts::read(outline, name.as_deref(), unit),
            Some((outline, _)) => Raw::read(outline, unit, Side::Outer).map(|raw| vec![Part::whole(name.clone(), raw)]),
            None => None,
        };
        if let Some(parts) = whole {
            let many = parts.len() > 1;
            for part in parts {
                let name = part.name.clone();
                let Some(piece) = read_piece(table, kind, Some(part), many, unit, making) else { break };
                kind += 1;
                read.push((name, piece));
            }
        } else {
            // What else is wrong with the entry is told all the same.
            let _ = read_piece(table, kind, None, false, unit, making);
            read.clear();
        }
        total = total.saturating_add(copies.unwrap_or(1).saturating_mul(read.len().saturating_sub(1)));
        if total > MOST_PIECES && read.len() > 1 {
            let expected = format!("at most {MOST_PIECES} pieces in a job, copies counted");
            table.error(Kind::TooMany, "", format!("{} so far", count(total, "piece")), expected, "split the job");
            return pieces;
        }
        let Some(copies) = copies else { continue };
        // Names that were given twice are told even where the piece itself is wrong.
        if read.is_empty()
            && let (Some(name), Some(_)) = (&name, &name_value)
        {
            names.entry(name.clone()).or_insert_with(|| table.line());
        }
        'parts: for (name, piece) in read {
            let Some(name) = name else { continue };
            for copy in 1..=copies {
                let name = if copies > 1 { format!("{name} #{copy}") } else { name.clone() };
                if let Some(value) = name_value.as_ref().or(outline.as_ref().map(|o| &o.1))
                    && let Some(first) = names.insert(name.clone(), table.line())
                {
                    let given = format!("\"{name}\", which the piece of line {first} is called too");
                    value.error(Kind::DuplicateName, given, "names that differ", "rename one, or use count for copies");
                    break 'parts;
                }
                points += piece.outline.ring.points().len();
                points += piece.openings.iter().map(|o| o.ring.points().len()).sum::<usize>();
                if points > MOST_POINTS {
                    let given =
                        format!("pieces of more than {MOST_POINTS} points in all, arcs as polylines, copies included");
                    table.error(
                        Kind::TooMany,
                        "",
                        given,
                        "simpler outlines, or fewer copies",
                        "plan the pieces in several jobs",
                    );
                    return pieces;
                }
                pieces.push(Piece { name, ..piece.clone() });
            }
        }
    }
    pieces
}

/// The number of copies, from 1; counts up `total`.
fn read_count(table: &Table<'_>, total: &mut usize) -> Option<usize> {
    let value = table.get("count");
    let n = match &value {
        None => 1,
        Some(value) => {
            let n = value.integer()?;
            match usize::try_from(n) {
                Ok(n) if n >= 1 => n,
                _ => {
                    value.error(
                        Kind::NotPositive,
                        value.as_written(),
                        "1 or more",
                        "take the piece out, or give its number",
                    );
                    return None;
                }
            }
        }
    };
    let before = *total;
    *total = total.saturating_add(n);
    if *total <= MOST_PIECES {
        return Some(n);
    }
    if before <= MOST_PIECES {
        let given = format!("{} so far", count(*total, "piece"));
        let expected = format!("at most {MOST_PIECES} pieces in a job, copies counted");
        let fix = "split the job";
        match value {
            Some(value) => value.error(Kind::TooMany, given, expected, fix),
            None => table.error(Kind::TooMany, "", given, expected, fix),
        }
    }
    None
}

/// The piece of an entry whose outline and holes were read; without them only what else is wrong with it is told. `many`: other pieces
/// come from the same entry.
fn read_piece<'a>(
    table: &Table<'a>,
    kind: usize,
    part: Option<Part<'a>>,
    many: bool,
    unit: Unit,
    making: Making<'_>,
) -> Option<Piece> {
    let before = table.desk.errors();
    let (name, raw, holes) = part.map_or((None, None, Vec::new()), |p| (p.name, Some(p.raw), p.holes));
    // The finishes come first, for they say which corners on straight sides stay.
    let finishes = read_edges(table, raw.as_ref());
    let mut shift = pt(0.0, 0.0);
    let outline = raw.as_ref().and_then(|raw| {
        let finishes = finishes.unwrap_or_else(|| vec![Finish::Raw; raw.sides()]);
        let tidy = raw.tidy_piece(|a, b| finishes[a] != finishes[b])?;
        let ordered = tidy.sides.iter().map(|&s| finishes[s].clone()).collect();
        let corner = tidy.shape.extent().min;
        let moved = corner.distance(pt(0.0, 0.0)) > 1e-9;
        if moved && !raw.is_drawn() {
            let given = format!("an outline whose lower left is at {}", at(corner));
            let expected = "the lower left of the bounding box at [0, 0]: from there openings are measured";
            let fix = format!("none needed: the outline was moved by {}", at(-corner));
            raw.value.note(Kind::Moved, given, expected, fix);
        }
        if moved {
            shift = -corner;
        }
        let shape = if moved { tidy.shape.moved(-corner) } else { tidy.shape };
        Some(Outline::new(shape, ordered))
    });
    let (grain, grain_tolerance) = read_grain(table);
    let one_way = table.get("one_way").map_or(Some(false), |v| v.boolean());
    let size = outline.as_ref().map(|o| {
        let b = o.shape.extent();
        (b.width(), b.height())
    });
    let hidden = read_hidden(table, unit, size);
    if many && let Some(value) = table.get("opening") {
        let given = "openings for several pieces of a drawing";
        let fix = "draw them and give outline.openings, or pick one piece with outline.named";
        value.error(Kind::Conflict, given, "openings for one piece", fix);
    }
    let openings = read_openings(table, unit, outline.as_ref(), making, (&holes, shift));
    if table.desk.errors() > before {
        return None;
    }
    Some(Piece {
        name: name.unwrap_or_default(),
        kind,
        outline: outline?,
        openings,
        grain: grain?,
        grain_tolerance: grain_tolerance?,
        one_way: one_way?,
        hidden: hidden?,
    })
}

/// One finish per side, in outline order; `None` if none are given or something is wrong. For a drawing one finish may stand for all.
fn read_edges(table: &Table<'_>, raw: Option<&Raw<'_>>) -> Option<Vec<Finish>> {
    let value = table.get("edges")?;
    let entries = value.list("a list with one finish per side")?;
    let read: Vec<Option<Finish>> = entries
        .iter()
        .map(|e| {
            let name = e.name()?;
            Some(if name.eq_ignore_ascii_case("raw") { Finish::Raw } else { Finish::Finished(name) })
        })
        .collect();
    let (sides, is_drawn) = (raw?.sides(), raw?.is_drawn());
    if is_drawn && read.len() == 1 {
        return read.into_iter().next()?.map(|f| vec![f; sides]);
    }
    if entries.len() != sides {
        let expected = format!(
            "{}: one per side in outline order{}",
            count(sides, "finish").replace("finishs", "finishes"),
            match sides {
                _ if is_drawn => " as \"scantling read\" lists them, or one for all",
                1 => " (a circle or an ellipse has one side)",
                4 => " (a rectangle's are front, right, back, left)",
                _ => "",
            }
        );
        let given = count(entries.len(), "finish").replace("finishs", "finishes");
        value.error(
            Kind::EdgeCount,
            given,
            expected,
            "name \"raw\" or a finish for each side; repeated corners make no side",
        );
        return None;
    }
    read.into_iter().collect()
}

fn read_grain(table: &Table<'_>) -> (Option<GrainWish>, Option<f64>) {
    const WORDS: [(&str, GrainWish); 3] =
        [("along", GrainWish::Towards(0.0)), ("across", GrainWish::Towards(90.0)), ("any", GrainWish::Any)];
    let wish = match table.get("grain") {
        None => Some(GrainWish::Towards(0.0)),
        Some(v) if v.is_text() => v.word(&WORDS),
        Some(v) => v.number_within(-360.0, 360.0).map(GrainWish::Towards),
    };
    let tolerance = table.get("grain_tolerance").map_or(Some(0.0), |v| v.number_within(0.0, 180.0));
    (wish, tolerance)
}

fn read_hidden(table: &Table<'_>, unit: Unit, size: Option<(f64, f64)>) -> Option<Hidden> {
    let Some(value) = table.get("hidden") else { return Some(Hidden::default()) };
    let strips = value.table(HIDDEN, KEYS)?;
    let read = |key: &'static str, room: Option<f64>| {
        let Some(value) = strips.get(key) else { return Some(0.0) };
        let width = value.length_from_zero(unit)?;
        if let Some(room) = room
            && width >= room
        {
            let expected = format!("less than the piece's {} mm that way", Decimal(room, 3));
            value.error(
                Kind::OutOfRange,
                value.as_written(),
                expected,
                "give the width of the strip under the splashback",
            );
            return None;
        }
        Some(width)
    };
    let (width, depth) = (size.map(|s| s.0), size.map(|s| s.1));
    let (front, right, back, left) =
        (read("front", depth), read("right", width), read("back", depth), read("left", width));
    Some(Hidden { front: front?, right: right?, back: back?, left: left? })
}

/// The openings of a piece: those drawn within it, moved by a vector, and those of its tables.
fn read_openings<'a>(
    table: &Table<'a>,
    unit: Unit,
    outline: Option<&Outline>,
    making: Making<'_>,
    (holes, shift): (&[Hole<'a>], Point),
) -> Vec<Opening> {
    let tables = table.tables("opening", OPENING);
    if tables.len() + holes.len() > MOST_OPENINGS {
        let given = count(tables.len() + holes.len(), "opening");
        let expected = format!("at most {MOST_OPENINGS} in a piece");
        let last = tables.last().unwrap_or(table);
        last.error(Kind::TooMany, "", given, expected, "check the piece; does it end where it should?");
        return Vec::new();
    }
    let mut openings: Vec<Opening> = Vec::new();
    let mut points = 0;
    let mut names: BTreeMap<String, usize> = BTreeMap::new();
    for hole in holes {
        let Some(tidy) = hole.raw.tidy(Likely::OPENING) else { continue };
        let opening = Opening::new(hole.name.clone(), hole.kind, tidy.shape.moved(shift));
        if names.insert(hole.name.clone(), table.line()).is_some() {
            let given = format!("\"{}\" twice within a piece of the drawing", hole.name);
            hole.raw.value.error(
                Kind::DuplicateName,
                given,
                "names that differ within a piece",
                "change one of the texts",
            );
        }
        points += opening.ring.points().len();
        if points > MOST_OPENING_POINTS {
            let given = format!("openings of more than {MOST_OPENING_POINTS} points in all, arcs as polylines");
            table.error(Kind::TooMany, "", given, "fewer or simpler openings", "leave out corners that nobody can cut");
            return Vec::new();
        }
        check_opening(&opening, &hole.raw.value, outline, &openings);
        openings.push(opening);
    }
    for table in &tables {
        let name_value = table.need("name", "the opening's name", "add for example name = \"main sink\"");
        let name = name_value.as_ref().and_then(Value::name);
        if let (Some(value), Some(name)) = (&name_value, &name)
            && let Some(first) = names.insert(name.clone(), table.line())
        {
            let given = format!("\"{name}\", which the opening of line {first} is called too");
            value.error(Kind::DuplicateName, given, "names that differ within a piece", "rename one");
        }
        let Some((opening, value)) = read_opening(table, name, unit, making) else { continue };
        points += opening.ring.points().len();
        if points > MOST_OPENING_POINTS {
            let given = format!("openings of more than {MOST_OPENING_POINTS} points in all, arcs as polylines");
            table.error(Kind::TooMany, "", given, "fewer or simpler openings", "leave out corners that nobody can cut");
            return Vec::new();
        }
        check_opening(&opening, &value, outline, &openings);
        openings.push(opening);
    }
    openings
}

/// Says where an opening leaves its piece or meets one of those before it.
fn check_opening(opening: &Opening, value: &Value<'_>, outline: Option<&Outline>, before: &[Opening]) {
    if let Some(outline) = outline
        && rims::check_inside(opening, value, outline)
    {
        rims::check_on_stone(opening, value, outline);
    }
    let _ = before.iter().any(|other| rims::check_apart(opening, value, other));
    for other in before {
        if let Some((depth, place)) = rims::overlap(&opening.ring, &other.ring) {
            let given = if depth > 0.0 {
                format!(
                    "\"{}\" runs into \"{}\" by {} mm near {}",
                    opening.name,
                    other.name,
                    Decimal(depth, 1),
                    at(place)
                )
            } else {
                format!("\"{}\" touches \"{}\" at {}", opening.name, other.name, at(place))
            };
            value.error(
                Kind::OpeningsOverlap,
                given,
                "openings with stone between them",
                "move one, or draw both as one opening",
            );
            break;
        }
    }
}

/// An opening, and the value that says where it is.
fn read_opening<'a>(
    table: &Table<'a>,
    name: Option<String>,
    unit: Unit,
    making: Making<'_>,
) -> Option<(Opening, Value<'a>)> {
    let kind = table.need("kind", &listed(&OpeningKind::NAMES.map(|n| n.0)), "say what the opening is for");
    let kind = kind.and_then(|v| v.word(&OpeningKind::NAMES));
    let place = read_place(table, unit);
    let (shape, fixture) = match (table.get("shape"), table.get("fixture")) {
        (None, None) => {
            let fix = "add for example shape.rectangle = [700, 400], or the fixture that it is cut for";
            table.error(Kind::MissingKey, "shape", "nothing", "the opening's \"shape\", or its \"fixture\"", fix);
            return None;
        }
        (Some(_), Some(fixture)) => {
            let given = "\"shape\" and \"fixture\"";
            let fix = "take one of them out: the hole is drawn, or worked out from the fixture";
            fixture.error(Kind::Conflict, given, "only one of them", fix);
            return None;
        }
        (shape, fixture) => (shape, fixture),
    };
    if let Some(value) = fixture {
        if let Some(radius) = table.get("corner_radius") {
            let fix = "give the radius of the rim, the body or the bowl, for example fixture.body.corner_radius = 25";
            radius.error(
                Kind::Conflict,
                "a corner radius beside a fixture",
                "a radius of the fixture's own outlines",
                fix,
            );
        }
        let (fixture, chosen) = fixture::read(&value, kind?, unit, making)?;
        let (place, at) = place?;
        let by = place.shift(&chosen.shape.extent());
        let mut opening = Opening::new(name?, kind?, chosen.shape.moved(by));
        let origin = Origin { fixture: fixture.moved(by), spare: chosen.spare, notes: chosen.notes };
        opening.origin = Some(Box::new(origin));
        return Some((opening, at));
    }
    let raw = shape.and_then(|v| v.table(shape::KEYS, KEYS)).and_then(|t| Raw::read(&t, unit, Side::Outer));
    let radius = table.get("corner_radius");
    let tidy = match (raw, radius) {
        (Some(raw), None) => raw.tidy(Likely::OPENING),
        (Some(mut raw), Some(radius)) => {
            let rounded = raw.round(&radius);
            let tidy = raw.tidy(Likely::OPENING);
            rounded.and(tidy)
        }
        (None, radius) => {
            let _ = radius.and_then(|r| r.length_from_zero(unit));
            None
        }
    };
    let (place, value) = place?;
    let shape = tidy?.shape;
    let by = place.shift(&shape.extent());
    Some((Opening::new(name?, kind?, shape.moved(by)), value))
}

/// Where an opening is, piece frame, mm.
enum Spot {
    /// The middle of its bounding box.
    Centre(Point),
    /// The x of its middle, and the least y of it.
    Lines { centre_line: f64, setback: f64 },
}

impl Spot {
    /// The way that a hole of this extent must go to be there.
    fn shift(&self, extent: &BBox) -> Point {
        match *self {
            Self::Centre(c) => c - extent.centre(),
            Self::Lines { centre_line, setback } => pt(centre_line - extent.centre().x, setback - extent.min.y),
        }
    }
}

fn read_place<'a>(table: &Table<'a>, unit: Unit) -> Option<(Spot, Value<'a>)> {
    let (centre, line, setback) = (table.get("centre"), table.get("centre_line"), table.get("setback"));
    let fix = "give centre_line and setback, or centre = [x, y]";
    match (centre, line, setback) {
        (Some(centre), None, None) => {
            let p = shape::point(&centre, unit)?;
            Some((Spot::Centre(p), centre))
        }
        (None, Some(line), Some(setback)) => {
            let (x, y) = (line.length(unit), setback.length(unit));
            Some((Spot::Lines { centre_line: x?, setback: y? }, line))
        }
        (Some(centre), _, _) => {
            let given = "\"centre\" beside \"centre_line\" or \"setback\"";
            centre.error(Kind::Conflict, given, "one way to say where the opening is", fix);
            None
        }
        (None, Some(_), None) => {
            table.error(
                Kind::MissingKey,
                "setback",
                "\"centre_line\" alone",
                "the distance from the front edge too",
                fix,
            );
            None
        }
        (None, None, Some(_)) => {
            table.error(
                Kind::MissingKey,
                "centre_line",
                "\"setback\" alone",
                "the middle's distance from the left end too",
                fix,
            );
            None
        }
        (None, None, None) => {
            table.error(Kind::MissingKey, "centre_line", "nothing", "where the opening is", fix);
            None
        }
    }
}
