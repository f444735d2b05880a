//! What stands on a card is large enough, keeps to its place, and says what matters.

use proptest::prelude::*;
use serde_json::json;

use super::{Card, LEAST, Mark, Row};
use crate::budget::Budget;
use crate::forms::svg::letters::width;
use crate::forms::{Picture, Shown};
use crate::plan::{Limits, Plan};
use crate::questions::answer::Verdict;
use crate::questions::{fill_level, flow_balance, heat_budget, whole_plan};
use crate::sums;

/// A text as it is reckoned: left, right, baseline, size.
#[derive(Debug)]
struct Text {
    left: f64,
    right: f64,
    base: f64,
    size: f64,
    said: String,
}

fn texts(svg: &str) -> (f64, Vec<Text>) {
    let document = roxmltree::Document::parse(svg).expect("XML");
    let number = |node: &roxmltree::Node<'_, '_>, name: &str| node.attribute(name).expect(name).parse().expect(name);
    let texts = document.descendants().filter(|node| node.has_tag_name("text")).map(|node| {
        let (x, size): (f64, f64) = (number(&node, "x"), number(&node, "font-size"));
        let said = node.text().unwrap_or("").to_owned();
        let wide = width(&said, size);
        let left = match node.attribute("text-anchor") {
            Some("end") => x - wide,
            Some("middle") => x - wide / 2.0,
            _ => x,
        };
        Text { left, right: left + wide, base: number(&node, "y"), size, said }
    });
    (number(&document.root_element(), "height"), texts.collect())
}

/// Letters are of 12 px at 320 px, nothing leaves the sheet, and no text touches another.
fn is_sound(svg: &str) {
    let (high, texts) = texts(svg);
    for (at, one) in texts.iter().enumerate() {
        assert!([one.left, one.right, one.base, one.size].iter().all(|number| number.is_finite()), "{one:?}");
        assert!(one.size >= LEAST && one.size * 320.0 / 800.0 >= 12.0, "{one:?}");
        assert!(one.left >= 4.0 && one.right <= 796.0, "{one:?}");
        assert!(one.base - one.size >= 8.0 && one.base + 0.25 * one.size <= high, "{one:?} of {high}");
        for other in &texts[at + 1..] {
            let apart = one.right <= other.left
                || other.right <= one.left
                || one.base <= other.base - 0.8 * other.size
                || other.base <= one.base - 0.8 * one.size;
            assert!(apart, "{one:?} and {other:?}");
        }
    }
    let document = roxmltree::Document::parse(svg).expect("XML");
    for rect in document.descendants().filter(|node| node.has_tag_name("rect") && node.attribute("x").is_some()) {
        let of = |name: &str| rect.attribute(name).expect(name).parse::<f64>().expect(name);
        assert!(of("x") >= 0.0 && of("x") + of("width") <= 800.0, "{rect:?}");
        assert!(of("y") >= 0.0 && of("y") + of("height") <= high, "{rect:?}");
    }
}

fn example(name: &str) -> Plan {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    Plan::from_json(&std::fs::read(path).expect("an example"), &Limits::DEFAULT).expect("a plan")
}

fn examples() -> Vec<String> {
    let folder = format!("{}/examples/plans", env!("CARGO_MANIFEST_DIR"));
    let files = std::fs::read_dir(folder).expect("the examples").map(|file| file.expect("a file").path());
    files.filter_map(|path| Some(path.file_stem()?.to_str()?.to_owned())).collect()
}

fn said(svg: &str) -> Vec<String> {
    texts(svg).1.into_iter().map(|text| text.said).collect()
}

#[test]
fn every_card_of_every_example_and_sum_is_sound() {
    let budget = Budget::unhurried();
    let mut drawn = 0;
    let mut check = |answer: &dyn Shown, what: &str| {
        let card = answer.picture(Picture::Card);
        is_sound(&card);
        let said = said(&card);
        assert!(said.len() >= 3, "{what}: {said:?}");
        drawn += 1;
    };
    for name in examples() {
        let plan = example(&name);
        check(&flow_balance::ask(&plan, &budget).expect("an answer"), &name);
        check(&heat_budget::ask(&plan, &budget).expect("an answer"), &name);
        check(&fill_level::ask(&plan, &budget).expect("an answer"), &name);
        check(&whole_plan::WholePlan::ask(&plan, &budget).expect("an answer"), &name);
    }
    for sum in sums::registry() {
        let pairs = sum.example.split('&').filter_map(|pair| pair.split_once('='));
        let pairs: Vec<_> = pairs.map(|(name, value)| (name.into(), value.into())).collect();
        check(&sums::answer(sum, &pairs).expect("an answer"), sum.name);
    }
    assert!(drawn >= 80, "only {drawn}");
}

