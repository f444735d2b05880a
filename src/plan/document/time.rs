//! The sections about time: stores, switches, patterns, loops, and where things stand now.

use crate::plan::FaultCode;
use crate::plan::amount::{Amount, Capacity, Loses, Vessel};
use crate::plan::field::{
    Duration, HeaderName, Mass, MassFlow, Name, Period, Quantity, Rank, RateShare, Share, SomeMass, Title, Whole,
};
use crate::plan::map::{List, OneOrMore, Section};
use crate::plan::model::{Course, Pattern, Seasons, Start, Step};
use crate::plan::node::Node;
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::temperature::{AnyTemperature, Temperature};
use crate::plan::wire::{Check, Wire, document};
use crate::quantity::{Time, print};

document! {
    /// Something that holds what a header carries. Amounts are in kg, on `power` in J; a share is one of the capacity.
    /// One that leaves full or empty counts as full or empty until the next moment at which anything happens in its part of the
    /// plant: a tap or a wanted unit that would refill it begins then and not before.
    StoreDoc = "Store" {
        /// The header it stands on.
        must header: HeaderName,
        /// What it holds when full: kg, on `power` J.
        must capacity: Capacity,
        /// What it holds at time zero; nothing unless said.
        may level: Amount,
        /// The level LL of ISA-5.1: below it, what depends on the store must stop.
        may low_low: Amount,
        /// The level L of ISA-5.1: below it, someone should know.
        may low: Amount,
        /// The level H of ISA-5.1: above it, someone should know.
        may high: Amount,
        /// The level HH of ISA-5.1: above it, what fills the store must stop.
        may high_high: Amount,
        /// What it loses by standing: a share of its contents per time, or a rate in kg/s, on `power` in W.
        may loses: Loses,
        /// Taps and wanted units of a rank up to this fill it, those of a later rank are the reserve behind it; 1 unless said.
        may rank: Whole<Rank>,
    }

    /// Starts and stops things by the level of a store. Where `start_at` is above `stop_at` it drains: it starts at or above the
    /// one and stops at or below the other; the other way about it fills. Several switches on one target let it run only while
    /// all of them are on.
    SwitchDoc = "Switch" {
        /// The store it watches.
        must watch: Name,
        /// The level at which it starts.
        must start_at: Amount,
        /// The level at which it stops; not the same.
        must stop_at: Amount,
        /// What it starts and stops: units, supplies, demands, coolers, turbines or hot sources.
        must runs: OneOrMore<Name>,
        /// Whether it is on at time zero; false unless said.
        may on: bool,
    }

    /// A pulse that repeats, perhaps within a longer cycle of active and dormant times.
    PulseDoc = "PulsePattern" {
        /// Length of one pulse, in s.
        must on: Quantity<Duration>,
        /// From the start of one pulse to the start of the next, in s.
        must every: Quantity<Period>,
        /// The start of the first pulse, in s; 0 unless said. Before it there is nothing.
        may offset: Quantity<Duration>,
        /// Whether it is on at time zero; goes with `next_change_in`, and stands instead of `offset`.
        may now_on: bool,
        /// How long until the pulse or the pause that is under way at time zero ends, in s; goes with `now_on`.
        may next_change_in: Quantity<Duration>,
        /// How much of its cycle, which begins with the pulse, is over at time zero, in s; stands instead of `offset`.
        may elapsed: Quantity<Duration>,
        /// How long it is active before it is dormant, in s; goes with `dormant`.
        may active: Quantity<Period>,
        /// How long it is dormant before it is active again, in s; goes with `active`.
        may dormant: Quantity<Duration>,
        /// How much of the longer cycle, which begins with `active`, is over at time zero, in s; 0 unless said.
        may season_elapsed: Quantity<Duration>,
    }

    /// Shares of a rate, step after step, again and again, perhaps within a longer cycle of active and dormant times.
    StepsDoc = "StepPattern" {
        /// The steps of one cycle, in order.
        must steps: List<StepDoc>,
        /// The start of the first cycle, in s; 0 unless said. Before it there is nothing.
        may offset: Quantity<Duration>,
        /// How much of its cycle is over at time zero, in s; stands instead of `offset`.
        may elapsed: Quantity<Duration>,
        /// How long it is active before it is dormant, in s; goes with `dormant`.
        may active: Quantity<Period>,
        /// How long it is dormant before it is active again, in s; goes with `active`.
        may dormant: Quantity<Duration>,
        /// How much of the longer cycle, which begins with `active`, is over at time zero, in s; 0 unless said.
        may season_elapsed: Quantity<Duration>,
    }

    /// One step of a pattern.
    StepDoc = "PatternStep" {
        /// How long it lasts, in s.
        must length as "for": Quantity<Period>,
        /// The share of the rate meanwhile.
        must share: Quantity<RateShare>,
    }

    /// A closed loop and the charge in it. What circulates at least is said as `least`, or as `flow` with `round_trip`.
    LoopDoc = "Loop" {
        /// What circulates in it.
        must coolant: Title,
        /// What it holds when brim-full, in kg.
        must holds: Quantity<SomeMass>,
        /// What is in it, cold, in kg.
        must charge: Quantity<Mass>,
        /// What must stay free as a gap that moves round with the flow, in kg; nothing unless said.
        may keep_free: Quantity<Mass>,
        /// The share by which the charge grows when it is hot; nothing unless said.
        may expands: Quantity<Share>,
        /// The wanted flow, in kg/s; goes with `round_trip`.
        may flow: Quantity<MassFlow>,
        /// The time once around at that flow, in s; goes with `flow`.
        may round_trip: Quantity<Duration>,
        /// The least charge that circulates, in kg.
        may least: Quantity<Mass>,
    }

    /// Where things stand now: it takes the place of what the plan says of time zero, so that a panel asks with live readings
    /// and an unchanged plan.
    NowDoc = "Now" {
        /// Levels by store.
        may levels: Section<Amount>,
        /// Whether it is on, by switch or thermostat.
        may switches: Section<bool>,
        /// Where the pattern stands, by supply, demand or hot source.
        may patterns: Section<NowPatternDoc>,
        /// Temperatures by zone, in °C.
        may temperatures: Section<Temperature<AnyTemperature>>,
    }

    /// Where a pattern stands now: `now_on` with `next_change_in`, or `elapsed`.
    NowPatternDoc = "PatternNow" {
        /// Whether it is on; goes with `next_change_in`, and only where the pattern is one of pulses.
        may now_on: bool,
        /// How long until the pulse or the pause that is under way ends, in s; goes with `now_on`.
        may next_change_in: Quantity<Duration>,
        /// How much of its cycle is over, in s.
        may elapsed: Quantity<Duration>,
        /// How much of the longer cycle of active and dormant times is over, in s.
        may season_elapsed: Quantity<Duration>,
    }
}

