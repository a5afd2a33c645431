"use strict";
{
// Shows what the engine answers. Nothing clinical and no date is worked out here.
const at = (id) => document.getElementById(id);
const empty = (node) => { node.replaceChildren(); return node; };
// What would turn the direction of reading, or cannot be seen, is shown to be there.
const seen = (text) => text.replace(/[\0-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]/g, "\ufffd");
const make = (tag, text, more) => {
  const node = Object.assign(document.createElement(tag), more);
  if (text) node.textContent = seen(text);
  return node;
};

const engine = { calls: null };
const held = { listed: [], texts: null, protocol: null, way: "case", fields: [], left: new Set(), answer: null, sheet: null, latest: null };

function bytesOf(text) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let index = 0; index < raw.length; index += 1) bytes[index] = raw.charCodeAt(index);
  return bytes;
}

function put(text) {
  const bytes = new TextEncoder().encode(text);
  const room = engine.calls.need(bytes.length);
  new Uint8Array(engine.calls.memory.buffer, room, bytes.length).set(bytes);
  return bytes.length;
}

function taken() {
  const { memory, answer, answer_length: length } = engine.calls;
  return new TextDecoder().decode(new Uint8Array(memory.buffer, answer(), length()));
}

function ask(kind, more) {
  const question = { ask: kind, protocol: held.protocol, ...more };
  if (kind !== "questions") question.now = Math.floor(Date.now() / 1000);
  engine.calls.ask(put(JSON.stringify(question)));
  const answer = JSON.parse(taken());
  if (answer.fault) throw new Error(answer.fault);
  return answer[kind === "blank" ? "sheet" : kind];
}

// A fault of the program: nothing may be printed from what was on the page before.
function stop(error) {
  setSheet(null);
  const box = make("div", "", { className: "fault" });
  box.setAttribute("role", "alert");
  box.append(
    make("p", "The page met a fault of its own, and nothing can be printed from it."),
    make("p", "Open it again. If it happens again, use the unit’s paper form and tell whoever looks after this page:"),
    make("p", String(error && error.message ? error.message : error)),
  );
  empty(at("main")).append(box);
}

const safely = (work) => (...given) => {
  try { return work(...given); } catch (error) { return stop(error); }
};

function typefaces() {
  const { memory, typeface, typeface_length: length } = engine.calls;
  const read = (bold) => new Uint8Array(memory.buffer, typeface(bold), length(bold)).slice().buffer;
  engine.faces = [["400", read(0)], ["700", read(1)]];
  useTypefaces(document);
}

function useTypefaces(page) {
  for (const [weight, bytes] of engine.faces) {
    const face = new page.defaultView.FontFace("Source Sans 3", bytes, { weight });
    page.fonts.add(face);
    face.load();
  }
}

// ---- choosing ----

function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function list() {
  const box = empty(at("protocols"));
  const groups = [["", held.listed.filter((one) => !one.draft)], ["Drafts: not approved for use, and printed with a mark that says so", held.listed.filter((one) => one.draft)]];
  for (const [title, group] of groups) {
    if (title && group.length) box.append(make("h3", title));
    for (const one of group) {
      const button = make("button", "", { type: "button" });
      button.append(make("strong", one.title), make("span", one.unit), make("span", `Version ${one.version}, review by ${one.review}`));
      if (one.review < today()) button.append(make("span", "The day of review has passed: nothing is printed", { className: "warn" }));
      button.addEventListener("click", safely(() => choose(held.listed.indexOf(one))));
      box.append(button);
    }
  }
  at("choosing").hidden = false;
  at("chosen").hidden = true;
  document.body.className = "";
}

function choose(index) {
  held.protocol = index;
  const one = held.listed[index];
  held.left = new Set();
  held.fields = ask("questions");
  at("chosen-title").textContent = one.title;
  empty(at("chosen-facts")).append(
    `${one.unit}. Version ${one.version}, review by ${one.review}. `,
    one.draft ? make("strong", one.status) : one.status,
    `. Fingerprint ${one.fingerprint.slice(0, 16)}`,
  );
  document.body.className = "chosen";
  at("choosing").hidden = true;
  at("chosen").hidden = false;
  fields();
  go("case");
  at("chosen-title").focus();
  scrollTo(0, 0);
}

// Not every browser prints what a style puts into the foot of a page.
function printsFeet() {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("@page { @bottom-left { content: 'x' } }");
  return sheet.cssRules[0].cssText.includes("bottom-left");
}

