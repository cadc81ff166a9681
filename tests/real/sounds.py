"""Fits the network by which `transcribe` tells low, middle and high sounds apart, and writes its weights as Rust.

    sounds.py [--grooves 160] [--output ../../src/transcription/weights.rs]

Makes synthetic grooves out of the recordings of the half to tune on (recordings.py), pitched, coloured, in made rooms and with
noise, as takes.py does; takes from each what src/transcription/colour.rs takes at its onsets; and fits one hidden layer. The grooves
are made as they are used, and kept nowhere. Needs scikit-learn besides what tests/requirements.txt names, and the voices of takes.py.
It takes some minutes of one core. The network has to tell the snares of the demo kits from a snare with a hat, too (tests/transcribe.rs);
one that was fitted to 600 grooves did better on the takes, and failed there.
"""

import argparse
from pathlib import Path

import numpy
import soxr
from scipy.signal import lfilter
from sklearn.neural_network import MLPClassifier

import takes
from recordings import Material

RATE, WINDOW, HOP = takes.RATE, 1024, 128
# As in src/transcription/colour.rs.
LINES = [1, 3, 5, 10, 20, 39, 77, 150, 363]
BEFORE, ATTACK, BODY = (-0.030, -0.012), (0.004, 0.018), (0.030, 0.060)
POOLS = [("kick",), ("snare", "clap", "side-stick"),
         ("hat-closed", "hat-pedal", "hat-open", "ride", "shaker", "cabasa", "maracas", "tambourine")]


def colours(sound, onsets):
    """The power in dB that each onset adds in each band: of its attack, then of its body."""
    padded = numpy.pad(sound, WINDOW // 2)
    frames = numpy.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::HOP]
    power = numpy.abs(numpy.fft.rfft(frames * numpy.hanning(WINDOW), axis=1)) ** 2
    bands = numpy.stack([power[:, a:b].sum(1) for a, b in zip(LINES, LINES[1:])], axis=1)
    found = []
    for onset in onsets:
        at = round(onset * RATE / HOP)

        def mean(span):
            begin, end = (at + round(seconds * RATE / HOP) for seconds in span)
            return bands[max(begin, 0) : max(end, 0)].sum(0) / max(end - begin, 1)

        found.append(numpy.concatenate([numpy.maximum(mean(span) - mean(BEFORE), 0) for span in (ATTACK, BODY)]))
    return 10 * numpy.log10(numpy.array(found) + 1e-12)


def inputs(levels):
    """What the network is told of the hits of one recording, as src/transcription/classify.rs tells it."""
    top = levels.max(1, keepdims=True)
    shape = numpy.maximum(levels - top, -60)
    beside = numpy.clip(levels - numpy.percentile(levels, 90, axis=0), -60, 10)
    level = numpy.clip(top - numpy.percentile(top, 90), -50, 10)
    return numpy.concatenate([shape, beside, level], axis=1) / 20


def one_shots(drums, dice):
    """A low, a mid and a high sound, more often of the usual pieces than of others, each pitched and coloured by chance."""
    shots = []
    for number, pool in enumerate(POOLS):
        use = (pool[:1] if number < 2 else pool[:2]) if dice.random() < 0.55 else pool
        fit = [drum for drum in drums if set(drum.pieces) & set(use)] or [d for d in drums if set(d.pieces) & set(pool)]
        drum = fit[dice.integers(len(fit))]
        recording = drum.strokes[dice.integers(len(drum.strokes))]
        sound = soxr.resample(recording.sides[0], recording.rate, RATE)
        sound = sound[takes.begins(sound) :][:RATE]
        speed = 2 ** dice.normal(0, 0.12)
        sound = numpy.interp(numpy.arange(int((len(sound) - 1) / speed)) * speed, numpy.arange(len(sound)), sound)
        tilt = dice.uniform(-0.5, 0.5)
        sound = lfilter([1, -tilt], [1], sound) if tilt > 0 else lfilter([1 + tilt], [1, tilt], sound)
        shots.append(sound / numpy.abs(sound).max() * 0.9)
    return shots


