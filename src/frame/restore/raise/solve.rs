//! Smooth fields over some pixels of a picture: N of them at a time, each the solution of
//!
//!   hold(i) · u(i) + Σⱼ k(i, j) · (u(i) − u(j)) = pull(i),   j the neighbours that are worked on too,
//!
//! k the mean of both cells' conductance. A neighbour that holds a value v with conductance k is k in
//! `hold` and k · v in `pull`. These are the screened Poisson equation and its kin, symmetric and positive,
//! so conjugate gradients solve them; each size starts from the solution at half the size, where four cells
//! are one and their holds and pulls are added. Sums are taken in a fixed order: the result does not hang on
//! the number of threads.

use super::grid::{Grid, OUT, RUN};
use rayon::prelude::*;

/// The part of the first residual that may remain.
const REST: f64 = 1e-5;
/// Most rounds at one size, and the cells times rounds that may be spent there: the smooth part is solved at
/// smaller sizes, and what is left to do at a large one lies between neighbours.
const ROUNDS: usize = 120;
const EFFORT: usize = 8_000_000;
/// Rounds that are always allowed.
const LEAST: usize = 10;

/// What holds and pulls every cell.
pub(super) struct System<const N: usize> {
    /// How well light spreads from here, in pixels squared.
    pub(super) conductance: Vec<f32>,
    pub(super) hold: Vec<[f32; N]>,
    pub(super) pull: Vec<[f32; N]>,
}

/// The grids of a picture's pixels, from fine to coarse.
pub(super) struct Sizes {
    grids: Vec<Grid>,
    /// Every cell's cell at half the size.
    parents: Vec<Vec<u32>>,
}

impl Sizes {
    pub(super) fn of(finest: Grid) -> Self {
        let mut sizes = Self {
            grids: Vec::new(),
            parents: Vec::new(),
        };
        let mut grid = finest;
        while grid.len() > 64 && grid.width.max(grid.height) > 2 {
            let (coarser, parent) = grid.coarser();
            sizes.parents.push(parent);
            sizes.grids.push(grid);
            grid = coarser;
        }
        sizes.grids.push(grid);
        sizes
    }

    pub(super) fn finest(&self) -> &Grid {
        &self.grids[0]
    }

    /// Solves a system, from coarse to fine.
    pub(super) fn solve<const N: usize>(&self, system: System<N>) -> Vec<[f32; N]> {
        let mut systems = vec![system];
        for (parent, coarser) in self.parents.iter().zip(&self.grids[1..]) {
            let finer = &systems[systems.len() - 1];
            systems.push(halved(finer, parent, coarser.len()));
        }
        let mut field: Vec<[f32; N]> = Vec::new();
        for (level, (grid, system)) in self.grids.iter().zip(&systems).enumerate().rev() {
            field = match self.parents.get(level) {
                Some(parent) => led_over(grid, parent, &self.grids[level + 1], &field),
                None => vec![[0.0; N]; grid.len()],
            };
            system.refine(grid, &mut field);
        }
        field
    }
}

/// The field of half the size at the finer cells: straight between coarse neighbours, where there are any.
fn led_over<const N: usize>(
    finer: &Grid,
    parent: &[u32],
    coarser: &Grid,
    field: &[[f32; N]],
) -> Vec<[f32; N]> {
    let at = |i: usize| -> [f32; N] {
        let p = parent[i] as usize;
        let (x, y) = (
            finer.at[i] as usize % finer.width,
            finer.at[i] as usize / finer.width,
        );
        // A cell's middle lies a quarter of a coarse cell from its parent's.
        let sides = [x % 2, 2 + y % 2].map(|side| coarser.next[p][side]);
        let mut value = field[p];
        for side in sides.into_iter().filter(|side| *side < OUT) {
            for l in 0..N {
                value[l] += 0.25 * (field[side as usize][l] - field[p][l]);
            }
        }
        value
    };
    (0..finer.len())
        .into_par_iter()
        .with_min_len(RUN)
        .map(at)
        .collect()
}

fn halved<const N: usize>(finer: &System<N>, parent: &[u32], cells: usize) -> System<N> {
    let mut coarse = System {
        conductance: vec![0.0; cells],
        hold: vec![[0.0; N]; cells],
        pull: vec![[0.0; N]; cells],
    };
    let mut counts = vec![0.0_f32; cells];
    for (i, p) in parent.iter().enumerate() {
        let p = *p as usize;
        counts[p] += 1.0;
        coarse.conductance[p] += finer.conductance[i];
        for lane in 0..N {
            coarse.hold[p][lane] += finer.hold[i][lane];
            coarse.pull[p][lane] += finer.pull[i][lane];
        }
    }
    for (k, n) in coarse.conductance.iter_mut().zip(&counts) {
        *k /= n;
    }
    coarse
}