#[test]
fn a_card_says_how_it_turns_out_and_the_figures_with_their_units() {
    let budget = Budget::unhurried();
    let trapped = flow_balance::ask(&example("trapped-surplus"), &budget).expect("an answer");
    let words = said(&trapped.picture(Picture::Card));
    for word in ["Flow balance: fails", "16.41 g/s trapped", "exhaust"] {
        assert!(words.iter().any(|said| said == word), "{word} is not among {words:?}");
    }
    let station = whole_plan::WholePlan::ask(&example("kestrel-deep"), &budget).expect("an answer");
    let words = said(&station.picture(Picture::Card));
    for word in ["Whole plan: holds", "net power", "118.8 kW", "fuel tank"] {
        assert!(words.iter().any(|said| said == word), "{word} is not among {words:?}");
    }
    // Power that is drawn has its sign.
    let hall = whole_plan::WholePlan::ask(&example("cooled-hall"), &budget).expect("an answer");
    assert!(said(&hall.picture(Picture::Card)).iter().any(|said| said == "−20.6 kW"));
}

#[test]
fn trouble_stands_first_with_a_mark_of_its_own() {
    let plan = json!({
        "demands": { "yard": { "header": "water", "rate": 1 } },
        "stores": { "calm": { "header": "air", "capacity": 9, "level": 5 },
                    "tank": { "header": "water", "capacity": 100, "level": 100 } },
        "horizon": 200,
    });
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    let level = fill_level::ask(&plan, &Budget::unhurried()).expect("an answer");
    let rows = super::rows::fill_level(&level);
    assert_eq!(
        (rows[0].mark, rows[0].name.as_str(), rows[0].value.as_str()),
        (Some(Mark::Warns), "tank", "runs dry in 1 min 40 s")
    );
    assert_eq!(
        (rows[1].mark, rows[1].name.as_str(), rows[1].value.as_str()),
        (Some(Mark::Warns), "yard", "short 100 kg")
    );
    assert_eq!((rows[2].mark, rows[2].name.as_str()), (None, "calm"));
}

#[test]
fn a_picture_by_width_is_a_sheet_for_whoever_knows_no_rules() {
    let answer = flow_balance::ask(&example("minimal"), &Budget::unhurried()).expect("an answer");
    let svg = answer.svg();
    let document = roxmltree::Document::parse(&svg).expect("XML");
    let layer =
        |class: &str| document.descendants().find(|node| node.attribute("class") == Some(class)).expect("a layer");
    assert_eq!(layer("hotwell-sheet").attribute("display"), None);
    assert_eq!(layer("hotwell-card").attribute("display"), Some("none"));
    let style =
        document.descendants().find(|node| node.has_tag_name("style")).and_then(|node| node.text()).expect("a style");
    assert_eq!(style, "@media (max-width:560px){.hotwell-sheet{display:none}.hotwell-card{display:inline}}");
    // Neither alone has what only both need.
    for picture in [Picture::Sheet, Picture::Card] {
        let svg = answer.picture(picture);
        assert!(!svg.contains("<style>") && !svg.contains("display"), "{picture:?}");
        assert!(svg.len() < answer.svg().len());
    }
    assert!(answer.picture(Picture::Sheet).contains("height=\"600\""));
}

fn any_text() -> impl Strategy<Value = String> {
    prop_oneof!["[a-zA-Z0-9 ,;:%\"]{0,400}", "\\PC{0,120}", "[W]{1,90}", "[a-z]{0,12}"]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Whatever is said, and whatever things are called.
    #[test]
    fn any_card_is_sound(
        title in any_text(),
        say in any_text(),
        rows in prop::collection::vec((any_text(), any_text(), 0_u8..5), 0..14),
        turns in 0_u8..3,
        high in prop::sample::select(vec![600_u32, 680, 840]),
    ) {
        let verdict = [Verdict::Holds, Verdict::HoldsWithCautions, Verdict::Fails][usize::from(turns)];
        let rows = rows.into_iter().map(|(name, value, mark)| match mark {
            0 => Row::warning(name, value),
            1 => Row::turning(Some(verdict), name, value),
            _ => Row::new(name, value),
        });
        let card = Card::new("Flow balance", &title, &say, verdict, rows.collect());
        let alone = card.draw().finish();
        is_sound(&alone);
        let (tall, _) = texts(&alone);
        prop_assert!((419.0..=600.0).contains(&tall), "{tall}");
        let sheet = super::Canvas::new(800, high, "", "");
        is_sound(&card.on(&sheet).finish());
        prop_assert_eq!(card.draw().finish(), alone);
    }
}

#[test]
fn a_batch_lists_its_questions_with_their_verdicts() {
    let lines = [(Some(Verdict::Holds), "Holds: all is well"), (None, "no plan"), (Some(Verdict::Fails), "Fails: dry")];
    let svg = crate::forms::list("Batch", "1 of 3 holds", Verdict::Fails, &lines, Picture::Card);
    is_sound(&svg);
    let words = said(&svg);
    assert_eq!(words, ["Fails", "Batch", "1 of 3 holds", "Holds: all is well", "no plan", "Fails: dry"]);
}
