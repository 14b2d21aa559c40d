// Has a browser, axe-core and html-validate judge report pages, through what a person clicks:
//   node page_checks.cjs PACKAGES CHROMIUM PAGE... [--hostile PAGE]... [--shots FOLDER]
// PACKAGES holds playwright-core, axe-core and html-validate. A line a check; exit 1 when one failed.
// A hostile page is one whose names try to run: nothing may run, and they are shown as text.
"use strict";
const path = require("node:path");
const fs = require("node:fs");
const { pathToFileURL } = require("node:url");

const [packages, chromium, ...rest] = process.argv.slice(2);
const load = (name) => require(path.join(packages, "node_modules", name));
const { chromium: browserType } = load("playwright-core");
const axeSource = fs.readFileSync(path.join(packages, "node_modules/axe-core/axe.min.js"), "utf8");

const [pages, hostile] = [[], []];
let shots = null;
for (let i = 0; i < rest.length; i++) {
  if (rest[i] === "--hostile") hostile.push(rest[++i]);
  else if (rest[i] === "--shots") shots = rest[++i];
  else pages.push(rest[i]);
}

let [passed, failed] = [0, 0];
function check(what, ok, told) {
  if (ok) passed++;
  else failed++;
  console.log((ok ? "ok    " : "FAIL  ") + what + (ok ? "" : ": " + JSON.stringify(told).slice(0, 1500)));
}

// A page opened from its file, with all that it says and asks for.
async function open(browser, file, options) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage();
  const told = { console: [], requests: [], dialogs: [] };
  const url = pathToFileURL(path.resolve(file)).href;
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && told.console.push(message.text()));
  page.on("pageerror", (error) => told.console.push(String(error)));
  page.on("dialog", (dialog) => { told.dialogs.push(dialog.message()); dialog.dismiss(); });
  page.on("request", (request) => request.url().split("#")[0] !== url && told.requests.push(request.url()));
  await page.goto(url);
  await page.waitForFunction(() => document.documentElement.dataset.ready === "yes", null, { timeout: 60000 });
  return { context, page, told };
}

async function shot(page, name, full) {
  if (shots) {
    fs.mkdirSync(shots, { recursive: true });
    await page.screenshot({ path: path.join(shots, name + ".png"), fullPage: Boolean(full) });
  }
}

const shownMarks = (page) => page.$eval("#map-told", (e) => Number(e.textContent.split(" of ")[0].replace(/\D/g, "")));

async function axe(page, what) {
  // The policy admits no script of others, so axe comes in from the browser's side.
  await page.evaluate(axeSource);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  const bad = violations.filter((v) => ["serious", "critical"].includes(v.impact));
  check("axe-core finds nothing serious or critical: " + what, bad.length === 0,
    bad.map((v) => [v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120) + " " + n.failureSummary)]));
}

