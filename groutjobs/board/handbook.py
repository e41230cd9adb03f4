"""The handbook of the computing: what the functions of engineering and scheduling say of themselves.

The source files are read as text, so this stage calls neither. An anchor is package, module and name with dots between,
such as engineering.cure.rate_ratio, and the same on every installation. Order and titles stand in contents.py.
"""

import ast
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import zip_longest
from pathlib import Path

from groutjobs.board.contents import LAST, STAGES, Stage, plain_name, title_of, unit_of
from groutjobs.sources import Source, sources

PACKAGES = ("engineering", "scheduling")
LONGEST_SEARCH = 100
_ROOT = Path(__file__).resolve().parents[1]
_MARK = re.compile(r"\[([A-Z][A-Z0-9.]*(?:-[A-Z0-9]+)*)(?:[ ,][^\]]*)?\]|`+([^`]+)`+")
_SECTION = re.compile(r"^(Parameters|Returns|Raises|Source|Examples)\n-+\n", re.MULTILINE)
_NAME = re.compile(r"\b(?:[a-z]\w*\.)*([A-Za-z][A-Za-z0-9]*(?:_[A-Za-z0-9]+)+)\b(?:\(\))?")
_UNIT = re.compile(r"\[([^\]]+)\](?:,\s*)?")


@dataclass(frozen=True)
class Piece:
    """A stretch of text; key names the source that it cites, empty for plain words and code."""

    text: str
    key: str = ""
    is_code: bool = False


@dataclass(frozen=True)
class Row:
    """One argument, field, result or refusal: what it is, its unit, the range allowed, the records that it holds."""

    name: str
    meaning: tuple[Piece, ...]
    unit: str = ""
    allowed: tuple[Piece, ...] = ()
    records: tuple["Link", ...] = ()

    @property
    def title(self) -> str:
        """Its name in words; several of one line "x_mm, y_mm" stay apart by comma."""
        return ", ".join(plain_name(one.strip()) for one in self.name.split(","))


@dataclass(frozen=True)
class Link:
    """A record of the handbook and its anchor."""

    name: str
    anchor: str

    @property
    def title(self) -> str:
        return plain_name(self.name)


@dataclass(frozen=True)
class Entry:
    """One function, record or fixed number. `kind` is one of these words; `call` is how the program writes it."""

    anchor: str
    name: str
    kind: str
    paragraphs: tuple[tuple[Piece, ...], ...]
    title: str = ""
    call: str = ""
    rows: tuple[Row, ...] = ()
    returns: Row | None = None
    raises: tuple[Row, ...] = ()
    source: tuple[Piece, ...] = ()
    example: str = ""
    value: str = ""
    words: str = ""

    @property
    def summary(self) -> tuple[Piece, ...]:
        """The first sentence, for the line that stays when the entry is folded."""
        return self.paragraphs[0] if self.paragraphs else ()

    @property
    def references(self) -> tuple[Source, ...]:
        """The full references of what its section "Source" cites, each once."""
        keys = dict.fromkeys(piece.key for piece in self.source if piece.key)
        return tuple(sources()[key] for key in keys)

    @property
    def told(self) -> tuple[Row, ...]:
        """Rows with words of their own, the result last: they stand in a table."""
        rows = tuple(row for row in self.rows if row.meaning)
        return rows if self.returns is None else (*rows, self.returns)

    @property
    def named(self) -> tuple[Row, ...]:
        """Rows whose name and unit say it all: they stand in one line."""
        return tuple(row for row in self.rows if not row.meaning)


@dataclass(frozen=True)
class Part:
    """One module: title and first line, the rest of what stands at its head, its entries in the order of the file."""

    anchor: str
    title: str
    about: str
    paragraphs: tuple[tuple[Piece, ...], ...]
    entries: tuple[Entry, ...]

    @property
    def functions(self) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.kind == "function")

    @property
    def given(self) -> tuple[Entry, ...]:
        """What the functions take as given: fixed numbers, then records."""
        return tuple(sorted((one for one in self.entries if one.kind != "function"), key=lambda one: one.kind))


@dataclass(frozen=True)
class Chapter:
    """The parts of one stage of the job."""

    stage: Stage
    parts: tuple[Part, ...]


@cache
def handbook() -> tuple[Part, ...]:
    """Every module with something to say, in the order of the job. Read once for each process."""
    trees = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in _files()}
    records = {key: anchor for name, tree in trees.items() for key, anchor in _records(name, tree).items()}
    places = {module: place for place, module in enumerate(module for one in STAGES for module in one.modules)}
    parts = (_part(name, trees[name], records) for name in sorted(trees, key=lambda one: places.get(one, len(places))))
    return tuple(part for part in parts if part.entries)


