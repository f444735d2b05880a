//! The line of calculations that wait for a thread, and who is let into it.
//!
//! Each comes with what it is likely to take. From that follows when it would begin; when that is later than it may wait, or than its
//! deadline allows, it is refused at once, while its client can still do something else. Who may wait the shortest begins first, as long
//! as nobody who was let in is made late by it.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::oneshot;

use crate::http::patience::{Load, Patience};

/// Why a calculation is not let in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Refusal {
    /// So many wait already.
    Full,
    /// It would wait longer than it may.
    TooLong {
        /// What it may wait, in seconds.
        longest: f64,
        /// After how many seconds there should be room.
        after: f64,
    },
    /// It would begin after its deadline, or so late that it could not be met.
    TooLate {
        /// After how many seconds it would have begun.
        after: f64,
    },
}

/// The line before so many threads.
pub struct Line {
    state: Mutex<State>,
    threads: usize,
    most: usize,
    patience: Patience,
    waiting: AtomicUsize,
}

struct State {
    running: Vec<Running>,
    lent: usize,
    /// Whoever must begin first stands first.
    waiting: Vec<Waiting>,
    load: Load,
    next: u64,
}

struct Running {
    id: u64,
    cost: f64,
    began: Instant,
}

struct Waiting {
    id: u64,
    cost: f64,
    /// By when it should have begun.
    latest: Instant,
    turn: oneshot::Sender<Permit>,
}

/// Leave to run on one thread; given back when it is dropped.
pub struct Permit(Option<(Arc<Line>, u64)>);

/// A thread that nobody needs just now; given back when it is dropped.
pub struct Lent<'l>(&'l Arc<Line>);

/// A place in the line; left when it is dropped.
pub struct Place {
    line: Arc<Line>,
    id: u64,
    turn: oneshot::Receiver<Permit>,
}

/// Where a calculation that is let in stands.
pub enum Entry {
    /// It may run.
    Now(Permit),
    /// It waits.
    Later(Place),
}

impl Line {
    /// A line before `threads` threads in which `most` may wait.
    #[must_use]
    pub fn new(threads: usize, most: usize, patience: Patience) -> Self {
        let state = State { running: Vec::new(), lent: 0, waiting: Vec::new(), load: Load::new(threads), next: 0 };
        Self { state: Mutex::new(state), threads, most, patience, waiting: AtomicUsize::new(0) }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // Nothing in here panics half way.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How many threads are free.
    #[must_use]
    pub fn free(&self) -> usize {
        self.state().free(self.threads)
    }

    /// True when somebody waits.
    #[must_use]
    pub fn is_waited_for(&self) -> bool {
        self.waiting.load(Ordering::Relaxed) > 0
    }

    /// Lets a calculation of `cost` seconds in, which must be done by `deadline`.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn enter(self: &Arc<Self>, cost: f64, deadline: Instant) -> Result<Entry, Refusal> {
        let now = Instant::now();
        let mut state = self.state();
        let load = state.load.add(now, cost);
        if state.waiting.is_empty() && state.free(self.threads) > 0 {
            return Ok(Entry::Now(self.begin(&mut state, cost, now)));
        }
        if state.waiting.len() >= self.most {
            return Err(Refusal::Full);
        }
        let longest = self.patience.longest(load, cost);
        let after = state.would_begin(self.threads, now, cost, longest)?;
        // What is likely to take longer than there is may still be lucky, but not when it waits besides.
        let left = deadline.saturating_duration_since(now).as_secs_f64();
        if after > left - cost.min(left / 2.0) {
            return Err(Refusal::TooLate { after });
        }
        let (turn, receiver) = oneshot::channel();
        let id = state.number();
        let latest = now + Duration::from_secs_f64(longest.min(left));
        let at = state.waiting.partition_point(|other| other.latest <= latest);
        state.waiting.insert(at, Waiting { id, cost, latest, turn });
        self.waiting.store(state.waiting.len(), Ordering::Relaxed);
        Ok(Entry::Later(Place { line: Arc::clone(self), id, turn: receiver }))
    }

