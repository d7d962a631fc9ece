//! An opening that must not be cut as drawn, or that is only scored, says so everywhere: by the exit code, on the screen, on
//! every paper, in what programs read.

use std::fs;
use std::path::Path;

use scantling::craft;
use scantling::geom::pt;
use scantling::model::openings::{Held, NearFlaw, Verdict};
use scantling::model::{Finish, Opening, OpeningKind, Outline, Question, Rule, Shape, StoneClass};
use scantling::report::{Settings, opening, sheet};
use scantling::units::Shown;
use scantling::{check, search};
use serde_json::{Value, json};

use super::cli::{Run, fault, run};
use super::openings::{Page, read};
use super::{drawing, make};

/// A trough over most of its top, below travertine: no rail holds it on the way.
const TROUGH: &str = "name = \"Heron baths\"\nrack = \"rack.toml\"\nmaterial = \"Fen travertine\"\nthickness = 20\n\
    [[piece]]\nname = \"trough top\"\noutline.rectangle = [2900, 640]\n[[piece.opening]]\nname = \"trough\"\n\
    kind = \"undermount sink\"\nshape.rectangle = [2500, 420]\ncorner_radius = 20\ncentre = [1450, 320]\n";

/// A cooktop whose rails want rods.
const HOB: &str = "name = \"Moss flat\"\nrack = \"rack.toml\"\nmaterial = \"Moss granite\"\nthickness = 20\n\
    [[piece]]\nname = \"hob run\"\noutline.rectangle = [2000, 600]\n[[piece.opening]]\nname = \"hob\"\n\
    kind = \"cooktop\"\nshape.rectangle = [560, 420]\ncorner_radius = 12.5\ncentre = [1000, 300]\n";

const RACK: &str = "[[slab]]\nname = \"FT-1\"\nmaterial = \"Fen travertine\"\nstone = \"travertine\"\nthickness = 20\nprice = 400\n\
    outline.rectangle = [3050, 1500]\ngrain = \"none\"\n[[slab]]\nname = \"MG-1\"\nmaterial = \"Moss granite\"\n\
    stone = \"granite\"\nthickness = 20\nprice = 300\noutline.rectangle = [2400, 1200]\ngrain = \"none\"\n";

/// No rod of this shop fits into 20 mm of stone.
const THICK_RODS: &str = "[rods]\ndiameters = [12]\n";

fn folder(job: &str, shop: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in [("rack.toml", RACK), ("job.toml", job), ("shop.toml", shop)] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    dir
}

fn plan(dir: &Path, more: &[&str]) -> Run {
    let args = ["plan", "job.toml", "--shop", "shop.toml", "--effort", "1", "--out", "o", "--quiet"];
    run(dir, &[&args[..], more].concat())
}

fn text(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join(name)).unwrap()
}

/// The words of the pages of a PDF, each page with its lines put together.
fn pages(dir: &Path, name: &str) -> Vec<String> {
    read(&fs::read(dir.join(name)).unwrap()).iter().map(|p: &Page| p.texts.join(" ")).collect()
}

