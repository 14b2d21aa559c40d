// What is switched, filtered and picked, and which marks pass.

const kindOfMark = new Uint8Array(marks ? marks.n : 0);
const seasonsSeen = new Set();
for (let i = 0; marks && i < marks.n; i++) {
  kindOfMark[i] = kinds.indexOf(marks.value("kind", i));
  const season = marks.value("season", i);
  if (season !== null) seasonsSeen.add(season);
}
const seasons = [...seasonsSeen].sort((a, b) => a - b);

// What lies still is there in every season and at every depth of fish: it is filtered by kind alone.
const LIES_STILL = kinds.map((kind) => ["cover", "structure", "hazard", "access"].includes(kind));

// The first practice day where there is a plan, else today.
function firstDayShown() {
  if (stops && stops.n) return dayOf(stops.value("arrive", 0).slice(5, 10));
  const now = new Date();
  return MONTH_STARTS[now.getMonth()] + now.getDate() - 1;
}

const deepest = (() => {
  let most = 0;
  for (const layer of [marks, sightings]) {
    if (layer) for (const depth of layer.numbers(DEPTH)) if (depth > most) most = depth;
  }
  return Math.ceil(most / 5) * 5;
})();

const state = {
  day: Math.min(364, firstDayShown()),
  window: 0,
  kinds: new Set(kinds),
  seasons: new Set(seasons),
  shallow: 0,
  deep: deepest,
  unknownDepth: true,
  layers: new Set(),
  picked: null,
};

// Marks in the order of their season day, those that lie still or are undated apart.
const byDay = (() => {
  const days = marks ? marks.numbers("season_day") : new Float32Array(0);
  const moving = [];
  const still = [];
  const hazards = [];
  const undated = [];
  for (let i = 0; i < days.length; i++) {
    if (kinds[kindOfMark[i]] === "hazard") hazards.push(i);
    else if (LIES_STILL[kindOfMark[i]]) still.push(i);
    else if (Number.isNaN(days[i])) undated.push(i);
    else moving.push(i);
  }
  moving.sort((a, b) => days[a] - days[b] || a - b);
  const from = new Int32Array(367);
  let at = 0;
  for (let day = 0; day <= 366; day++) {
    while (at < moving.length && days[moving[at]] < day) at++;
    from[day] = at;
  }
  return { moving: Int32Array.from(moving), still, hazards, undated, from };
})();

const passes = new Uint8Array(marks ? marks.n : 0);
function filterMarks() {
  const depths = marks ? marks.numbers(DEPTH) : [];
  const allSeasons = state.seasons.size === seasons.length;
  for (let i = 0; i < passes.length; i++) {
    const kind = kindOfMark[i];
    let pass = state.kinds.has(kinds[kind]);
    if (pass && !LIES_STILL[kind]) {
      const season = marks.value("season", i);
      pass = allSeasons || state.seasons.has(season);
      const depth = depths[i];
      if (pass) pass = Number.isNaN(depth) ? state.unknownDepth : depth >= state.shallow && depth <= state.deep;
    }
    passes[i] = pass ? 1 : 0;
  }
}

// Calls `visit` with every mark that is shown, in the order in which they are drawn.
function eachShown(visit) {
  eachOf(byDay.still, visit);
  eachMoving(visit);
  eachOf(byDay.hazards, visit);
}
function eachOf(list, visit) {
  if (!state.layers.has("marks")) return;
  for (const i of list) if (passes[i]) visit(i);
}
function eachMoving(visit) {
  if (!state.layers.has("marks")) return;
  const { moving, undated, from } = byDay;
  const run = (start, end) => {
    for (let k = start; k < end; k++) if (passes[moving[k]]) visit(moving[k]);
  };
  if (state.window === 0) {
    for (const i of undated) if (passes[i]) visit(i);
    run(0, moving.length);
  } else {
    const first = state.day - state.window;
    const last = state.day + state.window + 1;
    if (first < 0) run(from[first + 365], moving.length);
    run(from[Math.max(0, first)], from[Math.min(366, last)]);
    if (last > 365) run(0, from[last - 365]);
  }
}

const inWindow = (first, last) =>
  state.window === 0 ||
  within(state.day, first, last) ||
  Math.min(daysApart(state.day, first), daysApart(state.day, last)) <= state.window;

const watchers = [];
const onChange = (watch) => watchers.push(watch);
// `what` is "filter", "day", "layers", "picked" or "view".
function changed(what) {
  if (what === "filter") filterMarks();
  for (const watch of watchers) watch(what);
}
