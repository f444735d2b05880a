//! Threads lent to a calculation that falls into independent jobs.

use std::panic::resume_unwind;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::budget::Workers;
use crate::http::line::Line;

/// So many threads, the one that asks among them.
#[derive(Clone, Copy, Debug)]
pub struct Threads(pub usize);

impl Workers for Threads {
    fn work(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        share(count, job, vec![(); self.0.min(count).saturating_sub(1)], &|| true);
    }
}

/// As many threads as the pool has to spare, beside the one that a calculation runs on already: so all calculations
/// together never run on more threads than the pool allows. As soon as another calculation waits, they are given back, each
/// after the job it is at.
pub struct Spare {
    line: Arc<Line>,
    most: usize,
}

impl Spare {
    pub(super) fn new(line: Arc<Line>, most: usize) -> Self {
        Self { line, most }
    }
}

impl Workers for Spare {
    fn work(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        let wanted = count.min(self.most).saturating_sub(1);
        let lent = (0..wanted).map_while(|_| self.line.lend()).collect();
        share(count, job, lent, &|| !self.line.is_waited_for());
    }
}

/// Shares the jobs between whoever asks and a helper for each of `lent`, which it gives back when there is nothing left to do
/// for it, or it is not to go on.
fn share<L: Send>(count: usize, job: &(dyn Fn(usize) + Sync), lent: Vec<L>, go_on: &(dyn Fn() -> bool + Sync)) {
    let next = AtomicUsize::new(0);
    let take = |go_on: &dyn Fn() -> bool| {
        while go_on() {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return;
            }
            job(index);
        }
    };
    std::thread::scope(|scope| {
        let help = |lent: L| {
            scope.spawn(move || {
                take(go_on);
                drop(lent);
            })
        };
        let helpers: Vec<_> = lent.into_iter().map(help).collect();
        take(&|| true);
        for helper in helpers {
            // What a helper dies of is told by whoever asked.
            if let Err(panic) = helper.join() {
                resume_unwind(panic);
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;
    use std::sync::atomic::AtomicBool;

    use std::time::{Duration, Instant};

    use super::*;
    use crate::budget::{Budget, Halt, Serial};
    use crate::http::line::Entry;
    use crate::http::patience::Patience;

    #[test]
    fn every_job_is_done_once_and_told_in_order() {
        for workers in [&Serial as &dyn Workers, &Threads(1), &Threads(3), &Threads(64)] {
            for count in [0, 1, 2, 100] {
                let met = Mutex::new(vec![0; count]);
                let budget = Budget::unhurried().with_workers(workers);
                let squares = budget.each(count, |index| {
                    met.lock().expect("no panic")[index] += 1;
                    Ok(index * index)
                });
                assert_eq!(squares, Ok((0..count).map(|index| index * index).collect()));
                assert!(met.into_inner().expect("no panic").into_iter().all(|times| times == 1));
            }
        }
    }

    #[test]
    fn a_stop_ends_what_has_not_begun() {
        let stop = AtomicBool::new(false);
        let hook = || stop.load(Ordering::Relaxed);
        let done = AtomicUsize::new(0);
        let budget = Budget::new(1, &hook).with_workers(&Threads(2));
        let result = budget.each(1_000, |index| {
            done.fetch_add(1, Ordering::Relaxed);
            if index == 10 {
                stop.store(true, Ordering::Relaxed);
            }
            Ok(())
        });
        assert_eq!(result, Err(Halt::Stopped));
        assert!(done.load(Ordering::Relaxed) < 1_000);
    }

    #[test]
    fn a_panic_of_a_helper_is_one_of_whoever_asked() {
        let caught = std::panic::catch_unwind(|| Threads(4).work(64, &|index| assert!(index != 40, "job forty")));
        let panic = caught.expect_err("a panic");
        assert_eq!(panic.downcast_ref::<&str>().copied(), Some("job forty"));
    }

    #[test]
    fn no_more_threads_work_than_there_are_permits() {
        let patience = Patience { burst: Duration::from_secs(60), slowdown: 1.0, least: Duration::ZERO };
        let line = Arc::new(Line::new(3, 8, patience));
        let deadline = Instant::now() + Duration::from_secs(600);
        let Ok(Entry::Now(held)) = line.enter(0.1, deadline) else { panic!("a thread is free") };
        let (now, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        Spare::new(Arc::clone(&line), 8).work(200, &|_| {
            most.fetch_max(1 + now.fetch_add(1, Ordering::SeqCst), Ordering::SeqCst);
            std::thread::yield_now();
            now.fetch_sub(1, Ordering::SeqCst);
        });
        assert!(most.load(Ordering::SeqCst) <= 3);
        assert_eq!(line.free(), 2, "what was lent is back");
        let waits = Mutex::new(None);
        Spare::new(Arc::clone(&line), 8).work(300, &|index| {
            if index == 10 {
                let Ok(Entry::Later(place)) = line.enter(0.1, deadline) else { panic!("all threads are taken") };
                *waits.lock().expect("no panic") = Some(place);
            }
            std::thread::sleep(Duration::from_micros(200));
        });
        let place = waits.into_inner().expect("no panic").expect("somebody waits");
        assert!(!line.is_waited_for(), "it was given a thread while there was still work");
        let permit = std::pin::pin!(place.turn());
        let ready = futures_ready(permit);
        assert!(ready.is_some());
        drop((held, ready));
        assert_eq!(line.free(), 3);
    }

    /// What a future gives when it is asked once.
    fn futures_ready<T>(future: std::pin::Pin<&mut impl Future<Output = Option<T>>>) -> Option<T> {
        match future.poll(&mut std::task::Context::from_waker(std::task::Waker::noop())) {
            std::task::Poll::Ready(value) => value,
            std::task::Poll::Pending => None,
        }
    }
}
