//! Lengths as people write them.
//!
//! Published values: the international yard and pound agreement of 1959 makes the inch 25.4 mm exactly; NIST SP 811
//! (2008), appendix B, and NIST Handbook 44, appendix C, give 1 in = 2.54 cm and 1 ft = 0.3048 m, both exact. The
//! millimetre column of the customary table of decimal equivalents follows from them; its four-digit values are those
//! that workshop tables print.

use proptest::prelude::*;
use scantling::units::{Decimal, LengthError, MM_PER_INCH, Shown, Unit, parse_length};

#[track_caller]
fn check(text: &str, mm: f64) {
    let found = parse_length(text).unwrap_or_else(|e| panic!("{text:?}: {e}"));
    assert!((found - mm).abs() <= 1e-12 * mm.abs().max(1.0), "{text:?}: {found} instead of {mm}");
}

#[track_caller]
fn refuse(text: &str, why: &LengthError) {
    assert_eq!(parse_length(text).as_ref(), Err(why), "{text:?}");
}

/// Numerator and denominator of n/64, reduced.
fn reduced(n: u32) -> (u32, u32) {
    let k = n.trailing_zeros().min(6);
    (n >> k, 64 >> k)
}

#[test]
fn every_sixty_fourth_is_exact() {
    for n in 1..64_u32 {
        let (p, q) = reduced(n);
        let exact = f64::from(n) * 0.396_875; // 25.4 / 64, exact in decimals
        check(&format!("{p}/{q} in"), exact);
        check(&format!("{n}/64\""), exact);
        check(&format!("7 {p}/{q} in"), 177.8 + exact);
        check(&format!("7-{p}/{q}\""), 177.8 + exact);
        check(&format!("-{p}/{q} in"), -exact);
    }
}

#[test]
fn the_customary_table_of_decimal_equivalents() {
    // n/64 in: mm to four decimals, as workshop tables print them (half a unit of the last place is their tolerance).
    let table = [
        ("1/64", 0.3969),
        ("1/32", 0.7938),
        ("3/64", 1.1906),
        ("1/16", 1.5875),
        ("5/64", 1.9844),
        ("3/32", 2.3812),
        ("7/64", 2.7781),
        ("1/8", 3.1750),
        ("9/64", 3.5719),
        ("5/32", 3.9688),
        ("11/64", 4.3656),
        ("3/16", 4.7625),
        ("13/64", 5.1594),
        ("7/32", 5.5562),
        ("15/64", 5.9531),
        ("1/4", 6.3500),
        ("5/16", 7.9375),
        ("3/8", 9.5250),
        ("7/16", 11.1125),
        ("1/2", 12.7000),
        ("9/16", 14.2875),
        ("5/8", 15.8750),
        ("11/16", 17.4625),
        ("3/4", 19.0500),
        ("13/16", 20.6375),
        ("7/8", 22.2250),
        ("15/16", 23.8125),
        ("31/32", 24.6062),
        ("63/64", 25.0031),
    ];
    for (fraction, mm) in table {
        let found = parse_length(&format!("{fraction} in")).unwrap();
        assert!((found - mm).abs() <= 0.5e-4 + 1e-12, "{fraction}: {found} instead of {mm}");
    }
}

#[test]
fn published_conversions() {
    assert!((MM_PER_INCH - 25.4).abs() < f64::EPSILON);
    check("1 in", 25.4);
    check("1 ft", 304.8);
    check("3 ft", 914.4); // the yard of 0.9144 m
    check("1 m", 1000.0);
    check("1 cm", 10.0);
    for (name, unit) in Unit::NAMES {
        assert_eq!(unit.name(), name);
        assert_eq!(Unit::from_name(name), Some(unit));
        check(&format!("1 {name}"), unit.mm());
    }
}

#[test]
fn ways_to_write_a_length() {
    for text in ["648 mm", "648mm", " 648  mm ", "64.8 cm", "0.648 m", ".648 m", "648. mm"] {
        check(text, 648.0);
    }
    for text in [
        "25 1/2 in",
        "25-1/2 in",
        "25 1/2\"",
        "25-1/2\"",
        "25.5 in",
        "25.5\"",
        "2 ft 1 1/2 in",
        "2' 1 1/2\"",
        "2'1-1/2\"",
        "2 feet 1.5 inches",
        "2 foot 1 1/2 inch",
        "25 1/2″",
        "25 1/2''",
        "2′ 1 1/2”",
    ] {
        check(text, 647.7);
    }
    check("-2 ft 1 1/2 in", -647.7);
    check("1/2 ft", 152.4);
    check("0 mm", 0.0);
}

#[test]
fn what_is_no_length() {
    use LengthError::{BadFraction, BadNumber, BadUnit, Empty, NoUnit, Order};
    for empty in ["", "  ", "-", "- "] {
        refuse(empty, &Empty);
    }
    refuse("12", &NoUnit);
    refuse("1/2", &NoUnit);
    refuse("2 ft 3", &NoUnit);
    refuse("12 ells", &BadUnit("ells".into()));
    refuse("12 MM", &BadUnit("MM".into()));
    refuse("1e3 mm", &BadUnit("e".into()));
    refuse("mm", &BadNumber("mm".into()));
    refuse("1.2.3 mm", &BadNumber("1.2.3".into()));
    refuse(". mm", &BadNumber(".".into()));
    refuse("1 2 mm", &BadNumber("2".into()));
    refuse("1/2 1/2 in", &BadNumber("1/2".into()));
    refuse("1/2 3 in", &BadNumber("3".into()));
    refuse("1.5 1/2 in", &BadNumber("1.5 1/2 in".into()));
    for fraction in ["1/3", "1/0", "1/128", "2/2", "5/4", "1//2", "/2", "1/", "1.5/2"] {
        refuse(&format!("{fraction} in"), &BadFraction(fraction.into()));
    }
    for order in ["1 in 2 ft", "1 in 2 in", "1 ft 2 ft", "1 m 2 cm", "1 ft 2 mm"] {
        refuse(order, &Order);
    }
    refuse("--3 mm", &BadUnit("-".into()));
    refuse("3 mm!", &BadUnit("!".into()));
    refuse("١ mm", &BadUnit("١".into()));
}

