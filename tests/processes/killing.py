"""Real commands on a small book, killed at chosen moments, and what must hold of the folder afterwards."""

from __future__ import annotations

import hashlib
import random
import re
import shlex
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from command_line import Runner
from older_book import make_older
from ready_made import Stable

from ledger.book.connect import open_as_it_is, open_reading
from ledger.book.proving import prove

ITEMS = """sku,name,kind,unit,tax_class,style,colour,size
TEE,Plain tee,blank,each,goods,Tee,Plain,M
VIN,Vinyl,vinyl,sheet,goods,,,
PAPER,Cover paper,paper,sheet,supplies when used,,,
"""

BILLS = """bill,name,way,blank,finished,sku,per_piece
FIN,Finished shirt,heat transfer vinyl,Tee,FIN-{size},VIN,1
FIN,,,,,PAPER,1
"""

FEBRUARY = """date,event,sku,quantity,amount,kind,reference,party
2026-02-02,receive,TEE,100,300.00,,A,Alder Yard Blanks
2026-02-02,receive,VIN,30,30.00,,V,Alder Yard Blanks
2026-02-02,receive,PAPER,60,6.00,,P,Alder Yard Blanks
2026-02-05,make,FIN-M,10,9.00,good,first run,
2026-02-10,sell,TEE,50,400.00,,B-1,
2026-02-20,sell,TEE,5,40.00,,B-2,
"""

MARCH = """date,event,sku,quantity,amount,kind,applies_to,reference,party
2026-03-03,receive,TEE,60,186.00,,,AY-1,Alder Yard Blanks
2026-03-03,charge,,,22.20,freight,Alder Yard Blanks/AY-1,,
2026-03-05,own_use,TEE,1,,,,,
2026-03-06,sample,FIN-M,1,,,,,
2026-03-12,make,FIN-M,10,19.86,good,,spring fair,
2026-03-20,sell,FIN-M,5,100.00,,,A-1,
2026-03-24,take_back,FIN-M,1,20.00,,,A-1,
"""

STRAY = re.compile(r"\..+\.\d+\.new(-journal|-wal|-shm)?")
"""What a killed command may leave behind: hidden, and not named like a book."""


def _words(line: str) -> tuple[str, ...]:
    return tuple(shlex.split(line))


@dataclass(frozen=True)
class Command:
    """A command that is killed.

    ``said`` is what it prints once it is done, and ``makes`` the files it may leave named like a book.
    """

    name: str
    words: tuple[str, ...]
    said: str
    template: str = "open"
    makes: tuple[str, ...] = ()


COMMANDS = (
    Command(
        "receive",
        _words("receive --sku TEE --quantity 10 --amount 41.00 --date 2026-02-25 --party 'Alder Yard Blanks'")
        + _words("--reference R-1 --charge 'freight 3.00' --yes"),
        "Posted receipt",
    ),
    Command("post", ("post", "march.csv", "--yes"), "Posted"),
    Command("close", ("close", "2026-02", "--yes"), "Closed 2026-02"),
    Command("reopen", ("reopen", "2026-02", "--why", "a bill came", "--yes"), "Reopened", "closed"),
    Command("undo", ("undo", "6", "--why", "a test", "--yes"), "Posted undo"),
    Command(
        "order",
        _words("order --line 'TEE 72 each at 3.00' --party 'Alder Yard Blanks' --terms destination")
        + _words("--reference O-1 --yes"),
        "Posted order",
    ),
    Command("backup", ("backup", "copy.blankbook"), "Wrote copy.blankbook", makes=("copy.blankbook",)),
    Command(
        "restore",
        ("restore", "earlier.blankbook", "--yes"),
        "Restored",
        "restorable",
        makes=("shop.before-restore.blankbook", "earlier.blankbook"),
    ),
    Command("migrate", ("stock",), "TEE", "older", makes=("shop.before-version-{version}.blankbook",)),
)

State = dict[str, str]
"""A digest of the rows of each table of a book."""


def state_of(connection: sqlite3.Connection) -> State:
    """Return the digests of all tables but those of SQLite and of the migrations, which know the hour."""
    tables = [
        row[0]
        for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        if not row[0].startswith(("sqlite_", "_sqlite_"))
    ]
    return {name: hashlib.sha256(repr(_rows(connection, name)).encode()).hexdigest() for name in tables}


