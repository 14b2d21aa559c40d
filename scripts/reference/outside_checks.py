"""Judges GPX, GeoJSON, GeoPackage and CSV below the given folders with lxml, shapely, GDAL and its validator of
GeoPackages, geopandas and two GeoJSON validators.

Called by scripts/outside-checks. First the judges are judged: each must refuse the broken cases of
fixtures/reference/geojson that its column in validators.csv says it refuses, and the faults planted here into a
good file; so a check that cannot fail is a failure.
"""

import base64
import csv
import hashlib
import json
import math
import sqlite3
import subprocess
import sys
import tempfile
import warnings
from decimal import Decimal
from pathlib import Path

import geopandas
import numpy
import pandas
import pyogrio
import shapely
from lxml import etree, html
from osgeo_utils.samples import validate_gpkg

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


# GeoPackage


# What a column of a GeoPackage may be where GDAL reads a property of GeoJSON as this.
GPKG_TYPES = {
    "OFTInteger": {"OFTInteger64", "OFTReal"},
    "OFTInteger64": {"OFTInteger64", "OFTReal"},
    "OFTReal": {"OFTReal"},
    "OFTDate": {"OFTDate"},
    "OFTDateTime": {"OFTDateTime"},
    "OFTString": {"OFTString"},
    # Lists are JSON text.
    "OFTIntegerList": {"OFTString"},
    "OFTInteger64List": {"OFTString"},
    "OFTStringList": {"OFTString"},
}
DEGREES = 1e-7


def gpkg_faults(path):
    """Faults by GDAL's validator, by SQLite, and against the GeoJSON files beside it, read by GDAL both."""
    with sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True) as database:
        if database.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            yield "SQLite finds it damaged"
        if database.execute("PRAGMA foreign_key_check").fetchall():
            yield "a foreign key points nowhere"
        for table, about in database.execute("SELECT table_name, description FROM gpkg_contents").fetchall():
            if "not for navigation" not in about.lower():
                yield f"the description of {table} does not carry the caution"
            features, boxes, both = (
                database.execute(sql).fetchone()[0]
                for sql in (
                    f'SELECT count(*) FROM "{table}"',
                    f'SELECT count(*) FROM "rtree_{table}_geom"',
                    f'SELECT count(*) FROM "{table}" JOIN "rtree_{table}_geom" AS box ON box.id = fid',
                )
            )
            if not features == boxes == both:
                yield f"{table}: {features} features, {boxes} boxes in the R-tree, {both} of them theirs"
    for fault in validate_gpkg.check(str(path), abort_at_first_error=False) or []:
        yield f"GDAL's validator: {fault}"
    beside = {file.stem: file for file in path.parent.glob("*.geojson")}
    tables = {name: kind for name, kind in pyogrio.list_layers(path)}
    if set(tables) != set(beside):
        yield f"layers {sorted(tables)}, files {sorted(beside)}"
    for name in sorted(set(tables) & set(beside)):
        yield from (f"{name}: {fault}" for fault in gpkg_layer_faults(path, name, beside[name]))


def gpkg_layer_faults(path, name, geojson):
    """A table against its GeoJSON: fields and types, then geometry and values by id."""
    ours, theirs = pyogrio.read_info(path, layer=name), pyogrio.read_info(geojson)
    if ours["features"] != theirs["features"]:
        yield f"{ours['features']} features, the GeoJSON has {theirs['features']}"
        return
    if not ours["features"]:
        return
    hints = ("marker-", "stroke", "fill")
    types = dict(zip(theirs["fields"], theirs["ogr_types"]))
    types = {field: kind for field, kind in types.items() if not field.startswith(hints)}
    if list(types) != list(ours["fields"]):
        yield f"fields {list(ours['fields'])}, the GeoJSON has {list(types)}"
        return
    if ours["geometry_type"] != theirs["geometry_type"]:
        yield f"{ours['geometry_type']}, the GeoJSON has {theirs['geometry_type']}"
    table, layer = geopandas.read_file(path, layer=name), geopandas.read_file(geojson)
    for field, kind in zip(ours["fields"], ours["ogr_types"]):
        # A column of nulls tells GDAL no type in GeoJSON.
        if kind not in GPKG_TYPES[types[field]] and not layer[field].isna().all():
            yield f"`{field}` is {kind}, in the GeoJSON {types[field]}"
    if not (table.crs == layer.crs == "EPSG:4326"):
        yield f"reference systems {table.crs}, {layer.crs}"
    if list(table["id"]) != list(layer["id"]):
        yield "ids or their order differ"
        return
    apart = shapely.hausdorff_distance(table.geometry.values, layer.geometry.values)
    if not (apart <= DEGREES).all():
        yield f"geometries lie {apart.max()} degrees apart"
    for field in types:
        for row, (a, b) in enumerate(zip(table[field], layer[field])):
            if not same_value(a, b):
                yield f"row {row}: `{field}` is {a!r}, in the GeoJSON {b!r}"


