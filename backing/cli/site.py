"""A site: a page for each tune of a book or a folder, and an index of them all."""

import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import typer

from backing.cli.printing import say
from backing.cli.signals import ended_by_signals
from backing.cli.site_work import NO_MARK, SiteJob, SiteMade, SiteWish, site_maker
from backing.cli.workers import Workers
from backing.errors import BackingError, FileError, UsageError, lay_out
from backing.files import check_output
from backing.files.fingerprint import fingerprint, program_mark
from backing.files.reading import read_bytes
from backing.files.site_names import INDEX
from backing.files.site_pages import (
    PAGE,
    SitePage,
    check_folder,
    gone_files,
    is_as_made,
    remove_file,
    save_if_changed,
    site_pages,
)
from backing.files.site_tunes import SiteTune, site_tunes, tune_fault
from backing.render.page.index import IndexRow, render_index
from backing.wording import count, listed

#: Options that are for one tune, by their fields.
_FOR_ONE = {
    "number": "--tune", "then": "--then", "changes": "--changes", "metre": "--metre",
    "beat": "--beat",
}  # fmt: skip
#: Files of a player's own among the names of styles, boxes and profiles.
_OWN_FILES = re.compile(r"(?:^|,)\s*(?:[^:,]*:\s+)?([^,]*?\.toml)", re.IGNORECASE)
_MOST_NAMED = 12


def make_site(
    source: Path, folder: Path, asked: SiteWish, *, replace: bool = False, remove: bool = False
) -> bool:
    """Make the pages of all tunes, and their index, in a folder; what is the same is left alone.

    `remove` takes away what is left of tunes that are no longer there.  True where all went
    well; faults of single tunes are said.  Raises BackingError where there is no tune, or the
    folder cannot be written.
    """
    for field, option in _FOR_ONE.items():
        if getattr(asked.wish, field):
            raise UsageError(f"{option} is for one tune, not for a site", f"leave {option} out")
    site_maker(asked)  # what is not understood is said before anything is done
    check_folder(folder)
    index = folder / f"{INDEX}{PAGE}"
    if folder.is_dir():
        check_output(index, source, (PAGE,), replace=replace)
    found = site_tunes(source, folder)
    run = _SiteRun(folder, found.tunes, asked, replace=replace)
    with ended_by_signals(), _shown(len(found.tunes), folder.name) as tell:
        run.make(tell)
        rows = [row for row in run.rows if row]
        if rows:
            text = render_index(found.title, rows, asked.language)
            save_if_changed(index, text.encode(), replace=replace)
    for fault in (*found.faults, *(text for _, text in sorted(run.faults.items()))):
        say(fault)
    # Where a file could not be read nobody knows which pages are of tunes in it.
    if not found.faults:
        _see_to_the_gone(folder, run, remove=remove)
    faults = len(found.faults) + len(run.faults)
    if run.warnings:
        say(f"{count(run.warnings, 'warning')} about the tunes: backing look shows those of each")
    _say_made(index, rows, run.written, faults)
    return not faults


