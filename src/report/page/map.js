// The map: the library pans, zooms and scales; canvases of our own are drawn on it.

const drawings = []; // { name, label, on, canvas: "base", "top" or "over", draw(context, view) }

const lakeBox = (() => {
  const boxes = water.map(boundsOf);
  if (marks && boxes.length === 0) {
    const xs = Float64Array.from(marks.x).sort();
    const ys = Float64Array.from(marks.y).sort();
    const at = (list, share) => list[Math.floor((list.length - 1) * share)];
    boxes.push([at(xs, 0.005), at(ys, 0.005), at(xs, 0.995), at(ys, 0.995)]);
  }
  return boxes.reduce((a, b) => [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3])],
    [Infinity, Infinity, -Infinity, -Infinity]);
})();
const lonOf = (x) => x * 360 - 180;
const latOf = (y) => (Math.atan(Math.sinh((0.5 - y) * 2 * Math.PI)) * 180) / Math.PI;

const map = L.map("map", {
  attributionControl: false,
  zoomControl: false,
  zoomAnimation: false,
  fadeAnimation: false,
  markerZoomAnimation: false,
  inertia: !prefersLessMotion(),
  zoomSnap: 0.25,
  zoomDelta: 0.75,
  minZoom: 3,
  maxZoom: 20,
  keyboardPanDelta: 60,
});
L.control.zoom({ position: "topright", zoomInTitle: "Nearer", zoomOutTitle: "Farther" }).addTo(map);
for (const button of document.querySelectorAll("#map .leaflet-control-zoom a")) button.setAttribute("href", "#map");

function showWholeLake() {
  const box = lakeBox[0] < Infinity ? lakeBox : [0.49, 0.49, 0.51, 0.51];
  map.fitBounds([[latOf(box[3]), lonOf(box[0])], [latOf(box[1]), lonOf(box[2])]], { padding: [16, 16], animate: false });
}

const canvases = Object.fromEntries(["base", "top", "over"].map((name) => {
  const canvas = el("canvas", { class: "drawn", "aria-hidden": "true" });
  map.getPane("overlayPane").append(canvas);
  return [name, canvas];
}));

// How places become pixels of the map's frame: `px = x * scale - left`.
function currentView() {
  const size = map.getSize();
  const scale = 256 * 2 ** map.getZoom();
  const origin = map.getPixelBounds().min;
  const ratio = window.devicePixelRatio || 1;
  const middle = map.getCenter().lat;
  const metre = scale / (40075016.686 * Math.cos((middle * Math.PI) / 180));
  return { width: size.x, height: size.y, scale, left: origin.x, top: origin.y, ratio, metre };
}

let frozen = false; // while the page is printed
function drawCanvas(name, everything) {
  if (frozen) return;
  const view = currentView();
  const canvas = canvases[name];
  const [width, height] = [Math.round(view.width * view.ratio), Math.round(view.height * view.ratio)];
  if (canvas.width !== width || canvas.height !== height) {
    canvas.width = width;
    canvas.height = height;
    canvas.style.width = view.width + "px";
    canvas.style.height = view.height + "px";
  }
  L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
  const context = canvas.getContext("2d");
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.clearRect(0, 0, width, height);
  context.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
  for (const drawing of drawings) {
    if ((everything || drawing.canvas === name) && (drawing.always || state.layers.has(drawing.name))) drawing.draw(context, view);
  }
  setWords(context, view);
}

const due = new Set();
function redraw(...names) {
  if (due.size === 0) {
    requestAnimationFrame(() => {
      const now = [...due];
      due.clear();
      now.forEach((name) => drawCanvas(name));
    });
  }
  names.forEach((name) => due.add(name));
}

function trace(context, view, path, close) {
  for (let i = 0; i < path.length; i += 2) {
    const x = path[i] * view.scale - view.left;
    const y = path[i + 1] * view.scale - view.top;
    if (i === 0) context.moveTo(x, y);
    else context.lineTo(x, y);
  }
  if (close) context.closePath();
}

const boxInView = (view, box) =>
  box[2] * view.scale > view.left && box[0] * view.scale < view.left + view.width &&
  box[3] * view.scale > view.top && box[1] * view.scale < view.top + view.height;

// Words on the map wait until all is drawn. The more important are set first; one that would lie on another is left out.
let words = [];
const label = (text, x, y, importance) => words.push({ text, x, y, importance });

function setWords(context, view) {
  const size = parseFloat(style("--map-text"));
  context.font = "600 " + size + "px system-ui, sans-serif";
  context.textAlign = "left";
  context.textBaseline = "middle";
  context.lineJoin = "round";
  context.lineWidth = 4;
  context.strokeStyle = style("--halo");
  context.fillStyle = style("--ink");
  const set = [];
  for (const word of words.sort((a, b) => b.importance - a.importance)) {
    const width = context.measureText(word.text).width;
    if (word.x < -10 || word.x > view.width + 10 || word.y < 0 || word.y > view.height) continue;
    const x = Math.max(4, Math.min(word.x, view.width - width - 4));
    const box = [x - 3, word.y - size * 0.62, x + width + 3, word.y + size * 0.62];
    if (set.some((other) => box[0] < other[2] && box[2] > other[0] && box[1] < other[3] && box[3] > other[1])) continue;
    set.push(box);
    context.strokeText(word.text, x, word.y);
    context.fillText(word.text, x, word.y);
  }
  words = [];
}