async function ordinary(browser, file) {
  const { context, page, told } = await open(browser, file);
  const name = path.basename(path.dirname(file));
  check("the title says that places are exact", /exact places/.test(await page.title()), await page.title());
  const drawn = (colour) => page.$$eval("canvas.drawn", (list, colour) => list.map((c) => {
    const copy = new OffscreenCanvas(c.width, c.height).getContext("2d", { willReadFrequently: true });
    copy.drawImage(c, 0, 0);
    const data = copy.getImageData(0, 0, c.width, c.height).data;
    let [sum, colours] = [0, 0];
    for (let i = 3; i < data.length; i += 4) {
      sum += data[i] > 0 ? 1 : 0;
      colours += data[i - 3] + data[i - 2] + data[i - 1];
    }
    return colour ? colours : sum;
  }), colour);
  const ink = await drawn();
  check("the map is drawn", ink.every((n) => n > 500), ink);
  await shot(page, name + "-desktop");
  await shot(page, name + "-whole", true);
  await axe(page, "light");

  // Filters, through the switches.
  const all = await shownMarks(page);
  check("all marks are shown at first", all > 0, all);
  const kinds = page.locator("#kind-switches input");
  await kinds.first().uncheck();
  const fewer = await shownMarks(page);
  check("a kind switched off takes its marks away", fewer < all, [all, fewer]);
  await kinds.first().check();
  if (await page.locator("#season-switches input").count()) {
    await page.locator("#season-switches input").first().uncheck();
    check("a season switched off takes its marks away", (await shownMarks(page)) < all, all);
    await page.locator("#season-switches input").first().check();
  }
  const deep = page.locator("#depth-filter input[type=range]").nth(1);
  if (await deep.count()) {
    await deep.focus();
    for (let i = 0; i < 4; i++) await page.keyboard.press("PageDown");
    check("the depth filter takes the deep marks away", (await shownMarks(page)) < all, all);
    await page.keyboard.press("End");
  }
  check("all marks are back", (await shownMarks(page)) === all, await shownMarks(page));
  const first = page.locator("#layer-switches input").filter({ visible: true });
  const layers = page.locator("#layer-switches label");
  for (let i = 0; i < (await first.count()); i++) {
    const before = await drawn(true);
    const was = await first.nth(i).isChecked();
    await first.nth(i).setChecked(!was);
    await page.waitForTimeout(150);
    const after = await drawn(true);
    check("switching a layer changes the map: " + (await layers.nth(i).innerText()), before.join() !== after.join(), [before, after]);
    await first.nth(i).setChecked(was);
  }

  // The season, by button, slider, key and play.
  const day = () => page.$eval("#day", (e) => Number(e.value));
  await page.locator("#day").fill("100");
  check("the slider sets the day and a window", (await day()) === 100 && (await page.inputValue("#window")) === "15", await day());
  await page.click("#day-on");
  check("a button steps five days", (await day()) === 105, await day());
  await page.locator("#map-part").focus();
  await page.keyboard.press("ArrowLeft");
  check("an arrow key steps back", (await day()) === 100, await day());
  await page.click("#day-play");
  await page.waitForTimeout(700);
  await page.click("#day-play");
  check("play goes on", (await day()) > 100, await day());
  await shot(page, name + "-season");
  await page.selectOption("#window", "0");

  // Picking, on the map and in a table.
  const middle = await page.locator("#map").boundingBox();
  let hit = false;
  for (let y = 0.15; y < 0.9 && !hit; y += 0.03) {
    for (let x = 0.2; x < 0.85 && !hit; x += 0.03) {
      await page.mouse.click(middle.x + middle.width * x, middle.y + middle.height * y);
      hit = (await page.locator("#picked .facts").count()) > 0;
    }
  }
  const behind = await page.innerText("#picked");
  check("a click on the map tells what is behind", hit && /Records|Sightings|Looks|Stands on/.test(behind), behind.slice(0, 200));
  check("the pick is announced", /^Picked/.test(await page.textContent("#announce")), await page.textContent("#announce"));
  await shot(page, name + "-picked");
  const cells = page.locator("#outlook-part tbody button");
  if (await cells.count()) {
    await cells.first().click();
    const text = await page.innerText("#picked");
    check("a cell of the outlook tells chance, interval, basis and the sightings near",
      /\d+ % to meet bait/.test(text) && /\d+ % to \d+ %/.test(text) && /Stands on/.test(text) && /Bait sightings within/.test(text), text.slice(0, 500));
    const row = await page.locator("#outlook-part tbody tr").first().innerText();
    const chance = /(\d+ %) to meet bait/.exec(text);
    check("the map and the table tell the same chance", chance !== null && row.includes(chance[1]), [row, text.slice(0, 200)]);
    await shot(page, name + "-outlook");
    const before = await drawn();
    const colours = () => page.evaluate(() => {
      const canvas = document.querySelector("canvas.drawn");
      const copy = new OffscreenCanvas(canvas.width, canvas.height).getContext("2d");
      copy.drawImage(canvas, 0, 0);
      return copy.getImageData(0, 0, canvas.width, canvas.height).data.reduce((sum, n, i) => (sum + n * (1 + (i % 251))) % 1000000007, 0);
    });
    const mean = await colours();
    await page.selectOption("#outlook-shows", "chance_low");
    await page.waitForTimeout(200);
    const low = await colours();
    await page.selectOption("#outlook-shows", "chance");
    await page.waitForTimeout(200);
    check("the low end of the interval is coloured another way, and the chance as before", mean !== low && mean === (await colours()), [before, mean, low]);
    check("the legend of the outlook names its steps", (await page.locator("#outlook-legend .legend li").count()) === 5, await page.innerText("#outlook-legend"));
  }
  if (await page.locator("#skill-part").isVisible()) {
    const plots = await page.$$eval("#skill-part svg[role=img]", (list) => list.map((e) => [e.getAttribute("aria-label"), e.querySelectorAll("circle, rect, line.interval").length]));
    check("skill and reliability are plotted", plots.length === 2 && plots.every(([words, drawn]) => words.length > 20 && drawn >= 6), plots);
    await page.locator("#skill-part summary").first().click();
    const told = await page.$$eval("#skill-part table tbody td", (list) => list.map((e) => e.textContent));
    check("the plotted gains stand in a table", told.length >= 9 && told.every((cell) => /\d/.test(cell)), told);
    await page.locator("#skill-part").scrollIntoViewIfNeeded();
    await shot(page, name + "-skill");
  }
  const cautions = await page.innerText("#cautions");
  check("the cautions tell the pool level and the rules in use", /pool level/i.test(cautions) && /Used here:/.test(cautions), cautions.slice(0, 300));
  const planned = page.locator("#route-part tbody button");
  if (await planned.count()) {
    await planned.first().click();
    const text = await page.innerText("#picked");
    check("a stop picked on the route sheet tells when to be there and what to look for", /There/.test(text) && /Look for/.test(text), text.slice(0, 300));
    await shot(page, name + "-stop");
  }
  const rows = page.locator("#areas-part tbody button");
  if (await rows.count()) {
    await rows.first().click();
    const text = await page.innerText("#picked");
    check("an area picked in the table tells its sightings and looks", /Sightings/.test(text) && /Looks/.test(text), text.slice(0, 300));
    await shot(page, name + "-area");
  }
  await page.locator("#in-view-part summary").click();
  await page.waitForTimeout(300);
  check("the marks in view stand in a table", (await page.locator("#in-view-part tbody tr").count()) > 0, 0);
  for (const summary of await page.locator("#findings-part summary, #settings-part summary").all()) await summary.click();
  await axe(page, "all opened");

  for (const view of ["dark", "sun"]) {
    await page.check(`input[name=view][value=${view}]`);
    await page.waitForTimeout(200);
    await axe(page, view + " view");
    await page.evaluate(() => window.scrollTo(0, 0));
    await shot(page, name + "-" + view, true);
  }
  const pdf = await page.pdf({ path: shots ? path.join(shots, name + ".pdf") : undefined, format: "A4" });
  check("it prints", pdf.subarray(0, 5).toString() === "%PDF-" && pdf.length > 20000, pdf.length);
  check("no console error or warning", told.console.length === 0, told.console);
  check("no request", told.requests.length === 0, told.requests);
  check("no dialog", told.dialogs.length === 0, told.dialogs);
  await context.close();

  const small = await open(browser, file, { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 });
  const wide = await small.page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  check("360 px wide is enough", wide[0] <= 360, wide);
  const tall = await small.page.$$eval("main .scroll tbody tr", (list) => list.filter((e) => e.checkVisibility())
    .map((e) => [e.getBoundingClientRect().height, e.innerText.slice(0, 60)]).filter(([height]) => height > 200));
  check("tables go sideways rather than a row filling the screen", tall.length === 0, tall.slice(0, 5));
  const targets = await small.page.$$eval("button, select, summary, input[type=range], label.switch, .views label, .leaflet-bar a", (list) =>
    list.filter((e) => e.checkVisibility()).map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
      .filter(([, r]) => Math.round(r.height) < 44 || Math.round(r.width) < 44));
  check("touch targets are 44 px", targets.length === 0, targets.slice(0, 5));
  await shot(small.page, name + "-360", true);
  await axe(small.page, "360 px");
  check("no console error or request at 360 px", small.told.console.length + small.told.requests.length === 0, small.told);
  await small.context.close();
}

