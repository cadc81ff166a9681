"""Twenty ways in which people name one-shots.

A style is a function from what there is to tell of a stroke to a path without its ending, and how its folder is made up: how sides
are written, how toms are told apart, whether numbers count drums or strokes, and which note C is with which number.
"""

from dataclasses import dataclass

# What a piece is called: in full, short, in capitals, and in other words.
WORDS = {
    "kick": "Kick|kik|BD|Bass Drum",
    "snare": "Snare|snr|SD|Snare Drum",
    "side-stick": "Side Stick|rimclick|RIM|Cross Stick",
    "clap": "Clap|clap|CLP|Hand Clap",
    "hat": "Hat|hh|HH|Hihat",
    "hat-closed": "Closed Hat|chh|HHC|Hihat Closed",
    "hat-open": "Open Hat|ohh|HHO|Hihat Open",
    "hat-pedal": "Pedal Hat|phh|HHP|Hihat Foot",
    "ride": "Ride|ride|RIDE|Ride Cymbal",
    "ride-bell": "Ride Bell|ridebell|RIDEBELL|Ride Cup",
    "crash": "Crash|crsh|CRASH|Crash Cymbal",
    "china": "China|china|CHN|China Cymbal",
    "splash": "Splash|splash|SPLASH|Splash Cymbal",
    "cowbell": "Cowbell|cowbell|CBELL|Cow Bell",
    "tambourine": "Tambourine|tamb|TAMB|Tamborine",
    "shaker": "Shaker|shaker|SHKR|Egg Shaker",
    "cabasa": "Cabasa|cabasa|CABASA|Cabasa",
    "maracas": "Maracas|maracas|MARACAS|Maraca",
    "claves": "Claves|clave|CLAVES|Clave",
    "vibraslap": "Vibraslap|vibraslap|VSLAP|Vibra Slap",
    "triangle-open": "Triangle Open|triangle open|TRGL OPEN|Open Triangle",
    "triangle-mute": "Triangle Mute|triangle mute|TRGL MUTE|Muted Triangle",
    "conga-slap": "Conga Slap|conga slap|CGA SLAP|Slap Conga",
    "tom": "Tom|tom|TOM|Tom",
    "conga": "Conga|conga|CONGA|Conga Drum",
    "bongo": "Bongo|bongo|BONGO|Bongos",
    "timbale": "Timbale|timbale|TIMB|Timbales",
    "agogo": "Agogo|agogo|AGOGO|Agogo Bell",
    "woodblock": "Woodblock|woodblock|WBLK|Wood Block",
    "shell": "Shell|shell|SHELL|Drum Shell",
    "sticks": "Sticks|sticks|STICKS|Drumsticks",
    "stickshot": "Stick Shot|stickshot|STICKSHOT|Stick Shot",
    "backstick": "Backstick|backstick|BACKSTICK|Back Stick",
    "drumrim": "Drum Rim|drumrim|DRUMRIM|Drum Rim",
}
# Which of four words from soft to hard stand for the strokes of a drum that has two, three or four.
DYNAMICS = {2: (0, 2), 3: (0, 1, 2), 4: (0, 1, 2, 3)}
# Semitones by which instruments are written above where they sound. [memory: handbooks of orchestration]
WRITTEN = {"Alto": 9, "Tenor Sax": 14, "Bari Sax": 21, "Soprano Sax": 2, "Clarinet": 2, "Trumpet": 2, "Muted Trumpet": 2, "Horn": 7}
WRITTEN |= {"English Horn": 7, "Nylon Guitar": 12, "Steel Guitar": 12, "Jazz Guitar": 12, "Fretless Bass": 12, "Slap Bass": 12}
WRITTEN |= {"Finger Bass": 12, "Picked Bass": 12, "Upright": 12, "Banjo": 12, "Celesta": -12, "Xylophone": -12, "Music Box": -24}
SHARPS = "C C# D D# E F F# G G# A A# B".split()
FLATS = "C Db D Eb E F Gb G Ab A Bb B".split()


@dataclass
class Stroke:
    """What there is to tell of one stroke."""

    kind: str  # A key of `WORDS`.
    number: int  # Which drum of its kind, from 1; in a set, as its folder numbers it; 0 where there is no other.
    size: str  # High, Mid, Low, Floor or a note, where a set is told apart so.
    take: int  # Which stroke of its drum, from 1.
    takes: int
    level: float | None  # From 0, the softest, to 1, where it is known.
    count: int  # Which file of its kind, from 1.
    nth: int  # Which file of the folder, from 1.

    def word(self, register):
        word = WORDS[self.kind].split("|")[register]
        return f"{self.size} {word}" if self.size in ("High", "Mid", "Low", "Floor") else f"{word} {self.size}".strip()

    def which(self, text):
        """The drum's number in a form, or nothing where there is no other or the set is told apart by sizes or notes."""
        return "" if self.size or not self.number else text.format(self.number)

    def again(self, text, *words):
        """Which stroke it is, or with words how hard where that is known, if there is more than one."""
        if self.takes == 1:
            return ""
        if words and self.level is not None:
            return text.format(words[DYNAMICS[self.takes][self.take - 1]])
        return text.format(self.take)


@dataclass
class Style:
    """How a folder is made up."""

    name: object
    note: object
    sides: tuple | str = "mono"  # What the left and the right side end in, or `mono`, or `stereo`.
    sets: str = "sizes"  # `sizes`, `numbers` from high to low, `shuffled` numbers, or `notes`.
    one: bool = False  # One drum of a kind, so that numbers count strokes.
    hats: bool = False  # Hats are called hats, open or not.
    middle: int = 4  # The number of middle C.
    written: bool = False  # Notes are named as players of the instrument read them, not as they sound.
    subtype: str = "PCM_16"

    @property
    def title(self):
        return self.name.__name__


