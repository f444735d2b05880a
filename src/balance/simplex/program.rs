//! A homogeneous linear programme in bounded form: A·x = 0, lower ≤ x ≤ upper.

/// Sparse columns of A (compressed), with bounds. Entry order inside a column is by row.
#[derive(Clone, Debug, Default)]
pub struct Program {
    rows: usize,
    starts: Vec<usize>,
    row_of: Vec<u32>,
    value: Vec<f64>,
    /// Lower bounds, finite.
    pub lower: Vec<f64>,
    /// Upper bounds, possibly infinite.
    pub upper: Vec<f64>,
    /// For each row the column that closes it when nothing else does: its only entry is in that row.
    pub sinks: Vec<u32>,
}

/// The rows of A, for pricing by row.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    starts: Vec<usize>,
    column_of: Vec<u32>,
    value: Vec<f64>,
}

impl Program {
    /// An empty programme of so many rows. Each row must be given a sink ([`Self::add_sink`]) before it is solved.
    #[must_use]
    pub fn new(rows: usize) -> Self {
        Self { rows, starts: vec![0], sinks: vec![u32::MAX; rows], ..Self::default() }
    }

    /// Makes room for so many columns with so many entries.
    pub fn reserve(&mut self, columns: usize, entries: usize) {
        self.starts.reserve(columns);
        self.lower.reserve(columns);
        self.upper.reserve(columns);
        self.row_of.reserve(entries);
        self.value.reserve(entries);
    }

    /// Adds a column and returns its index. Entries must be sorted by row, without repeats or zeros.
    pub fn add(&mut self, entries: &[(u32, f64)], lower: f64, upper: f64) -> usize {
        debug_assert!(entries.windows(2).all(|pair| pair[0].0 < pair[1].0));
        for &(row, value) in entries {
            self.row_of.push(row);
            self.value.push(value);
        }
        self.starts.push(self.row_of.len());
        self.lower.push(lower);
        self.upper.push(upper);
        self.lower.len() - 1
    }

    /// Adds the column that closes `row`: what is left over on it, from nothing upward to `upper`.
    pub fn add_sink(&mut self, row: u32, upper: f64) -> usize {
        let column = self.add(&[(row, -1.0)], 0.0, upper);
        self.sinks[row as usize] = u32::try_from(column).unwrap_or(u32::MAX);
        column
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.lower.len()
    }

    /// Number of entries of A.
    #[must_use]
    pub fn entries(&self) -> usize {
        self.value.len()
    }

    /// The entries of a column: (row, value).
    pub fn column(&self, column: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[column]..self.starts[column + 1];
        self.row_of[range.clone()].iter().zip(&self.value[range]).map(|(&row, &value)| (row as usize, value))
    }

    /// A by rows.
    #[must_use]
    pub fn by_rows(&self) -> Rows {
        let mut starts = vec![0; self.rows + 1];
        for &row in &self.row_of {
            starts[row as usize + 1] += 1;
        }
        for row in 0..self.rows {
            starts[row + 1] += starts[row];
        }
        let mut next = starts.clone();
        let mut column_of = vec![0; self.row_of.len()];
        let mut value = vec![0.0; self.row_of.len()];
        for column in 0..self.columns() {
            for (row, entry) in self.column(column) {
                column_of[next[row]] = u32::try_from(column).unwrap_or(u32::MAX);
                value[next[row]] = entry;
                next[row] += 1;
            }
        }
        Rows { starts, column_of, value }
    }

    /// Scales rows and columns by powers of two, which changes no digit, so that entries come near one. Returns the
    /// row factors and the column factors: x(original) = column factor · x(scaled). Sinks keep their −1.
    pub fn scale(&mut self) -> (Vec<f64>, Vec<f64>) {
        let columns = self.columns();
        let mut row_factor = vec![1.0_f64; self.rows];
        let mut column_factor = vec![1.0_f64; columns];
        for _ in 0..2 {
            let mut log_sum = vec![0.0_f64; self.rows];
            let mut log_count = vec![0.0_f64; self.rows];
            for (column, &scaled_by) in column_factor.iter().enumerate() {
                let range = self.starts[column]..self.starts[column + 1];
                if range.len() == 1 {
                    continue;
                }
                for at in range {
                    let row = self.row_of[at] as usize;
                    log_sum[row] += f64::from(exponent(self.value[at] * scaled_by));
                    log_count[row] += 1.0;
                }
            }
            for row in 0..self.rows {
                if log_count[row] > 0.0 {
                    row_factor[row] = power_of_two(-log_sum[row] / log_count[row]);
                }
            }
            for (column, factor) in column_factor.iter_mut().enumerate() {
                let range = self.starts[column]..self.starts[column + 1];
                let largest =
                    range.map(|at| exponent(self.value[at] * row_factor[self.row_of[at] as usize])).max().unwrap_or(0);
                *factor = power_of_two(-f64::from(largest));
            }
        }
        for (column, &factor) in column_factor.iter().enumerate() {
            for at in self.starts[column]..self.starts[column + 1] {
                self.value[at] *= row_factor[self.row_of[at] as usize] * factor;
            }
            self.lower[column] /= factor;
            self.upper[column] /= factor;
        }
        (row_factor, column_factor)
    }
}

impl Rows {
    /// The entries of a row: (column, value).
    pub fn row(&self, row: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[row]..self.starts[row + 1];
        self.column_of[range.clone()].iter().zip(&self.value[range]).map(|(&column, &value)| (column as usize, value))
    }
}

/// The binary exponent of a non-zero finite number: floor(log2 |x|).
fn exponent(x: f64) -> i32 {
    let biased = i32::try_from((x.abs().to_bits() >> 52) & 0x7ff).unwrap_or(0);
    biased - 1023
}

/// 2 to the nearest whole power.
fn power_of_two(exponent: f64) -> f64 {
    2.0_f64.powi(exponent.round().clamp(-200.0, 200.0) as i32)
}
