//! Starting the window, and saying in a sentence why it does not open.

use super::Window;
use crate::engine::Choice;
use crate::recipe::Recipe;
use crate::session::{Session, Waker};
use eframe::egui_wgpu::{WgpuError, WgpuSetup};
use eframe::wgpu;
use egui::{Context, ViewportBuilder, vec2};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Why the window did not open: one sentence.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AppError {
    /// The frame or the recipe that was given cannot be used.
    #[error("{0}")]
    Input(String),
    /// There is no display to open on.
    #[error(
        "there is no display to open the window on ({0}); on a machine without one install the \
         package xvfb and use xvfb-run, or give a command: every other one works without a window"
    )]
    Display(String),
    /// A library that the display needs is missing.
    #[error(
        "the window needs a library that is not there ({0}); install the packages libx11-xcb1, \
         libxkbcommon-x11-0, libxcursor1, libxi6 and libxrandr2"
    )]
    Library(String),
    /// Nothing can draw the window.
    #[error(
        "there is no graphics driver to draw the window with ({0}); install the package \
         mesa-vulkan-drivers, which also draws without graphics hardware"
    )]
    Adapter(String),
    /// Something else.
    #[error("the window did not open: {0}")]
    Other(String),
}

impl AppError {
    /// Whether an input was at fault, and not the machine.
    #[must_use]
    pub const fn is_input(&self) -> bool {
        matches!(self, Self::Input(_))
    }
}

/// Opens the window and runs it until it is closed: on `frame`, or on the sample; with `recipe`, or
/// with a new look (the sample's own where the sample is shown). `engine` makes the pictures.
///
/// # Errors
/// [`AppError`]: the frame or the recipe cannot be used, there is no display, nothing can draw.
pub fn run(frame: Option<&Path>, recipe: Option<&Path>, engine: Choice) -> Result<(), AppError> {
    let read = recipe.map(read_recipe).transpose()?;
    let context: Arc<OnceLock<Context>> = Arc::default();
    let theirs = Arc::clone(&context);
    let waker: Waker = Arc::new(move || {
        if let Some(ctx) = theirs.get() {
            ctx.request_repaint();
        }
    });
    let session = session_on(frame, read, recipe, waker).map_err(AppError::Input)?;
    // After the inputs: what is wrong with them is wrong on every machine.
    display()?;

    let quiet = Quiet::start();
    let opened = catch_unwind(AssertUnwindSafe(|| {
        eframe::run_native(
            "foreglass",
            options(),
            Box::new(move |creation| {
                quiet.stop();
                // Set once: nothing else can have set it.
                drop(context.set(creation.egui_ctx.clone()));
                let window = Window::new(&creation.egui_ctx, session, true);
                Ok(Box::new(window.with_engine(engine)))
            }),
        )
    }));
    match opened {
        Ok(Ok(())) => Ok(()),
        Ok(Err(e)) => Err(explain(&e)),
        // The window system's own library gives up by a panic where it lacks one of its parts.
        Err(panic) => Err(AppError::Library(words(&*panic))),
    }
}

fn read_recipe(path: &Path) -> Result<Recipe, AppError> {
    crate::session::read_recipe(path)
        .map_err(|e| AppError::Input(format!("{}: {e}", path.display())))
}

/// What the window opens on.
fn session_on(
    frame: Option<&Path>,
    recipe: Option<Recipe>,
    file: Option<&Path>,
    waker: Waker,
) -> Result<Session, String> {
    let mut session = Session::new(waker);
    let given = recipe.is_some();
    if let Some(recipe) = recipe {
        session.replace(recipe, file.map(Path::to_path_buf));
    }
    match frame {
        Some(path) => {
            session.open_still(path);
            session.finish_reading()?;
        }
        // Read while the window opens: nothing that was given depends on it.
        None => session.open_sample(!given),
    }
    Ok(session)
}

