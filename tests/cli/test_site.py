"""`backing page BOOK -o site/`: pages, index, what a second run leaves alone, faults."""

import os
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from html import unescape
from pathlib import Path

import pytest

from backing.cli.site_work import SiteJob, SiteWish, site_maker
from backing.cli.wish import Wish
from backing.cli.workers import Workers
from backing.errors import BackingError
from backing.files.site_pages import site_page_at
from backing.files.site_tunes import site_tunes

pytestmark = pytest.mark.slow
EXAMPLES = Path(__file__).parents[2] / "examples"
TUNE = 'X:{number}\nT:{title}\nR:jig\nM:6/8\nL:1/8\nK:{key}\n"G"GAB d3|"G"G3 G3|]\n'
BROKEN = "X:9\nT:No notes\nK:G\n|"


def book(*titles, key="G"):
    tunes = enumerate(titles, 1)
    return "\n".join(TUNE.format(number=number, title=title, key=key) for number, title in tunes)


@pytest.fixture
def site(cli, tmp_path):
    """Makes a site of a book with this text."""
    path, out = tmp_path / "book.abc", tmp_path / "site"

    def make(text, *words):
        path.write_text(text, encoding="utf-8")
        return cli("page", path, *words, "-o", f"{out}/"), out

    return make


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def listed(folder):
    """The links of the index, and their texts, in order."""
    text = (folder / "index.html").read_text(encoding="utf-8")
    return [
        (link, unescape(title))
        for link, title in re.findall(r'<a href="([^"]*)">([^<]*)</a>', text)
    ]


def marks(folder):
    return {path.name: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.iterdir()}


def test_each_tune_has_a_page_and_the_index_leads_there(site):
    """Of equal titles each has a page of its own; each page leads back."""
    result, out = site(book("The Kettle", "The Kettle", "Index"))
    assert result.code == 0
    assert names(out) == ["index-3.html", "index.html", "the-kettle-2.html", "the-kettle.html"]
    assert [title for _, title in listed(out)] == ["Index", "The Kettle", "The Kettle"]
    for link, _ in listed(out):
        assert 'href="index.html"' in (out / link).read_text(encoding="utf-8")
    assert "3 pages, 3 of them new or changed" in result.err


def test_a_second_run_leaves_alone_what_is_the_same(site):
    """Files whose bytes would be the same keep their time; a tune that changed gets its page."""
    _, out = site(book("Eel", "Heron"))
    first = marks(out)
    again, _ = site(book("Eel", "Heron"))
    assert marks(out) == first
    assert "0 of them new or changed" in again.err
    changed, _ = site(book("Eel", "Heron").replace("d3", "e3", 1))
    assert "1 of them new or changed" in changed.err
    assert {name for name, mark in marks(out).items() if mark != first[name]} == {"eel.html"}


def test_what_is_asked_for_is_part_of_what_a_page_is_made_from(site, tmp_path):
    """Other options, or a style of one's own that has changed, make the pages anew."""
    _, out = site(book("Eel"))
    result, _ = site(book("Eel"), "--percent", "80")
    assert "1 of them new or changed" in result.err
    style = tmp_path / "mine.toml"
    shipped = (Path(__file__).parents[2] / "styles" / "drone.toml").read_text(encoding="utf-8")
    style.write_text(shipped, encoding="utf-8")
    site(book("Eel"), "--styles", f"light, {style}")
    first = site_page_at(out / "eel.html").made_from
    site(book("Eel"), "--styles", f"light, {style}")
    assert site_page_at(out / "eel.html").made_from == first
    style.write_text(f"{shipped}\n# mine\n", encoding="utf-8")
    site(book("Eel"), "--styles", f"light, {style}")
    assert site_page_at(out / "eel.html").made_from != first


def test_a_page_that_somebody_changed_stays(site):
    """It is said, the others are made; with the wish it is replaced."""
    _, out = site(book("Eel", "Heron"))
    page = out / "eel.html"
    page.write_text(page.read_text(encoding="utf-8").replace("Eel", "Elver"), "utf-8")
    mine = page.read_bytes()
    result, _ = site(book("Eel", "Heron", "Otter"))
    assert result.code == 1
    assert "changed since backing made it" in result.err
    assert "book.abc, line 1" in result.err
    assert page.read_bytes() == mine
    assert [title for _, title in listed(out)] == ["Heron", "Otter"]
    assert site(book("Eel", "Heron", "Otter"), "--replace")[0].code == 0
    assert len(listed(out)) == 3


def test_a_file_of_somebody_elses_is_never_written(site, tmp_path):
    """An index of one's own stops it before anything is made; another page that one alone."""
    out = tmp_path / "site"
    out.mkdir()
    (out / "index.html").write_text("mine")
    result, _ = site(book("Eel"))
    assert result.code == 1
    assert names(out) == ["index.html"]
    (out / "index.html").rename(out / "eel.html")
    result, _ = site(book("Eel", "Heron"))
    assert result.code == 1
    assert (out / "eel.html").read_text() == "mine"
    assert [link for link, _ in listed(out)] == ["heron.html"]


