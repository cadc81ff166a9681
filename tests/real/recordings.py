"""Recordings of General MIDI banks of which it is known what they are: which piece, which drum, which side, which note.

What is struck again, what is one set and what is another drum is written below by hand, from the banks' own names and presets, and
was checked by measuring: a drum that is another one of its bank at another speed or in a room (waveforms that correlate by about
0.9 and more at one of the speeds between) is no other drum, and is left out.

Everything is split in two halves by the name that the bank has for it. No recording is in both: strokes of one drum, the two sides
of a recording, a set and an instrument stay together.
"""

import hashlib
import logging
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy
import soxr
from sf2utils.sf2parse import Sf2File

import pitches

BANKS = {
    # fluid-soundfont-gm and timgm6mb-soundfont of Debian, and, where it is installed, musescore-general-soundfont-lossless.
    "large": Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    "small": Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
    "marching": Path("/usr/share/sounds/sf2/MuseScore_General_Full.sf2"),
}
HALVES = ("tune", "kept")

# One drum a line: its bank, the pieces that it may be called, its strokes. `=` stands between strokes that differ in nothing that
# the bank tells, `<` between a softer and a harder one.
DRUMS = """
large kick: Std Kick 1
large kick: Std Kick 3
large kick: Std Kick 4
large kick: Std Kick 5
large kick: Std Kick 6
large kick: Std Kick 7
large kick: Std Kick
large kick: Power Kick
large kick: Power Kick 3
large kick: Power Bass Drum 1
large kick: Power Bass Drum 2
large kick: Elec Kick1
large kick: 808 Kick 1
large kick: Orch Bass Drum
large snare: Snr 1-1 = Snr 1-2
large snare: Snr 2-1 = Snr 2-2
large snare: RmPwr 1-1 = RmPwr 1-2
large snare: RmPwr 2-1 = RmPwr 2-2
large snare: Std Snr 1
large snare: Power Snare 1
large snare: Power Snare 2
large snare: Electronic Snr 2
large snare: Brush Snr 1
large snare: Brush Snr 2
large snare: Orch Snare
large snare: 808 Snare 1
large snare: 808 Snare 2
large hat-closed: Hi-Hat Closed
large hat-closed: 808 Closed Hat
large hat-pedal: Hi-Hat Foot
large hat-open: Hi-Hat Half-Open
large hat-open: 808 Open Hat
large ride: Ride1
large ride: Ride2
large ride: 808 Ride
large ride-bell: BellRide
large crash: Crsh 1
large crash: Crsh 2
large crash: Orchcrash
large china: China Crash
large splash: Splash
large clap: Clap
large clap: 808 Clap
large side-stick: Rim Tap
large cowbell: Cow Bell
large cowbell: 808 Cowbell
large tambourine: Tambourine
large shaker: Small Shaker
large cabasa: Cabasa
large maracas: Maracas
large claves: Clave
large claves: 808 Clave
large vibraslap: Vibra Slap
large triangle-open: Triangle
large conga-slap conga-mute: Closed Slap
small kick: Bass Drum New
small kick: Kick Verb
small snare: Snare 1
small snare: Snare 2
small snare: Brush Snare
small snare: E Snare
small snare: Snare Verb
small hat-closed: High Hat Closed
small hat-closed: 808 Hat
small hat-pedal: High Hat Foot
small hat-open: Open High Hat
small ride: Ride Ping
small ride-bell: Ride Bell
small crash: Med Crash Cymbal
small china: ChinaCrashCymb
small clap: Claps 808ish
small side-stick: Rim Shot
small cowbell: Cowbell
small cowbell: Cowbell 808
small tambourine: Brass Tambourine
small cabasa: Cabasa
small maracas: Maracas
small claves: Rosewood Claves
small triangle-mute: Mute Triangle
small conga-slap conga-mute: QuintoClosedSlap
marching kick: MBass-2 hit 3 < MBass-2 hit 2
marching kick: MBass-3 hit 4 < MBass-3 hit 1
marching kick: MBass-4 hit 3 < MBass-4 hit 1
marching kick: MBass-5 hit 4 < MBass-5 hit 1
marching kick: MBass-6 hit 4 < MBass-6 hit 2 < MBass-6 hit 1
marching snare: MSnr-hit 4 < MSnr-hit 3
marching snare: MSnr-rim shot 4 < MSnr-rim shot 3
marching side-stick: MSnr-rim 1 < MSnr-rim 3
marching crash: MCym1 crash pp2 < MCym1 crash mp1 < MCym1 crash mf2 < MCym1 crash ff3
"""

# Strokes that belong together, on what the trade has no piece for: only whether they are kept together counts.
OTHERS = """
marching shell: MSnr-shell 1 < MSnr-shell 3 < MSnr-shell 2
marching sticks: MSnr-stick click 2 < MSnr-stick click 3 < MSnr-stick click 1
marching stickshot: MSnr-stick shot 1 < MSnr-stick shot 2
marching backstick: MSnr-backstick 2 < MSnr-backstick 3
marching drumrim: MBass-2 rim 4 < MBass-2 rim 1
marching drumrim: MBass-3 rim 4 < MBass-3 rim 2
marching drumrim: MBass-4 rim 3 < MBass-4 rim 2
marching drumrim: MBass-5 rim 4 < MBass-5 rim 2
"""

