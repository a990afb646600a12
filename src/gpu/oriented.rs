//! Scattered light that has a direction: cosines across and down, multiplied, and back, channel by channel.
//!
//! Rows are transformed a run at a time through scratch of at most [`SCRATCH`] bytes; columns are rows of a
//! plane that is turned on its side. So no plane is ever bound whole.

// What is kept from picture to picture.
mod kept;
// One channel's samples.
mod plane;

pub(super) use kept::Kept;

use super::GpuError;
use super::picture::{Rows, bands};
use super::pyramid::Sums;
use super::work::{Run, Work, groups};
use crate::kernels::oriented::Params;
use crate::kernels::oriented::twin::{Kind, Laid, OrientedPart, OrientedStep};
use crate::kernels::oriented::twin::{SHADER, TILE};
use kept::{Factors, Lines, SENT, factor_row, factor_width, factors, lines, send};
use plane::{Plane, Source};
use std::ops::Range;
use std::sync::Arc;

/// Bytes of complex lines at a time, of which there are two lots.
const SCRATCH: u64 = 1 << 25;

/// Bytes of a complex sample.
const COMPLEX: u64 = 8;

/// A picture's scattered light.
pub(super) fn oriented(
    from: &Rows,
    params: &Params<'_>,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    if from.size().contains(&0) {
        return Ok(from.clone());
    }
    let laid = params.laid(from.size());
    Frame::new(work, params, &laid)?.picture(from)
}

/// A picture at work.
struct Frame<'a, 'w> {
    work: &'a mut Work<'w>,
    params: &'a Params<'a>,
    laid: &'a Laid,
    /// Transforms across and down.
    lines: [Arc<Lines>; 2],
    /// Rows, and of a law that is not even those that sines make.
    rows: Plane,
    sine_rows: Option<Plane>,
    /// The same in columns, a column in each row.
    columns: Plane,
    sine_columns: Option<Plane>,
    /// Complex lines, from one to the other.
    scratch: [Plane; 2],
    factors: Option<Arc<Factors>>,
}

impl<'a, 'w> Frame<'a, 'w> {
    fn new(
        work: &'a mut Work<'w>,
        params: &'a Params<'a>,
        laid: &'a Laid,
    ) -> Result<Self, GpuError> {
        let [width, height] = laid.size;
        let lines = [lines(work, width)?, lines(work, height)?];
        let rows = Plane::new(work, width, height)?;
        let columns = Plane::new(work, height, width)?;
        let beside = |plane: &Plane| {
            let plane = (!laid.even).then(|| Plane::new(work, plane.width, plane.height));
            plane.transpose()
        };
        let [sine_rows, sine_columns] = [beside(&rows)?, beside(&columns)?];
        let samples = [(&lines[0], &rows), (&lines[1], &columns)].map(|(lines, plane)| {
            let pairs = bands(
                plane.height.div_ceil(2),
                most_pairs(work, lines, plane.row_bytes()),
            );
            2 * lines.transform.padded * pairs.map(|p| p.len()).max().unwrap_or(1)
        });
        let samples = samples[0].max(samples[1]);
        let scratch = [Plane::new(work, samples, 1)?, Plane::new(work, samples, 1)?];
        let factors = factors(work, params, laid)?;
        Ok(Self {
            work,
            params,
            laid,
            lines,
            rows,
            sine_rows,
            columns,
            sine_columns,
            scratch,
            factors,
        })
    }

    /// All channels, one after another.
    fn picture(mut self, from: &Rows) -> Result<Rows, GpuError> {
        let add = Sums::added_up(&self.laid.veil, from, self.work)?;
        let out = Rows::new(self.work, from.size())?;
        for c in 0..3 {
            self.channel((from, &out), c, &add)?;
        }
        Ok(out)
    }

