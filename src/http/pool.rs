//! Where calculations run: quick ones between other requests, all others on a bounded pool of threads with a line before it.
//!
//! A calculation keeps its thread until it has really ended, even when nobody waits for it any more; and it ends
//! soon, because its [`Cancel`] is set when the request is dropped or its time is up.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use crate::http::cost::{Costs, Estimate};
use crate::http::line::{Entry, Line, Permit, Refusal};
use crate::http::problem::{Kind, Problem};
use crate::http::quick::{Quick, Turn};
use crate::http::settings::Settings;
use crate::http::telemetry::{Meters, Rejection};
use crate::http::workers::Spare;

/// Tells a calculation that nobody wants its result.
#[derive(Debug)]
pub struct Cancel {
    unwanted: AtomicBool,
    deadline: Instant,
}

impl Cancel {
    /// True when the client is gone or the time is up.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.unwanted.load(Ordering::Relaxed) || Instant::now() >= self.deadline
    }
}

/// Sets the flag when the request's future ends, one way or the other.
struct SetOnDrop(Arc<Cancel>);

impl Drop for SetOnDrop {
    fn drop(&mut self) {
        self.0.unwanted.store(true, Ordering::Relaxed);
    }
}

/// The pool.
pub struct Pool {
    line: Arc<Line>,
    quick: Arc<Quick>,
    threads: usize,
    queue: usize,
    request_timeout: f64,
    /// What calculations took of late.
    pub costs: Arc<Costs>,
    meters: Meters,
}

/// Counts a waiting calculation, and out again.
struct Waits<'a> {
    meters: &'a Meters,
    since: Instant,
}

impl<'a> Waits<'a> {
    fn begin(meters: &'a Meters) -> Self {
        meters.queue_depth.inc();
        Self { meters, since: Instant::now() }
    }
}

impl Drop for Waits<'_> {
    fn drop(&mut self) {
        self.meters.queue_depth.dec();
        self.meters.waited(self.since.elapsed().as_secs_f64());
    }
}

impl Pool {
    /// The pool that the settings say.
    #[must_use]
    pub fn new(settings: &Settings, meters: Meters) -> Self {
        Self {
            line: Arc::new(Line::new(settings.permits, settings.queue, settings.patience)),
            quick: Arc::new(Quick::new(settings.workers, settings.patience)),
            threads: settings.permits,
            queue: settings.queue,
            request_timeout: settings.request_timeout.as_secs_f64(),
            costs: Arc::default(),
            meters,
        }
    }

    /// How many threads are free.
    #[must_use]
    pub fn free(&self) -> usize {
        self.line.free()
    }

    /// Threads for a calculation that falls into independent jobs: those that no other calculation needs.
    #[must_use]
    pub fn workers(&self) -> Spare {
        Spare::new(Arc::clone(&self.line), self.threads)
    }

    /// A turn between other requests for a calculation that is likely to take `cost` seconds.
    ///
    /// # Errors
    /// 503 when too much stands before it.
    pub async fn turn(&self, cost: f64) -> Result<Turn, Problem> {
        let turn = self.quick.enter(cost).map_err(|refusal| self.refused(refusal))?;
        turn.come().await;
        Ok(turn)
    }

    /// Runs a calculation on a thread of its own, when there is room. Dropping the future cancels the calculation.
    ///
    /// # Errors
    /// 503 when it would have to wait too long, 500 when the calculation panics.
    pub async fn run<T, F>(&self, deadline: Instant, estimate: Estimate, calculation: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce(&Cancel) -> T + Send + 'static,
    {
        let permit = self.permit(estimate.seconds, deadline).await?;
        let cancel = Arc::new(Cancel { unwanted: AtomicBool::new(false), deadline });
        let _guard = SetOnDrop(Arc::clone(&cancel));
        let (meters, costs) = (self.meters.clone(), Arc::clone(&self.costs));
        let running = tokio::task::spawn_blocking(move || {
            meters.pool_busy.inc();
            let began = Instant::now();
            let result = catch_unwind(AssertUnwindSafe(|| calculation(&cancel)));
            let took = began.elapsed().as_secs_f64();
            meters.computed(estimate.question, took);
            // What was cut short says only that it takes longer than this.
            if !cancel.is_set() || took > estimate.seconds {
                costs.learn(&estimate, took);
            }
            meters.pool_busy.dec();
            drop(permit);
            result
        });
        match running.await {
            Ok(Ok(value)) => Ok(value),
            Ok(Err(panic)) => Err(Problem::internal(super::app::panic_text(panic.as_ref()))),
            // The task was never started: the runtime is going away.
            Err(_) => Err(Problem::not_ready()),
        }
    }

    async fn permit(&self, cost: f64, deadline: Instant) -> Result<Permit, Problem> {
        match self.line.enter(cost, deadline).map_err(|refusal| self.refused(refusal))? {
            Entry::Now(permit) => Ok(permit),
            Entry::Later(place) => {
                let _waits = Waits::begin(&self.meters);
                // A place in the line lasts as long as the line.
                place.turn().await.ok_or_else(Problem::not_ready)
            }
        }
    }

    fn refused(&self, refusal: Refusal) -> Problem {
        let (reason, name, limit, counts, detail, after) = match refusal {
            Refusal::Full => {
                let detail = "all calculators are busy and the queue is full; ask again in a second";
                (Rejection::QueueFull, "queue", self.queue as f64, "waiting calculations", detail, 1.0)
            }
            Refusal::TooLong { longest, after } => {
                let detail = "all calculators are busy, and this calculation would wait for longer than is of use";
                (Rejection::Overload, "queue-time", longest, "seconds", detail, after)
            }
            Refusal::TooLate { after } => {
                let detail = "all calculators are busy, and the answer would not be ready in time";
                (Rejection::Deadline, "request-timeout", self.request_timeout, "seconds", detail, after)
            }
        };
        self.meters.reject(reason);
        Problem::limit(Kind::Busy, name, limit, counts, detail).retry_after(after)
    }
}
