//! Power for cooling: coolers whose power is cut, and those that hunt.

use super::{FindingCode, Search};
use crate::plan::pointer;
use crate::questions::answer::{Remedy, finding, quoted, round_up};

impl Search<'_, '_> {
    pub(super) fn cooling(&mut self) {
        let Some(warm) = &self.case.run.warm else { return };
        for (cooler, record) in self.case.plan.coolers.iter().zip(&warm.coolers) {
            let Some(at_s) = record.first_cut_s else { continue };
            let say = format!(
                "cooler {} lacks power {}, for {} in all",
                quoted(&cooler.name),
                self.after(at_s),
                self.span(record.cut_s)
            );
            let place = pointer(&["coolers", &cooler.name, "draws"]);
            let found = finding(FindingCode::CoolerUnpowered, place, say).at_most(record.cut_s, 0.0, "s");
            self.add(at_s, found.mended(self.power_for_cooling()));
        }
        if warm.hunts > 0 {
            let say = "coolers and what shares their power start and stop each other without end at their set points: \
                       what is told of them is an average"
                .to_owned();
            let found = finding(FindingCode::CoolersHunt, "/coolers".to_owned(), say);
            self.add_lasting(found.mended(self.power_for_cooling()));
        }
    }

    /// As much power besides as all coolers draw when they run.
    fn power_for_cooling(&self) -> Option<Remedy> {
        let plan = self.case.plan;
        let header = plan.power()?;
        let counts = self.case.warm?.coolers;
        let draws = plan.coolers.iter().zip(counts).map(|(cooler, count)| cooler.draws.si() * count);
        Some(self.tap(header, round_up(draws.sum())))
    }
}
