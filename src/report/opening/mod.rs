//! The sheet of an opening: how it is cut, held and carried. In: a question and an [`OpeningSheet`]. Out: [`Scene`]s, the
//! first with the drawing, others if the tables need more room; and the same in text. Decides nothing about the opening.

mod drawing;
mod words;

pub(super) use words::{Section, sections, verdict};

use super::Settings;
use super::flow::{self, Block, Cell, Row};
use super::placer::Placer;
use super::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use super::sheet::short_name;
use super::text::{self, LEAST_SIZE};
use super::told::ranges;
use crate::geom::{BBox, Point, Pose, pt};
use crate::model::openings::{OpeningSheet, Openings};
use crate::model::{Opening, Piece, Plan, Question, Slab};
use crate::units::{Decimal, Shown};

/// Distance of everything from the paper's edge, mm.
const MARGIN: f64 = 7.0;
/// Height of the title block, mm.
const TITLE: f64 = 17.0;
/// Width of the tables, mm, and the distance between them.
const COLUMN: f64 = 68.0;
const GUTTER: f64 = 2.5;
/// Share of the height that the drawing may take.
const SHARE: f64 = 0.6;
/// Room round the drawing for words, mm.
const PAD: f64 = 9.0;
/// More pages than this hold any sheet; they bound the work.
const MOST_PAGES: usize = 8;

const SCREENING: &str = "Screening, not engineering: a qualified person judges stone, supports and site. Local codes and the \
                         instructions of the fixture and of the stone's supplier go before this sheet.";

/// Sheets that are alike but for the copy of the piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alike {
    /// Index of the first of them in [`Openings::openings`].
    pub first: usize,
    /// Names of all pieces that it holds for.
    pub pieces: Vec<String>,
}

impl Alike {
    /// The pieces in words: "bench", or "bench #1 to #4".
    #[must_use]
    pub fn name(&self) -> String {
        let copy = |name: &str| {
            let (head, number) = name.rsplit_once(" #")?;
            Some((head.to_owned(), number.parse::<usize>().ok()?))
        };
        let copies: Option<Vec<(String, usize)>> = self.pieces.iter().map(|p| copy(p)).collect();
        match copies {
            Some(all) if all.len() > 1 && all.iter().all(|c| c.0 == all[0].0) => {
                let mut numbers: Vec<usize> = all.iter().map(|c| c.1).collect();
                numbers.sort_unstable();
                format!("{} {}", all[0].0, ranges(&numbers, "#"))
            }
            _ => self.pieces.join(", "),
        }
    }
}

/// Puts sheets together that are alike but for the copy of the piece, in their order.
#[must_use]
pub fn alike(question: &Question, openings: &Openings) -> Vec<Alike> {
    let kind = |s: &OpeningSheet| find(question, s).map(|(piece, _)| piece.kind);
    let mut out: Vec<Alike> = Vec::new();
    for (i, sheet) in openings.openings.iter().enumerate() {
        let same = |a: &Alike| {
            let first = &openings.openings[a.first];
            kind(first) == kind(sheet)
                && first.opening == sheet.opening
                && *first == OpeningSheet { piece: first.piece.clone(), ..sheet.clone() }
        };
        match out.iter_mut().find(|a| same(a)) {
            Some(a) => a.pieces.push(sheet.piece.clone()),
            None => out.push(Alike { first: i, pieces: vec![sheet.piece.clone()] }),
        }
    }
    out
}

/// The piece and the opening that a sheet is about.
#[must_use]
pub fn find<'q>(question: &'q Question, sheet: &OpeningSheet) -> Option<(&'q Piece, &'q Opening)> {
    let job = question.jobs.iter().find(|j| j.name == sheet.job)?;
    let piece = job.pieces.iter().find(|p| p.name == sheet.piece)?;
    Some((piece, piece.openings.iter().find(|o| o.name == sheet.opening)?))
}

