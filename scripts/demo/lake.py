"""The invented lake Varnholt: outline, bottom, pool level, surface temperature, sun and clock.

Plane metres east and north of 36.00 N 56.00 W. All of it is made up, in open ocean on purpose.
"""
import heapq
import math
from datetime import date, datetime, timedelta, timezone

LON0, LAT0 = -56.0, 36.0
# Metres per degree at 36 N on WGS 84 (geographiclib 2.1: 110 959.0 and 90 163.7).
M_PER_LAT, M_PER_LON = 110959.0, 90163.7
FULL_POOL_FT = 612.0
FT = 0.3048


def to_degrees(x, y):
    return LON0 + x / M_PER_LON, LAT0 + y / M_PER_LAT


# ---- outline ---------------------------------------------------------------------------------------------------

# Spines: (x, y, half width in metres, depth of the channel at full pool in feet).
MAIN = [(300, -5650, 420, 74), (150, -5000, 620, 72), (420, -4000, 690, 66), (650, -2900, 720, 62), (350, -1700, 640, 58),
        (-150, -600, 700, 54), (-250, 500, 620, 48), (100, 1600, 640, 42), (420, 2700, 560, 36), (330, 3700, 420, 28),
        (-150, 4500, 270, 20), (-100, 5200, 150, 12), (-420, 5800, 70, 6)]
PELLAM = [(-350, 350, 520, 44), (-1100, 480, 400, 38), (-1900, 850, 380, 32), (-2800, 900, 340, 27), (-3300, 1050, 300, 24)]
PELLAM_NORTH = [(-3300, 1050, 280, 24), (-3800, 1700, 230, 18), (-4400, 2050, 170, 13), (-4700, 2650, 110, 9), (-5200, 2950, 50, 5)]
PELLAM_SOUTH = [(-3200, 950, 270, 24), (-3900, 500, 230, 19), (-4600, 420, 160, 13), (-5100, 0, 90, 8), (-5500, -80, 40, 4)]
DRAY = [(700, -2350, 420, 50), (1350, -2280, 170, 40), (1640, -2230, 42, 26), (1900, -2150, 170, 28), (2500, -1900, 300, 27),
        (3150, -2150, 330, 24), (3800, -2000, 290, 20), (4300, -1550, 220, 15), (4900, -1500, 140, 10), (5350, -1150, 55, 5)]
MARROW = [(420, 3100, 380, 30), (1100, 3550, 360, 24), (1750, 3950, 370, 17), (2350, 4500, 290, 12), (2950, 4650, 200, 8), (3350, 5000, 80, 4)]
# Coves: root, tip, half width at the root, depth at the root.
COVES = [((900, -4200), (1900, -4500), 230, 34), ((-150, -4300), (-1150, -3900), 250, 36), ((-1000, -4000), (-1650, -4350), 110, 15),
         ((0, -2900), (-900, -2650), 190, 30), ((-700, -2700), (-1150, -2150), 100, 14), ((1100, -3300), (1750, -3500), 130, 24),
         ((-550, -1100), (-1500, -1300), 200, 30), ((-1300, -1300), (-1750, -900), 100, 13), ((900, -1300), (1500, -900), 150, 26),
         ((350, 300), (1300, 550), 180, 28), ((1000, 450), (1500, 900), 90, 13), ((-300, 1500), (-1050, 1900), 160, 26),
         ((700, 1900), (1500, 1750), 150, 24), ((0, 2900), (-850, 3200), 150, 20), ((-650, 3100), (-900, 3650), 70, 9),
         ((-1900, 1100), (-2100, 1750), 140, 18), ((-2500, 650), (-2650, -50), 150, 18), ((-2800, 1100), (-3050, 1650), 90, 12),
         ((-4300, 400), (-4500, -200), 90, 9), ((-4300, 2100), (-4850, 2050), 70, 7), ((2500, -1700), (2700, -1000), 140, 14),
         ((3300, -2300), (3500, -3050), 150, 14), ((4250, -1750), (4800, -2250), 90, 9), ((4000, -1800), (3950, -1150), 80, 9),
         ((1500, 3900), (1250, 4650), 120, 11), ((2150, 4200), (2750, 3900), 110, 9), ((600, -5100), (1250, -5300), 150, 32)]