/// Words without the line breaks of the screen.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_stop_is_told_everywhere() {
    let dir = folder(TROUGH, "");
    let d = dir.path();
    let planned = plan(d, &["--papers"]).ends_with(1);
    let wanted =
        "STOP trough of trough top (Heron baths): with its openings cut the piece does not survive being carried";
    let to_do = "Make the rails wider or the opening shorter, divide the piece by a seam";
    for told in [&planned.out, &text(d, "o/report.txt")] {
        assert!(flat(told).contains(wanted) && flat(told).contains(to_do), "{told}");
    }
    let papers = ["papers", "job.toml", "--shop", "shop.toml", "--plan", "o/plan.json", "--out", "p", "--quiet"];
    assert!(flat(&run(d, &papers).ends_with(1).out).contains(wanted));
    let checked = run(d, &["check", "job.toml", "--plan", "o/plan.json"]).ends_with(1);
    assert!(flat(&checked.out).contains(wanted), "{}", checked.out);
    run(d, &["openings", "job.toml", "--plan", "o/plan.json", "--out", "w"]).ends_with(1);
    run(d, &["quote", "job.toml", "--plan", "o/plan.json"]).ends_with(1);

    fs::write(d.join("rack-2.toml"), RACK).unwrap();
    let take = ["take", "job.toml", "--rack", "rack-2.toml", "--plan", "o/plan.json", "--quiet"];
    assert!(flat(&run(d, &take).ends_with(0).err).contains(wanted));

    // Programs read it, and whoever started them sees it.
    let printed = plan(d, &["--format", "json"]).ends_with(1);
    let value: Value = serde_json::from_str(&printed.out).unwrap();
    assert_eq!((&value["held"][0]["opening"], &value["held"][0]["verdict"]), (&json!("trough"), &json!("stop")));
    assert!(value["held"][0]["because"][0].as_str().unwrap().contains("does not survive"), "{value}");
    assert!(flat(&printed.err).contains(wanted), "{}", printed.err);
    let schema: Value = serde_json::from_str(&run(d, &["schema", "plan"]).ends_with(0).out).unwrap();
    assert_eq!(fault(&schema, &schema, &value, "plan"), None);
    let printed = run(d, &[&papers[..], &["--format", "json"]].concat()).ends_with(1);
    let value: Value = serde_json::from_str(&printed.out).unwrap();
    assert_eq!((&value["may_be_cut"], &value["held"][0]["verdict"]), (&json!(false), &json!("stop")));

    // Every page of paper, and what stands on each.
    for name in ["sheets-slabs.pdf", "sheets-pieces.pdf", "labels.pdf", "templates.pdf"] {
        for page in pages(d, &format!("p/{name}")) {
            assert!(page.contains("DO NOT CUT"), "{name}: {page}");
        }
    }
    let slab = flat(&pages(d, "p/sheets-slabs.pdf").join(" "));
    assert!(slab.contains("STOP: trough of trough top") && slab.contains("does not survive"), "{slab}");
    let label = pages(d, "p/labels.pdf").join(" ");
    assert!(label.contains("STOP: do not cut") && !label.contains("people to carry it"), "{label}");
    let piece = pages(d, "p/sheets-pieces.pdf").join(" ");
    assert!(piece.contains("STOP: do not cut trough as drawn") && !piece.contains("people to carry it"), "{piece}");
    assert!(piece.contains("do not carry it") && !piece.contains("Carry it on edge"), "{piece}");
    for name in ["p/templates.pdf", "w/opening-01-trough-top-trough-template.pdf"] {
        let sheets = read(&fs::read(d.join(name)).unwrap());
        let words = sheets[0].texts.join(" ");
        assert!(words.contains("DO NOT CUT: with its openings cut"), "{words}");
        assert!(!words.contains("the stone inside it goes"), "{words}");
        assert_eq!(sheets[0].of_layer("finding").count(), 2, "struck out by two lines");
    }
    let drawn = text(d, "o/slab-01-ft-1.svg");
    assert!(drawn.contains("DO NOT CUT these as drawn") && drawn.contains("STOP: trough of trough top"));

    // The page leads from its findings to the sheet.
    let page = text(d, "p/report.html");
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..roxmltree::ParsingOptions::default() };
    let page = roxmltree::Document::parse_with_options(&page, options).unwrap();
    let findings = page.descendants().find(|n| n.attribute("id") == Some("findings")).unwrap();
    let words: String = findings.descendants().filter_map(|n| n.text()).collect();
    assert!(words.contains("does not survive being carried"), "{words}");
    let labels = page.descendants().find(|n| n.attribute("id") == Some("labels")).unwrap();
    assert!(labels.descendants().any(|n| n.text() == Some("STOP: do not cut trough as drawn")));
    assert!(!page.descendants().any(|n| n.text() == Some("saw pass, thick where it is at full depth")), "no cuts");
    let link = findings.descendants().find(|n| n.text() == Some("Sheet of the opening")).unwrap();
    let sheet = link.attribute("href").unwrap().trim_start_matches('#');
    assert!(page.descendants().any(|n| n.attribute("id") == Some(sheet)));
}

