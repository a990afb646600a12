//! The production executor: runs a fitted plan on the processor's cores.

use crate::frame::Frame;
use crate::kernels::{field, lift, matrix, oriented, scatter, sky, stretch};
use crate::plan::{Needs, Pass, Plan, ScatterFit, ScatterPass};
use crate::watch::{Cancelled, Watch};
use std::sync::Arc;

/// Buffers that are kept between pictures.
#[derive(Debug, Default)]
pub struct Scratch {
    scatter: scatter::Scratch,
    oriented: oriented::Scratch,
    stretch: stretch::Scratch,
}

impl Scratch {
    /// Bytes held.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.scatter.bytes() + self.oriented.bytes() + self.stretch.bytes()
    }
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
    passes(&plan.passes, plan, frame, scratch, watch)
}

/// The light that was worked on last, and what it came from: for a picture that is made again through other glass.
#[derive(Debug, Default)]
pub struct Kept {
    /// Which light it is.
    id: u64,
    last: Option<Last>,
    /// Its pyramid.
    scatter: scatter::Scratch,
    /// A picture that nobody looks at any more.
    spare: Option<Frame>,
}

#[derive(Debug)]
struct Last {
    frame: Arc<Frame>,
    plan: Plan,
    needs: Needs,
    /// What the first passes made of the frame; None where there are none.
    light: Option<Frame>,
}

impl Kept {
    /// Bytes held, the frame left out, which is its owner's.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let light = self.last.as_ref().and_then(|last| last.light.as_ref());
        let frames = light.into_iter().chain(&self.spare);
        let pixels = frames.map(|f| f.width() * f.height());
        3 * size_of::<f32>() * pixels.sum::<usize>() + self.scatter.bytes()
    }

    /// Takes a picture that nobody looks at any more: the next one is written over it, since fresh memory takes longer
    /// to be had than to be filled.
    pub fn recycle(&mut self, picture: Frame) {
        self.spare = Some(picture);
    }
}

/// Runs `plan`, which has been fitted, on `frame`, which stays: the same picture as [`execute`] makes, to the bit.
///
/// Where `kept` is that of the last call and the light that its first scatter meets is the same, that is
/// not worked out again, nor its pyramid.
///
/// # Errors
/// [`Cancelled`] when `watch` says so.
///
/// # Panics
/// When a pass has not been fitted.
pub fn again(
    plan: &Plan,
    frame: &Arc<Frame>,
    (kept, scratch): (&mut Kept, &mut Scratch),
    watch: &Watch,
) -> Result<Frame, Cancelled> {
    // In an even field light is made less that field's before it is scattered, which is no light to be kept.
    let needs = plan.first_pyramid().filter(|needs| needs.outside.is_none());
    let Some(needs) = needs else {
        kept.last = None;
        let mut picture = (**frame).clone();
        execute(plan, &mut picture, scratch, watch)?;
        return Ok(picture);
    };
    let serves =
        |last: &Last| Arc::ptr_eq(&last.frame, frame) && plan.goes_on_from(&last.plan, last.needs);
    if !kept.last.as_ref().is_some_and(serves) {
        kept.last = None;
        let light = if needs.light == 0 {
            None
        } else {
            let mut light = (**frame).clone();
            passes(
                &plan.passes[..needs.light],
                plan,
                &mut light,
                scratch,
                &watch.part(0.0, 0.1),
            )?;
            Some(light)
        };
        kept.id += 1;
        kept.last = Some(Last {
            frame: Arc::clone(frame),
            plan: plan.clone(),
            needs,
            light,
        });
    }
    let light = kept.last.as_ref().and_then(|last| last.light.as_ref());
    let light = light.unwrap_or(frame);
    let size = |f: &Frame| [f.width(), f.height()];
    let spare = kept.spare.take().filter(|f| size(f) == size(frame));
    let mut picture = spare.unwrap_or_else(|| Frame::black(frame.width(), frame.height()));
    let (here, rest) = plan.passes[needs.light..].split_at(1);
    if let [Pass::Scatter(pass)] = here {
        let light = (kept.id, light);
        beside(
            pass,
            plan,
            light,
            &mut picture,
            (&mut kept.scatter, &watch.part(0.1, 0.9)),
        )?;
    }
    passes(rest, plan, &mut picture, scratch, &watch.part(0.9, 1.0))?;
    Ok(picture)
}

/// A round scatter of light that stays.
fn beside(
    pass: &ScatterPass,
    plan: &Plan,
    light: (u64, &Frame),
    picture: &mut Frame,
    (scratch, watch): (&mut scatter::Scratch, &Watch),
) -> Result<(), Cancelled> {
    let Some(ScatterFit::Round(mixtures)) = &pass.fit else {
        unreachable!("a pass that keeps its pyramid is round and fitted")
    };
    let border = scatter::Border::from(pass.outside);
    let per_pixel = plan.pixels_per_radian(picture.width());
    let params = scatter::Params::scaled(mixtures, per_pixel, border);
    scatter::beside(light, picture, &params, scratch, watch)
}

fn passes(
    passes: &[Pass],
    plan: &Plan,
    frame: &mut Frame,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let all: f32 = passes.iter().map(cost).sum();
    let mut done = 0.0;
    for pass in passes {
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
