"""Asks pressroll which piece it takes each drum sample of a soundfont for, by the name that the bank has for it.

    names.py PRESSROLL FOLDER
"""

import logging
import subprocess
import sys
import wave
from pathlib import Path

from sf2utils.sf2parse import Sf2File

from oneshots import SOUNDFONT

# General MIDI Level 1's percussion keys [memory], by the names that pieces go by.
PIECES = dict(
    zip(
        range(35, 82),
        "kick kick side-stick snare clap snare tom-floor hat-closed tom-floor hat-pedal tom-low hat-open tom-mid tom-mid crash "
        "tom-high ride china ride-bell tambourine splash cowbell crash vibraslap ride bongo-high bongo-low conga-mute conga-open "
        "conga-low timbale-high timbale-low agogo-high agogo-low cabasa maracas whistle-short whistle-long guiro guiro claves "
        "woodblock-high woodblock-low cuica-mute cuica-open triangle-mute triangle-open".split(),
    )
)
DRUM_BANK = 128

# Names that say another piece than their key asks for, or only the instrument and not which of its two: what they are read as.
SAYS = {
    "QuintoClosedSlap": "conga-slap",
    "M Bongo Tone": "bongo-high",
    "Timbale Strike": "timbale-high",
    "Quica Hi Tone": "cuica-open",
}
# Names that say no piece of percussion, or a loop.
SAYS_NONE = {"808 Click", "Filter Snap", "Ocean Wave", "Sine Wave", "Syn Drum Wave", "Timp Drum A1", "Vibra Loop"}


def names_in_the_bank():
    """The names of all samples on percussion keys, each with the pieces of its keys."""
    logging.disable(logging.CRITICAL)  # sf2utils warns of every oddity of the soundfont
    found = {}
    with SOUNDFONT.open("rb") as file:
        for preset in Sf2File(file).presets:
            if preset.name == "EOP" or preset.bank != DRUM_BANK:
                continue
            for zone in (zone for bag in preset.bags if bag.instrument for zone in bag.instrument.bags):
                if zone.sample and zone.key_range:
                    low, high = zone.key_range
                    pieces = {PIECES[key] for key in range(low, high + 1) if key in PIECES}
                    found.setdefault(zone.sample.name, set()).update(pieces)
    return {name: pieces for name, pieces in sorted(found.items()) if pieces}


def is_read_as(pressroll, kit, piece, folder):
    """Whether a kit has a piece: a loop that plays it can be checked."""
    loop = folder / "one-piece.toml"
    loop.write_text(f'[loop]\ntempo = 60\nbars = 1\n\n[tab]\n"all" = """\n{piece} x\n"""\n')
    done = subprocess.run([pressroll, "check", loop, "--kit", kit], capture_output=True, text=True, timeout=60)
    return done.returncode == 0


def misread(pressroll, folder):
    """What is not taken for a piece of its key, as sentences."""
    wrong = []
    for number, (name, pieces) in enumerate(names_in_the_bank().items()):
        kit = folder / f"name-{number}"
        kit.mkdir(parents=True)
        with wave.open(str(kit / f"{name.replace('/', '-')}.wav"), "wb") as file:
            file.setparams((1, 2, 44100, 0, "NONE", ""))
            file.writeframes(b"\x00\x40" + bytes(400))
        pieces = {SAYS[name]} if name in SAYS else pieces
        found = any(is_read_as(pressroll, kit, piece, folder) for piece in sorted(pieces))
        if found == (name in SAYS_NONE):
            wrong.append(f"`{name}` is {'' if found else 'not '}taken for {' or '.join(sorted(pieces))}")
    return wrong


if __name__ == "__main__":
    sentences = misread(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve())
    print("\n".join(sentences) or f"all {len(names_in_the_bank())} names are read right")
    sys.exit(1 if sentences else 0)
