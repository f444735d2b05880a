//! Flow and heat in steady state together: what runs sheds heat, what moves the heat draws power or gives it back, and so
//! changes what runs. The balance of flows and the balance of heat are solved in turn until neither changes: a fixed point at
//! which the plant pays for its own cooling.

use crate::balance::{Balance, HeatPower, balance, balance_with};
use crate::budget::{Budget, Halt};
use crate::heat::network::Relay;
use crate::heat::streams::Rates;
use crate::heat::{Assembly, AtRest, Cycling, Running, Steady, assemble, cycling, steady};
use crate::plan::{Plan, ZoneId};
use crate::quantity::{Power, whole_up};

/// So many coolers and turbines are as good as any number.
const ANY: f64 = 1e6;
/// Rounds of flow and heat. Where each round asks for a share of the power of the one before, forty leave a thousandth of a
/// millionth of it for shares up to a half; a plant of which more goes into its own cooling says so.
const ROUNDS: usize = 60;
/// Powers nearer than this share of each other are the same.
const SAME: f64 = 1e-10;

/// How many of something are needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needed {
    /// As temperatures have it; `None` where nothing says what is to be held.
    pub exact: Option<f64>,
    /// How many there are: the plan's count, or `exact` rounded up.
    pub count: u32,
}

/// The heat side of it.
#[derive(Clone, Debug)]
pub struct Warm {
    /// By cooler.
    pub coolers: Vec<Needed>,
    /// By turbine.
    pub turbines: Vec<Needed>,
    /// The network at these counts.
    pub assembly: Assembly,
    /// Where it comes to rest; of zones that switches keep in a cycle, the means of that.
    pub steady: Steady,
    /// The cycles that switches keep zones in.
    pub cycling: Cycling,
}

/// Flow and heat at rest together.
#[derive(Clone, Debug)]
pub struct Coupled {
    /// The balance, with the power of coolers and turbines in it.
    pub balance: Balance,
    /// Heat, where the plan has zones.
    pub warm: Option<Warm>,
    /// False where each round of cooling asked for more power than the one before: then the figures are of the last.
    pub is_settled: bool,
    runs: Vec<f64>,
    cooler_counts: Vec<f64>,
    turbine_counts: Vec<f64>,
}

impl Coupled {
    /// Solves both.
    ///
    /// # Errors
    /// [`Halt`] when the budget is spent or the hook says stop.
    pub fn of(plan: &Plan, budget: &Budget<'_>) -> Result<Self, Halt> {
        let mut coupled = Self::of_flow(balance(plan, budget)?);
        if plan.zones.is_empty() {
            return Ok(coupled);
        }
        let mut before = HeatPower::NONE;
        coupled.is_settled = false;
        let mut least: [Vec<u32>; 2] = [Vec::new(), Vec::new()];
        let mut rounds: [[Vec<u32>; 2]; 2] = Default::default();
        for _ in 0..ROUNDS {
            let warm = warm_with(plan, &coupled.balance, &least, budget)?;
            let now =
                [&warm.coolers, &warm.turbines].map(|all| all.iter().map(|needed| needed.count).collect::<Vec<_>>());
            // Of two counts one apart that call for each other in turn the greater stays.
            let pairs = || now.iter().flatten().zip(rounds[1].iter().flatten());
            if now == rounds[0] && now != rounds[1] && pairs().all(|(one, other)| one.abs_diff(*other) <= 1) {
                for (least, (now, before)) in least.iter_mut().zip(now.iter().zip(&rounds[1])) {
                    *least = now.iter().zip(before).map(|(now, before)| *now.max(before)).collect();
                }
            }
            let [_, previous] = rounds;
            rounds = [previous, now];
            let now = power(plan, &warm);
            let settled = is_same(before.draws, now.draws) && is_same(before.generates, now.generates);
            coupled.set(warm);
            if settled {
                coupled.is_settled = true;
                break;
            }
            let machines = coupled.flow(plan, balance_with(plan, now, budget)?);
            if !machines {
                // Heat depends on nothing else: it would come out the same.
                coupled.is_settled = true;
                break;
            }
            before = now;
        }
        Ok(coupled)
    }

    /// Without heat.
    fn of_flow(balance: Balance) -> Self {
        let runs = balance.units.iter().map(|unit| unit.needed).collect();
        Self { balance, warm: None, is_settled: true, runs, cooler_counts: Vec::new(), turbine_counts: Vec::new() }
    }

