//! Rates on a header: a mass flow, or on `power` an electric power.

use super::{Bounds, NOT_NEGATIVE, POSITIVE, bare, expected_quantity};
use crate::plan::FaultCode;
use crate::plan::model::Carried;
use crate::plan::node::{Node, Value};
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::Wire;
use crate::quantity::{Dimension, QuantityFault, Reading, dimension};

/// A rate whose header is told by a sibling field or by the name above it: its dimension is settled by [`Rate::on`].
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct Rate {
    pub si: f64,
    measures: Option<Carried>,
}

/// As [`Rate`], but not nothing.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct LineRate(pub Rate);

/// A [`Rate`] that stands under the name of its header.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct RateOnKey(pub f64);

const EITHER: &str = "a mass flow in kg/s such as \"300 g/s\", or on the header power a power in W such as \"2.5 kW\"";

fn read_rate(node: &Node<'_>, place: &Place<'_>, reader: &mut Reader<'_>, bounds: Bounds) -> Option<Rate> {
    let expected = || format!("{EITHER}, {}", bounds.say);
    let read = match &node.value {
        Value::Number(number) => bare(*number).map(|si| Rate { si, measures: None }),
        Value::Text(text) => reader.quantities.read_any(text).and_then(|reading| rate(&reading)),
        _ => {
            reader.fault_here(node, place, FaultCode::WrongType, expected);
            return None;
        }
    };
    match read {
        Ok(rate) if bounds.hold(rate.si) => Some(rate),
        Ok(_) => {
            reader.fault_here(node, place, FaultCode::OutOfRange, expected);
            None
        }
        Err(fault) => {
            reader.quantity_fault(node, place, &fault, expected);
            None
        }
    }
}

fn rate(reading: &Reading) -> Result<Rate, QuantityFault> {
    let measures = if reading.is::<dimension::Power>() {
        Carried::Power
    } else {
        reading.measure::<dimension::MassRate>()?;
        Carried::Matter
    };
    Ok(Rate { si: reading.si, measures: Some(measures) })
}

impl Rate {
    /// The rate on a header that carries so: a power on `power`, a mass flow elsewhere.
    pub fn on(self, carries: Carried, node: &Node<'_>, place: &Place<'_>, reader: &mut Reader<'_>) -> Option<f64> {
        if self.measures.is_none_or(|measures| measures == carries) {
            return Some(self.si);
        }
        reader.fault(node, place, FaultCode::WrongDimension, |_| {
            let (found, expected) = match carries {
                Carried::Matter => (dimension::Power::LABEL, expected_quantity::<dimension::MassRate>(NOT_NEGATIVE)),
                Carried::Power => (dimension::MassRate::LABEL, expected_quantity::<dimension::Power>(NOT_NEGATIVE)),
            };
            Detail { found: format!("{} ({found})", node.found()), expected, near: None }
        });
        None
    }
}

impl Wire for Rate {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_rate(node, place, reader, NOT_NEGATIVE)
    }
}

impl Wire for LineRate {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_rate(node, place, reader, POSITIVE).map(Self)
    }
}

impl Wire for RateOnKey {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let rate = Rate::read(node, place, reader)?;
        rate.on(Carried::by_name(place.key()), node, place, reader).map(Self)
    }
}
