"""What bad input gets: each promise of the data page, one test each."""

import codecs
import shutil

import pytest

from shoplib.errors import DataError, SettingsError
from shoplib.intake import load

from .shops import ORDERS, PRICES, adds_up, codes, labour, orders, said, shop, write


def test_accepted_and_rejected_make_read(tmp_path):
    """Two good rows and two bad ones."""
    made = shop(tmp_path, orders=ORDERS + "A3,yesterday,curb,18k,10,5,,\nA4,2026-01-05,curb,18k,ten,5,,\n")
    assert adds_up(made) and made.tallies[0].line() == "orders.csv: 4 read, 2 accepted, 2 rejected, 0 repaired, 0 doubted"


def test_a_rejected_row_is_listed_with_everything(tmp_path):
    """File, row as the spreadsheet shows it, column, value, a code, what, and what to do."""
    made = shop(tmp_path, orders=ORDERS + "A3,2026-01-05,curb,18k,ten,5,,\n")
    row = made.rejected.iloc[0]
    assert row[["file", "row", "column", "value", "code"]].tolist() == ["orders.csv", 4, "price", "ten", "not_a_number"]


def test_a_rejected_row_says_what_to_do(tmp_path):
    """In a sentence."""
    made = shop(tmp_path, orders=ORDERS + "A3,2026-01-05,curb,18k,ten,5,,\n")
    assert made.rejected["what_to_do"][0].startswith("write a plain number")


def test_a_row_with_two_bad_cells_is_listed_once(tmp_path):
    """The second cell is named in its sentence."""
    made = shop(tmp_path, orders=ORDERS + "A3,soon,curb,18k,ten,5,,\n")
    assert len(made.rejected) == 1 and "also price" in made.rejected["what"][0]


def test_safe_repairs_are_counted_and_said(tmp_path):
    """A trailing space, a decimal comma, 18K Yellow: one row repaired, three findings."""
    made = shop(tmp_path, orders=ORDERS + 'A3,2026-01-05,rope ,18K Yellow,"12,5",5,,\n')
    assert made.tallies[0].repaired == 1 and sum(finding.code.startswith("repaired") for finding in made.findings) == 3


