//! Reads `rack.toml`.
//!
//! In: a parsed table. Out: slabs with their flaws, and remarks. Must not know: jobs.

use std::collections::BTreeMap;

use super::job::thickness;
use super::photo::{self, PHOTO};
use super::reader::{Keys, Table, Value, listed};
use super::shape::{self, Likely, Raw, at, count, points, tell_ring};
use super::stone_tests::{self, TESTS};
use crate::diag::Kind;
use crate::geom::curve::Side;
use crate::geom::{Point, Ring, tol};
use crate::model::{CameFrom, Flaw, FlawBody, FlawKind, Slab, StoneClass, Zone, Zones};
use crate::units::Unit;

const RACK: &[&str] = &["units", "slab"];
const SLAB: &[&str] = &[
    "name",
    "material",
    "stone",
    "thickness",
    "lot",
    "number",
    "price",
    "price_per_m2",
    "outline",
    "grain",
    "flaw",
    "tests",
    "photo",
    "from",
];
const FROM: &[&str] = &["slab", "jobs", "at", "date"];
const FLAW: &[&str] = &["kind", "line", "area", "spot", "diameter", "width", "allow"];

/// The keys of a rack file.
pub(super) const KEYS: &Keys = &[
    ("", RACK),
    ("slab", SLAB),
    ("slab.outline", shape::KEYS),
    ("slab.flaw", FLAW),
    ("slab.tests", TESTS),
    ("slab.photo", PHOTO),
    ("slab.from", FROM),
];

/// Reads the slabs of a rack that must have some. `None` after an error.
pub(super) fn read(file: &Table<'_>) -> Option<Vec<Slab>> {
    let before = file.desk.errors();
    let slabs = read_any(file)?;
    if slabs.is_empty() {
        file.error(
            Kind::NoSlabs,
            "slab",
            "an empty rack",
            "at least one slab",
            "add [[slab]] with its name, material and outline",
        );
    }
    (file.desk.errors() == before).then_some(slabs)
}

/// More slabs than any yard has; they bound the work.
const MOST_SLABS: usize = 10_000;

/// More flaws than anybody draws on a slab; each is kept off by every piece at every turn.
const MOST_FLAWS: usize = 300;

/// Reads the slabs, of which there may be none. `None` after an error.
pub(super) fn read_any(file: &Table<'_>) -> Option<Vec<Slab>> {
    let before = file.desk.errors();
    let unit = file.units();
    let tables = file.tables("slab", SLAB);
    if tables.len() > MOST_SLABS {
        let (given, expected) = (count(tables.len(), "slab"), format!("at most {MOST_SLABS} slabs"));
        file.error(Kind::TooMany, "slab", given, expected, "divide the rack into several files");
        return None;
    }
    let mut names: BTreeMap<String, usize> = BTreeMap::new();
    let mut slabs = Vec::with_capacity(tables.len());
    for table in &tables {
        let name_value = table.need("name", "the slab's name", "add for example name = \"GG-17/2\"");
        let name = name_value.as_ref().and_then(Value::name);
        if let (Some(value), Some(name)) = (&name_value, &name)
            && let Some(first) = names.insert(name.clone(), table.line())
        {
            let given = format!("\"{name}\", which the slab of line {first} is called too");
            value.error(
                Kind::DuplicateName,
                given,
                "names that differ",
                "rename one, for example with its number in the lot",
            );
        }
        slabs.extend(read_slab(table, name, unit));
    }
    (file.desk.errors() == before).then_some(slabs)
}

