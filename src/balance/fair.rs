//! Who is cut when there is not enough: last rank first, equals in proportion.
//!
//! Within a rank the least reached share is made as great as it can be; whoever cannot get more is settled at that share,
//! and the rest go on (max-min fairness by progressive filling; D. Bertsekas and R. Gallager, *Data Networks*, 2nd ed. 1992,
//! section 6.5.2; locator from memory). So the shortfall of the worst-off is least, then that of the next.
//!
//! A large plant is short in many places that have nothing to do with each other, and each has shares of its own. So the
//! network is first taken apart ([`islands`]), and each island that is short is filled by itself, on one basis that goes on
//! from round to round and from rank to rank.

use super::islands::{Island, islands};
use super::model::Model;
use super::pass::REACHED;
use super::simplex::{Program, Simplex};
use crate::budget::{Budget, Halt};

/// A plant with the least shortfall of every rank, equals not yet cut in proportion.
#[derive(Debug)]
pub struct Short<'m> {
    /// The programme's meaning.
    pub model: &'m Model,
    /// What each item reaches.
    pub reached: Vec<f64>,
    /// The vertex of the first rank that is short: its basis, and the columns at their upper bounds.
    pub vertex: &'m (Vec<u32>, Vec<usize>),
}

/// The most each item may reach so that equals are cut in proportion; nothing where nobody shares what is short.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn caps(short: &Short<'_>, steps: &mut u64, budget: &Budget<'_>) -> Result<Option<Vec<f64>>, Halt> {
    let model = short.model;
    let mut caps: Vec<f64> = model.items.iter().map(|item| item.wanted.min(model.program.upper[item.column])).collect();
    let mut start = None;
    let is_short = |at: &&usize| short.reached[**at] < model.items[**at].wanted * (1.0 - REACHED);
    for island in islands(model) {
        // Before the first rank that is short here everybody has what they want; and where nobody shares a rank there is
        // nothing to divide.
        let Some(&first) = island.items.iter().find(is_short) else { continue };
        let from = model.items[first].rank;
        let divides = |pair: &[usize]| {
            let rank = model.items[pair[0]].rank;
            rank >= from && rank == model.items[pair[1]].rank
        };
        if island.items.windows(2).any(divides) {
            let start = start.get_or_insert_with(|| Start::of(short));
            Filling::of(model, &island, from).fill(start, &mut caps, steps, budget)?;
        }
    }
    Ok(start.map(|_| caps))
}

/// Where the filling starts: the vertex of least shortfall, by column.
struct Start {
    basic: Vec<bool>,
    at_upper: Vec<bool>,
}

impl Start {
    fn of(short: &Short<'_>) -> Self {
        let columns = short.model.program.columns();
        let mut start = Self { basic: vec![false; columns], at_upper: vec![false; columns] };
        let (basis, at_upper) = short.vertex;
        for &column in basis {
            start.basic[column as usize] = true;
        }
        for &column in at_upper {
            start.at_upper[column] = true;
        }
        start
    }
}

/// An item on its island.
struct Member {
    /// Index into the model's items.
    item: usize,
    /// The column that reaches it.
    reached: usize,
    /// The column of what it reaches beyond the common share.
    excess: usize,
}

/// The items of one rank on an island.
struct Rank {
    /// Whether it may be short: from here on equals share.
    divides: bool,
    /// The column of the share that all of them reach.
    share: usize,
    members: Vec<Member>,
}

/// An island as a programme of its own, with a column for the common share w of each rank and a row for each item:
/// reached − wanted·w − excess = 0. While a rank is not divided its w is held at nothing and its excess may fall below
/// nothing as far as it likes, so that its rows are in nobody's way and leave no mark on what is decided before.
struct Filling<'m> {
    model: &'m Model,
    island: &'m Island,
    program: Program,
    /// Unscaled = factor · scaled.
    factor: Vec<f64>,
    ranks: Vec<Rank>,
}