    /// A thread that nobody needs just now.
    #[must_use]
    pub fn lend(self: &Arc<Self>) -> Option<Lent<'_>> {
        let mut state = self.state();
        if !state.waiting.is_empty() || state.free(self.threads) == 0 {
            return None;
        }
        state.lent += 1;
        Some(Lent(self))
    }

    fn begin(self: &Arc<Self>, state: &mut State, cost: f64, began: Instant) -> Permit {
        let id = state.number();
        state.running.push(Running { id, cost, began });
        Permit(Some((Arc::clone(self), id)))
    }

    /// Gives free threads to whoever is next.
    fn advance(self: &Arc<Self>, mut state: MutexGuard<'_, State>) {
        while !state.waiting.is_empty() && state.free(self.threads) > 0 {
            let next = state.waiting.remove(0);
            let permit = self.begin(&mut state, next.cost, Instant::now());
            // Whoever does not wait any more takes no thread. Its permit must not come back here by itself, under this lock.
            if let Err(mut unwanted) = next.turn.send(permit)
                && let Some((_, id)) = unwanted.0.take()
            {
                state.running.retain(|running| running.id != id);
            }
        }
        self.waiting.store(state.waiting.len(), Ordering::Relaxed);
    }
}

impl State {
    fn free(&self, threads: usize) -> usize {
        threads.saturating_sub(self.running.len() + self.lent)
    }

    fn number(&mut self) -> u64 {
        self.next += 1;
        self.next
    }

    /// In how many seconds a calculation that may wait `longest` would begin.
    fn would_begin(&self, threads: usize, now: Instant, cost: f64, longest: f64) -> Result<f64, Refusal> {
        let mut free_after: Vec<f64> = self.running.iter().map(|running| running.left(now)).collect();
        // What is lent comes back as soon as somebody waits.
        free_after.resize(threads.max(1), 0.0);
        let mut place = |cost: f64| {
            let first = free_after.iter_mut().min_by(|a, b| a.total_cmp(b));
            first.map_or(0.0, |first| {
                let begins = *first;
                *first += cost;
                begins
            })
        };
        let latest = |other: &Waiting| other.latest.saturating_duration_since(now).as_secs_f64();
        let mut waiting = self.waiting.iter().peekable();
        while waiting.next_if(|other| latest(other) <= longest).map(|other| place(other.cost)).is_some() {}
        let begins = place(cost);
        if begins > longest {
            return Err(Refusal::TooLong { longest, after: begins });
        }
        for other in waiting {
            let late = place(other.cost) - latest(other);
            // Who is late anyway is not made late by this one.
            if late > 0.0 && late <= cost / threads as f64 {
                return Err(Refusal::TooLong { longest, after: begins + late });
            }
        }
        Ok(begins)
    }
}

impl Running {
    /// What it is likely to take still. What took longer than it should is likely to take half as long again.
    fn left(&self, now: Instant) -> f64 {
        let passed = now.saturating_duration_since(self.began).as_secs_f64();
        if passed < self.cost { self.cost - passed } else { passed / 2.0 }
    }
}

impl Drop for Permit {
    fn drop(&mut self) {
        if let Some((line, id)) = self.0.take() {
            let mut state = line.state();
            state.running.retain(|running| running.id != id);
            line.advance(state);
        }
    }
}

impl Drop for Lent<'_> {
    fn drop(&mut self) {
        let mut state = self.0.state();
        state.lent -= 1;
        self.0.advance(state);
    }
}

