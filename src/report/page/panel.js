// The panel: what is behind the picked thing.

const pickedBox = document.getElementById("picked");

const facts = (rows) =>
  el("dl", { class: "facts" }, rows.filter((row) => row && row[1] !== null && row[1] !== undefined)
    .map(([term, ...told]) => el("div", {}, el("dt", {}, term), el("dd", {}, told))));

const button = (text, onclick) => el("button", { type: "button", class: "small", onclick }, text);
const LONG_LIST = 60;

// A table with a caption; more rows than a panel holds are told by their number.
function table(caption, heads, rows, most) {
  const shown = rows.slice(0, most || rows.length);
  return el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption },
    el("table", {},
      el("caption", {}, caption, rows.length > shown.length ? " (the first " + shown.length + " of " + grouped(rows.length) + ")" : ""),
      el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, shown.map((row) => el("tr", {}, row.map((cell, n) =>
        n === 0 ? el("th", { scope: "row" }, cell) : el("td", {}, cell)))))));
}

const findingMeanings = new Map((findings || []).map((group) => [group.code, group.meaning]));

function lookRows(outings, baitDates) {
  return outings.map((outing) => [dateText(outing.date), looks.areaText(outing.share), baitDates.has(outing.date) ? "bait seen" : "none seen"]);
}

// Looks at the water round a place on days of the year near to a part of it, and those without bait.
function looksPart(x, y, metres, nearTo) {
  if (!looks) return [el("p", {}, "No track logs tell where was looked.")];
  const outings = looks.outingsOver(looks.cellsNear(x, y, metres)).filter((outing) => nearTo(outing.day));
  const dates = baitDatesNear(x, y, Math.max(metres, about.cell_m * 0.71));
  const without = outings.filter((outing) => !dates.has(outing.date));
  return [
    el("p", {}, "Looked at on " + counted(outings.length, "outing") + " with a track log; no bait seen on " + grouped(without.length) + " of them."),
    outings.length ? table("Looks", ["Date", "Looked over", "Bait"], lookRows(outings, dates), LONG_LIST) : null,
  ];
}

function markPart(i) {
  const v = (name) => marks.value(name, i);
  const sighting = sightings ? sightings.places.get(v("sighting")) : undefined;
  const area = areas ? areas.places.get(v("area")) : undefined;
  const repairs = v("repairs") || [];
  const day = v("season_day");
  const time = v("time");
  return [
    facts([
      ["Name", v("name") === null ? "none" : user(v("name"))],
      ["Note", v("note") === null ? null : user(v("note"))],
      ["Date at the lake", dateText(v("local_date"))],
      ["Time", time === null ? "not told" : time.slice(0, 10) + " " + time.slice(11, 16) + " UTC"],
      ["Fish depth", depthText(v(DEPTH))],
      ["Water depth", depthText(v(WATER))],
      ["Surface", tempText(v(TEMP))],
      ["Lake level", v("level_" + depthUnit) === null ? null : trimmed(v("level_" + depthUnit), 2) + " " + depthUnit],
      ["Place", marks.lat(i).toFixed(5) + ", " + marks.lon(i).toFixed(5) + " (latitude, longitude)"],
      ["Unit", v("unit") === null ? null : user(v("unit"))],
      ["Records", el("ul", {}, v("sources").map((source) => el("li", {}, user(source))))],
      repairs.length ? ["Put right", el("ul", {}, repairs.map((code) => el("li", {}, findingMeanings.get(code) || code)))] : null,
      sighting === undefined ? null : ["Sighting", counted(marksOfSighting[sighting].length, "mark") + " on one school"],
      area === undefined ? null : ["Holding area", button("Show " + areaNames[area], () => pickAndShow({ layer: "areas", i: area }))],
    ]),
    v("kind") === "hazard" ? el("p", { class: "warn" }, "Marked at the lake level of that day. At a lower level it lies nearer to the surface.") : null,
    day === null || LIES_STILL[kindOfMark[i]] ? null :
      [el("h4", {}, "Looks here, 21 days each way of " + dayText(day)), looksPart(marks.x[i], marks.y[i], 0, (d) => daysApart(d, day) <= 21)],
  ];
}

