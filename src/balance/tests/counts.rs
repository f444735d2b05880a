//! Whole machines against trying all counts. What is made comes out of nothing and surplus may leave, so that counts serve
//! the demands where Σ gives · count is enough: no solver is needed to try them.

use super::{near, plan, solved, unit};
use crate::balance::{Outcome, balance};
use crate::budget::Budget;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Map, Value, json};

const PRODUCTS: [&str; 3] = ["a", "b", "c"];

/// What one gives of each product in halves, the least count, and how many more there may be.
type Sort = ([u8; 3], u32, Option<u32>);

fn sort() -> impl Strategy<Value = Sort> {
    let most = prop_oneof![2 => Just(None), 1 => (0_u32..4).prop_map(Some)];
    (prop::array::uniform3(prop_oneof![1 => Just(0_u8), 2 => 0_u8..5]), prop_oneof![3 => Just(0), 1 => 0_u32..3], most)
}

fn document(sorts: &[Sort], demands: [u8; 3]) -> Value {
    let mut units = Map::new();
    for (at, (gives, least, more)) in sorts.iter().enumerate() {
        let made: Map<String, Value> = PRODUCTS
            .iter()
            .zip(gives)
            .filter(|(_, halves)| **halves > 0)
            .map(|(name, &halves)| ((*name).to_owned(), json!(f64::from(halves) / 2.0)))
            .collect();
        let mut unit = json!({ "gives": made });
        match (least, more) {
            (0, None) => {}
            (&least, None) => unit["count"] = json!({ "at_least": least }),
            (&least, &Some(more)) => unit["count"] = json!({ "at_least": least, "at_most": least + more }),
        }
        units.insert(format!("u{at}"), unit);
    }
    let (mut wanted, mut outlets) = (Map::new(), Map::new());
    for (name, halves) in PRODUCTS.iter().zip(demands) {
        outlets.insert((*name).to_owned(), json!({}));
        if halves > 0 {
            wanted.insert(format!("wants {name}"), json!({ "header": name, "rate": f64::from(halves) / 2.0 }));
        }
    }
    json!({ "units": units, "outlets": outlets, "demands": wanted })
}

/// The fewest machines that serve the demands, trying all counts; `None` where none do.
fn fewest(sorts: &[Sort], demands: [u8; 3]) -> Option<u32> {
    let most = demands.iter().map(|&halves| u32::from(halves)).sum::<u32>();
    let mut best: Option<u32> = None;
    let mut counts: Vec<u32> = sorts.iter().map(|sort| sort.1).collect();
    loop {
        let total: u32 = counts.iter().sum();
        let made = |product: usize| {
            sorts.iter().zip(&counts).map(|(sort, &count)| u32::from(sort.0[product]) * count).sum::<u32>()
        };
        if (0..3).all(|product| made(product) >= u32::from(demands[product])) {
            best = Some(best.map_or(total, |best| best.min(total)));
        }
        let Some(at) = (0..sorts.len()).find(|&at| {
            let (_, least, more) = sorts[at];
            counts[at] < least + more.unwrap_or(most)
        }) else {
            return best;
        };
        counts[at] += 1;
        (0..at).for_each(|before| counts[before] = sorts[before].1);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 250, rng_seed: RngSeed::Fixed(3), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_fewer_machines_serve_the_demands(
        sorts in prop::collection::vec(sort(), 1..4),
        demands in prop::array::uniform3(0_u8..5),
    ) {
        prop_assume!(demands.iter().any(|&halves| halves > 0));
        let plan = plan(&document(&sorts, demands).to_string());
        let found = balance(&plan, &Budget::unhurried()).expect("within the budget");
        let best = fewest(&sorts, demands);
        prop_assert_eq!(found.outcome == Outcome::Met, best.is_some());
        if let Some(best) = best {
            prop_assert_eq!(found.units.iter().map(|unit| unit.count).sum::<u32>(), best, "{:?}", found.units);
        }
        for (unit, sort) in found.units.iter().zip(&sorts) {
            prop_assert!(unit.count >= sort.1 && sort.2.is_none_or(|more| unit.count <= sort.1 + more), "{:?}", unit);
            prop_assert!(unit.needed <= f64::from(unit.count) * (1.0 + 1e-6), "{:?}", unit);
        }
    }
}

/// Of two sorts that do the job alike the one that leaves nothing over runs, and it is that one which is counted.
#[test]
fn what_runs_is_counted() {
    let (_, balance) = solved(
        r#"{"units": {"dirty": {"gives": {"oil": 2, "slops": 1}}, "tidy": {"gives": {"oil": 2}}},
            "outlets": {"slops": {}}, "demands": {"oil": {"header": "oil", "rate": 0.5}}}"#,
    );
    let [dirty, tidy] = balance.units[..] else { panic!("{:?}", balance.units) };
    assert_eq!((dirty.count, tidy.count), (0, 1));
    near(tidy.needed, 0.25);
}

