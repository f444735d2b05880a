//! Cycles against the closed form of one zone, and against long rehearsals.

use approx::assert_relative_eq;
use proptest::prelude::*;

use super::long_run::Way;
use super::*;
use crate::heat::block::HeatBlock;
use crate::heat::network::{Wall, Zone};
use crate::heat::steady::{Steady, steady};

/// A zone with a wall to what is at `outside_c`, a load, and what a thermostat runs.
fn hall(load_w: f64, moved_w: f64, start_at_c: f64, stop_at_c: f64, at_c: f64) -> Network {
    let mut network = Network::default();
    let constant = |constant| [Part { into: 0, constant, per_kelvin: None }].into_iter().collect();
    network.zones.push(Zone {
        capacities: [2e6].into_iter().collect(),
        changes: std::iter::empty().collect(),
        start_c: at_c,
        limits: std::iter::empty().collect(),
    });
    network.walls.push(Wall { zone: 0, to: Side::Fixed(20.0), conductance: 100.0 });
    network.flows.push(HeatFlow { parts: constant(load_w), running: 1.0, ..HeatFlow::default() });
    network.flows.push(HeatFlow { parts: constant(moved_w), running: 1.0, ..HeatFlow::default() });
    network.thermostats.push(Thermostat { zone: 0, start_at_c, stop_at_c, runs: vec![1], on: false });
    network
}

/// A second zone beside the first, of its own capacity, behind a wall.
fn beside(mut network: Network, capacity: f64, conductance: f64, outside: f64) -> Network {
    let start_c = network.zones[0].start_c;
    network.zones.push(Zone {
        capacities: [capacity].into_iter().collect(),
        changes: std::iter::empty().collect(),
        start_c,
        limits: std::iter::empty().collect(),
    });
    network.walls.push(Wall { zone: 0, to: Side::Zone(1), conductance });
    network.walls.push(Wall { zone: 1, to: Side::Fixed(20.0), conductance: outside });
    network
}

fn found(network: &Network) -> (Cycling, AtRest) {
    let budget = Budget::unhurried();
    let mut rest = match steady(network, &[], &budget).expect("within the budget") {
        Steady::One(rest) | Steady::Several { coldest: rest, .. } => rest,
        other => panic!("no rest: {other:?}"),
    };
    (cycling(network, &[], &mut rest, &budget).expect("within the budget"), rest)
}

/// By the closed form: with T∞ = 20 °C + heat ÷ 100 W/K, a way from a to b takes τ·ln((T∞ − a)/(T∞ − b)); on the mean heat in is
/// heat out.
#[test]
fn one_zone_cycles_by_the_closed_form() {
    for (load_w, moved_w, start, stop) in
        [(20e3, -30e3, 32.0, 26.0), (1.25e3, -5e3, 32.0, 26.0), (-2e3, 9e3, 15.0, 21.0)]
    {
        let network = hall(load_w, moved_w, start, stop, 25.0);
        let (found, rest) = found(&network);
        let tau = 2e6 / 100.0;
        let way = |heat: f64, from: f64, to: f64| {
            let end = 20.0 + heat / 100.0;
            tau * ((end - from) / (end - to)).ln()
        };
        let (on, off) = (way(load_w + moved_w, start, stop), way(load_w, stop, start));
        let thermostat = found.thermostats[0].expect("it settles");
        let zone = found.zone(0).expect("a cycle");
        assert_relative_eq!(zone.period_s, on + off, max_relative = 1e-9);
        assert_relative_eq!(thermostat.on_share, on / (on + off), max_relative = 1e-9);
        assert_eq!((thermostat.starts, thermostat.period_s), (1, Some(zone.period_s)));
        assert_relative_eq!(zone.least_c, start.min(stop), max_relative = 1e-9);
        assert_relative_eq!(zone.greatest_c, start.max(stop), max_relative = 1e-9);
        let mean = 20.0 + (load_w + moved_w * thermostat.on_share) / 100.0;
        assert_relative_eq!(rest.temperatures_c[0], mean, max_relative = 1e-9);
        assert_relative_eq!(rest.running[1], thermostat.on_share, max_relative = 1e-9);
        assert_relative_eq!(
            found.flow(1).expect("in it").parts_w[0],
            moved_w * thermostat.on_share,
            max_relative = 1e-9
        );
    }
}

/// 1 kW rests at 30 °C, within the deadband: what cools never runs, or runs once where it is on at first.
#[test]
fn a_zone_that_rests_within_the_deadband_is_said_to_rest() {
    for (at_c, on) in [(25.0, false), (40.0, false), (31.0, true)] {
        let mut network = hall(1e3, -9e3, 32.0, 26.0, at_c);
        network.thermostats[0].on = on;
        let (found, rest) = found(&network);
        assert!(!found.is_any());
        let off = ThermostatCycle { on_share: 0.0, starts: 0, period_s: None };
        assert_eq!(found.thermostats, [Some(off)]);
        assert_relative_eq!(rest.temperatures_c[0], 30.0, max_relative = 1e-9);
        assert_eq!(rest.running, [1.0, 0.0]);
    }
}

