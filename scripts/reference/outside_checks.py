"""Judges GPX, GeoJSON and CSV below the given folders with lxml, shapely, GDAL and two GeoJSON validators.

Called by scripts/outside-checks. First the judges are judged: each must refuse the broken cases of
fixtures/reference/geojson that its column in validators.csv says it refuses, and the faults planted here into a
good file; so a check that cannot fail is a failure.
"""

import base64
import csv
import hashlib
import json
import math
import subprocess
import sys
import tempfile
from decimal import Decimal
from pathlib import Path

import pyogrio
import shapely
from lxml import etree, html

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
CASES = ROOT / "fixtures/reference/geojson"
SCHEMA = ROOT / "fixtures/reference/gpx/schema/gpx-1.1.xsd"
GOOD = ROOT / "fixtures/layers/us"
GPX = "{http://www.topografix.com/GPX/1/1}"
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")

# Table -> layers whose features it must have as rows.
SAME_COUNT = {
    "marks": ["marks"],
    "sightings": ["sightings"],
    "areas": ["areas", "area-centres"],
    "movement": ["movement-days"],
    "prefish": ["prefish-stops"],
}

# Layers that must lie in water where `shoreline.geojson` stands beside the folder.
WATER_ONLY = ["movement", "movement-days"]


class Account:
    """Counts checks and prints a line a check."""

    def __init__(self):
        self.done = 0
        self.failed = 0

    def check(self, what, faults):
        self.done += 1
        if faults:
            self.failed += 1
            print(f"FAIL {what}: {'; '.join(str(fault) for fault in list(faults)[:3])}")
        else:
            print(f"ok   {what}")


# GeoJSON


