//! The report as a page: well-formed, complete, safe from what users write, small, the same every time; and in a real browser,
//! where there is one (`page::browser`).

use std::collections::{BTreeMap, BTreeSet};
use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

use scantling::model::openings::Openings;
use scantling::model::quote::Quote;
use scantling::model::{Finding, Grade, OpeningKind, Plan, Question, Rule};
use scantling::quote::{Wish, quote};
use scantling::report::page::Content;
use scantling::report::{self, Backdrops, Paper, Settings, opening};
use scantling::units::Shown;
use scantling::{check, craft, io, search};
use serde_json::json;

use super::make;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

static NO_PICTURES: Backdrops = Backdrops(Vec::new());

/// The page without photographs and quote.
pub(super) fn html(
    question: &Question,
    plan: &Plan,
    alternatives: &[Plan],
    openings: &Openings,
    settings: &Settings,
) -> String {
    let backdrops = &NO_PICTURES;
    report::page::html(&Content { question, plan, alternatives, openings, backdrops, quote: None, settings })
}

/// Everything that a page is made from.
struct Case {
    question: Question,
    plan: Plan,
    alternatives: Vec<Plan>,
    openings: Openings,
    settings: Settings,
}

impl Case {
    fn of(question: Question, shown: Shown) -> Self {
        let settings = search::Settings { rounds: Some(1), alternatives: 2, ..search::Settings::default() };
        let mut found = search::solve(&question, &settings, &search::Unwatched);
        found.plan.findings = check::judge(&question, &found.plan);
        let paper = if shown == Shown::In { Paper::Letter } else { Paper::A4 };
        let openings = craft::sheets(&question, Some(&found.plan));
        found.plan.held = openings.held();
        let settings = Settings { shown, paper };
        Self { question, plan: found.plan, alternatives: found.alternatives, openings, settings }
    }

    fn demo(name: &str) -> Self {
        let job = Path::new(ROOT).join("demo-slabs").join(name).join("job.toml");
        let input = io::load(&io::Paths { jobs: vec![job], rack: None, shop: None }).unwrap();
        Self::of(input.question, input.shown)
    }

    /// The same with one piece shoved half onto another and half off the slab, and judged anew.
    fn broken(mut self) -> Self {
        let layout = self.plan.layouts.iter_mut().max_by_key(|l| l.placed.len()).unwrap();
        let to = layout.placed[0].shift;
        let last = layout.placed.last_mut().unwrap();
        last.shift = [to[0] - 60.0, to[1] - 60.0];
        last.outline.clear();
        last.openings.clear();
        self.plan.findings = check::judge(&self.question, &self.plan);
        self.openings = craft::sheets(&self.question, Some(&self.plan));
        self.plan.held = self.openings.held();
        assert!(self.plan.findings.iter().any(|f| f.grade == Grade::Broken));
        self
    }

    /// What it costs, where the shop has rates.
    fn quote(&self) -> Option<Quote> {
        let (question, plan, openings) = (&self.question, Some(&self.plan), &self.openings);
        let wish = Wish { question, plan, openings, seams: &[], compare: false, date: None };
        question.shop.rates.has_any().then(|| quote(&wish).unwrap())
    }

    fn page(&self) -> String {
        let Self { question, plan, alternatives, openings, settings } = self;
        let (quote, backdrops) = (self.quote(), &NO_PICTURES);
        let quote = quote.as_ref();
        report::page::html(&Content { question, plan, alternatives, openings, backdrops, quote, settings })
    }

    fn placed(&self) -> usize {
        self.plan.layouts.iter().map(|l| l.placed.len()).sum()
    }
}

static MILL: LazyLock<Case> = LazyLock::new(|| Case::demo("weir-mill"));
static INN: LazyLock<Case> = LazyLock::new(|| Case::demo("gannet-inn"));
static CAFE: LazyLock<Case> = LazyLock::new(|| Case::demo("kiln-lane-cafe"));
static BROKEN: LazyLock<Case> = LazyLock::new(|| Case::demo("weir-mill").broken());

