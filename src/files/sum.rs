//! Sums of files, by which their bytes are known again.

use std::io::{self, BufReader};
use std::path::Path;

use sha2::{Digest, Sha256};

use super::{LONGEST, Refused, open};

/// SHA-256 of a file's bytes in hexadecimal.
///
/// # Errors
/// As [`open`].
pub(crate) fn sha256(path: &Path) -> Result<String, Refused> {
    let mut bytes = BufReader::new(open(path, LONGEST)?);
    let mut sum = Summed(Sha256::new());
    io::copy(&mut bytes, &mut sum)?;
    Ok(hexadecimal(&sum.0.finalize()))
}

/// Bytes in hexadecimal.
pub(crate) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Where bytes go to be summed.
struct Summed(Sha256);

impl io::Write for Summed {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
