"""Times pressroll and the peer in turns on one loop, and sees that both have done the same work.

python beside.py PRESSROLL LOOP.toml RUNS [--json]

Whole processes, from start to exit; for the peer also what it took within, imports left out; and once more with what is
oversampled in pieces that a cache holds. Best and median.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
NEAR_LU = 1.0
NEAR_PEAK_DB = 1.0  # of each part: takes and `vary` are drawn from other dice
NEAR_ENVELOPE = 0.9  # correlation of the levels of both, 5 ms by 5 ms
STEP = 240  # frames
NAMES = {
    "peer": "the peer, whole process",
    "within": "  without imports",
    "pieces": "the peer in pieces",
}
PIECE = "16384"  # frames


def run(command):
    """What a process printed as JSON, and the seconds that it took."""
    begun = time.perf_counter()
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE)
    return json.loads(done.stdout), time.perf_counter() - begun


def levels(path):
    """dB of each 5 ms of a 24-bit stereo WAV."""
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 3, 48_000), path
        raw = np.frombuffer(file.readframes(file.getnframes()), np.uint8).reshape(-1, 3)
    wide = np.zeros((len(raw), 4), np.uint8)
    wide[:, 1:] = raw
    samples = wide.view("<i4").reshape(-1, 2) / 2.0**31
    steps = len(samples) // STEP
    power = (samples[: steps * STEP] ** 2).reshape(steps, 2 * STEP).mean(axis=1)
    return len(samples), 10.0 * np.log10(power + 1e-9)


def differences(ours, theirs, our_wav, their_wav):
    """What keeps the peer's work from being the same as pressroll's, in words; none where nothing does."""
    found = []
    if theirs["hits"] != ours["hits"]:
        found.append(f"{theirs['hits']} hits and {ours['hits']}")
    if abs(theirs["lufs"] - ours["lufs"]) > NEAR_LU:
        found.append(f"{theirs['lufs']:.1f} LUFS and {ours['lufs']:.1f}")
    if theirs["true_peak_db"] > ours["true_peak_db"] + 0.1:
        found.append(f"a true peak of {theirs['true_peak_db']:.2f} dB and of {ours['true_peak_db']:.2f}")
    for part in ours["parts"]:
        peak = theirs["parts"][part["name"]]
        if abs(peak - part["peak_db"]) > NEAR_PEAK_DB:
            found.append(f"{part['name']} peaks at {peak:.1f} dB and at {part['peak_db']:.1f}")
    for bus in ours["buses"]:
        reduction = theirs["gain_reduction_db"].get(bus["name"], 0.0)
        if abs(reduction - bus["gain_reduction_db"]) > NEAR_PEAK_DB:
            found.append(f"{bus['name']} is reduced by {reduction:.1f} dB and by {bus['gain_reduction_db']:.1f}")
    (our_frames, our_levels), (their_frames, their_levels) = levels(our_wav), levels(their_wav)
    if our_frames != their_frames:
        return found + [f"{their_frames} frames and {our_frames}"]
    rises = [np.maximum(np.diff(side), 0.0) for side in (our_levels, their_levels)]
    at = {lag: np.corrcoef(rises[0], np.roll(rises[1], lag))[0, 1] for lag in range(-20, 21)}
    best = max(at, key=at.get)
    if best != 0:
        found.append(f"hits {5 * best} ms apart")
    alike = np.corrcoef(our_levels, their_levels)[0, 1]
    if alike < NEAR_ENVELOPE:
        found.append(f"levels that correlate at {alike:.2f}")
    return found


def main(pressroll, loop, runs, as_json):
    with tempfile.TemporaryDirectory() as work:
        work = Path(work)
        our_wav, their_wav, hits = work / "ours.wav", work / "theirs.wav", work / "hits.json"
        render = [pressroll, "render", loop, "--json", "-o", our_wav]
        run([*render, "--midi"])
        subprocess.run([sys.executable, HERE / "hits.py", work / "ours.mid", hits], check=True)
        peer = [sys.executable, HERE / "peer.py", loop, hits, their_wav]
        run(peer)  # the first one compiles what Python imports
        seconds = {"pressroll": [], "peer": [], "within": [], "pieces": []}
        for _ in range(runs):
            ours, took = run(render)
            seconds["pressroll"].append(took)
            theirs, took = run(peer)
            seconds["peer"].append(took)
            seconds["within"].append(theirs["seconds"])
            seconds["pieces"].append(run([*peer, PIECE])[1])
        found = differences(ours, theirs, our_wav, their_wav)
    best = {name: min(took) for name, took in seconds.items()}
    median = {name: statistics.median(took) for name, took in seconds.items()}
    ratio = {name: {k: of[k] / of["pressroll"] for k in ("peer", "within", "pieces")} for name, of in (("best", best), ("median", median))}
    if as_json:
        told = {"best": best, "median": median, "ratio": ratio, "differences": found, "stages": theirs["stages"]}
        print(json.dumps(told))
    else:
        line = "{:28} best {:6.3f} s   median {:6.3f} s".format
        print(line("pressroll render", best["pressroll"], median["pressroll"]))
        for name, of in NAMES.items():
            times = "   {:.1f} and {:.1f} times pressroll's".format(ratio["best"][name], ratio["median"][name])
            print(line(of, best[name], median[name]) + times)
        print("its seconds:", ", ".join(f"{name} {took:.2f}" for name, took in theirs["stages"].items()))
    if found:
        sys.exit("the peer's work is not the same: " + "; ".join(found))


main(*sys.argv[1:3], int(sys.argv[3]), "--json" in sys.argv[4:])
