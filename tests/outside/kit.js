// Drives the print kit in headless Chromium. Standard input is one JSON object:
//   page: the file, print: a folder for PDFs,
//   cases: [{title, now, paper, fields: {id: {text, day}}}], walk: {title, now}, pictures: a folder
//   for screenshots, openings: how often to open the page for the time it takes
// Standard output is one JSON object with what was seen.
const { chromium } = require("playwright-core");
const fs = require("fs");
const path = require("path");

const task = JSON.parse(fs.readFileSync(0, "utf8"));
const seen = { requests: [], faults: [], cases: [], axe: {}, steps: {}, opening: 0 };

let latest = null;

async function opened(browser, viewport) {
  const context = await browser.newContext({ viewport, timezoneId: task.zone || "Europe/London" });
  const page = await context.newPage();
  latest = page;
  page.on("request", (request) => seen.requests.push(request.url().slice(0, 200)));
  page.on("pageerror", (error) => seen.faults.push(String(error)));
  // The script below is put into the preview's frame too, which allows none.
  page.on("console", (message) => message.text().startsWith("Blocked script execution") || seen.faults.push(message.text()));
  await page.addInitScript(() => {
    window.printed = 0;
    window.print = () => { window.printed += 1; };
    window.stopped = [];
    document.addEventListener("securitypolicyviolation", (event) => window.stopped.push(event.violatedDirective));
  });
  const began = Date.now();
  await page.goto(`file://${task.page}`);
  await page.waitForSelector("#protocols button");
  seen.opening = Date.now() - began;
  return page;
}

const choose = (page, title) => page.locator("#protocols button", { hasText: title }).click();

// Fills in a case as typing does, and gives what the page then holds.
const filled = (page, found) => page.evaluate((found) => {
  const at = (id) => document.getElementById(id);
  const told = (node, kind) => node.dispatchEvent(new Event(kind, { bubbles: true }));
  const key = (id) => `field-${id.replace(":", "-")}`;
  const settle = () => told(at("paper-size"), "change");
  for (const input of document.querySelectorAll(".field input")) { input.value = ""; told(input, "input"); }
  for (const day of document.querySelectorAll(".field select")) delete day.dataset.own;
  at("paper-size").value = found.paper;
  settle();
  // The start first: the other days are counted from it.
  const ids = Object.keys(found.fields).sort((one, other) => (other === "start") - (one === "start"));
  for (const id of ids) {
    const { text, day } = found.fields[id];
    const input = at(key(id));
    const select = at(`${key(id)}-day`);
    if (select && day) {
      select.value = day;
      if (select.value !== day) throw new Error(`${id}: the page does not offer ${day}`);
      told(select, "change");
    }
    input.value = text;
    told(input, "input");
    told(input, "blur");
  }
  settle();
  const ready = !at("preview").hidden;
  const beside = {};
  for (const box of document.querySelectorAll(".beside")) beside[box.id] = box.innerText;
  return {
    html: ready ? at("preview").srcdoc : null,
    // What is printed where no sheet is ready; else it is compared within the page.
    paper: ready ? "" : at("paper").innerHTML,
    style: ready ? "" : at("sheet-style").textContent,
    status: at("status").innerText,
    beside,
  };
}, found);

// Whether what is printed is the body of that document and nothing else.
const same = (page, html) => page.evaluate((html) => {
  const parsed = new DOMParser().parseFromString(html, "text/html");
  const style = [...parsed.querySelectorAll("style")].map((one) => one.textContent).join("\n");
  return parsed.body.innerHTML === document.getElementById("paper").innerHTML
    && style === document.getElementById("sheet-style").textContent;
}, html);

async function cases(page) {
  let now = null;
  let title = null;
  for (const found of task.cases) {
    if (found.now !== now) await page.clock.setFixedTime(found.now * 1000);
    now = found.now;
    if (found.title !== title) {
      if (title) await page.click("#back");
      await choose(page, found.title);
      title = found.title;
    }
    const got = await filled(page, found);
    const kept = { html: got.html, status: got.status, beside: got.beside, paper: false };
    if (got.html) kept.paper = await same(page, got.html);
    else kept.paper = got.paper === "<p>No sheet was ready when this page was printed.</p>" && got.style === "";
    if (task.print && found.print) {
      await page.pdf({ path: path.join(task.print, found.print), preferCSSPageSize: true });
    }
    seen.cases.push(kept);
  }
}

