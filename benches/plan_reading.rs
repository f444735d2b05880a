//! How fast a plan document is read and checked: the bar is 60 µs for 30 units with 150 quantities.

use std::fmt::Write as _;
use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use hotwell::plan::{Limits, Plan};

/// A plan of `count` units in a chain, each with five quantities in texts of different spelling.
fn chain(count: usize) -> String {
    let mut text = String::from("{\n  \"title\": \"chain\",\n  \"units\": {\n");
    for index in 0..count {
        let next = index + 1;
        let comma = if next == count { "" } else { "," };
        let _ = writeln!(
            text,
            "    \"stage {index}\": {{ \"count\": {{ \"at_least\": 1 }}, \"takes\": {{ \"stream {index}\": \"{}.5 g/s\", \
             \"water\": \"120 kg/h\" }}, \"gives\": {{ \"stream {next}\": \"{}.25 g/s\", \"waste\": \"0.4 kg/min\" }}, \
             \"draws\": \"12.5 kW\", \"rank\": 2 }}{comma}",
            300 + index,
            280 + index
        );
    }
    let _ = write!(
        text,
        "  }},\n  \"supplies\": {{ \"well\": {{ \"header\": \"water\", \"rate\": \"25 kg/s\" }}, \
         \"feed\": {{ \"header\": \"stream 0\" }} }},\n  \"outlets\": {{ \"waste\": {{}} }},\n  \
         \"demands\": {{ \"yard\": {{ \"header\": \"stream {count}\", \"rate\": \"2.5 kg/s\" }} }}\n}}"
    );
    text
}

/// A document of `count` units with a field that nobody knows, a unit of measure that nobody knows, and an aim of as many
/// names that nobody knows.
fn faulty(count: usize) -> String {
    let list = |entry: &dyn Fn(usize) -> String| (0..count).map(entry).collect::<Vec<_>>().join(",");
    let units = list(&|index| format!("\"stage {index}\":{{\"draw\":1,\"generates\":\"1 kq{index}/h\"}}"));
    let run = list(&|index| format!("\"stagge {index}\":1"));
    format!("{{\"aim\":{{\"run\":{{{run}}}}},\"units\":{{{units}}}}}")
}

fn reading(c: &mut Criterion) {
    let mut group = c.benchmark_group("plan_reading");
    for count in [30, 10_000] {
        let text = chain(count);
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(format!("{count} units"), |b| {
            b.iter(|| Plan::from_json(black_box(text.as_bytes()), &Limits::DEFAULT).expect("the plan is sound"));
        });
    }
    let text = faulty(10_000);
    group.throughput(Throughput::Bytes(text.len() as u64));
    group.bench_function("30,000 faults", |b| {
        b.iter(|| Plan::from_json(black_box(text.as_bytes()), &Limits::DEFAULT).expect_err("the plan is at fault"));
    });
    group.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);
