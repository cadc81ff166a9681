"""A headless Chromium that opens a page from disk and remembers what it said and asked for."""

import base64
import json
import shutil
import traceback

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

# Taps what the page sends to the loudspeakers, before the page runs.
TAP = """
(() => {
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
      const tap = this.context.createAnalyser();
      tap.fftSize = 16384;
      connect.call(this, tap);
      window.tap = tap;
    }
    return connect.call(this, to, ...rest);
  };
})();
"""


class Browser:
    def __init__(self, downloads, width=1280, height=1000, scheme="light"):
        options = webdriver.ChromeOptions()
        for option in (
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--autoplay-policy=no-user-gesture-required",
            "--disable-background-networking",
            "--disable-component-update",
        ):
            options.add_argument(option)
        options.binary_location = shutil.which("chromium")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
        self.driver.set_script_timeout(60)
        self.command("Page.addScriptToEvaluateOnNewDocument", source=TAP)
        self.command("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(downloads))
        self.asked = []
        self.media(scheme=scheme)
        self.size(width, height)

    def command(self, name, **arguments):
        return self.driver.execute_cdp_cmd(name, arguments)

    def media(self, scheme="light", kind=""):
        self.command("Emulation.setEmulatedMedia", media=kind, features=[{"name": "prefers-color-scheme", "value": scheme}])

    def size(self, width, height):
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def wait_for(self, script, *arguments):
        """Runs a script that may await; what it returns."""
        wrapped = f"const done = arguments[arguments.length - 1]; (async (...args) => {{ {script} }})(...arguments).then(done, (e) => done('failed: ' + e));"
        answer = self.driver.execute_async_script(wrapped, *arguments)
        assert not (isinstance(answer, str) and answer.startswith("failed: ")), answer
        return answer

    def complaints(self):
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def told(self, method):
        """What the browser has told of such events since it was last asked about any."""
        messages = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        return [m["params"] for m in messages if m["method"] == method]

    def requests(self):
        """The addresses that were asked for."""
        return [told["request"]["url"] for told in self.told("Network.requestWillBeSent")]

    def dialogs(self):
        """The kinds of dialogs that came up; the driver agrees to each."""
        return [told["type"] for told in self.told("Page.javascriptDialogOpening")]

    def picture(self, path):
        self.run("scrollTo(0, 0)")
        width = self.run("return innerWidth")
        height = self.run("return document.documentElement.scrollHeight")
        clip = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
        shot = self.command("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(shot["data"]))

    def quit(self):
        self.driver.quit()


def held_to(rules, browser):
    """Holds the page to each rule, says what came of it, and gives how many it broke."""
    failed = 0
    for rule in rules:
        name = rule.__name__.replace("_", " ")
        try:
            rule(browser)
            print(f"  {name}: ok")
        except Exception as problem:  # the next rule may still tell something
            failed += 1
            print(f"  {name}: FAILED: {type(problem).__name__} {str(problem).split('Stacktrace')[0]}")
            traceback.print_tb(problem.__traceback__, limit=-2)
    return failed
