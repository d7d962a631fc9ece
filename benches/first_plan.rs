//! Time to the first complete plan: 12 pieces on a rack of 20 slabs.
//!
//! `cargo bench --bench first_plan`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use criterion::{Criterion, criterion_group, criterion_main};
use scantling::io::read_question_from_texts;
use scantling::model::Question;
use scantling::search::{Settings, Unwatched, solve};

/// A tea house by rule: counters with basins and taps, shelves, sills; slabs with fissures, cracks and pits.
fn tea_house() -> Question {
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

fn first_plan(c: &mut Criterion) {
    let question = tea_house();
    assert_eq!((question.pieces().count(), question.rack.len()), (12, 20));
    let settings = Settings { seed: 1, rounds: Some(1) };
    let plan = solve(&question, &settings, &Unwatched);
    assert!(plan.unplaced.is_empty(), "the first round gives a complete plan: {:?}", plan.unplaced);
    assert!(scantling::check::judge(&question, &plan).iter().all(|f| f.grade != scantling::model::Grade::Broken));
    let mut group = c.benchmark_group("first_plan");
    group.sample_size(10);
    group.bench_function("12x20", |b| b.iter(|| solve(&question, &settings, &Unwatched)));
    group.finish();
}

criterion_group!(benches, first_plan);
criterion_main!(benches);
