//! An object told as what differs from another, in the form packs have for it: a sheet from the sheet before.

/// The longest piece one instruction copies.
const MOST_COPIED: usize = 0xff_ffff;

/// The longest text one instruction holds.
const MOST_INSERTED: usize = 127;

/// How `base` becomes `target`: the common beginning, what stands between, the common end. None where that saves little.
///
/// A book changes in one place at a time, so no more is looked for.
pub(super) fn between(base: &[u8], target: &[u8]) -> Option<Vec<u8>> {
    let begin = base.iter().zip(target).take_while(|(a, b)| a == b).count();
    let rest = base.len().min(target.len()) - begin;
    let end = base.iter().rev().zip(target.iter().rev()).take(rest).take_while(|(a, b)| a == b).count();
    let new = &target[begin..target.len() - end];
    if new.len() * 2 > target.len() {
        return None;
    }
    let mut out = Vec::with_capacity(new.len() + 32);
    size(base.len(), &mut out);
    size(target.len(), &mut out);
    copied(0, begin, &mut out);
    for piece in new.chunks(MOST_INSERTED) {
        out.push(piece.len() as u8);
        out.extend_from_slice(piece);
    }
    copied(base.len() - end, end, &mut out);
    Some(out)
}

/// Seven bits a byte, the lowest first.
fn size(mut n: usize, out: &mut Vec<u8>) {
    while n > 0x7f {
        out.push(n as u8 & 0x7f | 0x80);
        n >>= 7;
    }
    out.push(n as u8);
}

/// Instructions that copy a piece: a bit for each byte of offset and length that is not zero, then those bytes.
fn copied(mut from: usize, mut length: usize, out: &mut Vec<u8>) {
    while length > 0 {
        let now = length.min(MOST_COPIED);
        let at = out.len();
        out.push(0x80);
        for (bit, byte) in
            [(0, from), (1, from >> 8), (2, from >> 16), (3, from >> 24), (4, now), (5, now >> 8), (6, now >> 16)]
        {
            if byte as u8 != 0 {
                out[at] |= 1 << bit;
                out.push(byte as u8);
            }
        }
        from += now;
        length -= now;
    }
}

/// The sizes a difference is declared to be from and to make.
pub(super) fn sizes(delta: &[u8]) -> Option<(usize, usize)> {
    let mut read = delta.iter().copied();
    Some((number(&mut read)?, number(&mut read)?))
}

/// Seven bits a byte, the lowest first.
fn number(read: &mut impl Iterator<Item = u8>) -> Option<usize> {
    let (mut n, mut shift) = (0usize, 0);
    loop {
        let byte = read.next()?;
        let bits = usize::from(byte & 0x7f);
        let placed = bits.checked_shl(shift).filter(|placed| placed >> shift == bits)?;
        n |= placed;
        shift += 7;
        if byte & 0x80 == 0 {
            return Some(n);
        }
    }
}

/// The target again; none where the instructions are not for this base, or make more than `most`.
pub(super) fn applied(base: &[u8], delta: &[u8], most: usize) -> Option<Vec<u8>> {
    let mut read = delta.iter().copied();
    let (from, to) = (number(&mut read)?, number(&mut read)?);
    if from != base.len() || to > most {
        return None;
    }
    let mut out = Vec::with_capacity(to);
    while let Some(op) = read.next() {
        if op == 0 {
            return None;
        } else if op & 0x80 == 0 {
            out.extend(read.by_ref().take(usize::from(op)));
        } else {
            let mut byte = |bit: u8, shift: u32| -> Option<usize> {
                if op & (1 << bit) == 0 { Some(0) } else { Some(usize::from(read.next()?) << shift) }
            };
            let start = byte(0, 0)? | byte(1, 8)? | byte(2, 16)? | byte(3, 24)?;
            let length = match byte(4, 0)? | byte(5, 8)? | byte(6, 16)? {
                0 => 0x1_0000,
                n => n,
            };
            out.extend_from_slice(base.get(start..start.checked_add(length)?)?);
        }
        if out.len() > to {
            return None;
        }
    }
    (out.len() == to).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn there_and_back(base: &[u8], target: &[u8]) -> Option<usize> {
        let delta = between(base, target)?;
        assert_eq!(applied(base, &delta, target.len()).as_deref(), Some(target));
        Some(delta.len())
    }

    #[test]
    fn small_changes_are_small() {
        let sheet = "height = 0.75 # in\n".repeat(300);
        let changed = sheet.replacen("0.75", "1.25", 1);
        assert!(there_and_back(sheet.as_bytes(), changed.as_bytes()).unwrap() < 24);
        assert!(there_and_back(sheet.as_bytes(), sheet.as_bytes()).unwrap() < 24);
        let more = format!("{sheet}[run]\n");
        assert!(there_and_back(sheet.as_bytes(), more.as_bytes()).unwrap() < 24);
        assert_eq!(between(b"abc", b"xyz"), None);
        assert!(there_and_back(b"", b"").is_some());
    }

    #[test]
    fn pieces_of_any_length() {
        // 64 kB copied is written as no length at all; more than 16 MB takes two instructions.
        for n in [0xffff, 0x1_0000, 0x1_0001, 0xff_ffff, 0x100_0000, 0x100_0123] {
            let base = vec![7u8; n];
            let mut target = base.clone();
            target.push(1);
            assert!(there_and_back(&base, &target).is_some(), "{n}");
            assert!(there_and_back(&target, &base).is_some(), "{n}");
        }
    }

    #[test]
    fn wrong_instructions_are_refused() {
        let (base, target) = (b"0123456789".repeat(9), b"0123456789".repeat(8));
        let delta = between(&base, &target).unwrap();
        assert_eq!(applied(&target, &delta, 1000), None, "another base");
        assert_eq!(applied(&base, &delta, target.len() - 1), None, "too large");
        for short in 0..delta.len() {
            assert_eq!(applied(&base, &delta[..short], 1000), None, "{short} bytes");
        }
    }

    proptest! {
        #[test]
        fn any_two_texts(a in "[ab]{0,400}", at in 0..400usize, cut in 0..400usize, new in "[abc]{0,200}") {
            let (at, cut) = (at.min(a.len()), cut.min(a.len()));
            let b = format!("{}{new}{}", &a[..at.min(cut)], &a[at.max(cut)..]);
            there_and_back(a.as_bytes(), b.as_bytes());
            there_and_back(b.as_bytes(), a.as_bytes());
        }

        #[test]
        fn any_instructions(base in prop::collection::vec(any::<u8>(), 0..40), delta in prop::collection::vec(any::<u8>(), 0..40)) {
            let made = applied(&base, &delta, 4000);
            prop_assert!(made.is_none_or(|m| m.len() <= 4000));
        }
    }
}