impl<const N: usize> System<N> {
    /// Conjugate gradients, each lane with its own steps, scaled by the diagonal.
    fn refine(&self, grid: &Grid, field: &mut [[f32; N]]) {
        let own: Vec<[f32; N]> = self.map(grid, |i| {
            let mut own = self.hold[i];
            for j in grid.next[i] {
                if j < OUT {
                    let k = self.between(i, j as usize);
                    own.iter_mut().for_each(|v| *v += k);
                }
            }
            own.map(|v| v.max(1e-12))
        });
        let times = |u: &[[f32; N]], i: usize| -> [f32; N] {
            let mut out: [f32; N] = std::array::from_fn(|l| own[i][l] * u[i][l]);
            for j in grid.next[i] {
                if j < OUT {
                    let k = self.between(i, j as usize);
                    for l in 0..N {
                        out[l] -= k * u[j as usize][l];
                    }
                }
            }
            out
        };
        let mut rest: Vec<[f32; N]> = self.map(grid, |i| {
            let there = times(field, i);
            std::array::from_fn(|l| self.pull[i][l] - there[l])
        });
        let scaled = |rest: &[f32; N], i: usize| -> [f32; N] {
            std::array::from_fn(|l| rest[l] / own[i][l])
        };
        let mut along: Vec<[f32; N]> = self.map(grid, |i| scaled(&rest[i], i));
        let mut energy = sum(&rest, |i, r| product(r, &scaled(r, i)));
        let first: [f64; N] = sum(&self.pull, |i, b| product(b, &scaled(b, i)));
        for _ in 0..ROUNDS.min(LEAST.max(EFFORT / grid.len().max(1))) {
            let done = |l: usize| energy[l] <= REST * REST * first[l];
            if (0..N).all(done) {
                break;
            }
            let pushed: Vec<[f32; N]> = self.map(grid, |i| times(&along, i));
            let work = sum(&along, |i, a| product(a, &pushed[i]));
            let step: [f32; N] = std::array::from_fn(|l| ratio(energy[l], work[l], done(l)));
            field
                .par_iter_mut()
                .zip(&along)
                .zip(rest.par_iter_mut().zip(&pushed))
                .for_each(|((u, a), (r, p))| {
                    for l in 0..N {
                        u[l] += step[l] * a[l];
                        r[l] -= step[l] * p[l];
                    }
                });
            let now = sum(&rest, |i, r| product(r, &scaled(r, i)));
            let keep: [f32; N] = std::array::from_fn(|l| ratio(now[l], energy[l], done(l)));
            energy = now;
            along.par_iter_mut().enumerate().for_each(|(i, a)| {
                let r = scaled(&rest[i], i);
                for l in 0..N {
                    a[l] = r[l] + keep[l] * a[l];
                }
            });
        }
    }

    fn between(&self, i: usize, j: usize) -> f32 {
        0.5 * (self.conductance[i] + self.conductance[j])
    }

    fn map(&self, grid: &Grid, cell: impl Fn(usize) -> [f32; N] + Send + Sync) -> Vec<[f32; N]> {
        (0..grid.len())
            .into_par_iter()
            .with_min_len(RUN)
            .map(cell)
            .collect()
    }
}

fn ratio(a: f64, b: f64, done: bool) -> f32 {
    if done || b <= 0.0 {
        0.0
    } else {
        (a / b) as f32
    }
}

fn product<const N: usize>(a: &[f32; N], b: &[f32; N]) -> [f64; N] {
    std::array::from_fn(|l| f64::from(a[l]) * f64::from(b[l]))
}

/// A sum in a fixed order: runs of cells, then the runs.
fn sum<const N: usize>(
    cells: &[[f32; N]],
    of: impl Fn(usize, &[f32; N]) -> [f64; N] + Sync,
) -> [f64; N] {
    let added = |mut a: [f64; N], b: [f64; N]| {
        a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        a
    };
    let runs: Vec<[f64; N]> = cells
        .par_chunks(RUN)
        .enumerate()
        .map(|(run, cells)| {
            let each = cells.iter().enumerate();
            each.map(|(k, cell)| of(run * RUN + k, cell))
                .fold([0.0; N], added)
        })
        .collect();
    runs.into_iter().fold([0.0; N], added)
}
