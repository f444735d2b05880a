//! Events, by what happens to whom.

use super::Source;
use crate::heat::LimitOf;
use crate::questions::fill_level::figures::EventFigures;
use crate::rehearsal::{Event, Turn, What};

/// The most events listed; the rest is counted.
pub const MOST_EVENTS: usize = 200;

impl Source<'_, '_> {
    /// The first of them. Of one kind at one moment they are in the order of the document.
    pub fn events(&self) -> Vec<EventFigures> {
        let events = &self.case.run.events;
        // As far as the moment lasts at which the list is full.
        let full_s = events.get(MOST_EVENTS - 1).map_or(f64::INFINITY, |event| event.at_s);
        let mut events: Vec<Event> = events.iter().take_while(|event| event.at_s <= full_s).copied().collect();
        let kind = |event: &Event| self.listed(event.what).map(|(kind, ..)| kind);
        for moment in
            events.chunk_by_mut(|one, other| one.at_s.total_cmp(&other.at_s).is_eq() && kind(one) == kind(other))
        {
            moment.sort_by_key(|event| {
                self.listed(event.what).and_then(|(_, places, at)| places.iter().position(|&place| place == at))
            });
        }
        events.iter().take(MOST_EVENTS).map(|event| self.event(event)).collect()
    }

    /// What kind of thing it is that the document lists, how it lists them, and which it is.
    fn listed(&self, what: What) -> Option<(u8, &[usize], usize)> {
        let listed = &self.case.plan.listed;
        match what {
            What::Supply(id, _) => Some((0, &listed.supplies, id.0)),
            What::Demand(id, _) => Some((1, &listed.demands, id.0)),
            What::Empty(id) | What::Full(id) => Some((2, &listed.stores, id.0)),
            What::Start(id) | What::Stop(id) => Some((3, &listed.switches, id.0)),
            _ => None,
        }
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