    /// Takes another balance; true where what runs or flows of matter is another.
    fn flow(&mut self, plan: &Plan, balance: Balance) -> bool {
        let runs: Vec<f64> = balance.units.iter().map(|unit| unit.needed).collect();
        let power = plan.power();
        let matter = |drawn: &[f64]| -> Vec<f64> {
            let of = plan.supplies.iter().zip(drawn).filter(|(supply, _)| Some(supply.header) != power);
            of.map(|(_, drawn)| *drawn).collect()
        };
        let changed = runs != self.runs || matter(&self.balance.drawn) != matter(&balance.drawn);
        (self.runs, self.balance) = (runs, balance);
        changed
    }

    fn set(&mut self, warm: Warm) {
        (self.cooler_counts, self.turbine_counts) = (counts(&warm.coolers), counts(&warm.turbines));
        self.warm = Some(warm);
    }

    /// How many machines of each unit there are.
    #[must_use]
    pub fn units(&self) -> Vec<u32> {
        self.balance.units.iter().map(|unit| unit.count).collect()
    }

    /// Rates of the steady state.
    #[must_use]
    pub fn rates(&self) -> Rates<'_> {
        Rates { runs: &self.runs, drawn: &self.balance.drawn }
    }

    /// What runs in zones, where there are any.
    #[must_use]
    pub fn running(&self) -> Option<Running<'_>> {
        self.warm.as_ref()?;
        Some(Running { rates: self.rates(), coolers: &self.cooler_counts, turbines: &self.turbine_counts })
    }
}

fn is_same(one: Power, other: Power) -> bool {
    (one.si() - other.si()).abs() <= SAME * one.si().abs().max(other.si().abs())
}

fn counts(needed: &[Needed]) -> Vec<f64> {
    needed.iter().map(|needed| f64::from(needed.count)).collect()
}

/// Sizes coolers and turbines for what runs, and finds where zones come to rest with them.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn warm(plan: &Plan, balance: &Balance, budget: &Budget<'_>) -> Result<Warm, Halt> {
    warm_with(plan, balance, &[Vec::new(), Vec::new()], budget)
}

/// As [`warm`], with at least so many coolers and turbines of those that are sized.
fn warm_with(plan: &Plan, balance: &Balance, least: &[Vec<u32>; 2], budget: &Budget<'_>) -> Result<Warm, Halt> {
    let runs: Vec<f64> = balance.units.iter().map(|unit| unit.needed).collect();
    let rates = Rates { runs: &runs, drawn: &balance.drawn };
    let (mut coolers, mut turbines) = size(plan, rates, budget)?;
    // What the plan counts is what it was before.
    for (needed, least) in coolers.iter_mut().zip(&least[0]).chain(turbines.iter_mut().zip(&least[1])) {
        needed.count = needed.count.max(*least);
    }
    let assembly = assemble(plan, Running { rates, coolers: &counts(&coolers), turbines: &counts(&turbines) });
    let pulsed = assembly.pulsed(plan);
    let mut steady = steady(&assembly.network, &pulsed, budget)?;
    let cycling = match &mut steady {
        Steady::One(rest) if !assembly.network.thermostats.is_empty() => {
            cycling(&assembly.network, &pulsed, rest, budget)?
        }
        _ => Cycling::default(),
    };
    Ok(Warm { coolers, turbines, assembly, steady, cycling })
}

/// Whether anything that moves heat draws power or gives it.
#[must_use]
pub fn moves_power(plan: &Plan) -> bool {
    plan.coolers.iter().any(|cooler| cooler.draws.si() > 0.0)
        || plan.turbines.iter().any(|turbine| turbine.generates.si() > 0.0)
}

/// The state of rest that figures are of.
#[must_use]
pub fn at_rest(steady: &Steady) -> Option<&AtRest> {
    match steady {
        Steady::One(state) | Steady::Several { coldest: state, .. } => Some(state),
        Steady::Heats | Steady::Cools => None,
    }
}

/// What coolers draw and turbines give at rest. Where zones heat without end all of them run at full power; where they cool,
/// none does.
fn power(plan: &Plan, warm: &Warm) -> HeatPower {
    let rest = at_rest(&warm.steady);
    let full = |count: u32| if warm.steady == Steady::Heats { f64::from(count) } else { 0.0 };
    let mut sum = HeatPower::NONE;
    for (at, cooler) in plan.coolers.iter().enumerate() {
        let runs = rest.map_or_else(|| full(warm.coolers[at].count), |rest| rest.running[warm.assembly.coolers[at]]);
        sum.draws = sum.draws + cooler.draws * runs;
    }
    for (at, turbine) in plan.turbines.iter().enumerate() {
        if let Some(mean) = warm.cycling.flow(warm.assembly.turbines[at]) {
            sum.generates = sum.generates + Power::from_si(mean.generated_w).unwrap_or(Power::ZERO);
            continue;
        }
        let one = rest.map_or_else(
            || turbine.generates * full(warm.turbines[at].count),
            |rest| {
                // Held at its least inlet it runs a part of the time, at that inlet.
                let inlet_c = rest.temperatures_c[turbine.zone.0].max(turbine.inlet_min_c);
                Power::from_si(turbine.generates_w(inlet_c)).unwrap_or(Power::ZERO)
                    * rest.running[warm.assembly.turbines[at]]
            },
        );
        sum.generates = sum.generates + one;
    }
    sum
}

