"""Blind listening gives nothing away and counts rightly. Arguments: the page's folder, a folder for what comes up."""

import sys
from pathlib import Path

import numpy as np
from scipy.stats import binomtest
from selenium.webdriver.common.action_chains import ActionChains

from browser import Browser, held_to

PAGES, WORK = Path(sys.argv[1]), Path(sys.argv[2])
OFFLINE = Path(__file__).with_name("offline.js").read_text()
RATE = 48000
# A choice is heard 30 ms after it and takes 10 ms (`LEAD` and `CHANGE` of the page): 24 quanta of 128 frames hold all of it.
CURVE = 24
# A vote counts half a second after its round began: with three curves before it.
SETTLED = 120
ROUNDS = 64
checks = []

# What a robot does by hand, once for all that follows.
HANDS = """
window.key = (key) => document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
window.press = (words) => [...document.querySelectorAll("button")].find((button) => button.textContent === words).click();
window.begin = (kind, rounds) => {
  document.querySelector(`[name="kind"][value="${kind}"]`).click();
  document.getElementById("training").checked = false;
  document.getElementById("rounds").value = rounds;
  document.getElementById("begin").click();
};
"""


def check(rule):
    checks.append(rule)
    return rule


def opened(browser, page="night-ferry.html", levels=(1, 1)):
    """A page that plays constants into the clock moved on by hand."""
    browser.driver.get((page if isinstance(page, Path) else PAGES / page).resolve().as_uri())
    browser.run(HANDS)
    browser.wait_for("await level(args)", *levels)


CURVES = """
const curves = {};
press("Play");
await go(200);
const choice = async (name, act) => { act(); curves[name] = [...await go(CURVE)]; };
begin("which", 10);
await go(200);
await choice("the same, A again", () => key("a"));
await choice("another, B", () => key("b"));
await choice("the same, B again", () => key("b"));
await choice("X", () => key("x"));
await choice("X again", () => key("x"));
await choice("A, or X again", () => key("a"));
await go(SETTLED);
for (let n = 0; n < 8; n++) {
  await choice(`round ${n + 2}`, () => press("X is A"));
  await choice(`X of round ${n + 2}`, () => key("x"));
  await choice(`down from X of round ${n + 2}`, () => key("ArrowDown"));
  await go(SETTLED);
}
return curves;
""".replace("CURVE)", f"{CURVE})").replace("SETTLED", str(SETTLED))


@check
def every_choice_has_one_gain_curve(browser):
    for page in ("night-ferry.html", "tempos.html"):
        opened(browser, page)
        curves = {name: np.array(curve) for name, curve in browser.wait_for(CURVES).items()}
        first = curves["another, B"]
        assert len(curves) == 30 and first.max() == 1 and first.min() == 0 and first[0] == first[-1] == 1, first
        apart = {name: np.abs(curve - first).max() for name, curve in curves.items()}
        worst = max(apart, key=apart.get)
        print(f"    {page}: {len(curves)} curves, farthest apart by {apart[worst]:.1e} ({worst})")
        assert apart[worst] <= 1e-6, apart


# Choices by letters, so many quanta apart: quicker than a change takes, and than the time it is set out ahead.
HURRIED = """
const [letters, pauses] = args;
const heard = [];
for (const [n, letter] of [...letters].entries()) {
  key(letter);
  heard.push(...await go(pauses[n]));
}
heard.push(...await go(CURVE));
return heard;
""".replace("CURVE", str(CURVE))


@check
def hurried_choices_have_one_gain_curve(browser):
    pauses = [1, 1, 2, 3, 5, 4, 1, 6, 2, 1, 3, 1]
    for page in ("night-ferry.html", "tempos.html"):
        opened(browser, page)
        browser.wait_for("press('Play'); await go(200); begin('which', 10); await go(200)")
        curves = []
        for letters in ("aaaaaaaaaaaa", "abababababab", "axbxaxbxaxbx", "xxxxxxbbbbbb", "bbaaxxabxabx"):
            curves.append(np.array(browser.wait_for(HURRIED, letters, pauses)))
            browser.wait_for("await go(CURVE)".replace("CURVE", str(CURVE)))
        apart = max(np.abs(curve - curves[0]).max() for curve in curves)
        print(f"    {page}: farthest apart by {apart:.1e}")
        assert curves[0].min() == 0 and apart <= 1e-6


