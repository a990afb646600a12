//! The connected areas of clipped pixels, as runs along rows.

use rayon::prelude::*;
use std::ops::Range;

/// Neighbouring clipped pixels of one row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Run {
    /// The row.
    pub(super) y: u32,
    /// The first pixel.
    pub(super) from: u32,
    /// The one after the last.
    pub(super) to: u32,
    /// The area that they belong to.
    pub(super) part: u32,
}

impl Run {
    pub(super) const fn pixels(&self) -> usize {
        (self.to - self.from) as usize
    }

    /// Its pixels as indices into a plane.
    pub(super) const fn indices(&self, width: usize) -> Range<usize> {
        let start = self.y as usize * width;
        start + self.from as usize..start + self.to as usize
    }
}

/// One connected area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    /// Left, top, right, bottom in pixels, the last two beyond it.
    pub(super) sides: [u32; 4],
    pub(super) pixels: usize,
}

/// All of them.
pub(super) struct Parts {
    /// Rows from the top, from the left in each.
    pub(super) runs: Vec<Run>,
    /// The first run of every row, and one more.
    rows: Vec<usize>,
    /// Numbered by their first run.
    pub(super) parts: Vec<Part>,
}

impl Parts {
    /// The areas of pixels that have any bit set; diagonal neighbours are connected.
    pub(super) fn of(bits: &[u8], width: usize) -> Self {
        let by_row: Vec<Vec<Run>> = bits
            .par_chunks(width)
            .enumerate()
            .map(|(y, row)| runs_of(y as u32, row))
            .collect();
        let mut rows = vec![0];
        for row in &by_row {
            rows.push(rows.last().copied().unwrap_or(0) + row.len());
        }
        let mut runs: Vec<Run> = by_row.into_iter().flatten().collect();
        let mut parent: Vec<u32> = (0..runs.len() as u32).collect();
        for y in 1..rows.len() - 1 {
            let (mut above, mut here) = (rows[y - 1], rows[y]);
            while above < rows[y] && here < rows[y + 1] {
                let (a, b) = (runs[above], runs[here]);
                if a.from <= b.to && b.from <= a.to {
                    join(&mut parent, above as u32, here as u32);
                }
                if a.to < b.to {
                    above += 1;
                } else {
                    here += 1;
                }
            }
        }
        let mut parts: Vec<Part> = Vec::new();
        let mut number = vec![u32::MAX; runs.len()];
        for (i, run) in runs.iter_mut().enumerate() {
            // The root is the first run of all, so it has its number by now.
            let root = root(&mut parent, i as u32) as usize;
            if root == i {
                number[i] = parts.len() as u32;
                parts.push(Part {
                    sides: [run.from, run.y, run.to, run.y + 1],
                    pixels: 0,
                });
            }
            run.part = number[root];
            let part = &mut parts[run.part as usize];
            let [left, _, right, bottom] = &mut part.sides;
            *left = (*left).min(run.from);
            *right = (*right).max(run.to);
            *bottom = run.y + 1;
            part.pixels += run.pixels();
        }
        Self { runs, rows, parts }
    }

    /// The area that a pixel belongs to.
    pub(super) fn at(&self, x: usize, y: usize) -> Option<usize> {
        let row = &self.runs[self.rows[y]..self.rows[y + 1]];
        let next = row.partition_point(|run| run.to as usize <= x);
        let run = row.get(next).filter(|run| run.from as usize <= x)?;
        Some(run.part as usize)
    }
}

fn runs_of(y: u32, row: &[u8]) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut x = 0;
    while let Some(gap) = row[x..].iter().position(|bits| *bits != 0) {
        let from = x + gap;
        let length = row[from..].iter().position(|bits| *bits == 0);
        x = length.map_or(row.len(), |n| from + n);
        runs.push(Run {
            y,
            from: from as u32,
            to: x as u32,
            part: 0,
        });
    }
    runs
}

fn root(parent: &mut [u32], mut i: u32) -> u32 {
    while parent[i as usize] != i {
        let up = parent[i as usize];
        parent[i as usize] = parent[up as usize];
        i = up;
    }
    i
}

/// The lower number stays the root.
fn join(parent: &mut [u32], a: u32, b: u32) {
    let (a, b) = (root(parent, a), root(parent, b));
    parent[a.max(b) as usize] = a.min(b);
}
