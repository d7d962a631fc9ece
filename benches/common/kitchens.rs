//! Kitchens by rule: plausible jobs on plausible racks; and the tea house, a fixed question of 12 pieces and 20 slabs.
//!
//! Sizes are those of kitchen worktops as commonly made: runs 600 to 650 deep, splashbacks 100 deep, islands about
//! 1000 deep, slabs about 3000 x 1800.

use scantling::geom::curve::Corner;
use scantling::geom::pt;
use scantling::io::read_question_from_texts;
use scantling::model::{GrainWish, Hidden, Job, OpeningKind, Piece, Question, Slab};

use super::make::{self, Dice};

/// Width of the sink's opening, mm; depth 400.
const SINK: f64 = 500.0;
/// Width of the cooktop's opening, mm; depth 490.
const COOKTOP: f64 = 560.0;

/// Kitchens with this many pieces in all, on a rack of this many slabs.
pub fn kitchens(dice: &mut Dice, pieces: usize, slabs: usize) -> Question {
    // One material: its slabs differ in price per area by the lot, its offcuts are let go for less.
    let rate = dice.between(120.0, 240.0);
    let rack: Vec<Slab> = (0..slabs).map(|i| stock(dice, rate, i % 4 == 3)).collect();
    // Nothing is sold that no slab can hold.
    let longest = rack.iter().map(|s| s.outline.bbox().width()).fold(0.0, f64::max) - 120.0;
    let mut jobs: Vec<Job> = Vec::new();
    let mut left = pieces;
    while left > 0 {
        let mut kitchen = kitchen(dice, longest);
        kitchen.truncate(left);
        left -= kitchen.len();
        jobs.push(make::job(&format!("kitchen {}", jobs.len() + 1), kitchen));
    }
    make::question(jobs, rack)
}

/// A slab in stock, or what is left of one, at about this price for each square metre.
fn stock(dice: &mut Dice, rate: f64, offcut: bool) -> Slab {
    let (length, depth, share) = if offcut {
        (dice.stepped(900.0, 2200.0, 10.0), dice.stepped(500.0, 1400.0, 10.0), dice.between(0.5, 0.9))
    } else {
        (dice.stepped(2800.0, 3300.0, 10.0), dice.stepped(1550.0, 1950.0, 10.0), dice.between(0.9, 1.1))
    };
    let outline = make::outline(dice, length, depth, if offcut { 0.0 } else { 30.0 });
    let price = (outline.area() * 1e-6 * rate * share).round();
    let grain = dice.pick(&[0.0, 0.0, 0.0, 0.0, 0.0, -1.0, 1.0]);
    let mut slab = make::slab(outline, price, Some(grain));
    make::strew_flaws(dice, &mut slab, 3);
    slab
}

/// The pieces of one kitchen, largest first.
fn kitchen(dice: &mut Dice, longest: f64) -> Vec<Piece> {
    let depth = dice.stepped(600.0, 650.0, 10.0);
    let wish = if dice.chance(0.85) { GrainWish::Towards(0.0) } else { GrainWish::Any };
    let tolerance = if dice.chance(0.2) { 2.0 } else { 0.0 };
    let mut out: Vec<Piece> = Vec::new();
    let mut backs: Vec<f64> = Vec::new();

    let length = dice.stepped(1200.0, 3000.0_f64.min(longest), 5.0);
    out.push(run(dice, "sink run", length, depth, Some(OpeningKind::UndermountSink)));
    backs.push(length);
    match dice.below(3) {
        0 => {
            let (length, reach) = (dice.stepped(1500.0, 2400.0, 5.0), dice.stepped(1150.0, 1500.0, 5.0));
            out.push(corner(dice, length, reach, depth));
            backs.push(length);
        }
        1 => {
            let length = dice.stepped(1200.0, 3000.0_f64.min(longest), 5.0);
            out.push(run(dice, "cooktop run", length, depth, Some(OpeningKind::Cooktop)));
            backs.push(length);
        }
        _ => {
            let length = dice.stepped(600.0, 1500.0, 5.0);
            out.push(run(dice, "side run", length, depth, None));
            backs.push(length);
        }
    }
    if dice.chance(0.4) {
        out.push(island(dice));
    }
    for (i, &length) in backs.iter().enumerate() {
        if dice.chance(0.7) {
            let mut splash = make::piece(&format!("splashback {}", i + 1), make::rectangle(length, 100.0));
            make::finish(&mut splash, &[2]);
            out.push(splash);
        }
    }
    if dice.chance(0.4) {
        let (length, depth) = (dice.stepped(600.0, 1600.0, 5.0), dice.stepped(150.0, 280.0, 5.0));
        let mut sill = make::piece("sill", make::rectangle(length, depth));
        make::finish(&mut sill, &[0]);
        out.push(sill);
    }
    for piece in &mut out {
        piece.grain = wish;
        piece.grain_tolerance = tolerance;
    }
    out
}

