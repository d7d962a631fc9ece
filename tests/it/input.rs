//! What files are understood, and what is said about those that are not.

use std::fs;
use std::path::Path;

use scantling::diag::{Kind, Remark, Remarks, Severity};
use scantling::geom::{Ring, pt};
use scantling::io::{self, Input, Paths, Schema, read_question_from_texts};
use scantling::model::{FlawBody, FlawKind, GrainWish, OpeningKind, Shape, StoneClass, TestedStrength, Zone, Zones};

const RACK: &str = r#"units = "mm"

[[slab]]
name = "BS-4"
material = "blue slate"
stone = "slate"
thickness = 20
price = 410
outline.rectangle = [2900, 1600]
grain = "none"
"#;

/// A job of one piece; `piece` holds the lines after its name, `head` replaces the usual head of five lines.
fn job(piece: &str) -> String {
    format!(
        "name = \"Mill\"\nunits = \"mm\"\nmaterial = \"blue slate\"\nthickness = 20\n[[piece]]\nname = \"sill\"\n{piece}"
    )
}

/// A rack of one slab; `slab` holds the lines after its price (line 9 on).
fn rack(slab: &str) -> String {
    let head = RACK.lines().take(8).collect::<Vec<_>>().join("\n");
    format!("{head}\n{slab}")
}

fn text(name: &str, body: &str) -> (String, String) {
    (name.to_owned(), body.to_owned())
}

fn read(job: &str, rack: &str, shop: Option<&str>) -> Result<Input, Remarks> {
    read_question_from_texts(&[text("job.toml", job)], text("rack.toml", rack), shop.map(|s| text("shop.toml", s)))
}

fn remarks_of(result: Result<Input, Remarks>) -> Remarks {
    match result {
        Ok(input) => input.remarks,
        Err(remarks) => remarks,
    }
}

/// Asserts that the remarks are exactly these: kind, line, key.
#[track_caller]
fn expect(remarks: &Remarks, wanted: &[(Kind, usize, &str)]) {
    let found: Vec<_> = remarks.iter().map(|r| (r.what, r.line, r.key.as_str())).collect();
    assert_eq!(found, wanted, "\n{remarks}");
    for r in remarks.iter() {
        assert!(!r.given.is_empty(), "{r}");
        assert!(r.severity != Severity::Error || !(r.expected.is_empty() || r.fix.is_empty()), "{r}");
    }
}

#[track_caller]
fn check_job(body: &str, wanted: &[(Kind, usize, &str)]) -> Remarks {
    let remarks = remarks_of(read(body, RACK, None));
    expect(&remarks, wanted);
    remarks
}

/// The same for the lines of a piece, which start on line 7.
#[track_caller]
fn check_piece(piece: &str, wanted: &[(Kind, usize, &str)]) -> Remarks {
    check_job(&job(piece), wanted)
}

/// The same for an opening in a piece of 2000 by 600; its lines start on line 9.
#[track_caller]
fn check_opening(opening: &str, wanted: &[(Kind, usize, &str)]) -> Remarks {
    check_piece(&format!("outline.rectangle = [2000, 600]\n[[piece.opening]]\n{opening}"), wanted)
}

/// The same for the lines of a slab, which start on line 9.
#[track_caller]
fn check_slab(slab: &str, wanted: &[(Kind, usize, &str)]) -> Remarks {
    let remarks = remarks_of(read(&job("outline.rectangle = [900, 200]"), &rack(slab), None));
    expect(&remarks, wanted);
    remarks
}

#[track_caller]
fn check_shop(shop: &str, wanted: &[(Kind, usize, &str)]) -> Remarks {
    let remarks = remarks_of(read(&job("outline.rectangle = [900, 200]"), RACK, Some(shop)));
    expect(&remarks, wanted);
    remarks
}

#[track_caller]
fn good(job: &str, rack: &str, shop: Option<&str>) -> Input {
    read(job, rack, shop).unwrap_or_else(|e| panic!("{e}"))
}

fn corners(ring: &Ring) -> Vec<[f64; 2]> {
    ring.points().iter().map(|&p| p.into()).collect()
}

#[test]
fn a_whole_set_of_files_is_understood() {
    let job = r#"
name = "Ferry House, ground floor"
units = "mm"
rack = "rack.toml"
shop = "shop.toml"
material = "grey granite"
thickness = 30

[[piece]]
name = "window run"
count = 2
outline.rectangle = [2650, 620]
grain = "along"
grain_tolerance = 1.5
one_way = true
edges = ["polished", "raw", "Raw", "eased"]
hidden.back = 20

[[piece.opening]]
name = "main sink"
kind = "undermount sink"
shape.rectangle = [700, 400]
corner_radius = 20
centre_line = 1325
setback = 90

[[piece.opening]]
name = "tap"
kind = "tap hole"
shape.circle = "35 mm"
centre = ["132.5 cm", 555]

[[piece]]
name = "table"
outline.circle = "1 1/2 ft"
grain = "any"
edges = ["polished"]

[[piece]]
name = "corner"
outline.polygon = [[0,0],[2400,0],[2400,620],[620,620,30],[620,1900],[0,1900]]
grain = 30
"#;
    let rack = r#"
units = "cm"

[[slab]]
name = "GG-17/2"
material = "grey granite"
stone = "granite"
thickness = 3
lot = "GG-17"
number = 2
price = 640.0
outline.polygon = [[0,0],[305,4],[302,188],[3,190]]
grain = 0

[[slab.flaw]]
kind = "fissure"
line = [[40,30],[90,52]]
width = 0.2
allow = ["field"]

[[slab.flaw]]
kind = "pit"
spot = ["100 in", 20]
diameter = "3 mm"

[[slab.flaw]]
kind = "crack"
area = [[50,100],[60,100],[55,110]]

[[slab]]
name = "GG-18/1"
material = "grey granite"
stone = "granite"
thickness = "1 3/16 in"
price_per_m2 = 100
outline.rectangle = [200, 100]
grain = "none"
"#;
    let shop = r#"
units = "mm"
[limits]
kerf = 3
gap = 5
trim = 25
flaw_gap = 12
min_rail = 55
rod_rail = 110
tap_rail = 30
min_web = 90
tap_web = 26
rail_zone = 95
tap_zone = 24
edge_zone = 23
use_drops = true
keep_area = 0.4
keep_side = "50 cm"
keep_share = 0.6
[tools]
core_bits = [35, "1 in", 20]
blades = [{ diameter = 125, kerf = 2.4 }, { diameter = "14 in", kerf = 3.1 }]
table_cut = 1.5
[rods]
diameters = [5, "1/4 in"]
material = "carbon fibre"
blade = { diameter = 110, kerf = 7 }
play = 1.6
cover = 2.5
past = 120
resin_density = 1.2
hardener = 0.03
waste = 0.2
"#;
    let input = good(job, rack, Some(shop));
    expect(&input.remarks, &[]);
    let q = &input.question;
    assert_eq!(q.jobs.len(), 1);
    let j = &q.jobs[0];
    assert_eq!(
        (j.name.as_str(), j.material.as_str(), j.thickness),
        ("Ferry House, ground floor", "grey granite", 30.0)
    );
    let names: Vec<_> = j.pieces.iter().map(|p| (p.name.as_str(), p.kind)).collect();
    assert_eq!(names, [("window run #1", 0), ("window run #2", 0), ("table", 1), ("corner", 2)]);
    let run = &j.pieces[0];
    assert_eq!(corners(&run.outline.ring), [[0.0, 0.0], [2650.0, 0.0], [2650.0, 620.0], [0.0, 620.0]]);
    let finishes: Vec<_> = run.outline.finishes.iter().map(|f| f.name()).collect();
    assert_eq!(finishes, ["polished", "raw", "raw", "eased"]);
    assert_eq!((run.grain, run.grain_tolerance, run.one_way), (GrainWish::Towards(0.0), 1.5, true));
    assert_eq!((run.hidden.front, run.hidden.right, run.hidden.back, run.hidden.left), (0.0, 0.0, 20.0, 0.0));
    let sink = &run.openings[0];
    assert_eq!((sink.name.as_str(), sink.kind), ("main sink", OpeningKind::UndermountSink));
    let extent = sink.shape.extent();
    assert_eq!((extent.min, extent.max), (pt(975.0, 90.0), pt(1675.0, 490.0)));
    assert!(sink.inside_corners().iter().all(|c| c.radius == 20.0));
    let Shape::Ellipse { centre, half_x, half_y } = run.openings[1].shape else { panic!("a tap hole is round") };
    assert_eq!((centre, half_x, half_y), (pt(1325.0, 555.0), 17.5, 17.5));
    let table = &j.pieces[2];
    assert!((table.size().0 - 457.2).abs() < 1e-9 && (table.size().1 - 457.2).abs() < 1e-9);
    assert_eq!((table.grain, table.outline.finishes.len()), (GrainWish::Any, 1));
    let corner = &j.pieces[3];
    assert_eq!((corner.grain, corner.size()), (GrainWish::Towards(30.0), (2400.0, 1900.0)));

    let [a, b] = &q.rack[..] else { panic!("two slabs") };
    assert_eq!((a.name.as_str(), a.stone, a.stone_given, a.thickness), ("GG-17/2", StoneClass::Granite, true, 30.0));
    assert_eq!((a.lot.as_deref(), a.number, a.price, a.grain), (Some("GG-17"), Some(2), 640.0, Some(0.0)));
    assert_eq!(corners(&a.outline), [[0.0, 0.0], [3050.0, 40.0], [3020.0, 1880.0], [30.0, 1900.0]]);
    let flaws: Vec<_> = a.flaws.iter().map(|f| (f.kind, f.radius, f.allow)).collect();
    let field = Zones::of(&[Zone::Field]);
    let (pit, crack) = (FlawKind::Pit.default_zones(), FlawKind::Crack.default_zones());
    assert_eq!(flaws, [(FlawKind::Fissure, 1.0, field), (FlawKind::Pit, 1.5, pit), (FlawKind::Crack, 0.0, crack)]);
    assert_eq!(a.flaws[0].body, FlawBody::Line(vec![pt(400.0, 300.0), pt(900.0, 520.0)]));
    assert_eq!(a.flaws[1].body, FlawBody::Spot(pt(2540.0, 200.0)));
    assert_eq!((b.price, b.grain, b.lot.as_deref(), b.number), (200.0, None, None, None));
    assert!((b.thickness - 30.1625).abs() < 1e-12);

    let l = &q.shop.limits;
    assert_eq!((l.kerf, l.gap, l.trim, l.flaw_gap), (3.0, 5.0, 25.0, 12.0));
    assert_eq!((l.min_rail, l.rod_rail, l.tap_rail, l.min_web, l.tap_web), (Some(55.0), Some(110.0), 30.0, 90.0, 26.0));
    assert_eq!((l.rail_zone, l.tap_zone, l.edge_zone, l.use_drops), (95.0, 24.0, 23.0, true));
    assert_eq!((l.keep_area, l.keep_side, l.keep_share), (0.4e6, 500.0, 0.6));
    let tools = &q.shop.tools;
    assert_eq!(tools.core_bits, [20.0, 25.4, 35.0]);
    let blades: Vec<(f64, f64)> = tools.blades.iter().map(|b| (b.diameter, b.kerf)).collect();
    assert_eq!((&blades[..], tools.table_cut), (&[(14.0 * 25.4, 3.1), (125.0, 2.4)][..], 1.5));
    let r = &q.shop.rods;
    assert_eq!((&r.diameters[..], r.material.as_str()), (&[6.35, 5.0][..], "carbon fibre"));
    assert_eq!((r.blade.diameter, r.blade.kerf, r.play, r.cover, r.past), (110.0, 7.0, 1.6, 2.5, 120.0));
    assert_eq!((r.resin_density, r.hardener, r.waste), (1.2, 0.03, 0.2));
}

