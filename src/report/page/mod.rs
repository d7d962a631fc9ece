//! The report as one page for a browser. In: a question, its plans, the sheets of the openings, settings; all as values. Out:
//! HTML text that needs nothing else: no network, no server, no other file.
//!
//! The page says what the text report, the sheets of slabs and the sheets of openings say, with the same figures from the
//! same functions. Without its script it is still whole: the script moves drawings, switches layers, and shows one piece at
//! a time. A policy in the head forbids every other script and all traffic. The text is also well-formed XML.

mod drawing;
mod findings;
mod lists;
mod markup;
mod openings;
mod pieces;
mod policy;
mod price;
mod slabs;
mod summary;

use super::opening::{self, Alike};
use super::quote::{self, Table};
use super::sheet::screen::{self, Drawing};
use super::told::{Told, together};
use super::{Backdrops, Paper, Settings, text};
use crate::geom::Point;
use crate::model::openings::Openings;
use crate::model::quote::Quote;
use crate::model::{Finding, Grade, Plan, PlanNumber, Question};
use crate::report::summary::GRADES;
use crate::units::{Decimal, Shown};
use markup::Html;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");

/// What the cautions at the foot say.
const CAUTION: &str = "Silica dust: cut wet, wear respiratory protection. Check all measurements before cutting. This is a \
                       planning aid: follow local codes. Figures for carrying are screening, not engineering: a qualified \
                       person judges stone, supports and site.";

/// What the page tells. The paper of the settings is the one that it is printed on unless its reader chooses another.
#[derive(Clone, Copy, Debug)]
pub struct Content<'a> {
    /// Jobs, rack, shop.
    pub question: &'a Question,
    /// The plan, with the judge's findings.
    pub plan: &'a Plan,
    /// The plans beside it, numbered from 2.
    pub alternatives: &'a [Plan],
    /// The sheets of all openings for this plan.
    pub openings: &'a Openings,
    /// Photographs of its slabs.
    pub backdrops: &'a Backdrops,
    /// What the jobs cost; none: the page says nothing of it.
    pub quote: Option<&'a Quote>,
    /// Units and paper.
    pub settings: &'a Settings,
}

/// Everything that the page is made from.
struct Page<'a> {
    question: &'a Question,
    plan: &'a Plan,
    /// The number of the plan.
    number: PlanNumber,
    alternatives: &'a [Plan],
    openings: &'a Openings,
    /// What each job costs.
    prices: Vec<Table>,
    settings: &'a Settings,
    /// One for each layout; `None` where there is nothing to draw.
    drawings: Vec<Option<Drawing<'a>>>,
    /// Openings whose sheets are alike but for the copy of the piece.
    groups: Vec<Alike>,
    /// What the judge found, worst first.
    told: Vec<Told<'a>>,
}

/// The page. Every input gives a well-formed page, and the same input the same bytes.
#[must_use]
pub fn html(content: &Content<'_>) -> String {
    let Content { question, plan, alternatives, openings, backdrops, quote, settings } = *content;
    let drawings = (0..plan.layouts.len())
        .map(|i| screen::drawing(question, plan, i, openings, settings, backdrops.of(i)))
        .collect::<Vec<_>>();
    let prices = quote.map_or_else(Vec::new, |q| quote::rows(q, settings.shown));
    let told =
        GRADES.iter().flat_map(|(grade, _)| together(plan.findings.iter().filter(|f| f.grade == *grade))).collect();
    let groups = opening::alike(question, openings);
    let number = PlanNumber::of(question, plan, openings);
    Page { question, plan, number, alternatives, openings, prices, settings, drawings, groups, told }.print()
}

