"""Uses the index page of a catalogue from disk: ten thousand rows, found, sorted, heard, marked.
Arguments: a catalogue's folder, axe-core's script, a folder for what comes up. The rows of the catalogue are told again and again, each
time under another name, so that there are ten thousand."""

import json
import re
import shutil
import sys
import time
from pathlib import Path

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import Browser, held_to

CATALOGUE, AXE, WORK = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve(), Path(sys.argv[3]).resolve()
MANY, A_FILE = 10_000, 1000
checks = []


def check(rule):
    checks.append(rule)
    return rule


def many():
    """The catalogue with ten thousand rows; gives them too."""
    folder = WORK / "catalogue"
    shutil.copytree(CATALOGUE, folder, dirs_exist_ok=True)
    text = (folder / "index" / "rows-0000.js").read_text()
    own = json.loads(text.removeprefix("catalogueRows(").removesuffix(");\n"))
    rows = []
    for number in range(MANY):
        row = list(own[number % len(own)])
        row[1], row[7] = f"{row[1]} {number}", 60 + number % 119
        row[12] = row[12] and row[12] - number % 7
        rows.append(row)
    for begin in range(0, MANY, A_FILE):
        name = folder / "index" / f"rows-{begin // A_FILE:04}.js"
        name.write_text(f"catalogueRows({json.dumps(rows[begin:begin + A_FILE])});\n")
    page = (folder / "index.html").read_text()
    page, changed = re.subn(r"const files = \d+, previews = \d+", f"const files = {MANY // A_FILE}, previews = {MANY}", page)
    assert changed == 1
    (folder / "index.html").write_text(page)
    return folder / "index.html", rows


PAGE, ROWS = many()


def opened(browser):
    browser.driver.get(PAGE.as_uri())
    for _ in range(200):
        if said(browser, "count") == f"{MANY:,} previews":
            return
        time.sleep(0.05)
    raise AssertionError(said(browser, "count"))


def said(browser, name):
    return browser.run("return document.getElementById(arguments[0]).textContent", name)


def put(browser, name, value):
    browser.run(
        "const it = document.getElementById(arguments[0]); it.value = arguments[1]; it.dispatchEvent(new Event('input', { bubbles: true }));",
        name,
        value,
    )


def titles(browser):
    return browser.run("return [...document.querySelectorAll('.row .name')].map((name) => name.textContent)")


def playing(browser):
    return browser.run("return { src: decodeURIComponent(sound.src), at: sound.currentTime, paused: sound.paused, volume: sound.volume }")


@check
def ten_thousand_rows_are_there_and_few_are_made(browser):
    begun = time.monotonic()
    opened(browser)
    print(f"    {MANY} rows after {time.monotonic() - begun:.2f} s")
    assert browser.run("return document.querySelectorAll('.row').length") < 60
    assert titles(browser)[0] == ROWS[0][1]
    browser.run("list.scrollTop = list.scrollHeight")
    time.sleep(0.2)
    assert titles(browser)[-1] == ROWS[-1][1]
    longest = browser.wait_for(
        """let longest = 0, last = performance.now();
        for (let step = 0; step < 60; step += 1) {
          list.scrollTop = (step * 7919 * 52) % list.scrollHeight;
          await new Promise(requestAnimationFrame);
          const now = performance.now(); longest = Math.max(longest, now - last); last = now;
        }
        return longest;"""
    )
    found = browser.wait_for("const begun = performance.now(); document.getElementById('words').value = 'e'; update(); const took = performance.now() - begun; document.getElementById('words').value = ''; update(); return took;")
    print(f"    the longest frame of 60 leaps through the list: {longest:.0f} ms; a search: {found:.0f} ms")


