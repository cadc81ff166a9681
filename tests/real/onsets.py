"""Puts silence and soft noise before recorded one-shots and sees that pressroll's hits land where they did without.

    onsets.py PRESSROLL FOLDER

For each of the one-shots: rendered as it is and with 1 to 80 ms before it; cross-correlation tells how far apart the two
renders are. Half a millisecond is allowed after silence, one after noise. Noise comes in 8 ms or more: less than a soft sound's own rise can't be told from it.
"""

import subprocess
import sys
from pathlib import Path

import numpy
import oneshots
import soundfile
from scipy.signal import correlate, resample_poly

RATE = 48000
BAR = 2 * RATE
BEFORE = [1, 3, 8, 20, 45, 80]
NOISES = [None, -90, -75]
# Milliseconds: after silence, after noise.
ALLOWED = 0.5
ALLOWED_IN_NOISE = 1.0
FINER = 8


def write(kit, names, sounds, milliseconds, db):
    """The kit again, with silence or noise before each sound; noise goes on under it, as it does where it was recorded."""
    kit.mkdir(parents=True, exist_ok=True)
    dice = numpy.random.default_rng(5)
    pieces = []
    for number, (name, (sound, rate)) in enumerate(zip(names, sounds)):
        before = numpy.zeros(round(milliseconds * rate / 1000))
        whole = numpy.concatenate([before, sound])
        if db is not None:
            whole = whole + 10 ** (db / 20) * dice.standard_normal(len(whole))
        soundfile.write(kit / name, whole, rate, subtype="FLOAT")
        pieces.append(f'[[piece]]\nname = "shot{number}x"\nfiles = ["{name}"]\n')
    (kit / "kit.toml").write_text("".join(pieces))


def render(pressroll, folder, count):
    lines = "".join(f'"{n + 1}" = """\nshot{n}x -9--\n"""\n' for n in range(count))
    loop = folder / "loop.toml"
    loop.write_text(
        f'[loop]\nkit = "kit"\ntempo = 120\nbars = {count}\nending = "damp"\n[tab]\n{lines}[master]\nceiling = "off"\n'
    )
    command = [pressroll, "render", loop, "-o", folder / "out.wav", "--depth", "float"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    sound, _ = soundfile.read(folder / "out.wav", always_2d=True)
    return sound[:, 0]


def lag(one, other):
    """By how many milliseconds the first comes later."""
    one, other = (resample_poly(sound, FINER, 1) for sound in (one, other))
    product = correlate(one, other, mode="full", method="fft")
    return (int(numpy.argmax(product)) - (len(other) - 1)) / (FINER * RATE / 1000)


def main(pressroll, folder):
    recorded = folder / "recorded"
    names = oneshots.write_kit(recorded)
    sounds = [soundfile.read(recorded / name) for name in names]
    kit = folder / "kit"
    write(kit, names, sounds, 0, None)
    own = render(pressroll, folder, len(names))
    failed = 0
    worst = 0.0
    total = 0
    for db in NOISES:
        for milliseconds in BEFORE:
            if db is not None and milliseconds < 8:
                continue
            total += len(names)
            write(kit, names, sounds, milliseconds, db)
            moved = render(pressroll, folder, len(names))
            for number, name in enumerate(names):
                # From half a bar before the hit's quarter, so that what comes early shows too.
                window = slice(number * BAR + RATE // 4, number * BAR + RATE + RATE // 2)
                off = lag(moved[window], own[window])
                worst = max(worst, abs(off))
                if abs(off) > (ALLOWED if db is None else ALLOWED_IN_NOISE):
                    failed += 1
                    print(f"  FAILED {name}: {off:.2f} ms off after {milliseconds} ms of {db} dBFS")
    print(f"onsets: {len(names)} one-shots, the furthest {worst:.3f} ms off")
    print(f"{total - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()))
