//! Machines that cannot be turned down and draw power while they stand, and that make what they give from nothing.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Map, Value, json};

use crate::support::plant::Random;
use crate::support::{Solved, solve};

/// A sort of machine: it makes water from nothing.
#[derive(Clone, Copy, Debug)]
struct Sort {
    count: Option<u32>,
    turndown: f64,
    gives: f64,
    draws: f64,
    idle_draw: f64,
}

#[derive(Clone, Debug)]
struct Hall {
    sorts: Vec<Sort>,
    asked: f64,
    power: f64,
}

fn hall(seed: u64) -> Hall {
    let mut random = Random::new(seed);
    let mut sorts = Vec::new();
    for _ in 0..random.whole(1, 3) {
        sorts.push(Sort {
            count: random.chance(0.7).then(|| u32::try_from(random.whole(0, 4)).unwrap_or(0)),
            turndown: random.whole(0, 4) as f64 / 4.0,
            gives: random.tenths(2, 30),
            draws: random.tenths(0, 40) * 100.0,
            idle_draw: if random.chance(0.7) { random.tenths(1, 20) * 100.0 } else { 0.0 },
        });
    }
    Hall { sorts, asked: random.tenths(1, 120), power: random.tenths(0, 300) * 100.0 }
}

impl Hall {
    fn document(&self) -> Value {
        let mut units = Map::new();
        for (at, sort) in self.sorts.iter().enumerate() {
            let mut unit = json!({ "gives": { "water": sort.gives }, "turndown": sort.turndown,
                                   "draws": sort.draws, "idle_draw": sort.idle_draw });
            if let Some(count) = sort.count {
                unit["count"] = json!(count);
            }
            units.insert(format!("spring {at}"), unit);
        }
        json!({ "units": units, "supplies": { "grid": { "header": "power", "rate": self.power } },
                "demands": { "gardens": { "header": "water", "rate": self.asked } } })
    }

    /// What all machines of fixed counts draw when they stand.
    fn idle(&self) -> f64 {
        self.sorts.iter().map(|sort| f64::from(sort.count.unwrap_or(0)) * sort.idle_draw).sum()
    }

    /// The most water: every number of running machines tried, and for each the rest is one resource shared by yield (the
    /// fractional knapsack).
    fn most_water(&self) -> f64 {
        let mut best = 0.0_f64;
        let mut running = vec![0_u32; self.sorts.len()];
        loop {
            best = best.max(self.water_with(&running).unwrap_or(0.0));
            let mut at = 0;
            while at < running.len() {
                if running[at] < self.sorts[at].count.unwrap_or(0) {
                    running[at] += 1;
                    break;
                }
                running[at] = 0;
                at += 1;
            }
            if at == running.len() {
                return best.min(self.asked);
            }
        }
    }

    fn water_with(&self, running: &[u32]) -> Option<f64> {
        let mut left = self.power;
        let mut water = 0.0;
        let mut room = [(0.0, 0.0, 0.0); 3];
        for ((sort, &machines), room) in self.sorts.iter().zip(running).zip(&mut room) {
            let standing = f64::from(sort.count.unwrap_or(0));
            let machines = f64::from(machines);
            let least = machines * sort.turndown;
            let more = sort.draws - sort.idle_draw;
            let run = if more <= 0.0 { machines } else { least };
            left -= run * more + standing * sort.idle_draw;
            water += run * sort.gives;
            if more > 0.0 {
                *room = (sort.gives / more, machines - least, more);
            }
        }
        if left < -1e-6 {
            return None;
        }
        room.sort_by(|one, other| other.0.total_cmp(&one.0));
        for (yields, most, each) in room.into_iter().filter(|&(_, most, _)| most > 0.0) {
            let run = most.min(left.max(0.0) / each);
            left -= run * each;
            water += run * each * yields;
        }
        Some(water)
    }
}

/// What must hold whatever was decided.
fn hold(hall: &Hall, solved: &Solved) {
    let mut power = 0.0;
    for (at, (sort, run)) in hall.sorts.iter().zip(&solved.balance.units).enumerate() {
        // Rounding may leave a hair over a whole number.
        let machines = (run.needed - 1e-8).ceil().max(0.0);
        assert!(
            sort.turndown * machines <= run.needed + 1e-7,
            "spring {at}: {} of {machines} machines with a turndown of {}, {hall:?}",
            run.needed,
            sort.turndown
        );
        assert!(run.needed <= f64::from(run.count) * (1.0 + 1e-7) + 1e-9, "spring {at}: {run:?}, {hall:?}");
        assert!(sort.count.is_none_or(|count| count == run.count), "spring {at}: {run:?}, {hall:?}");
        power += run.needed * sort.draws + (f64::from(run.count) - run.needed).max(0.0) * sort.idle_draw;
    }
    let flow = solved.header("power");
    let asked = flow.taken + flow.unserved;
    assert!((asked - power).abs() <= 1e-6 * power.max(1.0), "{power} W by the machines, {asked} W told, {hall:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, rng_seed: RngSeed::Fixed(3), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_made_from_nothing(seed in any::<u64>()) {
        let hall = hall(seed);
        let solved = solve(&hall.document());
        hold(&hall, &solved);
        // Those to be sized stand in `standing.rs`.
        if hall.sorts.iter().all(|sort| sort.count.is_some()) && hall.power >= hall.idle() {
            let (served, most) = (solved.served("gardens"), hall.most_water());
            prop_assert!((served - most).abs() <= 1e-6 * hall.asked, "{} served, {} possible, {:?}", served, most, hall);
        }
    }
}
