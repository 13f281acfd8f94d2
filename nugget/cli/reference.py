"""Pages of the manual that are made from the program: commands, keys, figures, inputs, schemas, Python."""

from __future__ import annotations

import argparse
import inspect
import json
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from nugget import manual


def page(name: str, parser: argparse.ArgumentParser) -> str:
    """Markdown of a page of the manual.

    Parameters
    ----------
    name : str
        One of `nugget.manual.names`.
    parser : ArgumentParser
        Of the whole command line.
    """
    text = manual.written(name)
    if text is not None:
        return text
    lines = commands(parser) if name == "reference-commands" else MADE[name]()
    return "\n".join(lines) + "\n"


def commands(parser: argparse.ArgumentParser) -> Iterator[str]:
    """Every command with its options."""
    yield "# Reference: commands"
    yield ""
    yield "Every command also takes `--help` and `--traceback`; `nugget --version` tells the version."
    for name, one in _subparsers(parser).items():
        yield from _command(f"nugget {name}", one)
        for part, below in _subparsers(one).items():
            yield from _command(f"nugget {name} {part}", below)


def _subparsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found.update(action.choices)
    return found


def _command(name: str, parser: argparse.ArgumentParser) -> Iterator[str]:
    yield from ("", f"## {name}", "", parser.description or "", "", "| argument | meaning |", "| --- | --- |")
    formatter = argparse.HelpFormatter(parser.prog)
    for action in parser._actions:
        if (
            isinstance(action, argparse._SubParsersAction | argparse._HelpAction)
            or action.dest == "traceback"
        ):
            continue
        called = ", ".join(action.option_strings) or formatter._format_args(
            action, str(action.metavar or name)
        )
        if action.option_strings and action.nargs != 0:
            called += f" {action.metavar or action.dest.upper()}"
        said = formatter._expand_help(action) if action.help else ""
        yield f"| `{called}` | {_cell(said)} |"
    if parser.epilog:
        yield from ("", f"{parser.epilog.replace('%%', '%')}")


def _cell(text: str) -> str:
    """Text that stays within one cell of a table."""
    return text.replace("|", "\\|").replace("<", "&lt;")


def setup_keys() -> Iterator[str]:
    """Every key of a setup file."""
    from nugget.setup.starter import described_keys

    yield "# Reference: keys of the setup file"
    yield ""
    yield "`nugget setup` prints all of this as a file to start from. *Off* marks a key that the"
    yield "default setup does not use. A quantity is text with its unit."
    section = None
    for path, key, value, off, comment in described_keys():
        if path != section:
            section = path
            yield from (
                "",
                f"## {path or 'top of the file'}",
                "",
                "| key | default | meaning |",
                "| --- | --- | --- |",
            )
        yield f"| `{key}` | {'off: ' if off else ''}`{_cell(value)}` | {_cell(comment)} |"


def figures() -> Iterator[str]:
    """Every figure and the limits on it."""
    from nugget.cli.figure_table import markdown_table

    yield "# Reference: figures and limits"
    yield ""
    yield from markdown_table()


def inputs() -> Iterator[str]:
    """The uncertain inputs of the default setup and what would tell more."""
    from nugget.setup import default_setup
    from nugget.study.inputs.uncertain import inputs_of, measurements

    known = measurements()
    yield "# Reference: uncertain inputs"
    yield ""
    yield "Of the default setup; `nugget inputs mine.toml` lists your own. The spread holds 95 % of benches."
    yield from (
        "",
        "| key | value | spread | reason | measurement that narrows it |",
        "| --- | --- | --- | --- | --- |",
    )
    for one in inputs_of(default_setup()).items:
        tells = known[one.measure]["title"] if one.measure else ""
        yield f"| `{one.path}` | {one.axis.text(one.own)} | {one.text} | {_cell(one.source)} | {tells} |"


class _WithQuantities(GenerateJsonSchema):
    """A schema in which what only a function can check is text."""

    def handle_invalid_for_json_schema(self, schema: Any, error_info: str) -> JsonSchemaValue:
        spec = getattr(schema.get("function", {}).get("function"), "__self__", None)
        dimension = getattr(spec, "dimension", None)
        if spec is None or dimension is None:
            return {"type": "string"}
        return {"type": "string", "description": f"{dimension} with its unit", "examples": [f"1 {spec.unit}"]}


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """JSON schema of a file whose sections pydantic checks."""
    return model.model_json_schema(schema_generator=_WithQuantities)


def schemas() -> Iterator[str]:
    """JSON schemas of setup and material files."""
    from nugget.materials.document import LayeredFile, MaterialFile
    from nugget.setup.schema import SetupFile

    yield "# Reference: JSON schemas"
    yield ""
    yield "Of the tree that a TOML file holds. A setup file may leave out whatever the default has."
    for title, model in (
        ("Setup file", SetupFile),
        ("Material file", MaterialFile),
        ("Layered strip", LayeredFile),
    ):
        text = json.dumps(schema_of(model), indent=1, default=str)
        yield from ("", f"## {title}", "", "```json", text, "```")


def python() -> Iterator[str]:
    """The public names of the package with their docstrings."""
    import nugget

    yield "# Reference: Python"
    yield ""
    yield "`import nugget`; quantities in SI units, the unit ends each name."
    for name in nugget.__all__:
        if name.startswith("_"):
            continue
        thing = getattr(nugget, name)
        yield from ("", f"## {name}", "")
        yield from _documented(thing, f"{name}{_signature(thing)}")
        if inspect.isclass(thing) and not issubclass(thing, Exception):
            for part, member in sorted(vars(thing).items()):
                what = getattr(member, "__func__", member)
                if not part.startswith("_") and inspect.isfunction(what) and what.__doc__:
                    yield from ("", f"### {name}.{part}", "")
                    yield from _documented(what, f"{name}.{part}{_signature(what)}")


def _documented(thing: Any, call: str) -> Iterator[str]:
    yield from ("```text", call, "", inspect.getdoc(thing) or "", "```")


def _signature(thing: Any) -> str:
    try:
        return str(inspect.signature(thing))
    except (TypeError, ValueError):
        return ""


MADE = {
    "reference-setup": setup_keys,
    "reference-figures": figures,
    "reference-inputs": inputs,
    "reference-schemas": schemas,
    "reference-python": python,
}
"""Pages that need nothing but the program."""
