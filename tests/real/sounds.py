"""Fits the networks by which `transcribe` tells low, middle and high sounds apart, and writes their weights as Rust.

    sounds.py [--grooves 1400] [--output ../../src/transcription/weights.rs]

Makes synthetic grooves out of the recordings of the half to tune on (recordings.py), of drums that are synthesised (drums.py) and of
a mouth's, pitched, coloured, in made rooms and with noise, as takes.py does; takes from each what src/transcription/colour.rs takes at
its onsets; and fits pairs of networks, each with one hidden layer: one hears a hit by itself, the other one beside all hits of its
recording. The second of a pair is fitted to other grooves than the first, whose answers it is told. The grooves are made as they are
used, and kept nowhere. Needs scikit-learn besides what tests/requirements.txt names, and the voices of takes.py; some minutes of two cores.

Cross-validated over the recordings of the half to tune on (a third of them and two voices left out each time, eight bands), one network
fitted to 160 grooves has F 0.882 and these pairs together 0.914. A single network of more grooves takes a bright snare for a snare with a
hat: that a recording has no such snare alone only the second one knows.
"""

import argparse
import warnings
from functools import lru_cache
from multiprocessing import Pool
from pathlib import Path

import numpy
import soxr
from scipy.signal import lfilter
from sklearn.neural_network import MLPClassifier

import drums as synthesised
import takes
from recordings import Material

RATE, WINDOW, HOP = takes.RATE, 1024, 128
# As in src/transcription/colour.rs.
LINES = [1, 3, 5, 10, 20, 39, 77, 150, 363]
BEFORE, ATTACK, BODY = (-0.030, -0.012), (0.004, 0.018), (0.030, 0.060)
# As in src/transcription/classify.rs.
NEAR, LARGEST = 0.6, 9.0
MIXES = numpy.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [0, 1, 1], [1, 1, 0], [1, 1, 1]], bool)
PAIRS, HIDDEN = 3, 16
POOLS = [("kick",), ("snare", "clap", "side-stick"),
         ("hat-closed", "hat-pedal", "hat-open", "ride", "shaker", "cabasa", "maracas", "tambourine")]
# Those of the half to tune on, and others that are in no half.
VOICES = takes.MOUTHS["tune"] + ["en+m2", "en+m4", "en+m6", "en+m8", "en+f1", "en+f3"]
# How often a drum is synthesised, in grooves that are made in turn.
SYNTHESISED = [0, 0, 0.5, 0.5, 0.75, 0.75, 0.75]

spoken = lru_cache(None)(takes.spoken)


@lru_cache(None)
def recorded():
    """The drums of the half to tune on: the pieces that each may be called, and its strokes from their onsets on."""
    drums = []
    for drum in Material(marching=False, instruments=False).half("tune")[0]:
        strokes = [soxr.resample(stroke.sides[0], stroke.rate, RATE) for stroke in drum.strokes]
        drums.append((set(drum.pieces), [stroke[takes.begins(stroke) :][:RATE] for stroke in strokes]))
    return drums


