//! A sweep of 1,000 values of the flow balance and a comparison of twelve variants, on one thread and on two.
//!
//! `cargo bench --no-default-features --bench inquiries`. Rounds alternate between one thread and two, and the ratio is the median of the ratios of
//! neighbours, so that other work on the machine weighs on both alike.

use std::hint::black_box;
use std::time::{Duration, Instant};

use hotwell::budget::Budget;
use hotwell::plan::Limits;
use hotwell::plan::inquiry::{Compare, Question, Sweep};
use hotwell::questions::{compare, sweep};
use serde_json::{Value, json};

#[path = "../tests/support/threads.rs"]
mod threads;

use threads::Threads;

const ROUNDS: usize = 31;

fn example(name: &str) -> Value {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_slice(&std::fs::read(path).expect("an example")).expect("JSON")
}

fn timed(work: impl FnOnce()) -> Duration {
    let started = Instant::now();
    work();
    started.elapsed()
}

fn median<T: PartialOrd + Copy>(mut numbers: Vec<T>) -> T {
    numbers.sort_by(|one, other| one.partial_cmp(other).expect("comparable"));
    numbers[numbers.len() / 2]
}

/// Alternates, and tells the medians and the median ratio.
fn compared(name: &str, run: impl Fn(&Budget<'_>)) {
    let (one, two) = (Threads(1), Threads(2));
    let on = |threads: &Threads| timed(|| run(&Budget::unhurried().with_workers(threads)));
    on(&one);
    let pairs: Vec<(Duration, Duration)> = (0..ROUNDS).map(|_| (on(&one), on(&two))).collect();
    let ratio = median(pairs.iter().map(|(one, two)| one.as_secs_f64() / two.as_secs_f64()).collect());
    let [one, two] =
        [median(pairs.iter().map(|pair| pair.0).collect()), median(pairs.iter().map(|pair| pair.1).collect())];
    println!("{name}: {one:.1?} on one thread, {two:.1?} on two, ratio {ratio:.2}");
}

fn main() {
    let limits = Limits::DEFAULT;
    let plan = example("burner-hall");
    let document = json!({
        "plan": plan, "question": "flow-balance", "at": "/supplies/seep/rate", "from": "40 g/s", "to": "90 g/s", "steps": 1000,
        "read": ["/power/net_w", "/units/burner/needed"]
    });
    let swept = Sweep::from_json(document.to_string().as_bytes(), &limits).expect("a sweep");
    compared("sweep, 1,000 values of the flow balance", |budget| {
        black_box(sweep::ask(&swept, &limits, budget).expect("an answer"));
    });
    for question in Question::ALL {
        compared_variants("burner-hall", "station", *question);
    }
    compared_variants("kestrel-deep", "life support", Question::WholePlan);
}

/// Twelve variants in which a demand asks for more and more.
fn compared_variants(name: &str, demand: &str, question: Question) {
    let rate = |index: i32| format!("{} kW", 60 + 5 * index);
    let variants: serde_json::Map<String, Value> =
        (0..12).map(|index| (format!("v{index}"), json!({"demands": {demand: {"rate": rate(index)}}}))).collect();
    let document = json!({"plan": example(name), "question": question.name(), "variants": variants});
    let limits = Limits::DEFAULT;
    let comparison = Compare::from_json(document.to_string().as_bytes(), &limits).expect("a comparison");
    compared(&format!("compare, 12 variants of {name} by {}", question.name()), |budget| {
        black_box(compare::ask(&comparison, &limits, budget).expect("an answer"));
    });
}
