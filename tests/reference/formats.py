"""One-shots in every format that is read, as libsndfile writes them, with the values that it reads from them again.

    formats.py write     writes and keeps them
    formats.py check     writes them again and compares with what is kept

Each row keeps the file's bytes and its samples, so `cargo test` needs no Python. Every coding of every container comes in mono and
stereo at 48 kHz; every rate of every container in one coding, as the rate is one field of a header.
"""

import io
import json
import sys
from pathlib import Path

import numpy
import soundfile

HERE = Path(__file__).resolve().parent
KEPT = HERE / "formats.json"
FRAMES = 12

CODINGS = {
    ("WAV", "FILE"): ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"],
    ("WAVEX", "FILE"): ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"],
    ("RF64", "FILE"): ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"],
    ("AIFF", "FILE"): ["PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"],
    ("AIFF", "LITTLE"): ["PCM_16", "PCM_24", "PCM_32"],
    ("FLAC", "FILE"): ["PCM_S8", "PCM_16", "PCM_24"],
}
RATES = [8000, 11025, 16000, 22050, 32000, 44100, 88200, 96000, 176400, 192000]
ENDINGS = {"WAV": "wav", "WAVEX": "wav", "RF64": "wav", "AIFF": "aiff", "FLAC": "flac"}


def signal(channels):
    """Integers of a linear congruential generator (Numerical Recipes, 2nd edition, 7.1), and both ends of the scale."""
    state, values = 7, []
    for _ in range(FRAMES * channels):
        state = (1664525 * state + 1013904223) % 2**32
        values.append(state / 2**31 - 1)
    values[:2] = [1 - 2**-7, -1.0]
    return numpy.array(values).reshape(FRAMES, channels)


def row(container, endian, coding, channels, rate):
    file = io.BytesIO()
    file.name = "row." + ENDINGS[container]
    soundfile.write(file, signal(channels), rate, subtype=coding, endian=endian, format=container)
    file.seek(0)
    values, told = soundfile.read(file, always_2d=True)
    assert told == rate and values.shape == (FRAMES, channels)
    return {
        "name": f"{container} {endian} {coding} {channels} {rate}",
        "ending": ENDINGS[container],
        "rate": rate,
        "channels": [[float(v) for v in side] for side in values.T],
        "file": file.getvalue().hex(),
    }


def rows():
    made = []
    for (container, endian), codings in CODINGS.items():
        for coding in codings:
            made += [row(container, endian, coding, channels, 48000) for channels in (1, 2)]
        if endian == "FILE":
            made += [row(container, endian, "PCM_16", 2, rate) for rate in RATES]
    return made


def main(what):
    now = rows()
    if what == "write":
        KEPT.write_text("[\n" + ",\n".join(json.dumps(row, separators=(",", ":")) for row in now) + "\n]\n")
        return 0
    kept = {row["name"]: row for row in json.loads(KEPT.read_text())}
    # Bytes may hold a date or a version; what is read from them may not change.
    wrong = [row["name"] for row in now if kept.get(row["name"], {}).get("channels") != row["channels"]]
    print(f"{len(now) - len(wrong)} passed, {len(wrong)} failed {' '.join(wrong)}")
    return 1 if wrong or len(kept) != len(now) else 0


if __name__ == "__main__":
    if sys.argv[1:] not in (["write"], ["check"]):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
