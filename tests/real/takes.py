"""Writes takes whose truth is known: drums, mouth sounds and taps; instruments; a voice that is told its pitches.

    takes.py FOLDER [--half tune|kept] [--short]

Makes FOLDER/HALF/hits-*.wav and notes-*.wav, each with what is known of it as .json beside it: `hits` of seconds, class (low, mid,
high) and velocity, `tempo`, `first` (seconds of beat 1); `notes` of seconds, end, pitch as a fractional MIDI key, `cents` of the
take's tuning. Nothing is played by pressroll: drums are recordings of General MIDI banks put down sample by sample, instruments a
synthesiser's (fluidsynth), the mouth and the voice a speech synthesiser's (espeak-ng), whose vowels WORLD (pyworld) gives pitches.
No bank's preset, drum or voice is in both halves. Every third take is dry and clean; the others have a room, and noise 40 or 20 dB
under their mean level. `--short` makes what continuous integration has time for, and no voices.
"""

import argparse
import hashlib
import json
import subprocess
import tempfile
from pathlib import Path

import mido
import numpy
import soundfile
import soxr
from scipy.signal import fftconvolve, lfilter

from recordings import Material

RATE = 48000
NOISES = [None, 40, 20]
FONTS = {"tune": "TimGM6mb.sf2", "kept": "FluidR3_GM.sf2"}
# General MIDI programs from 0, and the lowest and highest key that is asked of each; [practice] for the ranges.
INSTRUMENTS = {
    "tune": {"finger bass": (33, 28, 50), "trumpet": (56, 58, 80), "clarinet": (71, 55, 84), "viola": (41, 50, 77),
             "tenor sax": (66, 48, 72), "nylon guitar": (24, 45, 74), "recorder": (74, 66, 90), "ocarina": (79, 66, 88)},
    "kept": {"picked bass": (34, 28, 50), "trombone": (57, 44, 68), "flute": (73, 62, 90), "violin": (40, 57, 86),
             "alto sax": (65, 52, 77), "steel guitar": (25, 45, 74), "oboe": (68, 60, 86), "horn": (60, 45, 72)},
}
SINGERS = {"tune": [("en+m3", 43, 62), ("en+f2", 57, 76)], "kept": [("en+m1", 43, 62), ("en+f4", 57, 76)]}
MOUTHS = {"tune": ["en+m3", "en+m7"], "kept": ["en+m1", "en+m5"]}
SYLLABLES = ["l", "n", "d"]
SCALE = [0, 2, 4, 5, 7, 9, 11]


def dice_of(*words):
    return numpy.random.default_rng(int.from_bytes(hashlib.sha256(repr(words).encode()).digest()[:8]))


def in_room(sound, dice, seconds):
    """With the answer of a made room: noise that decays, 10 ms late, its level 12 dB under the sound."""
    frames = numpy.arange(round(seconds * RATE))
    answer = dice.standard_normal(len(frames)) * 10 ** (-3 * frames / len(frames))
    answer = numpy.convolve(answer, numpy.ones(4) / 4)[: len(frames)]
    wet = fftconvolve(sound, answer)[: len(sound)]
    wet *= 10 ** (-12 / 20) * rms(sound) / max(rms(wet), 1e-12)
    late = RATE // 100
    return sound + numpy.concatenate([numpy.zeros(late), wet[:-late]])


def rms(sound):
    return float(numpy.sqrt(numpy.mean(sound**2)))


def finished(sound, turn, dice):
    """The take as a microphone has it: in a room, with noise and hum, at some level; every seventh is clipped."""
    if turn % 3:
        sound = in_room(sound, dice, dice.uniform(0.2, 0.5))
    noise = NOISES[turn % 3]
    if noise:
        hiss = dice.standard_normal(len(sound))
        hiss += 0.5 * numpy.sin(2 * numpy.pi * 50 * numpy.arange(len(sound)) / RATE)
        sound = sound + hiss * rms(sound) / rms(hiss) * 10 ** (-noise / 20)
    sound = sound / numpy.abs(sound).max() * dice.uniform(0.2, 0.9)
    if turn % 7 == 6:
        level = 0.7 * numpy.abs(sound).max()
        sound = numpy.clip(sound, -level, level)
    return sound


