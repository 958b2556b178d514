"""Somebody at the app's page, by mouse or by keyboard alone, who counts what is done and waits for what follows."""

from __future__ import annotations

import re
from typing import Any

from tests.browser.demo_app import go_to

__all__ = ["Hands", "Keyboard", "Mouse"]

#: What the kernel is waited for, at most.
WAIT_MS = 120_000
#: Between two looks at whether the kernel has dealt with what was sent.
LOOK_MS = 40
#: More presses of Tab than any page has places to go to.
MOST_TABS = 250
_MESSAGE = re.compile(rb'"msg_id":\s*"([^"]+)"')
#: Comes back when the page has done what was waiting and has drawn it; what it sent on the way has been told before.
_DRAWN = "() => new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)))"
_SAID = """
  const plain = (text) => text.replaceAll("\\u00a0", " ").replaceAll("\\u200b", "").trim();
  const said = (at) => plain(at.getAttribute("aria-label") || [...(at.labels ?? [])].map((label) => label.textContent)
    .join("") || at.textContent);
"""
#: The name of what the keyboard is at, empty where it is nowhere.
_NAME = f"() => {{ {_SAID} return document.activeElement === document.body ? '' : said(document.activeElement); }}"
#: The words of a list's options, and the place of the chosen one.
_OPTIONS = f"""() => {{ {_SAID}
  const list = document.activeElement;
  return [[...list.options].map((option) => plain(option.textContent)), list.selectedIndex];
}}"""
#: On which side of the keyboard what has a name is nearer, as eyes tell.
_WAY = f"""(name) => {{ {_SAID}
  const at = document.activeElement;
  const stops = [...document.querySelectorAll("input, select, textarea, button, a[href], summary, [tabindex='0']")]
    .filter((stop) => !stop.disabled && stop.getClientRects().length && (stop === at || stop.tabIndex >= 0));
  const here = at === document.body ? -1 : stops.filter(
    (stop) => at.compareDocumentPosition(stop) & Node.DOCUMENT_POSITION_PRECEDING).length;
  const away = stops.map((stop, place) => [said(stop), place - here])
    .filter(([words]) => words === name || name.endsWith("…") && words.startsWith(name.slice(0, -1)))
    .map(([, steps]) => steps).sort((one, other) => Math.abs(one) - Math.abs(other));
  return away.length && away[0] < 0 ? "Shift+Tab" : "Tab";
}}"""


def _plain(text: str) -> str:
    return text.replace("\xa0", " ").strip()


class _Messages:
    """What the page has sent to the kernel, and whether all of it was dealt with."""

    def __init__(self, page: Any) -> None:
        self._waiting: set[bytes] = set()
        page.on("websocket", self._listen)

    def _listen(self, socket: Any) -> None:
        self._waiting.clear()  # the page was loaded anew: nobody answers what was sent before
        socket.on("framesent", self._sent)
        socket.on("framereceived", self._received)

    def _sent(self, frame: str | bytes) -> None:
        text = frame.encode() if isinstance(frame, str) else frame
        if b"comm_msg" in text and (found := _MESSAGE.search(text)):
            self._waiting.add(found[1])

    def _received(self, frame: str | bytes) -> None:
        text = frame.encode() if isinstance(frame, str) else frame
        if len(text) < 10_000 and b'"idle"' in text:
            self._waiting -= set(_MESSAGE.findall(text))

    @property
    def waiting(self) -> bool:
        return bool(self._waiting)


