// Uses the listening page in Firefox, by WebDriver BiDi. Arguments: the page's folder, a folder for what comes up, and whether there is
// a sound device. Prints a line a check; ends with 1 where one failed. What it records of the device is heard by `firefox.py`.

import { spawn } from "node:child_process";
import { openSync } from "node:fs";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [pages, work, device] = process.argv.slice(2);
const { default: puppeteer } = await import(pathToFileURL(createRequire(`${work}/`).resolve("puppeteer-core")).href);
const browser = await puppeteer.launch({ browser: "firefox", executablePath: "/usr/bin/firefox-esr", headless: true });
const page = await browser.newPage();
const complaints = [];
page.on("pageerror", (error) => complaints.push(String(error)));
page.on("dialog", (dialog) => dialog.accept());

const wait = (ms) => new Promise((done) => setTimeout(done, ms));
const text = (id) => page.$eval(`#${id}`, (element) => element.textContent);
const whole = () => page.evaluate(() => document.documentElement.outerHTML.replace(/<script>[^]*?<\/script>/g, ""));
const press = (words) => page.evaluate((words) => [...document.querySelectorAll("button")].find((one) => one.textContent === words).click(), words);
const check = (holds, what) => {
  if (!holds) throw new Error(what);
};

async function opened(name) {
  await page.goto(pathToFileURL(`${pages}/${name}`).href);
  await page.evaluate(() => addEventListener("beforeunload", (event) => event.stopImmediatePropagation(), true));
  await page.waitForFunction(() => document.getElementById("said").textContent.startsWith("Chosen:"), { timeout: 60000 });
}

/** Records the device for some seconds. */
async function record(name, seconds) {
  const file = openSync(`${work}/${name}.raw`, "w");
  const words = ["--device=quay.monitor", "--raw", "--format=float32le", "--rate=48000", "--channels=2"];
  const recorder = spawn("parec", words, { stdio: ["ignore", file, "ignore"] });
  await wait(1000 * seconds);
  recorder.kill();
  await new Promise((done) => recorder.once("exit", done));
}

/** Answers all rounds of a blind test by keys; no name may be in the page meanwhile. */
async function blindTest(kind, rounds, names) {
  await page.evaluate(
    (kind, rounds) => {
      document.querySelector(`[name="kind"][value="${kind}"]`).click();
      document.getElementById("training").checked = false;
      document.getElementById("rounds").value = rounds;
      document.getElementById("begin").click();
      document.activeElement.blur();
    },
    kind,
    rounds,
  );
  for (let round = 1; round <= rounds; round++) {
    check((await text("round-of")) === `Round ${round} of ${rounds}.`, `it is in ${await text("round-of")}`);
    for (const letter of kind === "which" ? "abx" : "ab") {
      await page.keyboard.press(letter);
      check((await text("said")) === `Playing: ${letter.toUpperCase()}.`, await text("said"));
    }
    const seen = await whole();
    for (const name of names) check(!seen.includes(name), `${name} is in the page`);
    await wait(700);
    await page.keyboard.press("1");
  }
  const score = await text("score");
  for (const name of names) check(score.includes(name), score);
  return score.split(".")[0];
}

const checks = {
  async "loads and shows its versions"() {
    await opened("night-ferry.html");
    check((await text("said")) === "Chosen: 1, as written.", await text("said"));
    check((await page.$$(".stave .wave")).length === 3, "two versions and their difference");
  },
  ...(device === "yes"
    ? {
        async "plays, and another version takes over"() {
          await page.click("#play");
          await page.waitForFunction(() => document.body.classList.contains("playing"), { timeout: 20000 });
          check((await text("said")) === "Playing: 1, as written.", await text("said"));
          await wait(500);
          await record("version-1", 3);
          await page.keyboard.press("2");
          check((await text("said")) === "Playing: 2, bass forward.", await text("said"));
          await wait(500);
          await record("version-2", 3);
        },
        async "a blind test hides names until its end"() {
          return blindTest("which", 5, ["as written", "bass forward"]);
        },
        async "a page that begins blind shows names after a first test"() {
          await opened("compared/blind/index.html");
          check((await text("said")) === "Chosen: one of 3 versions.", await text("said"));
          check(!(await whole()).includes("snare.room"), "a name is in the page");
          await page.click("#play");
          await page.waitForFunction(() => document.body.classList.contains("playing"), { timeout: 20000 });
          const score = await blindTest("same", 5, []);
          check((await whole()).includes("snare.room=-6"), "names do not come");
          return score;
        },
      }
    : {
        async "play says that no sound output opens"() {
          await page.click("#play");
          await wait(4000);
          check((await text("said")).includes("opens no sound output"), await text("said"));
          check(!(await page.evaluate(() => document.body.classList.contains("playing"))), "it says that it plays");
        },
      }),
  async "nothing goes wrong in its script"() {
    check(complaints.length === 0, complaints.join("; "));
  },
};

let failed = 0;
for (const [name, rule] of Object.entries(checks)) {
  try {
    const told = await rule();
    console.log(`  ${name}: ok${told ? ` (${told})` : ""}`);
  } catch (problem) {
    failed += 1;
    console.log(`  ${name}: FAILED: ${problem.message}`);
  }
}
console.log(`${await browser.version()}, ${device === "yes" ? "with" : "without"} a sound device: ${Object.keys(checks).length - failed} passed, ${failed} failed`);
await browser.close();
process.exit(failed ? 1 : 0);
