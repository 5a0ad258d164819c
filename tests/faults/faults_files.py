"""Faults of what the owner hands over and of where answers go: files that are none, too much, or too far away."""

from __future__ import annotations

import contextlib
import csv
import os
import random
import re
import shlex
import signal
import stat
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

from faults.fault_table import ADVISOR, Seen, fault, told
from faults.own_lawn import NOW, SITE, lay_out
from typer.testing import CliRunner

from advisor.errors import AdvisorError
from advisor.faces.cli.main import program, rooms_for
from advisor.lawn import (
    KINDS,
    Application,
    GaugeReading,
    Record,
    Records,
    Run,
    of_kind,
    read_rows,
    write_records,
)
from advisor.shipped import shipped
from advisor.weather.kept import Kept, save

LONGEST_S, HANGS_S = 5.0, 120.0
SENTENCE = re.compile(r"advisor: .{10,}")


@dataclass(frozen=True, slots=True)
class Answer:
    """How a command ended: its exit code and all that the owner saw of it."""

    code: int
    saw: str


class TooLong(Exception):
    """A command has not ended in time."""


def ask(words: Sequence[str], *, here: bool, cwd: Path | None = None) -> Answer:
    """A command's end; `here` in this very process, which costs no start, else in one of its own.

    It may take LONGEST_S of the processor's time, and HANGS_S by the clock, however busy the computer is.
    """
    if not here:
        before = os.times()
        asked = told(*words, timeout_s=HANGS_S, cwd=cwd)
        after = os.times()
        spent = after.children_user + after.children_system - before.children_user - before.children_system
        assert spent < LONGEST_S, (words, spent)
        return Answer(asked.returncode, asked.stderr + asked.stdout)
    with at_most(words), contextlib.chdir(cwd or Path.cwd()):
        done = CliRunner().invoke(program(rooms_for(words)), list(words))
    if isinstance(done.exception, AdvisorError):
        return Answer(2, f"advisor: {done.exception}\n{done.output}")
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return Answer(done.exit_code, done.output)


@contextlib.contextmanager
def at_most(words: Sequence[str]) -> Iterator[None]:
    """Raises TooLong inside where the processor's time or the clock runs out."""

    def too_long(*_: object) -> None:
        raise TooLong(words)

    kept = [signal.signal(number, too_long) for number in (signal.SIGPROF, signal.SIGALRM)]
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    signal.setitimer(signal.ITIMER_REAL, HANGS_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGPROF, kept[0])
        signal.signal(signal.SIGALRM, kept[1])


def refused(words: Sequence[str], *, here: bool, where: str = "", cwd: Path | None = None) -> str:
    """What the owner was told by a command that cannot do as asked: a sentence, exit code 2."""
    answer = ask(words, here=here, cwd=cwd)
    assert answer.code == 2, (words, answer)
    assert "Traceback" not in answer.saw, (words, answer)
    assert SENTENCE.search(answer.saw), (words, answer)
    assert where in answer.saw, (words, answer)
    return answer.saw.removeprefix("Living seasons\n")


def no_files(folder: Path) -> list[Path]:
    """What bears a name and is no file."""
    pipe, loop, inner = folder / "pipe", folder / "loop", folder / "inner"
    os.mkfifo(pipe)
    loop.symlink_to(loop)
    inner.mkdir()
    return [pipe, Path("/dev/zero"), Path("/dev/full"), loop, inner]


def every_way(folder: Path, one: Path) -> dict[str, list[str]]:
    """Every way to hand a file over, with `one` in its place."""
    site = ["--site", str(folder / "site.yaml")]
    own = folder / "own.yaml"
    text = f"{SITE}service: {{advice_at: 20:15}}\n"
    with contextlib.suppress(FileNotFoundError):
        own.unlink()
    demo = ["--demo", "--now", NOW]
    return {
        "site file": ["check", "--site", str(one)],
        "hourly weather": ["tonight", "--weather", str(one), *demo],
        "usual year": ["clock-sheet", "--climate", str(one), *demo],
        "cans": ["audit", "Front", "--cans", str(one), "--minutes", "15", "--dry-run", *demo],
        "records to take in": ["records", "import", str(one), *site],
        "kept seasons": [
            "replay",
            "--demo",
            "--keep",
            str(one),
            "--from",
            "2025-06-01",
            "--to",
            "2025-06-02",
        ],
        "forecasts": [
            "replay",
            "--demo",
            "--forecasts",
            str(one),
            "--from",
            "2025-06-01",
            "--to",
            "2025-06-02",
        ],
        "records": _with(folder, "records", SITE.replace("lawn.sqlite", str(one)), ["tonight", "--now", NOW]),
        "secrets": _with(folder, "secrets", f"{text}messages: {{secrets: {one}}}\n", ["serve", "--once"]),
        "authority": _with(
            folder,
            "authority",
            f"{text}messages: {{email: {{from: a@b.example, to: c@d.example, server: localhost, trust: {one}}}}}\n",
            ["serve", "--once"],
        ),
        "log": _with(folder, "log", text.replace("20:15", f"20:15, log: {one}"), ["serve", "--once"]),
    }


