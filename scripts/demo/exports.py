"""How the three invented devices write what they hold.

alpha      console, GPX 1.0, names cut at ten letters, depth in feet in the name; local time stamped as UTC in 2021 and 2022
bravo      bow unit, GPX 1.1, bottom depth and water temperature in extensions; one GPS week era back from 10 May 2023; 0.8 C warm
fieldbook  CSV typed into a phone: day/month/year, decimal commas
"""
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from xml.sax.saxutils import escape

from lake import FT, offset_hours, to_degrees

# 1024 weeks: the GPS week number has ten bits.
ERA = timedelta(days=7168)
BRAVO_FELL_BACK = datetime(2023, 5, 10, tzinfo=timezone.utc)
BRAVO_WARM_C = 0.8
BOW_NAMESPACE = "https://varnholt.invalid/bow/1"


def stamp(moment):
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def local(moment):
    """Wall clock at the lake (no mark lies in a night of change)."""
    return moment + timedelta(hours=offset_hours((moment - timedelta(hours=3)).date()))


def alpha_time(moment):
    return stamp(local(moment) if moment.year <= 2022 else moment)


def bravo_time(moment):
    return stamp(moment - ERA if moment >= BRAVO_FELL_BACK else moment)


def celsius(f):
    return (f - 32) / 1.8


@dataclass
class Record:
    """One record of a file as bytes, with what was planted in it."""
    order: str
    body: bytes
    name: str = ""
    planted: tuple = None


def utf8(text):
    return text.encode("utf-8")


def alpha_wpt(x, y, time, name, cmt="", desc="", sym="", digits=6):
    lon, lat = to_degrees(x, y)
    return alpha_wpt_at("%.*f" % (digits, lat), "%.*f" % (digits, lon), time, name, cmt, desc, sym)


def alpha_wpt_at(lat, lon, time, name, cmt="", desc="", sym=""):
    parts = ['<wpt lat="%s" lon="%s">' % (lat, lon)]
    for tag, text in (("time", time), ("name", escape(name)), ("cmt", escape(cmt)), ("desc", escape(desc)), ("sym", escape(sym))):
        if text:
            parts.append("<%s>%s</%s>" % (tag, text, tag))
    return "".join(parts) + "</wpt>\n"


def bravo_wpt(x, y, time, name, cmt="", desc="", depth_m=None, temp_c=None, digits=7, prefix="bow"):
    lon, lat = to_degrees(x, y)
    parts = ['<wpt lat="%.*f" lon="%.*f">' % (digits, lat, digits, lon)]
    for tag, text in (("time", time), ("name", escape(name)), ("cmt", escape(cmt)), ("desc", escape(desc))):
        if text:
            parts.append("<%s>%s</%s>" % (tag, text, tag))
    fields = ["<%s:%s>%s</%s:%s>" % (prefix, tag, text, prefix, tag) for tag, text in (("depth", depth_m), ("wtemp", temp_c)) if text]
    if fields:
        parts.append("<extensions>%s</extensions>" % "".join(fields))
    return "".join(parts) + "</wpt>\n"


# ---- what the angler typed -------------------------------------------------------------------------------------

def alpha_words(mark, rng):
    """Name and comment on the console: capitals, ten letters."""
    cmt = "%.0fF" % mark.temp_f if rng.random() < 0.4 else ""
    if mark.kind == "bait":
        word = rng.choice(("SHAD", "SHAD", "BAIT", "BALL", "POD"))
        name = word if rng.random() < 0.12 else "%s %.0fFT" % (word, mark.fish_ft)
        if rng.random() < 0.06:
            name = "SHAD BALL %.0fFT" % mark.fish_ft
    elif mark.kind == "gamefish":
        word = rng.choice(("LMB", "BASS", "HYB"))
        roll = rng.random()
        name = "%s %.0fFT" % (word, mark.fish_ft) if roll < 0.7 else "%s %dLB" % (word, rng.randint(2, 6)) if roll < 0.85 else word
    else:
        name = "%s %.0fFT" % (mark.thing, mark.water_ft) if rng.random() < 0.75 else mark.thing
    return name[:10].strip(), cmt


