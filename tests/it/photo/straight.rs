//! Paintings photographed askew, straightened, and compared with the painting.

use proptest::prelude::*;
use scantling::geom::{BBox, Point, Pose, Ring, pt};
use scantling::model::{Layout, OpeningKind, Piece, Placed, Yield};
use scantling::photo::{Fit, Grid, PiecePicture, Raster, Seen, piece_picture, pieces, slab_picture};

use super::{PICTURE, SIZE, camera, chess, light, painted, photograph, slab};
use crate::make;

const GREY: [u8; 3] = [150, 152, 155];
const RED: [u8; 3] = [210, 30, 25];

/// A piece that covers the slab, so that its picture is the straightened photograph without any veil.
fn cover() -> Piece {
    make::piece("cover", SIZE[0], SIZE[1])
}

fn part<'a>(piece: &'a Piece, turn: f64, shift: Point) -> PiecePicture<'a> {
    PiecePicture { number: 1, piece, pose: Pose::new(turn, shift) }
}

fn seen(photograph: &Raster, part: &PiecePicture<'_>, most: usize) -> Seen {
    let slab = slab("x.jpg");
    let fit = Fit::of(slab.photo.as_ref().unwrap()).unwrap();
    piece_picture(photograph, &fit, part, most).unwrap()
}

fn brightness(p: [u8; 3]) -> f64 {
    p.iter().map(|&v| light(v)).sum::<f64>() / 3.0
}

/// Where the light along a line of pixels passes half-way from one square to the next, near `near` (pixels).
fn edge(near: f64, at: impl Fn(usize) -> f64) -> f64 {
    let half = (brightness(chess(pt(50.0, 50.0))) + brightness(chess(pt(150.0, 50.0)))) / 2.0;
    let from = (near - 6.0).round() as usize;
    let crossings: Vec<f64> = (from..from + 12)
        .filter(|&i| (at(i) < half) != (at(i + 1) < half))
        // Values stand for the middles of pixels.
        .map(|i| i as f64 + 0.5 + (half - at(i)) / (at(i + 1) - at(i)))
        .collect();
    assert_eq!(crossings.len(), 1, "one edge near {near}: {crossings:?}");
    crossings[0]
}

#[test]
fn every_corner_of_a_chessboard_comes_back_within_half_a_pixel() {
    // As fine as the photograph, twice as coarse, and much coarser than it.
    for (picture, most) in [(PICTURE, 800), (PICTURE, 400), ([2700, 1920], 400)] {
        let zoom = picture[0] as f64 / PICTURE[0] as f64;
        let rows = camera().rows();
        let rows = [rows[0].map(|v| v * zoom), rows[1].map(|v| v * zoom), rows[2]];
        let camera = scantling::photo::Homography::of_rows(rows).unwrap();
        let photograph = photograph(&camera, picture, chess);
        let mut photo = *slab("x.jpg").photo.unwrap();
        photo.marks = photo.at.iter().map(|&p| camera.apply(p).unwrap()).collect();
        let fit = Fit::of(&photo).unwrap();
        let piece = cover();
        let Seen { raster, grid, unseen } =
            piece_picture(&photograph, &fit, &part(&piece, 0.0, pt(0.0, 0.0)), most).unwrap();
        assert_eq!(unseen, 0.0);
        assert_eq!((grid.corner, grid.width.max(grid.height)), (pt(0.0, SIZE[1]), raster.width()));
        assert!(raster.width() <= most && raster.width() > most * 9 / 10, "{}", raster.width());
        let mut worst: f64 = 0.0;
        let aside = 25.0 / grid.mm_per_pixel;
        for i in 1..20 {
            for j in 1..12 {
                let c = grid.pixel(pt(100.0 * f64::from(i), 100.0 * f64::from(j)));
                for side in [-aside, aside] {
                    let along_x = edge(c.x, |k| brightness(raster.pixel(k, (c.y + side) as usize)));
                    let along_y = edge(c.y, |k| brightness(raster.pixel((c.x + side) as usize, k)));
                    worst = worst.max((along_x - c.x).abs()).max((along_y - c.y).abs());
                }
            }
        }
        println!("worst corner of {} pixels: {worst:.3} pixels", raster.width());
        assert!(worst < 0.5, "{worst}");
    }
}

#[test]
fn a_straightened_picture_is_the_painting() {
    // Waves of 250 mm and more: what the photograph can show without loss.
    let paint = |p: Point| {
        let wave = |a: f64, b: f64| 0.5 + 0.4 * ((p.x * a + p.y * b) / 40.0).sin();
        [wave(0.9, 0.3), wave(0.2, 0.8), wave(-0.5, 0.6)].map(super::value)
    };
    let photograph = photograph(&camera(), PICTURE, paint);
    let piece = cover();
    let Seen { raster, grid, .. } = seen(&photograph, &part(&piece, 0.0, pt(0.0, 0.0)), 500);
    let original = painted([raster.width(), raster.height()], |p| paint(grid.place(p.x, p.y)));
    let mut sum = 0.0;
    let mut worst = 0;
    for (a, b) in raster.rgb().iter().zip(original.rgb()) {
        let off = a.abs_diff(*b);
        sum += f64::from(off);
        worst = worst.max(off);
    }
    let mean = sum / raster.rgb().len() as f64;
    println!("mean {mean:.3}, worst {worst} of 255");
    assert!(mean < 0.6 && worst <= 8, "mean {mean}, worst {worst}");
}

