//! Where everything stands: columns from left to right along the flow, rows where there are too many columns, and what flows
//! back in lanes below.

use super::super::canvas::width;
use super::graph::{Edge, Graph, Kind};

/// A rectangle to draw in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
}

/// A box where it stands. For the bar of a header the text stands above the bar, which is `bar` high.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Place {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
    /// The part that bands touch: from `height - bar` to `height`.
    pub bar: f64,
}

impl Place {
    pub fn middle(&self) -> f64 {
        self.top + self.height - self.bar / 2.0
    }
}

/// A band: through these points, level at each.
#[derive(Clone, Debug)]
pub(super) struct Band {
    pub edge: usize,
    pub width: f64,
    pub route: Route,
}

#[derive(Clone, Debug)]
pub(super) enum Route {
    /// From left to right through level stretches: (x from, x to, y).
    Forward(Vec<(f64, f64, f64)>),
    /// Right from `from`, along a lane, and to `to` from its left.
    Lane { from: (f64, f64), out: f64, lane: f64, back: f64, to: (f64, f64) },
}

#[derive(Debug)]
pub(super) struct Layout {
    pub places: Vec<Place>,
    pub bands: Vec<Band>,
    /// Font size.
    pub size: f64,
    /// Pixels for one kg/s.
    pub scale: f64,
}

const LEAST_BAND: f64 = 1.5;
const MOST_BAND: f64 = 60.0;
/// The widest band where some turn corners.
const MOST_LANE: f64 = 26.0;
/// Room beside a lane that turns at the edge of the picture.
const TURN: f64 = 24.0;
const LANE_GAP: f64 = 5.0;
const LEAST_GAP: f64 = 16.0;
const MOST_ROWS: usize = 3;

/// Something in a column: a box, or a band that passes.
#[derive(Clone, Copy, Debug)]
struct Slot {
    node: Option<usize>,
    top: f64,
    height: f64,
    bar: f64,
}

impl Slot {
    fn middle(&self) -> f64 {
        self.top + self.height - self.bar / 2.0
    }
}

struct Arranger<'a> {
    graph: &'a Graph,
    size: f64,
    column_of: Vec<usize>,
    columns: usize,
    back: Vec<bool>,
}

/// Finds a place for everything, in few rows rather than in large type, or `None` where it does not fit.
pub(super) fn layout(graph: &Graph, area: Area, sizes: &[f64]) -> Option<Layout> {
    let back = back_edges(graph);
    let (column_of, columns) = columns(graph, &back);
    let mut arranger = Arranger { graph, size: 0.0, column_of, columns, back };
    for rows in 1..=MOST_ROWS {
        for &size in sizes {
            arranger.size = size;
            if let Some(layout) = arranger.in_rows(rows, area) {
                return Some(layout);
            }
        }
    }
    None
}

/// Edges that flow back: as little as can be found by walking from the supplies, then moving one box at a time.
fn back_edges(graph: &Graph) -> Vec<bool> {
    let mut order = walked(graph);
    // A trickle that flows back is still a lane to draw.
    let least = graph.edges.iter().map(|edge| edge.rate).fold(0.0, f64::max) * 0.02;
    for _ in 0..3 {
        let mut moved = false;
        for node in 0..graph.nodes.len() {
            let Some(from) = order.iter().position(|&at| at == node) else { continue };
            order.remove(from);
            // The cost of every place among the others: what it gives to those before, what it takes from those behind.
            let mut change = vec![0.0; order.len()];
            let mut cost = 0.0;
            for edge in graph.edges.iter().filter(|edge| edge.from != edge.to) {
                if edge.to == node {
                    cost += edge.rate + least;
                    if let Some(at) = order.iter().position(|&other| other == edge.from) {
                        change[at] -= edge.rate + least;
                    }
                } else if edge.from == node
                    && let Some(at) = order.iter().position(|&other| other == edge.to)
                {
                    change[at] += edge.rate + least;
                }
            }
            let mut costs = vec![cost];
            for step in change {
                cost += step;
                costs.push(cost);
            }
            let mut best = from;
            for (at, &cost) in costs.iter().enumerate() {
                if cost < costs[best] - least * 1e-3 {
                    best = at;
                }
            }
            moved |= best != from;
            order.insert(best, node);
        }
        if !moved {
            break;
        }
    }
    let mut place = vec![0; order.len()];
    for (at, &node) in order.iter().enumerate() {
        place[node] = at;
    }
    graph.edges.iter().map(|edge| place[edge.from] >= place[edge.to]).collect()
}

