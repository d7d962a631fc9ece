//! Reads what an opening is cut for, and has the hole chosen.
//!
//! In: the table `fixture` of an opening, what the opening is for, the core bits of the shop. Out: a [`Fixture`] and its hole in a
//! frame of their own, and remarks. Must not know: where in the piece the opening lies.
//!
//! Rectangles, circles and ellipses have no place of their own, so rim and body share the middle of their boxes. If both are
//! polygons, drawings or traces, they were measured in one frame and stay as they are.

use super::drawn;
use super::reader::{Table, Value, listed};
use super::shape::{self, Likely, Raw, at, count};
use crate::craft::cutout::{self, Chosen, CutOutFault};
use crate::craft::fit::{self, TraceFault};
use crate::diag::Kind;
use crate::geom::curve::Side;
use crate::geom::{BBox, Point};
use crate::model::{Drawn, Fixture, OpeningKind, Shape};
use crate::units::{Decimal, Shown, Unit};

/// Keys of a fixture.
pub(super) const KEYS: &[&str] = &["rim", "body", "bowl", "bearing", "clearance", "accuracy", "overhang", "fit"];

/// Keys of a rim, a body or a bowl.
pub(super) const OUTLINE: &[&str] =
    &["rectangle", "polygon", "circle", "ellipse", "file", "layer", "units", "tolerance", "trace", "corner_radius"];

const FORMS: [&str; 6] = ["rectangle", "polygon", "circle", "ellipse", "file", "trace"];

/// Least rim on stone, mm: 10 to 13 are published in how-to pages.
const BEARING: f64 = 10.0;

/// Less than this (mm) no rim should bear: common practice.
const LEAST_BEARING: f64 = 6.0;

/// Least gap between body and stone, mm: the fabricator's gap of 3 (1/8 in) for sinks, the least published one for cooktops (3 to 5).
const CLEARANCE: f64 = 3.0;

/// How well template and cut follow the drawing, mm: published by fabricators as 1.5 (1/16 in) either way.
const ACCURACY: f64 = 1.5;

/// Stone past the bowl, mm: common practice (1/8 in); 1 to 10 are published.
const OVERHANG: f64 = 3.0;

/// Overhangs that are published, either way, mm.
const MOST_OVERHANG: f64 = 10.0;

/// How far a measured point may be off the line, mm: what a hand with a rule or a square can do (common practice).
const FIT: f64 = 1.0;

/// What a hole is made with, and the units in which that is told.
#[derive(Clone, Copy)]
pub(super) struct Making<'a> {
    /// Diameters of the core bits of the shop, mm.
    pub(super) core_bits: &'a [f64],
    pub(super) shown: Shown,
}

/// An outline as read.
struct Outlined {
    drawn: Drawn,
    /// True if its coordinates were measured: a polygon, a drawing or a trace.
    is_placed: bool,
}

