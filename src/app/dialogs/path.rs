//! A path that is asked for, and with an export what is to be written there.

use super::{Outcome, closing};
use crate::app::chooser::{Answer, Ask, Chooser};
use crate::app::{fields, theme};
use crate::frame::{Kind, Output, OutputSpace};
use crate::session::{Wanted, What};
use egui::{Button, Context, Key, RichText, TextEdit, Ui, vec2};
use std::path::{Path, PathBuf};

/// What a path is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::app) enum Purpose {
    OpenStill,
    OpenRecipe,
    OpenOption(Wanted),
    OpenKit,
    OpenLut,
    SaveRecipe,
    Export,
    Sheet,
}

/// A path that is asked for: in the desktop's chooser and in a field, whichever comes first.
#[derive(Debug)]
pub(in crate::app) struct PathQuestion {
    pub(super) purpose: Purpose,
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
    pub(super) const fn title(self) -> &'static str {
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
    pub(in crate::app) fn new(ctx: &Context, purpose: Purpose, start: &Path, portal: bool) -> Self {
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

    pub(super) fn show(&mut self, ui: &mut Ui) -> Outcome {
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
