//! Small plants whose answers can be had by hand.

mod counts;
mod fairness;
mod islands;
mod limits;
mod objectives;
mod worth;

use super::{Balance, Grower, Limit, Outcome, balance};
use crate::budget::{Budget, Halt};
use crate::plan::{HeaderId, Limits, Plan, SupplyId, UnitId};

fn plan(text: &str) -> Plan {
    Plan::from_json(text.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"))
}

fn solved(text: &str) -> (Plan, Balance) {
    let plan = plan(text);
    let balance = balance(&plan, &Budget::unhurried()).unwrap();
    closes(&plan, &balance);
    (plan, balance)
}

/// made + supplied = taken + served + delivered + let out + trapped on every header, to 1e-9 of what passes through.
fn closes(plan: &Plan, balance: &Balance) {
    for (header, flow) in plan.headers.iter().zip(&balance.headers) {
        let came = flow.made + flow.supplied;
        let went = flow.taken + flow.served + flow.delivered + flow.let_out + flow.trapped;
        assert!((came - went).abs() <= 1e-9 * came.max(went), "{}: {came} came, {went} went", header.name);
    }
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "got {got}, want {want}");
}

fn unit(plan: &Plan, name: &str) -> UnitId {
    plan.unit_named(name).unwrap()
}

fn header(plan: &Plan, name: &str) -> HeaderId {
    plan.header_named(name).unwrap()
}

#[test]
fn five_units_need_nine_removers() {
    // Common practice, no source: five units giving 500 g/s each need nine removers of 300 g/s.
    let (plan, balance) = solved(
        r#"{"units": {"maker": {"takes": {"feed": "500 g/s"}, "gives": {"fume": "500 g/s"}},
                      "remover": {"takes": {"fume": "300 g/s"}, "gives": {"cake": "300 g/s"}}},
            "supplies": {"feed": {"header": "feed"}}, "outlets": {"cake": {}}, "aim": {"run": {"maker": 5}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    let remover = balance.units[unit(&plan, "remover").0];
    near(remover.needed, 2.5 / 0.3);
    assert_eq!(remover.count, 9);
    near(balance.drawn[0], 2.5);
}

#[test]
fn a_surplus_without_an_outlet_is_trapped_and_said() {
    let (plan, balance) = solved(
        r#"{"units": {"maker": {"takes": {"feed": 1}, "gives": {"good": 0.6, "waste": 0.4}}},
            "supplies": {"feed": {"header": "feed"}}, "demands": {"user": {"header": "good", "rate": 3}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    near(balance.headers[header(&plan, "waste").0].trapped, 2.0);
    near(balance.headers[header(&plan, "waste").0].let_out, 0.0);
}

#[test]
fn a_recycle_loop_closes_with_its_make_up() {
    // Lime goes round between absorber and kiln; 5 % is lost at the kiln and made up from the store.
    let (plan, balance) = solved(
        r#"{"units": {"absorber": {"takes": {"fume": 1, "lime": 2}, "gives": {"spent": 3}},
                      "kiln": {"takes": {"spent": 3}, "gives": {"lime": 1.9, "gas": 1, "dust": 0.1}}},
            "supplies": {"stack": {"header": "fume", "rate": 7, "when": "always"}, "store": {"header": "lime", "rank": 2}},
            "outlets": {"gas": {}, "dust": {}}, "aim": {"run": {"absorber": 7}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    near(balance.units[unit(&plan, "kiln").0].needed, 7.0);
    near(balance.drawn[1], 0.7);
}

#[test]
fn equals_are_cut_in_proportion_and_the_last_rank_first() {
    let (_, balance) = solved(
        r#"{"supplies": {"well": {"header": "water", "rate": 10}},
            "demands": {"a": {"header": "water", "rate": 6}, "b": {"header": "water", "rate": 2, "rank": 2},
                        "c": {"header": "water", "rate": 6, "rank": 2}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Short);
    near(balance.served[0], 6.0);
    near(balance.served[1], 1.0);
    near(balance.served[2], 3.0);
    assert_eq!(balance.binding.iter().map(|binding| binding.limit).collect::<Vec<_>>(), [Limit::Supply(SupplyId(0))]);
}

#[test]
fn a_run_and_a_demand_of_one_rank_share_the_cut() {
    // 35 g/s for burners that want 50 and a demand that wants 20: both get half.
    let (plan, balance) = solved(
        r#"{"units": {"burner": {"takes": {"fuel": "10 g/s"}, "gives": {"exhaust": "10 g/s"}, "generates": "70 kW"}},
            "supplies": {"seep": {"header": "fuel", "rate": "35 g/s"}}, "outlets": {"exhaust": {}},
            "demands": {"stove": {"header": "fuel", "rate": "20 g/s"}}, "aim": {"run": {"burner": 5}}}"#,
    );
    near(balance.units[unit(&plan, "burner").0].needed, 2.5);
    near(balance.served[0], 0.01);
}

#[test]
fn reuse_precedes_reserve() {
    let (_, balance) = solved(
        r#"{"supplies": {"reserve": {"header": "water", "rate": 10, "rank": 3}, "spring": {"header": "water", "rate": 2}},
            "demands": {"user": {"header": "water", "rate": 5}}}"#,
    );
    near(balance.drawn[0], 3.0);
    near(balance.drawn[1], 2.0);
}

#[test]
fn power_pays_for_itself() {
    // The pump's 10 kW come from the generator that burns what the pump lifts.
    let (plan, balance) = solved(
        r#"{"units": {"generator": {"takes": {"fuel": "10 g/s"}, "gives": {"exhaust": "10 g/s"}, "generates": "50 kW"},
                      "pump": {"takes": {"well": "20 g/s"}, "gives": {"fuel": "20 g/s"}, "draws": "10 kW"}},
            "supplies": {"well": {"header": "well"}}, "outlets": {"exhaust": {}}, "aim": {"make": {"power": "90 kW"}}}"#,
    );
    near(balance.units[unit(&plan, "generator").0].needed, 2.0);
    near(balance.units[unit(&plan, "pump").0].needed, 1.0);
    near(balance.headers[plan.power().unwrap().0].made, 100e3);
}

#[test]
fn where_power_is_to_spare_only_machines_that_stand_are_idle() {
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"b": 1}, "draws": "10 kW", "idle_draw": "2 kW"},
                      "generator": {"count": 1, "generates": "90 kW"}},
            "supplies": {"a": {"header": "a"}}, "demands": {"b": {"header": "b", "rate": 2.5}},
            "aim": {"run": {"generator": 1}}}"#,
    );
    let power = balance.headers[plan.power().unwrap().0];
    near(power.taken, 26e3);
    near(power.let_out, 64e3);
}

