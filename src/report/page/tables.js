// The tables that tell what the map shows.

function part(id, ...children) {
  const section = document.getElementById(id);
  section.append(...children.flat().filter(Boolean));
  section.hidden = false;
}

function areasTable() {
  const u = depthUnit;
  const rows = [];
  for (let i = 0; i < areas.n; i++) {
    const v = (name) => areas.value(name, i);
    rows.push([
      button(areaNames[i], () => pickAndShow({ layer: "areas", i })),
      v("kind"),
      monthDayText(v("first_day")) + " to " + monthDayText(v("last_day")),
      v("fish_depth_min_" + u) === null ? "–" : depthShort(v("fish_depth_min_" + u)) + " to " + depthShort(v("fish_depth_max_" + u)),
      String(v("sightings")),
      String(v("outings")),
      v("seasons").join(", "),
    ]);
  }
  part("areas-part", el("p", {}, "Places where sightings recur in the same part of the year at like depth."),
    table("Holding areas", ["Area", "Kind", "Part of the year", "Fish depth, " + u, "Sightings", "Outings", "Seasons"], rows));
}

function movementTable() {
  const rows = [];
  for (let i = 0; i < movement.n; i++) {
    const v = (name) => movement.value(name, i);
    rows.push([
      button("Track " + v("track"), () => pickAndShow({ layer: "movement", i })),
      monthDayText(v("first_day")) + " to " + monthDayText(v("last_day")),
      String(v("sightings")),
      v("seasons").join(", "),
      v("length_" + about.units.long) + " " + about.units.long,
    ]);
  }
  const shifts = account.season_shifts || [];
  part("movement-part", el("p", {}, "Fitted place and depth of bodies of bait through the year. A track is what past seasons share, not where the fish are."),
    table("Movement tracks", ["Track", "Part of the year", "Sightings", "Seasons", "Way"], rows),
    shifts.length ? table("How early or late each season ran", ["Season", "Against the others"], shifts.map(({ season, days }) => {
      const whole = Math.round(days);
      return [String(season), whole === 0 ? "as the others" : counted(Math.abs(whole), "day") + (whole > 0 ? " later" : " earlier")];
    })) : null);
}

// Marks in the map's view: told when asked for, and again when the map or a filter moves.
const MOST_ROWS = 200;
function inViewPart() {
  const body = el("div", {});
  const told = el("details", {}, el("summary", {}, "List them"), body);
  const list = () => {
    if (!told.open) return;
    const view = currentView();
    const shown = [];
    eachShown((i) => {
      const [px, py] = [marks.x[i] * view.scale - view.left, marks.y[i] * view.scale - view.top];
      if (px >= 0 && py >= 0 && px < view.width && py < view.height) shown.push(i);
    });
    body.replaceChildren(table("Marks in view", ["Mark", "Kind", "Date", "Fish depth, " + depthUnit, "Water depth, " + depthUnit],
      shown.slice(0, MOST_ROWS).map((i) => [
        el("button", { type: "button", class: "small", onclick: () => pickAndShow({ layer: "marks", i }) },
          marks.value("name", i) === null ? "no name" : user(marks.value("name", i))),
        marks.value("kind", i), dateText(marks.value("local_date", i)), depthShort(marks.value(DEPTH, i)), depthShort(marks.value(WATER, i)),
      ])), el("p", {}, shown.length > MOST_ROWS
      ? "The first " + MOST_ROWS + " of " + counted(shown.length, "mark") + "; move the map nearer or filter to see the rest."
      : counted(shown.length, "mark") + "."));
  };
  let waiting = 0;
  const soon = () => {
    clearTimeout(waiting);
    if (told.open) waiting = setTimeout(list, 250);
  };
  told.addEventListener("toggle", list);
  map.on("moveend", soon);
  onChange(soon);
  part("in-view-part", told);
}