def write(folder, name, sound, truth):
    soundfile.write(folder / f"{name}.wav", sound, RATE, subtype="PCM_24")
    (folder / f"{name}.json").write_text(json.dumps(truth, indent=1))


def begins(sound):
    """The frame from which a one-shot is within 30 dB of its peak: where an ear hears it begin."""
    return int(numpy.argmax(numpy.abs(sound) > numpy.abs(sound).max() * 10 ** (-30 / 20)))


def spoken(voice, text, speed=140, pitch=50):
    with tempfile.TemporaryDirectory() as work:
        path = Path(work) / "said.wav"
        subprocess.run(["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "-w", path, text], check=True)
        sound, rate = soundfile.read(path)
    return soxr.resample(sound, rate, RATE)


def dying(sound, seconds):
    """From its onset on, falling by 40 dB in so many seconds, at full level."""
    sound = sound[begins(sound) :][: round(seconds * RATE)]
    sound = sound * 10 ** (-2 * numpy.arange(len(sound)) / (seconds * RATE))
    return sound / numpy.abs(sound).max()


def mouth(voice, spoken=spoken):
    """A mouth's low, mid and high sounds: stops that die away."""
    # A voiced thump after a burst, a burst from far back, a hiss.
    burst, thump = spoken(voice, "[[p]]", 200, 5), spoken(voice, "[[b@m]]", 200, 5)
    thump = dying(thump[int(numpy.argmax(numpy.abs(thump) > 0.5 * numpy.abs(thump).max())) :], 0.15)
    burst = dying(burst, 0.03)
    low = thump + 0.5 * numpy.pad(burst, (0, len(thump)))[: len(thump)] / numpy.abs(burst).max() * numpy.abs(thump).max()
    return [low, dying(spoken(voice, "[[k]]", 200), 0.1), dying(numpy.diff(spoken(voice, "[[ts]]", 200)), 0.08)]


def one_shots(drums, dice):
    """A low, a mid and a high sound, each from its onset on."""
    sounds = []
    for pieces in [("kick",), ("snare",), ("hat-closed", "hat-pedal")]:
        drum = drums[dice.choice([n for n, drum in enumerate(drums) if set(drum.pieces) & set(pieces)])]
        recording = drum.strokes[dice.integers(len(drum.strokes))]
        sound = soxr.resample(recording.sides[0], recording.rate, RATE)
        sounds.append(sound[begins(sound) :][:RATE])
    return sounds


def struck(sound, velocity, dice):
    """One stroke of a sound: no two are alike in pitch and colour, and soft ones are darker."""
    speed = 1 + 0.01 * dice.standard_normal()
    places = numpy.arange(int((len(sound) - 1) / speed)) * speed
    sound = numpy.interp(places, numpy.arange(len(sound)), sound)
    dark = numpy.clip(0.7 * (1 - velocity / 127) + 0.1 * dice.standard_normal(), 0, 0.9)
    return sound * (1 - dark) + dark * lfilter([0.25], [1, -0.75], sound)


def groove(dice):
    """Sixteenths of a bar with class and velocity: a back beat, hats, ghosts, some of it by chance."""
    hits = []
    for step in range(16):
        if step in (0, 8) or dice.random() < 0.12:
            hits.append((step, 0, dice.uniform(80, 115)))
        if step in (4, 12):
            hits.append((step, 1, dice.uniform(90, 118)))
        elif dice.random() < 0.12:
            hits.append((step, 1, dice.uniform(30, 50)))
        if step % 2 == 0 and dice.random() < 0.9 or dice.random() < 0.15:
            hits.append((step, 2, dice.uniform(50, 100)))
    return hits


def hits(folder, half, turn, drums, bars=8):
    dice = dice_of("hits", half, turn)
    by_mouth, single = turn % 4 == 3, turn % 4 >= 2
    sounds = mouth(str(dice.choice(MOUTHS[half]))) if by_mouth else one_shots(drums, dice)
    levels = [1.0, 0.9, 0.5]
    tempo = float(dice.uniform(72, 150))
    swing = float(dice.choice([0.5, 0.5, 0.58]))
    first = float(dice.uniform(0.2, 0.8))
    step = 60 / tempo / 4
    pattern = groove(dice)
    if single:  # One mouth or one hand: one sound at a time.
        pattern = list({place: (place, which, velocity) for place, which, velocity in reversed(pattern)}.values())
    known, sound = [], numpy.zeros(round((first + bars * 16 * step + 1.5) * RATE))
    for bar in range(bars):
        for place, which, velocity in pattern:
            late = (place % 2) * (2 * swing - 1) * step
            at = first + (bar * 16 + place) * step + late + dice.normal(0, 0.004)
            frame = round(at * RATE)
            shot = struck(sounds[which], velocity, dice) * levels[which] * 10 ** ((velocity - 127) / 127 * 24 / 20)
            sound[frame : frame + len(shot)] += shot[: len(sound) - frame]
            known.append({"seconds": frame / RATE, "class": ["low", "mid", "high"][which], "velocity": velocity})
    known.sort(key=lambda hit: hit["seconds"])
    truth = {"hits": known, "tempo": tempo, "first": first, "noise": NOISES[turn % 3], "mouth": by_mouth, "bars": bars}
    write(folder, f"hits-{turn:02}", finished(sound, turn, dice), truth)


def melody(dice, low, high, step):
    """Onset, end and key of some notes: steps and small leaps of a scale, with rests."""
    tonic, notes, at = int(dice.integers(12)), [], 0.0
    ladder = [key for key in range(low, high + 1) if (key - tonic) % 12 in SCALE]
    place = len(ladder) // 2
    while at < 10:
        length = step * float(dice.choice([1, 2, 2, 3, 4]))
        place = int(numpy.clip(place + dice.choice([-3, -2, -1, -1, 0, 1, 1, 2, 3]), 0, len(ladder) - 1))
        if dice.random() < 0.9:
            notes.append((at, at + length * float(dice.uniform(0.75, 0.98)), ladder[place]))
        at += length
    return notes


def truth_of(notes, first, cents, **more):
    told = [{"seconds": first + on, "end": first + off, "midi": key + cents / 100} for on, off, key in notes]
    return {"notes": told, "cents": cents, **more}


def instrument(folder, half, turn, name):
    program, low, high = INSTRUMENTS[half][name]
    dice = dice_of("notes", half, name, turn)
    notes = melody(dice, low, high, float(dice.uniform(0.12, 0.25)))
    cents, first = float(dice.uniform(-40, 40)), 0.4
    song = mido.MidiFile(ticks_per_beat=9600)
    track = mido.MidiTrack()
    song.tracks.append(track)
    events = [(0, mido.Message("program_change", program=program))]
    events.append((0, mido.Message("pitchwheel", pitch=round(cents / 200 * 8192))))
    for on, off, key in notes:
        events.append((first + on, mido.Message("note_on", note=key, velocity=int(dice.integers(70, 120)))))
        events.append((first + off, mido.Message("note_off", note=key)))
    now = 0
    for seconds, event in sorted(events, key=lambda pair: pair[0]):
        tick = round(seconds * 19200)  # 120 BPM.
        track.append(event.copy(time=tick - now))
        now = tick
    with tempfile.TemporaryDirectory() as work:
        song.save(Path(work) / "song.mid")
        font = Path("/usr/share/sounds/sf2") / FONTS[half]
        made = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE), "-F", f"{work}/song.wav", font]
        subprocess.run([*made, f"{work}/song.mid"], check=True, capture_output=True)
        sound, _ = soundfile.read(f"{work}/song.wav", always_2d=True)
    truth = truth_of(notes, first, cents, by=name, noise=NOISES[turn % 3])
    write(folder, f"notes-{name.replace(' ', '-')}-{turn:02}", finished(sound.mean(axis=1), turn, dice), truth)