# Whatever hands can do, in any order and faster than they can.
HANDS_AT_RANDOM = """
const [times] = args;
const one = (list) => list[draw() % list.length];
const change = (id) => {
  const field = document.getElementById(id);
  field.value = draw() % field.options.length;
  field.dispatchEvent(new Event("change", { bubbles: true }));
};
const round = document.getElementById("round");
const acts = {
  letter: () => key(one("abx12")),
  line: () => key(one(["ArrowUp", "ArrowDown"])),
  bar: () => key(one(["ArrowLeft", "ArrowRight", "Home"])),
  bounds: () => change(one(["from", "to"])),
  whole: () => press("All bars"),
  play: () => key(" "),
  begin: () => document.getElementById("blind") && begin(one(["which", "prefer", "same"]), 50),
  leave: () => document.getElementById("hidden-staves").hidden || press("Leave the blind test"),
  answer: () => document.getElementById("hidden-staves").hidden || one([...document.querySelectorAll("#picks button")]).click(),
};
const often = ["letter", "letter", "letter", "letter", "line", "line", "bar", "bar", "bar", "bounds", "whole", "play", "begin", "leave", "answer"];
let [last, most, step, changed] = [0, 0, 0, 0];
press("Play");
for (let time = 0; time < times; time++) {
  const act = one(often);
  acts[act]();
  for (const value of await go(one([1, 1, 1, 2, 2, 3, 5, 8, 13, 40]))) {
    most = Math.max(most, value);
    step = Math.max(step, Math.abs(value - last));
    changed += value !== last;
    last = value;
  }
}
return { most, step, changed };
"""


@check
def no_hand_makes_a_click(browser):
    # The steepest: a blind change goes down in 4.5 ms while a seek fades in 10 ms.
    steepest = 1 / (0.0045 * RATE) + 1 / (0.01 * RATE)
    for page, levels in (("night-ferry.html", (1, 1)), ("night-ferry.html", (1, 0.5)), ("tempos.html", (1, 0.5))):
        opened(browser, page, levels)
        heard = browser.wait_for(HANDS_AT_RANDOM, 600)
        print(f"    {page}, levels {levels}: at most {heard['most']:.7f}, steps to {heard['step'] / steepest:.2f} of the steepest fade")
        assert heard["changed"] > 10_000, heard
        assert heard["most"] <= 1 + 1e-6, heard
        assert heard["step"] <= steepest * 1.001, heard


# Hears A, B and X of each round, all of them the same constant, and takes X for the one whose curve is closer to its own.
ROBOT = """
press("Play");
await go(200);
begin("which", ROUNDS);
await go(200);
const apart = (one, other) => one.reduce((most, value, n) => Math.max(most, Math.abs(value - other[n])), 0);
for (let round = 0; round < ROUNDS; round++) {
  const heard = {};
  await go(CURVE);
  for (const letter of "abx") {
    key(letter);
    heard[letter] = await go(CURVE);
  }
  await go(SETTLED);
  // A sounds when the round begins, so "A" is the same one again and "B" another; "X" after "B" is either.
  const [same, other] = [apart(heard.x, heard.a), apart(heard.x, heard.b)];
  const guess = same === other ? "AB"[draw() % 2] : same < other ? "B" : "A";
  press(`X is ${guess}`);
}
return document.getElementById("score").textContent;
""".replace("ROUNDS", str(ROUNDS)).replace("CURVE", str(CURVE)).replace("SETTLED", str(SETTLED))


def score(browser):
    """How many of its rounds the robot names correctly."""
    verdict = browser.wait_for(ROBOT)
    correct = [n for n in range(ROUNDS + 1) if verdict.startswith((f"{n} of {ROUNDS} correct", f"You named X rightly {n} of {ROUNDS} "))]
    assert len(correct) == 1, verdict
    return correct[0]


@check
def a_robot_that_listens_for_clicks_only_guesses(browser):
    opened(browser)
    correct = score(browser)
    p = binomtest(correct, ROUNDS, 0.5, alternative="greater").pvalue
    print(f"    {correct} of {ROUNDS} correct, probability of this score or better by guessing {p:.2g}")
    assert p > 0.05, correct


@check
def the_same_robot_hears_a_page_that_does_not_dip_for_the_same_version(browser):
    rule, fault = "if (voice && (blind || before !== next))", "if (voice && before !== next)"
    text = (PAGES / "night-ferry.html").read_text()
    assert text.count(rule) == 1
    faulty = WORK / "faulty.html"
    faulty.write_text(text.replace(rule, fault))
    opened(browser, faulty)
    assert score(browser) == ROUNDS


def round_of(browser):
    return browser.run("return document.getElementById('round-of').textContent")


def in_view(browser, name):
    """What stands in an element, all of which is seen."""
    box, height = browser.run(
        "const { top, bottom } = document.getElementById(arguments[0]).getBoundingClientRect(); return [[top, bottom], innerHeight]", name
    )
    assert 0 <= box[0] < box[1] <= height, f"{name} lies at {box} of {height}"
    return browser.driver.find_element("id", name).text


def button(browser, words):
    return browser.driver.find_element("xpath", f"//button[text()='{words}']")


@check
def a_double_click_answers_once(browser):
    opened(browser)
    browser.wait_for("press('Play'); await go(200); begin('which', 10); await go(200)")
    ActionChains(browser.driver).double_click(button(browser, "X is A")).perform()
    assert round_of(browser) == "Round 2 of 10."
    # Two clicks that the system takes for two, but before anybody can have heard anything.
    browser.run("press('X is A'); press('X is B')")
    assert round_of(browser) == "Round 2 of 10."
    browser.wait_for("await go(200)")
    browser.run("press('X is A'); press('X is A')")
    assert round_of(browser) == "Round 3 of 10."


