//! What the sheet of an opening says in words, section by section: the same for the drawing's margin and for the text.
//! In: an [`OpeningSheet`]. Out: [`Section`]s. Every number has its unit.

use crate::model::Standing;
use crate::model::openings::{
    Carrying, Core, CornerStress, CutRow, Handling, Load, NearFlaw, OpeningSheet, Pass, Rail, RailVerdict, Rod, Score,
    State, Verdict, rail_words,
};
use crate::units::{Decimal, Shown};

/// Some entries under a heading.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct Section {
    /// Its heading.
    pub(in crate::report) heading: String,
    /// What stands under it.
    pub(in crate::report) entries: Vec<Entry>,
}

/// One thing to say.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct Entry {
    /// What it is called on the drawing; may be empty.
    pub(in crate::report) tag: String,
    /// What there is to say.
    pub(in crate::report) text: String,
    /// True if it must not be overlooked.
    pub(in crate::report) bold: bool,
}

impl Entry {
    fn plain(text: impl Into<String>) -> Self {
        Self::tagged("", text)
    }

    /// A sentence that others made.
    fn sentence(text: &str) -> Self {
        Self::plain(sentence(text))
    }

    fn tagged(tag: impl Into<String>, text: impl Into<String>) -> Self {
        Self { tag: tag.into(), text: text.into(), bold: false }
    }

    fn strong(mut self, bold: bool) -> Self {
        self.bold = bold;
        self
    }
}

/// Words as a sentence: with a capital, and a stop at the end.
fn sentence(text: &str) -> String {
    let mut chars = text.trim().chars();
    let mut out: String = chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect());
    if out.ends_with(|c: char| c.is_alphanumeric() || c == ')' || c == '"') {
        out.push('.');
    }
    out
}

/// The verdict in one word, and what it means.
#[must_use]
pub(in crate::report) const fn verdict(v: Verdict) -> (&'static str, &'static str) {
    match v {
        Verdict::Fine => ("FINE", "cut it in the shop"),
        Verdict::Rods => ("RODS", "cut it in the shop, with rods glued in first"),
        Verdict::Score => ("SCORE", "score it in the shop, finish it on site"),
        Verdict::Stop => ("STOP", "do not cut it as drawn"),
    }
}

/// All sections, in the order in which they are read.
#[must_use]
pub(in crate::report) fn sections(sheet: &OpeningSheet, shown: Shown) -> Vec<Section> {
    let mut out = Vec::new();
    let mut add = |heading: &str, entries: Vec<Entry>| {
        if !entries.is_empty() {
            out.push(Section { heading: heading.to_owned(), entries });
        }
    };
    let (word, meaning) = verdict(sheet.verdict);
    let bold = sheet.verdict == Verdict::Stop;
    let because: Vec<Entry> = sheet.because.iter().map(|b| Entry::sentence(b).strong(bold)).collect();
    add(&format!("Verdict: {word}, {meaning}"), because);
    add("Cut-out", cut_out(sheet, shown));
    add("Cores to drill first", cores(sheet, shown));
    add("Corners without a core: small cuts", rows(sheet, shown));
    add("Saw passes", passes(sheet, shown));
    add("Rails and webs", sheet.rails.iter().map(|r| rail(r, shown)).collect());
    add("Rods", rods(sheet, shown));
    let heading = if sheet.verdict == Verdict::Score { "Scored only" } else { "If it had to be scored only" };
    add(heading, sheet.cutting.score.iter().flat_map(|s| score(sheet, s, shown)).collect());
    add("Flaws of the slab", sheet.flaws.iter().map(|f| flaw(f, shown)).collect());
    add("Carrying: screening, not engineering", carrying(sheet, shown));
    let numbered = |lines: &[String]| -> Vec<Entry> {
        lines.iter().enumerate().map(|(i, l)| Entry::tagged(format!("{}.", i + 1), sentence(l))).collect()
    };
    add("Order of work", numbered(&sheet.order));
    add("Cautions", sheet.cautions.iter().map(|c| Entry::tagged("!", sentence(c))).collect());
    add("What the figures rest on", sheet.carrying.iter().flat_map(|c| values(c, shown)).collect());
    out
}

fn cut_out(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let [w, h] = sheet.cut_out.size;
    let mut out = vec![Entry::plain(format!(
        "{} × {}, {}",
        shown.length(w),
        shown.length(h),
        area(sheet.cut_out.area_mm2, shown)
    ))];
    if let Some(spare) = &sheet.cut_out.spare {
        let mut words = Vec::new();
        if let Some(v) = spare.least_bearing {
            words.push(format!("the rim bears on {} of stone or more", shown.length(v)));
        }
        if let Some(v) = spare.least_clearance {
            words.push(format!("the body has a gap of {} or more", shown.length(v)));
        }
        words.push(format!("{} may still be cut away all round", shown.length(spare.may_still_cut)));
        out.push(Entry::plain(format!("At the accuracy of template and cut {}.", words.join("; "))));
    }
    out.extend(sheet.cut_out.notes.iter().map(|n| Entry::sentence(n)));
    out
}

