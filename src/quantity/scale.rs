//! Written units of measure: how many SI units one is, and of which dimension.
//!
//! Anything that the Unified Code for Units of Measure (UCUM 2.2) can say is understood; a thin spelling layer brings what
//! people type to it. What plans mostly say is in a table, which a test holds against UCUM.

use octofhir_ucum::{Number, UnitExpr, evaluate, get_canonical_units, parse_expression};

use super::likeness::most_alike;
use super::measure::Exponents;

/// A written unit of measure: `number · factor / divisor · dayᵈ + offset` is the measure in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub factor: f64,
    /// Kept apart from the factor so that 13.7 g/s is 13.7/1000, which rounds once, and not 13.7 · 0.001, which rounds twice.
    pub divisor: f64,
    /// Zero of a temperature scale.
    pub offset: f64,
    pub exponents: Exponents,
    /// The power of the local day in it.
    pub days: i8,
}

/// Why a written unit of measure is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refused {
    /// Nobody knows it.
    Unknown,
    /// It is so large or so small that no number of it can be told.
    Extreme,
}

const MASS_RATE: Exponents = [0, -1, 1, 0, 0, 0, 0];
const MASS: Exponents = [0, 0, 1, 0, 0, 0, 0];
const POWER: Exponents = [2, -3, 1, 0, 0, 0, 0];
const ENERGY: Exponents = [2, -2, 1, 0, 0, 0, 0];
const TIME: Exponents = [0, 1, 0, 0, 0, 0, 0];
const PLAIN: Exponents = [0; 7];
const SPECIFIC_HEAT: Exponents = [2, -2, 0, 0, -1, 0, 0];

/// Generates the lookup (a `match`, which the compiler turns into comparisons by length) and the list, from one table.
macro_rules! common {
    ($($spelt:literal = $factor:literal / $divisor:literal $exponents:ident $days:literal;)*) => {
        /// The spellings of the table, also the candidates for a near name.
        pub(super) const COMMON: &[&str] = &[$($spelt),*];

        /// The scale of a common spelling.
        pub(super) fn common(spelt: &str) -> Option<Scale> {
            Some(match spelt {
                $($spelt => Scale { factor: $factor, divisor: $divisor, offset: 0.0, exponents: $exponents, days: $days },)*
                _ => return None,
            })
        }
    };
}

common! {
    "kg/s" = 1.0 / 1.0 MASS_RATE 0;
    "g/s" = 1.0 / 1e3 MASS_RATE 0;
    "mg/s" = 1.0 / 1e6 MASS_RATE 0;
    "t/s" = 1e3 / 1.0 MASS_RATE 0;
    "kg/min" = 1.0 / 60.0 MASS_RATE 0;
    "g/min" = 1.0 / 60e3 MASS_RATE 0;
    "kg/h" = 1.0 / 3600.0 MASS_RATE 0;
    "g/h" = 1.0 / 3600e3 MASS_RATE 0;
    "t/h" = 1.0 / 3.6 MASS_RATE 0;
    "kg/day" = 1.0 / 1.0 MASS_RATE -1;
    "t/day" = 1e3 / 1.0 MASS_RATE -1;
    "kg" = 1.0 / 1.0 MASS 0;
    "g" = 1.0 / 1e3 MASS 0;
    "mg" = 1.0 / 1e6 MASS 0;
    "t" = 1e3 / 1.0 MASS 0;
    "W" = 1.0 / 1.0 POWER 0;
    "kW" = 1e3 / 1.0 POWER 0;
    "MW" = 1e6 / 1.0 POWER 0;
    "GW" = 1e9 / 1.0 POWER 0;
    "mW" = 1.0 / 1e3 POWER 0;
    "J" = 1.0 / 1.0 ENERGY 0;
    "kJ" = 1e3 / 1.0 ENERGY 0;
    "MJ" = 1e6 / 1.0 ENERGY 0;
    "GJ" = 1e9 / 1.0 ENERGY 0;
    "Wh" = 3600.0 / 1.0 ENERGY 0;
    "kWh" = 3.6e6 / 1.0 ENERGY 0;
    "MWh" = 3.6e9 / 1.0 ENERGY 0;
    "s" = 1.0 / 1.0 TIME 0;
    "ms" = 1.0 / 1e3 TIME 0;
    "min" = 60.0 / 1.0 TIME 0;
    "h" = 3600.0 / 1.0 TIME 0;
    "day" = 1.0 / 1.0 TIME 1;
    "days" = 1.0 / 1.0 TIME 1;
    "d" = 1.0 / 1.0 TIME 1;
    "%" = 1.0 / 100.0 PLAIN 0;
    "J/(kg·K)" = 1.0 / 1.0 SPECIFIC_HEAT 0;
    "kJ/(kg·K)" = 1e3 / 1.0 SPECIFIC_HEAT 0;
    "J/kg/K" = 1.0 / 1.0 SPECIFIC_HEAT 0;
    "kJ/kg/K" = 1e3 / 1.0 SPECIFIC_HEAT 0;
}

