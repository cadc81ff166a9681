"""Standard MIDI Files written by three general-purpose libraries, and a reading of ours by them.

    midi.py make FOLDER    writes the fixtures: NAME.mid and NAME.json, the notes that were asked for
    midi.py agree FOLDER   says whether what the libraries write today is what lies in the folder
    midi.py check FOLDER   reads each NAME.mid of the folder with mido, pretty_midi and music21, and compares with NAME.json

A note is [track, channel, key, velocity, start, length]: track and channel from 0, start and length as fractions of the
unit that `counts` names. `cargo test --release --test promises midi` leaves the files for `check` in target/tmp/midi. Versions are pinned in tests/requirements.txt.
"""

import json
import sys
import tempfile
from fractions import Fraction
from pathlib import Path

import mido
import music21
import pretty_midi


def told(counts, names, notes, tempos=(), metres=()):
    notes = [[*note[:4], str(Fraction(note[4])), str(Fraction(note[5]))] for note in sorted(notes)]
    return {"counts": counts, "names": names, "notes": notes, "tempos": list(tempos), "metres": list(metres)}


def mido_file(path, kind, ticks, names, notes, unit, tempos=(), metres=(), silent_off=False):
    """Notes as told() takes them; `unit` is ticks a quarter note or a second."""
    file = mido.MidiFile(type=kind, ticks_per_beat=ticks)
    for index, name in enumerate(names):
        events = [(0, 0, mido.MetaMessage("track_name", name=name))]
        if index == 0:
            events += [(Fraction(at) * unit, 0, mido.MetaMessage("set_tempo", tempo=tempo)) for at, tempo in tempos]
            for at, up, low in metres:
                mark = mido.MetaMessage("time_signature", numerator=up, denominator=low)
                events.append((Fraction(at) * unit, 0, mark))
        for track, channel, key, velocity, start, length in notes:
            if track != index:
                continue
            start, end = Fraction(start) * unit, (Fraction(start) + Fraction(length)) * unit
            off = mido.Message("note_off", channel=channel, note=key, velocity=64)
            if silent_off:
                off = mido.Message("note_on", channel=channel, note=key, velocity=0)
            events.append((start, 2, mido.Message("note_on", channel=channel, note=key, velocity=velocity)))
            events.append((end, 1, off))
        events.sort(key=lambda event: event[:2])
        before, written = 0, mido.MidiTrack()
        for at, _, message in events:
            assert Fraction(at).denominator == 1, "a note that is off the ticks"
            written.append(message.copy(time=int(at - before)))
            before = at
        written.append(mido.MetaMessage("end_of_track", time=0))
        file.tracks.append(written)
    file.save(path)


def two_tracks(path):
    """Format 1: a bass in triplets beside drums, with changes of tempo and metre."""
    bass = [(1, 0, 31 + step % 3, 60 + 7 * step, Fraction(step, 3), Fraction(1, 3)) for step in range(9)]
    drums = [(2, 9, key, 96, Fraction(step, 4), Fraction(1, 8)) for step in range(12) for key in (36, 42)]
    tempos, metres = [["0", 652174], ["2", 500000]], [["0", 4, 4], ["2", 6, 8]]
    names = ["Night ferry", "bass", "drums"]
    mido_file(path, 1, 480, names, bass + drums, 480, tempos, metres)
    return told("quarters", names, bass + drums, tempos, metres)


def one_track(path):
    """Format 0: three channels in one track, notes ended by silent note-ons, an odd division."""
    notes = [(0, channel, 48 + 5 * channel, 1 + 42 * channel, Fraction(n, 96), Fraction(5, 96)) for channel in range(4)
             for n in range(0, 96, 12)]
    mido_file(path, 0, 96, ["Quay"], notes, 96, silent_off=True)
    return told("quarters", ["Quay"], notes)


def film(path):
    """SMPTE division: 25 frames of 40 ticks, a tick a millisecond."""
    notes = [(0, 9, 38, 90 + n, Fraction(n * 333, 1000), Fraction(25, 1000)) for n in range(12)]
    mido_file(path, 0, -25 * 256 + 40, ["Harbour film"], notes, 1000)
    return told("seconds", ["Harbour film"], notes)


def drop_frame(path):
    """SMPTE division of 29 drop: 30 frames in 1.001 s, 80 ticks each."""
    unit = Fraction(30000 * 80, 1001)
    notes = [(0, 0, 60, 100, n * 1001 / unit, 7 / unit) for n in range(5)]
    mido_file(path, 0, -29 * 256 + 80, ["Harbour film"], notes, unit)
    return told("seconds", ["Harbour film"], notes)


def instruments(path):
    """pretty_midi: seconds turned into 220 ticks a quarter note at 120 a minute."""
    file = pretty_midi.PrettyMIDI(resolution=220, initial_tempo=120)
    notes = []
    for index, (name, drum) in enumerate([("vibraphone", False), ("drums", True)]):
        part = pretty_midi.Instrument(program=11 if not drum else 0, is_drum=drum, name=name)
        for n in range(10):
            start, length, key = Fraction(3 * n, 11), Fraction(2, 11), (40 if drum else 60) + n
            times = [float(time / 2) for time in (start, start + length)]
            part.notes.append(pretty_midi.Note(velocity=50 + 5 * n, pitch=key, start=times[0], end=times[1]))
            notes.append((index + 1, 9 if drum else 0, key, 50 + 5 * n, start, length))
        file.instruments.append(part)
    file.write(str(path))
    return told("quarters", ["", "vibraphone", "drums"], notes, [["0", 500000]], [["0", 4, 4]])


