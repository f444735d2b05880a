//! From the reckoning to the figures.

use super::figures::{
    BallastFigures, CoolerFigures, CoolingStops, Course, HeatPower, ProductFigures, Rest, StreamFigures,
    ThermostatFigures, TurbineFigures, ZoneCycleFigures, ZoneFigures,
};
use super::reckon::{First, Reckoned, mixed_c, product_c};
use crate::heat::network::Side;
use crate::heat::{Curve, LimitOf, Steady, thinned};
use crate::plan::{Cooler, CoolerId, Gated, Plan, UnitId, ZoneId, in_order, pointer};
use crate::questions::answer::{Name, Named, sum};
use crate::questions::coupled::tightest_limit;

/// How far above the least set point the advised one lies, K.
const ADVISED_K: f64 = 3.0;

pub(super) fn rest(reckoned: &Reckoned) -> Rest {
    match reckoned.steady {
        Steady::One(_) if reckoned.cycling.is_any() => Rest::Cycles,
        Steady::One(_) => Rest::One,
        Steady::Several { .. } => Rest::Several,
        Steady::Heats => Rest::Heats,
        Steady::Cools => Rest::Cools,
    }
}

/// Contributors to a zone at rest, W.
pub(super) fn ledger<'p>(plan: &'p Plan, reckoned: &Reckoned, zone: usize) -> Vec<(&'p str, f64)> {
    let Some(rest) = reckoned.at_rest() else { return Vec::new() };
    let (assembly, network) = (&reckoned.assembly, &reckoned.assembly.network);
    let mut sums: Vec<(&str, f64)> = Vec::new();
    let mut add = |name: &'p str, watts: f64| match sums.iter_mut().find(|(known, _)| *known == name) {
        Some((_, sum)) => *sum += watts,
        None => sums.push((name, watts)),
    };
    let mut flow = |name: &'p str, flow: usize| {
        for (at, part) in network.flows[flow].parts.iter().enumerate() {
            if part.into == zone {
                add(name, reckoned.part_w(flow, at).unwrap_or(0.0));
            }
        }
    };
    for (unit, flows) in plan.units.iter().zip(&assembly.units) {
        flows.iter().flatten().for_each(|at| flow(&unit.name, *at));
    }
    for (source, at) in plan.hot_sources.iter().zip(&assembly.hot_sources) {
        flow(&source.name, *at);
    }
    for (cooler, at) in plan.coolers.iter().zip(&assembly.coolers) {
        flow(&cooler.name, *at);
    }
    for (turbine, at) in plan.turbines.iter().zip(&assembly.turbines) {
        flow(&turbine.name, *at);
    }
    for wall in &network.walls {
        let t = |side: Side| match side {
            Side::Zone(other) => rest.temperatures_c[other],
            Side::Fixed(t) => t,
        };
        let out = wall.conductance * (rest.temperatures_c[wall.zone] - t(wall.to));
        if wall.zone == zone {
            let name = match wall.to {
                Side::Zone(other) => plan.zones[other].name.as_str(),
                Side::Fixed(_) => "ambient",
            };
            add(name, -out);
        } else if wall.to == Side::Zone(zone) {
            add(&plan.zones[wall.zone].name, out);
        }
    }
    sums
}

