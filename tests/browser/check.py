"""Uses a listening page in a real browser. Arguments: the page's folder, axe-core's script, a folder for what comes up."""

import base64
import os
import re
import sys
import time
import traceback
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from scipy.stats import binomtest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

import hearing
from browser import Browser
from hearing import db

PAGES, AXE, WORK = Path(sys.argv[1]), Path(sys.argv[2]).read_text(), Path(sys.argv[3])
PAGE = (PAGES / "night-ferry.html").as_uri()
WAVS = {n: wavfile.read(PAGES / f"{name}.wav")[1].astype(float) for n, name in enumerate(["as-written", "bass-forward"])}
FASTER = wavfile.read(PAGES / "faster.wav")[1].astype(float)
NAMES = ["as written", "bass forward"]
BARS = 8
checks = []


def check(rule):
    checks.append(rule)
    return rule


def said(browser):
    return browser.run("return document.getElementById('said').textContent")


def bar(browser):
    return browser.run("return document.getElementById('bar').textContent")


def body_keys(browser, *keys):
    browser.run("document.activeElement.blur()")
    for key in keys:
        ActionChains(browser.driver).send_keys(key).perform()


def click(browser, name):
    browser.driver.find_element("id", name).click()


def heard(browser, wavs=WAVS):
    return hearing.heard(browser, wavs)


@check
def plays_at_once(browser):
    ready = browser.run("const t = performance.getEntriesByType('navigation')[0]; return t.domComplete")
    decoded = browser.wait_for("await listening.decoded; return performance.now()")
    print(f"    laid out after {ready / 1000:.2f} s, all sound decoded after at most {decoded / 1000:.2f} s")
    assert browser.run("return document.getElementById('volume').value") == "-30"
    assert said(browser) == "Chosen: 1, as written."
    click(browser, "play")
    assert heard(browser) == 0
    assert said(browser) == "Playing: 1, as written."


@check
def the_sound_changes_with_the_version(browser):
    browser.driver.find_element("css selector", '.stave[data-version="2"] label').click()
    assert heard(browser) == 1
    assert said(browser) == "Playing: 2, bass forward."
    body_keys(browser, "1")
    assert heard(browser) == 0
    body_keys(browser, Keys.ARROW_DOWN)
    assert heard(browser) == 1
    body_keys(browser, Keys.ARROW_DOWN)
    assert heard(browser) == 0
    body_keys(browser, " ")
    assert browser.run("return document.getElementById('play').textContent") == "Play"


