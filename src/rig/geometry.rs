//! The rig as planes and openings in front of the entrance pupil.

use super::camera::Compensate;
use super::vignette::Cause;
use super::{Mount, Mounted, Setup};
use crate::optics::field::{Field, View};
use crate::optics::pupil::{Aperture, Dye, Outline, Plane, Pupil, Ramp, Shape};
use crate::optics::sky::Sky;
use crate::units::{Degrees, Millimetres};

/// Front vertex to the glass of a ring, and to that of each further one, mm: common practice, no source.
pub const RING_PITCH: f64 = 5.0;
/// Front vertex to the glass of the first stage, and what each further one adds, mm: common practice, no
/// source.
const FIRST_STAGE: f64 = 20.0;
/// What each further stage adds.
pub const STAGE_PITCH: f64 = 8.0;
/// Sides of an opening that are out of the way, mm: ten metres from the axis.
const AWAY: f64 = 1e4;

/// Front vertex to the glass of the `index`-th stage, from 0, where nothing else is told.
#[must_use]
pub fn stage_gap_mm(index: usize) -> Millimetres {
    Millimetres::clamped(STAGE_PITCH.mul_add(index as f64, FIRST_STAGE))
}

impl Mounted {
    /// How far it is slid; rings cannot slide.
    #[must_use]
    pub const fn slide_mm(&self) -> f64 {
        match self.mount {
            Mount::Ring { .. } => 0.0,
            Mount::Tray { slide, .. } => slide.get(),
        }
    }

    /// How far it is tipped against ghosts; rings are not.
    #[must_use]
    pub const fn tilt(&self) -> Degrees {
        match self.mount {
            Mount::Ring { .. } => Degrees::clamped(0.0),
            Mount::Tray { tilt, .. } => tilt,
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
    /// compensation the stop to set, as far as the lens opens.
    #[must_use]
    pub fn working_stop(&self) -> f64 {
        let metered = self.camera.stop.get();
        if self.compensate != Compensate::Iris || !self.passes_light() {
            return metered;
        }
        let wanted = metered * (-self.light_loss().get() / 2.0).exp2();
        let widest = self.camera.widest_stop;
        widest.map_or(wanted, |widest| wanted.max(widest.get()))
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

    /// Every opening of the rig and what makes it, from the lens outward: glass or its mounts, then the
    /// shade, where its mouth is told.
    #[must_use]
    pub fn mounts(&self) -> Vec<(Cause, Aperture)> {
        let glass = self.glass.iter();
        let glass = glass.map(|g| (Cause::Place(g.place), g.aperture(self)));
        glass.chain(self.shade_openings()).collect()
    }

    /// The shade's mouth, and the edge of its top flag where it has one.
    fn shade_openings(&self) -> Vec<(Cause, Aperture)> {
        let (Some(mouth), true) = (self.shade.opening_mm, self.light.shade) else {
            return Vec::new();
        };
        let half_mm = mouth.map(|side| side.get() / 2.0);
        let along = [1.0, 0.0];
        let depth_mm = self.front_mm() + self.shade.depth_mm.get();
        let mouth = Aperture {
            outline: Outline::Rectangle { half_mm, along },
            centre_mm: [0.0; 2],
            depth_mm,
        };
        let reach = self.shade.top_flag_mm.get();
        // Light passes below the flag's edge, as high as the mouth's own: its other sides are away.
        let flag = (reach > 0.0).then_some(Aperture {
            outline: Outline::Rectangle {
                half_mm: [AWAY; 2],
                along,
            },
            centre_mm: [0.0, half_mm[1] - AWAY],
            depth_mm: depth_mm + reach,
        });
        let flag = flag.map(|flag| (Cause::TopFlag, flag));
        [(Cause::Shade, mouth)].into_iter().chain(flag).collect()
    }

    /// The frontmost glass from the entrance pupil, or without glass the front vertex, mm.
    #[must_use]
    pub fn front_mm(&self) -> f64 {
        let vertex = self.camera.pupil_depth().get();
        let glass = self.glass.iter().map(|g| g.depth_mm(self));
        glass.fold(vertex, f64::max)
    }

    /// Every opening of the rig, without densities.
    #[must_use]
    pub fn openings(&self) -> Field {
        Field {
            pupil: self.pupil(),
            planes: Vec::new(),
            apertures: self.mounts().into_iter().map(|(_, a)| a).collect(),
        }
    }
}