def _rows(connection: sqlite3.Connection, table: str) -> list[object]:
    rows = connection.execute(f'SELECT * FROM "{table}"').fetchall()  # noqa: S608  (names out of the schema)
    return sorted(rows, key=repr)


def state_of_file(path: Path) -> State:
    """Return the state of a book as it is, of whatever version."""
    connection = open_as_it_is(path)
    try:
        return state_of(connection)
    finally:
        connection.close()


def make_templates(folder: Path) -> dict[str, Path]:
    """Make the folders the commands start from, each with a book made by the command itself."""
    start = folder / "open"
    start.mkdir()
    run = Runner(start, Path("shop.blankbook"))
    for name, text in (("items", ITEMS), ("bills", BILLS), ("february", FEBRUARY), ("march", MARCH)):
        (start / f"{name}.csv").write_text(text, encoding="utf-8")
    _do(run, "start", "--name", "Test shop", "--currency", "USD", "--first-month", "2026-02", "--yes")
    _do(run, "items", "load", "items.csv", "--yes")
    _do(run, "boms", "load", "bills.csv", "--yes")
    earlier = (start / "shop.blankbook").read_bytes()
    _do(run, "post", "february.csv", "--yes")
    places = {"open": start}
    for name in ("closed", "restorable", "older"):
        places[name] = Path(shutil.copytree(start, folder / name))
    _do(Runner(places["closed"], Path("shop.blankbook")), "close", "2026-02", "--yes")
    (places["restorable"] / "earlier.blankbook").write_bytes(earlier)
    make_older(places["older"] / "shop.blankbook", 2)
    return places


def _do(run: Runner, *words: str) -> None:
    done = run(*words)
    assert done.returncode == 0, done.stderr


@dataclass(frozen=True)
class Course:
    """How a command goes when nobody kills it: both states, and when it first touches the folder."""

    before: State
    after: State
    seconds: float
    touches_at: float


@dataclass
class Tally:
    """What the kills of one command came to."""

    kills: int = 0
    before: int = 0
    after: int = 0
    ended: int = 0
    strays: int = 0
    touched: int = 0
    findings: list[str] = field(default_factory=list)


class Running(Protocol):
    """A command that was started."""

    def poll(self) -> int | None:
        """Return its exit code, None while it runs."""

    def kill(self) -> None:
        """Kill it where it stands."""

    def wait(self) -> tuple[int, str]:
        """Wait for its end; return its exit code and all it said."""


@dataclass
class Cold:
    """A command in a process started from nothing."""

    process: subprocess.Popen[str]

    def poll(self) -> int | None:
        """Return its exit code, None while it runs."""
        return self.process.poll()

    def kill(self) -> None:
        """Kill it where it stands."""
        self.process.kill()

    def wait(self) -> tuple[int, str]:
        """Wait for its end; return its exit code and all it said."""
        out, told = self.process.communicate(timeout=120)
        return self.process.returncode, out + told