function back() {
  const was = held.protocol;
  held.protocol = null;
  setSheet(null);
  // What was typed goes with the protocol it was for.
  empty(at("fields"));
  empty(at("later"));
  show("");
  list();
  const buttons = [...at("protocols").querySelectorAll("button")];
  const name = held.listed[was] && held.listed[was].title;
  (buttons.find((button) => button.firstChild.textContent === name) || at("choosing-title")).focus();
}

// Nothing of one patient is left for the next.
function nextPatient() {
  held.left = new Set();
  held.latest = null;
  fields();
  refresh();
  at(key("start")).focus();
}

// ---- the fields of a case ----

const key = (id) => `field-${id.replace(":", "-")}`;

function fields() {
  empty(at("fields"));
  empty(at("later"));
  for (const field of held.fields) {
    const box = make("div", "", { className: "field" });
    const id = key(field.id);
    const input = make("input", "", { type: "text", id, autocomplete: "off", spellcheck: false });
    input.inputMode = field.time ? "text" : "decimal";
    input.setAttribute("aria-describedby", `${id}-hint ${id}-beside`);
    input.setAttribute("aria-required", String(field.needed));
    input.addEventListener("input", safely(() => { held.latest = field.id; pin(field); soon(field); }));
    input.addEventListener("blur", safely(() => { held.latest = field.id; if (input.value.trim()) { held.left.add(field.id); refresh(); } }));
    input.addEventListener("keydown", (event) => { if (event.key === "Enter") { held.left.add(field.id); safely(refresh)(); } });
    const row = make("div", "", { className: "row" });
    row.append(input);
    if (field.unit) row.append(make("span", field.unit));
    if (field.time) {
      const day = make("select", "", { id: `${id}-day` });
      day.setAttribute("aria-label", `${field.label}: day`);
      day.addEventListener("change", safely(() => { day.dataset.own = "yes"; if (input.value.trim()) held.left.add(field.id); refresh(); }));
      row.append(day);
    }
    const beside = make("div", "", { className: "beside", id: `${id}-beside` });
    beside.setAttribute("aria-live", "polite");
    const label = make("label", field.needed ? `${field.label} (needed)` : field.label, { htmlFor: id });
    const top = make("div", "", { className: "asked" });
    top.append(label, make("span", field.hint, { className: "hint", id: `${id}-hint` }));
    box.append(top, row, beside);
    at(field.later ? "later" : "fields").append(box);
  }
  at("later-group").hidden = !held.fields.some((field) => field.later);
}

// The usual day of the start and of something reached is today. Once a time is typed beside it,
// that day stays, even when midnight passes while the page is open.
function pin(field) {
  const day = at(`${key(field.id)}-day`);
  if (!day || field.id.startsWith("mark:")) return;
  if (at(key(field.id)).value.trim()) day.dataset.own = "yes";
  else delete day.dataset.own;
}

let waiting = 0;
function soon(field) {
  // Nothing is ready to print while an entry is being written.
  setSheet(null);
  clearTimeout(waiting);
  waiting = setTimeout(safely(() => { held.left.add(field.id); refresh(); }), held.left.has(field.id) ? 250 : 900);
}

function entries() {
  const given = {};
  for (const field of held.fields) {
    const day = at(`${key(field.id)}-day`);
    given[field.id] = { text: at(key(field.id)).value, day: day && day.dataset.own ? day.value : "" };
  }
  return given;
}

function refresh() {
  clearTimeout(waiting);
  if (held.protocol === null) return;
  const paper = at("paper-size").value;
  if (held.way === "reading") return;
  if (held.way === "case") {
    const answer = ask("sheet", { fields: entries(), paper });
    held.answer = answer;
    const news = held.fields.filter((field) => beside(field, answer.fields[field.id]));
    setSheet(answer.sheet);
    status(answer);
    if (news.some((field) => field.id === held.latest)) uncover(held.latest);
  } else {
    const answer = ask("blank", { paper });
    setSheet(answer.sheet);
    status(answer);
  }
}

