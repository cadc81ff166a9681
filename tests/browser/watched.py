"""Hears a watched loop on the page that is served. Arguments: the binary, a kit, a folder for what comes up."""

import shutil
import subprocess
import sys
import time
import warnings
from pathlib import Path

from scipy.io import wavfile

from browser import Browser
from hearing import heard

# Renders carry chunks that scipy does not know.
warnings.simplefilter("ignore", wavfile.WavFileWarning)

BINARY, KIT, WORK = (Path(argument).resolve() for argument in sys.argv[1:])
RATE, TEMPO, BARS = 48000, 120, 4
BAR = RATE * 4 * 60 // TEMPO

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


def loop(kick, bars=BARS):
    return f'[loop]\nkit = "kit"\ntempo = {TEMPO}\nbars = {bars}\n[tab]\n"all" = """\nkick {kick}\nsnare ---- X--g -g-- X---\n"""\n'


def save(desk, text):
    (desk / "beside").write_text(text)
    (desk / "beside").rename(desk / "loop.toml")


def until(browser, script, what):
    for _ in range(200):
        if browser.run(script):
            return
        time.sleep(0.1)
    raise AssertionError(f"{what}: {browser.run('return document.body.innerText')}")


def use(browser, desk, watched):
    address = watched.stdout.readline().strip()
    watched.stdout.readline()
    first = wavfile.read(desk / "out.wav")[1].astype(float)
    browser.command("Page.addScriptToEvaluateOnNewDocument", source=STARTS)
    browser.driver.get(address)
    assert browser.run("return document.getElementById('volume').value") == "-30"
    assert "Mind your ears." in browser.run("return document.body.innerText")
    browser.driver.find_element("id", "play").click()
    until(browser, "return document.body.classList.contains('playing')", "it does not play")

    save(desk, loop("X-x- x-x- X-x- x-x-"))
    line = watched.stdout.readline()
    assert line.startswith("loop.toml: kick · "), line
    until(browser, "return starts.length === 2", "the newer render does not come in")
    time.sleep(0.4)
    second = wavfile.read(desk / "out.wav")[1].astype(float)
    assert heard(browser, {0: first, 1: second}) == 1
    (began, at), (came, place) = browser.run("return starts")
    frames, place = (came - began) * RATE, place * RATE
    print(f"    it came in {frames / BAR:.6f} bars after the first, at {place / BAR:.6f} bars of its own")
    assert at == 0 and abs(frames / BAR - round(frames / BAR)) * BAR < 2, (frames, BAR)
    assert abs(place - round(frames / BAR) % BARS * BAR) < 2, (place, frames)
    assert browser.run("return document.getElementById('volume').value") == "-30"

    save(desk, loop("X-x- x-x- X-x- x-x-").replace("tempo", "tmepo"))
    until(browser, "return !document.getElementById('wrong').hidden", "the page does not say what is wrong")
    assert "did you mean `tempo`?" in browser.run("return document.getElementById('wrong').textContent")
    assert heard(browser, {0: first, 1: second}) == 1

    save(desk, loop("X--- ---- X--- ----", bars=2))
    until(browser, "return listening.told.bars.length === 2", "the shorter render does not come in")
    assert browser.run("return document.getElementById('wrong').hidden")
    time.sleep(1)
    third = wavfile.read(desk / "out.wav")[1].astype(float)
    assert heard(browser, {0: second, 1: third}) == 1
    assert browser.run("return document.querySelectorAll('#ruler .bar').length") == 2
    complaints = browser.complaints()
    assert complaints == [], complaints
    outside = [url for url in browser.requests() if not url.startswith((address, "data:", "blob:"))]
    assert not outside, outside

    watched.terminate()
    assert watched.wait(10) == 0
    until(browser, "return !document.getElementById('wrong').hidden", "the page does not say that nobody answers")
    assert heard(browser, {0: second, 1: third}) == 1


def main():
    desk = WORK / "watched"
    desk.mkdir()
    shutil.copytree(KIT, desk / "kit", ignore=shutil.ignore_patterns("loops"))
    save(desk, loop("X--- --x- -x-- ----"))
    command = [BINARY, "watch", "loop.toml", "-o", "out.wav", "--depth", "float", "--page"]
    watched = subprocess.Popen(command, cwd=desk, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    browser = Browser(WORK)
    try:
        use(browser, desk, watched)
        print("  a saved loop comes in at the next bar of the page that is served: ok")
    finally:
        browser.quit()
        watched.kill()


main()
