"use strict";
// The rows of a catalogue: found, sorted, heard. Figures of a row stand in the order of `column`.
const column = {};
["file", "title", "collection", "loop", "kit", "mix", "vary", "tempo", "key", "metre", "bars", "seconds", "lufs", "brightness",
  "density", "swing", "syncopation", "parts", "outline"].forEach((name, number) => { column[name] = number; });
const rows = [];
const $ = (id) => document.getElementById(id);
const list = $("list"), all = $("all"), sound = new Audio();
// In px; as tall as the style says, whatever the size of letters.
let height = 52, shown = [], chosen = -1, loaded = 0;
const store = `favourites of ${document.title}`;
const favourites = new Set(remembered());

function remembered() {
  try { return JSON.parse(localStorage.getItem(store)) || []; } catch { return []; }
}

function remember() {
  try { localStorage.setItem(store, JSON.stringify([...favourites])); } catch { say("This browser keeps no favourites for pages from disk. Export them before you close it."); }
}

function say(words) { $("said").textContent = words; }

// Each file of rows calls this.
window.catalogueRows = (more) => { rows.push(...more); };

function load(number) {
  if (number === files) { ready(); return; }
  const script = document.createElement("script");
  script.src = `index/rows-${String(number).padStart(4, "0")}.js`;
  script.onload = () => {
    script.remove();
    $("count").textContent = `Loading: ${rows.length.toLocaleString("en")} of ${previews.toLocaleString("en")}`;
    if (number === 0) update();
    load(number + 1);
  };
  script.onerror = () => { $("count").textContent = `${script.src} is missing: copy the whole folder, or run pressroll catalogue once more.`; };
  document.head.append(script);
}

function ready() {
  const values = (name) => [...new Set(rows.flatMap((row) => row[column[name]] ?? []))].sort((a, b) => a.localeCompare(b, "en", { numeric: true }));
  for (const [id, name] of [["collection", "collection"], ["kit", "kit"], ["key", "key"], ["metre", "metre"], ["part", "parts"]]) {
    const all = new Option("all", "");
    $(id).replaceChildren(all, ...values(name).map((value) => new Option(value, value)));
  }
  update();
}

const orders = [["as listed", null], ["title", "title"], ["tempo", "tempo"], ["key", "key"], ["length", "seconds"], ["loudness", "lufs"], ["brightness", "brightness"], ["density", "density"], ["syncopation", "syncopation"]];
$("sort").replaceChildren(...orders.map(([words], number) => new Option(words, number)));

// What a row is searched in: made once.
const texts = new WeakMap();
function text(row) {
  let known = texts.get(row);
  if (known === undefined) {
    known = ["title", "collection", "loop", "kit", "mix", "vary", "key", "parts"].map((name) => row[column[name]] ?? "").join(" ").toLowerCase();
    texts.set(row, known);
  }
  return known;
}

function wanted() {
  const words = $("words").value.toLowerCase().split(/\s+/).filter(Boolean);
  const same = ["collection", "kit", "key", "metre"].map((name) => [column[name], $(name).value]).filter(([, value]) => value);
  const part = $("part").value;
  const ranges = ["tempo", "lufs", "brightness", "density", "syncopation"].map((name) => {
    const [from, to] = ["from", "to"].map((end) => $(`${name}-${end}`).valueAsNumber);
    return [column[name], from, to];
  }).filter(([, from, to]) => !Number.isNaN(from) || !Number.isNaN(to));
  const only = $("favourites").checked;
  return (row) => same.every(([at, value]) => row[at] === value)
    && (!part || row[column.parts].includes(part))
    && ranges.every(([at, from, to]) => row[at] !== null && !(row[at] < from) && !(row[at] > to))
    && (!only || favourites.has(row[column.file]))
    && words.every((word) => text(row).includes(word));
}

