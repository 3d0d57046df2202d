"""Printing: by a browser that is here, or with a clear word where there is none."""

import pytest

from climwin.page import pdf as page_pdf
from climwin.page.pdf import pdf

PAGE = "<!doctype html><html><head><title>x</title></head><body>x</body></html>"
WRITES = """#!/bin/sh
for each; do
  case "$each" in
    --print-to-pdf=*) out="${each#--print-to-pdf=}" ;;
    file://*) page="${each#file://}" ;;
  esac
done
grep -o '@page { size: [A-Za-z0-9]* }' "$page" > "$out"
"""
FAILS = "#!/bin/sh\necho 'no room left' >&2\nexit 3\n"
"""Stand-ins for a browser: one writes what paper it was told, one cannot."""


@pytest.fixture
def page(tmp_path):
    file = tmp_path / "page.html"
    file.write_text(PAGE)
    return file


@pytest.fixture
def browser(tmp_path, monkeypatch):
    """Puts a stand-in on the path, and nothing else of that name."""

    def put(script):
        folder = tmp_path / "bin"
        folder.mkdir()
        (folder / "chromium").write_text(script)
        (folder / "chromium").chmod(0o755)
        monkeypatch.setenv("PATH", f"{folder}:/usr/bin:/bin")

    return put


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_is_the_one_asked_for(page, browser, paper):
    browser(WRITES)
    assert pdf(page, paper=paper) == page.with_suffix(".pdf")
    assert page.with_suffix(".pdf").read_text() == f"@page {{ size: {paper} }}\n"
    assert page.read_text() == PAGE


def test_it_goes_where_it_is_told(page, browser, tmp_path):
    browser(WRITES)
    target = tmp_path / "new" / "paper.pdf"
    assert pdf(page, target) == target
    assert [each.name for each in target.parent.iterdir()] == ["paper.pdf"]


def test_without_a_browser_it_says_how_to_print(page, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(ValueError, match="Open the page in any browser and print it from there"):
        pdf(page)


def test_a_browser_that_fails_is_quoted_and_leaves_nothing(page, browser):
    browser(FAILS)
    with pytest.raises(ValueError, match="could not print the page: no room left"):
        pdf(page)
    assert not page.with_suffix(".pdf").exists()


def test_a_browser_that_hangs_is_ended(page, browser, monkeypatch):
    browser("#!/bin/sh\nexec sleep 30\n")
    monkeypatch.setattr(page_pdf, "PATIENCE_S", 0.2)
    with pytest.raises(ValueError, match=r"not done in 0\.2 s"):
        pdf(page)


def test_other_paper_is_refused(page):
    with pytest.raises(ValueError, match="paper must be one of A4, Letter; got 'A3'"):
        pdf(page, paper="A3")


def test_a_browser_off_the_path_is_found_where_it_was_installed(page, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", "/nowhere")
    monkeypatch.setenv("ProgramFiles", str(tmp_path))
    own = tmp_path / "Own Browser"
    own.write_text("#!/bin/sh\n")
    own.chmod(0o755)
    monkeypatch.setattr(page_pdf, "INSTALLED", ("${ProgramFiles}/Own Browser",))
    assert page_pdf._browser() == str(own)