/// The scale of any spelling, by UCUM.
pub(super) fn by_ucum(spelt: &str) -> Result<Scale, Refused> {
    let code = ucum_spelling(spelt).ok_or(Refused::Unknown)?;
    let tree = parse_expression(&code).map_err(|_| Refused::Unknown)?;
    // Not `analyse`, which on failure compares the text with every unit it knows: near names are ours to give, and few.
    let value = evaluate(&tree).map_err(|_| Refused::Unknown)?;
    if !value.arbitrary.is_empty() {
        return Err(Refused::Unknown);
    }
    let (factor, offset) = if value.special.is_some() {
        // A temperature has an offset; a logarithmic scale has no factor and is refused.
        let canonical = get_canonical_units(&code).map_err(|_| Refused::Unknown)?;
        (canonical.factor, canonical.offset)
    } else {
        (value.factor, Number::ZERO)
    };
    let days = i8::try_from(power_of_day(&tree)).map_err(|_| Refused::Extreme)?;
    scale(factor, offset, value.dim.0, days).ok_or(Refused::Extreme)
}

fn scale(factor: Number, offset: Number, exponents: Exponents, days: i8) -> Option<Scale> {
    // UCUM counts in grams and in days of 24 h; the local day is put in when a number is read.
    let grams = Number::power_of_ten(-3 * i32::from(exponents[2]));
    let day = Number::from_i64(86_400).checked_powi(-i32::from(days))?;
    let factor = factor.checked_mul(grams)?.checked_mul(day)?;
    let inverse = Number::ONE.checked_div(factor)?.to_f64();
    let factor = factor.to_f64();
    let usable = |number: f64| number.is_finite() && number > 0.0;
    if !usable(factor) || !usable(inverse) {
        return None;
    }
    let (factor, divisor) = if factor < 1.0 && inverse.fract() == 0.0 { (1.0, inverse) } else { (factor, 1.0) };
    Some(Scale { factor, divisor, offset: offset.to_f64(), exponents, days })
}

/// The power of the day in an expression: -1 in `kg/d`.
fn power_of_day(tree: &UnitExpr) -> i32 {
    match tree {
        UnitExpr::Symbol(symbol) => i32::from(symbol == "d"),
        UnitExpr::Power(base, exponent) => power_of_day(base).saturating_mul(*exponent),
        UnitExpr::Annotated(inner, _) => power_of_day(inner),
        UnitExpr::Product(terms) => terms.iter().map(power_of_day).sum(),
        UnitExpr::Quotient(over, under) => power_of_day(over) - power_of_day(under),
        UnitExpr::Reciprocal(inner) => -power_of_day(inner),
        UnitExpr::Numeric(_) | UnitExpr::Annotation(_) => 0,
    }
}

/// What people type, as UCUM spells it; `None` where it holds a character that no unit of measure has.
fn ucum_spelling(spelt: &str) -> Option<String> {
    let is_operator = |c: char| matches!(c, '/' | '·' | '⋅' | '*' | '×' | '.' | '(' | ')');
    let mut code = String::with_capacity(spelt.len() + 8);
    let mut rest = spelt.trim();
    let alone = !rest.contains(is_operator);
    while let Some(first) = rest.chars().next() {
        if first.is_whitespace() {
            // Space is welcome beside an operator; between two words it could mean anything.
            rest = rest.trim_start();
            let after_operator = code.ends_with(['/', '.', '(', ')']);
            if !after_operator && !rest.starts_with(is_operator) {
                return None;
            }
        } else if is_operator(first) {
            code.push(if matches!(first, '/' | '(' | ')') { first } else { '.' });
            rest = &rest[first.len_utf8()..];
        } else {
            let end = rest.find(|c: char| is_operator(c) || c.is_whitespace()).unwrap_or(rest.len());
            push_word(&mut code, &rest[..end], alone)?;
            rest = &rest[end..];
        }
    }
    Some(code)
}

