//! Keys that sign checkpoints and check the signatures: Ed25519 (RFC 8032).

use std::fmt;
use std::str::FromStr;

use ed25519_compact::{KeyPair, PublicKey, Seed, Signature};

/// A public key, written as 64 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Key(pub [u8; 32]);

/// A key that signs; whoever has it can sign.
pub struct SecretKey(KeyPair);

/// What is wrong with the text of a checkpoint or a key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NotACheckpoint(pub(super) String);

impl SecretKey {
    /// Makes the key of 32 random bytes.
    pub fn of(random: [u8; 32]) -> Self {
        Self(KeyPair::from_seed(Seed::new(random)))
    }

    /// Returns its signature of a text.
    pub(super) fn sign(&self, text: &str) -> [u8; 64] {
        *self.0.sk.sign(text, None)
    }

    /// Returns the key that checks its signatures.
    pub fn public(&self) -> Key {
        Key(*self.0.pk)
    }

    /// Returns the text under which it is kept.
    pub fn text(&self) -> String {
        format!("celltriage secret key 1\n{}\n", hexadecimal(&*self.0.sk.seed()))
    }

    /// Reads that text.
    pub fn read(text: &str) -> Result<Self, NotACheckpoint> {
        let mut lines = text.lines().map(str::trim);
        let seed = (lines.next() == Some("celltriage secret key 1"))
            .then(|| lines.next().and_then(bytes_of))
            .flatten();
        seed.map(Self::of).ok_or_else(|| NotACheckpoint("this file holds no secret key".to_owned()))
    }
}

impl fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SecretKey of {}", self.public())
    }
}

impl Key {
    /// Returns whether a signature of a text is that of this key.
    pub(super) fn signed(&self, text: &str, signature: &[u8; 64]) -> bool {
        PublicKey::new(self.0).verify(text, &Signature::new(*signature)).is_ok()
    }
}

impl FromStr for Key {
    type Err = NotACheckpoint;

    fn from_str(text: &str) -> Result<Self, NotACheckpoint> {
        let wrong = || NotACheckpoint("a public key is written as 64 hexadecimal digits".to_owned());
        bytes_of(text).map(Self).ok_or_else(wrong)
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hexadecimal(&self.0))
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Key({self})")
    }
}

pub(super) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

pub(super) fn bytes_of<const N: usize>(text: &str) -> Option<[u8; N]> {
    let digits: Vec<u32> = text.chars().map(|letter| letter.to_digit(16)).collect::<Option<_>>()?;
    let pairs = digits.chunks_exact(2);
    let whole = pairs.remainder().is_empty();
    let bytes: Vec<u8> =
        pairs.map(|pair| pair.iter().fold(0, |byte, digit| byte * 16 + digit) as u8).collect();
    bytes.try_into().ok().filter(|_| whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_signature_is_that_of_the_standard() {
        // RFC 8032, section 7.1, test 1 (empty message): secret key, public key, signature.
        let seed = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
        let public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
        let expected = "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b\
                        d25bf5f0595bbe24655141438e7a100b";
        let key = SecretKey::of(bytes_of(seed).unwrap());
        assert_eq!(key.public().to_string(), public);
        assert_eq!(hexadecimal(&*key.0.sk.sign([], None)), expected);
        assert_eq!(SecretKey::read(&key.text()).unwrap().public(), key.public());
    }
}
