"""Quirks planted in the exports, each with what should become of it (codes as in `src/terms/finding.rs`)."""
import random
from datetime import date, timedelta

from exports import ERA, Record, alpha_time, alpha_wpt, alpha_wpt_at, bravo_time, bravo_wpt, book_row, local, stamp, utf8
from lake import QUARRY, surface_f, to_degrees, utc
from seasons import RAMPS, Mark


class Planter:
    """Makes planted records for each file, keyed by file name."""

    def __init__(self, lake, marks, outings, seed):
        self.lake, self.marks, self.outings = lake, marks, outings
        self.rng = random.Random(seed)
        self.files = {}

    def add(self, file, record, quirk, code, then):
        record.planted = (quirk, code, then)
        self.files.setdefault(file, []).append(record)

    def near(self, x, y, need_ft=12):
        return self.lake.deep_enough(x + self.rng.uniform(-60, 60), y + self.rng.uniform(-60, 60), need_ft)

    def outing_time(self, year, number, minutes=75):
        """A moment within the searching of an outing, so that the clock has a track log to agree with."""
        days = [o for o in self.outings if o.day.year == year and o.logged_by == "bravo"]
        return days[number % len(days)].line[0][0] + timedelta(minutes=minutes)

    def on_track(self, year, number, minutes=75):
        """Place and moment on the track log of an outing."""
        days = [o for o in self.outings if o.day.year == year and o.logged_by == "bravo"]
        line = days[number % len(days)].line
        when, x, y = min(line, key=lambda p: abs((p[0] - line[0][0]).total_seconds() - minutes * 60))
        return x, y, when

    def alpha(self, file, x, y, when, name, quirk, code, then, time=None, **more):
        text = alpha_wpt(x, y, alpha_time(when) if time is None else time, name, **more)
        self.add(file, Record(stamp(when), utf8(text), name), quirk, code, then)

    def alpha_at(self, file, lat, lon, when, name, quirk, code, then):
        self.add(file, Record(stamp(when), utf8(alpha_wpt_at(lat, lon, alpha_time(when), name)), name), quirk, code, then)

    def bravo(self, file, x, y, when, name, quirk, code, then, time=None, **more):
        text = bravo_wpt(x, y, bravo_time(when) if time is None else time, name, **more)
        self.add(file, Record(stamp(when), utf8(text), name), quirk, code, then)


def plant(lake, marks, outings, seed):
    p = Planter(lake, marks, outings, seed)
    _places(p)
    _clocks(p)
    _texts_and_depths(p)
    _names(p)
    _bytes(p)
    return p.files


def _places(p):
    x, y, when = p.on_track(2023, 2)
    p.alpha_at("alpha-2023.gpx", "0.000000", "0.000000", when, "SHAD 11FT", "no fix: 0, 0", "position-null", "set aside")
    lon, lat = to_degrees(x, y)
    p.alpha_at("alpha-2023.gpx", "%.6f" % lon, "%.6f" % lat, when + timedelta(seconds=40), "SHAD 13FT", "latitude and longitude swapped",
               "position-swapped", "put right, counts as bait")
    x, y, when = p.on_track(2023, 4)
    lon, lat = to_degrees(x, y)
    p.alpha_at("alpha-2023.gpx", "%.6f" % lat, "%.6f" % -lon, when, "BAIT 14FT", "west written without its sign", "position-sign",
               "put right, counts as bait")
    # Degrees and minutes glued: 35 58.92' as 35.5892, 55 57.60' as 55.5760. Both as written lie far outside the lake.
    x, y = p.near(3600, -2050, 9)
    lon, lat = to_degrees(x, y)
    glued = ["%d.%04.0f" % (int(d), (d - int(d)) * 6000) for d in (lat, -lon)]
    when = [o for o in p.outings if o.day.year == 2023 and o.day.month == 10][-1].line[0][0] + timedelta(minutes=80)
    p.alpha_at("alpha-2023.gpx", glued[0], "-" + glued[1], when, "SHAD 9FT", "degrees and minutes glued together", "position-minutes",
               "re-read as minutes, lands in the back of Dray")
    # On land: 35 m up the bank at Osk.
    x, y = RAMPS["Osk Landing"]
    while p.lake.wet(x, y) or p.lake.to_shore(x, y) < 35:
        x -= 5
    p.alpha("alpha-2023.gpx", x, y, p.outing_time(2023, 6, 2), "LMB 5FT", "on land, 35 m from the bank", "position-on-land", "kept")
    x, y, when = p.on_track(2023, 12)
    lon, lat = to_degrees(x, y)
    scaled = ["%d" % round(v * 2 ** 31 / 180) for v in (lat, lon)]
    p.alpha_at("alpha-2023.gpx", *scaled, when, "SHAD 15FT", "integer angle units (2^31 = 180 degrees)", "position-scaled", "put right, counts as bait")
    p.alpha_at("alpha-2023.gpx", "95.000000", "-56.000000", when, "SHAD 21FT", "latitude 95", "position-out-of-range", "set aside")
    p.alpha_at("alpha-2023.gpx", "--", "--", when, "SHAD 22FT", "dashes in place of a position", "position-unreadable", "set aside")
    p.alpha("alpha-2023.gpx", -31000, 17500, p.outing_time(2023, 7, -55), "HOME", "the driveway at home, 35 km off", "position-outside",
            "set aside")
    p.alpha("alpha-2025-all.gpx", -31020, 17510, p.outing_time(2025, 3, -50), "TRAILER", "the driveway at home, 35 km off",
            "position-outside", "set aside")
    qx, qy, _ = QUARRY
    p.alpha("alpha-2023.gpx", qx, qy, p.outing_time(2023, 9, 20), "BLUEGILL", "a mark in the quarry pond: other water, no way there by boat",
            "-", "kept; the route must never go there")


