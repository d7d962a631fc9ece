//! The papers that go with a plan into the shop, as [`Scene`]s: slabs for chalking, pieces with their dimensions, labels,
//! templates. In: a question, a judged plan, the sheets of its openings, the pieces as loads. Out: pages, every decision
//! taken. Works out nothing about stone, and knows no file format.
//!
//! Every page is dressed alike ([`Work::dress`]): what it shows, the jobs, which plan, the scale, its number, a bar of a
//! known length to measure the print by, and the cautions. If the plan breaks rules every page says so.

mod dims;
mod labels;
mod piece;
mod slab;
mod templates;

pub use dims::spread;
pub use labels::labels;
pub use piece::pieces;
pub use slab::slabs;
pub use templates::templates;

use super::Settings;
use super::held;
use super::scene::{Anchor, Colour, Item, Layer, Scene, Stroke, Text};
use super::template::CheckBar;
use super::text::{self, LEAST_SIZE};
use crate::geom::{BBox, Point, pt};
use crate::model::openings::{CarryVerdict, Load, OpeningSheet, Openings, State};
use crate::model::{Grade, Job, Piece, Placed, Plan, PlanNumber, Question, Rule, Slab, StoneClass};
use crate::units::{Decimal, MM_PER_INCH, Shown};

/// Distance of everything from the paper's edge, mm: printers leave 5 mm or a little more blank.
const MARGIN: f64 = 7.0;
/// Room of the check bar with its words, right of the words of the strip, beyond the bar itself, mm.
const BESIDE_BAR: f64 = 8.0;
/// Height of the banner that says that the plan must not be cut, mm.
const BANNER: f64 = 8.0;
/// Font size of the title of a page, mm.
const TITLE: f64 = 3.8;

const CAUTIONS: &str = "Silica dust harms lungs for good: cut and grind wet, clean wet, wear a respirator (protection factor 20 or more). \
                        Slabs and tops kill when they fall: lift with enough people, stand out of the fall shadow. Wet tools on a \
                        residual-current device. Eye and hearing protection; no loose gloves near a turning blade. Check all \
                        measurements before cutting. Screening, not engineering: local codes and qualified people go before this sheet.";
const QUARTZ: &str = " Engineered quartz can be more than 90 % silica: its dust is the worst of all, and some countries forbid the work.";

const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);

/// A placed piece as a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Burden {
    /// Mass, hands, what is up.
    pub load: Load,
    /// Cautions for those who carry it.
    pub cautions: Vec<String>,
}

/// What the papers are made from.
#[derive(Clone, Copy, Debug)]
pub struct Work<'a> {
    /// Jobs, rack, shop.
    pub question: &'a Question,
    /// The plan, with the judge's findings.
    pub plan: &'a Plan,
    /// The sheets of all openings as they lie in the plan.
    pub openings: &'a Openings,
    /// For every layout of the plan and every piece on it, in their order: the piece as a load. Missing or `None`: not known,
    /// and the papers say so.
    pub burdens: &'a [Vec<Option<Burden>>],
    /// Photographs of the slabs.
    pub backdrops: &'a crate::report::Backdrops,
    /// Units and paper.
    pub settings: Settings,
}

/// A placed piece with all that belongs to it.
#[derive(Clone, Copy)]
struct Cut<'a> {
    layout: usize,
    /// Its number on the sheet of its slab, from 1.
    number: usize,
    placed: &'a Placed,
    job: &'a Job,
    piece: &'a Piece,
    slab: &'a Slab,
    burden: Option<&'a Burden>,
}

impl Cut<'_> {
    /// Length, depth and thickness.
    fn size(&self, shown: Shown) -> String {
        let (w, h) = self.piece.size();
        let [w, h, t] = [w, h, self.slab.thickness].map(|v| shown.bare_length(v));
        format!("{w} × {h} × {t} {}", shown.unit())
    }

    /// Mass before and after its openings are cut.
    fn mass(&self, shown: Shown) -> String {
        self.burden.map_or_else(
            || "mass not known".to_owned(),
            |b| {
                let (whole, cut) = (b.load.mass_kg, b.load.mass_cut_kg);
                if self.piece.openings.is_empty() {
                    shown.mass(whole)
                } else {
                    format!("{}, with its openings cut {}", shown.mass(whole), shown.mass(cut))
                }
            },
        )
    }

    /// How many carry it, with what is to be said of that, and how.
    fn people(&self, more: &str) -> String {
        match self.burden.map(|b| b.load.people) {
            Some(1) => format!("1 person to carry it{more}, on edge"),
            Some(n) if n < u32::MAX => format!("{n} people to carry it{more}, on edge"),
            _ => "how many people carry it is not known; on edge".to_owned(),
        }
    }

    /// What is held of its openings, in short: those that must not be cut first.
    fn orders(&self, plan: &Plan) -> Vec<String> {
        let mut all: Vec<_> = plan.held_of(&self.job.name, &self.piece.name).collect();
        all.sort_by_key(|h| !h.is_stopped());
        all.into_iter().map(held::order).collect()
    }
}

