//! Checksums over rows, and the digest of a whole record.
//!
//! A checksum is XXH3 with 64 bits over the values of a row in their order, each with its type and length. Damage is
//! no adversary, so nothing secret is needed; XXH3 takes some 30 ns for a set, which an import doesn't feel, has a
//! published and final form (xxHash 0.8), and misses one random damage in 2⁶⁴. The same sum is made in Rust when a
//! fact is written and by the SQL function `row_checksum` when it is looked over or migrated.

use rusqlite::Connection;
use rusqlite::functions::FunctionFlags;
use rusqlite::types::ValueRef;
use xxhash_rust::xxh3::xxh3_64;

/// The values of a row on their way to a checksum.
pub(crate) struct Checksum {
    bytes: Vec<u8>,
}

/// A value as it lies in a row.
pub(crate) trait Cell {
    fn cell(&self) -> ValueRef<'_>;
}

impl Checksum {
    pub(crate) fn new() -> Checksum {
        Checksum { bytes: Vec::with_capacity(320) }
    }

    /// Adds the next value.
    pub(crate) fn add(&mut self, value: impl Cell) -> &mut Checksum {
        self.add_cell(value.cell())
    }

    fn add_cell(&mut self, value: ValueRef<'_>) -> &mut Checksum {
        let (kind, number, bytes): (u8, u64, &[u8]) = match value {
            ValueRef::Null => (0, 0, &[]),
            ValueRef::Integer(whole) => (1, whole.cast_unsigned(), &[]),
            // A nought without a sign: SQLite keeps none.
            ValueRef::Real(real) => (2, if real == 0.0 { 0 } else { real.to_bits() }, &[]),
            ValueRef::Text(text) => (3, text.len() as u64, text),
            ValueRef::Blob(blob) => (4, blob.len() as u64, blob),
        };
        self.bytes.push(kind);
        self.bytes.extend_from_slice(&number.to_le_bytes());
        self.bytes.extend_from_slice(bytes);
        self
    }

    /// The checksum, as SQLite holds it.
    pub(crate) fn finish(&self) -> i64 {
        xxh3_64(&self.bytes).cast_signed()
    }
}

/// The digest of a record with one more fact: that of the facts before it and its checksum. The digest of none is 0.
pub(crate) fn digest_with(digest: i64, checksum: i64) -> i64 {
    let mut bytes = [0; 16];
    bytes[..8].copy_from_slice(&digest.to_le_bytes());
    bytes[8..].copy_from_slice(&checksum.to_le_bytes());
    xxh3_64(&bytes).cast_signed()
}

/// Lets SQL make checksums: `row_checksum(value, …)`.
pub(crate) fn teach(connection: &Connection) -> rusqlite::Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    connection.create_scalar_function("row_checksum", -1, flags, |values| {
        let mut sum = Checksum::new();
        for idx in 0..values.len() {
            sum.add_cell(values.get_raw(idx));
        }
        Ok(sum.finish())
    })
}

impl Cell for i64 {
    fn cell(&self) -> ValueRef<'_> {
        ValueRef::Integer(*self)
    }
}

macro_rules! whole_cells {
    ($($number:ty),*) => {$(
        impl Cell for $number {
            fn cell(&self) -> ValueRef<'_> {
                ValueRef::Integer(i64::from(*self))
            }
        }
    )*};
}
whole_cells!(bool, u8, u16, u32, i32);

impl Cell for f64 {
    fn cell(&self) -> ValueRef<'_> {
        ValueRef::Real(*self)
    }
}

impl Cell for &str {
    fn cell(&self) -> ValueRef<'_> {
        ValueRef::Text(self.as_bytes())
    }
}

impl Cell for String {
    fn cell(&self) -> ValueRef<'_> {
        ValueRef::Text(self.as_bytes())
    }
}

impl Cell for &[u8] {
    fn cell(&self) -> ValueRef<'_> {
        ValueRef::Blob(self)
    }
}

impl<T: Cell> Cell for Option<T> {
    fn cell(&self) -> ValueRef<'_> {
        self.as_ref().map_or(ValueRef::Null, Cell::cell)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rust_and_sql_make_the_same_sum_and_every_value_counts() {
        let connection = Connection::open_in_memory().unwrap();
        teach(&connection).unwrap();
        let in_sql = |list: &str| -> i64 {
            let query = format!("SELECT row_checksum({list})");
            connection.query_row(&query, [], |row| row.get(0)).unwrap()
        };
        let mut sum = Checksum::new();
        sum.add(7_i64).add("ä").add(None::<u8>).add(0.5).add([1_u8, 2].as_slice()).add(-0.0);
        assert_eq!(sum.finish(), in_sql("7, 'ä', NULL, 0.5, x'0102', 0.0"));
        let lists = ["1", "1.0", "'1'", "x'31'", "NULL", "'1', ''", "'', '1'", "'1', NULL", ""];
        let sums: std::collections::BTreeSet<i64> = lists.into_iter().map(in_sql).collect();
        assert_eq!(sums.len(), lists.len());
    }

    /// XXH3 with 64 bits, seed 0, of no bytes and of `xxh` repeated, as the reference implementation's
    /// `xxhsum -H3` prints them (xxHash 0.8; of no bytes: also its sanity test vectors; from memory).
    #[test]
    fn the_sum_is_the_published_one() {
        assert_eq!(xxh3_64(b""), 0x2D06_8005_38D3_94C2);
    }
}
