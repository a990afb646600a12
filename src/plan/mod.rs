//! The list of light passes that a rig lowers to: one description of light for every executor.
//!
//! `lower` writes the passes down in the order in which light meets the glass, `simplify` drops what
//! does nothing and joins what can be joined without changing the picture by more than rounding, and
//! `fit` gives each pass the form that a kernel can run. A pass keeps its exact law beside its fit:
//! the reference executor reads only the law.

// Rig to passes.
mod lower;
// What each pass depends on.
mod needs;
// Fewer passes, the same picture.
mod simplify;

pub use lower::lower;
pub use needs::Needs;

use crate::colour::Matrix3;
use crate::optics::field::{Field, Fit, View};
use crate::optics::fit::fuse;
use crate::optics::mixture::Mixture;
use crate::optics::response::Response;
use crate::optics::scatter::Scatter;
use crate::optics::sky::Sky;

/// Everything that is done to a frame, in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The passes, first one first.
    pub passes: Vec<Pass>,
    /// The part of the field that the picture shows.
    pub view: View,
}

/// One light pass: the closed list.
#[derive(Debug, Clone, PartialEq)]
pub enum Pass {
    /// Uniform colour: one matrix on working light.
    Matrix(Matrix3),
    /// Scattered light.
    Scatter(ScatterPass),
    /// Placed glass and openings.
    Field(FieldPass),
    /// A polarised sky: the kernel runs the law itself.
    Sky(Sky),
    /// Light added evenly, working light per channel.
    Lift([f64; 3]),
    /// A factor on all light.
    Gain(f64),
}

/// Neighbouring scatters, whose transfer functions multiply.
#[derive(Debug, Clone, PartialEq)]
pub struct ScatterPass {
    /// The exact laws.
    pub laws: Vec<Scatter>,
    /// What lies outside the frame: None mirrors it, else even working light.
    pub outside: Option<[f64; 3]>,
    /// Whether the law holds in direction cosines, so that halos stretch towards the corners, or, nearer
    /// the axis, on the sensor.
    pub stretched: bool,
    /// The fit; empty until [`Plan::fit`].
    pub fit: Option<ScatterFit>,
}

/// Scattered light in a form that a kernel runs.
#[derive(Debug, Clone, PartialEq)]
pub enum ScatterFit {
    /// Alike in every direction: a mixture per channel, sigmas in radians.
    Round([Mixture; 3]),
    /// Streaks and nets, and whatever is fused with them: the transform, tabulated.
    Oriented(Response),
}

impl ScatterPass {
    /// Whether it scatters alike in every direction.
    #[must_use]
    pub fn is_round(&self) -> bool {
        self.laws.iter().all(Scatter::is_round)
    }

    fn fitted(&self) -> ScatterFit {
        if self.is_round() {
            ScatterFit::Round(fuse(&self.laws))
        } else {
            ScatterFit::Oriented(Response::of(&self.laws))
        }
    }
}

/// Placed glass and openings with no scatter between them.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldPass {
    /// The exact law.
    pub law: Field,
    /// The fit; empty until [`Plan::fit`].
    pub fit: Option<Fit>,
}

impl Plan {
    /// Fewer passes, the same picture.
    #[must_use]
    pub fn simplify(self) -> Self {
        simplify::simplify(self)
    }

    /// Gives every pass that has none yet the form that a kernel runs.
    #[must_use]
    pub fn fit(mut self) -> Self {
        for pass in &mut self.passes {
            match pass {
                Pass::Scatter(s) if s.fit.is_none() => s.fit = Some(s.fitted()),
                Pass::Field(f) if f.fit.is_none() => f.fit = Some(f.law.fit(&self.view)),
                Pass::Scatter(_) | Pass::Field(_) => {}
                Pass::Matrix(_) | Pass::Sky(_) | Pass::Lift(_) | Pass::Gain(_) => {}
            }
        }
        self
    }

    /// Pixels of a frame `width` across, per radian of field angle.
    #[must_use]
    pub fn pixels_per_radian(&self, width: usize) -> f64 {
        self.view.focal_mm * width as f64 / self.view.width_mm
    }
}
