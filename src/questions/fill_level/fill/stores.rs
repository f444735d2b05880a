//! Stores: what they go through, what they would need, and their courses for the picture.

use super::{Source, split, split_maybe, split_size, watches};
use crate::heat::thinned;
use crate::plan::{Carried, StoreId, in_order};
use crate::questions::answer::Named;
use crate::questions::fill_level::case::Case;
use crate::questions::fill_level::figures::{CourseFigures, CycleFigures, Moment, StoreFigures};
use crate::rehearsal::sizing::Sizing;
use crate::rehearsal::{MOST_POINTS, Settled, StoreRecord};

/// Stretches of time into which a course is cut to be thinned: of each, the extremes stay.
const STRETCHES: usize = 100;

impl Source<'_, '_> {
    pub fn stores(&self) -> Named<StoreFigures> {
        let plan = self.case.plan;
        let of = |(at, store): (usize, &crate::plan::Store)| (store.name.as_str().into(), self.store(at));
        in_order(&plan.listed.stores, &plan.stores).map(of).collect()
    }

    fn store(&self, at: usize) -> StoreFigures {
        let case = self.case;
        let (store, record) = (&case.plan.stores[at], &case.run.stores[at]);
        let carries = case.plan.header(store.header).carries;
        let pair = |amount| split(carries, amount);
        let (capacity_kg, capacity_j) = pair(store.capacity);
        let (start_kg, start_j) = pair(record.start);
        let (end_kg, end_j) = pair(record.end);
        let (least_kg, least_j) = pair(record.least);
        let (greatest_kg, greatest_j) = pair(record.greatest);
        let (used_capacity_kg, used_capacity_j) = pair(record.greatest - record.least);
        let (used_start_kg, used_start_j) = pair(record.start - record.least);
        let (filled_kg, filled_j) = pair(record.filled);
        let (drained_kg, drained_j) = pair(record.drained);
        let loses = store.loses != crate::plan::StandingLoss::None;
        let (stood_lost_kg, stood_lost_j) = split_maybe(carries, loses.then_some(record.stood_lost));
        let (lost_kg, lost_j) = pair(case.lost(store.header));
        let (unserved_kg, unserved_j) = pair(case.unserved(store.header));
        let sizes = case.sizes[at];
        let (least_capacity_kg, least_capacity_j) = split_size(carries, sizes.capacity);
        let (least_start_kg, least_start_j) = split_size(carries, sizes.level);
        let limits = [store.limits.low_low, store.limits.low, store.limits.high, store.limits.high_high];
        let past = |which: usize| limits[which].map(|_| Moment(record.first_past_s[which]));
        let watching: Vec<usize> =
            (0..case.plan.switches.len()).filter(|&by| watches(case, by) == StoreId(at)).collect();
        StoreFigures {
            header: self.names[store.header.0].clone(),
            capacity_kg,
            capacity_j,
            start_kg,
            start_j,
            end_kg,
            end_j,
            least_kg,
            least_j,
            least_at_s: record.least_at_s,
            greatest_kg,
            greatest_j,
            greatest_at_s: record.greatest_at_s,
            used_capacity_kg,
            used_capacity_j,
            used_start_kg,
            used_start_j,
            first_empty_s: Moment(record.first_empty_s),
            first_full_s: Moment(record.first_full_s),
            empty_s: record.empty_s,
            full_s: record.full_s,
            filled_kg,
            filled_j,
            drained_kg,
            drained_j,
            stood_lost_kg,
            stood_lost_j,
            lost_kg,
            lost_j,
            unserved_kg,
            unserved_j,
            first_below_low_low_s: past(0),
            first_below_low_s: past(1),
            first_above_high_s: past(2),
            first_above_high_high_s: past(3),
            starts_per_h: (!watching.is_empty()).then(|| watching.iter().map(|&by| case.starts_per_h(by)).sum()),
            least_capacity_kg,
            least_capacity_j,
            least_capacity_lasts: match sizes.capacity {
                Some(Sizing::Least(_)) => Some(true),
                Some(Sizing::UntilHorizon(_)) => Some(false),
                _ => None,
            },
            least_start_kg,
            least_start_j,
            settles: self.cycle(StoreId(at), carries),
            low_low_share: limits[0].map(|limit| limit / store.capacity),
            low_share: limits[1].map(|limit| limit / store.capacity),
            high_share: limits[2].map(|limit| limit / store.capacity),
            high_high_share: limits[3].map(|limit| limit / store.capacity),
            course: course(record, self.settled(StoreId(at)), store.capacity, self.view_s),
        }
    }

