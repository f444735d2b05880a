//! What a store holds: an amount in kg, on `power` in J, or a share of its capacity; and what it loses by standing.

use super::FaultCode;
use super::field::{Bounds, NOT_NEGATIVE, POSITIVE, bare, expected_quantity};
use super::model::{Carried, StandingLoss};
use super::node::{Node, Value};
use super::reader::{Detail, Place, Reader};
use super::wire::Wire;
use crate::quantity::{Dimension, QuantityFault, Reading, dimension};

/// What a number was said to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    /// Nothing: it is in the SI unit of its place.
    Bare,
    /// An amount of what such a header carries.
    Of(Carried),
    /// A share.
    Share,
}

/// An amount, or a share of a store's capacity: which is settled by [`Amount::in_store`].
#[derive(Clone, Copy, Debug)]
pub(super) struct Amount {
    pub si: f64,
    said: Said,
}

/// What a store holds when full.
#[derive(Clone, Copy, Debug)]
pub(super) struct Capacity(Amount);

const EITHER: &str = "a mass in kg such as \"800 kg\", or on the header power an energy in J such as \"40 MJ\"";

fn read_amount(node: &Node<'_>, reader: &mut Reader<'_>, bounds: Bounds) -> Option<Result<Amount, QuantityFault>> {
    let read = match &node.value {
        Value::Number(number) => bare(*number).map(|si| Amount { si, said: Said::Bare }),
        Value::Text(text) => reader.quantities.read_any(text).and_then(|reading| amount(&reading)),
        _ => return None,
    };
    Some(read.and_then(|amount| if bounds.hold(amount.si) { Ok(amount) } else { Err(QuantityFault::OutOfRange) }))
}

fn amount(reading: &Reading) -> Result<Amount, QuantityFault> {
    let said = if reading.is::<dimension::Share>() {
        Said::Share
    } else if reading.is::<dimension::Energy>() {
        Said::Of(Carried::Power)
    } else {
        reading.measure::<dimension::Mass>()?;
        Said::Of(Carried::Matter)
    };
    Ok(Amount { si: reading.si, said })
}

/// What is expected of an amount on a header that carries so.
fn expected_on(carries: Carried) -> String {
    match carries {
        Carried::Matter => expected_quantity::<dimension::Mass>(NOT_NEGATIVE),
        Carried::Power => expected_quantity::<dimension::Energy>(NOT_NEGATIVE),
    }
}

impl Said {
    fn label(self) -> &'static str {
        match self {
            Self::Bare | Self::Share => dimension::Share::LABEL,
            Self::Of(Carried::Matter) => dimension::Mass::LABEL,
            Self::Of(Carried::Power) => dimension::Energy::LABEL,
        }
    }
}

/// A store as far as amounts in it need one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Vessel {
    pub carries: Carried,
    pub capacity: f64,
}

impl Amount {
    /// The amount in a store, in kg or J: a share is one of its capacity, and nothing is more than that.
    pub fn in_store(self, store: Vessel, node: &Node<'_>, place: &Place<'_>, reader: &mut Reader<'_>) -> Option<f64> {
        let Vessel { carries, capacity } = store;
        match self.said {
            Said::Share if self.si > 1.0 => {
                reader.fault_here(node, place, FaultCode::OutOfRange, || "at most 100 % of the capacity".to_owned());
                None
            }
            Said::Share => Some(self.si * capacity),
            Said::Of(other) if other != carries => {
                let found = self.said.label();
                reader.fault(node, place, FaultCode::WrongDimension, |_| Detail {
                    found: format!("{} ({found})", node.found()),
                    expected: format!("{}, or a share such as \"60 %\"", expected_on(carries)),
                    near: None,
                });
                None
            }
            Said::Of(_) | Said::Bare if self.si > capacity => {
                reader.contradiction(
                    node,
                    place,
                    || carries.print_amount(self.si),
                    || format!("no more than the capacity, which is {}", carries.print_amount(capacity)),
                );
                None
            }
            Said::Of(_) | Said::Bare => Some(self.si),
        }
    }
}

impl Amount {
    /// As [`Amount::in_store`], and from then on it is that amount.
    pub fn settle(
        &mut self,
        store: Vessel,
        node: &Node<'_>,
        place: &Place<'_>,
        reader: &mut Reader<'_>,
    ) -> Option<f64> {
        let si = self.in_store(store, node, place, reader)?;
        *self = Self { si, said: Said::Bare };
        Some(si)
    }
}

