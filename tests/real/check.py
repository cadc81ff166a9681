"""Renders the repository's loops on recorded one-shots and judges the audio with meters that are not pressroll's.

    check.py PRESSROLL REPOSITORY FOLDER
"""

import json
import re
import shutil
import subprocess
import sys
import tomllib
from fractions import Fraction
from math import log10
from pathlib import Path

import numpy
import pyloudnorm
import soundfile
from scipy.signal import firwin, resample_poly

import names
import oneshots
import pitches

RATE = 48000
# What stands in for pieces that no General MIDI kit has: a word within the piece's name, then a one-shot.
STAND_INS = [
    ("bass", "Bass.wav"),
    ("vib", "Vibraphone.wav"),
    ("bell", "Vibraphone.wav"),
    ("organ", "Organ.wav"),
    ("pad", "Organ.wav"),
    ("horn", "Organ.wav"),
    ("bottle", "Vibraphone.wav"),
    ("pipe", "Vibraphone.wav"),
    ("string", "Organ.wav"),
    ("piano", "Piano.wav"),
    ("keys", "Piano.wav"),
    ("guitar", "Piano.wav"),
    ("kick", "Kick 1.wav"),
    ("snare", "snare_02.wav"),
    ("brush", "snare_01.wav"),
    ("stick", "Side Stick.wav"),
    ("rim", "Side Stick.wav"),
    ("snap", "CLAP.wav"),
    ("clap", "CLAP.wav"),
    ("shaker", "Shaker.wav"),
    ("tom", "Low Tom.wav"),
    ("conga", "Conga Open.wav"),
    ("hat", "Closed Hat.wav"),
    ("crash", "Crash 1.wav"),
    ("splash", "Crash 1.wav"),
    ("ride", "Ride.wav"),
    ("block", "Woodblock High.wav"),
]
ANYTHING = "Claves.wav"


def stand_in(piece):
    return next((file for word, file in STAND_INS if word in piece), ANYTHING)


def render(pressroll, loop, kit, out, words):
    """Renders a loop on the kit, adding one-shots for the pieces it lacks: the answer of `--json`, and what was added."""
    added = {}
    while True:
        # A swap for a piece that the kit has: the kick by itself, so that every render also goes that way.
        command = [pressroll, "render", loop, "--kit", kit, "-o", out, "--json", "--swap", f"kick={kit / 'Kick 1.wav'}"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120)
        if done.returncode == 0:
            return json.loads(done.stdout), added
        missing = sorted(word for word in words if word not in added and f"`{word}`" in done.stderr)
        if not missing:
            raise AssertionError(f"render failed:\n{done.stderr}")
        for word in missing:
            added[word] = stand_in(word)
            shutil.copy(kit / added[word], kit / f"{word}.wav")


