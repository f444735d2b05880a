//! Reading and printing held against each other.

#![allow(clippy::float_cmp)] // what is written exactly is read exactly

use proptest::prelude::*;

use super::dimension::{Energy, Mass, MassRate, Power, Share, SpecificHeat, Time};
use super::*;

fn reader() -> QuantityReader {
    QuantityReader::new(Measure::from_si(3600.0).unwrap())
}

fn read<D: Dimension>(text: &str) -> Result<f64, QuantityFault> {
    reader().read::<D>(text).map(Measure::si)
}

#[test]
fn quantities_are_read_as_people_write_them() {
    assert_eq!(read::<MassRate>("300 g/s"), Ok(0.3));
    assert_eq!(read::<MassRate>("300g/s"), Ok(0.3));
    assert_eq!(read::<MassRate>("  2.5 kg/s "), Ok(2.5));
    assert_eq!(read::<MassRate>("2.5\u{a0}kg/s"), Ok(2.5));
    assert_eq!(read::<MassRate>("6 kg/min"), Ok(0.1));
    assert_eq!(read::<MassRate>("7.2 t/day"), Ok(2.0), "a local day of one hour");
    assert_eq!(read::<MassRate>("7.2 kg/d"), Ok(0.002));
    assert_eq!(read::<Mass>("1.8 t"), Ok(1800.0));
    assert_eq!(read::<Power>("1e3 W"), Ok(1000.0));
    assert_eq!(read::<Power>("1e3W"), Ok(1000.0));
    assert_eq!(read::<Power>("2.5E-1 kW"), Ok(250.0));
    assert_eq!(read::<Power>("3 kJ/s"), Ok(3000.0));
    assert_eq!(read::<Power>("-3 kW"), Ok(-3000.0));
    assert_eq!(read::<Power>("−3 kW"), Ok(-3000.0), "a typographic minus");
    assert_eq!(read::<Power>("+3 kW"), Ok(3000.0));
    assert_eq!(read::<Power>(".5 kW"), Ok(500.0));
    assert_eq!(read::<Energy>("2 kWh"), Ok(7.2e6));
    assert_eq!(read::<Energy>("40 MJ"), Ok(4e7));
    assert_eq!(read::<Time>("7 min"), Ok(420.0));
    assert_eq!(read::<Time>("2 day"), Ok(7200.0));
    assert_eq!(read::<Time>("1.5 hours"), Ok(5400.0));
    assert_eq!(read::<Share>("75 %"), Ok(0.75));
    assert_eq!(read::<Share>("75%"), Ok(0.75));
    assert_eq!(read::<Share>("0.75"), Ok(0.75));
    assert_eq!(read::<SpecificHeat>("4.18 kJ/(kg·K)"), Ok(4180.0));
    assert_eq!(read::<SpecificHeat>("4.18 kJ/(kg*K)"), Ok(4180.0));
    assert!(read::<SpecificHeat>("4.18 kJ / (kg °C)").is_err(), "a space between two may mean anything");
    assert_eq!(read::<SpecificHeat>("4.18 kJ/(kg·°C)"), Ok(4180.0));
    // 1 lb/s: the avoirdupois pound is 0.45359237 kg exactly (international agreement of 1959, NIST SP 811, appendix B).
    assert_eq!(read::<MassRate>("1 [lb_av]/s"), Ok(0.453_592_37));
    // 1 Btu (thermochemical, UCUM's [Btu]): 1054.35 J, NIST SP 811, appendix B: 1.054 350 E+03.
    approx::assert_relative_eq!(read::<Energy>("1 [Btu]").unwrap(), 1054.35, max_relative = 1e-6);
}

