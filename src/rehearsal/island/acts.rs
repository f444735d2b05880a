//! What acts at a moment: patterns that turn, and switches.

use super::Island;
use crate::plan::SwitchId;
use crate::rehearsal::result::{Turn, What};
use crate::rehearsal::system::Timed;

impl Island<'_> {
    /// A pattern passes its edge.
    pub(super) fn turn(&mut self, course: usize, now: f64) {
        let before = self.courses[course].share();
        self.courses[course].pass();
        let share = self.courses[course].share();
        self.set_course(course);
        if share == before {
            self.simulated += 1;
            return;
        }
        let turn = match (before, share) {
            (0.0, _) => Turn::On,
            (_, 0.0) => Turn::Off,
            _ => Turn::Step,
        };
        self.log(
            now,
            match self.system.courses[course].0 {
                Timed::Supply(supply) => What::Supply(supply, turn),
                Timed::Demand(demand) => What::Demand(demand, turn),
                Timed::HotSource(source) => What::HotSource(source, turn),
            },
        );
    }

    pub(super) fn set_course(&mut self, course: usize) {
        self.rates.set_share(course, self.courses[course].share());
        self.queue.set(self.course_slot(course), self.courses[course].next());
    }

    /// Asks the switches that watch a store that is due.
    pub(super) fn switch(&mut self, now: f64) {
        let mut asked = std::mem::take(&mut self.asked);
        asked.clear();
        asked.extend(self.due.iter().flat_map(|&tank| &self.watchers[tank]));
        asked.sort_unstable();
        for &at in &asked {
            let contact = &self.system.contacts[at];
            let on = self.rates.state.is_on(at);
            if !contact.acts(on, self.levels[contact.store].at) {
                continue;
            }
            self.rates.set_on(at, !on);
            let switch = SwitchId(self.part.contacts[at]);
            let tally = &mut self.tallies[at];
            if on {
                tally.stops += 1;
                tally.on_s += now - tally.since_s;
                self.log(now, What::Stop(switch));
            } else {
                tally.starts += 1;
                tally.first_s.get_or_insert(now);
                if let Some(last) = tally.last_s {
                    let cycle = now - last;
                    tally.least_cycle_s = Some(tally.least_cycle_s.map_or(cycle, |least| least.min(cycle)));
                }
                tally.last_s = Some(now);
                self.log(now, What::Start(switch));
            }
            self.tallies[at].since_s = now;
        }
        self.asked = asked;
    }
}
