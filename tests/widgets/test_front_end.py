"""The front end's bundles: fresh, whole, and asking for nothing; its unit tests where node is."""

import hashlib
import json
import re
import shutil
import subprocess

import pytest
from house import PACKAGE

from climwin.core.wording import TEMPLATES, say
from climwin.widgets import front_end

JS = PACKAGE / "widgets" / "js"


def new_enough(node):
    """The path of node, if it can import JSON into a module."""
    if node is None:
        return None
    said = subprocess.run([node, "--version"], capture_output=True, text=True, check=True).stdout
    version = tuple(int(part) for part in said.strip().lstrip("v").split(".")[:2])
    return node if version >= (20, 10) else None


NODE = new_enough(shutil.which("node"))
BUNDLES = ("widget.js", "season.js", "page.js")
HEAD = re.compile(
    r"// Bundled from climwin/widgets/js/src by \"make js\" with esbuild (?P<esbuild>\S+): "
    r"do not edit\.\n// sources (?P<sources>\w{64})\n// text (?P<text>\w{64})\n"
)


def sha256(text):
    return hashlib.sha256(text.encode()).hexdigest()


def sum_of_sources():
    """One sum over the names and texts of all sources, as build.js makes it."""
    modules = sorted(f"src/{path.name}" for path in (JS / "src").glob("*.js"))
    paths = [*modules, "build.js", "../../core/wording.json"]
    return sha256("".join(f"{path}\n{(JS / path).read_text('utf-8')}\n" for path in paths))


@pytest.mark.parametrize("name", BUNDLES)
def test_a_bundle_is_what_its_sources_gave(name):
    bundle = (JS / "bundled" / name).read_text("utf-8")
    head = HEAD.match(bundle)
    assert head, "the head is missing: run `make js`"
    assert head["sources"] == sum_of_sources(), "a source has changed since: run `make js`"
    assert head["text"] == sha256(bundle[head.end() :]), "edited by hand: run `make js`"
    package = json.loads((JS / "package.json").read_text("utf-8"))
    assert head["esbuild"] == package["devDependencies"]["esbuild"]


@pytest.mark.skipif(
    NODE is None or not (JS / "node_modules").is_dir(), reason="`make js` has not run here"
)
def test_the_sources_give_the_bundles_again():
    done = subprocess.run([NODE, "build.js", "--check"], cwd=JS, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(NODE is None, reason="Node.js 20.10 or newer is not installed here")
def test_unit_tests_pass_in_node():
    tests = sorted(str(path) for path in (JS / "test").glob("*.test.js"))
    assert tests
    command = [NODE, "--no-warnings", "--test", "--test-reporter=tap", *tests]
    done = subprocess.run(command, cwd=JS, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout
    passed = re.search(r"^# pass (\d+)$", done.stdout, re.MULTILINE)
    assert passed
    assert int(passed[1]) > 20


@pytest.mark.parametrize(
    "script", [front_end.widget_script, front_end.season_script, front_end.page_script]
)
def test_a_bundle_stands_alone(script):
    text = script()
    assert not re.search(r"^\s*import\b|\bimport\(|\brequire\(", text, re.MULTILINE)
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "</script" not in text.lower()  # it would end the script of a page
    assert "<!--" not in text


def test_the_style_covers_what_the_front_end_makes():
    classes = ("strip", "finding", "busy", "caveats", "message", "wrong", "read")
    assert all(f".climwin .{name}" in front_end.style() for name in classes)


def test_versions_are_pinned_and_no_address_is():
    package = json.loads((JS / "package.json").read_text("utf-8"))
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", v) for v in package["devDependencies"].values())
    lock = json.loads((JS / "package-lock.json").read_text("utf-8"))
    locked = [entry for path, entry in lock["packages"].items() if path]
    assert len(locked) > len(package["devDependencies"])
    assert all("integrity" in entry and "resolved" not in entry for entry in locked)


# --- templates --------------------------------------------------------------------------------


def test_the_plural_follows_the_count():
    assert [say("years", count=n) for n in (0, 1, 2)] == ["0 years", "1 year", "2 years"]
    two_forms = [forms for forms in TEMPLATES.values() if not isinstance(forms, str)]
    assert two_forms
    assert all(set(forms) == {"one", "other"} for forms in two_forms)
    assert all("{count}" in form for forms in two_forms for form in forms.values())


def test_a_template_that_is_not_filled_in_is_an_error():
    with pytest.raises(KeyError, match="no_such_template"):
        say("no_such_template")
    with pytest.raises(KeyError, match="last"):
        say("span", first="3 May")


def test_a_name_with_braces_stays_as_it_is():
    assert say("span", first="{last}", last="{first}") == "{last} to {first}"


def test_every_template_is_used_on_both_sides():
    python = "".join(
        path.read_text("utf-8")
        for path in PACKAGE.rglob("*.py")
        if "node_modules" not in path.parts
    )
    javascript = "".join(path.read_text("utf-8") for path in (JS / "src").glob("*.js"))
    for name in TEMPLATES:
        # Of today's climate, or of the record: both sides put the ending to a name of the two.
        stem = name.removesuffix("_today")
        in_python = (f'"{name}"', f'f"{stem}{{of_today}}"')
        in_javascript = (f'"{name}"', f"`{stem}${{ofToday}}`")
        assert any(said in python for said in in_python), f"{name} is not said in Python"
        assert any(said in javascript for said in in_javascript), (
            f"{name} is not said by the front end"
        )
