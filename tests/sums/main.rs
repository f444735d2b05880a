//! The single sums: cited rows, properties, and what is wrong with an asking.

mod cases;
mod heat;
mod stores;

use std::borrow::Cow;

use hotwell::plan::{At, FaultCode, Faults};
use hotwell::questions::answer::{LINE_BYTES, Verdict, one_line};
use hotwell::sums::{self, Kind, Parameter, SumAnswer};
use proptest::prelude::*;

/// The pairs of a query string that has nothing encoded in it.
fn pairs(query: &str) -> Vec<(Cow<'_, str>, Cow<'_, str>)> {
    query
        .split('&')
        .filter(|pair| !pair.is_empty())
        .map(|pair| pair.split_once('=').unwrap_or((pair, "")))
        .map(|(name, text)| (Cow::Borrowed(name), Cow::Borrowed(text)))
        .collect()
}

fn ask(name: &str, query: &str) -> Result<SumAnswer, Faults> {
    sums::answer(sums::find(name).expect("a sum of that name"), &pairs(query))
}

fn told(name: &str, query: &str) -> SumAnswer {
    ask(name, query).unwrap_or_else(|faults| panic!("{name}?{query}: {faults}"))
}

fn faults(name: &str, query: &str) -> Vec<(String, FaultCode)> {
    let faults = ask(name, query).expect_err("faults");
    assert_eq!(faults.total, faults.listed.len());
    let place = |at| match at {
        At::Parameter(name) => name,
        At::Pointer(pointer) => panic!("a pointer: {pointer}"),
    };
    faults.listed.into_iter().map(|fault| (place(fault.at), fault.code)).collect()
}

/// Sum, query, figure, expected, relative tolerance, where it is from.
type Row = (&'static str, &'static str, &'static str, f64, f64, &'static str);

const COMMON: &str = "common practice, no source";
const STOICHIOMETRY: &str = "mass ratios of C2H5OH + 3 O2 -> 2 CO2 + 3 H2O and CH4 + 2 O2 -> CO2 + 2 H2O, \
                             atomic masses 12.0107, 1.00794, 15.9994 (IUPAC values before 2009, as the molar masses of water, carbon \
                             dioxide and methanol in the CRC Handbook have them)";
const CRYSTALLISER: &str = "R. M. Felder, R. W. Rousseau, Elementary Principles of Chemical Processes, 3rd ed., \
                            2005, evaporative crystalliser with recycle";
const LOT: &str =
    "stock cycle with a finite filling rate: demand of 10 t a day, filled at 25 t a day; the duty is the quotient";
const BY_HAND: &str = "by hand";
const MOONY: &str = "rate=60 g/s&on=7 min&every=18 min&active=40 day&dormant=25 day&day=1 h";
const FILLING: &str = "rate=25 t/day&on=4.1856899072912706 day&every=10.464224768228176 day";
const NINE: &str = "count=9&row=30&each=3&walls=1&access=4";

