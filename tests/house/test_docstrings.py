"""Every public function of the engineering says units, ranges and source, and its examples come out as printed."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

from groutjobs import engineering, scheduling

NUMBER = re.compile(r"\b(float|int|Floats|Ints)\b")
UNIT = re.compile(r"\[[^\]]+\]")


def modules(package: ModuleType = engineering) -> list[ModuleType]:
    return [importlib.import_module(f"{package.__name__}.{one.name}") for one in pkgutil.iter_modules(package.__path__)]


def functions(package: ModuleType = engineering) -> Iterator[tuple[str, Callable[..., Any]]]:
    """The public functions; a copy that mutation testing lays beside one is none."""
    for module in modules(package):
        for name, value in vars(module).items():
            is_ours = inspect.isfunction(inspect.unwrap(value)) and value.__module__ == module.__name__
            if is_ours and name[0] != "_" and "__mutmut_" not in name:
                yield f"{module.__name__}.{name}", value


def section(function: Callable[..., Any], title: str) -> str:
    found = re.search(
        rf"^{title}\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", inspect.getdoc(function) or "", re.DOTALL | re.MULTILINE
    )
    return found.group(1) if found else ""


def text_of(function: Callable[..., Any], argument: str) -> str:
    """What the docstring says of an argument, alone or with others "x_mm, y_mm : …", lines that carry on included."""
    line = rf"^(?:\w+, )*{argument}(?:, \w+)* : (.*?)(?=\n\S|\Z)"
    found = re.search(line, section(function, "Parameters"), re.DOTALL | re.MULTILINE)
    return found.group(1) if found else ""


def is_number(annotation: object) -> bool:
    """A number or an array of them; not a record that holds some."""
    text = annotation if isinstance(annotation, str) else inspect.formatannotation(annotation)
    return bool(NUMBER.search(text)) or "ndarray" in text


def test_there_are_functions_to_look_at() -> None:
    assert len(dict(functions())) > 80


def test_each_has_a_sentence_and_a_source() -> None:
    silent = [name for name, one in functions() if not inspect.getdoc(one) or not section(one, "Source").strip()]
    assert silent == []


def test_each_search_says_what_it_is_given_and_its_source() -> None:
    """A rule of the solver says itself in one sentence, and what does nothing has nothing to say."""
    short = ("groutjobs.scheduling.rules.", "groutjobs.scheduling.local_search.n")
    searches = {name: one for name, one in functions(scheduling) if not name.startswith(short)}
    assert len(searches) > 30
    silent = [name for name, one in searches.items() if not section(one, "Source").strip()]
    assert silent + undescribed(searches) == []


def undescribed(those: dict[str, Callable[..., Any]]) -> list[str]:
    return [
        f"{name}({argument})"
        for name, one in those.items()
        for argument in inspect.signature(one).parameters
        if not text_of(one, argument)
    ]


def test_each_argument_is_described() -> None:
    assert undescribed(dict(functions())) == []


def test_each_number_given_has_its_unit() -> None:
    bare = [
        f"{name}({argument.name})"
        for name, one in functions()
        for argument in inspect.signature(one).parameters.values()
        if is_number(argument.annotation) and not UNIT.search(text_of(one, argument.name))
    ]
    assert bare == []


def test_each_number_given_back_has_its_unit() -> None:
    bare = [
        name
        for name, one in functions()
        if is_number(inspect.signature(one).return_annotation) and not UNIT.search(section(one, "Returns"))
    ]
    assert bare == []


@pytest.mark.parametrize("module", modules(), ids=lambda module: str(module.__name__))
def test_examples_come_out_as_printed(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0
