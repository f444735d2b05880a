//! Events, by what happens to whom.

use super::Source;
use crate::heat::LimitOf;
use crate::questions::fill_level::figures::EventFigures;
use crate::rehearsal::{Event, Turn, What};

/// The most events listed; the rest is counted.
pub const MOST_EVENTS: usize = 200;

impl Source<'_, '_> {
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
