// The page comes up: the map first, then what stands below it.

document.documentElement.dataset.view = "system";

function head() {
  const name = about.lake ? harmless(about.lake) : "Lake";
  document.getElementById("lake-name").textContent = name;
  document.title = name + ": report, holds exact places";
  let [first, last] = ["9999", ""];
  for (let i = 0; marks && i < marks.n; i++) {
    const date = marks.value("local_date", i);
    if (date && date < first) first = date;
    if (date && date > last) last = date;
  }
  document.getElementById("log-span").textContent = last
    ? "Log from " + dateText(first) + " to " + dateText(last) + ", " + counted(marks.n, "mark")
    : marks ? counted(marks.n, "mark") + ", none dated" : "No marks";
  document.getElementById("caution-full").textContent = about.caution;
  const prefish = account.settings.prefish || {};
  document.getElementById("level-told").textContent = about.level
    ? "Newest pool level given: " + trimmed(about.level[1], 2) + " " + depthUnit + " on " + dateText(about.level[0]) + (account.settings.lake && account.settings.lake.full_pool ? "; full pool " + harmless(account.settings.lake.full_pool) : "") + ". Today’s may be another."
    : "No pool level is given.";
  document.getElementById("rules-told").textContent = prefish.zones
    ? "Used here: the slow and closed water of " + harmless(prefish.zones) + ", as somebody wrote it down."
    : "Used here: none; no slow or closed water is given.";
  document.getElementById("made-by").textContent = "Written by " + about.generator + ". Colours of the kinds: M. Okabe and K. Ito, Color Universal Design (2008); of the outlook: cividis, J. R. Nuñez, C. R. Anderton and R. S. Renslow (2018). Map drawn with Leaflet.";
}

function tellShown() {
  let shown = 0;
  eachShown(() => shown++);
  document.getElementById("map-told").textContent =
    grouped(shown) + " of " + counted(marks ? marks.n : 0, "mark") + " shown, " + (state.window ? dayText(state.day) + " ± " + state.window + " days" : "whole year");
}

onChange((what) => {
  if (what === "view") {
    styles.clear();
    drawings.forEach((drawing) => drawing.forget && drawing.forget());
  }
  if (what !== "picked") tellShown();
  redraw(...({ day: ["top"], picked: ["top", "over"] }[what] || ["base", "top", "over"]));
  if (what === "day" && state.layers.has("effort")) redraw("base");
  if (what === "filter" || what === "layers") announce(document.getElementById("map-told").textContent);
});

filterMarks();
if (outlook) fill("outlook-legend", outlookControls());
head();
tellDay();
map.on("move zoom viewreset resize moveend", () => redraw("base", "top", "over"));
showWholeLake();
tellShown();
["base", "top", "over"].forEach((name) => drawCanvas(name));
performance.mark("map-drawn");
new ResizeObserver(() => frozen || map.invalidateSize({ pan: false })).observe(document.getElementById("map"));

// What stands below the map waits until the map is on the screen.
const below = [
  () => stops && stops.n && routeSheets(),
  () => outlook && outlookTable(),
  () => areas && areasTable(),
  () => movement && movementTable(),
  () => sightings && part("plots-part", [depthPlot(), seasonPlot(), areas ? areasPlot() : null]),
  () => account.skill && skillPart(),
  inViewPart,
  accountPart,
  findingsPart,
  settingsPart,
];
const next = () => {
  const job = below.shift();
  if (!job) {
    document.documentElement.dataset.ready = "yes";
    return;
  }
  job();
  setTimeout(next, 0);
};
requestAnimationFrame(() => setTimeout(next, 0));

// Paper has no summaries to open: what is closed is opened for it.
// The map is drawn in the light view, as large as it is on the screen, and then left as it is.
let closed = [];
let viewBefore = "system";
window.addEventListener("beforeprint", () => {
  closed = [...document.querySelectorAll("details:not([open])")].filter((details) => !details.closest("footer, figure, #in-view-part, #settings-part"));
  closed.forEach((details) => (details.open = true));
  viewBefore = document.documentElement.dataset.view;
  document.documentElement.dataset.view = "light";
  changed("view");
  drawCanvas("base", true);
  frozen = true;
});
window.addEventListener("afterprint", () => {
  closed.forEach((details) => (details.open = false));
  frozen = false;
  document.documentElement.dataset.view = viewBefore;
  map.invalidateSize({ pan: false });
  changed("view");
});
