// What was answered, round by round: as JSON for `pressroll results`, as CSV for a spreadsheet, as text with the notes.

const results = []; // scores in words, for the notes
const tests = []; // tests that ended or were left
const unsaved = new Set(); // "notes", "score"

/** Hands a file to the person. */
function download(name, text, type) {
  const link = made("a", "", { download: `${told.file}-${name}` });
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.click();
  URL.revokeObjectURL(link.href);
}

/** Hands over what was answered. */
function saveResults(name, text, type) {
  download(name, text, type);
  unsaved.delete("score");
}

const listener = () => $("listener").value.trim();

/** A round as it is written: versions by their numbers from 1. */
function written({ kind }, { dealt, answer, guess, correct, preferred, seconds }, n) {
  const [a, b, x] = dealt.map((n) => n + 1);
  const asked = kind === "which" ? { a, b, x } : { a, b };
  const given = kind === "prefer" ? { answer, preferred: preferred === null ? null : preferred + 1 } : { answer, guess, correct };
  return { round: n + 1, ...asked, ...given, seconds: Number(seconds.toFixed(2)) };
}

function json() {
  const test = (one) => ({
    id: one.id,
    kind: one.kind,
    versions: one.among.map((n) => n + 1),
    rounds_set: one.rounds,
    complete: one.complete,
    rounds: one.done.map((round, n) => written(one, round, n)),
  });
  const page = { title: told.title, identity: told.identity, versions: versions.map(({ name, setting }) => ({ name, setting })) };
  return `${JSON.stringify({ pressroll_results: 1, page, listener: listener() || null, tests: tests.map(test) }, null, 1)}\n`;
}

/** A field of CSV (RFC 4180). A spreadsheet takes what begins with one of these signs for a formula. */
function field(value) {
  const text = String(value ?? "");
  const plain = typeof value === "string" && /^[=+\-@\t]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}

function csv() {
  const heads = ["page", "title", "listener", "test", "kind", "complete", "round", "a", "a_name", "b", "b_name", "x", "answer", "guess", "correct", "preferred", "seconds"];
  const name = (n) => versions[n - 1]?.name;
  const rows = tests.flatMap((test, number) =>
    test.done.map((round, n) => {
      const r = written(test, round, n);
      const before = [told.identity, told.title, listener(), number + 1, test.kind, test.complete, r.round];
      return [...before, r.a, name(r.a), r.b, name(r.b), r.x, r.answer, r.guess, r.correct, r.preferred, r.seconds];
    }),
  );
  return [heads, ...rows].map((row) => row.map(field).join(",") + "\r\n").join("");
}

/** Saves the notes, with names and scores where these may be seen. */
function saveNotes() {
  const seen = named && !blind;
  const list = versions.map(({ setting }, n) => `${called(n)}${setting ? ` (${setting})` : ""}`);
  const parts = seen ? [told.title, "", ...list, "", $("text").value, "", ...results] : [told.title, "", $("text").value];
  download("notes.txt", parts.join("\n").trimEnd() + "\n", "text/plain");
  unsaved.delete("notes");
  if (seen) unsaved.delete("score");
  say("Notes saved.");
}
