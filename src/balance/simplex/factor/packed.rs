//! Sparse columns, stored one after the other.

use super::NONE;

/// Columns stored one after the other.
#[derive(Clone, Debug, Default)]
pub struct Packed {
    /// Where each begins, and where the last ends.
    pub starts: Vec<usize>,
    /// The place of each entry in its column.
    pub index: Vec<u32>,
    /// Each entry.
    pub value: Vec<f64>,
}

impl Packed {
    pub fn clear(&mut self) {
        self.starts.clear();
        self.starts.push(0);
        self.index.clear();
        self.value.clear();
    }

    /// As [`Self::clear`], with room for so many columns of so many entries together.
    pub fn clear_for(&mut self, columns: usize, entries: usize) {
        self.clear();
        self.starts.reserve(columns);
        self.index.reserve(entries);
        self.value.reserve(entries);
    }

    pub fn push(&mut self, index: u32, value: f64) {
        self.index.push(index);
        self.value.push(value);
    }

    pub fn close(&mut self) {
        self.starts.push(self.index.len());
    }

    pub fn get(&self, at: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[at]..self.starts[at + 1];
        self.index[range.clone()].iter().zip(&self.value[range]).map(|(&index, &value)| (index as usize, value))
    }

    pub fn transpose_into(&self, size: usize, out: &mut Self) {
        out.starts.clear();
        out.starts.resize(size + 1, 0);
        for &index in &self.index {
            out.starts[index as usize + 1] += 1;
        }
        for at in 0..size {
            out.starts[at + 1] += out.starts[at];
        }
        out.index.clear();
        out.index.resize(self.index.len(), 0);
        out.value.clear();
        out.value.resize(self.value.len(), 0.0);
        let mut next = out.starts.clone();
        for at in 0..self.starts.len().saturating_sub(1) {
            for (index, value) in self.get(at) {
                out.index[next[index]] = u32::try_from(at).unwrap_or(NONE);
                out.value[next[index]] = value;
                next[index] += 1;
            }
        }
    }
}