impl Check for SwitchDoc {}
impl Check for PulseDoc {}
impl Check for StepsDoc {}
impl Check for StepDoc {}
impl Check for NowDoc {}
impl Check for NowPatternDoc {}

impl StoreDoc {
    /// What amounts in it are held against; `None` where its capacity is at fault.
    pub fn vessel(&self, reader: &Reader<'_>) -> Option<Vessel> {
        let carries = reader.carried(self.header.0);
        self.capacity.fits(carries).then(|| Vessel { carries, capacity: self.capacity.si() })
    }
}

impl Check for StoreDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let document = reader.document;
        let carries = reader.carried(self.header.0);
        if let (Some(loses), Some(child)) = (self.loses, document.field(node, "loses")) {
            loses.on(carries, child, &place.below("loses"), reader);
        }
        if let Some(child) = document.field(node, "capacity") {
            self.capacity.on(carries, child, &place.below("capacity"), reader);
        }
        let Some(store) = self.vessel(reader) else { return };
        let mut below: Option<(&str, f64)> = None;
        for (name, amount) in [
            ("level", &mut self.level),
            ("low_low", &mut self.low_low),
            ("low", &mut self.low),
            ("high", &mut self.high),
            ("high_high", &mut self.high_high),
        ] {
            let (Some(amount), Some(child)) = (amount, document.field(node, name)) else { continue };
            let Some(si) = amount.settle(store, child, &place.below(name), reader) else { continue };
            if name == "level" {
                continue;
            }
            if let Some((lower, least)) = below
                && si < least
            {
                let print = |amount| store.carries.print_amount(amount);
                reader.contradiction(
                    child,
                    &place.below(name),
                    || format!("{name} {} and {lower} {}", print(si), print(least)),
                    || "low_low, low, high and high_high in this order".to_owned(),
                );
            }
            below = Some((name, si));
        }
    }
}

impl Check for LoopDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        reader.together(node, place, ["flow", "round_trip"]);
        reader.one_of(node, place, &["least", "flow"]);
        if let Some(free) = self.keep_free
            && free.0 >= self.holds.0
        {
            reader.contradiction(
                node,
                &place.below("keep_free"),
                || format!("{} to keep free of {}", print(free.0), print(self.holds.0)),
                || "less than the loop holds".to_owned(),
            );
        }
    }
}

/// What may be said of where a pattern stands at time zero.
#[derive(Clone, Copy)]
pub(super) struct Standing {
    offset: Option<Quantity<Duration>>,
    now_on: Option<bool>,
    next_change_in: Option<Quantity<Duration>>,
    elapsed: Option<Quantity<Duration>>,
}

impl Standing {
    /// Where the pattern stands; `None` where nothing is said of it, or nothing that can be.
    fn start<'n>(
        self,
        course: &Course,
        cycle: Time,
        node: &'n Node<'n>,
        place: &Place<'_>,
        reader: &mut Reader<'n>,
    ) -> Option<Start> {
        if !reader.one_of(node, place, &["offset", "elapsed", "next_change_in"]) {
            return None;
        }
        reader.together(node, place, ["now_on", "next_change_in"]);
        if let (Some(next), Some(now_on)) = (self.next_change_in, self.now_on) {
            return next_change(course, now_on, next.0, node, &place.below("next_change_in"), reader);
        }
        if let Some(elapsed) = self.elapsed {
            return within(elapsed.0, cycle, "cycle", node, &place.below("elapsed"), reader).map(Start::Underway);
        }
        self.offset.map(|offset| Start::At(offset.0))
    }
}