/// Reads a fixture and chooses its hole. `None` after an error.
pub(super) fn read(value: &Value<'_>, kind: OpeningKind, unit: Unit, making: Making<'_>) -> Option<(Fixture, Chosen)> {
    let Making { core_bits, shown } = making;
    let keys = super::job::KEYS;
    let table = value.table(KEYS, keys)?;
    let before = table.desk.errors();
    if !matches!(kind, OpeningKind::DropInSink | OpeningKind::UndermountSink | OpeningKind::Cooktop) {
        let given = format!("a fixture for an opening of kind \"{}\"", kind.name());
        let expected = "a fixture for a \"drop-in sink\", an \"undermount sink\" or a \"cooktop\"";
        value.error(Kind::Conflict, given, expected, "draw the hole with shape, or mend the kind");
        return None;
    }
    refuse_strangers(&table, kind);
    let mut assumed = Vec::new();
    let accuracy = length(&table, "accuracy", unit, ACCURACY, 10.0, &mut assumed);
    let allowed = match table.get("fit") {
        None => Some(FIT),
        Some(v) => v.positive_length(unit).inspect(|&mm| {
            Likely { what: "deviation", least: 0.05, most: 10.0 }.check(&v, mm, unit);
        }),
    };
    let outline = |key: &'static str| {
        let value = table.get(key)?;
        Some(read_outline(&value, allowed.unwrap_or(FIT), unit))
    };
    let need = |key: &'static str, what: &str| {
        table.need(key, what, &format!("add for example {key}.rectangle = [400, 320]"));
        outline(key).flatten()
    };
    let fixture = if kind == OpeningKind::UndermountSink {
        let bowl = need("bowl", "the bowl's inside at its top");
        let overhang = read_overhang(&table, unit, &mut assumed);
        let (bowl, overhang, accuracy) = (bowl?, overhang?, accuracy?);
        Fixture::Undermount { bowl: centred(&bowl), overhang, accuracy }
    } else {
        let is_sink = kind == OpeningKind::DropInSink;
        let rim = if is_sink { Some(need("rim", "what rests on the stone")) } else { outline("rim") };
        let body = need("body", "what passes through the stone");
        let clearance = length(&table, "clearance", unit, CLEARANCE, 50.0, &mut assumed);
        match rim {
            None => {
                if let Some(v) = table.get("bearing") {
                    let fix = "give the rim too, or take bearing out";
                    v.error(Kind::Conflict, "a bearing without a rim", "the rim that bears", fix);
                }
                Fixture::Cooktop { body: centred(&body?), clearance: clearance?, accuracy: accuracy? }
            }
            Some(rim) => {
                let bearing = length(&table, "bearing", unit, BEARING, 100.0, &mut assumed);
                if let (Some(v), Some(mm)) = (table.get("bearing"), bearing)
                    && mm < LEAST_BEARING
                {
                    let expected = format!("{LEAST_BEARING} mm or more: less is no seat for a rim (common practice)");
                    v.warning(Kind::OutOfRange, v.as_written(), expected, "check the value and the unit");
                }
                let (rim, body) = together(&rim?, &body?);
                Fixture::DropIn { rim, body, bearing: bearing?, clearance: clearance?, accuracy: accuracy? }
            }
        }
    };
    if table.desk.errors() > before {
        return None;
    }
    if !assumed.is_empty() {
        let given = format!("nothing for {}", listed(&assumed.iter().map(|a| a.0).collect::<Vec<_>>()));
        let figures: Vec<String> = assumed.iter().map(|(k, mm)| format!("{k} {}", shown.said(*mm))).collect();
        let expected = "the figures of the fixture's own sheet";
        value.note(Kind::Assumed, given, expected, format!("none needed: taken as {}", figures.join(", ")));
    }
    if core_bits.is_empty() {
        let fix = "list core_bits under [tools] of the shop file";
        let expected =
            "bits that the corners can be cored with; without any, corners take the radius that the fixture asks for";
        value.warning(Kind::Assumed, "a shop without core bits", expected, fix);
    }
    match cutout::choose(&fixture, core_bits, shown) {
        Ok(chosen) => Some((fixture, chosen)),
        Err(fault) => {
            tell(value, &fixture, &fault);
            None
        }
    }
}

