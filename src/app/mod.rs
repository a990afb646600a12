//! The window: widgets only, one file per region.
//!
//! Nothing here computes a picture, reads a file or waits for a device: all of that is asked of the
//! [`crate::session`], which works on threads of its own and wakes the window when there is
//! something new.

mod bar;
mod chooser;
mod commands;
mod curve;
mod dialogs;
mod fields;
mod figures;
mod framing;
mod hold_back;
mod icons;
mod legend;
mod light_path;
mod mark;
mod metered;
mod notices;
mod pictures;
mod piece;
mod readings;
mod room;
mod scopes;
mod seen_by;
mod set_up;
mod shade;
mod start;
mod theme;

pub use start::{AppError, run};

use crate::engine::Choice;
use crate::gpu::Executor;
use crate::recipe::Recipe;
use crate::session::Session;
use commands::Command;
use dialogs::{Dialog, Outcome, PathQuestion, Purpose, Then};
use eframe::wgpu::DeviceType;
use egui::{CentralPanel, Context, Frame, Margin, Panel, Ui, ViewportCommand};
use hold_back::HoldBack;
use light_path::LightPath;
use mark::Tool;
use notices::Notices;
use pictures::Pictures;
use room::Room;
use scopes::Drawer;
use std::path::{Path, PathBuf};

/// Widths of the side panels.
const SET_UP: f32 = 272.0;
const PATH: f32 = 316.0;

/// A page of the right panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Page {
    LightPath,
    Figures,
    HoldBack,
    Metered,
}

/// The window and the session behind it.
pub struct Window {
    session: Session,
    room: Room,
    pictures: Pictures,
    path: LightPath,
    hold_back: HoldBack,
    drawer: Drawer,
    /// Which of its pages the right panel shows.
    page: Page,
    notices: Notices,
    dialog: Option<Dialog>,
    /// What follows once the look has been saved.
    after_save: Option<Then>,
    show_set_up: bool,
    show_path: bool,
    /// Whether the desktop's file chooser is asked.
    portal: bool,
    /// Whether the window may go without asking.
    may_close: bool,
    title: String,
    /// Where files go that have no folder of their own: where the program was started.
    home: PathBuf,
    still: Option<String>,
    /// Whether the device that draws the window has been lent to the session.
    shared: bool,
    /// Who makes the pictures.
    choice: Choice,
}

impl std::fmt::Debug for Window {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Window")
            .field("session", &self.session)
            .finish_non_exhaustive()
    }
}

impl Window {
    /// A window on a session. `portal` says whether the desktop's file chooser is asked.
    #[must_use]
    pub fn new(ctx: &Context, session: Session, portal: bool) -> Self {
        theme::apply(ctx);
        Self {
            session,
            room: Room::default(),
            pictures: Pictures::default(),
            path: LightPath::default(),
            hold_back: HoldBack::default(),
            drawer: Drawer::default(),
            page: Page::LightPath,
            notices: Notices::default(),
            dialog: None,
            after_save: None,
            show_set_up: true,
            show_path: true,
            portal,
            may_close: false,
            title: String::new(),
            home: std::env::current_dir().unwrap_or_default(),
            still: None,
            shared: false,
            choice: Choice::Auto,
        }
    }

    /// The session behind the window.
    #[must_use]
    pub const fn session(&self) -> &Session {
        &self.session
    }

    /// Lends the device that draws the window to the session, once, where it is hardware or asked for by name: what is
    /// made there is shown without leaving it.
    fn share(&mut self, frame: &eframe::Frame) {
        if std::mem::replace(&mut self.shared, true) {
            return;
        }
        self.session.choose(self.choice);
        let Some(screen) = frame.wgpu_render_state() else {
            return;
        };
        let software = screen.adapter.get_info().device_type == DeviceType::Cpu;
        if software && self.choice != Choice::Gpu || self.choice == Choice::Cpu {
            return;
        }
        // One that cannot compute only draws: the processor makes the pictures.
        if let Ok(executor) = Executor::from_device(screen.device.clone(), screen.queue.clone()) {
            self.session.draw_on(executor);
        }
    }

    /// Has pictures made by one executor, from the first time that the window is drawn on.
    #[must_use]
    pub const fn with_engine(mut self, choice: Choice) -> Self {
        self.choice = choice;
        self
    }

