//! The plant cut at its stores: flows that feel each other whatever the stores do.
//!
//! A header with a store that is neither empty nor full makes up any difference, so flows on either side of it do not feel each
//! other. Blocks are what is left together when all headers with stores are cut.

use super::part::Sets;
use super::system::{Drive, System};

/// A system in blocks.
#[derive(Clone, Debug)]
pub struct Blocks {
    /// Flows by block, in order.
    pub members: Vec<Vec<usize>>,
    /// Headers by block at which it can be cut off from others.
    pub cuts: Vec<Vec<usize>>,
    /// Blocks by header, those of headers that cut.
    pub on: Vec<Vec<usize>>,
    /// By header, whether blocks are cut there.
    pub is_cut: Vec<bool>,
    /// By header, whether an unlimited way out is on it.
    pub overflows: Vec<bool>,
    /// By header, taps and wanted units that give to it.
    pub taps: Vec<Vec<usize>>,
    /// By switch, the blocks of what it runs.
    pub of_contact: Vec<Vec<usize>>,
    /// By thermostat, the blocks of what it runs.
    pub of_thermostat: Vec<Vec<usize>>,
    /// By pattern, its block.
    pub of_course: Vec<usize>,
    /// By dial, its block.
    pub of_dial: Vec<usize>,
    /// By flow, its block.
    pub of_flow: Vec<usize>,
    /// By header that does not cut, the block it is in.
    pub of_header: Vec<Option<usize>>,
}

impl Blocks {
    /// Cuts a system. Nothing stands between flows on a header with fixed lines, or with a tap that has no rate.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let (flows, headers) = (system.flows.len(), system.mains.len());
        let is_cut: Vec<bool> =
            system.mains.iter().map(|main| !main.stores.is_empty() && main.lines.is_none() && !main.endless).collect();
        let mut sets = Sets::new(flows + headers);
        for (at, flow) in system.flows.iter().enumerate() {
            for &(header, _) in flow.on.iter().filter(|on| !is_cut[on.0]) {
                sets.join(at, flows + header);
            }
        }
        let mut number = vec![usize::MAX; flows];
        let mut members: Vec<Vec<usize>> = Vec::new();
        let mut of_flow = Vec::with_capacity(flows);
        for at in 0..flows {
            let root = sets.find(at);
            if number[root] == usize::MAX {
                number[root] = members.len();
                members.push(Vec::new());
            }
            members[number[root]].push(at);
            of_flow.push(number[root]);
        }
        let mut cuts = vec![Vec::new(); members.len()];
        let mut on = vec![Vec::new(); headers];
        let mut overflows = vec![false; headers];
        let mut taps = vec![Vec::new(); headers];
        let mut of_header = vec![None; headers];
        for (at, flow) in system.flows.iter().enumerate() {
            let block = of_flow[at];
            for &(header, rate) in &flow.on {
                if is_cut[header] {
                    if !cuts[block].contains(&header) {
                        cuts[block].push(header);
                        on[header].push(block);
                    }
                } else {
                    of_header[header] = Some(block);
                }
                overflows[header] |= flow.drive == Drive::Surplus && flow.most == f64::INFINITY;
                if flow.drive == Drive::Tapped && rate > 0.0 {
                    taps[header].push(at);
                }
            }
        }
        let mut of_contact = vec![Vec::new(); system.contacts.len()];
        let mut of_course = vec![usize::MAX; system.courses.len()];
        let (relays, marks) = system.warm.as_ref().map_or((0, 0), |w| (w.network.thermostats.len(), w.dials.len()));
        let mut of_thermostat = vec![Vec::new(); relays];
        let mut of_dial = vec![usize::MAX; marks];
        for (at, flow) in system.flows.iter().enumerate() {
            for &gate in &flow.gates {
                if !of_contact[gate].contains(&of_flow[at]) {
                    of_contact[gate].push(of_flow[at]);
                }
            }
            for &gate in &flow.thermostats {
                if !of_thermostat[gate].contains(&of_flow[at]) {
                    of_thermostat[gate].push(of_flow[at]);
                }
            }
            if let Some(course) = flow.course {
                of_course[course] = of_flow[at];
            }
            if let Some(dial) = flow.dial {
                of_dial[dial] = of_flow[at];
            }
        }
        Self {
            members,
            cuts,
            on,
            is_cut,
            overflows,
            taps,
            of_contact,
            of_thermostat,
            of_course,
            of_dial,
            of_flow,
            of_header,
        }
    }
}