    /// One channel of a picture into that of another.
    fn channel(
        &mut self,
        (from, out): (&Rows, &Rows),
        c: usize,
        add: &Sums,
    ) -> Result<(), GpuError> {
        let frame = Source::channel(from, c);
        let (rows, columns) = (self.rows.clone(), self.columns.clone());
        let told = |run: &Self, part: f32| run.work.progress((c as f32 + part) / 3.0);
        if self.laid.margin == 0 {
            self.lines(0, (frame, &rows), Kind::Cosines)?;
        } else {
            self.lay(frame, from.width, self.laid.channels[c].level)?;
            self.lines(0, (rows.source(), &rows), Kind::Cosines)?;
        }
        told(self, 0.2);
        self.turn(&rows, &columns)?;
        self.lines(1, (columns.source(), &columns), Kind::Cosines)?;
        told(self, 0.4);
        self.multiply(c)?;
        told(self, 0.6);
        self.lines(1, (columns.source(), &columns), Kind::FromCosines)?;
        self.turn(&columns, &rows)?;
        self.lines(0, (rows.source(), &rows), Kind::FromCosines)?;
        if let (Some(sine_columns), Some(sine_rows)) =
            (self.sine_columns.clone(), self.sine_rows.clone())
        {
            told(self, 0.8);
            self.lines(1, (sine_columns.source(), &sine_columns), Kind::FromSines)?;
            self.turn(&sine_columns, &sine_rows)?;
            self.lines(0, (sine_rows.source(), &sine_rows), Kind::FromSines)?;
        }
        self.merge((from, out), c, add)?;
        told(self, 1.0);
        Ok(())
    }

