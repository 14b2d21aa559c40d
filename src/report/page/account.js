// The account, the findings and the settings.

function accountPart() {
  const row = (name, r, points) => [name, ...[r.read, r.kept, r.merged_away, r.set_aside, r.repaired].map(grouped), points ? grouped(points) : "–"];
  const points = account.files.reduce((sum, file) => sum + file.track_points, 0);
  const pairing = account.pairing;
  part("account-part",
    el("p", {}, counted(account.counts.sightings, "sighting") + ", " + counted(account.counts.areas, "holding area") + ", " + counted(account.counts.movement_tracks, "movement track") + " from " + counted(account.records.kept, "mark") + "."),
    table("Marks by file: read = kept + merged away + set aside", ["File", "Read", "Kept", "Merged away", "Set aside", "Repaired", "Track points"],
      [...account.files.map((file) => row(user(file.path), file, file.track_points)), row("All files", account.records, points)]),
    mergePlot(),
    pairing && pairing.lift !== null ? el("p", {}, grouped(pairing.tested_near) + " of " + counted(pairing.tested, "gamefish mark") + " lay near bait of the same outing, " + pairing.lift + " times what chance gives (p " + pairing.p.toFixed(4) + "): what this log shows, no rule.") : null);
}

const SEVERITIES = { "set-aside": "set aside", doubtful: "doubtful", repaired: "repaired", note: "note" };

function findingsPart() {
  if (!findings.length) return part("findings-part", el("p", {}, "None."));
  const box = (group) => el("details", { class: "finding " + group.severity },
    el("summary", {}, el("span", { class: "severity" }, SEVERITIES[group.severity]), " ", counted(group.count, "time"), ": ", group.meaning),
    el("ul", {}, group.shown.map((one) => el("li", {},
      one.where ? [user(one.where), ": "] : null, one.name ? [user(one.name), ": "] : null, user(one.seen),
      one.done ? el("div", {}, "Done: ", user(one.done)) : null,
      one.fix ? el("div", {}, el("strong", {}, "Mend: "), user(one.fix)) : null))),
    group.count > group.shown.length ? el("p", {}, "The first " + group.shown.length + "; all of them stand in tables/findings.csv.") : null,
    el("p", { class: "told" }, "Code: " + group.code));
  part("findings-part", findings.map(box));
}

function settingsRows(value, path, rows) {
  if (value !== null && typeof value === "object" && !(Array.isArray(value) && value.every((v) => v === null || typeof v !== "object"))) {
    for (const [key, inner] of Object.entries(value)) settingsRows(inner, path ? path + "." + key : key, rows);
  } else rows.push([user(path), value === null ? "not set" : user(Array.isArray(value) ? value.join(", ") : String(value))]);
  return rows;
}

function settingsPart() {
  const rows = settingsRows(account.settings, "", []);
  part("settings-part", el("details", {}, el("summary", {}, counted(rows.length, "setting")), table("Settings", ["Setting", "Value"], rows)));
}
