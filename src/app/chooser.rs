//! The desktop's own file chooser, asked from a thread of its own: it may not be there, and it may
//! never answer.

use egui::Context;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::time::{Duration, Instant};

/// Without a chooser on the desktop the answer "nothing chosen" comes at once; no hand is that quick.
const AT_ONCE: Duration = Duration::from_millis(700);
/// When to stop listening.
const TOO_LONG: Duration = Duration::from_secs(15 * 60);

/// What is asked of the chooser.
#[derive(Debug, Clone)]
pub(super) struct Ask {
    pub(super) title: &'static str,
    /// Words and endings of what is offered.
    pub(super) kinds: &'static [(&'static str, &'static [&'static str])],
    pub(super) folder: Option<PathBuf>,
    /// A name to save under; None opens.
    pub(super) save_as: Option<String>,
}

/// A chooser that was asked.
#[derive(Debug)]
pub(super) struct Chooser {
    answer: Receiver<Option<PathBuf>>,
    asked: Instant,
}

/// What came of it.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Answer {
    Waiting,
    Chosen(PathBuf),
    /// Someone chose nothing.
    Nothing,
    /// There is no chooser, or it does not answer.
    NoChooser,
}

impl Chooser {
    /// Asks; None where not even a thread can be had.
    pub(super) fn ask(ctx: &Context, ask: Ask) -> Option<Self> {
        let (sender, answer) = sync_channel(1);
        let ctx = ctx.clone();
        let work = move || {
            let mut dialog = rfd::FileDialog::new().set_title(ask.title);
            for (words, endings) in ask.kinds {
                dialog = dialog.add_filter(*words, endings);
            }
            if let Some(folder) = &ask.folder {
                dialog = dialog.set_directory(folder);
            }
            let chosen = match ask.save_as {
                Some(name) => dialog.set_file_name(name).save_file(),
                None => dialog.pick_file(),
            };
            // The window may have gone on without waiting.
            sender.send(chosen).ok();
            ctx.request_repaint();
        };
        std::thread::Builder::new()
            .name("file chooser".to_owned())
            .spawn(work)
            .ok()?;
        Some(Self {
            answer,
            asked: Instant::now(),
        })
    }

    pub(super) fn poll(&self) -> Answer {
        let waited = self.asked.elapsed();
        match self.answer.try_recv() {
            Ok(Some(path)) => Answer::Chosen(path),
            Ok(None) if waited < AT_ONCE => Answer::NoChooser,
            Ok(None) => Answer::Nothing,
            Err(TryRecvError::Disconnected) => Answer::NoChooser,
            Err(TryRecvError::Empty) if waited > TOO_LONG => Answer::NoChooser,
            Err(TryRecvError::Empty) => Answer::Waiting,
        }
    }
}
