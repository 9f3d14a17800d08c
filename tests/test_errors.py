"""The one message form."""

from shoplib.errors import DataError, message, nearest, short


def test_the_message_form():
    """Where, what, found, allowed, to do."""
    said = message("price is not a number", "orders.csv, row 4", "ten", "a number", "correct the cell")
    assert said == 'orders.csv, row 4: price is not a number (found "ten"; allowed: a number). Correct the cell.'


def test_parts_that_do_not_apply_are_left_out():
    """Only what was given."""
    assert message("nothing here") == "nothing here."


def test_a_question_to_do_keeps_its_mark():
    """No full stop after it."""
    assert message("unknown key", to_do="did you mean hours?").endswith("Did you mean hours?")


def test_a_long_value_is_shown_short_on_one_line():
    """At most sixty characters, none that breaks the line."""
    assert len(short("x\n" * 100)) == 62 and "\n" not in short("x\ny")


def test_the_nearest_word():
    """Or none when none is near."""
    assert (nearest("ordr", ["orders", "labour"]), nearest("zzz", ["orders"])) == ("orders", "")


def test_several_errors_stand_in_one():
    """A line each; the first one's parts are kept."""
    both = DataError.together([DataError("first", where="a"), DataError("second", where="b")])
    assert str(both) == "a: first.\nb: second." and (both.what, both.where) == ("first", "a")