/// The sheets of one opening. With a plan they show how it lies on its slab. `name` is what the piece or its copies are
/// called.
#[must_use]
pub fn scenes(
    question: &Question,
    plan: Option<&Plan>,
    sheet: &OpeningSheet,
    name: &str,
    settings: &Settings,
) -> Vec<Scene> {
    let Some((piece, opening)) = find(question, sheet) else { return Vec::new() };
    let slab = question.rack.iter().find(|s| Some(&s.name) == sheet.slab.as_ref());
    let pose = plan.and_then(|p| {
        let placed = p.layouts.iter().flat_map(|l| &l.placed);
        placed.into_iter().find(|q| q.job == sheet.job && q.piece == sheet.piece).map(crate::model::Placed::pose)
    });
    Builder {
        sheet,
        piece,
        opening,
        slab,
        pose,
        name,
        settings,
        items: Vec::new(),
        placer: Placer::new(BBox::EMPTY),
        scale: 1.0,
        origin: pt(0.0, 0.0),
        window: BBox::EMPTY,
        left_out: 0,
    }
    .build()
}

struct Builder<'a> {
    sheet: &'a OpeningSheet,
    piece: &'a Piece,
    opening: &'a Opening,
    slab: Option<&'a Slab>,
    /// Where the piece lies on the slab, with a plan.
    pose: Option<Pose>,
    name: &'a str,
    settings: &'a Settings,
    items: Vec<Item>,
    placer: Placer,
    scale: f64,
    origin: Point,
    /// What the drawing shows of the piece frame.
    window: BBox,
    left_out: usize,
}

/// Scales of the drawing; more follow by doubling the last.
const SCALES: [f64; 19] =
    [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0, 10.0, 12.0, 12.5, 15.0, 16.0, 20.0, 25.0, 30.0, 40.0];

