//! A picture's values as tiles that are fine only where something happens.
//!
//! The picture is cut into squarish tiles, each of which is halved both ways as often as it must be: where
//! an edge's soft zone or an opening's rim runs, a tile ends up no larger than a part of that zone, and
//! where nothing changes the first tile stands. Every tile that is not cut further holds 4 × 4 values, at
//! thirds of its sides, and a bicubic runs through them. Tiles that meet share their border's values.
//!
//! A tile is cut until a bicubic foretells what its own middles hold. What happens between samples cannot
//! slip through: who grows the tiles says how small a tile must be for what bends in it, and none is looked
//! at before it is as small as that.
//!
//! ```
//! use foreglass::optics::tiles::{Inside, Tiles};
//! // A step's soft zone, a fiftieth of the picture wide.
//! let soft = |x: f64| (50.0 * (x - 0.3)).clamp(-1.0, 1.0);
//! let at = |[x, _]: [f64; 2]| (soft(x) * (1.5 - 0.5 * soft(x).powi(2))) as f32;
//! let inside = |[left, _]: [f64; 2], [wide, _]: [f64; 2]| {
//!     if left > 0.32 || left + wide < 0.28 { Inside::Even } else { Inside::Narrow(0.01) }
//! };
//! let tiles = Tiles::grow([8, 4], 5e-4, at, inside);
//! let off = |x: f64| (tiles.at([x, 0.4]) - at([x, 0.4])).abs();
//! assert!((0..1000).all(|i| off(f64::from(i) / 1000.0) < 2e-3));
//! assert!(tiles.tiles() < 1000); // 32 tiles to begin with
//! ```

use rayon::prelude::*;

/// Most often that a tile is halved: sixteen first tiles across, then 2¹¹ each.
const DEEPEST: usize = 11;
/// Values along a tile's side.
const SIDE: usize = 4;
/// Points along a side where a tile is compared: its values, and the middles between them.
const FINE: usize = 2 * SIDE - 1;

/// What tiles hold.
pub trait Value: Copy + Send + Sync {
    /// Nothing.
    const NONE: Self;
    /// This, and `weight` of another.
    #[must_use]
    fn and(self, weight: f32, of: Self) -> Self;
    /// Greatest difference from another.
    fn off(self, other: Self) -> f32;
}

impl Value for f32 {
    const NONE: Self = 0.0;
    fn and(self, weight: f32, of: Self) -> Self {
        self + weight * of
    }
    fn off(self, other: Self) -> f32 {
        (self - other).abs()
    }
}

impl Value for [f32; 9] {
    const NONE: Self = [0.0; 9];
    fn and(self, weight: f32, of: Self) -> Self {
        std::array::from_fn(|i| self[i] + weight * of[i])
    }
    fn off(self, other: Self) -> f32 {
        let off = self.iter().zip(&other).map(|(a, b)| (a - b).abs());
        off.fold(0.0, f32::max)
    }
}

/// What a tile has in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Inside {
    /// It is the same all over.
    Even,
    /// It changes without bends.
    Smooth,
    /// Something bends in it so sharply that it must be no larger than this, in the unit of its sides.
    Narrow(f64),
}

impl Inside {
    /// This and another thing in one tile.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Narrow(a), Self::Narrow(b)) => Self::Narrow(a.min(b)),
            (Self::Narrow(a), _) | (_, Self::Narrow(a)) => Self::Narrow(a),
            (Self::Even, other) => other,
            (Self::Smooth, _) => Self::Smooth,
        }
    }
}

/// A picture's values, in a form that a kernel reads.
#[derive(Debug, Clone, PartialEq)]
pub struct Tiles<V> {
    /// First tiles across and down.
    pub roots: [usize; 2],
    /// A tile each; the first ones first, rows from the top. Even: twice the number of its 4 × 4 values.
    /// Odd: it is cut, and half of it, rounded down, is its upper left quarter's place here; upper right,
    /// lower left and lower right follow.
    pub tree: Vec<u32>,
    /// 4 × 4 values a tile, rows from the top.
    pub values: Vec<V>,
}

/// One tile: its place in the picture, 0 to 1 from the top left, and its values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tile {
    /// Left and upper border.
    pub from: [f64; 2],
    /// Width and height.
    pub side: [f64; 2],
    /// Where its first value stands.
    pub first: usize,
}