def _clocks(p):
    p.alpha("alpha-2023.gpx", *p.near(300, -3000), p.outing_time(2023, 11), "SHAD 16FT",
            "one stray stamp that is 1024 weeks back while the rest of the file is right", "clock-stray",
            "undated, never moved by 1024 weeks: one stamp is no proof, the unit's other clocks are right", time=stamp(p.outing_time(2023, 11) - ERA))
    for k, name in enumerate(("BRUSH 15FT", "POINT 11FT")):
        p.alpha("alpha-2021.gpx", *p.near(-300 + 500 * k, -2600 + 700 * k), p.outing_time(2021, 3 + k), name, "factory default date 2000-01-01",
                "clock-default", "undated, kept for place-only results", time="2000-01-01T00:00:00Z")
    p.alpha("alpha-2021.gpx", *p.near(-100, 600), p.outing_time(2021, 8), "BRUSH 17FT", "a date before any unit could log", "clock-too-old",
            "undated", time="1985-04-20T10:15:00Z")
    p.alpha("alpha-2023.gpx", *p.near(500, -3300), p.outing_time(2023, 10), "HUMP 24FT", "a time that is no time", "time-unreadable", "undated",
            time="last tuesday")
    p.alpha("alpha-2025-all.gpx", *p.near(200, 900), p.outing_time(2025, 5), "SHAD 15FT", "a date after the day of the run", "clock-future",
            "undated", time="2038-05-04T11:20:00Z")
    p.alpha("alpha-2023.gpx", *p.near(100, 1900), p.outing_time(2023, 13), "BAIT 19FT", "a date without a time of day", "clock-date-only",
            "dated to the day, left out of what needs an hour", time=local(p.outing_time(2023, 13)).strftime("%Y-%m-%d"))
    p.alpha("alpha-2023.gpx", *p.near(60, 1700), p.outing_time(2023, 13), "BAIT 17FT", "no time at all", "clock-missing", "undated, kept", time="")
    # Edit times: nine marks renamed on the bench in three minutes, up to nine kilometres apart.
    bench = utc(date(2022, 3, 2), 21.2)
    places = [(420, -4600), (650, -3300), (200, -1500), (-300, -300), (-1900, 850), (-3400, 1000), (120, 1700), (420, 2900), (1300, 3700)]
    for k, (x, y) in enumerate(places):
        p.alpha("alpha-2022-all.gpx", *p.near(x, y), bench + timedelta(seconds=21 * k), "BRUSH N%d" % (k + 1),
                "edit times: nine marks over nine kilometres share three minutes", "clock-burst", "undated, kept for place-only results")
    night = [utc(date(2023, 7, 22), 22.9 + 0.06 * k) for k in range(5)]
    for k, when in enumerate(night):
        p.alpha("alpha-2023.gpx", *p.near(150 + 40 * k, 1950 - 60 * k), when, "SHAD %dFT" % (6 + k), "night marks (the sun is well down)", "-",
                "kept; the class of light is told apart")


