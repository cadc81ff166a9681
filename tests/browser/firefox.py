"""Which version a browser sent to the sound device, of what was recorded there. Arguments: the page's folder, the recordings' folder."""

import sys
from pathlib import Path

import numpy as np
from scipy.io import wavfile

from hearing import db

PAGES, WORK = Path(sys.argv[1]), Path(sys.argv[2])
WAVS = [wavfile.read(PAGES / f"{name}.wav")[1].astype(float).mean(axis=1) for name in ("as-written", "bass-forward")]
PIECE = 4800  # frames: a busy machine lets a browser miss some, and what comes after is late


SIZE = 1 << max(len(wav) + PIECE for wav in WAVS).bit_length()
AROUND = [np.concatenate([wav, wav[:PIECE]]) for wav in WAVS]
SPECTRA = [np.fft.rfft(wav, SIZE) for wav in AROUND]


def rest(piece, n):
    """The level of what is left of a piece, in dB below it, without the stretch of a WAV that is likest to it."""
    likeness = np.fft.irfft(SPECTRA[n] * np.conj(np.fft.rfft(piece, SIZE)), SIZE)[: len(WAVS[n])]
    power = np.cumsum(np.concatenate([[0], AROUND[n] ** 2]))
    place = int(np.argmax(likeness / np.sqrt(power[PIECE:][: len(likeness)] - power[: len(likeness)] + 1e-9)))
    part = AROUND[n][place : place + PIECE]
    gain = (part @ piece) / (part @ part + 1e-12)
    return db(np.std(piece - gain * part) / (np.std(piece) + 1e-12))


for version in (1, 2):
    raw = (WORK / f"version-{version}.raw").read_bytes()
    heard = np.frombuffer(raw[: len(raw) // 8 * 8], dtype="<f4").reshape(-1, 2).astype(float).mean(axis=1)
    rests = [[rest(heard[at : at + PIECE], n) for n in range(2)] for at in range(0, len(heard) - PIECE + 1, 3 * PIECE)]
    known = [int(np.argmin(both)) + 1 for both in rests if min(both) < -40 and abs(both[0] - both[1]) > 10]
    told = f"{len(known)} of {len(rests)} stretches of 0.1 s are version {version}, down to {min(map(min, rests)):.0f} dB"
    assert set(known) == {version} and len(known) > len(rests) / 3, (version, rests)
    print(f"  {told}: ok")