class Executioner:
    """Runs one command again and again, kills it and looks at what is left."""

    def __init__(
        self, command: Command, template: Path, folder: Path, version: int, stable: Stable | None = None
    ) -> None:
        self.command = command
        self.template = template
        self.folder = folder
        self.makes = {name.format(version=version) for name in command.makes}
        self.stable = stable
        self.tally = Tally()
        self.was_changed = False
        self.course = self._watch()

    def begin(self, run: Runner) -> Running:
        """Start the command: out of a process that is ready for it, or from nothing."""
        if self.stable:
            return self.stable.begin(run, self.command.words)
        return Cold(run.begin(*self.command.words))

    def fresh(self) -> Runner:
        """Set the folder up anew; return the command in it."""
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.copytree(self.template, self.folder)
        return Runner(self.folder, Path("shop.blankbook"))

    def _watch(self) -> Course:
        """Let the command run to its end and take its times."""
        run = self.fresh()
        before = state_of_file(self.folder / "shop.blankbook")
        names = _names(self.folder)
        began = time.monotonic()
        process = self.begin(run)
        touched = _until(lambda: _names(self.folder) != names or process.poll() is not None)
        code, told = process.wait()
        seconds = time.monotonic() - began
        assert code == 0, told
        assert self.command.said in told, told
        after = state_of_file(self.folder / "shop.blankbook")
        assert _proved(self.folder / "shop.blankbook") == ""
        return Course(before, after, seconds, touched - began)

    def kill(self, chance: random.Random) -> None:
        """Kill the command at a random moment: one time in four anywhere, else once it touches the folder."""
        run = self.fresh()
        names = _names(self.folder)
        began = time.monotonic()
        process = self.begin(run)
        if chance.random() < 0.25:
            time.sleep(chance.uniform(0, self.course.seconds))
        else:
            _until(lambda: _names(self.folder) != names or process.poll() is not None)
            # Denser towards the beginning of what it writes: a small transaction takes a few milliseconds.
            rest = max(0.02, self.course.seconds - self.course.touches_at)
            time.sleep(rest * chance.random() ** 3)
        process.kill()
        code, told = process.wait()
        was_touched = _names(self.folder) != names
        self.tally.kills += 1
        self.tally.ended += code == 0
        self.tally.touched += was_touched
        where = f"{self.command.name}, killed after {time.monotonic() - began:.3f} s"
        self.tally.findings += [f"{where}: {fault}" for fault in self.faults(told)]

    def faults(self, told: str) -> list[str]:
        """Return what is wrong with the folder after a kill, given what the command had said; count its state."""
        book = self.folder / "shop.blankbook"
        # Looking at an older book migrates it, with a backup of its own: what lies there is told before.
        names = _names(self.folder)
        faults = []
        try:
            state = state_of_file(book)
        except Exception as error:  # noqa: BLE001  (whatever it is, it is a finding)
            return [f"the book does not open: {error}"]
        is_before, is_after = state == self.course.before, state == self.course.after
        self.was_changed = is_after and not is_before
        self.tally.before += is_before
        self.tally.after += is_after and not is_before
        if not is_before and not is_after:
            faults.append("the book is in a state between")
        if self.command.said in told and not is_after:
            faults.append(f"it said '{self.command.said}', and the book does not have it")
        if fault := _proved(book):
            faults.append(fault)
        return [*faults, *self._faults_beside(names)]

    def _faults_beside(self, names: set[str]) -> list[str]:
        faults = []
        for name in sorted(names - _names(self.template)):
            if STRAY.fullmatch(name) or (name.endswith("-journal") and is_cold(self.folder / name)):
                self.tally.strays += 1
            elif name in self.makes:
                path = self.folder / name
                if state_of_file(path) not in (self.course.before, self.course.after):
                    faults.append(f"{name} is neither the book before nor after")
                if fault := _proved(path, as_it_is=self.command.name == "migrate"):
                    faults.append(f"{name}: {fault}")
            elif not name.startswith("shop.profiles"):
                faults.append(f"{name} was left behind")
        if (self.template / "earlier.blankbook").exists() and (
            (self.template / "earlier.blankbook").read_bytes()
            != (self.folder / "earlier.blankbook").read_bytes()
        ):
            faults.append("the backup was changed")
        return faults


def is_cold(journal: Path) -> bool:
    """Whether a journal is gone since it was looked for, or SQLite takes it for one that was not begun."""
    return not journal.exists() or not any(journal.read_bytes()[:8])


def _names(folder: Path) -> set[str]:
    return {each.name for each in folder.iterdir()}


def _until(is_so: Callable[[], bool]) -> float:
    """Wait until something is so; return the moment."""
    while not is_so():
        time.sleep(0.0003)
    return time.monotonic()


def _proved(path: Path, *, as_it_is: bool = False) -> str:
    """Return what proving a book finds; an older one is migrated by it unless it stays as it is."""
    try:
        connection = open_as_it_is(path) if as_it_is else open_reading(path)
    except Exception as error:  # noqa: BLE001  (whatever it is, it is a finding)
        return f"it does not open: {error}"
    try:
        if as_it_is:
            return "".join(row[0] for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok")
        findings = prove(connection).findings
        return "; ".join(f"{one.where}: {one.what}" for one in findings)
    finally:
        connection.close()
