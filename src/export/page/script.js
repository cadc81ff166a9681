// What is seen and done: the page follows the sound, keys and pointers command it.

// ---- What is seen --------------------------------------------------------------------------------------------------

function say(words) {
  if ($("said").textContent !== words) $("said").textContent = words;
}

function show() {
  const playing = Boolean(voices);
  document.body.classList.toggle("playing", playing);
  $("play").textContent = playing ? "Stop" : "Play";
  const chosen = String(sounding + 1);
  all("[data-version]").forEach((row) => row.classList.toggle("chosen", !blind && row.dataset.version === chosen));
  if (!blind) all('[name="version"]').forEach((radio) => (radio.checked = radio.value === chosen));
  const [first, last] = bounds();
  const part = first > 0 || last < LAST;
  all("#ruler .bar").forEach((bar, n) => bar.classList.toggle("chosen", part && n >= first && n <= last));
  const name = blind ? blind.letter : `${chosen}, ${versions[sounding].name}`;
  if (playing) say(`Playing: ${name}.`);
  else if (buffers) say(`Chosen: ${name}.`);
  follow();
}

function follow() {
  const now = placeNow();
  const bar = Math.min(LAST, Math.max(0, Math.floor(now)));
  const [number, counts] = told.bars[bar];
  $("bar").textContent = now < 0 ? "before" : now > LAST + 1 ? "after" : number;
  $("count").textContent = Math.min(counts, Math.max(1, 1 + Math.floor((now - bar) * counts)));
  $("ruler").setAttribute("aria-valuenow", bar + 1);
  $("ruler").setAttribute("aria-valuetext", `bar ${number}`);
  if (!blind) {
    const hand = document.querySelector(`.stave[data-version="${sounding + 1}"] .hand`);
    const { frames } = versions[sounding];
    const frame = voices ? frameAt(voices[sounding], context.currentTime) : inFrames(versions[sounding], now);
    hand.style.left = `${((100 * frame) / frames).toFixed(3)}%`;
  }
  cancelAnimationFrame(asked);
  if (voices) asked = requestAnimationFrame(follow);
}

// ---- Notes ---------------------------------------------------------------------------------------------------------

let unsaved = false; // notes, or a score

function save() {
  const list = versions.map(({ setting }, n) => `${called(n)}${setting ? ` (${setting})` : ""}`);
  const text = [told.title, "", ...list, "", $("text").value, "", ...results].join("\n").trimEnd() + "\n";
  const link = made("a", "", { download: $("text").dataset.file });
  link.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  link.click();
  URL.revokeObjectURL(link.href);
  unsaved = false;
  say("Notes saved.");
}

// ---- Hands on ------------------------------------------------------------------------------------------------------

function key(event) {
  if (!$("keys-on").checked || event.ctrlKey || event.altKey || event.metaKey) return;
  const kind = event.target.matches("input") ? event.target.type : event.target.localName;
  if (["textarea", "select", "number"].includes(kind)) return;
  const arrows = ["radio", "range"].includes(kind);
  if (kind === "button" || kind === "checkbox") if ([" ", "Enter"].includes(event.key)) return;
  if (arrows && /^(Arrow|Home)/.test(event.key)) return;
  const letter = blind ? blind.names.indexOf(event.key.toUpperCase()) : -1;
  const digit = "123456789".indexOf(event.key);
  const count = blind ? blind.dealt.length : versions.length;
  const now = blind ? blind.names.indexOf(blind.letter) : sounding;
  const turn = blind ? hear : choose;
  const bar = Math.floor(placeNow() + 1e-6);
  const does = {
    " ": () => (voices ? stop() : play()),
    ArrowUp: () => turn((now + count - 1) % count),
    ArrowDown: () => turn((now + 1) % count),
    ArrowLeft: () => goTo(bar - 1),
    ArrowRight: () => goTo(bar + 1),
    Home: () => goTo(bounds()[0] || -Infinity),
    "-": () => louder(-3),
    "+": () => louder(3),
    "=": () => louder(3),
  }[event.key];
  if (letter >= 0) turn(letter);
  else if (event.key.length === 1 && digit >= 0 && digit < count) turn(digit);
  else if (does) does();
  else return;
  event.preventDefault();
}

function louder(db) {
  $("volume").value = Number($("volume").value) + db;
  setVolume();
}

/** The place in bars under a pointer on a field of so many frames. */
function under(event, field, version) {
  const { left, width } = field.getBoundingClientRect();
  const share = Math.min(1, Math.max(0, (event.clientX - left) / width));
  return Math.min(LAST, Math.max(0, Math.floor(inBars(version, share * version.frames))));
}

/** Lists the bars to choose from; at first all of them repeat. */
function listBars() {
  for (const id of ["from", "to"]) {
    $(id).replaceChildren(...told.bars.map(([number], n) => made("option", number, { value: n })));
  }
  $("to").value = LAST;
}

listBars();
for (const id of ["from", "to"]) $(id).addEventListener("change", () => setBounds(...bounds()));
$("play").addEventListener("click", () => (voices ? stop() : play()));
$("whole").addEventListener("click", () => setBounds(0, LAST));
$("round").addEventListener("change", () => voices && play(placeNow()));
$("volume").addEventListener("input", setVolume);
$("ruler").addEventListener("pointerdown", (event) => {
  const first = under(event, $("ruler"), versions[0]);
  $("ruler").setPointerCapture(event.pointerId);
  $("ruler").onpointerup = (up) => {
    const last = under(up, $("ruler"), versions[0]);
    if (last === first) goTo(first);
    else setBounds(first, last);
  };
});
all(".stave").forEach((stave, n) => {
  const field = stave.querySelector(".field");
  field.addEventListener("click", (event) => {
    sounding = voices ? sounding : n;
    choose(n);
    goTo(under(event, field, versions[n]));
  });
  stave.querySelector("input").addEventListener("change", () => choose(n));
});
$("blind-form")?.addEventListener("submit", (event) => {
  event.preventDefault();
  askToBegin();
});
$("leave").addEventListener("click", (click) => click.detail > 1 || reveal([`Left after ${blind.picks.length} of ${blind.rounds} rounds: no score.`]));
$("text").addEventListener("input", () => {
  unsaved = true;
  $("text-printed").textContent = $("text").value;
});
$("save").addEventListener("click", save);
addEventListener("beforeunload", (event) => (unsaved || blind?.picks.length) && event.preventDefault());
document.addEventListener("keydown", key);
setVolume();
show();
decoded.then(show);

// What a test asks of the page beside what a person does.
window.listening = { told, odds, versions, take, startInStep, decoded, inBars, inFrames };
