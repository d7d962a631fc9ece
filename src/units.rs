//! Lengths as people write and read them. Inside, a length is millimetres in `f64`.

use std::fmt;

/// Millimetres in an inch: exact by the international yard and pound agreement of 1959.
pub const MM_PER_INCH: f64 = 25.4;

/// Kilograms in an avoirdupois pound: exact by the same agreement.
pub const KG_PER_POUND: f64 = 0.453_592_37;

/// A unit of length that input files may use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Metre.
    M,
    /// International inch.
    In,
    /// International foot.
    Ft,
}

impl Unit {
    /// Names as written in files, with what each means.
    pub const NAMES: [(&'static str, Self); 5] =
        [("mm", Self::Mm), ("cm", Self::Cm), ("m", Self::M), ("in", Self::In), ("ft", Self::Ft)];

    /// Millimetres in one of it.
    #[must_use]
    pub const fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::M => 1000.0,
            Self::In => MM_PER_INCH,
            Self::Ft => 12.0 * MM_PER_INCH,
        }
    }

    /// The unit of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(n, _)| *n == name).map(|&(_, u)| u)
    }

    /// Its name as written in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::M => "m",
            Self::In => "in",
            Self::Ft => "ft",
        }
    }
}

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// Nothing there.
    #[error("empty text")]
    Empty,
    /// No unit behind the number.
    #[error("no unit behind the number")]
    NoUnit,
    /// A word that is no unit.
    #[error("\"{0}\" is no unit of length")]
    BadUnit(String),
    /// Something that is no number.
    #[error("\"{0}\" is not a number")]
    BadNumber(String),
    /// A fraction that is not in sixty-fourths or coarser, or not below one.
    #[error("\"{0}\" is not a fraction below one with a denominator of 2, 4, 8, 16, 32 or 64")]
    BadFraction(String),
    /// Feet after inches, or a unit twice.
    #[error("units out of order: feet come before inches, and each only once")]
    Order,
}

/// Millimetres of a text such as `648 mm`, `64.8 cm`, `25 1/2 in`, `25-1/2"`, `2 ft 1 1/2 in`, `2' 1 1/2"`.
///
/// A leading minus sign turns the whole length round. Fractions go down to 1/64.
///
/// # Errors
/// [`LengthError`] says what part is not understood.
pub fn parse_length(text: &str) -> Result<f64, LengthError> {
    let text = text.trim();
    let (sign, body) = text.strip_prefix('-').map_or((1.0, text), |b| (-1.0, b.trim_start()));
    if body.is_empty() {
        return Err(LengthError::Empty);
    }
    let mut total = 0.0;
    let mut number: Option<f64> = None; // the whole part read so far
    let mut fraction: Option<f64> = None;
    let mut last: Option<Unit> = None;
    for token in tokens(body) {
        if let Some((p, q)) = token.split_once('/') {
            if fraction.is_some() {
                return Err(LengthError::BadNumber(token));
            }
            fraction = Some(parse_fraction(&token, p, q)?);
        } else if token.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
            if number.is_some() || fraction.is_some() {
                return Err(LengthError::BadNumber(token));
            }
            number = Some(plain_number(&token)?);
        } else {
            let unit = match token.as_str() {
                "\"" | "″" | "”" | "inch" | "inches" | "''" => Unit::In,
                "'" | "′" | "’" | "foot" | "feet" => Unit::Ft,
                name => Unit::from_name(name).ok_or_else(|| LengthError::BadUnit(token.clone()))?,
            };
            if number.is_none() && fraction.is_none() {
                return Err(LengthError::BadNumber(token));
            }
            match (last, unit) {
                (None, _) | (Some(Unit::Ft), Unit::In) => {}
                _ => return Err(LengthError::Order),
            }
            if fraction.is_some() && number.is_some_and(|n: f64| n.fract() != 0.0) {
                return Err(LengthError::BadNumber(body.to_owned()));
            }
            // Sixty-fourths are exact in binary, so the sum before the product loses nothing.
            total += (number.unwrap_or(0.0) + fraction.unwrap_or(0.0)) * unit.mm();
            (number, fraction, last) = (None, None, Some(unit));
        }
    }
    if number.is_some() || fraction.is_some() {
        return Err(LengthError::NoUnit);
    }
    Ok(sign * total)
}

