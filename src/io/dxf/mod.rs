//! DXF files to drawings.
//!
//! In: the bytes of a file, text or binary, and the unit to take them in. Out: a [`Drawing`] in millimetres with the place of each entity
//! in the file, and what was left out and why. Must not know: jobs, what a drawing is of.
//!
//! `pairs` takes the bytes apart, `sieve` checks them and keeps what we read, `bodies` has the crate `dxf` make entities of that, and
//! here blocks are put in and lengths become millimetres. Nothing that a file says is passed over in silence: what is broken is an error
//! with its line, what is not read is counted or named.

mod bodies;
mod letters;
mod pairs;
mod sieve;
mod structure;
mod words;
pub mod write;

use std::collections::{BTreeMap, BTreeSet};

use super::source::shortened;
use crate::cad::affine::Affine;
use crate::cad::path::rough_box;
use crate::cad::{Body, Drawing, Entity};
use crate::geom::tol::MAX_COORD;
use crate::geom::{Point, pt};
use crate::units::Unit;
use bodies::{Local, Put};
use pairs::{Broken, Pairs};
use sieve::{Block, Record, Sieved, Stranger};

/// What a file holds, in millimetres.
#[derive(Clone, Debug, PartialEq)]
pub struct Dxf {
    /// What is drawn, in the order of the file, blocks put in.
    pub drawing: Drawing,
    /// For every entity the line where it starts (of a binary file the byte); for what is put in with a block, that of the insertion.
    pub places: Vec<usize>,
    /// True if the file is binary, so that places are bytes.
    pub binary: bool,
    /// The unit that its numbers were taken in.
    pub unit: Unit,
    /// The unit that its header names, if it names one that we know.
    pub header_unit: Option<Unit>,
    /// How many entities of each kind were left out because they draw no outline: dimensions, hatches, points and the like.
    pub left_out: BTreeMap<String, usize>,
    /// How many were left out because their layer is off or frozen.
    pub hidden: usize,
    /// How many were left out because they stand on a sheet of paper, or are switched off.
    pub aside: usize,
    /// What is drawn and not understood.
    pub wrong: Vec<Wrong>,
    /// The code page that texts were read by, if they are no UTF-8 and have letters beyond plain ones.
    pub old_letters: Option<&'static str>,
    /// Names of blocks that are put in and lie in other files.
    pub other_files: BTreeSet<String>,
}

/// Something drawn that is not understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Wrong {
    /// Its kind as the file has it, such as `SPLINE`.
    pub kind: String,
    /// Its handle; may be empty.
    pub handle: String,
    /// Its layer.
    pub layer: String,
    /// Its line in the file (of a binary file the byte).
    pub place: usize,
    /// A point of it, mm, if one is known.
    pub at: Option<Point>,
    /// What it does, after "it".
    pub why: String,
    /// How to mend it.
    pub fix: &'static str,
}

/// Why there is no drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Unread {
    /// The file is no DXF file, is cut off, or has a value that is none.
    Broken {
        /// Line (of a binary file the byte).
        place: usize,
        /// True if the place is a byte.
        binary: bool,
        /// What is there.
        given: String,
        /// What was expected there.
        expected: String,
    },
    /// The header names no unit, and neither did the caller.
    NoUnit,
    /// The header has a code for the unit that no drawing of stone has.
    OddUnit(i64),
}

/// Kinds that may be part of an outline and are not read. All others that we do not know draw none.
const LINES: [&str; 9] =
    ["MLINE", "REGION", "BODY", "3DSOLID", "SURFACE", "HELIX", "ACAD_PROXY_ENTITY", "MPOLYGON", "3DLINE"];

/// What to do about an entity that is not read.
const REDRAW: &str = "explode or redraw it, or delete it; or name the layer of the outlines";

/// What to do about a drawing that holds too much.
const LESS: &str = "delete what is not needed, or save the outlines in a drawing of their own";

/// How deep blocks may stand in blocks; nobody draws deeper, and one that holds itself has no end.
const DEEPEST: usize = 12;

/// Most entities once all blocks are put in.
const MOST_ENTITIES: usize = 200_000;

/// Wrong entities that are listed.
const MOST_WRONG: usize = 2000;

/// The unit of a code in the header, as the DXF reference lists them.
const fn unit_of(code: i64) -> Option<Unit> {
    match code {
        1 => Some(Unit::In),
        2 => Some(Unit::Ft),
        4 => Some(Unit::Mm),
        5 => Some(Unit::Cm),
        6 => Some(Unit::M),
        _ => None,
    }
}

