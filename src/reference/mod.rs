//! The double-precision executor that holds the others to account. It reads the exact laws of a plan
//! and never their fits, runs on 64-bit planes, and is slow.

// The same in direction cosines, for wide lenses.
mod stretch;
// Scattered light through its exact transfer function.
pub mod scatter;

use crate::frame::Frame;
use crate::optics::field::{Field, View};
use crate::optics::pixel;
use crate::optics::scatter::{Scatter, ScatterLaw};
use crate::optics::tint::matrix;
use crate::plan::{Pass, Plan, ScatterPass};
use crate::watch::{Cancelled, Watch};
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

/// How wide an even field outside is made, in the frame's longer sides: of a lobe that falls as the cube
/// of the angle, light mirrored at its end is within half a per cent of what the frame's own far side sends.
const MARGIN: usize = 3;

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
        Pass::Sky(sky) => {
            let view = &plan.view;
            for plane in planes {
                plane.par_iter_mut().enumerate().for_each(|(i, v)| {
                    let x = ((i % width) as f64 + 0.5) / width as f64 - 0.5;
                    let y = 0.5 - ((i / width) as f64 + 0.5) / height as f64;
                    *v *= sky.at(view, x * view.width_mm, y * view.height_mm);
                });
            }
        }
        Pass::Scatter(s) if s.stretched => stretch::scatter(s, &plan.view, planes, width, height),
        Pass::Scatter(s) => scatter_pass(s, plan.pixels_per_radian(width), planes, width, height),
    }
    Ok(())
}

/// Scattered light. An even field outside is a wide margin of it, [`MARGIN`] of the frame's longer sides on
/// every side: what is mirrored at its end lies twice as far away.
fn scatter_pass(
    pass: &ScatterPass,
    per_pixel: f64,
    planes: &mut [Vec<f64>; 3],
    width: usize,
    height: usize,
) {
    let laws: Vec<_> = pass.laws.iter().map(Scatter::law).collect();
    let (direct, veil) = (direct(&laws), veil(pass, &laws));
    let run = |planes: &mut [Vec<f64>; 3], width: usize, height: usize, veil: [f64; 3]| {
        if pass.is_round() {
            let transfer = |channel: usize, nu: f64| {
                laws.iter()
                    .map(|l| l.transfer(channel, nu * per_pixel))
                    .product::<f64>()
            };
            scatter::scatter(planes, width, height, transfer, veil);
        } else {
            let transfer = |channel: usize, nu: [f64; 2]| {
                let all: f64 = laws
                    .iter()
                    .map(|l| l.transfer_at(channel, nu.map(|n| n * per_pixel)))
                    .product();
                let straight = direct[channel];
                (all - straight).mul_add(pixel::aperture(nu[0].hypot(nu[1])), straight)
            };
            scatter::oriented(planes, width, height, transfer, veil);
        }
    };
    let Some(outside) = pass.outside else {
        return run(planes, width, height, veil);
    };
    let margin = MARGIN * width.max(height);
    let (wide, high) = (width + 2 * margin, height + 2 * margin);
    let mut veiled = [0.0; 3];
    let mut large: [Vec<f64>; 3] = std::array::from_fn(|c| {
        let mean = planes[c].iter().sum::<f64>() / planes[c].len() as f64;
        veiled[c] = veil[c] * 0.5 * (mean + outside[c]);
        let mut plane = vec![outside[c]; wide * high];
        for (row, into) in planes[c]
            .chunks(width)
            .zip(plane.chunks_mut(wide).skip(margin))
        {
            into[margin..margin + width].copy_from_slice(row);
        }
        plane
    });
    run(&mut large, wide, high, [0.0; 3]);
    for c in 0..3 {
        let rows = large[c].chunks(wide).skip(margin);
        for (row, from) in planes[c].chunks_mut(width).zip(rows) {
            for (out, light) in row.iter_mut().zip(&from[margin..margin + width]) {
                *out = light + veiled[c];
            }
        }
    }
}

/// What goes straight through all of the glass, per channel.
fn direct(laws: &[ScatterLaw]) -> [f64; 3] {
    std::array::from_fn(|c| laws.iter().map(|l| l.direct(c)).product())
}

/// What is spread over the whole field, per channel: a veil, and what a later glass does to it, is what
/// the product of the totals has over the product of the transfers at zero frequency.
fn veil(pass: &ScatterPass, laws: &[ScatterLaw]) -> [f64; 3] {
    std::array::from_fn(|c| {
        let total: f64 = pass.laws.iter().map(|l| l.passed()[c]).product();
        total - laws.iter().map(|l| l.transfer(c, 0.0)).product::<f64>()
    })
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
