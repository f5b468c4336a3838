"""Makes a book of a simulated season, through the ordinary commands: `new` and `import`.

A season is a folder as seasons.py writes it. Only runs.csv, setups.csv and fields.csv are read, never truth.json.
"""
import csv, os, subprocess
import seasons

# How far a run still counts that the driver marked, ft: lifted past the eighth, spun at the hit, missed a shift.
MARKED = {"lift": ("660", "lifted"), "spin": ("0", "spun"), "shift": ("60", "missed shift")}
SPLITS = ["t60", "t330", "t660", "t1000", "t1320"]
SPEEDS = {"mph660": ("t660", 660), "mph1320": ("t1320", 1320)}


class Failed(Exception):
    """The program did not do what a season asked of it; says the command and what it answered."""


def call(env, binary, *args):
    """What the program prints; where it fails, `Failed` with its own words."""
    try:
        done = subprocess.run([binary, *args], env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    except OSError as e:
        raise Failed("%s cannot be run: %s" % (binary, e.strerror)) from None
    if done.returncode:
        raise Failed("slipbook %s\nended with %d:\n%s%s" % (" ".join(args), done.returncode, done.stdout[-2000:], done.stderr))
    return done.stdout


def rows(case, name):
    with open(os.path.join(case, name), newline="") as h:
        return list(csv.DictReader(h))


def fixed(cell, decimals):
    """A number of a season with so many decimals; empty where it was not taken."""
    return "%.*f" % (decimals, float(cell)) if cell else ""


def speed(run, name, clean):
    """The speed of a trap as a slip has it; none where a run that nobody marked was slower there than it averaged.

    That is a lift, and `import` wants it said or the number left out; saying it would tell what the driver did not.
    """
    time, feet = SPEEDS[name]
    if not run[name] or not run[time]:
        return fixed(run[name], 2)
    mph = fixed(run[name], 2)
    marked = clean != "" and feet > int(clean)
    return mph if marked or float(mph) >= feet / float(run[time]) * 3600 / 5280 else ""


def clock(time):
    """A time of a season as a table has it: past midnight the race day goes on (24:18 is 00:18 under the same date)."""
    hour, minute = time.split(":")
    return "%02d:%s" % (int(hour) % 24, minute)


def written(case, folder, tell_late=True):
    """Writes car.toml, setup.toml and season.csv of a season into `folder`; returns the date of its first run.

    `tell_late`: of a change that was typed in after the fact, the table says that its time is not known.
    """
    runs, revisions = rows(case, "runs.csv"), rows(case, "setups.csv")
    fields = [(r["field"], r["type"]) for r in rows(case, "fields.csv")]
    names = [n for n, _ in fields]
    # The car's own fields, and the first sheet.
    car = ['format = 1', 'name = "Season"', 'template = "leaf-torsion"', '', '[[owner]]', 'name = "Nobody"', '']
    for name, kind in fields:
        car += ['[[field]]', 'key = "own.%s"' % name, 'label = "%s"' % name, 'ring = "sheet"', 'role = "set"',
                'sides = "one"', 'says = ["%s"]' % name, 'noun = { thing = "%s" }' % name, 'tool = "hand"',
                'place = "cockpit"', 'minutes = 1', 'moves = []', 'help = "A simulated setting."']
        if kind == "num":
            car += ['kind = "number"', 'decimals = 2', 'step = 0.25', 'usual = [-100.0, 200.0]', 'possible = [-1000.0, 1000.0]', '']
        else:
            car += ['kind = "choice"', 'choices = ["a", "b", "c", "d"]', '']
    sheets = {r["setup_id"]: [r[n] for n in names] for r in revisions}
    late = {r["setup_id"] for r in revisions if tell_late and r["entered_late"] == "1"}
    first = on = revisions[0]["setup_id"]
    sheet = ['format = 1', '', '[own]'] + ['%s = %s' % (n, v if k == "num" else '"%s"' % v)
                                           for (n, k), v in zip(fields, sheets[first])]
    head = ["date", "time", "track", "finish", "lane", "ft60", "ft330", "ft660", "mph660", "ft1000", "ft1320", "mph1320",
            "clean_to", "why_not", "temperature [C]", "humidity", "pressure_station [hPa]"]
    # A change whose true time nobody knows says so on the row that changes the sheet.
    head += (["change_time"] if late else []) + ["own." + n for n in names]
    table = []
    for r in runs:
        now = r["setup_id"]
        if r["flag"] and r["flag"] not in MARKED:
            raise Failed("%s: run %s is marked `%s`, which is none of %s" % (case, r["run_id"], r["flag"], ", ".join(MARKED)))
        clean, why = MARKED.get(r["flag"], ("", ""))
        lane = {"L": "left", "R": "right"}.get(r["lane"], "")
        row = [r["date"], clock(r["time"]), r["track_id"], "1320", lane]
        t60, t330, t660, t1000, t1320 = (fixed(r[k], 3) for k in SPLITS)
        row += [t60, t330, t660, speed(r, "mph660", clean), t1000, t1320, speed(r, "mph1320", clean)]
        row += [clean, why, r["temp_c"], fixed(r["rh_pct"], 0), r["press_hpa"]]
        if late:
            row.append("unknown" if now != on and now in late else "")
        table.append(row + [n if n != o else "" for n, o in zip(sheets[now], sheets[on])])
        on = now
    for name, lines in (("car.toml", car), ("setup.toml", sheet)):
        with open(os.path.join(folder, name), "w") as h:
            h.write("\n".join(lines) + "\n")
    with open(os.path.join(folder, "season.csv"), "w", newline="") as h:
        csv.writer(h, lineterminator="\n").writerows([head] + table)
    return runs[0]["date"]


def book(case, folder, binary, tell_late=True):
    """Makes the book of the season in the folder `case`, in `folder`; returns the environment its commands run in."""
    began = written(case, folder, tell_late)
    env = dict(os.environ, SLIPBOOK_GARAGE=os.path.join(folder, "garage"), SLIPBOOK_FSYNC="off", SLIPBOOK_BY="nobody",
               SLIPBOOK_NOW="2030-01-01T12:00:00Z", TZ="UTC", HOME=folder, XDG_CACHE_HOME=os.path.join(folder, "cache"))
    at = lambda name: os.path.join(folder, name)
    call(env, binary, "new", "--yes", "--car-file", at("car.toml"), "--sheet", at("setup.toml"), "--when", "%s 06:00" % began)
    call(env, binary, "import", "--yes", at("season.csv"))
    return env


def drawn(family, seed, folder):
    """Draws a season of a family into `folder`; returns its folder."""
    case = os.path.join(folder, family, "%06d" % seed)
    seasons.write_case(family, seed, case)
    return case
