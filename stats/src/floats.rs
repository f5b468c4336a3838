//! Many single-precision numbers, most of them 0, as one run of bytes: read and written at about the speed of a copy.

use serde::de::{Error, Visitor};
use serde::{Deserializer, Serializer};

/// For `#[serde(with = "floats")]`: how many (8 bytes), which of them are not 0 (a bit each), and those, four bytes each; the
/// least byte and bit first.
pub fn serialize<S: Serializer>(values: &[f32], s: S) -> Result<S::Ok, S::Error> {
    let mut bytes = Vec::with_capacity(8 + values.len());
    bytes.extend((values.len() as u64).to_le_bytes());
    // By the bits: -0 is not 0.
    bytes.extend(values.chunks(8).map(|eight| {
        let bit = |(i, v): (usize, &f32)| u8::from(v.to_bits() != 0) << i;
        eight.iter().enumerate().map(bit).sum::<u8>()
    }));
    values.iter().filter(|v| v.to_bits() != 0).for_each(|v| bytes.extend(v.to_le_bytes()));
    s.serialize_bytes(&bytes)
}

/// The same, back.
pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Vec<f32>, D::Error> {
    struct Bytes;
    impl Visitor<'_> for Bytes {
        type Value = Vec<f32>;

        fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
            f.write_str("a count, a bit for each number, and four bytes for each that is not 0")
        }

        fn visit_bytes<E: Error>(self, bytes: &[u8]) -> Result<Vec<f32>, E> {
            read(bytes).ok_or_else(|| E::invalid_length(bytes.len(), &self))
        }
    }
    d.deserialize_bytes(Bytes)
}

fn read(bytes: &[u8]) -> Option<Vec<f32>> {
    let (count, rest) = bytes.split_first_chunk::<8>()?;
    let count = usize::try_from(u64::from_le_bytes(*count)).ok()?;
    let (which, rest) = rest.split_at_checked(count.div_ceil(8))?;
    let (numbers, over) = rest.as_chunks::<4>();
    let mut numbers = numbers.iter().map(|b| f32::from_le_bytes(*b));
    let mut out = vec![0.0; count];
    for (eight, which) in out.chunks_mut(8).zip(which) {
        let mut which = *which;
        while which != 0 {
            *eight.get_mut(which.trailing_zeros() as usize)? = numbers.next()?;
            which &= which - 1;
        }
    }
    (over.is_empty() && numbers.next().is_none()).then_some(out)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde::{Deserialize, Serialize};

    #[derive(Serialize, Deserialize)]
    struct Many(#[serde(with = "super")] Vec<f32>);

    proptest! {
        #[test]
        fn what_is_written_is_read_to_the_bit(
            values in prop::collection::vec(prop_oneof![Just(0.0_f32), Just(-0.0), prop::num::f32::ANY], 0..40),
            cut in 0_usize..8,
        ) {
            let bytes = postcard::to_stdvec(&Many(values.clone())).unwrap();
            let Many(back) = postcard::from_bytes(&bytes).unwrap();
            let bits = |v: &[f32]| v.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            prop_assert_eq!(bits(&back), bits(&values));
            let short = bytes.len().saturating_sub(cut + 1);
            prop_assert!(postcard::from_bytes::<Many>(&bytes[..short]).is_err());
        }

        /// Whatever stands there: numbers or an error, no panic.
        #[test]
        fn what_was_not_written_here_is_refused(bytes in prop::collection::vec(any::<u8>(), 0..64)) {
            if let Some(values) = super::read(&bytes) {
                prop_assert!(values.len() <= 8 * bytes.len());
            }
        }
    }
}
