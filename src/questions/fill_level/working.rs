//! The arithmetic in order, as one would show it on a board.

use super::case::{Case, Window, per};
use super::fill::watches;
use crate::course::outlook;
use crate::plan::{Carried, StandingLoss, StoreId};
use crate::quantity::{dimension, number, print, print_si};
use crate::questions::answer::{factors, short, span};
use crate::rehearsal::sizing::Sizing;

/// The most lines of `working`; the last says how many are left out.
pub const MOST_LINES: usize = 200;

/// The lines.
pub(super) fn working(case: &Case<'_>) -> Vec<String> {
    let mut board = Board { case, lines: Vec::new() };
    board.averages();
    for at in 0..case.plan.stores.len() {
        board.store(at);
    }
    for at in 0..case.plan.switches.len() {
        board.switch(at);
    }
    for at in 0..case.plan.units.len() {
        board.unit(at);
    }
    for at in 0..case.plan.loops.len() {
        board.charge(at);
    }
    let mut lines = board.lines;
    if lines.len() > MOST_LINES {
        let more = lines.len() - (MOST_LINES - 1);
        lines.truncate(MOST_LINES - 1);
        lines.push(format!("and {more} more lines, not shown"));
    }
    lines
}

struct Board<'c, 'p> {
    case: &'c Case<'p>,
    lines: Vec<String>,
}

impl Board<'_, '_> {
    fn span(&self, seconds: f64) -> String {
        span(seconds, self.case.plan.day)
    }

    /// What comes and goes: on average, and next.
    fn averages(&mut self) {
        let plan = self.case.plan;
        for supply in &plan.supplies {
            if let Some(pattern) = &supply.pattern {
                let ahead = outlook(pattern);
                let state = if ahead.share > 0.0 { "on" } else { "off" };
                let changes = ahead
                    .changes_s
                    .map_or_else(|| " for good".to_owned(), |at| format!(", changes after {}", self.span(at)));
                let returns = match ahead.returns_s {
                    Some(at) if ahead.returns_s != ahead.changes_s => format!(", comes back after {}", self.span(at)),
                    _ => String::new(),
                };
                self.lines.push(format!("{} is {state}{changes}{returns}", short(&supply.name)));
            }
            if let (Some(pattern), Some(rate), Some(average)) = (&supply.pattern, supply.rate, supply.average_rate()) {
                let carries = plan.header(supply.header).carries;
                let (name, factors) = (short(&supply.name), factors(pattern));
                self.lines.push(format!(
                    "{name} on average: {} × {factors} = {}",
                    carries.print(rate),
                    carries.print(average)
                ));
            }
        }
        for demand in &plan.demands {
            if let Some(pattern) = &demand.pattern {
                let carries = plan.header(demand.header).carries;
                let (name, factors) = (short(&demand.name), factors(pattern));
                let average = carries.print(demand.average_rate());
                self.lines.push(format!("{name} on average: {} × {factors} = {average}", carries.print(demand.rate)));
            }
        }
    }

    fn store(&mut self, at: usize) {
        let plan = self.case.plan;
        let (store, record) = (&plan.stores[at], &self.case.run.stores[at]);
        let carries = plan.header(store.header).carries;
        let (name, amount) = (short(&store.name), |amount: f64| carries.print_amount(amount));
        let stood = match store.loses {
            StandingLoss::None => String::new(),
            _ => format!(" − {} lost by standing", amount(record.stood_lost)),
        };
        self.lines.push(format!(
            "{name} in {}: {} + {} in − {} out{stood} = {}",
            self.span(self.case.run.reached_s),
            amount(record.start),
            amount(record.filled),
            amount(record.drained),
            amount(record.end),
        ));
        for (first, is_dry) in [(record.first_empty_s, true), (record.first_full_s, false)] {
            let Some(first) = first.filter(|&first| first > 0.0) else { continue };
            self.last_stretch(at, first, is_dry, carries);
        }
        if let Some((island, which)) = self.case.island(StoreId(at))
            && let Some(settled) = &island.settled
            && let Some(&(least, greatest)) = settled.span.get(which)
        {
            let line = if settled.period_s > 0.0 {
                format!(
                    "{name} settles {}: every {} between {} and {}",
                    if settled.from_s > 0.0 {
                        format!("after {}", self.span(settled.from_s))
                    } else {
                        "at once".to_owned()
                    },
                    self.span(settled.period_s),
                    amount(least),
                    amount(greatest),
                )
            } else {
                format!("{name} comes to rest at {} after {}", amount(record.end), self.span(settled.from_s))
            };
            self.lines.push(line);
        }
        if record.greatest > record.least {
            let used = amount(record.greatest - record.least);
            let (capacity, start) = (amount(store.capacity), amount(record.start));
            let from_start = amount(record.start - record.least);
            self.lines
                .push(format!("{name} uses {used} of its {capacity}, and {from_start} of the {start} it begins with"));
        }
        let sizes = self.case.sizes[at];
        let begins = |said: &str| format!("{name}: {said}, rehearsed there and just under");
        match sizes.capacity {
            Some(Sizing::Least(least) | Sizing::UntilHorizon(least)) if least <= 0.0 => {
                self.lines.push(format!("{name}: nothing is short even without it"));
            }
            Some(Sizing::Least(least)) => {
                let said = "is the least capacity that leaves nothing short if it begins full, however long it goes on";
                self.lines.push(begins(&format!("{} {said}", amount(least))));
            }
            Some(Sizing::UntilHorizon(least)) => {
                let said = "is the least capacity that leaves nothing short as far as the horizon, if it begins full";
                self.lines.push(begins(&format!("{} {said}", amount(least))));
            }
            Some(Sizing::NoneIsEnough) => {
                self.lines.push(format!("{name}: no capacity is enough, for what is short does not come out of it"));
            }
            Some(Sizing::NotFound) | None => {}
        }
        match sizes.level {
            Some(Sizing::Least(least) | Sizing::UntilHorizon(least)) => {
                self.lines.push(begins(&format!(
                    "{} at the beginning is the least that leaves nothing short",
                    amount(least)
                )));
            }
            Some(Sizing::NoneIsEnough) => {
                self.lines.push(format!("{name}: with this capacity no level at the beginning is enough"));
            }
            Some(Sizing::NotFound) | None => {}
        }
    }

