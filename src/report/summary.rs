//! The plan in text for a terminal: aligned, at most 100 characters a line, plain characters but for m², ft², × and what
//! names bring along. In: question, plan, units. Out: a string. Knows no terminal.

use super::measure;
use super::text;
use super::told::together;
use crate::model::{Finding, Goal, Grade, Plan, PlanNumber, Question, Rule, Unplaced};
use crate::units::Shown;

/// Longest line, characters.
const WIDTH: usize = 100;

/// The summary of a plan. Lengths and areas in the shown units, money in the shop's currency.
#[must_use]
pub fn summary(question: &Question, plan: &Plan, shown: Shown) -> String {
    whole_summary(question, plan, None, shown)
}

/// The same, with the number by which the papers of the plan are matched.
#[must_use]
pub fn numbered_summary(question: &Question, plan: &Plan, number: PlanNumber, shown: Shown) -> String {
    whole_summary(question, plan, Some(number), shown)
}

fn whole_summary(question: &Question, plan: &Plan, number: Option<PlanNumber>, shown: Shown) -> String {
    let mut out = Lines(String::new());
    let jobs: Vec<String> = plan.jobs.iter().map(|j| text::clean(j)).collect();
    let lead = number.map_or_else(|| "Plan for ".to_owned(), |n| format!("Plan {n} for "));
    out.wrapped(&lead, &jobs.join(", "));
    slabs(&mut out, question, plan, shown);
    whole(&mut out, question, plan, shown);
    unplaced(&mut out, plan, shown);
    drops(&mut out, question, plan);
    out.line("");
    super::held::tell(&mut out, &plan.held);
    tell(&mut out, &plan.findings);
    out.0
}

/// What the judge found, grade by grade; what differs only in the copy of a piece is told once. Messages are as the judge wrote
/// them, in the units that it was given.
#[must_use]
pub fn findings(findings: &[Finding]) -> String {
    let mut out = Lines(String::new());
    tell(&mut out, findings);
    out.0
}

/// Grades of findings, worst first, with their headings.
pub(super) const GRADES: [(Grade, &str); 3] =
    [(Grade::Broken, "Rules broken, do not cut"), (Grade::Warning, "Look before cutting"), (Grade::Note, "Notes")];

/// Text that grows by lines.
#[derive(Debug, Default)]
pub(super) struct Lines(pub(super) String);

impl Lines {
    pub(super) fn line(&mut self, line: &str) {
        self.0.push_str(line.trim_end());
        self.0.push('\n');
    }

    /// A label, then text that goes on below itself.
    pub(super) fn wrapped(&mut self, label: &str, words: &str) {
        let indent = label.chars().count();
        let room = WIDTH.saturating_sub(indent).max(20);
        let lines = wrap(words, room);
        for (i, line) in lines.iter().enumerate() {
            let lead = if i == 0 { label.to_owned() } else { " ".repeat(indent) };
            self.line(&format!("{lead}{line}"));
        }
        if lines.is_empty() {
            self.line(label);
        }
    }

    fn row(&mut self, label: &str, words: &str) {
        self.wrapped(&format!("  {label:<18}"), words);
    }
}

/// Lines of at most `room` characters; words that are too long are broken.
pub(super) fn wrap(words: &str, room: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in text::clean(words).split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        if length > 0 && length + 1 + rest.len() <= room {
            line.push(' ');
            line.extend(&rest);
            length += 1 + rest.len();
            continue;
        }
        if length > 0 {
            lines.push(std::mem::take(&mut line));
        }
        while rest.len() > room {
            lines.push(rest.drain(..room).collect());
        }
        length = rest.len();
        line.extend(rest);
    }
    if length > 0 {
        lines.push(line);
    }
    lines
}

/// At most `room` characters, cut with three dots.
fn cut(words: &str, room: usize) -> String {
    let words = text::clean(words);
    if words.chars().count() <= room {
        return words;
    }
    let head: String = words.chars().take(room.saturating_sub(3)).collect();
    format!("{}...", head.trim_end())
}

pub(super) fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

