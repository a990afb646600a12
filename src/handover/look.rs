//! A look as a sheet shows it: its pictures made, its rig put into words.

use super::page::Picture8;
use super::paint::share;
use super::sheet::{LookSheet, Sheet, StackRow, StopKind};
use super::words;
use crate::engine::{self, Choice, Engine, EngineError, Watch};
use crate::frame::restore::{Decoded, Restored};
use crate::frame::{Frame, to_srgb8, to_width};
use crate::meters::{Effect, Region, effect};
use crate::optics::figures::PATCH;
use crate::optics::scatter::luminance;
use crate::recipe::{Framing, Recipe};
use crate::rig::advisory::{Advisory, HAZARDS};
use crate::rig::camera::{Camera, Light};
use crate::rig::{Mount, Mounted, Setup};
use crate::units::Stops;

/// Width at which the pictures of a sheet are made: sharp at 200 dpi in a column of a page.
const PICTURE_WIDTH: usize = 1600;

/// Progress once a look's light is read and scaled to the sheet; the rest is for its glass.
const READ: f32 = 0.5;

/// A sheet of some looks on one still, each with its part of it and its own reading of its light, the first of
/// them the one proposed. `watch` moves look by look, and with each look's glass.
///
/// # Errors
/// [`EngineError`] when a picture could not be made, or `watch` was cancelled.
pub fn sheet_of(
    title: &str,
    frame_name: &str,
    still: Decoded<'_>,
    looks: &[(&Recipe, &Setup, &Framing)],
    date: &str,
    watch: &Watch,
) -> Result<Sheet, EngineError> {
    let engine = Engine::default();
    let mut cautions: Vec<String> = Vec::new();
    let mut sheets = Vec::new();
    let at = |n: usize| share(n, looks.len());
    for (n, &(recipe, setup, framing)) in looks.iter().enumerate() {
        let watch = watch.part(at(n), at(n + 1));
        watch.check()?;
        let Restored { frame, told } = recipe.light(still);
        let whole = framing.picture(&frame);
        let small = to_width(&whole, whole.width().min(PICTURE_WIDTH));
        let small = small.as_ref().unwrap_or(&whole);
        watch.set_progress(READ);
        let view = framing.view();
        let found: Vec<Advisory> = setup
            .advisories(&view)
            .into_iter()
            .chain(recipe.unapplied())
            .collect();
        let (hazards, found): (Vec<_>, Vec<_>) =
            found.into_iter().partition(|a| HAZARDS.contains(&a.code));
        for hazard in hazards {
            if !cautions.contains(&hazard.text) {
                cautions.push(hazard.text);
            }
        }
        let glass = watch.part(READ, 1.0);
        let mut sheet = look((recipe, setup, framing), small, (&engine, &glass), found)?;
        watch.set_progress(1.0);
        sheet.camera_lines.extend(told.lines());
        sheets.push(sheet);
    }
    Ok(Sheet {
        title: title.to_owned(),
        frame_name: frame_name.to_owned(),
        looks: sheets,
        cautions,
        date: date.to_owned(),
    })
}

fn look(
    (recipe, setup, framing): (&Recipe, &Setup, &Framing),
    frame: &Frame,
    (engine, watch): (&Engine, &Watch),
    advisories: Vec<Advisory>,
) -> Result<LookSheet, EngineError> {
    let plan = engine::plan_over(setup, framing.view_at(frame.width(), frame.height()));
    let (through, _) = engine.render(frame.clone(), &plan, Choice::Auto, watch)?;
    let scene = setup.scene();
    let stack = setup.glass.iter().map(|g| StackRow {
        place: g.place.to_string(),
        glass: g.piece.name().to_owned(),
        loss_stops: told(g.loss(&scene)),
        detail: placement(g),
    });
    let camera = &setup.camera;
    let mut camera_lines = camera_lines(camera, &setup.light);
    camera_lines.extend(framing.line().map(words::capital));
    Ok(LookSheet {
        name: recipe.name.clone(),
        bare: picture(frame),
        glass: picture(&through),
        stack: stack.collect(),
        light_loss_stops: told(setup.light_loss()),
        loss_nominal_stops: Some(told(setup.nominal_loss())),
        stop_kind: if camera.t_stop.is_some() {
            StopKind::T
        } else {
            StopKind::F
        },
        bare_stop: setup.marked_stop(),
        stop_to_set: setup.exposure().map_or(f64::NAN, |e| e.stop_to_set),
        diffusion: diffusion(setup, &effect(frame, &through, &plan, Region::WHOLE)),
        camera_lines,
        advisories,
        note: recipe.note.clone(),
    })
}

