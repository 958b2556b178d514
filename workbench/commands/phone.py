"""``workbench open --phone``: today's page for a phone in the same network, behind a token, with no means to run code.

A small server of plain forms beside the app's, which stays on this computer. It reads the gym's folder, and writes what
is typed into the gym's logs by `workbench.panels.session_today`, as the app's page does.
"""

from __future__ import annotations

import hmac
import secrets
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl, urlencode, urlsplit

from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log.session_log import proposed_session
from workbench.log.typed import typed_whole
from workbench.panels import today as today_panel
from workbench.panels.controls import named_files
from workbench.panels.desk import Desk
from workbench.panels.session_today import SessionToday
from workbench.panels.today_form import form_html
from workbench.present.colours import variables
from workbench.present.pages import render
from workbench.quantities import InputError
from workbench.reference.copies import fingerprint_of_file
from workbench.reference.gym_folder import GymFolder

__all__ = ["Phone", "address_in_network", "phone_server"]

#: No form of the page comes near this; nothing longer is read.
_MOST_BYTES: Final = 4_000
_MOST_FIELDS: Final = 30
#: Requests worked on at a time, and how long one may dawdle, s.
_MOST_AT_A_TIME: Final = 16
_PATIENCE_S: Final = 10.0
#: Sessions kept worked out: those of a team in the room.
_MOST_SESSIONS: Final = 16
#: What names a session.
_ASKED: Final[tuple[str, ...]] = ("lifters", "blocks", "rooms", "week", "session")
_COOKIE: Final = "workbench-today"
#: Letters and digits that nobody takes for another; three groups of four are 60 bits.
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
_STATIC: Final = {"/today.css": "text/css", "/today.js": "text/javascript"}
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_SAID: Final = (
    "Every device in this network can reach that address. Who types the token can read and type the sessions of this "
    "gym's lifters, and nothing else: no code can be run there. What is sent is not encrypted: use a network that you "
    "trust."
)


class Phone(NamedTuple):
    """Where today's page answers, and the token that it asks for."""

    address: str
    token: str

    def __str__(self) -> str:
        """Say plainly what is open, and to whom."""
        return f"For a phone: {self.address}  Token: {self.token}\n{_SAID}"


