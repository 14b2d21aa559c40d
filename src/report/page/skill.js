// What the outlook was worth on seasons held out.

const GUESSES = { effort: "looking just anywhere", "usual places": "the usual places", "same week last season": "the same week of last season", "same places all year": "the same places all year" };

const asTable = (...parts) => el("details", {}, el("summary", {}, "The same as a table"), table(...parts));

function skillPlot(skill) {
  const ends = skill.gains.flatMap((gain) => [gain.low, gain.high, 0]);
  const [least, most] = [Math.min(...ends), Math.max(...ends)];
  const room = Math.max(0.05, (most - least) * 0.06);
  const plot = new Plot({
    title: "What the outlook gained over simple guesses.",
    told: "A dot the gain in log score a sighting, a line its 95 % interval by outings; right of 0 the outlook is better. "
      + counted(skill.sightings, "sighting") + " on " + counted(skill.outings, "outing") + " of " + counted(skill.seasons, "season") + " held out.",
    height: skill.gains.length * 52 + 60,
    left: 220,
    right: 40,
  });
  const x = plot.scaleX(least - room, most + room);
  const bottom = plot.box.height - plot.box.bottom;
  const step = [0.05, 0.1, 0.2, 0.5, 1, 2, 5].find((step) => (most - least) / step <= 8) || 10;
  for (let n = Math.ceil((least - room) / step); n * step <= most + room; n++) {
    plot.line(x(n * step), plot.box.top, x(n * step), bottom, n === 0 ? "axis" : "grid");
    plot.words(trimmed(n * step, 2), x(n * step), bottom + 18, { "text-anchor": "middle" });
  }
  skill.gains.forEach((gain, row) => {
    const y = plot.box.top + row * 52 + 26;
    plot.words("over " + (GUESSES[gain.over] || gain.over), plot.box.left - 10, y + 4, { "text-anchor": "end" });
    plot.line(x(gain.low), y, x(gain.high), y, "interval");
    plot.add(svg("circle", { cx: x(gain.gain), cy: y, r: 6, class: "kind-bait" }));
    plot.words((gain.gain > 0 ? "+" : "") + gain.gain.toFixed(2), x(gain.gain), y - 12, { "text-anchor": "middle", class: "named" });
  });
  plot.figure.append(asTable("Gain in log score a sighting", ["Guess", "Gain", "Low end", "High end"],
    skill.gains.map((gain) => ["over " + (GUESSES[gain.over] || gain.over), ...[gain.gain, gain.low, gain.high].map((n) => n.toFixed(2))])));
  return plot.figure;
}

function reliabilityPlot(skill) {
  const groups = skill.reliability;
  if (groups.length === 0) return null;
  const most = Math.max(1, ...groups.flatMap((group) => [group.expected, group.observed]));
  const plot = new Plot({
    title: "Sightings expected and made.",
    told: "Water looked over in seasons held out, in " + groups.length + " groups of equal effort from poor to good. In all "
      + skill.observed_over_expected.toFixed(2) + " times the sightings expected were made.",
    height: 300,
  });
  const [x, y] = [plot.scaleX(0, groups.length), plot.scaleY(most, 0)];
  const base = y(0);
  const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((step) => most / step <= 7) || 1000;
  for (let count = 0; count <= most; count += step) {
    plot.line(plot.box.left, y(count), plot.box.width - plot.box.right, y(count), count === 0 ? "axis" : "grid");
    plot.words(String(count), plot.box.left - 8, y(count) + 4, { "text-anchor": "end" });
  }
  const wide = x(1) - x(0);
  groups.forEach((group, n) => {
    plot.add(svg("rect", { class: "looked", x: x(n) + wide * 0.14, y: y(group.expected), width: wide * 0.34, height: base - y(group.expected) }));
    plot.add(svg("rect", { class: "kind-bait", x: x(n) + wide * 0.52, y: y(group.observed), width: wide * 0.34, height: base - y(group.observed) }));
    plot.words("chance " + percent(group.chance), x(n) + wide / 2, base + 18, { "text-anchor": "middle" });
  });
  plot.figure.append(
    legend([swatch("looked"), "expected"], [swatch("kind-bait"), "made"]),
    asTable("Sightings by group of water", ["Mean chance", "Expected", "Made"], groups.map((group) => [percent(group.chance), group.expected.toFixed(1), String(group.observed)])));
  return plot.figure;
}

function skillPart() {
  const { skill } = account;
  part("skill-part",
    el("p", {}, "Each season was held out in turn and foretold from the others: the outlook is ", el("strong", {}, skill.verdict), "."),
    skillPlot(skill), reliabilityPlot(skill));
}