/// A loss for the sheet, which writes a dash for what is no number: where nothing passes there is none.
fn told(loss: Stops) -> f64 {
    if loss.get() < Stops::HIGH {
        loss.get()
    } else {
        f64::NAN
    }
}

#[expect(
    clippy::expect_used,
    reason = "the bytes are made for the frame's own size"
)]
fn picture(frame: &Frame) -> Picture8 {
    let rgba = to_srgb8(frame);
    let rgb = rgba
        .chunks_exact(4)
        .flat_map(|p| [p[0], p[1], p[2]])
        .collect();
    Picture8::new(frame.width(), frame.height(), rgb).expect("three bytes a pixel")
}

/// How a piece is placed, in words.
fn placement(g: &Mounted) -> String {
    let mut words = match g.mount {
        Mount::Ring { thread, clear } => {
            vec![format!(
                "{} mm thread, {} mm clear",
                thread.get(),
                clear.get()
            )]
        }
        Mount::Tray { size, .. } => vec![size.name().to_owned()],
    };
    words.push(format!("{} mm in front of the lens", g.gap.get()));
    if let Mount::Tray { slide, tilt, .. } = g.mount {
        if slide.get() != 0.0 {
            words.push(format!("slid {:+.1} mm", slide.get()));
        }
        if tilt.get() != 0.0 {
            words.push(format!("tipped {}°", tilt.get()));
        }
    }
    if g.turn.get() != 0.0 {
        words.push(format!("turned {}°", g.turn.get()));
    }
    words.join(", ")
}

/// What the stack's diffusion comes to, on its own and on this frame; nothing where nothing scatters.
fn diffusion(setup: &Setup, effect: &Effect) -> String {
    let stack = setup.stack();
    if luminance(stack.scattered()) <= 0.0 {
        return String::new();
    }
    let spread = setup.spread(&stack);
    let (at, mtf) = spread.mtf[1];
    let lift = effect.blacks.lift().get();
    let word = if lift < 0.0 { "held down" } else { "lifted" };
    let kept: Vec<String> = effect
        .texture
        .scales()
        .into_iter()
        .filter_map(|(name, _, band)| Some(format!("{name} {:.0}", band?.percent())))
        .collect();
    let kept = if kept.is_empty() {
        String::new()
    } else {
        format!("; texture kept, in per cent: {}", kept.join(", "))
    };
    format!(
        "Haze {:.1} %, veiling glare {:.1} % (black disc of {:.0} % of the height), contrast kept \
         {:.2} at {at} cycles/mm. Blacks {word} {} from {}{kept}.",
        100.0 * spread.haze,
        100.0 * spread.veiling_glare,
        100.0 * PATCH,
        mtf.mean,
        words::stops(lift.abs()),
        words::hundredths(effect.blacks.bare.get()),
    )
}

fn camera_lines(camera: &Camera, light: &Light) -> Vec<String> {
    let focus = camera
        .focus_m
        .map_or("infinity".to_owned(), |m| format!("{} m", m.get()));
    let [w, h] = camera.sensor_mm;
    vec![
        format!(
            "{} mm, f/{}, focus {focus}, sensor {} × {} mm",
            camera.focal_mm.get(),
            camera.stop.get(),
            w.get(),
            h.get()
        ),
        format!(
            "Scene {} K, camera balanced to {} K",
            light.scene_k.get(),
            camera.balance_k.get()
        ),
        format!(
            "ISO {}, shutter {}° at {} frames a second",
            camera.iso, camera.shutter_deg, camera.fps
        ),
    ]
}
