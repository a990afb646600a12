//! Rig to passes, in the order in which light meets the glass.

use super::{FieldPass, Pass, Plan, ScatterPass};
use crate::colour::Matrix3;
use crate::colour::glass::glass_matrix;
use crate::colour::spectrum::Spectrum;
use crate::optics::field::{Field, View};
use crate::optics::scatter::{Profile, Scatter};
use crate::rig::camera::{Compensate, CornerHalos, Outside};
use crate::rig::ledger::stack_tau;
use crate::rig::{Mounted, Setup};
use crate::units::Degrees;

/// Key, mid-grey in working light.
const KEY: f64 = 0.18;
/// Part of the stray light on a front that a lens by itself spreads over the picture.
const LENS_GLARE: f64 = 0.005;

/// Where the picture reaches further from the axis than this, halos stretch: by a fifth at this angle.
const STRETCHED_FROM: Degrees = Degrees::clamped(20.0);

/// Writes down what the rig does to a frame seen over `view`.
///
/// Uniform colour comes first: it is the same for every ray, so that its place in the stack does not
/// matter. Each opening clips the picture once, with the glass nearest the lens that is placed.
#[must_use]
pub fn lower(setup: &Setup, view: View) -> Plan {
    let matrix = colour(setup);
    let mut passes = vec![Pass::Matrix(matrix)];
    // The light outside passes the same glass.
    let mut outside = match setup.light.outside {
        Outside::Mirror => None,
        Outside::Dark => Some([0.0; 3]),
        Outside::Stops(s) => Some(matrix.apply([KEY * s.factor(); 3])),
    };
    let mut spill = spill(setup, &view);
    let stretched = match setup.light.corner_halos {
        CornerHalos::Auto => view.widest_angle() > STRETCHED_FROM,
        CornerHalos::Stretched => true,
        CornerHalos::Even => false,
    };
    let polarises = |g: &Mounted| g.piece.law().polarises.is_some();
    let first_sheet = setup.glass.iter().rposition(polarises);
    // Light meets the front stage first.
    for (i, glass) in setup.glass.iter().enumerate().rev() {
        let law = glass.piece.law();
        if let Some(scatter) = &law.scatter {
            passes.push(Pass::Scatter(ScatterPass {
                laws: vec![scatter.clone().turned(glass.turn)],
                outside,
                stretched,
                fit: None,
            }));
            let passed = scatter.passed();
            outside = outside.map(|o| std::array::from_fn(|c| o[c] * passed[c]));
        }
        // Behind one sheet the sky is polarised along its axis: what a second does is not told by the sun.
        if first_sheet == Some(i) {
            passes.extend(glass.sky().map(Pass::Sky));
        }
        if let Some(plane) = glass.plane(setup) {
            let law = Field {
                planes: vec![plane],
                apertures: Vec::new(),
                ..setup.openings()
            };
            passes.push(Pass::Field(FieldPass { law, fit: None }));
        }
        // Stray light strikes the frontmost glass, and all behind it takes its share of it.
        // It lies over what is outside the frame too: a veil has no border.
        if let Some(level) = spill.take() {
            let lift = colour_of(setup, &setup.glass[..i]).apply(level);
            outside = outside.map(|o| std::array::from_fn(|c| o[c] + lift[c]));
            passes.push(Pass::Lift(lift));
        }
    }
    passes.extend(spill.map(Pass::Lift));
    // What the mounts clip is gone for every ray, scattered or not: it is taken at the lens.
    passes.push(Pass::Field(FieldPass {
        law: setup.openings(),
        fit: None,
    }));
    if setup.compensate != Compensate::None {
        passes.push(Pass::Gain(setup.made_good().factor()));
    }
    Plan { passes, view }
}

/// The matrix of the whole stack's uniform colour.
fn colour(setup: &Setup) -> Matrix3 {
    let through = setup.light.balance_through_glass;
    glass_matrix(&setup.tau(), &setup.scene(), setup.balance(), through)
}

/// The matrix of the uniform colour in some of the glass. A camera balanced through the glass is balanced
/// through all of it, whatever light has passed.
fn colour_of(setup: &Setup, glass: &[Mounted]) -> Matrix3 {
    let plain = |tau: &Spectrum| glass_matrix(tau, &setup.scene(), setup.balance(), false);
    let some = plain(&stack_tau(glass));
    if !setup.light.balance_through_glass {
        return some;
    }
    match plain(&setup.tau()).inverse() {
        Some(back) => colour(setup) * back * some,
        None => some,
    }
}

/// The part of a glass's light that leaves at wide angles: its refracted lobes and its veil.
fn wide(scatter: &Scatter) -> [f64; 3] {
    let lobes = scatter
        .lobes
        .iter()
        .filter(|l| matches!(l.profile, Profile::Harvey { .. }));
    lobes.fold(scatter.veil, |sum, l| {
        std::array::from_fn(|c| sum[c] + l.weight[c])
    })
}

/// Level of the veil that stray light on the front adds before any glass takes its share.
fn spill(setup: &Setup, view: &View) -> Option<[f64; 3]> {
    let stops = setup.light.spill_stops?;
    let level = KEY * stops.factor() * setup.spill_share(view);
    let all = setup
        .glass
        .iter()
        .filter_map(|g| g.piece.law().scatter.as_ref())
        .map(wide)
        .fold([LENS_GLARE; 3], |sum, w| {
            std::array::from_fn(|c| sum[c] + w[c])
        });
    Some(all.map(|part| level * part))
}