/// Areas of holes are small beside those of slabs.
fn area(mm2: f64, shown: Shown) -> String {
    match shown {
        Shown::Mm if mm2 < 1e5 => format!("{:.1} cm²", mm2 / 100.0),
        _ => shown.area(mm2),
    }
}

fn beside(x: f64, shown: Shown) -> String {
    if x.abs() < 0.05 {
        "on the centre line".to_owned()
    } else {
        format!("{} {} of the centre line", shown.length(x.abs()), if x < 0.0 { "left" } else { "right" })
    }
}

/// A place, from the opening's centre line and from the front edge.
struct Places {
    centre_x: f64,
    shown: Shown,
}

impl Places {
    fn of(sheet: &OpeningSheet, shown: Shown) -> Self {
        Self { centre_x: sheet.cut_out.centre[0], shown }
    }

    fn at(&self, p: [f64; 2]) -> String {
        let x = p[0] - self.centre_x;
        let side = if x.abs() < 0.05 {
            ""
        } else if x < 0.0 {
            " left"
        } else {
            " right"
        };
        format!("{}{side} | {}", self.shown.length(x.abs()), self.shown.length(p[1]))
    }
}

const HOW: &str = "Places: from the centre line | from the front edge of the piece.";

fn cores(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let places = Places::of(sheet, shown);
    let entry = |(i, c): (usize, &Core)| {
        let [a, b] = c.tangents.map(|t| places.at(t));
        let text = format!(
            "bit {}; middle {}, {} from the front edge; sides touch it at {a} and {b}",
            shown.length(c.diameter),
            beside(c.from_centre_line, shown),
            shown.length(c.from_front),
        );
        let past = if c.past_line > 0.05 {
            format!("; the bit takes {} beyond the line", shown.length(c.past_line))
        } else {
            String::new()
        };
        Entry::tagged(format!("C{}", i + 1), text + &past)
    };
    let mut out: Vec<Entry> = sheet.cutting.cores.iter().enumerate().map(entry).collect();
    if !out.is_empty() {
        out.push(Entry::plain(HOW));
    }
    out
}

fn rows(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let places = Places::of(sheet, shown);
    let entry = |r: &CutRow| {
        let corner = format!("corner at {}, radius {}", places.at(r.corner), shown.length(r.radius));
        match r.blade {
            Some(blade) => Entry::plain(format!(
                "{corner}: {} cuts with the {} blade from the drop to just short of the line; break out the fingers, grind \
                 the rest",
                r.cuts.len(),
                shown.length(blade)
            )),
            None => Entry::plain(format!("{corner}: no blade has room; grind it, or cut it by water or router"))
                .strong(true),
        }
    };
    sheet.cutting.rows.iter().map(entry).collect()
}

fn passes(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let places = Places::of(sheet, shown);
    let mut out: Vec<Entry> =
        sheet.cutting.passes.iter().enumerate().map(|(i, p)| pass(p, &format!("S{}", i + 1), &places)).collect();
    if !out.is_empty() && sheet.cutting.cores.is_empty() {
        out.push(Entry::plain(HOW));
    }
    out.extend(sheet.cutting.cutting_notes.iter().map(|n| Entry::sentence(n)));
    out
}

fn pass(p: &Pass, tag: &str, places: &Places) -> Entry {
    let length = |v: f64| places.shown.length(v);
    let long = crate::geom::Point::from(p.from).distance(p.to.into());
    let back = if p.from_back { ", from the back" } else { "" };
    let line = format!("from {} to {} ({} long)", places.at(p.from), places.at(p.to), length(long));
    let Some(blade) = p.blade else {
        let text = format!("{}: too short for every blade of the shop; {line} by small cuts or by hand", p.side);
        return Entry::tagged(tag, text).strong(true);
    };
    let kerf = p.kerf.map_or_else(String::new, |k| format!(" (kerf {})", length(k)));
    let mut text = format!("{}{back}: blade {}{kerf}, {} deep; cut {line}", p.side, length(blade), length(p.depth));
    if let (Some(a), Some(b)) = (p.full_depth_from, p.full_depth_to) {
        let runs = p.overrun.map_or_else(String::new, |o| format!(" (the cut runs {} past it)", length(o)));
        text += &format!("; middle of the blade from {} to {}{runs}", places.at(a), places.at(b));
    }
    if p.left_under.iter().any(|&v| v > 0.05) {
        text += &format!("; left uncut at the ends {} and {}", length(p.left_under[0]), length(p.left_under[1]));
    }
    Entry::tagged(tag, text)
}

