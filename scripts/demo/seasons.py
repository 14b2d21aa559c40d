"""What happened on the invented lake: schools, objects, and five seasons of outings that met them."""
import math
import random
from dataclasses import dataclass, field
from datetime import date, timedelta

from lake import FT, FULL_POOL_FT, level_ft, season_day, sun_times, surface_f, utc

RAMPS = {"Osk Landing": (-250, -5200), "Kestle": (2650, -1640)}
# Two seasonal paths of bait: (season day, x, y, fish depth in feet), in order round the year.
PATH_MAIN = [(-15, -60, -900, 40), (58, -60, -900, 38), (75, -500, 250, 24), (98, -1000, 470, 22), (120, -760, -1000, 6),
             (142, -820, -1100, 5), (162, 60, 1750, 15), (200, 150, 2050, 20), (238, 120, 1900, 21), (256, 1150, -2290, 13),
             (270, 1250, -2290, 12), (276, 1950, -2130, 11), (286, 3600, -2080, 8), (322, 3950, -1880, 9), (330, 1950, -2130, 14),
             (336, 1000, -2300, 24), (350.25, -60, -900, 40)]
PATH_EAST = [(121, 1050, 3480, 9), (165, 850, 3400, 13), (230, 900, 3420, 14), (262, 1350, 3720, 9), (300, 1500, 3820, 8),
             (334, 1100, 3520, 11)]
# Places the angler looks at whether or not there is a reason to: the first is a habit with little in it.
HABITS = [(-420, -2250), (250, -3550), (-60, 500)]
# A rich place that is seldom looked at.
RICH = (60, 1420)
YEARS = {2021: 31, 2022: 33, 2023: 34, 2024: 36, 2025: 28}
IDLE_MS, RUN_MS = 1.8, 11.5


@dataclass
class Mark:
    """One press of the button, as it truly was."""
    kind: str
    x: float
    y: float
    when: object
    fish_ft: float = None
    water_ft: float = None
    temp_f: float = None
    unit: str = "alpha"
    thing: str = ""
    light: str = "day"
    extra: dict = field(default_factory=dict)


@dataclass
class Outing:
    """A boat day: where the boat went and which unit logged it."""
    day: date
    ramp: str
    line: list
    logged_by: str


def on_path(path, day):
    """Place and depth of a path on a season day; `None` outside its season."""
    d = day if path[0][0] <= day <= path[-1][0] else day - 365.25
    for (a, ax, ay, az), (b, bx, by, bz) in zip(path, path[1:]):
        if a <= d <= b:
            t = (d - a) / (b - a)
            return ax + t * (bx - ax), ay + t * (by - ay), az + t * (bz - az)
    return None


def schools_on(lake, rng, day):
    """Schools in the lake on a day: (x, y, fish depth)."""
    out = []
    now = season_day(day)
    # Dwelling schools sit tight, travelling ones are strung out.
    for path, number, spread in ((PATH_MAIN, 4, 130.0), (PATH_EAST, 2, 110.0)):
        for _ in range(number):
            at = on_path(path, now + rng.gauss(0, 4))
            if at is None:
                continue
            x, y, depth = at
            depth = max(2.0, rng.gauss(depth, 0.09 * depth + 0.8))
            out.append(lake.deep_enough(rng.gauss(x, spread), rng.gauss(y, spread), depth + 3.0) + (depth,))
    if 130 < now < 300:
        for _ in range(2):
            depth = rng.uniform(9, 15)
            out.append(lake.deep_enough(rng.gauss(RICH[0], 80), rng.gauss(RICH[1], 80), depth + 3.0) + (depth,))
    cells = sorted(lake.cells)
    for _ in range(9):
        x, y = lake.centre(cells[rng.randrange(len(cells))])
        room = lake.bottom_ft(x, y)
        if room > 7:
            out.append((x, y, rng.uniform(3, min(room - 3, 25))))
    return out


def objects(lake, rng):
    """Things on the bottom: (kind, thing, x, y, elevation in feet)."""
    things = [("cover", "BRUSH", 26, 8, 26), ("cover", "TREE", 12, 6, 20), ("structure", "POINT", 10, 8, 22), ("structure", "HUMP", 8, 10, 28),
              ("structure", "LEDGE", 8, 12, 30), ("hazard", "STUMP", 13, 3, 9), ("hazard", "ROCK", 5, 3, 10)]
    cells = sorted(lake.cells)
    out = []
    for kind, thing, number, low, high in things:
        while number:
            x, y = lake.centre(cells[rng.randrange(len(cells))])
            depth = lake.bottom_ft(x, y)
            # The stump field stands in Marrow.
            if thing == "STUMP" and number > 3 and not (x > 1500 and y > 3500):
                continue
            if low <= depth <= high:
                out.append((kind, thing, x + rng.uniform(-15, 15), y + rng.uniform(-15, 15), FULL_POOL_FT - depth))
                number -= 1
    # A rock that is 8.8 ft deep at full pool and 0.8 ft at winter pool.
    x, y = lake.deep_enough(-420, -3350, 10)
    out.append(("hazard", "ROCK", x, y, 603.2))
    return out


