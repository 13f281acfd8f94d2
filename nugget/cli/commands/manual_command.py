"""``nugget manual``: read the manual in the terminal, or build it to a web site."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``manual`` is and takes."""
    parser.description = "Print a page of the manual; without a page, the list of all."
    parser.epilog = "example: nugget manual tutorial"
    parser.add_argument("page", nargs="?", metavar="PAGE", help="name of a page, or the start of one")
    parser.add_argument("--markdown", action="store_true", help="print its Markdown as it is")
    parser.add_argument(
        "--site",
        metavar="DIR",
        help="build all pages to a web site in a new or empty folder; needs nugget[manual]",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print a page or build the site; return the exit code."""
    from nugget import manual
    from nugget.cli.main import build_parser
    from nugget.cli.reference import page

    parser = build_parser()
    if args.site:
        built = build_site(Path(args.site), {name: page(name, parser) for name in manual.names()})
        print(f"The manual is in {built / 'index.html'}")
        return 0
    if args.page is None:
        for part, names in manual.PAGES.items():
            print(part)
            for name in names:
                print(f"  {name:<22}{title_of(page(name, parser))}")
        print("\n`nugget manual PAGE` shows one.")
        return 0
    _show(page(chosen(args.page), parser), args.markdown)
    return 0


def chosen(given: str) -> str:
    """Name of the page that `given` is, begins, or occurs in.

    Raises
    ------
    InputError
    """
    from nugget import manual
    from nugget.errors import InputError

    names = manual.names()
    for fits in (
        [n for n in names if n == given],
        [n for n in names if given in (n.partition("-")[2], n)],
        [n for n in names if given in n],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            raise InputError("PAGE", repr(given), "one of " + ", ".join(fits))
    raise InputError("PAGE", repr(given), "a page that `nugget manual` lists")


def title_of(text: str) -> str:
    """Title of a page."""
    return text.partition("\n")[0].removeprefix("# ")


def _show(text: str, plain: bool) -> None:
    if plain or not sys.stdout.isatty():
        print(text, end="")
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console(width=min(Console().width, 110)).print(Markdown(text))


def build_site(folder: Path, pages: dict[str, str]) -> Path:
    """Build the site by mkdocs into `folder`, which must be new or empty; return it.

    Raises
    ------
    InputError
        If the folder holds something, or mkdocs is not installed.
    """
    from importlib.resources import as_file, files

    from nugget import manual
    from nugget.errors import InputError

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError("--site", str(folder), "a new or an empty folder")
    try:
        from mkdocs.commands.build import build
        from mkdocs.config import load_config
    except ImportError:
        raise InputError("--site", "no mkdocs", "pip install 'nugget[manual]' first") from None
    nav: list[Any] = [
        {part: [{title_of(pages[n]): f"{n}.md"} for n in names]} for part, names in manual.PAGES.items()
    ]
    room = files("nugget.manual")
    with tempfile.TemporaryDirectory() as work, as_file(room / "mkdocs.yml") as settings:
        docs, made = Path(work) / "docs", Path(work) / "site"
        docs.mkdir()
        for name, text in pages.items():
            (docs / f"{name}.md").write_text(text, encoding="utf-8")
        (docs / "site.css").write_bytes((room / "site.css").read_bytes())
        with settings.open("rb") as stream:
            build(load_config(stream, docs_dir=str(docs), site_dir=str(made), nav=nav))
        shutil.copytree(made, folder, dirs_exist_ok=True)
    return folder
