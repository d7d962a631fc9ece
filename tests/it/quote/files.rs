//! Rates as they are read, quotes as they are written: missing rates, CSV, JSON.

use scantling::diag::Kind;
use scantling::io::{Schema, schema};
use scantling::model::quote::Item;
use scantling::model::{AreaRule, Exact, RateUnit, Rates, RoundedBy, Service, SlabCharge};
use scantling::report::quote::{csv, rows, text};
use scantling::units::Shown;
use serde_json::Value;

use super::worked::{PIECES, SHOP};
use super::{RACK, adds_up, figures, line, plan, priced, question, read};
use crate::cli::fault;

const SILL: &str = "[[piece]]\nname = \"sill\"\noutline.rectangle = [900, 200]\n";

fn rates(shop: &str) -> Rates {
    question(SILL, RACK, shop).shop.rates
}

#[test]
fn every_key_is_optional_and_defaults_are_those_of_the_docs() {
    assert_eq!(rates(""), Rates::default());
    assert_eq!(rates("[rates]\n"), Rates::default());
    let r = Rates::default();
    assert_eq!((r.minor_digits, r.slabs, r.area_rule, r.valid_days), (2, SlabCharge::Whole, AreaRule::Rectangles, 30));
    assert_eq!((r.waste_percent, r.markup_percent, r.credit_percent), (Exact::new(30, 0), Exact::ZERO, Exact::ZERO));
    assert_eq!((r.step_of_area(), r.step_of_length()), (Exact::new(5, 2), 5.0));
    let by_job = rates("[rates]\narea_rounded_by = \"job\"");
    assert_eq!((by_job.area_rounded_by, by_job.step_of_area()), (RoundedBy::Job, Exact::new(1, 1)));
    // A file in inches charges by the foot, unless it says otherwise.
    let r = rates("units = \"in\"\n[rates]\n");
    assert_eq!((r.per, r.step_of_area(), r.step_of_length()), (RateUnit::Foot, Exact::new(5, 1), 3.175));
    assert_eq!(rates("units = \"in\"\n[rates]\nper = \"metre\"").per, RateUnit::Metre);
    let r = rates("units = \"in\"\n[rates]\nlength_step = 0.5\narea_step = 0.25\nper = \"foot\"");
    assert_eq!((r.step_of_length(), r.step_of_area()), (12.7, Exact::new(25, 2)));
    let r = rates(
        "[rates]\nwithout = [\"delivery\", \"templating\", \"delivery\"]\nedges.\"half round\" = 0x10\ntax_percent = 7.700",
    );
    assert_eq!(r.without, [Service::Templating, Service::Delivery]);
    assert_eq!((r.edges["half round"], r.tax_percent.unwrap()), (Exact::new(16, 0), Exact::new(77, 1)));
}

#[test]
fn what_has_no_rate_is_listed_and_never_free() {
    let q = question(PIECES, RACK, "[rates]\nstone = 100\nslabs = \"area\"\n");
    let quote = priced(&q, None, &[1]).unwrap();
    adds_up(&quote);
    let job = &quote.jobs[0];
    let missing: Vec<&str> = job.not_priced.iter().map(|n| n.what.as_str()).collect();
    let wanted = [
        "eased edge",
        "polished edge",
        "rounded corners",
        "undermount sink, cut out, edge polished",
        "tap hole, drilled",
        "seams",
        "templating",
        "delivery",
        "installation",
        "tax",
    ];
    assert_eq!(missing, wanted);
    assert_eq!(job.lines.iter().filter(|l| l.amount.is_none()).count(), wanted.len() - 1);
    assert_eq!(job.total.minor, line(job, "Fell slate").amount.unwrap().minor);
    let said = text(&quote, Shown::Mm);
    for words in [
        "total of what is priced",
        "no rate given",
        "Not in the total\n",
        "  - eased edge: no rate given: set rates.edges.eased in the shop file\n",
        "rates.openings.\"undermount sink\"",
        "tax: no rate given: set rates.tax_percent in the shop file; 0 where none is due",
        "no currency is named: set rates.currency",
    ] {
        assert!(said.contains(words), "{words:?} in\n{said}");
    }
    // Every key that is named mends it.
    let mut shop = "[rates]\nstone = 100\nslabs = \"area\"\n".to_owned();
    for entry in &job.not_priced {
        let key = entry.fix.split("set rates.").nth(1).unwrap().split(" in the shop").next().unwrap();
        shop.push_str(&format!("{key} = 1\n"));
    }
    let mended = priced(&question(PIECES, RACK, &shop), None, &[1]).unwrap();
    assert!(mended.is_complete(), "{:#?}", mended.jobs[0].not_priced);
    // A service that the shop does not offer is said not to be included.
    let without = shop.replace("delivery = 1\n", "without = [\"delivery\"]\n");
    let quote = priced(&question(PIECES, RACK, &without), None, &[1]).unwrap();
    assert!(quote.is_complete() && quote.not_included[0] == "delivery");
    assert!(!quote.jobs[0].lines.iter().any(|l| l.item == Item::Delivery));
}

