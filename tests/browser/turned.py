"""Moves a watched loop's settings on its page, and hears what becomes of it. Arguments: the binary, a kit, axe-core's script, a folder."""

import os
import shutil
import statistics
import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import Browser, held_to
from hearing import db, fitted, heard, sampled

warnings.simplefilter("ignore", wavfile.WavFileWarning)

BINARY, KIT = (Path(argument).resolve() for argument in sys.argv[1:3])
AXE, WORK = Path(sys.argv[3]).read_text(), Path(sys.argv[4]).resolve()
DESK = WORK / "turned"
LOOP = DESK / "loops" / "night-ferry.toml"
FORM = LOOP.with_name("show.toml")
SHOW = """[form]
title = "The late show"
ending = "repeat"

[[section]]
loop = "night-ferry.toml"
bars = "1"

[[section]]
name = "ferry times"
loop = "night-ferry.toml"
bars = "2-3"
set  = { "low.gain" = -3 }  # under a voice
"""
checks = []


def check(rule):
    checks.append(rule)
    return rule


def until(browser, script, what):
    for _ in range(300):
        if browser.run(f"return Boolean({script})"):
            return
        time.sleep(0.1)
    raise AssertionError(f"{what}: {browser.run('return document.getElementById(`hands`).innerText')[:400]}")


def rendered(*arguments, of=None):
    """What the binary renders of the loop, or of another file, as it is now."""
    subprocess.run([BINARY, "render", of or LOOP, "-o", WORK / "rendered.wav", "--force", "--depth", "float", *arguments], check=True, capture_output=True)
    return wavfile.read(WORK / "rendered.wav")[1].astype(float)


def field(browser, key):
    return browser.driver.find_element("id", f"set-{key}")


def typed(browser, key, value):
    there = field(browser, key)
    browser.run("arguments[0].scrollIntoView({ block: 'center' })", there)
    there.click()
    there.send_keys(Keys.CONTROL, "a")
    there.send_keys(value)
    settled(browser)


def settled(browser):
    """Waits until all that was moved is heard."""
    until(browser, "listening.hands.idle()", "a trial does not end")


def slider(browser, key):
    return browser.driver.find_element("css selector", f'[data-key="{key}"] .slide')


def body_keys(browser, *keys):
    browser.run("document.activeElement.blur()")
    for key in keys:
        ActionChains(browser.driver).send_keys(key).perform()


def click(browser, name):
    browser.run("document.getElementById(arguments[0]).scrollIntoView({ block: 'center' })", name)
    browser.driver.find_element("id", name).click()


def levels(browser):
    return browser.run("return document.getElementById('hands-levels').textContent")


@check
def a_typed_number_goes_on_at_the_same_place(browser):
    written = rendered()
    click(browser, "play")
    until(browser, "document.body.classList.contains('playing')", "it does not play")
    before = browser.run("const [last] = starts.slice(-1); return last")
    typed(browser, "master.low_cut", "500")
    tried = rendered("--set", "master.low_cut=500")
    assert heard(browser, {0: written, 1: tried}) == 1
    # What came last started where the first would have been by then, to the frame.
    came = browser.run("const [last] = starts.slice(-1); return last")
    frames = len(written)
    apart = ((came[0] - before[0]) - (came[1] - before[1])) * 48000 % frames
    assert min(apart, frames - apart) < 2, apart
    assert LOOP.read_text() == TEXT