/// Whether there is anything to open a window on.
fn display() -> Result<(), AppError> {
    if !cfg!(all(unix, not(target_os = "macos"))) {
        return Ok(());
    }
    let names = ["WAYLAND_DISPLAY", "WAYLAND_SOCKET", "DISPLAY"];
    if names
        .iter()
        .any(|n| std::env::var_os(n).is_some_and(|v| !v.is_empty()))
    {
        return Ok(());
    }
    Err(AppError::Display(
        "neither DISPLAY nor WAYLAND_DISPLAY is set".to_owned(),
    ))
}

fn options() -> eframe::NativeOptions {
    let mut options = eframe::NativeOptions {
        viewport: ViewportBuilder::default()
            .with_app_id("foreglass")
            .with_title("foreglass")
            .with_inner_size(vec2(1280.0, 800.0))
            .with_min_inner_size(vec2(960.0, 600.0)),
        ..eframe::NativeOptions::default()
    };
    // Whatever the machine has and no more: the defaults ask for textures that some do not have, and
    // refuse the sizes that others do.
    if let WgpuSetup::CreateNew(setup) = &mut options.wgpu_options.wgpu_setup {
        setup.device_descriptor = Arc::new(|adapter| wgpu::DeviceDescriptor {
            label: Some("foreglass window"),
            required_limits: adapter.limits(),
            ..wgpu::DeviceDescriptor::default()
        });
    }
    options
}

/// The reason in plain words.
fn explain(error: &eframe::Error) -> AppError {
    match error {
        eframe::Error::Winit(e) => AppError::Display(one_line(&e.to_string())),
        eframe::Error::WinitEventLoop(e) => AppError::Display(one_line(&e.to_string())),
        eframe::Error::Wgpu(e) => match e {
            WgpuError::RequestAdapterError(_)
            | WgpuError::CustomNativeAdapterSelectionError(_)
            | WgpuError::NoSurfaceFormatsAvailable
            | WgpuError::RequestDeviceError(_)
            | WgpuError::CreateSurfaceError(_) => AppError::Adapter(one_line(&e.to_string())),
            e => AppError::Other(one_line(&e.to_string())),
        },
        e => AppError::Other(one_line(&e.to_string())),
    }
}

fn one_line(text: &str) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let line = line.trim_end_matches('.');
    // Some libraries begin with where in their own source they gave up, which helps nobody here.
    let line = match line.split_once(".rs:") {
        Some((_, rest)) => rest.split_once(": ").map_or(line, |(_, reason)| reason),
        None => line,
    };
    match line.char_indices().nth(160) {
        Some((end, _)) => format!("{}…", &line[..end]),
        None => line.to_owned(),
    }
}

fn words(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied();
    let text = text.or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    one_line(text.unwrap_or("unknown"))
}

type Hook = Box<dyn Fn(&std::panic::PanicHookInfo<'_>) + Send + Sync>;

/// Keeps panics off standard error while the window system starts: they become one sentence.
struct Quiet(Arc<Mutex<Option<Hook>>>);

impl Quiet {
    fn start() -> Self {
        let kept = std::panic::take_hook();
        std::panic::set_hook(Box::new(|_| {}));
        Self(Arc::new(Mutex::new(Some(kept))))
    }

    fn stop(&self) {
        if let Some(hook) = self.0.lock().unwrap_or_else(PoisonError::into_inner).take() {
            std::panic::set_hook(hook);
        }
    }
}

impl Drop for Quiet {
    fn drop(&mut self) {
        // Setting a hook from a panicking thread is refused by a panic of its own.
        if !std::thread::panicking() {
            self.stop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reason_names_what_to_install() {
        let display = AppError::Display("DISPLAY is not set".to_owned()).to_string();
        assert!(
            display.contains("xvfb") && !display.contains('\n'),
            "{display}"
        );
        let told = one_line("os error at /some/where/mod.rs:788: no connection to the server.");
        assert_eq!(
            told, "no connection to the server",
            "no place in somebody's source"
        );
        let adapter = AppError::Adapter("none found".to_owned()).to_string();
        assert!(adapter.contains("mesa-vulkan-drivers"), "{adapter}");
        assert!(
            AppError::Input(String::new()).is_input(),
            "an input is an input"
        );
    }
}