/// Forty pieces, half of them with openings, all different.
static FORTY: LazyLock<Case> = LazyLock::new(|| {
    let pieces = (0..40_u32)
        .map(|i| {
            let mut piece = make::piece(&format!("top {}", i + 1), 1400.0 + 7.0 * f64::from(i), 600.0);
            piece.kind = i as usize;
            if i % 2 == 0 {
                let sink = make::opening("sink", OpeningKind::UndermountSink, [600.0, 300.0], 560.0, 380.0, 20.0);
                let tap = make::opening("tap", OpeningKind::TapHole, [600.0, 550.0], 35.0, 35.0, 0.0);
                piece.openings = vec![sink, tap];
            }
            piece
        })
        .collect();
    let rack = (0..14).map(|i| make::slab(&format!("S{i}"), 3100.0, 1800.0, 600.0)).collect();
    Case::of(make::question(pieces, rack), Shown::Mm)
});

/// More pieces on one slab than a printed page has rows beside a drawing.
static SILLS: LazyLock<Case> = LazyLock::new(|| {
    let pieces = (0..30_u32)
        .map(|i| {
            let mut piece = make::piece(&format!("sill {}", i + 1), 500.0 + 9.0 * f64::from(i), 150.0);
            piece.kind = i as usize;
            piece.outline.finishes[0] = scantling::model::Finish::Finished("polished".to_owned());
            piece
        })
        .collect();
    Case::of(make::question(pieces, vec![make::slab("S", 3200.0, 1700.0, 600.0)]), Shown::Mm)
});

/// The page as an XML reader sees it.
pub(super) fn parsed(page: &str) -> roxmltree::Document<'_> {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..roxmltree::ParsingOptions::default() };
    roxmltree::Document::parse_with_options(page, options).expect("well-formed")
}

/// All that stands in an element, markup left out.
pub(super) fn words(node: roxmltree::Node<'_, '_>) -> String {
    node.descendants().filter_map(|n| if n.is_text() { n.text() } else { None }).collect()
}

fn by_id<'a, 'i>(page: &'a roxmltree::Document<'i>, id: &str) -> roxmltree::Node<'a, 'i> {
    page.descendants().find(|n| n.attribute("id") == Some(id)).unwrap_or_else(|| panic!("nothing has the id {id}"))
}

fn by_class<'a, 'i>(
    page: &'a roxmltree::Document<'i>,
    class: &'static str,
) -> impl Iterator<Item = roxmltree::Node<'a, 'i>> + use<'a, 'i> {
    page.descendants().filter(move |n| n.attribute("class").is_some_and(|c| c.split(' ').any(|c| c == class)))
}

#[test]
fn the_price_stands_on_the_page_of_a_shop_that_has_rates() {
    let page = INN.page();
    let document = parsed(&page);
    let told = words(by_id(&document, "price"));
    let quote = INN.quote().expect("the demo has rates");
    let tables = report::quote::rows(&quote, INN.settings.shown);
    assert_eq!(tables.len(), 1);
    for row in &tables[0].rows {
        assert!(row.cells.iter().all(|c| told.contains(c.as_str())), "{:?}", row.cells);
    }
    for [label, amount] in &tables[0].sums {
        assert!(told.to_lowercase().contains(&label.to_lowercase()) && told.contains(amount.as_str()), "{label}");
    }
    assert!(page.contains("#price") && !MILL.page().contains("#price"));
    // What a narrow screen leaves out stands in the head of its row.
    let lines: Vec<String> = by_class(&document, "narrow").map(|n| words(n)).collect();
    assert_eq!(lines.len(), tables[0].rows.len());
    for (line, row) in lines.iter().zip(&tables[0].rows) {
        assert!([1, 2, 3].iter().all(|&i| line.contains(&row.cells[i])), "{line} {:?}", row.cells);
    }
    assert_eq!(by_class(&document, "sum").count(), tables[0].sums.len());
}