ISLANDS = [("Cask", 90, -430, 215, 120, 0.5), ("Little Cask", 20, 1120, 105, 70, -0.4)]
# A causeway across Pellam, open at its south end.
CAUSEWAY = [(-1560, 1420), (-1480, 560), 20]
QUARRY = (3350, 900, 150)


def _segments():
    out = []
    for spine in (MAIN, PELLAM, PELLAM_NORTH, PELLAM_SOUTH, DRAY, MARROW):
        out += list(zip(spine, spine[1:]))
    for (ax, ay), (bx, by), width, depth in COVES:
        mx, my = (ax + bx) / 2 + (by - ay) * 0.12, (ay + by) / 2 - (bx - ax) * 0.12
        out.append(((ax, ay, width, depth), (mx, my, width * 0.62, depth * 0.65)))
        out.append(((mx, my, width * 0.62, depth * 0.65), (bx, by, width * 0.18, depth * 0.2)))
    return out


SEGMENTS = _segments()


def _nearest(x, y, segment):
    (ax, ay, aw, ad), (bx, by, bw, bd) = segment
    dx, dy = bx - ax, by - ay
    t = max(0.0, min(1.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)))
    return math.hypot(x - ax - t * dx, y - ay - t * dy), aw + t * (bw - aw), ad + t * (bd - ad)


def _ripple(x, y):
    """Unevenness of the bank in metres, within about 1."""
    return (math.sin(x / 141 + 1.3 * math.sin(y / 233)) + math.sin(y / 127 - 1.1 * math.sin(x / 197))
            + 0.6 * math.sin((x + y) / 71) + 0.6 * math.sin((x - y) / 83)) / 2.4


def _inside(x, y):
    """Metres inside the bank; negative on land."""
    best = -1e9
    ripple = _ripple(x, y)
    for segment in SEGMENTS:
        dist, half, _ = _nearest(x, y, segment)
        if half - dist > best - 60:
            best = max(best, half - dist + ripple * min(70.0, 0.2 * half))
    for _, cx, cy, rx, ry, turn in ISLANDS:
        c, s = math.cos(turn), math.sin(turn)
        u, v = ((x - cx) * c + (y - cy) * s) / rx, (-(x - cx) * s + (y - cy) * c) / ry
        best = min(best, (math.hypot(u, v) - 1 + 0.12 * ripple) * ry)
    (ax, ay), (bx, by), half = CAUSEWAY
    dist, _, _ = _nearest(x, y, ((ax, ay, 0, 0), (bx, by, 0, 0)))
    best = min(best, dist - half)
    qx, qy, radius = QUARRY
    return max(best, radius * (1 + 0.18 * _ripple(2 * x, 2 * y)) - math.hypot((x - qx) * 0.8, y - qy))


def _rings(step=24):
    """Marching squares on the bank line, water on the left hand."""
    x0, y0, nx, ny = -5900, -6500, int(11700 / step), int(13000 / step)
    value = {}

    def at(i, j):
        if (i, j) not in value:
            value[i, j] = _inside(x0 + i * step, y0 + j * step)
        return value[i, j]

    cells = []
    coarse = 4
    for bi in range(0, nx, coarse):
        for bj in range(0, ny, coarse):
            if abs(_inside(x0 + (bi + coarse / 2) * step, y0 + (bj + coarse / 2) * step)) < coarse * step * 2.2:
                cells += [(i, j) for i in range(bi, bi + coarse) for j in range(bj, bj + coarse)]
    follow = {}
    for i, j in cells:
        corner = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
        wet = [at(*c) > 0 for c in corner]
        cuts = []
        for k in range(4):
            a, b = corner[k], corner[(k + 1) % 4]
            if wet[k] != wet[(k + 1) % 4]:
                cuts.append(((min(a, b), max(a, b)), wet[k]))
        # Walking round the cell counter-clockwise: leaving water starts a piece, entering water ends it.
        leaving = [edge for edge, was_wet in cuts if was_wet]
        entering = [edge for edge, was_wet in cuts if not was_wet]
        if len(leaving) == 2:
            first = cuts.index((leaving[0], True))
            entering = [cuts[first - 1][0], [e for e in entering if e != cuts[first - 1][0]][0]]
        for a, b in zip(leaving, entering):
            follow[a] = b

    def point(edge):
        a, b = edge
        fa, fb = at(*a), at(*b)
        t = fa / (fa - fb)
        return x0 + (a[0] + t * (b[0] - a[0])) * step, y0 + (a[1] + t * (b[1] - a[1])) * step

    rings = []
    while follow:
        start = min(follow)
        ring, edge = [], start
        while edge in follow:
            ring.append(point(edge))
            edge = follow.pop(edge)
        rings.append(ring)
    return rings


