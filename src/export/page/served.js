// A page that is served: a newer render is fetched, decoded, and let in at the next bar.

const LOOK = 300; // ms between two looks for a newer render
const NEAR = 0.25; // seconds before a bar at which the newer render is set out for it

let shown = Number($("served").textContent); // the number of the render that is heard
async function ask(path) {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  return answer;
}

/** The sound of the render that the page came with. */
async function fetched() {
  const sound = await ask(`sound/${$("served").textContent}`);
  return sound.arrayBuffer();
}

/** A newer render: the page that shows it, what its script is told, its sound. */
async function fetchNewest() {
  const page = new DOMParser().parseFromString(await (await ask("./")).text(), "text/html");
  const number = Number(page.getElementById("served").textContent);
  const sound = await (await ask(`sound/${number}`)).arrayBuffer();
  return { number, page, buffer: await decode(sound), told: read(page.getElementById("told")) };
}

/** The moment at which the next bar begins, and which that is; none where none comes any more. */
function nextBar() {
  const [version] = versions;
  const moment = soon();
  const heard = voice.beneath ?? voice; // a stretch that plays has another beneath it that goes on
  const frame = frameAt(heard, moment);
  const bar = Math.floor(inBars(version, frame)) + 1;
  const [first, end] = span;
  const ends = bar >= end || start(version, bar) >= heard.take.b;
  if (ends && !heard.source.loop) return { when: moment, bar: null }; // it is heard to its end
  const at = ends ? heard.take.b : start(version, bar);
  return { when: onGrid(moment + (at - frame) / rate), bar: ends ? first : bar };
}

/** Lets a newer render in: at the next bar where one sounds, else at once. */
async function letIn(newest) {
  await decoded;
  let next = null;
  while (voice && !next) {
    next = nextBar();
    if (next.when - context.currentTime > NEAR && !document.hidden) {
      await wait(50);
      next = null;
    }
  }
  const [first, end] = whole() ? [0, Infinity] : span;
  takeOver(newest);
  span = [Math.min(first, LAST), Math.min(end, LAST + 1)];
  place = Math.min(place, LAST);
  if (voice && next.bar !== null) {
    voice = begun(0, edge(versions[0], Math.min(Math.max(next.bar, span[0]), span[1])), next.when);
    balance(next.when, CHANGE);
  }
  show();
}

/** Shows and tells of a newer render what the page showed and told of the one before. */
function takeOver({ number, page, buffer, told: fresh }) {
  shown = number;
  told.bars = fresh.bars;
  told.repeats = fresh.repeats;
  versions[0] = fresh.versions[0];
  buffers[0] = buffer;
  LAST = told.bars.length - 1;
  document.title = page.title;
  for (const place of ["h1", ".from", "#figures", ".stave svg", ".counts .field", "footer"]) {
    document.querySelector(place).replaceWith(page.querySelector(place));
  }
  $("ruler").replaceChildren($("ruler").querySelector(".band"), ...page.getElementById("ruler").childNodes);
  $("ruler").setAttribute("aria-valuemax", LAST + 1);
  listBars();
  fileCame();
}

async function look() {
  try {
    const { number, wrong } = await (await ask("newest")).json();
    $("wrong").textContent = wrong ? `What was saved last can't be rendered: ${wrong}` : "";
    $("wrong").hidden = !wrong;
    if (number !== shown) await letIn(await fetchNewest());
    if (listed && linesOf !== span.join()) showLines();
  } catch {
    $("wrong").textContent = "pressroll does not answer: this is the last render that it made.";
    $("wrong").hidden = false;
  }
  setTimeout(look, LOOK);
}
look();
