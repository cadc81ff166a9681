"""Where the hits of a loop fall, in quarter notes: from the MIDI that `pressroll render --midi` writes to JSON.

python hits.py LOOP.mid HITS.json

So the peer and pressroll place the same hits. This is not timed: writing the score is left out of the peer's work.
"""

import json
import sys

import mido

OPEN_HAT = 46  # General MIDI Level 1 percussion key map


def main(midi_path, out_path):
    midi = mido.MidiFile(midi_path)
    parts = {}
    for track in midi.tracks[1:]:
        now, hits = 0, []
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity > 0:
                hits.append([now / midi.ticks_per_beat, message.velocity, message.note == OPEN_HAT])
        parts[track.name] = hits
    beats = sum(message.time for message in midi.tracks[0]) / midi.ticks_per_beat
    with open(out_path, "w") as out:
        json.dump({"beats": beats, "parts": parts}, out)


main(*sys.argv[1:])
