//! Pale net: crossed white threads, which soften and cross lamps like dark ones, and lift the blacks.
//!
//! Law: [`crate::optics::threads::Threads`]; much of what strikes a white thread leaves it again, forwards
//! and wide, part of it over the whole field: bright parts of the scene lie over dark ones.
//!
//! Source: see [`crate::optics::net`]; pitches, threads and what white yarn sends on are our own estimates.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let net = Family::find("net-pale")?.default_piece();
//! let f = net.law().figures(&illuminant::scene(Kelvin::clamped(5600.0)));
//! // Strength 1: p = 600 µm, w = 20 µm, b = 1 − 20/600; coated faces 0.99.
//! let open = (1.0_f64 - 20.0 / 600.0).powi(2);
//! assert!((f.direct - 0.99 * open * open).abs() < 1e-9);
//! // 30 % of what strikes the threads is sent on.
//! assert!((f.scattered - 0.99 * (open - open * open + 0.3 * (1.0 - open))).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::Family;
use super::net::{CONTROLS, Cloth, SOURCE, STRENGTHS};

pub(super) static FAMILY: Family = Family {
    key: "net-pale",
    name: CLOTH.name,
    purpose: "Softens and crosses lamps like a dark net, with lifted blacks and less contrast.",
    source: SOURCE,
    honesty: "Modelled, not measured: pitch, thread and what white yarn sends on are our own estimates; taken as cemented between coated glass.",
    strengths: STRENGTHS,
    controls: CONTROLS,
    make: |strength, options| CLOTH.make(strength, options),
};

const CLOTH: Cloth = Cloth {
    name: "Pale net",
    kept: 0.3,
    lobe_deg: 6.0,
    veil: 0.4,
};