#[test]
fn a_rail_that_can_have_no_rod_is_scored() {
    let dir = folder(HOB, THICK_RODS);
    let d = dir.path();
    let planned = plan(d, &["--papers"]).ends_with(0);
    let told = flat(&planned.out);
    assert!(told.contains("Openings to score only, and to finish on site: 1"), "{told}");
    assert!(
        told.contains("the front rail (90 mm wide), the back rail (90 mm wide) want rods, and none fits"),
        "{told}"
    );
    assert!(told.contains("Score it from the back in the shop, 13.3 mm deep"), "{told}");
    assert!(pages(d, "o/labels.pdf").join(" ").contains("SCORE ONLY: hob; finish on site"));
    let template = pages(d, "o/templates.pdf").join(" ");
    assert!(template.contains("SCORE ONLY, finish on site: the front rail") && !template.contains("DO NOT CUT"));
    assert!(template.contains("Solid line: the score"), "{template}");
    assert!(!pages(d, "o/sheets-slabs.pdf").join(" ").contains("DO NOT CUT"));
    assert!(text(d, "o/slab-01-mg-1.svg").contains("SCORE ONLY, finish on site"));
    assert!(text(d, "o/report.html").contains("1 opening is only scored"));
    // With rods that fit it is cut in the shop, and nothing is said.
    fs::write(d.join("shop.toml"), "").unwrap();
    let planned = plan(d, &["--papers"]).ends_with(0);
    assert!(!planned.out.contains("SCORE"), "{}", planned.out);
    assert!(pages(d, "o/templates.pdf").join(" ").contains("the stone inside it goes"));
    assert!(serde_json::from_str::<Value>(&text(d, "o/plan.json")).unwrap().get("held").is_none());
}

/// One cooktop in a run, with rails of 110 mm.
fn thin(class: StoneClass, thickness: f64, kind: OpeningKind) -> Question {
    let mut piece = make::piece("run", 2400.0, 640.0);
    piece.openings = vec![make::opening("hob", kind, [1200.0, 320.0], 1000.0, 420.0, 20.0)];
    let mut question = make::question(vec![piece], vec![make::slab("S", 3050.0, 1500.0, 400.0)]);
    question.jobs[0].thickness = thickness;
    question.rack[0].thickness = thickness;
    question.rack[0].stone = class;
    question
}

#[test]
fn no_rail_that_wants_a_rod_and_has_none_is_fine() {
    let verdict = |class, thickness, kind| {
        let sheets = craft::sheets(&thin(class, thickness, kind), None);
        let sheet = sheets.openings[0].clone();
        (sheet.verdict, sheet)
    };
    use OpeningKind::{Cooktop, UndermountSink};
    // 12 mm bear no groove, and are too thin for a score.
    let (found, sheet) = verdict(StoneClass::Granite, 12.0, Cooktop);
    assert_eq!(found, Verdict::Stop);
    assert!(sheet.because.iter().any(|b| b == "the trade advises against openings in granite of 12 mm"));
    assert!(sheet.decided_by.iter().any(|b| b.contains("front rail (110 mm wide)") && b.contains("none fits")));
    assert!(sheet.to_do[0].contains("thicker stone") && sheet.order[0].starts_with("Do not cut"));
    // Quartz is never scored; the trade does not advise against 12 mm of it.
    let (found, sheet) = verdict(StoneClass::EngineeredQuartz, 12.0, UndermountSink);
    assert_eq!(found, Verdict::Stop);
    assert!(!sheet.because.iter().any(|b| b.contains("advises against")), "{:?}", sheet.because);
    // A shop that bonds such pieces onto a sub-top says that they want no rods.
    let mut bonded = thin(StoneClass::EngineeredQuartz, 12.0, UndermountSink);
    bonded.shop.limits.rod_rail = Some(0.0);
    assert_ne!(craft::sheets(&bonded, None).openings[0].verdict, Verdict::Stop);
    // Rods that fit: as before.
    assert_eq!(verdict(StoneClass::Granite, 20.0, Cooktop).0, Verdict::Rods);
    // No rod of the shop fits: scored where the trade does that, and finished on site, with its cautions.
    let mut thick = thin(StoneClass::Granite, 20.0, Cooktop);
    thick.shop.rods.diameters = vec![12.0];
    let sheet = craft::sheets(&thick, None).openings[0].clone();
    assert_eq!(sheet.verdict, Verdict::Score);
    assert!(sheet.cutting.score.is_some());
    assert!(
        sheet.order.iter().any(|s| s.starts_with("On site:")) && !sheet.order.iter().any(|s| s.starts_with("Take"))
    );
    assert!(sheet.cautions.iter().any(|c| c.starts_with("Finishing a score on site")));
    thick.jobs[0].pieces[0].openings[0].kind = UndermountSink;
    assert_eq!(craft::sheets(&thick, None).openings[0].verdict, Verdict::Stop);
}

