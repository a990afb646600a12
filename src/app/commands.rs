//! Everything that can be done from a menu or a key, and its key.

use super::room::Arrangement;
use egui::{Context, Key, KeyboardShortcut, Modifiers};

/// Something to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Command {
    OpenStill,
    OpenLut,
    OpenSample,
    OpenRecipe,
    NewLook,
    Save,
    SaveAs,
    Export,
    Sheet,
    Quit,
    Undo,
    Redo,
    Arrange(Arrangement),
    Fit,
    OneToOne,
    Larger,
    Smaller,
    SetUpPanel,
    PathPanel,
    Scopes,
    Keys,
    About,
}

const CTRL: Modifiers = Modifiers::COMMAND;
const CTRL_SHIFT: Modifiers = Modifiers {
    shift: true,
    ..Modifiers::COMMAND
};
const NONE: Modifiers = Modifiers::NONE;

/// Commands with a key. Those with more modifiers come first, so that Shift+Ctrl+S is not Ctrl+S.
const KEYS: [(Command, Modifiers, Key); 18] = [
    (Command::OpenRecipe, CTRL_SHIFT, Key::O),
    (Command::SaveAs, CTRL_SHIFT, Key::S),
    (Command::Redo, CTRL_SHIFT, Key::Z),
    (Command::OpenStill, CTRL, Key::O),
    (Command::NewLook, CTRL, Key::N),
    (Command::Save, CTRL, Key::S),
    (Command::Export, CTRL, Key::E),
    (Command::Quit, CTRL, Key::Q),
    (Command::Undo, CTRL, Key::Z),
    (Command::Keys, NONE, Key::F1),
    (Command::SetUpPanel, NONE, Key::F7),
    (Command::PathPanel, NONE, Key::F8),
    (Command::Scopes, NONE, Key::F9),
    (Command::Arrange(Arrangement::Both), NONE, Key::S),
    (Command::Arrange(Arrangement::Wipe), NONE, Key::W),
    (Command::Arrange(Arrangement::Glass), NONE, Key::G),
    (Command::Fit, NONE, Key::F),
    (Command::OneToOne, NONE, Key::Num1),
];

impl Command {
    /// What it is called in menus.
    pub(super) const fn label(self) -> &'static str {
        match self {
            Self::OpenStill => "Open still…",
            Self::OpenLut => "Input LUT…",
            Self::OpenSample => "Open the sample",
            Self::OpenRecipe => "Open recipe…",
            Self::NewLook => "New look",
            Self::Save => "Save recipe",
            Self::SaveAs => "Save recipe as…",
            Self::Export => "Export picture…",
            Self::Sheet => "Write reference sheet…",
            Self::Quit => "Quit",
            Self::Undo => "Undo",
            Self::Redo => "Redo",
            Self::Arrange(arrangement) => arrangement.label(),
            Self::Fit => "Fit the picture",
            Self::OneToOne => "One to one",
            Self::Larger => "Zoom in",
            Self::Smaller => "Zoom out",
            Self::SetUpPanel => "Set-up panel",
            Self::PathPanel => "Light path panel",
            Self::Scopes => "Scopes",
            Self::Keys => "Keys",
            Self::About => "About",
        }
    }

    /// Its key, for menus and help.
    pub(super) fn key(self, ctx: &Context) -> Option<String> {
        let (_, modifiers, key) = KEYS.iter().find(|(c, ..)| *c == self)?;
        Some(ctx.format_shortcut(&KeyboardShortcut::new(*modifiers, *key)))
    }

    /// Whether it changes what is seen and not the document.
    pub(super) const fn is_view(self) -> bool {
        matches!(
            self,
            Self::Arrange(_)
                | Self::Fit
                | Self::OneToOne
                | Self::SetUpPanel
                | Self::PathPanel
                | Self::Scopes
        )
    }

    /// Every command with a key.
    pub(super) fn with_keys() -> impl Iterator<Item = Self> {
        KEYS.iter().map(|(c, ..)| *c)
    }
}

/// The commands whose keys were pressed. Plain letters count only while nothing is being typed.
pub(super) fn pressed(ctx: &Context) -> Vec<Command> {
    let typing = ctx.text_edit_focused();
    ctx.input_mut(|input| {
        KEYS.iter()
            .filter(|(_, modifiers, key)| {
                let plain =
                    modifiers.is_none() && !matches!(key, Key::F1 | Key::F7 | Key::F8 | Key::F9);
                !(plain && typing) && input.consume_key(*modifiers, *key)
            })
            .map(|(command, ..)| *command)
            .collect()
    })
}