def verdicts(packages, files):
    """Messages of check-geojson and geojsonhint a file."""
    if not files:
        return {}
    command = ["node", str(HERE / "geojson_verdicts.cjs"), packages, *map(str, files)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def load(path):
    """The file as strict JSON with numbers as they are written."""

    def refuse(word):
        raise ValueError(f"`{word}` is no JSON number")

    def once(members):
        if len(dict(members)) < len(members):
            raise ValueError(f"a member stands twice in {[key for key, _ in members]}")
        return dict(members)

    text = Path(path).read_text("utf-8")
    return json.loads(
        text, parse_float=Decimal, parse_int=Decimal, parse_constant=refuse, object_pairs_hook=once
    )


def positions(coordinates):
    """All positions of a coordinates array."""
    if coordinates and isinstance(coordinates[0], list):
        for part in coordinates:
            yield from positions(part)
    elif coordinates:
        yield coordinates


def twice_area(ring):
    """Twice the signed area of a ring; positive is counter-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:]))


def polygons(geometry):
    return {"Polygon": [geometry["coordinates"]], "MultiPolygon": geometry["coordinates"]}.get(geometry["type"], [])


def has_crs(value):
    if isinstance(value, dict):
        return "crs" in value or any(has_crs(v) for k, v in value.items() if k != "properties")
    return isinstance(value, list) and any(has_crs(part) for part in value)


def rfc_faults(layer):
    """What RFC 7946 says and the validators let through."""
    if has_crs(layer):
        yield "a `crs` member (RFC 7946, 4)"
    west = south = east = north = None
    for feature in layer["features"]:
        geometry = feature["geometry"]
        if geometry is None:
            continue
        for position in positions(geometry["coordinates"]):
            if len(position) < 2 or not all(isinstance(n, Decimal) for n in position):
                yield f"`{position}` is no position"
                continue
            lon, lat = position[:2]
            if not (-180 <= lon <= 180 and -90 <= lat <= 90):
                yield f"`{lon}, {lat}` lies outside the earth's range"
            if any("E" in str(n) or -n.as_tuple().exponent > 7 for n in position):
                yield f"`{lon}, {lat}` has more than 7 decimals"
            west, east = (lon, lon) if west is None else (min(west, lon), max(east, lon))
            south, north = (lat, lat) if south is None else (min(south, lat), max(north, lat))
        for rings in polygons(geometry):
            for number, ring in enumerate(rings):
                if (twice_area(ring) > 0) != (number == 0):
                    yield "a ring is wound against the right-hand rule (RFC 7946, 3.1.6)"
    bbox = layer.get("bbox")
    if bbox is not None and bbox != [west, south, east, north]:
        yield f"bbox {bbox} is not that of the data, {[west, south, east, north]}"


def own_faults(layer):
    """What our own layers promise beyond the RFC."""
    for member in ("generator", "caution", "units"):
        if not layer.get(member):
            yield f"no `{member}`"
    if "not for navigation" not in str(layer.get("caution")).lower():
        yield "the caution does not say that it is not for navigation"
    features = layer["features"]
    if features and "bbox" not in layer:
        yield "no `bbox`"
    ids = [feature.get("id") for feature in features]
    if None in ids or len(set(ids)) < len(ids):
        yield "ids are missing or not unique"
    keys = {tuple(feature["properties"]) for feature in features}
    if len(keys) > 1:
        yield "features have different properties"
    if any(feature["properties"].get("id") != feature.get("id") for feature in features):
        yield "a feature's property `id` is not its id"
    if any(feature["geometry"] is None for feature in features):
        yield "a feature has no place"


def shape_faults(layer):
    """Geometries that shapely (GEOS) finds invalid or empty."""
    for feature in layer["features"]:
        if feature["geometry"] is not None:
            shape = shapely.from_geojson(json.dumps(feature["geometry"], default=float))
            if shape is None or shape.is_empty or not shape.is_valid:
                yield shapely.is_valid_reason(shape) if shape is not None else "no geometry"


def gdal_faults(path, layer):
    """Whether GDAL opens it and sees as many features, the same bounds and the same fields."""
    features = layer["features"]
    info = pyogrio.read_info(path, force_feature_count=True, force_total_bounds=True)
    if info["features"] != len(features):
        yield f"GDAL counts {info['features']} features, the file holds {len(features)}"
    if features:
        missing = set(features[0]["properties"]) - set(info["fields"])
        if missing:
            yield f"GDAL sees no field {sorted(missing)}"
        if tuple(map(float, layer["bbox"])) != tuple(info["total_bounds"]):
            yield f"GDAL's bounds are {info['total_bounds']}"


def refusals(judge):
    """Faults that a judge finds; an exception is one."""
    found = []
    try:
        found.extend(judge())  # keeps what was found before an exception
    except Exception as error:  # whatever stops a reader is a refusal
        found.append(f"{type(error).__name__}: {error}")
    return found


# GPX


def gpx_faults(path, schema=etree.XMLSchema(etree.parse(str(SCHEMA)))):
    """Faults by the GPX 1.1 schema, and what our files promise beyond it."""
    tree = etree.parse(str(path), etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    if not schema.validate(tree):
        yield from (f"line {error.line}: {error.message}" for error in schema.error_log)
    caution = tree.findtext(f"{GPX}metadata/{GPX}desc") or ""
    if "not for navigation" not in caution.lower():
        yield "metadata desc does not carry the caution"
    if Path(path).parent.name == "boat":
        names = [wpt.findtext(f"{GPX}name") or "" for wpt in tree.iter(f"{GPX}wpt")]
        if len(set(names)) < len(names) or not all(name.isascii() and name for name in names):
            yield "waypoint names for the boat are not ASCII or not unique"
    marks = sum(1 for _ in tree.iter(f"{GPX}wpt"))
    if marks:
        seen = pyogrio.read_info(path, layer="waypoints", force_feature_count=True)["features"]
        if seen != marks:
            yield f"GDAL counts {seen} waypoints, the file holds {marks}"


# CSV


def rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.reader(file, strict=True))


def csv_faults(path):
    """Ragged rows, bare line feeds as row ends, and cells that a spreadsheet would run."""
    header, *body = rows(path)
    if not Path(path).read_bytes().endswith(b"\r\n"):
        yield "rows do not end in CRLF (RFC 4180, 2.1)"
    for number, row in enumerate(body, 2):
        if len(row) != len(header):
            yield f"row {number} has {len(row)} cells, the header {len(header)}"
        for name, cell in zip(header, row):
            if cell.startswith(FORMULA) and not is_number(cell):
                yield f"row {number}: `{name}` would run as a formula"


def is_number(text):
    try:
        return float(text) == float(text)
    except ValueError:
        return False


def pair_faults(table, layer_path):
    """A table must have a row a feature and a column a property."""
    layer = load(layer_path)
    header, *body = rows(table)
    if len(body) != len(layer["features"]):
        yield f"{len(body)} rows, {len(layer['features'])} features"
    hints = ("marker-", "stroke", "fill-", "fill")
    for feature in layer["features"][:1]:
        told = [key for key in feature["properties"] if not (key in hints or key.startswith(hints[:3]))]
        if [name for name in header if name not in ("lon", "lat")] != told:
            yield f"columns {header} are not the properties {told}"


def pairing_faults(folder):
    """Rows of the pairing table against the layers: the thing named, and in a whole run the nearest of the other kind."""
    sightings = [f for f in load(folder / "layers/sightings.geojson")["features"]]
    marks = [f for f in load(folder / "layers/marks.geojson")["features"]]
    bait = {f["id"]: f for f in sightings if f["properties"]["kind"] == "bait"}
    gamefish = {f["id"]: f for f in marks if f["properties"]["kind"] == "gamefish"}
    by_day = {"bait": {}, "gamefish": {}}
    for kind, things, day in (("bait", bait, "outing"), ("gamefish", gamefish, "local_date")):
        for thing in things.values():
            by_day[kind].setdefault(thing["properties"][day], []).append(thing)
    with open(folder / "tables/pairing.csv", encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    for number, row in enumerate(table, 2):
        kind, other = row["kind"], "gamefish" if row["kind"] == "bait" else "bait"
        thing = {"bait": bait, "gamefish": gamefish}[kind].get(row["id"])
        if thing is None or row["list"] != f"{kind}-without-{other}":
            yield f"row {number}: `{row['id']}` is no {kind} of the layers"
            continue
        if row["outing"] not in (thing["properties"].get("outing"), thing["properties"].get("local_date")):
            yield f"row {number}: outing {row['outing']}"
        if not (folder / "summary.json").exists():
            continue  # hand-made cases hold no outing with both
        unit = next(name for name in row if name.startswith("nearest_"))
        metres = {"nearest_ft": 0.3048, "nearest_m": 1.0}[unit]
        distances = [haversine_m(thing, there) for there in by_day[other].get(row["outing"], [])]
        told = float(row[unit]) * metres if row[unit] else None
        # A sphere is good to 0.6 %, and the table has whole feet or metres.
        if (told is None) != (not distances) or distances and abs(told - min(distances)) > 1 + 0.006 * told:
            yield f"row {number}: nearest {told}, by the layers {min(distances, default=None)}"


def haversine_m(a, b):
    """Metres between two point features on a sphere of 6371008.8 m."""
    (x1, y1), (x2, y2) = ([math.radians(c) for c in f["geometry"]["coordinates"]] for f in (a, b))
    h = math.sin((y2 - y1) / 2) ** 2 + math.cos(y1) * math.cos(y2) * math.sin((x2 - x1) / 2) ** 2
    return 2 * 6371008.8 * math.asin(math.sqrt(h))


def land_faults(layer, water):
    """Vertices and segments of a layer that leave the water (a geometry of shapely) by more than the layers' rounding."""
    hair = 2e-7  # two units of the seventh decimal: 2 cm
    afloat = water.buffer(hair)
    for feature in layer["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"], default=float))
        if not afloat.covers(shape):
            yield f"{feature['id']} leaves the water: {shapely.length(shape.difference(afloat)):.7f} degrees of it"