#[test]
fn what_is_no_quantity_says_why() {
    use QuantityFault::{OutOfRange, UnknownUnit, Unreadable as Not};
    for text in ["", " ", "NaN", "inf", "-inf", "kg", "e3 W", ".", "- 3 W", "--3 W", "٣ W"] {
        assert_eq!(read::<Power>(text), Err(Not(Unreadable::NoNumber)), "{text:?}");
    }
    assert_eq!(read::<Mass>("0,5 kg"), Err(Not(Unreadable::Comma)));
    assert_eq!(read::<Mass>("1,000 kg"), Err(Not(Unreadable::Comma)));
    assert_eq!(read::<Mass>("1 000 kg"), Err(Not(Unreadable::SecondNumber)));
    assert_eq!(read::<Share>("3 1/2"), Err(Not(Unreadable::SecondNumber)));
    assert_eq!(read::<Mass>(&format!("{} kg", "1".repeat(70))), Err(Not(Unreadable::TooLong)));
    for text in ["1e400 W", "-1e400 W", "1e16 W", "1e14 kW", "1e-400 W", "1e-16 W", "1e-13 mW", "1 W.%200"] {
        assert_eq!(read::<Power>(text), Err(OutOfRange), "{text:?}");
    }
    assert_eq!(read::<Power>("5 KW"), Err(UnknownUnit { unit: "KW".to_owned() }));
    assert_eq!(read::<Power>("5 KW").unwrap_err().near(), Some("kW"));
    for (text, found) in [
        ("5 kg", "mass"),
        ("5 kg/s", "mass flow"),
        ("5", "number without a unit of measure"),
        ("5 m3/h", "volume flow"),
        ("5 m2/h", "quantity in m^2·s^-1"),
        ("5 °C", "quantity in K"),
    ] {
        let wrong = QuantityFault::WrongDimension { found: found.to_owned(), expected: "power" };
        assert_eq!(read::<Power>(text), Err(wrong), "{text:?}");
    }
}

#[test]
fn a_temperature_has_its_offset() {
    // 0 °C is 273.15 K: SI Brochure, 9th edition, section 2.3.1.
    assert_eq!(reader().read_any("0 °C").unwrap().si, 273.15);
    approx::assert_relative_eq!(reader().read_any("212 °F").unwrap().si, 373.15, max_relative = 1e-12);
}

#[test]
fn a_document_has_only_so_many_spellings() {
    let mut reader = reader();
    for index in 0..SPELLINGS {
        let unknown = QuantityFault::UnknownUnit { unit: format!("q{index}") };
        assert_eq!(reader.read::<Power>(&format!("1 q{index}")), Err(unknown));
    }
    assert_eq!(reader.read::<Power>("1 qq"), Err(QuantityFault::TooManySpellings));
    assert_eq!(reader.read::<Power>("1 kW").map(Measure::si), Ok(1000.0), "the common ones cost nothing");
}

#[test]
fn a_bare_parameter_is_in_si() {
    let mut reader = reader();
    assert_eq!(reader.read_parameter::<MassRate>("2.5").map(Measure::si), Ok(2.5));
    assert_eq!(reader.read_parameter::<MassRate>("300 g/s").map(Measure::si), Ok(0.3));
    assert_eq!(reader.read_parameter::<MassRate>("1e300"), Err(QuantityFault::OutOfRange));
}

#[test]
fn examples_and_printed_units_of_measure_can_be_read() {
    fn check<D: Dimension>() {
        assert!(read::<D>(D::EXAMPLE).is_ok(), "{}", D::EXAMPLE);
        for (scale, spelt) in D::LADDER {
            approx::assert_relative_eq!(read::<D>(&format!("1 {spelt}")).unwrap(), *scale, max_relative = 1e-15);
        }
    }
    check::<MassRate>();
    check::<Mass>();
    check::<Power>();
    check::<Energy>();
    check::<Time>();
    check::<Share>();
    check::<SpecificHeat>();
    check::<dimension::HeatPerMass>();
    check::<dimension::Conductance>();
    check::<dimension::Conductivity>();
    check::<dimension::ThermalInsulance>();
    check::<dimension::Length>();
    check::<dimension::Area>();
    check::<dimension::HeatCapacity>();
    check::<dimension::HeatTransfer>();
    check::<dimension::Volume>();
    check::<dimension::VolumeRate>();
    check::<dimension::Density>();
    check::<dimension::Pressure>();
    check::<dimension::Acceleration>();
    check::<dimension::Voltage>();
}

