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
    let mut scratch = Scratch::default();
    // Deeper than what is kept, shallower, no level at all, and what keeps nothing in between.
    let looks = [
        &shallow, &deep, &shallow, &narrow, &deep, &level, &deep, &thin,
    ];
    for (i, params) in looks.into_iter().enumerate() {
        let mut wanted = light.clone();
        cpu(
            &mut wanted,
            params,
            &mut Scratch::default(),
            &Watch::default(),
        )
        .unwrap();
        let mut out = frame(f32::NAN);
        let known = scratch.holds.as_ref().map(|held| held.depths);
        beside(
            (7, &light),
            &mut out,
            params,
            &mut scratch,
            &Watch::default(),
        )
        .unwrap();
        assert!(out == wanted, "look {i}, with {known:?} levels kept");
    }
    // Other light under another name.
    let other = frame(2.0);
    let mut wanted = other.clone();
    cpu(
        &mut wanted,
        &deep,
        &mut Scratch::default(),
        &Watch::default(),
    )
    .unwrap();
    let mut out = frame(f32::NAN);
    beside(
        (8, &other),
        &mut out,
        &deep,
        &mut scratch,
        &Watch::default(),
    )
    .unwrap();
    assert!(out == wanted, "other light");
    // What is kept is what is worked with: under the old name it is still the other light's pyramid.
    let mut stale = frame(f32::NAN);
    beside(
        (8, &light),
        &mut stale,
        &deep,
        &mut scratch,
        &Watch::default(),
    )
    .unwrap();
    let mut wanted = light.clone();
    cpu(
        &mut wanted,
        &deep,
        &mut Scratch::default(),
        &Watch::default(),
    )
    .unwrap();
    assert!(stale != wanted, "the pyramid was made again");
}
