//! What was read, in words.

use super::{PARTS, Pair, Read, Reading};
use crate::meters::chromaticity::{Chromaticity, Lamp, Lamps};
use crate::meters::histogram::Histogram;
use crate::meters::spot::Contrast;
use crate::meters::waveform::Waveform;
use crate::meters::{Channel, Effect};
use crate::units::{Stops, level_mark, signed};

/// Signs of a bar's last eighth.
const EIGHTHS: [char; 8] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉'];
/// Signs of a waveform, by how much of a column is there.
const SHADES: [(f32, char); 4] = [(0.3, '█'), (0.1, '▓'), (0.03, '▒'), (0.003, '░')];
/// Widest bar, in signs.
const BAR: usize = 24;
/// Columns of a waveform in signs.
const WIDE: usize = 64;

pub(super) fn text(read: &Read) -> String {
    let mut t = String::new();
    t += &format!("{}.\n", read.how);
    for line in read.line.iter().chain(&read.light.1.lines()) {
        t += &format!("{line}\n");
    }
    t += &spots(&read.spots, read.effect.is_some());
    if let Some(contrast) = &read.contrast {
        t += &ratio(contrast);
    }
    if let Some(effect) = read.effect {
        t += &effects(effect);
    }
    if let Some(pair) = &read.histogram {
        t += &histogram(pair);
    }
    if let Some(pair) = &read.waveform {
        t += &waveform("bare", &pair.bare);
        if let Some(glass) = &pair.glass {
            t += &waveform("through glass", glass);
        }
    }
    if let Some(pair) = &read.chromaticity {
        t += &chromaticity(pair, read.lamps.as_ref());
    }
    t
}

/// A level with its sign; the lowest there is has no light in it.
pub(in crate::cli) fn level(stops: Stops) -> String {
    if stops.get() <= Stops::LOW {
        "no light".to_owned()
    } else {
        stops.signed()
    }
}

fn spots(readings: &[Reading], through: bool) -> String {
    let mut t = String::new();
    if !readings.is_empty() {
        t += "  across   down       bare";
        t += if through {
            "      glass     change   (stops against key)\n"
        } else {
            "   (stops against key)\n"
        };
    }
    for r in readings {
        t += &format!(
            "  {:>6.3} {:>6.3} {:>10}",
            r.spot.x,
            r.spot.y,
            level(r.bare)
        );
        if let Some(glass) = r.glass {
            t += &format!(" {:>10} {:>10}", level(glass), level(glass - r.bare));
        }
        t.push('\n');
    }
    t
}

fn ratio(contrast: &Pair<Option<Contrast>>) -> String {
    let told = contrast.map(|contrast| {
        contrast.map_or_else(
            || "none, a spot has no light".to_owned(),
            |c| {
                let ratio = if c.ratio() < 1.0 {
                    format!("1:{:.2}", 1.0 / c.ratio())
                } else {
                    format!("{:.2}:1", c.ratio())
                };
                format!("{ratio} ({} stops)", signed(c.stops.get(), 2))
            },
        )
    });
    let glass = told
        .glass
        .map_or_else(String::new, |glass| format!(", through glass {glass}"));
    format!("first spot to second: bare {}{glass}\n", told.bare)
}

fn effects(e: Effect) -> String {
    let lift = e.blacks.lift().get();
    let word = if lift < 0.0 { "held down" } else { "lifted" };
    let mut t = format!(
        "blacks {word} by {:.2} stops, from {} to {} against key, the loss divided out\n",
        lift.abs(),
        level(e.blacks.bare),
        level(e.blacks.glass)
    );
    let scales = e.texture.scales().map(|(name, _, band)| match band {
        Some(band) => format!(
            "{name} {:.0} % ({} dB)",
            band.percent(),
            signed(band.db(), 1)
        ),
        None => format!("{name} –"),
    });
    t += &format!("texture kept: {}\n", scales.join(", "));
    t
}

/// A row for every stop, from the highest level to the lowest that the picture has.
fn histogram(pair: &Pair<(Histogram, [Stops; PARTS.len()])>) -> String {
    let rows = pair.map(|(histogram, _)| by_stops(histogram));
    let columns: Vec<&Vec<(String, f64)>> = [&rows.bare].into_iter().chain(&rows.glass).collect();
    let most = columns.iter().flat_map(|c| c.iter());
    let most = most.fold(0.0_f64, |most, (_, share)| most.max(*share));
    let filled = |i: &usize| columns.iter().any(|c| c[*i].1 > 0.0);
    let count = rows.bare.len();
    let (first, last) = ((0..count).find(filled), (0..count).rev().find(filled));
    let mut t = "luminance, stops against key, per cent of the picture: bare".to_owned();
    t += if rows.glass.is_some() {
        ", through glass\n"
    } else {
        "\n"
    };
    for i in first.unwrap_or(0)..=last.unwrap_or(0) {
        t += &format!("  {:>5}", rows.bare[i].0);
        for column in &columns {
            let share = column[i].1;
            t += &format!(" {:>6.2} {}", 100.0 * share, bar(share / most.max(1e-12)));
        }
        t = format!("{}\n", t.trim_end());
    }
    let names = PARTS.map(|part| format!("{:.0}", 100.0 * part)).join(", ");
    t += &format!("  {names} % of the pixels are no brighter than\n");
    let told = pair.map(|(_, levels)| levels.map(level).join(", "));
    t += &format!("    bare          {}\n", told.bare);
    if let Some(glass) = told.glass {
        t += &format!("    through glass {glass}\n");
    }
    t
}