/// One word with its exponent: `m³`, `s^-1`, `day`.
fn push_word(code: &mut String, word: &str, alone: bool) -> Option<()> {
    let end = word.find(['^', '⁻', '⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹']).unwrap_or(word.len());
    let (name, exponent) = word.split_at(end);
    if !exponent.is_empty() && !name.ends_with(|c: char| c.is_alphabetic()) {
        // A power of a number, or of nothing: UCUM would read "10^3" without its caret as 103.
        return None;
    }
    match name {
        // Between quantities a degree is a difference, and differences are kelvins.
        "°C" | "℃" | "degC" => code.push_str(if alone { "Cel" } else { "K" }),
        "°F" | "℉" | "degF" => code.push_str(if alone { "[degF]" } else { "[degR]" }),
        "day" | "days" => code.push('d'),
        "hr" | "hrs" | "hour" | "hours" => code.push('h'),
        "mins" | "minute" | "minutes" => code.push_str("min"),
        "sec" | "secs" | "second" | "seconds" => code.push('s'),
        "tonne" | "tonnes" => code.push('t'),
        "litre" | "litres" | "liter" | "liters" => code.push('L'),
        "percent" => code.push('%'),
        // To UCUM "ft" is a femtotonne, which nobody means.
        "ft" => code.push_str("[ft_i]"),
        "in" => code.push_str("[in_i]"),
        "lb" => code.push_str("[lb_av]"),
        "psi" => code.push_str("[psi]"),
        "ppm" => code.push_str("[ppm]"),
        "Wh" | "kWh" | "MWh" | "GWh" => {
            code.push('(');
            code.push_str(name.strip_suffix('h')?);
            code.push_str(".h)");
        }
        _ => {
            for c in name.chars() {
                match c {
                    'µ' | 'μ' => code.push('u'),
                    _ if c.is_ascii_graphic() => code.push(c),
                    _ => return None,
                }
            }
        }
    }
    for c in exponent.chars() {
        match c {
            '^' => {}
            '⁻' => code.push('-'),
            '¹' => code.push('1'),
            '²' => code.push('2'),
            '³' => code.push('3'),
            '⁰' => code.push('0'),
            '⁴'..='⁹' => code.push(char::from_digit(u32::from(c) - u32::from('⁰'), 10)?),
            '-' | '+' | '0'..='9' => code.push(c),
            _ => return None,
        }
    }
    Some(())
}

/// The common spelling nearest to one that nobody knows.
pub(super) fn near(spelt: &str) -> Option<&'static str> {
    if let Some(same) = COMMON.iter().find(|known| known.eq_ignore_ascii_case(spelt)) {
        return Some(same);
    }
    most_alike(spelt, COMMON.iter().copied())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_says_what_ucum_says() {
        for spelt in COMMON {
            let (table, ucum) = (common(spelt).unwrap(), by_ucum(spelt).unwrap());
            assert_eq!((table.exponents, table.days), (ucum.exponents, ucum.days), "{spelt}");
            approx::assert_relative_eq!(table.factor / table.divisor, ucum.factor / ucum.divisor, max_relative = 1e-15);
            assert_eq!(table.offset.to_bits(), ucum.offset.to_bits(), "{spelt}");
        }
    }

    #[test]
    fn people_spell_in_many_ways() {
        for (typed, meant) in [
            ("kJ / (kg · K)", "kJ/(kg.K)"),
            ("kJ/(kg*K)", "kJ/(kg.K)"),
            ("J/(kg·°C)", "J/(kg.K)"),
            ("m³/s", "m3/s"),
            ("m^3/h", "m3/h"),
            ("kg·s⁻¹", "kg.s-1"),
            ("kg s^-1", "?"),
            ("°C", "Cel"),
            ("degC", "Cel"),
            ("degF", "[degF]"),
            ("kWh", "(kW.h)"),
            ("hours", "h"),
            ("µg", "ug"),
            ("ft/s²", "[ft_i]/s2"),
            ("in", "[in_i]"),
            ("λ", "?"),
        ] {
            assert_eq!(ucum_spelling(typed).as_deref().unwrap_or("?"), meant, "{typed}");
        }
    }

    #[test]
    fn a_slip_of_case_or_of_one_letter_has_a_near_name() {
        assert_eq!(near("KW"), Some("kW"));
        assert_eq!(near("kgs/s"), Some("kg/s"));
        assert_eq!(near("qqq"), None);
    }

    #[test]
    fn scales_of_no_use_are_refused() {
        assert_eq!(by_ucum("%200"), Err(Refused::Extreme));
        assert_eq!(by_ucum("g/10^3"), Err(Refused::Unknown));
        assert_eq!(by_ucum("[iU]"), Err(Refused::Unknown));
        assert_eq!(by_ucum("dB"), Err(Refused::Unknown));
        assert_eq!(by_ucum(""), Err(Refused::Unknown));
    }
}
