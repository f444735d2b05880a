//! A cell taken apart at headers that make up any difference.
//!
//! A header whose supplies, stores and ways out stand on it alone may be left out at first: what is asked for on either side of
//! it is then found by itself, and is at least what it could be with the header in between. If what that leaves on the header is
//! within what its supplies and stores can give and its stores and ways out can take, it is possible with the header too, and so it is
//! the answer; what closes the header is then told as in closed form. Headers on which it is not possible are put back.

use super::{Cell, direct};
use crate::budget::{Budget, Halt};
use crate::rehearsal::part::Sets;
use crate::rehearsal::system::{Drive, Source};

/// Rounds of putting headers back before the cell is taken as a whole.
const MOST_ROUNDS: usize = 3;

/// How much of each member there is, where taking the cell apart tells it.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn solve(
    cell: &Cell<'_>,
    headers: &[usize],
    steps: &mut u64,
    budget: &Budget<'_>,
) -> Result<Option<Vec<f64>>, Halt> {
    let mut out: Vec<usize> = headers.iter().copied().filter(|&header| closes_itself(cell, header)).collect();
    for _ in 0..MOST_ROUNDS {
        let parts = parts(cell, headers, &out);
        if parts.len() < 2 {
            return Ok(None);
        }
        let mut amounts = vec![0.0; cell.members.len()];
        for part in &parts {
            let members: Vec<usize> = part.iter().map(|&member| cell.members[member]).collect();
            let alone = Cell { members: &members, ..*cell };
            let inner: Vec<usize> = alone.bound_headers().into_iter().filter(|header| !out.contains(header)).collect();
            let solved = alone.solve_between(&inner, steps, budget)?;
            part.iter().zip(solved).for_each(|(&member, amount)| amounts[member] = amount);
        }
        let before = out.len();
        let mut closed = Vec::with_capacity(before);
        out.retain(|&header| match close(cell, header, &amounts) {
            Some(closers) => {
                closed.push(closers);
                true
            }
            None => false,
        });
        if out.len() == before {
            closed.into_iter().flatten().for_each(|(member, amount)| amounts[member] = amount);
            return Ok(Some(amounts));
        }
    }
    Ok(None)
}

/// Whether a flow stands on this header alone, asks for nothing, and is no machine (one that is wanted comes after all draws).
fn is_closer(cell: &Cell<'_>, at: usize, header: usize) -> bool {
    let flow = &cell.flows[at];
    let runs = matches!(flow.what, Source::Run(_));
    flow.drive != Drive::Asked && !runs && flow.on.len() == 1 && flow.on[0].0 == header
}

/// Whether all that gives to a header or lets out of it without being asked stands on it alone; and something does.
fn closes_itself(cell: &Cell<'_>, header: usize) -> bool {
    let on = |at: &&usize| cell.flows[**at].on.iter().any(|on| on.0 == header);
    let mut closers = cell.storage[header].gives || cell.storage[header].takes > 0.0;
    for &at in cell.members.iter().filter(on) {
        let flow = &cell.flows[at];
        let closer = is_closer(cell, at, header);
        // A wanted unit runs by what its headers lack, so it is not found without them.
        if !closer && (flow.drive != Drive::Asked || matches!(flow.what, Source::Draw(_))) {
            return false;
        }
        closers |= closer;
    }
    closers && cell.storage[header].lines.is_none()
}

/// Members that hang together by the headers that are left; those that close a header that is out are in none.
fn parts(cell: &Cell<'_>, headers: &[usize], out: &[usize]) -> Vec<Vec<usize>> {
    let count = cell.members.len();
    let mut sets = Sets::new(count + headers.len());
    let closes = |at: usize| out.iter().any(|&header| is_closer(cell, at, header));
    let left: Vec<usize> = (0..count).filter(|&member| !closes(cell.members[member])).collect();
    for &member in &left {
        for &(header, _) in &cell.flows[cell.members[member]].on {
            if let Ok(row) = headers.binary_search(&header)
                && !out.contains(&header)
            {
                sets.join(member, count + row);
            }
        }
    }
    let mut number = vec![usize::MAX; count + headers.len()];
    let mut parts: Vec<Vec<usize>> = Vec::new();
    for &member in &left {
        let root = sets.find(member);
        if number[root] == usize::MAX {
            number[root] = parts.len();
            parts.push(Vec::new());
        }
        parts[number[root]].push(member);
    }
    parts
}

/// What closes a header, given what all others leave on it; `None` where nothing can.
fn close(cell: &Cell<'_>, header: usize, amounts: &[f64]) -> Option<Vec<(usize, f64)>> {
    let (mut net, mut size) = (0.0_f64, 0.0_f64);
    let mut closers = Vec::new();
    for (member, &at) in cell.members.iter().enumerate() {
        if is_closer(cell, at, header) {
            closers.push(member);
            continue;
        }
        for &(_, rate) in cell.flows[at].on.iter().filter(|on| on.0 == header) {
            net += rate * amounts[member];
            size += (rate * amounts[member]).abs();
        }
    }
    let members: Vec<usize> = closers.iter().map(|&member| cell.members[member]).collect();
    let closed = direct::close(&Cell { members: &members, ..*cell }, header, net, size)?;
    Some(closers.into_iter().zip(closed).collect())
}
