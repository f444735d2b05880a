//! What is worth knowing about the plan itself.

use super::{FindingCode, Search, finding};
use crate::plan::{Aim, Count, pointer};
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{Remedy, quoted, rhythm};
use crate::questions::flow_balance::network::rate_on;

/// Takes and gives that differ by more than this share of the greater do not close.
const OPEN: f64 = 1e-3;
/// Headers whose flows differ by less than this share close.
const CLOSED: f64 = 1e-6;

impl Search<'_> {
    pub(super) fn notes(&mut self) {
        self.nothing_asked();
        self.open_units();
        if self.balance.imbalance > CLOSED {
            let share = print_si::<dimension::Share>(self.balance.imbalance);
            let say =
                format!("rates of this plan lie so far apart that a header fails to close by {share} of its flow");
            let found = finding(FindingCode::BalanceOpen, pointer(&["headers"]), say);
            let remedy = words("bring rates to within nine orders of magnitude".to_owned());
            self.found.push(found.at_most(self.balance.imbalance, CLOSED, "1").mended(Some(remedy)));
        }
        if !self.balance.proven {
            let say = "these counts serve, but others might do better: the search met its limit before the proof";
            self.found.push(finding(FindingCode::CountsUnproven, pointer(&["units"]), say.to_owned()));
        }
        self.averages();
        // Where something is short or every machine is the aim, spare machines are not the matter.
        if self.balance.outcome == crate::balance::Outcome::Met && !matches!(self.plan.aim, Aim::Most(_)) {
            self.idle_machines();
        }
    }

    fn nothing_asked(&mut self) {
        let plan = self.plan;
        if !matches!(plan.aim, Aim::Unsaid) || !plan.demands.is_empty() {
            return;
        }
        let found = if plan.units.iter().any(|unit| matches!(unit.count, Count::Fixed(count) if count > 0)) {
            let say = "no aim and no demand: every unit with a count is run";
            finding(FindingCode::AllRun, String::new(), say.to_owned())
        } else {
            let say = "nothing is asked: the plan has no aim, no demand and no unit with a count";
            let remedy = words("say what is wanted: an aim, a demand, or the count of a unit".to_owned());
            finding(FindingCode::NothingAsked, String::new(), say.to_owned()).mended(Some(remedy))
        };
        self.found.push(found);
    }

    fn open_units(&mut self) {
        let power = self.network.power;
        for unit in &self.plan.units {
            let on_power = |flows| power.map_or(0.0, |power| rate_on(flows, power));
            // An empty sum is -0; adding nothing turns it into 0.
            let taken = unit.takes.iter().map(|flow| flow.rate).sum::<f64>() - on_power(&unit.takes) + 0.0;
            let given = unit.gives.iter().map(|flow| flow.rate).sum::<f64>() - on_power(&unit.gives) + 0.0;
            let open = given - taken;
            if open.abs() <= OPEN * given.max(taken) {
                continue;
            }
            let rate = |rate: f64| {
                if rate > 0.0 { print_si::<dimension::MassRate>(rate).to_string() } else { "nothing".to_owned() }
            };
            let say = format!(
                "one {} takes {} and gives {}: {} {}",
                quoted(&unit.name),
                rate(taken),
                rate(given),
                rate(open.abs()),
                if open > 0.0 { "comes from nowhere" } else { "goes nowhere" },
            );
            let found = finding(FindingCode::MassNotClosed, pointer(&["units", &unit.name]), say);
            let (more, less) = if open > 0.0 { ("takes", "gives") } else { ("gives", "takes") };
            let amount = rate(open.abs());
            let remedy = words(format!("say what it {more} besides, {amount} in all, or that it {less} as much less"));
            self.found.push(found.at_most(given, taken, "kg/s").mended(Some(remedy)));
        }
    }

    fn averages(&mut self) {
        for supply in &self.plan.supplies {
            let (Some(pattern), Some(rate), Some(average)) = (&supply.pattern, supply.rate, supply.average_rate())
            else {
                continue;
            };
            let carries = self.plan.header(supply.header).carries;
            let say = format!(
                "supply {} is counted at its long-run average of {}: {} {}",
                quoted(&supply.name),
                carries.print(average),
                carries.print(rate),
                rhythm(pattern),
            );
            let place = pointer(&["supplies", &supply.name, "pattern"]);
            let found = finding(FindingCode::PatternAveraged, place, say);
            self.found.push(found.at_most(average, rate, carries.si_unit()));
        }
        for demand in &self.plan.demands {
            let Some(pattern) = &demand.pattern else { continue };
            let (carries, average) = (self.plan.header(demand.header).carries, demand.average_rate());
            let say = format!(
                "demand {} is counted at its long-run average of {}: {} {}",
                quoted(&demand.name),
                carries.print(average),
                carries.print(demand.rate),
                rhythm(pattern),
            );
            let place = pointer(&["demands", &demand.name, "pattern"]);
            let found = finding(FindingCode::PatternAveraged, place, say);
            self.found.push(found.at_most(average, demand.rate, carries.si_unit()));
        }
    }
}

/// A remedy that is no change of a number.
fn words(say: String) -> Remedy {
    Remedy { say, patch: None }
}
