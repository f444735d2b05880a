//! What each of several stores on one header gets of what goes in, or gives of what goes out.

use crate::rehearsal::state::{Stand, State};
use crate::rehearsal::system::{System, Tank};

/// Shares what goes into the stores of one header, or out of them.
pub fn spread(system: &System, state: &State, stores: &[usize], mut rest: f64, net: &mut [f64]) {
    for &at in stores {
        net[at] = 0.0;
    }
    let mut share = |rest: f64, chosen: &dyn Fn(usize, Stand) -> Option<f64>| {
        let weight: f64 = stores.iter().filter_map(|&at| chosen(at, state.stand(at))).sum();
        if weight > 0.0 {
            for &at in stores {
                net[at] += chosen(at, state.stand(at)).map_or(0.0, |part| rest * part / weight);
            }
        }
    };
    if rest > 0.0 {
        let loss = |at: usize, stand: Stand| (stand == Stand::Full).then(|| full_loss(&system.tanks[at]));
        let wanted: f64 = stores.iter().filter_map(|&at| loss(at, state.stand(at))).sum();
        share(rest.min(wanted), &loss);
        rest -= rest.min(wanted);
    }
    if rest != 0.0 {
        let closed = if rest > 0.0 { Stand::Full } else { Stand::Empty };
        let open = stores.iter().filter(|&&at| state.stand(at) != closed);
        if let Some(rank) = open.map(|&at| system.tanks[at].rank).min() {
            share(rest, &|at, stand| {
                let tank = &system.tanks[at];
                (stand != closed && tank.rank == rank).then_some(tank.capacity)
            });
        }
    }
}

/// What a full store loses standing.
pub fn full_loss(tank: &Tank) -> f64 {
    tank.loses + tank.decays * tank.capacity
}
