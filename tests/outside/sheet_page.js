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
