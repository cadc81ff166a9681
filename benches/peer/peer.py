"""A loop rendered with numpy and scipy, as one would write it who knows both: what pressroll's speed is held against.

python peer.py LOOP.toml HITS.json OUT.wav [PIECE]

The same work as `pressroll render`: one-shots decoded, hits placed round the circle with velocity, takes, layers, dark
and vary; strips, sends, a room by FFT convolution, echoes by recursive filters, drive at four times the rate, a
compressor, loudness by ITU-R BS.1770, a true-peak ceiling, the meter, a dithered 24-bit stereo WAV. It prints one JSON
object with the figures and the seconds that it took within, imports left out.

How it is fair: all audio is worked on by whole arrays, and no loop runs a frame at a time. Mixing adds a slice a hit;
filters are `sosfilt` and `lfilter`; the compressor's and the ceiling's releases are running maxima in the logarithm;
attacks are one-pole filters; the delay goes by blocks as long as its time; FFTs may use every core. Audio is float32
where numpy leaves it so. What is oversampled goes through in one array, as it is written down first; with PIECE, in
pieces of so many frames, which a cache holds. Where pressroll takes more care, the peer does the cheaper thing: repitching by linear
interpolation, echoes on whole frames, peaks at quarters of a frame, a room of two bands, no score to write.
"""

import json
import sys
import time
import tomllib
import wave
from pathlib import Path

import numpy as np
import scipy.fft
from scipy import signal
from scipy.ndimage import maximum_filter1d, uniform_filter1d

RATE = 48_000
ENDS = 64  # frames that what is oversampled needs beside it
BEGUN = time.perf_counter()
STAGES = {}


def stage(name, since=[BEGUN]):
    """Notes the seconds since the last call under a name."""
    now = time.perf_counter()
    STAGES[name] = STAGES.get(name, 0.0) + now - since[0]
    since[0] = now


def amplitude(db):
    return 10.0 ** (db / 20.0)


def decibels(x):
    return 20.0 * np.log10(x)


# The kit


def decode(path):
    """A mono 24-bit WAV as float32."""
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 3, RATE), path
        raw = np.frombuffer(file.readframes(file.getnframes()), np.uint8).reshape(-1, 3)
    wide = np.zeros((len(raw), 4), np.uint8)
    wide[:, 1:] = raw
    return wide.view("<i4")[:, 0].astype(np.float32) * np.float32(2.0**-31)


def from_middle(zone):
    """Semitones between a zone's root and C4, at which a hit without a pitch is played."""
    letter, octave = zone["root"][0], int(zone["root"][1:])
    return abs("C D EF G A B".index(letter) + 12 * (octave - 4))


class Kit:
    """The pieces of a kit.toml; files are decoded when they are first played."""

    def __init__(self, folder):
        self.folder = folder
        pieces = tomllib.loads((folder / "kit.toml").read_text())["piece"]
        self.pieces = {piece["name"]: piece for piece in pieces}
        self.decoded, self.dulled = {}, {}

    def takes(self, name, velocity):
        """The files of the layer that a velocity falls into, and that layer's top."""
        piece = self.pieces[name]
        if "layers" in piece:
            layer = next(layer for layer in piece["layers"] if velocity <= layer.get("upto", 127))
            return layer["files"], layer.get("upto", 127)
        return piece.get("files") or [min(piece["zones"], key=from_middle)["file"]], 127

    def sound(self, name, file, velocity):
        """A file as a velocity plays it: duller the softer, by one pole."""
        if file not in self.decoded:
            self.decoded[file] = decode(self.folder / file)
        octaves = 7.0 * self.pieces[name].get("dark", 0) / 100.0 * (1.0 - velocity / 127.0)
        if octaves == 0.0:
            return self.decoded[file]
        key = (file, velocity)
        if key not in self.dulled:
            share = 1.0 - np.exp(-2.0 * np.pi * 20_000.0 * 2.0**-octaves / RATE)
            coefficients = np.float32([share]), np.float32([1.0, share - 1.0])
            self.dulled[key] = signal.lfilter(*coefficients, self.decoded[file])
        return self.dulled[key]


# The parts


def contour(settings, frames):
    """An envelope with hold and decay, 60 dB in the decay's time, as factors."""
    hold = int(settings.get("hold", 0) * RATE / 1000)
    fall = np.arange(max(frames - hold, 0)) * (-np.log(1000.0) / (settings["decay"] * RATE / 1000))
    gains = np.ones(frames, np.float32)
    gains[hold:] = np.exp(fall)
    end = hold + int((settings["decay"] + 5) * RATE / 1000)
    return gains[:end]