impl Page<'_> {
    fn print(&self) -> String {
        let style = policy::bracketed_style(STYLE);
        let script = policy::bracketed_script(SCRIPT);
        let papers: Vec<(Paper, String)> = Paper::NAMES.iter().map(|&(_, p)| (p, paper_rule(p))).collect();
        let mut styles = vec![style.as_str()];
        styles.extend(papers.iter().map(|p| p.1.as_str()));
        let mut h = Html::default();
        h.within("html", &[("xmlns", "http://www.w3.org/1999/xhtml"), ("lang", "en")], |h| {
            h.within("head", &[], |h| {
                h.empty("meta", &[("charset", "utf-8")]);
                let policy = policy::text(&[script.as_str()], &styles);
                h.empty("meta", &[("http-equiv", "Content-Security-Policy"), ("content", &policy)]);
                h.empty("meta", &[("name", "viewport"), ("content", "width=device-width, initial-scale=1")]);
                h.empty("meta", &[("name", "referrer"), ("content", "no-referrer")]);
                h.leaf("title", &[], &format!("Plan for {}", self.jobs()));
                h.source("style", &[], &style);
                for (paper, rule) in &papers {
                    let media = if *paper == self.settings.paper { "print" } else { "not all" };
                    h.source("style", &[("data-paper", paper.name()), ("media", media)], rule);
                }
            });
            h.within("body", &[], |h| {
                h.leaf("a", &[("class", "skip"), ("href", "#content")], "Skip to the content");
                self.header(h);
                h.within("main", &[("id", "content"), ("tabindex", "-1")], |h| {
                    self.summary(h);
                    self.findings(h);
                    self.slabs(h);
                    self.opening_sheets(h);
                    self.cut_list(h);
                    self.label_list(h);
                    self.price(h);
                });
                h.within("footer", &[], |h| h.leaf("p", &[], CAUTION));
                h.leaf("div", &[("id", "live"), ("class", "unseen"), ("role", "status")], "");
                h.source("script", &[], &script);
            });
        });
        format!("<!DOCTYPE html>\n{}\n", h.finish())
    }

    fn header(&self, h: &mut Html) {
        h.within("header", &[("class", "top")], |h| {
            h.within("nav", &[("aria-label", "Parts of the report")], |h| {
                h.within("ul", &[], |h| {
                    let mut parts = vec![("#summary", "Summary"), ("#findings", "Findings"), ("#slabs", "Slabs")];
                    if !self.openings.openings.is_empty() {
                        parts.push(("#openings", "Openings"));
                    }
                    parts.extend([("#cut-list", "Cut list"), ("#labels", "Labels")]);
                    if !self.prices.is_empty() {
                        parts.push(("#price", "Price"));
                    }
                    for (target, words) in parts {
                        h.within("li", &[], |h| h.leaf("a", &[("href", target)], words));
                    }
                });
            });
            h.within("div", &[("class", "printing scripted")], |h| {
                h.within("label", &[], |h| {
                    h.text("Paper ");
                    h.within("select", &[("id", "paper")], |h| {
                        for (name, paper) in Paper::NAMES {
                            let mut attributes = vec![("value", name)];
                            if paper == self.settings.paper {
                                attributes.push(("selected", "selected"));
                            }
                            h.leaf("option", &attributes, name);
                        }
                    });
                });
                h.leaf("button", &[("type", "button"), ("id", "print")], "Print");
            });
        });
    }

    fn jobs(&self) -> String {
        self.plan.jobs.join(", ")
    }

    fn shown(&self) -> Shown {
        self.settings.shown
    }

    fn sizes(&self, w: f64, d: f64) -> String {
        let shown = self.shown();
        format!("{} × {}", shown.bare_length(w), shown.length(d))
    }

    /// How many findings are of a grade.
    fn count(&self, grade: Grade) -> usize {
        self.plan.findings.iter().filter(|f| f.grade == grade).count()
    }

    /// What a sheet of a slab calls this finding there: !1, !2, ...
    fn tag(&self, layout: usize, finding: &Finding) -> Option<String> {
        let drawing = self.drawings.get(layout)?.as_ref()?;
        let at = drawing.remarks.iter().position(|r| r.findings.iter().any(|f| std::ptr::eq(*f, finding)))?;
        Some(format!("!{}", at + 1))
    }

    /// Where a finding is: the layout, the number of the piece if it is about one that is drawn, and the point on the
    /// drawing (paper mm).
    fn place(&self, finding: &Finding) -> Option<Place> {
        let mut best = None;
        for (layout, drawing) in self.drawings.iter().enumerate() {
            let Some(drawing) = drawing else { continue };
            if finding.slab.as_ref().is_some_and(|s| *s != drawing.slab.name) {
                continue;
            }
            let part = drawing.parts.iter().find(|p| {
                finding.piece.as_ref().is_some_and(|name| p.placed.piece == *name)
                    && finding.job.as_ref().is_none_or(|j| p.placed.job == *j)
            });
            let at = finding.at.map(Point::from).filter(|p| p.is_finite());
            let at = match (&finding.slab, part, at) {
                (Some(_), _, Some(at)) => at,
                (None, Some(part), Some(at)) => part.pose.apply(at),
                (_, Some(part), None) => part.outline.bbox().centre(),
                (Some(_), None, None) => drawing.slab.outline.bbox().centre(),
                (None, None, _) => continue,
            };
            let scene = &drawing.scene;
            let on_paper = scene.origin + at * (1.0 / scene.scale);
            let (w, d) = scene.paper;
            // A place off the drawing cannot be shown; the slab can.
            let on_paper = crate::geom::pt(on_paper.x.clamp(0.0, w), d - on_paper.y.clamp(0.0, d));
            let place = Place { layout, piece: part.map(|p| p.number), at: on_paper };
            if part.is_some() {
                return Some(place);
            }
            best = best.or(Some(place));
        }
        best
    }
}

