//! Rails along their length, and the rods in them.

use proptest::prelude::*;
use scantling::craft::rails::rails;
use scantling::craft::rods::{Rodding, Setting, rods, rods_of_piece};
use scantling::geom::curve::Corner;
use scantling::geom::{Point, distance, pt};
use scantling::model::openings::{Rail, RailVerdict, Rod};
use scantling::model::{
    Blade, Finish, Flaw, FlawKind, Limits, Opening, OpeningKind, Outline, Piece, Rods, Shape, Slab, StoneClass,
};
use scantling::units::Shown;

use crate::make;

const SINK: OpeningKind = OpeningKind::UndermountSink;

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
}

fn slab(stone: StoneClass, thickness: f64) -> Slab {
    Slab { stone, thickness, ..make::slab("GG-17/2", 3200.0, 2000.0, 640.0) }
}

fn granite() -> Slab {
    slab(StoneClass::Granite, 30.0)
}

fn rail<'a>(rails: &'a [Rail], side: &str) -> &'a Rail {
    rails.iter().find(|r| r.side == side).unwrap_or_else(|| panic!("no {side} in {rails:?}"))
}

fn counter(openings: Vec<Opening>) -> Piece {
    Piece { openings, ..make::piece("window run", 2650.0, 620.0) }
}

fn sink() -> Opening {
    make::opening("main sink", SINK, [1325.0, 290.0], 700.0, 400.0, 20.0)
}

fn tap(x: f64, y: f64) -> Opening {
    let shape = Shape::Ellipse { centre: pt(x, y), half_x: 17.5, half_y: 17.5 };
    Opening::new("tap".to_owned(), OpeningKind::TapHole, shape)
}

/// Widths worked by hand; the limits of 50 and 100 mm are common practice.
#[test]
fn rails_of_a_rectangle() {
    let piece = counter(vec![sink()]);
    let found = rails(&piece, 0, &granite(), &Limits::default());
    let of = |side: &str| {
        let r = rail(&found, side);
        (r.least, r.verdict, r.span)
    };
    assert_eq!(of("front"), (90.0, RailVerdict::Rod, 700.0));
    assert_eq!(of("back"), (130.0, RailVerdict::Fine, 700.0));
    assert_eq!(of("left"), (975.0, RailVerdict::Fine, 400.0));
    assert_eq!(of("right"), (975.0, RailVerdict::Fine, 400.0));
    let front = rail(&found, "front");
    assert_eq!((front.stop, front.rod), (50.0, Some(100.0)));
    // The narrowest place is shown in the middle where the rail is as narrow there.
    assert_eq!(front.at, [[1325.0, 90.0], [1325.0, 0.0]]);
    // Beside the rounded corner of 20 mm the rail is wider by as much (an arc drawn to 0.0005 mm); a quarter along it is not.
    near(front.profile[0][1], 110.0, 0.2);
    assert!(front.profile.iter().any(|p| p[0] == 175.0 && p[1] == 90.0));
    assert!(front.profile.windows(2).all(|w| w[0][0] < w[1][0]));
    assert!(rails(&piece, 1, &granite(), &Limits::default()).is_empty());
}

/// A rail at its limit is wide enough, a hair less is not (the judge's rule).
#[test]
fn verdicts_at_their_limits() {
    let front = |setback: f64, stone, thickness, limits: &Limits| {
        let o = make::opening("sink", SINK, [1325.0, setback + 200.0], 700.0, 400.0, 20.0);
        let found = rails(&counter(vec![o]), 0, &slab(stone, thickness), limits);
        (rail(&found, "front").verdict, rail(&found, "front").rod)
    };
    let d = Limits::default();
    use RailVerdict::{Fine, Rod, Stop};
    use StoneClass::{Granite, Marble, Porcelain, Travertine};
    assert_eq!(front(100.0, Granite, 30.0, &d).0, Fine);
    assert_eq!(front(99.99, Granite, 30.0, &d).0, Rod);
    assert_eq!(front(50.0, Granite, 30.0, &d).0, Rod);
    assert_eq!(front(49.99, Granite, 30.0, &d).0, Stop);
    assert_eq!(front(64.0, Granite, 20.0, &d).0, Stop);
    assert_eq!(front(124.0, Marble, 30.0, &d), (Rod, Some(125.0)));
    assert_eq!(front(150.0, Travertine, 30.0, &d), (Rod, None));
    assert_eq!(front(60.0, Porcelain, 20.0, &d), (Fine, Some(0.0)));
    let own = Limits { min_rail: Some(40.0), rod_rail: Some(45.0), ..Limits::default() };
    assert_eq!(front(45.0, Granite, 30.0, &own).0, Fine);
    assert_eq!(front(44.0, Granite, 30.0, &own).0, Rod);
}

