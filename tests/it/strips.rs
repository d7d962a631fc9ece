//! Strips of fixed width: layouts without overlaps, known least lengths, the same for any number of threads.

use scantling::geom::{Pose, Region, Ring, boolean, pt};
use scantling::search::strip::{Kind, Layout, Strip, pack};

fn kind(points: &[[f64; 2]], turns: &[f64], count: usize) -> Kind {
    let points: Vec<_> = points.iter().map(|p| pt(p[0], p[1])).collect();
    Kind { outline: Ring::tidy(&points).unwrap().0, turns: turns.to_vec(), count }
}

fn lay(strip: &Strip, rounds: u64) -> Layout {
    pack(strip, 1, Some(rounds), &|_, _| false).expect("everything fits across the strip")
}

/// Overlaps and overhangs, by area, with another part of the kernel than the search uses.
fn assert_clean(strip: &Strip, layout: &Layout) {
    let count: usize = strip.kinds.iter().map(|k| k.count).sum();
    assert_eq!(layout.laid.len(), count);
    let regions: Vec<Region> =
        layout.laid.iter().map(|l| Pose::new(l.turn, l.shift).ring(&strip.kinds[l.kind].outline).to_region()).collect();
    for (i, (a, laid)) in regions.iter().zip(&layout.laid).enumerate() {
        assert!(strip.kinds[laid.kind].turns.contains(&laid.turn));
        let b = a.bbox();
        assert!(b.min.x >= -1e-6 && b.min.y >= -1e-6, "{b:?}");
        assert!(b.max.x <= layout.length + 1e-6 && b.max.y <= strip.width + 1e-6, "{b:?}");
        for other in &regions[..i] {
            let shared = boolean::intersection(a, other).area();
            // Half a micrometre along a side is what the search may leave.
            assert!(shared < 2.0, "{shared} mm² shared by {laid:?}");
        }
    }
}

#[test]
fn triangles_find_their_other_halves() {
    // Right triangles, two of which make a rectangle: 8 rectangles of 300 x 240 on a width of 500.
    let strip = Strip { width: 500.0, kinds: vec![kind(&[[0.0, 0.0], [300.0, 0.0], [0.0, 240.0]], &[0.0, 180.0], 16)] };
    let layout = lay(&strip, 8);
    assert_clean(&strip, &layout);
    let area = 16.0 * 300.0 * 240.0 / 2.0;
    let density = area / (strip.width * layout.length);
    assert!(density > 0.80, "density {density}");
}

#[test]
fn pieces_with_a_notch_take_others_in() {
    // U shapes 400 x 300 with a slot 120 wide and 200 deep, and bars 110 x 190 that fit into the slots: the bars cost nothing.
    let u: &[[f64; 2]] = &[
        [0.0, 0.0],
        [400.0, 0.0],
        [400.0, 300.0],
        [260.0, 300.0],
        [260.0, 100.0],
        [140.0, 100.0],
        [140.0, 300.0],
        [0.0, 300.0],
    ];
    let bar: &[[f64; 2]] = &[[0.0, 0.0], [110.0, 0.0], [110.0, 190.0], [0.0, 190.0]];
    let strip = Strip { width: 310.0, kinds: vec![kind(u, &[0.0, 180.0], 4), kind(bar, &[0.0], 4)] };
    let layout = lay(&strip, 8);
    assert_clean(&strip, &layout);
    assert!(layout.length < 1630.0, "length {}", layout.length);
}

#[test]
fn the_same_for_any_number_of_threads() {
    let strip = Strip {
        width: 900.0,
        kinds: vec![
            kind(&[[0.0, 0.0], [310.0, 20.0], [280.0, 260.0], [40.0, 300.0]], &[0.0, 90.0, 180.0, 270.0], 5),
            kind(
                &[[0.0, 0.0], [500.0, 0.0], [500.0, 90.0], [90.0, 90.0], [90.0, 400.0], [0.0, 400.0]],
                &[0.0, 180.0],
                4,
            ),
        ],
    };
    let with = |threads: usize| {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| lay(&strip, 3))
    };
    let one = with(1);
    assert_clean(&strip, &one);
    assert_eq!(one, with(2));
    assert_eq!(one, with(3));
}

#[test]
fn what_is_wider_than_the_strip_is_refused() {
    let strip = Strip {
        width: 100.0,
        kinds: vec![kind(&[[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]], &[0.0, 90.0], 1)],
    };
    assert!(pack(&strip, 1, Some(1), &|_, _| false).is_none());
}

#[test]
fn an_exact_fit_has_no_waste() {
    // A pinwheel: four rectangles round a fifth, which fill 1000 x 1000, and slanted halves of another 1000 x 400.
    let slanted: [&[[f64; 2]]; 2] = [
        &[[0.0, 0.0], [150.0, 0.0], [290.0, 1000.0], [0.0, 1000.0]],
        &[[150.0, 0.0], [400.0, 0.0], [400.0, 1000.0], [290.0, 1000.0]],
    ];
    let rectangle = |w: f64, h: f64| kind(&[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], &[0.0], 1);
    let strip = Strip {
        width: 1000.0,
        kinds: vec![
            rectangle(600.0, 350.0),
            rectangle(400.0, 620.0),
            rectangle(700.0, 380.0),
            rectangle(300.0, 650.0),
            rectangle(300.0, 270.0),
            kind(slanted[0], &[0.0], 1),
            kind(slanted[1], &[0.0], 1),
        ],
    };
    let layout = lay(&strip, 120);
    assert_clean(&strip, &layout);
    assert!(layout.length < 1400.0 + 2e-3, "length {}", layout.length);
}
