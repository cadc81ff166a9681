// Blind listening by pairs: versions under letters that chance deals, answers, and what they are worth.

const SETTLED = 0.5; // seconds of a round before its answer counts: the second click of two is none
const CANT = "can't tell";
const made = (tag, words = "", more = {}) => Object.assign(document.createElement(tag), { textContent: words }, more);
const called = (n) => (n < versions.length ? `${n + 1}, ${versions[n].name}` : version(n).name);

/** The questions: what is asked, the answers, and how a round is dealt from two versions. */
const QUESTIONS = {
  prefer: {
    asks: "Which do you prefer?",
    answers: { A: "I prefer A", B: "I prefer B" },
    deal: (pair) => ({ dealt: odds.shuffled(pair), names: ["A", "B"] }),
    truth: () => null,
  },
  // ABX: W. A. Munson and M. B. Gardner, "Standardizing auditory tests", J. Acoust. Soc. Am. 22, 1950.
  which: {
    asks: "Which of the two is X?",
    answers: { A: "X is A", B: "X is B" },
    deal: (pair) => ({ dealt: [...pair, pair[odds.draw(2)]], names: ["A", "B", "X"] }),
    truth: ([a, , x]) => (x === a ? "A" : "B"),
  },
  // Half of the rounds are the same on average, so every way of guessing is right one time in two.
  same: {
    asks: "Are the two the same or different?",
    answers: { same: "The same", different: "Different" },
    deal: (pair) => {
      const [one, other] = odds.shuffled(pair);
      return { dealt: [one, odds.draw(2) ? one : other], names: ["A", "B"] };
    },
    truth: ([a, b]) => (a === b ? "same" : "different"),
  },
};

/** Says beside what was asked for why it does not happen. */
function refuse(id, words) {
  if ($(id)) $(id).textContent = words;
  if (words) $(id).scrollIntoView({ block: "nearest" });
}

/** All pairs of a list. */
const pairs = (list) => list.flatMap((one, n) => list.slice(n + 1).map((other) => [one, other]));

const drawn = odds.shuffled(versions.map((_, n) => n)); // the order in which versions take part while none has a name

/** What the form asks for. */
function asksFor() {
  const kind = $("blind-form").elements.kind.value;
  const chosen = () => all('[name="takes"]:checked').map((box) => Number(box.value));
  const among = named ? chosen() : kind === "prefer" ? drawn : drawn.slice(0, 2);
  return { kind, among, rounds: Number($("rounds").value) };
}

/** How many answers of one kind are evidence, or how many rounds it takes. */
function worth({ kind, among, rounds }) {
  const each = kind === "prefer" ? Math.floor(rounds / Math.max(1, pairs(among).length)) : rounds;
  const needed = odds.needed(kind, each);
  if (needed === null) {
    const [best, score] =
      kind === "prefer"
        ? [odds.asFar(each, each, 1 / 2), `preferring one version ${each} of ${each} times`]
        : [odds.atLeast(each, each, 1 / 2), `${each} of ${each} correct`];
    const enough = odds.fewest(kind) * (kind === "prefer" ? pairs(among).length : 1);
    const even = each ? `even ${score} gives ${odds.say(best)}, not below ${CONVINCING}` : "not every pair comes up";
    return { enough: false, words: `With so few rounds no score is evidence: ${even}. Set ${enough} rounds or more` };
  }
  const words =
    kind === "prefer"
      ? `${pairs(among).length > 1 ? `Each of ${pairs(among).length} pairs comes up ${each} times or once more. ` : ""}` +
        `A preference is evidence where a version is preferred at least ${needed} of ${each} times`
      : `Evidence of an audible difference needs at least ${needed} of ${each} correct`;
  const kindOfTest = kind === "prefer" ? "two-sided" : "one-sided";
  return { enough: true, words: `${words} (exact binomial test, ${kindOfTest}, 5 %).` };
}

/** What stands in a test's way; nothing where nothing does. */
function hindrance({ kind, among }) {
  if (kind === "prefer") return among.length < 2 ? "Choose two versions or more." : "";
  return among.length === 2 ? "" : `This question is about two versions: choose two, not ${among.length}.`;
}

let takesTouched = false; // whether the person has chosen the versions

/** Until others are chosen, a question about two versions takes the first two. */
function takeUsual() {
  const kind = $("blind-form").elements.kind.value;
  if (!takesTouched) all('[name="takes"]').forEach((box, n) => (box.checked = kind === "prefer" || n < 2));
  showWorth();
}

