// Settings by hand: what is tried is asked for, and goes on at the same place as soon as it is there.

const token = $("token").textContent;
const WRITTEN = "written";
const TRIED = "tried";
const SHORTEST = 0.5; // seconds of a stretch that are worth hearing before all of it

/** What is heard: the file as it is written, and what is tried; each with its bars, its sound, its loudness. */
const sides = { [WRITTEN]: null, [TRIED]: null };
let side = WRITTEN; // which of the two plays
let listed = null; // the settings as the file has them, as the server lists them
let tried = { set: new Map(), marks: new Map() }; // values by key, marks by the byte at which they stand
let past = []; // what was tried before, the latest at the end
let future = []; // what was undone, the latest at the end
let handled = null; // the control whose movement is not over: it is one step of undo
let asides = null; // what was tried on a text that the file does not hold any more
const turns = []; // the stages of each movement until its first changed sample, in ms

const factor = (db) => 10 ** (db / 20);
const anything = ({ set, marks } = tried) => set.size + marks.size > 0;
const copy = ({ set, marks }) => ({ set: new Map(set), marks: new Map(marks) });
const tell = (words) => ($("hands-told").textContent = words);

function post(path, more = {}) {
  const body = JSON.stringify({ file: listed.file, set: [...tried.set], marks: [...tried.marks], ...more });
  return fetch(path, { method: "POST", headers: { "Content-Type": "application/json", "Pressroll-Token": token }, body });
}

// ---- Trying --------------------------------------------------------------------------------------------------------

let asking = false; // while one trial is under way; what is moved meanwhile goes with the next
let waiting = null; // the moment of the first movement that has not been asked for yet
let turn = 0; // counts what makes an answer stale

/** Something was moved: its first changed sample is to be heard as soon as can be. */
function moved() {
  waiting ??= performance.now();
  if (!asking) askOn();
  showTried();
}

/** Asks for what is tried until nothing has been moved meanwhile. */
async function askOn() {
  asking = true;
  while (waiting !== null) {
    const movement = { since: waiting, turn };
    waiting = null;
    try {
      await askOnce(movement);
    } catch {
      tell("pressroll does not answer: nothing can be tried.");
    }
  }
  asking = false;
}

async function askOnce(movement) {
  if (!listed) return;
  if (!anything()) {
    sides[TRIED] = null;
    hearSide(WRITTEN, movement);
    return tell("");
  }
  const stale = () => movement.turn !== turn; // the file was saved, or all of it was undone meanwhile
  movement.asked = performance.now();
  const answer = await post("try", { place: placeNow() });
  movement.answered = performance.now();
  if (answer.ok) {
    movement.server = answer.headers.get("Server-Timing");
    await hearTrial(new Arriving(answer.body), movement, stale);
    return tell("");
  }
  const { wrong, saved } = await answer.json();
  if (!stale() && !saved) tell(wrong ?? "");
}

/** Lets a trial be heard while it comes: at first the stretch around the place, then all of it. */
async function hearTrial(coming, movement, stale) {
  const about = await coming.line();
  const version = { ...sides[WRITTEN].version, name: TRIED, setting: null, frames: about.frames, starts: about.starts, end: about.end };
  const fresh = { version, buffer: null, lufs: about.lufs };
  const stretch = about.first && (await coming.sound(about.channels, about.first));
  movement.came = performance.now();
  const early = stretch && !stale() && hearStretch(fresh, { buffer: stretch, a: about.from, b: about.from + about.first }, movement);
  // What was moved meanwhile is wanted more than the rest of this.
  fresh.buffer = await coming.sound(about.channels, about.frames, () => early && waiting !== null);
  if (!fresh.buffer || stale()) return;
  sides[TRIED] = fresh;
  hearSide(TRIED, early ? null : movement);
}

// ---- Hearing -------------------------------------------------------------------------------------------------------

/**
 * The gains in dB at which both sides are as loud as the softer of them; 0 where they play as rendered, or where one has no
 * loudness.
 */
function gains(trial = sides[TRIED]) {
  const [written, own] = [sides[WRITTEN]?.lufs, trial?.lufs];
  const both = [written, own].every((lufs) => typeof lufs === "number");
  if (!both || !$("equal").checked) return { [WRITTEN]: 0, [TRIED]: 0 };
  const softer = Math.min(written, own);
  return { [WRITTEN]: softer - written, [TRIED]: softer - own };
}

/**
 * Seconds between what is set out at once and its sound: two of the blocks that the browser hands to the device, where it says
 * how long those are; one of a single quantum (Web Audio API, 128 frames) says nothing.
 */
const lead = () => (context.baseLatency * rate > 256 ? Math.min(LEAD, 2 * context.baseLatency) : LEAD);

