// The pre-fish plan: its legs and stops on the map, and the sheet of each practice day.

const clockOf = (time) => time.slice(11, 16);
const stopDays = stops ? [...new Set(Array.from({ length: stops.n }, (_, i) => stops.value("day", i)))] : [];
const stopName = (i) => "Stop " + stops.value("order", i) + (stopDays.length > 1 ? ", day " + stops.value("day", i) : "");

if (stops && stops.n) {
  drawings.push({
    name: "route",
    label: "Pre-fish route",
    on: true,
    canvas: "over",
    draw(context, view) {
      context.lineJoin = context.lineCap = "round";
      for (const [width, colour] of [[8, style("--halo")], [4, style("--route")]]) {
        context.beginPath();
        for (const paths of legs.paths) for (const path of paths) trace(context, view, path, false);
        context.lineWidth = width;
        context.strokeStyle = colour;
        context.stroke();
      }
      context.font = "700 " + style("--map-text") + " system-ui, sans-serif";
      context.textAlign = "center";
      context.textBaseline = "middle";
      for (let i = stops.n - 1; i >= 0; i--) {
        const [x, y] = [stops.x[i] * view.scale - view.left, stops.y[i] * view.scale - view.top];
        context.beginPath();
        context.arc(x, y, 13, 0, 2 * Math.PI);
        context.fillStyle = style("--halo");
        context.fill();
        context.lineWidth = 3;
        context.strokeStyle = style("--route");
        context.stroke();
        context.fillStyle = style("--ink");
        context.fillText(String(stops.value("order", i)), x, y + 1);
      }
    },
  });
}

function stopPart(i) {
  const v = (name) => stops.value(name, i);
  const told = (name) => (v(name) === null ? null : user(v(name)));
  const [low, high] = [v("fish_depth_low_" + depthUnit), v("fish_depth_high_" + depthUnit)];
  const area = areas ? areas.places.get(v("area")) : undefined;
  return facts([
    ["Name", told("name")],
    ["There", clockOf(v("arrive")) + ", leave " + clockOf(v("depart"))],
    ["Search", v("search_min") + " min"],
    ["Chance to meet bait in that time", percent(v("chance"))],
    ["Fish depth", low === null ? "not told" : depthText(low) + " to " + depthText(high)],
    ["Water depth", depthText(v("water_depth_" + depthUnit))],
    ["Look for", told("look_for")],
    ["Leave when", told("leave_rule")],
    ["Place", stops.lat(i).toFixed(5) + ", " + stops.lon(i).toFixed(5) + " (latitude, longitude)"],
    area === undefined ? null : ["Holding area", button("Show " + areaNames[area], () => pickAndShow({ layer: "areas", i: area }))],
  ]);
}

function routeSheets() {
  const long = about.units.long;
  const told = (value) => (value === null ? "–" : user(value));
  const sheets = stopDays.map((day) => {
    const ofDay = (layer) => Array.from({ length: layer.n }, (_, i) => i).filter((i) => layer.value("day", i) === day);
    const own = ofDay(stops);
    const stopRow = (i) => {
      const v = (name) => stops.value(name, i);
      const [low, high] = [v("fish_depth_low_" + depthUnit), v("fish_depth_high_" + depthUnit)];
      return [button("Stop " + v("order"), () => pickAndShow({ layer: "stops", i })), told(v("name")), clockOf(v("arrive")), clockOf(v("depart")),
        String(v("search_min")), percent(v("chance")), low === null ? "–" : depthShort(low) + " to " + depthShort(high), told(v("look_for")), told(v("leave_rule"))];
    };
    const legRow = (i) => {
      const v = (name) => legs.value(name, i);
      const [t, m] = [v("course_true"), v("course_magnetic")];
      return ["Leg " + v("order"), told(v("from")), told(v("to")), String(v("distance_" + long)), String(v("straight_" + long)),
        t === null ? "–" : t + "° true" + (m === null ? "" : ", " + m + "° magnetic"), String(v("minutes")), String(v("slow_minutes"))];
    };
    return el("article", { class: "sheet" },
      el("h3", {}, "Practice day " + day + ", " + dateText(stops.value("arrive", own[0]).slice(0, 10))),
      table("Stops of day " + day, ["Stop", "Name", "There", "Leave", "Search, min", "Chance", "Fish depth, " + depthUnit, "Look for", "Leave when"], own.map(stopRow)),
      table("Legs of day " + day + "; the course is that at the start of a leg", ["Leg", "From", "To", "Way, " + long, "Straight, " + long, "Course", "Minutes", "of them slow"],
        ofDay(legs).map(legRow)),
      el("p", { class: "warn" }, "Not for navigation: a leg is no chart course. It knows the outline, hazards and closed water that you gave, and no buoy, weather or new obstruction. ",
        el("a", { href: "#cautions" }, "All cautions"), ". prefish-sheet.html, beside this page, has each day on one page, with fuel and what to do when late."));
  });
  part("route-part", sheets);
}
