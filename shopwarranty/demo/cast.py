"""Who comes with what: invented holders and vehicles."""

from datetime import date
from random import Random

from shopwarranty.trade.vin import CHECK_POSITION, VALUES, check_digit

from . import sources
from .chance import choose, stream
from .told import Car, Holder

AREA_CODES = ("212", "315", "518", "607", "845")
MAIL = ("example.com", "example.net", "example.org")
YEAR_LETTERS = "ABCDEFGHJKLMNPRSTVWXY123456789"  # 2010 is A and every thirtieth year again: 49 CFR 565
FIRM_EVERY = 19


def holders(count: int) -> tuple[Holder, ...]:
    """No two with the same name or telephone number."""
    pairs = [(first, last) for first in sources.names("first") for last in sources.names("last")]
    stream("holders").shuffle(pairs)
    firms = iter(sources.names("firm"))
    return tuple(_holder(number, pairs[number], firms) for number in range(count))


def _holder(number: int, pair: tuple[str, str], firms: object) -> Holder:
    rng = stream("holder", number)
    firm = next(firms, "") if number % FIRM_EVERY == FIRM_EVERY - 1 else ""  # type: ignore[call-overload]
    name = firm or " ".join(pair)
    street = f"{rng.randint(2, 180)} {rng.choice(sources.names('street'))}"
    box = ".".join(name.lower().replace("-", "").split())
    return Holder(
        name=name,
        email=f"{box}@{MAIL[number % len(MAIL)]}",
        telephone=f"{AREA_CODES[number // 100 % len(AREA_CODES)]}-555-{100 + number % 100:04d}",
        address=f"{street}\n{rng.choice(sources.names('town'))}",
        is_firm=bool(firm),
    )


def car(number: int, today: date, *, holder: int | None, body: str = "", owned: str = "customer") -> Car:
    """One vehicle; of any body style unless one is asked for."""
    rng = stream("car", number)
    models = [model for model in sources.models() if body in ("", model.body)]
    key = choose(rng, {str(i): model.weight for i, model in enumerate(models)})
    model, year = models[int(key)], today.year - rng.choice((0, 0, 1, 1, 2, 3, 5, 8))
    return Car(
        make=model.make,
        model=model.model,
        body=model.body,
        year=year,
        color=rng.choice(sources.names("color")),
        vin=vin(rng, year, number),
        plate=f"0{rng.choice('HKLMPRTV')}{rng.choice('ABCDFGH')} {100 + number}",
        owned=owned,
        holder=holder,
    )


def vin(rng: Random, year: int, serial: int) -> str:
    """Starts with 0, which no region was given, and carries the right check digit."""
    letters = sorted(VALUES)
    model = "".join(rng.choice(letters) for _ in range(5))
    plain = f"0HS{model}0{YEAR_LETTERS[(year - 2010) % 30]}H{serial:06d}"
    right = check_digit(plain).computed
    return plain[: CHECK_POSITION - 1] + right + plain[CHECK_POSITION:]
