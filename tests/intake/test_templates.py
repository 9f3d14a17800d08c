"""What a shop starts with."""

import re
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from shoplib.errors import DataError, OutputError
from shoplib.intake import load
from shoplib.intake.columns import TABLES
from shoplib.intake.templates import dictionary, write_start
from shoplib.intake.templates.cards import day_sheet, job_card
from shoplib.intake.templates.settings_text import SETTINGS, STAGES
from shoplib.settings import Settings, parse_settings

SWITCHED_ON = re.sub(r"(?m)^#(?=\S)", "", SETTINGS)


def test_every_table_has_its_headings(tmp_path):
    """In the order of their one definition."""
    write_start(tmp_path)
    assert all((tmp_path / f"{name}.csv").read_text().strip().split(",") == list(table.by_name) for name, table in TABLES.items())


def test_the_workbook_has_a_sheet_a_table(tmp_path):
    """With the same headings."""
    write_start(tmp_path)
    book = CalamineWorkbook.from_path(str(tmp_path / "tables.xlsx"))
    assert {name: book.get_sheet_by_name(name).to_python()[0] for name in book.sheet_names} == {
        name: list(table.by_name) for name, table in TABLES.items()
    }


def test_nothing_is_overwritten(tmp_path):
    """An owner's orders stay, and it is said."""
    (tmp_path / "orders.csv").write_text("mine")
    lines = write_start(tmp_path)
    assert (tmp_path / "orders.csv").read_text() == "mine" and "kept orders.csv: it was there already" in lines


def test_a_second_start_changes_nothing(tmp_path):
    """Every file is kept."""
    write_start(tmp_path)
    assert all(line.startswith("kept ") for line in write_start(tmp_path))


def test_a_folder_that_cannot_be_made_is_an_error(tmp_path):
    """A file stands in its place."""
    (tmp_path / "x").write_text("")
    with pytest.raises(OutputError):
        write_start(tmp_path / "x" / "y")


def test_the_first_shop_toml_loads():
    """As it is written."""
    assert parse_settings(SETTINGS).shop.currency == "EUR"


def test_every_line_of_it_loads_when_switched_on():
    """No key in a comment is wrong."""
    made = parse_settings(SWITCHED_ON)
    assert made.hire.outwork_price_per_order == {"polish": 38} and made.workers[0].code == "EV"


def test_every_key_of_the_settings_stands_in_it():
    """None is left for the owner to guess."""
    text = set(re.findall(r"[a-z_]+", SWITCHED_ON))
    assert not [name for model in models(Settings) for name, field in model.model_fields.items() if (field.alias or name) not in text]


def models(model):
    """Return a model and all inside it."""
    from shoplib.settings import _inner, _is_model

    found = [model]
    for field in model.model_fields.values():
        inner = _inner(field.annotation)
        found += models(inner) if _is_model(inner) else []
    return found


def test_the_defaults_it_shows_are_the_defaults():
    """Every switched-off line of [policy] says what holds without it."""
    shown = parse_settings(SWITCHED_ON).policy.model_dump()
    real = parse_settings(SETTINGS).policy.model_dump()
    assert {key for key in real if shown[key] != real[key]} == {"insured_metal"}


def test_a_started_folder_says_what_to_fill(tmp_path):
    """Orders and prices are needed."""
    write_start(tmp_path)
    with pytest.raises(DataError, match="no rows below its headings"):
        load(tmp_path)


def test_a_started_and_filled_folder_is_read(tmp_path):
    """One order and one price are enough."""
    write_start(tmp_path)
    for name, row in {"orders": "A1,2026-01-05,curb,18k yellow,10,,,,,5", "metal_prices": "2026-01-02,gold,92"}.items():
        with (tmp_path / f"{name}.csv").open("a") as file:
            file.write(row + "\n")
    assert len(load(tmp_path)["orders"]) == 1


def test_the_dictionary_names_every_column():
    """Once in its table."""
    text = dictionary()
    assert all(f"## {name}" in text and all(f"| `{column}` |" in text for column in table.by_name) for name, table in TABLES.items())


def test_the_demo_carries_the_same_dictionary():
    """Generated, not written by hand."""
    path = Path(__file__).parents[2] / "data_demo" / "DICTIONARY.md"
    assert path.read_text(encoding="utf-8") == dictionary()


@pytest.mark.parametrize("page", [job_card(STAGES), day_sheet()])
def test_the_printed_sheets_need_nothing_else(page):
    """No link, no script, A4."""
    assert not re.search(r"https?://|<script|<link|src=", page) and "size: A4" in page


def test_the_job_card_has_a_line_a_stage_and_three_weighings():
    """And a tally of broken links."""
    page = job_card(("melt", "<cut>"))
    assert (
        page.count('class="stage"') == 2
        and "&lt;cut&gt;" in page
        and all(word in page for word in ("given out", "before polish", "finished", "Broken links"))
    )
