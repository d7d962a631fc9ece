//! What of a DXF file we read: units, layers, blocks, and of each entity that we know the group codes that say where it runs.
//!
//! In: pairs. Out: checked records, counts of what was left out, or the place where the file is broken. Must not know: geometry.
//!
//! The DXF crate is given only what passed here. Tried on whole files, its version 0.6.2 panics on dates far off and on a seed of handles
//! at its limit; nested groups of extension data overflow its stack, which nothing can catch; entities of kinds that it does not know, and
//! a broken one at the end of a section, it drops without a word. Here each of these has a place and a message.

use std::collections::BTreeMap;

use super::pairs::{Broken, Pair, Pairs};
use super::words::letters_of;

/// An entity with its checked pairs.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Record {
    /// Its kind, as the crate is told: attributes of blocks are texts.
    pub(super) kind: &'static str,
    pub(super) handle: String,
    pub(super) layer: String,
    pub(super) place: usize,
    /// True if it is on a sheet of paper rather than in the drawing, or switched off by itself.
    pub(super) aside: bool,
    pub(super) pairs: Vec<(i32, String)>,
}

/// An entity of a kind that is not read.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Stranger {
    pub(super) kind: String,
    pub(super) handle: String,
    pub(super) layer: String,
    pub(super) place: usize,
    /// As in [`Record::aside`].
    pub(super) aside: bool,
}

/// A block, to be put in at any number of places.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Block {
    pub(super) base: [f64; 2],
    /// True if what is in it lies in another file.
    pub(super) is_elsewhere: bool,
    /// Its entities, as a range of all records.
    pub(super) records: std::ops::Range<usize>,
    pub(super) strangers: Vec<Stranger>,
}

/// What came through.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Sieved {
    /// The header's code for the unit of length.
    pub(super) unit_code: Option<i64>,
    /// Names of layers that are frozen, in small letters.
    pub(super) frozen_layers: Vec<String>,
    /// Names of layers that are off, in small letters.
    pub(super) off_layers: Vec<String>,
    /// All records: those of blocks, and those of the drawing.
    pub(super) records: Vec<Record>,
    /// Which of them are the drawing's own.
    pub(super) own: std::ops::Range<usize>,
    pub(super) blocks: BTreeMap<String, Block>,
    pub(super) strangers: Vec<Stranger>,
}

/// More than any template has, and few enough to hold in memory.
const MOST_RECORDS: usize = 100_000;

/// The kinds that are read, with the group codes that say where they run.
const KINDS: [(&str, &str, &[i32]); 13] = [
    ("LINE", "LINE", &[10, 20, 30, 11, 21, 31]),
    ("ARC", "ARC", &[10, 20, 40, 50, 51, 210, 220, 230]),
    ("CIRCLE", "CIRCLE", &[10, 20, 40, 210, 220, 230]),
    ("ELLIPSE", "ELLIPSE", &[10, 20, 11, 21, 31, 40, 41, 42, 210, 220, 230]),
    ("LWPOLYLINE", "LWPOLYLINE", &[10, 20, 42, 70, 210, 220, 230]),
    ("POLYLINE", "POLYLINE", &[70, 210, 220, 230]),
    ("VERTEX", "VERTEX", &[10, 20, 30, 42, 70]),
    ("SPLINE", "SPLINE", &[70, 71, 40, 41, 10, 20, 30, 11, 21, 31]),
    ("TEXT", "TEXT", &[10, 20, 40, 1, 50, 72, 73, 11, 21, 210, 220, 230]),
    ("ATTRIB", "TEXT", &[10, 20, 40, 1, 50, 72, 11, 21, 210, 220, 230]),
    ("MTEXT", "MTEXT", &[10, 20, 40, 1, 3, 11, 21, 50, 210, 220, 230]),
    ("INSERT", "INSERT", &[2, 10, 20, 41, 42, 50, 70, 71, 44, 45, 210, 220, 230]),
    ("SEQEND", "SEQEND", &[]),
];

/// Group codes whose values are numbers with decimals, among those above.
const fn is_double(code: i32) -> bool {
    matches!(code, 10..=59 | 210..=239)
}

/// An entity as it is being read.
struct Open {
    record: Option<Record>,
    stranger: Stranger,
    codes: &'static [i32],
    /// How deep in groups of an application's own data.
    group: usize,
    /// True once the rest belongs to something else: an application's data, or an object within.
    done: bool,
}

/// Where in the file we are.
#[derive(Clone, PartialEq)]
enum Section {
    /// Between sections.
    None,
    Header(String),
    Tables,
    Blocks,
    Entities,
    Other,
}

struct Reader {
    out: Sieved,
    section: Section,
    open: Option<Open>,
    /// The block that is being read, with its name and the records before it.
    block: Option<(String, Block)>,
    /// The entry of the table of layers that is being read: name, off, frozen.
    layer: Option<(String, bool, bool)>,
    /// True right after 0 SECTION.
    named: bool,
    /// Where the section or block started.
    since: usize,
    /// True within a polyline, whose vertices follow it.
    in_polyline: bool,
    entities: Vec<Record>,
}

