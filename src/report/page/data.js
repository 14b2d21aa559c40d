// The blocks of data in the page, and the layers read from them.

function block(name) {
  const element = document.getElementById("data-" + name);
  return element ? JSON.parse(element.textContent) : null;
}

const about = block("about");
const kindColours = block("colours");
const kinds = Object.keys(kindColours);

// The unit square of the Mercator projection: west and north are 0.
const mercatorX = (lon) => (lon + 180) / 360;
const mercatorY = (lat) => 0.5 - Math.asinh(Math.tan((lat * Math.PI) / 180)) / (2 * Math.PI);

function summed(steps, scale, project) {
  const numbers = new Float64Array(steps.length);
  let sum = 0;
  for (let i = 0; i < steps.length; i++) {
    sum += steps[i];
    numbers[i] = project(sum * scale);
  }
  return numbers;
}

// One ring or line: x and y in turn.
function pathOf(steps) {
  const path = new Float64Array(steps.length);
  let lon = 0;
  let lat = 0;
  for (let i = 0; i < steps.length; i += 2) {
    lon += steps[i];
    lat += steps[i + 1];
    path[i] = mercatorX(lon * 1e-6);
    path[i + 1] = mercatorY(lat * 1e-6);
  }
  return path;
}

function boundsOf(paths) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const path of paths) {
    for (let i = 0; i < path.length; i += 2) {
      box[0] = Math.min(box[0], path[i]);
      box[1] = Math.min(box[1], path[i + 1]);
      box[2] = Math.max(box[2], path[i]);
      box[3] = Math.max(box[3], path[i + 1]);
    }
  }
  return box;
}

class Layer {
  constructor(raw) {
    this.n = raw.n;
    this.ids = raw.id;
    this.columns = raw.columns;
    this.numberColumns = new Map();
    if (raw.lon) {
      this.x = summed(raw.lon, 1e-6, mercatorX);
      this.y = summed(raw.lat, 1e-6, mercatorY);
      this.lon = (i) => this.x[i] * 360 - 180;
      this.lat = (i) => (Math.atan(Math.sinh((0.5 - this.y[i]) * 2 * Math.PI)) * 180) / Math.PI;
    } else {
      this.paths = raw.shape.map((paths) => paths.map(pathOf));
      this.boxes = this.paths.map(boundsOf);
    }
    this.places = new Map(this.ids.map((id, i) => [id, i]));
  }

  value(name, i) {
    const column = this.columns[name];
    if (!column) return null;
    if (Array.isArray(column)) return column[i];
    return column.at[i] < 0 ? null : column.words[column.at[i]];
  }

  // The column as numbers; what is not told is NaN.
  numbers(name) {
    if (!this.numberColumns.has(name)) {
      const numbers = new Float32Array(this.n);
      for (let i = 0; i < this.n; i++) {
        const value = this.value(name, i);
        numbers[i] = value === null ? NaN : value;
      }
      this.numberColumns.set(name, numbers);
    }
    return this.numberColumns.get(name);
  }
}

function layer(name) {
  const raw = block(name);
  return raw ? new Layer(raw) : null;
}

const depthUnit = about.units.depth;
const tempUnit = about.units.temp;
const DEPTH = "fish_depth_" + depthUnit;
const WATER = "water_depth_" + depthUnit;
const TEMP = "water_temp_" + tempUnit;

const water = (block("water") || []).map((rings) => rings.map(pathOf));
const marks = layer("marks");
const sightings = layer("sightings");
const areas = layer("areas");
const movement = layer("movement");
const movementDays = layer("movement-days");
const contours = layer("contours");
const effort = layer("effort");
const outlook = layer("outlook");
const stops = layer("stops");
const legs = layer("legs");
const findings = block("findings");
const account = block("account");

// Lists of what belongs to each: `belongs(marks, "sighting", sightings)[3]` are the marks of sighting 3.
function belongs(things, column, owners) {
  const lists = owners ? Array.from({ length: owners.n }, () => []) : [];
  for (let i = 0; things && owners && i < things.n; i++) {
    const owner = owners.places.get(things.value(column, i));
    if (owner !== undefined) lists[owner].push(i);
  }
  return lists;
}

const marksOfSighting = belongs(marks, "sighting", sightings);
const sightingsOfArea = belongs(sightings, "area", areas);
const daysOfTrack = (() => {
  const lists = movement ? Array.from({ length: movement.n }, () => []) : [];
  for (let i = 0; movement && i < movementDays.n; i++) lists[movementDays.value("track", i) - 1].push(i);
  return lists;
})();
