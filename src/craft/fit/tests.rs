//! Known outlines with noise.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{TraceFault, circle, farthest, trace};
use crate::craft::line;
use crate::geom::curve::Corner;
use crate::geom::{Point, pt};
use crate::model::Shape;

/// `n` points round the true line of a shape at uneven steps, each off by up to `noise` either way in x and y.
fn traced(shape: &Shape, n: usize, noise: f64, seed: u64) -> Vec<Point> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let ring = line::outer(shape);
    let around = ring.perimeter();
    let mut shake = |most: f64| if most > 0.0 { rng.random_range(-most..most) } else { 0.0 };
    (0..n)
        .map(|k| {
            let mut left = (k as f64 + 0.5 + shake(0.4)) / n as f64 * around;
            for (a, b) in ring.edges() {
                let step = a.distance(b);
                if left <= step {
                    return a.lerp(b, left / step) + pt(shake(noise), shake(noise));
                }
                left -= step;
            }
            ring.points()[0]
        })
        .collect()
}

fn d_shape() -> Shape {
    let corner = |x: f64, y: f64, radius: f64| Corner { at: pt(x, y), radius };
    Shape::Polygon(vec![
        corner(0.0, 0.0, 45.0),
        corner(420.0, 0.0, 45.0),
        corner(420.0, 360.0, 210.0),
        corner(0.0, 360.0, 210.0),
    ])
}

/// Four arcs, tangent to one another: two of 120 mm at the ends, two of 400 mm along the sides.
fn oval() -> Shape {
    let (small, large, end): (f64, f64, f64) = (120.0, 400.0, 150.0);
    // They meet where the middle of the large arc lies on the short axis.
    let off = (end / (large - small)).acos();
    let h = end * off.cos() + small;
    let lines = [-off, off, std::f64::consts::PI - off, std::f64::consts::PI + off].map(|a| pt(a.cos(), a.sin()));
    let corners = (0..4)
        .map(|k| {
            let (u, v) = (lines[k], lines[(k + 1) % 4]);
            let at = pt(h * v.y - h * u.y, h * u.x - h * v.x) * (1.0 / u.cross(v));
            Corner { at, radius: if k % 2 == 0 { small } else { large } * (1.0 - 1e-9) }
        })
        .collect();
    Shape::Polygon(corners)
}

#[test]
fn a_noisy_circle_gives_back_middle_and_radius() {
    // With noise uniform within ±e in x and y, the scatter along the radius is e/√3. Of n points all round, the middle then
    // scatters by e √(2/(3n)) in x and y and the radius by e/√(3n): four of these are the bound.
    for (seed, n, noise) in [(1, 40, 0.3), (2, 40, 1.0), (3, 400, 1.0), (4, 12, 0.5), (5, 40, 0.0)] {
        let points = traced(&Shape::Ellipse { centre: pt(310.0, -40.0), half_x: 187.0, half_y: 187.0 }, n, noise, seed);
        let (centre, r) = circle(&points).expect("a circle");
        let bound = 4.0 * noise * (2.0 / (3.0 * n as f64)).sqrt() + 1e-3;
        assert!((centre.x - 310.0).abs() <= bound && (centre.y + 40.0).abs() <= bound, "{centre:?} {bound}");
        assert!((r - 187.0).abs() <= bound, "{r} {bound}");
        let drawn = trace(&points, 1.5).expect("an outline");
        let Shape::Ellipse { half_x, half_y, .. } = drawn.shape else { panic!("{drawn:?}") };
        // An ellipse has one number more than a circle to follow the noise with.
        assert!((half_x - 187.0).abs() <= 2.0 * bound && (half_y - 187.0).abs() <= 2.0 * bound, "{half_x} {half_y}");
    }
}

#[test]
fn a_noisy_rounded_rectangle_has_four_sides_and_its_radius() {
    for seed in 1..=8 {
        for noise in [0.0, 0.3, 1.0] {
            let truth = Shape::rectangle(432.0, 356.0, 60.0).moved(pt(17.0, 900.0));
            let points = traced(&truth, 40, noise, seed);
            let drawn = trace(&points, 1.5).unwrap_or_else(|e| panic!("seed {seed}: {e:?}"));
            let Shape::Polygon(corners) = &drawn.shape else { panic!("seed {seed}, noise {noise}: {drawn:?}") };
            assert_eq!(corners.len(), 4, "seed {seed}, noise {noise}: {corners:?}");
            // A side of 8 points or more scatters by noise/√3/√8 at its middle, and at its ends, where the corner is, by about
            // twice that again beyond the last point: 1.2 times the noise is five of these.
            let bound = 1.2 * noise + 1e-2;
            for want in [pt(17.0, 900.0), pt(449.0, 900.0), pt(449.0, 1256.0), pt(17.0, 1256.0)] {
                let near = corners.iter().map(|c| c.at.distance(want)).fold(f64::MAX, f64::min);
                assert!(near <= 1.5 * bound, "seed {seed}, noise {noise}: {near} {corners:?}");
            }
            // A corner of 60 mm holds two or three of the points; the apex of the arc is 25 mm (0.41 r) from the corner, and a
            // point's noise moves it by as much: an error of the radius of 2.4 times that, and as much from the sides.
            for c in corners {
                assert!((c.radius - 60.0).abs() <= 6.0 * bound, "seed {seed}, noise {noise}: {corners:?}");
            }
            let fit = drawn.fit.expect("a fit");
            assert_eq!(fit.points, 40);
            assert!(fit.deviation <= 1.5 * noise + 0.01, "{}", fit.deviation);
        }
    }
}

