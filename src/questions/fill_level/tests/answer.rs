//! The answer as a whole: where it begins, what it lists, how its line reads.

use super::*;

#[test]
fn readings_of_now_are_where_it_begins() {
    let document = changed(&tank(), json!({ "now": { "levels": { "tank": "25 %" } } }));
    let answer = answer(&document);
    assert_eq!(answer.figures.stores.get("tank").unwrap().first_empty_s, Moment(Some(25.0)));
}

#[test]
fn a_supply_tells_when_it_next_returns() {
    let document = json!({ "supplies": {
        "away": { "header": "x", "rate": 1, "pattern": { "on": 60, "every": 300, "now_on": false, "next_change_in": 45 } },
        "here": { "header": "x", "rate": 1, "pattern": { "on": 60, "every": 300, "now_on": true, "next_change_in": 45 } },
        "dormant": { "header": "x", "rate": 1, "pattern": {
            "on": 60, "every": 300, "active": 1000, "dormant": 1000, "season_elapsed": 1500 } },
        "always": { "header": "x", "rate": 1 }
    } });
    let answer = answer(&document);
    let of = |name: &str| {
        let supply = answer.figures.supplies.get(name).unwrap();
        (supply.on_now, supply.next_change_s.map(|at| at.0), supply.next_return_s.map(|at| at.0))
    };
    assert_eq!(of("away"), (Some(false), Some(Some(45.0)), Some(Some(45.0))));
    assert_eq!(of("here"), (Some(true), Some(Some(45.0)), Some(Some(285.0))));
    // The season begins again after 500 s, between two pulses.
    assert_eq!(of("dormant"), (Some(false), Some(Some(600.0)), Some(Some(600.0))));
    assert_eq!(of("always"), (None, None, None));
}

#[test]
fn events_are_listed_in_order_and_counted() {
    let answer = answer(&sump());
    let first: Vec<(f64, &str, &str)> =
        answer.figures.events.iter().take(3).map(|event| (event.at_s, event.what, &*event.name)).collect();
    assert_eq!(
        first,
        [(80.0, "switch-start", "float"), (120.0, "switch-stop", "float"), (200.0, "switch-start", "float")]
    );
    assert!(answer.figures.event_count >= 59, "{}", answer.figures.event_count);
    assert!(answer.figures.events.len() <= crate::questions::fill_level::MOST_EVENTS);
}

/// Two switches on one store at one level: which is told first is for the document to say.
#[test]
fn events_of_one_moment_are_in_the_order_of_the_document() {
    for names in [["alpha", "beta"], ["beta", "alpha"]] {
        let mut document = sump();
        let float = document["switches"].as_object_mut().expect("switches").shift_remove("float").expect("the float");
        for name in names {
            document["switches"][name] = float.clone();
        }
        let answer = answer(&document);
        let first: Vec<&str> = answer.figures.events.iter().take(2).map(|event| &*event.name).collect();
        assert_eq!((&first[..], answer.figures.events[0].at_s), (&names[..], answer.figures.events[1].at_s));
    }
}

#[test]
fn the_line_keeps_its_length_and_the_numbers_are_finite() {
    for document in [tank(), sump(), bank(), closed_loop(395.0), json!({})] {
        let answer = answer(&document);
        assert!(answer.say.len() <= LINE_BYTES && answer.say.ends_with('.'), "{}", answer.say);
        assert!(!answer.working.iter().any(|line| line.contains("unknown")), "{:?}", answer.working);
    }
}
