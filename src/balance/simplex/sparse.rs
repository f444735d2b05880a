//! A vector that knows where it is not zero.

/// Dense values with a bit for each place that may be non-zero, so that work follows the non-zeros in order.
#[derive(Clone, Debug, Default)]
pub struct Sparse {
    value: Vec<f64>,
    words: Vec<u64>,
}

impl Sparse {
    /// So many zeros.
    #[must_use]
    pub fn zeros(length: usize) -> Self {
        Self { value: vec![0.0; length], words: vec![0; length.div_ceil(64)] }
    }

    /// Back to so many zeros.
    pub fn reset(&mut self, length: usize) {
        self.value.clear();
        self.value.resize(length, 0.0);
        self.words.clear();
        self.words.resize(length.div_ceil(64), 0);
    }

    /// The value at a place.
    #[inline]
    #[must_use]
    pub fn get(&self, at: usize) -> f64 {
        self.value[at]
    }

    /// Sets a value.
    #[inline]
    pub fn set(&mut self, at: usize, value: f64) {
        self.value[at] = value;
        self.words[at >> 6] |= 1 << (at & 63);
    }

    /// Adds to a value.
    #[inline]
    pub fn add(&mut self, at: usize, value: f64) {
        self.value[at] += value;
        self.words[at >> 6] |= 1 << (at & 63);
    }

    /// Takes a value out, leaving zero.
    #[inline]
    pub fn take(&mut self, at: usize) -> f64 {
        self.words[at >> 6] &= !(1 << (at & 63));
        std::mem::take(&mut self.value[at])
    }

    /// All back to zero.
    pub fn clear(&mut self) {
        for word in 0..self.words.len() {
            let mut bits = std::mem::take(&mut self.words[word]);
            while bits != 0 {
                self.value[(word << 6) | bits.trailing_zeros() as usize] = 0.0;
                bits &= bits - 1;
            }
        }
    }

    /// The first marked place at or after `from`.
    #[inline]
    #[must_use]
    pub fn next(&self, from: usize) -> Option<usize> {
        let mut word = from >> 6;
        let mut bits = *self.words.get(word)? & (u64::MAX << (from & 63));
        loop {
            if bits != 0 {
                return Some((word << 6) | bits.trailing_zeros() as usize);
            }
            word += 1;
            bits = *self.words.get(word)?;
        }
    }

    /// The last marked place at or before `from`.
    #[inline]
    #[must_use]
    pub fn previous(&self, from: usize) -> Option<usize> {
        let mut word = from >> 6;
        let mut bits = *self.words.get(word)? & (u64::MAX >> (63 - (from & 63)));
        loop {
            if bits != 0 {
                return Some((word << 6) | (63 - bits.leading_zeros() as usize));
            }
            word = word.checked_sub(1)?;
            bits = self.words[word];
        }
    }

    /// The marked places with their values, in order.
    pub fn iter(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.words.iter().enumerate().flat_map(move |(word, &bits)| {
            std::iter::successors((bits != 0).then_some(bits), |&bits| {
                let rest = bits & (bits - 1);
                (rest != 0).then_some(rest)
            })
            .map(move |bits| {
                let at = (word << 6) | bits.trailing_zeros() as usize;
                (at, self.value[at])
            })
        })
    }
}
