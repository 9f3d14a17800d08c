"""shop.toml: every wrong key and value is answered in an owner's words."""

import pytest

from shoplib.errors import SettingsError
from shoplib.settings import Settings, load_settings, parse_settings

BASE = '[shop]\nname = "x"\ncurrency = "EUR"\n'


def test_defaults_stand_without_a_word():
    """Only name and currency are needed."""
    made = parse_settings(BASE)
    assert (made.policy.loss_percent, made.calendar.hours_per_day, made.stages) == (3.0, 8.0, ())


def test_settings_are_frozen():
    """Nothing changes them once they are read."""
    with pytest.raises(Exception, match="frozen"):
        parse_settings(BASE).policy.loss_percent = 4


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[policy]\nloss_precent = 3\n", r'shop\.toml, line 5, policy\.loss_precent: unknown key \(found "loss_precent"\)\. Did you mean loss_percent\?'),
        ("[polcy]\nx = 1\n", r"line 4, polcy: unknown key.*Did you mean policy"),
        ('[[alloys]]\ncode = "a"\nmetal = "gold"\nfineness = 750\n[[alloys]]\ncode = "b"\nmetal = "gld"\nfineness = 1\n', r"line 10, alloys\.2\.metal.*gold.*silver"),
        ('[[workers]]\ncode = "EV"\nhours = { mon = 30 }\n', r"line 6, workers\.1\.hours\.mon.*24"),
        ('[[workers]]\ncode = "EV"\nhuors = { mon = 3 }\n', r"line 6, workers\.1\.huors.*Did you mean hours"),
        ('[policy]\nloss_percent = "three"\n', r"line 5.*allowed: a number"),
        ("[policy]\nloss_percent = 300\n", r"line 5.*less than 100"),
        ("[policy]\nloss_percent = three\n", r"line 5: this line cannot be read"),
        ('[policy]\nmetal_cost = "lifo"\n', r"line 5.*average.*fifo"),
        ("[policy]\nanswer_to_price_prior = [1, -1]\n", r"the lower end comes first"),
        ('[calendar]\nclosures = [["2026-08-14", "2026-08-03"]]\n', r"line 5.*first day shut"),
        ('[calendar]\nday_start = "17:00"\n', r"day_end comes after day_start"),
        ('[[workers]]\ncode = "EV"\n[[workers]]\ncode = "ev "\n', r"workers.*stands twice"),
        ('[[stages]]\nname = "solder"\nrework_of = "sodler"\n', r'"sodler" is not'),
        ('[[workers]]\ncode = "EV"\nstarted_on = 2026-02-01\nleft_on = 2026-01-01\n', r"left_on comes after"),
        ('[hire]\nstart_on = "soon"\n', r"line 5, hire\.start_on.*a date such as"),
        ('[[workers]]\ncode = "EV"\npay = [{ from = 2025-01-01 }]\n', r"workers\.1\.pay\.1\.wage_per_hour: a needed key is missing"),
        ('name = "y"\n', r"line 4: this line cannot be read"),
        ("[[stages]]\nname = 3\n", r"stages\.1\.name.*a text in quotes"),
    ],
)  # fmt: skip
def test_a_wrong_key_or_value_is_answered(text, message):
    """With key, line, what was found, what is allowed or the nearest known key."""
    with pytest.raises(SettingsError, match=message):
        parse_settings(BASE + text)


def test_the_currency_is_three_capital_letters():
    """'euro' is none."""
    with pytest.raises(SettingsError, match="three capital letters"):
        parse_settings('[shop]\nname = "x"\ncurrency = "euro"\n')


def test_name_and_currency_are_needed():
    """The missing key is named."""
    with pytest.raises(SettingsError, match=r"shop\.currency: a needed key is missing"):
        parse_settings('[shop]\nname = "x"\n')


def test_a_missing_file_says_how_to_get_one(tmp_path):
    """`shoplib start` writes it."""
    with pytest.raises(SettingsError, match="shoplib start"):
        load_settings(tmp_path / "shop.toml")


def test_a_file_that_is_no_text_is_refused(tmp_path):
    """Saved in another encoding."""
    (tmp_path / "shop.toml").write_bytes(b"\xff\xfe[\x00")
    with pytest.raises(SettingsError, match="UTF-8"):
        load_settings(tmp_path / "shop.toml")


def test_a_byte_order_mark_is_no_matter(tmp_path):
    """As some editors write it."""
    (tmp_path / "shop.toml").write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert isinstance(load_settings(tmp_path / "shop.toml"), Settings)


def test_an_alloy_is_melted_at_its_mark_unless_said_otherwise():
    """phi is billed, phi_melted is melted."""
    alloy = parse_settings(BASE + '[[alloys]]\ncode = "a"\nmetal = "gold"\nfineness = 750\n').alloys[0]
    rich = parse_settings(BASE + '[[alloys]]\ncode = "a"\nmetal = "gold"\nfineness = 750\nmelted_fineness = 752\n').alloys[0]
    assert (alloy.phi, alloy.phi_melted, rich.phi_melted) == (0.75, 0.75, 0.752)


def test_a_stage_needs_its_own_skill_unless_said_otherwise():
    """Default: the stage's name."""
    first, second = parse_settings(BASE + '[[stages]]\nname = "a"\n[[stages]]\nname = "b"\nskill = "c"\n').stages
    assert (first.needs, second.needs) == ("a", "c")
