"""Change what climwin says, one word or one choice at a time, and count what the tests notice.

    python tests/mutation/words.py --sample 10

A change puts a word in place of its opposite ("warm" for "cold", "not" left out), another number in
place of one that a sentence spells out, two values of a sentence in each other's places, or the
other branch of a choice. Where it is noticed, some test fails that reads what the sentence claims.

The tests are run once as they are, a file at a time, to learn which of them run which lines.
`--ran` keeps that for the next time; with `--minutes` the run stops in good order, and the next one
goes on from there. Each change then meets the tests that run its line, a quick file first, and the
first failure ends it. Tests beyond `--seconds` of their usual time are left out. A change of the
shared wording meets the tests that run a line with the template's name. Of modules that compute
more than they say, only the words are changed. What is unseen stands in `build/unseen.txt`, to be
met by a test or explained in SURVIVORS.md.

With `--each-folder` so many changes of each folder are tried, whichever module they are of. The
shares then stand by folder, those of sentences apart from those of choices (the other branch, the
other side of a comparison); the last line weighs the folders by the number of their changes. Texts
of errors are apart from what is found: `--errors` adds them.
"""

from __future__ import annotations

import argparse
import ast
import copy
import gc
import hashlib
import importlib
import inspect
import json
import math
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import pairwise
from pathlib import Path
from types import FunctionType
from typing import Any, TextIO
from xml.etree import ElementTree

import pytest
from _pytest.runner import runtestprotocol

ROOT = Path(__file__).resolve().parents[2]
WORDING = "climwin/core/wording.json"
SAYING = """report/sentences report/sentences_caveats report/sentences_climate
report/sentences_decision report/sentences_garden report/sentences_homogeneity
report/sentences_joining report/sentences_perennial report/sentences_season report/sentences_space
report/sentences_ways report/decision report/caveats report/describing report/tables report/spells
cli/notes cli/record cli/space cli/planning cli/growing cli/season cli/trial cli/stations
stations/search core/wording"""
"""Modules that make sentences, or choose what they say."""
ALSO_SAYING = """batch/checkpoint batch/results batch/run batch/stations cli/batch cli/climate
cli/club cli/crops cli/diary cli/looking_back cli/page cli/place crops/explain io/day_relations
io/day_to_day io/departure io/levels io/logger_plausibility io/plausibility io/quality io/repeats
page/club page/club_figure page/club_file page/club_words page/season page/season_page page/sections
page/space page/start plot/comfort plot/diary plot/freeze plot/garden plot/hindcast plot/plans
plot/regional plot/season plot/shelter plot/summary plot/weather report/ical report/season_calendar
stations/cache stations/download stations/garden stations/gazetteer stations/history trials/analysis
trials/design trials/earliness trials/measure trials/plausibility trials/scoring trials/sowings
widgets/panels"""
"""Modules that say something among much else: of these, sentences alone are changed."""
REFUSING = """crops/bands crops/catalogue crops/model io/columns io/daily io/delimited io/exports
io/files io/ghcn io/grids io/loggers io/structured report/garden"""
"""Modules that say nothing but what is wrong with what was given: texts of errors alone."""
TESTS = """tests/report tests/test_language.py tests/core/test_text.py tests/core/test_formatting.py
tests/cli/test_batch.py tests/cli/test_climate.py tests/cli/test_diary.py tests/cli/test_hindcast.py
tests/cli/test_history.py tests/cli/test_main.py tests/cli/test_planning.py
tests/cli/test_record.py tests/cli/test_refusals.py tests/cli/test_said.py
tests/cli/test_said_of_worlds.py tests/cli/test_season.py tests/cli/test_space_and_trial.py
tests/cli/test_wording.py tests/batch tests/crops tests/io tests/planning/test_plan.py
tests/planning/test_ways.py tests/plot tests/shelter/test_verdict.py tests/stations tests/trials
tests/page/test_club.py tests/page/test_club_claims.py tests/page/test_season.py
tests/page/test_said_on_pages.py tests/page/test_sections_claims.py tests/page/test_start.py
tests/core/test_wording_claims.py tests/widgets/test_panels.py"""
"""Tests that read them; whole pages, browsers and slow tests are left out."""
PYTEST = (
    "-q",
    "-m",
    "not slow",
    "--hypothesis-profile",
    "quick",
    "-p",
    "no:cacheprovider",
)
OPPOSITES = """warm cold|warmer colder|warmest coldest|hot cold|heat cold|early late|earlier later|
earliest latest|more fewer|more less|most least|better worse|best worst|above below|before after|
first last|longer shorter|long short|high low|higher lower|highest lowest|rises falls|rise fall|
spring autumn|summer winter|north south|inside outside|indoors outdoors|minimum maximum|
with without|all none|both neither|always never|seldom often|cannot can|too nearly|
larger smaller|large small|wet dry|day night|begins ends|start end|likely unlikely|killed saved|
same other|enough insufficient|missing present|sown planted|sow plant|every no|only also|
north south|east west|up down|add subtract|raised lowered|warming cooling|far near|
many few|nine one|ten two|half all|least most|longest shortest|reached missed|within beyond|
none all|good poor|good bad|gained lost|add spare|fails succeeds|failed succeeded|fail succeed|
old new|true false|known unknown|reliable unreliable|steady abrupt|until from|less more"""
USUAL_S = 0.3
"""Of a test that was not timed yet. [s]"""
FAILED = "failed"
"""What a process tells of the test that noticed its change, in place of the time it took."""
CHOICES = ("turned in ", "if not (", "branches changed places")
"""How a change begins that turns a choice round."""
NUMBERS = re.compile(r"(?<![\w.{%-])\d+(?![\w}])")
NOT = re.compile(r"(\bnot\b|n't\b|\bnever\b) ?")