STYLES = []


def style(note, **settings):
    """Makes a style of a function; `note` makes a stem of an instrument, a MIDI key and middle C's number."""

    def add(name):
        STYLES.append(Style(name, note, **settings))
        return name

    return add


def pitch(key, middle, names=SHARPS):
    return f"{names[key % 12]}{key // 12 - 5 + middle}"


def told(form, names=SHARPS):
    """Notes in a form with `{name}` and `{note}`."""
    return lambda instrument, key, middle: form.format(name=instrument, note=pitch(key, middle, names))


def snake(text):
    return text.strip().lower().replace(" ", "_").replace("-", "_")


@style(told("{name} {note}"), sides=("(L)", "(R)"), sets="numbers")
def counted(x):
    return f"{x.word(0)} {x.count:02}"


@style(lambda *of: snake(told("{name}_{note}")(*of)), one=True, sets="sizes")
def snake_takes(x):
    return snake(x.word(0)) + x.which("_{}") + x.again("_{}")


@style(lambda *of: told("{name}-{note}")(*of).upper().replace(" ", "-"), sides="stereo", sets="shuffled", middle=3)
def lettered(x):
    return x.word(0).upper().replace(" ", "-") + "-" + chr(64 + x.number) + x.again("-{}")


@style(lambda name, key, _: f"{name.upper().replace(' ', '')}_{key:03}", sides=("_L", "_R"), sets="shuffled")
def codes(x):
    return f"{x.word(2).replace(' ', '_')}_{x.number:03}{x.again('_rr{}')}"


@style(lambda *of: told("{name}.{note}")(*of).lower().replace(" ", "."), sides=(".L", ".R"), middle=3)
def dotted(x):
    return x.word(1).replace(" ", ".").lower() + x.again(".{}", "soft", "medium", "hard", "max") + x.which(".{}")


@style(told("{name} {note}", FLATS), sides="stereo", subtype="PCM_24")
def leading(x):
    return f"{x.nth:02} {x.word(0)}{x.which(' {}')}{x.again(' {}', 'Soft', 'Med', 'Hard', 'Max')}"


@style(told("{name}/{note}"), sets="notes")
def folders(x):
    return f"{x.word(0) if not x.size else x.kind.title()}s/{x.word(0)}{x.which(' {}')}{x.again(' ({})')}"


@style(told("HBR_{name}_{note}"), sides=("-left", "-right"), sets="numbers")
def maker(x):
    return f"HBR_{x.word(0).replace(' ', '')}_{x.number:02}{x.again('_{}')}"


@style(lambda name, key, middle: f"{name} {SHARPS[key % 12]} {key // 12 - 5 + middle}", sets="shuffled", hats=True)
def bare(x):
    return f"{x.word(0)} {x.count}"


@style(lambda *of: snake(told("{name}_{note}", FLATS)(*of)), sides="stereo", middle=5, sets="numbers")
def velocities(x):
    step = f"_v{round(4 * x.level) + 1}" if x.level is not None and x.takes > 1 else x.again("_rr{}")
    return f"{snake(x.word(0))}{x.number}{step}"


@style(told("{name} {note} mf"), sides=(" Lft", " Rgt"), sets="sizes", written=True)
def dynamics(x):
    return f"{x.word(3)}{x.which(' {}')}{x.again(' {}', 'pp', 'mp', 'f', 'ff')}"


@style(lambda name, key, _: f"{name.lower()} {key:03}", sets="shuffled", written=True)
def takes(x):
    # Two strokes are those of the two hands, which are no sides of one recording.
    stroke = (" right", " left")[x.take - 1] if x.takes == 2 else x.again(" take {}")
    return f"{x.word(0).lower()}{x.which(' {}')}{stroke}"


@style(lambda *of: told("{name}{note}")(*of).replace(" ", ""), sides=("-L", "-R"), sets="numbers")
def camel(x):
    return f"{x.word(3).replace(' ', '')}{x.number}{x.again('Hit{}')}"


@style(lambda *of: told("{name} {note}")(*of).upper(), sets="shuffled", middle=3)
def terse(x):
    return f"{x.word(2).replace(' ', '')}{x.number}" + (chr(64 + x.take) if x.takes > 1 else "")


@style(told("{name} ({note})"), sides="stereo", sets="shuffled", hats=True)
def copies(x):
    return x.word(3) + (f" ({x.count})" if x.count > 1 else "")


@style(told("Instruments/{name}/{note}"), sides=("_left", "_right"), sets="numbers")
def nested(x):
    return f"Drums/{x.word(0)}/{x.number:02}{x.again('_rr{}')}"


@style(lambda *of: snake(told("{name}_oneshot_{note}_24bit")(*of)), sets="notes", subtype="PCM_24")
def labelled(x):
    return f"hbr_{snake(x.word(0))}{x.which('_{:02}')}_oneshot_24bit{x.again('_{}')}"


@style(lambda *of: "take1_" + snake(told("{name}_{note}")(*of)), sides=(".L", ".R"), sets="shuffled", middle=5)
def dated(x):
    return f"20240514_{snake(x.word(3))}_{x.number}{x.again('_vel{}', '032', '064', '096', '127')}"


@style(told("{note} {name}"), sides="stereo", sets="sizes", one=True)
def turned(x):
    return f"{', '.join(reversed(x.word(0).split()))}{x.which(' {}')}{x.again(' {}', 'Soft', 'Loud', 'Louder', 'Loudest')}"


@style(told("{name} {note}", FLATS), sides=(" L", " R"), sets="shuffled", written=True)
def hashes(x):
    return f"{x.word(0).lower()} #{x.number}{x.again(' hit #{}')}"
