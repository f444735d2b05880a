//! What a calculation may spend, and how it is told to stop: the core knows no clock.

/// Limits of one calculation, plus a hook that is polled between steps.
#[derive(Clone, Copy)]
pub struct Budget<'a> {
    /// The most steps (pivots of the balance, events of the rehearsal) one question may take.
    pub steps: u64,
    should_stop: &'a (dyn Fn() -> bool + Sync),
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
        Self { steps, should_stop }
    }

    /// A generous budget that nothing interrupts, for tests and offline use.
    #[must_use]
    pub fn unhurried() -> Budget<'static> {
        Budget { steps: 50_000_000, should_stop: &|| false }
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
