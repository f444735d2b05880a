//! What a calculation may spend, how it is told to stop, and who works on it: the core knows no clock and no threads.

use std::sync::OnceLock;

/// Who does work that falls into independent jobs. The core knows no threads: whoever asks a question lends it some.
pub trait Workers: Sync {
    /// Does `job(0)`, `job(1)`, … up to `count`, each once, in any order and perhaps at once, and returns when all are done.
    fn work(&self, count: usize, job: &(dyn Fn(usize) + Sync));
}

/// One after another, by whoever asks.
#[derive(Clone, Copy, Debug)]
pub struct Serial;

impl Workers for Serial {
    fn work(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        (0..count).for_each(job);
    }
}

/// Limits of one calculation, plus a hook that is polled between steps.
#[derive(Clone, Copy)]
pub struct Budget<'a> {
    /// The most steps (pivots of the balance, events of the rehearsal) one question may take.
    pub steps: u64,
    should_stop: &'a (dyn Fn() -> bool + Sync),
    workers: &'a dyn Workers,
}

/// Why a calculation ended without an answer.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Halt {
    /// The hook said stop: the client went away or the time was up.
    #[error("the calculation was told to stop")]
    Stopped,
    /// The limit of steps was reached.
    #[error("the calculation reached its limit of {limit} steps")]
    StepsSpent {
        /// The limit in force.
        limit: u64,
    },
    /// Some number came out beyond what can be reckoned with: not finite, or so large that products of it might not be.
    #[error("the numbers of this plan lead beyond {limit:e}, which is more than can be reckoned with")]
    BeyondRange {
        /// The greatest size of a number.
        limit: f64,
    },
}

impl<'a> Budget<'a> {
    /// A budget of `steps`, asking `should_stop` now and then.
    #[must_use]
    pub fn new(steps: u64, should_stop: &'a (dyn Fn() -> bool + Sync)) -> Self {
        Self { steps, should_stop, workers: &Serial }
    }

    /// The same with workers for what falls into independent jobs.
    #[must_use]
    pub fn with_workers(self, workers: &'a dyn Workers) -> Self {
        Self { workers, ..self }
    }

    /// What `job` makes of `0`, `1`, … up to `count`, in this order, whoever does which. Each job is a calculation
    /// of its own and may take all the steps of this budget.
    ///
    /// # Errors
    /// [`Halt::Stopped`] when the hook says so before all are done, and the first [`Halt`] of a job.
    pub fn each<T: Send + Sync>(
        &self,
        count: usize,
        job: impl Fn(usize) -> Result<T, Halt> + Sync,
    ) -> Result<Vec<T>, Halt> {
        let done: Vec<OnceLock<Result<T, Halt>>> = (0..count).map(|_| OnceLock::new()).collect();
        self.workers.work(count, &|index| {
            if let Some(slot) = done.get(index) {
                slot.get_or_init(|| if self.is_stopped() { Err(Halt::Stopped) } else { job(index) });
            }
        });
        // A job that no worker took up was stopped from outside.
        done.into_iter().map(|slot| slot.into_inner().unwrap_or(Err(Halt::Stopped))).collect()
    }

    /// A generous budget that nothing interrupts, for tests and offline use.
    #[must_use]
    pub fn unhurried() -> Budget<'static> {
        Budget { steps: 50_000_000, should_stop: &|| false, workers: &Serial }
    }

    /// True when the caller wants no further work done.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        (self.should_stop)()
    }

    /// Checks the number of steps taken so far and, every 64th step, the hook.
    ///
    /// # Errors
    /// [`Halt::StepsSpent`] past the limit, [`Halt::Stopped`] when the hook says so.
    pub fn check(&self, steps_taken: u64) -> Result<(), Halt> {
        if steps_taken > self.steps {
            return Err(Halt::StepsSpent { limit: self.steps });
        }
        if steps_taken.is_multiple_of(64) && self.is_stopped() {
            return Err(Halt::Stopped);
        }
        Ok(())
    }
}
