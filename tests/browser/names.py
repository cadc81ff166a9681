"""No name of a version is in a listening page before a blind test ends, nor any order that tells one. Arguments: the page's folder, a
folder for what comes up."""

import json
import re
import sys
import time
from pathlib import Path

import numpy as np

from browser import Browser, held_to

PAGES, WORK = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
OFFLINE = Path(__file__).with_name("offline.js").read_text()
PAGE = PAGES / "night-ferry.html"
BLIND = PAGES / "compared" / "blind" / "index.html"
# What each page calls its versions, and what is set otherwise in them.
WORDS = {PAGE: ["as written", "bass forward", "low.gain"], BLIND: ["as written", "snare.room"]}
ROUNDS, TESTS = 6, 6
checks = []

# Everything that stands in the document, whether it is seen or not: elements in their order with their attributes, what fields hold,
# text, comments; the document's title, address and storage.
WALK = """
const stands = [];
const walk = (node) => {
  if (node.nodeType === Node.ELEMENT_NODE) {
    const attributes = [...node.attributes].map(({ name, value }) => `${name}=${value}`);
    const held = ["value", "checked", "selectedIndex", "title", "alt"].filter((name) => name in node).map((name) => `${name}:${node[name]}`);
    stands.push([`<${node.localName} ${[...attributes, ...held].join(" ")}>`, node.id]);
    const told = node.matches("script");
    if (told && node.classList.contains("sound")) return;
    if (told && !node.className && !node.id) return; // the page's script, the same for all
    if (node.shadowRoot) walk(node.shadowRoot);
  } else stands.push([node.data ?? node.nodeName, node.parentElement?.id]);
  node.childNodes.forEach(walk);
};
walk(document);
const store = [location.href, document.cookie, history.length].map(String);
return [stands, store];
"""

# Deals and hears: the level under each letter. Versions are constants, so a level tells which it is.
HANDS = """
window.key = (key) => document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
window.press = (words) => [...document.querySelectorAll("button")].find((button) => button.textContent === words).click();
window.begin = (kind, rounds) => {
  document.querySelector(`[name="kind"][value="${kind}"]`).click();
  document.getElementById("training").checked = false;
  document.getElementById("rounds").value = rounds;
  document.getElementById("begin").click();
  document.getElementById("begin")?.click(); // so few rounds are asked about
};
window.under = async (letters) => {
  const heard = [];
  for (const letter of letters) {
    key(letter);
    await go(60);
    heard.push((await go(4)).at(-1));
  }
  await go(200);
  return heard;
};
"""


def check(rule):
    checks.append(rule)
    return rule


def opened(browser, page):
    browser.run("addEventListener('beforeunload', (event) => event.stopImmediatePropagation(), true)")
    browser.driver.get(page.as_uri())
    browser.run(HANDS)
    count = browser.run("return listening.versions.length")
    browser.wait_for("await level(args)", *[1 / (n + 1) for n in range(count)])


def tree(browser):
    """What a screen reader is told: roles, names, values and descriptions, in order."""
    nodes = browser.command("Accessibility.getFullAXTree")["nodes"]
    value = lambda node, what: str(node.get(what, {}).get("value", ""))
    told = [[value(node, "role"), *(value(node, what) for what in ("name", "value", "description"))] for node in nodes if not node.get("ignored")]
    return [node for node in told if node[0] != "InlineTextBox"]


def nameless(browser, words):
    """Everything that can be found in the page holds none of the words; what was found, but for what follows the time."""
    stands, store = browser.run(WALK)
    told = tree(browser)
    found = "\n".join([text for text, _ in stands] + store + [" ".join(node) for node in told]).lower()
    for word in words:
        assert word.lower() not in found, f"{word} is in the page"
        assert word.replace(" ", "-").lower() not in found, f"{word} is in the page"
    for forbidden in ("wave", "LUFS", "octaves", "picture"):
        lines = [text for text, _ in stands if re.search(rf"(class|id)=[^=>]*\\b{forbidden}\\b", text)]
        assert not lines, lines
    # The place goes on, and the round's number: nothing else may change.
    moving = {"bar", "count", "round-of", "said"}
    still = [text for text, where in stands if where not in moving or text.startswith("<")]
    return json.dumps(still)


@check
def no_name_stands_in_the_files(browser):
    for page, words in WORDS.items():
        text = page.read_text()
        for word in words:
            assert word not in text, f"{word} stands in {page.name}"