/// Says which keys do not go with the kind.
fn refuse_strangers(table: &Table<'_>, kind: OpeningKind) {
    let (strange, own): (&[&'static str], &str) = match kind {
        OpeningKind::UndermountSink => {
            (&["rim", "body", "bearing", "clearance"], "\"bowl\", \"overhang\", \"accuracy\" and \"fit\"")
        }
        _ => (&["bowl", "overhang"], "\"rim\", \"body\", \"bearing\", \"clearance\", \"accuracy\" and \"fit\""),
    };
    for value in strange.iter().filter_map(|&k| table.get(k)) {
        let given = format!("a key that a \"{}\" does not have", kind.name());
        value.error(Kind::Conflict, given, format!("only {own}"), "take it out, or mend the kind");
    }
}

/// A length from 0; the default is put down as assumed.
fn length(
    table: &Table<'_>,
    key: &'static str,
    unit: Unit,
    default: f64,
    most: f64,
    assumed: &mut Vec<(&'static str, f64)>,
) -> Option<f64> {
    let Some(value) = table.get(key) else {
        assumed.push((key, default));
        return Some(default);
    };
    let mm = value.length_from_zero(unit)?;
    Likely { what: key, least: 0.0, most }.check(&value, mm, unit);
    Some(mm)
}

fn read_overhang(table: &Table<'_>, unit: Unit, assumed: &mut Vec<(&'static str, f64)>) -> Option<f64> {
    let Some(value) = table.get("overhang") else {
        assumed.push(("overhang", OVERHANG));
        return Some(OVERHANG);
    };
    let mm = value.length(unit)?;
    if mm.abs() > MOST_OVERHANG {
        let words = if mm > 0.0 { "the stone covers the bowl's rim" } else { "the bowl's rim shows" };
        let given = format!("{}: {words} by {} mm", value.as_written(), Decimal(mm.abs(), 2));
        let expected = format!("{MOST_OVERHANG} mm at most, either way (published)");
        value.warning(Kind::OutOfRange, given, expected, "check the value, its sign and the unit");
    }
    Some(mm)
}

fn read_outline(value: &Value<'_>, allowed: f64, unit: Unit) -> Option<Outlined> {
    let table = value.table(OUTLINE, super::job::KEYS)?;
    table.one_of(&FORMS, "give the outline, for example rectangle = [400, 320]")?;
    let radius = table.get("corner_radius");
    if let Some(trace) = table.get("trace") {
        drawn::refuse_without_file(&table)?;
        if let Some(radius) = radius {
            let given = "a radius for the corners of a trace";
            radius.error(Kind::Conflict, given, "no radius: it is found from the points", "take corner_radius out");
            return None;
        }
        let shape = read_trace(&trace, allowed, unit)?;
        return Some(Outlined { drawn: shape, is_placed: true });
    }
    let mut raw = Raw::read(&table, unit, Side::Outer)?;
    let rounded = radius.map_or(Some(()), |r| raw.round(&r));
    let shape = raw.tidy(Likely::OPENING)?.shape;
    rounded?;
    let is_placed = table.get("polygon").is_some() || raw.is_drawn();
    Some(Outlined { drawn: Drawn { shape, fit: None }, is_placed })
}

fn read_trace(value: &Value<'_>, allowed: f64, unit: Unit) -> Option<Drawn> {
    let entries = shape::points(value, unit)?;
    let points: Vec<Point> = entries.iter().map(|e| e.0).collect();
    let drawn = match fit::trace(&points, allowed) {
        Ok(drawn) => drawn,
        Err(fault) => {
            tell_trace(value, &entries, &fault, allowed);
            return None;
        }
    };
    let size = drawn.shape.extent();
    let (least, most) = (size.width().min(size.height()), size.width().max(size.height()));
    Likely::OPENING.check(value, if most > Likely::OPENING.most { most } else { least }, unit);
    if let Some(fit) = drawn.fit
        && fit.deviation > allowed
    {
        let given = format!("a point {} mm off the line that follows the others best", Decimal(fit.deviation, 2));
        let expected = format!("{} mm at most", Decimal(allowed, 2));
        let fix = "measure again, or give fit as what your measuring can do; clearance and accuracy must cover it";
        value.warning(Kind::TraceScattered, given, expected, fix);
    }
    Some(drawn)
}

fn tell_trace(value: &Value<'_>, entries: &[(Point, Value<'_>)], fault: &TraceFault, allowed: f64) {
    let entry = |p: Point| {
        let near = entries.iter().min_by(|a, b| a.0.distance(p).total_cmp(&b.0.distance(p)));
        near.map_or(value, |e| &e.1)
    };
    let name = |p: Point| {
        let number = entries.iter().position(|e| e.0 == p).map_or_else(String::new, |i| format!("point {} ", i + 1));
        format!("{number}at {}", at(p))
    };
    match *fault {
        TraceFault::TooFew { points } => {
            let given = count(points, "distinct point");
            let expected = format!("{} or more, all round", fit::LEAST_POINTS);
            value.error(Kind::TooFewCorners, given, expected, "measure more points, some in every corner");
        }
        TraceFault::TooMany { points } => {
            let given = count(points, "point");
            let expected = format!("at most {}", fit::MOST_POINTS);
            value.error(Kind::TooManyCorners, given, expected, "leave out every second point");
        }
        TraceFault::OutOfRange { at: p } => {
            let fix = "check the value and the unit";
            entry(p).error(Kind::OutOfRange, name(p), "coordinates of at most 1 km", fix);
        }
        TraceFault::Flat => {
            let expected = "points round an outline of at least 1 mm either way";
            value.error(Kind::TooFewCorners, "points all on one line", expected, "check the points and the unit");
        }
        TraceFault::Open { gap, spacing, from, to } => {
            let given = format!("{} mm from the last point, {}, to the first, {}", Decimal(gap, 1), at(from), at(to));
            let expected = format!(
                "about the widest spacing elsewhere, {} mm: a trace goes all the way round",
                Decimal(spacing, 1)
            );
            value.error(Kind::TraceOpen, given, expected, "measure the missing stretch");
        }
        TraceFault::Crossing { at: p, stretches: (a, b) } => {
            let given = format!("the lines from {} and from {} cross at {}", name(a), name(b), at(p));
            let fix = "put the points in order round the outline, each once";
            entry(b).error(Kind::SelfCrossing, given, "a trace that does not cross itself", fix);
        }
        TraceFault::Scattered { deviation, most, at: p } => {
            let given =
                format!("{}, {} mm off any line of sides and arcs through the others", name(p), Decimal(deviation, 1));
            let expected = format!("{} mm at most: three times fit, {} mm", Decimal(most, 2), Decimal(allowed, 2));
            entry(p).error(Kind::TraceScattered, given, expected, "measure this point again");
        }
    }
}

