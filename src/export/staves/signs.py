#!/usr/bin/env python3
"""Takes the signs that staves need out of a music font that follows SMuFL 1.4 (W3C Music Notation Community Group).

    python3 signs.py FONT.otf METADATA.json > signs.txt

`signs.txt` was made from version 1.010 of the font that `signs-licence.txt` names, as the npm package
@vexflow-fonts/sebastian 1.0.1 has it, with fontTools 4. A line is a sign: its SMuFL name, its advance, its box (left, top,
right, bottom), where a stem that goes up and one that goes down begin at it, and its outline as data of an SVG path. All in
units of 1/250 of a staff space, heights downwards, on the sign's baseline.
"""

import json
import sys

from fontTools.misc.transform import Identity
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

SIGNS = {
    "gClef": 0xE050, "gClef8vb": 0xE052, "fClef": 0xE062, "fClef8vb": 0xE064, "unpitchedPercussionClef1": 0xE069,
    **{f"timeSig{digit}": 0xE080 + digit for digit in range(10)},
    "noteheadDoubleWhole": 0xE0A0, "noteheadWhole": 0xE0A2, "noteheadHalf": 0xE0A3, "noteheadBlack": 0xE0A4,
    "noteheadXWhole": 0xE0A7, "noteheadXHalf": 0xE0A8, "noteheadXBlack": 0xE0A9, "noteheadCircleX": 0xE0B3,
    "noteheadTriangleUpHalf": 0xE0BC, "noteheadTriangleUpBlack": 0xE0BE,
    "noteheadDiamondWhole": 0xE0D8, "noteheadDiamondHalf": 0xE0D9, "noteheadDiamondBlack": 0xE0DB,
    "noteheadSlashHorizontalEnds": 0xE101, "noteheadSlashWhiteWhole": 0xE102, "noteheadSlashWhiteHalf": 0xE103,
    "noteheadParenthesisLeft": 0xE0F5, "noteheadParenthesisRight": 0xE0F6,
    "augmentationDot": 0xE1E7, "buzzRoll": 0xE22A,
    **{f"flag{value}{way}": 0xE240 + 2 * place + (way == "Down")
       for place, value in enumerate(["8th", "16th", "32nd", "64th", "128th"]) for way in ["Up", "Down"]},
    "accidentalFlat": 0xE260, "accidentalNatural": 0xE261, "accidentalSharp": 0xE262,
    "accidentalDoubleSharp": 0xE263, "accidentalDoubleFlat": 0xE264,
    "articAccentAbove": 0xE4A0, "articAccentBelow": 0xE4A1, "articStaccatoAbove": 0xE4A2, "articMarcatoAbove": 0xE4AC,
    "restDoubleWhole": 0xE4E2, "restWhole": 0xE4E3, "restHalf": 0xE4E4, "restQuarter": 0xE4E5, "rest8th": 0xE4E6, "rest16th": 0xE4E7,
    "rest32nd": 0xE4E8, "rest64th": 0xE4E9, "rest128th": 0xE4EA,
    "stringsDownBow": 0xE610, "stringsUpBow": 0xE612,
    **{f"tuplet{digit}": 0xE880 + digit for digit in range(10)},
}

font, metadata = TTFont(sys.argv[1]), json.load(open(sys.argv[2]))
glyphs, names = font.getGlyphSet(), font.getBestCmap()
assert font["head"].unitsPerEm == 1000
down = Identity.scale(1, -1)
for sign, code in SIGNS.items():
    assert code in names, sign
    glyph = glyphs[names[code]]
    box, path = BoundsPen(glyphs), SVGPathPen(glyphs, ntos=lambda number: str(round(number)))
    glyph.draw(TransformPen(box, down))
    glyph.draw(TransformPen(path, down))
    anchors = metadata["glyphsWithAnchors"].get(sign, {})
    # Without anchors, stems begin at the sides, half way up.
    stems = (anchors.get("stemUpSE", [box.bounds[2] / 250, 0]), anchors.get("stemDownNW", [box.bounds[0] / 250, 0]))
    numbers = [glyph.width, *box.bounds, *(value for x, y in stems for value in (x * 250, -y * 250))]
    print(sign, *(round(number) for number in numbers), path.getCommands())
