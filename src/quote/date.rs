//! Days of the calendar, for how long a quote holds. Knows no clock: the day is given.

use std::fmt;

/// A day of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day {
    year: i64,
    month: i64,
    day: i64,
}

impl Day {
    /// The day that a text names, `YYYY-MM-DD`, from 1900 to 9999. `None` if there is no such day.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.split('-').collect();
        let [year, month, day] = parts[..] else { return None };
        let number = |s: &str, digits: usize| {
            let plain = s.len() == digits && s.bytes().all(|b| b.is_ascii_digit());
            if plain { s.parse::<i64>().ok() } else { None }
        };
        let found = Self { year: number(year, 4)?, month: number(month, 2)?, day: number(day, 2)? };
        // Only what comes back the same from its number of days is a day.
        (found.year >= 1900 && Self::from_number(found.number()) == found).then_some(found)
    }

    /// So many days later; `None` after the year 9999.
    #[must_use]
    pub fn after(self, days: u32) -> Option<Self> {
        Some(Self::from_number(self.number() + i64::from(days))).filter(|d| d.year <= 9999)
    }

    /// Days since 1 March of the year 0: 365 a year, a leap day every fourth year but not every hundredth unless the four
    /// hundredth; the year starts in March so that the leap day is its last. Months alternate by `(153 m + 2) / 5`.
    const fn number(self) -> i64 {
        let (year, month) = if self.month > 2 { (self.year, self.month - 3) } else { (self.year - 1, self.month + 9) };
        year * 365 + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + self.day - 1
    }

    const fn from_number(number: i64) -> Self {
        /// Days in 400, 100 and 4 years.
        const LONG: i64 = 146_097;
        let era = number / LONG;
        let in_era = number % LONG;
        let year = (in_era - in_era / 1460 + in_era / 36_524 - in_era / 146_096) / 365;
        let in_year = in_era - (365 * year + year / 4 - year / 100);
        let month = (5 * in_year + 2) / 153;
        let day = in_year - (153 * month + 2) / 5 + 1;
        let (shift, month) = if month < 10 { (0, month + 3) } else { (1, month - 9) };
        Self { year: era * 400 + year + shift, month, day }
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_run_on_over_months_years_and_leap_days() {
        let after = |text: &str, days| Day::parse(text).and_then(|d| d.after(days)).map(|d| d.to_string());
        let cases = [
            ("2026-11-26", 30, "2026-12-26"),
            ("2026-12-26", 30, "2027-01-25"),
            ("2028-02-15", 30, "2028-03-16"),
            ("2027-02-15", 30, "2027-03-17"),
            ("2100-02-28", 1, "2100-03-01"),
            ("2000-02-28", 1, "2000-02-29"),
            ("2026-01-01", 365, "2027-01-01"),
        ];
        for (from, days, to) in cases {
            assert_eq!(after(from, days).as_deref(), Some(to), "{from} + {days}");
        }
        // Every day follows the one before it.
        let mut day = Day::parse("1900-01-01").unwrap();
        for _ in 0..200_000 {
            let next = day.after(1).unwrap();
            let same_month = (next.year, next.month, next.day) == (day.year, day.month, day.day + 1);
            let new_month = next.day == 1 && day.day >= 28 && next.month == day.month % 12 + 1;
            assert!(same_month || new_month, "{day} {next}");
            assert_eq!(Day::parse(&next.to_string()), Some(next));
            day = next;
        }
    }

    #[test]
    fn what_is_no_day_is_none() {
        for text in
            ["", "2026", "2026-13-01", "2027-02-29", "2026-00-10", "2026-04-31", "26-04-01", "2026-4-1", "+026-04-01"]
        {
            assert_eq!(Day::parse(text), None, "{text}");
        }
        assert_eq!(Day::parse("9999-12-31").and_then(|d| d.after(1)), None);
    }
}
