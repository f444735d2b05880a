//! Where everything stands: columns from left to right along the flow, rows where there are too many columns, and what flows
//! back in lanes below.

use super::super::letters::width;
use super::columns::{back_edges, columns};
use super::graph::{Graph, Kind};
use super::trial::Trial;

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

pub(super) const LEAST_BAND: f64 = 1.5;
const MOST_BAND: f64 = 60.0;
/// The widest band where some turn corners.
const MOST_LANE: f64 = 26.0;
/// Room beside a lane that turns at the edge of the picture.
const TURN: f64 = 24.0;
pub(super) const LANE_GAP: f64 = 5.0;
pub(super) const LEAST_GAP: f64 = 16.0;
pub(super) const MOST_ROWS: usize = 3;

pub(super) struct Arranger<'a> {
    pub graph: &'a Graph,
    pub size: f64,
    pub column_of: Vec<usize>,
    pub columns: usize,
    pub back: Vec<bool>,
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