/// The boxes in an order in which a walk from the supplies leaves few edges pointing back.
fn walked(graph: &Graph) -> Vec<usize> {
    let count = graph.nodes.len();
    let mut out: Vec<Vec<usize>> = vec![Vec::new(); count];
    let mut fed = vec![false; count];
    for (at, edge) in graph.edges.iter().enumerate() {
        out[edge.from].push(at);
        fed[edge.to] = true;
    }
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by_key(|&at| (graph.nodes[at].kind != Kind::Supply, fed[at], at));
    let mut seen = vec![false; count];
    let mut left = Vec::with_capacity(count);
    for root in order {
        if std::mem::replace(&mut seen[root], true) {
            continue;
        }
        let mut stack = vec![(root, 0)];
        while let Some((node, next)) = stack.pop() {
            let Some(&edge) = out[node].get(next) else {
                left.push(node);
                continue;
            };
            stack.push((node, next + 1));
            let to = graph.edges[edge].to;
            if !std::mem::replace(&mut seen[to], true) {
                stack.push((to, 0));
            }
        }
    }
    left.reverse();
    left
}

/// The column of every box: as far left as the flow allows, what nothing flows into as far right as it can.
fn columns(graph: &Graph, back: &[bool]) -> (Vec<usize>, usize) {
    let count = graph.nodes.len();
    let forward = || graph.edges.iter().zip(back).filter(|&(_, &back)| !back).map(|(edge, _)| edge);
    let mut column = vec![0_usize; count];
    // Longest paths: as many rounds as there are boxes at most.
    for _ in 0..count {
        let mut moved = false;
        for edge in forward() {
            if column[edge.to] <= column[edge.from] {
                column[edge.to] = column[edge.from] + 1;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    for _ in 0..2 {
        for at in 0..count {
            let next = forward().filter(|edge| edge.from == at).map(|edge| column[edge.to]).min();
            if let Some(next) = next.filter(|_| forward().all(|edge| edge.to != at)) {
                column[at] = next.saturating_sub(1);
            }
        }
    }
    let mut used: Vec<usize> = column.clone();
    used.sort_unstable();
    used.dedup();
    for place in &mut column {
        *place = used.partition_point(|used| used < place);
    }
    (column, used.len())
}

/// One try at a scale.
struct Trial<'a> {
    arranger: &'a Arranger<'a>,
    /// Row of each column.
    row_of: Vec<usize>,
    rows: usize,
    scale: f64,
    slots: Vec<Vec<Slot>>,
    /// The slot of each node: (column, index into the column's slots).
    node_slot: Vec<(usize, usize)>,
    /// The slots each forward edge passes, its ends included.
    chains: Vec<Vec<(usize, usize)>>,
    lanes: Vec<usize>,
}

impl Arranger<'_> {
    fn label(&self, node: usize) -> f64 {
        let lines = &self.graph.nodes[node].lines;
        let most = match self.graph.nodes[node].kind {
            Kind::Header => 8.6,
            _ => 9.6,
        };
        let widest = lines.iter().map(|line| width(line, self.size)).fold(0.0, f64::max);
        (widest + self.size).min(most * self.size).max(4.0 * self.size)
    }

    /// The row of every column: rows that fit the width, cut where least flows across; `None` where nothing fits.
    fn split(&self, rows: usize, widths: &[f64], most: f64) -> Option<Vec<usize>> {
        let mut across = vec![0.0; self.columns];
        let least = self.graph.edges.iter().map(|edge| edge.rate).fold(0.0, f64::max) * 0.05;
        for (edge, _) in self.graph.edges.iter().zip(&self.back).filter(|&(_, &back)| !back) {
            // A cut before column c parts what stands before it from what stands at it or behind.
            for cut in &mut across[self.column_of[edge.from] + 1..=self.column_of[edge.to]] {
                *cut += edge.rate + least;
            }
        }
        let fits = |from: usize, to: usize| {
            let all: f64 = widths[from..to].iter().sum();
            to > from && all + LEAST_GAP * (to - from - 1) as f64 <= most
        };
        let count = self.columns;
        let mut best: Option<(f64, usize, usize)> = None;
        let firsts = if rows == 1 { count..count + 1 } else { 1..count.max(1) };
        for first in firsts {
            let seconds = if rows < 3 { count..count + 1 } else { first + 1..count.max(first + 1) };
            for second in seconds {
                let fit = fits(0, first) && (rows < 2 || fits(first, second)) && (rows < 3 || fits(second, count));
                let cost = [first, second].iter().map(|&cut| across.get(cut).copied().unwrap_or(0.0)).sum();
                if fit && best.is_none_or(|(least, ..)| cost < least) {
                    best = Some((cost, first, second));
                }
            }
        }
        let (_, first, second) = best?;
        Some((0..count).map(|column| usize::from(column >= first) + usize::from(column >= second)).collect())
    }

    fn in_rows(&self, rows: usize, area: Area) -> Option<Layout> {
        let mut widths = vec![0.0_f64; self.columns];
        for (node, &column) in self.column_of.iter().enumerate() {
            widths[column] = widths[column].max(self.label(node));
        }
        let turns = rows > 1 || self.back.contains(&true);
        let (most, aside) = if turns { (MOST_LANE, MOST_LANE / 2.0 + TURN) } else { (MOST_BAND, 0.0) };
        let area = Area { left: area.left + aside, width: area.width - 2.0 * aside, ..area };
        let row_of = self.split(rows, &widths, area.width)?;
        let greatest = self.graph.edges.iter().map(|edge| edge.rate).fold(0.0, f64::max);
        let through = self.throughputs().into_iter().fold(greatest, f64::max);
        let mut scale = if through > 0.0 { most.min(area.height / 5.0) / through } else { 1.0 };
        for _ in 0..16 {
            let mut trial = Trial::new(self, row_of.clone(), rows, scale);
            if let Some(heights) = trial.fits(area) {
                trial.settle(area, heights);
                trial.centre(area, heights);
                return Some(trial.finish(area, &widths, heights));
            }
            scale *= 0.75;
        }
        None
    }

    fn throughputs(&self) -> Vec<f64> {
        let mut sums = vec![(0.0, 0.0); self.graph.nodes.len()];
        for edge in &self.graph.edges {
            sums[edge.from].1 += edge.rate;
            sums[edge.to].0 += edge.rate;
        }
        sums.into_iter().map(|(a, b): (f64, f64)| a.max(b)).collect()
    }
}

fn band(edge: &Edge, scale: f64) -> f64 {
    (edge.rate * scale).max(LEAST_BAND)
}

impl<'a> Trial<'a> {
    fn new(arranger: &'a Arranger<'a>, row_of: Vec<usize>, rows: usize, scale: f64) -> Self {
        let graph = arranger.graph;
        let mut bars = vec![(0.0, 0.0); graph.nodes.len()];
        for edge in &graph.edges {
            bars[edge.from].1 += band(edge, scale);
            bars[edge.to].0 += band(edge, scale);
        }
        let line = arranger.size * 1.2;
        let mut slots: Vec<Vec<Slot>> = vec![Vec::new(); arranger.columns];
        let mut node_slot = vec![(0, 0); graph.nodes.len()];
        for (node, entry) in graph.nodes.iter().enumerate() {
            let (left, right): (f64, f64) = bars[node];
            let text = line * entry.lines.len() as f64;
            let slot = match entry.kind {
                Kind::Header => {
                    let bar = left.max(right).max(6.0);
                    Slot { node: Some(node), top: 0.0, height: text + 4.0 + bar, bar }
                }
                _ => {
                    let height = left.max(right).max(text + 8.0);
                    Slot { node: Some(node), top: 0.0, height, bar: height }
                }
            };
            let column = arranger.column_of[node];
            node_slot[node] = (column, slots[column].len());
            slots[column].push(slot);
        }
        let mut chains = vec![Vec::new(); graph.edges.len()];
        let mut lanes = Vec::new();
        for (at, edge) in graph.edges.iter().enumerate() {
            let (from, to) = (arranger.column_of[edge.from], arranger.column_of[edge.to]);
            if arranger.back[at] || from >= to || row_of[from] != row_of[to] {
                lanes.push(at);
                continue;
            }
            chains[at].push(node_slot[edge.from]);
            for (column, slots) in slots.iter_mut().enumerate().take(to).skip(from + 1) {
                let height = band(edge, scale);
                chains[at].push((column, slots.len()));
                slots.push(Slot { node: None, top: 0.0, height, bar: height });
            }
            chains[at].push(node_slot[edge.to]);
        }
        Self { arranger, row_of, rows, scale, slots, node_slot, chains, lanes }
    }

    /// Room above and below, together.
    fn gap(&self, slot: &Slot) -> f64 {
        if slot.node.is_some() { self.arranger.size * 0.8 } else { 4.0 }
    }

    /// The row below which an edge's lane runs.
    fn lane_row(&self, edge: usize) -> usize {
        let edge = &self.arranger.graph.edges[edge];
        let row = |node: usize| self.row_of[self.arranger.column_of[node]];
        row(edge.from).min(row(edge.to))
    }

    /// The height of a row and of the lanes below each, where all fits.
    fn fits(&self, area: Area) -> Option<[(f64, f64); MOST_ROWS]> {
        let mut lanes = [0.0; MOST_ROWS];
        for &at in &self.lanes {
            lanes[self.lane_row(at)] += band(&self.arranger.graph.edges[at], self.scale) + LANE_GAP;
        }
        let mut needed = [0.0_f64; MOST_ROWS];
        for (column, slots) in self.slots.iter().enumerate() {
            let height: f64 = slots.iter().map(|slot| slot.height + self.gap(slot)).sum();
            let row = &mut needed[self.row_of[column]];
            *row = row.max(height);
        }
        let all: f64 = lanes.iter().sum::<f64>() + needed.iter().sum::<f64>();
        if all > area.height {
            return None;
        }
        let spare = (area.height - all) / self.rows as f64;
        let mut heights = [(0.0, 0.0); MOST_ROWS];
        for row in 0..self.rows {
            heights[row] = (needed[row] + spare, lanes[row]);
        }
        Some(heights)
    }

    /// Stacks every column, then lets each box drift towards what it is joined to.
    fn settle(&mut self, area: Area, heights: [(f64, f64); MOST_ROWS]) {
        let tops = tops(area, heights);
        let bounds: Vec<(f64, f64)> = self.row_of.iter().map(|&row| (tops[row], tops[row] + heights[row].0)).collect();
        for column in 0..self.slots.len() {
            let middle = f64::midpoint(bounds[column].0, bounds[column].1);
            let wanted: Vec<f64> = self.slots[column].iter().map(|_| middle).collect();
            self.place(column, &wanted, bounds[column]);
        }
        // Neighbours of every slot: (column, slot, weight), to the left and to the right.
        let mut joined: Vec<Vec<[Vec<(usize, usize, f64)>; 2]>> =
            self.slots.iter().map(|slots| slots.iter().map(|_| [Vec::new(), Vec::new()]).collect()).collect();
        for (at, chain) in self.chains.iter().enumerate() {
            let weight = band(&self.arranger.graph.edges[at], self.scale);
            for pair in chain.windows(2) {
                let ((a, i), (b, j)) = (pair[0], pair[1]);
                joined[a][i][1].push((b, j, weight));
                joined[b][j][0].push((a, i, weight));
            }
        }
        for sweep in 0..12 {
            let forward = sweep % 2 == 0;
            let count = self.slots.len();
            for step in 0..count {
                let column = if forward { step } else { count - 1 - step };
                let wanted: Vec<f64> = (0..self.slots[column].len())
                    .map(|slot| {
                        let sides = &joined[column][slot];
                        let near = if sweep >= 8 {
                            [&sides[0], &sides[1]]
                        } else {
                            [&sides[usize::from(!forward)], &sides[usize::from(!forward)]]
                        };
                        let (mut sum, mut weight) = (0.0, 0.0);
                        for &(other, index, by) in near.into_iter().flatten() {
                            sum += self.slots[other][index].middle() * by;
                            weight += by;
                        }
                        if weight > 0.0 { sum / weight } else { self.slots[column][slot].middle() }
                    })
                    .collect();
                self.place(column, &wanted, bounds[column]);
            }
        }
    }

    /// Moves each row to the middle of its height.
    fn centre(&mut self, area: Area, heights: [(f64, f64); MOST_ROWS]) {
        let tops = tops(area, heights);
        for row in 0..self.rows {
            let members = || (0..self.slots.len()).filter(|&column| self.row_of[column] == row);
            let slots = || members().flat_map(|column| &self.slots[column]);
            let top = slots().map(|slot| slot.top).fold(f64::INFINITY, f64::min);
            let bottom = slots().map(|slot| slot.top + slot.height).fold(0.0, f64::max);
            let shift = tops[row] + heights[row].0 / 2.0 - f64::midpoint(top, bottom);
            let columns: Vec<usize> = members().collect();
            for column in columns {
                for slot in &mut self.slots[column] {
                    slot.top += shift;
                }
            }
        }
    }

    /// Puts the slots of a column as near to where they are wanted as their heights allow, in that order.
    fn place(&mut self, column: usize, wanted: &[f64], (top, bottom): (f64, f64)) {
        let gaps: Vec<f64> = self.slots[column].iter().map(|slot| self.gap(slot)).collect();
        let slots = &mut self.slots[column];
        let mut order: Vec<usize> = (0..slots.len()).collect();
        order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]).then(a.cmp(&b)));
        // Runs of slots that touch move together to the mean of what they want.
        let mut runs: Vec<(f64, f64, Vec<usize>)> = Vec::new();
        for &at in &order {
            let slot = &slots[at];
            let start = wanted[at] - (slot.height - slot.bar / 2.0);
            runs.push((start - gaps[at] / 2.0, slot.height + gaps[at], vec![at]));
            while runs.len() > 1 {
                let last = runs.len() - 1;
                let clamp = |start: f64, height: f64| start.min(bottom - height).max(top);
                let upper = clamp(runs[last - 1].0, runs[last - 1].1);
                if upper + runs[last - 1].1 <= clamp(runs[last].0, runs[last].1) + 1e-9 {
                    break;
                }
                let Some((start, height, members)) = runs.pop() else { break };
                if let Some(above) = runs.last_mut() {
                    let (a, b) = (above.2.len() as f64, members.len() as f64);
                    above.0 = (above.0 * a + (start - above.1) * b) / (a + b);
                    above.1 += height;
                    above.2.extend(members);
                }
            }
        }
        for (start, height, members) in runs {
            let mut y = start.min(bottom - height).max(top);
            for at in members {
                slots[at].top = y + gaps[at] / 2.0;
                y += slots[at].height + gaps[at];
            }
        }
    }

    fn finish(self, area: Area, widths: &[f64], heights: [(f64, f64); MOST_ROWS]) -> Layout {
        let graph = self.arranger.graph;
        let lefts = self.lefts(area, widths);
        let places: Vec<Place> = self
            .node_slot
            .iter()
            .map(|&(column, index)| {
                let slot = self.slots[column][index];
                Place { left: lefts[column], top: slot.top, width: widths[column], height: slot.height, bar: slot.bar }
            })
            .collect();
        let ports = self.ports(&places);
        let edge_of = |node: usize| -> (f64, f64) {
            let place = &places[node];
            let middle = place.left + place.width / 2.0;
            match graph.nodes[node].kind {
                Kind::Header => (middle, middle),
                _ => (place.left, place.left + place.width),
            }
        };
        let tops = tops(area, heights);
        let mut used = [0.0; MOST_ROWS];
        let mut around: Vec<(usize, usize)> = vec![(0, 0); widths.len()];
        let mut bands = Vec::with_capacity(graph.edges.len());
        for (at, edge) in graph.edges.iter().enumerate() {
            let width = band(edge, self.scale);
            let (from_y, to_y) = ports[at];
            let (from_x, to_x) = (edge_of(edge.from).1, edge_of(edge.to).0);
            let route = if self.chains[at].is_empty() {
                let row = self.lane_row(at);
                let lane = tops[row] + heights[row].0 + used[row] + width / 2.0;
                used[row] += width + LANE_GAP;
                let (from, to) = (self.arranger.column_of[edge.from], self.arranger.column_of[edge.to]);
                let aside = 4.0 + width / 2.0;
                let out = lefts[from] + widths[from] + aside + 4.0 * (around[from].1 % 3) as f64;
                let back = lefts[to] - aside - 4.0 * (around[to].0 % 3) as f64;
                around[from].1 += 1;
                around[to].0 += 1;
                Route::Lane { from: (from_x, from_y), out, lane, back, to: (to_x, to_y) }
            } else {
                let mut points = vec![(from_x, from_x, from_y)];
                let inner = &self.chains[at][1..self.chains[at].len() - 1];
                points.extend(inner.iter().map(|&(column, index)| {
                    let slot = self.slots[column][index];
                    (lefts[column], lefts[column] + widths[column], slot.middle())
                }));
                points.push((to_x, to_x, to_y));
                Route::Forward(points)
            };
            bands.push(Band { edge: at, width, route });
        }
        Layout { places, bands, size: self.arranger.size, scale: self.scale }
    }

    /// The left edge of every column: each row is spread over the width.
    fn lefts(&self, area: Area, widths: &[f64]) -> Vec<f64> {
        let mut lefts = vec![0.0; widths.len()];
        for row in 0..self.rows {
            let members: Vec<usize> = (0..widths.len()).filter(|&column| self.row_of[column] == row).collect();
            let all: f64 = members.iter().map(|&column| widths[column]).sum();
            let gaps = members.len().saturating_sub(1).max(1) as f64;
            let gap = ((area.width - all) / gaps).clamp(LEAST_GAP, 110.0);
            let used = all + gap * members.len().saturating_sub(1) as f64;
            let mut x = area.left + ((area.width - used) / 2.0).max(0.0);
            for column in members {
                lefts[column] = x;
                x += widths[column] + gap;
            }
        }
        lefts
    }

    /// Where each edge leaves its source and enters its target: stacked in the order of what they lead to.
    fn ports(&self, places: &[Place]) -> Vec<(f64, f64)> {
        let graph = self.arranger.graph;
        let mut ports = vec![(0.0, 0.0); graph.edges.len()];
        for node in 0..graph.nodes.len() {
            for leaving in [true, false] {
                let mut touching: Vec<(f64, usize)> = graph
                    .edges
                    .iter()
                    .enumerate()
                    .filter(|(_, edge)| if leaving { edge.from == node } else { edge.to == node })
                    .map(|(at, _)| {
                        let chain = &self.chains[at];
                        let other = match (chain.len(), leaving) {
                            // What runs in a lane comes last, nearest to it.
                            (0, _) => f64::INFINITY,
                            (_, true) => self.slots[chain[1].0][chain[1].1].middle(),
                            (count, false) => {
                                let before = chain[count - 2];
                                self.slots[before.0][before.1].middle()
                            }
                        };
                        (other, at)
                    })
                    .collect();
                touching.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
                let all: f64 = touching.iter().map(|&(_, at)| band(&graph.edges[at], self.scale)).sum();
                let mut y = places[node].middle() - all / 2.0;
                for (_, at) in touching {
                    let width = band(&graph.edges[at], self.scale);
                    if leaving {
                        ports[at].0 = y + width / 2.0;
                    } else {
                        ports[at].1 = y + width / 2.0;
                    }
                    y += width;
                }
            }
        }
        ports
    }
}

/// The top of each row.
fn tops(area: Area, heights: [(f64, f64); MOST_ROWS]) -> [f64; MOST_ROWS] {
    let mut tops = [area.top; MOST_ROWS];
    for row in 1..MOST_ROWS {
        tops[row] = tops[row - 1] + heights[row - 1].0 + heights[row - 1].1;
    }
    tops
}