const ROWS: &[Row] = &[
    ("units-fed", "line=10 kg/s&each=2 kg/s", "count", 5.0, 0.0, COMMON),
    ("cleaner-chain", "units=5&gives=500 g/s&removes=300 g/s", "removers", 9.0, 0.0, COMMON),
    ("by-product", "count=5&each=750 g/s", "total_kg_s", 3.75, 1e-12, COMMON),
    ("units-needed", "flow=2.5 kg/s&each=300 g/s", "count", 9.0, 0.0, COMMON),
    ("units-needed", "flow=2.5 kg/s&each=300 g/s", "needed", 25.0 / 3.0, 1e-12, BY_HAND),
    ("units-needed", "flow=2.5 kg/s&each=300 g/s", "last_unit_share", 1.0 / 3.0, 1e-9, BY_HAND),
    ("units-needed", "flow=300 kW&each=70 kW", "spare_w", 50e3, 1e-12, BY_HAND),
    ("lines-needed", "flow=2.5 kg/s&line=1 kg/s", "lines", 3.0, 0.0, BY_HAND),
    // The carbon dioxide of a kilogram of ethanol, and of methane.
    (
        "by-product",
        "count=1&each=1 kg/s&yield=1.910613860595236",
        "total_kg_s",
        88.019 / 46.068_44,
        2e-4,
        STOICHIOMETRY,
    ),
    (
        "by-product",
        "count=1&each=1 kg/s&yield=2.7433136813182024",
        "total_kg_s",
        44.0095 / 16.042_46,
        2e-4,
        STOICHIOMETRY,
    ),
    ("by-product", "count=5&each=10 g/s&yield=1.373", "total_kg_s", 0.068_65, 1e-12, BY_HAND),
    // What leaves the loop as cake (crystals 1471.80 kg/h, liquor in them 77.46) is what the feed less its vapour makes up.
    (
        "make-up",
        "circulation=7200.5148332353465 kg/h&lost=1549.2666804379264 kg/h",
        "make_up_kg_s",
        (4500.0 - 2_950.733_319_562_073_6) / 3600.0,
        1e-9,
        CRYSTALLISER,
    ),
    ("make-up", "circulation=2.5 kg/s&lost=2 %&returned=60 %", "make_up_kg_s", 0.02, 1e-12, BY_HAND),
    ("supply-average", FILLING, "average_kg_s", 10e3 / 86_400.0, 1e-9, LOT),
    ("supply-average", FILLING, "duty_share", 0.4, 1e-9, LOT),
    ("supply-average", MOONY, "average_kg_s", 0.06 * 7.0 / 18.0 * 40.0 / 65.0, 1e-12, BY_HAND),
    ("supply-average", "rate=1 kW&active=1 day&dormant=1 day&day=1 h", "drawn_while_dormant_j", 1.8e6, 1e-12, BY_HAND),
    ("row-fit", NINE, "missing_cells", 3.0, 1e-12, BY_HAND),
    ("row-fit", NINE, "fits", 8.0, 0.0, BY_HAND),
    ("row-fit", "row=30&each=3&walls=1&access=4", "wider_for_more_cells", 3.0, 1e-12, BY_HAND),
    // 10 × 2 + 9 = 29, and 12 would need 35.
    ("row-fit", "row=30&each=2&gap=1&symmetric=yes", "fits", 10.0, 0.0, BY_HAND),
    ("row-fit", "count=9&each=3&walls=1&access=4&symmetric=yes", "needed_cells", 36.0, 1e-12, BY_HAND),
];

#[test]
fn rows_come_out_as_cited() {
    holds(ROWS);
}

fn holds(rows: &[Row]) {
    for (name, query, figure, expected, tolerance, source) in rows {
        let answer = told(name, query);
        let got = answer.figures.get(figure).unwrap_or_else(|| panic!("{name}?{query} has no {figure}"));
        let near = (got - expected).abs() <= tolerance * expected.abs();
        assert!(near, "{name}?{query}: {figure} is {got}, not {expected} ({source})");
    }
}

