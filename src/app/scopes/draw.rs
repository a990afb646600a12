//! The scopes' drawings: axes, traces, loci. All from shares that the meters read in linear light.

use super::density::{Density, brightness};
use crate::app::theme::{GRID, GROUND, KEY};
use crate::app::{fields, theme};
use crate::meters::chromaticity::{CELL, CELLS, Lamp, planckian_locus, spectral_locus};
use crate::meters::histogram::Counts;
use crate::meters::waveform::Waveform;
use crate::meters::{Axis, Channel};
use crate::session::Scopes;
use crate::units::{Stops, level_mark};
use egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use std::sync::Arc;

/// Colours of the channels: told apart by lightness too.
const RED: Color32 = Color32::from_rgb(232, 118, 100);
const GREEN: Color32 = Color32::from_rgb(140, 214, 132);
const BLUE: Color32 = Color32::from_rgb(112, 156, 248);
/// Names over the two halves.
const NAMES: [&str; 2] = ["Bare", "Glass"];
/// Room for the axis's figures.
const FIGURES: f32 = 26.0;

/// Both waveforms, side by side.
pub(super) fn waveforms(ui: &mut Ui, scopes: &Arc<Scopes>, colours: bool, kept: &mut [Density; 2]) {
    for ((rect, i), kept) in halves(ui, "Waveform").zip(kept) {
        let wave = &scopes.pair[i].waveform;
        let plot = plot(ui.painter(), rect);
        let (columns, bins) = (wave.columns(), wave.axis().bins());
        let of = (Arc::as_ptr(scopes) as usize, u8::from(colours));
        let texture = kept.texture(ui.ctx(), of, [columns, bins], || trace(wave, colours));
        if let Some(texture) = texture {
            let whole = Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0));
            ui.painter().image(texture, plot, whole, Color32::WHITE);
        }
        levels(ui.painter(), plot, wave.axis());
        let off = |parts: &[f32]| {
            100.0 * parts.iter().map(|p| f64::from(*p)).sum::<f64>() / parts.len() as f64
        };
        let y = wave.trace(Channel::Luminance);
        let (under, over) = (off(&y.under), off(&y.over));
        beyond(ui.painter(), plot, under, over);
        name(ui.painter(), plot, NAMES[i]);
    }
}

/// A waveform's colours, from the top.
fn trace(wave: &Waveform, colours: bool) -> Vec<Color32> {
    let (columns, bins) = (wave.columns(), wave.axis().bins());
    // Where a column's pixels are spread over two stops.
    let usual = (0.5 / wave.axis().per_stop()) as f32;
    let mut out = Vec::with_capacity(columns * bins);
    for bin in (0..bins).rev() {
        for column in 0..columns {
            let share = |channel: Channel| {
                brightness(wave.trace(channel).shares[column * bins + bin], usual)
            };
            let light = if colours {
                let parts = [
                    (Channel::Red, RED),
                    (Channel::Green, GREEN),
                    (Channel::Blue, BLUE),
                ];
                parts.iter().fold([0.0; 3], |sum, (channel, colour)| {
                    let b = share(*channel);
                    let [r, g, bl, _] = colour.to_array().map(f32::from);
                    [sum[0] + b * r, sum[1] + b * g, sum[2] + b * bl]
                })
            } else {
                [230.0 * share(Channel::Luminance); 3]
            };
            let ground = f32::from(GROUND.r());
            let [r, g, b] = light.map(|v| (ground + v).min(255.0) as u8);
            out.push(Color32::from_rgb(r, g, b));
        }
    }
    out
}

