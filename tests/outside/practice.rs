//! Common practice, no source: counts anyone can check by hand.

use std::borrow::Cow;

use crate::support::solve;
use hotwell::sums;
use serde_json::json;

/// A figure of a single sum, asked as in a link.
fn sum(name: &str, query: &[(&str, &str)], figure: &str) -> f64 {
    let sum = sums::find(name).unwrap_or_else(|| panic!("no sum {name}"));
    let pairs: Vec<_> = query.iter().map(|&(name, value)| (Cow::from(name), Cow::from(value))).collect();
    let answer = sums::answer(sum, &pairs).unwrap_or_else(|faults| panic!("{faults}"));
    answer.figures.get(figure).unwrap_or_else(|| panic!("{name} has no {figure}: {:?}", answer.figures))
}

/// A 10 kg/s line feeds five units of 2 kg/s.
#[test]
fn one_line_feeds_five() {
    let fed = solve(&json!({
        "headers": { "water": { "line": "10 kg/s", "lines": 1 } },
        "units": { "boiler": { "takes": { "water": "2 kg/s" }, "gives": { "steam": "2 kg/s" } } },
        "supplies": { "main": { "header": "water" } },
        "aim": { "most": { "steam": 1 } }
    }));
    assert_eq!(fed.unit("boiler").count, 5);
    approx::assert_relative_eq!(sum("units-fed", &[("line", "10 kg/s"), ("each", "2 kg/s")], "count"), 5.0);
    approx::assert_relative_eq!(fed.header("water").supplied, 10.0, max_relative = 1e-12);

    let sixth = solve(&json!({
        "headers": { "water": { "line": "10 kg/s" } },
        "units": { "boiler": { "takes": { "water": "2 kg/s" }, "gives": { "steam": "2 kg/s" } } },
        "supplies": { "main": { "header": "water" } },
        "outlets": { "steam": {} },
        "aim": { "run": { "boiler": 6 } }
    }));
    assert_eq!(sixth.header("water").lines, Some(2));
}

/// Five units that give 500 g/s each need nine removers of 300 g/s.
#[test]
fn five_givers_need_nine_removers() {
    let solved = solve(&json!({
        "units": {
            "giver": { "count": 5, "gives": { "exhaust": "500 g/s" } },
            "remover": { "takes": { "exhaust": "300 g/s" } }
        },
        "aim": { "run": { "giver": 5 } }
    }));
    assert_eq!(solved.unit("remover").count, 9);
    approx::assert_relative_eq!(solved.run("remover"), 25.0 / 3.0, max_relative = 1e-12);
    approx::assert_abs_diff_eq!(solved.header("exhaust").trapped, 0.0, epsilon = 1e-12);
    let asked = [("units", "5"), ("gives", "500 g/s"), ("removes", "300 g/s")];
    approx::assert_relative_eq!(sum("cleaner-chain", &asked, "removers"), 9.0);
    approx::assert_relative_eq!(sum("units-needed", &[("flow", "2.5 kg/s"), ("each", "300 g/s")], "count"), 9.0);
}

/// Five units that give 750 g/s of waste liquid each make 3.75 kg/s.
#[test]
fn five_givers_make_so_much() {
    let solved = solve(&json!({
        "units": { "giver": { "count": 5, "gives": { "waste liquid": "750 g/s" } } },
        "outlets": { "waste liquid": {} }
    }));
    approx::assert_relative_eq!(solved.header("waste liquid").made, 3.75, max_relative = 1e-12);
    approx::assert_relative_eq!(solved.header("waste liquid").let_out, 3.75, max_relative = 1e-12);
    approx::assert_relative_eq!(sum("by-product", &[("count", "5"), ("each", "750 g/s")], "total_kg_s"), 3.75);
}