/// Splits into numbers, fractions and unit words; a hyphen between a whole number and a fraction is a space.
fn tokens(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let kind = |c: char| match c {
        '0'..='9' | '.' | '/' => 1,
        'a'..='z' | 'A'..='Z' => 2,
        _ => 3,
    };
    let mut previous = 0;
    for c in text.chars() {
        if c.is_whitespace() {
            previous = 0;
            continue;
        }
        if c == '-' && previous == 1 {
            previous = 0;
            continue;
        }
        let k = kind(c);
        match out.last_mut() {
            Some(t) if k == previous && (k != 3 || c == '\'') => t.push(c),
            _ => out.push(c.to_string()),
        }
        previous = k;
    }
    out
}

fn plain_number(token: &str) -> Result<f64, LengthError> {
    let bad = || LengthError::BadNumber(token.to_owned());
    if token.matches('.').count() > 1 || token == "." {
        return Err(bad());
    }
    token.parse().map_err(|_| bad())
}

fn parse_fraction(token: &str, p: &str, q: &str) -> Result<f64, LengthError> {
    let bad = || LengthError::BadFraction(token.to_owned());
    let p: u32 = p.parse().map_err(|_| bad())?;
    let q: u32 = q.parse().map_err(|_| bad())?;
    if !matches!(q, 2 | 4 | 8 | 16 | 32 | 64) || p >= q {
        return Err(bad());
    }
    Ok(f64::from(p) / f64::from(q))
}

/// The units in which numbers are shown to people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shown {
    /// Millimetres, m².
    #[default]
    Mm,
    /// Inches, square feet: to the nearest 1/16 in tables and drawings, decimal in sentences.
    In,
}

/// Tables and drawings give inches as a tape has them, to the nearest 1/16: `length`, `bare_length`, `area`. Sentences give
/// them as decimals, because what was found and what is needed often differ by less than 1/16: `said` and its like.
impl Shown {
    /// The units for people who write lengths in a unit.
    #[must_use]
    pub const fn of(unit: Unit) -> Self {
        match unit {
            Unit::In | Unit::Ft => Self::In,
            Unit::Mm | Unit::Cm | Unit::M => Self::Mm,
        }
    }

