"""How many small wrong changes of the deciding rooms the tests notice: run by hand, no part of the test command.

    .venv/bin/pip install -e '.[test,mutation]'
    .venv/bin/python tests/mutation/run_mutants.py --sample 300

Every mutant lives in a copy of the tree, never in the tree itself, and meets the tests that pass by the changed line,
the fastest first, until one fails. A change inside a function is put into the running program, in a child of a process
that has collected all tests once; a change that is read when a room is loaded is written into the copy. Which tests pass
by a line is seen once, with coverage, and looked up from then on; a test file that changed is seen anew. What is known is
kept under `--state`, so a run that was broken off goes on where it stood. A survivor that nobody can notice is written
into `equivalent.toml` beside this file, with the reason; any other asks for a test, or for taking out code that does
nothing.
"""

from __future__ import annotations

import argparse
import compileall
import contextlib
import gc
import importlib
import inspect
import json
import os
import py_compile
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import asdict
from pathlib import Path
from types import CodeType, FunctionType

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from mutants import PACKAGES, Mutant, digest, function_at, function_text, mutants_of, places, tests_for

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = (
    *("science", "published", "hours", "soil_water", "watering_in", "schedule", "tonight", "rounds", "audit"),
    *("clock", "advice", "sentences", "recording", "test_night.py", "test_tuning.py"),
    *("test_usual_year.py", "test_places_and_clocks.py"),
)
"""What is run: no house rules, service or command line, which start processes of their own, and no replays of many
nights, which take longer than a mutant is given."""
BROAD = ("tests/tonight/test_made_evenings.py::test_each_made_evening_is_answered_as_before",)
"""What is tried in the end however long it takes, as it asks two hundred whole evenings."""
LIBRARIES = (
    "numpy",
    "pandas",
    "pyet",
    "scipy.stats",
    "scipy.optimize",
    "pydantic",
    "hypothesis",
    "astral",
    "refet",
)
"""Loaded once, before the children are made."""
OPTIONS = [
    *("-q", "-x", "--tb=no", "--no-header", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:xdist"),
    *(
        "-o",
        "addopts=",
        "--import-mode=importlib",
        "--allow-hosts=127.0.0.1,localhost,::1",
        "--doctest-modules",
    ),
]


class Chosen:
    """Keeps the chosen tests, the fastest first, and remembers which failed."""

    def __init__(self, order: list[str]) -> None:
        self.order = {test: place for place, test in enumerate(order)}
        self.failed = ""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.order), key=lambda i: self.order[i.nodeid])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid} (not loaded)"


class Seen:
    """Notes for every test which lines it passes by and how long it takes."""

    def __init__(self, coverage: object) -> None:
        self.coverage, self.took = coverage, {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item):
        self.coverage.switch_context(item.nodeid)
        began = time.process_time()
        try:
            return (yield)
        finally:
            self.took[item.nodeid] = time.process_time() - began
            self.coverage.switch_context("")