#[test]
fn is_well_formed_and_its_links_lead_somewhere() {
    for case in [&*MILL, &*INN, &*CAFE, &*BROKEN, &*FORTY] {
        let page = case.page();
        let page = parsed(&page);
        let mut ids = BTreeSet::new();
        for id in page.descendants().filter_map(|n| n.attribute("id")) {
            assert!(ids.insert(id), "the id {id} stands twice");
        }
        let refers = |n: &roxmltree::Node<'_, '_>| -> Vec<String> {
            let own = ["aria-labelledby", "aria-describedby", "aria-controls"];
            let mut out: Vec<String> = own.iter().filter_map(|a| n.attribute(*a)).map(str::to_owned).collect();
            out.extend(n.attribute("href").map(|h| h.strip_prefix('#').expect("no link leaves the page").to_owned()));
            out
        };
        for id in page.descendants().flat_map(|n| refers(&n)) {
            assert!(ids.contains(id.as_str()), "nothing has the id {id}");
        }
    }
}

#[test]
fn asks_nobody_for_anything() {
    for case in [&*MILL, &*CAFE] {
        let text = case.page();
        let page = parsed(&text);
        for n in page.descendants().filter(roxmltree::Node::is_element) {
            assert!(!matches!(n.tag_name().name(), "link" | "img" | "iframe" | "object" | "embed" | "base" | "form"));
            for a in n.attributes() {
                assert!(
                    !matches!(a.name(), "src" | "srcset" | "action" | "style"),
                    "{} {}",
                    n.tag_name().name(),
                    a.name()
                );
                assert!(!a.name().starts_with("on"), "{}", a.name());
                let address = a.value().contains("//") && a.name() != "content";
                assert!(!address, "{}", a.value());
            }
        }
        assert!(!text.contains("url(") && !text.contains("@import") && !text.contains("fetch("));
        let policy = page.descendants().find(|n| n.attribute("http-equiv") == Some("Content-Security-Policy")).unwrap();
        let policy = policy.attribute("content").unwrap();
        assert!(policy.starts_with("default-src 'none';") && !policy.contains("unsafe"), "{policy}");
    }
}

#[test]
fn holds_every_piece_opening_slab_and_finding() {
    for case in [&*MILL, &*INN, &*CAFE, &*BROKEN, &*FORTY] {
        let text = case.page();
        let page = parsed(&text);
        let shown = case.settings.shown;
        let cut_list = words(by_id(&page, "cut-list"));
        let labels = words(by_id(&page, "labels"));
        for (i, layout) in case.plan.layouts.iter().enumerate() {
            let slab = words(by_id(&page, &format!("slab-{}", i + 1)));
            assert!(slab.contains(&layout.slab));
            for (k, placed) in layout.placed.iter().enumerate() {
                let sheet = words(by_id(&page, &format!("piece-{}-{}", i + 1, k + 1)));
                let job = case.question.jobs.iter().find(|j| j.name == placed.job).unwrap();
                let piece = job.pieces.iter().find(|p| p.name == placed.piece).unwrap();
                let (w, d) = piece.size();
                let size = format!("{} × {}", shown.bare_length(w), shown.length(d));
                for all in [&sheet, &cut_list, &labels, &slab] {
                    assert!(all.contains(&piece.name) && all.contains(&size), "{}, {size}", piece.name);
                }
                assert!(labels.contains(&format!("{}-{}", i + 1, k + 1)));
                for side in &piece.outline.finishes {
                    assert!(sheet.contains(side.name()), "{}", side.name());
                }
                for o in &piece.openings {
                    assert!(sheet.contains(&o.name) && cut_list.contains(&o.name), "{}", o.name);
                    assert!(sheet.contains(&shown.length(o.centre().x)) && sheet.contains(&shown.length(o.centre().y)));
                }
            }
        }
        // What the sheet of an opening says in text it says on the page, word for word.
        let told = opening::text_of(&case.question, &case.openings, shown);
        let flat = |s: &str| s.split_whitespace().collect::<Vec<_>>().join(" ");
        let on_page = flat(&by_class(&page, "plain").map(|n| words(n) + "\n").collect::<String>());
        let on_page: String = on_page.split_whitespace().collect();
        for line in told.lines().filter(|l| l.starts_with("  ") && !l.starts_with("   ")) {
            let line: String = line.split_whitespace().collect();
            assert!(on_page.contains(&line), "{line}");
        }
        let findings = words(by_id(&page, "findings"));
        let all: Vec<&Finding> = case.plan.findings.iter().collect();
        // Copies are told together; their messages differ in the copy's number only.
        for f in all.iter().filter(|f| f.piece.as_ref().is_none_or(|p| !p.contains(" #"))) {
            assert!(findings.contains(&f.message), "{}", f.message);
        }
        let rules: BTreeSet<String> = all.iter().map(|f| f.rule.name()).collect();
        assert!(rules.iter().all(|r| findings.contains(r)));
        assert!(!words(by_id(&page, "summary")).contains("NaN"));
    }
    let text = MILL.page();
    let summary = words(by_id(&parsed(&text), "summary"));
    for figure in [
        "Gross yield",
        "Net yield",
        "Cost",
        "bound",
        "Proven the cheapest",
        "First goal",
        "Worth of offcuts",
        "Margin to flaws",
    ] {
        assert!(summary.contains(figure), "{figure}");
    }
    for plan in 0..MILL.alternatives.len() {
        assert!(summary.contains(&format!("Alternative {}", plan + 2)));
    }
}

