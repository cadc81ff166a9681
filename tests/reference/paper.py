"""What our MusicXML says, read by libraries and compared with what was asked for.

    paper.py BINARY [FOLDER]

Writes 200 random loops of drums and melodies whose places it knows, has them written by `chart --musicxml`, and holds each file
against the schema of MusicXML 4.0 (as the package `musicxml` carries it) and against what music21 reads in it: onsets, pitches
and lengths with repeats played out, graces apart, every voice of every measure full; the root, the tones and the bass of every
chord symbol; and the accents of the band over a lead sheet's slashes. `FOLDER` holds NAME.musicxml of every demo
with NAME.json, what its score says; `cargo test --release --test promises musicxml` leaves it in target/tmp/musicxml. Those are
engraved by Verovio too, without a warning.
"""

import functools
import json
import logging
import multiprocessing
import os
import random
import re
import subprocess
import sys
import tempfile
import warnings
from collections import defaultdict
from fractions import Fraction
from importlib import util
from pathlib import Path

import chords
import lxml.etree
import music21
import verovio

LOOPS = 200
KIT = Path(__file__).resolve().parents[2] / "kits" / "harbour-studio"
METRES = [(4, 4), (4, 4), (3, 4), (2, 4), (5, 4), (6, 8), (9, 8), (12, 8), (7, 8), (5, 8), (3, 8), (2, 2)]
DRUMS = ["kick", "snare", "hat-closed", "tom-high", "ride", "hat-pedal", "shaker"]
NAMES = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
# What stands behind a chord's root: what lead sheets use, and what `chords.py` holds against the same library.
SUFFIXES = sorted({suffix for suffix, _ in chords.KINDS + chords.REST})
KEYS = ["C major", "G minor", "F# major", "Eb dorian", "B minor", "Db major"]
# The attributes of XLink 1.1 and of XML's own name space (W3C) that the schema refers to.
OTHERS = {
    "xlink": ("http://www.w3.org/1999/xlink", ["href", "type", "role", "title", "show", "actuate"]),
    "xml": ("http://www.w3.org/XML/1998/namespace", ["lang", "space"]),
}



def schema():
    """The schema, its imports led to files."""
    package = Path(util.find_spec("musicxml").origin).parent
    text = (package / "generate_classes" / "musicxml_4_0.xsd").read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for name, (space, attributes) in OTHERS.items():
            text = text.replace(f"http://www.musicxml.org/xsd/{name}.xsd", f"{name}.xsd")
            own = "".join(f'<xs:attribute name="{attribute}" type="xs:string"/>' for attribute in attributes)
            head = f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{space}">'
            (Path(folder) / f"{name}.xsd").write_text(f"{head}{own}</xs:schema>", encoding="utf-8")
        place = Path(folder) / "musicxml.xsd"
        place.write_text(text, encoding="utf-8")
        return lxml.etree.XMLSchema(lxml.etree.parse(str(place)))


