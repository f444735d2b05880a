//! How the time of a flow balance grows with the plant: `cargo bench --bench growth`.
//!
//! Random plants of 100 to 10,000 unit types (`tests/support/plant.rs`), each solved a few times, the best counted; the
//! log-log slope is fitted over all sizes. Each plant is also written as the arrays of one linear programme, with our time and
//! objective, to `target/growth/`, for `benches/scipy_growth.py` to solve by SciPy (HiGHS) and to set beside them:
//!
//! ```text
//! cargo bench --bench growth
//! python3 benches/scipy_growth.py target/growth
//! ```
//!
//! What is compared: the arrays ask for the least draw on the fuel supply (the supply of last rank, and so the first
//! objective that is not settled at once) with every demand served and nothing trapped. That is one programme; our time is
//! for the whole strict order of objectives, the counts and what binds.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use hotwell::balance::{Outcome, balance};
use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use serde_json::{Value, json};

#[path = "../tests/support/plant.rs"]
#[allow(dead_code, reason = "the tests use the rest")]
mod plant;

const SIZES: [usize; 5] = [100, 300, 1_000, 3_000, 10_000];
/// A plant that takes longer is the last of its kind: larger ones are not tried.
const LONGEST: Duration = Duration::from_secs(2);

fn best(times: usize, mut run: impl FnMut()) -> Duration {
    let once = |run: &mut dyn FnMut()| {
        let start = Instant::now();
        run();
        start.elapsed()
    };
    (0..times).map(|_| once(&mut run)).min().unwrap_or(Duration::MAX)
}

/// Columns of the one programme by rows of headers: what it gives less what it takes.
#[derive(Default)]
struct Arrays {
    start: Vec<usize>,
    row: Vec<usize>,
    value: Vec<f64>,
    upper: Vec<Option<f64>>,
    cost: Vec<f64>,
}

impl Arrays {
    fn add(&mut self, entries: &[(usize, f64)], upper: Option<f64>, cost: f64) {
        self.start.push(self.row.len());
        for &(row, value) in entries {
            self.row.push(row);
            self.value.push(value);
        }
        self.upper.push(upper);
        self.cost.push(cost);
    }
}

/// The plan as one programme: least fuel, every demand served, nothing trapped.
fn arrays(plan: &Plan) -> Value {
    let mut arrays = Arrays::default();
    let power = plan.power();
    for unit in &plan.units {
        let mut entries: Vec<(usize, f64)> = unit.takes.iter().map(|flow| (flow.header.0, -flow.rate)).collect();
        entries.extend(unit.gives.iter().map(|flow| (flow.header.0, flow.rate)));
        if let Some(power) = power {
            entries.push((power.0, unit.generates.si() - unit.draws.si()));
        }
        arrays.add(&entries, None, 0.0);
    }
    for supply in &plan.supplies {
        let cost = if supply.rank > 1 { 1.0 } else { 0.0 };
        arrays.add(&[(supply.header.0, 1.0)], supply.rate, cost);
    }
    for outlet in &plan.outlets {
        arrays.add(&[(outlet.header.0, -1.0)], None, 0.0);
    }
    if let Some(power) = power {
        arrays.add(&[(power.0, -1.0)], None, 0.0);
    }
    arrays.start.push(arrays.row.len());
    let mut right = vec![0.0; plan.headers.len()];
    for demand in &plan.demands {
        right[demand.header.0] += demand.rate;
    }
    json!({ "rows": right.len(), "columns": arrays.cost.len(), "start": arrays.start, "row": arrays.row,
            "value": arrays.value, "upper": arrays.upper, "cost": arrays.cost, "right": right })
}

/// The slope of a line through the points, by least squares.
#[allow(clippy::cast_precision_loss, reason = "a handful of points")]
fn slope(points: &[(f64, f64)]) -> f64 {
    let count = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0 / count, y + point.1 / count));
    let across: f64 = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum();
    let along: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
    across / along
}

#[allow(clippy::cast_precision_loss, reason = "sizes are small")]
fn main() {
    // `cargo test --benches` only asks whether it runs.
    let sizes = if std::env::args().any(|argument| argument == "--bench") { &SIZES[..] } else { &SIZES[..1] };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/growth");
    fs::create_dir_all(&folder).expect("a folder for the arrays");
    println!("types   scarce  read (ms)  solve (ms)  steps");
    let mut points = [Vec::new(), Vec::new()];
    let mut too_long = false;
    for &units in sizes {
        for scarce in [false, true] {
            if scarce && too_long {
                println!("{units:>6}  yes     not tried: the size before took too long");
                continue;
            }
            let document = plant::plant(1, plant::Shape { units, scarce }).to_string();
            let read = || Plan::from_json(document.as_bytes(), &Limits::default()).expect("a plan");
            let plan = read();
            let solve = || balance(&plan, &Budget::unhurried()).expect("an answer");
            let start = Instant::now();
            let solved = solve();
            let first = start.elapsed();
            too_long |= first > LONGEST;
            let times = if first > Duration::from_secs(1) { 0 } else { 10 };
            let read_time = best(10, || drop(read()));
            let solve_time = first.min(best(times, || drop(solve())));
            points[usize::from(scarce)].push(((units as f64).ln(), solve_time.as_secs_f64().ln()));
            println!(
                "{units:>6}  {:<6}  {:>9.3}  {:>10.3}  {:>5}",
                if scarce { "yes" } else { "no" },
                read_time.as_secs_f64() * 1e3,
                solve_time.as_secs_f64() * 1e3,
                solved.steps
            );
            if !scarce {
                assert_eq!(solved.outcome, Outcome::Met, "a plant that lacks nothing");
                let fuel: f64 = plan
                    .supplies
                    .iter()
                    .zip(&solved.drawn)
                    .filter(|(supply, _)| supply.rank > 1)
                    .map(|(_, drawn)| drawn)
                    .sum();
                let mut all = arrays(&plan);
                all["our_objective_kg_s"] = json!(fuel);
                all["our_seconds"] = json!(solve_time.as_secs_f64());
                fs::write(folder.join(format!("{units:05}.json")), all.to_string()).expect("the arrays are written");
            }
        }
    }
    for (points, what) in points.iter().zip(["ample", "scarce"]) {
        if points.len() > 1 {
            println!("log-log slope, {what}: {:.3}", slope(points));
        }
    }
}
