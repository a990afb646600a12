//! What each pass depends on, so that a picture that is made again works out only what has changed.
//!
//! A pass depends on the light that comes in, which is the frame and all passes before it, and on itself. Of that, two
//! parts cost more than the rest and can be kept: the pyramid of a scatter depends on the light, and on what lies around
//! it, and not on the glass; the fit of a pass depends on its law (and a field's on the view) and not on the light.

use super::{FieldPass, Pass, Plan, ScatterPass};

/// What the work of one pass depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needs {
    /// The light that comes in changes with the frame and the first so many passes, and where there are some with the view.
    pub light: usize,
    /// Whether the first part of the work needs that light and what lies around it alone, and not what the glass does to
    /// it: another strength then begins where that part ends.
    pub pyramid: bool,
    /// What lies around it, as in [`ScatterPass::outside`].
    pub outside: Option<[f64; 3]>,
}

impl Plan {
    /// What the work of pass `index` depends on.
    ///
    /// # Panics
    /// When there is no such pass.
    #[must_use]
    pub fn needs(&self, index: usize) -> Needs {
        let scatter = match &self.passes[index] {
            Pass::Scatter(s) => Some(s),
            _ => None,
        };
        Needs {
            light: index,
            pyramid: scatter.is_some_and(ScatterPass::keeps_pyramid),
            outside: scatter.and_then(|s| s.outside),
        }
    }

    /// The first pass with a part that can be kept, and what it needs.
    #[must_use]
    pub fn first_pyramid(&self) -> Option<Needs> {
        let needs = (0..self.passes.len()).map(|i| self.needs(i));
        needs.into_iter().find(|needs| needs.pyramid)
    }

    /// Whether the light that `needs` speaks of is the same in both plans, for one frame.
    #[must_use]
    pub fn brings_the_light_of(&self, other: &Self, needs: Needs) -> bool {
        let [first, others] = [self, other].map(|plan| plan.passes.get(..needs.light));
        let same_view = needs.light == 0 || self.view == other.view;
        same_view && first.is_some() && first == others
    }

    /// Whether what was kept of `other`'s first pyramid, which needed `needs`, serves this plan's, for one frame: the
    /// rule of every executor.
    #[must_use]
    pub fn goes_on_from(&self, other: &Self, needs: Needs) -> bool {
        self.first_pyramid() == Some(needs) && self.brings_the_light_of(other, needs)
    }

    /// Whether one picture of so many pixels, which must go to graphics hardware and come back, is sooner there than where
    /// it is. A round scatter runs at the speed of memory, which is several times that of the bus, and a wide lens's corners
    /// take a processor less than the way there and back too; only what has a direction takes it longer, and of
    /// that a small picture is done before the hardware has been opened.
    #[must_use]
    pub fn is_worth_the_bus(&self, pixels: usize) -> bool {
        pixels >= WORTH_THE_BUS && self.scatters().any(|s| !s.is_round())
    }

    /// [`Plan::fit`], with what `last` has fitted already.
    #[must_use]
    pub fn fit_after(mut self, last: &Self) -> Self {
        let same_view = self.view == last.view;
        for pass in &mut self.passes {
            match pass {
                Pass::Scatter(s) => {
                    let known = last.scatters().find(|other| other.laws == s.laws);
                    s.fit = known.and_then(|other| other.fit.clone());
                }
                Pass::Field(f) if same_view => {
                    let known = last.fields().find(|other| other.law == f.law);
                    f.fit = known.and_then(|other| other.fit.clone());
                }
                Pass::Field(_) | Pass::Matrix(_) | Pass::Sky(_) | Pass::Lift(_) | Pass::Gain(_) => {
                }
            }
        }
        self.fit()
    }

    fn scatters(&self) -> impl Iterator<Item = &ScatterPass> {
        self.passes.iter().filter_map(|pass| match pass {
            Pass::Scatter(s) => Some(s),
            _ => None,
        })
    }

    fn fields(&self) -> impl Iterator<Item = &FieldPass> {
        self.passes.iter().filter_map(|pass| match pass {
            Pass::Field(f) => Some(f),
            _ => None,
        })
    }
}

/// Pixels from which a halo that has a direction is worth the way: with 16 cores beside a large accelerator a star took as
/// long on either at 8 megapixels, and four fifths of the time there at 24.
const WORTH_THE_BUS: usize = 8_000_000;

impl ScatterPass {
    /// Whether it runs on a pyramid of the light as it comes in, with what lies around it.
    fn keeps_pyramid(&self) -> bool {
        self.is_round() && !self.stretched
    }
}