fn next_change<'n>(
    course: &Course,
    now_on: bool,
    next: Time,
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) -> Option<Start> {
    let Course::Pulse { on, every } = *course else {
        reader.contradiction(
            node,
            place,
            || "the next change of a pattern of steps".to_owned(),
            || "elapsed: how much of its cycle is over".to_owned(),
        );
        return None;
    };
    if now_on && next > on {
        reader.contradiction(
            node,
            place,
            || format!("on for {} yet", print(next)),
            || format!("no longer than the pulse, which is {}", print(on)),
        );
        return None;
    }
    if !now_on && next > every - on {
        // A longer wait than any pause is one for the first pulse.
        return Some(Start::At(next));
    }
    let elapsed = if now_on { on - next } else { every - next };
    Some(Start::Underway(if elapsed >= every { Time::ZERO } else { elapsed }))
}

/// A time that lies within a cycle; all of it is none of the next.
fn within<'n>(
    elapsed: Time,
    cycle: Time,
    what: &str,
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) -> Option<Time> {
    if elapsed > cycle {
        reader.contradiction(
            node,
            place,
            || format!("{} of a {what} of {}", print(elapsed), print(cycle)),
            || format!("no more than the {what}"),
        );
        return None;
    }
    Some(if elapsed == cycle { Time::ZERO } else { elapsed })
}

/// The longer cycle of a pattern, as its three fields say it.
fn seasons<'n>(
    active: Option<Quantity<Period>>,
    dormant: Option<Quantity<Duration>>,
    elapsed: Option<Quantity<Duration>>,
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) -> Option<Seasons> {
    reader.together(node, place, ["active", "dormant"]);
    if elapsed.is_some() && reader.document.field(node, "active").is_none() {
        reader.missing(node, place, "active");
    }
    let (active, dormant) = (active?.0, dormant?.0);
    let elapsed = elapsed.map_or(Some(Time::ZERO), |elapsed| {
        within(elapsed.0, active + dormant, "longer cycle", node, &place.below("season_elapsed"), reader)
    })?;
    Some(Seasons { active, dormant, elapsed })
}

/// When something comes and goes: pulses, or steps.
#[derive(Debug)]
pub(in crate::plan) struct PatternDoc(pub Pattern);

impl Wire for PatternDoc {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let has = |name: &str| reader.document.field(node, name).is_some();
        let (course, standing, seasons) = if has("steps") || (has("step") && !has("on") && !has("every")) {
            let doc = StepsDoc::read(node, place, reader)?;
            let steps = doc.steps.0.iter().map(|step| Step { length: step.length.0, share: step.share.0.si() });
            let standing = Standing { offset: doc.offset, now_on: None, next_change_in: None, elapsed: doc.elapsed };
            let seasons = seasons(doc.active, doc.dormant, doc.season_elapsed, node, place, reader);
            (Course::Steps(steps.collect()), standing, seasons)
        } else {
            let doc = PulseDoc::read(node, place, reader)?;
            let (on, every) = (doc.on.0, doc.every.0);
            let seasons = seasons(doc.active, doc.dormant, doc.season_elapsed, node, place, reader);
            if on > every {
                reader.contradiction(
                    node,
                    &place.below("on"),
                    || format!("on for {} s of every {} s", on.si(), every.si()),
                    || "on no longer than every".to_owned(),
                );
                return None;
            }
            let standing = Standing {
                offset: doc.offset,
                now_on: doc.now_on,
                next_change_in: doc.next_change_in,
                elapsed: doc.elapsed,
            };
            (Course::Pulse { on, every }, standing, seasons)
        };
        let mut pattern = Pattern { course, start: Start::At(Time::ZERO), seasons };
        let start = standing.start(&pattern.course, pattern.cycle(), node, place, reader);
        pattern.start = start.unwrap_or(pattern.start);
        Some(Self(pattern))
    }
}

impl NowPatternDoc {
    /// Sets the pattern to where it stands now.
    pub fn set<'n>(&self, pattern: &mut Pattern, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let Self { now_on, next_change_in, elapsed, season_elapsed } = *self;
        let standing = Standing { offset: None, now_on, next_change_in, elapsed };
        if let Some(start) = standing.start(&pattern.course, pattern.cycle(), node, place, reader) {
            pattern.start = start;
        }
        let Some(season_elapsed) = season_elapsed else { return };
        let place = place.below("season_elapsed");
        let Some(seasons) = &mut pattern.seasons else {
            reader.fault(node, &place, FaultCode::Contradiction, |_| Detail {
                found: "a pattern without active and dormant times".to_owned(),
                expected: "a pattern that has them".to_owned(),
                near: None,
            });
            return;
        };
        let cycle = seasons.active + seasons.dormant;
        if let Some(elapsed) = within(season_elapsed.0, cycle, "longer cycle", node, &place, reader) {
            seasons.elapsed = elapsed;
        }
    }
}
