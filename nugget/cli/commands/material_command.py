"""``nugget material``: list, show, template, check."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.options import PICTURES
from nugget.errors import InputError

if TYPE_CHECKING:
    from nugget.materials.checks import Verdict
    from nugget.materials.discovery import Catalogue, Entry
    from nugget.materials.layered import Layered
    from nugget.materials.material import Material


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``material`` and its commands are and take."""
    parser.description = "List, show, write and check materials of strips, walls and tips."
    commands = parser.add_subparsers(dest="material_command", metavar="COMMAND", required=True)
    listing = commands.add_parser("list", help="names of all materials, and where they come from")
    show = commands.add_parser("show", help="tables and sources of one material")
    show.add_argument("name")
    check = commands.add_parser(
        "check",
        help="say line by line whether data can be trusted",
        description="Check material files; without FILE, all installed materials and plugins.",
    )
    check.add_argument("files", nargs="*", metavar="FILE", type=Path)
    template = commands.add_parser(
        "template",
        help="print a commented material file to start from",
        description="Print a commented material file. From catalogue values, what is missing is estimated.",
    )
    _fill_template(template)
    for command in (show, check):
        command.add_argument("--plot", metavar="FILE", type=Path, help="write a figure (png, pdf or svg)")
    for command in (listing, show, check):
        command.add_argument("--json", action="store_true", help="print one JSON object")
    for command in (listing, show, check, template):
        command.add_argument(
            "--materials",
            metavar="PATH",
            action="append",
            default=[],
            help="additional material file or folder",
        )
    parser.set_defaults(run=run)


def _fill_template(template: argparse.ArgumentParser) -> None:
    template.add_argument("--name", default="my-strip", help="name of the new material (default: my-strip)")
    template.add_argument("--title", help="display name")
    template.add_argument("--from", dest="start", metavar="NAME", help="start from this material")
    values = template.add_argument_group("from catalogue values at room temperature")
    values.add_argument("--composition", help='mass percent, such as "Cu 70, Ni 30"')
    values.add_argument("--resistivity", help='such as "34 uohm cm" or "28 %% IACS"')
    values.add_argument("--density", help='such as "8.94 g/cm3"')
    values.add_argument("--melting", help='such as "1170 to 1240 degC"')
    values.add_argument("--conductivity", help='thermal, such as "29 W/(m K)"')
    values.add_argument("--temperature-coefficient", help='of resistivity, such as "2e-4 1/K"')
    values.add_argument("--tensile-strength", help='such as "350 MPa"')
    values.add_argument("--hardness", help='such as "100 HV"')
    values.add_argument("--source", default="", help="the catalogue that the values were read in")


def run(args: argparse.Namespace) -> int:
    """Run one of the commands and return the exit code."""
    command = {"list": _list, "show": _show, "template": _template, "check": _check}[args.material_command]
    return command(args)


def _list(args: argparse.Namespace) -> int:
    from nugget.materials.discovery import catalogue
    from nugget.materials.material_file import read_all

    here = catalogue(args.materials)
    lines, problems = [], list(here.problems)
    for name in here.names():
        try:
            entry = here.entry(name)
        except InputError as problem:
            problems.append(problem)
            continue
        found, wrong = read_all(entry.file, entry.origin)
        problems += wrong[:1]
        if found is not None:
            lines.append({"name": name, "title": found.title, "origin": entry.origin})
    if args.json:
        print(json.dumps({"materials": lines, "problems": [str(problem) for problem in problems]}, indent=2))
        return 0
    width = max((len(line["name"]) for line in lines), default=0)
    for line in lines:
        print(f"{line['name']:<{width}}  {line['title']}" + _origin(line["origin"]))
    for wrong_one in problems:
        print(f"left out: {wrong_one}")
    return 0


def _origin(origin: str) -> str:
    return "" if origin == "built-in" else f"  [{origin}]"


def _show(args: argparse.Namespace) -> int:
    from nugget.cli.material_text import layered_json, layered_text, material_json, material_text
    from nugget.materials import library
    from nugget.materials.layered import Layered

    found = library.find(args.name, args.materials)
    if isinstance(found, Layered):
        print(json.dumps(layered_json(found), indent=2) if args.json else layered_text(found))
        return 0
    if args.json:
        print(json.dumps(material_json(found), indent=2))
    else:
        print(material_text(found))
    if args.plot:
        _plot(found, None, args.plot)
    return 0


