//! Damaged LUTs: each is a LUT or a sentence of one line, never a panic, and never endless work.

use super::text;
use foreglass::frame::Lut;
use proptest::prelude::*;

/// One of each kind of node, and of plain text.
const SEEDS: [&str; 10] = [
    "cube.cube",
    "line_cube.cube",
    "cube_domain.cube",
    "camera.clf",
    "cube_tetrahedral.clf",
    "matrix_depths.clf",
    "camera_lin_slope.clf",
    "bend_channels.clf",
    "old_index.clf",
    "cdl_Rev.clf",
];

/// A LUT or one line; and whatever goes through a LUT comes back, whatever it is.
fn judge(text: &str) {
    match Lut::parse(text) {
        Ok(lut) => {
            for v in [
                0.0,
                -1.0,
                1e9,
                -1e9,
                0.5,
                f32::NAN,
                f32::INFINITY,
                f32::NEG_INFINITY,
            ] {
                std::hint::black_box(lut.apply([v, 0.3, -v]));
            }
        }
        Err(e) => {
            let said = e.to_string();
            assert!(!said.contains('\n') && said.len() < 600, "one line: {said}");
        }
    }
}

/// Pieces that a damaged file may hold where something else belongs.
const PIECES: [&str; 18] = [
    "0",
    "-1",
    "1e38",
    "-1e38",
    "1e-45",
    "nan",
    "inf",
    "99999999999999999999",
    "\"",
    "<",
    ">",
    "&lt;",
    "\u{0}",
    "é",
    "\n",
    "32f",
    "8i",
    " ",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn a_damaged_lut_is_a_lut_or_a_sentence(
        seed in 0..SEEDS.len(),
        cuts in prop::collection::vec((0.0..1.0_f64, 0..30_usize, 0..PIECES.len()), 1..6),
    ) {
        let mut bytes = text(SEEDS[seed]).into_bytes();
        for (at, length, piece) in cuts {
            let at = (at * bytes.len() as f64) as usize;
            let end = (at + length).min(bytes.len());
            bytes.splice(at..end, PIECES[piece].bytes());
        }
        judge(&String::from_utf8_lossy(&bytes));
    }

    /// One word of a file in the place of another.
    #[test]
    fn words_that_change_places(seed in 0..SEEDS.len(), from in any::<u32>(), to in any::<u32>()) {
        let text = text(SEEDS[seed]);
        let mut words: Vec<&str> = text.split_inclusive([' ', '\n', '"', '>']).collect();
        let (from, to) = (from as usize % words.len(), to as usize % words.len());
        words.swap(from, to);
        judge(&words.concat());
    }
}

#[test]
fn a_lut_that_is_cut_short() {
    for name in SEEDS {
        let text = text(name);
        for end in (0..text.len())
            .step_by(7)
            .filter(|i| text.is_char_boundary(*i))
        {
            judge(&text[..end]);
        }
    }
}
