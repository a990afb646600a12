//! The double-precision executor that holds the others to account. It reads the exact laws of a plan
//! and never their fits, runs on 64-bit planes, and is slow.

// Scattered light through its exact transfer function.
pub mod scatter;

use crate::frame::Frame;
use crate::kernels::watch::{Cancelled, Watch};
use crate::optics::field::{Field, View};
use crate::optics::scatter::Scatter;
use crate::optics::tint::matrix;
use crate::plan::{Pass, Plan};
use rayon::prelude::*;

/// Runs `plan` on a copy of `frame`.
///
/// # Errors
/// [`ReferenceError::Cancelled`] when `watch` says so.
pub fn execute(plan: &Plan, frame: &Frame, watch: &Watch) -> Result<Frame, ReferenceError> {
    let (width, height) = (frame.width(), frame.height());
    let mut planes = wide(frame.planes());
    for pass in &plan.passes {
        watch.check()?;
        step(pass, plan, &mut planes, width, height)?;
    }
    let narrow = |plane: &Vec<f64>| plane.par_iter().map(|&v| v as f32).collect();
    let [r, g, b] = &planes;
    Ok(Frame::from_planes(
        width,
        height,
        [narrow(r), narrow(g), narrow(b)],
    ))
}

/// Why the reference gave no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReferenceError {
    /// It was told to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Runs one pass on 64-bit planes.
fn step(
    pass: &Pass,
    plan: &Plan,
    planes: &mut [Vec<f64>; 3],
    width: usize,
    height: usize,
) -> Result<(), ReferenceError> {
    match pass {
        Pass::Matrix(m) => {
            let [r, g, b] = planes;
            r.par_iter_mut().zip(g).zip(b).for_each(|((r, g), b)| {
                [*r, *g, *b] = m.apply([*r, *g, *b]);
            });
        }
        Pass::Gain(gain) => {
            planes
                .iter_mut()
                .for_each(|p| p.par_iter_mut().for_each(|v| *v *= gain));
        }
        Pass::Lift(light) => {
            for (plane, light) in planes.iter_mut().zip(light) {
                plane.par_iter_mut().for_each(|v| *v += light);
            }
        }
        Pass::Field(f) => field(&f.law, &plan.view, planes, width),
        Pass::Scatter(s) => {
            let per_pixel = plan.pixels_per_radian(width);
            let laws: Vec<_> = s.laws.iter().map(Scatter::law).collect();
            let transfer = |channel: usize, nu: f64| {
                laws.iter()
                    .map(|l| l.transfer(channel, nu * per_pixel))
                    .product::<f64>()
            };
            // A veil, and what a later glass does to it, is what the product of the totals has over
            // the product of the transfers at zero frequency.
            let total: f64 = s.laws.iter().map(|l| 1.0 - l.absorbed).product();
            let veil = std::array::from_fn(|c| total - transfer(c, 0.0));
            scatter::scatter(planes, width, height, transfer, veil);
        }
    }
    Ok(())
}

/// Placed glass and openings, at every pixel by itself.
fn field(law: &Field, view: &View, planes: &mut [Vec<f64>; 3], width: usize) {
    let (w, h) = (width as f64, (planes[0].len() / width) as f64);
    let place = |i: usize| {
        let x = ((i % width) as f64 + 0.5) / w - 0.5;
        let y = 0.5 - ((i / width) as f64 + 0.5) / h;
        [x * view.width_mm, y * view.height_mm]
    };
    let all = (0..planes[0].len()).into_par_iter().with_min_len(64);
    let at = all.map(place);
    let Some(coloured) = law.coloured() else {
        let seen: Vec<f64> = at.map(|[x, y]| law.at(view, x, y)).collect();
        for plane in planes {
            plane.par_iter_mut().zip(&seen).for_each(|(v, t)| *v *= t);
        }
        return;
    };
    let [r, g, b] = planes;
    let light = r.par_iter_mut().zip(g).zip(b);
    light.zip(at).for_each(|(((r, g), b), [x, y])| {
        let m = matrix(&coloured.at(view, x, y));
        [*r, *g, *b] = m.apply([*r, *g, *b]);
    });
}

fn wide(planes: &[Vec<f32>; 3]) -> [Vec<f64>; 3] {
    std::array::from_fn(|c| planes[c].par_iter().map(|&v| f64::from(v)).collect())
}
