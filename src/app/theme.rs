//! Colours, type and spacing. Neutral greys throughout, so that nothing tints the eye beside the
//! picture; one accent, for focus and for what is chosen.
//!
//! The picture's surround is sRGB 48, 3 % of white. Text on every grey used here is at least 4.5 : 1
//! (WCAG 2.2 AA); a test works the ratios out.

use egui::{
    Color32, CornerRadius, FontFamily, FontId, Margin, Shadow, Stroke, Style, TextStyle, Visuals,
    vec2,
};

/// Around the picture.
pub(super) const SURROUND: Color32 = Color32::from_gray(48);
/// Panels.
pub(super) const PANEL: Color32 = Color32::from_gray(36);
/// Cards and headings on a panel.
pub(super) const RAISED: Color32 = Color32::from_gray(44);
/// Fields to type into.
pub(super) const FIELD: Color32 = Color32::from_gray(24);
/// Buttons: at rest, under the pointer, pressed.
const BUTTON: Color32 = Color32::from_gray(60);
const HOVERED: Color32 = Color32::from_gray(76);
const PRESSED: Color32 = Color32::from_gray(90);
/// Lines between regions.
pub(super) const LINE: Color32 = Color32::from_gray(64);
/// Behind plots, their lines, and the line of key.
pub(super) const GROUND: Color32 = Color32::from_gray(20);
pub(super) const GRID: Color32 = Color32::from_gray(58);
pub(super) const KEY: Color32 = Color32::from_gray(128);
/// Borders of what can be typed into or ticked.
const BORDER: Color32 = Color32::from_gray(116);
/// Text.
pub(super) const TEXT: Color32 = Color32::from_gray(226);
/// Labels and notes.
pub(super) const SECOND: Color32 = Color32::from_gray(182);
/// What is chosen, and where the keyboard is.
pub(super) const ACCENT: Color32 = Color32::from_rgb(128, 200, 184);
/// Behind what is chosen.
pub(super) const CHOSEN: Color32 = Color32::from_rgb(38, 82, 74);
/// Cautions.
pub(super) const CAUTION: Color32 = Color32::from_rgb(232, 200, 120);
/// What will not work, and problems.
pub(super) const STOP: Color32 = Color32::from_rgb(242, 150, 132);

/// Smallest side of anything that is clicked.
pub(super) const TARGET: f32 = 26.0;

/// Sets the look of every widget.
pub(super) fn apply(ctx: &egui::Context) {
    ctx.set_theme(egui::Theme::Dark);
    ctx.all_styles_mut(set);
}

fn set(style: &mut Style) {
    let font = |size, family| FontId::new(size, family);
    style.text_styles = [
        (TextStyle::Small, font(12.0, FontFamily::Proportional)),
        (TextStyle::Body, font(14.0, FontFamily::Proportional)),
        (TextStyle::Button, font(14.0, FontFamily::Proportional)),
        (TextStyle::Heading, font(16.0, FontFamily::Proportional)),
        (TextStyle::Monospace, font(13.0, FontFamily::Monospace)),
    ]
    .into();
    let s = &mut style.spacing;
    s.item_spacing = vec2(8.0, 6.0);
    s.button_padding = vec2(9.0, 4.0);
    s.interact_size = vec2(TARGET, TARGET);
    s.icon_width = 18.0;
    s.icon_width_inner = 10.0;
    s.icon_spacing = 6.0;
    s.menu_margin = Margin::same(6);
    s.window_margin = Margin::same(16);
    s.slider_width = 118.0;
    s.combo_width = 120.0;
    s.combo_height = 320.0;
    s.tooltip_width = 320.0;
    s.scroll.bar_width = 8.0;
    style.interaction.tooltip_delay = 0.4;
    style.interaction.selectable_labels = false;
    // Nothing moves by itself beside a picture that is being judged.
    style.animation_time = 0.0;
    style.visuals = visuals();
}

