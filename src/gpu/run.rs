//! A plan's passes, one after another, and what is kept of a picture from one plan to the next.

use super::picture::{Picture, Rows};
use super::point::{self, FieldTable};
use super::pyramid::Pyramid;
use super::scatter::Design;
use super::work::Work;
use super::{Executor, GpuError, oriented, scatter, stretch};
use crate::frame::Frame;
use crate::kernels::oriented as directed;
use crate::kernels::scatter::{self as kernel, Border};
use crate::kernels::stretch as stretched;
use crate::kernels::{field, lift, matrix, sky};
use crate::optics::field::View;
use crate::plan::{FieldPass, Needs, Pass, Plan, ScatterFit, ScatterPass};
use std::sync::{Arc, Mutex, PoisonError};

/// Fields whose tables are kept on the device.
const FIELDS: usize = 2;

/// A frame on the device, of which many plans are to make pictures.
///
/// With it is kept what the first round scatter of the last plan read, and its pyramid: a plan that does the same
/// before that scatter takes both as they are.
///
/// On the device: 12 bytes a pixel, and up to 16 more once a plan with such a scatter has run.
#[derive(Debug)]
pub struct Source {
    pub(super) rows: Rows,
    kept: Mutex<Option<Kept>>,
}

impl Source {
    pub(super) fn upload(frame: &Frame, work: &mut Work<'_>) -> Result<Self, GpuError> {
        Ok(Self {
            rows: Rows::upload(work, frame)?,
            kept: Mutex::default(),
        })
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.rows.width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.rows.height
    }

