//! The thread that makes pictures: the newest order wins.
//!
//! One order waits at most; a newer one takes its place. The picture that is being made is cancelled
//! for it, unless it is the first one of its order: while a slider moves, every order is soon
//! superseded, and something must still be seen.

use super::ladder::{Detail, Ladder};
use super::report::Report;
use super::scopes::{Aid, Scopes, Wants};
use super::shown::{Keep, Looked, NARROWEST, Shown};
use super::sizes::Spare;
use super::{Event, Teller};
use crate::engine::{self, Choice, Engine, EngineError, OnDevice, Preview, Used, Watch};
use crate::frame::Frame;
use crate::frame::restore::Ask;
use crate::gpu::Executor;
use crate::meters::Region;
use crate::plan::Plan;
use crate::recipe::Framing;
use crate::rig::Setup;
use crate::rig::advisory::Advisory;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A fine picture that takes less than this needs no quick one before it.
const SOON: Duration = Duration::from_millis(60);

/// What a picture is made of.
pub(super) struct Order {
    pub(super) number: u64,
    /// The picture that is wanted; None: figures only.
    pub(super) picture: Option<Wanted>,
    pub(super) setup: Setup,
    pub(super) unapplied: Vec<Advisory>,
    pub(super) detail: Detail,
    pub(super) wants: Wants,
}

/// Which picture of a still is wanted.
pub(super) struct Wanted {
    /// The still, as it was last cut.
    pub(super) known: Arc<Ladder>,
    /// What is asked of its light.
    pub(super) ask: Ask,
    /// The planned picture's place in it.
    pub(super) framing: Framing,
}

/// The thread and its one waiting order.
pub(super) struct Renderer {
    desk: Arc<Desk>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Default)]
struct Desk {
    state: Mutex<State>,
    news: Condvar,
}

#[derive(Default)]
struct State {
    waiting: Option<Order>,
    closing: bool,
    /// The device that draws the window, until it is taken over.
    device: Option<Arc<Executor>>,
    /// Who is to make the pictures.
    choice: Choice,
    /// The picture that is being made, and whether a newer order may cancel it.
    making: Option<(Watch, bool)>,
}