def chapters(parts: Sequence[Part]) -> tuple[Chapter, ...]:
    """The parts by stage of the job; what no stage names comes last. A stage without parts is left out."""
    found = [Chapter(stage, tuple(part for part in parts if part.anchor in stage.modules)) for stage in STAGES]
    placed = {part.anchor for chapter in found for part in chapter.parts}
    found.append(Chapter(LAST, tuple(part for part in parts if part.anchor not in placed)))
    return tuple(chapter for chapter in found if chapter.parts)


def found(wanted: str) -> tuple[Part, ...]:
    """The handbook with those entries alone that hold every word; all of it where no word is given."""
    words = wanted[:LONGEST_SEARCH].casefold().split()
    if not words:
        return handbook()
    kept = [
        replace(part, entries=entries)
        for part in handbook()
        if (entries := tuple(entry for entry in part.entries if all(word in entry.words for word in words)))
    ]
    return tuple(kept)


def engine_version() -> str:
    """The version that is stored with every result."""
    entries = (entry for part in handbook() for entry in part.entries)
    return next(entry.value for entry in entries if entry.anchor == "engineering.ENGINE_VERSION")


def anchors() -> frozenset[str]:
    """Everything that a link can point to."""
    return frozenset(name for part in handbook() for name in (part.anchor, *(entry.anchor for entry in part.entries)))


def cited(text: str) -> tuple[Piece, ...]:
    """The text in pieces: source keys that the bibliography knows, names in backticks, and the words between.

    Names of the program that stand among the words are put into words.
    """
    text, pieces, end = " ".join(text.split()), [], 0
    for match in _MARK.finditer(text):
        key, name = match.groups()
        if name or key in sources():
            marked = Piece(name, is_code=True) if name else Piece(match.group(), key)
            pieces += [Piece(_in_words(text[end : match.start()])), marked]
            end = match.end()
    return tuple(piece for piece in (*pieces, Piece(_in_words(text[end:]))) if piece.text)


def _in_words(text: str) -> str:
    return _NAME.sub(
        lambda match: plain_name(match.group(1)), text.replace("KeyError for any other", "any other is refused")
    )


def _files() -> Iterator[tuple[str, Path]]:
    for package in PACKAGES:
        for path in sorted((_ROOT / package).glob("*.py")):
            yield package if path.stem == "__init__" else f"{package}.{path.stem}", path