/// A page before it is dressed.
struct Draft {
    /// What it shows.
    title: String,
    /// Slab or piece millimetres per paper millimetre, if it is a drawing.
    scale: Option<f64>,
    origin: Point,
    items: Vec<Item>,
    left_out: usize,
    rows_left_out: usize,
}

impl Draft {
    /// What found no room, in words.
    fn lacks(&self) -> String {
        let mut out = String::new();
        match self.left_out {
            0 => {}
            1 => out += "; 1 mark found no room: see the tables",
            n => out += &format!("; {n} marks found no room: see the tables"),
        }
        if self.rows_left_out > 0 {
            out += &format!("; {} ROWS OF TABLES DO NOT FIT: TAKE LARGER PAPER", self.rows_left_out);
        }
        out
    }
}

impl<'a> Work<'a> {
    /// The placed pieces that can be shown, in the order in which the plan has them.
    fn cuts(&self) -> Vec<Cut<'a>> {
        let mut out = Vec::new();
        for (layout, l) in self.plan.layouts.iter().enumerate() {
            let Some(slab) = self.question.rack.iter().find(|s| s.name == l.slab) else { continue };
            for (i, placed) in l.placed.iter().enumerate() {
                let job = self.question.jobs.iter().find(|j| j.name == placed.job);
                let piece = job.and_then(|j| j.pieces.iter().find(|p| p.name == placed.piece));
                let burden = self.burdens.get(layout).and_then(|b| b.get(i)).and_then(Option::as_ref);
                if let (Some(job), Some(piece)) = (job, piece) {
                    out.push(Cut { layout, number: i + 1, placed, job, piece, slab, burden });
                }
            }
        }
        out
    }

    /// The sheets of a piece's openings, in the order of the piece.
    fn sheets(&self, cut: &Cut<'_>) -> Vec<Option<&'a OpeningSheet>> {
        let of = |opening: &str| {
            let own = |s: &&OpeningSheet| s.job == cut.job.name && s.piece == cut.piece.name && s.opening == opening;
            self.openings.openings.iter().find(own)
        };
        cut.piece.openings.iter().map(|o| of(&o.name)).collect()
    }

    /// How a piece is carried, with what is to be said of the number of people, and which edge is up if that is wanted: only uncut
    /// where it does not survive it with its openings cut, and not at all where it does not even survive that.
    fn carried(&self, cut: &Cut<'_>, more: &str, with_edge: bool) -> String {
        let up = cut.burden.and_then(|b| b.load.up.as_ref()).filter(|_| with_edge);
        let up = up.map_or_else(String::new, |side| format!(", {side} edge up"));
        let people = format!("{}{up}", cut.people(more));
        let sheets = self.sheets(cut);
        let stopped = |s: &&&OpeningSheet| s.carrying.as_ref().is_some_and(|c| c.verdict == CarryVerdict::Stop);
        let Some(sheet) = sheets.iter().flatten().find(stopped) else { return people };
        let on_edge = ["on edge", "on a frame on the road"];
        let whole = sheet.handling.iter().filter(|h| h.state == State::Whole && on_edge.contains(&h.case.as_str()));
        if whole.into_iter().any(|h| h.r#use > 1.0) {
            "do not carry it: it does not hold, cut or uncut".to_owned()
        } else {
            format!("before it is cut: {people}")
        }
    }

    /// True if the judge found a broken rule other than a piece without a place, which does not forbid to cut the others.
    fn breaks_rules(&self) -> bool {
        self.plan.findings.iter().any(|f| f.grade == Grade::Broken && f.rule != Rule::Unplaced)
    }

    /// What every page must say of a plan that is not to be cut as it is; `None` for a sound one.
    #[must_use]
    pub fn warning(&self) -> Option<String> {
        let broken = |f: &&crate::model::Finding| f.grade == Grade::Broken;
        let rules = self.plan.findings.iter().filter(broken).filter(|f| f.rule != Rule::Unplaced).count();
        let unplaced = self.plan.findings.iter().filter(broken).filter(|f| f.rule == Rule::Unplaced).count();
        if rules > 0 {
            let n = if rules == 1 { "1 finding".to_owned() } else { format!("{rules} findings") };
            return Some(format!("THIS PLAN BREAKS RULES: DO NOT CUT ({n}; \"scantling check\" tells them)"));
        }
        match self.plan.held.iter().filter(|h| h.is_stopped()).count() {
            0 => {}
            1 => {
                return Some("DO NOT CUT AS DRAWN: 1 opening is stopped; the sheet of its piece says which".to_owned());
            }
            n => {
                return Some(format!(
                    "DO NOT CUT AS DRAWN: {n} openings are stopped; the sheets of their pieces say which"
                ));
            }
        }
        match unplaced {
            0 => None,
            1 => Some("NOT COMPLETE: 1 piece has no place in this plan".to_owned()),
            n => Some(format!("NOT COMPLETE: {n} pieces have no place in this plan")),
        }
    }

    /// The lines of the strip under a page: the words that are the same on all pages of one paper.
    fn cautions(&self, width: f64) -> Vec<String> {
        let layouts = self.plan.layouts.iter();
        let quartz = layouts.filter_map(|l| self.question.rack.iter().find(|s| s.name == l.slab));
        let quartz = quartz.into_iter().any(|s| s.stone == StoneClass::EngineeredQuartz);
        let words = if quartz { format!("{CAUTIONS}{QUARTZ}") } else { CAUTIONS.to_owned() };
        text::wrap(&words, LEAST_SIZE, false, width)
    }

    /// Height of the strip under a page of that width.
    fn strip(&self, paper: (f64, f64)) -> f64 {
        let rows = self.cautions(paper.0 - 2.0 * MARGIN).len() as f64;
        // A title and three rows beside the bar, and the cautions.
        1.4 + TITLE * text::PITCH + 3.0 * LEAST_SIZE * text::PITCH + 1.2 + rows * LEAST_SIZE * text::PITCH
    }

    /// What of a page is free for its content.
    fn room(&self, paper: (f64, f64)) -> BBox {
        let top = if self.warning().is_some() { BANNER } else { 0.0 };
        BBox { min: pt(MARGIN, MARGIN + self.strip(paper) + 1.5), max: pt(paper.0 - MARGIN, paper.1 - MARGIN - top) }
    }

    /// The pages with all that every page bears.
    fn dress(&self, paper: (f64, f64), pages: Vec<Draft>) -> Vec<Scene> {
        let of = pages.len();
        let mut out = Vec::with_capacity(of);
        for (i, page) in pages.into_iter().enumerate() {
            let mut page = page;
            let mut items = std::mem::take(&mut page.items);
            items.extend(self.banner(paper));
            items.extend(self.furniture(paper, &page, (i + 1, of)));
            items.sort_by_key(|i| i.layer);
            out.push(Scene {
                title: text::clean(&page.title),
                paper,
                scale: page.scale.unwrap_or(1.0),
                origin: page.origin,
                items,
                left_out: page.left_out,
                rows_left_out: page.rows_left_out,
            });
        }
        out
    }

    fn banner(&self, paper: (f64, f64)) -> Vec<Item> {
        let Some(words) = self.warning() else { return Vec::new() };
        let b = BBox { min: pt(MARGIN, paper.1 - MARGIN - BANNER + 1.5), max: pt(paper.0 - MARGIN, paper.1 - MARGIN) };
        let words = text::shorten(&words, 4.0, true, b.width() - 4.0);
        let mut t = Text::new(&words, pt(b.centre().x, b.min.y + 1.8), Anchor::Middle, 4.0).bold();
        t.colour = Colour::WHITE;
        vec![Item::area(Layer::Margin, b.corners().to_vec(), None, Some(Colour::BLACK)), Item::text(Layer::Margin, t)]
    }

    /// The number of the plan, as all its papers bear it.
    #[must_use]
    pub fn number(&self) -> PlanNumber {
        PlanNumber::of(self.question, self.plan, self.openings)
    }

    /// Which plan this is, in words.
    fn stamp(&self) -> String {
        format!("Plan {}, seed {}", self.number(), self.plan.seed)
    }

    fn furniture(&self, paper: (f64, f64), draft: &Draft, (page, of): (usize, usize)) -> Vec<Item> {
        let mut out = Vec::new();
        let (left, right) = (MARGIN, paper.0 - MARGIN);
        let top = MARGIN + self.strip(paper);
        let thick = Stroke::solid(Colour::BLACK, 0.4);
        out.push(Item::line(Layer::Margin, vec![pt(left, top), pt(right, top)], thick));
        let mut put = |s: &str, x: f64, y: f64, anchor, size: f64, bold: bool, room: f64| {
            let mut t = Text::new(&text::shorten(s, size, bold, room), pt(x, y), anchor, size);
            t.bold = bold;
            out.push(Item::text(Layer::Margin, t));
        };
        let step = LEAST_SIZE * text::PITCH;
        let number = format!("page {page} of {of}");
        let long = text::width(&number, TITLE, true);
        let mut y = top - 0.6 - TITLE;
        put(&number, right, y, Anchor::End, TITLE, true, right - left);
        let room = right - left - long - 4.0;
        put(&super::sheet::short_name(&draft.title, TITLE, true, room), left, y, Anchor::Start, TITLE, true, room);
        y -= TITLE * (text::PITCH - 1.0) + 0.6;
        let check = CheckBar::of(self.settings.shown);
        let room = right - left - check.long - BESIDE_BAR - 3.0;
        let paper_name = self.settings.paper.name();
        let scale = draft.scale.map_or_else(
            || format!("no scale; {paper_name}"),
            |s| format!("scale 1:{} on {paper_name}", Decimal(s, 1)),
        );
        let lengths = match self.settings.shown {
            Shown::Mm => "lengths in mm",
            Shown::In => "lengths in inches, to 1/16",
        };
        for line in [
            self.plan.jobs.join(", "),
            format!("{}; {scale}", self.stamp()),
            format!("{lengths}; polished face up, never mirrored{}", draft.lacks()),
        ] {
            y -= step;
            put(&line, left, y + 0.6, Anchor::Start, LEAST_SIZE, false, room);
        }
        let bar = pt(right - check.long - 2.0, y + 2.0 * step + 0.2);
        put(
            &format!("Print at 100 %: this bar must measure {}.", check.words()),
            bar.x + check.long / 2.0,
            y + 0.6,
            Anchor::Middle,
            LEAST_SIZE,
            false,
            check.long + BESIDE_BAR,
        );
        y -= 0.6;
        for line in self.cautions(right - left) {
            y -= step;
            put(&line, left, y + 0.6, Anchor::Start, LEAST_SIZE, false, right - left);
        }
        out.extend(check_bar(&check, bar));
        out
    }
}