class Hands:
    """What can be done at the page.

    Attributes
    ----------
    actions : int
        Things done: a press, a line typed, a choice made.
    complaints : list of str
        What the console complained of, and after how many actions.
    """

    def __init__(self, page: Any) -> None:
        self.page, self.actions = page, 0
        self.main = page.locator(".workbench-place")
        self.complaints: list[str] = []
        self._messages = _Messages(page)
        page.on("console", lambda line: self._complain(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: self._complain(str(error)))

    def _complain(self, text: str) -> None:
        self.complaints.append(f"after {self.actions} actions: {text}")

    def settle(self) -> None:
        """Wait until the kernel has done what was asked, and the page shows it."""
        self.actions += 1
        for _ in range(WAIT_MS // LOOK_MS):
            self.page.evaluate(_DRAWN)
            if not self._messages.waiting:
                self.page.wait_for_selector(".workbench-busy", state="detached")
                self.page.evaluate(_DRAWN)
                if not self._messages.waiting:
                    return
            self.page.wait_for_timeout(LOOK_MS)
        raise AssertionError("the kernel never came to rest")

    def press(self, name: str) -> None:
        """Press a button."""
        raise NotImplementedError

    def show(self, section: str) -> None:
        """Show one of the sections of an editor."""
        raise NotImplementedError

    def tick(self, name: str) -> None:
        """Tick a box, or untick it."""
        raise NotImplementedError

    def type(self, label: str, text: str) -> None:
        """Type into a line in place of what stands there, and go on."""
        raise NotImplementedError

    def choose(self, label: str, *names: str) -> None:
        """Choose in a list; in some lists several."""
        raise NotImplementedError

    def upload(self, button: str, file: Any) -> None:
        """Choose a file of this computer."""
        with self.page.expect_file_chooser() as chooser:
            self._follow(button)
        chooser.value.set_files(file)
        self.settle()

    def download(self, words: str, file: Any) -> None:
        """Follow a link to a file, and keep it."""
        with self.page.expect_download() as found:
            self._follow(words)
        found.value.save_as(file)
        self.settle()

    def find(self, words: str, exercise: str, button: str) -> None:
        """Look for an exercise, and do something with it."""
        self.type("find an exercise", words)
        if self.chosen("found") != exercise:
            self.choose("found", exercise)
        self.press(button)

    def chosen(self, label: str) -> str:
        """Return what is chosen in a list."""
        picked = self.main.get_by_label(label, exact=True).locator("visible=true").first.locator("option:checked")
        return _plain(picked.inner_text())

    def go(self, title: str) -> None:
        """Go to a page."""
        self._turn_to(title)
        self.page.wait_for_selector(f"h1 >> text={title}")
        self.page.wait_for_selector("text=One moment", state="detached")
        self.settle()

    def sees(self, text: str) -> None:
        """Wait until there is something to be seen."""
        self.page.wait_for_selector(f"{text} >> visible=true" if text.startswith(".") else f"text={text}")

    def _follow(self, words: str) -> None:
        raise NotImplementedError

    def _turn_to(self, title: str) -> None:
        raise NotImplementedError


class Mouse(Hands):
    """Points and clicks; the keyboard only types."""

    def _at(self, found: Any) -> Any:
        return found.locator("visible=true").first

    def press(self, name: str) -> None:
        self._at(self.main.get_by_role("button", name=name, exact=True)).click()
        self.settle()

    def show(self, section: str) -> None:
        self._at(self.main.locator(".workbench-sections button", has_text=section)).click()
        self.settle()

    def tick(self, name: str) -> None:
        begins = re.compile("^" + re.escape(name.rstrip("…")) + ("" if name.endswith("…") else "$"))
        self._at(self.main.get_by_role("checkbox", name=begins)).click()
        self.settle()

    def type(self, label: str, text: str) -> None:
        field = self._at(self.main.get_by_label(label, exact=True))
        field.click()
        field.fill(text)
        field.press("Tab")
        self.settle()

    def choose(self, label: str, *names: str) -> None:
        control = self._at(self.main.get_by_label(label, exact=True))
        offered = control.locator("option").all_inner_texts()
        wanted = [text for text in offered if _plain(text) in names]
        assert len(wanted) == len(names), (names, offered)
        control.select_option(label=wanted)
        self.settle()

    def _follow(self, words: str) -> None:
        self._at(self.main.locator("a, .jupyter-button", has_text=words.rstrip("…"))).click()

    def _turn_to(self, title: str) -> None:
        go_to(self.page, title)


class Keyboard(Hands):
    """Goes to what has a name by Tab or Shift+Tab, whichever is nearer, and works it by its keys.

    Attributes
    ----------
    tabs : int
        Presses of Tab and Shift+Tab on the way.
    """

    def __init__(self, page: Any) -> None:
        super().__init__(page)
        self.tabs = 0

    def settle(self) -> None:
        super().settle()
        assert self.page.evaluate(_NAME), "the keyboard is nowhere"

    def to(self, name: str) -> None:
        """Go to what has a name, or begins with it where it ends in dots."""
        key = self.page.evaluate(_WAY, name)
        passed: list[str] = []
        for _ in range(MOST_TABS):
            passed.append(self.page.evaluate(_NAME))
            if passed[-1] == name or (name.endswith("…") and passed[-1].startswith(name[:-1])):
                return
            self.page.keyboard.press(key)
            self.tabs += 1
        raise AssertionError(f"{key} never came to {name!r}, but to: {', '.join(dict.fromkeys(passed))}")

    def _key(self, name: str, key: str) -> None:
        self.to(name)
        self.page.keyboard.press(key)
        self.settle()

    def press(self, name: str) -> None:
        self._key(name, "Enter")

    def show(self, section: str) -> None:
        self._key(section, "Space")

    def tick(self, name: str) -> None:
        self._key(name, "Space")

    def type(self, label: str, text: str) -> None:
        self.to(label)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)
        self.page.keyboard.press("Tab")
        self.settle()

    def choose(self, label: str, *names: str) -> None:
        """Jump by a first letter that no other has, else step by the arrows; further ones by Shift and arrow."""
        self.to(label)
        offered, at = self.page.evaluate(_OPTIONS)
        assert set(names) <= set(offered), (names, offered)
        first, last = offered.index(names[0]), offered.index(names[-1])
        alike = [name for name in offered if name[:1].lower() == names[0][:1].lower()]
        jump = len(alike) == 1
        for _ in range(1 if jump and at != first else abs(first - at)):
            self.page.keyboard.press(names[0][0] if jump else "ArrowDown" if first > at else "ArrowUp")
            self.settle()
            self.actions -= 1
        for _ in range(last - first):
            self.page.keyboard.press("Shift+ArrowDown")
        self.settle()

    def _follow(self, words: str) -> None:
        self.to(words)
        self.page.keyboard.press("Enter")

    def _turn_to(self, title: str) -> None:
        self._follow(title)