def test_sheets_speak_the_language_of_their_pages(site):
    """What a PDF says of itself is in it as text (XMP)."""
    _, out = site(book("Eel"), "--box", "D/G", "--sheets", "--language", "de")
    assert "Jig, G-Dur, für D/G" in (out / "eel_d-g.pdf").read_bytes().decode("utf-8", "replace")


def test_pages_of_tunes_that_are_gone_are_said_and_removed_on_a_wish(site):
    """They stay, the index leaves them out; other files of the folder are not looked at, nor are
    pages that somebody changed removed."""
    _, out = site(book("Eel", "Heron", "Otter"), "--box", "D/G", "--sheets")
    (out / "notes.txt").write_text("mine")
    page = out / "otter.html"
    page.write_text(page.read_text(encoding="utf-8").replace("Otter", "Stoat"), "utf-8")
    result, _ = site(book("Eel"), "--box", "D/G", "--sheets")
    assert result.code == 0
    assert "heron.html, heron_d-g.pdf" in result.err
    assert "--remove-gone" in result.err
    assert (out / "heron.html").exists()
    assert [link for link, _ in listed(out)] == ["eel.html"]
    result, _ = site(book("Eel"), "--box", "D/G", "--sheets", "--remove-gone")
    assert "removed: heron.html, heron_d-g.pdf" in result.err
    left = ["eel.html", "eel_d-g.pdf", "index.html", "notes.txt", "otter.html"]
    assert names(out) == left


def test_faults_of_single_tunes_are_said_and_the_rest_is_made(site):
    """With file and line; the exit code tells; the page that a tune had before stays."""
    result, out = site(f"{book('Eel')}\n{BROKEN}\n\n{book('Heron')}")
    assert result.code == 1
    assert "error: book.abc, line 9" in result.err
    assert [title for _, title in listed(out)] == ["Eel", "Heron"]
    broken = book("Eel", "Heron").replace("GAB d3|", "", 1).replace('"G""G"G3 G3|]', "|]", 1)
    result, _ = site(broken, "--remove-gone")
    assert result.code == 1
    assert "removed" not in result.err
    assert (out / "eel.html").exists()
    assert [title for _, title in listed(out)] == ["Heron"]


def test_without_any_tune_nothing_is_made(site):
    """No folder either."""
    result, out = site(BROKEN)
    assert result.code == 1
    assert "no page could be made" in result.err
    assert not out.exists()


def test_a_folder_of_tunes_in_all_kinds_of_files(cli, tmp_path):
    """ABC, MIDI, MusicXML and practice files, in folders too; other files are left out, and those
    that cannot be read are said: no page of theirs counts as gone."""
    tunes, out = tmp_path / "tunes", tmp_path / "tunes" / "site"
    (tunes / "jigs").mkdir(parents=True)
    mare = EXAMPLES / "the-towpath-mare.abc"
    (tunes / "mare.abc").write_bytes(mare.read_bytes())
    cli("make", mare, "-o", tunes / "jigs" / "Mare.mid")
    cli("sheet", mare, "-o", tunes / "mare.musicxml")
    (tunes / "two.abc").write_text(book("Eel", "Heron"), encoding="utf-8")
    (tunes / "lesson.toml").write_text(
        'practice = "Evening"\ntune = "mare.abc"\n[[step]]\nbars = "1-2"\n', encoding="utf-8"
    )
    (tunes / "readme.txt").write_text("what is in here")
    (tunes / "bad.abc").write_text("no tune at all\n")
    result = cli("page", tunes, "-o", out)
    assert result.code == 2  # a folder that is not there yet, without a slash: no name of a page
    result = cli("page", tunes, "-o", f"{out}/")
    assert result.code == 1
    assert "bad.abc" in result.err
    pages = ["eel", "heron", "index", "lesson", "mare-musicxml", "mare", "the-towpath-mare"]
    assert names(out) == [f"{stem}.html" for stem in pages]
    before = marks(out)
    cli("page", tunes, "-o", out)
    assert marks(out) == before
    (tunes / "two.abc").write_text("nothing any more\n", encoding="utf-8")
    result = cli("page", tunes, "-o", out, "--remove-gone")
    assert "two.abc" in result.err
    assert "removed" not in result.err
    assert {"eel.html", "heron.html"} <= set(names(out))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--tune", "1"], "--tune is for one tune"),
        (["--then", "x.abc"], "--then is for one tune"),
        (["--styles", "no-such-style"], "there is no style 'no-such-style'"),
        (["--box", "Q/X"], "Q/X"),
        (["--percent", "fast"], "is not a number of per cent"),
    ],
)
def test_what_is_not_understood_is_said_before_anything_is_made(site, words, said):
    """Once, not for every tune."""
    result, out = site(book("Eel", "Heron"), *words)
    assert result.code in (1, 2)
    assert result.err.count(said) == 1
    assert not out.exists()


