//! What there is to draw: boxes and bands, the smallest gathered together where there are too many.

use std::collections::HashMap;

use crate::plan::Carried;
use crate::quantity::{number, percent};
use crate::questions::answer::{Named, one_line};
use crate::questions::flow_balance::{FlowFigures, HeaderFigures, UnitFigures};

/// What a box stands for, and so its shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Supply,
    Header,
    Unit,
    Demand,
    Outlet,
    Trapped,
}

/// A box, or the bar of a header.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub kind: Kind,
    /// What it says, first the name.
    pub lines: Vec<String>,
    /// Run share of a unit, 0 to 1.
    pub share: Option<f64>,
    /// Something is short here.
    pub short: bool,
}

/// A flow between two boxes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub from: usize,
    pub to: usize,
    /// kg/s.
    pub rate: f64,
    /// Which of the band colours.
    pub colour: usize,
}

#[derive(Debug, Default)]
pub(super) struct Graph {
    pub nodes: Vec<Node>,
    pub edges: Vec<Edge>,
}

/// How much is drawn by itself.
#[derive(Clone, Copy, Debug)]
pub(super) struct Most {
    pub units: usize,
    pub headers: usize,
    /// Supplies, and demands, of one header.
    pub ends: usize,
}

fn rate(kg_s: f64) -> String {
    Carried::Matter.print(kg_s)
}

fn name(text: &str) -> String {
    one_line(text, 120)
}

/// The indices of the `most` with the greatest weight, in their first order; where one more would do, that one too.
fn greatest(weights: &[(usize, f64)], most: usize) -> Vec<usize> {
    if weights.len() <= most + 1 {
        return weights.iter().map(|&(at, _)| at).collect();
    }
    let mut sorted = weights.to_vec();
    sorted.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut kept: Vec<usize> = sorted[..most].iter().map(|&(at, _)| at).collect();
    kept.sort_unstable();
    kept
}

struct Builder<'a> {
    balance: &'a FlowFigures,
    graph: Graph,
    /// The node of each header by name, with its colour.
    headers: HashMap<&'a str, (usize, usize)>,
    most: Most,
}

/// The picture's boxes and bands.
pub(super) fn graph(flow: &FlowFigures, most: Most) -> Graph {
    let mut builder = Builder { balance: flow, graph: Graph::default(), headers: HashMap::new(), most };
    let units: Vec<&(_, UnitFigures)> = flow.units.iter().collect();
    let wanted = |unit: &str| flow.aim.as_ref().and_then(|aim| aim.run.get(unit)).is_some_and(|run| run.wanted > 0.0);
    let sum = |flows: &Named<f64>| flows.iter().map(|(_, rate)| rate).sum::<f64>();
    let weights: Vec<(usize, f64)> = units
        .iter()
        .enumerate()
        .map(|(at, (name, unit))| (at, sum(&unit.takes_kg_s) + sum(&unit.gives_kg_s), unit, name))
        .filter(|(_, _, unit, name)| {
            let matters = !unit.takes_kg_s.is_empty() || !unit.gives_kg_s.is_empty();
            matters && (unit.needed > 0.0 || wanted(name))
        })
        .map(|(at, weight, _, _)| (at, weight))
        .collect();
    let kept = greatest(&weights, most.units);
    builder.add_headers(&units, &kept);
    for &at in &kept {
        builder.unit(&units[at].0, &units[at].1);
    }
    let rest: Vec<&UnitFigures> =
        weights.iter().filter(|(at, _)| kept.binary_search(at).is_err()).map(|&(at, _)| &units[at].1).collect();
    if !rest.is_empty() {
        builder.rest(&rest);
    }
    builder.supplies();
    builder.demands();
    builder.ways_out();
    builder.graph
}

impl<'a> Builder<'a> {
    fn add(&mut self, kind: Kind, lines: Vec<String>) -> usize {
        self.graph.nodes.push(Node { kind, lines, share: None, short: false });
        self.graph.nodes.len() - 1
    }

    fn join(&mut self, from: usize, to: usize, rate: f64, colour: usize) {
        self.graph.edges.push(Edge { from, to, rate, colour });
    }

