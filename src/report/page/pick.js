// What lies under a pointer, nearest first, and picking it.

function insidePath(path, x, y) {
  let inside = false;
  for (let i = 0, j = path.length - 2; i < path.length; j = i, i += 2) {
    if (path[i + 1] > y !== path[j + 1] > y &&
      x < ((path[j] - path[i]) * (y - path[i + 1])) / (path[j + 1] - path[i + 1]) + path[i]) inside = !inside;
  }
  return inside;
}
const insidePaths = (paths, x, y) => paths.reduce((inside, path) => inside !== insidePath(path, x, y), false);

// `reach` is in pixels: a finger needs more than a pointer.
function under(px, py, reach) {
  const view = currentView();
  const [x, y] = [(px + view.left) / view.scale, (py + view.top) / view.scale];
  const found = [];
  if (state.layers.has("route")) {
    for (let i = 0; i < stops.n; i++) {
      if (Math.hypot(stops.x[i] - x, stops.y[i] - y) * view.scale <= Math.max(reach, 14)) found.push({ layer: "stops", i });
    }
  }
  const near = [];
  eachShown((i) => {
    const apart = Math.hypot(marks.x[i] - x, marks.y[i] - y) * view.scale;
    if (apart <= reach) near.push([apart, i]);
  });
  near.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  for (const [, i] of near.slice(0, 12)) found.push({ layer: "marks", i });
  if (state.layers.has("movement")) {
    for (let track = 0; track < movement.n; track++) {
      const here = trackOn(track, state.day);
      const days = daysOfTrack[track];
      const apart = (ax, ay) => Math.hypot(ax - x, ay - y) * view.scale;
      if ((here && apart(here.x, here.y) <= reach) || days.some((i) => apart(movementDays.x[i], movementDays.y[i]) <= reach)) {
        found.push({ layer: "movement", i: track });
      }
    }
  }
  if (state.layers.has("areas")) {
    const over = [];
    for (let i = 0; i < areas.n; i++) {
      if (state.kinds.has(areas.value("kind", i)) && insidePaths(areas.paths[i], x, y)) over.push(i);
    }
    for (const i of over) found.push({ layer: "areas", i });
  }
  if (state.layers.has("outlook")) {
    const cell = outlookAt(x, y);
    if (cell >= 0) found.push({ layer: "outlook", i: cell });
  }
  if (state.layers.has("effort")) {
    const cell = looks.cellAt(x, y);
    if (cell >= 0) found.push({ layer: "effort", i: cell });
  }
  return found;
}

function titleOf({ layer, i }) {
  if (layer === "marks") {
    const name = marks.value("name", i);
    return [marks.value("kind", i) + " mark ", name === null ? "without a name" : user(name)];
  }
  if (layer === "areas") return [areaNames[i] + ", " + areas.value("kind", i)];
  if (layer === "movement") return ["Track " + movement.value("track", i)];
  if (layer === "stops") return [stopName(i)];
  if (layer === "outlook") return ["Outlook, cell " + (i + 1)];
  return ["Water looked at"];
}

function pick(thing, others) {
  state.picked = thing;
  showPicked(thing, others || []);
  changed("picked");
}

// Picks from a table: the thing is brought into the map's view.
function pickAndShow(thing) {
  if (thing.layer === "marks" || thing.layer === "stops") {
    const at = thing.layer === "marks" ? marks : stops;
    map.setView([at.lat(thing.i), at.lon(thing.i)], Math.max(map.getZoom(), 15), { animate: false });
  } else {
    const boxes = { areas, movement, effort, outlook }[thing.layer].boxes;
    const box = boxes[thing.i];
    map.fitBounds([[latOf(box[3]), lonOf(box[0])], [latOf(box[1]), lonOf(box[2])]], { padding: [60, 60], maxZoom: 16, animate: false });
  }
  const shownBy = thing.layer === "stops" ? "route" : thing.layer;
  if (!state.layers.has(shownBy)) switchLayer(shownBy, true);
  pick(thing);
  document.getElementById("map-part").scrollIntoView({ block: "start" });
  document.getElementById("picked").focus({ preventScroll: true });
}

map.on("click", (event) => {
  const coarse = window.matchMedia("(pointer: coarse)").matches;
  const found = under(event.containerPoint.x, event.containerPoint.y, coarse ? 22 : 12);
  if (found.length) pick(found[0], found.slice(1));
});
// Enter picks what lies in the middle of the map.
document.getElementById("map").addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.id !== "map") return;
  const size = map.getSize();
  const found = under(size.x / 2, size.y / 2, 30);
  if (found.length) pick(found[0], found.slice(1));
  else announce("Nothing in the middle of the map.");
});
