//! What is asked in the middle of the window: a path, an export, whether to keep changes.

use super::chooser::{Answer, Ask, Chooser};
use super::commands::Command;
use super::{fields, theme};
use crate::frame::{Kind, Output, OutputSpace};
use crate::session::{Wanted, What};
use egui::{Button, Context, Grid, Id, Key, Modal, RichText, TextEdit, Ui, vec2};
use std::path::{Path, PathBuf};

/// What follows once the changes are saved or given up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Then {
    Quit,
    NewLook,
    OpenRecipe(Option<PathBuf>),
    OpenSample,
}

/// A question that is open.
#[derive(Debug)]
pub(super) enum Dialog {
    Path(PathQuestion),
    Unsaved(Then),
    Replace(PathBuf),
    Keys,
    About,
}

/// What a path is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    OpenStill,
    OpenRecipe,
    OpenOption(Wanted),
    OpenKit,
    OpenLut,
    SaveRecipe,
    Export,
    Sheet,
}

/// What came of a question.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    Open,
    Closed,
    OpenStill(PathBuf),
    OpenRecipe(PathBuf),
    OpenOption(Wanted, PathBuf),
    OpenKit(PathBuf),
    OpenLut(PathBuf),
    Save {
        path: PathBuf,
        may_replace: bool,
    },
    Export {
        path: PathBuf,
        what: What,
        may_replace: bool,
    },
    SaveThen(Then),
    Discard(Then),
    Replace(bool),
}

/// A path that is asked for: in the desktop's chooser and in a field, whichever comes first.
#[derive(Debug)]
pub(super) struct PathQuestion {
    purpose: Purpose,
    text: String,
    chooser: Option<Chooser>,
    note: &'static str,
    fresh: bool,
    bare: bool,
    kind: Kind,
    space: OutputSpace,
}

const STILLS: &[&str] = &["png", "jpg", "jpeg", "tif", "tiff", "exr"];
const WAITING: &str = "Choose in the file chooser, or type a path here.";
const TYPED: &str = "Type a path, or browse for it.";
const NO_CHOOSER: &str = "No file chooser answered on this desktop: type a path.";
/// Kinds of file, their endings, and what they hold.
const KINDS: [(Kind, &str, &str); 4] = [
    (Kind::Exr, "exr", "EXR, linear light"),
    (Kind::Png, "png", "PNG, 16 bit"),
    (Kind::Tiff, "tif", "TIFF, 16 bit"),
    (Kind::Jpeg, "jpg", "JPEG"),
];

impl Purpose {
    const fn title(self) -> &'static str {
        match self {
            Self::OpenStill => "Open a still",
            Self::OpenRecipe => "Open a recipe",
            Self::OpenOption(_) => "Open a file for the glass",
            Self::OpenKit => "Open a kit",
            Self::OpenLut => "Open an input LUT",
            Self::SaveRecipe => "Save the recipe",
            Self::Export => "Export the picture",
            Self::Sheet => "Write the reference sheet",
        }
    }

    const fn verb(self) -> &'static str {
        match self {
            Self::OpenStill
            | Self::OpenRecipe
            | Self::OpenOption(_)
            | Self::OpenKit
            | Self::OpenLut => "Open",
            Self::SaveRecipe => "Save",
            Self::Export => "Export",
            Self::Sheet => "Write",
        }
    }

    const fn saves(self) -> bool {
        matches!(self, Self::SaveRecipe | Self::Export | Self::Sheet)
    }
}

impl PathQuestion {
    /// Asks for a path. `start` is where to begin: a folder to open from, or a file to save to.
    pub(super) fn new(ctx: &Context, purpose: Purpose, start: &Path, portal: bool) -> Self {
        let mut question = Self {
            purpose,
            text: if purpose.saves() {
                start.display().to_string()
            } else {
                String::new()
            },
            chooser: None,
            note: TYPED,
            fresh: true,
            bare: false,
            kind: Kind::of(start).unwrap_or(Kind::Exr),
            space: OutputSpace::default_for(Kind::of(start).unwrap_or(Kind::Exr)),
        };
        // An export has settings to be made first.
        if portal && purpose != Purpose::Export {
            question.browse(ctx, start);
        }
        question
    }

