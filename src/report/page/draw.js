// What is drawn on the map, from below to above.

drawings.push({
  name: "water",
  canvas: "base",
  always: true,
  draw(context, view) {
    context.beginPath();
    for (const rings of water) for (const ring of rings) trace(context, view, ring, true);
    context.fillStyle = style("--water");
    context.fill("evenodd");
    context.lineWidth = Number(style("--shore-width"));
    context.strokeStyle = style("--shore");
    context.lineJoin = "round";
    context.stroke();
  },
});

if (outlook) drawings.push(outlookDrawing);

// A depth stands on a line that is long enough on the screen for it.
const CONTOUR_ROOM_PX = 160;

if (contours) {
  drawings.push({
    name: "contours",
    label: "Contours of the bottom, " + depthUnit + " (no chart)",
    on: false,
    canvas: "base",
    draw(context, view) {
      context.lineWidth = 1.2;
      context.lineJoin = "round";
      context.font = "600 12px system-ui, sans-serif";
      context.textAlign = "center";
      context.textBaseline = "middle";
      for (let i = 0; i < contours.n; i++) {
        const box = contours.boxes[i];
        if (!boxInView(view, box)) continue;
        context.beginPath();
        for (const path of contours.paths[i]) trace(context, view, path, false);
        context.strokeStyle = style("--contour");
        context.stroke();
        if (Math.max(box[2] - box[0], box[3] - box[1]) * view.scale < CONTOUR_ROOM_PX) continue;
        const path = contours.paths[i][0];
        const middle = 2 * Math.floor(path.length / 4);
        const [x, y] = [path[middle] * view.scale - view.left, path[middle + 1] * view.scale - view.top];
        const words = trimmed(contours.value("depth_" + depthUnit, i), 1);
        context.lineWidth = 4;
        context.strokeStyle = style("--water");
        context.strokeText(words, x, y);
        context.lineWidth = 1.2;
        context.fillStyle = style("--contour");
        context.fillText(words, x, y);
      }
    },
  });
}

if (effort) {
  drawings.push({
    name: "effort",
    label: "Where was looked",
    on: false,
    canvas: "base",
    draw(context, view) {
      const looked = looks.sums();
      context.fillStyle = style("--effort");
      for (let i = 0; i < effort.n; i++) {
        if (looked[i] === 0 || !boxInView(view, effort.boxes[i])) continue;
        context.globalAlpha = Math.min(0.85, 0.12 + 0.1 * Math.log2(1 + looked[i] / 25));
        context.beginPath();
        for (const ring of effort.paths[i]) trace(context, view, ring, true);
        context.fill();
      }
      context.globalAlpha = 1;
    },
  });
}

const areaNames = [];
for (let i = 0; areas && i < areas.n; i++) areaNames.push("Area " + (i + 1));

if (areas) {
  drawings.push({
    name: "areas",
    label: "Holding areas",
    on: true,
    canvas: "top",
    draw(context, view) {
      const labels = [];
      for (let i = 0; i < areas.n; i++) {
        if (!state.kinds.has(areas.value("kind", i)) || !boxInView(view, areas.boxes[i])) continue;
        const on = inWindow(dayOf(areas.value("first_day", i)), dayOf(areas.value("last_day", i)));
        const picked = state.picked && state.picked.layer === "areas" && state.picked.i === i;
        context.beginPath();
        for (const ring of areas.paths[i]) trace(context, view, ring, true);
        context.fillStyle = context.strokeStyle = kindColour(areas.value("kind", i));
        context.globalAlpha = on ? 0.22 : 0.05;
        context.fill();
        context.globalAlpha = on ? 1 : 0.45;
        context.setLineDash(on ? [] : [3, 5]);
        context.lineWidth = picked ? 5 : 2.5;
        context.stroke();
        context.setLineDash([]);
        context.globalAlpha = 1;
        if (on) labels.push(i);
      }
      for (const i of labels) {
        const box = areas.boxes[i];
        label(areaNames[i], ((box[0] + box[2]) / 2) * view.scale - view.left - 20, box[1] * view.scale - view.top - 8, 2);
      }
    },
  });
}

