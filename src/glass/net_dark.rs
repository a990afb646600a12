//! Dark net: crossed black threads, which soften, and draw a cross on lamps, and keep the blacks.
//!
//! Law: [`crate::optics::threads::Threads`]; what strikes a black thread is mostly absorbed. The orders
//! lie at sinθ = mλ/p along both axes of the net, red further out than blue, under an envelope that the
//! thread's width sets, and turn with the stage.
//!
//! Source: see [`crate::optics::net`]; pitches and threads are our own estimates of fine nets.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let net = Family::find("net-dark")?.default_piece();
//! let f = net.law().figures(&illuminant::scene(Kelvin::clamped(5600.0)));
//! // Strength 1: p = 600 µm, w = 20 µm, b = 1 − 20/600; coated faces 0.99.
//! let open = (1.0_f64 - 20.0 / 600.0).powi(2);
//! assert!((f.direct - 0.99 * open * open).abs() < 1e-9);
//! // 4 % of what strikes the threads is sent on.
//! assert!((f.scattered - 0.99 * (open - open * open + 0.04 * (1.0 - open))).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::Family;
use super::net::{CONTROLS, Cloth, SOURCE, STRENGTHS};

pub(super) static FAMILY: Family = Family {
    key: "net-dark",
    name: CLOTH.name,
    purpose: "Softens skin and small detail, crosses lamps with coloured rays, keeps blacks black.",
    source: SOURCE,
    honesty: "Modelled, not measured: pitch, thread and what black yarn reflects are our own estimates; taken as cemented between coated glass.",
    strengths: STRENGTHS,
    controls: CONTROLS,
    make: |strength, options| CLOTH.make(strength, options),
};

const CLOTH: Cloth = Cloth {
    name: "Dark net",
    kept: 0.04,
    lobe_deg: 8.0,
    veil: 0.4,
};