def colours(sound, onsets):
    """The power in dB that each onset adds in each band: of its attack, then of its body."""
    padded = numpy.pad(sound, (WINDOW // 2, RATE))
    last = len(sound) // HOP

    def mean(onset, span):
        begin, end = (round(onset * RATE / HOP) + round(seconds * RATE / HOP) for seconds in span)
        frames = [padded[at * HOP : at * HOP + WINDOW] for at in range(begin, end) if 0 <= at <= last]
        if not frames:
            return numpy.zeros(len(LINES) - 1)
        power = (numpy.abs(numpy.fft.rfft(frames * numpy.hanning(WINDOW), axis=1)) ** 2).sum(0)
        return numpy.array([power[a:b].sum() for a, b in zip(LINES, LINES[1:])]) / (end - begin)

    found = []
    for onset in onsets:
        before = mean(onset, BEFORE)
        found.append(numpy.concatenate([numpy.maximum(mean(onset, span) - before, 0) for span in (ATTACK, BODY)]))
    return 10 * numpy.log10(numpy.array(found) + 1e-12)


def inputs(levels):
    """What the first network is told of the hits of one recording, as src/transcription/classify.rs tells it."""
    top = levels.max(1, keepdims=True)
    shape = numpy.maximum(levels - top, -60)
    beside = numpy.clip(levels - numpy.percentile(levels, 90, axis=0), -60, 10)
    level = numpy.clip(top - numpy.percentile(top, 90), -50, 10)
    return numpy.concatenate([shape, beside, level], axis=1) / 20


def logits(network, told):
    hidden = numpy.maximum(told @ network.coefs_[0] + network.intercepts_[0], 0)
    return hidden @ network.coefs_[1] + network.intercepts_[1]


def beside(told, heard):
    """What the second network is told: what the first heard, as hits that sound alike share it, and how the hit compares with all."""
    apart = ((told[:, None] - told[None]) ** 2).sum(2)
    near = numpy.exp(-apart / (2 * NEAR**2))
    shared = (near[:, :, None] * numpy.clip(heard, -LARGEST, LARGEST)[None]).sum(1) / near.sum(1)[:, None]
    likely = 1 / (1 + numpy.exp(-shared))
    mixes = numpy.stack([numpy.prod(numpy.where(mix, likely, 1 - likely), 1) for mix in MIXES], 1) + 1e-9
    mixes /= mixes.sum(1, keepdims=True)
    more = [told, shared / 4, numpy.repeat(2 * mixes.mean(0)[None], len(told), 0)]
    for weights in mixes.T[:5]:
        usual = ((weights[:, None] * told).sum(0) + 0.5 * told.mean(0)) / (weights.sum() + 0.5)
        more.append(numpy.sqrt(((told - usual) ** 2).mean(1))[:, None])
    return numpy.concatenate(more, 1)


def one_shots(dice, often):
    """A low, a mid and a high sound, more often of the usual pieces than of others, each pitched and coloured by chance."""
    shots = []
    for number, pool in enumerate(POOLS):
        if dice.random() < often:
            sound = synthesised.drum(number, dice)
            sound = sound[takes.begins(sound) :]
        else:
            use = (pool[:1] if number < 2 else pool[:2]) if dice.random() < 0.55 else pool
            fit = [strokes for pieces, strokes in recorded() if pieces & set(use)]
            strokes = fit[dice.integers(len(fit))]
            sound = strokes[dice.integers(len(strokes))]
        speed = 2 ** dice.normal(0, 0.2 if often else 0.12)
        sound = numpy.interp(numpy.arange(int((len(sound) - 1) / speed)) * speed, numpy.arange(len(sound)), sound)
        tilt = dice.uniform(-0.5, 0.5)
        sound = lfilter([1, -tilt], [1], sound) if tilt > 0 else lfilter([1 + tilt], [1, tilt], sound)
        sound = synthesised.equalised(sound, dice) if often else sound
        shots.append(0.9 * synthesised.level(sound))
    return shots


def groove(seed):
    """Three bars, and the second and class of every hit."""
    dice = numpy.random.default_rng(seed)
    if seed % 4 == 3 and dice.random() < 0.6:
        shots = takes.mouth(str(dice.choice(VOICES)), spoken)
    else:
        shots = one_shots(dice, SYNTHESISED[seed % len(SYNTHESISED)])
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


def heard(seed):
    """What the first network is told of one groove's hits, and what each is."""
    sound, known = groove(seed)
    onsets = [known[0][0]]
    for at, _ in known[1:]:
        if at - onsets[-1] > 0.018:
            onsets.append(at)
    truths = [[any(abs(at - onset) < 0.025 and which == kind for at, which in known) for kind in range(3)] for onset in onsets]
    # An onset is heard to about a millisecond.
    onsets = numpy.array(onsets) + numpy.random.default_rng([seed, 1]).normal(0, 0.001, len(onsets))
    return inputs(colours(sound, onsets)), numpy.array(truths)


def fitted(grooves, seed, alpha):
    told, truths = (numpy.concatenate(all_of) for all_of in zip(*grooves))
    return MLPClassifier((HIDDEN,), alpha=alpha, max_iter=40, random_state=seed).fit(told, truths)


def pair(grooves, seed):
    """The two networks, each fitted to every other groove; which is which changes from pair to pair."""
    half, other = grooves[seed % 2 :: 2], grooves[1 - seed % 2 :: 2]
    first = fitted(half, seed, 0.1)
    return first, fitted([(beside(told, logits(first, told)), truths) for told, truths in other], seed, 0.3)


def rust(pairs, note):
    """The weights as a module of Rust."""
    row = lambda values: "[" + ", ".join(f"{value + 0.0:.3f}" for value in values) + "]"

    def network(of):
        (first, second), (hidden, out) = of.coefs_, of.intercepts_
        table = lambda weights: "[\n" + "".join(f"            {row(unit)},\n" for unit in weights.T) + "        ]"
        return (f"Network {{\n        into_hidden: {table(first)},\n        of_hidden: {row(hidden)},\n"
                f"        into_output: {table(second)},\n        of_output: {row(out)},\n    }}")

    one, two = (of.coefs_[0].shape[0] for of in pairs[0])
    return (
        f"//! The weights of the networks in `classify`, written by `tests/real/sounds.py`: {note}.\n\n"
        "// That a weight is near a constant is chance.\n#![allow(clippy::approx_constant)]\n\n"
        "/// Low, middle, high.\npub(super) const CLASSES: usize = 3;\n"
        f"/// Numbers that go into the first network of a pair, and into the second.\npub(super) const INPUTS: usize = {one};\n"
        f"pub(super) const MORE_INPUTS: usize = {two};\n"
        f"/// Hidden units.\npub(super) const HIDDEN: usize = {HIDDEN};\n\n"
        "/// One hidden layer of rectified sums.\npub(super) struct Network<const N: usize> {\n"
        "    pub into_hidden: [[f32; N]; HIDDEN],\n    pub of_hidden: [f32; HIDDEN],\n"
        "    pub into_output: [[f32; HIDDEN]; CLASSES],\n    pub of_output: [f32; CLASSES],\n}\n\n"
        "#[rustfmt::skip]\n"
        f"pub(super) static PAIRS: [(Network<INPUTS>, Network<MORE_INPUTS>); {len(pairs)}] = [\n"
        + "".join(f"    ({network(first)}, {network(second)}),\n" for first, second in pairs) + "];\n"
    )


def main():
    weights = Path(__file__).parents[2] / "src/transcription/weights.rs"
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--grooves", type=int, default=1400)
    parser.add_argument("--output", type=Path, default=weights)
    asked = parser.parse_args()
    warnings.filterwarnings("ignore", message="Stochastic Optimizer")  # Forty rounds are meant: more fit chance.
    with Pool(2) as pool:
        grooves = pool.map(heard, range(asked.grooves), chunksize=20)
    pairs = [pair(grooves, number) for number in range(PAIRS)]
    asked.output.write_text(rust(pairs, f"fitted to {asked.grooves} synthetic grooves"))


if __name__ == "__main__":
    main()