/// The check bar with its ticks. What it must measure stands under it.
fn check_bar(check: &CheckBar, from: Point) -> Vec<Item> {
    let ticks = check
        .ticks()
        .map(|(x, whole)| {
            let long = if whole { 1.6 } else { 0.9 };
            vec![from + pt(x, -long), from + pt(x, long)]
        })
        .collect();
    vec![
        Item::line(Layer::Check, vec![from, from + pt(check.long, 0.0)], Stroke::solid(Colour::BLACK, 0.25)),
        Item::lines(Layer::Check, ticks, THIN),
    ]
}

/// The scales that a drawing for the shop may have, finest first: round ones for a metric rule, those of the inch rule (1 1/2 in
/// to the foot is 1:8) for inches. Coarser ones follow by doubling.
fn scales(shown: Shown) -> impl Iterator<Item = f64> {
    let (listed, last): (&[f64], f64) = match shown {
        Shown::Mm => (&[1.0, 2.0, 2.5, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0], 50.0),
        Shown::In => (&[1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 48.0], 48.0),
    };
    // The kernel's coordinates end at 1 km, so a dozen doublings suffice.
    listed.iter().copied().chain((1..=16).map(move |k| last * f64::from(1 << k)))
}

/// Steps of a grid on stone, mm of stone: the finest whose lines are `fine` mm apart on paper.
fn grid_step(shown: Shown, scale: f64, fine: f64) -> f64 {
    let steps: &[f64] = match shown {
        Shown::Mm => &[10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0],
        Shown::In => &[0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0],
    };
    let mm = if shown == Shown::In { MM_PER_INCH } else { 1.0 };
    let last = steps.last().copied().unwrap_or(1000.0);
    let doubled = (1..=16).map(|k| last * f64::from(1 << k));
    steps.iter().copied().chain(doubled).map(|s| s * mm).find(|s| s / scale >= fine).unwrap_or(last * mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_grow_and_reach_any_size() {
        for shown in [Shown::Mm, Shown::In] {
            let all: Vec<f64> = scales(shown).collect();
            assert!(all.windows(2).all(|w| w[0] < w[1]));
            assert!(all.last().is_some_and(|&s| s > 1e6));
        }
    }

    #[test]
    fn grid_steps_are_round_and_wide_enough() {
        assert!((grid_step(Shown::Mm, 15.0, 5.0) - 100.0).abs() < 1e-9);
        assert!((grid_step(Shown::In, 16.0, 5.0) - 6.0 * MM_PER_INCH).abs() < 1e-9);
        assert!(grid_step(Shown::Mm, 1e6, 5.0) / 1e6 >= 5.0);
    }
}