/// A machine that is on rests at 27 °C and one that is off at 31 °C: where it begins decides.
#[test]
fn of_two_rests_within_the_deadband_the_plan_begins_with_one() {
    for (at_c, expected) in [(28.0, 31.0), (35.0, 27.0)] {
        let (_, rest) = found(&hall(1.1e3, -0.4e3, 32.0, 26.0, at_c));
        assert_relative_eq!(rest.temperatures_c[0], expected, max_relative = 1e-9);
    }
}

/// Halls that do not touch each keep their own beat; a pattern in one leaves the other alone.
#[test]
fn halls_that_do_not_touch_have_their_own_cycles() {
    let one = hall(20e3, -30e3, 32.0, 26.0, 25.0);
    let mut both = one.clone();
    let other = hall(9e3, -11e3, 30.0, 23.0, 25.0);
    both.zones.extend(other.zones.iter().cloned());
    both.walls.push(Wall { zone: 1, ..other.walls[0] });
    for flow in &other.flows {
        let mut flow = flow.clone();
        flow.parts.iter_mut().for_each(|part| part.into = 1);
        both.flows.push(flow);
    }
    both.thermostats.push(Thermostat { zone: 1, runs: vec![3], ..other.thermostats[0].clone() });
    let (together, _) = found(&both);
    let periods = [&one, &other].map(|network| found(network).0.zone(0).expect("a cycle").period_s);
    for (zone, period) in periods.into_iter().enumerate() {
        assert_relative_eq!(together.zone(zone).expect("a cycle").period_s, period, max_relative = 1e-12);
    }
}

/// Two halls that touch, each with its thermostat, need not have a common beat; where none is found the figures stay.
#[test]
fn what_does_not_settle_is_told() {
    let mut network = beside(hall(20e3, -30e3, 32.0, 26.0, 25.0), 3.1e6, 40.0, 70.0);
    let constant = |constant| [Part { into: 1, constant, per_kelvin: None }].into_iter().collect();
    network.flows.push(HeatFlow { parts: constant(9e3), running: 1.0, ..HeatFlow::default() });
    network.flows.push(HeatFlow { parts: constant(-17e3), running: 1.0, ..HeatFlow::default() });
    network.thermostats.push(Thermostat { zone: 1, start_at_c: 29.3, stop_at_c: 22.1, runs: vec![3], on: false });
    let (found, rest) = found(&network);
    if found.is_any() {
        let periods = [found.zone(0), found.zone(1)].map(|zone| zone.expect("both or none").period_s);
        assert_eq!(periods[0].to_bits(), periods[1].to_bits());
    } else {
        assert_eq!(found.unsettled, [0, 1]);
        assert_relative_eq!(rest.temperatures_c[0], 29.0, max_relative = 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Means of the cycle are what a long rehearsal books, and heat closes in each zone.
    #[test]
    fn a_cycle_is_what_zones_come_to(
        load in 2e3_f64..30e3, more in 1.05_f64..5.0, stop in 22.0_f64..30.0, band in 0.5_f64..8.0,
        mass in 4.0_f64..8.5, wall in 5.0_f64..400.0, outside in 1.0_f64..200.0,
    ) {
        let network = beside(hall(load, -more * load, stop + band, stop, 25.0), 10_f64.powf(mass), wall, outside);
        let (found, rest) = found(&network);
        prop_assert!(found.unsettled.is_empty(), "{network:?}");
        let Some(zone) = found.zone(0) else { return Ok(()) };
        let balance: Vec<f64> = (0..2).map(|zone| {
            let walls: f64 = network.walls.iter().map(|wall| {
                let at = |side: Side| match side { Side::Zone(zone) => rest.temperatures_c[zone], Side::Fixed(t) => t };
                let out = wall.conductance * (rest.temperatures_c[wall.zone] - at(wall.to));
                if wall.zone == zone { -out } else if wall.to == Side::Zone(zone) { out } else { 0.0 }
            }).sum();
            let flows: f64 = if zone == 0 { load + found.flow(1).expect("in it").parts_w[0] } else { 0.0 };
            walls + flows
        }).collect();
        prop_assert!(balance.iter().all(|w| w.abs() <= 1e-6 * load), "{balance:?}");
        // From where the cycle begins, so many times over.
        let mut network = network;
        for (at, zone) in network.zones.iter_mut().enumerate() {
            zone.start_c = rest.temperatures_c[at];
        }
        let mut block = HeatBlock::new(&network).untraced();
        let mut way = Way { block: &mut block, acts: 0, events: 0, at_once: 0, budget: &Budget::unhurried() };
        for _ in 0..400 {
            way.until_next_act().expect("within the budget");
        }
        let (before, from_s) = (way.block.accounts.clone(), way.block.now());
        for _ in 0..400 {
            way.until_next_act().expect("within the budget");
        }
        let span = block.now() - from_s;
        let on = (block.accounts.thermostats[0].on_s - before.thermostats[0].on_s) / span;
        let cycles = 200.0 / found.thermostats[0].expect("it settles").starts as f64;
        // A slow neighbour still drifts a little.
        prop_assert!((on - rest.running[1]).abs() <= 2e-2 * rest.running[1], "{on} {}", rest.running[1]);
        prop_assert!((span / cycles / zone.period_s - 1.0).abs() <= 2e-2, "{} {}", span / cycles, zone.period_s);
    }
}
