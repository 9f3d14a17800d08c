"""shop.toml as frozen models: every key with its unit, default and meaning.

An unknown key is an error that names the line and the nearest known key.
"""

from __future__ import annotations

import re
import tomllib
from datetime import date, time
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from .errors import SettingsError, nearest

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)
Percent = Annotated[float, Field(ge=0, le=100)]
Money = Annotated[float, Field(ge=0)]
Metal = Literal["gold", "silver", "platinum", "palladium"]
Code = Annotated[str, Field(min_length=1, max_length=200, pattern=r"\S")]
Hours = Annotated[float, Field(ge=0, le=24)]


class Model(BaseModel):
    """A frozen part of the settings; keys that are not known are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class ShopName(Model):
    """[shop]: name and currency."""

    name: str = Field(min_length=1, description="Name on every page.")
    currency: str = Field(pattern="^[A-Z]{3}$", description="ISO 4217 code.")


class Calendar(Model):
    """[calendar]: when the shop works."""

    working_days: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri")
    day_start: time = time(8)
    day_end: time = time(16, 30)
    hours_per_day: float = Field(8.0, gt=0, le=24)
    holidays: str | None = Field(None, description='Country, or "AT-9" with a subdivision.')
    closures: tuple[tuple[date, date], ...] = Field((), description="Pairs of first and last day shut.")

    @field_validator("closures")
    @classmethod
    def _first_then_last(cls, pairs: tuple[tuple[date, date], ...]) -> tuple[tuple[date, date], ...]:
        if any(first > last for first, last in pairs):
            raise ValueError("the first day shut comes before the last")
        return pairs

    @model_validator(mode="after")
    def _a_day_begins_and_ends(self) -> Calendar:
        if self.day_end <= self.day_start:
            raise ValueError("day_end comes after day_start")
        return self


class Alloy(Model):
    """[[alloys]]: one alloy as written in the orders."""

    code: Code
    metal: Metal
    fineness: float = Field(gt=0, le=1000, description="Mark, per mille; what is billed.")
    melted_fineness: float | None = Field(None, gt=0, le=1000, description="Really melted; default: fineness.")
    parts: dict[Metal, float] = Field(default_factory=dict, description="Other priced metals, per mille.")
    other_metals_per_g: Money = 0.0

    @property
    def phi(self) -> float:
        """Mark as a share of one: what is billed."""
        return self.fineness / 1000.0

    @property
    def phi_melted(self) -> float:
        """Fineness really melted as a share of one."""
        return (self.melted_fineness or self.fineness) / 1000.0


class Solder(Model):
    """[[solders]]: one solder."""

    code: Code
    metal: Metal = "gold"
    fineness: float = Field(ge=0, le=1000, description="Per mille of `metal`.")
    cost_per_g: Money = 0.0


class Stage(Model):
    """[[stages]]: one stage of the route, in usual sequence."""

    name: Code
    skill: str = Field("", description="Default: the stage's name.")
    fixed_hours: float = Field(0.0, ge=0, description="Standard hours an order.")
    hours_per_g: float = Field(0.0, ge=0, description="Standard hours per gross gram.")
    takes_metal: bool = False
    cuts: bool = False
    recovery_percent: Percent | None = None
    loss_fine_share_percent: Percent = 100.0
    expected_visits: int = Field(1, ge=1)
    rework_of: str = ""

    @property
    def needs(self) -> str:
        """The skill the stage asks for."""
        return self.skill or self.name


class Pay(Model):
    """An earlier wage, valid from a day."""

    from_: date = Field(alias="from")
    wage_per_hour: Money


class Worker(Model):
    """[[workers]]: one person, by code."""

    code: Code
    skills: tuple[str, ...] = ()
    hours: dict[Weekday, Hours] = Field(default_factory=dict, description="Own hours by weekday; default: the calendar's.")
    wage_per_hour: Money | None = None
    on_costs_percent: float = Field(0.0, ge=0, le=300)
    started_on: date | None = None
    left_on: date | None = None
    owner: bool = False
    pay: tuple[Pay, ...] = ()

    @model_validator(mode="after")
    def _started_before_leaving(self) -> Worker:
        if self.started_on and self.left_on and self.left_on < self.started_on:
            raise ValueError("left_on comes after started_on")
        return self


Target = Literal["keep_making_charge", "percent_of_price", "per_limiting_hour", "per_g_fine"]


class Policy(Model):
    """[policy]: the shop's own rules and assumptions."""

    overtime_multiple: float = Field(1.5, ge=1, le=5)
    overtime_hours_per_week: float = Field(6.0, ge=0, le=60)
    quote_valid_days: int = Field(14, ge=0, le=365)
    target: Target = "keep_making_charge"
    target_making_margin_percent: Percent = 25.0
    target_per_limiting_hour: Money = 60.0
    target_per_g_fine: Money = 12.0
    price_step: float = Field(5.0, gt=0)
    metal_premium_percent: Percent = 0.0
    filings_recovery_percent: Percent = 92.0
    loss_percent: float = Field(3.0, ge=0, lt=100)
    refining_charge_percent: Percent = 1.5
    customer_metal_allowance_percent: Percent = 3.0
    customer_filings: Literal["customer", "shop"] = "customer"
    cost_of_capital_percent: float = Field(8.0, ge=0, le=100)
    borrowed_metal_percent: float = Field(4.0, ge=0, le=100)
    service_level_percent: float = Field(90.0, gt=0, lt=100)
    consumables_per_hour: Money = 0.0
    metal_cost: Literal["average", "fifo"] = "average"
    overheads_by: Literal["limiting_hours", "labour_hours"] = "limiting_hours"
    work_order: Literal["auto", "promise", "order_date", "queue"] = "auto"
    answer_to_price_prior: tuple[float, float] = (-4.0, -1.0)
    answer_to_wait_prior: tuple[float, float] = (-0.4, 0.0)
    quote_margin_at_risk_percent: Percent = 20.0
    quote_risk_percent: float = Field(10.0, gt=0, lt=100)
    scale_readability_g: float = Field(0.01, gt=0)
    fineness_tolerance_permille: float = Field(1.0, ge=0)
    in_process_tolerance_percent: Percent = 2.0
    insured_metal: Money | None = None

    @field_validator("answer_to_price_prior", "answer_to_wait_prior")
    @classmethod
    def _low_then_high(cls, pair: tuple[float, float]) -> tuple[float, float]:
        if pair[0] > pair[1]:
            raise ValueError("the lower end comes first")
        return pair


