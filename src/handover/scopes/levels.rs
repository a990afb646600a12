//! Levels against a scale of stops: the waveform and the histogram.

use super::Scene;
use super::draw::{At, HAIR, LABEL, MARGIN, density, head, label, outline, page, upright};
use crate::handover::page::{Area, Ink, Item, Page};
use crate::meters::histogram::Histogram;
use crate::meters::waveform::Waveform;
use crate::meters::{Axis, Channel};
use crate::units::{Stops, level_mark, trimmed};

/// Room for the levels beside a panel, mm.
const SIDE: f64 = 8.0;
/// Height of the strips that show what is off the axis, mm.
const OFF: f64 = 2.0;
/// Width of the page, mm.
const WIDE: f64 = 130.0;
/// The part of a column in one bin that is drawn at six tenths of full ink (by eye, no source).
const PLAIN: f64 = 0.02;

/// Ink of the lines at key and at the other whole stops.
const KEY_LINE: f64 = 0.4;
const STOP_LINE: f64 = 0.12;

const fn ink(channel: Channel) -> Ink {
    match channel {
        Channel::Luminance => Ink::TEXT,
        Channel::Red => Ink([176, 38, 30]),
        Channel::Green => Ink([16, 110, 58]),
        Channel::Blue => Ink([36, 68, 178]),
    }
}

/// Whole stops on an axis, every `step` of them.
fn marks(axis: &Axis, step: i32) -> impl Iterator<Item = i32> {
    let [low, high] = axis.ends().map(|s| s.get().floor() as i32);
    (low..=high)
        .filter(move |s| s.rem_euclid(step) == 0)
        .filter(|s| (0.0..=1.0).contains(&axis.part(Stops::clamped(f64::from(*s)))))
}

/// Stops between labels, so that no more than nine stand along an axis.
fn label_step(axis: &Axis) -> i32 {
    let [low, high] = axis.ends().map(Stops::get);
    ((high - low) / 9.0).ceil().max(1.0) as i32
}

/// A waveform: luminance above, red, green and blue below.
#[must_use]
pub fn waveform_page(scene: &Scene, waveform: &Waveform) -> Page {
    let mut p = page(WIDE, 0.0);
    let top = head(&mut p, &scene.title, &scene.note) + 1.0;
    let across = WIDE - 2.0 * MARGIN - SIDE;
    let main = Area {
        x: MARGIN + SIDE,
        y: top + OFF,
        width: across,
        height: 48.0,
    };
    panel(&mut p, main, waveform, Channel::Luminance, true);
    let gap = 3.0;
    let third = (across - 2.0 * gap) / 3.0;
    let y = main.y + main.height + 2.0 * OFF + 4.0;
    for (i, channel) in Channel::ALL.into_iter().skip(1).enumerate() {
        let area = Area {
            x: main.x + (third + gap) * i as f64,
            y,
            width: third,
            height: 30.0,
        };
        panel(&mut p, area, waveform, channel, i == 0);
    }
    p.height_mm = y + 30.0 + OFF + 4.0 + MARGIN;
    p
}

fn panel(page: &mut Page, area: Area, waveform: &Waveform, channel: Channel, labelled: bool) {
    let (columns, axis) = (waveform.columns(), waveform.axis());
    let bins = axis.bins();
    let trace = waveform.trace(channel);
    let shade = |share: f32| 1.0 - (-(f64::from(share) / PLAIN).sqrt()).exp();
    // Lines at whole stops lie behind the trace.
    let ruled: Vec<f64> = (0..bins)
        .map(|bin| {
            let stops = axis.centre(bin).get();
            match stops {
                s if s.abs() < 1e-6 => KEY_LINE,
                s if (s - s.round()).abs() < 1e-6 => STOP_LINE,
                _ => 0.0,
            }
        })
        .collect();
    density(page, area, [columns, bins], ink(channel), |x, y| {
        let bin = bins - 1 - y;
        shade(trace.shares[x * bins + bin]).max(ruled[bin])
    });
    let strips = [
        (area.y - OFF, &trace.over),
        (area.y + area.height, &trace.under),
    ];
    for (y, off) in strips {
        let strip = Area {
            y,
            height: OFF,
            ..area
        };
        density(page, strip, [columns, 1], ink(channel), |x, _| {
            shade(off[x])
        });
        outline(page, &strip, Ink::HAIR);
    }
    let step = label_step(axis);
    for stops in marks(axis, step).filter(|_| labelled) {
        let part = axis.part(Stops::clamped(f64::from(stops)));
        let y = area.y + area.height * (1.0 - part);
        let at = [area.x - 1.0, y + 0.6];
        label(page, LABEL, At::Right, at, &level_mark(stops));
    }
    if labelled {
        let over = [area.x - 1.0, area.y - OFF + 0.4];
        label(page, LABEL, At::Right, over, "over");
        let under = [area.x - 1.0, area.y + area.height + OFF + 0.8];
        label(page, LABEL, At::Right, under, "under");
    }
    outline(page, &area, Ink::HAIR);
    let name = [area.x, area.y + area.height + OFF + 2.4];
    label(page, LABEL, At::Left, name, channel.word());
}