fn read_slab(table: &Table<'_>, name: Option<String>, unit: Unit) -> Option<Slab> {
    let material = table.need("material", "what the slab is of", "add material = \"...\", as jobs name it");
    let material = material.and_then(|v| v.name());
    let stone_value = table.get("stone");
    let stone_given = stone_value.is_some();
    let stone = stone_value.map_or(Some(StoneClass::default()), |v| v.word(&StoneClass::NAMES));
    if !stone_given {
        let expected = listed(&StoneClass::NAMES.map(|n| n.0));
        table.note(
            Kind::Assumed,
            "stone",
            "nothing",
            expected,
            "taken as granite for rails, strength and density; add stone = \"...\"",
        );
    }
    let thick = table.need("thickness", "the slab's thickness", "add for example thickness = 30");
    let thick = thick.and_then(|v| thickness(&v, unit));
    let lot = table.get("lot").and_then(|v| v.name());
    let number = table.get("number").and_then(|v| v.integer());
    let grain = read_grain(table);
    let outline = table.need("outline", "the slab's outline", "add for example outline.rectangle = [3000, 1800]");
    let raw = outline.and_then(|v| v.table(shape::KEYS, KEYS)).and_then(|t| Raw::read(&t, unit, Side::Inner));
    let shape = raw.and_then(|r| r.tidy(Likely::SLAB)).map(|t| t.shape);
    // Inside the true arcs: what a saw may use lies within the polyline.
    let ring = shape.as_ref().map(|s| Ring::vouched_outline(s.flatten(Side::Inner).points));
    let price = read_price(table, ring.as_ref());
    let from = read_from(table, unit);
    // The flaws of an offcut may lie just beyond its edge, where its slab was cut.
    let edge = ring.as_ref().filter(|_| table.get("from").is_none());
    let tables = table.tables("flaw", FLAW);
    if tables.len() > MOST_FLAWS {
        let (given, expected) = (count(tables.len(), "flaw"), format!("at most {MOST_FLAWS} flaws on a slab"));
        table.error(Kind::TooMany, "flaw", given, expected, "draw one area round flaws that lie close together");
        return None;
    }
    let flaws: Vec<Flaw> = tables.iter().filter_map(|t| read_flaw(t, unit, edge)).collect();
    let tests = stone_tests::read(table, KEYS);
    let photo = photo::read(table, unit, ring.as_ref(), KEYS);
    Some(Slab {
        name: name?,
        material: material?,
        stone: stone?,
        stone_given,
        thickness: thick?,
        lot,
        number,
        price: price?,
        outline: ring?,
        grain: grain?,
        flaws,
        tests: tests?,
        photo: photo?,
        from: from?,
    })
}

/// Where an offcut comes from: outside `None` after an error, inside `None` if it is not given.
#[expect(clippy::option_option, reason = "\"wrong\" and \"not given\" are two things")]
fn read_from(slab: &Table<'_>, unit: Unit) -> Option<Option<Box<CameFrom>>> {
    let Some(value) = slab.get("from") else { return Some(None) };
    let before = slab.desk.errors();
    let table = value.table(FROM, KEYS)?;
    let parent = table.need("slab", "the slab that it was part of", "add slab = \"...\", the name of that slab");
    let parent = parent.and_then(|v| v.name());
    let jobs: Vec<String> = match table.get("jobs") {
        None => Vec::new(),
        Some(list) => list.list("a list of names of jobs")?.iter().filter_map(Value::name).collect(),
    };
    let at = table.get("at").map_or(Some(Point::default()), |v| shape::point(&v, unit));
    let date = table.get("date").and_then(|v| v.name());
    let (slab_name, at) = (parent?, at?);
    (slab.desk.errors() == before).then(|| Some(Box::new(CameFrom { slab: slab_name, jobs, at, date })))
}

/// The price of the whole slab. `None` after an error.
fn read_price(table: &Table<'_>, outline: Option<&Ring>) -> Option<f64> {
    /// No slab costs more in any currency; larger numbers would swamp every sum.
    const MOST: f64 = 1e12;
    let fix = "add price for the whole slab, or price_per_m2";
    let (key, value) = table.one_of(&["price", "price_per_m2"], fix)?;
    let price = value.number_within(0.0, MOST)?;
    if key == "price" { Some(price) } else { Some(price * outline?.area() / 1e6) }
}

/// The grain: outside `None` after an error, inside `None` for a stone without direction.
#[expect(clippy::option_option, reason = "\"wrong\" and \"none\" are two things")]
fn read_grain(table: &Table<'_>) -> Option<Option<f64>> {
    match table.get("grain") {
        None => {
            let expected = "degrees from the slab's x, or \"none\"";
            table.note(
                Kind::Assumed,
                "grain",
                "nothing",
                expected,
                "taken as a stone without direction; add grain = \"none\" or degrees",
            );
            Some(None)
        }
        Some(v) if v.is_text() => v.word(&[("none", ())]).map(|()| None),
        Some(v) => v.number_within(-360.0, 360.0).map(Some),
    }
}

