//! One try to place everything at a scale: slots stacked in columns, drawn towards what they are joined to.

use super::graph::{Edge, Kind};
use super::layout::{Area, Arranger, Band, LANE_GAP, LEAST_BAND, LEAST_GAP, Layout, MOST_ROWS, Place, Route};

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

/// What a slot is joined to, to its left and to its right: (column, slot, weight).
type Joined = [Vec<(usize, usize, f64)>; 2];

/// One try at a scale.
pub(super) struct Trial<'a> {
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

fn band(edge: &Edge, scale: f64) -> f64 {
    (edge.rate * scale).max(LEAST_BAND)
}

impl<'a> Trial<'a> {
    pub fn new(arranger: &'a Arranger<'a>, row_of: Vec<usize>, rows: usize, scale: f64) -> Self {
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
            let bands = left.max(right);
            let slot = if entry.kind == Kind::Header {
                let bar = bands.max(6.0);
                Slot { node: Some(node), top: 0.0, height: text + 4.0 + bar, bar }
            } else {
                let height = bands.max(text + 8.0);
                Slot { node: Some(node), top: 0.0, height, bar: height }
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
    pub fn fits(&self, area: Area) -> Option<[(f64, f64); MOST_ROWS]> {
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
    pub fn settle(&mut self, area: Area, heights: [(f64, f64); MOST_ROWS]) {
        let tops = tops(area, heights);
        let bounds: Vec<(f64, f64)> = self.row_of.iter().map(|&row| (tops[row], tops[row] + heights[row].0)).collect();
        for (column, &bounds) in bounds.iter().enumerate() {
            let wanted = vec![f64::midpoint(bounds.0, bounds.1); self.slots[column].len()];
            self.place(column, &wanted, bounds);
        }
        let mut joined: Vec<Vec<Joined>> =
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
    pub fn centre(&mut self, area: Area, heights: [(f64, f64); MOST_ROWS]) {
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

    pub fn finish(self, area: Area, widths: &[f64], heights: [(f64, f64); MOST_ROWS]) -> Layout {
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
        for (node, place) in places.iter().enumerate() {
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
                let mut y = place.middle() - all / 2.0;
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