    fn browse(&mut self, ctx: &Context, start: &Path) {
        let folder = if start.is_absolute() && self.purpose.saves() {
            start.parent().map(Path::to_path_buf)
        } else {
            Some(start.to_path_buf()).filter(|p| p.is_absolute())
        };
        let name = start.file_name().map(|n| n.to_string_lossy().into_owned());
        let ask = Ask {
            title: self.purpose.title(),
            kinds: match self.purpose {
                Purpose::OpenStill => &[("Stills", STILLS)],
                Purpose::OpenRecipe | Purpose::SaveRecipe => &[("Recipes", &["json"])],
                Purpose::OpenOption(wanted) => wanted.kinds(),
                Purpose::OpenKit => &[("Kits", &["json"])],
                Purpose::OpenLut => &[("LUTs", &["clf", "cube"])],
                Purpose::Export => &[("Pictures", STILLS)],
                Purpose::Sheet => &[("Sheets", &["png"])],
            },
            folder,
            save_as: self.purpose.saves().then(|| name.unwrap_or_default()),
        };
        self.chooser = Chooser::ask(ctx, ask);
        self.note = if self.chooser.is_some() {
            WAITING
        } else {
            NO_CHOOSER
        };
    }

    /// What the chooser has said since it was last asked.
    fn listen(&mut self) -> Outcome {
        let Some(chooser) = &self.chooser else {
            return Outcome::Open;
        };
        match chooser.poll() {
            Answer::Waiting => Outcome::Open,
            Answer::Chosen(path) if self.purpose == Purpose::Export => {
                self.chooser = None;
                self.text = path.display().to_string();
                self.note = TYPED;
                if let Ok(kind) = Kind::of(&path) {
                    self.set_kind(kind);
                }
                Outcome::Open
            }
            Answer::Chosen(path) => self.outcome(path, true),
            Answer::Nothing => {
                self.chooser = None;
                self.note = TYPED;
                if self.purpose == Purpose::Export {
                    Outcome::Open
                } else {
                    Outcome::Closed
                }
            }
            Answer::NoChooser => {
                self.chooser = None;
                self.note = NO_CHOOSER;
                Outcome::Open
            }
        }
    }

    fn outcome(&self, path: PathBuf, may_replace: bool) -> Outcome {
        match self.purpose {
            Purpose::OpenStill => Outcome::OpenStill(path),
            Purpose::OpenRecipe => Outcome::OpenRecipe(path),
            Purpose::OpenOption(wanted) => Outcome::OpenOption(wanted, path),
            Purpose::OpenKit => Outcome::OpenKit(path),
            Purpose::OpenLut => Outcome::OpenLut(path),
            Purpose::SaveRecipe => {
                let path = if path.extension().is_none() {
                    path.with_extension("json")
                } else {
                    path
                };
                Outcome::Save { path, may_replace }
            }
            Purpose::Export => {
                let output = Output {
                    space: self.space,
                    ..Output::for_kind(self.kind)
                };
                let what = if self.bare {
                    What::Bare(output)
                } else {
                    What::Glass(output)
                };
                Outcome::Export {
                    path,
                    what,
                    may_replace,
                }
            }
            Purpose::Sheet => {
                let path = if path.extension().is_none() {
                    path.with_extension("png")
                } else {
                    path
                };
                Outcome::Export {
                    path,
                    what: What::Sheet,
                    may_replace,
                }
            }
        }
    }

    /// Another kind of file: another ending, and the space that goes with it.
    fn set_kind(&mut self, kind: Kind) {
        if kind == self.kind {
            return;
        }
        self.kind = kind;
        self.space = OutputSpace::default_for(kind);
        let ending = KINDS
            .iter()
            .find(|(k, ..)| *k == kind)
            .map_or("exr", |(_, e, _)| *e);
        let path = Path::new(self.text.trim());
        if path.file_stem().is_some() {
            self.text = path.with_extension(ending).display().to_string();
        }
    }