@dataclass(frozen=True)
class Change:
    """One change: of which module, on which lines, and what it is."""

    module: str
    lines: tuple[int, int]
    """First and last."""
    what: str
    text: Callable[[], str]
    """The whole text with it."""
    name: str = ""
    """Of the template, in the shared wording."""
    is_error: bool = False
    """Whether it tells what is wrong with what was given, and is no finding."""
    is_loaded: bool = False
    """Whether it stands outside all functions, and is run when the module is loaded."""

    @property
    def is_choice(self) -> bool:
        """Whether it turns a condition or a branch round, and leaves all words as they are."""
        return self.what.startswith(CHOICES)


# --- changes ------------------------------------------------------------------------------


def _opposites() -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for pair in OPPOSITES.replace("\n", "").split("|"):
        one, other = pair.split()
        for word, instead in ((one, other), (other, one)):
            if instead not in found[word]:
                found[word].append(instead)
    return dict(found)


INSTEAD = _opposites()


def of_text(text: str) -> Iterator[tuple[str, str]]:
    """Each way to change one word of a sentence: what it is, and the sentence with it."""
    if " " not in text.strip() and not text.strip().isalpha():
        return
    for word in re.finditer(r"(?<![\w{])[A-Za-z]+(?![\w}])", text):
        if _makes_nonsense(text, word):
            continue
        instead = INSTEAD.get(word.group().lower(), ())
        for new in instead[:1]:
            new = new.capitalize() if word.group()[0].isupper() else new
            changed = text[: word.start()] + new + text[word.end() :]
            yield f"{word.group()} -> {new}", changed
    for word in NOT.finditer(text):
        yield "not left out", text[: word.start()] + text[word.end() :]
    yield from _of_numbers(text)


def _of_numbers(text: str) -> Iterator[tuple[str, str]]:
    """The same of each number that it spells out, but for examples: any other would do there."""
    for digits in NUMBERS.finditer(text) if " " in text.strip() else ():
        if EXAMPLE.search(text[: digits.start()]) or DATE.match(text, digits.start()):
            continue
        new = str(int(digits.group()) + 1)
        yield (
            f"{digits.group()} -> {new}",
            text[: digits.start()] + new + text[digits.end() :],
        )


EXAMPLE = re.compile(r"\bsuch as\b[^.]*$")
DATE = re.compile(r"\d{4}-\d\d-\d\d")
"""Where a number stands for any other, and claims nothing."""
COUNTED = re.compile(r" (in|of|year|years|time|times|chance|chances)\b")
ORIGIN = re.compile(
    r"(derived|differs?|converted|computed|read|taken|told|drawn|away|far|apart|choose|comes?|miles"
    r"|kilometres) $"
)


def _makes_nonsense(text: str, word: re.Match[str]) -> bool:
    """Whether a word's opposite would be no claim there, but a slip that nobody could believe.

    "One column" cannot become "nine column", nor "derived from" "derived until": only the one of
    odds ("one year in four") and the from of spans ("from 3 May") are changed. "The two" are no
    ten, and "deserts too" are not nearly anything.
    """
    before, after = text[: word.start()], text[word.end() :]
    if word.group().lower() == "two" and before.lower().endswith("the "):
        return True
    if word.group() == "too" and not after.startswith(" "):
        return True
    if word.group().lower() == "one":
        return not COUNTED.match(after) or after.startswith(" of the two")
    return word.group() == "from" and bool(ORIGIN.search(before))