function update() {
  const here = shown[chosen];
  shown = rows.filter(wanted());
  const by = orders[$("sort").value][1], way = $("down").checked ? -1 : 1;
  if (by) {
    const at = column[by];
    // What has no figure comes last either way.
    const compare = (a, b) => (typeof a === "string" ? a.localeCompare(b, "en", { numeric: true }) : a - b);
    const lacks = (row) => row[at] === null;
    shown.sort((a, b) => (lacks(a) || lacks(b) ? lacks(a) - lacks(b) : way * compare(a[at], b[at])));
  } else if (way < 0) {
    shown.reverse();
  }
  chosen = here ? shown.indexOf(here) : -1;
  all.style.height = `${shown.length * height}px`;
  if (rows.length === previews) {
    const count = (number) => number.toLocaleString("en"), whole = `${count(rows.length)} ${rows.length === 1 ? "preview" : "previews"}`;
    $("count").textContent = shown.length === rows.length ? whole : `${count(shown.length)} of ${whole}`;
  }
  draw();
}

// Only rows in sight are there, and a few around them.
function draw() {
  const from = Math.max(0, Math.floor(list.scrollTop / height) - 8);
  const to = Math.min(shown.length, Math.ceil((list.scrollTop + list.clientHeight) / height) + 8);
  const made = [];
  for (let at = from; at < to; at += 1) made.push(made_row(at));
  all.replaceChildren(...made);
  list.setAttribute("aria-activedescendant", chosen >= from && chosen < to ? `row-${chosen}` : "");
  for (const id of ["play", "previous", "next", "favourite", "place"]) $(id).disabled = chosen < 0 && (id !== "next" || shown.length === 0);
}

const figure = (value, digits) => (value === null ? "–" : value.toFixed(digits).replace("-", "−"));
const minutes = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

function made_row(at) {
  const row = shown[at], value = (name) => row[column[name]];
  const element = document.createElement("div");
  element.className = "row";
  element.id = `row-${at}`;
  element.style.top = `${at * height}px`;
  element.setAttribute("role", "option");
  element.setAttribute("aria-selected", at === chosen);
  element.setAttribute("aria-setsize", shown.length);
  element.setAttribute("aria-posinset", at + 1);
  element.innerHTML = `<svg viewBox="0 0 80 20" preserveAspectRatio="none" aria-hidden="true"><path class="wave" d="${path(value("outline"))}"/></svg><span class="title"><span class="name"></span><span class="detail"></span></span>`;
  const marked = favourites.has(value("file")) ? "★ " : "";
  element.querySelector(".name").textContent = marked + value("title");
  element.querySelector(".name").classList.toggle("marked", marked !== "");
  element.querySelector(".detail").textContent = [value("collection"), value("kit"), value("mix"), value("vary")].filter(Boolean).join(" · ");
  // Each figure with its unit for those who hear it, since no heading stands over it for them.
  const cells = [["figure", figure(value("tempo"), Number.isInteger(value("tempo")) ? 0 : 1), " BPM"], ["", value("key") ?? "–", ""], ["", value("metre"), ""], ["figure", figure(value("lufs"), 1), " LUFS"], ["figure", figure(value("brightness"), 0), " Hz"], ["figure", figure(value("density"), 1), " hits a beat"], ["figure", minutes(value("seconds")), ""]];
  for (const [kind, words, unit] of cells) {
    const cell = document.createElement("span"), unseen = document.createElement("span");
    [cell.className, unseen.className] = [kind, "unseen"];
    cell.textContent = words;
    unseen.textContent = unit;
    cell.append(unseen);
    element.append(cell);
  }
  return element;
}

function spoken(row) {
  const value = (name) => row[column[name]];
  const words = [value("title"), value("mix"), value("vary"), value("kit"), `${value("tempo")} BPM`, value("key"), value("metre"), minutes(value("seconds"))];
  if (favourites.has(value("file"))) words.push("favourite");
  return words.filter(Boolean).join(", ");
}

// Two digits a column: how far it reaches up and down.
function path(outline) {
  let above = "", below = "";
  for (let n = 0; n < outline.length / 2; n += 1) {
    above += `${n ? "L" : "M"}${n} ${10 - Number(outline[2 * n])}`;
    below = `L${n} ${10.4 + Number(outline[2 * n + 1])}${below}`;
  }
  return `${above}${below}Z`;
}

