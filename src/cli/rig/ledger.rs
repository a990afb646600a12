//! The ledger of a rig as text and as JSON: what each glass costs, what makes it good, and what the stack
//! does to colour.

use crate::colour::temperature::White;
use crate::glass::law::TRADE_STOP;
use crate::handover::words;
use crate::rig::camera::Compensate;
use crate::rig::ledger::{Turned, iso_mark};
use crate::rig::{Mounted, Setup};
use crate::units::{Kelvin, Mireds, Stops, trimmed};
use serde_json::{Value, json};

/// A loss as a number; None of what passes nothing.
pub(in crate::cli) fn lost(loss: Stops) -> Option<f64> {
    Some(loss.get()).filter(|l| *l < Stops::HIGH)
}

/// What makes the loss good.
pub(super) fn exposure_json(setup: &Setup) -> Value {
    let e = setup.exposure();
    json!({
        "factor": e.map(|e| e.factor),
        "stop_to_set": e.map(|e| e.stop_to_set),
        "iso_to_set": e.map(|e| e.iso_to_set),
        "light_factor": e.map(|e| e.factor),
        "stops_missing": e.map(|e| e.stops_missing.get()),
    })
}

/// What the stack does to colour.
pub(super) fn colour_json(setup: &Setup) -> Value {
    let turns = setup.turns().into_iter().map(|turn| {
        let through = turn.by_spectrum.through;
        json!({
            "from_k": turn.from.get(),
            "to_k": through.map(|w| w.kelvin.get()),
            "to_k_nominal": turn.by_mireds.map(Kelvin::get),
            "duv": through.map(|w| w.duv),
        })
    });
    json!({
        "shift_mireds": setup.shift().map(Mireds::get),
        "shift_nominal_mireds": setup.nominal_shift().map(Mireds::get),
        "turns": turns.collect::<Vec<_>>(),
    })
}

/// The table of what each glass costs, and what makes all of it good.
pub(super) fn text(setup: &Setup) -> String {
    let mut t = String::new();
    let scene = setup.scene();
    let width = setup.glass.iter().map(|g| g.piece.name().chars().count());
    let width = width.max().unwrap_or(0).max("in all".len());
    if !setup.glass.is_empty() {
        let heads = ["tables", "modelled", "factor", "mireds"];
        let [tables, modelled, factor, mireds] = heads;
        t += &format!(
            "  {:<8} {:<width$} {tables:>8} {modelled:>8} {factor:>8} {mireds:>7}\n",
            "", ""
        );
    }
    for g in &setup.glass {
        let (loss, shift) = (g.loss(&scene), g.piece.nominal_shift());
        let named = (g.place.to_string(), g.piece.name());
        t += &row(named, width, g.nominal_loss(), loss, shift);
    }
    if setup.glass.len() > 1 {
        let nominal = Some(setup.nominal_loss());
        let (loss, shift) = (setup.light_loss(), setup.nominal_shift());
        t += &row((String::new(), "in all"), width, nominal, loss, shift);
    }
    t += &made_good(setup);
    t += &internal(setup);
    t + &colour(setup)
}

/// One row of the table, in stops, times and mireds; a dash where the tables have no such glass.
fn row(
    (place, glass): (String, &str),
    width: usize,
    nominal: Option<Stops>,
    loss: Stops,
    shift: Option<Mireds>,
) -> String {
    let none = || words::NO_NUMBER.to_owned();
    let stops = |s: Option<Stops>| s.and_then(lost).map_or_else(none, words::hundredths);
    let factor = lost(loss).map_or_else(none, |_| times(loss.factor()));
    let mireds = shift.map_or_else(none, signed);
    let (nominal, modelled) = (stops(nominal), stops(Some(loss)));
    format!("  {place:<8} {glass:<width$} {nominal:>8} {modelled:>8} {factor:>8} {mireds:>7}\n")
}

/// A factor to three figures, as far as they help.
fn times(factor: f64) -> String {
    match factor {
        f if f < 9.995 => format!("{f:.2}"),
        f if f < 99.95 => format!("{f:.1}"),
        f if f < 1e6 => format!("{f:.0}"),
        f => format!("{f:.2e}"),
    }
}

/// Mireds with their sign, to a tenth where they are not whole.
pub(in crate::cli) fn signed(shift: Mireds) -> String {
    let size = (shift.get().abs() * 10.0).round() / 10.0;
    let sign = match shift.get() {
        _ if size <= 0.0 => "",
        s if s < 0.0 => "−",
        _ => "+",
    };
    format!("{sign}{size}")
}