def sheet_faults(text):
    """What the sheet for the boat promises: it loads and runs nothing, and its policy names its own style."""
    page = html.document_fromstring(text)
    policy = "".join(page.xpath("//meta[@http-equiv='Content-Security-Policy']/@content"))
    styles = page.xpath("//style/text()")
    digests = [base64.b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in styles]
    if not policy.startswith("default-src 'none'; ") or "unsafe" in policy:
        yield f"the policy is `{policy}`"
    if len(digests) != 1 or f"style-src 'sha256-{digests[0]}'" not in policy:
        yield f"the policy does not name the style's hash {digests}"
    for element in page.iter(etree.Element):
        if element.tag in ("script", "img", "link", "iframe", "object", "embed", "a", "form"):
            yield f"an element `{element.tag}`"
        loaded = [name for name in element.attrib if name in ("src", "href", "style") or name.startswith("on")]
        if loaded:
            yield f"`{element.tag}` has {loaded}"
    if any(word in style for style in styles for word in ("url(", "@import")):
        yield "the style loads something"
    if "not for navigation" not in page.text_content().lower():
        yield "the caution is missing"


SHEET_FAULTS = {
    "a script": ("</h1>", "</h1><script>1</script>", "an element `script`"),
    "a handler": ("<section>", '<section onclick="1">', "has ['onclick']"),
    "another style": ("color: #000", "color: #111", "hash"),
    "a loose policy": ("default-src 'none'", "default-src *", "the policy is"),
}


