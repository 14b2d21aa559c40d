// Looks: outings whose track log went over a cell, found or not.

const looks = (() => {
  if (!effort) return null;
  const outings = block("looks").map(([date, season, day, steps, shares]) => {
    let cell = 0;
    return { date, season, day, cells: steps.map((step) => (cell += step)), shares };
  });
  const ofCell = Array.from({ length: effort.n }, () => []);
  outings.forEach((outing, number) => outing.cells.forEach((cell, k) => ofCell[cell].push([number, outing.shares[k]])));
  const middles = effort.boxes.map((box) => [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]);

  // Hundredths of each cell looked over, of the seasons and days that are shown.
  function sums() {
    const sums = new Float64Array(effort.n);
    for (const outing of outings) {
      if (!state.seasons.has(outing.season) && state.seasons.size !== seasons.length) continue;
      if (state.window > 0 && daysApart(outing.day, state.day) > state.window) continue;
      outing.cells.forEach((cell, k) => (sums[cell] += outing.shares[k]));
    }
    return sums;
  }

  // The cell in which a place lies, or -1.
  function cellAt(x, y) {
    return effort.boxes.findIndex((box) => x >= box[0] && x <= box[2] && y >= box[1] && y <= box[3]);
  }

  // The cells whose middle lies within so many metres of a place.
  function cellsNear(x, y, metres) {
    const metre = 1 / (40075016.686 * Math.cos((latOf(y) * Math.PI) / 180));
    const reach = Math.max(metres, about.cell_m * 0.71) * metre;
    return middles.flatMap((middle, cell) => (Math.hypot(middle[0] - x, middle[1] - y) <= reach ? [cell] : []));
  }

  // Outings that looked at any of these cells, by date, with the hundredths looked over.
  function outingsOver(cells) {
    const sum = new Map();
    for (const cell of cells) {
      for (const [number, share] of ofCell[cell]) sum.set(number, (sum.get(number) || 0) + share);
    }
    return [...sum].sort((a, b) => a[0] - b[0]).map(([number, share]) => ({ ...outings[number], share }));
  }

  const areaText = (hundredths) => trimmed((hundredths / 100) * about.cell_area, 1) + " " + areaUnit;

  return { outings, sums, cellAt, cellsNear, outingsOver, areaText };
})();

// Dates of bait sightings within so many metres of a place.
function baitDatesNear(x, y, metres) {
  const metre = 1 / (40075016.686 * Math.cos((latOf(y) * Math.PI) / 180));
  const dates = new Set();
  for (let i = 0; sightings && i < sightings.n; i++) {
    if (sightings.value("kind", i) === "bait" && Math.hypot(sightings.x[i] - x, sightings.y[i] - y) <= metres * metre) {
      dates.add(sightings.value("outing", i));
    }
  }
  return dates;
}
