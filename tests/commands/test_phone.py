"""Today's page for a phone: the token is needed, nothing else is reached, and a form sent twice is one set."""

from __future__ import annotations

import http.client
import re
import signal
import socket
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.commands.test_open import START_LIMIT_S, command_line
from workbench.__main__ import main
from workbench.commands import phone as phone_module
from workbench.commands.phone import Phone, address_in_network, phone_server
from workbench.log import read_log
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder

WHERE = {
    "lifters": "lifters/emre_sandoval.toml",
    "blocks": "blocks/block.toml",
    "rooms": "rooms/boathouse_hall.toml",
    "week": "1",
    "session": "1",
}
PLACE = f"/session?{urlencode(WHERE)}"
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[GymFolder, Phone]]:
    gym = GymFolder(tmp_path_factory.mktemp("phone") / "gym")
    gym.make()
    gym.add_demo()
    with phone_server(gym.path, "127.0.0.1") as phone:
        yield gym, phone


class Device:
    """A browser without scripts: it keeps the cookie, and follows nothing by itself."""

    def __init__(self, phone: Phone) -> None:
        self.host, self.token = phone.address.removeprefix("http://"), phone.token
        self.cookie = ""

    def ask(self, method: str, place: str, form: dict[str, str] | bytes | None = None, **headers: str):
        """Return status, headers and text of an answer."""
        connection = http.client.HTTPConnection(self.host, timeout=START_LIMIT_S)
        body = urlencode(form).encode() if isinstance(form, dict) else form
        sent = {**(FORM if body is not None else {}), **({"Cookie": self.cookie} if self.cookie else {}), **headers}
        connection.request(method, place, body, sent)
        answer = connection.getresponse()
        text = answer.read().decode()
        connection.close()
        self.cookie = (answer.headers["Set-Cookie"] or self.cookie).partition(";")[0]
        return answer.status, answer.headers, text

    def enter(self, token: str | None = None):
        return self.ask("POST", "/enter", {"token": self.token if token is None else token})


@pytest.fixture
def device(served: tuple[GymFolder, Phone]) -> Device:
    device = Device(served[1])
    assert device.enter()[0] == 303
    return device


@pytest.fixture
def stranger(served: tuple[GymFolder, Phone]) -> Device:
    return Device(served[1])


def fields(page: str, **more: str) -> dict[str, str]:
    """Fields of the form of the next set, as a browser sends them."""
    form = re.search(r'<form method="post" class="set">.*?</form>', page, re.S)
    assert form is not None
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[0]))
    checked = dict(re.findall(r'type="radio" name="(\w+)" value="([^"]*)" checked', form[0]))
    typed = dict(re.findall(r'name="(reps|rest)".*? value="([^"]*)"', form[0]))
    return {name: unescape(value) for name, value in (hidden | checked | typed).items()} | more


# ---- who is let in --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["/", PLACE, "/anything"])
def test_without_the_token_every_page_asks_for_it_and_says_nothing_else(stranger: Device, place: str) -> None:
    status, _, text = stranger.ask("GET", place)
    assert status == 403
    assert "Token" in text
    assert "Sandoval" not in text


@pytest.mark.parametrize(
    "change", [lambda token: token[:-1], lambda token: token + "a", lambda _: "", lambda _: "ü" * 9]
)
def test_a_wrong_token_is_refused_and_lets_nobody_in(stranger: Device, change) -> None:
    status, headers, text = stranger.enter(change(stranger.token))
    assert status == 403
    assert headers["Set-Cookie"] is None
    assert "That is not the token" in text
    assert stranger.ask("GET", "/")[0] == 403


def test_the_right_token_lets_in_by_a_cookie_that_no_other_site_can_use(stranger: Device) -> None:
    _, headers, _ = stranger.enter(f" {stranger.token.upper()} ")
    assert {"HttpOnly", "SameSite=Strict"} <= {part.strip() for part in headers["Set-Cookie"].split(";")}
    assert stranger.token not in headers["Set-Cookie"]
    assert stranger.ask("GET", "/")[0] == 200
    stranger.cookie += "x"
    assert stranger.ask("GET", "/")[0] == 403


