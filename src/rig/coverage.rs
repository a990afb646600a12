//! What the rig covers, where it clips, how far a tray may slide, how wide an edge is in the picture.

use super::{Mount, Mounted, Setup};
use crate::optics::field::{Field, View};
use crate::optics::pupil::Shape;
use crate::units::{Density, Stops};

/// Loss at which a corner counts as vignetting, in stops.
pub const BEGINS: f64 = 0.01;
/// Directions looked along for the beginning of a vignette.
const AZIMUTHS: usize = 96;

/// What the openings of a rig do to the picture, apart from any density and from cos⁴.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vignette {
    /// Smallest field angle inside the frame that loses [`BEGINS`], degrees.
    pub starts_deg: Option<f64>,
    /// Greatest loss at a corner; None when nothing passes there.
    pub corner: Option<Stops>,
}

impl Setup {
    /// The rig's vignette over `view`.
    #[must_use]
    pub fn vignette(&self, view: &View) -> Vignette {
        vignette(&self.openings(), view)
    }

    /// Whether the glass in its mount passes the whole bundle of rays of every corner of `view`.
    #[must_use]
    pub fn covers(&self, glass: &Mounted, view: &View) -> bool {
        !Field {
            apertures: vec![glass.aperture(self)],
            ..self.openings()
        }
        .clips(view)
    }

    /// Full width of a grad's edge on the sensor, mm: f(L + D′)/z. Of a stripe it is either flank's,
    /// of an attenuator the whole ramp's, from end to end of its glass.
    #[must_use]
    pub fn edge_width_mm(&self, glass: &Mounted) -> Option<f64> {
        Some(self.seen_width_mm(glass, glass.ramp()?.length()))
    }

    /// Full width on the sensor of all that is not clear in a stripe, mm; None for other glass.
    #[must_use]
    pub fn stripe_width_mm(&self, glass: &Mounted) -> Option<f64> {
        let stripe = glass.ramp().filter(|r| r.shape() == Shape::Stripe)?;
        Some(self.seen_width_mm(glass, stripe.width()))
    }

    /// Width on the sensor of what is `length` mm long on the glass.
    fn seen_width_mm(&self, glass: &Mounted, length: f64) -> f64 {
        let depth = glass.depth_mm(self);
        let footprint = 2.0 * self.pupil().footprint_radius(depth);
        self.camera.focal_mm.get() * (length + footprint) / depth
    }

    /// How much an attenuator's loss changes from one side of the picture to the other, along its
    /// ramp, in stops; None for other glass.
    #[must_use]
    pub fn attenuator_span(&self, glass: &Mounted, view: &View) -> Option<Stops> {
        let ramp = glass.ramp().filter(|r| r.shape() == Shape::Attenuator)?;
        let (up, depth) = (glass.up(), glass.depth_mm(self));
        let reach = view.corners().map(|c| {
            let at = view.direction(c[0], c[1]);
            depth * (at[0] * up[0] + at[1] * up[1])
        });
        let density = |mm: f64| ramp.density(mm - glass.slide_mm());
        let darkest = reach.iter().map(|mm| density(*mm)).fold(0.0, f64::max);
        let lightest = reach.iter().map(|mm| density(*mm)).fold(darkest, f64::min);
        Some(Stops::from(Density::clamped(darkest - lightest)))
    }

    /// How far the tray may slide either way before its glass no longer covers `view`, mm; zero both
    /// ways for rings, round glass, and glass that does not cover as it is.
    #[must_use]
    pub fn slide_range_mm(&self, glass: &Mounted, view: &View) -> [f64; 2] {
        let Mount::Tray { size, .. } = glass.mount else {
            return [0.0; 2];
        };
        if size.is_round() {
            return [0.0; 2];
        }
        let (up, depth) = (glass.up(), glass.depth_mm(self));
        let reach = view.corners().iter().fold(0.0, |reach: f64, c| {
            let at = view.direction(c[0], c[1]);
            reach.max((depth * (at[0] * up[0] + at[1] * up[1])).abs())
        });
        let free = size.sides_mm()[1] / 2.0 - reach - self.pupil().footprint_radius(depth);
        // No −0.0 in reports.
        if free > 0.0 { [-free, free] } else { [0.0; 2] }
    }

    /// How far the camera may tilt before a grad's edge has left its place by a tenth of the
    /// picture's height, degrees either way.
    #[must_use]
    pub fn tilt_range_deg(&self, view: &View) -> [f64; 2] {
        let tilt = (0.1 * view.height_mm / view.focal_mm).atan().to_degrees();
        [-tilt, tilt]
    }
}

fn vignette(openings: &Field, view: &View) -> Vignette {
    let loss = |x: f64, y: f64| -openings.at(view, x, y).log2();
    let corner = view
        .corners()
        .iter()
        .map(|c| loss(c[0], c[1]))
        .fold(0.0, f64::max);
    let starts_mm = (0..AZIMUTHS)
        .filter_map(|i| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / AZIMUTHS as f64).sin_cos();
            border(view, cos, sin, &loss)
        })
        // The corners themselves lie between the azimuths.
        .chain(view.corners().iter().filter_map(|c| {
            let r = c[0].hypot(c[1]);
            border(view, c[0] / r, c[1] / r, &loss)
        }))
        .fold(f64::INFINITY, f64::min);
    Vignette {
        starts_deg: starts_mm
            .is_finite()
            .then(|| (starts_mm / view.focal_mm).atan().to_degrees()),
        corner: corner.is_finite().then(|| Stops::clamped(corner)),
    }
}

/// Distance from the centre, along a direction, at which the loss begins; None if not in the frame.
fn border(view: &View, cos: f64, sin: f64, loss: &impl Fn(f64, f64) -> f64) -> Option<f64> {
    let edge = (view.width_mm / 2.0 / cos.abs()).min(view.height_mm / 2.0 / sin.abs());
    if loss(edge * cos, edge * sin) < BEGINS {
        return None;
    }
    let (mut clear, mut lost) = (0.0, edge);
    // Openings are convex, so that the loss grows outward once it has begun.
    for _ in 0..40 {
        let middle = f64::midpoint(clear, lost);
        if loss(middle * cos, middle * sin) < BEGINS {
            clear = middle;
        } else {
            lost = middle;
        }
    }
    Some(lost)
}
