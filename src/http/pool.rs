//! A bounded pool for calculations: so many at a time, so many waiting, the rest refused at once.
//!
//! A calculation keeps its permit until it has really ended, even when nobody waits for it any more; and it ends
//! soon, because its [`Cancel`] is set when the request is dropped or its time is up.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Instant;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::http::problem::{Kind, Problem};
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
    permits: Arc<Semaphore>,
    all: usize,
    waiting: Arc<AtomicUsize>,
    queue: usize,
    meters: Meters,
}

/// A place in the queue, given back when it is left.
struct Place<'a>(&'a Pool);

impl<'a> Place<'a> {
    fn take(pool: &'a Pool) -> Option<Self> {
        let taken = pool.waiting.fetch_add(1, Ordering::AcqRel);
        let place = Self(pool);
        pool.meters.queue_depth.inc();
        (taken < pool.queue).then_some(place)
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.waiting.fetch_sub(1, Ordering::AcqRel);
        self.0.meters.queue_depth.dec();
    }
}

impl Pool {
    /// A pool of so many permits with a queue.
    #[must_use]
    pub fn new(permits: usize, queue: usize, meters: Meters) -> Self {
        let waiting = Arc::new(AtomicUsize::new(0));
        Self { permits: Arc::new(Semaphore::new(permits)), all: permits, waiting, queue, meters }
    }

    /// How many permits are free.
    #[must_use]
    pub fn free(&self) -> usize {
        self.permits.available_permits()
    }

    /// Threads for a calculation that falls into independent jobs: those that no other calculation needs.
    #[must_use]
    pub fn workers(&self) -> Spare {
        Spare::new(Arc::clone(&self.permits), Arc::clone(&self.waiting), self.all)
    }

    /// Runs a calculation on a thread of its own, when there is room. Dropping the future cancels the calculation.
    ///
    /// # Errors
    /// 503 when the queue is full, 500 when the calculation panics.
    pub async fn run<T, F>(&self, deadline: Instant, calculation: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce(&Cancel) -> T + Send + 'static,
    {
        let permit = self.permit().await?;
        let cancel = Arc::new(Cancel { unwanted: AtomicBool::new(false), deadline });
        let _guard = SetOnDrop(Arc::clone(&cancel));
        let meters = self.meters.clone();
        let running = tokio::task::spawn_blocking(move || {
            meters.pool_busy.inc();
            let result = catch_unwind(AssertUnwindSafe(|| calculation(&cancel)));
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

    async fn permit(&self) -> Result<OwnedSemaphorePermit, Problem> {
        if let Ok(permit) = Arc::clone(&self.permits).try_acquire_owned() {
            return Ok(permit);
        }
        let Some(_place) = Place::take(self) else {
            self.meters.reject(Rejection::QueueFull);
            let detail = "all calculators are busy and the queue is full; ask again in a second";
            return Err(
                Problem::limit(Kind::Busy, "queue", self.queue as f64, "waiting calculations", detail).retry_after("1")
            );
        };
        // The semaphore is never closed.
        Arc::clone(&self.permits).acquire_owned().await.map_err(|_| Problem::not_ready())
    }
}