fn read_flaw(table: &Table<'_>, unit: Unit, outline: Option<&Ring>) -> Option<Flaw> {
    let kind = table.need("kind", &listed(&FlawKind::NAMES.map(|n| n.0)), "say what kind of flaw it is");
    let kind = kind.and_then(|v| v.word(&FlawKind::NAMES));
    let allow = read_allow(table);
    let found = table.one_of(
        &["line", "area", "spot"],
        "give line = [[x, y], ...], area = [[x, y], ...], or spot = [x, y] with diameter",
    );
    let form = found.as_ref().map_or("", |f| f.0);
    for (key, with) in [("width", "line"), ("diameter", "spot")] {
        if !form.is_empty()
            && form != with
            && let Some(value) = table.get(key)
        {
            let given = format!("\"{key}\" with \"{form}\"");
            value.error(Kind::Conflict, given, format!("\"{key}\" with \"{with}\" only"), format!("take {key} out"));
        }
    }
    let (form, value) = found?;
    let (body, radius) = match form {
        "line" => {
            let width = table.get("width").map_or(Some(0.0), |w| w.length_from_zero(unit));
            (read_line(&value, unit).map(FlawBody::Line), width.map(|w| w / 2.0))
        }
        "area" => (read_area(&value, unit).map(FlawBody::Area), Some(0.0)),
        _ => {
            let diameter = table.need("diameter", "the spot's diameter", "add diameter, or draw the flaw as area");
            let radius = diameter.and_then(|d| d.positive_length(unit)).map(|d| d / 2.0);
            (shape::point(&value, unit).map(FlawBody::Spot), radius)
        }
    };
    let kind = kind?;
    let flaw = Flaw { kind, body: body?, radius: radius?, allow: allow?.unwrap_or_else(|| kind.default_zones()) };
    if let Some(ring) = outline {
        let near = flaw.distance_to(&ring.to_region());
        if near.distance > 0.0 {
            let given =
                format!("a {} that lies {:.1} mm off the slab, near {}", kind.name(), near.distance, at(near.to));
            value.warning(
                Kind::FlawOutside,
                given,
                "a flaw on its slab",
                "check its place and the slab's outline; it has no effect",
            );
        }
    }
    Some(flaw)
}

/// The zones: outside `None` after an error, inside `None` if not given.
#[expect(clippy::option_option, reason = "\"wrong\" and \"not given\" are two things")]
fn read_allow(table: &Table<'_>) -> Option<Option<Zones>> {
    let Some(value) = table.get("allow") else { return Some(None) };
    let words = Zone::ALL.map(|z| (z.name(), z));
    let entries = value.list(&format!("a list of {}", listed(&words.map(|w| w.0))))?;
    let zones: Vec<Option<Zone>> = entries.iter().map(|e| e.word(&words)).collect();
    let zones: Option<Vec<Zone>> = zones.into_iter().collect();
    zones.map(|z| Some(Zones::of(&z)))
}

fn read_line(value: &Value<'_>, unit: Unit) -> Option<Vec<Point>> {
    let mut line: Vec<Point> = points(value, unit)?.into_iter().map(|(p, _)| p).collect();
    let given = line.len();
    line.dedup_by(|b, a| a.distance(*b) < tol::SAME_POINT);
    if line.len() < 2 {
        let expected = "2 or more distinct points along the flaw";
        value.error(
            Kind::TooFewCorners,
            count(given, "point"),
            expected,
            "add the other end, or use \"spot\" with \"diameter\"",
        );
        return None;
    }
    Some(line)
}

fn read_area(value: &Value<'_>, unit: Unit) -> Option<Ring> {
    let given = points(value, unit)?;
    let corners: Vec<Point> = given.iter().map(|&(p, _)| p).collect();
    if corners.len() < 3 {
        let expected = "3 or more distinct corners, in order round the flaw";
        value.error(
            Kind::TooFewCorners,
            count(corners.len(), "corner"),
            expected,
            "add the missing corners, or use \"line\" with \"width\"",
        );
        return None;
    }
    match Ring::tidy(&corners) {
        Ok((ring, _)) => Some(ring),
        Err(fault) => {
            let mark = |i: usize| given.get(i).map_or_else(|| value.clone(), |(_, v)| v.clone());
            let name =
                |i: usize| format!("corner {} at {}", i + 1, corners.get(i).map_or_else(String::new, |&p| at(p)));
            tell_ring(fault, value, mark, name);
            None
        }
    }
}