def rounds(browser, kind, words, seen, under):
    letters = "abx" if kind == "which" else "ab"
    browser.wait_for("begin(...args); await go(200)", kind, ROUNDS)
    for _ in range(ROUNDS):
        under.append(tuple(np.round(browser.wait_for("return await under(args[0])", letters), 3)))
        browser.run("key('a')")
        browser.wait_for("await go(60)")
        seen.add(nameless(browser, words))
        browser.run("document.querySelector('#picks button').click()")


@check
def no_round_has_a_name_or_an_order(browser):
    browser.requests()
    for kind in ("which", "same", "prefer"):
        opened(browser, PAGE)
        assert "bass forward" in browser.run("return document.body.innerText"), "versions have names in ordinary listening"
        browser.wait_for("press('Play'); await go(200)")
        seen, under = set(), []
        for _ in range(TESTS):
            rounds(browser, kind, WORDS[PAGE], seen, under)
            assert "bass forward" in browser.run("return document.body.innerText"), "names come back"
        assert len(seen) == 1, f"the page differs with what is dealt: {[len(one) for one in seen]}"
        first = [heard[0] for heard in under]
        # Either may be under A, and is within 4 of 36 standard deviations of half of the tests.
        print(f"    {kind}: {len(under)} rounds, {len(set(under))} ways of dealing, version 1 under A in {first.count(1)}; 1 document")
        assert set(first) == {1, 0.5}, under
        assert len(set(under)) == {"which": 4, "same": 4, "prefer": 2}[kind], set(under)
    asked = [url for url in browser.requests() if not url.startswith(("data:", "blob:"))]
    assert set(asked) == {PAGE.as_uri()}, asked


@check
def a_page_that_begins_blind_has_no_name_until_a_test_ends(browser):
    words = WORDS[BLIND]
    opened(browser, BLIND)
    browser.requests()
    browser.complaints()
    nameless(browser, words)
    said = lambda: browser.run("return document.getElementById('said').textContent")
    assert said() == "Chosen: one of 3 versions.", said()
    browser.wait_for("press('Play'); await go(200)")
    # No key and no hand gets at one version or another.
    before = browser.wait_for("return (await go(4)).at(-1)")
    for key in ("1", "2", "3", "ArrowUp", "ArrowDown", "d"):
        browser.run("key(arguments[0])", key)
        after = browser.wait_for("await go(60); return (await go(4)).at(-1)")
        assert after == before and said() == "Playing: one of 3 versions.", (key, said())
    assert "All 3 of them take part" in browser.run("return document.getElementById('blind').innerText")
    # Neither has one that is left early, nor what is saved meanwhile.
    browser.wait_for("begin('prefer', 20); await go(200)")
    nameless(browser, words)
    browser.run("press('Save as a text file')")
    browser.run("press('Leave the blind test')")
    assert "no score" in browser.run("return document.getElementById('not-begun').textContent")
    nameless(browser, words)
    notes = WORK / "Night-ferry-notes.txt"
    for _ in range(50):
        if notes.exists() and notes.read_text():
            break
        time.sleep(0.1)
    assert not any(word in notes.read_text() for word in words), notes.read_text()
    seen, under = set(), []
    rounds(browser, "same", words, seen, under)
    assert len(seen) == 1
    text = browser.run("return document.body.innerText")
    assert f" of {ROUNDS} correct." in text and all(word in text for word in words), text
    assert len(browser.driver.find_elements("css selector", ".stave .wave")) == 4, "three versions and their difference"
    assert browser.driver.find_element("id", "octaves").is_displayed()
    # From then on it is a page as others are.
    browser.run("key('2')")
    assert said().startswith("Playing: 2, snare.room=off"), said()
    browser.run("document.getElementById('apart').open = true")
    time.sleep(0.5)
    assert "gain of" in browser.run("return document.getElementById('difference-told').textContent")
    rounds(browser, "prefer", words, seen := set(), [])
    asked = [url for url in browser.requests() if not url.startswith(("data:", "blob:"))]
    assert not asked, asked
    complaints = browser.complaints()
    assert complaints == [], complaints


def main():
    browser = Browser(WORK)
    browser.command("Page.addScriptToEvaluateOnNewDocument", source=OFFLINE)
    try:
        failed = held_to(checks, browser)
    finally:
        browser.quit()
    print(f"names: {len(checks) - failed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
