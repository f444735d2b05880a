#![no_main]

use hotwell::plan::inquiry::{Batch, Compare, Seek, Sweep};
use hotwell::questions::{batch, compare, seek, sweep};
use hotwell_fuzz::{holds, limits, within};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let limits = limits();
    if let Ok(asked) = Compare::from_json(bytes, &limits)
        && let Ok(answer) = within(|budget| compare::ask(&asked, &limits, budget))
    {
        holds(&answer);
    }
    if let Ok(asked) = Sweep::from_json(bytes, &limits)
        && let Ok(answer) = within(|budget| sweep::ask(&asked, &limits, budget))
    {
        holds(&answer);
    }
    if let Ok(asked) = Seek::from_json(bytes, &limits)
        && let Ok(answer) = within(|budget| seek::ask(&asked, &limits, budget))
    {
        holds(&answer);
    }
    if let Ok(asked) = Batch::from_json(bytes, &limits) {
        let _ = within(|budget| batch::ask(&asked, &limits, budget));
    }
});
