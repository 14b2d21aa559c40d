// How large and how fast the report page is for 50,000 marks and 5 seasons of track logs:
//   node scripts/bench/report.cjs [SHOALWRIGHT] [CHROMIUM] [MARKS]
// Invented marks about the demo lake's water, 200 outings of 5 hours at a point each 5 s, read by the built binary; the
// page is opened by headless Chromium from its file. Needs `scripts/outside-checks` to have run once (playwright-core).
// Prints: bytes; first paint and the map's first picture after the navigation starts; frames a second while the season is
// stepped day by day with windows of 15 and 30 days each way, over a whole year, each step drawn before the next.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { execFileSync } = require("node:child_process");
const { pathToFileURL } = require("node:url");

const home = path.resolve(__dirname, "../..");
const binary = path.resolve(process.argv[2] || path.join(home, "target/release/shoalwright"));
const chromium = process.argv[3] || "/usr/bin/chromium";
const count = Number(process.argv[4] || 50000);
const folder = path.join(home, "target/bench/report-" + count);

// One generator, seeded: mulberry32 by T. Ettinger (public domain).
let seed = 1;
function random() {
  seed = (seed + 0x6d2b79f5) | 0;
  let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
  return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
}

function write() {
  fs.rmSync(folder, { recursive: true, force: true });
  fs.mkdirSync(folder, { recursive: true });
  execFileSync(binary, ["demo", path.join(folder, "demo")], { stdio: "ignore" });
  fs.copyFileSync(path.join(folder, "demo/shoreline.geojson"), path.join(folder, "shoreline.geojson"));
  const head = '<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1">\n';
  for (let season = 0; season < 5; season++) {
    const out = fs.createWriteStream(path.join(folder, "season-" + season + ".gpx"));
    out.write(head);
    const outings = [...Array(40).keys()].map((n) => Date.UTC(2021 + season, 0, 5 + n * 9, 12));
    for (let n = 0; n < count / 5; n++) {
      const start = outings[Math.floor(random() * outings.length)];
      const time = new Date(start + Math.floor(random() * 18000) * 1000).toISOString().replace(".000", "");
      const lat = 36 + (random() + random() - 1) * 0.05;
      const lon = -56 + (random() + random() - 1) * 0.006;
      const word = ["SHAD", "BAIT", "BALL", "SHAD", "BAIT", "STRIPER", "BRUSH", "STUMP"][Math.floor(random() * 8)];
      out.write(`<wpt lat="${lat.toFixed(6)}" lon="${lon.toFixed(6)}"><time>${time}</time><name>${word} ${8 + Math.floor(random() * 30)}FT ${n}</name></wpt>\n`);
    }
    for (const start of outings) {
      out.write("<trk><trkseg>\n");
      let [lat, lon, heading] = [36, -56, random() * 6.28];
      for (let k = 0; k < 3600; k++) {
        heading += (random() - 0.5) * 0.4;
        if (Math.abs(lat - 36) > 0.05 || Math.abs(lon + 56) > 0.006) heading = Math.atan2(-56 - lon, 36 - lat);
        lat += Math.cos(heading) * 0.00009;
        lon += Math.sin(heading) * 0.00009;
        out.write(`<trkpt lat="${lat.toFixed(6)}" lon="${lon.toFixed(6)}"><time>${new Date(start + k * 5000).toISOString().replace(".000", "")}</time></trkpt>\n`);
      }
      out.write("</trkseg></trk>\n");
    }
    out.end("</gpx>\n");
  }
  fs.writeFileSync(path.join(folder, "lake.toml"),
    '[lake]\nname = "Bench (invented)"\ntimezone = "America/Miquelon"\nshoreline = "shoreline.geojson"\n[[input]]\nfiles = ["season-*.gpx"]\n');
}

(async () => {
  write();
  await new Promise((done) => setTimeout(done, 1500)); // the streams end
  const started = Date.now();
  execFileSync(binary, ["run", path.join(folder, "lake.toml"), "-o", path.join(folder, "out"), "--quiet"], { stdio: "inherit" });
  console.log(`run: ${((Date.now() - started) / 1000).toFixed(1)} s`);
  const page = path.join(folder, "out/report.html");
  console.log(`${count} marks: ${(fs.statSync(page).size / 1e6).toFixed(2)} MB`);
  const { chromium: type } = require(path.join(home, "target/outside-checks/page/node_modules/playwright-core"));
  const browser = await type.launch({ executablePath: chromium, args: ["--no-sandbox"] });
  for (let run = 0; run < 3; run++) {
    const tab = await browser.newPage({ viewport: { width: 1280, height: 900 } });
    await tab.goto(pathToFileURL(page).href);
    await tab.waitForFunction(() => document.documentElement.dataset.ready === "yes", null, { timeout: 120000 });
    const told = await tab.evaluate(async () => {
      const paints = performance.getEntriesByType("paint").map((p) => [p.name, Math.round(p.startTime)]);
      const map = performance.getEntriesByName("map-drawn").map((p) => Math.round(p.startTime));
      const slider = document.getElementById("day");
      const paces = [];
      for (const days of ["15", "30"]) {
        const select = document.getElementById("window");
        select.value = days;
        select.dispatchEvent(new Event("change"));
        const start = performance.now();
        for (let day = 0; day < 365; day++) {
          slider.value = day;
          slider.dispatchEvent(new Event("input"));
          await new Promise(requestAnimationFrame);
        }
        await new Promise(requestAnimationFrame);
        paces.push([days + " days", Math.round(365000 / (performance.now() - start)) + " frames/s"]);
      }
      return { paints, map, paces };
    });
    console.log(JSON.stringify(told));
    await tab.close();
  }
  await browser.close();
})();