async function axe(page, name) {
  const script = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
  // Not a script element, which the page's policy would stop.
  await page.evaluate(`${script}; 0`);
  const found = await page.evaluate(async () => {
    const { violations, passes } = await window.axe.run(document, { iframes: false });
    return {
      violations: violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target.join(" ")).join(", ")}`),
      passes: passes.length,
    };
  });
  seen.axe[name] = found;
}

async function picture(page, name) {
  if (task.pictures) await page.screenshot({ path: path.join(task.pictures, `${name}.png`) });
}

const focused = (page) => page.evaluate(() => (document.activeElement === document.body ? "" : document.activeElement.id || document.activeElement.textContent));

// What lies under the bar with the button: the place where one is, or what is said about it.
const covered = (page) => page.evaluate(() => {
  const here = document.activeElement;
  const bar = document.getElementById("printing");
  if (bar.contains(here) || !bar.getClientRects().length) return "";
  const top = bar.getBoundingClientRect().top;
  const field = here.closest(".field");
  const said = field && field.querySelector(".beside");
  const low = (node) => { const box = node.getBoundingClientRect(); return box.height && (box.bottom > top || box.top < 0); };
  if (low(here)) return `${here.id || here.textContent} lies under the bar`;
  return said && low(said) ? `what is said about ${here.id} lies under the bar` : "";
});

// By the keyboard alone, from opening to printing.
async function walk(browser) {
  const page = await opened(browser, { width: 1366, height: 768 });
  await page.clock.setFixedTime(task.walk.now * 1000);
  const steps = seen.steps;
  const press = async (key, times = 1) => { for (let time = 0; time < times; time += 1) await page.keyboard.press(key); };
  await picture(page, "1-list");
  await axe(page, "list");
  for (let step = 0; step < 40 && !(await focused(page)).includes(task.walk.title); step += 1) await press("Tab");
  await press("Enter");
  steps.chosen = await focused(page);
  await picture(page, "2-chosen");
  for (let step = 0; step < 40 && (await focused(page)) !== "field-start"; step += 1) await press("Tab");
  steps.names = await page.evaluate(() => [...document.querySelectorAll("#left input, #left select")]
    .filter((node) => node.getClientRects().length)
    .map((node) => node.getAttribute("aria-label") || (node.labels[0] && node.labels[0].textContent) || "(no name)"));
  await page.keyboard.type("2.30 pm");
  await press("Tab");
  steps.which = await page.locator("#field-start-beside").innerText();
  steps.invalid = await page.locator("#field-start").getAttribute("aria-invalid");
  await picture(page, "3-asks-which");
  await axe(page, "an entry that is wrong");
  // The day, then the choice offered.
  await press("Tab");
  steps.offered = await focused(page);
  await press("Enter");
  steps.back = await focused(page);
  steps.start = await page.locator("#field-start-beside").innerText();
  await page.locator("#field-weight").focus();
  await page.keyboard.type("180 lb");
  await press("Tab");
  steps.pounds = await page.locator("#field-weight-beside").innerText();
  await picture(page, "4-pounds");
  await page.locator("#print").focus();
  await press("Enter");
  steps.refused = { focus: await focused(page), printed: await page.evaluate("printed"), status: await page.locator("#status").innerText() };
  await press("Control+a");
  await page.keyboard.type("82");
  await press("Tab");
  await page.locator("#field-mark-rosc").focus();
  await page.keyboard.type("1305");
  await press("Enter");
  await page.waitForTimeout(300);
  await picture(page, "5-ready");
  await axe(page, "ready");
  steps.ready = await page.locator("#status").innerText();
  await page.locator("#print").focus();
  await press("Enter");
  steps.printed = await page.evaluate("printed");
  await page.locator("#field-reached-cool").focus();
  await page.keyboard.type("1740");
  await press("Tab");
  steps.reached = await page.locator("#field-reached-cool-beside").innerText();
  await page.waitForTimeout(300);
  await picture(page, "6-reached");
  steps.covered = [await covered(page)];
  steps.definite = await page.evaluate(() => document.getElementById("preview").srcdoc.includes("17:40"));
  // While an entry is being changed there is nothing to print.
  await page.locator("#field-weight").focus();
  await page.keyboard.type("9");
  steps.changing = await page.evaluate(() => document.getElementById("paper").innerText || document.getElementById("paper").textContent);
  await page.locator("#next-patient").focus();
  await press("Enter");
  steps.next = await page.evaluate(() => ({
    left: [...document.querySelectorAll(".field input")].map((input) => input.value).join("") + [...document.querySelectorAll(".beside")].map((box) => box.textContent).join(""),
    paper: document.getElementById("paper").textContent,
    status: document.getElementById("status").innerText,
  }));
  steps.next.focus = await focused(page);
  for (const way of ["blank", "reading"]) {
    await page.locator(`[data-way=${way}]`).focus();
    await press("Enter");
    await page.waitForTimeout(400);
    await picture(page, `7-${way}`);
    await axe(page, way);
    steps[way] = await page.evaluate(() => ({ html: document.getElementById("preview").srcdoc, left: document.getElementById("left").innerText, paper: document.getElementById("paper").textContent.length }));
  }
  await page.locator("#source-button").focus();
  await press("Enter");
  steps.source = await page.locator("#source").innerText();
  await axe(page, "source");
  await picture(page, "8-source");
  await page.locator("#back").focus();
  await press("Enter");
  steps.left = { focus: await focused(page), fields: await page.locator(".field").count() };
  steps.stopped = await page.evaluate("stopped");
  steps.kept = await page.evaluate(() => [document.cookie, (() => { try { return localStorage.length + sessionStorage.length; } catch { return 0; } })()]);
  // What the page's policy is for: even its own script could not send anything.
  steps.fetch = await page.evaluate(() => fetch("http://127.0.0.1:9/").then(() => "sent", () => "stopped"));
  steps.policy = await page.evaluate("stopped");
  for (const [name, width, height] of [["tablet", 1024, 768], ["upright", 768, 1024]]) {
    await page.setViewportSize({ width, height });
    await choose(page, task.walk.title);
    await page.locator("#field-start").fill("0130");
    await press("Tab");
    await page.waitForTimeout(300);
    await picture(page, `9-${name}`);
    // In the preview the title and the label's box stand apart.
    steps[`${name} overlap`] = await page.evaluate(() => {
      const sheet = document.getElementById("preview").contentDocument;
      const range = sheet.createRange();
      range.selectNodeContents(sheet.querySelector("h1"));
      const [title, label] = [range.getBoundingClientRect(), sheet.querySelector(".label").getBoundingClientRect()];
      return title.right > label.left && title.left < label.right && title.bottom > label.top && title.top < label.bottom;
    });
    // Down the fields, each with an entry of its own that is wrong.
    for (const [id, text] of [["weight", "820"], ["mark-rosc", "2350"], ["reading-core", "96.8"], ["reached-cool", "0100"], ["reached-rewarm", "0200"]]) {
      while ((await focused(page)) !== `field-${id}`) await press("Tab");
      steps.covered.push(await covered(page));
      await page.keyboard.type(text);
      await press("Enter");
      await page.waitForTimeout(100);
      steps.covered.push(await covered(page));
      steps[`said of ${id}`] = await page.locator(`#field-${id}-beside`).innerText();
    }
    await picture(page, `9-${name}-wrong`);
    for (const id of ["weight", "mark-rosc", "reading-core", "reached-cool", "reached-rewarm"]) await page.locator(`#field-${id}`).fill("");
    steps[name] = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    await axe(page, name);
    await page.click("#back");
  }
  await page.context().close();
  // The sheet itself, as the preview shows it and as it is printed.
  const alone = await (await browser.newContext()).newPage();
  await alone.setContent(steps.blank.html);
  await axe(alone, "the sheet");
  await alone.context().close();
}

(async () => {
  const browser = await chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  try {
    if (task.cases) {
      const page = await opened(browser, { width: 1366, height: 768 });
      await cases(page);
    }
    if (task.walk) await walk(browser);
    seen.openings = [];
    for (let time = 0; time < (task.openings || 0); time += 1) {
      const page = await opened(browser, { width: 1366, height: 768 });
      seen.openings.push(seen.opening);
      await page.context().close();
    }
  } catch (error) {
    const shown = await latest.evaluate("document.body.innerText").catch(() => "");
    process.stderr.write(`${seen.faults.join("\n")}\nThe page showed:\n${shown.slice(0, 2000)}\n`);
    throw error;
  } finally {
    await browser.close();
  }
  process.stdout.write(JSON.stringify(seen));
})().catch((error) => {
  process.stderr.write(`${error.stack}\n`);
  process.exit(1);
});