impl Place {
    /// Waits for the turn.
    pub async fn turn(mut self) -> Option<Permit> {
        (&mut self.turn).await.ok()
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut state = self.line.state();
        state.waiting.retain(|waiting| waiting.id != self.id);
        self.line.waiting.store(state.waiting.len(), Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One thread; whoever waits may wait as long as it takes itself.
    fn line(most: usize) -> Arc<Line> {
        Arc::new(Line::new(1, most, Patience { burst: Duration::ZERO, slowdown: 1.0, least: Duration::ZERO }))
    }

    fn soon() -> Instant {
        Instant::now() + Duration::from_secs(600)
    }

    fn now(entry: Result<Entry, Refusal>) -> Permit {
        match entry {
            Ok(Entry::Now(permit)) => permit,
            Ok(Entry::Later(_)) => panic!("it waits"),
            Err(refusal) => panic!("{refusal:?}"),
        }
    }

    fn later(entry: Result<Entry, Refusal>) -> Place {
        match entry {
            Ok(Entry::Later(place)) => place,
            Ok(Entry::Now(_)) => panic!("it does not wait"),
            Err(refusal) => panic!("{refusal:?}"),
        }
    }

    fn refusal(entry: Result<Entry, Refusal>) -> Refusal {
        entry.err().expect("a refusal")
    }

    fn has_turn(place: &mut Place) -> Option<Permit> {
        place.turn.try_recv().ok()
    }

    #[test]
    fn what_would_wait_too_long_is_refused_and_told_when_there_is_room() {
        let line = line(8);
        let running = now(line.enter(100.0, soon()));
        let refused = refusal(line.enter(10.0, soon()));
        assert!(
            matches!(refused, Refusal::TooLong { longest, after } if longest.to_bits() == 10_f64.to_bits() && after > 99.0),
            "{refused:?}"
        );
        let first = later(line.enter(150.0, soon()));
        // Behind both, or before one who would then be late.
        assert!(matches!(refusal(line.enter(160.0, soon())), Refusal::TooLong { .. }));
        assert!(matches!(refusal(line.enter(120.0, soon())), Refusal::TooLong { .. }));
        drop((first, running));
        drop(now(line.enter(120.0, soon())));
        assert_eq!(line.free(), 1);
    }

    #[test]
    fn who_may_wait_the_shortest_begins_first_where_nobody_is_late_for_it() {
        let line = line(8);
        let running = now(line.enter(1.0, soon()));
        let mut patient = later(line.enter(100.0, soon()));
        let mut quick = later(line.enter(2.0, soon()));
        drop(running);
        assert!(has_turn(&mut patient).is_none());
        let permit = has_turn(&mut quick).expect("its turn");
        drop(permit);
        assert!(has_turn(&mut patient).is_some());
    }

    #[test]
    fn a_full_line_and_a_deadline_refuse() {
        let line = line(1);
        let running = now(line.enter(10.0, soon()));
        let close = Instant::now() + Duration::from_secs(5);
        assert!(matches!(refusal(line.enter(20.0, close)), Refusal::TooLate { after } if after > 9.0));
        let place = later(line.enter(20.0, soon()));
        assert_eq!(refusal(line.enter(20.0, soon())), Refusal::Full);
        assert!(line.is_waited_for());
        drop(place);
        assert!(!line.is_waited_for());
        drop(running);
        assert_eq!(line.free(), 1);
    }

    #[test]
    fn whoever_left_takes_no_thread_along() {
        let line = line(8);
        let running = now(line.enter(1.0, soon()));
        let gone = later(line.enter(2.0, soon()));
        let mut stays = later(line.enter(9.0, soon()));
        drop(gone);
        drop(running);
        let permit = has_turn(&mut stays).expect("its turn");
        assert_eq!(line.free(), 0);
        // A turn that was given and never taken up goes on to the next.
        let given = later(line.enter(20.0, soon()));
        let mut next = later(line.enter(60.0, soon()));
        drop(permit);
        assert!(has_turn(&mut next).is_none());
        drop(given);
        drop(has_turn(&mut next).expect("its turn"));
        assert_eq!(line.free(), 1);
    }

    #[test]
    fn what_takes_longer_than_it_should_is_thought_to_go_on() {
        let began = Instant::now();
        let running = Running { id: 0, cost: 2.0, began };
        let left = |after| running.left(began + Duration::from_secs(after));
        assert_eq!([left(0), left(1), left(2), left(10)].map(f64::to_bits), [2.0, 1.0, 1.0, 5.0].map(f64::to_bits));
    }

    #[test]
    fn a_lent_thread_comes_back_to_whoever_waits() {
        let line = Arc::new(Line::new(2, 8, Patience { burst: Duration::ZERO, slowdown: 1.0, least: Duration::ZERO }));
        let running = now(line.enter(1.0, soon()));
        let lent = line.lend().expect("one is free");
        assert!(line.lend().is_none());
        let mut place = later(line.enter(1.0, soon()));
        drop(lent);
        let permit = has_turn(&mut place).expect("its turn");
        assert_eq!(line.free(), 0);
        drop((permit, running));
        assert_eq!(line.free(), 2);
    }
}