/// One histogram: bare as a line, the glass as an area.
pub(super) fn histograms(ui: &mut Ui, scopes: &Arc<Scopes>, colours: bool) {
    let rect = area(ui, "Histogram");
    let plot = Rect::from_min_max(rect.min + vec2(0.0, 18.0), rect.max - vec2(0.0, 18.0));
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(plot, 0.0, GROUND);
    let channels: &[(Channel, Color32)] = if colours {
        &[
            (Channel::Red, RED),
            (Channel::Green, GREEN),
            (Channel::Blue, BLUE),
        ]
    } else {
        &[(Channel::Luminance, Color32::from_gray(210))]
    };
    let axis = scopes.pair[0].histogram.axis();
    let highest = channels
        .iter()
        .flat_map(|(c, _)| {
            scopes
                .pair
                .iter()
                .flat_map(|s| s.histogram.counts(*c).shares.iter())
        })
        .fold(0.0_f64, |a, b| a.max(*b))
        .max(1e-6);
    let x = |level: f64| plot.left() + axis.part(Stops::clamped(level)) as f32 * plot.width();
    for mark in -8..=8 {
        let level = f64::from(mark);
        let stroke = Stroke::new(1.0, if mark == 0 { KEY } else { GRID });
        painter.vline(x(level), plot.y_range(), stroke);
        let word = level_mark(mark);
        let at = pos2(x(level), plot.bottom() + 9.0);
        painter.text(
            at,
            Align2::CENTER_CENTER,
            word,
            FontId::proportional(12.0),
            theme::SECOND,
        );
    }
    let line = |counts: &Counts| -> Vec<Pos2> {
        let bins = counts.shares.iter().enumerate();
        bins.map(|(bin, share)| {
            let up = (share / highest) as f32 * (plot.height() - 4.0);
            pos2(x(axis.centre(bin).get()), plot.bottom() - up)
        })
        .collect()
    };
    for (channel, colour) in channels {
        let glass = line(scopes.pair[1].histogram.counts(*channel));
        let faint = colour.gamma_multiply(0.35);
        // One mesh: areas beside one another would show their seams.
        let mut mesh = egui::Mesh::default();
        for (i, top) in glass.iter().enumerate() {
            mesh.colored_vertex(*top, faint);
            mesh.colored_vertex(pos2(top.x, plot.bottom()), faint);
            if i > 0 {
                let k = 2 * i as u32;
                mesh.add_triangle(k - 2, k - 1, k);
                mesh.add_triangle(k - 1, k, k + 1);
            }
        }
        painter.add(Shape::mesh(mesh));
        painter.add(Shape::line(glass, Stroke::new(1.0, *colour)));
        let bare = line(scopes.pair[0].histogram.counts(*channel));
        painter.extend(Shape::dashed_line(
            &bare,
            Stroke::new(1.4, *colour),
            5.0,
            3.0,
        ));
    }
    let counts = |i: usize| scopes.pair[i].histogram.counts(Channel::Luminance);
    let text = format!(
        "Bare: dashed line. Glass: filled. Off the scale, bare and glass: {} and {} under, {} and {} over.",
        percent(100.0 * counts(0).under),
        percent(100.0 * counts(1).under),
        percent(100.0 * counts(0).over),
        percent(100.0 * counts(1).over),
    );
    let font = FontId::proportional(12.0);
    painter.text(
        rect.left_top() + vec2(0.0, 8.0),
        Align2::LEFT_CENTER,
        text,
        font,
        theme::SECOND,
    );
}

/// Both pictures in the u'v' diagram, and the scene's light before and behind the glass.
pub(super) fn chromaticities(ui: &mut Ui, scopes: &Arc<Scopes>, kept: &mut [Density; 2]) {
    let all = area(ui, "Chromaticity, u' across and v' up");
    let side = all.height();
    for (i, kept) in kept.iter_mut().enumerate() {
        let rect = Rect::from_min_size(
            all.min + vec2(i as f32 * (side + 12.0), 0.0),
            vec2(side, side),
        );
        let painter = ui.painter().with_clip_rect(rect);
        painter.rect_filled(rect, 0.0, GROUND);
        let cloud = &scopes.pair[i].chromaticity;
        let of = (Arc::as_ptr(scopes) as usize, 0);
        let texture = kept.texture(ui.ctx(), of, [CELLS, CELLS], || {
            let rows = (0..CELLS).rev();
            rows.flat_map(|v| (0..CELLS).map(move |u| cloud.shares[v * CELLS + u]))
                .map(|share| Color32::from_white_alpha((255.0 * brightness(share, 1e-3)) as u8))
                .collect()
        });
        let span = (CELLS as f64 * CELL) as f32;
        let place =
            |[u, v]: [f64; 2]| rect.left_bottom() + side / span * vec2(u as f32, -(v as f32));
        if let Some(texture) = texture {
            let whole = Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0));
            painter.image(texture, rect, whole, Color32::WHITE);
        }
        let mut locus: Vec<Pos2> = spectral_locus().iter().map(|(_, uv)| place(*uv)).collect();
        locus.extend(locus.first().copied());
        painter.add(Shape::line(locus, Stroke::new(1.0, KEY)));
        let glowing: Vec<Pos2> = planckian_locus().iter().map(|(_, uv)| place(*uv)).collect();
        painter.add(Shape::line(glowing, Stroke::new(1.0, theme::SECOND)));
        if let Some(lamps) = &scopes.lamps {
            let lamp = if i == 0 {
                Some(lamps.bare)
            } else {
                lamps.through
            };
            if let Some(lamp) = lamp {
                let at = place(lamp.uv);
                painter.circle_stroke(at, 6.0, Stroke::new(3.0, Color32::BLACK));
                painter.circle_stroke(at, 6.0, Stroke::new(1.5, theme::ACCENT));
            }
        }
        name(&painter, rect, NAMES[i]);
    }
    let at = all.min + vec2(2.0 * side + 30.0, 4.0);
    let font = FontId::proportional(13.0);
    let mut lines = vec![
        "The ring is the scene's light; the lines are single wavelengths and glowing bodies."
            .to_owned(),
    ];
    if let Some(lamps) = &scopes.lamps {
        lines.push(lamp("Scene's light", Some(&lamps.bare)));
        lines.push(lamp("Behind the glass", lamps.through.as_ref()));
    }
    for (i, scope) in scopes.pair.iter().enumerate() {
        if let Some([u, v]) = scope.chromaticity.mean {
            let dark = percent(100.0 * scope.chromaticity.dark);
            lines.push(format!(
                "{}, all of its light: u' {u:.4}, v' {v:.4}; {dark} is too dark to count",
                NAMES[i]
            ));
        }
    }
    let width = (all.right() - at.x).max(60.0);
    let galley = ui
        .painter()
        .layout(lines.join("\n"), font, theme::TEXT, width);
    ui.painter().galley(at, galley, theme::TEXT);
}