/// The corner of an L that points at an opening makes a neck, which bounds the side that the way to it runs in most; a slanted front is measured
/// square to itself. Derived.
#[test]
fn rails_of_other_outlines() {
    let ell = [(0.0, 0.0), (2400.0, 0.0), (2400.0, 620.0), (620.0, 620.0), (620.0, 1900.0), (0.0, 1900.0)];
    let of = |x: f64, y: f64, w: f64, h: f64| {
        let mut piece = make::polygon("corner", &ell.map(|(x, y)| pt(x, y)));
        piece.openings.push(make::opening("sink", SINK, [x + w / 2.0, y + h / 2.0], w, h, 0.0));
        let found = rails(&piece, 0, &granite(), &Limits::default());
        ["front", "right", "back", "left"].map(|side| rail(&found, side).least)
    };
    let same = |a: [f64; 4], b: [f64; 4]| a.into_iter().zip(b).for_each(|(a, b)| near(a, b, 1e-5));
    // Its corner at (500, 450) is a neck away from (620, 620): sqrt(120² + 170²), more back than right.
    same(of(100.0, 100.0, 400.0, 350.0), [100.0, 1900.0, 208.086_52, 100.0]);
    // Under the run the corner of the L is only where the back edge ends, which is nearer before.
    same(of(760.0, 100.0, 400.0, 460.0), [100.0, 1240.0, 60.0, 760.0]);

    let slanted = [(0.0, 0.0), (2000.0, 200.0), (2000.0, 900.0), (0.0, 900.0)];
    let mut piece = make::polygon("slanted", &slanted.map(|(x, y)| pt(x, y)));
    piece.openings.push(make::opening("sink", SINK, [1000.0, 500.0], 400.0, 200.0, 0.0));
    let found = rails(&piece, 0, &granite(), &Limits::default());
    let front = rail(&found, "front");
    // From (1200, 400) to the line y = x / 10: 280 / sqrt 1.01; at the other end 320 / sqrt 1.01.
    near(front.least, 278.610_4, 1e-4);
    near(front.profile[0][1], 318.411_9, 1e-4);
    near(front.profile.last().unwrap()[1], 278.610_4, 1e-4);
}

/// Webs of 100 mm, 25 mm at tap holes (common practice); a web that another opening lies across is no web.
#[test]
fn webs() {
    let of = |x: f64, name: &str| make::opening(name, SINK, [x, 290.0], 400.0, 400.0, 20.0);
    let piece = counter(vec![of(700.0, "left bowl"), of(1190.0, "right bowl"), tap(945.0, 550.0), of(2100.0, "third")]);
    let found = rails(&piece, 0, &granite(), &Limits::default());
    let sides: Vec<&str> = found.iter().map(|r| r.side.as_str()).collect();
    assert_eq!(
        sides,
        ["front", "back", "left", "to right bowl", "to tap"],
        "the right rail and the third lie behind the right bowl"
    );
    let web = rail(&found, "to right bowl");
    assert_eq!((web.least, web.verdict, web.stop, web.span), (90.0, RailVerdict::Stop, 100.0, 400.0));
    assert_eq!(web.at, [[900.0, 290.0], [990.0, 290.0]]);
    let to_tap = rail(&found, "to tap");
    // From the arc round (880, 470) to the middle of the tap: sqrt(65² + 80²) - 20 - 17.5.
    near(to_tap.least, 65.577, 2e-3);
    assert_eq!((to_tap.stop, to_tap.rod, to_tap.verdict), (25.0, Some(0.0), RailVerdict::Fine));
    // The tap hole by itself: its own limit at the edge.
    let of_tap = rails(&piece, 2, &granite(), &Limits::default());
    let back = rail(&of_tap, "back");
    near(back.least, 52.5, 1e-3);
    assert_eq!((back.stop, back.verdict), (25.0, RailVerdict::Fine));
}

