//! Scopes: levels, colours, painted pictures; the same on a preview and on the full size.

mod colour;
mod command;
mod hostile;
mod levels;
mod painted;
mod same;
mod texture;

use foreglass::frame::Frame;

/// A grey frame, a value for each pixel.
fn grey(width: usize, height: usize, light: impl Fn(usize, usize) -> f64) -> Frame {
    let plane: Vec<f32> = (0..width * height)
        .map(|i| light(i % width, i / width) as f32)
        .collect();
    Frame::from_planes(width, height, [plane.clone(), plane.clone(), plane])
}

fn even(width: usize, height: usize, light: [f32; 3]) -> Frame {
    Frame::from_planes(width, height, light.map(|v| vec![v; width * height]))
}