    fn show(&mut self, ui: &mut Ui) -> Outcome {
        let heard = self.listen();
        if heard != Outcome::Open {
            return heard;
        }
        ui.set_width(520.0);
        ui.label(RichText::new(self.purpose.title()).heading());
        ui.add_space(4.0);
        if self.purpose == Purpose::Export {
            self.export_fields(ui);
        }
        let label = ui.label(RichText::new(self.note).color(theme::SECOND));
        let mut go = false;
        let mut browse = false;
        ui.horizontal(|ui| {
            let width = ui.available_width() - 92.0;
            let edit = TextEdit::singleline(&mut self.text)
                .hint_text("/folder/file")
                .margin(vec2(8.0, 6.0))
                .desired_width(width);
            let field = ui.add(edit).labelled_by(label.id);
            if self.fresh {
                field.request_focus();
                self.fresh = false;
            }
            go = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            let button = Button::new("Browse…").min_size(vec2(80.0, 30.0));
            browse = ui.add_enabled(self.chooser.is_none(), button).clicked();
        });
        if browse {
            let start = PathBuf::from(self.text.trim());
            self.browse(ui.ctx(), &start);
        }
        let path = PathBuf::from(self.text.trim());
        let named = path.file_name().is_some();
        let fault = self.fault(&path);
        if let Some(fault) = &fault {
            ui.label(RichText::new(fault).small().color(theme::CAUTION));
        }
        let ready = named && fault.is_none();
        match closing(ui, self.purpose.verb(), ready) {
            Some(true) => self.outcome(path, false),
            Some(false) => Outcome::Closed,
            None if go && ready => self.outcome(path, false),
            None => Outcome::Open,
        }
    }

    /// What is wrong with a path, as far as its letters tell.
    fn fault(&mut self, path: &Path) -> Option<String> {
        if self.purpose != Purpose::Export || path.file_name().is_none() {
            return None;
        }
        match Kind::of(path) {
            Ok(kind) => {
                if kind != self.kind {
                    self.kind = kind;
                    self.space = OutputSpace::default_for(kind);
                }
                None
            }
            Err(_) => Some("The name must end in exr, png, tif, tiff, jpg or jpeg.".to_owned()),
        }
    }

    fn export_fields(&mut self, ui: &mut Ui) {
        let pictures = [
            (false, "Through the glass".to_owned()),
            (true, "Bare".to_owned()),
        ];
        if let Some(bare) = fields::choice(ui, "Picture", "", &pictures, Some(self.bare)) {
            self.bare = bare;
        }
        let kinds: Vec<_> = KINDS
            .iter()
            .map(|(k, _, words)| (*k, (*words).to_owned()))
            .collect();
        if let Some(kind) = fields::choice(ui, "Kind", "", &kinds, Some(self.kind)) {
            self.set_kind(kind);
        }
        let spaces: Vec<_> = OutputSpace::ALL
            .iter()
            .map(|s| (*s, space(*s).to_owned()))
            .collect();
        if let Some(space) = fields::choice(ui, "Colours", "", &spaces, Some(self.space)) {
            self.space = space;
        }
        ui.add_space(4.0);
    }
}

const fn space(space: OutputSpace) -> &'static str {
    match space {
        OutputSpace::AcesCg => "ACEScg, linear",
        OutputSpace::Srgb => "sRGB",
        OutputSpace::SrgbLinear => "BT.709, linear",
        OutputSpace::P3 => "Display P3",
        OutputSpace::Bt2020Pq => "BT.2020 PQ",
    }
}

/// The buttons at a question's foot: the verb, and cancel. Some(true) for the verb.
fn closing(ui: &mut Ui, verb: &str, ready: bool) -> Option<bool> {
    ui.add_space(10.0);
    let mut answer = None;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let main = Button::new(verb).selected(true).min_size(vec2(96.0, 30.0));
        if ui.add_enabled(ready, main).clicked() {
            answer = Some(true);
        }
        if ui
            .add(Button::new("Cancel").min_size(vec2(96.0, 30.0)))
            .clicked()
        {
            answer = Some(false);
        }
    });
    answer
}

/// Shows the open question.
pub(super) fn show(ctx: &Context, dialog: &mut Dialog) -> Outcome {
    // Each kind of question has its own size, and so its own place.
    let name = match dialog {
        Dialog::Path(question) => question.purpose.title(),
        Dialog::Unsaved(_) => "unsaved",
        Dialog::Replace(_) => "replace",
        Dialog::Keys => "keys",
        Dialog::About => "about",
    };
    let modal = Modal::new(Id::unique(("question", name)))
        .backdrop_color(egui::Color32::from_black_alpha(150))
        .frame(egui::Frame::popup(&ctx.global_style()).inner_margin(18));
    let shown = modal.show(ctx, |ui| match dialog {
        Dialog::Path(question) => question.show(ui),
        Dialog::Unsaved(then) => unsaved(ui, then),
        Dialog::Replace(path) => replace(ui, path),
        Dialog::Keys => keys(ui),
        Dialog::About => about(ui),
    });
    // A click beside a question does not lose what was typed into it; Escape does.
    let escaped = shown.should_close() && !shown.backdrop_response.clicked();
    match (&*dialog, shown.inner) {
        (Dialog::Replace(_), Outcome::Open) if escaped => Outcome::Replace(false),
        (_, Outcome::Open) if escaped => Outcome::Closed,
        (_, outcome) => outcome,
    }
}