def _with(folder: Path, name: str, text: str, command: list[str]) -> list[str]:
    path = folder / f"{name}.yaml"
    path.write_text(text)
    return [*command, "--site", str(path)]


NO_FAULT = {("/dev/full", "log"), ("inner", "forecasts")}
ORDINARY_WAYS = ("site file", "hourly weather", "kept seasons", "secrets", "records to take in")


@fault("files", "a pipe, a device, a folder or a link to itself in the place of every file")
def no_file_at_all(folder: Path, nightly: bool) -> Seen:
    lay_out(folder)
    tried = 0
    said = ""
    for one in no_files(folder):
        for way, words in every_way(folder, one).items():
            if not nightly and (one.name != "pipe" or way not in ORDINARY_WAYS):
                continue
            answer = refused(words, here=not nightly, cwd=folder)
            if one.name in ("pipe", "zero", "full"):
                assert re.search(
                    r"it is a (pipe|device), not a file|not a directory|rights|cannot be", answer.lower()
                )
            said, tried = (answer if way == "site file" and one.name == "pipe" else said), tried + 1
    return Seen(owner_saw=said, tried=tried)


@fault("files", "an answer is to be written where nobody reads, or to a full disk")
def no_place_for_an_answer(folder: Path, nightly: bool) -> Seen:
    pipe = folder / "pipe"
    os.mkfifo(pipe)
    place = [
        "--latitude",
        "40",
        "--longitude",
        "1",
        "--elevation",
        "3 m",
        "--time-zone",
        "UTC",
        "--units",
        "us",
    ]
    ways = [["clock-sheet", "--demo", "--html"], ["init", *place, "--force", "--out"]]
    said = [
        refused([*way, str(where)], here=not nightly)
        for way in ways[: None if nightly else 1]
        for where in (pipe, "/dev/full")
    ]
    assert "a pipe that nobody reads" in said[0]
    assert "no space left on device" in said[1].lower()
    return Seen(owner_saw=said[0], tried=len(said))


ZONE = SITE[SITE.index("  - name: Front") : SITE.index("watering:")]
ENTRY = "grass: tall fescue, soil: loam, slope: 2 %, exposure: full sun, head: gear rotor, rate: guess"


def zones(count: int) -> str:
    """The site with so many zones."""
    many = "".join(f"  - {{name: Z{n}, area: 200 m2, {ENTRY}}}\n" for n in range(count))
    return SITE.replace(ZONE, many)


def monstrous() -> dict[str, str]:
    """Site files that nobody writes by hand."""
    bomb = "a0: &a0 [x, x]\n" + "".join(
        f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30)
    )
    keys = "".join(f"key{n}: 1\n" for n in range(60_000))
    return {
        "60,000 unknown keys": SITE + keys[: 240_000 - len(SITE)],
        "60,000 unknown keys, all": SITE + keys,
        "60,000 keys in a zone": SITE.replace(
            "    area", re.sub("^", "    ", keys[:200_000], flags=re.M) + "\n    area"
        ),
        "3,000 zones": zones(3000)[:245_000],
        "3,000 zones, all": zones(3000),
        "201 zones": zones(201),
        "one key 10,000 times": SITE + "supply: 1\n" * 10_000,
        "an alias bomb": bomb + SITE,
        "100,000 brackets": "site: " + "[" * 100_000,
        "800 levels": "".join(" " * n + "a:\n" for n in range(600)),
        "a list of 490,000": SITE + "rounds: [" + ",".join(["x"] * 120_000) + "]\n",
        "a number of 200,000 digits": SITE + "supply: {flow: '" + "9" * 200_000 + " L/min'}\n",
        "240,000 empty lines": SITE + "\n" * 240_000 + "x: 1\n",
        "a word of 240,000 stars": SITE + "x: " + "*" * 240_000,
    }