impl Builder<'_> {
    fn build(mut self) -> Vec<Scene> {
        let paper = self.settings.paper.size();
        let frame = BBox { min: pt(MARGIN, MARGIN), max: pt(paper.0 - MARGIN, paper.1 - MARGIN) };
        let floor = frame.min.y + TITLE + 2.0;
        // The drawing gets most of the width: what cannot be read there is no help.
        let step = COLUMN + GUTTER;
        let right = (frame.width() * 0.3 / step).floor().max(1.0);
        let room = (frame.width() - right * step, (frame.max.y - floor) * SHARE);
        self.window = self.wanted();
        let fits =
            |s: f64| self.window.width() / s + 2.0 * PAD <= room.0 && self.window.height() / s + 2.0 * PAD <= room.1;
        let doubled = (1..20).map(|k| SCALES[SCALES.len() - 1] * f64::from(1 << k));
        self.scale = SCALES.into_iter().chain(doubled).find(|&s| fits(s)).unwrap_or(1e6);
        let high = (self.window.height() / self.scale + 2.0 * PAD).min(room.1);
        let area = BBox { min: pt(frame.min.x, frame.max.y - high), max: pt(frame.min.x + room.0, frame.max.y) };
        self.origin = area.centre() - self.window.centre() * (1.0 / self.scale);
        self.placer = Placer::new(area);
        self.draw();
        let mut columns = Vec::new();
        for i in 0..right as usize {
            let x = frame.min.x + room.0 + GUTTER + i as f64 * step;
            columns.push(BBox { min: pt(x, floor), max: pt(x + COLUMN, frame.max.y) });
        }
        let below = ((room.0 + GUTTER) / step).floor() as usize;
        for i in 0..below {
            let x = frame.min.x + i as f64 * step;
            columns.push(BBox { min: pt(x, floor), max: pt(x + COLUMN, area.min.y - 1.0) });
        }
        // Further pages lie beside the first, each a paper's width farther on.
        let whole = ((frame.width() + GUTTER) / step).floor() as usize;
        for page in 1..MOST_PAGES {
            for i in 0..whole {
                let x = page as f64 * paper.0 + frame.min.x + i as f64 * step;
                columns.push(BBox { min: pt(x, floor), max: pt(x + COLUMN, frame.max.y) });
            }
        }
        let flowed = flow::flow(&self.blocks(), &columns);
        let mut pages: Vec<Vec<Item>> = vec![std::mem::take(&mut self.items)];
        for item in flowed.items {
            let page = (item.bbox().min.x / paper.0).floor().max(0.0) as usize;
            while pages.len() <= page {
                pages.push(Vec::new());
            }
            pages[page].push(item.moved(pt(-(page as f64) * paper.0, 0.0)));
        }
        let count = pages.len();
        let title = format!("{}, {}, {}", self.sheet.job, self.name, self.sheet.opening);
        pages
            .into_iter()
            .enumerate()
            .map(|(i, mut items)| {
                items.extend(self.title_block(&frame, (i + 1, count), flowed.left_out));
                items.sort_by_key(|i| i.layer);
                Scene {
                    title: text::clean(&title),
                    paper,
                    scale: self.scale,
                    origin: self.origin,
                    items,
                    left_out: if i == 0 { self.left_out } else { 0 },
                    rows_left_out: flowed.left_out,
                }
            })
            .collect()
    }

    fn blocks(&self) -> Vec<Block> {
        words::sections(self.sheet, self.settings.shown)
            .into_iter()
            .map(|section| {
                let rule = Item::line(
                    Layer::Margin,
                    vec![pt(0.0, 0.35), pt(COLUMN, 0.35)],
                    Stroke::solid(Colour::BLACK, 0.25),
                );
                let mut heading: Vec<Row> = text::wrap(&section.heading, 3.0, true, COLUMN)
                    .iter()
                    .map(|line| {
                        let cell = Cell { content: line, x: 0.0, anchor: Anchor::Start, room: COLUMN, bold: true };
                        Row::sized(&[cell], 3.0, 3.9)
                    })
                    .collect();
                if let Some(last) = heading.last_mut() {
                    last.height += 0.7;
                    last.items.push(rule.moved(pt(0.0, -last.height)));
                }
                let tags = section.entries.iter().map(|e| text::width(&e.tag, LEAST_SIZE, true)).fold(0.0, f64::max);
                let indent = if tags > 0.0 { (tags + 1.5).min(COLUMN / 3.0) } else { 0.0 };
                let groups = section.entries.iter().map(|e| entry(e, indent)).collect();
                Block { heading, groups }
            })
            .collect()
    }

    fn title_block(&self, frame: &BBox, (page, of): (usize, usize), left_out: usize) -> Vec<Item> {
        let mut out = Vec::new();
        let top = frame.min.y + TITLE;
        let thick = Stroke::solid(Colour::BLACK, 0.4);
        out.push(Item::line(Layer::Margin, vec![pt(frame.min.x, top), pt(frame.max.x, top)], thick));
        let mut put = |s: &str, x: f64, y: f64, anchor, size: f64, bold: bool| {
            let mut t = Text::new(s, pt(x, y), anchor, size);
            t.bold = bold;
            out.push(Item::text(Layer::Margin, t));
        };
        let (left, right) = (frame.min.x, frame.max.x);
        let (word, meaning) = words::verdict(self.sheet.verdict);
        let verdict = format!("{word}: {meaning}");
        let long = text::width(&verdict, 4.0, true);
        put(&verdict, right, top - 5.0, Anchor::End, 4.0, true);
        let name = format!("{}: {}", self.name, called(self.sheet));
        put(&short_name(&name, 4.0, true, right - left - long - 6.0), left, top - 5.0, Anchor::Start, 4.0, true);
        let stone = match (self.slab, self.pose) {
            (Some(slab), Some(_)) => format!("on slab {}", slab.name),
            (Some(slab), None) => format!("worked out for slab {}", slab.name),
            (None, _) => "no slab of the rack qualifies".to_owned(),
        };
        let stone = self.slab.map_or(stone.clone(), |s| {
            format!("{stone}, {}, {} thick", s.stone.name(), self.settings.shown.length(s.thickness))
        });
        let sheet = if of > 1 { format!("; page {page} of {of}") } else { String::new() };
        let scale = if page == 1 {
            format!("; drawing 1:{}, seen from above, face up", Decimal(self.scale, 1))
        } else {
            String::new()
        };
        let line = format!("{}; {stone}{scale}; {}{sheet}", self.sheet.job, self.settings.paper.name());
        put(&text::shorten(&line, LEAST_SIZE, false, right - left), left, top - 8.6, Anchor::Start, LEAST_SIZE, false);
        let mut caution = SCREENING.to_owned();
        if left_out > 0 {
            caution = format!("{left_out} entries found no room: see openings.txt. {caution}");
        }
        for (i, l) in text::wrap(&caution, LEAST_SIZE, false, right - left).iter().take(2).enumerate() {
            let y = top - 12.2 - i as f64 * LEAST_SIZE * text::PITCH;
            put(l, left, y, Anchor::Start, LEAST_SIZE, false);
        }
        out
    }
}