fn lamp(name: &str, lamp: Option<&Lamp>) -> String {
    let Some(lamp) = lamp else {
        return format!("{name}: nothing comes through");
    };
    let [u, v] = lamp.uv;
    let kelvin = lamp.white.map_or_else(
        || "no white".to_owned(),
        |w| format!("{:.0} K", w.kelvin.get()),
    );
    format!("{name}: u' {u:.4}, v' {v:.4}, {kelvin}")
}

/// The room that is left, one thing to a screen reader.
fn area(ui: &mut Ui, name: &str) -> Rect {
    let size = ui.available_size();
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Image, true, name));
    rect
}

/// Two halves of it.
fn halves(ui: &mut Ui, name: &str) -> impl Iterator<Item = (Rect, usize)> + use<> {
    let all = area(ui, name);
    let width = 0.5 * (all.width() - 14.0);
    (0..2).map(move |i| {
        let left = all.left() + i as f32 * (width + 14.0);
        let rect = Rect::from_min_size(pos2(left, all.top()), vec2(width, all.height()));
        (rect, i)
    })
}

/// A plot's ground beside its figures.
fn plot(painter: &Painter, rect: Rect) -> Rect {
    let plot = Rect::from_min_max(rect.min + vec2(FIGURES, 2.0), rect.max - vec2(0.0, 2.0));
    painter.rect_filled(plot, 0.0, GROUND);
    plot
}

fn name(painter: &Painter, rect: Rect, title: &str) {
    let at = rect.left_top() + vec2(6.0, 10.0);
    let font = FontId::proportional(12.0);
    painter.text(at, Align2::LEFT_CENTER, title, font, theme::TEXT);
}

/// Lines of level, every two stops, with their figures.
fn levels(painter: &Painter, plot: Rect, axis: &Axis) {
    for mark in (-8..=8).step_by(2) {
        let level = f64::from(mark);
        let y = plot.bottom() - axis.part(Stops::clamped(level)) as f32 * plot.height();
        let stroke = Stroke::new(1.0, if mark == 0 { KEY } else { GRID });
        painter.hline(plot.x_range(), y, stroke);
        let word = level_mark(mark);
        let at = pos2(
            plot.left() - 4.0,
            y.clamp(plot.top() + 6.0, plot.bottom() - 6.0),
        );
        painter.text(
            at,
            Align2::RIGHT_CENTER,
            word,
            FontId::proportional(11.0),
            theme::SECOND,
        );
    }
}

/// What is off the axis.
fn beyond(painter: &Painter, plot: Rect, under: f64, over: f64) {
    let font = FontId::proportional(11.0);
    for (part, word, at, align) in [
        (
            over,
            "over",
            plot.right_top() + vec2(-6.0, 9.0),
            Align2::RIGHT_CENTER,
        ),
        (
            under,
            "under",
            plot.right_bottom() + vec2(-6.0, -9.0),
            Align2::RIGHT_CENTER,
        ),
    ] {
        if part > 0.0 {
            let text = format!("{} {word}", percent(part));
            painter.text(at, align, text, font.clone(), theme::SECOND);
        }
    }
}

fn percent(part: f64) -> String {
    if part > 0.0 && part < 0.1 {
        "under 0.1 %".to_owned()
    } else {
        format!("{} %", fields::trimmed(part, 1))
    }
}