def outing_days(rng, year, number):
    """Days of a season: spring and fall often, deep winter hardly, never from 12 January to 8 February."""
    last = date(2025, 10, 5) if year == 2025 else date(year, 12, 28)
    days, weights = [], []
    day = date(year, 1, 1)
    while day <= last:
        doy = day.timetuple().tm_yday
        if not 12 <= doy <= 39:
            weight = 1.0 + 1.2 * math.exp(-((doy - 125) / 35) ** 2) + 1.8 * math.exp(-((doy - 295) / 38) ** 2)
            if day.weekday() >= 5:
                weight *= 3
            days.append(day)
            weights.append(weight)
        day += timedelta(days=1)
    chosen = set()
    while len(chosen) < number:
        chosen.add(rng.choices(days, weights)[0])
    return sorted(chosen)


def stops_for(lake, rng, day, number):
    """Where the angler goes to look: habit, memory of the season, and curiosity."""
    now = season_day(day)
    out = []
    for _ in range(number):
        roll = rng.random()
        if roll < 0.16:
            x, y = HABITS[rng.choices(range(3), (3, 1, 1))[0]]
        elif roll < 0.60:
            # The angler is late or early by a week or two, and remembers a place, not a point.
            x, y, _ = on_path(PATH_MAIN, (now + rng.gauss(0, 5)) % 365.25)
        elif roll < 0.78 and on_path(PATH_EAST, now):
            x, y, _ = on_path(PATH_EAST, now)
        elif roll < 0.80:
            x, y = RICH
        else:
            x, y = lake.centre(rng.choice(lake.searchable))
        out.append((rng.gauss(x, 130), rng.gauss(y, 130)))
    return out


def zigzag(lake, rng, x, y):
    """A search of some ten minutes at idle: a zigzag that stays in the water."""
    turn = rng.uniform(0, math.pi)
    c, s = math.cos(turn), math.sin(turn)
    line = []
    for k in range(9):
        u, v = (k - 4) * 46.0, (95.0 if k % 2 else -95.0)
        u, v = u + rng.gauss(0, 9), v + rng.gauss(0, 14)
        for shrink in (1.0, 0.7, 0.45, 0.25, 0.1):
            p = (x + shrink * (u * c - v * s), y + shrink * (u * s + v * c))
            if lake.wet(*p) and (not line or lake.clear(line[-1], p, 6.0)):
                if not line or math.hypot(p[0] - line[-1][0], p[1] - line[-1][1]) > 8:
                    line.append(p)
                break
    return line


def closest(line, x, y):
    """Least distance from timed line points to a place, and the time and place of it: (distance, seconds, x, y)."""
    best = (1e9, 0.0, 0.0, 0.0)
    for (ta, ax, ay), (tb, bx, by) in zip(line, line[1:]):
        dx, dy = bx - ax, by - ay
        f = max(0.0, min(1.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy or 1.0)))
        d = math.hypot(x - ax - f * dx, y - ay - f * dy)
        if d < best[0]:
            best = (d, ta + f * (tb - ta), ax + f * dx, ay + f * dy)
    return best


def fish_the_season(lake, seed):
    """All outings and all marks of five seasons, in order of time."""
    rng = random.Random(seed)
    things = objects(lake, random.Random(seed + 1))
    marks, outings = [], []
    for year, number in YEARS.items():
        for day in outing_days(rng, year, number):
            ramp = "Kestle" if 265 <= season_day(day) <= 328 and rng.random() < 0.5 else "Osk Landing"
            outing, found = one_day(lake, rng, day, ramp, things)
            outings.append(outing)
            marks += found
    marks.sort(key=lambda m: m.when)
    return outings, marks, things


