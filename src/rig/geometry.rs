//! The rig as planes and openings in front of the entrance pupil.

use super::camera::Compensate;
use super::{Mount, Mounted, Setup};
use crate::optics::field::{Field, View};
use crate::optics::pupil::{Aperture, Dye, Outline, Plane, Pupil, Ramp, Shape};
use crate::optics::sky::Sky;

impl Mounted {
    /// How far it is slid; rings cannot slide.
    #[must_use]
    pub const fn slide_mm(&self) -> f64 {
        match self.mount {
            Mount::Ring { .. } => 0.0,
            Mount::Tray { slide, .. } => slide.get(),
        }
    }

    /// Unit vector of its own "up", towards a grad's dense end and along the slide.
    #[must_use]
    pub fn up(&self) -> [f64; 2] {
        let (sin, cos) = self.turn.radians().sin_cos();
        [-sin, cos]
    }

    /// Distance from the entrance pupil, mm.
    #[must_use]
    pub fn depth_mm(&self, setup: &Setup) -> f64 {
        (self.gap.get() + setup.camera.pupil_depth().get()).max(1e-3)
    }

    /// The glass's outline, or its ring's, as an opening.
    #[must_use]
    pub fn aperture(&self, setup: &Setup) -> Aperture {
        let up = self.up();
        let (outline, slid) = match self.mount {
            Mount::Ring { clear, .. } => (
                Outline::Circle {
                    radius_mm: clear.get() / 2.0,
                },
                0.0,
            ),
            Mount::Tray { size, slide, .. } => {
                let [w, h] = size.sides_mm();
                let outline = if size.is_round() {
                    Outline::Circle { radius_mm: w / 2.0 }
                } else {
                    Outline::Rectangle {
                        half_mm: [w / 2.0, h / 2.0],
                        along: [up[1], -up[0]],
                    }
                };
                (outline, slide.get())
            }
        };
        Aperture {
            outline,
            centre_mm: [slid * up[0], slid * up[1]],
            depth_mm: self.depth_mm(setup),
        }
    }

    /// The density that changes across it, on a glass of its size.
    #[must_use]
    pub fn ramp(&self) -> Option<Ramp> {
        let length = match self.mount {
            Mount::Ring { clear, .. } => clear.get(),
            Mount::Tray { size, .. } => size.sides_mm()[1],
        };
        Some(self.piece.law().ramp.clone()?.on_glass(length))
    }

    /// What its changing density is for.
    #[must_use]
    pub fn shape(&self) -> Option<Shape> {
        self.piece.law().ramp.as_ref().map(Ramp::shape)
    }

    /// The glass as a placed plane, where its density changes across it.
    #[must_use]
    pub fn plane(&self, setup: &Setup) -> Option<Plane> {
        let dye = self.piece.law().dye.as_ref();
        Some(Plane {
            ramp: self.ramp()?,
            dye: dye.map(|density| Dye {
                density: density.clone(),
                tint: setup.tint(),
            }),
            toward_dense: self.up(),
            slide_mm: self.slide_mm(),
            depth_mm: self.depth_mm(setup),
        })
    }

    /// What it does to a sky that is polarised, where it polarises and the sun is known.
    #[must_use]
    pub fn sky(&self) -> Option<Sky> {
        let law = self.piece.law();
        Some(Sky {
            sun: law.sun?,
            contrast: law.polarises?.contrast(),
            turn: self.turn.radians(),
        })
    }
}

impl Setup {
    /// The stop the lens is at while the picture is made: the metered one, or under iris
    /// compensation the stop to set.
    #[must_use]
    pub fn working_stop(&self) -> f64 {
        let metered = self.camera.stop.get();
        match self.compensate {
            Compensate::Iris => metered * (-self.light_loss().get() / 2.0).exp2(),
            _ => metered,
        }
    }

    /// The entrance pupil at the working stop. The subject is never nearer than the front glass.
    #[must_use]
    pub fn pupil(&self) -> Pupil {
        let front = self
            .glass
            .iter()
            .map(|g| g.depth_mm(self))
            .fold(0.0, f64::max);
        Pupil {
            diameter_mm: self.camera.focal_mm.get() / self.working_stop(),
            subject_mm: self.camera.subject_mm().max(front * 1.001),
        }
    }

    /// The planned picture's part of the field, for a frame of `height / width`.
    #[must_use]
    pub fn view(&self, height_over_width: f64) -> View {
        self.camera.view(height_over_width)
    }

    /// The planned picture's part of the field when there is no frame: the framed part of the sensor.
    #[must_use]
    pub fn sensor_view(&self) -> View {
        let [width, height] = self.camera.framed_mm();
        self.view(height.get() / width.get())
    }

    /// Every opening of the rig, without densities.
    #[must_use]
    pub fn openings(&self) -> Field {
        Field {
            pupil: self.pupil(),
            planes: Vec::new(),
            apertures: self.glass.iter().map(|g| g.aperture(self)).collect(),
        }
    }
}
