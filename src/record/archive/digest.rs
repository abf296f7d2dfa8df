//! Digests: of a file, of all that is in a record, and of a record with the one before it.

use sha2::{Digest as _, Sha256};
use std::fmt;
use std::io::Read;

/// A SHA-256 digest (FIPS 180-4).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest([u8; 32]);

impl Digest {
    /// Of these bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// From its 32 bytes.
    pub(super) fn from_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }

    /// All that stand in a text, in order: 64 hexadecimal digits with none beside them, as they are
    /// printed.
    pub fn all_in(text: &str) -> Vec<Self> {
        let words = text.split(|c: char| !c.is_ascii_alphanumeric());
        let digests = words.filter(|word| word.len() == 64);
        digests
            .filter_map(|word| Self::range(&word.to_ascii_lowercase()).map(|(it, _)| it))
            .collect()
    }

    /// Its bytes.
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Its first digits, enough to tell records apart on paper and in a list.
    pub fn short(&self) -> String {
        self.to_string().chars().take(SHORT).collect()
    }

    /// The least and the greatest digest that begin with these hexadecimal digits.
    pub(super) fn range(digits: &str) -> Option<(Self, Self)> {
        let fill = |with: &str| {
            let whole = format!(
                "{digits}{}",
                with.repeat(64_usize.checked_sub(digits.len())?)
            );
            let byte = |at: usize| u8::from_str_radix(whole.get(at * 2..at * 2 + 2)?, 16).ok();
            let bytes: Vec<u8> = (0..32).map(byte).collect::<Option<_>>()?;
            Self::from_bytes(&bytes)
        };
        Some((fill("0")?, fill("f")?))
    }
}

/// Digits of a digest that are shown; 12 of them are 48 bits.
const SHORT: usize = 12;

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const DIGITS: [u8; 16] = *b"0123456789abcdef";
        let digit = |of: u8| char::from(DIGITS[usize::from(of)]);
        let digits = self.0.iter().flat_map(|byte| [byte >> 4, byte & 15]);
        f.write_str(&digits.map(digit).collect::<String>())
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl serde::Serialize for Digest {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Digest {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        let whole = (text.len() == 64).then(|| Self::range(&text)).flatten();
        let (digest, _) = whole.ok_or_else(|| {
            serde::de::Error::custom(format!("read `{text}`, expected 64 hexadecimal digits"))
        })?;
        Ok(digest)
    }
}

/// Bytes that are read once, and not held, with the digest of them all.
pub struct Passing<R> {
    input: R,
    sum: Sha256,
}

impl<R: Read> Passing<R> {
    /// Of what is read from here on.
    pub fn new(input: R) -> Self {
        let sum = Sha256::new();
        Self { input, sum }
    }

    /// The digest of all that there is, what nobody read included.
    ///
    /// # Errors
    /// Where that cannot be read.
    pub fn digest(mut self) -> std::io::Result<Digest> {
        std::io::copy(&mut self, &mut std::io::sink())?;
        Ok(Digest(self.sum.finalize().into()))
    }
}

impl<R: Read> Read for Passing<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.sum.update(&buffer[..count]);
        Ok(count)
    }
}

/// A digest over several values, each told apart from the next by its length.
pub(super) struct Sum(Sha256);

impl Sum {
    /// Begins with what the sum is of, so that no two kinds can be mistaken for each other.
    pub(super) fn of(kind: &str) -> Self {
        Self(Sha256::new()).text(kind)
    }

    /// Adds bytes.
    pub(super) fn bytes(mut self, bytes: &[u8]) -> Self {
        self.0.update((bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
        self
    }

    /// Adds text.
    pub(super) fn text(self, text: &str) -> Self {
        self.bytes(text.as_bytes())
    }

    /// Adds a number.
    pub(super) fn number(self, number: i64) -> Self {
        self.bytes(&number.to_le_bytes())
    }

    /// Adds whether there is one, and it.
    pub(super) fn maybe(self, bytes: Option<&[u8]>) -> Self {
        match bytes {
            Some(bytes) => self.number(1).bytes(bytes),
            None => self.number(0),
        }
    }

    /// The digest of all that was added.
    pub(super) fn finish(self) -> Digest {
        Digest(self.0.finalize().into())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn digests_are_those_of_the_standard() {
        // FIPS 180-4 examples, from the NIST page of secure hash examples: "abc" and no bytes.
        #[track_caller]
        fn check(text: &str, digits: &str) {
            assert_eq!(Digest::of(text.as_bytes()).to_string(), digits);
        }
        check(
            "abc",
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        );
        check(
            "",
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        );
    }

    #[test]
    fn the_first_digits_give_a_range() {
        let digest = Digest::of(b"abc");
        let (least, most) = Digest::range(&digest.short()).unwrap();
        assert!(least < digest && digest < most);
        assert_eq!(Digest::range(&digest.to_string()), Some((digest, digest)));
        for digits in ["xyz", "ä", &"0".repeat(65)] {
            assert_eq!(Digest::range(digits), None, "{digits}");
        }
    }

    #[test]
    fn values_cannot_run_into_each_other() {
        let one = Sum::of("test").text("ab").text("c").finish();
        let other = Sum::of("test").text("a").text("bc").finish();
        assert_ne!(one, other);
        assert_ne!(Sum::of("a").finish(), Sum::of("b").finish());
        let none = Sum::of("a").maybe(None).finish();
        assert_ne!(none, Sum::of("a").maybe(Some(b"")).finish());
    }
}