def add_round(out, at, sound):
    """Adds a sound at a frame; what goes over the end begins again at the front."""
    first = min(len(sound), len(out) - at)
    out[at : at + first] += sound[:first]
    if first < len(sound):
        out[: len(sound) - first] += sound[first:]


def play(part, hits, kit, beat, frames):
    """A part's dry audio, mono."""
    name = part["name"]
    random = np.random.default_rng(1)
    out = np.zeros(frames, np.float32)
    turns, steps, contours = {}, {}, {}
    for number, (at, velocity, is_open) in enumerate(hits):
        piece = "hat-open" if is_open else name
        settings = kit.pieces[piece]
        files, top = kit.takes(piece, velocity)
        turn = turns[files[0]] = turns.get(files[0], -1) + 1
        sound = kit.sound(piece, files[turn % len(files)], velocity)
        gain_db = settings.get("touch", 1.0) * 40.0 * np.log10(velocity / top)
        if "vary" in settings:
            step = int(random.integers(16))
            gain_db += settings["vary"]["gain"] * random.uniform(-1.0, 1.0)
            key = (files[turn % len(files)], velocity, step)
            if key not in steps:
                speed = 2.0 ** (settings["vary"]["tune"] * (step / 7.5 - 1.0) / 12.0)
                places = np.arange(0.0, len(sound) - 1, speed)
                steps[key] = np.interp(places, np.arange(len(sound)), sound).astype(np.float32)
            sound = steps[key]
        sound = sound * np.float32(amplitude(gain_db))
        if "envelope" in part:
            if len(sound) not in contours:
                contours[len(sound)] = contour(part["envelope"], len(sound))
            gains = contours[len(sound)]
            sound = sound[: len(gains)] * gains
        if is_open:
            # The next hat chokes it in 5 ms.
            after = hits[number + 1][0] if number + 1 < len(hits) else hits[0][0] + frames / RATE / beat
            until, fade = round((after - at) * beat * RATE), int(0.005 * RATE)
            sound = sound[: until + fade]
            sound[until:] *= np.linspace(1.0, 0.0, len(sound) - until, dtype=np.float32)
        add_round(out, round(at * beat * RATE) % frames, sound)
    return out


def panned(mono, pan):
    """Equal power: 3 dB down on each side at the centre."""
    angle = (pan / 100.0 + 1.0) * np.pi / 4.0
    return mono * np.float32([[np.cos(angle)], [np.sin(angle)]])


# Filters on a circle


def cut(kind, hertz):
    return signal.butter(2, hertz, kind, fs=RATE, output="sos")


def bell(at, gain_db, octaves):
    """R. Bristow-Johnson's audio EQ formulas [memory]."""
    w = 2.0 * np.pi * at / RATE
    alpha = np.sin(w) * np.sinh(np.log(2.0) / 2.0 * octaves * w / np.sin(w))
    a = 10.0 ** (gain_db / 40.0)
    b = [1.0 + alpha * a, -2.0 * np.cos(w), 1.0 - alpha * a]
    under = [1.0 + alpha / a, -2.0 * np.cos(w), 1.0 - alpha / a]
    return np.array([b + under]) / under[0]


def filtered(sos, audio):
    """Filters that have come to rest round the circle: run in over a second of the end."""
    run_in = np.concatenate([audio[:, -RATE:], audio], axis=1)
    return signal.sosfilt(sos, run_in)[:, RATE:].astype(np.float32)


# Effects


def released(db, seconds):
    """max(db[n], kept * released[n - 1]), by a running maximum of logarithms. Never below 1e-12 dB."""
    rise = np.arange(db.shape[-1]) / (seconds * RATE)
    return np.exp(np.maximum.accumulate(np.log(np.maximum(db, 1e-12)) + rise) - rise)


def compress(audio, settings):
    """The compressor of Giannoulis, Massberg, Reiss (JAES 2012), behind a knee of 6 dB; and its deepest reduction."""
    release, attack = settings["release"] / 1000, settings["attack"] / 1000
    run_in = int(7 * release * RATE)
    level = maximum_filter1d(np.abs(audio).max(axis=0), int(0.006 * RATE), mode="wrap", origin=143)
    level = np.concatenate([level[-run_in:], level])
    over = decibels(np.maximum(level, 1e-9)) - settings["threshold"]
    slope = 1.0 - 1.0 / settings["ratio"]
    knee = 6.0
    target = slope * np.where(over > knee / 2, over, np.clip(over + knee / 2, 0.0, None) ** 2 / (2 * knee))
    keep = np.exp(-1.0 / (attack * RATE))
    reduction = released(signal.lfilter([1.0 - keep], [1.0, -keep], target), release)[run_in:]
    wet = settings["blend"] / 100.0
    gains = wet * amplitude(-reduction) + (1.0 - wet)
    return audio * gains.astype(np.float32), reduction.max()