fn any_outline() -> impl Strategy<Value = Shape> {
    let trapezoid = (0.0..150.0, 0.0..150.0, 0.0..120.0).prop_map(|(a, b, r): (f64, f64, f64)| {
        vec![(pt(0.0, a), r), (pt(1600.0, 0.0), 0.0), (pt(1600.0, 900.0), r), (pt(0.0, 900.0 - b), 0.0)]
    });
    let ell = (1000.0..1500.0, 500.0..850.0, 0.0..60.0).prop_map(|(x, y, r): (f64, f64, f64)| {
        [(0.0, 0.0), (1600.0, 0.0), (1600.0, y), (x, y), (x, 900.0), (0.0, 900.0)].map(|(x, y)| (pt(x, y), r)).to_vec()
    });
    let polygons = prop_oneof![trapezoid, ell]
        .prop_map(|c| Shape::Polygon(c.into_iter().map(|(at, radius)| Corner { at, radius }).collect()));
    let round = Just(Shape::Ellipse { centre: pt(800.0, 450.0), half_x: 800.0, half_y: 450.0 });
    prop_oneof![3 => polygons, 1 => round]
}

fn any_piece() -> impl Strategy<Value = Piece> {
    let hole = (150.0..1450.0, 120.0..780.0, 60.0..700.0, 60.0..400.0, 0.0..30.0, 0usize..8);
    (any_outline(), proptest::collection::vec(hole, 1..5)).prop_map(|(shape, holes)| {
        let sides = match &shape {
            Shape::Polygon(c) => c.len(),
            Shape::Ellipse { .. } => 1,
        };
        let mut piece = make::piece("counter", 1600.0, 900.0);
        piece.outline = Outline::new(shape, vec![Finish::Raw; sides]);
        for (i, (x, y, w, h, r, kind)) in holes.into_iter().enumerate() {
            let name = format!("hole {i}");
            let mut o = match kind {
                0..4 => make::opening(&name, SINK, [x, y], w, h, r),
                4 => make::opening(&name, OpeningKind::Cooktop, [x, y], w, h, r),
                5 => {
                    let shape = Shape::Ellipse { centre: pt(x, y), half_x: w / 2.0, half_y: h / 2.0 };
                    Opening::new(name.clone(), OpeningKind::DropInSink, shape)
                }
                _ => tap(x, y),
            };
            o.name = name;
            let inside = distance::inside_ring(&o.ring.to_region(), &piece.outline.ring).distance > 5.0;
            let apart = piece
                .openings
                .iter()
                .all(|p| distance::regions(&p.ring.to_region(), &o.ring.to_region()).distance > 5.0);
            if inside && apart {
                piece.openings.push(o);
            }
        }
        piece
    })
}

fn any_slab() -> impl Strategy<Value = Slab> {
    (0usize..12, prop_oneof![Just(12.0), Just(20.0), Just(30.0), 3.0..60.0])
        .prop_map(|(k, thickness)| slab(StoneClass::NAMES[k].1, thickness))
}

/// Points along a shape's line, a slow plain way round the kernel: about 1 mm apart.
fn walked(shape: &Shape) -> Vec<Point> {
    let ring = shape.flatten(scantling::geom::curve::Side::Inner).points;
    (0..ring.len())
        .flat_map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let n = a.distance(b).ceil().max(1.0) as usize;
            (0..n).map(move |k| a.lerp(b, k as f64 / n as f64))
        })
        .collect()
}

