//! How far figures and picture may be off: what they take as given and a shot does not.
//!
//! - *Aslant.* Rays of field angle θ run through a dyed glass aslant: its density D becomes
//!   D/√(1 − sin²θ/n²), n = 1.52, and the picture uses D. Every dye here is taken as lying in the glass's
//!   body; glass that reflects keeps its density. Polarising sheets are left out: they are no dye.
//! - *Depth.* A still has none: every pixel is drawn as at the focus distance s, where the bundle of rays has
//!   shrunk to D(1 − z/s) on a glass z before the pupil. For what stands far behind, a hard edge is drawn z/s narrower than it is, a soft one less.
//! - *The pupil's place*, where it is estimated: an edge is f(L + D)/z wide, z counted from the pupil.
//!
//! Sources: refraction at a plane face (Snell) and the law of absorption (Lambert); similar triangles.
//!
//! ```
//! use foreglass::rig::doubt::aslant;
//! use foreglass::units::Degrees;
//! // ND 2.1 gains 0.41 stop at 30° off the axis.
//! let gain = 2.1 * (aslant(Degrees::clamped(30.0)) - 1.0) / std::f64::consts::LOG10_2;
//! assert!((gain - 0.411).abs() < 5e-4);
//! ```

use super::camera::Camera;
use super::vignette::BEGINS;
use super::{Mounted, Place, Setup};
use crate::colour::glass::transmitted_luminance;
use crate::colour::spectrum::Spectrum;
use crate::glass::law::UNCOATED;
use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::units::{Degrees, Extent, Millimetres, Stops};

/// Refractive index of crown glass.
const INDEX: f64 = 1.52;
/// How far off an estimated pupil may well be: our own estimate.
pub const PUPIL_OFF: Extent = Extent::clamped(20.0);
/// Change of an edge's width over which the pupil's place matters: our own limit.
const EDGE_OFF: f64 = 0.2;

/// What an estimated pupil leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct PupilDoubt {
    /// Edges that change by more than a fifth: narrowest and widest on the sensor, mm.
    pub edges: Vec<(Place, [f64; 2])>,
    /// Whether it decides between clear corners and clipped ones.
    pub corners: bool,
}

/// Way of a ray of a field angle through a plane glass, over the way of one along the axis.
#[must_use]
pub fn aslant(field: Degrees) -> f64 {
    let sin = field.radians().sin() / INDEX;
    1.0 / (1.0 - sin * sin).sqrt()
}

impl Setup {
    /// How much more the glass takes at the worst corner of `view` than the picture shows there, because
    /// light passes its dyes aslant.
    #[must_use]
    pub fn oblique_loss(&self, view: &View) -> Stops {
        let (scene, way) = (self.scene(), aslant(view.widest_angle()));
        let dyed: Vec<&Mounted> = self.glass.iter().filter(|g| g.is_dyed()).collect();
        let gain = |corner: &[f64; 2]| {
            let direction = view.direction(corner[0], corner[1]);
            let straight = dyed.iter().fold(Spectrum::constant(1.0), |tau, g| {
                tau.product(&g.passed_at(self, direction))
            });
            let passed = [&straight, &straight.map(|t| t.powf(way))]
                .map(|tau| transmitted_luminance(tau, &scene));
            if passed[1] > 0.0 {
                (passed[0] / passed[1]).log2()
            } else {
                0.0
            }
        };
        Stops::clamped(view.corners().iter().map(gain).fold(0.0, f64::max))
    }

    /// Most by which an edge's width is off where something far stands behind the focus, over its true
    /// width: of a hard edge z/s, of a soft one less. None for glass without an edge.
    #[must_use]
    pub fn edge_error(&self, glass: &Mounted) -> Option<f64> {
        let has_edge = matches!(glass.shape(), Some(Shape::Edge | Shape::Stripe));
        has_edge.then(|| glass.depth_mm(self) / self.pupil().subject_mm)
    }

    /// What [`PUPIL_OFF`] either way changes, where the pupil's place is estimated and it matters.
    #[must_use]
    pub fn pupil_doubt(&self, view: &View) -> Option<PupilDoubt> {
        if self.camera.pupil_depth_mm.is_some() {
            return None;
        }
        let depth = self.camera.pupil_depth().get();
        let moved = |by: f64| Self {
            camera: Camera {
                pupil_depth_mm: Some(Millimetres::clamped((depth + by).max(0.0))),
                ..self.camera.clone()
            },
            ..self.clone()
        };
        let (nearer, further) = (moved(-PUPIL_OFF.get()), moved(PUPIL_OFF.get()));
        let edges = self.glass.iter().filter_map(|g| {
            if g.shape() == Some(Shape::Attenuator) {
                return None;
            }
            let now = self.edge_width_mm(g)?;
            let ends = [further.edge_width_mm(g)?, nearer.edge_width_mm(g)?];
            let off = ends.iter().any(|mm| (mm / now - 1.0).abs() > EDGE_OFF);
            off.then_some((g.place, ends))
        });
        let doubt = PupilDoubt {
            edges: edges.collect(),
            corners: nearer.clips(view) != further.clips(view),
        };
        (doubt.corners || !doubt.edges.is_empty()).then_some(doubt)
    }

    /// Whether a corner of `view` loses as much as counts for vignetting.
    fn clips(&self, view: &View) -> bool {
        self.corner_loss(view) >= BEGINS
    }
}

impl Mounted {
    /// What its dye passes where the chief ray of `direction` crosses it, at a right angle to the glass.
    fn passed_at(&self, setup: &Setup, direction: [f64; 2]) -> Spectrum {
        let law = self.piece.law();
        let Some(ramp) = self.ramp() else {
            return law.tau.clone();
        };
        let (up, depth) = (self.up(), self.depth_mm(setup));
        let height = depth * (direction[0] * up[0] + direction[1] * up[1]);
        let density = ramp.density(height - self.slide_mm());
        let dye = law.dye.clone().unwrap_or(Spectrum::constant(1.0));
        dye.map(|d| libm::exp10(-d * density))
    }

    /// Whether it absorbs by a dye; what faces alone take is none.
    pub(super) fn is_dyed(&self) -> bool {
        let law = self.piece.law();
        let darkest = law.tau.samples().iter().copied().fold(1.0, f64::min);
        law.polarises.is_none() && (law.ramp.is_some() || darkest < UNCOATED - 1e-9)
    }
}