impl Desk {
    fn state(&self) -> MutexGuard<'_, State> {
        // Nothing under the lock can be left half done.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next order; None when the session is closing.
    fn next(&self) -> Option<Order> {
        let mut state = self.state();
        loop {
            if state.closing {
                return None;
            }
            if let Some(order) = state.waiting.take() {
                return Some(order);
            }
            state = self
                .news
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// A watch for the next picture of an order; None when it is no longer wanted.
    fn begin(&self, first: bool) -> Option<Watch> {
        let mut state = self.state();
        if state.closing || (!first && state.waiting.is_some()) {
            return None;
        }
        let watch = Watch::default();
        state.making = Some((watch.clone(), !first));
        drop(state);
        Some(watch)
    }
}

impl Renderer {
    pub(super) fn start(teller: Teller, looked: Arc<Looked>) -> std::io::Result<Self> {
        let desk = Arc::new(Desk::default());
        let theirs = Arc::clone(&desk);
        let thread = std::thread::Builder::new()
            .name("render".to_owned())
            .spawn(move || work(&theirs, &teller, looked))?;
        Ok(Self {
            desk,
            thread: Some(thread),
        })
    }

    /// Leaves an order, in place of any that waits.
    pub(super) fn order(&self, order: Order) {
        let mut state = self.desk.state();
        if let Some((watch, true)) = &state.making {
            watch.cancel();
        }
        state.waiting = Some(order);
        drop(state);
        self.desk.news.notify_one();
    }
}

impl Renderer {
    /// The device that draws the window.
    pub(super) fn draw_on(&self, device: Arc<Executor>) {
        self.desk.state().device = Some(device);
    }

    /// Who is to make the pictures from the next order on.
    pub(super) fn choose(&self, choice: Choice) {
        self.desk.state().choice = choice;
    }
}

impl Drop for Renderer {
    fn drop(&mut self) {
        let mut state = self.desk.state();
        state.closing = true;
        if let Some((watch, _)) = &state.making {
            watch.cancel();
        }
        drop(state);
        self.desk.news.notify_one();
        // Not joined: the thread ends at its next look at the watch, and may first be waiting for a
        // reader of its events, which is going away with us.
        self.thread.take();
    }
}

fn work(desk: &Desk, teller: &Teller, looked: Arc<Looked>) {
    let mut worker = Worker {
        looked,
        spare: Arc::default(),
        engine: Engine::of_a_window(),
        device: None,
        past: Vec::new(),
        plan: None,
        fine_took: Duration::MAX,
        still: 0,
        cut: None,
    };
    while let Some(order) = desk.next() {
        let number = order.number;
        let done = catch_unwind(AssertUnwindSafe(|| worker.serve(desk, teller, &order)));
        let text = match done {
            Ok(Ok(()) | Err(EngineError::Cancelled(_))) => continue,
            Ok(Err(e)) => format!("No picture: {e}."),
            Err(_) => {
                worker.engine = Engine::of_a_window();
                if let Some(device) = &worker.device {
                    worker.engine.draw_on(Arc::clone(device));
                }
                "No picture: something in the program went wrong while making it.".to_owned()
            }
        };
        teller.tell(Event::Broken { number, text });
        // What the rig costs and covers does not hang on the picture. If that is what went wrong, there is none.
        let framing = order.picture.as_ref().map(|wanted| &wanted.framing);
        let told = catch_unwind(AssertUnwindSafe(|| {
            Worker::report(teller, &order, framing);
        }));
        drop(told);
    }
}

/// Who worked a picture out, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ran {
    /// The executor.
    pub used: Used,
    /// Why graphics hardware that is there was passed over, if it was.
    pub passed_over: Option<String>,
    /// When its light was there, of which the codes were then made.
    pub lit: Instant,
}

/// A picture that is shown, where its light is.
enum Made {
    Here(Arc<Frame>),
    There(OnDevice),
}

/// A picture ready to be shown.
fn show(
    made: Preview,
    keep: Keep,
    (ladder, pixels): (u64, f32),
    spare: &Arc<Spare>,
) -> Result<(Arc<Shown>, Made), EngineError> {
    Ok(match made {
        Preview::Here(picture) => {
            let picture = Arc::new(picture);
            let shown = Shown::of(&picture, keep, ladder, spare);
            shown.code(pixels);
            (Arc::new(shown), Made::Here(picture))
        }
        Preview::There(device) => {
            let codes = device.codes(NARROWEST).map_err(EngineError::from)?;
            (
                Arc::new(Shown::on_device(codes, keep, ladder)),
                Made::There(device),
            )
        }
    })
}

struct Worker {
    /// Codes of pictures that nobody looks at any more.
    spare: Arc<Spare>,
    /// How large the pictures are looked at.
    looked: Arc<Looked>,
    engine: Engine,
    /// The device that draws the window.
    device: Option<Arc<Executor>>,
    /// Previews that somebody may still look at.
    past: Vec<Arc<Frame>>,
    /// The plan of the last order, whose fits serve again where their law is the same.
    plan: Option<Plan>,
    /// How long the last fine picture took.
    fine_took: Duration,
    still: u64,
    /// The picture that was last cut out of a still.
    cut: Option<Arc<Ladder>>,
}

impl Worker {
    fn serve(&mut self, desk: &Desk, teller: &Teller, order: &Order) -> Result<(), EngineError> {
        let Some(wanted) = &order.picture else {
            Self::report(teller, order, None);
            return Ok(());
        };
        if self.still != wanted.known.still() {
            self.still = wanted.known.still();
            self.fine_took = Duration::MAX;
        }
        let choice = self.follow(desk);
        let framing = &wanted.framing;
        let ladder = &self.cut(wanted);
        let mut details = vec![Detail::Preview];
        if ladder.has(Detail::Coarse) && self.fine_took > SOON {
            details.insert(0, Detail::Coarse);
        }
        if order.detail == Detail::Full && ladder.has(Detail::Full) {
            details.push(Detail::Full);
        }
        // The plan knows angles, not pixels: one serves every size.
        let plan = match self.plan.take() {
            Some(last) => engine::plan_after(&order.setup, framing.view(), &last),
            None => engine::plan_over(&order.setup, framing.view()),
        };
        self.plan = Some(plan);
        for (i, &detail) in details.iter().enumerate() {
            let Some(watch) = desk.begin(i == 0) else {
                return Ok(());
            };
            let began = Instant::now();
            if detail == Detail::Full {
                teller.tell(Event::Bare {
                    shown: ladder.bare_full(),
                });
            }
            let frame = ladder.at(detail);
            watch.check()?;
            let keep = Keep {
                light: detail != Detail::Full,
                finest: !ladder.has(Detail::Full) && detail == Detail::Preview
                    || detail == Detail::Full,
                coarse: detail == Detail::Coarse,
            };
            let (made, mut used) = self.made(detail, &frame, choice, &watch)?;
            watch.check()?;
            let mut lit = Instant::now();
            let [bare, through] = self.looked.get();
            ladder.bare().code(bare);
            let (shown, made) = match show(made, keep, (ladder.id(), through), &self.spare) {
                Err(EngineError::Gpu(e)) if choice == Choice::Auto => {
                    self.engine.fall_back(e);
                    let (made, by) = self.made(detail, &frame, Choice::Cpu, &watch)?;
                    used = by;
                    lit = Instant::now();
                    show(made, keep, (ladder.id(), through), &self.spare)?
                }
                done => done?,
            };
            let ran = Ran {
                used,
                passed_over: self.engine.passed_over().map(|e| e.to_string()),
                lit,
            };
            if detail == Detail::Preview {
                self.fine_took = began.elapsed();
            }
            let last = i + 1 == details.len();
            teller.tell(Event::Picture {
                number: order.number,
                cut: Arc::clone(ladder),
                shown: Arc::clone(&shown),
                ran,
                last,
            });
            // Off the device after it is shown: only what is metered must come over the bus.
            let picture = match made {
                Made::Here(picture) => picture,
                Made::There(device) => {
                    let picture = Arc::new(self.read(&device, &frame, choice, &watch)?);
                    shown.lit(Arc::clone(&picture));
                    teller.tell(Event::Lit);
                    picture
                }
            };
            if detail == Detail::Preview {
                self.past.push(Arc::clone(&picture));
            }
            if detail != Detail::Full
                && let Some(aid) = Aid::of(
                    order.wants.view,
                    [&frame, &picture],
                    (ladder.id(), self.looked.get()),
                )
            {
                teller.tell(Event::Aid {
                    number: order.number,
                    aid: Arc::new(aid),
                });
            }
            if detail == Detail::Preview && order.wants.scopes {
                let face = order.wants.face.map_or(Some(Region::WHOLE), |face| {
                    framing.region(face.sides()).and_then(Region::new)
                });
                let Some(plan) = &self.plan else { continue };
                let scopes = Scopes::of([&frame, &picture], &order.setup, plan, face);
                teller.tell(Event::Scopes {
                    number: order.number,
                    scopes: Arc::new(scopes),
                });
            }
            if i == 0 {
                // Behind the first picture, which is what is waited for.
                Self::report(teller, order, Some(framing));
            }
        }
        Ok(())
    }

