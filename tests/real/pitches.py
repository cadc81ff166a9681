"""Pitches of recorded one-shots: what the program hears in them, held against the root that their bank says.

A sample counts where its pitch is beyond doubt, by a measure that is not the program's own (normalised autocorrelation):
- it repeats itself after the period of the bank's root (correlation of 0.97 or more), and after no whole fraction of it;
- it does so in each of three windows, within 5 cents of one another;
- that pitch is within 10 cents of the bank's root, so that the bank itself can be believed.

The program is not told the root: the file's name and chunks have none. It is asked for the note of the bank's root on that
piece, and by how much the rendered tone is off is how far off it heard the sample.
"""

import json
import logging
import subprocess
import sys
from pathlib import Path

import numpy
import soundfile
from sf2utils.sf2parse import Sf2File

import oneshots

RATE = 48000
SECONDS = 1.5
WITHIN = 15  # cents, checks.md: YIN on a recorded tone
NOTES = "C C# D D# E F F# G G# A A# B".split()
KEYS = range(28, 97)  # E1 to C7


def hz(key):
    return 440 * 2 ** ((key - 69) / 12)


def correlation(window, lag):
    """How much a window is like itself so many samples later, -1 to 1."""
    early, late = window[:-lag], window[lag:]
    power = numpy.sqrt((early @ early) * (late @ late))
    return (early @ late) / power if power else 0


def period(window, near):
    """The period close to an expected one, refined over as many as fit into half of the window, and how well it repeats."""
    best, count, found = near, 1, 0.0
    while count * best < len(window) / 2:
        reach = max(2, round(0.03 * best) if count == 1 else 2)
        middle = round(count * best)
        lags = [lag for lag in range(middle - reach, middle + reach + 1) if lag > 1]
        values = numpy.array([correlation(window, lag) for lag in lags])
        at = int(values.argmax())
        if count == 1 and 0 < at < len(lags) - 1:
            found = float(values[at])
        if not 0 < at < len(lags) - 1 or values[at] < 0.8:
            break
        before, here, after = values[at - 1 : at + 2]
        bend = before - 2 * here + after
        best = (lags[at] + (0.5 * (before - after) / bend if bend else 0)) / count
        count *= 2
    return best, found


def cents(sound, rate, key, margin):
    """Cents by which a sound is off a key, window by window, with the worst correlation; none where it is too short."""
    near = rate / hz(key)
    length = max(round(0.12 * rate), round(5 * near))
    starts = [round(share * (len(sound) - length)) for share in (0.2, 0.4, 0.6)]
    if len(sound) < 1.5 * length:
        return None
    off, worst = [], 1.0
    for start in starts:
        window = sound[start : start + length]
        length_of, likeness = period(window, near)
        shorter = [correlation(window, max(2, round(length_of / part))) for part in range(2, 21)]
        if max(shorter) > likeness - margin:
            likeness = 0.0
        worst = min(worst, likeness)
        off.append(1200 * numpy.log2(near / length_of))
    return off, worst


def samples():
    """Every sample of the bank by name: its sound with its loop held, its rate, its root in keys."""
    logging.disable(logging.CRITICAL)
    with oneshots.SOUNDFONT.open("rb") as file:
        for sample in Sf2File(file).samples:
            if sample.name == "EOS" or not sample.sample_rate or sample.original_pitch not in KEYS:
                continue
            sound = numpy.frombuffer(sample.raw_sample_data, dtype="<i2").astype(float) / 32768
            start, end = sample.start_loop, sample.end_loop
            wanted = round(SECONDS * sample.sample_rate)
            if 0 < end - start and end <= len(sound):
                turns = max(0, -(-(wanted - end) // (end - start)))
                sound = numpy.concatenate([sound[:end], numpy.tile(sound[start:end], turns)])
            peak = numpy.abs(sound).max(initial=0)
            if peak:
                root = sample.original_pitch - sample.pitch_correction / 100
                yield sample.name, 0.5 * sound[:wanted] / peak, sample.sample_rate, root


def believed():
    for name, sound, rate, root in samples():
        measured = cents(sound, rate, root, 0.03)
        if measured is None:
            continue
        off, worst = measured
        if worst >= 0.97 and max(off) - min(off) < 5 and abs(numpy.median(off)) < 10:
            yield name, sound, rate, root, float(numpy.median(off))


def word(number):
    """A file name that has neither a number nor a note in it."""
    return "z" + "".join("klmnopqrst"[int(figure)] for figure in f"{number:03}")


def heard(pressroll, folder, batch):
    """Cents by which each of some samples was heard off its bank's root."""
    folder.mkdir(parents=True, exist_ok=True)
    text = f'[loop]\ntempo = 120\nbars = {len(batch)}\nending = "damp"\n[master]\nceiling = "off"\n'
    for number, (name, sound, rate, root, _) in enumerate(batch):
        soundfile.write(folder / f"{word(number)}.wav", sound, rate, subtype="FLOAT")
        key = round(root)
        note = f"{NOTES[key % 12]}{key // 12 - 1}"
        text += f'[[part]]\nname = "{word(number)}"\nlength = 95\nnotes = {{ "all" = "-", "{number + 1}" = "{note}" }}\n'
    loop = folder / "loop.toml"
    loop.write_text(text)
    out = folder / "out.wav"
    command = [pressroll, "render", loop, "-o", out, "--depth", "float", "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    if done.returncode:
        raise AssertionError(done.stderr)
    rendered, rate = soundfile.read(out, always_2d=True)
    assert json.loads(done.stdout)["hits"] == len(batch)
    errors = []
    for number, (name, sound, _, root, own) in enumerate(batch):
        bar = rendered[2 * rate * number : 2 * rate * number + round(1.2 * rate), 0]
        measured = cents(bar, rate, round(root), 0.015)
        # A tone that is an octave or more off has no such period.
        if measured is None or measured[1] < 0.9:
            errors.append((name, float("inf")))
        else:
            # What sounds sharp was heard flat; the sample's own distance to its bank's root is its bank's matter.
            errors.append((name, own - float(numpy.median(measured[0]))))
    return errors


def check(pressroll, folder):
    """What is wrong, as sentences."""
    counted = list(believed())
    errors = []
    for first in range(0, len(counted), 60):
        errors += heard(pressroll, folder / f"pitches-{first}", counted[first : first + 60])
    off = sorted(abs(error) for _, error in errors)
    worst = max(errors, key=lambda error: abs(error[1]))
    within = sum(error <= WITHIN for error in off)
    print(f"pitch of {len(off)} recorded notes: {within} within {WITHIN} cents of the bank's root, ", end="")
    print(f"median {numpy.median(off):.1f}, worst {abs(worst[1]):.1f} cents ({worst[0]})")
    wrong = [f"{name} was heard {error:.1f} cents off" for name, error in errors if not abs(error) <= WITHIN]
    return wrong if len(off) >= 40 else wrong + [f"only {len(off)} samples could be believed"]


if __name__ == "__main__":
    problems = check(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve())
    print("\n".join(problems))
    sys.exit(bool(problems))