impl Capacity {
    /// The capacity in kg or J on a header that carries so.
    pub fn on(self, carries: Carried, node: &Node<'_>, place: &Place<'_>, reader: &mut Reader<'_>) -> Option<f64> {
        let Self(Amount { si, said }) = self;
        if self.fits(carries) {
            return Some(si);
        }
        reader.fault(node, place, FaultCode::WrongDimension, |_| Detail {
            found: format!("{} ({})", node.found(), said.label()),
            expected: expected_on(carries),
            near: None,
        });
        None
    }

    /// Whether it is an amount of what such a header carries.
    pub fn fits(self, carries: Carried) -> bool {
        self.0.said == Said::Bare || self.0.said == Said::Of(carries)
    }

    /// As it was read, where [`Capacity::on`] has found nothing wrong with it.
    pub fn si(self) -> f64 {
        self.0.si
    }
}

impl Wire for Amount {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let read = read_amount(node, reader, NOT_NEGATIVE);
        told(read, node, place, reader, || format!("{EITHER}, or a share such as \"60 %\", {}", NOT_NEGATIVE.say))
    }
}

impl Wire for Capacity {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let read = read_amount(node, reader, POSITIVE);
        told(read, node, place, reader, || format!("{EITHER}, {}", POSITIVE.say)).map(Self)
    }
}

/// What was read, or the fault noted.
fn told<T>(
    read: Option<Result<T, QuantityFault>>,
    node: &Node<'_>,
    place: &Place<'_>,
    reader: &mut Reader<'_>,
    expected: impl FnOnce() -> String,
) -> Option<T> {
    match read {
        Some(Ok(value)) => return Some(value),
        Some(Err(fault)) => reader.quantity_fault(node, place, &fault, expected),
        None => reader.fault_here(node, place, FaultCode::WrongType, expected),
    }
    None
}

/// What a store loses by standing: a share of its contents per time, or a rate whose header a sibling field tells.
#[derive(Clone, Copy, Debug)]
pub(super) struct Loses {
    pub si: f64,
    said: Said,
}

impl Wire for Loses {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let read = match &node.value {
            Value::Number(number) => Some(bare(*number).map(|si| Self { si, said: Said::Bare })),
            Value::Text(text) => Some(reader.quantities.read_any(text).and_then(|reading| loss(&reading))),
            _ => None,
        };
        let read = read
            .map(|read| read.and_then(|loss| if loss.si >= 0.0 { Ok(loss) } else { Err(QuantityFault::OutOfRange) }));
        told(read, node, place, reader, || {
            "a share of the contents per time such as \"0.2 %/day\", or a rate such as \"1 g/s\", on the header power \"5 W\", 0 \
             or more"
                .to_owned()
        })
    }
}

fn loss(reading: &Reading) -> Result<Loses, QuantityFault> {
    let said = if reading.is::<dimension::PerTime>() {
        Said::Share
    } else if reading.is::<dimension::Power>() {
        Said::Of(Carried::Power)
    } else if reading.is::<dimension::MassRate>() {
        Said::Of(Carried::Matter)
    } else {
        reading.measure::<dimension::PerTime>()?;
        Said::Share
    };
    Ok(Loses { si: reading.si, said })
}

impl Loses {
    /// Notes a rate that is none on a header that carries so.
    pub fn on(self, carries: Carried, node: &Node<'_>, place: &Place<'_>, reader: &mut Reader<'_>) {
        if let Said::Of(other) = self.said
            && other != carries
        {
            reader.fault(node, place, FaultCode::WrongDimension, |_| Detail {
                found: format!("{} ({})", node.found(), rate_label(other)),
                expected: format!("a share per time such as \"0.2 %/day\", or a {}", rate_label(carries)),
                near: None,
            });
        }
    }

    /// As the model says it.
    pub fn standing(self) -> StandingLoss {
        match self.said {
            _ if self.si == 0.0 => StandingLoss::None,
            Said::Share => StandingLoss::Share(self.si),
            Said::Bare | Said::Of(_) => StandingLoss::Rate(self.si),
        }
    }
}

fn rate_label(carries: Carried) -> &'static str {
    match carries {
        Carried::Matter => dimension::MassRate::LABEL,
        Carried::Power => dimension::Power::LABEL,
    }
}
