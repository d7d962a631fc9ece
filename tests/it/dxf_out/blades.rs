//! What a cutting drawing says of the tools: nobody may let down a blade where another was meant.

use scantling::cad::{Body, Entity};
use scantling::geom::{BBox, Point, Pose, pt};
use scantling::model::openings::{Openings, Verdict};
use scantling::model::{Opening, OpeningKind, Piece, Question, Shape};

use super::*;

/// The texts of a drawing: content, where it begins, height of capitals.
fn texts(entities: &[Entity]) -> Vec<(&str, Point, f64)> {
    let text = |e: &'_ Entity| matches!(e.body, Body::Text { .. });
    entities
        .iter()
        .filter(|e| text(e))
        .filter_map(|e| match &e.body {
            Body::Text { at, height, content, .. } => Some((content.as_str(), *at, *height)),
            _ => None,
        })
        .collect()
}

/// The leaders: lines among the labels.
fn leaders(entities: &[Entity]) -> Vec<(Point, Point)> {
    on(entities, "label")
        .into_iter()
        .filter_map(|b| match b {
            Body::Path { vertices, closed: false } => Some((vertices[0].at, vertices[1].at)),
            _ => None,
        })
        .collect()
}

/// A drawing of pieces where the poses say, read back from its file, with the sheets that it is made from.
fn read_back(question: &Question, poses: &[Pose], change: impl Fn(&mut Openings)) -> (Vec<Entity>, Openings) {
    let plan = plan_of(question, poses);
    let mut openings = craft::sheets(question, Some(&plan));
    change(&mut openings);
    let drawing = cutting::drawing(question, &plan, 0, &openings, Shown::Mm);
    (read(&write(&drawing, &layers::ALL, Shown::Mm)).1, openings)
}

fn top(openings: Vec<Opening>) -> Piece {
    Piece { openings, ..make::piece("top", 2600.0, 700.0) }
}

/// Boxes of texts, as wide as a wide face makes them.
fn boxes(entities: &[Entity]) -> Vec<(String, BBox)> {
    let b = |(content, at, height): (&str, Point, f64)| {
        let long = content.chars().count() as f64 * 0.95 * height;
        (content.to_owned(), BBox { min: at, max: at + pt(long, height) })
    };
    texts(entities).into_iter().map(b).collect()
}