fn sampled(a: &[Point], b: &[Point]) -> f64 {
    a.iter().flat_map(|p| b.iter().map(|q| p.distance(*q))).fold(f64::INFINITY, f64::min)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Rails against points walked along both lines: within the step of 1 mm and what polylines may be off.
    #[test]
    fn rails_agree_with_a_plain_twin(piece in any_piece()) {
        let outline = walked(&piece.outline.shape);
        let lines: Vec<Vec<Point>> = piece.openings.iter().map(|o| walked(&o.shape)).collect();
        for (i, own) in piece.openings.iter().enumerate() {
            let found = rails(&piece, i, &granite(), &Limits::default());
            for r in &found {
                let twin = match r.side.strip_prefix("to ") {
                    Some(name) => sampled(&lines[i], &lines[piece.openings.iter().position(|o| o.name == name).unwrap()]),
                    None => {
                        // The narrowest line is one, from the opening to the outline, and no part of the rail is narrower.
                        let [a, b] = r.at.map(Point::from);
                        prop_assert!((a.distance(b) - r.least).abs() < 2e-3, "{r:?}");
                        let to_line = outline.iter().map(|q| q.distance(b)).fold(f64::INFINITY, f64::min);
                        let to_hole = lines[i].iter().map(|q| q.distance(a)).fold(f64::INFINITY, f64::min);
                        prop_assert!(to_line < 0.7 && to_hole < 0.7, "{to_line} {to_hole}");
                        prop_assert!(r.profile.iter().all(|p| p[1] >= r.least - 1e-3), "{r:?}");
                        continue;
                    }
                };
                prop_assert!((twin - r.least).abs() < 0.8, "{twin} {r:?}");
                prop_assert!(r.profile.iter().any(|p| p[1] == r.least));
            }
            // The narrowest of all is the distance to the outline, unless that lies behind another opening.
            let least = found.iter().map(|r| r.least).fold(f64::INFINITY, f64::min);
            let twin = sampled(&lines[i], &outline);
            prop_assert!(least <= twin + 0.8, "{} {least} {twin}", own.name);
            if piece.openings.len() == 1 {
                prop_assert!((least - twin).abs() < 0.8 && found.len() == 4);
                // What lies straight ahead is never narrower than its rail; what is narrower is a neck beyond a corner.
                let b = own.shape.extent();
                for r in &found {
                    let is_ahead = |q: &Point| match r.side.as_str() {
                        "front" => (b.min.x..=b.max.x).contains(&q.x) && q.y < b.min.y,
                        "back" => (b.min.x..=b.max.x).contains(&q.x) && q.y > b.max.y,
                        "left" => (b.min.y..=b.max.y).contains(&q.y) && q.x < b.min.x,
                        _ => (b.min.y..=b.max.y).contains(&q.y) && q.x > b.max.x,
                    };
                    let ahead: Vec<Point> = outline.iter().copied().filter(is_ahead).collect();
                    let band = sampled(&lines[i], &ahead);
                    prop_assert!(r.least <= band + 1.2, "{band} {r:?}");
                    let end = Point::from(r.at[1]);
                    prop_assert!(r.least >= band - 1.2 || !is_ahead(&end), "{band} {r:?}");
                }
            }
        }
    }
}

fn setting<'a>(piece: &'a Piece, slab: &'a Slab, limits: &'a Limits, shop: &'a Rods) -> Setting<'a> {
    Setting { piece, slab, limits, shop, flaws: &[], usage: None, shown: Shown::Mm }
}

fn rodded(piece: &Piece, slab: &Slab) -> Vec<Rodding> {
    let limits = Limits::default();
    let rails: Vec<Vec<Rail>> = (0..piece.openings.len()).map(|i| rails(piece, i, slab, &limits)).collect();
    rods_of_piece(&setting(piece, slab, &limits, &Rods::default()), &rails)
}

fn said(found: &Rodding) -> String {
    found.notes.join("\n")
}

/// One sink in granite of 30 mm, worked by hand. Sizes of rods and grooves, 600 mm and 100 mm are common practice; the run-out of
/// the groove is derived.
#[test]
fn a_sink_by_hand() {
    let found = &rodded(&counter(vec![sink()]), &granite())[0];
    let front: Vec<&Rod> = found.rods.iter().filter(|r| r.side == "front").collect();
    let back: Vec<&Rod> = found.rods.iter().filter(|r| r.side == "back").collect();
    assert_eq!((front.len(), back.len(), found.rods.len()), (1, 2, 3));
    let r = front[0];
    // 8 mm and 2 mm of resin over it; 20 of 30 mm stay.
    assert_eq!((r.diameter, r.groove_width, r.groove_depth, r.stone_above), (8.0, 10.0, 10.0, 20.0));
    // At mid-width of 90 mm; 210 mm past the opening, more than 25 diameters of 8 mm.
    assert_eq!((r.from, r.to, r.past), ([765.0, 45.0], [1885.0, 45.0], [210.0, 210.0]));
    // sqrt(100 * 10 - 10²) = 30 more for the ramps.
    assert_eq!((r.groove_from, r.groove_to), ([735.0, 45.0], [1915.0, 45.0]));
    // Groove 10 * (10 * 1120 + 408.752), rod 50.2655 * 1120 mm³; times 1.4 g/cm³ and 1.15.
    near(r.resin_g, 96.262, 2e-3);
    near(r.hardener_g, 0.02 * r.resin_g, 1e-12);
    assert_eq!(r.because.len(), 2, "{:?}", r.because);
    assert!(r.because[0].contains("90 mm wide") && r.because[1].contains("700 mm long"));
    // The back rail of 130 mm is wide enough but long; wider than 100 mm it has two.
    assert_eq!((back[0].from[1], back[1].from[1], back[0].because.len()), (515.0, 565.0, 1));
    let steps = found.steps.join("\n");
    for word in ["acetone", "dry", "foam cup", "accelerator", "gloves", "read the tin", "doors", "2 % by mass"] {
        assert!(steps.contains(word), "{word} in {steps}");
    }
    assert!(said(found).contains("add nothing to its strength before it cracks"));
}