function beside(field, found) {
  const input = at(key(field.id));
  const day = at(`${key(field.id)}-day`);
  if (day) days(day, found);
  const box = at(`${key(field.id)}-beside`);
  const lines = [];
  const told = held.left.has(field.id);
  const wrong = told && found.state === "wrong";
  if (found.state === "good") lines.push(make("p", `✓ ${found.said}`));
  if (found.note) lines.push(make("p", found.note, { className: "note" }));
  if (told && found.state === "waiting") lines.push(make("p", sentence(found.help)));
  if (wrong) {
    lines.push(make("p", `✗ ${sentence(plain(field, found.problem))}`, { className: "wrong" }));
    const rest = [found.why, found.help].filter(Boolean).map((text) => sentence(plain(field, text))).join(" ");
    if (rest) lines.push(make("p", rest));
    if (found.choices.length) {
      const choices = make("div", "", { className: "choices" });
      choices.setAttribute("role", "group");
      choices.setAttribute("aria-label", `What was meant by ${field.label}`);
      for (const choice of found.choices) choices.append(choiceButton(field, choice));
      lines.push(choices);
    }
  }
  if (wrong) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
  // Unchanged words are not said again by a screen reader.
  const shape = lines.map((line) => line.outerHTML).join("");
  if (box.dataset.shape !== shape) {
    box.dataset.shape = shape;
    box.replaceChildren(...lines);
    return lines.length > 0;
  }
  return false;
}

// Nothing that is scrolled to comes to lie under the bar with the button.
function keepClear() {
  document.documentElement.style.scrollPaddingBottom = `${at("printing").offsetHeight + 10}px`;
}

// What is said about the entry just made is seen, and then the place where one is.
function uncover(id) {
  keepClear();
  at(`${key(id)}-beside`).scrollIntoView({ block: "nearest" });
  const here = document.activeElement;
  if (here && at("left").contains(here)) here.scrollIntoView({ block: "nearest" });
}

function choiceButton(field, choice) {
  const button = make("button", choice.label, { type: "button" });
  button.addEventListener("click", safely(() => {
    const input = at(key(field.id));
    input.value = choice.text;
    const day = at(`${key(field.id)}-day`);
    if (day && choice.day) {
      day.dataset.own = "yes";
      day.value = choice.day;
    }
    refresh();
    input.focus();
  }));
  return button;
}

function days(select, found) {
  const shape = JSON.stringify(found.days);
  const wanted = select.dataset.own ? select.value : found.day;
  if (select.dataset.shape !== shape) {
    select.dataset.shape = shape;
    select.replaceChildren(...found.days.map((day) => make("option", day.label, { value: day.value })));
  }
  select.value = wanted;
  if (select.value !== wanted) {
    // The chosen day is no longer among those offered.
    delete select.dataset.own;
    select.value = found.day;
  }
}

const sentence = (text) => {
  const begun = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?]$/.test(begun) ? begun : `${begun}.`;
};

// The nurse sees the title of a thing, not the name that the author gave it; of a phase without
// what the field asks about it, of a reading without when it was taken.
function plain(field, text) {
  const name = field.id.split(":")[1];
  const title = field.id.startsWith("reached:") ? field.label.replace(/: [^:]*$/, "") : field.label.replace(/ on arrival$/, "");
  return quoted(name ? text.replaceAll(`\`${name}\``, () => `\`${title}\``) : text);
}