    /// The last straight stretch before a store first stands empty or full.
    fn last_stretch(&mut self, at: usize, first: f64, is_dry: bool, carries: Carried) {
        let store = &self.case.plan.stores[at];
        if matches!(store.loses, StandingLoss::Share(_)) {
            // Not straight.
            return;
        }
        let course = &self.case.run.stores[at].course;
        let until = course.partition_point(|&(time, _)| time < first * (1.0 - 1e-9));
        let Some(&(from, level)) = until.checked_sub(1).and_then(|before| course.get(before)) else { return };
        let lasts = first - from;
        let change = if is_dry { level } else { store.capacity - level };
        if !(lasts > 0.0 && change > 0.0) {
            return;
        }
        let (what, end) = if is_dry { ("in it", "dry") } else { ("of room", "full") };
        let said = format!(
            "{} {end}: {} {what} ÷ {} = {}",
            short(&store.name),
            carries.print_amount(change),
            carries.print(change / lasts),
            self.span(lasts),
        );
        let said =
            if from > 0.0 { format!("{said}, from {} on: after {}", self.span(from), self.span(first)) } else { said };
        self.lines.push(said);
    }

    fn switch(&mut self, at: usize) {
        let (plan, record) = (self.case.plan, &self.case.run.switches[at]);
        let switch = &plan.switches[at];
        if record.starts == 0 {
            return;
        }
        let reached = self.case.run.reached_s;
        let duty = print_si::<dimension::Share>(per(record.on_s, reached));
        self.lines.push(format!(
            "{}: {} starts in {}, on for {} of it ({duty})",
            short(&switch.name),
            record.starts,
            self.span(reached),
            self.span(record.on_s),
        ));
        if let Some((settled, starts)) = self.case.settled_switch(at)
            && settled.period_s > 0.0
            && starts > 0
        {
            self.lines.push(format!(
                "{} in the long run: {starts} ÷ {} = {} starts an hour",
                short(&switch.name),
                self.span(settled.period_s),
                number(self.case.starts_per_h(at)),
            ));
        }
        if let Some(cycle) = record.least_cycle_s {
            let store = &plan.stores[watches(self.case, at).0];
            let band = (switch.start_at - switch.stop_at).abs();
            self.lines.push(format!(
                "{}: a deadband of {}, at the shortest {} from start to start",
                short(&switch.name),
                plan.header(store.header).carries.print_amount(band),
                self.span(cycle),
            ));
        }
    }

    fn unit(&mut self, at: usize) {
        let (plan, record) = (self.case.plan, &self.case.run.units[at]);
        let unit = &plan.units[at];
        if record.duty_s <= 0.0 {
            return;
        }
        for flow in unit.takes.iter().filter(|flow| plan.header(flow.header).carries == Carried::Matter) {
            self.lines.push(format!(
                "{}: {} at full duty × {} = {} of {}",
                short(&unit.name),
                self.span(record.duty_s),
                Carried::Matter.print(flow.rate),
                Carried::Matter.print_amount(record.duty_s * flow.rate),
                short(&plan.header(flow.header).name),
            ));
        }
    }

    fn charge(&mut self, at: usize) {
        let closed = &self.case.plan.loops[at];
        let Window { charge, least, most } = self.case.windows[at];
        let mass = |kg: f64| print_si::<dimension::Mass>(kg);
        self.lines.push(format!(
            "{}: ({} − {}) ÷ (1 + {}) = {} at most, {} at least; {} is in it",
            short(&closed.name),
            print(closed.holds),
            print(closed.keep_free),
            print(closed.expands),
            mass(most),
            mass(least),
            mass(charge),
        ));
    }
}
