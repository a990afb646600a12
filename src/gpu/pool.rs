//! Buffers that are used again: a picture's own go back when it is dropped.
//!
//! Work on a device is done in the order in which it is handed over, so that a buffer may be lent again while
//! what last used it is still under way: pictures are recorded one at a time ([`super::Executor`]'s `turn`).
//! Whoever borrows one writes every sample of it that is read.

use std::sync::{Arc, Mutex, PoisonError, Weak};

/// Bytes of buffers that lie idle, at most, until somebody says otherwise.
const IDLE: u64 = 1 << 30;

/// Buffers that nobody uses, the one that came back last at the end.
#[derive(Debug)]
pub(super) struct Pool {
    idle: Mutex<Idle>,
}

#[derive(Debug)]
struct Idle {
    buffers: Vec<wgpu::Buffer>,
    most: u64,
}

impl Default for Pool {
    fn default() -> Self {
        let idle = Idle {
            buffers: Vec::new(),
            most: IDLE,
        };
        Self {
            idle: Mutex::new(idle),
        }
    }
}

impl Idle {
    fn bytes(&self) -> u64 {
        self.buffers.iter().map(wgpu::Buffer::size).sum()
    }

    /// Lets the oldest go until the rest is small enough.
    fn trim(&mut self) {
        let mut bytes = self.bytes();
        let mut gone = 0;
        while bytes > self.most && gone < self.buffers.len() {
            bytes -= self.buffers[gone].size();
            gone += 1;
        }
        self.buffers.drain(..gone);
    }
}

impl Pool {
    fn idle(&self) -> std::sync::MutexGuard<'_, Idle> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Lets all that lies idle go.
    pub(super) fn clear(&self) {
        self.idle().buffers.clear();
    }

    /// Bytes that lie idle.
    pub(super) fn bytes(&self) -> u64 {
        self.idle().bytes()
    }

    /// Keeps no more than `most` bytes idle.
    pub(super) fn keep(&self, most: u64) {
        let mut idle = self.idle();
        idle.most = most;
        idle.trim();
    }

    /// A buffer of just so many bytes and such usages: one that came back, or a new one.
    pub(super) fn lend(
        self: &Arc<Self>,
        device: &wgpu::Device,
        size: u64,
        usage: wgpu::BufferUsages,
    ) -> Pooled {
        let mut idle = self.idle();
        let fits = |b: &wgpu::Buffer| b.size() == size && b.usage() == usage;
        let known = idle.buffers.iter().rposition(fits);
        let buffer = match known {
            Some(at) => idle.buffers.remove(at),
            None => device.create_buffer(&wgpu::BufferDescriptor {
                label: Some("pooled"),
                size,
                usage,
                mapped_at_creation: false,
            }),
        };
        Pooled(Arc::new(Lent {
            buffer,
            pool: Arc::downgrade(self),
        }))
    }
}

/// A buffer on loan; clones are the same loan.
#[derive(Debug, Clone)]
pub(super) struct Pooled(Arc<Lent>);

#[derive(Debug)]
struct Lent {
    buffer: wgpu::Buffer,
    pool: Weak<Pool>,
}

impl std::ops::Deref for Pooled {
    type Target = wgpu::Buffer;

    fn deref(&self) -> &wgpu::Buffer {
        &self.0.buffer
    }
}

impl Drop for Lent {
    fn drop(&mut self) {
        if let Some(pool) = self.pool.upgrade() {
            let mut idle = pool.idle();
            idle.buffers.push(self.buffer.clone());
            idle.trim();
        }
    }
}
