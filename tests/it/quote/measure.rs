//! Areas by rectangles and lengths along the true line, against answers known by hand and lines drawn finely.

use std::f64::consts::PI;

use proptest::prelude::*;
use scantling::geom::curve::Corner;
use scantling::geom::{Pose, Ring, pt};
use scantling::model::{AreaRule, Finish, Outline, Shape};
use scantling::quote::{area, edges, ellipse_length, rectangles, rounded_corners};

fn polygon(points: &[[f64; 2]]) -> Shape {
    rounded(&points.iter().map(|&[x, y]| [x, y, 0.0]).collect::<Vec<_>>())
}

fn rounded(points: &[[f64; 3]]) -> Shape {
    Shape::Polygon(points.iter().map(|&[x, y, radius]| Corner { at: pt(x, y), radius }).collect())
}

fn close(found: f64, wanted: f64) {
    assert!((found - wanted).abs() <= 1e-9 * wanted.abs().max(1.0), "{found} is not {wanted}");
}

#[test]
fn runs_are_charged_as_their_rectangles() {
    // An L, also with its corners rounded: two rectangles.
    let l = [[0., 0.], [2400., 0.], [2400., 620.], [620., 620.], [620., 1900.], [0., 1900.]];
    close(rectangles(&polygon(&l)), 2400.0 * 620.0 + 620.0 * 1280.0);
    let soft: Vec<[f64; 3]> = l.iter().map(|&[x, y]| [x, y, 15.0]).collect();
    close(rectangles(&rounded(&soft)), 2400.0 * 620.0 + 620.0 * 1280.0);
    // A U and the same lying on its side: three rectangles.
    let u = [
        [0., 0.],
        [3000., 0.],
        [3000., 1500.],
        [2400., 1500.],
        [2400., 600.],
        [500., 600.],
        [500., 1200.],
        [0., 1200.],
    ];
    close(rectangles(&polygon(&u)), 3000.0 * 600.0 + 600.0 * 900.0 + 500.0 * 600.0);
    // A table with round corners, a round table and an oval one: the rectangle round them.
    close(rectangles(&Shape::rectangle(1500.0, 750.0, 60.0)), 1500.0 * 750.0);
    close(rectangles(&Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 450.0, half_y: 450.0 }), 900.0 * 900.0);
    close(rectangles(&Shape::Ellipse { centre: pt(9.0, 9.0), half_x: 600.0, half_y: 400.0 }), 1200.0 * 800.0);
    // A run with a slanting end, and a wedge: the rectangle round them.
    close(rectangles(&polygon(&[[0., 0.], [2000., 0.], [1700., 600.], [0., 600.]])), 2000.0 * 600.0);
    close(rectangles(&polygon(&[[0., 0.], [900., 0.], [0., 900.]])), 900.0 * 900.0);
    // An L with a cut-off inside corner and one slanting end: cut at the inside corners.
    let slant = [[0., 0.], [2500., 0.], [2400., 600.], [900., 600.], [600., 900.], [600., 2000.], [0., 2000.]];
    // Strips along x at 600 and 900: 600 x 2000, 300 x 900 and 1600 x 600; along y: 2500 x 600, 900 x 300, 600 x 1100.
    let along_x = 600.0 * 2000.0 + 300.0 * 900.0 + 1600.0 * 600.0;
    let along_y = 2500.0 * 600.0 + 900.0 * 300.0 + 600.0 * 1100.0;
    close(rectangles(&polygon(&slant)), f64::min(along_x, along_y));
    // A bay: a curve drawn with many short sides has no inside corners.
    let mut bay = vec![[0., 0.], [2000., 0.], [2000., 600.]];
    bay.extend((1..40).map(|k| {
        let a = PI * f64::from(k) / 40.0;
        [1000.0 + 900.0 * a.cos(), 600.0 - 80.0 * a.sin()]
    }));
    bay.push([0., 600.]);
    close(rectangles(&polygon(&bay)), 2000.0 * 600.0);
}

#[test]
fn the_outline_itself_is_exact() {
    close(Shape::rectangle(100.0, 100.0, 50.0).area(), PI * 2500.0);
    close((Shape::Ellipse { centre: pt(5.0, 5.0), half_x: 300.0, half_y: 200.0 }).area(), PI * 60_000.0);
    // An inside corner's rounding adds what an outside one takes.
    let bent = rounded(&[
        [0., 0., 0.],
        [600., 0., 0.],
        [600., 500., 40.],
        [1500., 500., 0.],
        [1500., 1100., 0.],
        [0., 1100., 0.],
    ]);
    close(bent.area(), 1.2e6 + 1600.0 * (1.0 - PI / 4.0));
    close(area(&bent, AreaRule::Outline), bent.area());
    close(area(&bent, AreaRule::Rectangles), 1.2e6);
}

fn named(name: &str) -> Finish {
    Finish::Finished(name.to_owned())
}