ORDINARY_MONSTERS = (
    "60,000 unknown keys",
    "60,000 unknown keys, all",
    "3,000 zones",
    "an alias bomb",
    "100,000 brackets",
)


@fault("files", "a site file beyond all measure: keys, zones, aliases, depth")
def monsters(folder: Path, nightly: bool) -> Seen:
    said = {}
    for name, text in monstrous().items():
        if nightly or name in ORDINARY_MONSTERS:
            path = folder / "site.yaml"
            path.write_text(text)
            said[name] = refused(["check", "--site", str(path)], here=not nightly, where="site.yaml")
            assert len(said[name]) < 20_000, (name, len(said[name]))
    return Seen(owner_saw=said["60,000 unknown keys"], tried=len(said))


@fault("files", "hourly weather that is huge, or of the years 1 and 9999")
def strange_hours(folder: Path, nightly: bool) -> Seen:
    lay_out(folder)
    cells = {
        "far": "0001-01-01T00:00+05:00,1,0\n9999-12-31T22:00-05:00,1,0\n",
        "long": f"2026-06-17T18:00Z,1,0{'9' * 200_000}\n",
    }
    if nightly:
        cells["huge"] = "2026-06-17T18:00Z,1,0\n" * 4_000_000
        cells["many"] = "2026-06-17T18:00Z,1,0\n" * 2_000_000
    said = {}
    for name, rows in cells.items():
        path = folder / f"{name}.csv"
        path.write_text("time,temp_c,rain_mm\n" + rows)
        for way in (["tonight", "--now", NOW, "--weather"], ["clock-sheet", "--climate"]):
            said[name] = refused([*way, str(path), "--demo"], here=not nightly, where=f"{name}.csv")
    return Seen(owner_saw=said["far"], tried=len(said))


FAR = ("0001-01-01T00:00", "9999-12-31T23:59", "0001-01-01T00:00+05:00", "9999-12-31T23:59-05:00")
WITH_NOW = (
    *(
        "tonight",
        "rain",
        "next-round",
        "weather",
        "check",
        "records check",
        "replay --mine",
        "status",
        "clock-sheet",
    ),
    *("mix", "runtime --zone Front --depth 6mm", "record rain 5mm", "records list", "weather --skill"),
)
WITH_TIMES = (
    *("record rain 5mm --at T", "record rain 5mm --since T", "record run Front 9min --at T"),
    *("record application 'Potash solution' --at T", "record application 'Potash solution' --until T"),
    *("record probe Front 5mm --at T", "record stock 'Potash solution' 1gal --at T"),
    *("rain --product 'Potash solution' --at T", "records edit 1 --kind runs --set started_at=T"),
    *("record run --as-advised --night D", "replay --from D", "replay --to D", "replay --mine --from D"),
)


@fault("files", "the years 1 and 9999 wherever a time may be said")
def far_years(folder: Path, nightly: bool) -> Seen:
    typed = [(far, words) for far in FAR for words in (*(f"{one} --now T" for one in WITH_NOW), *WITH_TIMES)]
    if not nightly:
        typed = random.Random(9999).sample(typed, 14)
    said = {}
    for far, words in typed:
        put = {"T": far, "D": far[:10], "started_at=T": f"started_at={far}"}
        answer = ask([*(put.get(word, word) for word in shlex.split(words)), "--demo"], here=not nightly)
        assert answer.code in (0, 1, 2), (far, words, answer)
        assert "Traceback" not in answer.saw, (far, words, answer)
        said[words] = answer.saw if answer.code == 2 else said.get(words, "")
    return Seen(owner_saw=next(one for one in said.values() if one), tried=len(typed))