def address_in_network() -> str:
    """Return this computer's address in the network that it is in; InputError where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address of nobody; nothing is sent
            found = str(probe.getsockname()[0])
        except OSError:
            found = ""
    if not found or found.startswith(("127.", "0.")):
        raise InputError(None, "--phone", "this computer is in no network", "join the phone's network first")
    return found


@contextmanager
def phone_server(folder: str | Path, host: str) -> Iterator[Phone]:
    """Serve today's page of a gym at an address while the ``with`` block lasts; InputError where it cannot be."""
    token = "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))
    try:
        server = _Server(GymFolder(folder), token, host)
    except OSError as error:
        problem = f"{host} cannot be opened ({error.strerror})"
        raise InputError(None, "--phone", problem, "check the network") from error
    thread = threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    thread.start()
    try:
        yield Phone(f"http://{server.host}", token)
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class _Server(ThreadingHTTPServer):
    """Today's page over a gym's folder: who is let in, and which sessions are worked out."""

    daemon_threads = True

    def __init__(self, gym: GymFolder, token: str, host: str) -> None:
        super().__init__((host, 0), _Handler)
        self.desk, self.token = Desk(gym), token
        self.host = f"{host}:{self.server_address[1]}"
        self.pass_, self.secret = secrets.token_urlsafe(32), secrets.token_urlsafe(32)
        self.one_at_a_time = threading.Lock()
        self._places = threading.BoundedSemaphore(_MOST_AT_A_TIME)
        self._sessions: dict[tuple[str | None, ...], SessionToday] = {}

    def process_request(self, request: Any, client_address: Any) -> None:
        """Work on a request in a thread of its own; too many at a time are hung up on."""
        if self._places.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Give the place back when the request is done."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._places.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of connections that broke off."""

    def files(self) -> dict[str, list[tuple[str, str, Path]]]:
        """Return what can be chosen: of each kind the key that a request names it by, its name, and its path."""
        gym = self.desk.gym
        named = {kind: named_files(gym.files(kind)) for kind in ("lifters", "rooms")}
        named["blocks"] = today_panel.blocks_of(self.desk)
        return {
            kind: [(f"{path.parent.name}/{path.name}", words, path) for words, path in found]
            for kind, found in named.items()
        }

    def session(self, asked: dict[str, str]) -> SessionToday:
        """Return the session that a request names; only what the gym holds can be named."""
        paths = {kind: self._path(kind, asked) for kind in ("lifters", "rooms", "blocks")}
        block, _ = today_panel.block_of(paths["blocks"])
        week = typed_whole(asked.get("week", ""), 1, block.weeks)
        number = typed_whole(asked.get("session", ""), 1, len(block.sessions))
        seen = (fingerprint_of_file(path) for path in paths.values())
        key = (*map(str, paths.values()), *seen, str(week), str(number))
        if key not in self._sessions:
            room = read_room(paths["rooms"])
            lifter = read_lifter(paths["lifters"], exercises=room.catalogue)
            made = SessionToday(self.desk.gym, block, lifter, room, week=week, session=number)
            while len(self._sessions) >= _MOST_SESSIONS:
                del self._sessions[next(iter(self._sessions))]
            self._sessions[key] = made
        return self._sessions[key]

    def proposed(self, asked: dict[str, str]) -> dict[str, str]:
        """Return a request with week and session, those proposed where it names none."""
        block, start = today_panel.block_of(self._path("blocks", asked))
        lifter = read_lifter(self._path("lifters", asked))
        week, session = proposed_session(self.desk.gym, block, lifter.name, start=start)
        return {"week": str(week), "session": str(session)} | asked

    def sessions_of(self, asked: dict[str, str]) -> tuple[list[int], list[tuple[int, str]]]:
        """Return the weeks and the sessions of the block that a request names."""
        block, _ = today_panel.block_of(self._path("blocks", asked))
        named = [(number, one.name) for number, one in enumerate(block.expanded_sessions(), start=1)]
        return list(range(1, block.weeks + 1)), named

    def _path(self, kind: str, asked: dict[str, str]) -> Path:
        found = next((path for key, _, path in self.files()[kind] if key == asked.get(kind)), None)
        if found is None:
            raise InputError(None, kind, "is none of this gym's", "choose one of the list")
        return found


