// The outlook: cells by their chance, or by either end of its interval.

// Five steps of the palette cividis (Nunez, Anderton and Renslow 2018, PLoS ONE 13(7)), made for all forms of colour vision.
const OUTLOOK_STEPS = 5;
const OUTLOOK_ENDS = [["chance", "the chance"], ["chance_low", "the low end of the interval"], ["chance_high", "the high end of the interval"]];
let outlookShows = "chance";

const outlookHasChances = Boolean(outlook && outlook.columns.chance);
// The top of the scale is the same for all three, so that they compare: the best cell's high end, in tenths, 10 % or more.
const outlookTop = outlookHasChances ? Math.max(0.1, Math.ceil(outlook.numbers("chance_high").reduce((a, b) => Math.max(a, b), 0) * 10) / 10) : 1;

// From 0 to 4. Where there are only ranks, by fifths of the cells.
function outlookStep(i) {
  if (!outlookHasChances) return OUTLOOK_STEPS - 1 - Math.floor((i / outlook.n) * OUTLOOK_STEPS);
  return Math.min(OUTLOOK_STEPS - 1, Math.floor((outlook.value(outlookShows, i) / outlookTop) * OUTLOOK_STEPS));
}

// Cells are squares; only what of them is water is coloured.
const outlookDrawing = outlook && {
  name: "outlook",
  label: "Outlook for " + dateText(about.outlook_date),
  on: true,
  canvas: "base",
  draw(context, view) {
    context.save();
    if (water.length) {
      context.beginPath();
      for (const rings of water) for (const ring of rings) trace(context, view, ring, true);
      context.clip("evenodd");
    }
    for (let i = 0; i < outlook.n; i++) {
      if (!boxInView(view, outlook.boxes[i])) continue;
      context.beginPath();
      for (const ring of outlook.paths[i]) trace(context, view, ring, true);
      // Most of the water holds little: it stays faint, so that marks on it can be seen.
      context.globalAlpha = 0.1 + 0.17 * outlookStep(i);
      context.fillStyle = style("--outlook-" + outlookStep(i));
      context.fill();
    }
    context.restore();
  },
};

function outlookAt(x, y) {
  return outlook.paths.findIndex((paths, i) => {
    const box = outlook.boxes[i];
    return x >= box[0] && x <= box[2] && y >= box[1] && y <= box[3] && insidePaths(paths, x, y);
  });
}

// Which number the map shows, and what the colours mean.
function outlookControls() {
  const steps = [...Array(OUTLOOK_STEPS).keys()];
  const words = (step) => outlookHasChances
    ? percent((outlookTop * step) / OUTLOOK_STEPS) + " to " + percent((outlookTop * (step + 1)) / OUTLOOK_STEPS)
    : ["the last fifth", "the fourth fifth", "the third fifth", "the second fifth", "the first fifth of the cells"][step];
  const select = el("select", { id: "outlook-shows" }, OUTLOOK_ENDS.map(([value, text]) => el("option", { value }, text)));
  select.addEventListener("change", () => {
    outlookShows = select.value;
    changed("layers");
  });
  return [
    el("p", {}, outlookHasChances ? "Chance to meet bait in a standard search of a cell." : "Without track logs cells are ranked; no chance is told."),
    outlookHasChances ? el("label", { for: "outlook-shows" }, "Coloured by ", select) : null,
    legend(...steps.map((step) => [swatch("outlook-" + step), words(step)])),
  ].filter(Boolean);
}

// The widths of the outlook's kernels, twice over: 200 m and 16 days (`outlook`'s own).
const NEAR_M = 400;
const NEAR_DAYS = 32;
const BASES = { log: "looks and sightings of this water at this time of the year", near: "looks and sightings nearby", prior: "no look near: what the lake shows elsewhere and the movement tracks" };

function outlookPart(i) {
  const v = (name) => outlook.value(name, i);
  const box = outlook.boxes[i];
  const [x, y] = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
  const metre = 1 / (40075016.686 * Math.cos((latOf(y) * Math.PI) / 180));
  const day = dayOf(about.outlook_date.slice(5));
  const near = [];
  for (let s = 0; sightings && s < sightings.n; s++) {
    if (sightings.value("kind", s) !== "bait" || daysApart(sightings.value("season_day", s), day) > NEAR_DAYS) continue;
    const apart = Math.hypot(sightings.x[s] - x, sightings.y[s] - y) / metre;
    if (apart <= NEAR_M) near.push([apart, s]);
  }
  near.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  return [
    facts([
      ["Date", dateText(about.outlook_date)],
      ["Chance", v("chance") === null ? "not told: no track logs" : percent(v("chance")) + " to meet bait in a standard search"],
      v("chance") === null ? null : ["Interval", percent(v("chance_low")) + " to " + percent(v("chance_high")) + "; meant to hold nine times in ten"],
      ["Rank", grouped(i + 1) + " of " + counted(outlook.n, "cell")],
      ["Stands on", BASES[v("basis")]],
      ["In the cell", counted(v("sightings"), "bait sighting") + ", " + v("effort_" + areaUnit) + " " + areaUnit + " looked over at this time of the year"],
      v("rate") === null ? null : ["Rate", v("rate") + " sightings " + (areaUnit === "ha" ? "a hectare" : "an acre") + " searched"],
    ]),
    el("p", { class: "warn" }, "What past seasons show, no promise of fish."),
    el("h4", {}, "Bait sightings within " + depthText(metresInDepth(NEAR_M)) + ", " + NEAR_DAYS + " days each way of the date"),
    near.length === 0 ? el("p", {}, "None.") : table("Sightings", ["Date", "Away, " + depthUnit, "Fish depth, " + depthUnit, "Marks", "Map"],
      near.map(([apart, s]) => [dateText(sightings.value("outing", s)), String(Math.round(metresInDepth(apart))), depthShort(sightings.value(DEPTH, s)),
        String(sightings.value("marks", s)), marksOfSighting[s].length ? button("Show", () => pickAndShow({ layer: "marks", i: marksOfSighting[s][0] })) : "–"]), LONG_LIST),
  ];
}

// The best cells, so that the outlook can be read without the map.
const BEST_CELLS = 20;
function outlookTable() {
  const rows = [...Array(Math.min(BEST_CELLS, outlook.n)).keys()].map((i) => {
    const v = (name) => outlook.value(name, i);
    const middle = outlook.boxes[i];
    return [
      button("Cell " + (i + 1), () => pickAndShow({ layer: "outlook", i })),
      v("chance") === null ? "–" : percent(v("chance")),
      v("chance") === null ? "–" : percent(v("chance_low")) + " to " + percent(v("chance_high")),
      v("basis"),
      String(v("sightings")),
      latOf((middle[1] + middle[3]) / 2).toFixed(4) + ", " + lonOf((middle[0] + middle[2]) / 2).toFixed(4),
    ];
  });
  part("outlook-part", el("p", {}, "Where bait is likely on " + dateText(about.outlook_date) + ", by what past seasons show; no promise of fish."),
    table("The best " + rows.length + " of " + counted(outlook.n, "cell"), ["Cell", "Chance", "Interval", "Basis", "Sightings", "Latitude, longitude"], rows));
}
