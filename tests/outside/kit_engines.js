// Whether two engines of the print kit give the same answers: node kit_engines.js ONE OTHER
// Used where the packages that make the engine are newer than those that made the committed one.
const fs = require("fs");
const path = require("path");

const root = path.join(__dirname, "../../protocols");
const files = {};
for (const folder of ["", "shared/"]) {
  for (const name of fs.readdirSync(path.join(root, folder))) {
    if (name.endsWith(".protocol")) files[`protocols/${folder}${name}`] = fs.readFileSync(path.join(root, folder, name), "utf8");
  }
}
const roots = Object.keys(files).filter((name) => !name.includes("shared/")).sort().map((path) => ({ path, withheld: null }));

function answers(wasm) {
  const calls = new WebAssembly.Instance(new WebAssembly.Module(fs.readFileSync(wasm)), {}).exports;
  const put = (text) => {
    const bytes = new TextEncoder().encode(text);
    const room = calls.need(bytes.length);
    new Uint8Array(calls.memory.buffer, room, bytes.length).set(bytes);
    return bytes.length;
  };
  const ask = (question) => {
    calls.ask(put(JSON.stringify(question)));
    return new TextDecoder().decode(new Uint8Array(calls.memory.buffer, calls.answer(), calls.answer_length()));
  };
  if (!calls.open(put(JSON.stringify({ files, roots })))) throw new Error(`${wasm} opens nothing`);
  const all = [];
  const now = 1795617900;
  for (let protocol = 0; protocol < roots.length; protocol += 1) {
    const asked = ask({ ask: "questions", protocol });
    all.push(asked, ask({ ask: "blank", protocol, now }), ask({ ask: "reading", protocol, now }));
    const fields = JSON.parse(asked).questions;
    for (let time = 0; time < 40; time += 1) {
      const given = {};
      fields.forEach((field, index) => {
        const hour = String((time * 7 + index * 5) % 24).padStart(2, "0");
        given[field.id] = { text: field.time ? `${hour}${10 + ((time + index) % 50)}` : `${2 + ((time * 13 + index * 31) % 100)}` };
        if ((time + index) % 4 === 0 && field.id !== "start") delete given[field.id];
      });
      all.push(ask({ ask: "sheet", protocol, now, fields: given }));
    }
  }
  return all;
}

const [one, other] = process.argv.slice(2).map(answers);
const differ = one.filter((answer, index) => answer !== other[index]).length;
const sheets = one.filter((answer) => answer.includes("<!DOCTYPE html>")).length;
if (differ || one.length !== other.length || sheets < roots.length * 2) {
  console.error(`${differ} of ${one.length} answers differ (${sheets} with a sheet)`);
  process.exit(1);
}
console.log(`${one.length} answers are the same, ${sheets} of them with a sheet`);