class Hire(Model):
    """[hire]: what another pair of hands would cost and how it would learn."""

    stages: tuple[str, ...] = ()
    wage_per_hour: Money | None = None
    on_costs_percent: float = Field(22.0, ge=0, le=300)
    equipment: Money = 3500.0
    start_on: date | None = None
    skilled: bool = True
    ramp_up_weeks: float | None = Field(None, ge=0, le=520, description="Default: 26, or 78 for a starter who is not skilled.")
    learning_rate_percent: float = Field(85.0, gt=50, le=100)
    teacher_hours_per_week: float = Field(4.0, ge=0, le=60)
    part_time_hours_per_week: float = Field(20.0, gt=0, le=60)
    search_weeks: float = Field(8.0, ge=0, le=104)
    leaves_first_year_percent: Percent = 15.0
    spoilage_percent: Percent = 1.0
    horizon_months: int = Field(24, ge=1, le=60)
    outwork_price_per_order: dict[str, float] = Field(default_factory=dict)


class Series(Model):
    """One column of a wide price sheet as published."""

    heading: str
    metal: Metal
    currency: str = ""
    per: Literal["ozt", "g", "kg"] = "g"


class MetalPriceFormat(Model):
    """[formats.metal_prices]."""

    series: tuple[Series, ...] = ()


class FxFormat(Model):
    """[formats.fx]."""

    inverse: bool = False


class Formats(Model):
    """[formats]: how cells are written, asked for only where a file can be read both ways."""

    decimal: Literal[",", "."] | None = None
    date_order: Literal["dmy", "mdy", "ymd"] | None = None
    null_marks: tuple[str, ...] = ("-", "–", "n/a", "na", "null", "none")
    metal_prices: MetalPriceFormat = MetalPriceFormat()
    fx: FxFormat = FxFormat()


class Page(Model):
    """[page]: how numbers are written on a page."""

    decimal: Literal[",", "."] = "."
    thousands: Literal[",", ".", " ", "'", ""] = ","


class Settings(Model):
    """The whole of shop.toml."""

    shop: ShopName
    calendar: Calendar = Calendar()
    alloys: tuple[Alloy, ...] = ()
    solders: tuple[Solder, ...] = ()
    stages: tuple[Stage, ...] = ()
    workers: tuple[Worker, ...] = ()
    policy: Policy = Policy()
    hire: Hire = Hire()
    headings: dict[str, dict[str, str]] = Field(default_factory=dict)
    aliases: dict[str, dict[str, str]] = Field(default_factory=dict)
    formats: Formats = Formats()
    page: Page = Page()
    reports: dict[str, dict[str, Any]] = Field(default_factory=dict)

    @field_validator("alloys", "solders", "stages", "workers")
    @classmethod
    def _each_once(cls, listed: tuple[Any, ...]) -> tuple[Any, ...]:
        names = ["".join(getattr(one, "code", getattr(one, "name", "")).casefold().split()) for one in listed]
        twice = next((getattr(one, "code", getattr(one, "name", "")) for i, one in enumerate(listed) if names[i] in names[:i]), "")
        if twice:
            raise ValueError(f'each stands once; "{twice}" stands twice (case and spaces make no difference)')
        return listed

    @model_validator(mode="after")
    def _rework_of_a_stage(self) -> Settings:
        names = {stage.name for stage in self.stages}
        lost = next((stage for stage in self.stages if stage.rework_of and stage.rework_of not in names), None)
        if lost:
            raise ValueError(f'rework_of of stage "{lost.name}" names a stage that is listed; "{lost.rework_of}" is not')
        return self


