//! The plant in parts that do not act on each other: connected by headers, units and switches. Each is rehearsed alone.

use super::system::System;

/// A part, with its lists numbered anew.
#[derive(Clone, Debug)]
pub struct Part {
    /// The part as a system of its own. Headers keep none but their own stores.
    pub system: System,
    /// The plan's store of each of its stores.
    pub tanks: Vec<usize>,
    /// The plan's switch of each of its switches.
    pub contacts: Vec<usize>,
}

/// Sets with union and find.
#[derive(Debug)]
pub struct Sets {
    parent: Vec<usize>,
}

impl Sets {
    /// So many, each alone.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self { parent: (0..count).collect() }
    }

    /// Who stands for the set that has `at`.
    pub fn find(&mut self, mut at: usize) -> usize {
        while self.parent[at] != at {
            self.parent[at] = self.parent[self.parent[at]];
            at = self.parent[at];
        }
        at
    }

    /// Makes one set of two.
    pub fn join(&mut self, one: usize, other: usize) {
        let (one, other) = (self.find(one), self.find(other));
        // The smaller number stands for both, so that the order of the plan decides.
        self.parent[one.max(other)] = one.min(other);
    }
}

/// Splits a system. Parts are in the order of their first header; headers that nothing touches are in none.
#[must_use]
pub fn split(system: &System) -> Vec<Part> {
    let (headers, zones) = (system.mains.len(), system.mains.len());
    let mut sets = joined(system);
    let mut part_of = vec![usize::MAX; headers + 1];
    let mut parts: Vec<Part> = Vec::new();
    let mut header_at = vec![0; headers];
    let mut used = vec![false; headers];
    for flow in &system.flows {
        flow.on.iter().for_each(|&(header, _)| used[header] = true);
    }
    for tank in &system.tanks {
        used[tank.header] = true;
    }
    for header in (0..headers).filter(|&header| used[header]) {
        let root = sets.find(header);
        if part_of[root] == usize::MAX {
            part_of[root] = parts.len();
            parts.push(Part { system: empty(), tanks: Vec::new(), contacts: Vec::new() });
        }
        part_of[header] = part_of[root];
        let part = &mut parts[part_of[header]];
        header_at[header] = part.system.mains.len();
        let mut main = system.mains[header].clone();
        main.stores.clear();
        part.system.mains.push(main);
    }
    if system.warm.is_some() {
        // What has joined a header stands with it; its own place says so too.
        let root = sets.find(zones);
        if part_of[root] == usize::MAX {
            part_of[root] = parts.len();
            parts.push(Part { system: empty(), tanks: Vec::new(), contacts: Vec::new() });
        }
        part_of[zones] = part_of[root];
    }
    let mut tank_at = vec![0; system.tanks.len()];
    for (at, tank) in system.tanks.iter().enumerate() {
        let part = &mut parts[part_of[tank.header]];
        tank_at[at] = part.tanks.len();
        part.tanks.push(at);
        let header = header_at[tank.header];
        part.system.mains[header].stores.push(tank_at[at]);
        part.system.tanks.push(super::system::Tank { header, ..*tank });
    }
    let mut contact_at = vec![0; system.contacts.len()];
    for (at, contact) in system.contacts.iter().enumerate() {
        let part = &mut parts[part_of[system.tanks[contact.store].header]];
        contact_at[at] = part.contacts.len();
        part.contacts.push(at);
        part.system.contacts.push(super::system::Contact { store: tank_at[contact.store], ..*contact });
    }
    let mut flow_at = vec![usize::MAX; system.flows.len()];
    for (at, flow) in system.flows.iter().enumerate() {
        // A unit that neither takes nor gives anything stands with the zones, or nowhere: nothing of it flows.
        let first = flow.on.first().map_or(zones, |&(header, _)| header);
        let Some(part) = parts.get_mut(part_of[first]) else { continue };
        let mut flow = flow.clone();
        flow.on.iter_mut().for_each(|(header, _)| *header = header_at[*header]);
        flow.gates.iter_mut().for_each(|gate| *gate = contact_at[*gate]);
        flow.course = flow.course.map(|course| copy(&mut part.system, system, course));
        flow_at[at] = part.system.flows.len();
        part.system.flows.push(flow);
    }
    if let Some(warm) = &system.warm {
        let part = &mut parts[part_of[zones]].system;
        let mut warm = warm.clone();
        warm.machines.iter_mut().for_each(|(flow, _)| *flow = flow_at[*flow]);
        warm.dials.iter_mut().for_each(|dial| dial.flow = flow_at[dial.flow]);
        for driven in &mut warm.driven {
            driven.gates.iter_mut().for_each(|gate| *gate = contact_at[*gate]);
            driven.course = driven.course.map(|course| copy(part, system, course));
            driven.powered_by = driven.powered_by.map(|flow| flow_at[flow]);
        }
        part.warm = Some(warm);
    }
    parts
}

/// Headers that act on each other, the zones standing behind the last of them.
fn joined(system: &System) -> Sets {
    let zones = system.mains.len();
    let mut sets = Sets::new(zones + 1);
    let watched = |gate: usize| system.tanks[system.contacts[gate].store].header;
    if let Some(warm) = &system.warm {
        for flow in warm.linked(system) {
            flow.on.iter().for_each(|&(header, _)| sets.join(header, zones));
        }
        for &gate in warm.driven.iter().flat_map(|driven| &driven.gates) {
            sets.join(watched(gate), zones);
        }
    }
    for flow in &system.flows {
        for pair in flow.on.windows(2) {
            sets.join(pair[0].0, pair[1].0);
        }
        let stands = flow.on.first().map_or(zones, |&(header, _)| header);
        flow.gates.iter().for_each(|&gate| sets.join(watched(gate), stands));
    }
    sets
}

/// A pattern goes with what it drives.
fn copy(part: &mut System, system: &System, course: usize) -> usize {
    part.courses.push(system.courses[course].clone());
    part.courses.len() - 1
}

fn empty() -> System {
    System {
        flows: Vec::new(),
        tanks: Vec::new(),
        contacts: Vec::new(),
        mains: Vec::new(),
        courses: Vec::new(),
        warm: None,
    }
}