@check
def a_key_changes_between_written_and_tried_at_one_loudness(browser):
    typed(browser, "master.loudness", "-24")
    written, tried = rendered(), rendered("--set", "master.low_cut=500", "--set", "master.loudness=-24")
    assert "written −18.0 LUFS, gain applied −6.0 dB; tried −24.0 LUFS, gain applied 0.0 dB" in levels(browser), levels(browser)
    assert heard(browser, {0: written, 1: tried}) == 1
    full = fitted(sampled(browser), tried)[1]
    body_keys(browser, "w")
    assert heard(browser, {0: written, 1: tried}) == 0
    lowered = db(fitted(sampled(browser), written)[1] / full)
    assert abs(lowered + 6) < 0.3, f"the written one, 6 dB louder, is lowered by {lowered:.2f} dB"
    assert browser.run("return document.getElementById('hear-written').checked")
    body_keys(browser, "w")
    assert heard(browser, {0: written, 1: tried}) == 1
    click(browser, "equal")
    assert "tried −24.0 LUFS, gain applied 0.0 dB" in levels(browser) and "written −18.0 LUFS, gain applied 0.0 dB" in levels(browser)
    click(browser, "equal")


@check
def undo_and_redo_go_step_by_step(browser):
    body_keys(browser, "u")
    settled(browser)
    assert field(browser, "master.loudness").get_attribute("value") == "-18"
    assert field(browser, "master.low_cut").get_attribute("value") == "500"
    body_keys(browser, "u")
    settled(browser)
    assert field(browser, "master.low_cut").get_attribute("value") == "28"
    assert not browser.driver.find_element("id", "undo").is_enabled()
    click(browser, "redo")
    settled(browser)
    assert heard(browser, {0: rendered(), 1: rendered("--set", "master.low_cut=500")}) == 1


