"""Reference values by general-purpose libraries, kept as JSON beside this script so that `cargo test` needs no Python.

    compute.py write     computes and writes them
    compute.py check     computes and compares them with what is kept

Signals that a test has to make again come from integer arithmetic (`noise`), so that both sides hold the same samples.
"""

import json
import sys
from pathlib import Path

import numpy
import pyloudnorm
import soxr
from scipy import signal

HERE = Path(__file__).resolve().parent
RATE = 48000


def db(x):
    return 20 * numpy.log10(numpy.abs(x))


def rounded(values, digits):
    return [round(float(v), digits) + 0.0 for v in values]


def noise(count, seed):
    """Integers from -32768 to 32767 of a linear congruential generator (Numerical Recipes, 2nd edition, 7.1)."""
    out = numpy.empty(count, dtype=numpy.int64)
    state = seed
    for i in range(count):
        state = (1664525 * state + 1013904223) % 2**32
        out[i] = (state >> 16) - 32768
    return out


# Filters: the analogue prototypes, as numerator and denominator of s in rad/s. Second-order Butterworth cuts by scipy; the bell of
# Bristow-Johnson's audio EQ formulas, H(s) = (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1), 1/Q = 2 sinh(ln 2 / 2 octaves).


def low_cut(f):
    return signal.butter(2, 2 * numpy.pi * f, "highpass", analog=True)


def high_cut(f):
    return signal.butter(2, 2 * numpy.pi * f, "lowpass", analog=True)


def bell(f, gain, octaves):
    w = 2 * numpy.pi * f
    a = 10 ** (gain / 40)
    over_q = 2 * numpy.sinh(numpy.log(2) / 2 * octaves)
    return [1, w * a * over_q, w * w], [1, w / a * over_q, w * w]


def filters():
    frequencies = numpy.geomspace(20, 0.4 * RATE, 61)
    cases = {f"low_cut = {f}": [low_cut(f)] for f in (30, 200, 1000, 12000, 24000)}
    cases |= {f"high_cut = {f}": [high_cut(f)] for f in (500, 6000, 15000, 24000)}
    bells = ((350, -3, 1.0), (100, 9, 2.0), (5000, 6, 0.5), (12000, -12, 1.5), (20000, 3, 1.0), (21600, 12, 3.0), (21600, -40, 0.05))
    for at, gain, width in bells:
        cases[f"eq = [{{ at = {at}, gain = {gain}, width = {width} }}]"] = [bell(at, gain, width)]
    both = "low_cut = 80\nhigh_cut = 9000\neq = [{ at = 300, gain = -4, width = 1.2 }, { at = 2500, gain = 3, width = 0.8 }]"
    cases[both] = [low_cut(80), high_cut(9000), bell(300, -4, 1.2), bell(2500, 3, 0.8)]
    curves = []
    for keys, sections in cases.items():
        response = numpy.ones(len(frequencies), dtype=complex)
        for b, a in sections:
            response = response * signal.freqs(b, a, worN=2 * numpy.pi * frequencies)[1]
        curves.append({"keys": keys, "db": rounded(db(response), 4)})
    return {"frequencies": rounded(frequencies, 6), "curves": curves}


# The compressor at rest: Giannoulis, Massberg, Reiss, JAES 2012, equation 4.


def dynamics():
    curves = []
    for threshold, ratio, knee in ((-20, 4, 0), (-20, 4, 8), (-18, 2, 6), (-30, 10, 12)):
        levels = numpy.arange(-48, 1, 3.0)
        over = levels - threshold
        hard = numpy.where(over > 0, threshold + over / ratio, levels)
        if knee:
            soft = levels + (1 / ratio - 1) * (over + knee / 2) ** 2 / (2 * knee)
            hard = numpy.where(2 * numpy.abs(over) <= knee, soft, hard)
        curves.append(
            {"threshold": threshold, "ratio": ratio, "knee": knee, "in": rounded(levels, 1), "out": rounded(hard, 4)}
        )
    return {"curves": curves}


# A recorded room: direct convolution.

SIGNAL, IMPULSE, ROUND, EVERY = 20000, 60000, 48000, 97