def pieces(audio):
    """The range of each piece, and the piece with some frames more at either end."""
    whole = np.pad(audio, ((0, 0), (ENDS, ENDS)), mode="wrap")
    frames = audio.shape[1]
    for at in range(0, frames, PIECE or frames):
        end = min(at + (PIECE or frames), frames)
        yield slice(at, end), whole[:, at : end + 2 * ENDS]


def drive(audio, db):
    """A soft saturator at four times the rate; at most full scale, and the programme's mean level kept."""

    def curve(x):
        x = np.clip(x, -3.0, 3.0)
        square = x * x
        return x * (27.0 + square) / (27.0 + 9.0 * square)

    into = np.float32(0.5 * amplitude(db))
    back = np.float32(0.35 / curve(into * 0.35))
    out = np.empty_like(audio)
    for where, piece in pieces(audio):
        fast = signal.resample_poly(piece, 4, 1, axis=1)
        slow = signal.resample_poly(curve(fast * into), 1, 4, axis=1)
        out[:, where] = back * slow[:, ENDS:-ENDS]
    return out


def room_response(settings):
    """Four paths of noise that decays in two bands, energy 1 to each side."""
    decay = settings["decay"]
    frames = int(decay * 96.0 / 60.0 * RATE)
    fall = -np.log(1000.0) * np.arange(frames) / RATE
    noise = np.random.default_rng(1979).standard_normal((2, 2, frames))
    high = signal.sosfilt(cut("highpass", 4000.0), noise)
    damping = settings.get("damping", 0.4)
    paths = (noise - high) * np.exp(fall / decay) + high * np.exp(fall / (decay * (1.0 - 0.8 * damping)))
    paths /= np.sqrt((paths.sum(axis=0) ** 2).sum(axis=-1))[None, :, None]
    wait = int((settings.get("predelay", 10) / 1000 + 0.01) * RATE)
    paths = signal.sosfilt(cut("highpass", settings.get("low_cut", 150.0)), paths)
    return np.pad(paths, ((0, 0), (0, 0), (wait, 0))).astype(np.float32)


def room(send, settings):
    """Source by ear, folded round the circle."""
    wet = signal.oaconvolve(send[:, None, :], room_response(settings), axes=2).sum(axis=0)
    frames = send.shape[1]
    out = wet[:, :frames].astype(np.float32)
    out[:, : wet.shape[1] - frames] += wet[:, frames:]
    return out


def delay(send, settings, beat):
    """Echoes with their cuts inside the feedback, by blocks as long as the delay, run in round the circle."""
    frames = send.shape[1]
    length = round(0.75 * beat * RATE)  # "1/8 dotted"
    feedback = settings["feedback"] / 100.0
    sos = np.vstack([cut("highpass", 200.0), cut("lowpass", 6000.0)])
    state = np.zeros((len(sos), 2, 2))
    run_in = length * (int(np.ceil(120.0 / -decibels(feedback))) + 1)
    dry = np.concatenate([send[:, -run_in:], send], axis=1)
    wet = np.zeros_like(dry)
    line = np.zeros((2, length))
    for at in range(0, dry.shape[1], length):
        block = dry[:, at : at + length]
        answer, state = signal.sosfilt(sos, line[:, : block.shape[1]], zi=state)
        wet[:, at : at + length] = answer
        line = block + feedback * answer
    return wet[:, -frames:]


# The master


def weighting():
    """K-weighting at 48 kHz: ITU-R BS.1770-5, annex 1, tables 1 and 2."""
    shelf = [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585]
    high = [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621]
    return np.array([shelf, high])


def loudness(audio):
    """Integrated loudness in LUFS, gated at -70 LUFS and 10 LU below the mean (ITU-R BS.1770-5)."""
    hop = RATE // 10
    weighted = signal.sosfilt(weighting(), audio)
    hops = audio.shape[1] // hop
    power = (weighted[:, : hops * hop].reshape(2, hops, hop) ** 2).mean(axis=2).sum(axis=0)
    blocks = np.convolve(power, np.full(4, 0.25), "valid")
    blocks = blocks[blocks > 10.0 ** ((-70.0 + 0.691) / 10.0)]
    blocks = blocks[blocks > blocks.mean() / 10.0]
    return -0.691 + 10.0 * np.log10(blocks.mean())


def true_peaks(audio):
    """Each frame's peak over both sides, read at quarters of a frame (ITU-R BS.1770-5, annex 2)."""
    peaks = np.empty(audio.shape[1], np.float32)
    for where, piece in pieces(audio):
        fast = np.abs(signal.resample_poly(piece, 4, 1, axis=1)[:, 4 * ENDS : -4 * ENDS])
        peaks[where] = np.maximum(fast[0], fast[1]).reshape(-1, 4).max(axis=1)
    return peaks