#[test]
fn raw_edges_cost_nothing_unless_they_have_a_rate() {
    let shop = format!("{SHOP}edges.raw = 2\n");
    // The run: 2400 + 620; the L: 600 + 1500 + 1100.
    let raw = |shop: &str| {
        let quote = priced(&question(PIECES, RACK, shop), None, &[]).unwrap();
        quote.jobs[0].lines.iter().find(|l| l.what == "raw edge").map(figures)
    };
    assert_eq!(raw(SHOP), None);
    assert_eq!(raw(&shop).unwrap(), ["6.220", "2", "12.44"]);
}

#[test]
fn steps_can_be_turned_off_or_taken_for_the_job() {
    let stone = |more: &str| {
        let shop = SHOP.replace("tax_name", &format!("{more}\nwaste_percent = 0\ntax_name"));
        let quote = priced(&question(PIECES, RACK, &shop), None, &[]).unwrap();
        let of = |what: &str| figures(line(&quote.jobs[0], what))[0].clone();
        (of("Fell slate"), of("polished edge"))
    };
    let both = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    assert_eq!(stone("area_step = 0\nlength_step = 0"), both("2.688", "3.911"));
    assert_eq!(stone("area_step = 0.01\nlength_step = 1"), both("2.690", "3.912"));
    assert_eq!(stone("area_rounded_by = \"job\""), both("2.700", "3.915"));
    assert_eq!(stone("area_rounded_by = \"job\"\narea_step = 0.5\nlength_step = \"10 cm\""), both("3.000", "4.000"));
    assert_eq!(stone("area_rule = \"outline\"\narea_step = 0\nlength_step = 0"), both("2.688", "3.911"));
}

#[test]
fn mistakes_in_rates_are_told_with_their_key() {
    let wrong = |body: &str, kind: Kind, key: &str| {
        let remarks = read(SILL, RACK, &format!("[rates]\n{body}\n")).map(|i| i.remarks).unwrap_or_else(|e| e);
        let [r] = &remarks.0[..] else { panic!("one remark about {body}\n{remarks}") };
        assert_eq!((r.what, r.key.as_str()), (kind, key), "{r}");
    };
    wrong("edges.polished = -3", Kind::Negative, "rates.edges.polished");
    wrong("edges.polished = 1e300", Kind::OutOfRange, "rates.edges.polished");
    wrong("edges.polished = \"12 EUR\"", Kind::WrongType, "rates.edges.polished");
    wrong("edges.polished = nan", Kind::BadNumber, "rates.edges.polished");
    wrong("edges.polished = 1.2345678", Kind::BadNumber, "rates.edges.polished");
    wrong("edges = 12", Kind::WrongType, "rates.edges");
    wrong("openings.sink = 12", Kind::UnknownKey, "rates.openings.sink");
    wrong("openings.cooktop = true", Kind::WrongType, "rates.openings.cooktop");
    wrong("slabs = \"half\"", Kind::UnknownWord, "rates.slabs");
    wrong("per = \"yard\"", Kind::UnknownWord, "rates.per");
    wrong("waste_percent = 96", Kind::OutOfRange, "rates.waste_percent");
    wrong("tax_percent = 101", Kind::OutOfRange, "rates.tax_percent");
    wrong("minor_digits = 5", Kind::OutOfRange, "rates.minor_digits");
    wrong("minor_digits = 2.0", Kind::BadNumber, "rates.minor_digits");
    wrong("valid_days = 0", Kind::OutOfRange, "rates.valid_days");
    wrong("currency = \"pieces of eight\"", Kind::BadName, "rates.currency");
    wrong("currency = \"\"", Kind::BadName, "rates.currency");
    wrong("without = [\"sealing\"]", Kind::UnknownWord, "rates.without[0]");
    wrong("without = [\"delivery\"]\ndelivery = 3", Kind::Conflict, "rates.without[0]");
    wrong("extra = [{ rate = 3 }]", Kind::MissingKey, "rates.extra[0].name");
    wrong("extra = [{ name = \"x\", rate = -1e10 }]", Kind::OutOfRange, "rates.extra[0].rate");
    wrong("extra = [{ name = \"x\", rate = 1, per = \"hour\" }]", Kind::UnknownWord, "rates.extra[0].per");
    wrong("terms = \"pay\"", Kind::WrongType, "rates.terms");
    wrong("edge.polished = 3", Kind::UnknownKey, "rates.edge");
    wrong("area_step = -0.1", Kind::Negative, "rates.area_step");
    wrong("length_step = -1", Kind::Negative, "rates.length_step");
    let many = format!("terms = [{}]", "\"x\", ".repeat(101));
    wrong(&many, Kind::TooMany, "rates.terms");
}

