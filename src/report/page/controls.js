// Switches, filters and the day of the season.

function checkbox(text, checked, onchange, shape) {
  const input = el("input", { type: "checkbox" });
  input.checked = checked;
  input.addEventListener("change", () => onchange(input.checked));
  return el("label", { class: "switch" }, input, shape || null, el("span", {}, text));
}

const layerBoxes = new Map();
function switchLayer(name, on) {
  if (on) state.layers.add(name);
  else state.layers.delete(name);
  const box = layerBoxes.get(name);
  if (box) box.querySelector("input").checked = on;
  changed("layers");
}

function fill(id, children) {
  const fieldset = document.getElementById(id);
  fieldset.append(...children);
  fieldset.hidden = children.length === 0;
}

fill("layer-switches", drawings.filter((drawing) => drawing.label).map((drawing) => {
  if (drawing.on) state.layers.add(drawing.name);
  const box = checkbox(drawing.label, drawing.on, (on) => switchLayer(drawing.name, on));
  layerBoxes.set(drawing.name, box);
  return box;
}));

const flip = (set, item, on) => {
  if (on) set.add(item);
  else set.delete(item);
  changed("filter");
};
const countsByKind = kinds.map(() => 0);
for (const kind of kindOfMark) countsByKind[kind]++;
fill("kind-switches", kinds.flatMap((kind, number) => countsByKind[number] === 0 ? []
  : [checkbox(kind + " (" + grouped(countsByKind[number]) + ")", true, (on) => flip(state.kinds, kind, on), shapeSvg(kind))]));
fill("season-switches", seasons.length < 2 ? []
  : seasons.map((season) => checkbox(String(season), true, (on) => flip(state.seasons, season, on))));

fill("depth-filter", deepest === 0 ? [] : (() => {
  const told = el("p", { class: "told", id: "depth-told" });
  const tell = () => (told.textContent = depthText(state.shallow) + " to " + depthText(state.deep));
  const slider = (text, value, set) => {
    const input = el("input", { type: "range", min: 0, max: deepest, step: 1, value, "aria-describedby": "depth-told" });
    input.addEventListener("input", () => {
      set(Number(input.value), input);
      tell();
      changed("filter");
    });
    return el("label", { class: "range" }, el("span", {}, text), input);
  };
  tell();
  return [
    told,
    slider("From", 0, (value, input) => (input.value = state.shallow = Math.min(value, state.deep))),
    slider("Down to", deepest, (value, input) => (input.value = state.deep = Math.max(value, state.shallow))),
    checkbox("also marks without a fish depth", true, (on) => {
      state.unknownDepth = on;
      changed("filter");
    }),
    el("p", { class: "told" }, "Day, season and depth choose bait, gamefish and other marks. Hazards, access, cover and structure stay."),
  ];
})());

const daySlider = document.getElementById("day");
const dayTold = document.getElementById("day-told");
const windowSelect = document.getElementById("window");
const playButton = document.getElementById("day-play");

function tellDay() {
  const text = dayText(state.day) + (state.window ? ", " + state.window + " days each way" : ", marks of the whole year");
  dayTold.textContent = text;
  daySlider.setAttribute("aria-valuetext", dayText(state.day));
  daySlider.value = state.day;
}
function setDay(day) {
  state.day = ((Math.round(day) % 365) + 365) % 365;
  tellDay();
  changed("day");
}
// Stepping through a year of which all is shown would show nothing: it sets a window first.
function needsWindow() {
  if (state.window) return;
  state.window = 15;
  windowSelect.value = "15";
}
daySlider.addEventListener("input", () => {
  needsWindow();
  setDay(Number(daySlider.value));
});
windowSelect.addEventListener("change", () => {
  state.window = Number(windowSelect.value);
  setDay(state.day);
});
function stepDay(days) {
  needsWindow();
  setDay(state.day + days);
  announce(document.getElementById("map-told").textContent);
}
document.getElementById("day-back").addEventListener("click", () => stepDay(-5));
document.getElementById("day-on").addEventListener("click", () => stepDay(5));

let playing = null;
const PLAY_MS = 60; // a day; a year in 22 seconds
function stop() {
  cancelAnimationFrame(playing);
  playing = null;
  playButton.textContent = "Play";
  playButton.setAttribute("aria-pressed", "false");
}
function play() {
  needsWindow();
  let before = performance.now();
  const frame = (now) => {
    const days = Math.floor((now - before) / PLAY_MS);
    if (days > 0) {
      before += days * PLAY_MS;
      setDay(state.day + Math.min(days, 5));
    }
    playing = requestAnimationFrame(frame);
  };
  playing = requestAnimationFrame(frame);
  playButton.textContent = "Stop";
  playButton.setAttribute("aria-pressed", "true");
}
playButton.addEventListener("click", () => (playing === null ? play() : stop()));

// Left and right step the season wherever no control wants them.
document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || !["ArrowLeft", "ArrowRight", " "].includes(event.key)) return;
  if (event.target !== document.body && !event.target.matches("#map-part, .season-bar, .season-bar button")) return;
  if (event.key === " ") {
    if (event.target.matches("button")) return;
    playButton.click();
  } else stepDay(event.key === "ArrowLeft" ? -5 : 5);
  event.preventDefault();
});

for (const radio of document.querySelectorAll("input[name=view]")) {
  radio.addEventListener("change", () => {
    document.documentElement.dataset.view = radio.value;
    changed("view");
  });
}
for (const query of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)"]) {
  window.matchMedia(query).addEventListener("change", () => changed("view"));
}