def words_of(tree):
    """Every word of the loop file that may name a piece: tablature lines, parts, pieces, marks."""
    words = set(tree.get("tab", {}) if isinstance(tree.get("tab"), dict) else {})
    return words | set(re.findall(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*", json.dumps(tree)))


def frames_of(loop):
    """Exact frames of the bars: counted from the written figures, as fractions."""
    top, bottom = map(int, loop.get("metre", "4/4").split("/"))
    value, _, dotted = loop.get("beat", "1/4").partition(" ")
    beat = Fraction(value) * (Fraction(3, 2) if dotted else 1)
    beats = loop["bars"] * Fraction(top, bottom) / beat
    return beats * 60 / Fraction(str(loop["tempo"])) * RATE


def level(peak):
    return 20 * log10(peak) if peak > 0 else float("-inf")


def true_peak(sound, around):
    """Oversampled 8 times by a long windowed sinc, in dBTP; `around`: the file twice in a row."""
    if around:
        sound = numpy.concatenate([sound, sound[: RATE // 2]])
    window = firwin(2 * 8 * 64 + 1, 1 / 8, window=("kaiser", 8.0))  # resample_poly makes up for the zeros
    return level(max(numpy.abs(resample_poly(side, 8, 1, window=window)).max() for side in sound.T))


def longest_flat_top(sound):
    """How many samples in a row the loudest value stays: more than two is a clipped top."""
    most = 0
    for side in sound.T:
        top = numpy.abs(side) >= numpy.abs(sound).max() * (1 - 1e-6)
        runs = numpy.diff(numpy.flatnonzero(numpy.diff(numpy.concatenate([[0], top.astype(int), [0]]))))[::2]
        most = max(most, int(runs.max(initial=0)))
    return most


def problems_of(loop, told, sound, rate):
    """What is wrong with a render, as sentences."""
    wrong = []
    wanted = frames_of(loop["loop"])
    nearest = int(wanted + Fraction(1, 2))
    ending = loop["loop"].get("ending", "repeat")
    if ending == "let ring":
        if len(sound) < nearest:
            wrong.append(f"{len(sound)} frames, before the last bar ends at {nearest}")
    elif len(sound) != nearest:
        wrong.append(f"{len(sound)} frames for {float(wanted):.2f}")
    if (rate, sound.shape[1]) != (RATE, 2):
        wrong.append(f"{rate} Hz, {sound.shape[1]} channels")
    if told["frames"] != len(sound) or told["rate"] != rate:
        wrong.append(f"told {told['frames']} frames at {told['rate']} Hz")
    muted = {part["name"] for part in loop.get("part", []) if part.get("mute")}
    for part in told["parts"]:
        if part["name"] in muted:
            continue
        if part["hits"] and (part["peak_db"] is None or part["peak_db"] < -60):
            wrong.append(f"{part['name']} has {part['hits']} hits and peaks at {part['peak_db']} dB")
    if sum(part["hits"] for part in told["parts"]) != told["hits"]:
        wrong.append("the parts' hits do not sum to the loop's")
    if numpy.abs(sound).max() >= 1 or longest_flat_top(sound) > 2:
        wrong.append("clipped")
    ceiling = loop.get("master", {}).get("ceiling", -1)
    peak = true_peak(sound, ending == "repeat")
    if ceiling != "off" and peak > ceiling + 0.1:
        wrong.append(f"true peak {peak:.2f} dBTP over the ceiling of {ceiling}")
    if abs(true_peak(sound, False) - told["true_peak_db"]) > 0.3:
        wrong.append(f"true peak told as {told['true_peak_db']}, measured as {true_peak(sound, False):.2f}")
    loudness = pyloudnorm.Meter(rate).integrated_loudness(sound)
    if abs(loudness - told["lufs"]) > 0.1:
        wrong.append(f"loudness told as {told['lufs']}, measured as {loudness:.2f} LUFS")
    return wrong, peak, loudness


NAMED = (
    "kick snare hat-closed hat-open hat-pedal ride ride-bell crash china side-stick clap cowbell tambourine "
    "shaker tom-floor tom-low tom-mid tom-high bongo-high bongo-low conga-mute conga-open conga-low timbale-high "
    "timbale-low agogo-high agogo-low cabasa maracas guiro claves woodblock-high woodblock-low triangle-mute "
    "triangle-open bass piano organ vibraphone"
).split()


def found_by_name(pressroll, kit, folder):
    """A loop that plays every piece that the folder must be found to hold by its file names; each has to sound."""
    loop = folder / "every-piece.toml"
    lines = "\n".join(f"{piece} x" for piece in NAMED if piece != "snare-2")
    loop.write_text(f'[loop]\ntempo = 60\nbars = 1\n\n[tab]\n"all" = """\n{lines}\n"""\n')
    command = [pressroll, "render", loop, "--kit", kit, "-o", folder / "every-piece.wav", "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if done.returncode:
        return [f"not every piece was found:\n{done.stderr}"]
    silent = [p["name"] for p in json.loads(done.stdout)["parts"] if p["peak_db"] is None or p["peak_db"] < -40]
    return [f"{piece} does not sound" for piece in silent]


def matched(pressroll, loop, folder):
    """What `compare` brings to one loudness has one loudness by another meter, and one length."""
    out = folder / "compare"
    command = [pressroll, "compare", loop, "-o", out, "--json"]
    command += ["--vary", "snare.gain=-12,6", "--vary", "master.ceiling=-1,-9", "--bypass", "drums"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    if done.returncode:
        return [f"compare failed:\n{done.stderr}"]
    told = json.loads(done.stdout)
    wrong, lengths = [], set()
    for version in told["versions"]:
        sound, rate = soundfile.read(version["file"], always_2d=True)
        lengths.add(len(sound))
        off = pyloudnorm.Meter(rate).integrated_loudness(sound) - told["matched_lufs"]
        if abs(off) > 0.1:
            wrong.append(f"{version['name']} is {off:+.2f} LU off")
    if len(lengths) > 1:
        wrong.append(f"the versions' lengths differ: {sorted(lengths)}")
    return wrong


def main(pressroll, repository, folder):
    kit = folder / "kit"
    oneshots.write_kit(kit)
    passed = failed = 0

    def count(name, wrong):
        nonlocal passed, failed
        passed, failed = passed + (not wrong), failed + bool(wrong)
        for sentence in wrong:
            print(f"  FAILED {name}: {sentence}")

    count("file names", found_by_name(pressroll, kit, folder))
    count("pitches", pitches.check(pressroll, folder))
    count("names in the bank", names.misread(pressroll, folder))
    ferry = repository / "kits/harbour-studio/loops/night-ferry.toml"
    count("compare", matched(pressroll, ferry, folder))
    loops = sorted(repository.glob("kits/*/loops/*.toml"))
    if not loops:
        count("loops", ["no loop under kits/*/loops/"])
    print(f"{'loop':<42} {'s':>6} {'hits':>5} {'LUFS':>6} {'dBTP':>6} {'took':>6}  added")
    for path in loops:
        name = f"{path.parent.parent.name}/{path.stem}"
        tree = tomllib.loads(path.read_text())
        if "form" in tree:
            continue
        try:
            out = folder / f"{path.parent.parent.name}-{path.stem}.wav"
            told, added = render(pressroll, path, kit, out, words_of(tree))
            sound, rate = soundfile.read(out, always_2d=True)
            wrong, peak, loudness = problems_of(tree, told, sound, rate)
        except (AssertionError, OSError, subprocess.TimeoutExpired) as failure:
            count(name, [str(failure)])
            continue
        took = told["render_seconds"]
        print(f"{name:<42} {len(sound) / rate:>6.1f} {told['hits']:>5} {loudness:>6.1f} {peak:>6.2f} {took:>6.2f}", end="")
        print(f"  {' '.join(added)}")
        count(name, wrong)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve(), Path(sys.argv[3]).resolve()))
