//! Many single-precision numbers as one run of bytes: read and written at the speed of a copy.

use serde::de::{Error, Visitor};
use serde::{Deserializer, Serializer};

/// For `#[serde(with = "floats")]`: four bytes each, the least first.
pub fn serialize<S: Serializer>(values: &[f32], s: S) -> Result<S::Ok, S::Error> {
    let bytes: Vec<[u8; 4]> = values.iter().map(|v| v.to_le_bytes()).collect();
    s.serialize_bytes(bytes.as_flattened())
}

/// The same, back.
pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Vec<f32>, D::Error> {
    struct Bytes;
    impl Visitor<'_> for Bytes {
        type Value = Vec<f32>;

        fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
            f.write_str("four bytes a number")
        }

        fn visit_bytes<E: Error>(self, bytes: &[u8]) -> Result<Vec<f32>, E> {
            let (numbers, rest) = bytes.as_chunks::<4>();
            if rest.is_empty() {
                Ok(numbers.iter().map(|b| f32::from_le_bytes(*b)).collect())
            } else {
                Err(E::invalid_length(bytes.len(), &self))
            }
        }
    }
    d.deserialize_bytes(Bytes)
}