/** Follows the form. */
function formChanged(field) {
  if (field.name === "takes") takesTouched = true;
  if (field.name === "kind") takeUsual();
  showWorth();
}

function showWorth() {
  const asked = asksFor();
  const { enough, words } = worth(asked);
  $("needed").textContent = hindrance(asked) || (enough ? words : `${words}.`);
}

let toldOf = ""; // the test that was asked for when its rounds were called too few

/** Begins the test that the form describes, or says what is in its way. */
async function askToBegin() {
  const asked = asksFor();
  refuse("not-begun", "");
  const hindered = hindrance(asked);
  if (hindered) return refuse("not-begun", hindered);
  const { enough, words } = worth(asked);
  const test = JSON.stringify(asked);
  if (!enough && toldOf !== test) {
    toldOf = test;
    $("rounds").focus();
    return refuse("not-begun", `${words}, or press the button again to begin with ${asked.rounds}.`);
  }
  if (asked.among.some((n) => !buffers[n])) {
    const waiting = { among: asked.among };
    blind = waiting; // what is decoded for it stays
    $("begin").disabled = true;
    try {
      await decodeAll(asked.among, (done, of) => refuse("not-begun", `Loading: ${done} of ${of} versions.`));
    } catch {
      return refuse("not-begun", CAN_NOT);
    } finally {
      blind = null;
      $("begin").disabled = false;
    }
    refuse("not-begun", "");
  }
  begin(asked, $("training").checked);
}

/** Pairs for so many rounds, in an order of chance: each comes up once before any does again. */
function planned({ kind, among, rounds }) {
  const list = pairs(among);
  const plan = [];
  while (plan.length < rounds) plan.push(...odds.shuffled(list));
  return plan.slice(0, rounds).map((pair) => (kind === "which" ? list[0] : pair));
}

function begin(asked, training) {
  const pair = odds.shuffled(asked.among);
  const plan = asked.kind === "prefer" ? planned(asked) : Array(asked.rounds).fill(pair);
  blind = { ...asked, plan, training, done: [], id: ownId() };
  seal();
  $("hidden-staves").hidden = false;
  deal();
  $("hidden-staves").scrollIntoView({ block: "nearest" });
}

/** What no other test is called. */
const ownId = () => Array.from({ length: 4 }, () => odds.draw(2 ** 32).toString(16).padStart(8, "0")).join("");

/** Deals the letters of a round. */
function deal() {
  const { kind, plan, done, rounds, training } = blind;
  const { asks, answers, deal: dealt } = QUESTIONS[kind];
  Object.assign(blind, dealt(training ? plan[odds.draw(plan.length)] : plan[done.length]));
  blind.since = context ? context.currentTime : 0;
  refuse("not-counted", "");
  $("question").textContent = asks;
  $("round-of").textContent = training ? "Training round: it does not count." : `Round ${done.length + 1} of ${rounds}.`;
  const radios = blind.names.map((name, n) => {
    const label = made("label");
    label.append(made("input", "", { type: "radio", name: "letter", value: name, onchange: () => hear(n) }), ` ${name}`);
    return label;
  });
  $("letters").replaceChildren(...radios);
  blind.answers = [...Object.keys(answers), CANT];
  const buttons = blind.answers.map((answer, n) => {
    const button = made("button", answers[answer] ?? "I can’t tell", { type: "button", onclick: (click) => click.detail > 1 || pick(n) });
    button.dataset.key = n + 1;
    button.setAttribute("aria-keyshortcuts", n + 1);
    return button;
  });
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
  const { kind, dealt, done, rounds, since, training } = blind;
  if (!voice) return refuse("not-counted", "Not counted: the page is not playing. Press Play, listen, then answer.");
  if (context.currentTime - since < SETTLED) return;
  const answer = blind.answers[n];
  const truth = QUESTIONS[kind].truth(dealt);
  // Who can't tell guesses: chance does it for them, so that a score has the same odds whoever answers.
  const guess = answer === CANT && truth ? blind.answers[odds.draw(2)] : answer;
  const correct = truth ? guess === truth : null;
  let last = "";
  if (training) {
    blind.training = false;
    last = `Training: ${truth ? `${{ A: "X was A", B: "X was B", same: "they were the same", different: "they were different" }[truth]}; ` : ""}not counted. The test begins. `;
  } else {
    const preferred = kind === "prefer" && answer !== CANT ? dealt[n] : null;
    done.push({ dealt, answer, guess, correct, preferred, seconds: context.currentTime - since });
    if (done.length === rounds) return finish(true);
  }
  deal();
  say(`${last}Round ${done.length + 1} of ${rounds}. Playing: ${blind.letter}.`);
  document.querySelector('[name="letter"]').focus();
}

