//! The pixels that are worked on, and nothing else, as cells that know their neighbours; and the same at
//! half, a quarter … of the size.

use rayon::prelude::*;

/// Cells worked on by one task.
pub(super) const RUN: usize = 1 << 12;

/// Beyond the frame's edge: light goes on there as in a mirror, so nothing passes.
pub(super) const EDGE: u32 = u32::MAX;
/// A pixel that is not worked on.
pub(super) const OUT: u32 = u32::MAX - 1;

/// Some pixels of a picture.
pub(super) struct Grid {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Where every cell lies, rows from the top: y · width + x, rising.
    pub(super) at: Vec<u32>,
    /// Left, right, above, below: another cell, [`EDGE`] or [`OUT`].
    pub(super) next: Vec<[u32; 4]>,
}

impl Grid {
    pub(super) fn of(at: Vec<u32>, width: usize, height: usize) -> Self {
        let rows = rows(&at, width, height);
        let find = |x: usize, y: usize| -> u32 {
            let row = &at[rows[y]..rows[y + 1]];
            match row.binary_search(&((y * width + x) as u32)) {
                Ok(i) => (rows[y] + i) as u32,
                Err(_) => OUT,
            }
        };
        let mut next = vec![[OUT; 4]; at.len()];
        next.par_chunks_mut(RUN)
            .enumerate()
            .for_each(|(run, next)| {
                for (k, next) in next.iter_mut().enumerate() {
                    let i = run * RUN + k;
                    let (x, y) = (at[i] as usize % width, at[i] as usize / width);
                    let beside = |j: Option<usize>, wanted: u32| match j.and_then(|j| at.get(j)) {
                        Some(there) if *there == wanted => j.map_or(OUT, |j| j as u32),
                        _ => OUT,
                    };
                    *next = [
                        match x {
                            0 => EDGE,
                            _ => beside(i.checked_sub(1), at[i] - 1),
                        },
                        if x + 1 == width {
                            EDGE
                        } else {
                            beside(Some(i + 1), at[i] + 1)
                        },
                        match y {
                            0 => EDGE,
                            _ => find(x, y - 1),
                        },
                        if y + 1 == height {
                            EDGE
                        } else {
                            find(x, y + 1)
                        },
                    ];
                }
            });
        Self {
            width,
            height,
            at,
            next,
        }
    }

    pub(super) const fn len(&self) -> usize {
        self.at.len()
    }

    /// The grid at half the size, and every cell's cell there: two by two to one.
    pub(super) fn coarser(&self) -> (Self, Vec<u32>) {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let fine = rows(&self.at, self.width, self.height);
        let halved = |i: usize, y: usize| (self.at[i] as usize % self.width / 2 + y * width) as u32;
        let coarse: Vec<Vec<u32>> = (0..height)
            .into_par_iter()
            .map(|y| {
                let end = fine[(2 * y + 2).min(self.height)];
                let mut row: Vec<u32> = (fine[2 * y]..end).map(|i| halved(i, y)).collect();
                row.sort_unstable();
                row.dedup();
                row
            })
            .collect();
        let at: Vec<u32> = coarse.into_iter().flatten().collect();
        let starts = rows(&at, width, height);
        let mut parent = vec![0_u32; self.len()];
        parent.par_iter_mut().enumerate().for_each(|(i, parent)| {
            let y = self.at[i] as usize / self.width / 2;
            let row = &at[starts[y]..starts[y + 1]];
            let place = row.partition_point(|there| *there < halved(i, y));
            *parent = (starts[y] + place) as u32;
        });
        (Self::of(at, width, height), parent)
    }
}

/// Where every row starts in a rising list of places, and where the last ends.
fn rows(at: &[u32], width: usize, height: usize) -> Vec<usize> {
    (0..=height)
        .into_par_iter()
        .map(|y| at.partition_point(|place| (*place as usize) < y * width))
        .collect()
}