@fault("files", "a full disk under the answer, a reader that has gone")
def nobody_takes_the_answer(folder: Path, nightly: bool) -> Seen:
    asked = ["tonight --demo", "tonight --demo --json", "records list --demo --json", "--help", "--version"]
    said = ""
    for words in asked if nightly else asked[-1:]:
        with open("/dev/full", "w") as full:
            done = subprocess.run(
                [ADVISOR, *words.split()], stdout=full, stderr=subprocess.PIPE, text=True, check=False
            )
        assert done.returncode == 2, done
        assert SENTENCE.fullmatch(done.stderr.strip()), done
        assert "no space left on device" in done.stderr
        said = done.stderr
        gone = subprocess.run(
            ["bash", "-c", f"{ADVISOR} {words} | true"], capture_output=True, text=True, check=False
        )
        assert (gone.stdout, gone.stderr) == ("", ""), gone
    return Seen(owner_saw=said, tried=2 * (len(asked) if nightly else 1))


SIGNS = ("=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "'=1", "''-", "'quiet", "=a;b", "a;=b", '"=1"', "\uff1d1")


@fault("files", "texts that a spreadsheet takes for formulas, exported and taken in again")
def formulas(folder: Path, nightly: bool) -> Seen:
    when = datetime(2026, 6, 17, 10, tzinfo=UTC)
    records = Records(
        applications=tuple(
            Application(f"{sign}product", (f"{sign}zone", sign), when, when, note=sign) for sign in SIGNS
        ),
        runs=tuple(Run(f"{sign}zone", when, when, 0.0, note=sign) for sign in SIGNS),
        gauge=tuple(GaugeReading(when + timedelta(hours=n), 1.0, note=sign) for n, sign in enumerate(SIGNS)),
    )
    files = write_records(records, folder / "all")
    cells = [
        c for f in files for row in csv.reader(StringIO(f.read_bytes().decode(), newline="")) for c in row
    ]
    taken = [c for c in cells if re.match(r"[=+\-@\t\r\uff1d]", c) and not re.fullmatch(r"-[0-9.e-]+", c)]
    assert taken == []
    back = read_rows(folder / "all").records
    assert replace_ids(back) == replace_ids(records)
    site = folder / "site.yaml"
    site.write_text(SITE.replace("name: Front", 'name: "=1+1"'))
    sheet = ask(
        ["clock-sheet", "--csv", "--site", str(site), "--climate", str(shipped("data", "demo_climate.csv"))],
        here=True,
    )
    assert ",'=1+1," in sheet.saw, sheet
    return Seen(
        owner_saw=f"{len(cells)} cells, none begins a formula, every text comes back", tried=len(SIGNS)
    )


def replace_ids(records: Records) -> dict[str, list[Record]]:
    """The records without the numbers that a file gives them."""
    return {kind: sorted((replace(r, id=0) for r in of_kind(records, kind)), key=repr) for kind in KINDS}


def modes(folder: Path) -> dict[str, str]:
    """The rights of everything in a folder."""
    return {
        str(p.relative_to(folder)): oct(stat.S_IMODE(p.stat().st_mode)) for p in sorted(folder.rglob("*"))
    }


@fault("files", "what is kept is made while the umask lets everybody read, or nobody")
def owner_only(folder: Path, nightly: bool) -> Seen:
    """Records, their lock, a backup, the log and an export, made by the service and by a command."""
    tried = 0
    for umask in (0o000, 0o777) if nightly else (0o000,):
        own = folder / f"{umask:o}"
        own.mkdir()
        told_now = datetime.now(UTC)
        service = f"service: {{advice_at: '{told_now:%H:%M}', backup_at: '{told_now:%H:%M}', log: logs/service.log}}\n"
        site = lay_out(own, more=service, now=told_now)
        site.write_text(site.read_text().replace("records: lawn.sqlite", "records: kept/lawn.sqlite"))
        before = set(modes(own))
        done = told("serve", "--once", "--site", str(site), umask=umask)
        assert done.returncode == 0, done
        if nightly:
            assert (
                told("records", "export", str(own / "out"), "--site", str(site), umask=umask).returncode == 0
            )
        made = {name: mode for name, mode in modes(own).items() if name not in before}
        folders = {name for name in made if (own / name).is_dir()}
        assert {"kept", "kept/lawn.sqlite", "logs/service.log", "kept/lawn.sqlite.lock"} <= set(made), made
        assert any(name.startswith("backups/lawn-") for name in made), made
        wrong = {n: m for n, m in made.items() if m != ("0o700" if n in folders else "0o600")}
        assert wrong == {}, wrong
        tried += len(made)
    return Seen(owner_saw="files 0600, folders 0700", tried=tried)


@fault("files", "no home folder, and a cache that cannot be written")
def no_home(folder: Path, nightly: bool) -> Seen:
    lay_out(folder)
    bare = {k: v for k, v in os.environ.items() if k not in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")}
    said = refused(
        _with(folder, "log", f"{SITE}service: {{advice_at: 20:15, log: ~nobodythere/x.log}}\n", ["check"]),
        here=True,
        where="log.yaml:15: service.log: a home folder is not there",
    )
    if nightly:
        answered = told("tonight", "--now", NOW, "--site", str(folder / "site.yaml"), env=bare)
        assert answered.returncode == 0, answered
    answer = Kept("https://weather.example/", datetime(2026, 6, 17, tzinfo=UTC), {}, "{}")
    assert save(folder / "station.csv" / "cache", answer).lower() == "not a directory"
    return Seen(owner_saw=said, tried=3 if nightly else 2)


WORDS = (
    "",
    "~",
    "null",
    "-1",
    "1e999",
    "0x1F",
    "NaN",
    "yes",
    "[",
    "{",
    "}",
    "&a x",
    "*a",
    "!t x",
    "'",
    '"',
    "%",
    "\t",
    "- ",
    ": ",
    "?",
    "9" * 400,
    "\u202e",
    "a: b",
    "0001-01-01",
    "9999-12-31",
    "24:61",
    "http://[",
    "../" * 9,
    "#",
    "|",
    ">",
    "\x85",
    "é",
    "-",
    "0 mm",
    "-5 mm",
    "1/0",
    "1:0",
)


def mutated(text: str, dice: random.Random) -> str:
    """The text with a few slips in it: words put in, lines doubled, left out, moved, joined or cut short."""
    lines = text.split("\n")
    for _ in range(dice.randint(1, 4)):
        n = dice.randrange(len(lines))
        other = dice.randrange(len(lines))
        line, word = lines[n], dice.choice(WORDS)
        match dice.randrange(8):
            case 0 if ":" in line:
                lines[n] = f"{line.split(':')[0]}: {word}"
            case 1:
                lines.insert(other, line)
            case 2 if len(lines) > 3:
                del lines[n]
            case 3:
                lines[n] = " " * dice.randint(0, 5) + line.lstrip()
            case 4:
                at = dice.randint(0, len(line))
                lines[n] = line[:at] + word + line[at:]
            case 5:
                lines[n] = line[: dice.randint(0, len(line))]
            case 6:
                lines[n] = re.sub(
                    r"[0-9.]+", lambda _: dice.choice(("0", "-3", "1e6", "99999", "0.0001")), line, count=1
                )
            case _:
                lines[n] = "".join(dice.choice((c, c, c, c, c.upper(), word[:1])) for c in line)
    return "\n".join(lines)


@fault("files", "site files with slips in them")
def slips(folder: Path, nightly: bool) -> Seen:
    """Each is checked; one that can be used is asked for tonight's advice too (a few of them in the ordinary run)."""
    lay_out(folder)
    starter = shipped("config", "site.yaml").read_text("utf-8")
    opened = re.sub(r"^(\s*)# (\s*[a-z_]+:|\s*- )", r"\1  \2", starter, flags=re.M)
    demo = shipped("config", "demo.yaml").read_text("utf-8")
    seeds = [SITE, demo, starter, opened]
    dice, path, used, said = random.Random(20260617), folder / "site.yaml", 0, ""
    rounds = 2000 if nightly else 80
    for _ in range(rounds):
        text = mutated(dice.choice(seeds if nightly else seeds[:3]), dice)
        path.write_text(text)
        answer = ask(["check", "--site", str(path)], here=True, cwd=folder)
        assert answer.code in (0, 2), (answer, text)
        if answer.code == 2:
            assert f"{path}:" in answer.saw, (answer, text)
            said = answer.saw
            continue
        used += 1
        if nightly or used <= 3:
            kept = path.with_suffix(".sqlite")
            whole = re.sub(r"^records:.*$", "", text, flags=re.M)
            path.write_text(whole)
            words = ["tonight", "--site", str(path), "--weather", str(folder / "station.csv"), "--now", NOW]
            answer = ask(words, here=True, cwd=folder)
            assert answer.code in (0, 2), (answer, text)
            for one in folder.glob(f"{kept.name}*"):
                one.unlink()
    assert used > 3
    return Seen(owner_saw=said.splitlines()[0], tried=rounds)
