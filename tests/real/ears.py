"""Holds what pressroll makes of folders of recorded one-shots against what is known of them (bank.py writes the folders).

    ears.py PRESSROLL FOLDER [--half tune|kept] [--style NAME] [--verbose]

Prints a table of styles. Ends with an error where the half that was kept back falls behind a bar. `--verbose` lists every miss with what
was expected, what came, and the words and the confidence that pressroll gives for it: for tuning, so of the half `tune`.
"""

import argparse
import itertools
import json
import re
import subprocess
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

from recordings import HALVES

# What is measured, whether it is to be high or low, what it aims at, and what it must not fall behind in the half kept back. The last
# are for the short round too, which has 13 pairs of strokes and no marching drums: it reads 38 % of them as other drums, and joins 4.8 %.
BARS = {
    "drums": ("at least", 0.97, 0.97),  # drum files in the right piece
    "pairs": ("at least", 1.0, 0.99),  # left and right sides joined, and nothing else
    "split": ("at most", 0.02, 0.47),  # pairs of strokes of one drum that are in two pieces
    "joined": ("at most", 0.02, 0.06),  # pairs of different drums of one kind that are in one piece
    "zones": ("at least", 1.0, 0.99),  # notes within `CENTS` of what they are
    "together": ("at least", 1.0, 0.98),  # notes in their instrument's piece
}
CENTS = 30
HEIGHTS = {"high": 0, "open": 0, "mid": 1, "low": 2, "floor": 3}


def parts(piece):
    """A piece's name without its number, and the number: `tom-mid-2` is the second `tom-mid`."""
    name, number = re.fullmatch(r"(.*?)(?:-([2-9]|[1-9][0-9]))?", piece).groups()
    return name, int(number or 1)


def height(piece, family):
    """Where in its set a piece is, from high to low; none where it is of no such set."""
    name, number = parts(piece)
    if name == family:
        return (0, number)
    word = name.removeprefix(family + "-")
    return (HEIGHTS[word], number) if word in HEIGHTS else None


def longest_chain(drums):
    """Of drums with their rank and height, as many as are in order: those of the longest rising sequence."""
    best = []
    chains = []
    for rank, at, name in sorted(drums):
        before = [chain for chain in chains if chain[-1][1] < at]
        chain = [*max(before, key=len, default=[]), (rank, at, name)]
        chains.append(chain)
        best = max(best, chain, key=len)
    return {name for _, _, name in best}


class Folder:
    """One style's folder: what is known of it, and what pressroll says."""

    def __init__(self, known, said):
        self.known = known["files"]
        self.pairs = known["pairs"]
        self.problems = len(said["problems"])
        self.piece, self.entry, self.read = {}, {}, {}
        for piece in said["pieces"]:
            for file in piece["files"]:
                for name in filter(None, (file["file"], file.get("right"))):
                    self.piece[name] = piece["name"]
                    self.entry[name] = file
                    self.read[name] = f"words {piece.get('words')}, confidence {piece.get('confidence')}"
        self.rights = {right for _, right in self.pairs}
        self.counts = defaultdict(lambda: [0, 0])
        self.misses = []

    def count(self, what, good, name, expected, came):
        """Counts a case; `good` is that it is what its bar speaks of, so a split counts where it is one."""
        self.counts[what][0] += good
        self.counts[what][1] += 1
        if good == (BARS[what][0] == "at most"):
            self.misses.append(f"{what:8} {name}: expected {expected}, came {came} ({self.read.get(name)})")

    def left(self, key):
        """Files that have something, without right sides, by what they have."""
        groups = defaultdict(list)
        for name, known in self.known.items():
            if known.get(key) is not None and name not in self.rights:
                groups[known[key]].append(name)
        return groups

    def of_pieces(self):
        for name, known in self.known.items():
            if known["pieces"]:
                piece = self.piece.get(name, "nothing")
                self.count("drums", parts(piece)[0] in known["pieces"], name, known["pieces"], piece)

    def of_sets(self):
        for members in self.left("set").values():
            first = {}
            for name in members:
                first.setdefault(self.known[name]["drum"], name)
            family = self.known[members[0]]["kind"]
            placed = {drum: height(self.piece.get(name, "nothing"), family) for drum, name in first.items()}
            ranks = {drum: self.known[name]["rank"] for drum, name in first.items()}
            in_order = longest_chain([(ranks[drum], at, drum) for drum, at in placed.items() if at is not None])
            of = sorted(first, key=lambda drum: ranks[drum])
            order = ", ".join(f"{self.piece.get(first[drum])}" for drum in of)
            for name, known in self.known.items():
                if known.get("set") == self.known[members[0]]["set"]:
                    drum = known["drum"]
                    good = drum in in_order and self.piece.get(name) == self.piece.get(first[drum])
                    place = f"{of.index(drum) + 1} of {len(of)} from the high end"
                    self.count("drums", good, name, place, f"{self.piece.get(name)} (high to low: {order})")

    def of_pairs(self):
        for left, right in self.pairs:
            entry = self.entry.get(left, {})
            joined = entry.get("file") == left and entry.get("right") == right
            self.count("pairs", joined, left, f"one recording with {right}", self.piece.get(left))
        for name, entry in self.entry.items():
            if entry.get("right") not in (None, *self.rights) and name == entry["file"]:
                self.count("pairs", False, name, "a recording of its own", f"joined with {entry['right']}")

    def of_strokes(self):
        for names in self.left("drum").values():
            for one, other in itertools.combinations(names, 2):
                pieces = self.piece.get(one, "nothing"), self.piece.get(other)
                self.count("split", pieces[0] != pieces[1], one, f"one drum with {other}", " and ".join(map(str, pieces)))
        for names in self.left("kind").values():
            for one, other in itertools.combinations(names, 2):
                here, there = self.known[one], self.known[other]
                alike = here.get("set") is not None and (here["set"], here["rank"]) == (there.get("set"), there.get("rank"))
                if here["drum"] != there["drum"] and not alike:
                    piece = self.piece.get(one, "nothing")
                    self.count("joined", piece == self.piece.get(other), one, f"another drum than {other}", piece)

    def of_zones(self):
        instruments = self.left("instrument")
        owners = defaultdict(Counter)
        for instrument, names in instruments.items():
            for name in names:
                owners[self.piece.get(name)][instrument] += 1
        for instrument, names in instruments.items():
            own = Counter(self.piece.get(name) for name in names).most_common(1)[0][0]
            owned = own is not None and owners[own].most_common(1)[0][0] == instrument
            for name in names:
                piece = self.piece.get(name)
                self.count("together", owned and piece == own, name, f"in the piece of {instrument}", piece)
                root, known = self.entry.get(name, {}).get("root"), self.known[name]["root"]
                off = None if root is None else round(100 * (root - known))
                good = off is not None and abs(off) <= CENTS
                self.count("zones", good, name, f"{known:.2f}", "no root" if off is None else f"{off:+} cents")

    def evaluate(self):
        for step in (self.of_pieces, self.of_sets, self.of_pairs, self.of_strokes, self.of_zones):
            step()
        return self