/// Sheets with a long stop can be read: nothing overlaps, nothing leaves the paper.
#[test]
fn sheets_with_stops_can_be_read() {
    let question = thin(StoneClass::Granite, 12.0, OpeningKind::Cooktop);
    let settings = search::Settings { rounds: Some(1), ..search::Settings::default() };
    let mut plan = search::solve(&question, &settings, &search::Unwatched).plan;
    plan.findings = check::judge(&question, &plan);
    assert!(plan.may_be_cut());
    plan.held = craft::sheets(&question, Some(&plan)).held();
    assert!(!plan.may_be_cut() && plan.held.iter().all(Held::is_stopped));
    let scene = sheet::scene(&question, &plan, 0, &Settings::default());
    assert_eq!(drawing::faults(&scene), Vec::<String>::new());
    assert!(scene.texts().any(|t| t.content.contains("DO NOT CUT")));
}

#[test]
fn a_quote_that_lacks_a_rate_is_told_and_the_plan_can_be_cut() {
    let dir = folder(HOB, "[rates]\nstone = 100\nslabs = \"area\"\n");
    let d = dir.path();
    for more in [&["--papers"][..], &[]] {
        let planned = plan(d, more).ends_with(0);
        assert!(planned.err.contains("warning: the quote is not complete"), "{}", planned.err);
        assert!(planned.err.contains("cooktop") && planned.err.contains("Moss flat"), "{}", planned.err);
    }
    let papers = ["papers", "job.toml", "--shop", "shop.toml", "--plan", "o/plan.json", "--quiet"];
    assert!(run(d, &papers).ends_with(0).err.contains("not complete"));
    run(d, &["quote", "job.toml", "--shop", "shop.toml", "--plan", "o/plan.json"]).ends_with(1);
}

#[test]
fn a_broken_rule_says_that_there_are_no_cutting_drawings() {
    let dir = folder(&HOB.replace("corner_radius = 12.5\n", ""), "");
    let d = dir.path();
    let planned = plan(d, &["--papers"]).ends_with(1);
    let words = "no cutting drawings: this plan breaks rules";
    assert!(planned.out.contains(words) && planned.err.contains(words), "{}\n{}", planned.out, planned.err);
    assert!(!d.join("o/slab-01-mg-1.dxf").exists());
    // One finding for the four corners, with what mends it.
    let told = flat(&planned.out);
    assert_eq!(told.matches("inside-corner-too-tight").count(), 1, "{told}");
    assert!(told.contains("all 4 inside corners of opening \"hob\" of \"hob run\" are too tight"), "{told}");
    assert!(told.contains("give the opening a corner_radius of 10 mm or more"), "{told}");
}

#[test]
fn a_shift_that_was_edited_by_hand_leads_to_planning_from_it() {
    let dir = folder(HOB, "");
    let d = dir.path();
    plan(d, &[]).ends_with(0);
    let mut moved: Value = serde_json::from_str(&text(d, "o/plan.json")).unwrap();
    let shift = moved["layouts"][0]["placed"][0]["shift"][0].as_f64().unwrap();
    moved["layouts"][0]["placed"][0]["shift"][0] = json!(shift + 30.0);
    fs::write(d.join("moved.json"), moved.to_string()).unwrap();
    for command in ["check", "papers", "quote"] {
        let args = [command, "job.toml", "--plan", "moved.json", "--quiet"];
        let said = run(d, &args).ends_with(if command == "check" { 1 } else { 2 }).err;
        assert!(flat(&said).contains("plan JOB --from PLAN"), "{command}: {said}");
        assert!(!said.contains("take it out"), "{command}: {said}");
    }
    run(d, &["plan", "job.toml", "--from", "moved.json", "--effort", "1", "--out", "n"]).ends_with(0);
    run(d, &["check", "job.toml", "--plan", "n/plan.json"]).ends_with(0);
}