/// The temperature that a zone's coolers have to hold: the tightest limit of the zone and of the machines in it.
#[must_use]
pub fn tightest_limit(plan: &Plan, zone: ZoneId) -> Option<f64> {
    let machines = plan.units.iter().filter(|unit| unit.zone == Some(zone)).filter_map(|unit| unit.limit_c);
    machines.chain(plan.zones[zone.0].limit_c).min_by(f64::total_cmp)
}

/// How many coolers and turbines are needed, and how many there are.
fn size(plan: &Plan, rates: Rates<'_>, budget: &Budget<'_>) -> Result<(Vec<Needed>, Vec<Needed>), Halt> {
    if plan.coolers.is_empty() && plan.turbines.is_empty() {
        return Ok((Vec::new(), Vec::new()));
    }
    // Any number of each, in proportion to the counts where those are given, held at what they are to hold.
    let any = |count: Option<u32>| ANY * count.map_or(1.0, |count| f64::from(count.max(1)));
    let coolers: Vec<f64> = plan.coolers.iter().map(|cooler| any(cooler.count)).collect();
    let turbines: Vec<f64> = plan.turbines.iter().map(|turbine| any(turbine.count)).collect();
    let mut assembly = assemble(plan, Running { rates, coolers: &coolers, turbines: &turbines });
    let mut found = vec![true; plan.coolers.len()];
    for (at, cooler) in plan.coolers.iter().enumerate() {
        let flow = &mut assembly.network.flows[assembly.coolers[at]];
        let Some(held) = cooler.set_point_c.or_else(|| tightest_limit(plan, cooler.cools)) else {
            // Nothing says what it has to hold: it counts as it stands.
            flow.running = f64::from(cooler.count.unwrap_or(1));
            found[at] = false;
            continue;
        };
        flow.relay = Some(Relay { zone: cooler.cools.0, at_c: held, above: true });
    }
    for (at, turbine) in plan.turbines.iter().enumerate() {
        let limit = plan.zones[turbine.zone.0].limit_c.unwrap_or(f64::INFINITY);
        let at_c = turbine.inlet_rated_c.min(limit).max(turbine.inlet_min_c);
        let relay = Relay { zone: turbine.zone.0, at_c, above: true };
        assembly.network.flows[assembly.turbines[at]].relay = Some(relay);
    }
    // Switches would stand in the way of finding out how many are needed.
    assembly.network.thermostats.iter_mut().for_each(|thermostat| {
        thermostat.runs.retain(|flow| !assembly.coolers.contains(flow) && !assembly.turbines.contains(flow));
    });
    let held = match steady(&assembly.network, &assembly.pulsed(plan), budget)? {
        Steady::One(rest) | Steady::Several { hottest: rest, .. } => Some(rest),
        Steady::Heats | Steady::Cools => None,
    };
    let needed = |flow: usize, count: Option<u32>, found: bool| {
        let exact = held.as_ref().filter(|_| found).map(|rest| rest.running[flow]);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let sized = exact.map_or(1, |exact| whole_up(exact) as u32);
        Needed { exact, count: count.unwrap_or(sized) }
    };
    let coolers =
        plan.coolers.iter().enumerate().map(|(at, cooler)| needed(assembly.coolers[at], cooler.count, found[at]));
    let turbines =
        plan.turbines.iter().enumerate().map(|(at, turbine)| needed(assembly.turbines[at], turbine.count, true));
    Ok((coolers.collect(), turbines.collect()))
}

#[cfg(test)]
mod tests {
    use super::Coupled;
    use crate::budget::Budget;
    use crate::plan::{Limits, Plan};
    use serde_json::{Value, json};

    fn solve(document: &Value) -> (Plan, Coupled) {
        let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
        let coupled = Coupled::of(&plan, &Budget::unhurried()).expect("within the budget");
        (plan, coupled)
    }

