"""Chord symbols as a general music-theory library spells them, kept as JSON beside this script.

    chords.py write     spells and writes them
    chords.py check     spells and compares them with what is kept

Each symbol is written twice: as a lead sheet has it, and as music21 reads it. Spellings are the names of the tones, sorted
by degree above the root; `bass` is the lowest. A thirteenth over a major third leaves the eleventh that the library stacks
out [practice], so it is asked for with `omit11`.
"""

import json
import sys
from pathlib import Path

from music21 import harmony

HERE = Path(__file__).resolve().parent
ROOTS = "C C# D Eb E F F# G Ab A Bb B".split()

# Behind the root: as a lead sheet has it, as music21 reads it. On all twelve roots.
KINDS = [
    ("", ""),
    ("m", "m"),
    ("7", "7"),
    ("maj7", "maj7"),
    ("m7", "m7"),
    ("6", "6"),
    ("dim", "dim"),
    ("dim7", "dim7"),
    ("m7b5", "m7b5"),
    ("aug", "aug"),
    ("sus4", "sus4"),
    ("9", "9"),
]

# On one root each, the roots going round.
REST = [
    ("M7", "M7"),
    ("Δ", "M7"),
    ("Δ7", "M7"),
    ("min", "min"),
    ("-", "m"),
    ("-7", "m7"),
    ("min7", "min7"),
    ("m6", "m6"),
    ("6/9", "6add9"),
    ("m6/9", "m6add9"),
    ("11", "11"),
    ("13", "13omit11"),
    ("m9", "m9"),
    ("m11", "m11"),
    ("m13", "m13"),
    ("maj9", "M9"),
    ("Δ9", "M9"),
    ("maj11", "M11"),
    ("maj13", "M13omit11"),
    ("sus2", "sus2"),
    ("sus", "sus"),
    ("7sus4", "7sus4"),
    ("7sus", "7sus"),
    ("add9", "add9"),
    ("madd9", "madd9"),
    ("add11", "add11"),
    ("add2", "add2"),
    ("add4", "add4"),
    ("°", "dim"),
    ("°7", "dim7"),
    ("o7", "o7"),
    ("dim9", "dim9"),
    ("ø", "ø7"),
    ("ø7", "ø7"),
    ("ø9", "ø9"),
    ("+", "+"),
    ("+7", "+7"),
    ("7+", "7+"),
    ("aug7", "aug7"),
    ("+9", "+9"),
    ("+maj7", "+M7"),
    ("mM7", "mM7"),
    ("mMaj7", "mM7"),
    ("m(maj7)", "mM7"),
    ("-Δ7", "mM7"),
    ("mMaj9", "mM9"),
    ("7b5", "7b5"),
    ("7#5", "7#5"),
    ("7b9", "7b9"),
    ("7#9", "7#9"),
    ("7#11", "7#11"),
    ("7b13", "7b13"),
    ("9#11", "9#11"),
    ("9b5", "9b5"),
    ("9#5", "9#5"),
    ("m9b5", "m9b5"),
    ("7b9b13", "7b9b13"),
    ("7(b9,b13)", "7b9b13"),
    ("7#5#9", "7#5#9"),
    ("7(#9#5)", "7#9#5"),
    ("7b9#11", "7b9#11"),
    ("7b5b9", "7b5b9"),
    ("maj7#11", "maj7#11"),
    ("maj7#5", "M7#5"),
    ("maj7b5", "M7b5"),
    ("m7add11", "m7add11"),
    ("7add13", "7add13"),
    ("7no3", "7omit3"),
    ("no5", "omit5"),
    ("maj7no5", "M7omit5"),
    ("5", "power"),
]

SLASHES = ["C/E", "G/B", "F/G", "Am/G", "Dm7/C", "Bb/D", "Eb/G", "F#m7/E", "Abmaj7/C", "D7/F#", "A/C#", "Bbm7/Ab"]

DOUBLED = ["Cb", "E#", "B#", "F##", "Ebb", "G##m7", "Abbmaj7", "Bbbm7", "D#9", "A#m7b5", "Fbdim7", "E#m"]


def theirs(name):
    """A lead sheet's note name as music21 writes it: a minus for a flat."""
    return name[0] + name[1:].replace("b", "-")


def ours(pitch):
    return pitch.name.replace("-", "b")


def spelled(lead_sheet, library):
    chord = harmony.ChordSymbol(library)
    root = chord.root()
    step = "CDEFGAB".index(root.step)
    tones = sorted({ours(p) for p in chord.pitches}, key=lambda name: (("CDEFGAB".index(name[0]) - step) % 7, name))
    return {"symbol": lead_sheet, "root": ours(root), "bass": ours(chord.bass()), "tones": tones}


def split(symbol):
    end = 1
    while end < len(symbol) and symbol[end] in "b#":
        end += 1
    return symbol[:end], symbol[end:]


def slashed(symbol):
    chord, bass = symbol.split("/")
    root, kind = split(chord)
    return f"{theirs(root)}{kind}/{theirs(bass)}"


def compute():
    chords = [spelled(root + mine, theirs(root) + library) for mine, library in KINDS for root in ROOTS]
    for at, (mine, library) in enumerate(REST):
        # Seven steps round the roots, so that neighbours in the list do not share one.
        root = ROOTS[at * 7 % 12]
        chords.append(spelled(root + mine, theirs(root) + library))
    for symbol in DOUBLED:
        root, kind = split(symbol)
        chords.append(spelled(symbol, theirs(root) + kind))
    chords.extend(spelled(symbol, slashed(symbol)) for symbol in SLASHES)
    return chords


def written(chords):
    lines = ",\n".join("  " + json.dumps(chord, ensure_ascii=False) for chord in chords)
    return f'{{"library": "music21 10.5.1", "chords": [\n{lines}\n]}}\n'


def main():
    kept = HERE / "chords.json"
    text = written(compute())
    if sys.argv[1:] == ["write"]:
        kept.write_text(text, encoding="utf-8")
    elif sys.argv[1:] == ["check"]:
        if kept.read_text(encoding="utf-8") != text:
            sys.exit("chords.json differs from what music21 spells now")
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