/// The stop, the index or the light that makes the loss good.
fn made_good(setup: &Setup) -> String {
    let Some(e) = setup.exposure() else {
        return "nothing passes: no stop, index or light makes that good\n".to_owned();
    };
    let (loss, nominal) = (setup.light_loss(), setup.nominal_loss());
    let mut t = format!(
        "light lost: {} modelled, {} by the trade's tables{}\n",
        counted(loss),
        counted(nominal),
        if setup.has_untabled() {
            ", as modelled where they have none"
        } else {
            ""
        }
    );
    let mark = if setup.camera.t_stop.is_some() {
        "T "
    } else {
        "f/"
    };
    let short = e.stops_missing.get() > 0.005;
    let chosen = |way: Compensate| match way {
        _ if setup.compensate != way => "",
        Compensate::Iris if short => "; the picture is drawn with the lens wide open",
        _ => "; so the picture is drawn",
    };
    // Of two that read the same, one is not there instead of the other.
    let instead = |set: String, now: String, mark: &str| {
        if set == now {
            String::new()
        } else {
            format!(" instead of {mark}{now}")
        }
    };
    t += &format!(
        "  set {mark}{}{}{}\n",
        stop(e.stop_to_set),
        instead(
            trimmed(e.stop_to_set, 2),
            trimmed(setup.marked_stop(), 2),
            mark
        ),
        chosen(Compensate::Iris)
    );
    if let Some(widest) = setup.widest_marked().filter(|_| short) {
        t += &format!(
            "    the lens opens to {mark}{}: {} missing\n",
            trimmed(widest, 2),
            counted(e.stops_missing)
        );
    }
    let about = iso_mark(e.iso_to_set)
        .filter(|m| *m != setup.camera.iso)
        .filter(|m| (e.iso_to_set / f64::from(*m) - 1.0).abs() > 0.005)
        .map_or_else(String::new, |m| format!(" (about {m})"));
    let iso = format!("{:.0}", e.iso_to_set);
    t += &format!(
        "  or ISO {iso}{about}{}{}\n",
        instead(iso.clone(), setup.camera.iso.to_string(), ""),
        chosen(Compensate::Iso)
    );
    t += &format!(
        "  or {} times the light{}\n",
        times(e.factor),
        chosen(Compensate::Light)
    );
    t
}

/// Density inside the camera, which the bare stop was metered with.
fn internal(setup: &Setup) -> String {
    let density = setup.camera.internal_nd;
    if density.get() <= 0.0 {
        return String::new();
    }
    let trade = Stops::clamped(density.get() / TRADE_STOP);
    format!(
        "behind the lens: ND {} in the camera, {}; the bare stop was metered with it, so it is not counted\n",
        density.get(),
        counted(trade)
    )
}

fn colour(setup: &Setup) -> String {
    if !setup.has_colour() {
        return String::new();
    }
    let modelled = setup
        .shift()
        .map_or_else(|| "no colour temperature left".to_owned(), signed);
    let nominal = setup.nominal_shift().map_or_else(String::new, |s| {
        format!("{} by the pieces' numbers, ", signed(s))
    });
    let mut t =
        format!("colour shifted, mireds: {nominal}{modelled} modelled in the scene's light\n");
    for turn in setup.turns() {
        t += &format!("  {}\n", turned(&turn));
    }
    t
}

fn turned(turn: &Turned) -> String {
    let by_mireds = turn
        .by_mireds
        .map_or_else(String::new, |k| format!(" (by mireds {:.0} K)", k.get()));
    format!(
        "{:.0} K becomes {}{by_mireds}",
        turn.from.get(),
        white(turn.by_spectrum.through)
    )
}

/// A light's temperature, and its tint where it has one.
pub(in crate::cli) fn white(white: Option<White>) -> String {
    let Some(white) = white else {
        return "light of no colour temperature".to_owned();
    };
    let tint = if white.duv > 0.0 { "green" } else { "magenta" };
    let off = if white.is_off_the_line() {
        let sign = if white.duv > 0.0 { "+" } else { "−" };
        let size = white.duv.abs();
        format!(", Duv {sign}{size:.3}: no longer a white on the line, {tint}")
    } else {
        String::new()
    };
    format!("{:.0} K{off}", white.kelvin.get())
}

/// A number of stops with its unit: "1.00 stop", "2.25 stops".
pub(in crate::cli) fn counted(stops: Stops) -> String {
    lost(stops).map_or_else(|| "everything".to_owned(), |_| stops.counted())
}

/// A stop unrounded and to the nearest third, as a barrel shows it.
fn stop(n: f64) -> String {
    // Half is what the sine condition allows in air: no lens is marked beyond.
    if n < 0.5 {
        let digits = if n < 0.1 {
            format!("{n:.1e}")
        } else {
            format!("{n:.2}")
        };
        return format!("{digits}, which no lens opens to,");
    }
    let barrel = words::on_barrel(n);
    let exact = words::exact(n);
    // A full stop needs no second telling.
    if barrel.parse::<f64>().is_ok_and(|b| (b - n).abs() < 0.005) {
        exact
    } else {
        format!("{exact} ({barrel})")
    }
}

/// What a glass's row in JSON gains.
pub(super) fn factor_and_mireds(g: &Mounted, loss: Stops) -> [Value; 2] {
    [
        json!(lost(loss).map(|_| loss.factor())),
        json!(g.piece.nominal_shift().map(Mireds::get)),
    ]
}
