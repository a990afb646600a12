//! EXR: what is written comes back, and other programs' layouts are understood.

use super::{bytes_of, light, near, ok};
use foreglass::frame::{Encoding as Code, Kind, Output, OutputSpace, read_bytes};
use std::io::Cursor;

#[test]
fn exr_comes_back_to_the_bit_and_says_what_it_holds() {
    let frame = light(37, 23);
    let still = ok(&bytes_of(Kind::Exr, &frame, &Output::for_kind(Kind::Exr)));
    near(&frame, &still.frame, 1e-6);
    assert!(still.frame.planes()[0][0] < 0.0, "negative light is kept");
    assert!(
        still.how.starts_with("float EXR, linear, primaries from"),
        "{}",
        still.how
    );
    let half = Output {
        half: true,
        ..Output::for_kind(Kind::Exr)
    };
    let still = ok(&bytes_of(Kind::Exr, &frame, &half));
    near(&frame, &still.frame, 1.0 / 1024.0);
    assert_eq!(still.native.bits, 16, "half precision");
    for space in OutputSpace::ALL {
        let output = Output {
            space,
            ..Output::for_kind(Kind::Exr)
        };
        near(
            &frame,
            &ok(&bytes_of(Kind::Exr, &frame, &output)).frame,
            1e-5,
        );
    }
}

#[test]
fn exr_channels_in_any_case_in_layers_and_alone() {
    use exr::prelude::*;
    let picture = |names: &[&str], layer: Option<&str>| {
        let list = names
            .iter()
            .enumerate()
            .map(|(i, n)| AnyChannel::new(*n, FlatSamples::F32(vec![i as f32 + 1.0; 6])));
        let layer_name = layer.map(Into::into);
        let attributes = LayerAttributes {
            layer_name,
            ..LayerAttributes::default()
        };
        let channels = AnyChannels::sort(list.collect());
        let image = Image::from_layer(Layer::new(
            (3, 2),
            attributes,
            Encoding::FAST_LOSSLESS,
            channels,
        ));
        let mut out = Cursor::new(Vec::new());
        image.write().to_buffered(&mut out).unwrap();
        out.into_inner()
    };
    let read = |names: &[&str]| {
        let file = picture(names, None);
        read_bytes("still", &file, Code::AcesCg).unwrap()
    };
    assert_eq!(
        read(&["r", "g", "b"]).frame.pixel(2, 1),
        [1.0, 2.0, 3.0],
        "small letters"
    );
    assert_eq!(
        read(&["B", "R", "A", "G"]).frame.pixel(0, 0),
        [2.0, 4.0, 1.0],
        "any order"
    );
    let layer = read(&["deck.R", "deck.G", "deck.B", "Z"]);
    assert_eq!(
        layer.frame.pixel(0, 0),
        [1.0, 2.0, 3.0],
        "behind a layer's name"
    );
    assert!(layer.how.contains("its layer \"deck\""), "{}", layer.how);
    assert_eq!(read(&["Y"]).frame.pixel(0, 0), [1.0; 3], "one grey channel");
    let none = picture(&["Z"], None);
    let said = read_bytes("depth.exr", &none, Code::Auto).unwrap_err();
    assert_eq!(
        said.to_string(),
        "depth.exr has no channels R, G and B, and no Y",
        "in words"
    );
}

#[test]
fn exr_windows_and_numbers_that_are_none() {
    use exr::prelude::*;
    let values = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 3e38, -1.0, 0.5];
    let channels = SpecificChannels::rgb(|Vec2(x, y)| {
        let v = values[y * 3 + x];
        (v, v, v)
    });
    // Data of 3 × 2 at (1, 0) in a display of 3 × 2: one column cut off, one column empty.
    let attributes = LayerAttributes::default().with_position(Vec2(1, 0));
    let mut image = Image::from_layer(Layer::new(
        (3, 2),
        attributes,
        Encoding::UNCOMPRESSED,
        channels,
    ));
    image.attributes.display_window = IntegerBounds::new((0, 0), (3, 2));
    let mut out = Cursor::new(Vec::new());
    image.write().to_buffered(&mut out).unwrap();
    let file = out.into_inner();
    let still = read_bytes("still", &file, Code::AcesCg).unwrap();
    let row = |y: usize| [0, 1, 2].map(|x| still.frame.pixel(x, y)[0]);
    assert_eq!(
        row(0),
        [0.0, 0.0, 65_504.0],
        "empty is black, NaN is 0, infinity is 65504"
    );
    assert_eq!(
        row(1),
        [0.0, 1e9, -1.0],
        "far beyond light is held, negative is kept"
    );
    assert!(
        still.how.contains("9 samples"),
        "three pixels, three channels: {}",
        still.how
    );
    assert!(
        still.how.contains("black where the data window"),
        "{}",
        still.how
    );
    // Untagged EXR is BT.709 with D65.
    let plain = read_bytes("still", &file, Code::Auto).unwrap();
    assert_eq!(plain.encoding, Code::SrgbLinear, "{}", plain.how);
}
