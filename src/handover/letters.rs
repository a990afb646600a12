//! Measuring and breaking text: advances, kerning, word wrap.
//!
//! Two faces come with the `epaint_default_fonts` crate: Ubuntu Light for text (Ubuntu Font
//! Licence 1.0) and Hack Regular (MIT and Bitstream Vera licences) for the few signs the first
//! lacks. Both allow bundling, and documents made with them carry no condition. Ubuntu Light's
//! figures all share one width, so a column of numbers set flush right lines up.
//!
//! Widths here are in ems: they hold at every size. Text is set left to right, one sign a
//! character; scripts that need shaping are outside what this does.

use super::kern::Kerning;
use ab_glyph::{Font as _, FontRef, GlyphId};
use std::sync::OnceLock;

/// Height above the baseline that text is given, in ems (the text face's ascenders).
pub const ASCENT: f64 = 0.776;
/// Depth below the baseline that text is given, in ems (the text face's descenders).
pub const DESCENT: f64 = 0.189;

/// The two faces.
#[derive(Debug)]
pub(super) struct Letters {
    faces: [FontRef<'static>; 2],
    kerning: Kerning,
}

/// A sign and where it stands on the line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Set {
    /// Which face.
    pub(super) face: usize,
    /// Which glyph of it.
    pub(super) glyph: GlyphId,
    /// Its origin, in ems from the line's start.
    pub(super) x: f64,
}

/// The faces, parsed once.
///
/// # Panics
/// Never in a build whose tests pass: the fonts are compiled in.
pub(super) fn letters() -> &'static Letters {
    static LETTERS: OnceLock<Letters> = OnceLock::new();
    LETTERS.get_or_init(|| {
        let face = |bytes| FontRef::try_from_slice(bytes).expect("the built-in font parses");
        Letters {
            faces: [
                face(epaint_default_fonts::UBUNTU_LIGHT),
                face(epaint_default_fonts::HACK_REGULAR),
            ],
            kerning: Kerning::of(epaint_default_fonts::UBUNTU_LIGHT),
        }
    })
}

impl Letters {
    pub(super) fn face(&self, index: usize) -> &FontRef<'static> {
        &self.faces[index]
    }

    /// Sets one line: its signs in order, and the width of the whole, in ems.
    pub(super) fn set(&self, line: &str, tracking: f64) -> (Vec<Set>, f64) {
        let mut signs: Vec<Set> = Vec::with_capacity(line.len());
        let mut x = 0.0;
        for c in line.chars() {
            let (face, glyph) = self.glyph(c);
            if let Some(last) = signs.last()
                && last.face == 0
                && face == 0
            {
                x += f64::from(self.kerning.pair(last.glyph.0, glyph.0)) / self.em(0);
            }
            if !signs.is_empty() {
                x += tracking;
            }
            signs.push(Set { face, glyph, x });
            x += f64::from(self.faces[face].h_advance_unscaled(glyph)) / self.em(face);
        }
        (signs, x)
    }

    fn em(&self, face: usize) -> f64 {
        f64::from(self.faces[face].units_per_em().unwrap_or(1000.0))
    }

    /// The face and glyph for a character: the text face, then the other, then the text face's own
    /// sign for "missing". Controls are set as a space.
    fn glyph(&self, c: char) -> (usize, GlyphId) {
        let c = if c.is_control() { ' ' } else { c };
        for (i, face) in self.faces.iter().enumerate() {
            let id = face.glyph_id(c);
            if id.0 != 0 {
                return (i, id);
            }
        }
        (0, GlyphId(0))
    }
}

/// Width of one line, in ems.
#[must_use]
pub fn width(line: &str, tracking: f64) -> f64 {
    letters().set(line, tracking).1
}

/// Breaks `text` into lines no wider than `limit` ems: at its own line ends, then between words,
/// and inside a word only where one alone is too wide. A no-break space does not break.
#[must_use]
pub fn wrap(text: &str, limit: f64, tracking: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.trim().split('\n') {
        let mut line = String::new();
        let mut filled = 0.0;
        for word in paragraph.split([' ', '\t', '\r']).filter(|w| !w.is_empty()) {
            if let Some(last) = line.chars().last() {
                // What the word adds: the pairs at the joint count too.
                let joined = filled + width(&format!("{last} {word}"), tracking)
                    - width(last.encode_utf8(&mut [0; 4]), tracking);
                if joined <= limit {
                    line.push(' ');
                    line.push_str(word);
                    filled = joined;
                    continue;
                }
                lines.push(std::mem::take(&mut line));
            }
            filled = width(word, tracking);
            if filled <= limit {
                line.push_str(word);
            } else {
                line = break_word(word, limit, tracking, &mut lines);
                filled = width(&line, tracking);
            }
        }
        lines.push(line);
    }
    lines
}

