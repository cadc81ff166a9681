"""Lets pressroll find loop points in recorded instruments, and holds them against what is known of the instruments.

    loops.py PRESSROLL FOLDER

What is bowed, blown or held gets loops that are heard on without a jump; what is struck or plucked gets none.
"""

import logging
import re
import subprocess
import sys
from pathlib import Path

import numpy
import oneshots
import soundfile
from sf2utils.sf2parse import Sf2File

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
# Presets of General MIDI 1, by their numbers from 0.
SUSTAINED = {"accordion": 21, "cello": 42, "choir": 52, "church-organ": 19, "clarinet": 71, "flute": 73, "horn": 60,
             "oboe": 68, "organ": 16, "sax": 65, "strings": 48, "trumpet": 56, "violin": 40}
DYING = {"banjo": 105, "bass": 32, "epiano": 4, "glockenspiel": 9, "guitar": 24, "harp": 46, "harpsichord": 6,
         "marimba": 12, "piano": 0, "pizzicato": 45, "vibraphone": 11}
KEYS = (48, 60, 72)
# A recording has to be so long, in seconds, for a steady part and a loop in it.
LONG = 0.5
# Of those that are, so many have loops at least.
FOUND = 0.7
NOTES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]


def write(folder, instruments):
    """Every recording that the presets have at some keys, its loop left out: names, and which are long enough."""
    long = {}
    with SOUNDFONT.open("rb") as file:
        presets = {(p.bank, p.preset): p for p in Sf2File(file).presets if p.name != "EOP"}
        for name, number in instruments.items():
            for key in KEYS:
                try:
                    sample, root = oneshots.zone_of(presets[0, number], key)
                except SystemExit:
                    continue
                sound = numpy.frombuffer(sample.raw_sample_data, dtype="<i2")
                note = round(root)
                file = f"{name}_{NOTES[note % 12]}{note // 12 - 1}.wav"
                soundfile.write(folder / file, sound, sample.sample_rate, subtype="PCM_16")
                long[file] = len(sound) / sample.sample_rate >= LONG
    return long


def looped(pressroll, folder):
    """Writes kit.toml, and gives the files with the loops that were found: start, end, crossfade in ms."""
    command = [pressroll, "kit", folder, "--write", "--sustain"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    text = (folder / "kit.toml").read_text()
    found = {}
    for piece in text.split("[[piece]]")[1:]:
        for point in re.finditer(r"sustain = \[(\d+), (\d+)\],?\s*crossfade = (\d+)", piece):
            file = re.findall(r'"([^"]+\.wav)"', piece[: point.start()])[-1]
            found[file] = tuple(int(figure) for figure in point.groups())
    return found


def main(pressroll, folder):
    logging.disable(logging.CRITICAL)
    for name, instruments in (("sustained", SUSTAINED), ("dying", DYING)):
        kit = folder / name
        kit.mkdir(parents=True, exist_ok=True)
        long = write(kit, instruments)
        found = looped(pressroll, kit)
        wanted = [file for file in long if long[file]]
        share = sum(file in found for file in wanted) / len(wanted)
        print(f"{name}: {len(found)} of {len(long)} recordings have loops, {share:.0%} of the {len(wanted)} that are long enough")
        if name == "dying":
            assert not found, found
            continue
        assert share >= FOUND, sorted(set(wanted) - set(found))
        for file, (start, end, _) in found.items():
            sound, rate = soundfile.read(kit / file)
            length = (end - start) / rate
            # Half a millisecond of rounding beside the bounds.
            assert 0.1995 <= length <= 2.0005, (file, length)
            levels = [10 * numpy.log10(numpy.mean(sound[at - rate // 20 : at] ** 2)) for at in (start, end)]
            assert abs(levels[0] - levels[1]) < 3, (file, levels)


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), Path(sys.argv[2]))