/// Two whole machines of one sort do it. Half a machine of the other would let less out, but then it would take three. Whatever moves no
/// count is still chosen so that the least is let out: of two machines that are there in any case, the tidy one runs.
#[test]
fn fewer_machines_matter_more_than_what_is_let_out() {
    for (plain, odd, smutty, tidy) in [("a", "b", "c", "d"), ("b", "a", "c", "d"), ("a", "b", "d", "c")] {
        let (plan, balance) = solved(&format!(
            r#"{{"units": {{"{plain}": {{"gives": {{"oil": 1, "slops": 1}}}}, "{odd}": {{"gives": {{"oil": 1, "dross": 0.2}}}},
                          "{smutty}": {{"gives": {{"glue": 1, "smuts": 1}}, "count": 1}}, "{tidy}": {{"gives": {{"glue": 1}}, "count": 1}}}},
                "outlets": {{"slops": {{}}, "dross": {{"limit": 0.1}}, "smuts": {{}}}},
                "demands": {{"oil": {{"header": "oil", "rate": 2}}, "glue": {{"header": "glue", "rate": 0.5}}}}}}"#
        ));
        let of = |name: &str| balance.units[unit(&plan, name).0];
        assert_eq!((of(plain).count, of(odd).count), (2, 0), "{:?}", balance.units);
        near(of(plain).needed, 2.0);
        near(of(tidy).needed, 0.5);
        near(of(smutty).needed, 0.0);
    }
}

/// A sort of machine that takes from one of two feeds, or both, and what else stands around: rates in halves.
#[derive(Clone, Debug)]
struct Works {
    sorts: Vec<Sort>,
    takes: Vec<[u8; 2]>,
    feeds: [Vec<u8>; 2],
    outlets: [Option<u8>; 3],
    demands: [u8; 3],
}

fn works() -> impl Strategy<Value = Works> {
    let feed = || prop::collection::vec(1_u8..8, 1..3);
    let outlet = || prop_oneof![1 => Just(None), 2 => (0_u8..4).prop_map(Some)];
    let sorts = prop::collection::vec(sort(), 1..4);
    let takes = prop::collection::vec(prop::array::uniform2(0_u8..3), 3);
    (sorts, takes, [feed(), feed()], [outlet(), outlet(), outlet()], prop::array::uniform3(0_u8..4))
        .prop_map(|(sorts, takes, feeds, outlets, demands)| Works { sorts, takes, feeds, outlets, demands })
}

impl Works {
    /// The works with so many of each sort, or with the counts to be found.
    fn document(&self, counts: Option<&[u32]>) -> Value {
        let half = |halves: u8| f64::from(halves) / 2.0;
        let mut document = document(&self.sorts, self.demands);
        for (at, takes) in self.takes.iter().enumerate().take(self.sorts.len()) {
            let unit = &mut document["units"][format!("u{at}")];
            for (feed, &halves) in ["ore", "water"].iter().zip(takes).filter(|(_, halves)| **halves > 0) {
                unit["takes"][feed] = json!(half(halves));
            }
            if let Some(counts) = counts {
                unit["count"] = json!(counts[at]);
            }
        }
        for (feed, rates) in ["ore", "water"].iter().zip(&self.feeds) {
            for (at, &halves) in rates.iter().enumerate() {
                document["supplies"][format!("{feed} {at}")] = json!({ "header": feed, "rate": half(halves) });
            }
        }
        for (product, limit) in PRODUCTS.iter().zip(self.outlets).filter_map(|(product, limit)| Some((product, limit?)))
        {
            document["outlets"][product] = json!({ "limit": half(limit) });
        }
        document
    }
}

/// What counts more than the number of machines, in its order: shares that fall short, what is trapped, what is drawn.
fn before_machines(document: &Value) -> (Vec<f64>, u32) {
    let plan = plan(&document.to_string());
    let found = balance(&plan, &Budget::unhurried()).expect("within the budget");
    assert!(found.proven, "{document}");
    let mut short: Vec<f64> =
        plan.demands.iter().zip(&found.served).map(|(demand, served)| 1.0 - served / demand.rate).collect();
    short.sort_by(|one, other| other.total_cmp(one));
    short.push(found.headers.iter().map(|header| header.trapped).sum());
    short.push(found.drawn.iter().sum());
    (short, found.units.iter().map(|unit| unit.count).sum())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, rng_seed: RngSeed::Fixed(4), failure_persistence: None, ..ProptestConfig::default() })]

    /// Also where feeds and outlets have limits: every other number of machines, as fixed counts, does less or takes as many.
    #[test]
    fn no_fewer_machines_do_as_well(works in works()) {
        prop_assume!(works.demands.iter().any(|&halves| halves > 0));
        let (reached, machines) = before_machines(&works.document(None));
        let most: Vec<u32> = works.sorts.iter().map(|&(_, least, more)| least + more.unwrap_or(4).min(4)).collect();
        let mut counts: Vec<u32> = works.sorts.iter().map(|sort| sort.1).collect();
        let mut as_well = false;
        loop {
            if counts.iter().sum::<u32>() <= machines {
                let possible = before_machines(&works.document(Some(&counts))).0;
                let differ = possible.iter().zip(&reached).find(|(one, other)| (*one - *other).abs() > 1e-6);
                let is_worse = differ.is_some_and(|(one, other)| one > other);
                let is_fewer = counts.iter().sum::<u32>() < machines;
                prop_assert!(is_worse || !is_fewer && differ.is_none(), "{counts:?}: {possible:?}, and {machines} {reached:?}: {works:?}");
                as_well |= differ.is_none();
            }
            let Some(at) = (0..counts.len()).find(|&at| counts[at] < most[at]) else { break };
            counts[at] += 1;
            (0..at).for_each(|before| counts[before] = works.sorts[before].1);
        }
        // Some such number does as well: that which was found.
        prop_assert!(as_well, "{machines} do {reached:?}: {works:?}");
    }
}