    fn panels(&mut self, ui: &mut Ui, todo: &mut Vec<Command>) {
        self.room.marks.drawn.clear();
        // A tool is laid down with the page that it is on.
        let tools: &[Tool] = match self.page {
            _ if !self.show_path => &[],
            Page::HoldBack => &[Tool::Region],
            Page::Metered => &[Tool::Pin, Tool::Area],
            Page::LightPath | Page::Figures => &[],
        };
        let known = |t: &Tool| tools.contains(t) || self.drawer.tools().contains(t);
        self.room.marks.armed = self.room.marks.armed.filter(known);
        let view = self.room.viewing;
        self.drawer
            .follow(&mut self.session, &mut self.room.marks, view);
        self.room.scopes = self.drawer.open;
        let side = |fill| {
            Frame::new()
                .fill(fill)
                .inner_margin(Margin::symmetric(12, 8))
        };
        let shown = bar::Shown {
            set_up: self.show_set_up,
            path: self.show_path,
            scopes: self.drawer.open,
            arrangement: self.room.arrangement,
        };
        let bar = Frame::new()
            .fill(theme::PANEL)
            .inner_margin(Margin::symmetric(10, 2));
        Panel::top("bar")
            .frame(bar)
            .show(ui, |ui| bar::show(ui, &self.session, shown, todo));
        Panel::bottom("readings")
            .frame(side(theme::PANEL))
            .exact_size(readings::HEIGHT + 16.0)
            .resizable(false)
            .show(ui, |ui| readings::show(ui, &self.session, self.room.spot));
        if self.drawer.open {
            Panel::bottom("scopes")
                .frame(side(theme::PANEL))
                .exact_size(scopes::HEIGHT + 16.0)
                .resizable(false)
                .show(ui, |ui| {
                    self.drawer.show(ui, &self.session, &mut self.room.marks);
                });
        }
        if self.show_set_up {
            Panel::left("set-up")
                .frame(side(theme::PANEL))
                .exact_size(SET_UP)
                .resizable(false)
                .show(ui, |ui| set_up::show(ui, &mut self.session, todo));
        }
        if self.show_path {
            Panel::right("light path")
                .frame(side(theme::PANEL))
                .exact_size(PATH)
                .resizable(false)
                .show(ui, |ui| self.page(ui));
        }
        CentralPanel::no_frame()
            .frame(Frame::new().fill(theme::SURROUND))
            .show(ui, |ui| {
                self.room.show(ui, &mut self.session, &self.pictures, todo);
                let floor = ui.max_rect();
                self.notices.show(ui.ctx(), &mut self.session, floor);
            });
    }

    /// The right panel.
    fn page(&mut self, ui: &mut Ui) {
        let pages = [
            (Page::LightPath, "Light path".to_owned()),
            (Page::Figures, "Figures".to_owned()),
            (Page::HoldBack, "Hold back".to_owned()),
            (Page::Metered, "Metered".to_owned()),
        ];
        let chosen = ui.scope(|ui| {
            // All four on one line.
            ui.spacing_mut().button_padding.x = 5.0;
            fields::segments(ui, "Page:", &pages, Some(self.page))
        });
        if let Some(page) = chosen.inner {
            self.page = page;
        }
        ui.add_space(2.0);
        let marks = &mut self.room.marks;
        match self.page {
            Page::LightPath => self.path.show(ui, &mut self.session),
            Page::Figures => figures::show(ui, &self.session),
            Page::HoldBack => self.hold_back.show(ui, &mut self.session, marks),
            Page::Metered => metered::show(ui, &mut self.session, marks),
        }
    }

    fn obey(&mut self, ctx: &Context, command: Command) {
        match command {
            Command::OpenStill => self.ask_path(ctx, Purpose::OpenStill),
            Command::OpenLut => self.ask_path(ctx, Purpose::OpenLut),
            Command::OpenRecipe => self.unless_unsaved(ctx, Then::OpenRecipe(None)),
            Command::OpenSample => self.unless_unsaved(ctx, Then::OpenSample),
            Command::NewLook => self.unless_unsaved(ctx, Then::NewLook),
            Command::Save => self.save(ctx),
            Command::SaveAs => self.ask_path(ctx, Purpose::SaveRecipe),
            Command::Export if self.session.still().is_some() => {
                self.ask_path(ctx, Purpose::Export);
            }
            Command::Sheet if self.session.still().is_some() => self.ask_path(ctx, Purpose::Sheet),
            Command::Export | Command::Sheet => {}
            Command::Quit => self.unless_unsaved(ctx, Then::Quit),
            Command::Undo => self.session.undo(),
            Command::Redo => self.session.redo(),
            Command::Arrange(arrangement) => self.room.arrangement = arrangement,
            Command::Fit | Command::OneToOne | Command::Larger | Command::Smaller => {
                self.room.ask(command);
            }
            Command::SetUpPanel => self.show_set_up = !self.show_set_up,
            Command::PathPanel => self.show_path = !self.show_path,
            Command::Scopes => self.drawer.open = !self.drawer.open,
            Command::Keys => self.dialog = Some(Dialog::Keys),
            Command::About => self.dialog = Some(Dialog::About),
        }
    }