OTHER_KINDS = ("shell", "sticks", "stickshot", "backstick", "drumrim")

# Sets, from high to low: the bank, the family, the drums with their strokes. `~` stands between two that hardly differ.
SETS = """
large tom: Hi Studio > MdHi Studio > Md Studio > Low Studio ~ Flr Studio > Low Flr Studio
large tom: Tom Hi > Tom Med > Tom Low > Tom Floor
large tom: 808 Tom 6 > 808 Tom 5 > 808 Tom 4 > 808 Tom 3 > 808 Tom 2 > 808 Tom 1
large conga: High Conga > Low Tumba
large conga: 808 High Conga > 808 Mid Conga > 808 Low Conga
large bongo: Bongo Rim > Low Bongo
large timbale: High Timbale > Low Timbale
large agogo: High Agogo > Low Agogo
large woodblock: High Woodblock > Low Woodblock
small conga: Quinto Tone > Low Tumba Tone
small bongo: E Bongo Rim > M Bongo Tone
marching tom: MTnr-sp1 hit 1 > MTnr-sp2 hit 3 > MTnr-1 hit 4 > MTnr-2 hit 1 > MTnr-3 hit 4 > MTnr-4 hit 3
marching woodblock: Temple Block 5-* > Temple Block 3-* > Temple Block 1-*
marching woodblock: Temple Block 4-* > Temple Block 2-*
"""
DYNAMICS = ("p", "mp", "mf", "f")

# What the small bank loops rings so many seconds, as it does when it is played.
RINGS = {"Open High Hat": 0.9, "Med Crash Cymbal": 2.5, "ChinaCrashCymb": 1.5, "Ride Ping": 2.0, "Ride Bell": 1.5}
RINGS |= {"Brass Tambourine": 0.3, "Cowbell": 0.3, "Quinto Tone": 0.5, "Low Tumba Tone": 0.5, "M Bongo Tone": 0.3}

# Instruments of the large bank: how the names of their samples begin, before the note, and what they are called.
INSTRUMENTS = """
Violin, Viola, Cello, Pizz, Flute, Recorder, Oboe, English Horn, E's Bassoon = Bassoon, Clarinet, Tenor = Tenor Sax,
Baritone = Bari Sax, Soprano = Soprano Sax, Alto = Alto, tp_ = Trumpet, trombone = Trombone, Tuba, French Horns = Horn,
Muted = Muted Trumpet, Steel = Steel Guitar, Nylon = Nylon Guitar, Jazz Guitar, Fretless = Fretless Bass, Finger Bass, Picked Bass,
Slap Bass, Acoustic Bass = Upright, Church Organ, Rock Organ, B3 = Organ, Harpsichord, Clavinet = Clav, Electric Piano = EPiano,
Rhodes = Tines, P200 Piano = Piano, EP 2 = EP, Marimba, Vibraphone = Vibes, Xylophone, Celesta, Kalimba, Music Box, Harp, Steel Drum,
Ahh Choir, Ohh Voices, solo_vox_ = Solo Vox, pan flute = Pan Flute, Accordian = Accordion, Koto, sitar_ = Sitar, Banjo
"""
NOTE = r"\s*[A-Ga-g][#b]? ?\d+"
ZONE_SECONDS = 2.0
LEAST_ZONES = 4


@dataclass
class Recording:
    """One stroke or note: its name in the bank, its sides (one, or left and right), its rate."""

    name: str
    sides: list
    rate: int


@dataclass
class Drum:
    """One drum, struck once or more."""

    name: str
    pieces: list
    strokes: list
    rising: bool = False  # Whether the strokes go from soft to hard.
    known: bool = True  # Whether the trade has a piece for it.
    half: str = ""


@dataclass
class Drums:
    """A set, from high to low."""

    name: str
    family: str
    drums: list
    ranks: list
    half: str = ""


@dataclass
class Instrument:
    """Notes of one instrument, each with the MIDI key at which it sounds as recorded, cents included."""

    name: str
    zones: list = field(default_factory=list)
    half: str = ""


def in_halves(things, kind=lambda thing: ""):
    """Splits things in two by the hash of their names: every other one of a kind is kept back."""
    by_hash = sorted(things, key=lambda thing: (kind(thing), hashlib.sha256(thing.name.encode()).digest()))
    for turn, thing in enumerate(by_hash):
        thing.half = HALVES[turn % 2]
    return things