/** Remembers how long a movement took until its first changed sample. */
function heardAt(when, movement) {
  const now = performance.now();
  turns.push({ ...movement, set: now, heard: now + (when - context.currentTime) * 1000 });
}

/**
 * Lets a stretch of a trial be heard at the same place, until all of it has come. What played before goes on beneath it, silent,
 * and comes up again at the stretch's end if the rest is late. False where the stretch is not from this place.
 */
function hearStretch(fresh, take, movement) {
  if (!voice || sounding !== 0 || !sameGrid(versions[0], fresh.version)) return false;
  const beneath = voice.beneath ?? voice;
  const end = Math.min(take.b, beneath.take.b);
  const when = soon(lead());
  const frame = Math.round(frameAt(beneath, when));
  if (frame < take.a || end - frame < SHORTEST * rate) return false;
  const [stretch] = startInStep(context, [{ ...take, b: end }], [frame], when, false, () => dip.node);
  const before = voice.beneath ? voice.before : level;
  Object.assign(stretch, { beneath, before });
  stretch.source.onended = () => {
    active.delete(stretch);
    if (voice === stretch) [voice, level] = [beneath, before];
  };
  voice = stretch;
  level = factor(gains(fresh)[TRIED]);
  balance(when, CHANGE);
  heardAt(when, movement);
  return true;
}

/** Sets out that at a stretch's end what is beneath it is heard again. */
function comeUpAgain(stretch, beneath) {
  const end = stretch.when + (stretch.take.b - stretch.frame) / rate - CHANGE;
  stretch.fader.to(0, end, CHANGE);
  beneath.fader.to(stretch.before, end, CHANGE);
}

/**
 * Lets a side be heard at the same place. The two are nearly the same signal, so their faders come to 1 together: two that kept
 * the power would be up to 3 dB too loud half way.
 */
function hearSide(next, movement = null) {
  side = next;
  const { version: fresh, buffer } = sides[side];
  const old = versions[0];
  const changed = buffers[0] !== buffer;
  [versions[0], buffers[0]] = [fresh, buffer];
  level = factor(gains()[side]);
  if (voice && sounding === 0) {
    const when = soon();
    if (changed || voice.beneath) {
      const frame = frameAt(voice.beneath ?? voice, when);
      voice = begun(0, sameGrid(old, fresh) ? Math.round(frame) : inFrames(fresh, inBars(old, frame)), when);
    }
    balance(when, CHANGE);
    if (movement && changed) heardAt(when, movement);
  }
  if (changed) {
    document.querySelector(".stave .wave").setAttribute("d", outline(buffer));
    if (!sameGrid(old, fresh)) placeBars(fresh);
  }
  showSides();
  show();
}

/** Puts the bars where they are in a version of another length. */
function placeBars(version) {
  const share = (frame, of) => ((of * frame) / version.frames).toFixed(3);
  for (const bars of ["#ruler .bar", ".counts .bar"]) {
    all(bars).forEach(({ style }, n) => {
      style.left = `${share(start(version, n), 100)}%`;
      style.width = `${share(start(version, n + 1) - start(version, n), 100)}%`;
    });
  }
  const lines = [...version.starts, version.end].map((frame) => `M${share(frame, COLUMNS)} 0V200`);
  document.querySelector(".stave .barlines").setAttribute("d", lines.join(""));
}

const decibels = (number) => `${number < -0.05 ? "−" : ""}${Math.abs(number).toFixed(1)}`;

function showSides() {
  const there = Boolean(sides[TRIED]);
  $("hear-written").checked = side === WRITTEN;
  $("hear-written").disabled = !there;
  const gain = gains();
  const one = (name) => {
    const { lufs } = sides[name];
    const loud = typeof lufs === "number" ? `${decibels(lufs)} LUFS` : "no loudness";
    return `${name} ${loud}, gain applied ${decibels(gain[name])} dB`;
  };
  $("hands-levels").textContent = there ? `Playing as ${side}. Measured before level matching: ${one(WRITTEN)}; ${one(TRIED)}.` : "";
}

// ---- Undo ----------------------------------------------------------------------------------------------------------

/** Changes what is tried; movements of one control that follow each other are one step. */
function change(control, make) {
  if (!listed) return;
  if (handled !== control || control === null) {
    past.push(copy(tried));
    handled = control;
  }
  future = [];
  tried = copy(tried);
  make(tried);
  moved();
}

function step(from, to) {
  if (!from.length) return;
  to.push(tried);
  tried = from.pop();
  handled = null;
  moved();
}

const undo = () => step(past, future);
const redo = () => step(future, past);

// ---- Keeping -------------------------------------------------------------------------------------------------------