/// Reads a file. Its numbers are in `unit` if that is given, else in what the header says.
///
/// # Errors
/// What is wrong with the file as a whole, and where.
pub fn read(bytes: &[u8], unit: Option<Unit>) -> Result<Dxf, Unread> {
    let binary = pairs::is_binary(bytes);
    let broken = |b: Broken| Unread::Broken { place: b.place, binary, given: b.given, expected: b.expected.to_owned() };
    let letters = letters::Letters::of(bytes);
    let text = if binary { std::borrow::Cow::Borrowed("") } else { letters.text(bytes) };
    // In a binary file numbers are no UTF-8 either.
    let old_letters = letters.page().filter(|_| !binary);
    let pairs = if binary { Pairs::of_binary(bytes, letters) } else { Pairs::of_text(&text) };
    let sieved = sieve::sieve(pairs).map_err(broken)?;
    let header_unit = sieved.unit_code.and_then(unit_of);
    let unit = match (unit, header_unit, sieved.unit_code) {
        (Some(unit), ..) | (None, Some(unit), _) => unit,
        (None, None, None | Some(0)) => return Err(Unread::NoUnit),
        (None, None, Some(code)) => return Err(Unread::OddUnit(code)),
    };
    let locals = bodies::bodies(&sieved.records).map_err(broken)?;
    let mut out = Dxf {
        drawing: Drawing::default(),
        places: Vec::new(),
        binary,
        unit,
        header_unit,
        left_out: BTreeMap::new(),
        hidden: 0,
        aside: 0,
        wrong: Vec::new(),
        old_letters,
        other_files: BTreeSet::new(),
    };
    let scale = unit.mm();
    let frame = Affine { x: pt(scale, 0.0), y: pt(0.0, scale), origin: pt(0.0, 0.0) };
    let mut maker = Maker { sieved: &sieved, locals: &locals, out: &mut out, full: false, puts: 0 };
    let top = Within { frame, layer: None, handle: "", place: None, depth: 0 };
    maker.all(sieved.own.clone(), &top);
    maker.strangers(&sieved.strangers, &top);
    Ok(out)
}

/// What stands round the entities that are being put in.
struct Within<'a> {
    frame: Affine,
    /// The layer that stands for layer "0" of a block.
    layer: Option<&'a str>,
    /// Handles of the insertions round it, each with a slash.
    handle: &'a str,
    /// The place of the outermost insertion.
    place: Option<usize>,
    depth: usize,
}

/// True if a layer is in a list of names, which are in small letters.
fn has(layers: &[String], layer: &str) -> bool {
    !layers.is_empty() && layers.contains(&layer.to_lowercase())
}

struct Maker<'a> {
    sieved: &'a Sieved,
    locals: &'a [Local],
    out: &'a mut Dxf,
    /// True once there is more than we hold.
    full: bool,
    /// Blocks put in so far: empty ones count too.
    puts: usize,
}