def groove(seed, drums):
    """Three bars, and the second and class of every hit."""
    dice = numpy.random.default_rng(seed)
    shots = takes.one_shots("tune", drums, dice, True) if seed % 4 == 3 else one_shots(drums, dice)
    levels = numpy.array([1, 0.9, 0.5]) * 10 ** (dice.normal(0, 3, 3) / 20)
    step = 15 / dice.uniform(72, 150)
    pattern = takes.groove(dice)
    if seed % 4 >= 2:
        pattern = list({place: (place, which, velocity) for place, which, velocity in reversed(pattern)}.values())
    if dice.random() < 0.15:
        missing = int(dice.integers(3))
        pattern = [hit for hit in pattern if hit[1] != missing] or pattern
    sound, known = numpy.zeros(int((1.8 + 48 * step) * RATE)), []
    for bar in range(3):
        for place, which, velocity in pattern:
            frame = round((0.3 + (bar * 16 + place) * step + dice.normal(0, 0.004)) * RATE)
            shot = takes.struck(shots[which], velocity, dice) * levels[which] * 10 ** ((velocity - 127) / 127 * 24 / 20)
            sound[frame : frame + len(shot)] += shot[: len(sound) - frame]
            known.append((frame / RATE, which))
    return takes.finished(sound, int(dice.integers(21)), dice), sorted(known)


def material(count):
    drums = Material(marching=False, instruments=False).half("tune")[0]
    told, truths = [], []
    for seed in range(count):
        sound, known = groove(seed, drums)
        onsets = [known[0][0]]
        onsets += [now for before, (now, _) in zip([at for at, _ in known], known[1:]) if now - before > 0.02]
        near = [[any(abs(at - onset) < 0.025 and which == kind for at, which in known) for kind in range(3)] for onset in onsets]
        told.append(inputs(colours(sound, onsets)))
        truths.append(numpy.array(near))
    return numpy.concatenate(told), numpy.concatenate(truths)


def rust(network, note):
    """The weights as a module of Rust."""
    (first, second), (hidden, out) = network.coefs_, network.intercepts_
    row = lambda values: "[" + ", ".join(f"{value + 0.0:.4f}" for value in values) + "]"
    table = lambda name, kind, weights: (
        f"#[rustfmt::skip]\npub(super) const {name}: {kind} = [\n" + "".join(f"    {row(of)},\n" for of in weights.T) + "];\n")
    line = lambda name, kind, weights: f"#[rustfmt::skip]\npub(super) const {name}: {kind} = {row(weights)};\n"
    return (
        f"//! The weights of the network in `classify`, written by `tests/real/sounds.py`: {note}.\n\n"
        "// That a weight is near a constant is chance.\n#![allow(clippy::approx_constant)]\n\n"
        f"/// Numbers that go in.\npub(super) const INPUTS: usize = {first.shape[0]};\n"
        f"/// Hidden units.\npub(super) const HIDDEN: usize = {len(hidden)};\n\n"
        + table("INTO_HIDDEN", "[[f32; INPUTS]; HIDDEN]", first)
        + line("OF_HIDDEN", "[f32; HIDDEN]", hidden)
        + table("INTO_OUTPUT", f"[[f32; HIDDEN]; {len(out)}]", second)
        + line("OF_OUTPUT", f"[f32; {len(out)}]", out)
    )


def main():
    weights = Path(__file__).parents[2] / "src/transcription/weights.rs"
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--grooves", type=int, default=160)
    parser.add_argument("--output", type=Path, default=weights)
    asked = parser.parse_args()
    told, truths = material(asked.grooves)
    network = MLPClassifier((24,), alpha=0.01, max_iter=600, random_state=1).fit(told, truths)
    asked.output.write_text(rust(network, f"fitted to {asked.grooves} synthetic grooves"))


if __name__ == "__main__":
    main()