const SAYINGS: &[(&str, &str, &str)] = &[
    ("units-needed", "flow=2.5 kg/s&each=300 g/s", "9 units: 2.5 kg/s ÷ 300 g/s = 8.33, the ninth runs at 33 %."),
    ("units-needed", "flow=10 kg/s&each=2 kg/s", "5 units: 10 kg/s ÷ 2 kg/s = 5, all run in full."),
    ("units-needed", "flow=10.0000001 kg/s&each=2 kg/s", "5 units: 10 kg/s ÷ 2 kg/s = 5, all run in full."),
    ("units-needed", "flow=0&each=2", "No units: nothing flows."),
    ("units-needed", "flow=1&each=1 kW", "1 unit: 1 W ÷ 1 kW = 0.001, it runs at 0.1 %."),
    ("units-needed", "flow=20.2&each=1", "21 units: 20.2 kg/s ÷ 1 kg/s = 20.2, the 21st runs at 20 %."),
    ("units-needed", "flow=10.001&each=2", "6 units: 10 kg/s ÷ 2 kg/s = 5.0005, the sixth runs at 0.05 %."),
    ("units-fed", "line=10 kg/s&each=2 kg/s", "A line feeds 5 units: 10 kg/s ÷ 2 kg/s = 5; the line is full."),
    (
        "units-fed",
        "line=2.5 kg/s&each=300 g/s",
        "A line feeds 8 units: 2.5 kg/s ÷ 300 g/s = 8.33; 100 g/s left, with which the ninth runs at 33 %.",
    ),
    ("lines-needed", "flow=2.5 kg/s&line=1 kg/s", "3 lines: 2.5 kg/s ÷ 1 kg/s = 2.5, the third runs at 50 %."),
    ("by-product", "count=5&each=750 g/s", "3.75 kg/s in all: 5 units × 750 g/s."),
    (
        "cleaner-chain",
        "units=5&gives=500 g/s&removes=300 g/s&product=382 g/s&treats=1 kg/s",
        "9 removers: 2.5 kg/s ÷ 300 g/s = 8.33, the ninth runs at 33 %. \
         Then 4 treaters: 3.18 kg/s ÷ 1 kg/s = 3.18, the fourth runs at 18 %.",
    ),
    (
        "supply-average",
        MOONY,
        "14.36 g/s on average, 24 % of the full rate: 60 g/s × 7 min ÷ 18 min × 40 day ÷ 65 day. \
         To draw that through the 25 day of sleep takes 1.292 t in store.",
    ),
    (
        "make-up",
        "circulation=2.5 kg/s&lost=2 %&returned=60 %",
        "20 g/s of make-up: 50 g/s lost − 30 g/s that comes back, 0.8 % of the 2.5 kg/s that goes round.",
    ),
    (
        "make-up",
        "circulation=2.5 kg/s&lost=2 %&returned=60 g/s",
        "No make-up: 60 g/s comes back for 50 g/s lost, so the loop fills by 10 g/s.",
    ),
    ("row-fit", NINE, "9 needed, 8 fit: make the row of 30 cells 3 cells wider."),
    ("row-fit", "count=9&each=3&walls=1&access=4", "33 cells: 9 × 3 + 2 × 1 wall + 4 access."),
    ("row-fit", "row=30&each=3&walls=1&access=4", "8 fit in 30 cells; 1 more needs 3 more cells."),
];

#[test]
fn the_line_says_how_it_came_about() {
    says(SAYINGS);
}

fn says(sayings: &[(&str, &str, &str)]) {
    for (name, query, say) in sayings {
        assert_eq!(told(name, query).say, *say, "{name}?{query}");
    }
}

#[test]
fn what_cannot_be_met_is_an_answer() {
    let answer = told("units-fed", "line=1 kg/s&each=2 kg/s");
    assert_eq!((answer.verdict, answer.findings[0].code), (Verdict::Fails, "line-too-small"));
    assert_eq!(answer.findings[0].margin, Some(-1.0));
    let answer = told("row-fit", NINE);
    assert_eq!((answer.verdict, answer.findings[0].code), (Verdict::Fails, "row-too-narrow"));
    let answer = told("make-up", "circulation=1&lost=10 %&returned=1 kg/s");
    assert_eq!((answer.verdict, answer.findings[0].code), (Verdict::HoldsWithCautions, "loop-fills"));
    assert_eq!(told("row-fit", "row=1&each=3&walls=1").figures.get("fits"), Some(0.0));
}

fn named<const N: usize>(expected: [(&str, FaultCode); N]) -> Vec<(String, FaultCode)> {
    expected.into_iter().map(|(name, code)| (name.to_owned(), code)).collect()
}

#[test]
fn every_fault_is_found_at_once() {
    let found = faults("cleaner-chain", "units=2&units=3&gives=5 kq/s&removes=0 g/s&product=5 min&treets=3&treats=x");
    let expected = named([
        ("units", FaultCode::DuplicateField),
        ("treets", FaultCode::UnknownField),
        ("gives", FaultCode::UnknownUnit),
        ("removes", FaultCode::OutOfRange),
        ("product", FaultCode::WrongDimension),
        ("treats", FaultCode::UnreadableQuantity),
    ]);
    assert_eq!(found, expected);
    let missing = named([("flow", FaultCode::MissingField), ("each", FaultCode::MissingField)]);
    assert_eq!(faults("units-needed", ""), missing);
}