    fn settled(&self, store: StoreId) -> Option<&Settled> {
        self.case.island(store).and_then(|(island, _)| island.settled.as_ref())
    }

    fn cycle(&self, store: StoreId, carries: Carried) -> Option<CycleFigures> {
        let (_, at) = self.case.island(store)?;
        let settled = self.settled(store)?;
        let &(least, greatest) = settled.span.get(at)?;
        let ((least_kg, least_j), (greatest_kg, greatest_j)) = (split(carries, least), split(carries, greatest));
        Some(CycleFigures {
            from_s: settled.from_s,
            period_s: settled.period_s,
            least_kg,
            least_j,
            greatest_kg,
            greatest_j,
        })
    }
}

/// Cycles that are shown of one that is settled.
const CYCLES: f64 = 3.0;
/// The most cycles of the busiest switch.
const CYCLES_AT_MOST: f64 = 40.0;
/// How much longer than until the last thing of note.
const AND_THEN: f64 = 1.2;

/// Until when courses are shown: of a part that settles a few cycles, and its first trouble; otherwise all that was rehearsed.
pub(super) fn view(case: &Case<'_>) -> f64 {
    let reached = case.run.reached_s;
    let mut view: f64 = 0.0;
    for island in case.run.islands.iter().filter(|island| !island.stores.is_empty()) {
        view = view.max(match &island.settled {
            Some(settled) if settled.period_s > 0.0 => settled.from_s + CYCLES * settled.period_s,
            // It comes to rest.
            Some(settled) if settled.from_s > 0.0 => settled.from_s * AND_THEN,
            _ => reached,
        });
    }
    // No more than can be told apart, and no more than every course has.
    let most = case.run.switches.iter().map(|switch| switch.starts).max().unwrap_or(0) as f64;
    view = if view > 0.0 { view.min(reached) } else { reached };
    if most > CYCLES_AT_MOST {
        view = view.min(reached / most * CYCLES_AT_MOST);
    }
    for record in &case.run.stores {
        let firsts = [record.first_empty_s, record.first_full_s].into_iter().flatten();
        view = firsts.fold(view, |view, first| view.max(first * AND_THEN));
    }
    // A course that is cut off says nothing of what comes after.
    let cut_off = case.run.stores.iter().filter(|record| record.course.len() >= MOST_POINTS);
    cut_off.filter_map(|record| record.course.last()).map(|&(at, _)| at).fold(view.min(reached), f64::min)
}

/// The course of a level as shares of the capacity, until `view_s`. Where it has many points, the first and the last and the
/// extremes of each stretch of time stay.
fn course(record: &StoreRecord, settled: Option<&Settled>, capacity: f64, view_s: f64) -> CourseFigures {
    let mut whole = record.course.clone();
    if let Some(settled) = settled {
        go_on(&mut whole, settled, view_s);
    }
    let shown = whole.partition_point(|&(at, _)| at <= view_s);
    let mut points = whole[..shown].to_vec();
    if let (Some(&(from, low)), Some(&(to, high))) = (points.last(), whole.get(shown))
        && to > from
        && view_s > from
    {
        points.push((view_s, low + (high - low) * (view_s - from) / (to - from)));
    }
    let share = |level: f64| (level / capacity).clamp(0.0, 1.0);
    let kept = thinned(&points, STRETCHES);
    CourseFigures {
        at_s: kept.iter().map(|&at| points[at].0).collect(),
        level_share: kept.iter().map(|&at| share(points[at].1)).collect(),
    }
}

/// Lets a settled course go on until `view_s`: its last cycle again and again, or the level that it has come to.
fn go_on(course: &mut Vec<(f64, f64)>, settled: &Settled, view_s: f64) {
    let Some(&(end, level)) = course.last() else { return };
    if settled.period_s <= 0.0 {
        if end < view_s {
            course.push((view_s, level));
        }
        return;
    }
    let last = course.partition_point(|&(at, _)| at <= end - settled.period_s * (1.0 - 1e-9));
    let cycle = course[last..].to_vec();
    let mut later = settled.period_s;
    while !cycle.is_empty() && end + later - settled.period_s < view_s && course.len() < 10 * MOST_POINTS {
        course.extend(cycle.iter().map(|&(at, level)| (at + later, level)));
        later += settled.period_s;
    }
}
