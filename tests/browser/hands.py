"""What hands and eyes find on a listening page: stretches of bars, the place, keys, the difference, blind questions, contrast.
Arguments: the page's folder, a folder for what comes up."""

import csv
import json
import re
import sys
import time
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

import hearing
from browser import Browser, held_to

PAGES, WORK = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
PAGE = (PAGES / "night-ferry.html").as_uri()
COMPARED = (PAGES / "compared" / "index.html").as_uri()
WAVS = {n: wavfile.read(PAGES / f"{name}.wav")[1].astype(float) for n, name in enumerate(["as-written", "bass-forward"])}
BARS = 8
checks = []


def check(rule):
    checks.append(rule)
    return rule


def text(browser, name):
    return browser.run("return document.getElementById(arguments[0]).textContent", name)


def keys(browser, *typed):
    browser.run("document.activeElement.blur()")
    for key in typed:
        ActionChains(browser.driver).send_keys(key).perform()


def press(browser, words):
    browser.run("[...document.querySelectorAll('button')].find((button) => button.textContent === arguments[0]).click()", words)


def begin(browser, kind, rounds, training=False):
    browser.run(
        "document.querySelector(`[name=kind][value=${arguments[0]}]`).click();"
        "document.getElementById('rounds').value = arguments[1];"
        "document.getElementById('training').checked = arguments[2];"
        "document.getElementById('begin').click();"
        "document.getElementById('begin')?.click();",
        kind,
        rounds,
        training,
    )


def opened(browser, page=PAGE):
    browser.run("addEventListener('beforeunload', (event) => event.stopImmediatePropagation(), true)")
    browser.driver.get(page)
    browser.wait_for("await listening.decoded")


@check
def dragging_chooses_bars_and_with_shift_beats(browser):
    opened(browser)
    for name in ("#ruler", '.stave[data-version="2"] .field'):
        field = browser.driver.find_element("css selector", name)
        width = field.size["width"]
        at = lambda beat: round((beat - 0.5) / (4 * BARS) * width - width / 2)
        for shift, told, chosen in ((False, "Bars 2 to 3", [1, 0, 2, 3]), (True, "Bar 2 beat 3 to bar 3 beat 2", [1, 2, 2, 1])):
            hand = ActionChains(browser.driver)
            if shift:
                hand.key_down(Keys.SHIFT)
            hand.move_to_element_with_offset(field, at(7), 0).click_and_hold().move_to_element_with_offset(field, at(10), 0).perform()
            # What is chosen is seen and said while it is dragged.
            assert text(browser, "said") == f"{told}.", text(browser, "said")
            bands = browser.run("return [...document.querySelectorAll('.band')].filter((band) => !band.hidden).map((band) => [band.style.left, band.style.width])")
            assert len(bands) >= 3 and len(set(map(tuple, bands))) == 1, bands
            ActionChains(browser.driver).release().key_up(Keys.SHIFT).perform()
            lists = browser.run("return ['from', 'from-beat', 'to', 'to-beat'].map((id) => Number(document.getElementById(id).value))")
            assert lists == chosen, lists
        press(browser, "All bars")
        assert not browser.run("return document.querySelectorAll('.band:not([hidden])').length")
    # Escape drops what is being dragged; the lists do the same as a hand.
    ruler = browser.driver.find_element("id", "ruler")
    ActionChains(browser.driver).move_to_element(ruler).click_and_hold().move_by_offset(200, 0).send_keys(Keys.ESCAPE).release().perform()
    assert browser.run("return document.getElementById('to').value") == "7"
    browser.run("for (const [id, value] of [['from', 1], ['from-beat', 2], ['to', 2], ['to-beat', 1]]) { const list = document.getElementById(id); list.value = value; list.dispatchEvent(new Event('change')); }")
    keys(browser, Keys.HOME)
    assert text(browser, "said").endswith("Bar 2 beat 3 to bar 3 beat 2."), text(browser, "said")
    assert (text(browser, "bar"), text(browser, "count")) == ("2", "3")
    press(browser, "All bars")


