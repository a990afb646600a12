//! What the nets share: a ladder of pitches, and glass made of threads.
//!
//! Two nets of one strength have the same orders, so that they can be compared; what sets them apart is
//! what becomes of the light that strikes a thread.

use super::control::{Control, Kind};
use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Made, OptionError, read_options, refuse, within};
use crate::optics::net::Net;
use crate::optics::threads::Threads;
use crate::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, Value};

/// Distance between threads, mm, at 1/8, 1/4, 1/2, 1, 2, 3, 4, 5.
const PITCH_MM: [f64; 8] = [2.0, 1.4, 0.9, 0.6, 0.4, 0.28, 0.2, 0.13];
/// Width of a thread, µm: a fine filament.
const THREAD_UM: f64 = 20.0;
/// Spread of the distance between neighbours, as part of it.
const JITTER: f64 = 0.03;

const PITCHES: [f64; 2] = [0.1, 3.0];
const THREADS: [f64; 2] = [5.0, 200.0];
const JITTERS: [f64; 2] = [0.01, 0.3];
/// Threads closer than this leave too little open to be called a net.
const MOST_COVERED: f64 = 0.5;

pub(super) const STRENGTHS: &[Strength] = &Strength::ALL;

pub(super) const CONTROLS: &[Control] = &[
    Control {
        name: "pitch_mm",
        label: "Pitch",
        help: "Distance between threads; not set, the strength decides. Closer threads spread wider.",
        kind: Kind::Number {
            unit: "mm",
            low: PITCHES[0],
            high: PITCHES[1],
            default: None,
            stock: &[0.5, 1.0],
        },
    },
    Control {
        name: "thread_um",
        label: "Thread",
        help: "Width of a thread; a thicker one takes more light and keeps its spread closer.",
        kind: Kind::Number {
            unit: "µm",
            low: THREADS[0],
            high: THREADS[1],
            default: Some(THREAD_UM),
            stock: &[12.0, 40.0],
        },
    },
    Control {
        name: "jitter",
        label: "Unevenness",
        help: "Spread of the distance between threads, as part of it: an even net draws dots, an uneven \
               one a smooth cross.",
        kind: Kind::Number {
            unit: "",
            low: JITTERS[0],
            high: JITTERS[1],
            default: Some(JITTER),
            stock: &[0.1],
        },
    },
];

pub(super) const SOURCE: &str = "Crossed threads, open b of an axis: direct b⁴, orders at sinθ = mλ/p with b² sinc²(mb); \
     places of threads as a paracrystal";

/// What sets one net apart from another.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cloth {
    /// Its name.
    pub(super) name: &'static str,
    /// Part of what strikes a thread that leaves it forwards.
    pub(super) kept: f64,
    /// Half-width of the lobe of that light, degrees.
    pub(super) lobe_deg: f64,
    /// Part of that light that goes over the whole field.
    pub(super) veil: f64,
}

impl Cloth {
    /// A piece of it.
    pub(super) fn make(
        &self,
        strength: Strength,
        options: &Map<String, Value>,
    ) -> Result<Made, OptionError> {
        let o: Options = read_options(options)?;
        let own = PITCH_MM[strength.rung()];
        let pitch = within("pitch_mm", o.pitch_mm.unwrap_or(own), PITCHES, " mm")?;
        let thread = within("thread_um", o.thread_um, THREADS, " µm")?;
        let jitter = within("jitter", o.jitter, JITTERS, "")?;
        if thread > MOST_COVERED * 1e3 * pitch {
            return Err(refuse(
                "thread_um",
                format!(
                    "a thread of {thread} µm is too thick for a pitch of {pitch} mm: at most half of it"
                ),
            ));
        }
        let threads = Threads {
            net: Net {
                pitch: Micrometres::clamped(1e3 * pitch),
                thread: Micrometres::clamped(thread),
                jitter,
                turn: Degrees::clamped(0.0),
            },
            kept: Fraction::clamped(self.kept),
            lobe: Degrees::clamped(self.lobe_deg),
            veil: Fraction::clamped(self.veil),
        };
        let mut name = format!("{} {strength}", self.name);
        if let Some(pitch) = o.pitch_mm {
            name += &format!(", pitch {pitch} mm");
        }
        Ok(Made {
            law: Law {
                scatter: Some(threads.scatter()),
                // Cloth has no faces; where it is cemented into glass, coated ones.
                ..Law::neutral(COATED)
            },
            name,
            nominal_loss: None,
            nominal_shift: None,
        })
    }
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    pitch_mm: Option<f64>,
    thread_um: f64,
    jitter: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            pitch_mm: None,
            thread_um: THREAD_UM,
            jitter: JITTER,
        }
    }
}
