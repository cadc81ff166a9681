"""Opens charts of staves in a real browser, as a reader and as a printer would. Arguments: the program, axe-core's script, a folder
for what comes up.

Each demo's page is held to axe-core's rules, with drums on staves and in tables, on a wide window and a narrow one. Chromium prints
it on A4 (ISO 216) and on letter (ANSI Y14.1): eight bars of a full band are one page on either, with drums on a staff and in a table.
"""

import base64
import os
import re
import subprocess
import sys
from pathlib import Path

from selenium.common.exceptions import WebDriverException

from browser import Browser, held_to

PROGRAM, AXE, WORK = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).read_text(), Path(sys.argv[3])
LOOPS = Path(__file__).resolve().parents[2] / "kits"
# The demos of eight bars in which a whole band plays.
ONE_PAGE = ["low-tide", "high-water", "night-ferry"]
WAYS = {"staff": [], "tablature": ["--drums", "tablature"], "degrees": ["--degrees"]}
# Width and height in inches.
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "letter": (8.5, 11)}
checks = []


def check(rule):
    checks.append(rule)
    return rule


def demos():
    return sorted(LOOPS.glob("*/loops/*.toml"))


def page(loop, way):
    """A demo's page as a file."""
    path = WORK / f"{loop.stem}-{way}.html"
    if not path.exists():
        subprocess.run([PROGRAM, "chart", loop, "--page", *WAYS[way], "-o", path], check=True, capture_output=True)
    return path


def printed(browser, paper):
    """The page as a PDF on paper, at its own margins."""
    width, height = PAPERS[paper]
    # A busy machine may still be reading the page: what stands last in it has to be there.
    browser.wait_for("while (document.readyState !== 'complete' || !document.querySelector('main > .key:last-child')) await new Promise(requestAnimationFrame); return true")
    for left in reversed(range(3)):
        try:
            answer = browser.command("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=False, displayHeaderFooter=False)
            return base64.b64decode(answer["data"])
        except WebDriverException as error:
            # So it says where the machine is busy, whatever the page.
            if left == 0 or "Printing failed" not in str(error):
                raise


def pages(pdf):
    """How many pages a PDF has (ISO 32000-1, 7.7.3.3: page objects)."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@check
def everyone_can_read_it(browser):
    wrong = []
    for loop in demos():
        for way in WAYS:
            browser.driver.get(page(loop, way).as_uri())
            browser.run(AXE)
            found = browser.wait_for("return (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 120)).slice(0, 3)])")
            wrong += [f"{loop.stem}, {way}: {impact}, {rule}: {nodes}" for impact, rule, nodes in found]
    assert wrong == [], wrong[:5]


@check
def eight_bars_of_a_band_are_one_page_on_either_paper(browser):
    counts = {}
    for loop in demos():
        for way in WAYS:
            browser.driver.get(page(loop, way).as_uri())
            for paper in PAPERS:
                pdf = printed(browser, paper)
                counts[loop.stem, way, paper] = pages(pdf)
                if os.environ.get("SCREENSHOTS"):
                    (Path(os.environ["SCREENSHOTS"]) / f"{loop.stem}-{way}-{paper}.pdf").write_bytes(pdf)
    print("    pages:", ", ".join(f"{'/'.join(key)} {count}" for key, count in counts.items() if count > 1) or "one each")
    wrong = {key: count for key, count in counts.items() if key[0] in ONE_PAGE and key[1] in ("staff", "tablature") and count != 1}
    assert len(counts) >= 9 * 3 * 2 and wrong == {}, wrong


@check
def it_is_as_wide_as_its_window(browser):
    for width in (360, 1280):
        browser.size(width, 900)
        for name in ONE_PAGE:
            loop = next(loop for loop in demos() if loop.stem == name)
            browser.driver.get(page(loop, "staff").as_uri())
            assert browser.run("return document.documentElement.scrollWidth") <= width, f"{name}: wider than {width}"
            if os.environ.get("SCREENSHOTS"):
                browser.picture(Path(os.environ["SCREENSHOTS"]) / f"{name}-{width}.png")
    browser.size(1280, 1000)


@check
def nothing_leaves_the_page(browser):
    outside = [url for url in browser.requests() if not url.startswith(("file:", "data:"))]
    assert outside == [], outside
    assert browser.complaints() == []


def main():
    browser = Browser(WORK)
    try:
        failed = held_to(checks, browser)
    finally:
        browser.quit()
    print(f"charts in the browser: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
