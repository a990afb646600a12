//! Which pieces turn light of one colour temperature into another.
//!
//! Mireds add, so that what is wanted is a difference of reciprocals, and a stack of two gives the sum of
//! their shifts. Pieces are looked for among all families: whatever one of a family's choices makes that
//! is sold by a shift. Of pieces with the same shift only the one that loses least counts, and a stack
//! takes pieces that shift the same way: nobody warms what the next piece cools (common practice, no source).
//!
//! Source: handbook arithmetic, mired = 10⁶/K (common practice).
//!
//! ```
//! use foreglass::{colour::temperature::shift_between, glass::conversion, units::Kelvin};
//! let wanted = shift_between(Kelvin::clamped(5500.0), Kelvin::clamped(3200.0));
//! let ways = conversion::ways(wanted, 1);
//! assert_eq!(ways[0].names(), "85B"); // handbooks: 5500 K to 3200 K, +131 mireds
//! ```

use super::{FAMILIES, Piece};
use crate::colour::glass::transmitted_luminance;
use crate::colour::illuminant;
use crate::colour::spectrum::Spectrum;
use crate::units::{Mireds, Stops};

/// Glass that shifts colour temperature, one piece or several in a row.
#[derive(Debug, Clone)]
pub struct Way {
    /// The pieces, the strongest first.
    pub pieces: Vec<Piece>,
    /// The sum of their shifts.
    pub shift: Mireds,
}

impl Way {
    fn of(pieces: Vec<Piece>) -> Self {
        let shift = pieces.iter().filter_map(Piece::nominal_shift).sum();
        Self { pieces, shift }
    }

    /// What they are called: "82C + 82A".
    #[must_use]
    pub fn names(&self) -> String {
        let names: Vec<_> = self.pieces.iter().map(Piece::name).collect();
        names.join(" + ")
    }

    /// What they pass together, faces included.
    #[must_use]
    pub fn tau(&self) -> Spectrum {
        let passed = self.pieces.iter().map(|p| &p.law().tau);
        passed.fold(Spectrum::constant(1.0), |tau, t| tau.product(t))
    }

    /// What they lose together of a light.
    #[must_use]
    pub fn loss(&self, light: &Spectrum) -> Stops {
        Stops::of_loss(transmitted_luminance(&self.tau(), light))
    }

    /// What they lose by the trade's tables, where those have all of them.
    #[must_use]
    pub fn nominal_loss(&self) -> Option<Stops> {
        self.pieces.iter().map(Piece::nominal_loss).sum()
    }

    /// What is left to do of a `wanted` shift.
    #[must_use]
    pub fn left(&self, wanted: Mireds) -> Mireds {
        wanted - self.shift
    }
}

/// Every piece that is sold by a shift, from the coolest to the warmest; the clearest of each shift.
#[must_use]
pub fn pieces() -> Vec<Piece> {
    let light = illuminant::equal_energy();
    let mut found: Vec<(f64, f64, Piece)> = FAMILIES
        .iter()
        .flat_map(|family| family.default_piece().choices().collect::<Vec<_>>())
        .filter_map(|piece| {
            let loss = piece.law().flat_loss(&light).get();
            Some((piece.nominal_shift()?.get(), loss, piece))
        })
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    found.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
    found.into_iter().map(|(_, _, piece)| piece).collect()
}

/// Stacks of so many pieces, the nearest to the `wanted` shift first; none for a shift of nothing.
#[must_use]
pub fn ways(wanted: Mireds, count: usize) -> Vec<Way> {
    let same_way = |p: &Piece| {
        p.nominal_shift()
            .is_some_and(|s| s.get() * wanted.get() > 0.0)
    };
    let mut pieces: Vec<Piece> = pieces().into_iter().filter(same_way).collect();
    // The strongest first: each stack is then told once, and in that order.
    let strength = |p: &Piece| p.nominal_shift().map_or(0.0, |s| s.get().abs());
    pieces.sort_by(|a, b| strength(b).total_cmp(&strength(a)));
    let mut ways: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..count {
        ways = ways
            .into_iter()
            .flat_map(|way| {
                let first = way.last().copied().unwrap_or(0);
                (first..pieces.len()).map(move |i| [way.clone(), vec![i]].concat())
            })
            .collect();
    }
    let light = illuminant::equal_energy();
    let mut ways: Vec<(f64, f64, Way)> = ways
        .into_iter()
        .filter(|way| !way.is_empty())
        .map(|way| Way::of(way.into_iter().map(|i| pieces[i].clone()).collect()))
        .map(|way| (way.left(wanted).get().abs(), way.loss(&light).get(), way))
        .collect();
    ways.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    ways.into_iter().map(|(_, _, way)| way).collect()
}
