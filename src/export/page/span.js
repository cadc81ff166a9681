// Which bars play: chosen by their numbers, or by dragging over the ruler or a waveform; to the beat with Shift.

const FAR = 4; // pixels that a pointer moves before it drags
let drag = null; // what a pointer is dragging over

const counts = (bar) => told.bars[Math.min(LAST, bar)][1];
const whole = () => span[0] === 0 && span[1] === LAST + 1;

/** The bar and the beat, both from 0, in which a place lies. */
function beatAt(place) {
  const bar = Math.min(LAST, Math.max(0, Math.floor(place + 1e-9)));
  return [bar, Math.max(0, Math.min(counts(bar) - 1, Math.floor((place - bar) * counts(bar) + 1e-6)))];
}

/** The bars, or the beats, that two places lie in and all between them. */
function stretch(one, other, byBeat) {
  const [first, last] = [Math.min(one, other), Math.max(one, other)].map(beatAt);
  if (!byBeat) return [first[0], last[0] + 1];
  return [first[0] + first[1] / counts(first[0]), last[0] + (last[1] + 1) / counts(last[0])];
}

function spanWords([first, end]) {
  const [from, to] = [beatAt(first), beatAt(end - 1e-6)];
  const number = ([bar]) => told.bars[bar][0];
  if (from[1] === 0 && to[1] === counts(to[0]) - 1) {
    return from[0] === to[0] ? `Bar ${number(from)}` : `Bars ${number(from)} to ${number(to)}`;
  }
  return `Bar ${number(from)} beat ${from[1] + 1} to bar ${number(to)} beat ${to[1] + 1}`;
}

/** Fills a list with the beats of a bar. */
function listBeats(id, bar, beat) {
  $(id).replaceChildren(...Array.from({ length: counts(bar) }, (_, n) => made("option", n + 1, { value: n })));
  $(id).value = beat;
}

/** Lists the bars to choose from. */
function listBars() {
  for (const id of ["from", "to"]) {
    $(id).replaceChildren(...told.bars.map(([number], n) => made("option", number, { value: n })));
  }
}

/** Shows a stretch in the lists, and on the ruler and the waveforms where it is not all. */
function showSpan([first, end] = span) {
  const [from, to] = [beatAt(first), beatAt(end - 1e-6)];
  [$("from").value, $("to").value] = [from[0], to[0]];
  listBeats("from-beat", ...from);
  listBeats("to-beat", ...to);
  for (const band of all(".band")) {
    const n = Number(band.dataset.of);
    const heard = version(n);
    band.hidden = !heard.starts || (!drag && whole());
    if (band.hidden) continue;
    const percent = (place) => (100 * edge(heard, place)) / heard.frames;
    band.style.left = `${percent(first)}%`;
    band.style.width = `${percent(end) - percent(first)}%`;
  }
}

/** Takes the stretch that the lists name; a bar that was just chosen counts from its first beat, or to its last. */
function spanChosen(changed) {
  const [from, to] = [Number($("from").value), Number($("to").value)];
  const beat = (id, bar, otherwise) => bar + (changed === id.slice(0, -5) ? otherwise : Number($(id).value)) / counts(bar);
  const one = beat("from-beat", from, 0);
  const other = beat("to-beat", to, counts(to) - 1);
  setSpan(...stretch(one + 1e-6, other + 1e-6, true));
}

/** The place in bars under a pointer. */
function under(event, field, version) {
  const { left, width } = field.getBoundingClientRect();
  const share = Math.min(1, Math.max(0, (event.clientX - left) / width));
  return Math.min(LAST + 1 - 1e-6, Math.max(0, inBars(version, share * version.frames)));
}

/** Lets a field be dragged over; `click` is what a click does at a place. */
function draggable(field, n, click) {
  const band = made("span", "", { className: "band", hidden: true });
  band.dataset.of = n;
  field.prepend(band);
  field.addEventListener("pointerdown", (event) => {
    if (event.button || !version(n).starts) return;
    field.setPointerCapture(event.pointerId);
    drag = { field, from: under(event, field, version(n)), x: event.clientX, moved: false };
  });
  const chosen = (event) => stretch(drag.from, under(event, field, version(n)), event.shiftKey);
  field.addEventListener("pointermove", (event) => {
    if (drag?.field !== field) return;
    drag.moved ||= Math.abs(event.clientX - drag.x) > FAR;
    if (!drag.moved) return;
    showSpan(chosen(event));
    say(`${spanWords(chosen(event))}.`);
  });
  field.addEventListener("pointerup", (event) => {
    if (drag?.field !== field) return;
    const { moved, from } = drag;
    const to = moved && chosen(event);
    drag = null;
    if (moved) return setSpan(...to);
    const [bar, beat] = beatAt(from);
    click(event.shiftKey ? bar + beat / counts(bar) : bar);
  });
  field.addEventListener("pointercancel", dropDrag);
}

function dropDrag() {
  drag = null;
  show();
}