def child(tree: Path, work: Callable[[], None], cpu_s: float) -> str:
    """Do the work in a process of its own inside the tree; "done", "failed" or "timed out"."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_CPU, (int(cpu_s) + 1, int(cpu_s) + 2))
            with (tree / "output").open("w") as out:
                os.dup2(out.fileno(), 1)
                os.dup2(out.fileno(), 2)
            use_tree(tree)
            work()
            code = 0
        finally:
            sys.stdout.flush()
            os._exit(code)
    until = time.monotonic() + 10 * cpu_s + 60
    while time.monotonic() < until:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(pid, signal.SIGKILL)
            if os.WIFSIGNALED(status):
                return "timed out" if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else "failed"
            return "failed" if os.WEXITSTATUS(status) else "done"
        time.sleep(0.02)
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return "timed out"


def use_tree(tree: Path) -> None:
    """From now on this process works in the copy, and its laws are tried on the same examples every time."""
    os.chdir(tree)
    sys.path[:0] = [str(tree), str(tree / "tests")]
    hypothesis = importlib.import_module("hypothesis")
    phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)
    quiet = tuple(hypothesis.HealthCheck)
    hypothesis.settings.register_profile(
        "mutants", derandomize=True, database=None, deadline=None, phases=phases, suppress_health_check=quiet
    )
    hypothesis.settings.load_profile("mutants")


def copy_tree(state: Path) -> Path:
    """A fresh copy whose compiled files are told from their text, not from its age."""
    tree = state / "tree"
    shutil.rmtree(tree, ignore_errors=True)
    ignored = shutil.ignore_patterns("__pycache__", ".*")
    for name in ("advisor", "config", "data", "tests"):
        shutil.copytree(ROOT / name, tree / name, ignore=ignored)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, tree / name)
    compileall.compile_dir(
        tree / "advisor", quiet=1, invalidation_mode=py_compile.PycInvalidationMode.CHECKED_HASH
    )
    return tree


def look(state: Path, tree: Path) -> dict[str, dict]:
    """What every test file's tests pass by, and how long they take; only what changed is run anew."""
    kept = state / "seen.json"
    seen = json.loads(kept.read_text()) if kept.exists() else {}
    files = [
        path
        for name in FOLDERS
        for path in sorted((ROOT / "tests" / name).rglob("test_*.py") or [])
        or [p for p in [ROOT / "tests" / name] if p.is_file()]
    ]
    names = {str(path.relative_to(ROOT)): digest(path.read_text(encoding="utf-8")) for path in files}
    seen = {name: one for name, one in seen.items() if name in names}
    for name, text in names.items():
        if name in seen and seen[name]["text"] == text:
            continue
        print(f"looking at {name}", flush=True)
        found = tree / "found.json"
        found.unlink(missing_ok=True)
        child(tree, lambda name=name, found=found: _look_at(name, tree, found), 3600)
        if not found.exists():
            raise SystemExit(f"{name} could not be run:\n{(tree / 'output').read_text()[-3000:]}")
        seen[name] = {"text": text, **json.loads(found.read_text())}
        kept.with_suffix(".new").write_text(json.dumps(seen))
        kept.with_suffix(".new").replace(kept)
    return seen


def _look_at(name: str, tree: Path, found: Path) -> None:
    from coverage import Coverage

    coverage = Coverage(data_file=None, include=[f"{tree}/advisor/*"], config_file=False)
    plugin = Seen(coverage)
    coverage.start()
    code = pytest.main([*OPTIONS, name], plugins=[plugin])
    coverage.stop()
    if code not in (0, 5):
        raise SystemExit(1)
    data = coverage.get_data()
    functions: dict[str, dict] = {}
    for path in data.measured_files():
        file = Path(path)
        source, short = file.read_text(encoding="utf-8"), str(file.relative_to(tree))
        if short.split("/")[1] not in PACKAGES:
            continue
        for line, tests in data.contexts_by_lineno(path).items():
            inside, first = function_at(source, line)
            if not inside:
                continue
            one = functions.setdefault(
                f"{short}::{inside}", {"text": digest(function_text(source, inside)), "lines": {}}
            )
            one["lines"].setdefault(str(line - first), []).extend(t for t in tests if t)
    found.write_text(json.dumps({"took": plugin.took, "functions": functions}))


def joined(seen: dict[str, dict]) -> tuple[dict[str, dict], dict[str, float]]:
    """By function and by line of it, the tests of all files; and how long each takes."""
    functions: dict[str, dict] = {}
    took: dict[str, float] = {}
    for one in seen.values():
        took |= one["took"]
        for name, there in one["functions"].items():
            mine = functions.setdefault(name, {"text": there["text"], "lines": {}})
            if mine["text"] != there["text"]:
                mine["text"] = "changed between two looks"
            for line, tests in there["lines"].items():
                mine["lines"].setdefault(line, []).extend(tests)
    return functions, took