#[test]
fn all_units_give_the_same_piece() {
    let wanted = good(&job("outline.rectangle = [1270, 635]"), RACK, None).question.jobs[0].pieces[0].outline.clone();
    for (unit, thickness, a, b) in [
        ("mm", "20", "1270", "635.0"),
        ("cm", "2", "127", "63.5"),
        ("m", "0.02", "1.27", "0.635"),
        ("in", "'20 mm'", "50", "25"),
    ] {
        let body = format!(
            "name='a'\nunits='{unit}'\nmaterial='blue slate'\nthickness={thickness}\n[[piece]]\nname='s'\noutline.rectangle=[{a},{b}]"
        );
        let piece = &good(&body, RACK, None).question.jobs[0].pieces[0];
        for (p, q) in piece.outline.ring.points().iter().zip(wanted.ring.points()) {
            assert!(p.distance(*q) < 1e-9, "{unit}: {p:?} {q:?}");
        }
    }
}

#[test]
fn an_absent_shop_has_the_defaults() {
    let input = good(&job("outline.rectangle = [900, 200]"), RACK, None);
    assert_eq!(input.question.shop, scantling::model::Shop::default());
    assert_eq!(good(&job("outline.rectangle = [900, 200]"), RACK, Some("")).question.shop, input.question.shop);
}

#[test]
fn clockwise_corners_are_turned_round_and_finishes_follow_their_sides() {
    // Written clockwise: left side up, back, right side down, front; the closing corner is repeated.
    let body = job(
        "outline.polygon = [[0,0],[0,600],[900,600],[900,0],[0,0]]\nedges = [\"left\",\"back\",\"right\",\"front\"]",
    );
    let input = good(&body, RACK, None);
    let remarks = &input.remarks;
    expect(remarks, &[(Kind::Tidied, 7, "piece[0].outline.polygon")]);
    assert_eq!(remarks.0[0].severity, Severity::Note);
    let outline = &input.question.jobs[0].pieces[0].outline;
    let Shape::Polygon(tidy) = &outline.shape else { panic!("a polygon") };
    for (i, c) in tidy.iter().enumerate() {
        let d = tidy[(i + 1) % 4].at - c.at;
        let side = if d.x > 0.0 {
            "front"
        } else if d.y > 0.0 {
            "right"
        } else if d.x < 0.0 {
            "back"
        } else {
            "left"
        };
        assert_eq!(outline.finishes[i].name(), side);
    }
}

#[test]
fn a_corner_on_a_straight_side_stays_only_where_two_finishes_meet() {
    let outline = |edges: &str| {
        let body = job(&format!("outline.polygon = [[0,0],[400,0],[900,0],[900,600],[0,600]]\nedges = {edges}"));
        good(&body, RACK, None).question.jobs[0].pieces[0].outline.clone()
    };
    let two = outline("[\"polished\",\"raw\",\"raw\",\"raw\",\"raw\"]");
    assert_eq!(two.finishes.len(), 5);
    let polished: f64 = two.finished_edges().map(|(a, b)| a.distance(b)).sum();
    assert!((polished - 400.0).abs() < 1e-9);
    let one = outline("[\"polished\",\"polished\",\"raw\",\"raw\",\"raw\"]");
    assert_eq!(one.finishes.len(), 4);
    let polished: f64 = one.finished_edges().map(|(a, b)| a.distance(b)).sum();
    assert!((polished - 900.0).abs() < 1e-9);
}

#[test]
fn an_outline_drawn_elsewhere_is_moved_alone() {
    let body = job(
        "outline.polygon = [[100,50],[1000,50],[1000,650],[100,650]]\n[[piece.opening]]\nname='o'\nkind='other'\nshape.circle=100\ncentre=[450,300]",
    );
    let input = good(&body, RACK, None);
    expect(&input.remarks, &[(Kind::Moved, 7, "piece[0].outline.polygon")]);
    assert!(input.remarks.0[0].fix.contains("[-100, -50] mm"), "{}", input.remarks);
    let piece = &input.question.jobs[0].pieces[0];
    assert_eq!(piece.outline.shape.extent().min, pt(0.0, 0.0));
    assert_eq!(piece.openings[0].centre(), pt(450.0, 300.0));
}

#[test]
fn corner_radius_rounds_the_corners_that_have_none() {
    let body = job(
        "outline.rectangle=[900,600]\n[[piece.opening]]\nname='o'\nkind='other'\nshape.polygon=[[0,0],[200,0,5],[200,200,0],[0,200]]\ncorner_radius=20\ncentre=[450,300]",
    );
    let opening = &good(&body, RACK, None).question.jobs[0].pieces[0].openings[0];
    let radii: Vec<f64> = opening.inside_corners().iter().map(|c| c.radius).collect();
    assert_eq!(radii, [20.0, 5.0, 0.0, 20.0]);
}

#[test]
fn syntax_mistakes_are_told_together_with_their_lines() {
    let remarks =
        check_job("name = Mill\nmaterial = \"x\"\nthickness = = 3\n", &[(Kind::Syntax, 1, ""), (Kind::Syntax, 3, "")]);
    assert_eq!(remarks.0[0].column, 8);
    check_job("name = \"a\"\nname = \"b\"\n", &[(Kind::Syntax, 2, "")]);
}

#[test]
fn deep_nesting_is_refused_without_harm() {
    for body in [
        format!("a = {}", "[".repeat(100_000)),
        format!("a = {}{}", "[".repeat(100_000), "]".repeat(100_000)),
        format!("a = {}", "{a=".repeat(100_000)),
        format!("{}a = 1", "a.".repeat(100_000)),
        format!("[{}a]", "a.".repeat(100_000)),
    ] {
        let remarks = remarks_of(read(&body, RACK, None));
        assert_eq!(remarks.0[0].what, Kind::TooDeep, "{remarks}");
    }
    let json = io::parse_plan("plan.json", &"[".repeat(100_000)).unwrap_err();
    assert!(matches!(json.0[0].what, Kind::WrongType | Kind::TooDeep), "{json}");
    let json = io::parse_plan("plan.json", &format!("{{\"jobs\": {}", "[".repeat(100_000))).unwrap_err();
    assert!(matches!(json.0[0].what, Kind::WrongType | Kind::TooDeep), "{json}");
}

