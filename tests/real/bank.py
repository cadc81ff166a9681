"""Writes folders of recorded one-shots, renamed in twenty styles, each with what is known of its files beside it.

    bank.py FOLDER [--half tune|kept] [--short]

Makes FOLDER/tune/STYLE and FOLDER/kept/STYLE, with STYLE.json beside each. The same banks give the same folders. All of it:

    apt-get install fluid-soundfont-gm timgm6mb-soundfont musescore-general-soundfont-lossless
    python=$(tests/python)
    $python tests/real/bank.py /tmp/ears
    $python tests/real/ears.py target/release/pressroll /tmp/ears

Without the last of the three banks, which takes 490 MB, there are hardly any strokes of one drum. `--short` takes what continuous
integration has time for: the other two, every second style, one instrument a folder.
"""

import argparse
import json
import random
from pathlib import Path

import numpy
import soundfile

from recordings import HALVES, Material
from styles import SHARPS, STYLES, WRITTEN, Stroke

# One drum in four is left out of a folder, so that no two folders hold the same.
SHARE = 0.75
INSTRUMENTS = 4
# A soft stroke is this much quieter than a hard one. [practice]
SOFTEST_DB = 18
SIZES = {2: ("High", "Low"), 3: ("High", "Mid", "Low"), 4: ("High", "Mid", "Low", "Floor")}
# What a hat that is only called a hat may be taken for: a pedal's chick is a closed hat too.
PLAIN_HATS = {"hat-closed": ["hat-closed"], "hat-open": ["hat-open"], "hat-pedal": ["hat-pedal", "hat-closed"]}


def strongest_note(recording):
    """The note of the strongest partial, as whoever names a tom by ear would have it."""
    sound = recording.sides[0][: round(0.4 * recording.rate)]
    power = numpy.abs(numpy.fft.rfft(sound * numpy.hanning(len(sound)), 1 << 17))
    hz = numpy.fft.rfftfreq(1 << 17, 1 / recording.rate)
    power[(hz < 50) | (hz > 1500)] = 0
    return round(69 + 12 * numpy.log2(hz[power.argmax()] / 440))


class Folder:
    """One style's folder: files with what is known of them."""

    def __init__(self, style, path):
        self.style = style
        self.path = path
        self.files = {}
        self.pairs = []
        self.counts = {}

    def write(self, stem, recording, truth, level=None):
        """Writes a recording in the style's sides, and notes what is known of each file."""
        gain = 10 ** (-SOFTEST_DB / 20 * (1 - level)) if level is not None else 1.0
        sides = [gain * side for side in recording.sides]
        both = len(sides) == 2
        if self.style.sides == "stereo" and both:
            named = [("", numpy.stack(sides, axis=1))]
        elif self.style.sides not in ("stereo", "mono") and both:
            named = list(zip(self.style.sides, sides))
        else:
            named = [("", sides[0])]
        names = []
        for side, sound in named:
            name = f"{stem}{side}.wav"
            if name in self.files:
                raise SystemExit(f"{self.style.title} names two files {name}")
            place = self.path / name
            place.parent.mkdir(parents=True, exist_ok=True)
            soundfile.write(place, sound, recording.rate, subtype=self.style.subtype)
            self.files[name] = truth | {"recording": recording.name}
            names.append(name)
        if len(names) == 2:
            self.pairs.append(names)

    def strike(self, drum, kind, number, size, truth):
        """Writes every stroke of a drum."""
        for take, stroke in enumerate(drum.strokes, 1):
            self.counts[kind] = self.counts.get(kind, 0) + 1
            level = (take - 1) / (len(drum.strokes) - 1) if drum.rising else None
            count, nth = self.counts[kind], sum(self.counts.values())
            told = Stroke(kind, number, size, take, len(drum.strokes), level, count, nth)
            self.write(self.style.name(told), stroke, truth | {"kind": kind, "drum": drum.name}, level)

    def add_drums(self, drums):
        numbers = {}
        for drum in drums:
            kind, pieces = drum.pieces[0], drum.pieces
            if self.style.hats and kind.startswith("hat-"):
                kind, pieces = "hat", PLAIN_HATS[kind]
            numbers[kind] = numbers.get(kind, 0) + 1
            if self.style.one and numbers[kind] > 1:
                continue
            number = 0 if self.style.one else numbers[kind]
            self.strike(drum, kind, number, "", {"pieces": pieces if drum.known else None})

    def add_set(self, of, chance):
        numbers = list(range(1, len(of.drums) + 1))
        notes = [strongest_note(drum.strokes[0]) for drum in of.drums]
        sizes = [""] * len(of.drums)
        if self.style.sets == "sizes" and len(of.drums) in SIZES:
            sizes = SIZES[len(of.drums)]
        elif self.style.sets == "notes" and len(set(notes)) == len(notes):
            sizes = [f"{SHARPS[note % 12]}{note // 12 - 5 + self.style.middle}" for note in notes]
        if self.style.sets != "numbers":
            chance.shuffle(numbers)
        members = sorted(zip(numbers, of.drums, sizes, of.ranks), key=lambda member: member[0])
        for number, drum, size, rank in members:
            self.strike(drum, of.family, number, size, {"pieces": None, "set": of.name, "rank": rank})

    def add_instrument(self, instrument):
        for recording, root in instrument.zones:
            written = WRITTEN.get(instrument.name, 0) if self.style.written else 0
            stem = self.style.note(instrument.name, round(root) + written, self.style.middle)
            self.write(stem, recording, {"pieces": None, "instrument": instrument.name, "root": root})


def make(style, path, material, turn, instruments):
    """Writes one style's folder and what is known of it."""
    drums, sets, notes = material
    chance = random.Random(f"{style.title} {path.parent.name}")
    folder = Folder(style, path)
    drums = [drum for drum in drums if chance.random() < SHARE]
    chance.shuffle(drums)
    folder.add_drums(drums)
    families = {}
    for of in sets:
        families.setdefault(of.family, []).append(of)
    for family in families.values():
        folder.add_set(chance.choice(family), chance)
    for at in range(instruments):
        folder.add_instrument(notes[(turn * instruments + at) % len(notes)])
    known = {"style": style.title, "files": folder.files, "pairs": folder.pairs}
    path.with_suffix(".json").write_text(json.dumps(known, indent=1))
    return len(folder.files)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--half", choices=HALVES)
    arguments.add_argument("--short", action="store_true")
    asked = arguments.parse_args()
    material = Material(marching=not asked.short)
    for half in [asked.half] if asked.half else HALVES:
        total = 0
        for turn, style in enumerate(STYLES):
            if not asked.short or turn % 2 == 0:
                instruments = 1 if asked.short else INSTRUMENTS
                total += make(style, asked.folder / half / style.title, material.half(half), turn, instruments)
        print(f"{half}: {total} files")


if __name__ == "__main__":
    main()