class Bank:
    """A bank's samples by name, without their sides."""

    def __init__(self, name, path):
        self.name = name
        logging.disable(logging.CRITICAL)  # sf2utils warns of every oddity of the soundfont
        self.file = path.open("rb")
        self.font = Sf2File(self.file)
        self.samples = {}
        for sample in self.font.samples:
            stem, side = self.stem(sample)
            self.samples.setdefault(stem, {})[side or "L"] = sample

    @staticmethod
    def stem(sample):
        """A sample's name without its side, and the side."""
        return re.fullmatch(r"(.*?)\s*(?:\(([LR])\)?)?", sample.name).groups()

    def recording(self, stem, seconds=None):
        """The recording of that name, at full level; where the bank loops it and it is to ring, it goes on under a decay."""
        sides = [self.samples[stem][side] for side in "LR" if side in self.samples[stem]]
        sounds = [numpy.frombuffer(side.raw_sample_data, dtype="<i2").astype(float) / 32768 for side in sides]
        rate = sides[0].sample_rate
        if stem in RINGS and len(sides) == 1 and sides[0].end_loop:
            start, end = sides[0].start_loop, sides[0].end_loop
            wanted = round(RINGS[stem] * rate)
            turns = max(0, -(-(wanted - end) // (end - start)))
            sound = numpy.concatenate([sounds[0][:end], numpy.tile(sounds[0][start:end], turns)])[:wanted]
            sounds = [sound * 10 ** (-3 * numpy.arange(len(sound)) / len(sound))]
        if seconds and len(sounds[0]) > seconds * rate:
            sounds = [sound[: round(seconds * rate)] for sound in sounds]
            fade = numpy.linspace(1, 0, rate // 20)
            sounds = [numpy.concatenate([sound[: -len(fade)], sound[-len(fade) :] * fade]) for sound in sounds]
        peak = max(numpy.abs(sound).max() for sound in sounds)
        return Recording(stem, [0.9 * sound / peak for sound in sounds], rate)

    def drum(self, pieces, strokes):
        """A drum by its line: `a`, `a = b`, `a < b`, or `a-*` for the four dynamics of a."""
        if strokes.endswith("*"):
            strokes = " < ".join(strokes.replace("*", dynamic) for dynamic in DYNAMICS)
        names = re.split(r" [=<] ", strokes)
        return Drum(f"{self.name} {names[0]}", pieces, [self.recording(name) for name in names], " < " in strokes)

    def zones(self, beginning):
        """The notes whose names begin so: those of which bank and ear agree within 10 cents."""
        notes = []
        for preset in (preset for preset in self.font.presets if preset.name != "EOP" and preset.bank == 0):
            for zone in (zone for bag in preset.bags if bag.instrument for zone in bag.instrument.bags):
                stem = zone.sample and self.stem(zone.sample)[0]
                if stem and re.fullmatch(re.escape(beginning) + NOTE, stem):
                    key = zone.base_note if zone.base_note is not None else zone.sample.original_pitch
                    off = 100 * (zone.tuning or 0) + (zone.fine_tuning or 0) + zone.sample.pitch_correction
                    notes.append((stem, key - off / 100))
        for stem, root in sorted(set(notes)):
            recording = self.recording(stem, ZONE_SECONDS)
            heard = pitches.cents(recording.sides[0], recording.rate, root, 0.03)
            if heard and heard[1] >= 0.9 and max(heard[0]) - min(heard[0]) < 10 and abs(numpy.median(heard[0])) < 10:
                yield recording, root + float(numpy.median(heard[0])) / 200


def lines(table):
    return [re.fullmatch(r"(\w+) ([^:]+): (.*)", line).groups() for line in table.strip().splitlines()]


class Material:
    """All that is known, in halves: `drums`, `sets` and `instruments`."""

    def __init__(self, marching=True, instruments=True):
        banks = {name: Bank(name, path) for name, path in BANKS.items() if path.exists() and (marching or name != "marching")}
        self.drums, self.sets, self.instruments = [], [], []
        grouped = {}
        for bank, pieces, strokes in lines(DRUMS) + lines(OTHERS):
            if bank in banks:
                drum = banks[bank].drum(pieces.split(), strokes)
                drum.known = pieces not in OTHER_KINDS
                grouped.setdefault((bank, len(drum.strokes) > 1), []).append(drum)
        for drums in grouped.values():
            self.drums += in_halves(drums, lambda drum: drum.pieces[0])
        families = {}
        for bank, family, members in lines(SETS):
            if bank in banks:
                drums = [banks[bank].drum([], strokes) for strokes in re.split(r" [>~] ", members)]
                ranks = [0]
                for step in re.findall(r" ([>~]) ", members):
                    ranks.append(ranks[-1] + (step == ">"))
                families.setdefault(bank, []).append(Drums(f"{bank} {members}", family, drums, ranks))
        for sets in families.values():
            self.sets += in_halves(sets, lambda of: of.family)
        for text in re.split(r",\s+", INSTRUMENTS.strip()) if instruments else ():
            beginning, _, name = text.partition(" = ")
            found = {round(root): (recording, root) for recording, root in banks["large"].zones(beginning)}
            if len(found) >= LEAST_ZONES:
                zones = [found[key] for key in sorted(found)]
                self.instruments.append(Instrument(name or beginning, zones))
        in_halves(self.instruments)

    def half(self, half):
        """The drums, sets and instruments of one half."""
        return [[thing for thing in things if thing.half == half] for things in (self.drums, self.sets, self.instruments)]