#[test]
fn edges_follow_the_true_line() {
    let finishes = vec![named("polished"), Finish::Raw, named("eased"), named("polished")];
    let found = edges(&Outline::new(Shape::rectangle(1000.0, 600.0, 100.0), finishes));
    let arc = 50.0 * PI;
    // Front and left with the arc between them and the arcs to the raw and half of that to the eased side.
    close(found[&named("polished")], 800.0 + 400.0 + arc + arc + arc / 2.0);
    close(found[&named("eased")], 800.0 + arc / 2.0 + arc);
    close(found[&Finish::Raw], 400.0);
    let whole: f64 = found.values().sum();
    close(whole, 2.0 * 800.0 + 2.0 * 400.0 + 4.0 * arc);
    let circle = Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 450.0, half_y: 450.0 };
    close(edges(&Outline::new(circle, vec![named("polished")]))[&named("polished")], 900.0 * PI);
    assert_eq!(rounded_corners(&Outline::new(Shape::rectangle(1000.0, 600.0, 100.0), vec![Finish::Raw; 4])), 0);
    let one = vec![named("polished"), Finish::Raw, Finish::Raw, Finish::Raw];
    assert_eq!(rounded_corners(&Outline::new(Shape::rectangle(1000.0, 600.0, 100.0), one.clone())), 2);
    assert_eq!(rounded_corners(&Outline::new(Shape::rectangle(1000.0, 600.0, 0.0), one)), 0);
}

/// Length of an ellipse by the chords of a million steps.
fn drawn(a: f64, b: f64) -> f64 {
    let n = 1_000_000;
    let at = |k: i32| {
        let t = 2.0 * PI * f64::from(k) / f64::from(n);
        pt(a * t.cos(), b * t.sin())
    };
    (0..n).map(|k| at(k).distance(at(k + 1))).sum()
}

#[test]
fn ellipses_are_as_long_as_they_are_drawn() {
    for (a, b) in [(600.0, 400.0), (400.0, 600.0), (1500.0, 20.0), (300.0, 299.999), (1.0, 1.0)] {
        let (found, wanted) = (ellipse_length(a, b), drawn(a, b));
        assert!((found / wanted - 1.0).abs() < 1e-9, "{a} {b}: {found} {wanted}");
    }
    close(ellipse_length(250.0, 250.0), 500.0 * PI);
    close(ellipse_length(250.0, 0.0), 1000.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// A run of steps (all sides along the axes) is charged by its area, turned by a quarter too; any other shape by no less than
    /// its area and no more than the rectangle round it.
    #[test]
    fn rectangles_cover_the_piece(
        steps in prop::collection::vec((100.0..900.0_f64, 100.0..900.0_f64), 1..5),
        radius in 0.0..40.0_f64,
        lean in prop::sample::select(vec![0.0, 0.05, 0.3]),
    ) {
        // Stairs: up along the front, back along the top.
        let (mut x, mut y) = (0.0, 0.0);
        let mut points = vec![[0.0, 0.0, 0.0]];
        for (w, h) in &steps {
            x += w;
            points.push([x, y, radius]);
            y += h;
            points.push([x + lean * h, y, radius]);
            x += lean * h;
        }
        points.push([0.0, y, radius]);
        let shape = rounded(&points);
        let Ok((shape, ..)) = shape.tidy(|_| false) else { return Ok(()) };
        let (found, least) = (rectangles(&shape), shape.area());
        let whole = shape.extent();
        prop_assert!(found >= least * (1.0 - 1e-12), "{found} {least}");
        prop_assert!(found <= whole.width() * whole.height() * (1.0 + 1e-12));
        if lean == 0.0 {
            let sharp = Ring::vouched_outline(points.iter().map(|p| pt(p[0], p[1])).collect()).area();
            prop_assert!((found - sharp).abs() < 1e-6 * sharp);
        }
    }

    /// The true line is as long as a fine drawing of it, and its area that of the drawing.
    #[test]
    fn lengths_and_areas_are_those_of_the_drawing(w in 300.0..2000.0_f64, h in 300.0..900.0_f64, r in 5.0..140.0_f64, angle in 0.0..360.0_f64) {
        let pose = Pose::new(angle, pt(0.0, 0.0));
        let corners = [[0.0, 0.0], [w, 0.0], [w + 120.0, h], [w / 2.0, h + 60.0], [0.0, h]];
        let corners = corners.map(|[x, y]| Corner { at: pose.apply(pt(x, y)), radius: r });
        let shape = Shape::Polygon(corners.to_vec());
        let Ok((shape, ..)) = shape.tidy(|_| false) else { return Ok(()) };
        let Shape::Polygon(tidy) = &shape else { return Ok(()) };
        let outline = Outline::new(shape.clone(), vec![named("polished"); tidy.len()]);
        let drawn: f64 = outline.ring.edges().map(|(a, b)| a.distance(b)).sum();
        let found = edges(&outline)[&named("polished")];
        // The drawing runs outside by at most 0.05 mm, along arcs that turn once round.
        prop_assert!(found <= drawn + 1e-6 && drawn <= found + 2.0 * PI * 0.05 + 1e-6, "{found} {drawn}");
        let (area, ring) = (shape.area(), outline.ring.area());
        prop_assert!(area <= ring + 1e-6 && ring <= area + 0.05 * drawn, "{area} {ring}");
    }
}