/// The outline about the middle of its box.
fn centred(outline: &Outlined) -> Drawn {
    let middle = outline.drawn.shape.extent().centre();
    outline.drawn.moved(-middle)
}

/// Rim and body in one frame.
fn together(rim: &Outlined, body: &Outlined) -> (Drawn, Drawn) {
    if rim.is_placed && body.is_placed {
        let middle = rim.drawn.shape.extent().centre();
        return (rim.drawn.moved(-middle), body.drawn.moved(-middle));
    }
    (centred(rim), centred(body))
}

/// On which side of a box a point is, for people.
fn side_of(p: Point, room: &BBox) -> &'static str {
    let d = p - room.centre();
    let (x, y) = (d.x / room.width(), d.y / room.height());
    match (x.abs() > y.abs(), x > 0.0, y > 0.0) {
        (true, true, _) => "on the right",
        (true, false, _) => "on the left",
        (false, _, true) => "at the back",
        (false, _, false) => "at the front",
    }
}

fn tell(value: &Value<'_>, fixture: &Fixture, fault: &CutOutFault) {
    let mm = |v: f64| Decimal(v, 2);
    let middle = "from the middle of the rim's box";
    match *fault {
        CutOutFault::Narrow { at: p, found, needed, .. } => {
            let Fixture::DropIn { rim, body, bearing, clearance, accuracy } = fixture else { return };
            let side = side_of(p, &body.shape.extent());
            let p = p - rim.shape.extent().centre();
            let given = if found < 0.0 {
                format!("a body that sticks out of its rim by {} mm {side}, {} {middle}", mm(-found), at(p))
            } else {
                format!("a rim that reaches {} mm beyond the body {side}, {} {middle}", mm(found), at(p))
            };
            let expected = format!(
                "{} mm or more everywhere: {} bearing, {} clearance, and {} accuracy on both sides",
                mm(needed),
                mm(*bearing),
                mm(*clearance),
                mm(*accuracy)
            );
            let fix = "check both outlines; then see what the fixture's sheet says of bearing and clearance";
            value.error(Kind::NoCutOut, given, expected, fix);
        }
        CutOutFault::NoBit { at: p, smallest, enough, found, needed } => {
            let given = format!(
                "a hole whose corners suit the smallest core bit, {} mm, leaves the rim {} mm of bearing at {} {middle}",
                mm(smallest),
                mm(found),
                at(p)
            );
            let expected = format!("{} mm of bearing", mm(needed));
            let fix = format!("a core bit of {} mm or less does; or ask for less bearing", mm(enough));
            value.error(Kind::NoCutOut, given, expected, fix);
        }
        CutOutFault::NoHole { overhang, width } => {
            let given = format!("an overhang of {} mm into a bowl that is {} mm wide", mm(overhang), mm(width));
            let expected = "an overhang that leaves a hole";
            value.error(Kind::NoCutOut, given, expected, "check the value and the unit");
        }
        CutOutFault::TooLarge { figure, most } => {
            let expected = format!("{} mm at most", mm(most));
            let fix = "check the values and the unit";
            value.error(Kind::OutOfRange, format!("a fixture with {} mm", mm(figure)), expected, fix);
        }
        CutOutFault::TooFine { points, most } => {
            let given = format!("an outline whose fine drawing takes {points} points");
            let fix = "leave out corners that nobody can cut, or give smaller radii";
            value.error(Kind::TooManyCorners, given, format!("{most} points at most"), fix);
        }
        CutOutFault::Unfollowed { distance } => {
            let given =
                format!("an outline with notches or points that no line {} mm from it can follow", mm(distance));
            let expected = "an outline that a hole can follow all round";
            value.error(Kind::NoCutOut, given, expected, "draw the outline without them");
        }
    }
}

/// What rests on the stone, where that is known.
pub(super) const fn rim(fixture: &Fixture) -> Option<&Shape> {
    match fixture {
        Fixture::DropIn { rim, .. } => Some(&rim.shape),
        Fixture::Undermount { .. } | Fixture::Cooktop { .. } => None,
    }
}