class _SiteRun:
    """The making of all pages: what is known of each tune, by its place."""

    def __init__(
        self, folder: Path, tunes: Sequence[SiteTune], asked: SiteWish, *, replace: bool
    ) -> None:
        self.rows: list[IndexRow | None] = [None] * len(tunes)
        self.faults: dict[int, str] = {}
        self.written = self.warnings = 0
        self.before = site_pages(folder)
        self._folder, self._tunes, self._asked, self._replace = folder, tunes, asked, replace

    def make(self, tell: Callable[[], None]) -> None:
        """Make all pages that are not as they should be; `tell` is called once for each."""
        with Workers[SiteJob, SiteMade](site_maker, self._asked) as workers:
            for job, made in workers.answers(self._jobs(tell)):
                self._keep(job, made)
                tell()

    @property
    def kept(self) -> Iterator[str]:
        """The files of tunes that are there, those with faults too."""
        for row in self.rows:
            yield from SitePage("", row).files if row else ()
        for place in self.faults:
            name = f"{self._tunes[place].stem}{PAGE}"
            yield from self.before[name].files if name in self.before else (name,)

    def _jobs(self, tell: Callable[[], None]) -> Iterator[SiteJob]:
        """What is to be made; other pages are as they were, or may not be replaced."""
        whole = self._mark_for_all()
        for place, tune in enumerate(self._tunes):
            name = f"{tune.stem}{PAGE}"
            try:
                mark = fingerprint(whole, tune.content()) if whole else NO_MARK
                mark = NO_MARK if tune.practice else mark
                page = self.before.get(name)
                if page and mark != NO_MARK and is_as_made(self._folder, page, mark):
                    self.rows[place] = page.row
                    tell()
                    continue
                if self._folder.is_dir():
                    path = self._folder / name
                    check_output(path, tune.path, (PAGE,), replace=self._replace)
            except BackingError as error:
                self.faults[place] = tune_fault(tune, error)
                tell()
                continue
            yield SiteJob(place, tune, mark)

    def _mark_for_all(self) -> bytes:
        """A mark of what is the same for all pages; empty where that is not known."""
        wish = self._asked.wish
        names = (wish.style, self._asked.styles, wish.box, wish.profile)
        try:
            own = [read_bytes(Path(path)) for text in names for path in _OWN_FILES.findall(text)]
        except FileError:
            return b""
        return fingerprint(program_mark(), repr(self._asked).encode(), *own).encode()

    def _keep(self, job: SiteJob, made: SiteMade | None) -> None:
        """Write what was made: the page last, for it tells of the others."""
        if made is None or made.page is None:
            self.faults[job.place] = made.fault if made else _died(job.tune)
            return
        changed = False
        for name, data in reversed(made.files):
            path = self._folder / name
            try:
                changed |= save_if_changed(path, data, replace=self._replace)
            except FileError as error:
                if not path.exists():
                    raise  # the folder is at fault, not this tune
                self.faults[job.place] = tune_fault(job.tune, error)
                return
        self.rows[job.place] = made.page.row
        self.written += changed
        self.warnings += made.warnings


def _died(tune: SiteTune) -> str:
    said = "the process that made its page came to a sudden end"
    hint = "there may be too little memory, or the tune is very long"
    return lay_out("error", said, hint, where=tune.place)


def _see_to_the_gone(folder: Path, run: _SiteRun, *, remove: bool) -> None:
    """Say which pages are of tunes that are no longer there, or take them away."""
    gone = list(gone_files(folder, run.before.values(), run.kept))
    if not gone:
        return
    ours = [name for name, unchanged in gone if unchanged]
    changed = [name for name, unchanged in gone if not unchanged]
    if remove:
        for name in ours:
            remove_file(folder / name)
        if ours:
            say(f"no longer among the tunes, removed: {_some(ours)}")
        if changed:
            say(f"no longer among the tunes, but changed since they were made: {_some(changed)}")
        return
    say(f"no longer among the tunes: {_some([name for name, _ in gone])}")
    say("hint: they stay there, the index leaves them out; --remove-gone takes them away")


def _some(names: Sequence[str]) -> str:
    if len(names) <= _MOST_NAMED:
        return listed(names)
    return f"{', '.join(names[:_MOST_NAMED])} and {len(names) - _MOST_NAMED} more"


def _say_made(index: Path, rows: Sequence[IndexRow], written: int, faults: int) -> None:
    if not rows:
        say(f"no page could be made of {count(faults, 'tune')}")
        return
    made = f"{count(len(rows), 'page')}, {written} of them new or changed"
    left = f", {count(faults, 'fault')}" if faults else ""
    say(f"made {index}: {made}{left}; open it in a browser, or put the folder on any web space")


@contextmanager
def _shown(number: int, name: str) -> Iterator[Callable[[], None]]:
    """A bar on a terminal that goes on each time it is told."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    with typer.progressbar(length=number, label=f"making {name}", file=sys.stderr) as shown:
        yield lambda: shown.update(1)
