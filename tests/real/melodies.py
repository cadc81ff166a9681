"""Measures what `transcribe --as notes` hears in takes whose truth is known (takes.py makes them), with mir_eval.

    melodies.py PRESSROLL FOLDER [--half tune|kept] [--each] [--hold]

Prints for instruments and for the voice, at each level of noise: the F-measure of notes (onset within 50 ms, pitch within 50 cents), of
their onsets alone, the most cents by which a take's tuning is off, and how many takes were told as doubtful or refused. `--hold` fails
where the instruments are under LEAST, a loose bound that only says that nothing broke.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

import mir_eval
import numpy

LEAST = 0.85


def hertz(midi):
    return 440 * 2 ** ((numpy.array(midi, float) - 69) / 12)


def measured(pressroll, take):
    truth = json.loads(take.with_suffix(".json").read_text())
    row = {"kind": "voice" if truth.get("voice") else "instruments", "noise": truth["noise"], "take": take.stem}
    said = subprocess.run([pressroll, "transcribe", take, "--as", "notes", "--json"], capture_output=True, text=True)
    if said.returncode:
        return {**row, "notes": 0.0, "onsets": 0.0, "cents": 0.0, "doubted": True}
    told = json.loads(said.stdout)
    true = numpy.array([[note["seconds"], note["end"]] for note in truth["notes"]])
    found = numpy.array([[note["seconds"], note["seconds"] + note["length"]] for note in told["notes"]])
    pitch = hertz([note["midi"] + note["cents"] / 100 for note in told["notes"]])
    *_, notes, _ = mir_eval.transcription.precision_recall_f1_overlap(
        true, hertz([note["midi"] for note in truth["notes"]]), found, pitch, onset_tolerance=0.05, pitch_tolerance=50, offset_ratio=None
    )
    onsets = mir_eval.onset.f_measure(true[:, 0], found[:, 0], window=0.05)[0]
    cents = (told["tuning_cents"] - truth["cents"] + 50) % 100 - 50
    return {**row, "notes": notes, "onsets": onsets, "cents": abs(cents), "doubted": "notes are doubtful" in said.stderr}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pressroll")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--half", default="kept")
    parser.add_argument("--each", action="store_true")
    parser.add_argument("--hold", action="store_true")
    asked = parser.parse_args()
    takes = [measured(asked.pressroll, take) for take in sorted((asked.folder / asked.half).glob("notes-*.wav"))]
    for take in takes if asked.each else []:
        print(f"{take['take']}: F {take['notes']:.3f}, onsets {take['onsets']:.3f}, {take['cents']:.1f} cents off")
    for kind in ["instruments", "voice"]:
        for noise in [None, 40, 20, "any"]:
            own = [take for take in takes if take["kind"] == kind and noise in (take["noise"], "any")]
            if not own:
                continue
            mean = lambda what: numpy.mean([take[what] for take in own])
            print(f"{asked.half}, {kind}, noise {noise}: notes F {mean('notes'):.3f}, onsets F {mean('onsets'):.3f}, tuning within "
                  f"{max(take['cents'] for take in own):.1f} cents, {sum(take['doubted'] for take in own)} of {len(own)} doubted")
    instruments = numpy.mean([take["notes"] for take in takes if take["kind"] == "instruments"])
    if asked.hold and instruments < LEAST:
        sys.exit(f"melodies.py: instruments have F {instruments:.3f} < {LEAST}")


if __name__ == "__main__":
    main()