async function keep(event) {
  event.preventDefault();
  if (!listed || !anything()) return tell("Nothing is tried that could be kept.");
  const asMix = document.querySelector('[name="keep-as"]:checked').value === "mix";
  const name = $("mix-name").value.trim();
  if (asMix && !name) return tell("Give the mix a name.");
  let answer;
  try {
    answer = await post("keep", asMix ? { mix: name } : {});
  } catch {
    return tell("pressroll does not answer: nothing was written.");
  }
  const told = await answer.json();
  if (!answer.ok) return tell(told.saved ? `${told.wrong} What you try is offered again below, once it was read.` : told.wrong);
  if (asMix) tried.marks.clear(); // they stand in the file now, for all of its mixes
  else {
    // The file says now what was tried: the same sound is what is written.
    sides[WRITTEN] = sides[TRIED] ?? sides[WRITTEN];
    nothingTried();
    hearSide(WRITTEN);
  }
  tell(asMix ? `Kept in ${listed.name} as the mix “${name}”.` : `Kept in ${listed.name}.`);
  listed.file = told.file;
  await list(told.file);
}

function nothingTried() {
  tried = { set: new Map(), marks: new Map() };
  [past, future, handled] = [[], [], null];
  sides[TRIED] = null;
  turn += 1;
}

// ---- The file ------------------------------------------------------------------------------------------------------

/** Asks what the file says now. What was tried on another text is set aside, and offered again. */
async function list(kept = null) {
  const answer = await ask("settings");
  const fresh = await answer.json();
  const before = listed;
  listed = fresh;
  $("hands").hidden = false;
  $("hands-form").hidden = !fresh.form;
  $("as-mix").hidden = fresh.form;
  if (before && before.file !== fresh.file && fresh.file !== kept && anything()) setAside(before);
  showLines();
  showControls();
}

/** A newer render of the file came in: it is what is written. */
async function fileCame() {
  sides[WRITTEN] = { version: versions[0], buffer: buffers[0], lufs: versions[0].lufs };
  const own = sides[TRIED];
  side = WRITTEN;
  level = 1;
  try {
    await list();
  } catch {
    return; // it was saved again; the next render comes
  }
  if (own && anything()) moved();
  else showSides();
}

/** Sets what was tried aside: the person's text wins, and nothing is lost. */
function setAside(before) {
  const values = [...tried.set].filter(([key, value]) => asWritten(key) !== value);
  const line = (at) => before.lines.find(({ start, text }) => at >= start && at < start + text.length);
  const marks = [...tried.marks].map(([at, mark]) => ({ line: line(at), at, mark })).filter(({ line }) => line);
  nothingTried();
  asides = { values, marks };
  const words = [...values.map(([key, value]) => `${key} = ${value}`), ...marks.map(({ line, at, mark }) => `${line.part}, ${barsFor(line)}, step ${stepOf(line, at)}: ${MARKS[mark]}`)];
  $("aside-list").replaceChildren(...words.map((one) => made("li", one)));
  $("aside").hidden = !words.length;
}

/** Tries again what was set aside: values by their keys, marks where their line is still the same. */
function again() {
  const { values, marks } = asides;
  dropAsides();
  change(null, ({ set, marks: turned }) => {
    values.filter(([key]) => row(key)).forEach(([key, value]) => set.set(key, value));
    for (const { line, at, mark } of marks) {
      const same = (one) => one.part === line.part && one.for === line.for && one.text === line.text;
      const there = listed.lines.find(same);
      if (there) turned.set(there.start + at - line.start, mark);
    }
  });
  showLines();
  showControls();
}

function dropAsides() {
  asides = null;
  $("aside").hidden = true;
}

function handsKey(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented || !$("keys-on").checked) return;
  const kind = event.target.matches("input") ? event.target.type : event.target.localName;
  if (["textarea", "select", "number", "text"].includes(kind)) return;
  const does = { w: () => sides[TRIED] && hearSide(side === TRIED ? WRITTEN : TRIED), u: undo, r: redo }[event.key];
  if (!does) return;
  event.preventDefault();
  does();
}

$("hear-written").addEventListener("change", ({ target }) => hearSide(target.checked ? WRITTEN : TRIED));
$("equal").addEventListener("change", () => hearSide(side));
$("undo").addEventListener("click", undo);
$("redo").addEventListener("click", redo);
$("as-written").addEventListener("click", () => change(null, ({ set, marks }) => [set, marks].forEach((one) => one.clear())));
$("keep-form").addEventListener("submit", keep);
$("again").addEventListener("click", again);
$("drop").addEventListener("click", dropAsides);
document.addEventListener("keydown", handsKey);
decoded.then(() => {
  sides[WRITTEN] = { version: versions[0], buffer: buffers[0], lufs: versions[0].lufs };
  return list();
}).catch(() => tell("The settings can't be read: save the loop once it is right."));
window.listening.hands = { idle: () => !asking && waiting === null && !typing, turns, sides, gains, tried: () => tried, side: () => side };
