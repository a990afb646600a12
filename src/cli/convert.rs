//! `foreglass convert`: which series number, or which two, turn one colour temperature into another.

use super::rig::ledger::{counted, signed, white};
use super::{Failure, json, say};
use crate::colour::illuminant;
use crate::colour::spectrum::Spectrum;
use crate::colour::temperature::{Turn, reached, shift_between};
use crate::glass::Piece;
use crate::glass::conversion::{Way, ways};
use crate::units::{Kelvin, Mireds, Stops};
use anyhow::anyhow;
use serde_json::Value;

/// How many ways are told of each kind.
const TOLD: usize = 4;

/// Which glass turns one colour temperature into another
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  foreglass convert 5500 3200\n  \
    foreglass convert 2490 3200 --stack 2 --json\n\n\
    The nearest by the shifts that glass is sold by, which add; of pieces with the same shift the one\n\
    that loses least. What the light really becomes is worked out from its spectrum: a glowing body\n\
    below 4000 K, daylight from there.")]
pub struct Args {
    /// Colour temperature of the light, K
    from: f64,
    /// Colour temperature that is wanted, K
    to: f64,
    /// The most pieces in a row: 1 or 2
    #[arg(long, value_name = "N", default_value_t = 2)]
    stack: usize,
    /// As JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let kelvin = |name: &'static str, value: f64| {
        Kelvin::new(value).map_err(|e| Failure::Usage(anyhow::Error::new(e).context(name)))
    };
    let (from, to) = (kelvin("FROM", args.from)?, kelvin("TO", args.to)?);
    if !(1..=2).contains(&args.stack) {
        let limit = anyhow!("--stack {}: 1 or 2 pieces", args.stack);
        return Err(Failure::Usage(limit));
    }
    let wanted = shift_between(from, to);
    let light = illuminant::scene(from);
    let found: Vec<Vec<Found>> = (1..=args.stack)
        .map(|count| {
            let nearest = ways(wanted, count).into_iter().take(TOLD);
            nearest
                .map(|way| Found::new(way, from, to, &light))
                .collect()
        })
        .collect();
    say(&if args.json {
        json(&report(from, to, wanted, &found))
    } else {
        text(from, to, wanted, &found)
    })
}

/// One way, and what comes of it.
struct Found {
    way: Way,
    turn: Turn,
    /// Where mireds alone put the light.
    by_mireds: Option<Kelvin>,
    /// What is left to do, by mireds and by the spectrum.
    left: (Mireds, Option<Mireds>),
    loss: Stops,
}

impl Found {
    fn new(way: Way, from: Kelvin, to: Kelvin, light: &Spectrum) -> Self {
        let turn = Turn::of(light, &way.tau());
        let really = turn.through.map(|w| shift_between(w.kelvin, to));
        Self {
            turn,
            by_mireds: reached(from, way.shift),
            left: (way.left(shift_between(from, to)), really),
            loss: way.loss(light),
            way,
        }
    }

    fn json(&self) -> Value {
        let names: Vec<_> = self.way.pieces.iter().map(Piece::name).collect();
        serde_json::json!({
            "glass": names,
            "shift_mireds": self.way.shift.get(),
            "reaches_k": self.turn.through.map(|w| w.kelvin.get()),
            "duv": self.turn.through.map(|w| w.duv),
            "reaches_nominal_k": self.by_mireds.map(Kelvin::get),
            "remainder_mireds": self.left.1.map(Mireds::get),
            "remainder_nominal_mireds": self.left.0.get(),
            "loss_stops": self.loss.get(),
            "loss_nominal_stops": self.way.nominal_loss().map(Stops::get),
        })
    }

    fn line(&self) -> String {
        let nominal = self.way.nominal_loss();
        let nominal =
            nominal.map_or_else(String::new, |n| format!(" ({:.2} by the tables)", n.get()));
        let left = self.left.1.map_or_else(String::new, |left| {
            format!(" by its spectrum, {} mireds left", signed(left))
        });
        format!(
            "  {:<12} {:>5} mireds: reaches {}{left}; loses {}{nominal}\n",
            self.way.names(),
            signed(self.way.shift),
            white(self.turn.through),
            counted(self.loss)
        )
    }
}

fn report(from: Kelvin, to: Kelvin, wanted: Mireds, found: &[Vec<Found>]) -> Value {
    let list = |count: usize| {
        let ways = found.get(count - 1).map_or(&[][..], Vec::as_slice);
        ways.iter().map(Found::json).collect::<Vec<_>>()
    };
    serde_json::json!({
        "from_k": from.get(),
        "to_k": to.get(),
        "wanted_mireds": wanted.get(),
        "singles": list(1),
        "stacks": list(2),
    })
}

fn text(from: Kelvin, to: Kelvin, wanted: Mireds, found: &[Vec<Found>]) -> String {
    let mut t = format!(
        "{:.0} K to {:.0} K: {} mireds\n",
        from.get(),
        to.get(),
        signed(wanted)
    );
    let best = found.iter().flatten().map(|f| f.left.0.get().abs());
    if best.fold(f64::INFINITY, f64::min) >= wanted.get().abs() {
        t += "nearer without glass than with any\n";
    }
    for (list, kind) in found.iter().zip(["one piece", "two pieces"]) {
        if !list.is_empty() {
            t += &format!("{kind}\n");
        }
        for way in list {
            t += &way.line();
        }
    }
    t
}