/// 12 mm stay above a groove in 20 mm, so 8 mm deep and a rod of 6 mm; 12 mm of stone bear no groove at all. Common practice.
#[test]
fn thin_stone_gets_thinner_rods_or_none() {
    let piece = counter(vec![sink()]);
    let found = &rodded(&piece, &slab(StoneClass::Granite, 20.0))[0];
    assert!(!found.rods.is_empty());
    assert!(found.rods.iter().all(|r| (r.diameter, r.groove_depth, r.stone_above) == (6.0, 8.0, 12.0)));
    assert_eq!(found.rods[0].past, [160.0, 160.0], "more than 25 diameters of 6 mm");
    let found = &rodded(&counter(vec![sink()]), &slab(StoneClass::EngineeredQuartz, 12.0))[0];
    assert!(found.rods.is_empty() && found.steps.is_empty());
    assert!(said(found).contains(
        "no rod in the front rail: the smallest, 5 mm, needs a groove 7 mm deep; 12 mm of stone allow 4.8 mm"
    ));
    near(Rods::least_above(30.0), 15.0, 0.0);
    near(Rods::deepest(30.0), 15.0, 0.0);
    near(Rods::deepest(28.0), 13.0, 0.0);
    near(Rods::deepest(40.0), 20.0, 0.0);
    near(Rods::deepest(0.0), 0.0, 0.0);
}

#[test]
fn when_there_are_no_rods() {
    let small = counter(vec![make::opening("basin", SINK, [1325.0, 310.0], 400.0, 300.0, 20.0)]);
    let found = &rodded(&small, &granite())[0];
    assert_eq!(*found, Rodding::default(), "rails of 160 mm, 400 mm long");
    // Class 3 always (common practice).
    let found = &rodded(&small, &slab(StoneClass::Travertine, 30.0))[0];
    assert_eq!(found.rods.iter().map(|r| r.side.as_str()).collect::<Vec<_>>(), ["front", "front", "back", "back"]);
    assert!(found.rods[0].because[0].contains("every rail of travertine of 30 mm"));
    let found = &rodded(&counter(vec![sink()]), &slab(StoneClass::Porcelain, 20.0))[0];
    assert!(found.rods.is_empty() && said(found).contains("porcelain gets no rods"));
    // Too narrow to be cut: no rod makes up for it.
    let narrow = counter(vec![make::opening("sink", SINK, [1325.0, 240.0], 700.0, 400.0, 20.0)]);
    let found = &rodded(&narrow, &granite())[0];
    assert!(found.rods.iter().all(|r| r.side != "front") && said(found).contains("too narrow to be cut"));
    let limits = Limits::default();
    let none = Rods { diameters: Vec::new(), ..Rods::default() };
    let (piece, slab) = (counter(vec![sink()]), granite());
    let found = rods(&setting(&piece, &slab, &limits, &none), 0, &rails(&piece, 0, &slab, &limits));
    assert!(found.rods.is_empty() && said(&found).contains("the shop lists no rods"));
    let tiny = Rods { blade: Blade { diameter: 15.0, kerf: 6.0 }, ..Rods::default() };
    let found = rods(&setting(&piece, &slab, &limits, &tiny), 0, &rails(&piece, 0, &slab, &limits));
    assert!(found.rods.iter().all(|r| r.diameter == 5.0), "7 mm deep is all that a blade of 15 mm reaches");
}

