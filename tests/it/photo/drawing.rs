//! Photographs under the drawing: where they stand in scenes, SVG and PDF.

use std::sync::Arc;

use base64::Engine as _;
use lopdf::{Document, Object, content::Content};
use scantling::geom::{BBox, pt};
use scantling::io;
use scantling::model::{OpeningKind, Plan, Question};
use scantling::photo::{self, Fit};
use scantling::report::scene::{Colour, Image, Layer, Scene, Shape};
use scantling::report::{Backdrop, Paper, Settings, pdf, sheet, svg};
use scantling::search::{self, Unwatched};
use scantling::units::Shown;

use super::{PICTURE, camera, chess, photograph, slab};
use crate::make;

fn question() -> Question {
    let mut run = make::piece("run", 1500.0, 600.0);
    run.openings = vec![make::opening("sink", OpeningKind::UndermountSink, [700.0, 300.0], 500.0, 350.0, 20.0)];
    make::question(vec![run, make::piece("sill", 900.0, 200.0)], vec![slab("x.jpg")])
}

fn planned(question: &Question) -> Plan {
    search::solve(question, &search::Settings { rounds: Some(1), ..search::Settings::default() }, &Unwatched).plan
}

fn backdrop(question: &Question, plan: &Plan) -> Backdrop {
    let slab = &question.rack[0];
    let fit = Fit::of(slab.photo.as_ref().unwrap()).unwrap();
    let parts = photo::pieces(question, &plan.layouts[0]);
    let seen = photo::slab_picture(&photograph(&camera(), PICTURE, chess), &fit, slab, &parts, 500).unwrap();
    let jpeg = io::jpeg("x.jpg", &seen.raster, 80).unwrap();
    let (width, height) = (seen.raster.width() as u32, seen.raster.height() as u32);
    Backdrop { image: Arc::new(Image { jpeg, width, height, title: "Photograph".to_owned() }), area: seen.grid.bbox() }
}

fn scene() -> (Question, Backdrop, Scene) {
    let q = question();
    let p = planned(&q);
    let backdrop = backdrop(&q, &p);
    let scene = sheet::scene_on(&q, &p, 0, &Settings { shown: Shown::Mm, paper: Paper::A4 }, Some(&backdrop));
    (q, backdrop, scene)
}

/// Where the slab's outline lies on the paper.
fn stone(question: &Question, scene: &Scene) -> BBox {
    let b = question.rack[0].outline.bbox();
    let at = |p| scene.origin + p * (1.0 / scene.scale);
    BBox { min: at(b.min), max: at(b.max) }
}

#[test]
fn the_photograph_lies_under_all_else_and_exactly_under_the_slab() {
    let (q, backdrop, scene) = scene();
    let stone = stone(&q, &scene);
    let pictures: Vec<_> = scene.items.iter().filter(|i| matches!(i.shape, Shape::Picture { .. })).collect();
    assert_eq!((pictures.len(), scene.items[0].layer), (1, Layer::Photo));
    let b = pictures[0].bbox();
    // The picture's last row and column may reach past the slab by less than a pixel.
    let pixel = stone.width() / f64::from(backdrop.image.width);
    assert!((b.min.x - stone.min.x).abs() < 1e-9 && (b.max.y - stone.max.y).abs() < 1e-9);
    assert!(b.max.x - stone.max.x < pixel && stone.min.y - b.min.y < pixel);
    // Nothing large hides it.
    for item in scene.items.iter().filter(|i| i.fill.is_some() && i.layer != Layer::Margin) {
        let b = item.bbox();
        let inside = b.min.x > stone.min.x && b.max.x < stone.max.x && b.min.y > stone.min.y && b.max.y < stone.max.y;
        assert!(!inside || b.width() * b.height() < 60.0, "{item:?}");
    }
    // Without a photograph all is as it was.
    let p = planned(&q);
    let settings = Settings { shown: Shown::Mm, paper: Paper::A4 };
    let plain = sheet::scene(&q, &p, 0, &settings);
    assert_eq!(plain, sheet::scene_on(&q, &p, 0, &settings, None));
    assert!(plain.items.iter().any(|i| i.layer == Layer::Piece && i.fill == Some(Colour::WHITE)));
    let on_stone = |scene: &Scene| scene.items.iter().filter(|i| i.layer != Layer::Margin).count();
    assert_eq!(on_stone(&plain) + 1, on_stone(&scene));
    assert!(
        scene.texts().any(|t| t.content.contains("photograph"))
            && !plain.texts().any(|t| t.content.contains("photograph"))
    );
}