#[test]
fn a_sharp_corner_stays_sharp() {
    let truth = Shape::rectangle(400.0, 300.0, 0.0);
    for seed in 1..=6 {
        let drawn = trace(&traced(&truth, 60, 0.4, seed), 1.0).expect("an outline");
        let Shape::Polygon(corners) = &drawn.shape else { panic!("{drawn:?}") };
        assert_eq!(corners.len(), 4, "seed {seed}: {corners:?}");
        assert!(corners.iter().all(|c| c.radius < 12.0), "seed {seed}: {corners:?}");
    }
}

#[test]
fn a_d_an_oval_and_an_ellipse_need_few_sides() {
    for (name, truth, most) in [
        ("d", d_shape(), 6),
        ("oval", oval(), 9),
        ("ellipse", Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 225.0, half_y: 170.0 }, 4),
    ] {
        for seed in 1..=3 {
            for (n, noise) in [(40, 0.3), (40, 1.0), (300, 0.5)] {
                let points = traced(&truth, n, noise, seed);
                let drawn = trace(&points, 1.5).unwrap_or_else(|e| panic!("{name} {seed} {n} {noise}: {e:?}"));
                if let Shape::Polygon(corners) = &drawn.shape {
                    assert!(corners.len() <= most, "{name} {seed} {n} {noise}: {corners:?}");
                }
                // The fitted line against the true one. A rounding of 45 degrees or more that holds one or two points takes on
                // several times their noise at its apex; sides and long arcs less than the noise.
                let (_, off) = farthest(&drawn.shape, line::outer(&truth).points());
                assert!(off <= 0.5 + 4.0 * noise, "{name} {seed} {n} {noise}: {off}");
            }
        }
    }
}

/// The shape turned about the origin.
fn turned(shape: &Shape, degrees: f64) -> Shape {
    let (sin, cos) = degrees.to_radians().sin_cos();
    match shape {
        Shape::Polygon(corners) => Shape::Polygon(
            corners
                .iter()
                .map(|c| Corner { at: pt(c.at.x * cos - c.at.y * sin, c.at.x * sin + c.at.y * cos), radius: c.radius })
                .collect(),
        ),
        round @ Shape::Ellipse { .. } => round.clone(),
    }
}

#[test]
fn random_basins_are_followed() {
    for seed in 100..128 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let (w, h) = (rng.random_range(250.0..700.0f64), rng.random_range(220.0..480.0f64));
        let noise = rng.random_range(0.1..1.0);
        let n = rng.random_range(60..120);
        let kind = seed % 4;
        let truth = match kind {
            0 => Shape::rectangle(w, h, rng.random_range(45.0..w.min(h) * 0.45)),
            1 => d_shape(),
            2 => oval(),
            _ => {
                let (x, y) = (w * 0.55 + 60.0, h * 0.55 + 60.0);
                let list = [[0.0, 0.0], [w + 200.0, 0.0], [w + 200.0, y], [x, y], [x, h + 200.0], [0.0, h + 200.0]];
                Shape::Polygon(list.iter().map(|&[x, y]| Corner { at: pt(x, y), radius: 50.0 }).collect())
            }
        };
        let truth = turned(&truth, rng.random_range(0.0..360.0));
        let points = traced(&truth, n, noise, seed);
        let drawn = trace(&points, 1.5).unwrap_or_else(|e| panic!("seed {seed}: {e:?}"));
        let Shape::Polygon(corners) = &drawn.shape else { panic!("seed {seed}: {drawn:?}") };
        let most = if kind == 3 { 6 } else { 4 } + 1;
        assert!(corners.len() <= most, "seed {seed}, {n} points, noise {noise}: {corners:?}");
        // No point was moved by more than noise √2; what no point says about corners is twice the noise and a little.
        let deviation = drawn.fit.map_or(0.0, |f| f.deviation);
        assert!(deviation <= 1.5 * noise + 0.1, "seed {seed}, {n} points, noise {noise}: {deviation}");
        let (_, off) = farthest(&drawn.shape, line::outer(&truth).points());
        assert!(off <= 0.5 + 2.0 * noise, "seed {seed}, {n} points, noise {noise}: off {off}, {corners:?}");
    }
}

#[test]
fn traces_that_are_none_say_why() {
    let round = Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 200.0, half_y: 150.0 };
    let points = traced(&round, 40, 0.3, 1);
    assert!(matches!(trace(&points[..30], 1.0), Err(TraceFault::Open { gap, spacing, .. }) if gap > 4.0 * spacing));
    assert!(matches!(trace(&points[..6], 1.0), Err(TraceFault::TooFew { points: 6 })));
    let mut crossed = points.clone();
    crossed.swap(5, 15);
    assert!(matches!(trace(&crossed, 1.0), Err(TraceFault::Crossing { .. })));
    let mut stray = points.clone();
    stray[7] = stray[7] * 1.1;
    assert!(
        matches!(trace(&stray, 1.0), Err(TraceFault::Scattered { at, .. }) if at == stray[7]),
        "{:?}",
        trace(&stray, 1.0)
    );
    let line: Vec<Point> = (0..20).map(|k| pt(f64::from(k), 0.0)).collect();
    assert!(matches!(trace(&line, 1.0), Err(TraceFault::Flat)));
    let mut wild = points.clone();
    wild[3].x = f64::NAN;
    assert!(matches!(trace(&wild, 1.0), Err(TraceFault::OutOfRange { at }) if at.x.is_nan()));
    assert!(matches!(trace(&vec![pt(0.0, 0.0); 3000], 1.0), Err(TraceFault::TooMany { .. })));
    // Run the other way round it is the same outline.
    let back: Vec<Point> = points.iter().rev().copied().collect();
    assert!(trace(&back, 1.0).is_ok());
}