def _records(module: str, tree: ast.Module) -> dict[str, str]:
    """Public classes of a module: name and anchor."""
    classes = (node for node in tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_"))
    return {node.name: f"{module}.{node.name}" for node in classes}


def _part(name: str, tree: ast.Module, records: dict[str, str]) -> Part:
    head, *rest = _paragraphs(ast.get_docstring(tree) or name)
    own = records | _records(name, tree)
    entries: list[Entry] = []
    for node, after in zip_longest(tree.body, tree.body[1:]):
        entry = _entry(name, node, after, own)
        if entry is not None:
            entries.append(entry)
    about = "".join(piece.text for piece in head)
    return Part(name, title_of(name.rpartition(".")[2], name), about, tuple(rest), tuple(entries))


def _entry(module: str, node: ast.stmt, after: ast.stmt | None, records: dict[str, str]) -> Entry | None:
    if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
        return _function(module, node, records)
    if isinstance(node, ast.ClassDef) and node.name in records:
        return _record(module, node, records)
    return _fixed(module, node, after)


def _function(module: str, node: ast.FunctionDef, records: dict[str, str]) -> Entry:
    text = ast.get_docstring(node) or ""
    said = _sections(text)
    kinds = {
        each.arg: each.annotation
        for each in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        if each.annotation is not None
    }
    rows = tuple(_row(name, words, _links(kinds.get(name), records)) for name, words in _named(said["Parameters"]))
    returns = _result(said["Returns"], _links(node.returns, records)) if said["Returns"] else None
    anchor = f"{module}.{node.name}"
    title = title_of(node.name, anchor)
    return Entry(
        anchor=anchor,
        name=node.name,
        kind="function",
        title=title,
        call=f"{node.name}({', '.join(kinds)})",
        paragraphs=_paragraphs(_without_return(said["head"])),
        rows=rows,
        returns=returns,
        raises=tuple(Row(name, cited(words)) for name, words in _named(said["Raises"])),
        source=cited(said["Source"]),
        example=said["Examples"].strip(),
        words=f"{module} {node.name} {title} {text}".casefold(),
    )


def _without_return(text: str) -> str:
    """ "Return the rate …" is for readers of the file; here it reads "The rate …"."""
    said = text.removeprefix("Return ")
    return said[:1].upper() + said[1:]


def _record(module: str, node: ast.ClassDef, records: dict[str, str]) -> Entry:
    text = ast.get_docstring(node) or ""
    rows = tuple(row for inner in node.body if (row := _field(inner, records)) is not None)
    names = " ".join(row.name for row in rows)
    title = title_of(node.name, f"{module}.{node.name}")
    return Entry(
        anchor=f"{module}.{node.name}",
        name=node.name,
        kind="record",
        title=title,
        paragraphs=_paragraphs(text),
        rows=rows,
        words=f"{module} {node.name} {title} {text} {names}".casefold(),
    )


def _field(node: ast.stmt, records: dict[str, str]) -> Row | None:
    """A field, a word of a list of words, or a method with a sentence of its own; None for what is not shown."""
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        usual = f"{ast.unparse(node.value)} unless given" if node.value is not None and _is_plain(node.value) else ""
        return Row(node.target.id, cited(usual), unit_of(node.target.id), (), _links(node.annotation, records))
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and _is_plain(node.value):
        return Row(node.targets[0].id, cited(_shown(node.value)))
    if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and ast.get_docstring(node):
        words = (ast.get_docstring(node) or "").split("\n\n")[0]
        row = _row(node.name, words, _links(node.returns, records))
        return Row(row.name, row.meaning, row.unit or unit_of(node.name), row.allowed, row.records)
    return None


def _fixed(module: str, node: ast.stmt, after: ast.stmt | None) -> Entry | None:
    """A number or table that functions take as given: in capitals, and plain or with a sentence below it.

    Words for a message are none, unless a sentence below says more of them.
    """
    target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
    value = getattr(node, "value", None)
    if not isinstance(target, ast.Name) or not re.fullmatch("[A-Z][A-Z0-9_]+", target.id) or value is None:
        return None
    said = str(ast.literal_eval(after.value)) if isinstance(after, ast.Expr) and _is_plain(after.value) else ""
    if not said and (not _is_plain(value) or isinstance(ast.literal_eval(value), str)):
        return None
    unit = unit_of(target.id.lower())
    title = title_of(target.id, f"{module}.{target.id}")
    return Entry(
        anchor=f"{module}.{target.id}",
        name=target.id,
        kind="fixed",
        title=title,
        paragraphs=_paragraphs(said),
        value=f"{_shown(value)} {unit if unit != '-' else ''}".strip(),
        words=f"{module} {target.id} {title} {said}".casefold(),
    )


def _shown(value: ast.expr) -> str:
    """A number or table as the file has it; words without their quotes."""
    return value.value if isinstance(value, ast.Constant) and isinstance(value.value, str) else ast.unparse(value)


def _is_plain(value: ast.expr) -> bool:
    try:
        ast.literal_eval(value)
    except ValueError:
        return False
    return True


def _sections(text: str) -> dict[str, str]:
    """The docstring by section; "head" is what stands before the first. A section that is missing is empty."""
    head, *rest = _SECTION.split(text)
    said = dict.fromkeys(("Parameters", "Returns", "Raises", "Source", "Examples"), "") | {"head": head.strip()}
    return said | {name: body.rstrip() for name, body in zip(rest[::2], rest[1::2], strict=True)}


def _named(section: str) -> list[tuple[str, str]]:
    """Name and text of each line "name : text"; deeper lines carry on the text."""
    found: list[tuple[str, str]] = []
    for line in section.splitlines():
        name, colon, text = line.partition(" : ")
        if colon and not line.startswith(" "):
            found.append((name.strip(), text.strip()))
        elif found:
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
    return found


def _row(name: str, text: str, records: tuple[Link, ...]) -> Row:
    """Split "meaning. [unit], range" at its unit; a source key in brackets is no unit."""
    text = " ".join(text.split())
    for match in _UNIT.finditer(text):
        if match.group(1).split(" ")[0].rstrip(",") not in sources():
            allowed = cited(text[match.end() :].strip(" ;"))
            return Row(name, cited(text[: match.start()]), match.group(1), allowed, records)
    return Row(name, cited(text), records=records)


def _result(text: str, records: tuple[Link, ...]) -> Row:
    """The row of what comes back; what stands after its unit belongs to the meaning."""
    row = _row("", text, records)
    more = (Piece(" "), *row.allowed) if row.allowed else ()
    return Row(row.name, (*row.meaning, *more), row.unit, (), records)


def _links(annotation: ast.expr | None, records: dict[str, str]) -> tuple[Link, ...]:
    if annotation is None:
        return ()
    names: Sequence[str] = re.findall(r"\w+", ast.unparse(annotation))
    return tuple(Link(name, records[name]) for name in dict.fromkeys(names) if name in records)


def _paragraphs(text: str) -> tuple[tuple[Piece, ...], ...]:
    """Paragraphs of words; an indented block is code, of which each line is a paragraph."""
    found: list[tuple[Piece, ...]] = []
    for block in re.split(r"\n\s*\n", text.strip()):
        lines = block.splitlines()
        is_code = all(line.startswith("    ") for line in lines)
        found += [(Piece(line.strip(), is_code=True),) for line in lines] if is_code else [cited(block)]
    return tuple(paragraph for paragraph in found if paragraph)