    fn add_headers(&mut self, units: &[&'a (crate::questions::answer::Name, UnitFigures)], kept: &[usize]) {
        let touched: std::collections::HashSet<&str> = kept
            .iter()
            .flat_map(|&at| units[at].1.takes_kg_s.iter().chain(&units[at].1.gives_kg_s))
            .map(|(name, _)| &**name)
            .collect();
        let through = |flow: &HeaderFigures| flow.made_kg_s + flow.supplied_kg_s;
        let headers: Vec<&(_, HeaderFigures)> = self.balance.headers.iter().collect();
        let weights: Vec<(usize, f64)> = headers
            .iter()
            .enumerate()
            .filter(|(_, (name, flow))| {
                let ends = flow.supplied_kg_s + flow.demanded_kg_s + flow.let_out_kg_s + flow.trapped_kg_s > 0.0;
                ends || flow.unserved_kg_s > 0.0 || touched.contains(&**name)
            })
            .map(|(at, (_, flow))| (at, through(flow).max(flow.demanded_kg_s)))
            .collect();
        for (colour, at) in greatest(&weights, self.most.headers).into_iter().enumerate() {
            let (key, flow) = headers[at];
            let mut said = vec![name(key), rate(through(flow))];
            if let (Some(lines), Some(share)) = (flow.lines, flow.line_utilisation_share) {
                let lines = if lines == 1 { "1 line".to_owned() } else { format!("{lines} lines") };
                said.push(format!("{lines}, {}", percent(share)));
            }
            let node = self.add(Kind::Header, said);
            self.graph.nodes[node].short = flow.unserved_kg_s > 0.0;
            self.headers.insert(&**key, (node, colour));
        }
    }

    fn unit(&mut self, key: &str, unit: &'a UnitFigures) {
        let run = match unit.utilisation_share {
            Some(share) => format!("{} × at {}", unit.count, percent(share)),
            None => "none".to_owned(),
        };
        let reached = self.balance.aim.as_ref().and_then(|aim| aim.run.get(key));
        let short = reached.filter(|run| run.got < run.wanted);
        let run = short.map_or(run, |run| format!("{} of {}: short", number(run.got), number(run.wanted)));
        let node = self.add(Kind::Unit, vec![name(key), run]);
        self.graph.nodes[node].share = unit.utilisation_share;
        self.graph.nodes[node].short = short.is_some();
        for (header, rate) in &unit.takes_kg_s {
            if let Some(&(at, colour)) = self.headers.get(&**header) {
                self.join(at, node, *rate, colour);
            }
        }
        for (header, rate) in &unit.gives_kg_s {
            if let Some(&(at, colour)) = self.headers.get(&**header) {
                self.join(node, at, *rate, colour);
            }
        }
    }

    /// All units that are not drawn by themselves, as one box: what they give to a header less what they take from it.
    fn rest(&mut self, rest: &[&'a UnitFigures]) {
        let machines: u64 = rest.iter().map(|unit| u64::from(unit.count)).sum();
        let node = self.add(Kind::Unit, vec![format!("and {} more", rest.len()), format!("{machines} machines")]);
        let mut net: indexmap::IndexMap<&str, f64> = indexmap::IndexMap::new();
        for unit in rest {
            for (header, rate) in &unit.takes_kg_s {
                *net.entry(&**header).or_default() -= rate;
            }
            for (header, rate) in &unit.gives_kg_s {
                *net.entry(&**header).or_default() += rate;
            }
        }
        for (header, rate) in net {
            let Some(&(at, colour)) = self.headers.get(header) else { continue };
            if rate > 0.0 {
                self.join(node, at, rate, colour);
            } else if rate < 0.0 {
                self.join(at, node, -rate, colour);
            }
        }
    }

    fn supplies(&mut self) {
        let balance = self.balance;
        let ends = balance.supplies.iter().filter_map(|(key, supply)| {
            let drawn = supply.drawn_kg_s.filter(|&drawn| drawn > 0.0)?;
            let share = supply.utilisation_share.map_or_else(String::new, |share| format!(", {}", percent(share)));
            let lines = vec![name(key), format!("{}{share}", rate(drawn))];
            Some(End { header: &supply.header, rate: drawn, lines, short: false })
        });
        for (header, end) in self.gathered(ends.collect(), "supplies") {
            let node = self.add(Kind::Supply, end.lines);
            self.join(node, header.0, end.rate, header.1);
        }
    }

    fn demands(&mut self) {
        let balance = self.balance;
        let valued = |header: &str| balance.aim.as_ref().is_some_and(|aim| aim.most.get(header).is_some());
        let mut ends: Vec<End<'a>> = Vec::new();
        for (key, demand) in &balance.demands {
            let (Some(served), Some(demanded)) = (demand.served_kg_s, demand.demanded_kg_s) else { continue };
            let cut = demand.cut_share > 0.0 && !valued(&demand.header);
            let lines = reached(name(key), served, cut.then_some(demanded - served));
            ends.push(End { header: &demand.header, rate: served, lines, short: cut });
        }
        if let Some(aim) = &balance.aim {
            for (header, made) in &aim.make {
                let (Some(got), Some(wanted)) = (made.got_kg_s, made.wanted_kg_s) else { continue };
                let short = got < wanted;
                let lines = reached("aim".to_owned(), got, short.then_some(wanted - got));
                ends.push(End { header, rate: got, lines, short });
            }
            for (header, most) in &aim.most {
                let Some(delivered) = most.delivered_kg_s else { continue };
                if balance.demands.iter().all(|(_, demand)| demand.header != *header) {
                    let lines = vec!["delivered".to_owned(), rate(delivered)];
                    ends.push(End { header, rate: delivered, lines, short: false });
                }
            }
        }
        for (header, end) in self.gathered(ends, "demands") {
            let node = self.add(Kind::Demand, end.lines);
            self.graph.nodes[node].short = end.short;
            self.join(header.0, node, end.rate, header.1);
        }
    }

    fn ways_out(&mut self) {
        let balance = self.balance;
        for (header, flow) in &balance.headers {
            let Some(&(at, colour)) = self.headers.get(&**header) else { continue };
            if flow.let_out_kg_s > 0.0 {
                let node = self.add(Kind::Outlet, vec!["let out".to_owned(), rate(flow.let_out_kg_s)]);
                self.join(at, node, flow.let_out_kg_s, colour);
            }
            if flow.trapped_kg_s > 0.0 {
                let node = self.add(Kind::Trapped, vec!["trapped".to_owned(), rate(flow.trapped_kg_s)]);
                self.join(at, node, flow.trapped_kg_s, colour);
            }
        }
    }

    /// The ends of each header that is drawn, the smallest of one header as one.
    fn gathered(&self, ends: Vec<End<'a>>, what: &str) -> Vec<((usize, usize), End<'a>)> {
        let mut by_header: indexmap::IndexMap<&str, Vec<End<'a>>> = indexmap::IndexMap::new();
        for end in ends {
            by_header.entry(end.header).or_default().push(end);
        }
        let mut gathered = Vec::new();
        for (header, ends) in by_header {
            let Some(&place) = self.headers.get(header) else { continue };
            let weights: Vec<(usize, f64)> = ends.iter().enumerate().map(|(at, end)| (at, end.rate)).collect();
            let kept = greatest(&weights, self.most.ends);
            let mut rest = End { header, rate: 0.0, lines: Vec::new(), short: false };
            let mut more = 0;
            for (at, end) in ends.into_iter().enumerate() {
                if kept.binary_search(&at).is_ok() {
                    gathered.push((place, end));
                } else {
                    more += 1;
                    rest.rate += end.rate;
                    rest.short |= end.short;
                }
            }
            if more > 0 {
                let short = if rest.short { ": short" } else { "" };
                rest.lines = vec![format!("{more} more {what}"), format!("{}{short}", rate(rest.rate))];
                gathered.push((place, rest));
            }
        }
        gathered
    }
}

/// What a demand says; what it lacks on a line of its own, since both rates are wider than a box.
fn reached(name: String, got: f64, lacks: Option<f64>) -> Vec<String> {
    let lacks = lacks.map(|lacks| format!("short {}", rate(lacks)));
    [name, rate(got)].into_iter().chain(lacks).collect()
}

/// A supply or a demand.
struct End<'a> {
    header: &'a str,
    rate: f64,
    lines: Vec<String>,
    short: bool,
}