@check
def keys_and_clicks_find_bars(browser):
    body_keys(browser, Keys.HOME, Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert bar(browser) == "3"
    body_keys(browser, Keys.ARROW_LEFT)
    assert bar(browser) == "2"
    ruler = browser.driver.find_element("id", "ruler")
    width = ruler.size["width"]
    at = lambda number: round((number - 0.5) / BARS * width - width / 2)
    ActionChains(browser.driver).move_to_element_with_offset(ruler, at(5), 0).click().perform()
    assert bar(browser) == "5"
    actions = ActionChains(browser.driver).move_to_element_with_offset(ruler, at(3), 0).click_and_hold()
    actions.move_to_element_with_offset(ruler, at(4), 0).release().perform()
    assert browser.run("return ['from', 'to'].map((id) => Number(document.getElementById(id).value))") == [2, 3]
    assert bar(browser) == "3"
    stave = browser.driver.find_element("css selector", '.stave[data-version="2"] .field')
    ActionChains(browser.driver).move_to_element_with_offset(stave, at(7), 0).click().perform()
    assert bar(browser) == "7" and said(browser) == "Chosen: 2, bass forward."
    # Keys go where the person types, and can be switched off.
    text = browser.driver.find_element("id", "text")
    text.send_keys("2 1 more room")
    assert said(browser) == "Chosen: 2, bass forward."
    text.clear()
    click(browser, "keys-on")
    body_keys(browser, "1")
    assert said(browser) == "Chosen: 2, bass forward."
    click(browser, "keys-on")
    click(browser, "whole")
    body_keys(browser, "1", Keys.HOME)


RENDER = """
const { versions, take, startInStep, decoded } = listening;
const [from, to, offset, rounds] = args;
const buffers = await decoded;
const rate = buffers[0].sampleRate;
const probe = new OfflineAudioContext(1, 1, rate);
const takes = versions.map((version, n) => take(probe, buffers[n], version, from, to));
const length = takes[0].b - takes[0].a;
const lead = 1000;
const context = new OfflineAudioContext(2 * versions.length, lead + Math.round(length * rounds), rate);
const merger = context.createChannelMerger(2 * versions.length);
merger.connect(context.destination);
const into = (n) => {
  const splitter = context.createChannelSplitter(2);
  splitter.connect(merger, 0, 2 * n);
  splitter.connect(merger, 1, 2 * n + 1);
  return splitter;
};
const voices = startInStep(context, takes, versions.map((_, n) => takes[n].a + offset), lead / rate, true, into);
voices.forEach((voice) => voice.fader.to(1, 0, 0));
const out = await context.startRendering();
const text = (samples) => {
  const bytes = new Uint8Array(samples.buffer.slice(samples.byteOffset, samples.byteOffset + samples.byteLength));
  let raw = "";
  for (let at = 0; at < bytes.length; at += 8192) raw += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(raw);
};
const channels = [];
for (let n = 0; n < 2 * versions.length; n++) channels.push(text(out.getChannelData(n)));
return { lead, rate, a: takes[0].a, b: takes[0].b, channels };
"""


def rendered(browser, first, last, offset, rounds):
    """What the page's sources play offline: the lead in frames, and one array (frames, 2) for each version."""
    told = browser.wait_for(RENDER, first, last, offset, rounds)
    sides = [np.frombuffer(base64.b64decode(text), dtype="<f4").astype(float) for text in told["channels"]]
    return told, [np.stack(sides[2 * n : 2 * n + 2], axis=1) for n in WAVS]


@check
def versions_run_in_step_and_round_without_a_gap(browser):
    # From the middle on, over the seam and round again.
    offset = 700_001
    told, versions = rendered(browser, 0, BARS - 1, offset, 1.6)
    for n, audio in enumerate(versions):
        wav, lead = WAVS[n], told["lead"]
        assert told["rate"] == 48000 and np.abs(audio[:lead]).max() == 0
        audio = audio[lead:]
        places = (offset + np.arange(len(audio))) % len(wav)
        # Within one sample: shifted by one, the same comparison fails.
        rests = {shift: db(np.std(audio - wav[(places + shift) % len(wav)])) for shift in (-1, 0, 1)}
        seam = np.abs(places - len(wav) / 2) > len(wav) / 2 - 2000
        at_seam = db(np.std((audio - wav[places])[seam]))
        print(f"    {NAMES[n]}: null {rests[0]:.1f} dBFS, {at_seam:.1f} around the seam; a sample off {rests[1]:.1f}")
        assert rests[0] < -80 and at_seam < -80, rests
        assert min(rests[-1], rests[1]) > rests[0] + 20, rests


@check
def some_bars_go_round_smoothly(browser):
    told, versions = rendered(browser, 2, 3, 0, 2)
    a, b, lead = told["a"], told["b"], told["lead"]
    fade = 480
    for n, audio in enumerate(versions):
        wav, audio = WAVS[n], audio[lead:]
        assert db(np.std(audio[: b - a - fade] - wav[a : b - fade])) < -80
        assert db(np.std(audio[b - a : 2 * (b - a) - fade] - wav[a : b - fade])) < -80
        # The last sample before the seam is nearly the one that leads up to the first bar.
        assert np.abs(audio[b - a - 1] - wav[a - 1]).max() < 0.005


@check
def odds_equal_scipys(browser):
    worst = 0
    for p in (1 / 2, 1 / 3, 1 / 8):
        ours = browser.run(
            "const out = []; for (let n = 1; n <= 20; n++) for (let k = 0; k <= n; k++)"
            " out.push([n, k, listening.odds.atLeast(k, n, arguments[0]), listening.odds.asFar(k, n, arguments[0])]); return out",
            p,
        )
        assert len(ours) == 230
        for n, k, one_sided, two_sided in ours:
            for mine, kind in ((one_sided, "greater"), (two_sided, "two-sided")):
                worst = max(worst, abs(mine / binomtest(k, n, p, alternative=kind).pvalue - 1))
    print(f"    {3 * 2 * 230} tests, farthest apart by {worst:.1e} of the value")
    assert worst < 1e-9


def begin_blind(browser, kind, rounds):
    browser.driver.find_element("css selector", f'[name="kind"][value="{kind}"]').click()
    field = browser.driver.find_element("id", "rounds")
    field.clear()
    field.send_keys(str(rounds))
    click(browser, "begin")
    if "press the button again" in browser.driver.find_element("id", "not-begun").text:
        click(browser, "begin")


def names_are_hidden(browser):
    seen = browser.run("return document.body.innerText")
    assert not any(name in seen for name in NAMES), "a name is seen"
    assert not browser.driver.find_elements("css selector", ".wave")[0].is_displayed(), "a waveform is seen"
    assert not browser.driver.find_element("css selector", "table").is_displayed(), "a figure is seen"


@check
def telling_two_apart(browser):
    click(browser, "play")
    begin_blind(browser, "which", 6)
    right = 0
    for number in range(6):
        assert f"Round {number + 1} of 6." in browser.run("return document.getElementById('round-of').textContent")
        names_are_hidden(browser)
        sounds = []
        for letter in "abx":
            body_keys(browser, letter)
            assert said(browser) == f"Playing: {letter.upper()}."
            sounds.append(heard(browser))
        assert {sounds[0], sounds[1]} == {0, 1}
        # Rightly by ear for the first four rounds, wrongly for the rest.
        truth = sounds.index(sounds[2])
        answer = truth if number < 4 else 1 - truth
        right += answer == truth
        browser.driver.find_element("xpath", f"//button[text()='X is {'AB'[answer]}']").click()
    verdict = browser.run("return document.getElementById('verdict').innerText")
    assert verdict.startswith(f"{right} of 6 correct."), verdict
    p = float(re.search(r"p = ([0-9.]+)", verdict)[1])
    assert abs(p - binomtest(right, 6, 0.5, alternative="greater").pvalue) < 0.005, verdict
    assert verdict.rstrip().endswith(f"A was {sounds[0] + 1}, {NAMES[sounds[0]]}. B was {sounds[1] + 1}, {NAMES[sounds[1]]}."), verdict
    click(browser, "play")


@check
def preferring(browser):
    begin_blind(browser, "prefer", 4)
    click(browser, "play")
    for _ in range(4):
        names_are_hidden(browser)
        body_keys(browser, "a")
        letter = "AB"[0 if heard(browser) == 1 else 1]
        browser.driver.find_element("xpath", f"//button[text()='I prefer {letter}']").click()
    verdict = browser.run("return document.getElementById('verdict').innerText")
    assert "2, bass forward: preferred 4 of 4 times, p = 0.13" in verdict, verdict
    assert "1, as written: preferred 0 of 4 times, p = 0.13" in verdict, verdict
    click(browser, "play")
    begin_blind(browser, "prefer", 4)
    click(browser, "leave")
    assert "no score" in browser.run("return document.getElementById('verdict').innerText")


@check
def notes_are_saved(browser):
    browser.driver.find_element("id", "text").send_keys("The bass \u2013 better.")
    click(browser, "save")
    file = WORK / "Night-ferry-notes.txt"
    for _ in range(50):
        if file.exists() and file.read_text():
            break
        time.sleep(0.1)
    text = file.read_text()
    assert text.startswith("Night ferry\n") and "The bass \u2013 better." in text and "2, bass forward (low.gain" in text, text
    assert "4 of 6 correct." in text and "No evidence of an audible difference." in text, text


@check
def the_way_through_by_tab(browser):
    browser.run("scrollTo(0, 0)")
    browser.driver.find_element("tag name", "h1").click()
    order = []
    for _ in range(24):
        ActionChains(browser.driver).send_keys(Keys.TAB).perform()
        where = browser.run("const e = document.activeElement; return [e.id || e.name || e.className, getComputedStyle(e).outlineStyle]")
        if where[0] in order or not where[0]:
            break
        order.append(where[0])
        assert where[1] != "none", f"{where[0]} does not show that it has the focus"
    assert order[:8] == ["play", "from", "to", "round", "whole", "volume", "ruler", "version"], order
    assert {"begin", "text", "save", "keys-on"} <= set(order), order


@check
def readable_for_everyone(browser):
    def findings(where):
        browser.run(AXE)
        found = browser.wait_for("return (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 120)).slice(0, 3)])")
        for impact, rule, nodes in found:
            print(f"    {where}: {impact}, {rule}: {nodes}")
        return [rule for impact, rule, _ in found if impact in ("serious", "critical")]

    serious = []
    for scheme in ("light", "dark"):
        browser.media(scheme=scheme)
        serious += findings(scheme)
        begin_blind(browser, "which", 3)
        serious += findings(f"{scheme}, blind")
        click(browser, "leave")
    browser.media()
    assert not serious, serious


@check
def fits_narrow_and_wide(browser):
    shots = Path(os.environ.get("SCREENSHOTS") or WORK)
    shots.mkdir(parents=True, exist_ok=True)
    for width in (360, 700, 1280, 2200):
        browser.size(width, 900)
        for scheme in ("light", "dark"):
            browser.media(scheme=scheme)
            browser.picture(shots / f"{scheme}-{width}.png")
        assert browser.run("return document.documentElement.scrollWidth") <= width, f"wider than {width}"
    browser.size(800, 1000)
    browser.media(kind="print")
    browser.picture(shots / "print.png")
    assert not browser.driver.find_element("id", "play").is_displayed()
    browser.media()
    browser.size(1280, 1000)
    begin_blind(browser, "which", 3)
    browser.picture(shots / "blind.png")
    click(browser, "leave")


@check
def versions_of_other_tempos_change_at_the_same_bar(browser):
    browser.asked = browser.requests()
    complaints = browser.complaints()
    assert complaints == [], complaints
    # Notes that were typed hold the page back until they are saved.
    click(browser, "save")
    browser.driver.get((PAGES / "tempos.html").as_uri())
    browser.wait_for("await listening.decoded")
    wavs = {0: WAVS[0], 1: FASTER}
    body_keys(browser, *[Keys.ARROW_RIGHT] * 4, " ")
    assert heard(browser, wavs) == 0
    for key, version in (("2", 1), ("1", 0)):
        # Measuring takes time, which goes on meanwhile: a bar may have begun between the two looks.
        before = int(bar(browser))
        body_keys(browser, key)
        assert (int(bar(browser)) - before) % BARS in (0, 1)
        assert heard(browser, wavs) == version
    body_keys(browser, " ")
    browser.driver.get(PAGE)


@check
def a_page_that_compare_wrote(browser):
    folder = PAGES / "compared"
    page = folder / "index.html"
    browser.asked += browser.requests()
    browser.driver.get(page.as_uri())
    ready = browser.run("return performance.getEntriesByType('navigation')[0].domInteractive")
    print(f"    {page.stat().st_size / 1e6:.1f} MB, can be used after {ready / 1000:.2f} s")
    names = browser.run("return listening.versions.map((version) => version.name)")
    assert names[0] == "as written" and names[7] == "snare.room=-6" and len(names) == 8, names
    files = {0: "01-as-written.wav", 7: "08-snare.room=-6.wav"}
    wavs = {n: wavfile.read(folder / file)[1].astype(float) for n, file in files.items()}
    click(browser, "play")
    assert heard(browser, wavs) == 0
    assert said(browser).startswith("Playing: 1"), said(browser)
    body_keys(browser, "8")
    assert heard(browser, wavs) == 7
    assert said(browser).startswith("Playing: 8"), said(browser)
    body_keys(browser, " ")
    picture = browser.driver.find_element("css selector", "figure svg")
    assert picture.is_displayed() and "difference from 1" in picture.get_attribute("textContent")
    browser.run(AXE)
    found = browser.wait_for("return (await axe.run()).violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => v.id)")
    assert found == [], found
    shots = Path(os.environ.get("SCREENSHOTS") or WORK)
    for width in (360, 1280):
        browser.size(width, 900)
        for scheme in ("light", "dark"):
            browser.media(scheme=scheme)
            browser.picture(shots / f"compared-{scheme}-{width}.png")
        assert browser.run("return document.documentElement.scrollWidth") <= width, f"wider than {width}"
    browser.media()
    browser.size(1280, 1000)
    assert browser.complaints() == []
    browser.asked += browser.requests()
    browser.driver.get(PAGE)


@check
def nothing_leaves_the_page(browser):
    asked = set(browser.asked + browser.requests())
    outside = [url for url in asked if not url.startswith(("file:", "data:", "blob:"))]
    assert PAGE in asked and not outside, outside
    assert browser.complaints() == []


def main():
    browser = Browser(WORK)
    failed = 0
    try:
        browser.driver.get(PAGE)
        for rule in checks:
            name = rule.__name__.replace("_", " ")
            try:
                rule(browser)
                print(f"  {name}: ok")
            except Exception as problem:  # the next rule may still tell something
                failed += 1
                print(f"  {name}: FAILED: {type(problem).__name__} {str(problem).split('Stacktrace')[0]}")
                traceback.print_tb(problem.__traceback__, limit=-2)
    finally:
        browser.quit()
    print(f"browser: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
