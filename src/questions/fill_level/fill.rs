//! From the rehearsal to the figures.

use super::case::{Case, Window, per, short_of};
use super::figures::{
    CourseFigures, CycleFigures, DutyFigures, EventFigures, IntakeFigures, LoopFigures, Moment, ServiceFigures, Size,
    StoreFigures, SwitchFigures,
};
use crate::course::outlook;
use crate::heat::{LimitOf, thinned};
use crate::plan::{Carried, Flow, StoreId, Watched, When, in_order};
use crate::questions::answer::{Name, Named};
use crate::rehearsal::sizing::Sizing;
use crate::rehearsal::{Event, MOST_POINTS, Settled, StoreRecord, Turn, What};

/// The most events listed; the rest is counted.
pub const MOST_EVENTS: usize = 200;
/// Stretches of time into which a course is cut to be thinned: of each, the extremes stay.
const STRETCHES: usize = 100;

/// (kg, J): the one that the header's amounts are in.
type Pair = (Option<f64>, Option<f64>);

fn split(carries: Carried, amount: f64) -> Pair {
    match carries {
        Carried::Matter => (Some(amount), None),
        Carried::Power => (None, Some(amount)),
    }
}

fn split_maybe(carries: Carried, amount: Option<f64>) -> Pair {
    amount.map_or((None, None), |amount| split(carries, amount))
}

fn split_size(carries: Carried, found: Option<Sizing>) -> (Option<Size>, Option<Size>) {
    let size = match found {
        Some(Sizing::Least(size) | Sizing::UntilHorizon(size)) => Size(Some(size)),
        Some(Sizing::NoneIsEnough) => Size(None),
        Some(Sizing::NotFound) | None => return (None, None),
    };
    match carries {
        Carried::Matter => (Some(size), None),
        Carried::Power => (None, Some(size)),
    }
}

/// Where the figures come from.
pub struct Source<'c, 'p> {
    case: &'c Case<'p>,
    /// Of headers.
    names: Vec<Name>,
    /// Until when courses are shown.
    view_s: f64,
}

impl<'c, 'p> Source<'c, 'p> {
    pub fn new(case: &'c Case<'p>) -> Self {
        let names = case.plan.headers.iter().map(|header| header.name.as_str().into()).collect();
        Self { case, names, view_s: view(case) }
    }

    pub fn stores(&self) -> Named<StoreFigures> {
        let plan = self.case.plan;
        let of = |(at, store): (usize, &crate::plan::Store)| (store.name.as_str().into(), self.store(at));
        in_order(&plan.listed.stores, &plan.stores).map(of).collect()
    }

    fn store(&self, at: usize) -> StoreFigures {
        let case = self.case;
        let (store, record) = (&case.plan.stores[at], &case.run.stores[at]);
        let carries = case.plan.header(store.header).carries;
        let pair = |amount| split(carries, amount);
        let (capacity_kg, capacity_j) = pair(store.capacity);
        let (start_kg, start_j) = pair(record.start);
        let (end_kg, end_j) = pair(record.end);
        let (least_kg, least_j) = pair(record.least);
        let (greatest_kg, greatest_j) = pair(record.greatest);
        let (used_capacity_kg, used_capacity_j) = pair(record.greatest - record.least);
        let (used_start_kg, used_start_j) = pair(record.start - record.least);
        let (filled_kg, filled_j) = pair(record.filled);
        let (drained_kg, drained_j) = pair(record.drained);
        let loses = store.loses != crate::plan::StandingLoss::None;
        let (stood_lost_kg, stood_lost_j) = split_maybe(carries, loses.then_some(record.stood_lost));
        let (lost_kg, lost_j) = pair(case.lost(store.header));
        let (unserved_kg, unserved_j) = pair(case.unserved(store.header));
        let sizes = case.sizes[at];
        let (least_capacity_kg, least_capacity_j) = split_size(carries, sizes.capacity);
        let (least_start_kg, least_start_j) = split_size(carries, sizes.level);
        let limits = [store.limits.low_low, store.limits.low, store.limits.high, store.limits.high_high];
        let past = |which: usize| limits[which].map(|_| Moment(record.first_past_s[which]));
        let watching: Vec<usize> =
            (0..case.plan.switches.len()).filter(|&by| watches(case, by) == StoreId(at)).collect();
        StoreFigures {
            header: self.names[store.header.0].clone(),
            capacity_kg,
            capacity_j,
            start_kg,
            start_j,
            end_kg,
            end_j,
            least_kg,
            least_j,
            least_at_s: record.least_at_s,
            greatest_kg,
            greatest_j,
            greatest_at_s: record.greatest_at_s,
            used_capacity_kg,
            used_capacity_j,
            used_start_kg,
            used_start_j,
            first_empty_s: Moment(record.first_empty_s),
            first_full_s: Moment(record.first_full_s),
            empty_s: record.empty_s,
            full_s: record.full_s,
            filled_kg,
            filled_j,
            drained_kg,
            drained_j,
            stood_lost_kg,
            stood_lost_j,
            lost_kg,
            lost_j,
            unserved_kg,
            unserved_j,
            first_below_low_low_s: past(0),
            first_below_low_s: past(1),
            first_above_high_s: past(2),
            first_above_high_high_s: past(3),
            starts_per_h: (!watching.is_empty()).then(|| watching.iter().map(|&by| case.starts_per_h(by)).sum()),
            least_capacity_kg,
            least_capacity_j,
            least_capacity_lasts: match sizes.capacity {
                Some(Sizing::Least(_)) => Some(true),
                Some(Sizing::UntilHorizon(_)) => Some(false),
                _ => None,
            },
            least_start_kg,
            least_start_j,
            settles: self.cycle(StoreId(at), carries),
            low_low_share: limits[0].map(|limit| limit / store.capacity),
            low_share: limits[1].map(|limit| limit / store.capacity),
            high_share: limits[2].map(|limit| limit / store.capacity),
            high_high_share: limits[3].map(|limit| limit / store.capacity),
            course: course(record, self.settled(StoreId(at)), store.capacity, self.view_s),
        }
    }