const quoted = (text) => text.replace(/`([^`]*)`/g, "“$1”");

function status(answer) {
  const box = empty(at("status"));
  const say = (text, className) => box.append(make("p", text, { className: className || "" }));
  if (answer.sheet && !held.feet) say("This browser does not print the foot of each page, with page number, fingerprint and code. Print with another one, or write them on each page.", "wrong");
  if (answer.refused) {
    say(`✗ Nothing is printed: ${quoted(answer.refused.title)}.`, "wrong");
    say(quoted(sentence(answer.refused.why)));
    say(quoted(sentence(answer.refused.help)));
    at("no-preview").className = "wrong";
    at("no-preview").textContent = `✗ Nothing is printed: ${quoted(answer.refused.title)}.`;
  } else if (answer.sheet) {
    say(answer.sheet.draft ? "Ready to print, with a draft mark on every page." : "Ready to print.");
    if (answer.open && answer.open.length) say(`Left empty: ${answer.open.join("; ")}. The sheet has boxes for them, and what depends on them is not worked out.`);
  } else {
    const told = answer.wrong.length ? `to put right: ${answer.wrong.join("; ")}` : `needed: ${answer.needed.join("; ")}`;
    say(`No sheet yet; ${told}.`);
  }
}

// ---- the sheet ----

function setSheet(sheet) {
  held.sheet = sheet;
  const paper = empty(at("paper"));
  if (!sheet) {
    at("sheet-style").textContent = "";
    paper.append(make("p", "No sheet was ready when this page was printed."));
    document.title = "Print a run sheet";
    if (held.way !== "reading") show("");
    return;
  }
  const page = new DOMParser().parseFromString(sheet.html, "text/html");
  at("sheet-style").textContent = [...page.querySelectorAll("style")].map((style) => style.textContent).join("\n");
  paper.append(...[...page.body.childNodes].map((node) => document.importNode(node, true)));
  document.title = sheet.title;
  show(sheet.html);
}

function show(html) {
  const frame = at("preview");
  frame.hidden = !html;
  at("source").hidden = true;
  at("no-preview").className = "";
  at("no-preview").textContent = html ? "" : held.way === "case" ? "The sheet appears here when the start is known and nothing beside the fields is wrong." : "";
  if (!html || frame.srcdoc === html) return;
  const where = frame.contentWindow ? frame.contentWindow.scrollY : 0;
  frame.onload = safely(() => {
    // In a narrow preview the label goes below the title; on paper nothing changes by it.
    frame.contentDocument.head.append(make("style", "@media screen { header > div:first-of-type { flex-basis: 14em; } }"));
    useTypefaces(frame.contentDocument);
    frame.contentWindow.scrollTo(0, where);
    // The links of a sheet are for reading: from here nothing can be fetched.
    for (const link of frame.contentDocument.querySelectorAll("a[href]")) link.removeAttribute("href");
    if (held.way === "reading") parts(frame.contentDocument);
  });
  frame.srcdoc = html;
}

function go(way) {
  held.way = way;
  for (const button of at("ways").querySelectorAll("button")) button.setAttribute("aria-pressed", String(button.dataset.way === way));
  at("case").hidden = way !== "case";
  at("next-patient").hidden = way !== "case";
  at("printing").hidden = way === "reading";
  at("reading-left").hidden = way !== "reading";
  at("preview").title = way === "reading" ? "The protocol" : "Preview of the sheet";
  at("source-button").setAttribute("aria-pressed", "false");
  setSheet(null);
  if (way === "reading") reading();
  else refresh();
}

// ---- reading ----

function reading() {
  const found = ask("reading");
  empty(at("parts"));
  const number = found.exceptions;
  at("exceptions").textContent = `${number === 0 ? "No exceptions have" : number === 1 ? "One exception has" : `${number} exceptions have`} been accepted.${found.refused ? ` ${quoted(sentence(found.refused.title))}` : ""}`;
  at("source").textContent = seen(found.files.map((name) => `# ---- ${name} ----\n\n${held.texts.files[name]}`).join("\n\n"));
  show(found.html);
}

function parts(page) {
  const box = empty(at("parts"));
  for (const heading of page.querySelectorAll("h2, .notice.note .title")) {
    const button = make("button", sentence(heading.textContent).replace(/\.$/, ""), { type: "button" });
    button.addEventListener("click", safely(() => { source(false); goTo(page.defaultView, heading); }));
    const item = make("li");
    item.append(button);
    box.append(item);
  }
}

// Within the preview alone: the page around it stays where it is.
function goTo(view, heading) {
  view.scrollTo(0, view.scrollY + heading.getBoundingClientRect().top);
}

function source(shown) {
  at("source").hidden = !shown;
  at("preview").hidden = shown;
  at("source-button").setAttribute("aria-pressed", String(shown));
}

// ---- printing ----

function printSheet() {
  for (const field of held.fields) held.left.add(field.id);
  refresh();
  if (held.sheet) {
    window.print();
    return;
  }
  if (held.way !== "case") return;
  const first = held.fields.find((field) => {
    const state = held.answer.fields[field.id].state;
    return state === "wrong" || state === "waiting" || (state === "empty" && field.needed);
  });
  if (first) at(key(first.id)).focus();
}

async function begin() {
  const bytes = bytesOf(at("engine").textContent);
  at("engine").remove();
  const { instance } = await WebAssembly.instantiate(bytes, {});
  engine.calls = instance.exports;
  const texts = at("texts").textContent;
  const { listed, ...rest } = JSON.parse(texts);
  held.listed = listed;
  held.texts = rest;
  if (!engine.calls.open(put(JSON.stringify(rest)))) throw new Error(taken());
  typefaces();
  held.feet = printsFeet();
  at("back").addEventListener("click", safely(back));
  at("next-patient").addEventListener("click", safely(nextPatient));
  at("print").addEventListener("click", safely(printSheet));
  at("paper-size").addEventListener("change", safely(refresh));
  at("source-button").addEventListener("click", safely(() => source(at("source").hidden)));
  for (const button of at("ways").querySelectorAll("button")) button.addEventListener("click", safely(() => go(button.dataset.way)));
  // Printing by the browser's own menu prints what is right now, or says that nothing is ready.
  addEventListener("beforeprint", safely(() => { if (held.protocol !== null && held.way !== "reading") refresh(); }));
  addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
  new ResizeObserver(keepClear).observe(at("printing"));
  at("starting").hidden = true;
  list();
}

begin().catch(stop);
}
