//! Temperatures and differences of temperatures as they are written. A number is in °C, a difference in K.

use super::FaultCode;
use super::field::bare;
use super::model::ABSOLUTE_ZERO_C;
use super::node::{Node, Value};
use super::reader::{Place, Reader};
use super::wire::Wire;
use crate::quantity::QuantityFault;

/// A temperature field: its name and an example for the schema.
#[cfg_attr(not(feature = "openapi"), allow(dead_code))] // its description is for the schema
pub(super) trait TemperatureField {
    const NAME: &'static str;
    const ABOUT: &'static str;
    const EXAMPLE_C: f64;
}

/// A temperature in °C, above absolute zero.
#[derive(Clone, Copy, Debug)]
pub(super) struct Temperature<F>(pub f64, std::marker::PhantomData<F>);

macro_rules! temperature_fields {
    ($($(#[doc = $about:literal])* $name:ident: $example:literal;)*) => {$(
        $(#[doc = $about])*
        #[derive(Clone, Copy, Debug)]
        pub(super) struct $name;
        impl TemperatureField for $name {
            const NAME: &'static str = stringify!($name);
            const ABOUT: &'static str = concat!($($about, "\n"),*);
            const EXAMPLE_C: f64 = $example;
        }
    )*};
}

temperature_fields! {
    /// A temperature.
    AnyTemperature: 20.0;
    /// Where something freezes and melts.
    FreezingPoint: 0.0;
    /// Where something boils and condenses.
    BoilingPoint: 100.0;
    /// The greatest temperature that is borne.
    UpperLimit: 70.0;
    /// The least temperature that is borne.
    LowerLimit: 5.0;
    /// Where a switch starts.
    StartPoint: 24.0;
    /// Where a switch stops.
    StopPoint: 22.0;
    /// The temperature of a coolant where its cooler takes it in.
    SetPoint: 30.0;
    /// The least inlet temperature of a turbine.
    LeastInlet: 115.0;
    /// The inlet temperature at which a turbine generates all it can.
    RatedInlet: 165.0;
    /// The temperature at which a turbine lets its fluid go.
    OutletPoint: 70.0;
}

const EXPECTED: &str = "a temperature above absolute zero: a number in °C, or a text such as \"14 °C\" or \"287 K\"";

impl<F: TemperatureField> Wire for Temperature<F> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let read = match &node.value {
            Value::Number(number) => bare(*number),
            Value::Text(text) => reader.quantities.read_temperature(text),
            _ => {
                reader.fault_here(node, place, FaultCode::WrongType, || EXPECTED.to_owned());
                return None;
            }
        };
        match read {
            Ok(at_c) if at_c > ABSOLUTE_ZERO_C => Some(Self(at_c, std::marker::PhantomData)),
            Ok(_) => {
                reader.fault_here(node, place, FaultCode::OutOfRange, || EXPECTED.to_owned());
                None
            }
            Err(fault) => {
                reader.quantity_fault(node, place, &fault, || EXPECTED.to_owned());
                None
            }
        }
    }
}

/// A difference of temperatures in K, not negative.
#[derive(Clone, Copy, Debug)]
pub(super) struct Difference(pub f64);

/// A difference of temperatures in K that is not nothing.
#[derive(Clone, Copy, Debug)]
pub(super) struct SomeDifference(pub f64);

fn difference(
    node: &Node<'_>,
    place: &Place<'_>,
    reader: &mut Reader<'_>,
    fits: impl Fn(f64) -> bool,
    say: &str,
) -> Option<f64> {
    let expected = || format!("a difference of temperatures, {say}: a number in K, or a text such as \"11 K\"");
    let read = match &node.value {
        Value::Number(number) => bare(*number),
        Value::Text(text) => reader.quantities.read_difference(text),
        _ => {
            reader.fault_here(node, place, FaultCode::WrongType, expected);
            return None;
        }
    };
    match read.and_then(|k| if fits(k) { Ok(k) } else { Err(QuantityFault::OutOfRange) }) {
        Ok(k) => Some(k),
        Err(QuantityFault::OutOfRange) => {
            reader.fault_here(node, place, FaultCode::OutOfRange, expected);
            None
        }
        Err(fault) => {
            reader.quantity_fault(node, place, &fault, expected);
            None
        }
    }
}

impl Wire for Difference {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        difference(node, place, reader, |k| k >= 0.0, "0 or more").map(Self)
    }
}

impl Wire for SomeDifference {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        difference(node, place, reader, |k| k > 0.0, "more than 0").map(Self)
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, OneOfBuilder, Schema, SchemaFormat, Type};

    use super::{ABSOLUTE_ZERO_C, Difference, SomeDifference, Temperature, TemperatureField};
    use crate::plan::schema::Described;
    use crate::quantity::{GREATEST, LONGEST};

    fn either(about: &str, number: ObjectBuilder, say: &str, example: &str) -> Schema {
        let text = ObjectBuilder::new()
            .schema_type(Type::String)
            .min_length(Some(1))
            .max_length(Some(LONGEST))
            .description(Some("A number and a unit of measure."))
            .examples([example]);
        let number = number
            .schema_type(Type::Number)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
            .maximum(Some(GREATEST))
            .description(Some(say));
        OneOfBuilder::new()
            .description(Some(format!("{} {say}, or a text such as {example:?}.", about.trim().replace('\n', " "))))
            .examples([example])
            .item(number)
            .item(text)
            .build()
            .into()
    }

    impl<F: TemperatureField> Described for Temperature<F> {
        const NAME: Option<&'static str> = Some(F::NAME);
        fn body() -> Schema {
            let number = ObjectBuilder::new().exclusive_minimum(Some(ABSOLUTE_ZERO_C)).examples([F::EXAMPLE_C]);
            either(F::ABOUT, number, "A number in °C, above absolute zero", &format!("{} °C", F::EXAMPLE_C))
        }
    }

    impl Described for Difference {
        const NAME: Option<&'static str> = Some("Difference");
        fn body() -> Schema {
            let number = ObjectBuilder::new().minimum(Some(0));
            either("A difference of temperatures.", number, "A number in K, 0 or more", "2 K")
        }
    }

    impl Described for SomeDifference {
        const NAME: Option<&'static str> = Some("SomeDifference");
        fn body() -> Schema {
            let number = ObjectBuilder::new().exclusive_minimum(Some(0));
            either("A difference of temperatures.", number, "A number in K, more than 0", "11 K")
        }
    }
}
