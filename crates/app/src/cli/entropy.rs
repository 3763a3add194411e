//! What must not be guessed, drawn from the system: tokens, ids and the coach's key.

use super::exit::Failure;

/// Random bytes of a token.
const TOKEN_BYTES: usize = 20;

/// A token of 160 random bits in hexadecimal digits.
pub(crate) fn token() -> Result<String, Failure> {
    let bytes: [u8; TOKEN_BYTES] = random()?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Random bytes from the system.
pub(crate) fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes)
        .map_err(|error| Failure::Files(format!("the system gives no random numbers: {error}")))?;
    Ok(bytes)
}