#[test]
fn idle_draw_without_power_is_unserved() {
    // One of four runs; three stand and would draw 6 kW of a main of 3 kW.
    let (plan, balance) = solved(
        r#"{"units": {"pump": {"takes": {"water": 1}, "gives": {"head": 1}, "idle_draw": "2 kW", "count": 4}},
            "supplies": {"well": {"header": "water", "rate": 1}, "mains": {"header": "power", "rate": "3 kW"}},
            "demands": {"house": {"header": "head", "rate": 1}}}"#,
    );
    let power = balance.headers[header(&plan, "power").0];
    near(power.taken, 3e3);
    near(power.demanded, 3e3);
    near(power.unserved, 3e3);
}

#[test]
fn idle_draw_of_the_machines_that_stand_counts() {
    // Need 2.5 machines: 3 stand, and half a machine idles at 2 kW beside 2.5 at 10 kW.
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"b": 1}, "draws": "10 kW", "idle_draw": "2 kW"}},
            "supplies": {"a": {"header": "a"}, "grid": {"header": "power"}}, "demands": {"b": {"header": "b", "rate": 2.5}}}"#,
    );
    assert_eq!(balance.units[unit(&plan, "press").0].count, 3);
    near(balance.drawn[1], 26e3);
    near(balance.headers[plan.power().unwrap().0].taken, 26e3);
}

