//! A set of finding codes, as a mark carries the repairs made on it.

use crate::terms::finding::Code;

/// Bits of a word of the set.
const BITS: usize = u64::BITS as usize;

/// Codes, each once, in the order of the run; 16 bytes and no allocation, because a log holds a million of these.
///
/// ```
/// use shoalwright::terms::codes::Codes;
/// use shoalwright::terms::finding::Code;
///
/// let codes: Codes = [Code::ClockNoZone, Code::PositionSign, Code::ClockNoZone].into_iter().collect();
/// assert_eq!(codes.iter().collect::<Vec<_>>(), [Code::PositionSign, Code::ClockNoZone]);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Codes([u64; 2]);

const _: () = assert!(Code::ALL.len() <= 2 * BITS, "the set has a bit for each code");

impl Codes {
    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0[0] == 0 && self.0[1] == 0
    }

    /// How many there are.
    #[must_use]
    pub const fn len(self) -> usize {
        (self.0[0].count_ones() + self.0[1].count_ones()) as usize
    }

    /// Adds one.
    pub const fn insert(&mut self, code: Code) {
        self.0[code as usize / BITS] |= 1 << (code as usize % BITS);
    }

    /// Whether it is there.
    #[must_use]
    pub const fn contains(self, code: Code) -> bool {
        self.0[code as usize / BITS] & (1 << (code as usize % BITS)) != 0
    }

    /// The codes in the order of the run.
    pub fn iter(self) -> impl Iterator<Item = Code> {
        Code::ALL.iter().copied().filter(move |code| self.contains(*code))
    }
}

impl Extend<Code> for Codes {
    fn extend<T: IntoIterator<Item = Code>>(&mut self, codes: T) {
        codes.into_iter().for_each(|code| self.insert(code));
    }
}

impl FromIterator<Code> for Codes {
    fn from_iter<T: IntoIterator<Item = Code>>(codes: T) -> Self {
        let mut set = Self::default();
        set.extend(codes);
        set
    }
}

impl<const N: usize> PartialEq<[Code; N]> for Codes {
    fn eq(&self, codes: &[Code; N]) -> bool {
        *self == Self::from(*codes)
    }
}

impl<const N: usize> From<[Code; N]> for Codes {
    fn from(codes: [Code; N]) -> Self {
        codes.into_iter().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_goes_in_and_comes_out() {
        for code in Code::ALL {
            assert_eq!(Codes::from([*code]).iter().collect::<Vec<_>>(), [*code]);
        }
        let all: Codes = Code::ALL.iter().copied().collect();
        assert_eq!((all.len(), Codes::default().len()), (Code::ALL.len(), 0));
        assert!(Codes::default().is_empty() && !all.is_empty());
    }
}
