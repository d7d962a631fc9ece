//! Random rims and bodies. A case follows from its number alone, so a failure names what to run again.

use geo::{Area, BooleanOps, Buffer, Distance, Euclidean};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scantling::craft::cutout::{CutOutFault, choose};
use scantling::craft::fit;
use scantling::geom::curve::Corner;
use scantling::geom::{Point, pt};
use scantling::model::{Drawn, Fixture, Shape};
use scantling::units::Shown;

use super::{BITS, EXACT, drawn, inside, inside_corners, points, polygon};
use crate::properties::cases;

/// What stands in for a line at a distance may be larger than it by so much (mm).
const WITHIN: f64 = 0.25;

struct Case {
    rim: Drawn,
    body: Drawn,
    /// The measured points of a traced body.
    trace: Vec<Point>,
}

fn rectangle(w: f64, h: f64, r: f64) -> Shape {
    Shape::rectangle(w, h, r.clamp(0.0, w.min(h) * 0.5)).moved(pt(-w / 2.0, -h / 2.0))
}

/// A convex or L-shaped polygon with rounded corners, and one round it whose sides lie farther out by `margin`.
fn polygons(rng: &mut ChaCha8Rng, margin: f64) -> (Shape, Shape) {
    let margin = margin.max(0.5);
    let corner = |p: (f64, f64), radius: f64| Corner { at: pt(p.0, p.1), radius };
    let (w, h) = (rng.random_range(260.0..700.0), rng.random_range(240.0..500.0f64));
    let r = if rng.random_range(0..3) == 0 { 0.0 } else { rng.random_range(0.0..40.0) };
    let more = if r > 0.0 { rng.random_range(0.0..margin.max(1.0) + r) } else { 0.0 };
    let m = margin;
    match rng.random_range(0..3) {
        // A trapezium: the slanting sides lie at `margin` too.
        0 => {
            let lean: f64 = rng.random_range(10.0..80.0);
            let slope = lean / h;
            let d = m * (1.0 + slope * slope).sqrt();
            let body = [(0.0, 0.0), (w, 0.0), (w - lean, h), (lean, h)];
            let low = m * slope;
            let rim = [(-d - low, -m), (w + d + low, -m), (w - lean + d - low, h + m), (lean - d + low, h + m)];
            (Shape::Polygon(rim.map(|p| corner(p, more)).to_vec()), Shape::Polygon(body.map(|p| corner(p, r)).to_vec()))
        }
        // A rectangle with a corner cut off.
        1 => {
            let c: f64 = rng.random_range(40.0..120.0);
            let e = m * (2f64.sqrt() - 1.0);
            let body = [(0.0, 0.0), (w, 0.0), (w, h - c), (w - c, h), (0.0, h)];
            let rim = [(-m, -m), (w + m, -m), (w + m, h - c + e), (w - c + e, h + m), (-m, h + m)];
            (
                Shape::Polygon(rim.map(|p| corner(p, more.min(25.0))).to_vec()),
                Shape::Polygon(body.map(|p| corner(p, r.min(25.0))).to_vec()),
            )
        }
        _ => {
            let (x, y) = (w * rng.random_range(0.4..0.6), h * rng.random_range(0.4..0.6));
            let body = [(0.0, 0.0), (w, 0.0), (w, y), (x, y), (x, h), (0.0, h)];
            let rim = [(-m, -m), (w + m, -m), (w + m, y + m), (x + m, y + m), (x + m, h + m), (-m, h + m)];
            (
                Shape::Polygon(rim.map(|p| corner(p, more.min(45.0))).to_vec()),
                Shape::Polygon(body.map(|p| corner(p, r.min(45.0))).to_vec()),
            )
        }
    }
}

/// Points round a shape at uneven steps with noise.
fn traced(rng: &mut ChaCha8Rng, shape: &Shape, n: usize, noise: f64) -> Vec<Point> {
    let line = points(shape);
    let step = |k: usize| {
        let (p, q) = (line[k], line[(k + 1) % line.len()]);
        (q.0 - p.0).hypot(q.1 - p.1)
    };
    let around: f64 = (0..line.len()).map(step).sum();
    (0..n)
        .map(|i| {
            let mut left = (i as f64 + 0.5 + rng.random_range(-0.35..0.35)) / n as f64 * around;
            let mut k = 0;
            while left > step(k) && k + 1 < line.len() {
                left -= step(k);
                k += 1;
            }
            let (p, q) = (line[k], line[(k + 1) % line.len()]);
            let t = left / step(k).max(1e-9);
            pt(
                p.0 + (q.0 - p.0) * t + rng.random_range(-noise..noise),
                p.1 + (q.1 - p.1) * t + rng.random_range(-noise..noise),
            )
        })
        .collect()
}

/// A case whose outlines are outlines.
fn case(rng: &mut ChaCha8Rng, needed: f64) -> Case {
    loop {
        let case = any_case(rng, needed);
        if [&case.rim, &case.body].iter().all(|d| d.shape.tidy(|_| false).is_ok()) {
            return case;
        }
    }
}