def test_the_owners_files_are_not_changed(tmp_path):
    """Byte for byte as before."""
    write(tmp_path, orders=ORDERS + "A3,soon,curb,18k,ten,5,,\n")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    load(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize("day", ["1900-01-05", "2260-01-05"])
def test_an_impossible_year_never_passes(tmp_path, day):
    """It is rejected."""
    made = shop(tmp_path, orders=ORDERS + f"A3,{day},curb,18k,10,5,,\n")
    assert codes(made.rejected) == {4: {"year"}}


def test_a_number_with_a_unit_never_passes_in_silence(tmp_path):
    """It is repaired and said."""
    made = shop(tmp_path, orders=orders("A1,2026-01-05,curb,18k,10,48.2 g,,"))
    assert made["orders"]["quoted_weight_g"][0] == 48.2 and said(made, "repaired_unit_in_cell")


def test_a_needed_table_missing_stops(tmp_path):
    """orders and metal_prices are needed."""
    with pytest.raises(DataError, match="needed table metal_prices is missing"):
        shop(tmp_path, metal_prices=None)


def test_a_needed_table_without_rows_stops(tmp_path):
    """Headings alone are not enough."""
    with pytest.raises(DataError, match=r"metal_prices\.csv: a needed table has no rows"):
        shop(tmp_path, metal_prices="date,metal,price\n")


def test_no_order_accepted_stops_and_still_lists(tmp_path):
    """The two lists of what could be read come with the error."""
    with pytest.raises(DataError, match="no row could be accepted") as caught:
        shop(tmp_path, orders=orders("A1,soon,curb,18k,10,5,,"))
    rejected, doubted = caught.value.listing
    assert len(rejected) == 1 and len(doubted) == 0


def test_all_errors_stand_in_one_message(tmp_path):
    """An owner mends them in one go."""
    with pytest.raises(DataError) as caught:
        shop(tmp_path, orders="order_id,ordered_on,style,alloy\nA1,2026-01-05,curb,18k\n", metal_prices="date,metal,price\n")
    assert "needed column missing" in str(caught.value) and "has no rows" in str(caught.value)


def test_an_empty_file_stops(tmp_path):
    """Also that of an optional table."""
    with pytest.raises(DataError, match=r"labour\.csv: the file is empty"):
        shop(tmp_path, labour="")


def test_an_optional_table_with_headings_only_counts_as_absent(tmp_path):
    """A note says so."""
    made = shop(tmp_path, labour=labour())
    assert not len(made["labour"]) and said(made, "empty_table")


def test_a_missing_shop_toml_stops(tmp_path):
    """With the command that writes one."""
    write(tmp_path)
    (tmp_path / "shop.toml").unlink()
    with pytest.raises(SettingsError, match="shoplib start"):
        load(tmp_path)


def test_a_missing_folder_stops(tmp_path):
    """There is no such folder."""
    with pytest.raises(DataError, match="no such folder"):
        load(tmp_path / "nowhere")


@pytest.mark.parametrize(
    "encoded",
    [ORDERS.encode("utf-16"), codecs.BOM_UTF8 + ORDERS.encode(), ORDERS.replace("curb", "Mörder").encode("cp1252"), ORDERS.replace(",", ";").encode(), ORDERS.replace(",", "\t").encode()],
    ids=["utf-16", "bom", "cp1252", "semicolons", "tabs"],
)  # fmt: skip
def test_every_common_text_file_is_read(tmp_path, encoded):
    """Both rows are accepted."""
    assert shop(tmp_path, orders=encoded).tallies[0].accepted == 2


def test_nul_bytes_lose_no_row(tmp_path):
    """The cell is repaired, the file's finding says why."""
    made = shop(tmp_path, orders=ORDERS.replace("curb", "cu\0rb").encode())
    assert made["orders"]["style"].tolist() == ["curb", "rope"] and adds_up(made)


def test_a_line_of_ten_megabytes_loses_no_row(tmp_path):
    """Its row is rejected, the others stand."""
    made = shop(tmp_path, orders=ORDERS + f"A3,2026-01-05,{'x' * 10_000_000},18k,10,5,,\n")
    assert made.tallies[0].accepted == 2 and adds_up(made)


def test_an_unclosed_quote_loses_no_row(tmp_path):
    """The rows after it are read, and it is said."""
    made = shop(tmp_path, orders=orders('A1,2026-01-05,"curb,18k,10,5,,', "A2,2026-01-05,curb,18k,10,5,,", "A3,2026-01-05,curb,18k,10,5,,"))
    assert made.tallies[0].read == 3 and made.tallies[0].accepted >= 2


def test_a_row_with_too_many_cells_is_rejected(tmp_path):
    """Which cell is which cannot be told."""
    made = shop(tmp_path, orders=ORDERS + "A3,2026-01-05,curb,18k,1,250,5,6,7,8\n")
    assert codes(made.rejected) == {4: {"too_many_cells"}}


def test_a_totals_row_is_rejected_as_one(tmp_path):
    """And the reason says that nothing is to be done."""
    made = shop(tmp_path, orders=ORDERS + "Total,,,,7250.00,77,48.0,\n")
    assert codes(made.rejected) == {4: {"totals_row"}}


def test_blank_rows_are_not_rows(tmp_path):
    """Neither read nor rejected; the rows after them keep their numbers."""
    made = shop(tmp_path, orders=orders("A1,2026-01-05,curb,18k,10,5,,", "", ",,,,,,,", " , ,,,,,,", "A2,2026-01-05,curb,18k,10,5,,"))
    assert made.tallies[0].read == 2 and made["orders"]["row"].tolist() == [2, 6]


def test_an_id_that_must_be_unique_is_rejected_the_second_time(tmp_path):
    """Case and spaces make no difference."""
    made = shop(tmp_path, orders=ORDERS + "a 1,2026-01-05,curb,18k,10,5,,\n")
    assert codes(made.rejected) == {4: {"repeated_id"}}


def test_a_wrong_row_does_not_take_the_id_of_a_right_one(tmp_path):
    """The first A9 has no price, so the second stands."""
    made = shop(tmp_path, orders=ORDERS + "A9,2026-01-05,curb,18k,,5,,\nA9,2026-01-05,curb,18k,10,5,,\n")
    assert codes(made.rejected) == {4: {"missing"}} and "A9" in made["orders"]["order_id"].tolist()


def test_leading_zeros_of_ids_are_kept(tmp_path):
    """0012 and 12 are two orders."""
    made = shop(tmp_path, orders=orders("0012,2026-01-05,curb,18k,10,5,,", "12,2026-01-05,curb,18k,10,5,,"))
    assert made["orders"]["order_id"].tolist() == ["0012", "12"]


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "=1+2", "{{ 7 * 7 }}", "@SUM(A1)", "+A1"])
def test_text_is_data(tmp_path, text):
    """HTML, formulas and templates are kept as the text they are."""
    made = shop(tmp_path, orders=orders(f"A1,2026-01-05,{text},18k,10,5,,"))
    assert made["orders"]["style"].tolist() == [text]


def test_a_repair_needs_no_alloy_and_no_weight(tmp_path):
    """Nor does a guarantee; an order does."""
    headings = "order_id,ordered_on,style,alloy,price,kind,quoted_weight_g"
    made = shop(
        tmp_path,
        orders=orders(
            "A1,2026-01-05,curb,,10,repair,",
            "A2,2026-01-05,curb,,0,guarantee,",
            "A3,2026-01-05,curb,,10,order,5",
            "A4,2026-01-05,curb,18k,10,,",
            headings=headings,
        ),
    )
    assert codes(made.rejected) == {4: {"missing"}, 5: {"missing"}}


def test_an_alloy_whose_name_tells_nothing_is_rejected(tmp_path):
    """Neither metal nor fineness can be read from it."""
    made = shop(tmp_path, orders=ORDERS + "A3,2026-01-05,curb,house blend,10,5,,\n")
    assert codes(made.rejected) == {4: {"unknown_alloy"}}


