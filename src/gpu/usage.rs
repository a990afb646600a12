//! What the last picture took, for those who measure.

use super::GpuError;
use super::work::Work;

/// Submissions of one picture whose time is told, at most.
const TIMED: u32 = 512;

/// What was asked of the device for one picture.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Usage {
    /// Runs of a shader.
    pub dispatches: u32,
    /// Submissions to the device.
    pub submissions: u32,
    /// Bytes that they read and write, each dispatch's counted once: what a device without any cache between
    /// two dispatches would move.
    pub bytes: u64,
    /// Seconds from the beginning to the end of each submission's shaders, added up; None where the device
    /// does not tell, or was not asked ([`super::Executor::timed`]).
    pub seconds: Option<f64>,
}

/// Clock readings of a device.
#[derive(Debug)]
pub(super) struct Clock {
    set: wgpu::QuerySet,
    resolved: wgpu::Buffer,
    /// Seconds of a tick.
    period: f64,
}

impl Clock {
    /// None where the device tells no time.
    pub(super) fn new(device: &wgpu::Device, queue: &wgpu::Queue) -> Option<Self> {
        let tells = device.features().contains(wgpu::Features::TIMESTAMP_QUERY);
        tells.then(|| Self {
            set: device.create_query_set(&wgpu::QuerySetDescriptor {
                label: Some("clock"),
                ty: wgpu::QueryType::Timestamp,
                count: 2 * TIMED,
            }),
            resolved: device.create_buffer(&wgpu::BufferDescriptor {
                label: Some("clock"),
                size: u64::from(2 * TIMED) * size_of::<u64>() as u64,
                usage: wgpu::BufferUsages::QUERY_RESOLVE | wgpu::BufferUsages::COPY_SRC,
                mapped_at_creation: false,
            }),
            period: f64::from(queue.get_timestamp_period()) * 1e-9,
        })
    }

    /// What a submission, counted from 0, writes down.
    pub(super) fn writes(&self, submission: u32) -> Option<wgpu::ComputePassTimestampWrites<'_>> {
        (submission < TIMED).then(|| wgpu::ComputePassTimestampWrites {
            query_set: &self.set,
            beginning_of_pass_write_index: Some(2 * submission),
            end_of_pass_write_index: Some(2 * submission + 1),
        })
    }

    /// Seconds of the first `submissions`, once all are done.
    pub(super) fn read(&self, submissions: u32, work: &mut Work<'_>) -> Result<f64, GpuError> {
        let count = 2 * submissions.min(TIMED);
        if count == 0 {
            return Ok(0.0);
        }
        work.encoder()
            .resolve_query_set(&self.set, 0..count, &self.resolved, 0);
        let bytes = u64::from(count) * size_of::<u64>() as u64;
        let told = work.download(&self.resolved, 0, bytes)?;
        let ticks: Vec<u64> = bytemuck::pod_collect_to_vec(&told);
        let spent = ticks
            .chunks_exact(2)
            .map(|both| both[1].saturating_sub(both[0]));
        Ok(spent.sum::<u64>() as f64 * self.period)
    }
}