def test_the_token_is_long_and_another_each_time(served: tuple[GymFolder, Phone]) -> None:
    # Three groups of four of 31 letters and digits: 12 log2(31) = 59 bits.
    assert re.fullmatch(r"[a-z2-9]{4}(-[a-z2-9]{4}){2}", served[1].token)
    with phone_server(served[0].path, "127.0.0.1") as other:
        assert other.token != served[1].token


def test_a_form_without_the_page_that_it_stands_on_is_refused(device: Device, served: tuple[GymFolder, Phone]) -> None:
    good = fields(device.ask("GET", PLACE)[2])
    for secret in ({"secret": "x"}, {"secret": ""}):
        assert device.ask("POST", PLACE, good | secret)[0] == 403
    del good["secret"]
    assert device.ask("POST", PLACE, good)[0] == 403
    assert not list((served[0].path / "logs").glob("emre_sandoval_winter*"))


def test_another_name_for_our_address_is_refused(device: Device) -> None:
    assert device.ask("GET", "/", Host="evil.example")[0] == 400
    assert device.ask("POST", "/enter", {"token": device.token}, Host="127.0.0.1:1")[0] == 400


# ---- what can be reached --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "place",
    [
        "/../open.json", "/.workbench/open.json", "/lifters/emre_sandoval.toml", "/today.css/../today.py",
        "/api/kernels", "/api/contents", "/lab", "/voila/render/x", "/static/", "//etc/passwd", "/today.py",
        "/%2e%2e/%2e%2e/etc/passwd",
    ],
)  # fmt: skip
def test_there_is_no_path_to_anything_else(device: Device, place: str) -> None:
    status, _, text = device.ask("GET", place)
    assert status == 404
    assert "nothing here" in text


@pytest.mark.parametrize(
    "change",
    [
        {"lifters": "../lifters/emre_sandoval.toml"}, {"lifters": "/etc/passwd"}, {"lifters": "<script>"},
        {"rooms": "lifters/emre_sandoval.toml"}, {"blocks": "blocks/../block.toml"}, {"blocks": ""}, {"week": "0"},
        {"week": "99"}, {"session": "x"}, {"session": "-1"},
    ],
)  # fmt: skip
def test_only_what_the_gym_holds_can_be_named(device: Device, change: dict[str, str]) -> None:
    status, _, text = device.ask("GET", f"/session?{urlencode(WHERE | change)}")
    assert status == 200
    assert "This cannot be used" in text
    assert "<script>" not in text
    assert "Next set" not in text


def test_other_methods_are_not_there(device: Device) -> None:
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"):
        assert device.ask(method, "/")[0] == 501


def test_what_is_too_long_is_not_read(device: Device) -> None:
    assert device.ask("POST", PLACE, b"x" * 4001)[0] == 413
    assert device.ask("POST", PLACE, b"x" * 4000)[0] == 403  # read, and no form of ours
    assert device.ask("POST", PLACE, urlencode({f"f{n}": "1" for n in range(31)}).encode())[0] == 400
    host, port = device.host.split(":")
    for length in ("-1", "ten", ""):
        with socket.create_connection((host, int(port)), timeout=START_LIMIT_S) as wire:
            wire.sendall(f"POST /enter HTTP/1.1\r\nHost: {device.host}\r\nContent-Length: {length}\r\n\r\n".encode())
            assert b" 413 " in wire.recv(100)