@check
def what_is_looked_for_is_found(browser):
    opened(browser)
    put(browser, "words", "FERRY 12")
    wanted = [row for row in ROWS if all(word in " ".join(str(row[at] or "") for at in (1, 2, 3, 4, 5, 6, 8)).lower() + " " + " ".join(row[17]).lower() for word in ("ferry", "12"))]
    assert said(browser, "count") == f"{len(wanted):,} of {MANY:,} previews", said(browser, "count")
    put(browser, "words", "")
    put(browser, "tempo-from", 90)
    put(browser, "tempo-to", 91)
    put(browser, "metre", "5/4")
    wanted = [row for row in ROWS if 90 <= row[7] <= 91 and row[9] == "5/4"]
    assert wanted and said(browser, "count") == f"{len(wanted):,} of {MANY:,} previews"
    browser.run("document.querySelector('[type=reset]').click()")
    time.sleep(0.1)
    # What has no syncopation is not within any.
    put(browser, "syncopation-from", 1)
    wanted = [row for row in ROWS if row[16] is not None and row[16] >= 1]
    assert 0 < len(wanted) < MANY and said(browser, "count") == f"{len(wanted):,} of {MANY:,} previews"
    browser.run("document.querySelector('[type=reset]').click()")
    time.sleep(0.1)
    assert said(browser, "count") == f"{MANY:,} previews"


@check
def sorted_rows_are_in_order(browser):
    opened(browser)
    browser.run("const sort = document.getElementById('sort'); sort.value = [...sort.options].find((one) => one.text === 'loudness').value; document.getElementById('down').checked = true; update()")
    loudest = sorted(ROWS, key=lambda row: -row[12] if row[12] is not None else 1e9)
    assert titles(browser)[0] == loudest[0][1], (titles(browser)[0], loudest[0][1])


@check
def a_click_plays_and_equal_loudness_turns_down(browser):
    opened(browser)
    browser.run("document.querySelectorAll('.row')[0].click()")
    for _ in range(100):
        now = playing(browser)
        if now["at"] > 0.2:
            break
        time.sleep(0.1)
    assert not now["paused"] and now["at"] > 0.2 and now["src"].endswith(ROWS[0][0]), now
    expected = 10 ** ((-30 + min(0, -20 - ROWS[0][12])) / 20)
    assert abs(now["volume"] - expected) < 1e-6, (now, expected)
    browser.run("document.getElementById('equal').click()")
    assert abs(playing(browser)["volume"] - 10 ** (-30 / 20)) < 1e-6
    browser.run("document.getElementById('play').click()")
    assert playing(browser)["paused"]


@check
def keys_choose_play_and_mark(browser):
    opened(browser)
    browser.run("localStorage.clear(); favourites.clear(); list.focus()")
    send = lambda *keys: [ActionChains(browser.driver).send_keys(key).perform() for key in keys]
    send(Keys.ARROW_DOWN, Keys.ARROW_DOWN, Keys.ENTER)
    time.sleep(0.5)
    assert not playing(browser)["paused"] and playing(browser)["src"].endswith(ROWS[1][0])
    send("f", Keys.ARROW_DOWN, Keys.ARROW_DOWN, "f")
    time.sleep(0.3)
    assert playing(browser)["src"].endswith(ROWS[3][0]), "the next one plays on"
    send(Keys.END)
    assert browser.run("return document.getElementById(list.getAttribute('aria-activedescendant')).getAttribute('aria-posinset')") == str(MANY)
    send(Keys.ENTER)
    browser.run("document.getElementById('favourites').click()")
    time.sleep(0.2)
    assert len(titles(browser)) >= 2 and all(name.startswith("★ ") for name in titles(browser))
    browser.run("document.getElementById('export').click()")
    exported = WORK / "favourites.txt"
    for _ in range(50):
        if exported.exists():
            break
        time.sleep(0.1)
    marked = {ROWS[1][0], ROWS[3][0]}
    lines = exported.read_text().splitlines()
    assert set(lines) == marked, lines


@check
def nothing_comes_from_elsewhere_and_nobody_is_shut_out(browser):
    browser.requests()
    opened(browser)
    elsewhere = [url for url in browser.requests() if not url.startswith(("file:", "data:", "blob:"))]
    assert not elsewhere, elsewhere
    assert not [line for line in browser.complaints() if "favicon" not in line], browser.complaints()
    browser.run(AXE.read_text())
    for scheme in ("light", "dark"):
        browser.media(scheme=scheme)
        found = browser.wait_for("return (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 120)).slice(0, 3)])")
        assert not found, found
    browser.media()
    if len(sys.argv) > 4:
        browser.run("document.querySelectorAll('.row')[2].click()")
        for name, width in (("wide", 1280), ("narrow", 390)):
            browser.size(width, 1000)
            time.sleep(0.3)
            browser.picture(Path(sys.argv[4]) / f"catalogue-{name}.png")


browser = Browser(WORK)
failed = held_to(checks, browser)
browser.quit()
sys.exit(1 if failed else 0)