    /// A hall held at 20 °C as it is outside, generators of 10 kW in it that shed `sheds`, a load of 50 kW, coolers that move
    /// 10 kW for `draws`.
    fn hall(sheds: f64, draws: f64) -> Value {
        json!({
            "substances": { "air": { "specific_heat": 1000 } }, "ambient": 20,
            "units": { "generator": { "takes": { "fuel": 0.001 }, "generates": 10e3, "sheds": sheds, "zone": "hall" } },
            "supplies": { "line": { "header": "fuel" } },
            "demands": { "load": { "header": "power", "rate": 50e3 } },
            "zones": { "hall": { "contents": { "air": 1000 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
            "coolers": { "loop": { "cools": "hall", "duty": 10e3, "draws": draws, "rejects_draw": false, "set_point": 20 } }
        })
    }

    /// n generators shed 4 kW each, which takes 0.4 n coolers of 1 kW: 10 n = 50 + 0.4 n, n = 50 ÷ 9.6.
    #[test]
    fn a_plant_pays_for_its_own_cooling() {
        let (plan, found) = solve(&hall(4e3, 1e3));
        let n = 50.0 / 9.6;
        assert!(found.is_settled);
        let unit = found.balance.units[0];
        assert!((unit.needed - n).abs() < 1e-8, "{unit:?}, expected {n}");
        assert_eq!(unit.count, 6);
        // What coolers draw is taken; demanded is the load alone.
        let power = &found.balance.headers[plan.power().expect("power").0];
        assert!((power.taken - 400.0 * n).abs() < 1e-5 && (power.demanded - 50e3).abs() < 1e-5, "{power:?}");
        let cooler = found.warm.expect("zones").coolers[0];
        assert!((cooler.exact.expect("a set point") - 0.4 * n).abs() < 1e-8, "{cooler:?}");
        assert_eq!(cooler.count, 3);
    }

    /// 10 kW shed for 10 kW made, moved at 12 kW for 10 kW: each generator needs more power than it makes.
    #[test]
    fn cooling_that_costs_more_than_it_is_worth_is_told() {
        let (_, found) = solve(&hall(10e3, 12e3));
        assert!(!found.is_settled);
    }

    /// A turbine takes 2 kW/K · (T − 70 °C) from a chamber that gets 100 kW: it rests at 120 °C, where it gives
    /// 50 K ÷ 100 K of 40 kW; of a load of 30 kW the mains give the other 10.
    #[test]
    fn turbines_spare_the_supply() {
        let (plan, found) = solve(&json!({
            "substances": { "steam": { "specific_heat": 2000 } },
            "zones": { "drum": { "contents": { "steam": 1000 }, "at": 100 } },
            "hot_sources": { "vent": { "zone": "drum", "heat": 100e3 } },
            "turbines": { "expander": { "zone": "drum", "fluid": "steam", "flow": 1, "inlet_min": 90, "inlet_rated": 170,
                                        "outlet": 70, "generates": 40e3, "count": 1 } },
            "supplies": { "mains": { "header": "power" } },
            "demands": { "load": { "header": "power", "rate": 30e3 } }
        }));
        assert!((found.balance.drawn[0] - 10e3).abs() < 1e-6, "{:?}", found.balance);
        let power = &found.balance.headers[plan.power().expect("power").0];
        assert!((power.made - 20e3).abs() < 1e-6, "{power:?}");
    }

    /// Coolers that draw 2 kW on a supply of 1.5 kW get three quarters of it, and the answer names them.
    #[test]
    fn coolers_without_power_are_short() {
        let (plan, found) = solve(&json!({
            "substances": { "air": { "specific_heat": 1000 } }, "ambient": 20,
            "zones": { "hall": { "contents": { "air": 1000 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
            "hot_sources": { "flue": { "zone": "hall", "heat": 20e3 } },
            "coolers": { "loop": { "cools": "hall", "duty": 10e3, "draws": 1e3, "set_point": 20, "count": 2, "rejects_draw": false } },
            "supplies": { "mains": { "header": "power", "rate": 1.5e3 } }
        }));
        let cooling = found.balance.cooling;
        assert!((cooling.wanted - 2e3).abs() < 1e-6 && (cooling.got - 1.5e3).abs() < 1e-6, "{cooling:?}");
        let power = &found.balance.headers[plan.power().expect("power").0];
        for (rate, expected) in [(power.taken, 1.5e3), (power.demanded, 0.5e3), (power.unserved, 0.5e3)] {
            assert!((rate - expected).abs() < 1e-6, "{power:?}");
        }
    }
}