#[test]
fn one_fault_each() {
    use FaultCode::{Contradiction, MissingField, OutOfRange, UnknownChoice, WrongDimension};
    for (name, query, at, code) in [
        ("units-needed", "flow=2 kg/s&each=3 kW", "each", WrongDimension),
        ("units-needed", "flow=2 kg/s&each=3 kJ", "each", WrongDimension),
        ("units-needed", "flow=1e12&each=1e-6", "each", OutOfRange),
        ("units-needed", "flow=-1&each=1", "flow", OutOfRange),
        ("units-needed", "flow=1&each=0", "each", OutOfRange),
        ("units-needed", "flow=1e400&each=1", "flow", OutOfRange),
        ("units-fed", "line=1e12&each=1e-6", "each", OutOfRange),
        ("row-fit", "each=3", "count", MissingField),
        ("row-fit", "each=3&count=2.5", "count", OutOfRange),
        ("row-fit", "each=3&count=2&symmetric=maybe", "symmetric", UnknownChoice),
        ("row-fit", "each=0.001&row=1e12", "each", OutOfRange),
        ("supply-average", "rate=1&on=3 min", "every", MissingField),
        ("supply-average", "rate=1&dormant=3 min", "active", MissingField),
        ("supply-average", "rate=1&on=3 min&every=2 min", "on", Contradiction),
        ("supply-average", "rate=1&day=1 day", "day", Contradiction),
        ("make-up", "circulation=1&lost=2 kg/s", "lost", Contradiction),
        ("make-up", "circulation=1&lost=2", "lost", OutOfRange),
        ("make-up", "circulation=1 kg/s&lost=2 kW", "lost", WrongDimension),
        ("cleaner-chain", "units=5&gives=1&removes=1&product=1", "treats", MissingField),
        ("cleaner-chain", "units=5&gives=1&removes=1&treats=1", "product", MissingField),
    ] {
        assert_eq!(faults(name, query), named([(at, code)]), "{name}?{query}");
    }
}

#[test]
fn a_slip_has_a_near_name() {
    assert_eq!(sums::near("unit-needed"), Some("units-needed"));
    assert_eq!(sums::near("qqq"), None);
    let faults = ask("units-needed", "flow=1&each=1&eech=1").unwrap_err();
    assert_eq!(faults.listed[0].near.as_deref(), Some("each"));
}

#[test]
fn a_day_is_as_long_as_the_local_one_wherever_it_stands() {
    let early = told("supply-average", "day=2 h&rate=1&on=1 h&every=1 day");
    let late = told("supply-average", "rate=1&on=1 h&every=1 day&day=2 h");
    assert_eq!(early, late);
    assert_eq!(late.figures.get("duty_share"), Some(0.5));
}

#[test]
fn the_second_thing_may_be_of_another_kind() {
    let answer = told("cleaner-chain", "units=5&gives=1 kg/s&removes=2 kg/s&product=3 kW&treats=1 kW");
    assert_eq!(answer.figures.get("product_w"), Some(7500.0));
    assert_eq!(answer.figures.get("treaters"), Some(8.0));
}

#[test]
fn a_thousand_unknown_parameters_are_counted_and_a_hundred_told() {
    let query: Vec<String> = (0..1000).map(|index| format!("p{index}=1")).collect();
    let faults = ask("units-needed", &query.join("&")).unwrap_err();
    assert_eq!((faults.listed.len(), faults.total), (100, 1002));
}

#[test]
fn the_registry_lists_what_it_listed() {
    insta::assert_json_snapshot!(sums::listing().sums);
}

#[test]
fn every_entry_is_whole() {
    let mut names: Vec<_> = sums::registry().iter().map(|sum| sum.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), sums::registry().len());
    for sum in sums::registry() {
        assert!(sum.name.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-'), "{}", sum.name);
        for text in [sum.title, sum.says, sum.formula] {
            assert!(text.len() > 10 && !text.contains(char::is_control), "{}: {text:?}", sum.name);
        }
        assert!(sum.says.ends_with('.'), "{}", sum.name);
        let mut parameters: Vec<_> = sum.parameters.iter().map(|parameter| parameter.name).collect();
        parameters.sort_unstable();
        parameters.dedup();
        assert_eq!(parameters.len(), sum.parameters.len(), "{}", sum.name);
        for parameter in sum.parameters {
            assert_eq!(
                parameter.kind == Kind::Choice,
                !parameter.choices.is_empty(),
                "{} {}",
                sum.name,
                parameter.name
            );
            assert!(parameter.says.len() > 10, "{} {}", sum.name, parameter.name);
            assert!(parameter.least <= parameter.most, "{} {}", sum.name, parameter.name);
            assert!(!(parameter.required && parameter.default.is_some()), "{} {}", sum.name, parameter.name);
        }
        sane(&told(sum.name, sum.example));
    }
}