def sung(voice, syllable, length, pitch, before, dice):
    """One syllable at a pitch (a fractional key), come to from the one before in 50 ms, with vibrato once it stands."""
    import pyworld  # Only voices need it.

    said = spoken(voice, f"[[{syllable}a:]]", 120)
    said = said[begins(said):]
    f0, times = pyworld.harvest(said, RATE)
    spectrum, noise = pyworld.cheaptrick(said, f0, times, RATE), pyworld.d4c(said, f0, times, RATE)
    frames = max(8, round(length / 0.005))
    # What comes before the vowel takes 30 ms; it is voiced too.
    power = spectrum.sum(axis=1)
    vowel, end = int(numpy.argmax(power > 0.3 * power.max())), round(len(f0) * 0.7)
    onset = min(6, frames // 2)
    source = numpy.concatenate([numpy.linspace(0, vowel, onset), numpy.linspace(vowel, max(end, vowel + 1), frames - onset)])
    source = source.round().astype(int)
    at = numpy.arange(frames) * 0.005
    contour = numpy.full(frames, pitch)
    if before is not None:
        contour += (before - pitch) * numpy.clip(1 - at / 0.05, 0, 1)
    depth = dice.uniform(0.1, 0.35)
    contour += depth * numpy.sin(2 * numpy.pi * 5.5 * at) * numpy.clip((at - 0.2) / 0.2, 0, 1)
    contour += 0.05 * numpy.cumsum(dice.standard_normal(frames)) / numpy.sqrt(frames)
    hz = 440 * 2 ** ((contour - 69) / 12)
    made = pyworld.synthesize(hz, spectrum[source], noise[source] * (numpy.arange(frames) < onset)[:, None] * 0.7 + 0.01, RATE)
    made = made[: round(length * RATE)]
    fade = numpy.clip((len(made) - numpy.arange(len(made))) / (0.03 * RATE), 0, 1)
    return made * fade / max(rms(made), 1e-9) * 0.1


def voice(folder, half, turn, singer):
    name, low, high = SINGERS[half][singer]
    dice = dice_of("voice", half, turn, singer)
    notes = melody(dice, low, high, float(dice.uniform(0.18, 0.3)))
    cents, first = float(dice.uniform(-40, 40)), 0.4
    sound = numpy.zeros(round((first + notes[-1][1] + 1) * RATE))
    syllable, before = str(dice.choice(SYLLABLES)), None
    for on, off, key in notes:
        made = sung(name, syllable, off - on, key + cents / 100, before, dice) * 10 ** (dice.uniform(-6, 0) / 20)
        frame = round((first + on) * RATE)
        sound[frame : frame + len(made)] += made[: len(sound) - frame]
        before = key + cents / 100
    truth = truth_of(notes, first, cents, by=name, voice=True, noise=NOISES[turn % 3])
    write(folder, f"notes-voice{singer}-{turn:02}", finished(sound, turn, dice), truth)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--half", choices=["tune", "kept"])
    arguments.add_argument("--short", action="store_true")
    asked = arguments.parse_args()
    material = Material(marching=False, instruments=False)
    for half in [asked.half] if asked.half else ["tune", "kept"]:
        folder = asked.folder / half
        folder.mkdir(parents=True, exist_ok=True)
        drums = material.half(half)[0]
        for turn in range(8 if asked.short else 24):
            hits(folder, half, turn, drums)
        for turn in range(1 if asked.short else 3):
            for number, name in enumerate(INSTRUMENTS[half]):
                instrument(folder, half, (turn + number) % 3 + 3 * turn, name)
        for turn in range(0 if asked.short else 6):
            for singer in range(len(SINGERS[half])):
                voice(folder, half, turn, singer)


if __name__ == "__main__":
    main()