    fn save(&mut self, ctx: &Context) {
        match self.session.file().map(Path::to_path_buf) {
            Some(file) => self.session.save(&file, true),
            None => self.ask_path(ctx, Purpose::SaveRecipe),
        }
    }

    /// Where dialogs begin: beside the document, or beside the still.
    fn folder(&self) -> PathBuf {
        let still = self.session.still().and_then(|s| s.path);
        let file = self.session.file().map(Path::to_path_buf);
        let folder = file
            .or(still)
            .and_then(|p| p.parent().map(Path::to_path_buf));
        folder.unwrap_or_else(|| self.home.clone())
    }

    fn ask_path(&mut self, ctx: &Context, purpose: Purpose) {
        let name = file_name(&bar::look_name(&self.session));
        let start = match purpose {
            Purpose::OpenStill
            | Purpose::OpenRecipe
            | Purpose::OpenOption(_)
            | Purpose::OpenKit
            | Purpose::OpenLut => self.folder(),
            Purpose::SaveRecipe => match self.session.file() {
                Some(file) => file.to_path_buf(),
                None => self.folder().join(format!("{name}.json")),
            },
            Purpose::Export => self.folder().join(format!("{name}.exr")),
            Purpose::Sheet => self.folder().join(format!("{name}_sheet.png")),
        };
        let question = PathQuestion::new(ctx, purpose, &start, self.portal);
        self.dialog = Some(Dialog::Path(question));
    }

    fn unless_unsaved(&mut self, ctx: &Context, then: Then) {
        if self.session.is_changed() {
            self.dialog = Some(Dialog::Unsaved(then));
        } else {
            self.go_on(ctx, then);
        }
    }

    fn go_on(&mut self, ctx: &Context, then: Then) {
        match then {
            Then::Quit => {
                self.may_close = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
            Then::NewLook => self.session.new_look(),
            Then::OpenRecipe(Some(path)) => self.session.open_recipe(&path),
            Then::OpenRecipe(None) => self.ask_path(ctx, Purpose::OpenRecipe),
            Then::OpenSample => self.session.open_sample(true),
        }
    }

    fn ask(&mut self, ctx: &Context) {
        let Some(dialog) = &mut self.dialog else {
            return;
        };
        let outcome = dialogs::show(ctx, dialog);
        if outcome == Outcome::Open {
            return;
        }
        self.dialog = None;
        match outcome {
            Outcome::Open => {}
            Outcome::Closed => self.after_save = None,
            Outcome::OpenStill(path) => self.session.open_still(&path),
            Outcome::OpenRecipe(path) => self.session.open_recipe(&path),
            Outcome::OpenOption(wanted, path) => self.session.open_option(wanted, &path),
            Outcome::OpenKit(path) => self.session.open_kit(&path),
            Outcome::OpenLut(path) => self.session.open_lut(&path),
            Outcome::Save { path, may_replace } => self.session.save(&path, may_replace),
            Outcome::Export {
                path,
                what,
                may_replace,
            } => {
                self.session.export(&path, what, may_replace);
            }
            Outcome::SaveThen(then) => {
                self.after_save = Some(then);
                self.save(ctx);
            }
            Outcome::Discard(then) => self.go_on(ctx, then),
            Outcome::Replace(replace) => {
                self.session.answer_clash(replace);
                if !replace {
                    self.after_save = None;
                }
            }
        }
    }

    /// Goes on once what was to be saved first has been saved.
    fn follow_save(&mut self, ctx: &Context) {
        if self.session.clash().is_some() && self.dialog.is_none() {
            self.dialog = self
                .session
                .clash()
                .map(|p| Dialog::Replace(p.to_path_buf()));
        }
        if self.after_save.is_none() || self.session.is_saving() || self.dialog.is_some() {
            return;
        }
        let then = self.after_save.take();
        // A save that failed has said so, and nothing is given up.
        if let Some(then) = then
            && !self.session.is_changed()
        {
            self.go_on(ctx, then);
        }
    }

    /// Files that were dropped on the window: a recipe by its ending, anything else as a still.
    fn dropped(&mut self, ctx: &Context) {
        let paths: Vec<PathBuf> = ctx.input(|i| {
            i.raw
                .dropped_files
                .iter()
                .map(|f| f.path().to_path_buf())
                .collect()
        });
        for path in paths {
            let recipe = path
                .extension()
                .is_some_and(|e| e.eq_ignore_ascii_case("json"));
            self.dialog = None;
            if recipe {
                self.unless_unsaved(ctx, Then::OpenRecipe(Some(path)));
            } else {
                self.session.open_still(&path);
            }
        }
    }

    fn closing(&mut self, ctx: &Context) {
        let asked = ctx.input(|i| i.viewport().close_requested());
        if asked && !self.may_close && self.session.is_changed() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.dialog = Some(Dialog::Unsaved(Then::Quit));
        }
    }