def scored(path):
    """music21: fractions of a quarter note, as a score has them."""
    part, notes, at = music21.stream.Part(), [], Fraction(0)
    for n, length in enumerate([Fraction(1, 3), Fraction(2, 3), Fraction(1, 5), Fraction(4, 5), Fraction(2), Fraction(1, 7)]):
        note = music21.note.Note(60 + 2 * n, quarterLength=length)
        note.volume.velocity = 64 + n
        part.insert(at, note)
        notes.append((1, 0, 60 + 2 * n, 64 + n, at, length))
        at += length
    score = music21.stream.Score([part])
    score.write("midi", fp=str(path))
    return told("quarters", ["", ""], notes, [["0", 500000]], [["0", 4, 4]])


FIXTURES = {
    "mido-two-tracks": two_tracks,
    "mido-one-track": one_track,
    "mido-smpte-25": film,
    "mido-smpte-29-drop": drop_frame,
    "pretty-midi-instruments": instruments,
    "music21-score": scored,
}


def make(folder):
    folder.mkdir(parents=True, exist_ok=True)
    for name, write in FIXTURES.items():
        notes = write(folder / f"{name}.mid")
        text = json.dumps(notes).replace('"notes": [', '"notes": [\n').replace("], [", "],\n[")
        (folder / f"{name}.json").write_text(text + "\n")


def agree(folder):
    with tempfile.TemporaryDirectory() as fresh:
        make(Path(fresh))
        for path in sorted(Path(fresh).iterdir()):
            if path.read_bytes() != (folder / path.name).read_bytes():
                sys.exit(f"{path.name} is not what the libraries write today")


def notes_by_mido(file):
    notes = []
    for index, track in enumerate(file.tracks):
        at, down, own = 0, {}, None
        for message in track:
            at += message.time
            # A track whose notes have channels of their own, so that each can bend, names the one that is its.
            own = message.channel if message.type == "channel_prefix" else own
            if message.type not in ("note_on", "note_off"):
                continue
            struck = down.setdefault((message.channel, message.note), [])
            if message.type == "note_on" and message.velocity > 0:
                struck.append((at, message.velocity))
            else:
                start, velocity = struck.pop(0)
                quarters = [str(Fraction(ticks, file.ticks_per_beat)) for ticks in (start, at - start)]
                channel = message.channel if own is None else own
                notes.append([index, channel, message.note, velocity, *quarters])
        assert not any(down.values()), "a note hangs"
    return notes


def marks_by_mido(file):
    tempos, metres, at = [], [], 0
    for message in file.tracks[0]:
        at += message.time
        place = str(Fraction(at, file.ticks_per_beat))
        if message.type == "set_tempo":
            tempos.append([place, message.tempo])
        if message.type == "time_signature":
            metres.append([place, message.numerator, message.denominator])
    return tempos, metres


def signs_by_mido(file):
    signs, at = [], 0
    for message in file.tracks[0]:
        at += message.time
        place = str(Fraction(at, file.ticks_per_beat))
        if message.type == "key_signature":
            signs.append([place, "key", message.key])
        elif message.type in ("text", "marker"):
            signs.append([place, message.type, message.text])
    return signs


def check(folder):
    paths = sorted(folder.glob("*.mid"))
    assert paths, "nothing to check; run `cargo test --release --test promises midi` first"
    for path in paths:
        ours = json.loads(path.with_suffix(".json").read_text())
        file = mido.MidiFile(path, charset="utf8")
        tempos, metres = marks_by_mido(file)
        key = lambda note: (note[0], Fraction(note[4]), note[2])
        assert sorted(notes_by_mido(file), key=key) == sorted(ours["notes"], key=key), f"{path.name}: notes"
        assert (tempos, metres) == (ours["tempos"], ours["metres"]), f"{path.name}: tempo or metre"
        assert [track.name for track in file.tracks] == ours["names"], f"{path.name}: names"
        if "signs" in ours:
            programs = [message.program for track in file.tracks for message in track if message.type == "program_change"]
            assert sorted(signs_by_mido(file)) == sorted(ours["signs"]), f"{path.name}: key, chords, sections"
            assert programs == ours["programs"], f"{path.name}: programs"
        count = len(ours["notes"])
        pretty = pretty_midi.PrettyMIDI(str(path))
        assert sum(len(part.notes) for part in pretty.instruments) == count, f"{path.name}: pretty_midi counts"
        score = music21.converter.parse(path, quantizePost=False)
        read = sum(len(note.pitches) if note.isChord or note.isNote else len(getattr(note, "notes", [0]))
                   for note in score.stripTies().flatten().notes)
        print(f"{path.name}: {count} notes agree in mido and pretty_midi; music21 reads {read}")


if __name__ == "__main__":
    command, folder = sys.argv[1], Path(sys.argv[2])
    {"make": make, "agree": agree, "check": check}[command](folder)
