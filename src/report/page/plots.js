// The plots.

// All things of one kind in one path: thousands of them are drawn as fast as one.
function stampPath(kind, places) {
  const shape = kind === "gamefish" ? "m0-4 4 7h-8z" : "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0";
  return svg("path", { class: "stamp kind-" + kind, d: places.map(([x, y]) => "M" + x.toFixed(1) + " " + y.toFixed(1) + shape).join("") });
}

function depthPlot() {
  const days = sightings.numbers("season_day");
  const depths = sightings.numbers(DEPTH);
  const places = { bait: [], gamefish: [] };
  for (let i = 0; i < sightings.n; i++) {
    if (!Number.isNaN(depths[i])) places[sightings.value("kind", i)].push([days[i], depths[i]]);
  }
  if (places.bait.length + places.gamefish.length === 0) return null;
  const most = Math.max(deepest, 10);
  const plot = new Plot({
    title: "Fish depth through the year.",
    told: "A sign a sighting, all seasons: " + counted(places.bait.length, "sighting") + " of bait, " + grouped(places.gamefish.length) + " of gamefish with a depth."
      + (movement ? " Bands hold nine of ten sightings of a movement track." : ""),
    height: 380,
  });
  const [x, y] = [plot.scaleX(0, 365), plot.scaleY(0, most)];
  plot.months(x).depths(y, most);
  const names = [];
  for (let track = 0; movement && track < movement.n; track++) {
    // A track that runs over new year is drawn in two pieces.
    const pieces = [[]];
    let before = -1;
    for (const i of daysOfTrack[track]) {
      const day = movementDays.value("season_day", i);
      const [depth, low, high] = ["fish_depth_", "fish_depth_low_", "fish_depth_high_"].map((name) => movementDays.value(name + depthUnit, i));
      if (depth === null || low === null || high === null || day < before) pieces.push([]);
      if (depth !== null && low !== null && high !== null) pieces[pieces.length - 1].push([day, depth, low, high]);
      before = day;
    }
    for (const piece of pieces.filter((piece) => piece.length > 1)) {
      const along = (list, which) => list.map((p) => x(p[0]).toFixed(1) + " " + y(Math.min(most, p[which])).toFixed(1)).join("L");
      plot.add(svg("path", { class: "band", d: "M" + along(piece, 2) + "L" + along([...piece].reverse(), 3) + "z" }));
      plot.add(svg("path", { class: "track-halo", d: "M" + along(piece, 1) }), svg("path", { class: "track-line", d: "M" + along(piece, 1) }));
    }
    const longest = pieces.reduce((a, b) => (b.length > a.length ? b : a));
    if (longest.length > 1) {
      const [day, depth] = longest[Math.floor(longest.length / 2)];
      names.push(svg("text", { x: x(day), y: y(depth) - 8, class: "named", "text-anchor": "middle" }, "Track " + movement.value("track", track)));
    }
  }
  for (const kind of ["bait", "gamefish"]) plot.add(stampPath(kind, places[kind].map(([day, depth]) => [x(day + 0.5), y(depth)])));
  plot.add(...names);
  plot.figure.append(legend([shapeSvg("bait"), "bait sighting"], [shapeSvg("gamefish"), "gamefish sighting"],
    ...(movement ? [[swatch("band"), "band of a movement track"]] : [])));
  return plot.figure;
}

// Counts by season and half-month: [season][half-month].
const halfMonth = (date) => (Number(date.slice(5, 7)) - 1) * 2 + (Number(date.slice(8, 10)) > 15 ? 1 : 0);
function byHalfMonth(things) {
  const counts = new Map(seasons.map((season) => [season, new Array(24).fill(0)]));
  for (const [season, date] of things) {
    if (counts.has(season)) counts.get(season)[halfMonth(date)]++;
  }
  return counts;
}

