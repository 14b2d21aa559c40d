// Elements and words. Every text of the user goes through `user`, and into the page as text.

function make(create, tag, attributes, children) {
  const element = create(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "onclick") element.addEventListener("click", value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children.flat(3)) {
    if (child !== null && child !== undefined) element.append(child);
  }
  return element;
}

const el = (tag, attributes, ...children) => make((t) => document.createElement(t), tag, attributes, children);
const svg = (tag, attributes, ...children) =>
  make((t) => document.createElementNS("http://www.w3.org/2000/svg", t), tag, attributes, children);

const LONGEST_SHOWN = 300;

// Control characters and those that turn the direction of writing are shown as a dot; long texts are cut.
function harmless(text) {
  const plain = String(text).replace(/[\u0000-\u001f\u007f-\u009f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/g, "·");
  return plain.length > LONGEST_SHOWN ? plain.slice(0, LONGEST_SHOWN) + "… (" + plain.length + " characters)" : plain;
}

const user = (text) => el("bdi", { class: "user" }, harmless(text));

const grouped = (number) => String(number).replace(/\B(?=(\d{3})+$)/g, "\u202f");
const counted = (number, one, many) => grouped(number) + " " + (number === 1 ? one : many || one + "s");
const trimmed = (number, places) => number.toFixed(places).replace(/\.0+$/, "");

const METRES_A_FOOT = 0.3048;
const depthInMetres = (depth) => (depthUnit === "ft" ? depth * METRES_A_FOOT : depth);
const metresInDepth = (metres) => (depthUnit === "ft" ? metres / METRES_A_FOOT : metres);
const otherDepth = (depth) =>
  depthUnit === "ft" ? trimmed(depth * METRES_A_FOOT, 1) + " m" : trimmed(depth / METRES_A_FOOT, 0) + " ft";
const isTold = (value) => value !== null && value !== undefined && !Number.isNaN(value);

function depthText(depth) {
  return isTold(depth) ? trimmed(depth, 1) + " " + depthUnit + " (" + otherDepth(depth) + ")" : "not told";
}
function depthShort(depth) {
  return isTold(depth) ? trimmed(depth, 1) : "–";
}
function tempText(temp) {
  if (!isTold(temp)) return "not told";
  const other = tempUnit === "f" ? trimmed(((temp - 32) * 5) / 9, 1) + " °C" : trimmed((temp * 9) / 5 + 32, 0) + " °F";
  return trimmed(temp, 1) + " °" + tempUnit.toUpperCase() + " (" + other + ")";
}
const areaUnit = about.units.area;

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const MONTH_STARTS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
function dayText(day) {
  const whole = ((Math.floor(day) % 365) + 365) % 365;
  let month = 11;
  while (MONTH_STARTS[month] > whole) month--;
  return whole - MONTH_STARTS[month] + 1 + " " + MONTHS[month];
}
// `MM-DD` as a season day and in words.
const dayOf = (monthDay) => MONTH_STARTS[Number(monthDay.slice(0, 2)) - 1] + Number(monthDay.slice(3)) - 1;
const monthDayText = (monthDay) => dayText(dayOf(monthDay));
function dateText(date) {
  if (!date) return "undated";
  return Number(date.slice(8, 10)) + " " + MONTHS[Number(date.slice(5, 7)) - 1] + " " + date.slice(0, 4);
}
// Days between two season days the short way round.
function daysApart(a, b) {
  const apart = Math.abs(a - b) % 365;
  return Math.min(apart, 365 - apart);
}
// Whether a day lies in a part of the year that may run over new year.
const within = (day, first, last) => (first <= last ? day >= first && day <= last : day >= first || day <= last);

const percent = (chance) => (isTold(chance) ? Math.round(chance * 100) + " %" : "–");

const announce = (text) => {
  document.getElementById("announce").textContent = text;
};
const prefersLessMotion = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;
