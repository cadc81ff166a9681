// The controls of settings by hand: for each a native number field and a native slider, with unit and range.

const POSITIONS = 1000; // of a slider whose steps are not even
let atHand = null; // the keys that have a control; none is chosen before the settings are known

const row = (key) => listed.rows.find((one) => one.key === key);
/** What the file says of a setting, else what holds without it. */
const asWritten = (key) => row(key)?.value ?? "";
const now = (key) => tried.set.get(key) ?? asWritten(key);
const number = (text) => text.replace("-", "−");
const idOf = (key) => `set-${key.replace(/\s/g, "_")}`;

/** How far a slider goes, and how it is divided: frequencies by octaves, long times more finely where they are short. */
function scale({ range: [from, to], unit }) {
  if (unit === "BPM") return even(Math.max(from, 30), Math.min(to, 240), 1); // others can be typed
  if (unit === "Hz") return { at: (n) => from * (to / from) ** (n / POSITIONS), of: (value) => (POSITIONS * Math.log(value / from)) / Math.log(to / from), digits: 0 };
  if (to >= 1000) return { at: (n) => from + (to - from) * (n / POSITIONS) ** 3, of: (value) => POSITIONS * Math.cbrt((value - from) / (to - from)), digits: to > 2000 ? 0 : 1 };
  // Levels of sends and faders are seldom so far out; they can be typed.
  const [low, high] = unit === "dB" ? [Math.max(from, -60), Math.min(to, 20)] : [from, to];
  return even(low, high, high - low <= 2 ? 2 : 1);
}

const even = (low, high, digits) => ({ at: (n) => low + ((high - low) * n) / POSITIONS, of: (value) => (POSITIONS * (value - low)) / (high - low), digits });

/** Which settings are at hand at first: those that were asked for, else the numbers that the file writes. */
function firstAtHand() {
  const begins = (key) => listed.show.some((show) => key === show || key.startsWith(`${show}.`));
  const first = ({ key, kind, written }) => (listed.show.length ? begins(key) : written && kind === "number");
  return listed.rows.filter(first).map(({ key }) => key);
}

function showControls() {
  atHand = (atHand ?? firstAtHand()).filter(row);
  const tables = new Map();
  for (const one of listed.rows.filter(({ key }) => atHand.includes(key))) {
    const { table } = one;
    if (!tables.has(table)) tables.set(table, []);
    tables.get(table).push(one);
  }
  const focused = document.activeElement?.id;
  $("controls").replaceChildren(...[...tables].map(([table, rows]) => group(table, rows)));
  if (focused) $(focused)?.focus();
  const rest = listed.rows.filter(({ key }) => !atHand.includes(key));
  $("add").replaceChildren(...rest.map(({ key }) => made("option", key)));
  showTried();
}

function group(table, rows) {
  const all = made("fieldset", "", { className: "table" });
  all.append(made("legend", rows[0].called ? `${table}: ${rows[0].called}` : table), ...rows.map((one) => control(one, table)));
  return all;
}

/** A setting: its name, its field, its slider, its unit and range, and the way back to what is written. */
function control(one, table) {
  const line = made("div", "", { className: "control" });
  line.dataset.key = one.key;
  const id = idOf(one.key);
  const label = made("label", one.key.slice(table.length + 1), { htmlFor: id, title: one.doc });
  const fields = { number: numbers, switch: ticks, choice: choices, text: texts }[one.kind](one, id);
  const told = made("span", "", { className: "small takes" });
  const back = made("button", "Back", { type: "button", className: "back" });
  back.setAttribute("aria-label", `${one.key}: back to what is written`);
  back.addEventListener("click", () => change(null, ({ set }) => set.delete(one.key)));
  const away = made("button", "Put away", { type: "button", className: "away" });
  away.setAttribute("aria-label", `${one.key}: put away`);
  away.addEventListener("click", () => putAway(line));
  line.append(label, ...fields, told, back, away);
  return line;
}

/** Takes a setting off the page that is no longer wanted; the keys go on from where it was. */
function putAway(line) {
  const lines = [...all(".control")];
  const next = lines[lines.indexOf(line) + 1] ?? lines[lines.indexOf(line) - 1];
  const { key } = line.dataset;
  atHand = atHand.filter((other) => other !== key);
  showControls();
  (next ? document.querySelector(`[data-key="${CSS.escape(next.dataset.key)}"] .away`) : $("add")).focus();
  tell(`${key} is put away; “More settings” has it.`);
}

/** A movement of a control. */
function move(key, value) {
  change(key, ({ set }) => (value === asWritten(key) ? set.delete(key) : set.set(key, value)));
}

