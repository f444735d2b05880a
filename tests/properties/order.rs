//! The order of keys in a document changes nothing but the order of what is listed by them: not one bit of any number, and no word.

use crate::support::plant::{Random, Shape, plant};
use crate::support::works::{self, works};
use crate::warm;
use hotwell::budget::Budget;
use hotwell::plan::inquiry::{Compare, Question, Seek, Sweep};
use hotwell::plan::{Limits, Plan};
use hotwell::questions::registry::entry;
use hotwell::questions::{Detail, Document, Json, compare, seek, sweep};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Value, json};

/// The entries of every object in an order drawn at random. A list has an order that means something.
fn shuffled(value: &Value, random: &mut Random) -> Value {
    match value {
        Value::Object(entries) => {
            let mut entries: Vec<(&String, &Value)> = entries.iter().collect();
            for at in (1..entries.len()).rev() {
                let other = usize::try_from(random.whole(0, at as u64)).expect("small");
                entries.swap(at, other);
            }
            Value::Object(entries.into_iter().map(|(name, value)| (name.clone(), shuffled(value, random))).collect())
        }
        Value::Array(items) => items.iter().map(|item| shuffled(item, random)).collect(),
        other => other.clone(),
    }
}

/// The whole answer to a question, as its bytes say it.
fn answer(question: Question, document: &Value) -> Value {
    let (text, limits) = (document.to_string(), Limits::default());
    let plan = Plan::from_json(text.as_bytes(), &limits).expect("a plan");
    let document =
        Document { plan: &plan, json: Json::Bytes(text.as_bytes()), limits: &limits, detail: Detail::Figures };
    let written = (entry(question).write)(&document, &Budget::unhurried()).expect("an answer");
    serde_json::from_str(written.json.get()).expect("JSON")
}

/// Events in order, those of one moment by what they are. Of the last moment some may have found no room in the list.
fn by_moment(events: &[Value]) -> Vec<Value> {
    let at = |event: &Value| event["at_s"].as_f64().expect("a time");
    let last = events.last().map_or(f64::INFINITY, at);
    let mut events: Vec<Value> = events.iter().filter(|event| at(event) < last).cloned().collect();
    events.sort_by(|one, other| at(one).total_cmp(&at(other)).then_with(|| one.to_string().cmp(&other.to_string())));
    events
}

/// The first place at which two answers differ, names of objects in any order, and events of one moment.
fn difference(one: &Value, other: &Value, at: &str) -> Option<String> {
    if let (Value::Array(left), Value::Array(right)) = (one, other)
        && at.ends_with("/events")
    {
        let (left, right) = (by_moment(left), by_moment(right));
        return (left != right).then(|| format!("{at}: {left:?}, {right:?}"));
    }
    let below = |name: &str| format!("{at}/{name}");
    match (one, other) {
        (Value::Object(left), Value::Object(right)) => {
            let missing =
                left.keys().chain(right.keys()).find(|name| left.contains_key(*name) != right.contains_key(*name));
            missing
                .map(|name| format!("{} is in one", below(name)))
                .or_else(|| left.iter().find_map(|(name, value)| difference(value, &right[name], &below(name))))
        }
        (Value::Array(left), Value::Array(right)) if left.len() == right.len() => {
            let mut pairs = left.iter().zip(right).enumerate();
            pairs.find_map(|(index, (one, other))| difference(one, other, &below(&index.to_string())))
        }
        (one, other) => (one != other).then(|| format!("{at}: {one}, {other}")),
    }
}

/// Holds every question's answer against that of the same document in another order.
fn hold(document: &Value, random: &mut Random) {
    for &question in Question::ALL {
        let (one, other) = (answer(question, document), answer(question, &shuffled(document, random)));
        let differs = difference(&one, &other, "");
        assert_eq!(differs, None, "{question:?} of {document}");
    }
}

/// Lists of names put into their order, and no texts that list them.
fn listed_anyhow(value: &mut Value) {
    match value {
        Value::Object(entries) => {
            entries.retain(|name, _| name != "say" && name != "working");
            entries.values_mut().for_each(listed_anyhow);
        }
        Value::Array(items) if items.iter().all(Value::is_string) => {
            items.sort_by(|one, other| one.as_str().cmp(&other.as_str()));
        }
        Value::Array(items) => items.iter_mut().for_each(listed_anyhow),
        _ => {}
    }
}

fn examples(folder: &str) -> impl Iterator<Item = (String, Value)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(folder);
    std::fs::read_dir(folder).expect("a folder").map(|entry| {
        let path = entry.expect("an entry").path();
        let text = std::fs::read_to_string(&path).expect("a text");
        (path.display().to_string(), serde_json::from_str(&text).expect("JSON"))
    })
}

#[test]
fn of_every_example_and_question() {
    for (_, document) in examples("plans") {
        (1..3).for_each(|seed| hold(&document, &mut Random::new(seed)));
    }
}

/// The station with one thing of its own changed, so that what fails, and the remedies that are tried, are told too.
#[test]
fn of_the_station_where_it_fails() {
    let (_, station) = examples("plans").find(|(path, _)| path.contains("kestrel-deep")).expect("the station");
    for (section, field, factor) in [("demands", "rate", 1.3), ("supplies", "rate", 0.7), ("zones", "limit", 0.8)] {
        let mut changed = station.clone();
        for thing in changed[section].as_object_mut().expect("a section").values_mut() {
            let Some(text) = thing.get(field).and_then(Value::as_str) else { continue };
            let (number, measure) = text.split_once(' ').expect("a quantity");
            thing[field] = json!(format!("{} {measure}", number.parse::<f64>().expect("a number") * factor));
        }
        hold(&changed, &mut Random::new(7));
    }
}

#[test]
fn of_inquiries() {
    let limits = Limits::default();
    let budget = Budget::unhurried();
    for (path, document) in examples("questions") {
        let mixed = shuffled(&document, &mut Random::new(11));
        let tell = |document: &Value| -> Value {
            let text = document.to_string();
            let told = if path.ends_with("compare.json") {
                let read = Compare::from_json(text.as_bytes(), &limits).expect("a comparison");
                let mut told = serde_json::to_value(compare::ask(&read, &limits, &budget).expect("an answer"));
                // Its texts and its lists of names have variants in the order of the document.
                told.iter_mut().for_each(listed_anyhow);
                told
            } else if path.ends_with("sweep.json") {
                let read = Sweep::from_json(text.as_bytes(), &limits).expect("a sweep");
                serde_json::to_value(sweep::ask(&read, &limits, &budget).expect("an answer"))
            } else if path.ends_with("seek.json") {
                let read = Seek::from_json(text.as_bytes(), &limits).expect("a search");
                serde_json::to_value(seek::ask(&read, &limits, &budget).expect("an answer"))
            } else {
                Ok(Value::Null)
            };
            told.expect("JSON")
        };
        assert_eq!(difference(&tell(&document), &tell(&mixed), ""), None, "{path}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, rng_seed: RngSeed::Fixed(1), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn of_plants(seed in any::<u64>(), units in 2_usize..60, scarce in any::<bool>()) {
        hold(&plant(seed, Shape { units, scarce }), &mut Random::new(seed ^ 0x5EED));
    }

    #[test]
    fn of_works(seed in any::<u64>(), chains in 1_usize..5, together in any::<bool>(), powered in any::<bool>()) {
        hold(&works(seed, works::Shape { chains, together, powered }), &mut Random::new(seed ^ 0x5EED));
    }

    #[test]
    fn of_warm_plants(document in warm::plant(), seed in any::<u64>()) {
        hold(&document, &mut Random::new(seed));
    }
}
