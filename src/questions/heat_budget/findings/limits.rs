//! Limits of zones and of machines that are passed.

use serde_json::json;

use super::super::celsius;
use super::super::fill::owner;
use super::{HeatCode, Search};
use crate::heat::LimitOf;
use crate::questions::answer::{Finding, Remedy, finding, nest, quoted, span};

impl Search<'_> {
    /// Temperatures passed over the horizon, and at rest.
    pub(super) fn limits(&mut self) {
        let plan = self.plan;
        let accounts = &self.reckoned.rehearsal.accounts;
        for (zone, limits) in self.reckoned.assembly.limits.iter().enumerate() {
            for (at, of) in limits.iter().enumerate() {
                let limit = self.reckoned.assembly.network.zones[zone].limits[at];
                let passed = accounts.passed[zone][at];
                let cycle = self.reckoned.cycling.zone(zone);
                let rest = self.reckoned.at_rest().map(|rest| match cycle {
                    Some(cycle) if limit.above => cycle.greatest_c,
                    Some(cycle) => cycle.least_c,
                    None => rest.temperatures_c[zone],
                });
                let at_rest =
                    rest.filter(|t| if limit.above { *t > limit.at_c + 1e-9 } else { *t < limit.at_c - 1e-9 });
                if passed.is_none() && at_rest.is_none() {
                    continue;
                }
                let (place, name) = owner(plan, zone, *of);
                let zone_name = &plan.zones[zone].name;
                let extreme = if limit.above { accounts.greatest[zone].at_c } else { accounts.least[zone].at_c };
                let value = at_rest.map_or(extreme, |t| if limit.above { t.max(extreme) } else { t.min(extreme) });
                let when = match passed {
                    Some(0.0) => "from the beginning".to_owned(),
                    Some(s) => format!("after {}", span(s, plan.day)),
                    None => "in the long run".to_owned(),
                };
                let (code, say) = match of {
                    LimitOf::Zone => (
                        HeatCode::ZoneOverLimit,
                        format!(
                            "{} gets to {}, past its limit of {}, {when}",
                            quoted(&name),
                            celsius(value),
                            celsius(limit.at_c)
                        ),
                    ),
                    LimitOf::ZoneLeast => (
                        HeatCode::ZoneUnderLeast,
                        format!(
                            "{} falls to {}, below its least of {}, {when}",
                            quoted(&name),
                            celsius(value),
                            celsius(limit.at_c)
                        ),
                    ),
                    LimitOf::Unit(_) => (
                        HeatCode::MachineOverLimit,
                        format!(
                            "{} bears {} and {} gets to {}, {when}",
                            quoted(&name),
                            celsius(limit.at_c),
                            quoted(zone_name),
                            celsius(value)
                        ),
                    ),
                };
                let found = finding(code, place, say);
                let found = if limit.above {
                    found.at_most(value, limit.at_c, "°C")
                } else {
                    found.at_least(value, limit.at_c, "°C")
                };
                let remedy = if limit.above {
                    self.more_cooling(zone).or_else(|| self.heat_taken(zone, limit.at_c))
                } else {
                    self.heat_given(zone, limit.at_c)
                };
                self.found.push(Finding { first_s: passed, ..found.mended(remedy) });
            }
        }
    }

    /// As many coolers of a zone as hold it.
    pub(super) fn more_cooling(&self, zone: usize) -> Option<Remedy> {
        let coolers = self.plan.coolers.iter().zip(self.reckoned.coolers);
        let short = coolers.filter(|(cooler, _)| cooler.cools.0 == zone).find_map(|(cooler, needed)| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
            let whole = crate::quantity::whole_up(needed.exact?) as u32;
            (whole > needed.count).then_some((cooler, whole))
        });
        let (cooler, whole) = short?;
        Some(Remedy {
            say: format!("have {whole} of {}", quoted(&cooler.name)),
            patch: Some(nest(&["coolers", &cooler.name, "count"], json!(whole))),
        })
    }
}
