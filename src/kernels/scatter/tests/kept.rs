//! Light that stays, and what is kept of it.

use super::super::{Border, Params, Scratch, beside, cpu};
use super::{heavy_tail, mixture, night, one};
use crate::frame::Frame;
use crate::watch::Watch;

#[test]
fn light_that_stays_is_scattered_as_light_that_goes() {
    let size = [301, 190];
    let plane = night(size, 9);
    let light = Frame::from_planes(size[0], size[1], std::array::from_fn(|_| plane.clone()));
    let frame = |level: f32| {
        let even = vec![level; size[0] * size[1]];
        Frame::from_planes(size[0], size[1], std::array::from_fn(|_| even.clone()))
    };
    let shallow = one(&mixture(0.6, &[(0.3, 2.4)], 0.1));
    let deep = one(&heavy_tail(900));
    let narrow = one(&mixture(0.8, &[(0.2, 0.7)], 0.0));
    let level = Params {
        border: Border::Level([0.3; 3]),
        ..deep.clone()
    };
    let thin = one(&mixture(0.5, &[(0.5, 3.0)], 0.0));
    let wanted = |light: &Frame, params: &Params| {
        let mut out = light.clone();
        cpu(&mut out, params, &mut Scratch::default(), &Watch::default()).unwrap();
        out
    };
    let mut scratch = Scratch::default();
    let mut kept = |light: (u64, &Frame), params: &Params| {
        let known = scratch.holds.as_ref().map(|held| held.depths);
        let mut out = frame(f32::NAN);
        beside(light, &mut out, params, &mut scratch, &Watch::default()).unwrap();
        (out, known)
    };
    // Deeper than what is kept, shallower, no level at all, and what keeps nothing in between.
    let looks = [
        &shallow, &deep, &shallow, &narrow, &deep, &level, &deep, &thin,
    ];
    for (i, params) in looks.into_iter().enumerate() {
        let (out, known) = kept((7, &light), params);
        assert!(
            out == wanted(&light, params),
            "look {i}, with {known:?} levels kept"
        );
    }
    // Other light under another name.
    let other = frame(2.0);
    assert!(
        kept((8, &other), &deep).0 == wanted(&other, &deep),
        "other light"
    );
    // What is kept is what is worked with: under the old name it is still the other light's pyramid.
    let stale = kept((8, &light), &deep).0;
    assert!(stale != wanted(&light, &deep), "the pyramid was made again");
}