fn any_case(rng: &mut ChaCha8Rng, needed: f64) -> Case {
    let margin =
        if rng.random_range(0..3) == 0 { needed + rng.random_range(-0.1..2.0) } else { rng.random_range(-2.0..40.0) };
    let (w, h) = (rng.random_range(200.0..700.0f64), rng.random_range(180.0..500.0));
    let r = if rng.random_range(0..4) == 0 { 0.0 } else { rng.random_range(0.0..90.0) };
    match rng.random_range(0..7) {
        0 => {
            let body = Shape::Ellipse { centre: pt(0.0, 0.0), half_x: w / 2.0, half_y: h / 2.0 };
            let rim = Shape::Ellipse { centre: pt(0.0, 0.0), half_x: w / 2.0 + margin, half_y: h / 2.0 + margin };
            Case { rim: drawn(rim), body: drawn(body), trace: Vec::new() }
        }
        1 => {
            let (rim, body) = polygons(rng, margin);
            Case { rim: drawn(rim), body: drawn(body), trace: Vec::new() }
        }
        2 => {
            let truth = if rng.random_range(0..2) == 0 {
                rectangle(w, h, rng.random_range(40.0..85.0))
            } else {
                Shape::Ellipse { centre: pt(0.0, 0.0), half_x: w / 2.0, half_y: w / 2.0 * rng.random_range(0.6..1.0) }
            };
            let (n, noise) = (rng.random_range(36..90), rng.random_range(0.1..0.8));
            let trace = traced(rng, &truth, n, noise);
            let body = fit::trace(&trace, 1.5).unwrap_or_else(|e| panic!("{e:?}"));
            let b = truth.extent();
            let rim = match truth {
                Shape::Polygon(_) => rectangle(b.width() + 2.0 * margin, b.height() + 2.0 * margin, 60.0),
                Shape::Ellipse { half_x, half_y, centre } => {
                    Shape::Ellipse { centre, half_x: half_x + margin, half_y: half_y + margin }
                }
            };
            Case { rim: drawn(rim), body, trace }
        }
        // Sharp corners, for which there is room only if a bit is small enough.
        3 => {
            let rim = rectangle(w + 2.0 * margin, h + 2.0 * margin + rng.random_range(0.0..8.0), 0.0);
            Case { rim: drawn(rim), body: drawn(rectangle(w, h, rng.random_range(0.0..4.0))), trace: Vec::new() }
        }
        _ => {
            let (left, front) = (rng.random_range(-6.0..6.0), rng.random_range(-6.0..6.0));
            let rim = rectangle(
                w + 2.0 * margin,
                h + 2.0 * margin + rng.random_range(0.0..20.0),
                r + rng.random_range(-10.0..20.0),
            );
            Case { rim: drawn(rim.moved(pt(left, front))), body: drawn(rectangle(w, h, r)), trace: Vec::new() }
        }
    }
}

fn bits(rng: &mut ChaCha8Rng) -> Vec<f64> {
    match rng.random_range(0..4) {
        0 => vec![20.0],
        1 => BITS[rng.random_range(0..5)..].to_vec(),
        _ => BITS.to_vec(),
    }
}