def test_options_of_a_site_are_for_a_site(cli, tmp_path):
    """Sheets beside a single page, or a folder as a single page, are refused with what to say."""
    for words in ([EXAMPLES / "ice-on-the-tiller.abc", "--sheets"], [EXAMPLES]):
        result = cli("page", *words, "-o", tmp_path / "x.html")
        assert result.code == 2
        assert "-o site/" in result.err
    assert not list(tmp_path.iterdir())


def test_a_folder_is_named_with_a_slash_or_is_there(cli, tmp_path):
    """Else it might be a page; the book may come from standard input."""
    result = cli("page", EXAMPLES / "canal-book.abc", "-o", tmp_path / "site")
    assert result.code == 2
    assert f"with a slash: {tmp_path / 'site'}/" in result.err
    (tmp_path / "site").mkdir()
    run = [sys.executable, "-m", "backing", "page", "-", "-o", tmp_path / "site"]
    done = subprocess.run(run, input=book("Eel"), capture_output=True, text=True, check=True)
    assert "1 page, 1 of them new" in done.stderr
    assert names(tmp_path / "site") == ["eel.html", "index.html"]


def test_a_folder_that_cannot_be_made_is_said(cli, tmp_path):
    """Below a folder that is not there, or where a file is."""
    assert "no folder" in cli("page", EXAMPLES, "-o", f"{tmp_path}/no/site/").err
    (tmp_path / "site").write_text("mine")
    assert "is a file" in cli("page", EXAMPLES, "-o", f"{tmp_path}/site/").err
    assert (tmp_path / "site").read_text() == "mine"


def test_ctrl_c_leaves_no_process_and_no_half_file(tmp_path):
    """As a terminal sends it, to all processes at once; what was written is whole, and a later run
    makes the rest."""
    text = "\n".join(book(f"Tune {n}").replace("X:1", f"X:{n}") for n in range(60))
    (tmp_path / "book.abc").write_text(text, encoding="utf-8")
    words = [sys.executable, "-m", "backing", "page", "book.abc", "--box", "D/G", "-o", "site/"]
    run = subprocess.Popen(
        words, cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    out = tmp_path / "site"
    for _ in range(600):
        if out.is_dir() and len(list(out.glob("*.html"))) > 1:
            break
        time.sleep(0.05)
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=60)  # ends when no process holds the pipe any more
    assert (run.returncode, said.strip()) == (130, "stopped")
    assert {path.suffix for path in out.iterdir()} == {".html"}
    assert not (out / "index.html").exists()
    assert all(site_page_at(path) for path in out.iterdir())


@pytest.fixture
def importable(monkeypatch):
    """Processes of their own find what is in this file, however the tests were started."""
    monkeypatch.syspath_prepend(Path(__file__).parents[2])


def fails(where):
    """What goes wrong in a process of its own: at its start, or at a job."""
    if where == "start":
        os._exit(3)
    return dying


def dying(job):
    if job == 2:
        os._exit(3)
    return job * job


def test_a_process_that_dies_takes_its_job_along_and_nothing_else(importable):
    """The others go on; where none begins at all that is said."""
    with Workers(fails, "job", most=2) as workers:
        assert dict(workers.answers(range(6))) == {0: 0, 1: 1, 2: None, 3: 9, 4: 16, 5: 25}
    with Workers(fails, "job", most=2) as workers:
        assert dict(workers.answers([4])) == {4: 16}
    with Workers(fails, "start", most=2) as workers, pytest.raises(BackingError):
        list(workers.answers(range(6)))


def numbered():
    return lambda job: (os.getpid(), job)


def test_processes_give_their_place_to_others(importable):
    """After so many jobs each; all jobs are done all the same."""
    with Workers(numbered, most=2, each=2) as workers:
        found = [answer for _, answer in workers.answers(range(8))]
    assert sorted(job for _, job in found) == list(range(8))
    assert max(Counter(process for process, _ in found).values()) <= 2
    assert os.getpid() not in {process for process, _ in found}


def test_a_fault_of_ours_stops_no_other_tune(monkeypatch, tmp_path):
    """It is said as one, with the tune's place."""
    (tmp_path / "book.abc").write_text(book("Eel"), encoding="utf-8")
    (tune,) = site_tunes(tmp_path / "book.abc", tmp_path / "site").tunes
    make = site_maker(SiteWish(Wish(), "", False))

    def fails(*words, **more):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("backing.cli.site_work.page_text", fails)
    made = make(SiteJob(0, tune, "0" * 32))
    assert made.page is None
    assert "book.abc, line 1: its page cannot be made: ZeroDivisionError" in made.fault


def test_a_bar_shows_how_far_it_is_on_a_terminal(site, monkeypatch):
    """And nothing where stderr is none."""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    result, _ = site(book("Eel", "Heron"))
    assert "making site" in result.err
