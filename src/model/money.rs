//! Decimal numbers that lose nothing, and money in whole minor units.

use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

/// A decimal number, kept digit by digit: `digits` over ten to the power of `places`.
///
/// Money is multiplied in these and never in floats: 1.005 is a little less than 1.005 in binary, and 100 times that would
/// round to 100 in place of 101.
#[derive(Clone, Copy, Debug, Default)]
pub struct Exact {
    digits: i128,
    places: u32,
}

impl Exact {
    /// Nothing.
    pub const ZERO: Self = Self { digits: 0, places: 0 };
    /// More decimals are not kept: the powers of ten below them must fit into the digits.
    const MOST_PLACES: u32 = 30;

    /// `digits` over ten to the power of `places` (30 at most; more are taken as 30).
    #[must_use]
    pub const fn new(digits: i128, places: u32) -> Self {
        Self { digits, places: if places > Self::MOST_PLACES { Self::MOST_PLACES } else { places } }
    }

    /// The number that a text stands for: `12`, `-0.45`, `+3.5e2`. `None` if it is none, or has more digits than we keep.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (body, exponent) = match text.split_once(['e', 'E']) {
            Some((body, exponent)) => (body, exponent.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (sign, body) = match body.strip_prefix('-') {
            Some(rest) => (-1, rest),
            None => (1, body.strip_prefix('+').unwrap_or(body)),
        };
        let (whole, part) = body.split_once('.').unwrap_or((body, ""));
        if whole.is_empty() && part.is_empty() {
            return None;
        }
        let mut digits: i128 = 0;
        for c in whole.chars().chain(part.chars()) {
            digits = digits.checked_mul(10)?.checked_add(i128::from(c.to_digit(10)?))?;
        }
        let mut places = i64::try_from(part.len()).ok()? - i64::from(exponent);
        while digits != 0 && places > 0 && digits % 10 == 0 {
            (digits, places) = (digits / 10, places - 1);
        }
        if digits == 0 {
            return Some(Self::ZERO);
        }
        if places < 0 {
            digits = digits.checked_mul(power(u32::try_from(-places).ok()?)?)?;
            places = 0;
        }
        let places = u32::try_from(places).ok().filter(|&p| p <= Self::MOST_PLACES)?;
        Some(Self { digits: sign * digits, places })
    }

    /// The shortest decimal number that reads back as this float. `None` if it is not finite or out of range.
    #[must_use]
    pub fn of(value: f64) -> Option<Self> {
        if value.is_finite() { Self::parse(&format!("{value:e}")) } else { None }
    }

    /// True below zero.
    #[must_use]
    pub const fn is_negative(self) -> bool {
        self.digits < 0
    }

    /// True at zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.digits == 0
    }

    /// Decimals that are not zeros at the end.
    #[must_use]
    pub const fn decimals(self) -> u32 {
        self.trimmed().places
    }

    const fn trimmed(self) -> Self {
        let mut out = self;
        while out.places > 0 && out.digits % 10 == 0 {
            out.digits /= 10;
            out.places -= 1;
        }
        out
    }

    /// The other way round.
    #[must_use]
    pub const fn negated(self) -> Self {
        Self { digits: -self.digits, places: self.places }
    }

    /// The product. `None` if it has more digits than we keep.
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        let (a, b) = (self.trimmed(), other.trimmed());
        let places = a.places + b.places;
        if places > Self::MOST_PLACES {
            return None;
        }
        Some(Self { digits: a.digits.checked_mul(b.digits)?, places })
    }

    /// The sum. `None` if it has more digits than we keep.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        let places = self.places.max(other.places);
        let digits = self.at(places)?.checked_add(other.at(places)?)?;
        Some(Self { digits, places })
    }

    /// The quotient with so many decimals, halves away from zero. `None` for a divisor of zero, or more digits than we keep.
    #[must_use]
    pub fn over(self, other: Self, places: u32) -> Option<Self> {
        let (a, b) = (self.trimmed(), other.trimmed());
        // a / 10^p over b / 10^q, in units of 10^-places.
        let top = a.digits.checked_mul(power(places.checked_add(b.places)?)?)?;
        let below = b.digits.checked_mul(power(a.places)?)?;
        Some(Self { digits: divided(top, below)?, places })
    }

    /// The digits at so many decimals, which must be no fewer than there are.
    fn at(self, places: u32) -> Option<i128> {
        self.digits.checked_mul(power(places.checked_sub(self.places)?)?)
    }

    /// The number with exactly so many decimals, halves away from zero: what decimal arithmetic calls half up, so that a
    /// credit takes back exactly what a charge of the same figures took. `None` if it has more digits than we keep.
    #[must_use]
    pub fn rounded(self, places: u32) -> Option<Self> {
        let digits =
            if places >= self.places { self.at(places)? } else { divided(self.digits, power(self.places - places)?)? };
        Some(Self { digits, places })
    }

    /// Its value in units of ten to the power of minus `places`, halves away from zero.
    #[must_use]
    pub fn in_units(self, places: u32) -> Option<i128> {
        self.rounded(places).map(|r| r.digits)
    }

    /// The nearest float.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.to_string().parse().unwrap_or(f64::NAN)
    }
}

/// Ten to the power of `n`, if it fits.
const fn power(n: u32) -> Option<i128> {
    10_i128.checked_pow(n)
}

/// The quotient, halves away from zero.
fn divided(top: i128, below: i128) -> Option<i128> {
    let quotient = top.checked_div(below)?;
    let rest = top.checked_rem(below)?;
    let is_half = rest.unsigned_abs() >= below.unsigned_abs() - rest.unsigned_abs();
    let step = if (top < 0) == (below < 0) { 1 } else { -1 };
    if is_half { quotient.checked_add(step) } else { Some(quotient) }
}

impl PartialEq for Exact {
    fn eq(&self, other: &Self) -> bool {
        let (a, b) = (self.trimmed(), other.trimmed());
        (a.digits, a.places) == (b.digits, b.places)
    }
}

impl Eq for Exact {}

impl fmt::Display for Exact {
    /// All its decimals, zeros at the end included.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.digits < 0 { "-" } else { "" };
        let places = self.places as usize;
        let text = format!("{:0>width$}", self.digits.unsigned_abs(), width = places + 1);
        let (whole, part) = text.split_at(text.len() - places);
        if places == 0 { write!(f, "{sign}{whole}") } else { write!(f, "{sign}{whole}.{part}") }
    }
}

impl Serialize for Exact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.to_f64())
    }
}

impl JsonSchema for Exact {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Exact".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "description": "A decimal number.", "type": "number" })
    }
}

/// An amount of money.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// In the currency, as a decimal number.
    pub amount: f64,
    /// In its minor units, whole: what is added up.
    pub minor: i64,
}

impl Money {
    /// The largest amount, in minor units: up to here floats tell all whole numbers apart, so that `amount` says the same as
    /// `minor`.
    pub const MOST: i128 = 1 << 53;

    /// So many minor units of a currency with so many digits behind the point. `None` beyond [`Money::MOST`].
    #[must_use]
    pub fn of(minor: i128, digits: u32) -> Option<Self> {
        let whole = i64::try_from(minor).ok().filter(|_| minor.abs() <= Self::MOST)?;
        Some(Self { amount: Exact::new(minor, digits).to_f64(), minor: whole })
    }

    /// As people read it: `1234.50`.
    #[must_use]
    pub fn shown(self, digits: u32) -> String {
        Exact::new(i128::from(self.minor), digits).to_string()
    }
}
