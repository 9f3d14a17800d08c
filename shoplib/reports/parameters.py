"""The parameters of a report: typed by its model, checked before anything starts.

``--set`` comes before ``--settings``, that before ``[reports.X]`` of shop.toml, that before the default. Values are never
guessed: a text becomes what the model's field says, or it is an error that names the field, the value and the nearest name.
"""

from __future__ import annotations

import ast
import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from ..errors import SettingsError, UsageError, nearest
from .discover import Report

if TYPE_CHECKING:
    from .answer import Parameters

Tables = Mapping[str, Mapping[str, Any]]
OWN = ("data", "answer_file")
"""Parameters of every notebook that are the run's own."""


@dataclass(frozen=True)
class Given:
    """Values given on the command line and in files, by report and name, each source with its own name in errors."""

    command: Tables = field(default_factory=dict)
    file: Tables = field(default_factory=dict)
    file_name: str = ""
    every: Mapping[str, Any] = field(default_factory=dict)

    def with_command(self, report: str, **more: Any) -> Given:
        """Return the same with values of one report added, as if given on the command line."""
        return replace(self, command={**self.command, report: {**self.command.get(report, {}), **more}})


def given(settings: Path | None, sets: Iterable[str], known: Iterable[str], **every: Any) -> Given:
    """Return what was given: a settings file, ``REPORT.NAME=VALUE`` texts, and options that go to every report.

    Raises
    ------
    UsageError, SettingsError
        A text without ``=`` or ``.``, a report that is not known, a file that cannot be read.
    """
    names = list(known)
    command: dict[str, dict[str, Any]] = {}
    for text in sets:
        report, name, value = _parted(text)
        _known_report(report, names, f"--set {text.partition('=')[0]}")
        command.setdefault(report, {})[name] = value
    tables = _tables(settings) if settings else {}
    for report in tables:
        _known_report(report, names, f"{settings.name if settings else ''}, [{report}]")
    return Given(command, tables, settings.name if settings else "", {key: value for key, value in every.items() if value is not None})


def _parted(text: str) -> tuple[str, str, str]:
    place, equals, value = text.partition("=")
    report, dot, name = place.strip().partition(".")
    if not equals or not dot or not name:
        raise UsageError("--set takes REPORT.NAME=VALUE", found=text, to_do="`shoplib list` shows the names")
    return report, name, value.strip()


def _known_report(report: str, names: list[str], where: str) -> None:
    if report not in names:
        near = nearest(report, names)
        hint = f"did you mean {near}?" if near else ""
        raise UsageError("there is no such report", where=where, found=report, allowed=", ".join(names), to_do=hint)


def _tables(path: Path) -> Tables:
    try:
        content = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise SettingsError("the settings file cannot be read", where=path.name, found=error.strerror) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError("this is not TOML in UTF-8", where=path.name, found=str(error), to_do="mend the line named") from error
    for report, table in content.items():
        if not isinstance(table, dict):
            raise SettingsError("a settings file holds one table a report", where=path.name, found=report, allowed="[margin], [hiring] …")
    return content


def resolve(report: Report, settings: Tables, asked: Given) -> Parameters:
    """Return the parameters of one report.

    Parameters
    ----------
    report : Report
        Its module holds the model.
    settings : mapping
        ``[reports.*]`` of shop.toml.
    asked : Given
        What the command line and the settings file say.

    Raises
    ------
    UsageError, SettingsError
        With the place, the value, what is allowed and the nearest name.
    """
    model: type[Parameters] = report.module.Parameters
    sources = [
        (f"shop.toml, [reports.{report.name}]", settings.get(report.name, {})),
        (f"{asked.file_name}, [{report.name}]", asked.file.get(report.name, {})),
        ("the command line", {name: value for name, value in asked.every.items() if name in model.model_fields}),
        (f"--set {report.name}", asked.command.get(report.name, {})),
    ]
    merged: dict[str, Any] = {}
    origin: dict[str, str] = {}
    for where, values in sources:
        for name, value in values.items():
            _known_name(name, model, where)
            merged[name], origin[name] = _typed(value, model.model_fields[name], f"{where}, {name}"), where
    try:
        return model.model_validate(merged)
    except ValidationError as error:
        raise _reworded(error, origin) from error


def _known_name(name: str, model: type[Parameters], where: str) -> None:
    if name not in model.model_fields:
        near = nearest(name, model.model_fields)
        hint = f"did you mean {near}?" if near else ""
        raise UsageError("there is no such parameter", where=where, found=name, allowed=", ".join(model.model_fields), to_do=hint)


def _typed(value: Any, info: FieldInfo, where: str) -> Any:
    """Part a text at its commas, in brackets or not, for a field that holds several values; a yes or no is never taken for a number."""
    if isinstance(value, str) and any(get_origin(one) in (tuple, list) for one in (info.annotation, *get_args(info.annotation))):
        parts = [part.strip(" \"'") for part in value.strip("[] ").split(",")]
        return [part for part in parts if part]
    if isinstance(value, bool) and info.annotation in (int, float):
        raise SettingsError("this value cannot be taken", where=where, found=str(value).lower(), allowed="a number")
    return value


def _reworded(error: ValidationError, origin: Mapping[str, str]) -> SettingsError:
    first = error.errors()[0]
    name = str(first["loc"][0]) if first["loc"] else ""
    allowed = str(first["msg"]).removeprefix("Input should be ").removeprefix("Value error, ").replace("'", '"')
    where = f"{origin.get(name, '')}, {name}".strip(", ")
    return SettingsError("this value cannot be taken", where=where, found=first["input"], allowed=allowed)


def for_notebook(parameters: Parameters, declared: Mapping[str, Any]) -> dict[str, Any]:
    """Return the parameters as plain values a notebook takes; what is left out stays the notebook's own blank.

    Raises
    ------
    UsageError
        The notebook does not declare one of them.
    """
    values = {name: value for name, value in parameters.model_dump(mode="json").items() if value is not None}
    missing = [name for name in [*values, *OWN] if name not in declared]
    if missing:
        raise UsageError("the notebook does not declare a parameter", found=missing[0], allowed=", ".join(declared))
    return values


def declared(notebook: Path) -> dict[str, Any]:
    """Return names and defaults of the cell tagged ``parameters`` of a notebook."""
    cells = json.loads(notebook.read_text("utf-8"))["cells"]
    source = next(("".join(cell["source"]) for cell in cells if "parameters" in cell["metadata"].get("tags", ())), "")
    found: dict[str, Any] = {}
    for line in ast.parse(source).body:
        if isinstance(line, ast.AnnAssign) and isinstance(line.target, ast.Name) and line.value is not None:
            found[line.target.id] = ast.literal_eval(line.value)
        elif isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name):
            found[line.targets[0].id] = ast.literal_eval(line.value)
    return found