@check
def the_place_is_a_slider(browser):
    ruler = browser.driver.find_element("id", "ruler")
    ruler.send_keys(Keys.HOME)
    value = lambda: (ruler.get_attribute("aria-valuenow"), ruler.get_attribute("aria-valuetext"))
    for key, bar in ((Keys.ARROW_RIGHT, 2), (Keys.ARROW_UP, 3), (Keys.ARROW_LEFT, 2), (Keys.ARROW_DOWN, 1), (Keys.PAGE_UP, 5), (Keys.PAGE_UP, 8), (Keys.PAGE_DOWN, 4), (Keys.END, 8), (Keys.HOME, 1)):
        ruler.send_keys(key)
        assert value() == (str(bar), f"bar {bar}"), (key, value())
    # A slider's own keys work where single keys are switched off (WCAG 2.2, 2.1.4), single keys do not.
    browser.run("document.getElementById('keys-on').click()")
    ruler.send_keys(Keys.END)
    assert value() == ("8", "bar 8")
    keys(browser, "2", " ")
    assert text(browser, "said").startswith("Chosen: 1,") and text(browser, "play") == "Play"
    browser.run("document.getElementById('keys-on').click()")
    ruler.send_keys(Keys.HOME)


@check
def transport_and_blind_listening_stay_in_sight(browser):
    for width, height in ((360, 640), (1280, 800)):
        browser.size(width, height)
        browser.run("scrollTo(0, document.documentElement.scrollHeight)")
        for name in ("play", "volume", "to-blind"):
            top, bottom = browser.run("const b = document.getElementById(arguments[0]).getBoundingClientRect(); return [b.top, b.bottom]", name)
            assert 0 <= top < bottom <= height, (name, top, bottom)
        assert browser.run("return document.querySelector('.desk').getBoundingClientRect().height") < height / 3
    browser.size(1280, 1000)
    browser.run("scrollTo(0, 0)")


@check
def the_difference_is_heard_and_drawn_at_the_gain_that_is_stated(browser):
    browser.run("document.getElementById('apart').open = true")
    browser.run("const [one, less] = [document.getElementById('minuend'), document.getElementById('subtrahend')]; one.value = 1; less.value = 0; one.dispatchEvent(new Event('change'))")
    time.sleep(0.5)
    assert "a gain of 0 dB" in text(browser, "difference-told"), text(browser, "difference-told")
    rest = WAVS[1] - WAVS[0]
    for asked in (0, 6, 48):
        browser.run("const gain = document.getElementById('difference-gain'); gain.value = arguments[0]; gain.dispatchEvent(new Event('change'))", asked)
        time.sleep(1)
        told = text(browser, "difference-told")
        gain = float(re.search(r"gain of (\S+) dB", told)[1].replace("−", "-"))
        most = 20 * np.log10(max(np.abs(wav).max() for wav in WAVS.values()) / np.abs(rest).max())
        assert abs(gain - min(asked, most)) < 0.11 and ("more would be louder" in told) == (asked > most), (told, most)
        heard = browser.run("return Array.from(listening.buffers[2].getChannelData(0))")
        assert hearing.db(np.std(np.array(heard) - rest[:, 0] * 10 ** (gain / 20))) < -80 + gain
        # The path's highest and lowest points are the sound's, on the scale of the versions'.
        drawn = browser.run("return document.querySelector('#difference .wave').getAttribute('d')")
        heights = [float(point.split(" ")[1]) for point in re.findall(r"[\d.]+ -?[\d.]+", drawn)]
        loudest = max(np.abs(wav).max() for wav in WAVS.values())
        top = 100 - 100 * max(0, rest.max()) * 10 ** (gain / 20) / loudest
        assert abs(min(heights) - top) < 0.5, (min(heights), top)
    keys(browser, "d", " ")
    assert hearing.heard(browser, {0: WAVS[0], 1: WAVS[1], 2: rest}) == 2
    assert text(browser, "said").startswith("Playing: 2, bass forward, less 1, as written"), text(browser, "said")
    keys(browser, "1")
    assert hearing.heard(browser, {0: WAVS[0], 1: WAVS[1], 2: rest}) == 0
    keys(browser, " ")


