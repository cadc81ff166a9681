// What is seen and done: the page follows the sound, keys and pointers command it.

const STEP = 4; // bars that Page Up and Page Down go
const TYPING = 700; // ms within which a second digit belongs to the first

// ---- What is seen --------------------------------------------------------------------------------------------------

function say(words) {
  if ($("said").textContent !== words) $("said").textContent = words;
}

/** Shows what plays or is chosen; `words` instead, while nothing plays. */
function show(words) {
  const playing = Boolean(voice);
  document.body.classList.toggle("playing", playing);
  $("play").textContent = playing ? "Stop" : "Play";
  if ($("to-blind")) $("to-blind").hidden = Boolean(blind);
  const chosen = String(sounding + 1);
  all("[data-version]").forEach((row) => row.classList.toggle("chosen", row.dataset.version === chosen));
  all('[name="version"]').forEach((radio) => (radio.checked = radio.value === chosen));
  showSpan();
  const name = blind ? blind.letter : named ? called(sounding) : `one of ${versions.length} versions`;
  if (playing) say(`Playing: ${name}.`);
  else if (words) say(words);
  else if (buffers[sounding]) say(`Chosen: ${name}${whole() ? "" : `; ${spanWords(span)}`}.`);
  follow();
}

function follow() {
  const now = placeNow();
  const [bar, beat] = beatAt(now);
  const [number] = told.bars[bar];
  $("bar").textContent = now < 0 ? "before" : now > LAST + 1 ? "after" : number;
  $("count").textContent = beat + 1;
  $("ruler")?.setAttribute("aria-valuenow", bar + 1);
  $("ruler")?.setAttribute("aria-valuetext", `bar ${number}`);
  const hand = document.querySelector(`.stave[data-version="${sounding + 1}"] .hand`);
  if (hand && version(sounding).starts) {
    const frame = voice ? frameAt(voice, context.currentTime) : inFrames(version(sounding), now);
    hand.style.left = `${((100 * frame) / version(sounding).frames).toFixed(3)}%`;
  }
  cancelAnimationFrame(asked);
  if (voice) asked = requestAnimationFrame(follow);
}

// ---- Keys ----------------------------------------------------------------------------------------------------------

let typed = { number: 0, at: -Infinity }; // digits of a version's number

/** A digit: an answer when blind, else a version; of ten and more, two digits after each other. */
function digit(value, event) {
  if (!blind && !named) return;
  if (blind) return event.repeat || value < 1 || value > blind.answers.length || pick(value - 1);
  const goesOn = event.timeStamp - typed.at < TYPING && 10 * typed.number + value <= versions.length;
  typed = { number: goesOn ? 10 * typed.number + value : value, at: event.timeStamp };
  if (typed.number >= 1 && typed.number <= versions.length) choose(typed.number - 1);
}

/** Keys on the place, as on any slider (ARIA Authoring Practices, "Slider"). */
function slide(name) {
  const bar = beatAt(placeNow())[0];
  const to = {
    ArrowLeft: bar - 1,
    ArrowDown: bar - 1,
    ArrowRight: bar + 1,
    ArrowUp: bar + 1,
    PageDown: bar - STEP,
    PageUp: bar + STEP,
    Home: 0,
    End: LAST,
  }[name];
  if (to === undefined) return false;
  goTo(Math.min(LAST, Math.max(0, to)));
  return true;
}

function key(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (drag && event.key === "Escape") return dropDrag();
  if (event.target.id === "ruler" && slide(event.key)) return event.preventDefault();
  if (!$("keys-on").checked) return;
  const kind = event.target.matches("input") ? event.target.type : event.target.localName;
  if (["textarea", "select", "number", "text"].includes(kind)) return;
  const arrows = ["radio", "range"].includes(kind);
  if (["button", "checkbox", "summary", "a"].includes(kind) && [" ", "Enter"].includes(event.key)) return;
  if (arrows && /^(Arrow|Home)/.test(event.key)) return;
  const letter = blind ? blind.names.indexOf(event.key.toUpperCase()) : -1;
  const count = blind ? blind.dealt.length : named ? versions.length : 0;
  const now = blind ? blind.names.indexOf(blind.letter) : Math.min(sounding, count - 1);
  const turn = blind ? hear : choose;
  const bar = beatAt(placeNow())[0];
  const does = {
    " ": () => event.repeat || (voice ? stop() : play()),
    ArrowUp: () => count && turn((now + count - 1) % count),
    ArrowDown: () => count && turn((now + 1) % count),
    ArrowLeft: () => goTo(bar - 1),
    ArrowRight: () => goTo(bar + 1),
    Home: () => goTo(span[0] || -Infinity),
    "-": () => louder(-3),
    "+": () => louder(3),
    "=": () => louder(3),
    d: () => blind || hearDifference(),
  }[event.key];
  if (letter >= 0) turn(letter);
  else if (/^[0-9]$/.test(event.key)) digit(Number(event.key), event);
  else if (does) does();
  else return;
  event.preventDefault();
}

function louder(db) {
  $("volume").value = Number($("volume").value) + db;
  setVolume();
}

// ---- Hands on ------------------------------------------------------------------------------------------------------

/** Follows hands on what shows names, as soon as it is there. */
function listen() {
  draggable($("ruler"), 0, goTo);
  all(".stave").forEach((stave, n) => {
    draggable(stave.querySelector(".field"), n, (to) => {
      if (!voice && buffers[n]) sounding = n;
      choose(n);
      goTo(to);
    });
    stave.querySelector("input").addEventListener("change", () => (n === DIFFERENCE ? hearDifference() : choose(n)));
  });
  if (!$("difference")) return;
  $("apart").addEventListener("toggle", () => $("apart").open && !buffers[DIFFERENCE] && makeDifference());
  for (const id of ["minuend", "subtrahend", "difference-gain"]) $(id).addEventListener("change", makeDifference);
}

if (named) listen();
else sounding = drawn[0];
listBars();
for (const id of ["from", "to", "from-beat", "to-beat"]) $(id).addEventListener("change", () => spanChosen(id));
$("play").addEventListener("click", () => (voice ? stop() : play()));
$("whole").addEventListener("click", () => setSpan(0, LAST + 1));
$("round").addEventListener("change", () => voice && play(placeNow()));
$("volume").addEventListener("input", setVolume);
$("blind-form")?.addEventListener("submit", (event) => {
  event.preventDefault();
  askToBegin();
});
$("blind-form")?.addEventListener("input", (event) => formChanged(event.target));
$("leave").addEventListener("click", (click) => click.detail > 1 || finish(false));
$("text").addEventListener("input", () => {
  unsaved.add("notes");
  $("text-printed").textContent = $("text").value;
});
$("save").addEventListener("click", saveNotes);
$("save-json")?.addEventListener("click", () => saveResults("results.json", json(), "application/json"));
$("save-csv")?.addEventListener("click", () => saveResults("results.csv", csv(), "text/csv"));
addEventListener("beforeunload", (event) => (unsaved.size || blind?.done.length) && event.preventDefault());
document.addEventListener("keydown", key);
if ($("blind-form")) showWorth();
setVolume();
show("Loading.");

// What a test asks of the page beside what a person does.
window.listening = { told, odds, versions, take, startInStep, decoded, inBars, inFrames, buffers, used };