let stampAll = () => {};
if (marks) {
  let made = { radius: 0, ratio: 0 };
  let stamped = { width: 0, height: 0, frame: 0, seen: null };
  const CLOSE = 2; // marks of one kind nearer than this many pixels look like one
  // What lies still is drawn below, hazards above all: stepping through the season leaves both as they are.
  drawings.push({ name: "marks", canvas: "base", draw: (context, view) => stampAll(context, view, (visit) => eachOf(byDay.still, visit)) });
  drawings.push({
    name: "marks",
    label: "Marks",
    on: true,
    canvas: "top",
    forget: () => (made = { radius: 0, ratio: 0 }),
    draw: (context, view) => stampAll(context, view, eachMoving),
  });
  stampAll = (context, view, each) => {
    const zoom = map.getZoom();
    const radius = Math.min(9, Math.max(4, 4 + (zoom - 12) * 0.8)) * Number(style("--shape-size"));
    if (made.radius !== radius || made.ratio !== view.ratio) {
      made = { radius, ratio: view.ratio, ...stamps(radius * view.ratio) };
    }
    const columns = Math.ceil(view.width / CLOSE);
    const rows = Math.ceil(view.height / CLOSE);
    if (!stamped.seen || stamped.width !== columns || stamped.height !== rows) {
      stamped = { width: columns, height: rows, frame: 0, seen: new Uint32Array(columns * rows * kinds.length) };
    }
    const frame = ++stamped.frame;
    const { seen } = stamped;
    const { x, y } = marks;
    const { scale, left, top, ratio, width, height } = view;
    const { half, pictures } = made;
    context.setTransform(1, 0, 0, 1, 0, 0);
    each((i) => {
      const px = x[i] * scale - left;
      const py = y[i] * scale - top;
      if (px < 0 || py < 0 || px >= width || py >= height) return;
      const kind = kindOfMark[i];
      const cell = (kind * rows + ((py / CLOSE) | 0)) * columns + ((px / CLOSE) | 0);
      if (seen[cell] === frame) return;
      seen[cell] = frame;
      context.drawImage(pictures[kind], Math.round(px * ratio) - half, Math.round(py * ratio) - half);
    });
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
  };
}

// Place, depth and band of a track on a season day, between the two told days around it; `null` outside them.
function trackOn(track, day) {
  const days = daysOfTrack[track];
  const told = movementDays.numbers("season_day");
  for (let k = 0; k + 1 < days.length; k++) {
    const [a, b] = [days[k], days[k + 1]];
    const span = (told[b] - told[a] + 365) % 365;
    const into = (day - told[a] + 365) % 365;
    if (span === 0 || into > span || span > 30) continue;
    const t = into / span;
    const between = (list) => list[a] + (list[b] - list[a]) * t;
    return {
      x: between(movementDays.x),
      y: between(movementDays.y),
      depth: between(movementDays.numbers(DEPTH)),
      band_m: depthInMetres(between(movementDays.numbers("band_" + depthUnit))),
    };
  }
  return null;
}

