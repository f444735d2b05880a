//! Where zones come to rest: the balance of heat that is affine in temperatures piece by piece.
//!
//! Heat into every zone rises with the temperatures of the others and falls with its own, also over the steps at which coolers and
//! turbines turn on. Such a system, begun colder than any state of rest, rises to the coldest of them, and begun hotter falls to the
//! hottest; where the two are one, there is no other. The way there is the same as through time, so nothing is searched for.

use super::block::{Attention, HeatBlock, Went};
use super::network::{HeatFlow, Network, Relay, Thermostat, Zone};
use super::rehearse::Pulsed;
use crate::budget::{Budget, Halt};

/// Zones at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct AtRest {
    /// °C, by zone.
    pub temperatures_c: Vec<f64>,
    /// How much of each flow runs, in machines, on average.
    pub running: Vec<f64>,
}

/// Whether and where zones come to rest.
#[derive(Clone, Debug, PartialEq)]
pub enum Steady {
    /// In one way only.
    One(AtRest),
    /// In several; the coldest and the hottest of them.
    Several {
        /// From below.
        coldest: AtRest,
        /// From above.
        hottest: AtRest,
    },
    /// They heat up without end.
    Heats,
    /// They cool below absolute zero.
    Cools,
}

/// Hotter than anything comes to rest at, °C.
const HOTTEST_C: f64 = 1e5;
const COLDEST_C: f64 = crate::plan::ABSOLUTE_ZERO_C;
/// Longer than any plant takes, s.
pub(super) const LONG_S: f64 = 1e18;
/// Two states of rest nearer than this are one, K.
const SAME_K: f64 = 1e-6;
/// Events on the way to rest; each step of each zone is passed once.
const MOST_EVENTS: u64 = 20_000;

/// Where the zones of a network come to rest, patterns at their average and switches at the middle of their deadband.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn steady(network: &Network, pulsed: &[Pulsed<'_>], budget: &Budget<'_>) -> Result<Steady, Halt> {
    let averaged = averaged(network, pulsed);
    let mut block = HeatBlock::new(&averaged).attending(Attention::End);
    let cold = rest(&mut block, false, budget)?;
    let hot = rest(&mut block, true, budget)?;
    Ok(match (cold, hot) {
        (Ok(cold), Ok(hot)) => {
            let apart = cold.temperatures_c.iter().zip(&hot.temperatures_c).map(|(a, b)| (a - b).abs());
            if apart.fold(0.0, f64::max) <= SAME_K {
                Steady::One(cold)
            } else {
                Steady::Several { coldest: cold, hottest: hot }
            }
        }
        (Err(Out::Above), _) | (_, Err(Out::Above)) => Steady::Heats,
        (Err(Out::Below), _) | (_, Err(Out::Below)) => Steady::Cools,
    })
}

