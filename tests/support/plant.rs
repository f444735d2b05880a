//! Random plants of the kind people build: chains of units with by-products, small loops, alternatives, one shared header
//! of power, and a few links across. The same seed gives the same plant on every machine.

use serde_json::{Map, Value, json};

/// A small generator of random numbers (splitmix64), so that plants depend on no crate's choices.
pub struct Random(u64);

impl Random {
    /// From a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// Whole, from `low` to `high` inclusive.
    pub fn whole(&mut self, low: u64, high: u64) -> u64 {
        low + self.next() % (high - low + 1)
    }

    /// Real, in [0, 1).
    #[allow(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// In tenths, from `low` to `high` tenths inclusive.
    #[allow(clippy::cast_precision_loss, reason = "small numbers")]
    pub fn tenths(&mut self, low: u64, high: u64) -> f64 {
        self.whole(low, high) as f64 / 10.0
    }

    /// True with that chance.
    pub fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }
}

/// How a plant is drawn.
#[derive(Clone, Copy)]
pub struct Shape {
    /// Types of unit.
    pub units: usize,
    /// Whether the supplies are scarce for about one chain in five.
    pub scarce: bool,
}

/// A plant as a plan document.
///
/// Chains of 3 to 12 stages, each from a supply to a demand. A stage takes from the header before it and gives to the next, with
/// a by-product in three of ten cases, which leaves by an outlet; in one of ten it is an alternative pair of units for one
/// job, of different yield; in one of ten part of what it gives goes back two headers (a loop that always loses some); one
/// of twenty takes some of another chain besides. Every unit draws power from the one header `power`, which generators feed
/// from a fuel of their own. A unit never gives more mass than it takes, so no loop gains.
pub fn plant(seed: u64, shape: Shape) -> Value {
    let mut random = Random::new(seed);
    let mut units = Map::new();
    let mut supplies = Map::new();
    let mut demands = Map::new();
    let mut outlets = Map::new();
    let mut earlier: Vec<String> = Vec::new();
    let mut chain = 0;
    let generators = (shape.units / 100).max(1);
    while units.len() + generators < shape.units {
        let stages = random.whole(3, 12).min((shape.units - generators - units.len()) as u64);
        let header = |stage: u64| format!("c{chain} h{stage}");
        let mut needed = 1.0;
        for stage in 0..stages {
            let kept = random.tenths(7, 10);
            let mut takes = Map::new();
            let mut gives = Map::new();
            let takes_rate = random.tenths(5, 40);
            takes.insert(header(stage), json!(takes_rate));
            let made = takes_rate * kept;
            needed /= kept;
            let mut product = made;
            if random.chance(0.3) {
                let by = format!("c{chain} by{stage}");
                gives.insert(by.clone(), json!(made * 0.2));
                outlets.insert(by, json!({}));
                product *= 0.8;
                needed /= 0.8;
            }
            if stage >= 2 && random.chance(0.1) {
                gives.insert(header(stage - 1), json!(product * 0.25));
                product *= 0.75;
                needed /= 0.75;
            }
            gives.insert(header(stage + 1), json!(product));
            if !earlier.is_empty() && random.chance(0.05) {
                let at = usize::try_from(random.next() % earlier.len() as u64).unwrap_or(0);
                takes.insert(earlier[at].clone(), json!(takes_rate * 0.1));
            }
            let draws = random.whole(1, 20) * 100;
            let unit = json!({ "takes": takes, "gives": gives, "draws": draws });
            units.insert(format!("c{chain} u{stage}"), unit);
            if random.chance(0.1) && units.len() + generators < shape.units {
                let other = random.tenths(6, 9);
                units.insert(
                    format!("c{chain} v{stage}"),
                    json!({ "takes": { header(stage): takes_rate * 1.5 }, "gives": { header(stage + 1): takes_rate * 1.5 * other },
                            "draws": draws / 2 }),
                );
            }
        }
        let asked = random.tenths(10, 100);
        let enough = if shape.scarce && random.chance(0.2) { 0.6 } else { 20.0 };
        supplies.insert(format!("c{chain} in"), json!({ "header": header(0), "rate": asked * needed * enough }));
        demands.insert(
            format!("c{chain} out"),
            json!({ "header": header(stages), "rate": asked, "rank": random.whole(1, 3) }),
        );
        for stage in 1..=stages {
            earlier.push(header(stage));
        }
        chain += 1;
    }
    for generator in 0..generators {
        let burns = random.tenths(2, 6);
        units.insert(
            format!("generator {generator}"),
            json!({ "takes": { "fuel": burns }, "gives": { "exhaust": burns }, "generates": burns * 150e3 }),
        );
    }
    supplies.insert("fuel".to_owned(), json!({ "header": "fuel", "rank": 2 }));
    outlets.insert("exhaust".to_owned(), json!({}));
    json!({ "units": units, "supplies": supplies, "demands": demands, "outlets": outlets })
}