#[test]
fn whole_numbers_choose_between_two_sorts() {
    // 10 to absorb: large takes 4, small takes 1. Relaxed: 2.5 large (3 machines). 2 large + 2 small would be 4. So 3 large.
    let (plan, balance) = solved(
        r#"{"units": {"large": {"takes": {"fume": 4}, "gives": {"cake": 4}}, "small": {"takes": {"fume": 1}, "gives": {"cake": 1}},
                      "maker": {"takes": {"feed": 10}, "gives": {"fume": 10}}},
            "supplies": {"feed": {"header": "feed"}}, "outlets": {"cake": {}}, "aim": {"run": {"maker": 1}}}"#,
    );
    assert_eq!(balance.units[unit(&plan, "large").0].count + balance.units[unit(&plan, "small").0].count, 3);
    // Two jobs share three sorts: p does 0.6 of each, a and b one each. Relaxed least Σ is 1.667 (all p); in whole numbers
    // 2 of p does both jobs of 1.0.
    let (plan, balance) = solved(
        r#"{"units": {"p": {"takes": {"feed": 1.2}, "gives": {"x": 0.6, "y": 0.6}},
                      "a": {"takes": {"feed": 1}, "gives": {"x": 1}}, "b": {"takes": {"feed": 1}, "gives": {"y": 1}}},
            "supplies": {"feed": {"header": "feed"}},
            "demands": {"x": {"header": "x", "rate": 1}, "y": {"header": "y", "rate": 2}}}"#,
    );
    let total: u32 = ["p", "a", "b"].iter().map(|name| balance.units[unit(&plan, name).0].count).sum();
    // By hand: p alone needs 3.33 → 4; one p leaves 0.4 x and 1.4 y → 1 + 1 + 2; a + b: 1 + 2 = 3.
    assert_eq!(total, 3);
}

#[test]
fn a_machine_that_cannot_be_turned_down_runs_whole() {
    let (plan, balance) = solved(
        r#"{"units": {"press": {"count": 4, "turndown": 1, "takes": {"a": 2}, "gives": {"b": 2}}},
            "supplies": {"a": {"header": "a", "rate": 5}}, "outlets": {"b": {}, "a": {}}, "aim": {"most": {"b": 1}}}"#,
    );
    near(balance.units[unit(&plan, "press").0].needed, 2.0);
    near(balance.value.unwrap(), 4.0);
    // At half turndown 2.5 machines' worth can be had of three.
    let (plan, balance) = solved(
        r#"{"units": {"press": {"count": 4, "turndown": 0.5, "takes": {"a": 2}, "gives": {"b": 2}}},
            "supplies": {"a": {"header": "a", "rate": 5}}, "aim": {"most": {"b": 1}}}"#,
    );
    near(balance.units[unit(&plan, "press").0].needed, 2.5);
    // 0.3 of a machine that cannot go below half: the demand goes short rather than the rule.
    let (plan, balance) = solved(
        r#"{"units": {"press": {"turndown": 0.5, "takes": {"a": 1}, "gives": {"b": 1}}},
            "supplies": {"a": {"header": "a", "rate": 0.3}}, "demands": {"b": {"header": "b", "rate": 2}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Short);
    near(balance.units[unit(&plan, "press").0].needed, 0.0);
}

#[test]
fn fixed_lines_cap_a_header() {
    let (plan, balance) = solved(
        r#"{"headers": {"water": {"line": 2, "lines": 2}}, "supplies": {"well": {"header": "water"}},
            "demands": {"user": {"header": "water", "rate": 5}}, "worth": true}"#,
    );
    assert_eq!(balance.outcome, Outcome::Short);
    near(balance.served[0], 4.0);
    let water = header(&plan, "water");
    assert_eq!(balance.binding[0].limit, Limit::Lines(water));
    near(balance.binding[0].worth.unwrap(), 1.0);
    near(balance.headers[water.0].line_utilisation.unwrap(), 1.0);
}

/// Each of three sorts makes two of three products, out of nothing, so that what is drawn decides nothing. By halves of each all
/// demands are met with 1.5 machines, which rounds up to three; two whole ones do, and let one product out.
#[test]
fn fewest_whole_machines_are_not_the_fewest_rounded_up() {
    let (_, balance) = solved(
        r#"{"units": {"ab": {"gives": {"a": 1, "b": 1}}, "bc": {"gives": {"b": 1, "c": 1}},
                      "ca": {"gives": {"c": 1, "a": 1}}},
            "outlets": {"a": {}, "b": {}, "c": {}},
            "demands": {"wants a": {"header": "a", "rate": 1}, "wants b": {"header": "b", "rate": 1}, "wants c": {"header": "c", "rate": 1}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    assert_eq!(balance.units.iter().map(|unit| unit.count).sum::<u32>(), 2, "{:?}", balance.units);
}

/// Of a most, what binds is what would add to its value: not a spring that pushes all it has to an outlet, nor the machines of a unit
/// that stands still because it would leave a surplus.
#[test]
fn only_what_would_add_value_binds() {
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"seed": 1}, "gives": {"oil": 1}}, "still": {"takes": {"mash": 1}, "gives": {"oil": 1, "slops": 1}, "count": 5}},
            "supplies": {"field": {"header": "seed", "rate": 3}, "spring": {"header": "water", "rate": 2, "when": "always"},
                         "tun": {"header": "mash", "rate": 4}},
            "outlets": {"water": {}}, "aim": {"most": {"oil": 1}}}"#,
    );
    near(balance.value.unwrap(), 3.0);
    near(balance.let_out[0], 2.0);
    let limits: Vec<Limit> = balance.binding.iter().map(|binding| binding.limit).collect();
    let field = plan.supplies.iter().position(|supply| supply.name == "field").expect("it is there");
    assert_eq!(limits, [Limit::Supply(SupplyId(field))]);
}