def test_two_files_for_one_table_stop(tmp_path):
    """Which one counts cannot be told."""
    write(tmp_path)
    shutil.copy(tmp_path / "orders.csv", tmp_path / "Orders.txt")
    with pytest.raises(DataError, match="two files hold the table orders"):
        load(tmp_path)


def test_other_files_are_left_alone_and_named(tmp_path):
    """A note names them."""
    write(tmp_path)
    (tmp_path / "customers.csv").write_text("a,b\n1,2\n")
    assert "customers.csv" in said(load(tmp_path), "file_left_alone")[0]


def test_a_price_in_another_currency_without_a_rate_stops(tmp_path):
    """Prices in dollars and no fx."""
    with pytest.raises(DataError, match="stand in USD"):
        shop(tmp_path, metal_prices="date,metal,price,currency,per\n2026-01-02,gold,2900,USD,ozt\n")


def test_the_clock_completes_date_and_hours(tmp_path):
    """Start and finish are enough; a time alone takes the row's date."""
    made = shop(
        tmp_path,
        labour=labour(
            "A1,solder,EV,,,2026-01-07 08:00,2026-01-07 10:30",
            "A1,file,EV,2026-01-07,,11:00,12:15",
            headings="order_id,stage,worker,date,hours,start,finish",
        ),
    )
    assert made["labour"]["hours"].tolist() == [2.5, 1.25] and made["labour"]["date"].astype(str).str[:10].tolist() == ["2026-01-07"] * 2


def test_a_clock_that_runs_backwards_is_rejected(tmp_path):
    """Finish before start."""
    made = shop(
        tmp_path,
        labour=labour(
            "A1,solder,EV,2026-01-07 10:00,2026-01-07 08:00",
            "A1,solder,EV,2026-01-07 08:00,2026-01-07 09:00",
            headings="order_id,stage,worker,start,finish",
        ),
    )
    assert codes(made.rejected) == {2: {"before_first"}}


def test_an_entry_without_any_time_is_rejected(tmp_path):
    """Neither a date nor start and finish."""
    made = shop(tmp_path, labour=labour("A1,solder,EV,,2", "A1,solder,EV,2026-01-07,2"))
    assert codes(made.rejected) == {2: {"missing"}}


def test_a_date_without_hours_is_a_move(tmp_path):
    """It is accepted; the hours stay missing."""
    made = shop(tmp_path, labour=labour("A1,solder,EV,2026-01-07,", "A1,file,EV,2026-01-08,1"))
    assert made["labour"]["hours"].isna().tolist() == [True, False]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("2026-01-05,bought,gold,,,100", "missing"),
        ("2026-01-05,refining_charge,,,,", "missing"),
        ("2026-01-05,bougt,gold,5,,100", "unknown_word"),
    ],
)
def test_a_ledger_row_needs_what_its_kind_needs(tmp_path, row, code):
    """Weight for a purchase, money for a charge, a known kind."""
    made = shop(tmp_path, metal_ledger=f"date,kind,metal,gross_g,fineness,cost\n{row}\n2026-01-05,bought,gold,10,,930\n")
    assert codes(made.rejected) == {2: {code}}


def test_an_overhead_needs_a_month_or_two(tmp_path):
    """One month, or from and to."""
    made = shop(
        tmp_path, overheads="month,month_from,month_to,item,amount\n2026-01,,,rent,900\n,2026-01,2026-12,power,80\n,2026-01,,phone,20\n"
    )
    assert codes(made.rejected) == {4: {"missing"}} and len(made["overheads"]) == 2


def test_the_order_of_the_rows_is_kept(tmp_path):
    """Row numbers rise."""
    made = shop(tmp_path)
    assert made["orders"]["row"].is_monotonic_increasing and made["orders"].index.tolist() == [0, 1]


def test_a_wide_price_sheet_is_laid_out(tmp_path):
    """Two series; blank cells are gaps, not rows."""
    settings = '[[formats.metal_prices.series]]\nheading = "Gold PM"\nmetal = "gold"\ncurrency = "EUR"\nper = "g"\n[[formats.metal_prices.series]]\nheading = "Silver"\nmetal = "silver"\nper = "kg"\n'
    made = shop(tmp_path, settings, metal_prices="Date,Gold PM,Silver\n2026-01-02,92,900\n2026-01-05,93,\n2026-01-06,bad,910\n")
    assert made.tallies[1].line().startswith("metal_prices.csv: 5 read, 4 accepted, 1 rejected")


def test_a_wide_sheet_without_its_heading_stops(tmp_path):
    """The heading that shop.toml names is not there."""
    with pytest.raises(DataError, match="Gold AM"):
        shop(
            tmp_path, '[[formats.metal_prices.series]]\nheading = "Gold AM"\nmetal = "gold"\n', metal_prices="date,Gold PM\n2026-01-02,92\n"
        )


def test_inputs_and_fingerprint_name_the_files(tmp_path):
    """A changed cell changes both."""
    first = shop(tmp_path / "a")
    second = shop(tmp_path / "b", metal_prices=PRICES.replace("93", "94"))
    assert first.inputs["orders.csv"] == second.inputs["orders.csv"] and first.fingerprint != second.fingerprint
