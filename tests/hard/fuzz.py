"""Random cells through every reader and spoilt folders through the intake: a value or a reason, never a surprise."""

from __future__ import annotations

import random
import tempfile
import traceback
from pathlib import Path

import numpy as np
import pandas as pd

from shoplib.errors import ShoplibError
from shoplib.intake import load
from shoplib.intake.distinct import distinct_objects
from shoplib.intake.numbers import evidence
from shoplib.intake.parsed import BLANK, PLAIN, REJECTED, REPAIRED
from tests.intake.shops import adds_up
from tests.intake.test_spoilt import Spoilt, readings

from .hostile import ATTACKS

PIECES = (
    "", " ", "-", "0", "1", "12,5", "1.250", "1,250.00", "1e5", "1e999", "inf", "nan", "€", " g", "2:30", "2026-01-07", "07/01/2026", "45750", "1900-01-00",
    "31.02.2026", "29.02.2025", "18K ", "y", "nein", "=", "#REF!", "A1", ";", "\x00", "\x1a", "x" * 300, "\u200b", "１２", "٣", "½", "−", "(", ")", "'", '"', "\t", "\n",
    "9999-12-31", ".", "0x10", "1_0", "+", "--", "T08:00", "Z", "+02:00", "\ud7ff", "\U0001f48d", "e\u0301", "\ufeff", "\xa0", "99999999999999999999", "1/2", "%",
    *ATTACKS,
)  # fmt: skip
ROWS = 30


def a_cell(luck: random.Random) -> str:
    """Return a cell: one to three pieces, or random signs."""
    if luck.random() < 0.75:
        return "".join(luck.choices(PIECES, k=luck.choice((1, 1, 1, 2, 3)))).replace("\r", "\n")
    signs = "".join(
        chr(luck.choice((luck.randrange(32, 127), luck.randrange(1, 0xD800), luck.randrange(0xE000, 0x110000))))
        for _ in range(luck.randrange(12))
    )
    return signs.replace("\r", "\n")


def fuzz_cells(cells: int, seed: int, batch: int = 2_000) -> list[str]:
    """Read `cells` random cells in every way there is; return what was wrong."""
    luck, wrong = random.Random(seed), []
    for begin in range(0, cells, batch):
        texts = [a_cell(luck) for _ in range(min(batch, cells - begin))]
        try:
            given = distinct_objects(texts)
            evidence(given)
            for parsed in readings(given):
                valued = np.isin(parsed.state, (PLAIN, REPAIRED))
                if pd.isna(parsed.values[valued]).any() or not pd.isna(parsed.values[parsed.state == BLANK]).all():
                    wrong.append(f"cells from {begin}: a value is missing, or a blank has one")
                if not set(parsed.reasons) >= set(np.flatnonzero(np.isin(parsed.state, (REPAIRED, REJECTED))).tolist()):
                    wrong.append(f"cells from {begin}: a reason is missing")
        except Exception:
            wrong.append(f"cells from {begin}: {traceback.format_exc(limit=-2)}")
    return wrong


def a_folder(luck: random.Random) -> Spoilt:
    """Return a small shop with spoilt cells, rows, headings, encodings and files."""
    spoilt = Spoilt()
    for rows in spoilt.tables.values():
        while len(rows) < ROWS and luck.random() < 0.7:
            rows.append(list(luck.choice(rows[1:])))
        for _ in range(luck.randrange(6)):
            row = luck.randrange(1, len(rows)) if luck.random() < 0.95 else 0
            rows[row][luck.randrange(len(rows[row]))] = a_cell(luck)
    spoilt.encoding = luck.choice(("utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16"))
    spoilt.separator, spoilt.line_end = luck.choice((",", ",", ";", "\t")), luck.choice(("\n", "\r\n"))
    if luck.random() < 0.1:
        spoilt.raw[luck.choice(list(spoilt.tables))] = bytes(luck.randrange(256) for _ in range(luck.randrange(40)))
    if luck.random() < 0.1:
        key, value = luck.choice(("tolerance", "service_level_percent", "x")), luck.choice(("-1", "1e400", "nan", '"a"', "[]"))
        spoilt.settings += f"\n[policy]\n{key} = {value}\n"
    return spoilt


def fuzz_folders(folders: int, seed: int) -> list[str]:
    """Read `folders` spoilt folders; return what was wrong."""
    luck, wrong = random.Random(seed), []
    for number in range(folders):
        with tempfile.TemporaryDirectory() as home:
            try:
                a_folder(luck).write(Path(home))
                if not adds_up(load(Path(home))):
                    wrong.append(f"folder {number}: accepted + rejected is not what was read")
            except ShoplibError:
                continue
            except Exception:
                wrong.append(f"folder {number}: {traceback.format_exc(limit=-3)}")
    return wrong