pub(super) fn zones(plan: &Plan, reckoned: &Reckoned) -> Named<ZoneFigures> {
    let accounts = &reckoned.rehearsal.accounts;
    let figures = in_order(&plan.listed.zones, &plan.zones).map(|(at, zone)| {
        let ledger = ledger(plan, reckoned, at);
        let rests = reckoned.at_rest().is_some();
        let sum = |sign: f64| ledger.iter().map(|(_, watts)| (sign * watts).max(0.0)).sum::<f64>();
        let limits = reckoned.assembly.limits[at].iter().zip(&accounts.passed[at]);
        let own = limits.into_iter().find(|(of, _)| **of == LimitOf::Zone).map(|(_, passed)| *passed);
        let figures = ZoneFigures {
            gain_w: rests.then(|| sum(1.0)),
            removed_w: rests.then(|| sum(-1.0)),
            heat_w: ledger.iter().map(|(name, watts)| (Name::from(*name), *watts)).collect(),
            settles_at_c: reckoned.at_rest().map(|rest| rest.temperatures_c[at]),
            cycle: reckoned.cycling.zone(at).map(|cycle| ZoneCycleFigures {
                trough_c: cycle.least_c,
                peak_c: cycle.greatest_c,
                period_s: cycle.period_s,
            }),
            least_c: accounts.least[at].at_c,
            greatest_c: accounts.greatest[at].at_c,
            first_over_limit_s: own,
            limit_c: zone.limit_c,
        };
        (Name::from(zone.name.as_str()), figures)
    });
    figures.collect()
}

/// Least and greatest set point of a cooler.
pub(super) fn window(plan: &Plan, cooler: &Cooler) -> (Option<f64>, Option<f64>) {
    let coolant = cooler.coolant.map(|id| &plan.substances[id.0]);
    let least = coolant.and_then(|coolant| coolant.freezes_at_c);
    let boils = coolant.and_then(|coolant| coolant.boils_at_c).map(|boils| boils - cooler.margin_k);
    let greatest = boils.into_iter().chain(tightest_limit(plan, cooler.cools)).min_by(f64::total_cmp);
    (least.map(|freezes| freezes + cooler.margin_k + cooler.drop_k()), greatest)
}

/// The recommended set point within a window.
pub(super) fn advised(least: Option<f64>, greatest: Option<f64>) -> Option<f64> {
    let least = least?;
    let room = greatest.map_or(f64::INFINITY, |greatest| (greatest - least) / 2.0);
    (room >= 0.0).then(|| least + room.min(ADVISED_K))
}

/// The coldest and the warmest coolant that a cooler takes in while it runs, over the horizon and in the long run, °C: as warm as what
/// it cools, held up by its set point or by the thermostats that stop it there. `None` where it never runs.
pub(super) fn intake(plan: &Plan, reckoned: &Reckoned, at: usize) -> Option<(f64, f64)> {
    let (cooler, flow) = (&plan.coolers[at], reckoned.assembly.coolers[at]);
    let accounts = &reckoned.rehearsal.accounts;
    let runs = accounts.flows[flow].ran_s > 0.0 || reckoned.at_rest().is_some_and(|rest| rest.running[flow] > 0.0);
    if !runs {
        return None;
    }
    let (mut least, mut greatest) = extremes(reckoned, cooler.cools.0);
    let stops = plan.thermostats.iter().filter(|thermostat| {
        thermostat.watch == cooler.cools
            && thermostat.start_at_c > thermostat.stop_at_c
            && thermostat.runs.contains(&Gated::Cooler(CoolerId(at)))
    });
    for held_c in stops.map(|thermostat| thermostat.stop_at_c).chain(cooler.set_point_c) {
        (least, greatest) = (least.max(held_c), greatest.max(held_c));
    }
    Some((least, greatest))
}

/// The least and the greatest temperature of a zone, over the horizon and in the long run, °C.
pub(super) fn extremes(reckoned: &Reckoned, zone: usize) -> (f64, f64) {
    let accounts = &reckoned.rehearsal.accounts;
    let (least, greatest) = (accounts.least[zone].at_c, accounts.greatest[zone].at_c);
    let rest = reckoned.at_rest().map(|rest| rest.temperatures_c[zone]);
    let long_run = reckoned.cycling.zone(zone).map(|cycle| (cycle.least_c, cycle.greatest_c)).or(rest.map(|t| (t, t)));
    long_run.map_or((least, greatest), |(low, high)| (least.min(low), greatest.max(high)))
}