impl<'m> Filling<'m> {
    fn of(model: &'m Model, island: &'m Island, from: u32) -> Self {
        let rows = island.rows.len();
        let mut program = Program::new(rows + island.items.len());
        let mut extra: Vec<(usize, u32)> = Vec::with_capacity(island.items.len());
        for (at, &item) in island.items.iter().enumerate() {
            extra.push((model.items[item].column, (rows + at) as u32));
        }
        extra.sort_unstable();
        let local = |row: usize| island.rows.binary_search(&row).ok();
        let mut entries: Vec<(u32, f64)> = Vec::new();
        for &column in &island.columns {
            entries.clear();
            entries.extend(model.program.column(column).filter_map(|(row, value)| Some((local(row)? as u32, value))));
            if let Ok(at) = extra.binary_search_by_key(&column, |&(item, _)| item) {
                entries.push((extra[at].1, 1.0));
            }
            program.add(&entries, model.program.lower[column], model.program.upper[column]);
        }
        let own = |column: usize| island.columns.binary_search(&column).unwrap_or(usize::MAX);
        for (at, &row) in island.rows.iter().enumerate() {
            program.sinks[at] = own(model.program.sinks[row] as usize) as u32;
        }
        let mut ranks: Vec<Rank> = Vec::new();
        let mut first = 0;
        for group in island.items.chunk_by(|&one, &other| model.items[one].rank == model.items[other].rank) {
            let row = |at: usize| (rows + first + at) as u32;
            let wanted: Vec<(u32, f64)> =
                group.iter().enumerate().map(|(at, &item)| (row(at), -model.items[item].wanted)).collect();
            let share = program.add(&wanted, 0.0, 0.0);
            let members = group.iter().enumerate().map(|(at, &item)| {
                let excess = program.add_sink(row(at), f64::INFINITY);
                program.lower[excess] = -model.items[item].wanted;
                Member { item, reached: own(model.items[item].column), excess }
            });
            let members: Vec<Member> = members.collect();
            first += members.len();
            ranks.push(Rank { divides: model.items[group[0]].rank >= from && group.len() > 1, share, members });
        }
        let (_, factor) = program.scale();
        Self { model, island, program, factor, ranks }
    }

    /// A simplex at the start, as far as that is here.
    fn simplex(&self, start: &Start, steps: u64, budget: &Budget<'_>) -> Result<Simplex<'_>, Halt> {
        let rows = self.island.rows.len();
        let mut basis: Vec<u32> = Vec::with_capacity(self.program.rows());
        let mut is_basic = vec![false; self.program.columns()];
        for (own, &column) in self.island.columns.iter().enumerate() {
            if start.basic[column] && basis.len() < rows {
                basis.push(own as u32);
                is_basic[own] = true;
            }
        }
        for &sink in &self.program.sinks[..rows] {
            if basis.len() < rows && !is_basic[sink as usize] {
                basis.push(sink);
                is_basic[sink as usize] = true;
            }
        }
        basis.extend_from_slice(&self.program.sinks[rows..]);
        let at_upper = self.island.columns.iter().enumerate();
        let at_upper: Vec<usize> =
            at_upper.filter(|&(own, &column)| start.at_upper[column] && !is_basic[own]).map(|(own, _)| own).collect();
        let mut simplex = Simplex::new(&self.program, self.program.by_rows(), basis, &at_upper);
        simplex.steps = steps;
        if !simplex.restore(budget)? {
            let steps = simplex.steps;
            simplex = Simplex::new(&self.program, self.program.by_rows(), self.program.sinks.clone(), &[]);
            simplex.steps = steps;
            simplex.restore(budget)?;
        }
        Ok(simplex)
    }

    /// Fills rank after rank and writes what each item may reach.
    fn fill(&self, start: &Start, caps: &mut [f64], steps: &mut u64, budget: &Budget<'_>) -> Result<(), Halt> {
        let mut simplex = self.simplex(start, *steps, budget)?;
        let mut costs = vec![0.0; self.program.columns()];
        for rank in &self.ranks {
            if rank.divides {
                self.divide(rank, &mut simplex, &mut costs, caps, budget)?;
            } else {
                for member in &rank.members {
                    costs[member.reached] = -self.factor[member.reached] / self.model.items[member.item].wanted;
                }
                simplex.minimise(&costs, budget)?;
                for member in &rank.members {
                    costs[member.reached] = 0.0;
                }
            }
        }
        *steps = simplex.steps;
        Ok(())
    }

    /// Raises the common share of a rank, settles whoever holds it back, and goes on with the others.
    fn divide(
        &self,
        rank: &Rank,
        simplex: &mut Simplex<'_>,
        costs: &mut [f64],
        caps: &mut [f64],
        budget: &Budget<'_>,
    ) -> Result<(), Halt> {
        simplex.set_upper(rank.share, 1.0 / self.factor[rank.share]);
        for member in &rank.members {
            simplex.set_lower(member.excess, 0.0);
        }
        costs[rank.share] = -1.0;
        let mut active: Vec<&Member> = rank.members.iter().collect();
        while !active.is_empty() {
            simplex.steps += 1;
            budget.check(simplex.steps)?;
            simplex.minimise(costs, budget)?;
            let share = self.factor[rank.share] * simplex.value(rank.share);
            if share >= 1.0 - REACHED {
                break;
            }
            // Rounding may hide who holds the others back: then all of them are held to what all of them can have.
            let hidden = !active.iter().any(|member| simplex.is_frozen(member.excess));
            active.retain(|member| {
                let settled = hidden || simplex.is_frozen(member.excess);
                if settled {
                    let wanted = self.model.items[member.item].wanted;
                    caps[member.item] = caps[member.item].min(share * wanted);
                    simplex.fix(member.reached);
                    // It has its share, and the others' may grow beyond it by no more than all of it.
                    simplex.fall_behind(member.excess, wanted / self.factor[member.excess]);
                }
                !settled
            });
        }
        costs[rank.share] = 0.0;
        Ok(())
    }
}