/// Every parameter's own example is good for it: at most it is at odds with another parameter.
#[test]
fn every_parameter_takes_its_example() {
    for sum in sums::registry() {
        let query: Vec<String> = sum.parameters.iter().map(|each| format!("{}={}", each.name, each.example)).collect();
        match ask(sum.name, &query.join("&")) {
            Ok(answer) => sane(&answer),
            Err(faults) => {
                assert_eq!(faults.total, 1, "{}: {faults}", sum.name);
                assert_eq!(faults.listed[0].code, FaultCode::Contradiction, "{}: {faults}", sum.name);
            }
        }
    }
}

/// What holds of every answer.
fn sane(answer: &SumAnswer) {
    assert!(!answer.say.is_empty() && answer.say.len() <= 400, "{} bytes: {}", answer.say.len(), answer.say);
    for line in answer.working.iter().chain([&answer.say]) {
        assert!(!line.contains(char::is_control) && !line.contains("unknown") && !line.contains("NaN"), "{line:?}");
    }
    assert!(answer.figures.iter().count() > 0);
    for (name, figure) in answer.figures.iter() {
        // A temperature on a scale lies on either side of its zero, and so do enthalpy and entropy of water.
        let has_zero = name.ends_with("_c") || name.starts_with("enthalpy") || name.starts_with("entropy");
        let least = if has_zero { -3e6 } else { 0.0 };
        assert!(figure.is_finite() && figure >= least, "{}: {name} is {figure}", answer.say);
        assert!(!name.ends_with("_share") || figure <= 1.0, "{}: {name} is {figure}", answer.say);
    }
}

/// A text for a parameter: mostly good, at its bounds, or nonsense.
fn text_for(parameter: &'static Parameter) -> BoxedStrategy<String> {
    let (least, most) = (parameter.least, parameter.most);
    let kind = parameter.kind;
    let units: &'static [&'static str] = match kind {
        Kind::Rate | Kind::SecondRate => &["", " kg/s", " g/s", " t/h", " kg/s"],
        Kind::ShareOrRate => &["", " %", " kg/s"],
        Kind::Amount => &["", " kg", " t", " kg"],
        Kind::ShareOrAmount => &["", " %", " kg"],
        Kind::Time | Kind::Day => &["", " s", " min", " h", " day"],
        Kind::Count | Kind::Number => &["", ""],
        Kind::Share => &["", " %", " %"],
        Kind::Temperature => &["", " °C", " K", " °F"],
        Kind::Difference => &["", " K", " °C"],
        Kind::Choice => return prop::sample::select(parameter.choices).prop_map(str::to_owned).boxed(),
        Kind::Flag => {
            return prop_oneof![4 => Just("yes".to_owned()), 4 => Just("no".to_owned()), 1 => ".{0,5}"].boxed();
        }
        // The others have one dimension, whose SI unit their own example need not be in.
        _ => &[""],
    };
    let whole = kind == Kind::Count;
    let number = prop_oneof![
        4 => (-7.0..13.0_f64).prop_map(|power| 10_f64.powf(power)),
        4 => 0.0..20.0_f64,
        2 => 0.0..1.0_f64,
        2 => -60.0..300.0_f64,
        1 => Just(least),
        1 => Just(most),
    ]
    .prop_map(move |number| if whole { number.round() } else { number });
    let good = (number, prop::sample::select(units)).prop_map(|(number, unit)| format!("{number}{unit}"));
    let good = if parameter.many {
        prop::collection::vec(good, 1..6).prop_map(|items| items.join(", ")).boxed()
    } else {
        good.boxed()
    };
    prop_oneof![40 => good, 2 => Just(parameter.example.to_owned()), 1 => "\\PC{0,20}", 1 => ".{0,8}"].boxed()
}