#[test]
fn the_svg_holds_the_bytes_of_the_picture() {
    let (_, backdrop, scene) = scene();
    let text = svg::print(&scene);
    std::fs::create_dir_all(env!("CARGO_TARGET_TMPDIR")).unwrap();
    std::fs::write(format!("{}/photo.svg", env!("CARGO_TARGET_TMPDIR")), &text).unwrap();
    assert_eq!(text, svg::print(&scene), "the same bytes twice");
    let document = roxmltree::Document::parse(&text).unwrap();
    let images: Vec<_> =
        document.descendants().filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "image"))).collect();
    assert_eq!(images.len(), 1);
    let data = images[0].attribute("href").unwrap().strip_prefix("data:image/jpeg;base64,").unwrap();
    assert_eq!(base64::engine::general_purpose::STANDARD.decode(data).unwrap(), backdrop.image.jpeg);
    let number = |name: &str| images[0].attribute(name).unwrap().parse::<f64>().unwrap();
    let b = scene.items[0].bbox();
    assert!((number("x") - b.min.x).abs() < 1e-3 && (number("y") - (scene.paper.1 - b.max.y)).abs() < 1e-3);
    assert!((number("width") - b.width()).abs() < 1e-3 && (number("height") - b.height()).abs() < 1e-3);
    assert_eq!(images[0].parent().unwrap().attribute("class"), Some("photo"));
}

#[test]
fn the_pdf_holds_the_picture_once_in_its_size() {
    let (_, backdrop, scene) = scene();
    let plain = Scene { items: scene.items[1..].to_vec(), ..scene.clone() };
    let bytes = pdf::print(&[scene.clone(), plain, scene.clone()]);
    std::fs::write(format!("{}/photo.pdf", env!("CARGO_TARGET_TMPDIR")), &bytes).unwrap();
    assert_eq!(
        bytes,
        pdf::print(&[scene.clone(), Scene { items: scene.items[1..].to_vec(), ..scene.clone() }, scene.clone()])
    );
    let document = Document::load_mem(&bytes).unwrap();
    let images: Vec<_> = document
        .objects
        .values()
        .filter_map(|o| o.as_stream().ok())
        .filter(|s| s.dict.get(b"Subtype").is_ok_and(|v| v.as_name().is_ok_and(|n| n == b"Image")))
        .collect();
    assert_eq!(images.len(), 1);
    assert_eq!(images[0].content, backdrop.image.jpeg);
    assert_eq!(images[0].dict.get(b"Filter").unwrap().as_name().unwrap(), b"DCTDecode");
    assert_eq!(images[0].dict.get(b"Width").unwrap().as_i64().unwrap(), i64::from(backdrop.image.width));
    assert_eq!(images[0].dict.get(b"Height").unwrap().as_i64().unwrap(), i64::from(backdrop.image.height));
    let pages: Vec<_> = document.get_pages().into_values().collect();
    let b = scene.items[0].bbox();
    for (i, page) in pages.into_iter().enumerate() {
        let content = Content::decode(&document.get_page_content(page)).unwrap();
        // The matrices in force where the picture is put down: the page's, then the picture's.
        let mut matrices: Vec<[f64; 6]> = Vec::new();
        let mut shown = Vec::new();
        for op in &content.operations {
            match op.operator.as_str() {
                "cm" => {
                    let v: Vec<f64> = op.operands.iter().map(|o| f64::from(o.as_float().unwrap())).collect();
                    matrices.push(v.try_into().unwrap());
                }
                "Do" => shown.push((op.operands[0].clone(), matrices.clone())),
                _ => {}
            }
        }
        if i == 1 {
            assert!(shown.is_empty());
            continue;
        }
        assert_eq!(shown.len(), 1);
        assert!(matches!(&shown[0].0, Object::Name(n) if n == b"I0"));
        let [page_matrix, picture] = shown[0].1[..] else { panic!("two matrices") };
        let k = 72.0 / 25.4;
        assert!((page_matrix[0] - k).abs() < 1e-4 && (page_matrix[3] - k).abs() < 1e-4);
        for (found, wanted) in picture.iter().zip([b.width(), 0.0, 0.0, b.height(), b.min.x, b.min.y]) {
            assert!((found - wanted).abs() < 1e-3, "{found} for {wanted}");
        }
    }
    assert!(b.min != pt(0.0, 0.0));
}
