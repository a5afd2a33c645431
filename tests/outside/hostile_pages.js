// Opens pages in headless Chromium and says what they did and what they are made of. The argument is
// a file with one JSON object: {pages: [files], kits: [{page, typed, cases: [{id: text}]}]}.
// Standard output is one JSON object: for each page, and for each state of a kit, what ran (hits,
// dialogs), what was asked for (requests), what the console said, the kinds of elements and attributes,
// and the text.
const { chromium } = require("playwright-core");
const fs = require("fs");

const task = JSON.parse(fs.readFileSync(process.argv[2], "utf8"));
const seen = { pages: [], kits: [] };

async function watched(browser) {
  const context = await browser.newContext({ timezoneId: "Europe/London" });
  const page = await context.newPage();
  const told = { dialogs: [], requests: [], console: [] };
  context.on("page", () => told.dialogs.push("a window was opened"));
  page.on("dialog", (dialog) => { told.dialogs.push(dialog.message()); dialog.dismiss(); });
  page.on("request", (request) => told.requests.push(request.url().slice(0, 200)));
  page.on("pageerror", (error) => told.console.push(String(error)));
  page.on("console", (message) => told.console.push(message.text()));
  return { page, told };
}

// No script of the test's own runs before the page's, so all that the console says is of the page.
const shape = (page) => page.evaluate(() => {
  const kinds = new Set();
  const walk = (node) => {
    for (const one of node.querySelectorAll("*")) {
      kinds.add(one.localName);
      for (const { name, value } of one.attributes) {
        kinds.add(`${one.localName}[${name}]`);
        const scheme = /^\s*([a-z][a-z0-9+.-]*):/i.exec(value);
        if (["href", "src", "action", "xlink:href"].includes(name) && scheme) kinds.add(`${name}=${scheme[1].toLowerCase()}:`);
      }
      if (one.contentDocument) walk(one.contentDocument);
    }
  };
  walk(document);
  const told = (page) => {
    const body = page.body.cloneNode(true);
    // What the page keeps for itself is shown to nobody.
    for (const one of body.querySelectorAll("script")) one.remove();
    return body.textContent;
  };
  const texts = [document.title, told(document)];
  for (const one of document.querySelectorAll("iframe")) if (one.contentDocument) texts.push(told(one.contentDocument));
  return { kinds: [...kinds].sort(), title: document.title, text: texts.join("\n"), hits: window.hits || [] };
});

async function open(browser, path) {
  const { page, told } = await watched(browser);
  await page.goto(`file://${path}`);
  // A picture that cannot be had says so only after the page has been read.
  await page.waitForTimeout(100);
  seen.pages.push({ path, ...(await shape(page)), ...told });
  await page.context().close();
}

// What a preview shows is opened on its own too, where nothing holds its scripts back.
async function alone(browser, html) {
  const { page, told } = await watched(browser);
  await page.setContent(html);
  await page.waitForTimeout(50);
  const found = { ...(await shape(page)), ...told };
  await page.context().close();
  return found;
}

async function kit(browser, task) {
  const { page, told } = await watched(browser);
  const states = [];
  const note = async (name) => {
    await page.waitForTimeout(100);
    const html = await page.evaluate(() => document.getElementById("preview").hidden ? "" : document.getElementById("preview").srcdoc);
    states.push({ name, ...(await shape(page)) });
    if (html) states.push({ name: `${name}, alone`, ...(await alone(browser, html)) });
  };
  await page.goto(`file://${task.page}`);
  await page.waitForSelector("#protocols button");
  // By hand, since a clock of the driver's would put a script of its own into the preview.
  await page.evaluate((now) => {
    const Real = Date;
    window.Date = class extends Real {
      constructor(...given) { if (given.length) super(...given); else super(now); }
      static now() { return now; }
    };
  }, task.now * 1000);
  await note("list");
  await page.locator("#protocols button").first().click();
  await note("chosen");
  for (const entries of task.cases) {
    const fields = await page.locator(".field input").evaluateAll((all) => all.map((one) => one.id));
    for (const id of fields) {
      const text = typeof entries === "string" ? entries : entries[id] || "";
      await page.locator(`#${id}`).fill(text);
      await page.locator(`#${id}`).blur();
    }
    await page.locator("#paper-size").dispatchEvent("change");
    await note(typeof entries === "string" ? "typed" : "filled");
  }
  for (const way of ["blank", "reading"]) {
    await page.locator(`[data-way=${way}]`).click();
    await note(way);
  }
  await page.locator("#parts button").first().click();
  await page.locator("#source-button").click();
  await note("source");
  await page.locator("#back").click();
  await note("back");
  seen.kits.push({ path: task.page, states, ...told });
  await page.context().close();
}

(async () => {
  const browser = await chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  try {
    for (const path of task.pages) await open(browser, path);
    for (const one of task.kits) await kit(browser, one);
  } finally {
    await browser.close();
  }
  process.stdout.write(JSON.stringify(seen));
})().catch((error) => {
  process.stderr.write(`${error.stack}\n`);
  process.exit(1);
});
