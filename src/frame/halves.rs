//! A frame ever half as wide, some rows at a time: what a smaller size on the screen is coded from, without a frame of
//! its own for each size on the way. Finite light to the bit as [`super::to_width`] halves it.

use super::Frame;
use super::resize::{Coverage, height_for};
use std::ops::Range;

/// Most pixels, either way, that a pixel of half the width lies over.
const TAPS: usize = 4;

/// From one size to the next.
struct Step {
    /// Pixels across before and after.
    from: usize,
    width: usize,
    /// For each pixel across: the first under it, and their shares, nothing for those beside it.
    across: Vec<(usize, [f32; TAPS])>,
    down: Coverage,
}

/// A frame and the way to the size that is wanted.
pub(super) struct Halves<'a> {
    frame: &'a Frame,
    steps: Vec<Step>,
    size: [usize; 2],
}

/// Rows of each size on the way.
pub(super) struct Room(Vec<Rows>);

#[derive(Default)]
struct Rows {
    planes: [Vec<f32>; 3],
    sum: Vec<f32>,
}

impl<'a> Halves<'a> {
    /// The frame halved so many times, no further than to one pixel across.
    pub(super) fn new(frame: &'a Frame, times: usize) -> Self {
        let mut size = [frame.width(), frame.height()];
        let mut steps = Vec::with_capacity(times);
        for _ in 0..times {
            let [w, h] = size;
            if w < 2 {
                break;
            }
            let (width, height) = (w / 2, height_for((w, h), w / 2));
            let (across, down) = (Coverage::new(w, width), Coverage::new(h, height));
            let shares = |x: usize| {
                let (first, weights) = across.of(x);
                let mut shares = [0.0; TAPS];
                for (share, weight) in shares.iter_mut().zip(weights) {
                    *share = *weight;
                }
                (first, shares)
            };
            steps.push(Step {
                from: w,
                width,
                across: (0..width).map(shares).collect(),
                down,
            });
            size = [width, height];
        }
        Self { frame, steps, size }
    }

    /// Pixels across and down.
    pub(super) const fn size(&self) -> [usize; 2] {
        self.size
    }

    /// Room for [`Halves::rows`].
    pub(super) fn room(&self) -> Room {
        Room(self.steps.iter().map(|_| Rows::default()).collect())
    }

    /// Some rows of red, green and blue; at least one.
    pub(super) fn rows<'b>(&'b self, rows: Range<usize>, room: &'b mut Room) -> [&'b [f32]; 3] {
        fill(self.frame, &self.steps, rows.clone(), &mut room.0);
        match room.0.last() {
            Some(last) => last.planes.each_ref().map(Vec::as_slice),
            None => {
                let part = rows.start * self.size[0]..rows.end * self.size[0];
                self.frame.planes().each_ref().map(|p| &p[part.clone()])
            }
        }
    }
}

/// Rows after the last of some steps, and of all before it what they lie over.
fn fill(frame: &Frame, steps: &[Step], rows: Range<usize>, rooms: &mut [Rows]) {
    let (Some((step, before)), Some((out, rooms))) = (steps.split_last(), rooms.split_last_mut())
    else {
        return;
    };
    let (first, _) = step.down.of(rows.start);
    let (last, weights) = step.down.of(rows.end - 1);
    let under = first..last + weights.len();
    fill(frame, before, under.clone(), rooms);
    for c in 0..3 {
        let light = match rooms.last() {
            Some(under) => &under.planes[c][..],
            None => &frame.planes()[c][under.start * step.from..under.end * step.from],
        };
        let plane = &mut out.planes[c];
        plane.resize(rows.len() * step.width, 0.0);
        for (y, row) in rows.clone().zip(plane.chunks_exact_mut(step.width)) {
            let (at, weights) = step.down.of(y);
            let lines = light[(at - first) * step.from..].chunks_exact(step.from);
            step.row(weights.iter().zip(lines), &mut out.sum, row);
        }
    }
}

impl Step {
    /// One row of the lines that it lies over, each with its share.
    fn row<'a>(
        &self,
        lines: impl Iterator<Item = (&'a f32, &'a [f32])>,
        sum: &mut Vec<f32>,
        row: &mut [f32],
    ) {
        sum.clear();
        sum.resize(self.from + TAPS, 0.0);
        for (&weight, line) in lines {
            for (sum, light) in sum.iter_mut().zip(line) {
                *sum += weight * light;
            }
        }
        for (out, &(first, shares)) in row.iter_mut().zip(&self.across) {
            let mut mean = 0.0;
            for (share, light) in shares.iter().zip(&sum[first..first + TAPS]) {
                mean += share * light;
            }
            *out = mean;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::to_width;

    #[test]
    fn rows_are_those_of_the_halved_frame() {
        for (w, h) in [(64, 48), (61, 37), (250, 3), (97, 140), (2, 9)] {
            let plane = |c: usize| (0..w * h).map(move |i| ((i * 7919 + c) % 1021) as f32 / 300.0);
            let frame = Frame::from_planes(w, h, [1, 2, 3].map(|c| plane(c).collect()));
            let mut whole = frame.clone();
            for times in 0..4 {
                if times > 0 && whole.width() > 1 {
                    whole = to_width(&whole, whole.width() / 2).expect("half");
                }
                let halves = Halves::new(&frame, times);
                let size = [whole.width(), whole.height()];
                assert_eq!(halves.size(), size, "{times} times");
                let mut room = halves.room();
                // In strips that begin anywhere.
                for rows in [0..size[1], size[1] / 3..size[1], 0..1] {
                    let part = rows.start * size[0]..rows.end * size[0];
                    let got = halves.rows(rows, &mut room);
                    for (got, whole) in got.iter().zip(whole.planes()) {
                        assert_eq!(got, &&whole[part.clone()], "{w} × {h}, {times} times");
                    }
                }
            }
        }
    }
}