function areaPart(i) {
  const v = (name) => areas.value(name, i);
  const u = depthUnit;
  const [first, last] = [dayOf(v("first_day")), dayOf(v("last_day"))];
  const list = sightingsOfArea[i];
  const behind = list.flatMap((s) => marksOfSighting[s]);
  const files = new Set(behind.flatMap((m) => marks.value("sources", m).map((source) => source.slice(0, source.lastIndexOf("#")))));
  const box = areas.boxes[i];
  const range = (name) => v(name + "_min_" + u) === null ? "not told"
    : depthText(v(name + "_min_" + u)) + " to " + depthText(v(name + "_max_" + u)) + ", the middle one " + depthText(v(name + "_median_" + u));
  const near = v("gamefish_near");
  return [
    facts([
      ["Part of the year", monthDayText(v("first_day")) + " to " + monthDayText(v("last_day")) + ", most about " + monthDayText(v("peak_day"))],
      ["Seen", counted(v("sightings"), "sighting") + " (" + counted(v("marks"), "mark") + ") on " + counted(v("outings"), "outing") + ", seasons " + v("seasons").join(", ")],
      ["Fish depth", range("fish_depth")],
      ["Water depth", v("water_depth_median_" + u) === null ? "not told" : "the middle one " + depthText(v("water_depth_median_" + u))],
      ["Surface", v("water_temp_min_" + tempUnit) === null ? "not told" : tempText(v("water_temp_min_" + tempUnit)) + " to " + tempText(v("water_temp_max_" + tempUnit))],
      ["Radius", depthText(v("radius_" + u)) + ", holds nine of ten sightings"],
      near === null ? null : ["Gamefish", counted(near, "gamefish mark") + " near its bait, " + v("gamefish_lift") + " times what chance gives (p " + v("gamefish_p") + "): what this log shows, no rule"],
      ["Files", el("ul", {}, [...files].map((file) => el("li", {}, user(file))))],
    ]),
    el("h4", {}, "Looks in its part of the year"),
    looksPart((box[0] + box[2]) / 2, (box[1] + box[3]) / 2, depthInMetres(v("radius_" + u)), (day) => within(day, first, last)),
    el("h4", {}, "Sightings behind it"),
    table("Sightings", ["Date", "Fish depth, " + u, "Water depth, " + u, "Surface, °" + tempUnit.toUpperCase(), "Marks", "Map"],
      list.map((s) => [dateText(sightings.value("outing", s)), depthShort(sightings.value(DEPTH, s)), depthShort(sightings.value(WATER, s)),
        depthShort(sightings.value(TEMP, s)), String(sightings.value("marks", s)),
        button("Show", () => pickAndShow({ layer: "marks", i: marksOfSighting[s][0] }))]), LONG_LIST),
  ];
}

function trackPart(i) {
  const v = (name) => movement.value(name, i);
  const u = depthUnit;
  const d = (name, day) => movementDays.value(name + "_" + u, day);
  return [
    facts([
      ["Part of the year", monthDayText(v("first_day")) + " to " + monthDayText(v("last_day"))],
      ["Stands on", counted(v("sightings"), "sighting") + ", seasons " + v("seasons").join(", ")],
      ["Season measured by", v("clock") === "date" ? "the date" : "water temperature"],
      ["Way", v("length_" + about.units.long) + " " + about.units.long + "; no course to steer"],
    ]),
    table("Days of the track; nine of ten sightings are expected within the band", ["Day", "Fish depth, " + u, "Depth band", "Place band, " + u, "Sightings near"],
      daysOfTrack[i].map((day) => [monthDayText(movementDays.value("day", day)), depthShort(d("fish_depth", day)),
        d("fish_depth_low", day) === null ? "–" : depthShort(d("fish_depth_low", day)) + " to " + depthShort(d("fish_depth_high", day)),
        depthShort(d("band", day)), String(movementDays.value("sightings_near", day))])),
  ];
}

function effortPart(i) {
  const box = effort.boxes[i];
  const bait = new Set();
  for (let s = 0; sightings && s < sightings.n; s++) {
    const [x, y] = [sightings.x[s], sightings.y[s]];
    if (sightings.value("kind", s) === "bait" && x >= box[0] && x < box[2] && y >= box[1] && y < box[3]) bait.add(sightings.value("outing", s));
  }
  const outings = looks.outingsOver([i]);
  return [
    facts([
      ["Looked over", effort.value("effort_" + areaUnit, i) + " " + areaUnit + " in all, on " + counted(effort.value("outings", i), "outing")],
      ["Bait", counted(effort.value("sightings", i), "sighting")],
      ["Looks without bait", grouped(outings.filter((outing) => !bait.has(outing.date)).length)],
    ]),
    table("Looks", ["Date", "Looked over", "Bait"], lookRows(outings, bait), LONG_LIST),
  ];
}

function showPicked(thing, others) {
  const part = { marks: markPart, areas: areaPart, movement: trackPart, effort: effortPart, outlook: outlookPart, stops: stopPart }[thing.layer];
  const title = el("h4", { class: "picked-name" }, titleOf(thing));
  pickedBox.replaceChildren(title, ...[part(thing.i)].flat(3).filter(Boolean));
  if (others.length) {
    pickedBox.append(el("h4", {}, "Also here"), el("ul", { class: "also" }, others.map((other) => el("li", {},
      el("button", { type: "button", class: "small", onclick: () => pick(other, [thing, ...others.filter((o) => o !== other)]) }, titleOf(other))))));
  }
  pickedBox.scrollTop = 0;
  announce("Picked: " + title.textContent);
}
