//! What the rig covers, how far a tray may slide and turn, how wide an edge is in the picture.

use super::{Mount, Mounted, Setup};
use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::units::{Degrees, Density, Stops};

/// Width of an edge, in parts of the picture's height, below which it may show as a line, and above which
/// it reads as an even loss: common practice, no source.
pub const LINE_BELOW: f64 = 0.06;
/// See [`LINE_BELOW`].
pub const EVEN_ABOVE: f64 = 1.0;

impl Setup {
    /// Whether the glass in its mount passes the whole bundle of rays of every corner of `view`.
    #[must_use]
    pub fn covers(&self, glass: &Mounted, view: &View) -> bool {
        !self.alone(glass.aperture(self)).clips(view)
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
        let reach = glass.depth_mm(self) * view.reach(glass.up());
        let [below, above] = [-reach, reach].map(|mm| ramp.density(mm - glass.slide_mm()));
        Some(Stops::from(Density::clamped((above - below).abs())))
    }

    /// How far the tray may slide either way before its glass no longer covers `view`, mm; zero both
    /// ways for rings, round glass, and glass that does not cover wherever it is slid.
    #[must_use]
    pub fn slide_range_mm(&self, glass: &Mounted, view: &View) -> [f64; 2] {
        let Mount::Tray { size, .. } = glass.mount else {
            return [0.0; 2];
        };
        if size.is_round() {
            return [0.0; 2];
        }
        let (up, depth) = (glass.up(), glass.depth_mm(self));
        let reach = |axis: [f64; 2]| depth * view.reach(axis);
        let footprint = self.pupil().footprint_radius(depth);
        let [wide, high] = size.sides_mm();
        let beside = wide / 2.0 - reach([up[1], -up[0]]) - footprint;
        let free = high / 2.0 - reach(up) - footprint;
        // No −0.0 in reports.
        if beside >= 0.0 && free > 0.0 {
            [-free, free]
        } else {
            [0.0; 2]
        }
    }

    /// How far from upright glass in a tray may turn, where it is slid, before its corners enter the
    /// picture, degrees either way; None where it never does, and where it does not cover upright.
    #[must_use]
    pub fn turn_range_deg(&self, glass: &Mounted, view: &View) -> Option<f64> {
        let Mount::Tray { size, .. } = glass.mount else {
            return None;
        };
        let covers = |turn: f64| {
            let turned = Mounted {
                turn: Degrees::clamped(turn),
                ..glass.clone()
            };
            self.covers(&turned, view)
        };
        if size.is_round() || !covers(0.0) {
            return None;
        }
        let mut clipped = (1..=180)
            .map(|i| 0.5 * f64::from(i))
            .find(|t| !covers(*t))?;
        let mut clear = clipped - 0.5;
        while clipped - clear > 1e-6 {
            let middle = f64::midpoint(clear, clipped);
            if covers(middle) {
                clear = middle;
            } else {
                clipped = middle;
            }
        }
        Some(clear)
    }

    /// How far the camera may tilt before a grad's edge has left its place by a tenth of the
    /// picture's height, degrees either way.
    #[must_use]
    pub fn tilt_range_deg(&self, view: &View) -> [f64; 2] {
        let tilt = (0.1 * view.height_mm / view.focal_mm).atan().to_degrees();
        [-tilt, tilt]
    }
}