def test_no_page_may_load_or_frame_anything_of_others(device: Device) -> None:
    for place in ("/", PLACE, "/today.css", "/nothing"):
        headers = device.ask("GET", place)[1]
        policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
        assert policy["default-src"] == policy["frame-ancestors"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
        assert headers["Cache-Control"] == "no-store"
        assert "Python" not in str(headers)


# ---- what it is for -------------------------------------------------------------------------------------------------


def test_a_session_is_chosen_proposed_and_typed_without_scripts(
    device: Device, served: tuple[GymFolder, Phone]
) -> None:
    text = device.ask("GET", "/")[2]
    assert "Emre Sandoval" in text
    chosen = {name: WHERE[name] for name in ("lifters", "blocks", "rooms")} | {"lifters": "lifters/cato_venn.toml"}
    status, headers, _ = device.ask("GET", f"/session?{urlencode(chosen)}")
    place = headers["Location"]
    assert (status, place) == (303, f"/session?{urlencode(chosen | {'week': '1', 'session': '1'})}")
    form = fields(device.ask("GET", place)[2], reserve="2")
    for _ in range(2):
        status, headers, _ = device.ask("POST", place, form)
        assert (status, headers["Location"]) == (303, place)
    rows = read_log(next(served[0].path.glob("logs/cato_venn_winter*.csv"))).rows
    assert len(rows) == 1
    assert rows["reps_in_reserve"][0] == 2
    page = device.ask("GET", place)[2]
    assert "set 2 of 5" in page
    assert "Take back" in page
    undo = {"do": "undo", "secret": form["secret"], "last": form["entry"]}
    assert device.ask("POST", place, undo)[0] == 303
    assert "Take back" not in device.ask("GET", place)[2]


def test_what_is_refused_is_said_and_is_no_markup(device: Device) -> None:
    form = fields(device.ask("GET", PLACE)[2])
    status, _, text = device.ask("POST", PLACE, form | {"reps": "<img src=x>", "other": "1"})
    assert status == 200
    assert "Not taken" in text
    assert "<img" not in text
    assert "set 1 of 5" in text


def test_names_of_a_gym_are_no_markup(served: tuple[GymFolder, Phone], device: Device) -> None:
    source = (served[0].path / "lifters" / "emre_sandoval.toml").read_text(encoding="utf-8")
    bad = served[0].add("lifters", "bad", source.replace("Emre Sandoval", "<script>x</script>"))
    try:
        pages = [device.ask("GET", "/"), device.ask("GET", PLACE.replace("emre_sandoval", "bad"))]
        for _, _, text in pages:
            assert "<script>x" not in text
            assert "<script>x</script>" in unescape(text)
    finally:
        bad.unlink()


def test_who_opens_it_is_told_what_and_to_whom(served: tuple[GymFolder, Phone]) -> None:
    said = str(served[1])
    for word in (served[1].address, served[1].token, "Every device in this network", "no code", "not encrypted"):
        assert word in said


def test_a_computer_in_no_network_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    class Nowhere:
        def __init__(self, *_: object) -> None: ...
        def __enter__(self) -> Nowhere:
            return self

        def __exit__(self, *_: object) -> None: ...
        def connect(self, _: object) -> None:
            raise OSError("Network is unreachable")

    monkeypatch.setattr(phone_module.socket, "socket", Nowhere)
    with pytest.raises(InputError, match="in no network"):
        address_in_network()


def test_an_address_that_is_not_ours_is_refused() -> None:
    with pytest.raises(InputError, match="cannot be opened"), phone_server(".", "192.0.2.77"):
        pass


def test_a_place_with_odd_letters_is_no_trouble(device: Device) -> None:
    assert device.ask("GET", "/session?lifters=%ff%00&week=%0d%0a")[0] == 200


# ---- the command ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_option_opens_the_page_and_nothing_else_to_the_network(tmp_path: Path) -> None:
    try:
        here = address_in_network()
    except InputError:
        pytest.skip("this machine is in no network")
    with command_line("open", "--phone", "--no-browser", "club", cwd=tmp_path) as process:
        assert process.stdout is not None
        said = []
        while not said or not said[-1].startswith("Ctrl-C"):
            said.append(process.stdout.readline())
            assert said[-1], said
        text = "".join(said)
        phone = re.search(rf"For a phone: (http://{re.escape(here)}:\d+)  Token: (\S+)", text)
        app = re.search(r"http://127\.0\.0\.1:(\d+)/voila", text)
        assert phone
        assert app
        assert "no code can be run there" in text
        device = Device(Phone(*phone.groups()))
        assert device.ask("GET", "/")[0] == 403
        assert device.enter()[0] == 303
        for place in ("/api/kernels", "/voila/render/.workbench/app.ipynb"):
            assert device.ask("GET", place)[0] == 404
        with socket.socket() as probe:  # the app itself is reached from this computer alone
            assert probe.connect_ex((here, int(app[1]))) != 0
        process.send_signal(signal.SIGINT)
        assert process.wait(START_LIMIT_S) == 0
    host, port = device.host.split(":")
    with socket.socket() as probe:
        assert probe.connect_ex((host, int(port))) != 0


def test_it_is_for_the_app_alone(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["open", "--phone", "--notebooks", "--no-browser", str(tmp_path / "x")]) != 0
    assert "is for the app" in capsys.readouterr().err
    assert not (tmp_path / "x").exists()