/// What lies within half a stop of each whole one, highest first, and what is off the axis.
fn by_stops(histogram: &Histogram) -> Vec<(String, f64)> {
    let axis = histogram.axis();
    let counts = histogram.counts(Channel::Luminance);
    let whole = |bin: usize| (axis.centre(bin).get() + 0.5).floor() as i32;
    let mut rows: Vec<(String, f64)> = vec![("over".to_owned(), counts.over)];
    for stops in (whole(0)..=whole(axis.bins() - 1)).rev() {
        let inside = counts.shares.iter().enumerate();
        let share = inside.filter(|(bin, _)| whole(*bin) == stops).map(|b| b.1);
        rows.push((level_mark(stops), share.sum()));
    }
    rows.push(("under".to_owned(), counts.under));
    rows
}

/// A bar for a part of the longest.
fn bar(part: f64) -> String {
    let eighths = (part.clamp(0.0, 1.0) * (8 * BAR) as f64).round() as usize;
    let mut bar = "█".repeat(eighths / 8);
    bar.push(EIGHTHS[eighths % 8]);
    let signs = bar.chars().count();
    bar + &" ".repeat((BAR + 1).saturating_sub(signs))
}

/// A waveform of luminance in signs: a row for every stop.
fn waveform(name: &str, waveform: &Waveform) -> String {
    let wide = waveform.columns().min(WIDE);
    let axis = waveform.axis();
    let whole = |bin: usize| (axis.centre(bin).get() + 0.5).floor() as i32;
    let (low, high) = (whole(0), whole(axis.bins() - 1));
    let trace = waveform.trace(Channel::Luminance);
    let rows: Vec<(String, Vec<f32>)> = (low - 1..=high + 1)
        .rev()
        .map(|stops| {
            let share = |column: usize| -> f32 {
                if stops > high {
                    trace.over[column]
                } else if stops < low {
                    trace.under[column]
                } else {
                    let bins = waveform.column(Channel::Luminance, column).iter();
                    let inside = bins.enumerate().filter(|(bin, _)| whole(*bin) == stops);
                    inside.map(|(_, share)| share).sum()
                }
            };
            let signs = (0..wide)
                .map(|i| {
                    let from = i * waveform.columns() / wide;
                    let to = (i + 1) * waveform.columns() / wide;
                    (from..to).map(share).sum::<f32>() / (to - from) as f32
                })
                .collect();
            let word = match stops {
                s if s > high => "over".to_owned(),
                s if s < low => "under".to_owned(),
                s => level_mark(s),
            };
            (word, signs)
        })
        .collect();
    let filled = |row: &(String, Vec<f32>)| row.1.iter().any(|share| *share >= SHADES[3].0);
    let first = rows.iter().position(filled).unwrap_or(0);
    let last = rows.iter().rposition(filled).unwrap_or(0);
    let mut t = format!("luminance across the picture, {name}, stops against key\n");
    for (word, shares) in &rows[first..=last] {
        let signs: String = shares.iter().map(|share| shade(*share)).collect();
        t += format!("  {word:>5} {signs}").trim_end();
        t.push('\n');
    }
    t
}

fn shade(share: f32) -> char {
    let shade = SHADES.iter().find(|(least, _)| share >= *least);
    shade.map_or(' ', |(_, sign)| *sign)
}

fn chromaticity(pair: &Pair<Chromaticity>, lamps: Option<&Lamps>) -> String {
    let mut t = "chromaticity, CIE 1976 u′ v′\n".to_owned();
    let told = pair.map(colours);
    t += &format!("  picture, bare: {}\n", told.bare);
    if let Some(glass) = told.glass {
        t += &format!("  picture, through glass: {glass}\n");
    }
    if let Some(lamps) = lamps {
        t += &format!("  scene light, bare: {}\n", lamp(lamps.bare));
        let through = lamps.through.map_or_else(|| "none".to_owned(), lamp);
        t += &format!("  scene light, behind the glass: {through}\n");
    }
    t
}

fn colours(colours: &Chromaticity) -> String {
    let Some([u, v]) = colours.mean else {
        return "too dark for colour".to_owned();
    };
    let mut apart: Vec<(f64, f32)> = colours
        .filled()
        .map(|([cu, cv], share)| ((cu - u).hypot(cv - v), share))
        .collect();
    apart.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * apart.iter().map(|a| a.1).sum::<f32>();
    let mut sum = 0.0;
    let middle = apart.iter().find(|(_, share)| {
        sum += share;
        sum >= half
    });
    let within = middle.map_or(0.0, |m| m.0);
    format!(
        "mean {u:.4} {v:.4}, half of it within {within:.3} of that; {:.1} % left out for darkness",
        100.0 * colours.dark
    )
}

fn lamp(lamp: Lamp) -> String {
    let [u, v] = lamp.uv;
    format!(
        "{u:.4} {v:.4}, {}",
        super::super::rig::ledger::white(lamp.white)
    )
}
