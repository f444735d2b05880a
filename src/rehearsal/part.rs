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
    let mut sets = Sets::new(system.mains.len());
    for flow in &system.flows {
        for pair in flow.on.windows(2) {
            sets.join(pair[0].0, pair[1].0);
        }
        for &gate in &flow.gates {
            let watched = system.tanks[system.contacts[gate].store].header;
            if let Some(&(header, _)) = flow.on.first() {
                sets.join(watched, header);
            }
        }
    }
    let headers = system.mains.len();
    let mut part_of = vec![usize::MAX; headers];
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
    for flow in &system.flows {
        // A unit that neither takes nor gives anything has no part; nothing of it flows.
        let Some(&(first, _)) = flow.on.first() else { continue };
        let part = &mut parts[part_of[first]];
        let mut flow = flow.clone();
        flow.on.iter_mut().for_each(|(header, _)| *header = header_at[*header]);
        flow.gates.iter_mut().for_each(|gate| *gate = contact_at[*gate]);
        flow.course = flow.course.map(|course| {
            part.system.courses.push(system.courses[course].clone());
            part.system.courses.len() - 1
        });
        part.system.flows.push(flow);
    }
    parts
}

fn empty() -> System {
    System { flows: Vec::new(), tanks: Vec::new(), contacts: Vec::new(), mains: Vec::new(), courses: Vec::new() }
}