#[test]
fn handling_and_flaws_are_reasons_too() {
    let (piece, slab, limits, shop) = (
        counter(vec![make::opening("basin", SINK, [1325.0, 310.0], 400.0, 300.0, 20.0)]),
        granite(),
        Limits::default(),
        Rods::default(),
    );
    let found = |flaws: &[Flaw], usage| {
        rods(&Setting { flaws, usage, ..setting(&piece, &slab, &limits, &shop) }, 0, &rails(&piece, 0, &slab, &limits))
    };
    assert!(found(&[], Some(0.7)).rods.is_empty());
    let carried = found(&[], Some(0.71));
    assert_eq!(carried.rods.iter().map(|r| r.side.as_str()).collect::<Vec<_>>(), ["front", "front", "back", "back"]);
    let far = make::line_flaw(FlawKind::Crack, [200.0, 0.0], [200.0, 600.0], 1.0);
    let across = make::line_flaw(FlawKind::Fissure, [1300.0, -20.0], [1320.0, 100.0], 1.0);
    let crossed = found(&[far, across], None);
    assert_eq!(crossed.rods.iter().map(|r| r.side.as_str()).collect::<Vec<_>>(), ["front", "front"]);
    assert_eq!(crossed.rods[0].because, ["a fissure crosses it (flaw 2)"]);
    assert!(said(&crossed).contains("a rod does not repair it"));
}

/// A tap hole in the middle of the back rail: both rods keep 10 mm from it (common practice).
#[test]
fn rods_pass_tap_holes() {
    let sink = make::opening("main sink", SINK, [1325.0, 290.0], 700.0, 400.0, 20.0);
    let found = rodded(&counter(vec![sink, tap(1325.0, 552.0)]), &granite());
    let ys: Vec<f64> = found[0].rods.iter().filter(|r| r.side == "back").map(|r| r.from[1]).collect();
    // The hole reaches from 534.5 to 569.5; the groove is 10 mm wide.
    assert_eq!(ys.len(), 2);
    near(ys[0], 515.0, 1e-9);
    assert!(ys[1] - 5.0 >= 569.5 + 10.0, "{ys:?}");
    assert!(found[1].rods.is_empty(), "a tap hole has no rods of its own");
}

/// Two bowls side by side: one rod along both fronts.
#[test]
fn bowls_share_their_rods() {
    let of = |x: f64, name: &str| make::opening(name, SINK, [x, 290.0], 500.0, 400.0, 20.0);
    let found = rodded(&counter(vec![of(900.0, "left bowl"), of(1500.0, "right bowl")]), &granite());
    let front: Vec<&Rod> = found.iter().flat_map(|f| &f.rods).filter(|r| r.side == "front").collect();
    assert_eq!(front.len(), 1);
    assert_eq!((front[0].from[0], front[0].to[0], front[0].past), (440.0, 1960.0, [210.0, 810.0]));
    assert!(front[0].because.iter().any(|b| b == "it serves \"right bowl\" too"));
    assert!(said(&found[1]).contains("of \"left bowl\" runs on along the front rail here"));
}

/// An opening near the end of its piece: the groove ends 25 mm short of it, and the rod is told to be short.
#[test]
fn short_ends_are_told() {
    let o = make::opening("sink", SINK, [500.0, 290.0], 700.0, 400.0, 20.0);
    let found = &rodded(&counter(vec![o]), &granite())[0];
    let r = found.rods.iter().find(|r| r.side == "front").unwrap();
    near(r.groove_from[0], 25.0, 1e-9);
    assert!(said(found).contains("runs on only"), "{}", said(found));
    assert!(said(found).contains("past the opening at one end"), "{}", said(found));
    // As near to both ends.
    let mut short = make::piece("short", 1000.0, 620.0);
    short.openings = vec![make::opening("sink", SINK, [500.0, 290.0], 700.0, 400.0, 20.0)];
    let found = &rodded(&short, &granite())[0];
    assert!(said(found).contains("past the opening at both ends"), "{}", said(found));
}

