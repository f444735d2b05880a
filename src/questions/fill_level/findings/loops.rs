//! The charge of closed loops.

use serde_json::json;

use super::{FindingCode, Search};
use crate::plan::pointer;
use crate::quantity::{Printed, dimension, print_si};
use crate::questions::answer::{Remedy, finding, nest, quoted};
use crate::questions::fill_level::case::Window;

fn mass(kg: f64) -> Printed<dimension::Mass> {
    print_si(kg)
}

impl Search<'_, '_> {
    pub(super) fn loops(&mut self) {
        for (at, closed) in self.case.plan.loops.iter().enumerate() {
            let window = self.case.windows[at];
            let Window { charge, least, most } = window;
            let name = quoted(&closed.name);
            let charge_to = |to: f64| nest(&["loops", &closed.name, "charge"], json!(to));
            if window.is_empty() {
                let say = format!(
                    "no charge of loop {name} will do: {} must circulate, and there is room for {}",
                    mass(least),
                    mass(most),
                );
                // What must hold it cold with the gap: least · (1 + expansion) + gap.
                let holds = least * (1.0 + closed.expands.si()) + closed.keep_free.si();
                let remedy = Remedy {
                    say: format!("make it hold {}", mass(holds)),
                    patch: Some(nest(&["loops", &closed.name], json!({ "holds": holds, "charge": least }))),
                };
                let found = finding(FindingCode::LoopWindowEmpty, pointer(&["loops", &closed.name]), say)
                    .at_most(least, most, "kg")
                    .mended(Some(remedy));
                self.add(0.0, found);
                continue;
            }
            let place = pointer(&["loops", &closed.name, "charge"]);
            if window.over() > 0.0 {
                let say =
                    format!("loop {name} is over-full by {}: there is room for {}", mass(charge - most), mass(most));
                let remedy = Remedy { say: format!("take out {}", mass(charge - most)), patch: Some(charge_to(most)) };
                let found =
                    finding(FindingCode::LoopOverFull, place, say).at_most(charge, most, "kg").mended(Some(remedy));
                self.add(0.0, found);
            } else if window.short() > 0.0 {
                let say = format!("loop {name} is short of {} to circulate {}", mass(least - charge), mass(least));
                let remedy = Remedy { say: format!("add {}", mass(least - charge)), patch: Some(charge_to(least)) };
                let found =
                    finding(FindingCode::LoopShort, place, say).at_least(charge, least, "kg").mended(Some(remedy));
                self.add(0.0, found);
            }
        }
    }
}