    fn settled(&self, store: StoreId) -> Option<&Settled> {
        self.case.island(store).and_then(|(island, _)| island.settled.as_ref())
    }

    fn cycle(&self, store: StoreId, carries: Carried) -> Option<CycleFigures> {
        let (_, at) = self.case.island(store)?;
        let settled = self.settled(store)?;
        let &(least, greatest) = settled.span.get(at)?;
        let ((least_kg, least_j), (greatest_kg, greatest_j)) = (split(carries, least), split(carries, greatest));
        Some(CycleFigures {
            from_s: settled.from_s,
            period_s: settled.period_s,
            least_kg,
            least_j,
            greatest_kg,
            greatest_j,
        })
    }

    pub fn switches(&self) -> Named<SwitchFigures> {
        let case = self.case;
        let of = |(at, switch): (usize, &crate::plan::Switch)| {
            let record = &case.run.switches[at];
            let store = &case.plan.stores[watches(case, at).0];
            let figures = SwitchFigures {
                watches: store.name.as_str().into(),
                start_at_share: switch.start_at / store.capacity,
                stop_at_share: switch.stop_at / store.capacity,
                starts: record.starts,
                stops: record.stops,
                starts_per_h: case.starts_per_h(at),
                first_start_s: Moment(record.first_start_s),
                on_s: record.on_s,
                duty_share: per(record.on_s, case.run.reached_s),
                least_cycle_s: record.least_cycle_s,
            };
            (switch.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.switches, &case.plan.switches).map(of).collect()
    }

    pub fn supplies(&self) -> Named<IntakeFigures> {
        let case = self.case;
        let of = |(at, supply): (usize, &crate::plan::Supply)| {
            let record = &case.run.supplies[at];
            let carries = case.plan.header(supply.header).carries;
            let offered = supply.rate.map(|_| record.offered);
            let pushes = supply.when == When::Always && supply.rate.is_some();
            let (offered_kg, offered_j) = split_maybe(carries, offered);
            let (drawn_kg, drawn_j) = split(carries, record.drawn);
            let (lost_kg, lost_j) = split_maybe(carries, pushes.then_some(record.lost));
            let ahead = supply.pattern.as_ref().map(outlook);
            let figures = IntakeFigures {
                header: self.names[supply.header.0].clone(),
                offered_kg,
                offered_j,
                drawn_kg,
                drawn_j,
                spared_share: offered
                    .filter(|&offered| !pushes && offered > 0.0)
                    .map(|offered| (1.0 - record.drawn / offered).clamp(0.0, 1.0)),
                lost_kg,
                lost_j,
                first_lost_s: pushes.then_some(Moment(record.first_lost_s)),
                on_s: record.on_s,
                on_now: ahead.map(|ahead| ahead.share > 0.0),
                next_change_s: ahead.map(|ahead| Moment(ahead.changes_s)),
                next_return_s: ahead.map(|ahead| Moment(ahead.returns_s)),
            };
            (supply.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.supplies, &case.plan.supplies).map(of).collect()
    }

    pub fn demands(&self) -> Named<ServiceFigures> {
        let case = self.case;
        let of = |(at, demand): (usize, &crate::plan::Demand)| {
            let record = &case.run.demands[at];
            let carries = case.plan.header(demand.header).carries;
            let (wanted_kg, wanted_j) = split(carries, record.wanted);
            let (served_kg, served_j) = split(carries, record.served);
            let (unserved_kg, unserved_j) = split(carries, short_of(record.wanted, record.served));
            let figures = ServiceFigures {
                header: self.names[demand.header.0].clone(),
                wanted_kg,
                wanted_j,
                served_kg,
                served_j,
                unserved_kg,
                unserved_j,
                first_short_s: Moment(record.first_short_s),
                short_s: record.short_s,
                cuts: record.cuts,
            };
            (demand.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.demands, &case.plan.demands).map(of).collect()
    }

    pub fn units(&self) -> Named<DutyFigures> {
        let case = self.case;
        let day = case.plan.day.si();
        let of = |(at, unit): (usize, &crate::plan::Unit)| {
            let record = &case.run.units[at];
            let all = |flows: &[Flow]| {
                let matter = flows.iter().filter(|flow| case.plan.header(flow.header).carries == Carried::Matter);
                matter.map(|flow| (self.names[flow.header.0].clone(), flow.rate * record.duty_s)).collect()
            };
            let generates = unit.generates.si();
            let figures = DutyFigures {
                count: record.count,
                running_s: record.running_s,
                duty_s: record.duty_s,
                duty_share: (record.count > 0)
                    .then(|| per(record.duty_s, f64::from(record.count) * case.run.reached_s)),
                starts: record.starts,
                starts_per_day: per(record.starts as f64, case.run.reached_s) * day,
                held_s: record.held_s,
                first_held_s: Moment(record.first_held_s),
                takes_kg: all(&unit.takes),
                gives_kg: all(&unit.gives),
                generates_j: (generates > 0.0).then_some(generates * record.duty_s),
            };
            (unit.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.units, &case.plan.units).map(of).collect()
    }

    pub fn loops(&self) -> Named<LoopFigures> {
        let of = |(at, closed): (usize, &crate::plan::Loop)| {
            let window = &self.case.windows[at];
            let Window { charge, least, most } = *window;
            let figures = LoopFigures {
                charge_kg: charge,
                least_kg: least,
                most_kg: most,
                over_kg: window.over(),
                short_kg: window.short(),
            };
            (closed.name.as_str().into(), figures)
        };
        in_order(&self.case.plan.listed.loops, &self.case.plan.loops).map(of).collect()
    }

    pub fn events(&self) -> Vec<EventFigures> {
        self.case.run.events.iter().take(MOST_EVENTS).map(|event| self.event(event)).collect()
    }

    pub fn acts(&self) -> Vec<EventFigures> {
        let acts = |event: &&Event| event.at_s <= self.view_s && matches!(event.what, What::Start(_) | What::Stop(_));
        self.case.run.events.iter().filter(acts).map(|event| self.event(event)).collect()
    }

    fn event(&self, event: &Event) -> EventFigures {
        let plan = self.case.plan;
        let turned = |turn: Turn, on: &'static str, off: &'static str, step: &'static str| match turn {
            Turn::On => on,
            Turn::Off => off,
            Turn::Step => step,
        };
        let (what, name) = match event.what {
            What::Supply(id, turn) => {
                (turned(turn, "supply-on", "supply-off", "supply-step"), &plan.supplies[id.0].name)
            }
            What::Demand(id, turn) => {
                (turned(turn, "demand-on", "demand-off", "demand-step"), &plan.demands[id.0].name)
            }
            What::Empty(id) => ("store-empty", &plan.stores[id.0].name),
            What::Full(id) => ("store-full", &plan.stores[id.0].name),
            What::Start(id) => ("switch-start", &plan.switches[id.0].name),
            What::Stop(id) => ("switch-stop", &plan.switches[id.0].name),
            What::HotSource(id, turn) => {
                (turned(turn, "hot-source-on", "hot-source-off", "hot-source-step"), &plan.hot_sources[id.0].name)
            }
            What::CutIn(id) => ("thermostat-start", &plan.thermostats[id.0].name),
            What::CutOut(id) => ("thermostat-stop", &plan.thermostats[id.0].name),
            What::Past(zone, LimitOf::Zone) => ("zone-too-hot", &plan.zones[zone.0].name),
            What::Past(zone, LimitOf::ZoneLeast) => ("zone-too-cold", &plan.zones[zone.0].name),
            What::Past(_, LimitOf::Unit(id)) => ("unit-too-hot", &plan.units[id.0].name),
        };
        EventFigures { at_s: event.at_s, what, name: name.as_str().into() }
    }
}

/// The store that a switch watches.
pub fn watches(case: &Case<'_>, switch: usize) -> StoreId {
    let Watched::Store(store) = case.plan.switches[switch].watch;
    store
}

/// Cycles that are shown of one that is settled.
const CYCLES: f64 = 3.0;
/// The most cycles of the busiest switch.
const CYCLES_AT_MOST: f64 = 40.0;
/// How much longer than until the last thing of note.
const AND_THEN: f64 = 1.2;

/// Until when courses are shown: of a part that settles a few cycles, and its first trouble; otherwise all that was rehearsed.
fn view(case: &Case<'_>) -> f64 {
    let reached = case.run.reached_s;
    let mut view: f64 = 0.0;
    for island in case.run.islands.iter().filter(|island| !island.stores.is_empty()) {
        view = view.max(match &island.settled {
            Some(settled) if settled.period_s > 0.0 => settled.from_s + CYCLES * settled.period_s,
            // It comes to rest.
            Some(settled) if settled.from_s > 0.0 => settled.from_s * AND_THEN,
            _ => reached,
        });
    }
    // No more than can be told apart, and no more than every course has.
    let most = case.run.switches.iter().map(|switch| switch.starts).max().unwrap_or(0) as f64;
    view = if view > 0.0 { view.min(reached) } else { reached };
    if most > CYCLES_AT_MOST {
        view = view.min(reached / most * CYCLES_AT_MOST);
    }
    for record in &case.run.stores {
        let firsts = [record.first_empty_s, record.first_full_s].into_iter().flatten();
        view = firsts.fold(view, |view, first| view.max(first * AND_THEN));
    }
    // A course that is cut off says nothing of what comes after.
    let cut_off = case.run.stores.iter().filter(|record| record.course.len() >= MOST_POINTS);
    cut_off.filter_map(|record| record.course.last()).map(|&(at, _)| at).fold(view.min(reached), f64::min)
}

/// The course of a level as shares of the capacity, until `view_s`. Where it has many points, the first and the last and the
/// extremes of each stretch of time stay.
fn course(record: &StoreRecord, settled: Option<&Settled>, capacity: f64, view_s: f64) -> CourseFigures {
    let mut whole = record.course.clone();
    if let Some(settled) = settled {
        go_on(&mut whole, settled, view_s);
    }
    let shown = whole.partition_point(|&(at, _)| at <= view_s);
    let mut points = whole[..shown].to_vec();
    if let (Some(&(from, low)), Some(&(to, high))) = (points.last(), whole.get(shown))
        && to > from
        && view_s > from
    {
        points.push((view_s, low + (high - low) * (view_s - from) / (to - from)));
    }
    let share = |level: f64| (level / capacity).clamp(0.0, 1.0);
    let kept = thinned(&points, STRETCHES);
    CourseFigures {
        at_s: kept.iter().map(|&at| points[at].0).collect(),
        level_share: kept.iter().map(|&at| share(points[at].1)).collect(),
    }
}

/// Lets a settled course go on until `view_s`: its last cycle again and again, or the level that it has come to.
fn go_on(course: &mut Vec<(f64, f64)>, settled: &Settled, view_s: f64) {
    let Some(&(end, level)) = course.last() else { return };
    if settled.period_s <= 0.0 {
        if end < view_s {
            course.push((view_s, level));
        }
        return;
    }
    let last = course.partition_point(|&(at, _)| at <= end - settled.period_s * (1.0 - 1e-9));
    let cycle = course[last..].to_vec();
    let mut later = settled.period_s;
    while !cycle.is_empty() && end + later - settled.period_s < view_s && course.len() < 10 * MOST_POINTS {
        course.extend(cycle.iter().map(|&(at, level)| (at + later, level)));
        later += settled.period_s;
    }
}
