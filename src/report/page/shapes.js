// A plain shape a kind, drawn once into a small picture and stamped from it. Colour is never the only difference.

const styles = new Map();
function style(name) {
  if (!styles.has(name)) {
    styles.set(name, getComputedStyle(document.documentElement).getPropertyValue(name).trim());
  }
  return styles.get(name);
}

function shapePath(kind, r) {
  const path = new Path2D();
  const polygon = (...points) => {
    points.forEach(([x, y], n) => (n ? path.lineTo(x * r, y * r) : path.moveTo(x * r, y * r)));
    path.closePath();
  };
  if (kind === "bait") path.arc(0, 0, r * 0.9, 0, 2 * Math.PI);
  else if (kind === "gamefish") polygon([0, -1.05], [1.05, 0.85], [-1.05, 0.85]);
  else if (kind === "cover") polygon([-0.85, -0.85], [0.85, -0.85], [0.85, 0.85], [-0.85, 0.85]);
  else if (kind === "structure") polygon([0, -1.15], [1.15, 0], [0, 1.15], [-1.15, 0]);
  else if (kind === "hazard") {
    const a = 0.5;
    polygon([-1.1, -1.1 + a], [-1.1 + a, -1.1], [0, -a], [1.1 - a, -1.1], [1.1, -1.1 + a], [a, 0],
      [1.1, 1.1 - a], [1.1 - a, 1.1], [0, a], [-1.1 + a, 1.1], [-1.1, 1.1 - a], [-a, 0]);
  } else if (kind === "access") {
    const b = 0.4;
    polygon([-b, -1.15], [b, -1.15], [b, -b], [1.15, -b], [1.15, b], [b, b],
      [b, 1.15], [-b, 1.15], [-b, b], [-1.15, b], [-1.15, -b], [-b, -b]);
  } else path.arc(0, 0, r * 0.5, 0, 2 * Math.PI);
  return path;
}

// Black is lost on dark water: there the kind without a colour, and every outline, is light.
function kindColour(kind) {
  return kind === "other" ? style("--ink") : kindColours[kind];
}

function drawShape(context, kind, r) {
  const path = shapePath(kind, kind === "hazard" ? r * 1.25 : r);
  context.lineJoin = "round";
  context.lineWidth = Math.max(1.5, r * 0.35);
  context.strokeStyle = style("--shape-edge");
  context.stroke(path);
  context.fillStyle = kindColour(kind);
  context.fill(path);
}

// The pictures of all kinds at this radius in pixels of the screen.
function stamps(r) {
  const side = Math.ceil(r * 1.5 + 2) * 2 + 1;
  return {
    half: (side - 1) / 2,
    pictures: kinds.map((kind) => {
      const canvas = el("canvas", { width: side, height: side });
      const context = canvas.getContext("2d");
      context.translate(side / 2, side / 2);
      drawShape(context, kind, r);
      return canvas;
    }),
  };
}

// The same shape as a small drawing for switches and legends.
function shapeSvg(kind) {
  const d = {
    bait: "M12 4.5a7.5 7.5 0 1 0 .01 0z",
    gamefish: "M12 3 21 19H3z",
    cover: "M5 5h14v14H5z",
    structure: "M12 2 22 12 12 22 2 12z",
    hazard: "M3 6 6 3l6 6 6-6 3 3-6 6 6 6-3 3-6-6-6 6-3-3 6-6z",
    access: "M9 2h6v7h7v6h-7v7H9v-7H2V9h7z",
    other: "M12 8a4 4 0 1 0 .01 0z",
  }[kind];
  return svg("svg", { viewBox: "0 0 24 24", width: 22, height: 22, class: "shape kind-" + kind, "aria-hidden": "true", focusable: "false" },
    svg("path", { d }));
}
