"""Uses a listening page in a real browser. Arguments: the page's folder, axe-core's script, a folder for what comes up."""

import base64
import json
import os
import re
import sys
import time
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from scipy.stats import binomtest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

import hearing
from browser import Browser, held_to
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
    # The driver itself would scroll it under the transport, which stays in sight.
    browser.run("document.getElementById(arguments[0]).scrollIntoView({ block: 'center' })", name)
    browser.driver.find_element("id", name).click()


def heard(browser, wavs=WAVS):
    return hearing.heard(browser, wavs)


def at_hand(browser):
    first, everything = browser.run("return ['first', 'all'].map((name) => performance.getEntriesByName(`sound: ${name}`)[0]?.startTime ?? NaN)")
    return f"the first version can be heard after {first / 1000:.2f} s, all are decoded after {everything / 1000:.2f} s"


@check
def plays_at_once(browser):
    browser.wait_for("await listening.decoded")
    print(f"    {at_hand(browser)}")
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


def rendered(browser, first, end, offset, rounds):
    """What the page's sources play offline: the lead in frames, and one array (frames, 2) for each version."""
    told = browser.wait_for(RENDER, first, end, offset, rounds)
    sides = [np.frombuffer(base64.b64decode(text), dtype="<f4").astype(float) for text in told["channels"]]
    return told, [np.stack(sides[2 * n : 2 * n + 2], axis=1) for n in WAVS]


@check
def versions_run_in_step_and_round_without_a_gap(browser):
    # From the middle on, over the seam and round again.
    offset = 700_001
    told, versions = rendered(browser, 0, BARS, offset, 1.6)
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
    told, versions = rendered(browser, 2, 4, 0, 2)
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


@check
def what_answers_are_worth_equals_the_values_that_the_program_is_held_to(browser):
    paired = json.loads((Path(__file__).parents[1] / "reference" / "paired.json").read_text())
    ours = browser.run(
        "const [{ binomial, models, holm }] = arguments; const { odds } = listening;"
        "return [binomial.map(({ k, n }) => [odds.atLeast(k, n, 0.5), odds.asFar(k, n, 0.5)]),"
        " models.map(({ wins }) => { const { added, log, deviation } = odds.strengths(wins); return [added, log, deviation]; }),"
        " holm.map(({ p }) => odds.holm(p))]",
        paired,
    )
    apart = [abs(a / b - 1) for mine, case in zip(ours[0], paired["binomial"]) for a, b in zip(mine, (case["at_least"], case["as_far"]))]
    for (added, log, deviation), case in zip(ours[1], paired["models"]):
        assert added == case["added"]
        apart += np.abs(np.array([log, deviation]) - [case["log"], case["errors"]]).ravel().tolist()
    apart += [abs(a - b) for mine, case in zip(ours[2], paired["holm"]) for a, b in zip(mine, case["adjusted"])]
    print(f"    {len(apart)} values, farthest apart by {max(apart):.1e}")
    assert max(apart) < 1e-6


def begin_blind(browser, kind, rounds):
    browser.run("document.getElementById('blind').scrollIntoView()")
    browser.driver.find_element("css selector", f'[name="kind"][value="{kind}"]').click()
    field = browser.driver.find_element("id", "rounds")
    field.clear()
    field.send_keys(str(rounds))
    if browser.driver.find_element("id", "training").is_selected():
        click(browser, "training")
    click(browser, "begin")
    if any("press the button again" in said.text for said in browser.driver.find_elements("id", "not-begun")):
        click(browser, "begin")


def names_are_hidden(browser):
    # Neither in what is seen nor in what is hidden, nor in what a screen reader is told.
    there = browser.run("return document.documentElement.outerHTML.replace(/<script>[^]*?<\\/script>/g, '')")
    tree = json.dumps(browser.command("Accessibility.getFullAXTree"))
    for words in (*NAMES, "low.gain"):
        assert words not in tree, f"a screen reader is told {words}"
        assert words not in there, f"{words} lies in the document"
    assert not browser.driver.find_elements("css selector", ".wave"), "a waveform is there"
    assert not browser.driver.find_elements("css selector", "table"), "a figure is there"


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
    verdict = browser.run("return document.getElementById('score').innerText")
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
    verdict = browser.run("return document.getElementById('score').innerText")
    assert "2, bass forward: preferred to 1, as written 4 of 4 times, p = 0.13" in verdict, verdict
    assert verdict.startswith("No evidence of a preference."), verdict
    click(browser, "play")
    begin_blind(browser, "prefer", 4)
    click(browser, "leave")
    assert "no score" in browser.run("return document.getElementById('score').innerText")


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
    for _ in range(40):
        ActionChains(browser.driver).send_keys(Keys.TAB).perform()
        where = browser.run("const e = document.activeElement; return [e.id || (e.type === 'checkbox' ? e.name + e.value : e.name) || e.className || e.localName, getComputedStyle(e).outlineStyle]")
        if where[0] in order or where[0] == "body":
            break
        order.append(where[0])
        assert where[1] != "none", f"{where[0]} does not show that it has the focus"
    assert order[:10] == ["play", "volume", "to-blind", "from", "from-beat", "to", "to-beat", "round", "whole", "ruler"], order
    assert {"version", "begin", "text", "save", "keys-on"} <= set(order), order


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
    browser.wait_for("await listening.decoded")
    print(f"    {page.stat().st_size / 1e6:.1f} MB, {at_hand(browser)}")
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
def play_says_where_no_sound_output_opens(browser):
    browser.run("window.resume = AudioContext.prototype.resume; AudioContext.prototype.resume = () => new Promise(() => {})")
    click(browser, "play")
    time.sleep(2)
    assert "opens no sound output" in said(browser) and "press Play again" in said(browser), said(browser)
    assert not browser.run("return document.body.classList.contains('playing')")
    browser.run("AudioContext.prototype.resume = window.resume")
    click(browser, "play")
    assert heard(browser) == 0
    click(browser, "play")


@check
def nothing_leaves_the_page(browser):
    asked = set(browser.asked + browser.requests())
    outside = [url for url in asked if not url.startswith(("file:", "data:", "blob:"))]
    assert PAGE in asked and not outside, outside
    assert browser.complaints() == []


def main():
    browser = Browser(WORK)
    try:
        browser.driver.get(PAGE)
        failed = held_to(checks, browser)
    finally:
        browser.quit()
    print(f"browser: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