fn slabs(out: &mut Lines, question: &Question, plan: &Plan, shown: Shown) {
    if plan.layouts.is_empty() {
        return;
    }
    out.line("");
    out.line(&format!(
        "{:<24}{:>7}{:>12}{:>12}{:>9}{:>9}{:>9}{:>12}",
        "Slab", "pieces", "area", "usable", "gross", "net", "waste", "price"
    ));
    for layout in &plan.layouts {
        let name = cut(&layout.slab, 23);
        let Some(slab) = measure::slab(question, layout) else {
            out.line(&format!("{name:<24}{:>7}  not on the rack", layout.placed.len()));
            continue;
        };
        let y = measure::yields(question, layout, slab);
        out.line(&format!(
            "{name:<24}{:>7}{:>12}{:>12}{:>9}{:>9}{:>9}{:>12.2}",
            layout.placed.len(),
            shown.area(y.slab_mm2),
            shown.area(y.usable_mm2),
            percent(y.gross),
            percent(y.net),
            percent(1.0 - y.gross),
            slab.price
        ));
        let (_, missing) = measure::parts(question, layout);
        for words in missing {
            out.wrapped("    not counted: ", &words);
        }
        for offcut in &layout.offcuts {
            let [w, h] = offcut.rectangle.size;
            let size = format!("{} × {}", shown.bare_length(w), shown.length(h));
            out.line(&format!("    keeps an offcut of {size} ({})", shown.area(w * h)));
        }
    }
}

fn whole(out: &mut Lines, question: &Question, plan: &Plan, shown: Shown) {
    out.line("");
    out.line("Whole plan");
    for (label, words) in figures(question, plan, shown) {
        out.row(label, &words);
    }
}

/// The figures of a plan with what they are called, in the order in which they are told.
pub(super) fn figures(question: &Question, plan: &Plan, shown: Shown) -> Vec<(&'static str, String)> {
    let y = measure::total(question, plan);
    let kept: f64 =
        plan.layouts.iter().flat_map(|l| &l.offcuts).map(|o| o.rectangle.size[0] * o.rectangle.size[1]).sum();
    let pieces: usize = plan.layouts.iter().map(|l| l.placed.len()).sum();
    let wanted = question.pieces().count();
    let mut out = vec![
        ("pieces placed", format!("{pieces} of {wanted}")),
        ("slabs used", format!("{}, {} in all", plan.layouts.len(), shown.area(y.slab_mm2))),
        ("gross yield", format!("{}  pieces with their openings filled, over the slabs' area", percent(y.gross))),
        ("net yield", format!("{}  pieces without their openings, over the slabs' area", percent(y.net))),
        ("waste", format!("{}  slab outside the pieces, kept offcuts included", percent(1.0 - y.gross))),
    ];
    if y.slab_mm2 > 0.0 && kept > 0.0 {
        out.push(("kept offcuts", format!("{}  ({})", percent(kept / y.slab_mm2), shown.area(kept))));
    }
    out.extend(reached(plan, shown));
    out.push(("repeated by", repeated_by(plan)));
    out
}

/// What was reached for each goal, the first one first, and how sure it is.
fn reached(plan: &Plan, shown: Shown) -> Vec<(&'static str, String)> {
    let mut cost = vec![("cost", cost(plan))];
    cost.extend(plan.bound_rule.iter().map(|rule| ("bound by", rule.clone())));
    let worth = plan.offcut_worth.map(|worth| ("worth of offcuts", format!("{worth:.2}, the best found")));
    let margin = match plan.flaw_margin {
        Some(m) => format!("{} beyond the flaw gap, the best found", shown.length(m)),
        None => "no flaw bears on a piece".to_owned(),
    };
    let margin = ("margin to flaws", margin);
    let mut out = Vec::new();
    match plan.goal {
        Goal::Cost => {
            let words = "the least cost; then the worth of the offcuts, then the margin to flaws";
            out.push(("first goal", words.to_owned()));
            out.extend(cost);
            out.extend(worth);
            out.push(margin);
        }
        Goal::Offcut => {
            let words = "the least cost less the worth of the offcuts; then the cost, then the margin to flaws";
            out.push(("first goal", words.to_owned()));
            let left = plan.cost - plan.offcut_worth.unwrap_or(0.0);
            out.push(("cost less offcuts", format!("{left:.2}, the best found")));
            out.extend(worth);
            out.extend(cost);
            out.push(margin);
        }
        Goal::Margin => {
            let words = "the widest margin to flaws; then the cost, then the worth of the offcuts";
            out.push(("first goal", words.to_owned()));
            out.push(margin);
            out.extend(cost);
            out.extend(worth);
        }
    }
    out
}