def judge_sheet(account, path):
    text = path.read_text("utf-8")
    account.check(f"{path}: loads and runs nothing", refusals(lambda: sheet_faults(text)))
    for name, (old, new, word) in SHEET_FAULTS.items():
        found = refusals(lambda: sheet_faults(text.replace(old, new)))
        named = old in text and any(word in fault for fault in found)
        account.check(f"planted in {path.name}: {name}", [] if named else [f"`{word}` is not in {found}"])


def judge_legs(account, path, shoreline):
    """Legs against the lake's shoreline, and a leg that crosses it."""
    water = shapely.union_all([shapely.from_geojson(json.dumps(f["geometry"], default=float)) for f in load(shoreline)["features"]])
    layer = load(path)
    account.check(f"{path}: no leg on land", refusals(lambda: land_faults(layer, water)))
    west, south, east, north = water.bounds
    away = {"features": [{"id": "x", "geometry": {"type": "LineString", "coordinates": [[west, south], [east + 0.1, north + 0.1]]}}]}
    account.check("planted: a leg over land", [] if refusals(lambda: land_faults(away, water)) else ["it is not seen"])


# The run


def judge_the_judges(account, packages):
    """Each judge must refuse what it is known to refuse, and nothing else."""
    with open(CASES / "validators.csv", encoding="utf-8", newline="") as file:
        cases = list(csv.DictReader(file))
    files = {row["case"]: CASES / f"{row['case']}.geojson" for row in cases}
    seen = verdicts(packages, files.values())
    for row in cases:
        path = files[row["case"]]
        faults = []
        for judge, column in (
            ("check-geojson", "check-geojson_0.1.14"),
            ("geojsonhint", "geojsonhint_3.3.0"),
        ):
            refused = bool(seen[str(path)][judge])
            if refused != (row[column] != "ok"):
                faults.append(f"{judge} says {seen[str(path)][judge]}, known: {row[column]}")
        refused = bool(refusals(lambda: shape_faults(json.loads(path.read_text()))))
        if row["shapely_2.2.0_is_valid"] == "invalid" and not refused:
            faults.append("shapely takes it for valid")
        valid = row["case"] in ("01_valid", "17_geometry_null", "21_empty_featurecollection", "29_foreign_member")
        anybody = any(seen[str(path)].values()) or refused or bool(refusals(lambda: rfc_faults(load(path))))
        if anybody == valid:
            faults.append("a valid file is refused" if valid else "nobody refuses it")
        account.check(f"judges on {path.name}", faults)
    plant(account, "layers/areas.geojson", LAYER_FAULTS, lambda path: layer_refusals(path))
    areas = load(GOOD / "layers/areas.geojson")
    areas["features"].pop()
    found = refusals(lambda: gdal_faults(GOOD / "layers/areas.geojson", areas))
    account.check("GDAL sees a feature more than was counted", [] if found else ["it does not"])
    plant(account, "boat/areas.gpx", GPX_FAULTS, lambda path: refusals(lambda: gpx_faults(path)))
    plant(account, "tables/marks.csv", CSV_FAULTS, lambda path: refusals(lambda: csv_faults(path)))
    marks = GOOD / "layers/marks.geojson"
    plant(account, "tables/pairing.csv", PAIRING_FAULTS, lambda path: refusals(lambda: pairing_copy_faults(path)))
    plant(account, "tables/marks.csv", PAIR_FAULTS, lambda path: refusals(lambda: pair_faults(path, marks)))


