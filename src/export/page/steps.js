// Hits by hand: the tablature of the bars that play, as the file has it; a click turns a rest into a ghost note, that into a hit,
// an accent, and a rest again.

const MARKS = { "-": "rest", g: "ghost note", x: "hit", X: "accent" };
let linesOf = ""; // the bars whose lines are shown

const barsFor = (line) => (line.for === "all" ? "all bars" : /^[0-9]+$/.test(line.for) ? `bar ${line.for}` : /^[0-9]/.test(line.for) ? `bars ${line.for}` : line.for);
const stepOf = (line, at) => line.turns.indexOf(at - line.start) + 1;

/** Shows the lines that play in some of the chosen bars; the bars that they are written for stand above them. */
function showLines() {
  linesOf = span.join();
  const [first, end] = span;
  const bars = told.bars.map(([number]) => number - 1).filter((_, n) => n + 1 > first && n < end);
  const lines = listed.lines.filter(({ plays }) => plays.some((bar) => bars.includes(bar)));
  const wide = Math.max(0, ...lines.map(({ part }) => part.length));
  let before = null;
  const shown = [];
  for (const line of lines) {
    if (line.for !== before) shown.push(made("p", barsFor(line), { className: "for" }));
    before = line.for;
    shown.push(tabLine(line, wide));
  }
  $("tablature").replaceChildren(...shown);
  $("hits").hidden = !shown.length;
}

function tabLine(line, wide) {
  const whole = made("div", "", { className: "marks", role: "group" });
  whole.setAttribute("aria-label", `${line.part}, ${barsFor(line)}`);
  whole.append(made("span", line.part.padEnd(wide + 2), { className: "part" }));
  const turns = new Set(line.turns);
  for (let at = 0; at < line.text.length; at++) {
    if (!turns.has(at)) {
      whole.append(made("span", line.text[at], { className: line.text[at] === " " ? "gap" : "" }));
      continue;
    }
    const button = made("button", "", { type: "button", tabIndex: at === line.turns[0] ? 0 : -1 });
    button.dataset.at = line.start + at;
    button.dataset.name = `${line.part}, ${barsFor(line)}, mark ${stepOf(line, line.start + at)}`;
    button.dataset.written = line.text[at];
    button.addEventListener("click", () => turnMark(button));
    showMark(button);
    whole.append(button);
  }
  whole.addEventListener("keydown", alongMarks);
  return whole;
}

function showMark(button) {
  const { at, name, written } = button.dataset;
  const mark = tried.marks.get(Number(at)) ?? written;
  button.textContent = mark;
  button.setAttribute("aria-label", `${name}: ${MARKS[mark]}`);
  button.classList.toggle("turned", mark !== written);
}

/** Goes on to the next of the marks that are turned into one another. */
function turnMark(button) {
  const at = Number(button.dataset.at);
  const turn = listed.turn;
  const mark = turn[(turn.indexOf(button.textContent) + 1) % turn.length];
  change(null, ({ marks }) => (mark === button.dataset.written ? marks.delete(at) : marks.set(at, mark)));
}

/** Arrow keys go from mark to mark, as in a toolbar (ARIA Authoring Practices, "Toolbar"). */
function alongMarks(event) {
  const own = [...event.currentTarget.querySelectorAll("button")];
  const at = own.indexOf(event.target);
  const to = { ArrowLeft: at - 1, ArrowRight: at + 1, Home: 0, End: own.length - 1 }[event.key];
  if (at < 0 || to === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
  event.preventDefault();
  event.stopPropagation();
  if (!own[to]) return;
  own.forEach((button, n) => (button.tabIndex = n === to ? 0 : -1));
  own[to].focus();
}
