//! Short stable names: a hash of what makes a thing what it is.

use std::fmt;

/// Eleven characters behind a letter: `m-5k2q…`. Two runs over the same data give the same ids.
///
/// 55 bits: among a million marks the chance that any two collide is about 1 in 70,000 (birthday bound n²/2^56).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(u64);

impl Id {
    /// Names a thing of the class that `letter` stands for (`m` mark, `s` sighting, `a` area, `t` track) by its parts.
    /// Parts are told apart: `["ab", "c"]` and `["a", "bc"]` get different ids.
    #[must_use]
    pub fn of(letter: char, parts: &[&str]) -> Self {
        // FNV-1a, 64 bit (Fowler, Noll, Vo; offset basis and prime as in draft-eastlake-fnv): stable over
        // releases and machines, which std's hashers do not promise.
        let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
        let mut eat = |byte: u8| {
            hash ^= u64::from(byte);
            hash = hash.wrapping_mul(0x0100_0000_01b3);
        };
        for part in parts {
            part.bytes().for_each(&mut eat);
            eat(0xff); // no UTF-8 text holds this byte
        }
        // FNV leaves the high bits of short inputs poorly mixed; one multiply-xorshift round (as in the
        // 64-bit finaliser of MurmurHash3) spreads them.
        hash ^= hash >> 33;
        hash = hash.wrapping_mul(0xff51_afd7_ed55_8ccd);
        hash ^= hash >> 33;
        // The letter in the highest byte: ids of a class stand together, and eight bytes are enough.
        Self(u64::from(letter as u8) << 56 | hash >> 9)
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Crockford's base 32 alphabet: no i, l, o, u, so an id read aloud or from wet paper is not misread.
        const ALPHABET: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
        write!(f, "{}-", char::from((self.0 >> 56) as u8))?;
        for step in (0..11).rev() {
            let digit = (self.0 >> (5 * step)) & 31;
            write!(f, "{}", char::from(ALPHABET[digit as usize]))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_told_apart_and_the_letter_leads() {
        assert_ne!(Id::of('m', &["ab", "c"]), Id::of('m', &["a", "bc"]));
        let text = Id::of('m', &["35.1", "-94.2", "BAIT"]).to_string();
        assert!(text.starts_with("m-") && text.len() == 13, "{text}");
    }
}
