//! EXR: three channels of linear light, PIZ, with chromaticities.

use super::{Output, WriteError, gave_up};
use crate::frame::Frame;
use crate::frame::matrix::mul;
use exr::compression::Compression;
use exr::image::{Blocks, Encoding, Image, Layer, SpecificChannels};
use exr::math::Vec2;
use exr::meta::attribute::{Chromaticities, LineOrder};
use exr::meta::header::LayerAttributes;
use exr::prelude::{WritableImage as _, f16};
use std::io::{Seek, Write};

/// Wavelet compression in strips of scan lines: without loss like ZIP, and several times as fast.
const PACKED: Encoding = Encoding {
    compression: Compression::PIZ,
    blocks: Blocks::ScanLines,
    line_order: LineOrder::Increasing,
};

/// Largest half-precision number.
const HALF: f32 = 65_504.0;

pub(super) fn encode<W: Write + Seek>(
    sink: &mut W,
    frame: &Frame,
    output: &Output,
) -> Result<(), WriteError> {
    let (space, _) = output.space.parts();
    let rows = space.from_working().rows_f32();
    let light = |Vec2(x, y): Vec2<usize>| mul(&rows, frame.pixel(x, y));
    let [red, green, blue, white] = space
        .chromaticities()
        .map(|[x, y]| Vec2(x as f32, y as f32));
    let chromaticities = Some(Chromaticities {
        red,
        green,
        blue,
        white,
    });
    let size = Vec2(frame.width(), frame.height());
    let attributes = LayerAttributes::default();
    let result = if output.half {
        let channels = SpecificChannels::rgb(|at| {
            let [r, g, b] = light(at).map(|v| f16::from_f32(v.clamp(-HALF, HALF)));
            (r, g, b)
        });
        let layer = Layer::new(size, attributes, PACKED, channels);
        let mut image = Image::from_layer(layer);
        image.attributes.chromaticities = chromaticities;
        image.write().to_buffered(sink)
    } else {
        let channels = SpecificChannels::rgb(|at| <(f32, f32, f32)>::from(light(at)));
        let layer = Layer::new(size, attributes, PACKED, channels);
        let mut image = Image::from_layer(layer);
        image.attributes.chromaticities = chromaticities;
        image.write().to_buffered(sink)
    };
    result.map_err(|e| match e {
        exr::error::Error::Io(e) => WriteError::System(e),
        other => gave_up("EXR", &other),
    })
}