class _Handler(BaseHTTPRequestHandler):
    """One request: the token, the choice of a session, the session, or one of its forms."""

    server: _Server
    server_version, sys_version = "workbench", ""
    timeout = _PATIENCE_S

    def log_message(self, *_args: Any) -> None:
        """Write no log of who asked for what."""

    def version_string(self) -> str:
        """Say no versions."""
        return self.server_version

    def do_GET(self) -> None:
        """Show a page."""
        if not self._meant_for_us():
            return
        place = urlsplit(self.path)
        if place.path in _STATIC:
            text = Path(today_panel.__file__).with_name(place.path[1:]).read_text(encoding="utf-8")
            colours = variables(dark="") if place.path == "/today.css" else ""
            self._answer(HTTPStatus.OK, f"{colours}{text}".encode(), _STATIC[place.path])
        elif not self._is_let_in():
            self._page("token", status=HTTPStatus.FORBIDDEN)
        elif place.path == "/":
            with self.server.one_at_a_time:
                self._page("choose", files=self.server.files(), last=self.server.desk.gym.remembered())
        elif place.path == "/session":
            self._session(place.query, {})
        else:
            self._page("gone", status=HTTPStatus.NOT_FOUND)

    def do_POST(self) -> None:
        """Take the token, or a form of a session."""
        if not self._meant_for_us():
            return
        place, form = urlsplit(self.path), self._form()
        if form is None:
            return
        if place.path == "/enter":
            self._enter(form)
        elif not self._is_let_in() or not _same(form.pop("secret", ""), self.server.secret):
            self._page("token", status=HTTPStatus.FORBIDDEN)
        elif place.path == "/session":
            self._session(place.query, form)
        else:
            self._page("gone", status=HTTPStatus.NOT_FOUND)

    def _enter(self, form: dict[str, str]) -> None:
        typed = form.get("token", "").strip().lower().replace(" ", "-")
        if not _same(typed, self.server.token):
            self._page("token", wrong=True, status=HTTPStatus.FORBIDDEN)
            return
        cookie = f"{_COOKIE}={self.server.pass_}; HttpOnly; SameSite=Strict; Path=/"
        self._answer(HTTPStatus.SEE_OTHER, b"", "text/plain", {"Location": "/", "Set-Cookie": cookie})

    def _session(self, query: str, form: dict[str, str]) -> None:
        asked = _fields(query)
        if asked is None:
            self._page("gone", status=HTTPStatus.BAD_REQUEST)
            return
        with self.server.one_at_a_time:
            try:
                if not {"week", "session"} <= set(asked):
                    self._go(self.server.proposed(asked))
                    return
                session = self.server.session(asked)
                weeks, sessions = self.server.sessions_of(asked)
            except InputError as error:
                self._page("trouble", trouble=str(error))
                return
            trouble = ""
            if form:
                try:
                    session.take(form)
                    self._go(asked)
                    return
                except InputError as error:
                    trouble = f"Not taken: {error}."
            page = form_html(session, trouble, secret=self.server.secret)
            self._page("session", page=page, asked=asked, weeks=weeks, sessions=sessions)

    def _go(self, asked: dict[str, str]) -> None:
        where: dict[str, str] = {name: asked[name] for name in _ASKED if name in asked}
        self._answer(HTTPStatus.SEE_OTHER, b"", "text/plain", {"Location": f"/session?{urlencode(where)}"})

    def _meant_for_us(self) -> bool:
        """Whether the address asked for is ours: a name that somebody points here is not."""
        if _same(self.headers.get("Host", ""), self.server.host):
            return True
        self._answer(HTTPStatus.BAD_REQUEST, b"", "text/plain")
        return False

    def _is_let_in(self) -> bool:
        given = [part.strip().partition("=") for part in self.headers.get("Cookie", "").split(";")]
        return any(name == _COOKIE and _same(value, self.server.pass_) for name, _, value in given)

    def _form(self) -> dict[str, str] | None:
        """Return the fields that were sent; None, and an answer, where they are too long or no form."""
        try:
            length = int(self.headers.get("Content-Length", ""))
        except ValueError:
            length = -1
        if not 0 <= length <= _MOST_BYTES:
            self._answer(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, b"", "text/plain")
            return None
        fields = _fields(self.rfile.read(length).decode("utf-8", "replace"))
        if fields is None:
            self._answer(HTTPStatus.BAD_REQUEST, b"", "text/plain")
        return fields

    def _page(self, kind: str, *, status: HTTPStatus = HTTPStatus.OK, **values: Any) -> None:
        content = render("phone.html", kind=kind, **{"wrong": False, "trouble": "", "page": ""} | values)
        self._answer(status, content.encode(), "text/html; charset=utf-8")

    def _answer(self, status: HTTPStatus, content: bytes, kind: str, more: dict[str, str] | None = None) -> None:
        self.send_response(status)
        headers = {
            "Content-Type": kind,
            "Content-Length": str(len(content)),
            "Content-Security-Policy": _POLICY,
            "Cache-Control": "no-store",
            "Referrer-Policy": "same-origin",
            "X-Content-Type-Options": "nosniff",
        }
        for name, value in (headers | (more or {})).items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)


def _same(given: str, wanted: str) -> bool:
    """Whether two texts are the same, in a time that tells nothing of how much of them is."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), wanted.encode())


def _fields(text: str) -> dict[str, str] | None:
    """Return fields by name; None where they are too many."""
    try:
        return dict(parse_qsl(text, keep_blank_values=True, max_num_fields=_MOST_FIELDS, errors="replace"))
    except ValueError:
        return None
