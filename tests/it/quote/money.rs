//! Numbers that lose nothing, against decimal arithmetic.

use proptest::prelude::*;
use rust_decimal::Decimal;
use scantling::model::{Exact, Money};

use super::half_up;

fn exact(text: &str) -> Exact {
    Exact::parse(text).unwrap_or_else(|| panic!("{text}"))
}

#[test]
fn halves_that_floats_cannot_hold_go_up() {
    // In binary, each of these products is a little less than its half, or the factor is.
    for (quantity, rate, cents) in [
        ("1", "1.005", 101),
        ("1", "2.675", 268),
        ("3", "0.335", 101),
        ("1.5", "0.69", 104),
        ("0.35", "0.3", 11),
        ("2.7", "31.25", 8438),
        ("1.115", "1", 112),
        ("1", "-1.005", -101),
        ("1", "-0.004", 0),
        ("0", "12.5", 0),
        ("1", "0.0049999", 0),
        ("1", "0.005", 1),
    ] {
        let amount = exact(quantity).times(exact(rate)).unwrap();
        assert_eq!(amount.in_units(2), Some(cents), "{quantity} * {rate}");
    }
    assert!((1.005_f64 * 100.0).round() < 101.0, "a float would lose this one");
}

#[test]
fn texts_are_read_digit_by_digit() {
    for (text, shown) in [
        ("12", "12"),
        ("-0.45", "-0.45"),
        ("+3.5e2", "350"),
        ("1e-3", "0.001"),
        ("0.30", "0.3"),
        ("0.0", "0"),
        ("-0", "0"),
        ("1250e-2", "12.5"),
        (".5", "0.5"),
        ("7.", "7"),
    ] {
        assert_eq!(exact(text).to_string(), shown, "{text}");
    }
    for text in ["", "-", ".", "1.2.3", "e5", "1e", "1e300", "1e-300", "nan", "inf", "0x1f", "1_000", "twelve", "1 2"] {
        assert_eq!(Exact::parse(text), None, "{text}");
    }
    let long = "9".repeat(40);
    assert_eq!(Exact::parse(&long), None);
    assert_eq!(Exact::of(f64::NAN), None);
    assert_eq!(Exact::of(1e300), None);
    assert_eq!(exact("1.50"), exact("1.5"));
    assert_eq!(exact("1.5").rounded(4).unwrap().to_string(), "1.5000");
    assert_eq!(exact("-0.05").to_string(), "-0.05");
    assert_eq!(exact("2.7").over(exact("0.7"), 3).unwrap().to_string(), "3.857");
    assert_eq!(exact("1").over(exact("-8"), 2).unwrap().to_string(), "-0.13");
    assert_eq!(exact("1").over(Exact::ZERO, 2), None);
}

#[test]
fn what_is_too_large_is_none_and_no_panic() {
    let most = Exact::new(i128::MAX, 0);
    assert_eq!(most.times(most), None);
    assert_eq!(most.plus(most), None);
    assert_eq!(most.rounded(1), None);
    assert_eq!(most.over(exact("0.1"), 6), None);
    assert_eq!(Exact::new(i128::MIN, 0).times(exact("-1")), None);
    assert_eq!(Exact::new(1, 30).times(Exact::new(1, 30)), None);
    assert!(Money::of(Money::MOST, 2).is_some() && Money::of(-Money::MOST, 2).is_some());
    assert_eq!(Money::of(Money::MOST + 1, 2), None);
    assert_eq!(Money::of(i128::MIN + 1, 2), None);
    assert_eq!(Money::of(123_450, 2).unwrap().shown(2), "1234.50");
    assert_eq!(Money::of(-5, 2).unwrap().shown(2), "-0.05");
    assert_eq!(Money::of(-5, 0).unwrap().shown(0), "-5");
}

/// A decimal text with so many decimals at most, often ending in 5, so that exact halves are common.
fn figure(most: i64, decimals: u32) -> impl Strategy<Value = String> {
    (-most..most, 0..=decimals, any::<bool>()).prop_map(|(n, places, five)| {
        let n = if five { n - n % 10 + 5 * n.signum() } else { n };
        Decimal::new(n, places).to_string()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    #[test]
    fn a_line_is_what_decimal_arithmetic_makes_of_it(
        quantity in figure(100_000_000, 3),
        rate in figure(1_000_000_000, 6),
        digits in 0_u32..=4,
    ) {
        let wanted = half_up(quantity.parse::<Decimal>().unwrap() * rate.parse::<Decimal>().unwrap(), digits);
        let found = exact(&quantity).times(exact(&rate)).unwrap().in_units(digits).unwrap();
        prop_assert_eq!(Decimal::from_i128_with_scale(found, digits), wanted);
        // Credits mirror charges.
        let back = exact(&quantity).times(exact(&rate).negated()).unwrap().in_units(digits).unwrap();
        prop_assert_eq!(back, -found);
    }

    #[test]
    fn exact_halves_go_away_from_zero(cents in -1_000_000_i64..1_000_000, quantity in prop::sample::select(vec![1_i64, 2, 4, 5, 8, 10])) {
        // A rate whose product is exactly half a cent beyond `cents`.
        let half = Decimal::new((2 * cents + 1) * 5, 3);
        let rate = half / Decimal::from(quantity);
        let found = exact(&quantity.to_string()).times(exact(&rate.to_string())).unwrap();
        prop_assert_eq!(Decimal::from_i128_with_scale(found.in_units(2).unwrap(), 2), half_up(half, 2));
        prop_assert_ne!(half_up(half, 2), half);
    }

    #[test]
    fn sums_and_quotients_are_those_of_decimal_arithmetic(a in figure(1_000_000_000, 6), b in figure(1_000_000_000, 6)) {
        let (x, y): (Decimal, Decimal) = (a.parse().unwrap(), b.parse().unwrap());
        let sum = exact(&a).plus(exact(&b)).unwrap();
        prop_assert_eq!(sum.to_string().parse::<Decimal>().unwrap(), x + y);
        prop_assume!(!y.is_zero());
        let quotient = exact(&a).over(exact(&b), 3).unwrap();
        // Its quotients have 28 digits and no more, so a half that it only comes near is left out.
        let wanted = x / y;
        let rest = (wanted * Decimal::new(1000, 0)).fract().abs() - Decimal::new(5, 1);
        prop_assume!(rest.is_zero() || rest.abs() > Decimal::new(1, 9));
        prop_assert_eq!(quotient.to_string().parse::<Decimal>().unwrap(), half_up(wanted, 3));
    }

    #[test]
    fn floats_are_taken_as_they_are_written(value in prop::num::f64::NORMAL, small in -1e7..1e7) {
        if let Some(found) = Exact::of(value) {
            prop_assert_eq!(found.to_f64(), value);
        }
        prop_assert_eq!(Exact::of(small).unwrap().to_f64(), small);
    }
}
