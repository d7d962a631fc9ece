//! Days of the calendar. Only here does the program ask which day it is.

use std::time::{SystemTime, UNIX_EPOCH};

/// Today, as YYYY-MM-DD, by the clock's coordinated universal time.
pub(super) fn today() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (y, m, d) = civil((seconds / 86_400) as i64);
    format!("{y:04}-{m:02}-{d:02}")
}

/// A day as it is typed: YYYY-MM-DD, one that there is.
pub(super) fn day(text: &str) -> Result<String, String> {
    let fail = || format!("\"{text}\" is no day written as YYYY-MM-DD");
    let parts: Vec<&str> = text.split('-').collect();
    let &[y, m, d] = parts.as_slice() else { return Err(fail()) };
    let number = |s: &str, len: usize| -> Option<i64> {
        (s.len() == len && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse().ok())?
    };
    let (Some(y), Some(m), Some(d)) = (number(y, 4), number(m, 2), number(d, 2)) else { return Err(fail()) };
    // A day that there is comes back as itself.
    if (1..=12).contains(&m) && civil(days(y, m, d)) == (y, m, d) { Ok(text.to_owned()) } else { Err(fail()) }
}

/// Year, month and day of a number of days since 1970-01-01, in the Gregorian calendar (Howard Hinnant, "chrono-compatible
/// low-level date algorithms", `civil_from_days`: years begin in March, so that the leap day comes last).
fn civil(days: i64) -> (i64, i64, i64) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let month = if mp < 10 { mp + 3 } else { mp - 9 };
    (yoe + era * 400 + i64::from(month <= 2), month, doy - (153 * mp + 2) / 5 + 1)
}

/// The other way round (`days_from_civil` in the same place).
fn days(year: i64, month: i64, day: i64) -> i64 {
    let y = year - i64::from(month <= 2);
    let era = y.div_euclid(400);
    let yoe = y.rem_euclid(400);
    let doy = (153 * (if month > 2 { month - 3 } else { month + 9 }) + 2) / 5 + day - 1;
    era * 146_097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719_468
}

#[cfg(test)]
mod tests {
    use super::{civil, day, days};

    #[test]
    fn days_and_dates_agree() {
        assert_eq!(civil(0), (1970, 1, 1));
        assert_eq!(civil(19_782), (2024, 2, 29));
        assert_eq!(days(2026, 11, 26), 20_783);
        for n in -200_000..200_000 {
            let (y, m, d) = civil(n);
            assert_eq!(days(y, m, d), n);
        }
    }

    #[test]
    fn only_days_that_there_are() {
        assert!(day("2028-02-29").is_ok());
        for wrong in ["2027-02-29", "2026-13-01", "2026-00-10", "2026-1-1", "26-01-01", "2026-01-01 ", "2026-01-32", ""]
        {
            assert!(day(wrong).is_err(), "{wrong}");
        }
    }
}
