"""Drums that are synthesised by chance, for `sounds.py`: each a low, a middle or a high sound, wide apart within its kind.

Bodies are sines that fall in pitch, wires and cymbals noise and square waves in bands, each under an exponential decay. Ranges are
wider than those of real drums. [practice]
"""

import numpy
from scipy.signal import butter, sosfilt

RATE = 48000


def between(dice, low, high):
    """A draw that is even in octaves."""
    return float(numpy.exp(dice.uniform(numpy.log(low), numpy.log(high))))


def time(seconds):
    return numpy.arange(round(seconds * RATE)) / RATE


def band(sound, low, high, order=2):
    return sosfilt(butter(order, [low, min(high, 23000)], "bandpass", fs=RATE, output="sos"), sound)


def above(sound, hertz, order):
    return sosfilt(butter(order, hertz, "highpass", fs=RATE, output="sos"), sound)


def below(sound, hertz, order=2):
    return sosfilt(butter(order, hertz, "lowpass", fs=RATE, output="sos"), sound)


def level(sound):
    return sound / numpy.abs(sound).max()


def kick(dice):
    t = time(0.6)
    low = between(dice, 38, 95)
    high, falls = low * between(dice, 1.2, 8), between(dice, 0.004, 0.06)
    phase = 2 * numpy.pi * numpy.cumsum(low + (high - low) * numpy.exp(-t / falls)) / RATE
    sound = numpy.sin(phase) * numpy.exp(-t / between(dice, 0.03, 0.2))
    if dice.random() < 0.5:
        partial = numpy.sin(phase * between(dice, 1.5, 2.8)) * numpy.exp(-t / between(dice, 0.01, 0.06))
        sound += between(dice, 0.05, 0.5) * partial
    click = dice.standard_normal(len(t)) * numpy.exp(-t / between(dice, 0.001, 0.02))
    sound += between(dice, 0.01, 0.6) * level(below(click, between(dice, 900, 12000)))
    if dice.random() < 0.3:
        rustle = band(dice.standard_normal(len(t)), 200, between(dice, 1000, 8000)) * numpy.exp(-t / between(dice, 0.03, 0.2))
        sound += between(dice, 0.005, 0.1) * rustle
    return numpy.tanh(sound * between(dice, 1, 4)) if dice.random() < 0.4 else sound


def snare(dice):
    t = time(0.6)
    hertz, drop = between(dice, 130, 380), between(dice, 1, 1.6)
    phase = 2 * numpy.pi * numpy.cumsum(hertz * (1 + (drop - 1) * numpy.exp(-t / 0.02))) / RATE
    sound = dice.uniform(0, 1) * numpy.sin(phase) * numpy.exp(-t / between(dice, 0.02, 0.12))
    sound += dice.uniform(0, 0.7) * numpy.sin(phase * between(dice, 1.4, 2.2)) * numpy.exp(-t / between(dice, 0.015, 0.08))
    low = between(dice, 150, 2500)
    wires = band(dice.standard_normal(len(t)), low, max(between(dice, 3000, 20000), 2 * low), int(dice.integers(1, 3)))
    if dice.random() < 0.5:
        bright = band(dice.standard_normal(len(t)), between(dice, 800, 4000), between(dice, 5000, 16000), 1)
        wires += between(dice, 0.1, 1) * bright
    sound += between(dice, 0.3, 1.5) * level(wires * numpy.exp(-t / between(dice, 0.02, 0.15)))
    click = dice.standard_normal(len(t)) * numpy.exp(-t / between(dice, 0.001, 0.008))
    sound += dice.uniform(0, 0.6) * level(click)
    return numpy.tanh(sound * between(dice, 1, 3)) if dice.random() < 0.3 else sound


def clap(dice):
    t = time(0.5)
    decay = numpy.zeros(len(t))
    for hand in range(int(dice.integers(1, 5))):
        at = int(hand * dice.uniform(0.007, 0.014) * RATE)
        decay[at:] += numpy.exp(-t[: len(t) - at] / between(dice, 0.002, 0.006))
    decay += dice.uniform(0.1, 0.8) * numpy.exp(-t / between(dice, 0.02, 0.12))
    hertz = between(dice, 700, 2200)
    return band(dice.standard_normal(len(t)), hertz / between(dice, 1.2, 2), hertz * between(dice, 1.3, 4), 1) * decay


def rim(dice):
    t = time(0.3)
    sound = numpy.zeros(len(t))
    for _ in range(int(dice.integers(2, 5))):
        partial = numpy.sin(2 * numpy.pi * between(dice, 350, 2600) * t + dice.uniform(0, 6))
        sound += dice.uniform(0.2, 1) * partial * numpy.exp(-t / between(dice, 0.004, 0.035))
    click = band(dice.standard_normal(len(t)), 400, between(dice, 4000, 14000), 1) * numpy.exp(-t / between(dice, 0.001, 0.01))
    return sound + dice.uniform(0.05, 0.8) * level(click)


def cymbal(dice):
    """A hat, open or closed, or a shaker."""
    t = time(0.8)
    sound = dice.standard_normal(len(t)) * dice.uniform(0.2, 1)
    if dice.random() < 0.7:
        hertz = between(dice, 250, 900)
        for _ in range(6):
            square = numpy.sign(numpy.sin(2 * numpy.pi * hertz * dice.uniform(1, 9) * t + dice.uniform(0, 6)))
            sound += dice.uniform(0.2, 1) * square
    sound = above(sound, between(dice, 1800, 8500), int(dice.integers(1, 4)))
    if dice.random() < 0.4:
        sound = below(sound, between(dice, 9000, 20000), 1)
    if dice.random() < 0.7:
        decay = numpy.exp(-t / between(dice, 0.008, 0.06)) + dice.uniform(0, 0.2) * numpy.exp(-t / between(dice, 0.02, 0.2))
    else:
        decay = numpy.exp(-t / between(dice, 0.06, 0.4))
    sound *= decay
    if dice.random() < 0.25:
        sound *= 1 - numpy.exp(-t / between(dice, 0.001, 0.012))
    if dice.random() < 0.25:
        stick = numpy.sin(2 * numpy.pi * between(dice, 200, 900) * t) * numpy.exp(-t / between(dice, 0.004, 0.02))
        sound += between(dice, 0.02, 0.2) * stick * numpy.abs(sound).max()
    return sound


KINDS = [[kick], [snare, snare, snare, clap, rim], [cymbal]]


def drum(kind, dice):
    """A low (0), a middle (1) or a high (2) sound at full level."""
    made = KINDS[kind]
    return level(made[int(dice.integers(len(made)))](dice))


def equalised(sound, dice):
    """With a bell or two of some dB [practice] by the bilinear transform (R. Bristow-Johnson's cookbook [memory]); some die away sooner."""
    for _ in range(2):
        if dice.random() < 0.6:
            angle = 2 * numpy.pi * between(dice, 80, 12000) / RATE
            gain, wide = 10 ** (dice.normal(0, 4) / 40), numpy.sin(angle) / 1.6
            over = [1 + wide * gain, -2 * numpy.cos(angle), 1 - wide * gain]
            under = [1 + wide / gain, -2 * numpy.cos(angle), 1 - wide / gain]
            sound = sosfilt([[*over, *under]] / numpy.float64(under[0]), sound)
    if dice.random() < 0.3:
        sound = sound * numpy.exp(-numpy.arange(len(sound)) / RATE / between(dice, 0.04, 0.5))
    return sound
