//! Turning a plane upright. Source: EXIF 2.32, tag 274 (Orientation), values 1 to 8.

use rayon::prelude::*;

/// How a stored picture is turned or mirrored to stand upright; 1 is as stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Orientation(u8);

impl Orientation {
    pub(super) const UPRIGHT: Self = Self(1);

    /// From the tag's value; anything outside 1 to 8 is taken as upright.
    pub(super) fn from_tag(value: u32) -> Self {
        u8::try_from(value)
            .ok()
            .filter(|v| (1..=8).contains(v))
            .map_or(Self::UPRIGHT, Self)
    }

    /// From an EXIF block, which starts with its TIFF header.
    pub(super) fn from_exif(block: &[u8]) -> Self {
        image::metadata::Orientation::from_exif_chunk(block)
            .map_or(Self::UPRIGHT, |o| Self(o.to_exif()))
    }

    pub(super) const fn is_upright(self) -> bool {
        self.0 == 1
    }

    /// Whether width and height change places.
    pub(super) const fn transposes(self) -> bool {
        self.0 >= 5
    }

    /// The upright plane of a stored plane of `width × height` samples.
    pub(super) fn apply<T: Copy + Default + Send + Sync>(
        self,
        plane: &[T],
        width: usize,
        height: usize,
    ) -> Vec<T> {
        let (out_w, out_h) = if self.transposes() {
            (height, width)
        } else {
            (width, height)
        };
        // Of the upright picture's (x, y), the stored (x, y).
        let stored = |x: usize, y: usize| match self.0 {
            2 => (width - 1 - x, y),
            3 => (width - 1 - x, height - 1 - y),
            4 => (x, height - 1 - y),
            5 => (y, x),
            6 => (y, height - 1 - x),
            7 => (width - 1 - y, height - 1 - x),
            8 => (width - 1 - y, x),
            _ => (x, y),
        };
        // Sixteen rows at a time: where the picture is transposed, those are sixteen neighbours of
        // one stored row, one cache line.
        const ROWS: usize = 16;
        let mut out = vec![T::default(); out_w * out_h];
        out.par_chunks_mut(ROWS * out_w)
            .enumerate()
            .for_each(|(band, rows)| {
                let count = rows.len() / out_w;
                for x in 0..out_w {
                    for row in 0..count {
                        let (sx, sy) = stored(x, band * ROWS + row);
                        rows[row * out_w + x] = plane[sy * width + sx];
                    }
                }
            });
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_ways_of_a_two_by_three() {
        // The letter F's corner test: stored rows "ab", "cd", "ef". Expected from the tag's table:
        // the value names which edges of the stored picture are the upright top and left.
        let plane: Vec<f32> = (0..6_u8).map(f32::from).collect();
        let turned = |v| Orientation::from_tag(v).apply(&plane, 2, 3);
        let want = |s: &str| s.bytes().map(|b| f32::from(b - b'a')).collect::<Vec<f32>>();
        for (value, upright) in [
            (1, "abcdef"),
            (2, "badcfe"),
            (3, "fedcba"),
            (4, "efcdab"),
            (5, "acebdf"),
            (6, "ecafdb"),
            (7, "fdbeca"),
            (8, "bdface"),
        ] {
            assert_eq!(turned(value), want(upright), "orientation {value}");
        }
    }
}
