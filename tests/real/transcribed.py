"""Measures what `transcribe --as hits` hears in takes whose truth is known (takes.py makes them), with mir_eval.

    transcribed.py PRESSROLL FOLDER [--half tune|kept] [--hold]

Prints for each level of noise: the F-measure of onsets within 25 ms and the median of their errors, the F-measure of the three
sounds over all takes, how many tempos are right within 0.5 % (or told as half or double), and how many beats lie within 20 ms of a
true one. `--hold` fails where all takes together are under LEAST, loose bounds that only say that nothing broke.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

import mir_eval
import numpy

NAMES = ["low", "mid", "high"]
WITHIN = 0.025
LEAST = {"onsets": 0.95, "sounds": 0.82, "tempos": 0.85}


def merged(seconds):
    """Onsets that no ear tells apart are one."""
    alone = []
    for second in sorted(seconds):
        if not alone or second - alone[-1] > 0.02:
            alone.append(second)
    return numpy.array(alone)


def heard(pressroll, take):
    said = subprocess.run([pressroll, "transcribe", take, "--sounds", " ".join(NAMES), "--json"], capture_output=True, text=True)
    return (json.loads(said.stdout) if said.returncode == 0 else None), said.stderr


def measured(pressroll, take):
    truth, (told, warned) = json.loads(take.with_suffix(".json").read_text()), heard(pressroll, take)
    if told is None:
        return {"noise": truth["noise"], "refused": warned.strip()}
    true, found = merged(hit["seconds"] for hit in truth["hits"]), merged(hit["seconds"] for hit in told["hits"])
    pairs = mir_eval.util.match_events(true, found, WITHIN)
    counts = numpy.zeros(3, int)
    for name in NAMES:
        own = numpy.array([hit["seconds"] for hit in truth["hits"] if hit["class"] == name])
        said = numpy.array([hit["seconds"] for hit in told["hits"] if hit["sound"] == name])
        matched = mir_eval.util.match_events(own, said, WITHIN) if len(own) and len(said) else []
        counts += [len(matched), len(own), len(said)]
    ratio = told["tempo"] / truth["tempo"]
    octave = min((1, 2, 0.5), key=lambda times: abs(ratio / times - 1))
    beat = 60 / told["tempo"]
    away = (told["beat_offset"] - truth["first"] + beat / 2) % beat - beat / 2
    return {
        "noise": truth["noise"],
        "onsets": mir_eval.onset.f_measure(true, found, window=WITHIN)[0],
        "error": 1000 * float(numpy.median([abs(found[b] - true[a]) for a, b in pairs])),
        "counts": counts,
        "tempo": abs(ratio / octave - 1) < 0.005 and (octave == 1 or "may be" in warned),
        "beat": abs(away) < 0.02,
        "doubted": "hits are doubtful" in warned,
    }


def mean_of(takes, what):
    """Of takes that were refused it is 0."""
    return sum(float(take.get(what, 0)) for take in takes) / len(takes)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pressroll")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--half", default="kept")
    parser.add_argument("--hold", action="store_true")
    asked = parser.parse_args()
    all_takes = [measured(asked.pressroll, take) for take in sorted((asked.folder / asked.half).glob("hits-*.wav"))]
    takes = [take for take in all_takes if "refused" not in take]
    for noise in [None, 40, 20]:
        own = [take for take in takes if take["noise"] == noise]
        found, known, said = sum(take["counts"] for take in own)
        print(f"{asked.half}, noise {noise} dB under: onsets F {mean_of(own, 'onsets'):.3f}, error {mean_of(own, 'error'):.2f} ms, sounds F "
              f"{2 * found / (known + said):.3f}, tempo {sum(take['tempo'] for take in own)} and beat "
              f"{sum(take['beat'] for take in own)} of {len(own)}, {sum(take['doubted'] for take in own)} doubted")
    found, known, said = sum(take["counts"] for take in takes)
    print(f"{asked.half}: sounds F {2 * found / (known + said):.3f}, {len(all_takes) - len(takes)} takes refused")
    figures = {"onsets": mean_of(all_takes, "onsets"), "sounds": 2 * found / (known + said), "tempos": mean_of(all_takes, "tempo")}
    under = [f"{name} {figures[name]:.3f} < {least}" for name, least in LEAST.items() if figures[name] < least]
    if asked.hold and under:
        sys.exit("transcribed.py: " + ", ".join(under))


if __name__ == "__main__":
    main()