/// Flows of a pattern at their average, switches as relays at the middle of their deadband, no changes of phase: they take time
/// and move nothing that rests.
fn averaged(network: &Network, pulsed: &[Pulsed<'_>]) -> Network {
    let mut averaged = network.clone();
    for pulsed in pulsed {
        averaged.flows[pulsed.flow].running = pulsed.running * pulsed.pattern.average_share();
    }
    for Zone { capacities, changes, limits, .. } in &mut averaged.zones {
        capacities.truncate(1);
        changes.clear();
        limits.clear();
    }
    for Thermostat { zone, start_at_c, stop_at_c, runs, .. } in std::mem::take(&mut averaged.thermostats) {
        let relay = Relay { zone, at_c: f64::midpoint(start_at_c, stop_at_c), above: start_at_c > stop_at_c };
        for run in runs {
            let flow = &mut averaged.flows[run];
            // A flow that turns itself on at a temperature of the same zone heeds the stricter of the two.
            flow.relay = Some(match flow.relay {
                Some(own) if own.zone == zone && own.above == relay.above => {
                    let at_c = if own.above { own.at_c.max(relay.at_c) } else { own.at_c.min(relay.at_c) };
                    Relay { at_c, ..own }
                }
                Some(own) => own,
                None => relay,
            });
        }
    }
    for HeatFlow { relay, parts, .. } in &mut averaged.flows {
        // A relay on one zone that gates a flow sensing another stays on by its own zone's affine law.
        if let Some(own) = relay
            && parts.iter().any(|part| part.per_kelvin.is_some_and(|(zone, _)| zone != own.zone))
        {
            *relay = None;
        }
    }
    averaged
}

/// Where zones go that do not come to rest.
enum Out {
    Above,
    Below,
}

/// The state of rest that is reached from hotter than any, or from colder.
fn rest(block: &mut HeatBlock<'_>, from_above: bool, budget: &Budget<'_>) -> Result<Result<AtRest, Out>, Halt> {
    let from_c = if from_above { HOTTEST_C } else { COLDEST_C };
    block.again(&vec![from_c; block.temperatures().len()]);
    block.begin_beyond(from_above);
    let mut arrived = false;
    for step in 1..=MOST_EVENTS {
        budget.check(step)?;
        match block.toward_rest() {
            // Twice, the second time from so near that rounding is of what is left.
            Some(Went::AllTheWay) if arrived => break,
            Some(went) => {
                arrived = went == Went::AllTheWay;
                continue;
            }
            None => {}
        }
        match block.next(LONG_S) {
            Some((after, event)) => {
                block.advance(after);
                block.happen(event);
            }
            None => {
                block.advance(LONG_S);
                break;
            }
        }
    }
    let temperatures_c = block.temperatures().to_vec();
    if temperatures_c.iter().any(|t| *t < COLDEST_C) {
        return Ok(Err(Out::Below));
    }
    if temperatures_c.iter().any(|t| !t.is_finite() || *t > HOTTEST_C) {
        return Ok(Err(Out::Above));
    }
    let running = block.rates();
    Ok(Ok(AtRest { temperatures_c, running }))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use smallvec::{SmallVec, smallvec};

    use super::*;
    use crate::heat::network::{Part, Side, Wall};

    /// The same, all the way through time, from far out.
    fn through_time(network: &Network, from_c: f64) -> Vec<f64> {
        let mut network = network.clone();
        network.zones.iter_mut().for_each(|zone| zone.start_c = from_c);
        let mut block = HeatBlock::new(&network).attending(Attention::End);
        for _ in 0..MOST_EVENTS {
            let Some((after, event)) = block.next(LONG_S) else {
                block.advance(LONG_S);
                break;
            };
            block.advance(after);
            block.happen(event);
        }
        block.temperatures().to_vec()
    }

    /// Zones with walls, each with a flow that cools or heats it above a temperature, and brings a part of that to another, or
    /// heats it below one, and a stream in which one zone warms the next by its own temperature.
    fn network() -> impl Strategy<Value = Network> {
        let zone = (4.0_f64..7.0, 1.0_f64..200.0, -5e3_f64..2e4, -20.0_f64..120.0);
        let machine = (0_u8..3, -10.0_f64..150.0, 1.0_f64..2e4, -0.2_f64..1.0, 0.0_f64..60.0);
        (prop::collection::vec((zone, machine), 1..5), prop::collection::vec(0.0_f64..80.0, 16)).prop_map(
            |(all, links)| {
                let size = all.len();
                let mut network = Network::default();
                for (at, ((scale, out, heat, outside_c), (sort, at_c, watts, part, stream))) in
                    all.into_iter().enumerate()
                {
                    let next = (at + 1) % size;
                    network.zones.push(Zone {
                        capacities: smallvec![10_f64.powf(scale)],
                        changes: SmallVec::new(),
                        start_c: 20.0,
                        limits: SmallVec::new(),
                    });
                    network.walls.push(Wall { zone: at, to: Side::Fixed(outside_c), conductance: out });
                    for (other, link) in links.iter().skip(4 * at).take(at).enumerate() {
                        network.walls.push(Wall { zone: at, to: Side::Zone(other), conductance: *link });
                    }
                    let constant = |into, constant| Part { into, constant, per_kelvin: None };
                    network.flows.push(HeatFlow {
                        parts: smallvec![constant(at, heat)],
                        running: 1.0,
                        ..HeatFlow::default()
                    });
                    // Cools above, heats below, or heats above: then zones may rest in several ways.
                    let (cools, above) = (sort == 0, sort != 1);
                    let own = if cools { -watts } else { watts };
                    let mut parts = smallvec![constant(at, own)];
                    // What heats one zone below a temperature of it must not heat another: that would get less as the first warms.
                    if next != at && part > 0.0 && above {
                        parts.push(constant(next, part * watts));
                    }
                    let relay = Some(Relay { zone: at, at_c, above });
                    network.flows.push(HeatFlow { parts, relay, running: 3.0, rating: None });
                    if next != at && part < 0.1 {
                        let parts = [(at, -stream), (next, 0.5 * stream)];
                        let parts =
                            parts.map(|(into, slope)| Part { into, constant: 0.0, per_kelvin: Some((at, slope)) });
                        network.flows.push(HeatFlow {
                            parts: SmallVec::from_slice(&parts),
                            running: 1.0,
                            ..HeatFlow::default()
                        });
                    }
                }
                network
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(600))]

        /// Zones rest where they come to through time, from below and from above.
        #[test]
        fn the_straight_way_leads_where_time_does(network in network()) {
            let found = steady(&network, &[], &Budget::unhurried()).expect("within the budget");
            let (cold, hot) = match &found {
                Steady::One(rest) => (rest, rest),
                Steady::Several { coldest, hottest } => (coldest, hottest),
                Steady::Heats | Steady::Cools => return Err(TestCaseError::reject("no rest")),
            };
            for (rest, from_c) in [(cold, COLDEST_C), (hot, HOTTEST_C)] {
                let expected = through_time(&network, from_c);
                for (found, expected) in rest.temperatures_c.iter().zip(&expected) {
                    prop_assert!((found - expected).abs() <= 1e-6 * (1.0 + expected.abs()), "{rest:?}, {expected}, {found:?}");
                }
            }
        }
    }
}
