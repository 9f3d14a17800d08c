"""shop.toml of the invented workshop, in its owner's words."""

from __future__ import annotations

from .catalogue import ALIASES, ALLOYS
from .parameters import SOLDER, World
from .people import closures
from .staff import ON_COSTS_PERCENT, PEOPLE, WAGE_RISE_A_YEAR, PersonTruth

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")

HEAD = """# The workshop at the old weighhouse. INVENTED: no such shop, no such people, no such orders; prices and metal paths are made up.
# What a table cannot say stands here. truth.json beside it says how the history was made; no report reads it.
{size}

[shop]
name = "{name}"
currency = "EUR"

[calendar]
working_days = ["mon", "tue", "wed", "thu", "fri"]
day_start = "08:00"
day_end = "16:30"          # half an hour of lunch inside
hours_per_day = 8
holidays = "AT"
closures = [               # August and Christmas, first and last day
{closures}
]
"""

POLICY = """
[policy]
overtime_multiple = 1.5
overtime_hours_per_week = 6
quote_valid_days = 14
metal_premium_percent = 0.4             # what the supplier takes over spot
filings_recovery_percent = 92
loss_percent = 3
refining_charge_percent = 1.5
customer_metal_allowance_percent = 3
customer_filings = "shop"
consumables_per_hour = 0.45             # gas, pickle, saw blades, polish
price_step = 5
scale_readability_g = {readability}
insured_metal = 900000

[hire]
stages = ["solder"]
wage_per_hour = 25
on_costs_percent = 22
equipment = 3800
start_on = 2027-01-04
skilled = true
search_weeks = 8

[hire.outwork_price_per_order]
polish = {polish}
"""


def settings_text(world: World) -> str:
    """Return the text of shop.toml."""
    shut = ",\n".join(f'  ["{first}", "{last}"]' for first, last in closures(world.first_day.year, world.last_day.year))
    parts = [
        HEAD.format(name=shop_name(world), size=_size(world), closures=shut),
        *map(_alloy, range(len(ALLOYS))),
        *map(_solder, range(len(ALLOYS))),
    ]
    parts += [_stage(world, place) for place in range(len(world.stages))]
    parts += ["\n# Codes, never names. The owner's wage is what a stand-in would cost.\n", *(_worker(world, person) for person in PEOPLE)]
    parts.append(POLICY.format(readability=world.metal.readability_g, polish=round(46 * world.shrink, 2)))
    parts.append("\n[aliases.style]\n" + "".join(f'{found} = "{meant}"\n' for found, meant in ALIASES.items()))
    return "".join(parts)


def shop_name(world: World) -> str:
    """Return the shop's name, which says that it is invented and, if so, that its pieces are small."""
    small = f", pieces {100 * world.shrink:.3g} percent of the usual size" if world.shrink < 1 else ""
    return f"Workshop at the old weighhouse (invented{small})"


def _size(world: World) -> str:
    """One comment on how large the pieces are, and why."""
    if world.shrink < 1:
        share = f"{100 * world.shrink:.3g} percent"
        return f"# Hours and grams an order are {share} of the usual: nine people keep their load and their grams a week at so many orders."
    if world.busier < 0.9:
        return f"# So few orders are {100 * world.busier:.3g} percent of what nine people usually get: benches stand idle."
    return "# Nine people, some 20 orders a week of about 100 g and 12 bench hours each."


def _alloy(place: int) -> str:
    alloy = ALLOYS[place]
    text = f'\n[[alloys]]\ncode = "{alloy.code}"\nmetal = "gold"\nfineness = {alloy.fineness:g}\n'
    if alloy.melted_fineness != alloy.fineness:
        text += f"melted_fineness = {alloy.melted_fineness:g}     # our recipe runs a little rich\n"
    if alloy.palladium:
        text += f"parts = {{ palladium = {alloy.palladium:g} }}\n"
    return text + f"other_metals_per_g = {alloy.other_metals_per_g:g}\n"


def _solder(place: int) -> str:
    alloy = ALLOYS[place]
    return f'\n[[solders]]\ncode = "{alloy.code} hard"\nfineness = {alloy.fineness:g}     # we make it ourselves\ncost_per_g = 0.3\n'


def _stage(world: World, place: int) -> str:
    """Standard hours are what the owner thinks: round figures near the truth."""
    stage = world.stages[place]
    text = f'\n[[stages]]\nname = "{stage.name}"\n'
    digits = 1 if world.shrink == 1 and place == SOLDER else 2 if world.shrink > 0.3 else 4
    text += f"fixed_hours = {round(stage.fixed_h, digits):g}\nhours_per_g = {stage.per_g_h:.4f}\n"
    text += "takes_metal = true\n" if stage.name == "melt" else ""
    return text + ("cuts = true\n" if stage.name == "cut" else "")


def _worker(world: World, person: PersonTruth) -> str:
    hours = ", ".join(f"{day} = {own:g}" for day, own in zip(WEEKDAYS, person.hours, strict=True))
    skills = ", ".join(f'"{skill}"' for skill in person.skills)
    text = f'\n[[workers]]\ncode = "{person.code}"\nskills = [{skills}]\nhours = {{ {hours} }}\n'
    text += f"wage_per_hour = {person.wage:g}\non_costs_percent = {ON_COSTS_PERCENT:g}\nstarted_on = {person.started_on}\n"
    text += f"left_on = {person.left_on}\n" if person.left_on else ""
    text += "owner = true\n" if person.owner else ""
    return text + f"pay = [{_pay(world, person)}]\n"


def _pay(world: World, person: PersonTruth) -> str:
    """Wages by year, the newest included."""
    first = max(world.first_day.year, person.started_on.year if person.started_on else world.first_day.year)
    years = range(first, world.last_day.year + 1)
    wages = [(year, round(person.wage * (1 - WAGE_RISE_A_YEAR) ** (world.last_day.year - year), 2)) for year in years]
    return ", ".join(f"{{ from = {year}-01-01, wage_per_hour = {wage:g} }}" for year, wage in wages)
