//! Who is better, figure by figure and on the whole.

use super::say;
use super::{Placed, Reply, Row, Unanswered, same, weighing};
use crate::plan::inquiry::Better;
use crate::questions::answer::{Name, Verdict, Weight};

/// What decides between variants, in this order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Merit {
    verdict: Verdict,
    failures: usize,
    cautions: usize,
    /// For each figure that decides, its class: 0 is the best there is.
    classes: Vec<usize>,
}

/// What makes one better than another.
pub(super) enum Reason<'r> {
    Verdict,
    Failures(usize),
    Cautions(usize),
    Figure(&'r Row),
}

/// The class of each variant by one figure, 0 for the best: what is the same but for rounding is of one class. Nothing where
/// the figure decides nothing, or someone who has an answer does not have it.
fn classes(row: &Row, answered: &[usize]) -> Option<Vec<(usize, usize)>> {
    let sign = match row.better {
        Better::More => -1.0,
        Better::Less => 1.0,
        Better::Neither => return None,
    };
    let mut numbers =
        answered.iter().map(|&index| Some((row.number(index)? * sign, index))).collect::<Option<Vec<_>>>()?;
    numbers.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut class = 0;
    let mut last: Option<f64> = None;
    let ranked = numbers.into_iter().map(|(number, index)| {
        if last.is_some_and(|last| !same(last, number)) {
            class += 1;
        }
        last = Some(number);
        (index, class)
    });
    Some(ranked.collect())
}

/// Who has the best of a figure, where there is a difference.
pub(super) fn best(row: &Row) -> Vec<usize> {
    let having: Vec<usize> = (0..row.values.len()).filter(|&index| row.number(index).is_some()).collect();
    let Some(classes) = classes(row, &having) else { return Vec::new() };
    if classes.iter().all(|(_, class)| *class == 0) {
        return Vec::new();
    }
    let mut best: Vec<usize> = classes.into_iter().filter(|(_, class)| *class == 0).map(|(index, _)| index).collect();
    best.sort_unstable();
    best
}

/// All that have an answer, the best first, each with why it comes before the next; and why the best comes before the plan
/// as it is.
pub(super) fn rank(
    names: &[Name],
    replies: &[Result<Reply, Unanswered>],
    rows: &[Row],
) -> (Vec<Placed>, Option<String>) {
    let answered: Vec<usize> = (0..replies.len()).filter(|&index| replies[index].is_ok()).collect();
    let decides: Vec<(&Row, Vec<(usize, usize)>)> =
        rows.iter().filter_map(|row| Some((row, classes(row, &answered)?))).collect();
    let merit = |index: usize, reply: &Reply| Merit {
        verdict: reply.verdict,
        failures: weighing(reply, Weight::Failure),
        cautions: weighing(reply, Weight::Caution),
        classes: decides
            .iter()
            .filter_map(|(_, classes)| classes.iter().find(|(other, _)| *other == index).map(|(_, class)| *class))
            .collect(),
    };
    let mut ranked: Vec<(Merit, usize)> = answered
        .iter()
        .filter_map(|&index| replies[index].as_ref().ok().map(|reply| (merit(index, reply), index)))
        .collect();
    // Of equals, the earlier in the document comes first, and the plan as it is before all.
    ranked.sort();
    let why = |(merit, index): &(Merit, usize), (next, other): &(Merit, usize)| {
        let reason = reason(merit, next, &decides)?;
        Some(say::why(&reason, &names[*other], *index, *other, replies))
    };
    let as_it_is = ranked.iter().find(|(_, index)| *index == 0);
    let why_best = ranked.first().zip(as_it_is).and_then(|(best, as_it_is)| why(best, as_it_is));
    let mut place = 1;
    let mut placed = Vec::with_capacity(ranked.len());
    for (at, one) in ranked.iter().enumerate() {
        if at > 0 && ranked[at - 1].0 != one.0 {
            place = at + 1;
        }
        let why = ranked.get(at + 1).and_then(|next| why(one, next));
        placed.push(Placed { name: names[one.1].clone(), place, why });
    }
    (placed, why_best)
}

fn reason<'r>(merit: &Merit, next: &Merit, decides: &[(&'r Row, Vec<(usize, usize)>)]) -> Option<Reason<'r>> {
    if merit.verdict != next.verdict {
        return Some(Reason::Verdict);
    }
    if merit.failures != next.failures {
        return Some(Reason::Failures(next.failures.saturating_sub(merit.failures)));
    }
    if merit.cautions != next.cautions {
        return Some(Reason::Cautions(next.cautions.saturating_sub(merit.cautions)));
    }
    let at = merit.classes.iter().zip(&next.classes).position(|(one, other)| one != other)?;
    decides.get(at).map(|(row, _)| Reason::Figure(row))
}
