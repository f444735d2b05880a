//! Work that is bounded by itself: by how often it looks at the hook, which is the same every time, unlike the clock.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::budget::{Budget, Halt};

/// Runs a search with an allowance of looks of its own; `None` where that was spent, as if it had found nothing.
pub(crate) fn limited<T>(
    budget: &Budget<'_>,
    looks: u64,
    search: impl FnOnce(&Budget<'_>) -> Result<T, Halt>,
) -> Result<Option<T>, Halt> {
    let taken = AtomicU64::new(0);
    let stop = || taken.fetch_add(1, Ordering::Relaxed) >= looks || budget.is_stopped();
    match search(&Budget::new(budget.steps, &stop)) {
        Ok(found) => Ok(Some(found)),
        Err(_) if !budget.is_stopped() => Ok(None),
        Err(halt) => Err(halt),
    }
}

/// What comes of some work, and how often it looked at the hook.
pub(crate) fn counted<T>(
    budget: &Budget<'_>,
    work: impl FnOnce(&Budget<'_>) -> Result<T, Halt>,
) -> Result<(T, u64), Halt> {
    let taken = AtomicU64::new(0);
    let stop = || {
        taken.fetch_add(1, Ordering::Relaxed);
        budget.is_stopped()
    };
    let done = work(&Budget::new(budget.steps, &stop))?;
    Ok((done, taken.into_inner()))
}
