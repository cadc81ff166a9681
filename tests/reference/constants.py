"""Recomputes constants that the code and its tests state, with libraries from outside, and finds them in the source.

Each row: the file, the number as it stands there, what a library gives, how far the two may lie apart. A row fails where the
file no longer says the number, or where the library gives another.
"""
import hashlib
import pathlib
import re
import sys

import mido
import music21
import numpy as np
import pretty_midi
import pyloudnorm
from scipy import optimize, signal, special

HERE = pathlib.Path(__file__).resolve().parents[2]


def k_weighting():
    """BS.1770's two sections at 48 kHz, by pyloudnorm's parameters of the same filters."""
    filters = pyloudnorm.Meter(48_000, filter_class="DeMan")._filters
    shelf, high_pass = filters["high_shelf_DeMan"], filters["high_pass_DeMan"]
    return [*shelf.b, *shelf.a[1:]], [*high_pass.b, *high_pass.a[1:]]


def bar_modes():
    """A free bar bends where cos(x)·cosh(x) = 1; its frequencies go with x squared."""
    roots = [optimize.brentq(lambda x: np.cos(x) - 1 / np.cosh(x), n * np.pi, (n + 1) * np.pi) for n in (1, 2, 3, 4)]
    return [(root / roots[0]) ** 2 for root in roots]


def tempo(bpm):
    """The bytes of a tempo event."""
    return bytes(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)).bytes())


def quantity(number):
    """A variable-length quantity, from the delta time of a written track."""
    return bytes(mido.midifiles.meta.encode_variable_int(number))


shelf, high_pass = k_weighting()
modes = bar_modes()
SKIN = {"1.594": (1, 1), "2.136": (2, 1), "2.296": (0, 2), "2.653": (3, 1), "2.918": (1, 2), "3.156": (4, 1), "3.501": (2, 2),
        "3.600": (0, 3), "3.652": (5, 1), "4.060": (3, 2), "4.154": (6, 1)}
ROWS = [
    *[("kits/make/skins.rs", text, special.jn_zeros(lines, nth)[-1] / special.jn_zeros(0, 1)[0], 0.006 * float(text))
      for text, (lines, nth) in SKIN.items()],
    ("kits/make/small.rs", "2.756", modes[1], 1e-3),
    ("kits/make/small.rs", "5.404", modes[2], 1e-3),
    ("kits/make/shed.rs", "8.933", modes[3], 1e-3),
    ("src/base/windowed_sinc.rs", "1.266_065_877_8", special.i0(1), 1e-9),
    ("src/base/windowed_sinc.rs", "27.239_871_823", special.i0(5), 1e-8),
    ("src/base/windowed_sinc.rs", "0.1102·(A - 8.7)", signal.kaiser_beta(80.0) / (80.0 - 8.7), 1e-9),
    ("src/measure/bands.rs", "31.5", 1000 * 10 ** (0.3 * -5), 0.3),
    ("src/measure/bands.rs", "16_000.0", 1000 * 10 ** (0.3 * 4), 160),
    ("src/harmony/note.rs", "261.6256", music21.pitch.Pitch("C4").frequency, 1e-4),
    ("src/harmony/note.rs", "41.2034", music21.pitch.Pitch("E1").frequency, 1e-4),
    ("src/harmony/note.rs", "4186.009", music21.pitch.Pitch("C8").frequency, 1e-3),
    *[("src/measure/k_weighting.rs", text, value, 1e-8) for text, value in zip(
        ["1.535_124_859_586_97", "-2.691_696_189_406_38", "1.198_392_810_852_85", "-1.690_659_293_182_41",
         "0.732_480_774_215_85"], shelf)],
    *[("src/measure/k_weighting.rs", text, value, 1e-8) for text, value in zip(
        ["-1.990_047_454_833_98", "0.990_072_250_366_21"], high_pass[3:])],
]