pub(super) fn streams(plan: &Plan, reckoned: &Reckoned) -> Named<StreamFigures> {
    let figures = in_order(&plan.listed.headers, &plan.headers).filter_map(|(at, header)| {
        let warmth = reckoned.headers.get(at)?.as_ref()?;
        Some((Name::from(header.name.as_str()), StreamFigures { at_c: mixed_c(reckoned, warmth) }))
    });
    figures.collect()
}

pub(super) fn products(plan: &Plan, reckoned: &Reckoned) -> Named<ProductFigures> {
    let figures = in_order(&plan.listed.units, &plan.units).filter_map(|(at, unit)| {
        if unit.gives.is_empty() {
            return None;
        }
        let (at_c, least_c) = product_c(plan, reckoned, UnitId(at))?;
        Some((Name::from(unit.name.as_str()), ProductFigures { at_c, least_c }))
    });
    figures.collect()
}

pub(super) fn coolers(plan: &Plan, reckoned: &Reckoned) -> Named<CoolerFigures> {
    let figures = in_order(&plan.listed.coolers, &plan.coolers).map(|(at, cooler)| {
        let flow = reckoned.assembly.coolers[at];
        let running = reckoned.at_rest().map(|rest| rest.running[flow]);
        let count = reckoned.coolers[at].count;
        let (least, greatest) = window(plan, cooler);
        let taken_in = cooler.coolant.and_then(|_| intake(plan, reckoned, at));
        let figures = CoolerFigures {
            needed: reckoned.coolers[at].exact,
            count,
            running_share: running.filter(|_| count > 0).map(|running| running / f64::from(count)),
            moves_w: running.map(|running| running * cooler.moves_w()),
            rejects_w: running.map(|running| running * cooler.rejects_w()),
            draws_w: running.map(|running| running * cooler.draws.si()),
            coldest_c: cooler.set_point_c.or(taken_in.map(|(least, _)| least)).map(|least| least - cooler.drop_k()),
            warmest_c: taken_in.map(|(_, greatest)| greatest),
            drop_k: cooler.drop_k(),
            set_point_least_c: least,
            set_point_greatest_c: greatest,
            set_point_advised_c: advised(least, greatest),
        };
        (Name::from(cooler.name.as_str()), figures)
    });
    figures.collect()
}

pub(super) fn turbines(plan: &Plan, reckoned: &Reckoned) -> Named<TurbineFigures> {
    let figures = in_order(&plan.listed.turbines, &plan.turbines).map(|(at, turbine)| {
        let flow = reckoned.assembly.turbines[at];
        let rest = reckoned.at_rest().map(|rest| (rest.running[flow], rest.temperatures_c[turbine.zone.0]));
        let count = reckoned.turbines[at].count;
        // Held at the least inlet it runs, if only a part of the time, at that temperature.
        let each = |of: &dyn Fn(f64) -> f64| rest.map(|(running, inlet)| running * of(inlet.max(turbine.inlet_min_c)));
        let mean = reckoned.cycling.flow(flow);
        let takes = match mean {
            Some(mean) => mean.parts_w.first().map(|w| -w),
            None => each(&|inlet| turbine.takes_w(inlet)),
        };
        let generates = mean.map(|mean| mean.generated_w).or_else(|| each(&|inlet| turbine.generates_w(inlet)));
        let wastes = mean.map_or_else(
            || each(&|inlet| turbine.per_kelvin() * (inlet - turbine.inlet_rated_c).max(0.0)),
            |mean| Some(turbine.per_kelvin() * mean.above_rating_k),
        );
        let figures = TurbineFigures {
            needed: reckoned.turbines[at].exact,
            count,
            running_share: rest.filter(|_| count > 0).map(|(running, _)| running / f64::from(count)),
            inlet_c: rest.map(|(_, inlet)| inlet),
            takes_w: takes,
            generates_w: generates,
            wastes_w: wastes,
            casing_w: takes.filter(|_| turbine.casing_zone.is_some()).map(|takes| takes * turbine.casing_share.si()),
        };
        (Name::from(turbine.name.as_str()), figures)
    });
    figures.collect()
}