#[test]
fn a_line_beyond_all_range_is_an_error_that_names_it() {
    let q = question(
        PIECES,
        RACK,
        "[rates]\nminor_digits = 4\nedges.polished = 1e9\nextra = [{ name = \"gold leaf\", rate = 1e9, per = \"area\" }]\n",
    );
    // 2.7 thousand million with four digits fits; a hundred thousand tops of it do not.
    assert!(priced(&q, None, &[]).is_ok());
    let mut many = q;
    let piece = many.jobs[0].pieces[0].clone();
    many.jobs[0].pieces = (0..400_000).map(|_| piece.clone()).collect();
    let openings = scantling::model::openings::Openings { format: String::new(), openings: Vec::new() };
    let wish = scantling::quote::Wish {
        question: &many,
        plan: None,
        openings: &openings,
        seams: &[],
        compare: false,
        date: None,
    };
    let too_large = scantling::quote::quote(&wish).unwrap_err();
    assert_eq!((too_large.job.as_str(), too_large.line.as_str()), ("Tide Hall", "polished edge"));
    assert!(
        too_large.to_string().starts_with("Tide Hall: polished edge: 1208000.000 m at 1000000000 is more"),
        "{too_large}"
    );
}

#[test]
fn the_csv_reads_back_and_no_cell_is_a_formula() {
    let shop = SHOP.replace("trade discount", "=1+2 discount").replace("EUR", "@X");
    let pieces = PIECES.replace("\"eased\"", "\"+eased, \\\"soft\\\"\"");
    let mut q = question(&pieces, RACK, &shop);
    q.jobs[0].name = "-Hall\n\"by\" the, tide".to_owned();
    let p = plan(&q, &[("FS-2", &[("-Hall\n\"by\" the, tide", "run")])]);
    let quote = priced(&q, Some(&p), &[1]).unwrap();
    adds_up(&quote);
    let bytes = csv::print(&quote);
    assert!(bytes.ends_with(b"\r\n") && !bytes.windows(2).any(|w| w[1] == b'\n' && w[0] != b'\r'));
    let mut reader = ::csv::Reader::from_reader(&bytes[..]);
    assert_eq!(reader.headers().unwrap().iter().collect::<Vec<_>>(), csv::COLUMNS);
    let records: Vec<::csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let job = &quote.jobs[0];
    assert_eq!(records.len(), job.lines.len() + 3);
    for (record, line) in records.iter().zip(&job.lines) {
        assert_eq!(&record[0], "'-Hall \"by\" the, tide");
        assert_eq!(&record[1], line.item.name());
        assert_eq!(record[2].trim_start_matches('\''), line.what);
        assert_eq!(record[3].parse::<f64>().unwrap(), line.quantity.to_f64());
        assert_eq!(record[4], line.unit.replace('²', "2"));
        assert_eq!(record[5].parse::<f64>().ok(), line.rate.map(Exact::to_f64));
        assert_eq!(record[6].parse::<f64>().ok(), line.amount.map(|m| m.amount));
        assert_eq!(&record[7], "'@X");
    }
    let last: Vec<(&str, &str)> =
        records.iter().rev().take(3).map(|r| (r.get(1).unwrap(), r.get(6).unwrap())).collect();
    assert_eq!(last[0], ("total", job.total.shown(2).as_str()));
    assert_eq!(last[2], ("subtotal", job.subtotal.shown(2).as_str()));
    for record in &records {
        for (i, cell) in record.iter().enumerate() {
            let number =
                matches!(i, 3 | 5 | 6) && (cell.is_empty() || cell.trim_end_matches(" %").parse::<f64>().is_ok());
            assert!(number || !cell.trim_start().starts_with(['=', '+', '-', '@']), "{cell}");
        }
    }
    assert!(
        records.iter().any(|r| &r[2] == "'=1+2 discount") && records.iter().any(|r| &r[2] == "'+eased, \"soft\" edge")
    );
}