/// Cuts a word into full lines and gives back what is left over.
fn break_word(word: &str, limit: f64, tracking: f64, lines: &mut Vec<String>) -> String {
    let mut piece = String::new();
    for c in word.chars() {
        piece.push(c);
        if width(&piece, tracking) > limit && piece.chars().count() > 1 {
            piece.pop();
            lines.push(std::mem::replace(&mut piece, c.to_string()));
        }
    }
    piece
}

/// Keeps at most `most` lines; where some are dropped the last kept one ends in an ellipsis. For
/// texts that stand in full elsewhere.
#[must_use]
pub fn clip(mut lines: Vec<String>, most: usize, limit: f64, tracking: f64) -> Vec<String> {
    if lines.len() <= most {
        return lines;
    }
    lines.truncate(most);
    if let Some(last) = lines.last_mut() {
        while !last.is_empty() && width(&format!("{last}…"), tracking) > limit {
            last.pop();
        }
        *last = format!("{}…", last.trim_end_matches([' ', ',', '.', ';', ':']));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kerning_is_what_the_font_file_says() {
        // Sum of the kern feature's pair adjustments, read with fontTools 4 from the same file.
        for (pair, units) in KERN_FROM_FONTTOOLS {
            let mut chars = pair.chars();
            let l = letters();
            let (a, b) = (chars.next().unwrap(), chars.next().unwrap());
            let got = l.kerning.pair(l.glyph(a).1.0, l.glyph(b).1.0);
            assert!((got - units).abs() < 0.01, "{pair}: {got} for {units}");
        }
    }

    const KERN_FROM_FONTTOOLS: [(&str, f32); 10] = [
        ("AV", -50.0),
        ("To", -44.0),
        ("Wa", -18.0),
        ("Ty", -11.0),
        ("f/", -31.0),
        ("LT", -102.0),
        ("P.", -78.0),
        ("“A", -63.0),
        ("ve", 0.0),
        ("11", 0.0),
    ];

    #[test]
    fn figures_share_one_width() {
        let widths: Vec<f64> = "0123456789"
            .chars()
            .map(|c| width(&c.to_string(), 0.0))
            .collect();
        assert!(
            widths.iter().all(|w| (w - 0.564).abs() < 1e-6),
            "{widths:?}"
        );
    }

    #[test]
    fn lines_stay_within_the_limit_and_lose_no_letter() {
        let text = "Dark mist 1/2, the one that keeps its blacks under the quay’s sodium lamps";
        for limit in [3.0, 8.0, 21.0] {
            let lines = wrap(text, limit, 0.0);
            assert!(
                lines.iter().all(|l| width(l, 0.0) <= limit + 1e-9),
                "{limit}: {lines:?}"
            );
            let kept: String = lines.concat().split(' ').collect();
            assert_eq!(kept, text.replace(' ', ""), "every letter is there");
        }
        assert_eq!(
            wrap("a\n\nb", 9.0, 0.0),
            ["a", "", "b"],
            "line ends are kept"
        );
        assert_eq!(wrap("", 9.0, 0.0), [""], "nothing is one empty line");
    }

    #[test]
    fn clipping_says_so() {
        let lines = clip(wrap("one two three four five six", 5.0, 0.0), 2, 5.0, 0.0);
        assert_eq!(lines.len(), 2, "{lines:?}");
        assert!(
            lines[1].ends_with('…') && width(&lines[1], 0.0) <= 5.0,
            "{lines:?}"
        );
    }

    #[test]
    fn signs_the_text_face_lacks_come_from_the_other() {
        let l = letters();
        assert_eq!(l.glyph('a').0, 0, "a letter is the text face's");
        assert_eq!(l.glyph('→').0, 1, "an arrow is not in it");
        for c in "⅓⅔½⅛¼¾−×°µ–’…·".chars() {
            assert!(l.glyph(c).1.0 != 0, "{c} is drawn");
        }
    }
}