#[test]
fn measures_are_printed_as_people_read_them() {
    for (si, text) in [
        (2.5, "2.5 kg/s"),
        (0.3, "300 g/s"),
        (0.999_96, "1 kg/s"),
        (0.013_73, "13.73 g/s"),
        (1250.0, "1.25 t/s"),
        (0.0, "0 kg/s"),
        (-0.0, "0 kg/s"),
        (-0.04, "-40 g/s"),
        (f64::NAN, "unknown"),
    ] {
        assert_eq!(print_si::<MassRate>(si).to_string(), text);
    }
    assert_eq!(print_si::<Power>(12e3).to_string(), "12 kW");
    assert_eq!(print_si::<Power>(-12.34e3).to_string(), "-12.34 kW");
    assert_eq!(print_si::<Time>(420.0).to_string(), "7 min");
    assert_eq!(print_si::<Time>(144e3).to_string(), "40 h");
    assert_eq!(print_si::<Share>(0.833).to_string(), "83.3 %");
    assert_eq!(print_si::<Share>(0.0).to_string(), "0 %");
    assert_eq!(print_si::<SpecificHeat>(4180.0).to_string(), "4.18 kJ/(kg·K)");
    for (value, text) in [
        (8.333_333, "8.33"),
        (1.125, "1.125"),
        (1.9996, "2"),
        (9.0, "9"),
        (99.96, "100"),
        (12_345.6, "12346"),
        (0.000_123, "0.000123"),
        (1.5e-7, "1.5e-7"),
        (2.5e20, "2.5e20"),
        (-1e-300, "-1e-300"),
        (-0.0, "0"),
        (f64::INFINITY, "unknown"),
    ] {
        assert_eq!(number(value).to_string(), text);
    }
}

proptest! {
    #[test]
    fn what_is_printed_reads_back_within_half_a_percent(exponent in -14.0..14.9_f64, negative: bool) {
        let si = 10_f64.powf(exponent) * if negative { -1.0 } else { 1.0 };
        let text = print_si::<Power>(si).to_string();
        let back = read::<Power>(&text).unwrap();
        prop_assert!((back - si).abs() <= 0.005 * si.abs(), "{} printed as {}", si, text);
        let text = print_si::<MassRate>(si).to_string();
        let back = read::<MassRate>(&text).unwrap();
        prop_assert!((back - si).abs() <= 0.005 * si.abs(), "{} printed as {}", si, text);
        prop_assert!(!text.starts_with("-0 "));
    }

    #[test]
    fn a_number_with_its_unit_of_measure_is_read_to_the_last_digits(value in -1e9..1e9_f64) {
        let close = |read: f64, meant: f64| (read - meant).abs() <= 4.0 * f64::EPSILON * meant.abs();
        let (power, flow, time) = (format!("{value} kW"), format!("{value}g/s"), format!("{value:e} day"));
        prop_assert!(close(read::<Power>(&power).unwrap(), value * 1e3));
        prop_assert!(close(read::<MassRate>(&flow).unwrap(), value / 1e3));
        prop_assert!(close(read::<Time>(&time).unwrap(), value * 3600.0));
    }

    #[test]
    fn plain_numbers_are_printed_close_and_never_as_minus_nothing(value: f64) {
        let text = number(value).to_string();
        prop_assert_ne!(&text, "-0");
        if value.is_finite() {
            let back: f64 = text.parse().unwrap();
            prop_assert!((back - value).abs() <= 0.005 * value.abs() + f64::MIN_POSITIVE, "{} printed as {}", value, text);
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic_or_gives_a_number_out_of_range(text in "\\PC{0,40}") {
        if let Ok(reading) = reader().read_any(&text) {
            prop_assert!(within_range(reading.si));
        }
    }

    #[test]
    fn no_unit_of_measure_makes_the_reader_panic(text in "[0-9.]{1,5}[ ]?[a-zA-Z%°µ³²·*/().^0-9 -]{0,30}") {
        if let Ok(reading) = reader().read_any(&text) {
            prop_assert!(within_range(reading.si));
        }
    }
}