pub(super) fn thermostats(plan: &Plan, reckoned: &Reckoned) -> Named<ThermostatFigures> {
    let figures = in_order(&plan.listed.thermostats, &plan.thermostats).map(|(at, thermostat)| {
        let cycle = reckoned.cycling.thermostats.get(at).copied().flatten();
        let figures = ThermostatFigures {
            on_share: cycle.map(|cycle| cycle.on_share),
            starts_per_h: cycle.map(|cycle| cycle.period_s.map_or(0.0, |period| cycle.starts as f64 * 3600.0 / period)),
            period_s: cycle.and_then(|cycle| cycle.period_s),
        };
        (Name::from(thermostat.name.as_str()), figures)
    });
    figures.collect()
}

pub(super) fn power(coolers: &Named<CoolerFigures>, turbines: &Named<TurbineFigures>) -> Option<HeatPower> {
    if coolers.is_empty() && turbines.is_empty() {
        return None;
    }
    let drawn_w = sum(coolers.iter().map(|(_, cooler)| cooler.draws_w).collect::<Option<Vec<f64>>>()?);
    let generated_w = sum(turbines.iter().map(|(_, turbine)| turbine.generates_w).collect::<Option<Vec<f64>>>()?);
    Some(HeatPower { generated_w, drawn_w, net_w: generated_w - drawn_w })
}

/// What a limit belongs to: pointer and name.
pub(super) fn owner(plan: &Plan, zone: usize, of: LimitOf) -> (String, String) {
    let zone_name = plan.zones[zone].name.as_str();
    match of {
        LimitOf::Zone => (pointer(&["zones", zone_name, "limit"]), zone_name.to_owned()),
        LimitOf::ZoneLeast => (pointer(&["zones", zone_name, "least"]), zone_name.to_owned()),
        LimitOf::Unit(id) => {
            let name = plan.units[id.0].name.as_str();
            (pointer(&["units", name, "limit"]), name.to_owned())
        }
    }
}

pub(super) fn cooling_stops(plan: &Plan, first: First) -> CoolingStops {
    let (at, name) = owner(plan, first.zone, first.of);
    CoolingStops { at, name: Name::from(name.as_str()), after_s: first.after_s, limit_c: first.limit_c }
}

pub(super) fn ballast(plan: &Plan, reckoned: &Reckoned) -> Named<BallastFigures> {
    let figures = plan.listed.zones.iter().filter_map(|&at| {
        let ballast = reckoned.ballast.iter().find(|ballast| ballast.zone == at)?;
        let figures = BallastFigures {
            present_kg: ballast.present_kg,
            least_kg: ballast.least_kg,
            greatest_kg: ballast.greatest_kg,
            peak_c: ballast.cycle.map(|(peak, ..)| peak),
            trough_c: ballast.cycle.map(|(_, trough, _)| trough),
            period_s: ballast.cycle.map(|(.., period)| period),
        };
        Some((Name::from(plan.zones[at].name.as_str()), figures))
    });
    figures.collect()
}

/// Stretches of time of which the picture shows the extremes.
const STRETCHES: usize = 330;

pub(super) fn course(plan: &Plan, reckoned: &Reckoned) -> Course {
    let thin = |curve: &Curve| -> Curve { thinned(curve, STRETCHES).into_iter().map(|at| curve[at]).collect() };
    Course {
        day_s: plan.day.si(),
        zones: plan.listed.zones.iter().filter_map(|&at| reckoned.rehearsal.curves.get(at).map(thin)).collect(),
    }
}

/// The zone of a cooler, turbine or machine by name.
pub(super) fn zone_name(plan: &Plan, zone: ZoneId) -> &str {
    &plan.zones[zone.0].name
}
