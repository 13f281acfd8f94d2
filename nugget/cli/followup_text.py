"""What ``nugget pulse`` adds on request: more welds on the same cell, and the joint in service."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from nugget.cli.text_tables import WIDTH, table
from nugget.errors import InputError

if TYPE_CHECKING:
    from nugget.followup.repeated import Repeated
    from nugget.followup.service import Service
    from nugget.outcome.weld import Weld
    from nugget.setup import Setup


def add_afterwards_options(parser: argparse.ArgumentParser) -> None:
    """Add the options for repeated welds and for the joint in service."""
    parser.add_argument(
        "--spots", type=int, metavar="N", help="weld so many spots on the same cell, --rest apart"
    )
    parser.add_argument("--rest", metavar="TIME", help="between two welds of --spots (default: 2 s)")
    parser.add_argument(
        "--service", metavar="CURRENT", help="resistance and heat of the joint at this pack current"
    )
    parser.add_argument(
        "--service-heat", metavar="WATTS", help="heat that the joint may make in service (default: 0.1)"
    )


def wanted(args: argparse.Namespace, setup: Setup) -> tuple[float, float | None, float | None]:
    """Read the options: rest [s], current [A] and heat [W]; InputError before any work is done."""
    from nugget.followup.repeated import checked
    from nugget.followup.service import USUAL_HEAT_W

    for option, needs, value in (
        ("--rest", "--spots", args.spots if args.rest is not None else 0),
        ("--service-heat", "--service", args.service if args.service_heat is not None else 0),
    ):
        if value is None:
            raise InputError(option, f"no {needs}", f"{needs}, which it needs")
    if args.spots is not None and args.spots < 2:
        raise InputError("--spots", args.spots, "at least 2")
    rest_s = 2.0 if args.rest is None else _quantity("--rest", args.rest, "time")
    current_A = None if args.service is None else _quantity("--service", args.service, "current")
    heat_W = USUAL_HEAT_W
    if args.service_heat is not None:
        try:
            heat_W = float(args.service_heat)
        except ValueError as problem:
            raise InputError("--service-heat", args.service_heat, "a number of watts") from problem
    for option, value in (("--rest", rest_s), ("--service", current_A), ("--service-heat", heat_W)):
        if value is not None and not 0.0 < value < float("inf"):
            raise InputError(option, value, "more than zero")
    if args.spots is not None:
        checked(setup, welds_of(args.spots, setup), rest_s)
    return rest_s, current_A, heat_W


def _quantity(option: str, text: str, dimension: str) -> float:
    from nugget.units import to_si

    try:
        return to_si(text, dimension)
    except ValueError as problem:
        raise InputError(option, text, str(problem)) from problem


def repeated_of(args: argparse.Namespace, weld: Weld, rest_s: float) -> Repeated | None:
    """Work out the repeated welds that were asked for."""
    if args.spots is None:
        return None
    from nugget.followup.repeated import repeat
    from nugget.outcome.weld import run_weld

    welds = welds_of(args.spots, weld.setup)
    return repeat(weld.setup, weld.figures, welds, rest_s, lambda setup: run_weld(setup).figures)


def welds_of(spots: int, setup: Setup) -> int:
    """Welds that make so many spots, two at least."""
    from nugget.followup.places import spots_each

    return max(2, -(-spots // spots_each(setup)))


def service_of(weld: Weld, current_A: float | None, heat_W: float | None) -> Service | str | None:
    """Work out the joint in service that was asked for, or say why there is none."""
    if current_A is None or heat_W is None:
        return None
    from nugget.followup.service import NoJoint, serve

    try:
        return serve(weld.setup, weld.figures, current_A, heat_W)
    except NoJoint as reason:
        return str(reason) if weld.figures["nugget_outer_diameter_m"] > 0.0 else f"{reason}; {_instead(weld)}"


def _instead(weld: Weld) -> str:
    """Which change would leave a joint."""
    from nugget.outcome.weld import run_weld
    from nugget.study.durations.joint_remedy import remedy

    found = remedy(weld.setup, lambda setup: run_weld(setup).figures)
    if found is None:
        return (
            "nor would it with a pulse three times as long or a source 1.6 times as strong: a search (nugget"
            " suggest) tries more"
        )
    return (
        f"{found.what} would leave {1e3 * found.diameter_m:.2f} mm (tried as set up: {found.state}); judge"
        f" that first, by nugget pulse with --set '{found.override}'"
    )


def afterwards_record(repeated: Repeated | None, service: Service | str | None) -> dict[str, Any]:
    """Both, JSON-ready; nothing of what was not asked for."""
    from dataclasses import asdict

    found: dict[str, Any] = {}
    if repeated is not None:
        found["repeated_welds"] = asdict(repeated) | {"shortest_rest_s": repeated.shortest_rest_s}
    if isinstance(service, str):
        found["service"] = {"joint": None, "why": service}
    elif service is not None:
        joints = {"joint": service.joint, "needed": service.needed}
        found["service"] = asdict(service)
        for name, joint in joints.items():
            if joint is not None:
                more = {"heat_W": joint.heat_W(service.current_A), "as_strip_m": joint.as_strip_m}
                found["service"][name] |= more
    return found


def print_afterwards(weld: Weld, repeated: Repeated | None, service: Service | str | None) -> None:
    """Print both to stdout."""
    lines: list[str] = []
    if repeated is not None:
        lines += ["", "Repeated welds", *_repeated(weld, repeated)]
    if service is not None:
        said = [f"  {service}."] if isinstance(service, str) else _service(service)
        lines += ["", "In service", *said]
    for line in lines:
        print(textwrap.fill(line, WIDTH, subsequent_indent=" " * 4) if line else "")


def _repeated(weld: Weld, one: Repeated) -> Iterator[str]:
    from nugget.followup.places import spots_each
    from nugget.merit import amounts

    each = "a pair" if spots_each(weld.setup) == 2 else "one spot"
    yield (
        f"  {one.welds} welds of {each}, {amounts.time(one.rest_s)} between them; each leaves"
        f" {amounts.joule(one.heat_J)} in the cell."
    )
    heads, columns = ["  weld", "wall before it"], [one.wall_K]
    if weld.setup.file.cell.end == "negative":  # behind the gas of a positive end the winding stays cool
        heads, columns = [*heads, "interior in it"], [*columns, one.peak_K]
    rows = [[*heads, "rim after it"]]
    for k in range(one.welds):
        rows.append([f"  {k + 1}", *(amounts.celsius(column[k]) for column in (*columns, one.rim_K))])
        if any(bound.peak_K[k] > bound.limit_K for bound in one.bounds):
            break
    yield from table(rows)
    if len(rows) - 1 < one.welds:
        yield "  Those after it would be hotter still: not shown."
    yield from _rests(one)
    apart = (
        f"{amounts.length(one.apart_m)} apart" if one.apart_m > 0.0 else "all at one place, as no more fit"
    )
    yield (
        f"  The welds lie {apart}. Heat of all earlier spots, in space, with properties at room temperature;"
        " on top of the first weld's own peak, which is conservative. The rim of the wall, from a tenth of a"
        " second on, is taken to lose nothing to the parts that hold it."
    )


def _rests(one: Repeated) -> Iterator[str]:
    """What the rest has to be, for every limit of harm by heat."""
    from nugget.followup.repeated import SHORTEST_REST_S
    from nugget.merit import amounts

    words = {bound: f"{bound.what} below {amounts.celsius(bound.limit_K)}" for bound in one.bounds}
    never = [said for bound, said in words.items() if bound.shortest_rest_s is None]
    if never:
        yield f"  No rest keeps {' or '.join(never)} in all of them."
    elif one.shortest_rest_s is not None:
        kept, rest = " and ".join(words.values()), amounts.time(one.shortest_rest_s)
        if one.shortest_rest_s <= SHORTEST_REST_S:
            yield f"  Any rest from {rest} on keeps {kept} in all of them."
        else:
            yield f"  Shortest rest that keeps {kept} in all of them: {rest}."


def _service(one: Service) -> Iterator[str]:
    joint = one.joint
    resistance = f"{1e3 * joint.resistance_ohm:.3g} mΩ"
    yield (
        f"  {joint.spots} spots: {resistance}, as much as {1e3 * joint.as_strip_m:.2g} mm of the strip;"
        f" {_watts(joint.heat_W(one.current_A))} at {one.current_A:.3g} A."
    )
    if max(joint.shares) - min(joint.shares) > 0.02:
        shares = ", ".join(f"{100.0 * share:.0f} %" for share in joint.shares)
        yield f"  The spots share the current unevenly: {shares}."
    allowed = f"the {_watts(one.allowed_W)} allowed (--service-heat; 0.1 W is an assumption)"
    if one.needed is None:
        yield f"  No number of spots that fits ({one.fits} welds) keeps the heat within {allowed}."
    elif one.needed.spots == joint.spots:
        yield f"  Enough: within {allowed}."
    else:
        heat = _watts(one.needed.heat_W(one.current_A))
        yield f"  {one.needed.spots} spots are needed to keep it within {allowed}: {heat}."
    yield (
        "  Only the fused zone conducts. Current comes along the strip, leaves through the rim of the can's"
        " base; counted is what the joint adds to the plain strip."
    )


def _watts(value: float) -> str:
    return f"{value:.3g} W" if value >= 1.0 else f"{1e3 * value:.3g} mW"
