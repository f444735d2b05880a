//! Who is next: a winner tree over the times of a fixed set of clocks. Setting a time costs log n, asking who is first nothing.

/// Times by slot; infinite where nothing is to come.
#[derive(Clone, Debug)]
pub struct Queue {
    base: usize,
    time: Vec<f64>,
    /// By node, the slot that is first below it.
    winner: Vec<u32>,
}

impl Queue {
    /// So many slots, none with a time.
    #[must_use]
    pub fn new(slots: usize) -> Self {
        let base = slots.max(1).next_power_of_two();
        let mut queue = Self { base, time: vec![f64::INFINITY; base], winner: vec![0; 2 * base] };
        for slot in 0..base {
            queue.winner[base + slot] = slot as u32;
        }
        for node in (1..base).rev() {
            queue.winner[node] = queue.winner[2 * node];
        }
        queue
    }

    /// Sets when a slot is due.
    pub fn set(&mut self, slot: usize, time: f64) {
        self.time[slot] = time;
        let mut node = (self.base + slot) >> 1;
        while node >= 1 {
            let (left, right) = (self.winner[2 * node], self.winner[2 * node + 1]);
            // Of equal times the first slot.
            self.winner[node] = if self.time[right as usize] < self.time[left as usize] { right } else { left };
            node >>= 1;
        }
    }

    /// When a slot is due.
    #[must_use]
    pub fn time(&self, slot: usize) -> f64 {
        self.time[slot]
    }

    /// The first slot and its time.
    #[must_use]
    pub fn first(&self) -> (usize, f64) {
        let slot = self.winner[1] as usize;
        (slot, self.time[slot])
    }
}

#[cfg(test)]
mod tests {
    use super::Queue;

    #[test]
    fn the_first_is_the_least_and_of_equals_the_first_slot() {
        for slots in [1, 2, 3, 7, 8, 9] {
            let mut queue = Queue::new(slots);
            assert!(queue.first().1.is_infinite());
            for slot in 0..slots {
                queue.set(slot, ((slot * 5 + 3) % slots) as f64);
            }
            for due in 0..slots {
                let (slot, time) = queue.first();
                assert_eq!(time, due as f64);
                queue.set(slot, f64::INFINITY);
            }
            queue.set(slots - 1, 4.0);
            queue.set(0, 4.0);
            assert_eq!(queue.first(), (0, 4.0));
        }
    }
}
