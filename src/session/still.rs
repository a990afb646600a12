//! The still that is open, and what is known of it.

use super::Session;
use super::files::{Loaded, Source};
use super::ladder::{Ladder, Plain};
use crate::frame::restore::Told;
use crate::frame::{Exif, ReadAs};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The still that is open.
#[derive(Debug)]
pub(super) struct Open {
    pub(super) source: Source,
    pub(super) asked: ReadAs,
    pub(super) plain: Arc<Plain>,
    pub(super) ladder: Arc<Ladder>,
    pub(super) how: String,
    pub(super) exif: Exif,
}

impl Open {
    /// Pixels across and down of the still as it came.
    pub(super) fn size(&self) -> [usize; 2] {
        self.plain.size()
    }
}

/// What is known of the open still.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StillInfo {
    /// What it is called.
    pub name: String,
    /// Where it lies; None for a sample.
    pub path: Option<PathBuf>,
    /// Pixels across and down, as in the file.
    pub size: [usize; 2],
    /// Pixels across and down of the planned picture in it, which is what is shown.
    pub picture: [usize; 2],
    /// How it was read, in plain words.
    pub how: String,
}

impl Session {
    /// The still, where one is open.
    #[must_use]
    pub fn still(&self) -> Option<StillInfo> {
        let open = self.still.as_ref()?;
        Some(StillInfo {
            name: open.source.name(),
            path: open.source.path().map(Path::to_path_buf),
            size: open.size(),
            picture: open.ladder.size(),
            how: open.how.clone(),
        })
    }

    /// How the light of the picture that is shown was brought back: the picture curve, the pins, clipped
    /// light.
    #[must_use]
    pub fn restored(&self) -> Option<&Told> {
        Some(self.still.as_ref()?.ladder.told())
    }

    pub(super) fn take_still(
        &mut self,
        source: Source,
        asked: ReadAs,
        result: Result<Loaded, String>,
    ) {
        match result {
            Ok(Loaded {
                plain,
                ladder,
                how,
                exif,
            }) => {
                self.bare = Some(ladder.bare());
                // A picture of another still would be wrong beside this one.
                self.glass = None;
                self.pictured = 0;
                self.scopes = None;
                self.aid = None;
                self.metered = [Some(ladder.bare()), None];
                self.still = Some(Open {
                    source,
                    asked,
                    plain,
                    ladder,
                    how,
                    exif,
                });
                self.order();
                self.follow_encoding();
            }
            Err(e) => {
                self.complain(e);
                if let Some(open) = &mut self.still
                    && open.source == source
                {
                    // The same still in an encoding that it cannot have: do not ask again and again.
                    open.asked = asked;
                }
                // What was chosen meanwhile has not been followed.
                self.follow_encoding();
            }
        }
    }
}
