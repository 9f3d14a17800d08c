"""The `shoplib` command: thin, each call hands over to the package."""

from __future__ import annotations

import sys
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import click

from .errors import ShoplibError
from .reports.terminal import Terminal, printable

DAY = click.DateTime(formats=["%Y-%m-%d"])
PATH = click.Path(path_type=Path)
DATA = click.option("--data", type=PATH, default="data_demo", show_default=True, help="Folder or workbook of the shop.")
OUT = click.option("--out", type=PATH, default="reports", show_default=True, help="Folder the reports go to.")
AS_OF = click.option("--as-of", type=DAY, help="Last day that counts; left out: told from the tables.")
NO_WORKERS = click.option("--no-workers", is_flag=True, help="Leave the workers' codes out of the two lists.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Only errors.")
VERBOSE = click.option("-v", "--verbose", is_flag=True, help="More about what is done.")


class Owner(click.Group):
    """A group whose errors are for the owner of a shop: one message, no traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the call; an error the package knows becomes its message and exit code."""
        try:
            return super().invoke(ctx)
        except ShoplibError as error:
            for line in str(error).splitlines():
                click.echo(printable(line), err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("Stopped. What was there before is whole.", err=True)
            ctx.exit(130)


def _day(value: datetime | None) -> Any:
    return value.date() if value else None


@click.group(cls=Owner, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(version("shoplib"), prog_name="shoplib")
def main() -> None:
    """What a goldsmith's workshop earned, what limits it, and what to decide next."""


@main.command()
@click.argument("report", nargs=-1)
@DATA
@AS_OF
@OUT
@click.option("--seed", type=click.IntRange(min=0), help="Seed of all draws.")
@click.option("--previous", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="An earlier monthly_review.json.")
@click.option("--settings", type=click.Path(dir_okay=False, path_type=Path), help="TOML file, one table a report.")
@click.option("--set", "sets", multiple=True, metavar="REPORT.NAME=VALUE", help="One parameter of one report.")
@click.option("--jobs", type=click.IntRange(1, 64), default=2, show_default=True, help="Reports made at once.")
@click.option("--cluster", default="", metavar="ADDRESS", help="A running Dask scheduler.")
@NO_WORKERS
@QUIET
@VERBOSE
def run(report: tuple[str, ...], **options: Any) -> None:
    """Make reports: all of them when none is named."""
    from .reports.group import run_any
    from .reports.run import Request

    terminal = Terminal(options.pop("quiet"), options.pop("verbose"))
    request = Request(names=report, as_of=_day(options.pop("as_of")), workers=not options.pop("no_workers"), **options)
    sys.exit(run_any(request, terminal))


@main.command()
@DATA
@AS_OF
@OUT
@NO_WORKERS
def check(data: Path, as_of: datetime | None, out: Path, no_workers: bool) -> None:
    """Read the data and say what was accepted, repaired, rejected and doubted; make no report."""
    from .reports.check import check as look

    for line in look(data, out, _day(as_of), not no_workers):
        click.echo(printable(line))


@main.command()
@click.argument("folder", type=PATH)
def start(folder: Path) -> None:
    """Write empty tables, settings, the dictionary and two sheets of paper into FOLDER; nothing there is overwritten."""
    from .intake.templates import write_start

    for line in write_start(folder):
        click.echo(printable(line))


@main.command()
@click.argument("folder", type=PATH)
@click.option("--orders", type=click.IntRange(min=1), help="About so many order lines.")
@click.option("--months", type=click.IntRange(min=1), help="Months of history.")
@click.option("--seed", type=click.IntRange(min=0), help="Same seed, same files.")
def demo(folder: Path, **size: int | None) -> None:
    """Write the invented workshop into FOLDER, at any size."""
    from .demo import write_demo

    write_demo(folder, **{name: value for name, value in size.items() if value is not None})
    click.echo(f"The invented workshop is in {printable(str(folder))}; make its reports with: shoplib run --data {printable(str(folder))}")


@main.command(name="list")
def list_() -> None:
    """The reports, the question each answers, its parameters with units and defaults."""
    from .reports.listing import lines

    for line in lines():
        click.echo(line)
