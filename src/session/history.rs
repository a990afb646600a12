//! What was done to a look: whole recipes, a few kilobytes each, with the words for each change.

use crate::recipe::Recipe;

/// Changes that can be taken back.
const LONGEST: usize = 500;

/// The look as it is, and the looks before and after it.
#[derive(Debug)]
pub(super) struct History {
    present: Recipe,
    past: Vec<Step>,
    future: Vec<Step>,
    /// What a next change may still be merged into.
    open: Option<String>,
}

/// A look that was left, and the change that left it.
#[derive(Debug)]
struct Step {
    recipe: Recipe,
    label: String,
}

impl History {
    pub(super) const fn new(present: Recipe) -> Self {
        Self {
            present,
            past: Vec::new(),
            future: Vec::new(),
            open: None,
        }
    }

    pub(super) const fn present(&self) -> &Recipe {
        &self.present
    }

    pub(super) fn push(&mut self, next: Recipe, label: &str, merge: Option<&str>) {
        let left = std::mem::replace(&mut self.present, next);
        self.future.clear();
        if merge.is_none() || self.open.as_deref() != merge {
            self.past.push(Step {
                recipe: left,
                label: label.to_owned(),
            });
            if self.past.len() > LONGEST {
                self.past.remove(0);
            }
        }
        self.open = merge.map(str::to_owned);
    }

    pub(super) fn settle(&mut self) {
        self.open = None;
    }

    pub(super) fn undo(&mut self) -> bool {
        self.open = None;
        let Some(step) = self.past.pop() else {
            return false;
        };
        let left = std::mem::replace(&mut self.present, step.recipe);
        self.future.push(Step {
            recipe: left,
            label: step.label,
        });
        true
    }

    pub(super) fn redo(&mut self) -> bool {
        self.open = None;
        let Some(step) = self.future.pop() else {
            return false;
        };
        let left = std::mem::replace(&mut self.present, step.recipe);
        self.past.push(Step {
            recipe: left,
            label: step.label,
        });
        true
    }

    pub(super) fn undo_label(&self) -> Option<&str> {
        self.past.last().map(|s| s.label.as_str())
    }

    pub(super) fn redo_label(&self) -> Option<&str> {
        self.future.last().map(|s| s.label.as_str())
    }
}