    /// The word for the unit of lengths.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::In => "in",
        }
    }

    /// Millimetres as a number of its unit.
    #[must_use]
    pub const fn of_mm(self, mm: f64) -> f64 {
        match self {
            Self::Mm => mm,
            Self::In => mm / MM_PER_INCH,
        }
    }

    /// How many more decimals a number of its unit needs than millimetres: 0.001 in is finer than 0.1 mm.
    #[must_use]
    pub const fn more_decimals(self) -> usize {
        match self {
            Self::Mm => 0,
            Self::In => 2,
        }
    }

    /// A length in a sentence: `12.3 mm`, `0.484 in`.
    #[must_use]
    pub fn said(self, mm: f64) -> String {
        self.said_to(mm, 1)
    }

    /// A length in a sentence, without its unit.
    #[must_use]
    pub fn said_bare(self, mm: f64) -> String {
        self.number(mm, 1)
    }

    /// A length in a sentence with so many decimals of a millimetre at most, and [`Self::more_decimals`] of an inch.
    #[must_use]
    pub fn said_to(self, mm: f64, decimals: usize) -> String {
        format!("{} {}", self.number(mm, decimals), self.unit())
    }

    /// A size that a shop has chosen, in a sentence and to 0.001: inches as a tape has them if they are whole sixteenths, else
    /// as decimals: `5 mm`, `3.175 mm`, `1/8 in`, `0.197 in`.
    #[must_use]
    pub fn said_size(self, mm: f64) -> String {
        let parts = mm / MM_PER_INCH * 16.0;
        match self {
            Self::Mm => self.said_to(mm, 3),
            Self::In if (parts - parts.round()).abs() < 1e-6 => self.length(mm),
            Self::In => self.said(mm),
        }
    }

    /// A place in a sentence: `(1240, 300)` in whole millimetres, `(48.82, 11.81)` in inches.
    #[must_use]
    pub fn said_place(self, x: f64, y: f64) -> String {
        let least = match self {
            Self::Mm => 1.0,
            Self::In => MM_PER_INCH / 100.0,
        };
        let along = |mm: f64| self.number((mm / least).round() * least, 0);
        format!("({}, {})", along(x), along(y))
    }

    /// An area in a sentence: `1.64 m²`, `17.7 ft²`.
    #[must_use]
    pub fn said_area(self, mm2: f64) -> String {
        match self {
            Self::Mm => format!("{:.2} m²", mm2 / 1e6),
            Self::In => format!("{:.1} ft²", square_feet(mm2)),
        }
    }

    fn number(self, mm: f64, decimals: usize) -> String {
        Decimal(self.of_mm(mm), decimals + self.more_decimals()).to_string()
    }

    /// A mass: `81.4 kg`, `81.4 kg (179 lb)`.
    #[must_use]
    pub fn mass(self, kg: f64) -> String {
        format!("{} kg{}", Decimal(kg, 1), self.pounds(kg))
    }

    /// What to add behind kilograms: nothing, or ` (179 lb)`.
    #[must_use]
    pub fn pounds(self, kg: f64) -> String {
        match self {
            Self::Mm => String::new(),
            Self::In => format!(" ({:.0} lb)", kg / KG_PER_POUND),
        }
    }

    /// What to add behind grams: nothing, or ` (3.4 oz)`.
    #[must_use]
    pub fn ounces(self, grams: f64) -> String {
        match self {
            Self::Mm => String::new(),
            Self::In => format!(" ({} oz)", Decimal(grams / 1000.0 / KG_PER_POUND * 16.0, 2)),
        }
    }

    /// A length with its unit: `648 mm`, `25 1/2 in`. Millimetres get one decimal only where it is not zero.
    #[must_use]
    pub fn length(self, mm: f64) -> String {
        match self {
            Self::Mm => format!("{} mm", Decimal(mm, 1)),
            Self::In => format!("{} in", sixteenths(mm)),
        }
    }

    /// A length without its unit, as on a drawing whose title names the unit.
    #[must_use]
    pub fn bare_length(self, mm: f64) -> String {
        match self {
            Self::Mm => Decimal(mm, 1).to_string(),
            Self::In => sixteenths(mm),
        }
    }

    /// An area with its unit: `1.643 m²`, `17.68 ft²`.
    #[must_use]
    pub fn area(self, mm2: f64) -> String {
        match self {
            Self::Mm => format!("{:.3} m²", mm2 / 1e6),
            Self::In => format!("{:.2} ft²", square_feet(mm2)),
        }
    }
}

fn square_feet(mm2: f64) -> f64 {
    mm2 / (144.0 * MM_PER_INCH * MM_PER_INCH)
}

/// A number with at most the given decimals, trailing zeros dropped, and no minus zero.
#[derive(Clone, Copy, Debug)]
pub struct Decimal(pub f64, pub usize);

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let s = format!("{:.*}", self.1, self.0);
        let s = if s.contains('.') { s.trim_end_matches('0').trim_end_matches('.') } else { s.as_str() };
        f.write_str(if s == "-0" { "0" } else { s })
    }
}

/// Inches as a whole number and a reduced fraction: to the nearest sixteenth, but thirty-seconds and sixty-fourths that somebody has given
/// are shown as given.
fn sixteenths(mm: f64) -> String {
    /// Parts of a sixty-fourth: what is off by less was given so. What was worked out is hardly ever so near to one.
    const GIVEN: f64 = 1e-5;
    if !mm.is_finite() {
        return mm.to_string();
    }
    let exact = mm.abs() / MM_PER_INCH * 64.0;
    let given = (exact - exact.round()).abs() < GIVEN;
    let n = if given { exact.round() } else { (exact / 4.0).round() * 4.0 };
    let sign = if mm < 0.0 && n > 0.0 { "-" } else { "" };
    let whole = (n / 64.0).floor();
    let rest = (n - whole * 64.0) as u32;
    if rest == 0 {
        return format!("{sign}{whole:.0}");
    }
    let k = rest.trailing_zeros();
    let (p, q) = (rest >> k, 64u32 >> k);
    if whole > 0.0 { format!("{sign}{whole:.0} {p}/{q}") } else { format!("{sign}{p}/{q}") }
}
