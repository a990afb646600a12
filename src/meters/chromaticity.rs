//! Chromaticity: where a picture's colours lie in the CIE 1976 u′v′ diagram, and the scene's light before
//! and behind the glass.
//!
//! u′ = 4X/(X + 15Y + 3Z), v′ = 9Y/(X + 15Y + 3Z). A camera renders its balance as the white of working
//! light; here that is undone (CAT16), so that a grey card in light of the camera's balance lies where that
//! light lies, and the card behind the glass where the light behind the glass lies. Without a plan the
//! picture is told as it is encoded. Pixels darker than [`DARKEST`] are left out: there noise has more
//! colour than the scene.
//!
//! Sources: ISO/CIE 11664-5 for u′v′; the loci from the observer and Planck's law of [`crate::colour`].
//!
//! ```
//! use foreglass::colour::Xyz;
//! use foreglass::meters::chromaticity::u_v;
//! let [u, v] = u_v(Xyz::from_xy(0.3127, 0.3290)); // D65, CIE 15
//! assert!((u - 0.197_83).abs() < 1e-5 && (v - 0.468_32).abs() < 1e-5);
//! ```

use super::reduced::{Channel, Reduced};
use crate::colour::primaries::{Space, WORKING_WHITE};
use crate::colour::temperature::White;
use crate::colour::{Spectrum, Xyz, adapt, illuminant, observer};
use crate::frame::Frame;
use crate::rig::Setup;
use crate::units::{Kelvin, Nanometres, Stops};
use std::sync::OnceLock;

/// Cells of the grid along u′ and along v′.
pub const CELLS: usize = 128;
/// Side of a cell: the grid spans 0 to 0.64 both ways, which holds every real colour.
pub const CELL: f64 = 0.005;
/// Pixels whose luminance lies under this level are left out.
pub const DARKEST: Stops = Stops::clamped(-6.0);

/// Where a picture's colours lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Chromaticity {
    /// The part of the picture in each cell: rows of rising u′, the row of the lowest v′ first.
    pub shares: Vec<f32>,
    /// The part left out for darkness.
    pub dark: f64,
    /// The part whose colour is off the grid: no real one.
    pub beyond: f64,
    /// The chromaticity of all light that counts taken together; None where none does.
    pub mean: Option<[f64; 2]>,
}

impl Chromaticity {
    /// Of a picture whose white (1, 1, 1) stands for the light `white`; [`picture_white`] for one told as
    /// it is encoded, [`Setup::balance`] for one seen by a planned camera.
    #[must_use]
    pub fn of(picture: &Reduced, white: Xyz) -> Self {
        let to_xyz = adapt::cat16(picture_white(), white) * Space::AcesCg.to_xyz();
        let rows = to_xyz.rows_f32();
        let floor = Frame::KEY * (DARKEST.get() as f32).exp2();
        let [r, g, b] = picture.frame().planes();
        let y = picture.plane(Channel::Luminance);
        let mut counts = vec![0_u32; CELLS * CELLS];
        let (mut dark, mut beyond, mut sum) = (0_u32, 0_u32, [0.0_f64; 3]);
        for i in 0..y.len() {
            if y[i] < floor {
                dark += 1;
                continue;
            }
            let light = [r[i], g[i], b[i]];
            let xyz = rows.map(|m| m[0] * light[0] + m[1] * light[1] + m[2] * light[2]);
            let d = xyz[0] + 15.0 * xyz[1] + 3.0 * xyz[2];
            sum.iter_mut()
                .zip(xyz)
                .for_each(|(s, v)| *s += f64::from(v));
            match cell(4.0 * xyz[0] / d, 9.0 * xyz[1] / d) {
                Some(cell) => counts[cell] += 1,
                None => beyond += 1,
            }
        }
        let all = y.len() as f64;
        let bright = Xyz::from(sum);
        Self {
            shares: counts
                .into_iter()
                .map(|n| (f64::from(n) / all) as f32)
                .collect(),
            dark: f64::from(dark) / all,
            beyond: f64::from(beyond) / all,
            mean: (bright.luminance() > 0.0).then(|| u_v(bright)),
        }
    }