def one_day(lake, rng, day, ramp, things):
    sunrise, sunset = sun_times(day)
    hour = sunrise - 0.1 + rng.uniform(0, 0.7) if rng.random() < 0.75 else rng.uniform(sunrise + 3, sunset - 5)
    schools = schools_on(lake, rng, day)
    level = level_ft(day)
    temp = surface_f(day) + rng.gauss(0, 0.9)
    here = lake.deep_enough(*RAMPS[ramp], 4)
    clock = 0.0
    line = [(clock, *here)]
    marks = []

    def start():
        return utc(day, hour)

    def water_ft(x, y):
        return max(2.0, lake.bottom_ft(x, y) - (FULL_POOL_FT - level))

    def add(kind, x, y, seconds, **more):
        x, y = x + rng.gauss(0, 4), y + rng.gauss(0, 4)
        if not lake.wet(x, y):
            return None
        unit = "bravo" if rng.random() < 0.5 else "alpha"
        mark = Mark(kind, x, y, start() + timedelta(seconds=round(seconds)), water_ft=water_ft(x, y),
                    temp_f=temp + 0.6 * min(6.0, seconds / 3600) * 0.5 + rng.gauss(0, 0.2), unit=unit, **more)
        if mark.fish_ft and mark.fish_ft > mark.water_ft - 1:
            mark.fish_ft = max(1.5, mark.water_ft - 2)
        marks.append(mark)
        return mark

    def add_object(thing, seconds):
        kind, word, ox, oy, elevation = thing
        mark = add(kind, ox, oy, seconds, thing=word)
        if mark:
            mark.water_ft = max(0.5, level - elevation)

    def run_to(x, y):
        nonlocal clock
        for a, b in zip(way := lake.way((line[-1][1], line[-1][2]), (x, y)), way[1:]):
            length = math.hypot(b[0] - a[0], b[1] - a[1])
            pieces = max(1, round(length / 900))
            for k in range(1, pieces + 1):
                clock += length / pieces / RUN_MS
                line.append((clock, a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces))

    order = [lake.deep_enough(x, y, 6) for x, y in stops_for(lake, rng, day, rng.choice((5, 6, 6, 7)))]
    # The nearest place next, as anglers go.
    for k in range(len(order)):
        last = order[k - 1] if k else here
        rest = sorted(order[k:], key=lambda p: (math.hypot(p[0] - last[0], p[1] - last[1]), p))
        order[k:] = rest
    fall = 255 <= season_day(day) <= 335
    summer = 152 <= season_day(day) < 255
    for x, y in order:
        if hour + clock / 3600 > sunset - 0.9:
            break
        search = zigzag(lake, rng, x, y)
        if len(search) < 3:
            continue
        run_to(*search[0])
        first = len(line) - 1
        for p in search[1:]:
            _, ax, ay = line[-1]
            if rng.random() < 0.4:
                # The unit logs by time: now and then a point falls between two turns.
                f = rng.uniform(0.35, 0.65)
                m = (ax + f * (p[0] - ax), ay + f * (p[1] - ay))
                line.append((clock + math.hypot(m[0] - ax, m[1] - ay) / IDLE_MS, *m))
            clock += math.hypot(p[0] - ax, p[1] - ay) / IDLE_MS
            line.append((clock, *p))
        looked = line[first:]
        met = False
        for sx, sy, depth in schools:
            dist, seconds, bx, by = closest(looked, sx, sy)
            if dist > 45 or rng.random() > 0.72:
                continue
            met = True
            for _ in range(rng.choice((1, 1, 2, 2, 2, 3, 3))):
                ft = max(1.5, rng.gauss(depth, 1.1))
                add("bait", (bx + sx) / 2 + rng.gauss(0, 7), (by + sy) / 2 + rng.gauss(0, 7), seconds, fish_ft=ft)
                seconds += rng.uniform(15, 110)
            if rng.random() < (0.40 if fall else 0.0 if summer else 0.05):
                add("gamefish", sx + rng.gauss(0, 28), sy + rng.gauss(0, 28), seconds + rng.uniform(20, 200),
                    fish_ft=max(2.0, rng.gauss(depth + 3, 2)))
        if rng.random() < 0.19:
            seconds, px, py = looked[rng.randrange(len(looked))]
            add("gamefish", px, py, seconds + 5, fish_ft=rng.uniform(2, max(3.0, water_ft(px, py) - 1)))
        for thing in things:
            dist, seconds, _, _ = closest(looked, thing[2], thing[3])
            if dist < 60 and rng.random() < (0.5 if thing[0] == "hazard" else 0.22):
                add_object(thing, seconds)
        # Every so often a slow pass over something known, to keep the log of objects honest.
        if rng.random() < 0.18:
            near = [t for t in things if math.hypot(t[2] - x, t[3] - y) < 2500]
            thing = rng.choices(near, [1.6 if t[0] == "hazard" else 1 for t in near])[0] if near else None
            if thing:
                run_to(*lake.deep_enough(thing[2], thing[3], 3))
                clock += 40
                line.append((clock, line[-1][1], line[-1][2]))
                add_object(thing, clock)
        # Stay and fish where there is something to stay for: the boat hardly moves.
        if rng.random() < (0.7 if met else 0.15):
            _, px, py = line[-1]
            for _ in range(rng.choice((2, 3, 3, 4))):
                clock += rng.uniform(240, 420)
                spot = (px + rng.gauss(0, 12), py + rng.gauss(0, 12))
                line.append((clock, *(spot if lake.clear((line[-1][1], line[-1][2]), spot, 4.0) else (px, py))))
    run_to(*here)
    roll = rng.random()
    logged_by = "none" if roll < 0.05 else ("alpha" if roll < 0.17 else "bravo")
    stamped = [(start() + timedelta(seconds=round(t)), x, y) for t, x, y in line]
    return Outing(day, ramp, stamped, logged_by), marks