def same_value(a, b):
    if isinstance(b, (list, numpy.ndarray)):
        return list(json.loads(a) if isinstance(a, str) else a) == list(b)
    if pandas.isna(a) or pandas.isna(b):
        return bool(pandas.isna(a) and pandas.isna(b))
    if isinstance(a, pandas.Timestamp) and isinstance(b, pandas.Timestamp):
        return pandas.to_datetime(a, utc=True) == pandas.to_datetime(b, utc=True)
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return math.isclose(a, b, rel_tol=0, abs_tol=1e-9)
    return str(a) == str(b)


# What is planted into a GeoPackage: SQL, and a word of the refusal that it must meet. Triggers are away meanwhile,
# because SQLite alone lacks the functions in them.
GPKG_FAULTS = {
    "a row without a box": ("DELETE FROM rtree_marks_geom WHERE id = 1", "boxes in the R-tree"),
    "a row too few": ("DELETE FROM marks WHERE fid = 2; DELETE FROM rtree_marks_geom WHERE id = 2", "the GeoJSON has"),
    "a value changed": ("UPDATE marks SET kind = 'x' WHERE fid = 1", "`kind` is 'x'"),
    "another type": ("UPDATE gpkg_geometry_columns SET geometry_type_name = 'LINESTRING' WHERE table_name = 'marks'", "validator"),
    "no caution": ("UPDATE gpkg_contents SET description = 'fine' WHERE table_name = 'marks'", "caution"),
    "no application id": ("PRAGMA application_id = 1", "validator"),
    "a time of the wrong form": ("UPDATE gpkg_contents SET last_change = 'yesterday'", "last_change"),
    "a reference system that is not there": ("PRAGMA foreign_keys = OFF; UPDATE gpkg_contents SET srs_id = 7 WHERE table_name = 'marks'", "foreign key"),
}


def judge_gpkg(account, path):
    account.check(f"{path}: GDAL's validator, R-tree, as the GeoJSON", refusals(lambda: gpkg_faults(path)))
    if not pyogrio.read_info(path, layer="marks")["features"]:
        return
    for name, (sql, word) in GPKG_FAULTS.items():
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / path.name
            for file in [path, *path.parent.glob("*.geojson")]:
                (Path(folder) / file.name).write_bytes(file.read_bytes())
            with sqlite3.connect(copy) as database:
                triggers = database.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
                for trigger, _ in triggers:
                    database.execute(f'DROP TRIGGER "{trigger}"')
                database.executescript(sql)
                for _, again in triggers:
                    database.execute(again)
            with warnings.catch_warnings(action="ignore"):  # GDAL warns of what is planted
                found = refusals(lambda: gpkg_faults(copy))
        named = any(word in fault for fault in found)
        account.check(f"planted in {path}: {name}", [] if named else [f"`{word}` is not in {found}"])


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


def wkt_faults(path):
    """Geometries of the column `wkt`: valid by GEOS, at `lon`, `lat` where they are points, and seen by GDAL."""
    with open(path, encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    if not table or "wkt" not in table[0]:
        return
    shapes = shapely.from_wkt([row["wkt"] for row in table])
    for number, (row, shape) in enumerate(zip(table, shapes), 2):
        if not shape.is_valid or shape.is_empty:
            yield f"row {number}: {shapely.is_valid_reason(shape)}"
        if shape.geom_type == "Point" and (shape.x, shape.y) != (float(row["lon"]), float(row["lat"])):
            yield f"row {number}: {row['wkt']} is not at {row['lon']}, {row['lat']}"
    seen = pyogrio.read_info(path, force_total_bounds=True)
    if seen["geometry_type"] is None or seen["features"] != len(table):
        yield f"GDAL takes it for {seen['features']} features of {seen['geometry_type']}"


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
        if [name for name in header if name not in ("lon", "lat", "wkt")] != told:
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
    "a cell too many": ("bait,shad,", "bait,shad,,", "21 cells"),
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
    for path in tables:
        account.check(f"{path}: wkt", refusals(lambda: wkt_faults(path)))
    packages_of_layers = sorted(folder.rglob("*.gpkg"))
    for path in packages_of_layers:
        judge_gpkg(account, path)
    if not packages_of_layers and (folder / "summary.json").exists():
        account.check(f"{folder}: a GeoPackage", ["there is none"])
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
