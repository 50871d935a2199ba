"""A real PostgreSQL server for the tests: on a free port, in a folder of its own, under a user without rights."""

from __future__ import annotations

import ctypes
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest

# Mark of a file (``pytestmark = on_both``) or of a test: it runs on a store in memory and on PostgreSQL.
on_both = pytest.mark.parametrize("store_url", ["memory", "postgresql"], indirect=True)

# Users without rights of their own, the first that this system has.
_USERS = ("postgres", "nobody")


def programs() -> Path | None:
    """The folder of a PostgreSQL server's programs: on the path, or where Debian keeps them; None where there are none."""
    found = shutil.which("initdb")
    if found is not None and shutil.which("postgres") is not None:
        return Path(found).resolve().parent
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: -float(p.parent.name)):
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    return None


class Cluster:
    """A running server. Every call of `database` gives a fresh, empty database in it.

    Parameters
    ----------
    durable : bool
        Whether it flushes to the disk as a real one does; only tests of durability need that.
    """

    def __init__(self, *, durable: bool = False):
        folder = programs()
        if folder is None:
            raise RuntimeError("no PostgreSQL server is installed")
        self._programs = folder
        self._durable = durable
        self._names = count(1)
        self._process: subprocess.Popen[bytes] | None = None
        # What the migrations say to the server, once they were heard.
        self._tables: str | None = None
        # Root may not run it, and another user may not enter the folders of root.
        self._user = next(u for u in _USERS if _exists(u)) if os.geteuid() == 0 else None
        self.folder = Path(tempfile.mkdtemp(prefix="obverse-postgresql-"))
        if self._user is not None:
            os.chown(self.folder, pwd.getpwnam(self._user).pw_uid, pwd.getpwnam(self._user).pw_gid)
        # An order of text that is not the order of bytes, as a server set up for people has it.
        order = ["--locale-provider=icu", "--icu-locale=en", "--locale=C.UTF-8", "--encoding=UTF8"]
        done = self._run("initdb", "-D", self._data, "-U", "club", "-A", "trust", "--no-sync", *order)
        if done.returncode:
            raise RuntimeError(f"the cluster was not made: {done.stderr}")
        self.port = 0
        self.start()

    @property
    def _data(self) -> str:
        return str(self.folder / "data")

    def start(self) -> None:
        """Start it, at the port it had before."""
        for _ in range(5):
            port = self.port or _free_port()
            if self._started(port):
                self.port = port
                return
        raise RuntimeError(f"the server did not start: {(self.folder / 'log').read_text()[-2000:]}")

    def _started(self, port: int) -> bool:
        flush = [] if self._durable else ["-c", "fsync=off", "-c", "full_page_writes=off"]
        settings = ["-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories=", "-c", "max_connections=200"]
        command = [str(self._programs / "postgres"), "-D", self._data, "-p", str(port), *settings, *flush]
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                command,
                stdout=log,
                stderr=log,
                cwd=self.folder,
                user=self._user,
                group=self._group(),
                env=_plain_env(),
                preexec_fn=_end_with_the_tests,
            )
        while self._process.poll() is None:
            ready = self._run("pg_isready", "-h", "127.0.0.1", "-p", str(port), "-U", "club", "-d", "postgres")
            if ready.returncode == 0:
                return True
            time.sleep(0.05)
        return False

    def stop(self) -> None:
        """Stop it at once; sessions are cut off, what was committed stays."""
        self._end(signal.SIGINT)

    def freeze(self) -> None:
        """Let every process of the server stand still, as on a computer that hangs."""
        self._signal_all(signal.SIGSTOP)

    def thaw(self) -> None:
        """Go on."""
        self._signal_all(signal.SIGCONT)

    def close(self) -> None:
        """Stop it, without a last flush, and take its folder away."""
        self._end(signal.SIGQUIT)
        shutil.rmtree(self.folder, ignore_errors=True)

    def database(self) -> str:
        """The address of a fresh, empty place for tables: a schema, which takes far less time than a database."""
        name = f"notebook_{os.getpid()}_{next(self._names)}"
        with self._connection("postgres") as connection:
            connection.execute(f"CREATE SCHEMA {name}")
        return f"postgresql+psycopg://club@127.0.0.1:{self.port}/postgres?options=-csearch_path%3D{name}"

    def notebook(self) -> str:
        """As `database`, with the tables that the migrations make of nothing, copied from those they made once here."""
        address = self.database()
        if self._tables is None:
            self._tables = _made_by_the_migrations(address)
            return address
        _, _, schema = address.rpartition("%3D")
        here = (secrets.token_hex(8), datetime.now(UTC).isoformat())
        with self._connection("postgres") as connection:
            connection.execute(f"SET search_path = {schema}; {self._tables}")
            # Every notebook is a darkroom of its own.
            connection.execute("INSERT INTO darkrooms (id, since) VALUES (%s, %s)", here)
        return address

    @contextmanager
    def _connection(self, name: str) -> Iterator:
        import psycopg

        with psycopg.connect(f"host=127.0.0.1 port={self.port} user=club dbname={name}", autocommit=True) as connection:
            yield connection

    def _end(self, how: int) -> None:
        if self._process is not None:
            self._signal_all(signal.SIGCONT)
            self._process.send_signal(how)
            self._process.wait(timeout=60)
            self._process = None

    def _signal_all(self, how: int) -> None:
        assert self._process is not None
        family = [self._process.pid]
        for task in Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children").read_text().split():
            family.append(int(task))
        for pid in family:
            os.kill(pid, how)

    def _group(self) -> int | None:
        return None if self._user is None else pwd.getpwnam(self._user).pw_gid

    def _run(self, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self._programs / program), *arguments],
            capture_output=True,
            text=True,
            cwd=self.folder,
            user=self._user,
            group=self._group(),
            env=_plain_env(),
        )


def _made_by_the_migrations(address: str) -> str:
    """Make the tables there; returns what was said to the server that wrote something, but for the darkroom's own name."""
    from sqlalchemy import Engine, event

    from obverse.store import open_store

    said: list[str] = []

    def hear(_connection, _cursor, statement, parameters, *_more) -> None:
        if statement.lstrip().startswith(("CREATE", "ALTER", "INSERT", "UPDATE", "DROP")) and not parameters:
            said.append(statement.replace("%%", "%"))

    event.listen(Engine, "before_cursor_execute", hear)
    try:
        open_store(address).close()
    finally:
        event.remove(Engine, "before_cursor_execute", hear)
    return ";\n".join(said)


def _end_with_the_tests() -> None:
    """In the child: when the tests are killed, the kernel stops the server (prctl, PR_SET_PDEATHSIG)."""
    ctypes.CDLL(None).prctl(1, signal.SIGQUIT)


def _exists(user: str) -> bool:
    try:
        return bool(pwd.getpwnam(user))
    except KeyError:
        return False


def _plain_env() -> dict[str, str]:
    """Nothing of whoever runs the tests: neither his locale nor settings for another server."""
    return {"PATH": os.environ.get("PATH", "/usr/bin:/bin"), "LC_ALL": "C.UTF-8", "TZ": "UTC"}


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
