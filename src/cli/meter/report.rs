//! What was read, as JSON.

use super::{PARTS, Pair, Read, Reading};
use crate::frame::restore::{PinTold, Role, Told};
use crate::meters::chromaticity::{CELL, Chromaticity, Lamp, Lamps};
use crate::meters::histogram::Histogram;
use crate::meters::spot::Contrast;
use crate::meters::texture::{Band, Texture};
use crate::meters::waveform::Waveform;
use crate::meters::{Axis, Channel};
use crate::recipe::Recipe;
use crate::units::Stops;
use serde_json::{Map, Value, json};

pub(super) fn report(read: &Read) -> Value {
    let effect = read.effect;
    let mut report = json!({
        "spots": read.spots.iter().map(spot).collect::<Vec<_>>(),
        "black_lift_stops": effect.map(|e| e.blacks.lift().get()),
        "black_stops": effect.map(|e| json!({
            "bare": e.blacks.bare.get(), "glass": e.blacks.glass.get(),
        })),
        "texture": effect.map(|e| scales(&e.texture, |_, band| json!(band.map(Band::percent)))),
        "texture_bands": effect.map(|e| scales(&e.texture, bands)),
        "light": light(&read.light, &read.how),
    });
    let scopes = [
        ("ratio", read.contrast.as_ref().map(ratio)),
        ("histogram", read.histogram.as_ref().map(histogram)),
        ("waveform", read.waveform.as_ref().map(waveform)),
        (
            "chromaticity",
            read.chromaticity
                .as_ref()
                .map(|pair| chromaticity(pair, read.lamps.as_ref())),
        ),
    ];
    for (name, value) in scopes {
        if let Some(value) = value {
            report[name] = value;
        }
    }
    report
}

fn spot(reading: &Reading) -> Value {
    json!({
        "x": reading.spot.x,
        "y": reading.spot.y,
        "radius": reading.spot.radius,
        "bare_stops": reading.bare.get(),
        "glass_stops": reading.glass.map(Stops::get),
    })
}

fn scales(texture: &Texture, of: impl Fn(f64, Option<Band>) -> Value) -> Value {
    let scales = texture.scales();
    let rows = scales.map(|(name, peak, band)| (name.to_owned(), of(peak, band)));
    Value::Object(rows.into_iter().collect())
}

fn bands(peak: f64, band: Option<Band>) -> Value {
    let band = band.map(|band| {
        let [bare, glass] = band.energies();
        json!({
            "cycles_per_height": peak,
            "bare_energy": bare,
            "glass_energy": glass,
            "kept_percent": band.percent(),
            "kept_db": band.db(),
        })
    });
    json!(band)
}

/// How the frame's light was brought back.
fn light((recipe, told): &(Recipe, Told), how: &str) -> Value {
    let ask = recipe.frame.ask();
    let pins = ask.pins.iter().zip(&told.pins).map(|(asked, pin)| {
        json!({
            "x": asked.disc.x,
            "y": asked.disc.y,
            "role": role(pin),
            "said_stops": pin.said.get(),
            "plain_stops": pin.plain.get(),
            "stops": pin.now.get(),
            "residual_stops": pin.residual().get(),
        })
    });
    json!({
        "read": how,
        "lines": told.lines(),
        "curve": format!("{:?}", told.curve.shape).to_lowercase(),
        "pins": pins.collect::<Vec<_>>(),
        "clipped_share": told.clipped.share,
    })
}

const fn role(pin: &PinTold) -> &'static str {
    match pin.role {
        Role::Curve => "curve",
        Role::Level => "level",
        Role::Outlier => "outlier",
        Role::Dark => "dark",
    }
}

fn ratio(pair: &Pair<Option<Contrast>>) -> Value {
    let told = pair.map(|contrast| {
        json!(contrast.map(|c| json!({"ratio": c.ratio(), "stops": c.stops.get()})))
    });
    json!({"bare": told.bare, "glass": told.glass})
}

/// What every scope on an axis of stops begins with.
fn on_axis(axis: &Axis, pair: &Pair<Value>) -> Value {
    json!({
        "from_stops": axis.centre(0).get(),
        "to_stops": axis.centre(axis.bins() - 1).get(),
        "bins_per_stop": axis.per_stop(),
        "bare": pair.bare,
        "glass": pair.glass,
    })
}

fn channels(of: impl Fn(Channel) -> Value) -> Map<String, Value> {
    let rows = Channel::ALL.map(|channel| (channel.word().to_owned(), of(channel)));
    rows.into_iter().collect()
}

fn histogram(pair: &Pair<(Histogram, [Stops; PARTS.len()])>) -> Value {
    let told = pair.map(|(histogram, levels)| {
        let mut told = channels(|channel| {
            let counts = histogram.counts(channel);
            json!({"shares": counts.shares, "under": counts.under, "over": counts.over})
        });
        let levels = PARTS
            .iter()
            .zip(levels)
            .map(|(part, stops)| json!({"part": part, "stops": stops.get()}));
        told.insert("luminance_levels".to_owned(), levels.collect());
        Value::Object(told)
    });
    on_axis(pair.bare.0.axis(), &told)
}

fn waveform(pair: &Pair<Waveform>) -> Value {
    let told = pair.map(|waveform| {
        Value::Object(channels(|channel| {
            let trace = waveform.trace(channel);
            let columns = (0..waveform.columns()).map(|i| waveform.column(channel, i));
            json!({
                "columns": columns.collect::<Vec<_>>(),
                "under": trace.under,
                "over": trace.over,
            })
        }))
    });
    on_axis(pair.bare.axis(), &told)
}

fn chromaticity(pair: &Pair<Chromaticity>, lamps: Option<&Lamps>) -> Value {
    let told = pair.map(|colours| {
        let cells = colours.filled().map(|([u, v], share)| json!([u, v, share]));
        json!({
            "cells": cells.collect::<Vec<_>>(),
            "mean": colours.mean,
            "dark": colours.dark,
            "beyond": colours.beyond,
        })
    });
    let lamp = |lamp: Lamp| {
        json!({
            "u": lamp.uv[0],
            "v": lamp.uv[1],
            "kelvin": lamp.white.map(|w| w.kelvin.get()),
            "duv": lamp.white.map(|w| w.duv),
        })
    };
    json!({
        "cell": CELL,
        "bare": told.bare,
        "glass": told.glass,
        "scene_light": lamps.map(|lamps| json!({
            "bare": lamp(lamps.bare),
            "through": lamps.through.map(lamp),
        })),
    })
}