def _area(ring):
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1])) / 2


def _thin(points, tolerance):
    """Douglas-Peucker on an open line."""
    if len(points) < 3:
        return points
    (ax, ay), (bx, by) = points[0], points[-1]
    length = math.hypot(bx - ax, by - ay) or 1.0
    far, worst = 0, -1.0
    for k in range(1, len(points) - 1):
        x, y = points[k]
        d = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / length if length > 1 else math.hypot(x - ax, y - ay)
        if d > worst:
            far, worst = k, d
    if worst <= tolerance:
        return [points[0], points[-1]]
    return _thin(points[:far + 1], tolerance)[:-1] + _thin(points[far:], tolerance)


def _thin_ring(ring, tolerance):
    far = max(range(len(ring)), key=lambda k: math.hypot(ring[k][0] - ring[0][0], ring[k][1] - ring[0][1]))
    return _thin(ring[:far + 1], tolerance)[:-1] + _thin(ring[far:] + ring[:1], tolerance)[:-1]


class Lake:
    """The outline and what is asked of it."""

    def __init__(self):
        rings = [r for r in _rings() if abs(_area(r)) > 6000]
        rings.sort(key=lambda r: -abs(_area(r)))
        exteriors = [r for r in rings if _area(r) > 0]
        holes = [r for r in rings if _area(r) < 0]
        self.main = self._degree_grid(_thin_ring(exteriors[0], 19))
        self.quarry = self._degree_grid(_thin_ring(exteriors[1], 9))
        self.spare = exteriors[2:]
        self.holes = [self._degree_grid(_thin_ring(r, 9)) for r in holes]
        self._rows = {}
        for ring in [self.main] + self.holes:
            for a, b in zip(ring, ring[1:] + ring[:1]):
                low, high = sorted((a[1], b[1]))
                for row in range(int(low // 100), int(high // 100) + 1):
                    self._rows.setdefault(row, []).append((a, b))
        self._grid()

    @staticmethod
    def _degree_grid(ring):
        """Snaps to the five decimals that are written, so that tests here and on the file agree."""
        return [(round(x / M_PER_LON, 5) * M_PER_LON, round(y / M_PER_LAT, 5) * M_PER_LAT) for x, y in ring]

    def vertices(self):
        return sum(len(r) for r in [self.main, self.quarry] + self.holes)

    def wet(self, x, y):
        odd = False
        for (ax, ay), (bx, by) in self._rows.get(int(y // 100), ()):
            if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
                odd = not odd
        return odd

    def clear(self, a, b, step=15.0):
        n = max(1, int(math.hypot(b[0] - a[0], b[1] - a[1]) / step))
        return all(self.wet(a[0] + (b[0] - a[0]) * k / n, a[1] + (b[1] - a[1]) * k / n) for k in range(n + 1))

    def to_shore(self, x, y):
        best = 1e9
        for ring in [self.main] + self.holes:
            for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1]):
                dx, dy = bx - ax, by - ay
                t = max(0.0, min(1.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy or 1.0)))
                best = min(best, math.hypot(x - ax - t * dx, y - ay - t * dy))
        return best

    def bottom_ft(self, x, y):
        """Depth of the bottom at full pool: shelving from the bank to the channel of the arm."""
        best = 0.0
        for segment in SEGMENTS:
            dist, half, depth = _nearest(x, y, segment)
            u = 1 - dist / half
            if u > 0:
                best = max(best, depth * (0.78 * min(1.0, 1.6 * u) + 0.22 * max(0.0, 2 * u - 1) ** 2))
        shoal = 1 + 0.06 * math.sin(x / 210) * math.sin(y / 170)
        for _, cx, cy, rx, ry, _ in ISLANDS:
            best = min(best, 3 + 0.16 * max(0.0, math.hypot(x - cx, y - cy) - ry) / FT)
        return max(2.5, best * shoal)

    def roomy(self, a, b, step=15.0, room=14.0):
        """Whether a boat gets from a to b with some metres to spare on both sides."""
        length = math.hypot(b[0] - a[0], b[1] - a[1]) or 1.0
        u, v = -(b[1] - a[1]) / length * room, (b[0] - a[0]) / length * room
        return all(self.clear((a[0] + k * u, a[1] + k * v), (b[0] + k * u, b[1] + k * v), step) for k in (-1, 0, 1))

    # ---- ways through water ----

    CELL = 40.0

    def _grid(self):
        self.cells = {}
        step = self.CELL
        for i in range(-150, 150):
            for j in range(-165, 165):
                x, y = (i + 0.5) * step, (j + 0.5) * step
                if self.wet(x, y):
                    self.cells[i, j] = self.bottom_ft(x, y)
        # Land may be narrower than a cell (the causeway), so the middle between two cells is asked too.
        self.edge = {c for c in self.cells
                     if any(n not in self.cells or not self.wet(*self._between(c, n))
                            for n in ((c[0] + di, c[1] + dj) for di in (-1, 0, 1) for dj in (-1, 0, 1)))}
        self.searchable = sorted(c for c, depth in self.cells.items() if depth >= 8)

    def _between(self, a, b):
        return (a[0] + b[0] + 1) / 2 * self.CELL, (a[1] + b[1] + 1) / 2 * self.CELL

    def cell(self, x, y):
        """The water cell nearest to a place."""
        home = (math.floor(x / self.CELL), math.floor(y / self.CELL))
        if home in self.cells:
            return home
        for radius in range(1, 60):
            ring = [(home[0] + i, home[1] + j) for i in range(-radius, radius + 1) for j in range(-radius, radius + 1)
                    if max(abs(i), abs(j)) == radius and (home[0] + i, home[1] + j) in self.cells]
            if ring:
                return min(ring, key=lambda c: ((c[0] - home[0]) ** 2 + (c[1] - home[1]) ** 2, c))
        raise ValueError("no water near")

    def centre(self, cell):
        return (cell[0] + 0.5) * self.CELL, (cell[1] + 0.5) * self.CELL

    def deep_enough(self, x, y, need_ft):
        """The nearest water with that much depth at full pool."""
        if self.wet(x, y) and self.bottom_ft(x, y) >= need_ft:
            return x, y
        cell = min((c for c, depth in self.cells.items() if depth >= need_ft),
                   key=lambda c: ((c[0] + 0.5) * self.CELL - x) ** 2 + ((c[1] + 0.5) * self.CELL - y) ** 2)
        return self.centre(cell)

    def way(self, a, b):
        """A line through water from a to b: shortest on the grid, then pulled tight."""
        if self.roomy(a, b, 8.0):
            return [a, b]
        start, goal = self.cell(*a), self.cell(*b)
        best, came, queue = {start: 0.0}, {}, [(0.0, start)]
        while queue:
            _, here = heapq.heappop(queue)
            if here == goal:
                break
            for di in (-1, 0, 1):
                for dj in (-1, 0, 1):
                    there = (here[0] + di, here[1] + dj)
                    if there == here or there not in self.cells:
                        continue
                    if there in self.edge and not self.wet(*self._between(here, there)):
                        continue
                    slow = 3.0 if there in self.edge else 1.5 if self.cells[there] < 7 else 1.0
                    cost = best[here] + math.hypot(di, dj) * self.CELL * slow
                    if cost < best.get(there, 1e9) - 1e-9:
                        best[there] = cost
                        came[there] = here
                        guess = math.hypot(goal[0] - there[0], goal[1] - there[1]) * self.CELL
                        heapq.heappush(queue, (cost + guess, there))
        cells = [goal]
        while cells[-1] != start:
            cells.append(came[cells[-1]])
        line = [a] + [self.centre(c) for c in reversed(cells)] + [b]
        tight, k = [line[0]], 0
        while k < len(line) - 1:
            n = len(line) - 1
            while n > k + 1 and not self.roomy(line[k], line[n], 8.0):
                n -= max(1, (n - k) // 6)
            k = max(n, k + 1)
            tight.append(line[k])
        return tight

    def geojson(self):
        def ring(points, exterior):
            out = points if (_area(points) > 0) == exterior else points[::-1]
            start = out.index(min(out))
            out = out[start:] + out[:start]
            text = ["[%.5f,%.5f]" % to_degrees(*p) for p in out + out[:1]]
            return "[" + ",".join(text) + "]"

        lake = "[" + ",\n".join([ring(self.main, True)] + [ring(h, False) for h in self.holes]) + "]"
        quarry = "[" + ring(self.quarry, True) + "]"
        lons, lats = zip(*[to_degrees(*p) for p in self.main + self.quarry])
        box = "[%.5f,%.5f,%.5f,%.5f]" % (min(lons), min(lats), max(lons), max(lats))
        return ('{"type":"FeatureCollection","bbox":%s,"features":[\n'
                '{"type":"Feature","id":"varnholt","properties":{"name":"Lake Varnholt and the quarry pond",'
                '"note":"invented; placed in open ocean on purpose"},\n'
                '"geometry":{"type":"MultiPolygon","coordinates":[\n%s,\n%s]}}\n]}\n' % (box, lake, quarry))


# ---- level, temperature ----------------------------------------------------------------------------------------

# Days by which the autumn of a year runs late (+) or early (-).
AUTUMN_SHIFT = {2021: 3, 2022: -2, 2023: -12, 2024: 5, 2025: 0}


def _ramp(value, low, high):
    return max(0.0, min(1.0, (value - low) / (high - low)))


def season_day(day):
    """Day of the year on which a usual year looks like this day: carries the early and late autumns."""
    doy = day.timetuple().tm_yday
    weight = _ramp(doy, 225, 255) * (1 - _ramp(doy, 345, 365))
    return doy - AUTUMN_SHIFT[day.year] * weight


def level_ft(day):
    """Pool level: held at full pool, drawn down 8 ft from 15 September to 1 December, filled February to mid-April."""
    doy = day.timetuple().tm_yday
    drawn = max(_ramp(doy, 258, 335), 1 - _ramp(doy, 32, 105))
    wave = 0.35 * math.sin(doy / 9.0 + day.year) + 0.2 * math.sin(doy / 3.7 + 2 * day.year)
    # 2024 was dry: five feet lower from spring to the end of the year, eased in and out.
    dry = 0.0
    if day.year == 2024:
        dry = 5.0 * _ramp(doy, 40, 120)
    if day.year == 2025:
        dry = 5.0 * (1 - _ramp(doy, 1, 75))
    return round(FULL_POOL_FT - 8.0 * drawn - dry + wave, 2)


def surface_f(day):
    return 64.0 - 20.0 * math.cos(2 * math.pi * (season_day(day) - 29) / 365.25)


# ---- clock and sun ---------------------------------------------------------------------------------------------

def _nth_sunday(year, month, n):
    first = date(year, month, 1)
    return first + timedelta(days=(6 - first.weekday()) % 7 + 7 * (n - 1))


def offset_hours(day):
    """Offset of America/Miquelon on a day (from memory of the rule; the change nights carry no marks)."""
    return -2 if _nth_sunday(day.year, 3, 2) <= day < _nth_sunday(day.year, 11, 1) else -3


def utc(day, local_hours):
    """Moment of a local time of day."""
    start = datetime(day.year, day.month, day.day, tzinfo=timezone.utc)
    return start + timedelta(seconds=round((local_hours - offset_hours(day)) * 3600))


def sun_times(day):
    """Sunrise and sunset in local hours, good to some minutes: enough to keep an invented boat in daylight."""
    doy = day.timetuple().tm_yday
    decl = math.radians(-23.44) * math.cos(2 * math.pi * (doy + 10) / 365.25)
    half = math.degrees(math.acos(-math.tan(math.radians(LAT0)) * math.tan(decl))) / 15 + 0.07
    noon = 12 - LON0 / 15 + offset_hours(day)
    return noon - half, noon + half
