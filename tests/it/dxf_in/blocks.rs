//! Blocks put into a drawing: shifted, turned, scaled, mirrored, in rows, in one another.

use std::f64::consts::PI;

use scantling::geom::pt;
use scantling::io::drawn::{Request, name_of};
use scantling::model::Shape;

use super::{Draft, close, exact_area, one, request, said, see, see_with};

fn insert(name: &str, at: [f64; 2], more: &str) -> String {
    format!("2\n{name}\n10\n{}\n20\n{}\n30\n0\n{more}", at[0], at[1])
}

#[test]
fn a_block_lies_where_its_base_is_put() {
    let within = Draft::new().rectangle("0", [10.0, 10.0], [300.0, 200.0]).text("0", [20.0, 20.0], 10.0, "lid");
    let draft =
        Draft::mm().block("LID", [10.0, 10.0], &within).add("INSERT", "top", &insert("lid", [1000.0, 500.0], ""));
    let seen = see(&draft);
    let outline = one(&seen);
    assert_eq!(outline.made.shape, Shape::rectangle(300.0, 200.0, 0.0).moved(pt(1000.0, 500.0)));
    let e = &seen.dxf.drawing.entities[outline.entity];
    assert_eq!((e.layer.as_str(), e.handle.as_str()), ("top", "21/21"), "layer 0 of a block is that of the insertion");
    assert_eq!(name_of(&seen, outline), Ok(Some("lid".to_owned())));
}

#[test]
fn scaled_turned_and_mirrored_blocks_keep_their_arcs() {
    // A half disc: its arc must bulge to the right side after every map.
    let within = Draft::new().polyline("0", true, &[[0.0, 0.0, 1.0], [200.0, 0.0, 0.0]]);
    let area = PI * 100.0 * 100.0 / 2.0;
    for (more, factor, low) in [
        ("41\n2\n42\n2\n50\n90\n", 4.0, [0.0, 0.0]),
        ("41\n-1\n42\n1\n", 1.0, [-200.0, -100.0]),
        ("41\n1\n42\n-1\n", 1.0, [0.0, 0.0]),
        ("210\n0\n220\n0\n230\n-1\n", 1.0, [-200.0, -100.0]),
    ] {
        let draft = Draft::mm().block("D", [0.0, 0.0], &within).add("INSERT", "0", &insert("D", [0.0, 0.0], more));
        let seen = see(&draft);
        let shape = &one(&seen).made.shape;
        close(exact_area(shape), area * factor, 0.01);
        let b = shape.extent();
        close(b.min.x, low[0], 1e-3);
        close(b.min.y, low[1], 1e-3);
    }
}

#[test]
fn uneven_scales_make_ellipses() {
    let within = Draft::new().circle("0", [0.0, 0.0], 100.0);
    let put = |more: &str| {
        see(&Draft::mm().block("C", [0.0, 0.0], &within).add("INSERT", "0", &insert("C", [0.0, 0.0], more)))
    };
    let seen = put("41\n3\n42\n1.5\n");
    assert_eq!(one(&seen).made.shape, Shape::Ellipse { centre: pt(0.0, 0.0), half_x: 300.0, half_y: 150.0 });
    let seen = put("41\n3\n42\n1.5\n50\n25\n");
    let area = exact_area(&one(&seen).made.shape);
    assert!(area > PI * 45_000.0 && area < PI * 45_000.0 + 80.0, "{area}");
    // A path with an arc: the arc becomes part of an ellipse.
    let within = Draft::new().polyline("0", true, &[[0.0, 0.0, 1.0], [200.0, 0.0, 0.0]]);
    let draft =
        Draft::mm().block("D", [0.0, 0.0], &within).add("INSERT", "0", &insert("D", [0.0, 0.0], "41\n2\n42\n1\n"));
    let seen = see(&draft);
    let area = exact_area(&one(&seen).made.shape);
    assert!(area > PI * 10_000.0 - 0.01 && area < PI * 10_000.0 + 40.0, "{area}");
}

#[test]
fn rows_and_blocks_in_blocks() {
    let disc = Draft::new().circle("0", [0.0, 0.0], 10.0);
    let row = Draft::new().add("INSERT", "0", &insert("disc", [0.0, 0.0], "70\n3\n44\n50\n71\n2\n45\n100\n50\n90\n"));
    let draft = Draft::mm().block("DISC", [0.0, 0.0], &disc).block("ROW", [0.0, 0.0], &row);
    let seen = see(&draft.add("INSERT", "0", &insert("row", [1000.0, 0.0], "41\n2\n42\n2\n")));
    assert_eq!(seen.outlines.all.len(), 6, "{}", said(&seen));
    let (first, last) = (seen.outlines.all.first().unwrap(), seen.outlines.all.last().unwrap());
    // Turned by 90 degrees: columns run up, rows to the left; all twice as large.
    let centre = |s: &Shape| s.extent().centre();
    assert!(centre(&first.made.shape).distance(pt(800.0, 0.0)) < 1e-9, "{first:?}");
    assert!(centre(&last.made.shape).distance(pt(1000.0, 200.0)) < 1e-9, "{last:?}");
    assert!(matches!(last.made.shape, Shape::Ellipse { half_x, .. } if (half_x - 20.0).abs() < 1e-9));
}