HELP = ("help", "description", "metavar", "epilog")
SAMPLES = ("LAYOUT", "EXAMPLES")
"""Names of samples of a file, or of calls, that the help shows."""
OPTIONS = ("option", "argument", "switch", "_units_of_file")
"""Arguments of a parser, and what makes an option: what it is for, and no finding."""
ERROR_TEXTS = ("msg", "what", "advice", "choice", "missing", "meant", "_INSTEAD", "_FIELDS")
ERROR_CALLS = ("Error", "_Check", "Fault", "Departed")
"""Names of texts of errors, and what makes one, where a module computes more than it says."""


def _never_said(tree: ast.AST) -> set[int]:
    """Constants that say nothing of a garden.

    Docstrings, keys of what is looked up, help, the steps that a terminal shows while it waits,
    the name of a check, and types.
    """
    aside = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr):
            aside.add(id(node.value))
        elif isinstance(node, ast.Subscript):
            aside.add(id(node.slice))
        if isinstance(node, ast.FunctionDef) and node.name in ("progress", "count_progress"):
            aside |= {id(part) for part in ast.walk(node)}
        is_help = isinstance(node, ast.keyword) and node.arg in HELP
        called = _called(node) if isinstance(node, ast.Call) else ""
        if is_help or called == "progress" or called.endswith(OPTIONS):
            aside |= {id(part) for part in ast.walk(node)}
        aside |= _types_and_samples(node)
        if isinstance(node, ast.Call) and called == "Departure":
            aside.add(id(node.args[0]))
    return aside


def _types_and_samples(node: ast.AST) -> set[int]:
    if isinstance(node, ast.AnnAssign):
        return {id(part) for part in ast.walk(node.annotation)}
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in SAMPLES:
        return {id(node.value)}
    return set()


def _called(node: ast.Call) -> str:
    """The name of what is called."""
    return node.func.id if isinstance(node.func, ast.Name) else ""


def _of_errors(tree: ast.AST) -> set[int]:
    """Nodes that say what was wrong with what somebody gave."""
    found = set()
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in ERROR_TEXTS
        is_fault = isinstance(node, ast.Call) and _called(node).endswith(ERROR_CALLS)
        if is_text or is_fault or isinstance(node, ast.Raise):
            found |= {id(part) for part in ast.walk(node)}
    return found


def of_module(module: str) -> Iterator[Change]:
    """All changes of a module's words and choices, or of its sentences alone."""
    path = f"climwin/{module}.py"
    source = (ROOT / path).read_text()
    tree = ast.parse(source)
    aside = _never_said(tree)
    refuses = module in REFUSING.split()
    # What a check of records says is a finding, also where it ends in a refusal.
    errors = _of_errors(tree) if refuses or not module.startswith("io/") else set()
    inside = {id(part) for part in _within_functions(tree)}
    changes_of = _of_node if module in SAYING.split() else _of_sentence
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in aside or (refuses and id(node) not in errors):
            continue
        for what, new in changes_of(node):
            spot = node.test if isinstance(node, ast.If) else node
            lines = (spot.lineno, spot.end_lineno or spot.lineno)
            is_error, is_loaded = id(node) in errors, id(node) not in inside
            text = partial(_with, tree, place, new)
            yield Change(path, lines, what, text, "", is_error, is_loaded)


def _within_functions(tree: ast.AST) -> Iterator[ast.AST]:
    """What is run when a function is called, and not when the module is loaded."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            for statement in node.body:
                yield from ast.walk(statement)


def _with(tree: ast.Module, place: int, new: ast.AST) -> str:
    """The source with one node, counted as `ast.walk` does, in another's place."""
    changed = copy.deepcopy(tree)
    target = next(node for number, node in enumerate(ast.walk(changed)) if number == place)
    for parent in ast.walk(changed):
        for field, value in ast.iter_fields(parent):
            if value is target:
                setattr(parent, field, new)
            elif isinstance(value, list) and any(each is target for each in value):
                value[:] = [new if each is target else each for each in value]
    return ast.unparse(ast.fix_missing_locations(changed))