@check
def an_answer_counts_only_while_the_page_plays(browser):
    opened(browser)
    browser.size(360, 640)
    browser.run("begin('which', 10)")
    assert "An answer counts only while the page plays." in browser.driver.find_element("id", "hidden-staves").text
    for act in ("await go(200)", "press('Play'); await go(200); press('Stop'); await go(200)"):
        browser.wait_for(act) if "Play" in act else None
        button(browser, "X is A").click()
        assert round_of(browser) == "Round 1 of 10."
        assert "the page is not playing" in in_view(browser, "not-counted")
    browser.wait_for("press('Play'); await go(200)")
    button(browser, "X is A").click()
    assert round_of(browser) == "Round 2 of 10."
    assert browser.run("return document.getElementById('not-counted').textContent") == ""
    browser.size(1280, 1000)


@check
def what_holds_a_test_back_is_said_in_view(browser):
    for width, height in ((360, 500), (1280, 600)):
        opened(browser)
        browser.size(width, height)
        for kind, alone, rounds, words in (
            ("which", True, 10, "choose two, not 1"),
            ("prefer", True, 10, "Choose two versions or more."),
            # One half to the power of the rounds is below 0.05 from five on; two-sided, twice that, from six on.
            ("which", False, 4, "4 of 4 correct gives p = 0.063, not below 0.05. Set 5 rounds or more"),
            ("same", False, 4, "4 of 4 correct gives p = 0.063, not below 0.05. Set 5 rounds or more"),
            ("prefer", False, 5, "preferring one version 5 of 5 times gives p = 0.063, not below 0.05. Set 6 rounds or more"),
        ):
            browser.run(
                "const box = document.querySelectorAll('[name=takes]')[1]; if (box.checked === arguments[0]) box.click(); begin(arguments[1], arguments[2])",
                alone,
                kind,
                rounds,
            )
            assert words in in_view(browser, "not-begun"), words
            assert browser.driver.find_element("id", "begin").is_displayed()
        # Who knows it may go on all the same.
        button(browser, "Hide the names and begin").click()
        assert round_of(browser) == "Round 1 of 5."
        browser.run("press('Leave the blind test')")
        for kind, rounds in (("which", 5), ("prefer", 6)):
            browser.run("begin(arguments[0], arguments[1])", kind, rounds)
            assert round_of(browser) == f"Round 1 of {rounds}."
            browser.run("press('Leave the blind test')")
    browser.size(1280, 1000)


@check
def a_score_is_not_lost_unwarned(browser):
    def warned():
        return browser.run("return !dispatchEvent(new Event('beforeunload', { cancelable: true }))")

    opened(browser)
    browser.wait_for("press('Play'); await go(200); begin('which', 5); await go(200)")
    assert not warned()
    browser.wait_for("press('X is A'); await go(200)")
    assert warned()
    browser.run("press('Leave the blind test')")
    assert not warned()
    browser.wait_for("begin('which', 5); for (let n = 0; n < 5; n++) { await go(200); press('X is A'); }")
    assert browser.driver.find_element("id", "verdict").is_displayed()
    assert warned()
    # In earnest: who has clicked in the page is asked before it goes.
    browser.dialogs()
    click = lambda: ActionChains(browser.driver).click(browser.driver.find_element("tag name", "h1")).perform()
    click()
    opened(browser)
    assert browser.dialogs() == ["beforeunload"]
    click()
    opened(browser)
    assert browser.dialogs() == []
    browser.wait_for("press('Play'); await go(200); begin('which', 5); for (let n = 0; n < 5; n++) { await go(200); press('X is A'); }")
    button(browser, "Save as a text file").click()
    assert not warned()


@check
def nothing_in_the_page_tells_which_version_plays(browser):
    # The same page, the same hands, other letters dealt: what stands in the document is the same but for where it plays.
    opened(browser)
    browser.wait_for("press('Play'); await go(200); begin('which', 10)")
    seen = set()
    for _ in range(9):
        browser.wait_for("await go(200); for (const letter of 'abxa') { key(letter); await go(30); }")
        seen.add(
            browser.run(
                "const copy = document.body.cloneNode(true);"
                "for (const id of ['bar', 'count', 'round-of', 'said']) copy.querySelector('#' + id).textContent = '';"
                "copy.querySelectorAll('script').forEach((script) => script.remove());"
                "const checked = [...document.querySelectorAll('input')].map((input) => input.checked);"
                "return copy.innerHTML + checked"
            )
        )
        browser.run("press('X is A')")
    assert len(seen) == 1, "the document differs with the letters dealt"


def main():
    browser = Browser(WORK)
    browser.command("Page.addScriptToEvaluateOnNewDocument", source=OFFLINE)
    try:
        failed = held_to(checks, browser)
    finally:
        browser.quit()
    print(f"blind: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
