//! What is so quick that handing it to another thread would cost more than it takes.
//!
//! It is done by the threads of the connections, between other requests, and needs no leave for that. What stands before it is counted
//! none the less: a request is counted in, lets all others that have arrived be counted, and only then is reckoned. So a
//! flood of quick requests is seen as one, and refused like any other.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use crate::http::line::Refusal;
use crate::http::patience::{Load, Patience};

/// What waits to be done between other requests, and what is at it.
pub struct Quick {
    state: Mutex<State>,
    threads: f64,
    patience: Patience,
}

struct State {
    standing: f64,
    load: Load,
}

/// A place in it; left when it is dropped.
pub struct Turn {
    quick: Arc<Quick>,
    cost: f64,
}

impl Quick {
    /// Between the requests of so many threads.
    #[must_use]
    pub fn new(threads: usize, patience: Patience) -> Self {
        let state = State { standing: 0.0, load: Load::new(threads) };
        Self { state: Mutex::new(state), threads: threads.max(1) as f64, patience }
    }

    /// Counts a calculation of `cost` seconds in.
    ///
    /// # Errors
    /// [`Refusal`] when too much stands before it.
    pub fn enter(self: &Arc<Self>, cost: f64) -> Result<Turn, Refusal> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let load = state.load.add(Instant::now(), cost);
        let longest = self.patience.longest(load, cost);
        let after = state.standing / self.threads;
        if after > longest {
            return Err(Refusal::TooLong { longest, after });
        }
        state.standing += cost;
        Ok(Turn { quick: Arc::clone(self), cost })
    }
}

impl Turn {
    /// Lets all others that have arrived be counted.
    pub async fn come(&self) {
        tokio::task::yield_now().await;
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut state = self.quick.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.standing = (state.standing - self.cost).max(0.0);
    }
}
