//! Digits of any script.

/// The zeros of all decimal digits: general category Nd of the Unicode Character Database, 14.0. The nine behind each
/// follow in order (The Unicode Standard, section 4.6).
const ZEROS: [u32; 66] = [
    0x30, 0x660, 0x6f0, 0x7c0, 0x966, 0x9e6, 0xa66, 0xae6, 0xb66, 0xbe6, 0xc66, 0xce6, 0xd66, 0xde6, 0xe50, 0xed0,
    0xf20, 0x1040, 0x1090, 0x17e0, 0x1810, 0x1946, 0x19d0, 0x1a80, 0x1a90, 0x1b50, 0x1bb0, 0x1c40, 0x1c50, 0xa620,
    0xa8d0, 0xa900, 0xa9d0, 0xa9f0, 0xaa50, 0xabf0, 0xff10, 0x104a0, 0x10d30, 0x11066, 0x110f0, 0x11136, 0x111d0,
    0x112f0, 0x11450, 0x114d0, 0x11650, 0x116c0, 0x11730, 0x118e0, 0x11950, 0x11c50, 0x11d50, 0x11da0, 0x16a60,
    0x16ac0, 0x16b50, 0x1d7ce, 0x1d7d8, 0x1d7e2, 0x1d7ec, 0x1d7f6, 0x1e140, 0x1e2f0, 0x1e950, 0x1fbf0,
];

/// A decimal digit of any script as the ASCII one of its value.
pub fn ascii_digit(c: char) -> Option<char> {
    if c.is_ascii() {
        return c.is_ascii_digit().then_some(c);
    }
    let code = u32::from(c);
    let zero = ZEROS[..ZEROS.partition_point(|z| *z <= code)].last()?;
    char::from_digit(code - zero, 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_of_any_script_have_their_value() {
        assert!(ZEROS.is_sorted());
        for (text, is) in [("\u{ff15}\u{ff10}", "50"), ("\u{661}\u{669}", "19"), ("\u{6f4}", "4"), ("\u{1d7ff}", "9")] {
            assert_eq!(text.chars().filter_map(ascii_digit).collect::<String>(), is);
        }
        // Superscripts, fractions and numerals are no decimal digits.
        for c in ['\u{b2}', '\u{bd}', '\u{4e94}', '\u{66a}', 'a', '/', ':'] {
            assert_eq!(ascii_digit(c), None, "{c:?}");
        }
    }
}
