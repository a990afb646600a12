//! stub
use super::{Executor, GpuError, Picture};
/// x
#[derive(Debug, Clone)]
pub struct Codes {
    /// x
    pub sizes: Vec<wgpu::Texture>,
}
/// x
#[derive(Debug)]
pub struct Source(crate::frame::Frame);
impl Executor {
    /// x
    /// # Errors
    /// x
    pub fn codes(&self, _p: &Picture, _n: usize) -> Result<Codes, GpuError> {
        Err(GpuError::Lost)
    }
    /// x
    /// # Errors
    /// x
    pub fn upload(
        &self,
        f: &crate::frame::Frame,
        _w: &crate::watch::Watch,
    ) -> Result<Source, GpuError> {
        Ok(Source(f.clone()))
    }
    /// x
    /// # Errors
    /// x
    pub fn render_from(
        &self,
        s: &Source,
        p: &crate::plan::Plan,
        w: &crate::watch::Watch,
    ) -> Result<Picture, GpuError> {
        self.render(p, &s.0, w)
    }
}