#[test]
fn says_first_whether_it_may_be_cut() {
    let verdict = |case: &Case| {
        let text = case.page();
        let page = parsed(&text);
        by_class(&page, "verdict").map(words).collect::<String>()
    };
    assert!(verdict(&MILL).starts_with("All placed"));
    assert!(verdict(&BROKEN).starts_with("Do not cut: "));
}

/// The places of findings lie on the drawing of their slab, at the point that they name.
#[test]
fn findings_are_linked_to_their_places() {
    let text = BROKEN.page();
    let page = parsed(&text);
    let links: Vec<_> = by_class(&page, "place").collect();
    let broken = BROKEN.plan.findings.iter().filter(|f| f.grade == Grade::Broken && f.at.is_some());
    let mut count = 0;
    for f in broken {
        count += 1;
        let layout = BROKEN
            .plan
            .layouts
            .iter()
            .position(|l| {
                f.slab
                    .as_ref()
                    .map_or_else(|| l.placed.iter().any(|p| Some(&p.piece) == f.piece.as_ref()), |slab| *slab == l.slab)
            })
            .unwrap();
        let id = format!("drawing-{}", layout + 1);
        let drawing = by_id(&page, &id);
        let frame: Vec<f64> = drawing.attribute("viewBox").unwrap().split(' ').map(|v| v.parse().unwrap()).collect();
        let on = |n: &roxmltree::Node<'_, '_>| {
            let number = |a: &str| n.attribute(a).unwrap().parse::<f64>().unwrap();
            let (x, y) = (number("data-x"), number("data-y"));
            n.attribute("data-slab") == Some(&(layout + 1).to_string())
                && (0.0..=frame[2]).contains(&x)
                && (0.0..=frame[3]).contains(&y)
        };
        assert!(links.iter().any(on), "{}", f.message);
    }
    assert!(count > 0);
    let marks = by_class(&page, "layer-finding").count();
    assert!(marks > 0, "broken rules are marked on the drawing");
}

#[test]
fn what_users_write_stays_text() {
    let nasty = "</title><script>alert(1)</script>\"'&amp;<!--]]> \u{202E}gnp\u{2066} \u{0}\u{FFFE} שלום";
    let mut piece = make::piece(nasty, 1500.0, 600.0);
    piece.openings = vec![make::opening(nasty, OpeningKind::UndermountSink, [700.0, 300.0], 560.0, 380.0, 20.0)];
    piece.outline.finishes[0] = scantling::model::Finish::Finished(nasty.to_owned());
    let mut slab = make::slab(nasty, 3000.0, 1800.0, 600.0);
    slab.lot = Some(nasty.to_owned());
    let mut question = make::question(vec![piece], vec![slab]);
    question.jobs[0].name = nasty.to_owned();
    question.jobs[0].material = nasty.to_owned();
    question.rack[0].material = nasty.to_owned();
    let mut case = Case::of(question, Shown::Mm);
    assert_eq!(case.placed(), 1);
    case.plan.unplaced.push(scantling::model::Unplaced {
        job: nasty.to_owned(),
        piece: nasty.to_owned(),
        reason: nasty.to_owned(),
        needed: 1.0,
        found: f64::NAN,
    });
    case.plan.bound_rule = Some(nasty.to_owned());
    case.plan.findings.push(Finding {
        rule: Rule::GrainOff,
        grade: Grade::Warning,
        job: Some(nasty.to_owned()),
        piece: Some(nasty.to_owned()),
        opening: Some(nasty.to_owned()),
        slab: None,
        at: Some([f64::NAN, f64::INFINITY]),
        found: None,
        needed: None,
        message: nasty.to_owned(),
    });
    let text = case.page();
    let page = parsed(&text);
    let of = |name: &str| page.descendants().filter(|n| n.tag_name().name() == name).count();
    assert_eq!((of("script"), of("head"), of("body")), (1, 1, 1));
    assert_eq!(text.matches("<script").count(), 1);
    assert_eq!(text.matches("<!--").count(), 0);
    for c in ['\u{202E}', '\u{2066}', '\u{0}', '\u{FFFE}'] {
        assert!(!text.contains(c), "{c:?}");
    }
    let seen = "</title><script>alert(1)</script>\"'&amp;<!--]]> gnp   שלום";
    assert!(words(by_id(&page, "piece-1-1")).contains(seen));
    assert!(by_class(&page, "spot").any(|n| n.attribute("aria-label").unwrap().contains(seen)));
}

