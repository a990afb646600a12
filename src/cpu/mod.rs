//! The production executor: runs a fitted plan on the processor's cores.

use crate::frame::Frame;
use crate::kernels::watch::{Cancelled, Watch};
use crate::kernels::{field, lift, matrix, scatter};
use crate::plan::{Pass, Plan};

/// Buffers that are kept between pictures.
#[derive(Debug, Default)]
pub struct Scratch {
    scatter: scatter::Scratch,
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
    let scale = plan.pixels_per_radian(frame.width());
    for pass in &plan.passes {
        watch.check()?;
        match pass {
            Pass::Matrix(m) => matrix::cpu(frame, &matrix::Params::from(m)),
            Pass::Lift(l) => lift::cpu(
                frame,
                &lift::Params {
                    light: l.map(|v| v as f32),
                },
            ),
            Pass::Gain(g) => {
                let m = crate::colour::Matrix3::diagonal([*g; 3]);
                matrix::cpu(frame, &matrix::Params::from(&m));
            }
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
            Pass::Scatter(s) => {
                #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
                let fit = s.fit.as_ref().expect("a fitted plan");
                let channels = fit.clone().map(|m| m.scaled(scale));
                let params = scatter::Params {
                    channels,
                    border: scatter::Border::Mirror,
                };
                scatter::cpu(frame, &params, &mut scratch.scatter, watch)?;
            }
        }
    }
    Ok(())
}