#[test]
fn a_small_opening_names_its_blade_beside_it() {
    let sink = make::opening("sink", OpeningKind::DropInSink, [700.0, 350.0], 560.0, 420.0, 20.0);
    let outlet = make::opening("outlet", OpeningKind::Outlet, [1500.0, 350.0], 150.0, 80.0, 10.0);
    let tap = Opening::new(
        "mixer".to_owned(),
        OpeningKind::TapHole,
        Shape::Ellipse { centre: pt(1100.0, 620.0), half_x: 17.5, half_y: 17.5 },
    );
    let question = make::question(vec![top(vec![sink, outlet, tap])], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
    let pose = Pose::new(0.0, pt(200.0, 400.0));
    let (entities, openings) = read_back(&question, &[pose], |_| {});
    let of = |name: &str| openings.openings.iter().find(|s| s.opening == name).unwrap();
    let large = of("sink").cutting.passes[0].blade.expect("room for a blade");
    let small = of("outlet").cutting.passes[0].blade.expect("room for a blade");
    assert!(large > small, "the case is about two blades: {large} {small}");
    let depth = Shown::Mm.bare_length(of("outlet").cutting.passes[0].depth);
    let words = texts(&entities);
    for blade in [large, small] {
        let line = format!("blade {}, {depth} deep", Shown::Mm.bare_length(blade));
        assert!(words.iter().any(|w| w.0.ends_with(&line)), "{line} in {words:?}");
    }
    // The label of the small hole stands off the hole, and a line leads from it there.
    let line = format!("blade {}, {depth} deep", Shown::Mm.bare_length(small));
    let &(_, at, height) = words.iter().find(|w| w.0.ends_with(&line)).unwrap();
    assert!(height >= 5.0);
    let hole = pose.apply(pt(1500.0, 350.0));
    let lead = leaders(&entities);
    assert_eq!(lead.len(), 1, "{lead:?}");
    let (from, to) = lead[0];
    assert!((to.x - hole.x).abs() < 75.1 && (to.y - hole.y).abs() < 40.1, "{to:?} is not at the hole");
    assert!(from.distance(at) < 250.0, "{from:?} is not at the words");
    // It lies on no other words and in no hole.
    let all = boxes(&entities);
    for (i, (a, p)) in all.iter().enumerate() {
        assert!(!all[..i].iter().any(|(_, q)| p.near(q, -0.1)), "{a} lies on other words");
    }
    let own = &all.iter().find(|b| b.0.ends_with(&line)).unwrap().1;
    for o in &question.jobs[0].pieces[0].openings {
        let b = o.ring.bbox();
        let hole = BBox { min: pose.apply(b.min), max: pose.apply(b.max) };
        assert!(!own.near(&hole, 0.0), "the words lie in {}", o.name);
    }
    // A hole that is one core says no more than its name.
    assert!(!words.iter().any(|w| w.0.starts_with("cores 35")));
    // What is not cut has no tools.
    let stop = |o: &mut Openings| o.openings.iter_mut().for_each(|s| s.verdict = Verdict::Stop);
    assert!(!texts(&read_back(&question, &[pose], stop).0).iter().any(|w| w.0.contains("blade")));
}

#[test]
fn sides_that_need_another_blade_say_so() {
    // 480 mm are room for the large blade, and 150 are not.
    let slot = make::opening("hatch", OpeningKind::Other, [1000.0, 350.0], 700.0, 150.0, 20.0);
    let question = make::question(vec![top(vec![slot])], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
    let (entities, openings) = read_back(&question, &[Pose::new(90.0, pt(1000.0, 100.0))], |_| {});
    let passes = &openings.openings[0].cutting.passes;
    let mut ways: Vec<String> = Vec::new();
    for p in passes {
        let way = format!("blade {}", Shown::Mm.bare_length(p.blade.expect("a blade")));
        if !ways.contains(&way) {
            ways.push(way.clone());
        }
        let said = texts(&entities).iter().any(|w| {
            let (sides, what) = w.0.split_once(": ").unwrap_or_default();
            sides.split(", ").any(|s| s == p.side) && what.starts_with(&format!("{way},"))
        });
        assert!(said, "{} {way} in {:?}", p.side, texts(&entities));
    }
    assert!(ways.len() > 1, "the case is about sides that differ: {passes:?}");
}

#[test]
fn sides_without_a_name_are_told_at_their_passes() {
    // Two notches in a hole give it several fronts and backs.
    let corners = [(0.0, 0.0), (900.0, 0.0), (900.0, 300.0), (640.0, 300.0), (640.0, 420.0), (0.0, 420.0)];
    let at = |&(x, y): &(f64, f64)| Corner { at: pt(700.0 + x, 140.0 + y), radius: 15.0 };
    let shape = Shape::Polygon(corners.iter().map(at).collect());
    let hatch = Opening::new("hatch".to_owned(), OpeningKind::Other, shape);
    let question = make::question(vec![top(vec![hatch])], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
    let pose = Pose::new(0.0, pt(100.0, 300.0));
    let (entities, openings) = read_back(&question, &[pose], |_| {});
    let passes = &openings.openings[0].cutting.passes;
    let numbered: Vec<_> = passes.iter().filter(|p| p.side.starts_with("side ")).collect();
    assert!(numbered.len() > 1, "{passes:?}");
    let lead = leaders(&entities);
    for p in numbered {
        let middle = pose.apply(Point::from(p.from).lerp(p.to.into(), 0.5));
        let near = lead.iter().filter(|l| l.1.distance(middle) < 1.0).count();
        assert_eq!(near, 1, "{} has no leader: {lead:?}", p.side);
    }
    let words = texts(&entities);
    let told =
        passes.iter().map(|p| format!("blade {}", p.blade.map_or_else(String::new, |b| Shown::Mm.bare_length(b))));
    for way in told {
        assert!(words.iter().any(|w| w.0.contains(&way)), "{way} in {words:?}");
    }
}

#[test]
fn rows_of_small_cuts_name_their_blade() {
    // A radius below that of the smallest bit.
    let hob = make::opening("hob", OpeningKind::Cooktop, [1000.0, 350.0], 560.0, 480.0, 4.0);
    let question = make::question(vec![top(vec![hob])], vec![make::slab("plate", 3000.0, 1600.0, 900.0)]);
    let (entities, openings) = read_back(&question, &[Pose::new(0.0, pt(100.0, 300.0))], |o| {
        o.openings.iter_mut().for_each(|s| s.verdict = Verdict::Fine);
    });
    let rows = &openings.openings[0].cutting.rows;
    assert_eq!((rows.len(), on(&entities, "row-cut").len()), (4, rows.iter().map(|r| r.cuts.len()).sum()));
    let line = format!("row cuts: blade {}", Shown::Mm.bare_length(rows[0].blade.expect("a blade has room")));
    assert!(texts(&entities).iter().any(|w| w.0 == line), "{line} in {:?}", texts(&entities));
}

#[test]
fn a_curve_that_no_saw_follows_has_its_line_and_its_step() {
    let bowl = Opening::new(
        "bowl".to_owned(),
        OpeningKind::DropInSink,
        Shape::Ellipse { centre: pt(700.0, 350.0), half_x: 240.0, half_y: 180.0 },
    );
    // A hatch whose back bends by 12 degrees, with a radius that no core makes, and whose corner at the left points inwards.
    let corners =
        [(0.0, 0.0, 10.0), (600.0, 0.0, 10.0), (600.0, 300.0, 10.0), (300.0, 332.0, 900.0), (0.0, 300.0, 10.0)];
    let at = |&(x, y, radius): &(f64, f64, f64)| Corner { at: pt(1500.0 + x, 150.0 + y), radius };
    let hatch = Opening::new("hatch".to_owned(), OpeningKind::Other, Shape::Polygon(corners.iter().map(at).collect()));
    let round = Opening::new(
        "waste".to_owned(),
        OpeningKind::TapHole,
        Shape::Ellipse { centre: pt(1200.0, 350.0), half_x: 17.5, half_y: 17.5 },
    );
    let question = make::question(
        vec![top(vec![bowl.clone(), hatch.clone(), round])],
        vec![make::slab("plate", 3000.0, 1600.0, 900.0)],
    );
    let pose = Pose::new(0.0, pt(100.0, 300.0));
    let (entities, openings) = read_back(&question, &[pose], |_| {});
    let other = on(&entities, "other-cut");
    assert_eq!(other.len(), 2, "{other:?}");
    assert!(
        other.iter().any(|b| matches!(b, Body::Ellipse { half_x, half_y, .. } if (half_x - 240.0).abs() < SAME && (half_y - 180.0).abs() < SAME))
    );
    // The bend lies on the line of the hole, from where one side ends to where the next begins.
    let Some(Body::Path { vertices, closed: false }) = other.iter().find(|b| matches!(b, Body::Path { .. })) else {
        panic!("{other:?}")
    };
    let turn = 2.0 * (32.0_f64 / 300.0).atan();
    let (first, last) = (vertices[0].at, vertices[vertices.len() - 1].at);
    assert!((first.distance(last) - 2.0 * 900.0 * (turn / 2.0).sin()).abs() < 0.01, "{first:?} {last:?}");
    for v in vertices {
        assert!(off(pose.undo(v.at), &hatch.shape) < 0.01, "{v:?}");
    }
    for (name, word) in
        [("bowl", "Cut the curved line by water or router"), ("hatch", "Cut the curved line by water or router")]
    {
        let sheet = openings.openings.iter().find(|s| s.opening == name).unwrap();
        let step = |words: &str| sheet.order.iter().position(|o| o.starts_with(words));
        let cut = step(word).unwrap_or_else(|| panic!("{name}: {:?}", sheet.order));
        assert!(step("Support piece").unwrap() < cut && cut < step("Take the drop out").unwrap());
        assert_eq!(step("Saw the sides").is_some(), name == "hatch");
        assert!(texts(&entities).iter().any(|w| w.0.starts_with("curve: ")));
    }
    let drilled = openings.openings.iter().find(|s| s.opening == "waste").unwrap();
    assert!(drilled.cutting.curves.is_empty() && !drilled.order.iter().any(|o| o.contains("router")));
}

#[test]
fn a_hole_of_no_bit_says_how_it_is_made() {
    let hole = |d: f64| {
        let shape = Shape::Ellipse { centre: pt(700.0, 350.0), half_x: d / 2.0, half_y: d / 2.0 };
        let question = make::question(
            vec![top(vec![Opening::new("hole".to_owned(), OpeningKind::TapHole, shape)])],
            vec![make::slab("plate", 3000.0, 1600.0, 900.0)],
        );
        let (_, openings) = read_back(&question, &[Pose::new(0.0, pt(100.0, 300.0))], |_| {});
        openings.openings[0].clone()
    };
    let bits = scantling::model::Shop::default().tools.core_bits;
    let least = bits.iter().copied().fold(f64::INFINITY, f64::min);
    let most = bits.iter().copied().fold(0.0, f64::max);
    let has = |d: f64, words: &str| hole(d).order.iter().any(|o| o.contains(words));
    assert!(has(least - 5.0, "The shop has no core bit so small"));
    assert!(has(least + 1.0, "Grind the hole out from the core"));
    assert!(!has(least, "Grind the hole") && has(least, "Drill the core"));
    assert!(has(most + 40.0, "Cut the curved line by water or router"));
}