def _texts_and_depths(p):
    x, y, when = p.on_track(2024, 3)
    p.bravo("bravo-2024.gpx", x, y, when, "bait cloud", "depth -999 and temperature 999 stand for unknown", "depth-sentinel, temp-sentinel",
            "both blanked", depth_m="-999.0", temp_c="999.0")
    x, y, when = p.on_track(2024, 5)
    p.bravo("bravo-2024.gpx", x, y, when, "shad 12 ft", "a temperature of 0 F turned into Celsius: no reading", "temp-sentinel", "blanked",
            depth_m="9.1", temp_c="-17.777778")
    x, y, when = p.on_track(2024, 6, 90)
    p.bravo("bravo-2024.gpx", x, y, when, "shad 13 ft", "Fahrenheit written as Celsius", "temp-unit-repaired", "read as 71.6 F", depth_m="9.4", temp_c="71.6")
    x, y, when = p.on_track(2024, 8, 90)
    p.bravo("bravo-2024.gpx", x, y, when, "shad 14 ft", "a surface temperature that no lake has", "temp-impossible", "blanked", depth_m="9.8",
            temp_c="180.0")
    x, y, when = p.on_track(2024, 7)
    p.bravo("bravo-2024.gpx", x, y, when, "bait 13 ft", "a bottom depth that no lake has: feet times ten as metres", "depth-impossible",
            "bottom depth blanked, fish depth kept", depth_m="1968.5", temp_c="21.0")
    x, y, when = p.on_track(2024, 9)
    p.bravo("bravo-2024.gpx", x, y, when, "BAIT 40FT", "bait 40 ft down over 22 ft of water", "depth-below-bottom", "fish depth blanked, place kept",
            depth_m="6.7", temp_c="20.5")
    x, y, when = p.on_track(2024, 11)
    p.bravo("bravo-2024.gpx", x, y, when, "shad 12 ft", "name and comment tell two fish depths", "depth-contradiction", "neither used",
            cmt="shad 27 ft", depth_m="11.2", temp_c="22.1")
    x, y, when = p.on_track(2024, 4)
    p.alpha("alpha-2025-all.gpx", x, y, when, "BAIT 22", "a bare number beside a bait word", "depth-bare", "read as 22 ft of fish depth")
    x, y, when = p.on_track(2024, 6)
    p.alpha("alpha-2025-all.gpx", x, y, when, "SHAD BRUSH", "two kinds in one name", "kind-conflict", "the first in order wins")
    for k in range(3):
        x, y, when = p.on_track(2025, 6, 60 + 30 * k)
        p.alpha("alpha-2025-all.gpx", x, y, when, "STOP %d" % (k + 1), "our own suggestion come back from the boat", "own-suggestion",
                "set aside: no sighting", desc="shoalwright plan: stop %d of 2025-06-0%d" % (k + 1, k + 1))


def _names(p):
    for k, (x, y) in enumerate(((400, -3900), (-200, -900), (-1800, 900))):
        p.alpha("alpha-2025-all.gpx", *p.near(x, y), p.outing_time(2025, 8, 60 + 40 * k), "BRUSH 14FT", "one name at three places", "-",
                "three marks stay three")
    p.alpha("alpha-2025-all.gpx", *p.near(500, -2900), p.outing_time(2025, 9, 60), "<script>alert(1)</script>", "a name that is HTML",
            "kind-unknown", "shown as text everywhere")
    p.alpha("alpha-2025-all.gpx", *p.near(450, -2700), p.outing_time(2025, 9, 80), '=HYPERLINK("https://varnholt.invalid","open")',
            "a name that is a spreadsheet formula", "kind-unknown", "made harmless in every CSV")
    # Numbered presses: nobody typed a name.
    outings = [o for o in p.outings if o.logged_by != "none"]
    for k in range(46):
        outing = outings[(k * 7) % len(outings)]
        when, x, y = outing.line[(5 + k * 3) % len(outing.line)]
        if k % 2:
            p.bravo(bravo_file(when), x, y, when, "%04d" % (400 + k), "numbered by the unit, no word", "kind-unknown", "kind other",
                    depth_m="%.1f" % (p.lake.bottom_ft(x, y) * 0.3048))
        else:
            p.alpha(alpha_file(when), x, y, when, "WPT %d" % (12 + k), "numbered by the unit, no word", "kind-unknown", "kind other")
    # Access, marked again and again.
    for k in range(14):
        outing = outings[(k * 11 + 3) % len(outings)]
        when, x, y = outing.line[0]
        name = "RAMP OSK" if outing.ramp == "Osk Landing" else "RAMP KESTL"
        x, y = x + p.rng.gauss(0, 6), y + p.rng.gauss(0, 6)
        p.alpha(alpha_file(when), x, y, when - timedelta(minutes=4), name, "a ramp marked again and again", "-", "kind access")