#[test]
fn a_hole_clears_the_body_and_bears_the_rim_or_the_error_is_right() {
    let [mut worked, mut narrow, mut no_bit] = [0; 3];
    for number in 0..u64::from(cases(150)) {
        let mut rng = ChaCha8Rng::seed_from_u64(number);
        let (bearing, clearance, accuracy) =
            (rng.random_range(5.0..12.0), rng.random_range(0.0..5.0), rng.random_range(0.0..2.0));
        let Case { rim, body, trace } = case(&mut rng, bearing + clearance + 2.0 * accuracy);
        let bits = bits(&mut rng);
        let (by, least) = (clearance + accuracy, bearing + accuracy);
        let fixture = Fixture::DropIn { rim: rim.clone(), body: body.clone(), bearing, clearance, accuracy };
        let (g_rim, g_body) = (polygon(&rim.shape), polygon(&body.shape));
        let band = inside(&g_body, &g_rim);
        let told = format!("case {number}: {fixture:?}, bits {bits:?}, band {band:?}");
        match choose(&fixture, &bits, Shown::Mm) {
            Ok(chosen) => {
                worked += 1;
                let told = format!("{told}\n{chosen:?}");
                let hole = polygon(&chosen.shape);
                let clears = inside(&g_body, &hole).unwrap_or_else(|| panic!("the body sticks out; {told}"));
                let bears = inside(&hole, &g_rim).unwrap_or_else(|| panic!("the rim falls in; {told}"));
                assert!(clears >= by - EXACT, "clears by {clears}, needs {by}; {told}");
                assert!(bears >= least - EXACT, "bears {bears}, needs {least}; {told}");
                // As small as it can be: shrunk by a bit more than what stands in for curves, it would hit the body.
                assert!(clears <= by + WITHIN + EXACT, "clears by {clears}, needs {by}; {told}");
                // What is told is what is measured.
                let spare = chosen.spare;
                assert!((spare.least_clearance.unwrap() - (clears - accuracy)).abs() <= EXACT, "{told}");
                assert!((spare.least_bearing.unwrap() - (bears - accuracy)).abs() <= EXACT, "{told}");
                assert!((spare.may_still_cut - (bears - accuracy - bearing).max(0.0)).abs() <= EXACT, "{told}");
                for radius in inside_corners(&chosen.shape) {
                    assert!(radius >= bits[0] / 2.0 - 1e-6, "a corner of {radius} cannot be cored; {told}");
                }
                // Every measured point clears, less what the fitted line is off.
                let off = body.fit.map_or(0.0, |f| f.deviation);
                for p in &trace {
                    let to_line = Euclidean.distance(&geo::Point::new(p.x, p.y), hole.exterior());
                    assert!(to_line >= by - off - EXACT, "a traced point is {to_line} from the hole; {told}");
                }
            }
            Err(CutOutFault::Narrow { found, needed, .. }) => {
                narrow += 1;
                assert!((needed - by - least).abs() < 1e-9, "{told}");
                match band {
                    Some(gap) => {
                        assert!(gap < needed + EXACT, "there is room; {told}");
                        assert!((gap - found).abs() <= EXACT, "found {found}; {told}");
                    }
                    None => assert!(found <= EXACT, "found {found}; {told}"),
                }
            }
            Err(CutOutFault::NoBit { found, needed, enough, smallest, .. }) => {
                no_bit += 1;
                assert!(found < needed && enough < smallest, "{told}");
                assert!(band.is_some_and(|gap| gap >= by + least - EXACT), "a band that is empty; {told}");
                // The largest hole that such a bit can cut: the rim shrunk, then opened by the bit. It must not hold the body.
                let r = bits[0] / 2.0;
                let largest = g_rim.buffer(-least - WITHIN).buffer(-r).buffer(r);
                let out = g_body.buffer(by).difference(&largest).unsigned_area();
                assert!(out > 1e-3, "the largest hole would do; {told}");
            }
            Err(fault) => panic!("{fault:?}; {told}"),
        }
    }
    println!("{worked} holes, {narrow} too narrow, {no_bit} without a bit");
    assert!(worked * 5 > narrow + no_bit && narrow > 0 && no_bit > 0, "{worked} {narrow} {no_bit}: a lopsided test");
}

#[test]
fn a_hole_over_a_bowl_keeps_its_overhang() {
    for number in 0..u64::from(cases(150)) {
        let mut rng = ChaCha8Rng::seed_from_u64(1_000_000 + number);
        let Case { body: bowl, .. } = case(&mut rng, 16.0);
        let overhang = rng.random_range(-10.0..10.0f64);
        let accuracy = rng.random_range(0.0..2.0);
        let fixture = Fixture::Undermount { bowl: bowl.clone(), overhang, accuracy };
        let told = format!("case {number}: {fixture:?}");
        let chosen = choose(&fixture, &BITS, Shown::Mm).unwrap_or_else(|e| panic!("{e:?}; {told}"));
        let told = format!("{told}\n{chosen:?}");
        let (g_bowl, hole) = (polygon(&bowl.shape), polygon(&chosen.shape));
        if overhang > 0.0 {
            // Nowhere does the bowl's rim show, and the sides lie at the overhang.
            let covers = inside(&hole, &g_bowl).unwrap_or_else(|| panic!("the rim shows; {told}"));
            assert!(covers <= overhang + WITHIN + EXACT, "{covers}; {told}");
            assert!((chosen.spare.may_still_cut - (covers - accuracy).max(0.0)).abs() <= EXACT, "{told}");
        } else {
            assert_eq!(chosen.spare.may_still_cut, 0.0, "{told}");
        }
        // Where all sides lie along the axes, the boxes show the overhang.
        let (a, b) = (bowl.shape.extent(), chosen.shape.extent());
        let square = match &bowl.shape {
            Shape::Ellipse { .. } => true,
            Shape::Polygon(c) => (0..c.len()).all(|i| {
                let d = c[(i + 1) % c.len()].at - c[i].at;
                d.x == 0.0 || d.y == 0.0
            }),
        };
        if !square {
            continue;
        }
        for (of_bowl, of_hole) in [(a.width(), b.width()), (a.height(), b.height())] {
            let off = (of_bowl - 2.0 * overhang - of_hole).abs();
            assert!(off <= 2.0 * WITHIN + EXACT, "{of_bowl} {of_hole}; {told}");
        }
        assert!(inside_corners(&chosen.shape).iter().all(|&r| r >= 10.0 - 1e-6), "{told}");
    }
}
