//! Today's date as a sheet bears it.

use std::time::{SystemTime, UNIX_EPOCH};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Today in UTC, e.g. "9 March 2026".
#[must_use]
pub fn today() -> String {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    words(since.as_secs() / 86_400)
}

/// Day, month and year of a day counted from 1 January 1970, in the Gregorian calendar: whole years
/// and months are walked off, which for a date of our time is a few dozen steps.
fn words(days: u64) -> String {
    let leap = |y: u64| y.is_multiple_of(4) && (!y.is_multiple_of(100) || y.is_multiple_of(400));
    let (mut left, mut year) = (days, 1970);
    while left >= 365 + u64::from(leap(year)) {
        left -= 365 + u64::from(leap(year));
        year += 1;
    }
    let lengths = [
        31,
        28 + u64::from(leap(year)),
        31,
        30,
        31,
        30,
        31,
        31,
        30,
        31,
        30,
        31,
    ];
    let mut month = 0;
    while left >= lengths[month] {
        left -= lengths[month];
        month += 1;
    }
    format!("{} {} {year}", left + 1, MONTHS[month])
}

#[cfg(test)]
mod tests {
    /// Days worked with the standard calendar of Python's datetime.
    #[test]
    fn days_have_their_dates() {
        for (days, date) in [
            (0, "1 January 1970"),
            (11_016, "29 February 2000"),
            (20_782, "25 November 2026"),
            (47_540, "28 February 2100"),
            (47_541, "1 March 2100"),
        ] {
            assert_eq!(super::words(days), date, "day {days}");
        }
    }
}