def _of_node(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Each way to change one node: what it is, and the node in its place."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        for what, text in of_text(node.value):
            yield f"{what} in {node.value.strip()[:70]!r}", ast.Constant(text)
    elif isinstance(node, ast.JoinedStr):
        yield from _of_values(node)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        yield from _of_comparison(node)
    elif isinstance(node, ast.IfExp):
        turned = ast.IfExp(node.test, node.orelse, node.body)
        yield f"branches changed places in {ast.unparse(node)[:90]}", turned
    elif isinstance(node, ast.If) and ast.unparse(node.test) != "TYPE_CHECKING":
        new = copy.copy(node)
        new.test = ast.UnaryOp(ast.Not(), node.test)
        yield f"if not ({ast.unparse(node.test)[:80]})", new


def _of_sentence(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """The same of what is clearly said: text of two words or more, and choices between texts."""
    if isinstance(node, ast.Constant):
        is_said = isinstance(node.value, str) and " " in node.value.strip()
    elif isinstance(node, ast.IfExp):
        is_said = any(_is_text(branch) for branch in (node.body, node.orelse))
    else:
        is_said = isinstance(node, ast.JoinedStr)
    if is_said:
        yield from _of_node(node)


def _is_text(node: ast.AST) -> bool:
    is_string = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_string or isinstance(node, ast.JoinedStr)


def _of_values(node: ast.JoinedStr) -> Iterator[tuple[str, ast.AST]]:
    """A sentence with two of its values in each other's places."""
    places = [n for n, part in enumerate(node.values) if isinstance(part, ast.FormattedValue)]
    for one, other in pairwise(places):
        parts = list(node.values)
        parts[one], parts[other] = parts[other], parts[one]
        if ast.dump(parts[one]) != ast.dump(parts[other]):
            yield f"values changed places in {ast.unparse(node)[:90]}", ast.JoinedStr(parts)


TURNED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.Gt,
    ast.Gt: ast.Lt,
    ast.LtE: ast.GtE,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
}


def _of_comparison(node: ast.Compare) -> Iterator[tuple[str, ast.AST]]:
    if kind := TURNED.get(type(node.ops[0])):
        turned = ast.Compare(node.left, [kind()], node.comparators)
        yield f"turned in {ast.unparse(node)[:80]}", turned


def of_wording() -> Iterator[Change]:
    """All changes of the wording shared with the front end."""
    source = (ROOT / WORDING).read_text()
    every = json.loads(source)
    for group in ("window_names", "templates"):
        for name, text in every[group].items():
            forms = text.items() if isinstance(text, dict) else [("", text)]
            for form, words in forms:
                for what, new in [*of_text(words), *_of_places(words)]:
                    changed = copy.deepcopy(every)
                    if form:
                        changed[group][name][form] = new
                    else:
                        changed[group][name] = new
                    title = f"{what} in {name}: {words[:60]!r}"
                    yield Change(WORDING, (0, 0), title, partial(json.dumps, changed), name)


def _of_places(template: str) -> Iterator[tuple[str, str]]:
    """A template with two of its placeholders in each other's places."""
    names = list(dict.fromkeys(re.findall(r"\{\w+\}", template)))
    for one, other in pairwise(names):
        parts = re.split(r"(\{\w+\})", template)
        turned = {one: other, other: one}
        yield f"{one} and {other} changed places", "".join(turned.get(p, p) for p in parts)


# --- which tests run which lines ----------------------------------------------------------


def _distance(module: str, tests: str) -> int:
    """How far tests are from a module: 0 for its own, 1 for its folder's, 3 for whole pages."""
    name = Path(module).stem.removeprefix("sentences_")
    same_room = Path(module).parent.name == Path(tests).parent.name
    reads = any(word in Path(tests).stem for word in ("said", "claims", "refusals"))
    if name in Path(tests).stem or f"{name}.py" in tests or (same_room and reads):
        return 0
    if "/page/" in tests or "test_main" in tests or "test_caveats" in tests:
        return 3
    return 1 if same_room else 2


@dataclass(frozen=True)
class Ran:
    """Which tests run which lines, and how long each takes."""

    lines: dict[str, dict[str, list[str]]]
    """By file and line: tests."""
    seconds: dict[str, float]
    sums: dict[str, str]
    """Of the files of tests that were run, and of the modules whose lines they ran."""

    @classmethod
    def read(cls, path: Path) -> Ran:
        """What an earlier run has kept."""
        kept = json.loads(path.read_text())
        names, lines = kept["tests"], kept["lines"]
        for own in lines.values():
            own.update({line: [names[place] for place in places] for line, places in own.items()})
        return cls(lines, kept["seconds"], kept["sums"])

    def keep(self, path: Path) -> None:
        """Keep it for the next run; tests by their place in a list, for they are named often."""
        names = sorted({t for own in self.lines.values() for tests in own.values() for t in tests})
        place = {name: number for number, name in enumerate(names)}
        lines = {
            file: {line: [place[name] for name in tests] for line, tests in own.items()}
            for file, own in self.lines.items()
        }
        kept = {"tests": names, "lines": lines, "seconds": self.seconds, "sums": self.sums}
        path.write_text(json.dumps(kept, separators=(",", ":")))

    def tests(self, change: Change, most: float) -> list[str]:
        """Tests for a change, those nearest to it first, until their time is `most` seconds."""
        names = self._of(change)
        # What one test of a file has computed and kept, others of the file read too.
        own = {name.partition("::")[0] for name in names}
        own = {file for file in own if not _distance(change.module, file)}
        names = names | {test for test in self.seconds if test.partition("::")[0] in own}
        files: dict[str, list[str]] = defaultdict(list)
        for name in names:
            files[name.partition("::")[0]].append(name)
        cost = {f: sum(self.seconds.get(n, USUAL_S) for n in each) for f, each in files.items()}
        out, spent = [], 0.0
        for file in sorted(files, key=lambda f: (_distance(change.module, f), cost[f])):
            for name in sorted(files[file], key=lambda n: self.seconds.get(n, USUAL_S)):
                takes = self.seconds.get(name, USUAL_S)
                if spent + takes < most or not out:
                    out.append(name)
                    spent += takes
        return out

    def within(self, names: list[str], most: float) -> list[str]:
        """As many of these tests as take `most` seconds, the quick ones first."""
        out, spent = [], 0.0
        for name in sorted(names, key=lambda name: self.seconds.get(name, USUAL_S)):
            spent += self.seconds.get(name, USUAL_S)
            if spent > most and out:
                break
            out.append(name)
        return out

    @cached_property
    def tests_known(self) -> set[str]:
        """All tests that ran."""
        return {name for own in self.lines.values() for tests in own.values() for name in tests}

    def _of(self, change: Change) -> set[str]:
        if change.module == WORDING:
            return self._of_template(change.name)
        own = self.lines.get(change.module, {})
        first, last = change.lines
        found = {test for line in range(first, last + 1) for test in own.get(str(line), ())}
        if self.sums.get(change.module) != _sum_of(change.module):  # its lines have moved since
            found = set()
        if found and not change.is_loaded:
            return found
        return {test for tests in own.values() for test in tests}

    def _of_template(self, name: str) -> set[str]:
        found: set[str] = set()
        for path in (ROOT / "climwin").rglob("*.py"):
            own = self.lines.get(str(path.relative_to(ROOT)), {})
            for number, line in enumerate(path.read_text().splitlines(), 1):
                if f'"{name}"' in line:
                    found.update(t for near in (-1, 0, 1) for t in own.get(str(number + near), ()))
        own_file = "tests/core/test_wording_claims.py"  # goes through all templates
        named = {
            str(path.relative_to(ROOT))
            for path in (ROOT / "tests").rglob("test_*.py")
            if f'"{name}"' in path.read_text()
        } | {own_file}
        found.update(test for test in self.tests_known if test.partition("::")[0] in named)
        return found


def test_files() -> list[str]:
    """The files of tests that changes meet."""
    every = []
    for each in TESTS.split():
        path = ROOT / each
        every += sorted(path.glob("test_*.py")) if path.is_dir() else [path]
    return [str(path.relative_to(ROOT)) for path in every]


def _sum_of(file: str) -> str:
    return hashlib.sha256((ROOT / file).read_bytes()).hexdigest()


def learn(ran: Ran, files: list[str]) -> Iterator[str]:
    """Run those files of tests that are new or changed, and note which lines each test runs.

    Yields each file when it was run.
    """
    for file in files:
        if ran.sums.get(file) == _sum_of(file):
            continue
        _forget(ran, file)
        with tempfile.TemporaryDirectory() as folder:
            settings, data, times = (Path(folder) / f"words.{end}" for end in ("ini", "db", "xml"))
            settings.write_text(f"[run]\ndata_file={data}\nsource=climwin\n")
            command = [sys.executable, "-m", "pytest", *PYTEST, "--cov"]
            command += [f"--cov-config={settings}", "--cov-context=test", "--cov-report="]
            # What a shared fixture takes is spent once for all.
            command += ["-o", "junit_duration_report=call"]
            subprocess.run([*command, f"--junitxml={times}", file], cwd=ROOT, check=True)
            for module, own in _lines(data).items():
                known = ran.lines.setdefault(module, {})
                for line, tests in own.items():
                    known[line] = sorted({*known.get(line, ()), *tests})
                now = _sum_of(module)
                ran.sums[module] = now if ran.sums.get(module, now) == now else "several"
            ran.seconds.update(_seconds(times))
        ran.sums[file] = _sum_of(file)
        yield file


def _forget(ran: Ran, file: str) -> None:
    """Leave out what was known of a file of tests."""
    for own in ran.lines.values():
        for line, tests in own.items():
            own[line] = [test for test in tests if not test.startswith(f"{file}::")]


def _lines(data: Path) -> dict[str, dict[str, list[str]]]:
    from coverage import CoverageData

    noted = CoverageData(str(data))
    noted.read()
    every = {name.partition("|")[0] for name in noted.measured_contexts()}
    of_file: dict[str, set[str]] = defaultdict(set)
    for name in every:
        of_file[name.partition("::")[0]].add(name)
    out: dict[str, dict[str, list[str]]] = {}
    for file in noted.measured_files():
        if not noted.lines(file):
            continue
        own: dict[str, list[str]] = {}
        for line, contexts in noted.contexts_by_lineno(file).items():
            names: set[str] = set()
            for each in contexts:
                name, _, phase = each.partition("|")
                # What a fixture runs is read by other tests of the file too.
                names |= of_file[name.partition("::")[0]] if phase == "setup" else {name}
            if names - {""}:
                own[str(line)] = sorted(names - {""})
        out[os.path.relpath(file, ROOT)] = own
    return out


def _seconds(times: Path) -> dict[str, float]:
    """Seconds of each test, from pytest's XML."""
    out = {}
    for case in ElementTree.parse(times).iter("testcase"):
        file = case.get("classname", "").replace(".", "/")
        out[f"{file}.py::{case.get('name')}"] = float(case.get("time", 0))
    return out


# --- changes and tests brought together ---------------------------------------------------


class Changing:
    """In place of pytest's loop over tests: each change meets its tests in a process of its own.

    All that tests share is loaded, and the report on the invented garden made, before the processes
    part; so a change costs little more than its tests.
    """

    def __init__(self, given: argparse.Namespace, ran: Ran) -> None:
        self.given, self.ran = given, ran
        self.sound: set[str] = set()  # tests that failed with a change, and hold without it

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Make the changes, one at a time."""
        self.items = {item.nodeid: item for item in session.items}
        self._share(session)
        self.given.unseen.parent.mkdir(parents=True, exist_ok=True)
        with self.given.unseen.open("w") as out:
            if self.given.each_folder:
                self._by_folder(session, out)
            else:
                self._by_module(session, out)
        return True

    def _by_folder(self, session: pytest.Session, out: TextIO) -> None:
        """Try as many changes of each folder; shares of sentences and of choices.

        Texts of errors have a table of their own, of the folders that have any.
        """
        for is_error in (False, True) if self.given.errors else (False,):
            folders: dict[str, list[Change]] = defaultdict(list)
            for module in self.given.modules or speaking():
                folder = "shared wording" if module == "core/wording" else module.split("/")[0]
                folders[folder] += [c for c in changes_of(module) if c.is_error is is_error]
            print(f"\n{'Texts of errors' if is_error else 'Findings'}:\n\n{heads_of_shares()}")
            whole: list[tuple[int, list[tuple[Change, bool]]]] = []
            for folder, every in folders.items():
                if not every:
                    continue
                tried = sampled(every, self.given.each_folder, self.given.seed)
                fates = [(change, self._is_noticed(session, change, out)) for change in tried]
                whole.append((len(every), fates))
                print(line_of_shares(folder, whole[-1:]), flush=True)
            if whole:
                print(line_of_shares("together, by their changes", whole), flush=True)

    def _by_module(self, session: pytest.Session, out: TextIO) -> None:
        """Try as many changes of each module."""
        print("\n| module | changes | tried | noticed | of errors: changes | tried | noticed |")
        print("| --- | --- | --- | --- | --- | --- | --- |", flush=True)
        for module in self.given.modules or speaking():
            every = changes_of(module)
            cells = [module]
            for is_error in (False, True):
                kind = [change for change in every if change.is_error is is_error]
                count = 0 if is_error and not self.given.errors else self.given.sample
                tried = sampled(kind, count, self.given.seed)
                noticed = sum(self._is_noticed(session, change, out) for change in tried)
                cells += map(str, (len(kind), len(tried), noticed))
            print(f"| {' | '.join(cells)} |", flush=True)

    def _share(self, session: pytest.Session) -> None:
        """Make what many tests share: the report, by the first test of each file that reads it."""
        first = {}
        for item in session.items:
            wanted = set(item.fixturenames) & {"pellbrook", "pellbrook_page"}
            if wanted == {"pellbrook"}:
                first.setdefault(item.path, item)
        for item in first.values():
            runtestprotocol(item, nextitem=item, log=False)
            session._setupstate.teardown_exact(session.items[0])
        # A process that looked for rubbish would copy all that it shares with the others.
        gc.collect()
        gc.freeze()
        gc.disable()

    def _is_noticed(self, session: pytest.Session, change: Change, out: TextIO) -> bool:
        # What was written since the lines were noted may be about the change too.
        newer = [
            name
            for name in self.items
            if name not in self.ran.tests_known
            and not _distance(change.module, name.partition("::")[0])
        ]
        newer = self.ran.within(newer, self.given.seconds)
        known = self.ran.tests(change, self.given.seconds)
        names = [*newer, *(name for name in known if name in self.items)]
        began = time.perf_counter()
        while by := self._first_failure(session, change, names):
            if by not in self.items or by in self.sound:
                break
            if not self._first_failure(session, None, [by]):
                self.sound.add(by)
                break
            # It fails without any change, and so tells nothing of this one.
            print(f"{by} fails as it is", file=out, flush=True)
            names = [name for name in names if name != by]
            del self.items[by]
        took = time.perf_counter() - began
        fate = f"noticed by {by}" if by else f"unseen by {len(names)} tests"
        where = f"{change.module}:{change.lines[0]}"
        print(f"{where}: {change.what}: {fate} ({took:.0f} s)", file=out, flush=True)
        return bool(by)

    def _first_failure(
        self, session: pytest.Session, change: Change | None, names: list[str]
    ) -> str:
        """The first of these tests that fails with a change, in a process of its own; or none."""
        read, write = os.pipe()
        child = os.fork()
        if not child:
            self._in_the_child(session, change, [self.items[name] for name in names], write)
        os.close(write)
        with os.fdopen(read) as pipe:
            told = [line.rstrip("\n").split("\t") for line in pipe]
        os.waitpid(child, 0)
        self.ran.seconds.update({name: float(took) for name, took in told if took != FAILED})
        return next((name for name, took in told if took == FAILED), "")

    def _in_the_child(
        self, session: pytest.Session, change: Change | None, items: list[pytest.Item], write: int
    ) -> None:
        signal.alarm(self.given.patience)  # a change may never end
        signal.signal(signal.SIGALRM, lambda *_: os._exit(1))

        def tell(name: str, took: str) -> None:
            os.write(write, f"{name}\t{took}\n".encode())

        try:
            if change is not None:
                put(change)
            for place, item in enumerate(items):
                session._setupstate.teardown_exact(item)
                following = items[place + 1] if place + 1 < len(items) else None
                reports = runtestprotocol(item, nextitem=following, log=False)
                if any(report.failed for report in reports):
                    tell(item.nodeid, FAILED)
                    break
                tell(item.nodeid, f"{sum(report.duration for report in reports):.3f}")
        except BaseException as error:  # what breaks the module breaks its tests
            tell(repr(error).replace("\n", " "), FAILED)
        os._exit(0)


def changes_of(module: str) -> list[Change]:
    """All changes of a module, or of the shared wording."""
    return [*(of_wording() if module == "core/wording" else of_module(module))]


def heads_of_shares() -> str:
    """Heads of a table of shares."""
    kinds = "sentences: tried | noticed | share | choices: tried | noticed | share"
    heads = f"| folder | changes | {kinds} | all (90 % interval) |"
    return f"{heads}\n|{' --- |' * (heads.count('|') - 1)}"


def line_of_shares(name: str, folders: list[tuple[int, list[tuple[Change, bool]]]]) -> str:
    """A line of it: of folders, their numbers of changes, and which of those tried were noticed.

    Shares of several folders are weighed by their changes. The interval is Agresti and Coull's
    (1998), the variances of the folders added up.
    """
    cells = [name, str(sum(count for count, _ in folders))]
    for is_choice in (False, True):
        kind = [
            (count, [is_seen for change, is_seen in fates if change.is_choice is is_choice])
            for count, fates in folders
        ]
        tried, noticed = (sum(each(fates) for _, fates in kind) for each in (len, sum))
        cells += [str(tried), str(noticed), f"{_weighed(kind)[0]:.0%}" if tried else ""]
    share, low, high = _weighed([(n, [seen for _, seen in fates]) for n, fates in folders])
    return f"| {' | '.join(cells)} | {share:.0%} ({low:.0%} to {high:.0%}) |"


Z = 1.645
"""Of 90 % of a normal distribution, on both sides."""


def _weighed(folders: list[tuple[int, list[bool]]]) -> tuple[float, float, float]:
    """Share noticed, folders weighed by their changes, and its interval."""
    folders = [(count, fates) for count, fates in folders if fates]
    whole = sum(count for count, _ in folders)
    share = sum(count * sum(fates) / len(fates) for count, fates in folders) / whole
    middle = variance = 0.0
    for count, fates in folders:
        tried = len(fates) + Z**2
        each = (sum(fates) + Z**2 / 2) / tried
        middle += count / whole * each
        variance += (count / whole) ** 2 * each * (1 - each) / tried
    reach = Z * math.sqrt(variance)
    return share, max(middle - reach, 0.0), min(middle + reach, 1.0)


def speaking() -> list[str]:
    """All modules that say something."""
    return [*SAYING.split(), *ALSO_SAYING.split(), *REFUSING.split()]


def sampled(changes: list[Change], count: int, seed: int) -> list[Change]:
    """So many of a module's changes, by the luck of a seed."""
    return random.Random(seed).sample(changes, min(count, len(changes)))


def put(change: Change) -> None:
    """Put a change into the modules that are loaded."""
    if change.module == WORDING:
        _put_wording(json.loads(change.text()))
        return
    name = change.module.removesuffix(".py").replace("/", ".")
    module = importlib.import_module(name)
    new = {**{k: v for k, v in vars(module).items() if k.startswith("__")}}
    exec(compile(change.text(), module.__file__ or "", "exec"), new)
    for key, value in new.items():
        old = vars(module).get(key)
        if key.startswith("__") or old is None:
            continue
        if getattr(value, "__module__", "") == name:
            _take_over(old, value)
        elif old is not value:
            _everywhere(key, old, value)


def _take_over(old: object, new: object) -> None:
    """Give functions and methods the code of new ones, wherever they were imported to."""
    if isinstance(old, type):
        for key, value in vars(new).items():
            if key in vars(old):
                _take_over(vars(old)[key], value)
        return
    pairs = [(old, new)]
    pairs += [(getattr(old, n, None), getattr(new, n, None)) for n in ("func", "fget", "__func__")]
    for one, other in pairs:
        one, other = inspect.unwrap(one), inspect.unwrap(other)
        if isinstance(one, FunctionType) and isinstance(other, FunctionType):
            one.__code__, one.__defaults__ = other.__code__, other.__defaults__


def _everywhere(key: str, old: object, new: object) -> None:
    for name, module in list(sys.modules.items()):
        if name.startswith("climwin") and vars(module).get(key) is old:
            setattr(module, key, new)


def _put_wording(words: dict[str, Any]) -> None:
    from climwin.core import wording

    for mapping, group in (
        (wording.TEMPLATES, "templates"),
        (wording.WINDOW_NAMES, "window_names"),
    ):
        changed = {k: v for k, v in words[group].items() if mapping[k] != v}
        for key, value in changed.items():
            # What a module said once, when it was loaded.
            for name, module in list(sys.modules.items()):
                for own, text in list(vars(module).items()) if name.startswith("climwin") else ():
                    if isinstance(text, str) and text == mapping[key]:
                        setattr(module, own, value)
            mapping[key] = value


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", metavar="MODULE", help="all that speak if none")
    parser.add_argument("--sample", type=int, default=10, help="changes of each module [10]")
    parser.add_argument("--each-folder", type=int, help="changes of each folder instead")
    parser.add_argument("--errors", action="store_true", help="change texts of errors too")
    parser.add_argument("--seed", type=int, default=0, help="of the sample [0]")
    parser.add_argument("--seconds", type=float, default=30, help="of tests for a change [30]")
    parser.add_argument("--patience", type=int, default=600, help="seconds for a change [600]")
    parser.add_argument("--ran", type=Path, help="file to keep which tests run which lines")
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop learning after")
    parser.add_argument(
        "--unseen", type=Path, default=Path("build/unseen.txt"), help="file to write"
    )
    given = parser.parse_args()
    if wrong := sorted({*given.modules} - {*speaking()}):
        parser.error(f"no module that speaks: {' '.join(wrong)}; there are {' '.join(speaking())}")
    ran, began = Ran({}, {}, {}), time.monotonic()
    if given.ran and given.ran.exists():
        ran = Ran.read(given.ran)
    os.chdir(ROOT)
    for _ in learn(ran, test_files()):
        if given.ran:
            ran.keep(given.ran)
        if time.monotonic() - began > 60 * given.minutes:
            sys.exit("The time is up. Run the same command again: it goes on from here.")
    pytest.main([*PYTEST, "-p", "no:xdist", *TESTS.split()], plugins=[Changing(given, ran)])


if __name__ == "__main__":
    main()