fn any_asking() -> impl Strategy<Value = (usize, Vec<(String, String)>)> {
    (0..sums::registry().len()).prop_flat_map(|index| {
        let parameters = sums::registry()[index].parameters;
        let texts: Vec<_> = parameters
            .iter()
            .map(|each| {
                let text = text_for(each);
                (Just(each.name.to_owned()), proptest::option::weighted(0.9, text))
            })
            .collect();
        let more = proptest::option::weighted(0.05, (".{0,12}", ".{0,12}"));
        (Just(index), texts, more).prop_map(|(index, texts, more)| {
            let known = texts.into_iter().filter_map(|(name, text)| text.map(|text| (name, text)));
            (index, known.chain(more).collect())
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(4000) })]

    /// Whatever is asked gives a sane answer or faults that can be told in one line.
    #[test]
    fn any_text_is_answered_or_refused((index, asked) in any_asking()) {
        let pairs: Vec<_> =
            asked.iter().map(|(name, text)| (Cow::Borrowed(name.as_str()), Cow::Borrowed(text.as_str()))).collect();
        let line = sums::line(&sums::registry()[index], &pairs);
        match sums::answer(&sums::registry()[index], &pairs) {
            Ok(answer) => {
                sane(&answer);
                prop_assert_eq!(line, Ok(one_line(&answer.say, LINE_BYTES)), "the line alone is that of the whole answer");
            }
            Err(faults) => {
                prop_assert_eq!(line.as_ref(), Err(&faults));
                prop_assert!(faults.total > 0 && !faults.listed.is_empty());
                prop_assert!(!faults.to_string().contains(char::is_control), "{faults}");
            }
        }
    }

    /// Twice the flow through machines twice the size takes as many.
    #[test]
    fn scale_leaves_counts_alone(flow in 0.001..1e4_f64, each in 0.001..10.0_f64, power in -6..6_i32) {
        let factor = 2_f64.powi(power);
        for (name, one, other, figure) in [
            ("units-needed", "flow", "each", "count"),
            ("lines-needed", "flow", "line", "lines"),
            ("units-fed", "line", "each", "count"),
        ] {
            let small = told(name, &format!("{one}={flow}&{other}={each}"));
            let large = told(name, &format!("{one}={}&{other}={}", flow * factor, each * factor));
            prop_assert!(small.figures.get(figure).is_some());
            prop_assert_eq!(small.figures.get(figure), large.figures.get(figure), "{}", name);
        }
    }

    /// More flow never takes fewer machines, larger machines never more; what is covered is covered.
    #[test]
    fn counts_are_monotone(flow in 0.0..1e4_f64, more in 0.0..1e3_f64, each in 0.001..10.0_f64, larger in 0.0..1.0_f64) {
        let count = |flow: f64, each: f64| {
            told("units-needed", &format!("flow={flow}&each={each}")).figures.get("count").unwrap()
        };
        prop_assert!(count(flow + more, each) >= count(flow, each));
        prop_assert!(count(flow, each + larger) <= count(flow, each));
        prop_assert!(count(flow, each) * each >= flow * (1.0 - 1e-6));
        prop_assert!((count(flow, each) - 1.0) * each <= flow);
    }

    /// The units that are needed for what a line carries are those that it feeds, or one more.
    #[test]
    fn feeding_and_needing_agree(line in 0.001..1e4_f64, each in 0.001..10.0_f64) {
        let fed = told("units-fed", &format!("line={line}&each={each}")).figures.get("count").unwrap();
        let needed = told("units-needed", &format!("flow={line}&each={each}")).figures.get("count").unwrap();
        prop_assert!(needed >= fed && needed <= fed + 1.0);
    }

    /// A row as wide as a count needs holds that count and not one more.
    #[test]
    fn a_row_holds_what_it_was_made_for(
        count in 1..500_u32, each in 1..20_u32, walls in 0..5_u32, access in 0..9_u32, gap in 0..4_u32,
    ) {
        let room = format!("each={each}&walls={walls}&access={access}&gap={gap}");
        let wide = told("row-fit", &format!("count={count}&{room}")).figures.get("needed_cells").unwrap();
        let answer = told("row-fit", &format!("row={wide}&{room}"));
        prop_assert_eq!(answer.figures.get("fits"), Some(f64::from(count)));
        prop_assert_eq!(answer.figures.get("spare_cells"), Some(0.0));
        prop_assert_eq!(answer.figures.get("wider_for_more_cells"), Some(f64::from(each + gap)));
    }
}