def run(tree: Path, mutant: Mutant, order: list[str], cpu_s: float) -> tuple[str, str]:
    """Killed, survived or timed out, and the test that noticed."""
    path, told = tree / mutant.file, tree / "told"
    right = path.read_text(encoding="utf-8")
    told.unlink(missing_ok=True)

    def work() -> None:
        plugin = Chosen(order)
        code = pytest.main(
            [*OPTIONS, *dict.fromkeys(test.split("::")[0] for test in order)], plugins=[plugin]
        )
        told.write_text(f"{int(code)} {plugin.failed}")

    try:
        path.write_text(mutant.code, encoding="utf-8")
        ended = child(tree, work, cpu_s)
    finally:
        path.write_text(right, encoding="utf-8")
    return outcome(ended, told)


def outcome(ended: str, told: Path) -> tuple[str, str]:
    """What became of a mutant, from how its process ended and what it told."""
    if ended == "timed out":
        return ended, ""
    if not told.exists():
        return "killed", "the run broke off"
    code, _, test = told.read_text().partition(" ")
    return ("survived" if code == "0" else "killed"), test or f"pytest ended with {code}"


class Loop:
    """Instead of running the collected tests once, runs for every mutant its own, each mutant in a child."""

    def __init__(
        self, tree: Path, trials: list[tuple[Mutant, list[str], float]], tell: Callable[..., None]
    ) -> None:
        self.tree, self.trials, self.tell = tree, trials, tell
        self.failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise SystemExit("the tests could not be collected")
        items = {item.nodeid: item for item in session.items}
        load_all(self.tree)
        alive = living_functions(self.tree)
        gc.collect()
        gc.freeze()
        told = self.tree / "told"
        noticed: set[str] = set()
        for mutant, order, cpu_s in self.trials:
            began = time.monotonic()
            chosen = [items[test] for test in order if test in items]
            told.unlink(missing_ok=True)
            missing = [key for key in self._changed(mutant) if key not in alive]
            assert not missing, f"no such function in the running program: {missing}"
            ended = child(self.tree, lambda m=mutant, c=chosen: self._try(m, c, told, alive), cpu_s)
            self.tell(mutant, order, *outcome(ended, told), time.monotonic() - began)
            noticed.add(outcome(ended, told)[1])
        told.unlink(missing_ok=True)
        child(self.tree, lambda: self._run([items[t] for t in sorted(noticed & set(items))], told), 600)
        failed = told.read_text().partition(" ")[2]
        if failed:
            print(f"\nNothing below holds: {failed} fails without any change.")
        return True

    def _try(self, mutant: Mutant, chosen: list[pytest.Item], told: Path, alive: dict) -> None:
        for key, code in self._changed(mutant).items():
            for function in alive[key]:
                function.__code__ = code
        for name, module in list(sys.modules.items()):
            if name.startswith(tuple(f"advisor.{package}" for package in PACKAGES)):
                for one in list(vars(module).values()):
                    if hasattr(one, "cache_clear"):
                        one.cache_clear()
        self._run(chosen, told)

    def _changed(self, mutant: Mutant) -> dict[tuple[str, str, int], CodeType]:
        path = self.tree / mutant.file
        return changed_functions(path.read_text(encoding="utf-8"), mutant.code, str(path)) or {}

    def _run(self, chosen: list[pytest.Item], told: Path) -> None:
        """The tests until one fails; told are 1 and its name, or 0."""
        for item, following in zip(chosen, [*chosen[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                break
        told.write_text(f"{int(bool(self.failed))} {self.failed}")


def go_round(tree: Path, trials: list[tuple[Mutant, list[str], float]], tell: Callable[..., None]) -> None:
    """Collect the tests once and try each mutant in the running program."""
    files = dict.fromkeys(test.split("::")[0] for _, order, _ in trials for test in order)
    pytest.main([*OPTIONS, "-s", f"--basetemp={tree}/temporary", *files], plugins=[Loop(tree, trials, tell)])


def load_all(tree: Path) -> None:
    """Load every room of the packages that are changed."""
    for package in PACKAGES:
        for path in sorted((tree / "advisor" / package).rglob("*.py")):
            importlib.import_module(
                ".".join(path.relative_to(tree).with_suffix("").parts).removesuffix(".__init__")
            )


def living_functions(tree: Path) -> dict[tuple[str, str, int], list]:
    """By file, dotted name and first line the functions of the running program."""
    found: dict[tuple[str, str, int], list] = {}
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename.startswith(f"{tree}/advisor/"):
            code = one.__code__
            found.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(one)
    return found


def changed_functions(source: str, changed: str, path: str) -> dict[tuple[str, str, int], CodeType] | None:
    """The new code of the functions that a change stands in; None where it is read when the room is loaded."""
    found: dict[tuple[str, str, int], CodeType] = {}

    def look(old: CodeType, new: CodeType) -> bool:
        """Whether all differences lie in functions below."""
        if old.co_code != new.co_code or len(old.co_consts) != len(new.co_consts):
            return False
        for a, b in zip(old.co_consts, new.co_consts, strict=True):
            if not isinstance(a, CodeType):
                if repr(a) != repr(b):
                    return False
            elif a != b:
                if not a.co_flags & inspect.CO_NEWLOCALS:  # the body of a class
                    if not look(a, b):
                        return False
                elif a.co_freevars != b.co_freevars:
                    return False
                else:
                    found[(path, a.co_qualname, a.co_firstlineno)] = b
        return True

    right = compile(source, path, "exec"), compile(changed, path, "exec")
    return found if look(*right) and found else None


def order_of(mutant: Mutant, tests: Iterable[str], took: dict[str, float], most_s: float) -> list[str]:
    """The fastest first, those of the room's own folder before others, up to a time that all may take."""
    own = f"tests/{mutant.file.split('/')[1]}/"
    ordered = sorted(tests, key=lambda test: took.get(test, 0.0) * (0.05 if test.startswith(own) else 1.0))
    spent, chosen = 0.0, []
    for test in ordered:
        spent += took.get(test, 0.0)
        if chosen and spent > most_s:
            break
        chosen.append(test)
    return [*chosen, *(test for test in ordered if test in BROAD and test not in chosen)]


def equivalent() -> dict[str, str]:
    """The mutants that nobody can notice, and why."""
    with Path(__file__).with_name("equivalent.toml").open("rb") as file:
        rows = tomllib.load(file).get("mutant", [])
    return {digest(one["file"], one["inside"], one["before"], one["after"]): one["why"] for one in rows}


def drawn(state: Path, packages: list[str], size: int, seed: int) -> list[Mutant]:
    """The sample, kept while no room of these packages changes: it takes half a minute to draw."""
    rooms = [path for package in packages for path in sorted((ROOT / "advisor" / package).rglob("*.py"))]
    texts = [path.read_text(encoding="utf-8") for path in [*rooms, Path(__file__).with_name("mutants.py")]]
    kept = state / f"sample-{digest(str(size), str(seed), *packages, *texts)}.json"
    if not kept.exists():
        kept.write_text(json.dumps([asdict(mutant) for mutant in sample(packages, size, seed)]))
    return [Mutant(**row) for row in json.loads(kept.read_text())]


def sample(packages: list[str], size: int, seed: int) -> list[Mutant]:
    """So many mutants, spread over the packages by the places that each has."""
    room = {package: places(ROOT, package) for package in packages}
    every = sum(room.values())
    chosen = []
    for package in packages:
        wanted = min(room[package], round(size * room[package] / every))
        drawn = mutants_of(ROOT, package, seed)
        chosen += [next(drawn) for _ in range(wanted)]
    return chosen


def table(packages: list[str], mutants: list[Mutant], results: dict[str, dict], known: dict[str, str]) -> str:
    """Package × what became of its mutants; an equivalent one counts among neither killed nor survived."""
    lines = ["package      sampled  equivalent  killed  timed out  survived  survived of those that differ"]
    total: Counter[str] = Counter()
    for package in [*packages, "all"]:
        counts: Counter[str] = Counter()
        for mutant in mutants:
            if mutant.file.split("/")[1] == package and mutant.key in results:
                ended = results[mutant.key]["ended"]
                counts["equivalent" if ended == "survived" and mutant.key in known else ended] += 1
        if package == "all":
            counts = total
        total = total + counts if package != "all" else total
        differ = counts["killed"] + counts["timed out"] + counts["survived"]
        share = f"{100 * counts['survived'] / differ:.1f} %" if differ else "–"
        lines.append(
            f"{package:<12} {differ + counts['equivalent']:>7} {counts['equivalent']:>11} {counts['killed']:>7}"
            f" {counts['timed out']:>10} {counts['survived']:>9}  {share:>10}"
        )
    return "\n".join(lines)


def known_results(kept: Path) -> dict[str, dict]:
    """What became of each mutant, the last time that it was tried."""
    rows = [json.loads(row) for row in kept.read_text().splitlines()] if kept.exists() else []
    return {row["key"]: row for row in rows}


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--sample", type=int, default=300, help="how many mutants in all")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument(
        "--package", choices=PACKAGES, action="append", help="only this package; may be repeated"
    )
    ask.add_argument("--most", type=float, default=30, help="seconds that the tests of one mutant may take")
    ask.add_argument("--again", action="store_true", help="run the survivors once more")
    ask.add_argument("--table", action="store_true", help="run nothing; print what is known")
    ask.add_argument("--state", type=Path, default=Path(tempfile.gettempdir()) / "advisor-mutants")
    told = ask.parse_args()
    told.state.mkdir(parents=True, exist_ok=True)
    packages = [package for package in PACKAGES if package in (told.package or PACKAGES)]
    kept, known = told.state / "results.jsonl", equivalent()
    results = known_results(kept)
    mutants = drawn(told.state, packages, told.sample, told.seed)
    if not told.table:
        to_run = [
            mutant
            for mutant in mutants
            if mutant.key not in results
            or (told.again and results[mutant.key]["ended"] == "survived" and mutant.key not in known)
        ]

        def keep(row: dict) -> None:
            with kept.open("a") as file:
                file.write(json.dumps(row) + "\n")

        try_all(told.state, to_run, told.most, keep)
        results = known_results(kept)
    print(table(packages, mutants, results, known))
    for mutant in mutants:
        if results.get(mutant.key, {}).get("ended") == "survived":
            print(f"\n{mutant.diff}\n  {known.get(mutant.key, results[mutant.key]['tests'])}")


def try_all(state: Path, mutants: list[Mutant], most_s: float, keep: Callable[[dict], None]) -> None:
    """Try each mutant and keep what becomes of it, one after the other."""
    tree = copy_tree(state)
    for library in LIBRARIES:
        importlib.import_module(library)
    functions, took = joined(look(state, tree))
    passing, loaded, living = {}, [], []
    for mutant in mutants:
        source = (ROOT / mutant.file).read_text(encoding="utf-8")
        tests = passing[mutant.key] = tests_for(mutant, source, functions)
        is_living = changed_functions(source, mutant.code, mutant.file) is not None
        if not tests or not is_living:  # what is read when a room is loaded may be looked at by itself
            own = f"tests/{mutant.file.split('/')[1]}/"
            tests = [*tests, *(test for test in took if test.startswith(own))]
        order = order_of(mutant, dict.fromkeys(tests), took, most_s)
        one = mutant, order, 30 + 3 * sum(took.get(test, 0.0) for test in order)
        (living if is_living else loaded).append(one)
    count = 0

    def tell(mutant: Mutant, order: list[str], ended: str, test: str, seconds: float) -> None:
        nonlocal count
        count += 1
        words = f"{len(order)} of {len(passing[mutant.key])} tests that pass by"
        print(f"{count}/{len(mutants)} {ended} in {seconds:.1f} s: {mutant.diff}", flush=True)
        keep({"key": mutant.key, "ended": ended, "by": test, "tests": words, "diff": mutant.diff})

    if living and (pid := os.fork()) == 0:  # so that no room is loaded here when the others are tried
        try:
            use_tree(tree)
            go_round(tree, living, tell)
        finally:
            sys.stdout.flush()
            os._exit(0)
    elif living:
        os.waitpid(pid, 0)
    count = len(living)
    for mutant, order, cpu_s in loaded:
        began = time.monotonic()
        tell(mutant, order, *run(tree, mutant, order, cpu_s), time.monotonic() - began)


if __name__ == "__main__":
    main()