def load_settings(path: Path) -> Settings:
    """Read shop.toml.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    SettingsError
        With key, line and nearest known key, when the file cannot be read, is not TOML or holds a wrong key or value.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
        return parse_settings(text, path.name)
    except OSError as error:
        raise SettingsError(
            "the settings file cannot be read",
            where=path.name,
            found=error.strerror,
            to_do="put shop.toml beside the tables; `shoplib start DIR` writes one",
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError("the settings file is not UTF-8 text", where=path.name, to_do="save it as UTF-8 in a text editor") from error


def parse_settings(text: str, where: str = "shop.toml") -> Settings:
    """Return the settings in TOML `text`; `where` names the file in errors."""
    try:
        return Settings.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, where) from error
    except ValidationError as error:
        raise _reworded(error, text, where) from error


def _not_toml(said: str, text: str, where: str) -> SettingsError:
    """Return the error for a file that is not TOML, with the line."""
    at = re.search(r"line (\d+)", said)
    number = int(at[1]) if at else len(text.splitlines()) if "end of document" in said else 0
    lines = text.splitlines()
    found = lines[number - 1].strip() if 0 < number <= len(lines) else said
    place = f"{where}, line {number}" if number else where
    return SettingsError("this line cannot be read", where=place, found=found, to_do="texts stand in quotes, a list in [ ], each key once")


def _reworded(error: ValidationError, text: str, where: str) -> SettingsError:
    first = error.errors()[0]
    place = [part for part in first["loc"] if not (isinstance(part, str) and "[" in part)]
    key = ".".join(str(part + 1) if isinstance(part, int) else part for part in place)
    spot = ", ".join(part for part in (f"{where}, line {line_of(text, place)}", key) if part)
    if first["type"] == "extra_forbidden":
        near = nearest(str(place[-1]), known_keys(place[:-1]))
        hint = f"did you mean {near}?" if near else f"known here: {', '.join(known_keys(place[:-1]))}"
        return SettingsError("unknown key", where=spot, found=place[-1], to_do=hint)
    if first["type"] == "missing":
        return SettingsError("a needed key is missing", where=spot, to_do="add it")
    found = first["input"] if not isinstance(first["input"], (dict, Model)) else None
    return SettingsError("this value cannot be taken", where=spot, found=found, allowed=_plain(first))


_ALLOWED = {
    "float_type": "a number", "float_parsing": "a number", "int_type": "a whole number", "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "a text in quotes", "bool_type": "true or false", "bool_parsing": "true or false",
    "date_type": "a date such as 2026-03-09", "date_parsing": "a date such as 2026-03-09",
    "date_from_datetime_parsing": "a date such as 2026-03-09",
    "time_type": 'a time such as "08:00"', "time_parsing": 'a time such as "08:00"', "tuple_type": "a list in [ ]",
    "list_type": "a list in [ ]",
    "model_type": "a table of keys", "dict_type": "a table of keys", "string_too_short": "a text that is not empty",
}  # fmt: skip


def _plain(error: Any) -> str:
    """Return what is allowed, in an owner's words."""
    if error["loc"] == ("shop", "currency"):
        return "three capital letters such as EUR (ISO 4217)"
    if error["type"] in _ALLOWED:
        return _ALLOWED[error["type"]]
    return re.sub(r"^(Input should be|Value error,)\s*", "", error["msg"]).replace("'", '"')


def line_of(text: str, place: list[Any]) -> int:
    """Return the line (from 1) on which the key at `place` of a TOML text most likely stands."""
    number, table, count = 0, [str(part) for part in place if isinstance(part, str)], [part for part in place if isinstance(part, int)]
    head, seen, best = "", -1, 1
    for number, line in enumerate(text.splitlines(), 1):
        section = re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line)
        if section and "=" not in line.split("]")[0]:
            seen = seen + 1 if section[1] == head else 0
            head = section[1]
            best = number if head == ".".join(table[: head.count(".") + 1]) and (not count or seen <= count[0]) else best
        inside = not head or head == ".".join(table[: head.count(".") + 1])
        if inside and table and (not count or seen == count[0]) and re.search(rf"(^|[\s{{,]){re.escape(table[-1])}\s*=", line):
            return number
    return best


def known_keys(place: list[Any]) -> list[str]:
    """Return the keys known at `place` of the settings."""
    model: Any = Settings
    for part in place:
        if isinstance(part, int) or not _is_model(model):
            continue
        names = {field.alias or name: field for name, field in model.model_fields.items()}
        model = _inner(names[part].annotation) if part in names else None
    return [field.alias or name for name, field in model.model_fields.items()] if _is_model(model) else []


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _inner(kind: Any) -> Any:
    if get_origin(kind) in (tuple, Union, list):
        return next((inner for inner in map(_inner, get_args(kind)) if _is_model(inner)), None)
    return kind