pub(super) fn sieve(pairs: Pairs<'_>) -> Result<Sieved, Broken> {
    let mut r = Reader {
        out: Sieved::default(),
        section: Section::None,
        open: None,
        block: None,
        layer: None,
        named: false,
        since: 0,
        in_polyline: false,
        entities: Vec::new(),
    };
    let mut last = 0;
    let mut any = false;
    for pair in pairs {
        let pair = pair?;
        last = pair.place;
        if !any && (pair.code != 0 || pair.value.trim() != "SECTION") {
            let given = format!("group code {} with \"{}\"", pair.code, super::shortened(&pair.value));
            return Err(Broken { place: last, given, expected: "a DXF file: 0 and SECTION come first" });
        }
        any = true;
        if r.take(&pair)? {
            let start = r.out.records.len();
            r.out.records.append(&mut r.entities);
            r.out.own = start..r.out.records.len();
            return Ok(r.out);
        }
    }
    let given = if any { "the end of the file before 0 and EOF" } else { "an empty file" };
    Err(Broken { place: last, given: given.to_owned(), expected: "a whole DXF file; this one was cut off" })
}

impl Reader {
    /// Takes in a pair; true at the end of the file.
    fn take(&mut self, pair: &Pair<'_>) -> Result<bool, Broken> {
        let value = pair.value.trim();
        let wrong = |given: String, expected: &'static str| Broken { place: pair.place, given, expected };
        if self.named {
            self.named = false;
            if pair.code != 2 {
                return Err(wrong(format!("group code {}", pair.code), "2 with the name of the section"));
            }
            self.section = match value {
                "HEADER" => Section::Header(String::new()),
                "TABLES" => Section::Tables,
                "BLOCKS" => Section::Blocks,
                "ENTITIES" => Section::Entities,
                _ => Section::Other,
            };
            return Ok(false);
        }
        if pair.code == 0 {
            self.finish_entity()?;
            self.finish_layer();
            return self.start(pair, value);
        }
        match &mut self.section {
            Section::None => {
                let given = format!("group code {} between sections", pair.code);
                return Err(wrong(given, "0 with SECTION or EOF"));
            }
            Section::Header(variable) => {
                if pair.code == 9 {
                    value.clone_into(variable);
                } else if variable == "$INSUNITS" {
                    self.out.unit_code = value.parse::<f64>().ok().filter(|v| v.is_finite()).map(|v| v as i64);
                }
            }
            Section::Tables => {
                if let Some((name, off, frozen)) = &mut self.layer {
                    match pair.code {
                        2 => *name = letters_of(value),
                        62 => *off |= value.starts_with('-'),
                        70 => *frozen |= value.parse::<i64>().is_ok_and(|v| v & 1 == 1),
                        _ => {}
                    }
                }
            }
            Section::Blocks | Section::Entities => self.content(pair, value)?,
            Section::Other => {}
        }
        Ok(false)
    }