#[test]
fn attributes_are_texts() {
    let within = Draft::new().rectangle("0", [0.0, 0.0], [300.0, 200.0]);
    let draft = Draft::mm()
        .block("B", [0.0, 0.0], &within)
        .add("INSERT", "0", &insert("B", [0.0, 0.0], "66\n1\n"))
        .add("ATTRIB", "0", "10\n20\n20\n20\n30\n0\n40\n10\n1\nvanity\n2\nNAME\n70\n0\n")
        .add("SEQEND", "0", "");
    let seen = see(&draft);
    assert_eq!(name_of(&seen, one(&seen)), Ok(Some("vanity".to_owned())));
}

#[test]
fn blocks_without_end_are_told_and_bounded() {
    let missing = see(&Draft::mm().add("INSERT", "0", &insert("nothing", [5.0, 6.0], "")));
    assert!(
        said(&missing).contains("INSERT (handle 21, layer \"0\") at [5, 6] mm, which puts in the block \"nothing\"")
    );
    // A block that holds itself.
    let own = Draft::new().circle("0", [0.0, 0.0], 10.0).add("INSERT", "0", &insert("own", [100.0, 0.0], ""));
    let seen = see(&Draft::mm().block("OWN", [0.0, 0.0], &own).add("INSERT", "0", &insert("own", [0.0, 0.0], "")));
    assert!(said(&seen).contains("deep"), "{}", said(&seen));
    // Ten copies in ten copies in ... : more than can be held.
    let mut draft = Draft::mm().block("B0", [0.0, 0.0], &Draft::new().circle("0", [0.0, 0.0], 1.0));
    for k in 1..9 {
        let put =
            Draft::new().add("INSERT", "0", &insert(&format!("b{}", k - 1), [0.0, 0.0], "70\n10\n44\n3\n71\n1\n"));
        draft = draft.block(&format!("B{k}"), [0.0, 0.0], &put);
    }
    let seen = see(&draft.add("INSERT", "0", &insert("b8", [0.0, 0.0], "")));
    assert!(said(&seen).contains("more than 200000"), "{}", said(&seen));
}

#[test]
fn what_is_not_read_counts_for_the_layer_of_the_insertion() {
    let within = Draft::new().add("MLINE", "0", "10\n0\n20\n0\n");
    let draft = Draft::mm().block("M", [0.0, 0.0], &within).add("INSERT", "top", &insert("M", [0.0, 0.0], ""));
    let seen = see_with(&draft, &Request { layer: Some("top".to_owned()), ..request() });
    assert!(said(&seen).contains("MLINE (handle 21/21, layer \"top\"), which is of a kind"), "{}", said(&seen));
    // Where that layer is off, or the thing itself is, it is left out like all else.
    assert!(!said(&see(&draft.clone().layer("top", 0, -7))).contains("error"));
    let aside = Draft::mm().add("REGION", "top", "67\n1\n").add("REGION", "top", "60\n1\n");
    assert_eq!(see(&aside).dxf.aside, 2);
}

#[test]
fn a_block_in_another_file_is_told() {
    let draft = Draft::mm().rectangle("0", [0.0, 0.0], [300.0, 200.0]).block("SITE", [0.0, 0.0], &Draft::new());
    let mut file = draft.add("INSERT", "0", &insert("SITE", [0.0, 0.0], "")).file();
    file = file.replacen("2\nSITE\n70\n0\n", "2\nSITE\n70\n4\n1\nsite.dwg\n", 1);
    let seen = scantling::io::drawn::see("drawing.dxf", file.as_bytes(), &request()).unwrap();
    assert!(said(&seen).contains("\"SITE\" left out, which lies in another file"), "{}", said(&seen));
}

#[test]
fn an_attribute_that_is_not_to_be_seen_names_nothing() {
    let attribute = |flags: i32, height: f64, says: &str| {
        format!("10\n50\n20\n50\n30\n0\n40\n{height}\n1\n{says}\n2\nTAG\n70\n{flags}\n")
    };
    let draft = Draft::mm()
        .rectangle("0", [0.0, 0.0], [300.0, 200.0])
        .add("ATTRIB", "0", &attribute(0, 20.0, "shelf"))
        .add("ATTRIB", "0", &attribute(1, 60.0, "ID-4711"));
    let seen = see(&draft);
    assert_eq!(name_of(&seen, one(&seen)), Ok(Some("shelf".to_owned())));
    assert_eq!(seen.dxf.aside, 1);
}

#[test]
fn a_layer_that_is_off_hides_what_is_on_it_and_a_frozen_one_all_of_a_block() {
    let within = Draft::new().rectangle("0", [0.0, 0.0], [100.0, 100.0]).rectangle("own", [200.0, 0.0], [100.0, 100.0]);
    for (flags, colour, left) in [(0, 7, 2), (0, -7, 1), (1, 7, 0)] {
        let draft = Draft::mm().layer("own", 0, 7).layer("put", flags, colour).block("B", [0.0, 0.0], &within);
        let seen = see(&draft.add("INSERT", "put", &insert("B", [0.0, 0.0], "")));
        assert_eq!(seen.outlines.outer().count(), left, "{flags} {colour}: {}", said(&seen));
        assert_eq!(seen.dxf.hidden, usize::from(left < 2));
    }
}