#[test]
fn any_plan_gives_a_page() {
    let mut plan = BROKEN.plan.clone();
    plan.layouts[0].slab = "no such slab".to_owned();
    let last = plan.layouts.last_mut().unwrap();
    last.placed[0].piece = "no such piece".to_owned();
    if let Some(p) = last.placed.get_mut(1) {
        p.shift = [f64::NAN, 1e300];
    }
    let nothing = Openings { format: String::new(), openings: Vec::new() };
    let page = |plan: &Plan| html(&BROKEN.question, plan, &[], &nothing, &Settings::default());
    let text = page(&plan);
    assert!(words(by_id(&parsed(&text), "slabs")).contains("no such slab"));
    assert!(text.contains("no job has it"));
    plan.layouts.clear();
    let text = page(&plan);
    assert!(words(by_id(&parsed(&text), "slabs")).contains("cuts no slab"));
}

#[test]
fn forty_pieces_stay_below_two_megabytes() {
    assert_eq!(FORTY.placed(), 40);
    let size = FORTY.page().len();
    println!("40 pieces on {} slabs: {size} bytes", FORTY.plan.layouts.len());
    assert!(size < 2_000_000, "{size}");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let again = || Case::demo("kiln-lane-cafe").page();
    assert_eq!(CAFE.page(), again());
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(CAFE.page(), one.install(again));
}

/// Zones of a piece by hand: a rail zone round an opening, a strip along the finished front, a hidden strip at the back.
#[test]
fn zones_are_drawn_where_they_are() {
    let mut piece = make::piece("bench", 2000.0, 600.0);
    piece.openings = vec![make::opening("sink", OpeningKind::UndermountSink, [500.0, 300.0], 400.0, 300.0, 0.0)];
    piece.outline.finishes[0] = scantling::model::Finish::Finished("polished".to_owned());
    piece.hidden.back = 40.0;
    let mut case = Case::of(make::question(vec![piece], vec![make::slab("S", 2400.0, 1000.0, 100.0)]), Shown::Mm);
    case.plan.layouts[0].placed[0].turn = 0.0;
    case.plan.layouts[0].placed[0].shift = [100.0, 100.0];
    let text = case.page();
    let page = parsed(&text);
    let drawing = by_id(&page, "drawing-1");
    let zone = drawing.descendants().find(|n| n.attribute("class") == Some("layer-zone")).unwrap();
    // Closed lines are the borders of the zones; in their order: rail with its hole, edge, hidden.
    let rings: Vec<Vec<[f64; 2]>> = zone
        .children()
        .filter_map(|n| n.attribute("d").filter(|d| d.ends_with('Z')))
        .map(|d| {
            let numbers: Vec<f64> =
                d.split(['M', 'L', 'Z', ' ']).filter(|s| !s.is_empty()).map(|s| s.parse().unwrap()).collect();
            numbers.chunks(2).map(|c| [c[0], c[1]]).collect()
        })
        .collect();
    let area = |ring: &Vec<[f64; 2]>| -> f64 {
        let n = ring.len();
        let twice: f64 = (0..n).map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1]).sum();
        twice.abs() / 2.0
    };
    // Millimetres of stone in one of the drawing, from the piece's own outline.
    let spot = by_class(&page, "spot").next().unwrap().attribute("d").unwrap();
    let xs: Vec<f64> = spot
        .split(['M', 'L', 'Z'])
        .filter(|s| !s.is_empty())
        .map(|s| s.split(' ').next().unwrap().parse().unwrap())
        .collect();
    let wide = xs.iter().fold(f64::MIN, |a, &b| a.max(b)) - xs.iter().fold(f64::MAX, |a, &b| a.min(b));
    let scale = 2000.0 / wide;
    let areas: Vec<f64> = rings.iter().map(|r| area(r) * scale * scale).collect();
    let quarter = std::f64::consts::PI * 100.0 * 100.0;
    let grown = 600.0 * 500.0 - (4.0 * 100.0 * 100.0 - quarter);
    assert!((areas[0] - grown).abs() < 0.01 * grown, "rail {areas:?} {grown}");
    assert!((areas[1] - 400.0 * 300.0).abs() < 1500.0, "its hole {areas:?}");
    assert!((areas[2] - 2000.0 * 25.0).abs() < 1500.0, "edge {areas:?}");
    assert!((areas[3] - 2000.0 * 40.0).abs() < 1500.0, "hidden {areas:?}");
}

