//! What holds between the sections: names that one uses and another has, and levels of stores that switches speak of.

use std::collections::{HashMap, HashSet};

use super::time::{StoreDoc, SwitchDoc};
use super::{AimDoc, PlanDocument};
use crate::plan::FaultCode;
use crate::plan::map::Section;
use crate::plan::node::{Document, Entry, Node, quoted};
use crate::plan::reader::{Detail, Place, Reader};

/// The names of a section as they are written, so that a thing with a fault of its own is not called unknown besides.
pub(super) struct Written<'n> {
    what: &'static str,
    names: HashSet<&'n str>,
}

pub(super) fn section<'n>(document: &'n Document<'n>, node: &'n Node<'n>, path: &[&str]) -> &'n [Entry<'n>] {
    let found = path.iter().try_fold(node, |node, name| document.field(node, name));
    found.and_then(|node| document.entries(node)).unwrap_or_default()
}

impl<'n> Written<'n> {
    pub fn of(document: &'n Document<'n>, node: &'n Node<'n>, name: &str, what: &'static str) -> Self {
        let names = section(document, node, &[name]).iter().map(|(name, _)| name.as_ref()).collect();
        Self { what, names }
    }

    pub fn has(&self, name: &str) -> bool {
        self.names.contains(name)
    }
}

/// Notes a name that none of these sections has.
pub(super) fn unknown<'n>(
    name: &str,
    of: &[&Written<'n>],
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) {
    reader.fault(node, place, FaultCode::UnknownName, |near| {
        let kinds: Vec<&str> = of.iter().map(|written| written.what).collect();
        // In order, so that of two names equally near it is the same every time.
        let mut known: Vec<&str> = of.iter().flat_map(|written| written.names.iter().copied()).collect();
        known.sort_unstable();
        let what = if let [only] = kinds.as_slice() { only } else { "name" };
        Detail {
            found: format!("the {what} {}", quoted(name)),
            expected: format!("the name of a {} of the plan", kinds.join(" or ")),
            near: near.search(name, known.into_iter()),
        }
    });
}

/// The things of a section by name.
fn by_name<T>(section: &mut Option<Section<T>>) -> HashMap<&str, &mut T> {
    section.iter_mut().flat_map(|section| &mut section.0).map(|(name, thing)| (name.as_str(), thing)).collect()
}

impl PlanDocument {
    /// Notes what does not hold between the sections, and settles what one says of another.
    pub(super) fn check_across<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        self.aim_names(node, place, reader);
        let known = Known::of(reader.document, node);
        self.check_heat(node, place, &known, reader);
        self.check_floor(node, place, reader);
        if self.switches.is_none() && self.now.is_none() {
            return;
        }
        let document = reader.document;
        let mut stores = by_name(&mut self.stores);
        let mut switches = by_name(&mut self.switches);
        let at = place.below("switches");
        let mut met = HashSet::new();
        for (name, child) in section(document, node, &["switches"]) {
            // A name that stands there twice is a fault already, and its first bearer was checked.
            if let (Some(switch), true) = (switches.get_mut(name.as_ref()), met.insert(name.as_ref())) {
                known.check_switch(switch, &stores, child, &at.below(name), reader);
            }
        }
        let Some(now) = &mut self.now else { return };
        let at = place.below("now");
        let mut levels = by_name(&mut now.levels);
        for (name, child) in section(document, node, &["now", "levels"]) {
            let (above, Some(level)) = (at.below("levels"), levels.remove(name.as_ref())) else { continue };
            let place = above.below(name);
            if let Some(store) = stores.get_mut(name.as_ref()) {
                if let Some(vessel) = store.vessel(reader) {
                    level.settle(vessel, child, &place, reader);
                    store.level = Some(*level);
                }
            } else if !known.stores.has(name) {
                unknown(name, &[&known.stores], child, &place, reader);
            }
        }
        let mut states = by_name(&mut now.switches);
        let mut thermostats = by_name(&mut self.thermostats);
        for (name, child) in section(document, node, &["now", "switches"]) {
            let (above, Some(on)) = (at.below("switches"), states.remove(name.as_ref())) else { continue };
            if !only_one(name, &[&known.switches, &known.thermostats], child, &above.below(name), reader) {
                continue;
            }
            if let Some(switch) = switches.get_mut(name.as_ref()) {
                switch.on = Some(*on);
            } else if let Some(thermostat) = thermostats.get_mut(name.as_ref()) {
                thermostat.on = Some(*on);
            }
        }
        let mut temperatures = by_name(&mut now.temperatures);
        let mut zones = by_name(&mut self.zones);
        for (name, child) in section(document, node, &["now", "temperatures"]) {
            let (above, Some(read)) = (at.below("temperatures"), temperatures.remove(name.as_ref())) else { continue };
            if let Some(zone) = zones.get_mut(name.as_ref()) {
                zone.at = *read;
            } else if !known.zones.has(name) {
                unknown(name, &[&known.zones], child, &above.below(name), reader);
            }
        }
        let mut patterns = by_name(&mut now.patterns);
        let mut supplies = by_name(&mut self.supplies);
        let mut demands = by_name(&mut self.demands);
        let mut hot_sources = by_name(&mut self.hot_sources);
        for (name, child) in section(document, node, &["now", "patterns"]) {
            let (above, Some(pattern)) = (at.below("patterns"), patterns.remove(name.as_ref())) else { continue };
            let place = above.below(name);
            if !only_one(name, &[&known.supplies, &known.demands, &known.hot_sources], child, &place, reader) {
                continue;
            }
            let supply = supplies.get_mut(name.as_ref()).map(|supply| &mut supply.pattern);
            let demand = demands.get_mut(name.as_ref()).map(|demand| &mut demand.pattern);
            let source = hot_sources.get_mut(name.as_ref()).map(|source| &mut source.pattern);
            let Some(own) = supply.or(demand).or(source) else { continue };
            match own {
                Some(own) => pattern.set(&mut own.0, child, &place, reader),
                None => reader.contradiction(
                    child,
                    &place,
                    || format!("{}, which has no pattern", quoted(name)),
                    || "a supply, a demand or a hot source with a pattern".to_owned(),
                ),
            }
        }
    }

    fn aim_names<'n>(&self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        if !matches!(self.aim, Some(AimDoc::Run(_))) {
            return;
        }
        let document = reader.document;
        let units = Written::of(document, node, "units", "unit");
        let (aim, run) = (place.below("aim"), "run");
        let above = aim.below(run);
        for (name, child) in section(document, node, &["aim", "run"]) {
            if !units.has(name) {
                unknown(name, &[&units], child, &above.below(name), reader);
            }
        }
    }
}