/// Where the red of a picture is, in pixels, and how many pixels it has.
fn red(raster: &Raster) -> (Point, usize) {
    let (mut sum, mut weight, mut count) = (pt(0.0, 0.0), 0.0, 0);
    for y in 0..raster.height() {
        for x in 0..raster.width() {
            let [r, g, b] = raster.pixel(x, y);
            let redness = f64::from(r) - f64::from(g.max(b));
            if redness > 30.0 {
                sum = sum + pt(x as f64 + 0.5, y as f64 + 0.5) * redness;
                weight += redness;
                count += 1;
            }
        }
    }
    (sum * (1.0 / weight), count)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn a_mark_on_the_slab_lands_at_its_pixel_of_the_piece_at_any_turn(
        turn in prop_oneof![Just(0.0), Just(90.0), Just(180.0), Just(270.0), -360.0..360.0f64],
        mark in (0.1..0.9f64, 0.1..0.9f64), place in (0.0..1.0f64, 0.0..1.0f64),
    ) {
        let piece = make::piece("run", 700.0, 300.0);
        let mark = pt(mark.0 * 700.0, mark.1 * 300.0);
        // A pose by which the mark lies somewhere in the middle of the slab.
        let target = pt(500.0 + 1000.0 * place.0, 400.0 + 400.0 * place.1);
        let shift = target - Pose::new(turn, pt(0.0, 0.0)).apply(mark);
        let photograph = photograph(&camera(), PICTURE, |p| if p.distance(target) < 18.0 { RED } else { GREY });
        let part = part(&piece, turn, shift);
        let Seen { raster, grid, .. } = seen(&photograph, &part, 1600);
        let (found, count) = red(&raster);
        prop_assert!(count > 4);
        let wanted = pt(mark.x, 300.0 - mark.y) * (1.0 / grid.mm_per_pixel);
        prop_assert!(found.distance(wanted) < 0.5, "{found:?} for {wanted:?} at {turn}");
    }
}

#[test]
fn a_piece_has_white_round_it_and_in_its_openings_and_its_front_below() {
    let l_shape =
        [[0.0, 0.0], [900.0, 0.0], [900.0, 300.0], [400.0, 300.0], [400.0, 800.0], [0.0, 800.0]].map(Point::from);
    let mut piece = make::polygon("corner", &l_shape);
    piece.openings = vec![make::opening("sink", OpeningKind::UndermountSink, [650.0, 150.0], 200.0, 120.0, 20.0)];
    // Turned by a half, moved: its front edge lies upwards on the slab.
    let part = part(&piece, 180.0, pt(1500.0, 1000.0));
    let paint = |p: Point| if p.y > 900.0 { RED } else { GREY };
    let Seen { raster, grid, unseen } = seen(&photograph(&camera(), PICTURE, paint), &part, 600);
    assert_eq!(unseen, 0.0);
    let at = |x: f64, y: f64| {
        let p = grid.pixel(pt(x, y));
        raster.pixel(p.x as usize, p.y as usize)
    };
    let is_grey = |p: [u8; 3]| p.iter().zip(GREY).all(|(a, b)| a.abs_diff(b) < 4);
    assert_eq!(at(700.0, 600.0), [255; 3], "beside the L");
    assert_eq!(at(650.0, 150.0), [255; 3], "in the opening");
    assert!(is_grey(at(200.0, 700.0)) && is_grey(at(850.0, 250.0)));
    // The slab above y = 900 is the piece below y = 100, which is the picture's lower part.
    let front = at(300.0, 50.0);
    assert!(front[0] > 200 && front[1] < 45, "{front:?}");
    assert!(grid.pixel(pt(300.0, 50.0)).y > 0.9 * raster.height() as f64);
}

#[test]
fn what_the_photograph_does_not_show_is_grey_and_counted() {
    // The left half of the picture is all there is of the file.
    let whole = photograph(&camera(), PICTURE, |_| RED);
    let half = Raster::made(PICTURE[0] / 2, PICTURE[1], |x, y| whole.pixel(x, y)).unwrap();
    let piece = cover();
    let Seen { raster, unseen, .. } = seen(&half, &part(&piece, 0.0, pt(0.0, 0.0)), 400);
    assert!((0.4..0.6).contains(&unseen), "{unseen}");
    assert_eq!(raster.pixel(raster.width() - 2, raster.height() / 2), [232; 3]);
}

