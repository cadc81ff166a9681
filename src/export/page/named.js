// What shows names: parts of the page that lie in it encoded, are built for ordinary listening, and leave the document for a blind test.

const $ = (id) => document.getElementById(id);
const all = (selector) => [...document.querySelectorAll(selector)];

/** What an element holds encoded; it is empty once it is read. */
function decodedText(element) {
  const raw = Uint8Array.from(atob(element.textContent), (letter) => letter.charCodeAt(0));
  element.textContent = "";
  return new TextDecoder().decode(raw);
}

/** What the page was made with. */
const read = (element) => JSON.parse(decodedText(element));

/** Puts the parts that show names where they belong. */
function build() {
  for (const element of all(".named")) {
    const part = document.createElement("template");
    part.innerHTML = decodedText(element);
    element.replaceWith(part.content);
  }
}

const told = read($("told"));
let named = !told.blind; // whether names may be seen outside a blind test
if (named) build();

const sealed = []; // what shows names, and what stands in its place until the test ends

/** Takes out of the document all that names a version, whether it is seen or not. */
function seal() {
  for (const id of ["system", "figures", "blind", "verdict"]) {
    const element = $(id);
    if (!element) continue;
    const stand = document.createComment("");
    element.replaceWith(stand);
    sealed.push([stand, element]);
  }
}

function unseal() {
  for (const [stand, element] of sealed.splice(0)) stand.replaceWith(element);
}