/// Cubic weights of four even nodes at `t`, 0 at the first and 1 at the last.
#[must_use]
pub fn weights(t: f32) -> [f32; SIDE] {
    let (t2, t3) = (t * t, t * t * t);
    [
        1.0 - 5.5 * t + 9.0 * t2 - 4.5 * t3,
        9.0 * t - 22.5 * t2 + 13.5 * t3,
        -4.5 * t + 18.0 * t2 - 13.5 * t3,
        t - 4.5 * t2 + 4.5 * t3,
    ]
}

impl<V: Value> Tiles<V> {
    /// Cuts the picture until every tile is within `tolerance` of `at` at its middles. `at` takes a place
    /// in the picture, 0 to 1 from the top left; `inside` a tile's upper left corner and its sides.
    #[must_use]
    pub fn grow(
        roots: [usize; 2],
        tolerance: f32,
        at: impl Fn([f64; 2]) -> V + Sync,
        inside: impl Fn([f64; 2], [f64; 2]) -> Inside + Sync,
    ) -> Self {
        let grower = Grower {
            at,
            inside,
            tolerance,
        };
        let [across, down] = roots;
        let side = [1.0 / across as f64, 1.0 / down as f64];
        let branches: Vec<Branch<V>> = (0..across * down)
            .into_par_iter()
            .map(|i| {
                let from = [(i % across) as f64 * side[0], (i / across) as f64 * side[1]];
                let mut branch = Branch {
                    tree: vec![0],
                    values: Vec::new(),
                };
                grower.grow(from, side, DEEPEST, None, &mut branch, 0);
                branch
            })
            .collect();
        let mut tiles = Self {
            roots,
            tree: vec![0; branches.len()],
            values: Vec::new(),
        };
        for (i, branch) in branches.into_iter().enumerate() {
            tiles.graft(i, branch);
        }
        tiles
    }

    /// Takes a branch in, its first tile at `slot`.
    fn graft(&mut self, slot: usize, branch: Branch<V>) {
        let patches = (self.values.len() / (SIDE * SIDE)) as u32;
        // A branch's tile 1 comes next.
        let next = self.tree.len() as u32 - 1;
        let moved = |entry: u32| {
            entry
                + 2 * if entry.is_multiple_of(2) {
                    patches
                } else {
                    next
                }
        };
        let mut entries = branch.tree.into_iter().map(moved);
        self.tree[slot] = entries.next().unwrap_or(0);
        self.tree.extend(entries);
        self.values.extend(branch.values);
    }

    /// How many tiles hold values.
    #[must_use]
    pub const fn tiles(&self) -> usize {
        self.values.len() / (SIDE * SIDE)
    }

    /// The tile around a place in the picture.
    #[must_use]
    pub fn tile(&self, place: [f64; 2]) -> Tile {
        let root = |i: usize| {
            let at = place[i] * self.roots[i] as f64;
            (at.max(0.0) as usize).min(self.roots[i] - 1)
        };
        let cell = [root(0), root(1)];
        let mut side = self.roots.map(|n| 1.0 / n as f64);
        let mut from = [cell[0] as f64 * side[0], cell[1] as f64 * side[1]];
        let mut entry = self.tree[cell[1] * self.roots[0] + cell[0]];
        while entry % 2 == 1 {
            side = side.map(|s| 0.5 * s);
            let mut quarter = (entry / 2) as usize;
            for (i, step) in [1, 2].into_iter().enumerate() {
                if place[i] >= from[i] + side[i] {
                    from[i] += side[i];
                    quarter += step;
                }
            }
            entry = self.tree[quarter];
        }
        Tile {
            from,
            side,
            first: (entry / 2) as usize * SIDE * SIDE,
        }
    }

    /// A tile's values along a line across it, `t` of its height below its top.
    #[must_use]
    pub fn row(&self, tile: &Tile, t: f32) -> [V; SIDE] {
        let rows = self.values[tile.first..][..SIDE * SIDE].chunks_exact(SIDE);
        let mut line = [V::NONE; SIDE];
        for (row, w) in rows.zip(weights(t)) {
            for (sum, v) in line.iter_mut().zip(row) {
                *sum = sum.and(w, *v);
            }
        }
        line
    }