# What is planted: text, what it becomes, and a word of the refusal that it must meet.
LAYER_FAULTS = {
    "a crs": ('"features":', '"crs":null,"features":', "`crs`"),
    "latitude and longitude swapped": ("[-56.0,36.0]", "[36.0,-156.0]", "range"),
    "eight decimals": ("[-55.996,36.003]", "[-55.99600001,36.003]", "7 decimals"),
    "a bbox too small": ('"bbox":[-56.0', '"bbox":[-55.999', "is not that of the data"),
    "a bbox in the wrong order": ('"bbox":[-56.0,36.0', '"bbox":[36.0,-56.0', "is not that of the data"),
    "one id twice": ("a-36tgzqdny76", "a-mz2ksxrzkcy", "not unique"),
    "an id that is not the property": ('"id":"a-36tgzqdny76","kind"', '"id":"x","kind"', "is not its id"),
    "a clockwise ring": (
        "[-56.0,36.0],[-55.996,36.0],[-55.996,36.003],[-56.0,36.003],[-56.0,36.0]",
        "[-56.0,36.0],[-56.0,36.003],[-55.996,36.003],[-55.996,36.0],[-56.0,36.0]",
        "right-hand rule",
    ),
    "a ring that crosses itself": (
        "[-56.0,36.0],[-55.996,36.0],[-55.996,36.003],[-56.0,36.003],[-56.0,36.0]",
        "[-56.0,36.0],[-55.996,36.0],[-56.0,36.003],[-55.996,36.003],[-56.0,36.0]",
        "Self-intersection",
    ),
    "NaN": ('"radius_ft":497', '"radius_ft":NaN', "no JSON number"),
    "a member twice": ('"kind":"gamefish"', '"kind":"gamefish","kind":"bait"', "stands twice"),
    "no caution": ('"caution":', '"warning":', "no `caution`"),
    "another caution": ("Not for navigation", "Fine for navigation", "does not say"),
    "a property missing": ('"kind":"gamefish",', "", "different properties"),
    "no bbox": ('"bbox":', '"box":', "no `bbox`"),
    "no geometry": ('"geometry":{', '"geometry":null,"was":{', "no place"),
}
GPX_FAULTS = {
    "longitude 180": ('lon="-55.998"', 'lon="180"', "'180'"),
    "children out of order": ("<type>gamefish</type>", "<type>gamefish</type><name>x</name>", "name"),
    "no creator": ("creator=", "author=", "'creator' is required"),
    "an element of nobody's": ("<type>bait</type>", "<type>bait</type><depth>3</depth>", "depth"),
    "a control character": ("<type>bait", "<type>\x01bait", "XMLSyntaxError"),
    "one name twice": ("G01 DEC", "B01 22FT OCT", "not unique"),
    "no caution": ("Not for navigation. ", "", "caution"),
}
CSV_FAULTS = {
    "a formula": (",SHAD 27FT", ",=SHAD 27FT", "formula"),
    "a cell too many": ("bait,shad,", "bait,shad,,", "20 cells"),
    "bare line feeds": ("\r\n", "\n", "CRLF"),
}
PAIRING_FAULTS = {
    "a sighting of another kind": (",bait-without-gamefish,bait,", ",gamefish-without-bait,gamefish,", "is no gamefish"),
    "another outing": ("2023-10-06", "2023-10-07", "outing"),
}
PAIR_FAULTS = {
    "a row too many": ("\r\n", "\r\nx\r\n", "37 rows"),
    "a column renamed": ("local_date", "date", "are not the properties"),
}


def pairing_copy_faults(table):
    """The pairing table of a copy beside the good layers."""
    folder = table.parent.parent
    if folder == GOOD:
        return list(pairing_faults(folder))
    (folder / "layers").mkdir(exist_ok=True)
    for name in ("sightings.geojson", "marks.geojson"):
        (folder / "layers" / name).write_bytes((GOOD / "layers" / name).read_bytes())
    return list(pairing_faults(folder))