/// A place on a drawing of the page.
struct Place {
    layout: usize,
    piece: Option<usize>,
    /// In the coordinates of the drawing: paper mm, y down.
    at: Point,
}

/// Id of a slab's part of the page.
fn slab_id(layout: usize) -> String {
    format!("slab-{}", layout + 1)
}

/// Id of a piece's sheet.
fn piece_id(layout: usize, number: usize) -> String {
    format!("piece-{}-{number}", layout + 1)
}

/// How a piece is called in lists: slab and number.
fn piece_number(layout: usize, number: usize) -> String {
    format!("{}-{number}", layout + 1)
}

/// The rule that sizes the printed page, and what of the drawing's size follows from it.
fn paper_rule(paper: Paper) -> String {
    let (w, d) = paper.size();
    let (w, d) = (Decimal(w, 1), Decimal(d, 1));
    policy::bracketed_style(&format!("@page {{ size: {w}mm {d}mm; }}\n:root {{ --sheet: {d}mm; }}\n"))
}

/// The head of a column, by what stands under it.
enum Head<'a> {
    Words(&'a str),
    Number(&'a str),
    /// The same of a column that narrow screens leave out: what stands there must stand in a row's head too.
    Rest(&'a str),
}

/// A table that scrolls by itself where it is wider than the screen. `body` writes the rows.
fn table(h: &mut Html, caption: &str, heads: &[Head<'_>], body: impl FnOnce(&mut Html)) {
    let fold = if heads.iter().any(|head| matches!(head, Head::Rest(_))) { "scroll fold" } else { "scroll" };
    h.within("div", &[("class", fold), ("role", "region"), ("aria-label", caption), ("tabindex", "0")], |h| {
        h.within("table", &[], |h| {
            h.leaf("caption", &[], caption);
            h.within("thead", &[], |h| {
                h.within("tr", &[], |h| {
                    for head in heads {
                        match head {
                            Head::Words(head) => h.leaf("th", &[("scope", "col"), ("class", "words")], head),
                            Head::Number(head) => h.leaf("th", &[("scope", "col")], head),
                            Head::Rest(head) => h.leaf("th", &[("scope", "col"), ("class", "rest")], head),
                        }
                    }
                });
            });
            h.within("tbody", &[], body);
        });
    });
}

/// A label with what stands under it, in a list of such.
fn fact(h: &mut Html, label: &str, content: impl FnOnce(&mut Html)) {
    h.within("div", &[], |h| {
        h.leaf("dt", &[], label);
        h.within("dd", &[], content);
    });
}

/// With a capital at its start.
fn capital(words: &str) -> String {
    let words = text::clean(words);
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// A number with what is counted.
fn counted(n: usize, one: &str, more: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {more}") }
}