/// A straight run, its back against the wall under the splashback, with an opening where it asks for one.
fn run(dice: &mut Dice, name: &str, length: f64, depth: f64, with: Option<OpeningKind>) -> Piece {
    let mut piece = make::piece(name, make::rectangle(length, depth));
    make::finish(&mut piece, if dice.chance(0.3) { &[0, 1] } else { &[0] });
    piece.hidden = Hidden { back: 20.0, ..Hidden::default() };
    match with {
        Some(OpeningKind::UndermountSink) => {
            let x = dice.stepped(SINK / 2.0 + 100.0, length - SINK / 2.0 - 100.0, 5.0);
            let sink = make::opening("sink", OpeningKind::UndermountSink, pt(x, 280.0), SINK, 400.0);
            piece.openings = vec![sink, make::tap(pt(x, 540.0))];
        }
        Some(kind) => {
            let x = dice.stepped(COOKTOP / 2.0 + 100.0, length - COOKTOP / 2.0 - 100.0, 5.0);
            piece.openings = vec![make::opening("cooktop", kind, pt(x, depth / 2.0), COOKTOP, 490.0)];
        }
        None => {}
    }
    piece
}

/// A run round a corner: an L whose inside corner has a radius of 20 mm.
fn corner(dice: &mut Dice, length: f64, reach: f64, depth: f64) -> Piece {
    let inside = Corner { at: pt(depth, depth), radius: 20.0 };
    let corners = vec![
        make::sharp(0.0, 0.0),
        make::sharp(length, 0.0),
        make::sharp(length, depth),
        inside,
        make::sharp(depth, reach),
        make::sharp(0.0, reach),
    ];
    let mut piece = make::piece("corner run", corners);
    make::finish(&mut piece, &[2, 3]);
    piece.hidden = Hidden { front: 20.0, left: 20.0, ..Hidden::default() };
    if dice.chance(0.4) {
        let at = pt(length - COOKTOP / 2.0 - 150.0, depth / 2.0);
        piece.openings = vec![make::opening("cooktop", OpeningKind::Cooktop, at, COOKTOP, 490.0)];
    }
    piece
}

/// Finished all round.
fn island(dice: &mut Dice) -> Piece {
    let (length, depth) = (dice.stepped(1800.0, 2600.0, 10.0), dice.stepped(900.0, 1100.0, 10.0));
    let mut piece = make::piece("island", make::rectangle(length, depth));
    make::finish(&mut piece, &[0, 1, 2, 3]);
    if dice.chance(0.5) {
        let at = pt(dice.stepped(500.0, length - 500.0, 5.0), depth / 2.0);
        piece.openings = vec![make::opening("cooktop", OpeningKind::Cooktop, at, COOKTOP, 490.0)];
    }
    piece
}

/// A tea house by rule: counters with basins and taps, shelves, sills; slabs with fissures, cracks and pits.
pub fn tea_house() -> Question {
    let mut job = String::from("name = \"Tea house\"\nmaterial = \"slate grey\"\nthickness = 30\n");
    for i in 0..4 {
        job += &format!(
            "[[piece]]\nname = \"counter {i}\"\noutline.rectangle = [{}, 620]\nedges = [\"eased\", \"raw\", \"raw\", \"raw\"]\n\
             hidden.back = 20\n[[piece.opening]]\nname = \"basin\"\nkind = \"undermount sink\"\nshape.rectangle = [500, 380]\n\
             corner_radius = 15\ncentre_line = 700\nsetback = 100\n[[piece.opening]]\nname = \"tap\"\nkind = \"tap hole\"\n\
             shape.circle = 35\ncentre = [700, 560]\n",
            1900 + 140 * i
        );
        job += &format!("[[piece]]\nname = \"shelf {i}\"\noutline.rectangle = [{}, 300]\n", 1200 + 90 * i);
        job += &format!(
            "[[piece]]\nname = \"corner {i}\"\noutline.polygon = [[0,0],[{w},0],[{w},450],[450,450,20],[450,900],[0,900]]\n",
            w = 1100 + 60 * i
        );
    }
    let mut rack = String::new();
    for i in 0..20 {
        let (w, h) = (2600 + 37 * (i * 7 % 20), 1500 + 23 * (i * 11 % 20));
        rack += &format!(
            "[[slab]]\nname = \"R{i}\"\nmaterial = \"slate grey\"\nstone = \"granite\"\nthickness = 30\nprice = {p}\ngrain = {g}\n\
             outline.polygon = [[0,0],[{w},{a}],[{x},{h}],[{b},{y}]]\n[[slab.flaw]]\nkind = \"fissure\"\nline = [[400,300],[{c},520]]\n\
             width = 2\n[[slab.flaw]]\nkind = \"{k}\"\nspot = [{c}, {d}]\ndiameter = 12\n",
            p = 420 + 31 * (i * 13 % 20),
            g = (i % 3) - 1,
            a = 10 + i,
            x = w - 25,
            b = 5 + i,
            y = h - 15,
            c = 900 + 40 * i,
            d = 700 + 20 * i,
            k = if i % 2 == 0 { "crack" } else { "pit" },
        );
    }
    let text = |name: &str, text: String| (name.to_owned(), text);
    read_question_from_texts(&[text("job", job)], text("rack", rack), None).unwrap().question
}