/// Gives what follows in `ui` the ground and the border of a field.
pub(super) fn field(ui: &mut egui::Ui) {
    let w = &mut ui.visuals_mut().widgets;
    w.inactive.weak_bg_fill = FIELD;
    w.inactive.bg_stroke = Stroke::new(1.0, BORDER);
    w.hovered.weak_bg_fill = Color32::from_gray(30);
}

fn visuals() -> Visuals {
    let mut v = Visuals::dark();
    v.override_text_color = None;
    v.weak_text_color = Some(SECOND);
    v.disabled_alpha = 0.62;
    v.panel_fill = PANEL;
    v.window_fill = PANEL;
    v.window_stroke = Stroke::new(1.0, Color32::from_gray(92));
    v.window_corner_radius = CornerRadius::same(8);
    v.menu_corner_radius = CornerRadius::same(6);
    v.extreme_bg_color = FIELD;
    v.faint_bg_color = RAISED;
    v.warn_fg_color = CAUTION;
    v.error_fg_color = STOP;
    v.hyperlink_color = ACCENT;
    v.selection.bg_fill = CHOSEN;
    v.selection.stroke = Stroke::new(1.0, Color32::WHITE);
    v.slider_trailing_fill = true;
    let shadow = Shadow {
        offset: [0, 4],
        blur: 16,
        spread: 0,
        color: Color32::from_black_alpha(120),
    };
    v.window_shadow = shadow;
    v.popup_shadow = shadow;
    let radius = CornerRadius::same(4);
    let w = &mut v.widgets;
    for (state, fill, border, text) in [
        (&mut w.noninteractive, PANEL, LINE, TEXT),
        (&mut w.inactive, BUTTON, BORDER, TEXT),
        (
            &mut w.hovered,
            HOVERED,
            Color32::from_gray(150),
            Color32::WHITE,
        ),
        (&mut w.active, PRESSED, ACCENT, Color32::WHITE),
        (
            &mut w.open,
            PRESSED,
            Color32::from_gray(150),
            Color32::WHITE,
        ),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, border);
        state.fg_stroke = Stroke::new(1.0, text);
        state.corner_radius = radius;
        state.expansion = 0.0;
    }
    // Buttons read by their fill; a border on each would be a grid of lines.
    w.inactive.bg_stroke = Stroke::new(1.0, Color32::from_gray(84));
    w.active.bg_stroke = Stroke::new(2.0, ACCENT);
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio: WCAG 2.2, "relative luminance" and "contrast ratio".
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let linear = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 {
                    v / 12.92
                } else {
                    ((v + 0.055) / 1.055).powf(2.4)
                }
            };
            0.2126 * linear(c.r()) + 0.7152 * linear(c.g()) + 0.0722 * linear(c.b())
        };
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        if a > b { a / b } else { b / a }
    }

    #[test]
    fn text_is_readable_on_every_ground() {
        for text in [TEXT, SECOND, ACCENT, CAUTION, STOP] {
            for ground in [SURROUND, PANEL, RAISED, FIELD] {
                let ratio = contrast(text, ground);
                assert!(ratio >= 4.5, "{text:?} on {ground:?} is {ratio:.2} : 1");
            }
        }
        for ground in [BUTTON, HOVERED, PRESSED, CHOSEN] {
            let ratio = contrast(TEXT, ground);
            assert!(
                ratio >= 4.5,
                "a button's text on {ground:?} is {ratio:.2} : 1"
            );
        }
    }

    #[test]
    fn borders_and_the_accent_stand_out_from_panels() {
        for (what, colour) in [("a field's border", BORDER), ("the accent", ACCENT)] {
            let ratio = contrast(colour, PANEL);
            assert!(
                ratio >= 3.0,
                "{what} is {ratio:.2} : 1 (WCAG 2.2, 1.4.11 asks for 3)"
            );
        }
    }
}