impl Maker<'_> {
    fn all(&mut self, range: std::ops::Range<usize>, within: &Within<'_>) {
        let (records, locals) = (&self.sieved.records, self.locals);
        for i in range {
            let (Some(record), Some(local)) = (records.get(i), locals.get(i)) else { continue };
            if self.full {
                return;
            }
            let layer = match within.layer {
                Some(outer) if record.layer == "0" => outer,
                _ => &record.layer,
            };
            let counts = !matches!(local, Local::Nothing);
            if record.aside && counts {
                self.out.aside += 1;
                continue;
            }
            // On a layer that is off, a block hides what takes its layer; one that is frozen hides all of it.
            let hidden = match local {
                Local::Insert(_) => has(&self.sieved.frozen_layers, layer),
                _ => counts && self.is_hidden(layer),
            };
            if hidden {
                self.out.hidden += 1;
                continue;
            }
            match local {
                Local::Nothing => {}
                Local::Body(body) => self.body(body, record, layer, within),
                Local::Insert(put) => self.insert(put, record, layer, within),
                Local::Wrong { at, why } => {
                    let at = within.frame.point(*at);
                    self.wrong(record.kind, record, layer, within, Some(at), (why.clone(), REDRAW));
                }
            }
        }
    }

    fn is_hidden(&self, layer: &str) -> bool {
        has(&self.sieved.frozen_layers, layer) || has(&self.sieved.off_layers, layer)
    }

    fn body(&mut self, body: &Body, record: &Record, layer: &str, within: &Within<'_>) {
        for body in within.frame.body(body) {
            let size = rough_box(&body);
            let far = [size.min, size.max].iter().any(|p| !p.is_finite() || p.x.abs().max(p.y.abs()) > MAX_COORD);
            if far {
                let at = Some(size.min).filter(|p| p.is_finite());
                let why = "lies more than 1 km from the origin".to_owned();
                let fix = "check the unit, or move the drawing to the origin";
                self.wrong(record.kind, record, layer, within, at, (why, fix));
                return;
            }
            if self.out.drawing.entities.len() >= MOST_ENTITIES {
                self.full = true;
                let why = format!("is one of more than {MOST_ENTITIES} entities, once blocks are put in");
                self.wrong(record.kind, record, layer, within, None, (why, LESS));
                return;
            }
            let handle = format!("{}{}", within.handle, record.handle);
            self.out.drawing.entities.push(Entity { layer: layer.to_owned(), handle, body });
            self.out.places.push(within.place.unwrap_or(record.place));
        }
    }

    fn insert(&mut self, put: &Put, record: &Record, layer: &str, within: &Within<'_>) {
        let at = Some(within.frame.point(put.frame.origin));
        let Some(block) = self.sieved.blocks.get(&put.name.to_lowercase()) else {
            let why = format!("puts in the block \"{}\", which the file does not have", shortened(&put.name));
            let fix = "save the drawing with its blocks, or delete the insertion";
            self.wrong("INSERT", record, layer, within, at, (why, fix));
            return;
        };
        if block.is_elsewhere {
            self.out.other_files.insert(put.name.clone());
        }
        if within.depth >= DEEPEST {
            let why = format!("puts a block into a block more than {DEEPEST} deep");
            self.wrong("INSERT", record, layer, within, at, (why, REDRAW));
            return;
        }
        let handle = format!("{}{}/", within.handle, record.handle);
        let [x, y] = block.base;
        let base = Affine { origin: pt(-x, -y), ..Affine::NONE };
        for &shift in &put.copies {
            self.puts += 1;
            if self.full || self.puts > MOST_ENTITIES {
                if !self.full {
                    self.full = true;
                    let why = format!("is one of more than {MOST_ENTITIES} blocks put in");
                    self.wrong("INSERT", record, layer, within, at, (why, LESS));
                }
                return;
            }
            let own = Affine { origin: put.frame.origin + shift, ..put.frame };
            let inner = Within {
                frame: within.frame.after(&own).after(&base),
                layer: Some(layer),
                handle: &handle,
                place: Some(within.place.unwrap_or(record.place)),
                depth: within.depth + 1,
            };
            self.block(block, &inner);
        }
    }

    fn block(&mut self, block: &Block, within: &Within<'_>) {
        self.all(block.records.clone(), within);
        self.strangers(&block.strangers, within);
    }

    fn strangers(&mut self, strangers: &[Stranger], within: &Within<'_>) {
        for s in strangers {
            let layer = match within.layer {
                Some(outer) if s.layer == "0" => outer,
                _ => &s.layer,
            };
            if s.aside {
                self.out.aside += 1;
            } else if self.is_hidden(layer) {
                self.out.hidden += 1;
            } else if LINES.contains(&s.kind.as_str()) {
                let record = Record {
                    kind: "",
                    handle: s.handle.clone(),
                    layer: s.layer.clone(),
                    place: s.place,
                    aside: false,
                    pairs: Vec::new(),
                };
                let why = "is of a kind that is not read".to_owned();
                self.wrong(&s.kind, &record, layer, within, None, (why, REDRAW));
            } else {
                *self.out.left_out.entry(s.kind.clone()).or_default() += 1;
            }
        }
    }

    fn wrong(
        &mut self,
        kind: &str,
        record: &Record,
        layer: &str,
        within: &Within<'_>,
        at: Option<Point>,
        (why, fix): (String, &'static str),
    ) {
        if self.out.wrong.len() < MOST_WRONG {
            self.out.wrong.push(Wrong {
                kind: kind.to_owned(),
                handle: format!("{}{}", within.handle, record.handle),
                layer: layer.to_owned(),
                place: within.place.unwrap_or(record.place),
                at,
                why,
                fix,
            });
        }
    }
}
