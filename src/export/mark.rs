//! The mark of pressroll: every file that it writes says so, each format in its own way, and by that is known as one that
//! may be replaced.
//!
//! | format | where the mark stands |
//! | --- | --- |
//! | WAV | `ISFT` of its `LIST INFO` (software: RIFF specification, 1991) |
//! | MIDI | a text event, FF 01, in the first track (Standard MIDI Files 1.0) |
//! | FLAC | the vendor of its comments (RFC 9639, 8.6) |
//! | MP3 | `TSSE`, the software, of its ID3 tag (ID3v2.4.0, 4.2.5) |
//! | ZIP | the second line of its first file |
//! | PNG | a `tEXt` chunk of the keyword `Software` (PNG specification, W3C, 11.3.3) |
//! | SVG | a comment behind its first tag |
//! | HTML | `<meta name="generator">` (HTML Living Standard, 4.2.5.1) |
//! | MusicXML | `software`, in `encoding` (MusicXML 4.0) |
//! | credits | the end of the second line |
//! | TOML of hits and notes | a comment in the first line, with a sum of the rest: text is there to be edited, and what was edited is the person's |

use std::io::Cursor;
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::files::{self, LONGEST_TEXT, Refused};
use crate::midi;
use crate::wav;

/// What made a file: the program and its version.
pub(crate) const MADE_BY: &str = concat!("pressroll ", env!("CARGO_PKG_VERSION"));
/// How every mark begins, whatever the version.
const NAME: &str = "pressroll ";
/// The bytes of a file that are read to find its mark. All formats have it at their beginning.
const LOOK: u64 = 1 << 16;
/// How a sealed text begins.
const SEAL: &str = "# pressroll ";
/// Digits of the sum in a seal: 64 bits.
const DIGITS: usize = 16;

/// Whose a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Whose {
    /// It carries the mark.
    Ours,
    /// It carried the mark, and was edited since.
    Edited,
    /// It carries no mark.
    Theirs,
}

/// Tells by its mark whose a file is. Reads 64 KiB of it; of a sealed text, all of it, up to 4 MiB.
///
/// # Errors
/// When it can't be read.
pub(crate) fn whose(path: &Path) -> Result<Whose, Refused> {
    let head = files::start(path, LOOK)?;
    let ours = match head.as_slice() {
        [b'R', b'I', b'F', b'F', ..] => {
            let said = wav::head_from(Cursor::new(&head)).ok();
            said.is_some_and(|said| said.tag(b"ISFT").is_some_and(is_mark))
        }
        [b'M', b'T', b'h', b'd', ..] => midi::remark(&head).is_some_and(|text| is_mark(&text)),
        #[cfg(feature = "pages")]
        [b'f', b'L', b'a', b'C', ..] => super::flac::vendor(&head).is_some_and(|vendor| is_mark(&vendor)),
        [b'P', b'K', 3, 4, ..] => holds(&head, &format!(", rendered by {NAME}")),
        [b'I', b'D', b'3', ..] => holds(&head, "TSSE") && holds(&head, NAME),
        [0x89, b'P', b'N', b'G', ..] => holds(&head, &format!("tEXtSoftware\0{NAME}")),
        [b'<', b's', b'v', b'g', ..] => holds(&head, &format!("><!-- {NAME}")),
        [b'<', b'?', ..] => holds(&head, &format!("<software>{NAME}")),
        [b'<', b'!', ..] => holds(&head, &format!("<meta name=\"generator\" content=\"{NAME}")),
        text if text.starts_with(SEAL.as_bytes()) => return Ok(sealed(&files::read(path, LONGEST_TEXT)?)),
        text => credits(text),
    };
    Ok(if ours { Whose::Ours } else { Whose::Theirs })
}

/// The line that seals a text of TOML, which follows it.
pub(crate) fn seal(text: &str) -> String {
    format!(
        "# {MADE_BY}, {}: once it is edited, this file is replaced only with --force\n",
        sum(text.as_bytes())
    )
}

fn sealed(bytes: &[u8]) -> Whose {
    let line = bytes.iter().position(|byte| *byte == b'\n').unwrap_or(bytes.len());
    let (line, text) = bytes.split_at(line);
    let line = String::from_utf8_lossy(line);
    match line.split(", ").nth(1).and_then(|sum| sum.get(..DIGITS)) {
        Some(told) if told == sum(text.get(1..).unwrap_or(&[])) => Whose::Ours,
        Some(_) => Whose::Edited,
        None => Whose::Theirs,
    }
}

fn sum(bytes: &[u8]) -> String {
    let sum = Sha256::digest(bytes);
    sum[..DIGITS / 2].iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Credits say in their second line what rendered the mix.
fn credits(head: &[u8]) -> bool {
    let text = String::from_utf8_lossy(head);
    let line = text.lines().nth(1).unwrap_or("");
    line.rsplit_once(", rendered by ").is_some_and(|(_, by)| is_mark(by))
}

fn is_mark(text: &str) -> bool {
    text.starts_with(NAME)
}

fn holds(bytes: &[u8], mark: &str) -> bool {
    bytes.windows(mark.len()).any(|some| some == mark.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whose_is(bytes: &[u8]) -> Whose {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        std::fs::write(&path, bytes).unwrap();
        whose(&path).unwrap()
    }

    #[test]
    fn what_has_no_mark_is_a_persons() {
        let strange: [&[u8]; 10] = [
            b"",
            b"RIFF",
            b"RIFF\x04\0\0\0WAVE",
            b"MThd",
            b"\x89PNG\r\n\x1a\n",
            b"<svg xmlns=\"http://www.w3.org/2000/svg\"><title>pressroll 1</title></svg>",
            b"<?xml version=\"1.0\"?><score-partwise><work-title>pressroll 1</work-title></score-partwise>",
            b"<!doctype html><title>pressroll 1</title>",
            b"Quay\nrendered by hand",
            b"# pressroll is what I like\n[loop]\n",
        ];
        for bytes in strange {
            assert_eq!(whose_is(bytes), Whose::Theirs, "{}", String::from_utf8_lossy(bytes));
        }
    }

    #[test]
    fn a_sealed_text_is_ours_until_it_is_edited() {
        let text = "[[part]]\nname = \"kick\"\n";
        let page = seal(text) + text;
        assert_eq!(whose_is(page.as_bytes()), Whose::Ours);
        assert_eq!(whose_is(page.replace("kick", "snare").as_bytes()), Whose::Edited);
        assert_eq!(whose_is(text.as_bytes()), Whose::Theirs);
    }
}