    /// Cells that hold something: the chromaticity of their middle, and their part of the picture.
    pub fn filled(&self) -> impl Iterator<Item = ([f64; 2], f32)> {
        let middle = |i: usize| (i as f64 + 0.5) * CELL;
        let cells = self.shares.iter().enumerate();
        cells
            .filter(|(_, share)| **share > 0.0)
            .map(move |(i, share)| ([middle(i % CELLS), middle(i / CELLS)], *share))
    }
}

/// The cell of a chromaticity; None off the grid or where it is no number.
fn cell(u: f32, v: f32) -> Option<usize> {
    let at = |part: f32| {
        let place = part / CELL as f32;
        (place >= 0.0 && place < CELLS as f32).then_some(place as usize)
    };
    Some(at(v)? * CELLS + at(u)?)
}

/// The CIE 1976 chromaticity of a colour; of black, equal-energy white's.
#[must_use]
pub fn u_v(colour: Xyz) -> [f64; 2] {
    let [u, v] = colour.uv();
    [u, 1.5 * v]
}

/// The white of working light, as a picture is encoded.
#[must_use]
pub fn picture_white() -> Xyz {
    let [x, y] = WORKING_WHITE;
    Xyz::from_xy(x, y)
}

/// The spectral locus: wavelengths from 380 nm to 700 nm in steps of 5 nm, where each alone lies. The
/// line of purples closes it.
#[must_use]
pub fn spectral_locus() -> &'static [(Nanometres, [f64; 2])] {
    static LOCUS: OnceLock<Vec<(Nanometres, [f64; 2])>> = OnceLock::new();
    LOCUS.get_or_init(|| {
        let [x, y, z] = observer::matching_functions();
        let lines = x.iter().zip(y.samples()).zip(z.samples());
        lines
            .map(|(((nm, x), y), z)| (nm, u_v(Xyz::new(x, *y, *z))))
            .filter(|(nm, _)| nm.get() <= 700.0)
            .collect()
    })
}

/// The Planckian locus: glowing bodies from 1000 K to 25 000 K, in even steps of 10 mireds.
#[must_use]
pub fn planckian_locus() -> &'static [(Kelvin, [f64; 2])] {
    static LOCUS: OnceLock<Vec<(Kelvin, [f64; 2])>> = OnceLock::new();
    LOCUS.get_or_init(|| {
        (4..=100)
            .map(|tens| Kelvin::clamped(1e5 / f64::from(tens)))
            .map(|t| (t, glowing(t)))
            .collect()
    })
}

/// Where a glowing body of temperature `t` lies.
#[must_use]
pub fn glowing(t: Kelvin) -> [f64; 2] {
    u_v(illuminant::white(&illuminant::planckian(t)))
}

/// A light in the diagram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamp {
    /// u′ and v′.
    pub uv: [f64; 2],
    /// Its colour temperature and how far off the locus it lies, where it has one.
    pub white: Option<White>,
}

/// The scene's light before and behind the glass of a rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamps {
    /// As it falls on the scene.
    pub bare: Lamp,
    /// Behind all uniform colour of the stack; None where nothing comes through.
    pub through: Option<Lamp>,
}

impl Lamp {
    /// Of a light; None where it has no luminance.
    #[must_use]
    pub fn of(light: &Spectrum) -> Option<Self> {
        let colour = observer::integrate(light).at_unit_luminance()?;
        Some(Self {
            uv: u_v(colour),
            white: White::of(light),
        })
    }
}

impl Lamps {
    /// Of a rig; its ledger says the same of them in kelvin ([`Setup::turns`]). None where the scene's
    /// light has no luminance.
    #[must_use]
    pub fn of(setup: &Setup) -> Option<Self> {
        let scene = setup.scene();
        Some(Self {
            bare: Lamp::of(&scene)?,
            through: Lamp::of(&scene.product(&setup.tau())),
        })
    }
}