    /// A pair of code 0.
    fn start(&mut self, pair: &Pair<'_>, value: &str) -> Result<bool, Broken> {
        let wrong = |expected: &'static str| Broken {
            place: pair.place,
            given: format!("0 with \"{}\"", super::shortened(value)),
            expected,
        };
        match (&self.section, value) {
            (Section::None, "SECTION") => {
                self.named = true;
                self.since = pair.place;
            }
            (Section::None, "EOF") => return Ok(true),
            (Section::None, _) => return Err(wrong("0 with SECTION or EOF")),
            (_, "ENDSEC") => {
                if self.block.is_some() {
                    return Err(wrong("ENDBLK: the block before it has not ended"));
                }
                self.in_polyline = false;
                self.section = Section::None;
            }
            (_, "SECTION" | "EOF") => return Err(wrong("ENDSEC: the section before it has not ended")),
            (Section::Tables, "LAYER") => self.layer = Some((String::new(), false, false)),
            (Section::Blocks, "BLOCK") => {
                if self.block.is_some() {
                    return Err(wrong("ENDBLK: the block before it has not ended"));
                }
                let at = self.out.records.len();
                self.block = Some((String::new(), Block { records: at..at, ..Block::default() }));
            }
            (Section::Blocks, "ENDBLK") => {
                let Some((name, mut block)) = self.block.take() else { return Err(wrong("BLOCK before ENDBLK")) };
                self.in_polyline = false;
                block.records.end = self.out.records.len();
                self.out.blocks.insert(name.to_lowercase(), block);
            }
            (Section::Blocks, _) if self.block.is_none() => return Err(wrong("BLOCK, ENDBLK or ENDSEC")),
            (Section::Blocks | Section::Entities, _) => self.open_entity(pair, value)?,
            _ => {}
        }
        Ok(false)
    }

    fn open_entity(&mut self, pair: &Pair<'_>, value: &str) -> Result<(), Broken> {
        let known = KINDS.iter().find(|k| k.0 == value);
        if value == "VERTEX" && !self.in_polyline {
            let expected = "POLYLINE before its vertices";
            return Err(Broken { place: pair.place, given: "a VERTEX by itself".to_owned(), expected });
        }
        if value != "VERTEX" {
            self.in_polyline = value == "POLYLINE";
        }
        if self.out.records.len() + self.entities.len() >= MOST_RECORDS {
            let given = format!("more than {MOST_RECORDS} entities");
            return Err(Broken { place: pair.place, given, expected: "fewer: delete what is not needed" });
        }
        let stranger = Stranger {
            kind: super::shortened(value),
            handle: String::new(),
            layer: "0".to_owned(),
            place: pair.place,
            aside: false,
        };
        let record = known.map(|k| Record {
            kind: k.1,
            handle: String::new(),
            layer: "0".to_owned(),
            place: pair.place,
            aside: false,
            pairs: Vec::new(),
        });
        self.open = Some(Open { record, stranger, codes: known.map_or(&[], |k| k.2), group: 0, done: false });
        Ok(())
    }

    /// A pair within an entity or at the head of a block.
    fn content(&mut self, pair: &Pair<'_>, value: &str) -> Result<(), Broken> {
        let Some(open) = &mut self.open else {
            if let Some((name, block)) = &mut self.block {
                match pair.code {
                    2 => value.clone_into(name),
                    10 | 20 => block.base[usize::from(pair.code == 20)] = number(pair, value)?,
                    // 4: an external reference, 8: one that is laid over the drawing.
                    70 => block.is_elsewhere = value.parse::<i64>().is_ok_and(|v| v & (4 | 8) != 0),
                    _ => {}
                }
            }
            return Ok(());
        };
        match pair.code {
            // A group of an application's own data stands in braces; what follows 101 is an object within; from 1000 on all is foreign.
            102 => {
                if value.starts_with('{') {
                    open.group += 1;
                } else {
                    open.group = open.group.saturating_sub(1);
                }
            }
            101 => open.done = true,
            c if c >= 1000 => open.done = true,
            _ if open.group > 0 || open.done => {}
            5 | 8 => {
                // Names of layers are kept whole: two may begin alike.
                let text = if pair.code == 8 { letters_of(value) } else { super::shortened(value) };
                let (handle, layer) = match &mut open.record {
                    Some(r) => (&mut r.handle, &mut r.layer),
                    None => (&mut open.stranger.handle, &mut open.stranger.layer),
                };
                *(if pair.code == 5 { handle } else { layer }) = text;
            }
            60 | 67 | 70 if pair.code != 70 || open.stranger.kind == "ATTRIB" => {
                // Of an attribute of a block, bit 1 of 70 says that it is not to be seen.
                let aside = value.parse::<i64>().is_ok_and(|v| v & 1 == 1);
                open.stranger.aside |= aside;
                if let Some(r) = &mut open.record {
                    r.aside |= aside;
                }
            }
            code if open.codes.contains(&code) => {
                let text = if is_double(code) {
                    format!("{:?}", number(pair, value)?)
                } else if code < 10 {
                    // Texts keep their spaces, but a line end within would break the pairs that the crate is given.
                    pair.value.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
                } else {
                    let n = value.parse::<f64>().ok().filter(|v| v.abs() <= 32_767.0 && v.fract() == 0.0);
                    let Some(n) = n else {
                        let given = format!("\"{}\" for group code {code}", super::shortened(value));
                        return Err(Broken { place: pair.place, given, expected: "a whole number up to 32767" });
                    };
                    format!("{n}")
                };
                if let Some(r) = &mut open.record {
                    r.pairs.push((code, text));
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn finish_entity(&mut self) -> Result<(), Broken> {
        let Some(open) = self.open.take() else { return Ok(()) };
        let to_block = self.section == Section::Blocks;
        match open.record {
            Some(record) => {
                if record.kind == "INSERT" && !record.pairs.iter().any(|p| p.0 == 2) {
                    let given = format!("an INSERT (handle {}) that names no block", record.handle);
                    return Err(Broken { place: record.place, given, expected: "group code 2 with the block's name" });
                }
                if to_block { self.out.records.push(record) } else { self.entities.push(record) }
            }
            None => match &mut self.block {
                Some((_, block)) if to_block => block.strangers.push(open.stranger),
                _ => self.out.strangers.push(open.stranger),
            },
        }
        Ok(())
    }

    fn finish_layer(&mut self) {
        let Some((name, off, frozen)) = self.layer.take() else { return };
        if frozen {
            self.out.frozen_layers.push(name.to_lowercase());
        } else if off {
            self.out.off_layers.push(name.to_lowercase());
        }
    }
}

/// A finite number.
fn number(pair: &Pair<'_>, value: &str) -> Result<f64, Broken> {
    value.parse::<f64>().ok().filter(|v| v.is_finite() && v.abs() <= 1e15).ok_or_else(|| Broken {
        place: pair.place,
        given: format!("\"{}\" for group code {}", super::shortened(value), pair.code),
        expected: "a finite number",
    })
}