def plant(account, good, faults, judge):
    """Plants each fault into a good file; the judge must name it."""
    text = (GOOD / good).read_bytes().decode()
    account.check(f"{good} as it is", judge(GOOD / good))
    for name, (old, new, word) in faults.items():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / good
            path.parent.mkdir()
            path.write_bytes(text.replace(old, new).encode())
            found = judge(path)
        named = old in text and any(word in fault for fault in found)
        account.check(f"planted in {good}: {name}", [] if named else [f"`{word}` is not in {found}"])


def layer_refusals(path):
    """Faults found without the validators of geojson_verdicts.cjs, which have cases of their own."""

    def judge():
        layer = load(path)
        yield from rfc_faults(layer)
        yield from own_faults(layer)
        yield from shape_faults(layer)
        yield from gdal_faults(path, layer)

    return refusals(judge)


def judge_folder(account, packages, folder):
    layers = sorted(folder.rglob("*.geojson"))
    seen = verdicts(packages, layers)
    for path in layers:
        for judge, found in seen[str(path)].items():
            account.check(f"{path}: {judge}", found)
        try:
            layer = load(path)
        except ValueError as error:
            account.check(f"{path}: strict JSON", [error])
            continue
        account.check(f"{path}: RFC 7946", refusals(lambda: rfc_faults(layer)))
        account.check(f"{path}: our own promises", refusals(lambda: own_faults(layer)))
        account.check(f"{path}: shapely", refusals(lambda: shape_faults(layer)))
        account.check(f"{path}: GDAL, {len(layer['features'])} features", refusals(lambda: gdal_faults(path, layer)))
    shoreline = folder.parent / "shoreline.geojson"
    if shoreline.exists():
        shapes = [json.dumps(f["geometry"]) for f in json.loads(shoreline.read_text("utf-8"))["features"]]
        water = shapely.union_all(shapely.from_geojson(shapes))
        for name in WATER_ONLY:
            path = folder / "layers" / f"{name}.geojson"
            # A whole run has them all; `prefish` stops before movement.
            if not path.exists() and folder.name != "out":
                continue
            account.check(f"{path}: in water", refusals(lambda: land_faults(load(path), water)))
            # The same layer 300 m to the north must be refused, or the check cannot fail.
            moved = shapely.transform(water, lambda at: at - [0, 0.003])
            found = refusals(lambda: land_faults(load(path), moved))
            account.check(f"planted in {path}: water 300 m to the south", [] if found else ["nobody refuses it"])
    boats = sorted(folder.rglob("*.gpx"))
    for path in boats:
        account.check(f"{path}: GPX 1.1 schema, GDAL", refusals(lambda: gpx_faults(path)))
    tables = sorted(folder.rglob("*.csv"))
    for path in tables:
        account.check(f"{path}: RFC 4180, no formula", refusals(lambda: csv_faults(path)))
        for layer in SAME_COUNT.get(path.stem, []) if path.parent.name == "tables" else []:
            layer = path.parent.parent / "layers" / f"{layer}.geojson"
            account.check(f"{path}: as {layer.name}", refusals(lambda: pair_faults(path, layer)))
    for path in sorted(folder.rglob("pairing.csv")):
        account.check(f"{path}: against the layers", refusals(lambda: pairing_faults(path.parent.parent)))
    for path in sorted(folder.rglob("prefish-sheet.html")):
        judge_sheet(account, path)
    for path in sorted(folder.rglob("prefish-legs.geojson")):
        shoreline = path.parent.parent.parent / "shoreline.geojson"
        if shoreline.exists():
            judge_legs(account, path, shoreline)
    account.check(f"{folder}: something to check", [] if layers or boats or tables else ["no file found"])


def main(packages, folders):
    gdal = ".".join(map(str, pyogrio.__gdal_version__))
    geos = ".".join(map(str, shapely.geos_version))
    libxml = ".".join(map(str, etree.LIBXML_VERSION))
    print(f"judges: GDAL {gdal}, GEOS {geos}, libxml2 {libxml}, check-geojson 0.1.14, geojsonhint 3.3.0, RFC 7946 as read here")
    account = Account()
    judge_the_judges(account, packages)
    for folder in folders:
        judge_folder(account, packages, Path(folder))
    print(f"outside-checks: {account.done} checks, {account.failed} failed")
    return 1 if account.failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
