//! Rates of all sorts: never a panic, and what is accepted adds up.

use proptest::prelude::*;
use scantling::report::quote::{csv, text};
use scantling::units::Shown;

use super::worked::PIECES;
use super::{RACK, adds_up, plan, priced, read};

const KEYS: [&str; 31] = [
    "currency",
    "minor_digits",
    "per",
    "slabs",
    "stone",
    "markup_percent",
    "waste_percent",
    "credit_percent",
    "area_rule",
    "area_step",
    "area_rounded_by",
    "length_step",
    "edges.polished",
    "edges.eased",
    "edges",
    "openings.\"tap hole\"",
    "openings.\"undermount sink\"",
    "site_finish",
    "rods",
    "seam",
    "corner",
    "mesh",
    "sealing",
    "templating",
    "installation_by_area",
    "without",
    "minimum",
    "tax_percent",
    "tax_name",
    "extra",
    "terms",
];

const ODD: [&str; 34] = [
    "nan",
    "-inf",
    "-1",
    "-0.0",
    "0",
    "1e-300",
    "1e300",
    "1e9",
    "1000000000.000001",
    "999999999.999999",
    "0.000001",
    "0.0000001",
    "99999999999999999999999999999999999999999",
    "0xff",
    "2",
    "4",
    "12.345",
    "0.005",
    "\"\"",
    "\"EUR\"",
    "\"foot\"",
    "\"area\"",
    "\"job\"",
    "\"1/8 in\"",
    "[]",
    "[1]",
    "[\"delivery\"]",
    "{}",
    "{ raw = 3.5, polished = 2 }",
    "[{ name = \"x\", rate = -0.005 }, { name = \"y\", rate = 999999999.995, per = \"area\" }]",
    "[{ name = \"x\", rate = -1e9, per = \"piece\" }]",
    "true",
    "2020-01-01",
    "'''a\nb'''",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn rates_of_all_sorts_do_no_harm(
        entries in prop::collection::vec((0..KEYS.len(), prop_oneof![
            2 => (0..ODD.len()).prop_map(|i| ODD[i].to_owned()),
            3 => (0_i64..2_000_000, 0_u32..5).prop_map(|(n, p)| rust_decimal::Decimal::new(n, p).to_string()),
        ]), 0..7),
        seams in 0_u32..1000,
        planned: bool,
    ) {
        let mut shop = "[rates]\n".to_owned();
        for (key, value) in &entries {
            shop.push_str(&format!("{} = {value}\n", KEYS[*key]));
        }
        match read(PIECES, RACK, &shop) {
            Err(remarks) => {
                prop_assert!(remarks.has_errors());
                // Every mistake is told about the shop, with its line.
                prop_assert!(remarks.iter().all(|r| r.file == "shop.toml" && r.line > 1), "{remarks}");
            }
            Ok(input) => {
                let q = input.question;
                let p = planned.then(|| plan(&q, &[("FS-2", &[("Tide Hall", "run")]), ("FS-1", &[("Tide Hall", "corner top")])]));
                match priced(&q, p.as_ref(), &[seams]) {
                    Ok(quote) => {
                        adds_up(&quote);
                        let said = text(&quote, Shown::In);
                        prop_assert!(!said.contains("NaN") && !said.contains("inf "), "{said}");
                        prop_assert!(said.lines().all(|l| l.chars().count() <= 110), "{said}");
                        prop_assert!(!csv::print(&quote).is_empty());
                    }
                    Err(too_large) => prop_assert!(!too_large.line.is_empty()),
                }
            }
        }
    }
}
