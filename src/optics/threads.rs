//! Threads in front of the lens: the account of a net.
//!
//! Of the light, (b²)² goes straight on and b² − b⁴ into the orders ([`super::net`]); of the 1 − b² that
//! strikes a thread a part leaves again, wide and without colour, some of that over the whole field, and
//! the rest is absorbed. `b⁴ + (b² − b⁴) + (1 − b²) = 1`.
//!
//! ```
//! use foreglass::optics::net::Net;
//! use foreglass::optics::threads::Threads;
//! use foreglass::units::{Degrees, Fraction, Micrometres};
//! let net = Net {
//!     pitch: Micrometres::clamped(600.0),
//!     thread: Micrometres::clamped(60.0),
//!     jitter: 0.03,
//!     turn: Degrees::clamped(0.0),
//! };
//! let [zero, lobe] = [Fraction::clamped(0.0), Fraction::clamped(1.0)];
//! let threads = Threads { net, kept: zero, lobe: Degrees::clamped(6.0), veil: lobe };
//! let s = threads.scatter();
//! // w/p = 0.1: open area 0.81, and 0.81² of the light goes straight on (reference tables: 0.6561).
//! assert!((s.direct[0] - 0.6561).abs() < 1e-12 && (s.absorbed[0] - 0.19).abs() < 1e-12);
//! ```

use super::net::Net;
use super::scatter::{Lobe, Profile, Scatter};
use crate::units::{Degrees, Fraction};

/// A net of threads that are dark, or pale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Threads {
    /// The net.
    pub net: Net,
    /// Part of what strikes a thread that leaves it forwards.
    pub kept: Fraction,
    /// Half-width of the lobe of that light.
    pub lobe: Degrees,
    /// Part of that light that goes over the whole field.
    pub veil: Fraction,
}

impl Threads {
    /// Their account of the light that arrives.
    #[must_use]
    pub fn scatter(&self) -> Scatter {
        let open = self.net.open() * self.net.open();
        let kept = (1.0 - open) * self.kept.get();
        let veil = kept * self.veil.get();
        let mut lobes = vec![Lobe::grey(open - open * open, Profile::Net(self.net))];
        if kept > veil {
            let profile = Profile::Harvey { width: self.lobe };
            lobes.push(Lobe::grey(kept - veil, profile));
        }
        Scatter {
            direct: [open * open; 3],
            lobes,
            veil: [veil; 3],
            absorbed: [1.0 - open - kept; 3],
        }
    }
}