#[test]
fn lines_are_counted_where_they_are_free() {
    let (plan, balance) = solved(
        r#"{"headers": {"water": {"line": "10 kg/s"}}, "supplies": {"well": {"header": "water"}},
            "demands": {"user": {"header": "water", "rate": 25}}}"#,
    );
    let water = balance.headers[header(&plan, "water").0];
    assert_eq!(water.lines, Some(3));
    near(water.line_utilisation.unwrap(), 25.0 / 30.0);
}

#[test]
fn what_a_spring_brings_must_go_somewhere() {
    let (plan, balance) = solved(
        r#"{"supplies": {"spring": {"header": "water", "rate": 5, "when": "always"}}, "outlets": {"water": {"limit": 2}},
            "demands": {"user": {"header": "water", "rate": 1}}}"#,
    );
    near(balance.drawn[0], 3.0);
    near(balance.let_out[0], 2.0);
    near(balance.headers[header(&plan, "water").0].trapped, 0.0);
}

#[test]
fn a_loop_with_gain_has_no_end() {
    let (plan, balance) =
        solved(r#"{"units": {"gain": {"takes": {"a": 1}, "gives": {"a": 2}}}, "aim": {"most": {"a": 1}}}"#);
    assert_eq!(balance.outcome, Outcome::Unbounded { through: Grower::Unit(unit(&plan, "gain")) });
    let (_, balance) = solved(r#"{"supplies": {"tap": {"header": "a"}}, "aim": {"most": {"a": 1}}}"#);
    assert_eq!(balance.outcome, Outcome::Unbounded { through: Grower::Supply(SupplyId(0)) });
    // Of all that grows the supply without a rate is named, whichever column was followed.
    let (_, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"b": 1, "c": 1}}}, "supplies": {"tap": {"header": "a"}},
            "outlets": {"c": {}}, "aim": {"most": {"b": 1}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Unbounded { through: Grower::Supply(SupplyId(0)) });
}

#[test]
fn a_gain_loop_under_a_demand_is_finite() {
    let (plan, balance) = solved(
        r#"{"units": {"gain": {"takes": {"a": 1}, "gives": {"a": 2}}}, "demands": {"user": {"header": "a", "rate": 3}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    near(balance.units[unit(&plan, "gain").0].needed, 3.0);
}

#[test]
fn nothing_asked_runs_what_there_is() {
    let (plan, balance) = solved(
        r#"{"units": {"pump": {"count": 3, "takes": {"a": 1}, "gives": {"b": 1}}}, "supplies": {"a": {"header": "a", "rate": 2}},
            "outlets": {"b": {}}}"#,
    );
    near(balance.units[unit(&plan, "pump").0].needed, 2.0);
    assert_eq!(balance.outcome, Outcome::Short);
    near(balance.aims[0].wanted, 3.0);
}

#[test]
fn an_empty_plan_balances() {
    let (_, balance) = solved("{}");
    assert_eq!(balance.outcome, Outcome::Met);
    assert!(balance.units.is_empty());
}

#[test]
fn rates_far_apart_still_close() {
    let (plan, balance) = solved(
        r#"{"units": {"trace": {"takes": {"ore": 1000, "acid": 1e-6}, "gives": {"metal": 1e-5, "slag": 1000}, "draws": "5 MW"}},
            "supplies": {"ore": {"header": "ore"}, "acid": {"header": "acid"}, "grid": {"header": "power"}}, "outlets": {"slag": {}},
            "demands": {"metal": {"header": "metal", "rate": 3e-5}}}"#,
    );
    near(balance.units[unit(&plan, "trace").0].needed, 3.0);
    near(balance.drawn[1] / 15e6, 1.0);
}

