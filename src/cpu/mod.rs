//! The production executor: runs a fitted plan on the processor's cores.

use crate::frame::Frame;
use crate::kernels::{field, lift, matrix, oriented, scatter, sky, stretch};
use crate::plan::{Pass, Plan, ScatterFit, ScatterPass};
use crate::watch::{Cancelled, Watch};

/// Buffers that are kept between pictures.
#[derive(Debug, Default)]
pub struct Scratch {
    scatter: scatter::Scratch,
    oriented: oriented::Scratch,
    stretch: stretch::Scratch,
}

/// Runs `plan`, which has been fitted, on `frame` in place.
///
/// Accuracy: scattered light within 0.2 % RMS of the reference, fit included; see each kernel's own
/// tolerance.
///
/// # Errors
/// [`Cancelled`] when `watch` says so; the frame is then in pieces and of no use.
///
/// # Panics
/// When a pass has not been fitted.
pub fn execute(
    plan: &Plan,
    frame: &mut Frame,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let all: f32 = plan.passes.iter().map(cost).sum();
    let mut done = 0.0;
    for pass in &plan.passes {
        watch.check()?;
        let from = done / all;
        done += cost(pass);
        let watch = &watch.part(from, done / all);
        match pass {
            Pass::Matrix(m) => matrix::cpu(frame, &matrix::Params::from(m)),
            Pass::Lift(l) => lift::cpu(frame, &lift::Params::from(*l)),
            Pass::Sky(sky) => sky::cpu(
                frame,
                &sky::Params {
                    sky,
                    view: plan.view,
                },
            ),
            Pass::Gain(g) => matrix::cpu(frame, &matrix::Params::gain(*g)),
            Pass::Field(f) => {
                #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
                let fit = f.fit.as_ref().expect("a fitted plan");
                field::cpu(
                    frame,
                    &field::Params {
                        fit,
                        view: plan.view,
                    },
                );
            }
            Pass::Scatter(s) => scatter_pass(s, plan, frame, scratch, watch)?,
        }
        watch.set_progress(1.0);
    }
    Ok(())
}

/// What a pass takes, about, against one that looks at each pixel once.
const fn cost(pass: &Pass) -> f32 {
    match pass {
        Pass::Scatter(_) => 8.0,
        Pass::Matrix(_) | Pass::Lift(_) | Pass::Sky(_) | Pass::Gain(_) | Pass::Field(_) => 1.0,
    }
}

fn scatter_pass(
    pass: &ScatterPass,
    plan: &Plan,
    frame: &mut Frame,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let border = scatter::Border::from(pass.outside);
    #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
    let fit = pass.fit.as_ref().expect("a fitted plan");
    if pass.stretched {
        let law = match fit {
            ScatterFit::Round(mixtures) => stretch::Law::Round(mixtures),
            ScatterFit::Oriented(response) => stretch::Law::Oriented(response),
        };
        let params = stretch::Params {
            law,
            view: plan.view,
            border,
        };
        return stretch::cpu(frame, &params, &mut scratch.stretch, watch);
    }
    let per_pixel = plan.pixels_per_radian(frame.width());
    match fit {
        ScatterFit::Round(mixtures) => {
            let params = scatter::Params::scaled(mixtures, per_pixel, border);
            scatter::cpu(frame, &params, &mut scratch.scatter, watch)
        }
        ScatterFit::Oriented(response) => {
            let params = oriented::Params {
                response,
                per_pixel,
                border,
                whole: true,
            };
            oriented::cpu(frame, &params, &mut scratch.oriented, watch)
        }
    }
}