#[test]
fn unknown_keys_name_the_nearest() {
    let all = [
        ("centre_lin = 3", "piece[0].opening[0].centre_lin", "centre_line"),
        ("Kind = 'other'", "piece[0].opening[0].Kind", "kind"),
        ("shape.rectangel = [3, 4]", "piece[0].opening[0].shape.rectangel", "rectangle"),
    ];
    for (line, key, near) in all {
        let body = job(&format!("outline.rectangle=[2000,600]\n[[piece.opening]]\n{line}\n"));
        let remarks = remarks_of(read(&body, RACK, None));
        let r = remarks.iter().find(|r| r.what == Kind::UnknownKey).unwrap();
        assert_eq!((r.line, r.key.as_str()), (9, key));
        assert!(r.fix.contains(&format!("\"{near}\"")), "{r}");
    }
    let r = check_shop("[limits]\nkerv = 3", &[(Kind::UnknownKey, 2, "limits.kerv")]);
    assert!(r.0[0].fix.contains("\"kerf\""));
    let r = check_shop("kerf = 3", &[(Kind::UnknownKey, 1, "kerf")]);
    assert!(r.0[0].fix.contains("belongs into limits"), "{r}");
    check_shop("[prices]\nx = 1", &[(Kind::UnknownKey, 1, "prices")]);
    check_shop("[rates]\nx = 1", &[(Kind::UnknownKey, 2, "rates.x")]);
    check_shop("[tools]\nbits = [350]", &[(Kind::UnknownKey, 2, "tools.bits")]);
}

#[test]
fn what_a_job_needs() {
    let no_piece =
        &[(Kind::MissingKey, 1, "name"), (Kind::MissingKey, 1, "material"), (Kind::MissingKey, 1, "thickness")];
    check_job("", no_piece);
    check_job("name='a'\nmaterial='blue slate'\nthickness=20", &[(Kind::NoPieces, 1, "piece")]);
    check_job("name='a'\nmaterial='blue slate'\nthickness=20\n[piece]\nname='x'", &[(Kind::WrongType, 4, "piece")]);
    check_job(
        "name=''\nmaterial=3\nthickness=0\npiece=[]",
        &[(Kind::BadName, 1, "name"), (Kind::WrongType, 2, "material"), (Kind::NotPositive, 3, "thickness")],
    );
    let bad_units = "name='a'\nunits='furlong'\nmaterial='blue slate'\nthickness=20\n[[piece]]\nname='x'\noutline.rectangle=[900,200]";
    check_job(bad_units, &[(Kind::UnknownWord, 2, "units")]);
    check_piece("", &[(Kind::MissingKey, 5, "piece[0].outline")]);
    check_job(
        "name='a'\nmaterial='blue slate'\nthickness=20\n[[piece]]\noutline.rectangle=[900,200]",
        &[(Kind::MissingKey, 4, "piece[0].name")],
    );
}

#[test]
fn numbers_and_lengths_that_are_none() {
    let k = "piece[0].outline.rectangle[0]";
    for (value, kind) in [
        ("nan", Kind::BadNumber),
        ("inf", Kind::BadNumber),
        ("-inf", Kind::BadNumber),
        ("1e400", Kind::BadNumber),
        ("true", Kind::WrongType),
        ("[1]", Kind::WrongType),
        ("2020-01-01", Kind::WrongType),
        ("{a = 1}", Kind::WrongType),
        ("''", Kind::BadLength),
        ("'12'", Kind::BadLength),
        ("'12 ells'", Kind::BadLength),
        ("'1/3 in'", Kind::BadLength),
        ("'2 in 1 ft'", Kind::BadLength),
        ("0", Kind::NotPositive),
        ("-5", Kind::NotPositive),
        ("'-5 mm'", Kind::NotPositive),
        ("1e7", Kind::OutOfRange),
        ("99999999999999999999", Kind::OutOfRange),
    ] {
        let remarks = remarks_of(read(&job(&format!("outline.rectangle = [{value}, 600]")), RACK, None));
        let r = &remarks.0[0];
        assert_eq!((r.what, r.line, r.key.as_str()), (kind, 7, k), "{value}: {remarks}");
    }
    check_piece("outline.rectangle = [900]", &[(Kind::WrongCount, 7, "piece[0].outline.rectangle")]);
    check_piece("outline.rectangle = 900", &[(Kind::WrongType, 7, "piece[0].outline.rectangle")]);
    check_piece("outline = 900", &[(Kind::WrongType, 7, "piece[0].outline")]);
    check_piece("outline.circle = 0", &[(Kind::NotPositive, 7, "piece[0].outline.circle")]);
    check_piece("outline.ellipse = [300, -1]", &[(Kind::NotPositive, 7, "piece[0].outline.ellipse[1]")]);
}

#[test]
fn shapes_that_are_none() {
    let k = "piece[0].outline";
    let p = "piece[0].outline.polygon";
    check_piece("outline = {}", &[(Kind::MissingKey, 7, k)]);
    check_piece(
        "outline.circle = 300\noutline.rectangle = [300, 300]",
        &[(Kind::Conflict, 7, "piece[0].outline.circle")],
    );
    let file = check_piece("outline.file = 'a.dxf'", &[(Kind::FileMissing, 7, "piece[0].outline.file")]);
    assert!(file.0[0].fix.contains("beside the drawing"));
    check_piece("outline.circle = 300\noutline.layer = 'TOP'", &[(Kind::Conflict, 8, "piece[0].outline.layer")]);
    check_piece("outline.polygon = []", &[(Kind::TooFewCorners, 7, p)]);
    check_piece("outline.polygon = [[0,0],[100,0]]", &[(Kind::TooFewCorners, 7, p)]);
    check_piece("outline.polygon = [[0,0],[100,0],[300,0]]", &[(Kind::TooFewCorners, 7, p)]);
    check_piece("outline.polygon = [[0,0],[100,100],[300,300]]", &[(Kind::TooFewCorners, 7, p)]);
    check_piece("outline.polygon = [[0,0],[100,0],[0,0],[100,0]]", &[(Kind::TooFewCorners, 7, p)]);
    check_piece(
        "outline.polygon = [[0,0],[100],[100,100,1,1]]",
        &[(Kind::WrongCount, 7, "piece[0].outline.polygon[1]"), (Kind::WrongCount, 7, "piece[0].outline.polygon[2]")],
    );
    check_piece(
        "outline.polygon = [[0,0],\n[500,0,-3],\n['x',500]]",
        &[
            (Kind::Negative, 8, "piece[0].outline.polygon[1][2]"),
            (Kind::BadLength, 9, "piece[0].outline.polygon[2][0]"),
        ],
    );
    check_piece("outline.rectangle = [0.5, 600]", &[(Kind::OutOfRange, 7, "piece[0].outline.rectangle")]);
    let r = check_piece(
        "outline.polygon = [[0,0],[600,600],\n[600,0],\n[0,600]]",
        &[(Kind::SelfCrossing, 8, "piece[0].outline.polygon[2]")],
    );
    assert_eq!(
        r.0[0].given,
        "the side from corner 1 at [0, 0] mm and the side from corner 3 at [600, 0] mm meet at [300, 300] mm"
    );
    // Touching itself at a corner is no outline either.
    check_piece(
        "outline.polygon = [[0,0],[600,0],[300,300],[600,600],[0,600],[300,300]]",
        &[(Kind::SelfCrossing, 7, "piece[0].outline.polygon[4]")],
    );
    check_piece("outline.polygon = [[0,0],[600,0],\n[600,100,80],[0,100]]", &[]);
    let r = check_piece(
        "outline.polygon = [[0,0],[600,0],\n[600,100,120],[0,100]]",
        &[(Kind::RoundingMisfit, 8, "piece[0].outline.polygon[2]")],
    );
    assert!(r.0[0].given.starts_with("corner 3 at [600, 100] mm rounded by 120 mm"), "{r}");
    assert!(r.0[0].expected.starts_with("at most 100 mm"), "{r}");
    let ring = |n: usize| {
        (0..n)
            .map(|i| {
                let a = i as f64 / n as f64 * std::f64::consts::TAU;
                format!("[{:.6},{:.6}]", 1000.0 * a.cos(), 1000.0 * a.sin())
            })
            .collect::<Vec<_>>()
            .join(",")
    };
    check_piece(&format!("outline.polygon = [{}]", ring(10_001)), &[(Kind::TooManyCorners, 7, p)]);
    let most = remarks_of(read(&job(&format!("outline.polygon = [{}]", ring(10_000))), RACK, None));
    assert!(!most.has_errors(), "{most}");
}

#[test]
fn arcs_of_too_many_points_are_refused() {
    // A spiral of long sides: every corner could be rounded by hundreds of metres.
    let saw: Vec<String> =
        (0..400).map(|i| format!("[{}, {}, {}]", i * 2000, if i % 2 == 0 { 0 } else { 900_000 }, 900)).collect();
    let body = job(&format!("outline.polygon = [{}, [900000, -900000]]", saw.join(",")));
    let remarks = remarks_of(read(&body, RACK, None));
    assert_eq!(remarks.0[0].what, Kind::TooManyCorners, "{remarks}");
}