def bravo_words(mark, rng):
    """Name and comment on the bow unit: small letters, longer."""
    cmt = ""
    if mark.kind == "bait":
        word = rng.choice(("bait", "shad", "shad ball", "bait cloud"))
        roll = rng.random()
        name = "%s %.0f ft" % (word, mark.fish_ft) if roll < 0.62 else word
        if 0.62 <= roll < 0.85:
            cmt = "at %.0f ft" % mark.fish_ft
    elif mark.kind == "gamefish":
        name = rng.choice(("bass", "largemouth", "hybrid")) + (" %.0f ft" % mark.fish_ft if rng.random() < 0.7 else "")
    else:
        name = {"BRUSH": "brush pile", "TREE": "tree top", "POINT": "point", "HUMP": "hump", "LEDGE": "ledge", "STUMP": "stump",
                "ROCK": "rock"}[mark.thing]
    return name, cmt


def alpha_record(mark, rng):
    name, cmt = alpha_words(mark, rng)
    sym = {"bait": "ring", "gamefish": "ring", "hazard": "cross"}.get(mark.kind, "square")
    return Record(stamp(mark.when), utf8(alpha_wpt(mark.x, mark.y, alpha_time(mark.when), name, cmt, sym=sym)), name)


def bravo_record(mark, rng):
    name, cmt = bravo_words(mark, rng)
    temp = "%.1f" % (celsius(mark.temp_f) + BRAVO_WARM_C)
    body = bravo_wpt(mark.x, mark.y, bravo_time(mark.when), name, cmt, depth_m="%.1f" % (mark.water_ft * FT), temp_c=temp)
    return Record(stamp(mark.when), utf8(body), name)


def alpha_track(outing):
    points = "".join('<trkpt lat="%.5f" lon="%.5f"><time>%s</time></trkpt>\n' % (*to_degrees(x, y)[::-1], alpha_time(t))
                     for t, x, y in outing.line)
    return Record(stamp(outing.line[0][0]), utf8("<trk><name>%s</name><trkseg>\n%s</trkseg></trk>\n" % (outing.ramp.upper()[:10], points)))


def bravo_track(lake, outing, level_ft, full_pool_ft):
    rows = []
    for t, x, y in outing.line:
        depth = max(2.0, lake.bottom_ft(x, y) - (full_pool_ft - level_ft)) * FT
        rows.append('<trkpt lat="%.5f" lon="%.5f"><time>%s</time><extensions><bow:depth>%.1f</bow:depth></extensions></trkpt>\n'
                    % (*to_degrees(x, y)[::-1], bravo_time(t), depth))
    return Record(stamp(outing.line[0][0]), utf8("<trk><name>%s</name><trkseg>\n%s</trkseg></trk>\n" % (outing.ramp, "".join(rows))))


# ---- whole files -----------------------------------------------------------------------------------------------

def gpx_10(records, tracks, encoding="UTF-8"):
    head = ('<?xml version="1.0" encoding="%s"?>\n<gpx version="1.0" creator="invented console alpha" '
            'xmlns="http://www.topografix.com/GPX/1/0">\n' % encoding)
    return utf8(head) + b"".join(r.body for r in records) + b"".join(t.body for t in tracks) + b"</gpx>\n"


def gpx_11(records, tracks):
    head = ('<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="invented bow unit bravo" '
            'xmlns="http://www.topografix.com/GPX/1/1" xmlns:bow="%s">\n' % BOW_NAMESPACE)
    return utf8(head) + b"".join(r.body for r in records) + b"".join(t.body for t in tracks) + b"</gpx>\n"


def minutes(degrees, letters):
    """Degrees and decimal minutes with two places and a decimal comma: `36 01,25 N`."""
    hundredths = round(abs(degrees) * 6000)
    whole, rest = divmod(hundredths, 6000)
    return ("%d %05.2f %s" % (whole, rest / 100, letters[degrees < 0])).replace(".", ",")


BOOK_HEADER = "Date;Time;What;Lat;Lon;Fish depth ft;Bottom ft;Water temp F;Note\n"


GUEST_HEADER = "Date,Time,What,Lat,Lon,Fish depth ft,Bottom ft\n"


def number(value, places=0):
    return "" if value is None else ("%.*f" % (places, value)).replace(".", ",")


def book_row(mark, note="", lat=None, lon=None):
    at = local(mark.when)
    word = {"bait": "shad", "gamefish": "bass"}.get(mark.kind, mark.thing.lower())
    degrees = to_degrees(mark.x, mark.y)
    cells = [at.strftime("%d/%m/%Y"), at.strftime("%H:%M"), word, lat or minutes(degrees[1], "NS"), lon or minutes(degrees[0], "EW"),
             number(mark.fish_ft), number(mark.water_ft), number(mark.temp_f, 1), note]
    return Record(stamp(mark.when), utf8(";".join(cells) + "\n"), word)