class Loop:
    """A random loop: its text, and what its parts play in whole notes from the beginning."""

    def __init__(self, seed):
        self.chance = random.Random(seed)
        self.metre = self.chance.choice(METRES)
        self.bar = Fraction(*self.metre)
        self.drums = defaultdict(set)
        self.notes = {}
        self.chords = []
        self.accents = set()
        # Few distinct bars, so that some of them repeat.
        self.kinds = self.chance.randint(1, 3)
        self.order = [self.chance.randrange(self.kinds) for _ in range(self.chance.randint(1, 8))]
        if self.chance.random() < 0.3:
            self.order *= 2
        key = self.chance.choice(KEYS)
        lines = [f'[loop]\ntitle = "Quay {seed} <&>"\nkit = {json.dumps(str(KIT))}\ntempo = {self.chance.randint(60, 180)}']
        lines.append(f'bars = {len(self.order)}\nmetre = "{self.metre[0]}/{self.metre[1]}"\nkey = "{key}"')
        lines.append(f'[feel]\nswing = {self.chance.choice([50, 58, 66])}\nloose = "off"\n[tab]')
        for kind in range(self.kinds):
            bars = [number + 1 for number, own in enumerate(self.order) if own == kind]
            if not bars:
                continue
            rows = [f"{drum} {self.tab(drum, bars)}" for drum in self.chance.sample(DRUMS, self.chance.randint(1, 4))]
            lines.append('"{}" = """\n{}\n"""'.format(",".join(map(str, bars)), "\n".join(rows)))
        if self.chance.random() < 0.8:
            lines.append(self.melody())
        if self.chance.random() < 0.7:
            lines.append(self.lead())
        self.text = "\n".join(lines) + "\n"

    def tab(self, drum, bars):
        """A bar of marks, a group a count."""
        counts, unit = self.metre
        size = self.chance.choice([1, 2, 3, 4] if unit < 8 else [1, 2])
        mark = lambda: self.chance.choice("x--x-Xg-f-d-5-")
        line, places = [], []
        for count in range(counts):
            begins, length = Fraction(count, unit), Fraction(1, unit)
            fitted = self.chance.choice([3, 5, 6, 7]) if self.chance.random() < 0.1 else None
            group = []
            for step in range(fitted or size):
                share = length / (fitted or size)
                if fitted is None and size > 1 and self.chance.random() < 0.05:
                    inner = [mark() for _ in range(3)]
                    group.append("{" + "".join(inner) + "}")
                    places += [begins + step * share + nth * share / 3 for nth in range(3) if inner[nth] != "-"]
                else:
                    group.append(mark())
                    places += [begins + step * share] if group[-1] != "-" else []
            line.append("{" + "".join(group) + "}" if fitted else "".join(group))
        for bar in bars:
            self.drums[drum] |= {(bar - 1) * self.bar + at for at in places}
        return (" " if size > 1 or any("{" in group for group in line) else "").join(line)

    def lead(self):
        """Chord symbols, a word a count, and the accents of the band."""
        counts, unit = self.metre
        bars, lines = [], []
        for kind in range(self.kinds):
            words = [self.chance.choice("CDEFGAB") + self.chance.choice(["", "", "b", "#"]) + self.chance.choice(SUFFIXES)]
            words[0] = self.chance.choice([words[0]] * 9 + ["N.C."])
            for _ in range(counts - 1):
                word = self.chance.choice(NAMES) + self.chance.choice(SUFFIXES)
                word += "/" + self.chance.choice(NAMES) if self.chance.random() < 0.3 else ""
                words.append(word if self.chance.random() < 0.2 else "/")
            bars.append(words)
        for number, kind in enumerate(self.order):
            places = [(Fraction(count, unit), word) for count, word in enumerate(bars[kind]) if word != "/"]
            self.chords += [(number * self.bar + at, word) for at, word in places]
        accents = [["-" for _ in range(counts)] for _ in range(self.kinds)]
        for kind in range(self.kinds):
            for count in range(counts):
                accents[kind][count] = self.chance.choice(["-", "-", "X-", "-X", "--"] if unit < 8 else "--X")
        size = 2 if unit < 8 else 1
        accents = ["".join(text.ljust(size, "-") for text in bar) for bar in accents]
        for number, kind in enumerate(self.order):
            places = [Fraction(step, unit * size) for step, mark in enumerate(accents[kind]) if mark == "X"]
            self.accents |= {number * self.bar + at for at in places}
        for name, own in [("chords", [" ".join(words) for words in bars]), ("accents", accents)]:
            lines.append(f"[{name}]")
            for kind in range(self.kinds):
                numbers = [str(number + 1) for number, its in enumerate(self.order) if its == kind]
                if numbers:
                    lines.append('"{}" = "{}"'.format(",".join(numbers), own[kind]))
        return "\n".join(lines)

    def melody(self):
        """A part of notes, every bar its own."""
        words, at = [], []
        # Only where every bar ends with a note may one begin with what holds it.
        over = self.chance.random() < 0.4
        for kind in range(self.kinds):
            count = self.chance.choice([1, 2, 3, 4, 6, 7, 8, 9, 12, 16, self.metre[0]])
            step, bar = Fraction(self.bar, count), []
            for number in range(count):
                sounds = bar[-1][0] != "-" if bar else over
                rests = not (over and number + 1 == count)
                bar.append(self.word(step, sounds, rests))
            words.append(bar)
        for number, kind in enumerate(self.order):
            now = number * self.bar
            for _, parts, step in words[kind]:
                for nth, pitches in enumerate(parts):
                    at.append((now + nth * step / len(parts), step / len(parts), pitches))
                now += step
        events, sounding = [], False
        for begins, length, pitches in at:
            if pitches == "hold":
                if sounding:
                    events[-1][1] += length
                continue
            sounding = bool(pitches)
            if pitches:
                events.append([begins, length, pitches])
        self.notes["tune"] = [(begins, length, sorted(pitches)) for begins, length, pitches in events]
        # Keys have two staves where they go below and above middle C.
        piece = self.chance.choice(["vibraphone", "keys"])
        lines = [f'[[part]]\nname = "tune"\npiece = "{piece}"\n[part.notes]']
        for kind in range(self.kinds):
            bars = [str(number + 1) for number, own in enumerate(self.order) if own == kind]
            if bars:
                lines.append('"{}" = "{}"'.format(",".join(bars), " ".join(text for text, _, _ in words[kind])))
        return "\n".join(lines)

    def word(self, step, holds, rests):
        chance = self.chance.random()
        note = lambda: (lambda key: (NAMES[key % 12] + str(key // 12 - 1), key))(self.chance.randint(55, 84))
        if chance < 0.25 and rests:
            return "-", [[]], step
        if 0.25 <= chance < 0.45 and holds:
            return "=", ["hold"], step
        if chance < 0.55:
            notes = [note() for _ in range(3)]
            return "{" + " ".join(name for name, _ in notes) + "}", [[key] for _, key in notes], step
        if chance < 0.65:
            notes = {key: name for name, key in (note() for _ in range(3))}
            return "+".join(notes[key] for key in sorted(notes)), [sorted(notes)], step
        name, key = note()
        return name + self.chance.choice(["", "", "^"]), [[key]], step

    def told(self, binary):
        if not any(self.drums.values()) and not self.notes:
            return None
        notes = {name: [[str(at), str(length), keys] for at, length, keys in events] for name, events in self.notes.items()}
        # What is held into the first bar of a loop that comes round stands where it was struck.
        drums = {f"{drum} on {drum}": sorted(map(str, at)) for drum, at in self.drums.items() if at}
        chords = [[str(at), *meaning(binary, word)] for at, word in self.chords]
        return {"notes": notes, "drums": drums, "chords": chords, "accents": sorted(map(str, self.accents))}


@functools.cache
def meaning(binary, symbol):
    """The root, the tones and the bass of a chord symbol, as `chords` says them: pitch classes."""
    if symbol == "N.C.":
        return None, [], None
    run = subprocess.run([binary, "chords", "--symbol", symbol, "--json"], capture_output=True, text=True, check=True)
    tones = [pitch_class(tone["note"]) for tone in json.loads(run.stdout)["chords"][0]["tones"]]
    root = pitch_class(re.match("[A-G](b|#)*", symbol)[0])
    bass = re.search("/([A-G](?:b|#)*)$", symbol)
    return root, sorted(set(tones)), pitch_class(bass[1]) if bass else root


def pitch_class(name):
    return music21.pitch.Pitch(name[0] + name[1:].replace("b", "-")).pitchClass


def fraction(number):
    """A quarter length of music21, exact, as a length in whole notes."""
    return Fraction(number).limit_denominator(1_000_000) / 4


def read(path):
    """What music21 reads: notes by part, drums by piece, chords; and complaints at measures that are not full."""
    score = music21.converter.parse(path, format="musicxml", forceSource=True)
    notes, drums, symbols, wrong = defaultdict(list), defaultdict(set), [], []
    implicit = lxml.etree.parse(str(path)).xpath("//measure[@implicit='yes']/@number")
    short = {int(re.sub(r"\D", "", number)) for number in implicit}
    for part in score.parts:
        name = part.partName
        if list(part[music21.bar.Repeat]):
            part = part.expandRepeats()
        begins = Fraction(0)
        for measure in part.getElementsByClass("Measure"):
            for symbol in measure.recurse().getElementsByClass(music21.harmony.Harmony):
                at = begins + fraction(symbol.getOffsetInHierarchy(measure))
                symbols.append([at, *understood(symbol)])
            voices = list(measure.voices) or [measure]
            lengths = set()
            for voice in voices:
                now = Fraction(0)
                for event in voice.notesAndRests:
                    if isinstance(event, music21.harmony.Harmony) or event.duration.isGrace:
                        continue
                    at, length = fraction(event.offset), fraction(event.quarterLength)
                    if at != now:
                        wrong.append(f"{name}, measure {measure.number}: {event} at {at}, not {now}")
                    now = at + length
                    take(event, begins + at, length, name, notes, drums)
                lengths.add(now)
            # Pickups and last hits are shorter than their metre. music21 remembers of a keyboard's upper staff alone that a
            # measure is implicit, so the file is asked.
            if measure.number not in short:
                lengths.add(fraction(measure.barDuration.quarterLength))
            if len(lengths) > 1:
                wrong.append(f"{name}, measure {measure.number}: voices of {sorted(map(str, lengths))}")
            begins += max(lengths)
    return {part: together(events) for part, events in notes.items()}, drums, symbols, wrong


def together(events):
    """What both hands of a keyboard play at one time is one chord."""
    found = {}
    for at, length, keys in events:
        found.setdefault((at, length), set()).update(keys)
    return [[at, length, sorted(keys)] for (at, length), keys in sorted(found.items())]


def understood(symbol):
    """The root, the tones and the bass that music21 takes from a chord symbol."""
    if isinstance(symbol, music21.harmony.NoChord):
        return None, [], None
    root, bass = symbol.root().pitchClass, symbol.bass().pitchClass
    return root, sorted({pitch.pitchClass for pitch in symbol.pitches}), bass


def changes(symbols):
    """Chord symbols without those that go on; a bass that is no tone of its chord is one of what is heard."""
    found = []
    for at, root, tones, bass in symbols:
        tones = sorted({*tones, bass}) if bass is not None else []
        if not found or found[-1][1:] != [root, tones, bass]:
            found.append([at, root, tones, bass])
    return found


def take(event, at, length, part, notes, drums):
    """Takes note of an event; what is tied to the one before lengthens it."""
    if event.isRest:
        return
    if isinstance(event, (music21.note.Unpitched, music21.percussion.PercussionChord)):
        heads = event.notes if isinstance(event, music21.percussion.PercussionChord) else [event]
        for head in heads:
            drums[part, head.displayStep, head.displayOctave, head.notehead].add(at)
        return
    keys = sorted({pitch.midi for pitch in event.pitches})
    heads = event.notes if event.isChord else [event]
    goes_on = heads[0].tie is not None and heads[0].tie.type in ("stop", "continue")
    events = notes[part]
    if goes_on and events and events[-1][2] == keys and events[-1][0] + events[-1][1] == at:
        events[-1][1] += length
    else:
        events.append([at, length, keys])


def pieces(document):
    """Which pieces stand where: by part, step, octave and note head, which is all that music21 keeps of them."""
    found = defaultdict(set)
    names = {instrument.get("id"): instrument.findtext("instrument-name") for instrument in document.iter("score-instrument")}
    parts = {part.get("id"): part.findtext("part-name") for part in document.iter("score-part")}
    for part in document.findall("part"):
        for note in part.iter("note"):
            place = note.find("unpitched")
            if place is not None:
                where = place.findtext("display-step"), int(place.findtext("display-octave"))
                head = note.findtext("notehead", "normal")
                instrument = note.find("instrument")
                found[parts[part.get("id")], *where, head].add(None if instrument is None else names[instrument.get("id")])
    return found


def compare(name, path, told):
    """The differences between a file and what its score says."""
    document = lxml.etree.parse(str(path))
    wrong = []
    if not SCHEMA.validate(document):
        wrong += [f"{name}: {error}" for error in list(SCHEMA.error_log)[:3]]
    notes, drums, symbols, odd = read(path)
    wrong += [f"{name}: {complaint}" for complaint in odd[:3]]
    said = {part: [[Fraction(at), Fraction(length), keys] for at, length, keys in events] for part, events in told["notes"].items()}
    if {part: events for part, events in notes.items() if events} != said:
        for part in set(said) | set(notes):
            pairs = zip(said.get(part, []) + [None] * 9999, notes.get(part, []) + [None])
            first = next(((a, b) for a, b in pairs if a != b), None)
            wrong.append(f"{name}: {part} differs, first {first}" if first else "")
    said = changes([[Fraction(at), *meant] for at, *meant in told["chords"]])
    heard = changes(sorted(symbols, key=lambda symbol: symbol[0]))
    if heard != said:
        first = next((a, b) for a, b in zip(said + [None], heard + [None]) if a != b)
        wrong.append(f"{name}: chords differ, first {first}")
    # Slashes stand in lead sheets alone: those on the middle line count beats.
    slashes = {where: at for where, at in drums.items() if where[3] == "slash"}
    accents = set().union(*(at for where, at in slashes.items() if where[1] != "B"))
    if accents != {Fraction(at) for at in told["accents"]}:
        wrong.append(f"{name}: accents differ: {sorted(accents ^ set(map(Fraction, told['accents'])))[:3]}")
    played = {tuple(where.split(" on ")): {Fraction(at) for at in all} for where, all in told["drums"].items()}
    written = set()
    for where, named in pieces(document).items():
        if where in slashes:
            continue
        # The set's staff has the pieces of all parts, another one those of its own part.
        here = [(part, piece) for part, piece in played if piece in named and where[0] in ("Drums", part)]
        written.update(here)
        said = set().union(*(played[own] for own in here))
        if said != drums[where]:
            missing, more = sorted(said - drums[where])[:3], sorted(drums[where] - said)[:3]
            wrong.append(f"{name}: {named} lacks {missing} and has {more}")
    if set(played) - written:
        wrong.append(f"{name}: {set(played) - written} are nowhere")
    return [complaint for complaint in wrong if complaint]


def one(job):
    seed, binary, folder = job
    loop = Loop(seed)
    told = loop.told(binary)
    source, path = Path(folder) / f"quay-{seed}.toml", Path(folder) / f"quay-{seed}.musicxml"
    if told is None:
        return []
    source.write_text(loop.text, encoding="utf-8")
    run = subprocess.run([binary, "chart", source, "--musicxml", "-o", path], capture_output=True, text=True)
    if run.returncode:
        return [f"quay-{seed}: {run.stderr}\n{loop.text}"]
    return compare(f"quay-{seed}", path, told)


def demo(path):
    """The differences of a demo, and what Verovio has to say of it: its warnings go to the process's standard error."""
    path = Path(path)
    wrong = compare(path.stem, path, json.loads(path.with_suffix(".json").read_text(encoding="utf-8")))
    verovio.enableLog(verovio.LOG_WARNING)
    engraver = verovio.toolkit()
    with tempfile.TemporaryFile() as log:
        kept = os.dup(2)
        os.dup2(log.fileno(), 2)
        try:
            loaded = engraver.loadFile(str(path))
            pages = engraver.getPageCount()
        finally:
            os.dup2(kept, 2)
        log.seek(0)
        said = log.read().decode("utf-8", "replace")
    if not loaded or pages < 1 or said.strip():
        wrong.append(f"{path.stem}: Verovio says: {said}")
    return wrong


SCHEMA = schema()


def main():
    warnings.filterwarnings("ignore")
    logging.disable(logging.WARNING)
    binary = str(Path(sys.argv[1]).resolve())
    demos = sorted(Path(sys.argv[2]).glob("*.musicxml")) if len(sys.argv) > 2 else []
    with tempfile.TemporaryDirectory() as folder, multiprocessing.Pool() as pool:
        wrong = [complaint for found in pool.imap(demo, map(str, demos)) for complaint in found]
        jobs = [(seed, binary, folder) for seed in range(LOOPS)]
        wrong += [complaint for found in pool.imap(one, jobs, 4) for complaint in found]
    for complaint in wrong[:20]:
        print(complaint)
    if wrong:
        sys.exit(f"{len(wrong)} differences")
    print(f"MusicXML: {len(demos)} demos and {LOOPS} random loops are read as they were written")


if __name__ == "__main__":
    main()
