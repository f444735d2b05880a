//! What the reckoning shows that the author should know, the heaviest first, each with what would mend it.

mod ballast;
mod code;
mod coolers;
mod limits;
mod surplus;
mod thermostats;
mod turbines;

use serde_json::json;

use super::celsius;
use super::fill::{advised, owner, window};
use super::reckon::Reckoned;
use crate::heat::Steady;
use crate::plan::{Plan, ZoneId, pointer};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Finding, Remedy, finding, heaviest_first, listed, merge, nest, quoted, span};
use crate::questions::coupled::tightest_limit;

pub use code::HeatCode;

struct Search<'a> {
    plan: &'a Plan,
    reckoned: &'a Reckoned<'a>,
    found: Vec<Finding>,
}

/// All findings, the heaviest first.
pub(super) fn find(plan: &Plan, reckoned: &Reckoned) -> Vec<Finding> {
    let mut search = Search { plan, reckoned, found: Vec::new() };
    search.rest();
    search.runaway();
    search.limits();
    search.coolers();
    search.turbines();
    search.ballast();
    search.products();
    search.feeds();
    search.notes();
    let mut found = search.found;
    heaviest_first::<HeatCode>(&mut found);
    found
}

impl Search<'_> {
    fn rest(&mut self) {
        match &self.reckoned.steady {
            Steady::One(_) => {}
            Steady::Several { coldest, hottest } => {
                let pairs = coldest.temperatures_c.iter().zip(&hottest.temperatures_c).enumerate();
                let apart = pairs.max_by(|(_, (a, b)), (_, (c, d))| (*b - *a).total_cmp(&(*d - *c)));
                let Some((zone, (cold, hot))) = apart else { return };
                let zone = &self.plan.zones[zone].name;
                let say = format!(
                    "{} can come to rest at {} and at {}: which of them depends on where it begins",
                    quoted(zone),
                    celsius(*cold),
                    celsius(*hot)
                );
                let remedy = Remedy {
                    say: "let zones begin where they are to rest, or keep switches from holding them apart".to_owned(),
                    patch: None,
                };
                self.found.push(finding(HeatCode::SeveralRests, pointer(&["zones", zone]), say).mended(Some(remedy)));
            }
            Steady::Heats => {
                let say = "more heat comes in than walls, coolers and turbines take away at any temperature".to_owned();
                let hottest = self.hottest();
                let at = hottest.map_or_else(String::new, |zone| pointer(&["zones", &self.plan.zones[zone].name]));
                let remedy = hottest.and_then(|zone| {
                    let held = tightest_limit(self.plan, ZoneId(zone)).unwrap_or(self.plan.zones[zone].at_c);
                    self.more_cooling(zone).or_else(|| self.heat_taken(zone, held))
                });
                self.found.push(finding(HeatCode::HeatsWithoutEnd, at, say).mended(remedy));
            }
            Steady::Cools => {
                let say = "more heat is taken away than comes in, down to absolute zero".to_owned();
                self.found.push(finding(HeatCode::CoolsWithoutEnd, String::new(), say).mended(self.set_points()));
            }
        }
    }

    /// A set point for each cooler that has none: the advised one, or where its zone begins.
    fn set_points(&self) -> Option<Remedy> {
        let plan = self.plan;
        let (mut said, mut patch) = (Vec::new(), json!({}));
        for cooler in plan.coolers.iter().filter(|cooler| cooler.set_point_c.is_none()) {
            let (least, greatest) = window(plan, cooler);
            let at_c = advised(least, greatest).unwrap_or(plan.zones[cooler.cools.0].at_c);
            said.push(format!("{} to {}", quoted(&cooler.name), celsius(at_c)));
            merge(&mut patch, nest(&["coolers", &cooler.name, "set_point"], json!(at_c)));
        }
        (!said.is_empty()).then(|| Remedy { say: format!("set {}", listed(&said)), patch: Some(patch) })
    }

    fn runaway(&mut self) {
        if self.reckoned.is_settled {
            return;
        }
        let say = "the power that cooling draws makes more heat than it takes away: no number of coolers and generators closes"
            .to_owned();
        let remedy = Remedy {
            say: "let generators stand where nothing cools them by power, or give coolers a better ratio of heat moved to power"
                .to_owned(),
            patch: None,
        };
        self.found.push(finding(HeatCode::CoolingRunsAway, "/coolers".to_owned(), say).mended(Some(remedy)));
    }

    fn hottest(&self) -> Option<usize> {
        let end = &self.reckoned.rehearsal.end_c;
        (0..end.len()).max_by(|a, b| end[*a].total_cmp(&end[*b]))
    }

    fn notes(&mut self) {
        if let Some(first) = self.reckoned.without_cooling.and_then(|stopped| stopped.first) {
            let (at, name) = owner(self.plan, first.zone, first.of);
            let after = if first.after_s == 0.0 {
                "at once".to_owned()
            } else {
                format!("after {}", span(first.after_s, self.plan.day))
            };
            let say = format!("if cooling stops, {} passes {} first, {after}", quoted(&name), celsius(first.limit_c));
            self.found.push(finding(HeatCode::CoolingStops, at, say));
        }
        self.thermostats();
        if let Some(source) = self.plan.hot_sources.iter().find(|source| source.pattern.is_some()) {
            let share = source.pattern.as_ref().map_or(1.0, crate::plan::Pattern::average_share);
            let say = format!(
                "at rest {} is counted at {} on average",
                quoted(&source.name),
                print_si::<dimension::Share>(share)
            );
            self.found.push(finding(HeatCode::HeatAveraged, pointer(&["hot_sources", &source.name, "pattern"]), say));
        }
        let gap = self.reckoned.rehearsal.accounts.worst_gap_share;
        if gap > 1e-9 {
            let say = format!("heat closes to {} of what passes only", number(gap));
            let remedy = Remedy {
                say: "bring conductances, flows and capacities to within nine orders of magnitude".to_owned(),
                patch: None,
            };
            let found = finding(HeatCode::HeatOpen, String::new(), say).at_most(gap, 1e-9, "1");
            self.found.push(found.mended(Some(remedy)));
        }
    }
}