function ended({ target }) {
  if (handled === target.closest(".control")?.dataset.key) handled = null;
}

function numbers(one, id) {
  const [from, to] = one.range;
  const { at, digits } = scale(one);
  const field = made("input", "", { id, type: "number", min: from, max: to, step: "any", required: !one.off });
  const slider = made("input", "", { type: "range", min: 0, max: POSITIONS, step: 1, className: "slide" });
  slider.setAttribute("aria-label", `${one.key}, slider`);
  const take = () => field.value !== "" && field.validity.valid && move(one.key, String(Number(field.value)));
  field.addEventListener("input", ({ inputType }) => whenTyped(take, /^(insertText|delete)/.test(inputType ?? "")));
  field.addEventListener("change", () => whenTyped(null));
  slider.addEventListener("input", () => move(one.key, String(Number(at(Number(slider.value)).toFixed(digits)))));
  for (const one of [field, slider]) one.addEventListener("change", ended);
  const fields = [field, made("span", one.unit, { className: "unit" }), slider];
  if (one.off) {
    const off = made("input", "", { type: "checkbox", className: "off" });
    const label = made("label", "", { className: "tick" });
    off.setAttribute("aria-label", `${one.key} off`);
    label.append(off, " off");
    const on = () => String(Number(Math.min(to, Math.max(from, Number(asWritten(one.key)) || 0)).toFixed(digits)));
    off.addEventListener("change", () => move(one.key, off.checked ? "off" : on()));
    fields.push(label);
  }
  return fields;
}

let typing = null; // a number that is not typed to its end yet, and what takes it

/** Takes a number at once, or once its digits are typed: half of -24 dB would be loud. */
function whenTyped(take, waits = false) {
  const before = typing;
  clearTimeout(before?.timer);
  typing = null;
  if (waits) typing = { take, timer: setTimeout(() => whenTyped(null), TYPING) };
  else (take ?? before?.take)?.();
}

function ticks(one, id) {
  const tick = made("input", "", { id, type: "checkbox" });
  tick.addEventListener("change", () => move(one.key, String(tick.checked)));
  return [tick];
}

function choices(one, id) {
  const list = made("select", "", { id });
  list.replaceChildren(...one.words.map((word) => made("option", word)));
  list.addEventListener("change", () => move(one.key, list.value));
  return [list];
}

function texts(one, id) {
  const field = made("input", "", { id, type: "text", size: 12 });
  field.addEventListener("change", () => move(one.key, field.value.trim()));
  return [field];
}

/** Shows in each control what is tried, and beside it what is written. */
function showTried() {
  // What is tried is seen, also where it comes back by a step of undo.
  const unseen = [...tried.set.keys()].filter((key) => row(key) && !atHand.includes(key));
  if (unseen.length) {
    atHand.push(...unseen);
    return showControls();
  }
  for (const line of all(".control")) {
    const one = row(line.dataset.key);
    const value = now(one.key);
    showValue(line, one, value);
    const is = tried.set.has(one.key);
    line.classList.toggle("moved", is);
    line.querySelector(".back").disabled = !is;
    line.querySelector(".away").disabled = is;
    const said = one.value === null ? `not written: ${one.otherwise ?? "none"}` : `${one.written ? "written" : "not written:"} ${number(one.value)}`;
    const range = one.range ? `${number(String(one.range[0]))} to ${number(String(one.range[1]))}; ` : "";
    line.querySelector(".takes").textContent = `${range}${one.idle ? "off until it is set" : said}`;
  }
  for (const button of all("[data-at]")) showMark(button);
  $("undo").disabled = !past.length;
  $("redo").disabled = !future.length;
  for (const id of ["as-written", "keep"]) $(id).disabled = !anything();
}

function showValue(line, one, value) {
  const field = line.querySelector("[id]");
  if (one.kind === "switch") return (field.checked = value === "true");
  const off = line.querySelector(".off");
  if (off) off.checked = value === "off";
  const shown = value === "off" && one.kind === "number" ? "" : value;
  // Whoever types is not written over.
  if (field !== document.activeElement || Number(field.value) !== Number(shown)) field.value = shown;
  const slider = line.querySelector(".slide");
  if (!slider) return;
  const place = Math.min(POSITIONS, Math.max(0, scale(one).of(Number(shown))));
  if (slider !== document.activeElement) slider.value = Number.isFinite(place) ? place : 0;
  slider.setAttribute("aria-valuetext", value === "off" ? "off" : `${shown} ${one.unit}`.trim());
}

$("add-it").addEventListener("click", () => {
  const key = $("add").value;
  if (!key) return;
  atHand.push(key);
  showControls();
  $(idOf(key)).focus();
});