    /// Takes over the window's device where that is new; who is to make the pictures.
    fn follow(&mut self, desk: &Desk) -> Choice {
        let mut state = desk.state();
        if let Some(device) = state.device.take() {
            self.engine.draw_on(Arc::clone(&device));
            self.device = Some(device);
        }
        state.choice
    }

    /// A preview that nobody looks at any more.
    fn unseen(&mut self) -> Option<Frame> {
        let unseen = |picture: &Arc<Frame>| Arc::strong_count(picture) == 1;
        let at = self.past.iter().position(unseen)?;
        Arc::try_unwrap(self.past.swap_remove(at)).ok()
    }

    /// The light of a picture that is shown from the window's device; the processor's where that device has failed.
    fn read(
        &self,
        device: &OnDevice,
        frame: &Arc<Frame>,
        choice: Choice,
        watch: &Watch,
    ) -> Result<Frame, EngineError> {
        match device.read(watch).map_err(EngineError::from) {
            Err(EngineError::Gpu(e)) if choice == Choice::Auto => {
                self.engine.fall_back(e);
                Ok(self.anew(frame, Choice::Cpu, watch)?.0)
            }
            read => read,
        }
    }

    /// The frame through the glass of the order's plan, and who made it.
    fn made(
        &mut self,
        detail: Detail,
        frame: &Arc<Frame>,
        choice: Choice,
        watch: &Watch,
    ) -> Result<(Preview, Used), EngineError> {
        while let Some(picture) = self.unseen() {
            self.engine.recycle(picture);
        }
        match &self.plan {
            Some(plan) if detail == Detail::Preview => {
                let made = self.engine.preview(frame, plan, choice, watch)?;
                let used = made.used();
                Ok((made, used))
            }
            // Made once: nothing of it would serve again.
            _ => {
                let (picture, used) = self.anew(frame, choice, watch)?;
                Ok((Preview::Here(picture), used))
            }
        }
    }

    /// The same, nothing kept.
    fn anew(
        &self,
        frame: &Arc<Frame>,
        choice: Choice,
        watch: &Watch,
    ) -> Result<(Frame, Used), EngineError> {
        let Some(plan) = &self.plan else {
            return Ok(((**frame).clone(), Used::Cpu));
        };
        // The window's own device is the one that was asked for: no other is opened.
        let choice = match choice {
            Choice::Gpu => Choice::Auto,
            choice => choice,
        };
        self.engine.render((**frame).clone(), plan, choice, watch)
    }

    /// The picture that is wanted out of a still: made again only where it is another one.
    fn cut(&mut self, wanted: &Wanted) -> Arc<Ladder> {
        let Wanted {
            known,
            ask,
            framing,
        } = wanted;
        if known.is_cut_as(ask, framing) {
            return Arc::clone(known);
        }
        // What was cut last may not have been shown yet.
        let last = self.cut.as_ref().filter(|l| l.still() == known.still());
        let cut = match last {
            Some(last) if last.is_cut_as(ask, framing) => Arc::clone(last),
            last => Arc::new(last.unwrap_or(known).recut(ask, framing.clone())),
        };
        self.cut = Some(Arc::clone(&cut));
        cut
    }

    fn report(teller: &Teller, order: &Order, framing: Option<&Framing>) {
        let report = Report::of(&order.setup, framing, order.unapplied.clone());
        teller.tell(Event::Report {
            number: order.number,
            report: Box::new(report),
        });
    }
}