/// A rail whose rod is only in the way of other rods lacks none; one that has no room at all does.
#[test]
fn only_a_rail_that_can_have_no_rod_lacks_one() {
    let mut top = make::piece("top", 2900.0, 640.0);
    top.openings = vec![make::opening("trough", SINK, [1450.0, 320.0], 2500.0, 420.0, 20.0)];
    let found = &rodded(&top, &slab(StoneClass::Travertine, 20.0))[0];
    assert!(said(found).contains("no rod in the left rail"), "{}", said(found));
    assert_eq!(found.lacking, Vec::<String>::new());
    let found = &rodded(&top, &slab(StoneClass::Travertine, 12.0))[0];
    assert_eq!(found.lacking, ["front", "right", "back", "left"]);
    // Porcelain is supported instead.
    assert_eq!(rodded(&top, &slab(StoneClass::Porcelain, 12.0))[0].lacking, Vec::<String>::new());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(250))]

    /// Openings that overlap or stick out of their piece are no reason to panic, and what sticks out is never fine.
    #[test]
    fn any_openings_will_do(x in -300.0..1900.0_f64, y in -300.0..1200.0_f64, w in 20.0..900.0_f64, h in 20.0..900.0_f64, slab in any_slab()) {
        let mut piece = make::piece("counter", 1600.0, 900.0);
        piece.openings = vec![make::opening("a", SINK, [x, y], w, h, 5.0), make::opening("b", SINK, [800.0, 450.0], 400.0, 300.0, 5.0)];
        let found = rodded(&piece, &slab);
        prop_assert_eq!(found.len(), 2);
        let all = rails(&piece, 0, &slab, &Limits::default());
        if x < w / 2.0 - 1.0 {
            prop_assert!(all.iter().filter(|r| !r.side.starts_with("to ")).all(|r| r.least < 0.0 && r.verdict == RailVerdict::Stop), "{all:?}");
        }
    }

    /// Rods never break through, lie below the surface, and keep clear of holes, edges and one another.
    #[test]
    fn rods_keep_their_distances(piece in any_piece(), slab in any_slab(), cover in 0.0..4.0_f64, kerf in 2.0..9.0_f64, d in 60.0..130.0_f64) {
        let limits = Limits::default();
        let shop = Rods { cover, blade: Blade { diameter: d, kerf }, ..Rods::default() };
        let all: Vec<Vec<Rail>> = (0..piece.openings.len()).map(|i| rails(&piece, i, &slab, &limits)).collect();
        let setting = Setting { usage: Some(0.9), ..setting(&piece, &slab, &limits, &shop) };
        let found = rods_of_piece(&setting, &all);
        prop_assert_eq!(found.len(), piece.openings.len());
        let laid: Vec<&Rod> = found.iter().flat_map(|f| &f.rods).collect();
        let t = slab.thickness;
        for (i, r) in laid.iter().enumerate() {
            prop_assert!(slab.stone != StoneClass::Porcelain);
            prop_assert!(r.groove_depth <= t / 2.0 + 1e-9 && r.groove_depth >= r.diameter + cover - 1e-9);
            let above = if t >= 28.0 { 15.0 } else if t >= 18.0 { 12.0 } else { 0.6 * t };
            prop_assert!(r.stone_above >= above - 1e-9 && (r.stone_above + r.groove_depth - t).abs() < 1e-9);
            prop_assert!(r.groove_width >= r.diameter + 1.5 && r.resin_g > 0.0);
            let (from, to) = (Point::from(r.groove_from), Point::from(r.groove_to));
            let ramp = (d / 2.0 * 2.0 * r.groove_depth - r.groove_depth.powi(2)).sqrt();
            prop_assert!((from.distance(r.from.into()) - ramp).abs() < 1e-6 && (to.distance(r.to.into()) - ramp).abs() < 1e-6);
            let off = |ring: &scantling::geom::Ring| ring.edges().map(|(a, b)| distance::segments(from, to, a, b).distance).fold(f64::INFINITY, f64::min);
            prop_assert!(piece.outline.ring.contains(from) && off(&piece.outline.ring) >= r.groove_width / 2.0);
            for o in &piece.openings {
                prop_assert!(!o.ring.contains(from));
                let least = if o.kind.is_small() { 10.0 } else { 0.0 };
                prop_assert!(off(&o.ring) >= r.groove_width / 2.0 + least - 1e-6, "{r:?} {}", o.name);
            }
            // 25 mm short of the edges at both ends.
            let u = (to - from) * (1.0 / from.distance(to));
            for (end, way) in [(from, -u), (to, u)] {
                prop_assert!(piece.outline.ring.contains(end + way * 24.9));
            }
            for other in &laid[..i] {
                let gap = distance::segments(from, to, other.groove_from.into(), other.groove_to.into()).distance;
                prop_assert!(gap >= (r.groove_width + other.groove_width) / 2.0 + 10.0 - 1e-6, "{r:?} {other:?}");
            }
        }
    }
}