#[test]
fn sizes_that_look_like_a_wrong_unit_are_warned_about() {
    let inches = "name='a'\nunits='in'\nmaterial='blue slate'\nthickness='20 mm'\n[[piece]]\nname='x'\noutline.rectangle=[2650,620]";
    let r = check_job(inches, &[(Kind::UnlikelySize, 7, "piece[0].outline.rectangle")]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    assert_eq!(r.0[0].given, "2650 in is 67.31 m");
    assert!(r.0[0].fix.starts_with("did you mean 2650 mm?"), "{r}");
    let r = check_piece("outline.rectangle = [265, 6]", &[(Kind::UnlikelySize, 7, "piece[0].outline.rectangle")]);
    assert!(r.0[0].given == "6 mm" && r.0[0].fix.starts_with("did you mean 6 cm?"), "{r}");
    let thin = "name='a'\nmaterial='blue slate'\nthickness=2\n[[piece]]\nname='x'\noutline.rectangle=[900,200]";
    let remarks = remarks_of(read(thin, &RACK.replace("thickness = 20", "thickness = 2"), None));
    expect(&remarks, &[(Kind::UnlikelySize, 3, "thickness"), (Kind::UnlikelySize, 7, "slab[0].thickness")]);
    assert!(remarks.0[0].fix.starts_with("did you mean 2 cm?"), "{remarks}");
    check_slab("outline.rectangle = [7000, 1600]\ngrain = 0", &[(Kind::UnlikelySize, 9, "slab[0].outline.rectangle")]);
    check_opening(
        "name='o'\nkind='other'\nshape.circle=3\ncentre=[500,300]",
        &[(Kind::UnlikelySize, 11, "piece[0].opening[0].shape.circle")],
    );
    check_shop("[limits]\ntrim = 2000", &[(Kind::UnlikelySize, 2, "limits.trim")]);
}

#[test]
fn counts_copies_and_names() {
    let r = "outline.rectangle=[900,200]\n";
    for (count, kind) in [
        ("0", Kind::NotPositive),
        ("-2", Kind::NotPositive),
        ("1.5", Kind::BadNumber),
        ("'2'", Kind::WrongType),
        ("1001", Kind::TooMany),
        ("9223372036854775807", Kind::TooMany),
    ] {
        check_piece(&format!("{r}count={count}"), &[(kind, 8, "piece[0].count")]);
    }
    assert_eq!(good(&job(&format!("{r}count=1000")), RACK, None).question.jobs[0].pieces.len(), 1000);
    check_piece(&format!("{r}count=1000\n[[piece]]\nname='b'\n{r}"), &[(Kind::TooMany, 9, "piece[1]")]);
    check_piece(&format!("{r}[[piece]]\nname='sill'\n{r}"), &[(Kind::DuplicateName, 9, "piece[1].name")]);
    check_piece(&format!("{r}count=2\n[[piece]]\nname='sill #2'\n{r}"), &[(Kind::DuplicateName, 10, "piece[1].name")]);
    check_piece(&format!("{r}[[piece]]\nname=\"a\\nb\"\n{r}"), &[(Kind::BadName, 9, "piece[1].name")]);
}

#[test]
fn edges_grain_and_hidden_strips() {
    let r = "outline.rectangle=[900,200]\n";
    check_piece(&format!("{r}edges=['raw','raw','raw']"), &[(Kind::EdgeCount, 8, "piece[0].edges")]);
    check_piece("outline.circle=400\nedges=['raw','raw']", &[(Kind::EdgeCount, 8, "piece[0].edges")]);
    check_piece(
        &format!("{r}edges=['raw',3,'raw','']"),
        &[(Kind::WrongType, 8, "piece[0].edges[1]"), (Kind::BadName, 8, "piece[0].edges[3]")],
    );
    check_piece(&format!("{r}edges='raw'"), &[(Kind::WrongType, 8, "piece[0].edges")]);
    let w = check_piece(&format!("{r}grain='acros'"), &[(Kind::UnknownWord, 8, "piece[0].grain")]);
    assert!(w.0[0].fix.contains("\"across\""));
    check_piece(&format!("{r}grain=361"), &[(Kind::OutOfRange, 8, "piece[0].grain")]);
    check_piece(&format!("{r}grain=nan"), &[(Kind::BadNumber, 8, "piece[0].grain")]);
    check_piece(&format!("{r}grain=true"), &[(Kind::WrongType, 8, "piece[0].grain")]);
    check_piece(&format!("{r}grain_tolerance=-1"), &[(Kind::Negative, 8, "piece[0].grain_tolerance")]);
    check_piece(&format!("{r}grain_tolerance=181"), &[(Kind::OutOfRange, 8, "piece[0].grain_tolerance")]);
    check_piece(&format!("{r}one_way='yes'"), &[(Kind::WrongType, 8, "piece[0].one_way")]);
    check_piece(
        &format!("{r}hidden.back=200\nhidden.left=-1\nhidden.top=3"),
        &[
            (Kind::OutOfRange, 8, "piece[0].hidden.back"),
            (Kind::Negative, 9, "piece[0].hidden.left"),
            (Kind::UnknownKey, 10, "piece[0].hidden.top"),
        ],
    );
    check_piece(&format!("{r}hidden=20"), &[(Kind::WrongType, 8, "piece[0].hidden")]);
}

#[test]
fn openings_say_where_they_are_in_one_way() {
    let o = "name='o'\nkind='other'\nshape.circle=100\n";
    let key = |k: &str| format!("piece[0].opening[0].{k}");
    check_opening(o, &[(Kind::MissingKey, 8, &key("centre_line"))]);
    check_opening(&format!("{o}centre_line=500"), &[(Kind::MissingKey, 8, &key("setback"))]);
    check_opening(&format!("{o}setback=100"), &[(Kind::MissingKey, 8, &key("centre_line"))]);
    check_opening(&format!("{o}centre=[500,300]\nsetback=100"), &[(Kind::Conflict, 12, &key("centre"))]);
    check_opening(&format!("{o}centre=[500]"), &[(Kind::WrongCount, 12, &key("centre"))]);
    check_opening("name='o'\nkind='other'\ncentre=[500,300]", &[(Kind::MissingKey, 8, &key("shape"))]);
    check_opening("name='o'\nshape.circle=100\ncentre=[500,300]", &[(Kind::MissingKey, 8, &key("kind"))]);
    check_opening("kind='other'\nshape.circle=100\ncentre=[500,300]", &[(Kind::MissingKey, 8, &key("name"))]);
    let r = check_opening(
        "name='o'\nkind='drop in sink'\nshape.circle=100\ncentre=[500,300]",
        &[(Kind::UnknownWord, 10, &key("kind"))],
    );
    assert!(r.0[0].fix.contains("\"drop-in sink\""));
    check_opening(&format!("{o}corner_radius=5\ncentre=[500,300]"), &[(Kind::Conflict, 12, &key("corner_radius"))]);
    check_opening(
        "name='o'\nkind='other'\nshape.rectangle=[300,200]\ncorner_radius=101\ncentre=[500,300]",
        &[(Kind::RoundingMisfit, 12, &key("corner_radius"))],
    );
    check_opening(
        "name='o'\nkind='other'\nfixture.bearing=10\ncentre=[500,300]",
        &[(Kind::Conflict, 11, &key("fixture"))],
    );
    check_opening(
        "name='o'\nkind='other'\nshape.file='a.dxf'\ncentre=[500,300]",
        &[(Kind::FileMissing, 11, &key("shape.file"))],
    );
    let twice = format!("{o}centre=[500,300]\n[[piece.opening]]\n{o}centre=[900,300]");
    check_opening(&twice, &[(Kind::DuplicateName, 14, "piece[0].opening[1].name")]);
}

#[test]
fn openings_stay_inside_and_apart() {
    let o =
        |n: &str, x: f64, y: f64| format!("name='{n}'\nkind='other'\nshape.rectangle=[400,200]\ncentre=[{x},{y}]\n");
    let key = "piece[0].opening[0].centre";
    let r = check_opening(&o("o", 1850.0, 300.0), &[(Kind::OpeningOutside, 12, key)]);
    assert!(r.0[0].given.contains("by 50 mm at [2050, "), "{r}");
    let r = check_opening(&o("o", 1800.0, 300.0), &[(Kind::OpeningOutside, 12, key)]);
    assert!(r.0[0].given.contains("touches"), "{r}");
    let r = check_opening(&o("o", 5000.0, 300.0), &[(Kind::OpeningOutside, 12, key)]);
    assert!(r.0[0].given.contains("by 3200 mm"), "{r}");
    let ring = "name='o'\nkind='other'\nshape.rectangle=[4000,4000]\ncentre=[1000,300]\n";
    check_opening(
        ring,
        &[(Kind::UnlikelySize, 11, "piece[0].opening[0].shape.rectangle"), (Kind::OpeningOutside, 12, key)],
    );
    let two = |x: f64| format!("{}[[piece.opening]]\n{}", o("a", 500.0, 300.0), o("b", x, 300.0));
    let second = "piece[0].opening[1].centre";
    let r = check_opening(&two(880.0), &[(Kind::OpeningsOverlap, 17, second)]);
    assert!(r.0[0].given.contains("\"b\" runs into \"a\" by 20 mm near [690, 300] mm"), "{r}");
    let r = check_opening(&two(900.0), &[(Kind::OpeningsOverlap, 17, second)]);
    assert!(r.0[0].given.contains("touches"), "{r}");
    check_opening(&two(901.0), &[]);
    // One within the other.
    let nested = format!(
        "{}[[piece.opening]]\nname='b'\nkind='tap hole'\nshape.circle=35\ncentre=[500,300]\n",
        o("a", 500.0, 300.0)
    );
    check_opening(&nested, &[(Kind::OpeningsOverlap, 17, second)]);
    // In the notch of an L, inside the bounding box but not on the stone.
    let notch = "outline.polygon=[[0,0],[2000,0],[2000,600],[600,600],[600,1900],[0,1900]]\n[[piece.opening]]\nname='o'\nkind='other'\nshape.circle=100\ncentre=[1500,1500]";
    let r = check_piece(notch, &[(Kind::OpeningOutside, 12, key)]);
    assert!(r.0[0].given.contains("by 9"), "{r}");
}

#[test]
fn what_a_rack_needs() {
    let j = job("outline.rectangle = [900, 200]");
    expect(&remarks_of(read(&j, "", None)), &[(Kind::NoSlabs, 1, "slab")]);
    expect(&remarks_of(read(&j, "[slab]\nname='x'", None)), &[(Kind::WrongType, 1, "slab")]);
    let o = "outline.rectangle = [2900, 1600]\ngrain = 0\n";
    let r = remarks_of(read(&j, &RACK.replace("price = 410\n", ""), None));
    expect(&r, &[(Kind::MissingKey, 3, "slab[0]")]);
    check_slab(&format!("price_per_m2 = 3\n{o}"), &[(Kind::Conflict, 9, "slab[0].price_per_m2")]);
    let r = remarks_of(read(&j, &RACK.replace("410", "-1"), None));
    expect(&r, &[(Kind::Negative, 8, "slab[0].price")]);
    check_slab("grain = 0", &[(Kind::MissingKey, 3, "slab[0].outline")]);
    let r = check_slab("outline.rectangle = [2900, 1600]", &[(Kind::Assumed, 3, "slab[0].grain")]);
    assert_eq!(r.0[0].severity, Severity::Note);
    let r = remarks_of(read(&j, &RACK.replace("stone = \"slate\"\n", ""), None));
    expect(&r, &[(Kind::Assumed, 3, "slab[0].stone")]);
    let r = remarks_of(read(&j, &RACK.replace("\"slate\"", "\"slat\""), None));
    expect(&r, &[(Kind::UnknownWord, 6, "slab[0].stone")]);
    check_slab("outline.rectangle = [2900, 1600]\ngrain = 'along'", &[(Kind::UnknownWord, 10, "slab[0].grain")]);
    check_slab(
        &format!("{o}number = 1.5\nlot = 3"),
        &[(Kind::BadNumber, 11, "slab[0].number"), (Kind::WrongType, 12, "slab[0].lot")],
    );
    let twice = format!("{RACK}\n{}", RACK.replace("units = \"mm\"\n", ""));
    expect(&remarks_of(read(&j, &twice, None)), &[(Kind::DuplicateName, 14, "slab[1].name")]);
    let bare = "[[slab]]";
    let wanted = ["stone", "grain"]
        .map(|k| (Kind::Assumed, k))
        .into_iter()
        .chain(["name", "material", "thickness", "outline"].map(|k| (Kind::MissingKey, k)));
    let r = remarks_of(read(&j, bare, None));
    for (kind, key) in wanted {
        assert!(r.iter().any(|r| r.what == kind && r.key == format!("slab[0].{key}")), "{key}: {r}");
    }
}

#[test]
fn slabs_may_have_any_shape() {
    let slab = |shape: &str| {
        good(&job("outline.rectangle = [900, 200]"), &rack(&format!("{shape}\ngrain=0")), None).question.rack[0].clone()
    };
    let circle = slab("outline.circle = 2000");
    // Inside the true circle, and short of it by no more than the tolerance.
    assert!(circle.outline.points().iter().all(|p| p.distance(pt(1000.0, 1000.0)) <= 1000.0 + 1e-9));
    assert!(circle.outline.edges().all(|(a, b)| a.lerp(b, 0.5).distance(pt(1000.0, 1000.0)) >= 1000.0 - 0.05));
    let ellipse = slab("outline.ellipse = [2000, 1000]");
    assert!((ellipse.outline.area() - std::f64::consts::PI * 5e5).abs() < 2e2);
    let polygon = slab("outline.polygon = [[-100,-50],[2000,0,30],[2000,1500]]");
    assert_eq!(polygon.outline.bbox().min, pt(-100.0, -50.0));
}

#[test]
fn what_a_flaw_needs() {
    let o = "outline.rectangle = [2900, 1600]\ngrain = 0\n[[slab.flaw]]\n";
    let check = |flaw: &str, wanted: &[(Kind, usize, &str)]| check_slab(&format!("{o}{flaw}"), wanted);
    let key = |k: &str| format!("slab[0].flaw[0].{k}");
    check("kind='crack'\nline=[[0,0],[9,9]]", &[]);
    check("line=[[0,0],[9,9]]", &[(Kind::MissingKey, 11, &key("kind"))]);
    check("kind='crack'", &[(Kind::MissingKey, 11, "slab[0].flaw[0]")]);
    check("kind='crak'\nline=[[0,0],[9,9]]", &[(Kind::UnknownWord, 12, &key("kind"))]);
    check("kind='pit'\nspot=[9,9]", &[(Kind::MissingKey, 11, &key("diameter"))]);
    check("kind='pit'\nspot=[9,9]\ndiameter=0", &[(Kind::NotPositive, 14, &key("diameter"))]);
    check("kind='pit'\nspot=[9,9]\ndiameter=3\nwidth=2", &[(Kind::Conflict, 15, &key("width"))]);
    check("kind='pit'\narea=[[0,0],[9,0],[9,9]]\ndiameter=2", &[(Kind::Conflict, 14, &key("diameter"))]);
    check("kind='pit'\narea=[[0,0],[9,0],[9,9]]\nspot=[3,3]", &[(Kind::Conflict, 14, &key("spot"))]);
    check("kind='pit'\narea=[[0,0],[9,0]]", &[(Kind::TooFewCorners, 13, &key("area"))]);
    check("kind='pit'\narea=[[0,0],[9,0],[18,0]]", &[(Kind::TooFewCorners, 13, &key("area"))]);
    check("kind='pit'\narea=[[0,0],[9,0,1],[9,9]]", &[(Kind::WrongCount, 13, &key("area[1]"))]);
    check("kind='pit'\narea=[[0,0],[9,9],\n[9,0],[0,9]]", &[(Kind::SelfCrossing, 14, &key("area[2]"))]);
    check("kind='crack'\nline=[[5,5]]", &[(Kind::TooFewCorners, 13, &key("line"))]);
    check("kind='crack'\nline=[[5,5],[5,5]]", &[(Kind::TooFewCorners, 13, &key("line"))]);
    check("kind='crack'\nline=[[5,5],[5,9]]\nwidth=-1", &[(Kind::Negative, 14, &key("width"))]);
    check("kind='crack'\nline=[[5,5],[5,9]]\nallow=['fields']", &[(Kind::UnknownWord, 14, &key("allow[0]"))]);
    let r = check("kind='stain'\nspot=[3000,800]\ndiameter=40", &[(Kind::FlawOutside, 13, &key("spot"))]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    assert!(r.0[0].given.contains("80.0 mm off"), "{r}");
    check("kind='stain'\nspot=[2910,800]\ndiameter=40", &[]);
    let many = "kind='pit'\nspot=[9,9]\ndiameter=3\n[[slab.flaw]]\n".repeat(300);
    check(&format!("{many}kind='pit'\nspot=[9,9]\ndiameter=3"), &[(Kind::TooMany, 3, "slab[0].flaw")]);
}

#[test]
fn limits_and_tools() {
    check_shop("[limits]\nkerf = 4\ngap = 3", &[(Kind::GapBelowKerf, 3, "limits.gap")]);
    check_shop("[limits]\nkerf = 7", &[(Kind::GapBelowKerf, 2, "limits.kerf")]);
    check_shop("[limits]\nkerf = 5\ngap = 5", &[]);
    // Passes inside openings are laid by the kerfs of the blades, which are narrower by default.
    let r = check_shop("[limits]\nkerf = 5.5", &[(Kind::Conflict, 2, "limits.kerf")]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    check_shop("[limits]\nkerf = 5.5\n[tools]\nblades = [{ diameter = 400, kerf = 5.2 }]", &[]);
    check_shop("limits = 3", &[(Kind::WrongType, 1, "limits")]);
    for key in [
        "kerf",
        "gap",
        "trim",
        "flaw_gap",
        "min_rail",
        "rod_rail",
        "tap_rail",
        "min_web",
        "tap_web",
        "rail_zone",
        "tap_zone",
        "edge_zone",
        "keep_side",
        "keep_area",
        "keep_share",
    ] {
        check_shop(&format!("[limits]\n{key} = -1"), &[(Kind::Negative, 2, &format!("limits.{key}"))]);
        check_shop(&format!("[limits]\n{key} = nan"), &[(Kind::BadNumber, 2, &format!("limits.{key}"))]);
    }
    check_shop("[limits]\nkeep_share = 1.1", &[(Kind::OutOfRange, 2, "limits.keep_share")]);
    check_shop("[limits]\nkeep_area = '0.5 m'", &[(Kind::WrongType, 2, "limits.keep_area")]);
    check_shop("[limits]\nuse_drops = 1", &[(Kind::WrongType, 2, "limits.use_drops")]);
    check_shop("[tools]\ncore_bits = [20, 0]", &[(Kind::NotPositive, 2, "tools.core_bits[1]")]);
    check_shop("[tools]\ncore_bits = 20", &[(Kind::WrongType, 2, "tools.core_bits")]);
    let r = check_shop("[tools]\ncore_bits = []", &[(Kind::Assumed, 2, "tools.core_bits")]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    let r = check_shop("[tools]\nblades = []", &[(Kind::Assumed, 2, "tools.blades")]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    check_shop("[tools]\nblades = [350]", &[(Kind::WrongType, 2, "tools.blades[0]")]);
    check_shop("[tools]\nblades = 350", &[(Kind::WrongType, 2, "tools.blades")]);
    check_shop("[tools]\nblades = [{ diameter = 350 }]", &[(Kind::MissingKey, 2, "tools.blades[0].kerf")]);
    check_shop("[[tools.blades]]\nkerf = 3", &[(Kind::MissingKey, 1, "tools.blades[0].diameter")]);
    check_shop("[tools]\nblades = [{ diameter = 350, kerf = 0 }]", &[(Kind::NotPositive, 2, "tools.blades[0].kerf")]);
    check_shop(
        "[tools]\nblades = [{ diameter = 50, kerf = 60 }]",
        &[(Kind::UnlikelySize, 2, "tools.blades[0].kerf"), (Kind::OutOfRange, 2, "tools.blades[0].kerf")],
    );
    // The job is 20 mm thick: a blade of less than 2 * (20 + 2) mm does not reach through.
    let r = check_shop(
        "[tools]\nblades = [{ diameter = 43, kerf = 2 }]",
        &[(Kind::OutOfRange, 2, "tools.blades[0].diameter")],
    );
    assert_eq!(
        (r.0[0].severity, r.0[0].given.as_str()),
        (Severity::Warning, "a blade of 43 mm, which reaches 21.5 mm deep at most")
    );
    assert_eq!(r.0[0].expected, "at least twice the cut through the stone: 44 mm");
    check_shop("[tools]\nblades = [{ diameter = 44, kerf = 2 }]", &[]);
    check_shop("[tools]\ntable_cut = -1", &[(Kind::Negative, 2, "tools.table_cut")]);
}

#[test]
fn rods_of_the_shop() {
    let r = check_shop("[rods]\ndiameters = []", &[(Kind::Assumed, 2, "rods.diameters")]);
    assert_eq!(r.0[0].severity, Severity::Warning);
    check_shop("[rods]\ndiameters = [0]", &[(Kind::NotPositive, 2, "rods.diameters[0]")]);
    check_shop("[rods]\ndiameter = [6]", &[(Kind::UnknownKey, 2, "rods.diameter")]);
    check_shop("[rods]\nmaterial = ''", &[(Kind::BadName, 2, "rods.material")]);
    check_shop("[rods]\nblade = { diameter = 100 }", &[(Kind::MissingKey, 2, "rods.blade.kerf")]);
    for key in ["play", "cover", "past", "hardener", "waste"] {
        check_shop(&format!("[rods]\n{key} = -0.1"), &[(Kind::Negative, 2, &format!("rods.{key}"))]);
        check_shop(&format!("[rods]\n{key} = nan"), &[(Kind::BadNumber, 2, &format!("rods.{key}"))]);
    }
    check_shop("[rods]\nhardener = 2", &[(Kind::OutOfRange, 2, "rods.hardener")]);
    check_shop("[rods]\nresin_density = 1400", &[(Kind::OutOfRange, 2, "rods.resin_density")]);
}

#[test]
fn how_pieces_are_carried() {
    let shop = "[handling]\nknocks_by_hand = 1.8\nshare = 20\nreach = '45 cm'\nframe_angle = 12\nsafety.granite = 3.5\n\
        safety.\"engineered quartz\" = 6";
    let h = good(&job("outline.rectangle = [900, 200]"), RACK, Some(shop)).question.shop.handling;
    assert_eq!((h.knocks_by_hand, h.share, h.reach, h.frame_angle), (1.8, 20.0, 450.0, 12.0));
    let safety: Vec<(StoneClass, f64)> = h.safety.iter().map(|(&c, &f)| (c, f)).collect();
    assert_eq!(safety, [(StoneClass::Granite, 3.5), (StoneClass::EngineeredQuartz, 6.0)]);
    assert_eq!((h.knocks_on_frame, h.grip_height), (1.5, 750.0), "the rest keeps its default");
    for (key, value) in [
        ("knocks_by_hand", "0.9"),
        ("knocks_by_crane", "11"),
        ("knocks_on_frame", "0"),
        ("knocks_flat_on_road", "0.5"),
        ("frame_angle", "46"),
        ("share", "0"),
        ("twist", "136"),
        ("frequency", "0"),
        ("grip", "1.1"),
        ("push", "10001"),
        ("rod_yield", "1"),
        ("safety.marble", "0.5"),
    ] {
        let place = format!("handling.{key}");
        check_shop(&format!("[handling]\n{key} = {value}"), &[(Kind::OutOfRange, 2, &place)]);
        check_shop(&format!("[handling]\n{key} = inf"), &[(Kind::BadNumber, 2, &place)]);
        check_shop(&format!("[handling]\n{key} = \"much\""), &[(Kind::WrongType, 2, &place)]);
    }
    for key in ["reach", "grip_height", "lift"] {
        let place = format!("handling.{key}");
        check_shop(&format!("[handling]\n{key} = -1"), &[(Kind::Negative, 2, &place)]);
        check_shop(&format!("[handling]\n{key} = 2001"), &[(Kind::UnlikelySize, 2, &place)]);
    }
    check_shop("[handling]\nsafety.granit = 3", &[(Kind::UnknownKey, 2, "handling.safety.granit")]);
    check_shop("handling = 3", &[(Kind::WrongType, 1, "handling")]);
}

#[test]
fn where_an_offcut_comes_from() {
    let slab = |from: &str| format!("outline.rectangle = [3000, 1600]\ngrain = 0\nfrom = {from}\n");
    let read = |from: &str| {
        let input = good(&job("outline.rectangle = [900, 200]"), &rack(&slab(from)), None);
        input.question.rack[0].from.as_deref().cloned().unwrap()
    };
    let from = read("{ slab = 'GG 3', jobs = ['Mill', 'Weir'], at = ['1 in', 40], date = '2026-11-26' }");
    assert_eq!(
        (from.slab.as_str(), from.jobs, from.date.as_deref()),
        ("GG 3", vec!["Mill".to_owned(), "Weir".to_owned()], Some("2026-11-26"))
    );
    assert_eq!(from.at, pt(25.4, 40.0));
    let least = read("{ slab = 'GG 3' }");
    assert_eq!((least.jobs.len(), least.at, least.date), (0, pt(0.0, 0.0), None));
    check_slab(&slab("{ jobs = ['Mill'] }"), &[(Kind::MissingKey, 11, "slab[0].from.slab")]);
    check_slab(&slab("{ slab = 'GG 3', job = ['Mill'] }"), &[(Kind::UnknownKey, 11, "slab[0].from.job")]);
    check_slab(&slab("{ slab = 'GG 3', jobs = ['Mill', 3] }"), &[(Kind::WrongType, 11, "slab[0].from.jobs[1]")]);
    check_slab(&slab("{ slab = 'GG 3', at = [1] }"), &[(Kind::WrongCount, 11, "slab[0].from.at")]);
    check_slab(&slab("'GG 3'"), &[(Kind::WrongType, 11, "slab[0].from")]);
    // What lies just off an offcut is no slip; off a whole slab it is.
    let pit = "[[slab.flaw]]\nkind = 'pit'\nspot = [-9, 5]\ndiameter = 4\n";
    let remarks = |slab: &str| good(&job("outline.rectangle = [900, 200]"), &rack(slab), None).remarks;
    assert!(remarks(&(slab("{ slab = 'GG 3' }") + pit)).is_empty());
    let whole = remarks(&format!("outline.rectangle = [3000, 1600]\ngrain = 0\n{pit}"));
    assert!(whole.iter().any(|r| r.what == Kind::FlawOutside), "{whole}");
}

#[test]
fn test_values_of_a_slab() {
    let slab = |tests: &str| format!("outline.rectangle = [3000, 1600]\ngrain = 0\n[slab.tests]\n{tests}");
    let read = |tests: &str| {
        let input = good(&job("outline.rectangle = [900, 200]"), &rack(&slab(tests)), None);
        input.question.rack[0].tests.as_deref().cloned()
    };
    let t = read("density = 2810\nstrength = [61, 58, 64.5, 60, 59]\nsource = 'report 7, wet'").unwrap();
    assert_eq!((t.density, t.source.as_deref()), (Some(2810.0), Some("report 7, wet")));
    assert_eq!(t.strength, Some(TestedStrength::Values(vec![61.0, 58.0, 64.5, 60.0, 59.0])));
    let t = read("strength_mean = 60\nstrength_deviation = 4\nspecimens = 12\nsource = 'x'").unwrap();
    assert_eq!(t.strength, Some(TestedStrength::Summary { mean: 60.0, deviation: 4.0, specimens: 12 }));
    let check =
        |tests: &str, wanted: &[(Kind, usize, &str)]| check_slab(&slab(&format!("source = 'x'\n{tests}")), wanted);
    check("density = 27", &[(Kind::OutOfRange, 13, "slab[0].tests.density")]);
    let r = check("strength = [60, 61, 62, 63]", &[(Kind::WrongCount, 13, "slab[0].tests.strength")]);
    assert!(r.0[0].given == "4 specimens" && r.0[0].expected == "5 specimens or more", "{r}");
    check("strength = [60, 61, 0, 63, 60]", &[(Kind::OutOfRange, 13, "slab[0].tests.strength[2]")]);
    check("strength = 60", &[(Kind::WrongType, 13, "slab[0].tests.strength")]);
    check(
        "strength = [60, 61, 62, 63, 60]\nstrength_mean = 60",
        &[(Kind::Conflict, 14, "slab[0].tests.strength_mean")],
    );
    check(
        "strength_mean = 60",
        &[
            (Kind::MissingKey, 11, "slab[0].tests.strength_deviation"),
            (Kind::MissingKey, 11, "slab[0].tests.specimens"),
        ],
    );
    check(
        "strength_mean = 6\nstrength_deviation = 7\nspecimens = 12",
        &[(Kind::OutOfRange, 14, "slab[0].tests.strength_deviation")],
    );
    check(
        "strength_mean = 6\nstrength_deviation = 1\nspecimens = 4",
        &[(Kind::WrongCount, 15, "slab[0].tests.specimens")],
    );
    check("hardness = 6\ndensity = 2700", &[(Kind::UnknownKey, 13, "slab[0].tests.hardness")]);
    let r = check("", &[(Kind::MissingKey, 11, "slab[0].tests")]);
    assert_eq!(r.0[0].severity, Severity::Warning, "tests without a value change nothing, and that is told");
    let r = check_slab(&slab("density = 2700"), &[(Kind::Assumed, 11, "slab[0].tests")]);
    assert_eq!(r.0[0].severity, Severity::Note);
}

#[test]
fn thicknesses_that_no_worktop_has_are_warned_about() {
    for (thick, given) in [("5", "5 mm"), ("200", "200 mm")] {
        let job = format!(
            "name='a'\nmaterial='blue slate'\nthickness={thick}\n[[piece]]\nname='x'\noutline.rectangle=[900,200]"
        );
        let remarks = remarks_of(read(&job, &RACK.replace("thickness = 20", &format!("thickness = {thick}")), None));
        expect(&remarks, &[(Kind::UnlikelySize, 3, "thickness"), (Kind::UnlikelySize, 7, "slab[0].thickness")]);
        let r = &remarks.0[0];
        assert!(
            r.severity == Severity::Warning && r.given == given && r.expected.contains("6 mm to 100 mm"),
            "{remarks}"
        );
    }
    // A class of stone that is none.
    let remarks =
        remarks_of(read(&job("outline.rectangle = [900, 200]"), &RACK.replace("\"slate\"", "\"slat\""), None));
    expect(&remarks, &[(Kind::UnknownWord, 6, "slab[0].stone")]);
    assert!(remarks.0[0].fix.contains("slate"), "{remarks}");
}

#[test]
fn a_job_without_a_slab_hears_what_the_rack_has() {
    let other =
        |from: &str, to: &str| remarks_of(read(&job("outline.rectangle = [900, 200]").replace(from, to), RACK, None));
    let r = other("blue slate", "blue slat");
    expect(&r, &[(Kind::NoMatchingSlab, 3, "material")]);
    assert_eq!(r.0[0].expected, "what the rack has: \"blue slate\" of 20 mm");
    assert!(r.0[0].fix.contains("\"blue slate\""));
    let r = other("thickness = 20", "thickness = 30");
    expect(&r, &[(Kind::NoMatchingSlab, 4, "thickness")]);
    assert!(!other("thickness = 20", "thickness = 20.5").has_errors());
}

#[test]
fn several_jobs_have_names_of_their_own() {
    let j = job("outline.rectangle = [900, 200]");
    let jobs = [text("a.toml", &j), text("b.toml", &j)];
    let r = remarks_of(read_question_from_texts(&jobs, text("rack.toml", RACK), None));
    expect(&r, &[(Kind::DuplicateName, 1, "name")]);
    assert_eq!(r.0[0].file, "b.toml");
    assert!(r.0[0].given.contains("a.toml"));
    let r = remarks_of(read_question_from_texts(&[], text("rack.toml", RACK), None));
    expect(&r, &[(Kind::NoJobs, 0, "")]);
}

#[test]
fn mistakes_of_all_files_come_in_one_run_in_order() {
    let r = remarks_of(read("name='x'\nfoo=1\n[[piece]]", "[[slab]]\nbar=1", Some("baz=1\n[limits]\nkerf='x'")));
    let mut places: Vec<_> = r.iter().map(|r| (r.file.clone(), r.line, r.column)).collect();
    assert!(["job.toml", "rack.toml", "shop.toml"].iter().all(|f| places.iter().any(|p| p.0 == *f)));
    let given = places.clone();
    places.sort();
    assert_eq!(places, given);
    assert!(r.0.len() > 10);
}

#[test]
fn a_flood_of_mistakes_is_cut() {
    let flood: String = (0..5000).map(|i| format!("key{i} = {i}\n")).collect();
    let r = remarks_of(read(&flood, RACK, None));
    assert_eq!(r.0.iter().filter(|r| r.what == Kind::AndMore).count(), 1);
    assert!(r.0.len() <= 201);
    // Many notes neither hide an error nor count as one.
    let slab = |i: usize| {
        format!("[[slab]]\nname='{i}'\nmaterial='blue slate'\nthickness=20\nprice=1\noutline.rectangle=[900,900]\n")
    };
    let slabs: String = (0..300).map(slab).collect();
    let plain = job("outline.rectangle = [900, 200]");
    let input = good(&plain, &slabs, None);
    assert_eq!((input.question.rack.len(), input.remarks.0.len()), (300, 201));
    let r = remarks_of(read(&plain, &format!("{slabs}foo = 1"), None));
    assert!(r.iter().any(|r| r.what == Kind::UnknownKey), "{r}");
}

const PLAN: &str = r#"{ "format": "scantling-plan/1", "jobs": ["Mill"], "seed": 1,
  "limits": {"kerf": 4, "gap": 6, "trim": 20, "flaw_gap": 10, "min_rail": 50, "rod_rail": 100, "min_web": 100,
    "rail_zone": 100, "tap_zone": 25, "edge_zone": 25},
  "layouts": [
    { "slab": "BS-4",
      "placed": [ {"job": "Mill", "piece": "sill", "turn": 180.0, "shift": [2710.0, 660.0], "pinned": false,
          "outline": [[0,0]], "openings": [{"opening": "main sink", "outline": [[0,0]]}]} ],
      "yield": {"slab_mm2": 0, "usable_mm2": 0, "pieces_mm2": 0, "openings_mm2": 0, "net": 0.0, "gross": 0.0},
      "offcuts": [ {"outline": [[0,0]], "rectangle": {"corner": [0,0], "size": [0,0], "turn": 0}} ] } ],
  "unplaced": [ {"job": "Mill", "piece": "x", "reason": "r", "needed": 0, "found": 0} ],
  "cost": 640.0, "cost_bound": 640.0, "proven": true,
  "findings": [ {"rule": "rail-too-narrow", "grade": "broken", "job": "Mill", "piece": "sill", "opening": "o",
    "slab": null, "at": [0,0], "found": 48.0, "needed": 60.0, "message": "m"} ] }
"#;

#[track_caller]
fn check_plan(from: &str, to: &str, what: Kind, line: usize, key: &str) -> Remark {
    assert!(PLAN.contains(from), "{from}");
    let remarks = io::parse_plan("plan.json", &PLAN.replacen(from, to, 1)).unwrap_err();
    expect(&remarks, &[(what, line, key)]);
    remarks.0[0].clone()
}

#[test]
fn plans_are_read_and_their_mistakes_placed() {
    let plan = io::parse_plan("plan.json", PLAN).unwrap();
    assert_eq!(plan.layouts[0].placed[0].shift, [2710.0, 660.0]);
    let again = serde_json::to_string(&plan).unwrap();
    assert_eq!(io::parse_plan("plan.json", &format!("\u{feff}{again}")).unwrap(), plan);
    let r = check_plan("\"turn\": 180", "\"turm\": 180", Kind::UnknownKey, 6, "layouts[0].placed[0].turm");
    assert!(r.fix.contains("\"turn\""), "{r}");
    check_plan("180.0", "\"half\"", Kind::WrongType, 6, "layouts[0].placed[0].turn");
    check_plan("[2710.0, 660.0]", "[2710.0, 1e999]", Kind::BadNumber, 6, "layouts[0].placed[0].shift[1]");
    check_plan("[2710.0, 660.0]", "[2710.0]", Kind::WrongCount, 6, "layouts[0].placed[0].shift");
    check_plan("660.0", "NaN", Kind::Syntax, 6, "layouts[0].placed[0].shift[1]");
    let r = check_plan("rail-too-narrow", "rail-to-narrow", Kind::UnknownWord, 12, "findings[0].rule");
    assert!(r.fix.contains("\"rail-too-narrow\""), "{r}");
    let r = check_plan(", \"pinned\": false", ", \"turn\": 3", Kind::Conflict, 6, "layouts[0].placed[0].turn");
    assert!(r.given.contains("turn"), "{r}");
    let r = check_plan("\"piece\": \"sill\", \"turn\"", "\"turn\"", Kind::MissingKey, 7, "layouts[0].placed[0]");
    assert!(r.fix.contains("\"piece\""), "{r}");
    check_plan("\"cost_bound\"", "cost_bound", Kind::Syntax, 11, "");
    for bad in ["", "null", "[]", "{}", "\u{0}", "{\"format\": "] {
        assert!(io::parse_plan("plan.json", bad).unwrap_err().has_errors(), "{bad}");
    }
}

#[test]
fn schemas_and_readers_know_the_same_keys() {
    for which in [Schema::Job, Schema::Rack, Schema::Shop] {
        let schema = io::schema(which);
        let known = io::known_keys(which);
        let mut visited = 0;
        let mut todo = vec![(String::new(), schema.clone())];
        while let Some((path, node)) = todo.pop() {
            let Some(properties) = node.get("properties").and_then(|p| p.as_object()) else { continue };
            assert_eq!(node["additionalProperties"], false, "{path} refuses unknown keys");
            let (_, keys) = known.iter().find(|(p, _)| *p == path).unwrap_or_else(|| panic!("no reader of {path:?}"));
            let mut given: Vec<&str> = properties.keys().map(String::as_str).collect();
            let mut wanted = keys.to_vec();
            given.sort_unstable();
            wanted.sort_unstable();
            assert_eq!(given, wanted, "keys of {path:?}");
            visited += 1;
            for (key, value) in properties {
                let child = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                assert!(value.get("description").is_some() || value.get("$ref").is_some(), "{child} is described");
                for reference in references(value) {
                    let name = reference.rsplit('/').next().unwrap();
                    todo.push((child.clone(), schema["$defs"][name].clone()));
                }
            }
        }
        assert_eq!(visited, known.len(), "every table of the reader is in the schema");
    }
    let plan = io::schema(Schema::Plan);
    assert!(plan["properties"]["layouts"].is_object() && plan["$defs"]["Placed"]["properties"]["shift"].is_object());
}

/// All references within a property, however wrapped.
fn references(value: &serde_json::Value) -> Vec<String> {
    match value {
        serde_json::Value::Object(map) => map
            .iter()
            .flat_map(|(k, v)| if k == "$ref" { vec![v.as_str().unwrap().to_owned()] } else { references(v) })
            .collect(),
        serde_json::Value::Array(list) => list.iter().flat_map(references).collect(),
        _ => Vec::new(),
    }
}

fn put(dir: &Path, name: &str, body: impl AsRef<[u8]>) -> std::path::PathBuf {
    let path = dir.join(name);
    io::write_atomically(&path, body.as_ref()).unwrap();
    path
}

#[test]
fn the_rack_is_beside_the_job_unless_overridden() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let body = |name: &str, rack: &str| {
        job("outline.rectangle = [900, 200]").replace("\"Mill\"", &format!("\"{name}\"\n{rack}"))
    };
    let a = put(d, "one/a.toml", body("A", "rack = \"../stock/rack.toml\""));
    let b = put(d, "two/b.toml", body("B", "rack = \"../one/../stock/rack.toml\""));
    let c = put(d, "c.toml", body("C", "rack = \"other.toml\"\nshop = \"shop.toml\""));
    let none = put(d, "none.toml", body("N", ""));
    let rack = put(d, "stock/rack.toml", RACK);
    put(d, "other.toml", RACK);
    put(d, "shop.toml", "[limits]\nkerf = 3");
    let load = |jobs: &[&std::path::PathBuf], rack: Option<&std::path::PathBuf>| {
        io::load(&Paths { jobs: jobs.iter().map(|p| (*p).clone()).collect(), rack: rack.cloned(), shop: None })
    };
    assert_eq!(load(&[&a], None).unwrap().question.rack[0].name, "BS-4");
    assert_eq!(load(&[&a, &b], None).unwrap().question.jobs.len(), 2);
    assert_eq!(load(&[&c], None).unwrap().question.shop.limits.kerf, 3.0);
    assert_eq!(load(&[&none], Some(&rack)).unwrap().question.jobs[0].name, "N");
    let kinds = |r: Result<Input, Remarks>| r.unwrap_err().iter().map(|r| (r.what, r.key.clone())).collect::<Vec<_>>();
    assert_eq!(kinds(load(&[&none], None)), [(Kind::NoRack, "rack".to_owned())]);
    let differ = load(&[&a, &c], None).unwrap_err();
    let found: Vec<_> = differ.iter().map(|r| r.what).collect();
    assert_eq!(found, [Kind::RacksDiffer, Kind::ShopsDiffer]);
    assert!(differ.0[0].given.contains("a.toml") && differ.0[0].given.contains("other.toml"), "{differ}");
    let differ = load(&[&a, &none], None).unwrap_err();
    assert_eq!(differ.0[0].what, Kind::RacksDiffer);
    // An error in the job does not hide those in the rack, nor the other way round.
    let bad = put(d, "bad.toml", body("X", "rack = \"bad-rack.toml\"\nfoo = 1"));
    put(d, "bad-rack.toml", "bar = 1");
    assert_eq!(
        kinds(load(&[&bad], None)),
        [(Kind::UnknownKey, "bar".into()), (Kind::NoSlabs, "slab".into()), (Kind::UnknownKey, "foo".into())]
            .map(|(k, s): (Kind, String)| (k, s))
    );
}

#[test]
fn files_that_cannot_be_read_say_why() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let rack = put(d, "rack.toml", RACK);
    let load =
        |job: &Path| io::load(&Paths { jobs: vec![job.to_owned()], rack: Some(rack.clone()), shop: None }).unwrap_err();
    let first = |job: &Path| load(job).0[0].clone();
    assert_eq!(first(&d.join("nowhere.toml")).what, Kind::FileMissing);
    assert_eq!(first(d).what, Kind::FileIsDirectory);
    let latin = put(d, "latin.toml", b"name = \"a\"\nmaterial = \"gr\xfcn\"");
    let r = first(&latin);
    assert_eq!((r.what, r.line, r.column), (Kind::NotUtf8, 2, 15));
    assert!(r.given.contains("offset 25"), "{r}");
    let big = d.join("big.toml");
    std::fs::File::create(&big).unwrap().set_len(io::LARGEST_FILE + 1).unwrap();
    let r = first(&big);
    assert_eq!(r.what, Kind::FileTooLarge);
    assert!(r.given.contains("20.0 MB") && r.expected.contains("20 MB"), "{r}");
    std::fs::File::create(&big).unwrap().set_len(60_000_000).unwrap();
    assert!(first(&big).given.contains("60.0 MB"));
    let denied = io::explain(Path::new("x.toml"), &std::io::Error::from(std::io::ErrorKind::PermissionDenied));
    assert_eq!(denied.what, Kind::FileForbidden);
    assert_eq!(io::read_plan(&d.join("nowhere.json")).unwrap_err().0[0].what, Kind::FileMissing);
    let missing = io::load(&Paths {
        jobs: vec![rack.clone()],
        rack: Some(d.join("no-rack.toml")),
        shop: Some(d.join("no-shop.toml")),
    })
    .unwrap_err();
    assert_eq!(missing.iter().filter(|r| r.what == Kind::FileMissing).count(), 2, "{missing}");
    assert!(io::load(&Paths::default()).unwrap_err().iter().any(|r| r.what == Kind::NoJobs));
}

#[test]
fn files_are_written_whole_or_not_at_all() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let path = put(d, "deep/down/plan.json", "one");
    io::write_atomically(&path, b"two").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"two");
    let names =
        |p: &Path| fs::read_dir(p).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect::<Vec<_>>();
    assert_eq!(names(path.parent().unwrap()), ["plan.json"]);
    // A directory in the way, or a file where a directory should be.
    assert_eq!(io::write_atomically(&d.join("deep"), b"x").unwrap_err().0[0].what, Kind::FileIsDirectory);
    assert_eq!(io::write_atomically(&path.join("x"), b"x").unwrap_err().0[0].what, Kind::FileNotWritten);
    assert_eq!(names(d), ["deep"]);
}

