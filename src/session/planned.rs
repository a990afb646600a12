//! The planned picture in the still: where it lies, and the orders for it.

use super::Session;
use super::ladder::Ladder;
use super::render::{Order, Wanted};
use crate::engine::Choice;
use crate::gpu::Executor;
use crate::recipe::{Framing, FramingError, Seen};
use crate::rig::advisory::{Advisory, Level};
use std::sync::Arc;

impl Session {
    /// The planned picture's place in the still; an error where the still takes in too little for it.
    #[must_use]
    pub const fn framing(&self) -> Option<&Result<Framing, FramingError>> {
        self.framing.as_ref()
    }

    /// The camera that the still was seen by.
    #[must_use]
    pub fn seen(&self) -> Option<Seen> {
        let open = self.still.as_ref()?;
        Some(self.recipe().seen(&open.exif, open.size()))
    }

    /// A picture that was cut anew: the bare one changes together with the one through the glass.
    pub(super) fn take_cut(&mut self, cut: Arc<Ladder>) {
        let Some(open) = &mut self.still else { return };
        if open.ladder.id() != cut.id() {
            self.bare = Some(cut.bare());
            self.metered = [Some(cut.bare()), None];
            open.ladder = cut;
        }
    }

    /// The planned picture's place in the still, as the look stands.
    pub(super) fn framed(&self) -> Option<Result<Framing, FramingError>> {
        let open = self.still.as_ref()?;
        Some(self.recipe().framing(&open.exif, open.size()))
    }

    /// Takes the device that draws the window, on which pictures are then made and shown where it can do that, and makes
    /// the picture again there.
    pub fn draw_on(&mut self, executor: Executor) {
        if let Some(renderer) = &self.renderer {
            renderer.draw_on(Arc::new(executor));
            self.order();
        }
    }

    /// Says how many pixels across the screen the bare picture and the one through the glass take: of the pictures
    /// that are made from now on, the size that serves there is coded before it is told of. None where one was never
    /// drawn. Until this is called the largest size is.
    pub fn look_at(&self, pixels: [Option<f32>; 2]) {
        self.looked.set(pixels);
    }

    /// Who is to make the pictures.
    pub fn choose(&mut self, choice: Choice) {
        if let Some(renderer) = &self.renderer {
            renderer.choose(choice);
        }
    }

    /// Orders a report, and a picture where there is a still.
    pub(super) fn order(&mut self) {
        self.ordered += 1;
        self.framing = self.framed();
        let Some(renderer) = &self.renderer else {
            return;
        };
        let mut unapplied = self.recipe().unapplied();
        let picture = match (&self.still, &self.framing) {
            (Some(open), Some(Ok(framing))) => Some(Wanted {
                known: Arc::clone(&open.ladder),
                ask: self.recipe().frame.ask(),
                framing: framing.clone(),
            }),
            (_, Some(Err(e))) => {
                // What was made for another framing would be wrong.
                self.glass = None;
                self.pictured = 0;
                self.metered[1] = None;
                self.scopes = None;
                self.aid = None;
                let text = format!("No picture: {e}.");
                unapplied.insert(0, Advisory::new("frame-too-narrow", Level::Stop, text));
                None
            }
            _ => None,
        };
        self.rendering = picture.is_some();
        renderer.order(Order {
            number: self.ordered,
            picture,
            setup: self.setup.clone(),
            unapplied,
            detail: self.detail,
            wants: self.wants,
        });
    }
}