@check
def keys_for_ten_versions_and_more(browser):
    opened(browser, (PAGES / "many.html").as_uri())
    for typed, number in (("7", 7), ("1", 1), ("12", 12), ("10", 10), ("65", 65), ("9", 9)):
        keys(browser, *typed)
        for _ in range(50):
            if text(browser, "said").startswith(f"Chosen: {number},"):
                break
            time.sleep(0.1)
        assert text(browser, "said").startswith(f"Chosen: {number},"), (typed, text(browser, "said"))
        time.sleep(0.8)


@check
def many_versions_are_decoded_as_needed(browser):
    browser.driver.get((PAGES / "many.html").as_uri())
    browser.wait_for("await listening.decoded")
    first, everything = browser.run("return ['first', 'all'].map((name) => performance.getEntriesByName(`sound: ${name}`)[0].startTime / 1000)")
    size = (PAGES / "many.html").stat().st_size / 1e6
    held = lambda: browser.run("return listening.used.map((n) => listening.buffers[n].length * listening.buffers[n].numberOfChannels * 4).reduce((a, b) => a + b)")
    print(f"    65 versions, {size:.0f} MB: the first can be heard after {first:.2f} s, {held() / 1e6:.0f} MB are decoded after {everything:.2f} s")
    assert browser.run("return listening.versions.length") == 65
    assert held() <= 256e6 and browser.run("return listening.used.length") < 65
    # All of them can be heard all the same, and what is kept stays within its room.
    for n in (64, 40, 20):
        keys(browser, *str(n + 1))
        for _ in range(50):
            if browser.run("return Boolean(listening.buffers[arguments[0]])", n):
                break
            time.sleep(0.1)
        assert browser.run("return Boolean(listening.buffers[arguments[0]])", n), n
        assert held() <= 256e6
        time.sleep(0.8)
    # All that take part in a blind test are decoded before it begins.
    browser.run("document.querySelectorAll('[name=takes]').forEach((box, n) => { if (box.checked !== (n > 60)) box.click(); })")
    browser.run("document.querySelector('[name=kind][value=prefer]').click(); document.getElementById('rounds').value = 60; document.getElementById('begin').click()")
    for _ in range(100):
        if browser.run("return !document.getElementById('hidden-staves').hidden"):
            break
        time.sleep(0.1)
    assert browser.run("return [61, 62, 63, 64].every((n) => listening.buffers[n])")
    press(browser, "Leave the blind test")


@check
def blind_questions_are_answered_by_keys(browser):
    opened(browser)
    keys(browser, " ")
    # The training round gives its answer and does not count.
    begin(browser, "same", 3, training=True)
    assert text(browser, "round-of") == "Training round: it does not count."
    right, rounds = 0, 3
    time.sleep(0.7)
    keys(browser, "3")
    assert re.match(r"Training: they were (the same|different); not counted\. The test begins\. Round 1 of 3\.", text(browser, "said")), text(browser, "said")
    for number in range(rounds):
        assert text(browser, "round-of") == f"Round {number + 1} of 3."
        heard = []
        for letter in "ab":
            keys(browser, letter)
            heard.append(hearing.heard(browser, WAVS))
        same = heard[0] == heard[1]
        answer = same if number < 2 else not same
        right += answer == same
        keys(browser, "1" if answer else "2")
    assert text(browser, "score").startswith(f"{right} of 3 correct."), text(browser, "score")
    begin(browser, "which", 2)
    for answer in "33":
        time.sleep(0.7)
        keys(browser, answer)
    assert "You could not tell 2 times; chance answered these." in text(browser, "score")
    begin(browser, "prefer", 3)
    for answer in "133":
        time.sleep(0.7)
        keys(browser, answer)
    assert re.search(r"preferred to \d, [a-z ]+ 1 of 1 times, 2 times you could not tell, p = 1\.0", text(browser, "score")), text(browser, "score")
    keys(browser, " ")