TEXTS = [
    ("src/kit/folder/credit.rs", hashlib.sha256(b"abc").hexdigest()),
    ("src/kit/folder/credit.rs", hashlib.sha256(b"").hexdigest()),
    ("tests/credits.rs", hashlib.sha256(b"abc").hexdigest()),
    ("tests/midi.rs", "".join(f"\\x{byte:02X}" for byte in tempo(120))),
    ("tests/midi.rs", "(0x2000, &[" + ", ".join(f"0x{byte:02X}" for byte in quantity(0x2000)) + "])"),
]


def number(text):
    """A number as Rust writes it, or as it opens a formula."""
    return float(text.replace("_", "").split("·")[0])


def percussion():
    """General MIDI Level 1's percussion keys, as pretty_midi names them."""
    source = (HERE / "src/midi/percussion.rs").read_text()
    words = {"Bass Drum": "kick", "Side Stick": "side-stick", "Snare": "snare", "Clap": "clap", "Closed Hi Hat": "hat-closed",
             "Pedal Hi Hat": "hat-pedal", "Open Hi Hat": "hat-open", "Crash": "crash", "Chinese": "china", "Splash": "splash",
             "Ride Bell": "ride-bell", "Tambourine": "tambourine", "Cowbell": "cowbell", "Cabasa": "cabasa",
             "Maracas": "maracas", "Claves": "claves"}
    wrong = []
    for key in range(35, 82):
        name = pretty_midi.note_number_to_drum_name(key)
        piece = next((piece for word, piece in words.items() if name.startswith(word) or word in name), None)
        line = next((line for line in source.splitlines() if line.strip().startswith(f"({key}, ")), "")
        if piece and piece not in line:
            wrong.append(f"key {key} is {name}, the source has {line.strip()}")
    return wrong


def programs():
    """General MIDI Level 1's sounds, as pretty_midi names them, for the words that ask for them."""
    source = (HERE / "src/midi/program.rs").read_text()
    rows = re.findall(r"\(&\[([^\]]*)\], (\d+)\)", source)
    wrong = [] if len(rows) > 60 else ["src/midi/program.rs has no table of programs"]
    # What the trade calls by other words than the set does.
    other = {"steelpan": "Steel Drums", "steel pan": "Steel Drums", "sub": "Synth Bass 1", "vibes": "Vibraphone", "glock": "Glockenspiel",
             "double bass": "Acoustic Bass", "upright bass": "Acoustic Bass", "contrabass": "Contrabass", "bass": "Electric Bass",
             "clavinet": "Clavinet", "epiano": "Electric Piano", "keys": "Electric Piano", "pipe organ": "Church Organ",
             "organ": "Organ", "nylon": "Acoustic Guitar (nylon)", "acoustic guitar": "Acoustic Guitar (steel)",
             "guitar": "Electric Guitar (clean)", "gtr": "Electric Guitar (clean)", "harp": "Harp", "sax": "Sax",
             "saxophone": "Sax", "choir": "Choir", "vox": "Voice", "vocal": "Voice", "voice": "Voice", "bell": "Bells",
             "lead": "Lead 2", "pad": "Pad 2", "synth": "Lead 2", "dulcimer": "Dulcimer", "string": "String Ensemble",
             "synth string": "Synth Strings", "tubular": "Tubular", "pizzicato": "Pizzicato"}
    for words, number in rows:
        words = " ".join(re.findall(r'"([^"]*)"', words))
        name = pretty_midi.program_to_instrument_name(int(number) - 1)
        wanted = other.get(words, words)
        if not all(word.lower() in name.lower().replace("(", " ") for word in wanted.replace("(", " ").split()):
            wrong.append(f"program {number} is {name}, the source has {words}")
    return wrong


def main():
    wrong = percussion() + programs()
    for file, text, value, close in ROWS:
        if text not in (HERE / file).read_text():
            wrong.append(f"{file} no longer says {text}")
        elif abs(number(text) - value) > close:
            wrong.append(f"{file} says {text}, it is {value}")
    for file, text in TEXTS:
        if text not in (HERE / file).read_text():
            wrong.append(f"{file} does not say {text}")
    print("\n".join(wrong) or f"{len(ROWS) + len(TEXTS)} constants, 47 percussion keys and all programs are as libraries give them")
    sys.exit(bool(wrong))


main()