def ceiling(audio, peaks, db):
    """A look-ahead limiter: the gain that a peak needs, held, released, and averaged twice over 1.5 ms."""
    mean = int(0.0015 * RATE)
    need = np.maximum(decibels(np.maximum(peaks, 1e-9)) - (db - 0.1), 0.0)
    run_in = int(7 * 0.08 * RATE)
    held = maximum_filter1d(need, 2 * mean + 17, mode="wrap")
    held = released(np.concatenate([held[-run_in:], held]), 0.08)[run_in:]
    smooth = uniform_filter1d(uniform_filter1d(held, mean, mode="wrap"), mean, mode="wrap")
    return audio * amplitude(-smooth).astype(np.float32)


def master(audio, settings):
    """Gain and ceiling until the loudness is right within 0.05 LU."""
    target = settings["loudness"]
    gain_db = target - loudness(audio)
    stage("loudness")
    peaks = true_peaks(audio)
    stage("ceiling")
    for _ in range(8):
        gain = np.float32(amplitude(gain_db))
        out = ceiling(audio * gain, peaks * gain, settings["ceiling"])
        stage("ceiling")
        lufs = loudness(out)
        stage("loudness")
        if abs(target - lufs) <= 0.05:
            break
        gain_db += 1.5 * (target - lufs)
    return out, lufs


def write(path, audio):
    """24 bits with triangular dither."""
    random = np.random.default_rng(1)
    full = 2.0**23
    frames = np.ascontiguousarray(audio.T)
    dither = random.random(frames.shape, np.float32) - random.random(frames.shape, np.float32)
    whole = np.clip(np.rint(frames * np.float64(full) + dither), -full, full - 1).astype("<i4")
    packed = whole.view(np.uint8).reshape(-1, 4)[:, :3]
    with wave.open(path, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(3)
        file.setframerate(RATE)
        file.writeframes(packed.tobytes())


# The whole way


def mix(loop, hits, kit):
    """Everything before the master."""
    beat = 60.0 / loop["loop"]["tempo"]
    frames = round(hits["beats"] * beat * RATE)
    settings = {part["name"]: part for part in loop["part"]}
    buses = {bus["name"]: np.zeros((2, frames), np.float32) for bus in loop["bus"]}
    total, to_room, to_delay = (np.zeros((2, frames), np.float32) for _ in range(3))
    peaks = {}
    for name, strokes in hits["parts"].items():
        part = settings.get(name, {"name": name})
        strip = panned(play(part, strokes, kit, beat, frames), part.get("pan", 0))
        peaks[name] = float(decibels(np.abs(strip).max()))
        target = buses[part["bus"]] if "bus" in part else total
        target += strip
        for key, send in (("room", to_room), ("delay", to_delay)):
            if key in part:
                send += strip * np.float32(amplitude(part[key]))
    stage("parts")
    reductions = {}
    for bus in loop["bus"]:
        audio = buses[bus["name"]]
        sections = [cut("highpass", bus["low_cut"])] if "low_cut" in bus else []
        sections += [bell(b["at"], b["gain"], b["width"]) for b in bus.get("eq", [])]
        if sections:
            audio = filtered(np.vstack(sections), audio)
        if "compress" in bus:
            audio, reductions[bus["name"]] = compress(audio, bus["compress"])
            stage("compressor")
        if "drive" in bus:
            audio = drive(audio, bus["drive"])
            stage("drive")
        total += audio
    stage("buses")
    total += room(to_room, loop["room"])
    stage("room")
    total += delay(to_delay, loop["delay"], beat)
    stage("delay")
    return total, peaks, reductions


def main(loop_path, hits_path, out_path):
    loop = tomllib.loads(Path(loop_path).read_text())
    hits = json.loads(Path(hits_path).read_text())
    kit = Kit(Path(loop_path).parent / loop["loop"]["kit"])
    with scipy.fft.set_workers(-1):
        audio, peaks, reductions = mix(loop, hits, kit)
        audio, lufs = master(audio, loop["master"])
    true_peak_db = float(decibels(true_peaks(audio).max()))
    stage("meter")
    write(out_path, audio)
    stage("write")
    told = {
        "seconds": time.perf_counter() - BEGUN,
        "frames": audio.shape[1],
        "lufs": float(lufs),
        "true_peak_db": true_peak_db,
        "hits": sum(len(strokes) for strokes in hits["parts"].values()),
        "parts": peaks,
        "gain_reduction_db": {name: float(db) for name, db in reductions.items()},
        "stages": {name: round(seconds, 3) for name, seconds in STAGES.items()},
    }
    print(json.dumps(told))


PIECE = int(sys.argv[4]) if len(sys.argv) > 4 else None
main(*sys.argv[1:4])