fn unsaved(ui: &mut Ui, then: &Then) -> Outcome {
    ui.set_width(420.0);
    ui.label(RichText::new("The look has changes that are not saved").heading());
    ui.add_space(4.0);
    let what = match then {
        Then::Quit => "Quitting gives them up.",
        Then::NewLook => "A new look takes its place.",
        Then::OpenRecipe(_) => "The recipe that is opened takes its place.",
        Then::OpenSample => "The sample's look takes its place.",
    };
    ui.label(RichText::new(what).color(theme::SECOND));
    ui.add_space(10.0);
    let mut outcome = Outcome::Open;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let size = vec2(96.0, 30.0);
        if ui
            .add(Button::new("Save first").selected(true).min_size(size))
            .clicked()
        {
            outcome = Outcome::SaveThen(then.clone());
        }
        if ui.add(Button::new("Give them up").min_size(size)).clicked() {
            outcome = Outcome::Discard(then.clone());
        }
        if ui.add(Button::new("Cancel").min_size(size)).clicked() {
            outcome = Outcome::Closed;
        }
    });
    outcome
}

fn replace(ui: &mut Ui, path: &Path) -> Outcome {
    ui.set_width(420.0);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    ui.label(RichText::new(format!("There is a file called {name}")).heading());
    ui.add_space(4.0);
    ui.label(RichText::new("Replacing it cannot be undone.").color(theme::SECOND));
    match closing(ui, "Replace", true) {
        Some(replace) => Outcome::Replace(replace),
        None => Outcome::Open,
    }
}

fn keys(ui: &mut Ui) -> Outcome {
    ui.set_width(620.0);
    ui.label(RichText::new("Keys").heading());
    ui.add_space(6.0);
    let ctx = ui.ctx().clone();
    let key = |c: Command| (c.label(), c.key(&ctx).unwrap_or_default());
    let words = |what, key: &str| (what, key.to_owned());
    let document = Command::with_keys().filter(|c| !c.is_view()).map(key);
    let view = Command::with_keys().filter(|c| c.is_view()).map(key);
    let pictures = [
        words("Bare, while it is held", "B"),
        words("Zoom, on a picture", "+ and -"),
        words("Move about, on a picture", "Arrows"),
        words("To the next control", "Tab"),
    ];
    ui.columns_const(|[left, right]| {
        key_list(left, "document", document);
        key_list(right, "view", view.chain(pictures));
    });
    close(ui)
}

fn key_list(ui: &mut Ui, name: &str, lines: impl Iterator<Item = (&'static str, String)>) {
    let grid = Grid::new(name).num_columns(2).spacing(vec2(20.0, 4.0));
    grid.show(ui, |ui| {
        for (what, key) in lines {
            ui.label(RichText::new(key).monospace().color(theme::TEXT));
            ui.label(RichText::new(what).color(theme::SECOND));
            ui.end_row();
        }
    });
}

fn about(ui: &mut Ui) -> Outcome {
    ui.set_width(420.0);
    ui.label(RichText::new(format!("foreglass {}", env!("CARGO_PKG_VERSION"))).heading());
    ui.add_space(4.0);
    for line in [
        "Shows what glass in front of the lens will do to a shot, on a still, before the glass is \
         ordered or rigged.",
        "Modelled, not measured: a camera test decides.",
        "No density or polariser makes it safe to look at the sun through an optical finder.",
        "Nets behind the lens and close-up lenses are not modelled.",
    ] {
        ui.label(RichText::new(line).color(theme::SECOND));
    }
    close(ui)
}

fn close(ui: &mut Ui) -> Outcome {
    ui.add_space(10.0);
    let mut outcome = Outcome::Open;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let button = ui.add(Button::new("Close").min_size(vec2(96.0, 30.0)));
        if button.clicked() {
            outcome = Outcome::Closed;
        }
    });
    outcome
}