    /// Bytes held on the device, with what is kept for the next plan.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        self.rows.bytes() + kept.as_ref().map_or(0, Kept::bytes)
    }

    /// Lets go of all but the frame.
    pub fn forget(&self) {
        *self.kept.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

/// What the first round scatter of a plan reads.
#[derive(Debug)]
struct Kept {
    /// Whose it is, and what it depends on.
    plan: Plan,
    needs: Needs,
    input: Rows,
    pyramid: Pyramid,
}

impl Kept {
    fn bytes(&self) -> u64 {
        let levels = self.pyramid.levels.iter().map(Rows::bytes);
        let is_frame = self.needs.light == 0;
        let input = if is_frame { 0 } else { self.input.bytes() };
        input + levels.sum::<u64>()
    }
}

/// A frame's picture, and nothing kept; the frame's own buffer is let go as soon as nothing reads it.
pub(super) fn once(plan: &Plan, frame: &Frame, work: &mut Work<'_>) -> Result<Picture, GpuError> {
    let mut rows = Rows::upload(work, frame)?;
    let mut rest = plan.passes.as_slice();
    let mut from = 0.0;
    if let Some(needs) = plan.first_pyramid()
        && let Some((before, pass, after)) = around(plan, needs)
    {
        let design = designed(pass, plan, &rows, work)?;
        let (input, mut pyramid) = light(before, &design, plan, rows, work)?;
        work.span([0.3, 0.8]);
        rows = scatter::scatter(&input, &design, &mut pyramid, work)?;
        (rest, from) = (after, 0.8);
    }
    let rows = passes(rest, plan, rows, work, [from, 1.0])?;
    work.finish()?;
    Ok(Picture { rows })
}

/// A source's picture.
pub(super) fn again(
    plan: &Plan,
    source: &Source,
    work: &mut Work<'_>,
) -> Result<Picture, GpuError> {
    let mut place = source.kept.lock().unwrap_or_else(PoisonError::into_inner);
    let needs = plan.first_pyramid();
    let parts = needs.and_then(|needs| Some((needs, around(plan, needs)?)));
    let Some((needs, (before, pass, after))) = parts else {
        let rows = source.rows.clone();
        let rows = passes(&plan.passes, plan, rows, work, [0.0, 1.0])?;
        work.finish()?;
        return Ok(Picture { rows });
    };
    let design = designed(pass, plan, &source.rows, work)?;
    // A first level that is made with the picture is not to the bit what is made of the picture afterwards.
    let is_deep = design.laid.levels.len() > 1;
    let serves = |kept: &Kept| {
        plan.goes_on_from(&kept.plan, kept.needs) && kept.pyramid.levels.is_empty() != is_deep
    };
    // Out of its place until all is done: what was recorded and never ran is not kept.
    let mut kept = match place.take().filter(serves) {
        Some(kept) => kept,
        None => {
            let (input, pyramid) = light(before, &design, plan, source.rows.clone(), work)?;
            Kept {
                plan: plan.clone(),
                needs,
                input,
                pyramid,
            }
        }
    };
    work.span([0.3, 0.8]);
    let rows = scatter::scatter(&kept.input, &design, &mut kept.pyramid, work)?;
    let rows = passes(after, plan, rows, work, [0.8, 1.0])?;
    work.finish()?;
    *place = Some(kept);
    Ok(Picture { rows })
}

/// What comes before the scatter that `needs` speaks of, that scatter, and what comes after it.
fn around(plan: &Plan, needs: Needs) -> Option<(&[Pass], &ScatterPass, &[Pass])> {
    let (before, rest) = plan.passes.split_at(needs.light);
    match rest {
        [Pass::Scatter(pass), after @ ..] => Some((before, pass, after)),
        _ => None,
    }
}

/// The light that a plan's first pyramid is of, and as much of that as is made with it: the first coarser level, where
/// what comes last before the scatter is a colour or placed glass and the frame is mirrored.
fn light(
    before: &[Pass],
    design: &Design,
    plan: &Plan,
    rows: Rows,
    work: &mut Work<'_>,
) -> Result<(Rows, Pyramid), GpuError> {
    let (rest, field) = match before {
        [rest @ .., Pass::Field(f)] => (rest, Some(f)),
        _ => (before, None),
    };
    let coloured = rest.split_last();
    let coloured = coloured.and_then(|(last, first)| Some((first, uniform(last)?)));
    let (first, colour) = coloured.unwrap_or((rest, matrix::Params::gain(1.0)));
    let begins = first.len() < before.len() && design.laid.levels.len() > 1 && !design.laid.dark;
    if !begins {
        let rows = passes(before, plan, rows, work, [0.0, 0.3])?;
        return Ok((rows, Pyramid::default()));
    }
    let part = 0.3 * first.len() as f32 / before.len() as f32;
    let rows = passes(first, plan, rows, work, [0.0, part])?;
    work.span([part, 0.3]);
    let table = match field {
        Some(field) => Some(work.field(field, plan.view, rows.size())?),
        None => None,
    };
    point::halved(&rows, &colour, table.as_ref(), &design.laid, work)
}

/// What is designed for a scatter whose halos are alike all over the frame and in all directions: what a pyramid serves.
fn designed(
    pass: &ScatterPass,
    plan: &Plan,
    from: &Rows,
    work: &Work<'_>,
) -> Result<Arc<Design>, GpuError> {
    let ScatterFit::Round(mixtures) = fitted(pass) else {
        unreachable!("only what is round runs on a pyramid")
    };
    let per_pixel = plan.pixels_per_radian(from.width);
    let params = kernel::Params::scaled(mixtures, per_pixel, Border::from(pass.outside));
    work.design(&params, from.size())
}

/// Does some of a plan's passes; `span` is the part of all the work that they are.
fn passes(
    passes: &[Pass],
    plan: &Plan,
    mut rows: Rows,
    work: &mut Work<'_>,
    [from, to]: [f32; 2],
) -> Result<Rows, GpuError> {
    let part = (to - from) / passes.len().max(1) as f32;
    let mut i = 0;
    while i < passes.len() {
        work.span([
            part.mul_add(i as f32, from),
            part.mul_add((i + 1) as f32, from),
        ]);
        // A uniform colour before a field goes with it.
        if let (Some(before), Some(Pass::Field(f))) = (uniform(&passes[i]), passes.get(i + 1)) {
            rows = placed(f, &before, plan, &rows, work)?;
            i += 2;
        } else {
            rows = run(&passes[i], plan, &rows, work)?;
            i += 1;
        }
    }
    Ok(rows)
}

/// The matrix of a pass that is nothing else.
fn uniform(pass: &Pass) -> Option<matrix::Params> {
    match pass {
        Pass::Matrix(m) => Some(matrix::Params::from(m)),
        Pass::Gain(g) => Some(matrix::Params::gain(*g)),
        Pass::Lift(_) | Pass::Sky(_) | Pass::Field(_) | Pass::Scatter(_) => None,
    }
}

fn run(pass: &Pass, plan: &Plan, from: &Rows, work: &mut Work<'_>) -> Result<Rows, GpuError> {
    let view = plan.view;
    match pass {
        Pass::Matrix(m) => point::matrix(from, &matrix::Params::from(m), work),
        Pass::Gain(g) => point::matrix(from, &matrix::Params::gain(*g), work),
        Pass::Lift(l) => point::lift(from, &lift::Params::from(*l), work),
        Pass::Sky(sky) => point::sky(from, &sky::Params { sky, view }, work),
        Pass::Field(f) => placed(f, &matrix::Params::gain(1.0), plan, from, work),
        Pass::Scatter(s) => scattered(s, plan, from, work),
    }
}

/// Placed glass, after a uniform colour.
fn placed(
    pass: &FieldPass,
    before: &matrix::Params,
    plan: &Plan,
    from: &Rows,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let laid = work.field(pass, plan.view, from.size())?;
    point::field(from, before, &laid, work)
}

/// A field's table on the device, and what it is of.
#[derive(Debug)]
pub(super) struct KeptField {
    pass: FieldPass,
    view: View,
    size: [usize; 2],
    laid: FieldTable,
}

impl Executor {
    /// A field's table: one of the last pictures' where it serves.
    pub(super) fn field(
        &self,
        pass: &FieldPass,
        view: View,
        size: [usize; 2],
        work: &Work<'_>,
    ) -> Result<FieldTable, GpuError> {
        let mut kept = self.fields.lock().unwrap_or_else(PoisonError::into_inner);
        let known = |k: &KeptField| k.size == size && k.view == view && k.pass == *pass;
        if let Some(at) = kept.iter().position(known) {
            return Ok(kept[at].laid.clone());
        }
        #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
        let fit = pass.fit.as_ref().expect("a fitted plan");
        let laid = FieldTable::new(&field::Params { fit, view }, size, work)?;
        kept.truncate(FIELDS - 1);
        let entry = KeptField {
            pass: pass.clone(),
            view,
            size,
            laid: laid.clone(),
        };
        kept.insert(0, entry);
        Ok(laid)
    }
}

fn scattered(
    pass: &ScatterPass,
    plan: &Plan,
    from: &Rows,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let border = Border::from(pass.outside);
    let fit = fitted(pass);
    if pass.stretched {
        let law = match fit {
            ScatterFit::Round(mixtures) => stretched::Law::Round(mixtures),
            ScatterFit::Oriented(response) => stretched::Law::Oriented(response),
        };
        let view = plan.view;
        return stretch::stretch(from, &stretched::Params { law, view, border }, work);
    }
    let per_pixel = plan.pixels_per_radian(from.width);
    match fit {
        ScatterFit::Round(_) => {
            let design = designed(pass, plan, from, work)?;
            scatter::scatter(from, &design, &mut Pyramid::default(), work)
        }
        ScatterFit::Oriented(response) => {
            let params = directed::Params {
                response,
                per_pixel,
                border,
                whole: true,
            };
            oriented::oriented(from, &params, work)
        }
    }
}

fn fitted(pass: &ScatterPass) -> &ScatterFit {
    #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
    pass.fit.as_ref().expect("a fitted plan")
}
