//! The token: what a browser has to show before the bench tells or does anything.

use crate::error::{Code, Error, Result};
use rand::TryRngCore;
use rand::rngs::OsRng;
use std::fmt;
use std::sync::Arc;

/// Digits of a token that is drawn: as many as nobody guesses.
const DRAWN_DIGITS: usize = 24;

/// A secret that stands in an address and in a cookie as it is, and is never shown otherwise.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(Arc<str>);

impl Token {
    /// One that nobody knew before.
    ///
    /// # Errors
    /// `internal` where the system has no random numbers.
    pub fn drawn() -> Result<Self> {
        const DIGITS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
        let mut bytes = [0; DRAWN_DIGITS];
        OsRng.try_fill_bytes(&mut bytes).map_err(|fault| {
            Error::internal("no random numbers can be had", fault)
                .help("give a token of your own with `HEELCLEAR_TOKEN`")
        })?;
        let digits = bytes.iter().map(|byte| DIGITS[usize::from(byte % 32)]);
        let digits: String = digits.map(char::from).collect();
        Ok(Self(digits.into()))
    }

    /// One that a person chose.
    ///
    /// # Errors
    /// `usage` where it is too short, or has signs that an address or a cookie cannot have.
    pub fn given(text: &str) -> Result<Self> {
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_".contains(c);
        if (8..=200).contains(&text.len()) && text.chars().all(plain) {
            return Ok(Self(text.into()));
        }
        Err(Error::new(
            Code::Usage,
            "read a token that cannot be used, expected 8 to 200 letters, digits, `-` or `_`",
        ))
    }

    /// The secret itself, for the address that is told to the person.
    pub fn secret(&self) -> &str {
        &self.0
    }

    /// Whether this is the secret. Takes as long whatever is wrong, so that no one can feel their way
    /// to it.
    pub(super) fn is(&self, shown: &[u8]) -> bool {
        let own = self.0.as_bytes();
        let differ = shown.iter().zip(own).fold(0, |all, (a, b)| all | (a ^ b));
        shown.len() == own.len() && differ == 0
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Token(…)")
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_secret_is_the_same_only_whole() {
        let token = Token::given("oil-on-hand").unwrap();
        assert!(token.is(b"oil-on-hand"));
        for other in ["", "oil-on-han", "oil-on-hands", "oil-on-hanD"] {
            assert!(!token.is(other.as_bytes()), "{other}");
        }
    }

    #[test]
    fn one_that_is_drawn_is_another_each_time_and_could_be_given() {
        let (one, other) = (Token::drawn().unwrap(), Token::drawn().unwrap());
        assert_ne!(one, other);
        assert_eq!(Token::given(one.secret()).unwrap(), one);
    }

    #[test]
    fn it_is_not_shown_where_settings_are_printed() {
        let token = Token::given("oil-on-the-hand").unwrap();
        assert!(!format!("{token:?}").contains("oil"));
    }

    #[test]
    fn what_an_address_cannot_hold_is_no_token() {
        for bad in [
            "",
            "short",
            "has a space",
            "semi;colon",
            "ampers&and",
            "ümlaute-",
        ] {
            assert!(Token::given(bad).is_err(), "{bad}");
        }
    }
}