/// The options that give the same plan again from the same files.
fn repeated_by(plan: &Plan) -> String {
    let Some(effort) = plan.effort else {
        return "nothing: it was stopped within the first round of search, or made otherwise".to_owned();
    };
    let goal = match plan.goal {
        Goal::Cost => "",
        Goal::Offcut => " --goal offcut",
        Goal::Margin => " --goal margin",
    };
    format!("--seed {} --effort {effort}{goal}", plan.seed)
}

fn cost(plan: &Plan) -> String {
    // Adding 0 makes -0 and 0 one number.
    let [cost, least] = [plan.cost, plan.cost_bound].map(|v| v + 0.0);
    if plan.proven {
        return format!("{cost:.2}, no plan can cost less");
    }
    let bound = format!("{cost:.2}, bound {least:.2}");
    if !plan.unplaced.is_empty() {
        return format!("{bound} (a plan that places everything costs at least that)");
    }
    // The share of the cost that might be saved at most.
    if plan.cost > 0.0 && plan.cost_bound.is_finite() {
        return format!("{bound}, gap {}", percent((plan.cost - plan.cost_bound) / plan.cost));
    }
    bound
}

fn unplaced(out: &mut Lines, plan: &Plan, shown: Shown) {
    if plan.unplaced.is_empty() {
        return;
    }
    out.line("");
    out.line(&format!("Without a place: {}", plan.unplaced.len()));
    for u in &plan.unplaced {
        out.wrapped("  ", &why(u, shown));
    }
}

/// A piece without a place, and why.
pub(super) fn why(u: &Unplaced, shown: Shown) -> String {
    let numbers = if u.needed > 0.0 {
        format!(" (needed {}, found {})", shown.said(u.needed), shown.said(u.found))
    } else {
        String::new()
    };
    format!("{} ({}): {}{numbers}", u.piece, u.job, u.reason)
}

fn tell(out: &mut Lines, findings: &[Finding]) {
    if findings.is_empty() {
        out.line("Findings: none");
        return;
    }
    for (grade, heading) in GRADES {
        let told = together(findings.iter().filter(|f| f.grade == grade));
        if told.is_empty() {
            continue;
        }
        let count: usize = told.iter().map(|t| t.findings.len()).sum();
        out.line(&format!("{heading}: {count}"));
        for t in told {
            let place = if t.place.is_empty() { String::new() } else { format!(" [{}]", t.place.join(" / ")) };
            let rule = t.rule().map(Rule::name).unwrap_or_default();
            out.wrapped(&format!("  {rule:<23} "), &format!("{}{}{place}", t.message, t.times()));
        }
    }
}

/// Flaws that fall out with an opening: nobody must forget them when the piece is lifted.
fn drops(out: &mut Lines, question: &Question, plan: &Plan) {
    let told = flaws_in_drops(question, plan);
    if told.is_empty() {
        return;
    }
    out.line("");
    out.line(&format!("Flaws in drops: {}", told.len()));
    for words in told {
        out.wrapped("  ", &words);
    }
}

/// The flaws that fall out with openings, each in a sentence.
pub(super) fn flaws_in_drops(question: &Question, plan: &Plan) -> Vec<String> {
    let mut told = Vec::new();
    for layout in &plan.layouts {
        let Some(slab) = measure::slab(question, layout) else { continue };
        let (parts, _) = measure::parts(question, layout);
        for d in measure::flaws_in_drops(slab, &parts) {
            let part = &parts[d.part];
            let opening = &part.piece.openings[d.opening].name;
            told.push(format!("{} of {} on {}: {}", opening, part.piece.name, slab.name, d.words()));
        }
    }
    told
}