#[test]
fn the_slab_is_pale_paler_beside_the_pieces_and_white_round_it() {
    let mut slab = slab("x.jpg");
    slab.outline =
        Ring::tidy(&[pt(0.0, 0.0), pt(2000.0, 0.0), pt(2000.0, 1200.0), pt(300.0, 1200.0), pt(0.0, 900.0)]).unwrap().0;
    let fit = Fit::of(slab.photo.as_ref().unwrap()).unwrap();
    let mut piece = make::piece("run", 700.0, 500.0);
    piece.openings = vec![make::opening("sink", OpeningKind::UndermountSink, [350.0, 250.0], 300.0, 200.0, 0.0)];
    let part = part(&piece, 90.0, pt(1500.0, 300.0));
    let of = |shade: u8| {
        let photograph = photograph(&camera(), PICTURE, |_| [shade; 3]);
        let Seen { raster, grid, .. } = slab_picture(&photograph, &fit, &slab, &[part], 500).unwrap();
        let at = |x: f64, y: f64| {
            let p = grid.pixel(pt(x, y));
            raster.pixel(p.x as usize, p.y as usize)[0]
        };
        assert_eq!(at(60.0, 1150.0), 255, "off the slab");
        let (waste, stone, drop) = (at(500.0, 600.0), at(1050.0, 350.0), at(1250.0, 650.0));
        assert_eq!(drop, waste);
        (waste, stone, grid)
    };
    // Light stone gets the usual veil, dark stone as much as black lines need.
    let (waste, stone, _) = of(200);
    assert!(waste.abs_diff(234) < 2 && stone.abs_diff(218) < 2, "{waste} {stone}");
    let (waste, stone, grid) = of(0);
    assert!(waste.abs_diff(205) < 2 && stone.abs_diff(165) < 2, "{waste} {stone}");
    assert_eq!(grid.bbox().min.x, 0.0);
    assert!(grid.bbox().max.distance(pt(2000.0, 1200.0)) < grid.mm_per_pixel);
}

#[test]
fn pictures_are_not_made_finer_than_the_photograph_nor_larger_than_asked() {
    let photograph = photograph(&camera(), PICTURE, |_| GREY);
    let piece = cover();
    let part = part(&piece, 0.0, pt(0.0, 0.0));
    let fine = seen(&photograph, &part, 100_000);
    // It is finest at the lower end of the slab, across: 0.55 pixels a millimetre.
    assert!((1000..1200).contains(&fine.raster.width()), "{}", fine.raster.width());
    assert_eq!(seen(&photograph, &part, 77).raster.width(), 77);
    assert_eq!(seen(&photograph, &part, 0).raster.width(), 1);
    let thin = make::piece("strip", 2000.0, 1.0);
    assert_eq!(seen(&photograph, &self::part(&thin, 0.0, pt(0.0, 500.0)), 300).raster.height(), 1);
    let b = BBox { min: pt(0.0, 0.0), max: pt(30.0, 20.0) };
    assert_eq!((Grid::over(&b, 1.0, 100).width, Grid::over(&b, 1.0, 100).height), (30, 20));
    assert_eq!((Grid::over(&b, 1.0, 15).width, Grid::over(&b, 1.0, 15).height), (15, 10));
}

#[test]
fn pieces_without_sense_are_left_out() {
    let question =
        make::question(vec![make::piece("a", 500.0, 300.0), make::piece("b", 400.0, 300.0)], vec![slab("x.jpg")]);
    let placed = |piece: &str, turn: f64, shift: [f64; 2]| Placed {
        job: "boathouse".to_owned(),
        piece: piece.to_owned(),
        turn,
        shift,
        pinned: false,
        outline: Vec::new(),
        openings: Vec::new(),
    };
    let layout = Layout {
        slab_print: None,
        slab: "GV-1".to_owned(),
        placed: vec![
            placed("a", f64::NAN, [0.0, 0.0]),
            placed("nobody", 0.0, [0.0, 0.0]),
            placed("b", 0.0, [1e300, 0.0]),
            placed("b", 45.0, [900.0, 300.0]),
        ],
        yields: Yield::of(1.0, 1.0, 0.0, 0.0),
        offcuts: Vec::new(),
    };
    let found = pieces(&question, &layout);
    assert_eq!(found.iter().map(|p| (p.number, p.piece.name.as_str())).collect::<Vec<_>>(), [(4, "b")]);
    // Far off the slab there is nothing to see, and no harm.
    let photograph = photograph(&camera(), PICTURE, |_| RED);
    let far = part(&question.jobs[0].pieces[0], 10.0, pt(900_000.0, -900_000.0));
    let far = seen(&photograph, &far, 200);
    assert!(far.unseen > 0.99 && far.raster.rgb().iter().all(|&v| v >= 232));
}