/// Every bad input in `tests/broken` gives exactly the message that stands beside it. A file `NAME.toml` is a job unless
/// its name starts with `rack` or `shop`; `NAME.json` is a plan. `UPDATE_GOLDEN=1` rewrites the messages.
#[test]
fn broken_files_give_exactly_the_messages_beside_them() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken");
    let mut files: Vec<_> = fs::read_dir(&dir).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e != "txt"));
    files.sort();
    assert!(files.len() >= 10);
    let plain = job("outline.rectangle = [900, 200]");
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        let body = fs::read_to_string(&path).unwrap();
        let remarks = if name.ends_with(".json") {
            io::parse_plan(name, &body).unwrap_err()
        } else if name.starts_with("rack") {
            remarks_of(read_question_from_texts(&[text("plain.toml", &plain)], text(name, &body), None))
        } else if name.starts_with("shop") {
            remarks_of(read_question_from_texts(
                &[text("plain.toml", &plain)],
                text("plain-rack.toml", RACK),
                Some(text(name, &body)),
            ))
        } else {
            remarks_of(read_question_from_texts(&[text(name, &body)], text("plain-rack.toml", RACK), None))
        };
        let said = format!("{remarks}\n");
        let beside = path.with_extension("txt");
        if std::env::var_os("UPDATE_GOLDEN").is_some() {
            io::write_atomically(&beside, said.as_bytes()).unwrap();
        }
        let wanted = fs::read_to_string(&beside).unwrap_or_default();
        assert_eq!(said, wanted, "{name}");
    }
}