#[test]
fn the_budget_and_the_hook_are_obeyed() {
    let plan = plan(
        r#"{"units": {"a": {"takes": {"x": 1}, "gives": {"y": 1}}, "b": {"takes": {"x": 2}, "gives": {"y": 1}}},
            "supplies": {"x": {"header": "x", "rate": 1}}, "aim": {"most": {"y": 1}}}"#,
    );
    assert_eq!(balance(&plan, &Budget::new(0, &|| false)).unwrap_err(), Halt::StepsSpent { limit: 0 });
}

#[test]
fn the_order_of_the_document_decides_nothing() {
    let forward = r#"{"units": {"a": {"takes": {"x": 1}, "gives": {"y": 1}}, "b": {"takes": {"x": 1}, "gives": {"y": 1}}},
        "supplies": {"s": {"header": "x"}, "t": {"header": "x"}}, "demands": {"d": {"header": "y", "rate": 3}}}"#;
    let backward = r#"{"demands": {"d": {"header": "y", "rate": 3}}, "supplies": {"t": {"header": "x"}, "s": {"header": "x"}},
        "units": {"b": {"takes": {"x": 1}, "gives": {"y": 1}}, "a": {"takes": {"x": 1}, "gives": {"y": 1}}}}"#;
    let (plan, one) = solved(forward);
    let (naplan, two) = solved(backward);
    for name in ["a", "b"] {
        assert_eq!(one.units[unit(&plan, name).0], two.units[unit(&naplan, name).0]);
    }
    assert_eq!(
        one.drawn.iter().map(|rate| rate.to_bits()).collect::<Vec<_>>(),
        two.drawn.iter().map(|rate| rate.to_bits()).collect::<Vec<_>>()
    );
}

#[test]
fn an_empty_most_serves_the_demands_at_least_running_cost() {
    let (_, balance) = solved(
        r#"{"units": {"near": {"count": 4, "takes": {"a": 1}, "gives": {"b": 1}, "running_cost": 2},
                      "far": {"takes": {"a": 1}, "gives": {"b": 1}, "running_cost": 3}},
            "supplies": {"a": {"header": "a"}}, "demands": {"b": {"header": "b", "rate": 6}}, "aim": {"most": {}}}"#,
    );
    near(balance.value.unwrap(), -(4.0 * 2.0 + 2.0 * 3.0));
}

/// Pivots that a plan takes.
fn pivots(text: &str) -> u64 {
    solved(text).1.steps
}

/// So many units one after the other, each making the next one's feed with a loss, and what the last one makes is wanted.
fn chain(units: usize) -> String {
    let unit =
        |at: usize| format!(r#""u{at}": {{"takes": {{"h{at}": 2}}, "gives": {{"h{}": 1.5, "w{at}": 0.5}}}}"#, at + 1);
    let outlets: Vec<String> = (0..units).map(|at| format!(r#""w{at}": {{}}"#)).collect();
    format!(
        r#"{{"units": {{{}}}, "supplies": {{"s": {{"header": "h0"}}}}, "outlets": {{{}}},
            "demands": {{"d": {{"header": "h{units}", "rate": 3}}}}}}"#,
        (0..units).map(unit).collect::<Vec<_>>().join(", "),
        outlets.join(", "),
    )
}

#[test]
fn where_the_aim_fixes_every_flow_nothing_is_searched() {
    // The sweep along the flows ends at the answer: a chain however long, supplies that are not enough with another behind them,
    // and waste that a unit has to take.
    let cases = [
        chain(3),
        chain(30),
        r#"{"supplies": {"a": {"header": "h", "rate": 2}, "b": {"header": "h", "rate": 2, "rank": 2}, "c": {"header": "h", "rank": 3}},
            "demands": {"d": {"header": "h", "rate": 5}}}"#
            .to_owned(),
        r#"{"units": {"maker": {"takes": {"feed": 1}, "gives": {"good": 1, "bad": 2}},
                      "cleaner": {"takes": {"bad": 0.5}, "gives": {"cake": 0.5}}},
            "supplies": {"feed": {"header": "feed"}}, "outlets": {"cake": {}}, "aim": {"run": {"maker": 4}}}"#
            .to_owned(),
    ];
    let steps: Vec<u64> = cases.iter().map(|text| pivots(text)).collect();
    assert_eq!(steps, [0; 4], "pivots of the cases");
}
