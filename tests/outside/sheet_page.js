// Opens each HTML page named as an argument in a browser without a network: says what axe-core
// finds, what the page asked the network for, and prints it beside the page as NAME.printed.pdf.
// The first line says that axe-core is awake: what it finds on a page with a picture without words.
const { chromium } = require("playwright-core");
const axe = require.resolve("axe-core/axe.min.js");
(async () => {
  const browser = await chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox"],
  });
  const check = async (page) => {
    await page.addScriptTag({ path: axe });
    const result = await page.evaluate(() => globalThis.axe.run());
    return result.violations.map((found) => `${found.id} (${found.nodes.length}): ${found.nodes[0].html}`);
  };
  const page = await browser.newPage({ viewport: { width: 1000, height: 1400 } });
  await page.setContent('<html lang="en"><title>t</title><img src="data:,"></html>');
  console.log("awake", (await check(page)).length);
  for (const path of process.argv.slice(2)) {
    const asked = [];
    page.removeAllListeners("request");
    page.on("request", (request) => asked.push(request.url()));
    await page.goto("file://" + path);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    // Words that reach out of the head of their column, or touch the line above or below them.
    const out = () => {
      const heads = [...document.querySelectorAll("th")].filter((head) => !head.closest(".unseen"));
      const inked = (head) => {
        const range = document.createRange();
        range.selectNodeContents(head);
        return [...range.getClientRects()];
      };
      return heads
        .filter((head) => {
          const box = head.getBoundingClientRect();
          return inked(head).some((ink) => ink.top < box.top + 1 || ink.bottom > box.bottom - 1
            || ink.left < box.left || ink.right > box.right);
        })
        .map((head) => head.textContent);
    };
    for (const words of await page.evaluate(out)) console.log("out of its head", path, words);
    await page.pdf({ path: path + ".printed.pdf", preferCSSPageSize: true });
    for (const found of await check(page)) console.log("violation", path, found);
    for (const url of asked) {
      if (url !== "file://" + path) console.log("network", path, url);
    }
    if (wide > 0) console.log("wider than the window", path, wide);
  }
  await browser.close();
})().catch((error) => {
  console.error(error);
  process.exit(1);
});
