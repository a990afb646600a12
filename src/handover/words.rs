//! Stops and f-numbers in the words the trade uses. Pure functions, for every face of the program.
//!
//! Sources: the third-stop marks are the customary rounded series on lenses and meters (the exact
//! series is N = 2^(k/6); ISO 517 gives the full stops; the rounding of the thirds is common
//! practice, no source). Loss words in thirds and halves are common practice.
//!
//! ```
//! use foreglass::handover::words;
//! assert_eq!(words::stops(1.32), "1⅓ stops");
//! assert_eq!(words::stops(0.12), "0.12 stop");
//! assert_eq!(words::f_stop(3.17), "f/3.2");
//! assert_eq!(words::on_barrel(3.17), "2.8 and ⅓");
//! ```

/// What stands where there is no number.
pub const NO_NUMBER: &str = "–";

/// How far a value may lie from a third or a half and still be called by it, in stops.
const NEAR: f64 = 0.04;

/// The marks of the third-stop scale, N = 2^(k/6) for k = `FIRST_MARK`, `FIRST_MARK` + 1, …
const MARKS: [&str; 43] = [
    "0.5", "0.56", "0.63", "0.7", "0.8", "0.9", "1", "1.1", "1.2", "1.4", "1.6", "1.8", "2", "2.2",
    "2.5", "2.8", "3.2", "3.5", "4", "4.5", "5", "5.6", "6.3", "7.1", "8", "9", "10", "11", "13",
    "14", "16", "18", "20", "22", "25", "28", "32", "36", "40", "45", "51", "57", "64",
];
const FIRST_MARK: i32 = -6;

/// A number of stops in words: in thirds or halves where the value is within 0.04 stop of one, in
/// hundredths otherwise. A negative value carries a true minus sign.
#[must_use]
pub fn stops(value: f64) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
    let size = value.abs();
    let sign = if value < 0.0 && size >= 0.005 {
        "−"
    } else {
        ""
    };
    let number = parts(size).unwrap_or_else(|| format!("{size:.2}"));
    let unit = if size < 1.005 || number == "1" {
        "stop"
    } else {
        "stops"
    };
    format!("{sign}{number} {unit}")
}

/// A number of stops as figures only, to the hundredth, with a true minus sign: for columns.
#[must_use]
pub fn hundredths(value: f64) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
    let sign = if value <= -0.005 { "−" } else { "" };
    format!("{sign}{:.2}", value.abs())
}

/// `size` in whole stops, thirds and halves, where it is near enough to one and not near nothing.
fn parts(size: f64) -> Option<String> {
    let whole = size.floor();
    let rest = size - whole;
    let named = [
        (0.0, ""),
        (1.0 / 3.0, "⅓"),
        (0.5, "½"),
        (2.0 / 3.0, "⅔"),
        (1.0, ""),
    ];
    let (at, mark) = named
        .into_iter()
        .find(|(at, _)| (rest - at).abs() <= NEAR)?;
    let whole = if at > 0.9 { whole + 1.0 } else { whole };
    if whole < 0.5 {
        return if mark.is_empty() {
            (size < 0.005).then(|| "0".to_owned())
        } else {
            Some(mark.to_owned())
        };
    }
    Some(format!("{whole:.0}{mark}"))
}

/// The index k of the third-stop mark nearest to `n` on N = 2^(k/6), if `n` is a stop at all.
fn third(n: f64) -> Option<i32> {
    (n.is_finite() && n > 0.0).then(|| {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "log2 of a finite f64 is within ±1100"
        )]
        let k = (6.0 * n.log2()).round() as i32;
        k
    })
}

/// The nearest mark of the third-stop scale, without a letter: "3.2". Beyond f/0.5 to f/64, the
/// number itself to two figures.
#[must_use]
pub fn mark(n: f64) -> String {
    let Some(k) = third(n) else {
        return NO_NUMBER.to_owned();
    };
    usize::try_from(k - FIRST_MARK)
        .ok()
        .and_then(|i| MARKS.get(i))
        .map_or_else(|| exact(n), |m| (*m).to_owned())
}

/// The nearest third-stop mark of a geometric stop: "f/3.2".
#[must_use]
pub fn f_stop(n: f64) -> String {
    format!("f/{}", mark(n))
}

/// The nearest third-stop mark of a photometric stop: "T3.2".
#[must_use]
pub fn t_stop(n: f64) -> String {
    format!("T{}", mark(n))
}

/// A stop as an engraved barrel shows it, in full stops and thirds closed from there:
/// "2.8 and ⅓"; a full stop stands alone.
#[must_use]
pub fn on_barrel(n: f64) -> String {
    let Some(k) = third(n) else {
        return NO_NUMBER.to_owned();
    };
    // One stop is three thirds, so k counts in threes from f/1.
    let full = mark((f64::from(k.div_euclid(3) * 3) / 6.0).exp2());
    match k.rem_euclid(3) {
        1 => format!("{full} and ⅓"),
        2 => format!("{full} and ⅔"),
        _ => full,
    }
}

/// A stop unrounded, as far as figures help: two decimals below 10, one from there.
#[must_use]
pub fn exact(n: f64) -> String {
    if !n.is_finite() {
        return NO_NUMBER.to_owned();
    }
    if n.abs() < 9.995 {
        format!("{n:.2}")
    } else {
        format!("{n:.1}")
    }
}

/// A phrase with a capital at its start.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_are_called_by_thirds_only_where_they_are_thirds() {
        // Common practice, no source.
        for (value, words) in [
            (0.0, "0 stop"),
            (0.12, "0.12 stop"),
            (0.333, "⅓ stop"),
            (0.42, "0.42 stop"),
            (0.46, "½ stop"),
            (0.66, "⅔ stop"),
            (0.98, "1 stop"),
            (1.0, "1 stop"),
            (1.32, "1⅓ stops"),
            (1.5, "1½ stops"),
            (1.99, "2 stops"),
            (-0.33, "−⅓ stop"),
            (-0.001, "0 stop"),
            (6.97, "7 stops"),
            (f64::NAN, NO_NUMBER),
        ] {
            assert_eq!(stops(value), words, "{value}");
        }
    }

    #[test]
    fn the_marks_are_the_customary_ones() {
        // The exact thirds of the series and the marks engraved for them (common practice).
        let series = [
            (1.0, "1"),
            (1.4, "1.4"),
            (1.5874, "1.6"),
            (1.7818, "1.8"),
            (2.8284, "2.8"),
            (3.1748, "3.2"),
            (3.5636, "3.5"),
            (5.6569, "5.6"),
            (11.3137, "11"),
            (12.6992, "13"),
            (22.6274, "22"),
            (64.0, "64"),
        ];
        for (n, m) in series {
            assert_eq!(mark(n), m, "exact third {n}");
        }
        assert_eq!(mark(0.25), "0.25", "off the scale, the number itself");
        assert_eq!(mark(90.5), "90.5", "off the scale, the number itself");
        assert_eq!(mark(-1.0), NO_NUMBER, "no stop");
        // Every mark names its own place on the scale.
        for (i, m) in MARKS.iter().enumerate() {
            assert_eq!(mark(m.parse().unwrap()), *m, "mark {i}");
        }
    }

    #[test]
    fn the_barrel_reads_full_stops_and_thirds() {
        assert_eq!(on_barrel(4.0), "4", "a full stop stands alone");
        assert_eq!(on_barrel(3.56), "2.8 and ⅔", "two thirds closed from 2.8");
        assert_eq!(
            on_barrel(0.9),
            "0.7 and ⅔",
            "below one the thirds still close"
        );
    }
}
