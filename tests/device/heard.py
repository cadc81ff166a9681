"""Hears back what `play` and `watch --play` send to a sound device: the null sink of `sink`, whose monitor is recorded at the sink's own
rate and format, so that nothing is resampled. Arguments: a binary with the feature `sound`, a kit, an empty folder."""

import shutil
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
from scipy.io import wavfile

# Renders carry chunks that scipy does not know.
warnings.simplefilter("ignore", wavfile.WavFileWarning)

BINARY, KIT, WORK = (Path(argument).resolve() for argument in sys.argv[1:])
RATE, TEMPO, BARS = 48000, 120, 2
BAR = RATE * 4 * 60 // TEMPO
CHANGE = RATE // 100  # frames in which a newer render takes over
ROUNDS = 3
GOES = 5  # a machine with much else to do may be late once; a fault is there each time
FRAME = 8  # bytes of two floats


class Device:
    """The sound device that `sink` has begun, and what is recorded of it."""

    def record(self, path):
        self.path = path
        command = ["parec", "--device=quay.monitor", "--raw", "--format=float32le", f"--rate={RATE}", "--channels=2", "--latency-msec=50"]
        with path.open("wb") as file:
            self.recorder = subprocess.Popen(command, stdout=file, stderr=subprocess.DEVNULL)
        self.wait_for(RATE // 2)

    def frames(self):
        return self.path.stat().st_size // FRAME

    def wait_for(self, frames):
        """Lets the record come to so many frames."""
        for _ in range(600):
            if self.frames() >= frames:
                return
            time.sleep(0.1)
        raise AssertionError(f"the device has given {self.frames()} frames of {frames}")

    def recorded(self):
        self.recorder.terminate()
        self.recorder.wait(10)
        raw = self.path.read_bytes()
        return np.frombuffer(raw[: len(raw) // FRAME * FRAME], dtype="<f4").reshape(-1, 2)



def started(*arguments):
    return subprocess.Popen([BINARY, *arguments], cwd=WORK, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def loop(kick):
    return f'[loop]\nkit = "kit"\ntempo = {TEMPO}\nbars = {BARS}\n[tab]\n"all" = """\nkick {kick}\nsnare ---- X--g -g-- X---\nhat-closed x-x- x-x- x-x- x-x-\n"""\n[room]\ndecay = 0.6\n[[part]]\nname = "snare"\nroom = -14\n'


def save(text):
    (WORK / "beside").write_text(text)
    (WORK / "beside").rename(WORK / "loop.toml")


def rendered(name, *options):
    command = [BINARY, "render", "loop.toml", "-o", name, "--depth", "float", "--force", *options]
    subprocess.run(command, cwd=WORK, check=True, capture_output=True)
    return wavfile.read(WORK / name)[1].astype("<f4")


def aligned(record, wav):
    """The first frame that is no silence, and the frame of a repeating sound that it is, by the correlation of a round after it."""
    sounding = np.flatnonzero(np.abs(record).max(axis=1) > 0)
    assert len(sounding), "nothing is heard"
    first = int(sounding[0])
    part = record[first : first + len(wav)]
    assert len(part) == len(wav), "less than a round is heard"
    spectrum = lambda sound: np.fft.rfft(sound.astype(float).mean(axis=1))
    likeness = np.fft.irfft(spectrum(wav) * np.conj(spectrum(part)), len(wav))
    return first, int(np.argmax(likeness))


def apart(heard, expected):
    """How far two sounds are apart in each frame."""
    return np.abs(heard.astype(float) - expected.astype(float)).max(axis=1)


def around(wav, frames, first=0):
    """So many frames of a sound that repeats."""
    return np.take(wav, np.arange(first, first + frames), axis=0, mode="wrap")


def play(device):
    save(loop("X--- --x- -x-- ----"))
    wav = rendered("truth.wav")
    device.record(WORK / "played.raw")
    player = started("play", "loop.toml")
    assert "repeats" in player.stdout.readline()
    device.wait_for(device.frames() + (ROUNDS + 1) * len(wav))
    player.send_signal(signal.SIGINT)
    assert player.wait(10) == 0, player.stderr.read()
    record = device.recorded()
    first, at = aligned(record, wav)
    frames = ROUNDS * len(wav)
    heard = record[first : first + frames]
    difference = apart(heard, around(wav, frames, at))
    seams = [n * len(wav) - at for n in range(1, ROUNDS + 1)]
    at_seams = max(difference[max(0, seam - 100) : seam + 100].max() for seam in seams)
    worst = difference.max()
    said = f"play: {ROUNDS} rounds of {len(wav)} frames, largest difference {worst:.1e}, {at_seams:.1e} at the seams"
    assert worst == 0, f"{said}; it differs from frame {np.flatnonzero(difference)[0]} on"
    return said


def watch(device):
    save(loop("X--- --x- -x-- ----"))
    old = rendered("truth.wav")
    device.record(WORK / "watched.raw")
    watcher = started("watch", "loop.toml", "--play", "-o", "out.wav", "--depth", "float", "--force")
    watcher.stdout.readline()
    device.wait_for(device.frames() + len(old) + BAR // 3)
    save(loop("X-x- x-x- X-x- x-x-"))
    assert "kick" in watcher.stdout.readline()
    told = device.frames()
    device.wait_for(told + 2 * BAR + ROUNDS * len(old))
    watcher.send_signal(signal.SIGINT)
    assert watcher.wait(10) == 0, watcher.stderr.read()
    new = wavfile.read(WORK / "out.wav")[1].astype("<f4")
    record = device.recorded()
    first, at = aligned(record, old)
    heard = record[first:]
    others = np.flatnonzero(apart(heard, around(old, len(heard), at)) > 0)
    assert len(others), "the newer render does not come in"
    change = int(others[0])
    bar = (change + at) // BAR * BAR - at
    assert bar > 0, f"it differs from frame {change} on"
    heard = heard[: bar + CHANGE + ROUNDS * len(new)]
    before = apart(heard[:bar], around(old, bar, at)).max()
    behind = apart(heard[bar + CHANGE :], around(new, len(heard) - bar - CHANGE, at + bar + CHANGE))
    late = bar - (told - first)
    said = (
        f"watch --play: the newer render comes in {late / BAR:+.2f} bars after it is told of, {change - bar} frames behind the bar; "
        f"largest difference {before:.1e} before, {behind.max():.1e} in {ROUNDS} rounds behind"
    )
    assert change - bar < CHANGE, said
    assert before == 0 and behind.max() == 0, said
    assert -0.25 < late / BAR < 1.25, said
    return said


def main():
    shutil.copytree(KIT, WORK / "kit", ignore=shutil.ignore_patterns("loops"))
    device = Device()
    failed = 0
    for check in (play, watch):
        for go in range(1, GOES + 1):
            try:
                print(f"  {check(device)}{f' (go {go})' if go > 1 else ''}", flush=True)
                break
            except AssertionError as problem:
                print(f"  {check.__name__}, go {go}: {problem}", flush=True)
        else:
            failed += 1
    print(f"device: {2 - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