def listen(pressroll, folder):
    """What pressroll says of a folder, and the seconds it took."""
    begun = time.monotonic()
    done = subprocess.run([pressroll, "kit", folder, "--json"], capture_output=True, text=True, timeout=600)
    if done.returncode:
        raise SystemExit(f"pressroll kit {folder} failed: {done.stderr}")
    return json.loads(done.stdout), time.monotonic() - begun


def row(title, counts, problems, seconds):
    cells = []
    for what in BARS:
        good, of = counts[what]
        cells.append(f"{100 * good / of:5.1f} % of {of:<5}" if of else " " * 16)
    return f"{title:12} " + " ".join(cells) + f"{problems:6} {seconds:6.1f} s"


def half_of(pressroll, folder, only, verbose):
    """Prints one half's table and gives its totals."""
    print(f"\n{folder.name:12} " + " ".join(f"{what:16}" for what in BARS) + "sentences")
    totals, problems, seconds = defaultdict(lambda: [0, 0]), 0, 0.0
    for known in sorted(folder.glob("*.json")):
        if only and known.stem != only:
            continue
        said, took = listen(pressroll, known.with_suffix(""))
        heard = Folder(json.loads(known.read_text()), said).evaluate()
        print(row(known.stem, heard.counts, heard.problems, took))
        if verbose:
            print("\n".join(f"    {miss}" for miss in heard.misses))
        problems, seconds = problems + heard.problems, seconds + took
        for what, (good, of) in heard.counts.items():
            totals[what] = [totals[what][0] + good, totals[what][1] + of]
    print(row("total", totals, problems, seconds))
    return totals


def judge(totals):
    """Prints how the half kept back stands to its aims, and gives what falls behind its bar."""
    behind = []
    for what, (way, aim, bar) in BARS.items():
        good, of = totals[what]
        if not of:
            continue
        share, sign = good / of, 1 if way == "at least" else -1
        reached = "reached" if sign * share >= sign * aim else "missed"
        print(f"{what}: {100 * share:.1f} % of {of}, aim {way} {100 * aim:g} %: {reached}")
        if sign * share < sign * bar:
            behind.append(f"{what} is {100 * share:.1f} % on the half kept back and has to be {way} {100 * bar:g} %")
    return behind


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("pressroll", type=Path)
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--half", choices=HALVES)
    arguments.add_argument("--style")
    arguments.add_argument("--verbose", action="store_true")
    asked = arguments.parse_args()
    wrong = []
    for half in [asked.half] if asked.half else HALVES:
        totals = half_of(asked.pressroll.resolve(), asked.folder / half, asked.style, asked.verbose)
        wrong = judge(totals) if half == "kept" and not asked.style else wrong
    print("\n".join(wrong))
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