if (movement) {
  drawings.push({
    name: "movement",
    label: "Movement through the season",
    on: true,
    canvas: "top",
    draw(context, view) {
      for (let track = 0; track < movement.n; track++) {
        if (!state.kinds.has(movement.value("kind", track))) continue;
        context.lineJoin = context.lineCap = "round";
        for (const [width, colour] of [[7, style("--halo")], [3, style("--track")]]) {
          context.beginPath();
          for (const path of movement.paths[track]) trace(context, view, path, false);
          context.lineWidth = width;
          context.strokeStyle = colour;
          context.stroke();
        }
        let month = -1;
        for (const i of daysOfTrack[track]) {
          const [x, y] = [movementDays.x[i] * view.scale - view.left, movementDays.y[i] * view.scale - view.top];
          context.beginPath();
          context.arc(x, y, 3, 0, 2 * Math.PI);
          context.fillStyle = style("--track");
          context.fill();
          const monthHere = MONTH_STARTS.findLastIndex((start) => start <= movementDays.value("season_day", i));
          if (monthHere !== month) label(dayText(movementDays.value("season_day", i)), x + 8, y, 1);
          month = monthHere;
        }
      }
      for (let track = 0; track < movement.n; track++) {
        const here = state.kinds.has(movement.value("kind", track)) ? trackOn(track, state.day) : null;
        if (!here) continue;
        const [x, y] = [here.x * view.scale - view.left, here.y * view.scale - view.top];
        context.beginPath();
        context.arc(x, y, Math.max(10, here.band_m * view.metre), 0, 2 * Math.PI);
        context.fillStyle = style("--track");
        context.globalAlpha = 0.16;
        context.fill();
        context.globalAlpha = 1;
        context.lineWidth = 2.5;
        context.setLineDash([7, 5]);
        context.strokeStyle = style("--track");
        context.stroke();
        context.setLineDash([]);
        context.beginPath();
        context.arc(x, y, 6, 0, 2 * Math.PI);
        context.fill();
        const depth = isTold(here.depth) ? ", " + depthText(here.depth) : "";
        label("Track " + movement.value("track", track) + ", " + dayText(state.day) + depth, x + 12, y - 14, 3);
      }
    },
  });
}

if (marks) {
  drawings.push({ name: "marks", canvas: "over", draw: (context, view) => stampAll(context, view, (visit) => eachOf(byDay.hazards, visit)) });
}

drawings.push({
  name: "picked",
  canvas: "over",
  always: true,
  draw(context, view) {
    const { picked } = state;
    if (!picked) return;
    context.beginPath();
    if (picked.layer === "marks") {
      context.arc(marks.x[picked.i] * view.scale - view.left, marks.y[picked.i] * view.scale - view.top, 15, 0, 2 * Math.PI);
    } else if (picked.layer === "stops") {
      context.arc(stops.x[picked.i] * view.scale - view.left, stops.y[picked.i] * view.scale - view.top, 19, 0, 2 * Math.PI);
    } else if (picked.layer === "effort" || picked.layer === "outlook") {
      for (const ring of { effort, outlook }[picked.layer].paths[picked.i]) trace(context, view, ring, true);
    } else return;
    for (const [width, colour] of [[7, style("--halo")], [3, style("--ink")]]) {
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
    }
  },
});

// The scale, in both units: the longest round length that fits.
const FEET_A_MILE = 5280;
drawings.push({
  name: "scale",
  canvas: "over",
  always: true,
  draw(context, view) {
    const most = Math.min(150, view.width / 3);
    const round = (length) => {
      const ten = 10 ** Math.floor(Math.log10(length));
      return [5, 2, 1].map((n) => n * ten).find((n) => n <= length);
    };
    const metres = round(most / view.metre);
    const feet = most / view.metre / METRES_A_FOOT;
    const miles = feet >= FEET_A_MILE ? round(feet / FEET_A_MILE) : null;
    const bars = [
      [metres * view.metre, metres >= 1000 ? metres / 1000 + " km" : metres + " m"],
      miles ? [miles * FEET_A_MILE * METRES_A_FOOT * view.metre, miles + " mi"] : [round(feet) * METRES_A_FOOT * view.metre, round(feet) + " ft"],
    ];
    bars.forEach(([width, text], n) => {
      const y = view.height - 42 + n * 26;
      for (const [wide, colour] of [[6, style("--halo")], [2, style("--ink")]]) {
        context.beginPath();
        context.moveTo(12, y - 6);
        context.lineTo(12, y);
        context.lineTo(12 + width, y);
        context.lineTo(12 + width, y - 6);
        context.lineWidth = wide;
        context.strokeStyle = colour;
        context.stroke();
      }
      label(text, 18 + width, y - 2, 9);
    });
  },
});