function choose(at, plays) {
  if (at < 0 || at >= shown.length) return;
  chosen = at;
  const row = shown[at], top = at * height;
  if (top < list.scrollTop) list.scrollTop = top;
  if (top + height > list.scrollTop + list.clientHeight) list.scrollTop = top + height - list.clientHeight;
  $("current").textContent = spoken(row);
  $("favourite").setAttribute("aria-pressed", favourites.has(row[column.file]));
  const source = row[column.file].split("/").map(encodeURIComponent).join("/");
  if (sound.getAttribute("src") !== source) { sound.src = source; level(); }
  if (plays) start();
  draw();
}

function start() {
  level();
  sound.play().then(() => say(""), (error) => {
    if (error.name !== "AbortError") say(error.name === "NotAllowedError" ? "Press Play: the browser waits for a press before it sounds." : "This preview can't be played here: is its file beside the page?");
  });
}

function level() {
  const row = shown[chosen];
  const own = row && $("equal").checked && row[column.lufs] !== null ? Math.min(0, aim - row[column.lufs]) : 0;
  const volume = Number($("volume").value);
  sound.volume = volume <= -60 ? 0 : 10 ** ((volume + own) / 20);
  sound.loop = $("loop").checked;
}

function turn() {
  if (chosen < 0) choose(0, true);
  else if (sound.paused) start();
  else sound.pause();
}

function mark() {
  const row = shown[chosen];
  if (!row) return;
  const file = row[column.file];
  if (!favourites.delete(file)) favourites.add(file);
  remember();
  $("favourite").setAttribute("aria-pressed", favourites.has(file));
  if ($("favourites").checked) update(); else draw();
}

list.addEventListener("scroll", draw, { passive: true });
new ResizeObserver(draw).observe(list);
list.addEventListener("click", (event) => {
  const row = event.target.closest(".row");
  if (!row) return;
  const at = Number(row.id.slice(4));
  if (at === chosen) turn(); else choose(at, true);
});
list.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  const page = Math.max(1, Math.floor(list.clientHeight / height) - 1), last = shown.length - 1;
  const to = { ArrowDown: chosen + 1, ArrowUp: chosen - 1, PageDown: Math.min(last, chosen + page), PageUp: Math.max(0, chosen - page), Home: 0, End: last }[event.key];
  if (to !== undefined) choose(to, !sound.paused);
  else if (event.key === "Enter" || event.key === " ") turn();
  else if (event.key === "f" || event.key === "F") mark();
  else return;
  event.preventDefault();
});
$("play").addEventListener("click", turn);
$("previous").addEventListener("click", () => choose(chosen - 1, !sound.paused));
$("next").addEventListener("click", () => choose(chosen + 1, !sound.paused));
$("favourite").addEventListener("click", mark);
$("find").addEventListener("input", update);
$("find").addEventListener("reset", () => setTimeout(update));
$("find").addEventListener("submit", (event) => event.preventDefault());
for (const id of ["equal", "loop"]) $(id).addEventListener("change", level);
$("volume").addEventListener("input", () => { const volume = $("volume").value; $("volume-db").textContent = volume === "-60" ? "off" : `${volume.replace("-", "−")} dB`; level(); });
$("place").addEventListener("input", () => { if (sound.duration) sound.currentTime = sound.duration * $("place").value / 100; });
sound.addEventListener("timeupdate", () => {
  $("place").value = sound.duration ? 100 * sound.currentTime / sound.duration : 0;
  $("place-said").textContent = minutes(sound.currentTime);
  $("place").setAttribute("aria-valuetext", minutes(sound.currentTime));
});
for (const event of ["play", "pause", "ended"]) sound.addEventListener(event, () => { $("play").textContent = sound.paused ? "Play" : "Pause"; });
$("export").addEventListener("click", () => {
  const files = rows.map((row) => row[column.file]).filter((file) => favourites.has(file));
  if (files.length === 0) { say("There are no favourites yet."); return; }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([`${files.join("\n")}\n`], { type: "text/plain" }));
  link.download = "favourites.txt";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  say(`${files.length === 1 ? "1 favourite is" : `${files.length} favourites are`} in favourites.txt.`);
});

const measured = document.createElement("div");
measured.className = "row";
all.append(measured);
height = measured.getBoundingClientRect().height || height;
measured.remove();
level();
load(0);
