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
mod obey;
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
use crate::session::Session;
use commands::Command;
use dialogs::{Dialog, Purpose, Then};
use eframe::wgpu::DeviceType;
use egui::{CentralPanel, Context, Frame, Margin, Panel, Ui, ViewportCommand};
use hold_back::HoldBack;
use light_path::LightPath;
use mark::Tool;
use notices::Notices;
use pictures::Pictures;
use room::Room;
use scopes::Drawer;
use std::path::PathBuf;

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
    /// Whether to quit once nothing is being written any more.
    leaving: bool,
    show_set_up: bool,
    show_path: bool,
    /// Whether the desktop's file chooser is asked.
    portal: bool,
    /// Whether the window may go without asking.
    may_close: bool,
    title: String,
    /// Where files go that have no folder of their own: where the program was started.
    home: PathBuf,
    still: Option<(String, Option<PathBuf>)>,
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
            leaving: false,
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

    /// Whether the size at which a picture is looked at is still being coded; another size of it is shown meanwhile.
    #[must_use]
    pub const fn is_coding(&self) -> bool {
        self.pictures.bare.is_coding() || self.pictures.glass.is_coding()
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
        let still = self.session.still().map(|s| (s.name, s.path));
        if still != self.still {
            self.still = still;
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
        let [bare, glass] = [&self.pictures.bare, &self.pictures.glass];
        self.session.look_at([bare.wanted(), glass.wanted()]);
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