/// A histogram: luminance as a filled shape, red, green and blue as lines over it.
#[must_use]
pub fn histogram_page(scene: &Scene, histogram: &Histogram) -> Page {
    let mut p = page(WIDE, 0.0);
    let top = head(&mut p, &scene.title, &scene.note) + 1.0;
    let area = Area {
        x: MARGIN + SIDE,
        y: top,
        width: WIDE - 2.0 * (MARGIN + SIDE),
        height: 60.0,
    };
    let axis = histogram.axis();
    let step = label_step(axis);
    let below = area.y + area.height;
    for stops in marks(axis, 1) {
        let x = area.x + area.width * axis.part(Stops::clamped(f64::from(stops)));
        let (ink, weight) = match stops {
            0 => (Ink::QUIET, 2.0 * HAIR),
            _ => (Ink([214, 214, 214]), HAIR),
        };
        upright(&mut p, [x, area.y], area.height, weight, ink);
        if stops.rem_euclid(step) == 0 {
            let at = [x, below + 2.6];
            label(&mut p, LABEL, At::Middle, at, &level_mark(stops));
        }
    }
    // One scale for all channels, so that their heights can be compared.
    let most = Channel::ALL
        .iter()
        .flat_map(|c| &histogram.counts(*c).shares)
        .fold(0.0_f64, |a, b| a.max(*b));
    let tall = |share: f64| {
        if most > 0.0 {
            0.96 * area.height * share / most
        } else {
            0.0
        }
    };
    let step_mm = area.width / axis.bins() as f64;
    for channel in Channel::ALL {
        let shares = &histogram.counts(channel).shares;
        let heights = shares.iter().map(|s| tall(*s));
        if channel == Channel::Luminance {
            for (i, height) in heights.enumerate().filter(|(_, h)| *h > 0.0) {
                let bar = Area {
                    x: area.x + step_mm * i as f64,
                    y: below - height,
                    width: step_mm,
                    height,
                };
                p.items.push(Item::Rect(bar, Ink([196, 196, 196])));
            }
            continue;
        }
        let mut last = 0.0;
        for (i, height) in heights.chain([0.0]).enumerate() {
            let x = area.x + step_mm * i as f64;
            let (low, high) = (height.min(last), height.max(last));
            let rise = [x, below - high];
            upright(&mut p, rise, high - low, 2.0 * HAIR, ink(channel));
            if i < shares.len() && height > 0.0 {
                p.rule(x, below - height - HAIR, step_mm, 2.0 * HAIR, ink(channel));
            }
            last = height;
        }
    }
    outline(&mut p, &area, Ink::HAIR);
    p.height_mm = off_the_axis(&mut p, &area, histogram) + MARGIN;
    p
}

/// What each channel has off the axis, in per cent, under the histogram.
fn off_the_axis(page: &mut Page, area: &Area, histogram: &Histogram) -> f64 {
    let mut y = area.y + area.height + 6.0;
    for channel in Channel::ALL {
        let counts = histogram.counts(channel);
        let swatch = Area {
            x: area.x,
            y: y - 1.3,
            width: 3.0,
            height: 1.3,
        };
        let ink = match channel {
            Channel::Luminance => Ink([196, 196, 196]),
            _ => ink(channel),
        };
        page.items.push(Item::Rect(swatch, ink));
        let percent = |share: f64| trimmed(100.0 * share, 2);
        let text = format!(
            "{}: {} % under the axis, {} % over it",
            channel.word(),
            percent(counts.under),
            percent(counts.over)
        );
        label(page, LABEL, At::Left, [area.x + 4.5, y], &text);
        y += 2.6;
    }
    y - 2.6
}
