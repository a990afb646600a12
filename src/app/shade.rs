//! The matte box's shade: its mouth, how far it stands out, its top flag.

use super::fields::{self, Number};
use super::set_up::set;
use crate::rig::spill::USUAL_MM;
use crate::session::Session;
use crate::units::{Extent, Millimetres};
use egui::Ui;

const MM: Number = Number::new(1.0, 600.0, 1.0, 1).suffix(" mm");
const FLAG: Number = Number::new(0.0, 600.0, 1.0, 0).suffix(" mm");

/// Shows the section.
pub(super) fn show(ui: &mut Ui, session: &mut Session) {
    fields::heading(ui, "Shade");
    let mut on = session.recipe().light.shade;
    if ui.checkbox(&mut on, "Shade on the matte box").changed() {
        set(session, "Shade", |r| r.light.shade = on);
    }
    if !on {
        return;
    }
    mouth(ui, session);
    let shade = session.recipe().rig.shade;
    let help = "How far the mouth stands in front of the frontmost glass.";
    if let Some(v) = fields::number(ui, "Stands out", help, MM, shade.depth_mm.get()) {
        set(session, "Shade's distance", |r| {
            r.rig.shade.depth_mm = Extent::clamped(v);
        });
    }
    let help = "How far the top flag reaches beyond the shade's mouth.";
    if let Some(v) = fields::number(ui, "Top flag", help, FLAG, shade.top_flag_mm.get()) {
        set(session, "Top flag", |r| {
            r.rig.shade.top_flag_mm = Millimetres::clamped(v);
        });
    }
}

/// The mouth's opening: both sides of it, or neither.
fn mouth(ui: &mut Ui, session: &mut Session) {
    let opening = session.recipe().rig.shade.opening_mm;
    let sides = opening.map(|o| o.map(Extent::get));
    let words = (
        "Mouth, across",
        "The opening of its mouth. Told, it also cuts the picture where it stands in its way; not told, it is \
         made to the lens.",
    );
    let start = ("made to the lens", USUAL_MM[0]);
    if let Some(across) = fields::optional(ui, words, MM, sides.map(|s| s[0]), start) {
        set(session, "Shade's mouth", |r| {
            r.rig.shade.opening_mm = across.map(|across| {
                let up = sides.map_or(USUAL_MM[1], |s| s[1]);
                [across, up].map(Extent::clamped)
            });
        });
    }
    if let Some([across, up]) = sides
        && let Some(v) = fields::number(ui, "Mouth, up", "", MM, up)
    {
        set(session, "Shade's mouth", |r| {
            r.rig.shade.opening_mm = Some([across, v].map(Extent::clamped));
        });
    }
}