def _bytes(p):
    x, y, when = p.on_track(2021, 6)
    text = alpha_wpt(x, y, alpha_time(when), "B&B 20FT", cmt="SHAD").replace("&amp;", "&")
    p.add("alpha-2021.gpx", Record(stamp(when), utf8(text), "B&B 20FT"), "a bare ampersand", "xml-ampersand", "read as text")
    x, y, when = p.on_track(2023, 8)
    text = alpha_wpt(x, y, alpha_time(when), "SHAD 12FT", desc="CAF\u00c9 DOCK, 70\u00b0")
    p.add("alpha-2023.gpx", Record(stamp(when), text.encode("cp1252"), "SHAD 12FT"), "windows-1252 bytes in a file that says nothing of it",
          "encoding-repaired", "read as `CAF\u00c9 DOCK, 70\u00b0`")
    x, y, when = p.on_track(2023, 10, 95)
    text = alpha_wpt(x, y, alpha_time(when), "LMB 8FT", cmt="BASS & BRIM").replace("&amp;", "&amp;amp;")
    p.add("alpha-2023.gpx", Record(stamp(when), utf8(text), "LMB 8FT"), "an entity escaped twice", "xml-escaped-twice", "read as `BASS & BRIM`")
    x, y, when = p.on_track(2024, 13)
    text = bravo_wpt(x, y, bravo_time(when), "shad 10 ft", depth_m="8.0").replace("shad 10 ft", "shad\x07 10 ft")
    p.add("bravo-2024.gpx", Record(stamp(when), utf8(text), "shad 10 ft"), "a control character in a name", "control-characters", "taken out")
    x, y, when = p.on_track(2025, 4)
    p.bravo("bravo-2025.gpx", x, y, when, "bait 11 ft", "extension elements with a prefix that is declared nowhere", "-",
            "read like the others: bottom 7.4 m", depth_m="7.4", temp_c="22.4", prefix="q")


def book_quirks(p_lake, outings):
    """Rows of the 2025 field book with coordinates and dates in odd forms."""
    rows = []
    days = [o for o in outings if o.day.year == 2025 and o.logged_by == "bravo"]

    def mark(number, kind="bait"):
        line = days[number % len(days)].line
        when, x, y = line[len(line) // 2]
        room = p_lake.bottom_ft(x, y)
        return Mark(kind, x, y, when, fish_ft=max(2.0, min(14.0, room - 3)), water_ft=room, temp_f=surface_f(when.date()))

    def add(row, quirk, code, then):
        row.planted = (quirk, code, then)
        rows.append(row)

    for k in range(6):
        m = mark(2 * k)
        lon, lat = to_degrees(m.x, m.y)
        add(book_row(m, "", ("%.5f" % lat).replace(".", ","), ("%.5f" % lon).replace(".", ",")), "decimal commas in degrees", "position-form", "read")
    m = mark(5)
    lon, lat = to_degrees(m.x, m.y)
    add(book_row(m, "no west", ("%.5f" % lat).replace(".", ","), ("%.5f" % -lon).replace(".", ",")), "west written without its sign",
        "position-sign", "put right")
    m = mark(7)
    lon, lat = to_degrees(m.x, m.y)
    row = book_row(m, "time not noted", ("%.5f" % lat).replace(".", ","), ("%.5f" % lon).replace(".", ","))
    row.body = row.body.replace(b";" + utf8(local(m.when).strftime("%H:%M")) + b";", b";;", 1)
    add(row, "a date without a time of day", "clock-date-only", "dated to the day")
    m = mark(9)
    row = book_row(m, "position not noted", " ", " ")
    add(row, "a row without a position", "position-missing", "set aside")
    m = mark(13)
    row = book_row(m)
    cells = row.body.split(b";")
    cells[5] = b"deep"
    row.body = b";".join(cells)
    add(row, "a word in place of a depth", "number-unreadable", "left out, the mark is kept")
    m = mark(11)
    row = book_row(m)
    row.body = b";".join(row.body.split(b";")[:3]) + b"\n"
    add(row, "a row that ends before its position", "row-short", "set aside")
    return rows


def guest_book(lake, outings):
    """A guest's list: commas, points, and no row that tells day from month."""
    rows = []
    for outing in outings:
        day = outing.day
        if len(rows) == 6 or day.day > 12 or day.day == day.month or day.year < 2024:
            continue
        when, x, y = outing.line[len(outing.line) // 2]
        lon, lat = to_degrees(x, y)
        text = "%s,%s,bass,%.5f,%.5f,,%.0f\n" % (day.strftime("%d/%m/%Y"), local(when).strftime("%H:%M"), lat, lon, lake.bottom_ft(x, y))
        rows.append(Record(stamp(when), utf8(text), "bass", ("no row tells day from month", "date-order-unclear", "undated, kept for place-only results")))
    return rows


def alpha_file(when):
    return {2021: "alpha-2021.gpx", 2022: "alpha-2022-all.gpx", 2023: "alpha-2023.gpx"}.get(when.year, "alpha-2025-all.gpx")


def bravo_file(when):
    if when.year <= 2022:
        return "bravo-2021-22.gpx"
    if when.year == 2023:
        return "bravo-2023-spring.gpx" if stamp(when) < "2023-05-10" else "bravo-2023-fall.gpx"
    return "bravo-%d.gpx" % when.year