function finish(complete) {
  const { kind, done, among, rounds } = blind;
  tests.push({ ...blind, complete });
  const score = { prefer: preferred, which: toldApart, same: toldApart }[kind];
  const lines = complete ? score(done, among) : [`Left after ${done.length} of ${rounds} rounds: no score.`];
  if (complete) {
    unsaved.add("score");
    results.push(...lines, "");
  }
  blind = null;
  unseal();
  $("hidden-staves").hidden = true;
  if (complete || named) return reveal(lines);
  refuse("not-begun", lines[0]);
  $("begin").focus();
  show();
}

function toldApart(done, among) {
  const right = done.filter(({ correct }) => correct).length;
  const p = odds.atLeast(right, done.length, 0.5);
  const guessed = done.filter(({ answer }) => answer === CANT).length;
  return [
    `${right} of ${done.length} correct.`,
    `Probability of this score or better by guessing: ${odds.say(p)} (exact binomial test, one-sided, chance 1 in 2).`,
    p < CONVINCING ? "Evidence of an audible difference." : "No evidence of an audible difference.",
    ...(guessed ? [`You could not tell ${guessed} times; chance answered these.`] : []),
    done[0].dealt.length > 2
      ? `A was ${called(done[0].dealt[0])}. B was ${called(done[0].dealt[1])}.`
      : `The two were ${among.map(called).join(" and ")}.`,
  ];
}

/** How often each version was preferred to each other one. */
function preferences(done, among) {
  const wins = among.map(() => among.map(() => 0));
  for (const { dealt, preferred } of done) {
    const [a, b] = dealt.map((n) => among.indexOf(n));
    if (preferred === null) (wins[a][b] += 0.5), (wins[b][a] += 0.5);
    else if (preferred === dealt[0]) wins[a][b] += 1;
    else wins[b][a] += 1;
  }
  return wins;
}

function preferred(done, among) {
  const each = pairs(among).map(([a, b]) => {
    const of = done.filter(({ dealt }) => dealt.includes(a) && dealt.includes(b));
    const told = of.filter(({ preferred }) => preferred !== null);
    const count = told.filter(({ preferred }) => preferred === a).length;
    return { a, b, count, told: told.length, ties: of.length - told.length, p: odds.asFar(count, told.length, 1 / 2) };
  });
  const adjusted = odds.holm(each.map(({ p }) => p));
  const lines = each.map(({ a, b, count, told, ties, p }, n) => {
    const [ahead, behind, most] = 2 * count >= told ? [a, b, count] : [b, a, told - count];
    const tied = ties ? `, ${ties} times you could not tell` : "";
    const holm = each.length > 1 ? `, ${odds.say(adjusted[n])} among ${each.length} pairs` : "";
    return `${called(ahead)}: preferred to ${called(behind)} ${most} of ${told} times${tied}, ${odds.say(p)}${holm}`;
  });
  const some = each.some((_, n) => adjusted[n] < CONVINCING);
  return [
    some ? "Evidence of a preference." : "No evidence of a preference.",
    `p is the probability of a count this far from even by guessing (exact binomial test, two-sided, chance 1 in 2)${each.length > 1 ? "; among several pairs it is adjusted (Holm)" : ""}.`,
    ...lines,
    ...(among.length > 2 ? strengthsOf(done, among) : []),
  ];
}

/** What a model of paired comparison makes of the preferences. */
function strengthsOf(done, among) {
  const { log, deviation, added } = odds.strengths(preferences(done, among));
  const percent = (value) => `${Math.round(100 * odds.overAverage(value))} %`;
  const order = among.map((_, n) => n).sort((a, b) => log[b] - log[a]);
  return [
    `How often each would be preferred to an average one (Bradley and Terry 1952; “can’t tell” counts half for each${added ? "; half a preference each way added to each pair" : ""}):`,
    ...order.map((n) => `${called(among[n])}: ${percent(log[n])}, 95 % interval ${percent(log[n] - 1.96 * deviation[n])} to ${percent(log[n] + 1.96 * deviation[n])}`),
  ];
}

/** Shows what came of a blind test: the score first, the names under it. */
function reveal(lines) {
  if (!named) {
    named = true;
    build();
    takeUsual();
    listen();
  }
  $("verdict").hidden = false;
  $("score").replaceChildren(...lines.map((line, n) => made("p", line, { className: n ? "" : "score" })));
  show();
  $("verdict").focus();
}
