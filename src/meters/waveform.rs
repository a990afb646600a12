//! Waveform: for every column of the picture, which part of its pixels has which level.
//!
//! The axis is stops against key, even and linear in stops, so that a change of exposure moves a trace and
//! does not bend it. Columns run across the picture from its left; each holds the pixels whose centres it
//! spans, of the picture as [`Reduced`]. Light off the axis is counted, under and over.
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::meters::{Channel, Reduced, waveform::Waveform};
//! // The left half at key, the right two stops over.
//! let light = (0..64).map(|i| if i % 8 < 4 { 0.18 } else { 0.72 }).collect::<Vec<f32>>();
//! let read = Reduced::of(&Frame::from_planes(8, 8, [(); 3].map(|()| light.clone())));
//! let trace = Waveform::usual(&read);
//! let at = |column: usize| trace.mean(Channel::Red, column).unwrap().get();
//! assert_eq!((at(0), at(7)), (0.0, 2.0));
//! ```

use super::reduced::{Axis, Bin, Channel, Reduced};
use crate::units::Stops;
use rayon::prelude::*;

/// Columns of the usual waveform.
pub const COLUMNS: usize = 320;
/// Bins to the stop of the usual waveform.
pub const PER_STOP: u8 = 16;

/// Levels column by column.
#[derive(Debug, Clone, PartialEq)]
pub struct Waveform {
    axis: Axis,
    columns: usize,
    traces: [Trace; 4],
}

/// One channel's trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// The part of a column's pixels in each bin: a column's bins from the lowest, then the next column's.
    pub shares: Vec<f32>,
    /// The part of each column below the axis; no light counts here.
    pub under: Vec<f32>,
    /// The part of each column above the axis.
    pub over: Vec<f32>,
}

impl Waveform {
    /// Of a picture, [`COLUMNS`] across (fewer where it has fewer) on the usual axis.
    #[must_use]
    pub fn usual(picture: &Reduced) -> Self {
        Self::of(picture, Axis::usual(PER_STOP), COLUMNS)
    }

    /// Of a picture, at most so many `columns` across and at least one.
    #[must_use]
    pub fn of(picture: &Reduced, axis: Axis, columns: usize) -> Self {
        let columns = columns.clamp(1, picture.width());
        let mut traces = [const { None }; 4];
        traces
            .par_iter_mut()
            .zip(Channel::ALL)
            .for_each(|(trace, channel)| {
                let plane = picture.plane(channel);
                *trace = Some(Trace::of(plane, picture.width(), &axis, columns));
            });
        let traces = traces.map(|trace| trace.unwrap_or_else(Trace::none));
        Self {
            axis,
            columns,
            traces,
        }
    }

    /// Its axis of stops.
    #[must_use]
    pub const fn axis(&self) -> &Axis {
        &self.axis
    }

    /// Columns across.
    #[must_use]
    pub const fn columns(&self) -> usize {
        self.columns
    }

    /// The trace of a channel.
    #[must_use]
    pub const fn trace(&self, channel: Channel) -> &Trace {
        &self.traces[channel.index()]
    }

    /// The part of each bin in one column, lowest first. Out of range panics, as slices do.
    #[must_use]
    pub fn column(&self, channel: Channel, column: usize) -> &[f32] {
        let bins = self.axis.bins();
        &self.trace(channel).shares[column * bins..(column + 1) * bins]
    }

    /// The mean level of a column's light that is on the axis; None where there is none.
    #[must_use]
    pub fn mean(&self, channel: Channel, column: usize) -> Option<Stops> {
        let bins = self.column(channel, column).iter().enumerate();
        let (sum, all) = bins.fold((0.0, 0.0), |(sum, all), (bin, share)| {
            let share = f64::from(*share);
            (sum + share * self.axis.centre(bin).get(), all + share)
        });
        (all > 0.0).then(|| Stops::clamped(sum / all))
    }
}

impl Trace {
    const fn none() -> Self {
        Self {
            shares: Vec::new(),
            under: Vec::new(),
            over: Vec::new(),
        }
    }

    fn of(plane: &[f32], width: usize, axis: &Axis, columns: usize) -> Self {
        let bins = axis.bins();
        // Two more for what is off the axis.
        let step = bins + 2;
        let mut counts = vec![0_u32; columns * step];
        let column_of: Vec<usize> = (0..width)
            .map(|x| (2 * x + 1) * columns / (2 * width))
            .collect();
        for row in plane.chunks_exact(width) {
            for (light, column) in row.iter().zip(&column_of) {
                let bin = match axis.place(*light) {
                    Bin::In(bin) => bin,
                    Bin::Under => bins,
                    Bin::Over => bins + 1,
                };
                counts[column * step + bin] += 1;
            }
        }
        let mut trace = Self {
            shares: Vec::with_capacity(columns * bins),
            under: Vec::with_capacity(columns),
            over: Vec::with_capacity(columns),
        };
        for column in counts.chunks_exact(step) {
            let all: u32 = column.iter().sum();
            let share = |count: &u32| *count as f32 / all as f32;
            trace.shares.extend(column[..bins].iter().map(share));
            trace.under.push(share(&column[bins]));
            trace.over.push(share(&column[bins + 1]));
        }
        trace
    }
}