    /// A dispatch of one sample a thread over `step.size`, each made of `cost` samples.
    fn each(
        &mut self,
        entry: &'static str,
        step: &OrientedStep,
        bound: &[(u32, wgpu::BufferBinding<'_>)],
        cost: u64,
    ) -> Result<(), GpuError> {
        let samples = u64::from(step.size[0]) * u64::from(step.size[1]);
        let run = Run {
            shader: &SHADER,
            entry,
            bound,
            groups: groups(step.size, 1),
            cost: cost * samples,
        };
        self.work.dispatch(step, run)
    }

    /// The frame with its margin, in rows; what differs from the field around it.
    fn lay(&mut self, frame: Source<'_>, width: usize, level: f32) -> Result<(), GpuError> {
        let (rows, margin) = (self.rows.clone(), self.laid.margin);
        let row_bytes = rows.row_bytes().max(frame.row_bytes());
        let most = self.work.most_rows(row_bytes, rows.width as u64);
        let step = |run: &Range<usize>| OrientedStep {
            at: [margin as u32, 0],
            stride: rows.stride() as u32,
            from_stride: frame.stride as u32,
            lane: frame.lane as u32,
            length: width as u32,
            base: level,
            ..OrientedStep::of([rows.width as u32, run.len() as u32])
        };
        let below = margin + frame.height;
        for (first, count) in [(0, margin), (below, rows.height - below)] {
            for run in bands(count, most) {
                let bound = [(1, rows.rows(&(run.start + first..run.end + first)))];
                self.each("darken", &step(&run), &bound, 1)?;
            }
        }
        for run in bands(frame.height, most) {
            let to = rows.rows(&(run.start + margin..run.end + margin));
            self.each("lay", &step(&run), &[(1, to), (2, frame.rows(&run))], 1)?;
        }
        Ok(())
    }

    /// Transforms all rows of a channel, two and two; across those of `rows`, down those of `columns`.
    fn lines(
        &mut self,
        axis: usize,
        (from, to): (Source<'_>, &Plane),
        kind: Kind,
    ) -> Result<(), GpuError> {
        let lines = Arc::clone(&self.lines[axis]);
        let transform = &lines.transform;
        let row_bytes = from.row_bytes().max(to.row_bytes());
        let most = most_pairs(self.work, &lines, row_bytes);
        for pairs in bands(from.height.div_ceil(2), most) {
            let count = pairs.len();
            let rows = 2 * pairs.start..(2 * pairs.end).min(from.height);
            let step = |across: usize| OrientedStep {
                stride: to.stride() as u32,
                from_stride: from.stride as u32,
                lane: from.lane as u32,
                rows: rows.len() as u32,
                ..OrientedStep::through(transform, kind, across, count)
            };
            let used = 2 * transform.padded * count;
            let scratch = self.scratch.clone();
            let [mut near, mut far] = scratch.each_ref().map(|plane| plane.words(used));
            let table = || (7, lines.table.as_entire_buffer_binding());
            let bound = [(2, from.rows(&rows)), (5, near.clone()), table()];
            self.each("gather", &step(transform.padded), &bound, 2)?;
            for round in 0..if transform.chirp.is_some() { 2 } else { 1 } {
                if round == 1 {
                    let bound = [(5, far.clone()), (6, near.clone()), table()];
                    self.each("convolve", &step(transform.padded), &bound, 2)?;
                    std::mem::swap(&mut near, &mut far);
                }
                for part in &transform.parts {
                    let part = OrientedPart::new(transform, part, count);
                    let bound = [(5, far.clone()), (6, near.clone()), table()];
                    let run = Run {
                        shader: &SHADER,
                        entry: "transform",
                        bound: &bound,
                        groups: [part.groups(), 1, 1],
                        cost: (used * transform.cost()) as u64,
                    };
                    self.work.dispatch(&part, run)?;
                    std::mem::swap(&mut near, &mut far);
                }
            }
            let bound = [(1, to.rows(&rows)), (6, near), table()];
            self.each("spread", &step(transform.length), &bound, 4)?;
        }
        Ok(())
    }

    /// Rows of one plane into the columns of another, a piece of either at a time.
    fn turn(&mut self, from: &Plane, to: &Plane) -> Result<(), GpuError> {
        let most = |plane: &Plane| self.work.most_rows(plane.row_bytes(), plane.width as u64);
        let [most_from, most_to] = [most(from), most(to)];
        for rows in bands(from.height, most_from) {
            for columns in bands(to.height, most_to) {
                let size = [columns.len(), rows.len()];
                let step = OrientedStep {
                    at: [columns.start as u32, rows.start as u32],
                    stride: to.stride() as u32,
                    from_stride: from.stride() as u32,
                    ..OrientedStep::of(size.map(|n| n as u32))
                };
                let [across, down] = size.map(|n| n.div_ceil(TILE) as u32);
                let run = Run {
                    shader: &SHADER,
                    entry: "turn",
                    bound: &[(1, to.rows(&columns)), (2, from.rows(&rows))],
                    groups: [across, down, 1],
                    cost: (size[0] * size[1]) as u64,
                };
                self.work.dispatch(&step, run)?;
            }
        }
        Ok(())
    }

    /// Cosines times their factors, which are there or made on the way; and the sines that they leave.
    fn multiply(&mut self, c: usize) -> Result<(), GpuError> {
        let factors = self.factors.clone();
        let kept = factors.as_ref().map(|f| &f.planes[c]);
        let columns = self.columns.clone();
        let most = self
            .work
            .most_rows(factor_row(self.laid), columns.width as u64);
        let most = kept.map_or(most.min(SENT / factor_row(self.laid)), |_| most);
        for run in bands(columns.height, most) {
            let made;
            let from = match kept {
                Some(plane) => plane.rows(&run),
                None => {
                    made = Plane::new(self.work, factor_width(self.laid), run.len())?;
                    send(self.work, (self.params, self.laid), c, &run, (&made, 0))?;
                    made.rows(&(0..run.len()))
                }
            };
            let step = OrientedStep {
                stride: columns.stride() as u32,
                from_stride: (factor_row(self.laid) / 4) as u32,
                ..OrientedStep::of([columns.width as u32, run.len() as u32])
            };
            let mut bound = vec![(1, columns.rows(&run)), (2, from)];
            let sines = self.sine_columns.clone();
            bound.extend(sines.as_ref().map(|sines| (4, sines.rows(&run))));
            let entry = if sines.is_some() {
                "multiply_both"
            } else {
                "multiply"
            };
            // What is written is read first.
            self.work.count(run.len() as u64 * columns.row_bytes());
            self.each(entry, &step, &bound, 3)?;
        }
        Ok(())
    }

    /// What stays of the light, what is scattered, and what is added everywhere.
    fn merge(&mut self, (from, out): (&Rows, &Rows), c: usize, add: &Sums) -> Result<(), GpuError> {
        let (rows, margin) = (self.rows.clone(), self.laid.margin);
        let sines = self.sine_rows.clone();
        let frame = Source::channel(from, c);
        let row_bytes = rows.row_bytes().max(frame.row_bytes());
        let most = self.work.most_rows(row_bytes, 3 * from.width as u64);
        for run in bands(from.height, most) {
            let under = run.start + margin..run.end + margin;
            let step = OrientedStep {
                at: [margin as u32, 0],
                stride: frame.stride as u32,
                from_stride: rows.stride() as u32,
                lane: frame.lane as u32,
                channel: c as u32,
                factor: self.laid.channels[c].direct,
                ..OrientedStep::of([from.width as u32, run.len() as u32])
            };
            let mut bound = vec![
                (1, out.rows(&run)),
                (2, rows.rows(&under)),
                (3, add.added()),
                (8, frame.rows(&run)),
            ];
            bound.extend(sines.as_ref().map(|sines| (4, sines.rows(&under))));
            let entry = if sines.is_some() {
                "merge_both"
            } else {
                "merge"
            };
            self.each(entry, &step, &bound, 3)?;
        }
        Ok(())
    }
}

/// Pairs of rows that are transformed at a time.
fn most_pairs(work: &Work<'_>, lines: &Lines, row_bytes: u64) -> u64 {
    let padded = lines.transform.padded as u64;
    let room = SCRATCH.min(work.limits().piece) / (COMPLEX * padded);
    let patience = work.portion() / (2 * padded * lines.transform.cost() as u64);
    let bound = work.limits().piece / (2 * row_bytes);
    room.min(patience).min(bound)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame;
    use crate::kernels::scatter::Border;
    use crate::optics::lines::{Form, Lines as Streaks};
    use crate::optics::response::Response;
    use crate::optics::scatter::{Lobe, Profile, Scatter};
    use crate::units::{Degrees, Micrometres};
    use crate::watch::Watch;

    /// Factors that are too many to be kept, and those that are: the same picture to the bit.
    #[test]
    fn factors_are_made_on_the_way() -> Result<(), GpuError> {
        // The tests of twins say whether there must be an adapter.
        let Ok(gpu) = crate::gpu::find() else {
            return Ok(());
        };
        let gpu = gpu.in_pieces_of(1 << 14);
        let form = Form::Groove {
            width: Micrometres::clamped(30.0),
            spread: 0.3,
        };
        let [turn, waver] = [30.0, 0.0].map(Degrees::clamped);
        let pitch = Micrometres::clamped(1000.0);
        let streaks = Streaks {
            turn,
            form,
            waver,
            pitch,
        };
        let law = Scatter {
            direct: [0.7; 3],
            lobes: vec![Lobe::grey(0.2, Profile::Lines(streaks))],
            veil: [0.02; 3],
            absorbed: [0.08; 3],
        };
        let params = Params {
            response: &Response::of(&[law]),
            per_pixel: 3000.0,
            border: Border::Mirror,
            whole: true,
        };
        let plane: Vec<f32> = (0..70 * 41).map(|i| (i % 37) as f32).collect();
        let frame = frame::Frame::from_planes(70, 41, [plane.clone(), plane.clone(), plane]);
        let laid = params.laid([70, 41]);
        let mut outs = Vec::new();
        for keep in [true, false] {
            let watch = Watch::default();
            let mut work = Work::new(&gpu, &watch);
            let from = Rows::upload(&mut work, &frame)?;
            let mut run = Frame::new(&mut work, &params, &laid)?;
            assert!(run.factors.is_some(), "a small picture's are kept");
            if !keep {
                run.factors = None;
            }
            let out = run.picture(&from)?;
            work.finish()?;
            outs.push(out.read(&mut work)?);
        }
        assert!(outs[0] != frame, "light was scattered");
        assert!(outs[0] == outs[1], "kept or not");
        Ok(())
    }
}