/// What the tests in the browser need, or why they cannot run.
fn ready(tests: &Path) -> Result<(), String> {
    let runs = |program: &str| Command::new(program).arg("--version").output().is_ok_and(|o| o.status.success());
    if !runs("node") {
        return Err("there is no node".to_owned());
    }
    if !tests.join("node_modules").join("puppeteer-core").is_dir() {
        return Err("the packages are not there: npm ci --prefix tests/browser".to_owned());
    }
    let named = env::var_os("SCANTLING_CHROMIUM").map(PathBuf::from);
    let there = named.map_or_else(
        || ["chromium", "chromium-browser", "google-chrome"].iter().any(|name| runs(name)),
        |path| path.is_file(),
    );
    if there { Ok(()) } else { Err("there is no Chromium: install it, or name it by SCANTLING_CHROMIUM".to_owned()) }
}

/// Pages of demo jobs in a real browser, by the tests in `tests/browser`.
#[test]
fn browser() {
    let tests = Path::new(ROOT).join("tests").join("browser");
    if let Err(why) = ready(&tests) {
        assert!(env::var_os("SCANTLING_MUST").is_none(), "SCANTLING_MUST is set, and {why}");
        eprintln!("skipped: {why}");
        return;
    }
    let pages = tempfile::tempdir().unwrap();
    let shots = Path::new(env!("CARGO_TARGET_TMPDIR")).join("page");
    fs::create_dir_all(&shots).unwrap();
    let mut facts = BTreeMap::new();
    for (name, case) in [
        ("weir-mill", &*MILL),
        ("gannet-inn", &*INN),
        ("kiln-lane-cafe", &*CAFE),
        ("broken", &*BROKEN),
        ("sills", &*SILLS),
    ] {
        let folder = pages.path().join(name);
        fs::create_dir_all(&folder).unwrap();
        io::write_atomically(&folder.join("report.html"), case.page().as_bytes()).unwrap();
        let fact = json!({
            "slabs": case.plan.layouts.len(),
            "long": case.plan.layouts.iter().any(|l| l.placed.len() > 20),
            "pieces": case.placed(),
            "openings": opening::alike(&case.question, &case.openings).len(),
            "places": case.plan.findings.iter().filter(|f| f.at.is_some()).count(),
        });
        facts.insert(name, fact);
    }
    io::write_atomically(&pages.path().join("facts.json"), json!(facts).to_string().as_bytes()).unwrap();
    let out = Command::new("node")
        .args(["--test", "page.test.js"])
        .current_dir(&tests)
        .env("SCANTLING_PAGES", pages.path())
        .env("SCANTLING_SHOTS", &shots)
        .output()
        .expect("node starts");
    let told = format!("{}\n{}", String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "{told}");
    println!("pictures and prints: {}", shots.display());
}
