// Blind listening: letters dealt by chance, picks, and what they are worth.

// ---- Chance: exact binomial tests ----------------------------------------------------------------------------------

const odds = {
  /** The chance of exactly k of n, each coming with chance p. */
  exactly(k, n, p) {
    let ways = 1;
    for (let i = 1; i <= k; i++) ways = (ways * (n - k + i)) / i;
    return ways * p ** k * (1 - p) ** (n - k);
  },
  sum(n, p, wanted) {
    let sum = 0;
    for (let k = 0; k <= n; k++) if (wanted(k)) sum += odds.exactly(k, n, p);
    return Math.min(1, sum);
  },
  /** One-sided: the chance of k or more of n. */
  atLeast: (k, n, p) => odds.sum(n, p, (other) => other >= k),
  /** Two-sided: the chance of any count that is no likelier than k. */
  asFar(k, n, p) {
    const limit = odds.exactly(k, n, p) * (1 + 1e-7); // equal chances may differ in their last bits
    return odds.sum(n, p, (other) => odds.exactly(other, n, p) <= limit);
  },
  /** An even draw from 0 to n - 1. */
  draw(n) {
    const most = Math.floor(2 ** 32 / n) * n;
    for (;;) {
      const [number] = crypto.getRandomValues(new Uint32Array(1));
      if (number < most) return number % n;
    }
  },
  shuffled(list) {
    const left = [...list];
    return list.map(() => left.splice(odds.draw(left.length), 1)[0]);
  },
  /** The smallest p that a test of so many rounds can end with. */
  best: (kind, n) => (kind === "which" ? odds.atLeast(n, n, 1 / 2) : odds.asFar(n, n, 1 / versions.length)),
  say: (p) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(p < 0.001 ? 1 : 2)}`),
};

// ---- Blind ---------------------------------------------------------------------------------------------------------

const SETTLED = 0.5; // seconds of a round before its answer counts: the second click of two is none
const CONVINCING = 0.05; // the p below which a score is taken for more than guessing
const results = [];
const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
/** A to Z, then AA, AB and so on. */
const lettered = (n) => (n < 26 ? "" : LETTERS[Math.floor(n / 26) - 1]) + LETTERS[n % 26];
const made = (tag, words = "", more = {}) => Object.assign(document.createElement(tag), { textContent: words }, more);
const called = (n) => `${n + 1}, ${versions[n].name}`;

/** Says beside what was asked for why it does not happen. */
function refuse(id, words) {
  $(id).textContent = words;
  if (words) $(id).scrollIntoView({ block: "nearest" });
}

let toldOf = ""; // the test that was asked for when its rounds were called too few

/** Begins the test that the form describes, or says what is in its way. */
function askToBegin() {
  const pair = [Number($("one").value) - 1, Number($("other").value) - 1];
  const kind = $("blind-form").elements.kind.value;
  const rounds = Number($("rounds").value);
  refuse("not-begun", "");
  if (kind === "which" && pair[0] === pair[1]) {
    $("other").focus();
    return refuse("not-begun", "Choose two different versions.");
  }
  const test = `${kind} ${rounds}`;
  if (odds.best(kind, rounds) >= CONVINCING && toldOf !== test) {
    toldOf = test;
    $("rounds").focus();
    return refuse("not-begun", tooFew(kind, rounds));
  }
  begin(kind, pair, rounds);
  document.querySelector('[name="letter"]').focus();
}

/** What there is to say of a number of rounds that can't show anything. */
function tooFew(kind, rounds) {
  let enough = rounds;
  while (odds.best(kind, enough) >= CONVINCING) enough += 1;
  const score = kind === "which" ? `${rounds} of ${rounds} correct` : `preferring one version ${rounds} of ${rounds} times`;
  return (
    `With so few rounds no score is evidence: even ${score} gives ${odds.say(odds.best(kind, rounds))}, not below ${CONVINCING}. ` +
    `Set ${enough} rounds or more, or press the button again to begin with ${rounds}.`
  );
}

function begin(kind, pair, rounds) {
  blind = { kind, rounds, picks: [], pair: odds.shuffled(pair) };
  ["system", "figures", "blind"].forEach((id) => ($(id).hidden = true));
  $("hidden-staves").hidden = false;
  deal();
}

/** Deals the letters of a round. */
function deal() {
  const { kind, pair, picks, rounds } = blind;
  blind.since = context ? context.currentTime : 0;
  refuse("not-counted", "");
  const which = kind === "which";
  blind.dealt = which ? [...pair, pair[odds.draw(2)]] : odds.shuffled(versions.map((_, n) => n));
  blind.names = which ? ["A", "B", "X"] : blind.dealt.map((_, n) => lettered(n));
  $("question").textContent = which ? "Which of the two is X?" : "Which do you prefer?";
  $("round-of").textContent = `Round ${picks.length + 1} of ${rounds}.`;
  const radios = blind.names.map((name, n) => {
    const label = made("label");
    const radio = made("input", "", { type: "radio", name: "letter", value: name, onchange: () => hear(n) });
    label.append(radio, ` ${name}`);
    return label;
  });
  $("letters").replaceChildren(...radios);
  const choices = which ? ["A", "B"] : blind.names;
  const words = (name) => (which ? `X is ${name}` : `I prefer ${name}`);
  const once = (n) => (click) => click.detail > 1 || pick(n);
  const buttons = choices.map((name, n) => made("button", words(name), { type: "button", onclick: once(n) }));
  $("picks").replaceChildren(...buttons);
  hear(0);
}

function hear(n) {
  blind.letter = blind.names[n];
  all('[name="letter"]').forEach((radio, at) => (radio.checked = at === n));
  choose(blind.dealt[n]);
}

/** Counts an answer, if the page plays and the round has lasted long enough for something to have been heard. */
function pick(n) {
  const { kind, dealt, picks, rounds, since } = blind;
  if (!voices) return refuse("not-counted", "Not counted: the page is not playing. Press Play, listen, then answer.");
  if (context.currentTime - since < SETTLED) return;
  picks.push(kind === "which" ? dealt[n] === dealt[2] : dealt[n]);
  if (picks.length === rounds) return finish();
  deal();
  say(`Round ${picks.length + 1} of ${rounds}. Playing: ${blind.letter}.`);
  document.querySelector('[name="letter"]').focus();
}

function finish() {
  const { kind, picks, pair } = blind;
  const lines = kind === "which" ? toldApart(picks, pair) : preferred(picks);
  results.push(...lines, "");
  unsaved = true;
  reveal(lines);
}

function toldApart(picks, [a, b]) {
  const right = picks.filter(Boolean).length;
  const p = odds.atLeast(right, picks.length, 0.5);
  return [
    `${right} of ${picks.length} correct.`,
    `Probability of this score or better by guessing: ${odds.say(p)} (exact binomial test, one-sided, chance 1 in 2).`,
    p < CONVINCING ? "Evidence of an audible difference." : "No evidence of an audible difference.",
    `A was ${called(a)}. B was ${called(b)}.`,
  ];
}

function preferred(picks) {
  const counts = versions.map((_, n) => picks.filter((picked) => picked === n).length);
  const chance = `chance 1 in ${versions.length}`;
  const order = versions.map((_, n) => n).sort((a, b) => counts[b] - counts[a] || a - b);
  const line = (n) => {
    const p = odds.asFar(counts[n], picks.length, 1 / versions.length);
    return `${called(n)}: preferred ${counts[n]} of ${picks.length} times, ${odds.say(p)}`;
  };
  const note = versions.length > 2 ? " Among several versions one small p may come about by chance." : "";
  return [
    `The most preferred came out ahead ${counts[order[0]]} of ${picks.length} times.`,
    `p is the probability of a count this far from even by guessing (exact binomial test, two-sided, ${chance}).${note}`,
    ...order.map(line),
  ];
}

/** Ends a blind test: the score first, the names under it. */
function reveal(lines) {
  blind = null;
  ["system", "figures", "blind", "verdict"].forEach((id) => ($(id).hidden = false));
  $("hidden-staves").hidden = true;
  $("verdict").replaceChildren(...lines.map((line, n) => made("p", line, { className: n ? "" : "score" })));
  show();
  $("verdict").focus();
}