/// The names that one section uses and another has.
pub(super) struct Known<'n> {
    pub substances: Written<'n>,
    pub units: Written<'n>,
    pub supplies: Written<'n>,
    pub demands: Written<'n>,
    pub zones: Written<'n>,
    pub coolers: Written<'n>,
    pub turbines: Written<'n>,
    pub hot_sources: Written<'n>,
    pub thermostats: Written<'n>,
    pub stores: Written<'n>,
    pub switches: Written<'n>,
}

impl<'n> Known<'n> {
    fn of(document: &'n Document<'n>, node: &'n Node<'n>) -> Self {
        let names = |name, what| Written::of(document, node, name, what);
        Self {
            substances: names("substances", "substance"),
            units: names("units", "unit"),
            supplies: names("supplies", "supply"),
            demands: names("demands", "demand"),
            zones: names("zones", "zone"),
            coolers: names("coolers", "cooler"),
            turbines: names("turbines", "turbine"),
            hot_sources: names("hot_sources", "hot source"),
            thermostats: names("thermostats", "thermostat"),
            stores: names("stores", "store"),
            switches: names("switches", "switch"),
        }
    }

    fn check_switch(
        &self,
        switch: &mut SwitchDoc,
        stores: &HashMap<&str, &mut StoreDoc>,
        node: &'n Node<'n>,
        place: &Place<'_>,
        reader: &mut Reader<'n>,
    ) {
        let document = reader.document;
        let part = |name| document.field(node, name).unwrap_or(node);
        if let Some(store) = stores.get(switch.watch.0.as_str()) {
            let Some(store) = store.vessel(reader) else { return };
            let start = switch.start_at.settle(store, part("start_at"), &place.below("start_at"), reader);
            let stop = switch.stop_at.settle(store, part("stop_at"), &place.below("stop_at"), reader);
            if let (Some(start), Some(stop)) = (start, stop)
                && start.total_cmp(&stop).is_eq()
            {
                reader.contradiction(
                    part("stop_at"),
                    &place.below("stop_at"),
                    || format!("start_at and stop_at both {}", store.carries.print_amount(start)),
                    || "two levels: with no deadband it would start and stop without end".to_owned(),
                );
            }
        } else if !self.stores.has(&switch.watch.0) {
            unknown(&switch.watch.0, &[&self.stores], part("watch"), &place.below("watch"), reader);
        }
        let (runs, at) = (part("runs"), place.below("runs"));
        let list = document.items(runs);
        let mut met = HashSet::new();
        for (index, name) in switch.runs.0.iter().enumerate() {
            let index_text = index.to_string();
            let (child, place) = match list.and_then(|list| list.get(index)) {
                Some(child) => (child, at.below(&index_text)),
                None => (runs, at),
            };
            if met.insert(name.0.as_str()) {
                let of = [&self.units, &self.supplies, &self.demands, &self.coolers, &self.turbines, &self.hot_sources];
                only_one(&name.0, &of, child, &place, reader);
            } else {
                reader.fault(child, &place, FaultCode::DuplicateField, |_| Detail {
                    found: format!("{} a second time", quoted(&name.0)),
                    expected: "each name once".to_owned(),
                    near: None,
                });
            }
        }
    }
}

/// Notes a name that no section has, or more than one; true where neither.
pub(super) fn only_one<'n>(
    name: &str,
    of: &[&Written<'n>],
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) -> bool {
    let kinds: Vec<&str> = of.iter().filter(|written| written.has(name)).map(|written| written.what).collect();
    match kinds.as_slice() {
        [_] => return true,
        [] => unknown(name, of, node, place, reader),
        several => reader.contradiction(
            node,
            place,
            || format!("{}, which is both a {}", quoted(name), several.join(" and a ")),
            || "a name that only one thing has: give one of them another".to_owned(),
        ),
    }
    false
}