fn score(sheet: &OpeningSheet, s: &Score, shown: Shown) -> Vec<Entry> {
    let mut text = format!("{} deep from the back, {} of stone left", shown.length(s.depth), shown.length(s.left));
    if !s.tabs.is_empty() {
        text += &format!("; {} tabs of {} stay whole", s.tabs.len(), shown.length(s.tab));
    }
    let places = Places::of(sheet, shown);
    let mut out = vec![Entry::plain(text)];
    // Where nobody will score it, the passes stand in the file for programs only.
    let passes = if sheet.verdict == Verdict::Score { s.passes.as_slice() } else { &[] };
    out.extend(passes.iter().enumerate().map(|(i, p)| pass(p, &format!("s{}", i + 1), &places)));
    out.extend(s.notes.iter().map(|n| Entry::sentence(n)));
    out
}

/// What a rail comes to, in one word.
pub(in crate::report) const fn rail_word(v: RailVerdict) -> &'static str {
    match v {
        RailVerdict::Fine => "fine",
        RailVerdict::Rod => "wants a rod",
        RailVerdict::Stop => "STOP, too narrow",
    }
}

fn rail(r: &Rail, shown: Shown) -> Entry {
    let rod = match r.rod {
        Some(rod) if rod > r.stop => format!(", rods below {}", shown.length(rod)),
        Some(_) => String::new(),
        None => ", rods at any width".to_owned(),
    };
    let text = format!("{}: {}; stop below {}{rod}", shown.length(r.least), rail_word(r.verdict), shown.length(r.stop));
    Entry::tagged(&r.side, text).strong(r.verdict == RailVerdict::Stop)
}

fn rods(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let (rods, places) = (&sheet.rods, Places::of(sheet, shown));
    let mut out = Vec::new();
    for (i, r) in rods.iter().enumerate() {
        let long = crate::geom::Point::from(r.from).distance(r.to.into());
        let groove = crate::geom::Point::from(r.groove_from).distance(r.groove_to.into());
        let text = format!(
            "{}: {} rod of {}, {} long, from {} to {}, {} and {} past the opening; groove in the back {} wide, {} deep, \
             {} long with its run-out, {} of stone above it; resin {}, hardener {}. {}",
            rail_words(&r.side),
            r.material,
            shown.length(r.diameter),
            shown.length(long),
            places.at(r.from),
            places.at(r.to),
            shown.length(r.past[0]),
            shown.length(r.past[1]),
            shown.length(r.groove_width),
            shown.length(r.groove_depth),
            shown.length(groove),
            shown.length(r.stone_above),
            grams(r.resin_g, shown),
            grams(r.hardener_g, shown),
            sentence(&r.because.join("; ")),
        );
        out.push(Entry::tagged(format!("R{}", i + 1), text));
    }
    if rods.len() > 1 {
        let sum = |f: fn(&Rod) -> f64| grams(rods.iter().map(f).sum(), shown);
        out.push(Entry::plain(format!(
            "All rods: resin {}, hardener {}; mix no more at once than sets in its pot life.",
            sum(|r| r.resin_g),
            sum(|r| r.hardener_g)
        )));
    }
    out
}

fn grams(g: f64, shown: Shown) -> String {
    format!("{} g{}", Decimal(g, 1), shown.ounces(g))
}

/// A zone in words: "hidden" alone is no noun.
fn zone(name: &str) -> String {
    if name == "hidden" { "hidden strip".to_owned() } else { name.to_owned() }
}

fn flaw(f: &NearFlaw, shown: Shown) -> Entry {
    let place = if f.in_drop {
        "in the drop".to_owned()
    } else if f.spare < 0.0 {
        format!("{} too near to the {}", shown.length(-f.spare), zone(&f.zone))
    } else {
        format!("{} to spare to the {}", shown.length(f.spare), zone(&f.zone))
    };
    let note = if f.note.is_empty() { String::new() } else { format!(". {}", sentence(&f.note)) };
    let bad = f.spare < 0.0 && !f.in_drop;
    Entry::tagged(format!("F{}", f.number), format!("{}: {place}{note}", f.flaw)).strong(bad)
}