@check
def a_slider_moves_by_keys_and_by_pointer(browser):
    browser.run("document.getElementById('add').value = 'bass.pan'")
    click(browser, "add-it")
    there = slider(browser, "bass.pan")
    assert there.get_attribute("aria-valuetext") == "0"
    browser.run("arguments[0].focus()", there)
    ActionChains(browser.driver).send_keys(*[Keys.ARROW_RIGHT] * 5).perform()
    settled(browser)
    assert field(browser, "bass.pan").get_attribute("value") == "1", field(browser, "bass.pan").get_attribute("value")
    browser.run("arguments[0].scrollIntoView({ block: 'center' })", there)
    ActionChains(browser.driver).move_to_element_with_offset(there, there.size["width"] // 2 - 2, 0).click().perform()
    settled(browser)
    pan = field(browser, "bass.pan").get_attribute("value")
    assert float(pan) > 90, pan
    assert heard(browser, {0: rendered("--set", "master.low_cut=500"), 1: rendered("--set", "master.low_cut=500", "--set", f"bass.pan={pan}")}) == 1
    browser.driver.find_element("css selector", '[data-key="bass.pan"] .back').click()
    settled(browser)


@check
def another_tempo_goes_on_at_the_same_place_of_its_bars(browser):
    before, tempo = rendered("--set", "master.low_cut=500"), rendered("--set", "master.low_cut=500", "--set", "loop.tempo=96")
    assert len(tempo) < len(before)
    began = browser.run("const [last] = starts.slice(-1); return last")
    typed(browser, "loop.tempo", "96")
    assert heard(browser, {0: before, 1: tempo}) == 1
    came = browser.run("const [last] = starts.slice(-1); return last")
    # Both have the same bars: half way through the one is half way through the other.
    place = lambda start, moment, frames: (start[1] + moment - start[0]) * 48000 % frames / frames
    apart = abs(place(began, came[0], len(before)) - place(came, came[0], len(tempo))) * len(tempo)
    assert min(apart, len(tempo) - apart) < 3, apart
    lines = browser.run("return document.querySelector('.stave .barlines').getAttribute('d').split('M').length")
    assert lines == 10, "eight bars, their end, and what is before the first line"
    browser.driver.find_element("css selector", '[data-key="loop.tempo"] .back').click()
    settled(browser)
    assert heard(browser, {0: before, 1: tempo}) == 0


@check
def a_setting_is_put_away_by_key_and_by_pointer_and_comes_back(browser):
    keys = lambda: browser.run("return [...document.querySelectorAll('.control')].map((line) => line.dataset.key)")
    away = lambda key: browser.driver.find_element("css selector", f'[data-key="{key}"] .away')
    focused = lambda: browser.run("return document.activeElement.getAttribute('aria-label')")
    before = keys()
    assert not away("master.low_cut").is_enabled(), "what is tried stays in sight"
    first, second, third = before[:3]
    browser.run("arguments[0].focus()", away(first))
    ActionChains(browser.driver).send_keys(Keys.ENTER).perform()
    assert keys() == before[1:] and focused() == f"{second}: put away", focused()
    assert first in browser.run("return document.getElementById('hands-told').textContent")
    there = away(third)
    browser.run("arguments[0].scrollIntoView({ block: 'center' })", there)
    width, height = browser.run("const box = arguments[0].getBoundingClientRect(); return [box.width, box.height]", there)
    assert min(width, height) >= 24, "WCAG 2.2, 2.5.8"
    there.click()
    assert keys() == [key for key in before if key not in (first, third)]
    for key in (first, third):
        browser.run("document.getElementById('add').value = arguments[0]", key)
        click(browser, "add-it")
    assert keys() == before
    # What is undone back to a tried value is in sight again.
    typed(browser, third, "1")
    body_keys(browser, "u")
    settled(browser)
    away(third).click()
    body_keys(browser, "r")
    settled(browser)
    assert third in keys() and field(browser, third).get_attribute("value") == "1"
    body_keys(browser, "u")
    settled(browser)


@check
def hits_turn_by_clicks_and_by_keys(browser):
    mark = browser.driver.find_element("css selector", '[aria-label^="side-stick, all bars, mark 1:"]')
    assert mark.get_attribute("aria-label").endswith(": rest")
    browser.run("arguments[0].scrollIntoView({ block: 'center' })", mark)
    for now in ("ghost note", "hit", "accent"):
        mark.click()
        assert mark.get_attribute("aria-label").endswith(f": {now}"), now
    settled(browser)
    turned = TEXT.replace("side-stick  ---- x---", "side-stick  X--- x---")
    other = LOOP.with_name("other.toml")
    other.write_text(turned)
    before = rendered("--set", "master.low_cut=500")
    subprocess.run([BINARY, "render", other, "-o", WORK / "other.wav", "--depth", "float", "--set", "master.low_cut=500", "--force"], check=True, capture_output=True)
    other.unlink()
    assert heard(browser, {0: before, 1: wavfile.read(WORK / "other.wav")[1].astype(float)}) == 1
    # By keys alone: along the line, and back to a rest.
    ActionChains(browser.driver).send_keys(Keys.ARROW_RIGHT).perform()
    assert browser.run("return document.activeElement.getAttribute('aria-label')") == "side-stick, all bars, mark 2: rest"
    ActionChains(browser.driver).send_keys(Keys.ARROW_LEFT, Keys.ENTER).perform()
    settled(browser)
    assert mark.get_attribute("aria-label").endswith(": rest")
    # What stands in braces stays.
    assert not browser.driver.find_elements("css selector", '[aria-label^="hat-closed, every 4 bars, mark 16:"]')


@check
def what_is_kept_changes_the_file_by_its_value(browser):
    click(browser, "keep")
    until(browser, "document.getElementById('hands-told').textContent.startsWith('Kept in')", "nothing is kept")
    kept = TEXT.replace("low_cut  = 28", "low_cut  = 500")
    assert kept != TEXT and LOOP.read_text() == kept
    until(browser, "document.getElementById('keep').disabled", "something is still tried")
    assert heard(browser, {0: rendered("--set", "master.low_cut=28"), 1: rendered()}) == 1
    typed(browser, "room.decay", "1.5")
    click(browser, "mix-name")
    browser.driver.find_element("id", "mix-name").send_keys("far away")
    browser.driver.find_element("css selector", '[name="keep-as"][value="mix"]').click()
    click(browser, "keep")
    until(browser, "document.getElementById('hands-told').textContent.includes('far away')", "no mix is kept")
    assert LOOP.read_text() == kept + '\n[[mix]]\nname = "far away"\nset = { "room.decay" = 1.5 }\n'


@check
def a_file_saved_meanwhile_wins_and_what_was_tried_is_offered_again(browser):
    theirs = LOOP.read_text().replace("decay   = 0.6 ", "decay   = 0.7 ").replace("side-stick  ---- x---", "side-stick  ---- X---")
    (DESK / "beside").write_text(theirs)
    (DESK / "beside").rename(LOOP)
    until(browser, "!document.getElementById('aside').hidden", "nothing is offered again")
    assert browser.run("return document.getElementById('aside-list').innerText") == "room.decay = 1.5"
    assert field(browser, "room.decay").get_attribute("value") == "0.7"
    time.sleep(3)
    assert heard(browser, {0: rendered(), 1: rendered("--set", "room.decay=1.5")}) == 0
    click(browser, "again")
    settled(browser)
    assert field(browser, "room.decay").get_attribute("value") == "1.5"
    assert heard(browser, {0: rendered(), 1: rendered("--set", "room.decay=1.5")}) == 1
    assert LOOP.read_text() == theirs
    click(browser, "as-written")
    settled(browser)
    assert heard(browser, {0: rendered(), 1: rendered("--set", "room.decay=1.5")}) == 0


def processor(process):
    """The processor time that a process has taken, in ms."""
    fields = Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return 1000 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def stages(turn):
    """What each stage of a movement took, in ms, in the order of time; the server's are within "answered"."""
    told = [part.split(";dur=") for part in (turn.get("server") or "").split(", ") if part]
    took = {f"  server: {name}": float(ms) for name, ms in told}
    moments = ["since", "asked", "answered", "came", "set", "heard"]
    names = ["request is made", "answer begins", "its first stretch is there", "it is set out", "it sounds"]
    between = {name: turn[b] - turn[a] for name, a, b in zip(names, moments, moments[1:])}
    return {"request is made": between.pop("request is made"), "answer begins": between.pop("answer begins"), **took, **between}


@check
def movements_are_heard_soon(browser):
    browser.run("listening.hands.turns.length = 0")
    there = slider(browser, "vibes.gain")
    browser.run("arguments[0].focus()", there)
    before = processor(WATCHED)
    for number in range(30):
        ActionChains(browser.driver).send_keys(Keys.ARROW_LEFT if number % 3 else Keys.ARROW_RIGHT).perform()
        settled(browser)
    turns = browser.run("return listening.hands.turns")
    took = sorted(turn["heard"] - turn["since"] for turn in turns)
    median, high = statistics.median(took), took[int(0.9 * len(took))]
    print(f"    {len(took)} movements: median {median:.0f} ms to the first changed sample, 90th percentile {high:.0f} ms")
    print(f"    the server took {(processor(WATCHED) - before) / len(took):.0f} ms of processor for each; medians of the stages, in ms:")
    each = [stages(turn) for turn in turns if "asked" in turn]  # what goes back to what is written is there already
    for name in each[0]:
        print(f"      {name:28}{statistics.median(one[name] for one in each):6.1f}")
    assert len(took) == 30


@check
def movements_leave_no_gap_and_no_click(browser):
    # Small movements: whatever of them plays, it is nearly what is written, at the same place.
    click(browser, "as-written")
    settled(browser)
    written = rendered()
    time.sleep(0.5)
    browser.run("window.looks = []; window.looking = setInterval(() => { const s = new Float32Array(tap.fftSize); tap.getFloatTimeDomainData(s); looks.push(s); }, 200)")
    browser.run("listening.hands.turns.length = 0; arguments[0].focus()", slider(browser, "vibes.gain"))
    for number in range(20):
        ActionChains(browser.driver).send_keys(Keys.ARROW_LEFT if number % 2 else Keys.ARROW_RIGHT).perform()
        time.sleep(0.1)
    settled(browser)
    time.sleep(0.5)
    looks = browser.run("clearInterval(looking); return looks.map((look) => [...look])")
    turns = browser.run("return listening.hands.turns.length")
    # A gap of 3 ms in a look of 0.34 s would leave -21 dB over.
    rests = sorted(fitted(np.array(look), written)[0] for look in looks)
    print(f"    {turns} changes: {len(rests)} looks of 0.34 s, of which at most {rests[-1]:.0f} dB are not what is written")
    assert turns > 5 and len(rests) > 10 and rests[-1] < -35, rests


@check
def movements_that_overtake_each_other_end_at_the_last(browser):
    there = slider(browser, "master.low_cut")
    browser.run("arguments[0].focus()", there)
    ActionChains(browser.driver).send_keys(*[Keys.ARROW_RIGHT] * 30, *[Keys.PAGE_DOWN] * 2).perform()
    settled(browser)
    cut = field(browser, "master.low_cut").get_attribute("value")
    assert heard(browser, {0: rendered(), 1: rendered("--set", f"master.low_cut={cut}")}) == 1


@check
def readable_for_everyone(browser):
    serious = []
    for scheme in ("light", "dark"):
        browser.media(scheme=scheme)
        browser.run(AXE)
        found = browser.wait_for("return (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 120)).slice(0, 3)])")
        for impact, rule, nodes in found:
            print(f"    {scheme}: {impact}, {rule}: {nodes}")
        serious += found
    browser.media()
    assert not serious
    shots = Path(os.environ.get("SCREENSHOTS") or WORK)
    for width in (320, 700, 1280):
        browser.size(width, 900)
        browser.picture(shots / f"turned-{width}.png")
        assert browser.run("return document.documentElement.scrollWidth") <= width, f"wider than {width}"
    browser.size(1280, 1000)
    assert browser.complaints() == []


def of_a_form(browser):
    """What a form has at hand is heard and kept."""
    assert browser.driver.find_element("id", "hands-form").is_displayed() and not browser.driver.find_element("id", "mix-name").is_displayed()
    legends = browser.run("return [...document.querySelectorAll('#controls legend')].map((legend) => legend.textContent)")
    assert legends == ["section.2: ferry times"], legends
    click(browser, "play")
    until(browser, "document.body.classList.contains('playing')", "it does not play")
    typed(browser, "section.2.low.gain", "-12")
    # The second section begins with bar 2.
    browser.run("document.getElementById('from').value = 1; document.getElementById('from').dispatchEvent(new Event('change'))")
    tried = rendered("--set", "section.2.low.gain=-12", of=FORM)
    assert heard(browser, {0: rendered(of=FORM), 1: tried}) == 1
    click(browser, "keep")
    until(browser, "document.getElementById('hands-told').textContent.startsWith('Kept in')", "nothing is kept")
    assert FORM.read_text() == SHOW.replace("= -3 }  # under", "= -12 }  # under")


# Notes when and where every sound starts, before the page runs.
STARTS = """
(() => {
  window.starts = [];
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, offset) {
    if (this.context instanceof AudioContext) window.starts.push([when, offset]);
    return start.call(this, when, offset);
  };
})();
"""


def main():
    global TEXT, WATCHED
    shutil.copytree(KIT, DESK)
    TEXT = LOOP.read_text()
    FORM.write_text(SHOW)
    failed = 0
    for file, rules in ((LOOP, checks), (FORM, [of_a_form])):
        command = [BINARY, "watch", file, "-o", WORK / "turned.wav", "--force", "--page"]
        WATCHED = subprocess.Popen(command, cwd=DESK, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        browser = Browser(WORK)
        try:
            address = WATCHED.stdout.readline().strip()
            WATCHED.stdout.readline()
            browser.command("Page.addScriptToEvaluateOnNewDocument", source=STARTS)
            browser.driver.get(address)
            until(browser, "document.querySelectorAll('.control').length", "no settings come")
            failed += held_to(rules, browser)
        finally:
            browser.quit()
            WATCHED.kill()
    print(f"settings by hand: {len(checks) + 1 - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


TEXT, WATCHED = "", None
main()