    /// The value at a place in the picture.
    #[must_use]
    pub fn at(&self, place: [f64; 2]) -> V {
        let tile = self.tile(place);
        let t = |i: usize| ((place[i] - tile.from[i]) / tile.side[i]) as f32;
        let line = self.row(&tile, t(1));
        let pairs = line.iter().zip(weights(t(0)));
        pairs.fold(V::NONE, |sum, (v, w)| sum.and(w, *v))
    }
}

struct Grower<A, I> {
    at: A,
    inside: I,
    tolerance: f32,
}

/// A first tile and all that it is cut into.
struct Branch<V> {
    tree: Vec<u32>,
    values: Vec<V>,
}

impl<A, I> Grower<A, I> {
    fn grow<V: Value>(
        &self,
        from: [f64; 2],
        side: [f64; 2],
        left: usize,
        known: Option<[V; SIDE * SIDE]>,
        branch: &mut Branch<V>,
        slot: usize,
    ) where
        A: Fn([f64; 2]) -> V,
        I: Fn([f64; 2], [f64; 2]) -> Inside,
    {
        let at = |i: usize, j: usize| {
            let part = |i: usize| i as f64 / (FINE - 1) as f64;
            (self.at)([
                part(i).mul_add(side[0], from[0]),
                part(j).mul_add(side[1], from[1]),
            ])
        };
        let inside = (self.inside)(from, side);
        if inside == Inside::Even {
            return branch.leaf(slot, &[at(3, 3); SIDE * SIDE]);
        }
        let wide = match inside {
            Inside::Narrow(width) => width < side[0].max(side[1]),
            Inside::Even | Inside::Smooth => false,
        };
        let mut quarters = None;
        if !(wide && left > 0) {
            let coarse = known
                .unwrap_or_else(|| std::array::from_fn(|n| at(2 * (n % SIDE), 2 * (n / SIDE))));
            if left == 0 {
                return branch.leaf(slot, &coarse);
            }
            let mut fine = [[None; FINE]; FINE];
            let mut off = 0.0_f32;
            for j in (1..FINE).step_by(2) {
                for i in (1..FINE).step_by(2) {
                    let value = at(i, j);
                    fine[j][i] = Some(value);
                    off = off.max(value.off(foretold(&coarse, i, j)));
                }
            }
            if off < self.tolerance {
                return branch.leaf(slot, &coarse);
            }
            let all: [[V; FINE]; FINE] = std::array::from_fn(|j| {
                std::array::from_fn(|i| match fine[j][i] {
                    Some(value) => value,
                    None if i % 2 == 0 && j % 2 == 0 => coarse[j / 2 * SIDE + i / 2],
                    None => at(i, j),
                })
            });
            quarters = Some(all);
        }
        let first = branch.tree.len();
        branch.tree.extend([0; 4]);
        branch.tree[slot] = 2 * first as u32 + 1;
        let half = side.map(|s| 0.5 * s);
        for quarter in 0..4 {
            let (x, y) = (quarter % 2, quarter / 2);
            let from = [
                (x as f64).mul_add(half[0], from[0]),
                (y as f64).mul_add(half[1], from[1]),
            ];
            let shift = SIDE - 1;
            let known = quarters.map(|all| {
                std::array::from_fn(|n| all[shift * y + n / SIDE][shift * x + n % SIDE])
            });
            self.grow(from, half, left - 1, known, branch, first + quarter);
        }
    }
}

/// What a tile's bicubic says at a point of the fine lattice.
fn foretold<V: Value>(coarse: &[V; SIDE * SIDE], i: usize, j: usize) -> V {
    let part = |i: usize| weights(i as f32 / (FINE - 1) as f32);
    let (across, down) = (part(i), part(j));
    let mut sum = V::NONE;
    for (row, w) in coarse.chunks_exact(SIDE).zip(down) {
        for (value, v) in row.iter().zip(across) {
            sum = sum.and(w * v, *value);
        }
    }
    sum
}

impl<V: Value> Branch<V> {
    fn leaf(&mut self, slot: usize, values: &[V; SIDE * SIDE]) {
        self.tree[slot] = 2 * (self.values.len() / (SIDE * SIDE)) as u32;
        self.values.extend(values);
    }
}
