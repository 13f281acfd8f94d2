"""A bench card as files."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nugget.cli.outputs import Outputs
    from nugget.pages.bench_card import BenchCard
    from nugget.pages.render import Origin


def write_card(outputs: Outputs, card: BenchCard, origin: Origin) -> None:
    """Write the card as HTML and as PDF."""
    from nugget.constants import VERSION
    from nugget.outcome.record import CAUTIONS
    from nugget.pages.bench_card import card_page
    from nugget.pages.render import input_hash
    from nugget.plot.card_figure import card_figure

    outputs.text("card.html", card_page(card, origin))
    foot = [*CAUTIONS, f"nugget {VERSION}, {origin.name}; hash of the inputs {input_hash(card.setup)}."]
    figure = card_figure(card.setup.title, card.headline, card.below, card.rows, card.lists, foot)
    outputs.figure("card.pdf", figure)
