// What another map library, MapLibre GL, costs for the report page's main work: 50,000 points and a season stepped day by day.
//   npm i --prefix FOLDER maplibre-gl@4 && node scripts/bench/map_library.cjs FOLDER [CHROMIUM]
// Prints its bytes, milliseconds to the first whole picture, and steps a second (a filter on the day, each step drawn before the
// next). Compare with scripts/bench/report.cjs. Headless Chromium draws WebGL in software here, as a machine without a GPU does.
// Needs `scripts/outside-checks` to have run once (playwright-core).
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { pathToFileURL } = require("node:url");

const dist = path.resolve(process.argv[2], "node_modules/maplibre-gl/dist");
const { chromium } = require(path.resolve(__dirname, "../../target/outside-checks/page/node_modules/playwright-core"));
const page = `<!doctype html><meta charset=utf-8><link rel=stylesheet href="maplibre-gl.css"><div id=m style="width:880px;height:614px"></div>
<script src="maplibre-gl.js"></script><script>
let seed = 1;
const random = () => (seed = (seed * 1103515245 + 12345) % 2147483648) / 2147483648;
const features = [...Array(50000)].map(() => ({ type: "Feature", properties: { day: Math.floor(random() * 365) },
  geometry: { type: "Point", coordinates: [-56 + 0.1 * random(), 36 + 0.1 * random()] } }));
const start = performance.now();
const map = new maplibregl.Map({ container: "m", center: [-55.95, 36.05], zoom: 11, style: { version: 8,
  sources: { p: { type: "geojson", data: { type: "FeatureCollection", features } } },
  layers: [{ id: "p", type: "circle", source: "p", paint: { "circle-radius": 5, "circle-color": "#0072b2" } }] } });
map.once("idle", () => {
  const first = performance.now() - start;
  const from = performance.now();
  let day = 0;
  const step = () => {
    day++;
    map.setFilter("p", ["all", [">=", ["get", "day"], day - 15], ["<=", ["get", "day"], day + 15]]);
    map.once("idle", () => (day < 40 ? step() : (window.told = [first, day / ((performance.now() - from) / 1000)])));
  };
  step();
});
</script>`;

(async () => {
  const file = path.join(dist, "shoalwright-bench.html");
  fs.writeFileSync(file, page);
  const bytes = ["maplibre-gl.js", "maplibre-gl.css"].map((name) => fs.statSync(path.join(dist, name)).size);
  const args = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"];
  const browser = await chromium.launch({ executablePath: process.argv[3] || "/usr/bin/chromium", args });
  const tab = await browser.newPage();
  await tab.goto(pathToFileURL(file).href);
  await tab.waitForFunction(() => window.told, null, { timeout: 120000 });
  const [first, pace] = await tab.evaluate(() => window.told);
  console.log(`${bytes[0]} + ${bytes[1]} bytes; first picture ${Math.round(first)} ms; ${pace.toFixed(1)} steps/s`);
  await browser.close();
  fs.rmSync(file);
})();
