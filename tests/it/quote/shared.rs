//! Jobs that share slabs: parts come to the price, whatever the price and the pieces.

use proptest::prelude::*;
use scantling::model::quote::Item;
use scantling::model::{Offcut, Rectangle};

use super::{RACK, adds_up, jobs, plan, priced};

fn top(name: &str, length: f64, depth: f64) -> String {
    format!("[[piece]]\nname = \"{name}\"\noutline.rectangle = [{length}, {depth}]\n")
}

#[test]
fn a_slab_is_divided_by_the_area_of_the_pieces() {
    let shop = "[rates]\ncurrency = \"EUR\"\ntax_percent = 0\ncredit_percent = 50\n";
    let (a, b) = (top("bar", 2000.0, 600.0), top("shelf", 1000.0, 300.0));
    let q = jobs(&[("Hall", &a), ("Barn", &b)], RACK, shop).unwrap().question;
    let mut p = plan(&q, &[("FS-1", &[("Hall", "bar"), ("Barn", "shelf")])]);
    // An offcut of 1 m² of a slab of 4.5 m² for 500.00: 111.11 a square metre, half of it back.
    let rectangle = Rectangle { corner: [0.0, 0.0], size: [1000.0, 1000.0], turn: 0.0 };
    p.layouts[0].offcuts = vec![Offcut { outline: Vec::new(), rectangle }];
    let quote = priced(&q, Some(&p), &[]).unwrap();
    adds_up(&quote);
    let cells = |job: usize| -> Vec<(Item, String, String, i64)> {
        let lines = quote.jobs[job].lines.iter().filter(|l| l.item.is_stone());
        lines.map(|l| (l.item, l.quantity.to_string(), l.rate.unwrap().to_string(), l.amount.unwrap().minor)).collect()
    };
    let row = |item, quantity: &str, rate: &str, minor| (item, quantity.to_owned(), rate.to_owned(), minor);
    // 1.2 m² and 0.3 m²: four fifths and one.
    assert_eq!(cells(0), [row(Item::Slab, "0.8000", "500.00", 40_000), row(Item::Credit, "0.800", "-55.56", -4445)]);
    assert_eq!(cells(1), [row(Item::Slab, "0.2000", "500.00", 10_000), row(Item::Credit, "0.200", "-55.56", -1111)]);
    let what = &quote.jobs[0].lines[0].what;
    assert_eq!(what, "share of slab FS-1, 4.50 m²");
    // One customer does not read the other's name.
    let told = serde_json::to_string(&quote.jobs[0]).unwrap();
    assert!(!told.contains("Barn"), "{told}");
    // Both used the slab as well as it was used.
    assert_eq!(quote.jobs[0].yields.gross, quote.jobs[1].yields.gross);
    assert!((quote.jobs[0].yields.gross.share - 1.5 / 4.5).abs() < 1e-12);
}

#[test]
fn a_piece_without_a_place_is_named_and_makes_the_quote_incomplete() {
    let both = top("bar", 2000.0, 600.0) + &top("shelf", 1000.0, 300.0);
    for slabs in ["whole", "area"] {
        let shop = format!(
            "[rates]\nslabs = \"{slabs}\"\ntax_percent = 0\nwithout = [\"templating\", \"delivery\", \"installation\"]\n"
        );
        let q = jobs(&[("Hall", &both)], RACK, &shop).unwrap().question;
        let p = plan(&q, &[("FS-1", &[("Hall", "bar")])]);
        let quote = priced(&q, Some(&p), &[]).unwrap();
        adds_up(&quote);
        let job = &quote.jobs[0];
        assert_eq!(job.unplaced, ["shelf"]);
        assert_eq!(job.not_priced.iter().map(|n| n.what.as_str()).collect::<Vec<_>>(), ["stone for shelf"]);
        assert!(!quote.is_complete());
        // All on slabs: complete.
        let all = plan(&q, &[("FS-1", &[("Hall", "bar"), ("Hall", "shelf")])]);
        assert!(priced(&q, Some(&all), &[]).unwrap().is_complete());
        // Nothing on any: no stone, and no panic over yields.
        let none = priced(&q, Some(&plan(&q, &[])), &[]).unwrap();
        assert_eq!((none.jobs[0].total.minor, none.jobs[0].unplaced.len()), (0, 2));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn parts_come_to_the_whole(
        price in 0.0..20_000.0_f64,
        markup in 0_u32..90,
        digits in 0_u32..=3,
        sizes in prop::collection::vec((80.0..2900.0_f64, 60.0..900.0_f64), 2..9),
        offcut in (300.0..2000.0_f64, 300.0..1000.0_f64),
    ) {
        let texts: Vec<(String, String)> =
            sizes.iter().enumerate().map(|(i, (w, h))| (format!("job {i}"), top("top", *w, *h))).collect();
        let all: Vec<(&str, &str)> = texts.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
        let shop = format!("[rates]\nminor_digits = {digits}\nmarkup_percent = {markup}.5\ncredit_percent = 33.3\ntax_percent = 7.7\n");
        let rack = RACK.replace("price = 500.0", &format!("price = {price}"));
        let q = jobs(&all, &rack, &shop).unwrap().question;
        let placed: Vec<(&str, &str)> = texts.iter().map(|(n, _)| (n.as_str(), "top")).collect();
        let mut p = plan(&q, &[("FS-1", &placed)]);
        let rectangle = Rectangle { corner: [0.0, 0.0], size: [offcut.0, offcut.1], turn: 0.0 };
        p.layouts[0].offcuts = vec![Offcut { outline: Vec::new(), rectangle }];
        let quote = priced(&q, Some(&p), &[]).unwrap();
        adds_up(&quote);
        let minor = |item: Item| -> i64 {
            quote.jobs.iter().flat_map(|j| &j.lines).filter(|l| l.item == item).map(|l| l.amount.unwrap().minor).sum()
        };
        let of = |item: Item| quote.jobs.iter().flat_map(|j| &j.lines).filter(move |l| l.item == item);
        let first = of(Item::Slab).next().unwrap();
        prop_assert_eq!(i128::from(minor(Item::Slab)), first.rate.unwrap().in_units(digits).unwrap());
        let share: f64 = of(Item::Slab).map(|l| l.quantity.to_f64()).sum();
        prop_assert!((share - 1.0).abs() < 1e-9);
        prop_assert!(of(Item::Slab).all(|l| !l.quantity.is_negative()));
        let size: f64 = of(Item::Credit).map(|l| l.quantity.to_f64()).sum();
        prop_assert!((size - offcut.0 * offcut.1 / 1e6).abs() < 0.000_51, "{size}");
        prop_assert!(minor(Item::Credit) <= 0);
        for line in of(Item::Slab).chain(of(Item::Credit)) {
            let amount = line.quantity.times(line.rate.unwrap()).and_then(|a| a.in_units(digits));
            prop_assert_eq!(amount, Some(i128::from(line.amount.unwrap().minor)), "{:?}", line);
        }
    }
}
