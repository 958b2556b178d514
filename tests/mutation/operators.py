"""Small wrong changes of a module's source: which there are, and how its text reads with one of them made."""

from __future__ import annotations

import ast
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

__all__ = ["Mutant", "mutants_of"]


@dataclass(frozen=True)
class Mutant:
    """One change: the text from ``start`` to ``end`` (characters) of a file becomes ``after``.

    ``at_import``: the text runs when its module is imported, not when a function is called.
    """

    file: str
    line: int
    start: int
    end: int
    before: str
    after: str
    at_import: bool
    source_line: str

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What names the change while lines above it come and go."""
        return self.file, self.source_line, self.before, self.after

    def applied(self, text: str) -> str:
        """Return the source with the change made."""
        return text[: self.start] + self.after + text[self.end :]


_COMPARISONS: Final = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
}
_ARITHMETIC: Final = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "/"),
    ast.Mod: ("%", "*"),
    ast.Pow: ("**", "*"),
    ast.BitAnd: ("&", "|"),
    ast.BitOr: ("|", "&"),
}
_NAMES: Final = {
    **{
        a: b
        for pair in (("min", "max"), ("any", "all"), ("minimum", "maximum"), ("floor", "ceil"))
        for a, b in (pair, pair[::-1])
    },
    **{
        a: b
        for pair in (("nanmin", "nanmax"), ("argmin", "argmax"), ("log", "log1p"), ("exp", "expm1"))
        for a, b in (pair, pair[::-1])
    },
    "cumsum": "asarray",
    "abs": "float",
    "not_above": "not_below",
    "not_below": "not_above",
}
_WORDS: Final = {"kg": "lb", "lb": "kg", "s": "min", "min": "s", "not_above": "not_below", "not_below": "not_above"}
_CHECKS_AT_IMPORT: Final = (ast.Module, ast.ClassDef)
Change = tuple[int, int, str]


def mutants_of(path: Path, root: Path) -> list[list[Mutant]]:
    """All mutants of a file, those of one place together."""
    text = path.read_text(encoding="utf-8")
    return [places for places in _Reader(text, path.relative_to(root).as_posix()).places() if places]


class _Reader:
    """Walks one module and lists changes by place."""

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file
        self.lines = text.splitlines()
        self.tree = ast.parse(text)
        starts = [0]
        for line in text.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        self.starts = starts

    def places(self) -> Iterator[list[Mutant]]:
        """Mutants by place, from top to bottom."""
        yield from self._walk(self.tree, at_import=True)

    def _at(self, line: int, column: int) -> int:
        """Character offset of a place that ast gives in bytes."""
        whole = self.lines[line - 1].encode()[:column].decode()
        return self.starts[line - 1] + len(whole)

    def _span(self, node: ast.AST) -> tuple[int, int]:
        return self._at(node.lineno, node.col_offset), self._at(node.end_lineno, node.end_col_offset)  # type: ignore[attr-defined]

    def _source(self, node: ast.AST) -> str:
        start, end = self._span(node)
        return self.text[start:end]

    def _walk(self, node: ast.AST, *, at_import: bool, bounds_only: bool = False) -> Iterator[list[Mutant]]:
        if _skipped(node):
            return
        changes = [] if bounds_only and not isinstance(node, ast.Constant) else list(self._changes(node))
        if changes:
            yield [self._mutant(change, at_import) for change in changes]
        inside_function = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for name, value in ast.iter_fields(node):
            children = [
                child for child in (value if isinstance(value, list) else [value]) if isinstance(child, ast.AST)
            ]
            if name in {"annotation", "returns"}:
                yield from self._bounds(children, at_import)
                continue
            if isinstance(node, ast.Raise) or name == "decorator_list":
                continue
            if (
                name == "body"
                and children
                and isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
                and _is_text(children[0])
            ):
                children = children[1:]
            later = inside_function and name == "body"
            for child in children:
                yield from self._walk(child, at_import=at_import and not later, bounds_only=bounds_only)

    def _bounds(self, annotations: list[ast.AST], at_import: bool) -> Iterator[list[Mutant]]:
        """Of an annotation only the numbers of ``Field(...)`` do anything."""
        for annotation in annotations:
            for call in ast.walk(annotation):
                if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Field":
                    yield from self._walk(call, at_import=at_import, bounds_only=True)

    def _mutant(self, change: Change, at_import: bool) -> Mutant:
        start, end, after = change
        line = self.text.count("\n", 0, start) + 1
        return Mutant(self.file, line, start, end, self.text[start:end], after, at_import, self.lines[line - 1].strip())

    def _changes(self, node: ast.AST) -> Iterator[Change]:
        if isinstance(node, ast.Compare):
            yield from self._comparison(node)
        elif isinstance(node, ast.BinOp):
            yield from self._arithmetic(node.left, node.op, node.right)
        elif isinstance(node, ast.AugAssign):
            yield from self._arithmetic(node.target, node.op, node.value)
        elif isinstance(node, ast.BoolOp):
            yield from self._and_or(node)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            yield (*self._span(node), f"({self._source(node.operand)})")
        elif isinstance(node, ast.Constant):
            yield from self._constant(node)
        elif isinstance(node, ast.Subscript):
            yield from self._index(node)
        elif isinstance(node, ast.Call):
            yield from self._call(node)
        elif isinstance(node, ast.If):
            yield from self._guard(node)
        elif isinstance(node, ast.IfExp):
            yield (*self._span(node.test), f"not ({self._source(node.test)})")
        elif isinstance(node, ast.Raise):
            yield (*self._span(node), "pass")
        elif isinstance(node, ast.Break | ast.Continue):
            yield (*self._span(node), "continue" if isinstance(node, ast.Break) else "break")
        elif isinstance(node, ast.comprehension):
            for test in node.ifs:
                yield (*self._span(test), "True")

    def _between(self, left: ast.AST, right: ast.AST, sign: str) -> tuple[int, int] | None:
        """Where a sign stands between two nodes."""
        start, end = self._span(left)[1], self._span(right)[0]
        pattern = r"\b" + sign.replace(" ", r"\s+") + r"\b" if sign[0].isalpha() else re.escape(sign)
        match = re.search(pattern, self.text[start:end])
        return (start + match.start(), start + match.end()) if match else None

    def _comparison(self, node: ast.Compare) -> Iterator[Change]:
        for left, sign, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
            written, others = _COMPARISONS[type(sign)]
            if (place := self._between(left, right, written)) is not None:
                yield from ((*place, other) for other in others)

    def _arithmetic(self, left: ast.AST, sign: ast.operator, right: ast.AST) -> Iterator[Change]:
        if type(sign) not in _ARITHMETIC or _is_text(left) or _is_text(right):
            return
        written, other = _ARITHMETIC[type(sign)]
        if (place := self._between(left, right, written)) is not None:
            yield (*place, other)

    def _and_or(self, node: ast.BoolOp) -> Iterator[Change]:
        written, other = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        for left, right in itertools.pairwise(node.values):
            if (place := self._between(left, right, written)) is not None:
                yield (*place, other)

    def _constant(self, node: ast.Constant) -> Iterator[Change]:
        value = node.value
        span = self._span(node)
        if isinstance(value, bool):
            yield (*span, str(not value))
        elif isinstance(value, int):
            yield (*span, str(value + 1))
            if value == 1:
                yield (*span, "0")
            elif value > 1:
                yield (*span, str(value - 1))
        elif isinstance(value, float):
            yield (*span, repr(value * 1.1) if value else "1.0")
            if value:
                yield (*span, repr(value * 0.9))
        elif isinstance(value, str) and value in _WORDS:
            yield (*span, repr(_WORDS[value]))

    def _index(self, node: ast.Subscript) -> Iterator[Change]:
        source = self._source(node.slice)
        if source in {"0", "-1"}:
            yield (*self._span(node.slice), "-1" if source == "0" else "0")

    def _call(self, node: ast.Call) -> Iterator[Change]:
        name = node.func
        if isinstance(name, ast.Name | ast.Attribute):
            called = name.id if isinstance(name, ast.Name) else name.attr
            end = self._span(name)[1]
            if called in _NAMES:
                yield end - len(called), end, _NAMES[called]
            if called == "where" and len(node.args) == 3:
                yield self._swapped(node.args[1], node.args[2])
        valued = [keyword.value for keyword in node.keywords if keyword.arg and not _is_text(keyword.value)]
        for first, second in itertools.pairwise(valued):
            if self._source(first) != self._source(second):
                yield self._swapped(first, second)

    def _swapped(self, first: ast.AST, second: ast.AST) -> Change:
        (start, first_end), (second_start, end) = self._span(first), self._span(second)
        return start, end, self._source(second) + self.text[first_end:second_start] + self._source(first)

    def _guard(self, node: ast.If) -> Iterator[Change]:
        if isinstance(node.body[-1], ast.Raise | ast.Return | ast.Continue | ast.Break):
            yield (*self._span(node.test), "False")
        yield (*self._span(node.test), f"not ({self._source(node.test)})")


def _is_text(node: ast.AST) -> bool:
    if isinstance(node, ast.Expr):
        node = node.value
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value not in _WORDS
    )


def _skipped(node: ast.AST) -> bool:
    """Messages, lists of public names, what only a type checker runs, and a run that only compiles: nobody reads it.

    Nor ``strict`` of a zip: it asserts that both are as long, and nothing follows from it.
    """
    if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.keyword):
        return node.arg == "strict"
    if isinstance(node, ast.FunctionDef):
        return node.name == "warm_up"
    if isinstance(node, ast.Assign | ast.AnnAssign):
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        return isinstance(target, ast.Name) and target.id == "__all__"
    if isinstance(node, ast.If):
        return isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    return False