def _template(args: argparse.Namespace) -> int:
    from nugget.materials import template
    from nugget.materials.estimate import Catalogue

    keys = ("resistivity", "density", "conductivity", "tensile_strength", "hardness")
    si = {
        key: template.quantity(text, key, f"--{key.replace('_', '-')}")
        for key in keys
        if (text := getattr(args, key))
    }
    catalogue = bool(si or args.composition or args.melting or args.temperature_coefficient)
    if catalogue and args.start:
        raise InputError("--from", args.start, "either a material to start from or catalogue values")
    if not catalogue:
        print(template.from_material(args.start or "nickel-200", args.name, args.materials), end="")
        return 0
    melting = template.melting(args.melting, "--melting") if args.melting else (None, None)
    given = Catalogue(
        composition=template.composition(args.composition, "--composition") if args.composition else {},
        resistivity_ohm_m=si.get("resistivity"),
        density_kg_m3=si.get("density"),
        conductivity_W_mK=si.get("conductivity"),
        coefficient_1_K=template.coefficient(args.temperature_coefficient, "--temperature-coefficient"),
        solidus_K=melting[0],
        liquidus_K=melting[1],
        tensile_strength_Pa=si.get("tensile_strength"),
        hardness_Pa=si.get("hardness"),
        source=args.source,
    )
    print(template.from_catalogue(given, args.name, args.title or args.name), end="")
    return 0


def _check(args: argparse.Namespace) -> int:
    from nugget import plugins
    from nugget.cli.material_text import verdicts_text
    from nugget.materials.checks import Verdict, nearest_of
    from nugget.materials.discovery import Entry, catalogue
    from nugget.materials.layered import Layered
    from nugget.materials.material_file import read_all

    if args.plot and len(args.files) != 1:
        raise InputError("--plot", f"{len(args.files)} files to check", "one FILE")
    here = catalogue([*args.materials, *args.files])
    built_in = [
        found for entry in here.entries if entry.origin == "built-in" and (found := read_all(entry.file)[0])
    ]
    known = [found for found in built_in if not isinstance(found, Layered)]
    wanted = [Entry(path.stem, str(path), path) for path in args.files] or list(here.entries)
    report = {
        entry.name if entry.origin == "built-in" else str(entry.file): _check_entry(entry, here, known)
        for entry in wanted
    }
    if args.plot:
        found = read_all(wanted[0].file, wanted[0].origin)[0]
        if found is not None and not isinstance(found, Layered):
            _plot(found, nearest_of(found, known), args.plot)
    if not args.files:
        groups = (plugins.CONTACT_LAWS, plugins.SOURCES, plugins.DAMAGE_LIMITS)
        broken = [*here.problems, *(problem for group in groups for problem in plugins.problems(group))]
        report["plugins"] = [Verdict("plugin", "fail", str(problem)) for problem in broken]
    if args.json:
        print(json.dumps({name: [vars(v) for v in verdicts] for name, verdicts in report.items()}, indent=2))
    else:
        for name, verdicts in report.items():
            print(verdicts_text(name, verdicts))
    return 2 if any(v.result == "fail" for verdicts in report.values() for v in verdicts) else 0


def _check_entry(entry: Entry, here: Catalogue, known: list[Material]) -> list[Verdict]:
    """What can be said about one file: whether it can be read, and what may be a slip."""
    from nugget.materials.checks import Verdict, check
    from nugget.materials.layered import Layered
    from nugget.materials.material_file import read_all

    found, problems = read_all(entry.file, entry.origin)
    verdicts = [Verdict("file", "fail", str(problem)) for problem in problems]
    if isinstance(found, Layered):
        verdicts += _check_layers(found, here.names())
    elif found is not None:
        told = "can be read; units, order of rows and reach up to melting are right"
        verdicts += [Verdict("file", "ok", told), *check(found, known)]
    others = [one.origin for one in here.entries if one.name == entry.name and one.origin != entry.origin]
    return verdicts + [Verdict("name", "fail", f"{entry.name} comes from {origin} too") for origin in others]


def _check_layers(found: Layered, names: list[str]) -> list[Verdict]:
    from nugget.materials.checks import Verdict

    unknown = [rule.material for rule in found.layers if rule.material not in names]
    if unknown:
        return [Verdict("layers", "fail", f"no material called {', '.join(unknown)}")]
    return [Verdict("layers", "ok", " / ".join(rule.material for rule in found.layers))]


def _plot(material: Material, other: Material | None, path: Path) -> None:
    from nugget.cli.outputs import Outputs
    from nugget.plot.material_figure import material_figure

    if path.suffix.lower() not in PICTURES:
        raise InputError("--plot", str(path), f"a name that ends in {', '.join(PICTURES)}")
    Outputs(Path()).figure(str(path), material_figure(material, other))