/// An entry as rows: its tag on the left, its words beside it; a tag that is too long for its room stands above them.
fn entry(e: &words::Entry, indent: f64) -> Vec<Row> {
    let mut rows = Row::paragraph(&e.text, indent, COLUMN, e.bold);
    if !e.tag.is_empty() {
        let cell = Cell { content: &e.tag, x: 0.0, anchor: Anchor::Start, room: indent - 0.8, bold: true };
        if let Some(first) = rows.first_mut() {
            first.items.extend(Row::cells(&[cell]).items);
        }
    }
    if let Some(last) = rows.last_mut() {
        last.height += 0.5;
    }
    rows
}

/// The name of an opening, and what it is for where that says more.
fn called(sheet: &OpeningSheet) -> String {
    let kind = sheet.kind.name();
    if sheet.opening == kind { kind.to_owned() } else { format!("{}, {kind}", sheet.opening) }
}

/// All sheets as text.
#[must_use]
pub fn text_of(question: &Question, openings: &Openings, shown: Shown) -> String {
    /// Characters in a line.
    const WIDE: usize = 100;
    let mut out = String::new();
    for group in alike(question, openings) {
        let Some(sheet) = openings.openings.get(group.first) else { continue };
        let title = format!("{}: {} ({})", group.name(), called(sheet), sheet.job);
        let title = text::clean(&title);
        if !out.is_empty() {
            out.push('\n');
        }
        out += &format!("{title}\n{}\n", "=".repeat(title.chars().count().min(WIDE)));
        if let Some(slab) = question.rack.iter().find(|s| Some(&s.name) == sheet.slab.as_ref()) {
            let stone = format!("{}, {} thick", slab.stone.name(), shown.length(slab.thickness));
            out += &format!("slab {}: {stone}\n", text::clean(&slab.name));
        }
        for section in words::sections(sheet, shown) {
            out += &format!("\n{}\n", text::clean(&section.heading));
            let tags = section.entries.iter().map(|e| e.tag.chars().count()).max().unwrap_or(0);
            for e in &section.entries {
                let pad = " ".repeat(tags - e.tag.chars().count());
                let lead = if tags > 0 { format!("  {}{pad}  ", e.tag) } else { "  ".to_owned() };
                push_wrapped(&mut out, &text::clean(&lead), &text::clean(&e.text), WIDE);
            }
        }
    }
    if !out.is_empty() {
        out += "\n";
        push_wrapped(&mut out, "", SCREENING, WIDE);
    }
    out
}

/// Words behind a lead, further lines as far in.
fn push_wrapped(out: &mut String, lead: &str, words: &str, wide: usize) {
    let indent = lead.chars().count();
    let mut line = lead.to_owned();
    let mut empty = true;
    for word in words.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > wide {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
}