fn carrying(sheet: &OpeningSheet, shown: Shown) -> Vec<Entry> {
    let mut out: Vec<Entry> = Vec::new();
    if let Some(carrying) = &sheet.carrying {
        out.push(load(&carrying.piece, shown));
    }
    out.extend(handling(&sheet.handling));
    if let Some(carrying) = &sheet.carrying {
        out.extend(carrying.corner.iter().map(|c| corner(c, shown)));
        if let Some(push) = &carrying.push {
            let text = format!(
                "{} N on the middle of the {} rail ({} wide, {} long): {} MPa, use {} without knocks",
                Decimal(push.push_n, 0),
                push.side,
                shown.length(push.width),
                shown.length(push.length),
                Decimal(push.stress_mpa, 2),
                Decimal(push.r#use, 2)
            );
            out.push(Entry::plain(text).strong(push.r#use > 1.0));
        }
    }
    out
}

fn load(load: &Load, shown: Shown) -> Entry {
    let place =
        |p: [f64; 2]| format!("{} from the left end and {} from the front", shown.length(p[0]), shown.length(p[1]));
    let up = load.up.as_ref().map_or_else(String::new, |u| format!("; on edge with the {u} up"));
    let niosh = load
        .niosh_people
        .map_or_else(String::new, |n| format!(" ({n} by the NIOSH equation, {} each)", shown.mass(load.niosh_kg)));
    Entry::plain(format!(
        "The piece weighs {} whole, {} cut: {} people{niosh}{up}. Centre of gravity, cut: {}.",
        shown.mass(load.mass_kg),
        shown.mass(load.mass_cut_kg),
        load.people,
        place(load.centre_cut)
    ))
}

fn corner(c: &CornerStress, shown: Shown) -> Entry {
    let one = |factor: Option<f64>, far: f64, at: Option<f64>| match (factor, at) {
        (Some(f), Some(at)) => format!("{} times {} MPa = {} MPa", Decimal(f, 2), Decimal(far, 2), Decimal(at, 2)),
        _ => format!("{} MPa far from it; no limit at a sharp corner", Decimal(far, 2)),
    };
    Entry::plain(format!(
        "Worst corner (radius {}), without factors: flat {}; on edge {}. {}",
        shown.length(c.radius),
        one(c.flat_factor, c.flat_far_mpa, c.flat_mpa),
        one(c.edge_factor, c.edge_far_mpa, c.edge_mpa),
        c.formula
    ))
}

fn values(carrying: &Carrying, shown: Shown) -> Vec<Entry> {
    let all = carrying.piece.values.iter();
    all.map(|v| {
        let unit = if v.unit.is_empty() { String::new() } else { format!(" {}", v.unit) };
        let pounds = if v.unit == "kg" { shown.pounds(v.value) } else { String::new() };
        Entry::plain(format!(
            "{}: {}{unit}{pounds}; {} ({})",
            v.what,
            Decimal(v.value, 2),
            v.source,
            standing(v.standing)
        ))
    })
    .collect()
}

const fn standing(s: Standing) -> &'static str {
    match s {
        Standing::Published => "published",
        Standing::Practice => "common practice",
        Standing::Memory => "from memory",
        Standing::Shop => "shop file",
        Standing::Tests => "slab's tests",
    }
}

fn handling(all: &[Handling]) -> Vec<Entry> {
    let mut out: Vec<Entry> = Vec::new();
    let mut cases: Vec<&str> = Vec::new();
    for h in all {
        if !cases.contains(&h.case.as_str()) {
            cases.push(&h.case);
        }
    }
    for case in cases {
        let of_case: Vec<&Handling> = all.iter().filter(|h| h.case == case).collect();
        let words: Vec<String> = of_case.iter().map(|h| carried(h)).collect();
        let worst = of_case.iter().map(|h| h.r#use).fold(0.0, f64::max);
        out.push(Entry::plain(format!("{case}: {}", words.join("; "))).strong(worst > 1.0));
    }
    if let Some(h) = all.first() {
        out.push(Entry::plain(format!(
            "Use is stress times the factor for knocks ({} to {}) times safety ({}) over strength ({} MPa); 1 is the limit.",
            Decimal(all.iter().map(|h| h.knocks).fold(f64::INFINITY, f64::min), 2),
            Decimal(all.iter().map(|h| h.knocks).fold(0.0, f64::max), 2),
            Decimal(h.safety, 2),
            Decimal(h.strength_mpa, 2),
        )));
    }
    out
}

fn carried(h: &Handling) -> String {
    let state = match h.state {
        State::Whole => "whole",
        State::Cut => "cut",
        State::Scored => "scored",
    };
    let over = if h.r#use > 1.0 { " TOO MUCH" } else { "" };
    format!("{state} {} MPa, use {}{over}", Decimal(h.stress_mpa, 2), Decimal(h.r#use, 2))
}