def saved(name):
    for _ in range(50):
        if (WORK / name).exists() and (WORK / name).read_bytes():
            return (WORK / name).read_bytes().decode()
        time.sleep(0.1)
    raise AssertionError(f"{name} is not saved")


@check
def results_are_saved_round_by_round(browser):
    browser.driver.find_element("id", "listener").send_keys("=Ines, of the \"harbour\"")
    press(browser, "Save results as JSON")
    told = json.loads(saved("Night-ferry-results.json"))
    identity = browser.run("return listening.told.identity")
    assert told["pressroll_results"] == 1 and told["listener"] == "=Ines, of the \"harbour\""
    assert told["page"]["identity"] == identity and [one["name"] for one in told["page"]["versions"]] == ["as written", "bass forward"]
    kinds = [(test["kind"], len(test["rounds"]), test["complete"]) for test in told["tests"]]
    assert kinds == [("same", 3, True), ("which", 2, True), ("prefer", 3, True)], kinds
    same, which, prefer = (test["rounds"] for test in told["tests"])
    assert sum(one["correct"] for one in same) == 2
    assert all(((one["a"] == one["b"]) == (one["answer"] == "same")) == one["correct"] for one in same), same
    assert all(one["answer"] == "can't tell" and one["guess"] in "AB" and one["x"] in (one["a"], one["b"]) for one in which)
    assert [one["answer"] for one in prefer] == ["A", "can't tell", "can't tell"] and prefer[0]["preferred"] == prefer[0]["a"]
    press(browser, "Save results as CSV")
    rows = list(csv.DictReader(saved("Night-ferry-results.csv").splitlines()))
    assert len(rows) == 8 and {row["page"] for row in rows} == {identity} and rows[0]["listener"] == "'=Ines, of the \"harbour\""
    assert [row["answer"] for row in rows[5:]] == ["A", "can't tell", "can't tell"] and rows[5]["preferred"] == rows[5]["a"]


def contrast(one, other):
    """WCAG 2.2, "contrast ratio" and "relative luminance"."""

    def luminance(colour):
        parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
        r, g, b = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@check
def waveforms_and_playhead_stand_out(browser):
    opened(browser)
    for scheme, forced in (("light", "none"), ("dark", "none"), ("light", "active"), ("dark", "active")):
        browser.command(
            "Emulation.setEmulatedMedia",
            media="",
            features=[{"name": "prefers-color-scheme", "value": scheme}, {"name": "forced-colors", "value": forced}],
        )
        time.sleep(0.2)
        paper, chosen, other, hand, rim = browser.run(
            "const of = (name, what) => getComputedStyle(document.querySelector(name))[what];"
            "return [of('body', 'backgroundColor'), of('.stave.chosen .wave', 'fill'), of('.stave:not(.chosen) .wave', 'fill'),"
            " of('.stave.chosen .hand', 'backgroundColor'), of('.stave.chosen .hand', 'boxShadow')]"
        )
        # The playhead has a rim of paper, so what it stands out from is that.
        ratios = [contrast(paper, colour) for colour in (chosen, other, hand)]
        print(f"    {scheme}, forced colours {forced}: waveforms {ratios[0]:.1f} and {ratios[1]:.1f}, playhead {ratios[2]:.1f} to 1")
        assert min(ratios) >= 3 and contrast(rim, paper) < 1.1, (paper, chosen, other, hand, rim)
    browser.media()


def main():
    browser = Browser(WORK)
    try:
        failed = held_to(checks, browser)
        complaints = browser.complaints()
        assert complaints == [], complaints
    finally:
        browser.quit()
    print(f"hands: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