#[test]
fn lengths_are_shown_in_both_units() {
    assert_eq!(Shown::Mm.length(648.0), "648 mm");
    assert_eq!(Shown::Mm.length(647.71), "647.7 mm");
    assert_eq!(Shown::Mm.length(-0.01), "0 mm");
    assert_eq!(Shown::In.length(647.7), "25 1/2 in");
    assert_eq!(Shown::In.length(19.05), "3/4 in");
    assert_eq!(Shown::In.length(25.4), "1 in");
    assert_eq!(Shown::In.length(-1.5875), "-1/16 in");
    // Finer ones that were given stay; what was worked out goes to the nearest sixteenth.
    assert_eq!(Shown::In.length((36.0 + 1.0 / 32.0) * 25.4), "36 1/32 in");
    assert_eq!(Shown::In.length((36.0 + 63.0 / 64.0) * 25.4), "36 63/64 in");
    assert_eq!(Shown::In.length(36.02 * 25.4), "36 in");
    assert_eq!(Shown::In.length(0.1), "0 in");
    assert_eq!(Shown::In.bare_length(f64::NAN), "NaN");
    assert_eq!(Shown::Mm.area(1_643_000.0), "1.643 m²");
    assert_eq!(Shown::In.area(92_903.04), "1.00 ft²"); // 1 ft² = 0.09290304 m², NIST SP 811
    assert_eq!(Decimal(12.500, 3).to_string(), "12.5");
}

proptest! {
    #[test]
    fn what_is_shown_in_millimetres_reads_back(mm in -1e6..1e6_f64) {
        let back = parse_length(&Shown::Mm.length(mm)).unwrap();
        prop_assert!((back - mm).abs() <= 0.05 + 1e-9);
    }

    #[test]
    fn what_is_shown_in_inches_reads_back(mm in -1e6..1e6_f64) {
        let back = parse_length(&Shown::In.length(mm)).unwrap();
        prop_assert!((back - mm).abs() <= 25.4 / 32.0 + 1e-9);
    }

    #[test]
    fn feet_and_inches_are_inches(feet in 0..100_u32, inches in 0..12_u32, n in 1..64_u32) {
        let (p, q) = reduced(n);
        let apart = parse_length(&format!("{feet} ft {inches} {p}/{q} in")).unwrap();
        let joined = parse_length(&format!("{} {p}/{q} in", 12 * feet + inches)).unwrap();
        prop_assert!((apart - joined).abs() < 1e-9);
    }

    #[test]
    fn units_agree(tenths in 0..100_000_u32) {
        let mm = f64::from(tenths) / 10.0;
        for text in [format!("{mm} mm"), format!("{:.2} cm", mm / 10.0), format!("{:.4} m", mm / 1000.0)] {
            prop_assert!((parse_length(&text).unwrap() - mm).abs() < 1e-9, "{}", text);
        }
    }

    #[test]
    fn no_text_breaks_the_reader(text in "\\PC{0,40}") {
        let _ = parse_length(&text);
    }

    #[test]
    fn no_mix_of_likely_parts_breaks_the_reader(parts in prop::collection::vec(prop::sample::select(vec!["1", "1/2", "3/64", ".", "-", "in", "ft", "mm", "\"", "'", " ", "/", "0", "99999999999999999999", "″"]), 0..12)) {
        if let Ok(mm) = parse_length(&parts.concat()) {
            prop_assert!(!mm.is_nan());
        }
    }
}

#[test]
fn sentences_have_decimal_inches() {
    assert_eq!(Shown::Mm.said(12.34), "12.3 mm");
    assert_eq!(Shown::In.said(12.34), "0.486 in");
    assert_eq!(Shown::In.said(355.6), "14 in");
    assert_eq!(Shown::In.said(-0.001), "0 in");
    assert_eq!((Shown::Mm.said_bare(12.0), Shown::In.said_bare(12.7)), ("12".to_owned(), "0.5".to_owned()));
    assert_eq!((Shown::Mm.said_to(1.0, 0), Shown::In.said_to(1.0, 0)), ("1 mm".to_owned(), "0.04 in".to_owned()));
    assert_eq!(Shown::In.said_to(0.05, 2), "0.002 in");
    assert_eq!(Shown::Mm.said_place(1240.5, 300.2), "(1241, 300)");
    assert_eq!(Shown::In.said_place(1240.0, 300.0), "(48.82, 11.81)");
    assert_eq!((Shown::Mm.said_area(1.643e6), Shown::In.said_area(1.643e6)), ("1.64 m²".into(), "17.7 ft²".into()));
    assert_eq!((Shown::Mm.said_size(5.0), Shown::Mm.said_size(3.175)), ("5 mm".into(), "3.175 mm".into()));
    assert_eq!((Shown::In.said_size(3.175), Shown::In.said_size(5.0)), ("1/8 in".into(), "0.197 in".into()));
}

#[test]
fn masses_have_pounds_where_lengths_are_inches() {
    assert_eq!((Shown::Mm.mass(81.44), Shown::In.mass(81.44)), ("81.4 kg".into(), "81.4 kg (180 lb)".into()));
    assert_eq!((Shown::Mm.ounces(96.3), Shown::In.ounces(96.3)), (String::new(), " (3.4 oz)".into()));
}