    fn set_title(&mut self, ctx: &Context) {
        let mark = if self.session.is_changed() {
            " (not saved)"
        } else {
            ""
        };
        let title = format!("{}{mark} – foreglass", bar::look_name(&self.session));
        if title != self.title {
            ctx.send_viewport_cmd(ViewportCommand::Title(title.clone()));
            self.title = title;
        }
    }

    /// A new still is shown whole.
    fn follow_still(&mut self) {
        let name = self.session.still().map(|s| s.name);
        if name != self.still {
            self.still = name;
            self.room.reset();
        }
    }
}

impl eframe::App for Window {
    fn logic(&mut self, ctx: &Context, frame: &mut eframe::Frame) {
        self.share(frame);
        self.session.poll();
        self.follow_still();
        self.follow_save(ctx);
        self.closing(ctx);
        self.set_title(ctx);
    }

    fn ui(&mut self, ui: &mut Ui, frame: &mut eframe::Frame) {
        let ctx = ui.ctx().clone();
        let screen = frame.wgpu_render_state();
        let aid = self.session.aid();
        let [bare, glass] = match aid.filter(|a| a.view == self.room.viewing) {
            Some(aid) => aid.pair.each_ref().map(Some),
            None => [self.session.bare(), self.session.glass()],
        };
        self.pictures.bare.update((&ctx, screen), "bare", bare);
        self.pictures.glass.update((&ctx, screen), "glass", glass);
        let mut todo = if self.dialog.is_none() {
            commands::pressed(&ctx)
        } else {
            Vec::new()
        };
        // What is undone together ends with the mouse button, or with the field.
        if ctx.input(|i| i.pointer.any_pressed() || i.key_pressed(egui::Key::Tab)) {
            self.session.settle();
        }
        self.panels(ui, &mut todo);
        if let Some(wanted) = self.path.wanted.take() {
            self.ask_path(&ctx, Purpose::OpenOption(wanted));
        }
        if std::mem::take(&mut self.hold_back.wants_kit) {
            self.ask_path(&ctx, Purpose::OpenKit);
        }
        self.dropped(&ctx);
        notices::drop_hint(&ctx);
        self.ask(&ctx);
        for command in todo {
            self.obey(&ctx, command);
        }
    }

    fn clear_color(&self, _visuals: &egui::Visuals) -> [f32; 4] {
        theme::SURROUND.to_normalized_gamma_f32()
    }
}

/// A look's name as a file's name: letters and digits stay, anything else becomes one underscore.
fn file_name(name: &str) -> String {
    let mut out = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    let out = out.trim_end_matches('_');
    if out.is_empty() {
        "look".to_owned()
    } else {
        out.to_owned()
    }
}

/// What the window opens on.
fn session_on(
    frame: Option<&Path>,
    recipe: Option<Recipe>,
    file: Option<&Path>,
    waker: crate::session::Waker,
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

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn a_look_s_name_makes_a_plain_file_name() {
        assert_eq!(
            file_name("Wheelhouse, warm half"),
            "wheelhouse_warm_half",
            "no commas"
        );
        assert_eq!(file_name("../../quay"), "quay", "no way out of the folder");
        assert_eq!(file_name("…"), "look", "never empty");
    }
}