function seasonPlot() {
  const seen = [];
  for (let i = 0; i < sightings.n; i++) {
    if (sightings.value("kind", i) === "bait") seen.push([sightings.value("season", i), sightings.value("outing", i)]);
  }
  const found = byHalfMonth(seen);
  const looked = byHalfMonth(looks ? looks.outings.map((outing) => [outing.season, outing.date]) : []);
  const rowHeight = 74;
  const plot = new Plot({
    title: "Bait sightings and looks by half-month.",
    told: looks ? "Few sightings where few looks are tell nothing of the fish." : "No track logs tell of the looks.",
    height: seasons.length * rowHeight + 46,
  });
  const x = plot.scaleX(0, 24);
  const most = (counts) => Math.max(1, ...[...counts.values()].flat());
  const [mostFound, mostLooked] = [most(found), most(looked)];
  MONTHS.forEach((month, number) => plot.words(month, x(number * 2 + 1), plot.box.height - 16, { "text-anchor": "middle" }));
  seasons.forEach((season, row) => {
    const base = plot.box.top + (row + 1) * rowHeight - 10;
    const high = rowHeight - 22;
    plot.words(String(season), plot.box.left - 8, base - 4, { "text-anchor": "end", class: "named" });
    plot.line(plot.box.left, base, plot.box.width - plot.box.right, base, "axis");
    for (let half = 0; half < 24; half++) {
      const wide = x(1) - x(0);
      const [f, l] = [found.get(season)[half], looked.get(season)[half]];
      if (l) {
        const tall = (l / mostLooked) * high;
        plot.add(svg("rect", { class: "looked", x: x(half) + wide * 0.54, y: base - tall, width: wide * 0.38, height: tall }));
      }
      if (f) {
        const tall = (f / mostFound) * high;
        plot.add(svg("rect", { class: "kind-bait", x: x(half) + wide * 0.1, y: base - tall, width: wide * 0.38, height: tall }));
      }
    }
  });
  plot.figure.append(
    legend([swatch("kind-bait"), "bait sightings (tallest: " + mostFound + ")"], ...(looks ? [[swatch("looked"), "outings with a track log (tallest: " + mostLooked + ")"]] : [])),
    el("details", {}, el("summary", {}, "The same as a table"), table("Bait sightings / outings with a track log",
      ["Season", ...MONTHS.flatMap((month) => [month + " 1–15", month + " 16 on"])],
      seasons.map((season) => [String(season), ...found.get(season).map((f, half) => f + " / " + looked.get(season)[half])]))));
  return plot.figure;
}

function areasPlot() {
  const order = [...Array(areas.n).keys()];
  const plot = new Plot({ title: "When each holding area is used.", told: "From the first to the last day of the year with a sighting, all seasons; the stroke is the middle.", height: areas.n * 24 + 56, left: 82 });
  const x = plot.scaleX(0, 365);
  plot.months(x);
  order.forEach((i, row) => {
    const y = plot.box.top + row * 24 + 5;
    const kind = areas.value("kind", i);
    const [first, last, peak] = ["first_day", "last_day", "peak_day"].map((name) => dayOf(areas.value(name, i)));
    for (const [from, to] of first <= last ? [[first, last + 1]] : [[first, 365], [0, last + 1]]) {
      plot.add(svg("rect", { class: "kind-" + kind, x: x(from), y, width: Math.max(3, x(to) - x(from)), height: 14 }));
    }
    plot.line(x(peak), y - 4, x(peak), y + 18, "peak");
    plot.words(areaNames[i], plot.box.left - 8, y + 12, { "text-anchor": "end" });
  });
  plot.figure.append(legend(...["bait", "gamefish"].filter((kind) => order.some((i) => areas.value("kind", i) === kind)).map((kind) => [swatch("kind-" + kind), kind])));
  return plot.figure;
}

function mergePlot() {
  const files = account.files.slice(0, 40);
  const most = Math.max(1, ...files.map((file) => file.read));
  const plot = new Plot({ title: "What became of the marks of each file.", told: "Read = kept + merged away + set aside.", height: files.length * 30 + 44, left: 190, right: 60 });
  const x = plot.scaleX(0, most);
  files.forEach((file, row) => {
    const y = plot.box.top + row * 30;
    const name = harmless(file.path);
    plot.words(name.length > 26 ? "…" + name.slice(-25) : name, plot.box.left - 8, y + 15, { "text-anchor": "end" });
    let from = 0;
    for (const part of ["kept", "merged_away", "set_aside"]) {
      if (file[part]) plot.add(svg("rect", { class: "part-" + part, x: x(from), y, width: Math.max(1.5, x(file[part]) - x(0)), height: 20 }));
      from += file[part];
    }
    plot.words(grouped(file.read), x(from) + 6, y + 15);
  });
  plot.figure.append(legend([swatch("part-kept"), "kept"], [swatch("part-merged_away"), "merged into another record"], [swatch("part-set_aside"), "set aside"]));
  if (account.files.length > files.length) plot.figure.append(el("p", {}, "The first " + files.length + " files; the table holds all."));
  return plot.figure;
}