def room():
    dry = noise(SIGNAL, 5) / 2**16
    fall = IMPULSE - numpy.arange(IMPULSE)
    answer = []
    for seed in (17, 23):
        impulse = noise(IMPULSE, seed) * fall / (2**15 * IMPULSE * 256)
        wet = signal.fftconvolve(dry, impulse.astype(numpy.float32).astype(float))
        turns = -(-len(wet) // ROUND)
        circle = numpy.pad(wet, (0, turns * ROUND - len(wet))).reshape(turns, ROUND).sum(axis=0)
        answer.append({"line": scaled(wet[::EVERY]), "circle": scaled(circle[::EVERY])})
    return {"signal": SIGNAL, "impulse": IMPULSE, "round": ROUND, "every": EVERY, "scale": 2**24, "sides": answer}


def scaled(values):
    return [int(v) for v in numpy.round(values * 2**24)]


# Resampling by soxr at its very high quality.


def resample():
    rows = []
    for frequency in (50, 200, 1000, 3000, 6000, 10000, 12000, 14000, 16000, 18000, 19000, 20000):
        t = numpy.arange(88200) / 44100
        sine = (0.5 * numpy.sin(2 * numpy.pi * frequency * t)).astype(numpy.float32).astype(float)
        out = soxr.resample(sine, 44100, RATE, "VHQ")[24000:72000]
        # One second in the middle holds a whole number of periods, so sine and cosine are orthogonal.
        t = numpy.arange(24000, 72000) / RATE
        parts = numpy.array([numpy.sin(2 * numpy.pi * frequency * t), numpy.cos(2 * numpy.pi * frequency * t)])
        size = 2 * parts @ out / len(out)
        rest = out - size @ parts
        rest_db = 10 * numpy.log10(numpy.mean(rest**2) / numpy.mean(out**2))
        assert rest_db < -120, (frequency, rest_db)
        rows.append({"hz": frequency, "db": round(float(db(numpy.hypot(*size) / 0.5)), 4) + 0.0})
    return {"from": 44100, "to": RATE, "sines": rows}


# Loudness by pyloudnorm.


def loudness():
    rows = []
    steps = numpy.repeat([1, 4, 16, 2, 8], RATE * 2)  # noise whose level steps every two seconds
    left, right = noise(len(steps), 31) / (2**15 * steps), noise(len(steps), 37) / (2**15 * steps)
    rows.append(("stepped noise", RATE, numpy.column_stack([left, right])))
    rows.append(("stepped noise, left alone", RATE, numpy.column_stack([left, 0 * left])))
    rows.append(("stepped noise, mono", RATE, left[:, None]))
    low = noise(44100 * 5, 41) / 2**18
    rows.append(("quiet noise at 44.1 kHz", 44100, numpy.column_stack([low, low])))
    burst = numpy.where(numpy.arange(RATE * 6) % RATE < RATE // 10, noise(RATE * 6, 43), 0) / 2**16
    rows.append(("bursts", RATE, numpy.column_stack([burst, burst])))
    return {
        "signals": [
            {"name": name, "rate": rate, "lufs": round(float(pyloudnorm.Meter(rate).integrated_loudness(x)), 3)}
            for name, rate, x in rows
        ]
    }


# Laws.


def laws():
    places = numpy.arange(-100, 101, 10)
    angle = (places + 100) / 200 * numpy.pi / 2
    velocities = [1, 20, 32, 40, 64, 80, 96, 104, 118, 127]
    return {
        "pan": [
            {"pan": int(p), "left": round(float(a), 7), "right": round(float(b), 7)}
            for p, a, b in zip(places, numpy.cos(angle), numpy.sin(angle))
        ],
        "velocity": [{"velocity": v, "db": round(float(40 * numpy.log10(v / 127)), 4)} for v in velocities],
    }


ALL = {f.__name__: f for f in (filters, dynamics, room, resample, loudness, laws)}


def differences(kept, now, where):
    """Where two trees of values differ by more than rounding, as sentences."""
    if isinstance(now, dict):
        if kept.keys() != now.keys():
            return [f"{where}: keys differ"]
        return [d for key in now for d in differences(kept[key], now[key], f"{where}.{key}")]
    if isinstance(now, list):
        if len(kept) != len(now):
            return [f"{where}: {len(kept)} kept, {len(now)} computed"]
        return [d for i, pair in enumerate(zip(kept, now)) for d in differences(*pair, f"{where}[{i}]")]
    if isinstance(now, float):
        return [] if abs(kept - now) <= 2e-4 else [f"{where}: {kept} kept, {now} computed"]
    if isinstance(now, int) and isinstance(kept, int):
        return [] if abs(kept - now) <= 1 else [f"{where}: {kept} kept, {now} computed"]
    return [] if kept == now else [f"{where}: {kept!r} kept, {now!r} computed"]


def main(what):
    failed = 0
    for name, compute in ALL.items():
        path = HERE / f"{name}.json"
        values = json.loads(json.dumps(compute()))
        if what == "write":
            path.write_text(json.dumps(values, separators=(",", ":")) + "\n")
            continue
        wrong = differences(json.loads(path.read_text()), values, name)
        failed += bool(wrong)
        print(f"{name:<10} {'agrees' if not wrong else 'DIFFERS'}")
        print("".join(f"  {sentence}\n" for sentence in wrong[:10]), end="")
    if what != "write":
        print(f"{len(ALL) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    if sys.argv[1:] not in (["write"], ["check"]):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
