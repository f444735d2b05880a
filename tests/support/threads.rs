//! Threads for calculations that fall into independent jobs, where there is no server to lend any.

use std::sync::atomic::{AtomicUsize, Ordering};

use hotwell::budget::Workers;

/// So many threads that take whatever job is next.
pub struct Threads(pub usize);

impl Workers for Threads {
    fn work(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        let next = AtomicUsize::new(0);
        let take = || {
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                if index >= count {
                    return;
                }
                job(index);
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..self.0 {
                scope.spawn(take);
            }
            take();
        });
    }
}
