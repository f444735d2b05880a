//! What an answer costs beside its balance: figures, findings and working, then each form. The bar for JSON is 30 µs for 30
//! units.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use hotwell::balance::balance;
use hotwell::budget::Budget;
use hotwell::forms::Shown;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::flow_balance::ask;

/// A chain of `count` units that share a by-product, sized by what is asked of its end.
fn chain(count: usize) -> Plan {
    let units: Vec<String> = (0..count)
        .map(|at| {
            format!(
                "\"press {at}\":{{\"takes\":{{\"stage {at}\":0.3,\"water\":0.04}},\"gives\":{{\"stage {}\":0.29,\"dust\":0.05}},\
                 \"draws\":3000}}",
                at + 1
            )
        })
        .collect();
    let text = format!(
        "{{\"units\":{{{}}},\"supplies\":{{\"raw\":{{\"header\":\"stage 0\"}},\"well\":{{\"header\":\"water\"}},\
         \"mains\":{{\"header\":\"power\"}}}},\"outlets\":{{\"dust\":{{}}}},\
         \"demands\":{{\"yard\":{{\"header\":\"stage {count}\",\"rate\":2}}}}}}",
        units.join(",")
    );
    Plan::from_json(text.as_bytes(), &Limits::DEFAULT).expect("the plan is sound")
}

fn forms(c: &mut Criterion) {
    let mut group = c.benchmark_group("answer_forms");
    for count in [30, 1_000] {
        let plan = chain(count);
        let budget = Budget::unhurried();
        let answer = ask(&plan, &budget).expect("an answer");
        group.bench_function(format!("{count} units: balance alone"), |b| {
            b.iter(|| balance(black_box(&plan), &budget).expect("a balance"));
        });
        group.bench_function(format!("{count} units: the whole answer"), |b| {
            b.iter(|| ask(black_box(&plan), &budget).expect("an answer"));
        });
        group.bench_function(format!("{count} units: json"), |b| b.iter(|| black_box(&answer).json()));
        group.bench_function(format!("{count} units: line"), |b| b.iter(|| black_box(&answer).line()));
        group.bench_function(format!("{count} units: svg"), |b| b.iter(|| black_box(&answer).svg()));
    }
    group.finish();
}

criterion_group!(benches, forms);
criterion_main!(benches);