#[test]
fn the_json_follows_its_schema_and_is_the_same_twice() {
    let schema = schema(Schema::Quote);
    let q = question(PIECES, RACK, SHOP);
    let p = plan(&q, &[("FS-2", &[("Tide Hall", "run")])]);
    for (plan, seams) in [(None, [0]), (Some(&p), [3])] {
        let quote = priced(&q, plan, &seams).unwrap();
        let told = serde_json::to_string_pretty(&quote).unwrap();
        assert_eq!(told, serde_json::to_string_pretty(&priced(&q, plan, &seams).unwrap()).unwrap());
        let value: Value = serde_json::from_str(&told).unwrap();
        assert_eq!(fault(&schema, &schema, &value, "quote"), None);
        assert_eq!(value["format"], "scantling-quote/1");
        let mut other = value.clone();
        other["jobs"][0]["lines"][0]["amount"]["minor"] = "12".into();
        assert!(fault(&schema, &schema, &other, "quote").is_some());
        let mut other = value;
        other["jobs"][0]["lines"][0]["item"] = "gold".into();
        assert!(fault(&schema, &schema, &other, "quote").is_some());
    }
}

#[test]
fn tables_say_what_the_quote_says() {
    let q = question(PIECES, RACK, SHOP);
    let quote = priced(&q, None, &[]).unwrap();
    let table = &rows(&quote, Shown::Mm)[0];
    assert_eq!(table.rows.len(), quote.jobs[0].lines.len());
    assert_eq!((table.title, table.job.as_str()), ("Estimate", "Tide Hall"));
    let groups: Vec<&str> = table.rows.iter().map(|r| r.group).collect();
    let mut once = groups.clone();
    once.dedup();
    assert_eq!(once, ["Stone", "Edges", "Openings", "Services", "Other"]);
    let polished = table.rows.iter().find(|r| r.cells[0] == "polished edge").unwrap();
    assert_eq!(polished.cells[1..], ["3.915", "m", "38.50", "150.73"]);
    assert!(table.lacking.is_empty() && table.estimate.is_empty() && table.off.is_empty());
}

/// The README shows every key: with its default, or behind a mark where there is none.
#[test]
fn the_readme_shows_the_rates_as_they_are() {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let block = readme.split("\n[rates]").nth(1).unwrap().split("```").next().unwrap();
    let mut plain = rates(&format!("[rates]{block}"));
    // What it shows is the default by the metre.
    assert_eq!(
        (plain.step_of_area(), plain.step_of_length()),
        (Rates::default().step_of_area(), Rates::default().step_of_length())
    );
    (plain.area_step, plain.length_step) = (None, None);
    assert_eq!(plain, Rates::default());
    let all = format!("[rates]{}", block.replace("\n# ", "\n"));
    let read = rates(&all);
    assert!(read.openings.iter().all(Option::is_some) && read.extras.len() == 1 && read.terms.len() == 1);
    for (key, _) in schema(Schema::Shop)["$defs"]["RatesEntry"]["properties"].as_object().unwrap() {
        assert!(all.lines().any(|l| l.trim_start_matches("[rates]").trim_start().starts_with(key.as_str())), "{key}");
    }
}
