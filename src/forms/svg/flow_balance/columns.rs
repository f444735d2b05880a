//! The order of boxes along the flow: what flows back, and the column of each.

use super::graph::{Graph, Kind};

/// Edges that flow back: as little as can be found by walking from the supplies, then moving one box at a time.
pub(super) fn back_edges(graph: &Graph) -> Vec<bool> {
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
pub(super) fn columns(graph: &Graph, back: &[bool]) -> (Vec<usize>, usize) {
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