#[test]
fn nothing_placed_costs_nothing() {
    let dir =
        folder(&HOB.replace("[2000, 600]", "[2900, 1490]").replace("centre = [1000, 300]", "centre = [1000, 745]"), "");
    let planned = plan(dir.path(), &[]).ends_with(1);
    assert!(planned.out.contains("0 of 1") && planned.out.contains("cost              0.00"), "{}", planned.out);
    assert!(!planned.out.contains("-0.0") && !text(dir.path(), "o/plan.json").contains("-0.0"), "{}", planned.out);
}

#[test]
fn sentences_fit_what_they_are_about() {
    // A core of one bit is taken out by hand.
    let mut piece = make::piece("top", 1800.0, 640.0);
    let shape = Shape::Ellipse { centre: pt(900.0, 560.0), half_x: 17.5, half_y: 17.5 };
    piece.openings = vec![Opening::new("tap".to_owned(), OpeningKind::TapHole, shape)];
    let question = make::question(vec![piece], vec![make::slab("S", 3000.0, 1500.0, 1.0)]);
    let order = craft::sheets(&question, None).openings[0].order.clone();
    assert!(order.iter().any(|s| s.starts_with("Take the core out")), "{order:?}");
    assert!(!order.iter().any(|s| s.contains("two people")), "{order:?}");
    // A flaw near a hidden strip.
    let mut openings = craft::sheets(&question, None);
    openings.openings[0].flaws = vec![NearFlaw {
        flaw: "pit".to_owned(),
        number: 1,
        line: Vec::new(),
        zone: "hidden".to_owned(),
        spare: 142.5,
        in_drop: false,
        distance: 160.0,
        width: 0.0,
        closed: true,
        note: String::new(),
    }];
    let text = opening::text_of(&question, &openings, Shown::Mm);
    assert!(text.contains("142.5 mm to spare to the hidden strip"), "{text}");
    // An inside corner that has a radius needs none.
    for (radius, asked) in [(0.0, true), (30.0, false)] {
        let corners = [[0.0, 0.0], [1200.0, 0.0], [1200.0, 600.0], [600.0, 600.0], [600.0, 1200.0], [0.0, 1200.0]];
        let mut ell = make::polygon("ell", &corners.map(|[x, y]| pt(x, y)));
        if let Shape::Polygon(mut corners) = ell.outline.shape.clone() {
            corners[3].radius = radius;
            ell.outline = Outline::new(Shape::Polygon(corners), vec![Finish::Raw; 6]);
        }
        let carried =
            craft::carry::carry(&ell, &question.rack[0], &question.shop.handling, &[], scantling::model::Shown::Mm);
        let inside = carried.cautions.iter().find(|c| c.contains("inside corner")).unwrap();
        assert_eq!(inside.contains("with a radius"), asked, "{inside}");
    }
}

#[test]
fn a_corner_that_is_too_tight_is_named() {
    let mut question = thin(StoneClass::Granite, 30.0, OpeningKind::Cooktop);
    let opening = &mut question.jobs[0].pieces[0].openings[0];
    if let Shape::Polygon(mut corners) = opening.shape.clone() {
        corners[1].radius = 4.0;
        let shape = Shape::Polygon(corners);
        *opening = Opening::new("hob".to_owned(), OpeningKind::Cooktop, shape);
    }
    let settings = search::Settings { rounds: Some(1), ..search::Settings::default() };
    let plan = search::solve(&question, &settings, &search::Unwatched).plan;
    let found = check::judge(&question, &plan);
    let tight: Vec<_> = found.iter().filter(|f| f.rule == Rule::InsideCornerTooTight).collect();
    assert_eq!(tight.len(), 1);
    assert!(
        tight[0].message.starts_with("1 of the 4 inside corners of opening \"hob\" of \"run\", at (1700, 110) mm"),
        "{}",
        tight[0].message
    );
}