async function hostilePage(browser, file) {
  const { context, page, told } = await open(browser, file);
  const before = await page.evaluate(() => window.pwned);
  // Everything that shows a name is opened.
  await page.locator("#in-view-part summary").click();
  await page.waitForTimeout(400);
  for (const summary of await page.locator("#findings-part summary, #settings-part summary").all()) await summary.click();
  const rows = page.locator("#in-view-part tbody button");
  const count = await rows.count();
  for (let i = 0; i < Math.min(count, 12); i++) {
    await rows.nth(i).click();
    await page.waitForTimeout(320);
  }
  check("hostile names are in the table", count > 0, count);
  const text = await page.evaluate(() => document.body.innerText);
  for (const sample of ["<script>", "</script>", "<img src=x", "javascript:"]) check("shown as text: " + sample, text.includes(sample), text.slice(0, 300));
  const strange = await page.evaluate(() => ({
    images: document.images.length,
    frames: document.querySelectorAll("iframe, object, embed").length,
    scripts: [...document.scripts].filter((s) => !s.type && !s.textContent).length,
    links: [...document.links].map((a) => a.getAttribute("href")).filter((h) => !h.startsWith("#")),
    handlers: [...document.querySelectorAll("*")].filter((e) => [...e.attributes].some((a) => a.name.startsWith("on"))).length,
  }));
  check("no element came of a name", strange.images + strange.frames + strange.scripts + strange.handlers + strange.links.length === 0, strange);
  const turned = await page.evaluate(() => /[\u202a-\u202e\u2066-\u2069\u0000-\u0008]/.test(document.body.innerText));
  check("no character that turns writing or controls reaches the screen", !turned, turned);
  check("nothing ran", before === undefined && (await page.evaluate(() => window.pwned)) === undefined && told.dialogs.length === 0, told);
  const wide = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  check("long names do not widen the page", wide[0] <= wide[1], wide);
  check("no console error and no request", told.console.length + told.requests.length === 0, told);
  await shot(page, "hostile", true);
  await context.close();
}

async function valid(file) {
  const { HtmlValidate } = load("html-validate");
  const judge = new HtmlValidate({ extends: ["html-validate:standard"] });
  const report = await judge.validateFile(file);
  const messages = report.results.flatMap((r) => r.messages).filter((m) => m.severity === 2);
  check("valid by html-validate: " + file, messages.length === 0, messages.slice(0, 8).map((m) => [m.ruleId, m.message, m.line, m.column]));
}

(async () => {
  const browser = await browserType.launch({ executablePath: chromium, args: ["--no-sandbox"] });
  for (const file of pages) {
    console.log("-- " + file + ", " + (fs.statSync(file).size / 1e6).toFixed(2) + " MB");
    await valid(file);
    await ordinary(browser, file);
  }
  for (const file of hostile) {
    console.log("-- hostile: " + file);
    await valid(file);
    await hostilePage(browser, file);
  }
  await browser.close();
  console.log(`${passed} passed, ${failed} failed`);
  process.exit(failed ? 1 : 0);
})();
